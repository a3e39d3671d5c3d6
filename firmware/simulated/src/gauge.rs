//! In: bytes from a host, virtual time. Out: the bytes the real firmware sends, on simulated chips.
//!
//! Only calls of [`SimulatedGauge::advance_us`] and its kin move time. Everything happens on a grid of whole
//! milliseconds or at the chips' own moments, counted from the start of a stream: when a host happens to ask never
//! changes what is measured.

use std::path::PathBuf;

use heapless::String;
use heapless::deque::{Deque, DequeView};
use holdtrue_firmware::bridge::Bridge;
use holdtrue_firmware::button::Button;
use holdtrue_firmware::calibration_store;
use holdtrue_firmware::converter::Converter;
use holdtrue_firmware::edges::Edges;
use holdtrue_firmware::gauge::{Fitting, Gauge};
use holdtrue_firmware::lines::Queues;
use holdtrue_firmware::overloads::Overloads;
use holdtrue_firmware::stops::{Kept, Trail};
use holdtrue_firmware::store::{self, Payload, Record};
use holdtrue_protocol::frame::MAX_REQUEST_FRAME;
use holdtrue_protocol::message::{
    Binding, BoundRecord, CalibrationRecord, Channel, Channels, Command, Hardware, Overload,
    Request, ResetCause, Signal, StopCause, ToGauge,
};
use holdtrue_protocol::stream::{Decoder, Received};

use crate::build::Build;
use crate::certificate::{self, PROBE_NM_PER_COUNT};
use crate::chips::ads1220::Ads1220;
use crate::chips::boot_drive::BootDrive;
use crate::chips::button::ButtonPin;
use crate::chips::clock::Clock;
use crate::chips::encoder::Encoder;
use crate::chips::flash::FlashChip;
use crate::chips::indicator::Indicator;
use crate::chips::{Misuse, Misuses};
use crate::condition::{Condition, Faults, Severity};
use crate::operator::clamping::ClampHabits;
use crate::operator::stepping::StepHabits;
use crate::wiring::{LoadCellRig, ShuntPin, Wire};
use crate::world::force::TrueClamp;
use crate::world::plane::{PlaneSetup, PlaneWorld, Prescribed, visit_planes};
use crate::world::press::Hands;

/// Bytes the gauge can hold back while its host does not read: nine seconds at a thousand samples a second, as on the board.
const OUTBOX_BYTES: usize = 65_536;
/// The main loop runs once a millisecond.
const POLL_NS: u64 = 1_000_000;
/// A program that stopped is restarted by the watchdog after so long, nanoseconds.
const WATCHDOG_NS: u64 = 2_000_000_000;
/// How often the boot mode looks for a file, nanoseconds.
const LOOK_AT_DRIVE_NS: u64 = 200_000_000;
/// Where a simulated program stops: addresses in an image.
const STOPS_AT: [u32; 2] = [0x1000_4a1c, 0x1000_2d30];
/// Day of calibration where none is given: 2026-01-15.
const CALIBRATED_DAYS: i32 = 20_468;

/// The check standard in the yard.
const STANDARD_N: f64 = 5_000.0;

