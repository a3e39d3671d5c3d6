//! A grip check as a person reads it. In: the result and the units wanted. Out: plain lines, each number with its unit.

use crate::terminal::numbers::{percent, seconds};
use crate::terminal::settings::Settings;
use crate::terminal::verdict_words::{hint_lines, verdict_lines};
use crate::visits::cautions;
use holdtrue_metrology::grip::result::{Clamp, GripResult, Stated, Statistics, Uncertainty};
use holdtrue_terms::vocabulary::State;
use holdtrue_wording::{CheckWords, words};

/// Scatter and intervals over fewer clamps than this say little and are not shown.
const ENOUGH_FOR_SCATTER: usize = 5;
/// An outlier over fewer clamps than this is not shown.
const ENOUGH_FOR_OUTLIER: usize = 6;

/// The whole check.
pub fn grip(result: &GripResult, settings: &Settings) -> String {
    let words = settings.words(result);
    let mut lines = vec![title(result.state), String::new()];
    if !result.clamps.is_empty() || result.stated.is_empty() {
        lines.extend(clamp_table(result, &words, settings));
        lines.push(String::new());
    }
    lines.extend(
        result
            .stated
            .iter()
            .map(|stated| stated_line(stated, settings)),
    );
    match &result.statistics {
        Some(statistics) => lines.extend(statistics_lines(
            statistics,
            result.uncertainty.as_ref(),
            &words,
            settings,
        )),
        None if result.clamps.is_empty() && !result.stated.is_empty() => {}
        None => lines.push("No clamp counts: take the set again.".to_owned()),
    }
    if let Some(verdict) = &result.verdict {
        lines.push(String::new());
        lines.extend(verdict_lines(verdict, words.verdict.as_ref(), settings));
    }
    if let Some(with) = &result.with_discarded {
        lines.push(with_discarded(with, settings));
    }
    lines.extend(hint_lines(&words.hints));
    lines.extend(words.notes.iter().map(|note| format!("Note: {note}")));
    if result.verdict.is_some() {
        lines.push(cautions::LAST_LINE.to_owned());
    }
    lines.join("\n")
}

fn title(state: Option<State>) -> String {
    match state {
        Some(state) => format!("Grip force (drawbar force), {}", state.words()),
        None => "Grip force (drawbar force)".to_owned(),
    }
}

/// A figure a paper states.
fn stated_line(stated: &Stated, settings: &Settings) -> String {
    format!(
        "{:<12} {}  noted as {}",
        words::stated_figure(stated.figure),
        settings.force(stated.value_n),
        holdtrue_wording::shown(&stated.as_written)
    )
}

/// One line for a clamp, with its remarks below.
fn clamp(clamp: &Clamp, notes: &[String], with_push_out: bool, settings: &Settings) -> String {
    let units = settings.units();
    let held = clamp
        .clamped_s
        .zip(clamp.released_s)
        .map(|(from, to)| seconds(to - from));
    let sag = clamp.sag_n_per_s.map(|sag| settings.drop_while_held(sag));
    let mut line = format!(
        "{:>5}  {:>8}  {:>10}  {:>10}  {:>16}",
        clamp.number,
        held.unwrap_or_default(),
        clamp
            .settled_n
            .map(|n| settings.force(n))
            .unwrap_or_default(),
        clamp.peak_n.map(|n| settings.force(n)).unwrap_or_default(),
        sag.unwrap_or_default(),
    );
    if with_push_out {
        let travel = |mm: Option<f64>| mm.map(|mm| units.travel(mm)).unwrap_or_default();
        line.push_str(&format!(
            "  {:>9}  {:>9}",
            travel(clamp.push_out_mm),
            travel(clamp.draw_in_mm)
        ));
    }
    if let Some(excluded) = clamp.excluded {
        line.push_str(&format!("  not counted: {}", excluded.words()));
    }
    for note in notes {
        line.push_str(&format!("\n         {note}"));
    }
    line.trim_end().to_owned()
}

fn clamp_table(result: &GripResult, words: &CheckWords, settings: &Settings) -> Vec<String> {
    let read = |clamp: &Clamp| clamp.push_out_mm.or(clamp.draw_in_mm).is_some();
    let with_push_out = result.clamps.iter().any(read);
    let mut header = "clamp      held     holding        peak        while held".to_owned();
    if with_push_out {
        header.push_str("   push-out   drawn in");
    }
    std::iter::once(header)
        .chain(
            result
                .clamps
                .iter()
                .zip(&words.parts)
                .map(|(each, notes)| clamp(each, notes, with_push_out, settings)),
        )
        .collect()
}

fn statistics_lines(
    statistics: &Statistics,
    uncertainty: Option<&Uncertainty>,
    words: &CheckWords,
    settings: &Settings,
) -> Vec<String> {
    let count = statistics.count;
    let clamps = if count == 1 { "clamp" } else { "clamps" };
    let mut lines = vec![
        format!(
            "mean         {}  over {count} counted {clamps}",
            settings.force(statistics.mean_n)
        ),
        format!("lowest       {}", settings.force(statistics.lowest_n)),
    ];
    if let Some(cv) = statistics.cv_percent {
        let few = if count < ENOUGH_FOR_SCATTER {
            "  few clamps: says little"
        } else {
            ""
        };
        lines.push(format!("scatter      {}{few}", percent(cv)));
    }
    if let Some(uncertainty) = uncertainty {
        let expanded = settings.force_spread(uncertainty.expanded_n, statistics.mean_n);
        lines.push(format!(
            "uncertainty  ± {expanded} (95 %)  {}",
            words.in_words.as_deref().unwrap_or_default()
        ));
    }
    lines.extend(remarks(statistics, settings));
    lines
}

/// What is only worth saying over enough clamps.
fn remarks(statistics: &Statistics, settings: &Settings) -> Vec<String> {
    let enough = statistics.count >= ENOUGH_FOR_SCATTER;
    let bound = statistics
        .tolerance_95_95_n
        // Readings alike to the last digit show no scatter, and none of the clamps to come is held to that digit.
        .filter(|_| enough && !statistics.follows_order() && statistics.stdev_n > Some(0.0))
        .map(|bound| {
            format!(
                "Clamps like these, today, with this force gauge: 95 of 100 hold more than {}.",
                settings.force(bound)
            )
        });
    let trend = statistics
        .trend_n_per_clamp
        .filter(|_| enough && statistics.follows_order())
        .map(|slope| {
            let way = if slope > 0.0 { "climbs" } else { "falls" };
            format!(
                "The force {way} by {} from clamp to clamp.",
                settings.force(slope.abs())
            )
        });
    let outlier = statistics
        .outlier
        .filter(|_| statistics.count >= ENOUGH_FOR_OUTLIER)
        .map(|number| {
            format!("Clamp {number} stands apart from the others; it counts all the same.")
        });
    [bound, trend, outlier].into_iter().flatten().collect()
}

/// Figures and verdict with the discarded clamps put back.
pub fn with_discarded(
    with: &holdtrue_metrology::grip::result::WithDiscarded,
    settings: &Settings,
) -> String {
    let mean = with.statistics.as_ref().map_or_else(
        || "no mean".to_owned(),
        |statistics| format!("mean {}", settings.force(statistics.mean_n)),
    );
    let with = match &with.verdict {
        Some(verdict) => format!("{mean}, {}", words::outcome(verdict.outcome)),
        None => mean,
    };
    format!("With the discarded clamps: {with}.")
}
