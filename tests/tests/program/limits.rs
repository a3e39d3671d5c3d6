//! Limits files: shown as understood, refused by line.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;

const CENTRE_1: &str = r#"schema = 1
title = "Tern Point, Centre 1 (invented)"

[[limit]]
figure = "grip-mean"
limit = 1800
unit = "lbf"
provenance = "maker"
source = "spindle sheet TP-1, invented"

[[limit]]
figure = "tir"
height_mm = 300
limit = 25
unit = "um"
provenance = "common-practice"
"#;

#[test]
fn a_limits_file_is_shown_in_the_units_of_the_person() {
    let bench = bench!();
    bench.file("centre-1.toml", CENTRE_1);
    let schema = bench.line("schema limits-show").json();
    let run = bench.line("limits show centre-1.toml --json").exits(0);
    let document = run.json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    // 1800 lbf × 4.4482216152605 N/lbf, exact by definition of the pound-force.
    let limit_n = document["limits"][0]["limit"].as_f64().expect("a number");
    assert!((limit_n - 8_006.798_907_468_9).abs() < 1e-9, "{run}");
    bench
        .line("limits show centre-1.toml")
        .shows("mean grip force   at least 8.01 kN   (maker: spindle sheet TP-1, invented)")
        .shows("TIR at 300 mm   at most 25.0 µm   (common practice, no source)");
    bench.line("settings --force lbf");
    bench.line("limits show centre-1.toml").shows("1800 lbf");
}

#[test]
fn check_looks_at_every_file_and_names_each_mistake() {
    let bench = bench!();
    bench.file("good.toml", CENTRE_1);
    bench.file("bad.toml", CENTRE_1.replace("\"lbf\"", "\"stone\""));
    bench.file("worse.toml", "schema = 1\ntitle = \n");
    let schema = bench.line("schema limits-check").json();
    let run = bench
        .line("limits check bad.toml worse.toml good.toml --json")
        .exits(4);
    let document = run.json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    let ok: Vec<_> = (0..3)
        .map(|file| document["files"][file]["ok"] == true)
        .collect();
    assert_eq!(ok, [false, false, true], "{run}");
    assert_eq!(document["error"]["file"], "bad.toml");
    assert_eq!(document["error"]["line"], 7);
    run.tells("bad.toml, line 7").tells("worse.toml, line 2");
}

#[test]
fn the_usual_ranges_are_listed_with_where_they_come_from() {
    let bench = bench!();
    let schema = bench.line("schema limits-list").exits(0).json();
    let document = bench.line("limits list --json").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    // Common practice: a standard no. 40 spindle grips with 8 to 12 kN; an HSK-A63 with 18 kN (from memory).
    bench
        .line("limits list")
        .exits(0)
        .shows("7/24-40   standard  8.00 kN to 12.00 kN")
        .shows("HSK-A63   standard  18.00 kN");
    for range in document["ranges"].as_array().expect("ranges") {
        assert_ne!(range["provenance"], "maker", "{range}");
    }
}

#[test]
fn a_file_that_contradicts_itself_is_refused_with_line_and_column() {
    let bench = bench!();
    let nominal = "[nominal]\nforce = 10\nunit = \"kN\"\nprovenance = \"common-practice\"\n";
    let head = "schema = 1\ntitle = \"Centre 2\"\n";
    bench.file(
        "watch.toml",
        format!("{head}{nominal}act_percent = 90\nwatch_percent = 80\n"),
    );
    let run = bench.line("limits check watch.toml --json").exits(4);
    let error = &run.json()["error"];
    assert_eq!(
        (&error["line"], &error["column"]),
        (&8.into(), &"17".into()),
        "{run}"
    );
    run.tells("watch at 80 % below act at 90 %");
    bench
        .line("grip --readings 9.8 --unit kN --uncertainty-percent 1 --limits watch.toml")
        .exits(4)
        .tells("Correct one of the two");
    bench.file("one.toml", format!("{head}[[limit]]\nfigure = \"grip-mean\"\nlimit = 7\nunit = \"kN\"\nprovenance = \"common-practice\"\n"));
    bench
        .line("limits check one.toml")
        .exits(0)
        .shows("1 limit")
        .shows("can be used");
    bench.file("none.toml", format!("{head}{nominal}"));
    bench
        .line("limits check none.toml")
        .exits(0)
        .shows("can be used, a nominal force and no limit");
}

#[test]
fn a_taper_is_taken_as_it_is_called_and_an_unknown_one_is_refused_with_what_is_known() {
    let bench = bench!();
    let grip =
        "grip --readings 9.8;9.9;9.85 --unit kN --uncertainty-percent 0.5 --json --interface";
    let budget = |name: &str| {
        let run = bench.run(grip.split(' ').chain([name])).exits(0);
        run.json()["uncertainty"]["combined_n"].clone()
    };
    let plain = budget("7/24-40");
    for name in ["BT40", "SK 40", "CAT-40", "iso40", "nt 40", "7/24 no. 40"] {
        assert_eq!(budget(name), plain, "{name}");
    }
    for name in ["HSK63A", "hsk a63", "HSK-A 63"] {
        assert_eq!(budget(name), budget("HSK-A63"), "{name}");
    }
    for name in ["7/24-60", "MT4", "40"] {
        bench
            .run(grip.split(' ').chain([name]))
            .exits(2)
            .tells("known are 7/24-30, -40, -45 and -50")
            .tells("HSK-A63");
    }
    bench
        .line("spindle add Centre-1 --book yard.holdtrue --interface cat-40")
        .exits(0)
        .shows("7/24-40 CAT");
    let kept = bench
        .line("spindle show Centre-1 --book yard.holdtrue --json")
        .json()["spindle"]
        .clone();
    assert_eq!(kept["taper"], "7/24", "{kept}");
    assert_eq!(kept["taper_size"], 40, "{kept}");
    assert_eq!(kept["shank"], "CAT", "{kept}");
}

