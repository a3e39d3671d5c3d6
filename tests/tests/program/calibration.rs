//! Certificates and calibrations: from paper or table into gauge and book.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::reference::Reference;
use holdtrue_tests::schema::differences;
use serde_json::Value;

const CERTIFICATE: &str = "\
schema = 1
certificate = \"TP-F-0118\"
laboratory = \"Tern Point force bench\"
date = 2024-03-02
due = 2029-03-02
rated_n = 25000
span_n = [500, 20000]
temperature_c = 21
expanded_percent = 0.4
expanded_n = 8
coefficients = [0, 0.0116]
";

fn number(document: &Value, pointer: &str) -> f64 {
    document
        .pointer(pointer)
        .and_then(Value::as_f64)
        .unwrap_or_else(|| panic!("no number at {pointer} of {document:#}"))
}

#[track_caller]
fn is_as_its_schema_says(bench: &Bench, name: &str, document: &Value) {
    let schema = bench.run(["schema", name]).exits(0).json();
    assert_eq!(differences(&schema, document), Vec::<String>::new());
}

/// NIST's load-cell data as a table: three runs of rising loads, no zero.
fn load_cell(file: &Reference) -> String {
    let loads = file.numbers("/input/load");
    let readings = file.numbers("/input/response");
    let mut rows = String::from("run,direction,load_n,reading_counts\n");
    for run in 0..3 {
        for (load, reading) in loads.chunks(3).zip(readings.chunks(3)) {
            rows += &format!("{},up,{},{}\n", run + 1, load[run], reading[run]);
        }
    }
    rows
}

#[test]
fn the_published_load_cell_gives_the_published_coefficients() {
    let bench = bench!();
    let file = Reference::load("handbook/load_cell_mpc365");
    bench.file("cell.csv", load_cell(&file));
    // Its loads go to 21 of another unit, which is asked about.
    let line = "gauge calibrate --from cell.csv --resolution-counts 0.00001 --yes --json";
    let document = bench.line(line).exits(0).json();
    is_as_its_schema_says(&bench, "gauge-calibrate", &document);
    assert_eq!(document["curve"]["degree"], 2);
    for k in 0..3 {
        file.check(
            &format!("a{k}"),
            number(&document, &format!("/curve/coefficients/{k}")),
        );
        file.check(
            &format!("se_a{k}"),
            number(&document, &format!("/curve/standard_errors/{k}")),
        );
    }
    file.check("residual_sd", number(&document, "/curve/residual_stdev"));
    file.check("e74_style_llf", number(&document, "/lower_limit/factor_n"));
    assert_eq!(document["class"], Value::Null);
    assert_eq!(document["written"], Value::Null);
    let shown = bench
        .line("gauge calibrate --from cell.csv --yes")
        .exits(0)
        .shows("degree 2")
        .shows("No class in the style of ISO 376")
        .shows("three preloads")
        .shows("Nothing was written");
    assert!(!shown.out.contains("Class "), "{shown}");
}

/// Three preloads, three positions with a repeat in the first, up and down, zeros before and after.
fn whole_sequence(turning: f64) -> String {
    let mut rows = String::from("run;direction;load_n;reading_counts;orientation_deg\n");
    let mut put = |run: u32, direction: &str, load: f64, counts: f64, degrees: u32| {
        rows += &format!("{run};{direction};{load};{counts:.1};{degrees}\n");
    };
    for run in 1..=3 {
        put(run, "up", 0.0, 120.0, 0);
        put(run, "up", 20_000.0, 120.0 + 86.0 * 20_000.0, 0);
        put(run, "down", 0.0, 120.0, 0);
    }
    for (run, degrees, share) in [
        (4, 0, 0.0),
        (5, 0, 0.0),
        (6, 120, turning),
        (7, 240, -turning),
    ] {
        let counts = |load: f64| 120.0 + 86.0 * (1.0 + share) * load;
        put(run, "up", 0.0, 120.0, degrees);
        for step in 1..=10 {
            let load = 2_000.0 * f64::from(step);
            put(run, "up", load, counts(load), degrees);
        }
        for step in (1..10).rev() {
            let load = 2_000.0 * f64::from(step);
            put(run, "down", load, counts(load) + 100.0, degrees);
        }
        put(run, "down", 0.0, 120.0, degrees);
    }
    rows
}

