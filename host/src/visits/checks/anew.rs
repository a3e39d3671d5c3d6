//! Limits belong to the spindle: when it is named or its page changes, the checks of an open visit are judged anew.
//!
//! In: a visit, the spindle's page as it will be. Out: further results, to be filed together with the change, and what they
//! come to. How a check is judged is the affair of its room; here is what is done with it.

use crate::terminal::app::App;
use crate::terminal::doubts;
use crate::terminal::error::Error;
use crate::terminal::settings::Settings;
use crate::terminal::times;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::book::opening::{class_of, drawbar_of, spindle_of, taper_of};
use crate::visits::checks::check_inputs::{ANEW, text_in_force};
use crate::visits::checks::stored_check::{json_of, read};
use crate::visits::spindles::taper;
use holdtrue_book::{
    Book, Check, CheckKind, CheckResult, Json, SpindleHeader, Visit, VisitHeader, sha256_hex,
};
use holdtrue_metrology::decision::{Figure, Side};
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::{Outcome, State};
use holdtrue_wording::digits::Units;
use holdtrue_wording::words;
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use uuid::Uuid;

/// The pages a check of a visit can have what it was begun with from, and the one that holds now.
#[derive(Clone, Copy, Debug)]
pub struct Pages<'a> {
    /// Every page, as it was at any time, of every spindle the visit was said to be at.
    pub before: &'a [SpindleHeader],
    /// The page of its spindle now; none while it is unnamed.
    pub now: Option<&'a SpindleHeader>,
}

impl Pages<'_> {
    /// Whether a page ever said this, so that a check can have it from there. What is not understood says nothing.
    pub fn had<T: PartialEq>(
        &self,
        value: T,
        read: fn(&SpindleHeader) -> Result<Option<T>, Error>,
    ) -> bool {
        let says = |page| matches!(read(page), Ok(Some(known)) if known == value);
        self.before.iter().any(says)
    }
}

/// What a check is held to now.
#[derive(Clone, Debug)]
pub struct Anew {
    /// As the inputs of a check.
    pub inputs: Json,
    /// The limits as a file; none where nothing limits it.
    pub limits: Option<String>,
}

/// What it comes to.
#[derive(Clone, Debug)]
pub struct Judged {
    /// Name and version of the analysis.
    pub analysis: String,
    /// How it was decided.
    pub outcome: Option<Outcome>,
    /// The result document.
    pub document: Value,
}

/// Judges stored checks of one kind.
pub trait Judge {
    /// Inputs in the form they are written in today, to be compared.
    ///
    /// # Errors
    /// They do not read back: exit 6.
    fn as_kept(&self, book: &Book, check: &Check, inputs: &Json) -> Result<Json, Error>;

    /// The taper a result was computed for, where one is known.
    ///
    /// # Errors
    /// The check does not read back: exit 6.
    fn taper(
        &self,
        book: &Book,
        check: &Check,
        stored: &CheckResult,
    ) -> Result<Option<Interface>, Error>;

    /// What the check is held to by the pages.
    ///
    /// # Errors
    /// Check or page do not read back: exit 6.
    fn anew(&self, book: &Book, check: &Check, pages: &Pages<'_>) -> Result<Anew, Error>;

    /// The result by these inputs, from the stored record; none where the book holds no record of it.
    ///
    /// # Errors
    /// The check does not read back: exit 6.
    fn judge(&self, book: &Book, check: &Check, inputs: &Json) -> Result<Option<Judged>, Error>;
}

/// Who judges checks of a kind; none for a calibration.
pub type Judges = fn(CheckKind) -> Option<&'static dyn Judge>;

/// What is said of a result whose limits are no longer those of its spindle.
pub const LIMIT_THEN_KNOWN: &str = "judged by the limit then known";

/// The page of the spindle of a visit as it is now, whatever it was when the visit was finished.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn page_now(book: &Book, visit: &Visit) -> Result<Option<SpindleHeader>, Error> {
    Ok(spindle_of(book, visit.visit.header())?)
}

/// A result to be filed beside the one that held so far.
#[derive(Debug)]
pub struct Rejudged {
    /// The row.
    pub row: CheckResult,
    limits: Option<String>,
    /// What it is now.
    pub judged: Judged,
    /// One line: which check, what it was, what it is.
    pub line: String,
}

/// The pages a visit may have had limits from.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn pages_before(book: &Book, visit: Uuid) -> Result<Vec<SpindleHeader>, Error> {
    let named = book.history::<VisitHeader>(visit)?;
    let spindles: BTreeSet<Uuid> = named
        .iter()
        .filter_map(|revision| revision.header.spindle)
        .collect();
    let mut pages = Vec::new();
    for spindle in spindles {
        let history = book.history::<SpindleHeader>(spindle)?;
        pages.extend(history.into_iter().map(|revision| revision.header));
    }
    Ok(pages)
}

