//! The main loop of a gauge: what interrupts queued, bytes from the host and the time go in; bytes for the host and
//! the levels of a few pins come out. [`Gauge::poll`] never waits.

mod requests;
mod streaming;

use heapless::{Deque, String};
use holdtrue_protocol::frame::MAX_REQUEST_FRAME;
use holdtrue_protocol::message::{
    Channel, Channels, FromGauge, Hardware, Hello, Press, Refusal, Request, ResetCause, SelfTest,
    Signal, Stop, WIRE_MAJOR, WIRE_MINOR,
};
use holdtrue_protocol::stream::Decoder;

use crate::adc::{Input, Setup};
use crate::adc_control::AdcControl;
use crate::calibration_store;
use crate::clock::Extend32;
use crate::flash::Flash;
use crate::light::Light;
use crate::lines::GaugeEnds;
use crate::outbox::{Kind, Outbox, Room};
use crate::overloads::Overloads;
use crate::selftest::Run;
use crate::stops::{Stopped, Stops};
use crate::store::{self, Payload, Progress, Record, Saving};
use streaming::Stream;

/// An idle gauge says hello this often, microseconds.
pub const HELLO_US: u64 = 1_000_000;
/// Rate at which an idle gauge watches for overloads, that of a grip check: the blow of a gauge that falls, or of a drawbar that
/// lets go, is over within milliseconds. The converter's nearest is taken.
pub const WATCH_HZ: u16 = 1_000;
/// Rate of the self-tests; the converter's nearest is taken. It is the usual rate of a grip check, so that the noise
/// found is the noise there. No faster: an open wire's capacitors take 2.3 ms to come from the far rail (11 nF, 10 µA).
pub const TEST_HZ: u16 = 1_000;
/// From the answer to leaving for the boot mode, so that it is on its way before, microseconds.
pub const LEAVE_US: u64 = 100_000;
/// What the gauge keeps by itself and could not write, as the supply was low, is tried again after this, microseconds.
pub const WRITE_AGAIN_US: u64 = 1_000_000;
/// Bytes of requests taken in before they are read.
pub const INPUT_BYTES: usize = 320;

/// What a board says about itself and what is fitted to it.
#[derive(Clone, Debug)]
pub struct Fitting {
    /// Serial number, as printed on the gauge.
    pub serial: String<16>,
    /// Channels fitted.
    pub channels: Channels,
    /// Displacement per count of the probe, nanometres; 0 without one.
    pub probe_nm_per_count: u32,
    /// Whether a shunt resistor can be switched in.
    pub shunt: bool,
    /// Which image runs, and the load cell's converter.
    pub hardware: Hardware,
    /// Whether the board has a boot mode that takes another image, and goes there where [`Polled::enter_boot_mode`] says.
    pub boot_mode: bool,
    /// The converter's rates (or the timer's that stands in for it), samples per second.
    pub rates_hz: &'static [u16],
}

/// What a board does after a poll.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Polled {
    /// Run [`Converter::serve`](crate::converter::Converter::serve) (or pend its task).
    pub run_converter: bool,
    /// Feed the watchdog. Withheld when the converter's part no longer runs.
    pub feed_watchdog: bool,
    /// Level of the light.
    pub light: bool,
    /// Whether the indicator's request line is to be held.
    pub request_indicator: bool,
    /// Leave for the boot mode now.
    pub enter_boot_mode: bool,
    /// Nothing to do before the next interrupt or millisecond: the processor may sleep.
    pub may_sleep: bool,
}

/// The main loop's part of a gauge.
pub struct Gauge<'q, F, R> {
    ends: GaugeEnds<'q>,
    flash: F,
    fitting: Fitting,
    boot: u32,
    reset: ResetCause,
    clock: Extend32,
    adc: AdcControl,
    mode: Mode,
    outbox: Outbox<R>,
    input: Deque<u8, INPUT_BYTES>,
    decoder: Decoder<MAX_REQUEST_FRAME>,
    waiting: Option<Request>,
    saving: Option<Save>,
    put_off: Option<PutOff>,
    overloads: Overloads,
    stops: Stops,
    light: Light,
    asked_signal: Signal,
    heard_us: u64,
    hello_due_us: u64,
    leaves_at_us: Option<u64>,
}

#[expect(
    clippy::large_enum_variant,
    reason = "one gauge, one mode, in a static: the room of the largest is always there"
)]
enum Mode {
    Idle,
    Testing { id: u16, run: Run },
    Starting(Start),
    Streaming(Stream),
}