#[test]
fn a_class_is_printed_only_for_the_whole_sequence() {
    let bench = bench!();
    bench.file("press.csv", whole_sequence(0.000_4));
    let whole = "gauge calibrate --from press.csv --reference-percent 0.05 --preload-dwell-s 30 --own-knob --json";
    let document = bench.line(whole).exits(0).json();
    is_as_its_schema_says(&bench, "gauge-calibrate", &document);
    // 0.08 % between the positions: more than class 00 allows, less than 0.5; a reference of 0.05 % is for class 1.
    assert_eq!(document["class"], "1", "{document:#}");
    let reference = |percent: &str| {
        let line = whole.replace("--reference-percent 0.05", percent);
        bench.line(&line).exits(0).json()
    };
    assert_eq!(reference("--reference-percent 0.02")["class"], "0.5");
    for (percent, lacks) in [
        ("", "the uncertainty of the reference"),
        ("--reference-percent 0.2", "a reference known to 0.1 %"),
    ] {
        let document = reference(percent);
        assert_eq!(document["class"], Value::Null);
        assert!(
            document["missing"].to_string().contains(lacks),
            "{document:#}"
        );
    }
    let near = whole_sequence(0.000_4)
        .replace(";120\n", ";10\n")
        .replace(";240\n", ";20\n");
    bench.file("near.csv", near);
    let document_of_near = bench.line(&whole.replace("press", "near")).exits(0).json();
    assert_eq!(document_of_near["class"], Value::Null);
    let missing = document_of_near["missing"].to_string();
    assert!(missing.contains("all the way round"), "{missing}");
    // Read on a display of 500 counts, whatever resolution is stated.
    let steps_of_500 = whole_sequence(0.0)
        .lines()
        .fold(String::new(), |rows, row| {
            let mut cells: Vec<String> = row.split(';').map(str::to_owned).collect();
            if let Ok(counts) = cells[3].parse::<f64>() {
                cells[3] = format!("{}", (counts / 500.0).round() * 500.0);
            }
            rows + &cells.join(";") + "\n"
        });
    bench.file("steps.csv", steps_of_500);
    let in_steps = bench.line(&whole.replace("press", "steps")).exits(0).json();
    assert_eq!(in_steps["class"], Value::Null);
    let missing = in_steps["missing"].to_string();
    assert!(missing.contains("steps of the reading"), "{missing}");
    let coarse = format!("{whole} --resolution-counts 400");
    let document_of_steps = bench.line(&coarse).exits(0).json();
    let missing = document_of_steps["missing"].to_string();
    assert!(
        missing.contains("430") && missing.contains("500 steps"),
        "{missing}"
    );
    bench
        .line(&whole.replace(" --json", ""))
        .exits(0)
        .shows("Class 1 in the style of ISO 376 (limits from memory), from 2.00 kN to 20.00 kN");
    assert!((number(&document, "/errors/reproducibility_percent") - 0.08).abs() < 1e-4);
    assert!(number(&document, "/expanded_percent") > 0.05);
    let less = whole.replace(" --preload-dwell-s 30", "");
    let document = bench.line(&less).exits(0).json();
    assert_eq!(document["class"], Value::Null);
    assert!(
        document["missing"][0]
            .as_str()
            .is_some_and(|s| s.contains("30 s"))
    );
    bench.file("rough.csv", whole_sequence(0.004));
    let document = bench.line(&whole.replace("press", "rough")).exits(0).json();
    assert_eq!(document["class"], Value::Null);
    let missing = document["missing"].to_string();
    assert!(
        missing.contains("a reproducibility of 0.4 % at most"),
        "{missing}"
    );
}

/// The same sequence with its preloads as rows of their own.
fn with_recorded_preloads(held_s: [u32; 3]) -> String {
    let runs = whole_sequence(0.000_4);
    let (head, rows) = runs.split_once('\n').expect("a header");
    let measured = rows.lines().filter(|row| row.as_bytes()[0] > b'3');
    let mut table = format!("{head};held_s\n");
    for held_s in held_s {
        table += &format!("0;preload;20000;1720120.0;0;{held_s}\n");
    }
    for row in measured {
        table += &format!("{row};0\n");
    }
    table
}

#[test]
fn a_table_that_carries_its_preloads_needs_no_option_for_them() {
    let bench = bench!();
    bench.file("told.csv", whole_sequence(0.000_4));
    bench.file("carried.csv", with_recorded_preloads([31, 30, 32]));
    bench.file("hasty.csv", with_recorded_preloads([31, 12, 32]));
    let line = |file: &str| {
        format!("gauge calibrate --from {file} --reference-percent 0.05 --own-knob --json")
    };
    let told = bench
        .line(&format!("{} --preload-dwell-s 30", line("told.csv")))
        .exits(0)
        .json();
    let carried = bench.line(&line("carried.csv")).exits(0).json();
    is_as_its_schema_says(&bench, "gauge-calibrate", &carried);
    assert_eq!(carried["class"], "1");
    for part in ["curve", "inverse", "errors", "budget", "lower_limit"] {
        assert_eq!(carried[part], told[part], "{part}");
    }
    let hasty = bench.line(&line("hasty.csv")).exits(0).json();
    assert_eq!(hasty["class"], Value::Null);
    assert!(hasty["missing"].to_string().contains("30 s"), "{hasty:#}");
    let half = with_recorded_preloads([31, 30, 32]).replacen("1720120.0", "860120.0", 1);
    bench.file("half.csv", half);
    let half = bench.line(&line("half.csv")).exits(0).json();
    assert_eq!(half["class"], Value::Null, "the load was not on");
    assert!(
        half["missing"]
            .to_string()
            .contains("did not read that load"),
        "{half:#}"
    );
}

