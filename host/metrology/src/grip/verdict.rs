//! The verdict over a grip check.
//!
//! In come the clamps that count, their statistics and the limits in force; out comes the word, limit by limit, with
//! reasons a technician can read and what would settle an undecided one.

use super::bench::Bench;
use super::budget::{self, Taken};
use super::doubts::Doubts;
use super::drop::{self, Drop};
use super::ending::Slip;
use super::excluded::Excluded;
use super::hold_end;
use super::left_out::{self, Falling, LeftOut};
use super::limits::{Shares, UsualRange, is_old_light_forty};
use super::push_out::{self, PushOut};
use super::remarks::{
    AgainstUsual, DropSeen, FarOut, GaugeGap, GripReason, GripRemedy, MostExpected, Subject,
};
use super::remedy::{Question, SCATTER_FROM, scatter_guard};
use super::result::Statistics;
use super::setup::{GripSetup, Standing};
use crate::decision::{self, Figure, Judged, Limit, Side};
use crate::doubt::{APART, Doubt, Spindle};
use crate::uncertainty::Budget;
use crate::verdict::{Reason, Verdict};
use holdtrue_terms::figure::{GivenBy, Measure};
use holdtrue_terms::vocabulary::Outcome;

/// Without a calibration in force the gauge may read wrong by this share; only what is far beyond the limit even then
/// is rejected.
const ASSUMED_ERROR: f64 = 0.20;
/// Above this share of the nominal something is wrong with how the gauge fits or the drawbar is set, %.
pub(super) const STOP_PERCENT: f64 = 120.0;
/// The fewest clamps whose mean is judged.
const FEWEST_CLAMPS: usize = 2;

/// The verdict, or `None` where there is no limit on a grip figure and no assumed class.
///
/// A class has its say only where no limit on the force itself is in force: the maker's figure wins. `with` is what it would
/// be with the clamps that were discarded by hand.
pub(super) fn verdict(
    taken: &[Taken],
    setup: &GripSetup,
    doubts: &Doubts,
    with: Option<&Verdict>,
) -> Option<Verdict> {
    let limits: Vec<&Limit> = setup
        .limits
        .iter()
        .filter(|limit| limit.figure.is_of(GivenBy::Grip))
        .collect();
    let on_force = |limit: &&Limit| limit.figure.is_holding_force() && limit.side == Side::Lower;
    let by_class = setup.assumption.filter(|_| !limits.iter().any(on_force));
    if limits.is_empty() && by_class.is_none() {
        return None;
    }
    let usual = by_class.and_then(UsualRange::of);
    let mut bench = Bench::default();
    let case =
        Statistics::over(&pairs(taken)).map(|figures| Case::new(taken, figures, setup, doubts));
    match &case {
        None => bench.undecidable(GripReason::NoClampCounts, GripRemedy::CountingClamps),
        Some(case) => {
            for limit in limits {
                case.judge(limit, &mut bench);
            }
            if by_class.is_some() {
                case.judge_by_usual_range(usual.as_ref(), &mut bench);
            }
            for (why, remedy) in &doubts.open {
                bench.undecidable(why.clone(), remedy.clone());
            }
            case.hold_back_if_next_below_limit(&mut bench);
            case.hold_back_if_it_stays_down(&mut bench);
            case.hold_back_if_it_fell_below_limit(&mut bench);
            case.hold_back_if_it_drops(&mut bench);
            case.hold_back_if_discards_decide(with, &mut bench);
            case.hold_back_if_one_is_weak(&mut bench);
            case.stop_if_far_above(usual.as_ref(), &mut bench);
            case.stop_if_nothing_limits_far_below(by_class.is_some(), &mut bench);
            for (why, remedy) in &doubts.blind {
                bench.withhold(why.clone(), remedy.clone());
            }
        }
    }
    Some(Verdict {
        drop_examined: drop::is_examined(taken, setup),
        ..bench.verdict(taken.len())
    })
}

