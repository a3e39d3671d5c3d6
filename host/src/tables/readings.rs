//! Readings noted by hand. In: `"9.8 9.9 9.7"` and their unit. Out: numbers in the unit that is calculated in.

use crate::terminal::console::Console;
use crate::terminal::doubts;
use crate::terminal::error::{Error, Place, Refusal};
use holdtrue_terms::quantity::{Unit, doubtful_comma, split};

/// Reads a list parted by blanks or semicolons; `factor` brings one to the unit calculated in. A comma inside a number
/// is a decimal comma, one at its end parts it from the next.
///
/// # Errors
/// Nothing there, or something that is no number: exit 4, the column is the number of the reading.
pub fn read(option: &str, text: &str, factor: f64) -> Result<Vec<f64>, Error> {
    let words = words(text);
    if words.is_empty() {
        return Err(refuse(option, 1, "no reading", "one or more numbers"));
    }
    let mut numbers = crate::tables::NumberReader::with_decimal_comma();
    words
        .iter()
        .enumerate()
        .map(|(index, word)| {
            numbers
                .read(word, factor)
                .map_err(|bad| refuse(option, index + 1, &bad.found, &bad.expected))
        })
        .collect()
}

/// Readings without the unit that is written among them, and that unit: behind each as in "9.8kN 9.9 kN", or behind the
/// last for all. `typed` is the unit told apart from them.
///
/// # Errors
/// A unit that is none, more than one, or one behind some readings only: exit 4, the column is the number of the reading.
pub fn apart_from_unit<U: Unit>(
    option: &str,
    text: &str,
    typed: Option<U>,
) -> Result<(String, Option<U>), Error> {
    let mut readings: Vec<(&str, Option<U>)> = Vec::new();
    for word in words(text) {
        let (number, unit) = split(word);
        let place = readings.len() + usize::from(!number.is_empty());
        let read = || {
            let unit = unit.parse::<U>();
            unit.map_err(|e| {
                refuse(
                    option,
                    place,
                    &format!("\"{word}\""),
                    &format!("a number and its unit: {e}"),
                )
            })
        };
        let no_number = number.is_empty() && word.parse::<f64>().is_err();
        match readings.last_mut() {
            Some((_, behind @ None)) if no_number => *behind = Some(read()?),
            _ if !number.is_empty()
                && unit.starts_with(|c: char| c.is_alphabetic() || c == '"') =>
            {
                readings.push((number, Some(read()?)));
            }
            _ => readings.push((word, None)),
        }
    }
    let Some(unit) = readings.iter().find_map(|(_, unit)| *unit) else {
        return Ok((text.to_owned(), typed));
    };
    if let Some(other) = typed.filter(|typed| *typed != unit) {
        return Err(Error::usage(format!(
            "{option} has {} behind a number, and --unit says {}: which one? Take the other one out",
            unit.symbol(),
            other.symbol()
        )));
    }
    let before_last = &readings[..readings.len() - 1];
    let for_all = typed.is_some() || before_last.iter().all(|(_, unit)| unit.is_none());
    let differs = |(_, own): &(&str, Option<U>)| own.map_or(!for_all, |own| own != unit);
    if let Some(place) = readings.iter().position(differs) {
        let (number, own) = readings[place];
        let found = own.map_or("no unit", U::symbol);
        return Err(refuse(
            option,
            place + 1,
            &format!("\"{number}\" with {found}"),
            &format!(
                "all readings in one unit, {} as another has it",
                unit.symbol()
            ),
        ));
    }
    let numbers: Vec<&str> = readings.into_iter().map(|(number, _)| number).collect();
    Ok((numbers.join(" "), Some(unit)))
}

/// What was typed with every comma settled that may part thousands, decimals or two readings: by the person, where one is
/// there.
///
/// # Errors
/// Nobody can be asked, or the answer is to stop: exit 2, the column is the number of the reading.
pub fn settle_commas(option: &str, text: &str, console: &mut Console) -> Result<String, Error> {
    let words = words(text);
    if words.iter().all(|word| doubtful_comma(word).is_none()) {
        return Ok(text.to_owned());
    }
    let mut settled = Vec::new();
    for (word, number) in words.into_iter().zip(1..) {
        match doubtful_comma(word) {
            None => settled.push(word.to_owned()),
            Some(meant) => settled.push(settle_comma(option, number, word, meant, console)?),
        }
    }
    Ok(settled.join(" "))
}

