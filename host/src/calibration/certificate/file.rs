//! A certificate as a file. In: TOML. Out: what is known of the calibration, or the line and column that cannot be used.
//!
//! ```toml
//! schema = 1
//! certificate = "TP-F-0118"
//! laboratory = "Tern Point force bench"
//! date = 2026-03-02
//! due = 2027-03-02
//! rated_n = 25000
//! span_n = [500, 20000]
//! expanded_percent = 0.4     # k = 2
//! expanded_n = 8             # k = 2
//! coefficients = [0, 0.0116] # or [[point]] with load_n, reading_counts, expanded_n
//! ```
//!
//! With `channel = "indicator"` or `"probe"`: `span_um`, `expanded_um` and `travel_um` instead of those in N.

use crate::calibration::certificate::{Contradiction, Draft, DraftPoint, Entered, Length, enter};
use crate::tables::read_file;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::toml_file;
use holdtrue_protocol::message::Channel;
use jiff::civil::Date;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;
use uuid::Uuid;

const SCHEMA: i64 = 1;
const HELP: &str = "See the documentation of certificates.";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    schema: Spanned<i64>,
    id: Option<Spanned<Uuid>>,
    certificate: Spanned<String>,
    laboratory: Spanned<String>,
    date: Spanned<toml::Value>,
    due: Spanned<toml::Value>,
    channel: Option<Spanned<RawChannel>>,
    rated_n: Option<Spanned<f64>>,
    span_um: Option<Spanned<[f64; 2]>>,
    travel_um: Option<Spanned<f64>>,
    expanded_um: Option<Spanned<f64>>,
    span_n: Option<Spanned<[f64; 2]>>,
    temperature_c: Option<Spanned<f64>>,
    zero_counts: Option<i32>,
    expanded_percent: Option<Spanned<f64>>,
    expanded_n: Option<Spanned<f64>>,
    coefficients: Option<Spanned<Vec<f64>>>,
    #[serde(default)]
    point: Vec<Spanned<RawPoint>>,
}

