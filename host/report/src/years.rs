//! The history of a spindle on one page: each figure through the visits as a picture, and the visits as a table.
//!
//! In: figures as they are to be drawn, in the reader's unit, and sentences ready to print. Out: one HTML page. Hollow is
//! what was entered from paper, or what lies before a repair.

use crate::document::{Fact, Spindle};
use crate::judged::cell;
use crate::page;
use crate::scale::{Axis, px, round_step};
use holdtrue_wording::digits::fixed;
use holdtrue_wording::words::FIRST_LINE;
use maud::{Markup, html};

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 250.0;
const LEFT: f64 = 48.0;
const RIGHT: f64 = 752.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 212.0;
/// Width of a letter of a label, and from one row of labels to the next.
const LETTER: f64 = 4.9;
const LABEL_STEP: f64 = 12.0;
const LONGEST_LABEL: usize = 48;
const DAYS_A_YEAR: f64 = 365.25;
const LEGEND: &str = "Bars: what a visit leaves open by itself. Hollow: from paper, or before a repair. Grey: where the line lies (95 %). \
                      Dotted: where one more visit would.";

/// The history of a spindle.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Years {
    /// Whose.
    pub spindle: Spindle,
    /// The day it was made.
    pub made_on: String,
    /// Figures through the visits.
    pub series: Vec<YearSeries>,
    /// What the columns of the table are.
    pub columns: Vec<String>,
    /// The visits, a row each.
    pub visits: Vec<Vec<String>>,
    /// What happened beside the visits.
    pub events: Vec<Fact>,
    /// The version of the program that made the page.
    pub program: String,
}

/// One figure through the visits.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct YearSeries {
    /// What it is.
    pub title: String,
    /// The unit its values are in.
    pub unit: String,
    /// The visits in order of time.
    pub points: Vec<YearPoint>,
    /// The line and its bands, where one is shown.
    pub bands: Vec<YearBand>,
    /// The limit and its name.
    pub limit: Option<(f64, String)>,
    /// Days of what happened, its name, and whether the series breaks there.
    pub marks: Vec<(f64, String, bool)>,
    /// What is to be said of it.
    pub lines: Vec<String>,
}

/// The figure of a visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearPoint {
    /// Days from 1970-01-01.
    pub day: f64,
    /// The figure.
    pub value: f64,
    /// Half width of what the visit alone leaves open (k = 2); none where it is not known.
    pub half_width: Option<f64>,
    /// Drawn hollow.
    pub hollow: bool,
}

/// The line at a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearBand {
    /// Days from 1970-01-01.
    pub day: f64,
    /// The line.
    pub line: f64,
    /// Its 95 % interval.
    pub confidence: [f64; 2],
    /// That of one more visit.
    pub prediction: [f64; 2],
}

/// The page.
pub fn years(years: &Years) -> String {
    let name = years.spindle.name.as_deref().unwrap_or("unnamed spindle");
    let place = years
        .spindle
        .place
        .as_ref()
        .map(|place| match years.spindle.invented {
            true => format!("{place} (invented for demonstration)"),
            false => place.clone(),
        });
    let body = html! {
        body {
            main {
                p class="first" { (FIRST_LINE) }
                header {
                    h1 { "Over the years" span class="name" { (name) } }
                    div class="block" {
                        @for fact in &years.spindle.facts { (cell(&fact.label, &fact.value)) }
                        @if let Some(place) = &place { (cell("place", place)) }
                        (cell("made on", &years.made_on))
                    }
                }
                @for series in &years.series { (one(series)) }
                section {
                    h2 { "Visits" }
                    table {
                        thead { tr { @for column in &years.columns { th { (column) } } } }
                        tbody { @for row in &years.visits { tr { @for text in row { td { (text) } } } } }
                    }
                }
                @if !years.events.is_empty() {
                    section {
                        h2 { "What happened between" }
                        ul { @for event in &years.events { li { (event.label) ": " (event.value) } } }
                    }
                }
                footer { p { "Made by " (years.program) "." } }
            }
        }
    };
    page::whole(&format!("{name}: over the years"), &years.program, &body)
}

/// On the page of a visit: how its figures came about.
pub(crate) fn up_to_here(series: &[YearSeries]) -> Markup {
    html! {
        @if !series.is_empty() {
            section {
                h2 { "Over the years, up to this visit" }
                @for series in series {
                    h3 { (series.title) }
                    (drawn(series))
                }
            }
        }
    }
}