/// What is simulated.
#[derive(Clone, Debug)]
pub struct Setup {
    /// Draws every parameter.
    pub seed: u64,
    /// What is wrong with the machine.
    pub faults: Faults,
    /// How the operator clamps.
    pub habits: ClampHabits,
    /// How the operator steps from position to position.
    pub stepping: StepHabits,
    /// What is not left to the seed in the planes.
    pub prescribed: Prescribed,
    /// The planes measured one after the other: the first stream with a displacement channel is the first plane.
    pub planes: Vec<PlaneSetup>,
    /// What the gauge is built from.
    pub build: Build,
    /// Records in the gauge's flash.
    pub calibrations: Vec<CalibrationRecord>,
    /// What the load cell's was made on; none: stored before gauges kept that.
    pub made_on: Option<Binding>,
    /// Overloads of earlier days, in the gauge's flash.
    pub overloads: Vec<Overload>,
    /// When its program stops by itself, microseconds since it was switched on, and how; in order.
    pub stops: Vec<(u64, StopCause)>,
    /// The folder that stands for the drive of its boot mode; none: its board has no such mode.
    pub drive: Option<PathBuf>,
    /// How often the gauge had been started before: its boot number is one more.
    pub boots_before: u32,
    /// Serial number printed on the gauge.
    pub serial: &'static str,
    /// Force of the check standard in the yard, N.
    pub standard_n: f64,
    /// What is wired to it.
    pub fitted: Channels,
    /// The tip stands on the gauge's end face while the operator clamps, where force and length are asked for together.
    pub end_face: bool,
    /// Somebody outside sets press and blocks; none: the simulated operator measures a spindle.
    pub hands: Option<Hands>,
}

impl Setup {
    /// A named condition, clear, with the gauge calibrated on 2026-01-15.
    pub fn new(seed: u64, condition: Condition) -> Self {
        Self::with_faults(seed, condition.faults(Severity::CLEAR))
    }

    /// Any mix of faults.
    pub fn with_faults(seed: u64, faults: Faults) -> Self {
        let setup = Self {
            seed,
            faults,
            habits: ClampHabits::default(),
            stepping: StepHabits::default(),
            prescribed: Prescribed::default(),
            planes: visit_planes(8),
            build: Build::USUAL,
            calibrations: Vec::new(),
            made_on: Some(Build::USUAL.binding()),
            overloads: Vec::new(),
            stops: Vec::new(),
            drive: None,
            boots_before: 0,
            serial: "TP-0031",
            standard_n: STANDARD_N,
            fitted: Channels {
                force: true,
                displacement: true,
                mark: true,
                indicator: true,
            },
            end_face: false,
            hands: None,
        };
        setup.calibrated_on(CALIBRATED_DAYS)
    }

    /// The plane measured as number `number`, from 0: the last one again where the list has ended, none where it is empty.
    pub fn plane_world(&self, number: u64) -> Option<PlaneWorld> {
        let place = usize::try_from(number).unwrap_or(usize::MAX);
        let plane = *self.planes.get(place).or(self.planes.last())?;
        Some(PlaneWorld::with(
            self.seed,
            &self.faults,
            number,
            plane,
            self.stepping,
            self.prescribed,
        ))
    }

    /// All channels calibrated on a day (days since 1970-01-01), due a year later.
    #[must_use]
    pub fn calibrated_on(mut self, days: i32) -> Self {
        let records = [
            certificate::force(days),
            certificate::probe(days),
            certificate::indicator(days),
        ];
        self.calibrations = records.into();
        self
    }
}

type Chip = Bridge<Ads1220, ShuntPin>;

/// The three parts of the firmware, as a board would run them.
struct Firmware {
    edges: Edges<'static>,
    converter: Converter<'static, Chip>,
    button: Button<ButtonPin>,
    gauge: Gauge<'static, FlashChip, Box<DequeView<u8>>>,
}

/// The firmware on its chips. See the module's own words.
pub struct SimulatedGauge {
    setup: Setup,
    clock: Clock,
    misuses: Misuses,
    rig: LoadCellRig,
    adc: Ads1220,
    flash: FlashChip,
    firmware: Firmware,
    probe: Encoder,
    indicator: Indicator,
    button: ButtonPin,
    mark: bool,
    /// Memory that a reset leaves alone.
    kept: Kept,
    /// Until when nothing of the program runs, and the watchdog bites.
    stopped_until_ns: Option<u64>,
    /// It is in its boot mode.
    boot_drive: Option<BootDrive>,
    look_at_drive_ns: u64,
    asked: Decoder<MAX_REQUEST_FRAME>,
    asked_channels: Channels,
    asked_rate_hz: u16,
    keep_alives: u64,
    /// What the light was asked to say before a stream. Wait: the operator keeps the gauge free for the whole of it.
    /// Hold: somebody puts it on the check standard. Otherwise it is clamped in the spindle.
    told: Signal,
    /// What the light shows.
    shown: Signal,
    plane: Option<PlaneWorld>,
    planes_begun: u64,
    reads_end_face: bool,
    streaming: bool,
    light: bool,
    poll_due_ns: u64,
}

