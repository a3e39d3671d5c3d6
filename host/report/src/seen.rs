//! The second page: a picture a question, what was seen on the machine, and what nobody looked at.
//!
//! In: a document. Out: blocks: are the clamps alike and clear of the limit, when will it be crossed, is it spindle or bar; then
//! findings with their photos, most urgent first.

use crate::checked::checks;
use crate::clamps::clamps;
use crate::document::{Document, Finding, Grip, NotExamined, Photo, Runout};
use crate::paper::{Block, Cell, Look, Table, Text, body, figure, heading, label, note};
use crate::told_apart::told_apart;
use crate::year_series::YearSeries;
use crate::years;
use holdtrue_terms::vocabulary::{Severity, State};
use holdtrue_wording::{paper, words};

/// Pictures, findings, and what was not examined.
pub(crate) fn seen(document: &Document) -> Vec<Block> {
    let mut blocks = grip(document);
    blocks.extend(runout(document));
    blocks.extend(findings(&document.findings));
    blocks.extend(not_examined(&document.not_examined));
    blocks.extend(later(document));
    blocks
}

/// Every clamp of the sets that stand, beside how it came about through the years.
fn grip(document: &Document) -> Vec<Block> {
    let stand = |set: &&Grip| set.struck.is_none() && set.broken_off.is_none();
    let sets: Vec<&Grip> = document.grips.iter().filter(stand).collect();
    let Some(picture) = clamps(&document.units, &sets) else {
        return Vec::new();
    };
    let after = sets
        .iter()
        .any(|set| set.result.state == Some(State::AsLeft));
    let caption = if after {
        paper::CLAMPS_AFTER
    } else {
        paper::CLAMPS
    };
    let right = match grip_through_years(document) {
        Some(series) => years::half(series),
        None => checks(document)
            .iter()
            .filter(|check| check.what == "Grip force" && check.plain())
            .flat_map(|check| {
                let lines = check.summary.iter().map(|line| body(line.as_str()));
                std::iter::once(label(check.title.as_str()))
                    .chain(lines)
                    .collect::<Vec<_>>()
            })
            .collect(),
    };
    let left = vec![figure(picture, caption)];
    vec![
        heading(2, "Grip force"),
        Block::Beside(vec![(1.0, left), (1.0, right)]),
    ]
}

/// Drawn here, and not among the evidence.
pub(crate) fn grip_through_years(document: &Document) -> Option<&YearSeries> {
    let unit = document.units.force_symbol();
    document
        .over_years
        .iter()
        .find(|series| series.unit == unit)
}

/// Spindle and bar of the last set that tells them apart.
fn runout(document: &Document) -> Vec<Block> {
    let stand = |check: &&Runout| check.struck.is_none() && check.broken_off.is_none();
    let mut told = document.runouts.iter().rev().filter(stand);
    let Some(check) = told.find(|check| !check.result.reversal.is_empty()) else {
        return Vec::new();
    };
    let mut blocks = vec![heading(2, "Runout: spindle and bar told apart")];
    for two in check.result.reversal.chunks(2) {
        let picture = |part| {
            let picture = told_apart(&document.units, check, part);
            (1.0, vec![figure(picture, Text::default())])
        };
        let mut columns: Vec<(f32, Vec<Block>)> = two.iter().map(picture).collect();
        columns.resize(2, (1.0, Vec::new()));
        blocks.push(Block::Beside(columns));
    }
    blocks.push(note(paper::TOLD_APART));
    blocks
}

fn findings(findings: &[Finding]) -> Vec<Block> {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|finding| finding.severity.map_or(9, |severity| severity as u8));
    if sorted.is_empty() {
        return Vec::new();
    }
    let mut table = Table::of(&["urgency", "item", "found"]);
    for finding in &sorted {
        let mut urgency = Cell::from(Text::strong(
            finding.severity.map_or("in order", Severity::words),
        ));
        urgency
            .remarks
            .extend(finding.struck.then(|| "struck out".to_owned()));
        let mut found = Cell::from(finding.text.as_str());
        let measured = finding.measured.iter().chain(&finding.estimate);
        found
            .remarks
            .extend(measured.map(|line| words::sentence(line)));
        found.remarks.extend(finding.remarks.iter().cloned());
        table
            .row(vec![urgency, finding.item.as_str().into(), found])
            .out = finding.struck;
    }
    let mut blocks = vec![heading(2, "Seen on the machine"), Block::Table(table)];
    let shown = sorted.iter().filter(|finding| !finding.struck);
    let photos = shown.flat_map(|finding| {
        finding.photos.iter().map(|photo| Photo {
            caption: format!("{}: {}", finding.item, photo.caption),
            ..photo.clone()
        })
    });
    let photos: Vec<Photo> = photos.collect();
    for three in photos.chunks(3) {
        let photo = |photo: &Photo| (1.0, vec![Block::Photo(photo.clone())]);
        let mut columns: Vec<(f32, Vec<Block>)> = three.iter().map(photo).collect();
        columns.resize(3, (1.0, Vec::new()));
        blocks.push(Block::Beside(columns));
    }
    blocks
}

fn not_examined(items: &[NotExamined]) -> Vec<Block> {
    if items.is_empty() {
        return Vec::new();
    }
    let item = |each: &NotExamined| {
        let text = Text::default()
            .with(Look::Strong, each.item.as_str())
            .and(format!(": not examined, because {}.", each.because));
        each.remarks.iter().fold(text, |text, remark| {
            text.soft(format!(" {}", words::sentence(remark)))
        })
    };
    vec![
        heading(2, "Not examined"),
        Block::List(false, items.iter().map(item).collect()),
    ]
}

/// What came too late to be part of the visit is not part of its findings; that it is there is said where they are.
fn later(document: &Document) -> Vec<Block> {
    if document.later.is_empty() {
        return Vec::new();
    }
    let said = document
        .later
        .iter()
        .map(|said| Text::from(format!("{} ({}, {})", said.text, said.who, said.at)));
    vec![
        heading(2, paper::ADDED_LATER),
        body(
            "None of this is covered by the check code, and none of it changes a figure or a finding on this page.",
        ),
        Block::List(false, said.collect()),
    ]
}