#[test]
fn readings_that_make_no_calibration_are_refused_with_their_place() {
    let bench = bench!();
    let head = "run,direction,load_n,reading_counts\n";
    let falling = format!("{head}1,up,1000,900\n1,up,2000,700\n1,up,3000,500\n");
    bench.file("falling.csv", falling);
    bench
        .line("gauge calibrate --from falling.csv")
        .exits(4)
        .tells("falling.csv, line 3, column reading_counts: found readings that fall from 900 to 700 counts")
        .tells("expected readings that rise with the load. The signal wires are swapped");
    bench.file("few.csv", format!("{head}1,up,1000,900\n1,up,2000,1700\n"));
    bench
        .line("gauge calibrate --from few.csv")
        .exits(4)
        .tells("few.csv: found 2 different loads going up, expected at least 3. Take more loads");
    bench.file(
        "zero.csv",
        format!(
            "{head}1,up,0,0\n1,up,1000,9\n1,up,2000,17\n2,up,1000,9\n2,up,2000,17\n2,up,3000,25\n"
        ),
    );
    bench
        .line("gauge calibrate --from zero.csv")
        .exits(4)
        .tells("zero.csv, line 5, column run: found run 2 without a reading at zero load");
    bench.file("sideways.csv", format!("{head}1,left,1000,900\n"));
    bench
        .line("gauge calibrate --from sideways.csv")
        .exits(4)
        .tells("line 2, column direction")
        .tells("up, down");
    bench.file(
        "mixed.csv",
        format!("{head}1,up,1000,1\n2,up,1000,1\n1,up,2000,2\n"),
    );
    bench
        .line("gauge calibrate --from mixed.csv")
        .exits(4)
        .tells("line 4, column run");
    bench.file("push.csv", format!("{head}1,up,-1000,1\n"));
    bench
        .line("gauge calibrate --from push.csv")
        .exits(4)
        .tells("line 2, column load_n");
    bench.line("gauge calibrate").exits(2).tells("--from FILE");
}

#[test]
fn a_certificate_is_shown_as_it_is_understood_and_nothing_is_written() {
    let bench = bench!();
    bench.file("paper.toml", CERTIFICATE);
    let typed = "gauge certificate --certificate TP-F-0118 --date 2024-03-02 --due 2029-03-02 --rated-n 25000 \
                 --span-n 500 20000 --temperature-c 21 --uncertainty-percent 0.4 --uncertainty-n 8";
    let mut words: Vec<&str> = typed.split_whitespace().collect();
    words.extend([
        "--laboratory",
        "Tern Point force bench",
        "--coefficients",
        "0 0.0116",
        "--json",
    ]);
    let by_hand = bench.run(words).exits(0).json();
    let by_file = bench
        .line("gauge certificate --from paper.toml --json")
        .exits(0)
        .json();
    is_as_its_schema_says(&bench, "gauge-certificate", &by_file);
    assert_eq!(by_hand, by_file, "the same paper is the same calibration");
    assert_eq!(by_file["written"], Value::Null);
    assert_eq!(by_file["calibration"]["due"], "2029-03-02");
    bench
        .line("gauge certificate --from paper.toml")
        .exits(0)
        .shows("Certificate TP-F-0118 of Tern Point force bench")
        .shows("0.500 kN to 20.00 kN")
        .shows("Nothing was written");
    assert!(!bench.path("visits.holdtrue").exists());
}

#[test]
fn points_make_a_curve_whose_uncertainty_covers_them() {
    let bench = bench!();
    let mut paper = CERTIFICATE
        .replace("coefficients = [0, 0.0116]\n", "")
        .replace("span_n = [500, 20000]\n", "");
    for (load, counts) in [
        (2_000, 172_010),
        (8_000, 688_100),
        (14_000, 1_204_000),
        (20_000, 1_720_300),
    ] {
        paper +=
            &format!("[[point]]\nload_n = {load}\nreading_counts = {counts}\nexpanded_n = 40\n");
    }
    bench.file("points.toml", paper);
    let document = bench
        .line("gauge certificate --from points.toml --json")
        .exits(0)
        .json();
    is_as_its_schema_says(&bench, "gauge-certificate", &document);
    assert_eq!(
        document["calibration"]["span_n"],
        serde_json::json!([2_000.0, 20_000.0])
    );
    for load in [2_000.0_f64, 20_000.0] {
        let share = number(&document, "/calibration/expanded_percent") / 100.0 * load;
        let expanded = share.hypot(number(&document, "/calibration/expanded_n"));
        assert!((40.0..60.0).contains(&expanded), "{expanded} N at {load} N");
    }
}

/// The example of the documentation with one thing changed.
fn example(bench: &Bench, from: &str, to: &str) {
    let example = include_str!("../../../host/docs/examples/certificate.toml");
    assert!(example.contains(from), "{from}");
    bench.file("example.toml", example.replace(from, to));
}