fn pairs(taken: &[Taken]) -> Vec<(u32, f64)> {
    taken
        .iter()
        .map(|clamp| (clamp.number, clamp.force_n))
        .collect()
}

/// Why the calibration cannot carry *within limit*.
///
/// Of a gauge that was not at hand nobody knows whether it has one.
fn blocked(setup: &GripSetup, overloaded: bool, outside_span: bool) -> Option<GaugeGap> {
    match setup.gauge.standing {
        Standing::Missing if !setup.at_spindle && setup.gauge.standard_n(1.0).is_none() => {
            Some(GaugeGap::UncertaintyNotKnown)
        }
        Standing::Missing => Some(GaugeGap::NotCalibrated),
        Standing::Lapsed => Some(GaugeGap::Lapsed),
        Standing::Exceeded => Some(GaugeGap::OverloadedBefore),
        Standing::Unfit => Some(GaugeGap::FoundUnfit),
        Standing::InForce if overloaded => Some(GaugeGap::OverloadedHere),
        Standing::InForce if outside_span => Some(GaugeGap::OutsideSpan),
        Standing::InForce => None,
    }
}

/// A check with its figures.
struct Case<'a> {
    taken: &'a [Taken],
    figures: Statistics,
    setup: &'a GripSetup,
    doubts: &'a Doubts,
}

impl<'a> Case<'a> {
    fn new(
        taken: &'a [Taken],
        figures: Statistics,
        setup: &'a GripSetup,
        doubts: &'a Doubts,
    ) -> Self {
        Self {
            taken,
            figures,
            setup,
            doubts,
        }
    }

    fn judge(&self, limit: &Limit, bench: &mut Bench) {
        match limit.figure {
            Figure::GripMean => self.judge_mean(limit, bench),
            Figure::GripLowest => self.judge_lowest(limit, bench),
            Figure::GripScatter => self.judge_scatter(limit, bench),
            Figure::GripSag => self.judge_sag(limit, bench),
            Figure::PushOut => self.judge_push_out(limit, bench),
            Figure::Tir | Figure::FourSeatings | Figure::SpindlePart | Figure::Seat => {}
        }
    }

