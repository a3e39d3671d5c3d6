//! `visit`: from its start to its end. In: what is known of it. Out: what is done, what is open, and its digest.

use crate::terminal::app::App;
use crate::terminal::console::{Console, Finished};
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::lease::Lease;
use crate::visits::arguments::{VisitCommand, VisitFacts, WhichVisit};
use crate::visits::book_writer::{BookWriter, is_from_paper};
use crate::visits::counters;
use crate::visits::counters::Counter;
use crate::visits::known_day;
use crate::visits::last_visit;
use crate::visits::later_rows::line;
use crate::visits::opening::{described, find_spindle, find_visit, open_visit, short_id};
use crate::visits::since;
use holdtrue_book::{Book, Check, Digest, FindingKind, Revision, Visit, VisitHeader};
use holdtrue_terms::vocabulary::{Outcome, State};
use holdtrue_wording::digits::Units;
use holdtrue_wording::joined_lines;
use serde_json::{Value, json};
use uuid::Uuid;

pub(crate) fn run(command: VisitCommand, app: &mut App) -> Result<Finished, Error> {
    match command {
        VisitCommand::Start { short, facts } => start(short, &facts, app),
        VisitCommand::Enter { .. } => {
            Err(Error::usage("visit enter is carried out beside the visits"))
        }
        VisitCommand::Status { which } => status(&which, app),
        VisitCommand::Edit { which, facts } => edit(&which, &facts, app),
        VisitCommand::Finish { which } => finish(&which, app),
    }
}

fn start(short: bool, facts: &VisitFacts, app: &mut App) -> Result<Finished, Error> {
    let mut writer = app.writer()?;
    refuse_second(&writer.book, facts.date.is_some())?;
    let mut header = VisitHeader {
        short,
        ..VisitHeader::default()
    };
    apply(facts, &mut header, &writer.book)?;
    if facts.date.is_some() {
        header.entered_from = Some(PAPER.to_owned());
    }
    let revision = Revision {
        id: writer.id(),
        entity: writer.id(),
        parents: Vec::new(),
        header: writer.begun(header),
        stamp: writer.stamp(),
    };
    let id = revision.entity;
    keep(&mut writer, revision, facts, &mut app.console)?;
    told(&writer.book, id, "Visit started.", &app.settings.units())
}

/// A visit at the machine and one from paper may be open together, two of a kind may not.
fn refuse_second(book: &Book, from_paper: bool) -> Result<(), Error> {
    let open = book.open_visits()?;
    match open
        .iter()
        .find(|visit| is_from_paper(visit.header()) == from_paper)
    {
        None => Ok(()),
        Some(open_visit) => {
            let id = match open.len() {
                1 => String::new(),
                _ => format!(" --visit {}", short_id(open_visit.id)),
            };
            Err(Error::usage(format!(
                "the visit {} is still open: go on with it, or end it with holdtrue visit finish{id}",
                described(book, open_visit)?
            )))
        }
    }
}

/// A state of a visit's header, with what its counters were found to mean: all of it or nothing.
fn keep(
    writer: &mut BookWriter,
    revision: Revision<VisitHeader>,
    facts: &VisitFacts,
    console: &mut Console,
) -> Result<(), Error> {
    let ids = [writer.id(), writer.id()];
    let (header, visit, stamp) = (&revision.header, revision.entity, &revision.stamp);
    let answered = counters::settle(facts, header, visit, &writer.book, ids, stamp, console)?;
    writer.book.together(|book| {
        book.revise(&revision)?;
        if let Some(event) = &answered.event {
            book.keep_event(event)?;
        }
        answered
            .note
            .as_ref()
            .map_or(Ok(()), |note| book.note(note))
    })?;
    Ok(())
}

fn status(which: &WhichVisit, app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let open = match &which.visit {
        Some(wanted) => Some(book.visit(find_visit(&book, wanted)?)?.visit),
        None => {
            let mut open = book.open_visits()?;
            // The one at the machine is meant before one from paper.
            open.sort_by_key(|visit| !is_from_paper(visit.header()));
            open.pop()
        }
    };
    match open {
        Some(meant) if book.finished_visits()?.contains(&meant.id) => {
            told(&book, meant.id, "Visit finished.", &app.settings.units())
        }
        Some(open) => told(&book, open.id, "Visit open.", &app.settings.units()),
        None => {
            let mut lines = vec!["No visit is open.".to_owned()];
            if let Some(last) = book.latest_visit()? {
                let later = book.visit(last)?.later;
                lines.extend(
                    later
                        .iter()
                        .map(|row| format!("Visit {}: {}", short_id(last), line(row))),
                );
            }
            let result = json!({ "schema": 1, "visit": null });
            Finished::new(Exit::Done, &result, joined_lines(&lines))
        }
    }
}

