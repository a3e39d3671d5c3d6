//! Uncertainty budgets after the GUM: contributions in, combined and expanded uncertainty out.

use crate::special::t_quantile;
use holdtrue_terms::vocabulary::Provenance;
use serde::{Deserialize, Serialize};

/// The shape a contribution was taken to have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Distribution {
    /// Normal, or Student's t where the degrees of freedom are finite.
    Normal,
    /// Equally likely within bounds: half width / √3.
    Rectangular,
    /// Falling off linearly to the bounds: half width / √6.
    Triangular,
    /// Sine between bounds, piling up at them: half width / √2.
    Arcsine,
}

impl Distribution {
    /// Standard uncertainty of a quantity known to lie within ± `half_width`.
    ///
    /// For `Normal` the bounds are taken as two standard uncertainties, as certificates state them.
    /// Source: JCGM 100:2008, 4.3.5 to 4.3.9.
    pub fn standard_from_half_width(self, half_width: f64) -> f64 {
        let divisor = match self {
            Self::Normal => 2.0,
            Self::Rectangular => 3.0_f64.sqrt(),
            Self::Triangular => 6.0_f64.sqrt(),
            Self::Arcsine => 2.0_f64.sqrt(),
        };
        half_width / divisor
    }

    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Rectangular => "rectangular",
            Self::Triangular => "triangular",
            Self::Arcsine => "arcsine",
        }
    }
}

/// One source of uncertainty, in the unit of the result.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Contribution {
    /// What it comes from, in words a technician knows.
    pub source: String,
    /// Standard uncertainty it gives the result (sensitivity already in it).
    pub standard: f64,
    /// Degrees of freedom; `None`: infinite.
    pub dof: Option<f64>,
    /// The shape it was taken to have.
    pub distribution: Distribution,
    /// Change of the result per unit of the source.
    pub sensitivity: f64,
    /// Where its size comes from.
    pub provenance: Provenance,
}

impl Contribution {
    /// A normal contribution in the unit of the result, computed from the readings themselves.
    pub fn new(source: impl Into<String>, standard: f64, dof: Option<f64>) -> Self {
        Self {
            source: source.into(),
            standard,
            dof,
            distribution: Distribution::Normal,
            sensitivity: 1.0,
            provenance: Provenance::Computed,
        }
    }

    /// A contribution known to lie within ± `half_width` of a source that moves the result by
    /// `sensitivity` per unit.
    pub fn bounded(
        source: impl Into<String>,
        distribution: Distribution,
        half_width: f64,
        sensitivity: f64,
        provenance: Provenance,
    ) -> Self {
        let standard = distribution.standard_from_half_width(half_width) * sensitivity.abs();
        Self {
            source: source.into(),
            standard,
            dof: None,
            distribution,
            sensitivity,
            provenance,
        }
    }

    /// The same where it moves the result by `factor` times as much.
    #[must_use]
    pub fn times(mut self, factor: f64) -> Self {
        self.standard *= factor.abs();
        self.sensitivity *= factor;
        self
    }

    /// The same with another provenance.
    pub fn from(mut self, provenance: Provenance) -> Self {
        self.provenance = provenance;
        self
    }
}

/// A list of independent contributions to one result.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Budget {
    /// The contributions.
    pub contributions: Vec<Contribution>,
}

impl Budget {
    /// A budget of these contributions.
    pub fn new(contributions: Vec<Contribution>) -> Self {
        Self { contributions }
    }

    /// Adds one.
    pub fn add(&mut self, contribution: Contribution) {
        self.contributions.push(contribution);
    }

    /// Combined standard uncertainty: root of the sum of squares. Source: JCGM 100:2008, 5.1.2.
    pub fn combined(&self) -> f64 {
        self.contributions
            .iter()
            .map(|c| c.standard * c.standard)
            .sum::<f64>()
            .sqrt()
    }

    /// Effective degrees of freedom after Welch and Satterthwaite, not rounded; infinite if no
    /// contribution with finite degrees of freedom weighs anything. Source: JCGM 100:2008, G.4.1.
    pub fn effective_dof(&self) -> f64 {
        let combined = self.combined();
        let sum: f64 = self
            .contributions
            .iter()
            .filter_map(|c| c.dof.map(|dof| (c.standard / combined).powi(4) / dof))
            .sum();
        if sum > 0.0 { 1.0 / sum } else { f64::INFINITY }
    }

    /// Each contribution's share of the variance and its degrees of freedom (may be infinite); empty
    /// if nothing contributes.
    pub fn shares(&self) -> Vec<(f64, f64)> {
        let variance = self.combined().powi(2);
        let share = |c: &Contribution| {
            (
                c.standard * c.standard / variance,
                c.dof.unwrap_or(f64::INFINITY),
            )
        };
        if variance > 0.0 {
            self.contributions.iter().map(share).collect()
        } else {
            Vec::new()
        }
    }

    /// Factor for a two-sided 95 % interval: t₀.₉₇₅ of the effective degrees of freedom.
    /// Source: JCGM 100:2008, G.6.4.
    pub fn coverage_factor(&self) -> f64 {
        t_quantile(0.975, self.effective_dof())
    }

    /// Expanded uncertainty at 95 %.
    pub fn expanded(&self) -> f64 {
        self.coverage_factor() * self.combined()
    }

    /// The contribution with the largest share of the variance, and that share; `None` if nothing
    /// contributes.
    pub fn largest(&self) -> Option<(&Contribution, f64)> {
        let variance = self.combined().powi(2);
        let largest = self
            .contributions
            .iter()
            .max_by(|a, b| a.standard.total_cmp(&b.standard))?;
        (variance > 0.0).then(|| (largest, largest.standard.powi(2) / variance))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn effective_dof_lies_between_the_smallest_and_the_sum(
            parts in proptest::collection::vec((0.1..10.0_f64, 1_u32..30), 1..6),
        ) {
            let budget = Budget::new(
                parts.iter().map(|(u, dof)| Contribution::new("part", *u, Some(f64::from(*dof)))).collect(),
            );
            let smallest = parts.iter().map(|(_, dof)| f64::from(*dof)).fold(f64::INFINITY, f64::min);
            let sum: f64 = parts.iter().map(|(_, dof)| f64::from(*dof)).sum();
            let effective = budget.effective_dof();
            prop_assert!(effective >= smallest * (1.0 - 1e-12) && effective <= sum * (1.0 + 1e-12));
        }
    }

    #[test]
    fn contributions_without_end_of_freedom_give_the_normal_factor() {
        let budget = Budget::new(vec![
            Contribution::new("certificate", 3.0, None),
            Contribution::new("resolution", 4.0, None),
        ]);
        assert!((budget.combined() - 5.0).abs() < 1e-12);
        assert!(budget.effective_dof().is_infinite());
        assert!((budget.coverage_factor() - 1.959_963_984_540_054).abs() < 1e-12);
        let (largest, share) = budget.largest().unwrap();
        assert_eq!(largest.source, "resolution");
        assert!((share - 0.64).abs() < 1e-12);
    }
}
