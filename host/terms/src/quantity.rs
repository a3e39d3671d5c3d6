//! Forces and lengths as people write them. In: `12,5`, `12.5kN`, `2800 lbf`, `8 µm`, `3 tenths`. Out: a number and its
//! unit, or what is wrong with it.
//!
//! A comma with three digits or more behind it may part thousands or decimals: nobody but the writer can say.

use crate::units::{ForceUnit, LengthUnit};
use std::fmt::Display;
use std::str::FromStr;

/// A unit a quantity is written in.
pub trait Unit: Copy + PartialEq + FromStr<Err: Display> {
    /// As written after a number.
    fn symbol(self) -> &'static str;
}

impl Unit for ForceUnit {
    fn symbol(self) -> &'static str {
        self.symbol()
    }
}

impl Unit for LengthUnit {
    fn symbol(self) -> &'static str {
        self.symbol()
    }
}

/// A number and its unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity<U> {
    /// The number, as it is written.
    pub number: f64,
    /// Its unit.
    pub unit: U,
}

impl Quantity<ForceUnit> {
    /// In newtons.
    pub fn newtons(self) -> f64 {
        self.unit.to_newtons(self.number)
    }
}

impl Quantity<LengthUnit> {
    /// In micrometres.
    pub fn micrometres(self) -> f64 {
        self.unit.to_micrometres(self.number)
    }

    /// In millimetres; a number written in millimetres stays as it is to the last digit.
    pub fn millimetres(self) -> f64 {
        match self.unit {
            LengthUnit::Mm => self.number,
            unit => LengthUnit::Mm.from_micrometres(unit.to_micrometres(self.number)),
        }
    }
}

/// Why something is no quantity.
#[derive(Clone, Debug, thiserror::Error, PartialEq, Eq)]
pub enum NoQuantity {
    /// A comma that may part thousands or decimals.
    #[error("found \"{found}\": thousands or decimals? Type {thousands} or {decimals}")]
    Comma {
        /// What is written.
        found: String,
        /// What it would be with the comma between thousands.
        thousands: String,
        /// What it would be with the comma before decimals.
        decimals: String,
    },
    /// No number, or one that is not finite.
    #[error("found \"{0}\", expected a number such as 8.5")]
    Number(String),
    /// A number with something behind it that is not its unit.
    #[error("{0}")]
    Unit(String),
}

