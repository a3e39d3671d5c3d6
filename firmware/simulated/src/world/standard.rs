//! In: seed, the force of a check standard, time from the first sample. Out: the bridge signal while a person puts the
//! gauge on the standard, lets it stand and takes it off again.

use crate::condition::Faults;
use crate::random::{Range, Stream, Topic, range};
use crate::world::load_cell::LoadCell;

/// Gauge free before the load goes on.
const FREE_S: Range = range(2.5, 4.0);
/// How long the load takes to go on, and off.
const MOVING_S: Range = range(0.6, 1.4);
/// How long it stays on: the screen asks for a few seconds, people give more.
const ON_S: Range = range(7.0, 9.0);
/// Mains picked up by the bridge leads.
const HUM_N: f64 = 1.5;
const MAINS_HZ: f64 = 50.0;

/// Gauge and check standard.
#[derive(Clone, Debug)]
pub struct StandardWorld {
    cell: LoadCell,
    force_n: f64,
    /// Begins to load, is loaded, begins to unload, is free; seconds from the first sample.
    times_s: [f64; 4],
    now_s: f64,
}

impl StandardWorld {
    /// The world of a seed, at its first sample.
    pub fn new(seed: u64, faults: &Faults, force_n: f64) -> Self {
        let mut draw = Stream::new(seed, Topic::Standard, 0);
        let mut at_s = 0.0;
        let times_s = [FREE_S, MOVING_S, ON_S, MOVING_S].map(|lasts| {
            at_s += draw.within(lasts);
            at_s
        });
        Self {
            cell: LoadCell::new(seed, faults),
            force_n,
            times_s,
            now_s: 0.0,
        }
    }

    /// Mean bridge signal from `from_s` to `to_s`, mV/V. Time only goes forward.
    pub fn mean_signal_mv_per_v(&mut self, from_s: f64, to_s: f64) -> f64 {
        let middle_s = 0.5 * (from_s + to_s);
        let load_n = self.load_n(middle_s);
        self.cell.pass((to_s - self.now_s).max(0.0), load_n, false);
        self.now_s = to_s.max(self.now_s);
        let turns = MAINS_HZ * middle_s;
        let hum_n = HUM_N * libm::sin(std::f64::consts::TAU * (turns - turns.floor()));
        self.cell.signal_mv_per_v(load_n + hum_n, 0.0)
    }

    fn load_n(&self, at_s: f64) -> f64 {
        let [on_s, loaded_s, off_s, free_s] = self.times_s;
        let share = |from_s: f64, to_s: f64| ((at_s - from_s) / (to_s - from_s)).clamp(0.0, 1.0);
        self.force_n * (share(on_s, loaded_s) - share(off_s, free_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::load_cell::{RATED_MV_PER_V, RATED_N};

    #[test]
    fn the_cell_feels_the_standard_and_is_free_before_and_after() {
        for seed in 0..50 {
            let mut world = StandardWorld::new(seed, &Faults::default(), 5_000.0);
            let [on_s, loaded_s, off_s, free_s] = world.times_s;
            let mut felt_n = |from_s: f64, to_s: f64| {
                let steps = 1_000;
                let at_s =
                    |step: i32| from_s + (to_s - from_s) * f64::from(step) / f64::from(steps);
                let signal = |step| world.mean_signal_mv_per_v(at_s(step), at_s(step + 1));
                let sum: f64 = (0..steps).map(signal).sum();
                sum / f64::from(steps) * RATED_N / RATED_MV_PER_V
            };
            let before = felt_n(on_s - 1.0, on_s);
            let loaded = felt_n(loaded_s, off_s) - before;
            let after = felt_n(free_s, free_s + 1.0) - before;
            assert!((loaded / 5_000.0 - 1.0).abs() < 0.006, "{seed}: {loaded}");
            assert!(after.abs() < 5.0, "{seed}: {after}");
        }
    }
}
