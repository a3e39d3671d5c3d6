//! In: what the bridge feels, which wires are broken, whether the shunt is on. Out: volts at the converter's inputs.
//!
//! Wired as the hardware notes draw it: supply and its return on AIN0 and AIN3 (the return through the chip's switch),
//! signal on AIN1 and AIN2.

use std::convert::Infallible;
use std::sync::{Arc, Mutex, PoisonError};

use embedded_hal::digital::{ErrorType, OutputPin};
use holdtrue_protocol::message::Signal;

use crate::build::{Build, Cell};
use crate::chips::ads1220::{Drive, Inputs, Window};
use crate::condition::Faults;
use crate::operator::clamping::ClampHabits;
use crate::world::force::{ForceWorld, TrueClamp};
use crate::world::press::{Hands, PressWorld};
use crate::world::standard::StandardWorld;

/// Arm of the usual bridge, ohm: what the burn-out current sees.
const ARM_OHM: f64 = Cell::USUAL.arm_ohm;
/// Burn-out current, ampere.
const BURN_OUT_A: f64 = 10e-6;
/// Filter capacitors at a signal wire: the one across and its own to ground, farad. The burn-out current has to move
/// them before an open wire shows.
const AT_A_WIRE_F: f64 = 11e-9;
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
    cell: Cell,
    exchanged: bool,
    at_rest_mv_per_v: f64,
    world: Option<ForceWorld>,
    standard: Option<StandardWorld>,
    press: Option<PressWorld>,
    broken: Option<Wire>,
    /// How far the burn-out current has taken an open signal wire from where it floated to.
    moved_v: f64,
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
            cell: Cell::USUAL,
            exchanged: false,
            at_rest_mv_per_v: at_rest,
            world: None,
            standard: None,
            press: None,
            broken: None,
            moved_v: 0.0,
            extra_mv_per_v: 0.0,
            shunt: false,
        };
        Self {
            rig: Arc::new(Mutex::new(rig)),
        }
    }

    /// Builds another cell in, or joins its wires otherwise.
    pub fn build(&self, build: &Build) {
        self.with(|rig| (rig.cell, rig.exchanged) = (build.cell, build.exchanged));
    }

    /// The operator goes to the machine and begins to clamp.
    /// `end_face`: something reads the gauge's end face, and he holds it up against the gripper for it.
    pub fn begin_clamping(&self, end_face: bool) {
        self.with(|rig| {
            let habits = ClampHabits {
                holds_up: end_face,
                ..rig.habits
            };
            rig.world = Some(ForceWorld::new(rig.seed, &rig.faults, habits));
            rig.standard = None;
        });
    }

    /// Where the gauge's end face stands, mm; none where nobody clamps.
    pub fn end_face_mm(&self, at_s: f64) -> Option<f64> {
        self.with(|rig| Some(rig.world.as_ref()?.end_face_mm(at_s)))
    }

    /// For tests: where the drawbar's stop is after so many clamps, mm.
    pub fn stop_mm(&self, clamps: u64) -> Option<f64> {
        self.with(|rig| Some(rig.world.as_ref()?.stop_mm(clamps)))
    }

    /// Somebody takes the gauge to a check standard of this force.
    pub fn go_to_standard(&self, force_n: f64) {
        self.with(|rig| {
            rig.world = None;
            rig.standard = Some(StandardWorld::new(rig.seed, &rig.faults, force_n));
        });
    }

    /// Somebody puts the gauge into a press.
    pub fn go_to_press(&self, hands: Hands) {
        self.with(|rig| {
            rig.world = None;
            rig.standard = None;
            rig.press = Some(PressWorld::new(rig.seed, &rig.faults, hands));
        });
    }

    /// The operator at the machine sees the light say something else.
    pub fn show(&self, signal: Signal, at_s: f64) {
        self.with(|rig| {
            if let Some(world) = &mut rig.world {
                world.show(signal, at_s);
            }
        });
    }

    /// The gauge is laid aside.
    pub fn lay_aside(&self) {
        self.with(|rig| {
            rig.world = None;
            rig.standard = None;
            rig.press = None;
        });
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
        let felt = match window {
            None => self.at_rest_mv_per_v,
            Some(Window { from_s, to_s }) => {
                if let Some(world) = &mut self.world {
                    world.mean_signal_mv_per_v(from_s, to_s)
                } else if let Some(standard) = &mut self.standard {
                    standard.mean_signal_mv_per_v(from_s, to_s)
                } else if let Some(press) = &mut self.press {
                    press.mean_signal_mv_per_v(from_s, to_s)
                } else {
                    self.at_rest_mv_per_v
                }
            }
        };
        let felt = felt * (self.cell.rated_mv_per_v / Cell::USUAL.rated_mv_per_v);
        let shunted = if self.shunt {
            self.cell.shunt_mv_per_v()
        } else {
            0.0
        };
        let signal = felt + shunted + self.extra_mv_per_v;
        if self.exchanged { -signal } else { signal }
    }

    /// Where the current takes an open wire in a conversion, as its mean; without the current it floats back.
    fn move_open_wire(&mut self, drive: Drive) -> f64 {
        if !drive.burn_out {
            self.moved_v = 0.0;
            return 0.0;
        }
        let before_v = self.moved_v;
        let reached_v = before_v + BURN_OUT_A / AT_A_WIRE_F * drive.lasts_s;
        self.moved_v = reached_v.min(drive.supply_v);
        0.5 * (before_v + self.moved_v)
    }
}

