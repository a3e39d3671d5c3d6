//! Numbers as people and loggers write them. In: a cell. Out: a finite number in the format's unit, or why it is none.

use crate::tables::column::BadCell;
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

    /// Whether numbers read elsewhere with this mark are of the same file.
    pub fn agrees(&mut self, mark: Option<char>) -> bool {
        let allowed = mark != Some(',') || self.comma_allowed;
        let same = mark.is_none() || self.mark.is_none() || mark == self.mark;
        if allowed && same {
            self.mark = self.mark.or(mark);
        }
        allowed && same
    }

    /// A number as nearly all are written.
    fn plain(&mut self, cell: &str) -> Option<f64> {
        let (number, mark) = plain(cell.as_bytes())?;
        self.agrees(mark).then_some(number)
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

/// Powers of ten that a double holds exactly.
const TENS: [f64; MOST_DIGITS + 1] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19,
];
/// Whole numbers up to this one, 2⁵³, are exact.
const LARGEST_EXACT: u64 = 1 << 53;
/// So many digits cannot overflow.
const MOST_DIGITS: usize = 19;

/// A number as nearly all are written, with its decimal mark: a sign or none, digits, and a mark among them or none. None of
/// any other, and of one with so many digits that a double does not hold them.
///
/// Both parts of the division are exact and it is rounded once: the number is the nearest there is, as the standard library's
/// is. Source: W. D. Clinger, *Proc. ACM SIGPLAN* (1990) 92.
#[expect(clippy::cast_precision_loss)]
pub(crate) fn plain(cell: &[u8]) -> Option<(f64, Option<char>)> {
    let (is_negative, digits) = match cell {
        [b'-', digits @ ..] => (true, digits),
        [b'+', digits @ ..] => (false, digits),
        digits => (false, digits),
    };
    let (mut whole, mut count, mut mark) = (0_u64, 0, None);
    let mut before_mark = 0;
    for &byte in digits {
        match byte {
            b'0'..=b'9' => {
                whole = whole.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
                count += 1;
            }
            b'.' | b',' if mark.is_none() => {
                mark = Some(char::from(byte));
                before_mark = count;
            }
            _ => return None,
        }
    }
    if count == 0 || count > MOST_DIGITS || whole > LARGEST_EXACT {
        return None;
    }
    let decimals = if mark.is_some() {
        count - before_mark
    } else {
        0
    };
    let number = whole as f64 / TENS[decimals];
    Some((if is_negative { -number } else { number }, mark))
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
    fn plain_numbers_are_those_of_the_standard_library_to_the_last_bit() {
        let mut state = 11_u64;
        let mut next = |below: u64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % below
        };
        for cell in [
            "0",
            "-0.0",
            "+.5",
            "5.",
            "9007199254740992",
            "0.000000000000000001",
        ] {
            let (number, _) = plain(cell.as_bytes()).expect("a plain number");
            let other: f64 = cell.parse().expect("a number");
            assert_eq!(number.to_bits(), other.to_bits(), "{cell}");
        }
        let mut read = 0;
        for _ in 0..100_000 {
            let sign = ["", "-", "+"][usize::try_from(next(3)).expect("few")];
            let digits: String = (0..=next(19)).map(|_| next(10).to_string()).collect();
            let at = usize::try_from(next(digits.len() as u64 + 1)).expect("few");
            let (before, after) = digits.split_at(at);
            let cell = format!("{sign}{before}.{after}");
            let Some((number, mark)) = plain(cell.as_bytes()) else {
                continue;
            };
            read += 1;
            let other: f64 = cell.parse().expect("a number");
            assert_eq!(
                (number.to_bits(), mark),
                (other.to_bits(), Some('.')),
                "{cell}"
            );
        }
        assert!(read > 50_000, "{read}");
        for cell in [
            "",
            "-",
            ".",
            "1e3",
            "1.2.3",
            "NaN",
            " 1",
            "9007199254740993",
            "00000000000000000001",
        ] {
            assert!(plain(cell.as_bytes()).is_none(), "{cell}");
        }
    }

    #[test]
    fn one_file_has_one_decimal_mark() {
        let mut reader = NumberReader::new(b';');
        assert!(reader.read("9,81", 1.0).is_ok());
        assert!(reader.read("12", 1.0).is_ok());
        assert!(reader.read("1.234", 1.0).is_err());
    }
}
