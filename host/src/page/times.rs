//! Times for the paper. In: times as the book keeps them. Out: local time with its offset, to the minute.

use jiff::civil::{Date, date};
use jiff::fmt::strtime;

/// `2026-03-04T09:12:30.250+01:00` as `2026-03-04 09:12 (UTC+01:00)`; what is no time stays as it is.
pub(crate) fn local(at: &str) -> String {
    let read = || {
        let time = strtime::parse("%Y-%m-%dT%H:%M:%S%.f%:z", at).ok()?;
        time.to_string("%Y-%m-%d %H:%M (UTC%:z)").ok()
    };
    read().unwrap_or_else(|| at.to_owned())
}

/// A day counted from 1970-01-01.
pub(crate) fn day(days: i32) -> Option<Date> {
    let span = jiff::Span::new().try_days(days).ok()?;
    date(1970, 1, 1).checked_add(span).ok()
}

/// The day of a time as the book keeps it, counted from 1970-01-01.
pub(crate) fn day_of(at: &str) -> Option<i32> {
    let day: Date = at.get(..10)?.parse().ok()?;
    Some(date(1970, 1, 1).until(day).ok()?.get_days())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_keeps_its_own_offset() {
        assert_eq!(
            local("2026-03-04T09:12:30.250+01:00"),
            "2026-03-04 09:12 (UTC+01:00)"
        );
        assert_eq!(local("2026-03-04T09:12:30Z"), "2026-03-04T09:12:30Z");
        assert_eq!(local("yesterday"), "yesterday");
    }

    #[test]
    fn days_are_counted_from_1970() {
        // 2026-03-04 is the 20 516th day after 1970-01-01 (56 years, 14 leap days, 62 days).
        assert_eq!(day_of("2026-03-04T09:12:30.250+01:00"), Some(20_516));
        assert_eq!(day(20_516), Some(date(2026, 3, 4)));
    }
}
