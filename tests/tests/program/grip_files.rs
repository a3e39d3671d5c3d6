//! `grip` on records and readings: right clamps, right forces, right verdict, whoever wrote the file.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;
use serde_json::Value;

/// Settled forces of the made records, N.
const FORCES_N: [f64; 5] = [9_800.0, 9_900.0, 9_750.0, 9_850.0, 9_820.0];

fn five() -> Vec<MadeClamp> {
    FORCES_N.iter().map(|&force| MadeClamp::of(force)).collect()
}

#[track_caller]
fn measured(bench: &Bench, line: &str, code: i32) -> (Run, Value) {
    let run = bench.line(line).exits(code);
    let document = run.json();
    (run, document)
}

/// Holds the settled forces to the truth within a share of it.
#[track_caller]
fn settled(document: &Value, truth_n: &[f64], share: f64) {
    let clamps = document["clamps"].as_array().expect("clamps");
    assert_eq!(clamps.len(), truth_n.len(), "{document:#}");
    for (clamp, truth) in clamps.iter().zip(truth_n) {
        let found = clamp["settled_n"].as_f64().expect("a settled force");
        assert!(
            (found - truth).abs() <= share * truth,
            "{found} N for {truth} N in {clamp:#}"
        );
    }
}

#[test]
fn every_way_of_writing_it_down_gives_the_same_forces() {
    let ways = [
        Made::default(),
        Made {
            unit: "force_kn",
            newton_per_unit: 1000.0,
            separator: ';',
            comma: true,
            ..Made::default()
        },
        // 0.45359237 kg × 9.80665 m/s², exact by definition.
        Made {
            unit: "force_lbf",
            newton_per_unit: 4.448_221_615_260_5,
            separator: '\t',
            line_end: "\r\n",
            ..Made::default()
        },
        Made {
            separator: '\t',
            comma: true,
            ..Made::default()
        },
        Made {
            unit: "FORCE_KN",
            newton_per_unit: 1000.0,
            separator: ';',
            ..Made::default()
        },
        Made {
            rate_hz: 80.0,
            zero_n: 700.0,
            ..Made::default()
        },
        Made {
            rate_hz: 1000.0,
            zero_n: -700.0,
            drift_n_per_s: 2.0,
            ..Made::default()
        },
    ];
    for made in ways {
        let bench = bench!();
        bench.file("set.csv", made.csv(&five()));
        let (run, document) = measured(&bench, "grip --from set.csv --json", 0);
        settled(&document, &FORCES_N, 0.002);
        assert!(document["verdict"].is_null(), "no limit, no verdict\n{run}");
        assert_eq!(document["statistics"]["count"], 5, "{run}");
    }
}

#[test]
fn the_document_is_as_its_schema_says() {
    let bench = bench!();
    let schema = bench.line("schema grip").exits(0).json();
    bench.file("set.csv", Made::default().csv(&five()));
    for line in [
        "grip --from set.csv --json",
        "grip --from set.csv --json --limit-n 8000 --limit-lowest-n 7000 --limit-cv-percent 3 --limit-sag-n-per-s 5 --uncertainty-percent 1 --state as-found --interface 7/24-40 --discard 2=knocked",
        "grip --readings 9.8 --unit kN --json",
    ] {
        let document = bench.line(line).json();
        assert_eq!(
            differences(&schema, &document),
            Vec::<String>::new(),
            "{line}"
        );
    }
}

#[test]
fn a_short_clamp_is_listed_and_does_not_count() {
    let bench = bench!();
    let mut clamps = five();
    clamps[2].hold_s = 0.4;
    bench.file("set.csv", Made::default().csv(&clamps));
    let (run, document) = measured(&bench, "grip --from set.csv --json", 0);
    assert_eq!(document["clamps"].as_array().map(Vec::len), Some(5));
    assert_eq!(document["clamps"][2]["excluded"], "short", "{run}");
    assert_eq!(document["statistics"]["count"], 4, "{run}");
    bench
        .line("grip --from set.csv")
        .exits(0)
        .shows("not counted: unclamped too early");
}

