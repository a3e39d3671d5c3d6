//! Every bad input of a table: exit 4 and one message with file, line, column, what was found and what to do.

use holdtrue_tests::bench;
use serde_json::{Value, json};

/// A record that is good up to the row put in for `{}`: lines 1 to 3 are fine, the row stands on line 4.
fn with_row(row: &str) -> String {
    format!("time_s,force_n\n0.00,1\n0.01,2\n{row}\n0.03,3\n")
}

/// Holds one file to its place and to a word of the message.
#[track_caller]
fn refused(content: impl AsRef<[u8]>, line: Value, column: Value, word: &str) {
    let bench = bench!();
    bench.file("bad.csv", content);
    let run = bench.line("grip --from bad.csv --json").exits(4);
    let error = run.json()["error"].clone();
    assert_eq!(error["file"], "bad.csv", "{run}");
    assert_eq!(error["line"], line, "{run}");
    assert_eq!(error["column"], column, "{run}");
    let message = error["message"].as_str().expect("a message").to_owned();
    assert!(message.contains(word), "no \"{word}\" in {message}");
    assert!(
        message.contains("found") && message.contains("expected"),
        "{message}"
    );
    let told: Vec<&str> = run
        .messages
        .lines()
        .filter(|line| line.starts_with("holdtrue: "))
        .collect();
    assert_eq!(told, [format!("holdtrue: {message}")], "{run}");
}

#[test]
fn empty() {
    refused("", Value::Null, Value::Null, "empty");
    refused("\u{feff}\r\n \r\n", Value::Null, Value::Null, "empty");
}

#[test]
fn comments_only() {
    refused("# made today\n", json!(1), Value::Null, "comments");
}

#[test]
fn header_only() {
    refused("time_s,force_n\n", json!(1), Value::Null, "without rows");
    refused(
        "# logger 7\n\ntime_s,force_n",
        json!(3),
        Value::Null,
        "without rows",
    );
}

#[test]
fn binary() {
    refused(
        [0x89, b'P', b'N', b'G', 0, 1, 2],
        Value::Null,
        Value::Null,
        "binary",
    );
}

#[test]
fn utf_16() {
    refused(
        [0xff, 0xfe, b't', 0, b'i', 0],
        Value::Null,
        Value::Null,
        "UTF-16",
    );
}

#[test]
fn not_utf_8() {
    refused(
        b"time_s,force_n\n0.0,1\n0.1,\xb52\n",
        json!(3),
        Value::Null,
        "UTF-8",
    );
}

#[test]
fn without_units() {
    refused(
        "time,force\n0,1\n1,2\n",
        json!(1),
        json!("time_s"),
        "time_s",
    );
    refused(
        "time_s,force\n0,1\n1,2\n",
        json!(1),
        json!("force_n"),
        "force_kn",
    );
}

#[test]
fn without_header() {
    refused("0.0,1.5\n0.1,1.6\n", json!(1), Value::Null, "header");
}

#[test]
fn two_units() {
    refused(
        "time_s,force_n,force_kn\n0,1,2\n",
        json!(1),
        json!("force_kn"),
        "beside force_n",
    );
}

#[test]
fn column_twice() {
    refused(
        "time_s,force_n,Force_N\n0,1,2\n",
        json!(1),
        json!("force_n"),
        "twice",
    );
}

#[test]
fn not_a_number() {
    refused(with_row("0.02,NaN"), json!(4), json!("force_n"), "NaN");
    refused(with_row("0.02,nan"), json!(4), json!("force_n"), "nan");
}

#[test]
fn infinity() {
    refused(with_row("0.02,inf"), json!(4), json!("force_n"), "inf");
    refused(
        with_row("-Infinity,1"),
        json!(4),
        json!("time_s"),
        "Infinity",
    );
    refused(with_row("0.02,1e999"), json!(4), json!("force_n"), "1e999");
}

#[test]
fn empty_cell() {
    refused(with_row("0.02,"), json!(4), json!("force_n"), "empty");
    refused(
        "time_s,force_n,orientation_deg\n0,1,0\n1,2,\n",
        json!(3),
        json!("orientation_deg"),
        "empty",
    );
}

#[test]
fn text() {
    refused(with_row("0.02,heavy"), json!(4), json!("force_n"), "heavy");
    refused(
        with_row("0.02,9.8 kN"),
        json!(4),
        json!("force_n"),
        "9.8 kN",
    );
    refused(with_row("0x1,2"), json!(4), json!("time_s"), "0x1");
}

#[test]
fn time_backwards() {
    refused(
        with_row("0.005,2"),
        json!(4),
        json!("time_s"),
        "0.005 after 0.01",
    );
}

#[test]
fn time_standing_still() {
    refused(
        with_row("0.010,2"),
        json!(4),
        json!("time_s"),
        "0.01 after 0.01",
    );
}

#[test]
fn a_row_too_short_or_too_long() {
    refused(with_row("0.02"), json!(4), Value::Null, "1 cells");
    refused(with_row("0.02,9,8"), json!(4), Value::Null, "3 cells");
}

#[test]
fn decimal_comma_where_the_comma_separates() {
    refused(with_row("0.02,\"9,8\""), json!(4), json!("force_n"), "9,8");
}

#[test]
fn thousands_separators() {
    refused(
        with_row("0.02,\"1,234.5\""),
        json!(4),
        json!("force_n"),
        "thousands",
    );
    refused(
        "time_s;force_n\n0,01;9,5\n0,02;1.234\n",
        json!(3),
        json!("force_n"),
        "decimal mark",
    );
}

#[test]
fn no_clamp() {
    let bench = bench!();
    let rows: String = (0..400)
        .map(|i| format!("{:.3},{}\n", f64::from(i) * 0.01, i % 3))
        .collect();
    bench.file("still.csv", format!("time_s,force_n\n{rows}"));
    let run = bench.line("grip --from still.csv --json").exits(4);
    assert_eq!(run.json()["error"]["file"], "still.csv", "{run}");
    run.tells("no clamp");
}

#[test]
fn no_such_file() {
    let bench = bench!();
    let run = bench.line("grip --from gone.csv --json").exits(4);
    assert_eq!(run.json()["error"]["file"], "gone.csv");
    bench.line("grip --from .").exits(4);
}

#[test]
fn the_line_named_is_the_physical_one() {
    // Comments, blank lines and line breaks inside quotes stand above the bad row; each counts as a line.
    for end in ["\n", "\r\n"] {
        let lines = [
            "\u{feff}# logger 7",
            "",
            "Note ; TIME_S;\"Force_kN\"",
            "start;0,00;0,1",
            "   ",
            "# half-time",
            "\"two",
            "lines\";0,01;0,1",
            "",
            "\"again",
            "two\";0,02;oil",
        ];
        refused(lines.join(end), json!(11), json!("force_kn"), "oil");
    }
}
