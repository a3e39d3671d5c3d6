//! Stepping from position to position with the simulated operator at the spindle: every reading once, at rest, in its place.
//! `--bin positions -- --seeds 200` prints the whole table.

use holdtrue_tests::doubts;
use holdtrue_tests::stepping::{RUNOUTS_UM, plane};

#[test]
fn every_position_is_read_once_at_rest_and_in_its_place_however_true_the_spindle_runs() {
    for (seed, noise_um) in [(1, 0.02), (2, 0.08), (3, 0.15), (4, 0.3)] {
        for runout_um in RUNOUTS_UM {
            for paced in [false, true] {
                let led = plane(seed, runout_um, noise_um, paced).expect("a plane");
                let wrong = led.wrong(8);
                assert_eq!(
                    wrong,
                    0,
                    "seed {seed}, {runout_um} µm, noise {noise_um}, paced {paced}: {:?} {:?}\n{}",
                    led.readings,
                    led.rests,
                    led.said.join("\n")
                );
            }
        }
    }
}

/// Sound planes are seldom doubted, and mistakes that matter are mostly found; the whole table: `--bin positions`.
#[test]
fn a_plane_is_doubted_for_a_mistake_and_seldom_without() {
    for (positions, found) in [(4, 85.0), (8, 90.0), (12, 90.0), (36, 70.0)] {
        for noise_um in [0.02, 0.3] {
            let rates = doubts::rates(positions, noise_um, 400);
            assert!(
                rates.false_alarms_percent() <= 1.5,
                "{positions}, {noise_um}: {}",
                rates.false_alarms_percent()
            );
            assert!(
                rates.found_percent() >= found,
                "{positions}, {noise_um}: {}",
                rates.found_percent()
            );
        }
    }
}