#[test]
fn noise_and_overshoot_do_not_make_clamps() {
    let bench = bench!();
    let clamps: Vec<_> = FORCES_N
        .iter()
        .map(|&force_n| MadeClamp {
            overshoot: 0.5,
            ..MadeClamp::of(force_n)
        })
        .collect();
    bench.file(
        "set.csv",
        Made {
            noise_n: 100.0,
            ..Made::default()
        }
        .csv(&clamps),
    );
    let (_, document) = measured(&bench, "grip --from set.csv --json", 0);
    // Even noise of ± 100 N: 58 N over 400 samples of the window, and as much again over each zero.
    settled(&document, &FORCES_N, 0.002);
}

#[test]
fn the_same_clamps_are_accepted_or_not_by_what_the_gauge_is_worth() {
    let bench = bench!();
    bench.file("set.csv", Made::default().csv(&five()));
    // Mean 9824 N against 9600 N: 2.3 % of room.
    let limit = "grip --from set.csv --json --limit-n 9600 --uncertainty-percent";
    let (run, good) = measured(&bench, &format!("{limit} 0.5"), 0);
    assert_eq!(good["verdict"]["outcome"], "accept", "{run}");
    let (run, poor) = measured(&bench, &format!("{limit} 5"), 3);
    assert_eq!(poor["verdict"]["outcome"], "undecided", "{run}");
    assert!(poor["verdict"]["would_decide"]["text"].is_string(), "{run}");
    let (run, low) = measured(
        &bench,
        "grip --from set.csv --json --limit-n 12000 --uncertainty-percent 1",
        1,
    );
    assert_eq!(low["verdict"]["outcome"], "reject", "{run}");
    bench
        .line("grip --from set.csv --limit-n 12000 --uncertainty-percent 1")
        .exits(1)
        .shows("OUTSIDE LIMIT")
        .shows("mean grip force 9.82 kN, limit at least 12.00 kN (common practice, no source)")
        .shows("not an approval to run");
}

#[test]
fn a_limit_without_uncertainty_is_exit_2() {
    let bench = bench!();
    bench.file("set.csv", Made::default().csv(&five()));
    bench
        .line("grip --from set.csv --limit-n 9000")
        .exits(2)
        .tells("a verdict needs the gauge's uncertainty");
    bench
        .line("grip --readings 9.8 --unit kN --limit-lowest-n 9000")
        .exits(2);
    bench
        .line("grip --readings 9.8 --unit kN --nominal-n 9000")
        .exits(0);
    bench
        .line("grip --readings 9.8 --unit kN --limit-percent 70")
        .exits(2);
}

#[test]
fn readings_noted_by_hand() {
    let bench = bench!();
    let run = bench
        .run([
            "grip",
            "--readings",
            "9.8 9.9 9.7",
            "--unit",
            "kN",
            "--json",
        ])
        .exits(0);
    let document = run.json();
    let statistics = &document["statistics"];
    assert!(
        (statistics["mean_n"].as_f64().expect("a mean") - 9_800.0).abs() < 1e-9,
        "{run}"
    );
    // n − 1 standard deviation of 9.7, 9.8, 9.9 is 0.1 exactly.
    assert!(
        (statistics["stdev_n"].as_f64().expect("a deviation") - 100.0).abs() < 1e-9,
        "{run}"
    );
    for absent in [
        "clamped_s",
        "released_s",
        "window_s",
        "peak_n",
        "sag_n_per_s",
    ] {
        assert!(document["clamps"][0][absent].is_null(), "{absent}\n{run}");
    }
    bench
        .run(["grip", "--readings", "9.8 heavy", "--unit", "kN", "--json"])
        .exits(4)
        .tells("heavy");
    bench
        .run(["grip", "--readings", "", "--unit", "kN"])
        .exits(4);
    bench.run(["grip", "--readings", "9.8"]).exits(2);
}

#[test]
fn a_share_of_the_nominal_force_is_a_limit_on_the_mean() {
    let bench = bench!();
    let line = "grip --from set.csv --json --nominal-n 12000 --limit-percent 70 --uncertainty-percent 1 --provenance maker";
    bench.file("set.csv", Made::default().csv(&five()));
    let (run, document) = measured(&bench, line, 0);
    let limit = &document["verdict"]["limits"][0];
    assert_eq!(limit["figure"], "grip-mean", "{run}");
    assert!(
        (limit["limit"].as_f64().expect("a limit") - 8_400.0).abs() < 1e-9,
        "{run}"
    );
    assert_eq!(limit["provenance"], "maker", "{run}");
}

