//! In: a [`Link`]. Out: an identified gauge that answers requests and streams frames.

use crate::link::{Damage, Link, LinkError, RawFrame};
use holdtrue_protocol::frame::{self, FrameError};
use holdtrue_protocol::message::{
    Answer, CalibrationRecord, Channel, Channels, Command, Fault, FaultChange, FromGauge, Hello,
    Overload, Refusal, Reply, Request, ResetCause, Signal, ToGauge,
};
use std::collections::VecDeque;
use std::time::Duration;

/// A gauge on USB answers within milliseconds; this allows for one that is just starting.
const ANSWER_WAIT: Duration = Duration::from_millis(3_000);
/// Well below the gauge's own limit, so that a busy laptop does not stop its stream.
const KEEP_ALIVE_EVERY: Duration = Duration::from_millis(2_000);
/// A streaming gauge is never quiet: the slowest block, 32 samples at 20 a second, takes 1.6 s.
const STREAM_SILENCE: Duration = Duration::from_millis(4_000);

/// What a stream carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Started {
    /// Boot number of all its frames.
    pub boot: u32,
    /// Nominal samples per second.
    pub rate_hz: u16,
}

/// A conversation with one gauge.
pub struct Session {
    link: Box<dyn Link>,
    hello: Option<Hello>,
    next_id: u16,
    /// When the stream last carried something measured: a gauge that only answers has stopped measuring.
    measured_at: Duration,
    converter_silent: bool,
    alive_at: Duration,
    /// The gauge's clock at its newest block, and when we last spoke: it may run faster than ours.
    gauge_us: u64,
    alive_gauge_us: u64,
    streaming: bool,
    waiting: VecDeque<RawFrame>,
    unknown_frames: u64,
}

impl Session {
    /// Identifies the gauge at the other end and stops a stream that an earlier program left running.
    ///
    /// # Errors
    /// [`LinkError::Silent`] when nothing answers as a gauge, [`LinkError::WireVersion`] when it speaks a newer major version.
    pub fn open(link: Box<dyn Link>) -> Result<Self, LinkError> {
        let mut session = Self {
            link,
            hello: None,
            next_id: 1,
            measured_at: Duration::ZERO,
            converter_silent: false,
            alive_at: Duration::ZERO,
            gauge_us: 0,
            alive_gauge_us: 0,
            streaming: false,
            waiting: VecDeque::new(),
            unknown_frames: 0,
        };
        let hello = session.identify()?;
        let left_running = hello.streaming;
        session.hello = Some(hello);
        if left_running {
            session.stop()?;
        }
        session.waiting.clear();
        Ok(session)
    }

    fn identify(&mut self) -> Result<Hello, LinkError> {
        match self.ask(Command::Identify)? {
            Ok(Reply::Identity(hello)) => Ok(hello),
            _ => Err(self.silent(ANSWER_WAIT)),
        }
    }

    /// Who the gauge is.
    pub fn hello(&self) -> &Hello {
        self.hello
            .as_ref()
            .expect("open() identifies the gauge before it hands out a session")
    }

    /// Port name, for messages.
    pub fn port(&self) -> String {
        self.link.name().to_owned()
    }

    /// Time on the link's own clock.
    pub fn elapsed(&self) -> Duration {
        self.link.elapsed()
    }

    /// What the cable did to the frames so far.
    pub fn damage(&self) -> Damage {
        self.link.damage()
    }

    /// Whole frames this program does not understand: a newer gauge's additions.
    pub fn unknown_frames(&self) -> u64 {
        self.unknown_frames
    }

    /// Sends a command and waits for its answer; frames of the stream that come meanwhile are kept in order.
    ///
    /// # Errors
    /// [`LinkError::Silent`] without an answer in time. A refusal is `Ok(Err(_))`: some callers expect one.
    pub fn ask(&mut self, command: Command) -> Result<Result<Reply, Refusal>, LinkError> {
        let id = self.post(command)?;
        let until = self.link.elapsed() + ANSWER_WAIT;
        let mut kept = VecDeque::new();
        let answer = loop {
            let left = until.saturating_sub(self.link.elapsed());
            if left.is_zero() {
                break None;
            }
            let Some(raw) = self.link.receive(left)? else {
                continue;
            };
            match self.read(&raw)? {
                Some(Answer {
                    id: theirs,
                    outcome,
                }) if theirs == id => break Some(outcome),
                Some(_) => {}
                None => kept.push_back(raw),
            }
        };
        self.waiting.append(&mut kept);
        answer.ok_or_else(|| self.silent(ANSWER_WAIT))
    }