fn edit(which: &WhichVisit, facts: &VisitFacts, app: &mut App) -> Result<Finished, Error> {
    drop(app.read_book()?);
    let mut writer = app.writer()?;
    let open = open_visit(&writer.book, which.visit.as_deref())?;
    let mut header = open.header().clone();
    if facts.date.is_some() && !is_from_paper(&header) {
        return Err(Error::usage(
            "--date is the day of a visit from paper; this one is measured at the machine, and began when it was started",
        ));
    }
    apply(facts, &mut header, &writer.book)?;
    if header != *open.header() || open.conflict() || facts.control_replaced {
        let revision = Revision {
            id: writer.id(),
            entity: open.id,
            parents: open.parents(),
            header,
            stamp: writer.stamp(),
        };
        keep(&mut writer, revision, facts, &mut app.console)?;
    }
    told(&writer.book, open.id, "Visit open.", &app.settings.units())
}

fn finish(which: &WhichVisit, app: &mut App) -> Result<Finished, Error> {
    drop(app.read_book()?);
    let mut writer = app.writer()?;
    let open = open_visit(&writer.book, which.visit.as_deref())?;
    let row = writer.id();
    let stamp = writer.stamp();
    refuse_under_way(&writer.book, open.id)?;
    let started = open.header().started_at.parse::<jiff::Timestamp>();
    let ends = stamp.at.parse::<jiff::Timestamp>();
    if matches!((started, ends), (Ok(started), Ok(ends)) if ends < started) {
        app.console.message(&format!(
            "This computer's clock says {}, before the visit began ({}): was it set back? Set it; the page shows both times as they are.",
            stamp.at,
            open.header().started_at
        ));
    }
    writer.book.finish(open.id, row, &stamp)?;
    told(
        &writer.book,
        open.id,
        "Visit finished. Nothing in it changes any more.",
        &app.settings.units(),
    )
}

/// What a visit is entered from, where it was not entered as it happened.
pub(crate) const PAPER: &str = "paper";

/// What another program is still measuring would be lost: a finished visit takes no more rows.
fn refuse_under_way(book: &Book, visit: Uuid) -> Result<(), Error> {
    for check in book.visit(visit)?.checks {
        if check.results.is_empty() && Lease::of_check(check.start.id)?.is_none() {
            return Err(Error::book(format!(
                "the {} check of {} is being measured by another program on this computer: let it come to its end, then \
                 finish the visit. Nothing was changed",
                check.start.kind, check.start.stamp.at
            )));
        }
    }
    Ok(())
}

fn apply(facts: &VisitFacts, header: &mut VisitHeader, book: &Book) -> Result<(), Error> {
    if let Some(spindle) = &facts.spindle {
        header.spindle = Some(find_spindle(book, spindle)?.id);
    }
    let purpose = facts.purpose.map(|purpose| purpose.to_string());
    let text = |from: &Option<String>, to: &Option<String>| from.clone().or_else(|| to.clone());
    if let Some(date) = &facts.date {
        header.started_at.clone_from(&date.text);
    }
    if let Some(name) = &facts.measured_by {
        header.technician.clone_from(name);
    }
    header.purpose = purpose.or_else(|| header.purpose.clone());
    header.customer = text(&facts.customer, &header.customer);
    header.order_number = text(&facts.order_number, &header.order_number);
    header.spindle_hours = facts.spindle_hours.or(header.spindle_hours);
    header.ambient_c = facts.ambient_c.or(header.ambient_c);
    header.consent_of = text(&facts.consent_of, &header.consent_of);
    header.operated_by = text(&facts.operated_by, &header.operated_by);
    header.tool_in_spindle = text(&facts.tool, &header.tool_in_spindle);
    header.power_on_hours = facts.power_on_hours.or(header.power_on_hours);
    header.cutting_hours = facts.cutting_hours.or(header.cutting_hours);
    header.tool_changes = facts.tool_changes.or(header.tool_changes);
    header.temperature_c = facts.temperature_c.or(header.temperature_c);
    header.running_min = facts.running_min.or(header.running_min);
    Ok(())
}

/// The visit as it stands, with one line on what just happened above it.
fn told(book: &Book, id: Uuid, what: &str, units: &Units) -> Result<Finished, Error> {
    let digest = book.sealed(id)?;
    let visit = book.visit(id)?;
    let header = visit.visit.header();
    let spindle = visit.spindle.as_ref();
    let name = spindle.map_or("unnamed", |spindle| &spindle.header().name);
    let mut lines = vec![
        what.to_owned(),
        format!("spindle   {name}"),
        format!(
            "visit     {} of {}, by {}",
            short_id(id),
            header.started_at,
            header.technician
        ),
    ];
    lines.extend(fact_lines(header));
    lines.extend(also_open(book, id)?);
    let headline = since::headline(book, id, units)?;
    lines.extend(headline.iter().map(|line| format!("grip      {line}")));
    for check in &visit.checks {
        lines.push(check_line(check));
        let since = since::of_check(book, id, check.start.id)?;
        lines.extend(
            since::lines(&since, units)
                .iter()
                .map(|line| format!("          {line}")),
        );
    }
    lines.extend(
        visit
            .findings
            .iter()
            .map(crate::visits::finding_command::line),
    );
    let last = match visit.finishes.is_empty() {
        true => last_visit::before(book, id)?,
        false => None,
    };
    lines.extend(last.iter().flat_map(|last| last.lines(units)));
    lines.extend(todo_lines(&visit));
    lines.extend(digest.iter().map(|digest| format!("check code  {digest}")));
    lines.extend(visit.later.iter().map(line));
    let mut document = document(&visit, name, digest.as_ref());
    document["last_visit"] = last.map_or(Value::Null, |last| last.document());
    document["headline"] = headline.map_or(Value::Null, Value::from);
    Finished::new(Exit::Done, &document, joined_lines(&lines))
}

