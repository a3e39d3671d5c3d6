//! Tables of hours: read in pieces by several threads, to the same numbers and the same refusals as a short one.

use holdtrue_tests::bench;
use serde_json::{Value, json};
use std::fmt::Write;

/// Longer than one piece of a file.
const ROWS: usize = 400_000;

/// Clamps of 9 kN every ten seconds, a thousand readings a second; `row` writes one from time and force.
fn record(header: &str, row: impl Fn(&mut String, &str, &str)) -> String {
    let mut table = format!("{header}\n");
    let mut state = 1_u64;
    for reading in 0..ROWS {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let noise = (state >> 60) as f64 * 0.37;
        let held = (3_000..8_000).contains(&(reading % 10_000));
        let force_n = if held { 9_000.0 } else { 12.0 } + noise;
        let time_s = format!("{:.3}", reading as f64 / 1_000.0);
        row(&mut table, &time_s, &format!("{force_n:.2}"));
    }
    table
}

fn plain(table: &mut String, time_s: &str, force_n: &str) {
    writeln!(table, "{time_s},{force_n}").expect("memory");
}

fn long_table() -> String {
    let table = record("time_s,force_n", plain);
    assert!(table.len() > 5 << 20, "more than a piece");
    table
}

#[track_caller]
fn result(content: impl AsRef<[u8]>) -> Value {
    let bench = bench!();
    bench.file("long.csv", content);
    let mut told = bench.line("grip --from long.csv --json").exits(0).json();
    // What the reader of the file has to say is of the file alone.
    told["notes"] = Value::Null;
    told["note_values"] = Value::Null;
    told
}

#[test]
fn however_it_is_written_a_long_record_gives_the_same_figures() {
    let expected = result(long_table());
    assert_eq!(expected["statistics"]["count"], 40);
    let ways: [(&str, String); 5] = [
        ("in quotes", {
            record("\"time_s\",\"force_n\"", |table, time_s, force_n| {
                writeln!(table, "\"{time_s}\",\"{force_n}\"").expect("memory");
            })
        }),
        ("with decimal commas", {
            let text = record("time_s;force_n", |table, time_s, force_n| {
                writeln!(table, "{time_s};{force_n}").expect("memory");
            });
            text.replace('.', ",")
        }),
        ("with line ends of two signs", {
            long_table().replace('\n', "\r\n")
        }),
        ("with remarks and blank lines", {
            record("# logger 7\ntime_s,force_n", |table, time_s, force_n| {
                plain(table, time_s, force_n);
                if time_s.ends_with("00.000") {
                    table.push_str("# still there\n\n");
                }
            })
        }),
        ("without a last line end, beside a column of words", {
            let text = record("note,time_s,force_n", |table, time_s, force_n| {
                writeln!(table, "ok,{time_s}, {force_n} ").expect("memory");
            });
            text.trim_end().to_owned()
        }),
    ];
    for (how, table) in ways {
        assert!(result(table) == expected, "{how}");
    }
}

/// Holds a long record to a refusal.
#[track_caller]
fn refused(content: impl AsRef<[u8]>, line: usize, column: Value, word: &str) {
    let bench = bench!();
    bench.file("long.csv", content);
    let run = bench.line("grip --from long.csv --json").exits(4);
    let error = run.json()["error"].clone();
    assert_eq!(
        (&error["line"], &error["column"]),
        (&json!(line), &column),
        "{run}"
    );
    let message = error["message"].as_str().expect("a message");
    assert!(message.contains(word), "no \"{word}\" in {message}");
}

/// The table with another row in the place of one, which stands on line `row + 2`.
fn with_row(row: usize, other: &[u8]) -> Vec<u8> {
    let table = long_table();
    let mut lines: Vec<&[u8]> = table.as_bytes().split(|byte| *byte == b'\n').collect();
    lines[row + 1] = other;
    lines.join(&b'\n')
}

#[test]
fn what_is_wrong_far_down_is_told_with_its_line() {
    let row = ROWS - 5;
    let time = "399.995";
    for (other, column, word) in [
        ("399.995,kN", json!("force_n"), "expected a number"),
        ("399.995", Value::Null, "1 cells"),
        ("399.995,1,5", Value::Null, "3 cells"),
        ("399.995,", json!("force_n"), "Fill the cell"),
        ("399.995,1e400", json!("force_n"), "sensible size"),
        ("399.995,NaN", json!("force_n"), "finite"),
        ("17,5", json!("time_s"), "17 after 399.994"),
    ] {
        refused(with_row(row, other.as_bytes()), row + 2, column, word);
    }
    refused(
        with_row(row, &[time.as_bytes(), b",\xff"].concat()),
        row + 2,
        Value::Null,
        "not UTF-8",
    );
}

#[test]
fn a_decimal_mark_that_changes_far_down_is_refused() {
    let table = record("time_s;force_n", |table, time_s, force_n| {
        writeln!(table, "{time_s};{force_n}").expect("memory");
    });
    let (above, last) = table.split_at(table.len() - 40);
    let line = above.matches('\n').count() + 2;
    let (rest_of_line, below) = last.split_once('\n').expect("several lines");
    let below = below.replace('.', ",");
    refused(
        format!("{above}{rest_of_line}\n{below}"),
        line,
        json!("time_s"),
        "decimal mark used further up",
    );
}

#[test]
fn a_cell_of_many_lines_moves_the_lines_below_it() {
    let words = "a remark\n".repeat(600_000);
    let table = format!("time_s,force_n,note\n0,1,\"{words}\"\n0.001,2,ok\n0.002,bad,ok\n");
    assert!(table.len() > 5 << 20, "more than a piece");
    refused(table, 600_004, json!("force_n"), "expected a number");
}
