//! Who hands the paper over: their lines and their sign, above everything else on it.
//!
//! In: what the settings say. Out: blocks; none where nothing is set.

use crate::Letterhead;
use crate::paper::{Block, Kind, Text};

/// The sign to the left, the lines to the right, the first of them stronger.
pub(crate) fn letterhead(letterhead: &Letterhead) -> Vec<Block> {
    let line = |(place, line): (usize, &String)| {
        let text = match place {
            0 => Text::strong(line.as_str()),
            _ => line.as_str().into(),
        };
        Block::Paragraph(Kind::Sender, text)
    };
    let lines: Vec<Block> = letterhead.lines.iter().enumerate().map(line).collect();
    let logo: Vec<Block> = letterhead.logo.iter().cloned().map(Block::Logo).collect();
    match (logo.is_empty(), lines.is_empty()) {
        (true, true) => Vec::new(),
        _ => vec![Block::Beside(vec![(1.0, logo), (1.25, lines)])],
    }
}
