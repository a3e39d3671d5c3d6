//! What was said after the end of a visit. In: a finished visit, why it is amended. Out: an amendment with its sets judged by
//! what is known of the spindle now, and a check code over both; the visit as it was finished stays.

use crate::terminal::app::App;
use crate::terminal::console::NOTHING_WRITTEN;
use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::book::opening::{find_visit, short_id};
use crate::visits::checks::anew;
use crate::visits::checks::anew::{Judges, LIMIT_THEN_KNOWN, Overtaken, page_now};
use crate::visits::checks::check_inputs::{ANEW, text_in_force};
use crate::visits::checks::stored_check::{json_of, read};
use crate::visits::corrected::{VisitVerdict, because, strike_on};
use holdtrue_book::{Amended, Amendment, Book, Check, Json, Said, Visit, as_amended};
use holdtrue_terms::vocabulary::Outcome;
use holdtrue_wording::words;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use uuid::Uuid;

/// What an amendment says in figures.
#[derive(Debug, Default, Serialize, Deserialize)]
pub struct Content {
    /// Sets judged by what was known of the spindle when it was amended.
    #[serde(default)]
    pub judged: Vec<JudgedThen>,
}

/// A set of a finished visit, judged anew.
#[derive(Debug, Serialize, Deserialize)]
pub struct JudgedThen {
    /// The check.
    pub check: Uuid,
    /// Name and version of the analysis.
    pub analysis: String,
    /// How it is decided.
    pub outcome: Option<Outcome>,
    /// The limits file it was held to.
    pub limits: Option<String>,
    /// The result document, with the inputs it was computed by.
    pub result: Value,
}

/// Amends a finished visit.
///
/// # Errors
/// No finished visit is meant: exit 2. The book does not take it: exit 6.
pub(crate) fn amend(
    reason: &str,
    named: Option<&str>,
    dry_run: bool,
    judges: Judges,
    app: &App,
) -> Result<(BookWriter, Uuid, Vec<String>), Error> {
    let mut writer = app.writer_of_existing()?;
    let id = meant(&writer.book, named)?;
    // What is amended must be what was finished.
    writer.book.sealed(id)?;
    let visit = writer.book.visit(id)?;
    let judged = judged(&writer.book, &visit, judges)?;
    let judged_lines = judged.iter().filter_map(|then| judged_line(&visit, then));
    if dry_run {
        let would = judged_lines.map(|line| format!("Would be so: {line}"));
        let nothing = format!("{NOTHING_WRITTEN} visit amend amends this visit.");
        return Ok((writer, id, would.chain([nothing]).collect()));
    }
    let mut lines =
        vec!["Visit amended. What it was finished with stays, with its check code.".to_owned()];
    lines.extend(judged_lines);
    let amendment = Amendment {
        id: writer.id(),
        visit: id,
        reason: reason.to_owned(),
        content: json_of(&Content { judged })?,
        stamp: writer.stamp(),
    };
    let row = writer.id();
    writer.book.amend_with_end(&amendment, row)?;
    Ok((writer, id, lines))
}

/// The visit named, else the one that began last; only a finished one is amended.
fn meant(book: &Book, named: Option<&str>) -> Result<Uuid, Error> {
    let id = match named {
        Some(wanted) => find_visit(book, wanted)?,
        None => book.latest_visit()?.ok_or_else(|| {
            Error::usage("there is no visit in this book: start one with holdtrue visit start")
        })?,
    };
    if book.finishes(id)?.is_empty() {
        return Err(Error::usage(format!(
            "visit {} is not finished: correct it with holdtrue visit edit, finding edit or check strike; a finished one is \
             named with --visit ID",
            short_id(id)
        )));
    }
    Ok(id)
}

