//! Gauge studies from a table.

use holdtrue_tests::bench;
use holdtrue_tests::reference::Reference;
use holdtrue_tests::schema::differences;
use serde_json::Value;

fn ten_parts(file: &Reference) -> String {
    let mut table = String::from("technician,trial,part,value_n\n");
    let rows = file.at("/input/rows_appraiser_trial_by_part").as_array();
    for row in rows.into_iter().flatten() {
        let name = row["appraiser"].as_str().unwrap_or_default();
        for (part, value) in (1..).zip(row["values"].as_array().into_iter().flatten()) {
            table += &format!("Technician {name},{},part {part},{value}\n", row["trial"]);
        }
    }
    table
}

fn share<'a>(document: &'a Value, source: &str) -> &'a Value {
    let shares = document["shares"].as_array().into_iter().flatten();
    let mut found = shares.filter(|share| share["source"] == source);
    found
        .next()
        .unwrap_or_else(|| panic!("no {source} in {document:#}"))
}

#[test]
fn the_published_study_gives_the_published_shares() {
    let bench = bench!();
    let file = Reference::load("gauge_rr/aiag_msa_anova");
    bench.file("parts.csv", ten_parts(&file));
    let line = "study --from parts.csv --tolerance 8 --one-class --gauge-alone --json";
    let document = bench.line(line).exits(0).json();
    let schema = bench.line("schema study").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    assert_eq!(document["subject"], "gauge-alone");
    assert_eq!(document["interaction_kept"], false);
    file.check("p_interaction", document["table"]["interaction_p"].clone());
    file.check(
        "pooled_sd_grr",
        share(&document, "check")["standard_deviation"].clone(),
    );
    for (name, source) in [
        ("grr", "check"),
        ("repeatability", "repeatability"),
        ("reproducibility", "reproducibility"),
        ("part", "part"),
    ] {
        let percent = share(&document, source)["percent_of_variation"].clone();
        file.check(&format!("pooled_pct_study_{name}"), percent);
    }
    let of_tolerance = share(&document, "check")["percent_of_tolerance"].clone();
    file.check("pct_tolerance_grr_at_tolerance_8_k6", of_tolerance);
    file.check("pooled_ndc", document["distinct_categories"].clone());
}

#[test]
fn the_words_say_what_was_studied_and_what_was_set_to_zero() {
    let bench = bench!();
    let file = Reference::load("gauge_rr/aiag_msa_anova");
    bench.file("parts.csv", ten_parts(&file));
    bench
        .line("study --from parts.csv --tolerance 8 --gauge-alone")
        .exits(0)
        .shows("Gauge study of the gauge alone: 10 loads by 3 technicians, 3 trials each")
        .shows("THE GAUGE ALONE")
        .shows("of the tolerance");
    let whole = bench
        .line("study --from parts.csv")
        .exits(0)
        .shows("the whole check (gauge, spindle and hands)")
        .shows("not all parts are of one taper and class")
        .shows("no tolerance was given");
    assert!(!whole.out.contains("told apart"), "{whole}");
    // technicians that agree better than their own trials do
    let mut table = String::from("part,technician,trial,value_um\n");
    for (part, values) in [("A", [1.0, 3.0, 3.0, 1.0]), ("B", [5.0, 7.0, 7.0, 5.0])] {
        for (place, value) in values.iter().enumerate() {
            table += &format!(
                "{part},{},{},{value}\n",
                ["X", "Y"][place / 2],
                place % 2 + 1
            );
        }
    }
    bench.file("alike.csv", table);
    let run = bench
        .line("study --from alike.csv")
        .exits(0)
        .shows("came out below zero")
        .shows("set to zero")
        .shows("µm");
    assert!(!run.out.contains("-0."), "{run}");
}

#[test]
fn tables_that_make_no_study_are_refused_with_their_place() {
    let bench = bench!();
    let head = "part,technician,trial,value_n\n";
    let cells = "A,X,1,1\nA,X,2,2\nA,Y,1,1\nA,Y,2,2\nB,X,1,3\nB,X,2,4\nB,Y,1,3\n";
    bench.file("hole.csv", format!("{head}{cells}"));
    bench
        .line("study --from hole.csv")
        .exits(4)
        .tells("hole.csv")
        .tells("part B, technician Y");
    bench.file("twice.csv", format!("{head}{cells}A,X,1,1\n"));
    bench
        .line("study --from twice.csv")
        .exits(4)
        .tells("line 9, column trial")
        .tells("first in line 2");
    bench.file(
        "units.csv",
        "part,technician,trial,value_n,value_um\nA,X,1,1,1\n",
    );
    bench
        .line("study --from units.csv")
        .exits(4)
        .tells("value_um");
    bench.file("half.csv", format!("{head}A,X,1.5,1\n"));
    let run = bench.line("study --from half.csv --json").exits(4);
    assert_eq!(run.json()["error"]["line"], 2);
    assert_eq!(run.json()["error"]["column"], "trial");
    bench.line("study").exits(2);
}
