//! A trend as a person reads it. In: the series, what it tells, the units wanted. Out: plain lines and a picture of them.

use crate::trend::arguments::Against;
use crate::trend::document::{Document, GRADUAL_ONLY, Subject, at};
use crate::trend::followed::{Followed, HeldTo, Row};
use crate::trend::plot;
use crate::visits::checks::stored_figure::StoredFigure;
use crate::visits::known_day;
use crate::visits::spindles::history::date_of;
use holdtrue_metrology::decision::Side;
use holdtrue_metrology::trend::{Line, Series, Step};
use holdtrue_report::YearNews;
use holdtrue_wording::digits::{Units, fixed, with_unit};
use holdtrue_wording::{joined_lines, paper};
use serde_json::Value;

const DAYS_A_YEAR: f64 = 365.25;
const HOURS_TOLD: f64 = 1000.0;

/// The whole trend.
pub(crate) fn trend(
    followed: &Followed,
    found: &Series,
    subject: &Subject,
    document: &Document,
    units: &Units,
) -> String {
    let value = |value: f64| figure(value, followed.unit, units);
    let what = followed.figure.map_or("figure", StoredFigure::words);
    let of = match subject {
        Subject::Table(name) => name.clone(),
        Subject::Spindle { name, .. } => name.clone(),
    };
    let mut lines = vec![format!(
        "{}: {what}, as found, against {}",
        of,
        against(followed)
    )];
    lines.push(String::new());
    lines.extend(
        followed
            .rows
            .iter()
            .flat_map(|row| row_lines(row, followed.against != Against::Date, subject, &value)),
    );
    lines.extend(marks(followed));
    lines.push(String::new());
    let picture = plot::plot(followed, found, units);
    if !picture.is_empty() {
        lines.extend(picture);
        lines.push(String::new());
    }
    lines.extend(in_short(followed, found, document, units));
    joined_lines(&lines)
}

/// What it comes to.
pub(crate) fn in_short(
    followed: &Followed,
    found: &Series,
    document: &Document,
    units: &Units,
) -> Vec<String> {
    let value = |value: f64| figure(value, followed.unit, units);
    let mut lines = Vec::new();
    if let Some(limit) = &followed.limit {
        lines.push(format!(
            "Limit: {} {} ({})",
            side(limit),
            value(limit.value),
            limit
                .provenance
                .map_or("as typed", |provenance| provenance.words())
        ));
    }
    if let Ok(line) = &found.line {
        lines.push(slope_words(line, found.trend, followed, units));
    }
    if let Some(crossing) = found.crossing.and_then(Result::ok) {
        let at = at(crossing, followed.against);
        lines.push(crossing_words(
            &at.estimate,
            &at.earliest,
            &at.latest,
            followed,
        ));
        lines.push(GRADUAL_ONLY.to_owned());
    }
    lines.extend(document.reason.clone());
    lines.extend(found.step.map(|step| step_words(step, &value)));
    lines.extend(chart_words(followed, found, &value));
    lines
}

/// What a line that runs to its limit says where there is room for a sentence alone; none of one that does not.
pub(crate) fn runs_to_limit(
    of: StoredFigure,
    followed: &Followed,
    found: &Series,
    units: &Units,
) -> Option<YearNews> {
    let crossing = found.crossing.and_then(Result::ok)?;
    let line = found.line.as_ref().ok().filter(|_| found.trend)?;
    let told = at(crossing, followed.against);
    let day = |value: &Value| value.as_str().map(known_day::words);
    let crossed = is_passed(&told.estimate, followed);
    let sentence = format!(
        "Over the visits the {} {} by {} a year; its line {} the limit about {}.",
        of.words(),
        if line.slope < 0.0 { "falls" } else { "rises" },
        figure(line.slope.abs() * DAYS_A_YEAR, followed.unit, units),
        if crossed { "crossed" } else { "crosses" },
        day(&told.estimate)?
    );
    Some(YearNews {
        sentence,
        step: paper::measure_before(day(&told.earliest).as_deref(), crossed),
        crossed,
    })
}

/// A figure in its unit.
pub(crate) fn figure(value: f64, unit: &str, units: &Units) -> String {
    match unit {
        "N" | "N/s" | "um" | "%" => units.in_unit(value, unit),
        "um/m" => units.tilt(value),
        "s" => with_unit(&fixed(value, 3), "s"),
        other => with_unit(&fixed(value, 3), other),
    }
}

fn against(followed: &Followed) -> &'static str {
    match (followed.counter, followed.against) {
        (Some(counter), _) => counter,
        (None, Against::Date) => "the date",
        (None, Against::Hours) => "hours",
        (None, Against::ToolChanges) => "tool changes",
    }
}

fn side(limit: &HeldTo) -> &'static str {
    match limit.side {
        Side::Lower => "at least",
        Side::Upper => "at most",
    }
}

