//! A day as people write it. In: `12 May 2019`, `12.5.2019`, `5/12/2019`, `May 2019`. Out: the same as `2019-05-12`, `2019-05`.
//!
//! A day written in numbers alone is read in the order the person set; where none is set and both orders give a day, it is asked
//! back. Dots are written day first wherever they are written.

use super::settings::{self, DayOrder, Settings};
use jiff::civil::Date;
use jiff::fmt::strtime::BrokenDownTime;

/// With the month as a word, without stops and commas.
const WHOLE_DAYS: [&str; 6] = [
    "%d %B %Y", "%d %b %Y", "%B %d %Y", "%b %d %Y", "%Y %B %d", "%Y %b %d",
];
const MONTHS: [&str; 4] = ["%B %Y", "%b %Y", "%Y %B", "%Y %b"];

/// As `2019-05-12`, `2019-05` or `2019`; what is no day, month or year stays as it is, for whoever reads it to refuse.
///
/// # Errors
/// A day of numbers that may mean two, where no order is set: both are named.
pub fn iso(text: &str) -> Result<String, String> {
    let set = || Settings::load(settings::path().as_deref()).ok()?.dates;
    in_order(text, set)
}

fn in_order(text: &str, set: impl FnOnce() -> Option<DayOrder>) -> Result<String, String> {
    let text = text.trim();
    if !text.contains(char::is_alphabetic) {
        return in_numbers(text, set);
    }
    let words = text.split(|letter: char| letter.is_whitespace() || ".,-".contains(letter));
    let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
    // A form takes digits as far as they go: without these, December 2019 would be the 20th of December 19.
    let digits = |word: &&&str| word.bytes().all(|byte| byte.is_ascii_digit());
    let numbers: Vec<usize> = words.iter().filter(digits).map(|word| word.len()).collect();
    let plain = words.join(" ").replace("Sept ", "Sep ");
    let with_month = |form: &&str| BrokenDownTime::parse(form, &plain).ok();
    let iso = match (words.len(), &numbers[..]) {
        (3, [4, 1 | 2] | [1 | 2, 4]) => {
            let day = WHOLE_DAYS
                .iter()
                .find_map(|form| with_month(form)?.to_date().ok());
            day.map(|day| day.to_string())
        }
        (2, [4]) => MONTHS
            .iter()
            .find_map(with_month)
            .and_then(|month| Some(format!("{:04}-{:02}", month.year()?, month.month()?))),
        _ => None,
    };
    Ok(iso.unwrap_or_else(|| text.to_owned()))
}

fn in_numbers(text: &str, set: impl FnOnce() -> Option<DayOrder>) -> Result<String, String> {
    let as_it_is = || Ok(text.to_owned());
    let Some(between) = text.chars().find(|letter| ['.', '/', '-'].contains(letter)) else {
        return as_it_is();
    };
    let parts: Vec<&str> = text.split(between).map(str::trim).collect();
    let number = |part: &str, most: usize| {
        let sound =
            (1..=most).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
        sound.then(|| part.parse::<i16>().ok()).flatten()
    };
    let small = |part: &str| i8::try_from(number(part, 2)?).ok();
    let year = |part: &str| number(part, 4).filter(|_| part.len() == 4);
    if let [month, last] = parts[..]
        && let (Some(month), Some(year)) = (small(month), year(last))
    {
        return Ok(format!("{year:04}-{month:02}"));
    }
    let [first, second, third] = parts[..] else {
        return as_it_is();
    };
    if let (Some(year), Some(month), Some(day), true) =
        (year(first), small(second), small(third), between != '-')
    {
        return Ok(format!("{year:04}-{month:02}-{day:02}"));
    }
    let (Some(first), Some(second), Some(year)) = (small(first), small(second), year(third)) else {
        return as_it_is();
    };
    let day_first = Date::new(year, second, first).ok();
    let month_first = Date::new(year, first, second)
        .ok()
        .filter(|_| between != '.');
    let day = match (day_first, month_first) {
        (Some(day_first), Some(month_first)) if day_first != month_first => match set() {
            Some(DayOrder::DayFirst) => day_first,
            Some(DayOrder::MonthFirst) => month_first,
            None => {
                return Err(format!(
                    "found \"{text}\", which may be {} or {}: write it as {day_first} or {month_first}, or set the order once \
                     with holdtrue settings --dates day-first (or month-first)",
                    day_first.strftime("%-d %B %Y"),
                    month_first.strftime("%-d %B %Y")
                ));
            }
        },
        (Some(day), _) | (None, Some(day)) => day,
        (None, None) => return as_it_is(),
    };
    Ok(day.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_read_as_it_is_written() {
        for (written, iso) in [
            ("2019-05-12", "2019-05-12"),
            ("2019-05", "2019-05"),
            ("2019", "2019"),
            ("12 May 2019", "2019-05-12"),
            ("2 may 2019", "2019-05-02"),
            ("12. Dec 2019", "2019-12-12"),
            ("December 12, 2019", "2019-12-12"),
            ("Dec 2 2019", "2019-12-02"),
            ("12-Sep-2019", "2019-09-12"),
            ("Sept. 12, 2019", "2019-09-12"),
            ("Dec. 2019", "2019-12"),
            ("December 2019", "2019-12"),
            ("2019 Dec 20", "2019-12-20"),
            ("20 Dec 2019", "2019-12-20"),
            ("May 2019", "2019-05"),
            ("5/2019", "2019-05"),
            ("05.2019", "2019-05"),
            ("12.5.2019", "2019-05-12"),
            ("12. 05. 2019", "2019-05-12"),
            ("2019/5/12", "2019-05-12"),
            ("2019.05.12", "2019-05-12"),
            ("13/5/2019", "2019-05-13"),
            ("5/13/2019", "2019-05-13"),
            ("5-5-2019", "2019-05-05"),
        ] {
            assert_eq!(in_order(written, || None).as_deref(), Ok(iso), "{written}");
        }
    }

    #[test]
    fn the_order_that_is_set_decides_what_may_be_two_days() {
        let read = |text: &str, order| in_order(text, || Some(order));
        assert_eq!(
            read("12/5/2019", DayOrder::DayFirst).as_deref(),
            Ok("2019-05-12")
        );
        assert_eq!(
            read("12/5/2019", DayOrder::MonthFirst).as_deref(),
            Ok("2019-12-05")
        );
        assert_eq!(
            read("12.5.2019", DayOrder::MonthFirst).as_deref(),
            Ok("2019-05-12")
        );
        let asked = in_order("12/5/2019", || None).unwrap_err();
        assert!(
            asked.contains("12 May 2019") && asked.contains("5 December 2019"),
            "{asked}"
        );
    }

    #[test]
    fn what_is_no_day_stays_for_its_reader_to_refuse() {
        for text in [
            "",
            "12/5/19",
            "31.2.2019",
            "13/13/2019",
            "2019-5-2",
            "soon",
            "1/2/3/2019",
            "+1/2/2019",
            "Dec 20 19",
            "12 Dec 19",
            "Dec 12",
            "12 May 20190",
            "May 12 2019 3",
            "32 May 2019",
            "2019-05-02T10:00:00Z",
        ] {
            assert_eq!(in_order(text, || None).as_deref(), Ok(text));
        }
    }
}
