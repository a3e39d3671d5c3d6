//! The verdict over a grip check.
//!
//! In come the clamps that count, their statistics and the limits in force; out comes the word, limit by limit, with
//! reasons a technician can read and what would settle an undecided one.

use super::bench::Bench;
use super::budget::{self, Taken};
use super::limits::{Shares, UsualRange, old_light_forty};
use super::result::Statistics;
use super::setup::{GripSetup, Standing};
use crate::decision::{self, Figure, Judged, Limit, Outcome, RISK, Side, Verdict};
use crate::special::chi2_quantile;
use crate::uncertainty::Budget;

/// Without a calibration in force the gauge may read wrong by this share; only what is far beyond the limit even then
/// is rejected.
const ASSUMED_ERROR: f64 = 0.20;
/// Why a gauge without a figure for its uncertainty carries nothing.
const UNKNOWN_UNCERTAINTY: &str = "the force gauge's uncertainty is not known";
/// No verdict from the scatter of fewer clamps.
const SCATTER_FROM: usize = 5;
/// Above this share of the nominal something is wrong with how the gauge fits or the drawbar is set, %.
pub(super) const STOP_PERCENT: f64 = 120.0;
/// More clamps than this in one check are not offered as a remedy.
const MOST_CLAMPS: usize = 20;
/// The fewest clamps whose mean is judged.
const FEWEST_CLAMPS: usize = 2;

/// The verdict, or `None` where there is no limit on a grip figure and no assumed class.
///
/// A class has its say only where no limit on the force itself is in force: the maker's figure wins.
pub(super) fn verdict(taken: &[Taken], setup: &GripSetup, overloaded: bool) -> Option<Verdict> {
    let limits: Vec<&Limit> = setup
        .limits
        .iter()
        .filter(|limit| is_grip(limit.figure))
        .collect();
    let on_force = |limit: &&Limit| matches!(limit.figure, Figure::GripMean | Figure::GripLowest);
    let by_class = setup.assumption.filter(|_| !limits.iter().any(on_force));
    if limits.is_empty() && by_class.is_none() {
        return None;
    }
    let usual = by_class.and_then(UsualRange::of);
    let mut bench = Bench::default();
    let case =
        Statistics::over(&pairs(taken)).map(|figures| Case::new(taken, figures, setup, overloaded));
    match &case {
        None => bench.undecidable("no clamp counts", "clamps that count"),
        Some(case) => {
            for limit in limits {
                case.judge(limit, &mut bench);
            }
            if by_class.is_some() {
                case.judge_by_usual_range(usual.as_ref(), &mut bench);
            }
            case.stop_if_far_above(usual.as_ref(), &mut bench);
        }
    }
    Some(bench.verdict())
}

fn is_grip(figure: Figure) -> bool {
    matches!(
        figure,
        Figure::GripMean | Figure::GripLowest | Figure::GripScatter | Figure::GripSag
    )
}

fn pairs(taken: &[Taken]) -> Vec<(u32, f64)> {
    taken
        .iter()
        .map(|clamp| (clamp.number, clamp.force_n))
        .collect()
}

/// Why the calibration cannot carry *within limit*, in words.
fn blocked(standing: Standing, overloaded: bool, outside_span: bool) -> Option<&'static str> {
    match standing {
        Standing::Missing => Some("the force gauge has no calibration"),
        Standing::Lapsed => Some("the force gauge's calibration has lapsed"),
        Standing::Exceeded => Some("the force gauge was overloaded since it was calibrated"),
        Standing::InForce if overloaded => Some("the force gauge was overloaded in this check"),
        Standing::InForce if outside_span => {
            Some("the force lies outside the span the gauge was calibrated over")
        }
        Standing::InForce => None,
    }
}

/// A check with its figures.
struct Case<'a> {
    taken: &'a [Taken],
    figures: Statistics,
    setup: &'a GripSetup,
    overloaded: bool,
}

impl<'a> Case<'a> {
    fn new(
        taken: &'a [Taken],
        figures: Statistics,
        setup: &'a GripSetup,
        overloaded: bool,
    ) -> Self {
        Self {
            taken,
            figures,
            setup,
            overloaded,
        }
    }

    fn judge(&self, limit: &Limit, bench: &mut Bench) {
        match limit.figure {
            Figure::GripMean => self.judge_mean(limit, bench),
            Figure::GripLowest => self.judge_lowest(limit, bench),
            Figure::GripScatter => self.judge_scatter(limit, bench),
            Figure::GripSag => self.judge_sag(limit, bench),
            Figure::Tir | Figure::FourSeatings | Figure::SpindlePart | Figure::Seat => {}
        }
    }