fn one(series: &YearSeries) -> Markup {
    html! {
        section {
            h2 { (series.title) }
            (drawn(series))
        }
    }
}

fn drawn(series: &YearSeries) -> Markup {
    html! {
        (picture(series))
        p class="note" { (LEGEND) }
        @for line in &series.lines { p { (line) } }
    }
}

/// Points with what each leaves open, the line in its bands, limit and events.
fn picture(series: &YearSeries) -> Markup {
    let days = series.points.iter().map(|point| point.day);
    let days = days.chain(series.bands.iter().map(|band| band.day));
    let Some(span) = span(days) else {
        return html! {};
    };
    let room = (0.03 * (span[1] - span[0])).max(20.0);
    let time = Axis::new([span[0] - room, span[1] + room], [LEFT, RIGHT]);
    let measured = series.points.iter().flat_map(|point| {
        let half = point.half_width.unwrap_or(0.0);
        [point.value - half, point.value + half]
    });
    let line = series.bands.iter().flat_map(|band| [band.line]);
    let limit = series.limit.iter().map(|(value, _)| *value);
    let Some(values) = self::span(measured.chain(line).chain(limit)) else {
        return html! {};
    };
    let room = (0.08 * (values[1] - values[0])).max(1e-9);
    let value = Axis::new([values[0] - room, values[1] + room], [BOTTOM, TOP]);
    let within = |y: f64| y.clamp(TOP, BOTTOM);
    let described = format!("{} through {} visits", series.title, series.points.len());
    let marks = marks(series, &time);
    let top = marks
        .iter()
        .map(|mark| mark.label_y - LABEL_STEP)
        .fold(0.0, f64::min);
    html! {
        svg class="trace" viewBox={ "0 " (px(top)) " " (WIDTH) " " (px(HEIGHT - top)) } role="img" aria-label=(described) {
            (grid(series, &time, &value))
            path style="stroke-width: .6; stroke-dasharray: 1 3" d=(ends(series, |band| band.prediction, &time, &value, within)) {}
            path style="fill: currentColor; fill-opacity: .1; stroke: none" d=(between(series, &time, &value, within)) {}
            path class="line" d=(line_of(series, &time, &value, within)) {}
            @if let Some((limit, name)) = &series.limit {
                @let y = value.place(*limit);
                path class="level" d={ "M" (LEFT) " " (px(y)) " H" (RIGHT) } {}
                text class="small" x=(LEFT + 4.0) y=(px(y - 3.0)) { (name) }
            }
            @for mark in &marks {
                path style=(mark.style) d={ "M" (px(mark.x)) " " (px(mark.label_y + 4.0)) " V" (BOTTOM) } {}
            }
            @for mark in &marks {
                text class="small middle" x=(px(mark.label_x)) y=(px(mark.label_y)) { (mark.label) }
            }
            @for point in &series.points { (dot(point, &time, &value)) }
        }
    }
}

/// What happened, where it is drawn.
struct DrawnMark {
    x: f64,
    label: String,
    label_x: f64,
    label_y: f64,
    style: &'static str,
}

/// Each with its label above the picture, in the lowest row in which it touches no other.
fn marks(series: &YearSeries, time: &Axis) -> Vec<DrawnMark> {
    let mut rows: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut drawn = Vec::new();
    for (day, name, breaks) in &series.marks {
        let x = time.place(*day);
        if !(LEFT..=RIGHT).contains(&x) {
            continue;
        }
        let label = shortened(name);
        let half = 0.5 * LETTER * label.chars().count() as f64;
        let label_x = x.min(RIGHT - half).max(LEFT + half);
        let [from, to] = [label_x - half - LETTER, label_x + half + LETTER];
        let free = |row: &Vec<[f64; 2]>| row.iter().all(|taken| taken[1] <= from || to <= taken[0]);
        let row = rows.iter().position(free).unwrap_or(rows.len());
        if row == rows.len() {
            rows.push(Vec::new());
        }
        rows[row].push([from, to]);
        drawn.push(DrawnMark {
            x,
            label,
            label_x,
            label_y: TOP - 8.0 - LABEL_STEP * row as f64,
            style: match breaks {
                true => "stroke-width: 1.2",
                false => "stroke-width: .6; stroke-dasharray: 2 2",
            },
        });
    }
    drawn
}

/// A label that fits; the whole of it stands in the list below.
fn shortened(name: &str) -> String {
    match name.char_indices().nth(LONGEST_LABEL) {
        Some((end, _)) => format!("{} …", name[..end].trim_end()),
        None => name.to_owned(),
    }
}

