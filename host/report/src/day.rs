//! The papers of one day as one: a first page that tells the machines apart, then each visit's own paper.
//!
//! In: the documents of the visits. Out: the model.

use crate::document::Document;
use crate::front::answer;
use crate::letterhead::letterhead;
use crate::paper::{Block, Cell, Kind, Paper, Table, Text, heading, note};
use crate::to_do::steps;
use crate::{Day, Form, Letterhead, visit};
use holdtrue_wording::paper::{short_code, visits};
use holdtrue_wording::words::FIRST_LINE;

/// The model.
pub(crate) fn paper(day: &Day, form: &Form) -> Paper {
    let mut blocks = letterhead(&form.letterhead);
    blocks.extend([
        Block::Paragraph(Kind::Caution, FIRST_LINE.into()),
        Block::Paragraph(Kind::Label, "Spindle condition".into()),
        heading(1, day.day.as_str()),
        heading(2, visits(day.visits.len())),
        Block::Table(table(&day.visits)),
    ]);
    // It stands on the first page of all.
    let form = Form {
        letterhead: Letterhead::default(),
        ..form.clone()
    };
    for document in &day.visits {
        blocks.push(Block::PageBreak);
        blocks.extend(visit::blocks(document, &form));
    }
    blocks.push(note(format!("Made by {}.", day.program)));
    Paper {
        title: format!("{}: spindle condition", day.day),
        program: day.program.clone(),
        code: None,
        of: day.day.clone(),
        made: Some(day.made.clone()),
        blocks,
    }
}

/// A row a visit: whose spindle, what it came to, what is the first thing to do.
fn table(visits: &[Document]) -> Table {
    let mut table = Table::of(&["spindle", "what it came to", "first to do", "check code"]);
    for document in visits {
        let mut name: Cell = Text::strong(document.name()).into();
        name.remarks.extend(document.spindle.place_in_words());
        name.remarks.push(document.visit.started.clone());
        let steps = steps(document);
        let mut first: Cell = match steps.first() {
            Some(step) => Text::strong(format!("{}: ", step.when()))
                .and_all(&step.what)
                .into(),
            None => "–".into(),
        };
        if steps.len() > 1 {
            first.remarks.push(format!("and {} more", steps.len() - 1));
        }
        let code = document.digest.as_deref().map(short_code);
        table.row(vec![
            name,
            answer(document).into(),
            first,
            code.unwrap_or_else(|| "not finished".to_owned()).into(),
        ]);
    }
    table
}
