//! Where the judged limits of a grip check are gathered.
//!
//! In come limits judged one by one, with what there is to say about each; out comes the verdict over all of them.

use super::remarks::{Against, GripReason, GripRemedy, Subject};
use super::remedy::{self, Question, Remedy};
use crate::decision::{self, Figure, Judged, Side};
use crate::verdict::{Reason, Remedy as Settles, Verdict, WouldDecide};
use holdtrue_terms::vocabulary::Outcome;

/// What the judging of single limits adds up to.
#[derive(Default)]
pub(super) struct Bench {
    judged: Vec<Judged>,
    /// What was judged by a gauge that can carry a decision.
    questions: Vec<Question>,
    reasons: Vec<GripReason>,
    remedies: Vec<GripRemedy>,
    /// Clamps there must be at least, in all.
    least_clamps: usize,
    /// Something asked for could not be judged at all.
    pub open: bool,
}

impl Bench {
    pub fn undecidable(&mut self, reason: GripReason, remedy: GripRemedy) {
        self.open = true;
        self.add_reason(reason);
        self.add_remedy(remedy);
    }

    /// Nothing is within limit whatever the limits say, and this is read first.
    pub fn stop(&mut self, reason: GripReason) {
        self.open = true;
        self.add_first(reason);
    }

    /// Nothing is decided, within limit or outside, and this is read first.
    pub fn withhold(&mut self, reason: GripReason, remedy: GripRemedy) {
        self.stop(reason);
        self.add_remedy(remedy);
        for judged in &mut self.judged {
            judged.outcome = Outcome::Undecided;
            judged.watch = false;
        }
    }

    /// Whether all that was judged is within limit, and nothing is open.
    pub fn is_within(&self) -> bool {
        !self.open && decision::overall(&self.judged) == Outcome::Accept
    }

    /// What is read first.
    pub fn add_first(&mut self, reason: GripReason) {
        self.reasons.insert(0, reason);
    }

    /// How far the nearest lower limit on a force is away, N; negative where one is missed.
    pub fn left_above_lower_limits(&self) -> Option<f64> {
        let lower = |judged: &&Judged| judged.side == Side::Lower && judged.unit == "N";
        let left = |judged: &Judged| judged.measured - judged.limit;
        self.judged.iter().filter(lower).map(left).reduce(f64::min)
    }

    pub fn add_reason(&mut self, reason: GripReason) {
        if !self.reasons.contains(&reason) {
            self.reasons.push(reason);
        }
    }

    pub fn add_remedy(&mut self, remedy: GripRemedy) {
        if !self.remedies.contains(&remedy) {
            self.remedies.push(remedy);
        }
    }

    /// So many clamps in all are wanted before anything can be said of what more would decide.
    pub fn want_clamps(&mut self, least: usize) {
        self.least_clamps = self.least_clamps.max(least);
    }

    /// A limit that was judged on other grounds than a budget.
    pub fn add(&mut self, judged: Judged) {
        self.judged.push(judged);
    }

    /// A limit with what it was judged by.
    pub fn add_question(&mut self, judged: Judged, question: Question) {
        self.judged.push(judged);
        self.questions.push(question);
    }

    /// The verdict over `count` clamps.
    pub fn verdict(mut self, count: usize) -> Verdict {
        let outcome = match decision::overall(&self.judged) {
            Outcome::Accept if self.open => Outcome::Undecided,
            outcome => outcome,
        };
        let would_decide = (outcome == Outcome::Undecided).then(|| self.would_decide(count));
        Verdict {
            outcome,
            limits: self.judged,
            reasons: self.reasons.into_iter().map(Reason::Grip).collect(),
            would_decide: would_decide.flatten(),
            drop_examined: false,
        }
    }

    fn would_decide(&mut self, count: usize) -> Option<WouldDecide> {
        let open = |each: &&Question| each.open;
        let all: Vec<&Question> = self.questions.iter().collect();
        let (mut remedies, mut wanted) = (Vec::new(), self.least_clamps);
        let mut take = |found: Remedy, of: &[&Question]| {
            wanted = wanted.max(found.count);
            let gauge = found.gauge;
            remedies.extend(gauge.map(|gauge| better_gauge(of, gauge, found.count > count)));
        };
        let together = remedy::settle(&all, count, self.least_clamps);
        match together.filter(|_| all.iter().any(open)) {
            Some(found) => take(found, &all.into_iter().filter(open).collect::<Vec<_>>()),
            None => {
                let mut hopeless = Vec::new();
                for each in all.into_iter().filter(open) {
                    match remedy::settle(&[each], count, self.least_clamps) {
                        Some(found) => take(found, &[each]),
                        None => hopeless.push(remedy::too_near(each)),
                    }
                }
                remedies.extend(hopeless);
            }
        }
        remedies.append(&mut self.remedies);
        let more = wanted.saturating_sub(count);
        if more > 0 {
            let like_these = count >= 2;
            remedies.insert(0, GripRemedy::MoreClamps { more, like_these });
        }
        (!remedies.is_empty()).then(|| WouldDecide {
            more_clamps: u32::try_from(more).ok().filter(|more| *more > 0),
            remedies: remedies.into_iter().map(Settles::Grip).collect(),
        })
    }

    /// Where a judged figure stands.
    pub fn say(&mut self, judged: &Judged, of: Subject) {
        let at = if judged.measured < 0.0 && judged.limit > 0.0 {
            Against::BelowZero
        } else if judged.limit.abs() > 0.0 {
            Against::Share {
                percent: 100.0 * judged.measured / judged.limit,
            }
        } else {
            Against::ZeroLimit
        };
        self.add_reason(GripReason::GripStands {
            of,
            at,
            outcome: judged.outcome,
            watch: judged.watch,
        });
    }
}

/// Another gauge, for the figures that more clamps alone do not settle.
fn better_gauge(open: &[&Question], gauge: u32, with_clamps: bool) -> GripRemedy {
    let helped = |each: &&&Question| each.limit.figure != Figure::GripScatter;
    GripRemedy::BetterGauge {
        figures: open
            .iter()
            .filter(helped)
            .map(|each| each.asked())
            .collect(),
        percent: remedy::percent(gauge),
        with_clamps,
    }
}
