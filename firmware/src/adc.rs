//! What the gauge asks of its bridge converter: a [`Setup`] goes in, signed counts come out.
//!
//! The converter runs on its own and tells by its data-ready line; nothing here ever waits.

use core::sync::atomic::{AtomicU32, Ordering};

/// What the converter measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// The load cell's signal at the measuring gain.
    Bridge,
    /// Both inputs joined inside the chip, at the measuring gain.
    Shorted,
    /// The load cell's signal at the lowest gain with the burn-out currents on: full scale where a signal wire is open.
    Leads,
    /// One signal wire against ground, full scale = supply: half scale on a whole bridge, an end where a supply
    /// wire is open.
    CommonMode,
    /// The analogue supply.
    Supply,
    /// The chip's temperature.
    Temperature,
}

/// How the converter is to run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Setup {
    /// What it measures.
    pub input: Input,
    /// Nominal samples per second: one of the converter's own.
    pub rate_hz: u16,
    /// Whether the shunt resistor is switched across its bridge arm.
    pub shunt: bool,
}

/// A bridge converter with a data-ready line.
pub trait Adc {
    /// Why it did not obey or answer.
    type Error: core::fmt::Debug;
    /// Highest counts it can give.
    const MAX_COUNTS: i32;
    /// Lowest counts it can give.
    const MIN_COUNTS: i32;

    /// Brings the chip to its state at power-up. It needs [`RESET_US`] before the next access.
    ///
    /// # Errors
    ///
    /// The bus failed.
    fn reset(&mut self) -> Result<(), Self::Error>;

    /// Sets it up, reads the setting back, and lets it run.
    ///
    /// # Errors
    ///
    /// The bus failed, the chip has no such setting, or read back something else.
    fn configure(&mut self, setup: &Setup) -> Result<(), Self::Error>;

    /// Reads the newest conversion.
    ///
    /// # Errors
    ///
    /// The bus failed.
    fn read(&mut self) -> Result<i32, Self::Error>;

    /// Supply in millivolts from a reading of [`Input::Supply`].
    fn supply_mv(counts: i32) -> i32;

    /// Thousandths of a degree Celsius from a reading of [`Input::Temperature`].
    fn temperature_mc(counts: i32) -> i32;
}

/// How long a converter is left alone after [`Adc::reset`], microseconds.
pub const RESET_US: u64 = 1_000;

/// For a gauge without a load cell: the board's timer stands in for data-ready, the counts are 0.
#[derive(Clone, Copy, Debug)]
pub struct NoAdc<'t> {
    period_us: &'t AtomicU32,
}

impl<'t> NoAdc<'t> {
    /// The board's timer says that a sample is due each time so many microseconds have passed as stand there.
    #[must_use]
    pub const fn new(period_us: &'t AtomicU32) -> Self {
        Self { period_us }
    }
}

impl Adc for NoAdc<'_> {
    type Error = core::convert::Infallible;
    const MAX_COUNTS: i32 = i32::MAX;
    const MIN_COUNTS: i32 = i32::MIN;

    fn reset(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }

    fn configure(&mut self, setup: &Setup) -> Result<(), Self::Error> {
        let period_us = 1_000_000 / u32::from(setup.rate_hz.max(1));
        self.period_us.store(period_us, Ordering::Relaxed);
        Ok(())
    }

    fn read(&mut self) -> Result<i32, Self::Error> {
        Ok(0)
    }

    fn supply_mv(_counts: i32) -> i32 {
        0
    }

    fn temperature_mc(_counts: i32) -> i32 {
        0
    }
}
