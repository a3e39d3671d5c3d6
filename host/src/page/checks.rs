//! The checks of a visit. In: results and records as the book keeps them. Out: both as the paper draws them.

use crate::grip::stored as grip_stored;
use crate::grip::stored::{Forces, GripInputs};
use crate::limits;
use crate::limits::LimitsFile;
use crate::page::instruments;
use crate::runout::stored as runout_stored;
use crate::terminal::error::Error;
use crate::visits::check_inputs;
use crate::visits::since;
use crate::visits::stored_check;
use holdtrue_book::{Book, Check, CheckKind, CheckResult, Visit};
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::runout::RunoutResult;
use holdtrue_report::document::{Grip, Runout};
use holdtrue_terms::vocabulary::Provenance;
use holdtrue_wording::digits::Units;

/// Grip checks that have a result, in order of time.
pub(crate) fn grips(book: &Book, visit: &Visit, units: &Units) -> Result<Vec<Grip>, Error> {
    ended(visit, CheckKind::Grip)
        .map(|(check, stored)| grip(book, visit, check, stored, units))
        .collect()
}

/// Runout checks that have a result, in order of time.
pub(crate) fn runouts(book: &Book, visit: &Visit, units: &Units) -> Result<Vec<Runout>, Error> {
    ended(visit, CheckKind::Runout)
        .map(|(check, stored)| runout(book, visit, check, stored, units))
        .collect()
}

fn ended(visit: &Visit, kind: CheckKind) -> impl Iterator<Item = (&Check, &CheckResult)> {
    visit
        .checks
        .iter()
        .filter(move |check| check.start.kind == kind)
        .filter_map(|check| Some((check, check.results.first()?)))
}

fn grip(
    book: &Book,
    visit: &Visit,
    check: &Check,
    stored: &CheckResult,
    units: &Units,
) -> Result<Grip, Error> {
    let (result, words) = stored_check::result::<GripResult>(book, &stored.content, units)?;
    let begun: GripInputs = check_inputs::read(book, &check.start)?;
    let limits = limits_of(book, stored)?;
    let (forces, file) = grip_stored::forces(book, check, &begun)?.unzip();
    let overloaded = instruments::is_overloaded(&begun, &result, &words);
    Ok(Grip {
        at: crate::page::times::local(&check.start.stamp.at),
        gauge: instruments::force_gauge(book, visit, &check.start, overloaded, units)?,
        result,
        words,
        since_last: since_last(book, visit, check, units)?,
        typed_by_hand: matches!(forces, Some(Forces::Typed { .. })),
        record: forces.and_then(|forces| analysed(&begun, forces)),
        file: file.flatten(),
        nominal_n: nominal(&begun.setup, limits.as_ref()),
        assumptions: assumptions(&begun.setup),
        limit_sources: sources(limits.as_ref(), stored),
        analysis: stored.analysis.clone(),
    })
}

/// The part of a record that was analysed.
fn analysed(begun: &GripInputs, forces: Forces) -> Option<ForceRecord> {
    match forces {
        Forces::Typed { .. } => None,
        Forces::Record(record) if begun.clamps.is_none() => Some(record),
        Forces::Record(record) => match begun.watch(&record) {
            Ok(watch) => Some(watch.record().clone()),
            Err(_) => Some(record),
        },
    }
}

fn runout(
    book: &Book,
    visit: &Visit,
    check: &Check,
    stored: &CheckResult,
    units: &Units,
) -> Result<Runout, Error> {
    let (result, words) = stored_check::result::<RunoutResult>(book, &stored.content, units)?;
    let begun: runout_stored::Begun = check_inputs::read(book, &check.start)?;
    let (record, file) = runout_stored::readings_of(book, check, &begun)?.unzip();
    Ok(Runout {
        at: crate::page::times::local(&check.start.stamp.at),
        result,
        words,
        since_last: since_last(book, visit, check, units)?,
        record,
        typed_by_hand: begun.setup.typed,
        file: file.flatten(),
        instruments: instruments::indicator(book, visit, &check.start, &begun.setup, units)?,
        limit_sources: sources(limits_of(book, stored)?.as_ref(), stored),
        analysis: stored.analysis.clone(),
    })
}

fn since_last(
    book: &Book,
    visit: &Visit,
    check: &Check,
    units: &Units,
) -> Result<Vec<String>, Error> {
    let since = since::of_check(book, visit.visit.id, check.start.id)?;
    Ok(since::lines(&since, units))
}

fn limits_of(book: &Book, stored: &CheckResult) -> Result<Option<LimitsFile>, Error> {
    let Some(sha256) = &stored.limits_sha256 else {
        return Ok(None);
    };
    let text = book.limits(sha256)?;
    text.map(|text| limits::understand("limits in force", &text))
        .transpose()
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
