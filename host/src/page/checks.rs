//! The checks of a visit. In: results and records as the book keeps them. Out: both as the paper draws them.

use crate::grip::stored as grip_stored;
use crate::grip::stored::{Forces, GripInputs};
use crate::judge;
use crate::limits::LimitsFile;
use crate::page::instruments;
use crate::runout::stored as runout_stored;
use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::amendments;
use crate::visits::book::book_writer::is_from_paper;
use crate::visits::checks::anew;
use crate::visits::checks::check_inputs;
use crate::visits::checks::same_record;
use crate::visits::checks::since;
use crate::visits::checks::since::AmongVisits;
use crate::visits::checks::stored_check;
use crate::visits::checks::stored_limits;
use crate::visits::known_day;
use crate::visits::visit_shown::{fell_short, progress};
use holdtrue_book::{Book, Check, CheckKind, CheckResult, CheckStart, Visit};
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::watch::part_read;
use holdtrue_metrology::rise::{Rise, of_middle_clamp};
use holdtrue_metrology::runout::RunoutResult;
use holdtrue_report::document::{Grip, Runout};
use holdtrue_terms::vocabulary::{Outcome, Provenance};
use holdtrue_wording::digits::Units;
use std::borrow::Cow;
use uuid::Uuid;

/// Grip checks, in order of time.
pub(crate) fn grips(
    book: &Book,
    visit: &Visit,
    among: Option<&AmongVisits>,
    units: &Units,
) -> Result<Vec<Grip>, Error> {
    shown(book, visit, among, CheckKind::Grip, units)?
        .iter()
        .map(|shown| grip(book, visit, shown, units))
        .collect()
}

/// Runout checks, in order of time.
pub(crate) fn runouts(
    book: &Book,
    visit: &Visit,
    among: Option<&AmongVisits>,
    units: &Units,
) -> Result<Vec<Runout>, Error> {
    shown(book, visit, among, CheckKind::Runout, units)?
        .iter()
        .map(|shown| runout(book, visit, shown, units))
        .collect()
}

/// A check with the result the page shows.
struct Shown<'a> {
    check: &'a Check,
    stored: Cow<'a, CheckResult>,
    /// How far a check came that was broken off.
    broken_off: Option<String>,
    struck: Option<String>,
    /// What an amendment made of it.
    amended: Option<(String, Option<Outcome>)>,
    /// Whose record it has once more.
    same_as: Option<String>,
    /// How it stands to the last one.
    since_last: Vec<String>,
}

impl Shown<'_> {
    /// What it was before it was judged anew, and whose record it has.
    fn remarks(&self) -> Vec<String> {
        let results = &self.check.results;
        let before = results.iter().filter(|row| row.id != self.stored.id);
        let each = before.map(|row| {
            let (outcome, at) = (
                anew::outcome_words(row.outcome),
                times::moment(&row.stamp.at),
            );
            format!("judged anew by what is known of its spindle; before, on {at}: {outcome}")
        });
        let more = [self.same_as.clone(), self.fell_short()];
        each.chain(more.into_iter().flatten()).collect()
    }

    /// How far a set came that has less than it was begun for.
    fn fell_short(&self) -> Option<String> {
        let short = self.broken_off.is_none() && fell_short(self.check);
        short.then(|| format!("{} recorded", progress(self.check)))
    }
}

/// Checks with the result that holds; of one that was broken off what its record gives so far, without a verdict. One
/// broken off before anything was recorded has nothing to show.
fn shown<'a>(
    book: &Book,
    visit: &'a Visit,
    among: Option<&AmongVisits>,
    kind: CheckKind,
    units: &Units,
) -> Result<Vec<Shown<'a>>, Error> {
    let mut shown = Vec::new();
    let strikes = book.strikes()?;
    for check in visit.checks.iter().filter(|check| check.start.kind == kind) {
        let stored = match check.result() {
            Some(stored) => Some(Cow::Borrowed(stored)),
            None => so_far(book, check)?.map(Cow::Owned),
        };
        let Some(stored) = stored else { continue };
        // Those that an amendment took up after the end as well: the set counts nowhere any more.
        let strike = strikes.counted.get(&check.start.id);
        let since = among.map(|among| among.of_check(check.start.id));
        shown.push(Shown {
            check,
            stored,
            since_last: since::lines(&since.unwrap_or_default(), units),
            broken_off: check.results.is_empty().then(|| progress(check)),
            same_as: same_record::remark(book, visit, check)?,
            amended: amendments::judged_last(visit, check.start.id).map(|then| {
                let outcome = amendments::made_of(visit, &then);
                let said = format!(
                    "amended after the visit was finished, by the limit known then: {outcome}"
                );
                (said, amendments::outcome_made_of(visit, &then))
            }),
            struck: strike.map(|strike| {
                let (who, at) = (&strike.stamp.author, times::moment(&strike.stamp.at));
                format!("{} ({who}, {at})", strike.reason)
            }),
        });
    }
    Ok(shown)
}

fn so_far(book: &Book, check: &Check) -> Result<Option<CheckResult>, Error> {
    let judge = judge::of(check.start.kind);
    let judged = judge.map(|judge| judge.judge(book, check, &check.start.content));
    let Some(mut judged) = judged.transpose()?.flatten() else {
        return Ok(None);
    };
    judged.document["verdict"] = serde_json::Value::Null;
    Ok(Some(CheckResult {
        id: check.start.id,
        check: check.start.id,
        analysis: judged.analysis,
        outcome: None,
        calibration: check.start.calibration,
        limits_sha256: check.start.limits_sha256.clone(),
        content: stored_check::json_of(&judged.document)?,
        stamp: check.start.stamp.clone(),
    }))
}

