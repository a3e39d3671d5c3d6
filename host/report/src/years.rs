//! The history of a spindle on one page: each figure through the visits as a picture, and the visits as a table.
//!
//! In: figures as they are to be drawn, in the reader's unit, and sentences ready to print. Out: one HTML page. Hollow is
//! what was entered from paper, or what lies before a repair.

use crate::Form;
use crate::document::{Document, Fact, Rise, Spindle};
use crate::letterhead::letterhead;
use crate::paper::{Block, Kind, Paper, Table, Text, body, figure, heading, note};
use crate::picture::{BAND, HAIR, INK, Label, Pen, Picture, SOFT, WHITE, touch};
use crate::rise;
use crate::scale::{Axis, round_step};
use crate::seen::grip_through_years;
use crate::year_series::{YearBand, YearLimit, YearPoint, YearSeries};
use holdtrue_wording::digits::fixed;
use holdtrue_wording::words::FIRST_LINE;

/// The width of the text, and of half of it.
const WHOLE: f64 = 498.9;
const HALF: f64 = 236.0;
const LEFT: f64 = 34.0;
const PLOT: f64 = 140.0;
/// From one row of labels to the next.
const ROW: f64 = 10.5;
const LONGEST_LABEL: usize = 48;
const DAYS_A_YEAR: f64 = 365.25;
const LEGEND: &str = "Bars: what a visit leaves open by itself. Hollow: from paper, or before a repair. Grey: where the line lies (95 %). \
                      Dotted: where one more visit would. Hatched: not allowed.";

/// The history of a spindle.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Years {
    /// Whose.
    pub spindle: Spindle,
    /// The day it was made, as it is read, and as RFC 3339 has it.
    pub made_on: String,
    /// The same for a program.
    pub made: String,
    /// Figures through the visits.
    pub series: Vec<YearSeries>,
    /// How the force rose at clamping as found, visit by visit.
    pub rises: Vec<Rise>,
    /// What the columns of the table are.
    pub columns: Vec<String>,
    /// The visits, a row each.
    pub visits: Vec<Vec<String>>,
    /// What happened beside the visits.
    pub events: Vec<Fact>,
    /// The version of the program that made the page.
    pub program: String,
}

/// The history as a paper.
pub(crate) fn paper(years: &Years, form: &Form) -> Paper {
    let name = years.spindle.name.as_deref().unwrap_or("unnamed spindle");
    let mut facts: Vec<(String, String)> = Vec::new();
    let mut fact = |label: &str, value: String| facts.push((label.to_owned(), value));
    for each in &years.spindle.facts {
        fact(&each.label, each.value.clone());
    }
    if let Some(place) = years.spindle.place_in_words() {
        fact("place", place);
    }
    fact("made on", years.made_on.clone());
    let mut blocks = letterhead(&form.letterhead);
    blocks.extend([
        Block::Paragraph(Kind::Caution, FIRST_LINE.into()),
        Block::Paragraph(Kind::Label, "Over the years".into()),
        heading(1, name),
        Block::Facts(facts),
    ]);
    for series in &years.series {
        blocks.push(heading(2, series.title.as_str()));
        blocks.extend(drawn(series));
    }
    blocks.extend(rise::over_earlier(&years.rises));
    let heads: Vec<&str> = years.columns.iter().map(String::as_str).collect();
    let mut table = Table::of(&heads);
    for row in &years.visits {
        table.row(row.iter().map(|text| text.as_str().into()).collect());
    }
    blocks.extend([heading(2, "Visits"), Block::Table(table)]);
    if !years.events.is_empty() {
        let event = |event: &Fact| Text::from(format!("{}: {}", event.label, event.value));
        blocks.push(heading(2, "What happened between"));
        blocks.push(Block::List(false, years.events.iter().map(event).collect()));
    }
    blocks.push(note(format!("Made by {}.", years.program)));
    Paper {
        title: format!("{name}: over the years"),
        program: years.program.clone(),
        code: None,
        of: format!("{name}, {}", years.made_on),
        made: Some(years.made.clone()),
        blocks,
    }
}

/// Among the evidence of a visit: how its figures came about, but for the one on the second page.
pub(crate) fn up_to_here(document: &Document) -> Vec<Block> {
    let on_second = grip_through_years(document);
    let others = document
        .over_years
        .iter()
        .filter(|series| Some(*series) != on_second);
    let mut blocks: Vec<Block> = others
        .flat_map(|series| {
            let mut blocks = vec![Block::Paragraph(Kind::Label, series.title.as_str().into())];
            blocks.extend(drawn(series));
            blocks
        })
        .chain(rise::over_earlier(&document.rises))
        .collect();
    if !blocks.is_empty() {
        blocks.insert(0, heading(3, "Over the years, up to this visit"));
    }
    blocks
}

