//! A study as a person reads it. In: the result and the units wanted. Out: plain lines.

use crate::study::command::Share;
use crate::terminal::numbers::percent;
use crate::terminal::settings::Settings;
use holdtrue_metrology::study::{Study, Subject};

/// Shares of the check below and above which common practice calls it good, or not good enough.
const GOOD_BELOW_PERCENT: f64 = 10.0;
const TOO_MUCH_FROM_PERCENT: f64 = 30.0;

/// The whole study.
pub(crate) fn study(
    found: &Study,
    shares: &[Share],
    unit: &str,
    tolerance: Option<f64>,
    settings: &Settings,
) -> String {
    let mut lines = vec![
        format!(
            "Gauge study of {}: {} {} by {} technicians, {} trials each",
            found.subject.words(),
            found.parts.len(),
            parts_word(found.subject),
            found.technicians.len(),
            found.trials
        ),
        String::new(),
        format!(
            "{:34} {:>12} {:>13} {:>13}",
            "", "standard", "of variation", "of tolerance"
        ),
    ];
    lines.extend(
        shares
            .iter()
            .filter_map(|each| line(each, found, unit, settings)),
    );
    lines.push(String::new());
    lines.extend(
        tolerance.map(|width| format!("Tolerance: {} wide.", settings.in_unit(width, unit))),
    );
    lines.extend(in_short(found, shares, tolerance));
    if let Some(groups) = found.distinct_categories {
        lines.push(format!(
            "{} can be told apart in {groups} {}.",
            holdtrue_wording::words::capital(parts_word(found.subject)),
            if groups == 1 {
                "group: not at all"
            } else {
                "groups"
            }
        ));
    }
    lines.push(if found.interaction_kept {
        format!(
            "That technicians differ more on some parts than on others is not ruled out (significance {:.2}, kept up to 0.25): a source of its own.",
            found.table.interaction_p
        )
    } else {
        "Technicians do not differ more on some parts than on others: counted as repeatability."
            .to_owned()
    });
    lines.extend(found.notes.iter().map(|note| format!("Note: {note}")));
    lines.join("\n")
}

fn parts_word(subject: Subject) -> &'static str {
    match subject {
        Subject::WholeCheck => "spindles",
        Subject::GaugeAlone => "loads",
    }
}

fn line(share: &Share, found: &Study, unit: &str, settings: &Settings) -> Option<String> {
    let name = match share.source {
        "repeatability" => "repeats by one technician",
        "technician" => "technician against technician",
        "interaction" if found.interaction_kept => "technicians on single parts",
        "interaction" => return None,
        "reproducibility" => "all of the technicians",
        "check" => match found.subject {
            Subject::WholeCheck => "THE WHOLE CHECK",
            Subject::GaugeAlone => "THE GAUGE ALONE",
        },
        "part" => match found.subject {
            Subject::WholeCheck => "spindle against spindle",
            Subject::GaugeAlone => "load against load",
        },
        _ => "everything",
    };
    let of = |share: Option<f64>| share.map(percent).unwrap_or_default();
    let text = format!(
        "{name:34} {:>12} {:>13} {:>13}",
        settings.in_unit(share.standard_deviation, unit),
        of(share.percent_of_variation),
        of(share.percent_of_tolerance)
    );
    Some(text.trim_end().to_owned())
}

/// What the share of the check means, against the tolerance where there is one.
fn in_short(found: &Study, shares: &[Share], tolerance: Option<f64>) -> Option<String> {
    let check = shares.iter().find(|share| share.source == "check")?;
    let (share, of) = match tolerance {
        Some(_) => (check.percent_of_tolerance?, "the tolerance"),
        None => (check.percent_of_variation?, "all variation"),
    };
    if found.trials_agree && share < TOO_MUCH_FROM_PERCENT {
        return Some(
            "Whether the check is good enough cannot be said: repeated readings are all alike, so that their scatter is \
             below the resolution. Read finer, or write down all digits."
                .to_owned(),
        );
    }
    let word = if share < GOOD_BELOW_PERCENT {
        "good"
    } else if share < TOO_MUCH_FROM_PERCENT {
        "usable, depending on what it decides"
    } else {
        "too much: look for what scatters before it decides anything"
    };
    Some(format!(
        "The check takes {} of {of}: {word} (common practice, no source).",
        percent(share)
    ))
}