#[test]
fn points_that_cannot_be_meant_are_refused_in_their_line() {
    let bench = bench!();
    for (from, to, told) in [
        (
            "load_n = 15000",
            "load_n = 10000",
            "line 26, column 1: found in point 4 another reading at 10000 N than point 3 has",
        ),
        (
            "expanded_n = 21",
            "expanded_n = -21",
            "line 16, column 1: found in point 2 -21 for the uncertainty, expected a number above 0.",
        ),
        (
            "expanded_n = 21",
            "expanded_n = nan",
            "line 16, column 1: found in point 2 NaN for the uncertainty, expected a number above 0.",
        ),
        (
            "expanded_n = 21",
            "",
            "line 16, column 1: found in point 2 no uncertainty at 5000 N",
        ),
        (
            "= 862_060",
            "= 400_000",
            "line 21, column 1: found in point 3 a reading at 10000 N not above the one at 5000 N",
        ),
    ] {
        example(&bench, from, to);
        let run = bench.line("gauge certificate --from example.toml").exits(4);
        let run = run.tells(&format!("example.toml, {told}"));
        assert_eq!(run.messages.matches("expected").count(), 1, "{run}");
    }
}

#[test]
fn what_looks_mistyped_is_asked_about_and_taken_with_a_yes() {
    let bench = bench!();
    let mut points = CERTIFICATE
        .replace("coefficients = [0, 0.0116]\n", "")
        .replace("span_n = [500, 20000]\n", "");
    // the third reads 1.2 % more than it should
    for (load, counts) in [
        (2_000, 172_000),
        (8_000, 688_000),
        (14_000, 1_218_400),
        (20_000, 1_720_000),
    ] {
        points +=
            &format!("[[point]]\nload_n = {load}\nreading_counts = {counts}\nexpanded_n = 40\n");
    }
    let late = CERTIFICATE.replace("due = 2029", "due = 2095");
    for (paper, place, told) in [
        (points, "line 18", "off the curve through the others"),
        (late, "line 5", "due on 2095-03-02, 71 years after"),
    ] {
        bench.file("example.toml", paper);
        let line = "gauge certificate --from example.toml";
        bench
            .line(line)
            .exits(2)
            .tells(&format!("example.toml, {place}"))
            .tells(told)
            .tells("add --yes");
        bench.line(&format!("{line} --yes")).exits(0).shows(told);
    }
    // a reading 10 % off makes the uncertainty at the lower end absurd: refused, and the point is named
    example(&bench, "= 862_060", "= 962_060");
    bench
        .line("gauge certificate --from example.toml --yes")
        .exits(4)
        .tells("example.toml, line 21")
        .tells("a point at 10000 N");
    for (from, to, place, told) in [
        (
            "percent = 0.4\nexpanded_n = 8\n",
            "n = 0.0001\n",
            "example.toml",
            "5.0e-7 % at 20000 N",
        ),
        (
            "[0, 0.0116]",
            "[5000, 0.0116]",
            "line 11",
            "a constant of 5000 N",
        ),
    ] {
        bench.file("example.toml", CERTIFICATE.replace(from, to));
        let line = "gauge certificate --from example.toml";
        bench.line(line).exits(2).tells(place).tells(told);
        bench.line(&format!("{line} --yes")).exits(0);
    }
    bench.file(
        "example.toml",
        CERTIFICATE.replace("expanded_n = 8", "expanded_n = 3000"),
    );
    bench
        .line("gauge certificate --from example.toml --yes")
        .exits(4)
        .tells("example.toml, line 10")
        .tells("600 % at 500 N");
    let typed = "gauge certificate --certificate X --laboratory Y --date 2024-03-02 --due 2095-03-02 --rated-n 25000 \
                 --span-n 500 20000 --uncertainty-percent 0.4";
    let words = typed
        .split_whitespace()
        .chain(["--coefficients", "0 0.0116"]);
    bench
        .run(words)
        .exits(2)
        .tells("--due: found due on 2095-03-02");
}

#[test]
fn the_example_of_the_documentation_can_be_entered() {
    let bench = bench!();
    bench.file(
        "example.toml",
        include_str!("../../../host/docs/examples/certificate.toml"),
    );
    let line = "gauge certificate --from example.toml --json";
    let document = bench.line(line).exits(0).json();
    assert!((number(&document, "/coefficients/1") - 0.0116).abs() < 1e-5);
    assert_eq!(document["calibration"]["certificate"], "TP-F-0118");
    bench
        .line("gauge certificate --from example.toml")
        .exits(0)
        .shows("through the points");
}

#[test]
fn contradictions_are_refused_with_place_and_next_step() {
    let bench = bench!();
    for (from, to, place, next) in [
        ("due = 2029", "due = 2023", "line 5", "exchanged"),
        ("date = 2024-03-02", "date = 2096-03-02", "line 4", "clock"),
        (
            "date = 2024-03-02",
            "date = \"spring\"",
            "line 4",
            "2026-03-02",
        ),
        ("[500, 20000]", "[20000, 500]", "line 7", "kN"),
        ("rated_n = 25000", "rated_n = 15000", "line 6", "label"),
        ("percent = 0.4", "percent = 40", "line 9", "k = 2"),
        ("0.0116]", "-0.0116]", "line 11", "wires"),
        ("0.0116]", "0.0000116]", "line 11", "in N"),
        ("coefficients", "polynomial", "line 11", "certificates"),
    ] {
        bench.file("bad.toml", CERTIFICATE.replace(from, to));
        bench
            .line("gauge certificate --from bad.toml")
            .exits(4)
            .tells(&format!("bad.toml, {place}"))
            .tells(next);
    }
    bench
        .line("gauge certificate --certificate X --date 2024-03-02")
        .exits(2)
        .tells("--due: found nothing");
    bench.file("paper.toml", CERTIFICATE);
    bench
        .line("gauge certificate --from paper.toml --rated-n 1000")
        .exits(2)
        .tells("paper.toml");
}

