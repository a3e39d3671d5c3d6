//! Likely causes with their evidence, and notes.
//!
//! In: hints and notes of a check. Out: a table that says where each rule comes from, and a line a note; never a verdict.

use crate::paper::{Block, Table, heading, note};
use holdtrue_wording::{HintWords, words};

/// The hints of a check; nothing where there is none.
pub(crate) fn hints(hints: &[HintWords]) -> Vec<Block> {
    let mut table = Table::of(&["evidence", "look at", "rule from"]);
    for hint in hints {
        let (seen, look_at) = (words::sentence(&hint.evidence), words::sentence(&hint.text));
        table.row(vec![
            seen.into(),
            look_at.into(),
            hint.provenance.words().into(),
        ]);
    }
    match table.rows.is_empty() {
        true => Vec::new(),
        false => vec![
            heading(3, "What the pattern points to"),
            Block::Table(table),
        ],
    }
}

/// The notes of a check, a line each.
pub(crate) fn notes(notes: &[String]) -> impl Iterator<Item = Block> + '_ {
    notes.iter().map(|line| note(words::sentence(line)))
}
