//! Figures that cannot be: asked about by what they likely mean, and never taken with `--yes`.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::force::{Made, MadeClamp};

const GAUGE: &str = "--uncertainty-percent 0.5";

/// Typed forces, with and without `--yes`: exit 2, saying each of these.
#[track_caller]
fn asks(bench: &Bench, readings: &str, options: &str, says: &[&str]) {
    for yes in [&[][..], &["--yes"]] {
        let words = ["grip", "--readings", readings];
        let run = bench
            .run(
                words
                    .into_iter()
                    .chain(options.split_whitespace())
                    .chain(yes.iter().copied()),
            )
            .exits(2);
        says.iter().fold(run, |run, text| run.tells(text));
    }
}

fn typed(bench: &Bench, readings: &str, options: &str) -> Run {
    let words = ["grip", "--json", "--readings", readings];
    bench.run(words.into_iter().chain(options.split_whitespace()))
}

#[test]
fn a_force_no_drawbar_pulls_is_asked_about_with_the_units_that_fit() {
    let bench = bench!();
    asks(
        &bench,
        "2200 2210 2190",
        "--unit kN --limit-n 7000 --uncertainty-percent 0.5",
        &[
            "2200 kN? 2200 N is 2.2 kN, 2200 lbf is 9.79 kN",
            "which unit?",
            "column 1",
        ],
    );
    asks(
        &bench,
        "9.8 9.9 9.7",
        "--unit N",
        &["9.8 N? 9.8 kN is 9800 N"],
    );
    for (readings, unit, limit_n) in [
        ("9800 9900 9700", "lbf", 7_000),
        ("9800 9900 9700", "kgf", 7_000),
        ("9800 9900 9700", "daN", 7_000),
        ("2249 2260 2240", "kgf", 5_000),
    ] {
        let options = format!("--unit {unit} --limit-n {limit_n} --uncertainty-percent 0.5");
        asks(&bench, readings, &options, &["which unit?"]);
    }
    let lowest = bench.line("grip --lowest 9.8N").exits(2);
    lowest.tells("9.8 kN is 9800 N; which unit?");
    asks(
        &bench,
        "2249 2260 2240",
        "--unit N --limit-n 9800",
        &["a mean near 9.8 kN", "2249 lbf is 10", "which unit?"],
    );
    asks(
        &bench,
        "46 46 46",
        "--unit kN --interface BT40",
        &["45 kN at most", "7/24-40 BT"],
    );
    asks(
        &bench,
        "9800",
        "--unit lbf --nominal-n 9800",
        &["3 times the nominal", "9800 N is 9.8 kN"],
    );
    asks(
        &bench,
        "110 110",
        "--unit kN --interface 7/24-50",
        &["100 kN at most"],
    );
    asks(
        &bench,
        "-9.8 -9.9",
        "--unit kN",
        &["is a push: is 9.8 kN meant?"],
    );
    asks(&bench, "0 0 0", "--unit kN", &["0 kN?"]);
    for line in [
        "--unit kN --interface BT40",
        "--unit kN --interface HSK-A63 --nominal-n 18000",
        "--unit kN",
    ] {
        typed(&bench, "12 12.1 11.9", line).exits(0);
    }
    typed(&bench, "2200 2210 2190", "--unit lbf --interface 7/24-40").exits(0);
}

#[test]
fn a_typed_reading_unlike_the_others_is_asked_about_or_kept_as_read() {
    let bench = bench!();
    let held = format!("--unit kN --limit-n 7000 {GAUGE}");
    for (readings, question, column) in [
        ("9.8 97 9.8 9.9", "97 kN: is 9.7 kN meant?", "column 2"),
        ("9.8 9.9 0.98 9.9", "0.98 kN: is 9.8 kN meant?", "column 3"),
        ("9.8 98", "98 kN: is 9.8 kN meant?", "column 2"),
        ("9.8 97 9.9", "97 kN: is 9.7 kN meant?", "column 2"),
        ("9.8 9.9 9.8 2.1", "2.1 kN: was it read so?", "column 4"),
        ("9.8 0 9.9", "0 kN: was it read so?", "column 2"),
    ] {
        asks(&bench, readings, &held, &[question, column, "--as-read"]);
    }
    let kept = typed(&bench, "9.8 9.9 9.8 2.1", &format!("{held} --as-read"));
    let document = kept.json();
    assert!(
        document["notes"]
            .to_string()
            .contains("clamp 4 is kept as read"),
        "{kept}"
    );
    assert_eq!(document["statistics"]["lowest_n"], 2_100.0, "{kept}");
    // A weak clamp is a reading as any other.
    typed(&bench, "9.8 9.9 9.8 4", &held);
    let plain = typed(&bench, "9.8 9.9 9.8 4", &format!("{held} --as-read"));
    assert!(
        !plain.json()["notes"].to_string().contains("kept as read"),
        "{plain}"
    );
}

