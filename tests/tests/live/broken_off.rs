//! A check that is cut short: gauge pulled off, program killed, interrupted, put to sleep. And taken up again.

use crate::{BOOK, grip, is_sound, recorded};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::port::{Measuring, Port};
use serde_json::Value;
use std::process::Command;
use std::time::Duration;

fn settled(document: &Value, clamp: usize) -> f64 {
    document["clamps"][clamp]["settled_n"]
        .as_f64()
        .expect("a settled force")
}

#[test]
fn a_gauge_pulled_off_in_clamp_3_leaves_two_clamps_and_the_check_goes_on() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut first = Measuring::start(&mut grip(&bench, &port.path, ""));
    first.until("Clamp 3 of 5");
    first.until("hold");
    drop(port);
    let first = first.end().exits(5).tells("goes on where it stopped");
    let partial = first.json();
    assert_eq!(partial["error"]["code"], 5);
    assert_eq!(partial["statistics"]["count"], 2, "{}", first.told);
    assert_eq!(recorded(&bench), 2, "{}", first.told);
    let notes = partial["notes"].to_string();
    assert!(notes.contains("2 clamps are in the book"), "{notes}");
    is_sound(&bench);

    let port = Port::offer(&bench, "--seed 3 --pace max");
    let run = bench
        .finish(&mut grip(&bench, &port.path, ""))
        .exits(0)
        .tells("Going on")
        .tells("2 of 5 clamps are in")
        .tells("Clamp 3 of 5");
    let whole = run.json();
    assert_eq!(whole["statistics"]["count"], 5, "{run}");
    // Base and noise are told from the whole record, so the later clamps may move a foot, and with it a zero, by a sample:
    // some mN of 10 kN. A hundred-thousandth of the force is far under every allowance.
    for clamp in [0, 1] {
        assert!((settled(&whole, clamp) / settled(&partial, clamp) - 1.0).abs() < 1e-5);
    }
    // `recheck` computes the stored result from its chunks, across the join.
    is_sound(&bench);
    let again = bench.line("grip --from yard.holdtrue --json").json();
    assert_eq!(again["clamps"], whole["clamps"]);
    assert_eq!(again["statistics"], whole["statistics"]);
}

#[test]
fn a_set_broken_off_is_no_end_unsaid_and_gone_on_with_it_is_judged_by_its_spindle() {
    let bench = bench!();
    let book = |line: &str| bench.line(&format!("--book {BOOK} {line}"));
    book("spindle add Centre-1 --interface BT40 --nominal-n 15000").exits(0);
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut run = Measuring::start(&mut grip(&bench, &port.path, ""));
    run.until("clamp 1:");
    // Under itself it is not finished away.
    book("visit finish --yes").exits(6).tells("being measured");
    run.signal("INT");
    run.end().exits(130);
    drop(port);
    book("visit finish").exits(2).tells("of 5 clamps recorded");
    book("report --html page.html").exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains("Broken off") && page.contains("of 5 clamps recorded"));
    book("visit edit --spindle Centre-1").exits(0);
    // Another seed: the same one would make the first clamp once more, to its noise, which is doubted.
    let port = Port::offer(&bench, "--seed 4 --pace max");
    let run = bench
        .finish(&mut grip(&bench, &port.path, ""))
        .exits(1)
        .tells("was not judged; now outside limit");
    assert_eq!(run.json()["verdict"]["outcome"], "reject", "{run}");
    let visit = book("visit status --json").exits(0).json();
    assert_eq!(visit["visit"]["checks"][0]["outcome"], "reject", "{visit}");
    is_sound(&bench);
    book("visit finish").exits(0);
    is_sound(&bench);
}

#[test]
fn what_was_shown_as_recorded_survives_a_kill_at_any_moment() {
    // At four times its pace: a busy computer that is held up for two seconds still speaks to the gauge in time.
    for wait_ms in [0, 150, 420, 1_000, 2_200] {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 5 --pace 4");
        let mut run = Measuring::start(&mut grip(&bench, &port.path, ""));
        run.until("clamp 1:");
        std::thread::sleep(Duration::from_millis(wait_ms));
        run.signal("KILL");
        let told = run.end().told;
        let shown = told.lines().filter(|line| line.starts_with("  clamp "));
        let (shown, kept) = (shown.count() as u64, recorded(&bench));
        assert!(kept >= shown, "{kept} of {shown}, {wait_ms} ms:\n{told}");
        is_sound(&bench);
        // Whoever was killed left the port locked for nobody.
        bench
            .line(&format!("gauge info --gauge {}", port.path))
            .exits(0);
        drop(port);
        let port = Port::offer(&bench, "--seed 5 --pace max");
        let whole = bench
            .finish(&mut grip(&bench, &port.path, ""))
            .exits(0)
            .json();
        assert_eq!(whole["statistics"]["count"], 5);
        is_sound(&bench);
    }
}

