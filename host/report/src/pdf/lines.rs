//! Words to lines.
//!
//! In: a text, how it looks and how wide its column is. Out: lines of runs, each of one look. Where a line may end is
//! said by Unicode's rules (the `unicode-linebreak` crate); how wide a word is, by the font. A word wider than its column
//! is divided between letters.

use crate::letters::{Weight, printable, width};
use crate::paper::{Look, Text};
use crate::picture::{INK, SOFT};
use holdtrue_wording::shown;
use std::ops::Range;
use unicode_linebreak::linebreaks;

/// How a paragraph looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Style {
    pub size: f32,
    /// From one line to the next.
    pub leading: f32,
    pub weight: Weight,
    pub strong: Weight,
    /// Of soft words, in parts of the size, and their grey.
    pub soft: (f32, u8),
    pub grey: u8,
}

impl Style {
    pub(crate) const fn of(size: f32, leading: f32) -> Self {
        Self {
            size,
            leading,
            weight: Weight::Regular,
            strong: Weight::Semibold,
            soft: (0.875, SOFT),
            grey: INK,
        }
    }

    pub(crate) const fn weight(mut self, weight: Weight) -> Self {
        self.weight = weight;
        self.strong = Weight::Bold;
        self
    }

    pub(crate) const fn grey(mut self, grey: u8) -> Self {
        self.grey = grey;
        self
    }

    fn look(&self, look: Look) -> (Weight, f32, u8) {
        match look {
            Look::Plain => (self.weight, self.size, self.grey),
            Look::Strong => (self.strong, self.size, self.grey),
            Look::Soft => (Weight::Regular, self.size * self.soft.0, self.soft.1),
        }
    }
}

/// Letters of one look, at a place in their line.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Run {
    pub x: f32,
    pub text: String,
    pub weight: Weight,
    pub size: f32,
    pub grey: u8,
}

/// A line.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Line {
    pub runs: Vec<Run>,
    /// Without the blank at its end.
    pub width: f32,
}

/// A text as one string, and which look each part has.
struct Flat {
    text: String,
    looks: Vec<(Range<usize>, Look)>,
}

impl Flat {
    fn of(text: &Text) -> Self {
        let mut flat = String::new();
        let mut looks = Vec::new();
        for span in &text.0 {
            let from = flat.len();
            flat.push_str(&printable(&shown(&span.text)));
            looks.push((from..flat.len(), span.look));
        }
        Self { text: flat, looks }
    }

    fn parts(&self, of: Range<usize>) -> impl Iterator<Item = (&str, Look)> {
        self.looks.iter().filter_map(move |(range, look)| {
            let (from, to) = (range.start.max(of.start), range.end.min(of.end));
            (from < to).then(|| (&self.text[from..to], *look))
        })
    }

    fn width(&self, of: Range<usize>, style: &Style) -> f32 {
        let each = self.parts(of).map(|(text, look)| {
            let (weight, size, _) = style.look(look);
            width(text, weight, size)
        });
        each.sum()
    }

    /// Without the blanks at its end.
    fn trimmed(&self, of: Range<usize>) -> Range<usize> {
        of.start..of.start + self.text[of].trim_end().len()
    }

    fn line(&self, of: Range<usize>, style: &Style) -> Line {
        let mut x = 0.0;
        let mut runs = Vec::new();
        for (text, look) in self.parts(of.clone()) {
            let (weight, size, grey) = style.look(look);
            runs.push(Run {
                x,
                text: text.to_owned(),
                weight,
                size,
                grey,
            });
            x += width(text, weight, size);
        }
        Line {
            runs,
            width: self.width(self.trimmed(of), style),
        }
    }

    /// The stretches between places where a line may end.
    fn words(&self) -> Vec<Range<usize>> {
        let mut from = 0;
        // Nor within a unit: "µm/m".
        let ends = linebreaks(&self.text).map(|(end, _)| end);
        let ends = ends.filter(|end| *end == self.text.len() || !self.text[..*end].ends_with('/'));
        ends.map(|end| std::mem::replace(&mut from, end)..end)
            .collect()
    }
}

/// The lines of a text.
pub(crate) fn lines(text: &Text, style: &Style, column: f32) -> Vec<Line> {
    const ROOM: f32 = 0.01;
    let flat = Flat::of(text);
    let mut lines = Vec::new();
    let mut from = 0;
    let mut filled = 0.0;
    for word in flat.words() {
        let own = flat.width(flat.trimmed(word.clone()), style);
        if filled + own > column + ROOM && from < word.start {
            lines.push(flat.line(from..word.start, style));
            from = word.start;
            filled = 0.0;
        }
        if own > column + ROOM {
            // Wider than the column by itself.
            let letters: Vec<usize> = flat.text[word.clone()]
                .char_indices()
                .map(|(place, _)| word.start + place)
                .collect();
            for place in letters.into_iter().skip(1) {
                let with = flat.text[place..].chars().next().map_or(0, char::len_utf8);
                if flat.width(from..place + with, style) > column + ROOM {
                    lines.push(flat.line(from..place, style));
                    from = place;
                }
            }
            filled = flat.width(from..word.end, style);
        } else {
            filled += flat.width(word, style);
        }
    }
    if from < flat.text.len() || lines.is_empty() {
        lines.push(flat.line(from..flat.text.len(), style));
    }
    lines
}

/// The least column that divides no word, and the one that divides no line.
pub(crate) fn spread(text: &Text, style: &Style) -> (f32, f32) {
    let flat = Flat::of(text);
    let words = flat.words().into_iter();
    let widest = words
        .map(|word| flat.width(flat.trimmed(word), style))
        .fold(0.0, f32::max);
    (widest, flat.width(0..flat.text.len(), style))
}

#[cfg(test)]
mod tests {
    use super::*;

    const STYLE: Style = Style::of(10.0, 13.0);

    fn told(text: &str, column: f32) -> Vec<String> {
        let lines = lines(&text.into(), &STYLE, column);
        let text = |line: &Line| line.runs.iter().map(|run| run.text.as_str()).collect();
        lines.iter().map(text).collect()
    }

    #[test]
    fn no_line_is_wider_than_its_column_and_nothing_is_lost() {
        let text = "Drawbarforceverificationprotocolofthespindleworkshop of Ärzte-Straße 12, 9.61\u{a0}kN ± 0.14\u{a0}kN";
        for column in [30.0, 60.0, 140.0, 400.0] {
            let lines = lines(&text.into(), &STYLE, column);
            assert!(
                lines.iter().all(|line| line.width <= column + 0.02),
                "{column}"
            );
            assert_eq!(told(text, column).concat(), text);
        }
        assert!(told(text, 400.0).iter().all(|line| !line.starts_with("kN")));
    }

    #[test]
    fn a_blank_stays_at_the_end_of_its_line() {
        assert_eq!(told("one two", 20.0), ["one ", "two"]);
        assert_eq!(told("", 20.0), [""]);
    }
}