/// In half the width of the text.
pub(crate) fn half(series: &YearSeries) -> Vec<Block> {
    let mut blocks = vec![Block::Paragraph(Kind::Label, series.title.as_str().into())];
    blocks.extend(picture(series, HALF).map(|picture| figure(picture, LEGEND)));
    blocks.extend(series.lines.iter().map(|line| note(line.as_str())));
    blocks
}

fn drawn(series: &YearSeries) -> Vec<Block> {
    let mut blocks: Vec<Block> = picture(series, WHOLE)
        .map(|picture| figure(picture, LEGEND))
        .into_iter()
        .collect();
    blocks.extend(series.lines.iter().map(|line| body(line.as_str())));
    blocks
}

/// Points with what each leaves open, the line in its bands, limit and events; none without a point.
pub(crate) fn picture(series: &YearSeries, width: f64) -> Option<Picture> {
    let right = width - 4.0;
    let days = series.points.iter().map(|point| point.day);
    let days = days.chain(series.bands.iter().map(|band| band.day));
    let span = span(days)?;
    let room = (0.03 * (span[1] - span[0])).max(20.0);
    let time = Axis::new([span[0] - room, span[1] + room], [LEFT, right]);
    let measured = series.points.iter().flat_map(|point| {
        let half = point.half_width.unwrap_or(0.0);
        [point.value - half, point.value + half]
    });
    let line = series.bands.iter().flat_map(|band| [band.line]);
    let limit = series.limit.iter().map(|limit| limit.value);
    let values = self::span(measured.chain(line).chain(limit))?;
    let room = (0.1 * (values[1] - values[0])).max(1e-9);
    let marks = marks(series, &time, right);
    #[expect(clippy::cast_precision_loss, reason = "a few rows")]
    let top = 14.0 + ROW * marks.iter().map(|mark| mark.row + 1).max().unwrap_or(0) as f64;
    let bottom = top + PLOT;
    let value = Axis::new([values[0] - room, values[1] + room], [bottom, top]);
    let within = |y: f64| y.clamp(top, bottom);
    let mut picture = Picture::new(width, bottom + 15.0);
    picture.title = series.title.clone();
    let limit_words = series
        .limit
        .as_ref()
        .map_or("without a limit", |limit| &limit.name);
    picture.description = format!(
        "{} visits, {limit_words}. {}",
        series.points.len(),
        series.lines.join(" ")
    );
    let place = |band: &YearBand, of: f64| (time.place(band.day), within(value.place(of)));
    let there = series
        .bands
        .iter()
        .map(|band| place(band, band.confidence[0]));
    let back = series
        .bands
        .iter()
        .rev()
        .map(|band| place(band, band.confidence[1]));
    picture.area(there.chain(back), Pen::fill(BAND));
    if let Some(limit) = &series.limit {
        let y = value.place(limit.value);
        let forbidden = if limit.upper { [top, y] } else { [y, bottom] };
        picture.hatch([LEFT, forbidden[0], right, forbidden[1]]);
    }
    grid(&mut picture, &time, &value, [top, bottom, right]);
    picture.label(Label::new(0.0, top - 5.0, series.unit.as_str()));
    for end in 0..2 {
        let ends = series
            .bands
            .iter()
            .map(|band| place(band, band.prediction[end]));
        picture.path(ends, Pen::line(0.6, INK).dashed(&[1.0, 2.5]));
    }
    picture.path(
        series.bands.iter().map(|band| place(band, band.line)),
        Pen::line(1.0, INK),
    );
    if let Some(limit) = &series.limit {
        let y = value.place(limit.value);
        picture.line((LEFT, y), (right, y), Pen::line(1.8, INK));
    }
    for mark in &marks {
        #[expect(clippy::cast_precision_loss, reason = "a few rows")]
        let y = top - 4.0 - ROW * mark.row as f64;
        let pen = match mark.breaks {
            true => Pen::line(1.0, INK),
            false => Pen::line(0.6, SOFT).dashed(&[2.0, 2.0]),
        };
        picture.line((mark.x, y + 2.0), (mark.x, bottom), pen);
        let mut label = mark.label.clone();
        label.y = y;
        picture.label(label);
    }
    for point in &series.points {
        dot(&mut picture, point, &time, &value);
    }
    if let Some(limit) = &series.limit {
        limit_label(
            &mut picture,
            limit,
            value.place(limit.value),
            series,
            (&time, &value),
            [top, bottom],
        );
    }
    Some(picture)
}

