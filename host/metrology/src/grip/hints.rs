//! Likely causes behind the pattern of a grip check.
//!
//! In come the clamps that count and what is known about the spindle; out come causes with their evidence, the strongest
//! first, and remarks. Common practice, never part of the verdict; a sound spindle should draw none.

use super::budget::Taken;
use super::drop::{self, GoesOn};
use super::limits::{Shares, UsualRange};
use super::push_out::{self, AgainstMaker};
use super::remarks::{GripNote, HeldBy, MostExpected, Springs};
use super::result::Statistics;
use super::setup::GripSetup;
use super::verdict::STOP_PERCENT;
use super::zero::Zero;
use crate::decision::{Figure, Side};
use crate::hint::{Evidence, Hint};
use crate::special::{f_survival, t_survival};
use crate::statistics;
use holdtrue_terms::vocabulary::Drawbar;

/// Nothing is said about order or scatter from fewer clamps.
const PATTERN_FROM: usize = 5;
/// Chance at which a pattern is taken for one.
const SIGNIFICANT: f64 = 0.01;
/// A climb over the check worth a word, share of the mean.
const CLIMB_SHARE: f64 = 0.03;
/// The same for a low first clamp: only one clamp in five can show it.
const SIGNIFICANT_FIRST: f64 = 0.02;
/// A first clamp this share below the others is worth a word.
const FIRST_LOW_SHARE: f64 = 0.025;
/// The others may climb by this share of what the first clamp is low by, and still be alike.
const REST_CLIMB_SHARE: f64 = 0.35;
/// Usual scatter stays under this, %.
const USUAL_CV_PERCENT: f64 = 3.0;
/// Above this scatter look at the gripper, %.
const LARGE_CV_PERCENT: f64 = 5.0;
/// Levels that follow the gauge's position: difference worth a word, share of the mean.
const TURNED_SHARE: f64 = 0.02;
/// A gauge of the machine's temperature keeps its zero within about 0.1 % of the force over a minute; over twice that is a
/// gauge that warms or cools …
const WARMING_SHARE: f64 = 0.0022;
/// … in a check of up to a minute, and as much more as it is longer, s.
const MINUTE_S: f64 = 60.0;
/// A zero that moves by this share of its whole way at once does not wander.
const SINGLE_STEP_SHARE: f64 = 0.5;
/// A leak of this share of the force a second is as plain as another pattern at its own bound.
const LEAK_PER_S: f64 = 0.001;

/// Causes and remarks.
#[derive(Debug, Default)]
pub(super) struct Signs {
    /// The strongest first.
    pub hints: Vec<Hint>,
    /// What is worth saying and names no cause.
    pub notes: Vec<GripNote>,
}

/// A pattern with how far it passes what is worth a word.
struct Sign {
    strength: f64,
    evidence: Evidence,
}

/// Looks for each pattern.
pub(super) fn look(taken: &[Taken], figures: &Statistics, setup: &GripSetup) -> Signs {
    let case = Case {
        taken,
        forces: taken.iter().map(|clamp| clamp.force_n).collect(),
        figures,
        setup,
        drop: drop::goes_on(taken, setup),
    };
    let first_low = case.stood_long();
    let turned = case.off_axis();
    let climbing = if first_low.is_none() && turned.is_none() {
        case.sticking()
    } else {
        None
    };
    let ordered = first_low.is_some() || turned.is_some() || climbing.is_some();
    let scattered = if ordered { None } else { case.worn_gripper() };
    let mut signs: Vec<Sign> = [
        case.set_too_far(),
        first_low,
        turned,
        climbing,
        scattered,
        case.low_force(),
        case.leak(),
        case.warming(),
    ]
    .into_iter()
    .flatten()
    .collect();
    signs.sort_by(|a, b| b.strength.total_cmp(&a.strength));
    Signs {
        hints: signs
            .into_iter()
            .map(|sign| Hint::by(sign.evidence))
            .collect(),
        notes: case.notes(),
    }
}

