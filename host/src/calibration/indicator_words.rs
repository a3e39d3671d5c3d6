//! The calibration of an indicator as a person reads it. In: the result and the units wanted. Out: plain lines.

use crate::terminal::settings::Settings;
use holdtrue_metrology::calibration::{IndicatorCalibration, IndicatorErrors};

/// The whole calibration.
pub fn indicator(found: &IndicatorCalibration, settings: &Settings) -> String {
    let length = |micrometre| settings.length(micrometre);
    let mut lines = vec![
        format!(
            "Indicator on gauge blocks from {} to {}",
            length(found.span_um[0]),
            length(found.span_um[1])
        ),
        String::new(),
        format!(
            "{:>12} {:>14} {:>14} {:>14}",
            "blocks", "error", "in to out", "repeats"
        ),
    ];
    lines.extend(found.steps.iter().map(|row| errors(row, settings)));
    lines.push(String::new());
    lines.push(format!(
        "Error of indication {} (largest less smallest, plunger going in; not corrected)",
        length(found.error_of_indication_um)
    ));
    lines.push(match found.hysteresis_um {
        Some(um) => format!("Going in against coming out at most {}", length(um)),
        None => "Going in against coming out is not known: no readings coming out.".to_owned(),
    });
    lines.push(match found.repeatability_um {
        Some(um) => format!("Repeats within {}", length(um)),
        None => "Repeats are not known: one run only.".to_owned(),
    });
    lines.extend(uncertainty(found));
    lines.join("\n")
}

fn errors(row: &IndicatorErrors, settings: &Settings) -> String {
    let of = |um: Option<f64>| um.map_or_else(|| "-".to_owned(), |um| settings.length(um));
    format!(
        "{:>12} {:>14} {:>14} {:>14}",
        settings.length(row.step_um),
        settings.length(row.error_um),
        of(row.hysteresis_um),
        of(row.repeatability_um)
    )
}

fn uncertainty(found: &IndicatorCalibration) -> Vec<String> {
    let Some(expanded_um) = found.expanded_um else {
        return vec![
            "No uncertainty: say how good the gauge blocks are, --blocks-um (k = 2, from their certificate).".to_owned(),
        ];
    };
    // Digits enough to tell a micrometre from a unit mistaken for it, whatever the units of the rest.
    let digits = if expanded_um < 1.0 { 3 } else { 2 };
    let first = format!("U (k = 2) of a difference of two readings: {expanded_um:.digits$} µm");
    let variance: f64 = found.budget.iter().map(|c| c.standard * c.standard).sum();
    let shares = found.budget.iter().map(|c| {
        let percent = 100.0 * c.standard * c.standard / variance;
        format!("  {:<40} {percent:>5.1} % of the variance", c.source)
    });
    std::iter::once(first).chain(shares).collect()
}
