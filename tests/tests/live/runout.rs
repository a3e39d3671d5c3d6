//! Runout measured from a gauge on a serial device: the figures of one process, and again from the book; positions read on
//! somebody's word.

use holdtrue_simulated_gauge::operator::stepping::StepHabits;
use holdtrue_simulated_gauge::world::plane::Prescribed;
use holdtrue_simulated_gauge::{Faults, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::port::{Measuring, OwnPort, Port};
use serde_json::Value;
use std::time::Duration;

/// One plane of the wall, eight positions: nothing to clamp.
const ONE_PLANE: &str = "--at wall --height-mm -8 --positions 8 --book yard.holdtrue --json --yes";

/// The operator answers the light, which comes through the cable a moment earlier or later: what is read at rest then
/// differs by its noise and no more.
#[test]
fn runout_over_the_wire_is_that_of_one_process_and_of_the_book() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "runout --gauge {} --square-to-wall --interface 7/24-40 --book yard.holdtrue --json --yes",
        port.path
    );
    let run = bench.line(&line).exits(0);
    let live = run.json();
    let inside = bench.line("rehearse --seed 3 --json").exits(0).json();
    let planes = |document: &Value| document["planes"].as_array().cloned().unwrap_or_default();
    let (live_planes, inside_planes) = (planes(&live), planes(&inside["runout"]));
    assert_eq!((live_planes.len(), inside_planes.len()), (10, 10), "{run}");
    for (live, inside) in live_planes.iter().zip(&inside_planes) {
        let tir_um = |plane: &Value| plane["tir_um"].as_f64().expect("a TIR");
        assert!(
            (tir_um(live) - tir_um(inside)).abs() < 0.5,
            "{live}\n{inside}"
        );
        assert_eq!(live["stops"], 8);
    }
    bench
        .line("--book yard.holdtrue recheck")
        .exits(0)
        .shows("all the same");
    bench
        .line("--book yard.holdtrue report --html page.html")
        .exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains("seating") && page.contains("<svg"));
    // What the certificate is for read it: no indicator was there.
    assert!(page.contains("Displacement probe") && !page.contains(">Indicator<"));
}

#[test]
fn a_runout_check_broken_off_goes_on_with_the_plane_it_lacked() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let words = |path: &str| format!("runout --gauge {path} --book yard.holdtrue --json --yes");
    let mut run = Measuring::start(&mut bench.command(words(&port.path).split_whitespace()));
    run.until("Plane 3 of 10");
    drop(port);
    let run = run.end().exits(5);
    let (partial, out) = (run.json(), &run.out);
    assert_eq!(partial["planes"].as_array().map(Vec::len), Some(2), "{out}");

    let port = Port::offer(&bench, "--seed 3 --pace max");
    let run = bench
        .line(&words(&port.path))
        .tells("2 planes are in")
        .tells("Plane 3 of 10");
    assert_eq!(
        run.json()["planes"].as_array().map(Vec::len),
        Some(10),
        "{run}"
    );
}

#[test]
fn one_plane_can_be_read_by_itself() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "runout --gauge {} --at wall --height-mm -8 --positions 8 --limit-um 40 --book yard.holdtrue --json --yes",
        port.path
    );
    let run = bench.line(&line).exits(0);
    let document = run.json();
    assert_eq!(document["planes"][0]["at"], "wall", "{run}");
    assert_eq!(document["planes"][0]["stops"], 8, "{run}");
    assert_eq!(document["verdict"]["outcome"], "accept", "{run}");
}

/// A spindle that runs so much out, at this noise, whose operator turns at the light's word and leaves the button alone.
fn turned_at(runout_um: f64, noise_um: f64) -> Setup {
    let mut setup = Setup::with_faults(5, Faults::default());
    setup.stepping = StepHabits {
        presses: false,
        mishaps: false,
        ..StepHabits::default()
    };
    setup.prescribed = Prescribed {
        runout_um: Some(runout_um),
        noise_um: Some(noise_um),
    };
    setup
}

fn readings(told: &str) -> usize {
    told.lines()
        .filter(|line| line.contains(" from the first"))
        .count()
}

#[test]
fn standing_still_reads_nothing_until_told_and_each_big_key_reads_one() {
    for noise_um in [0.02, 0.3] {
        let bench = bench!();
        let port = OwnPort::at_pace(turned_at(0.3, noise_um), 8.0);
        let line = format!("runout --gauge {} {ONE_PLANE}", port.path);
        let mut run = Measuring::at_terminal(&mut bench.command(line.split_whitespace()));
        run.until("Press Enter when it is set");
        run.presses(b"\n");
        run.until("Stand at position 1 of 8");
        // Over a minute of standing still.
        run.silent_for(Duration::from_secs(8));
        assert_eq!(readings(&run.told), 0, "{}", run.told);
        let keys: [&[u8]; 4] = [b" ", b"\n", b"\x1b[6~", b"\x1b[C"];
        for number in 1..=9 {
            run.presses(keys[number % keys.len()]);
            run.until(" from the first");
            run.silent_for(Duration::from_millis(700));
            assert_eq!(readings(&run.told), number, "{}", run.told);
        }
        // The machine goes on warming between two keys: it may be asked whether it came back.
        run.silent_for(Duration::from_millis(700));
        run.presses(b"k");
        let run = run
            .end()
            .exits(0)
            .tells("position 8 of 8")
            .tells("back at position 1");
        assert_eq!(run.json()["planes"][0]["stops"], 8, "{}", run.told);
        bench.line("--book yard.holdtrue recheck").exits(0);
    }
}

