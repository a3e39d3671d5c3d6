//! What was read at a calibration of a force gauge, and what is known besides.

use serde::{Deserialize, Serialize};

/// Whether the load was reached by loading or by unloading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// Loading.
    Up,
    /// Unloading.
    Down,
}

/// One reading under a known load.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// Number of the run, in the order they were taken.
    pub run: u32,
    /// Loading or unloading.
    pub direction: Direction,
    /// Load by the reference, N; 0 with nothing on the gauge.
    pub load_n: f64,
    /// Reading of the gauge, counts.
    pub reading_counts: f64,
    /// How far the gauge was turned about its axis in this run, degrees; `None`: not recorded.
    pub position_deg: Option<f64>,
}

/// A preload that was recorded as one: to the highest load, before the first run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Preload {
    /// Load by the reference, N.
    pub load_n: f64,
    /// How long it was held, s; `None`: not recorded.
    pub held_s: Option<f64>,
    /// Reading of the gauge, counts; `None`: not recorded. One that is not that of the load was no preload to it.
    pub reading_counts: Option<f64>,
}

/// What is known about the calibration besides its readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CalibrationSetup {
    /// Expanded uncertainty (k = 2) of the reference, % of the load; `None`: not stated.
    pub reference_expanded_percent: Option<f64>,
    /// Smallest step of the gauge's reading, counts.
    pub resolution_counts: f64,
    /// Preloads recorded as such; runs straight to the highest load count as well.
    pub preloads: Vec<Preload>,
    /// How long each preload was held, s, where the preloads do not say it themselves.
    pub preload_dwell_s: Option<f64>,
    /// Whether the gauge was loaded through its own knob and shank.
    pub through_own_knob_and_shank: bool,
    /// Lowest and highest degree of the curve that may be chosen; alike to ask for one.
    pub degrees: [i32; 2],
}

impl Default for CalibrationSetup {
    fn default() -> Self {
        Self {
            reference_expanded_percent: None,
            resolution_counts: 1.0,
            preloads: Vec::new(),
            preload_dwell_s: None,
            through_own_knob_and_shank: false,
            degrees: [1, 2],
        }
    }
}

/// One reading less the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    /// The run.
    pub run: u32,
    /// The load, N.
    pub load_n: f64,
    /// Reading less curve, counts.
    pub residual_counts: f64,
    /// The same as a load, N.
    pub residual_n: f64,
}
