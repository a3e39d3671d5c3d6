//! Seven years of the Tern Point yard, entered through the program, told back by it and held to what is true.

use holdtrue_tests::bench::Bench;
use holdtrue_tests::yard::{self, BAR_LIMIT_UM, CERTIFICATES, CONTROL, Centre, SPRINGS, Yard};
use serde_json::Value;

/// Fixed before the first run.
const SEED: u64 = 1;
const LIMIT_N: f64 = 7_700.0;
const ON: &str = "2026-06-01";

#[test]
fn seven_years_are_told_as_they_were() {
    let yard = yard::enter(env!("CARGO_BIN_EXE_holdtrue-under-test"), SEED);
    a_weakening_spindle_crosses_when_it_truly_does(&yard);
    a_steady_one_shows_no_trend_by_days_and_by_hours(&yard);
    calibrations_are_told_apart_and_allowed_for(&yard);
    a_bar_that_runs_out_more_crosses_when_it_truly_does(&yard);
    the_overview_puts_them_in_order(&yard);
    each_visit_is_told_against_the_one_before(&yard);
    the_page_of_the_repair_shows_both_sides(&yard);
    nothing_in_the_book_is_amiss(&yard.bench);
}

fn trend(yard: &Yard, centre: Centre, options: &str) -> Value {
    let line = format!("trend --json {options} --spindle");
    yard.bench.in_book(&line, &[centre.name()]).exits(0).json()
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

/// A 95 % interval of a fixed seed may miss; one wider by half is missed once in three hundred.
#[track_caller]
fn holds(interval: &Value, truth: f64) {
    let [low, high] = [&interval[0], &interval[1]].map(number);
    let room = 0.25 * (high - low);
    assert!(
        low - room <= truth && truth <= high + room,
        "{interval} does not hold {truth}"
    );
}

/// Every visit stands where it was, with a figure that is near the truth.
fn series_is_near<'a>(
    told: &'a Value,
    yard: &Yard,
    centre: Centre,
    true_at: impl Fn(f64) -> f64,
    within: f64,
) -> &'a Vec<Value> {
    let series = told["series"].as_array().expect("a series");
    let visits = yard.of(centre);
    assert_eq!(series.len(), visits.len());
    for (row, visit) in series.iter().zip(visits) {
        let off = number(&row["value"]) - true_at(visit.year);
        assert!(off.abs() < within, "{}: off by {off}", visit.day());
    }
    series
}

fn a_weakening_spindle_crosses_when_it_truly_does(yard: &Yard) {
    let told = trend(yard, Centre::Weakening, "");
    // Of the visit at which the springs were changed the old ones are as found.
    let found_n = |year: f64| {
        let repaired = (SPRINGS..SPRINGS + 0.4).contains(&year);
        Centre::Weakening.force_n(if repaired { SPRINGS } else { year })
    };
    let series = series_is_near(&told, yard, Centre::Weakening, found_n, 300.0);
    let paper = series
        .iter()
        .filter(|row| row["own_known"] == false || row["standard"].is_null())
        .count();
    assert_eq!(paper, 4, "what the notebook holds has no known gauge");
    let begins = series.iter().position(|row| row["repair_before"] == true);
    assert_eq!(begins, Some(8), "the visit after the springs were changed");
    assert_eq!(told["series_from"], 8);
    assert_eq!(told["trend"], true);
    holds(&told["slope_95"], -720.0 / 365.25);
    let crosses = yard::day(SPRINGS + (11_000.0 - LIMIT_N) / 720.0);
    let [earliest, latest] =
        ["earliest", "latest"].map(|end| told["crossing"][end].as_str().expect("a day"));
    assert!(
        earliest <= crosses.as_str() && crosses.as_str() <= latest,
        "{crosses}: {told:#}"
    );
}

