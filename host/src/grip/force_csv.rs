//! The force record as a CSV file: `time_s`, the force in one unit (`force_n`, `force_kn`, `force_lbf`, `force_kgf` or
//! `force_dan`), optional `displacement_um` or `displacement_mm` of the
//! gauge's end face, optional `orientation_deg`.
//!
//! In: a file. Out: times, forces in newton, positions of the gauge in the spindle.

use crate::tables::{Column, Header, Kind, Table};
use crate::terminal::error::{Error, Place, Refusal};
use holdtrue_metrology::grip::record::{ForceRecord, RecordError, Travel};
use holdtrue_terms::units::ForceUnit;
use std::io::Read;

const COLUMNS: &[Column] = &[
    Column {
        key: "time",
        headers: &[Header {
            name: "time_s",
            factor: 1.0,
        }],
        kind: Kind::Number,
        required: true,
    },
    Column {
        key: "force",
        headers: &[
            of("force_n", ForceUnit::N),
            of("force_kn", ForceUnit::Kn),
            of("force_lbf", ForceUnit::Lbf),
            of("force_kgf", ForceUnit::Kgf),
            of("force_dan", ForceUnit::DaN),
        ],
        kind: Kind::Number,
        required: true,
    },
    Column {
        key: "displacement",
        headers: &[
            Header {
                name: "displacement_um",
                factor: 1e-3,
            },
            Header {
                name: "displacement_mm",
                factor: 1.0,
            },
        ],
        kind: Kind::Number,
        required: false,
    },
    Column {
        key: "orientation",
        headers: &[Header {
            name: "orientation_deg",
            factor: 1.0,
        }],
        kind: Kind::Number,
        required: false,
    },
];

const fn of(name: &'static str, unit: ForceUnit) -> Header {
    Header {
        name,
        factor: unit.newtons(),
    }
}

/// Where the forces of a record stand in its file.
#[derive(Debug)]
pub struct Rows(Table);

/// Reads a force record. What was ignored in the file is noted in the record and goes with it into the result.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4.
pub fn read(name: &str, mut bytes: &[u8]) -> Result<ForceRecord, Error> {
    read_from(name, &mut bytes).map(|(record, _rows)| record)
}

/// The same of a file that is read as it is needed; out comes besides where its rows stand.
///
/// # Errors
/// As [`read`].
pub fn read_from(name: &str, source: &mut dyn Read) -> Result<(ForceRecord, Rows), Error> {
    let mut table = Table::read_from(name, source, COLUMNS)?;
    table.require_growing("time")?;
    let mut column = |key| table.take_numbers(key).unwrap_or_default();
    let refused = |e: RecordError| {
        Error::input(
            Place::file(name),
            Refusal {
                found: &e.to_string(),
                expected: "a force record",
                next: "Export the record again.",
            },
        )
    };
    let (time_s, force_n) = (column("time"), column("force"));
    let mut record = ForceRecord::of(time_s, force_n).map_err(refused)?;
    if let Some(orientation_deg) = table.take_numbers("orientation") {
        record = record.with_orientation(&orientation_deg).map_err(refused)?;
    }
    let displacement_mm = table.take_numbers("displacement").unwrap_or_default();
    for (row, &mm) in displacement_mm.iter().enumerate() {
        let time_s = record.time_s()[row];
        record.push_travel(Travel {
            time_s,
            mm: Some(mm),
        });
    }
    for message in table.messages.drain(..) {
        record.note(message);
    }
    Ok((record, Rows(table)))
}

impl Rows {
    /// Where the first force of the record at a time or later stands, and the unit of its column.
    pub fn place_at(&self, record: &ForceRecord, time_s: f64) -> Option<(Place, ForceUnit)> {
        let Self(table) = self;
        let row = record.time_s().iter().position(|time| *time >= time_s)?;
        let header = table.header("force")?;
        let (_, unit) = header.split_once('_')?;
        let place = Place::file(table.name())
            .line(table.line(row))
            .column(header);
        Some((place, unit.parse().ok()?))
    }
}
