//! In: what the bridge feels, which wires are broken, whether the shunt is on. Out: volts at the converter's inputs.
//!
//! Wired as the hardware notes draw it: supply and its return on AIN0 and AIN3 (the return through the chip's switch),
//! signal on AIN1 and AIN2.

use std::convert::Infallible;
use std::sync::{Arc, Mutex, PoisonError};

use embedded_hal::digital::{ErrorType, OutputPin};

use crate::chips::ads1220::{Drive, Inputs, Window};
use crate::condition::Faults;
use crate::operator::clamping::ClampHabits;
use crate::world::force::{ForceWorld, TrueClamp};

/// Arm of the bridge and the resistor that can be switched across one of them, ohm.
const ARM_OHM: f64 = 350.0;
const SHUNT_OHM: f64 = 100_000.0;
/// Burn-out current, ampere.
const BURN_OUT_A: f64 = 10e-6;
/// Room the electronics sit in.
const ROOM_C: f64 = 22.0;

/// A wire of the load cell's cable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wire {
    /// Positive supply.
    Supply,
    /// Positive signal.
    SignalPlus,
    /// Negative signal.
    SignalMinus,
}

/// Load cell, cable and shunt.
#[derive(Debug)]
struct Rig {
    seed: u64,
    faults: Faults,
    habits: ClampHabits,
    at_rest_mv_per_v: f64,
    world: Option<ForceWorld>,
    broken: Option<Wire>,
    extra_mv_per_v: f64,
    shunt: bool,
}

/// The rig, shared between the converter and the bench around it.
#[derive(Clone, Debug)]
pub struct LoadCellRig {
    rig: Arc<Mutex<Rig>>,
}

impl LoadCellRig {
    /// A gauge held free.
    pub fn new(seed: u64, faults: Faults, habits: ClampHabits) -> Self {
        let at_rest = ForceWorld::new(seed, &faults, habits).mean_signal_mv_per_v(0.0, 0.0);
        let rig = Rig {
            seed,
            faults,
            habits,
            at_rest_mv_per_v: at_rest,
            world: None,
            broken: None,
            extra_mv_per_v: 0.0,
            shunt: false,
        };
        Self {
            rig: Arc::new(Mutex::new(rig)),
        }
    }

    /// The operator goes to the machine and begins to clamp.
    pub fn begin_clamping(&self) {
        self.with(|rig| rig.world = Some(ForceWorld::new(rig.seed, &rig.faults, rig.habits)));
    }

    /// The gauge is laid aside.
    pub fn lay_aside(&self) {
        self.with(|rig| rig.world = None);
    }

    /// The clamps of the running or last stream that have ended, as they truly were.
    pub fn truth(&self) -> Vec<TrueClamp> {
        self.with(|rig| {
            rig.world
                .as_ref()
                .map(ForceWorld::truth)
                .unwrap_or_default()
        })
    }

    /// A wire breaks, or is mended.
    pub fn break_wire(&self, wire: Option<Wire>) {
        self.with(|rig| rig.broken = wire);
    }

    /// Adds a signal, as a gross overload would: 8 mV/V is past the converter's end.
    pub fn overload(&self, extra_mv_per_v: f64) {
        self.with(|rig| rig.extra_mv_per_v = extra_mv_per_v);
    }

    /// The pin that switches the shunt.
    pub fn shunt_pin(&self) -> ShuntPin {
        ShuntPin(self.clone())
    }

    fn with<T>(&self, work: impl FnOnce(&mut Rig) -> T) -> T {
        work(&mut self.rig.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Rig {
    fn signal_mv_per_v(&mut self, window: Option<Window>) -> f64 {
        let felt = match (window, &mut self.world) {
            (Some(window), Some(world)) => world.mean_signal_mv_per_v(window.from_s, window.to_s),
            _ => self.at_rest_mv_per_v,
        };
        // A resistor across one arm R of four: R / (4 Rs + 2 R) of the supply.
        let shunted = if self.shunt {
            1e3 * ARM_OHM / (4.0 * SHUNT_OHM + 2.0 * ARM_OHM)
        } else {
            0.0
        };
        felt + shunted + self.extra_mv_per_v
    }
}

impl Inputs for LoadCellRig {
    fn mean_volts(&mut self, window: Option<Window>, drive: Drive) -> [f64; 4] {
        self.with(|rig| {
            let signal_mv_per_v = rig.signal_mv_per_v(window);
            bridge_volts(signal_mv_per_v, drive, rig.broken)
        })
    }

    fn temperature_c(&mut self) -> f64 {
        self.with(|rig| ROOM_C + rig.world.as_ref().map_or(0.0, ForceWorld::warmed_k))
    }
}

fn bridge_volts(signal_mv_per_v: f64, drive: Drive, broken: Option<Wire>) -> [f64; 4] {
    let supply_v = drive.supply_v;
    // With the switch open nothing flows, and the whole bridge floats up to the supply.
    let return_v = if drive.switch_closed { 0.0 } else { supply_v };
    let supplied_v = if broken == Some(Wire::Supply) {
        0.0
    } else {
        supply_v - return_v
    };
    let middle_v = return_v + supplied_v / 2.0;
    let burn_out_v = if drive.burn_out {
        BURN_OUT_A * ARM_OHM
    } else {
        0.0
    };
    let half_v = 0.5 * (signal_mv_per_v * 1e-3 * supplied_v + burn_out_v);
    // An open signal wire drifts to a rail; the burn-out currents pull it there at once.
    let plus_v = if broken == Some(Wire::SignalPlus) {
        supply_v
    } else {
        middle_v + half_v
    };
    let minus_v = if broken == Some(Wire::SignalMinus) {
        0.0
    } else {
        middle_v - half_v
    };
    [supply_v, plus_v, minus_v, return_v]
}

/// The pin that switches the shunt resistor, high = on.
#[derive(Clone, Debug)]
pub struct ShuntPin(LoadCellRig);

impl ErrorType for ShuntPin {
    type Error = Infallible;
}

impl OutputPin for ShuntPin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.with(|rig| rig.shunt = false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.with(|rig| rig.shunt = true);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MEASURING: Drive = Drive {
        supply_v: 3.3,
        switch_closed: true,
        burn_out: false,
    };

    #[test]
    fn a_whole_bridge_sits_at_half_the_supply() {
        let volts = bridge_volts(2.0, MEASURING, None);
        assert!(
            (volts[1] - volts[2] - 0.0066).abs() < 1e-12,
            "2 mV/V of 3.3 V"
        );
        assert!((0.5 * (volts[1] + volts[2]) - 1.65).abs() < 1e-12);
    }

    #[test]
    fn broken_wires_go_where_wires_go() {
        let plus = bridge_volts(0.0, MEASURING, Some(Wire::SignalPlus));
        assert!(plus[1] - plus[2] > 1.0);
        let minus = bridge_volts(0.0, MEASURING, Some(Wire::SignalMinus));
        assert!(minus[1] - minus[2] > 1.0);
        let supply = bridge_volts(2.0, MEASURING, Some(Wire::Supply));
        assert!(
            supply[1].abs() < 0.01,
            "both signal wires fall to the return"
        );
    }
}