fn settle_comma(
    option: &str,
    number: usize,
    word: &str,
    [thousands, decimals]: [String; 2],
    console: &mut Console,
) -> Result<String, Error> {
    #[derive(Clone, Copy)]
    enum Meant {
        Thousands,
        Decimals,
        Two,
    }
    let two = word.replace(',', " ");
    let behind = word.rsplit_once(',').map_or(0, |(_, behind)| behind.len());
    let mut meanings = vec![
        (decimals.clone(), Meant::Decimals),
        (two.clone(), Meant::Two),
    ];
    if behind == 3 {
        meanings.insert(0, (thousands.clone(), Meant::Thousands));
    }
    let all: Vec<&str> = meanings.iter().map(|(text, _)| text.as_str()).collect();
    let all = all.join(" or ");
    let question = format!("{word}: thousands, decimals or two readings?");
    match doubts::pick(&question, &meanings, console)? {
        Some(Meant::Thousands) => Ok(thousands),
        Some(Meant::Decimals) => Ok(decimals),
        Some(Meant::Two) => Ok(two),
        None => {
            let error = Error::input(
                Place::file(option).column(number.to_string()),
                Refusal {
                    found: &format!("\"{word}\""),
                    expected: "a number with a point for its decimals and nothing between thousands",
                    next: &format!("Are these thousands, decimals or two readings? Type {all}."),
                },
            );
            Err(Error::usage(error.message).about(error.place))
        }
    }
}

/// Step of the last digit typed, in the unit calculated in: of the finest reading, for "10" among "10.05" is 10.00 with
/// the noughts left out. `None` where nothing was typed.
pub fn step(text: &str, factor: f64) -> Option<f64> {
    let power = |word: &str| -> Option<i32> {
        let (digits, exponent) = word.split_once(['e', 'E']).unwrap_or((word, "0"));
        let behind = digits
            .split_once(['.', ','])
            .map_or(0, |(_, behind)| behind.len());
        Some(exponent.parse::<i32>().ok()? - i32::try_from(behind).ok()?)
    };
    let finest = words(text).into_iter().filter_map(power).min();
    finest.map(|power| factor * 10_f64.powi(power))
}

fn words(text: &str) -> Vec<&str> {
    text.split(|c: char| c.is_whitespace() || c == ';')
        .map(|word| word.strip_suffix(',').unwrap_or(word))
        .filter(|word| !word.is_empty())
        .collect()
}

fn refuse(option: &str, number: usize, found: &str, expected: &str) -> Error {
    Error::input(
        Place::file(option).column(number.to_string()),
        Refusal {
            found,
            expected,
            next: "Part the readings with blanks, such as \"9.8 9.9 9.7\".",
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blanks_semicolons_and_commas_at_the_end_part_readings() {
        let close = |text: &str, wanted: &[f64]| {
            let read = read("--readings", text, 1000.0).expect(text);
            assert_eq!(read.len(), wanted.len(), "{text}");
            for (a, b) in read.iter().zip(wanted) {
                assert!((a - b).abs() < 1e-9, "{text}: {a} {b}");
            }
        };
        close(" 9.8 9.9\t9.7 ", &[9800.0, 9900.0, 9700.0]);
        close("9.8, 9.9, 9.7", &[9800.0, 9900.0, 9700.0]);
        close("9,8; 9,9", &[9800.0, 9900.0]);
    }

    #[test]
    fn the_last_digit_of_the_finest_reading_is_the_step() {
        let close = |text: &str, factor: f64, wanted: f64| {
            let step = step(text, factor).expect(text);
            assert!((step / wanted - 1.0).abs() < 1e-12, "{text}: {step}");
        };
        close("9.8 9.9 9.8", 1000.0, 100.0);
        close("9.8 10 9.75", 1000.0, 10.0);
        close("1e3 1.2e3", 1.0, 100.0);
        close("9,80; 9,75", 1000.0, 10.0);
        close("0 5 0 -5", 1.0, 1.0);
        close("0.0002 0.0001", 25_400.0, 2.54);
        assert_eq!(step(" ", 1.0), None);
    }

    #[test]
    fn what_is_no_reading_is_named_by_its_number() {
        for (text, number) in [
            ("", "1"),
            ("9.8 kN", "2"),
            ("9.8 9.9 nan", "3"),
            ("9.8,9.9", "1"),
            ("9.8 9,9", "2"),
        ] {
            let error = read("--readings", text, 1.0).expect_err(text);
            assert_eq!(error.place.column.as_deref(), Some(number), "{error}");
            assert_eq!(error.exit.code(), 4);
        }
    }
}
