//! The force record as a CSV file: `time_s`, `force_n` or `force_kn` or `force_lbf`, optional `orientation_deg`.
//!
//! In: a file. Out: times, forces in newton, positions of the gauge in the spindle.

use crate::error::{Error, Place, Refusal};
use crate::table::{Column, Header, Kind, Table};
use holdtrue_metrology::grip::record::{ForceRecord, RecordError};
use holdtrue_metrology::units::NEWTONS_PER_POUND_FORCE;

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
            Header {
                name: "force_n",
                factor: 1.0,
            },
            Header {
                name: "force_kn",
                factor: 1000.0,
            },
            Header {
                name: "force_lbf",
                factor: NEWTONS_PER_POUND_FORCE,
            },
        ],
        kind: Kind::Number,
        required: true,
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

/// Reads a force record. What was ignored in the file is noted in the record and goes with it into the result.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4.
pub fn read(name: &str, bytes: &[u8]) -> Result<ForceRecord, Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    table.require_growing("time")?;
    let column = |key| table.numbers(key).unwrap_or_default();
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
    let mut record = ForceRecord::new(column("time"), column("force")).map_err(refused)?;
    if let Some(orientation_deg) = table.numbers("orientation") {
        record = record.with_orientation(orientation_deg).map_err(refused)?;
    }
    for message in table.messages {
        record.note(message);
    }
    Ok(record)
}
