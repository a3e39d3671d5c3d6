//! `finding`: what was seen at the machine. In: item, urgency, words. Out: rows of the open visit.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::arguments::{FindingCommand, WhichVisit};
use crate::visits::later_rows;
use crate::visits::opening::{find_visit, maybe_open_visit, open_visit};
use holdtrue_book::{Book, Finding, FindingKind, Json};
use holdtrue_terms::vocabulary::Severity;
use holdtrue_wording::joined_lines;
use serde_json::{Value, json};
use uuid::Uuid;

pub(crate) fn run(command: FindingCommand, app: &App) -> Result<Finished, Error> {
    let (which, new) = match command {
        FindingCommand::List { which } => return list(&which, app),
        FindingCommand::Add { which, new } => (which, new),
    };
    drop(app.read_book()?);
    let mut writer = app.writer()?;
    let visit = open_visit(&writer.book, which.visit.as_deref())?.id;
    let kind = match (new.in_order, new.not_examined) {
        (true, _) => FindingKind::InOrder,
        (_, true) => FindingKind::NotExamined,
        _ => FindingKind::Found,
    };
    let finding = Finding {
        id: writer.id(),
        visit,
        kind,
        severity: new.severity,
        assembly: new.assembly,
        item: new.item,
        text: new.text,
        content: Json::empty(),
        stamp: writer.stamp(),
    };
    writer.book.find(&finding)?;
    let result = json!({ "schema": 1, "findings": [document(&finding)], "later": [] });
    Finished::new(Exit::Done, &result, joined_lines(&[line(&finding)]))
}

fn list(which: &WhichVisit, app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let (findings, later) = match latest(&book, which)? {
        Some(visit) => {
            let visit = book.visit(visit)?;
            (visit.findings, visit.later)
        }
        None => Default::default(),
    };
    let documents: Vec<Value> = findings.iter().map(document).collect();
    let mut lines: Vec<String> = findings.iter().map(line).collect();
    if lines.is_empty() {
        lines.push("No finding yet.".to_owned());
    }
    let later: Vec<String> = later.iter().map(later_rows::line).collect();
    lines.extend(later.iter().cloned());
    Finished::new(
        Exit::Done,
        &json!({ "schema": 1, "findings": documents, "later": later }),
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

/// A finding as a person reads it.
pub(crate) fn line(finding: &Finding) -> String {
    let what = match (finding.kind, finding.severity) {
        (FindingKind::InOrder, _) => "in order".to_owned(),
        (FindingKind::NotExamined, _) => format!("not examined, because {}", finding.text),
        (FindingKind::Found, severity) => {
            format!("{}: {}", severity.map_or("", Severity::words), finding.text)
        }
    };
    format!("{}, {}: {what}", finding.assembly, finding.item)
}

fn document(finding: &Finding) -> Value {
    json!({
        "id": finding.id,
        "kind": finding.kind.word(),
        "severity": finding.severity.map(Severity::word),
        "assembly": finding.assembly,
        "item": finding.item,
        "text": finding.text,
        "at": finding.stamp.at,
        "by": finding.stamp.author,
    })
}
