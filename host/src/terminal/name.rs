//! Names of people and things. In: as they are typed. Out: as they are kept, so that one name is one name.

use holdtrue_gauge::calibration::is_printable;
use unicode_normalization::UnicodeNormalization;

/// A name as it is kept: blanks at the ends gone, those between words one each, letters with their accents as one
/// character (Unicode normalization form C).
///
/// # Errors
/// Nothing but blanks, or characters that do not show.
pub fn name(text: &str) -> Result<String, String> {
    let name = kept(text);
    if name.is_empty() {
        return Err("found an empty name, expected one that people call it by".to_owned());
    }
    if !is_printable(&name) {
        return Err(format!(
            "found {text:?}, expected a name without control characters"
        ));
    }
    Ok(name)
}

/// Whether two names are the same to a person: blanks and capitals apart.
pub fn is_same_name(a: &str, b: &str) -> bool {
    kept(a).to_lowercase() == kept(b).to_lowercase()
}

fn kept(text: &str) -> String {
    text.nfc()
        .collect::<String>()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blanks_and_accents_make_no_second_name() {
        assert_eq!(name("  Centre \u{a0} 1\t"), Ok("Centre 1".to_owned()));
        assert_eq!(name("Cafe\u{301}"), Ok("Caf\u{e9}".to_owned()));
        assert!(is_same_name("CAFE\u{301} ", "caf\u{e9}"));
        assert!(!is_same_name("Centre 1", "Centre 11"));
    }

    #[test]
    fn a_name_that_does_not_show_is_none() {
        for text in ["", " \t", "\u{200b}", "Centre\u{1b}[2J 1", "a\u{202e}b"] {
            assert!(name(text).is_err(), "{text:?}");
        }
    }
}
