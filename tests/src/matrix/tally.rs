//! In: what each check came to. Out: the line of a row in the table.

use std::collections::BTreeMap;
use std::fmt::Write;

use holdtrue_metrology::hint::{Cause, Hint};
use holdtrue_terms::vocabulary::Outcome;

use super::rows::Row;

/// What one row came to.
#[derive(Debug, Default)]
pub struct Tally {
    first: BTreeMap<String, usize>,
    /// Checks whose first hint was right.
    pub right: usize,
    /// Accepted, undecided, rejected.
    pub outcomes: [usize; 3],
    worst_error_percent: f64,
    /// Clamps of all records; 0 for runout.
    pub clamps: usize,
    /// Clamps missed, listed twice or never made.
    pub wrong_clamps: usize,
    /// Planes of all checks; 0 for grip.
    pub planes: usize,
    /// Planes whose positions are in doubt.
    pub doubted_planes: usize,
    /// Checks that could not be analysed.
    pub failures: usize,
}

/// What one check came to.
#[derive(Debug)]
pub struct Checked {
    /// What is said, the strongest first.
    pub hints: Vec<Hint>,
    /// The verdict, if there is one.
    pub outcome: Option<Outcome>,
    /// Mean found against mean pulled, %; 0 for runout.
    pub error_percent: f64,
    /// Clamps truly made in the record; 0 for runout.
    pub clamps: usize,
    /// Clamps missed, listed twice or never made.
    pub wrong_clamps: usize,
    /// Planes read; 0 for grip.
    pub planes: usize,
    /// Planes whose positions are in doubt.
    pub doubted_planes: usize,
}

impl Tally {
    /// Adds one check.
    pub fn add(&mut self, row: &Row, checked: &Checked) {
        let first = checked.hints.first().map(|hint| hint.cause);
        let word = first.map_or_else(|| "none".to_owned(), |cause| spelling(&cause));
        *self.first.entry(word).or_default() += 1;
        let right = first.map_or(row.right.is_empty(), |cause| row.right.contains(&cause));
        self.right += usize::from(right);
        if let Some(outcome) = checked.outcome {
            let place = match outcome {
                Outcome::Accept => 0,
                Outcome::Undecided => 1,
                Outcome::Reject => 2,
            };
            self.outcomes[place] += 1;
        }
        self.worst_error_percent = self.worst_error_percent.max(checked.error_percent.abs());
        self.clamps += checked.clamps;
        self.wrong_clamps += checked.wrong_clamps;
        self.planes += checked.planes;
        self.doubted_planes += checked.doubted_planes;
    }

    /// Adds another tally.
    pub fn merge(&mut self, other: Self) {
        for (word, count) in other.first {
            *self.first.entry(word).or_default() += count;
        }
        self.right += other.right;
        self.failures += other.failures;
        self.clamps += other.clamps;
        self.wrong_clamps += other.wrong_clamps;
        self.planes += other.planes;
        self.doubted_planes += other.doubted_planes;
        for (mine, theirs) in self.outcomes.iter_mut().zip(other.outcomes) {
            *mine += theirs;
        }
        self.worst_error_percent = self.worst_error_percent.max(other.worst_error_percent);
    }

    /// Its line in the table.
    pub fn line(&self, row: &Row, seeds: u64) -> String {
        let mut first: Vec<(&String, &usize)> = self.first.iter().collect();
        first.sort_by(|a, b| b.1.cmp(a.1));
        let said: Vec<String> = first
            .iter()
            .map(|(word, count)| format!("{word} {count}"))
            .collect();
        let [accept, undecided, reject] = self.outcomes;
        let failed = if self.failures > 0 {
            format!(", {} not analysed", self.failures)
        } else {
            String::new()
        };
        let mut line = format!(
            "| {}{} | {:.1} % | {}{failed} | {accept} / {undecided} / {reject} |",
            row.name,
            if row.clear { "" } else { " ·" },
            100.0 * self.right as f64 / seeds as f64,
            said.join(", "),
        );
        if self.clamps > 0 {
            let _ = write!(
                line,
                " {:.2} | {} of {} |",
                self.worst_error_percent, self.wrong_clamps, self.clamps
            );
        }
        if self.planes > 0 {
            let _ = write!(line, " {} of {} |", self.doubted_planes, self.planes);
        }
        line
    }
}

fn spelling(cause: &Cause) -> String {
    serde_json::to_value(cause)
        .ok()
        .and_then(|word| word.as_str().map(str::to_owned))
        .unwrap_or_default()
}
