//! Putting a finished check into the book. In: the record it was computed from, what it was held to, its result.
//! Out: one check of the open visit, whole or not at all.

use crate::limits::LimitsFile;
use crate::terminal::error::Error;
use crate::visits::book_writer::BookWriter;
use holdtrue_book::Book;
use holdtrue_book::{
    Capture, CheckKind, CheckResult, CheckStart, Json, Original, Recorded, RecordedKind, Source,
    Stamp,
};
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::vocabulary::{Outcome, State};
use holdtrue_wording::CheckWords;
use holdtrue_wording::digits::Units;
use serde::Deserialize;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use std::path::Path;
use uuid::Uuid;

/// A finished check that was not taken from a gauge.
pub struct FinishedCheck<'a> {
    /// What was checked.
    pub kind: CheckKind,
    /// As found, as left, or not said.
    pub state: Option<State>,
    /// What is known besides the record: enough to compute the result again.
    pub setup: Json,
    /// What it was held to.
    pub limits: &'a LimitsFile,
    /// What it was computed from.
    pub record: Record<'a>,
    /// Clamps or planes, by number.
    pub parts: Vec<(RecordedKind, u32, Json)>,
    /// Name and version of the analysis.
    pub analysis: String,
    /// How it was decided; none where no limit was set.
    pub outcome: Option<Outcome>,
    /// The whole result document.
    pub result: Json,
}

/// What a check was computed from.
#[derive(Clone, Copy, Debug)]
pub enum Record<'a> {
    /// A file.
    File {
        /// As the person named it.
        name: &'a str,
        /// Its bytes.
        bytes: &'a [u8],
    },
    /// Typed by hand: there is no record.
    Typed {
        /// What was typed.
        text: &'a str,
    },
}

/// Files a check in a visit.
///
/// # Errors
/// When the book does not take it: exit 6; then nothing of it is in the book.
pub fn file(
    writer: &mut BookWriter,
    visit: Uuid,
    filed: &FinishedCheck<'_>,
) -> Result<Uuid, Error> {
    let stamp = writer.stamp();
    let ids = Ids {
        check: writer.id(),
        capture: writer.id(),
        result: writer.id(),
        parts: filed.parts.iter().map(|_| writer.id()).collect(),
    };
    let limits_text = filed.limits.to_keep()?;
    let about = json_of(&match filed.record {
        Record::File { name, .. } => json!({ "name": name }),
        Record::Typed { text } => json!({ "typed": text }),
    })?;
    writer.book.together(|book| {
        let limits_sha256 = limits_text
            .map(|text| book.keep_limits(&text))
            .transpose()?;
        book.start_check(&CheckStart {
            id: ids.check,
            visit,
            kind: filed.kind,
            state: filed.state,
            gauge: None,
            calibration: None,
            limits_sha256: limits_sha256.clone(),
            content: filed.setup.clone(),
            stamp: stamp.clone(),
        })?;
        book.begin_capture(&capture(filed, &ids, about, &stamp))?;
        if let Record::File { name, bytes } = filed.record {
            book.keep_original(
                ids.capture,
                &Original {
                    name: without_folders(name),
                    bytes: bytes.to_vec(),
                },
            )?;
        }
        for ((kind, number, content), id) in filed.parts.iter().zip(&ids.parts) {
            book.record(&Recorded {
                id: *id,
                check: ids.check,
                kind: *kind,
                number: *number,
                content: content.clone(),
                stamp: stamp.clone(),
            })?;
        }
        book.end_check(&CheckResult {
            id: ids.result,
            check: ids.check,
            analysis: filed.analysis.clone(),
            outcome: filed.outcome,
            calibration: None,
            limits_sha256,
            content: filed.result.clone(),
            stamp,
        })
    })?;
    Ok(ids.check)
}

/// Stores the result of a check taken from a gauge, by the calibration and the limits it was begun with.
///
/// # Errors
/// When the book does not take it: exit 6.
pub fn end(
    writer: &mut BookWriter,
    check: Uuid,
    analysis: String,
    verdict: Option<&Verdict>,
    result: &impl holdtrue_wording::Sentences,
) -> Result<(), Error> {
    let start = writer.book.check_start(check)?;
    let (id, stamp) = (writer.id(), writer.stamp());
    writer.book.end_check(&CheckResult {
        id,
        check,
        analysis,
        outcome: verdict.map(|verdict| verdict.outcome),
        calibration: start.calibration,
        limits_sha256: start.limits_sha256,
        content: json_of(&document(result)?)?,
        stamp,
    })?;
    Ok(())
}

struct Ids {
    check: Uuid,
    capture: Uuid,
    result: Uuid,
    parts: Vec<Uuid>,
}

fn capture(filed: &FinishedCheck<'_>, ids: &Ids, content: Json, stamp: &Stamp) -> Capture {
    Capture {
        id: ids.capture,
        check: ids.check,
        source: match filed.record {
            Record::File { .. } => Source::File,
            Record::Typed { .. } => Source::Typed,
        },
        content,
        stamp: stamp.clone(),
    }
}

/// Folders are nobody's business but their owner's.
fn without_folders(name: &str) -> String {
    Path::new(name).file_name().map_or_else(
        || name.to_owned(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// A value as the book keeps it.
///
/// # Errors
/// When it has no JSON form; nothing this program files is such.
pub fn json_of(value: &impl Serialize) -> Result<Json, Error> {
    Json::of(value).map_err(|e| Error::book(format!("a record cannot be written as JSON: {e}")))
}

/// The JSON document of a result: values, and the sentences they make.
///
/// # Errors
/// When it has no JSON form; no result of the analysis is such.
pub fn document(result: &impl holdtrue_wording::Sentences) -> Result<Value, Error> {
    holdtrue_wording::document(result)
        .map_err(|e| Error::book(format!("the result cannot be written as JSON: {e}")))
}

/// A clamp or plane as the book keeps it.
///
/// # Errors
/// When it has no JSON form; no part of a result is such.
pub fn part(part: &impl holdtrue_wording::Part) -> Result<Json, Error> {
    let document = holdtrue_wording::part_document(part)
        .map_err(|e| Error::book(format!("a record cannot be written as JSON: {e}")))?;
    json_of(&document)
}

/// A result as the book kept it, with its sentences in these units.
///
/// # Errors
/// When the book does not hold one: exit 6.
pub fn result<R: holdtrue_wording::Sentences + DeserializeOwned>(
    book: &Book,
    content: &Json,
    units: &Units,
) -> Result<(R, CheckWords), Error> {
    let stored: Value = read(book, content)?;
    let words = CheckWords::stored::<R>(&stored, units);
    Ok((read(book, content)?, words))
}
/// What was typed by hand, as the book keeps it.
#[derive(Deserialize)]
pub(crate) struct Typed {
    /// Word for word.
    pub typed: String,
}

/// A stored document as the value it was.
///
/// # Errors
/// When it does not read back: exit 6.
pub fn read<T: DeserializeOwned>(book: &Book, content: &Json) -> Result<T, Error> {
    content.read().map_err(|e| {
        Error::book(format!(
            "{}: a stored check cannot be read back ({e}). Was it written by a newer program? Update this one.",
            book.path().display()
        ))
    })
}
