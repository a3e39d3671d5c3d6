//! `visit finish`: what is missing or running is said first. In: the open visit. Out: its end, or why it goes on.

use crate::terminal::app::App;
use crate::terminal::console::{Finished, NOTHING_WRITTEN};
use crate::terminal::error::Error;
use crate::terminal::lease::Lease;
use crate::terminal::times;
use crate::visits::arguments::WhichVisit;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::book::opening::{open_visit, spindle_of};
use crate::visits::checks::anew;
use crate::visits::checks::anew::Judges;
use crate::visits::checks::since::AmongVisits;
use crate::visits::checks::stored_check;
use crate::visits::corrected::{finding_line, findings, strike_on};
use crate::visits::findings::condition_list;
use crate::visits::visit_shown::{progress, told};
use holdtrue_book::{Book, Check, Digest, FindingKind, Revision, Stamp, Visit, VisitHeader};
use holdtrue_terms::vocabulary::{Outcome, Severity};
use holdtrue_wording::words;
use uuid::Uuid;

pub(crate) fn finish(which: &WhichVisit, judges: Judges, app: &mut App) -> Result<Finished, Error> {
    let mut writer = app.writer_of_existing()?;
    let open = open_visit(&writer.book, which.visit.as_deref())?;
    let visit = writer.book.visit(open.id)?;
    let missing = said_before(&writer.book, &visit, judges, app)?;
    acknowledge(&missing, app)?;
    if unnamed(&visit).is_some() && missing.is_empty() && !app.yes && !app.led {
        // Nobody there to be asked knew of no spindle either.
        let asked = app.console.ask("Finish the visit without a spindle?")?;
        if asked == Some(false) {
            return Err(Error::usage("the visit goes on. Nothing was changed"));
        }
    }
    end_broken_off(&mut writer, &visit, judges, app)?;
    let stamp = writer.stamp();
    let started = open.header().started_at.parse::<jiff::Timestamp>();
    let ends = stamp.at.parse::<jiff::Timestamp>();
    if matches!((started, ends), (Ok(started), Ok(ends)) if ends < started) {
        app.console.message(&format!(
            "This computer's clock says {}, before the visit began ({}): was it set back? Set it; the page shows both times as they are.",
            times::moment(&stamp.at),
            times::moment(&open.header().started_at)
        ));
    }
    let ids = [writer.id(), writer.id()];
    seal(&mut writer.book, open.id, ids, &stamp)?;
    let what = "Visit finished. Nothing in it changes any more.".to_owned();
    let finished = told(
        &writer.book,
        open.id,
        &[what],
        judges,
        &app.settings.units(),
    )?;
    crate::visits::book::second_place::offer(&writer.book, app);
    Ok(finished)
}

/// What [`finish`] would say before the end; nothing is finished.
pub(crate) fn looked_over(
    which: &WhichVisit,
    judges: Judges,
    app: &mut App,
) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let open = open_visit(&book, which.visit.as_deref())?;
    let visit = book.visit(open.id)?;
    let missing = said_before(&book, &visit, judges, app)?;
    let what = match missing.is_empty() && unnamed(&visit).is_none() {
        true => "Nothing is missing: visit finish ends this visit.",
        false => "It can be finished as it is; visit finish then asks once more.",
    };
    let what = format!("{NOTHING_WRITTEN} {what}");
    told(&book, open.id, &[what], judges, &app.settings.units())
}

/// Says what is worth knowing before the end; what the visit lacks, each line of it said too.
fn said_before(
    book: &Book,
    visit: &Visit,
    judges: Judges,
    app: &mut App,
) -> Result<Vec<String>, Error> {
    refuse_under_way(book, visit.visit.id)?;
    let missing = missing(book, visit, judges)?;
    let lines = open_findings(visit).into_iter();
    let lines = lines.chain(not_judged(book, visit)?);
    let lines = lines.chain(unnamed(visit).map(str::to_owned));
    for line in lines.chain(missing.iter().cloned()) {
        app.console.message(&line);
    }
    Ok(missing)
}

/// A set that was broken off and is outside its limit by what it has is not sealed as one that was not judged. One within it
/// stays so: the clamps and planes it lacks may not be.
fn end_broken_off(
    writer: &mut BookWriter,
    visit: &Visit,
    judges: Judges,
    app: &mut App,
) -> Result<(), Error> {
    let broken_off = visit.checks.iter().filter(|check| {
        check.results.is_empty() && strike_on(&visit.remarks, check.start.id).is_none()
    });
    for check in broken_off {
        let judge = judges(check.start.kind);
        let judged = judge.map(|judge| judge.judge(&writer.book, check, &check.start.content));
        let Some(judged) = judged.transpose()?.flatten() else {
            continue;
        };
        if judged.outcome != Some(Outcome::Reject) {
            continue;
        }
        let (analysis, outcome) = (judged.analysis, judged.outcome);
        stored_check::end_with(writer, check.start.id, analysis, outcome, &judged.document)?;
        app.console.message(&format!(
            "{} was broken off, {} recorded, and is outside its limit by those: it is kept so.",
            words::capital(&anew::name(check)),
            progress(check)
        ));
    }
    Ok(())
}

