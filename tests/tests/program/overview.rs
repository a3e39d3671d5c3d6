//! Every spindle of the book, worst first.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;
use serde_json::Value;

fn told(bench: &Bench, line: &str, more: &[&str]) -> Vec<Value> {
    let document = bench.in_book(line, more).exits(0).json();
    let schema = bench.in_book("schema overview", &[]).exits(0).json();
    assert_eq!(
        differences(&schema, &document),
        Vec::<String>::new(),
        "{document:#}"
    );
    document["spindles"].as_array().cloned().unwrap_or_default()
}

fn names(spindles: &[Value]) -> Vec<&str> {
    spindles
        .iter()
        .filter_map(|spindle| spindle["name"].as_str())
        .collect()
}

fn visit(bench: &Bench, spindle: &str, day: &str, kn: &str) {
    let line = format!("visit start --date {day} --spindle");
    bench.in_book(&line, &[spindle]).exits(0);
    let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
    let judged = bench.in_book(grip, &[kn]);
    assert!(matches!(judged.code, 0 | 1 | 3), "{judged}");
    bench.in_book("visit finish", &[]).exits(0);
}

/// Entered best first: one steady, one that falls, one far too low, one never measured, one of another taper.
fn yard() -> Bench {
    let bench = bench!();
    for (name, more) in [
        (
            "Steady",
            "--interface BT40 --nominal-n 10000 --place Hall-1",
        ),
        (
            "Falling",
            "--interface BT40 --nominal-n 10000 --place Hall-1",
        ),
        ("Weak", "--interface BT40 --nominal-n 10000 --place Hall-2"),
        ("New", "--interface BT40 --place Hall-2"),
        ("Small", "--interface HSK-A63 --place Hall-2"),
    ] {
        bench
            .in_book(&format!("spindle add {more}"), &[name])
            .exits(0);
    }
    for (year, steady, falling) in [
        (
            2019,
            "10.1 10.2 10.15 10.1 10.2",
            "10.1 10.2 10.15 10.1 10.2",
        ),
        (2020, "10.15 10.2 10.15 10.1 10.25", "9.7 9.8 9.75 9.7 9.8"),
        (2021, "10.1 10.15 10.15 10.1 10.2", "9.3 9.4 9.35 9.3 9.45"),
        (2022, "10.15 10.2 10.1 10.1 10.2", "8.9 9.0 8.95 8.9 9.0"),
        (2023, "10.1 10.2 10.15 10.15 10.2", "8.5 8.6 8.55 8.5 8.62"),
    ] {
        visit(&bench, "Steady", &format!("{year}-05-12"), steady);
        visit(&bench, "Falling", &format!("{year}-05-13"), falling);
    }
    visit(&bench, "Weak", "2023-05-14", "4.1 4.2 4.15 4.1 4.2");
    visit(&bench, "Small", "2023-05-14", "17.1 17.2 17.15 17.1 17.2");
    bench
}

/// New springs begin a new series: the line of the old ones reaches no limit any more, and nothing is due by it.
#[test]
fn a_line_that_a_repair_ended_crosses_no_limit() {
    let bench = yard();
    let of_falling = |bench: &Bench| {
        let all = told(bench, "overview --on 2023-09-01 --json", &[]);
        let found = all.into_iter().find(|each| each["name"] == "Falling");
        found.expect("it is listed")
    };
    let before = of_falling(&bench);
    assert_eq!(before["why"], "runs-to-limit");
    let regular = of_falling(&bench)["next_visit_due"].clone();
    let springs = "spindle event --what springs-changed --on 2023-06-01";
    bench.in_book(springs, &["Falling"]).exits(0);
    let after = of_falling(&bench);
    assert_eq!(after["why"], "within-limit", "{after:#}");
    assert_eq!(after["crossing"], Value::Null);
    assert!(after["next_visit_due"].as_str() >= regular.as_str());
    let trend = bench.in_book("trend --spindle", &["Falling"]).exits(0);
    let trend = trend.shows("That was before: springs changed, 1 June 2023");
    assert!(!trend.out.contains("crosses the limit"), "{trend}");
    let history = bench.in_book("report --html years.html --spindle", &["Falling"]);
    history.exits(0);
    let page = std::fs::read_to_string(bench.path("years.html")).expect("the page");
    assert!(!page.contains("crosses the limit"));
}

/// What was noted without its clamps, at another height, or in no state, has its place in the history of the spindle, too.
#[test]
fn no_row_of_a_spindles_history_is_empty_where_something_was_read() {
    let bench = yard();
    bench
        .in_book("visit start --date 2023-08-01 --spindle", &["Steady"])
        .exits(0);
    bench
        .in_book("grip --peak 12kN --state as-found --store", &[])
        .exits(0);
    bench
        .in_book("runout --tir 40 --at bar --height-mm 80 --store", &[])
        .exits(0);
    bench.in_book("visit finish", &[]).exits(0);
    bench
        .in_book("report --html years.html --spindle", &["Steady"])
        .exits(0);
    let page = std::fs::read_to_string(bench.path("years.html")).expect("the page");
    let page = page.replace('\u{a0}', " ").replace("&#160;", " ");
    for told in ["at most 12.0", "40.0 µm at 80 mm (state not said)"] {
        assert!(page.contains(told), "no {told}: {page}");
    }
}

/// A figure of an older visit bears its day.
#[test]
fn a_figure_that_is_not_of_the_last_visit_bears_its_day() {
    let bench = yard();
    bench
        .in_book("visit start --date 2023-08-01 --spindle", &["Steady"])
        .exits(0);
    bench.in_book("visit finish", &[]).exits(0);
    let all = bench.in_book("overview --on 2023-09-01", &[]).exits(0);
    let all = all.out.replace('\u{a0}', " ");
    assert!(all.contains("as found on 12 May 2023 10.1"), "{all}");
    assert!(all.contains("as found 8.5"), "{all}");
}

