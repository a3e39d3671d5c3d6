//! Cautions agree with the work: live for one act, isolated again, each on a key of its own, and kept in the book.

use crate::BOOK;
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{Measuring, Port};
use std::process::Command;
use std::time::Duration;

/// One bar, one height, as somebody sits at the terminal.
fn one_plane(bench: &Bench, port: &str) -> Command {
    let line = format!(
        "runout --gauge {port} --at bar --height-mm 20 --seating 1 --orientation-deg 180 --state as-found --json --book {BOOK}"
    );
    bench.command(line.split_whitespace())
}

/// The text of the page of the visit at hand.
fn page(bench: &Bench) -> String {
    let line = format!("report --html page.html --book {BOOK}");
    bench.line(&line).exits(0);
    std::fs::read_to_string(bench.path("page.html")).expect("the page")
}

const LIVE: &str = "Never put fingers inside the taper";
const ISOLATED: &str = "Stored spring, air and accumulator energy remains";
const AGAIN: &str = "isolated and locked out again: Enter";

#[test]
fn a_seating_stops_twice_and_a_key_typed_before_it_answers_nothing() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let mut run = Measuring::at_terminal(&mut one_plane(&bench, &port.path));
    run.until("clamped already");
    run.types("no");
    run.until("Read, understood");
    // In the order of the work: first it is live, to put the bar in.
    assert!(
        run.told.contains(LIVE) && !run.told.contains(ISOLATED),
        "{}",
        run.told
    );
    run.types("yes");
    // Pressed before it is asked for.
    run.types("");
    run.until("live: unclamp, put the bar in at 180°, clamp it twice");
    assert_eq!(run.silent_for(Duration::from_millis(700)), "");
    run.types("");
    run.until(ISOLATED);
    run.until(AGAIN);
    assert_eq!(run.silent_for(Duration::from_millis(700)), "");
    run.types("");
    run.until("Plane 1 of 1");
    run.signal("INT");
    // Whoever stops leaves a bar in the nose.
    let ended = run.end().exits(130);
    assert!(
        ended.told.contains("The bar is still clamped"),
        "{}",
        ended.told
    );

    // The same visit again: no caution in full a second time, one line and one key each.
    let mut run = Measuring::at_terminal(&mut one_plane(&bench, &port.path));
    run.until("clamped already");
    run.types("no");
    run.until("Live, only to unclamp and clamp the bar, hands clear");
    run.types("yes");
    run.until("live: unclamp, put the bar in at 180°, clamp it twice, hands clear; then Enter");
    run.types("");
    run.until(AGAIN);
    run.types("");
    run.until("Plane 1 of 1");
    for full in [LIVE, ISOLATED] {
        assert!(!run.told.contains(full), "{}", run.told);
    }
    run.signal("INT");
    run.end().exits(130);
    let page = page(&bench);
    for text in [
        "live: unclamp, put the bar in",
        AGAIN,
        "asked and acknowledged",
    ] {
        assert!(page.contains(text), "no \"{text}\" on the page");
    }
    assert!(!page.contains("by flag"));
}

#[test]
fn a_bar_that_sits_already_needs_nothing_live() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let mut run = Measuring::at_terminal(&mut one_plane(&bench, &port.path));
    run.until("clamped already");
    run.types("yes");
    run.until("Read, understood");
    assert!(run.told.contains(ISOLATED), "{}", run.told);
    run.types("yes");
    run.until("Plane 1 of 1: Leave the bar in, move the indicator to 20 mm");
    assert!(!run.told.contains("live: "), "{}", run.told);
}

#[test]
fn a_keyboard_that_is_gone_acknowledges_nothing() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let mut run = Measuring::at_terminal(&mut one_plane(&bench, &port.path));
    run.until("clamped already");
    run.types("no");
    run.until("Read, understood");
    run.types("yes");
    run.until("live: unclamp");
    run.hangs_up();
    let ended = run.end().exits(130);
    assert!(!ended.told.contains(AGAIN), "{}", ended.told);
}

#[test]
fn a_round_by_flag_says_every_change_of_state_and_the_record_says_by_flag() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "runout --gauge {} --interface BT-free --yes --book {BOOK}",
        port.path
    );
    bench.line(&line).exits(2);
    let line = format!(
        "runout --gauge {} --interface 7/24-40 --yes --book {BOOK}",
        port.path
    );
    let run = bench.line(&line).exits(0);
    let told = format!("{}{}", run.messages, run.out);
    let count = |text: &str| told.matches(text).count();
    assert_eq!((count("live: unclamp"), count(AGAIN)), (4, 4), "{run}");
    assert_eq!(count("turn the bar to 180°, clamp it twice"), 2, "{run}");
    assert_eq!(count("turn the bar to 0°, clamp it twice"), 1, "{run}");
    assert_eq!(
        count("Leave the bar in, move the indicator to 300 mm"),
        4,
        "{run}"
    );
    assert_eq!((count(LIVE), count(ISOLATED)), (1, 1), "{run}");
    assert!(!told.contains("control's orientation"), "{run}");
    assert!(!told.contains("60 mm inside"), "{run}");
    let page = page(&bench);
    assert!(page.matches("by flag").count() >= 9, "each of them");
    assert!(!page.contains("asked and acknowledged"));
}

#[test]
fn a_rehearsal_goes_through_the_same_prompts_and_asks_nobody() {
    let bench = bench!();
    let run = bench.line("rehearse --seed 3").exits(0);
    let told = format!("{}{}", run.messages, run.out);
    assert_eq!(told.matches("live: unclamp").count(), 4, "{run}");
    assert_eq!(told.matches(AGAIN).count(), 4, "{run}");
    assert!(told.contains("43 mm inside the mouth"), "{run}");
}

