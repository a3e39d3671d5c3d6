//! A certificate on its way into a gauge. In: what is known of a calibration. Out: the record the gauge stores, or the
//! one thing that contradicts another and what to do about it.

use crate::visits::book::book_writer::today_days;
use holdtrue_gauge::calibration;
use holdtrue_metrology::calibration::{
    Certificate, CertificatePoint, Unsound, farthest, read_certificate,
};
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use jiff::civil::Date;
use sha2::{Digest, Sha256};
use uuid::Uuid;

mod doubts;
pub mod file;
mod length;
mod options;

pub use crate::calibration::certificate::doubts::Doubt;
pub use crate::calibration::certificate::length::Length;
pub use crate::calibration::certificate::options::option_of;

/// Temperature of a laboratory where none is told, °C.
const USUAL_TEMPERATURE_C: f64 = 20.0;

/// What is known of a calibration; every part may still be missing.
#[derive(Clone, Debug, Default)]
pub struct Draft {
    /// Name given before, in another book; without it the content names the record.
    pub id: Option<Uuid>,
    /// Number of the certificate.
    pub certificate: Option<String>,
    /// Who calibrated.
    pub laboratory: Option<String>,
    /// Day of the calibration.
    pub date: Option<Date>,
    /// Day the next one is due.
    pub due: Option<Date>,
    /// Lowest and highest calibrated force, N.
    pub span_n: Option<[f64; 2]>,
    /// Rated load, N.
    pub rated_n: Option<f64>,
    /// Temperature at the calibration, °C.
    pub temperature_c: Option<f64>,
    /// Counts at no load.
    pub zero_counts: i32,
    /// Expanded uncertainty (k = 2), part in proportion to the reading, %.
    pub expanded_percent: Option<f64>,
    /// Expanded uncertainty (k = 2), fixed part, N.
    pub expanded_n: Option<f64>,
    /// Force from counts, constant first.
    pub coefficients: Vec<f64>,
    /// Points the curve is made from, where the certificate states no coefficients.
    pub points: Vec<DraftPoint>,
    /// Of an indicator or a probe, where it is not the load cell's.
    pub length: Option<Length>,
}

/// One line of a certificate.
#[derive(Clone, Copy, Debug)]
pub struct DraftPoint {
    /// Load, N.
    pub load_n: f64,
    /// Reading less the reading at no load, counts.
    pub reading_counts: f64,
    /// Expanded uncertainty (k = 2) at this load, N; without it that of the whole certificate.
    pub expanded_n: Option<f64>,
}

/// What keeps a certificate from being used.
#[derive(Clone, Debug, PartialEq)]
pub struct Contradiction {
    /// The part of the certificate, by its key in the file.
    pub key: &'static str,
    /// Which of the points, counted from one, where the part is a point.
    pub point: Option<usize>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: &'static str,
    /// What to do next, a whole sentence.
    pub next: &'static str,
}

/// A certificate that agrees with itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Entered {
    /// What the gauge stores.
    pub record: CalibrationRecord,
    /// How the curve came out of the points, if there were points.
    pub fitted: Option<Certificate>,
    /// What looks mistyped.
    pub doubts: Vec<Doubt>,
}

pub(crate) fn refuse<T>(
    key: &'static str,
    found: impl Into<String>,
    expected: &'static str,
    next: &'static str,
) -> Result<T, Contradiction> {
    Err(Contradiction {
        key,
        point: None,
        found: found.into(),
        expected,
        next,
    })
}

/// The same of one of the points.
fn refuse_point<T>(
    point: Option<usize>,
    found: impl Into<String>,
    expected: &'static str,
    next: &'static str,
) -> Result<T, Contradiction> {
    refuse("point", found, expected, next).map_err(|refused| Contradiction { point, ..refused })
}

/// Makes the record of a certificate.
///
/// # Errors
/// The first thing that is missing or contradicts another.
pub fn enter(draft: &Draft) -> Result<Entered, Contradiction> {
    match &draft.length {
        Some(length) => entered(length::record(draft, length)?, None, draft),
        None => enter_force(draft),
    }
}

