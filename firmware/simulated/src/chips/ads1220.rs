//! In: SPI bytes as a driver sends them, the voltages at the inputs. Out: conversions on the chip's own oscillator,
//! a data-ready edge for each, bytes as the chip answers, and a note of every forbidden access.
//! After the data sheet SBAS501 (from-memory).

use std::sync::{Arc, Mutex, PoisonError};

use embedded_hal::spi::{ErrorKind, ErrorType, Operation, SpiDevice};

use super::clock::Clock;
use super::registers::{self, Connected, Reference, Setting};
use super::{Misuse, Misuses};
use crate::random::{Stream, Topic, range};

/// Counts at positive full scale plus one.
const FULL_SCALE: f64 = 8_388_608.0;
/// The internal reference.
const INTERNAL_V: f64 = 2.048;
/// After a reset the chip is left alone: 50 µs + 32 periods of its 4.096 MHz clock.
const RESET_NS: u64 = 57_813;
/// Own oscillator against its label.
const OSCILLATOR: f64 = 0.02;
/// Temperature sensor: 14 bits, left-justified in 24, 0.03125 °C each.
const SENSOR_STEP_C: f64 = 0.03125;

/// What is connected to the four inputs.
pub trait Inputs: Send {
    /// Mean voltages at AIN0 … AIN3 against ground over one conversion; without a window the gauge is idle and
    /// nothing moves.
    fn mean_volts(&mut self, window: Option<Window>, drive: Drive) -> [f64; 4];

    /// Temperature of the chip over the same conversion, degrees Celsius.
    fn temperature_c(&mut self) -> f64;
}

/// When a conversion of a stream took place: seconds since the stream's first conversion began.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// It began.
    pub from_s: f64,
    /// It was ready.
    pub to_s: f64,
}

/// What the chip itself does to its inputs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// Analogue supply.
    pub supply_v: f64,
    /// The switch from AIN3 to ground is closed.
    pub switch_closed: bool,
    /// Burn-out currents flow into the positive and out of the negative input.
    pub burn_out: bool,
}

struct Chip {
    clock: Clock,
    misuses: Misuses,
    inputs: Box<dyn Inputs>,
    seed: u64,
    registers: [u8; 4],
    setting: Setting,
    supply_v: f64,
    offset_v: f64,
    oscillator: f64,
    run: Option<Run>,
    measured: Option<Measured>,
    idle_noise: Stream,
    latest: i32,
    fresh: bool,
    silent: bool,
    left_alone_until_ns: u64,
}

/// Converting since a start command.
#[derive(Clone, Copy, Debug)]
struct Run {
    start_ns: u64,
    done: u64,
}

/// A stream that is being taken: its time counts from the beginning of its first conversion, so that sample `n` is
/// the same moment of the world whenever the host happened to say start.
#[derive(Clone, Copy, Debug, Default)]
struct Measured {
    zero_ns: Option<u64>,
    to_s: f64,
}

impl Measured {
    fn window(&mut self, now_ns: u64, period_ns: u64) -> Window {
        let zero_ns = *self.zero_ns.get_or_insert(now_ns.saturating_sub(period_ns));
        let from_s = self.to_s;
        self.to_s = (now_ns - zero_ns) as f64 * 1e-9;
        Window {
            from_s,
            to_s: self.to_s,
        }
    }
}

/// The chip, shared between the firmware's bus and the bench around it.
#[derive(Clone)]
pub struct Ads1220 {
    chip: Arc<Mutex<Chip>>,
}

impl Ads1220 {
    /// A chip fresh from power-up, with this world at its inputs.
    pub fn new(seed: u64, clock: Clock, misuses: Misuses, inputs: Box<dyn Inputs>) -> Self {
        let mut draw = Stream::new(seed, Topic::Converter, 0);
        let registers = [0; 4];
        let chip = Chip {
            clock,
            misuses,
            inputs,
            seed,
            registers,
            setting: registers::read(registers).0,
            supply_v: 3.3 * (1.0 + 0.004 * draw.normal()),
            offset_v: draw.within(range(-4e-6, 4e-6)),
            oscillator: 1.0 + draw.within(range(-OSCILLATOR, OSCILLATOR)),
            run: None,
            measured: None,
            idle_noise: Stream::new(seed, Topic::Idle, 0),
            latest: 0,
            fresh: false,
            silent: false,
            left_alone_until_ns: 0,
        };
        Self {
            chip: Arc::new(Mutex::new(chip)),
        }
    }