/// Every set whose spindle says something else now than its result, or the amendment before, was computed by.
fn judged(book: &Book, visit: &Visit, judges: Judges) -> Result<Vec<JudgedThen>, Error> {
    let now = page_now(book, visit)?;
    let mut judged = Vec::new();
    let overtaken = anew::overtaken(book, visit, now.as_ref(), judges)?;
    // What an amendment judged by a page that no longer says so is what it was finished with again.
    for check in &visit.checks {
        let still = overtaken
            .iter()
            .any(|found| found.verdict && found.check.start.id == check.start.id);
        let then = judged_last(visit, check.start.id).filter(|_| !still);
        if let (Some(stored), Some(then)) = (check.result(), then)
            && then.outcome != stored.outcome
        {
            let inputs: Value = read(book, &text_in_force(&check.start, stored))?;
            let mut result: Value = read(book, &stored.content)?;
            result[ANEW] = json!({ "replaces": [stored.id], "inputs": inputs });
            judged.push(JudgedThen {
                check: check.start.id,
                analysis: stored.analysis.clone(),
                outcome: stored.outcome,
                limits: stored
                    .limits_sha256
                    .as_deref()
                    .map(|sha256| book.limits(sha256))
                    .transpose()?
                    .flatten(),
                result,
            });
        }
    }
    for found in overtaken {
        let check = found.check;
        if !found.verdict || has_judged(visit, &found) {
            continue;
        }
        let inputs: Value = read(book, &found.anew.inputs)?;
        let anew = found.judged;
        let mut result = anew.document;
        result[ANEW] = json!({ "replaces": [found.stored.id], "inputs": inputs });
        judged.push(JudgedThen {
            check: check.start.id,
            analysis: anew.analysis,
            outcome: anew.outcome,
            limits: found.anew.limits.clone(),
            result,
        });
    }
    Ok(judged)
}

/// Whether the last amendment that judged this set did so by what its spindle says now.
pub fn has_judged(visit: &Visit, found: &Overtaken<'_>) -> bool {
    let last = judged_last(visit, found.check.start.id);
    let inputs: Option<Value> = found.anew.inputs.read().ok();
    last.is_some_and(|then| Some(&then.result[ANEW]["inputs"]) == inputs.as_ref())
}

/// The sets an amendment judged.
pub fn judged_by(amendment: &Amendment) -> Vec<JudgedThen> {
    content(&amendment.content).judged
}

/// What the last amendment that judged a set made of it.
pub fn judged_last(visit: &Visit, check: Uuid) -> Option<JudgedThen> {
    let newest = visit.amendments.iter().rev();
    let mut judged = newest.flat_map(judged_by);
    judged.find(|then| then.check == check)
}

/// What another tool wrote into an amendment says nothing here.
fn content(json: &Json) -> Content {
    json.read().unwrap_or_default()
}

/// "The grip check … : was within limit, by the limit then known; amended: outside limit".
fn judged_line(visit: &Visit, then: &JudgedThen) -> Option<String> {
    let check = visit
        .checks
        .iter()
        .find(|check| check.start.id == then.check)?;
    let was = anew::outcome_words(check.result().and_then(|result| result.outcome));
    let is = made_of(visit, then);
    Some(format!(
        "{}: {was}, {}; amended: {is}",
        words::capital(&anew::name(check)),
        LIMIT_THEN_KNOWN
    ))
}

/// What the amendments of a visit made of its sets.
pub fn outcomes(visit: &Visit) -> impl Fn(&Check) -> Option<Outcome> + '_ {
    |check| {
        let then = judged_last(visit, check.start.id)?;
        outcome_made_of(visit, &then)
    }
}

/// What an amendment made of a set: how it is decided, or that what was not within stays so where nothing limits it any more.
pub fn made_of(visit: &Visit, then: &JudgedThen) -> String {
    match outcome_made_of(visit, then) {
        Some(stays) if then.outcome.is_none() => format!(
            "not judged, since no limit is known any more; {} stays",
            words::outcome(stays)
        ),
        is => anew::outcome_words(is).to_owned(),
    }
}