#[cfg(unix)]
mod at_a_gauge {
    use super::*;
    use holdtrue_tests::port::Port;

    fn certificate_line(port: &Port, file: &str) -> String {
        format!(
            "--book yard.holdtrue gauge certificate --from {file} --gauge {} --json",
            port.path
        )
    }

    #[test]
    fn a_certificate_goes_into_gauge_and_book_and_is_the_one_used() {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 3 --pace max");
        bench.file(
            "paper.toml",
            CERTIFICATE.replace(
                "date = 2024-03-02",
                &format!("date = {}", recent_day(&port, &bench)),
            ),
        );
        let info = format!("gauge info --gauge {} --json", port.path);
        let before = bench.line(&info).exits(0).json();
        let paper = bench
            .line("gauge certificate --from paper.toml --json")
            .exits(0)
            .json();
        let run = bench.line(&certificate_line(&port, "paper.toml")).exits(0);
        let written = run.json();
        is_as_its_schema_says(&bench, "gauge-certificate", &written);
        assert_eq!(written["written"]["before"], before["calibration"], "{run}");
        assert_eq!(written["written"]["already"], false);
        let after = bench.line(&info).exits(0).json();
        assert_eq!(after["calibration"], paper["calibration"], "{run}");
        run.tells("before").tells("TP-F-0118");
        let again = bench
            .line(&certificate_line(&port, "paper.toml"))
            .exits(0)
            .json();
        assert_eq!(again["written"]["already"], true);
        bench
            .line("--book yard.holdtrue book check")
            .exits(0)
            .shows("sound");
    }

    #[test]
    fn an_older_or_quite_different_certificate_is_asked_about_first() {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 3 --pace max");
        bench.file(
            "old.toml",
            CERTIFICATE
                .replace("date = 2024", "date = 2019")
                .replace("due = 2029", "due = 2021"),
        );
        bench
            .line(&certificate_line(&port, "old.toml"))
            .exits(2)
            .tells("newer calibration")
            .tells("--yes");
        bench.file(
            "other.toml",
            CERTIFICATE.replace("0.0116", "0.0232").replace(
                "date = 2024-03-02",
                &format!("date = {}", recent_day(&port, &bench)),
            ),
        );
        bench
            .line(&certificate_line(&port, "other.toml"))
            .exits(2)
            .tells("+99 % against");
        let info = format!("gauge info --gauge {} --json", port.path);
        let still = bench.line(&info).exits(0).json();
        assert_eq!(still["calibration"]["certificate"], "TP-F-0117");
        bench
            .line(&format!("{} --yes", certificate_line(&port, "old.toml")))
            .exits(0);
    }

    #[test]
    fn a_higher_rated_load_and_a_much_larger_uncertainty_are_asked_about_first() {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 3 --pace max");
        let recent = CERTIFICATE.replace(
            "date = 2024-03-02",
            &format!("date = {}", recent_day(&port, &bench)),
        );
        for (from, to, told) in [
            (
                "rated_n = 25000",
                "rated_n = 50000",
                "rises from 25000 to 50000 N",
            ),
            (
                "expanded_percent = 0.4",
                "expanded_percent = 4",
                "The uncertainty U at 20000 N grows",
            ),
        ] {
            bench.file("paper.toml", recent.replace(from, to));
            bench
                .line(&certificate_line(&port, "paper.toml"))
                .exits(2)
                .tells(told)
                .tells("Nothing was written");
        }
        let info = format!("gauge info --gauge {} --json", port.path);
        let still = bench.line(&info).exits(0).json();
        assert_eq!(still["calibration"]["certificate"], "TP-F-0117");
    }

    #[test]
    fn one_name_for_two_calibrations_is_exit_5() {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 3 --pace max");
        let named = format!("id = \"0190f3a0-0000-7000-8000-000000000001\"\n{CERTIFICATE}")
            .replace(
                "date = 2024-03-02",
                &format!("date = {}", recent_day(&port, &bench)),
            );
        bench.file("one.toml", &named);
        bench.file(
            "two.toml",
            named.replace("expanded_n = 8", "expanded_n = 9"),
        );
        bench.line(&certificate_line(&port, "one.toml")).exits(0);
        let run = bench
            .line(&certificate_line(&port, "two.toml"))
            .exits(5)
            .tells("other content");
        assert_eq!(run.json()["error"]["code"], 5);
        let info = format!("gauge info --gauge {} --json", port.path);
        let still = bench.line(&info).exits(0).json();
        assert!((number(&still, "/calibration/expanded_n") - 8.0).abs() < 1e-12);
    }