    /// When the conversion now running will be ready.
    pub fn ready_ns(&self) -> Option<u64> {
        self.with(|chip| {
            if chip.silent {
                None
            } else {
                chip.ready_ns(chip.run?.done)
            }
        })
    }

    /// Finishes the conversion that is due now: data-ready falls.
    pub fn finish(&self) {
        self.with(Chip::finish);
    }

    /// Level of the data-ready pin.
    pub fn data_ready_is_low(&self) -> bool {
        self.with(|chip| chip.fresh)
    }

    /// True conversions per second of this chip at its setting; the label's rate times its oscillator's error.
    pub fn true_rate_hz(&self) -> f64 {
        self.with(|chip| chip.rate_hz())
    }

    /// From now on conversions are samples of a stream; `false`: the gauge is idle again.
    pub fn measure(&self, streaming: bool) {
        self.with(|chip| chip.measured = streaming.then(Measured::default));
    }

    /// When the first conversion of the running stream began.
    pub fn zero_ns(&self) -> Option<u64> {
        self.with(|chip| chip.measured?.zero_ns)
    }

    /// The chip dies: data-ready stays high and the bus reads ones. `false` brings it back, still converting.
    pub fn fall_silent(&self, silent: bool) {
        self.with(|chip| chip.silent = silent);
    }

