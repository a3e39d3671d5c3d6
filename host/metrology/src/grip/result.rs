//! The result of a grip check, as it is stored and as it is printed in JSON.
//!
//! Field names are the contract: units in names, absent is null, adding a field keeps the schema.

use super::excluded::Excluded;
use super::found::FoundClamp;
use super::remarks::{ClampNote, GripNote};
use crate::hint::Hint;
use crate::known;
use crate::statistics;
use crate::uncertainty::{Budget, Distribution};
use crate::verdict::Verdict;
use holdtrue_terms::vocabulary::{Provenance, State};
use serde::{Deserialize, Serialize};

/// Version of the JSON document.
pub const SCHEMA: u32 = 1;

/// Version of the rules: raised when the same record would give other figures.
pub const ANALYSIS_VERSION: u32 = 5;

/// A grip check, analysed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GripResult {
    /// Always "grip".
    pub check: String,
    /// Version of this document.
    pub schema: u32,
    /// As found or as left.
    pub state: Option<State>,
    /// Every clamp, in time order.
    pub clamps: Vec<Clamp>,
    /// Over the counted clamps; null if none counts.
    pub statistics: Option<Statistics>,
    /// Of the mean; null without a counted clamp or without the gauge's own uncertainty.
    pub uncertainty: Option<Uncertainty>,
    /// Null without a limit.
    pub verdict: Option<Verdict>,
    /// What figures and verdict would be with the clamps that were discarded by hand; null if none was.
    pub with_discarded: Option<WithDiscarded>,
    /// Figures a paper states without the readings behind them; left out where there is none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stated: Vec<Stated>,
    /// Likely causes, the strongest first; of a result read back those known here.
    #[serde(deserialize_with = "known::all")]
    pub hints: Vec<Hint>,
    /// Remarks; of a result read back those known here.
    #[serde(rename = "note_values", default, deserialize_with = "known::all")]
    pub notes: Vec<GripNote>,
}

/// A figure as a paper states it. It is shown as it stands there, and enters no mean and no verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stated {
    /// Which figure.
    pub figure: StatedFigure,
    /// Its value, N.
    pub value_n: f64,
    /// As it was written, with its unit.
    pub as_written: String,
}

/// A figure a paper may state.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StatedFigure {
    /// The most a gauge with peak hold showed: no holding force.
    PeakN,
    /// The mean of clamps that were not noted.
    MeanN,
    /// The lowest of clamps that were not noted.
    LowestN,
}

/// One clamp.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clamp {
    /// From 1 in time order.
    pub number: u32,
    /// Whether it is in the statistics.
    pub counted: bool,
    /// The first reason why not.
    pub excluded: Option<Excluded>,
    /// When the force passed half its level upwards, s.
    pub clamped_s: Option<f64>,
    /// When it last passed half its level downwards, s.
    pub released_s: Option<f64>,
    /// The settled window, from and to, s.
    pub window_s: Option<[f64; 2]>,
    /// Settled force, N.
    pub settled_n: Option<f64>,
    /// Largest raw sample that is no spike, zero taken off, N.
    pub peak_n: Option<f64>,
    /// Drop while held, N/s, positive = the force falls.
    pub sag_n_per_s: Option<f64>,
    /// How the gauge was turned in the spindle, degrees.
    pub orientation_deg: Option<f64>,
    /// Held too short for the whole settled window.
    pub short_hold: bool,
    /// Time the force took from 10 to 90 % of its level, s.
    pub clamping_s: Option<f64>,
    /// How far the drawbar pushed the shank out, mm; null without a probe on the gauge's end.
    pub push_out_mm: Option<f64>,
    /// How far it drew the shank in on clamping, mm; null without a probe on the gauge's end.
    pub draw_in_mm: Option<f64>,
    /// Remarks; of a result read back those known here.
    #[serde(rename = "note_values", default, deserialize_with = "known::all")]
    pub notes: Vec<ClampNote>,
}

impl Clamp {
    pub(super) fn from_found(found: &FoundClamp) -> Self {
        Self {
            number: found.number,
            counted: found.counted(),
            excluded: found.excluded,
            clamped_s: found.edges.clamped_s,
            released_s: found.edges.released_s,
            window_s: found.window.map(|window| [window.from_s, window.to_s]),
            settled_n: found.settled_n,
            peak_n: found.peak_n,
            sag_n_per_s: found.sag.map(|sag| sag.n_per_s),
            orientation_deg: found.orientation_deg,
            short_hold: found.short_hold,
            clamping_s: found.clamping_s,
            push_out_mm: found.distances.push_out_mm,
            draw_in_mm: found.distances.draw_in_mm,
            notes: found.notes.clone(),
        }
    }
}

