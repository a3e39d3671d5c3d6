//! The trend of a figure, from a table and from the book.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::schema::differences;
use serde_json::Value;

/// Held to its schema.
fn told(bench: &Bench, line: &str, more: &[&str]) -> Value {
    let document = bench.in_book(line, more).exits(0).json();
    let schema = bench.in_book("schema trend", &[]).exits(0).json();
    assert_eq!(
        differences(&schema, &document),
        Vec::<String>::new(),
        "{document:#}"
    );
    document
}

fn near(value: &Value, wanted: f64, within: f64) {
    let found = value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"));
    assert!(
        (found - wanted).abs() <= within,
        "{found}, expected {wanted}"
    );
}

/// Nine visits whose line statsmodels fits (tests/reference/trend/paule_mandel.json), years as hours in a thousand.
const HOURS: &str = "hours,value_n,standard_n
0,10230,180
600,10310,150
1100,10020,60
2000,9905,45
2900,9930,40
4200,9610,55
5000,9480,40
6100,9335,50
7000,9160,45
";

#[test]
fn a_table_gives_the_line_of_the_reference() {
    let bench = bench!();
    bench.file("force.csv", HOURS);
    let found = told(&bench, "trend --from force.csv --limit 8600 --json", &[]);
    assert_eq!(found["against"], "hours");
    assert_eq!(found["unit"], "N");
    near(&found["slope"], -0.154_695_553_353, 1e-9);
    near(&found["slope_95"][0], -0.181_012_270_574, 1e-9);
    near(&found["slope_95"][1], -0.128_378_836_132, 1e-9);
    near(&found["p"], 2.358_374_6e-6, 1e-12);
    assert_eq!(found["trend"], true);
    assert_eq!(found["reason"], Value::Null);
    // 10267.33 N at 0 h, less 154.70 N in a thousand.
    near(
        &found["crossing"]["estimate"],
        (10_267.330_989 - 8600.0) / 0.154_695_553,
        0.01,
    );
    let ends =
        ["earliest", "latest"].map(|end| found["crossing"][end].as_f64().unwrap_or_default());
    assert!(
        ends[0] > 9_000.0 && ends[0] < 10_700.0 && ends[1] > 10_800.0 && ends[1] < 13_000.0,
        "{ends:?}"
    );
    bench
        .in_book("trend --from force.csv --limit 8600", &[])
        .exits(0)
        .shows("Falls by")
        .shows("A gradual trend only. Broken springs, fingers or knobs give no warning.");
}

#[test]
fn days_are_days_whatever_the_order_of_the_rows_and_the_crossing_is_a_date() {
    let bench = bench!();
    bench.file(
        "runout.csv",
        "repair_before;date;value_um;standard_um\n0;2025-01-01;5,9;0,3\n0;2021-01-01;2,1;0,3\n0;2022-01-01;2,9;0,3\n\
         0;2023-01-01;4,1;0,3\n0;2024-01-01;4,9;0,3\n",
    );
    let found = told(&bench, "trend --from runout.csv --limit 8 --json", &[]);
    assert_eq!(found["series"][0]["at"], "2021-01-01");
    near(&found["slope"], 0.96 / 365.25, 1e-5);
    let estimate = found["crossing"]["estimate"].as_str().unwrap_or_default();
    assert!(
        ("2027-02-01".."2027-04-30").contains(&estimate),
        "{found:#}"
    );
    // No farther ahead than looked back: four years.
    let far = told(&bench, "trend --from runout.csv --limit 12 --json", &[]);
    assert_eq!(
        (&far["trend"], &far["crossing"]),
        (&Value::Bool(true), &Value::Null)
    );
    assert!(
        far["reason"]
            .as_str()
            .is_some_and(|reason| reason.contains("not reached")),
        "{far:#}"
    );
    // A force falls to its limit, a runout climbs to it: this one has been beyond 1 µm all along.
    let before = told(&bench, "trend --from runout.csv --limit 1 --json", &[]);
    assert_eq!(before["crossing"], Value::Null);
}