#[test]
fn limits_come_from_a_file_too() {
    let bench = bench!();
    bench.file("set.csv", Made::default().csv(&five()));
    bench.file(
        "centre-1.toml",
        "schema = 1\ntitle = \"Centre 1\"\n[[limit]]\nfigure = \"grip-mean\"\nlimit = 12\nunit = \"kN\"\nprovenance = \"maker\"\nsource = \"sheet\"\n",
    );
    let (_, document) = measured(
        &bench,
        "grip --from set.csv --json --limits centre-1.toml --uncertainty-percent 1",
        1,
    );
    assert_eq!(document["verdict"]["limits"][0]["limit"], 12_000.0);
    bench
        .line("grip --from set.csv --limits centre-1.toml")
        .exits(2);
    bench
        .line("grip --from set.csv --limits gone.toml --uncertainty-percent 1")
        .exits(4)
        .tells("gone.toml");
}

#[test]
fn a_usual_range_never_accepts() {
    let bench = bench!();
    // 11.8 kN lies well inside the usual range of a standard no. 40 spindle, 8 to 12 kN; 2 kN is far below it.
    let class = "--unit kN --uncertainty-percent 0.5 --interface 7/24-40 --class standard --json";
    let (run, document) = measured(
        &bench,
        &format!("grip --readings 11.8;11.8;11.8;11.8;11.8 {class}"),
        3,
    );
    assert_eq!(document["verdict"]["outcome"], "undecided", "{run}");
    let (run, document) = measured(
        &bench,
        &format!("grip --readings 2.0;2.0;2.0;2.0;2.1 {class}"),
        1,
    );
    assert_eq!(document["verdict"]["outcome"], "reject", "{run}");
}

#[test]
fn far_above_the_nominal_force_nothing_is_within_limit() {
    let bench = bench!();
    bench.file(
        "centre-1.toml",
        "schema = 1\ntitle = \"Centre 1 (invented)\"\n[nominal]\nforce = 10\nunit = \"kN\"\nprovenance = \"maker\"\nsource = \"sheet\"\n",
    );
    for limits in ["--nominal-n 10000 --limit-n 7000", "--limits centre-1.toml"] {
        let line = format!(
            "grip --readings 13;13.1;12.9;13;13.05 --unit kN {limits} --uncertainty-percent 1 --json"
        );
        let (run, document) = measured(&bench, &line, 3);
        let verdict = &document["verdict"];
        assert_eq!(verdict["outcome"], "undecided", "{run}");
        let first = verdict["reasons"][0].as_str().expect("a reason");
        assert!(
            first.starts_with("stop: 130 % of the nominal force"),
            "{run}"
        );
    }
}

/// The gauge asked for, in the words of the verdict.
fn gauge_asked_for(document: &Value) -> Option<f64> {
    let text = document["verdict"]["would_decide"]["text"].as_str()?;
    let rest = text.split("a gauge good to ± ").nth(1)?;
    rest.split(' ').next()?.parse().ok()
}

#[test]
fn the_gauge_asked_for_decides_with_the_same_clamps() {
    let bench = bench!();
    for (readings, limit, gauge) in [
        // One on either side of the limit.
        ("10.15;10.16;10.14;10.17;10.15", "--limit-n 10000", 5.0),
        ("9.85;9.86;9.84;9.87;9.85", "--limit-n 10000", 5.0),
        ("10.15;10.5;10.3", "--limit-lowest-n 10000", 4.0),
    ] {
        let line = |percent: f64| {
            format!(
                "grip --readings {readings} --unit kN {limit} --interface 7/24-40 --uncertainty-percent {percent} --json"
            )
        };
        let (run, document) = measured(&bench, &line(gauge), 3);
        let asked = gauge_asked_for(&document).unwrap_or_else(|| panic!("no gauge\n{run}"));
        assert!(asked < gauge, "{run}");
        let again = bench.line(&line(asked));
        assert_ne!(again.json()["verdict"]["outcome"], "undecided", "{again}");
    }
}