#[test]
fn a_comma_that_may_part_thousands_is_asked_about() {
    let bench = bench!();
    asks(
        &bench,
        "1,250 1,260",
        "--unit lbf",
        &["Type 1250 or 1.250 or 1 250", "column 1"],
    );
    asks(
        &bench,
        "9800,9900 9810",
        &format!("--unit kN --limit-n 7000 {GAUGE}"),
        &["thousands, decimals or two readings?", "9800 9900"],
    );
    asks(&bench, "9800,9900 9810", "--unit N", &["9800 9900"]);
    typed(&bench, "9,8 9,85 9,9", "--unit kN").exits(0);
    typed(&bench, "9.812 9.822", "--unit kN").exits(0);
    for option in ["--limit-n 7,000", "--nominal-n 9,800"] {
        typed(&bench, "9.8", &format!("--unit kN {option} {GAUGE}"))
            .exits(2)
            .tells("thousands or decimals?");
    }
}

#[test]
fn what_a_spindle_is_held_to_is_asked_about_when_it_cannot_be() {
    let bench = bench!();
    for (options, says) in [
        ("--limit-n 7", "7 N? 7 kN is 7000 N; which unit?"),
        ("--limit-lowest-n 7", "7 N?"),
        ("--nominal-n 10", "10 N? 10 kN is 10000 N; which unit?"),
        ("--limit-n 12000 --nominal-n 9800", "are the two exchanged?"),
        ("--nominal-n 9800 --limit-percent 0.7", "is 70 % meant?"),
        (
            "--nominal-n 9800 --limit-percent 140",
            "are the two exchanged?",
        ),
        (
            "--limit-n 7000 --limit-lowest-n 8000",
            "are the two exchanged?",
        ),
        ("--limit-n 700000", "700000 N?"),
        ("--nominal-n 50000 --interface BT40", "45 kN at most"),
    ] {
        asks(
            &bench,
            "9.8 9.9",
            &format!("--unit kN {GAUGE} {options}"),
            &[says],
        );
    }
    let run = typed(
        &bench,
        "9.8 9.9 9.85",
        &format!("--unit kN {GAUGE} --limit-percent 70 --nominal-n 9800"),
    );
    assert_eq!(
        run.json()["verdict"]["limits"][0]["limit"],
        6_860.0,
        "{run}"
    );
    let run = typed(
        &bench,
        "9.8 9.9 9.85",
        &format!("--unit kN {GAUGE} --nominal-n 9800"),
    );
    assert!(run.json()["verdict"].is_null(), "{run}");
    for (options, says) in [
        ("--nominal-n 10", "10 N?"),
        (
            "--nominal-n 9800 --minimum-n 12000",
            "are the two exchanged?",
        ),
        ("--nominal-n 9800 --minimum-n 9.8", "9.8 N?"),
        ("--interface BT40 --nominal-n 98000", "45 kN at most"),
    ] {
        bench
            .line(&format!(
                "spindle add Centre-9 --book yard.holdtrue --yes {options}"
            ))
            .exits(2)
            .tells(says);
    }
    bench
        .line("spindle add Centre-1 --book yard.holdtrue --nominal-n 9800")
        .exits(0);
    bench
        .line("spindle edit Centre-1 --book yard.holdtrue --minimum-n 12000")
        .exits(2)
        .tells("are the two exchanged?");
    bench
        .line("spindle edit Centre-1 --book yard.holdtrue --interface HSK-A100")
        .exits(2);
    bench
        .line("spindle add Centre-2 --book yard.holdtrue --nominal-n 110000 --as-read")
        .exits(0)
        .tells("Taken as read (--as-read): --nominal-n: found 110000 N, where 100 kN at most is expected");
}

const LIMITS: &str = r#"schema = 1
title = "Tern Point, Centre 1 (invented)"

[[limit]]
figure = "grip-mean"
limit = 7000
unit = "N"
provenance = "common-practice"

[[limit]]
figure = "tir"
limit = 10
unit = "um"
provenance = "common-practice"
"#;

