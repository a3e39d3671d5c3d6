//! Requests go in; each is answered or refused exactly once.
//!
//! A request is taken up only while its answer has room, so nothing is lost to a host that does not read; what has to
//! wait for the flash waits as a request, and those behind it with it.

use holdtrue_protocol::frame::{self, MAX_FRAME};
use holdtrue_protocol::message::{
    Answer, BoundRecord, CalibrationRecord, Channel, Channels, Command, FromGauge, Refusal, Reply,
    Request, SelfTest, ToGauge,
};
use holdtrue_protocol::stream::Received;

use super::{Gauge, LEAVE_US, Mode, Save, Start, lacks, nearest_rate};
use crate::calibration_store;
use crate::flash::Flash;
use crate::outbox::{Kind, Room};
use crate::selftest::Run;
use crate::store::{Payload, Saving};

/// What becomes of a request at once.
enum Handled {
    Answer(Result<Reply, Refusal>),
    /// Its answer comes later.
    Begun,
    /// Not yet: try again.
    Wait(Request),
}

impl<F: Flash, R: Room> Gauge<'_, F, R> {
    pub(super) fn answer_requests(&mut self, now_us: u64) {
        while self.has_answer_room() {
            let waiting = self.waiting.take().map(Ok);
            let Some(request) = waiting.or_else(|| self.next_request()) else {
                return;
            };
            self.heard_us = now_us;
            match request {
                Err(id) => self.answer(id, Err(Refusal::UnknownCommand)),
                Ok(request) => {
                    let id = request.id;
                    match self.handle(request, now_us) {
                        Handled::Answer(outcome) => self.answer(id, outcome),
                        Handled::Begun => {}
                        Handled::Wait(request) => {
                            self.waiting = Some(request);
                            return;
                        }
                    }
                }
            }
        }
    }

    /// Sends an answer. There is room: see [`has_answer_room`](Self::has_answer_room).
    pub(super) fn answer(&mut self, id: u16, outcome: Result<Reply, Refusal>) {
        self.outbox
            .send(Kind::Answer, &FromGauge::Answer(Answer { id, outcome }));
    }

    /// The answer to a record written.
    pub(super) fn answer_save(&mut self, id: u16, outcome: Result<(), Refusal>) {
        if outcome.is_ok() {
            self.load_limits();
        }
        self.answer(id, outcome.map(|()| Reply::Stored));
    }

    /// Room for one more answer beside that of a request still under way.
    fn has_answer_room(&self) -> bool {
        let under_way = matches!(self.mode, Mode::Testing { .. } | Mode::Starting(_))
            || self
                .saving
                .as_ref()
                .is_some_and(|save| save.answer_id.is_some());
        self.outbox.free() >= MAX_FRAME * (1 + usize::from(under_way))
    }

    /// The next whole request; of one that is not understood, its number.
    fn next_request(&mut self) -> Option<Result<Request, u16>> {
        while let Some(byte) = self.input.pop_front() {
            match self.decoder.push_from_host(byte) {
                Some(Received::Message {
                    message: ToGauge::Request(request),
                    ..
                }) => return Some(Ok(request)),
                Some(Received::NotUnderstood { plain, .. }) => {
                    if let Some(id) = frame::check(plain).ok().and_then(frame::request_id) {
                        return Some(Err(id));
                    }
                }
                _ => {}
            }
        }
        None
    }

    fn handle(&mut self, request: Request, now_us: u64) -> Handled {
        let id = request.id;
        Handled::Answer(match request.command {
            Command::Identify => Ok(Reply::Identity(self.hello())),
            Command::KeepAlive => Ok(Reply::Alive { at_us: now_us }),
            Command::Show(signal) => {
                self.asked_signal = signal;
                Ok(Reply::Shown)
            }
            Command::ReadCalibration(channel) => self.read_calibration(channel),
            Command::ReadHardware => Ok(Reply::Hardware(self.fitting.hardware.clone())),
            Command::ReadBinding(channel) => self.read_binding(channel),
            Command::ReadOverloads => Ok(Reply::Overloads(self.overloads.history().clone())),
            Command::ReadStops => Ok(Reply::Stops(self.stops.history().clone())),
            Command::Stop => {
                if matches!(self.mode, Mode::Starting(_)) {
                    return Handled::Wait(request);
                }
                self.end_stream().ok_or(Refusal::NotStreaming)
            }
            Command::Start { .. }
            | Command::SelfTest(_)
            | Command::WriteCalibration(_)
            | Command::WriteBound(_)
            | Command::EnterBootMode => {
                if let Some(refusal) = self.occupied() {
                    Err(refusal)
                } else if self.must_save_first() {
                    return Handled::Wait(request);
                } else {
                    return self.begin(id, request.command, now_us);
                }
            }
        })
    }

    fn occupied(&self) -> Option<Refusal> {
        match self.mode {
            Mode::Idle => None,
            Mode::Testing { .. } | Mode::Starting(_) => Some(Refusal::Busy),
            Mode::Streaming(_) => Some(Refusal::Streaming),
        }
    }

    /// Begins what takes its time; the gauge is idle.
    fn begin(&mut self, id: u16, command: Command, now_us: u64) -> Handled {
        let begun = match command {
            Command::Start { rate_hz, channels } => self.start(id, rate_hz, channels, now_us),
            Command::SelfTest(test) => self.test(id, test, now_us),
            Command::WriteCalibration(record) => self.write_calibration(id, &record),
            Command::WriteBound(bound) => self.write_bound(id, &bound),
            Command::EnterBootMode => return Handled::Answer(self.leave(now_us)),
            _ => Err(Refusal::UnknownCommand),
        };
        match begun {
            Ok(()) => Handled::Begun,
            Err(refusal) => Handled::Answer(Err(refusal)),
        }
    }

    fn start(
        &mut self,
        id: u16,
        rate_hz: u16,
        channels: Channels,
        now_us: u64,
    ) -> Result<(), Refusal> {
        if !is_subset(channels, self.fitting.channels) {
            return Err(Refusal::NotFitted);
        }
        let nearest_hz = nearest_rate(&self.fitting, rate_hz);
        if nearest_hz != rate_hz {
            return Err(Refusal::NoSuchRate { nearest_hz });
        }
        let check = channels
            .force
            .then(|| Run::new(SelfTest::OpenBridge, now_us));
        self.adc.give_another_chance();
        self.mode = Mode::Starting(Start {
            id,
            rate_hz,
            channels,
            check,
            open: false,
        });
        Ok(())
    }

    /// Nothing is under way then: no record half written, no stream.
    fn leave(&mut self, now_us: u64) -> Result<Reply, Refusal> {
        if !self.fitting.boot_mode {
            return Err(Refusal::NoBootMode);
        }
        self.leaves_at_us = Some(now_us + LEAVE_US);
        Ok(Reply::BootMode)
    }

    fn test(&mut self, id: u16, test: SelfTest, now_us: u64) -> Result<(), Refusal> {
        if let Some(refusal) = lacks(&self.fitting, test) {
            return Err(refusal);
        }
        self.adc.give_another_chance();
        self.mode = Mode::Testing {
            id,
            run: Run::new(test, now_us),
        };
        Ok(())
    }

    fn write_calibration(&mut self, id: u16, record: &CalibrationRecord) -> Result<(), Refusal> {
        self.store(id, record.channel, calibration_store::payload_of(record))
    }

    /// A calibration made on other hardware never gets in: whoever sends it, and whatever he holds it for.
    fn write_bound(&mut self, id: u16, bound: &BoundRecord) -> Result<(), Refusal> {
        if !calibration_store::belongs(bound, self.fitting.hardware.converter.as_ref()) {
            return Err(Refusal::OtherHardware);
        }
        let payload = calibration_store::payload_of_bound(bound);
        self.store(id, bound.record.channel, payload)
    }

    fn store(
        &mut self,
        id: u16,
        channel: Channel,
        payload: Option<Payload>,
    ) -> Result<(), Refusal> {
        if !self.is_fitted(channel) {
            return Err(Refusal::NotFitted);
        }
        let payload = payload.ok_or(Refusal::BadRecord)?;
        self.saving = Some(Save {
            saving: Saving::new(calibration_store::record_of(channel), payload),
            answer_id: Some(id),
        });
        Ok(())
    }

    fn read_calibration(&mut self, channel: Channel) -> Result<Reply, Refusal> {
        if !self.is_fitted(channel) {
            return Err(Refusal::NotFitted);
        }
        calibration_store::read(&mut self.flash, channel)
            .map(Reply::Calibration)
            .ok_or(Refusal::NoRecord)
    }

    fn read_binding(&mut self, channel: Channel) -> Result<Reply, Refusal> {
        if !self.is_fitted(channel) {
            return Err(Refusal::NotFitted);
        }
        calibration_store::read_bound(&mut self.flash, channel)
            .map(|(_, made_on)| Reply::Binding(made_on))
            .ok_or(Refusal::NoRecord)
    }

    fn is_fitted(&self, channel: Channel) -> bool {
        let fitted = self.fitting.channels;
        match channel {
            Channel::Force => fitted.force,
            Channel::Displacement => fitted.displacement,
            Channel::Indicator => fitted.indicator,
        }
    }
}

/// Whether something is asked for, and all of it is fitted.
fn is_subset(asked: Channels, fitted: Channels) -> bool {
    let pairs = [
        (asked.force, fitted.force),
        (asked.displacement, fitted.displacement),
        (asked.mark, fitted.mark),
        (asked.indicator, fitted.indicator),
    ];
    pairs.iter().any(|pair| pair.0) && pairs.iter().all(|&(asked, fitted)| fitted || !asked)
}
