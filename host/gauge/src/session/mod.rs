//! In: a [`Link`]. Out: an identified gauge that answers requests and streams frames.

use crate::binding::{self, Belonging};
use crate::calibration;
use crate::calibration::is_printable;
use crate::link::unplugged::Unplugged;
use crate::link::{Damage, Link, LinkError, RawFrame};
use crate::order::Order;
use holdtrue_protocol::frame;
use holdtrue_protocol::frame::FrameError;
use holdtrue_protocol::message::{
    Answer, CalibrationRecord, Channel, Channels, Command, Fault, FaultChange, FromGauge, Hardware,
    Hello, Overload, Refusal, Reply, Request, ResetCause, SelfTest, SelfTestResult, Signal, Stop,
    ToGauge,
};
use holdtrue_protocol::version;
use holdtrue_protocol::version::WireVersion;
use std::collections::VecDeque;
use std::time::Duration;

/// A gauge on USB answers within milliseconds; this allows for one that is just starting.
const ANSWER_WAIT: Duration = Duration::from_millis(3_000);
/// Well below the gauge's own limit of 10 s: a laptop that stalls for 8 s, whenever it does, does not stop its stream.
const KEEP_ALIVE_EVERY: Duration = Duration::from_millis(1_000);
/// In what the gauge measured and was worked through: how far we are is known at the other end to a quarter of a second.
const WORKED_THROUGH_EVERY_US: u64 = 250_000;
/// Samples so far past the last ones are of another stream.
const WORKED_THROUGH_FAR_US: u64 = 10_000_000;
/// A streaming gauge is never quiet: the slowest block, 32 samples at 20 a second, takes 1.6 s.
const STREAM_SILENCE: Duration = Duration::from_millis(4_000);
/// A shorter sleep is none: two clocks are never read at once.
const SLEEP_LEAST: Duration = Duration::from_millis(1_000);
/// So long after a sleep, awake, what ends a stream is put down to it.
const SLEEP_EXPLAINS: Duration = Duration::from_secs(30);
/// Travel of a probe for one count, nm: from the finest scale to one that is no scale.
const PROBE_NM: std::ops::RangeInclusive<u32> = 1..=100_000;
/// A probe's calibration and what it is built for differ by less than this share.
const PROBE_APART: f64 = 0.2;

/// Gains a bridge is read with.
const GAINS: std::ops::RangeInclusive<u16> = 1..=1_024;
/// Since this version a gauge says what it is built from.
const TELLS_HARDWARE: WireVersion = WireVersion { major: 1, minor: 2 };

/// Since this version a gauge tells of stops of its program, and goes into its boot mode when told to.
const TELLS_STOPS: WireVersion = WireVersion { major: 1, minor: 3 };

/// What a stream carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Started {
    /// Boot number of all its frames.
    pub boot: u32,
    /// Nominal samples per second.
    pub rate_hz: u16,
}

/// A sleep of this computer.
#[derive(Clone, Copy, Debug)]
struct Sleep {
    lasted: Duration,
    ended: Duration,
    told: bool,
}

/// A conversation with one gauge.
pub struct Session {
    link: Box<dyn Link>,
    hello: Option<Hello>,
    next_id: u16,
    /// When the stream last carried something measured: a gauge that only answers has stopped measuring.
    measured_at: Duration,
    converter_silent: bool,
    /// What the running stream was asked for, and whether its blocks follow on each other.
    asked: Channels,
    order: Order,
    contradicts: bool,
    /// How much of the link's sleep is known, and of the newest how long it was and when it ended.
    slept: Duration,
    sleep: Option<Sleep>,
    alive_at: Duration,
    /// The gauge's clock at what was read of it last: it may run faster than ours.
    gauge_us: u64,
    /// The next keep-alive is due when the gauge's samples have come so far.
    alive_due_us: Option<u64>,
    streaming: bool,
    waiting: VecDeque<RawFrame>,
    unknown_frames: u64,
    /// The newest signal asked of the light, until its answer or a later one came.
    light: Option<u16>,
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
            asked: Channels::default(),
            order: Order::default(),
            contradicts: false,
            slept: Duration::ZERO,
            sleep: None,
            alive_at: Duration::ZERO,
            gauge_us: 0,
            alive_due_us: None,
            streaming: false,
            waiting: VecDeque::new(),
            unknown_frames: 0,
            light: None,
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