/// Sources and standard uncertainties of the mean, N.
fn sources(document: &Value) -> Vec<(String, f64)> {
    let lines = document["uncertainty"]["budget"].as_array();
    let line = |line: &Value| {
        let source = line["source"].as_str().expect("a source").to_owned();
        (source, line["standard_n"].as_f64().expect("a number"))
    };
    lines.expect("a budget").iter().map(line).collect()
}

#[test]
fn the_interface_brings_its_allowances_and_without_it_the_widest_of_them_stand() {
    let bench = bench!();
    let readings = "grip --readings 10.05;10.1;10.0;10.08;10.02 --unit kN --limit-n 9900 --uncertainty-percent 0.5 --json";
    let (run, bare) = measured(&bench, readings, 3);
    assert!(bare["notes"].to_string().contains("--interface"), "{run}");
    let widest = sources(&bare);
    for (interface, stiffness_percent) in [("7/24-40", 0.35), ("HSK-A63", 0.7)] {
        let run = bench.line(&format!("{readings} --interface {interface}"));
        let known = run.json();
        let found = sources(&known);
        assert_eq!(found.len(), widest.len(), "{run}");
        for (with, without) in found.iter().zip(&widest) {
            assert_eq!(with.0, without.0, "{run}");
            assert!(without.1 >= with.1, "{with:?} {without:?}\n{run}");
        }
        // Bounds in % of 10.05 kN, equally likely between them: standard uncertainty half width / √3.
        for (words, percent) in [
            ("gives more than a solid tool", stiffness_percent),
            ("temperature", 0.1),
        ] {
            let line = found.iter().find(|line| line.0.contains(words));
            let (_, standard_n) = line.unwrap_or_else(|| panic!("no {words}\n{run}"));
            let expected_n = percent / 100.0 * 10_050.0 / 3.0_f64.sqrt();
            assert!((standard_n - expected_n).abs() < 1e-6, "{run}");
        }
        assert!(!known["notes"].to_string().contains("--interface"), "{run}");
    }
}

#[test]
fn readings_alike_to_their_last_digit_are_no_surer_than_that_digit() {
    let bench = bench!();
    let line = |readings: &str| {
        format!(
            "grip --readings {readings} --unit kN --limit-n 9683 --interface 7/24-40 --uncertainty-percent 0.5 --json"
        )
    };
    // 100 N / √12 = 28.9 N beside 24.5 N of the gauge and 63.6 N of what is usually allowed: 1.645 × 74.1 N = 122 N of
    // guard, and only 117 N to the limit.
    let (run, document) = measured(&bench, &line("9.8;9.8;9.8"), 3);
    let rounding = sources(&document)
        .into_iter()
        .find(|line| line.0.contains("rounding"));
    assert!(
        rounding.is_some_and(|(_, n)| (n - 28.867_513).abs() < 1e-6),
        "{run}"
    );
    // The same read to 10 N: 112 N.
    measured(&bench, &line("9.80;9.80;9.80"), 0);
    // Where they scatter by more, repeatability has it in it.
    let (run, document) = measured(&bench, &line("9.8;9.9;9.8"), 0);
    assert!(
        !sources(&document)
            .iter()
            .any(|line| line.0.contains("rounding")),
        "{run}"
    );
}

#[test]
fn every_figure_judged_by_a_budget_shows_it() {
    let bench = bench!();
    let (run, document) = measured(
        &bench,
        "grip --readings 10;10.1;9.9;10.05;9.95 --unit kN --limit-n 9000 --limit-lowest-n 8000 --limit-cv-percent 5 --uncertainty-percent 1 --json",
        0,
    );
    let schema = bench.line("schema grip").json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    let limits = document["verdict"]["limits"].as_array().expect("limits");
    let lines = |limit: usize| limits[limit]["budget"].as_array().expect("a budget").len();
    // Six usual allowances in each; one clamp has no repeatability. Its first is the gauge: half of 1 % of 9.9 kN.
    assert_eq!([lines(0), lines(1), lines(2)], [8, 7, 0], "{run}");
    let lowest = &limits[1]["budget"][0];
    assert!(
        (lowest["standard"].as_f64().expect("a number") - 49.5).abs() < 1e-9,
        "{run}"
    );
    assert_eq!(lowest["distribution"], "normal");
    assert_eq!(lowest["provenance"], "published");
}