struct Start {
    id: u16,
    rate_hz: u16,
    channels: Channels,
    check: Option<Run>,
    open: bool,
}

struct Save {
    saving: Saving,
    answer_id: Option<u16>,
}

/// What waits for a better supply, and holds up nothing meanwhile.
struct PutOff {
    saving: Saving,
    until_us: u64,
}

impl<'q, F: Flash, R: Room> Gauge<'q, F, R> {
    /// Starts the gauge: counts the boot in flash (the one place that waits for it), reads calibration and history. What is
    /// on its way to the host waits in `room`.
    pub fn new(
        ends: GaugeEnds<'q>,
        mut flash: F,
        room: R,
        fitting: Fitting,
        reset: ResetCause,
        raw_us: u32,
    ) -> Self {
        let clock = Extend32::starting_at(raw_us);
        let (boot, unsaved) = count_boot(&mut flash);
        let overloads = Overloads::load(&mut flash);
        let stops = Stops::load(&mut flash, Record::Stops);
        let mut gauge = Self {
            ends,
            flash,
            adc: AdcControl::new(bridge_at(&fitting, WATCH_HZ)),
            fitting,
            boot,
            reset,
            clock,
            mode: Mode::Idle,
            outbox: Outbox::new(room),
            input: Deque::new(),
            decoder: Decoder::new(),
            waiting: None,
            saving: None,
            put_off: unsaved.map(|saving| PutOff {
                saving,
                until_us: clock.newest_us() + WRITE_AGAIN_US,
            }),
            overloads,
            stops,
            light: Light::new(),
            asked_signal: Signal::Off,
            heard_us: clock.newest_us(),
            hello_due_us: clock.newest_us(),
            leaves_at_us: None,
        };
        gauge.load_limits();
        gauge
    }

    /// Keeps how the run before stopped, if it did. Once, before the first [`poll`](Self::poll).
    pub fn note_stop(&mut self, stopped: Option<Stopped>) {
        if let Some(stopped) = stopped {
            let before = (self.boot.wrapping_sub(1), 0);
            let (boot, at_us) = stopped.last_alive.unwrap_or(before);
            self.stops.note(Stop {
                boot,
                at_us,
                build: self.fitting.hardware.build,
                cause: stopped.cause,
                trail: stopped.trail,
            });
        }
    }

    /// Does what there is to do, and returns. Call it at least every millisecond while anything moves.
    pub fn poll(&mut self, raw_us: u32) -> Polled {
        let now_us = self.clock.extend(raw_us);
        let mut run_converter = self.adc.step(&mut self.ends, now_us);
        self.take_conversions(now_us);
        self.take_presses();
        self.take_marks();
        self.take_bursts(now_us);
        self.advance(now_us);
        self.save_step(now_us);
        self.answer_requests(now_us);
        run_converter |= self.adc.step(&mut self.ends, now_us);
        self.say_hello(now_us);
        self.show_signal(now_us);
        Polled {
            run_converter,
            feed_watchdog: !self.adc.is_hung(now_us),
            light: self.light.is_on(now_us),
            request_indicator: matches!(&self.mode, Mode::Streaming(stream) if stream.is_asking()),
            enter_boot_mode: self.leaves_at_us.is_some_and(|at_us| now_us >= at_us),
            may_sleep: !run_converter && self.saving.is_none(),
        }
    }

    /// Bytes [`receive`](Self::receive) has room for. A link with flow control reads no more than that; 64 are always
    /// free once the host waits for its answers.
    #[must_use]
    pub fn receive_room(&self) -> usize {
        self.input.capacity() - self.input.len()
    }

    /// Takes bytes from the host; returns how many it had room for.
    pub fn receive(&mut self, bytes: &[u8]) -> usize {
        bytes
            .iter()
            .take_while(|&&byte| self.input.push_back(byte).is_ok())
            .count()
    }

    /// The next bytes for the host, in one piece; none when there are none.
    #[must_use]
    pub fn next_bytes(&self) -> &[u8] {
        self.outbox.next_bytes()
    }

    /// The link took so many of the [next bytes](Self::next_bytes).
    pub fn sent(&mut self, count: usize) {
        self.outbox.sent(count);
    }

