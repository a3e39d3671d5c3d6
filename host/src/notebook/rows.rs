//! A notebook as a table. In: the bytes of a CSV file. Out: its rows, each with its day, its reading and what else it says.

use crate::tables::{Column, Header, Kind, Table, Written};
use crate::terminal::error::{Error, Refusal};
use crate::visits::known_day::{KnownDay, past};
use holdtrue_terms::quantity::Quantity;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_terms::vocabulary::{At, Happened, Purpose, State, Vocabulary, or};

const fn header(name: &'static str) -> Header {
    Header { name, factor: 1.0 }
}

const fn maybe(key: &'static str, kind: Kind, headers: &'static [Header]) -> Column {
    Column {
        key,
        headers,
        kind,
        required: false,
    }
}

const fn needed(key: &'static str, headers: &'static [Header]) -> Column {
    Column {
        key,
        headers,
        kind: Kind::Text,
        required: true,
    }
}

const COLUMNS: &[Column] = &[
    needed("date", &[header("date")]),
    needed("spindle", &[header("spindle")]),
    maybe("technician", Kind::MaybeText, &[header("technician")]),
    maybe("gauge", Kind::MaybeText, &[header("gauge")]),
    maybe("what", Kind::MaybeText, &[header("what")]),
    maybe("value", Kind::MaybeNumber, &[header("value")]),
    maybe("unit", Kind::MaybeText, &[header("unit")]),
    maybe(
        "force",
        Kind::MaybeNumber,
        &[
            header("force_n"),
            header("force_kn"),
            header("force_lbf"),
            header("force_kgf"),
            header("force_dan"),
        ],
    ),
    maybe(
        "tir",
        Kind::MaybeNumber,
        &[header("tir_um"), header("tir_mm"), header("tir_in")],
    ),
    maybe("at", Kind::MaybeText, &[header("at")]),
    maybe("height_mm", Kind::MaybeNumber, &[header("height_mm")]),
    maybe("seating", Kind::MaybeNumber, &[header("seating")]),
    maybe(
        "orientation_deg",
        Kind::MaybeNumber,
        &[header("orientation_deg")],
    ),
    maybe("state", Kind::MaybeText, &[header("state")]),
    maybe("remark", Kind::MaybeText, &[header("remark")]),
    maybe("event", Kind::MaybeText, &[header("event")]),
    maybe("reason", Kind::MaybeText, &[header("reason")]),
    maybe("customer", Kind::MaybeText, &[header("customer")]),
    maybe("order_number", Kind::MaybeText, &[header("order_number")]),
    maybe(
        "power_on_hours",
        Kind::MaybeNumber,
        &[header("power_on_hours")],
    ),
    maybe(
        "spindle_hours",
        Kind::MaybeNumber,
        &[header("spindle_hours")],
    ),
    maybe(
        "cutting_hours",
        Kind::MaybeNumber,
        &[header("cutting_hours")],
    ),
    maybe("tool_changes", Kind::MaybeNumber, &[header("tool_changes")]),
    maybe("ambient_c", Kind::MaybeNumber, &[header("ambient_c")]),
    maybe(
        "temperature_c",
        Kind::MaybeNumber,
        &[header("temperature_c")],
    ),
    maybe("running_min", Kind::MaybeNumber, &[header("running_min")]),
];

/// What a row's value is, as the column `what` says it.
const WHAT: [&str; 5] = ["holding", "peak", "mean", "lowest", "tir"];

/// One row.
#[derive(Clone, Debug)]
pub(super) struct Row {
    /// Its place in the table.
    pub row: usize,
    /// The day, as far as known.
    pub day: KnownDay,
    /// The spindle as it is named.
    pub spindle: String,
    /// As found or as left.
    pub state: Option<State>,
    /// What was read.
    pub reading: Option<Reading>,
    /// What happened to the spindle.
    pub event: Option<Happened>,
    /// Words.
    pub remark: Option<String>,
    /// Why the visit was made.
    pub reason: Option<Purpose>,
}

