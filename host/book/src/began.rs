//! When a visit began. In: its start as the book keeps it. Out: a moment to sort by.

/// Seconds from 1970-01-01 to the earliest moment a start may mean: a local time with offset, a day, a month or a year.
/// None for anything else, which then sorts before all that is known.
pub(crate) fn began(started_at: &str) -> Option<i64> {
    const DAY_S: i64 = 86_400;
    let (day, time) = match started_at.split_once('T') {
        Some((day, time)) => (day, Some(time)),
        None => (started_at, None),
    };
    let mut parts = day.split('-').map(|part| part.parse::<i64>().ok());
    let year = parts.next()??;
    let month = parts.next().unwrap_or(Some(1))?;
    let of_month = parts.next().unwrap_or(Some(1))?;
    let second = time.map_or(Some(0), second_of_day)?;
    Some(days(year, month, of_month) * DAY_S + second)
}

/// Days from 1970-01-01 in the Gregorian calendar, with years that begin in March so that a leap day ends one.
fn days(year: i64, month: i64, day: i64) -> i64 {
    let (year, months) = match month {
        3.. => (year, month - 3),
        _ => (year - 1, month + 9),
    };
    let leap_days = year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    let before_month = (153 * months + 2) / 5;
    365 * year + leap_days + before_month + day - 719_469
}

/// Seconds of `09:12:30.250+01:00` in universal time; fractions are left out.
fn second_of_day(time: &str) -> Option<i64> {
    let (clock, offset_s) = match time.find(['Z', '+', '-']) {
        None => (time, 0),
        Some(at) => (&time[..at], offset_s(&time[at..])?),
    };
    let mut parts = clock.split(':');
    let mut next = || parts.next()?.split('.').next()?.parse::<i64>().ok();
    Some(next()? * 3600 + next()? * 60 + next()? - offset_s)
}

fn offset_s(offset: &str) -> Option<i64> {
    if offset == "Z" {
        return Some(0);
    }
    let (sign, rest) = match offset.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, offset.strip_prefix('+')?),
    };
    let (hours, minutes) = rest.split_once(':')?;
    let (hours, minutes): (i64, i64) = (hours.parse().ok()?, minutes.parse().ok()?);
    Some(sign * (hours * 3600 + minutes * 60))
}

#[cfg(test)]
mod tests {
    use super::began;

    #[test]
    fn starts_known_to_the_year_and_to_the_second_are_in_one_order() {
        // 2026-03-04 is day 20 516; 1970-01-01 is day 0; 2000-02-29 is day 11 016.
        assert_eq!(began("1970-01-01"), Some(0));
        assert_eq!(began("2000-02-29"), Some(11_016 * 86_400));
        assert_eq!(
            began("2026-03-04T01:00:00.250+01:00"),
            Some(20_516 * 86_400)
        );
        assert_eq!(began("2026-03-03T23:30:00-00:30"), Some(20_516 * 86_400));
        assert_eq!(began("2026-03-04T00:00:01Z"), Some(20_516 * 86_400 + 1));
        let mut starts = [
            "2019-05-12",
            "2026-03-04T09:00:00+01:00",
            "2019",
            "",
            "2019-06",
            "2019-05",
        ];
        starts.sort_by_key(|start| began(start));
        let wanted = [
            "",
            "2019",
            "2019-05",
            "2019-05-12",
            "2019-06",
            "2026-03-04T09:00:00+01:00",
        ];
        assert_eq!(starts, wanted);
        for odd in ["yesterday", "12.05.2019", "2026-03-04T", "2026-03-04Tnoon"] {
            assert_eq!(began(odd), None, "{odd}");
        }
    }
}