    #[test]
    fn a_calibration_from_the_press_goes_into_the_gauge() {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 3 --pace max");
        bench.file("press.csv", whole_sequence(0.000_4));
        let mut line = format!(
            "--book yard.holdtrue gauge calibrate --from press.csv --gauge {} --certificate TP-P-7 --laboratory TernPoint \
             --date {} --due {} --rated-n 25000 --json",
            port.path,
            recent_day(&port, &bench),
            due_after(&recent_day(&port, &bench))
        );
        bench.line(&line).exits(2).tells("--reference-percent");
        line += " --reference-percent 0.05";
        let document = bench.line(&line).exits(0).json();
        is_as_its_schema_says(&bench, "gauge-calibrate", &document);
        let after = bench
            .line(&format!("gauge info --gauge {} --json", port.path))
            .exits(0)
            .json();
        assert_eq!(after["calibration"]["certificate"], "TP-P-7");
        assert_eq!(after["calibration"], document["written"]["after"]);
        assert_eq!(
            after["calibration"]["span_n"],
            serde_json::json!([2_000.0, 20_000.0])
        );
    }

    /// A day in the second year after.
    fn due_after(day: &str) -> String {
        let year: u32 = day[..4].parse().expect("a year");
        format!("{}-01-01", year + 2)
    }

    #[test]
    fn a_calibration_that_does_not_repeat_itself_is_not_written() {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 3 --pace max");
        let day = recent_day(&port, &bench);
        let mut once = String::from("run,direction,load_n,reading_counts\n1,up,0,120\n");
        for step in 1..=8 {
            once += &format!(
                "1,up,{},{}\n",
                2_500 * step,
                120 + 215_000 * step + step % 3
            );
        }
        bench.file("once.csv", &once);
        let line = format!(
            "--book yard.holdtrue gauge calibrate --from once.csv --reference-percent 0.05 --gauge {} --certificate TP-P-8 \
             --laboratory TernPoint --date {day} --due {} --rated-n 25000",
            port.path,
            due_after(&day)
        );
        bench
            .line(&line)
            .exits(4)
            .tells("once.csv: found a calibration without a second run of the same loads upward in the same position")
            .tells("and a zero before and after a run")
            .tells("Nothing was written");
        let info = format!("gauge info --gauge {} --json", port.path);
        let still = bench.line(&info).exits(0).json();
        assert_eq!(still["calibration"]["certificate"], "TP-F-0117");
        // twice, with the zeros after: turning and unloading are assumed, and count
        let twice = format!(
            "{once}1,down,0,120\n{}2,down,0,121\n",
            once.replace("1,up", "2,up")
                .split_once('\n')
                .expect("a header")
                .1
        );
        bench.file("once.csv", twice);
        let run = bench.line(&format!("{line} --yes --json")).exits(0);
        let document = run.json();
        is_as_its_schema_says(&bench, "gauge-calibrate", &document);
        assert_eq!(
            document["assumed"].as_array().map(Vec::len),
            Some(2),
            "{run}"
        );
        // 0.4 and 0.5 % of class 2 (from memory), rectangular, and half of 0.05 %: U = 0.37 %
        let percent = number(&document, "/written/after/expanded_percent");
        assert!((0.37..0.39).contains(&percent), "{percent} {run}");
    }

    /// The day the simulated gauge was calibrated: neither older than its own record nor in the future.
    fn recent_day(port: &Port, bench: &Bench) -> String {
        let info = bench
            .line(&format!("gauge info --gauge {} --json", port.path))
            .exits(0)
            .json();
        info["calibration"]["date"]
            .as_str()
            .expect("a date")
            .to_owned()
    }
}

#[test]
fn an_indicator_on_gauge_blocks_gives_its_errors_and_their_budget() {
    let bench = bench!();
    // Two runs; errors 0, +1, −1 µm going in, 2 µm coming out at 100 µm; the second run reads 0.5 µm more there.
    let rows = [
        (1, "up", 0, 5.0),
        (1, "up", 100, 106.0),
        (1, "up", 200, 204.0),
        (1, "down", 100, 108.0),
        (2, "up", 0, 7.0),
        (2, "up", 100, 108.5),
        (2, "up", 200, 206.0),
        (2, "down", 100, 110.5),
    ];
    let mut table = String::from("run,direction,step_um,reading_um\n");
    for (run, way, step, reading) in rows {
        table += &format!("{run},{way},{step},{reading}\n");
    }
    bench.file("blocks.csv", &table);
    let line =
        "gauge calibrate --indicator --from blocks.csv --blocks-um 0.2 --resolution-um 1 --json";
    let document = bench.line(line).exits(0).json();
    let schema = bench
        .line("schema gauge-calibrate-indicator")
        .exits(0)
        .json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    assert_eq!(document["span_um"], serde_json::json!([0.0, 200.0]));
    // mean errors 0, 1.25, −1
    assert_eq!(document["error_of_indication_um"], 2.25);
    assert_eq!(document["hysteresis_um"], 2.0);
    assert_eq!(document["repeatability_um"], 0.5);
    let squares: f64 = document["budget"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|line| line["standard"].as_f64())
        .map(|u| u * u)
        .sum();
    let expanded = document["expanded_um"].as_f64().expect("blocks are stated");
    assert!((expanded - 2.0 * squares.sqrt()).abs() < 1e-12);
    assert!(expanded > 2.25 / 3.0_f64.sqrt(), "{expanded}");
    bench
        .line("gauge calibrate --indicator --from blocks.csv --blocks-um 0.2")
        .exits(0)
        .shows(&format!("two readings: {expanded:.2} µm"));
    // readings in mm, and an uncertainty in nm
    let mut in_mm = String::from("run,direction,step_um,reading_um\n");
    for (run, way, step, reading) in rows {
        in_mm += &format!("{run},{way},{step},{}\n", reading / 1000.0);
    }
    bench.file("mm.csv", in_mm);
    bench
        .line("gauge calibrate --indicator --from mm.csv --blocks-um 0.2")
        .exits(4)
        .tells("mm.csv")
        .tells("in mm");
    bench
        .line("gauge calibrate --indicator --from blocks.csv --blocks-um 200")
        .exits(4)
        .tells("less than a fifth of the span")
        .tells("nm");
    // the wrong way round
    bench.file(
        "back.csv",
        table.replace(",106", ",-106").replace(",108.5", ",-108.5"),
    );
    bench
        .line("gauge calibrate --indicator --from back.csv --blocks-um 0.2")
        .exits(4)
        .tells("back.csv");
    bench
        .line("gauge calibrate --indicator --from blocks.csv")
        .exits(0)
        .shows("--blocks-um");
}

