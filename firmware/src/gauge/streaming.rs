//! A running stream: conversions, mark changes and indicator bursts go in, frames go out; and what watches over it.

use holdtrue_protocol::message::{
    Channels, Fault, FromGauge, IndicatorReading, KEEP_ALIVE_LIMIT_US, MarkEdge, Refusal, Reply,
    SelfTest,
};

use super::{Gauge, Mode, TEST_HZ, WATCH_HZ, bridge_at, nearest_rate};
use crate::adc::{Input, Setup};
use crate::adc_control::{AdcControl, RETRY_US};
use crate::bcd_indicator::{self, Burst};
use crate::flash::Flash;
use crate::indicator_requests::IndicatorRequests;
use crate::lines::Conversion;
use crate::mark::MarkChange;
use crate::outbox::{Kind, Outbox, Room};
use crate::overloads::Overloads;
use crate::sampler::Sampler;
use crate::selftest::{Progress, Run};
use crate::sudden_fall::SuddenFall;

/// The converter at its end for this long may mean an open wire: look, microseconds.
const SATURATED_US: u64 = 100_000;
/// Looking for an open wire costs a few samples; not more often than this, microseconds.
const LOOK_AGAIN_US: u64 = 1_000_000;

/// What streams, and its watches.
pub(super) struct Stream {
    sampler: Sampler,
    boot: u32,
    channels: Channels,
    setup: Setup,
    started_us: u64,
    first_mark: Option<u32>,
    readings: u32,
    indicator: IndicatorRequests,
    check: Option<Run>,
    look_at_us: Option<u64>,
    fall: SuddenFall,
    /// The force fell as it falls when a supply wire opens: look.
    fell: bool,
    revive_at_us: u64,
}

impl Stream {
    pub(super) fn new(boot: u32, channels: Channels, setup: Setup, now_us: u64) -> Self {
        Self {
            sampler: Sampler::new(boot, channels, setup.rate_hz, now_us),
            boot,
            channels,
            setup,
            started_us: now_us,
            first_mark: None,
            readings: 0,
            indicator: IndicatorRequests::starting(now_us),
            check: None,
            look_at_us: None,
            fall: SuddenFall::new(),
            fell: false,
            revive_at_us: 0,
        }
    }

    pub(super) fn is_asking(&self) -> bool {
        self.channels.indicator && self.indicator.is_asking()
    }

    pub(super) fn has_fault(&self) -> bool {
        self.sampler.has_any()
    }

    pub(super) fn take<R: Room>(
        &mut self,
        conversion: &Conversion,
        at_us: u64,
        overloads: &mut Overloads,
        outbox: &mut Outbox<R>,
    ) {
        if let Some(run) = &mut self.check {
            run.take(conversion.counts, at_us);
            return;
        }
        self.fell |= self.channels.force && self.fall.take(conversion.counts, at_us);
        let overload = overloads.watch(self.boot, at_us, conversion.counts);
        self.sampler.take(conversion, at_us, overload, outbox);
    }

    pub(super) fn heard_converter(&mut self, now_us: u64) {
        self.sampler.resume(now_us);
    }

    pub(super) fn take_mark<R: Room>(
        &mut self,
        change: &MarkChange,
        at_us: u64,
        outbox: &mut Outbox<R>,
    ) {
        if !self.channels.mark || at_us < self.started_us {
            return;
        }
        let first = *self.first_mark.get_or_insert(change.number);
        let edge = MarkEdge {
            boot: self.boot,
            number: change.number.wrapping_sub(first),
            at_us,
            rising: change.rising,
        };
        outbox.send(Kind::Event, &FromGauge::Mark(edge));
    }

