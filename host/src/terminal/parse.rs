//! Numbers on the command line. In: words. Out: finite numbers within what makes sense, or the reason why not.

use holdtrue_metrology::grip::is_cause;
use holdtrue_terms::quantity;
use holdtrue_terms::quantity::{Quantity, Unit};
use holdtrue_terms::units::{ForceUnit, LengthUnit, NoForceUnit};
use holdtrue_wording::shown;

/// A finite number; a decimal comma is taken as a point.
///
/// # Errors
/// What was typed and what was expected; a comma that may part thousands is asked about.
pub fn finite(text: &str) -> Result<f64, String> {
    quantity::number(text).map_err(|error| error.to_string())
}

/// Where air, machines and gauges are met with, °C.
pub const MET_WITH_C: [f64; 2] = [-40.0, 100.0];

/// A temperature of air, nose or gauge, °C.
///
/// # Errors
/// What was typed and what was expected.
pub fn celsius(text: &str) -> Result<f64, String> {
    let [low, high] = MET_WITH_C;
    let degrees = finite(text)?;
    if (low..=high).contains(&degrees) {
        return Ok(degrees);
    }
    Err(format!("found \"{text}\", expected {low} to {high} °C"))
}

/// A force above zero; without a unit in N.
///
/// # Errors
/// What was typed and what was expected.
pub fn force(text: &str) -> Result<Quantity<ForceUnit>, String> {
    above_zero(text, ForceUnit::N)
}

/// The same in N, where nothing asks how it was written.
///
/// # Errors
/// What was typed and what was expected.
pub fn newtons(text: &str) -> Result<f64, String> {
    force(text).map(Quantity::newtons)
}

/// What a force drops in a second, above zero; without a unit in N/s.
///
/// # Errors
/// What was typed and what was expected.
pub fn newtons_per_second(text: &str) -> Result<f64, String> {
    let bare = quantity::split(text).1.is_empty();
    match text.trim().strip_suffix("/s") {
        Some(of_force) => newtons(of_force),
        None if bare => positive(text),
        None => Err(format!(
            "found \"{text}\", expected a force each second, such as 5 N/s"
        )),
    }
}

/// A length above zero; without a unit in µm.
///
/// # Errors
/// What was typed and what was expected.
pub fn length(text: &str) -> Result<Quantity<LengthUnit>, String> {
    above_zero(text, LengthUnit::Um)
}

/// The same in µm, where nothing asks how it was written.
///
/// # Errors
/// What was typed and what was expected.
pub fn micrometres(text: &str) -> Result<f64, String> {
    length(text).map(Quantity::micrometres)
}

/// A length not below zero, µm; without a unit in µm.
///
/// # Errors
/// What was typed and what was expected.
pub fn micrometres_or_none(text: &str) -> Result<f64, String> {
    match quantity::read(text, LengthUnit::Um) {
        Ok(length) if length.number >= 0.0 => Ok(length.micrometres()),
        Ok(_) => Err(format!("found \"{text}\", expected 0 or more")),
        Err(error) => Err(error.to_string()),
    }
}

/// A height, mm; without a unit in mm.
///
/// # Errors
/// What was typed and what was expected.
pub fn height(text: &str) -> Result<f64, String> {
    let read = quantity::read(text, LengthUnit::Mm);
    read.map(Quantity::millimetres)
        .map_err(|error| error.to_string())
}

/// A depth above zero, mm; without a unit in mm.
///
/// # Errors
/// What was typed and what was expected.
pub fn depth(text: &str) -> Result<f64, String> {
    above_zero(text, LengthUnit::Mm).map(Quantity::millimetres)
}

