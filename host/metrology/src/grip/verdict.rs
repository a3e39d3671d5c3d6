//! The verdict over a grip check.
//!
//! In come the clamps that count, their statistics and the limits in force; out comes the word, limit by limit, with
//! reasons a technician can read and what would settle an undecided one.

use super::bench::Bench;
use super::budget::{self, Taken};
use super::doubts::Doubts;
use super::drop::{self, Drop};
use super::ending::Slip;
use super::hold_end;
use super::limits::{Shares, UsualRange, old_light_forty};
use super::remedy::{Question, SCATTER_FROM, scatter_guard};
use super::result::Statistics;
use super::setup::{GripSetup, Standing};
use crate::decision::{self, Figure, Judged, Limit, Outcome, Side, Verdict};
use crate::doubt::{Doubt, Spindle};
use crate::uncertainty::Budget;

/// Without a calibration in force the gauge may read wrong by this share; only what is far beyond the limit even then
/// is rejected.
const ASSUMED_ERROR: f64 = 0.20;
/// Why a gauge without a figure for its uncertainty carries nothing.
const UNKNOWN_UNCERTAINTY: &str = "the force gauge's uncertainty is not known";
/// Above this share of the nominal something is wrong with how the gauge fits or the drawbar is set, %.
pub(super) const STOP_PERCENT: f64 = 120.0;
/// The fewest clamps whose mean is judged.
const FEWEST_CLAMPS: usize = 2;