#[test]
fn a_repair_begins_the_series_anew_and_few_visits_tell_little() {
    let bench = bench!();
    let table = |visits: usize, repair: usize| {
        let mut table = String::from("hours,value_kn,standard_kn,repair_before\n");
        for visit in 0..visits {
            let since = if visit >= repair {
                visit - repair
            } else {
                visit
            };
            let wobble = if visit % 2 == 0 { 0.02 } else { -0.02 };
            let value = 10.0 - 0.2 * f64::from(u32::try_from(since).unwrap_or_default()) + wobble;
            table += &format!(
                "{},{value},0.05,{}\n",
                100 * visit,
                u8::from(visit == repair)
            );
        }
        table
    };
    for (visits, repair, trend, crossing, slope) in [
        (3, 99, false, false, false),
        (4, 99, true, false, true),
        (5, 99, true, true, true),
        (8, 5, false, false, false),
        (9, 5, true, false, true),
        (10, 5, true, true, true),
    ] {
        bench.file("kn.csv", table(visits, repair));
        let found = told(&bench, "trend --from kn.csv --limit 8.9 --json", &[]);
        assert_eq!(found["unit"], "kN");
        assert_eq!(found["trend"], trend, "{visits}: {found:#}");
        assert_eq!(
            found["crossing"].is_object(),
            crossing,
            "{visits}: {found:#}"
        );
        assert_eq!(found["slope"].is_number(), slope, "{visits}: {found:#}");
        assert_eq!(found["reason"].is_string(), !crossing);
        assert_eq!(found["series"].as_array().map_or(0, Vec::len), visits);
        if slope {
            near(&found["slope"], -0.002, 0.0003);
        }
    }
}

#[test]
fn a_table_that_is_none_is_refused_with_its_place() {
    let bench = bench!();
    for (table, line, part) in [
        (
            "date,value_n,standard_n\n2026-13-01,1,1\n",
            "2",
            "a day, like 2026-03-04",
        ),
        (
            "date,value_n,standard_n\n2026-01-01,1,0\n",
            "2",
            "above zero",
        ),
        (
            "date,value_n,standard_n\n2026-01-01,1,-1\n",
            "2",
            "above zero",
        ),
        (
            "date,value_n,standard_kn\n2026-01-01,1,1\n",
            "1",
            "both in one unit",
        ),
        (
            "value_n,standard_n\n1,1\n",
            "1",
            "date, hours or tool_changes",
        ),
        ("date,value_n\n2026-01-01,1\n", "1", "standard_n"),
        (
            "hours,value_n,standard_n,repair_before\n1,1,1,2\n",
            "2",
            "0",
        ),
        ("hours,value_n,standard_n\n1,nan,1\n", "2", "value_n"),
    ] {
        bench.file("bad.csv", table);
        bench
            .line("trend --from bad.csv")
            .exits(4)
            .tells("bad.csv")
            .tells(&format!("line {line}"))
            .tells(part);
    }
    bench.file("hours.csv", HOURS);
    bench
        .line("trend --from hours.csv --against date")
        .exits(4)
        .tells("date");
    bench
        .line("trend --from hours.csv --figure nose")
        .exits(4)
        .tells("um");
    bench.line("trend --from none.csv").exits(4);
    bench.line("trend").exits(6);
}