impl SimulatedGauge {
    /// Switches a gauge on.
    pub fn new(setup: Setup) -> Self {
        let (clock, misuses) = (Clock::default(), Misuses::default());
        let rig = LoadCellRig::new(setup.seed, setup.faults, setup.habits);
        rig.build(&setup.build);
        let adc = Ads1220::new(
            setup.seed,
            clock.clone(),
            misuses.clone(),
            Box::new(rig.clone()),
        );
        let mut flash = FlashChip::new(clock.clone(), misuses.clone());
        write_records(&mut flash, &setup);
        let button = ButtonPin::default();
        let wired = Wired {
            rig: &rig,
            adc: &adc,
            flash: &flash,
            button: &button,
        };
        let mut kept = Kept::EMPTY;
        let firmware = start(&setup, &wired, &mut kept, ResetCause::PowerOn, 0);
        Self {
            indicator: Indicator::new(setup.seed),
            probe: Encoder::new(PROBE_NM_PER_COUNT, 0.0),
            setup,
            clock,
            misuses,
            rig,
            adc,
            flash,
            firmware,
            button,
            mark: false,
            kept,
            stopped_until_ns: None,
            boot_drive: None,
            look_at_drive_ns: 0,
            asked: Decoder::new(),
            asked_channels: Channels::default(),
            asked_rate_hz: 0,
            keep_alives: 0,
            told: Signal::Off,
            shown: Signal::Off,
            plane: None,
            planes_begun: 0,
            reads_end_face: false,
            streaming: false,
            light: false,
            poll_due_ns: 0,
        }
    }

    /// Virtual time since the gauge was switched on.
    pub fn now_us(&self) -> u64 {
        self.clock.now_ns() / 1_000
    }

    /// Bytes from the host; returns how many the gauge had room for. Time has to pass before it takes more.
    pub fn write(&mut self, bytes: &[u8]) -> usize {
        // Nobody is there to hear it, nor to say that it came.
        if self.stopped_until_ns.is_some() {
            return bytes.len();
        }
        let taken = self.firmware.gauge.receive(bytes);
        for byte in &bytes[..taken] {
            if let Some(Received::Message { message, .. }) = self.asked.push_from_host(*byte) {
                let ToGauge::Request(Request { command, .. }) = message;
                match command {
                    Command::Start { channels, rate_hz } => {
                        self.asked_channels = channels;
                        self.asked_rate_hz = rate_hz;
                    }
                    Command::KeepAlive => self.keep_alives += 1,
                    Command::Show(signal) if !self.streaming => self.told = signal,
                    _ => {}
                }
            }
        }
        taken
    }

    /// Bytes for the host that are ready now; returns how many.
    pub fn read(&mut self, buffer: &mut [u8]) -> usize {
        if self.stopped_until_ns.is_some() {
            return 0;
        }
        self.firmware.gauge.transmit(buffer)
    }

    /// Whether bytes for the host are waiting.
    pub fn has_bytes(&self) -> bool {
        self.stopped_until_ns.is_none() && !self.firmware.gauge.next_bytes().is_empty()
    }

    /// Lets time pass whether somebody reads or not: what finds no room is dropped, as by the real gauge.
    pub fn advance_us(&mut self, us: u64) {
        let until_ns = self.clock.now_ns() + us * 1_000;
        self.pass_until(until_ns, |_| false);
    }

