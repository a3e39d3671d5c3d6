//! `check strike`, `finding edit`, `finding strike`, `visit strike`: nothing is deleted. In: which, and why. Out: a remark on
//! its row, before or after the end of the visit.

use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::visits::arguments::{FindingFacts, StrikeArgs};
use crate::visits::book_writer::BookWriter;
use crate::visits::corrected::{CorrectedFinding, because, finding_line, findings_by, strike_on};
use crate::visits::known_day;
use crate::visits::opening::{short_id, visit_meant};
use crate::visits::stored_check::json_of;
use holdtrue_book::{Change, Finding, FindingKind, Remark, Said, Visit};
use holdtrue_terms::vocabulary::Severity;
use uuid::Uuid;

/// What was done, and in which visit.
pub(crate) struct Remarked {
    pub writer: BookWriter,
    pub visit: Uuid,
    pub line: String,
}

/// The book and the visit that is meant in it.
fn meant(named: Option<&str>, app: &App) -> Result<(BookWriter, Visit), Error> {
    let writer = app.writer_of_existing()?;
    let visit = writer.book.visit(visit_meant(&writer.book, named)?)?;
    Ok((writer, visit))
}

/// Puts a set aside, or lifts that.
pub(crate) fn strike_check(
    number: usize,
    strike: &StrikeArgs,
    app: &App,
) -> Result<Remarked, Error> {
    let (mut writer, visit) = meant(strike.visit.as_deref(), app)?;
    let there = visit.checks.len();
    let check = number
        .checked_sub(1)
        .and_then(|place| visit.checks.get(place));
    let check = check.ok_or_else(|| no_such("set", "sets", number, there, &visit))?;
    let what = format!("set {number}, {}", crate::visits::anew::name(check));
    let line = put(check.start.id, &what, strike, &mut writer)?;
    told(writer, &visit, line)
}

/// Strikes a finding out, or lifts that.
pub(crate) fn strike_finding(
    number: usize,
    strike: &StrikeArgs,
    app: &App,
) -> Result<Remarked, Error> {
    let (mut writer, visit) = meant(strike.visit.as_deref(), app)?;
    let corrected = finding(number, &visit, &writer.book.remarks()?)?;
    let what = format!("finding {number}, \"{}\"", finding_line(&corrected.finding));
    let line = put(corrected.finding.id, &what, strike, &mut writer)?;
    told(writer, &visit, line)
}

/// Strikes a whole visit out, or lifts that.
pub(crate) fn strike_visit(strike: &StrikeArgs, app: &App) -> Result<Remarked, Error> {
    let (mut writer, visit) = meant(strike.visit.as_deref(), app)?;
    let id = visit.visit.id;
    let what = format!(
        "visit {} of {}",
        short_id(id),
        known_day::moment(&visit.visit.header().started_at)
    );
    let line = put(id, &what, strike, &mut writer)?;
    told(writer, &visit, line)
}

/// Corrects fields of a finding: one remark each.
pub(crate) fn edit_finding(
    number: usize,
    facts: &FindingFacts,
    reason: &str,
    named: Option<&str>,
    app: &App,
) -> Result<Remarked, Error> {
    let (mut writer, visit) = meant(named, app)?;
    let corrected = finding(number, &visit, &writer.book.remarks()?)?;
    if let Some(strike) = &corrected.struck {
        return Err(Error::usage(format!(
            "finding {number} is struck out: {}. Lift that first: holdtrue finding strike {number} --lift --because TEXT",
            because(strike)
        )));
    }
    let changes = changes(&corrected.finding, facts)?;
    if changes.is_empty() {
        return Err(Error::usage(format!(
            "finding {number} reads so already: nothing was changed. Name what it should read with --text, --severity, --item \
             or --assembly"
        )));
    }
    let rows = changes.into_iter().map(|(field, old, new)| {
        Ok(Remark {
            id: writer.id(),
            said: Said::Correction,
            target: corrected.finding.id,
            change: Some(Change {
                field: field.to_owned(),
                old: json_of(&old)?,
                new: json_of(&new)?,
            }),
            reason: reason.to_owned(),
            stamp: writer.stamp(),
        })
    });
    let rows: Vec<Remark> = rows.collect::<Result<_, Error>>()?;
    writer
        .book
        .together(|book| rows.iter().try_for_each(|row| book.remark(row)))?;
    told(writer, &visit, format!("Finding {number} corrected."))
}

