//! What looks mistyped in a certificate that agrees with itself. In: the record and its points. Out: what to ask about.

use crate::calibration::certificate::options::option_of;
use crate::terminal::error::Place;
use holdtrue_gauge::calibration::day_text;
use holdtrue_metrology::calibration::{Certificate, OffCurve};
use holdtrue_protocol::message::{CalibrationRecord, Channel};

/// Nobody lets a gauge go so long without a calibration.
const LONGEST_YEARS: i32 = 5;
/// No laboratory calibrates a force gauge better than this, as a share of the force.
const BEST_SHARE: f64 = 1e-5;
/// The constant of a curve is near zero, because the counts at no load are taken off before: this share of the span.
const LARGEST_CONSTANT: f64 = 0.01;

/// Something a person should say yes to before it is used.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// The part of the certificate, by its key in the file.
    pub key: &'static str,
    /// Which of the points, counted from one, where the part is a point.
    pub point: Option<usize>,
    /// Where it stands, if it came in a file.
    pub place: Option<Place>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
}

impl Doubt {
    pub(crate) fn new(key: &'static str, found: String, expected: impl Into<String>) -> Self {
        Self {
            key,
            point: None,
            place: None,
            found,
            expected: expected.into(),
        }
    }

    /// One sentence, with its place.
    pub fn words(&self) -> String {
        let option = || option_of(self.key);
        let place = self.place.as_ref().map_or_else(option, Place::to_string);
        format!("{place}: found {}, expected {}.", self.found, self.expected)
    }
}

/// Everything to be asked about.
pub(crate) fn doubts(record: &CalibrationRecord, fitted: Option<&Certificate>) -> Vec<Doubt> {
    let off = fitted.and_then(|fitted| fitted.off_curve).map(|off| Doubt {
        point: Some(off.point),
        ..Doubt::new(
            "point",
            off_curve(&off),
            "points on a smooth curve, each within 3 times its uncertainty",
        )
    });
    let of_force = |doubt: Option<Doubt>| doubt.filter(|_| record.channel == Channel::Force);
    let all = [
        off,
        due(record),
        of_force(too_good(record)),
        of_force(constant(record)),
    ];
    all.into_iter().flatten().collect()
}

/// How far a point lies off, in words.
pub(crate) fn off_curve(off: &OffCurve) -> String {
    format!(
        "a point at {} N that lies {:.0} N off the curve through the others, its uncertainty is {} N",
        off.load_n,
        off.off_n.abs(),
        off.expanded_n
    )
}

fn due(record: &CalibrationRecord) -> Option<Doubt> {
    let days = record.due_days - record.date_days;
    (days > LONGEST_YEARS * 366).then(|| {
        let due = day_text(record.due_days);
        let found = format!("due on {due}, {} years after the calibration", days / 365);
        Doubt::new("due", found, format!("a day within {LONGEST_YEARS} years"))
    })
}

fn too_good(record: &CalibrationRecord) -> Option<Doubt> {
    let [_, high] = record.span;
    let share = record.expanded_relative.hypot(record.expanded_fixed / high);
    (share < BEST_SHARE).then(|| {
        let found = format!(
            "an expanded uncertainty of {:.1e} % at {high} N",
            100.0 * share
        );
        Doubt::new("expanded_percent", found, "0.001 % or more")
    })
}

fn constant(record: &CalibrationRecord) -> Option<Doubt> {
    let ([constant, ..], [_, high]) = (record.coefficients, record.span);
    (constant.abs() > LARGEST_CONSTANT * high).then(|| {
        let found = format!("a constant of {constant} N, of a span up to {high} N");
        let expected = "one near 0: the counts at no load are taken off before, zero_counts";
        Doubt::new("coefficients", found, expected)
    })
}
