//! The paper of a visit as a whole.
//!
//! In: a document and how it is wanted. Out: the model: two pages for everybody, evidence, and the appendix.

use crate::document::Document;
use crate::front::front;
use crate::paper::{Block, Paper, heading, note};
use crate::to_do::{steps, to_do};
use crate::{Form, appendix, grip, judged, runout, seen, years};
use holdtrue_wording::paper::short_code;

/// The model.
pub(crate) fn paper(document: &Document, form: &Form) -> Paper {
    let mut blocks = blocks(document, form);
    blocks.push(note(format!("Made by {}.", document.program)));
    Paper {
        title: format!(
            "{}, {}: spindle condition",
            document.name(),
            document.visit.started
        ),
        program: document.program.clone(),
        code: document.digest.as_deref().map(short_code),
        of: format!("{}, {}", document.name(), document.visit.started),
        made: document.made.clone(),
        blocks,
    }
}

/// All that stands on it.
pub(crate) fn blocks(document: &Document, form: &Form) -> Vec<Block> {
    let front = front(document, form);
    let mut blocks = front.blocks;
    let seen = seen::seen(document);
    if !seen.is_empty() {
        blocks.push(Block::PageBreak);
        blocks.extend(seen);
    }
    blocks.push(Block::PageBreak);
    blocks.extend(evidence(document, front.shortened, front.names));
    if form.appendix {
        blocks.extend(appendix::appendix(document));
    }
    blocks
}

fn evidence(document: &Document, shortened: bool, names: usize) -> Vec<Block> {
    let units = &document.units;
    let mut blocks = vec![heading(2, "Evidence")];
    if shortened {
        blocks.push(heading(3, "All that is to do"));
        blocks.extend(to_do(&steps(document), usize::MAX));
    }
    for check in &document.grips {
        blocks.extend(grip::evidence(units, check));
    }
    for check in &document.runouts {
        blocks.extend(runout::evidence(units, check));
    }
    blocks.extend(years::up_to_here(document));
    blocks.extend(judged::against_limits(document));
    blocks.extend(judged::instruments(document));
    blocks.extend(facts(document, names));
    blocks.extend(judged::said("Notes", &document.notes));
    blocks.extend(judged::said(
        "Amended after the visit was finished",
        &document.amendments,
    ));
    blocks
}

/// What is known of machine, spindle and visit and does not stand whole on the first page, where names are cut after this
/// many signs.
fn facts(document: &Document, names: usize) -> Vec<Block> {
    let visit = &document.visit;
    let cut = |value: &str| value.chars().count() > names;
    let spindle = document.spindle.facts.iter().chain(&visit.facts);
    let further = spindle.filter(|fact| !fact.in_front || cut(&fact.value));
    let mut facts: Vec<(String, String)> = further
        .map(|fact| (fact.label.clone(), fact.value.clone()))
        .collect();
    let place = document.spindle.place_in_words();
    let own = [
        ("place", &place),
        ("technician", &visit.technician),
        ("consent of", &visit.consent_of),
        ("operated by", &visit.operated_by),
    ];
    let named = own
        .into_iter()
        .filter_map(|(label, value)| Some((label.to_owned(), value.clone()?)));
    facts.extend(named.filter(|(_, value)| cut(value)));
    match facts.is_empty() {
        true => Vec::new(),
        false => vec![
            heading(3, "More of machine, spindle and visit"),
            Block::Facts(facts),
        ],
    }
}
