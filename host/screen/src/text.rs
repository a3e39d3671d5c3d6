//! Sentences to what a terminal can show. In: a sentence, a width. Out: lines that break at spaces; letters it has.

use crate::scene::Ability;
use unicode_normalization::UnicodeNormalization;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// The same words with the letters the terminal has.
pub fn plain(words: &str, ability: Ability) -> String {
    match ability {
        Ability::Unicode => words.to_owned(),
        Ability::Ascii => words.chars().map(spelled).collect(),
    }
}

/// A sign spelled with the letters every terminal has; one nobody foresaw is a question mark, and keeps its place.
fn spelled(sign: char) -> String {
    let known = match sign {
        '\u{a0}' | '\u{202f}' => " ",
        '°' => "deg",
        'µ' | 'μ' => "u",
        '×' => "x",
        '±' => "+-",
        '…' => "...",
        '–' | '—' | '−' | '·' => "-",
        '→' => "->",
        '←' => "<-",
        '≤' => "<=",
        '≥' => ">=",
        'ä' => "ae",
        'ö' => "oe",
        'ü' => "ue",
        'Ä' => "Ae",
        'Ö' => "Oe",
        'Ü' => "Ue",
        'ß' => "ss",
        'ø' => "o",
        'Ø' => "O",
        'ł' => "l",
        'Ł' => "L",
        'æ' => "ae",
        'Æ' => "Ae",
        '‘' | '’' => "'",
        '“' | '”' => "\"",
        _ => {
            // A letter with a mark on it is read without.
            let bare = sign.nfd().next().filter(char::is_ascii);
            return bare.unwrap_or('?').to_string();
        }
    };
    known.to_owned()
}

/// A word as it is spelled in block letters, of which there are no others than every terminal has; none where that cannot be
/// done.
pub(crate) fn in_block_letters(word: &str) -> Option<String> {
    let unknown = |sign: char| sign != '?' && spelled(sign) == "?";
    let signs = |sign: char| match sign {
        // These have shapes of their own.
        '°' | '−' | '–' => sign.to_string(),
        _ => spelled(sign),
    };
    (!word.contains(unknown)).then(|| word.chars().map(signs).collect())
}

/// How many columns words take.
pub(crate) fn columns(words: &str) -> u16 {
    u16::try_from(words.width()).unwrap_or(u16::MAX)
}

/// Words cut to `width` columns, with a sign that they are.
pub(crate) fn cut(words: &str, width: u16, ability: Ability) -> String {
    if columns(words) <= width {
        return words.to_owned();
    }
    let sign = plain("…", ability);
    let room = usize::from(width.saturating_sub(columns(&sign)));
    let mut kept = String::new();
    let mut used = 0;
    for letter in words.chars() {
        used += letter.width().unwrap_or(0);
        if used > room {
            break;
        }
        kept.push(letter);
    }
    if columns(&sign) <= width {
        kept.push_str(&sign);
    }
    kept
}

/// The same words, one that is longer than a line parted where the line ends: what somebody types stays in sight to its end.
pub(crate) fn in_pieces(words: &str, width: u16) -> String {
    let mut parted = String::new();
    let mut used = 0;
    for letter in words.chars() {
        let wide = u16::try_from(letter.width().unwrap_or(0)).unwrap_or(0);
        used = if letter.is_whitespace() {
            0
        } else {
            used + wide
        };
        if used > width && used > wide {
            parted.push(' ');
            used = wide;
        }
        parted.push(letter);
    }
    parted
}

/// Words in lines of at most `width` columns. Only a word longer than a line is ever cut.
pub(crate) fn wrapped(words: &str, width: u16, ability: Ability) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in words.split_whitespace() {
        let with = columns(&line) + columns(word) + u16::from(!line.is_empty());
        if with > width && !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(&cut(word, width, ability));
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A printed line in lines of at most `width` columns: broken at spaces, its columns kept, what follows set in as far as the line
/// itself. Only a word longer than a line is wider.
pub fn fitted(line: &str, width: u16) -> Vec<String> {
    let words_begin = line.find(|sign: char| !sign.is_whitespace() && sign != '-');
    let set_in = words_begin.map_or(0, |at| columns(&line[..at]));
    let set_in = if set_in > width / 2 { 0 } else { set_in };
    let margin = " ".repeat(usize::from(set_in));
    let mut lines = Vec::new();
    let mut rest = line.to_owned();
    while columns(&rest) > width {
        let begin = rest.len() - rest.trim_start().len();
        let spaces = rest
            .char_indices()
            .filter(|(at, sign)| *sign == ' ' && *at > begin);
        let fits = |at: &usize| columns(&rest[..*at]) <= width;
        let mut places = spaces.map(|(at, _)| at);
        let last = places.clone().rfind(fits).or_else(|| places.next());
        let Some(at) = last else { break };
        let next = rest[at..].trim_start().to_owned();
        rest.truncate(at);
        lines.push(rest.trim_end().to_owned());
        if next.is_empty() {
            return lines;
        }
        rest = format!("{margin}{next}");
    }
    lines.push(rest);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_line_is_too_wide_and_no_word_is_broken(words in "[a-z]{1,9}( [a-z]{1,9}){0,20}", width in 9_u16..60) {
            let lines = wrapped(&words, width, Ability::Unicode);
            prop_assert!(lines.iter().all(|line| columns(line) <= width));
            prop_assert_eq!(lines.join(" "), words);
        }

        #[test]
        fn a_printed_line_keeps_its_words_and_fits(
            indent in 0_usize..6,
            words in "[a-z]{1,9}( {1,3}[a-z]{1,9}){0,20}",
            width in 24_u16..60,
        ) {
            let line = format!("{}{words}", " ".repeat(indent));
            let lines = fitted(&line, width);
            prop_assert!(lines.iter().all(|line| columns(line) <= width), "{lines:?}");
            let all: Vec<&str> = lines.iter().flat_map(|line| line.split_whitespace()).collect();
            prop_assert_eq!(all, words.split_whitespace().collect::<Vec<_>>());
            prop_assert!(columns(&line) > width || lines == [line]);
        }

        #[test]
        fn what_is_cut_fits(words in "\\PC{0,40}", width in 0_u16..30) {
            prop_assert!(columns(&cut(&words, width, Ability::Unicode)) <= width);
        }
    }

    #[test]
    fn a_terminal_without_signs_gets_letters() {
        assert_eq!(
            plain("± 2 µm at 40° … 3 × 1", Ability::Ascii),
            "+- 2 um at 40deg ... 3 x 1"
        );
    }

    #[test]
    fn a_name_is_read_in_block_letters_or_as_words_and_never_with_holes() {
        let block = |word: &str| in_block_letters(word);
        assert_eq!(block("MÜHLE 3").as_deref(), Some("MUeHLE 3"));
        assert_eq!(block("Ångström").as_deref(), Some("Angstroem"));
        assert_eq!(block("TOUR É").as_deref(), Some("TOUR E"));
        assert_eq!(block("AT 90°?").as_deref(), Some("AT 90°?"));
        assert_eq!(block("ТОКАРНЫЙ"), None);
        assert_eq!(block("旋盤"), None);
    }
}
