//! In: what a gauge read on its shunt and on a check standard since its calibration, and what it reads now. Out: whether
//! it still reads as it did.
//!
//! The bounds below are common practice, no source; the comparison itself cites its own.

use super::fitness::{AtRest, finding_on_standard};
use super::loading::Read;
use crate::calibration::field_check;
use serde::{Deserialize, Serialize};

/// Readings a comparison needs.
pub const BASELINE_LEAST: usize = 3;
/// Later readings do not move the baseline, or a slow drift would carry it along.
const BASELINE_MOST: usize = 10;
/// A check standard's own changes, by temperature and seating, in parts of its force.
const STANDARD_LEAST: f64 = 0.005;
/// The same of the shunt's step.
const SHUNT_LEAST: f64 = 0.001;
/// Expanded uncertainty (k = 2) of a check standard whose own is not stated, %.
pub const STANDARD_ASSUMED_PERCENT: f64 = 2.0;

/// The step with the shunt, and against those since the calibration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shunt {
    /// Counts with the shunt less counts without.
    pub step_counts: f64,
    /// Earlier readings it is compared with, at least three.
    pub baseline: usize,
    /// This one less their mean; null below three.
    pub change_counts: Option<f64>,
    /// The same, % of their mean.
    pub change_percent: Option<f64>,
    /// How far it may be off without meaning anything.
    pub bound_counts: Option<f64>,
    /// Whether it is within the bound.
    pub in_control: Option<bool>,
}

/// What was read on a check standard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OnStandard {
    /// What it is called.
    pub name: String,
    /// The force it gives, N.
    pub load_n: f64,
    /// Its expanded uncertainty (k = 2), % of it; null where not stated.
    pub expanded_percent: Option<f64>,
    /// How the cautions were acknowledged.
    pub acknowledged: String,
    /// What the gauge read.
    #[serde(flatten)]
    pub read: Read,
}

/// A reading on a check standard, against the calibration and against those since it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Standard {
    /// What was read.
    #[serde(flatten)]
    pub on: OnStandard,
    /// Reading less the standard's force.
    pub off_n: f64,
    /// The gauge's and the standard's uncertainty together (k = 2): how far it may be off.
    pub allowed_n: f64,
    /// Earlier readings it is compared with, at least three.
    pub baseline: usize,
    /// This one less their mean; null below three.
    pub change_n: Option<f64>,
    /// The same, % of their mean.
    pub change_percent: Option<f64>,
    /// How far it may be off without meaning anything.
    pub bound_n: Option<f64>,
    /// Whether it is within the bound.
    pub in_control: Option<bool>,
}

/// What an earlier check found, as far as later ones need it.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Found {
    /// Why the gauge was not fit.
    pub reasons: Vec<String>,
    /// Free.
    pub at_rest: Option<AtRest>,
    /// On the shunt.
    pub shunt: Option<Shunt>,
    /// On a check standard.
    pub standard: Option<Standard>,
}

/// A lighter standard than this part of the one that found the gauge wrong shows too little of it: an error in proportion to the
/// force is the smaller, the less there is on the gauge.
const TAKES_BACK_FROM: f64 = 0.8;

impl Standard {
    /// Whether this reading, which found nothing, takes back what was found on another standard.
    ///
    /// Source: common practice: what a look found is taken back by the same kind of look, and by nothing less.
    pub fn takes_back(&self, other: &Self, rated_n: f64) -> bool {
        finding_on_standard(self, rated_n).is_none()
            && self.on.load_n >= TAKES_BACK_FROM * other.on.load_n
    }
}

/// Which of the checks under one calibration, oldest first, found the gauge wrong on a standard, so that no later one takes it
/// back. A gauge that only hangs free shows nothing of what it reads under load. `rated_n`: the gauge's rated load.
///
/// Source: as [`Standard::takes_back`].
pub fn open_finding<'f>(
    checks: impl IntoIterator<Item = &'f Found>,
    rated_n: f64,
) -> Option<(usize, &'f Standard)> {
    let mut open: Option<(usize, &Standard)> = None;
    for (place, found) in checks.into_iter().enumerate() {
        let Some(standard) = &found.standard else {
            continue;
        };
        if finding_on_standard(standard, rated_n).is_some() {
            open = Some((place, standard));
        } else {
            open = open.filter(|(_, wrong)| !standard.takes_back(wrong, rated_n));
        }
    }
    open
}

/// Readings a gauge is held to: those of the checks under one calibration that found it fit.
#[derive(Clone, Debug, Default)]
pub struct Baseline(Vec<Found>);

impl Baseline {
    /// What the checks found, oldest first.
    pub fn of(found: impl IntoIterator<Item = Found>) -> Self {
        Self(found.into_iter().collect())
    }

    /// The shunt now, by how far it moves the reading.
    ///
    /// Source: as [`field_check`].
    pub fn shunt(&self, step_counts: f64) -> Shunt {
        let earlier = self.0.iter().filter_map(|found| found.shunt.as_ref());
        let compared = compare(
            earlier.map(|shunt| shunt.step_counts).collect(),
            step_counts,
            SHUNT_LEAST * step_counts.abs(),
        );
        Shunt {
            step_counts,
            baseline: compared.baseline,
            change_counts: compared.change,
            change_percent: compared.change_percent,
            bound_counts: compared.bound,
            in_control: compared.in_control,
        }
    }