#[test]
fn the_worst_spindle_comes_first_and_says_why() {
    let bench = yard();
    let all = told(&bench, "overview --on 2023-09-01 --json", &[]);
    assert_eq!(
        names(&all),
        ["Weak", "Falling", "New", "Small", "Steady"],
        "{all:#?}"
    );
    let why: Vec<&Value> = all.iter().map(|spindle| &spindle["why"]).collect();
    assert_eq!(
        why,
        [
            "outside-limit",
            "runs-to-limit",
            "not-measured",
            "not-judged",
            "within-limit"
        ]
    );
    let falling = &all[1];
    assert_eq!(falling["trend"], true);
    let slope = falling["slope_n_per_year"].as_f64().unwrap_or_default();
    assert!((slope + 400.0).abs() < 10.0, "{slope}");
    assert_eq!(falling["last_visit"]["at"], "2023-05-13");
    // The same as the trend of that spindle alone.
    let alone = bench
        .in_book("trend --json --spindle", &["Falling"])
        .exits(0)
        .json();
    assert_eq!(falling["crossing"], alone["crossing"]);
    assert!(falling["crossing"].is_object());
    assert_eq!(
        (&falling["among"]["from_lowest"], &falling["among"]["of"]),
        (&Value::from(2), &Value::from(3))
    );
    assert_eq!(all[3]["among"], Value::Null);
    assert_eq!(all[4]["next_visit_due"], "2024-05-12");
    assert_eq!(all[2]["next_visit_due"], Value::Null);
    bench
        .in_book("overview --on 2023-09-01", &[])
        .exits(0)
        .shows("5 spindles, worst first")
        .shows("Weak (7/24-40, Hall-2): outside limit")
        .shows("A gradual trend only. Broken springs, fingers or knobs give no warning.");
}

/// Two steady forces; the bar of one runs out more every year. What it is at the end says which is seen near the nose.
#[test]
fn a_runout_that_grows_to_its_limit_is_as_bad_as_a_force_that_falls() {
    let bench = bench!();
    for name in ["Straight", "Bent"] {
        bench
            .in_book("spindle add --interface BT40 --nominal-n 10000", &[name])
            .exits(0);
    }
    for (year, um) in (2019..2025).zip([8.0, 10.1, 11.8, 14.2, 16.0, 18.1]) {
        for (name, um) in [("Straight", 8.0 + 0.1 * (um % 1.0)), ("Bent", um)] {
            let line = format!("visit start --date {year}-05-12 --spindle");
            bench.in_book(&line, &[name]).exits(0);
            let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
            bench.in_book(grip, &["10.1 10.2 10.15 10.1 10.2"]).exits(0);
            for (height, share) in [(20, 0.3), (300, 1.0)] {
                let line = format!(
                    "runout --store --state as-found --at bar --height-mm {height} --uncertainty-um 1 --limit-um 25 --tir"
                );
                bench
                    .in_book(&line, &[&format!("{:.2}", share * um)])
                    .exits(0);
            }
            bench.in_book("visit finish --yes", &[]).exits(0);
        }
    }
    let line = "overview --on 2024-06-01";
    let spindles = told(&bench, &format!("{line} --json"), &[]);
    assert_eq!(names(&spindles), ["Bent", "Straight"]);
    let bent = &spindles[0];
    assert_eq!(bent["why"], "runs-to-limit");
    assert_eq!(
        (&bent["crossing"], &bent["trend"]),
        (&Value::Null, &false.into())
    );
    let runout = &bent["runout"];
    assert_eq!(
        (&runout["figure"], &runout["tir_um"]),
        (&"bar".into(), &18.1.into())
    );
    assert_eq!(runout["limit"]["value"], 25.0);
    let slope = runout["slope_um_per_year"].as_f64().expect("a line");
    assert!((slope - 2.0).abs() < 0.2, "{slope}");
    let followed = bench
        .in_book("trend --figure bar --json --spindle Bent", &[])
        .exits(0)
        .json();
    assert_eq!(runout["crossing"], followed["crossing"]);
    assert_eq!(
        bent["next_visit_due"], "2025-05-12",
        "sooner than the crossing"
    );
    assert_eq!(spindles[1]["why"], "within-limit");
    assert_eq!(spindles[1]["runout"]["crossing"], Value::Null);
    bench
        .in_book(line, &[])
        .exits(0)
        .shows("TIR of the bar farthest out as found 18.1\u{a0}µm, limit 25.0\u{a0}µm")
        .shows("rises by 2.0\u{a0}µm a year")
        .shows("limit crossed about");
    let table = bench.in_book(&format!("{line} --csv"), &[]).exits(0).out;
    let mut rows = table
        .lines()
        .map(|line| line.split(',').collect::<Vec<_>>());
    let (head, bent) = (rows.next().expect("a head"), rows.next().expect("a row"));
    let cell = |name: &str| bent[head.iter().position(|each| *each == name).expect(name)];
    assert_eq!((cell("runout_figure"), cell("runout_um")), ("bar", "18.1"));
    assert_eq!((cell("crossing"), cell("runout_trend")), ("", "1"));
    assert_eq!(runout["crossing"]["estimate"], cell("runout_crossing"));
    // After the day it is told to cross the line has crossed.
    let spindles = told(&bench, "overview --on 2030-01-01 --json", &[]);
    assert_eq!(
        (&spindles[0]["name"], &spindles[0]["why"]),
        (&"Bent".into(), &"crossed".into())
    );
}

/// A cracked finger is no figure: a spindle within all its limits that must not run is not the last of the list.
#[test]
fn what_is_to_be_put_right_before_the_next_run_puts_a_spindle_up_until_it_is_found_in_order() {
    let bench = yard();
    let line = "overview --on 2023-09-01";
    let steady = |bench: &Bench| {
        let all = told(bench, &format!("{line} --json"), &[]);
        let place = names(&all).iter().position(|name| *name == "Steady");
        let place = place.expect("it is listed");
        (place, all[place].clone())
    };
    let look = |day: &str, found: &[(&str, &str)]| {
        let start = format!("visit start --date {day} --spindle Steady");
        bench.in_book(&start, &[]).exits(0);
        for (how, item) in found {
            let add = format!("finding add --assembly gripper --item {item} {how}");
            bench.in_book(&add, &[]).exits(0);
        }
        bench.in_book("visit finish --yes", &[]).exits(0);
    };
    let (_, before) = steady(&bench);
    assert_eq!(before["open_findings"], Value::Array(Vec::new()));
    look(
        "2023-06-01",
        &[
            ("--severity later dull", "keys"),
            ("--severity before-use cracked", "fingers"),
            ("--severity note oily", "bore"),
        ],
    );
    let (place, found) = steady(&bench);
    // Only what is outside its limit stands before it.
    assert_eq!((place, &found["why"]), (1, &"before-next-run".into()));
    let open = found["open_findings"].as_array().expect("a list");
    let items: Vec<&Value> = open.iter().map(|finding| &finding["item"]).collect();
    assert_eq!(items, ["fingers", "keys"]);
    assert_eq!(found["next_visit_due"], "2023-06-01");
    bench
        .in_book(line, &[])
        .exits(0)
        .shows("Steady (7/24-40, Hall-1): a finding is to be put right before the next run")
        .shows("before next run: gripper, fingers: cracked, seen 1 June 2023")
        .shows("1 more finding open");
    let table = bench.in_book(&format!("{line} --csv"), &[]).exits(0).out;
    assert!(
        table.lines().nth(2).expect("a row").ends_with(",2,1"),
        "{table}"
    );
    // Struck at a visit that is finished, it counts until an amendment takes that up.
    let strike = "finding strike 2 --because a-scratch";
    bench.in_book(strike, &[]).exits(0);
    assert_eq!(steady(&bench).1["why"], "before-next-run");
    bench
        .in_book("finding strike 2 --lift --because cracked-after-all", &[])
        .exits(0);
    look("2023-07-01", &[("--in-order", "fingers")]);
    let (_, mended) = steady(&bench);
    assert_eq!(before["why"], "within-limit");
    // Nothing was measured at either visit.
    assert_eq!(mended["why"], "last-not-judged");
    assert_eq!(mended["open_findings"][0]["item"], "keys");
    bench.in_book(line, &[]).exits(0).shows("1 finding open");
}

