//! How it was judged: figures against their limits, gauges and calibrations, cautions, and the check code.
//!
//! In: a document. Out: blocks of the evidence and of the appendix.

use crate::checked::{Checked, checks};
use crate::document::{Calibration, Document, Fact, How, Instrument, Said};
use crate::ladder::judged_name;
use crate::paper::{Block, Cell, Look, Table, Text, body, heading, note};
use holdtrue_metrology::verdict::Verdict;
use holdtrue_wording::digits::Units;
use holdtrue_wording::{paper, words};

/// Every check against its limits, with what it comes to in words.
pub(crate) fn against_limits(document: &Document) -> Vec<Block> {
    let checks = checks(document);
    let mut blocks = Vec::new();
    for check in &checks {
        blocks.push(heading(3, format!("{}: against its limits", check.title)));
        blocks.extend(check.summary.first().map(|_| body(check.summary.join(" "))));
        match check.verdict {
            Some(verdict) => {
                if !verdict.limits.is_empty() {
                    blocks.push(limits_table(&document.units, verdict));
                }
                let reasons: Vec<String> = check.reasons().collect();
                if !reasons.is_empty() {
                    blocks.push(body(Text::strong(reasons.join(" "))));
                }
            }
            None if check.broken_off.is_some() => blocks.push(body("Not judged: it was broken off.")),
            None => blocks.push(body("Not judged: a limit and the uncertainty of the force gauge or indicator were not both known.")),
        }
    }
    blocks
}

/// What each check was judged by.
fn bases(document: &Document) -> Vec<Block> {
    let checks = checks(document);
    let told = |check: &Checked| note(Text::strong(format!("{}: ", check.title)).and(basis(check)));
    checks.iter().map(told).collect()
}

/// Where the limits stand, what was assumed, how the figures came.
fn basis(check: &Checked) -> String {
    let limits = check
        .limit_sources
        .iter()
        .map(|line| format!("Limits: {line}. "));
    let assumed = check
        .assumptions
        .iter()
        .map(|line| format!("Assumed: {line}. "));
    let typed = check
        .typed_by_hand
        .then(|| "Figures typed by hand, no record. ".to_owned());
    let file = check
        .file
        .map(|file| format!("Read from the file {file}. "));
    let taken = format!("Taken {}, analysis version {}.", check.at, check.analysis);
    limits
        .chain(assumed)
        .chain(typed)
        .chain(file)
        .chain([taken])
        .collect()
}

fn limits_table(units: &Units, verdict: &Verdict) -> Block {
    let mut table = Table::of(&[
        "figure",
        "measured#",
        "allowed for measuring uncertainty#",
        "limit#",
        "limit from",
        "outcome",
    ]);
    for judged in &verdict.limits {
        let figure = |value| units.in_unit(value, &judged.unit);
        let spread = units.spread_in_unit(judged.guard, judged.measured, &judged.unit);
        let watch = if judged.watch { ", watch" } else { "" };
        table.row(vec![
            judged_name(judged).into(),
            figure(judged.measured).into(),
            format!("± {spread}").into(),
            format!("{} {}", words::side(judged.side), figure(judged.limit)).into(),
            words::limit_from(judged, figure).into(),
            format!("{}{watch}", words::outcome(judged.outcome)).into(),
        ]);
    }
    Block::Table(table)
}

/// Every gauge once, however many checks it took.
fn seen(document: &Document) -> Vec<&Instrument> {
    let mut seen: Vec<&Instrument> = Vec::new();
    let all = document.grips.iter().flat_map(|check| &check.gauge);
    for instrument in all.chain(document.runouts.iter().flat_map(|check| &check.instruments)) {
        if !seen.contains(&instrument) {
            seen.push(instrument);
        }
    }
    seen
}

/// Gauges with their calibration, a row each.
pub(crate) fn instruments(document: &Document) -> Vec<Block> {
    let mut table = Table::of(&[
        "instrument",
        "serial number",
        "calibration",
        "certificate",
        "calibrated",
        "expanded uncertainty",
    ]);
    for instrument in seen(document) {
        let mut what = Cell::from(words::capital(&instrument.what));
        what.remarks.extend(
            instrument
                .simulated
                .then(|| "simulated gauge: no spindle was measured".to_owned()),
        );
        let fact = |fact: &Fact| format!("{} {}", fact.label, fact.value);
        what.remarks.extend(instrument.facts.iter().map(fact));
        let serial = instrument.serial.as_deref().unwrap_or("no serial number");
        let mut cells: Vec<Cell> = vec![what, serial.into()];
        match &instrument.calibration {
            None => cells.extend(["none known", "–", "–", "–"].map(Cell::from)),
            Some(calibration) => cells.extend(calibration_cells(calibration)),
        }
        table.row(cells);
    }
    if table.rows.is_empty() {
        return Vec::new();
    }
    vec![
        heading(3, "Force gauge and indicator, and their calibration"),
        Block::Table(table),
    ]
}

