//! The sequence that was run and its errors in; a class, or what is missing for one, out.

use super::runs::Runs;
use super::{CalibrationSetup, Errors};
use serde::{Deserialize, Serialize};

/// A class in the style of ISO 376 (limits from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum IsoStyleClass {
    /// Class 00.
    #[serde(rename = "00")]
    Class00,
    /// Class 0.5.
    #[serde(rename = "0.5")]
    Class05,
    /// Class 1.
    #[serde(rename = "1")]
    Class1,
    /// Class 2.
    #[serde(rename = "2")]
    Class2,
}

impl IsoStyleClass {
    /// The class as it is printed.
    pub fn words(self) -> &'static str {
        match self {
            Self::Class00 => "00",
            Self::Class05 => "0.5",
            Self::Class1 => "1",
            Self::Class2 => "2",
        }
    }
}

/// What a class permits, from memory.
struct Permitted {
    class: IsoStyleClass,
    /// Reproducibility, repeatability, interpolation, zero return and reversibility, %.
    errors: [f64; 5],
    /// Expanded uncertainty (k = 2) of the reference, %.
    reference: f64,
    /// How many times the smallest step of the reading the lowest load is at least.
    steps: f64,
}

const PERMITTED: [Permitted; 4] = [
    Permitted {
        class: IsoStyleClass::Class00,
        errors: [0.05, 0.025, 0.025, 0.012, 0.07],
        reference: 0.01,
        steps: 4_000.0,
    },
    Permitted {
        class: IsoStyleClass::Class05,
        errors: [0.10, 0.05, 0.05, 0.025, 0.15],
        reference: 0.02,
        steps: 2_000.0,
    },
    Permitted {
        class: IsoStyleClass::Class1,
        errors: [0.20, 0.10, 0.10, 0.05, 0.30],
        reference: 0.05,
        steps: 1_000.0,
    },
    LOWEST,
];
const LOWEST: Permitted = Permitted {
    class: IsoStyleClass::Class2,
    errors: [0.40, 0.20, 0.20, 0.10, 0.50],
    reference: 0.10,
    steps: 500.0,
};
const ERRORS: [&str; 5] = [
    "reproducibility",
    "repeatability",
    "interpolation",
    "return to zero",
    "reversibility",
];
/// A class covers the upper half of the range at least: the lowest load as a share of the highest …
const LOWEST_SHARE: f64 = 0.5;
/// … and the loads lie evenly enough: the widest step between two, in even steps.
const WIDEST_STEP: f64 = 2.0;

/// The widest errors any class permits, %.
pub(super) struct Widest {
    pub reproducibility: f64,
    pub repeatability: f64,
    pub zero_return: f64,
    pub reversibility: f64,
}

/// Those of class 2: what is taken where the runs did not show an error.
pub(super) const WIDEST: Widest = {
    let [
        reproducibility,
        repeatability,
        _,
        zero_return,
        reversibility,
    ] = LOWEST.errors;
    Widest {
        reproducibility,
        repeatability,
        zero_return,
        reversibility,
    }
};

/// What a calibration cannot do without if a gauge is to carry it. Turning and unloading may be assumed; how far the same
/// load reads the same, and whether the gauge comes back to zero, may not.
pub(super) fn lacking_for_a_record(errors: &Errors) -> Vec<String> {
    let needed = [
        (
            errors.repeatability_percent.is_some(),
            "a second run of the same loads upward in the same position",
        ),
        (
            errors.zero_return_percent.is_some(),
            "a zero before and after a run",
        ),
    ];
    let lacking = needed.into_iter().filter(|(there, _)| !there);
    lacking.map(|(_, what)| what.to_owned()).collect()
}

/// What a class is given for, as far as it is known.
pub(super) struct Shown {
    errors: [f64; 5],
    reference_percent: f64,
    steps: f64,
}

impl Shown {
    /// `None` where an error or the uncertainty of the reference is unknown. `count_n` is the load of one count.
    pub fn of(
        errors: &Errors,
        lowest_n: f64,
        count_n: f64,
        setup: &CalibrationSetup,
    ) -> Option<Self> {
        Some(Self {
            errors: [
                errors.reproducibility_percent?,
                errors.repeatability_percent?,
                errors.interpolation_percent,
                errors.zero_return_percent?,
                errors.reversibility_percent?,
            ],
            reference_percent: setup.reference_expanded_percent?,
            steps: lowest_n / (setup.resolution_counts * count_n.abs()),
        })
    }

    /// The best class everything keeps to. Source: ISO 376, table of classes, from memory.
    pub fn class(&self) -> Option<IsoStyleClass> {
        PERMITTED
            .iter()
            .find(|permitted| self.beyond(permitted).is_empty())
            .map(|permitted| permitted.class)
    }

    /// What no class permits, in words.
    pub fn beyond_all(&self) -> Vec<String> {
        self.beyond(&LOWEST)
    }