    /// A check standard now, held to its own earlier readings at the same load. `expanded_n`: the gauge's expanded uncertainty
    /// (k = 2) there.
    ///
    /// Source: as [`field_check`]; that both uncertainties are independent, so that their squares add, JCGM 100:2008, 5.1.2.
    pub fn standard(&self, on: OnStandard, expanded_n: f64) -> Standard {
        let earlier = self.0.iter().filter_map(|found| found.standard.as_ref());
        let same = earlier
            .filter(|known| known.on.name == on.name && same_load(known.on.load_n, on.load_n));
        let compared = compare(
            same.map(|standard| standard.on.read.reading_n).collect(),
            on.read.reading_n,
            STANDARD_LEAST * on.load_n,
        );
        Standard {
            off_n: on.read.reading_n - on.load_n,
            allowed_n: allowed_n(&on, expanded_n),
            on,
            baseline: compared.baseline,
            change_n: compared.change,
            change_percent: compared.change_percent,
            bound_n: compared.bound,
            in_control: compared.in_control,
        }
    }
}

fn same_load(one_n: f64, other_n: f64) -> bool {
    (one_n - other_n).abs() < 1e-6 * one_n
}

fn allowed_n(on: &OnStandard, expanded_n: f64) -> f64 {
    let percent = on.expanded_percent.unwrap_or(STANDARD_ASSUMED_PERCENT);
    expanded_n.hypot(percent / 100.0 * on.load_n)
}

struct Compared {
    baseline: usize,
    change: Option<f64>,
    change_percent: Option<f64>,
    bound: Option<f64>,
    in_control: Option<bool>,
}

fn compare(mut earlier: Vec<f64>, reading: f64, least_bound: f64) -> Compared {
    earlier.truncate(BASELINE_MOST);
    let found = field_check(&earlier, reading, least_bound);
    Compared {
        baseline: earlier.len(),
        change: found.map(|found| found.change),
        change_percent: found.map(|found| found.change_percent),
        bound: found.map(|found| found.bound),
        in_control: found.map(|found| found.in_control),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 0.5 % of 5 kN.
    const EXPANDED_N: f64 = 25.0;

    fn read(reading_n: f64) -> OnStandard {
        OnStandard {
            name: "frame".to_owned(),
            load_n: 5_000.0,
            expanded_percent: Some(0.3),
            acknowledged: "by_flag".to_owned(),
            read: Read {
                reading_n,
                reading_counts: 100.0 * reading_n,
                zero_before_n: 0.0,
                zero_after_n: 0.0,
            },
        }
    }

    /// A baseline of checks that read these forces.
    fn baseline(readings_n: &[f64]) -> Baseline {
        let found = |reading_n: &f64| Found {
            standard: Some(Baseline::default().standard(read(*reading_n), EXPANDED_N)),
            ..Found::default()
        };
        Baseline(readings_n.iter().map(found).collect())
    }

    #[test]
    fn three_readings_make_a_baseline_and_two_do_not() {
        let two = baseline(&[5_001.0, 4_999.0]).standard(read(5_100.0), EXPANDED_N);
        assert_eq!((two.baseline, two.in_control), (2, None));
        let three = baseline(&[5_001.0, 4_999.0, 5_000.0]);
        let still = three.standard(read(5_010.0), EXPANDED_N);
        assert_eq!((still.in_control, still.change_n), (Some(true), Some(10.0)));
        let moved = three.standard(read(5_026.0), EXPANDED_N);
        assert_eq!(moved.in_control, Some(false), "beyond 0.5 % of 5 kN");
    }

    #[test]
    fn another_standard_and_another_load_are_no_baseline() {
        let three = baseline(&[5_000.0; 3]);
        let other_name = OnStandard {
            name: "springs".to_owned(),
            ..read(5_000.0)
        };
        let other_load = OnStandard {
            load_n: 8_000.0,
            ..read(8_000.0)
        };
        for other in [other_name, other_load] {
            assert_eq!(three.standard(other, EXPANDED_N).baseline, 0);
        }
    }

    /// U of the gauge 0.5 % and of the standard 0.3 %, both of 5 kN: √(25² + 15²) N.
    #[test]
    fn against_the_calibration_both_uncertainties_count() {
        let standard = baseline(&[]).standard(read(5_020.0), EXPANDED_N);
        assert!((standard.allowed_n - 850_f64.sqrt()).abs() < 1e-9);
        assert!((standard.off_n - 20.0).abs() < 1e-9);
    }

    #[test]
    fn a_slow_drift_does_not_carry_its_baseline_along() {
        let creeping: Vec<f64> = (0..60).map(|n| 5_000.0 + f64::from(n)).collect();
        let standard = baseline(&creeping).standard(read(5_060.0), EXPANDED_N);
        assert_eq!((standard.baseline, standard.in_control), (10, Some(false)));
    }

    #[test]
    fn the_shunt_is_held_to_its_own_steps() {
        let found = |counts: f64| Found {
            shunt: Some(Baseline::default().shunt(counts)),
            ..Found::default()
        };
        let known = Baseline::of([937_900.0, 937_950.0, 937_920.0].map(found));
        assert_eq!(known.shunt(938_000.0).in_control, Some(true));
        assert_eq!(known.shunt(940_000.0).in_control, Some(false));
    }
}