/// Finishes a visit. What its figures are compared with is part of what the end covers.
///
/// # Errors
/// The book cannot be read, or does not take it.
pub(crate) fn seal(
    book: &mut Book,
    visit: Uuid,
    [revision, row]: [Uuid; 2],
    stamp: &Stamp,
) -> holdtrue_book::Result<Digest> {
    let compared = AmongVisits::read(book, visit)?.map(|among| among.of_visit());
    let entity = book.get::<VisitHeader>(visit)?;
    let revision = Revision {
        id: revision,
        entity: visit,
        parents: entity.parents(),
        header: VisitHeader {
            compared: Some(compared.unwrap_or_default()),
            ..entity.header().clone()
        },
        stamp: stamp.clone(),
    };
    book.together(|book| {
        // Two headers at odds stay so: an end decides nothing between them.
        if !entity.conflict() {
            book.revise(&revision)?;
        }
        book.finish(visit, row, stamp)
    })
}

/// What another program is still measuring would be lost: a visit that is finished or struck out takes no more rows.
pub(crate) fn refuse_under_way(book: &Book, visit: Uuid) -> Result<(), Error> {
    book.visit(visit)?
        .checks
        .iter()
        .try_for_each(refuse_measured)
}

/// The same of one check.
pub(crate) fn refuse_measured(check: &Check) -> Result<(), Error> {
    if check.results.is_empty() && Lease::of_check(check.start.id)?.is_none() {
        return Err(Error::book(format!(
            "the {} check of {} is being measured by another program on this computer: let it come to its end, then \
             try again. Nothing was changed",
            check.start.kind,
            times::moment(&check.start.stamp.at)
        )));
    }
    Ok(())
}

/// What a visit lacks. A set that was struck out lacks nothing.
fn missing(book: &Book, visit: &Visit, judges: Judges) -> Result<Vec<String>, Error> {
    let header = visit.visit.header();
    let page = spindle_of(book, header)?;
    let overtaken = anew::overtaken(book, visit, page.as_ref(), judges)?;
    let mut missing = Vec::new();
    for check in &visit.checks {
        if strike_on(&visit.remarks, check.start.id).is_some() {
            continue;
        }
        let name = words::capital(&anew::name(check));
        let by_page = overtaken
            .iter()
            .find(|found| found.check.start.id == check.start.id);
        match check.result() {
            None => missing.push(format!("{name} is not finished: {} recorded.", progress(check))),
            Some(_) if by_page.is_some_and(|found| found.verdict) => missing.push(format!(
                "{name} is judged by a limit that is no longer its spindle's: holdtrue visit edit judges it anew."
            )),
            Some(result) if result.outcome.is_none() && result.limits_sha256.is_some() && has_limits(book, result.limits_sha256.as_deref())? => {
                missing.push(format!("{name} has no verdict, although a limit is known."));
            }
            Some(_) => {}
        }
    }
    if let (Some(tool), false) = (&header.tool_in_spindle, header.tool_back) {
        missing.push(format!(
            "The customer's tool {tool} is not back in the spindle: holdtrue visit edit --tool-back once it is, before the visit is finished; after that \
             holdtrue visit amend --because TEXT says so."
        ));
    }
    missing.extend(
        condition_list::left_words(visit)
            .map(|left| format!("{left}, and --not-examined-rest says why they were not.")),
    );
    Ok(missing)
}

/// A nominal force alone is kept with the limits and sets none.
fn has_limits(book: &Book, sha256: Option<&str>) -> Result<bool, Error> {
    let limits = crate::visits::checks::stored_limits::by_sha256(book, sha256)?;
    Ok(limits.is_some_and(|limits| !limits.limits.is_empty()))
}

/// On the day one key beside others that only look ends a visit: it is asked for even where nothing is missing.
fn acknowledge(missing: &[String], app: &mut App) -> Result<(), Error> {
    let question = match (missing.is_empty(), app.led) {
        _ if app.yes => return Ok(()),
        (true, false) => return Ok(()),
        (true, true) => "Finish the visit? Nothing in it changes after that.",
        (false, _) => "Finish the visit all the same? Nothing in it changes after that.",
    };
    match app.console.ask(question)? {
        Some(true) => Ok(()),
        Some(false) => Err(Error::usage("the visit goes on. Nothing was changed")),
        None => Err(Error::usage(format!(
            "the visit is not complete: {} Nothing was changed. Complete it, or add --yes to finish it as it is",
            missing.join(" ")
        ))),
    }
}

/// A set that nothing was known to judge by keeps nobody from finishing: that it says nothing of the spindle is said. One with a
/// limit is missing something.
fn not_judged(book: &Book, visit: &Visit) -> Result<Vec<String>, Error> {
    let mut lines = Vec::new();
    for check in &visit.checks {
        let result = check.result().filter(|result| result.outcome.is_none());
        let Some(result) = result else { continue };
        let counts = strike_on(&visit.remarks, check.start.id).is_none();
        if counts && !has_limits(book, result.limits_sha256.as_deref())? {
            lines.push(format!(
                "{} was not judged.",
                words::capital(&anew::name(check))
            ));
        }
    }
    Ok(lines)
}

/// What is measured on no spindle keeps nobody from finishing either, and is lost to every history.
fn unnamed(visit: &Visit) -> Option<&'static str> {
    let is_unnamed = visit.visit.header().spindle.is_none() && !visit.checks.is_empty();
    is_unnamed.then_some(
        "No spindle is named: what was measured comes into no history, is held to no spindle's limit, and after the end none can be named. \
         holdtrue visit edit --spindle NAME names it now.",
    )
}

/// What was found and is not put right is said once more; it keeps nobody from finishing.
fn open_findings(visit: &Visit) -> Vec<String> {
    let open = findings(visit).into_iter().filter(|each| {
        let pressing = each.finding.severity == Some(Severity::BeforeUse);
        each.finding.kind == FindingKind::Found && pressing && each.struck.is_none()
    });
    open.map(|each| format!("Still open: {}.", finding_line(&each.finding)))
        .collect()
}