#[test]
fn what_is_due_hangs_on_the_day_and_filters_leave_the_rest_out() {
    let bench = yard();
    let due = |day: &str| told(&bench, &format!("overview --due --json --on {day}"), &[]);
    assert_eq!(names(&due("2023-06-01")), ["Weak"]);
    assert_eq!(
        names(&due("2024-06-01")),
        ["Weak", "Falling", "Small", "Steady"]
    );
    let some = |more: &str| {
        told(
            &bench,
            &format!("overview --on 2023-09-01 --json {more}"),
            &[],
        )
    };
    assert_eq!(names(&some("--place hall-1")), ["Falling", "Steady"]);
    assert_eq!(names(&some("--interface hsk63a")), ["Small"]);
    assert_eq!(names(&some("--interface BT30")), Vec::<&str>::new());
    let table = bench
        .in_book("overview --on 2023-09-01 --csv", &[])
        .exits(0)
        .out;
    let rows: Vec<&str> = table.lines().collect();
    assert_eq!(rows.len(), 6, "{table}");
    assert!(
        rows[0].starts_with("name,place,taper") && rows[1].starts_with("Weak,Hall-2,7/24-40"),
        "{table}"
    );
    bench.line("overview").exits(6);
}

#[test]
fn a_second_set_does_not_hide_that_the_first_was_outside() {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40 --nominal-n 10000", &["Twice"])
        .exits(0);
    bench
        .in_book("visit start --date 2023-05-14 --spindle", &["Twice"])
        .exits(0);
    let as_found = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
    let as_left = as_found.replace("as-found", "as-left");
    let outcome = || {
        let overview = told(&bench, "overview --on 2023-06-01 --json", &[]);
        let visit = overview[0]["last_visit"]["outcome"].clone();
        let status = bench.in_book("visit status --json", &[]).exits(0).json();
        assert_eq!(visit, status["visit"]["outcome"], "{status:#}");
        visit
    };
    bench.in_book(as_found, &["4.1 4.2 4.15 4.1 4.2"]).exits(1);
    bench.in_book(as_found, &["9.8 9.9 9.85 9.8 9.9"]).exits(0);
    assert_eq!(outcome(), "reject");
    bench.in_book(&as_left, &["9.8 9.9 9.85 9.8 9.9"]).exits(0);
    assert_eq!(outcome(), "accept");
}

#[test]
fn the_next_visit_is_due_after_the_months_of_the_flag_else_of_the_settings() {
    let bench = yard();
    let due = |line: &str| {
        let all = told(&bench, line, &[]);
        let steady = all.iter().find(|spindle| spindle["name"] == "Steady");
        steady.map(|steady| steady["next_visit_due"].clone())
    };
    assert_eq!(due("overview --json"), Some("2024-05-12".into()));
    let set = bench.line("settings --every-months 6 --json").exits(0);
    assert_eq!(set.json()["every_months"], 6);
    assert_eq!(due("overview --json"), Some("2023-11-12".into()));
    assert_eq!(due("overview --every 24 --json"), Some("2025-05-12".into()));
    bench.line("settings --forget every-months").exits(0);
    assert_eq!(due("overview --json"), Some("2024-05-12".into()));
    for months in ["0", "121", "-3", "six"] {
        bench
            .line(&format!("settings --every-months={months}"))
            .exits(2);
    }
}

#[test]
fn a_visit_that_measured_something_else_takes_no_rejection_back() {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40 --nominal-n 10000", &["Once"])
        .exits(0);
    let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
    let bar = "runout --store --state as-found --unit um --positions 8 --at bar --height-mm 300 --uncertainty-um 0.5 --limit-um 15 --readings";
    let visit = |day: &str, check: Option<(&str, &str, i32)>| {
        bench
            .in_book(&format!("visit start --date {day} --spindle"), &["Once"])
            .exits(0);
        if let Some((line, figures, code)) = check {
            bench.in_book(line, &[figures]).exits(code);
        }
        bench.in_book("visit finish", &[]).exits(0);
        let all = told(&bench, "overview --on 2023-12-01 --json", &[]);
        (
            all[0]["why"].clone(),
            all[0]["verdict"]["at"].clone(),
            all[0]["last_visit"]["outcome"].clone(),
        )
    };
    let (weak, strong) = ("4.1 4.2 4.15 4.1 4.2", "9.8 9.9 9.85 9.8 9.9");
    let outside = |last: Value| ("outside-limit".into(), "2023-05-14".into(), last);
    assert_eq!(
        visit("2023-05-14", Some((grip, weak, 1))),
        outside("reject".into())
    );
    assert_eq!(visit("2023-06-14", None), outside(Value::Null));
    assert_eq!(
        visit("2023-07-14", Some((bar, "4 3 0 -3 -4 -3 0 3 4", 0))),
        outside("accept".into())
    );
    bench
        .in_book("overview --on 2023-12-01", &[])
        .shows("outside limit, by the visit of 14 May 2023");
    let (why, _, _) = visit("2023-08-14", Some((grip, strong, 0)));
    assert_eq!(why, "within-limit");
}