/// When a set was taken; of a paper the day of that, and when it was entered.
fn taken_at(visit: &Visit, start: &CheckStart) -> String {
    let header = visit.visit.header();
    let at = times::moment(&start.stamp.at);
    match is_from_paper(header) {
        true => format!(
            "on paper of {}, entered {at}",
            known_day::words(&header.started_at)
        ),
        false => at,
    }
}

fn grip(book: &Book, visit: &Visit, shown: &Shown<'_>, units: &Units) -> Result<Grip, Error> {
    let (check, stored) = (shown.check, shown.stored.as_ref());
    let (result, words) = stored_check::result::<GripResult>(book, &stored.content, units)?;
    let begun: GripInputs = check_inputs::in_force(book, &check.start, stored)?;
    let begun = begun.with_set_aside(book, check.start.id)?;
    let limits = stored_limits::by_sha256(book, stored.limits_sha256.as_deref())?;
    let (forces, file) = grip_stored::forces(book, check, &begun)?.unzip();
    let overloaded = instruments::is_overloaded(&begun, &result, &words);
    let typed_by_hand = matches!(forces, Some(Forces::Typed { .. }));
    let record = forces.and_then(|forces| part_of(&begun, forces, &result));
    Ok(Grip {
        at: taken_at(visit, &check.start),
        gauge: Some(instruments::force_gauge(
            book,
            visit,
            &check.start,
            (&begun.setup.gauge, overloaded),
            units,
        )?),
        result,
        words,
        since_last: shown.since_last.clone(),
        typed_by_hand,
        record,
        file: file.flatten(),
        nominal_n: nominal(&begun.setup, limits.as_ref()),
        assumptions: assumptions(&begun.setup),
        limit_sources: sources(limits.as_ref(), stored),
        struck: shown.struck.clone(),
        broken_off: shown.broken_off.clone(),
        remarks: shown.remarks(),
        amended: shown.amended.as_ref().map(|(said, _)| said.clone()),
        amended_to: shown.amended.as_ref().and_then(|(_, outcome)| *outcome),
        analysis: stored.analysis.clone(),
    })
}

/// The part of a record that the result was read from.
fn part_of(begun: &GripInputs, forces: Forces, result: &GripResult) -> Option<ForceRecord> {
    match forces {
        Forces::Typed { .. } => None,
        Forces::Record(record) => Some(part_read(record, &result.clamps, begun.clamps)),
    }
}

/// How the force rose in a grip check of a visit; none where it has no record.
pub(crate) fn rise(book: &Book, visit: Uuid, check: Uuid) -> Result<Option<Rise>, Error> {
    let visit = book.visit(visit)?;
    let check = visit.checks.iter().find(|each| each.start.id == check);
    let Some((check, stored)) = check.and_then(|check| Some((check, check.result()?))) else {
        return Ok(None);
    };
    let result: GripResult = stored_check::read(book, &stored.content)?;
    let begun: GripInputs = check_inputs::in_force(book, &check.start, stored)?;
    let begun = begun.with_set_aside(book, check.start.id)?;
    let forces = grip_stored::forces(book, check, &begun)?;
    let record = forces.and_then(|(forces, _file)| part_of(&begun, forces, &result));
    Ok(record.and_then(|record| of_middle_clamp(&record, &result.clamps)))
}

fn runout(book: &Book, visit: &Visit, shown: &Shown<'_>, units: &Units) -> Result<Runout, Error> {
    let (check, stored) = (shown.check, shown.stored.as_ref());
    let (result, words) = stored_check::result::<RunoutResult>(book, &stored.content, units)?;
    let begun: runout_stored::Begun = check_inputs::in_force(book, &check.start, stored)?;
    let (record, file) = runout_stored::readings_of(book, check, &begun)?.unzip();
    Ok(Runout {
        at: taken_at(visit, &check.start),
        result,
        words,
        since_last: shown.since_last.clone(),
        record,
        typed_by_hand: begun.setup.typed,
        file: file.flatten(),
        instruments: instruments::indicator(book, visit, &check.start, &begun.setup, units)?,
        limit_sources: sources(
            stored_limits::by_sha256(book, stored.limits_sha256.as_deref())?.as_ref(),
            stored,
        ),
        struck: shown.struck.clone(),
        broken_off: shown.broken_off.clone(),
        remarks: shown.remarks(),
        amended: shown.amended.as_ref().map(|(said, _)| said.clone()),
        amended_to: shown.amended.as_ref().and_then(|(_, outcome)| *outcome),
        analysis: stored.analysis.clone(),
    })
}

/// The nominal force with where it comes from; the spindle's own page speaks for the maker.
fn nominal(setup: &GripSetup, limits: Option<&LimitsFile>) -> Option<(f64, Provenance)> {
    let named = limits.and_then(|limits| limits.nominal.as_ref());
    let provenance = named.map_or(Provenance::Maker, |nominal| nominal.provenance);
    setup.nominal_n.map(|nominal_n| (nominal_n, provenance))
}

fn assumptions(setup: &GripSetup) -> Vec<String> {
    setup
        .assumption
        .iter()
        .map(|assumed| {
            format!(
                "no maker's figure: taken as a {} spindle with taper {}",
                assumed.class, assumed.interface
            )
        })
        .collect()
}

fn sources(limits: Option<&LimitsFile>, stored: &CheckResult) -> Vec<String> {
    let mut sources: Vec<String> = limits
        .iter()
        .flat_map(|limits| limits.limits.iter())
        .filter_map(|limit| limit.source.clone())
        .collect();
    sources.dedup();
    if let (Some(limits), Some(sha256)) = (limits, &stored.limits_sha256) {
        sources.push(format!("limits \"{}\", SHA-256 {sha256}", limits.title));
    }
    sources
}
