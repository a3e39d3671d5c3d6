//! Two promises about the causes of runout, on the simulated machine: a bent bar alone rejects no spindle, and the taper
//! is named only where its wall was read. How often the first hint is right is told by `hints_matrix`.
//!
//! The whole visit goes through the program's own live path: two depths of the wall, then the bar at two heights in four
//! seatings, half a turn between them, eight positions and the reading back at the first.

use holdtrue_metrology::hint::Cause;
use holdtrue_metrology::runout::RunoutResult;
use holdtrue_metrology::runout::remarks::RunoutNote;
use holdtrue_simulated_gauge::{Faults, Severity};
use holdtrue_terms::vocabulary::Outcome;
use holdtrue_tests::matrix::runout;

fn visit(seed: u64, faults: Faults, with_wall: bool) -> RunoutResult {
    runout::visit(seed, faults, with_wall).expect("a whole visit")
}

#[test]
fn a_bent_bar_alone_rejects_no_spindle() {
    let bent = Faults {
        bent_bar: Severity::CLEAR,
        ..Faults::default()
    };
    for seed in [4, 20, 31, 32, 33, 34] {
        let verdict = visit(seed, bent, true).verdict.expect("limits are set");
        assert_ne!(
            verdict.outcome,
            Outcome::Reject,
            "seed {seed}: {:?}",
            verdict.reasons
        );
    }
}

#[test]
fn the_taper_is_named_only_where_its_wall_was_read() {
    let tilted = Faults {
        tilted_taper: Severity::CLEAR,
        ..Faults::default()
    };
    let stuck = Faults {
        stuck_dirt: Severity::CLEAR,
        ..Faults::default()
    };
    for seed in 0..3 {
        let without = visit(seed, tilted, false);
        let named = |result: &RunoutResult| {
            let mut causes = result.hints.iter().map(|hint| hint.cause);
            causes.any(|cause| cause == Cause::TiltedTaper)
        };
        assert!(!named(&without), "seed {seed}: {:?}", without.hints);
        assert!(
            without.notes.contains(&RunoutNote::WallNotRead),
            "{:?}",
            without.notes
        );
        let with = visit(seed, stuck, true);
        assert!(!named(&with), "seed {seed}: {:?}", with.hints);
    }
}