/// Statistics over the counted clamps. A figure that takes more clamps than there are is null.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Statistics {
    /// How many counted.
    pub count: usize,
    /// Mean, N.
    pub mean_n: f64,
    /// The lowest, N.
    pub lowest_n: f64,
    /// Standard deviation, divisor n − 1, N.
    pub stdev_n: Option<f64>,
    /// Standard deviation in % of the mean; null also if the mean is not positive.
    pub cv_percent: Option<f64>,
    /// Two-sided 95 % t interval of the mean, repeatability only, N.
    pub confidence_95_n: Option<[f64; 2]>,
    /// One-sided lower bound: 95 % of clamps like these lie above it, with 95 % confidence, N.
    pub tolerance_95_95_n: Option<f64>,
    /// Slope over the order of the clamps, N per clamp.
    pub trend_n_per_clamp: Option<f64>,
    /// Two-sided significance of that slope.
    pub trend_p: Option<f64>,
    /// Number of the clamp that two-sided Grubbs at 5 % calls an outlier; never removed.
    pub outlier: Option<u32>,
}

impl Statistics {
    /// Statistics over `(number, settled force in N)` in time order; `None` for no clamp.
    ///
    /// Mean and lowest from one clamp, scatter and intervals from two, trend (least squares on the order) from three,
    /// outlier from six. Sources: see [`crate::statistics`].
    pub fn over(clamps: &[(u32, f64)]) -> Option<Self> {
        const OUTLIER_FROM: usize = 6;
        let forces: Vec<f64> = clamps.iter().map(|clamp| clamp.1).collect();
        let lowest_n = forces.iter().copied().reduce(f64::min)?;
        let mean_n = statistics::mean(&forces);
        let stdev_n = (forces.len() >= 2).then(|| statistics::stdev(&forces));
        let order: Vec<f64> = (0_u32..).map(f64::from).take(forces.len()).collect();
        let trend = statistics::least_squares_line(&order, &forces);
        let outlier = if forces.len() >= OUTLIER_FROM {
            statistics::grubbs_two_sided(&forces, 0.05)
        } else {
            None
        };
        Some(Self {
            count: forces.len(),
            mean_n,
            lowest_n,
            stdev_n,
            cv_percent: stdev_n
                .filter(|_| mean_n > 0.0)
                .map(|stdev| 100.0 * stdev / mean_n),
            confidence_95_n: statistics::mean_confidence(&forces, 0.95),
            tolerance_95_95_n: statistics::tolerance_lower_bound(&forces, 0.95, 0.95),
            trend_n_per_clamp: trend.map(|line| line.slope),
            trend_p: trend.map(|line| line.p_two_sided).filter(|p| p.is_finite()),
            outlier: outlier.map(|index| clamps[index].0),
        })
    }
}

impl Statistics {
    /// Whether the clamps climb or fall one after the other: then the next one will not be like these, and a bound for
    /// clamps like these says nothing.
    pub fn follows_order(&self) -> bool {
        const SIGNIFICANT: f64 = 0.05;
        self.trend_p.is_some_and(|p| p < SIGNIFICANT)
    }
}

/// The uncertainty of the mean.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Uncertainty {
    /// The contributions.
    pub budget: Vec<BudgetLine>,
    /// Combined standard uncertainty, N.
    pub combined_n: f64,
    /// Effective degrees of freedom; null: infinite.
    pub effective_dof: Option<f64>,
    /// Two-sided 95 %.
    pub coverage_factor: f64,
    /// Expanded uncertainty, N.
    pub expanded_n: f64,
}

/// One contribution to the uncertainty.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BudgetLine {
    /// What it comes from.
    pub source: String,
    /// Standard uncertainty it gives the mean, N.
    pub standard_n: f64,
    /// Degrees of freedom; null: infinite.
    pub dof: Option<f64>,
    /// The shape it was taken to have.
    pub distribution: Distribution,
    /// Change of the mean per unit of the source.
    pub sensitivity: f64,
    /// Where its size comes from.
    pub provenance: Provenance,
}

impl From<&Budget> for Uncertainty {
    fn from(budget: &Budget) -> Self {
        let lines = budget.contributions.iter().map(|part| BudgetLine {
            source: part.source.clone(),
            standard_n: part.standard,
            dof: part.dof,
            distribution: part.distribution,
            sensitivity: part.sensitivity,
            provenance: part.provenance,
        });
        Self {
            budget: lines.collect(),
            combined_n: budget.combined(),
            effective_dof: Some(budget.effective_dof()).filter(|dof| dof.is_finite()),
            coverage_factor: budget.coverage_factor(),
            expanded_n: budget.expanded(),
        }
    }
}

/// Figures and verdict with the clamps that were discarded by hand put back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WithDiscarded {
    /// Over the counted and the discarded clamps.
    pub statistics: Option<Statistics>,
    /// Of the mean over them.
    pub uncertainty: Option<Uncertainty>,
    /// The verdict it would be.
    pub verdict: Option<Verdict>,
}
