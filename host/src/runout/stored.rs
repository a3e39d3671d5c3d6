//! What a runout check was begun with, as the book keeps it: enough to read its record and compute its result again.

use crate::limits::LimitsFile;
use crate::runout::arguments::{PlaceArgs, Way};
use crate::runout::plan::PlannedPlane;
use crate::runout::readings_csv;
use crate::tables::readings;
use crate::terminal::error::Error;
use crate::visits::checks::check_inputs;
use crate::visits::checks::check_inputs::CheckInputs;
use crate::visits::checks::stored_calibration;
use crate::visits::checks::stored_check;
use crate::visits::checks::stored_check::{
    FinishedCheck, PaperFigure, Record, Typed, json_of, read,
};
use holdtrue_book::{Book, Check, CheckKind, RecordedKind, Source};
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::link::RawFrame;
use holdtrue_metrology::copied;
use holdtrue_metrology::runout::rest::mean_between;
use holdtrue_metrology::runout::{
    ANALYSIS_VERSION, Place, RunoutRecord, RunoutResult, RunoutSetup,
};
use holdtrue_metrology::runout::{Passing, Plane, Readings, Stop};
use holdtrue_protocol::message::CalibrationRecord;
use holdtrue_terms::units::LengthUnit;
use holdtrue_terms::vocabulary::At;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::collections::BTreeMap;
use uuid::Uuid;

/// What was asked for.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(from = "RunoutInputs", into = "RunoutInputs")]
pub struct Begun {
    /// Unit of typed readings.
    pub unit: Option<LengthUnit>,
    /// Where the readings were taken, as far as the file does not say.
    pub place: PlaceArgs,
    /// How the spindle was turned.
    pub way: Way,
    /// Planes that were planned; none where a record brought them.
    pub planes: Option<u32>,
    /// What is known besides the readings.
    pub setup: RunoutSetup,
    /// SHA-256 of the calibration record it is computed by; none where no gauge brought one.
    pub calibration_sha256: Option<String>,
}

impl CheckInputs for Begun {}

/// The same as the book keeps it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RunoutInputs {
    #[serde(default)]
    unit: Option<StoredUnit>,
    place: StoredPlace,
    way: StoredWay,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    planes: Option<u32>,
    setup: RunoutSetup,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    calibration_sha256: Option<String>,
}

/// The unit of typed readings; books of schema 1 and 2 spell it with a capital.
#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum StoredUnit {
    #[serde(alias = "Um")]
    Um,
    #[serde(alias = "Mm")]
    Mm,
    #[serde(alias = "In")]
    In,
    #[serde(alias = "Tenth")]
    Tenth,
}

/// Where readings were taken, as far as it was said.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StoredPlace {
    at: Option<At>,
    height_mm: Option<f64>,
    seating: Option<u32>,
    orientation_deg: Option<f64>,
}

/// How the spindle was turned: `stops` positions, free, or marked; none of these: as the record shows.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StoredWay {
    stops: Option<u32>,
    free: bool,
    marked: bool,
}

impl From<Begun> for RunoutInputs {
    fn from(begun: Begun) -> Self {
        Self {
            unit: begun.unit.map(|unit| match unit {
                LengthUnit::Um => StoredUnit::Um,
                LengthUnit::Mm => StoredUnit::Mm,
                LengthUnit::In => StoredUnit::In,
                LengthUnit::Tenth => StoredUnit::Tenth,
            }),
            place: begun.place.into(),
            way: begun.way.into(),
            planes: begun.planes,
            setup: begun.setup,
            calibration_sha256: begun.calibration_sha256,
        }
    }
}

impl From<RunoutInputs> for Begun {
    fn from(inputs: RunoutInputs) -> Self {
        Self {
            unit: inputs.unit.map(|unit| match unit {
                StoredUnit::Um => LengthUnit::Um,
                StoredUnit::Mm => LengthUnit::Mm,
                StoredUnit::In => LengthUnit::In,
                StoredUnit::Tenth => LengthUnit::Tenth,
            }),
            place: inputs.place.into(),
            way: inputs.way.into(),
            planes: inputs.planes,
            setup: inputs.setup,
            calibration_sha256: inputs.calibration_sha256,
        }
    }
}

