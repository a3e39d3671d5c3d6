//! Block letters. In: a sign. Out: which of its dots are ink.

/// Rows of a letter.
pub(crate) const LETTER_ROWS: usize = 5;
/// Rows of a digit of the figure.
pub(crate) const DIGIT_ROWS: usize = 7;

/// A letter of a word: five rows of dots as high as they are wide. A sign without a shape is an empty place.
#[rustfmt::skip]
pub(crate) fn letter(sign: char) -> [&'static str; LETTER_ROWS] {
    match sign.to_ascii_uppercase() {
        'A' => [" ## ", "#  #", "####", "#  #", "#  #"],
        'B' => ["### ", "#  #", "### ", "#  #", "### "],
        'C' => [" ###", "#   ", "#   ", "#   ", " ###"],
        'D' => ["### ", "#  #", "#  #", "#  #", "### "],
        'E' => ["####", "#   ", "### ", "#   ", "####"],
        'F' => ["####", "#   ", "### ", "#   ", "#   "],
        'G' => [" ###", "#   ", "# ##", "#  #", " ###"],
        'H' => ["#  #", "#  #", "####", "#  #", "#  #"],
        'I' => ["###", " # ", " # ", " # ", "###"],
        'J' => ["  ##", "   #", "   #", "#  #", " ## "],
        'K' => ["#  #", "# # ", "##  ", "# # ", "#  #"],
        'L' => ["#   ", "#   ", "#   ", "#   ", "####"],
        'M' => ["#   #", "## ##", "# # #", "#   #", "#   #"],
        'N' => ["#   #", "##  #", "# # #", "#  ##", "#   #"],
        'O' => [" ## ", "#  #", "#  #", "#  #", " ## "],
        'P' => ["### ", "#  #", "### ", "#   ", "#   "],
        'Q' => [" ## ", "#  #", "#  #", " ## ", "   #"],
        'R' => ["### ", "#  #", "### ", "# # ", "#  #"],
        'S' => [" ###", "#   ", " ## ", "   #", "### "],
        'T' => ["#####", "  #  ", "  #  ", "  #  ", "  #  "],
        'U' => ["#  #", "#  #", "#  #", "#  #", " ## "],
        'V' => ["#   #", "#   #", " # # ", " # # ", "  #  "],
        'W' => ["#   #", "#   #", "# # #", "## ##", "#   #"],
        'X' => ["#   #", " # # ", "  #  ", " # # ", "#   #"],
        'Y' => ["#   #", " # # ", "  #  ", "  #  ", "  #  "],
        'Z' => ["####", "  # ", " #  ", "#   ", "####"],
        '0' => [" ## ", "#  #", "#  #", "#  #", " ## "],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["### ", "   #", " ## ", "#   ", "####"],
        '3' => ["### ", "   #", " ## ", "   #", "### "],
        '4' => ["#  #", "#  #", "####", "   #", "   #"],
        '5' => ["####", "#   ", "### ", "   #", "### "],
        '6' => [" ## ", "#   ", "### ", "#  #", " ## "],
        '7' => ["####", "   #", "  # ", " #  ", " #  "],
        '8' => [" ## ", "#  #", " ## ", "#  #", " ## "],
        '9' => [" ## ", "#  #", " ###", "   #", " ## "],
        '.' => [" ", " ", " ", " ", "#"],
        ',' => [" ", " ", " ", "#", "#"],
        '-' | '−' | '–' => ["   ", "   ", "###", "   ", "   "],
        '+' => ["   ", " # ", "###", " # ", "   "],
        '/' => ["   #", "  # ", "  # ", " #  ", "#   "],
        '?' => ["### ", "   #", " ## ", "    ", " #  "],
        '!' => ["#", "#", "#", " ", "#"],
        '°' => ["###", "# #", "###", "   ", "   "],
        _ => ["  ", "  ", "  ", "  ", "  "],
    }
}

/// A digit of the figure: seven rows of dots, each two columns wide and a row high.
#[rustfmt::skip]
pub(crate) fn digit(sign: char) -> [&'static str; DIGIT_ROWS] {
    match sign {
        '0' => [" ## ", "#  #", "#  #", "#  #", "#  #", "#  #", " ## "],
        '1' => ["  # ", " ## ", "  # ", "  # ", "  # ", "  # ", " ###"],
        '2' => [" ## ", "#  #", "   #", "  # ", " #  ", "#   ", "####"],
        '3' => [" ## ", "#  #", "   #", " ## ", "   #", "#  #", " ## "],
        '4' => ["#  #", "#  #", "#  #", "####", "   #", "   #", "   #"],
        '5' => ["####", "#   ", "### ", "   #", "   #", "#  #", " ## "],
        '6' => [" ## ", "#   ", "#   ", "### ", "#  #", "#  #", " ## "],
        '7' => ["####", "   #", "   #", "  # ", "  # ", " #  ", " #  "],
        '8' => [" ## ", "#  #", "#  #", " ## ", "#  #", "#  #", " ## "],
        '9' => [" ## ", "#  #", "#  #", " ###", "   #", "   #", " ## "],
        '.' => [" ", " ", " ", " ", " ", " ", "#"],
        '-' | '−' => ["   ", "   ", "   ", "###", "   ", "   ", "   "],
        '+' => ["   ", "   ", " # ", "###", " # ", "   ", "   "],
        _ => ["  ", "  ", "  ", "  ", "  ", "  ", "  "],
    }
}

/// Dots a word takes in a row, one dot between its signs.
pub(crate) fn width<const ROWS: usize>(
    words: &str,
    shape: impl Fn(char) -> [&'static str; ROWS],
) -> usize {
    let dots: usize = words.chars().map(|sign| shape(sign)[0].len() + 1).sum();
    dots.saturating_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn every_letter_and_digit_has_a_shape_of_its_own() {
        let mut seen = BTreeMap::new();
        for sign in ('A'..='Z').chain('1'..='9') {
            let shape = letter(sign);
            assert!(shape.iter().any(|row| row.contains('#')), "{sign}");
            assert!(
                shape.iter().all(|row| row.len() == shape[0].len()),
                "{sign}"
            );
            assert_eq!(seen.insert(shape, sign), None, "{sign}");
        }
        let digits: Vec<_> = ('0'..='9').map(digit).collect();
        for (place, shape) in digits.iter().enumerate() {
            assert!(shape.iter().all(|row| row.len() == 4), "{place}");
            assert!(!digits[..place].contains(shape), "{place}");
        }
    }

    #[test]
    fn two_digits_differ_in_at_least_two_dots() {
        let ink = |sign| digit(sign).concat();
        for a in '0'..='9' {
            for b in (a..='9').skip(1) {
                let (one, other) = (ink(a), ink(b));
                let apart = one.chars().zip(other.chars()).filter(|(x, y)| x != y);
                assert!(apart.count() >= 2, "{a} and {b}");
            }
        }
    }
}