    fn with<T>(&self, work: impl FnOnce(&mut Chip) -> T) -> T {
        work(&mut self.chip.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Chip {
    fn misuse(&self, what: impl Into<String>) {
        let Misuse { at_ns, what } = Misuse {
            at_ns: self.clock.now_ns(),
            what: what.into(),
        };
        self.misuses.note(at_ns, format!("ADS1220: {what}"));
    }

    fn ready_ns(&self, conversion: u64) -> Option<u64> {
        let run = self.run?;
        Some(run.start_ns + whole_ns((conversion + 1) as f64 * 1e9 / self.rate_hz()))
    }

    fn finish(&mut self) {
        let Some(run) = self.run else { return };
        let now_ns = self.clock.now_ns();
        let period_ns = whole_ns(1e9 / self.rate_hz());
        let window = self
            .measured
            .as_mut()
            .map(|measured| measured.window(now_ns, period_ns));
        self.latest = self.convert(window);
        self.fresh = true;
        self.run = self.setting.continuous.then_some(Run {
            done: run.done + 1,
            ..run
        });
    }

    fn rate_hz(&self) -> f64 {
        self.setting.rate_hz * self.oscillator
    }

    fn convert(&mut self, window: Option<Window>) -> i32 {
        let drive = Drive {
            supply_v: self.supply_v,
            switch_closed: self.setting.low_side_switch,
            burn_out: self.setting.burn_out,
        };
        let volts = self.inputs.mean_volts(window, drive);
        if self.setting.connected == Connected::Temperature {
            return self.sensor_counts();
        }
        let reference_v = match self.setting.reference {
            Reference::Internal => INTERNAL_V,
            Reference::Ain0Ain3 => volts[0] - volts[3],
            // Nothing is wired to the dedicated reference pins.
            Reference::Dedicated => 0.0,
            Reference::Supply => self.supply_v,
        };
        let input_v = match self.setting.connected {
            Connected::Inputs(positive, negative) => volts[positive] - volts[negative],
            Connected::Single(input) => volts[input],
            Connected::ReferenceQuarter => (volts[0] - volts[3]) / 4.0,
            Connected::SupplyQuarter => self.supply_v / 4.0,
            Connected::Shorted | Connected::Temperature => 0.0,
        };
        let noise_v = self.noise_v(window);
        counts((input_v + self.offset_v + noise_v) * self.setting.gain / reference_v * FULL_SCALE)
    }

    /// Noise referred to the input. At gain 128 about 0.1 µV at 20/s rising with the root of the rate to 0.6 µV at
    /// 1000/s; at gain 1 some forty times that (noise tables of the data sheet, from-memory).
    fn noise_v(&mut self, window: Option<Window>) -> f64 {
        let amplifier_v = 0.09e-6 * (self.setting.rate_hz / 20.0).sqrt();
        let modulator_v = 3.7e-6 * (self.setting.rate_hz / 20.0).sqrt() / self.setting.gain;
        let normal = match window {
            Some(window) => {
                let number = whole_ns(window.to_s * self.rate_hz());
                Stream::new(self.seed, Topic::Conversion, number).normal()
            }
            None => self.idle_noise.normal(),
        };
        libm::hypot(amplifier_v, modulator_v) * normal
    }

    fn sensor_counts(&mut self) -> i32 {
        let steps = self.inputs.temperature_c() / SENSOR_STEP_C;
        counts(steps.round() * 1_024.0)
    }

    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) {
        if self.silent {
            silence(operations);
            return;
        }
        if self.clock.now_ns() < self.left_alone_until_ns {
            self.misuse("spoken to within 50 µs + 32 clocks of a reset");
        }
        let mut exchange = Exchange {
            chip: self,
            state: State::Command,
        };
        for operation in operations {
            match operation {
                Operation::Read(bytes) => {
                    bytes.iter_mut().for_each(|byte| *byte = exchange.byte(0))
                }
                Operation::Write(bytes) => bytes.iter().for_each(|byte| {
                    exchange.byte(*byte);
                }),
                Operation::Transfer(read, write) => {
                    for place in 0..read.len().max(write.len()) {
                        let answer = exchange.byte(write.get(place).copied().unwrap_or(0));
                        if let Some(byte) = read.get_mut(place) {
                            *byte = answer;
                        }
                    }
                }
                Operation::TransferInPlace(bytes) => {
                    bytes
                        .iter_mut()
                        .for_each(|byte| *byte = exchange.byte(*byte));
                }
                Operation::DelayNs(_) => {}
            }
        }
        exchange.end();
    }

    fn reset(&mut self) {
        self.registers = [0; 4];
        self.setting = registers::read(self.registers).0;
        self.run = None;
        self.fresh = false;
        self.left_alone_until_ns = self.clock.now_ns() + RESET_NS;
    }

    fn start(&mut self) {
        self.fresh = false;
        self.run = Some(Run {
            start_ns: self.clock.now_ns(),
            done: 0,
        });
    }

    fn configured(&mut self) {
        let (setting, forbidden) = registers::read(self.registers);
        for what in forbidden {
            self.misuse(what);
        }
        self.setting = setting;
        // Writing a register restarts a running conversion with the new setting.
        if self.run.is_some() {
            self.run = Some(Run {
                start_ns: self.clock.now_ns(),
                done: 0,
            });
        }
    }
}

/// One pull of chip-select low, byte by byte.
struct Exchange<'c> {
    chip: &'c mut Chip,
    state: State,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Command,
    Writing { register: usize, left: usize },
    Reading { register: usize, left: usize },
    Data { bytes: [u8; 3], place: usize },
    Done,
}

impl Exchange<'_> {
    fn byte(&mut self, sent: u8) -> u8 {
        match self.state {
            State::Command | State::Done => {
                self.command(sent);
                0
            }
            State::Writing { register, left } => {
                self.chip.registers[register] = sent;
                self.state = if left > 1 {
                    State::Writing {
                        register: register + 1,
                        left: left - 1,
                    }
                } else {
                    self.chip.configured();
                    State::Done
                };
                0
            }
            State::Reading { register, left } => {
                self.state = if left > 1 {
                    State::Reading {
                        register: register + 1,
                        left: left - 1,
                    }
                } else {
                    State::Done
                };
                self.chip.registers[register]
            }
            State::Data { bytes, place } => {
                self.state = if place < 2 {
                    State::Data {
                        bytes,
                        place: place + 1,
                    }
                } else {
                    State::Done
                };
                bytes[place]
            }
        }
    }

    fn command(&mut self, sent: u8) {
        self.state = State::Done;
        let (register, count) = (
            usize::from((sent >> 2) & 0b11),
            usize::from(sent & 0b11) + 1,
        );
        match sent {
            0b0000_0110 | 0b0000_0111 => self.chip.reset(),
            0b0000_1000 | 0b0000_1001 => self.chip.start(),
            0b0000_0010 | 0b0000_0011 => {
                self.chip.run = None;
                self.chip.fresh = false;
            }
            0b0001_0000..=0b0001_1111 => self.read_data(),
            0b0010_0000..=0b0010_1111 if register + count <= 4 => {
                self.state = State::Reading {
                    register,
                    left: count,
                };
            }
            0b0100_0000..=0b0100_1111 if register + count <= 4 => {
                self.state = State::Writing {
                    register,
                    left: count,
                };
            }
            0b0010_0000..=0b0010_1111 | 0b0100_0000..=0b0100_1111 => {
                self.chip
                    .misuse(format!("command {sent:#04x} goes past register 3"));
            }
            0x00 | 0xff => self
                .chip
                .misuse("bytes clocked without a command while no reading was under way"),
            other => self.chip.misuse(format!("{other:#04x} is no command")),
        }
    }