/// What was calibrated.
#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "lowercase")]
enum RawChannel {
    Force,
    Probe,
    Indicator,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPoint {
    load_n: f64,
    reading_counts: f64,
    expanded_n: Option<f64>,
}

/// Reads a certificate; `um_per_count` of the gauge's probe, where a gauge tells it.
///
/// # Errors
/// The first thing that cannot be used, with line and column: exit 4.
pub fn read(name: &str, um_per_count: Option<f64>) -> Result<Entered, Error> {
    let bytes = read_file(name)?;
    let text = std::str::from_utf8(&bytes).map_err(|_| {
        let refusal = Refusal {
            found: "bytes that are not UTF-8",
            expected: "a text file",
            next: "Is this the right file?",
        };
        Error::input(Place::file(name), refusal)
    })?;
    let raw: RawFile = toml_file::parse(name, text, HELP)?;
    let at = |place: usize| toml_file::place(name, text, place);
    if *raw.schema.get_ref() != SCHEMA {
        let refusal = Refusal {
            found: &format!("schema {}", raw.schema.get_ref()),
            expected: "schema 1",
            next: "Update this program, or correct the number.",
        };
        return Err(Error::input(at(raw.schema.span().start), refusal));
    }
    let day = |given: &Spanned<toml::Value>| {
        day(given.get_ref()).map_err(|found| {
            let refusal = Refusal {
                found: &found,
                expected: "a day such as 2026-03-02",
                next: "Write year, month and day.",
            };
            Error::input(at(given.span().start), refusal)
        })
    };
    let (date, due) = (day(&raw.date)?, day(&raw.due)?);
    let places = places(&raw);
    if let Some((stray, expected)) = stray(&raw) {
        let refusal = Refusal {
            found: stray,
            expected,
            next: "N are of a force gauge, µm of an indicator (channel = \"indicator\" or \"probe\").",
        };
        return Err(Error::input(
            places
                .get(stray)
                .map_or_else(|| Place::file(name), |start| at(*start)),
            refusal,
        ));
    }
    let points: Vec<usize> = raw.point.iter().map(|point| point.span().start).collect();
    let place_of = |key: &str, point: Option<usize>| {
        let of_point = point.and_then(|point| points.get(point.checked_sub(1)?));
        let start = of_point.or_else(|| places.get(key));
        start.map_or_else(|| Place::file(name), |start| at(*start))
    };
    let mut entered = enter(&draft(raw, date, due, um_per_count)).map_err(|contradiction| {
        let place = place_of(contradiction.key, contradiction.point);
        refused(place, &contradiction)
    })?;
    for doubt in &mut entered.doubts {
        doubt.place = Some(place_of(doubt.key, doubt.point));
    }
    Ok(entered)
}

/// A key that belongs to the other kind of gauge.
fn stray(raw: &RawFile) -> Option<(&'static str, &'static str)> {
    let of_force = [
        ("rated_n", raw.rated_n.is_some()),
        ("span_n", raw.span_n.is_some()),
        ("expanded_n", raw.expanded_n.is_some()),
    ];
    let of_length = [
        ("span_um", raw.span_um.is_some()),
        ("travel_um", raw.travel_um.is_some()),
        ("expanded_um", raw.expanded_um.is_some()),
    ];
    let (wrong, expected) = match raw.channel.as_ref().map(Spanned::get_ref) {
        None | Some(RawChannel::Force) => (of_length, "the keys of a force gauge"),
        Some(_) => (of_force, "the keys of an indicator"),
    };
    let found = wrong.into_iter().find(|(_, there)| *there);
    found.map(|(key, _)| (key, expected))
}

fn refused(place: Place, contradiction: &Contradiction) -> Error {
    let found = match (contradiction.key, contradiction.point) {
        (_, Some(point)) => format!("in point {point} {}", contradiction.found),
        ("point", None) => contradiction.found.clone(),
        (key, None) => format!("{key} {}", contradiction.found),
    };
    let refusal = Refusal {
        found: &found,
        expected: contradiction.expected,
        next: contradiction.next,
    };
    Error::input(place, refusal)
}

fn day(value: &toml::Value) -> Result<Date, String> {
    let text = match value {
        toml::Value::Datetime(day) => day.to_string(),
        toml::Value::String(text) => text.clone(),
        other => other.to_string(),
    };
    text.parse().map_err(|_| text)
}

/// Where each part begins.
fn places(raw: &RawFile) -> BTreeMap<&'static str, usize> {
    fn start<T>(value: Option<&Spanned<T>>) -> Option<usize> {
        value.map(|value| value.span().start)
    }
    let all = [
        ("certificate", start(Some(&raw.certificate))),
        ("laboratory", start(Some(&raw.laboratory))),
        ("date", start(Some(&raw.date))),
        ("due", start(Some(&raw.due))),
        ("rated_n", start(raw.rated_n.as_ref())),
        ("span_um", start(raw.span_um.as_ref())),
        ("travel_um", start(raw.travel_um.as_ref())),
        ("expanded_um", start(raw.expanded_um.as_ref())),
        ("expanded_n", start(raw.expanded_n.as_ref())),
        ("span_n", start(raw.span_n.as_ref())),
        ("temperature_c", start(raw.temperature_c.as_ref())),
        ("expanded_percent", start(raw.expanded_percent.as_ref())),
        ("coefficients", start(raw.coefficients.as_ref())),
        ("point", start(raw.point.first())),
    ];
    all.into_iter()
        .filter_map(|(key, place)| Some((key, place?)))
        .collect()
}

fn draft(raw: RawFile, date: Date, due: Date, um_per_count: Option<f64>) -> Draft {
    let channel = match raw.channel.as_ref().map(Spanned::get_ref) {
        None | Some(RawChannel::Force) => None,
        Some(RawChannel::Probe) => Some(Channel::Displacement),
        Some(RawChannel::Indicator) => Some(Channel::Indicator),
    };
    let length = channel.map(|channel| Length {
        channel,
        span_um: raw.span_um.as_ref().map(|span| *span.get_ref()),
        travel_um: raw.travel_um.as_ref().map(|travel| *travel.get_ref()),
        expanded_um: raw.expanded_um.as_ref().map(|um| *um.get_ref()),
        um_per_count,
    });
    let point = |point: Spanned<RawPoint>| {
        let point = point.into_inner();
        DraftPoint {
            load_n: point.load_n,
            reading_counts: point.reading_counts,
            expanded_n: point.expanded_n,
        }
    };
    Draft {
        id: raw.id.map(Spanned::into_inner),
        certificate: Some(raw.certificate.into_inner()),
        laboratory: Some(raw.laboratory.into_inner()),
        date: Some(date),
        due: Some(due),
        span_n: raw.span_n.map(Spanned::into_inner),
        rated_n: raw.rated_n.map(Spanned::into_inner),
        temperature_c: raw.temperature_c.map(Spanned::into_inner),
        zero_counts: raw.zero_counts.unwrap_or(0),
        expanded_percent: raw.expanded_percent.map(Spanned::into_inner),
        expanded_n: raw.expanded_n.map(Spanned::into_inner),
        coefficients: raw
            .coefficients
            .map(Spanned::into_inner)
            .unwrap_or_default(),
        points: raw.point.into_iter().map(point).collect(),
        length,
    }
}
