//! In: the pull in the knob, the temperatures around the gauge, time. Out: bridge signal in mV/V.
//!
//! A four-arm bridge with what real ones have: a zero of its own, a slope a little off its certificate, curvature,
//! creep under load, and a zero that moves while heat flows through the body.

use crate::condition::Faults;
use crate::random::{Range, Stream, Topic, range};

/// Rated load of the gauge's cell.
pub const RATED_N: f64 = 25_000.0;
/// Signal at rated load by the cell's label, mV/V.
pub const RATED_MV_PER_V: f64 = 2.0;

/// Slope against the certificate: a standard deviation, as a share.
const SLOPE_DEVIATION: f64 = 0.0012;
/// Curvature at rated load, as a share of it.
const CURVATURE: Range = range(-0.0004, 0.0004);
/// Zero of the bridge, newton.
const ZERO_N: Range = range(-320.0, 320.0);
/// Creep: share of the load, two time constants.
const CREEP: [(Range, f64); 2] = [
    (range(-0.0002, 0.0002), 1.5),
    (range(-0.0004, 0.0004), 25.0),
];
/// Zero with the body's temperature, and with the heat that flows through it: a dummy shank without the symmetry of a
/// good load cell moves by 0.1 to 0.2 % of its rated load for a kelvin between skin and core.
const ZERO_N_PER_K: Range = range(-2.0, 2.0);
const GRADIENT_N_PER_K: Range = range(20.0, 45.0);
/// Slope with temperature.
const SLOPE_PER_K: Range = range(-0.0001, 0.0001);
/// Spindle warmer than the gauge: at rest on one table, and a cold gauge in a spindle that has run.
const EQUALISED_K: Range = range(0.0, 1.5);
const FROM_A_COLD_CAR_K: Range = range(14.0, 24.0);
/// Time constants: shank while it is held, core behind it, everything in free air.
const HELD_S: Range = range(50.0, 110.0);
const CORE_S: Range = range(150.0, 320.0);
const AIR_S: f64 = 1_200.0;

/// Load cell and the body around it.
#[derive(Clone, Debug)]
pub struct LoadCell {
    slope: f64,
    curvature: f64,
    zero_n: f64,
    creep: [Creep; 2],
    zero_n_per_k: f64,
    gradient_n_per_k: f64,
    slope_per_k: f64,
    spindle_warmer_k: f64,
    held_s: f64,
    core_s: f64,
    skin_k: f64,
    core_k: f64,
}

#[derive(Clone, Copy, Debug)]
struct Creep {
    share: f64,
    constant_s: f64,
    crept_n: f64,
}

impl LoadCell {
    /// The gauge of a visit.
    pub fn new(seed: u64, faults: &Faults) -> Self {
        let mut draw = Stream::new(seed, Topic::LoadCell, 0);
        let equalised = draw.within(EQUALISED_K);
        let cold = draw.within(FROM_A_COLD_CAR_K);
        let gradient = draw.within(GRADIENT_N_PER_K);
        let sign = if draw.happens(0.5) { 1.0 } else { -1.0 };
        Self {
            slope: 1.0 + SLOPE_DEVIATION * draw.normal(),
            curvature: draw.within(CURVATURE),
            zero_n: draw.within(ZERO_N),
            creep: CREEP.map(|(range, constant_s)| Creep {
                share: draw.within(range),
                constant_s,
                crept_n: 0.0,
            }),
            zero_n_per_k: draw.within(ZERO_N_PER_K),
            gradient_n_per_k: sign * gradient,
            slope_per_k: draw.within(SLOPE_PER_K),
            spindle_warmer_k: equalised + faults.gauge_warming.share() * cold,
            held_s: draw.within(HELD_S),
            core_s: draw.within(CORE_S),
            skin_k: 0.0,
            core_k: 0.0,
        }
    }

    /// Lets `step_s` pass with this pull, held in the warm taper or free in the air.
    pub fn pass(&mut self, step_s: f64, pull_n: f64, in_taper: bool) {
        for creep in &mut self.creep {
            creep.crept_n += (creep.share * pull_n - creep.crept_n) * step_s / creep.constant_s;
        }
        if in_taper {
            self.skin_k += (self.spindle_warmer_k - self.skin_k) * step_s / self.held_s;
        } else {
            self.skin_k -= self.skin_k * step_s / AIR_S;
        }
        self.core_k += (self.skin_k - self.core_k) * step_s / self.core_s;
    }

    /// Bridge signal for a pull and what the cell feels of its being off the axis (a share of the pull).
    pub fn signal_mv_per_v(&self, pull_n: f64, off_axis: f64) -> f64 {
        let felt_n = pull_n * (1.0 + off_axis);
        let bent = 1.0 + self.curvature * felt_n / RATED_N;
        let crept_n: f64 = self.creep.iter().map(|creep| creep.crept_n).sum();
        let slope = self.slope * (1.0 + self.slope_per_k * self.core_k);
        let read_n = slope * felt_n * bent + crept_n + self.zero_now_n();
        read_n * RATED_MV_PER_V / RATED_N
    }

    /// Where the zero is now, newton.
    pub fn zero_now_n(&self) -> f64 {
        self.zero_n
            + self.zero_n_per_k * self.core_k
            + self.gradient_n_per_k * (self.skin_k - self.core_k)
    }

    /// Temperature of the gauge above where it began, kelvin.
    pub fn warmed_k(&self) -> f64 {
        self.core_k
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::Severity;

    #[test]
    fn rated_load_gives_about_the_label_s_signal() {
        for seed in 0..100 {
            let cell = LoadCell::new(seed, &Faults::default());
            let span = cell.signal_mv_per_v(RATED_N, 0.0) - cell.signal_mv_per_v(0.0, 0.0);
            assert!(
                (span / RATED_MV_PER_V - 1.0).abs() < 0.01,
                "seed {seed}: {span}"
            );
        }
    }

    #[test]
    fn a_cold_gauge_in_a_warm_spindle_loses_its_zero_and_an_equalised_one_keeps_it() {
        let moved = |seed, faults: &Faults| {
            let mut cell = LoadCell::new(seed, faults);
            let before = cell.zero_now_n();
            (0..40_000).for_each(|step| cell.pass(0.001, 10_000.0, step % 8_000 < 5_000));
            (cell.zero_now_n() - before).abs()
        };
        let cold = Faults {
            gauge_warming: Severity::CLEAR,
            ..Faults::default()
        };
        for seed in 0..50 {
            assert!(
                moved(seed, &cold) > 15.0,
                "seed {seed}: {}",
                moved(seed, &cold)
            );
            assert!(moved(seed, &Faults::default()) < 30.0);
        }
    }

    #[test]
    fn creep_is_small_and_returns() {
        for seed in 0..50 {
            let mut cell = LoadCell::new(seed, &Faults::default());
            let fresh = cell.signal_mv_per_v(10_000.0, 0.0);
            (0..30_000).for_each(|_| cell.pass(0.001, 10_000.0, false));
            let crept = cell.signal_mv_per_v(10_000.0, 0.0) - fresh;
            assert!(crept.abs() / fresh.abs() < 0.001, "seed {seed}: {crept}");
        }
    }
}