#[test]
fn no_counted_clamp_and_a_limit_is_undecided() {
    let bench = bench!();
    let short: Vec<_> = five()
        .into_iter()
        .map(|clamp| MadeClamp {
            hold_s: 0.5,
            ..clamp
        })
        .collect();
    bench.file("set.csv", Made::default().csv(&short));
    let (run, document) = measured(
        &bench,
        "grip --from set.csv --json --limit-n 9000 --uncertainty-percent 1",
        3,
    );
    assert!(document["statistics"].is_null(), "{run}");
    bench
        .line("grip --from set.csv")
        .exits(0)
        .shows("No clamp counts");
}

#[test]
fn a_discarded_clamp_stays_in_the_table_with_its_reason() {
    let bench = bench!();
    bench.file("set.csv", Made::default().csv(&five()));
    let run = bench
        .run([
            "grip",
            "--from",
            "set.csv",
            "--json",
            "--discard",
            "2=gauge knocked",
        ])
        .exits(0);
    let document = run.json();
    assert_eq!(document["clamps"][1]["excluded"], "discarded", "{run}");
    assert!(
        document["clamps"][1]["notes"][0]
            .as_str()
            .is_some_and(|note| note.contains("gauge knocked")),
        "{run}"
    );
    assert_eq!(document["statistics"]["count"], 4);
    bench
        .line("grip --from set.csv --discard 9=knocked")
        .exits(2)
        .tells("clamp 9");
    bench.line("grip --from set.csv --discard 2=").exits(2);
}

#[test]
fn an_unknown_column_is_ignored_with_a_message() {
    let bench = bench!();
    let text = Made::default()
        .csv(&five())
        .replace('\n', ",oil\n")
        .replacen("oil", "remark", 1);
    bench.file("set.csv", text);
    let run = bench
        .line("grip --from set.csv --json")
        .exits(0)
        .tells("remark");
    assert_eq!(run.json()["statistics"]["count"], 5);
}

#[test]
fn the_first_line_printed_is_the_first_caution() {
    let bench = bench!();
    let run = bench.line("grip --readings 9.8 --unit kN").exits(0);
    assert!(run.out.starts_with("Local codes and site rules"), "{run}");
    let run = bench.line("grip --readings 9.8 --unit kN --json").exits(0);
    assert!(
        run.messages.starts_with("Local codes and site rules"),
        "{run}"
    );
}

#[test]
fn figures_are_shown_in_the_unit_of_the_person() {
    let bench = bench!();
    bench.line("settings --force lbf").exits(0);
    // 9.8 kN is 2203 lbf.
    bench
        .line("grip --readings 9.8 --unit kN")
        .shows("2203 lbf");
}

#[test]
fn a_record_comes_through_standard_input_too() {
    let bench = bench!();
    bench.file("set.csv", Made::default().csv(&five()));
    let file = std::fs::File::open(bench.path("set.csv")).expect("the record");
    let mut command = bench.command(["grip", "--from", "-", "--json"]);
    let piped = bench.finish(command.stdin(file)).exits(0).json();
    assert_eq!(piped, bench.line("grip --from set.csv --json").json());
}

#[test]
fn a_hold_of_two_minutes_is_one_clamp_with_the_same_force() {
    let bench = bench!();
    let mut clamps = five();
    clamps[1].hold_s = 120.0;
    bench.file(
        "set.csv",
        Made {
            rate_hz: 100.0,
            ..Made::default()
        }
        .csv(&clamps),
    );
    let (_, document) = measured(&bench, "grip --from set.csv --json", 0);
    settled(&document, &FORCES_N, 0.002);
}