/// A check whose limits, or what else it has from its spindle, are no longer those its result was computed by.
#[derive(Debug)]
pub struct Overtaken<'a> {
    /// The check.
    pub check: &'a Check,
    /// The result that holds.
    pub stored: &'a CheckResult,
    /// What it is held to now.
    pub anew: Anew,
    /// What it comes to by that.
    pub judged: Judged,
    /// Limits or verdict are others, not the words of the limits file or a detail alone.
    pub verdict: bool,
}

/// Whether every word on a page that a check hangs on is known here.
///
/// # Errors
/// One that is not: exit 6.
pub fn require_understood(page: &SpindleHeader) -> Result<(), Error> {
    taper_of(page)?;
    drawbar_of(page)?;
    class_of(page).map(|_| ())
}

/// The checks of a visit that are judged by something else now than their results were. By a page that is not understood
/// nothing is judged, and what is damaged is for `recheck` to tell.
///
/// # Errors
/// A check does not read back: exit 6.
pub fn overtaken<'a>(
    book: &Book,
    visit: &'a Visit,
    now: Option<&SpindleHeader>,
    judges: Judges,
) -> Result<Vec<Overtaken<'a>>, Error> {
    let mut found = Vec::new();
    if now.is_some_and(|page| require_understood(page).is_err()) {
        return Ok(found);
    }
    let before = pages_before(book, visit.visit.id)?;
    let pages = Pages {
        before: &before,
        now,
    };
    for check in &visit.checks {
        let (Some(judge), Some(stored)) = (judges(check.start.kind), check.result()) else {
            continue;
        };
        let kept = |sha256: &Option<String>| {
            let text = sha256.as_deref().map(|sha256| book.limits(sha256));
            Ok::<_, Error>(text.transpose()?.flatten())
        };
        let begun_by = kept(&check.start.limits_sha256)?;
        let sha256 = begun_by.as_deref().map(|text| sha256_hex(text.as_bytes()));
        if sha256 != check.start.limits_sha256 {
            continue;
        }
        let anew = judge.anew(book, check, &pages)?;
        let inputs = judge.as_kept(book, check, &text_in_force(&check.start, stored))?;
        if inputs == anew.inputs && kept(&stored.limits_sha256)? == anew.limits {
            continue;
        }
        if let Some(judged) = judge.judge(book, check, &anew.inputs)? {
            let document: Value = read(book, &stored.content)?;
            found.push(Overtaken {
                check,
                stored,
                verdict: verdict_of(&document) != verdict_of(&judged.document),
                anew,
                judged,
            });
        }
    }
    Ok(found)
}

/// What a verdict says, and by which limits.
fn verdict_of(document: &Value) -> (Option<&Value>, Vec<[Option<&Value>; 4]>) {
    let limits = document
        .pointer("/verdict/limits")
        .and_then(Value::as_array);
    let each = limits.into_iter().flatten();
    let each =
        each.map(|limit| ["figure", "height_mm", "limit", "outcome"].map(|name| limit.get(name)));
    (document.pointer("/verdict/outcome"), each.collect())
}

/// Judges the checks of an open visit by the page of its spindle as it is to be.
///
/// # Errors
/// A check does not read back: exit 6.
pub fn of_visit(
    writer: &BookWriter,
    visit: Uuid,
    now: Option<&SpindleHeader>,
    judges: Judges,
    settings: &Settings,
) -> Result<Vec<Rejudged>, Error> {
    let book = &writer.book;
    let whole = book.visit(visit)?;
    let each = overtaken(book, &whole, now, judges)?
        .into_iter()
        .map(|found| {
            Ok(Rejudged {
                line: line(book, &found, now, settings)?,
                row: row(writer, &found)?,
                limits: found.anew.limits,
                judged: found.judged,
            })
        });
    each.collect()
}

fn row(writer: &BookWriter, found: &Overtaken<'_>) -> Result<CheckResult, Error> {
    let Overtaken {
        check,
        stored,
        anew,
        judged,
        ..
    } = found;
    let replaced: Vec<Uuid> = check
        .results
        .iter()
        .flat_map(CheckResult::replaces)
        .collect();
    let heads = check.results.iter().map(|row| row.id);
    let heads: Vec<Uuid> = heads.filter(|id| !replaced.contains(id)).collect();
    let inputs: Value = read(&writer.book, &anew.inputs)?;
    let mut document = judged.document.clone();
    document[ANEW] = json!({ "replaces": heads, "inputs": inputs });
    Ok(CheckResult {
        id: writer.id(),
        check: check.start.id,
        analysis: judged.analysis.clone(),
        outcome: judged.outcome,
        calibration: stored.calibration,
        limits_sha256: anew
            .limits
            .as_deref()
            .map(|text| sha256_hex(text.as_bytes())),
        content: json_of(&document)?,
        stamp: writer.stamp(),
    })
}