/// The same as an outcome.
pub fn outcome_made_of(visit: &Visit, then: &JudgedThen) -> Option<Outcome> {
    let of_it = |each: &&Check| each.start.id == then.check;
    let result = visit.checks.iter().find(of_it).and_then(Check::result);
    let amendments = visit.amendments.iter().flat_map(judged_by);
    let before = amendments
        .filter(|each| each.check == then.check)
        .take_while(|each| each.result != then.result)
        .map(|each| each.outcome);
    let before = as_amended(result.and_then(|result| result.outcome), before);
    as_amended(before, [then.outcome])
}

/// What an amendment changes, in sentences, its reason left out.
pub fn changes(visit: &Visit, amended: &Amended) -> Vec<String> {
    let contents: Vec<Content> = amended
        .amendments
        .iter()
        .map(|row| content(&row.content))
        .collect();
    let judged = contents.iter().flat_map(|content| &content.judged);
    let mut lines: Vec<String> = judged.filter_map(|then| judged_line(visit, then)).collect();
    let remarks = [visit.remarks.as_slice(), amended.remarks.as_slice()].concat();
    for remark in &amended.remarks {
        let check = visit
            .checks
            .iter()
            .find(|check| check.start.id == remark.target);
        let finding = visit
            .findings
            .iter()
            .find(|finding| finding.id == remark.target);
        let what = match (check, finding) {
            (Some(check), _) => words::capital(&anew::name(check)),
            (_, Some(finding)) => format!("The finding \"{}, {}\"", finding.assembly, finding.item),
            _ if remark.target == visit.visit.id => "The whole visit".to_owned(),
            _ => "What was struck or corrected before".to_owned(),
        };
        let done = match (remark.said, &remark.change) {
            (Said::Strike, _) => "struck out".to_owned(),
            (Said::Correction, change) => change.as_ref().map_or_else(
                || "corrected".to_owned(),
                |change| {
                    format!(
                        "corrected, {}: {} should read {}",
                        change.field,
                        change.old.text(),
                        change.new.text()
                    )
                },
            ),
        };
        lines.push(format!("{what}: {done}: {}", because(remark)));
    }
    let struck = |remark: &&holdtrue_book::Remark| {
        visit
            .checks
            .iter()
            .any(|check| check.start.id == remark.target)
    };
    if amended.remarks.iter().any(|remark| struck(&remark)) {
        lines.extend(VisitVerdict::of(visit, &remarks, &outcomes(visit)).words());
    }
    lines
}

/// An amendment as a person reads it.
pub fn lines(visit: &Visit, amended: &Amended) -> Vec<String> {
    let said = amended.amendments.iter().map(|row| {
        format!(
            "amended by {}, {}: {}",
            row.stamp.author,
            times::moment(&row.stamp.at),
            row.reason
        )
    });
    let changes = changes(visit, amended)
        .into_iter()
        .map(|line| format!("    {line}"));
    let code = format!("check code with the amendment  {}", amended.digest);
    said.chain(changes).chain([code]).collect()
}

/// An amendment in a document.
pub fn document(visit: &Visit, amended: &Amended) -> Value {
    let reasons = amended
        .amendments
        .iter()
        .map(|row| json!({ "reason": row.reason, "by": row.stamp.author, "at": row.stamp.at }));
    let judged = amended.amendments.iter().flat_map(judged_by);
    let judged = judged.map(|then| {
        json!({ "check": then.check, "outcome": then.outcome.map(Outcome::word), "analysis": then.analysis })
    });
    let remarks = [visit.remarks.as_slice(), amended.remarks.as_slice()].concat();
    let struck = visit.checks.iter().map(|check| check.start.id);
    let struck = struck.filter(|id| strike_on(&remarks, *id).is_some());
    json!({
        "said": reasons.collect::<Vec<_>>(),
        "judged": judged.collect::<Vec<_>>(),
        "struck": struck.collect::<Vec<_>>(),
        "changes": changes(visit, amended),
        "digest": amended.digest.to_string(),
    })
}
