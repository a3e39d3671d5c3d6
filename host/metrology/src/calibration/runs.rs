//! Readings in the order they were taken in; runs with their zeros, preloads told apart, out.

use super::{CalibrationError, Direction, Point};
use crate::statistics::mean;

/// Loads closer than this share of the highest are one and the same step: no hand brings a press to a load exactly, and
/// the steps of a calibration lie many times farther apart.
const SAME_LOAD: f64 = 5e-3;

/// A reading with its run's zero taken off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Deflection {
    pub run: u32,
    pub direction: Direction,
    pub load_n: f64,
    pub counts: f64,
}

/// One run: loading from zero, perhaps unloading again.
#[derive(Clone, Debug)]
pub(crate) struct Run {
    pub position_deg: Option<f64>,
    pub zero_before: Option<f64>,
    pub zero_after: Option<f64>,
    pub deflections: Vec<Deflection>,
}

/// All runs of a calibration.
#[derive(Clone, Debug)]
pub(crate) struct Runs {
    /// Runs that go through the loads.
    pub measuring: Vec<Run>,
    /// What the gauge read, counts, in the preloads before the first of them.
    pub preloads_before: Vec<f64>,
    highest_n: f64,
}

impl Runs {
    /// Sorts readings into runs; a run with the highest load alone is a preload.
    pub fn sort(points: &[Point]) -> Result<Self, CalibrationError> {
        let highest_n = points.iter().map(|p| p.load_n).fold(0.0, f64::max);
        let groups: Vec<&[Point]> = points.chunk_by(|a, b| a.run == b.run).collect();
        let is_preload = |run: &&[Point]| {
            run.iter()
                .all(|p| p.load_n <= 0.0 || p.load_n >= highest_n * (1.0 - SAME_LOAD))
        };
        let at_highest = |run: &&[Point]| run.iter().find(|p| p.load_n > 0.0).copied();
        let preloads_before = groups
            .iter()
            .take_while(|run| is_preload(run))
            .filter_map(at_highest)
            .map(|p| p.reading_counts)
            .collect();
        let measuring: Vec<Run> = groups
            .iter()
            .filter(|run| !is_preload(run))
            .map(|run| Run::read(run))
            .collect();
        let with_zero = |run: &Run| run.zero_before.or(run.zero_after).is_some();
        let without = measuring.iter().find(|run| !with_zero(run));
        match without.filter(|_| measuring.iter().any(with_zero)) {
            Some(run) => Err(CalibrationError::ZeroMissing {
                run: run.deflections.first().map_or(0, |d| d.run),
            }),
            None => Ok(Self {
                measuring,
                preloads_before,
                highest_n,
            }),
        }
    }

    /// Whether the zero was read and taken off.
    pub fn have_zeros(&self) -> bool {
        self.measuring
            .iter()
            .any(|run| run.zero_before.or(run.zero_after).is_some())
    }

    /// Mean zero reading; zero if none was read.
    pub fn mean_zero(&self) -> f64 {
        let zeros: Vec<f64> = self
            .measuring
            .iter()
            .filter_map(|run| run.zero_before.or(run.zero_after))
            .collect();
        if zeros.is_empty() { 0.0 } else { mean(&zeros) }
    }

    /// The different loads going up, rising.
    pub fn loads(&self) -> Vec<f64> {
        let mut loads: Vec<f64> = self.up().map(|d| d.load_n).collect();
        loads.sort_by(f64::total_cmp);
        loads.dedup_by(|later, earlier| self.same_load(*later, *earlier));
        loads
    }

    pub fn same_load(&self, a: f64, b: f64) -> bool {
        (a - b).abs() <= SAME_LOAD * self.highest_n
    }

    /// What the gauge reads at the highest load going up, less the zero, counts.
    pub fn highest_deflection(&self) -> f64 {
        let at = self
            .up()
            .filter(|d| self.same_load(d.load_n, self.highest_n));
        mean(&at.map(|d| d.counts).collect::<Vec<f64>>())
    }

