//! Push-out out of a table: `displacement_um` beside the force, judged by the maker's figure only.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::force::{Made, MadeClamp};
use serde_json::Value;

fn csv(push_out_mm: Option<f64>, forces_n: &[f64]) -> String {
    let clamps: Vec<MadeClamp> = forces_n
        .iter()
        .map(|force_n| MadeClamp::of(*force_n))
        .collect();
    let made = Made {
        push_out_mm,
        noise_n: 2.0,
        ..Made::default()
    };
    made.csv(&clamps)
}

const EVEN_N: [f64; 5] = [9_810.0, 9_790.0, 9_805.0, 9_795.0, 9_800.0];
const LOW_N: [f64; 5] = [5_810.0, 5_790.0, 5_805.0, 5_795.0, 5_800.0];

fn limits(bench: &Bench, provenance: &str) {
    let one = |side: &str, limit: f64| {
        format!(
            "[[limit]]\nfigure = \"push-out\"\nside = \"{side}\"\nlimit = {limit}\nunit = \"mm\"\n\
             provenance = \"{provenance}\"\nsource = \"sheet, page 4\"\n"
        )
    };
    bench.file(
        "limits.toml",
        format!(
            "schema = 1\ntitle = \"Centre 1\"\n[nominal]\nforce = 10\nunit = \"kN\"\nprovenance = \"maker\"\n\
             source = \"sheet, page 4\"\n{}{}",
            one("lower", 0.4),
            one("upper", 0.6)
        ),
    );
}

fn run(bench: &Bench, more: &str) -> Run {
    bench.line(&format!(
        "grip --from grip.csv --uncertainty-percent 0.5 --interface BT40 --drawbar disc-springs {more}"
    ))
}

fn outcomes(document: &Value) -> Vec<&str> {
    let limits = document["verdict"]["limits"].as_array().expect("limits");
    let rows = limits.iter().filter(|limit| limit["figure"] == "push-out");
    rows.filter_map(|row| row["outcome"].as_str()).collect()
}

#[test]
fn each_clamp_of_a_table_has_its_push_out_in_micrometres_and_in_millimetres() {
    let bench = bench!();
    let in_um = csv(Some(0.5), &EVEN_N);
    let rows = in_um.lines().skip(1).map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        let um: f64 = cells[2].parse().expect("a number");
        format!("{},{},{:.4}\n", cells[0], cells[1], um / 1e3)
    });
    let in_mm = format!(
        "time_s,force_n,displacement_mm\n{}",
        rows.collect::<String>()
    );
    for table in [in_um, in_mm] {
        bench.file("grip.csv", table);
        let document = run(&bench, "--json").exits(0).json();
        for clamp in document["clamps"].as_array().expect("clamps") {
            for figure in ["push_out_mm", "draw_in_mm"] {
                let mm = clamp[figure].as_f64().expect(figure);
                assert!((mm - 0.5).abs() < 1e-3, "{figure}: {mm}");
            }
        }
        run(&bench, "")
            .exits(0)
            .shows("push-out   drawn in")
            .shows("push-out (knock-out distance) 0.50 mm over 5 clamps");
    }
    bench.file("grip.csv", csv(None, &EVEN_N));
    let document = run(&bench, "--json").exits(0).json();
    assert!(document["clamps"][0]["push_out_mm"].is_null());
    let screen = run(&bench, "").exits(0);
    assert!(!screen.out.contains("push-out"), "{screen}");
}