/// Six visits a year apart, five clamps each as found, the last two after a repair.
fn yard() -> Bench {
    let bench = bench!();
    bench
        .in_book(
            "spindle add --interface BT40 --nominal-n 11000",
            &["Centre 1"],
        )
        .exits(0);
    for (year, kn, more) in [
        (
            2019,
            "10.1 10.2 10.15 10.1 10.2",
            "--power-on-hours 1000 --tool-changes 10000",
        ),
        (
            2020,
            "9.8 9.9 9.85 9.8 9.9",
            "--power-on-hours 3000 --tool-changes 30000",
        ),
        (
            2021,
            "9.5 9.6 9.55 9.5 9.62",
            "--power-on-hours 5000 --tool-changes 50000",
        ),
        (
            2022,
            "9.2 9.3 9.25 9.2 9.3",
            "--power-on-hours 7000 --tool-changes 70000",
        ),
        (
            2023,
            "8.9 9.0 8.95 8.9 9.0",
            "--power-on-hours 9000 --tool-changes 90000",
        ),
        (
            2024,
            "8.6 8.7 8.65 8.6 8.72",
            "--power-on-hours 11000 --tool-changes 110000",
        ),
    ] {
        visit(&bench, &format!("{year}-05-12"), kn, more);
    }
    bench
}

fn visit(bench: &Bench, day: &str, kn: &str, more: &str) {
    let line = format!("visit start --date {day} {more} --spindle");
    bench.in_book(&line, &["Centre 1"]).exits(0);
    let judged = bench.in_book(
        "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings",
        &[kn],
    );
    assert!(matches!(judged.code, 0 | 1 | 3), "{judged}");
    bench.in_book("visit finish", &[]).exits(0);
}

#[test]
fn the_visits_of_the_book_are_followed_to_the_limit_of_the_spindle() {
    let bench = yard();
    let found = told(&bench, "trend --json --spindle", &["Centre 1"]);
    assert_eq!(found["figure"], "grip-mean");
    assert_eq!(found["spindle"]["name"], "Centre 1");
    assert_eq!(found["limit"]["side"], "lower");
    let limit = found["limit"]["value"].as_f64().unwrap_or_default();
    assert!((6_000.0..9_000.0).contains(&limit), "{limit}");
    assert_eq!(found["series"].as_array().map_or(0, Vec::len), 6);
    assert_eq!(found["series"][0]["from_paper"], true);
    near(&found["series"][0]["value"], 10_150.0, 1e-6);
    near(
        &found["series"][0]["shared_standard"],
        0.005 * 10_150.0,
        1e-6,
    );
    near(&found["slope"], -300.0 / 365.25, 0.01);
    // The limit, 300 N a year, from 10.15 kN in May 2019.
    let year = 2019.36 + (10_150.0 - limit) / 300.0;
    let estimate = found["crossing"]["estimate"].as_str().unwrap_or_default();
    assert!(
        estimate.starts_with(&format!("{year:.0}"))
            || estimate.starts_with(&format!("{:.0}", year - 0.5)),
        "{estimate}, {year}"
    );
    // Typed on the command line, another limit.
    let closer = told(&bench, "trend --limit 8500 --json", &[]);
    assert!(
        closer["crossing"]["estimate"]
            .as_str()
            .is_some_and(|day| day.starts_with("2024")),
        "{closer:#}"
    );
    let hours = told(&bench, "trend --against hours --json", &[]);
    assert_eq!(hours["counter"], "power-on hours");
    near(&hours["slope"], -0.15, 0.002);
    near(&hours["series"][5]["at"], 11_000.0, 1e-9);
    assert_eq!(hours["series"][5]["day"], "2024-05-12");
    let changes = told(
        &bench,
        "trend --against tool-changes --figure grip-lowest --limit 8000 --json",
        &[],
    );
    near(&changes["slope"], -0.015, 0.0003);
    bench
        .in_book("trend", &[])
        .exits(0)
        .shows("12 May 2019")
        .shows("from paper")
        .shows("Falls by")
        .shows("A gradual trend only. Broken springs, fingers or knobs give no warning.");
    let nose = told(&bench, "trend --figure nose --json", &[]);
    assert_eq!(
        (&nose["trend"], &nose["series"]),
        (&Value::Bool(false), &Value::Array(Vec::new()))
    );
    bench
        .in_book("trend --spindle", &["Centre 9"])
        .exits(2)
        .tells("Centre 1");
}