fn row_lines(
    row: &Row,
    counted: bool,
    subject: &Subject,
    value: &impl Fn(f64) -> String,
) -> Vec<String> {
    let place = match (&row.day, counted) {
        (Some(day), false) => known_day::words(day),
        (Some(day), true) => format!(
            "{:>8}, {:>17}",
            fixed(row.point.x, 0),
            known_day::words(day)
        ),
        (None, _) => fixed(row.point.x, 0),
    };
    let standard = row.point.own.map_or_else(
        || "uncertainty not known".to_owned(),
        |own| format!("± {} of its own (k = 2)", value(2.0 * own)),
    );
    let mut line = format!("  {place:>18}  {:>12}  {standard}", value(row.point.value));
    let used = [
        subject.gauge(row),
        subject.calibration(row),
        row.paper.then_some("from paper"),
    ];
    for each in used.into_iter().flatten() {
        line.push_str(&format!(", {each}"));
    }
    match row.point.repair_before {
        true => vec![format!("  {:>18}  a new series begins", ""), line],
        false => vec![line],
    }
}

fn marks(followed: &Followed) -> Vec<String> {
    let mark = |mark: &crate::trend::followed::Mark| {
        let breaks = if mark.breaks {
            ": figures before and after are not one series"
        } else {
            ""
        };
        format!(
            "  {}: {}{breaks}",
            known_day::words(&mark.happened),
            mark.what
        )
    };
    followed.events.iter().map(mark).collect()
}

fn slope_words(line: &Line, trend: bool, followed: &Followed, units: &Units) -> String {
    let (times, per) = match followed.against {
        Against::Date => (DAYS_A_YEAR, "a year"),
        Against::Hours => (HOURS_TOLD, "in 1000 h"),
        Against::ToolChanges => (HOURS_TOLD, "in 1000 tool changes"),
    };
    let told = |slope: f64| figure(slope * times, followed.unit, units);
    let [low, high] = line.slope_interval();
    let verb = match (trend, line.slope < 0.0) {
        (false, _) => "No trend",
        (true, true) => "Falls",
        (true, false) => "Rises",
    };
    match trend {
        true => format!(
            "{verb} by {} {per} (95 %: {} to {}; p {})",
            figure(line.slope.abs() * times, followed.unit, units),
            told(low),
            told(high),
            p_words(line.p())
        ),
        false => format!(
            "{verb}: {} to {} {per} (95 %; p {})",
            told(low),
            told(high),
            p_words(line.p())
        ),
    }
}

fn p_words(p: f64) -> String {
    if p < 0.001 {
        "under 0.001".to_owned()
    } else {
        format!("= {}", fixed(p, 3))
    }
}

fn crossing_words(
    estimate: &Value,
    earliest: &Value,
    latest: &Value,
    followed: &Followed,
) -> String {
    let place = |value: &Value| match (value, followed.against) {
        (Value::String(day), _) => known_day::words(day),
        (Value::Number(count), against) => {
            let unit = if against == Against::Hours {
                "h"
            } else {
                "tool changes"
            };
            with_unit(&fixed(count.as_f64().unwrap_or_default(), 0), unit)
        }
        _ => "not bounded".to_owned(),
    };
    let from = match earliest {
        Value::Null => "no earliest".to_owned(),
        earliest => format!("{} at the earliest", place(earliest)),
    };
    let to = match latest {
        Value::Null => "the latest is not bounded".to_owned(),
        latest => format!("{} at the latest", place(latest)),
    };
    let verb = if is_passed(estimate, followed) {
        "The line crossed the limit about"
    } else {
        "The line crosses the limit about"
    };
    format!("{verb} {}: {from}, {to} (95 %)", place(estimate))
}

/// Whether the line had met the limit by the last visit.
fn is_passed(estimate: &Value, followed: &Followed) -> bool {
    let last = followed.rows.iter().map(|row| row.point.x);
    let last = last.fold(f64::NEG_INFINITY, f64::max);
    match estimate {
        Value::String(day) => day.as_str() <= date_of(last.floor()).as_str(),
        other => other.as_f64().is_some_and(|x| x <= last),
    }
}

fn step_words(step: Step, value: &impl Fn(f64) -> String) -> String {
    let repair = if step.repair_between {
        " (the spindle was repaired between)"
    } else {
        ""
    };
    let sign = if step.change < 0.0 { "−" } else { "+" };
    let change = format!("{sign}{}", value(step.change.abs()));
    match (step.expanded, step.seen) {
        (Some(expanded), Some(true)) => format!(
            "Against the visit before: {change} ± {}{repair}",
            value(expanded)
        ),
        (Some(expanded), _) => {
            format!(
                "Against the visit before: {change} ± {}, no difference to be seen{repair}",
                value(expanded)
            )
        }
        (None, _) => {
            format!("Against the visit before: {change}; how sure that is, is not known{repair}")
        }
    }
}

fn chart_words(
    followed: &Followed,
    found: &Series,
    value: &impl Fn(f64) -> String,
) -> Option<String> {
    let chart = found.chart.as_ref()?;
    // Along a slope the chart would show the slope.
    if found.trend {
        return None;
    }
    let [low, high] = chart.limits;
    let within = format!("{} to {}", value(low), value(high));
    if chart.outside.is_empty() {
        return Some(format!(
            "Individuals chart: all {} visits lie within {within}",
            followed.rows.len() - found.from
        ));
    }
    let days: Vec<String> = chart
        .outside
        .iter()
        .filter_map(|place| followed.rows.get(found.from + place))
        .map(|row| {
            row.day
                .as_deref()
                .map_or_else(|| fixed(row.point.x, 0), known_day::words)
        })
        .collect();
    Some(format!(
        "Individuals chart: outside {within}: {}",
        days.join(", ")
    ))
}
