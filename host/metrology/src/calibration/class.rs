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

/// Largest permitted reproducibility, repeatability, interpolation, zero return and reversibility, %.
const PERMITTED: [(IsoStyleClass, [f64; 5]); 4] = [
    (IsoStyleClass::Class00, [0.05, 0.025, 0.025, 0.012, 0.07]),
    (IsoStyleClass::Class05, [0.10, 0.05, 0.05, 0.025, 0.15]),
    (IsoStyleClass::Class1, [0.20, 0.10, 0.10, 0.05, 0.30]),
    (IsoStyleClass::Class2, [0.40, 0.20, 0.20, 0.10, 0.50]),
];

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
    ] = PERMITTED[3].1;
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

/// The best class all errors keep to; `None` if there is none or an error is unknown.
pub(super) fn class_of(errors: &Errors) -> Option<IsoStyleClass> {
    let found = [
        errors.reproducibility_percent?,
        errors.repeatability_percent?,
        errors.interpolation_percent,
        errors.zero_return_percent?,
        errors.reversibility_percent?,
    ];
    let keeps = |limits: &[f64; 5]| {
        found
            .iter()
            .zip(limits)
            .all(|(error, limit)| error <= limit)
    };
    PERMITTED
        .iter()
        .find(|(_, limits)| keeps(limits))
        .map(|(class, _)| *class)
}

/// Least time a preload is held, s.
const DWELL_S: f64 = 30.0;
/// A recorded preload went to the highest load if it came this near to it.
const TO_THE_HIGHEST: f64 = 0.99;
/// And if the gauge then read what it reads at that load within this share of it: else somebody said so and it was not on.
const READS_LIKE_IT: f64 = 0.1;

/// What a sequence lacks for a class to be printed, in words: three preloads to the highest load, read as such and held
/// for 30 s, eight loads, three positions, a repeat in one of them, unloading, zeros before and after,
/// on the gauge's own knob and shank. Source: ISO 376, from memory.
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
            runs.positions() >= 3,
            format!("three positions, found {}", runs.positions()),
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