/// Files them; to be called in the transaction of the change they follow from.
///
/// # Errors
/// When the book does not take one.
pub fn file(book: &mut Book, rejudged: &[Rejudged]) -> holdtrue_book::Result<()> {
    for each in rejudged {
        if let Some(text) = &each.limits {
            book.keep_limits(text)?;
        }
        book.judge_anew(&each.row)?;
    }
    Ok(())
}

/// Which check, what it was and what it is now.
fn line(
    book: &Book,
    found: &Overtaken<'_>,
    now: Option<&SpindleHeader>,
    settings: &Settings,
) -> Result<String, Error> {
    let before: Value = read(book, &found.stored.content)?;
    let told = |outcome: Option<Outcome>, document: &Value| {
        let outcome = outcome_words(outcome);
        match limits_words(document, &settings.units()) {
            limits if limits.is_empty() => outcome.to_owned(),
            limits => format!("{outcome} ({})", limits.join("; ")),
        }
    };
    let was = told(found.stored.outcome, &before);
    let is = told(found.judged.outcome, &found.judged.document);
    let by = now.map_or_else(
        || "without a spindle".to_owned(),
        |page| format!("by what is known of \"{}\"", page.name),
    );
    let change = if was == is {
        format!("still {is}")
    } else {
        format!("was {was}; now {is}")
    };
    Ok(format!(
        "Judged anew {by}: {}: {change}.",
        name(found.check)
    ))
}

/// "the grip check, as found, of 2026-03-04T09:12:30+01:00".
pub fn name(check: &Check) -> String {
    let state = check.start.state.map_or("", |state| match state {
        State::AsFound => ", as found,",
        State::AsLeft => ", as left,",
    });
    format!(
        "the {} check{state} of {}",
        check.start.kind,
        times::moment(&check.start.stamp.at)
    )
}

/// An outcome, or that there is none.
pub fn outcome_words(outcome: Option<Outcome>) -> &'static str {
    outcome.map_or("not judged", words::outcome)
}

/// The limits of the verdict in a result document, in somebody's units: "mean grip force at least 7.70 kN".
pub fn limits_words(document: &Value, units: &Units) -> Vec<String> {
    #[derive(Deserialize)]
    struct Held {
        figure: Figure,
        #[serde(default)]
        height_mm: Option<f64>,
        side: Side,
        limit: f64,
        unit: String,
    }
    let limits = document
        .pointer("/verdict/limits")
        .cloned()
        .unwrap_or_default();
    let limits: Vec<Held> = serde_json::from_value(limits).unwrap_or_default();
    let each = limits.iter().map(|held| {
        let (figure, side) = (held.figure.words(), words::side(held.side));
        let at = held.height_mm.map_or_else(String::new, words::at_height);
        let limit = units.in_unit(held.limit, &held.unit);
        format!("{figure}{at} {side} {limit}")
    });
    each.collect()
}

/// The results a document that was judged anew takes the place of.
pub fn replaced_in(document: &Value) -> Vec<Uuid> {
    let replaced = document[ANEW]["replaces"].clone();
    serde_json::from_value(replaced).unwrap_or_default()
}

/// Another taper than a check was measured with is asked about: either the spindle is another one, or its page is wrong.
/// In: the page that held so far, and the one that is to hold. `as_read`: it is meant so, by flag; `--yes` does not answer it.
///
/// # Errors
/// Nobody can be asked, or it is not meant so: exit 2, nothing was changed.
pub fn settle_taper(
    book: &Book,
    visit: Uuid,
    [before, now]: [Option<&SpindleHeader>; 2],
    judges: Judges,
    as_read: bool,
    app: &mut App,
) -> Result<(), Error> {
    let Some((page, taper)) = now
        .map(|page| Ok::<_, Error>((page, taper_of(page)?)))
        .transpose()?
    else {
        return Ok(());
    };
    let Some(taper) = taper else { return Ok(()) };
    // A page that is not understood says nothing of how it was measured.
    let of_page = before.and_then(|page| taper_of(page).ok()).flatten();
    for check in &book.visit(visit)?.checks {
        let stored = judges(check.start.kind).zip(check.result());
        let own = stored.map(|(judge, stored)| judge.taper(book, check, stored));
        let measured = own.transpose()?.flatten().or(of_page);
        let other = measured.filter(|measured| !taper::is_same(*measured, taper));
        if let (Some(other), false) = (other, as_read) {
            let told = format!(
                "{} was measured with a {other} taper, \"{}\" has {taper}",
                words::capital(&name(check)),
                page.name
            );
            let question = format!("{told}. Is it the right spindle?");
            let choices = [("as read".to_owned(), ())];
            return doubts::pick(&question, &choices, &mut app.console)?.ok_or_else(|| {
                Error::usage(format!(
                    "{told}. Is it the right spindle? Nothing was changed. Name the right one, correct its page, or add \
                     --as-read where the taper was named wrongly when it was measured"
                ))
            });
        }
    }
    Ok(())
}