/// The verdict, or `None` where there is no limit on a grip figure and no assumed class.
///
/// A class has its say only where no limit on the force itself is in force: the maker's figure wins.
pub(super) fn verdict(taken: &[Taken], setup: &GripSetup, doubts: &Doubts) -> Option<Verdict> {
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
        Statistics::over(&pairs(taken)).map(|figures| Case::new(taken, figures, setup, doubts));
    match &case {
        None => bench.undecidable("no clamp counts", "clamps that count"),
        Some(case) => {
            for limit in limits {
                case.judge(limit, &mut bench);
            }
            if by_class.is_some() {
                case.judge_by_usual_range(usual.as_ref(), &mut bench);
            }
            for (why, remedy) in &doubts.open {
                bench.undecidable(why, remedy);
            }
            case.hold_back_if_it_stays_down(&mut bench);
            case.hold_back_if_it_drops(&mut bench);
            case.stop_if_far_above(usual.as_ref(), &mut bench);
            for (why, remedy) in &doubts.blind {
                bench.withhold(why, remedy);
            }
        }
    }
    Some(bench.verdict(taken.len()))
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
            Figure::Tir | Figure::FourSeatings | Figure::SpindlePart | Figure::Seat => {}
        }
    }

    fn blocked_at(&self, force_n: f64) -> Option<&'static str> {
        let outside = self.setup.gauge.is_outside_span(force_n);
        blocked(self.setup.gauge.standing, self.doubts.overloaded, outside)
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
                bench.say(&judged, "the only clamp");
            }
            bench.add(judged);
            bench.add_reason("a single clamp does not show how the clamps repeat");
            bench.want_clamps(FEWEST_CLAMPS + 1);
            return;
        }
        let judged = self.outside_either_way(limit, mean_n, bench, |limit, force_n| {
            decision::judge_by_budget(limit, force_n, &budget)
        });
        bench.say(&judged, "the mean");
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
            bench.add_reason(
                "the readings do not differ even by their last digit: noting one digit more would make them surer",
            );
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
        bench.say(
            &judged,
            &format!("the lowest clamp (number {})", lowest.number),
        );
        if self.taken.len() == 1 && judged.outcome == Outcome::Accept {
            bench.add_reason(
                "it is the lowest of a single clamp: others may be lower, five are usual",
            );
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
            (None, None) => UNKNOWN_UNCERTAINTY,
        };
        let mut judged = self.outside_either_way(limit, force_n, bench, far_beyond);
        hold_back(&mut judged, why, bench);
        bench.add(judged);
        None
    }

    /// Judged, with the benefit of the doubt where zeros were set aside: outside a lower limit is only what would be by
    /// the lowest of them as well.
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
            bench.add_reason(
                "outside limit only if the zeros set aside were none: the gauge may not have rested on anything",
            );
            bench.add_remedy("the set taken again with the gauge hung free in every pause");
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
            Outcome::Accept if self.setup.drop_because.is_none() => {
                if let Some(left_n) = differs(hold_end::at_most(self.taken, lowest)) {
                    judged.outcome = Outcome::Undecided;
                    judged.watch = false;
                    bench.add_first(format!(
                        "at the end of the hold no more than {left_n:.0} N is left, which is not within the limit: do not run \
                         until the cause is found"
                    ));
                    bench.add_remedy("the cause of the drop, found and named");
                }
            }
            Outcome::Reject => {
                if let Some(most_n) = differs(hold_end::at_least(self.taken, lowest)) {
                    judged.outcome = Outcome::Undecided;
                    bench.add_first(format!(
                        "the force still rises after it was read: held longer it may come to {most_n:.0} N, which is not outside \
                         the limit"
                    ));
                    bench.add_remedy(
                        "every clamp held until the force stands still, 10 s or longer",
                    );
                }
            }
            Outcome::Accept | Outcome::Undecided => {}
        }
    }

    fn judge_scatter(&self, limit: &Limit, bench: &mut Bench) {
        let count = self.figures.count;
        let Some(cv) = self.figures.cv_percent else {
            bench.open = true;
            if count < FEWEST_CLAMPS {
                bench.add_reason("a single clamp shows no scatter");
                bench.want_clamps(SCATTER_FROM);
            } else {
                bench.undecidable(
                    "a mean that is not above zero has no scatter in percent",
                    "clamps with a force",
                );
            }
            return;
        };
        let mut judged = decision::judge_with_guard(limit, cv, scatter_guard(limit, cv, count));
        let few = count < SCATTER_FROM;
        if few {
            bench.add_reason(format!(
                "no verdict from the scatter of fewer than {SCATTER_FROM} clamps"
            ));
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
            bench.say(&judged, "the scatter");
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

    /// The drop while held is that of the longest counted hold.
    fn judge_sag(&self, limit: &Limit, bench: &mut Bench) {
        let drops = Drop::all(self.taken, self.setup).into_iter();
        let Some(drop) = drops.max_by(|a, b| a.over_s.total_cmp(&b.over_s)) else {
            bench.undecidable(
                "no counted clamp was held long enough to see the force drop",
                "one clamp held for 30 s",
            );
            return;
        };
        let known = self.setup.gauge.standard_n(drop.force_n).is_some();
        let unknown = (!known).then_some(UNKNOWN_UNCERTAINTY);
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
        bench.say(
            &judged,
            &format!(
                "the drop while held (clamp {}, {:.0} s)",
                drop.number, drop.over_s
            ),
        );
        let mut question = self.question(limit, &judged, budget);
        let longer = drop.decided_by_hold(limit).filter(|_| question.open);
        if let Some((hold_s, budget)) = longer {
            bench.add_remedy(format!("one clamp held for {hold_s:.0} s"));
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
        match (found, self.setup.drop_because.as_deref()) {
            (None, None) => {}
            (None, Some(_)) => {
                bench.add_reason("a cause of a drop is named, and no drop was found");
            }
            (Some(found), Some(why)) => {
                bench.add_first(format!("{}; the cause named for it: {why}", drops(&found)));
            }
            (Some(found), None) => {
                bench.stop(format!(
                    "{}: {}do not run until the cause is found",
                    drops(&found),
                    self.limit_reached(&found, bench)
                ));
                let longer = !drop::is_examined(self.taken, self.setup);
                if longer {
                    bench.add_remedy(
                        "one clamp held for 30 s, which shows whether the drop goes on",
                    );
                }
                bench.add_remedy("the cause of the drop, found and named");
            }
        }
    }

    /// A force that is lower before the release than it settled at, by more than a bump, or in a clamp that was left out
    /// for it, has not come back.
    fn hold_back_if_it_stays_down(&self, bench: &mut Bench) {
        let counted = hold_end::stays_down(self.taken);
        let Some(down) = counted.or(self.doubts.down_in_excluded) else {
            return;
        };
        let lost = format!(
            "clamp {} is {:.0} N lower at the end of its hold",
            down.number, down.by_n
        );
        if let Some(why) = self.setup.drop_because.as_deref() {
            bench.add_first(format!("{lost}; the cause named for it: {why}"));
        } else {
            bench.stop(format!("{lost}: do not run until the cause is found"));
            bench.add_remedy("the cause of the drop, found and named");
        }
    }

    /// A force that went down at once and stayed down: something gave way, and may do so again.
    fn hold_back_if_it_slipped(&self, (number, slip): (u32, Slip), bench: &mut Bench) {
        let slipped = format!("clamp {number} lost {:.0} N at once while held", slip.by_n);
        if let Some(why) = self.setup.drop_because.as_deref() {
            bench.add_first(format!("{slipped}; the cause named for it: {why}"));
        } else {
            bench.stop(format!("{slipped}: do not run until the cause is found"));
            bench.add_remedy("the cause of the drop, found and named");
        }
    }

    /// When the force will be below its limit, where it is not yet.
    fn limit_reached(&self, found: &drop::GoesOn, bench: &Bench) -> String {
        let left_n = bench.left_above_lower_limits();
        let Some(left_n) = left_n.filter(|left_n| *left_n > 0.0) else {
            return String::new();
        };
        let left_s = left_n / (found.per_s * self.figures.mean_n);
        format!("at this rate below the limit in {}; ", how_long(left_s))
    }

    /// By a usual range alone a spindle is at best undecided, and rejected only when even the upper end of the interval
    /// of the mean lies far below the low end of the range.
    fn judge_by_usual_range(&self, usual: Option<&UsualRange>, bench: &mut Bench) {
        let mean_n = self.figures.mean_n;
        bench.open = true;
        bench.add_remedy("the maker's grip figure for this spindle");
        let Some(range) = usual else {
            bench.add_reason(
                "no maker's figure, and no usual range is known for this taper and class",
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
        if judged.outcome == Outcome::Reject {
            bench.add_reason(format!(
                "far below the usual {} kN: the upper end of the interval is under {:.0} % of {} ({})",
                range_words(range),
                100.0 * share,
                if range.low_n < range.high_n { "its low end" } else { "it" },
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
                "no maker's figure: {} kN ({})",
                against_usual(mean_n, judged.guard, range),
                range.provenance.words()
            ));
        }
        bench.add(judged);
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
        let spindle = Spindle {
            nominal_n: None,
            ..self.setup.spindle()
        };
        if let Some(Doubt::ForceAbove { most_n, .. }) = spindle
            .force(self.figures.mean_n)
            .filter(|_| !self.setup.as_read)
        {
            bench.stop(format!(
                "stop: over {:.0} kN, more than such a spindle can pull; check range, calibration and unit of the gauge",
                most_n / 1e3
            ));
        }
        let highest = highest_to_expect(self.setup.nominal_n, usual);
        if let Some((nominal, of)) =
            highest.filter(|(nominal, _)| self.figures.mean_n > STOP_PERCENT / 100.0 * nominal)
        {
            bench.stop(format!(
                "stop: {:.0} % of {of}; check shank, knob, gauge range and drawbar setting before going on",
                100.0 * self.figures.mean_n / nominal
            ));
            bench.add_remedy("the set taken again after shank, knob, gauge range and drawbar setting were checked");
        }
    }
}

/// The most that is to be expected of a spindle, N, and in words what that is: the nominal force, else the highest usual
/// one.
pub(super) fn highest_to_expect(
    nominal_n: Option<f64>,
    usual: Option<&UsualRange>,
) -> Option<(f64, String)> {
    let nominal = nominal_n.map(|nominal_n| (nominal_n, "the nominal force".to_owned()));
    nominal.or_else(|| {
        let high_n = usual?.high_n;
        let of = if usual?.low_n < high_n {
            "the highest usual"
        } else {
            "the usual"
        };
        Some((high_n, format!("{of} {} kN", high_n / 1e3)))
    })
}

/// Where a force lies against what is usual. One figure is no range: what does not differ from it beyond doubt is at it.
fn against_usual(mean_n: f64, guard_n: f64, range: &UsualRange) -> String {
    let one = range.low_n >= range.high_n;
    let place = match (one, mean_n) {
        (true, mean_n) if (mean_n - range.low_n).abs() <= guard_n => "at",
        (_, mean_n) if mean_n < range.low_n => "below",
        (_, mean_n) if mean_n > range.high_n => "above",
        _ => "inside",
    };
    let what = if one {
        "the usual"
    } else {
        "the usual range of"
    };
    format!("{place} {what} {}", range_words(range))
}

fn range_words(range: &UsualRange) -> String {
    if range.low_n < range.high_n {
        format!("{} to {}", range.low_n / 1e3, range.high_n / 1e3)
    } else {
        format!("{}", range.low_n / 1e3)
    }
}

fn drops(found: &drop::GoesOn) -> String {
    let percent = 100.0 * found.per_s;
    match found.clamp {
        Some(number) if found.at_end => format!(
            "clamp {number} drops {percent:.2} % a second in the last {:.0} s of its hold",
            found.over_s
        ),
        Some(number) => format!("clamp {number} drops {percent:.2} % a second"),
        None => format!("drops {percent:.2} % a second"),
    }
}

/// A time as somebody would say it.
fn how_long(seconds: f64) -> String {
    if seconds < 10.0 {
        format!("{} s", seconds.ceil())
    } else if seconds < 120.0 {
        format!("{:.0} s", (seconds / 5.0).round() * 5.0)
    } else {
        format!("{:.0} min", (seconds / 60.0).round())
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