struct Case<'a> {
    taken: &'a [Taken],
    forces: Vec<f64>,
    figures: &'a Statistics,
    setup: &'a GripSetup,
    /// A drop while held that goes on.
    drop: Option<GoesOn>,
}

impl Case<'_> {
    fn mean(&self) -> f64 {
        self.figures.mean_n
    }

    fn shows_patterns(&self) -> bool {
        self.forces.len() >= PATTERN_FROM && self.mean() > 0.0
    }

    fn set_too_far(&self) -> Option<Sign> {
        let usual = self.setup.assumption.and_then(UsualRange::of);
        let (of_n, of) = MostExpected::of(self.setup.nominal_n, usual.as_ref())?;
        let percent = 100.0 * self.mean() / of_n;
        (percent > STOP_PERCENT).then(|| Sign {
            strength: percent / STOP_PERCENT * 10.0,
            evidence: Evidence::FarAbove { percent, of },
        })
    }

    /// First low, the others alike.
    fn stood_long(&self) -> Option<Sign> {
        if !self.shows_patterns() {
            return None;
        }
        let (first, rest) = (self.forces[0], &self.forces[1..]);
        let level = statistics::mean(rest);
        let low = level - first;
        let count = rest.len() as f64;
        let spread = statistics::stdev(rest) * (1.0 + 1.0 / count).sqrt();
        let chance = t_survival(low / spread, count - 1.0);
        let climb = climb(rest).unwrap_or(0.0);
        let share = low / level;
        (share > FIRST_LOW_SHARE
            && chance < SIGNIFICANT_FIRST
            && climb.abs() < REST_CLIMB_SHARE * low)
            .then(|| Sign {
                strength: share / FIRST_LOW_SHARE,
                evidence: Evidence::FirstLow {
                    low_percent: 100.0 * share,
                    others_percent: 100.0 * range(rest) / level,
                },
            })
    }

    /// Climbs from clamp to clamp.
    fn sticking(&self) -> Option<Sign> {
        let chance = self.figures.trend_p.filter(|_| self.shows_patterns())?;
        let share = climb(&self.forces)? / self.mean();
        let steps = self
            .forces
            .windows(2)
            .filter(|pair| pair[1] > pair[0])
            .count();
        let steady = steps + 1 >= self.forces.len() - self.forces.len() / 5;
        let certain = chance < SIGNIFICANT || (steady && chance < 5.0 * SIGNIFICANT);
        (share > CLIMB_SHARE && certain && steady).then(|| Sign {
            strength: share / CLIMB_SHARE,
            evidence: Evidence::Climbs {
                percent: 100.0 * share,
                clamps: self.forces.len(),
                steps_up: steps,
            },
        })
    }

    /// Large scatter without order.
    fn worn_gripper(&self) -> Option<Sign> {
        let cv = self.figures.cv_percent.filter(|_| self.shows_patterns())?;
        (cv > LARGE_CV_PERCENT).then(|| Sign {
            strength: cv / LARGE_CV_PERCENT,
            evidence: Evidence::Scatters {
                cv_percent: cv,
                usual_percent: USUAL_CV_PERCENT,
            },
        })
    }

    /// Levels that follow the gauge's position in the spindle.
    fn off_axis(&self) -> Option<Sign> {
        if !self.shows_patterns() {
            return None;
        }
        let angles: Option<Vec<f64>> = self
            .taken
            .iter()
            .map(|clamp| clamp.orientation_deg)
            .collect();
        let groups = by_position(&angles?, &self.forces);
        let (count, positions) = (self.forces.len() as f64, groups.len() as f64);
        if groups.len() < 2 || self.forces.len() < groups.len() + 2 {
            return None;
        }
        let means: Vec<f64> = groups
            .iter()
            .map(|(_, group)| statistics::mean(group))
            .collect();
        let within: f64 = groups
            .iter()
            .map(|(_, group)| statistics::sum_of_squares(group))
            .sum();
        let between = statistics::sum_of_squares(&self.forces) - within;
        let ratio = (between / (positions - 1.0)) / (within / (count - positions));
        let chance = if within > 0.0 {
            f_survival(ratio, positions - 1.0, count - positions).ok()?
        } else {
            0.0
        };
        let share = range(&means) / self.mean();
        (share > TURNED_SHARE && chance < SIGNIFICANT && within < self.about_the_trend()).then(
            || Sign {
                strength: share / TURNED_SHARE,
                evidence: Evidence::FollowsPosition {
                    percent: 100.0 * share,
                    positions: groups.len(),
                },
            },
        )
    }

    /// Sum of squares about the trend over the order: positions must explain the forces better than order does.
    fn about_the_trend(&self) -> f64 {
        let total = statistics::sum_of_squares(&self.forces);
        let slope = self.figures.trend_n_per_clamp.unwrap_or(0.0);
        total - slope * slope * statistics::sum_of_squares(&order(self.forces.len()))
    }

    /// What the mean is measured against: below it the force is low.
    fn low_below(&self) -> Option<f64> {
        let shares = Shares::usual(self.setup.is_hollow());
        let watch = shares.watch_percent / 100.0;
        let of_limit = || {
            let limits = self.setup.limits.iter();
            limits
                .filter(|limit| limit.figure == Figure::GripMean && limit.side == Side::Lower)
                .map(|limit| limit.watch.unwrap_or(limit.limit))
                .reduce(f64::max)
        };
        let usual = || Some(watch * UsualRange::of(self.setup.assumption?)?.low_n);
        self.setup
            .nominal_n
            .map(|nominal| watch * nominal)
            .or_else(of_limit)
            .or_else(usual)
    }

    /// Low with small scatter, as a share of what it should not lie below.
    fn low_and_even(&self) -> Option<f64> {
        let below = self.low_below()?;
        let [_, high] = self
            .figures
            .confidence_95_n
            .filter(|_| self.forces.len() >= 3)?;
        let even = self.figures.cv_percent? <= USUAL_CV_PERCENT;
        (even && self.mean() < below && high < below * 1.05).then(|| self.mean() / below)
    }

    /// Low and even: what the push-out says of it, where the maker's figure for it is known, else the springs after what
    /// is to be ruled out first.
    fn low_force(&self) -> Option<Sign> {
        let share = self.low_and_even()?;
        let percent = 100.0 * share;
        let springs = match self.setup.drawbar {
            Drawbar::DiscSprings => Some(Springs::Disc),
            Drawbar::GasSpring => Some(Springs::Gas),
            Drawbar::Unknown => None,
            Drawbar::Hydraulic => return None,
        };
        let low_and_even = |springs| Evidence::LowAndEven {
            percent,
            cv_percent: self.figures.cv_percent.unwrap_or(0.0),
            springs,
        };
        let evidence = match push_out::against_maker(self.taken, self.setup) {
            None => low_and_even(springs?),
            Some(AgainstMaker::Within { mean_mm }) => Evidence::LowPushedRight {
                percent,
                push_out_mm: mean_mm,
                springs: springs?,
            },
            Some(AgainstMaker::TooFar { mean_mm, most_mm }) => Evidence::LowPushedFar {
                percent,
                push_out_mm: mean_mm,
                most_mm,
            },
            Some(AgainstMaker::TooShort { mean_mm, least_mm }) => Evidence::LowPushedShort {
                percent,
                push_out_mm: mean_mm,
                least_mm,
            },
        };
        Some(Sign {
            strength: 1.0 / share,
            evidence,
        })
    }

    fn leak(&self) -> Option<Sign> {
        let drop = self
            .drop
            .filter(|_| self.setup.drawbar == Drawbar::Hydraulic)?;
        Some(Sign {
            strength: drop.per_s / LEAK_PER_S + 1.0,
            evidence: Evidence::DropsWhileHeld {
                percent_per_s: 100.0 * drop.per_s,
                over_s: drop.over_s,
            },
        })
    }

    /// Zeros that wander in one direction, those set aside included: of a gauge that warms, most lie off the free level.
    /// One that came to rest on something moved at a single step.
    fn warming(&self) -> Option<Sign> {
        if !self.shows_patterns() {
            return None;
        }
        let recorded = self.taken.iter().filter_map(|clamp| clamp.recorded);
        let zeros: Vec<Zero> = recorded.flat_map(|at| at.steady).flatten().collect();
        let times: Vec<f64> = zeros.iter().map(|zero| zero.at_s).collect();
        let forces: Vec<f64> = zeros.iter().map(|zero| zero.mean_n).collect();
        let line = statistics::least_squares_line(&times, &forces)?;
        let share = line.slope * range(&times) / self.mean();
        let bound = WARMING_SHARE * (range(&times) / MINUTE_S).max(1.0);
        let wanders = largest_step(&forces) < SINGLE_STEP_SHARE * range(&forces);
        (wanders && share.abs() > bound && line.p_two_sided < SIGNIFICANT).then(|| Sign {
            // Said after any cause in the spindle that is plain to see.
            strength: 0.2 * share.abs() / bound,
            evidence: Evidence::ZeroMoved {
                percent: 100.0 * share,
            },
        })
    }

    fn notes(&self) -> Vec<GripNote> {
        let mut notes = Vec::new();
        if self.low_and_even().is_some()
            && matches!(self.setup.drawbar, Drawbar::Unknown | Drawbar::Hydraulic)
        {
            notes.push(GripNote::LowAndEven);
        }
        if self.drop.is_some() {
            notes.extend(about_a_drop(self.setup.drawbar));
        } else if let Some((clamp, n_per_s)) = drop::comes_to_rest(self.taken, self.setup) {
            notes.push(GripNote::DropComesToRest { clamp, n_per_s });
        }
        if self.setup.is_hollow() {
            notes.push(GripNote::WedgeHidesSprings);
        }
        notes
    }
}

