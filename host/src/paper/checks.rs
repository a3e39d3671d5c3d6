//! The checks of a visit. In: results and records as the book keeps them. Out: both as the paper draws them.

use super::instruments;
use crate::error::Error;
use crate::force_csv;
use crate::limits::{self, LimitsFile};
use crate::runout_begun;
use holdtrue_book::{Book, Check, CheckKind, CheckResult, Source, Visit};
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_metrology::provenance::Provenance;
use holdtrue_metrology::runout::{RunoutRecord, RunoutResult};
use holdtrue_report::document::{Grip, Runout};
use serde::Deserialize;
use serde::de::DeserializeOwned;

/// What a grip check was begun with.
#[derive(Deserialize)]
struct Begun {
    #[serde(default)]
    clamps: Option<u32>,
    setup: GripSetup,
}

impl Begun {
    /// The part of the record that was analysed.
    fn analysed(&self, record: ForceRecord) -> ForceRecord {
        match self.clamps {
            None => record,
            Some(_) => Watch::replay(&record, self.clamps, self.setup.clone())
                .map_or(record, |watch| watch.record().clone()),
        }
    }
}

/// Grip checks that have a result, in order of time.
pub(super) fn grips(book: &Book, visit: &Visit) -> Result<Vec<Grip>, Error> {
    ended(visit, CheckKind::Grip)
        .map(|(check, stored)| grip(book, visit, check, stored))
        .collect()
}

/// Runout checks that have a result, in order of time.
pub(super) fn runouts(book: &Book, visit: &Visit) -> Result<Vec<Runout>, Error> {
    ended(visit, CheckKind::Runout)
        .map(|(check, stored)| runout(book, check, stored))
        .collect()
}

fn ended(visit: &Visit, kind: CheckKind) -> impl Iterator<Item = (&Check, &CheckResult)> {
    visit
        .checks
        .iter()
        .filter(move |check| check.start.kind == kind)
        .filter_map(|check| Some((check, check.results.first()?)))
}

fn grip(book: &Book, visit: &Visit, check: &Check, stored: &CheckResult) -> Result<Grip, Error> {
    let result: GripResult = read(book, &stored.content)?;
    let begun: Begun = read(book, &check.start.content)?;
    let limits = limits_of(book, stored)?;
    let taken = taken(book, check)?;
    Ok(Grip {
        at: super::times::local(&check.start.stamp.at),
        gauge: instruments::force_gauge(book, visit, &check.start, &result)?,
        result,
        record: taken.record.map(|record| begun.analysed(record)),
        typed_by_hand: taken.typed_by_hand,
        file: taken.file,
        nominal_n: nominal(&begun.setup, limits.as_ref()),
        assumptions: assumptions(&begun.setup),
        limit_sources: sources(limits.as_ref(), stored),
        analysis: stored.analysis.clone(),
    })
}

/// What a check was computed from.
#[derive(Default)]
struct Taken {
    record: Option<ForceRecord>,
    typed_by_hand: bool,
    file: Option<String>,
}

fn taken(book: &Book, check: &Check) -> Result<Taken, Error> {
    let Some(capture) = check.captures.first() else {
        return Ok(Taken::default());
    };
    match capture.source {
        Source::Typed => Ok(Taken {
            typed_by_hand: true,
            ..Taken::default()
        }),
        Source::Gauge => Ok(Taken::default()),
        Source::File => {
            let Some(original) = book.original(capture.id)? else {
                return Ok(Taken::default());
            };
            Ok(Taken {
                record: Some(force_csv::read(&original.name, &original.bytes)?),
                file: Some(original.name),
                typed_by_hand: false,
            })
        }
    }
}

fn runout(book: &Book, check: &Check, stored: &CheckResult) -> Result<Runout, Error> {
    let result: RunoutResult = read(book, &stored.content)?;
    let begun: runout_begun::Begun = read(book, &check.start.content)?;
    let (record, file) = readings(book, check, &begun)?;
    Ok(Runout {
        at: super::times::local(&check.start.stamp.at),
        result,
        record,
        typed_by_hand: begun.setup.typed,
        file,
        instruments: instruments::indicator(&begun.setup),
        limit_sources: sources(limits_of(book, stored)?.as_ref(), stored),
        analysis: stored.analysis.clone(),
    })
}

/// The readings of a runout check, and the name of their file.
fn readings(
    book: &Book,
    check: &Check,
    begun: &runout_begun::Begun,
) -> Result<(Option<RunoutRecord>, Option<String>), Error> {
    let Some(capture) = check.captures.first() else {
        return Ok((None, None));
    };
    match (capture.source, book.original(capture.id)?) {
        (Source::File, Some(original)) => {
            let (record, _messages) = begun.from_file(&original.name, &original.bytes)?;
            Ok((Some(record), Some(original.name)))
        }
        (Source::Typed, _) => {
            let typed: Typed = read(book, &capture.content)?;
            Ok((Some(begun.from_typed(&typed.typed)?), None))
        }
        _ => Ok((None, None)),
    }
}

/// What was typed by hand.
#[derive(Deserialize)]
struct Typed {
    typed: String,
}

fn read<T: DeserializeOwned>(book: &Book, content: &holdtrue_book::Json) -> Result<T, Error> {
    content.read().map_err(|e| {
        Error::book(format!(
            "{}: a stored check cannot be read back ({e}). Was it written by a newer program? Update this one.",
            book.path().display()
        ))
    })
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
                "no maker's figure: taken as a {} spindle of interface {}",
                crate::grip_setup::class_word(assumed.class),
                assumed.interface
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