#[test]
fn the_last_reading_is_taken_back_by_a_key_and_read_again() {
    let bench = bench!();
    let port = OwnPort::of(turned_at(3.0, 0.05));
    let line = format!("runout --gauge {} {ONE_PLANE}", port.path);
    let mut run = Measuring::at_terminal(&mut bench.command(line.split_whitespace()));
    run.until("Press Enter when it is set");
    run.presses(b"\n");
    run.until("Stand at position 1");
    for back in [&b"\x1b[5~"[..], b"\x1b[D"] {
        run.silent_for(Duration::from_millis(300));
        run.presses(b" ");
        run.until("position 1 of 8");
        // With these a presenter blanks a screen.
        run.presses(b"b.B");
        let said = run.silent_for(Duration::from_millis(300));
        assert!(!said.contains("again"), "{said}");
        run.presses(back);
        run.until("position 1 again");
    }
    run.signal("INT");
    let run = run.end().exits(130);
    assert!(!run.told.contains("position 2 of 8"), "{}", run.told);
    crate::is_sound(&bench);
}

#[test]
fn without_a_terminal_the_button_at_the_gauge_says_now_and_the_rhythm_needs_nobody() {
    for more in ["", "--paced 12"] {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 7 --pace max");
        let line = format!("runout --gauge {} {ONE_PLANE} {more}", port.path);
        let run = bench.line(&line).exits(0);
        assert_eq!(readings(&run.messages), 9, "{run}");
        assert_eq!(run.json()["planes"][0]["stops"], 8, "{run}");
        crate::is_sound(&bench);
    }
}

#[test]
fn a_rhythm_nobody_can_keep_is_refused() {
    let bench = bench!();
    for silly in ["0", "-3", "1", "4.9", "61", "nan", "1e9", "fast"] {
        bench
            .line(&format!("runout --gauge auto --paced={silly}"))
            .exits(2)
            .tells("expected");
    }
    bench
        .line("runout --readings 1,2 --unit um --paced 8")
        .exits(2);
    bench.line("runout --gauge auto --free --paced 8").exits(2);
}

/// An operator who now and then stays where he is though the rhythm says turn.
#[test]
fn positions_that_look_like_one_are_asked_about_and_if_kept_say_so() {
    let mut setup = turned_at(30.0, 0.05);
    setup.stepping.overlooks = 0.15;
    let bench = bench!();
    let port = OwnPort::of(setup.clone());
    let line = format!("runout --gauge {} {ONE_PLANE} --paced 12", port.path);
    let run = bench.line(&line).exits(0);
    let run = run.tells("Nobody can be asked here: kept");
    let document = run.json();
    let notes = document["planes"][0]["notes"].to_string();
    assert!(notes.contains("read the plane again"), "{notes}");
    drop(port);

    let port = OwnPort::of(setup);
    let line = format!("runout --gauge {} {ONE_PLANE} --paced 12 --new", port.path);
    let mut run = Measuring::at_terminal(&mut bench.command(line.split_whitespace()));
    run.until("Press Enter when it is set");
    run.presses(b"\n");
    run.until("read again?");
    run.presses(b" ");
    run.until("Type r to read again");
    run.presses(b"r");
    run.until(" again: turn to it");
    run.until("back at position 1");
    run.silent_for(Duration::from_millis(500));
    // Once more where he overlooked it again; kept then.
    run.presses(b"k");
    run.end().exits(0);
    crate::is_sound(&bench);
}

#[test]
fn a_check_that_was_begun_with_other_planes_is_not_gone_on_with() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let words = |path: &str, more: &str| {
        format!("runout --gauge {path} --book yard.holdtrue --json --yes {more}")
    };
    let line = words(&port.path, "--interface BT40");
    let mut run = Measuring::start(&mut bench.command(line.split_whitespace()));
    run.until("Plane 3 of 10");
    drop(port);
    run.end().exits(5);

    let port = Port::offer(&bench, "--seed 3 --pace max");
    for other in ["--interface HSK-A63", "--at bar --height-mm 20 --seating 1"] {
        let run = bench.line(&words(&port.path, other));
        run.exits(2).tells("other planes").tells("--new");
    }
    let alone = words(&port.path, "--at wall --height-mm -8 --new");
    bench.line(&alone).exits(0);
}
