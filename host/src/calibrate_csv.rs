//! Readings under known loads as a CSV file: `run`, `direction`, `load_n`, `reading_counts`, optional `orientation_deg`.
//!
//! In: a file. Out: readings in the order they were taken.

use crate::error::{Error, Refusal};
use crate::table::{Column, Header, Kind, Table};
use holdtrue_metrology::calibration::{Direction, Point};

const COLUMNS: &[Column] = &[
    column("run", Kind::Number, &[header("run")]),
    column(
        "direction",
        Kind::Word(&["up", "down"]),
        &[header("direction")],
    ),
    column("load", Kind::Number, &[header("load_n")]),
    column("reading", Kind::Number, &[header("reading_counts")]),
    Column {
        required: false,
        ..column("orientation", Kind::Number, &[header("orientation_deg")])
    },
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

/// Readings and what was ignored in their file.
#[derive(Clone, Debug)]
pub struct Read {
    /// The readings.
    pub points: Vec<Point>,
    /// Messages for the person.
    pub messages: Vec<String>,
}

/// Reads the readings of a calibration.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4.
pub fn read(name: &str, bytes: &[u8]) -> Result<Read, Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    let numbers = |key| table.numbers(key).unwrap_or_default();
    let directions = table.words("direction").unwrap_or_default();
    let orientation = table.numbers("orientation");
    let mut points = Vec::with_capacity(table.len());
    for row in 0..table.len() {
        points.push(Point {
            run: run(&table, row, numbers("run")[row])?,
            direction: match directions[row].as_str() {
                "down" => Direction::Down,
                _ => Direction::Up,
            },
            load_n: load(&table, row, numbers("load")[row])?,
            reading_counts: numbers("reading")[row],
            position_deg: orientation.map(|degrees| degrees[row]),
        });
    }
    require_runs_together(&table, &points)?;
    Ok(Read {
        points,
        messages: table.messages,
    })
}

fn run(table: &Table, row: usize, number: f64) -> Result<u32, Error> {
    if (0.0..1e6).contains(&number) && number.fract().abs() <= 0.0 {
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a whole number below a million"
        )]
        return Ok(number as u32);
    }
    let refusal = Refusal {
        found: &number.to_string(),
        expected: "the number of the run: 1, 2, 3 …",
        next: "Correct the cell.",
    };
    Err(table.refuse(row, "run", refusal))
}

fn load(table: &Table, row: usize, load_n: f64) -> Result<f64, Error> {
    if load_n >= 0.0 {
        return Ok(load_n);
    }
    let refusal = Refusal {
        found: &load_n.to_string(),
        expected: "a pull in N, 0 with nothing on the gauge",
        next: "A pull is positive: turn the sign of the whole column if it was noted otherwise.",
    };
    Err(table.refuse(row, "load", refusal))
}

/// Rows stand in the order they were taken, so a run is one block of them.
fn require_runs_together(table: &Table, points: &[Point]) -> Result<(), Error> {
    let mut ended: Vec<u32> = Vec::new();
    for (row, pair) in points.windows(2).enumerate() {
        let (before, now) = (pair[0].run, pair[1].run);
        if before != now {
            ended.push(before);
        }
        if ended.contains(&now) {
            let refusal = Refusal {
                found: &format!("run {now} again after run {before}"),
                expected: "the rows of a run together, in the order they were taken",
                next: "Sort the rows by run, or give the later ones a number of their own.",
            };
            return Err(table.refuse(row + 1, "run", refusal));
        }
    }
    Ok(())
}