/// What a drop while held says of a drawbar that is not held by oil.
fn about_a_drop(drawbar: Drawbar) -> Option<GripNote> {
    let held_by = match drawbar {
        Drawbar::DiscSprings => HeldBy::DiscSprings,
        Drawbar::GasSpring => HeldBy::GasSpring,
        Drawbar::Unknown => HeldBy::NotKnown,
        Drawbar::Hydraulic => return None,
    };
    Some(GripNote::DropsNoLeak { held_by })
}

fn order(count: usize) -> Vec<f64> {
    (0_u32..).map(f64::from).take(count).collect()
}

/// Rise of the least-squares line over the order, from first to last.
fn climb(forces: &[f64]) -> Option<f64> {
    let line = statistics::least_squares_line(&order(forces.len()), forces)?;
    Some(line.slope * (forces.len() - 1) as f64)
}

fn largest_step(values: &[f64]) -> f64 {
    let steps = values.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    steps.fold(0.0, f64::max)
}

fn range(values: &[f64]) -> f64 {
    let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
    highest - lowest
}

/// Forces by position of the gauge; positions within 5° of one another are one.
fn by_position(angles: &[f64], forces: &[f64]) -> Vec<(f64, Vec<f64>)> {
    const SAME_DEG: f64 = 5.0;
    let mut groups: Vec<(f64, Vec<f64>)> = Vec::new();
    for (&angle, &force) in angles.iter().zip(forces) {
        let apart = |other: f64| {
            let turn = (angle - other).rem_euclid(360.0);
            turn.min(360.0 - turn)
        };
        match groups.iter_mut().find(|(at, _)| apart(*at) < SAME_DEG) {
            Some((_, group)) => group.push(force),
            None => groups.push((angle, vec![force])),
        }
    }
    groups
}
