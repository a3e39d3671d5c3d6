//! In: SPI bytes as a driver sends them, the voltages at the inputs. Out: conversions on the chip's own oscillator,
//! a data-ready edge for each, bytes as the chip answers, and a note of every forbidden access.
//! After the data sheet SBAS501 (from-memory).

mod exchange;
#[cfg(test)]
mod tests;

use std::sync::{Arc, Mutex, PoisonError};

use embedded_hal::spi::{ErrorKind, ErrorType, Operation, SpiDevice};

use super::clock::Clock;
use super::registers::{self, Connected, Reference, Setting};
use exchange::Exchange;

use super::Misuses;
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
    /// How long the conversion takes.
    pub lasts_s: f64,
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

    /// How far its clock is off, as a share.
    pub fn clock_error(&self) -> f64 {
        self.with(|chip| chip.oscillator - 1.0)
    }

    /// From now on conversions are samples of a stream; `false`: the gauge is idle again.
    pub fn measure(&self, streaming: bool) {
        self.with(|chip| chip.measured = streaming.then(Measured::default));
    }

    /// When the first conversion of the running stream began.
    pub fn zero_ns(&self) -> Option<u64> {
        self.with(|chip| chip.measured?.zero_ns)
    }

    /// When the last finished conversion of the running stream was ready, seconds since the first one began; 0 before.
    pub fn measured_s(&self) -> f64 {
        self.with(|chip| chip.measured.map_or(0.0, |measured| measured.to_s))
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
    fn misuse(&self, what: impl std::fmt::Display) {
        self.misuses
            .note(self.clock.now_ns(), format!("ADS1220: {what}"));
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
            lasts_s: 1.0 / self.rate_hz(),
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
            exchange::silence(operations);
            return;
        }
        if self.clock.now_ns() < self.left_alone_until_ns {
            self.misuse("spoken to within 50 µs + 32 clocks of a reset");
        }
        Exchange::begin(self).run(operations);
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
