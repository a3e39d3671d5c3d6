//! Settings go in, register bytes and signed counts come out: driver for the ADS1220, a 24-bit delta-sigma converter
//! for bridges, on SPI (mode 1) with a data-ready line.
//!
//! Section numbers are those of its data sheet, SBAS501. Nothing here waits: data-ready says when to read.

use embedded_hal::spi::{Operation, SpiDevice};

/// Highest counts (section 8.5.2).
pub const MAX_COUNTS: i32 = 0x7f_ffff;
/// Lowest counts.
pub const MIN_COUNTS: i32 = -0x80_0000;

/// Rates the chip has in normal and turbo mode, samples per second, rising (section 8.3.7). Where both modes have
/// one (90), normal is used.
pub const RATES_HZ: [u16; 13] = [
    20, 40, 45, 90, 175, 180, 330, 350, 600, 660, 1_000, 1_200, 2_000,
];

/// Commands (section 8.5.3).
mod command {
    pub const RESET: u8 = 0b0000_0110;
    pub const START_SYNC: u8 = 0b0000_1000;
    pub const READ_DATA: u8 = 0b0001_0000;
    /// Read four registers from register 0 on: `0010 rrnn`, nn = bytes − 1.
    pub const READ_REGISTERS: u8 = 0b0010_0011;
    /// Write four registers from register 0 on: `0100 rrnn`.
    pub const WRITE_REGISTERS: u8 = 0b0100_0011;
}

/// What the input multiplexer connects (register 0, MUX).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// AIN0 against AIN1.
    Ain0Ain1,
    /// AIN0 against AIN2.
    Ain0Ain2,
    /// AIN0 against AIN3.
    Ain0Ain3,
    /// AIN1 against AIN2.
    Ain1Ain2,
    /// AIN1 against AIN3.
    Ain1Ain3,
    /// AIN2 against AIN3.
    Ain2Ain3,
    /// AIN1 against AIN0.
    Ain1Ain0,
    /// AIN3 against AIN2.
    Ain3Ain2,
    /// AIN0 against AVSS.
    Ain0,
    /// AIN1 against AVSS.
    Ain1,
    /// AIN2 against AVSS.
    Ain2,
    /// AIN3 against AVSS.
    Ain3,
    /// A quarter of the external reference, on the internal one.
    ReferenceQuarter,
    /// A quarter of the analogue supply, on the internal reference.
    SupplyQuarter,
    /// Both inputs on half the supply.
    Shorted,
    /// The temperature sensor (register 1, TS); the multiplexer has no part in it.
    Temperature,
}

impl Input {
    const fn mux(self) -> u8 {
        match self {
            Self::Ain0Ain1 | Self::Temperature => 0b0000,
            Self::Ain0Ain2 => 0b0001,
            Self::Ain0Ain3 => 0b0010,
            Self::Ain1Ain2 => 0b0011,
            Self::Ain1Ain3 => 0b0100,
            Self::Ain2Ain3 => 0b0101,
            Self::Ain1Ain0 => 0b0110,
            Self::Ain3Ain2 => 0b0111,
            Self::Ain0 => 0b1000,
            Self::Ain1 => 0b1001,
            Self::Ain2 => 0b1010,
            Self::Ain3 => 0b1011,
            Self::ReferenceQuarter => 0b1100,
            Self::SupplyQuarter => 0b1101,
            Self::Shorted => 0b1110,
        }
    }

    /// The amplifier cannot work down to its ground: inputs against AVSS go past it (section 8.3.2.2).
    const fn bypasses_amplifier(self) -> bool {
        matches!(self, Self::Ain0 | Self::Ain1 | Self::Ain2 | Self::Ain3)
    }
}

/// Gain of the amplifier (register 0, GAIN).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[repr(u8)]
pub enum Gain {
    /// 1
    X1,
    /// 2
    X2,
    /// 4
    X4,
    /// 8
    X8,
    /// 16
    X16,
    /// 32
    X32,
    /// 64
    X64,
    /// 128
    X128,
}

/// Where the reference comes from (register 2, VREF).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Reference {
    /// The chip's own 2.048 V.
    Internal,
    /// REFP0 and REFN0.
    Dedicated,
    /// AIN0/REFP1 and AIN3/REFN1: a bridge's excitation, so that its supply cancels.
    Ain0Ain3,
    /// The analogue supply.
    Supply,
}

/// Mains frequencies the filter rejects (register 2, 50/60). The chip has it at 20 samples per second only.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[repr(u8)]
pub enum Mains {
    /// None.
    #[default]
    None,
    /// Both.
    Both,
    /// 50 Hz.
    Only50,
    /// 60 Hz.
    Only60,
}

/// A complete setting of the chip. It always converts continuously; its excitation currents stay off and data-ready
/// has its own pin (register 3 = 0).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Config {
    /// What it measures.
    pub input: Input,
    /// Gain; ignored by the chip where it measures itself.
    pub gain: Gain,
    /// One of [`RATES_HZ`].
    pub rate_hz: u16,
    /// Reference.
    pub reference: Reference,
    /// Mains filter, at 20 samples per second only.
    pub mains: Mains,
    /// Closes the switch from AIN3 to AVSS while converting: a bridge's supply return.
    pub low_side_switch: bool,
    /// Burn-out currents of 10 µA into and out of the inputs (section 8.3.10).
    pub burn_out: bool,
}

