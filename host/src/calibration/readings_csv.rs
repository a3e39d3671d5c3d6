//! Readings under known loads as a CSV file: `run`, `direction`, `load_n`, `reading_counts`, optional `orientation_deg` and
//! `held_s`.
//!
//! In: a file. Out: readings and preloads in the order they were taken.

use crate::tables::{Column, Header, Kind, Table};
use crate::terminal::error::{Error, Place, Refusal};
use holdtrue_metrology::calibration::{CalibrationError, Direction, Point, Preload};
use holdtrue_metrology::file_note::FileNote;

const COLUMNS: &[Column] = &[
    column("run", Kind::Number, &[header("run")]),
    column(
        "direction",
        Kind::Word(&["up", "down", "preload"]),
        &[header("direction")],
    ),
    column("load", Kind::Number, &[header("load_n")]),
    column("reading", Kind::Number, &[header("reading_counts")]),
    optional("orientation", &[header("orientation_deg")]),
    optional("held", &[header("held_s")]),
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

const fn optional(key: &'static str, headers: &'static [Header]) -> Column {
    Column {
        required: false,
        ..column(key, Kind::Number, headers)
    }
}

/// What a row was taken for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To the highest load, to bed everything in.
    Preload,
    /// Loading.
    Up,
    /// Unloading.
    Down,
}

impl Way {
    /// The word in the table.
    pub fn word(self) -> &'static str {
        match self {
            Self::Preload => "preload",
            Self::Up => "up",
            Self::Down => "down",
        }
    }
}

/// One row of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Number of the run, 0 for a preload.
    pub run: u32,
    /// What it was taken for.
    pub way: Way,
    /// Load by the reference, N.
    pub load_n: f64,
    /// Reading of the gauge, counts.
    pub reading_counts: f64,
    /// How far the gauge was turned.
    pub orientation_deg: Option<f64>,
    /// How long a preload was held, s.
    pub held_s: Option<f64>,
}

/// Readings and what was ignored in their file.
#[derive(Clone, Debug)]
pub struct Read {
    /// Every row, in the order they were taken.
    pub rows: Vec<Row>,
    /// The physical line of each.
    pub lines: Vec<u64>,
    /// Messages for the person.
    pub messages: Vec<FileNote>,
}

impl Read {
    /// The readings of the runs.
    pub fn points(&self) -> Vec<Point> {
        let point = |row: &Row| {
            let direction = match row.way {
                Way::Preload => return None,
                Way::Up => Direction::Up,
                Way::Down => Direction::Down,
            };
            Some(Point {
                run: row.run,
                direction,
                load_n: row.load_n,
                reading_counts: row.reading_counts,
                position_deg: row.orientation_deg,
            })
        };
        self.rows.iter().filter_map(point).collect()
    }

    /// Where a refusal is about: the first row of its run, or the first row upward at its load.
    pub fn place(&self, file: &str, refused: &CalibrationError) -> Place {
        let (run, load_n) = (refused.run(), refused.at());
        let is_meant = |row: &Row| match (run, load_n) {
            (Some(run), _) => row.way != Way::Preload && row.run == run,
            (None, Some(load_n)) => row.way == Way::Up && row.load_n.total_cmp(&load_n).is_eq(),
            (None, None) => false,
        };
        let line = self
            .rows
            .iter()
            .position(is_meant)
            .map(|row| self.lines[row]);
        let column = if run.is_some() {
            "run"
        } else {
            "reading_counts"
        };
        match line {
            Some(line) => Place::file(file).line(line).column(column),
            None => Place::file(file),
        }
    }

    /// Where the reading of a run at a load stands.
    pub fn place_of(&self, file: &str, run: u32, direction: Direction, load_n: f64) -> Place {
        let way = match direction {
            Direction::Up => Way::Up,
            Direction::Down => Way::Down,
        };
        let is_meant =
            |row: &Row| row.run == run && row.way == way && row.load_n.total_cmp(&load_n).is_eq();
        let line = self.rows.iter().position(is_meant);
        let place = Place::file(file).column("reading_counts");
        match line {
            Some(row) => place.line(self.lines[row]),
            None => place,
        }
    }

    /// The preloads before the first run; those after a turn of the gauge stand for themselves.
    pub fn preloads(&self) -> Vec<Preload> {
        self.rows
            .iter()
            .take_while(|row| row.way == Way::Preload)
            .map(|row| Preload {
                load_n: row.load_n,
                held_s: row.held_s,
                reading_counts: Some(row.reading_counts),
            })
            .collect()
    }
}

/// Reads the readings of a calibration.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4.
pub fn read(name: &str, bytes: &[u8]) -> Result<Read, Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    let numbers = |key| table.numbers(key).unwrap_or_default();
    let directions = table.words("direction").unwrap_or_default();
    let (orientation, held) = (table.numbers("orientation"), table.numbers("held"));
    let mut rows = Vec::with_capacity(table.len());
    for row in 0..table.len() {
        let way = match directions[row].as_str() {
            "preload" => Way::Preload,
            "down" => Way::Down,
            _ => Way::Up,
        };
        rows.push(Row {
            run: run_number(&table, row, numbers("run")[row])?,
            way,
            load_n: load(&table, row, numbers("load")[row])?,
            reading_counts: numbers("reading")[row],
            orientation_deg: orientation.map(|degrees| degrees[row]),
            held_s: match held.filter(|_| way == Way::Preload) {
                Some(held) => Some(not_negative(&table, row, "held", held[row])?),
                None => None,
            },
        });
    }
    let runs: Vec<Option<u32>> = rows
        .iter()
        .map(|row| (row.way != Way::Preload).then_some(row.run))
        .collect();
    require_runs_together(&table, &runs)?;
    Ok(Read {
        lines: (0..table.len()).map(|row| table.line(row)).collect(),
        rows,
        messages: table.messages,
    })
}

/// The number of a run from its cell.
///
/// # Errors
/// When it is no whole number: exit 4.
pub(crate) fn run_number(table: &Table, row: usize, number: f64) -> Result<u32, Error> {
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

fn not_negative(table: &Table, row: usize, key: &str, value: f64) -> Result<f64, Error> {
    if value >= 0.0 {
        return Ok(value);
    }
    let refusal = Refusal {
        found: &value.to_string(),
        expected: "a number of seconds, 0 or more",
        next: "Correct the cell.",
    };
    Err(table.refuse(row, key, refusal))
}

/// Rows stand in the order they were taken, so a run is one block of them; preloads (`None`) may stand between runs.
///
/// # Errors
/// At the first row of a run that had ended: exit 4.
pub(crate) fn require_runs_together(table: &Table, runs: &[Option<u32>]) -> Result<(), Error> {
    let mut ended: Vec<u32> = Vec::new();
    for (row, pair) in runs.windows(2).enumerate() {
        let (before, now) = (pair[0], pair[1]);
        if before != now {
            ended.extend(before);
        }
        if let Some(now) = now.filter(|now| ended.contains(now)) {
            let refusal = Refusal {
                found: &format!(
                    "run {now} again after {}",
                    before.map_or_else(|| "a preload".to_owned(), |run| format!("run {run}"))
                ),
                expected: "the rows of a run together, in the order they were taken",
                next: "Sort the rows by run, or give the later ones a number of their own.",
            };
            return Err(table.refuse(row + 1, "run", refusal));
        }
    }
    Ok(())
}
