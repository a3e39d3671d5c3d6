//! Grip force over the wire: the figures of one process, to the last digit.

use crate::{grip, is_sound};
use holdtrue_tests::bench;
use holdtrue_tests::port::Port;

#[test]
fn over_the_wire_and_in_one_process_the_figures_are_the_same_to_the_last_digit() {
    for (seed, condition, code) in [(3, "sound", 0), (11, "weak-springs", 1), (8, "sticky", 0)] {
        let bench = bench!();
        let seeded = format!("--seed {seed} --condition {condition}");
        let port = Port::offer(&bench, &format!("{seeded} --pace max"));
        let inside = bench.line(&format!("rehearse {seeded} --json")).json();
        let drawbar =
            "--nominal-n 10000 --limit-percent 70 --provenance maker --drawbar disc-springs";
        let run = bench.finish(&mut grip(&bench, &port.path, drawbar));
        let live = run.json();
        assert_eq!(live["clamps"], inside["grip"]["clamps"], "{seeded}\n{run}");
        assert_eq!(live["statistics"], inside["grip"]["statistics"], "{seeded}");
        assert_eq!(live["statistics"]["count"], 5, "{run}");
        run.exits(code);
        let again = bench.line("grip --from yard.holdtrue --json").json();
        assert_eq!(again["clamps"], live["clamps"], "from the stored frames");
        assert_eq!(again["verdict"], live["verdict"], "from the stored frames");
        is_sound(&bench);
    }
}

#[test]
fn a_second_set_in_the_same_visit_is_a_check_of_its_own() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let first = bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    let second = bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    assert!(!second.messages.contains("unfinished"), "{second}");
    assert_eq!(first.json()["clamps"], second.json()["clamps"]);
    is_sound(&bench);
}
