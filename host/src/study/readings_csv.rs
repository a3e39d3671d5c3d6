//! Readings of a study as a CSV file: `part`, `technician`, `trial`, `value_n` or `value_um`.
//!
//! In: a file. Out: readings, each part, technician and trial once.

use crate::tables::{Column, Header, Kind, Table};
use crate::terminal::error::{Error, Refusal};
use holdtrue_metrology::file_note::FileNote;
use holdtrue_metrology::study::{LARGEST_VALUE, StudyReading};
use std::collections::BTreeMap;

const COLUMNS: &[Column] = &[
    column("part", Kind::Text, &[header("part")]),
    column("technician", Kind::Text, &[header("technician")]),
    column("trial", Kind::Number, &[header("trial")]),
    column(
        "value",
        Kind::Number,
        &[header("value_n"), header("value_um")],
    ),
];

const fn header(name: &'static str) -> Header {
    Header { name, factor: 1.0 }
}

const fn column(key: &'static str, kind: Kind, headers: &'static [Header]) -> Column {
    Column {
        key,
        headers,
        kind,
        required: true,
    }
}

/// Readings, their unit and what was ignored in their file.
#[derive(Clone, Debug)]
pub struct Read {
    /// The readings.
    pub readings: Vec<StudyReading>,
    /// `N` or `um`.
    pub unit: &'static str,
    /// Messages for the person.
    pub messages: Vec<FileNote>,
}

/// Reads a study.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4.
pub fn read(name: &str, bytes: &[u8]) -> Result<Read, Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    let words = |key| table.words(key).unwrap_or_default();
    let numbers = |key| table.numbers(key).unwrap_or_default();
    let mut readings = Vec::with_capacity(table.len());
    let mut first = BTreeMap::new();
    for row in 0..table.len() {
        let reading = StudyReading {
            part: words("part")[row].clone(),
            technician: words("technician")[row].clone(),
            trial: whole(&table, row, numbers("trial")[row])?,
            value: measured(&table, row, numbers("value")[row])?,
        };
        let place = (
            reading.part.clone(),
            reading.technician.clone(),
            reading.trial,
        );
        if let Some(earlier) = first.insert(place, row) {
            return Err(repeated(&table, row, earlier, &reading));
        }
        readings.push(reading);
    }
    Ok(Read {
        readings,
        unit: match table.header("value") {
            Some("value_um") => "um",
            _ => "N",
        },
        messages: table.messages,
    })
}

/// Squares of larger ones are no numbers worth having.
fn measured(table: &Table, row: usize, value: f64) -> Result<f64, Error> {
    if value.abs() <= LARGEST_VALUE {
        return Ok(value);
    }
    Err(table.refuse(
        row,
        "value",
        Refusal {
            found: &format!("{value:e}"),
            expected: &format!(
                "a number between {:e} and {LARGEST_VALUE:e}",
                -LARGEST_VALUE
            ),
            next: "Correct the cell.",
        },
    ))
}

/// Trials are counted from 1, or from 0.
fn whole(table: &Table, row: usize, number: f64) -> Result<u32, Error> {
    let counted = (0.0..1e6).contains(&number) && number.fract().abs() <= 0.0;
    if !counted {
        return Err(table.refuse(
            row,
            "trial",
            Refusal {
                found: &number.to_string(),
                expected: "the number of the trial: 1, 2, 3 …",
                next: "Correct the cell.",
            },
        ));
    }
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number below a million"
    )]
    Ok(number as u32)
}

fn repeated(table: &Table, row: usize, earlier: usize, reading: &StudyReading) -> Error {
    table.refuse(
        row,
        "trial",
        Refusal {
            found: &format!(
                "trial {} of part {} by {} again, first in line {}",
                reading.trial,
                reading.part,
                reading.technician,
                table.line(earlier)
            ),
            expected: "each trial once",
            next: "Number the trials, or take the copied row out.",
        },
    )
}
