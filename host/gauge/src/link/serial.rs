//! In: the name of a serial port. Out: a [`Link`] with a reader and a writer thread behind it.
//!
//! Two threads, because neither direction may hold up the other: a serial write can block for as long as the
//! device likes (the time-out a port promises for writing is not kept on POSIX systems), and a reader that
//! waits for it would lose samples.

use crate::link::awake::{Awake, SleepClock};
use crate::link::discover;
use crate::link::{Damage, Link, LinkError, RawFrame};
use holdtrue_protocol::frame;
use holdtrue_protocol::frame::{FRAME_END, MAX_FRAME};
use holdtrue_protocol::message::ToGauge;
use holdtrue_protocol::stream::{Counts, Decoder, Received};
use serialport::{ErrorKind, SerialPort};
use std::io;
use std::io::Read;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

/// USB ports ignore the rate; a UART gauge uses this one.
const BAUD: u32 = 921_600;
/// How long a read may sleep: bounds how late the thread notices that it should end.
const READ_WAIT: Duration = Duration::from_millis(50);
/// Bytes handed to the port at once.
const WRITE_CHUNK: usize = 64;

/// A gauge on a serial port.
pub struct SerialLink {
    name: String,
    opened: Instant,
    sleep: SleepClock,
    awake: Option<Awake>,
    heard: Receiver<Heard>,
    to_write: Sender<Vec<u8>>,
    closing: Arc<AtomicBool>,
    counts: Counts,
}

enum Heard {
    Frame(RawFrame, Counts),
    Gone(io::Error),
}

impl SerialLink {
    /// Opens a port for this program alone.
    ///
    /// # Errors
    /// [`LinkError::NotFound`], [`LinkError::Busy`], [`LinkError::Permission`] or [`LinkError::Io`].
    pub fn open(name: &str) -> Result<Self, LinkError> {
        let mut port = serialport::new(name, BAUD)
            .timeout(READ_WAIT)
            .open()
            .map_err(|error| refusal(name, &error))?;
        // A gauge on USB says nothing to a port whose terminal is not ready, and systems differ in what opening sets. A
        // port without the line, a pseudo-terminal, refuses and needs none.
        let _no_such_line = port.write_data_terminal_ready(true);
        let writer = port.try_clone().map_err(|error| refusal(name, &error))?;
        let closing = Arc::new(AtomicBool::new(false));
        let (tell, heard) = channel();
        let (to_write, lines) = channel();
        let gone = tell.clone();
        let reader_closing = Arc::clone(&closing);
        thread::spawn(move || read_frames(port, &tell, &reader_closing));
        thread::spawn(move || write_chunks(writer, &lines, &gone));
        let link = Self {
            name: name.to_owned(),
            opened: Instant::now(),
            sleep: SleepClock::start(),
            awake: None,
            heard,
            to_write,
            closing,
            counts: Counts::default(),
        };
        // Ends whatever an earlier program left half written in the gauge's receive buffer.
        let _first_bytes = link.to_write.send(vec![FRAME_END]);
        Ok(link)
    }

    fn lost(&self, found: &str) -> LinkError {
        LinkError::Lost {
            port: self.name.clone(),
            found: found.to_owned(),
        }
    }
}

impl Drop for SerialLink {
    fn drop(&mut self) {
        self.closing.store(true, Ordering::Relaxed);
    }
}

impl Link for SerialLink {
    fn receive(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        match self.heard.recv_timeout(wait) {
            Ok(Heard::Frame(frame, counts)) => {
                self.counts = counts;
                Ok(Some(frame))
            }
            Ok(Heard::Gone(error)) => Err(self.lost(&error.to_string())),
            Err(RecvTimeoutError::Timeout) => Ok(None),
            Err(RecvTimeoutError::Disconnected) => Err(self.lost("the port was closed")),
        }
    }

    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError> {
        let mut buffer = [0; MAX_FRAME];
        let bytes = frame::encode_frame(message, &mut buffer).map_err(|error| LinkError::Io {
            port: self.name.clone(),
            found: error.to_string(),
        })?;
        self.to_write
            .send(bytes.to_vec())
            .map_err(|_| self.lost("the port takes no more bytes"))
    }

