//! A day as far as somebody knows it. In: `2019-05-12`, `2019-05` or `2019`, or a start as the book keeps it. Out: the first
//! and the last moment it may mean, and its words.

use crate::terminal::{times, written_day};
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp, ToSpan, Zoned};

/// No spindle with a force gauge for it is older.
const FIRST_YEAR: i16 = 1900;

/// A day, or a month or a year of which the day is not known; or a moment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownDay {
    /// As it was written.
    pub text: String,
    /// The first day it may be.
    pub first: Date,
    /// The last day it may be.
    pub last: Date,
    /// The first and the last moment it may be.
    pub moments: [Timestamp; 2],
}

/// A day of the past, or a month or year that has begun, as a person types it.
///
/// # Errors
/// What was typed and what was expected.
pub fn past(text: &str) -> Result<KnownDay, String> {
    let expected = "a day, a month or a year, such as 2019-05-12, 12 May 2019, 2019-05 or 2019";
    let text = text.trim();
    let day = KnownDay::of_days(&written_day::iso(text)?).ok_or_else(|| {
        format!("found \"{text}\", which is not in the calendar; expected {expected}")
    })?;
    let today = Zoned::now().date();
    if day.first > today {
        return Err(format!(
            "found \"{text}\", which is in the future; expected {expected}, not after {today}"
        ));
    }
    if day.first.year() < FIRST_YEAR {
        return Err(format!(
            "found \"{text}\", expected {expected}, not before {FIRST_YEAR}"
        ));
    }
    Ok(day)
}

impl KnownDay {
    /// Today.
    pub fn today() -> Self {
        let today = Zoned::now().date();
        Self::between(&today.to_string(), today, today).unwrap_or_else(|| Self {
            text: today.to_string(),
            first: today,
            last: today,
            moments: [Timestamp::now(); 2],
        })
    }

    /// What the book keeps as a start: a local time with offset, or a day as far as known; none for anything else.
    pub fn of(started_at: &str) -> Option<Self> {
        let Ok(moment) = started_at.parse::<Timestamp>() else {
            return Self::of_days(started_at);
        };
        let day: Date = started_at.get(..10)?.parse().ok()?;
        Some(Self {
            text: started_at.to_owned(),
            first: day,
            last: day,
            moments: [moment; 2],
        })
    }

    fn of_days(text: &str) -> Option<Self> {
        let digits = |part: &str, count| {
            let sound = part.len() == count && part.bytes().all(|byte| byte.is_ascii_digit());
            sound.then(|| part.parse::<i16>().ok()).flatten()
        };
        let mut parts = text.split('-');
        let year = digits(parts.next()?, 4)?;
        let month = parts.next().map(|month| digits(month, 2));
        let day = parts.next().map(|day| digits(day, 2));
        if parts.next().is_some() {
            return None;
        }
        let small = |number: i16| i8::try_from(number).ok();
        let (first, length): (Date, Span) = match (month, day) {
            (None, _) => (Date::new(year, 1, 1).ok()?, 1.year()),
            (Some(month), None) => (Date::new(year, small(month?)?, 1).ok()?, 1.month()),
            (Some(month), Some(day)) => {
                (Date::new(year, small(month?)?, small(day?)?).ok()?, 1.day())
            }
        };
        let last = first.checked_add(length).ok()?.yesterday().ok()?;
        Self::between(text, first, last)
    }

    fn between(text: &str, first: Date, last: Date) -> Option<Self> {
        let begins = |day: Date| {
            let zoned = day.to_zoned(TimeZone::system()).ok()?;
            Some(zoned.timestamp())
        };
        Some(Self {
            text: text.to_owned(),
            first,
            last,
            moments: [begins(first)?, begins(last.tomorrow().ok()?)?],
        })
    }

    /// `12 May 2019`, `May 2019` or `2019`.
    pub fn words(&self) -> String {
        let form = match (
            self.first == self.last,
            self.first.month() == self.last.month(),
        ) {
            (true, _) => "%-d %B %Y",
            (false, true) => "%B %Y",
            (false, false) => "%Y",
        };
        self.first.strftime(form).to_string()
    }

    /// Where it stands in a series, in days from 1970-01-01: a moment where it is one, else the middle of what it may be.
    pub fn place_days(&self) -> f64 {
        const DAY_MS: f64 = 86_400_000.0;
        let [first, last] = self.moments;
        match first == last {
            true => first.as_millisecond() as f64 / DAY_MS,
            false => self.middle_days(),
        }
    }

    /// The middle of what it may be, in days from 1970-01-01.
    pub fn middle_days(&self) -> f64 {
        f64::midpoint(days(self.first), days(self.last))
    }
}

/// A day counted from 1970-01-01, as calibrations have it.
pub fn whole_days(day: Date) -> i32 {
    let since = date(1970, 1, 1).until(day);
    since.map_or(0, |span| span.get_days())
}

/// The same as a place among times.
pub fn days(day: Date) -> f64 {
    f64::from(whole_days(day))
}

/// A start as the book keeps it, in words: `12 May 2019`; what is no time stays as it is.
pub fn words(started_at: &str) -> String {
    KnownDay::of(started_at).map_or_else(|| started_at.to_owned(), |day| day.words())
}

/// The same with the time of day, where it is known.
pub fn moment(started_at: &str) -> String {
    match started_at.parse::<Timestamp>() {
        Ok(_) => times::moment(started_at),
        Err(_) => words(started_at),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_known_as_far_as_it_is_written() {
        let known = |text: &str| KnownDay::of(text).map(|day| (day.first, day.last, day.words()));
        let wanted = |first, last, words: &str| Some((first, last, words.to_owned()));
        assert_eq!(
            known("2019"),
            wanted(date(2019, 1, 1), date(2019, 12, 31), "2019")
        );
        assert_eq!(
            known("2020-02"),
            wanted(date(2020, 2, 1), date(2020, 2, 29), "February 2020")
        );
        let day = date(2019, 5, 2);
        assert_eq!(known("2019-05-02"), wanted(day, day, "2 May 2019"));
        assert_eq!(
            known("2019-05-02T23:30:00.000-08:00"),
            wanted(day, day, "2 May 2019"),
            "the day where it was measured"
        );
    }

    #[test]
    fn what_is_no_day_of_the_past_is_refused() {
        for text in [
            "",
            "19",
            "2019-13",
            "2019-02-29",
            "2019-5-2",
            "12/05/2019",
            "12/05/19",
            "2019-05-02-01",
            "+201",
            "2019-05-02T10:00:00Z",
            "Mai 2019",
            "0019-05-02",
            "2999",
            "2999-01-01",
        ] {
            past(text).expect_err(text);
        }
        for text in ["2019", " 2019-05 ", "2024-02-29"] {
            past(text).expect(text);
        }
        past(&KnownDay::today().text).expect("today is no future");
    }
}