    /// Lets time pass until there are bytes to read, at most `limit_us`; `true` if there are. Whoever reads after
    /// every call loses nothing.
    pub fn advance_to_bytes(&mut self, limit_us: u64) -> bool {
        let until_ns = self.clock.now_ns() + limit_us * 1_000;
        self.pass_until(until_ns, Self::has_bytes);
        self.has_bytes()
    }

    /// A host opens the port: what an old connection left half said is forgotten.
    pub fn on_connect(&mut self) {
        self.firmware.gauge.on_connect();
        self.asked.restart();
    }

    /// The gauge restarts on the same flash, as after a watchdog's bite; what it had not sent is gone.
    pub fn reset(&mut self, cause: ResetCause) {
        let raw_us = self.raw_us();
        let wired = Wired {
            rig: &self.rig,
            adc: &self.adc,
            flash: &self.flash,
            button: &self.button,
        };
        self.firmware = start(&self.setup, &wired, &mut self.kept, cause, raw_us);
        self.stopped_until_ns = None;
        self.asked.restart();
        self.notice_stream();
    }

    /// Keep-alives heard since it was switched on.
    pub fn keep_alives(&self) -> u64 {
        self.keep_alives
    }

    /// The rate it was last asked for; 0 before.
    pub fn asked_rate_hz(&self) -> u16 {
        self.asked_rate_hz
    }

    /// Whether it streams.
    pub fn is_streaming(&self) -> bool {
        self.streaming
    }

    /// Whether its light is on at this moment.
    pub fn light(&self) -> bool {
        self.light
    }

    /// Forbidden accesses to chips so far. A healthy firmware leaves this empty.
    pub fn misuses(&self) -> Vec<Misuse> {
        self.misuses.list()
    }

    /// For tests: the clamps of the running or last stream that have ended, as they truly were.
    pub fn true_clamps(&self) -> Vec<TrueClamp> {
        self.rig.truth()
    }

    /// For tests: how far the drawbar pushes the shank out after so many clamps, mm.
    pub fn true_push_out_mm(&self, clamps: u64) -> Option<f64> {
        self.rig.stop_mm(clamps)
    }

    /// For tests: the plane being measured, or measured last.
    pub fn plane(&self) -> Option<&PlaneWorld> {
        self.plane.as_ref()
    }

    /// Chooses what the next stream with a displacement channel looks at; later ones go on in the setup's list.
    pub fn set_next_plane(&mut self, plane: PlaneSetup) {
        let place = usize::try_from(self.planes_begun).unwrap_or(usize::MAX);
        if place < self.setup.planes.len() {
            self.setup.planes[place] = plane;
        } else {
            self.setup.planes.push(plane);
        }
    }

    /// A wire of the load cell breaks, or is mended.
    pub fn break_wire(&mut self, wire: Option<Wire>) {
        self.rig.break_wire(wire);
    }

    /// Adds to the bridge's signal, as a gross overload would.
    pub fn overload(&mut self, extra_mv_per_v: f64) {
        self.rig.overload(extra_mv_per_v);
    }

    /// The converter falls silent, or comes back.
    pub fn silence_adc(&mut self, silent: bool) {
        self.adc.fall_silent(silent);
    }

    /// For tests: the gauge's flash.
    pub fn flash(&self) -> &FlashChip {
        &self.flash
    }

    fn pass_until(&mut self, until_ns: u64, enough: impl Fn(&Self) -> bool) {
        loop {
            let due_ns = self.next_due_ns();
            if due_ns > until_ns {
                self.clock.move_to(until_ns);
                return;
            }
            self.clock.move_to(due_ns);
            self.happen(due_ns);
            if enough(self) {
                return;
            }
        }
    }

    fn next_due_ns(&self) -> u64 {
        let adc_ns = self.adc.ready_ns().unwrap_or(u64::MAX);
        let indicator_ns = self.indicator.due_ns().unwrap_or(u64::MAX);
        self.poll_due_ns.min(adc_ns).min(indicator_ns)
    }

