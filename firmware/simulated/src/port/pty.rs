//! A pseudo-terminal whose near end is the gauge. Hosts may come, go and come again, and read as slowly as they like.
//!
//! A host that is killed leaves its lock (`TIOCEXCL`) on the terminal, and then only root could open it again. So we
//! hold the far end open as well, take locks off, and let go for a moment now and then to see whether anybody else
//! holds it: without a holder the near end reports a hang-up.

use std::fs::File;
use std::io::{ErrorKind, Read, Write};
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use holdtrue_protocol::block::MAX_SAMPLES;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fd::OwnedFd;
use rustix::fs::{Mode, OFlags, open};
use rustix::io::{FdFlags, fcntl_setfd, ioctl_fionbio};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{
    OptionalActions, QueueSelector, ioctl_tiocnxcl, tcflush, tcgetattr, tcsetattr,
};

use super::{Pace, PortError};
use crate::gauge::{Setup, SimulatedGauge};

/// How often we look whether a host is there.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// Longest sleep: bounds how late a stop is noticed.
const NAP: Duration = Duration::from_millis(5);
/// Virtual time passed at once.
const SLICE_US: u64 = 20_000;
/// A host says one keep-alive for each so much of the gauge's time that it has worked through.
const WORKED_THROUGH_US: u64 = 250_000;
/// At full pace the world runs so far past what its host has worked through, and one block more: the operator answers the
/// gauge's light, which must not come later than a person would see it, however slow or busy the computer is.
const RUN_AHEAD_US: u64 = 350_000;
/// … and after any word of the host's so far as its answer takes.
const ANSWER_US: u64 = 50_000;

/// Who was not given the computer for longer than this, in virtual time, does not catch up: a host could say nothing meanwhile, and
/// a gauge that hears nothing for ten seconds stops.
const CATCHES_UP_US: u64 = 2_000_000;
/// Nor does a gauge that is faster than the wall run farther past its host's last word than this, in virtual time …
const UNHEARD_US: u64 = 8_000_000;
/// … until that word is so old: a host on a busy computer gets its turn first, and one that is silent is silent all the same.
const BUSY_FOR: Duration = Duration::from_millis(1_500);

/// The simulated gauge as a serial device.
pub struct Port {
    near_end: File,
    /// Open but for the moments of looking.
    far_end: Option<OwnedFd>,
    looked: Instant,
    path: PathBuf,
    gauge: SimulatedGauge,
    pace: Pace,
    /// Bytes the gauge has sent and the device has not yet taken.
    on_the_way: Vec<u8>,
    connected: bool,
    /// How far the host has worked through what it was sent, at least.
    worked_through_us: u64,
    keep_alives: u64,
    answered_us: u64,
    /// The last word of the host's.
    heard: Moment,
    began: Moment,
}

/// A moment by the wall clock and in virtual time.
#[derive(Clone, Copy, Debug)]
struct Moment {
    wall: Instant,
    virtual_us: u64,
}

impl Moment {
    fn now(gauge: &SimulatedGauge) -> Self {
        Self {
            wall: Instant::now(),
            virtual_us: gauge.now_us(),
        }
    }
}

impl Port {
    /// Makes the device. Nothing moves until [`Port::run`].
    ///
    /// # Errors
    ///
    /// [`PortError::System`], naming the step the system refused.
    pub fn offer(setup: Setup, pace: Pace) -> Result<Self, PortError> {
        let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY;
        let near_end = tried("opening a pseudo-terminal", openpt(flags))?;
        tried(
            "keeping it to this process",
            fcntl_setfd(&near_end, FdFlags::CLOEXEC),
        )?;
        tried("granting access to it", grantpt(&near_end))?;
        tried("unlocking it", unlockpt(&near_end))?;
        let name = tried("asking its name", ptsname(&near_end, Vec::new()))?;
        let path = PathBuf::from(std::ffi::OsStr::from_bytes(name.as_bytes()));
        let far_end = open_far_end(&path)?;
        make_raw(&far_end)?;
        tried("making it non-blocking", ioctl_fionbio(&near_end, true))?;
        let gauge = SimulatedGauge::new(setup);
        let now = Moment::now(&gauge);
        Ok(Self {
            near_end: File::from(near_end),
            far_end: Some(far_end),
            looked: Instant::now(),
            path,
            heard: now,
            began: now,
            gauge,
            pace,
            on_the_way: Vec::new(),
            connected: false,
            worked_through_us: 0,
            keep_alives: 0,
            answered_us: 0,
        })
    }

