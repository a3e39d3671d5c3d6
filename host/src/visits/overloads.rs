//! In: overloads a gauge tells of, what the book knows of their days, a calibration. Out: those that came after it.
//!
//! A gauge has no calendar: it numbers its boots and counts microseconds. An overload is of the day a book first saw it,
//! also where it is first seen as a calibration is written: the paper may be older than the overload. It is known to lie
//! before a calibration in two ways: it was seen on an earlier day than the calibration's, or on that very day and was in
//! the gauge when that calibration, newer than the one before, was written into it. Every other overload counts as later.

use crate::visits::told;
use crate::visits::told::Told;
use holdtrue_book::{Entity, GaugeHeader, GaugeOverload};
use holdtrue_gauge::calibration::day_text;
use holdtrue_protocol::message::{CalibrationRecord, Overload};

/// What a book knows after it has seen a gauge's history on a day.
pub fn seen(known: &[GaugeOverload], history: &[Overload], today_days: i32) -> Vec<GaugeOverload> {
    add(known, history, &day_text(today_days + 1))
}

/// What a book knows after a new calibration was written today into a gauge with this history. What was seen after the
/// calibration's day, and what nobody saw before today, stays later than a calibration of an earlier day.
pub fn recalibrated(
    known: &[GaugeOverload],
    history: &[Overload],
    record: &CalibrationRecord,
    today_days: i32,
) -> Vec<GaugeOverload> {
    let (day, next_day) = (day_text(record.date_days), day_text(record.date_days + 1));
    let mut all = seen(known, history, today_days);
    for overload in &mut all {
        if overload.past_from == next_day {
            overload.past_from.clone_from(&day);
        }
    }
    all
}

/// Overloads since a calibration.
pub fn since<'k>(
    known: &'k [GaugeOverload],
    record: &CalibrationRecord,
) -> impl Iterator<Item = &'k GaugeOverload> {
    let made = day_text(record.date_days);
    // Days written year first are in the order of their text.
    known
        .iter()
        .filter(move |overload| made < overload.past_from)
}

/// All that the book knows of a gauge.
pub fn of(gauge: &Entity<GaugeHeader>) -> Vec<GaugeOverload> {
    told::union(gauge.heads.iter().flat_map(|head| &head.header.overloads))
}

impl Told for GaugeOverload {
    fn is_same(&self, other: &Self) -> bool {
        let event = |overload: &Self| (overload.boot, overload.at_us, overload.peak_counts);
        event(self) == event(other)
    }

    fn day(&mut self) -> &mut String {
        &mut self.past_from
    }
}

fn add(known: &[GaugeOverload], history: &[Overload], past_from: &str) -> Vec<GaugeOverload> {
    let told = history.iter().map(|overload| GaugeOverload {
        boot: overload.boot,
        at_us: overload.at_us,
        peak_counts: overload.peak_counts,
        past_from: past_from.to_owned(),
    });
    told::add(known, told)
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdtrue_gauge::calibration::sample::record;

    const HISTORY: [Overload; 1] = [Overload {
        boot: 3,
        at_us: 5_000_000,
        peak_counts: 7_000_000,
    }];

    fn made_on(date_days: i32) -> CalibrationRecord {
        CalibrationRecord {
            date_days,
            due_days: date_days + 365,
            ..record()
        }
    }

    fn counts(known: &[GaugeOverload], date_days: i32) -> bool {
        since(known, &made_on(date_days)).count() > 0
    }

    #[test]
    fn an_overload_counts_until_a_calibration_of_a_later_day() {
        let known = seen(&[], &HISTORY, 20_500);
        assert!(counts(&known, 20_400) && counts(&known, 20_500));
        assert!(!counts(&known, 20_501));
        assert_eq!(seen(&known, &HISTORY, 20_600), known, "the first day stays");
    }

    #[test]
    fn what_was_in_the_gauge_when_it_was_calibrated_that_day_lies_before() {
        let written = |known: &[GaugeOverload], made: i32, today: i32| {
            recalibrated(known, &HISTORY, &made_on(made), today)
        };
        let unknown = written(&[], 20_500, 20_500);
        assert!(!counts(&unknown, 20_500) && counts(&unknown, 20_400));
        let same_day = written(&seen(&[], &HISTORY, 20_500), 20_500, 20_510);
        assert!(!counts(&same_day, 20_500));
        let after = written(&seen(&[], &HISTORY, 20_510), 20_500, 20_510);
        assert!(
            counts(&after, 20_500),
            "seen in use after that calibration was made"
        );
    }

    #[test]
    fn an_older_certificate_does_not_clear_what_nobody_saw_before() {
        let known = recalibrated(&[], &HISTORY, &made_on(20_500), 20_510);
        assert!(counts(&known, 20_500) && counts(&known, 20_510));
        assert!(!counts(&known, 20_511));
    }

    #[test]
    fn two_books_together_know_the_earlier_day() {
        let (early, late) = (seen(&[], &HISTORY, 20_400), seen(&[], &HISTORY, 20_500));
        assert_eq!(told::union(late.iter().chain(&early)), early);
    }
}
