//! A book of a company with many spindles. In: how many. Out: the book, twenty visits a spindle; and how long its overview takes.
//!
//! Three centres are entered through the program, visit by visit; their rows are then copied under other ids.

use crate::bench::Bench;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use std::collections::HashSet;
use std::process::Stdio;
use std::time::Instant;
use uuid::Uuid;

const CENTRES: [&str; 3] = ["Centre 1", "Centre 2", "Centre 3"];
/// Visits of each spindle.
pub const VISITS: u16 = 20;
const FIRST_YEAR: u16 = 2006;
/// A name as long as the text of an id.
const ID: usize = 36;

/// The visits of three centres, as a person enters them.
pub fn enter(bench: &Bench) {
    for (number, centre) in (0_u16..).zip(CENTRES) {
        let add = "spindle add --interface BT40 --nominal-n 11000 --class standard";
        bench.in_book(add, &[centre]).exits(0);
        for visit in 0..VISITS {
            let day = format!("{}-05-{}", FIRST_YEAR + visit, 10 + number);
            let start = format!(
                "visit start --date {day} --power-on-hours {} --spindle",
                1000 * (visit + 1)
            );
            bench.in_book(&start, &[centre]).exits(0);
            // Falls to the limit over the years; no two visits alike.
            let kn = 10.4 - 0.1 * f64::from(visit) - 0.3 * f64::from(number)
                + 0.01 * f64::from(visit * 37 % 11);
            let clamps = [0.0, 0.04, -0.03, 0.02, -0.01].map(|off| format!("{:.2}", kn + off));
            let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
            bench.in_book(grip, &[&clamps.join(" ")]);
            let runout = "runout --store --state as-found --at bar --height-mm 300 --unit um --uncertainty-um 1 --limit-um 25 --readings";
            bench.in_book(runout, &["0 3 6 8 6 4 2 1"]);
            bench.in_book("visit finish --yes", &[]).exits(0);
        }
    }
}

/// Copies every row of the three centres until the book has so many spindles; returns its size.
pub fn multiply(bench: &Bench, spindles: usize) -> u64 {
    let path = bench.path("yard.holdtrue");
    let db = Connection::open(&path).expect("the book opens");
    db.execute_batch("PRAGMA synchronous = OFF; PRAGMA journal_mode = OFF; BEGIN")
        .expect("settings of the database");
    let tables = [
        "revision",
        "check_start",
        "capture",
        "recorded",
        "result",
        "acknowledgement",
        "finding",
        "note",
        "finish",
    ];
    let rows: Vec<(&str, Vec<Vec<Value>>)> = tables.map(|table| (table, rows(&db, table))).into();
    let mut ids = HashSet::new();
    for row in rows.iter().flat_map(|(_, rows)| rows) {
        for value in row {
            if let Value::Text(text) = value
                && text.len() == ID
                && let Ok(id) = Uuid::parse_str(text)
            {
                ids.insert(id);
            }
        }
    }
    for (table, rows) in rows {
        for row in rows {
            for copy in 1..spindles.div_ceil(CENTRES.len()) {
                let copied = row.iter().map(|value| copied(value, &ids, copy));
                let places = vec!["?"; row.len()].join(", ");
                db.prepare_cached(&format!("INSERT INTO {table} VALUES ({places})"))
                    .and_then(|mut insert| insert.execute(params_from_iter(copied)))
                    .expect("a row of a copy");
            }
        }
    }
    db.execute_batch("COMMIT").expect("the copies are written");
    std::fs::metadata(&path).expect("the book is there").len()
}

fn rows(db: &Connection, table: &str) -> Vec<Vec<Value>> {
    let mut select = db
        .prepare(&format!("SELECT * FROM {table}"))
        .expect("a table");
    let columns = select.column_count();
    let read = |row: &rusqlite::Row<'_>| (0..columns).map(|column| row.get(column)).collect();
    let rows = select.query_map([], read).and_then(Iterator::collect);
    rows.expect("rows of a book")
}

/// The same under other ids: those of the table changed by the number of the copy, wherever they stand.
fn copied(value: &Value, ids: &HashSet<Uuid>, copy: usize) -> Value {
    let Value::Text(text) = value else {
        return value.clone();
    };
    let mut copied = String::with_capacity(text.len());
    let mut rest = text.as_str();
    while let Some(first) = rest.chars().next() {
        let is_id = rest.as_bytes().get(8) == Some(&b'-');
        let id = rest
            .get(..ID)
            .filter(|_| is_id)
            .and_then(|word| Uuid::parse_str(word).ok());
        if let Some(id) = id.filter(|id| ids.contains(id)) {
            copied += &Uuid::from_u128(id.as_u128() ^ copy as u128).to_string();
            rest = &rest[ID..];
        } else {
            copied.push(first);
            rest = &rest[first.len_utf8()..];
        }
    }
    Value::Text(copied)
}

/// Seconds of one run of `overview`.
pub fn overview(bench: &Bench, spindles: usize) -> f64 {
    let mut command = bench.command(["--book", "yard.holdtrue", "overview", "--csv"]);
    let begun = Instant::now();
    let output = command
        .stderr(Stdio::inherit())
        .output()
        .expect("the program starts");
    let took = begun.elapsed().as_secs_f64();
    let told = output
        .stdout
        .split(|byte| *byte == b'\n')
        .filter(|line| !line.is_empty())
        .count();
    // One line is the head; spindles come in threes.
    assert_eq!(told - 1, spindles.div_ceil(CENTRES.len()) * CENTRES.len());
    took
}
