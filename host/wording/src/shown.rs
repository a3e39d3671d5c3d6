//! Text that others brought: names, reasons, file names, serial numbers. In: any text. Out: the same with everything
//! visible, so that it can neither move a cursor nor hide or turn round what stands beside it.

use std::borrow::Cow;

/// Whether a character is one for the eye: no control character, nothing that hides, turns round or breaks a line.
fn is_visible(c: char) -> bool {
    let hides = matches!(c,
        '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}');
    !c.is_control() && !hides
}

/// A text on one line, what is not visible in it written out: `\n`, `\u{1b}`.
pub fn shown(text: &str) -> Cow<'_, str> {
    written_out(text, is_visible)
}

/// Lines of our own with text of others in them: as [`shown`], the ends of the lines left.
pub fn shown_lines(text: &str) -> Cow<'_, str> {
    written_out(text, |c| c == '\n' || is_visible(c))
}

/// Lines that stay lines, whatever others brought into them.
pub fn joined_lines(lines: &[String]) -> String {
    let shown: Vec<Cow<'_, str>> = lines.iter().map(|line| shown(line)).collect();
    shown.join("\n")
}

/// JSON that says the same and shows as it is: what is not visible in its texts is written as `\u` and four digits.
pub fn shown_json(json: &str) -> Cow<'_, str> {
    let passes = |c: char| c == '\n' || is_visible(c);
    if json.chars().all(passes) {
        return Cow::Borrowed(json);
    }
    let mut out = String::with_capacity(json.len() + 16);
    for c in json.chars() {
        if passes(c) {
            out.push(c);
        } else {
            for unit in c.encode_utf16(&mut [0; 2]) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        }
    }
    Cow::Owned(out)
}

fn written_out(text: &str, passes: impl Fn(char) -> bool) -> Cow<'_, str> {
    if text.chars().all(&passes) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if passes(c) {
            out.push(c);
        } else {
            out.extend(c.escape_default());
        }
    }
    Cow::Owned(out)
}

/// What stands in a cell of a table: short, visible, in quotes.
pub fn quoted(cell: &str) -> String {
    if cell.is_empty() {
        return "an empty cell".to_owned();
    }
    let short: String = cell.chars().take(40).collect();
    let dots = if short.len() < cell.len() { "…" } else { "" };
    format!("\"{}{dots}\"", short.escape_debug())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_letter_is_written_out_and_the_rest_stays() {
        assert_eq!(
            shown("Spindle 3, nördlich ± 2 µm"),
            "Spindle 3, nördlich ± 2 µm"
        );
        assert_eq!(shown("a\u{1b}[2Jb\r\nc"), "a\\u{1b}[2Jb\\r\\nc");
        assert_eq!(shown("fit\u{202e}ton"), "fit\\u{202e}ton");
        assert_eq!(shown("\u{85}\u{9b}31m"), "\\u{85}\\u{9b}31m");
        assert_eq!(shown_lines("a\nb\tc"), "a\nb\\tc");
    }

    #[test]
    fn json_says_the_same_in_letters_that_show() {
        let value = serde_json::json!({ "name": "fit\u{202e}ton\u{e0041}\u{9b}\n" });
        let text = format!("{value:#}");
        let shown = shown_json(&text);
        assert!(shown.chars().all(|c| c == '\n' || is_visible(c)), "{shown}");
        assert_eq!(
            serde_json::from_str::<serde_json::Value>(&shown).unwrap(),
            value
        );
    }
}