/// What was read.
#[derive(Clone, Debug)]
pub(super) enum Reading {
    /// A holding force, a peak, a mean or a lowest force.
    Force {
        /// Its name in the result document; none for a holding force.
        figure: Option<&'static str>,
        /// In its unit.
        force: Quantity<ForceUnit>,
        /// As it was written.
        text: String,
    },
    /// A TIR.
    Tir {
        /// In its unit.
        tir: Quantity<LengthUnit>,
        /// The surface.
        at: Option<At>,
        /// From the nose face outward, mm.
        height_mm: Option<f64>,
        /// Which time the bar was put in.
        seating: Option<u32>,
        /// How far the bar was turned in the spindle, degrees.
        orientation_deg: Option<f64>,
    },
}

/// The table and its rows.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4.
pub(super) fn read(name: &str, bytes: &[u8]) -> Result<(Table, Vec<Row>), Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    let rows = (0..table.len()).map(|row| read_row(&table, row));
    let rows = rows.collect::<Result<Vec<_>, Error>>()?;
    Ok((table, rows))
}

fn read_row(table: &Table, row: usize) -> Result<Row, Error> {
    let day = past(table.text(row, "date").unwrap_or_default()).map_err(|why| {
        let (found, expected) = why.split_once("expected ").unwrap_or((&why, "a day"));
        let found = found
            .trim_start_matches("found ")
            .trim_end_matches([' ', ',', ';']);
        refuse(table, row, "date", found, expected)
    })?;
    let read = Row {
        row,
        day,
        spindle: table.text(row, "spindle").unwrap_or_default().to_owned(),
        state: state(table, row)?,
        reading: reading(table, row)?,
        event: word(table, row, "event")?,
        remark: table.text(row, "remark").map(str::to_owned),
        reason: word(table, row, "reason")?,
    };
    if read.reading.is_none() {
        for key in [
            "state",
            "at",
            "height_mm",
            "seating",
            "orientation_deg",
            "unit",
        ] {
            if table.text(row, key).is_some() || table.written(row, key).is_some() {
                return Err(refuse(
                    table,
                    row,
                    key,
                    &format!("a {key} without a reading"),
                    "a value in this row, or an empty cell",
                ));
            }
        }
    }
    Ok(read)
}

/// Refuses a cell.
pub(super) fn refuse(table: &Table, row: usize, key: &str, found: &str, expected: &str) -> Error {
    let next = "Correct the cell; nothing was entered.";
    table.refuse(
        row,
        key,
        Refusal {
            found,
            expected,
            next,
        },
    )
}

fn word<V: Vocabulary>(table: &Table, row: usize, key: &str) -> Result<Option<V>, Error> {
    let Some(text) = table.text(row, key) else {
        return Ok(None);
    };
    let found = V::ALL
        .iter()
        .find(|value| value.typed().eq_ignore_ascii_case(text));
    let words: Vec<&str> = V::ALL.iter().map(|value| value.typed()).collect();
    match found {
        Some(value) => Ok(Some(*value)),
        None => Err(refuse(table, row, key, &format!("\"{text}\""), &or(&words))),
    }
}

/// As found or as left; the book's own spelling will do.
fn state(table: &Table, row: usize) -> Result<Option<State>, Error> {
    match table.text(row, "state").map(State::from_word) {
        Some(Ok(state)) => Ok(Some(state)),
        _ => word(table, row, "state"),
    }
}

fn reading(table: &Table, row: usize) -> Result<Option<Reading>, Error> {
    let cells = ["value", "force", "tir"];
    let mut filled = cells
        .into_iter()
        .filter_map(|key| Some((key, table.written(row, key)?)));
    let (key, value) = match (filled.next(), filled.next()) {
        (None, _) => return nothing_read(table, row),
        (Some(one), None) => one,
        (Some(_), Some((key, _))) => {
            return Err(refuse(
                table,
                row,
                key,
                "a second value",
                "one reading a row",
            ));
        }
    };
    let what = what(table, row, key)?;
    let unit = unit(table, row, key)?;
    if value.number < 0.0 {
        let found = value.text.clone();
        return Err(refuse(table, row, key, &found, "0 or more"));
    }
    match what {
        "tir" => tir(table, row, key, value, &unit).map(Some),
        force => self::force(table, row, key, value, (force, &unit)).map(Some),
    }
}

