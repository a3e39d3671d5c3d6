//! Reading checks back. In: a check of the book. Out: what it was computed from and held to, ready to be computed again.

use crate::grip::force_csv;
use crate::grip::replay;
use crate::runout::stored as runout_stored;
use crate::runout::stored::{StoredPlane, StoredReading};
use crate::tables::readings;
use crate::terminal::error::{Error, Place, Refusal};
use crate::visits::stored_calibration;
use holdtrue_book::{Book, Check, CheckKind, Json, RecordedKind, Source};
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::link::RawFrame;
use holdtrue_metrology::grip;
use holdtrue_metrology::grip::GripError;
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_metrology::runout::rest::mean_between;
use holdtrue_metrology::runout::{Passing, Plane, Readings, RunoutRecord, Stop};
use holdtrue_metrology::units::ForceUnit;
use holdtrue_protocol::message::CalibrationRecord;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use uuid::Uuid;

/// What a grip check was begun with, as the book keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GripBegun {
    /// Clamps that must count; none: the whole record.
    #[serde(default)]
    pub clamps: Option<u32>,
    /// Unit of typed forces.
    #[serde(default)]
    pub unit: Option<ForceUnit>,
    /// What is known besides the forces.
    pub setup: GripSetup,
    /// SHA-256 of the calibration record it is computed by; none where no gauge brought one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_sha256: Option<String>,
}

/// The forces of a check.
#[derive(Clone, Debug, PartialEq)]
pub enum Forces {
    /// A record against time.
    Record(ForceRecord),
    /// Settled forces typed by hand, N.
    Typed(Vec<f64>),
}

impl GripBegun {
    /// The watch over a record: what is analysed ends where a live check would have ended.
    ///
    /// # Errors
    /// A record that is not sound.
    pub fn watch(&self, record: &ForceRecord) -> Result<Watch, GripError> {
        Ok(Watch::replay(record, self.clamps, self.setup.clone())?)
    }

    /// The result, by the one analysis there is.
    ///
    /// # Errors
    /// Forces it cannot take.
    pub fn analyse(&self, forces: &Forces) -> Result<GripResult, GripError> {
        match forces {
            Forces::Typed(forces_n) => grip::analyse_readings(forces_n, &self.setup),
            Forces::Record(record) if self.clamps.is_some() => self.watch(record)?.finish(),
            Forces::Record(record) => grip::analyse(record, &self.setup),
        }
    }

    /// Forces typed by hand, N.
    ///
    /// # Errors
    /// What is no reading: exit 4. No unit: exit 2.
    pub fn typed(&self, text: &str) -> Result<Forces, Error> {
        let unit = self
            .unit
            .ok_or_else(|| Error::usage("--readings needs --unit kN, N, lbf, kgf or daN"))?;
        readings::read("--readings", text, unit.newtons()).map(Forces::Typed)
    }
}

/// The calibration record of this id, where the book has one that can be read.
///
/// # Errors
/// As [`stored_calibration::in_book`].
pub fn calibration_of(book: &Book, id: Option<Uuid>) -> Result<Option<CalibrationRecord>, Error> {
    id.map_or(Ok(None), |id| stored_calibration::in_book(book, id))
}

/// What was typed by hand, as the book keeps it.
#[derive(Deserialize)]
struct Typed {
    typed: String,
}

/// The forces of a grip check, and the name of the file they came in; none where the book holds no record of them.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn forces(
    book: &Book,
    check: &Check,
    begun: &GripBegun,
) -> Result<Option<(Forces, Option<String>)>, Error> {
    let Some(capture) = check.captures.first() else {
        return Ok(None);
    };
    match capture.source {
        Source::Gauge => {
            let record = replay::force_record(book, check.start.id)?;
            Ok(Some((Forces::Record(record), None)))
        }
        Source::Typed => {
            let typed: Typed = read(book, &capture.content)?;
            Ok(Some((begun.typed(&typed.typed)?, None)))
        }
        Source::File => match book.original(capture.id)? {
            None => Ok(None),
            Some(original) => {
                let record = force_csv::read(&original.name, &original.bytes)?;
                Ok(Some((Forces::Record(record), Some(original.name))))
            }
        },
    }
}

/// A grip check out of a book.
#[derive(Clone, Debug)]
pub struct StoredGrip {
    /// What it was begun with.
    pub begun: GripBegun,
    /// Its forces.
    pub forces: Forces,
}

