//! Grip checks in the book. In: a check of the book. Out: what it was computed from and held to, ready to be computed again.

use crate::grip::{force_csv, replay, setup};
use crate::tables::readings;
use crate::terminal::error::{Error, Place, Refusal};
use crate::visits::stored_check::{Typed, read};
use holdtrue_book::{Book, Check, CheckKind, Source};
use holdtrue_metrology::grip;
use holdtrue_metrology::grip::GripError;
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_terms::units::ForceUnit;
use serde::{Deserialize, Serialize};

/// What a grip check was begun with, as the book keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GripInputs {
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

impl GripInputs {
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
        let unit = self.unit.ok_or_else(setup::no_unit)?;
        readings::read("--readings", text, unit.newtons()).map(Forces::Typed)
    }
}

/// The forces of a grip check, and the name of the file they came in; none where the book holds no record of them.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn forces(
    book: &Book,
    check: &Check,
    begun: &GripInputs,
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
    pub begun: GripInputs,
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
        let begun: GripInputs = read(&book, &check.start.content)?;
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