fn a_steady_one_shows_no_trend_by_days_and_by_hours(yard: &Yard) {
    let told = trend(yard, Centre::Steady, "");
    series_is_near(&told, yard, Centre::Steady, |_| 18_400.0, 400.0);
    holds(&told["slope_95"], 0.0);
    assert_eq!(told["crossing"], Value::Null);
    // The control that was replaced is joined: hours go on as the spindle truly turned.
    let told = trend(yard, Centre::Steady, "--against hours");
    let series = told["series"].as_array().expect("a series");
    for (row, visit) in series.iter().zip(yard.of(Centre::Steady)) {
        let off = number(&row["at"]) - Centre::Steady.hours(visit.year);
        assert!(off.abs() < 60.0, "{}: off by {off} h", visit.day());
    }
    assert!(
        told["notes"].to_string().contains(&yard::day(CONTROL)),
        "{told:#}"
    );
}

/// Each visit names the certificate its gauge had; what all visits of one share is in the crossing.
fn calibrations_are_told_apart_and_allowed_for(yard: &Yard) {
    let told = trend(yard, Centre::Weakening, "");
    let visits = yard.of(Centre::Weakening);
    let series = told["series"].as_array().expect("a series");
    for (row, visit) in series.iter().zip(&visits) {
        let certificate = &CERTIFICATES[visit.certificate()];
        let named = row["calibration"].as_str().expect("a calibration");
        assert!(
            named.contains(certificate.number),
            "{}: {named}",
            visit.day()
        );
        assert_eq!(row["gauge"], certificate.gauge);
    }
    assert!(
        told["notes"]
            .to_string()
            .contains("3 gauges or calibrations were used"),
        "{told:#}"
    );
    // The same figures as if nothing were shared: the crossing is then said to be known better than it is.
    let from = told["series_from"].as_u64().expect("a place");
    let mut table = String::from("date,value_n,standard_n\n");
    for row in series.iter().skip(usize::try_from(from).expect("a place")) {
        let (shared, value) = (number(&row["shared_standard"]), number(&row["value"]));
        assert!(
            (shared / value - 0.0035).abs() < 1e-4,
            "half of 0.7 %: {row}"
        );
        let day = row["day"].as_str().expect("a day");
        table += &format!("{day},{value},{}\n", row["standard"]);
    }
    yard.bench.file("alone.csv", table);
    let line = format!("trend --json --from alone.csv --limit {LIMIT_N}");
    let alone = yard.bench.line(&line).exits(0).json();
    let [earliest, latest] = ["earliest", "latest"].map(|end| {
        let day = |told: &Value| told["crossing"][end].as_str().expect("a day").to_owned();
        (day(&told), day(&alone))
    });
    assert!(
        earliest.0 < earliest.1 && latest.0 > latest.1,
        "{earliest:?}, {latest:?}"
    );
    let spindles = yard
        .bench
        .in_book(&format!("overview --json --on {ON}"), &[])
        .exits(0)
        .json();
    let due = &spindles["spindles"][0]["calibrations"][0];
    assert_eq!(due["serial"], "TP-G2");
    assert_eq!(due["due"], yard::day(CERTIFICATES[2].year + 3.2));
}

fn a_bar_that_runs_out_more_crosses_when_it_truly_does(yard: &Yard) {
    let told = trend(yard, Centre::Bent, "--figure bar");
    series_is_near(
        &told,
        yard,
        Centre::Bent,
        |year| Centre::Bent.bar_um(year),
        3.0,
    );
    assert_eq!(told["limit"]["side"], "upper");
    holds(&told["slope_95"], 1.9 / 365.25);
    let crosses = yard::day(2019.0 + (BAR_LIMIT_UM - 6.0) / 1.9);
    let [earliest, latest] =
        ["earliest", "latest"].map(|end| told["crossing"][end].as_str().expect("a day"));
    assert!(
        earliest <= crosses.as_str() && crosses.as_str() <= latest,
        "{crosses}: {told:#}"
    );
}