impl From<PlaceArgs> for StoredPlace {
    fn from(place: PlaceArgs) -> Self {
        Self {
            at: place.at,
            height_mm: place.height_mm,
            seating: place.seating,
            orientation_deg: place.orientation_deg,
        }
    }
}

impl From<StoredPlace> for PlaceArgs {
    fn from(place: StoredPlace) -> Self {
        Self {
            at: place.at,
            height_mm: place.height_mm,
            seating: place.seating,
            orientation_deg: place.orientation_deg,
        }
    }
}

impl From<Way> for StoredWay {
    fn from(way: Way) -> Self {
        let Way {
            stops,
            free,
            marked,
        } = way;
        Self {
            stops,
            free,
            marked,
        }
    }
}

impl From<StoredWay> for Way {
    fn from(way: StoredWay) -> Self {
        let StoredWay {
            stops,
            free,
            marked,
        } = way;
        Self {
            stops,
            free,
            marked,
        }
    }
}

/// A plane as it was planned, as the book keeps it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PlannedForm {
    place: StoredPlace,
    way: StoredWay,
}

impl Serialize for PlannedPlane {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let Self { place, way } = self.clone();
        let (place, way) = (place.into(), way.into());
        PlannedForm { place, way }.serialize(to)
    }
}

impl<'de> Deserialize<'de> for PlannedPlane {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let PlannedForm { place, way } = PlannedForm::deserialize(from)?;
        let (place, way) = (place.into(), way.into());
        Ok(Self { place, way })
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
    /// The readings of a file, with what was ignored in it.
    ///
    /// # Errors
    /// The first thing in the file that is not as the format says: exit 4.
    pub fn from_file(&self, name: &str, bytes: &[u8]) -> Result<RunoutRecord, Error> {
        readings_csv::read(name, bytes, &self.place, &self.way)
    }

    /// What was typed: readings of a plane, TIRs without theirs, or both.
    ///
    /// # Errors
    /// As [`Self::from_typed`].
    pub fn from_noted(
        &self,
        text: Option<&str>,
        figures: &[PaperFigure],
    ) -> Result<RunoutRecord, Error> {
        let mut record = text
            .map(|text| self.from_typed(text))
            .transpose()?
            .unwrap_or_default();
        record.planes.extend(figures.iter().map(|figure| {
            let place = Place {
                at: figure.at,
                height_mm: figure.height_mm,
                ..Place::default()
            };
            let place = place.seated(figure.seating, figure.orientation_deg);
            let place = readings_csv::with_height_the_bar(place);
            Plane::new(place, Readings::Noted(figure.value))
        }));
        Ok(record)
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
        let place = readings_csv::with_height_the_bar(self.place.place());
        Ok(RunoutRecord::typed(place, &readings_um, stops))
    }
}

/// A runout check as it goes into the book.
///
/// # Errors
/// When a part of it has no form to be kept in; nothing this program files is such.
pub fn to_file<'a>(
    begun: &Begun,
    limits: &'a LimitsFile,
    result: &RunoutResult,
    record: Record<'a>,
    gauge: Option<Uuid>,
) -> Result<FinishedCheck<'a>, Error> {
    let planes = result
        .planes
        .iter()
        .zip(1..)
        .map(|(plane, number)| Ok((RecordedKind::Plane, number, stored_check::part(plane)?)));
    Ok(FinishedCheck {
        kind: CheckKind::Runout,
        state: result.state,
        gauge,
        setup: check_inputs::to_keep(begun)?,
        limits,
        record,
        parts: planes.collect::<Result<_, Error>>()?,
        analysis: format!("runout-{ANALYSIS_VERSION}"),
        outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
        result: json_of(&stored_check::document(result)?)?,
        same_as: None,
    })
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
            let record = begun.from_file(&original.name, &original.bytes)?;
            Ok(Some((record, Some(original.name))))
        }
        (Source::Typed, _) => {
            let typed: Typed = read(book, &capture.content)?;
            if typed.typed.is_none() && typed.figures.is_empty() {
                return Ok(None);
            }
            let record = begun.from_noted(typed.typed.as_deref(), &typed.figures)?;
            Ok(Some((record, None)))
        }
        (Source::Gauge, _) => Ok(Some((gauge_readings(book, check.start.id)?.1, None))),
        _ => Ok(None),
    }
}