#[test]
fn a_knock_is_cut_out_and_a_long_one_takes_the_clamp_out() {
    let bench = bench!();
    let mut clamps = five();
    clamps[1].knock_s = 0.2;
    clamps[3].knock_s = 1.2;
    bench.file("set.csv", Made::default().csv(&clamps));
    let (run, document) = measured(&bench, "grip --from set.csv --json", 0);
    assert_eq!(
        document["clamps"].as_array().map(Vec::len),
        Some(5),
        "{run}"
    );
    let second = &document["clamps"][1];
    let force_n = second["settled_n"].as_f64().expect("a settled force");
    assert!((force_n - FORCES_N[1]).abs() < 0.002 * FORCES_N[1], "{run}");
    assert_eq!(second["counted"], true, "{run}");
    assert_ne!(
        second["notes"],
        serde_json::json!([]),
        "the knock is noted\n{run}"
    );
    assert_eq!(document["clamps"][3]["excluded"], "disturbed", "{run}");
}

#[test]
fn the_record_ends_after_the_clamps_asked_for() {
    let bench = bench!();
    let mut clamps = five();
    clamps[1].hold_s = 0.4;
    bench.file("set.csv", Made::default().csv(&clamps));
    // The second clamp is too short to count, so the third counted one is the fourth.
    let (run, document) = measured(&bench, "grip --from set.csv --clamps 3 --json", 0);
    assert_eq!(
        document["clamps"].as_array().map(Vec::len),
        Some(4),
        "{run}"
    );
    assert_eq!(document["statistics"]["count"], 3, "{run}");
    let (run, all) = measured(&bench, "grip --from set.csv --clamps 9 --json", 0);
    assert_eq!(
        all["statistics"]["count"], 4,
        "what there is, where fewer count\n{run}"
    );
    bench.line("grip --from set.csv --clamps 0").exits(2);
}

#[test]
fn the_lowest_of_a_single_clamp_is_accepted_with_a_word() {
    let bench = bench!();
    let word = "lowest of a single clamp";
    let line = "--unit kN --limit-lowest-n 7000 --uncertainty-percent 0.5";
    let one = format!("grip --readings 9.8 {line}");
    bench.line(&one).exits(0).shows(word);
    let run = bench
        .line(&format!("grip --readings 9.8;9.9 {line}"))
        .exits(0);
    assert!(!run.out.contains(word), "{run}");
}

#[test]
fn a_schema_tells_of_the_document_without_a_result() {
    let bench = bench!();
    let schema = bench.line("schema grip").exits(0).json();
    let told = schema["description"]
        .as_str()
        .is_some_and(|text| text.contains("schema error"));
    assert!(told, "{schema:#}");
    let run = bench.line("grip --from nowhere.csv --json");
    let error = bench.line("schema error").exits(0).json();
    assert_eq!(differences(&error, &run.json()), Vec::<String>::new());
}

#[test]
fn the_time_a_clamping_takes_is_told_where_the_record_is_fine_enough() {
    for (rate_hz, expected_s) in [(1_000.0, Some(0.08)), (100.0, Some(0.08)), (20.0, None)] {
        let bench = bench!();
        let made = Made {
            rate_hz,
            zero_n: -300.0,
            noise_n: 3.0,
            ..Made::default()
        };
        bench.file("made.csv", made.csv(&five()));
        let (run, document) = measured(&bench, "grip --from made.csv --json", 0);
        for clamp in document["clamps"].as_array().expect("clamps") {
            // The made rise is a straight line of 0.1 s.
            let found_s = clamp["clamping_s"].as_f64();
            let agrees = match (found_s, expected_s) {
                (Some(found), Some(expected)) => (found - expected).abs() < 0.002,
                (found, expected) => found == expected,
            };
            assert!(agrees, "{rate_hz} Hz: {found_s:?}\n{run}");
            assert!(clamp["push_out_mm"].is_null() && clamp["draw_in_mm"].is_null());
        }
    }
}

/// Readings that are not filed need no book, and a spoilt one does not stop them.
#[test]
fn what_is_not_filed_is_judged_whatever_the_book_is() {
    let bench = bench!();
    bench.file("spoilt.holdtrue", "no book");
    let line = "grip --readings 9.8;9.9;9.7 --unit kN --book spoilt.holdtrue";
    bench.line(line).exits(0);
    bench
        .line(&format!(
            "{line} --store --read-on TP-0900 --state as-found"
        ))
        .exits(6);
}