    fn blocked_at(&self, force_n: f64) -> Option<GaugeGap> {
        let outside = self.setup.gauge.is_outside_span(force_n);
        blocked(self.setup, self.doubts.overloaded, outside)
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
            let judged = self.outside_either_way(limit, mean_n, bench, far_beyond);
            if judged.outcome == Outcome::Reject {
                bench.say(&judged, Subject::OnlyClamp);
            }
            bench.add(judged);
            bench.add_reason(GripReason::OneClampShowsNoRepeat);
            bench.want_clamps(FEWEST_CLAMPS + 1);
            return;
        }
        let judged = self.outside_either_way(limit, mean_n, bench, |limit, force_n| {
            decision::judge_by_budget(limit, force_n, &budget)
        });
        bench.say(&judged, Subject::Mean);
        self.remark_rounding(&judged, &budget, bench);
        let question = self.question(limit, &judged, budget);
        bench.add_question(judged, question);
    }

    /// The cheapest way to a surer figure, where the last digit typed hides it.
    fn remark_rounding(&self, judged: &Judged, budget: &Budget, bench: &mut Bench) {
        let rounded = budget
            .contributions
            .iter()
            .any(|part| part.source == budget::ROUNDING);
        if rounded && judged.outcome == Outcome::Undecided {
            bench.add_reason(GripReason::RoundingHidesScatter);
        }
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
        let judged = self.outside_either_way(limit, lowest.force_n, bench, |limit, force_n| {
            decision::judge_by_budget(limit, force_n, &budget)
        });
        let clamp = lowest.number;
        bench.say(&judged, Subject::Lowest { clamp });
        if self.taken.len() == 1 && judged.outcome == Outcome::Accept {
            bench.add_reason(GripReason::LowestOfOne);
        }
        let question = self.question(limit, &judged, budget);
        bench.add_question(judged, question);
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
            (None, None) => GaugeGap::UncertaintyNotKnown,
        };
        let mut judged = self.outside_either_way(limit, force_n, bench, far_beyond);
        hold_back(&mut judged, why, bench);
        bench.add(judged);
        None
    }

    /// Judged, with the benefit of the doubt where zeros were set aside: outside a lower limit is only what would be by
    /// the lowest of them as well, and within it only what would be by the highest.
    fn outside_either_way(
        &self,
        limit: &Limit,
        force_n: f64,
        bench: &mut Bench,
        judge: impl Fn(&Limit, f64) -> Judged,
    ) -> Judged {
        let mut judged = judge(limit, force_n);
        let doubtful = self.doubts.low_by_n > 0.0
            && limit.side == Side::Lower
            && judged.outcome == Outcome::Reject
            && judge(limit, force_n + self.doubts.low_by_n).outcome != Outcome::Reject;
        if doubtful {
            judged.outcome = Outcome::Undecided;
            bench.add_reason(GripReason::OutsideByZerosSetAside);
            bench.add_remedy(GripRemedy::SetHangingFree);
        }
        let high_n = self.doubts.high_by_n;
        let by_them = high_n > 0.0
            && limit.side == Side::Lower
            && judged.outcome == Outcome::Accept
            && judge(limit, force_n - high_n).outcome != Outcome::Accept;
        if by_them {
            never_within(&mut judged);
            bench.add_first(GripReason::WithinByZerosSetAside { high_n });
            bench.add_remedy(GripRemedy::ShowFree);
        }
        self.hold_to_the_end(limit, &mut judged, bench, judge);
        judged
    }

    /// The force before the release must say the same as the settled one: what has fallen below a limit by then is not
    /// within it, and what still rises is not outside.
    fn hold_to_the_end(
        &self,
        limit: &Limit,
        judged: &mut Judged,
        bench: &mut Bench,
        judge: impl Fn(&Limit, f64) -> Judged,
    ) {
        let lowest = limit.figure == Figure::GripLowest;
        if limit.side != Side::Lower {
            return;
        }
        let differs = |force_n: Option<f64>| {
            force_n.filter(|force_n| judge(limit, *force_n).outcome != judged.outcome)
        };
        match judged.outcome {
            Outcome::Accept => {
                if let Some(left_n) = differs(hold_end::at_most(self.taken, lowest)) {
                    judged.outcome = Outcome::Undecided;
                    judged.watch = false;
                    bench.add_first(GripReason::LittleLeft { left_n });
                    bench.add_remedy(GripRemedy::CausePutRight);
                }
            }
            Outcome::Reject => {
                if let Some(most_n) = differs(hold_end::at_least(self.taken, lowest)) {
                    judged.outcome = Outcome::Undecided;
                    bench.add_first(GripReason::RisesAfter { most_n });
                    bench.add_remedy(GripRemedy::HoldUntilStill);
                }
            }
            Outcome::Undecided => {}
        }
    }

    fn judge_scatter(&self, limit: &Limit, bench: &mut Bench) {
        let count = self.figures.count;
        let Some(cv) = self.figures.cv_percent else {
            bench.open = true;
            if count < FEWEST_CLAMPS {
                bench.add_reason(GripReason::OneClampHasNoScatter);
                bench.want_clamps(SCATTER_FROM);
            } else {
                bench.undecidable(GripReason::NoForceNoScatter, GripRemedy::ClampsWithForce);
            }
            return;
        };
        let mut judged = decision::judge_with_guard(limit, cv, scatter_guard(limit, cv, count));
        let few = count < SCATTER_FROM;
        if few {
            let fewest = SCATTER_FROM;
            bench.add_reason(GripReason::FewForScatter { fewest });
            judged.outcome = Outcome::Undecided;
            judged.watch = false;
        }
        // An error of scale cancels in the share of the mean, so what is outside by its own guard stays outside.
        if let Some(why) = self.blocked_at(self.figures.mean_n) {
            hold_back(&mut judged, why, bench);
            if few {
                bench.want_clamps(SCATTER_FROM);
            }
            bench.add(judged);
            return;
        }
        if !few {
            bench.say(&judged, Subject::Scatter);
        }
        let question = self.question(limit, &judged, Budget::default());
        bench.add_question(judged, question);
    }

    /// What was judged, for whoever asks what else would have decided it.
    fn question(&self, limit: &Limit, judged: &Judged, budget: Budget) -> Question {
        Question {
            limit: limit.clone(),
            measured: judged.measured,
            budget,
            held_longer: None,
            stdev_n: self
                .figures
                .stdev_n
                .filter(|_| limit.figure == Figure::GripMean),
            open: judged.outcome == Outcome::Undecided,
        }
    }

    /// Nothing of the force gauge is in it: what reads the end face judges it.
    fn judge_push_out(&self, limit: &Limit, bench: &mut Bench) {
        if let Some(doubt) = self.doubts.end_face {
            bench.undecidable(GripReason::NoPushOutBy(doubt), push_out::remedy(doubt));
            return;
        }
        let Some(found) = PushOut::of(self.taken, self.setup) else {
            bench.undecidable(GripReason::NoPushOut, GripRemedy::HoldUpForPushOut);
            return;
        };
        let judged = decision::judge_by_budget(limit, found.mean_mm, &found.budget);
        bench.say(&judged, Subject::PushOut);
        let question = self.question(limit, &judged, found.budget);
        bench.add_question(judged, question);
    }

    /// The drop while held is that of the longest counted hold.
    fn judge_sag(&self, limit: &Limit, bench: &mut Bench) {
        let drops = Drop::all(self.taken, self.setup).into_iter();
        let Some(drop) = drops.max_by(|a, b| a.over_s.total_cmp(&b.over_s)) else {
            bench.undecidable(GripReason::NotHeldLong, GripRemedy::LongHold);
            return;
        };
        let known = self.setup.gauge.standard_n(drop.force_n).is_some();
        let unknown = (!known).then_some(GaugeGap::UncertaintyNotKnown);
        let blocked = self.blocked_at(drop.force_n).or(unknown);
        let budget = drop.budget_as_held();
        let mut judged = decision::judge_by_budget(limit, drop.n_per_s, &budget);
        if let Some(why) = blocked {
            let assumed = ASSUMED_ERROR * drop.n_per_s.abs();
            judged = decision::judge_with_guard(limit, drop.n_per_s, assumed + judged.guard);
            hold_back(&mut judged, why, bench);
            bench.add(judged);
            return;
        }
        let (clamp, over_s) = (drop.number, drop.over_s);
        bench.say(&judged, Subject::Drop { clamp, over_s });
        let mut question = self.question(limit, &judged, budget);
        let longer = drop.decided_by_hold(limit).filter(|_| question.open);
        if let Some((hold_s, budget)) = longer {
            bench.add_remedy(GripRemedy::HoldFor { hold_s });
            question.held_longer = Some(budget);
            question.open = false;
        }
        bench.add_question(judged, question);
    }

    /// A force that drops and goes on dropping is within no limit for long, unless somebody knows why it does.
    fn hold_back_if_it_drops(&self, bench: &mut Bench) {
        let found = drop::goes_on(self.taken, self.setup);
        let found = match (found, drop::slipped(self.taken)) {
            (None, Some(slip)) => return self.hold_back_if_it_slipped(slip, bench),
            (found, _) => found,
        };
        if let Some(again) = self
            .doubts
            .falls_again
            .filter(|_| found.is_none() && self.fell_below_limit().is_none())
        {
            return self.hold_back_if_it_falls_again(again, bench);
        }
        let falls = drop::falls_as_read(self.taken).filter(|_| found.is_none());
        if let Some((clamp, per_s)) = falls {
            let percent_per_s = 100.0 * per_s;
            bench.stop(GripReason::FallsAsRead {
                clamp,
                percent_per_s,
            });
            bench.add_remedy(GripRemedy::LongHoldForDrop);
            return;
        }
        match (found, self.cause(bench)) {
            (None, None) => {}
            (None, Some(_)) if self.fell_below_limit().is_some() => {}
            (None, Some(_)) => {
                bench.add_reason(GripReason::CauseWithoutDrop);
            }
            (Some(found), Some(cause)) => self.weigh_cause(&found, cause, bench),
            (Some(found), None) => {
                bench.stop(GripReason::DropGoesOn {
                    drop: seen(&found),
                    below_limit_in_s: self.limit_reached_s(&found, bench),
                });
                let longer = !drop::is_examined(self.taken, self.setup);
                if longer {
                    bench.add_remedy(GripRemedy::LongHoldForDrop);
                }
                bench.add_remedy(GripRemedy::NameDropCause);
            }
        }
    }

    /// The cause of a drop that somebody names; words that name none are none.
    fn cause(&self, bench: &mut Bench) -> Option<String> {
        let said = self.setup.drop_because.clone()?;
        if drop::is_cause(&said) {
            return Some(said);
        }
        bench.add_reason(GripReason::NoCause { said });
        None
    }

    /// A known cause makes no force hold: what is below its limit within a long hold is not within it.
    fn weigh_cause(&self, found: &drop::GoesOn, cause: String, bench: &mut Bench) {
        let drop = seen(found);
        match self.limit_reached_s(found, bench) {
            Some(below_limit_in_s) if below_limit_in_s <= drop::HOLDS_FOR_S => {
                bench.stop(GripReason::CauseDoesNotHold {
                    drop,
                    below_limit_in_s,
                    cause,
                });
                bench.add_remedy(GripRemedy::CausePutRight);
            }
            below_limit_in_s => bench.add_first(GripReason::DropExplained {
                drop,
                cause,
                below_limit_in_s,
            }),
        }
    }

    /// The low clamp is the news, also where it was left out or nothing limits the lowest.
    fn hold_back_if_one_is_weak(&self, bench: &mut Bench) {
        let Some(floor) = self.setup.floor() else {
            return;
        };
        let (own, limit_n) = (floor.figure == Figure::GripLowest, floor.limit);
        let forces = self.taken.iter().map(|clamp| clamp.force_n);
        let forces_n: Vec<f64> = forces.collect();
        let counts = |number: u32| self.taken.iter().any(|clamp| clamp.number == number);
        let left_out = self.doubts.left_out.iter();
        let weak = left_out
            .filter(|clamp| !counts(clamp.number) && clamp.is_weak(limit_n, own, &forces_n))
            .min_by(|a, b| a.reads_n.total_cmp(&b.reads_n));
        if let Some(&LeftOut {
            number,
            excluded,
            reads_n,
        }) = weak
        {
            bench.stop(GripReason::WeakLeftOut {
                clamp: number,
                excluded,
                reads_n,
                limit_n,
            });
            bench.add_remedy(GripRemedy::ClampAgain);
        }
        let lowest = self
            .taken
            .iter()
            .min_by(|a, b| a.force_n.total_cmp(&b.force_n));
        let Some(lowest) = lowest.filter(|_| !own) else {
            return;
        };
        // Told by the figure itself: what is too near to decide is not within.
        let holding = forces_n.iter().copied();
        let others_n: Vec<f64> = holding.filter(|force_n| *force_n >= limit_n).collect();
        if lowest.force_n < limit_n && left_out::is_apart(lowest.force_n, &others_n) {
            bench.stop(GripReason::WeakCounts {
                clamp: lowest.number,
                force_n: lowest.force_n,
                limit_n,
            });
            bench.add_remedy(GripRemedy::LimitOnLowest);
        }
    }

    /// The mean of clamps that fall one after the other says nothing of the next.
    fn hold_back_if_next_below_limit(&self, bench: &mut Bench) {
        let Some((floor, falling)) = self.setup.floor().zip(Falling::of(&self.figures)) else {
            return;
        };
        let Falling {
            n_per_clamp,
            next_n,
        } = falling;
        if next_n < floor.limit {
            bench.stop(GripReason::NextBelowLimit {
                n_per_clamp,
                next_n,
                limit_n: floor.limit,
            });
            bench.add_remedy(GripRemedy::CausePutRight);
        }
    }

    /// A clamp is left out for how it was taken, never for its value: what a hand takes away to come within limit counts.
    fn hold_back_if_discards_decide(&self, with: Option<&Verdict>, bench: &mut Bench) {
        let lower = |clamp: &LeftOut| {
            clamp.excluded == Excluded::Discarded && clamp.reads_n < self.figures.lowest_n
        };
        let low = self.doubts.left_out.iter().any(lower);
        let stops = |with: &&Verdict| with.reasons.iter().any(Reason::forbids_running);
        if let Some(with) = with.filter(|with| with.outcome != Outcome::Accept)
            && (low || stops(&with))
            && bench.is_within()
        {
            bench.stop(GripReason::DiscardsDecide { with: with.outcome });
            bench.add_remedy(GripRemedy::SetWhole);
        }
    }

    /// A force that is lower before the release than it settled at, by more than a bump, or in a clamp that was left out
    /// for it, has not come back.
    fn hold_back_if_it_stays_down(&self, bench: &mut Bench) {
        let counted = hold_end::stays_down(self.taken);
        let Some(down) = counted.or(self.doubts.down_in_excluded) else {
            return;
        };
        let cause = self.cause(bench);
        let below = self
            .setup
            .floor()
            .is_some_and(|floor| down.left_n < floor.limit);
        let named = cause.is_some();
        let lower = GripReason::LowerAtEnd {
            clamp: down.number,
            by_n: down.by_n,
            cause,
        };
        if named && !below {
            bench.add_first(lower);
        } else {
            bench.stop(lower);
            bench.add_remedy(match named {
                true => GripRemedy::CausePutRight,
                false => GripRemedy::NameDropCause,
            });
        }
    }

    /// A tool is lost in the moment in which the force is below what it must be, whatever it comes back to.
    fn hold_back_if_it_fell_below_limit(&self, bench: &mut Bench) {
        let Some((clamp, down_to_n, clamps, limit_n)) = self.fell_below_limit() else {
            return;
        };
        let cause = self.cause(bench);
        let named = cause.is_some();
        let fell = GripReason::FellBelowLimit {
            clamp,
            down_to_n,
            clamps,
            limit_n,
            cause,
        };
        held_back(fell, named, GripRemedy::HeldInPeace, bench);
    }

    /// Of the clamps whose force went below the limit while held and rose again: the number of the deepest, where it went
    /// down to, how many they are, and the limit, N.
    fn fell_below_limit(&self) -> Option<(u32, f64, usize, f64)> {
        let limit_n = self.setup.floor()?.limit;
        let fell = self.doubts.fell.iter();
        let below: Vec<&(u32, f64)> = fell.filter(|fell| fell.1 < limit_n).collect();
        let (clamp, down_to_n) = below.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        Some((*clamp, *down_to_n, below.len(), limit_n))
    }

    /// A force that went down at once and stayed down: something gave way, and may do so again.
    fn hold_back_if_it_slipped(&self, (clamp, slip): (u32, Slip), bench: &mut Bench) {
        let cause = self.cause(bench);
        let named = cause.is_some();
        let by_n = slip.by_n;
        let slipped = GripReason::SlippedOnce { clamp, by_n, cause };
        held_back(slipped, named, GripRemedy::NameDropCause, bench);
    }

    /// A force that goes down and is back time after time is let go and caught again: its mean says nothing of what a tool
    /// has in between.
    fn hold_back_if_it_falls_again(&self, (holds, of): (usize, usize), bench: &mut Bench) {
        let cause = self.cause(bench);
        let named = cause.is_some();
        let falls = GripReason::FallsAgain { holds, of, cause };
        held_back(falls, named, GripRemedy::HeldInPeace, bench);
    }

    /// When the force will be below its limit, s, where it is not yet and nothing fills it up.
    fn limit_reached_s(&self, found: &drop::GoesOn, bench: &Bench) -> Option<f64> {
        if found.seen == drop::Seen::BetweenFills {
            return None;
        }
        let left_n = bench.left_above_lower_limits();
        let left_n = left_n.filter(|left_n| *left_n > 0.0)?;
        Some(left_n / (found.per_s * self.figures.mean_n))
    }

    /// By a usual range alone a spindle is at best undecided, and rejected only when even the upper end of the interval
    /// of the mean lies far below the low end of the range.
    fn judge_by_usual_range(&self, usual: Option<&UsualRange>, bench: &mut Bench) {
        let mean_n = self.figures.mean_n;
        bench.open = true;
        bench.add_remedy(GripRemedy::MakersFigure);
        let Some(range) = usual else {
            bench.add_reason(GripReason::NothingToCompare);
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
        let judge = |limit: &Limit, force_n| decision::judge_with_guard(limit, force_n, guard);
        let mut judged = judge(&limit, mean_n);
        if judged.outcome == Outcome::Reject {
            self.hold_to_the_end(&limit, &mut judged, bench, judge);
        }
        if judged.outcome == Outcome::Reject {
            bench.add_reason(GripReason::FarBelowUsual {
                low_n: range.low_n,
                high_n: range.high_n,
                percent: 100.0 * share,
                provenance: range.provenance,
            });
            if let Some(gauge) = self.blocked_at(mean_n) {
                let what = FarOut::Low;
                bench.add_reason(GripReason::GripFarOut { what, gauge });
            }
        } else {
            judged.outcome = Outcome::Undecided;
            judged.watch = false;
            bench.add_reason(GripReason::AgainstUsual {
                place: against_usual(mean_n, judged.guard, range),
                low_n: range.low_n,
                high_n: range.high_n,
                provenance: range.provenance,
            });
        }
        bench.add(judged);
        let assumed = self.setup.assumption;
        if assumed.is_some_and(|assumed| is_old_light_forty(assumed, mean_n)) {
            bench.add_reason(GripReason::OldLightForty);
        }
    }

    /// What the highest usual force of the taper says where a limit alone is known of the spindle: of the class where one was
    /// picked; none where a limit lies above it: whoever set that
    /// knows more of the spindle than its taper tells.
    fn most_usual(&self) -> Option<(f64, MostExpected)> {
        let (interface, class) = (self.setup.interface, self.setup.assumption);
        let of_class = || UsualRange::of(class?).map(|range| range.high_n);
        let of_taper = || UsualRange::over_classes(interface?).map(|(_, high_n)| high_n);
        let force_n = of_class().or_else(of_taper)?;
        let beyond = self
            .setup
            .floor()
            .is_some_and(|limit| limit.limit > force_n);
        (!beyond).then_some((force_n, MostExpected::HighestUsual { force_n }))
    }

    /// A scatter, a drop or an upper limit alone says nothing of a spindle that hardly grips: what is known of it has to.
    fn stop_if_nothing_limits_far_below(&self, by_class: bool, bench: &mut Bench) {
        if by_class || self.setup.floor().is_some() {
            return;
        }
        let force_n = self.figures.mean_n;
        let share = Shares::usual(self.setup.is_hollow()).act_percent;
        let interface = self.setup.spindle().interface;
        let why = match (
            self.setup.nominal_n,
            interface.and_then(UsualRange::over_classes),
        ) {
            (Some(nominal_n), _) => {
                let percent = 100.0 * force_n / nominal_n;
                (percent < share).then_some(GripReason::LittleOfNominal { percent })
            }
            (None, Some((low_n, _))) => (force_n < low_n / APART && !self.setup.as_read)
                .then_some(GripReason::FarBelowUnlimited { force_n, low_n }),
            (None, None) => Some(GripReason::NothingLimitsForce { force_n }),
        };
        if let Some(why) = why {
            bench.stop(why);
            bench.add_remedy(GripRemedy::MakersFigure);
        }
    }

    /// Something is wrong with such a force however far from its limit it lies: nothing is within limit by it.
    fn stop_if_far_above(&self, usual: Option<&UsualRange>, bench: &mut Bench) {
        let spindle = Spindle {
            nominal_n: None,
            ..self.setup.spindle()
        };
        if let Some(Doubt::ForceAbove { most_n, .. }) = spindle
            .force(self.figures.mean_n)
            .filter(|_| !self.setup.as_read)
        {
            bench.stop(GripReason::MoreThanPossible { most_n });
        }
        let highest = MostExpected::of(self.setup.nominal_n, usual).or_else(|| self.most_usual());
        if let Some((most_n, of)) =
            highest.filter(|(most_n, _)| self.figures.mean_n > STOP_PERCENT / 100.0 * most_n)
        {
            let percent = 100.0 * self.figures.mean_n / most_n;
            bench.stop(GripReason::FarAboveExpected { percent, of });
            bench.add_remedy(GripRemedy::SetAfterChecks);
        }
    }
}