#[test]
fn ctrl_c_ends_the_check_cleanly_and_it_goes_on_later() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut run = Measuring::start(&mut grip(&bench, &port.path, ""));
    run.until("clamp 1:");
    run.signal("INT");
    let run = run.end().exits(130).tells("the same command goes on");
    assert_eq!(run.json()["error"]["code"], 130);
    assert_eq!(run.json()["clamps"][0]["counted"], true);
    assert_eq!(recorded(&bench), 1);
    is_sound(&bench);
    // The gauge was told to stop: it says so itself.
    let info = bench.line(&format!("gauge info --gauge {}", port.path));
    info.exits(0);
    let whole = bench
        .finish(&mut grip(&bench, &port.path, ""))
        .exits(0)
        .tells("1 of 5 clamps are in");
    assert_eq!(whole.json()["statistics"]["count"], 5, "{whole}");
    is_sound(&bench);
}

#[test]
fn ctrl_c_before_the_first_clamp_leaves_a_check_to_go_on_with() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 1");
    let mut run = Measuring::start(&mut grip(&bench, &port.path, ""));
    run.until("clamp now");
    run.signal("INT");
    let run = run.end().exits(130);
    assert_eq!(run.json()["error"]["code"], 130);
    drop(port);
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let whole = bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    assert_eq!(whole.json()["statistics"]["count"], 5, "{whole}");
    is_sound(&bench);
}

/// A laptop whose lid was shut: the gauge has stopped by itself, and nobody waits for it for ever.
#[test]
fn a_program_put_to_sleep_says_that_the_gauge_stopped_meanwhile() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 40");
    let mut run = Measuring::start(&mut grip(&bench, &port.path, ""));
    run.until("clamp 1:");
    run.signal("STOP");
    // The simulated gauge waits a second and a half for a busy computer; then it gives up after 10 s of its own time.
    std::thread::sleep(Duration::from_millis(2_500));
    run.signal("CONT");
    let run = run.end().exits(5).tells("stopped measuring");
    assert!(run.json()["clamps"][0]["counted"] == true, "{}", run.told);
    is_sound(&bench);
}

#[test]
fn another_check_is_begun_when_told_so() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut run = Measuring::start(&mut grip(&bench, &port.path, ""));
    run.until("clamp 1:");
    run.signal("INT");
    run.end().exits(130);
    let run = bench
        .finish(&mut grip(&bench, &port.path, "--new"))
        .exits(0);
    assert!(!run.messages.contains("Going on"), "{run}");
    assert_eq!(run.json()["clamps"][0]["number"], 1);
    let status = bench
        .line(&format!("visit status --json --book {BOOK}"))
        .json();
    let checks = status["visit"]["checks"].as_array().map(Vec::len);
    assert_eq!(checks, Some(2), "the one broken off stays");
}

#[test]
fn other_limits_do_not_change_a_check_that_is_under_way() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut run = Measuring::start(&mut grip(&bench, &port.path, "--limit-n 12000"));
    run.until("clamp 1:");
    run.signal("INT");
    run.end().exits(130);
    bench
        .finish(&mut grip(&bench, &port.path, "--limit-n 1000"))
        .exits(1)
        .tells("those stay in force");
}

/// Breaks a measurement off once it says `until`, and finishes its visit all the same.
fn finished_with(bench: &Bench, measure: &mut Command, until: &str, recorded: &str) -> Run {
    let mut run = Measuring::start(measure);
    run.until(until);
    run.signal("INT");
    run.end().exits(130);
    let finish = format!("--book {BOOK} visit finish");
    bench.line(&finish).exits(2).tells(recorded);
    bench.line(&format!("{finish} --json --yes")).exits(0)
}

/// What is outside so far is sealed so; what is within its limit so far is not within its limit.
fn only_what_is_outside_is_judged(
    bench: &Bench,
    recorded: &str,
    outside: impl FnOnce() -> Run,
    within: impl FnOnce() -> Run,
) {
    let outside = outside().tells("is outside its limit by those");
    assert_eq!(outside.json()["visit"]["outcome"], "reject", "{outside}");
    is_sound(bench);
    bench
        .line(&format!("--book {BOOK} report --html page.html"))
        .exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains("Outside limit") && page.contains(recorded));
    let within = within();
    assert_eq!(within.json()["visit"]["outcome"], Value::Null, "{within}");
}

#[test]
fn a_runout_broken_off_outside_its_limit_is_not_sealed_as_one_not_judged() {
    let bench = bench!();
    let recorded = "4 of 10 planes recorded";
    let broken_off = |limit_um: &str| {
        let port = Port::offer(&bench, "--condition tilted-taper --seed 3 --pace max");
        let line = format!(
            "--book {BOOK} runout --gauge {} --square-to-wall --interface 7/24-40 --limit-um {limit_um} --json --yes",
            port.path
        );
        let mut runout = bench.command(line.split_whitespace());
        finished_with(&bench, &mut runout, "Plane 5 of 10", recorded)
    };
    only_what_is_outside_is_judged(&bench, recorded, || broken_off("15"), || broken_off("90"));
}

#[test]
fn a_grip_check_broken_off_outside_its_limit_is_not_sealed_as_one_not_judged() {
    let bench = bench!();
    let recorded = "2 of 5 clamps recorded";
    let broken_off = |condition: &str| {
        let port = Port::offer(
            &bench,
            &format!("--condition {condition} --seed 3 --pace 8"),
        );
        let mut grip = grip(&bench, &port.path, "--limit-n 7000 --interface 7/24-40");
        finished_with(&bench, &mut grip, "clamp 2:", recorded)
    };
    only_what_is_outside_is_judged(
        &bench,
        recorded,
        || broken_off("weak-springs"),
        || broken_off("sound"),
    );
}
