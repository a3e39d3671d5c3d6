//! `check strike`, `finding edit`, `finding strike`, `visit strike`, and an event's strike: nothing is deleted. In: which, and
//! why. Out: a remark on its row, before or after the end of the visit.

use crate::terminal::app::App;
use crate::terminal::console::NOTHING_WRITTEN;
use crate::terminal::error::Error;
use crate::visits::arguments::{FindingFacts, StrikeArgs};
use crate::visits::book::book_writer::BookWriter;
use crate::visits::book::opening::{short_id, visit_meant};
use crate::visits::checks::stored_check::json_of;
use crate::visits::corrected::{CorrectedFinding, because, finding_line, findings_by, strike_on};
use crate::visits::findings::estimate::Estimate;
use crate::visits::findings::photos;
use crate::visits::findings::photos::NewPhoto;
use crate::visits::known_day;
use crate::visits::visit_end;
use holdtrue_book::{Change, Finding, FindingKind, Remark, Said, Visit};
use holdtrue_terms::vocabulary::Severity;
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

/// What was done, and in which visit.
pub(crate) struct Remarked {
    pub writer: BookWriter,
    pub visit: Uuid,
    pub lines: Vec<String>,
}

/// What a finding should read, and the photos it should have.
pub(crate) struct Edit<'a> {
    pub facts: &'a FindingFacts,
    pub photos: Vec<NewPhoto>,
    /// This one is not to be shown.
    pub without_photo: Option<usize>,
    /// Needed for all but new photos.
    pub because: Option<&'a str>,
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
    visit_end::refuse_measured(check)?;
    let what = format!("set {number}, {}", crate::visits::checks::anew::name(check));
    let line = put(check.start.id, &what, &strike.of_row(), &mut writer)?;
    told(writer, &visit, vec![line])
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
    let line = put(corrected.finding.id, &what, &strike.of_row(), &mut writer)?;
    told(writer, &visit, vec![line])
}

/// Strikes a whole visit out, or lifts that.
pub(crate) fn strike_visit(strike: &StrikeArgs, app: &App) -> Result<Remarked, Error> {
    let (mut writer, visit) = meant(strike.visit.as_deref(), app)?;
    let id = visit.visit.id;
    visit_end::refuse_under_way(&writer.book, id)?;
    let what = format!(
        "visit {} of {}",
        short_id(id),
        known_day::moment(&visit.visit.header().started_at)
    );
    let line = put(id, &what, &strike.of_row(), &mut writer)?;
    told(writer, &visit, vec![line])
}

/// Corrects fields of a finding, one remark each, strikes a photo of it and adds others.
pub(crate) fn edit_finding(
    number: usize,
    edit: &Edit,
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
    let id = corrected.finding.id;
    let said = edit
        .facts
        .estimate
        .estimate(app.settings.currency.as_deref())?;
    let changes = changes(&corrected.finding, edit.facts, &said)?;
    let unwanted = unwanted_photo(number, id, edit, &visit, &writer)?;
    if changes.is_empty() && unwanted.is_none() && edit.photos.is_empty() {
        return Err(Error::usage(format!(
            "finding {number} reads so already: nothing was changed. Name what it should read with --text, --severity, --item, \
             --assembly, --measured, --maker, --cost or --hours, or a photo with --photo"
        )));
    }
    let why = |field: &str| {
        edit.because.map(str::to_owned).ok_or_else(|| {
            Error::usage(format!(
                "a correction of {field} needs a reason: add --because TEXT. Nothing was changed"
            ))
        })
    };
    let mut remarks = Vec::new();
    for (field, old, new) in changes {
        remarks.push(Remark {
            id: writer.id(),
            said: Said::Correction,
            target: id,
            reason: why(field)?,
            change: Some(Change {
                field: field.to_owned(),
                old: json_of(&old)?,
                new: json_of(&new)?,
            }),
            stamp: writer.stamp(),
        });
    }
    let corrected = !remarks.is_empty();
    if let Some(photo) = unwanted {
        remarks.push(Remark {
            id: writer.id(),
            said: Said::Strike,
            target: photo,
            change: None,
            reason: why("a photo")?,
            stamp: writer.stamp(),
        });
    }
    let rows = photos::rows(&edit.photos, id, &writer);
    writer.book.together(|book| {
        remarks.iter().try_for_each(|row| book.remark(row))?;
        rows.iter().try_for_each(|row| row.attach(book))
    })?;
    let mut lines = Vec::new();
    if corrected {
        lines.push(format!("Finding {number} corrected."));
    }
    if let Some(photo) = edit.without_photo {
        lines.push(format!(
            "Photo {photo} of finding {number} is not shown any more; the book keeps it."
        ));
    }
    lines.extend(edit.photos.iter().map(NewPhoto::line));
    told(writer, &visit, lines)
}