    fn happen(&mut self, now_ns: u64) {
        if self.adc.ready_ns() == Some(now_ns) {
            self.data_ready();
        } else if self.indicator.due_ns() == Some(now_ns) {
            self.indicator_bit(now_ns);
        } else {
            self.poll_due_ns = now_ns + POLL_NS;
            self.poll();
        }
    }

    /// The data-ready interrupt, and the task that reads the chip.
    fn data_ready(&mut self) {
        self.adc.finish();
        self.move_probe();
        if self.stopped_until_ns.is_none() {
            self.firmware.edges.on_data_ready(self.raw_us());
            self.firmware.converter.serve();
        }
    }

    fn indicator_bit(&mut self, now_ns: u64) {
        let plunger_um = self.plunger_um(now_ns);
        if let Some(bit) = self.indicator.act(plunger_um) {
            self.firmware
                .edges
                .on_indicator_clock(bit.data, self.raw_us());
        }
    }

    /// The program stops where it is told to; `true` while nothing of it runs.
    fn is_stopped(&mut self) -> bool {
        let now_ns = self.clock.now_ns();
        self.look_at_drive(now_ns);
        let now_us = self.now_us();
        if let Some(&(_, cause)) = self
            .setup
            .stops
            .first()
            .filter(|(at_us, _)| *at_us <= now_us)
        {
            self.setup.stops.remove(0);
            let trail = match cause {
                StopCause::Panic | StopCause::Fault => STOPS_AT.into_iter().collect(),
                StopCause::MainLoop | StopCause::Converter => Trail::new(),
            };
            // A loop that hangs notes nothing; that it does not come round is all there is to know.
            if cause != StopCause::MainLoop {
                self.kept.stop(cause, trail);
            }
            self.stopped_until_ns = Some(now_ns + WATCHDOG_NS);
        }
        if self
            .stopped_until_ns
            .is_some_and(|until_ns| now_ns >= until_ns)
        {
            self.reset(ResetCause::Watchdog);
        }
        self.stopped_until_ns.is_some()
    }

    /// The program goes, and the drive comes.
    fn enter_boot_mode(&mut self) {
        let Some(folder) = self.setup.drive.clone() else {
            self.misuses
                .note(self.clock.now_ns(), "left for a boot mode there is not");
            return;
        };
        self.kept = Kept::EMPTY;
        self.stopped_until_ns = Some(u64::MAX);
        self.boot_drive = BootDrive::appear(folder).ok();
    }

    /// A whole file there, and the gauge starts with the image it brings.
    fn look_at_drive(&mut self, now_ns: u64) {
        let Some(drive) = &self.boot_drive else {
            return;
        };
        if now_ns < self.look_at_drive_ns {
            return;
        }
        self.look_at_drive_ns = now_ns + LOOK_AT_DRIVE_NS;
        if let Some(image) = drive.taken() {
            self.setup.build.image = image;
            self.boot_drive = None;
            self.reset(ResetCause::Requested);
        }
    }

    fn poll(&mut self) {
        if self.is_stopped() {
            return;
        }
        self.move_probe();
        self.move_contact();
        let raw_us = self.raw_us();
        self.firmware.edges.tick(raw_us);
        if let Some(press) = self.firmware.button.look(raw_us) {
            self.firmware.edges.on_press(press);
        }
        let written = self.flash.writes();
        let polled = self.firmware.gauge.poll(raw_us);
        if polled.run_converter {
            self.firmware.converter.serve();
        }
        self.kept
            .alive(self.firmware.gauge.now_us(), polled.feed_watchdog);
        if polled.enter_boot_mode {
            self.enter_boot_mode();
        }
        self.light = polled.light;
        self.notice_light();
        self.indicator
            .look(polled.request_indicator, self.clock.now_ns());
        if self.streaming && self.flash.writes() != written {
            self.misuses
                .note(self.clock.now_ns(), "flash: written while streaming");
        }
        self.notice_stream();
    }