    /// As [`Session::ask`], with a refusal turned into an error in a technician's words.
    ///
    /// # Errors
    /// [`LinkError::Refused`] or [`LinkError::Silent`].
    pub fn request(&mut self, command: Command, purpose: &'static str) -> Result<Reply, LinkError> {
        self.ask(command)?.map_err(|refusal| LinkError::Refused {
            port: self.port(),
            request: purpose,
            reason: refusal_words(refusal),
        })
    }

    fn post(&mut self, command: Command) -> Result<u16, LinkError> {
        let id = self.next_id;
        self.next_id = self.next_id.checked_add(1).unwrap_or(1);
        self.link.send(&ToGauge::Request(Request { id, command }))?;
        self.alive_at = self.link.elapsed();
        self.alive_gauge_us = self.gauge_us;
        Ok(id)
    }

    /// The answer in a frame, if it is one. A hello of another boot means the gauge restarted under us; only an idle
    /// gauge says hello, so one of the same boot means that it no longer measures.
    fn read(&mut self, raw: &RawFrame) -> Result<Option<Answer>, LinkError> {
        match frame::decode_checked(&raw.0) {
            Ok(FromGauge::Answer(answer)) => Ok(Some(answer)),
            Ok(FromGauge::Block(block)) => {
                self.gauge_us = block.last_us;
                self.measured_at = self.link.elapsed();
                Ok(None)
            }
            Ok(FromGauge::Indicator(_)) => {
                self.measured_at = self.link.elapsed();
                Ok(None)
            }
            Ok(FromGauge::Fault(FaultChange {
                fault: Fault::AdcSilent,
                active,
                ..
            })) => {
                self.converter_silent = active;
                Ok(None)
            }
            Ok(FromGauge::Hello(hello)) => {
                self.note_restart(&hello)?;
                if self.streaming && !hello.streaming {
                    return Err(self.stopped("it heard nothing from this computer for too long"));
                }
                Ok(None)
            }
            Err(FrameError::NewerWire(refusal)) => Err(LinkError::WireVersion {
                port: self.port(),
                gauge: refusal.gauge.to_string(),
                ours: refusal.ours.to_string(),
            }),
            Err(error) if error.is_whole() => {
                self.unknown_frames += 1;
                Ok(None)
            }
            Ok(_) | Err(_) => Ok(None),
        }
    }

    fn note_restart(&self, hello: &Hello) -> Result<(), LinkError> {
        if self
            .hello
            .as_ref()
            .is_some_and(|known| known.boot != hello.boot)
        {
            return Err(LinkError::Restarted {
                port: self.port(),
                cause: reset_words(hello.reset).to_owned(),
            });
        }
        Ok(())
    }

    /// The calibration stored in the gauge, or `None` when it has none for this channel.
    ///
    /// # Errors
    /// As [`Session::request`].
    pub fn calibration(
        &mut self,
        channel: Channel,
    ) -> Result<Option<CalibrationRecord>, LinkError> {
        match self.ask(Command::ReadCalibration(channel))? {
            Ok(Reply::Calibration(record)) => Ok(Some(record)),
            Ok(_) | Err(Refusal::NoRecord | Refusal::NotFitted) => Ok(None),
            Err(refusal) => Err(LinkError::Refused {
                port: self.port(),
                request: "read its calibration",
                reason: refusal_words(refusal),
            }),
        }
    }

    /// The overloads it has stored, oldest first.
    ///
    /// # Errors
    /// As [`Session::request`].
    pub fn overloads(&mut self) -> Result<Vec<Overload>, LinkError> {
        match self.request(Command::ReadOverloads, "read its overload history")? {
            Reply::Overloads(stored) => Ok(stored.to_vec()),
            _ => Ok(Vec::new()),
        }
    }

    /// Starts the stream.
    ///
    /// # Errors
    /// As [`Session::request`].
    pub fn start(&mut self, rate_hz: u16, channels: Channels) -> Result<Started, LinkError> {
        self.waiting.clear();
        match self.request(Command::Start { rate_hz, channels }, "start measuring")? {
            Reply::Started { boot, rate_hz, .. } => {
                self.streaming = true;
                self.converter_silent = false;
                self.measured_at = self.link.elapsed();
                Ok(Started { boot, rate_hz })
            }
            _ => Err(self.silent(ANSWER_WAIT)),
        }
    }