/// The name of the limit, at the end of its line where the fewest points are, inside the hatching.
fn limit_label(
    picture: &mut Picture,
    limit: &YearLimit,
    y: f64,
    series: &YearSeries,
    (time, value): (&Axis, &Axis),
    [top, bottom]: [f64; 2],
) {
    let right = picture.width - 6.0;
    let inside = if limit.upper { y - 5.0 } else { y + 11.0 };
    let outside = if limit.upper { y + 11.0 } else { y - 5.0 };
    let at = |y: f64| {
        [
            Label::new(LEFT + 3.0, y, limit.name.as_str()),
            Label::new(right, y, limit.name.as_str()).end(),
        ]
    };
    let covers = |label: &Label| {
        let bounds = label.bounds();
        let dots = series.points.iter().filter(|point| {
            let (x, y) = (time.place(point.day), value.place(point.value));
            touch(bounds, [x - 4.0, y - 4.0, x + 4.0, y + 4.0])
        });
        let outside = bounds[1] < top - 2.0 || bounds[3] > bottom + 2.0;
        dots.count() + if outside { 100 } else { 0 }
    };
    let places = [at(inside), at(outside)].concat();
    if let Some(label) = places.into_iter().min_by_key(covers) {
        picture.label(label.on_white());
    }
}

/// What happened, where it is drawn.
struct DrawnMark {
    x: f64,
    label: Label,
    row: usize,
    breaks: bool,
}

/// Each with its label above the picture, in the lowest row in which it touches no other.
fn marks(series: &YearSeries, time: &Axis, right: f64) -> Vec<DrawnMark> {
    let mut drawn: Vec<DrawnMark> = Vec::new();
    for (day, name, breaks) in &series.marks {
        let x = time.place(*day);
        if !(LEFT..=right).contains(&x) {
            continue;
        }
        let label = Label::new(x, 0.0, shortened(name))
            .middle()
            .within(LEFT, right);
        let touches = |other: &DrawnMark, row: usize| {
            let ([left, _, end, _], own) = (label.bounds(), other.label.bounds());
            let beside = end + 3.0 < own[0] || own[2] + 3.0 < left;
            let led_through = other.row > row && (left..=end).contains(&other.x);
            let leads_through = other.row < row && (own[0]..=own[2]).contains(&x);
            (other.row == row && !beside) || led_through || leads_through
        };
        let row = (0..=drawn.len() + 1).find(|row| !drawn.iter().any(|other| touches(other, *row)));
        let row = row.unwrap_or(drawn.len());
        drawn.push(DrawnMark {
            x,
            label,
            row,
            breaks: *breaks,
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

fn dot(picture: &mut Picture, point: &YearPoint, time: &Axis, value: &Axis) {
    let (x, y) = (time.place(point.day), value.place(point.value));
    if let Some(half) = point.half_width {
        let ends = [
            value.place(point.value - half),
            value.place(point.value + half),
        ];
        picture.line((x, ends[0]), (x, ends[1]), Pen::line(0.8, INK));
    }
    let fill = if point.hollow { WHITE } else { INK };
    picture.ring((x, y), 2.8, Pen::line(0.9, INK).filled(fill));
}

fn grid(picture: &mut Picture, time: &Axis, value: &Axis, [top, bottom, right]: [f64; 3]) {
    let (values, digits) = value.ticks(5);
    let first = 1970.0 + time.from() / DAYS_A_YEAR;
    let years = time.span() / DAYS_A_YEAR;
    // Of less than two years the quarters, of less than a half the months.
    let step = match years {
        _ if years < 0.5 => 1.0 / 12.0,
        _ if years < 2.0 => 0.25,
        _ => round_step((years / (right / 55.0)).max(1.0)),
    };
    let mut ticks = Vec::new();
    let mut tick = (first / step).ceil();
    while tick * step <= first + years && ticks.len() < 40 {
        ticks.push(tick * step);
        tick += 1.0;
    }
    for tick in values {
        let y = value.place(tick);
        picture.line((LEFT, y), (right, y), Pen::line(0.4, HAIR));
        picture.label(Label::new(LEFT - 4.0, y + 2.7, fixed(tick, digits)).end());
    }
    picture.line((LEFT, top), (LEFT, bottom), Pen::line(0.6, SOFT));
    picture.line((LEFT, bottom), (right, bottom), Pen::line(0.6, SOFT));
    for tick in ticks {
        let x = time.place((tick - 1970.0) * DAYS_A_YEAR);
        picture.line((x, bottom), (x, bottom + 3.0), Pen::line(0.6, SOFT));
        let label = Label::new(x, bottom + 12.0, named(tick, step)).middle();
        picture.label_if_free(label.within(0.0, right + 4.0));
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

fn span(values: impl Iterator<Item = f64>) -> Option<[f64; 2]> {
    let found = values.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], value| {
        [low.min(value), high.max(value)]
    });
    (found[0] <= found[1]).then_some(found)
}
