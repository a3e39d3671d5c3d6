//! What the pictures of all checks say alike. In: which check, how it was judged, what was lost. Out: headings and lines.

use holdtrue_gauge::link::Damage;
use holdtrue_protocol::message::Signal;
use holdtrue_terms::vocabulary::State;
use holdtrue_wording::CheckWords;

/// Which check it is, by which gauge.
#[derive(Clone, Debug, Default)]
pub struct Subject {
    /// Check, state, spindle and taper.
    pub title: String,
    /// The gauge, as the last line names it.
    pub gauge: String,
}

/// Check, state and what is measured, as the screen is headed.
pub fn heading(check: &str, state: Option<State>, of: impl IntoIterator<Item = String>) -> String {
    let state = state.map_or_else(String::new, |state| format!(", {}", state.words()));
    let of: Vec<String> = of.into_iter().collect();
    if of.is_empty() {
        format!("{check}{state}")
    } else {
        format!("{check}{state} · {}", of.join(", "))
    }
}

/// The gauge, what was lost on the way, and what its light shows.
pub fn link(subject: &Subject, damage: Damage, light: Option<Signal>) -> String {
    let frames = damage.damaged + damage.over_long;
    let lost = match frames {
        0 => "none lost".to_owned(),
        1 => "1 frame lost".to_owned(),
        more => format!("{more} frames lost"),
    };
    format!("{} · {lost} · light {}", subject.gauge, blinks(light))
}

fn blinks(light: Option<Signal>) -> &'static str {
    match light {
        Some(Signal::Wait) => "1 blink",
        Some(Signal::Hold) => "2 blinks",
        Some(Signal::Unclamp) => "3 blinks",
        Some(Signal::Turn) => "4 blinks",
        Some(Signal::Fault) => "5 blinks",
        Some(Signal::Taken) => "long",
        Some(Signal::Off) => "off",
        None => "as before",
    }
}

/// Under the verdict: why, what would decide it, what to look at.
pub fn under_verdict(check: &CheckWords) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(verdict) = &check.verdict {
        lines.extend(verdict.reasons.iter().cloned());
        let decide = verdict.would_decide.iter();
        lines.extend(decide.map(|text| format!("To decide: {text}")));
    }
    let hints = check.hints.iter();
    lines.extend(hints.map(|hint| format!("Look at: {}", hint.text)));
    lines
}
