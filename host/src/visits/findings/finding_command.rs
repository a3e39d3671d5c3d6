//! `finding`: what was seen at the machine. In: item, urgency, words. Out: rows of the open visit.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::arguments::{FindingCommand, NewFinding, WhichVisit};
use crate::visits::book::opening::{find_visit, maybe_open_visit, open_visit};
use crate::visits::checks::stored_check::json_of;
use crate::visits::correct_command::{Edit, edit_finding, strike_finding};
use crate::visits::corrected::{
    CorrectedFinding, finding_line, finding_lines, findings, strike_document,
};
use crate::visits::findings::estimate::{Estimate, Sum, sum_lines};
use crate::visits::findings::photo_files;
use crate::visits::findings::photos;
use crate::visits::findings::photos::{NewPhoto, Photo};
use crate::visits::later_rows;
use holdtrue_book::{Book, Finding, FindingKind, Visit};
use holdtrue_terms::vocabulary::Severity;
use holdtrue_wording::joined_lines;
use serde_json::{Value, json};
use uuid::Uuid;

pub(crate) fn run(command: FindingCommand, app: &App) -> Result<Finished, Error> {
    match command {
        FindingCommand::Add { which, new, .. } => add(&which, new, app),
        FindingCommand::Round(_) => Err(Error::usage(
            "finding round is carried out beside the findings",
        )),
        FindingCommand::List { which } => {
            let book = app.read_book()?;
            listed(&book, latest(&book, &which)?, &[])
        }
        FindingCommand::Photos {
            folder,
            struck,
            which,
        } => photo_files::run(&folder, struck, &which, app),
        FindingCommand::Edit {
            number,
            facts,
            photos,
            without_photo,
            because,
            visit,
            ..
        } => {
            let edit = Edit {
                facts: &facts,
                photos: photos::read_all(&photos)?,
                without_photo,
                because: because.as_deref(),
            };
            let done = edit_finding(number, &edit, visit.as_deref(), app)?;
            listed(&done.writer.book, Some(done.visit), &done.lines)
        }
        FindingCommand::Strike { number, strike } => {
            let done = strike_finding(number, &strike, app)?;
            listed(&done.writer.book, Some(done.visit), &done.lines)
        }
    }
}

fn add(which: &WhichVisit, new: NewFinding, app: &App) -> Result<Finished, Error> {
    let kind = match (new.in_order, new.not_examined) {
        (true, _) => FindingKind::InOrder,
        (_, true) => FindingKind::NotExamined,
        _ => FindingKind::Found,
    };
    let estimate = new.estimate.estimate(app.settings.currency.as_deref())?;
    estimate.fits(kind).map_err(Error::usage)?;
    let photos = photos::read_all(&new.photos)?;
    let mut writer = app.writer_of_existing()?;
    let finding = Finding {
        id: writer.id(),
        visit: open_visit(&writer.book, which.visit.as_deref())?.id,
        kind,
        severity: new.severity,
        assembly: new.assembly,
        item: new.item,
        text: new.text,
        content: json_of(&estimate)?,
        stamp: writer.stamp(),
    };
    let rows = photos::rows(&photos, finding.id, &writer);
    writer.book.together(|book| {
        book.find(&finding)?;
        rows.iter().try_for_each(|row| row.attach(book))
    })?;
    let mut lines = vec![finding_line(&finding)];
    let said = estimate
        .measured_words()
        .into_iter()
        .chain(estimate.estimate_words());
    lines.extend(said.map(|line| format!("    {line}")));
    lines.extend(photos.iter().map(NewPhoto::line));
    added(&writer.book, &finding, &lines)
}

/// The finding that was added, with the number it has.
fn added(book: &Book, finding: &Finding, lines: &[String]) -> Result<Finished, Error> {
    let visit = book.visit(finding.visit)?;
    let numbered = findings(&visit)
        .into_iter()
        .find(|each| each.finding.id == finding.id);
    let documents = numbered.iter().map(|each| document(each, &visit));
    let documents: Vec<Value> = documents.collect();
    let sums = Sum::of(&findings(&visit));
    let result = json!({ "schema": 1, "findings": documents, "sums": sums, "later": [] });
    Finished::new(Exit::Done, &result, joined_lines(lines))
}

fn listed(book: &Book, visit: Option<Uuid>, what: &[String]) -> Result<Finished, Error> {
    let visit = visit.map(|visit| book.visit(visit)).transpose()?;
    let mut lines = what.to_vec();
    let mut documents: Vec<Value> = Vec::new();
    let found = visit.as_ref().map(findings).unwrap_or_default();
    for (visit, each) in visit
        .iter()
        .flat_map(|visit| found.iter().map(move |each| (visit, each)))
    {
        lines.extend(finding_lines(each));
        let photos = photos::of(each.finding.id, visit);
        lines.extend(photos.iter().map(Photo::line));
        documents.push(document(each, visit));
    }
    lines.extend(sum_lines(&found));
    let later = visit.map(|visit| visit.later).unwrap_or_default();
    if found.is_empty() {
        lines.push("No finding yet.".to_owned());
    }
    let later: Vec<String> = later.iter().map(later_rows::line).collect();
    lines.extend(later.iter().cloned());
    Finished::new(
        Exit::Done,
        &json!({ "schema": 1, "findings": documents, "sums": Sum::of(&found), "later": later }),
        joined_lines(&lines),
    )
}

/// The visit named, else the open one, else the one that began last.
fn latest(book: &Book, which: &WhichVisit) -> Result<Option<Uuid>, Error> {
    if let Some(wanted) = &which.visit {
        return find_visit(book, wanted).map(Some);
    }
    match maybe_open_visit(book, None)? {
        Some(visit) => Ok(Some(visit.id)),
        None => Ok(book.latest_visit()?),
    }
}

fn document(each: &CorrectedFinding, visit: &Visit) -> Value {
    let photos = photos::of(each.finding.id, visit);
    let photos: Vec<Value> = photos.iter().map(Photo::document).collect();
    let finding = &each.finding;
    let said = Estimate::of(finding);
    json!({
        "id": finding.id,
        "number": each.number,
        "kind": finding.kind.word(),
        "severity": finding.severity.map(Severity::word),
        "assembly": finding.assembly,
        "item": finding.item,
        "text": finding.text,
        "measured": said.measured,
        "maker": said.maker,
        "within": said.within(),
        "cost": said.cost,
        "hours": said.hours,
        "round": said.round,
        "at": finding.stamp.at,
        "by": finding.stamp.author,
        "struck": strike_document(each.struck.as_ref()),
        "corrections": each.correction_documents(),
        "photos": photos,
    })
}
