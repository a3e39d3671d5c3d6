//! A gauge on a serial device and the program measuring with it. In: options. Out: a path to open, lines as they come, how
//! it ended.

use crate::bench::Bench;
use holdtrue_protocol::frame::{MAX_FRAME, encode_frame};
use holdtrue_protocol::message::FromGauge;
use holdtrue_protocol::stream::{Decoder, Received};
use holdtrue_simulated_gauge::{Setup, port};
use rustix::fd::OwnedFd;
use rustix::process::{Pid, Signal, kill_process};
use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// What takes longer than this is hanging.
const PATIENCE: Duration = Duration::from_secs(30);

/// The simulated gauge, offered as a serial device by the program itself.
pub struct Port {
    child: Child,
    /// Its path.
    pub path: String,
}

impl Port {
    /// Offers it: `--seed N`, `--condition NAME`, `--pace N|max`.
    pub fn offer(bench: &Bench, options: &str) -> Self {
        let mut child = bench
            .command(format!("rehearse --as-port {options}").split_whitespace())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut path = String::new();
        let out = child.stdout.take().expect("its standard output");
        BufReader::new(out)
            .read_line(&mut path)
            .expect("the path of the device");
        Self {
            child,
            path: path.trim().to_owned(),
        }
    }
}

impl Drop for Port {
    fn drop(&mut self) {
        // Gone already in the tests that pull it off.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A device that lives in the test itself, as long as this does.
pub struct OwnPort {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    /// Its path.
    pub path: String,
}

impl OwnPort {
    /// Any simulated gauge, as fast as its reader reads.
    pub fn of(setup: Setup) -> Self {
        Self::paced(setup, port::Pace::Max)
    }

    /// So many seconds of its own in one of ours: between two keys of a test passes what would pass at a machine, however
    /// fast or busy the computer is.
    pub fn at_pace(setup: Setup, times: f64) -> Self {
        Self::paced(setup, port::Pace::Times(times))
    }

    fn paced(setup: Setup, pace: port::Pace) -> Self {
        let mut port = port::Port::offer(setup, pace).expect("a pseudo-terminal");
        let path = port.path().display().to_string();
        Self::run(path, move |stop| port.run(stop).expect("a port that runs"))
    }

    /// No gauge: it says these bytes again and again, or nothing.
    pub fn stranger(says: &'static [u8]) -> Self {
        let (near, far) = pseudo_terminal().expect("a pseudo-terminal");
        let name = rustix::pty::ptsname(&near, Vec::new()).expect("its name");
        let path = name.to_str().expect("a path in plain letters").to_owned();
        let mut near = std::fs::File::from(near);
        rustix::io::ioctl_fionbio(&near, true).expect("not waiting");
        Self::run(path, move |stop| {
            // Held open, so that the device stays between one visitor and the next.
            let _far = far;
            while !stop.load(Ordering::Relaxed) {
                // Full when nobody reads.
                let _ = near.write(says);
                thread::sleep(Duration::from_millis(1));
            }
        })
    }

    /// Another gauge's port behind a bad cable: of what the gauge says, a byte is turned over at each of these places.
    pub fn bad_cable(behind: &str, places: &'static [usize]) -> Self {
        let (near, far) = pseudo_terminal().expect("a pseudo-terminal");
        let name = rustix::pty::ptsname(&near, Vec::new()).expect("its name");
        let path = name.to_str().expect("a path in plain letters").to_owned();
        let gauge = raw_terminal(behind).expect("the gauge's port");
        let [mut near, mut gauge] = [near, gauge].map(std::fs::File::from);
        rustix::io::ioctl_fionbio(&near, true).expect("not waiting");
        rustix::io::ioctl_fionbio(&gauge, true).expect("not waiting");
        Self::run(path, move |stop| {
            let _far = far;
            let mut said = 0;
            while !stop.load(Ordering::Relaxed) {
                let asked = carry(&mut near, &mut gauge, stop, |_| ());
                let told = carry(&mut gauge, &mut near, stop, |bytes| {
                    let here = said..said + bytes.len();
                    for place in places.iter().filter(|place| here.contains(place)) {
                        bytes[place - said] ^= 0x10;
                    }
                    said = here.end;
                });
                if !(asked || told) {
                    thread::sleep(Duration::from_millis(1));
                }
            }
        })
    }

    /// Another gauge's port behind somebody who changes what the gauge says; every frame comes whole and its sum agrees.
    pub fn altered(
        behind: &str,
        mut alter: impl FnMut(&mut FromGauge<'_>) + Send + 'static,
    ) -> Self {
        let (near, far) = pseudo_terminal().expect("a pseudo-terminal");
        let name = rustix::pty::ptsname(&near, Vec::new()).expect("its name");
        let path = name.to_str().expect("a path in plain letters").to_owned();
        let gauge = raw_terminal(behind).expect("the gauge's port");
        let [mut near, mut gauge] = [near, gauge].map(std::fs::File::from);
        rustix::io::ioctl_fionbio(&near, true).expect("not waiting");
        rustix::io::ioctl_fionbio(&gauge, true).expect("not waiting");
        Self::run(path, move |stop| {
            let _far = far;
            let mut decoder: Decoder = Decoder::new();
            while !stop.load(Ordering::Relaxed) {
                let asked = carry(&mut near, &mut gauge, stop, |_| ());
                let mut buffer = [0; 4096];
                let length = gauge.read(&mut buffer).unwrap_or_default();
                let mut told = Vec::new();
                for byte in &buffer[..length] {
                    if let Some(Received::Message { mut message, .. }) =
                        decoder.push_from_gauge(*byte)
                    {
                        alter(&mut message);
                        let mut frame = [0; MAX_FRAME];
                        let frame = encode_frame(&message, &mut frame).expect("it fits");
                        told.extend_from_slice(frame);
                    }
                }
                write_over(&told, &mut near, stop);
                if !asked && length == 0 {
                    thread::sleep(Duration::from_millis(1));
                }
            }
        })
    }

    fn run(path: String, work: impl FnOnce(&AtomicBool) + Send + 'static) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let told = Arc::clone(&stop);
        let thread = Some(thread::spawn(move || work(&told)));
        Self { stop, thread, path }
    }
}

impl Drop for OwnPort {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        let ended = self.thread.take().map(JoinHandle::join);
        assert!(
            thread::panicking() || ended.is_none_or(|ended| ended.is_ok()),
            "the port failed"
        );
    }
}

/// Takes what is there to read over to the other side; whether there was anything.
fn carry(
    from: &mut impl Read,
    to: &mut impl Write,
    stop: &AtomicBool,
    on_the_way: impl FnOnce(&mut [u8]),
) -> bool {
    let mut buffer = [0; 4096];
    let length = from.read(&mut buffer).unwrap_or_default();
    on_the_way(&mut buffer[..length]);
    write_over(&buffer[..length], to, stop);
    length > 0
}

fn write_over(mut rest: &[u8], to: &mut impl Write, stop: &AtomicBool) {
    // Full for ever when nobody reads.
    while !rest.is_empty() && !stop.load(Ordering::Relaxed) {
        match to.write(rest) {
            Ok(taken) => rest = &rest[taken..],
            Err(error) if error.kind() == std::io::ErrorKind::WouldBlock => {
                thread::sleep(Duration::from_millis(1));
            }
            Err(_) => break,
        }
    }
}

fn pseudo_terminal() -> rustix::io::Result<(OwnedFd, OwnedFd)> {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let near = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
    // A program started at the far end must not hold the near one.
    rustix::io::fcntl_setfd(&near, rustix::io::FdFlags::CLOEXEC)?;
    grantpt(&near)?;
    unlockpt(&near)?;
    let far = raw_terminal(ptsname(&near, Vec::new())?)?;
    Ok((near, far))
}

fn raw_terminal(path: impl rustix::path::Arg) -> rustix::io::Result<OwnedFd> {
    use rustix::fs::{Mode, OFlags};
    use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let terminal = rustix::fs::open(path, flags, Mode::empty())?;
    let mut settings = tcgetattr(&terminal)?;
    settings.make_raw();
    tcsetattr(&terminal, OptionalActions::Now, &settings)?;
    Ok(terminal)
}

/// The program while it measures.
pub struct Measuring {
    child: Child,
    keyboard: Option<std::fs::File>,
    lines: Receiver<String>,
    /// Lines for the person so far.
    pub told: String,
}

/// How a measurement ended.
pub struct Ended {
    /// Exit code; -1 when a signal ended it.
    pub code: i32,
    /// Standard output.
    pub out: String,
    /// All lines for the person.
    pub told: String,
}

impl Measuring {
    /// Starts a command that puts one JSON document on standard output and its lines for the person on standard error.
    pub fn start(command: &mut Command) -> Self {
        command.stdin(Stdio::piped());
        let mut started = Self::listen(command);
        let keyboard = started.child.stdin.take().expect("its standard input");
        started.keyboard = Some(std::fs::File::from(OwnedFd::from(keyboard)));
        started
    }

    /// The same with somebody at a terminal.
    pub fn at_terminal(command: &mut Command) -> Self {
        let (near, far) = pseudo_terminal().expect("a pseudo-terminal");
        command.stdin(far);
        let mut started = Self::listen(command);
        // The command keeps its end of the terminal; only the program is to hold one.
        command.stdin(Stdio::null());
        started.keyboard = Some(near.into());
        started
    }

    fn listen(command: &mut Command) -> Self {
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let stderr = child.stderr.take().expect("its standard error");
        let (tell, lines) = channel();
        thread::spawn(move || {
            for line in BufReader::new(stderr).lines().map_while(Result::ok) {
                if tell.send(line + "\n").is_err() {
                    return;
                }
            }
        });
        Self {
            child,
            keyboard: None,
            lines,
            told: String::new(),
        }
    }

    /// Reads on until a line holds the text.
    #[track_caller]
    pub fn until(&mut self, text: &str) {
        loop {
            match self.lines.recv_timeout(PATIENCE) {
                Ok(line) => {
                    self.told.push_str(&line);
                    if line.contains(text) {
                        return;
                    }
                }
                Err(RecvTimeoutError::Timeout) => panic!("hangs before \"{text}\":\n{}", self.told),
                Err(RecvTimeoutError::Disconnected) => {
                    panic!("ended without \"{text}\":\n{}", self.told)
                }
            }
        }
    }

    /// Types a line.
    pub fn types(&mut self, line: &str) {
        let keyboard = self.keyboard.as_mut().expect("a keyboard");
        writeln!(keyboard, "{line}").expect("it listens");
    }

    /// Presses a key of its terminal; `bytes` as the terminal sends them.
    pub fn presses(&mut self, bytes: &[u8]) {
        let keyboard = self.keyboard.as_mut().expect("a terminal");
        keyboard.write_all(bytes).expect("it listens");
    }

    /// Pulls the keyboard.
    pub fn hangs_up(&mut self) {
        self.keyboard = None;
    }

    /// What it says in that time, once it has said what it had to say.
    pub fn silent_for(&mut self, time: Duration) -> String {
        let until = Instant::now() + time;
        let mut said = String::new();
        while let Ok(line) = self
            .lines
            .recv_timeout(until.saturating_duration_since(Instant::now()))
        {
            said.push_str(&line);
        }
        self.told.push_str(&said);
        said
    }

    /// Sends a signal: INT, STOP, CONT, KILL.
    pub fn signal(&self, name: &str) {
        let signal = match name {
            "INT" => Signal::INT,
            "STOP" => Signal::STOP,
            "CONT" => Signal::CONT,
            "KILL" => Signal::KILL,
            other => panic!("no signal {other}"),
        };
        let child = Pid::from_child(&self.child);
        kill_process(child, signal).expect("the program is there to be told");
    }

    /// Waits for its end.
    #[track_caller]
    pub fn end(mut self) -> Ended {
        let until = Instant::now() + PATIENCE;
        let status = loop {
            match self.child.try_wait().expect("its status") {
                Some(status) => break status,
                None if Instant::now() > until => panic!("hangs; it has said:\n{}", self.told),
                None => thread::sleep(Duration::from_millis(5)),
            }
        };
        self.told.extend(self.lines.iter());
        let mut out = String::new();
        let mut piped = self.child.stdout.take().expect("its standard output");
        piped.read_to_string(&mut out).expect("text");
        Ended {
            code: status.code().unwrap_or(-1),
            out,
            told: std::mem::take(&mut self.told),
        }
    }
}

impl Drop for Measuring {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Ended {
    /// Holds it to an exit code.
    #[track_caller]
    pub fn exits(self, code: i32) -> Self {
        assert_eq!(self.code, code, "{}\n{}", self.told, self.out);
        self
    }

    /// Holds the lines for the person to a text.
    #[track_caller]
    pub fn tells(self, text: &str) -> Self {
        assert!(self.told.contains(text), "no \"{text}\":\n{}", self.told);
        self
    }

    /// The one JSON document.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out)
            .unwrap_or_else(|e| panic!("not one JSON document: {e}\n{}\n{}", self.out, self.told))
    }
}
