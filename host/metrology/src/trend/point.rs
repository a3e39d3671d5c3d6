//! A figure as a trend takes it: when, how large, how sure, by which calibration.

/// The figure of one visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// When: days, hours or tool changes.
    pub x: f64,
    /// The figure.
    pub value: f64,
    /// Standard uncertainty that no other visit shares; none where it is not known.
    pub own: Option<f64>,
    /// Degrees of freedom of that; may be infinite.
    pub own_dof: f64,
    /// Standard uncertainty that all visits of one calibration share; none where it is not known.
    pub shared: Option<f64>,
    /// Which calibration; visits with the same number share theirs.
    pub calibration: usize,
    /// Something happened before this visit that made another spindle of it.
    pub repair_before: bool,
}