#[test]
fn what_was_never_judged_is_not_said_to_be_within_limit() {
    let bench = yard();
    bench
        .in_book("visit start --date 2023-05-15 --spindle", &["New"])
        .exits(0);
    bench
        .in_book("finding add --item wall --in-order", &[])
        .exits(0);
    bench.in_book("visit finish", &[]).exits(0);
    let grip = "grip --store --state as-found --unit kN --readings";
    bench
        .in_book("spindle edit Small --nominal-n 18000", &[])
        .exits(0);
    bench
        .in_book("visit start --date 2023-05-15 --spindle", &["Small"])
        .exits(0);
    bench.in_book(grip, &["17.1 17.2 17.15"]).exits(0);
    bench
        .in_book("visit finish", &[])
        .exits(0)
        .tells("was not judged.");
    let why = |on: &str| -> Vec<(String, String)> {
        let all = told(&bench, &format!("overview --json --on {on}"), &[]);
        let each = all.iter().map(|each| {
            let text = |key: &str| each[key].as_str().unwrap_or_default().to_owned();
            (text("name"), text("why"))
        });
        each.filter(|(name, _)| ["New", "Small", "Steady"].contains(&name.as_str()))
            .collect()
    };
    let pairs = |told: [(&str, &str); 3]| told.map(|(name, why)| (name.into(), why.into()));
    assert_eq!(
        why("2023-09-01"),
        pairs([
            ("Small", "not-judged"),
            ("New", "not-judged"),
            ("Steady", "within-limit")
        ])
    );
    assert_eq!(
        why("2024-09-01"),
        pairs([
            ("Small", "due-not-judged"),
            ("New", "due-not-judged"),
            ("Steady", "due")
        ])
    );
    let shown = bench.in_book("overview --on 2024-09-01", &[]).exits(0);
    let line = |name: &str| {
        let mut lines = shown.out.lines();
        lines.find(|line| line.contains(name)).map(str::to_owned)
    };
    for name in ["New (", "Small ("] {
        let line = line(name).unwrap_or_default();
        assert!(
            line.ends_with(": not judged, a visit or calibration is due"),
            "{line}"
        );
    }
    assert!(
        line("Steady").is_some_and(|line| line.contains(": within limit, a visit")),
        "{shown}"
    );
}

#[test]
fn what_was_struck_after_the_end_counts_until_an_amendment_takes_it_up() {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40 --nominal-n 10000", &["Once"])
        .exits(0);
    let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
    let stands = || {
        let all = told(&bench, "overview --on 2023-06-01 --json", &[]);
        let later = &all[0]["struck_later"][0];
        let sets = match &later["whole"] {
            Value::Bool(true) => "whole".into(),
            _ => later["sets"].clone(),
        };
        (
            all[0]["why"].clone(),
            all[0]["last_visit"]["outcome"].clone(),
            sets,
        )
    };
    let trend = || {
        let told = bench.in_book("trend --json --spindle Once", &[]).json();
        told["series"].as_array().map(Vec::len)
    };
    bench
        .in_book("visit start --date 2023-05-14 --spindle", &["Once"])
        .exits(0);
    bench.in_book(grip, &["4.1 4.2 4.15 4.1 4.2"]).exits(1);
    bench.in_book(grip, &["9.8 9.9 9.85 9.8 9.9"]).exits(0);
    bench.in_book("visit finish", &[]).exits(0);
    let outside = |sets: Value| ("outside-limit".into(), "reject".into(), sets);
    assert_eq!(stands(), outside(Value::Null));
    for (strike, sets) in [
        ("visit strike", Value::from("whole")),
        ("check strike 1", 1.into()),
    ] {
        let strike = |more: &str| {
            bench
                .in_book(&format!("{strike} --because bumped {more}"), &[])
                .exits(0)
        };
        strike("").shows("counts once holdtrue visit amend");
        assert_eq!(stands(), outside(sets));
        assert_eq!(trend(), Some(1));
        for line in ["overview", "spindle show Once"] {
            bench
                .in_book(line, &[])
                .exits(0)
                .shows("until holdtrue visit amend takes that up");
        }
        bench
            .in_book("trend --spindle Once", &[])
            .tells("is followed until then");
        strike("--lift");
        assert_eq!(stands(), outside(Value::Null));
    }
    bench
        .in_book("check strike 1 --because bumped", &[])
        .exits(0);
    bench.in_book("visit amend --because bumped", &[]).exits(0);
    assert_eq!(
        stands(),
        ("within-limit".into(), "accept".into(), Value::Null)
    );
    bench
        .in_book("spindle show Once", &[])
        .exits(0)
        .shows("struck out: bumped");
}

/// What a visit with a first set as found and a second as left comes to, and its spindle after it.
fn found_and_left(bench: &Bench, found: &str, left: &str) -> String {
    bench
        .in_book("spindle add --interface BT40 --nominal-n 10000", &["Twice"])
        .exits(0);
    bench.in_book("visit start --spindle Twice", &[]).exits(0);
    for (line, state) in [(found, "as-found"), (left, "as-left")] {
        let (line, readings) = line.split_once(" = ").unwrap_or((line, ""));
        let values: &[&str] = match readings {
            "" => &[],
            readings => &["--readings", readings],
        };
        bench.in_book(&format!("{line} --store --state {state}"), values);
    }
    let status = bench.in_book("visit status --json", &[]).exits(0).json();
    let outcome = status["visit"]["outcome"].clone();
    bench.in_book("visit finish --yes", &[]).exits(0);
    let all = told(bench, "overview --json", &[]);
    assert_eq!(all[0]["verdict"]["outcome"], outcome, "{all:#?}");
    bench.in_book("recheck", &[]).exits(0);
    outcome.as_str().unwrap_or_default().to_owned()
}

#[test]
fn a_set_as_left_answers_only_where_it_was_read_and_only_by_a_decision() {
    let at = |at: &str, readings: &str| {
        let height_mm = if at == "wall" { -8 } else { 8 };
        format!(
            "runout --unit um --positions 8 --at {at} --height-mm={height_mm} --uncertainty-um 0.5 --limit-um 10 = {readings}"
        )
    };
    let (bad, good) = ("0 9 12 9 0 -9 -12 -9 0", "0.1 2 3.1 2.1 0 -2.2 -3 -2 0.1");
    let near = "0 3.5 5 3.5 0 -3.5 -5 -3.5 0";
    for (found, left, comes_to) in [
        ("bar", at("bar", good), "accept"),
        ("bar", at("axial", good), "reject"),
        ("bar", at("face", good), "reject"),
        ("wall", at("bar", good), "reject"),
        ("axial", at("wall", good), "reject"),
        ("bar", at("bar", near), "reject"),
    ] {
        let outcome = found_and_left(&bench!(), &at(found, bad), &left);
        assert_eq!(outcome, comes_to, "{found}, then {left}");
    }
}

