//! The uncertainty of a grip check.
//!
//! In come the clamps that count and what is known about the gauge; out go the budgets of their mean and of one clamp
//! (JCGM 100). What puts all clamps off alike, first of all the gauge's calibration, enters once, whatever their number.

use super::ending::{Endings, Slip};
use super::filled_up::FilledUp;
use super::found::HoldEnd;
use super::sag::Sag;
use super::setup::GripSetup;
use super::zero::Zero;
use crate::statistics;
use crate::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::vocabulary::Provenance;

/// How fast a settled force may still move, share of the force a second, where no full hold of the check shows it.
const MOVES_PER_SECOND: f64 = 0.005;

/// A step under this share of the force is nothing beside the rest.
const FINE_SHARE: f64 = 0.0005;

/// The contribution of the gauge's own calibration.
pub const CALIBRATION: &str = "calibration of the force gauge";

/// How the contribution of the scatter of the clamps begins; their number follows.
pub const REPEATABILITY: &str = "repeatability of";

/// The contribution of what was rounded away from forces typed by hand.
pub(super) const ROUNDING: &str = "rounding of the typed readings, all alike";

/// A clamp that counts, or a reading noted by hand.
#[derive(Clone, Debug)]
pub(super) struct Taken {
    pub number: u32,
    pub force_n: f64,
    pub orientation_deg: Option<f64>,
    /// How far the shank was pushed out after it, mm.
    pub push_out_mm: Option<f64>,
    /// What only a record tells.
    pub recorded: Option<Recorded>,
}

/// What the record tells about a clamp besides its force.
#[derive(Clone, Copy, Debug)]
pub(super) struct Recorded {
    /// What stood still before and after it, zeros set aside included.
    pub steady: [Option<Zero>; 2],
    /// How far the zero moved over it, N; none with a zero on one side only.
    pub zero_moved_n: Option<f64>,
    /// What the zeros of the whole record differ by, beyond its drift, N.
    pub zero_spread_n: f64,
    /// Standard deviation of its settled force and zero from the noise of the samples alone, N.
    pub noise_n: f64,
    /// Slope through the settled window, N/s.
    pub slope_n_per_s: f64,
    /// By how much the middle of its window is earlier than that of a full one, s.
    pub early_s: f64,
    pub sag: Option<Sag>,
    /// How the force moved in the last seconds of the hold.
    pub endings: Endings,
    /// How it falls between its fills.
    pub filled_up: Option<FilledUp>,
    /// The force went down at once while held and stayed down.
    pub slip: Option<Slip>,
    /// The level before the release.
    pub end: Option<HoldEnd>,
    /// So fast it falls in its settled window, N/s, where it was held too short for a drop.
    pub falls_n_per_s: Option<f64>,
    /// Step of the record where no noise shows what lies between, N.
    pub grain_n: f64,
    /// Both readings beside it are those of the free gauge.
    pub own_zeros: bool,
}

/// Budget of the mean: repeatability s/√n and everything shared. `None` where the gauge's own uncertainty is not known.
pub(super) fn of_mean(taken: &[Taken], setup: &GripSetup) -> Option<Budget> {
    let forces: Vec<f64> = taken.iter().map(|clamp| clamp.force_n).collect();
    let mut parts = Vec::new();
    if forces.len() >= 2 {
        let count = forces.len() as f64;
        let dof = count - 1.0;
        parts.push(Contribution::new(
            format!("{REPEATABILITY} {} clamps", forces.len()),
            statistics::stdev(&forces) / count.sqrt(),
            Some(dof),
        ));
    }
    parts.extend(shared(statistics::mean(&forces), taken, taken, setup)?);
    Some(Budget::new(parts))
}

/// Budget of one clamp among `all`: what is shared, and the noise of its own samples; no repeatability.
pub(super) fn of_one(clamp: &Taken, all: &[Taken], setup: &GripSetup) -> Option<Budget> {
    let mut parts = shared(clamp.force_n, std::slice::from_ref(clamp), all, setup)?;
    if let Some(recorded) = clamp.recorded.filter(|recorded| recorded.noise_n > 0.0) {
        parts.push(Contribution::new(
            "noise of its samples",
            recorded.noise_n,
            None,
        ));
    }
    Some(Budget::new(parts))
}

