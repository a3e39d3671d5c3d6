//! A trend as a document. In: the series and what it tells. Out: the JSON, and the reason in words.

use crate::terminal::error::Error;
use crate::trend::arguments::Against;
use crate::trend::followed::{Followed, HeldTo, Mark, Row};
use crate::visits::checks::stored_calibration;
use crate::visits::checks::stored_figure::StoredFigure;
use crate::visits::spindles::history::date_of;
use holdtrue_book::{Book, Entity, GaugeHeader, SpindleHeader};
use holdtrue_metrology::trend::LEVEL;
use holdtrue_metrology::trend::{
    CROSSING_FROM, Chart, Crossing, LINE_FROM, Line, NoCrossing, NoLine, RobustSlope, Series, Step,
    order_p, robust_slope,
};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Printed with every crossing.
pub const GRADUAL_ONLY: &str =
    "A gradual trend only. Broken springs, fingers or knobs give no warning.";

/// How many places of the bands are told.
const BAND_PLACES: u32 = 40;

/// What is followed.
#[derive(Debug)]
pub enum Subject {
    /// A table, by its name.
    Table(String),
    /// A spindle of the book.
    Spindle {
        /// Its entry.
        id: Uuid,
        /// What people call it.
        name: String,
        /// Serial numbers of the gauges used.
        gauges: BTreeMap<Uuid, String>,
        /// What people call the calibrations used.
        calibrations: BTreeMap<Uuid, String>,
    },
}

impl Subject {
    /// A spindle, with the names of what was used on it.
    ///
    /// # Errors
    /// The book cannot be read: exit 6.
    pub fn of_book(
        book: &Book,
        spindle: &Entity<SpindleHeader>,
        followed: &Followed,
    ) -> Result<Self, Error> {
        let mut gauges = BTreeMap::new();
        let mut calibrations = BTreeMap::new();
        for row in &followed.rows {
            if let Some(gauge) = row.gauge
                && !gauges.contains_key(&gauge)
            {
                gauges.insert(
                    gauge,
                    book.get::<GaugeHeader>(gauge)?.header().serial.clone(),
                );
            }
            if let Some(calibration) = row.calibration
                && !calibrations.contains_key(&calibration)
            {
                let record = stored_calibration::of_id(book, Some(calibration))?;
                let name = record.map_or_else(
                    || "certificate".to_owned(),
                    |record| {
                        let date = holdtrue_gauge::calibration::day_text(record.date_days);
                        format!("{} of {date}", record.certificate.as_str())
                    },
                );
                calibrations.insert(calibration, name);
            }
        }
        Ok(Self::Spindle {
            id: spindle.id,
            name: spindle.header().name.clone(),
            gauges,
            calibrations,
        })
    }

    /// The gauge of a visit, in a word.
    pub fn gauge(&self, row: &Row) -> Option<&str> {
        match (self, row.gauge) {
            (Self::Spindle { gauges, .. }, Some(gauge)) => gauges.get(&gauge).map(String::as_str),
            _ => None,
        }
    }

    /// Its calibration.
    pub fn calibration(&self, row: &Row) -> Option<&str> {
        match (self, row.calibration) {
            (Self::Spindle { calibrations, .. }, Some(id)) => {
                calibrations.get(&id).map(String::as_str)
            }
            _ => None,
        }
    }
}

/// The document.
#[derive(Debug, Serialize)]
pub struct Document {
    check: &'static str,
    schema: u32,
    /// The figure; null of a table that does not say.
    pub figure: Option<StoredFigure>,
    /// Against what.
    pub against: Against,
    counter: Option<&'static str>,
    /// The unit of the figure.
    pub unit: &'static str,
    spindle: Option<SpindleInDocument>,
    /// What it is held against.
    pub limit: Option<HeldTo>,
    /// Every visit.
    pub series: Vec<SeriesRow>,
    series_from: usize,
    slope: Option<f64>,
    slope_95: Option<[f64; 2]>,
    p: Option<f64>,
    /// The figures run one way.
    pub trend: bool,
    /// When the limit is reached.
    pub crossing: Option<CrossingAt>,
    /// Why there is no trend, or no crossing; null where there is one.
    pub reason: Option<String>,
    warning: Option<&'static str>,
    between_standard: Option<f64>,
    scale: Option<f64>,
    order_p: Option<f64>,
    robust: Option<RobustSlope>,
    step: Option<Step>,
    chart: Option<Chart>,
    bands: Vec<Band>,
    events: Vec<Mark>,
    notes: Vec<String>,
}

#[derive(Debug, Serialize)]
struct SpindleInDocument {
    id: Uuid,
    name: String,
}

/// One visit of the document.
#[derive(Debug, Serialize)]
pub struct SeriesRow {
    visit: Option<Uuid>,
    at: Value,
    day: Option<String>,
    value: f64,
    standard: Option<f64>,
    repair_before: bool,
    shared_standard: Option<f64>,
    gauge: Option<String>,
    calibration: Option<String>,
    from_paper: bool,
}

/// A crossing in the units of what it is against: days as dates.
#[derive(Debug, PartialEq, Serialize)]
pub struct CrossingAt {
    /// Where the line meets the limit.
    pub estimate: Value,
    /// The earliest; null: not bounded.
    pub earliest: Value,
    /// The latest; null: not bounded as far ahead as was looked back.
    pub latest: Value,
}

#[derive(Debug, Serialize)]
struct Band {
    at: Value,
    line: f64,
    confidence_95: [f64; 2],
    prediction_95: [f64; 2],
}