/// A setting the chip does not have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Forbidden {
    /// No such rate.
    Rate(u16),
    /// The mains filter works at 20 samples per second only.
    MainsFilter(u16),
    /// Past the amplifier there are gains 1, 2 and 4 only.
    Gain(Gain),
}

impl Config {
    /// The four register bytes (section 8.6).
    ///
    /// # Errors
    ///
    /// [`Forbidden`], for a setting the chip does not have.
    pub const fn registers(&self) -> Result<[u8; 4], Forbidden> {
        let (rate, turbo) = match self.rate_hz {
            20 => (0b000, false),
            45 => (0b001, false),
            90 => (0b010, false),
            175 => (0b011, false),
            330 => (0b100, false),
            600 => (0b101, false),
            1_000 => (0b110, false),
            40 => (0b000, true),
            180 => (0b010, true),
            350 => (0b011, true),
            660 => (0b100, true),
            1_200 => (0b101, true),
            2_000 => (0b110, true),
            other => return Err(Forbidden::Rate(other)),
        };
        if !matches!(self.mains, Mains::None) && self.rate_hz != 20 {
            return Err(Forbidden::MainsFilter(self.rate_hz));
        }
        let bypass = self.input.bypasses_amplifier();
        if bypass && self.gain as u8 > Gain::X4 as u8 {
            return Err(Forbidden::Gain(self.gain));
        }
        let mode = if turbo { 0b10 } else { 0b00 };
        let continuous = 1 << 2;
        let temperature = matches!(self.input, Input::Temperature) as u8;
        Ok([
            self.input.mux() << 4 | (self.gain as u8) << 1 | bypass as u8,
            rate << 5 | mode << 3 | continuous | temperature << 1 | self.burn_out as u8,
            (self.reference as u8) << 6
                | (self.mains as u8) << 4
                | (self.low_side_switch as u8) << 3,
            0,
        ])
    }
}

/// Why the chip did not obey.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Error<E> {
    /// The bus failed.
    Bus(E),
    /// A register read back other than it was written: no chip, no supply, or a bad wire.
    ReadBack {
        /// Registers 0 to 3 as written.
        wrote: [u8; 4],
        /// As read back.
        read: [u8; 4],
    },
    /// The chip has no such setting.
    Forbidden(Forbidden),
}

/// The chip on its bus.
#[derive(Debug)]
pub struct Ads1220<SPI> {
    spi: SPI,
}

impl<SPI: SpiDevice> Ads1220<SPI> {
    /// Takes the bus; touches nothing yet.
    #[must_use]
    pub const fn new(spi: SPI) -> Self {
        Self { spi }
    }

    /// Gives the bus back.
    pub fn release(self) -> SPI {
        self.spi
    }

    /// Brings it to its state at power-up. The next access must be at least 50 µs + 32 clocks (58 µs in all) later
    /// (section 8.5.3.1).
    ///
    /// # Errors
    ///
    /// The bus failed.
    pub fn reset(&mut self) -> Result<(), Error<SPI::Error>> {
        self.write(&[command::RESET])
    }

    /// Writes a setting, reads it back, and starts converting.
    ///
    /// # Errors
    ///
    /// [`Error`]; unless the setting read back as written, nothing is started.
    pub fn configure(&mut self, config: &Config) -> Result<(), Error<SPI::Error>> {
        let wrote = config.registers().map_err(Error::Forbidden)?;
        let [r0, r1, r2, r3] = wrote;
        self.write(&[command::WRITE_REGISTERS, r0, r1, r2, r3])?;
        let read = self.read_registers()?;
        if read != wrote {
            return Err(Error::ReadBack { wrote, read });
        }
        self.write(&[command::START_SYNC])
    }

    /// Registers 0 to 3.
    ///
    /// # Errors
    ///
    /// The bus failed.
    pub fn read_registers(&mut self) -> Result<[u8; 4], Error<SPI::Error>> {
        let mut registers = [0; 4];
        let mut steps = [
            Operation::Write(&[command::READ_REGISTERS]),
            Operation::Read(&mut registers),
        ];
        self.spi.transaction(&mut steps).map_err(Error::Bus)?;
        Ok(registers)
    }

    /// The newest conversion. By command, so that one finishing meanwhile cannot mix into it (section 8.5.3.4).
    ///
    /// # Errors
    ///
    /// The bus failed.
    pub fn read_data(&mut self) -> Result<i32, Error<SPI::Error>> {
        let mut bytes = [command::READ_DATA, 0, 0, 0];
        self.spi.transfer_in_place(&mut bytes).map_err(Error::Bus)?;
        let [_, high, middle, low] = bytes;
        Ok(sign_extended([high, middle, low]))
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), Error<SPI::Error>> {
        self.spi.write(bytes).map_err(Error::Bus)
    }
}

/// Two's complement of 24 bits, highest byte first (section 8.5.2).
#[must_use]
pub const fn sign_extended([high, middle, low]: [u8; 3]) -> i32 {
    i32::from_be_bytes([high, middle, low, 0]) >> 8
}

/// Analogue supply in millivolts from a reading of [`Input::SupplyQuarter`]: 4 · counts / 2²³ · 2048 mV.
#[must_use]
pub const fn supply_mv(counts: i32) -> i32 {
    counts / 1_024
}

/// Thousandths of a degree Celsius from a reading of [`Input::Temperature`]: the upper 14 bits, 0.03125 °C each
/// (section 8.3.13).
#[must_use]
pub const fn temperature_mc(counts: i32) -> i32 {
    (counts >> 10) * 125 / 4
}
