//! How a load cell's bridge is wired to the ADS1220, and the setting for each thing the gauge measures with it.

use embedded_hal::digital::OutputPin;
use embedded_hal::spi::SpiDevice;

use holdtrue_protocol::message::Converter;

use crate::adc::{Adc, Input, Setup};
use crate::ads1220::{self, Ads1220, Config, Error, Gain, Mains, Reference};

/// Wiring of the bridge. The one of the hardware notes is [`Wiring::FOUR_WIRE`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wiring {
    /// Signal pair.
    pub signal: ads1220::Input,
    /// The signal pair's positive wire against ground.
    pub common_mode: ads1220::Input,
    /// Reference while the bridge is measured.
    pub reference: Reference,
    /// Whether the supply return goes through the chip's switch.
    pub low_side_switch: bool,
    /// Gain while the bridge is measured.
    pub gain: Gain,
}

impl Wiring {
    /// Supply and reference on AIN0 and AIN3 (switched to ground in the chip), signal on AIN1 and AIN2, gain 128:
    /// ± 25.8 mV full scale at 3.3 V for cells of 2 to 3 mV/V, with room for more than 2.5 times their rated load.
    pub const FOUR_WIRE: Self = Self {
        signal: ads1220::Input::Ain1Ain2,
        common_mode: ads1220::Input::Ain1,
        reference: Reference::Ain0Ain3,
        low_side_switch: true,
        gain: Gain::X128,
    };

    /// What the gauge says of its converter: the very gain and reference the bridge is read with.
    #[must_use]
    pub fn converter(&self, board: [u8; 8]) -> Converter {
        use holdtrue_protocol::message::Reference as Told;
        Converter {
            kind: heapless::String::try_from("ADS1220").unwrap_or_default(),
            board,
            gain: 1 << self.gain as u8,
            reference: match self.reference {
                Reference::Ain0Ain3 => Told::Bridge,
                Reference::Internal => Told::Internal,
                Reference::Dedicated => Told::External,
                Reference::Supply => Told::Supply,
            },
        }
    }

    /// The chip's setting for what the gauge wants to measure.
    #[must_use]
    pub const fn config(&self, setup: &Setup) -> Config {
        let whole = Config {
            input: self.signal,
            gain: self.gain,
            rate_hz: setup.rate_hz,
            reference: self.reference,
            mains: if setup.rate_hz == 20 {
                Mains::Both
            } else {
                Mains::None
            },
            low_side_switch: self.low_side_switch,
            burn_out: false,
        };
        match setup.input {
            Input::Bridge => whole,
            Input::Shorted => Config {
                input: ads1220::Input::Shorted,
                ..whole
            },
            Input::Leads => Config {
                gain: Gain::X1,
                reference: Reference::Supply,
                burn_out: true,
                ..whole
            },
            Input::CommonMode => Config {
                input: self.common_mode,
                gain: Gain::X1,
                reference: Reference::Supply,
                ..whole
            },
            Input::Supply => Config {
                input: ads1220::Input::SupplyQuarter,
                gain: Gain::X1,
                reference: Reference::Internal,
                ..whole
            },
            Input::Temperature => Config {
                input: ads1220::Input::Temperature,
                gain: Gain::X1,
                reference: Reference::Internal,
                ..whole
            },
        }
    }
}

/// A bridge on an ADS1220, with a pin that switches the shunt resistor (high = on).
#[derive(Debug)]
pub struct Bridge<SPI, SHUNT> {
    chip: Ads1220<SPI>,
    shunt: SHUNT,
    wiring: Wiring,
}

impl<SPI: SpiDevice, SHUNT: OutputPin> Bridge<SPI, SHUNT> {
    /// Takes bus and pin; touches nothing yet.
    #[must_use]
    pub const fn new(spi: SPI, shunt: SHUNT, wiring: Wiring) -> Self {
        Self {
            chip: Ads1220::new(spi),
            shunt,
            wiring,
        }
    }

    /// Gives bus and pin back.
    pub fn release(self) -> (SPI, SHUNT) {
        (self.chip.release(), self.shunt)
    }
}

impl<SPI: SpiDevice, SHUNT: OutputPin> Adc for Bridge<SPI, SHUNT> {
    type Error = Error<SPI::Error>;
    const MAX_COUNTS: i32 = ads1220::MAX_COUNTS;
    const MIN_COUNTS: i32 = ads1220::MIN_COUNTS;

    fn reset(&mut self) -> Result<(), Self::Error> {
        self.chip.reset()
    }

    fn configure(&mut self, setup: &Setup) -> Result<(), Self::Error> {
        // A pin of the controller itself; its error type is uninhabited on every board we know.
        let _ = self.shunt.set_state(setup.shunt.into());
        self.chip.configure(&self.wiring.config(setup))
    }

    fn read(&mut self) -> Result<i32, Self::Error> {
        self.chip.read_data()
    }

    fn supply_mv(counts: i32) -> i32 {
        ads1220::supply_mv(counts)
    }

    fn temperature_mc(counts: i32) -> i32 {
        ads1220::temperature_mc(counts)
    }
}

/// Stands in for a pin that a board does not have.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoPin;

impl embedded_hal::digital::ErrorType for NoPin {
    type Error = core::convert::Infallible;
}

impl OutputPin for NoPin {
    fn set_low(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Self::Error> {
        Ok(())
    }
}
