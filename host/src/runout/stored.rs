//! What a runout check was begun with, as the book keeps it: enough to read its record and compute its result again.

use crate::runout::arguments::{PlaceArgs, Way};
use crate::runout::plan::PlannedPlane;
use crate::runout::readings_csv;
use crate::tables::readings;
use crate::terminal::error::Error;
use crate::visits::stored_calibration;
use crate::visits::stored_check::{Typed, read};
use holdtrue_book::{Book, Check, RecordedKind, Source};
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::link::RawFrame;
use holdtrue_metrology::file_note::FileNote;
use holdtrue_metrology::runout::rest::mean_between;
use holdtrue_metrology::runout::{Passing, Plane, Readings, Stop};
use holdtrue_metrology::runout::{Place, RunoutRecord, RunoutSetup};
use holdtrue_protocol::message::CalibrationRecord;
use holdtrue_terms::units::LengthUnit;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use uuid::Uuid;

/// What was asked for.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Begun {
    /// Unit of typed readings.
    #[serde(default, with = "kept_unit")]
    pub unit: Option<LengthUnit>,
    /// Where the readings were taken, as far as the file does not say.
    pub place: PlaceArgs,
    /// How the spindle was turned.
    pub way: Way,
    /// What is known besides the readings.
    pub setup: RunoutSetup,
    /// SHA-256 of the calibration record it is computed by; none where no gauge brought one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_sha256: Option<String>,
}

/// The unit of typed readings in the words books have kept it in from the first.
mod kept_unit {
    use holdtrue_terms::units::LengthUnit;
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    const UNITS: [LengthUnit; 4] = [
        LengthUnit::Um,
        LengthUnit::Mm,
        LengthUnit::In,
        LengthUnit::Tenth,
    ];
    const WORDS: &[&str] = &["Um", "Mm", "In", "Tenth"];

    pub fn serialize<S: Serializer>(unit: &Option<LengthUnit>, to: S) -> Result<S::Ok, S::Error> {
        let place = unit.and_then(|unit| UNITS.iter().position(|kept| *kept == unit));
        place.map(|place| WORDS[place]).serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<LengthUnit>, D::Error> {
        let Some(word) = Option::<String>::deserialize(from)? else {
            return Ok(None);
        };
        match WORDS.iter().position(|kept| *kept == word) {
            Some(place) => Ok(Some(UNITS[place])),
            None => Err(serde::de::Error::unknown_variant(&word, WORDS)),
        }
    }
}

/// A plane of a check taken from a gauge, complete.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct StoredPlane {
    /// Its raw record.
    pub capture: Uuid,
    /// Where it is and how the spindle was turned.
    pub plane: PlannedPlane,
}

/// A reading at rest: where in the raw record it was taken. Its figure is computed from there.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct StoredReading {
    /// The raw record.
    pub capture: Uuid,
    /// Position round the turn; the number of positions itself is the reading back at the first one.
    pub position: u32,
    /// First sample, s.
    pub from_s: f64,
    /// Last sample, s.
    pub to_s: f64,
}

impl Begun {
    /// The readings of a file, and what was ignored in it.
    ///
    /// # Errors
    /// The first thing in the file that is not as the format says: exit 4.
    pub fn from_file(
        &self,
        name: &str,
        bytes: &[u8],
    ) -> Result<(RunoutRecord, Vec<FileNote>), Error> {
        let read = readings_csv::read(name, bytes, &self.place, &self.way)?;
        Ok((read.record, read.messages))
    }

    /// Readings at equal positions; one more than the positions named is the reading back at the first one.
    ///
    /// # Errors
    /// What is no reading: exit 4. No unit, or another number of readings than of stops: exit 2.
    pub fn from_typed(&self, text: &str) -> Result<RunoutRecord, Error> {
        let Some(factor) = self.unit.map(LengthUnit::micrometres) else {
            return Err(no_unit());
        };
        let readings_um = readings::read("--readings", text, factor)?;
        let found = readings_um.len();
        let stops = match self.way.stops {
            Some(stops) => usize::try_from(stops).unwrap_or(usize::MAX),
            None => found,
        };
        if found != stops && found != stops.saturating_add(1) {
            return Err(Error::usage(format!(
                "--readings has {found} readings, --positions {stops} asks for {stops}, or one more for the reading back at position 1"
            )));
        }
        let place = readings_csv::with_height_the_bar(Place {
            at: self.place.at,
            height_mm: self.place.height_mm,
            seating: self.place.seating,
            orientation_deg: self.place.orientation_deg,
        });
        Ok(RunoutRecord::typed(place, &readings_um, stops))
    }
}

/// Readings without a unit.
pub fn no_unit() -> Error {
    Error::usage("--readings needs --unit um, mm or in, or a unit behind the numbers")
}

/// The readings of a runout check, and the name of the file they came in; none where the book holds no record of them.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn readings_of(
    book: &Book,
    check: &Check,
    begun: &Begun,
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
pub fn gauge_readings(book: &Book, check: Uuid) -> Result<(Begun, RunoutRecord), Error> {
    let begun = read(book, &book.check_start(check)?.content)?;
    let calibration = stored_calibration::of_check(book, check)?;
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
