//! How often a grip check points to the right cause. In: first seed and number of seeds. Out: a table of the first
//! hint, one row a condition, over whole checks of the simulated gauge.
//!
//! `cargo run --release -p holdtrue-tests --bin grip_hints -- 0 500`

use holdtrue_metrology::grip::limits::{MakersFigure, Shares};
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Allowance, Drawbar, Gauge, GripSetup, Standing, Turned};
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_metrology::hint::Cause;
use holdtrue_protocol::message::{Channel, Channels, Command, Reply};
use holdtrue_simulated_gauge::condition::{Faults, Hold, Severity};
use holdtrue_simulated_gauge::recorder::Recorder;
use holdtrue_simulated_gauge::world::drawbar::MAKER_NOMINAL_N;
use holdtrue_simulated_gauge::{Setup, SimulatedGauge};
use std::collections::BTreeMap;

const FORCE: Channels = Channels {
    force: true,
    displacement: false,
    mark: false,
    indicator: false,
};
const RATE_HZ: u16 = 330;
const CLAMPS: u32 = 5;

/// One row: what is wrong, and which first hints are right.
struct Row {
    name: &'static str,
    faults: Faults,
    right: &'static [Cause],
}

fn rows() -> Vec<Row> {
    let clear = Severity::CLEAR;
    let none = Faults::default();
    let oil = Faults {
        hold: Hold::Hydraulic,
        ..none
    };
    let row = |name, faults, right| Row {
        name,
        faults,
        right,
    };
    let mut rows = vec![
        row("sound", none, &[][..]),
        row(
            "sound, gas spring",
            Faults {
                hold: Hold::GasSpring,
                ..none
            },
            &[],
        ),
        row("sound, hydraulic", oil, &[]),
        row(
            "weak springs",
            Faults {
                weak_springs: clear,
                ..none
            },
            &[Cause::WeakSprings],
        ),
        row(
            "sticking",
            Faults {
                sticking: clear,
                ..none
            },
            &[Cause::Sticking],
        ),
        row(
            "stood long",
            Faults {
                standing: clear,
                ..none
            },
            &[Cause::StoodLong],
        ),
        row(
            "leaking",
            Faults {
                leaking: clear,
                ..oil
            },
            &[Cause::Leak],
        ),
        row(
            "worn gripper",
            Faults {
                worn_gripper: clear,
                ..none
            },
            &[Cause::WornGripper],
        ),
        row(
            "off axis",
            Faults {
                off_axis: clear,
                ..none
            },
            &[Cause::OffAxis],
        ),
        row(
            "set too far",
            Faults {
                set_too_far: clear,
                ..none
            },
            &[Cause::SetTooFar],
        ),
        row(
            "gauge warming",
            Faults {
                gauge_warming: clear,
                ..none
            },
            &[Cause::GaugeWarming],
        ),
        row(
            "release creep",
            Faults {
                release_creep: clear,
                ..none
            },
            &[],
        ),
    ];
    let mild = Severity::MILD;
    rows.extend([
        row(
            "mild weak springs",
            Faults {
                weak_springs: mild,
                ..none
            },
            &[Cause::WeakSprings][..],
        ),
        row(
            "mild sticking",
            Faults {
                sticking: mild,
                ..none
            },
            &[Cause::Sticking],
        ),
        row(
            "mild stood long",
            Faults {
                standing: mild,
                ..none
            },
            &[Cause::StoodLong],
        ),
        row(
            "mild leaking",
            Faults {
                leaking: mild,
                ..oil
            },
            &[Cause::Leak],
        ),
        row(
            "mild worn gripper",
            Faults {
                worn_gripper: mild,
                ..none
            },
            &[Cause::WornGripper],
        ),
        row(
            "mild off axis",
            Faults {
                off_axis: mild,
                ..none
            },
            &[Cause::OffAxis],
        ),
        row(
            "mild set too far",
            Faults {
                set_too_far: mild,
                ..none
            },
            &[Cause::SetTooFar],
        ),
        row(
            "mild gauge warming",
            Faults {
                gauge_warming: mild,
                ..none
            },
            &[Cause::GaugeWarming],
        ),
        row(
            "weak springs, worn gripper",
            Faults {
                weak_springs: clear,
                worn_gripper: clear,
                ..none
            },
            &[Cause::WeakSprings, Cause::WornGripper],
        ),
        row(
            "weak springs, sticking",
            Faults {
                weak_springs: clear,
                sticking: clear,
                ..none
            },
            &[Cause::WeakSprings, Cause::Sticking],
        ),
        row(
            "sticking, gauge warming",
            Faults {
                sticking: clear,
                gauge_warming: clear,
                ..none
            },
            &[Cause::Sticking, Cause::GaugeWarming],
        ),
        row(
            "stood long, worn gripper",
            Faults {
                standing: clear,
                worn_gripper: clear,
                ..none
            },
            &[Cause::StoodLong, Cause::WornGripper],
        ),
    ]);
    rows
}