    /// The operator sees the light from the last sample on: where in between a request fell changes nothing for him.
    fn notice_light(&mut self) {
        let shown = self.firmware.gauge.signal();
        if shown == self.shown {
            return;
        }
        self.shown = shown;
        if !self.streaming {
            return;
        }
        let at_s = self.adc.measured_s();
        self.rig.show(shown, at_s);
        if let Some(plane) = &mut self.plane {
            plane.light_shows(shown, at_s);
        }
    }

    /// When a stream begins, so does its world. The truth of the last one stays until then.
    fn notice_stream(&mut self) {
        let streaming = self.firmware.gauge.is_streaming();
        if streaming == self.streaming {
            return;
        }
        self.streaming = streaming;
        self.adc.measure(streaming);
        if !streaming {
            return;
        }
        self.plane = None;
        if let Some(hands) = &self.setup.hands {
            self.rig.lay_aside();
            self.rig.go_to_press(hands.clone());
            return;
        }
        let Channels {
            force,
            displacement,
            indicator,
            ..
        } = self.asked_channels;
        let reads_length = displacement || indicator;
        // Force and length together, the light dark or as a grip check has it: the end face of a gauge that is clamped.
        self.reads_end_face = force && reads_length && self.setup.end_face;
        if reads_length && !self.reads_end_face {
            self.rig.lay_aside();
            self.set_down_on_next_plane();
            return;
        }
        match self.told {
            Signal::Wait => self.rig.lay_aside(),
            Signal::Hold => self.rig.go_to_standard(self.setup.standard_n),
            _ => self.rig.begin_clamping(self.reads_end_face),
        }
    }

    fn set_down_on_next_plane(&mut self) {
        let Some(mut plane) = self.setup.plane_world(self.planes_begun) else {
            return;
        };
        // Lifted off first: where the plunger comes from must not depend on what was measured before.
        self.turn_probe_to(0.0);
        plane.light_shows(self.shown, 0.0);
        self.plane = Some(plane);
        self.planes_begun += 1;
        self.move_probe();
    }

    /// Seconds since the first sample of the stream began; 0 before it.
    fn stream_s(&self, now_ns: u64) -> f64 {
        self.adc
            .zero_ns()
            .map_or(0.0, |zero_ns| now_ns.saturating_sub(zero_ns) as f64 * 1e-9)
    }

    fn plunger_um(&mut self, now_ns: u64) -> f64 {
        let at_s = self.stream_s(now_ns);
        if self.reads_end_face {
            return self.end_face_um(at_s);
        }
        let blocks_um = self.setup.hands.as_ref().map_or(0.0, Hands::height_um);
        self.plane
            .as_mut()
            .map_or(blocks_um, |plane| plane.plunger_um(at_s))
    }

    /// The tip stands below the gauge: it goes in as the gauge comes out.
    fn end_face_um(&self, at_s: f64) -> f64 {
        1_000.0 * self.rig.end_face_mm(at_s).unwrap_or(0.0)
    }

    /// Moves probe and mark to where the plane is now, edge by edge.
    fn move_probe(&mut self) {
        let now_ns = self.clock.now_ns();
        let at_s = self.stream_s(now_ns);
        if self.reads_end_face {
            let end_face_um = self.end_face_um(at_s);
            self.turn_probe_to(end_face_um);
            return;
        }
        let Some(plane) = &mut self.plane else {
            if let Some(hands) = &self.setup.hands {
                let height_um = hands.height_um();
                self.turn_probe_to(height_um);
            }
            return;
        };
        let (plunger_um, mark) = (plane.plunger_um(at_s), plane.mark(at_s));
        self.turn_probe_to(plunger_um);
        if mark != self.mark {
            self.mark = mark;
            self.firmware.edges.on_mark_edge(mark, self.raw_us());
        }
    }

