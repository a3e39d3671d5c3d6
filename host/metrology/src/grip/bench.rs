//! Where the judged limits of a grip check are gathered.
//!
//! In come limits judged one by one, with what there is to say about each; out comes the verdict over all of them.

use crate::decision::{self, Figure, Judged, Outcome, Verdict, WouldDecide};

/// What the judging of single limits adds up to.
#[derive(Default)]
pub(super) struct Bench {
    pub judged: Vec<Judged>,
    reasons: Vec<String>,
    remedies: Vec<String>,
    more_clamps: Option<usize>,
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
        self.reasons.insert(0, reason);
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

    pub fn ask_for_clamps(&mut self, more: usize) {
        self.more_clamps = self.more_clamps.max(Some(more));
    }

    pub fn verdict(self) -> Verdict {
        let outcome = match decision::overall(&self.judged) {
            Outcome::Accept if self.open => Outcome::Undecided,
            outcome => outcome,
        };
        let mut remedies = self.remedies;
        if let Some(more) = self.more_clamps {
            let plural = if more == 1 { "clamp" } else { "clamps" };
            remedies.insert(0, format!("about {more} more {plural} like these"));
        }
        let undecided = outcome == Outcome::Undecided && !remedies.is_empty();
        let would_decide = undecided.then(|| WouldDecide {
            more_clamps: self.more_clamps.and_then(|more| u32::try_from(more).ok()),
            text: remedies.join("; "),
        });
        Verdict {
            outcome,
            limits: self.judged,
            reasons: self.reasons,
            would_decide,
        }
    }

    /// One sentence on a judged limit.
    pub fn say(&mut self, judged: &Judged, what: &str) {
        let of = if judged.measured < 0.0 && judged.limit > 0.0 {
            match judged.figure {
                Figure::GripSag => "below zero: the force rose".to_owned(),
                _ => "below zero".to_owned(),
            }
        } else if judged.limit.abs() > 0.0 {
            format!(
                "{:.1} % of its limit",
                100.0 * judged.measured / judged.limit
            )
        } else {
            "judged against a limit of zero".to_owned()
        };
        self.add_reason(match judged.outcome {
            Outcome::Accept if judged.watch => format!("{what} is within limit, {of}: watch it"),
            Outcome::Accept => format!("{what} is within limit, {of}"),
            Outcome::Reject => format!("{what} is outside limit, {of}"),
            Outcome::Undecided => format!("{what} is too near its limit to decide, {of}"),
        });
    }
}