#[test]
fn a_repair_of_the_day_of_a_visit_lies_after_what_was_found() {
    let bench = yard();
    bench
        .in_book(
            "spindle event --what springs-changed --on 2022-05-12",
            &["Centre 1"],
        )
        .exits(0);
    let found = told(&bench, "trend --json", &[]);
    let repaired: Vec<bool> = found["series"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|row| row["repair_before"] == true)
        .collect();
    assert_eq!(repaired, [false, false, false, false, true, false]);
    assert_eq!(found["slope"], Value::Null);
    assert!(
        found["reason"]
            .as_str()
            .is_some_and(|reason| reason.contains("2 visits since")),
        "{found:#}"
    );
    assert_eq!(found["events"][0]["breaks"], true);
    // Cleaning and greasing are marks.
    let bench = yard();
    bench
        .in_book("spindle event --what greased --on 2022-06", &["Centre 1"])
        .exits(0);
    let found = told(&bench, "trend --json", &[]);
    assert_eq!(
        (&found["trend"], &found["events"][0]["breaks"]),
        (&Value::Bool(true), &Value::Bool(false))
    );
}

#[test]
fn a_counter_that_fell_is_joined_only_where_the_control_was_replaced() {
    let bench = yard();
    let line = "visit start --date 2025-05-12 --power-on-hours 500 --as-read --spindle";
    bench.in_book(line, &["Centre 1"]).exits(0);
    let grip = "grip --store --state as-found --unit kN --uncertainty-percent 1 --readings";
    bench.in_book(grip, &["8.3 8.4 8.35 8.3 8.4"]);
    bench.in_book("visit finish", &[]).exits(0);
    let apart = told(&bench, "trend --against hours --json", &[]);
    assert_eq!(
        apart["series"].as_array().map_or(0, Vec::len),
        1,
        "{apart:#}"
    );
    assert!(
        apart["notes"].to_string().contains("do not run backwards"),
        "{apart:#}"
    );
    bench
        .in_book(
            "spindle event --what control-replaced --on 2025-02-10",
            &["Centre 1"],
        )
        .exits(0);
    let joined = told(&bench, "trend --against hours --json", &[]);
    assert_eq!(
        joined["series"].as_array().map_or(0, Vec::len),
        7,
        "{joined:#}"
    );
    near(&joined["slope"], -0.15, 0.003);
    near(&joined["series"][6]["at"], 13_000.0, 60.0);
    assert!(
        joined["notes"].to_string().contains("carried on"),
        "{joined:#}"
    );
}

#[test]
fn sets_that_were_not_as_found_stay_out_and_that_is_said() {
    let bench = yard();
    let line = "visit start --date 2025-05-12 --spindle";
    bench.in_book(line, &["Centre 1"]).exits(0);
    let grip = |state: &str, kn: &str| {
        let line = format!("grip --store {state} --unit kN --uncertainty-percent 1 --readings");
        let run = bench.in_book(&line, &[kn]);
        assert!(matches!(run.code, 0 | 1 | 3), "{run}");
    };
    grip("", "8.3 8.4 8.35 8.3 8.4");
    grip("--state as-found", "8.35 8.4 8.35 8.3 8.4");
    grip("--state as-found", "7.3 7.4 7.35 7.3 7.4");
    grip("--state as-left", "11.3 11.4 11.35 11.3 11.4");
    let found = told(&bench, "trend --json", &[]);
    assert_eq!(found["series"].as_array().map_or(0, Vec::len), 7);
    near(&found["series"][6]["value"], 8_360.0, 1e-6);
    let notes = found["notes"].to_string();
    assert!(
        notes.contains("as found or as left") && notes.contains("second set"),
        "{notes}"
    );
}