fn above_zero<U: Unit>(text: &str, bare: U) -> Result<Quantity<U>, String> {
    match quantity::read(text, bare) {
        Ok(quantity) if quantity.number > 0.0 => Ok(quantity),
        Ok(_) => Err(format!("found \"{text}\", expected a number above 0")),
        Err(error) => Err(error.to_string()),
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

/// Hours off a control, which may part them by thousands: `12345`, `12 345.5`, `12'345 h`. Three digits behind a point may be
/// thousands on one control and decimals on another, and nobody needs the decimals.
///
/// # Errors
/// What was typed and what was expected.
pub fn counted_hours(text: &str) -> Result<f64, String> {
    let trimmed = text.trim();
    let bare = trimmed.strip_suffix(['h', 'H']).unwrap_or(trimmed).trim();
    let is_digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    if let Some((whole, behind)) = bare.split_once('.')
        && (1..=3).contains(&whole.len())
        && behind.len() == 3
        && is_digits(whole)
        && is_digits(behind)
        && whole != "0"
    {
        let tenth = behind.get(..1).unwrap_or_default();
        return Err(format!(
            "found \"{text}\": thousands or decimals? Type {whole}{behind} or {whole}.{tenth}"
        ));
    }
    let mut groups = bare.split([' ', '\'', '\u{2019}', '\u{a0}', '\u{202f}']);
    let first = groups.next().unwrap_or_default();
    let mut joined = first.to_owned();
    for group in groups {
        let digits = group.split(['.', ',']).next().unwrap_or_default();
        if first.len() > 3 || digits.len() != 3 {
            return Err(format!(
                "found \"{text}\", expected hours such as 12345 or 12 345"
            ));
        }
        joined.push_str(group);
    }
    not_negative(&joined)
}

/// An angle that is small, degrees.
///
/// # Errors
/// What was typed and what was expected.
pub fn small_angle(text: &str) -> Result<f64, String> {
    const MOST_DEG: f64 = 45.0;
    match not_negative(text)? {
        degrees if degrees <= MOST_DEG => Ok(degrees),
        _ => Err(format!(
            "found \"{text}\", expected 0 to {MOST_DEG} degrees"
        )),
    }
}

/// The expanded uncertainty of a gauge: there is none without.
///
/// # Errors
/// What was typed and what was expected.
pub fn uncertainty(text: &str) -> Result<f64, String> {
    match finite(text)? {
        number if number <= 0.0 => Err(no_uncertainty(text)),
        number if (LEAST_PERCENT..=MOST_PERCENT).contains(&number) => Ok(number),
        _ => Err(format!(
            "found \"{text}\", expected {LEAST_PERCENT} to {MOST_PERCENT} per cent (k = 2): reference cells of a laboratory are hardly \
             better, and a gauge out of calibration is not taken to be worse"
        )),
    }
}

/// No force gauge is known better, and none is used that is known worse, %. Common practice, no source.
const LEAST_PERCENT: f64 = 0.01;
const MOST_PERCENT: f64 = 20.0;

/// The expanded uncertainty of an indicator, µm; without a unit in µm.
///
/// # Errors
/// What was typed and what was expected.
pub fn uncertainty_um(text: &str) -> Result<f64, String> {
    match micrometres_or_none(text)? {
        um if um >= LEAST_UNCERTAINTY_UM => Ok(um),
        um if um > 0.0 => Err(format!(
            "found \"{text}\", which is {um} um; expected {LEAST_UNCERTAINTY_UM} um or more: no indicator is certified to \
             less. Is it in mm? Then write so: {text}mm"
        )),
        _ => Err(no_uncertainty(text)),
    }
}

/// No indicator is certified to less, µm.
const LEAST_UNCERTAINTY_UM: f64 = 0.05;

fn no_uncertainty(text: &str) -> String {
    format!(
        "found \"{text}\", expected a number above 0: there is no gauge without uncertainty; its certificate states it"
    )
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

/// The cause of a drop while held: words that name one.
///
/// # Errors
/// What was typed and what was expected.
pub fn a_cause(text: &str) -> Result<String, String> {
    match text.trim() {
        cause if is_cause(cause) => Ok(cause.to_owned()),
        said => Err(format!(
            "found \"{}\", expected the cause that was found, such as \"check valve weeps\"",
            shown(said)
        )),
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

/// `[HEIGHT=]LIMIT`, as in `300=15` or `10`: a height in mm and a limit in µm, unless they carry their unit.
///
/// # Errors
/// What was typed and what was expected.
pub fn height_and_limit(text: &str) -> Result<(Option<f64>, Quantity<LengthUnit>), String> {
    match text.split_once('=') {
        Some((mm, limit)) => Ok((Some(height(mm)?), length(limit)?)),
        None => Ok((None, length(text)?)),
    }
}

/// A day, as in `2026-03-02` or as people write it.
///
/// # Errors
/// What was typed and what was expected.
pub fn day(text: &str) -> Result<jiff::civil::Date, String> {
    super::written_day::iso(text)?
        .parse()
        .map_err(|_| format!("found \"{text}\", expected a day such as 2026-03-02 or 2 March 2026"))
}

/// So many months, from 1 to 120.
pub fn months() -> impl clap::builder::TypedValueParser<Value = u32> {
    clap::value_parser!(u32).range(1..=120)
}

/// A currency by its three letters or its sign.
///
/// # Errors
/// Neither.
pub fn currency(text: &str) -> Result<String, String> {
    let letters = match text.trim() {
        "\u{20ac}" => "EUR",
        "\u{a3}" => "GBP",
        other => other,
    };
    if letters.len() == 3 && letters.chars().all(|c| c.is_ascii_alphabetic()) {
        return Ok(letters.to_ascii_uppercase());
    }
    Err(format!(
        "found \"{text}\" for the currency, expected its three letters, such as EUR or USD"
    ))
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

    #[test]
    fn hours_are_read_as_a_control_shows_them() {
        for (word, hours) in [
            ("12345", 12_345.0),
            ("12 345", 12_345.0),
            ("12'345 h", 12_345.0),
            ("1 012 345,5h", 1_012_345.5),
            ("8.5", 8.5),
            ("0.125", 0.125),
            ("12345.678", 12_345.678),
        ] {
            let read = counted_hours(word).expect(word);
            assert!((read - hours).abs() < 1e-9, "{word}: {read}");
        }
        for word in [
            "12.345",
            "12,345",
            "1234 567",
            "12 34",
            "12 345 min",
            "-3",
            "h",
        ] {
            assert!(counted_hours(word).is_err(), "{word}");
        }
    }
}