fn nothing_read(table: &Table, row: usize) -> Result<Option<Reading>, Error> {
    match table.text(row, "what") {
        None => Ok(None),
        Some(what) => Err(refuse(
            table,
            row,
            "what",
            &format!("\"{what}\" without a value"),
            "a value in this row",
        )),
    }
}

fn what(table: &Table, row: usize, key: &str) -> Result<&'static str, Error> {
    let Some(text) = table.text(row, "what") else {
        return match key {
            "force" => Ok("holding"),
            "tir" => Ok("tir"),
            _ => Err(refuse(
                table,
                row,
                "what",
                "nothing beside a value",
                &or(&WHAT),
            )),
        };
    };
    let known = WHAT.iter().find(|word| word.eq_ignore_ascii_case(text));
    let what =
        known.ok_or_else(|| refuse(table, row, "what", &format!("\"{text}\""), &or(&WHAT)))?;
    let (is_tir, tir_cell) = (*what == "tir", key == "tir");
    if key != "value" && is_tir != tir_cell {
        let found = format!(
            "\"{what}\" with a value in {}",
            table.header(key).unwrap_or(key)
        );
        return Err(refuse(
            table,
            row,
            "what",
            &found,
            "the kind of figure of that column",
        ));
    }
    Ok(what)
}

/// The unit: of the header where it has one, else of its column.
fn unit(table: &Table, row: usize, key: &str) -> Result<String, Error> {
    if key != "value" {
        let header = table.header(key).unwrap_or_default();
        return Ok(header.rsplit('_').next().unwrap_or_default().to_owned());
    }
    table.text(row, "unit").map(str::to_owned).ok_or_else(|| {
        refuse(
            table,
            row,
            "unit",
            "no unit beside a value",
            "kN, N, lbf, kgf, daN, um, mm or in",
        )
    })
}

fn force(
    table: &Table,
    row: usize,
    key: &str,
    value: &Written,
    (what, unit): (&str, &str),
) -> Result<Reading, Error> {
    let unit: ForceUnit = unit.parse().map_err(|why| {
        let found = format!("\"{unit}\" ({why})");
        refuse(
            table,
            row,
            "unit",
            &found,
            "kN, N, lbf, kgf or daN for a force",
        )
    })?;
    if value.number <= 0.0 {
        return Err(refuse(table, row, key, &value.text, "a force above 0"));
    }
    Ok(Reading::Force {
        figure: match what {
            "peak" => Some("peak_n"),
            "mean" => Some("mean_n"),
            "lowest" => Some("lowest_n"),
            _ => None,
        },
        force: Quantity {
            number: value.number,
            unit,
        },
        text: value.text.clone(),
    })
}

fn tir(
    table: &Table,
    row: usize,
    _key: &str,
    value: &Written,
    unit: &str,
) -> Result<Reading, Error> {
    let unit: LengthUnit = unit.parse().map_err(|_| {
        let found = format!("\"{unit}\"");
        refuse(table, row, "unit", &found, "um, mm or in for a TIR")
    })?;
    let number = |key| table.written(row, key).map(|written| written.number);
    Ok(Reading::Tir {
        tir: Quantity {
            number: value.number,
            unit,
        },
        at: word(table, row, "at")?,
        height_mm: number("height_mm"),
        seating: whole(table, row, "seating", 1)?.and_then(|seating| u32::try_from(seating).ok()),
        orientation_deg: number("orientation_deg"),
    })
}

/// A whole number.
pub(super) fn whole(
    table: &Table,
    row: usize,
    key: &str,
    least: u64,
) -> Result<Option<u64>, Error> {
    let Some(written) = table.written(row, key) else {
        return Ok(None);
    };
    match written.text.parse::<u64>() {
        Ok(number) if number >= least => Ok(Some(number)),
        _ => Err(refuse(
            table,
            row,
            key,
            &written.text,
            &format!("a whole number from {least} up"),
        )),
    }
}
