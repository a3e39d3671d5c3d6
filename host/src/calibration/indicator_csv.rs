//! Readings of an indicator on gauge blocks as a CSV file: `run`, `direction`, `step_um` or `step_mm`, `reading_um` or
//! `reading_in`.
//!
//! In: a file. Out: readings in the order they were taken.

use crate::calibration::readings_csv::{require_runs_together, run_number};
use crate::tables::{Column, Header, Kind, Table};
use crate::terminal::error::{Error, Place};
use holdtrue_metrology::calibration::{CalibrationError, Direction, IndicatorStep};
use holdtrue_metrology::file_note::FileNote;
use holdtrue_terms::units::MICROMETRES_PER_INCH;

const COLUMNS: &[Column] = &[
    column("run", Kind::Number, &[header("run", 1.0)]),
    column(
        "direction",
        Kind::Word(&["up", "down"]),
        &[header("direction", 1.0)],
    ),
    column(
        "step",
        Kind::Number,
        &[header("step_um", 1.0), header("step_mm", 1_000.0)],
    ),
    column(
        "reading",
        Kind::Number,
        &[
            header("reading_um", 1.0),
            header("reading_in", MICROMETRES_PER_INCH),
        ],
    ),
];

const fn header(name: &'static str, factor: f64) -> Header {
    Header { name, factor }
}

const fn column(key: &'static str, kind: Kind, headers: &'static [Header]) -> Column {
    Column {
        key,
        headers,
        kind,
        required: true,
    }
}

/// Readings and what was ignored in their file.
#[derive(Clone, Debug)]
pub struct Read {
    /// The readings.
    pub steps: Vec<IndicatorStep>,
    /// The physical line of each.
    pub lines: Vec<u64>,
    /// Messages for the person.
    pub messages: Vec<FileNote>,
}

impl Read {
    /// Where a refusal is about: the first row of its run, or the first row going in at its step.
    pub fn place(&self, file: &str, refused: &CalibrationError) -> Place {
        let (run, step_um) = (refused.run(), refused.at());
        let is_meant = |step: &IndicatorStep| match (run, step_um) {
            (Some(run), _) => step.run == run,
            (None, Some(step_um)) => {
                step.direction == Direction::Up && step.step_um.total_cmp(&step_um).is_eq()
            }
            (None, None) => false,
        };
        let line = self
            .steps
            .iter()
            .position(is_meant)
            .map(|row| self.lines[row]);
        let column = if run.is_some() { "run" } else { "reading" };
        match line {
            Some(line) => Place::file(file).line(line).column(column),
            None => Place::file(file),
        }
    }
}

/// Reads the readings of an indicator.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4.
pub fn read(name: &str, bytes: &[u8]) -> Result<Read, Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    let numbers = |key| table.numbers(key).unwrap_or_default();
    let directions = table.words("direction").unwrap_or_default();
    let mut steps = Vec::with_capacity(table.len());
    for (row, direction) in directions.iter().enumerate() {
        steps.push(IndicatorStep {
            run: run_number(&table, row, numbers("run")[row])?,
            direction: match direction.as_str() {
                "down" => Direction::Down,
                _ => Direction::Up,
            },
            step_um: numbers("step")[row],
            reading_um: numbers("reading")[row],
        });
    }
    let runs: Vec<Option<u32>> = steps.iter().map(|step| Some(step.run)).collect();
    require_runs_together(&table, &runs)?;
    Ok(Read {
        lines: (0..table.len()).map(|row| table.line(row)).collect(),
        steps,
        messages: table.messages,
    })
}
