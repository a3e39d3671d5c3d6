//! The force record as a CSV file: `time_s`, `force_n` or `force_kn` or `force_lbf`, optional `orientation_deg`.
//!
//! In: a file. Out: times, forces in newton, positions of the gauge in the spindle.

use crate::error::Error;
use crate::table::{Column, Header, Kind, Table};
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

/// A force record as it was written down.
#[derive(Clone, Debug, PartialEq)]
pub struct ForceRecord {
    /// When, seconds, growing.
    pub time_s: Vec<f64>,
    /// Pull, newton.
    pub force_n: Vec<f64>,
    /// Position of the gauge in the spindle, degrees; `None` if the file does not say.
    pub orientation_deg: Option<Vec<f64>>,
    /// What was ignored, for the person.
    pub messages: Vec<String>,
}

/// Reads a force record.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4.
pub fn read(name: &str, bytes: &[u8]) -> Result<ForceRecord, Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    table.require_growing("time")?;
    let column = |key| table.numbers(key).map(<[f64]>::to_vec);
    Ok(ForceRecord {
        time_s: column("time").unwrap_or_default(),
        force_n: column("force").unwrap_or_default(),
        orientation_deg: column("orientation"),
        messages: table.messages,
    })
}
