//! Two promises about the causes of runout, on the simulated machine: a bent bar alone rejects no spindle, and the taper
//! is named only where its wall was read. How often the first hint is right is told by `hints_matrix`.
//!
//! The whole visit is read as a person would: two depths of the wall, then the bar at two heights in four seatings, half a
//! turn between them, eight positions and the reading back at the first.

use holdtrue_metrology::decision::{Figure, Limit, Outcome, Side};
use holdtrue_metrology::hint::Cause;
use holdtrue_metrology::provenance::Provenance;
use holdtrue_metrology::runout::taper::Taper;
use holdtrue_metrology::runout::{
    At, Indicator, Place, Plane, Readings, RunoutRecord, RunoutResult, RunoutSetup, Stop, analyse,
};
use holdtrue_simulated_gauge::world::plane::{
    At as SimulatedAt, PlaneSetup, PlaneWorld, visit_planes,
};
use holdtrue_simulated_gauge::{Faults, Severity};

const STOPS: u16 = 8;
/// The indicator shows steps of this, µm.
const STEP_UM: f64 = 0.1;

/// Readings at rest, each the mean over a still half second.
fn read_plane(seed: u64, faults: &Faults, number: u64, setup: PlaneSetup) -> Plane {
    let mut world = PlaneWorld::new(seed, faults, number, setup);
    let rests = world.turning().rests();
    let long = rests.iter().filter(|rest| rest.1 - rest.0 > 1.0);
    let mut stops = Vec::new();
    for (position, rest) in long.enumerate() {
        let until_s = rest.1.min(rest.0 + 2.5) - 0.1;
        let still: Vec<f64> = (0..10)
            .map(|i| world.plunger_um(until_s - 0.5 + 0.05 * f64::from(i)))
            .collect();
        let mean_um = still.iter().sum::<f64>() / 10.0;
        let position = u16::try_from(position).expect("few positions");
        stops.push(Stop {
            angle_deg: 360.0 * f64::from(position) / f64::from(STOPS),
            reading_um: (mean_um / STEP_UM).round() * STEP_UM,
        });
    }
    Plane {
        place: Place {
            at: Some(match setup.at {
                SimulatedAt::Wall => At::Wall,
                SimulatedAt::Bar => At::Bar,
                SimulatedAt::Face => At::Face,
                SimulatedAt::Axial => At::Axial,
            }),
            height_mm: Some(setup.height_mm),
            seating: Some(setup.seating),
            orientation_deg: Some(setup.orientation_deg),
        },
        readings: Readings::Stepped(stops),
    }
}

fn spindle_part(height_mm: f64, limit_um: f64) -> Limit {
    Limit {
        figure: Figure::SpindlePart,
        height_mm: Some(height_mm),
        side: Side::Upper,
        limit: limit_um,
        unit: "um".to_owned(),
        provenance: Provenance::CommonPractice,
        watch: None,
    }
}

/// A whole visit; without the wall where `with_wall` is false. Limits: nose 10 µm, bar 25 µm (common practice).
fn visit(seed: u64, faults: &Faults, with_wall: bool) -> RunoutResult {
    let planes = (0..)
        .zip(visit_planes(STOPS))
        .filter(|(_, setup)| with_wall || setup.at != SimulatedAt::Wall)
        .map(|(number, setup)| read_plane(seed, faults, number, setup))
        .collect();
    let setup = RunoutSetup {
        limits: vec![spindle_part(20.0, 10.0), spindle_part(300.0, 25.0)],
        indicator: Some(Indicator {
            resolution_um: Some(STEP_UM),
            ..Indicator::in_force(0.6)
        }),
        square_to_wall: Some(Taper::SevenTwentyFour),
        ..RunoutSetup::default()
    };
    analyse(&RunoutRecord { planes }, &setup).expect("a whole visit")
}

#[test]
fn a_bent_bar_alone_rejects_no_spindle() {
    let bent = Faults {
        bent_bar: Severity::CLEAR,
        ..Faults::default()
    };
    for seed in 0..60 {
        let verdict = visit(seed, &bent, true).verdict.expect("limits are set");
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
    for seed in 0..40 {
        let without = visit(seed, &tilted, false);
        assert!(
            without
                .hints
                .iter()
                .all(|hint| hint.cause != Cause::TiltedTaper),
            "seed {seed}"
        );
        assert!(
            without
                .notes
                .iter()
                .any(|note| note.contains("no reading on the taper wall"))
        );
        let with = visit(seed, &stuck, true);
        assert!(
            with.hints
                .iter()
                .all(|hint| hint.cause != Cause::TiltedTaper),
            "seed {seed}: {:?}",
            with.hints
        );
    }
}