#[test]
fn the_history_of_a_spindle_is_one_page_of_its_own() {
    let bench = yard();
    bench
        .in_book(
            "spindle event --what springs-changed --on 2019-09 --text stack",
            &["Centre 1"],
        )
        .exits(0);
    let document = bench
        .in_book("report --html years.html --json --spindle", &["Centre 1"])
        .exits(0)
        .json();
    let schema = bench.in_book("schema report", &[]).exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    assert_eq!(document["visit"], Value::Null);
    let page = std::fs::read_to_string(bench.path("years.html")).unwrap_or_default();
    for part in [
        "Over the years",
        "Mean grip force as found",
        "springs changed: stack",
        "A gradual trend only. Broken springs, fingers or knobs give no warning.",
        "12 May 2024",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    // Six visits drawn; hollow from paper.
    assert!(page.matches("<circle").count() >= 6, "{page}");
    bench
        .in_book("report --html years.html --spindle", &["Centre 1"])
        .exits(6);
    bench
        .in_book("report --html none.html --spindle", &["Centre 9"])
        .exits(2);
}

/// A step from one gauge to another whose uncertainties nobody knows is no change of the spindle.
#[test]
fn a_change_to_another_gauge_of_unknown_uncertainty_is_no_trend() {
    let bench = bench!();
    let add = "spindle add --interface BT40 --nominal-n 10000";
    bench.in_book(add, &["Centre 1"]).exits(0);
    let mut rows = "date,spindle,gauge,what,value,unit,state\n".to_owned();
    for (year, force) in (2015..).zip([10.0, 10.01, 9.99, 10.0, 9.0, 9.01, 8.99, 9.0]) {
        let gauge = if year < 2019 { "TP-0007" } else { "TP-0031" };
        rows += &format!("{year}-03-01,Centre 1,{gauge},mean,{force},kN,as-found\n");
    }
    bench.file("notebook.csv", rows);
    bench
        .in_book("visit enter --from notebook.csv", &[])
        .exits(0);
    let run = bench.in_book("trend --json", &[]).exits(0);
    assert_eq!(run.json()["trend"], false, "{run}");
    bench
        .in_book("trend", &[])
        .exits(0)
        .tells("how far they differ is not known");
}

#[test]
fn a_control_replaced_since_the_last_visit_counts_its_hours_once() {
    let bench = bench!();
    let add = "spindle add --interface BT40 --nominal-n 12000";
    bench.in_book(add, &["Centre 1"]).exits(0);
    let mut rows = "date,spindle,what,value,unit,state,power_on_hours\n".to_owned();
    for (year, force, hours) in [
        (2020, 10.2, 1000),
        (2021, 10.0, 2000),
        (2022, 9.8, 3000),
        (2023, 9.6, 4000),
    ] {
        rows += &format!("{year}-01-01,Centre 1,holding,{force},kN,as-found,{hours}\n");
    }
    bench.file("notebook.csv", rows);
    bench
        .in_book("visit enter --from notebook.csv", &[])
        .exits(0);
    let start = "visit start --date 2024-01-01 --power-on-hours 900 --control-replaced --spindle";
    bench.in_book(start, &["Centre 1"]).exits(0);
    let grip = "grip --state as-found --store --unit kN --readings";
    bench.in_book(grip, &["9.4 9.4"]).exits(0);
    bench.in_book("visit finish --yes", &[]).exits(0);
    let found = told(&bench, "trend --against hours --json", &[]);
    let last = found["series"].as_array().and_then(|rows| rows.last());
    near(&last.expect("a visit")["at"], 5000.0, 5.0);
}

#[test]
fn a_limit_is_typed_with_its_unit_and_one_of_another_is_asked_about() {
    let bench = bench!();
    bench.file("force.csv", HOURS);
    let limit = |text: &str| bench.line(&format!("trend --from force.csv --json --limit {text}"));
    let of = |text: &str| limit(text).exits(0).json()["limit"]["value"].clone();
    near(&of("8600"), 8600.0, 1e-9);
    near(&of("8.6kN"), 8600.0, 1e-9);
    near(&of("8,6kN"), 8600.0, 1e-9);
    limit("8.6").exits(2).tells("Write its unit");
    limit("8.6um").exits(2).tells("a limit in N");
}
