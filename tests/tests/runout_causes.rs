//! What a runout check points to, against what is wrong with the simulated machine. In: seeds and faults. Out: how often
//! the first hint names the fault, and how often a sound machine draws one.
//!
//! The whole visit is read as a person would: two depths of the wall, then the bar at two heights in four seatings, half a
//! turn between them, eight positions and the reading back at the first. Seeds from 10 000 on are for the closing table
//! only: `cargo test -p holdtrue-tests --test runout_causes -- --ignored --nocapture`.

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
use std::collections::BTreeMap;
use std::ops::Range;

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

/// A machine and what a check of it ought to point to first.
struct Machine {
    name: &'static str,
    faults: Faults,
    points_to: Option<Cause>,
}

fn machines() -> Vec<Machine> {
    let none = Faults::default();
    let mut all = vec![Machine {
        name: "sound",
        faults: none,
        points_to: None,
    }];
    for (name, severity) in [("clear", Severity::CLEAR), ("mild", Severity::MILD)] {
        let clear = name == "clear";
        let mut add = |of_clear: &'static str, of_mild: &'static str, faults, cause| {
            all.push(Machine {
                name: if clear { of_clear } else { of_mild },
                faults,
                points_to: Some(cause),
            });
        };
        add(
            "bent bar",
            "bent bar, mild",
            Faults {
                bent_bar: severity,
                ..none
            },
            Cause::BentTestBar,
        );
        add(
            "loose dirt",
            "loose dirt, mild",
            Faults {
                loose_dirt: severity,
                ..none
            },
            Cause::DirtySeat,
        );
        add(
            "stuck dirt",
            "stuck dirt, mild",
            Faults {
                stuck_dirt: severity,
                ..none
            },
            Cause::StuckDirt,
        );
        add(
            "tilted taper",
            "tilted taper, mild",
            Faults {
                tilted_taper: severity,
                ..none
            },
            Cause::TiltedTaper,
        );
    }
    let severity = Severity::CLEAR;
    all.push(Machine {
        name: "bent bar and loose dirt",
        faults: Faults {
            bent_bar: severity,
            loose_dirt: severity,
            ..none
        },
        points_to: None,
    });
    all.push(Machine {
        name: "bent bar and tilted taper",
        faults: Faults {
            bent_bar: severity,
            tilted_taper: severity,
            ..none
        },
        points_to: None,
    });
    all.push(Machine {
        name: "loose dirt and tilted taper",
        faults: Faults {
            loose_dirt: severity,
            tilted_taper: severity,
            ..none
        },
        points_to: None,
    });
    all
}

/// How often each cause came first (`None`: no hint), and each outcome.
#[derive(Default)]
struct Tally {
    visits: u32,
    first: BTreeMap<String, u32>,
    outcomes: BTreeMap<String, u32>,
}

impl Tally {
    fn of(machine: &Machine, seeds: Range<u64>) -> Self {
        let mut tally = Self::default();
        for seed in seeds {
            let result = visit(seed, &machine.faults, true);
            let first = result.hints.first().map(|hint| hint.cause);
            let outcome = result.verdict.map(|verdict| verdict.outcome);
            tally.visits += 1;
            *tally.first.entry(name(first)).or_default() += 1;
            *tally.outcomes.entry(format!("{outcome:?}")).or_default() += 1;
        }
        tally
    }

    fn share(&self, cause: Option<Cause>) -> f64 {
        f64::from(self.first.get(&name(cause)).copied().unwrap_or(0)) / f64::from(self.visits)
    }

    fn outcome_share(&self, outcome: Outcome) -> f64 {
        let count = self.outcomes.get(&format!("{:?}", Some(outcome))).copied();
        f64::from(count.unwrap_or(0)) / f64::from(self.visits)
    }
}

fn name(cause: Option<Cause>) -> String {
    cause.map_or("no hint".to_owned(), |cause| format!("{cause:?}"))
}

const CAUSES: [Option<Cause>; 5] = [
    None,
    Some(Cause::BentTestBar),
    Some(Cause::DirtySeat),
    Some(Cause::StuckDirt),
    Some(Cause::TiltedTaper),
];

fn table(seeds: &Range<u64>) -> String {
    let mut lines = vec![
        "| machine | no hint | bent-test-bar | dirty-seat | stuck-dirt | tilted-taper | within | outside | undecided |"
            .to_owned(),
        "|---|---|---|---|---|---|---|---|---|".to_owned(),
    ];
    for machine in machines() {
        let tally = Tally::of(&machine, seeds.clone());
        let percent = |share: f64| format!("{:.1} %", 100.0 * share);
        let mut cells = vec![machine.name.to_owned()];
        cells.extend(CAUSES.map(|cause| percent(tally.share(cause))));
        cells.extend(
            [Outcome::Accept, Outcome::Reject, Outcome::Undecided]
                .map(|o| percent(tally.outcome_share(o))),
        );
        lines.push(format!("| {} |", cells.join(" | ")));
    }
    lines.join("\n")
}

#[test]
fn hints_name_clear_faults_and_leave_a_sound_machine_alone() {
    for machine in machines()
        .iter()
        .filter(|machine| !machine.name.contains("mild") && !machine.name.contains(" and "))
    {
        let tally = Tally::of(machine, 0..60);
        let least = if machine.points_to.is_none() {
            0.95
        } else {
            0.9
        };
        let share = tally.share(machine.points_to);
        assert!(share >= least, "{}: {:?}", machine.name, tally.first);
    }
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

#[test]
#[ignore = "the closing table: minutes, printed"]
fn closing_table() {
    println!("{}", table(&(10_000..10_500)));
}

#[test]
#[ignore = "for tuning on seeds that are not in the closing table"]
fn table_to_tune_on() {
    println!("{}", table(&(0..500)));
}
