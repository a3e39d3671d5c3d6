//! In: the four configuration bytes of an ADS1220. Out: what they mean, and what the data sheet forbids in them.
//! Layout after the data sheet SBAS501, section 8.6 (from-memory).

/// What the multiplexer connects, or what it is overridden by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Connected {
    /// Two of the four inputs, positive first.
    Inputs(usize, usize),
    /// One input against analogue ground.
    Single(usize),
    /// A quarter of the external reference.
    ReferenceQuarter,
    /// A quarter of the analogue supply.
    SupplyQuarter,
    /// Both at half the supply.
    Shorted,
    /// The temperature sensor.
    Temperature,
}

/// Reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reference {
    /// The chip's own 2.048 V.
    Internal,
    /// Pins REFP0 and REFN0.
    Dedicated,
    /// AIN0 against AIN3.
    Ain0Ain3,
    /// Analogue supply.
    Supply,
}

/// A configuration as the chip understands it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// Input.
    pub connected: Connected,
    /// Gain, 1 to 128.
    pub gain: f64,
    /// Nominal conversions per second.
    pub rate_hz: f64,
    /// Converts on and on after one start.
    pub continuous: bool,
    /// Burn-out currents on.
    pub burn_out: bool,
    /// Reference.
    pub reference: Reference,
    /// Switch from AIN3 to ground closed while converting.
    pub low_side_switch: bool,
}

/// Rates in normal mode, by the DR bits.
const NORMAL_HZ: [f64; 7] = [20.0, 45.0, 90.0, 175.0, 330.0, 600.0, 1_000.0];
/// Rates in duty-cycle mode.
const DUTY_HZ: [f64; 7] = [5.0, 11.25, 22.5, 44.0, 82.5, 150.0, 250.0];
/// Rates in turbo mode.
const TURBO_HZ: [f64; 7] = [40.0, 90.0, 180.0, 350.0, 660.0, 1_200.0, 2_000.0];

const PAIRS: [(usize, usize); 8] = [
    (0, 1),
    (0, 2),
    (0, 3),
    (1, 2),
    (1, 3),
    (2, 3),
    (1, 0),
    (3, 2),
];

/// Reads the four registers. The list names every bit pattern the data sheet reserves or excludes; the setting is
/// what a chip would most likely do all the same.
pub fn read([r0, r1, r2, r3]: [u8; 4]) -> (Setting, Vec<String>) {
    let mut forbidden = Vec::new();
    let mut forbid = |broken: bool, what: &str| {
        if broken {
            forbidden.push(what.to_owned());
        }
    };
    let (mux, gain_bits, bypass) = (r0 >> 4, (r0 >> 1) & 0b111, r0 & 1 == 1);
    let (rate_bits, mode) = (usize::from(r1 >> 5), (r1 >> 3) & 0b11);
    let mains = (r2 >> 4) & 0b11;
    forbid(mux == 0b1111, "MUX 1111 is reserved");
    forbid(rate_bits == 7, "DR 111 is reserved");
    forbid(mode == 0b11, "MODE 11 is reserved");
    forbid(
        r3 & 1 == 1,
        "bit 0 of register 3 is reserved and must be written 0",
    );
    forbid(
        r3 >> 5 == 7 || (r3 >> 2) & 0b111 == 7,
        "IxMUX 111 is reserved",
    );
    forbid(r2 & 0b111 == 1, "IDAC 001 is reserved");
    let filtered = rate_bits == 0 && mode < 2;
    forbid(
        mains != 0 && !filtered,
        "the mains filter works at 20 samples per second only (5 in duty-cycle mode)",
    );
    let single = (0b1000..=0b1011).contains(&mux);
    forbid(
        bypass && gain_bits > 2,
        "with the amplifier bypassed the gain is 1, 2 or 4",
    );
    forbid(
        single && !bypass,
        "an input against ground is below the amplifier's range: bypass it",
    );
    let rates = match mode {
        0 => NORMAL_HZ,
        1 => DUTY_HZ,
        _ => TURBO_HZ,
    };
    let connected = if r1 & 0b10 != 0 {
        Connected::Temperature
    } else {
        connected(mux)
    };
    // The chip takes gain 1 for its own quarter measurements whatever the bits say.
    let own = matches!(
        connected,
        Connected::ReferenceQuarter | Connected::SupplyQuarter
    );
    let setting = Setting {
        connected,
        gain: if own {
            1.0
        } else {
            f64::from(1_u8 << gain_bits)
        },
        rate_hz: rates[rate_bits.min(6)],
        continuous: r1 & 0b100 != 0,
        burn_out: r1 & 1 == 1,
        reference: reference(r2 >> 6),
        low_side_switch: r2 & 0b1000 != 0,
    };
    (setting, forbidden)
}

fn connected(mux: u8) -> Connected {
    match mux {
        0..=7 => {
            let (positive, negative) = PAIRS[usize::from(mux)];
            Connected::Inputs(positive, negative)
        }
        8..=11 => Connected::Single(usize::from(mux - 8)),
        12 => Connected::ReferenceQuarter,
        13 => Connected::SupplyQuarter,
        _ => Connected::Shorted,
    }
}

fn reference(bits: u8) -> Reference {
    match bits {
        0 => Reference::Internal,
        1 => Reference::Dedicated,
        2 => Reference::Ain0Ain3,
        _ => Reference::Supply,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bridge_setting_reads_as_meant() {
        // AIN1-AIN2, gain 128; 330/s, continuous; reference AIN0/AIN3, low-side switch.
        let (setting, forbidden) = read([0b0011_1110, 0b1000_0100, 0b1000_1000, 0]);
        assert!(forbidden.is_empty(), "{forbidden:?}");
        assert_eq!(
            setting,
            Setting {
                connected: Connected::Inputs(1, 2),
                gain: 128.0,
                rate_hz: 330.0,
                continuous: true,
                burn_out: false,
                reference: Reference::Ain0Ain3,
                low_side_switch: true,
            }
        );
    }

    #[test]
    fn what_the_data_sheet_excludes_is_named() {
        for (registers, word) in [
            ([0b1111_0000, 0, 0, 0], "MUX"),
            ([0, 0b1110_0000, 0, 0], "DR"),
            ([0, 0b0001_1000, 0, 0], "MODE"),
            ([0, 0, 0, 1], "register 3"),
            ([0, 0b1000_0000, 0b0001_0000, 0], "mains"),
            ([0b1000_0000, 0, 0, 0], "below"),
            ([0b1000_1111, 0, 0, 0], "bypassed"),
            ([0, 0, 1, 0], "IDAC"),
        ] {
            let (_, forbidden) = read(registers);
            assert_eq!(forbidden.len(), 1, "{registers:?}: {forbidden:?}");
            assert!(forbidden[0].contains(word), "{forbidden:?}");
        }
    }
}