impl Inputs for LoadCellRig {
    fn mean_volts(&mut self, window: Option<Window>, drive: Drive) -> [f64; 4] {
        self.with(|rig| {
            let signal_mv_per_v = rig.signal_mv_per_v(window);
            let moved_v = rig.move_open_wire(drive);
            bridge_volts(signal_mv_per_v, drive, rig.broken, moved_v)
        })
    }

    fn temperature_c(&mut self) -> f64 {
        self.with(|rig| ROOM_C + rig.world.as_ref().map_or(0.0, ForceWorld::warmed_k))
    }
}

fn bridge_volts(
    signal_mv_per_v: f64,
    drive: Drive,
    broken: Option<Wire>,
    moved_v: f64,
) -> [f64; 4] {
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
    // An open signal wire floats to the rail that is far for the burn-out current.
    let plus_v = if broken == Some(Wire::SignalPlus) {
        moved_v
    } else {
        middle_v + half_v
    };
    let minus_v = if broken == Some(Wire::SignalMinus) {
        supply_v - moved_v
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
    use holdtrue_firmware::adc::Input;
    use holdtrue_firmware::gauge::TEST_HZ;
    use holdtrue_firmware::selftest::{Progress, Run};
    use holdtrue_protocol::message::SelfTest;

    use super::*;

    const MEASURING: Drive = Drive {
        supply_v: 3.3,
        switch_closed: true,
        burn_out: false,
        lasts_s: 0.001,
    };

    #[test]
    fn a_whole_bridge_sits_at_half_the_supply() {
        let volts = bridge_volts(2.0, MEASURING, None, 0.0);
        assert!(
            (volts[1] - volts[2] - 0.0066).abs() < 1e-12,
            "2 mV/V of 3.3 V"
        );
        assert!((0.5 * (volts[1] + volts[2]) - 1.65).abs() < 1e-12);
    }

    #[test]
    fn broken_wires_go_where_wires_go() {
        for wire in [Wire::SignalPlus, Wire::SignalMinus] {
            let floating = bridge_volts(0.0, MEASURING, Some(wire), 0.0);
            assert!(floating[1] - floating[2] < -1.0, "the far rail");
            let pulled = bridge_volts(0.0, MEASURING, Some(wire), 3.3);
            assert!(pulled[1] - pulled[2] > 1.0, "where the current pulls it");
        }
        let supply = bridge_volts(2.0, MEASURING, Some(Wire::Supply), 0.0);
        assert!(
            supply[1].abs() < 0.01,
            "both signal wires fall to the return"
        );
    }

    /// What the gauge's look for open wires says at this rate.
    fn finds_open(broken: Option<Wire>, rate_hz: u16) -> bool {
        let mut rig = LoadCellRig::new(1, Faults::default(), ClampHabits::default());
        rig.break_wire(broken);
        let mut run = Run::new(SelfTest::OpenBridge, 0);
        loop {
            let looks_at = run.setup(rate_hz).input;
            let drive = Drive {
                burn_out: looks_at == Input::Leads,
                lasts_s: 1.0 / f64::from(rate_hz),
                ..MEASURING
            };
            let volts = rig.mean_volts(None, drive);
            let input_v = match looks_at {
                Input::Leads => volts[1] - volts[2],
                _ => volts[1],
            };
            #[expect(clippy::cast_possible_truncation, reason = "within full scale")]
            run.take(
                (input_v / MEASURING.supply_v * f64::from(1 << 23)) as i32,
                0,
            );
            if let Progress::Done(result) = run.progress(0) {
                return result.open;
            }
        }
    }

    /// 11 nF take 2.3 ms to come from the far rail; the positive wire shows in the common mode as well.
    #[test]
    fn an_open_wire_is_found_from_the_far_rail_at_the_rate_of_the_look_and_not_at_twice_that() {
        for wire in [Wire::SignalPlus, Wire::SignalMinus, Wire::Supply] {
            assert!(finds_open(Some(wire), TEST_HZ), "{wire:?}");
        }
        assert!(!finds_open(None, TEST_HZ));
        assert!(!finds_open(Some(Wire::SignalMinus), 2 * TEST_HZ));
    }
}
