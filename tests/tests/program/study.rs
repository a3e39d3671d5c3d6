//! Gauge studies from a table.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
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
        .shows("only where all parts are of one taper and class")
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
        .shows("came out below zero (-")
        .shows("e-1 um²)")
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
}

#[test]
fn a_study_that_cannot_see_its_scatter_is_not_called_good_and_one_too_large_is_refused() {
    let bench = bench!();
    let table = |value: &dyn Fn(&str, &str, u32) -> String| {
        let mut text = String::from("part,technician,trial,value_n\n");
        for part in ["A", "B"] {
            for technician in ["X", "Y"] {
                for trial in 1..=2 {
                    text += &format!(
                        "{part},{technician},{trial},{}\n",
                        value(part, technician, trial)
                    );
                }
            }
        }
        text
    };
    bench.file("same.csv", table(&|_, _, _| "5".to_owned()));
    let run = bench
        .line("study --from same.csv --tolerance 100")
        .exits(0)
        .shows("below the resolution");
    assert!(!run.out.contains(": good"), "{run}");
    bench.file(
        "huge.csv",
        table(&|part, _, trial| {
            if part == "B" && trial == 2 {
                "1e300"
            } else {
                "5"
            }
            .to_owned()
        }),
    );
    let run = bench.line("study --from huge.csv --json").exits(4);
    assert_eq!(run.json()["error"]["line"], 7, "{run}");
    assert_eq!(run.json()["error"]["column"], "value_n");
    bench.file(
        "one.csv",
        "part,technician,trial,value_n\nA,X,1,1\nA,X,2,1\nA,Y,1,1\nA,Y,2,2\n",
    );
    bench
        .line("study --from one.csv")
        .exits(4)
        .tells("one.csv: found 1 part, expected at least 2. A study needs");
}

/// Checks of two spindles by two technicians, typed into visits of a book.
fn check_by(bench: &Bench, technician: &str, spindle: &str, forces_kn: &str) {
    let head = ["--book", "yard.holdtrue", "--technician", technician];
    let start = ["visit", "start", "--spindle", spindle];
    bench.run(head.into_iter().chain(start)).exits(0);
    let grip = ["grip", "--store", "--readings", forces_kn, "--unit", "kN"];
    bench.run(head.into_iter().chain(grip)).exits(0);
    bench
        .run(head.into_iter().chain(["visit", "finish"]))
        .exits(0);
}

fn yard(bench: &Bench) {
    for spindle in ["Centre 1", "Centre 2"] {
        let head = ["--book", "yard.holdtrue", "--technician", "Technician A"];
        let add = ["spindle", "add", spindle, "--invented", "--interface"];
        bench
            .run(head.into_iter().chain(add).chain(["7/24 no. 40"]))
            .exits(0);
    }
    for (technician, more) in [("Technician A", 0.0), ("Technician B", 0.125)] {
        for (spindle, level) in [("Centre 1", 9.5), ("Centre 2", 8.0)] {
            for trial in [0.0, 0.0625] {
                let mean = level + more + trial;
                // the middle of these three is their mean
                let forces = format!("{} {mean} {}", mean - 0.25, mean + 0.25);
                check_by(bench, technician, spindle, &forces);
            }
        }
    }
}

#[test]
fn the_checks_in_the_book_give_the_study_their_table_would_give() {
    let bench = bench!();
    yard(&bench);
    let mut table = String::from("part,technician,trial,value_n\n");
    for (technician, more) in [("Technician A", 0.0), ("Technician B", 125.0)] {
        for (spindle, level) in [("Centre 1", 9_500.0), ("Centre 2", 8_000.0)] {
            for (trial, extra) in [(1, 0.0), (2, 62.5)] {
                table += &format!("{spindle},{technician},{trial},{}\n", level + more + extra);
            }
        }
    }
    bench.file("yard.csv", table);
    let by_table = bench.line("study --from yard.csv --json").exits(0).json();
    let by_book = bench
        .line("study --book yard.holdtrue --json")
        .exits(0)
        .json();
    let schema = bench.line("schema study").exits(0).json();
    assert_eq!(differences(&schema, &by_book), Vec::<String>::new());
    assert_eq!(by_book["figure"], "grip-mean");
    for each in ["parts", "technicians", "trials", "unit"] {
        assert_eq!(by_book[each], by_table[each], "{each}");
    }
    for source in ["repeatability", "reproducibility", "part", "total"] {
        let of = |document: &Value| share(document, source)["standard_deviation"].as_f64();
        let (book, file) = (
            of(&by_book).expect("a share"),
            of(&by_table).expect("a share"),
        );
        assert!(
            (book - file).abs() <= 1e-9 * file.max(1.0),
            "{source}: {book} {file}"
        );
    }
    bench
        .line("study --book yard.holdtrue --figure grip-lowest")
        .exits(0)
        .shows("lowest clamp")
        .shows("2 spindles by 2 technicians, 2 trials each");
}

#[test]
fn a_book_whose_checks_make_no_study_says_which_are_lacking() {
    let bench = bench!();
    yard(&bench);
    check_by(&bench, "Technician A", "Centre 1", "9.5 9.5 9.75");
    bench
        .line("study --book yard.holdtrue")
        .exits(4)
        .tells("Centre 1: Technician A 3, Technician B 2; Centre 2: Technician A 2, Technician B 2")
        .tells("--trials 2");
    bench
        .line("study --book yard.holdtrue --trials 2")
        .exits(0)
        .tells("1 older checks are left out");
    bench
        .line("study --book yard.holdtrue --trials 3")
        .exits(4)
        .tells("--trials 2");
    bench
        .line("study --book yard.holdtrue --figure seat")
        .exits(4)
        .tells("no check that gives the reseating repeatability");
    bench
        .line("study --book yard.holdtrue --spindle Centre-9")
        .exits(2)
        .tells("Centre 1, Centre 2");
    bench
        .line("study --book yard.holdtrue --until 2020-01-01")
        .exits(4)
        .tells("no check that gives the mean grip force");
    bench
        .line("study --book yard.holdtrue --gauge-alone")
        .exits(2);
    bench.line("study --book none.holdtrue").exits(6);
}