#[test]
fn a_certificate_of_an_indicator_is_entered_in_micrometres() {
    let bench = bench!();
    let line = "gauge certificate --channel indicator --certificate TP-I9 --laboratory Tern-Point --date 2024-03-02 --due 2025-03-02 \
                --span-um 0 1000 --uncertainty-um 0.8 --travel-um 10000 --json";
    let document = bench.line(line).exits(0).json();
    let schema = bench.line("schema gauge-certificate").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    assert_eq!(document["calibration"]["expanded_um"], 0.8);
    assert_eq!(
        document["calibration"]["span_um"],
        serde_json::json!([0.0, 1000.0])
    );
    bench
        .line("gauge certificate --channel indicator --certificate TP-I9 --laboratory Tern-Point --date 2024-03-02 --due 2025-03-02 --span-n 0 1000 --uncertainty-um 0.8")
        .exits(2);
}

#[test]
fn a_file_with_an_indicator_s_certificate_is_told_from_a_load_cell_s() {
    let bench = bench!();
    let paper = "schema = 1\nchannel = \"indicator\"\ncertificate = \"TP-D-0051\"\nlaboratory = \"Tern Point length bench\"\n\
                 date = 2024-03-02\ndue = 2025-03-02\nspan_um = [0, 1000]\ntravel_um = 12500\nexpanded_um = 1.8\n";
    bench.file("paper.toml", paper);
    let document = bench
        .line("gauge certificate --from paper.toml --json")
        .exits(0)
        .json();
    is_as_its_schema_says(&bench, "gauge-certificate", &document);
    assert_eq!(
        document["coefficients"],
        serde_json::json!([0.0, 1.0, 0.0, 0.0])
    );
    for (from, to, next) in [
        ("expanded_um = 1.8\n", "", "A verdict needs it"),
        ("travel_um = 12500", "travel_um = 12.5", "in µm"),
        ("travel_um = 12500", "rated_n = 12500", "of an indicator"),
        ("[0, 1000]", "[1000, 0]", "lowest and the highest"),
        ("\"indicator\"", "\"probe\"", "--gauge"),
    ] {
        bench.file("bad.toml", paper.replace(from, to));
        bench
            .line("gauge certificate --from bad.toml")
            .exits(4)
            .tells("bad.toml")
            .tells(next);
    }
}

/// Three runs up and down, ten counts for a newton; each reading as `change` leaves it.
fn press_table(change: impl Fn(u32, &str, f64) -> (f64, f64)) -> String {
    let mut rows = String::from("run,direction,load_n,reading_counts\n");
    for run in 1..=3 {
        let up = [0.0, 2e3, 4e3, 6e3, 8e3].map(|load_n| ("up", load_n));
        let down = [6e3, 4e3, 2e3, 0.0].map(|load_n| ("down", load_n));
        for (way, load_n) in up.into_iter().chain(down) {
            let (load, share) = change(run, way, load_n);
            rows += &format!("{run},{way},{load},{}\n", 500.0 + 10.0 * load_n * share);
        }
    }
    rows
}