    fn elapsed(&self) -> Duration {
        self.opened.elapsed()
    }

    fn name(&self) -> &str {
        &self.name
    }

    fn damage(&self) -> Damage {
        Damage {
            damaged: self.counts.damaged,
            over_long: self.counts.over_long,
        }
    }

    fn slept(&self) -> Duration {
        self.sleep.slept()
    }

    fn keep_awake(&mut self, awake: bool) {
        self.awake = awake.then(Awake::ask).flatten();
    }
}

fn refusal(name: &str, error: &serialport::Error) -> LinkError {
    let port = name.to_owned();
    match error.kind() {
        // No device, though it is there: somebody else holds its lock.
        ErrorKind::NoDevice if discover::is_there(name) => LinkError::Busy { port },
        ErrorKind::NoDevice | ErrorKind::Io(io::ErrorKind::NotFound) => {
            LinkError::NotFound { port }
        }
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => LinkError::Permission { port },
        ErrorKind::Io(io::ErrorKind::ResourceBusy) => LinkError::Busy { port },
        _ => LinkError::Io {
            port,
            found: error.to_string(),
        },
    }
}

fn read_frames(mut port: Box<dyn SerialPort>, tell: &Sender<Heard>, closing: &AtomicBool) {
    let mut decoder: Decoder = Decoder::new();
    let mut buffer = [0; 4096];
    while !closing.load(Ordering::Relaxed) {
        match port.read(&mut buffer) {
            Ok(0) => {
                let _listener =
                    tell.send(Heard::Gone(io::Error::from(io::ErrorKind::UnexpectedEof)));
                return;
            }
            Ok(length) => hand_over(&mut decoder, &buffer[..length], tell),
            Err(error) if is_a_pause(error.kind()) => {}
            Err(error) => {
                let _listener = tell.send(Heard::Gone(error));
                return;
            }
        }
    }
}

fn is_a_pause(kind: io::ErrorKind) -> bool {
    matches!(
        kind,
        io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock | io::ErrorKind::Interrupted
    )
}

fn hand_over(decoder: &mut Decoder, bytes: &[u8], tell: &Sender<Heard>) {
    for &byte in bytes {
        let Some(plain) = decoder
            .push_from_gauge(byte)
            .and_then(|received| whole(&received))
        else {
            continue;
        };
        let _listener = tell.send(Heard::Frame(RawFrame(plain), decoder.counts()));
    }
}

/// The plain bytes of a frame that arrived as sent, understood or not: what is kept for ever.
pub(super) fn whole<M>(received: &Received<'_, M>) -> Option<Vec<u8>> {
    match received {
        Received::Message { plain, .. } | Received::NotUnderstood { plain, .. } => {
            Some(plain.to_vec())
        }
        _ => None,
    }
}

fn write_chunks(mut port: Box<dyn SerialPort>, lines: &Receiver<Vec<u8>>, gone: &Sender<Heard>) {
    while let Ok(bytes) = lines.recv() {
        for chunk in bytes.chunks(WRITE_CHUNK) {
            if let Err(error) = write_whole(&mut *port, chunk) {
                let _listener = gone.send(Heard::Gone(error));
                return;
            }
        }
    }
}

fn write_whole(port: &mut dyn SerialPort, mut chunk: &[u8]) -> io::Result<()> {
    while !chunk.is_empty() {
        match port.write(chunk) {
            Ok(0) => return Err(io::Error::from(io::ErrorKind::WriteZero)),
            Ok(length) => chunk = &chunk[length..],
            Err(error) if is_a_pause(error.kind()) => {}
            Err(error) => return Err(error),
        }
    }
    Ok(())
}