/// Where a force lies against what is usual. One figure is no range: what does not differ from it beyond doubt is at it.
fn against_usual(mean_n: f64, guard_n: f64, range: &UsualRange) -> AgainstUsual {
    let one = range.low_n >= range.high_n;
    match (one, mean_n) {
        (true, mean_n) if (mean_n - range.low_n).abs() <= guard_n => AgainstUsual::At,
        (_, mean_n) if mean_n < range.low_n => AgainstUsual::Below,
        (_, mean_n) if mean_n > range.high_n => AgainstUsual::Above,
        _ => AgainstUsual::Inside,
    }
}

/// What was seen in a hold, said first where its cause is named; else nothing is within limit by it.
fn held_back(seen: GripReason, named: bool, remedy: GripRemedy, bench: &mut Bench) {
    if named {
        bench.add_first(seen);
    } else {
        bench.stop(seen);
        bench.add_remedy(remedy);
    }
}

fn seen(found: &drop::GoesOn) -> DropSeen {
    DropSeen {
        clamp: found.clamp,
        percent_per_s: 100.0 * found.per_s,
        last_s: (found.seen == drop::Seen::AtEnd).then_some(found.over_s),
        is_filled_up: found.seen == drop::Seen::BetweenFills,
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
fn hold_back(judged: &mut Judged, gauge: GaugeGap, bench: &mut Bench) {
    never_within(judged);
    bench.add_reason(if judged.outcome == Outcome::Reject {
        let what = match (judged.figure.facts().measure, judged.side) {
            (Measure::Share, _) => FarOut::Scatter,
            (Measure::ForceRate, _) => FarOut::Drop,
            (Measure::Force(_) | Measure::Length | Measure::Travel, Side::Lower) => FarOut::Low,
            (Measure::Force(_) | Measure::Length | Measure::Travel, Side::Upper) => FarOut::High,
        };
        GripReason::GripFarOut { what, gauge }
    } else {
        GripReason::GaugeNotInForce { gauge }
    });
    bench.add_remedy(GripRemedy::GaugeInForce);
}