    pub(super) fn take_burst<R: Room>(
        &mut self,
        burst: &Burst,
        at_us: u64,
        now_us: u64,
        outbox: &mut Outbox<R>,
    ) {
        if !self.channels.indicator || at_us < self.started_us {
            return;
        }
        self.indicator.heard(now_us);
        let shown = bcd_indicator::read(burst);
        self.sampler
            .set(Fault::IndicatorSilent, false, at_us, outbox);
        self.sampler
            .set(Fault::IndicatorGarbled, shown.is_err(), at_us, outbox);
        if let Ok(shown) = shown {
            let reading = IndicatorReading {
                boot: self.boot,
                number: self.readings,
                at_us,
                digits: shown.digits,
                decimals: shown.decimals,
                inch: shown.inch,
            };
            self.readings = self.readings.wrapping_add(1);
            outbox.send(Kind::Event, &FromGauge::Indicator(reading));
        }
    }

    fn watch<R: Room>(
        &mut self,
        now_us: u64,
        test_hz: u16,
        adc: &mut AdcControl,
        outbox: &mut Outbox<R>,
    ) {
        if self.check.is_some() {
            self.watch_check(now_us, test_hz, adc, outbox);
        } else {
            self.watch_silence(now_us, adc, outbox);
            self.watch_saturation(now_us);
            self.watch_fall(now_us);
        }
        self.sampler.send_if_old(now_us, outbox);
        if self.channels.indicator && self.indicator.is_found_silent(now_us) {
            self.sampler
                .set(Fault::IndicatorSilent, true, now_us, outbox);
        }
    }

    /// A silent converter is reset and set up anew, again and again.
    fn watch_silence<R: Room>(
        &mut self,
        now_us: u64,
        adc: &mut AdcControl,
        outbox: &mut Outbox<R>,
    ) {
        if self.sampler.is_silent(now_us) {
            self.sampler.set(Fault::AdcSilent, true, now_us, outbox);
            if now_us >= self.revive_at_us {
                self.revive_at_us = now_us + RETRY_US;
                adc.restart();
            }
        }
    }

    /// Begins to look for an open wire when the converter stays at its end, and looks again while one is open.
    fn watch_saturation(&mut self, now_us: u64) {
        let suspicious = self.channels.force
            && (self.sampler.has(Fault::Saturated) || self.sampler.has(Fault::OpenBridge))
            && !self.sampler.has(Fault::AdcSilent);
        if !suspicious {
            self.look_at_us = None;
            return;
        }
        let look_at_us = *self.look_at_us.get_or_insert(now_us + SATURATED_US);
        if now_us >= look_at_us {
            self.check = Some(Run::new(SelfTest::OpenBridge, now_us));
        }
    }

    /// A level lost within two samples may be an open supply wire: look at once, or what comes back is a second clamp.
    fn watch_fall(&mut self, now_us: u64) {
        let is_looked_for = self.check.is_some() || self.sampler.has(Fault::OpenBridge);
        if core::mem::take(&mut self.fell) && !is_looked_for {
            self.check = Some(Run::new(SelfTest::OpenBridge, now_us));
        }
    }

    fn watch_check<R: Room>(
        &mut self,
        now_us: u64,
        test_hz: u16,
        adc: &mut AdcControl,
        outbox: &mut Outbox<R>,
    ) {
        let Some(run) = &mut self.check else {
            return;
        };
        match run.progress(now_us) {
            Progress::Working if !adc.has_failed() => return adc.want(run.setup(test_hz)),
            Progress::Done(found) => {
                self.sampler
                    .set(Fault::OpenBridge, found.open, now_us, outbox);
            }
            Progress::Working | Progress::Silent => {
                self.sampler.set(Fault::AdcSilent, true, now_us, outbox);
                adc.restart();
            }
        }
        self.check = None;
        self.look_at_us = Some(now_us + LOOK_AGAIN_US);
        (self.fall, self.fell) = (SuddenFall::new(), false);
        adc.want(self.setup);
    }

    fn found_open<R: Room>(&mut self, now_us: u64, outbox: &mut Outbox<R>) {
        self.sampler.set(Fault::OpenBridge, true, now_us, outbox);
        self.look_at_us = Some(now_us + LOOK_AGAIN_US);
    }
}

