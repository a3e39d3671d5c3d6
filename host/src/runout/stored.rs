//! What a runout check was begun with, as the book keeps it: enough to read its record and compute its result again.

use crate::runout::arguments::{PlaceArgs, ReadingUnit, Way};
use crate::runout::plan::PlannedPlane;
use crate::runout::readings_csv;
use crate::tables::readings;
use crate::terminal::error::Error;
use holdtrue_metrology::runout::{Place, RunoutRecord, RunoutSetup};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What was asked for.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Begun {
    /// Unit of typed readings.
    pub unit: Option<ReadingUnit>,
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
    ) -> Result<(RunoutRecord, Vec<String>), Error> {
        let read = readings_csv::read(name, bytes, &self.place, &self.way)?;
        Ok((read.record, read.messages))
    }

    /// Readings at equal positions; one more than the positions named is the reading back at the first one.
    ///
    /// # Errors
    /// What is no reading: exit 4. No unit, or another number of readings than of stops: exit 2.
    pub fn from_typed(&self, text: &str) -> Result<RunoutRecord, Error> {
        let Some(factor) = self.unit.map(ReadingUnit::micrometres) else {
            return Err(Error::usage("--readings needs --unit um, mm or in"));
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
            at: self.place.at.map(Into::into),
            height_mm: self.place.height_mm,
            seating: self.place.seating,
            orientation_deg: self.place.orientation_deg,
        });
        Ok(RunoutRecord::typed(place, &readings_um, stops))
    }
}