fn calibration_cells(calibration: &Calibration) -> [Cell; 4] {
    let known = |text: &Option<String>| Cell::from(text.as_deref().unwrap_or("–"));
    let mut standing = Cell::from(calibration.standing.as_str());
    standing
        .remarks
        .extend(calibration.due.as_ref().map(|due| format!("due {due}")));
    let mut calibrated = known(&calibration.date);
    calibrated
        .remarks
        .extend(calibration.laboratory.as_ref().map(|by| format!("by {by}")));
    let mut uncertainty = known(&calibration.uncertainty);
    uncertainty
        .remarks
        .extend(calibration.span.as_ref().map(|span| format!("from {span}")));
    [
        standing,
        known(&calibration.certificate),
        calibrated,
        uncertainty,
    ]
}

/// By which the book knows what stands on the paper.
pub(crate) fn records(document: &Document) -> Vec<Block> {
    let visit = document
        .visit
        .id
        .iter()
        .map(|id| ("visit".to_owned(), id.clone()));
    let calibrations = seen(document).into_iter().filter_map(|instrument| {
        let id = instrument.calibration.as_ref()?.id.clone()?;
        Some((format!("calibration of the {}", instrument.what), id))
    });
    let records: Vec<(String, String)> = visit.chain(calibrations).collect();
    match records.is_empty() {
        true => Vec::new(),
        false => vec![heading(3, "Records in the book"), Block::Facts(records)],
    }
}

/// The rule, in words.
pub(crate) fn rule(document: &Document) -> Vec<Block> {
    let text = Text::from("A figure is ")
        .with(Look::Strong, "within limit")
        .and(" only if it clears its limit by what is allowed for measuring uncertainty, so that the risk of saying so wrongly is at most 5\u{a0}%. It is ")
        .with(Look::Strong, "outside limit")
        .and(" only if it misses by as much. Everything between is ")
        .with(Look::Strong, "undecided")
        .and(", which is not a pass. The 5\u{a0}% holds for each limit by itself.");
    let mut blocks = vec![heading(3, "How it was judged"), body(text)];
    blocks.extend(bases(document));
    blocks
}

pub(crate) fn cautions(document: &Document) -> Vec<Block> {
    if document.acknowledged.is_empty() {
        return Vec::new();
    }
    let mut table = Table::of(&["caution", "how", "by", "when"]);
    for row in &document.acknowledged {
        let cells = [row.caution.as_str(), row.how.words(), &row.who, &row.at];
        let cells = cells.into_iter().map(Into::into).collect();
        table.row(cells).out = row.how != How::Asked;
    }
    vec![heading(3, "Cautions acknowledged"), Block::Table(table)]
}

/// What somebody said, under a heading.
pub(crate) fn said(title: &str, said: &[Said]) -> Vec<Block> {
    if said.is_empty() {
        return Vec::new();
    }
    let item =
        |each: &Said| Text::from(each.text.as_str()).soft(format!(" {}, {}", each.who, each.at));
    vec![
        heading(3, title),
        Block::List(false, said.iter().map(item).collect()),
    ]
}

/// The whole digest, and how it is held to the book.
pub(crate) fn digest(document: &Document) -> Vec<Block> {
    let mut blocks = vec![heading(3, "Check code of the visit")];
    match &document.digest {
        Some(digest) => {
            blocks.push(body(grouped(digest)));
            blocks.push(note(paper::HOW_TO_VERIFY));
        }
        None => blocks.push(body(paper::NOT_FINISHED)),
    }
    blocks
}

/// Groups of eight, to be read aloud.
fn grouped(digest: &str) -> String {
    let (form, rest) = digest
        .split_once('-')
        .map_or(("", digest), |(form, rest)| (form, rest));
    let letters: Vec<char> = rest.chars().collect();
    let groups: Vec<String> = letters
        .chunks(8)
        .map(|group| group.iter().collect())
        .collect();
    let body = groups.join(" ");
    if form.is_empty() {
        body
    } else {
        format!("{form}-{body}")
    }
}
