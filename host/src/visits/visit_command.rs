//! `visit`: from its start to its end. In: what is known of it. Out: what is done, what is open, and its digest.

use crate::terminal::app::App;
use crate::terminal::console::{Console, Finished};
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::amendments;
use crate::visits::arguments::{CheckCommand, VisitCommand, VisitFacts, WhichVisit};
use crate::visits::book::book_writer::{BookWriter, is_from_paper};
use crate::visits::book::opening::{
    described, find_spindle, find_visit, open_visit, short_id, spindle_of,
};
use crate::visits::checks::anew;
use crate::visits::checks::anew::{Judges, Rejudged};
use crate::visits::correct_command;
use crate::visits::counters;
use crate::visits::later_rows::line;
use crate::visits::visit_end;
use crate::visits::visit_shown::told;
use holdtrue_book::{Book, Revision, VisitHeader};
use holdtrue_wording::joined_lines;
use serde_json::json;

pub(crate) fn run(command: VisitCommand, judges: Judges, app: &mut App) -> Result<Finished, Error> {
    match command {
        VisitCommand::Start { short, facts, .. } => start(short, &facts, judges, app),
        VisitCommand::Enter { .. } => {
            Err(Error::usage("visit enter is carried out beside the visits"))
        }
        VisitCommand::Status { which } => status(&which, judges, app),
        VisitCommand::Edit {
            which,
            tool_back,
            facts,
            ..
        } => edit(&which, &facts, tool_back, judges, app),
        VisitCommand::Finish { which, dry_run } => match dry_run {
            true => visit_end::looked_over(&which, judges, app),
            false => visit_end::finish(&which, judges, app),
        },
        VisitCommand::Amend {
            because,
            visit,
            dry_run,
        } => {
            let amended = amendments::amend(&because, visit.as_deref(), dry_run, judges, app)?;
            let (writer, id, lines) = amended;
            told(&writer.book, id, &lines, judges, &app.settings.units())
        }
        VisitCommand::Strike(strike) => {
            let done = correct_command::strike_visit(&strike, app)?;
            told(
                &done.writer.book,
                done.visit,
                &done.lines,
                judges,
                &app.settings.units(),
            )
        }
    }
}

/// Puts a set aside.
pub(crate) fn run_check(
    command: &CheckCommand,
    judges: Judges,
    app: &App,
) -> Result<Finished, Error> {
    let CheckCommand::Strike { number, strike } = command;
    let done = correct_command::strike_check(*number, strike, app)?;
    told(
        &done.writer.book,
        done.visit,
        &done.lines,
        judges,
        &app.settings.units(),
    )
}

fn start(
    short: bool,
    facts: &VisitFacts,
    judges: Judges,
    app: &mut App,
) -> Result<Finished, Error> {
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
    keep(&mut writer, Some(revision), &[], facts, &mut app.console)?;
    told(
        &writer.book,
        id,
        &["Visit started.".to_owned()],
        judges,
        &app.settings.units(),
    )
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

/// A state of a visit's header, with what its counters were found to mean and its sets judged by: all of it or nothing.
fn keep(
    writer: &mut BookWriter,
    mut revision: Option<Revision<VisitHeader>>,
    rejudged: &[Rejudged],
    facts: &VisitFacts,
    console: &mut Console,
) -> Result<(), Error> {
    let ids = [writer.id(), writer.id()];
    let answered = revision.as_mut().map(|revision| {
        let (header, visit, stamp) = (&mut revision.header, revision.entity, &revision.stamp);
        counters::settle(facts, header, visit, &writer.book, ids, stamp, console)
    });
    let answered = answered.transpose()?;
    writer.book.together(|book| {
        revision.map_or(Ok(()), |revision| book.revise(&revision))?;
        anew::file(book, rejudged)?;
        let event = answered.iter().find_map(|answered| answered.event.as_ref());
        event.map_or(Ok(()), |event| book.keep_event(event))?;
        let note = answered.iter().find_map(|answered| answered.note.as_ref());
        note.map_or(Ok(()), |note| book.note(note))
    })?;
    Ok(())
}

fn status(which: &WhichVisit, judges: Judges, app: &App) -> Result<Finished, Error> {
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
        Some(meant) if book.finished_visits()?.contains(&meant.id) => told(
            &book,
            meant.id,
            &["Visit finished.".to_owned()],
            judges,
            &app.settings.units(),
        ),
        Some(open) => told(
            &book,
            open.id,
            &["Visit open.".to_owned()],
            judges,
            &app.settings.units(),
        ),
        None => {
            let mut lines = vec!["No visit is open.".to_owned()];
            if let Some(last) = book.latest_visit()? {
                let later = book.visit(last)?.later;
                lines.extend(
                    later
                        .iter()
                        .map(|row| format!("Visit {}: {}", short_id(last), line(row))),
                );
                lines.push(format!(
                    "The last one: holdtrue visit status --visit {}",
                    short_id(last)
                ));
            }
            let result = json!({ "schema": 1, "visit": null });
            Finished::new(Exit::Done, &result, joined_lines(&lines))
        }
    }
}

/// What the sets have from the spindle follows it: they are judged anew in the same step.
fn edit(
    which: &WhichVisit,
    facts: &VisitFacts,
    tool_back: bool,
    judges: Judges,
    app: &mut App,
) -> Result<Finished, Error> {
    let mut writer = app.writer_of_existing()?;
    let open = open_visit(&writer.book, which.visit.as_deref())?;
    let mut header = open.header().clone();
    if facts.date.is_some() && !is_from_paper(&header) {
        return Err(Error::usage(
            "--date is the day of a visit from paper; this one is measured at the machine, and began when it was started",
        ));
    }
    apply(facts, &mut header, &writer.book)?;
    header.tool_back = (header.tool_back && facts.tool.is_none()) || tool_back;
    let page = spindle_of(&writer.book, &header)?;
    if header.spindle != open.header().spindle {
        visit_end::refuse_under_way(&writer.book, open.id)?;
        let before = spindle_of(&writer.book, open.header())?;
        page.as_ref().map_or(Ok(()), anew::require_understood)?;
        let pages = [before.as_ref(), page.as_ref()];
        anew::settle_taper(&writer.book, open.id, pages, judges, facts.as_read, app)?;
    }
    let rejudged = anew::of_visit(&writer, open.id, page.as_ref(), judges, &app.settings)?;
    let changed = header != *open.header() || open.conflict() || facts.control_replaced;
    let revision = changed.then(|| Revision {
        id: writer.id(),
        entity: open.id,
        parents: open.parents(),
        header,
        stamp: writer.stamp(),
    });
    keep(&mut writer, revision, &rejudged, facts, &mut app.console)?;
    let mut what = vec!["Visit open.".to_owned()];
    what.extend(rejudged.into_iter().map(|each| each.line));
    told(&writer.book, open.id, &what, judges, &app.settings.units())
}

/// What a visit is entered from, where it was not entered as it happened.
pub(crate) const PAPER: &str = "paper";

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