#[test]
fn a_taper_that_takes_the_bar_one_way_only_clears_no_spindle() {
    let bench = bench!();
    bench.file(
        "limits.toml",
        "schema = 1\ntitle = \"Centre 2\"\ninterface = \"HSK-A63\"\n\n[[limit]]\nfigure = \"spindle-part\"\nheight_mm = 20\nlimit = 10\nunit = \"um\"\nprovenance = \"maker\"\nsource = \"spindle sheet (invented)\"\n",
    );
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "runout --gauge {} --limits limits.toml --yes --book {BOOK}",
        port.path
    );
    let run = bench.line(&line).exits(3);
    let told = format!("{}{}", run.messages, run.out);
    assert!(
        told.contains("Plane 6 of 6") && !told.contains("180°"),
        "{run}"
    );
    let run = run.shows("bar and spindle cannot be told apart");
    assert!(!run.out.contains("two orientations"), "{run}");
    let page = page(&bench);
    assert!(page.contains("bar and spindle cannot be told apart"));
}

#[test]
fn a_depth_the_taper_does_not_have_is_refused_before_anything_is_opened() {
    let bench = bench!();
    let deep = |taper: &str, depth: &str| {
        format!(
            "runout --gauge /dev/no-such-port --interface {taper} --deepest-mm {depth} --yes --book {BOOK}"
        )
    };
    for (taper, depth) in [("7/24-40", "80"), ("7/24-30", "60"), ("HSK-A63", "60")] {
        let run = bench
            .line(&deep(taper, depth))
            .exits(2)
            .tells("the wall of a");
        assert!(!run.messages.contains("Stored spring"), "{run}");
    }
    bench.line(&deep("7/24-50", "80")).exits(5);
    bench.line(&deep("7/24-40", "0")).exits(2);
}

#[test]
fn of_a_taper_nobody_named_is_asked_what_the_plan_needs() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "runout --gauge {} --state as-found --json --book {BOOK}",
        port.path
    );
    let mut run = Measuring::at_terminal(&mut bench.command(line.split_whitespace()));
    run.until("How deep does the indicator reach");
    // Mistyped, it is asked again.
    run.types("deep");
    run.until("expected a number");
    run.until("How deep does the indicator reach");
    run.types("35");
    run.until("turned by half a turn");
    run.types("no");
    run.until("Read, understood");
    run.types("yes");
    run.until("Plane 1 of 6");
    assert!(!run.told.contains("not named"), "{}", run.told);
    run.signal("INT");
    let ended = run.end().exits(130);
    assert!(
        ended.told.contains("8 mm inside the mouth"),
        "{}",
        ended.told
    );
    assert!(!ended.told.contains("still clamped"), "{}", ended.told);
}

/// Going on where the bar goes in next: the machine is live for that, so it is not asked first whether it is locked out.
#[test]
fn a_runout_that_goes_on_asks_for_its_cautions_in_the_order_of_the_work() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "runout --gauge {} --interface 7/24-40 --state as-found --json --book {BOOK}",
        port.path
    );
    let runout = || bench.command(line.split_whitespace());
    let mut run = Measuring::at_terminal(&mut runout());
    run.until("Read, understood");
    // The wall comes first, in a machine that is isolated.
    assert!(run.told.contains(ISOLATED), "{}", run.told);
    assert!(!run.told.contains(LIVE), "{}", run.told);
    run.types("yes");
    for plane in ["Plane 1 of 10", "Plane 2 of 10"] {
        run.until(plane);
        run.until("Press Enter when it is set");
        run.types("");
    }
    run.until("live: unclamp, put the bar in");
    run.signal("INT");
    run.end().exits(130);
    let mut run = Measuring::at_terminal(&mut runout());
    run.until("Read, understood");
    assert!(run.told.contains(LIVE), "{}", run.told);
    assert!(!run.told.contains("locked out, to turn"), "{}", run.told);
    run.types("yes");
    run.until("2 planes are in");
    run.until("live: unclamp, put the bar in at 0°, clamp it twice, hands clear; then Enter");
    run.types("");
    run.until(AGAIN);
    run.types("");
    run.until("Plane 3 of 10");
    run.until("Press Enter when it is set");
    run.types("");
    run.until("Plane 4 of 10");
    run.signal("INT");
    run.end().exits(130);
    // The bar stays in for its second height: nothing is live.
    let mut run = Measuring::at_terminal(&mut runout());
    run.until("Isolated and locked out, to turn it by hand and to set the indicator. Is it so?");
    run.types("yes");
    run.until("Plane 4 of 10");
    assert!(!run.told.contains("live: "), "{}", run.told);
}

/// A picture covers what was said before it: what only somebody at the machine can know is asked, and kept.
#[test]
fn a_spindle_of_unknown_force_is_clamped_only_on_somebodys_word() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "grip --gauge {} --clamps 2 --state as-found --json --book {BOOK}",
        port.path
    );
    let grip = || bench.command(line.split_whitespace());
    let asked = "No force is known for this spindle. Go on only if its plate or papers say that it pulls no more than 16.67 kN";
    let mut run = Measuring::at_terminal(&mut grip());
    run.until("Read, understood");
    run.types("yes");
    run.until(asked);
    run.types("no");
    run.end().exits(2);
    assert!(!bench.path(BOOK).exists(), "nothing was begun");
    let mut run = Measuring::at_terminal(&mut grip());
    run.until("Read, understood");
    run.types("yes");
    run.until(asked);
    assert_eq!(run.silent_for(Duration::from_millis(500)), "");
    run.types("yes");
    run.until("Hold the gauge free");
    run.signal("INT");
    run.end().exits(130);
    assert!(
        page(&bench).contains("pulls no more than 16.67"),
        "kept with the visit"
    );
}
