//! Where the judged limits of a grip check are gathered.
//!
//! In come limits judged one by one, with what there is to say about each; out comes the verdict over all of them.

use super::remedy::{self, Question, Remedy};
use crate::decision::{self, Figure, Judged, Outcome, Side, Verdict, WouldDecide};

/// What the judging of single limits adds up to.
#[derive(Default)]
pub(super) struct Bench {
    judged: Vec<Judged>,
    /// What was judged by a gauge that can carry a decision.
    questions: Vec<Question>,
    reasons: Vec<String>,
    remedies: Vec<String>,
    /// Clamps there must be at least, in all.
    least_clamps: usize,
    /// Something asked for could not be judged at all.
    pub open: bool,
}

impl Bench {
    pub fn undecidable(&mut self, reason: &str, remedy: &str) {
        self.open = true;
        self.add_reason(reason);
        self.add_remedy(remedy);
    }

    /// Nothing is within limit whatever the limits say, and this is read first.
    pub fn stop(&mut self, reason: String) {
        self.open = true;
        self.add_first(reason);
    }

    /// Nothing is decided, within limit or outside, and this is read first.
    pub fn withhold(&mut self, reason: &str, remedy: &str) {
        self.stop(reason.to_owned());
        self.add_remedy(remedy);
        for judged in &mut self.judged {
            judged.outcome = Outcome::Undecided;
            judged.watch = false;
        }
    }

    /// What is read first.
    pub fn add_first(&mut self, reason: String) {
        self.reasons.insert(0, reason);
    }

    /// How far the nearest lower limit on a force is away, N; negative where one is missed.
    pub fn left_above_lower_limits(&self) -> Option<f64> {
        let lower = |judged: &&Judged| judged.side == Side::Lower && judged.unit == "N";
        let left = |judged: &Judged| judged.measured - judged.limit;
        self.judged.iter().filter(lower).map(left).reduce(f64::min)
    }

    pub fn add_reason(&mut self, reason: impl Into<String>) {
        let reason = reason.into();
        if !self.reasons.contains(&reason) {
            self.reasons.push(reason);
        }
    }

    pub fn add_remedy(&mut self, remedy: impl Into<String>) {
        let remedy = remedy.into();
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
            reasons: self.reasons,
            would_decide: would_decide.flatten(),
        }
    }

    fn would_decide(&mut self, count: usize) -> Option<WouldDecide> {
        let open = |each: &&Question| each.open;
        let all: Vec<&Question> = self.questions.iter().collect();
        let (mut texts, mut wanted) = (Vec::new(), self.least_clamps);
        let mut take = |found: Remedy, of: &[&Question]| {
            wanted = wanted.max(found.count);
            let gauge = found.gauge_words();
            texts.extend(gauge.map(|gauge| for_figures(of, &gauge, found.count > count)));
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
                texts.extend(hopeless);
            }
        }
        texts.append(&mut self.remedies);
        let more = wanted.saturating_sub(count);
        if more > 0 {
            let plural = if more == 1 { "clamp" } else { "clamps" };
            let like = if count < 2 { "" } else { " like these" };
            texts.insert(0, format!("about {more} more {plural}{like}"));
        }
        (!texts.is_empty()).then(|| WouldDecide {
            more_clamps: u32::try_from(more).ok().filter(|more| *more > 0),
            text: texts.join("; "),
        })
    }

    /// One sentence on a judged limit.
    pub fn say(&mut self, judged: &Judged, what: &str) {
        let of = if judged.measured < 0.0 && judged.limit > 0.0 {
            match judged.figure {
                Figure::GripSag => "below zero, the force rose".to_owned(),
                _ => "below zero".to_owned(),
            }
        } else if judged.limit.abs() > 0.0 {
            format!(
                "at {:.1} % of its limit",
                100.0 * judged.measured / judged.limit
            )
        } else {
            "judged against a limit of zero".to_owned()
        };
        let word = match judged.outcome {
            Outcome::Accept if judged.watch => "within limit, watch it",
            Outcome::Accept => "within limit",
            Outcome::Reject => "outside limit",
            Outcome::Undecided => "too near to decide",
        };
        self.add_reason(format!("{what} is {of}: {word}"));
    }
}

/// Another gauge, and why clamps alone are not enough.
fn for_figures(open: &[&Question], gauge: &str, with_clamps: bool) -> String {
    let helped = |each: &&&Question| each.limit.figure != Figure::GripScatter;
    let names: Vec<&str> = open.iter().filter(helped).map(|each| each.name()).collect();
    let lowest = open
        .iter()
        .any(|each| each.limit.figure == Figure::GripLowest);
    let why = match (with_clamps, lowest) {
        (_, true) => ": more clamps cannot lift the lowest",
        (true, false) => " as well",
        (false, false) => "; more clamps alone do not settle it",
    };
    format!("for {} {gauge}{why}", names.join(" and "))
}
