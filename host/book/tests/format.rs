//! FORMAT.md names every table, column and field of a header that there is, and no column that there is not.

#![allow(clippy::unwrap_used)]

mod common;

use common::{place, uuid};
use holdtrue_book::*;
use rusqlite::Connection;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

const FORMAT: &str = include_str!("../FORMAT.md");

/// What stands between backticks.
fn names(text: &str) -> BTreeSet<String> {
    text.split('`')
        .skip(1)
        .step_by(2)
        .map(String::from)
        .collect()
}

/// Table → its part of the page.
fn parts() -> BTreeMap<String, String> {
    let mut parts: BTreeMap<String, String> = BTreeMap::new();
    let mut of = None;
    for line in FORMAT.lines() {
        if let Some(rest) = line.strip_prefix("**`") {
            of = rest.split_once('`').map(|(name, _)| name.to_owned());
        } else if line.starts_with('#') || line.starts_with("`content` of ") {
            of = None;
        }
        if let Some(of) = &of {
            let part = parts.entry(of.clone()).or_default();
            part.push_str(line);
            part.push('\n');
        }
    }
    parts
}

/// Table → its columns, of a new book.
fn tables() -> BTreeMap<String, BTreeSet<String>> {
    let (_folder, path) = place();
    drop(Book::open_or_create(&path).unwrap());
    let book = Connection::open(&path).unwrap();
    let mut listed = book
        .prepare("SELECT t.name, c.name FROM sqlite_schema AS t, pragma_table_info(t.name) AS c WHERE t.type = 'table'")
        .unwrap();
    let rows = listed.query_map([], |row| Ok((row.get(0)?, row.get(1)?)));
    let mut tables: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for row in rows.unwrap() {
        let (table, column): (String, String) = row.unwrap();
        tables.entry(table).or_default().insert(column);
    }
    tables
}

#[test]
fn every_table_and_column_of_a_book_is_on_the_page_and_no_other() {
    let (parts, tables) = (parts(), tables());
    assert!(tables.len() > 15, "{tables:?}");
    let described: Vec<_> = parts.keys().collect();
    assert_eq!(described, tables.keys().collect::<Vec<_>>());
    for (table, columns) in &tables {
        let part = &parts[table];
        let told = names(part);
        for column in columns {
            assert!(told.contains(column), "{table}.{column} is not described");
        }
        for row in part.lines().filter(|line| line.starts_with("| `")) {
            let cell = row.split('|').nth(1).unwrap();
            for name in names(cell) {
                assert!(columns.contains(&name), "{table} has no {name}");
            }
        }
    }
}

/// Each field has a value, so that each is written; a field that is added does not compile until it has one here.
#[test]
fn every_field_of_a_header_is_on_the_page() {
    let spindle = SpindleHeader {
        name: "Centre 1".into(),
        machine: some(),
        machine_serial: some(),
        spindle_serial: some(),
        place: some(),
        invented: true,
        taper: some(),
        taper_size: Some(40),
        shank: some(),
        retention_knob: some(),
        drawbar: some(),
        drive: some(),
        through_coolant: Some(true),
        face_contact: Some(true),
        axis: some(),
        grip_nominal_n: Some(1.0),
        grip_minimum_n: Some(1.0),
        grip_class: some(),
        more: serde_json::Map::new(),
    };
    let overload = GaugeOverload {
        boot: 1,
        at_us: 1,
        peak_counts: 1,
        past_from: "2026-03-04".into(),
    };
    let stop = GaugeStop {
        boot: 1,
        at_us: 1,
        image: "1".into(),
        cause: "panic".into(),
        places: vec![],
        told_on: "2026-03-04".into(),
    };
    let gauge = GaugeHeader {
        serial: "TP-1".into(),
        what: "force-gauge".into(),
        description: some(),
        rated_n: Some(1.0),
        resolution: Some(1.0),
        calibration: Some(uuid(1)),
        knob_clamps: Some(1),
        simulated: true,
        overloads: vec![overload],
        stops: vec![stop],
        more: serde_json::Map::new(),
    };
    let compared = ComparedFigure {
        check: uuid(1),
        figure: "mean_n".into(),
        unit: "N".into(),
        now: 1.0,
        then: 1.0,
        expanded: Some(1.0),
        seen: some(),
        visit: uuid(1),
        started_at: "2026".into(),
        state: None,
        from_paper: true,
        between: vec![],
        another: some(),
    };
    let visit = VisitHeader {
        spindle: Some(uuid(1)),
        technician: "Technician A".into(),
        started_at: "2026".into(),
        purpose: some(),
        short: true,
        consent_of: some(),
        operated_by: some(),
        power_on_hours: Some(1.0),
        cutting_hours: Some(1.0),
        tool_changes: Some(1),
        temperature_c: Some(1.0),
        running_min: Some(1.0),
        tool_in_spindle: some(),
        tool_back: true,
        spindle_hours: Some(1.0),
        customer: some(),
        order_number: some(),
        ambient_c: Some(1.0),
        entered_from: some(),
        compared: Some(vec![compared]),
        more: serde_json::Map::new(),
    };
    described("spindle", &spindle);
    described("gauge", &gauge);
    described("visit", &visit);
}

fn some() -> Option<String> {
    Some("as written".into())
}

fn described(what: &str, header: &impl Header) {
    let begins = format!("`content` of a **{what}**");
    let paragraph = FORMAT.split("\n\n").find(|part| part.starts_with(&begins));
    let told = names(paragraph.unwrap());
    let mut fields = BTreeSet::new();
    fields_of(&serde_json::to_value(header).unwrap(), &mut fields);
    assert!(fields.len() > 10, "{fields:?}");
    for field in fields {
        assert!(
            told.contains(&field),
            "{field} of a {what} is not described"
        );
    }
}

fn fields_of(value: &Value, fields: &mut BTreeSet<String>) {
    match value {
        Value::Object(object) => {
            for (name, value) in object {
                fields.insert(name.clone());
                fields_of(value, fields);
            }
        }
        Value::Array(values) => values.iter().for_each(|value| fields_of(value, fields)),
        _ => {}
    }
}
