//! A series as a CSV file: `date`, `hours` or `tool_changes`; `value_…` and `standard_…` in one unit; `repair_before`.
//!
//! In: a file. Out: the series in the unit of its column, in order of time.

use crate::tables::{Column, Header, Kind, Table};
use crate::terminal::error::{Error, Refusal};
use crate::trend::arguments::Against;
use crate::trend::followed::{Followed, Row};
use crate::visits::checks::stored_figure::StoredFigure;
use crate::visits::known_day::KnownDay;
use holdtrue_metrology::trend::Point;
use holdtrue_wording::Say;
use holdtrue_wording::digits::Units;

const fn header(name: &'static str) -> Header {
    Header { name, factor: 1.0 }
}

const fn column(
    key: &'static str,
    kind: Kind,
    required: bool,
    headers: &'static [Header],
) -> Column {
    Column {
        key,
        headers,
        kind,
        required,
    }
}

const COLUMNS: &[Column] = &[
    column("date", Kind::Text, false, &[header("date")]),
    column("hours", Kind::Number, false, &[header("hours")]),
    column(
        "tool_changes",
        Kind::Number,
        false,
        &[header("tool_changes")],
    ),
    column(
        "value",
        Kind::Number,
        true,
        &[
            header("value_n"),
            header("value_kn"),
            header("value_lbf"),
            header("value_kgf"),
            header("value_dan"),
            header("value_um"),
            header("value_mm"),
            header("value_in"),
            header("value_percent"),
            header("value_n_per_s"),
            header("value_s"),
            header("value_um_per_m"),
        ],
    ),
    column(
        "standard",
        Kind::Number,
        true,
        &[
            header("standard_n"),
            header("standard_kn"),
            header("standard_lbf"),
            header("standard_kgf"),
            header("standard_dan"),
            header("standard_um"),
            header("standard_mm"),
            header("standard_in"),
            header("standard_percent"),
            header("standard_n_per_s"),
            header("standard_s"),
            header("standard_um_per_m"),
        ],
    ),
    column(
        "repair_before",
        Kind::Number,
        false,
        &[header("repair_before")],
    ),
];

/// What the end of a header stands for.
const UNITS: &[(&str, &str)] = &[
    ("n", "N"),
    ("kn", "kN"),
    ("lbf", "lbf"),
    ("kgf", "kgf"),
    ("dan", "daN"),
    ("um", "um"),
    ("mm", "mm"),
    ("in", "in"),
    ("percent", "%"),
    ("n_per_s", "N/s"),
    ("s", "s"),
    ("um_per_m", "um/m"),
];

/// Reads a series.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4. A column that is asked for and not there: exit 4.
pub fn read(
    name: &str,
    bytes: &[u8],
    against: Option<Against>,
    figure: Option<StoredFigure>,
    units: &Units,
) -> Result<Followed, Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    let against = chosen(&table, against)?;
    let unit = unit(&table)?;
    let places = places(&table, against)?;
    let repairs = table.numbers("repair_before");
    let mut rows = Vec::with_capacity(table.len());
    for (row, (x, day)) in places.into_iter().enumerate() {
        let standard = numbers(&table, "standard")[row];
        if standard <= 0.0 {
            return Err(table.refuse(
                row,
                "standard",
                Refusal {
                    found: &standard.to_string(),
                    expected: "a standard uncertainty (k = 1) above zero",
                    next: "Write down what this visit alone leaves open; what all visits of one calibration share is none of it.",
                },
            ));
        }
        let repair_before = match repairs.map(|repairs| repairs[row]) {
            None => false,
            Some(given) if given.abs() <= 0.0 => false,
            Some(given) if (given - 1.0).abs() <= 0.0 => true,
            Some(given) => {
                return Err(table.refuse(
                    row,
                    "repair_before",
                    Refusal {
                        found: &given.to_string(),
                        expected: "1 where the spindle was repaired before this visit, else 0",
                        next: "Correct the cell.",
                    },
                ));
            }
        };
        rows.push(Row {
            visit: None,
            day,
            point: Point {
                x,
                value: numbers(&table, "value")[row],
                own: Some(standard),
                own_dof: f64::INFINITY,
                shared: Some(0.0),
                calibration: 0,
                repair_before,
            },
            gauge: None,
            calibration: None,
            paper: false,
        });
    }
    let mut messages: Vec<String> = table
        .messages
        .iter()
        .map(|message| message.say(units))
        .collect();
    if rows
        .windows(2)
        .any(|pair| pair[1].point.x < pair[0].point.x)
    {
        messages.push("The rows are not in order of time: they are sorted.".to_owned());
        rows.sort_by(|one, other| one.point.x.total_cmp(&other.point.x));
    }
    if let Some(first) = rows.first_mut() {
        // Nothing of the series lies before its first visit.
        first.point.repair_before = false;
    }
    Ok(Followed {
        figure,
        against,
        counter: None,
        unit,
        rows,
        limit: None,
        ended_by: None,
        events: Vec::new(),
        messages,
    })
}

fn numbers<'a>(table: &'a Table, key: &str) -> &'a [f64] {
    table.numbers(key).unwrap_or_default()
}

fn key(against: Against) -> &'static str {
    match against {
        Against::Date => "date",
        Against::Hours => "hours",
        Against::ToolChanges => "tool_changes",
    }
}

/// What was asked for, else the first column of these that the file has.
fn chosen(table: &Table, asked: Option<Against>) -> Result<Against, Error> {
    let all = [Against::Date, Against::Hours, Against::ToolChanges];
    let has = |against: &Against| table.header(key(*against)).is_some();
    let found = match asked {
        Some(asked) => Some(asked).filter(has),
        None => all.into_iter().find(has),
    };
    found.ok_or_else(|| {
        let wanted = asked.map_or("date, hours or tool_changes", key);
        table.refuse_header(
            Some(wanted),
            "no such column",
            &format!("a column {wanted}"),
            "Name the column so in the header line, or choose another with --against.",
        )
    })
}

fn unit(table: &Table) -> Result<&'static str, Error> {
    let end = |key: &str| {
        let header = table.header(key)?;
        header.split_once('_').map(|(_, unit)| unit)
    };
    let of = |end: Option<&str>| {
        UNITS
            .iter()
            .find(|(name, _)| Some(*name) == end)
            .map(|(_, unit)| *unit)
    };
    match (of(end("value")), of(end("standard"))) {
        (Some(value), Some(standard)) if value == standard => Ok(value),
        _ => Err(table.refuse_header(
            table.header("standard"),
            &format!(
                "{} beside {}",
                table.header("standard").unwrap_or_default(),
                table.header("value").unwrap_or_default()
            ),
            "both in one unit",
            "Give figure and uncertainty in the same unit.",
        )),
    }
}

fn places(table: &Table, against: Against) -> Result<Vec<(f64, Option<String>)>, Error> {
    if against != Against::Date {
        let counts = numbers(table, key(against))
            .iter()
            .map(|count| (*count, None));
        return Ok(counts.collect());
    }
    let days = table.words("date").unwrap_or_default();
    let read = |(row, written): (usize, &String)| {
        let known = KnownDay::of(written).ok_or_else(|| {
            table.refuse(
                row,
                "date",
                Refusal {
                    found: written,
                    expected: "a day, like 2026-03-04",
                    next: "Write year, month, day.",
                },
            )
        })?;
        Ok((known.place_days(), Some(written.clone())))
    };
    days.iter().enumerate().map(read).collect()
}