/// A comma that may part thousands, or two numbers, as well as decimals: three digits or more behind it, and not just a
/// nought before. What the number would be without the comma, and with a point; none where the comma is a decimal one.
pub fn doubtful_comma(number: &str) -> Option<[String; 2]> {
    let (before, behind) = number.split_once(',')?;
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
/// No number, or a comma that may part thousands.
pub fn number(text: &str) -> Result<f64, NoQuantity> {
    let bare = text.trim();
    if let Some([thousands, decimals]) = doubtful_comma(bare) {
        return Err(NoQuantity::Comma {
            found: text.to_owned(),
            thousands,
            decimals,
        });
    }
    match bare.replace(',', ".").parse::<f64>() {
        Ok(0.0) => Ok(0.0), // "-0" is printed nowhere
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err(NoQuantity::Number(text.to_owned())),
    }
}

/// A number with or without its unit; without, it is in `bare`.
///
/// # Errors
/// No number, a comma that may part thousands, a unit that is none of these.
pub fn read<U: Unit>(text: &str, bare: U) -> Result<Quantity<U>, NoQuantity> {
    let (written, unit) = split(text);
    if written.is_empty() || unit.starts_with(|c: char| c.is_ascii_digit()) {
        return Err(NoQuantity::Number(text.to_owned()));
    }
    let number = number(written).map_err(|error| whole(error, text, unit))?;
    let unit = match unit {
        "" => bare,
        unit => unit
            .parse()
            .map_err(|error: U::Err| NoQuantity::Unit(error.to_string()))?,
    };
    Ok(Quantity { number, unit })
}

/// An error about a number, told of all that is written.
fn whole(error: NoQuantity, text: &str, unit: &str) -> NoQuantity {
    let with_unit = |number: String| format!("{number} {unit}").trim_end().to_owned();
    match error {
        NoQuantity::Comma {
            thousands,
            decimals,
            ..
        } => NoQuantity::Comma {
            found: text.to_owned(),
            thousands: with_unit(thousands),
            decimals: with_unit(decimals),
        },
        _ => NoQuantity::Number(text.to_owned()),
    }
}

/// The number something begins with, and what stands behind it.
pub fn split(text: &str) -> (&str, &str) {
    let text = text.trim();
    let characters = text.as_bytes();
    let digit = |at: usize| characters.get(at).is_some_and(u8::is_ascii_digit);
    let is_sign = |at: usize| matches!(characters.get(at), Some(b'+' | b'-'));
    // An e is of the number only with an exponent behind it.
    let exponent = |at: usize| digit(at + 1) || is_sign(at + 1) && digit(at + 2);
    let mut end = 0;
    while let Some(&character) = characters.get(end) {
        let of_number = match character {
            b'0'..=b'9' | b'.' | b',' => true,
            b'+' | b'-' => end == 0 || matches!(characters[end - 1], b'e' | b'E'),
            b'e' | b'E' => end > 0 && exponent(end),
            _ => false,
        };
        if !of_number {
            break;
        }
        end += 1;
    }
    (&text[..end], text[end..].trim_start())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn force(text: &str) -> Result<Quantity<ForceUnit>, NoQuantity> {
        read(text, ForceUnit::N)
    }

    fn length(text: &str) -> Result<Quantity<LengthUnit>, NoQuantity> {
        read(text, LengthUnit::Um)
    }

    proptest! {
        #[test]
        fn what_is_written_with_a_unit_reads_back_to_the_same_value(
            number in -1e6..1e6_f64,
            gap in "[ \u{a0}]{0,2}",
            exponent in any::<bool>(),
        ) {
            let written = if exponent { format!("{number:e}") } else { number.to_string() };
            for &unit in ForceUnit::ALL {
                let symbol = unit.symbol();
                for spelled in [symbol.to_owned(), symbol.to_lowercase(), symbol.to_uppercase()] {
                    prop_assert_eq!(force(&format!("{written}{gap}{spelled}")), Ok(Quantity { number, unit }));
                }
            }
            for &unit in LengthUnit::ALL {
                prop_assert_eq!(length(&format!("{written}{gap}{}", unit.symbol())), Ok(Quantity { number, unit }));
            }
            prop_assert_eq!(force(&written), Ok(Quantity { number, unit: ForceUnit::N }));
        }

        #[test]
        fn a_decimal_comma_is_a_point_and_one_before_three_digits_is_asked_about(
            whole in 1..100_000_u32,
            behind in "[0-9]{1,5}",
        ) {
            let read = force(&format!("{whole},{behind} daN"));
            if behind.len() < 3 {
                let number = format!("{whole}.{behind}").parse().unwrap();
                prop_assert_eq!(read, Ok(Quantity { number, unit: ForceUnit::DaN }));
            } else {
                let comma = NoQuantity::Comma {
                    found: format!("{whole},{behind} daN"),
                    thousands: format!("{whole}{behind} daN"),
                    decimals: format!("{whole}.{behind} daN"),
                };
                prop_assert_eq!(read, Err(comma));
            }
        }

        #[test]
        fn whatever_is_written_is_read_or_refused(text in ".{0,12}") {
            let (number, unit) = split(&text);
            prop_assert!(text.contains(number) && text.contains(unit));
            let _ = (force(&text), length(&text));
        }
    }

    #[test]
    fn minus_nothing_is_nothing() {
        for text in ["-0", "-0.0", "-0,00", "0", "-0 mm"] {
            let (written, _) = split(text);
            assert!(number(written).unwrap().is_sign_positive(), "{text}");
        }
    }

    #[test]
    fn forces_and_lengths_as_people_write_them() {
        // 1 lbf = 4.4482216152605 N, 1 kgf = 9.80665 N, 1 in = 25 400 µm, exact by definition.
        for (text, newtons) in [
            ("12,5", 12.5),
            ("12.5kN", 12_500.0),
            ("12,5 kN", 12_500.0),
            ("2800 lbf", 12_455.020_522_729_4),
            ("1250 kgf", 12_258.312_5),
            ("980 daN", 9_800.0),
            ("0,125kN", 125.0),
            ("1.2e4N", 12_000.0),
        ] {
            let read = force(text).expect(text).newtons();
            assert!((read - newtons).abs() < 1e-8, "{text}: {read}");
        }
        for (text, micrometres) in [
            ("8", 8.0),
            ("8 µm", 8.0),
            ("8 \u{3bc}m", 8.0),
            ("8um", 8.0),
            ("0.0003 in", 7.62),
            ("0.0003\"", 7.62),
            ("3 tenths", 7.62),
            ("1 tenth", 2.54),
            ("0,008mm", 8.0),
        ] {
            let read = length(text).expect(text).micrometres();
            assert!((read - micrometres).abs() < 1e-12, "{text}: {read}");
        }
        assert_eq!(
            read("-8.1", LengthUnit::Mm).map(Quantity::millimetres),
            Ok(-8.1)
        );
    }

    #[test]
    fn what_is_no_quantity_is_told_by_what_is_wrong_with_it() {
        for (text, says) in [
            ("1,250 kgf", "1250 kgf or 1.250 kgf"),
            ("80 bar", "pressure"),
            ("1200psi", "pressure"),
            ("80 N/mm²", "pressure"),
            ("12 stone", "N, kN, lbf, kgf or daN"),
            ("8 um", "N, kN, lbf, kgf or daN"),
            ("1 250 N", "expected a number"),
            ("1.250,5 N", "expected a number"),
            ("kN", "expected a number"),
            ("", "expected a number"),
            ("nan", "expected a number"),
            ("1e999 N", "expected a number"),
            ("--8 N", "expected a number"),
        ] {
            let error = force(text).expect_err(text).to_string();
            assert!(error.contains(says), "{text}: {error}");
        }
        for text in ["8 kN", "3 thou", "8 m"] {
            let error = length(text).expect_err(text).to_string();
            assert!(error.contains("um, mm, in or tenths"), "{text}: {error}");
        }
    }
}
