//! Days for the paper, counted from 1970-01-01.

use crate::visits::known_day::whole_days;
use jiff::civil::{Date, date};

/// A day counted from 1970-01-01.
pub(crate) fn day(days: i32) -> Option<Date> {
    let span = jiff::Span::new().try_days(days).ok()?;
    date(1970, 1, 1).checked_add(span).ok()
}

/// The day of a time as the book keeps it, counted from 1970-01-01.
pub(crate) fn day_of(at: &str) -> Option<i32> {
    let day: Date = at.get(..10)?.parse().ok()?;
    Some(whole_days(day))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_from_1970() {
        // 2026-03-04 is the 20 516th day after 1970-01-01 (56 years, 14 leap days, 62 days).
        assert_eq!(day_of("2026-03-04T09:12:30.250+01:00"), Some(20_516));
        assert_eq!(day(20_516), Some(date(2026, 3, 4)));
    }
}