#[test]
fn a_drop_is_answered_by_a_set_in_which_it_could_be_seen() {
    let file = |bench: &Bench, name: &str, drop_n_per_s: f64, last_hold_s: f64| {
        let mut clamps: Vec<MadeClamp> = [9_400.0, 9_430.0, 9_380.0, 9_410.0, 9_390.0]
            .into_iter()
            .map(|force_n| MadeClamp {
                drop_n_per_s,
                ..MadeClamp::of(force_n)
            })
            .collect();
        clamps[4].hold_s = last_hold_s;
        bench.file(name, Made::default().csv(&clamps));
    };
    for (left, comes_to) in [
        ("grip --from long.csv", "accept"),
        ("grip --from short.csv", "undecided"),
        ("grip --unit kN = 9.4 9.43 9.38 9.41 9.39", "undecided"),
    ] {
        let bench = bench!();
        file(&bench, "drop.csv", 62.0, 30.0);
        file(&bench, "long.csv", 0.0, 30.0);
        file(&bench, "short.csv", 0.0, 5.0);
        let (line, readings) = left.split_once(" = ").unwrap_or((left, ""));
        let held = |line: &str| format!("{line} --uncertainty-percent 0.5 = {readings}");
        let found = "grip --from drop.csv --uncertainty-percent 0.5";
        assert_eq!(
            found_and_left(&bench, found, &held(line)),
            comes_to,
            "{left}"
        );
    }
}

#[test]
fn a_set_repeated_as_left_until_it_was_within_says_so_on_screen_and_paper() {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40 --nominal-n 10000", &["Often"])
        .exits(0);
    bench.in_book("visit start --spindle Often", &[]).exits(0);
    let grip = |state: &str, kn: &str, code: i32| {
        let line = format!("grip --store --state {state} --unit kN --uncertainty-percent 1");
        bench
            .in_book(&format!("{line} --readings"), &[kn])
            .exits(code);
    };
    let (weak, strong) = ("6.0 6.1 5.9 6.05 5.95", "9.8 9.9 9.85 9.8 9.9");
    let said = || {
        let shown = bench.in_book("visit status", &[]).exits(0).out;
        shown.contains("third set as left, two before it outside")
    };
    grip("as-found", weak, 1);
    grip("as-left", weak, 1);
    grip("as-left", weak, 1);
    assert!(!said());
    grip("as-left", strong, 0);
    assert!(said());
    let finished = bench.in_book("visit finish", &[]).exits(0);
    finished.shows("third set as left, two before it outside");
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).unwrap_or_default();
    assert!(page.contains("third set as left, two before it outside."));
}

fn page(bench: &Bench) -> String {
    bench
        .in_book("report --html page.html --overwrite", &[])
        .exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    let (_, body) = page.split_once("<body").expect("a body");
    let text = body.split('<').filter_map(|part| part.split_once('>'));
    let text: Vec<&str> = text.map(|(_, text)| text.trim()).collect();
    text.join(" ")
}

#[test]
fn an_amended_verdict_is_the_one_that_stands() {
    let bench = bench!();
    let nominal = |n: &str| {
        bench
            .in_book(&format!("spindle edit Once --nominal-n {n}"), &[])
            .exits(0)
    };
    let amend = || bench.in_book("visit amend --because plate", &[]).exits(0);
    let why = || {
        let all = told(&bench, "overview --on 2023-06-01 --json", &[]);
        let verdict = &all[0]["verdict"];
        let last = &all[0]["last_visit"]["outcome"];
        assert_eq!(&verdict["outcome"], last, "{all:#?}");
        [&all[0]["why"], last, &verdict["as_amended"]].map(Value::to_string)
    };
    let is = |why: &str, outcome: &str, amended: bool| {
        [
            format!("\"{why}\""),
            format!("\"{outcome}\""),
            amended.to_string(),
        ]
    };
    bench
        .in_book("spindle add --interface BT40 --nominal-n 8000", &["Once"])
        .exits(0);
    visit(&bench, "Once", "2023-05-14", "6.0 6.05 6.0 5.98 6.02");
    assert_eq!(why(), is("within-limit", "accept", false));
    nominal("10kN");
    assert_eq!(why(), is("limit-overtaken", "accept", false));
    bench
        .in_book("overview --on 2023-06-01", &[])
        .exits(0)
        .shows("holdtrue visit amend judges it by the one known now")
        .shows("next visit due 14 May 2023");
    amend().shows("amended: outside limit");
    assert_eq!(why(), is("outside-limit", "reject", true));
    bench
        .in_book("overview --on 2023-06-01", &[])
        .exits(0)
        .shows("as amended")
        .shows("next visit due 14 May 2023");
    bench
        .in_book("spindle show Once", &[])
        .exits(0)
        .shows("by an amendment");
    let paper = page(&bench);
    assert!(
        paper.contains(
            "amended after the visit was finished, by the limit known then: outside limit"
        ),
        "{paper}"
    );
    // The other way, and back again: it is never judged by a limit that no longer is its spindle's.
    nominal("8kN");
    assert_eq!(why(), is("outside-limit", "reject", true));
    amend().shows("amended: within limit");
    assert_eq!(why(), is("within-limit", "accept", true));
    nominal("10kN");
    amend().shows("amended: outside limit");
    assert_eq!(why(), is("outside-limit", "reject", true));
}

#[test]
fn a_set_that_a_merge_brings_after_the_end_is_told_and_its_spindle_is_due() {
    for (there, told_of) in [
        ("6.0 6.05 6.0 5.98 6.02", Some("outside limit")),
        ("7.05 7.1 7.05 7.1 7.05", Some("undecided")),
        ("9.9 9.95 9.9 9.85 9.9", None),
    ] {
        let bench = bench!();
        let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
        bench
            .in_book("spindle add --interface BT40 --nominal-n 10000", &["Once"])
            .exits(0);
        bench
            .in_book("visit start --date 2023-05-14 --spindle", &["Once"])
            .exits(0);
        bench.in_book("book backup there.holdtrue", &[]).exits(0);
        let words = ["--book", "there.holdtrue", "--technician", "Technician B"];
        bench.run(words.into_iter().chain(grip.split(' ')).chain([there]));
        bench.in_book(grip, &["9.8 9.9 9.85 9.8 9.9"]).exits(0);
        bench.in_book("visit finish", &[]).exits(0);
        bench.in_book("book merge there.holdtrue", &[]).exits(0);
        let all = told(&bench, "overview --on 2023-06-01 --json", &[]);
        let overview = bench.in_book("overview --on 2023-06-01", &[]).exits(0);
        assert_eq!(all[0]["added_later"][0]["by"], "Technician B", "{all:#?}");
        let overview = overview.shows("it counts nowhere");
        assert_eq!(all[0]["last_visit"]["outcome"], "accept");
        let due = match told_of {
            Some(outcome) => {
                assert!(overview.out.contains(outcome), "{overview}");
                assert_eq!(all[0]["why"], "added-later", "{overview}");
                "2023-05-14"
            }
            None => {
                assert_eq!(all[0]["why"], "within-limit", "{overview}");
                "2024-05-14"
            }
        };
        assert_eq!(all[0]["next_visit_due"], due, "{overview}");
        bench
            .in_book("spindle show Once", &[])
            .exits(0)
            .shows("added after the visit was finished: a result");
        // A visit of its own settles it.
        visit(&bench, "Once", "2023-05-20", "9.8 9.9 9.85 9.8 9.9");
        let all = told(&bench, "overview --on 2023-06-01 --json", &[]);
        assert_eq!(all[0]["why"], "within-limit", "{all:#?}");
    }
}