/// Held to the same rules as a record that comes from a gauge.
fn entered(
    record: CalibrationRecord,
    fitted: Option<Certificate>,
    draft: &Draft,
) -> Result<Entered, Contradiction> {
    let record = named(record, draft);
    calibration::require_sound(&record)
        .map_err(|unsound| contradiction(unsound, draft, fitted.is_some()))?;
    Ok(Entered {
        doubts: doubts::doubts(&record, fitted.as_ref()),
        record,
        fitted,
    })
}

/// What the points gave is put right in the points: the likeliest is named.
fn contradiction(unsound: Unsound, draft: &Draft, is_fitted: bool) -> Contradiction {
    let Unsound {
        part: key,
        found,
        expected,
        next,
    } = unsound;
    match is_fitted {
        true if key == "expanded_n" => {
            let off = points(draft).ok().and_then(|points| farthest(&points));
            let off = off.map(|off| (off.point, doubts::off_curve(&off)));
            Contradiction {
                key: "point",
                point: off.as_ref().map(|(point, _)| *point),
                found: off.map_or(found.clone(), |(_, text)| format!("{found}: {text}")),
                expected,
                next: "Is a point mistyped, in load, reading or uncertainty?",
            }
        }
        _ => Contradiction {
            key,
            point: None,
            found,
            expected,
            next,
        },
    }
}

fn enter_force(draft: &Draft) -> Result<Entered, Contradiction> {
    let (date_days, due_days) = days(draft)?;
    let fitted = fit(draft)?;
    let span = span(draft, fitted.as_ref())?;
    let rated = rated(draft)?;
    let (expanded_relative, expanded_fixed) = uncertainty(draft, fitted.as_ref());
    let record = CalibrationRecord {
        id: [0; 16],
        channel: Channel::Force,
        coefficients: coefficients(draft, fitted.as_ref())?,
        zero_counts: draft.zero_counts,
        expanded_relative,
        expanded_fixed,
        span,
        rated,
        temperature_c: temperature(draft),
        date_days,
        due_days,
        certificate: text("certificate", draft.certificate.as_deref())?,
        laboratory: text("laboratory", draft.laboratory.as_deref())?,
    };
    entered(record, fitted, draft)
}

fn named(record: CalibrationRecord, draft: &Draft) -> CalibrationRecord {
    let name = draft.id.unwrap_or_else(|| named_by_content(&record));
    CalibrationRecord {
        id: name.into_bytes(),
        ..record
    }
}

/// The same certificate entered twice, or on two computers, is one and the same record.
fn named_by_content(record: &CalibrationRecord) -> Uuid {
    let sum = Sha256::digest(calibration::to_bytes(record));
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&sum[..16]);
    uuid::Builder::from_custom_bytes(bytes).into_uuid()
}

fn text(key: &'static str, given: Option<&str>) -> Result<heapless::String<32>, Contradiction> {
    let given = given.map(str::trim).unwrap_or_default();
    let next = "Write it as on the paper, shortened if need be.";
    if given.is_empty() {
        return refuse(key, "nothing", "1 to 32 bytes of text", next);
    }
    heapless::String::try_from(given).or_else(|_| {
        let found = format!("{} bytes", given.len());
        refuse(key, found, "1 to 32 bytes of text", next)
    })
}

fn days(draft: &Draft) -> Result<(i32, i32), Contradiction> {
    let expected = "a day such as 2026-03-02";
    let Some(date) = draft.date else {
        let next = "Enter the day of the calibration.";
        return refuse("date", "nothing", expected, next);
    };
    let Some(due) = draft.due else {
        let next = "Enter the day the next calibration is due; usual is a year later.";
        return refuse("due", "nothing", expected, next);
    };
    let (from, to) = (day_number(date), day_number(due));
    if from > today_days() {
        let next = "Correct it, or set this computer's clock.";
        return refuse(
            "date",
            date.to_string(),
            "a day that is not in the future",
            next,
        );
    }
    Ok((from, to))
}

fn day_number(date: Date) -> i32 {
    let epoch = jiff::civil::date(1970, 1, 1);
    date.since(epoch).map_or(0, |span| span.get_days())
}