/// A slip of the pen, loads in another unit, a reference that is none, blocks beyond the travel: each is asked about where
/// nothing is written, too, with the place where it stands.
#[test]
fn what_cannot_be_right_in_a_calibration_is_asked_about() {
    let bench = bench!();
    let line = "gauge calibrate --from press.csv --reference-percent 0.1";
    bench.file("press.csv", press_table(|_, _, load_n| (load_n, 1.0)));
    // A table that was made up is computed, and not without a word.
    bench
        .line(line)
        .exits(0)
        .tells("the readings of run 1 once more, digit by digit, in all 3 runs");
    bench
        .line("gauge calibrate --from press.csv --reference-percent 50")
        .exits(2)
        .tells("--reference-percent: found 50 %, expected 0.001 to 5 %");
    for (wrong_run, wrong_way, at_line) in [(2, "up", 13), (3, "down", 26)] {
        let apart = press_table(|run, way, load_n| {
            let here = run == wrong_run && way == wrong_way && load_n > 3e3 && load_n < 5e3;
            (load_n, if here { 0.8 } else { 1.0 })
        });
        bench.file("press.csv", apart);
        let told = format!("press.csv, line {at_line}, column reading_counts");
        bench
            .line(line)
            .exits(2)
            .tells(&told)
            .tells("expected about 40000 by the other readings");
        bench.line(&format!("{line} --yes")).exits(0).shows(&told);
    }
    bench.file("press.csv", press_table(|_, _, load_n| (load_n / 1e3, 1.0)));
    bench
        .line(line)
        .exits(2)
        .tells("found 8 N as the highest load")
        .tells("are the loads in kN?");
    let mut blocks = String::from("run,direction,step_um,reading_um\n");
    for run in 1..=3 {
        for (way, um) in [
            ("up", 0),
            ("up", 200),
            ("up", 400),
            ("up", 800),
            ("down", 400),
            ("down", 0),
        ] {
            blocks += &format!("{run},{way},{um},{um}.1\n");
        }
    }
    bench.file("blocks.csv", blocks);
    let line = "gauge calibrate --indicator --from blocks.csv --blocks-um 0.5 --travel-um";
    bench
        .line(&format!("{line} 100"))
        .exits(2)
        .tells("--travel-um: found 100, expected 800 or more");
    bench.line(&format!("{line} 800")).exits(0);
}

#[test]
fn a_certificate_of_a_gauge_that_is_not_plugged_in_is_kept_for_what_is_read_on_it() {
    let bench = bench!();
    let enter = |number: &str, date: &str, due: &str| {
        let line = format!(
            "gauge certificate --json --serial TP-G1 --certificate {number} --laboratory Tern-Point --date {date} --due {due} \
             --rated-n 25000 --span-n 500 22000 --uncertainty-percent 0.7 --coefficients"
        );
        let told = bench.in_book(&line, &["0 0.0116"]).exits(0).json();
        let schema = bench.line("schema gauge-certificate").exits(0).json();
        assert_eq!(differences(&schema, &told), Vec::<String>::new());
        assert_eq!(
            (&told["written"], &told["kept"]["serial"]),
            (&Value::Null, &"TP-G1".into())
        );
    };
    // The older one is entered last: the newest is still the one in force.
    enter("TP-C2", "2024-03-02", "2026-03-02");
    enter("TP-C1", "2022-03-02", "2024-03-02");
    enter("TP-C2", "2024-03-02", "2026-03-02");
    // One paper is of one gauge: typed for a second one it is asked about.
    let of_another = "gauge certificate --serial TP-G2 --certificate TP-C2 --laboratory Tern-Point --date 2024-03-02 \
                      --due 2026-03-02 --rated-n 25000 --span-n 500 22000 --uncertainty-percent 0.7 --coefficients";
    bench
        .in_book(of_another, &["0 0.0116"])
        .exits(2)
        .tells("Certificate TP-C2 is that of gauge TP-G1 in the book; this is gauge TP-G2");
    bench
        .in_book(
            "spindle add --interface BT40 --nominal-n 10000",
            &["Centre 1"],
        )
        .exits(0);
    let days = ["2021-05-12", "2023-05-12", "2024-03-02", "2025-05-12"];
    for day in days {
        let start = format!("visit start --date {day} --spindle");
        bench.in_book(&start, &["Centre 1"]).exits(0);
        let grip = "grip --store --state as-found --unit kN --uncertainty-percent 0.7 --read-on TP-G1 --readings";
        bench.in_book(grip, &["9.8 9.9 9.7 9.8 9.9"]).exits(0);
        bench.in_book("visit finish --yes", &[]).exits(0);
    }
    let told = bench
        .in_book("trend --json --spindle", &["Centre 1"])
        .exits(0)
        .json();
    let named: Vec<Option<&str>> = told["series"]
        .as_array()
        .expect("a series")
        .iter()
        .map(|row| row["calibration"].as_str().and_then(|name| name.get(..5)))
        .collect();
    assert_eq!(
        named,
        [None, Some("TP-C1"), Some("TP-C2"), Some("TP-C2")],
        "{told:#}"
    );
    for (on, overdue) in [("2026-03-02", false), ("2026-03-03", true)] {
        let line = format!("overview --json --on {on}");
        let told = bench.in_book(&line, &[]).exits(0).json();
        let due = &told["spindles"][0]["calibrations"][0];
        assert_eq!(
            (&due["due"], &due["overdue"]),
            (&"2026-03-02".into(), &overdue.into())
        );
    }
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains("TP-C2") && page.contains("in force"));
    for line in ["recheck", "book check", "book verify"] {
        bench.in_book(line, &[]).exits(0);
    }
    bench
        .in_book("gauge certificate --serial TP-G1 --gauge auto", &[])
        .exits(2);
}
