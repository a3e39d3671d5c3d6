//! From a figure and its uncertainty to within limit, outside limit or undecided.

use crate::special::{normal_survival, t_quantile};
use crate::uncertainty::{Budget, Contribution};
pub use holdtrue_terms::figure::{Figure, Side};
use holdtrue_terms::vocabulary::{At, Outcome, Provenance};
use serde::{Deserialize, Serialize};

/// A limit on one figure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limit {
    /// What it limits.
    pub figure: Figure,
    /// For runout: the height it holds at, mm from the nose face outward; `None`: at every height.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_mm: Option<f64>,
    /// Which side is good.
    pub side: Side,
    /// The limit.
    pub limit: f64,
    /// Its unit: N, %, N/s, um.
    pub unit: String,
    /// Where it comes from.
    pub provenance: Provenance,
    /// Inside accept, nearer to the limit than this value: remark *watch*.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub watch: Option<f64>,
    /// The nominal figure it is a share of, if it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share: Option<ShareOf>,
}

impl Limit {
    /// A limit on a figure as it is usual for it: on its good side, in its unit, at every height, with nothing watched.
    pub fn on(figure: Figure, limit: f64, provenance: Provenance) -> Self {
        let facts = figure.facts();
        Self {
            figure,
            height_mm: None,
            side: facts.good,
            limit,
            unit: facts.measure.unit().to_owned(),
            provenance,
            watch: None,
            share: None,
        }
    }
}

/// A share of a nominal figure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShareOf {
    /// The share, %.
    pub percent: f64,
    /// The nominal figure, in the unit of the limit.
    pub nominal: f64,
    /// Where the nominal figure comes from; where the share comes from is the limit's own provenance.
    pub provenance: Provenance,
}

/// How the guard of a judged limit came about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rule {
    /// Student's t of the effective degrees of freedom times the combined uncertainty.
    #[default]
    StudentT,
    /// Each contribution's own t, weighted by its share of the variance, times the combined
    /// uncertainty: where few readings and a shared error are mixed.
    ShareWeighted,
    /// A bound of its own that comes from no budget.
    Bound,
}

impl Rule {
    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::StudentT => "Student's t with the effective degrees of freedom",
            Self::ShareWeighted => {
                "Student's t of each contribution, weighted by its share (few readings)"
            }
            Self::Bound => "a bound of its own",
        }
    }
}

/// One limit, judged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Judged {
    /// What was limited.
    pub figure: Figure,
    /// For runout: the height judged, mm from the nose face outward.
    pub height_mm: Option<f64>,
    /// For runout: the surface judged; none where nobody said, and for a figure of none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<At>,
    /// Which side is good.
    pub side: Side,
    /// The limit.
    pub limit: f64,
    /// Its unit.
    pub unit: String,
    /// Where it comes from.
    pub provenance: Provenance,
    /// The nominal figure it is a share of, if it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share: Option<ShareOf>,
    /// The figure.
    pub measured: f64,
    /// What the figure has to clear the limit by.
    pub guard: f64,
    /// How the guard came about.
    #[serde(default)]
    pub rule: Rule,
    /// What was decided.
    pub outcome: Outcome,
    /// Accepted, but nearer to the limit than the limit's watch value.
    pub watch: bool,
    /// The contributions to the standard uncertainty of the figure, in its unit; empty where the guard is a bound of its
    /// own.
    #[serde(default)]
    pub budget: Vec<Contribution>,
}

/// Risk allowed in each direction: of accepting what misses the limit, of rejecting what meets it.
pub const RISK: f64 = 0.05;

/// Judges one figure with standard uncertainty `u` of `dof` (may be infinite) degrees of freedom.
///
/// Guard g = t₀.₉₅(ν)·u. Lower limit L: accept if x − g ≥ L, reject if x + g < L, else undecided;
/// upper limits mirrored. A figure or uncertainty that is no number is undecided.
/// Source: the rule of ISO 14253-1 and JCGM 106:2012, 8.3 (guarded acceptance and guarded
/// rejection), with the one-sided risk in each direction held at 5 %.
pub fn judge(limit: &Limit, measured: f64, u: f64, dof: f64) -> Judged {
    let guard = t_quantile(1.0 - RISK, dof) * u;
    Judged {
        rule: Rule::StudentT,
        ..judge_with_guard(limit, measured, guard)
    }
}