    fn blocked_at(&self, force_n: f64) -> Option<&'static str> {
        let outside = self.setup.gauge.is_outside_span(force_n);
        blocked(self.setup.gauge.standing, self.overloaded, outside)
    }

    fn judge_mean(&self, limit: &Limit, bench: &mut Bench) {
        let mean_n = self.figures.mean_n;
        let Some(budget) = self.sound_budget(
            limit,
            mean_n,
            budget::of_mean(self.taken, self.setup),
            bench,
        ) else {
            return;
        };
        if self.figures.count < FEWEST_CLAMPS {
            let judged = far_beyond(limit, mean_n);
            if judged.outcome == Outcome::Reject {
                bench.say(&judged, "the only clamp");
            }
            bench.judged.push(judged);
            bench.add_reason("a single clamp does not show how the clamps repeat");
            bench.ask_for_clamps(FEWEST_CLAMPS.max(3) - self.figures.count);
            return;
        }
        let judged = decision::judge_by_budget(limit, mean_n, &budget);
        bench.say(&judged, "the mean");
        if judged.outcome == Outcome::Undecided {
            self.settle_mean(limit, &budget, bench);
        }
        bench.judged.push(judged);
    }

    fn judge_lowest(&self, limit: &Limit, bench: &mut Bench) {
        let Some(lowest) = self
            .taken
            .iter()
            .min_by(|a, b| a.force_n.total_cmp(&b.force_n))
        else {
            return;
        };
        let budget = budget::of_one(lowest, self.taken, self.setup);
        let Some(budget) = self.sound_budget(limit, lowest.force_n, budget, bench) else {
            return;
        };
        let judged = decision::judge_by_budget(limit, lowest.force_n, &budget);
        bench.say(
            &judged,
            &format!("the lowest clamp (number {})", lowest.number),
        );
        if judged.outcome == Outcome::Undecided {
            bench.add_remedy("for the lowest clamp a gauge with a smaller uncertainty: more clamps cannot lift it");
        }
        if self.taken.len() == 1 && judged.outcome == Outcome::Accept {
            bench.add_reason(
                "it is the lowest of a single clamp: others may be lower, five are usual",
            );
        }
        bench.judged.push(judged);
    }

    /// The budget, where the gauge's calibration can carry a decision; else the limit is judged as such gauges allow.
    fn sound_budget(
        &self,
        limit: &Limit,
        force_n: f64,
        budget: Option<Budget>,
        bench: &mut Bench,
    ) -> Option<Budget> {
        let why = match (self.blocked_at(force_n), budget) {
            (None, Some(budget)) => return Some(budget),
            (Some(why), _) => why,
            (None, None) => UNKNOWN_UNCERTAINTY,
        };
        let mut judged = far_beyond(limit, force_n);
        hold_back(&mut judged, why, bench);
        bench.judged.push(judged);
        None
    }

    /// Whether more clamps like these would settle the mean, or what else would.
    fn settle_mean(&self, limit: &Limit, budget: &Budget, bench: &mut Bench) {
        let Some(stdev_n) = self.figures.stdev_n else {
            return;
        };
        let distance = (self.figures.mean_n - limit.limit).abs();
        let with = |count: usize| {
            let mut more = budget.clone();
            if let Some(repeatability) = more.contributions.first_mut() {
                repeatability.standard = stdev_n / (count as f64).sqrt();
                repeatability.dof = Some((count - 1) as f64);
            }
            decision::judge_by_budget(limit, self.figures.mean_n, &more).outcome
        };
        let enough =
            (self.figures.count + 1..=MOST_CLAMPS).find(|&count| with(count) != Outcome::Undecided);
        if let Some(count) = enough {
            bench.ask_for_clamps(count - self.figures.count);
            return;
        }
        let shared: f64 = budget
            .contributions
            .iter()
            .skip(1)
            .map(|part| part.standard.powi(2))
            .sum();
        let gauge = self
            .setup
            .gauge
            .standard_n(self.figures.mean_n)
            .unwrap_or(0.0);
        let most = (distance / crate::special::t_quantile(1.0 - RISK, f64::INFINITY)).powi(2);
        let left = most - (shared - gauge * gauge) - stdev_n * stdev_n / MOST_CLAMPS as f64;
        let remedy = if left > 0.0 {
            let percent = 200.0 * left.sqrt() / self.figures.mean_n.abs();
            format!(
                "for the mean a gauge good to about ± {percent:.2} % (k = 2); more clamps alone do not settle it"
            )
        } else {
            "the mean is too near its limit for any number of clamps: take it as at the limit"
                .to_owned()
        };
        bench.add_remedy(remedy);
    }

    fn judge_scatter(&self, limit: &Limit, bench: &mut Bench) {
        let Some(cv) = self.figures.cv_percent else {
            bench.undecidable("scatter needs at least two clamps", "more clamps");
            bench.ask_for_clamps(SCATTER_FROM - self.figures.count.min(SCATTER_FROM));
            return;
        };
        let blocked = self.blocked_at(self.figures.mean_n);
        let mut judged =
            decision::judge_with_guard(limit, cv, scatter_guard(limit, cv, self.figures.count));
        if self.figures.count < SCATTER_FROM {
            bench.add_reason(format!(
                "no verdict from the scatter of fewer than {SCATTER_FROM} clamps"
            ));
            bench.ask_for_clamps(SCATTER_FROM - self.figures.count);
            judged.outcome = Outcome::Undecided;
            judged.watch = false;
        } else if blocked.is_none() {
            bench.say(&judged, "the scatter");
            self.settle_scatter(limit, cv, &judged, bench);
        }
        // An error of scale cancels in the share of the mean, so what is outside by its own guard stays outside.
        if let Some(why) = blocked {
            hold_back(&mut judged, why, bench);
        }
        bench.judged.push(judged);
    }

    fn settle_scatter(&self, limit: &Limit, cv: f64, judged: &Judged, bench: &mut Bench) {
        if judged.outcome != Outcome::Undecided {
            return;
        }
        let settles = |count: &usize| {
            decision::judge_with_guard(limit, cv, scatter_guard(limit, cv, *count)).outcome
                != Outcome::Undecided
        };
        match (self.figures.count + 1..=MOST_CLAMPS).find(settles) {
            Some(count) => bench.ask_for_clamps(count - self.figures.count),
            None => bench
                .add_remedy("the scatter is too near its limit for any sensible number of clamps"),
        }
    }

    /// The drop while held is that of the longest counted hold.
    fn judge_sag(&self, limit: &Limit, bench: &mut Bench) {
        let sags = self
            .taken
            .iter()
            .filter_map(|clamp| Some((clamp, clamp.recorded?.sag?)));
        let Some((clamp, sag)) = sags.max_by(|a, b| a.1.over_s.total_cmp(&b.1.over_s)) else {
            bench.undecidable(
                "no counted clamp was held long enough to see the force drop",
                "one clamp held for 30 s",
            );
            return;
        };
        let zero_n = clamp
            .recorded
            .and_then(|recorded| recorded.zero_moved_n)
            .unwrap_or(0.0);
        let standard_n = self.setup.gauge.standard_n(clamp.force_n);
        let unknown = standard_n.is_none().then_some(UNKNOWN_UNCERTAINTY);
        let blocked = self.blocked_at(clamp.force_n).or(unknown);
        let gauge = standard_n
            .filter(|_| blocked.is_none())
            .map_or(0.0, |standard_n| standard_n / clamp.force_n);
        let parts = [
            sag.standard_error_n_per_s,
            zero_n.abs() / sag.over_s / 3.0_f64.sqrt(),
            gauge * sag.n_per_s.abs(),
        ];
        let standard = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
        let mut judged = decision::judge(limit, sag.n_per_s, standard, f64::INFINITY);
        if let Some(why) = blocked {
            let assumed = ASSUMED_ERROR * sag.n_per_s.abs();
            judged = decision::judge_with_guard(limit, sag.n_per_s, assumed + judged.guard);
            hold_back(&mut judged, why, bench);
        } else {
            bench.say(
                &judged,
                &format!(
                    "the drop while held (clamp {}, {:.0} s)",
                    clamp.number, sag.over_s
                ),
            );
            if judged.outcome == Outcome::Undecided {
                bench.add_remedy("one clamp held longer (30 s or more)");
            }
        }
        bench.judged.push(judged);
    }

    /// By a usual range alone a spindle is at best undecided, and rejected only when even the upper end of the interval
    /// of the mean lies far below the low end of the range.
    fn judge_by_usual_range(&self, usual: Option<&UsualRange>, bench: &mut Bench) {
        let mean_n = self.figures.mean_n;
        bench.open = true;
        bench.add_remedy("the maker's grip figure for this spindle");
        let Some(range) = usual else {
            bench.add_reason(
                "no maker's figure, and no usual range is known for this interface and class",
            );
            return;
        };
        let share = Shares::usual(self.setup.is_hollow()).act_percent / 100.0;
        let limit = super::limits::lower(
            Figure::GripMean,
            share * range.low_n,
            range.provenance,
            None,
        );
        let expanded = self.blocked_at(mean_n).is_none() && self.figures.count >= FEWEST_CLAMPS;
        let budget = budget::of_mean(self.taken, self.setup).filter(|_| expanded);
        let guard = budget.map_or(ASSUMED_ERROR * mean_n, |budget| budget.expanded());
        let mut judged = decision::judge_with_guard(&limit, mean_n, guard);
        let place = if mean_n < range.low_n {
            "below"
        } else if mean_n > range.high_n {
            "above"
        } else {
            "inside"
        };
        if judged.outcome == Outcome::Reject {
            bench.add_reason(format!(
                "far below the usual range: the upper end of the interval is under {:.0} % of its low end ({})",
                100.0 * share,
                range.provenance.words()
            ));
            if let Some(why) = self.blocked_at(mean_n) {
                bench.add_reason(format!(
                    "far too low by a gauge out of calibration: do not run until measured again ({why})"
                ));
            }
        } else {
            judged.outcome = Outcome::Undecided;
            judged.watch = false;
            bench.add_reason(format!(
                "no maker's figure: {place} the usual range of {} kN ({})",
                range_words(range),
                range.provenance.words()
            ));
        }
        bench.judged.push(judged);
        if let Some(remark) = self
            .setup
            .assumption
            .and_then(|assumed| old_light_forty(assumed, mean_n))
        {
            bench.add_reason(remark);
        }
    }

    /// Something is wrong with such a force however far from its limit it lies: nothing is within limit by it.
    fn stop_if_far_above(&self, usual: Option<&UsualRange>, bench: &mut Bench) {
        let nominal = self.setup.nominal_n.or(usual.map(|range| range.high_n));
        if let Some(nominal) =
            nominal.filter(|nominal| self.figures.mean_n > STOP_PERCENT / 100.0 * nominal)
        {
            bench.stop(format!(
                "stop: {:.0} % of the nominal force; check shank, knob, gauge range and drawbar setting before going on",
                100.0 * self.figures.mean_n / nominal
            ));
            bench.add_remedy("the set taken again after shank, knob, gauge range and drawbar setting were checked");
        }
    }
}

