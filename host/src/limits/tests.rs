//! Limits files: understood, refused by line, written down and read back.

use crate::limits::*;

const GOOD: &str = r#"schema = 1
title = "Centre 1"
[nominal]
force = 9.8
unit = "kN"
provenance = "maker"
source = "spindle sheet"
[[limit]]
figure = "grip-mean"
limit = 8.0
unit = "kN"
provenance = "maker"
source = "spindle sheet"
watch = 8.5
[[limit]]
figure = "tir"
limit = 0.0004
unit = "in"
provenance = "common-practice"
height_mm = 300
"#;

#[test]
fn limits_come_out_in_the_units_they_are_judged_in() {
    let file = understand("centre-1.toml", GOOD).expect("a good file");
    assert_eq!(file.nominal.map(|nominal| nominal.force_n), Some(9800.0));
    let mean = &file.limits[0].limit;
    assert_eq!(
        (mean.limit, mean.unit.as_str(), mean.side),
        (8000.0, "N", Side::Lower)
    );
    assert_eq!(mean.watch, Some(8500.0));
    let tir = &file.limits[1].limit;
    assert!((tir.limit - 10.16).abs() < 1e-12, "{tir:?}");
    assert_eq!(
        (tir.unit.as_str(), tir.side, tir.height_mm),
        ("um", Side::Upper, Some(300.0))
    );
}

#[test]
fn the_example_in_the_docs_can_be_used() {
    let text = include_str!("../../docs/examples/centre-1.toml");
    let file = understand("centre-1.toml", text).expect("usable");
    assert_eq!(file.limits.len(), 4);
}

#[test]
fn each_mistake_is_named_with_its_line() {
    for (from, to, line, word) in [
        ("schema = 1", "schema = 2", 1, "schema 2"),
        ("force = 9.8", "force = -9.8", 4, "above 0"),
        ("limit = 8.0", "limit = nan", 10, "above 0"),
        ("unit = \"in\"", "unit = \"kN\"", 18, "um"),
        ("watch = 8.5", "watch = 7.5", 14, "watch"),
        ("source = \"spindle sheet\"\nwatch", "watch", 12, "source"),
        ("figure = \"tir\"", "figure = \"wobble\"", 16, "wobble"),
        ("title", "tittle", 2, "tittle"),
        ("[nominal]", "interface = \"MT4\"\n[nominal]", 3, "HSK-A63"),
        ("height_mm = 300", "height_mm = inf", 20, "height"),
        (
            "figure = \"tir\"",
            "figure = \"tir\"\nside = \"lower\"",
            17,
            "upper",
        ),
    ] {
        let bad = GOOD.replacen(from, to, 1);
        let error = understand("centre-1.toml", &bad).expect_err(from);
        assert_eq!(error.place.line, Some(line), "{from} → {to}: {error}");
        assert!(error.to_string().contains(word), "{error}");
        assert_eq!(error.exit.code(), 4);
    }
}

#[test]
fn a_file_that_contradicts_itself_is_refused_where_it_does() {
    let nominal = |more: &str| {
        GOOD.replacen(
            "source = \"spindle sheet\"\n",
            &format!("source = \"spindle sheet\"\n{more}"),
            1,
        )
    };
    let lowest = |limit: &str| {
        format!(
            "{GOOD}[[limit]]\nfigure = \"grip-lowest\"\nlimit = {limit}\nunit = \"N\"\nprovenance = \"common-practice\"\n"
        )
    };
    for (text, line, word) in [
        (
            nominal("act_percent = 90\nwatch_percent = 80\n"),
            9,
            "watch at 80 % below act at 90 %",
        ),
        (
            nominal("act_percent = 90\n"),
            8,
            "watch at 85 % (the usual share) below act at 90 %",
        ),
        (nominal("act_percent = 170\n"), 8, "act_percent = 170"),
        (nominal("watch_percent = 101\n"), 8, "watch_percent = 101"),
        (
            lowest("8001"),
            23,
            "at least 8001 N for the lowest clamp, above the limit on the mean (8000 N)",
        ),
        (
            GOOD.replacen("limit = 8.0", "limit = 9.9", 1)
                .replacen("watch = 8.5\n", "", 1),
            10,
            "above the nominal force",
        ),
    ] {
        let path = std::env::temp_dir().join(format!(
            "holdtrue-contradiction-{}.toml",
            std::process::id()
        ));
        std::fs::write(&path, &text).expect("a file");
        let error = read(path.to_str().expect("a name"), false).expect_err(word);
        assert_eq!(error.place.line, Some(line), "{error}");
        assert!(
            error.place.column.is_some() && error.to_string().contains(word),
            "{error}"
        );
        // what was in force stays readable in a book
        assert!(understand("kept", &text).is_ok());
        std::fs::remove_file(&path).expect("removed");
    }
    for good in [
        lowest("8000"),
        nominal("act_percent = 85\nwatch_percent = 85\n"),
    ] {
        let (file, places) = parse("good", &good, Repeated::Refused).expect("readable");
        contradiction::refuse(&file, &places, "good", &good).expect("no contradiction");
    }
}

#[test]
fn what_is_written_down_reads_back_as_it_was() {
    let file = understand("centre-1.toml", GOOD).expect("a good file");
    let text = file.to_toml().expect("a file");
    assert_eq!(
        understand("kept.toml", &text).expect("readable"),
        file,
        "{text}"
    );
}

#[test]
fn two_limits_on_one_figure_are_refused() {
    let twice = format!(
        "{GOOD}\n{}",
        &GOOD[GOOD.rfind("[[limit]]").expect("a limit")..]
    );
    let error = parse("centre-1.toml", &twice, Repeated::Refused).expect_err("refused");
    assert!(error.to_string().contains("second limit"), "{error}");
}