#[test]
fn the_paper_says_of_each_set_what_it_came_to() {
    let record = |bench: &Bench, name: &str, drop_n_per_s: f64, last_hold_s: f64| {
        let mut clamps = [9_800.0, 9_830.0, 9_780.0, 9_810.0, 9_790.0].map(|force_n| MadeClamp {
            drop_n_per_s,
            hold_s: if drop_n_per_s > 0.0 { 12.0 } else { 5.0 },
            ..MadeClamp::of(force_n)
        });
        clamps[4].hold_s = last_hold_s;
        bench.file(name, Made::default().csv(&clamps));
    };
    let held = |name: &str| format!("grip --from {name} --uncertainty-percent 0.5");
    let after = |left_hold_s: f64| {
        let bench = bench!();
        record(&bench, "drop.csv", 98.0, 12.0);
        record(&bench, "left.csv", 0.0, left_hold_s);
        let outcome = found_and_left(&bench, &held("drop.csv"), &held("left.csv"));
        (outcome, page(&bench))
    };
    let (outcome, paper) = after(30.0);
    assert_eq!(outcome, "accept");
    for said in ["Within limit; before: undecided", "As found: "] {
        assert!(paper.contains(said), "{said}: {paper}");
    }
    assert!(!paper.contains("before and after"), "{paper}");
    // Held too short to see the drop: two sets that came to two things, each by its name.
    let (outcome, paper) = after(5.0);
    assert_eq!(outcome, "undecided");
    for said in [
        "Grip force as found is undecided, which is not a pass.",
        "Grip force as left is within its limit.",
    ] {
        assert!(paper.contains(said), "{said}: {paper}");
    }
}

#[test]
fn sets_that_are_all_struck_out_were_measured_all_the_same() {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40 --nominal-n 10000", &["Once"])
        .exits(0);
    bench
        .in_book("visit start --date 2023-05-14 --spindle", &["Once"])
        .exits(0);
    let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
    bench.in_book(grip, &["6.0 6.05 6.0 5.98 6.02"]).exits(1);
    bench
        .in_book("check strike 1 --because bumped", &[])
        .exits(0);
    bench.in_book("visit finish", &[]).exits(0);
    let paper = page(&bench);
    assert!(paper.contains("No set counts"), "{paper}");
    assert!(!paper.contains("Neither grip force nor runout"), "{paper}");
    bench
        .in_book("overview", &[])
        .exits(0)
        .shows("a grip set outside its limit is struck out: bumped");
}

#[test]
fn a_laxer_limit_at_a_later_visit_takes_no_rejection_back() {
    for (limit, why, says) in [
        ("5000", "outside-limit", "by limits as strict"),
        ("7000", "outside-limit", "outside limit"),
        ("5900", "outside-limit", "outside limit"),
    ] {
        let bench = bench!();
        bench
            .in_book("spindle add --interface BT40", &["Once"])
            .exits(0);
        for (day, limit) in [("2023-05-14", "7000"), ("2024-05-14", limit)] {
            bench
                .in_book(&format!("visit start --date {day} --spindle Once"), &[])
                .exits(0);
            let grip = format!(
                "grip --store --state as-found --unit kN --uncertainty-percent 1 --limit-n {limit} --readings"
            );
            bench.in_book(&grip, &["6.0 6.05 6.0 5.98 6.02"]);
            bench.in_book("visit finish", &[]).exits(0);
        }
        let all = told(&bench, "overview --on 2024-06-01 --json", &[]);
        assert_eq!(all[0]["why"], why, "{limit}: {all:#?}");
        bench
            .in_book("overview --on 2024-06-01", &[])
            .exits(0)
            .shows(says);
    }
}

/// What was taken out of sight with something open, and what was never given a spindle, is counted.
#[test]
fn what_is_not_listed_is_counted_where_something_is_open() {
    let bench = bench!();
    for name in ["Weak", "Worn", "Sound"] {
        bench
            .in_book("spindle add --interface BT40 --nominal-n 10000", &[name])
            .exits(0);
    }
    visit(&bench, "Weak", "2024-05-12", "4.0 4.1 4.05 4.0 4.1");
    visit(&bench, "Sound", "2024-05-12", "10.1 10.2 10.15 10.1 10.2");
    bench
        .in_book("visit start --date 2024-05-13 --spindle Worn", &[])
        .exits(0);
    bench
        .in_book("finding add --item fingers --severity soon cracked", &[])
        .exits(0);
    bench.in_book("visit finish", &[]).exits(0);
    let before = bench.in_book("overview --on 2024-06-01", &[]).exits(0);
    assert!(!before.out.contains("Not listed"), "{before}");
    for name in ["Weak", "Worn", "Sound"] {
        bench
            .run([
                "--book",
                "yard.holdtrue",
                "spindle",
                "edit",
                name,
                "--remove",
                "sold",
            ])
            .exits(0);
    }
    bench.in_book("visit start --date 2024-05-14", &[]).exits(0);
    let told = bench.in_book("overview --on 2024-06-01", &[]).exits(0);
    assert!(!told.out.contains("Sound"), "{told}");
    told.shows("2 hidden")
        .shows("Weak: outside limit")
        .shows("Worn: not judged, 1 finding open")
        .shows("1 visit is of no spindle;");
    let document = bench
        .in_book("overview --on 2024-06-01 --json", &[])
        .exits(0)
        .json();
    let schema = bench.in_book("schema overview", &[]).exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    assert_eq!(document["unnamed_visits"], 1);
    assert_eq!(document["hidden"].as_array().map(Vec::len), Some(2));
}

