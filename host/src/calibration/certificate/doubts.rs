//! What looks mistyped in a certificate that agrees with itself. In: the record and its points. Out: what to ask about.

use crate::calibration::certificate::options::option_of;
use crate::terminal::error::Place;
use holdtrue_gauge::calibration;
use holdtrue_gauge::calibration::day_text;
use holdtrue_metrology::calibration::{Certificate, Doubtful, LONGEST_YEARS, OffCurve};
use holdtrue_protocol::message::CalibrationRecord;

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
    let days = record.due_days - record.date_days;
    let stated = calibration::stated(record).doubtful(days);
    let stated = stated.into_iter().map(|doubtful| of(doubtful, record));
    off.into_iter().chain(stated).collect()
}

fn of(doubtful: Doubtful, record: &CalibrationRecord) -> Doubt {
    let [_, high] = record.span;
    match doubtful {
        Doubtful::Long { days } => {
            let due = day_text(record.due_days);
            let found = format!("due on {due}, {} years after the calibration", days / 365);
            Doubt::new("due", found, format!("a day within {LONGEST_YEARS} years"))
        }
        Doubtful::TooGood { share } => {
            let percent = 100.0 * share;
            let found = format!("an expanded uncertainty of {percent:.1e} % at {high} N");
            Doubt::new("expanded_percent", found, "0.001 % or more")
        }
        Doubtful::Constant { constant_n } => {
            let found = format!("a constant of {constant_n} N, of a span up to {high} N");
            let expected = "one near 0: the counts at no load are taken off before, zero_counts";
            Doubt::new("coefficients", found, expected)
        }
    }
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
