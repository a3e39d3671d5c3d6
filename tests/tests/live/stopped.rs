//! A gauge whose program stopped by itself: what it tells of it, once, and what the book keeps.

use crate::standing::calibrated;
use holdtrue_protocol::message::{FromGauge, Reply, StopCause};
use holdtrue_simulated_gauge::{Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::port::OwnPort;
use holdtrue_tests::schema::differences;
use serde_json::{Value, json};
use std::time::{Duration, Instant};

const TOLD: &str = "stops of its program, not told before";

fn stopping(stops: &[(u64, StopCause)]) -> OwnPort {
    stopping_at_pace(stops, 50.0)
}

fn stopping_at_pace(stops: &[(u64, StopCause)], times: f64) -> OwnPort {
    let setup = Setup {
        stops: stops.to_vec(),
        ..calibrated(3, Condition::Sound, 60)
    };
    OwnPort::at_pace(setup, times)
}

/// What it says of its stops, once there are so many: the watchdog takes two seconds of its own to bite.
#[track_caller]
fn stops(bench: &Bench, port: &OwnPort, count: usize) -> Value {
    let until = Instant::now() + Duration::from_secs(20);
    loop {
        let run = bench.line(&format!("gauge info --json --gauge {}", port.path));
        let stops = run.json()["stops"].clone();
        if stops.as_array().is_some_and(|all| all.len() == count) {
            return stops;
        }
        assert!(Instant::now() < until, "{count} expected: {run}");
    }
}

fn check(bench: &Bench, port: &OwnPort, more: &str) -> Run {
    bench.line(&format!("gauge check --gauge {} {more}", port.path))
}

fn told(run: &Run) -> (Value, String) {
    let document = run.json();
    let all = document["quantities"].as_array().expect("quantities");
    let row = all.iter().find(|row| row["name"] == TOLD).expect("a row");
    let remark = row["remark"].as_str().unwrap_or_default();
    (row["value"].clone(), remark.to_owned())
}

#[test]
fn a_stop_is_told_with_what_to_do_and_once_to_a_book() {
    let bench = bench!();
    let port = stopping(&[(500_000, StopCause::Panic)]);
    let stops = stops(&bench, &port, 1);
    assert_eq!(stops[0]["boot"], 1);
    assert_eq!(stops[0]["cause"], "panic");
    assert_eq!(stops[0]["image"], "7e570001");
    assert_eq!(stops[0]["places"], json!(["10004a1c", "10002d30"]));
    let after_s = stops[0]["after_s"].as_f64().expect("a time");
    assert!((0.49..0.51).contains(&after_s), "{after_s}");
    let info = bench.line(&format!("gauge info --json --gauge {}", port.path));
    let schema = bench.run(["schema", "gauge-info"]).exits(0).json();
    assert_eq!(differences(&schema, &info.json()), Vec::<String>::new());
    bench
        .line(&format!("gauge info --gauge {}", port.path))
        .exits(0)
        .shows("Stopped by itself in its start 1, after 0.5 s: its program found what cannot be")
        .shows("image 7e570001 at 10004a1c 10002d30")
        .shows("give this line to whoever built it");
    // The figures of such a gauge are as good as before.
    let book = "--book yard.holdtrue --json";
    let first = check(&bench, &port, book).exits(0);
    let (count, remark) = told(&first);
    assert_eq!(count, 1.0);
    assert!(remark.contains("load its newest firmware"), "{remark}");
    let again = check(&bench, &port, book).exits(0);
    assert_eq!(told(&again), (json!(0.0), String::new()));
    // Another book was not told yet, and without one there is none that could have been.
    let other = check(&bench, &port, "--book other.holdtrue --json").exits(0);
    assert_eq!(told(&other).0, 1.0);
    drop(port);
    let line = "gauge history --book yard.holdtrue";
    bench
        .line(line)
        .exits(0)
        .shows("Its program stopped by itself:")
        .shows("told on ")
        .shows("gave up");
    let history = bench.line(&format!("{line} --json")).exits(0).json();
    assert_eq!(history["stops"], stops);
    let schema = bench.run(["schema", "gauge-history"]).exits(0).json();
    assert_eq!(differences(&schema, &history), Vec::<String>::new());
}

#[test]
fn each_way_to_stop_has_its_words_and_the_last_four_are_told() {
    let bench = bench!();
    let ways = [
        (StopCause::Panic, "panic", ""),
        (StopCause::Fault, "fault", "its processor could not go on"),
        (StopCause::MainLoop, "main-loop", "its program hung"),
        (
            StopCause::Converter,
            "converter",
            "reads its converter hung",
        ),
        (StopCause::MainLoop, "main-loop", "its program hung"),
    ];
    // Each start runs for a second, and the watchdog takes two.
    let stops_at: Vec<_> = (0..)
        .zip(ways)
        .map(|(number, (cause, ..))| (1_000_000 + number * 3_500_000, cause))
        .collect();
    let port = stopping(&stops_at);
    let until = Instant::now() + Duration::from_secs(20);
    let told = loop {
        let told = stops(&bench, &port, 4);
        if told[3]["boot"] == 5 {
            break told;
        }
        assert!(Instant::now() < until, "{told}");
    };
    let shown = bench.line(&format!("gauge info --gauge {}", port.path));
    for (place, (_, cause, words)) in (0..).zip(&ways[1..]) {
        assert_eq!(told[place]["cause"], *cause);
        assert!(shown.out.contains(words), "no \"{words}\": {shown}");
    }
    assert!(!shown.out.contains("what cannot be"), "{shown}");
}

#[test]
fn a_gauge_of_an_earlier_version_is_not_asked() {
    let bench = bench!();
    let real = stopping(&[]);
    let port = OwnPort::altered(&real.path, |message| {
        if let FromGauge::Answer(answer) = message
            && let Ok(Reply::Identity(hello)) = &mut answer.outcome
        {
            hello.wire_minor = 2;
        }
    });
    let info = bench.line(&format!("gauge info --json --gauge {}", port.path));
    assert_eq!(info.exits(0).json()["stops"], Value::Null);
}

/// Measured with or checked: whichever comes first tells it, and the book has it from then on.
#[test]
fn a_check_at_the_machine_tells_a_stop_that_no_check_of_the_gauge_told_and_keeps_it() {
    let stopped = "The gauge's program stopped by itself in its start 1, after 0.5 s: its program found what cannot be";
    for measured in [
        "grip --clamps 3",
        "runout --at wall --height-mm -8 --positions 8",
    ] {
        let bench = bench!();
        let port = stopping(&[(500_000, StopCause::Panic)]);
        stops(&bench, &port, 1);
        let line = format!(
            "{measured} --gauge {} --book yard.holdtrue --json --yes",
            port.path
        );
        bench
            .line(&line)
            .tells(stopped)
            .tells("load its newest firmware");
        let again = bench.line(&format!("{line} --new"));
        assert!(!again.messages.contains("stopped by itself"), "{again}");
        // A gauge for both is one program, whichever of its two entries it was told to.
        let checked = check(&bench, &port, "--book yard.holdtrue --json").exits(0);
        assert_eq!(told(&checked), (json!(0.0), String::new()), "{measured}");
        let history = bench.line("gauge history --book yard.holdtrue --json");
        let history = history.exits(0).json();
        assert_eq!(history["stops"].as_array().map(Vec::len), Some(1));
    }
}

/// A restart ends the check; whoever goes on with it is told why it came to that.
#[test]
fn a_stop_in_the_middle_of_a_check_is_told_when_the_check_goes_on() {
    let bench = bench!();
    // Three clamps, the last held long, take 66 s: however late they begin within the first half minute, it falls into them.
    let port = stopping_at_pace(&[(45_000_000, StopCause::MainLoop)], 10.0);
    let line = format!(
        "grip --clamps 3 --gauge {} --book yard.holdtrue --json --yes",
        port.path
    );
    bench.line(&line).exits(5).tells("restarted");
    stops(&bench, &port, 1);
    bench.line(&line).tells(
        "The gauge's program stopped by itself in its start 1, after 45.0 s: its program hung",
    );
}