fn fit(draft: &Draft) -> Result<Option<Certificate>, Contradiction> {
    let next = "Enter the coefficients the certificate states, or its points, not both.";
    match (draft.coefficients.len(), draft.points.len()) {
        (0, 0) => refuse(
            "coefficients",
            "neither coefficients nor points",
            "one of them",
            next,
        ),
        (1.., 1..) => refuse("point", "coefficients and points", "one of them", next),
        (1.., 0) => Ok(None),
        (0, 1..) => {
            let points = points(draft)?;
            read_certificate(&points)
                .map(Some)
                .or_else(|e| refuse_point(e.point(), e.found(), e.expected(), e.next()))
        }
    }
}

fn points(draft: &Draft) -> Result<Vec<CertificatePoint>, Contradiction> {
    let share = draft.expanded_percent.unwrap_or(0.0) / 100.0;
    let fixed = draft.expanded_n.unwrap_or(0.0);
    let whole = |load_n: f64| (share * load_n).hypot(fixed);
    let point = |p: &DraftPoint| CertificatePoint {
        load_n: p.load_n,
        reading_counts: p.reading_counts,
        expanded_n: p.expanded_n.unwrap_or_else(|| whole(p.load_n)),
    };
    let points: Vec<CertificatePoint> = draft.points.iter().map(point).collect();
    let is_without = |p: &DraftPoint| p.expanded_n.is_none() && whole(p.load_n) <= 0.0;
    match draft.points.iter().position(is_without) {
        Some(without) => refuse_point(
            Some(without + 1),
            format!("no uncertainty at {} N", points[without].load_n),
            "an expanded uncertainty (k = 2) for it or for the whole certificate",
            "A verdict needs it: enter what the certificate states.",
        ),
        None => Ok(points),
    }
}

fn span(draft: &Draft, fitted: Option<&Certificate>) -> Result<[f64; 2], Contradiction> {
    let shown = |[low, high]: [f64; 2]| format!("{low} to {high} N");
    let covered = fitted.map(|found| found.span_n);
    let Some([low, high]) = draft.span_n.or(covered) else {
        let next = "Enter the lowest and the highest force that was applied.";
        return refuse("span_n", "nothing", "two forces in N", next);
    };
    match covered {
        Some([first, last]) if low < first || high > last => {
            let found = format!("{}, points {}", shown([low, high]), shown([first, last]));
            let next = "Leave the span out: it goes as far as the points do.";
            refuse("span_n", found, "a span within the points", next)
        }
        _ => Ok([low, high]),
    }
}

fn rated(draft: &Draft) -> Result<f64, Contradiction> {
    let next = "Read it on the gauge's own label.";
    draft.rated_n.map_or_else(
        || refuse("rated_n", "nothing", "the rated load in N", next),
        Ok,
    )
}

/// Relative and fixed part, 0 where nothing is stated. Points carry their own.
fn uncertainty(draft: &Draft, fitted: Option<&Certificate>) -> (f64, f64) {
    let (percent, fixed) = match fitted {
        Some(found) => (found.expanded_percent, found.expanded_n),
        None => (
            draft.expanded_percent.unwrap_or(0.0),
            draft.expanded_n.unwrap_or(0.0),
        ),
    };
    (percent / 100.0, fixed)
}

fn coefficients(draft: &Draft, fitted: Option<&Certificate>) -> Result<[f64; 4], Contradiction> {
    let given = match fitted {
        Some(found) => &found.inverse.coefficients,
        None => &draft.coefficients,
    };
    let mut all = [0.0; 4];
    if !(2..=all.len()).contains(&given.len()) {
        return refuse(
            "coefficients",
            format!("{given:?}"),
            "2 to 4 numbers, constant first",
            "Enter N, N for each count, N for each count squared … (0 for a constant that is none).",
        );
    }
    all[..given.len()].copy_from_slice(given);
    Ok(all)
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "a temperature has no more digits than this keeps"
)]
fn temperature(draft: &Draft) -> f32 {
    draft.temperature_c.unwrap_or(USUAL_TEMPERATURE_C) as f32
}

#[cfg(test)]
mod tests;
