//! An analysis of variance in; variance components, none below zero, and what they mean out.

use super::Table;
use serde::{Deserialize, Serialize};

/// Where scatter comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// Trial to trial, same technician, same part.
    Repeatability,
    /// Technician against technician on all parts alike.
    Technician,
    /// Technician against technician on some parts only.
    Interaction,
    /// Part against part.
    Part,
}

impl Source {
    fn words(self) -> &'static str {
        match self {
            Self::Repeatability => "repeatability",
            Self::Technician => "technicians",
            Self::Interaction => "technicians on single parts",
            Self::Part => "parts",
        }
    }
}

/// Variance components of a crossed study.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Components {
    /// Variance of the trials.
    pub repeatability: f64,
    /// Variance between technicians.
    pub technician: f64,
    /// Variance of technicians on single parts.
    pub interaction: f64,
    /// Variance between parts.
    pub part: f64,
    /// Components that came out below zero and were set to zero, with what they came out as.
    pub set_to_zero: Vec<(Source, f64)>,
}

impl Components {
    /// With the interaction as a component of its own.
    pub(super) fn with_interaction(
        table: &Table,
        parts: usize,
        technicians: usize,
        trials: usize,
    ) -> Self {
        let repeats = table.repeatability.mean_square();
        let interaction = table.interaction.mean_square();
        Self::from_estimates(
            repeats,
            (table.technician.mean_square() - interaction) / (parts * trials) as f64,
            (interaction - repeats) / trials as f64,
            (table.part.mean_square() - interaction) / (technicians * trials) as f64,
        )
    }

    /// With the interaction counted as repeatability.
    pub(super) fn without_interaction(
        table: &Table,
        parts: usize,
        technicians: usize,
        trials: usize,
    ) -> Self {
        let both = table.interaction.sum_of_squares + table.repeatability.sum_of_squares;
        let repeats = both / (table.interaction.dof + table.repeatability.dof) as f64;
        Self::from_estimates(
            repeats,
            (table.technician.mean_square() - repeats) / (parts * trials) as f64,
            0.0,
            (table.part.mean_square() - repeats) / (technicians * trials) as f64,
        )
    }

    fn from_estimates(repeatability: f64, technician: f64, interaction: f64, part: f64) -> Self {
        let estimates = [
            (Source::Technician, technician),
            (Source::Interaction, interaction),
            (Source::Part, part),
        ];
        Self {
            repeatability,
            technician: technician.max(0.0),
            interaction: interaction.max(0.0),
            part: part.max(0.0),
            set_to_zero: estimates.into_iter().filter(|(_, v)| *v < 0.0).collect(),
        }
    }

    /// Variance of what technicians add.
    pub fn reproducibility(&self) -> f64 {
        self.technician + self.interaction
    }

    /// Variance of the check: repeatability and reproducibility.
    pub fn check(&self) -> f64 {
        self.repeatability + self.reproducibility()
    }

    /// Variance of everything.
    pub fn total(&self) -> f64 {
        self.check() + self.part
    }

    /// Standard deviation of a variance as a share of all variation, %; `None` if nothing varies.
    pub fn percent_of_variation(&self, variance: f64) -> Option<f64> {
        let total = self.total();
        (total > 0.0).then(|| 100.0 * (variance / total).sqrt())
    }

    /// Six standard deviations of a variance against a tolerance of this width, %.
    pub fn percent_of_tolerance(&self, variance: f64, tolerance: f64) -> f64 {
        600.0 * variance.sqrt() / tolerance
    }

    /// 1.41 × standard deviation of the parts over that of the check, not rounded; `None` without
    /// any scatter of the check.
    pub fn category_ratio(&self) -> Option<f64> {
        let check = self.check();
        (check > 0.0).then(|| 1.41 * (self.part / check).sqrt())
    }

    /// The same cut to a whole number, at least one.
    pub fn distinct_categories(&self) -> Option<u32> {
        let ratio = self.category_ratio()?;
        (1..=1_000)
            .take_while(|n| f64::from(*n) <= ratio)
            .last()
            .or(Some(1))
    }

    /// What was set to zero, in words.
    pub(super) fn notes(&self, unit: &str) -> Vec<String> {
        let squared = if unit.is_empty() {
            String::new()
        } else {
            format!(" {unit}²")
        };
        let note = |(source, estimate): &(Source, f64)| {
            format!(
                "the variance of {} came out below zero ({estimate:.3e}{squared}) and was set to zero: too small to be seen in this study",
                source.words()
            )
        };
        self.set_to_zero.iter().map(note).collect()
    }
}
