//! What a runout check found, as it is stored and printed: the field names are the JSON contract.

pub use super::method::Method;
use super::record::Place;
use super::remarks::{PlaneNote, RunoutNote};
use crate::decision::Figure;
use crate::hint::Hint;
use crate::known;
use crate::uncertainty::{Budget, Distribution};
use crate::verdict::Verdict;
use holdtrue_terms::vocabulary::{At, Provenance, State};
use serde::{Deserialize, Serialize};

/// Version of the JSON of a runout check.
pub const SCHEMA: u32 = 1;

/// Version of the rules: raised when the same record would give other figures.
pub const ANALYSIS_VERSION: u32 = 5;

/// A runout check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunoutResult {
    /// Always "runout".
    pub check: String,
    /// `SCHEMA`.
    pub schema: u32,
    /// As found or as left.
    pub state: Option<State>,
    /// Every plane.
    pub planes: Vec<PlaneResult>,
    /// The axis through two heights.
    pub axis: Option<AxisResult>,
    /// Spindle and bar, told apart, height by height.
    pub reversal: Vec<ReversalResult>,
    /// Mean TIR of four seatings 90° apart, height by height.
    pub four_seatings: Vec<FourSeatingsResult>,
    /// Standard deviation of one component of the eccentricity vector between seatings, µm.
    pub seat_repeatability_um: Option<f64>,
    /// Uncertainty of the figure nearest its limit, or of the largest TIR; `None` without an indicator's uncertainty.
    pub uncertainty: Option<UncertaintyResult>,
    /// The decision, where a limit is set.
    pub verdict: Option<Verdict>,
    /// Likely causes; of a result read back those known here.
    #[serde(deserialize_with = "known::all")]
    pub hints: Vec<Hint>,
    /// Remarks; of a result read back those known here.
    #[serde(rename = "note_values", default, deserialize_with = "known::all")]
    pub notes: Vec<RunoutNote>,
}

/// One plane.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlaneResult {
    /// Where it is.
    #[serde(flatten)]
    pub place: Place,
    /// How it was read.
    pub method: Method,
    /// Different positions of a stepped turn.
    pub stops: Option<usize>,
    /// Largest less smallest reading, fitted drift removed, closure excluded, µm.
    pub tir_um: Option<f64>,
    /// The same without removing the drift, µm.
    pub tir_as_read_um: Option<f64>,
    /// Amplitude once per turn, µm.
    pub eccentricity_um: Option<f64>,
    /// Standard uncertainty of the eccentricity from the scatter of the readings alone, µm.
    pub eccentricity_standard_um: Option<f64>,
    /// What that scatter alone would show as eccentricity on average, µm.
    pub eccentricity_noise_floor_um: Option<f64>,
    /// Turn of the spindle at which the high spot faces the indicator, degrees.
    pub direction_deg: Option<f64>,
    /// Harmonics from 1 on.
    pub harmonics: Vec<HarmonicResult>,
    /// Root mean square of what mean, drift and eccentricity leave, µm.
    pub residual_rms_um: Option<f64>,
    /// Drift, µm.
    pub drift_um: Option<f64>,
    /// What repeats every turn, without the eccentricity, peak to valley, µm.
    pub synchronous_um: Option<f64>,
    /// What does not repeat: largest spread over turns at one angle, µm.
    pub asynchronous_um: Option<f64>,
    /// Remarks; of a result read back those known here.
    #[serde(rename = "note_values", default, deserialize_with = "known::all")]
    pub notes: Vec<PlaneNote>,
}

/// One harmonic: amplitude·cos(order·θ − phase).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct HarmonicResult {
    /// How often per turn.
    pub order: u32,
    /// Amplitude, µm.
    pub amplitude_um: f64,
    /// Phase, degrees; `None` for none at all.
    pub phase_deg: Option<f64>,
}