    fn read_data(&mut self) {
        if !self.chip.fresh {
            self.chip
                .misuse("data read while data-ready was high: the old value again");
        }
        self.chip.fresh = false;
        let [_, high, middle, low] = self.chip.latest.to_be_bytes();
        self.state = State::Data {
            bytes: [high, middle, low],
            place: 0,
        };
    }

    /// Chip-select goes high.
    fn end(self) {
        match self.state {
            State::Writing { left, .. } => {
                self.chip
                    .misuse(format!("register write cut short, {left} bytes missing"));
            }
            State::Reading { left, .. } => {
                self.chip
                    .misuse(format!("register read cut short, {left} bytes missing"));
            }
            State::Data { .. } => self
                .chip
                .misuse("conversion read cut short of its three bytes"),
            State::Command | State::Done => {}
        }
    }
}

fn silence(operations: &mut [Operation<'_, u8>]) {
    for operation in operations {
        match operation {
            Operation::Read(bytes)
            | Operation::Transfer(bytes, _)
            | Operation::TransferInPlace(bytes) => bytes.fill(0xff),
            Operation::Write(_) | Operation::DelayNs(_) => {}
        }
    }
}

/// Counts of 24 bits, clipped as the chip clips.
#[expect(clippy::cast_possible_truncation, reason = "clipped to 24 bits before")]
fn counts(exact: f64) -> i32 {
    if exact.is_nan() {
        0
    } else {
        exact.round().clamp(-FULL_SCALE, FULL_SCALE - 1.0) as i32
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a positive time far below 2⁵³ ns (104 days)"
)]
fn whole_ns(ns: f64) -> u64 {
    ns.round() as u64
}

/// The bus as the firmware sees it.
impl ErrorType for Ads1220 {
    type Error = ErrorKind;
}

impl SpiDevice for Ads1220 {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        self.with(|chip| chip.transaction(operations));
        Ok(())
    }
}

/// The data-ready pin as a firmware that polls it sees it.
#[derive(Clone)]
pub struct DataReady(pub Ads1220);

impl embedded_hal::digital::ErrorType for DataReady {
    type Error = std::convert::Infallible;
}

impl embedded_hal::digital::InputPin for DataReady {
    fn is_high(&mut self) -> Result<bool, Self::Error> {
        Ok(!self.0.data_ready_is_low())
    }

