//! Verdicts and likely causes as a person reads them. In: what was decided and the units wanted. Out: plain lines.

use crate::terminal::settings::Settings;
use holdtrue_metrology::decision::Judged;
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::vocabulary::Outcome;
use holdtrue_wording::{HintWords, VerdictWords, words};

/// The verdict: the word first, then our mark.
pub fn verdict_lines(
    verdict: &Verdict,
    words: Option<&VerdictWords>,
    settings: &Settings,
) -> Vec<String> {
    let mut lines = vec![marked(verdict.outcome).to_owned()];
    lines.extend(verdict.limits.iter().map(|limit| judged(limit, settings)));
    let reasons = words.iter().flat_map(|words| &words.reasons);
    lines.extend(reasons.map(|reason| format!("  {reason}")));
    if let Some(text) = words.and_then(|words| words.would_decide.as_deref()) {
        lines.push(format!("  To decide: {text}"));
    }
    lines
}

/// The word for an outcome with its mark: what was measured clear of the limit, beyond it, or across it. It says itself what is
/// what.
fn marked(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Accept => "WITHIN LIMIT    limit |  == measured",
        Outcome::Reject => "OUTSIDE LIMIT   measured ==  | limit",
        Outcome::Undecided => "UNDECIDED       measured =|= limit",
    }
}

/// A figure beside its limit.
pub fn judged(judged: &Judged, settings: &Settings) -> String {
    let word = match judged.outcome {
        Outcome::Accept if judged.watch => "within limit, watch",
        Outcome::Accept => "within limit",
        Outcome::Reject => "outside limit",
        Outcome::Undecided => "undecided",
    };
    let at = at_height(judged.height_mm);
    let in_unit = |value| settings.in_unit(value, &judged.unit);
    format!(
        "  {}{at} {}, limit {}; {} allowed for measuring uncertainty: {word}",
        judged.figure.words(),
        in_unit(judged.measured),
        words::limit_in_full(judged, in_unit),
        settings.spread_in_unit(judged.guard, judged.measured, &judged.unit),
    )
}

/// Where a height is, as it follows a name; nothing where it is not known.
pub fn at_height(height_mm: Option<f64>) -> String {
    height_mm.map_or_else(String::new, |mm| {
        words::at_height(mm).replace('\u{a0}', " ")
    })
}

/// Likely causes with what points to them; nothing where there is none.
pub fn hint_lines(hints: &[HintWords]) -> Vec<String> {
    if hints.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![String::new(), "Likely causes, not a verdict:".to_owned()];
    for hint in hints {
        lines.push(format!("  {} ({})", hint.text, hint.provenance.words()));
        lines.push(format!("    seen: {}", hint.evidence));
    }
    lines
}
