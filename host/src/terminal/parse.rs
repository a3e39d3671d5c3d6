//! Numbers on the command line. In: words. Out: finite numbers within what makes sense, or the reason why not.

use holdtrue_terms::units::{ForceUnit, NoForceUnit};

/// A comma that may part thousands, or two numbers, as well as decimals: three digits or more behind it, and not just a
/// nought before. What the number would be without the comma, and with a point; none where the comma is a decimal one.
pub fn doubtful_comma(word: &str) -> Option<[String; 2]> {
    let (before, behind) = word.split_once(',')?;
    let whole = before.trim_start_matches(['+', '-']);
    let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
    let doubtful = digits(whole)
        && digits(behind)
        && behind.len() >= 3
        && whole.chars().any(|digit| digit != '0');
    doubtful.then(|| [format!("{before}{behind}"), format!("{before}.{behind}")])
}

/// A finite number; a decimal comma is taken as a point.
///
/// # Errors
/// What was typed and what was expected; a comma that may part thousands is asked about.
pub fn finite(text: &str) -> Result<f64, String> {
    if let Some([thousands, decimals]) = doubtful_comma(text.trim()) {
        return Err(format!(
            "found \"{text}\": thousands or decimals? Type {thousands} or {decimals}"
        ));
    }
    match text.trim().replace(',', ".").parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err(format!("found \"{text}\", expected a number such as 8.5")),
    }
}

/// A number above zero.
///
/// # Errors
/// What was typed and what was expected.
pub fn positive(text: &str) -> Result<f64, String> {
    match finite(text)? {
        number if number > 0.0 => Ok(number),
        _ => Err(format!("found \"{text}\", expected a number above 0")),
    }
}

/// A number not below zero.
///
/// # Errors
/// What was typed and what was expected.
pub fn not_negative(text: &str) -> Result<f64, String> {
    match finite(text)? {
        number if number >= 0.0 => Ok(number),
        _ => Err(format!("found \"{text}\", expected 0 or more")),
    }
}

/// The expanded uncertainty of a gauge: there is none without.
///
/// # Errors
/// What was typed and what was expected.
pub fn uncertainty(text: &str) -> Result<f64, String> {
    match finite(text)? {
        number if number > 0.0 => Ok(number),
        _ => Err(format!(
            "found \"{text}\", expected a number above 0: there is no gauge without uncertainty; its certificate states it"
        )),
    }
}

/// A unit of force, in any case.
///
/// # Errors
/// What was typed and what was expected; a pressure is refused as one.
pub fn force_unit(text: &str) -> Result<ForceUnit, NoForceUnit> {
    text.parse()
}

/// Words that say something.
///
/// # Errors
/// Nothing was typed.
pub fn a_reason(text: &str) -> Result<String, String> {
    match text.trim() {
        "" => Err("found nothing, expected a few words".to_owned()),
        reason => Ok(reason.to_owned()),
    }
}

/// `NUMBER=TEXT`, as in `3="gauge knocked"`.
///
/// # Errors
/// What was typed and what was expected.
pub fn numbered_reason(text: &str) -> Result<(u32, String), String> {
    let expected =
        || format!("found \"{text}\", expected a clamp number and a reason, such as 3=knocked");
    let (number, reason) = text.split_once('=').ok_or_else(expected)?;
    let number = number.trim().parse().map_err(|_| expected())?;
    if reason.trim().is_empty() || number == 0 {
        return Err(expected());
    }
    Ok((number, reason.trim().to_owned()))
}

/// `[HEIGHT=]LIMIT`, as in `300=15` or `10`.
///
/// # Errors
/// What was typed and what was expected.
pub fn height_and_limit(text: &str) -> Result<(Option<f64>, f64), String> {
    match text.split_once('=') {
        Some((height, limit)) => Ok((Some(finite(height)?), positive(limit)?)),
        None => Ok((None, positive(text)?)),
    }
}

/// A day, as in `2026-03-02`.
///
/// # Errors
/// What was typed and what was expected.
pub fn day(text: &str) -> Result<jiff::civil::Date, String> {
    text.trim()
        .parse()
        .map_err(|_| format!("found \"{text}\", expected a day such as 2026-03-02"))
}

/// Numbers parted by blanks or semicolons, as in `0 0.0116 1e-12`.
///
/// # Errors
/// What was typed and what was expected.
pub fn numbers(text: &str) -> Result<Vec<f64>, String> {
    text.split([' ', ';'])
        .filter(|word| !word.is_empty())
        .map(finite)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_comma_with_three_digits_behind_is_asked_about() {
        for word in ["1,250", "-9,800", "9800,9900", "12,345", "1,000"] {
            assert!(finite(word).is_err(), "{word}");
        }
        for (word, number) in [
            ("9,8", 9.8),
            ("9,85", 9.85),
            ("0,125", 0.125),
            ("1.250", 1.25),
        ] {
            assert!((finite(word).expect(word) - number).abs() < 1e-12, "{word}");
        }
    }
}
