//! `prove`: what a sceptic sees.

use holdtrue_tests::bench;
use holdtrue_tests::schema::differences;
use serde_json::Value;
use std::collections::BTreeSet;

#[test]
fn every_check_agrees_and_carries_source_and_provenance() {
    let bench = bench!();
    let schema = bench.line("schema prove").exits(0).json();
    let document = bench.line("prove --json").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    assert_eq!(document["out"], 0);
    let checks = document["checks"].as_array().expect("checks");
    assert!(checks.len() >= 80, "{}", checks.len());
    for check in checks {
        assert_eq!(check["ok"], true, "{check}");
        let source = check["source"].as_str().unwrap_or_default();
        assert!(source.len() > 8, "{check}");
        assert!(
            check["digits"].as_f64().is_some_and(|d| d >= 1.9),
            "{check}"
        );
    }
    let published = checks.iter().filter(|c| c["provenance"] == "published");
    assert!(published.count() >= 40);
}

#[test]
fn the_documentation_says_of_every_check_which_function_it_calls() {
    let bench = bench!();
    let document = bench.line("prove --json").exits(0).json();
    let checks = document["checks"].as_array().expect("checks");
    let page = include_str!("../../../host/docs/proof.md");
    let (_, table) = page.split_once("| check | calls |").expect("the table");
    let rows = table
        .lines()
        .skip(2)
        .take_while(|line| line.starts_with('|'));
    let told: BTreeSet<&str> = rows
        .flat_map(|row| row.split('|').nth(1).unwrap_or("").trim().split(", "))
        .collect();
    let made: BTreeSet<&str> = checks.iter().filter_map(|c| c["name"].as_str()).collect();
    assert_eq!(told, made);
}

/// Of a document nobody here has read the reader is told in whose words it was.
#[test]
fn a_source_read_in_a_quotation_says_so() {
    let bench = bench!();
    let shown = bench.line("prove").exits(0);
    for (document, by) in [
        ("AIAG", "mfgqc"),
        ("CMH-17-1G", "cmstatr"),
        ("US EPA 530/R-09-007", "EnvStats"),
        ("Cheshire and Baker", "cobs-c"),
        ("JCGM 100:2008, H.1", "GTC"),
        ("ISO 297", "a tool-holder catalogue"),
    ] {
        let told = |line: &&str| line.contains(document);
        let line = shown.out.lines().find(told);
        let line = line.unwrap_or_else(|| panic!("no {document}\n{shown}"));
        let (_, quoted) = line.split_once("quoted in ").expect(line);
        assert!(quoted.contains(by), "{line}");
    }
    assert!(
        !shown
            .out
            .contains("ISO 297 steep taper, 8° 17′ 50″ as printed")
    );
}

#[test]
fn nothing_the_program_says_is_left_out() {
    let bench = bench!();
    let document = bench.line("prove --json").exits(0).json();
    let names: BTreeSet<&str> = document["checks"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|check| check["name"].as_str())
        .collect();
    for name in [
        "units",
        "interval of a mean",
        "coverage factors",
        "tolerance bound",
        "quantiles",
        "outlier",
        "mean and scatter",
        "straight line",
        "load-cell deflection",
        "ill-conditioned regression",
        "analysis of variance",
        "uncertainty budget",
        "guard",
        "check sum",
        "byte stuffing",
        "frame",
        "counts to newtons",
        "one turn",
        "spindle and bar",
        "two heights",
        "taper",
        "load-cell calibration",
        "gauge study of ten parts",
        "force record",
        "trend",
    ] {
        assert!(names.contains(name), "{name} is not among {names:?}");
    }
}

#[test]
fn expected_stands_beside_computed_for_a_person() {
    let bench = bench!();
    let run = bench
        .line("prove")
        .exits(0)
        .shows("all agree")
        .shows("NIST StRD, Norris.dat (published)");
    let line = run
        .out
        .lines()
        .find(|line| line.contains("newtons in a pound"));
    let numbers = line.map(|line| line.matches("4.4482216152605").count());
    assert_eq!(numbers, Some(2), "{run}");
    let document = bench.line("prove --json").exits(0).json();
    assert_eq!(
        document["checks"][0]["expected"],
        Value::from(4.448_221_615_260_5)
    );
}