    /// A finger that is still on the button when a plane ends is taken off.
    fn move_contact(&mut self) {
        let at_s = self.stream_s(self.clock.now_ns());
        let plane = self.plane.as_mut().filter(|_| self.streaming);
        let closed = plane.is_some_and(|plane| plane.contact(at_s));
        self.button.set_closed(closed);
    }

    fn turn_probe_to(&mut self, plunger_um: f64) {
        while let Some((a, b)) = self.probe.step_towards(plunger_um) {
            self.firmware.edges.on_ab_edge(a, b);
        }
    }

    /// The board's timer: 32 bits of microseconds.
    #[expect(clippy::cast_possible_truncation, reason = "the timer wraps")]
    fn raw_us(&self) -> u32 {
        self.now_us() as u32
    }
}

/// Writes what was in the flash before this start.
fn write_records(flash: &mut FlashChip, setup: &Setup) {
    for record in &setup.calibrations {
        let made_on = setup.made_on.clone();
        let payload = match made_on.filter(|_| record.channel == Channel::Force) {
            None => calibration_store::payload_of(record),
            Some(made_on) => calibration_store::payload_of_bound(&BoundRecord {
                record: record.clone(),
                made_on,
            }),
        };
        if let Some(payload) = payload {
            let _ =
                store::save_waiting(flash, calibration_store::record_of(record.channel), payload);
        }
    }
    if let Some(payload) = overloads_of(&setup.overloads) {
        let _ = store::save_waiting(flash, Record::Overloads, payload);
    }
    if setup.boots_before > 0 {
        let payload = Payload::from_slice(&setup.boots_before.to_le_bytes()).unwrap_or_default();
        let _ = store::save_waiting(flash, Record::BootNumber, payload);
    }
}

/// The history as the firmware itself would have kept it.
fn overloads_of(earlier: &[Overload]) -> Option<Payload> {
    let mut overloads = Overloads::default();
    overloads.set_limits(Some((0, 0)));
    for overload in earlier {
        overloads.watch(overload.boot, overload.at_us, overload.peak_counts);
        overloads.finish();
    }
    overloads.take_unsaved()
}

/// What the firmware is wired to.
struct Wired<'w> {
    rig: &'w LoadCellRig,
    adc: &'w Ads1220,
    flash: &'w FlashChip,
    button: &'w ButtonPin,
}

fn start(
    setup: &Setup,
    wired: &Wired<'_>,
    kept: &mut Kept,
    cause: ResetCause,
    raw_us: u32,
) -> Firmware {
    // On a board the queues are a static. Here they live as long as the process: some kilobytes a gauge.
    let queues: &'static mut Queues = Box::leak(Box::new(Queues::new()));
    let (edge_ends, converter_ends, gauge_ends) = queues.split();
    let chip = Bridge::new(
        wired.adc.clone(),
        wired.rig.shunt_pin(),
        setup.build.wiring(),
    );
    let hardware = setup.build.hardware();
    let fitting = Fitting {
        serial: String::try_from(setup.serial).unwrap_or_default(),
        channels: setup.fitted,
        probe_nm_per_count: PROBE_NM_PER_COUNT,
        shunt: true,
        hardware: Hardware {
            converter: hardware.converter.filter(|_| setup.fitted.force),
            ..hardware
        },
        boot_mode: setup.drive.is_some(),
        rates_hz: &holdtrue_firmware::ads1220::RATES_HZ,
    };
    let room: Box<DequeView<u8>> = Box::new(Deque::<u8, OUTBOX_BYTES>::new());
    let mut gauge = Gauge::new(
        gauge_ends,
        wired.flash.clone(),
        room,
        fitting,
        cause,
        raw_us,
    );
    gauge.note_stop(kept.take(cause));
    kept.begin(gauge.boot());
    Firmware {
        edges: Edges::new(edge_ends),
        converter: Converter::new(converter_ends, chip),
        button: Button::new(wired.button.clone()),
        gauge,
    }
}