/// The readings alone of a stored runout check, µm.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn readings(book: &Book, check: &Check) -> Result<Option<Vec<f64>>, Error> {
    let begun: Begun = check_inputs::read(book, &check.start)?;
    let record = readings_of(book, check, &begun)?;
    Ok(record.map(|(record, _file)| record.values_um()))
}

/// Whether a stored check has planes of this record, each to the last digit: some were cut out, or others put between them.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn same_planes(book: &Book, check: &Check, record: &RunoutRecord) -> Result<bool, Error> {
    let begun: Begun = check_inputs::read(book, &check.start)?;
    let planes = |record: &RunoutRecord| -> Vec<Vec<f64>> {
        let planes = record.planes.iter();
        planes.map(|plane| plane.readings.values_um()).collect()
    };
    let earlier = readings_of(book, check, &begun)?;
    Ok(earlier.is_some_and(|(earlier, _file)| {
        let in_both = copied::planes_in_both(&planes(&earlier), &planes(record));
        in_both >= COPIED_PLANES || in_both > 1 && in_both == record.planes.len()
    }))
}

/// So many planes agree to the last digit by no chance, and two where they are all there are.
const COPIED_PLANES: usize = 3;

/// What a runout check taken from a gauge was begun with, and its complete planes, from the frames exactly as they came.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn gauge_readings(book: &Book, check: Uuid) -> Result<(Begun, RunoutRecord), Error> {
    let begun = check_inputs::read(book, &book.check_start(check)?)?;
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
        RunoutRecord::new(planes.collect::<Result<Vec<Plane>, Error>>()?),
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
    Ok(Plane::new(stored.plane.place.place(), readings))
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

#[cfg(test)]
mod tests {
    use super::*;
    use holdtrue_book::Json;

    #[test]
    fn each_of_its_inputs_is_in_the_description_of_the_book() {
        check_inputs::stand_on_the_page::<Begun>("runout");
    }

    /// As books of schema 1 and 2 hold it.
    #[test]
    fn the_inputs_and_planes_of_older_books_are_read() {
        let setup = serde_json::to_string(&RunoutSetup::default()).expect("JSON");
        let place = r#"{"at":"bar","height_mm":20.0,"seating":1,"orientation_deg":null}"#;
        let way = r#"{"stops":8,"free":false,"marked":false}"#;
        let text = format!(r#"{{"unit":"Um","place":{place},"way":{way},"setup":{setup}}}"#);
        let old: Begun =
            check_inputs::understand(&Json::from_text(text).expect("JSON")).expect("older");
        let kept = check_inputs::to_keep(&old).expect("kept");
        let begins = format!(r#"{{"version":1,"unit":"um","place":{place},"way":{way},"setup":"#);
        assert!(kept.text().starts_with(&begins), "{}", kept.text());
        let again: Begun = check_inputs::understand(&kept).expect("the new form");
        assert_eq!(format!("{again:?}"), format!("{old:?}"));

        let capture = Uuid::from_u128(1);
        let text = format!(r#"{{"capture":"{capture}","plane":{{"place":{place},"way":{way}}}}}"#);
        let plane: StoredPlane = serde_json::from_str(&text).expect("a plane");
        assert_eq!(plane.plane.stops(), Some(8));
        assert_eq!(serde_json::to_string(&plane).expect("JSON"), text);
    }
}
