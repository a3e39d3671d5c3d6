//! A terminal with somebody before it. In: a command, the size of the terminal. Out: what stands on it, and what is heard.

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fd::{AsFd, OwnedFd};
use rustix::fs::{Mode, OFlags};
use rustix::process::{Pid, Signal, kill_process};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};
use std::fs::File;
use std::io::{Read, Write};
use std::num::NonZero;
use std::process::{Child, Command};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use vt100::Parser;

/// A computer busy with other tests is slow, not broken.
const PATIENCE: Duration = Duration::from_secs(120);
/// Between two pieces of one picture.
const ONE_PICTURE: Duration = Duration::from_millis(20);
/// Somebody who reads what stands there before answering it.
const READING: Duration = Duration::from_millis(350);
/// What a program wrote last is on its way still when it has ended.
const LAST_WORDS: Duration = Duration::from_millis(250);
/// What a program has written may be this long on its way on a computer that is busy.
const ON_ITS_WAY: Duration = Duration::from_secs(2);

/// What came to the terminal.
struct Sheet {
    parser: Parser,
    bytes: Vec<u8>,
}

/// A terminal on which a program runs.
pub struct Terminal {
    child: Child,
    /// None once it was closed.
    near: Option<File>,
    reader: Option<JoinHandle<()>>,
    closed: Arc<AtomicBool>,
    /// Held so that the terminal outlives the program, as a window does.
    far: OwnedFd,
    sheet: Arc<Mutex<Sheet>>,
}

impl Terminal {
    /// Starts a command on a terminal of its own.
    pub fn start(command: &mut Command, columns: u16, rows: u16) -> Self {
        let (near, far) = pair().expect("a pseudo-terminal");
        let sheet = Arc::new(Mutex::new(Sheet {
            parser: Parser::new(some(rows), some(columns), 0),
            bytes: Vec::new(),
        }));
        tcsetwinsize(&far, size(columns, rows)).expect("a size");
        let end = || far.try_clone().expect("its far end");
        let child = command
            .stdin(end())
            .stdout(end())
            .stderr(end())
            .spawn()
            .expect("the program starts");
        command.stdin(std::process::Stdio::null());
        command.stdout(std::process::Stdio::null());
        command.stderr(std::process::Stdio::null());
        let mut read = near.try_clone().expect("its near end");
        let shared = Arc::clone(&sheet);
        let closed = Arc::new(AtomicBool::new(false));
        let is_closed = Arc::clone(&closed);
        let reader = thread::spawn(move || {
            let mut buffer = [0; 4096];
            loop {
                while !comes(&read, MOMENT) {
                    if is_closed.load(Ordering::Relaxed) {
                        return;
                    }
                }
                let Ok(count @ 1..) = read.read(&mut buffer) else {
                    return;
                };
                let mut sheet = shared.lock().unwrap_or_else(PoisonError::into_inner);
                sheet.parser.process(&buffer[..count]);
                sheet.bytes.extend_from_slice(&buffer[..count]);
            }
        });
        Self {
            child,
            near: Some(near),
            reader: Some(reader),
            closed,
            far,
            sheet,
        }
    }