    /// Gives the port back, so that it can be opened again; until [`Session::resume`] the gauge counts as lost.
    pub fn let_go(&mut self) {
        self.link = Box::new(Unplugged::new(self.port(), self.elapsed()));
    }

    /// Goes on with the same gauge, plugged in again. Its stream has to be started anew; losses are counted from here.
    ///
    /// # Errors
    /// As [`Session::open`]; [`LinkError::OtherGauge`] when another gauge answers.
    pub fn resume(&mut self, link: Box<dyn Link>) -> Result<(), LinkError> {
        let again = Self::open(link)?;
        let (found, expected) = (&again.hello().serial, &self.hello().serial);
        if found != expected {
            return Err(LinkError::OtherGauge {
                port: again.port(),
                found: found.to_string(),
                expected: expected.to_string(),
            });
        }
        *self = again;
        Ok(())
    }

    fn identify(&mut self) -> Result<Hello, LinkError> {
        match self.ask(Command::Identify)? {
            Ok(Reply::Identity(hello)) => {
                self.require_identity(&hello)?;
                Ok(hello)
            }
            _ => Err(self.silent(ANSWER_WAIT)),
        }
    }

    /// What a gauge says of itself goes onto screens, into books and into sums.
    fn require_identity(&self, hello: &Hello) -> Result<(), LinkError> {
        for (part, text) in [
            ("serial number", &hello.serial),
            ("firmware", &hello.firmware),
        ] {
            if !is_printable(text) || text.trim().is_empty() {
                return Err(self.absurd(part, format!("{text:?}"), "1 to 16 printable characters"));
            }
        }
        let probe_nm = hello.probe_nm_per_count;
        if hello.fitted.displacement && !PROBE_NM.contains(&probe_nm) {
            let expected = "1 to 100000 nm for each count";
            return Err(self.absurd("probe", format!("{probe_nm} nm for each count"), expected));
        }
        Ok(())
    }