/// What an axis was computed from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AxisFrom {
    /// The spindle parts of several orientations.
    SpindlePart,
    /// The vectors as read in one seating.
    AsRead,
}

/// An axis against the axis of rotation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AxisResult {
    /// Height of the offset, mm: 0, the nose face.
    pub at_height_mm: f64,
    /// Offset there, µm.
    pub offset_um: f64,
    /// Its direction, degrees.
    pub offset_direction_deg: Option<f64>,
    /// Tilt, µm per m of height.
    pub tilt_um_per_m: f64,
    /// Its direction, degrees.
    pub tilt_direction_deg: Option<f64>,
    /// From spindle parts or as read.
    pub from: AxisFrom,
    /// The surface whose axis it is.
    pub at: Option<At>,
}

/// Spindle and bar at one height.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ReversalResult {
    /// From the nose face outward, mm.
    pub height_mm: Option<f64>,
    /// Different orientations of the bar in the spindle.
    pub orientations: usize,
    /// Eccentricity that stays with the spindle, µm.
    pub spindle_eccentricity_um: f64,
    /// Its direction from the spindle's mark, degrees.
    pub spindle_direction_deg: Option<f64>,
    /// Eccentricity that follows the bar, µm.
    pub bar_eccentricity_um: f64,
    /// Its direction from the bar's mark, degrees.
    pub bar_direction_deg: Option<f64>,
    /// Standard uncertainty of a component of the spindle part from seats and readings, µm.
    pub spindle_standard_um: f64,
    /// Whether the bar part may as well be the seat: one seating in each orientation.
    pub bar_or_seat: bool,
    /// Ovality (twice per turn) of the spindle, µm; `None`: bar or spindle, not told apart.
    pub spindle_ovality_um: Option<f64>,
    /// Ovality of the bar, µm.
    pub bar_ovality_um: Option<f64>,
}

/// Four seatings at one height.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FourSeatingsResult {
    /// From the nose face outward, mm.
    pub height_mm: Option<f64>,
    /// Mean of the TIRs, µm.
    pub mean_tir_um: f64,
}

/// An uncertainty budget, in µm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct UncertaintyResult {
    /// The figure it belongs to.
    pub figure: Figure,
    /// Its height, mm.
    pub height_mm: Option<f64>,
    /// The contributions.
    pub budget: Vec<BudgetLine>,
    /// Combined standard uncertainty, µm.
    pub combined_um: f64,
    /// Effective degrees of freedom; `None`: infinite.
    pub effective_dof: Option<f64>,
    /// Two-sided 95 % factor.
    pub coverage_factor: f64,
    /// Expanded uncertainty, µm.
    pub expanded_um: f64,
}

/// One contribution, in µm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BudgetLine {
    /// What it comes from.
    pub source: String,
    /// Standard uncertainty it gives the figure, µm.
    pub standard_um: f64,
    /// Degrees of freedom; `None`: infinite.
    pub dof: Option<f64>,
    /// The shape it was taken to have.
    pub distribution: Distribution,
    /// Change of the figure per unit of the source.
    pub sensitivity: f64,
    /// Where its size comes from.
    pub provenance: Provenance,
}

impl UncertaintyResult {
    /// States a budget.
    pub fn of(figure: Figure, height_mm: Option<f64>, budget: &Budget) -> Self {
        let effective_dof = budget.effective_dof();
        Self {
            figure,
            height_mm,
            budget: budget
                .contributions
                .iter()
                .map(|c| BudgetLine {
                    source: c.source.clone(),
                    standard_um: c.standard,
                    dof: c.dof,
                    distribution: c.distribution,
                    sensitivity: c.sensitivity,
                    provenance: c.provenance,
                })
                .collect(),
            combined_um: budget.combined(),
            effective_dof: effective_dof.is_finite().then_some(effective_dof),
            coverage_factor: budget.coverage_factor(),
            expanded_um: budget.expanded(),
        }
    }
}