    fn is_low(&mut self) -> Result<bool, Self::Error> {
        Ok(self.0.data_ready_is_low())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 mV between AIN1 and AIN2 on a supply of 3.3 V.
    struct OneMillivolt;

    impl Inputs for OneMillivolt {
        fn mean_volts(&mut self, _: Option<Window>, drive: Drive) -> [f64; 4] {
            [drive.supply_v, 1.6505, 1.6495, 0.0]
        }

        fn temperature_c(&mut self) -> f64 {
            -0.25
        }
    }

    struct Bench {
        chip: Ads1220,
        clock: Clock,
        misuses: Misuses,
    }

    impl Bench {
        fn new() -> Self {
            let (clock, misuses) = (Clock::default(), Misuses::default());
            let chip = Ads1220::new(1, clock.clone(), misuses.clone(), Box::new(OneMillivolt));
            Self {
                chip,
                clock,
                misuses,
            }
        }

        fn measure(&mut self, registers: [u8; 4]) -> i32 {
            let [r0, r1, r2, r3] = registers;
            self.chip.write(&[0x43, r0, r1, r2, r3]).unwrap();
            self.chip.write(&[0x08]).unwrap();
            self.clock.move_to(self.chip.ready_ns().unwrap());
            self.chip.finish();
            self.read()
        }

        fn read(&mut self) -> i32 {
            let mut bytes = [0x10, 0, 0, 0];
            self.chip.transfer_in_place(&mut bytes).unwrap();
            i32::from_be_bytes([bytes[1], bytes[2], bytes[3], 0]) >> 8
        }

        fn noted(&self) -> Vec<String> {
            self.misuses
                .list()
                .into_iter()
                .map(|misuse| misuse.what)
                .collect()
        }
    }

    /// AIN1-AIN2, gain 128, 330/s continuous, reference AIN0/AIN3, switch closed.
    const BRIDGE: [u8; 4] = [0b0011_1110, 0b1000_0100, 0b1000_1000, 0];

    #[test]
    fn a_millivolt_reads_as_its_share_of_full_scale() {
        let mut bench = Bench::new();
        let counts = f64::from(bench.measure(BRIDGE));
        // 1 mV · 128 / 3.3 V · 2²³ = 325 376; offset and supply move it by some tenths of a percent.
        assert!((counts / 325_376.0 - 1.0).abs() < 0.02, "{counts}");
        assert_eq!(bench.noted(), Vec::<String>::new());
    }

    #[test]
    fn temperature_is_left_justified_and_signed() {
        let mut bench = Bench::new();
        let counts = bench.measure([0, 0b0000_0110, 0, 0]);
        // -0.25 °C is 3FF8 in 14 bits (data sheet, table of temperature codes, from-memory).
        assert_eq!(counts >> 10, -8);
    }

    #[test]
    fn registers_read_back_as_written() {
        let mut bench = Bench::new();
        bench.measure(BRIDGE);
        let mut bytes = [0; 4];
        let mut steps = [Operation::Write(&[0x23]), Operation::Read(&mut bytes)];
        bench.chip.transaction(&mut steps).unwrap();
        assert_eq!(bytes, BRIDGE);
    }

    #[test]
    fn its_own_oscillator_is_up_to_2_percent_off_and_not_always_right() {
        let rates: Vec<f64> = (0..200)
            .map(|seed| {
                let mut chip = Ads1220::new(
                    seed,
                    Clock::default(),
                    Misuses::default(),
                    Box::new(OneMillivolt),
                );
                chip.write(&[0x43, BRIDGE[0], BRIDGE[1], BRIDGE[2], BRIDGE[3]])
                    .unwrap();
                chip.true_rate_hz()
            })
            .collect();
        assert!(rates.iter().all(|rate| (rate / 330.0 - 1.0).abs() <= 0.02));
        assert!(rates.iter().any(|rate| *rate < 325.0) && rates.iter().any(|rate| *rate > 335.0));
    }

    #[test]
    fn reading_twice_is_noted() {
        let mut bench = Bench::new();
        bench.measure(BRIDGE);
        bench.read();
        assert!(
            bench.noted()[0].contains("data-ready was high"),
            "{:?}",
            bench.noted()
        );
    }

    #[test]
    fn a_write_of_the_wrong_length_is_noted() {
        let mut bench = Bench::new();
        bench.chip.write(&[0x43, 0x3e, 0x84]).unwrap();
        assert!(
            bench.noted()[0].contains("2 bytes missing"),
            "{:?}",
            bench.noted()
        );
        let mut bench = Bench::new();
        bench.chip.write(&[0x40, 0x3e, 0x84]).unwrap();
        assert!(
            bench.noted()[0].contains("no command"),
            "{:?}",
            bench.noted()
        );
        let mut bench = Bench::new();
        bench.chip.write(&[0x4f, 0, 0, 0, 0]).unwrap();
        assert!(
            bench.noted()[0].contains("past register 3"),
            "{:?}",
            bench.noted()
        );
    }

    #[test]
    fn reserved_bits_and_haste_after_a_reset_are_noted() {
        let mut bench = Bench::new();
        bench.chip.write(&[0x4c, 0x01]).unwrap();
        assert!(bench.noted()[0].contains("reserved"), "{:?}", bench.noted());
        let mut bench = Bench::new();
        bench.chip.write(&[0x06]).unwrap();
        bench.clock.move_to(50_000);
        bench.chip.write(&[0x08]).unwrap();
        assert!(bench.noted()[0].contains("reset"), "{:?}", bench.noted());
    }

    #[test]
    fn a_silent_chip_reads_as_ones_and_never_gets_ready() {
        let mut bench = Bench::new();
        bench.measure(BRIDGE);
        bench.chip.fall_silent(true);
        assert_eq!(bench.chip.ready_ns(), None);
        assert_eq!(bench.read(), -1);
    }
}