    /// Copies bytes for the host into a buffer; returns how many.
    pub fn transmit(&mut self, buffer: &mut [u8]) -> usize {
        let mut filled = 0;
        while filled < buffer.len() && !self.outbox.is_empty() {
            let next = self.outbox.next_bytes();
            let count = next.len().min(buffer.len() - filled);
            buffer[filled..filled + count].copy_from_slice(&next[..count]);
            self.outbox.sent(count);
            filled += count;
        }
        filled
    }

    /// A host has newly connected: nothing cut off by the old connection is carried over.
    pub fn on_connect(&mut self) {
        self.outbox.drop_cut_frame();
        self.input.clear();
        self.decoder.restart();
        self.waiting = None;
    }

    /// The boot number of everything this gauge sends.
    #[must_use]
    pub const fn boot(&self) -> u32 {
        self.boot
    }

    /// The gauge's clock at the last [`poll`](Self::poll), microseconds since boot.
    #[must_use]
    pub const fn now_us(&self) -> u64 {
        self.clock.newest_us()
    }

    /// What the light shows: what the host asked for, or the gauge's own fault.
    #[must_use]
    pub const fn signal(&self) -> Signal {
        self.light.signal()
    }

    /// Whether it is streaming.
    #[must_use]
    pub const fn is_streaming(&self) -> bool {
        matches!(self.mode, Mode::Streaming(_))
    }

    /// The flash, given back, as at a reset.
    #[must_use]
    pub fn release(self) -> F {
        self.flash
    }

    fn hello(&self) -> Hello {
        Hello {
            wire_major: WIRE_MAJOR,
            wire_minor: WIRE_MINOR,
            boot: self.boot,
            serial: self.fitting.serial.clone(),
            firmware: String::try_from(env!("CARGO_PKG_VERSION")).unwrap_or_default(),
            reset: self.reset,
            fitted: self.fitting.channels,
            probe_nm_per_count: self.fitting.probe_nm_per_count,
            at_us: self.clock.newest_us(),
            streaming: self.is_streaming(),
        }
    }

    /// Once a second while idle, and never a second one while the first still waits for a link.
    fn say_hello(&mut self, now_us: u64) {
        let due = now_us >= self.hello_due_us && matches!(self.mode, Mode::Idle);
        if due && self.outbox.next_bytes().len() <= 1 {
            self.hello_due_us = now_us + HELLO_US;
            let hello = FromGauge::Hello(self.hello());
            self.outbox.send(Kind::Event, &hello);
        }
    }

    /// The gauge's own faults go before what the host asked for.
    fn show_signal(&mut self, now_us: u64) {
        let faulty = match &self.mode {
            Mode::Streaming(stream) => stream.has_fault(),
            _ => self.adc.has_failed(),
        };
        let signal = if faulty {
            Signal::Fault
        } else {
            self.asked_signal
        };
        self.light.show(signal, now_us);
    }

    /// Readings of a self-test, samples of a stream, or the watch for overloads.
    fn take_conversions(&mut self, now_us: u64) {
        while let Some(conversion) = self.ends.next_conversion() {
            let at_us = self.clock.extend(conversion.stamp.at_us);
            if !self.adc.is_current(conversion.order) {
                continue;
            }
            match &mut self.mode {
                Mode::Idle => {
                    self.overloads.watch(self.boot, at_us, conversion.counts);
                }
                Mode::Testing { run, .. } => run.take(conversion.counts, at_us),
                Mode::Starting(start) => {
                    if let Some(run) = &mut start.check {
                        run.take(conversion.counts, at_us);
                    }
                }
                Mode::Streaming(stream) => {
                    stream.take(&conversion, at_us, &mut self.overloads, &mut self.outbox);
                    // Heard now, however late this loop is: silence counts from here.
                    stream.heard_converter(now_us);
                }
            }
        }
    }

    /// Streaming or not; what has no room on the way to the host is missed by its number.
    fn take_presses(&mut self) {
        while let Some(press) = self.ends.presses.dequeue() {
            let press = Press {
                boot: self.boot,
                number: press.number,
                at_us: self.clock.extend(press.at_us),
            };
            self.outbox.send(Kind::Event, &FromGauge::Pressed(press));
        }
    }

    fn take_marks(&mut self) {
        while let Some(change) = self.ends.marks.dequeue() {
            let at_us = self.clock.extend(change.at_us);
            if let Mode::Streaming(stream) = &mut self.mode {
                stream.take_mark(&change, at_us, &mut self.outbox);
            }
        }
    }

