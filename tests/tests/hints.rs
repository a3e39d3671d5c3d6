//! A few seeds of every clear fault, from the physics through firmware and wire to the first hint and the verdict.
//! The whole table is made by `hints_matrix`, see `host/docs/hints.md`.

use holdtrue_tests::matrix::rows::{self, Row};
use holdtrue_tests::matrix::tally::Tally;
use holdtrue_tests::matrix::{Check, grip, runout, tally};

const SEEDS: u64 = 10;

fn clear(rows: Vec<Row>, check: Check) -> Vec<(&'static str, Tally)> {
    let clear = rows.into_iter().filter(|row| row.clear);
    clear
        .map(|row| (row.name, tally(&row, 500, SEEDS, check)))
        .collect()
}

/// Nine in ten over all rows, and no row that is mostly luck.
fn assert_right(found: &[(&str, Tally)]) {
    let all: usize = found.iter().map(|(_, tally)| tally.right).sum();
    let checks = found.len() as u64 * SEEDS;
    assert!(
        all as f64 >= 0.9 * checks as f64,
        "{all} right of {checks}: {found:?}"
    );
    for (name, tally) in found {
        assert!(tally.right as u64 * 10 >= SEEDS * 8, "{name}: {tally:?}");
        assert_eq!(tally.failures, 0, "{name}");
        assert_eq!(tally.wrong_clamps, 0, "{name}");
    }
}

fn outcomes(found: &[(&str, Tally)], wanted: &str) -> [usize; 3] {
    found
        .iter()
        .find(|(name, _)| *name == wanted)
        .expect("the row exists")
        .1
        .outcomes
}

#[test]
fn grip_faults_are_named_and_judged_for_what_they_are() {
    let found = clear(rows::grip(), grip::check);
    assert_right(&found);
    assert_eq!(outcomes(&found, "sound"), [10, 0, 0]);
    assert_eq!(outcomes(&found, "weak springs"), [0, 0, 10]);
}

/// Springs, setting and unclamp cylinder give the same low and even force; how far the shank is pushed out parts them.
#[test]
fn a_low_force_is_told_apart_by_the_push_out() {
    let found = clear(rows::low_force(), grip::check_with_push_out);
    for (name, tally) in &found {
        assert!(tally.right as u64 >= SEEDS - 1, "{name}: {tally:?}");
        assert_eq!((tally.failures, tally.wrong_clamps), (0, 0), "{name}");
    }
    assert_eq!(outcomes(&found, "sound"), [10, 0, 0]);
    assert_eq!(outcomes(&found, "drawbar setting"), [0, 0, 10]);
    assert_eq!(outcomes(&found, "unclamp cylinder"), [0, 0, 10]);
}

#[test]
fn runout_faults_are_named_and_a_bent_bar_never_rejects_a_spindle() {
    let found = clear(rows::runout(), runout::check);
    assert_right(&found);
    assert_eq!(outcomes(&found, "sound"), [10, 0, 0]);
    assert_eq!(outcomes(&found, "bent test bar")[2], 0);
    assert_eq!(outcomes(&found, "tilted taper"), [0, 0, 10]);
}