#[test]
fn the_makers_figure_judges_it_and_nobody_elses_does() {
    let bench = bench!();
    limits(&bench, "common-practice");
    bench
        .line("limits check limits.toml")
        .exits(4)
        .tells("judged by the maker's figure only");
    limits(&bench, "maker");
    bench.line("limits check limits.toml").exits(0);
    for (push_out_mm, expected, code) in [
        (0.5, ["accept", "accept"], 0),
        (0.3, ["reject", "accept"], 1),
        (0.9, ["accept", "reject"], 1),
        (0.41, ["undecided", "accept"], 3),
        (0.0, ["reject", "accept"], 1),
    ] {
        bench.file("grip.csv", csv(Some(push_out_mm), &EVEN_N));
        let document = run(&bench, "--limits limits.toml --json")
            .exits(code)
            .json();
        assert_eq!(outcomes(&document), expected, "{push_out_mm}");
    }
    // Nothing read it: open, not forgotten.
    bench.file("grip.csv", csv(None, &EVEN_N));
    let run = run(&bench, "--limits limits.toml").exits(3);
    run.shows("nothing read the gauge's end face");
}

/// The table with each reading of the end face changed.
fn with_end_face(table: &str, change: impl Fn(f64) -> f64) -> String {
    let rows = table.lines().map(|line| {
        let (rest, um) = line.rsplit_once(',').expect("three columns");
        let um = um
            .parse()
            .map_or_else(|_| um.to_owned(), |um: f64| change(um).to_string());
        format!("{rest},{um}\n")
    });
    rows.collect()
}

/// None of these is a push-out; each would lie outside the maker's figure.
#[test]
fn what_no_drawbar_does_is_asked_about_and_not_rejected() {
    let bench = bench!();
    limits(&bench, "maker");
    let sound = csv(Some(0.5), &EVEN_N);
    type Change = fn(f64) -> f64;
    let cases: [(Change, &str, &str, i32); 4] = [
        (
            |um| -um,
            "has its sign reversed",
            "the sign in its certificate",
            3,
        ),
        (|_| 1_732.5, "moved by no more than", "freed", 1),
        (|um| um / 1e3, "in mm and called", "named by its unit", 1),
        (|um| um * 1e3, "in um and called", "named by its unit", 1),
    ];
    for (change, told, remedy, as_read) in cases {
        bench.file("grip.csv", with_end_face(&sound, change));
        let limited = run(&bench, "--limits limits.toml").exits(3);
        limited.shows(told).shows(remedy);
        let document = run(&bench, "--limits limits.toml --json").exits(3).json();
        assert!(document["clamps"][0]["push_out_mm"].is_null(), "{told}");
        // Somebody who was there may say that it was so; that it moved the other way nobody.
        run(&bench, "--limits limits.toml --as-read").exits(as_read);
        // Nothing limits it: said all the same.
        run(&bench, "").exits(0).shows(told);
    }
    // A force that is too low stays so.
    bench.file("grip.csv", with_end_face(&csv(Some(0.5), &LOW_N), |um| -um));
    let low = run(&bench, "--limits limits.toml --json").exits(1).json();
    assert_eq!(low["hints"][0]["cause"], "weak-springs", "{low:#}");
}

#[test]
fn a_low_force_is_put_down_to_what_the_push_out_says() {
    let bench = bench!();
    limits(&bench, "maker");
    for (push_out_mm, cause, words) in [
        (Some(0.5), "weak-springs", "as the maker states"),
        (Some(1.1), "drawbar-setting", "0.60 mm at most"),
        (Some(0.2), "unclamp-cylinder", "0.40 mm at least"),
        (None, "weak-springs", "Measure the push-out"),
    ] {
        bench.file("grip.csv", csv(push_out_mm, &LOW_N));
        let document = run(&bench, "--limits limits.toml --json").exits(1).json();
        assert_eq!(document["hints"][0]["cause"], cause, "{document:#}");
        run(&bench, "--limits limits.toml").exits(1).shows(words);
    }
    // Without the maker's figure it is told, and settles nothing.
    bench.file("grip.csv", csv(Some(1.1), &LOW_N));
    let more = "--nominal-n 10000 --limit-percent 70 --provenance maker --json";
    let document = run(&bench, more).exits(1).json();
    assert_eq!(document["hints"][0]["cause"], "weak-springs");
    assert!(
        document
            .to_string()
            .contains("push-out (knock-out distance) 1.10")
    );
}