fn the_overview_puts_them_in_order(yard: &Yard) {
    let told = yard
        .bench
        .in_book(&format!("overview --json --on {ON}"), &[])
        .exits(0)
        .json();
    let spindles = told["spindles"].as_array().expect("spindles");
    let each: Vec<(&Value, &Value)> = spindles
        .iter()
        .map(|spindle| (&spindle["name"], &spindle["why"]))
        .collect();
    let stands = |name: &str, why: &str| (Value::from(name), Value::from(why));
    let expected = [
        stands("Centre 1", "runs-to-limit"),
        stands("Centre 3", "runs-to-limit"),
        stands("Centre 2", "within-limit"),
    ];
    assert!(
        each.iter()
            .copied()
            .eq(expected.iter().map(|(name, why)| (name, why))),
        "{each:?}"
    );
    let bent = &spindles[1];
    assert_eq!(bent["crossing"], Value::Null, "its force stays");
    assert_eq!(
        (&bent["runout"]["figure"], &bent["runout"]["trend"]),
        (&"bar".into(), &true.into())
    );
    let crosses = trend(yard, Centre::Bent, "--figure bar")["crossing"].clone();
    assert_eq!(bent["runout"]["crossing"], crosses);
    assert_eq!(
        spindles[0]["next_visit_due"],
        spindles[0]["crossing"]["earliest"]
    );
    assert_eq!(spindles[0]["visits"], 15);
}

/// `… −0.13 ± 0.22 kN since 21 September 2025 …`: the change is near the true one.
fn each_visit_is_told_against_the_one_before(yard: &Yard) {
    let mut told = 0;
    for centre in Centre::ALL {
        let visits = yard.of(centre);
        let listed = yard
            .bench
            .in_book("spindle show --json", &[centre.name()])
            .exits(0)
            .json();
        let ids: Vec<&str> = listed["visits"]
            .as_array()
            .expect("visits")
            .iter()
            .filter_map(|visit| visit["id"].as_str())
            .collect();
        assert_eq!(ids.len(), visits.len());
        for number in 5..visits.len() {
            let (before, now) = (visits[number - 1], visits[number]);
            // What was left after the new springs is another comparison.
            if centre == Centre::Weakening && now.year > SPRINGS && before.year < SPRINGS + 0.4 {
                continue;
            }
            let shown = yard
                .bench
                .in_book(&format!("visit status --visit {}", ids[number]), &[])
                .exits(0)
                .out;
            let line = shown
                .lines()
                .find(|line| line.contains("mean grip force:") && line.contains("since"));
            let line = line
                .unwrap_or_else(|| panic!("no change is told: {shown}"))
                .replace('\u{2212}', "-");
            let words: Vec<&str> = line.split_whitespace().collect();
            let place = words
                .iter()
                .position(|word| *word == "±")
                .expect("an uncertainty");
            let [change, expanded]: [f64; 2] =
                [words[place - 1], words[place + 1]].map(|word| word.parse().expect("a number"));
            let truth = (centre.force_n(now.year) - centre.force_n(before.year)) / 1_000.0;
            // What visits differ by beyond gauge and clamps is in no budget: three standard deviations of two of them.
            assert!(
                (change - truth).abs() < 1.5 * expanded + 0.26,
                "{}: {truth} kN: {line}",
                now.day()
            );
            told += 1;
        }
    }
    assert!(told > 25, "{told}");
}

fn the_page_of_the_repair_shows_both_sides(yard: &Yard) {
    let listed = yard
        .bench
        .in_book("spindle show --json", &["Centre 1"])
        .exits(0)
        .json();
    let id = listed["visits"][7]["id"]
        .as_str()
        .expect("a visit")
        .to_owned();
    yard.bench
        .in_book("report --html repair.html", &[&id])
        .exits(0);
    let page = std::fs::read_to_string(yard.bench.path("repair.html")).expect("the page");
    let page = page.replace('\u{a0}', " ");
    assert!(page.contains("springs changed"), "{page}");
    yard.bench
        .in_book("report --html years.html --spindle", &["Centre 1"])
        .exits(0);
    let page = std::fs::read_to_string(yard.bench.path("years.html")).expect("the page");
    let drawn = page
        .matches("fill=\"#ffffff\" stroke=\"#000000\" stroke-width=\"0.9\"")
        .count();
    assert!(drawn >= 15, "{drawn} visits are drawn");
}

fn nothing_in_the_book_is_amiss(bench: &Bench) {
    bench.in_book("book check", &[]).exits(0);
    bench.in_book("book verify", &[]).exits(0);
    bench.in_book("recheck", &[]).exits(0);
}
