//! What a simulated gauge is built from: gain of the image, board, load cell, how its wires are joined.
//!
//! Out: what the firmware says of it, what a laboratory would have bound a calibration to, and what the bridge gives.

use holdtrue_firmware::ads1220::Gain;
use holdtrue_firmware::bridge::Wiring;
use holdtrue_protocol::message::{Binding, Hardware};

use crate::world::load_cell::RATED_MV_PER_V;

/// Counts at the end of a 24-bit converter's range.
const FULL_SCALE: f64 = 8_388_608.0;

/// A load cell on its cable, with the resistor that is spliced to its own negative signal wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// Arm of the bridge, ohm.
    pub arm_ohm: f64,
    /// The resistor that is switched across one of them, ohm.
    pub shunt_ohm: f64,
    /// Signal at rated load, mV/V.
    pub rated_mv_per_v: f64,
}

impl Cell {
    /// By its label.
    pub const USUAL: Self = Self {
        arm_ohm: 350.0,
        shunt_ohm: 100_000.0,
        rated_mv_per_v: RATED_MV_PER_V,
    };

    /// A resistor across one arm R of four: R / (4 Rs + 2 R) of the supply, mV/V.
    pub fn shunt_mv_per_v(&self) -> f64 {
        1e3 * self.arm_ohm / (4.0 * self.shunt_ohm + 2.0 * self.arm_ohm)
    }
}

/// What a gauge is built from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Build {
    /// Which image runs: the sum of its program.
    pub image: u32,
    /// Gain the image reads the bridge with.
    pub gain: Gain,
    /// Number of the board.
    pub board: [u8; 8],
    /// Load cell.
    pub cell: Cell,
    /// Its signal wires change places between cable and converter.
    pub exchanged: bool,
}

impl Build {
    /// As the drawings have it.
    pub const USUAL: Self = Self {
        image: 0x7e57_0001,
        gain: Gain::X128,
        board: *b"TP-B-031",
        cell: Cell::USUAL,
        exchanged: false,
    };

    /// How the image takes the bridge to be wired.
    pub fn wiring(&self) -> Wiring {
        Wiring {
            gain: self.gain,
            ..Wiring::FOUR_WIRE
        }
    }

    /// What the gauge says of itself.
    pub fn hardware(&self) -> Hardware {
        Hardware {
            build: self.image,
            converter: Some(self.wiring().converter(self.board)),
        }
    }

    /// What a calibration made on it is bound to.
    #[expect(clippy::cast_possible_truncation, reason = "a part of full scale")]
    pub fn binding(&self) -> Binding {
        let sign = if self.exchanged { -1.0 } else { 1.0 };
        let step = sign * self.counts_per_mv_per_v() * self.cell.shunt_mv_per_v();
        Binding {
            converter: self.wiring().converter(self.board),
            shunt_step: Some(step.round() as i32),
        }
    }

    /// Counts of a bridge signal.
    pub fn counts_per_mv_per_v(&self) -> f64 {
        1e-3 * f64::from(1_u8 << self.gain as u8) * FULL_SCALE
    }
}
