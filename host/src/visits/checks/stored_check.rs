//! Putting a finished check into the book. In: the record it was computed from, what it was held to, its result.
//! Out: one check of the open visit, whole or not at all.

use crate::limits::LimitsFile;
use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::arguments::NotedIn;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::book::opening;
use crate::visits::checks::same_record;
use crate::visits::checks::same_record::ToFile;
use crate::visits::checks::stored_calibration;
use crate::visits::known_day::KnownDay;
use holdtrue_book::Book;
use holdtrue_book::{
    Capture, CheckKind, CheckResult, CheckStart, Json, Original, Recorded, RecordedKind, Source,
    Stamp, VisitHeader,
};
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::vocabulary::{At, Outcome, State};
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
    /// The force gauge or indicator it was read on, where somebody said.
    pub gauge: Option<Uuid>,
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
    /// The set whose record it has once more, where somebody filed it again all the same.
    pub same_as: Option<Uuid>,
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
        text: Option<&'a str>,
        /// Figures without their readings.
        figures: &'a [PaperFigure],
    },
}

/// A figure a paper states without the readings behind it, as the book keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PaperFigure {
    /// Its name in the result document.
    pub figure: String,
    /// Its value, in the unit its name ends with.
    pub value: f64,
    /// As it was written, with its unit.
    pub as_written: String,
    /// Of a runout: where it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<At>,
    /// From the nose face outward, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_mm: Option<f64>,
    /// Which time the bar was put in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seating: Option<u32>,
    /// How far the bar was turned in the spindle, degrees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub orientation_deg: Option<f64>,
}

/// Nothing is as found any more once work was done on the spindle.
///
/// # Errors
/// The visit has a check of this kind *as left*, and this one is to be *as found*: exit 2.
pub fn require_state_in_order(
    book: &Book,
    visit: Uuid,
    kind: CheckKind,
    state: Option<State>,
) -> Result<(), Error> {
    if state != Some(State::AsFound) {
        return Ok(());
    }
    let checks = book.visit(visit)?.checks;
    let as_left = checks
        .iter()
        .find(|check| check.start.kind == kind && check.start.state == Some(State::AsLeft));
    match as_left {
        None => Ok(()),
        Some(check) => Err(Error::usage(format!(
            "this visit has a {kind} check as left of {}: what is measured after it cannot be as found. Say --state as-left, \
             or start another visit",
            times::moment(&check.start.stamp.at)
        ))),
    }
}

/// Files what was noted or read from a file in the open visit, which is begun where none is open, and says so; `check` is
/// made for the gauge of kind `what` it was read on. A record that was filed before is asked about first.
///
/// # Errors
/// As [`fn@file`], [`same_record::ask`] and [`opening::visit_to_add_to`].
pub fn file_as_noted<'a>(
    noted: &NotedIn,
    what: &str,
    to: &ToFile<'_>,
    app: &mut App,
    check: impl FnOnce(Option<Uuid>) -> Result<FinishedCheck<'a>, Error>,
) -> Result<(BookWriter, Uuid), Error> {
    let open = app.to_add_to(noted.visit.as_deref())?.visit;
    let same_as = same_record::ask(to, open, app)?;
    let mut writer = app.writer()?;
    let visit = opening::visit_to_add_to(&mut writer, noted.visit.as_deref())?;
    let read_on = noted.read_on.as_ref();
    let gauge = read_on.map(|serial| writer.gauge_read_on(serial, what));
    let filed = FinishedCheck {
        same_as,
        ..check(gauge.transpose()?)?
    };
    file(&mut writer, visit, &filed)?;
    let book = writer.book.path().display();
    app.console
        .message(&format!("Stored in the open visit of {book}."));
    Ok((writer, visit))
}

/// Files a check in a visit.
///
/// # Errors
/// When the book does not take it: exit 6; *as found* after *as left*: exit 2. Then nothing of it is in the book.
pub fn file(
    writer: &mut BookWriter,
    visit: Uuid,
    filed: &FinishedCheck<'_>,
) -> Result<Uuid, Error> {
    require_state_in_order(&writer.book, visit, filed.kind, filed.state)?;
    let ready = Ready::of(writer, filed)?;
    writer.book.together(|book| ready.put(book, visit))?;
    Ok(ready.ids.check)
}

