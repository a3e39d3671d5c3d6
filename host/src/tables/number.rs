//! Numbers as people and loggers write them. In: a cell. Out: a finite number in the format's unit, or why it is none.

use crate::tables::BadCell;
use holdtrue_wording::quoted;

/// Reads the numbers of one file and holds it to one decimal mark: a file with both has thousands separators somewhere.
pub(crate) struct NumberReader {
    comma_allowed: bool,
    mark: Option<char>,
}

impl NumberReader {
    /// For a file with this separator.
    pub fn new(separator: u8) -> Self {
        Self {
            comma_allowed: separator != b',',
            mark: None,
        }
    }

    /// For numbers not parted by commas.
    pub fn with_decimal_comma() -> Self {
        Self::new(b' ')
    }

    /// The number in a cell times `factor`.
    pub fn read(&mut self, cell: &str, factor: f64) -> Result<f64, BadCell> {
        match self.plain(cell).map(|number| number * factor) {
            Some(number) if number.is_finite() => Ok(number),
            _ => self.looked_at(cell, factor),
        }
    }

    /// A number as nearly all are written: with a decimal point or none.
    fn plain(&mut self, cell: &str) -> Option<f64> {
        let (mut points, mut digits) = (0, 0);
        for byte in cell.bytes() {
            match byte {
                b'0'..=b'9' => digits += 1,
                b'.' => points += 1,
                b'+' | b'-' | b'e' | b'E' => {}
                _ => return None,
            }
        }
        let mark = (points == 1).then_some('.');
        let other = mark.is_some() && self.mark.is_some_and(|earlier| earlier != '.');
        if digits == 0 || points > 1 || other {
            return None;
        }
        let number = cell.parse().ok()?;
        self.mark = self.mark.or(mark);
        Some(number)
    }

    /// Any other, and why a cell is none.
    fn looked_at(&mut self, cell: &str, factor: f64) -> Result<f64, BadCell> {
        let refuse = |expected: &str, next| {
            Err(BadCell {
                found: quoted(cell),
                expected: expected.to_owned(),
                next,
            })
        };
        if cell.is_empty() {
            return refuse("a number", "Fill the cell or take the row out of the file.");
        }
        if is_not_finite_word(cell) {
            return refuse(
                "a finite number",
                "The instrument gave no reading here: split the record or measure again.",
            );
        }
        if !looks_like_number(cell) {
            return refuse("a number", "Correct the cell; units belong in the header.");
        }
        let marks: Vec<char> = cell.chars().filter(|c| matches!(c, '.' | ',')).collect();
        if marks.len() > 1 {
            return refuse(
                "a number without thousands separators",
                "Export the record without them.",
            );
        }
        if marks == [','] && !self.comma_allowed {
            return refuse(
                "a decimal point, because the comma separates the columns here",
                "Export with decimal points, or with semicolons between the columns.",
            );
        }
        if let Some(&mark) = marks.first() {
            if self.mark.is_some_and(|earlier| earlier != mark) {
                return refuse(
                    "the decimal mark used further up in this file",
                    "One of the two is a thousands separator: export without it.",
                );
            }
            self.mark = Some(mark);
        }
        match cell.replace(',', ".").parse::<f64>() {
            Ok(number) if (number * factor).is_finite() => Ok(number * factor),
            Ok(_) => refuse("a number of sensible size", "Correct the cell."),
            Err(_) => refuse("a number", "Correct the cell; units belong in the header."),
        }
    }
}

fn is_not_finite_word(cell: &str) -> bool {
    let bare = cell.trim_start_matches(['+', '-']).to_ascii_lowercase();
    matches!(
        bare.as_str(),
        "nan" | "inf" | "infinity" | "∞" | "#n/a" | "#num!"
    )
}

fn looks_like_number(cell: &str) -> bool {
    cell.contains(|c: char| c.is_ascii_digit())
        && cell
            .chars()
            .all(|c| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | ',' | 'e' | 'E'))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(cell: &str, separator: u8) -> Result<f64, BadCell> {
        NumberReader::new(separator).read(cell, 1.0)
    }

    #[test]
    fn reads_what_loggers_write() {
        for (cell, value) in [
            ("9.81", 9.81),
            ("-0.5", -0.5),
            ("+12", 12.0),
            ("1e3", 1000.0),
            ("1.5E-3", 0.0015),
            (".5", 0.5),
            ("5.", 5.0),
        ] {
            let number = read(cell, b',').expect("a number");
            assert!((number - value).abs() < 1e-12, "{cell} read as {number}");
        }
        let number = read("1,5e3", b';').expect("a number with decimal comma");
        assert!((number - 1500.0).abs() < 1e-9);
    }

    #[test]
    fn refuses_what_only_looks_like_a_number() {
        for cell in [
            "", "NaN", "-inf", "Infinity", "1e400", "1.2.3", "1 234", "0x10", "9.8 kN", "--1", "e",
            "1e", "1'234",
        ] {
            assert!(read(cell, b';').is_err(), "{cell:?} was read");
        }
        assert!(read("9,81", b',').is_err());
        assert!(read("1,234.5", b';').is_err());
    }

    #[test]
    fn one_file_has_one_decimal_mark() {
        let mut reader = NumberReader::new(b';');
        assert!(reader.read("9,81", 1.0).is_ok());
        assert!(reader.read("12", 1.0).is_ok());
        assert!(reader.read("1.234", 1.0).is_err());
    }
}