/// A spindle within the maker's minimum of 7 kN, finished on 14 May 2023; its next visit is begun.
fn within_seven() -> Bench {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40 --minimum-n 7000", &["Once"])
        .exits(0);
    visit(&bench, "Once", "2023-05-14", "9.9 9.8 10.0 9.95 9.85");
    bench
        .in_book("visit start --date 2023-11-20 --spindle Once", &[])
        .exits(0);
    bench
}

fn cells(bench: &Bench, line: &str, wanted: &[&str]) -> Vec<String> {
    let table = bench.in_book(line, &[]).exits(0).out;
    let mut rows = table.lines().map(|line| line.split(','));
    let (head, row) = (rows.next().expect("a head"), rows.next().expect("a row"));
    let cells: Vec<(&str, &str)> = head.zip(row).collect();
    let cell = |name: &&str| {
        let found = cells.iter().find(|(head, _)| head == name);
        found.expect(name).1.to_owned()
    };
    wanted.iter().map(cell).collect()
}

#[test]
fn a_verdict_of_an_older_visit_is_never_headed_as_that_of_the_last() {
    const LOW: &str = "6.1 6.0 6.2 6.15 6.05 kN";
    let told_at = "--uncertainty-percent 0.5 --state as-found";
    let beyond = "its newest figure is beyond the limit known now, and not judged";
    let by_older = "last visit not judged; within limit by the visit of 14 May 2023";
    for (set, values, heading) in [
        (
            "grip --state as-found --readings".to_owned(),
            &[LOW][..],
            beyond,
        ),
        ("grip --state as-left --readings".to_owned(), &[LOW], beyond),
        ("grip --readings".to_owned(), &[LOW], beyond),
        (format!("grip --mean 6.0kN {told_at}"), &[], beyond),
        (format!("grip --peak 6.0kN {told_at}"), &[], beyond),
        (
            "grip --state as-found --readings".to_owned(),
            &["9.1 9.0 9.2 9.15 9.05 kN"],
            by_older,
        ),
        (format!("grip --mean 9.0kN {told_at}"), &[], by_older),
        (format!("grip --peak 9.0kN {told_at}"), &[], by_older),
        (String::new(), &[], by_older),
    ] {
        let bench = within_seven();
        if !set.is_empty() {
            let (line, more) = set.split_at(set.find("--").unwrap_or_default());
            bench.in_book(&format!("{line}--store {more}"), values);
        }
        let line = "overview --on 2023-12-01";
        let look = || {
            let shown = bench.in_book(line, &[]).exits(0);
            let head = shown.out.lines().find(|line| line.contains("Once ("));
            assert!(
                head.is_some_and(|head| head.ends_with(&format!(": {heading}"))),
                "{set}: {shown}"
            );
            shown
        };
        look();
        bench.in_book("visit finish --yes", &[]).exits(0);
        let shown = look();
        let all = told(&bench, &format!("{line} --json"), &[]);
        let earlier = &all[0]["judged_earlier"];
        assert_eq!(
            (&earlier[0]["check"], &earlier[0]["at"]),
            (&"grip".into(), &"2023-05-14".into()),
            "{set}: {all:#?}"
        );
        let is_beyond = heading == beyond;
        let (why, due) = match is_beyond {
            true => ("beyond-limit", "2023-11-20"),
            false => ("last-not-judged", "2024-05-14"),
        };
        assert_eq!(
            (&all[0]["why"], &all[0]["next_visit_due"]),
            (&why.into(), &due.into()),
            "{set}"
        );
        assert_eq!(
            all[0]["beyond_limit"].as_array().map(Vec::len),
            Some(usize::from(is_beyond)),
            "{set}: {all:#?}"
        );
        let wanted = [
            "why",
            "verdict",
            "verdict_at",
            "grip_judged_earlier",
            "beyond_limit",
        ];
        let figure = if is_beyond { "grip-mean" } else { "" };
        assert_eq!(
            cells(&bench, &format!("{line} --csv"), &wanted),
            [why, "accept", "2023-05-14", "2023-05-14", figure],
            "{set}"
        );
        if is_beyond {
            shown.shows("kN, not judged: holdtrue visit amend judges");
            let at_most = set.contains("--peak");
            assert_eq!(all[0]["beyond_limit"][0]["at_most"], at_most, "{set}");
        }
        // It comes before one that is within its limit and due.
        bench
            .in_book("spindle add --interface BT40 --minimum-n 7000", &["Due"])
            .exits(0);
        visit(&bench, "Due", "2021-05-14", "9.9 9.8 10.0 9.95 9.85");
        let all = told(&bench, &format!("{line} --json"), &[]);
        assert_eq!(names(&all), ["Once", "Due"], "{set}");
    }
}

#[test]
fn the_newest_figure_is_held_to_the_limit_known_now_in_whatever_state_it_was_measured() {
    for state in ["--state as-found", "--state as-left", ""] {
        for one_before in [false, true] {
            let bench = bench!();
            bench
                .in_book("spindle add --interface BT40 --minimum-n 7000", &["Once"])
                .exits(0);
            if one_before {
                visit(&bench, "Once", "2023-05-14", "11.9 11.8 12.0 11.95 11.85");
            }
            bench
                .in_book("visit start --date 2023-11-20 --spindle Once", &[])
                .exits(0);
            let line = format!("grip --store --uncertainty-percent 0.5 {state} --readings");
            bench.in_book(&line, &["8.1 8.0 8.2 8.15 8.05 kN"]).exits(0);
            bench.in_book("visit finish --yes", &[]).exits(0);
            let why = || {
                let all = told(&bench, "overview --on 2023-12-01 --json", &[]);
                all[0]["why"].clone()
            };
            assert_eq!(why(), "within-limit", "{state}");
            bench
                .in_book("spindle edit Once --minimum-n 10000", &[])
                .exits(0);
            assert_eq!(why(), "limit-overtaken", "{state}");
            bench
                .in_book("overview --on 2023-12-01", &[])
                .exits(0)
                .shows("within the limit then known: holdtrue visit amend judges it by the one known now")
                .shows("next visit due 20 November 2023");
            bench.in_book("visit amend --because plate", &[]).exits(0);
            assert_eq!(why(), "outside-limit", "{state}");
        }
    }
}

