//! Simulated checks with a known truth, judged by the program's own functions.

pub mod allowed;
pub mod at_the_limit;
pub mod away_from_the_limit;
pub mod not_repeating;
pub mod runout;
pub mod together;
pub mod trend;

use holdtrue_metrology::decision::{Figure, Limit};
use holdtrue_metrology::grip::analyse_readings;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Gauge, GripSetup};
use holdtrue_terms::vocabulary::{Outcome, Provenance};

/// True mean force of the simulated spindle, N.
pub const TRUTH_N: f64 = 10_000.0;
/// True standard deviation from clamp to clamp, N.
pub const SIGMA_N: f64 = 100.0;

/// A stream of random numbers that depends on its seed alone (SplitMix64; normal by Box and Muller).
#[derive(Clone, Debug)]
pub struct Dice(u64);

impl Dice {
    /// A stream of its own for every row and check.
    pub fn new(row: u64, check: u64) -> Self {
        let mut dice = Self(
            row.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ check.wrapping_mul(0xd1b5_4a32_d192_ed03),
        );
        dice.bits();
        dice
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Uniform in (0, 1].
    pub fn unit(&mut self) -> f64 {
        let high = u32::try_from(self.bits() >> 32).expect("32 bits");
        let low = u32::try_from(self.bits() >> 43).expect("21 bits");
        (f64::from(high) * 2_097_152.0 + f64::from(low) + 1.0) / 9_007_199_254_740_992.0
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.unit().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
}

/// Clamps of a spindle of true mean `mean_n`, all read with the one error the gauge happens to have.
pub fn clamps(dice: &mut Dice, count: usize, mean_n: f64, gauge_n: f64) -> Vec<f64> {
    let error = gauge_n * dice.normal();
    (0..count)
        .map(|_| mean_n + SIGMA_N * dice.normal() + error)
        .collect()
}

/// The check as `grip` makes it from readings, by a gauge of standard uncertainty `gauge_n`.
pub fn checked(clamps_n: &[f64], gauge_n: f64, limit: Limit) -> GripResult {
    let gauge = Gauge {
        expanded_percent: None,
        expanded_n: Some(2.0 * gauge_n),
        ..Gauge::stated(0.0)
    };
    let setup = GripSetup {
        gauge,
        limits: vec![limit],
        ..GripSetup::default()
    };
    analyse_readings(clamps_n, &setup).expect("sound readings")
}

/// A lower limit on the mean force.
pub fn limit(limit_n: f64) -> Limit {
    Limit::on(Figure::GripMean, limit_n, Provenance::Maker)
}

/// How often each word was said.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// Within limit.
    pub accepted: u32,
    /// Outside limit.
    pub rejected: u32,
    /// Neither.
    pub undecided: u32,
}

impl Tally {
    /// Counts one.
    pub fn count(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::Accept => self.accepted += 1,
            Outcome::Reject => self.rejected += 1,
            Outcome::Undecided => self.undecided += 1,
        }
    }

    /// A count in %.
    pub fn percent(&self, count: u32) -> f64 {
        100.0 * f64::from(count) / f64::from(self.accepted + self.rejected + self.undecided)
    }
}

/// Rows computed side by side, returned in their order.
pub fn side_by_side<T: Sync, R: Send>(rows: &[T], compute: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let half = rows.len().div_ceil(2);
    let (first, second) = rows.split_at(half);
    std::thread::scope(|scope| {
        let other = scope.spawn(|| second.iter().map(&compute).collect::<Vec<R>>());
        let mut done: Vec<R> = first.iter().map(&compute).collect();
        done.extend(other.join().expect("the other half does not panic"));
        done
    })
}