fn check(seed: u64, faults: &Faults) -> GripResult {
    let mut gauge = SimulatedGauge::new(Setup::with_faults(seed, *faults));
    let mut host = Recorder::new(&mut gauge);
    let Ok(Reply::Calibration(calibration)) = host.ask(Command::ReadCalibration(Channel::Force))
    else {
        panic!("the gauge has a calibration")
    };
    let wanted = usize::try_from(CLAMPS).expect("a few") + 4;
    let recording = host
        .record(RATE_HZ, FORCE, |gauge, _| {
            gauge
                .true_clamps()
                .iter()
                .filter(|clamp| !clamp.short)
                .count()
                >= wanted
        })
        .expect("a healthy gauge streams");
    let (times, counts) = recording.force_counts();
    let per_count = calibration.coefficients[1];
    let forces: Vec<f64> = counts
        .iter()
        .map(|counts| f64::from(*counts) * per_count)
        .collect();
    let record = ForceRecord::new(&times, &forces).expect("a sound record");
    let interface = "7/24-40".parse().expect("known");
    let turned = gauge
        .true_clamps()
        .into_iter()
        .zip(1..)
        .map(|(clamp, number)| Turned {
            number,
            orientation_deg: clamp.orientation_deg,
        });
    let setup = GripSetup {
        nominal_n: Some(MAKER_NOMINAL_N),
        limits: MakersFigure {
            nominal_n: Some(MAKER_NOMINAL_N),
            minimum_n: None,
        }
        .limits(Shares::usual(false)),
        interface: Some(interface),
        drawbar: match faults.hold {
            Hold::DiscSprings => Drawbar::DiscSprings,
            Hold::GasSpring => Drawbar::GasSpring,
            Hold::Hydraulic => Drawbar::Hydraulic,
        },
        allowances: Allowance::usual(interface),
        turned: turned.collect(),
        gauge: Gauge {
            standing: Standing::InForce,
            expanded_percent: Some(100.0 * calibration.expanded_relative),
            expanded_n: Some(calibration.expanded_fixed),
            rated_load_n: Some(calibration.rated),
            ..Gauge::default()
        },
        ..GripSetup::default()
    };
    Watch::replay(&record, Some(CLAMPS), setup)
        .expect("a sound record")
        .finish()
        .expect("clamps")
}

fn main() {
    let mut numbers = std::env::args()
        .skip(1)
        .map(|word| word.parse::<u64>().expect("a number"));
    let first = numbers.next().unwrap_or(0);
    let seeds = numbers.next().unwrap_or(50);
    println!("| condition | first hint right | none | first hints | verdicts |");
    println!("|---|---|---|---|---|");
    for row in rows() {
        let mut tally = Tally::default();
        for seed in first..first + seeds {
            tally.add(&check(seed, &row.faults), row.right);
        }
        let share = |count: u64| format!("{:.1} %", 100.0 * count as f64 / seeds as f64);
        let right = if row.right.is_empty() {
            "–".to_owned()
        } else {
            share(tally.right)
        };
        let (hints, verdicts) = (listed(&tally.hints), listed(&tally.verdicts));
        println!(
            "| {} | {right} | {} | {hints} | {verdicts} |",
            row.name,
            share(tally.silent)
        );
    }
}

#[derive(Default)]
struct Tally {
    right: u64,
    silent: u64,
    hints: BTreeMap<String, u64>,
    verdicts: BTreeMap<String, u64>,
}

impl Tally {
    fn add(&mut self, result: &GripResult, right: &[Cause]) {
        let first = result.hints.first().map(|hint| hint.cause);
        self.right += u64::from(first.is_some_and(|cause| right.contains(&cause)));
        self.silent += u64::from(first.is_none());
        if let Some(cause) = first {
            *self.hints.entry(word(&cause)).or_default() += 1;
        }
        if let Some(verdict) = &result.verdict {
            *self.verdicts.entry(word(&verdict.outcome)).or_default() += 1;
        }
    }
}

/// As it stands in a result.
fn word(of: &impl serde::Serialize) -> String {
    let value = serde_json::to_value(of).expect("a word");
    value.as_str().unwrap_or_default().to_owned()
}

fn listed(counts: &BTreeMap<String, u64>) -> String {
    let words: Vec<String> = counts
        .iter()
        .map(|(word, count)| format!("{word} {count}"))
        .collect();
    words.join(", ")
}