/// From this many degrees of freedom on a contribution may be mixed with others by Welch and
/// Satterthwaite: the risk is then at most 5.4 % for 5 %, whatever the mixture (exact integration and
/// simulation; host/docs/trust.md). With fewer it reaches 6.1 % at three and 8.4 % at two readings.
const MIXES_FROM_DOF: f64 = 4.0;

/// Judges one figure by its budget.
///
/// As [`judge`] with the budget's effective degrees of freedom, where that holds the risk. Where a
/// contribution of fewer than four degrees of freedom is mixed with others, the factor is the mean of
/// each contribution's t₀.₉₅(νᵢ) weighted by its share uᵢ²/u² of the variance: exact where one
/// contribution is all there is, and at most 5.25 % risk in between, from two readings on.
pub fn judge_by_budget(limit: &Limit, measured: f64, budget: &Budget) -> Judged {
    let (factor, rule) = guard_factor(budget);
    Judged {
        rule,
        budget: budget.contributions.clone(),
        ..judge_with_guard(limit, measured, factor * budget.combined())
    }
}

/// The factor on the combined uncertainty that gives the guard, and the rule it follows.
pub fn guard_factor(budget: &Budget) -> (f64, Rule) {
    guard_factor_at(budget, RISK)
}

/// As [`guard_factor`] for another one-sided risk: of the largest of n figures each bears the n-th part (Bonferroni).
pub fn guard_factor_at(budget: &Budget, risk: f64) -> (f64, Rule) {
    let quantile = |dof: f64| t_quantile(1.0 - risk, dof);
    let shares = budget.shares();
    let weighty = shares.iter().filter(|(share, _)| *share > 0.0).count();
    let few = shares
        .iter()
        .any(|(share, dof)| *share > 0.0 && *dof < MIXES_FROM_DOF);
    if weighty > 1 && few {
        let factor = shares
            .iter()
            .map(|(share, dof)| share * quantile(*dof))
            .sum();
        return (factor, Rule::ShareWeighted);
    }
    (quantile(budget.effective_dof()), Rule::StudentT)
}

/// Judges one figure that has to clear its limit by `guard`.
pub fn judge_with_guard(limit: &Limit, measured: f64, guard: f64) -> Judged {
    let outcome = decide(limit.side, limit.limit, measured, guard);
    let near = limit.watch.is_some_and(|watch| match limit.side {
        Side::Lower => measured < watch,
        Side::Upper => measured > watch,
    });
    Judged {
        figure: limit.figure,
        height_mm: limit.height_mm,
        at: None,
        side: limit.side,
        limit: limit.limit,
        unit: limit.unit.clone(),
        provenance: limit.provenance,
        share: limit.share,
        measured,
        guard,
        rule: Rule::Bound,
        outcome,
        watch: near && outcome == Outcome::Accept,
        budget: Vec::new(),
    }
}

fn decide(side: Side, limit: f64, measured: f64, guard: f64) -> Outcome {
    let (accept, reject) = match side {
        Side::Lower => (measured - guard >= limit, measured + guard < limit),
        Side::Upper => (measured + guard <= limit, measured - guard > limit),
    };
    match (accept, reject) {
        (true, _) => Outcome::Accept,
        (_, true) => Outcome::Reject,
        _ => Outcome::Undecided,
    }
}

/// Probability that what was measured lies between the limits (an absent one does not bind), for a
/// normal distribution of what it may be. Source: JCGM 106:2012, 7.3 and 7.4.
pub fn conformity_probability(
    lower: Option<f64>,
    upper: Option<f64>,
    measured: f64,
    u: f64,
) -> f64 {
    let above = upper.map_or(0.0, |limit| normal_survival((limit - measured) / u));
    let below = lower.map_or(0.0, |limit| normal_survival((measured - limit) / u));
    1.0 - above - below
}