#[test]
fn forces_are_taken_in_every_unit_they_are_written_in_and_a_pressure_is_none() {
    let bench = bench!();
    let mean = |line: &str| {
        let run = bench.line(line).exits(0);
        run.json()["statistics"]["mean_n"].as_f64().expect("a mean")
    };
    // 1 kgf = 9.80665 N, 1 daN = 10 N, 1 lbf = 4.4482216152605 N, exact by definition.
    for (unit, reading, newtons) in [
        ("kgf", "1000", 9_806.65),
        ("daN", "980", 9_800.0),
        ("DAN", "980", 9_800.0),
        ("lbf", "2200", 9_786.087_553_573_1),
        ("kn", "9.8", 9_800.0),
    ] {
        let found = mean(&format!("grip --readings {reading} --unit {unit} --json"));
        assert!((found - newtons).abs() < 1e-6, "{unit}: {found}");
    }
    bench
        .line("grip --readings 1400 --unit psi")
        .exits(2)
        .tells("is a pressure");
    bench.file("psi.toml", CENTRE_1.replace("\"lbf\"", "\"psi\""));
    bench
        .line("limits check psi.toml")
        .exits(4)
        .tells("psi.toml, line 7")
        .tells("is a pressure");
    bench.file(
        "kgf.toml",
        CENTRE_1.replace("1800\nunit = \"lbf\"", "816\nunit = \"kgf\""),
    );
    bench.line("limits show kgf.toml").exits(0).shows("8.00 kN");
    let clamps: Vec<_> = [9_800.0, 9_900.0].map(MadeClamp::of).into();
    for (unit, newton_per_unit) in [("force_kgf", 9.806_65), ("force_daN", 10.0)] {
        let made = Made {
            unit,
            newton_per_unit,
            ..Made::default()
        };
        bench.file("set.csv", made.csv(&clamps));
        let found = mean("grip --from set.csv --json");
        assert!((found - 9_850.0).abs() < 20.0, "{unit}: {found}");
    }
    bench.file("psi.csv", "time_s,force_psi\n0,1\n1,2\n");
    bench
        .line("grip --from psi.csv")
        .exits(4)
        .tells("is a pressure");
}

/// A visit at a spindle whose maker states 10 kN.
fn at_makers_spindle() -> Bench {
    let bench = bench!();
    for line in [
        "spindle add Centre-1 --interface BT40 --nominal-n 10000 --book yard.holdtrue",
        "visit start --spindle Centre-1 --book yard.holdtrue",
    ] {
        bench.line(line).exits(0);
    }
    bench
}

const WEAK: &str = "grip --readings 5.00;5.01;4.99;5.02;5.00 --unit kN --uncertainty-percent 1 --store --book yard.holdtrue";

#[test]
fn a_laxer_limit_typed_takes_nothing_from_the_makers_figure() {
    for lax in [
        "--limit-n 4000",
        "--limit-cv-percent 5",
        "--limit-lowest-n 3000",
    ] {
        at_makers_spindle()
            .line(&format!("{WEAK} {lax}"))
            .exits(1)
            .shows("70 % of the maker's nominal");
    }
    // A stricter one needs no second beside it, and a share somebody chose is in its place.
    let strict = at_makers_spindle()
        .line(&format!("{WEAK} --limit-n 8000 --json"))
        .exits(1)
        .json();
    let on_mean = strict["verdict"]["limits"].as_array().unwrap().iter();
    assert_eq!(on_mean.filter(|l| l["figure"] == "grip-mean").count(), 1);
    at_makers_spindle()
        .line(&format!("{WEAK} --nominal-n 10000 --limit-percent 40"))
        .exits(0);
}

#[test]
fn another_taper_than_the_spindles_is_asked_about_and_nothing_is_as_found_after_work() {
    let bench = at_makers_spindle();
    bench
        .line(&format!("{WEAK} --interface HSK63A --yes"))
        .exits(2)
        .tells("7/24-40 BT")
        .tells("HSK-A63");
    // A form of the same cone is the same taper.
    bench.line(&format!("{WEAK} --interface SK40")).exits(1);
    bench.line(&format!("{WEAK} --state as-left")).exits(1);
    bench
        .line(&format!("{WEAK} --state as-found"))
        .exits(2)
        .tells("cannot be as found");
}

#[test]
fn limits_of_another_taper_are_not_those_of_this_spindle() {
    let bench = bench!();
    let file = |more: &str| {
        format!(
            "schema = 1\ntitle = \"Centre 2\"\ninterface = \"BT50\"\n[nominal]\nforce = 20\nunit = \"kN\"\nprovenance = \"maker\"\nsource = \"sheet\"\n{more}"
        )
    };
    bench.file("limits.toml", file(""));
    let line =
        "grip --readings 15.1;15.2;15.0 --unit kN --uncertainty-percent 0.5 --limits limits.toml";
    bench
        .line(&format!("{line} --interface BT40"))
        .exits(2)
        .tells("Is it the right file?");
    bench.line(&format!("{line} --interface CAT50")).exits(0);
    bench.line(line).exits(0);
    // Seven tenths of a per cent, or a tenth of what was meant.
    for act in ["0.7", "7", "19"] {
        bench.file("limits.toml", file(&format!("act_percent = {act}\n")));
        bench
            .line("limits check limits.toml")
            .exits(4)
            .tells("line 9, column 15");
    }
}