#[test]
fn a_limits_file_is_held_to_the_same_with_line_and_column() {
    let bench = bench!();
    for (from, to, line, says) in [
        (
            "7000\nunit = \"N\"",
            "7000\nunit = \"kN\"",
            6,
            "7000 kN? 7000 N is 7 kN",
        ),
        ("7000", "7", 6, "7 N? 7 kN is 7000 N"),
        ("= 10\n", "= 0.010\n", 12, "0.01 um? 0.01 mm is 10 um"),
        ("= 10\n", "= 10000\n", 12, "10000 um?"),
    ] {
        bench.file("limits.toml", LIMITS.replace(from, to));
        bench
            .line("limits check limits.toml --yes")
            .exits(4)
            .tells(&format!("limits.toml, line {line}, column 9"))
            .tells(says);
    }
    bench.line("limits check limits.toml").exits(4);
    bench.file("limits.toml", LIMITS);
    bench.line("limits check limits.toml").exits(0);
}

fn record(unit: &'static str, newton_per_unit: f64, forces_n: &[f64]) -> String {
    let clamps: Vec<_> = forces_n.iter().map(|force| MadeClamp::of(*force)).collect();
    Made {
        unit,
        newton_per_unit,
        ..Made::default()
    }
    .csv(&clamps)
}

#[test]
fn a_record_in_another_unit_than_its_header_says_is_asked_about() {
    let bench = bench!();
    // Newtons in a column of kilonewtons: 9.8 MN.
    bench.file(
        "set.csv",
        record("force_kn", 1.0, &[9_800.0, 9_900.0, 9_750.0]),
    );
    let refused = |line: &str, says: &[&str]| {
        for yes in ["", "--yes"] {
            let run = bench.line(&format!("{line} {yes}")).exits(4);
            says.iter().fold(run, |run, text| run.tells(text));
        }
    };
    refused(
        "grip --from set.csv",
        &[
            "set.csv, line ",
            "column force_kn",
            "100 kN at most",
            " N is 9.8 kN",
        ],
    );
    // Newtons in a column of pounds-force: 43.6 kN, which only the taper or the nominal tells.
    bench.file(
        "set.csv",
        record("force_lbf", 1.0, &[9_800.0, 9_900.0, 9_750.0]),
    );
    refused(
        "grip --from set.csv --interface 7/24-30",
        &["18 kN at most", "which unit?"],
    );
    refused(
        "grip --from set.csv --nominal-n 9800",
        &["3 times the nominal"],
    );
    // A limit tells it as well: many times of it, and near it in newtons. Of a limit that is only lax, nothing is asked.
    let kept = format!("grip --from set.csv --limit-n 7000 {GAUGE}");
    refused(&kept, &["a mean near 7 kN", " N is 9.8", "which unit?"]);
    bench.line(&format!("{kept} --as-read")).exits(0);
    bench.line(&kept.replace("7000", "1000")).exits(0);
    // Kilonewtons in columns of newtons and of pounds-force: no clamp at all.
    for unit in ["force_n", "force_lbf"] {
        bench.file(
            "set.csv",
            record(unit, 1_000.0, &[9_800.0, 9_900.0, 9_750.0]),
        );
        refused(
            "grip --from set.csv",
            &[&format!("column {unit}"), "kN is 9", "which unit?"],
        );
    }
    // Meant as it reads: kept, and marked.
    bench.file(
        "set.csv",
        record("force_kn", 1_000.0, &[46_000.0, 46_100.0]),
    );
    refused("grip --from set.csv --interface BT40", &["46"]);
    let kept = bench
        .line("grip --from set.csv --interface BT40 --as-read --json")
        .exits(0);
    assert!(
        kept.json()["notes"]
            .to_string()
            .contains("clamp 1 is kept as read"),
        "{kept}"
    );
}

#[test]
fn a_spike_is_no_force_that_cannot_be() {
    let bench = bench!();
    let made = record("force_n", 1.0, &[9_800.0, 9_900.0]);
    let mut lines: Vec<String> = made.lines().map(str::to_owned).collect();
    let middle = lines.len() / 3;
    let time = lines[middle].split(',').next().expect("a time").to_owned();
    lines[middle] = format!("{time},160000");
    bench.file("set.csv", lines.join("\n"));
    bench.line("grip --from set.csv --interface BT40").exits(0);
}

#[track_caller]
fn dial(bench: &Bench, readings: &str, options: &str) -> Run {
    let words = ["runout", "--json", "--readings", readings];
    bench.run(words.into_iter().chain(options.split_whitespace()))
}

const EIGHT: &str = "0 3 5 3 0 -3 -5 -3";