    /// The program's number in the system.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    fn look<T>(&self, at: impl FnOnce(&Sheet) -> T) -> T {
        at(&self.sheet.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// What stands on it now.
    pub fn text(&self) -> String {
        self.look(|sheet| sheet.parser.screen().contents())
    }

    /// What stands on it now, with its colours.
    pub fn screen(&self) -> vt100::Screen {
        self.look(|sheet| sheet.parser.screen().clone())
    }

    /// Every byte that came.
    pub fn bytes(&self) -> Vec<u8> {
        self.look(|sheet| sheet.bytes.clone())
    }

    /// Bells so far.
    pub fn bells(&self) -> usize {
        self.look(|sheet| sheet.bytes.iter().filter(|byte| **byte == 7).count())
    }

    /// Whether the shell has it back: the screen, the cursor, the echo of what is typed. What says so may be on its way still.
    pub fn is_given_back(&self) -> bool {
        let until = Instant::now() + ON_ITS_WAY;
        loop {
            let modes = tcgetattr(&self.far).expect("its modes").local_modes;
            let cooked = modes.contains(LocalModes::ICANON | LocalModes::ECHO);
            let is_back = self.look(|sheet| {
                let screen = sheet.parser.screen();
                cooked && !screen.alternate_screen() && !screen.hide_cursor()
            });
            if is_back || Instant::now() >= until {
                return is_back;
            }
            thread::sleep(ONE_PICTURE);
        }
    }

    /// Whether the program has taken the whole of it.
    pub fn shows_a_picture(&self) -> bool {
        self.look(|sheet| sheet.parser.screen().alternate_screen())
    }

    /// Waits until a text stands on it.
    #[track_caller]
    pub fn until(&mut self, text: &str) {
        let until = Instant::now() + PATIENCE;
        while !self.text().contains(text) {
            let ended = self.child.try_wait().expect("its status").is_some();
            if ended {
                self.settle(LAST_WORDS);
            }
            assert!(
                !ended || self.text().contains(text),
                "ended without \"{text}\":\n{}",
                self.text()
            );
            assert!(
                Instant::now() < until,
                "hangs before \"{text}\":\n{}",
                self.text()
            );
            thread::sleep(Duration::from_millis(10));
        }
        self.settle(ONE_PICTURE);
    }

    /// Waits until no byte came for so long: a picture comes in several pieces. One that changes without end is waited
    /// for ten times as long.
    fn settle(&self, quiet: Duration) {
        let until = Instant::now() + 10 * quiet;
        let come = || self.look(|sheet| sheet.bytes.len());
        let mut before = come();
        loop {
            thread::sleep(quiet);
            let now = come();
            // What is to be read and was not has come, too: whoever reads it has not had its turn yet.
            let waits = self.near.as_ref().is_some_and(|near| comes(near, 0));
            if now == before && !waits || Instant::now() >= until {
                return;
            }
            before = now;
        }
    }

    /// Presses a key again and again until a text stands on it: for keys that mean something for a moment only.
    #[track_caller]
    pub fn presses_until(&mut self, bytes: &[u8], text: &str) {
        let until = Instant::now() + PATIENCE;
        while !self.text().contains(text) {
            assert!(
                Instant::now() < until,
                "hangs before \"{text}\":\n{}",
                self.text()
            );
            self.presses(bytes);
            thread::sleep(Duration::from_millis(30));
        }
    }

    /// Presses keys, as the terminal sends them.
    pub fn presses(&mut self, bytes: &[u8]) {
        let near = self.near.as_mut().expect("it is open");
        near.write_all(bytes).expect("it listens");
    }

    /// Answers what stands there: reads it, then presses.
    pub fn answers(&mut self, bytes: &[u8]) {
        thread::sleep(READING);
        self.presses(bytes);
    }

    /// Holds a key down for a while, as a keyboard repeats it: once, a pause, then again and again without one.
    pub fn holds(&mut self, key: &[u8], repeats: usize) {
        self.presses(key);
        thread::sleep(Duration::from_millis(500));
        for _ in 0..repeats {
            // Two at a time: a computer that is busy makes no pause between them.
            self.presses(&[key, key].concat());
            thread::sleep(Duration::from_millis(60));
        }
    }

    /// Closes it, as a window is closed: nobody reads it any more, and nobody types.
    pub fn close(&mut self) {
        self.closed.store(true, Ordering::Relaxed);
        if let Some(reader) = self.reader.take() {
            reader.join().expect("the reader ends");
        }
        self.near = None;
    }

    /// Makes it larger or smaller, and tells the program.
    pub fn resize(&mut self, columns: u16, rows: u16) {
        self.sheet
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .parser
            .screen_mut()
            .set_size(some(rows), some(columns));
        tcsetwinsize(self.far.as_fd(), size(columns, rows)).expect("a size");
        self.signal(Signal::WINCH);
    }

    /// Sends a signal.
    pub fn signal(&self, signal: Signal) {
        kill_process(Pid::from_child(&self.child), signal).expect("the program is there");
    }

    /// Waits for its end; its exit code, -1 when a signal ended it.
    #[track_caller]
    pub fn end(&mut self) -> i32 {
        let until = Instant::now() + PATIENCE;
        loop {
            if let Some(status) = self.child.try_wait().expect("its status") {
                self.settle(LAST_WORDS);
                return status.code().unwrap_or(-1);
            }
            assert!(Instant::now() < until, "hangs:\n{}", self.text());
            thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A moment, ns.
const MOMENT: i64 = 50_000_000;

/// Whether something is to be read within so many nanoseconds, or the program is gone.
fn comes(near: &File, within: i64) -> bool {
    let mut watched = [PollFd::new(near, PollFlags::IN)];
    let moment = Timespec {
        tv_sec: 0,
        tv_nsec: within,
    };
    poll(&mut watched, Some(&moment)).is_ok_and(|count| count > 0)
}

/// A terminal has at least one row and column.
fn some(count: u16) -> NonZero<u16> {
    NonZero::new(count).expect("a row or a column")
}

fn size(columns: u16, rows: u16) -> Winsize {
    Winsize {
        ws_col: columns,
        ws_row: rows,
        ws_xpixel: 0,
        ws_ypixel: 0,
    }
}

fn pair() -> rustix::io::Result<(File, OwnedFd)> {
    let near = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
    rustix::io::fcntl_setfd(&near, rustix::io::FdFlags::CLOEXEC)?;
    grantpt(&near)?;
    unlockpt(&near)?;
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    let far = rustix::fs::open(ptsname(&near, Vec::new())?, flags, Mode::empty())?;
    Ok((near.into(), far))
}