    /// What to open.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The gauge behind it.
    pub fn gauge(&self) -> &SimulatedGauge {
        &self.gauge
    }

    /// Runs until `stop` is set.
    ///
    /// # Errors
    ///
    /// [`PortError::System`] when the device itself fails; a host that goes away is no error.
    pub fn run(&mut self, stop: &AtomicBool) -> Result<(), PortError> {
        self.begin_now();
        while !stop.load(Ordering::Relaxed) {
            if self.looked.elapsed() >= LOOK_EVERY {
                let there = self.look_for_host()?;
                self.notice(there)?;
            }
            if self
                .poll(PollFlags::IN, Duration::ZERO)?
                .contains(PollFlags::IN)
            {
                self.hear()?;
            }
            if self.flies() {
                self.fly()?;
            } else {
                self.keep_step()?;
            }
        }
        Ok(())
    }

    fn begin_now(&mut self) {
        self.began = Moment::now(&self.gauge);
    }

    /// Time flies only in a stream that somebody reads: an idle gauge at full pace would say nothing but hello.
    fn flies(&self) -> bool {
        self.pace == Pace::Max && self.connected && self.gauge.is_streaming()
    }

    /// As fast as the host reads, and never far past its last word.
    fn fly(&mut self) -> Result<(), PortError> {
        if !self.send()? {
            self.wait(PollFlags::OUT | PollFlags::IN)?;
        } else if self.gauge.now_us() >= self.may_run_to_us() {
            self.wait(PollFlags::IN)?;
        } else if self.gauge.advance_to_bytes(SLICE_US) {
            self.collect();
        }
        self.begin_now();
        Ok(())
    }

    fn may_run_to_us(&self) -> u64 {
        let rate_hz = u64::from(self.gauge.asked_rate_hz().max(1));
        let ahead_us = RUN_AHEAD_US + MAX_SAMPLES as u64 * 1_000_000 / rate_hz;
        (self.worked_through_us + ahead_us).max(self.answered_us)
    }

    /// In step with the wall clock. What the host does not read in time the gauge drops, as it would on a cable.
    fn keep_step(&mut self) -> Result<(), PortError> {
        let times = match self.pace {
            Pace::Times(times) => times,
            Pace::Max => 1.0,
        };
        let passed_us = micros(self.began.wall.elapsed().as_secs_f64() * times);
        let mut due_us = self.began.virtual_us + passed_us;
        let now_us = self.gauge.now_us();
        let latest_us = (now_us + CATCHES_UP_US).min(self.may_be_unheard_to_us(times).max(now_us));
        if due_us > latest_us {
            due_us = latest_us;
            self.began = Moment {
                wall: Instant::now(),
                virtual_us: due_us,
            };
        }
        while self.gauge.now_us() < due_us && !self.flies() {
            self.gauge
                .advance_us((due_us - self.gauge.now_us()).min(SLICE_US));
            self.worked_through_us = self.gauge.now_us();
            if self.send()? {
                self.collect();
                self.send()?;
            }
        }
        self.wait(PollFlags::IN)
    }

    fn may_be_unheard_to_us(&self, times: f64) -> u64 {
        let waits = times > 1.0 && self.connected && self.gauge.is_streaming();
        if waits && self.heard.wall.elapsed() < BUSY_FOR {
            self.heard.virtual_us + UNHEARD_US
        } else {
            u64::MAX
        }
    }

    fn wait(&self, events: PollFlags) -> Result<(), PortError> {
        self.poll(events, NAP).map(|_| ())
    }

    fn poll(&self, events: PollFlags, wait: Duration) -> Result<PollFlags, PortError> {
        let mut fds = [PollFd::new(&self.near_end, events)];
        let wait = Timespec {
            tv_sec: 0,
            tv_nsec: wait.subsec_nanos().into(),
        };
        match poll(&mut fds, Some(&wait)) {
            Ok(_) => Ok(fds[0].revents()),
            Err(rustix::io::Errno::INTR) => Ok(PollFlags::empty()),
            Err(error) => refused("waiting for the host", error.into()),
        }
    }

