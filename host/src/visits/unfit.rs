//! A gauge that a check found not fit. In: the book's checks of a gauge. Out: whether that still stands, and why.

use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::checks::stored_calibration;
use crate::visits::checks::stored_check;
use crate::visits::known_day::KnownDay;
use holdtrue_book::{Book, GaugeCheck};
use holdtrue_metrology::gauge_check::control::{Found, open_finding};
use holdtrue_protocol::message::CalibrationRecord;
use jiff::Timestamp;
use uuid::Uuid;

/// What a look at a gauge at rest found stands for so long without another look; after a day it is another's gauge.
const LASTS_S: i64 = 24 * 3600;

/// Kept checks with what they found.
pub type Checks = Vec<(GaugeCheck, Found)>;

/// A finding that still stands.
#[derive(Clone, Debug)]
pub struct Unfit {
    /// When it was found.
    at: String,
    /// What, each with what to do.
    reasons: Vec<String>,
    /// It was found on a check standard.
    on_standard: bool,
}

impl Unfit {
    /// When it was found, what, and what takes it back.
    pub fn words(&self) -> String {
        let until = match self.on_standard {
            true => {
                "a check finds it good on a check standard again (holdtrue gauge check --standard-n), or it is calibrated anew"
            }
            false => "holdtrue gauge check finds it fit",
        };
        format!(
            "This gauge was found NOT fit to measure at {} ({}): nothing is within limit by it until {until}.",
            times::moment(&self.at),
            self.reasons.join("; ")
        )
    }
}

/// The kept checks of a gauge, oldest first.
///
/// # Errors
/// When the book cannot be read.
pub fn checks(book: &Book, gauge: Uuid) -> Result<Checks, Error> {
    let checks = book.gauge_checks(gauge)?.into_iter();
    checks
        .map(|check| {
            let found = stored_check::read(book, &check.content)?;
            Ok((check, found))
        })
        .collect()
}

/// Those under one calibration.
///
/// # Errors
/// When the book cannot be read.
pub fn checks_under(
    book: &Book,
    gauge: Uuid,
    calibration: &CalibrationRecord,
) -> Result<Checks, Error> {
    let carried = Some(Uuid::from_bytes(calibration.id));
    let mut kept = checks(book, gauge)?;
    kept.retain(|(check, _)| check.calibration == carried);
    Ok(kept)
}

/// What still stands of what was found under a calibration: on a check standard, until one takes it back; else what the last
/// check found, for a day. `on`: as it stood on a day of the past, where only what a check standard showed is known.
///
/// # Errors
/// When the book cannot be read.
pub fn found(
    book: &Book,
    gauge: Uuid,
    calibration: &CalibrationRecord,
    on: Option<&KnownDay>,
) -> Result<Option<Unfit>, Error> {
    let mut kept = checks_under(book, gauge, calibration)?;
    if let Some(on) = on {
        let by_then = |at: &str| KnownDay::of(at).is_none_or(|day| day.first <= on.last);
        kept.retain(|(check, _)| by_then(&check.stamp.at));
    }
    let unfit = |(check, found): &(GaugeCheck, Found), on_standard: bool| Unfit {
        at: check.stamp.at.clone(),
        reasons: found.reasons.clone(),
        on_standard,
    };
    let all = kept.iter().map(|(_, found)| found);
    if let Some((place, _)) = open_finding(all, calibration.rated) {
        return Ok(Some(unfit(&kept[place], true)));
    }
    if on.is_some() {
        return Ok(None);
    }
    let last = kept.last().filter(|(check, _)| !check.fit);
    let last = last.filter(|(check, _)| is_of_today(check));
    Ok(last.map(|last| unfit(last, false)))
}

/// Whether what a check found at rest still stands; one whose time cannot be read does.
pub fn is_of_today(check: &GaugeCheck) -> bool {
    let at: Option<Timestamp> = check.stamp.at.parse().ok();
    at.is_none_or(|at| Timestamp::now().duration_since(at).as_secs() <= LASTS_S)
}

/// The same under the newest calibration the book knows of a gauge.
///
/// # Errors
/// When the book cannot be read.
pub fn by_the_newest_calibration(book: &Book, gauge: Uuid) -> Result<Option<Unfit>, Error> {
    let mut measured_with = book.measured_with(gauge)?;
    let checked_with = book.gauge_checks(gauge)?.into_iter();
    measured_with.extend(checked_with.filter_map(|check| check.calibration));
    let newest = stored_calibration::newest(book, gauge, measured_with)?;
    let found = newest.map(|record| found(book, gauge, &record, None));
    found.transpose().map(Option::flatten)
}
