//! Times for a reader. In: times as the book keeps them. Out: the day, the time to the minute and its offset, as people write
//! them; the month in letters, so that nobody takes it for the day.

use holdtrue_gauge::calibration::day_text;
use jiff::Zoned;
use jiff::civil::Date;
use jiff::fmt::strtime;
use jiff::tz::Offset;

/// `2026-03-04T09:12:30.250+01:00` as `4 Mar 2026, 09:12 (UTC+1)`; what is no time stays as it is.
pub fn moment(at: &str) -> String {
    let read = || {
        let time = strtime::parse("%Y-%m-%dT%H:%M:%S%.f%:z", at).ok()?;
        let offset = time.offset()?;
        let clock = time.to_string("%-d %b %Y, %H:%M").ok()?;
        Some(format!("{clock} ({})", offset_words(offset)))
    };
    read().unwrap_or_else(|| at.to_owned())
}

/// A day counted from 1970-01-01 as `14 Sep 2027`; one no calendar has stays as it is counted.
pub fn day(days: i32) -> String {
    written_day(&day_text(days))
}

/// A day as books keep it, `2027-09-14`, as `14 Sep 2027`; what is no day stays as it is.
pub fn written_day(day: &str) -> String {
    let read = day.parse::<Date>();
    read.map_or_else(
        |_| day.to_owned(),
        |day| day.strftime("%-d %b %Y").to_string(),
    )
}

/// Now, as [`moment`] writes it, without the day.
pub fn time_of_day(now: &Zoned) -> String {
    format!("{} ({})", now.strftime("%H:%M"), offset_words(now.offset()))
}

/// `UTC+1`, `UTC-3:30`, `UTC`.
fn offset_words(offset: Offset) -> String {
    let minutes = offset.seconds() / 60;
    let (hours, rest) = ((minutes / 60).abs(), (minutes % 60).abs());
    let sign = if minutes < 0 { "−" } else { "+" };
    match (minutes, rest) {
        (0, _) => "UTC".to_owned(),
        (_, 0) => format!("UTC{sign}{hours}"),
        _ => format!("UTC{sign}{hours}:{rest:02}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_told_where_it_was_taken() {
        let told = [
            ("2026-03-04T09:12:30.250+01:00", "4 Mar 2026, 09:12 (UTC+1)"),
            ("2026-11-28T15:42:44.840+00:00", "28 Nov 2026, 15:42 (UTC)"),
            (
                "2026-11-28T23:59:59.999-03:30",
                "28 Nov 2026, 23:59 (UTC−3:30)",
            ),
            (
                "2026-11-28T00:00:00.000+05:45",
                "28 Nov 2026, 00:00 (UTC+5:45)",
            ),
            ("2019-05", "2019-05"),
            ("yesterday", "yesterday"),
        ];
        for (at, words) in told {
            assert_eq!(moment(at), words, "{at}");
        }
        // 57 years, 14 leap days and 256 days.
        assert_eq!(day(57 * 365 + 14 + 256), "14 Sep 2027");
        assert_eq!(
            day(i32::MAX),
            format!("day {} counted from 1970-01-01", i32::MAX)
        );
    }
}