/// The grip check that was begun last in the book of this name.
///
/// # Errors
/// When the book cannot be read: exit 6. No grip check with a record in it: exit 4.
pub fn latest_grip(name: &str) -> Result<StoredGrip, Error> {
    let book = Book::open_read_only(name)?;
    let mut latest: Option<Check> = None;
    for visit in book.visits()? {
        let checks = book.visit(visit.id)?.checks;
        latest = checks
            .into_iter()
            .filter(|check| check.start.kind == CheckKind::Grip)
            .chain(latest)
            .max_by_key(|check| instant(&check.start.stamp.at));
    }
    let found = latest.map(|check| {
        let begun: GripBegun = read(&book, &check.start.content)?;
        let forces = forces(&book, &check, &begun)?;
        Ok::<_, Error>(forces.map(|(forces, _file)| StoredGrip { begun, forces }))
    });
    found.transpose()?.flatten().ok_or_else(|| {
        Error::input(
            Place::file(name),
            Refusal {
                found: "a book without a recorded grip check",
                expected: "one with a record to compute from",
                next: "Name another book, or a CSV file.",
            },
        )
    })
}

fn instant(at: &str) -> Option<jiff::Timestamp> {
    at.parse().ok()
}

/// The readings of a runout check, and the name of the file they came in; none where the book holds no record of them.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn readings_of(
    book: &Book,
    check: &Check,
    begun: &runout_stored::Begun,
) -> Result<Option<(RunoutRecord, Option<String>)>, Error> {
    let Some(capture) = check.captures.first() else {
        return Ok(None);
    };
    match (capture.source, book.original(capture.id)?) {
        (Source::File, Some(original)) => {
            let (record, _messages) = begun.from_file(&original.name, &original.bytes)?;
            Ok(Some((record, Some(original.name))))
        }
        (Source::Typed, _) => {
            let typed: Typed = read(book, &capture.content)?;
            Ok(Some((begun.from_typed(&typed.typed)?, None)))
        }
        (Source::Gauge, _) => Ok(Some((gauge_readings(book, check.start.id)?.1, None))),
        _ => Ok(None),
    }
}

/// What a runout check taken from a gauge was begun with, and its complete planes, from the frames exactly as they came.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn gauge_readings(
    book: &Book,
    check: Uuid,
) -> Result<(runout_stored::Begun, RunoutRecord), Error> {
    let begun = read(book, &book.check_start(check)?.content)?;
    let calibration = replay::calibration_of(book, check)?;
    let recorded = book.recorded(check)?;
    let rests = recorded
        .iter()
        .filter(|row| row.kind == RecordedKind::Reading);
    let rests: Vec<StoredReading> = rests
        .map(|row| read(book, &row.content))
        .collect::<Result<_, _>>()?;
    let planes = recorded
        .iter()
        .filter(|row| row.kind == RecordedKind::Plane);
    let planes = planes.map(|row| {
        let stored: StoredPlane = read(book, &row.content)?;
        plane(book, &stored, &rests, &calibration)
    });
    Ok((
        begun,
        RunoutRecord {
            planes: planes.collect::<Result<_, Error>>()?,
        },
    ))
}

fn plane(
    book: &Book,
    stored: &StoredPlane,
    rests: &[StoredReading],
    calibration: &CalibrationRecord,
) -> Result<Plane, Error> {
    let chunks = book.chunks(stored.capture)?;
    let mut builder = DisplacementBuilder::new(
        calibration.clone(),
        chunks.first().map_or(0, |chunk| chunk.boot),
    );
    let (mut readings, mut edges_s) = (Vec::new(), Vec::new());
    for frame in chunks.iter().flat_map(|chunk| chunk.frames.iter()) {
        let seen = builder.take(&RawFrame(frame.to_vec()));
        readings.extend(seen.readings);
        edges_s.extend(seen.edges_s);
    }
    let readings = match stored.plane.stops() {
        Some(stops) => Readings::Stepped(stepped(stored.capture, stops, rests, &readings)),
        None if stored.plane.way.marked => Readings::Marked { readings, edges_s },
        None => Readings::Free(readings),
    };
    Ok(Plane {
        place: stored.plane.place(),
        readings,
    })
}

/// One reading a position; of a position read again the last.
fn stepped(capture: Uuid, stops: u32, rests: &[StoredReading], readings: &[Passing]) -> Vec<Stop> {
    let mut taken: BTreeMap<u32, f64> = BTreeMap::new();
    for rest in rests.iter().filter(|rest| rest.capture == capture) {
        if let Some(reading_um) = mean_between(readings, rest.from_s, rest.to_s) {
            taken.insert(rest.position, reading_um);
        }
    }
    let step_deg = 360.0 / f64::from(stops);
    taken
        .into_iter()
        .map(|(position, reading_um)| Stop {
            angle_deg: f64::from(position) * step_deg,
            reading_um,
        })
        .collect()
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