/// A check with everything the book needs besides the visit, so that several can be filed at once.
pub struct Ready<'a> {
    filed: &'a FinishedCheck<'a>,
    ids: Ids,
    stamp: Stamp,
    limits_text: Option<String>,
    about: Json,
}

impl<'a> Ready<'a> {
    /// Makes a check ready to be filed.
    ///
    /// # Errors
    /// When a part of it has no form to be kept in; nothing this program files is such.
    pub fn of(writer: &BookWriter, filed: &'a FinishedCheck<'a>) -> Result<Self, Error> {
        Ok(Self {
            filed,
            ids: Ids {
                check: writer.id(),
                capture: writer.id(),
                result: writer.id(),
                parts: filed.parts.iter().map(|_| writer.id()).collect(),
            },
            stamp: writer.stamp(),
            limits_text: filed.limits.to_keep()?,
            about: about(filed)?,
        })
    }

    /// Writes it into a visit; the caller sees to it that all of it comes to the book, or nothing.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn put(&self, book: &mut Book, visit: Uuid) -> holdtrue_book::Result<()> {
        let Self {
            filed,
            ids,
            stamp,
            limits_text,
            about,
        } = self;
        let limits_sha256 = limits_text
            .as_ref()
            .map(|text| book.keep_limits(text))
            .transpose()?;
        let calibration = calibration_then(book, visit, filed.gauge)?;
        book.start_check(&CheckStart {
            id: ids.check,
            visit: Some(visit),
            kind: filed.kind,
            state: filed.state,
            gauge: filed.gauge,
            calibration,
            limits_sha256: limits_sha256.clone(),
            content: filed.setup.clone(),
            stamp: stamp.clone(),
        })?;
        book.begin_capture(&capture(filed, ids, about.clone(), stamp))?;
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
            calibration,
            limits_sha256,
            content: filed.result.clone(),
            stamp: stamp.clone(),
        })
    }
}

/// The calibration the gauge had on the day of the visit, as far as it was entered: what its figures have in common.
fn calibration_then(
    book: &Book,
    visit: Uuid,
    gauge: Option<Uuid>,
) -> holdtrue_book::Result<Option<Uuid>> {
    let Some(gauge) = gauge else { return Ok(None) };
    let visit = book.get::<VisitHeader>(visit)?;
    let day = KnownDay::of(&visit.header().started_at).map(|day| day.last);
    let record = day.map(|day| stored_calibration::of_gauge_on(book, gauge, day));
    let record = record.transpose()?.flatten();
    Ok(record.map(|record| Uuid::from_bytes(record.id)))
}

fn about(filed: &FinishedCheck<'_>) -> Result<Json, Error> {
    let mut about = match &filed.record {
        Record::File { name, .. } => json!({ "name": name }),
        Record::Typed {
            text: Some(text),
            figures: [],
        } => json!({ "typed": text }),
        Record::Typed {
            text: None,
            figures,
        } => json!({ "figures": figures }),
        Record::Typed { text, figures } => json!({ "typed": text, "figures": figures }),
    };
    if let Some(check) = filed.same_as {
        about["same_as"] = json!(check);
    }
    json_of(&about)
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
    let outcome = verdict.map(|verdict| verdict.outcome);
    end_with(writer, check, analysis, outcome, &document(result)?)
}

/// The same with a result that is a document already.
///
/// # Errors
/// When the book does not take it: exit 6.
pub fn end_with(
    writer: &mut BookWriter,
    check: Uuid,
    analysis: String,
    outcome: Option<Outcome>,
    document: &Value,
) -> Result<(), Error> {
    let start = writer.book.check_start(check)?;
    let (id, stamp) = (writer.id(), writer.stamp());
    writer.book.end_check(&CheckResult {
        id,
        check,
        analysis,
        outcome,
        calibration: start.calibration,
        limits_sha256: start.limits_sha256,
        content: json_of(document)?,
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
    /// Word for word; none where figures alone were taken from a paper.
    #[serde(default)]
    pub typed: Option<String>,
    /// Those figures.
    #[serde(default)]
    pub figures: Vec<PaperFigure>,
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