fn dot(point: &YearPoint, time: &Axis, value: &Axis) -> Markup {
    let (x, y) = (time.place(point.day), value.place(point.value));
    let class = if point.hollow { "point" } else { "point full" };
    html! {
        @if let Some(half) = point.half_width {
            path style="stroke-width: .8"
                d={ "M" (px(x)) " " (px(value.place(point.value - half))) " V" (px(value.place(point.value + half))) } {}
        }
        circle cx=(px(x)) cy=(px(y)) r="3.2" class=(class) {}
    }
}

fn grid(series: &YearSeries, time: &Axis, value: &Axis) -> Markup {
    let (values, digits) = value.ticks(5);
    let first = 1970.0 + time_from(time) / DAYS_A_YEAR;
    let years = time.span() / DAYS_A_YEAR;
    // Of less than two years the quarters, of less than a half the months.
    let step = match years {
        _ if years < 0.5 => 1.0 / 12.0,
        _ if years < 2.0 => 0.25,
        _ => round_step((years / 9.0).max(1.0)),
    };
    let mut ticks = Vec::new();
    let mut tick = (first / step).ceil();
    while tick * step <= first + years && ticks.len() < 40 {
        ticks.push(tick * step);
        tick += 1.0;
    }
    html! {
        @for tick in &values {
            @let y = value.place(*tick);
            path class="grid" d={ "M" (LEFT) " " (px(y)) " H" (RIGHT) } {}
            text class="small end" x=(LEFT - 5.0) y=(px(y + 3.5)) { (fixed(*tick, digits)) }
        }
        path class="axis" d={ "M" (LEFT) " " (BOTTOM) " H" (RIGHT) } {}
        @for tick in &ticks {
            @let x = px(time.place((tick - 1970.0) * DAYS_A_YEAR));
            path class="axis" d={ "M" (x) " " (BOTTOM) " v4" } {}
            text class="small middle" x=(x) y=(BOTTOM + 16.0) { (named(*tick, step)) }
        }
        text class="small" x="0" y=(TOP - 14.0) { (series.unit) }
    }
}

/// A year, or where they are finer a month of it.
fn named(tick: f64, step: f64) -> String {
    const MONTHS: [&str; 12] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    if step >= 1.0 {
        return fixed(tick, 0);
    }
    let year = (tick + 1e-6).floor();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 to 11"
    )]
    let month = ((tick - year) * 12.0).round().clamp(0.0, 11.0) as usize;
    format!("{} {}", MONTHS[month], fixed(year, 0))
}

/// The day at the left edge.
fn time_from(time: &Axis) -> f64 {
    let per_px = time.span() / (RIGHT - LEFT);
    (LEFT - time.place(0.0)) * per_px
}

fn line_of(series: &YearSeries, time: &Axis, value: &Axis, within: impl Fn(f64) -> f64) -> String {
    path(
        series
            .bands
            .iter()
            .map(|band| (time.place(band.day), within(value.place(band.line)))),
    )
}

/// Both ends of an interval, as two lines.
fn ends(
    series: &YearSeries,
    of: impl Fn(&YearBand) -> [f64; 2],
    time: &Axis,
    value: &Axis,
    within: impl Fn(f64) -> f64,
) -> String {
    let one = |end: usize| {
        path(
            series
                .bands
                .iter()
                .map(|band| (time.place(band.day), within(value.place(of(band)[end])))),
        )
    };
    format!("{} {}", one(0), one(1))
}

/// The confidence band as an area.
fn between(series: &YearSeries, time: &Axis, value: &Axis, within: impl Fn(f64) -> f64) -> String {
    if series.bands.is_empty() {
        return String::new();
    }
    let place = |band: &YearBand, end: usize| {
        (
            time.place(band.day),
            within(value.place(band.confidence[end])),
        )
    };
    let there = series.bands.iter().map(|band| place(band, 0));
    let back = series.bands.iter().rev().map(|band| place(band, 1));
    format!("{} Z", path(there.chain(back)))
}

fn path(places: impl Iterator<Item = (f64, f64)>) -> String {
    let mut text = String::new();
    for (number, (x, y)) in places.enumerate() {
        let step = if number == 0 { "M" } else { " L" };
        text.push_str(&format!("{step}{} {}", px(x), px(y)));
    }
    text
}

fn span(values: impl Iterator<Item = f64>) -> Option<[f64; 2]> {
    let found = values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], value| {
        [low.min(value), high.max(value)]
    });
    (found[0] <= found[1]).then_some(found)
}