    /// Ends the stream. A gauge that is not streaming is content.
    ///
    /// # Errors
    /// As [`Session::request`].
    pub fn stop(&mut self) -> Result<(), LinkError> {
        self.streaming = false;
        match self.ask(Command::Stop)? {
            Ok(_) | Err(Refusal::NotStreaming) => Ok(()),
            Err(refusal) => Err(LinkError::Refused {
                port: self.port(),
                request: "stop measuring",
                reason: refusal_words(refusal),
            }),
        }
    }

    /// Shows a signal on the gauge's light. Its answer is not waited for: the light never delays the measurement.
    ///
    /// # Errors
    /// [`LinkError::Lost`].
    pub fn show(&mut self, signal: Signal) -> Result<(), LinkError> {
        self.post(Command::Show(signal)).map(|_| ())
    }

    /// The next frame of the stream, or `None` when none came within `wait`.
    ///
    /// # Errors
    /// [`LinkError::Lost`], [`LinkError::Restarted`], or [`LinkError::Stopped`] when the stream has dried up.
    pub fn next(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        if let Some(raw) = self.waiting.pop_front() {
            return Ok(Some(raw));
        }
        self.keep_alive()?;
        let raw = self.link.receive(wait)?;
        let answer = match &raw {
            Some(raw) => self.read(raw)?,
            None => None,
        };
        self.check_silence()?;
        Ok(raw.filter(|_| answer.is_none()))
    }

    /// By our clock and by the gauge's, whichever is ahead: a stream must not end because it is read late or fast.
    fn keep_alive(&mut self) -> Result<(), LinkError> {
        let by_gauge = Duration::from_micros(self.gauge_us.saturating_sub(self.alive_gauge_us));
        if by_gauge >= KEEP_ALIVE_EVERY || self.link.elapsed() >= self.alive_at + KEEP_ALIVE_EVERY {
            self.post(Command::KeepAlive)?;
        }
        Ok(())
    }

    fn check_silence(&self) -> Result<(), LinkError> {
        let quiet = self.link.elapsed().saturating_sub(self.measured_at);
        if !self.streaming || quiet <= STREAM_SILENCE {
            return Ok(());
        }
        let found = if self.converter_silent {
            "its converter fell silent".to_owned()
        } else {
            format!("no samples for {} ms", quiet.as_millis())
        };
        Err(self.stopped(&found))
    }

    fn stopped(&self, found: &str) -> LinkError {
        LinkError::Stopped {
            port: self.port(),
            found: found.to_owned(),
        }
    }

    fn silent(&self, waited: Duration) -> LinkError {
        LinkError::Silent {
            port: self.port(),
            waited_ms: waited.as_millis(),
        }
    }
}

/// Why the gauge last started, in words.
pub fn reset_words(cause: ResetCause) -> &'static str {
    match cause {
        ResetCause::PowerOn => "its power was interrupted",
        ResetCause::Watchdog => "its program had stopped and was restarted",
        ResetCause::Requested => "it was told to",
        ResetCause::Unknown => "for a reason it does not know",
    }
}

fn refusal_words(refusal: Refusal) -> String {
    match refusal {
        Refusal::UnknownCommand => {
            "its firmware does not know this command; update the gauge".into()
        }
        Refusal::Streaming => "it is measuring; unplug it and plug it in again".into(),
        Refusal::NotStreaming => "it is not measuring".into(),
        Refusal::NotFitted => "it has no such sensor; use a gauge that has".into(),
        Refusal::NoSuchRate { nearest_hz } => {
            format!("it cannot sample at that rate; the nearest is {nearest_hz} Hz")
        }
        Refusal::BadRecord => {
            "the calibration record contradicts itself; enter the certificate again".into()
        }
        Refusal::NoRecord => "nothing is stored; enter its certificate".into(),
        Refusal::StoreFailed => {
            "its memory did not take the record; try again, then have the gauge repaired".into()
        }
        Refusal::AdcSilent => "its converter does not answer; have the gauge repaired".into(),
        Refusal::Busy => "a self-test is still running; wait a few seconds".into(),
    }
}

#[cfg(test)]
mod tests;