/// Makes it.
pub fn of(followed: &Followed, found: &Series, subject: &Subject) -> Document {
    let line = found.line.as_ref().ok();
    let stretch = &followed.rows[found.from.min(followed.rows.len())..];
    let values: Vec<f64> = stretch.iter().map(|row| row.point.value).collect();
    let x: Vec<f64> = stretch.iter().map(|row| row.point.x).collect();
    let crossing = found.crossing.and_then(Result::ok);
    Document {
        check: "trend",
        schema: 1,
        figure: followed.figure,
        against: followed.against,
        counter: followed.counter,
        unit: followed.unit,
        spindle: match subject {
            Subject::Table(_) => None,
            Subject::Spindle { id, name, .. } => Some(SpindleInDocument {
                id: *id,
                name: name.clone(),
            }),
        },
        limit: followed.limit.clone(),
        series: followed
            .rows
            .iter()
            .map(|row| series_row(row, followed.against, subject))
            .collect(),
        series_from: found.from,
        slope: line.map(|line| line.slope),
        slope_95: line.map(Line::slope_interval),
        p: line.map(Line::p),
        trend: found.trend,
        crossing: crossing.map(|crossing| at(crossing, followed.against)),
        reason: reason(followed, found),
        warning: crossing.map(|_| GRADUAL_ONLY),
        between_standard: line.map(|line| line.between_variance.sqrt()),
        scale: line.map(|line| line.scale),
        order_p: line.and_then(|_| order_p(&values)),
        robust: line.and_then(|_| robust_slope(&x, &values, LEVEL)),
        step: found.step,
        chart: found.chart.clone(),
        bands: line.map_or_else(Vec::new, |line| bands(line, stretch, followed.against)),
        events: followed.events.clone(),
        notes: followed.messages.clone(),
    }
}

fn series_row(row: &Row, against: Against, subject: &Subject) -> SeriesRow {
    SeriesRow {
        visit: row.visit,
        at: match (against, &row.day) {
            (Against::Date, Some(day)) => Value::from(day.clone()),
            _ => Value::from(row.point.x),
        },
        day: row.day.clone(),
        value: row.point.value,
        standard: row.point.own,
        repair_before: row.point.repair_before,
        shared_standard: row.point.shared,
        gauge: subject.gauge(row).map(str::to_owned),
        calibration: subject.calibration(row).map(str::to_owned),
        from_paper: row.paper,
    }
}

/// Days as dates, the ends outwards; counts as they are.
pub fn at(crossing: Crossing, against: Against) -> CrossingAt {
    let place = |x: f64, whole: fn(f64) -> f64| match against {
        Against::Date => Value::from(date_of(whole(x))),
        Against::Hours | Against::ToolChanges => Value::from(x),
    };
    CrossingAt {
        estimate: place(crossing.estimate, f64::round),
        earliest: crossing
            .earliest
            .map_or(Value::Null, |x| place(x, f64::floor)),
        latest: crossing.latest.map_or(Value::Null, |x| place(x, f64::ceil)),
    }
}

fn bands(line: &Line, stretch: &[Row], against: Against) -> Vec<Band> {
    let xs = stretch.iter().map(|row| row.point.x);
    let first = xs.clone().fold(f64::INFINITY, f64::min);
    let last = xs.fold(f64::NEG_INFINITY, f64::max);
    let span = last - first;
    // One more visit is taken to be like the last.
    let own = stretch
        .iter()
        .rev()
        .find_map(|row| row.point.own)
        .unwrap_or(0.0);
    let place = |number: u32| {
        let x = first + 2.0 * span * f64::from(number) / f64::from(BAND_PLACES);
        Band {
            at: match against {
                Against::Date => Value::from(date_of(x.round())),
                Against::Hours | Against::ToolChanges => Value::from(x),
            },
            line: line.at(x),
            confidence_95: line.confidence(x),
            prediction_95: line.prediction(x, own),
        }
    };
    (0..=BAND_PLACES).map(place).collect()
}

/// Why nothing more is told.
fn reason(followed: &Followed, found: &Series) -> Option<String> {
    let here = followed.rows.len() - found.from.min(followed.rows.len());
    let since = if found.from > 0 {
        " since the spindle was repaired"
    } else {
        ""
    };
    let visits = |count: usize| {
        if count == 1 {
            "1 visit".to_owned()
        } else {
            format!("{count} visits")
        }
    };
    if let Err(no_line) = &found.line {
        return Some(match no_line {
            NoLine::TooFew if here == 0 => {
                format!("No visit gives this figure as found. A trend takes {LINE_FROM}.")
            }
            NoLine::TooFew => format!("{}{since}: a trend takes {LINE_FROM}.", visits(here)),
            NoLine::OnePlace => format!(
                "All {} stand at one place: there is nothing to follow them along.",
                visits(here)
            ),
        });
    }
    if let Some(what) = followed.ended_by.as_ref().filter(|_| found.trend) {
        return Some(format!(
            "That was before: {what}. A new series began with it, and no crossing is told of the one that ended."
        ));
    }
    if !found.trend {
        return Some(
            "The figures differ by no more than visits do by chance: no trend can be told."
                .to_owned(),
        );
    }
    if followed.limit.is_none() {
        return Some("No limit is known for this figure: give one with --limit.".to_owned());
    }
    if here < CROSSING_FROM {
        return Some(format!(
            "{}{since}: a crossing takes {CROSSING_FROM}.",
            visits(here)
        ));
    }
    match found.crossing {
        Some(Err(NoCrossing::Away)) => Some("The figures run away from the limit.".to_owned()),
        Some(Err(NoCrossing::Far)) => {
            Some("At this pace the limit is not reached within as long a time as was looked back on, and no farther is looked ahead.".to_owned())
        }
        Some(Err(NoCrossing::Before)) => Some("The line lies beyond the limit from the first visit on.".to_owned()),
        Some(Ok(_)) | None => None,
    }
}