    fn beyond(&self, permitted: &Permitted) -> Vec<String> {
        let errors = ERRORS.iter().zip(self.errors).zip(permitted.errors);
        let mut beyond: Vec<String> = errors
            .filter(|((_, found), most)| !keeps_to(*found, *most))
            .map(|((what, found), most)| {
                format!("a {what} of {most} % at most, found {found:.3} %")
            })
            .collect();
        let (found, most) = (self.reference_percent, permitted.reference);
        if found <= 0.0 || !keeps_to(found, most) {
            beyond.push(format!(
                "a reference known to {most} % (k = 2), found {found} %"
            ));
        }
        let (found, least) = (self.steps, permitted.steps);
        if !keeps_to(least, found) {
            beyond.push(format!(
                "a lowest load of {least} steps of the reading at least, found {found:.0}"
            ));
        }
        beyond
    }
}

/// False for a number that is none, too.
fn keeps_to(found: f64, most: f64) -> bool {
    found <= most
}

/// Three positions evenly round lie 120° apart; none lie farther, between neighbours, than half a turn.
const WIDEST_TURN_DEG: f64 = 180.0;
/// Least time a preload is held, s.
const DWELL_S: f64 = 30.0;
/// A recorded preload went to the highest load if it came this near to it.
const TO_THE_HIGHEST: f64 = 0.99;
/// And if the gauge then read what it reads at that load within this share of it: else somebody said so and it was not on.
const READS_LIKE_IT: f64 = 0.1;

/// What a sequence lacks for a class to be printed, in words: three preloads to the highest load, read as such and held
/// for 30 s, eight loads spread over the range, a reference whose uncertainty is known, three positions round the turn, a repeat in one of
/// them, unloading, zeros before and after, on the gauge's own knob and shank. Source: ISO 376, from memory; how evenly the
/// loads lie: common practice.
pub(super) fn missing_steps(runs: &Runs, loads: &[f64], setup: &CalibrationSetup) -> Vec<String> {
    let both_ways = |run: &&super::runs::Run| run.going(super::Direction::Down).next().is_some();
    let with_zeros = runs
        .measuring
        .iter()
        .all(|run| run.zero_before.is_some() && run.zero_after.is_some());
    let highest_n = loads.last().copied().unwrap_or(0.0);
    let highest_counts = runs.highest_deflection();
    let reads_like_it = |counts: f64| {
        (counts - runs.mean_zero() - highest_counts).abs() <= READS_LIKE_IT * highest_counts
    };
    let meant = setup
        .preloads
        .iter()
        .filter(|preload| preload.load_n >= TO_THE_HIGHEST * highest_n);
    let recorded = meant
        .clone()
        .filter(|preload| preload.reading_counts.is_none_or(reads_like_it));
    let runs_before = runs.preloads_before.iter();
    let runs_to_it = runs_before.filter(|counts| reads_like_it(**counts)).count();
    let preloads = runs_to_it + recorded.clone().count();
    let elsewhere = runs.preloads_before.len() + meant.count() - preloads;
    let long_enough = |held_s: Option<f64>| held_s.is_some_and(|s| s >= DWELL_S);
    let told = |held_s: Option<f64>| long_enough(held_s.or(setup.preload_dwell_s));
    let held = recorded.clone().all(|preload| told(preload.held_s))
        && (runs_to_it == 0 || long_enough(setup.preload_dwell_s))
        && preloads > 0;
    let steps = [
        (
            preloads >= 3,
            format!(
                "three preloads to the highest load, found {preloads}{}",
                match elsewhere {
                    0 => String::new(),
                    n => format!(" and {n} at which the gauge did not read that load"),
                }
            ),
        ),
        (held, "30 s at the highest load in every preload".to_owned()),
        (
            loads.len() >= 8,
            format!("eight loads, found {}", loads.len()),
        ),
        (
            are_spread(loads),
            "loads spread evenly, from half of the highest or below".to_owned(),
        ),
        (
            setup.reference_expanded_percent.is_some(),
            "the uncertainty of the reference".to_owned(),
        ),
        (
            runs.positions() >= 3,
            format!("three positions, found {}", runs.positions()),
        ),
        (
            runs.positions() < 3 || runs.widest_turn_deg() <= WIDEST_TURN_DEG,
            format!(
                "positions all the way round, found {:.0}° with none between",
                runs.widest_turn_deg()
            ),
        ),
        (
            runs.in_one_position().len() >= 2,
            "a second run in one position".to_owned(),
        ),
        (
            runs.measuring.iter().filter(both_ways).count() >= 2,
            "unloading in two of the runs".to_owned(),
        ),
        (with_zeros, "a zero before and after every run".to_owned()),
        (
            setup.through_own_knob_and_shank,
            "loading through the gauge's own knob and shank".to_owned(),
        ),
    ];
    steps
        .into_iter()
        .filter(|(done, _)| !done)
        .map(|(_, what)| what)
        .collect()
}

/// Loads in rising order.
fn are_spread(loads: &[f64]) -> bool {
    let (Some(lowest), Some(highest)) = (loads.first(), loads.last()) else {
        return false;
    };
    let even = (highest - lowest) / (loads.len() - 1).max(1) as f64;
    let widest = loads
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(0.0, f64::max);
    *lowest <= LOWEST_SHARE * highest && widest <= WIDEST_STEP * even * (1.0 + 1e-9)
}