    fn look_for_host(&mut self) -> Result<bool, PortError> {
        self.looked = Instant::now();
        if let Some(far_end) = self.far_end.take() {
            tried("taking locks off it", ioctl_tiocnxcl(&far_end))?;
        }
        let found = self.poll(PollFlags::empty(), Duration::ZERO);
        self.far_end = Some(open_far_end(&self.path)?);
        Ok(!found?.contains(PollFlags::HUP))
    }

    /// A host has opened or closed the device: what the last one left unread or half said is not for the next.
    fn notice(&mut self, connected: bool) -> Result<(), PortError> {
        if connected == self.connected {
            return Ok(());
        }
        self.connected = connected;
        self.on_the_way.clear();
        if connected {
            self.gauge.on_connect();
            self.worked_through_us = self.gauge.now_us();
        } else if let Some(far_end) = &self.far_end {
            tried("emptying it", tcflush(far_end, QueueSelector::IOFlush))?;
        }
        Ok(())
    }

    fn hear(&mut self) -> Result<(), PortError> {
        let mut buffer = [0; 256];
        match self.near_end.read(&mut buffer) {
            Ok(count) => {
                // Whoever speaks is there, whether we have looked or not.
                self.notice(true)?;
                self.tell_gauge(&buffer[..count]);
                self.note_words();
                Ok(())
            }
            Err(error) if is_a_pause(&error) => Ok(()),
            Err(found) => refused("reading from the host", found),
        }
    }

    fn note_words(&mut self) {
        self.heard = Moment::now(&self.gauge);
        let heard = self.gauge.keep_alives();
        self.answered_us = self.gauge.now_us() + ANSWER_US;
        let more_us = (heard - self.keep_alives) * WORKED_THROUGH_US;
        self.keep_alives = heard;
        self.worked_through_us = (self.worked_through_us + more_us).min(self.gauge.now_us());
    }

    /// The gauge takes requests as fast as it answers them.
    fn tell_gauge(&mut self, mut bytes: &[u8]) {
        while !bytes.is_empty() {
            let taken = self.gauge.write(bytes);
            bytes = &bytes[taken..];
            if !bytes.is_empty() {
                self.gauge.advance_us(1_000);
                self.collect();
            }
        }
    }

    /// Takes over what the gauge has ready.
    fn collect(&mut self) {
        let mut buffer = [0; 512];
        loop {
            let count = self.gauge.read(&mut buffer);
            if count == 0 {
                return;
            }
            self.on_the_way.extend_from_slice(&buffer[..count]);
        }
    }

    /// Hands on as much as the device takes; `true` if nothing is left over.
    fn send(&mut self) -> Result<bool, PortError> {
        if !self.connected {
            self.collect();
            self.on_the_way.clear();
        }
        while !self.on_the_way.is_empty() {
            match self.near_end.write(&self.on_the_way) {
                Ok(count) => {
                    self.on_the_way.drain(..count);
                }
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) if is_a_pause(&error) => return Ok(false),
                Err(found) => return refused("writing to the host", found),
            }
        }
        Ok(true)
    }
}

fn open_far_end(path: &Path) -> Result<OwnedFd, PortError> {
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
    tried("opening its far end", open(path, flags, Mode::empty()))
}

/// No echo, no line editing, no translated bytes, from the first byte on.
fn make_raw(far_end: &OwnedFd) -> Result<(), PortError> {
    let mut settings = tried("reading its settings", tcgetattr(far_end))?;
    settings.make_raw();
    tried(
        "making it raw",
        tcsetattr(far_end, OptionalActions::Now, &settings),
    )
}

fn tried<T>(step: &'static str, outcome: rustix::io::Result<T>) -> Result<T, PortError> {
    outcome.or_else(|error| refused(step, error.into()))
}

fn refused<T>(step: &'static str, found: std::io::Error) -> Result<T, PortError> {
    Err(PortError::System { step, found })
}

fn is_a_pause(error: &std::io::Error) -> bool {
    matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a positive time far below 2⁵³ µs (285 years)"
)]
fn micros(seconds: f64) -> u64 {
    (seconds * 1e6) as u64
}
