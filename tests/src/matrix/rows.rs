//! What can be wrong with the simulated machine, and what may rightly be said first about it.

use holdtrue_metrology::hint::Cause;
use holdtrue_simulated_gauge::{Faults, Hold, Severity};

const CLEAR: Severity = Severity::CLEAR;
const MILD: Severity = Severity::MILD;

/// What is wrong, and what may rightly be said first about it. Nothing may be said where nothing is listed.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// In words.
    pub name: &'static str,
    /// What the world is made of.
    pub faults: Faults,
    /// Any of these may come first.
    pub right: &'static [Cause],
    /// Beyond argument; else mild, or more than one fault.
    pub clear: bool,
}

fn row(name: &'static str, faults: Faults, right: &'static [Cause]) -> Row {
    Row {
        name,
        faults,
        right,
        clear: true,
    }
}

fn mild(name: &'static str, faults: Faults, right: &'static [Cause]) -> Row {
    Row {
        name,
        faults,
        right,
        clear: false,
    }
}

/// What makes a force low and even, to be told apart by the push-out; without it springs are the first guess.
pub fn low_force() -> Vec<Row> {
    let none = Faults::default();
    vec![
        row("sound", none, &[]),
        row(
            "weak springs",
            Faults {
                weak_springs: CLEAR,
                ..none
            },
            &[Cause::WeakSprings],
        ),
        row(
            "drawbar setting",
            Faults {
                setting: CLEAR,
                ..none
            },
            &[Cause::DrawbarSetting],
        ),
        row(
            "unclamp cylinder",
            Faults {
                unclamp_cylinder: CLEAR,
                ..none
            },
            &[Cause::UnclampCylinder],
        ),
    ]
}

/// Rows of the grip check.
pub fn grip() -> Vec<Row> {
    let none = Faults::default();
    let oil = Faults {
        hold: Hold::Hydraulic,
        ..none
    };
    vec![
        row("sound", none, &[]),
        row("sound, held by oil", oil, &[]),
        row(
            "weak springs",
            Faults {
                weak_springs: CLEAR,
                ..none
            },
            &[Cause::WeakSprings],
        ),
        row(
            "sticky",
            Faults {
                sticking: CLEAR,
                ..none
            },
            &[Cause::Sticking],
        ),
        row(
            "stood long",
            Faults {
                standing: CLEAR,
                ..none
            },
            &[Cause::StoodLong],
        ),
        row(
            "leaking",
            Faults {
                leaking: CLEAR,
                ..oil
            },
            &[Cause::Leak],
        ),
        row(
            "worn gripper",
            Faults {
                worn_gripper: CLEAR,
                ..none
            },
            &[Cause::WornGripper],
        ),
        row(
            "off axis",
            Faults {
                off_axis: CLEAR,
                ..none
            },
            &[Cause::OffAxis],
        ),
        row(
            "set too far",
            Faults {
                set_too_far: CLEAR,
                ..none
            },
            &[Cause::SetTooFar],
        ),
        row(
            "gauge warming",
            Faults {
                gauge_warming: CLEAR,
                ..none
            },
            &[Cause::GaugeWarming],
        ),
        mild(
            "weak springs, mild",
            Faults {
                weak_springs: MILD,
                ..none
            },
            &[Cause::WeakSprings],
        ),
        mild(
            "sticky, mild",
            Faults {
                sticking: MILD,
                ..none
            },
            &[Cause::Sticking],
        ),
        mild(
            "stood long, mild",
            Faults {
                standing: MILD,
                ..none
            },
            &[Cause::StoodLong],
        ),
        mild(
            "leaking, mild",
            Faults {
                leaking: MILD,
                ..oil
            },
            &[Cause::Leak],
        ),
        mild(
            "worn gripper, mild",
            Faults {
                worn_gripper: MILD,
                ..none
            },
            &[Cause::WornGripper],
        ),
        mild(
            "off axis, mild",
            Faults {
                off_axis: MILD,
                ..none
            },
            &[Cause::OffAxis],
        ),
        mild(
            "gauge warming, mild",
            Faults {
                gauge_warming: MILD,
                ..none
            },
            &[Cause::GaugeWarming],
        ),
        mild(
            "unclamp cylinder creeping",
            Faults {
                release_creep: CLEAR,
                ..none
            },
            &[],
        ),
        mild(
            "weak springs + sticky",
            Faults {
                weak_springs: CLEAR,
                sticking: CLEAR,
                ..none
            },
            &[Cause::WeakSprings, Cause::Sticking],
        ),
        mild(
            "weak springs + worn gripper",
            Faults {
                weak_springs: CLEAR,
                worn_gripper: CLEAR,
                ..none
            },
            &[Cause::WeakSprings, Cause::WornGripper],
        ),
        mild(
            "sticky + gauge warming",
            Faults {
                sticking: CLEAR,
                gauge_warming: CLEAR,
                ..none
            },
            &[Cause::Sticking, Cause::GaugeWarming],
        ),
        mild(
            "leaking + worn gripper",
            Faults {
                leaking: CLEAR,
                worn_gripper: CLEAR,
                ..oil
            },
            &[Cause::Leak, Cause::WornGripper],
        ),
    ]
}

/// Rows of the runout check.
pub fn runout() -> Vec<Row> {
    let none = Faults::default();
    vec![
        row("sound", none, &[]),
        row(
            "dirty taper",
            Faults {
                loose_dirt: CLEAR,
                ..none
            },
            &[Cause::DirtySeat],
        ),
        row(
            "bent test bar",
            Faults {
                bent_bar: CLEAR,
                ..none
            },
            &[Cause::BentTestBar],
        ),
        row(
            "tilted taper",
            Faults {
                tilted_taper: CLEAR,
                ..none
            },
            &[Cause::TiltedTaper],
        ),
        row(
            "stuck dirt",
            Faults {
                stuck_dirt: CLEAR,
                ..none
            },
            &[Cause::StuckDirt],
        ),
        mild(
            "dirty taper, mild",
            Faults {
                loose_dirt: MILD,
                ..none
            },
            &[Cause::DirtySeat],
        ),
        mild(
            "bent test bar, mild",
            Faults {
                bent_bar: MILD,
                ..none
            },
            &[Cause::BentTestBar],
        ),
        mild(
            "tilted taper, mild",
            Faults {
                tilted_taper: MILD,
                ..none
            },
            &[Cause::TiltedTaper],
        ),
        mild(
            "stuck dirt, mild",
            Faults {
                stuck_dirt: MILD,
                ..none
            },
            &[Cause::StuckDirt],
        ),
        mild(
            "bent test bar + dirty taper",
            Faults {
                bent_bar: CLEAR,
                loose_dirt: CLEAR,
                ..none
            },
            &[Cause::BentTestBar, Cause::DirtySeat],
        ),
        mild(
            "tilted taper + bent test bar",
            Faults {
                tilted_taper: CLEAR,
                bent_bar: CLEAR,
                ..none
            },
            &[Cause::TiltedTaper, Cause::BentTestBar],
        ),
    ]
}