impl<F: Flash, R: Room> Gauge<'_, F, R> {
    /// Moves on what takes its time: a self-test, a start, a stream.
    pub(super) fn advance(&mut self, now_us: u64) {
        let test_hz = nearest_rate(&self.fitting, TEST_HZ);
        match &mut self.mode {
            Mode::Idle => {}
            Mode::Testing { .. } => self.advance_test(now_us, test_hz),
            Mode::Starting(_) => self.advance_start(now_us, test_hz),
            Mode::Streaming(stream) => {
                stream.watch(now_us, test_hz, &mut self.adc, &mut self.outbox);
                if now_us > self.heard_us + KEEP_ALIVE_LIMIT_US {
                    self.end_stream();
                    self.hello_due_us = now_us;
                }
            }
        }
    }

    /// Ends the stream, if one runs; gives what the answer tells of it.
    pub(super) fn end_stream(&mut self) -> Option<Reply> {
        let Mode::Streaming(stream) = &mut self.mode else {
            return None;
        };
        stream.sampler.close(&mut self.outbox);
        let stopped = Reply::Stopped {
            samples: stream.sampler.samples(),
            blocks_dropped: self.outbox.blocks_dropped(),
        };
        self.overloads.keep();
        self.rest();
        Some(stopped)
    }

    fn advance_test(&mut self, now_us: u64, test_hz: u16) {
        let Mode::Testing { id, run } = &mut self.mode else {
            return;
        };
        let id = *id;
        let outcome = match run.progress(now_us) {
            Progress::Working if !self.adc.has_failed() => {
                return self.adc.want(run.setup(test_hz));
            }
            Progress::Done(result) => Ok(Reply::SelfTest(result)),
            Progress::Working | Progress::Silent => Err(Refusal::AdcSilent),
        };
        self.leave_test(id, outcome);
    }

    /// First a look at the bridge's wires, then the setting asked for, then the stream.
    fn advance_start(&mut self, now_us: u64, test_hz: u16) {
        let Mode::Starting(start) = &mut self.mode else {
            return;
        };
        let setup = Setup {
            input: Input::Bridge,
            rate_hz: start.rate_hz,
            shunt: false,
        };
        let looked = match &mut start.check {
            Some(run) => run.progress(now_us),
            None => Progress::Working,
        };
        match (looked, &start.check) {
            (Progress::Silent, _) => return self.refuse_start(),
            (Progress::Done(found), _) => {
                start.open = found.open;
                start.check = None;
                self.adc.want(setup);
            }
            (Progress::Working, Some(run)) => self.adc.want(run.setup(test_hz)),
            (Progress::Working, None) => self.adc.want(setup),
        }
        if self.adc.has_failed() {
            self.refuse_start();
        } else if start.check.is_none() && self.adc.is_running() {
            self.begin_stream(setup, now_us);
        }
    }

    fn refuse_start(&mut self) {
        if let Mode::Starting(start) = &self.mode {
            let id = start.id;
            self.leave_test(id, Err(Refusal::AdcSilent));
        }
    }

    fn begin_stream(&mut self, setup: Setup, now_us: u64) {
        let Mode::Starting(start) = &self.mode else {
            return;
        };
        let (id, open) = (start.id, start.open);
        let started = Reply::Started {
            boot: self.boot,
            rate_hz: start.rate_hz,
            channels: start.channels,
        };
        let mut stream = Stream::new(self.boot, start.channels, setup, now_us);
        self.outbox.restart_count();
        self.heard_us = now_us;
        self.answer(id, Ok(started));
        if open {
            stream.found_open(now_us, &mut self.outbox);
        }
        self.mode = Mode::Streaming(stream);
    }

    fn leave_test(&mut self, id: u16, outcome: Result<Reply, Refusal>) {
        if outcome.is_err() {
            self.adc.restart();
        }
        self.rest();
        self.answer(id, outcome);
    }

    /// Back to the watch for overloads.
    fn rest(&mut self) {
        self.adc.want(bridge_at(&self.fitting, WATCH_HZ));
        self.mode = Mode::Idle;
    }
}
