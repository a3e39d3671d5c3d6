//! What a person reads of a result.

use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::verdict::Verdict;
use holdtrue_wording::digits::Units;
use holdtrue_wording::{CheckWords, Say, Sentences};

/// Values as sentences.
pub fn said(values: &[impl Say]) -> Vec<String> {
    values
        .iter()
        .map(|value| value.say(&Units::default()))
        .collect()
}

/// All sentences of a result.
pub fn words(result: &GripResult) -> CheckWords {
    result.words(&Units::default())
}

/// What would decide an undecided verdict.
pub fn remedy(verdict: &Verdict) -> String {
    let would = verdict.would_decide.as_ref();
    would.map_or_else(String::new, |would| would.say(&Units::default()))
}
