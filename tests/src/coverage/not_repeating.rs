//! Clamps that do not repeat: climbing, or following the gauge's position. The scatter then is no
//! measure of the error of the mean, and no coverage is claimed; what counts is whether the check says so.

use super::{Dice, TRUTH_N, Tally, limit, side_by_side};
use holdtrue_metrology::grip::analyse_readings;
use holdtrue_metrology::grip::setup::{Gauge, GripSetup, Turned};
use holdtrue_metrology::hint::Cause;
use holdtrue_terms::vocabulary::Outcome;
use std::fmt::Write;

const CLAMPS: u32 = 6;
/// Scatter beside the pattern, % of the force.
const SCATTER_PERCENT: f64 = 0.5;

#[derive(Clone, Copy, Debug)]
enum Pattern {
    /// Every clamp this much stronger than the one before, %. True is the first: as found.
    Climbing(f64),
    /// Stronger by this at 0°, weaker by it at 180°, %; four of six clamps at 0°. True is the middle.
    Turned(f64),
}

const CASES: [Pattern; 6] = [
    Pattern::Climbing(0.5),
    Pattern::Climbing(1.0),
    Pattern::Climbing(3.0),
    Pattern::Turned(1.0),
    Pattern::Turned(2.0),
    Pattern::Turned(5.0),
];

impl Pattern {
    fn words(self) -> String {
        match self {
            Self::Climbing(percent) => {
                format!("climbing {percent} % a clamp, as found at the limit")
            }
            Self::Turned(percent) => {
                format!(
                    "± {percent} % by position, four of six in the stronger one, middle at the limit"
                )
            }
        }
    }

    /// Share by which clamp `i` is off the truth, and where the gauge stood.
    fn clamp(self, i: u32) -> (f64, Option<f64>) {
        match self {
            Self::Climbing(percent) => (f64::from(i) * percent / 100.0, None),
            Self::Turned(percent) => {
                let strong = i % 3 != 2;
                let angle = if strong { 0.0 } else { 180.0 };
                (if strong { percent } else { -percent } / 100.0, Some(angle))
            }
        }
    }

    fn cause(self) -> Cause {
        match self {
            Self::Climbing(_) => Cause::Sticking,
            Self::Turned(_) => Cause::OffAxis,
        }
    }
}

/// The word, and whether the check names the pattern.
fn one(pattern: Pattern, dice: &mut Dice) -> (Outcome, bool) {
    let mut setup = GripSetup {
        gauge: Gauge::stated(0.5),
        limits: vec![limit(TRUTH_N)],
        ..GripSetup::default()
    };
    let error = 0.0025 * dice.normal();
    let mut forces = Vec::new();
    for i in 0..CLAMPS {
        let (off, angle) = pattern.clamp(i);
        forces.push(TRUTH_N * (1.0 + off + error + SCATTER_PERCENT / 100.0 * dice.normal()));
        setup.turned.extend(angle.map(|orientation_deg| Turned {
            number: i + 1,
            orientation_deg,
        }));
    }
    let result = analyse_readings(&forces, &setup).expect("six sound readings");
    let named = result
        .hints
        .iter()
        .any(|hint| hint.cause == pattern.cause());
    (result.verdict.expect("there is a limit").outcome, named)
}

/// All rows as a table.
pub fn table(checks: u64) -> String {
    let rows = side_by_side(&CASES, |pattern| {
        let (mut tally, mut silent) = (Tally::default(), 0);
        for check in 0..checks {
            let (outcome, named) = one(*pattern, &mut Dice::new(60_000, check));
            tally.count(outcome);
            silent += u32::from(outcome == Outcome::Accept && !named);
        }
        (tally, silent)
    });
    let mut text = format!(
        "### Clamps that do not repeat ({CLAMPS} clamps, scatter {SCATTER_PERCENT} %, gauge 0.5 % (k = 2), {checks} checks a row)\n\n\
         | truth | wrong accept | of these the likely cause is named | wrong accept without a word |\n|---|---:|---:|---:|\n"
    );
    for (pattern, (t, silent)) in CASES.iter().zip(rows) {
        let share = 100.0 * f64::from(t.accepted - silent) / f64::from(t.accepted.max(1));
        let named = if t.accepted > 0 {
            format!("{share:.1} %")
        } else {
            "–".to_owned()
        };
        writeln!(
            text,
            "| {} | {:.2} % | {named} | {:.2} % |",
            pattern.words(),
            t.percent(t.accepted),
            t.percent(silent)
        )
        .expect("a string takes everything");
    }
    text
}