fn range_words(range: &UsualRange) -> String {
    if range.low_n < range.high_n {
        format!("{} to {}", range.low_n / 1e3, range.high_n / 1e3)
    } else {
        format!("{}", range.low_n / 1e3)
    }
}

/// Judged with the error assumed of a gauge that cannot be relied on: never within limit.
fn far_beyond(limit: &Limit, force_n: f64) -> Judged {
    let mut judged = decision::judge_with_guard(limit, force_n, ASSUMED_ERROR * force_n.abs());
    never_within(&mut judged);
    judged
}

fn never_within(judged: &mut Judged) {
    if judged.outcome == Outcome::Accept {
        judged.outcome = Outcome::Undecided;
        judged.watch = false;
    }
}

/// What a gauge that cannot be relied on says: never within limit, and what is outside is so with a word of warning.
fn hold_back(judged: &mut Judged, why: &str, bench: &mut Bench) {
    never_within(judged);
    if judged.outcome == Outcome::Reject {
        let far = match (judged.figure, judged.side) {
            (Figure::GripScatter, _) => "the scatter is too large",
            (Figure::GripSag, _) => "the drop while held is far too high",
            (_, Side::Lower) => "far too low",
            (_, Side::Upper) => "far too high",
        };
        bench.add_reason(format!(
            "{far} by a gauge out of calibration: do not run until measured again ({why})"
        ));
    } else {
        bench.add_reason(format!("{why}: nothing can be within limit by it"));
    }
    bench.add_remedy("the same clamps with a gauge whose calibration is in force and covers them");
}

/// What a scatter has to clear its limit by. From s measured with ν degrees of freedom the true one lies under
/// s·√(ν/χ²₀.₀₅) and over s·√(ν/χ²₀.₉₅), each with 95 % confidence; the guard reaches to the one of them that lies
/// towards the limit. Source: NIST/SEMATECH e-Handbook, section 7.2.3.1.
fn scatter_guard(limit: &Limit, cv: f64, count: usize) -> f64 {
    let dof = (count - 1) as f64;
    let bound = |p: f64| chi2_quantile(p, dof).map_or(f64::NAN, |chi2| cv * (dof / chi2).sqrt());
    if cv <= limit.limit {
        bound(RISK) - cv
    } else {
        cv - bound(1.0 - RISK)
    }
}