#[test]
fn what_the_last_visit_did_not_judge_is_headed_with_the_visit_that_did() {
    let bench = within_seven();
    let runout = "runout --store --state as-found --at bar --height-mm 300 --uncertainty-um 1 --limit-um 15 --tir 4";
    bench.in_book(runout, &[]).exits(0);
    bench.in_book("visit finish --yes", &[]).exits(0);
    bench
        .in_book("overview --on 2023-12-01", &[])
        .exits(0)
        .shows("within limit, grip by the visit of 14 May 2023")
        .shows("next visit due 20 November 2024");
    // The same of a runout beyond the limit of the same height, and of no other.
    let start = |day: &str| bench.in_book(&format!("visit start --date {day} --spindle Once"), &[]);
    for (day, height, why) in [
        ("2023-11-22", "150", "last-not-judged"),
        ("2023-11-24", "300", "beyond-limit"),
    ] {
        start(day).exits(0);
        let line =
            format!("runout --store --state as-found --at bar --height-mm {height} --tir 40");
        bench.in_book(&line, &[]);
        bench.in_book("visit finish --yes", &[]).exits(0);
        let all = told(&bench, "overview --on 2023-12-01 --json", &[]);
        assert_eq!(all[0]["why"], why, "{height}: {all:#?}");
    }
}

#[test]
fn an_amendment_that_judges_nothing_takes_no_rejection_back() {
    for (readings, why, stays) in [
        (
            "6.1 6.0 6.2 6.15 6.05",
            "outside-limit",
            Some("outside limit"),
        ),
        ("7.05 7.0 7.02 6.98 7.03", "undecided", Some("undecided")),
        ("8.1 8.0 8.2 8.15 8.05", "last-not-judged", None),
    ] {
        let bench = bench!();
        bench
            .in_book("spindle add --interface BT40 --minimum-n 7000", &["Once"])
            .exits(0);
        visit(&bench, "Once", "2023-05-14", "9.9 9.8 10.0 9.95 9.85");
        visit(&bench, "Once", "2023-11-20", readings);
        bench
            .in_book("spindle edit Once --forget minimum-n", &[])
            .exits(0);
        let amended = bench.in_book("visit amend --because plate", &[]).exits(0);
        let shown = bench.in_book("overview --on 2023-12-01", &[]).exits(0);
        let all = told(&bench, "overview --on 2023-12-01 --json", &[]);
        assert_eq!(all[0]["why"], why, "{shown}");
        bench
            .in_book("report --spindle Once --html years.html", &[])
            .exits(0);
        let years = std::fs::read_to_string(bench.path("years.html")).expect("the page");
        let row = years.split("20 November 2023").nth(1).expect("its row");
        let row = row.split("</tr>").next().expect("its end");
        let Some(stays) = stays else {
            amended.shows("amended: not judged");
            assert!(!row.contains("limit"), "{row}");
            continue;
        };
        let says = format!("amended: not judged, since no limit is known any more; {stays} stays");
        amended.shows(&says);
        assert_eq!(all[0]["verdict"]["at"], "2023-11-20", "{shown}");
        assert!(row.contains(&format!("grip {stays}")), "{row}");
        assert!(page(&bench).contains(&format!("{stays} stays")));
    }
}

#[test]
fn an_amended_set_is_held_to_the_limit_that_amended_it() {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40 --minimum-n 7000", &["Once"])
        .exits(0);
    visit(&bench, "Once", "2023-11-20", "6.1 6.0 6.2 6.15 6.05");
    bench
        .in_book("spindle edit Once --minimum-n 5000", &[])
        .exits(0);
    bench
        .in_book("visit amend --because plate", &[])
        .exits(0)
        .shows("amended: within limit");
    let shown = bench.in_book("overview --on 2023-12-01", &[]).exits(0);
    assert!(!shown.out.contains("then known"), "{shown}");
    shown
        .shows("Once (7/24-40): within limit, as amended")
        .shows("limit 5.00\u{a0}kN")
        .shows("next visit due 20 November 2024");
    let trend = bench
        .in_book("trend --json --spindle Once", &[])
        .exits(0)
        .json();
    assert_eq!(trend["limit"]["value"], 5000.0, "{trend:#}");
}

#[test]
fn a_visit_that_was_struck_out_is_told_and_is_not_the_last() {
    let bench = within_seven();
    let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
    bench.in_book(grip, &["6.1 6.0 6.2 6.15 6.05"]).exits(1);
    bench.in_book("visit finish --yes", &[]).exits(0);
    bench.in_book("visit strike --because bumped", &[]).exits(0);
    bench.in_book("visit amend --because bumped", &[]).exits(0);
    let line = "overview --on 2023-12-01";
    bench
        .in_book(line, &[])
        .exits(0)
        .shows("Once (7/24-40): within limit\n")
        .shows("last visit 14 May 2023 of 2 visits")
        .shows("the visit of 20 November 2023 is struck out, and counts nowhere: bumped")
        .shows("a grip set outside its limit is struck out: bumped")
        .shows("next visit due 14 May 2024");
    let all = told(&bench, &format!("{line} --json"), &[]);
    assert_eq!(all[0]["struck_visits"][0]["at"], "2023-11-20", "{all:#?}");
    assert_eq!(all[0]["last_visit"]["outcome"], "accept");
    bench
        .in_book("trend --spindle Once", &[])
        .exits(0)
        .shows("20 November 2023: the visit is struck out: bumped");
    bench
        .in_book("visit strike --lift --because found", &[])
        .exits(0);
    bench.in_book("visit amend --because found", &[]).exits(0);
    let all = told(&bench, &format!("{line} --json"), &[]);
    assert_eq!(all[0]["why"], "outside-limit");
    assert_eq!(all[0]["struck_visits"], Value::Array(Vec::new()));
}

#[test]
fn what_ended_a_row_is_named_where_it_ends_a_trend() {
    const NOT_SINCE: &str = "not measured as found since; a trend told here is of before";
    for (on, since) in [
        ("2022-12-01", "too few visits since for a trend"),
        ("2023-08-01", NOT_SINCE),
        // What was found on the day of the work was there before it.
        ("2023-05-13", NOT_SINCE),
    ] {
        let bench = yard();
        let line = "overview --on 2023-09-01";
        let falling = || {
            let all = told(&bench, &format!("{line} --json"), &[]);
            let found = all.into_iter().find(|each| each["name"] == "Falling");
            found.expect("Falling")
        };
        assert_eq!(falling()["grip"]["began_anew"], Value::Null);
        bench
            .in_book(
                &format!("spindle event Falling --what springs-changed --on {on}"),
                &[],
            )
            .exits(0);
        let day = match on {
            "2022-12-01" => "1 December 2022",
            "2023-05-13" => "13 May 2023",
            _ => "1 August 2023",
        };
        bench
            .in_book(line, &[])
            .exits(0)
            .shows(&format!("springs changed {day}: {since}"));
        assert_eq!(falling()["grip"]["began_anew"]["happened"], on);
    }
}
