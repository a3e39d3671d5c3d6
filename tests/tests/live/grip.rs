//! Grip force over the wire: the figures of one process, to the last digit.

use crate::{grip, is_sound};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Run;
use holdtrue_tests::port::{Measuring, Port};
use serde_json::Value;

/// When the light says something the operator answers, and over a wire it says it later: the clamps are the same, the
/// moments are not. From the stored frames on every digit is.
#[test]
fn over_the_wire_and_in_one_process_the_same_clamps_are_found_and_stored_frames_give_every_digit() {
    for (seed, condition, code) in [(3, "sound", 0), (11, "weak-springs", 1), (8, "sticky", 0)] {
        let bench = bench!();
        let seeded = format!("--seed {seed} --condition {condition}");
        let port = Port::offer(&bench, &format!("{seeded} --pace max"));
        let inside = bench.line(&format!("rehearse {seeded} --json")).json();
        let drawbar =
            "--nominal-n 10000 --limit-percent 70 --provenance maker --drawbar disc-springs";
        let run = bench.finish(&mut grip(&bench, &port.path, drawbar));
        let live = run.json();
        let clamps = |document: &Value| document["clamps"].as_array().cloned().unwrap_or_default();
        let (here, there) = (clamps(&live), clamps(&inside["grip"]));
        assert_eq!(here.len(), there.len(), "{seeded}\n{run}");
        for (here, there) in here.iter().zip(&there) {
            assert_eq!(here["excluded"], there["excluded"], "{seeded}\n{run}");
            let force = |clamp: &Value| clamp["settled_n"].as_f64().unwrap_or(0.0);
            let off = (force(here) / force(there) - 1.0).abs();
            assert!(off < 0.001, "{here} for {there}");
        }
        assert_eq!(live["statistics"]["count"], 5, "{run}");
        run.exits(code);
        let again = bench.line("grip --from yard.holdtrue --json").json();
        assert_eq!(again["clamps"], live["clamps"], "from the stored frames");
        assert_eq!(again["verdict"], live["verdict"], "from the stored frames");
        is_sound(&bench);
    }
}

#[test]
fn the_last_clamp_is_held_half_a_minute_and_said_to_be() {
    let bench = bench!();
    // At a pace: on a busy computer the light would else reach the hand many seconds of its own time late.
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let run = bench
        .finish(&mut grip(&bench, &port.path, ""))
        .tells("Clamp 5 of 5: clamp now. Last clamp: hold 30 s, it shows whether the force drops.");
    assert_eq!(
        run.messages.matches("30 s, the last clamp").count(),
        1,
        "{run}"
    );
    let document = run.json();
    let held: Vec<f64> = document["clamps"]
        .as_array()
        .into_iter()
        .flatten()
        .filter(|clamp| clamp["counted"] == true)
        .map(|clamp| {
            let at = |key: &str| clamp[key].as_f64().expect("a time");
            at("released_s") - at("clamped_s")
        })
        .collect();
    let (last, others) = held.split_last().expect("clamps");
    assert!(*last > 29.5, "{held:?}");
    assert!(others.iter().all(|held_s| *held_s < 20.0), "{held:?}");
    assert!(
        !document["notes"].to_string().contains("not examined"),
        "{run}"
    );
}

#[test]
fn a_check_killed_in_its_long_hold_goes_on_and_holds_long_again() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut run = Measuring::start(&mut grip(&bench, &port.path, ""));
    run.until("30 s, the last clamp");
    run.signal("KILL");
    run.end();
    drop(port);
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let run = bench
        .finish(&mut grip(&bench, &port.path, ""))
        .tells("4 of 5 clamps are in")
        .tells("30 s, the last clamp");
    let document = run.json();
    assert_eq!(document["statistics"]["count"], 5, "{run}");
    assert!(
        !document["notes"].to_string().contains("not examined"),
        "{run}"
    );
    is_sound(&bench);
}

#[test]
fn a_second_set_in_the_same_visit_is_a_check_of_its_own() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let first = bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    let second = bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    assert!(!second.messages.contains("unfinished"), "{second}");
    let counts = |run: &Run| run.json()["clamps"].as_array().map(Vec::len);
    assert_eq!(counts(&first), counts(&second));
    is_sound(&bench);
}