    /// All readings upward, the zero taken off.
    pub fn going_up(&self) -> Vec<Deflection> {
        self.up().copied().collect()
    }

    fn up(&self) -> impl Iterator<Item = &Deflection> {
        self.measuring
            .iter()
            .flat_map(|run| run.going(Direction::Up))
    }

    /// The runs that stand for their position: the first of each where positions are recorded, else all.
    pub fn rotated(&self) -> Vec<&Run> {
        let mut chosen: Vec<&Run> = Vec::new();
        for run in &self.measuring {
            let again = |other: &&Run| run.position_deg.is_some() && run.same_position(other);
            if !chosen.iter().any(again) {
                chosen.push(run);
            }
        }
        chosen
    }

    /// Runs in one and the same position: the largest such group, all runs if positions are not recorded.
    pub fn in_one_position(&self) -> Vec<&Run> {
        let group = |run: &Run| {
            self.measuring
                .iter()
                .filter(|r| r.same_position(run))
                .collect()
        };
        let groups = self.measuring.iter().map(group);
        groups.max_by_key(Vec::len).unwrap_or_default()
    }

    /// How many different positions were recorded.
    pub fn positions(&self) -> usize {
        self.rotated()
            .iter()
            .filter(|run| run.position_deg.is_some())
            .count()
    }

    /// The widest turn from one position to the next, degrees; a whole one from a single position to itself.
    pub fn widest_turn_deg(&self) -> f64 {
        let rotated = self.rotated();
        let positions = rotated.iter().filter_map(|run| run.position_deg);
        let mut positions: Vec<f64> = positions.map(|deg| deg.rem_euclid(360.0)).collect();
        positions.sort_by(f64::total_cmp);
        let Some(first) = positions.first().copied() else {
            return 360.0;
        };
        positions.push(first + 360.0);
        let turns = positions.windows(2).map(|pair| pair[1] - pair[0]);
        turns.fold(0.0, f64::max)
    }

    /// What the curve is fitted to.
    pub fn fitted(&self) -> Vec<Deflection> {
        let runs = self.rotated();
        runs.iter()
            .flat_map(|run| run.going(Direction::Up))
            .copied()
            .collect()
    }
}

impl Run {
    fn read(points: &[Point]) -> Self {
        let first_load = points
            .iter()
            .position(|p| p.load_n > 0.0)
            .unwrap_or(points.len());
        let last_load = points
            .iter()
            .rposition(|p| p.load_n > 0.0)
            .map_or(0, |i| i + 1);
        let zero = |of: &[Point]| {
            let readings: Vec<f64> = of.iter().map(|p| p.reading_counts).collect();
            (!readings.is_empty()).then(|| mean(&readings))
        };
        let zero_before = zero(&points[..first_load]);
        let zero_after = zero(&points[last_load.max(first_load)..]);
        let taken_off = zero_before.or(zero_after).unwrap_or(0.0);
        let deflection = |p: &Point| Deflection {
            run: p.run,
            direction: p.direction,
            load_n: p.load_n,
            counts: p.reading_counts - taken_off,
        };
        Self {
            position_deg: points.iter().find_map(|p| p.position_deg),
            zero_before,
            zero_after,
            deflections: points
                .iter()
                .filter(|p| p.load_n > 0.0)
                .map(deflection)
                .collect(),
        }
    }

    pub fn going(&self, direction: Direction) -> impl Iterator<Item = &Deflection> {
        self.deflections
            .iter()
            .filter(move |d| d.direction == direction)
    }

    fn same_position(&self, other: &Self) -> bool {
        match (self.position_deg, other.position_deg) {
            (Some(a), Some(b)) => {
                let apart = (a - b).rem_euclid(360.0);
                apart.min(360.0 - apart) < 1.0
            }
            (None, None) => true,
            _ => false,
        }
    }
}
