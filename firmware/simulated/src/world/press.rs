//! In: what somebody outside sets a press to, or puts under the plunger, and the time from the first sample. Out: the bridge
//! signal, the plunger's height.
//!
//! Unlike every other world this one follows hands that are not simulated: who sets it decides what is measured.

use std::sync::{Arc, Mutex, PoisonError};

use crate::condition::Faults;
use crate::world::load_cell::LoadCell;

/// How fast the press follows its valve, s.
const FOLLOWS_S: f64 = 0.12;
/// Share of the highest load of a cycle that the bridge gives back late while unloading.
const LAGS: f64 = 0.0002;
/// Mains picked up by the bridge leads.
const HUM_N: f64 = 1.5;
const MAINS_HZ: f64 = 50.0;
/// How fast a press sways that is not held still.
const SWAYS_HZ: f64 = 1.3;

/// A press with a reference cell, and gauge blocks for the plunger; all copies are the same hands.
#[derive(Clone, Debug, Default)]
pub struct Hands(Arc<Mutex<Set>>);

#[derive(Clone, Copy, Debug, Default)]
struct Set {
    load_n: f64,
    sway_n: f64,
    height_um: f64,
}

impl Hands {
    /// Sets the press to a load.
    pub fn load(&self, load_n: f64) {
        self.with(|set| set.load_n = load_n);
    }

    /// Lets the load sway by so much to both sides; 0 holds it still.
    pub fn sway(&self, sway_n: f64) {
        self.with(|set| set.sway_n = sway_n);
    }

    /// Puts blocks of this height under the plunger.
    pub fn blocks(&self, height_um: f64) {
        self.with(|set| set.height_um = height_um);
    }

    /// Height of the blocks, µm.
    pub fn height_um(&self) -> f64 {
        self.with(|set| set.height_um)
    }

    fn load_n(&self, at_s: f64) -> f64 {
        let Set { load_n, sway_n, .. } = self.with(|set| *set);
        let turns = SWAYS_HZ * at_s;
        load_n + sway_n * libm::sin(std::f64::consts::TAU * (turns - turns.floor()))
    }

    fn with<T>(&self, work: impl FnOnce(&mut Set) -> T) -> T {
        work(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// Gauge and press.
#[derive(Clone, Debug)]
pub struct PressWorld {
    cell: LoadCell,
    hands: Hands,
    pull_n: f64,
    highest_n: f64,
    now_s: f64,
}

impl PressWorld {
    /// The world of a seed, at its first sample.
    pub fn new(seed: u64, faults: &Faults, hands: Hands) -> Self {
        Self {
            cell: LoadCell::new(seed, faults),
            hands,
            pull_n: 0.0,
            highest_n: 0.0,
            now_s: 0.0,
        }
    }

    /// Mean bridge signal from `from_s` to `to_s`, mV/V. Time only goes forward.
    pub fn mean_signal_mv_per_v(&mut self, from_s: f64, to_s: f64) -> f64 {
        let step_s = (to_s - self.now_s).max(0.0);
        let wanted_n = self.hands.load_n(to_s);
        self.pull_n += (wanted_n - self.pull_n) * (1.0 - libm::exp(-step_s / FOLLOWS_S));
        self.highest_n = if self.pull_n < 1.0 {
            0.0
        } else {
            self.highest_n.max(self.pull_n)
        };
        self.cell.pass(step_s, self.pull_n, false);
        self.now_s = to_s.max(self.now_s);
        let turns = MAINS_HZ * 0.5 * (from_s + to_s);
        let hum_n = HUM_N * libm::sin(std::f64::consts::TAU * (turns - turns.floor()));
        let late_n = LAGS * (self.highest_n - self.pull_n).min(self.pull_n);
        self.cell.signal_mv_per_v(self.pull_n + late_n + hum_n, 0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::load_cell::{RATED_MV_PER_V, RATED_N};

    #[test]
    fn the_cell_feels_what_the_press_is_set_to() {
        let hands = Hands::default();
        let mut world = PressWorld::new(5, &Faults::default(), hands.clone());
        let mut felt_n = |from_s: f64, load_n: f64| {
            hands.load(load_n);
            let mut last = 0.0;
            for step in 0..3_000 {
                let at_s = from_s + f64::from(step) * 1e-3;
                last = world.mean_signal_mv_per_v(at_s, at_s + 1e-3);
            }
            last * RATED_N / RATED_MV_PER_V
        };
        let free = felt_n(0.0, 0.0);
        let up = felt_n(3.0, 10_000.0) - free;
        let top = felt_n(6.0, 20_000.0) - free;
        let down = felt_n(9.0, 10_000.0) - free;
        assert!((up / 10_000.0 - 1.0).abs() < 0.006, "{up}");
        assert!((top / 20_000.0 - 1.0).abs() < 0.006, "{top}");
        assert!(down > up && (down - up) < 20.0, "{up} {down}");
    }
}