type Changed = (&'static str, String, String);

/// Field, what it reads and what it should read.
fn changes(finding: &Finding, facts: &FindingFacts) -> Result<Vec<Changed>, Error> {
    if facts.severity.is_some() && finding.kind != FindingKind::Found {
        return Err(Error::usage(
            "--severity: only something found is urgent. Strike this finding, and add what was found with holdtrue finding add",
        ));
    }
    let severity = |severity: Option<Severity>| severity.map(|word| word.word().to_owned());
    let fields = [
        (
            "assembly",
            Some(finding.assembly.clone()),
            facts.assembly.clone(),
        ),
        ("item", Some(finding.item.clone()), facts.item.clone()),
        (
            "severity",
            severity(finding.severity),
            severity(facts.severity),
        ),
        ("text", Some(finding.text.clone()), facts.text.clone()),
    ];
    let changed = fields.into_iter().filter_map(|(field, old, new)| {
        let old = old.unwrap_or_default();
        new.filter(|new| *new != old).map(|new| (field, old, new))
    });
    Ok(changed.collect())
}

fn finding(number: usize, visit: &Visit, remarks: &[Remark]) -> Result<CorrectedFinding, Error> {
    let found = findings_by(visit, remarks);
    let there = found.len();
    let meant = number
        .checked_sub(1)
        .and_then(|place| found.into_iter().nth(place));
    meant.ok_or_else(|| no_such("finding", "findings", number, there, visit))
}

fn no_such(one: &str, many: &str, number: usize, there: usize, visit: &Visit) -> Error {
    let visit = short_id(visit.visit.id);
    let has = match there {
        0 => format!("it has no {one}"),
        1 => format!("it has one {one}"),
        there => format!("it has {there} {many}"),
    };
    Error::usage(format!(
        "no {one} {number} in visit {visit}: {has}. See holdtrue visit status; another visit is named with --visit"
    ))
}

/// Strikes, or strikes the strike that holds. What is struck is not struck again.
fn put(
    target: Uuid,
    what: &str,
    strike: &StrikeArgs,
    writer: &mut BookWriter,
) -> Result<String, Error> {
    let remarks = writer.book.remarks()?;
    let holds = strike_on(&remarks, target);
    let (target, line) = match (holds, strike.lift) {
        (None, false) => (target, format!("Struck out: {what}.")),
        (Some(holds), true) => (holds.id, format!("Counts again: {what}.")),
        (Some(holds), false) => {
            return Err(Error::usage(format!(
                "{what} is struck out already: {}. Nothing was changed; --lift makes it count again",
                because(holds)
            )));
        }
        (None, true) => {
            return Err(Error::usage(format!(
                "--lift: {what} is not struck out. Nothing was changed"
            )));
        }
    };
    let row = Remark {
        id: writer.id(),
        said: Said::Strike,
        target,
        change: None,
        reason: strike.because.clone(),
        stamp: writer.stamp(),
    };
    writer.book.remark(&row)?;
    Ok(line)
}

/// A remark on a finished visit is shown as later: that is said at once.
fn told(writer: BookWriter, visit: &Visit, line: String) -> Result<Remarked, Error> {
    let later = " The visit was finished before: its verdict, paper and check code stay, and this is shown as added later. \
                 It counts once holdtrue visit amend takes it up and gives both a check code of their own.";
    let line = match visit.finishes.is_empty() {
        true => line,
        false => format!("{line}{later}"),
    };
    Ok(Remarked {
        visit: visit.visit.id,
        writer,
        line,
    })
}