/// Any reject: reject; else any undecided: undecided; else accept.
pub fn overall(limits: &[Judged]) -> Outcome {
    let any = |outcome| limits.iter().any(|limit| limit.outcome == outcome);
    if any(Outcome::Reject) {
        Outcome::Reject
    } else if any(Outcome::Undecided) {
        Outcome::Undecided
    } else {
        Outcome::Accept
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lower(limit: f64) -> Limit {
        Limit {
            watch: Some(1.2 * limit),
            ..Limit::on(Figure::GripMean, limit, Provenance::Maker)
        }
    }

    fn upper(limit: f64) -> Limit {
        Limit::on(Figure::Tir, limit, Provenance::Maker)
    }

    proptest! {
        #[test]
        fn an_upper_limit_is_a_lower_limit_seen_in_a_mirror(x in -50.0..50.0_f64, u in 0.0..20.0_f64, dof in 1.0..50.0_f64) {
            prop_assert_eq!(judge(&lower(7.0), x, u, dof).outcome, judge(&upper(-7.0), -x, u, dof).outcome);
        }

        #[test]
        fn a_better_figure_never_gets_a_worse_word(x in 0.0..50.0_f64, more in 0.0..10.0_f64, u in 0.0..20.0_f64) {
            let rank = |o| match o { Outcome::Reject => 0, Outcome::Undecided => 1, Outcome::Accept => 2 };
            let limit = lower(20.0);
            prop_assert!(rank(judge(&limit, x + more, u, 4.0).outcome) >= rank(judge(&limit, x, u, 4.0).outcome));
        }
    }

    fn mixed(readings: f64, shared: f64, count: f64) -> Budget {
        Budget::new(vec![
            Contribution::new("repeatability", readings, Some(count - 1.0)),
            Contribution::new("calibration", shared, None),
        ])
    }

    proptest! {
        #[test]
        fn few_readings_never_get_by_with_less_guard_than_many(a in 0.01..10.0_f64, b in 0.01..10.0_f64) {
            let guards: Vec<f64> = (2..12).map(|n| guard_factor(&mixed(a, b, f64::from(n))).0).collect();
            prop_assert!(guards.is_sorted_by(|few, many| few >= many), "{guards:?}");
        }

        #[test]
        fn the_weighted_factor_lies_between_those_of_its_parts(a in 0.01..10.0_f64, b in 0.01..10.0_f64) {
            let (factor, rule) = guard_factor(&mixed(a, b, 3.0));
            prop_assert_eq!(rule, Rule::ShareWeighted);
            prop_assert!(factor >= t_quantile(0.95, f64::INFINITY) && factor <= t_quantile(0.95, 2.0));
        }
    }

    #[test]
    fn one_contribution_alone_and_five_readings_follow_student() {
        let (factor, rule) = guard_factor(&mixed(2.0, 0.0, 3.0));
        assert!(rule == Rule::StudentT && (factor - t_quantile(0.95, 2.0)).abs() < 1e-12);
        let budget = mixed(2.0, 1.0, 5.0);
        let (factor, rule) = guard_factor(&budget);
        assert_eq!(rule, Rule::StudentT);
        assert!((factor - t_quantile(0.95, budget.effective_dof())).abs() < 1e-12);
    }

    #[test]
    fn on_the_limit_without_uncertainty_is_within() {
        assert_eq!(
            judge(&lower(10.0), 10.0, 0.0, f64::INFINITY).outcome,
            Outcome::Accept
        );
        assert_eq!(
            judge(&upper(10.0), 10.0, 0.0, f64::INFINITY).outcome,
            Outcome::Accept
        );
    }

    #[test]
    fn what_is_no_number_is_undecided() {
        assert_eq!(
            judge(&lower(10.0), f64::NAN, 1.0, 4.0).outcome,
            Outcome::Undecided
        );
        assert_eq!(
            judge(&lower(10.0), 20.0, f64::NAN, 4.0).outcome,
            Outcome::Undecided
        );
    }

    #[test]
    fn watch_is_a_remark_inside_accept_only() {
        assert!(judge(&lower(10.0), 11.0, 0.1, 9.0).watch);
        assert!(!judge(&lower(10.0), 13.0, 0.1, 9.0).watch);
        assert!(!judge(&lower(10.0), 9.0, 0.1, 9.0).watch);
    }

    #[test]
    fn one_reject_outweighs_and_one_doubt_holds_back() {
        let (good, doubt, bad) = (
            judge(&lower(10.0), 20.0, 0.1, 9.0),
            judge(&lower(10.0), 10.0, 5.0, 9.0),
            judge(&lower(10.0), 1.0, 0.1, 9.0),
        );
        assert_eq!(
            overall(&[good.clone(), doubt.clone(), bad]),
            Outcome::Reject
        );
        assert_eq!(overall(&[good.clone(), doubt]), Outcome::Undecided);
        assert_eq!(overall(&[good]), Outcome::Accept);
    }
}