    fn absurd(&self, part: &'static str, found: String, expected: impl Into<String>) -> LinkError {
        LinkError::Absurd {
            port: self.port(),
            part,
            found,
            expected: expected.into(),
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
        Ok(id)
    }

    /// The answer in a frame, if it is one. A hello of another boot means the gauge restarted under us; only an idle
    /// gauge says hello, so one of the same boot means that it no longer measures.
    fn read(&mut self, raw: &RawFrame) -> Result<Option<Answer>, LinkError> {
        match frame::decode_checked(&raw.0) {
            Ok(FromGauge::Answer(answer)) => {
                // Numbers grow and wrap round; an answer that was lost is made up for by the next.
                let is_later = |asked: &mut u16| answer.id.wrapping_sub(*asked) < u16::MAX / 2;
                self.light.take_if(is_later);
                Ok(Some(answer))
            }
            Ok(FromGauge::Block(block)) => {
                self.gauge_us = block.last_us;
                let carries = block.force == self.asked.force
                    && block.displacement == self.asked.displacement;
                self.contradicts = !carries || self.order.admit(&block).is_none();
                if !self.contradicts {
                    self.measured_at = self.link.elapsed();
                }
                Ok(None)
            }
            Ok(FromGauge::Indicator(reading)) => {
                self.gauge_us = self.gauge_us.max(reading.at_us);
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
    /// As [`Session::request`]; [`LinkError::BadRecord`] for one that breaks the rules of a certificate,
    /// [`LinkError::OtherHardware`] for one that was made on another converter, at another gain.
    pub fn calibration(
        &mut self,
        channel: Channel,
    ) -> Result<Option<CalibrationRecord>, LinkError> {
        let stored = self.sound_calibration(channel)?;
        if let (Some(record), Channel::Force) = (&stored, channel)
            && let Some(difference) = self.belonging()?.differences().first()
        {
            return Err(LinkError::OtherHardware {
                port: self.port(),
                record: calibration::name(record),
                difference: difference.to_string(),
            });
        }
        Ok(stored)
    }

    /// What the gauge is built from, and what its force calibration was made on; nothing of a gauge that cannot tell.
    ///
    /// # Errors
    /// As [`Session::request`]; [`LinkError::Absurd`] for hardware there is not.
    pub fn belonging(&mut self) -> Result<Belonging, LinkError> {
        if version::of(self.hello()) < TELLS_HARDWARE {
            return Ok(Belonging::default());
        }
        let hardware = match self.request(Command::ReadHardware, "say what it is built from")? {
            Reply::Hardware(hardware) => hardware,
            _ => return Err(self.silent(ANSWER_WAIT)),
        };
        self.require_hardware(&hardware)?;
        let made_on = match self.ask(Command::ReadBinding(Channel::Force))? {
            Ok(Reply::Binding(made_on)) => made_on,
            Ok(_) | Err(_) => None,
        };
        Ok(Belonging {
            hardware: Some(hardware),
            made_on,
        })
    }

    fn require_hardware(&self, hardware: &Hardware) -> Result<(), LinkError> {
        match &hardware.converter {
            Some(converter) if !GAINS.contains(&converter.gain) => {
                Err(self.absurd("gain", converter.gain.to_string(), "1 to 1024"))
            }
            Some(converter) if !is_printable(&converter.kind) || converter.kind.is_empty() => {
                let found = format!("{:?}", converter.kind);
                Err(self.absurd("converter", found, "1 to 12 printable characters"))
            }
            _ => Ok(()),
        }
    }

    /// How far the shunt moves the reading, counts with sign; `None` where the gauge has none.
    ///
    /// # Errors
    /// As [`Session::self_test`]; a converter that does not answer.
    pub fn shunt_step(&mut self) -> Result<Option<f64>, LinkError> {
        let mut medians = [0.0; 2];
        for (test, median) in [SelfTest::Shunt, SelfTest::Noise]
            .into_iter()
            .zip(&mut medians)
        {
            match self.self_test(test)? {
                Ok(found) => *median = f64::from(found.median),
                Err(Refusal::NotFitted) => return Ok(None),
                Err(refusal) => {
                    return Err(LinkError::Refused {
                        port: self.port(),
                        request: "try its shunt",
                        reason: refusal_words(refusal),
                    });
                }
            }
        }
        let [shunted, free] = medians;
        Ok(Some(shunted - free))
    }

    /// Tries whether the shunt moves the reading as it did at the calibration; nothing where that is not known.
    ///
    /// # Errors
    /// As [`Session::belonging`] and [`Session::shunt_step`]; [`LinkError::OtherHardware`] where it does not.
    pub fn require_bridge(&mut self, record: &CalibrationRecord) -> Result<(), LinkError> {
        let belonging = self.belonging()?;
        let Some(then) = belonging.step_then() else {
            return Ok(());
        };
        let now = self.shunt_step()?;
        match binding::bridge_differs(then, now) {
            None => Ok(()),
            Some(difference) => Err(LinkError::OtherHardware {
                port: self.port(),
                record: calibration::name(record),
                difference: difference.to_string(),
            }),
        }
    }

    /// The same record as [`Session::calibration`], whatever it was made on: for who tells the difference himself.
    ///
    /// # Errors
    /// As [`Session::request`]; [`LinkError::BadRecord`].
    pub fn sound_calibration(
        &mut self,
        channel: Channel,
    ) -> Result<Option<CalibrationRecord>, LinkError> {
        let stored = self.stored_calibration(channel)?;
        if let Some(record) = &stored {
            self.require_sound(record, channel)?;
        }
        Ok(stored)
    }

    fn require_sound(&self, record: &CalibrationRecord, asked: Channel) -> Result<(), LinkError> {
        let bad = |part, found, expected: &str| LinkError::BadRecord {
            port: self.port(),
            record: calibration::name(record),
            part,
            found,
            expected: expected.to_owned(),
        };
        if record.channel != asked {
            let word = calibration::channel_word;
            return Err(bad("channel", word(record.channel).to_owned(), word(asked)));
        }
        calibration::require_sound(record)
            .map_err(|unsound| bad(unsound.part, unsound.found, unsound.expected))?;
        if asked == Channel::Displacement {
            let built_um = f64::from(self.hello().probe_nm_per_count) / 1_000.0;
            let states_um = record.coefficients[1];
            if (states_um - built_um).abs() > PROBE_APART * built_um {
                return Err(bad(
                    "coefficients",
                    format!("{states_um} µm for each count"),
                    &format!("about {built_um} µm, what the probe gives"),
                ));
            }
        }
        Ok(())
    }

    /// The same as it is stored, held to nothing: to be replaced, not to be measured with.
    ///
    /// # Errors
    /// As [`Session::request`].
    pub fn stored_calibration(
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

    /// Runs a self-test; what it found, or its refusal.
    ///
    /// # Errors
    /// [`LinkError::Silent`]; [`LinkError::Absurd`] for a result of another test or with figures that are none.
    pub fn self_test(
        &mut self,
        test: SelfTest,
    ) -> Result<Result<SelfTestResult, Refusal>, LinkError> {
        match self.ask(Command::SelfTest(test))? {
            Ok(Reply::SelfTest(found)) => {
                let sound = found.deviation.is_finite() && found.deviation >= 0.0;
                if found.test == test && sound {
                    return Ok(Ok(found));
                }
                let shown = format!(
                    "{:?}, median {}, deviation {}",
                    found.test, found.median, found.deviation
                );
                Err(self.absurd("self-test", shown, format!("{test:?} in figures")))
            }
            Ok(_) => Err(self.silent(ANSWER_WAIT)),
            Err(refusal) => Ok(Err(refusal)),
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

    /// The stops of its program it remembers, oldest first; `None` of a gauge that cannot tell.
    ///
    /// # Errors
    /// As [`Session::request`].
    pub fn stops(&mut self) -> Result<Option<Vec<Stop>>, LinkError> {
        if version::of(self.hello()) < TELLS_STOPS {
            return Ok(None);
        }
        match self.request(Command::ReadStops, "tell when its program stopped")? {
            Reply::Stops(stored) => Ok(Some(stored.to_vec())),
            _ => Err(self.silent(ANSWER_WAIT)),
        }
    }

    /// Sends the gauge into the boot mode of its chip; its port goes away then. `false` where it cannot go there by itself.
    ///
    /// # Errors
    /// As [`Session::request`].
    pub fn enter_boot_mode(&mut self) -> Result<bool, LinkError> {
        if version::of(self.hello()) < TELLS_STOPS {
            return Ok(false);
        }
        match self.ask(Command::EnterBootMode)? {
            Ok(_) => Ok(true),
            Err(Refusal::NoBootMode) => Ok(false),
            Err(refusal) => Err(LinkError::Refused {
                port: self.port(),
                request: "take another image",
                reason: refusal_words(refusal),
            }),
        }
    }

    /// Starts the stream.
    ///
    /// # Errors
    /// As [`Session::request`].
    pub fn start(&mut self, rate_hz: u16, channels: Channels) -> Result<Started, LinkError> {
        self.waiting.clear();
        match self.request(Command::Start { rate_hz, channels }, "start measuring")? {
            Reply::Started {
                boot,
                rate_hz: found_hz,
                channels: found,
            } => {
                if (found_hz, found) != (rate_hz, channels) {
                    let shown = |hz, channels| format!("{hz} samples/s of {channels:?}");
                    let expected = shown(rate_hz, channels);
                    return Err(self.absurd("stream", shown(found_hz, found), expected));
                }
                self.streaming = true;
                self.alive_due_us = None;
                self.converter_silent = false;
                self.contradicts = false;
                self.asked = channels;
                self.order = Order::default();
                self.slept = self.link.slept();
                self.sleep = None;
                self.link.keep_awake(true);
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
        self.link.keep_awake(false);
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
        self.light = Some(self.post(Command::Show(signal))?);
        Ok(())
    }

    /// Whether the light shows what it was asked to last, as far as the stream was read: what comes in it from now on came
    /// after that.
    pub fn light_is_shown(&self) -> bool {
        self.light.is_none()
    }

    /// The next frame of the stream, or `None` when none came within `wait`.
    ///
    /// # Errors
    /// [`LinkError::Lost`], [`LinkError::Restarted`], or [`LinkError::Stopped`] when the stream has dried up;
    /// [`LinkError::Slept`] instead, where this computer slept before it did.
    pub fn next(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        let read = self.read_next(wait);
        self.note_sleep();
        read.map_err(|error| self.after_sleep(error))
    }

    fn note_sleep(&mut self) {
        let slept = self.link.slept();
        let lasted = slept.saturating_sub(self.slept);
        if lasted >= SLEEP_LEAST {
            self.slept = slept;
            self.sleep = Some(Sleep {
                lasted,
                ended: self.link.elapsed(),
                told: false,
            });
        }
    }

    /// That this computer slept, once, for the person; nothing where it did not.
    pub fn sleep_to_tell(&mut self) -> Option<String> {
        let sleep = self.sleep.as_mut().filter(|sleep| !sleep.told)?;
        sleep.told = true;
        Some(format!(
            "This computer slept for {} s: what the gauge measured meanwhile may be missing. Keep the lid open and sleep switched off.",
            seconds(sleep.lasted)
        ))
    }

    fn after_sleep(&self, error: LinkError) -> LinkError {
        let near = |sleep: &Sleep| self.link.elapsed() <= sleep.ended + SLEEP_EXPLAINS;
        let Some(sleep) = self.sleep.filter(near) else {
            return error;
        };
        let meanwhile = match &error {
            LinkError::Stopped { .. } => "the gauge stopped by itself",
            LinkError::Lost { .. } => "the gauge's port went away",
            LinkError::Restarted { .. } => "the gauge lost its power",
            _ => return error,
        };
        LinkError::Slept {
            port: self.port(),
            slept_s: seconds(sleep.lasted),
            meanwhile,
        }
    }

    fn read_next(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError> {
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

    /// By our clock and by the gauge's, whichever is ahead: a stream must not end because it is read late or fast. By the
    /// gauge's there are as many as quarters of a second worked through, whatever else was said and however long a block
    /// is; one said by our clock is one of them, ahead of its time.
    fn keep_alive(&mut self) -> Result<(), LinkError> {
        let next_us = self.gauge_us.saturating_add(WORKED_THROUGH_EVERY_US);
        let is_near = |due_us: &u64| self.gauge_us.abs_diff(*due_us) < WORKED_THROUGH_FAR_US;
        let due_us = self.alive_due_us.filter(is_near).unwrap_or(next_us);
        self.alive_due_us = Some(due_us);
        let is_quiet = self.link.elapsed() >= self.alive_at + KEEP_ALIVE_EVERY;
        if self.gauge_us >= due_us || is_quiet {
            self.alive_due_us = Some(due_us.saturating_add(WORKED_THROUGH_EVERY_US));
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
        } else if self.contradicts {
            "its samples contradict each other in number, time or counts".to_owned()
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

/// Whole seconds, rounded.
fn seconds(of: Duration) -> u64 {
    (of + Duration::from_millis(500)).as_secs()
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
        Refusal::OtherHardware => {
            "the record was made on another converter or at another gain; have this gauge calibrated as it is".into()
        }
        Refusal::NoBootMode => "its board has no boot mode; load the image as its board is loaded".into(),
        Refusal::SupplyLow { millivolts } => format!(
            "its supply is down to {:.2} V, too low to write its memory, and what it had stored is as it was; plug it straight \
             into the computer, with another cable, and try again",
            f64::from(millivolts) * 1e-3
        ),
        Refusal::Busy => "a self-test is still running; wait a few seconds".into(),
    }
}

#[cfg(test)]
mod tests;