    fn take_bursts(&mut self, now_us: u64) {
        while let Some(burst) = self.ends.bursts.dequeue() {
            let at_us = self.clock.extend(burst.at_us);
            if let Mode::Streaming(stream) = &mut self.mode {
                stream.take_burst(&burst, at_us, now_us, &mut self.outbox);
            }
        }
    }

    /// At most one erase or program a poll, and none while streaming.
    fn save_step(&mut self, now_us: u64) {
        if self.is_streaming() {
            return;
        }
        if self.saving.is_none() {
            self.saving = self.next_saving(now_us).map(|saving| Save {
                saving,
                answer_id: None,
            });
        }
        let Some(save) = &mut self.saving else {
            return;
        };
        let outcome = match save.saving.step(&mut self.flash) {
            Progress::Working => return,
            Progress::Stored => Ok(()),
            Progress::Failed => Err(Refusal::StoreFailed),
            Progress::SupplyLow(millivolts) => Err(Refusal::SupplyLow { millivolts }),
        };
        let Some(Save { saving, answer_id }) = self.saving.take() else {
            return;
        };
        match answer_id {
            Some(id) => self.answer_save(id, outcome),
            None if matches!(outcome, Err(Refusal::SupplyLow { .. })) => {
                self.put_off = Some(PutOff {
                    saving,
                    until_us: now_us + WRITE_AGAIN_US,
                });
            }
            None => {}
        }
    }

    /// What the gauge keeps by itself: first what was put off, once its time has come.
    fn next_saving(&mut self, now_us: u64) -> Option<Saving> {
        match self.put_off.take_if(|put_off| now_us >= put_off.until_us) {
            Some(put_off) => Some(put_off.saving),
            None if self.put_off.is_some() => None,
            None => {
                let (record, payload) = self.unsaved()?;
                Some(Saving::new(record, payload))
            }
        }
    }

    /// Whether something is to be written before anything else begins.
    fn must_save_first(&self) -> bool {
        let unsaved = self.overloads.is_unsaved() || self.stops.is_unsaved();
        self.saving.is_some() || (unsaved && self.put_off.is_none())
    }

    /// A history that has changed.
    fn unsaved(&mut self) -> Option<(Record, Payload)> {
        let overloads = self.overloads.take_unsaved();
        if let Some(payload) = overloads {
            return Some((Record::Overloads, payload));
        }
        Some((Record::Stops, self.stops.take_unsaved()?))
    }

    /// Overloads are judged by the load cell's calibration; without one nothing is known to be one.
    fn load_limits(&mut self) {
        let limits = calibration_store::read(&mut self.flash, Channel::Force)
            .map(|record| calibration_store::rated_counts(&record));
        self.overloads.set_limits(limits);
    }
}

/// The number of this start, and its saving where the supply was too low for it.
fn count_boot<F: Flash>(flash: &mut F) -> (u32, Option<Saving>) {
    let last = store::newest(flash, Record::BootNumber)
        .ok()
        .flatten()
        .and_then(|payload| payload.first_chunk().copied().map(u32::from_le_bytes))
        .unwrap_or(0);
    let boot = last.wrapping_add(1);
    let payload = Payload::from_slice(&boot.to_le_bytes()).unwrap_or_default();
    let mut saving = Saving::new(Record::BootNumber, payload);
    loop {
        match saving.step(flash) {
            Progress::Working => {}
            Progress::SupplyLow(_) => return (boot, Some(saving)),
            // A memory that takes nothing leaves the gauge usable; its calibration check says so.
            Progress::Stored | Progress::Failed => return (boot, None),
        }
    }
}

/// The converter's rate nearest to one asked for.
fn nearest_rate(fitting: &Fitting, asked_hz: u16) -> u16 {
    fitting
        .rates_hz
        .iter()
        .copied()
        .min_by_key(|rate| rate.abs_diff(asked_hz))
        .unwrap_or(asked_hz)
}

fn bridge_at(fitting: &Fitting, asked_hz: u16) -> Setup {
    Setup {
        input: Input::Bridge,
        rate_hz: nearest_rate(fitting, asked_hz),
        shunt: false,
    }
}

/// What a self-test of this kind needs and the gauge lacks.
fn lacks(fitting: &Fitting, test: SelfTest) -> Option<Refusal> {
    let fitted = fitting.channels.force && (fitting.shunt || test != SelfTest::Shunt);
    (!fitted).then_some(Refusal::NotFitted)
}