/// What puts the clamps in `of` off by the same amount, at a force of `force_n`.
fn shared(
    force_n: f64,
    of: &[Taken],
    all: &[Taken],
    setup: &GripSetup,
) -> Option<Vec<Contribution>> {
    let gauge = Contribution {
        source: CALIBRATION.to_owned(),
        standard: setup.gauge.standard_n(force_n)?,
        dof: None,
        distribution: Distribution::Normal,
        sensitivity: 1.0,
        provenance: Provenance::Published,
    };
    let mut parts = vec![gauge];
    let mut bounded = |source: &str, half_width_n: f64, provenance: Provenance| {
        if half_width_n > 0.0 {
            parts.push(Contribution::bounded(
                source,
                Distribution::Rectangular,
                half_width_n,
                1.0,
                provenance,
            ));
        }
    };
    bounded(
        "resolution of the force gauge",
        0.5 * setup.gauge.resolution_n.unwrap_or(0.0),
        Provenance::Computed,
    );
    bounded(
        "return of the zero",
        zero_spread_n(of),
        Provenance::Computed,
    );
    let half_step_n = 0.5 * grain_n(of, force_n);
    bounded("steps of the record", half_step_n, Provenance::Computed);
    bounded(
        "steps of the record at zero",
        half_step_n,
        Provenance::Computed,
    );
    bounded(ROUNDING, 0.5 * rounding_n(all, setup), Provenance::Computed);
    let (early_n, provenance) = cut_short_n(of, all);
    bounded("windows cut short by unclamping early", early_n, provenance);
    parts.extend(
        setup
            .allowances
            .iter()
            .map(|allowance| allowance.contribution(force_n)),
    );
    Some(parts)
}

/// Step of typed readings where they scatter by less than their rounding alone would make them: all of them may then be
/// off by the same part of it. Where they scatter more, the scatter shows the rounding too.
fn rounding_n(all: &[Taken], setup: &GripSetup) -> f64 {
    let forces: Vec<f64> = all.iter().map(|clamp| clamp.force_n).collect();
    let Some(step_n) = setup.typed_step_n else {
        return 0.0;
    };
    let by_rounding = step_n / 12.0_f64.sqrt();
    if forces.len() < 2 || statistics::stdev(&forces) < by_rounding {
        step_n
    } else {
        0.0
    }
}

/// Step of the record, N; none of one that is fine for such a force.
fn grain_n(of: &[Taken], force_n: f64) -> f64 {
    let recorded = of.iter().filter_map(|clamp| clamp.recorded);
    let grain_n = recorded
        .map(|recorded| recorded.grain_n)
        .fold(0.0, f64::max);
    if grain_n < FINE_SHARE * force_n.abs() {
        0.0
    } else {
        grain_n
    }
}

/// What the zeros of the record differ by, beyond its drift, N: any clamp may be off by as much.
fn zero_spread_n(of: &[Taken]) -> f64 {
    let recorded = of.iter().filter_map(|clamp| clamp.recorded);
    recorded
        .map(|recorded| recorded.zero_spread_n)
        .fold(0.0, f64::max)
}

/// Mean half-width left open by windows that were cut short, N: how much earlier their middle lies, times the fastest a
/// settled force moved in a full window of this check.
fn cut_short_n(of: &[Taken], all: &[Taken]) -> (f64, Provenance) {
    let is_full = |recorded: &Recorded| recorded.early_s <= 0.0;
    let full = all
        .iter()
        .filter_map(|clamp| clamp.recorded)
        .filter(is_full);
    let fastest = full
        .map(|recorded| recorded.slope_n_per_s.abs())
        .reduce(f64::max);
    let half_widths: Vec<f64> = of
        .iter()
        .map(|clamp| {
            let early_s = clamp
                .recorded
                .map_or(0.0, |recorded| recorded.early_s.max(0.0));
            early_s * fastest.unwrap_or(MOVES_PER_SECOND * clamp.force_n)
        })
        .collect();
    let provenance = if fastest.is_some() {
        Provenance::Computed
    } else {
        Provenance::CommonPractice
    };
    (statistics::mean(&half_widths), provenance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grip::setup::Gauge;

    fn readings(forces: &[f64]) -> Vec<Taken> {
        let taken = |(number, &force_n)| Taken {
            number,
            force_n,
            orientation_deg: None,
            push_out_mm: None,
            recorded: None,
        };
        (1..).zip(forces).map(taken).collect()
    }

    #[test]
    fn the_gauge_enters_once_whatever_the_number_of_clamps() {
        let setup = GripSetup {
            gauge: Gauge::stated(2.0),
            ..GripSetup::default()
        };
        let few = readings(&[9_900.0, 10_100.0]);
        let many = readings(&[9_900.0, 10_100.0].repeat(50));
        // Half of 2 % of 10 kN, for two clamps as for a hundred.
        for taken in [few, many] {
            let budget = of_mean(&taken, &setup).unwrap();
            assert!((budget.contributions[1].standard - 100.0).abs() < 1e-9);
            assert_eq!(budget.contributions[1].dof, None);
        }
    }

    #[test]
    fn one_clamp_has_no_repeatability_in_its_budget() {
        let setup = GripSetup {
            gauge: Gauge::stated(2.0),
            ..GripSetup::default()
        };
        let taken = readings(&[9_000.0, 10_000.0, 11_000.0]);
        let budget = of_one(&taken[0], &taken, &setup).unwrap();
        assert!((budget.combined() - 90.0).abs() < 1e-9);
        assert!(budget.effective_dof().is_infinite());
    }

    #[test]
    fn without_the_gauges_uncertainty_there_is_no_budget() {
        assert_eq!(of_mean(&readings(&[1e4, 1e4]), &GripSetup::default()), None);
    }
}
