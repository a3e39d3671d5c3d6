//! What would settle an undecided grip check.
//!
//! In come the judged limits with their budgets; out come the fewest more clamps like these, or the coarsest gauge, with
//! which the very rule that judges would have decided all of them, the figures and the scatter being what they are.

use super::budget;
use super::remarks::{Asked, GripRemedy};
use crate::decision::{self, Figure, Limit, RISK};
use crate::special::chi2_quantile;
use crate::uncertainty::Budget;
use holdtrue_terms::vocabulary::Outcome;

/// No verdict from the scatter of fewer clamps.
pub(super) const SCATTER_FROM: usize = 5;
/// More clamps than this in one check are not asked for.
pub(super) const MOST_CLAMPS: usize = 20;
/// A finer gauge (k = 2, thousandths of a per cent) is not asked for: reference cells of a laboratory are about as good.
/// Common practice, no source.
const FINEST_GAUGE: u32 = 50;
/// Steps in which a gauge is asked for, tenths of a power of ten.
const STEPS: [u32; 22] = [
    10, 11, 12, 13, 14, 15, 16, 18, 20, 22, 24, 26, 28, 30, 33, 36, 40, 45, 50, 60, 70, 80,
];

/// A judged limit, ready to be judged again under other circumstances.
#[derive(Clone, Debug)]
pub(super) struct Question {
    pub limit: Limit,
    pub measured: f64,
    /// Nothing in it: judged by the bounds of a scatter.
    pub budget: Budget,
    /// Standard deviation of the clamps, where more of them make the figure surer, N.
    pub stdev_n: Option<f64>,
    /// The budget had the clamp been held as long as is asked for.
    pub held_longer: Option<Budget>,
    /// Not decided by the clamps and the gauge at hand.
    pub open: bool,
}

/// What would settle the questions it was sought for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Remedy {
    /// Clamps, with those there are.
    pub count: usize,
    /// Expanded uncertainty (k = 2) of another gauge, thousandths of a per cent.
    pub gauge: Option<u32>,
}

impl Question {
    /// The figure as a remedy names it.
    pub fn asked(&self) -> Asked {
        match self.limit.figure {
            Figure::GripLowest => Asked::Lowest,
            Figure::GripScatter => Asked::Scatter,
            Figure::GripSag => Asked::Drop,
            Figure::PushOut => Asked::PushOut,
            Figure::GripMean
            | Figure::Tir
            | Figure::FourSeatings
            | Figure::SpindlePart
            | Figure::Seat => Asked::Mean,
        }
    }

    /// The word over so many clamps like these, with another gauge (% of the reading, k = 2) where one is named.
    fn outcome(&self, count: usize, gauge_percent: Option<f64>) -> Outcome {
        if self.limit.figure == Figure::GripScatter {
            return judge_scatter(&self.limit, self.measured, count);
        }
        let mut budget = self.held_longer.as_ref().unwrap_or(&self.budget).clone();
        for part in &mut budget.contributions {
            if let (Some(stdev_n), Some(_)) = (self.stdev_n, part.dof) {
                part.standard = stdev_n / (count as f64).sqrt();
                part.dof = Some((count - 1) as f64);
            }
            if let Some(percent) = gauge_percent.filter(|_| part.source == budget::CALIBRATION) {
                part.standard = 0.5 * percent / 100.0 * self.measured.abs();
            }
        }
        decision::judge_by_budget(&self.limit, self.measured, &budget).outcome
    }

    /// Expanded uncertainty of the gauge at hand, % of the figure.
    fn at_hand_percent(&self) -> Option<f64> {
        let parts = &self.budget.contributions;
        let gauge = parts
            .iter()
            .find(|part| part.source == budget::CALIBRATION)?;
        Some(200.0 * gauge.standard / self.measured.abs())
    }
}

/// The word on a scatter over so many clamps.
pub(super) fn judge_scatter(limit: &Limit, cv: f64, count: usize) -> Outcome {
    if count < SCATTER_FROM {
        return Outcome::Undecided;
    }
    decision::judge_with_guard(limit, cv, scatter_guard(limit, cv, count)).outcome
}

/// What a scatter has to clear its limit by. From s measured with ν degrees of freedom the true one lies under
/// s·√(ν/χ²₀.₀₅) and over s·√(ν/χ²₀.₉₅), each with 95 % confidence; the guard reaches to the one of them that lies
/// towards the limit. Source: NIST/SEMATECH e-Handbook, section 7.2.3.1.
pub(super) fn scatter_guard(limit: &Limit, cv: f64, count: usize) -> f64 {
    let dof = (count - 1) as f64;
    let bound = |p: f64| chi2_quantile(p, dof).map_or(f64::NAN, |chi2| cv * (dof / chi2).sqrt());
    if cv <= limit.limit {
        bound(RISK) - cv
    } else {
        cv - bound(1.0 - RISK)
    }
}

/// More clamps if they are enough, else another gauge, else both; none if nothing that can be had decides all.
///
/// There are `count` clamps, and at least `least` are wanted anyway.
pub(super) fn settle(questions: &[&Question], count: usize, least: usize) -> Option<Remedy> {
    let decided = |count: usize, gauge: Option<u32>| {
        let percent = gauge.map(percent);
        questions
            .iter()
            .all(|question| question.outcome(count, percent) != Outcome::Undecided)
    };
    let from = count.max(least);
    let clamps = |gauge: Option<u32>| (from..=MOST_CLAMPS).find(|&count| decided(count, gauge));
    let most = MOST_CLAMPS.max(from);
    // What the most of a remedy does not settle, less of it hardly does.
    if decided(most, None)
        && let Some(count) = clamps(None)
    {
        return Some(Remedy { count, gauge: None });
    }
    let at_hand = questions
        .iter()
        .filter_map(|question| question.at_hand_percent())
        .reduce(f64::min)?;
    let coarsest = |count: usize| {
        decided(count, Some(FINEST_GAUGE))
            .then(|| gauges(at_hand).find(|&gauge| decided(count, Some(gauge))))
            .flatten()
    };
    if let gauge @ Some(_) = coarsest(from) {
        return Some(Remedy { count: from, gauge });
    }
    let gauge = coarsest(most)?;
    let count = clamps(Some(gauge))?;
    Some(Remedy {
        count,
        gauge: Some(gauge),
    })
}

/// Gauges better than the one at hand, the coarsest first, thousandths of a per cent.
fn gauges(at_hand_percent: f64) -> impl Iterator<Item = u32> {
    [1000, 100, 10, 1]
        .into_iter()
        .flat_map(|tenths| STEPS.iter().rev().map(move |step| step * tenths))
        .filter(move |&gauge| gauge >= FINEST_GAUGE && percent(gauge) < at_hand_percent)
}

/// That nothing decides it, said of one question.
pub(super) fn too_near(question: &Question) -> GripRemedy {
    GripRemedy::TooNear {
        figure: question.asked(),
        most_clamps: MOST_CLAMPS,
        finest_percent: percent(FINEST_GAUGE),
    }
}

/// Of a gauge in thousandths of a per cent, %.
pub(super) fn percent(gauge: u32) -> f64 {
    f64::from(gauge) / 1000.0
}