/// What is known of it, without what has a line of its own.
fn fact_lines(header: &VisitHeader) -> Vec<String> {
    let counter = |counter: Counter| Some(format!("{} {}", counter.of(header)?, counter.words()));
    let counters: Vec<String> = Counter::ALL.into_iter().filter_map(counter).collect();
    let degrees = |what: &str, celsius: Option<f64>| Some(format!("{what} {} °C", celsius?));
    let warm: Vec<String> = [
        degrees("air", header.ambient_c),
        degrees("nose", header.temperature_c),
        header
            .running_min
            .map(|min| format!("run {min} min before")),
    ]
    .into_iter()
    .flatten()
    .collect();
    let all = |parts: Vec<String>| (!parts.is_empty()).then(|| parts.join(", "));
    let paper = || {
        let day = known_day::words(&header.started_at);
        format!("from paper, of {day}")
    };
    [
        ("entered", is_from_paper(header).then(paper)),
        ("reason", header.purpose.clone()),
        ("customer", header.customer.clone()),
        ("order", header.order_number.clone()),
        ("consent", header.consent_of.clone()),
        ("operator", header.operated_by.clone()),
        ("counters", all(counters)),
        ("warmth", all(warm)),
    ]
    .into_iter()
    .filter_map(|(label, value)| Some(format!("{label:<9} {}", value?)))
    .collect()
}

/// Other visits that are open beside this one.
fn also_open(book: &Book, visit: Uuid) -> Result<Vec<String>, Error> {
    let open = book.open_visits()?;
    let others = open.iter().filter(|other| other.id != visit);
    let line = |other| Ok(format!("Open too: visit {}", described(book, other)?));
    others.map(line).collect()
}

fn check_line(check: &Check) -> String {
    let state = check.start.state.map_or("", |state| match state {
        State::AsFound => ", as found",
        State::AsLeft => ", as left",
    });
    let ended = match check.results.first() {
        None => format!("not finished, {} recorded", check.recorded.len()),
        Some(result) => result
            .outcome
            .map_or("no limit set".to_owned(), |outcome| match outcome {
                Outcome::Accept => "within limit".to_owned(),
                Outcome::Reject => "outside limit".to_owned(),
                Outcome::Undecided => "undecided".to_owned(),
            }),
    };
    format!(
        "{:<9} {ended}{state}, {}",
        check.start.kind.word(),
        check.start.stamp.at
    )
}

fn todo_lines(visit: &Visit) -> Vec<String> {
    if !visit.finishes.is_empty() {
        return Vec::new();
    }
    let mut lines = Vec::new();
    if visit.visit.header().spindle.is_none() {
        lines.push("To do: say which spindle it is: holdtrue visit edit --spindle NAME".to_owned());
    }
    if visit.visit.header().consent_of.is_none() {
        lines.push("To do: whose consent? holdtrue visit edit --consent-of NAME".to_owned());
    }
    lines
}

fn document(visit: &Visit, name: &str, digest: Option<&Digest>) -> Value {
    let checks: Vec<Value> = visit.checks.iter().map(check_document).collect();
    let not_examined = visit
        .findings
        .iter()
        .filter(|finding| finding.kind == FindingKind::NotExamined)
        .count();
    json!({
        "schema": 1,
        "visit": {
            "id": visit.visit.id,
            "conflict": visit.visit.conflict(),
            "spindle_name": name,
            "finished": !visit.finishes.is_empty(),
            "digest": digest.map(Digest::to_string),
            "header": visit.visit.header(),
            "checks": checks,
            "findings": visit.findings.len(),
            "not_examined": not_examined,
            "later": visit.later.iter().map(line).collect::<Vec<_>>(),
        }
    })
}

fn check_document(check: &Check) -> Value {
    json!({
        "id": check.start.id,
        "check": check.start.kind.word(),
        "state": check.start.state.map(State::word),
        "at": check.start.stamp.at,
        "recorded": check.recorded.len(),
        "finished": !check.results.is_empty(),
        "outcome": check.results.first().and_then(|result| result.outcome).map(Outcome::word),
    })
}