/// The photo that is not to be shown any more.
fn unwanted_photo(
    number: usize,
    finding: Uuid,
    edit: &Edit,
    visit: &Visit,
    writer: &BookWriter,
) -> Result<Option<Uuid>, Error> {
    let Some(wanted) = edit.without_photo else {
        return Ok(None);
    };
    let photos = photos::of(finding, visit);
    let photo = photos.iter().find(|photo| photo.number == wanted);
    let photo = photo.ok_or_else(|| {
        Error::usage(format!(
            "finding {number} has no photo {wanted}: it has {}. See holdtrue finding list. Nothing was changed",
            photos.len()
        ))
    })?;
    if strike_on(&writer.book.remarks()?, photo.row.id).is_some() {
        return Err(Error::usage(format!(
            "photo {wanted} of finding {number} is not shown already. Nothing was changed"
        )));
    }
    Ok(Some(photo.row.id))
}

type Changed = (&'static str, Value, Value);

/// Field, what it reads and what it should read.
fn changes(
    finding: &Finding,
    facts: &FindingFacts,
    said: &Estimate,
) -> Result<Vec<Changed>, Error> {
    if facts.severity.is_some() && finding.kind != FindingKind::Found {
        return Err(Error::usage(
            "--severity: only something found is urgent. Strike this finding, and add what was found with holdtrue finding add",
        ));
    }
    let text = |text: &str| Value::from(text);
    let severity = |severity: Severity| text(severity.word());
    let (then, new) = (Estimate::of(finding), said);
    let fields = [
        (
            "assembly",
            text(&finding.assembly),
            facts.assembly.as_deref().map(text),
        ),
        ("item", text(&finding.item), facts.item.as_deref().map(text)),
        (
            "severity",
            value(&finding.severity.map(severity)),
            facts.severity.map(severity),
        ),
        ("text", text(&finding.text), facts.text.as_deref().map(text)),
        (
            "content.measured",
            value(&then.measured),
            new.measured.as_ref().map(value),
        ),
        (
            "content.maker",
            value(&then.maker),
            new.maker.as_ref().map(value),
        ),
        (
            "content.cost",
            value(&then.cost),
            new.cost.as_ref().map(value),
        ),
        (
            "content.hours",
            value(&then.hours),
            new.hours.as_ref().map(value),
        ),
    ];
    let then = Estimate {
        measured: new.measured.clone().or(then.measured),
        maker: new.maker.clone().or(then.maker),
        cost: new.cost.clone().or(then.cost),
        hours: new.hours.or(then.hours),
        round: then.round,
    };
    then.fits(finding.kind).map_err(Error::usage)?;
    let changed = fields
        .into_iter()
        .filter_map(|(field, old, new)| new.filter(|new| *new != old).map(|new| (field, old, new)));
    Ok(changed.collect())
}

/// As it stands in a remark; nothing where it was not said.
fn value(of: &impl Serialize) -> Value {
    serde_json::to_value(of).unwrap_or_default()
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

/// A strike, or the lifting of one, and why.
pub(crate) struct Strike<'a> {
    pub because: &'a str,
    pub lift: bool,
    pub dry_run: bool,
}

impl StrikeArgs {
    fn of_row(&self) -> Strike<'_> {
        Strike {
            because: &self.because,
            lift: self.lift,
            dry_run: self.dry_run,
        }
    }
}

/// Strikes, or strikes the strike that holds. What is struck is not struck again.
pub(crate) fn put(
    target: Uuid,
    what: &str,
    strike: &Strike<'_>,
    writer: &mut BookWriter,
) -> Result<String, Error> {
    let remarks = writer.book.remarks()?;
    let holds = strike_on(&remarks, target);
    let (target, line) = match (holds, strike.lift) {
        (None, false) if strike.dry_run => (target, format!("Would be struck out: {what}.")),
        (Some(holds), true) if strike.dry_run => (holds.id, format!("Would count again: {what}.")),
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
    if strike.dry_run {
        return Ok(format!("{line} {NOTHING_WRITTEN}"));
    }
    let row = Remark {
        id: writer.id(),
        said: Said::Strike,
        target,
        change: None,
        reason: strike.because.to_owned(),
        stamp: writer.stamp(),
    };
    writer.book.remark(&row)?;
    Ok(line)
}

/// A remark on a finished visit is shown as later: that is said at once.
fn told(writer: BookWriter, visit: &Visit, mut lines: Vec<String>) -> Result<Remarked, Error> {
    let later = "The visit was finished before: its verdict, paper and check code stay, and this is shown as added later. \
                 It counts once holdtrue visit amend takes it up and gives both a check code of their own.";
    if !visit.finishes.is_empty() {
        lines.push(later.to_owned());
    }
    Ok(Remarked {
        visit: visit.visit.id,
        writer,
        lines,
    })
}