#[test]
fn nine_readings_where_eight_and_a_return_are_meant_are_asked_about() {
    let bench = bench!();
    let nine = format!("{EIGHT} 0");
    for (readings, says) in [
        (
            nine.as_str(),
            "8 positions and the reading back at the first, or 9 positions",
        ),
        ("0 3 5 3 0 -3 -5", "is one missing?"),
        ("0 3 0 -3 0", "--positions 4 or --positions 5"),
    ] {
        dial(&bench, readings, "--unit um --yes")
            .exits(2)
            .tells(says);
    }
    for (positions, stops) in [(8, 8), (9, 9)] {
        let run = dial(&bench, &nine, &format!("--unit um --positions {positions}")).exits(0);
        assert_eq!(run.json()["planes"][0]["stops"], stops, "{run}");
    }
    dial(&bench, EIGHT, "--unit um").exits(0);
    dial(&bench, "0 3 0 -3", "--unit um").exits(0);
}

#[test]
fn a_dial_and_its_limit_in_the_wrong_unit_are_asked_about() {
    let bench = bench!();
    for (readings, options, says) in [
        (
            "0 .003 .005 .003 0 -.003 -.005 -.003",
            "--unit um",
            "0.01 um? 0.01 mm is 10 um",
        ),
        (
            "0 .0002 .0004 .0002 0 -.0002 -.0004 -.0002",
            "--unit um",
            "0.0008 in is 20.3 um",
        ),
        (EIGHT, "--unit mm", "10 mm? 10 um is 10 um"),
        (EIGHT, "--unit in", "10 tenths (0.0001 in) is 25.4 um"),
        ("0 3 50 3 0 -3 -5 -3", "--unit um", "50 um: was it read so?"),
        (
            EIGHT,
            "--unit um --limit-um 0.010 --uncertainty-um 1",
            "0.01 um? 0.01 mm is 10 um",
        ),
        (
            EIGHT,
            "--unit um --limit-um 300=15 --limit-um 15000 --uncertainty-um 1",
            "15000 um?",
        ),
        (
            EIGHT,
            "--unit um --at wall --height-mm 8",
            "is -8 mm meant, 8 mm inside the mouth?",
        ),
        (EIGHT, "--unit um --at wall --height-mm -0.3", "0.3 in is"),
        (
            EIGHT,
            "--unit um --at bar --height-mm -300",
            "or 300 mm in front of the face?",
        ),
    ] {
        dial(&bench, readings, &format!("{options} --yes"))
            .exits(2)
            .tells(says);
    }
    let kept = dial(&bench, "0 3 50 3 0 -3 -5 -3", "--unit um --as-read").exits(0);
    assert!(
        kept.json()["notes"].to_string().contains("kept as read"),
        "{kept}"
    );
    dial(
        &bench,
        "0 3 5 3 0 -3 -5 -3",
        "--unit um --limit-um 15 --uncertainty-um 1",
    )
    .exits(0);
}

#[test]
fn a_runout_file_is_held_to_the_same_with_line_and_column() {
    let bench = bench!();
    let rows = |at: &str, height: f64, factor: f64| {
        let mut csv = "at,height_mm,angle_deg,reading_um\n".to_owned();
        for (angle, reading) in [0.0, 3.0, 5.0, 3.0, 0.0, -3.0, -5.0, -3.0]
            .iter()
            .enumerate()
        {
            csv += &format!("{at},{height},{},{}\n", 45 * angle, factor * reading);
        }
        csv
    };
    for (csv, column, says) in [
        (
            rows("wall", 8.0, 1.0),
            "height_mm",
            "is -8 mm meant, 8 mm inside the mouth?",
        ),
        (
            rows("bar", 300.0, 0.001),
            "reading_um",
            "0.01 um? 0.01 mm is 10 um",
        ),
        (rows("bar", 300.0, 1_000.0), "reading_um", "10000 um?"),
    ] {
        bench.file("set.csv", csv);
        for yes in ["", "--yes"] {
            bench
                .line(&format!("runout --from set.csv {yes}"))
                .exits(4)
                .tells(&format!("set.csv, line 2, column {column}"))
                .tells(says);
        }
        let kept = bench
            .line("runout --from set.csv --as-read --json")
            .exits(0);
        assert!(
            kept.json()["notes"].to_string().contains("kept as read"),
            "{kept}"
        );
    }
    bench.file("set.csv", rows("wall", -8.0, 1.0));
    bench.line("runout --from set.csv").exits(0);
}
