//! Plane vectors. In: a length and a direction. Out: the vector, and its direction again where it has one.

use nalgebra::Complex;

/// A vector across the spindle's axis, µm: real part towards 0°, imaginary part towards 90°.
pub type Vector = Complex<f64>;

/// Shorter than this is the rounding of the arithmetic, not a reading: no indicator resolves a
/// femtometre.
pub const NEGLIGIBLE_UM: f64 = 1e-9;

/// The vector of this length and direction.
pub fn vector(length_um: f64, direction_deg: f64) -> Vector {
    Vector::from_polar(length_um, direction_deg.to_radians())
}

/// e^{i·angle}: turns a vector by `angle_deg`.
pub fn turn_by(angle_deg: f64) -> Vector {
    vector(1.0, angle_deg)
}

/// Length, with what is only rounding taken as zero.
pub fn length_um(vector: Vector) -> f64 {
    let length = vector.norm();
    if length > NEGLIGIBLE_UM { length } else { 0.0 }
}

/// Direction in [0, 360)°; `None` for a zero vector.
pub fn direction_deg(vector: Vector) -> Option<f64> {
    (vector.norm() > NEGLIGIBLE_UM).then(|| within_turn_deg(vector.arg().to_degrees()))
}

/// The same direction in [0, 360)°.
pub fn within_turn_deg(angle_deg: f64) -> f64 {
    let angle = angle_deg.rem_euclid(360.0);
    if angle < 360.0 { angle } else { 0.0 }
}

/// Angles closer than this are one position: a millionth of a degree is nobody's division.
pub const SAME_ANGLE_DEG: f64 = 1e-6;

/// Whether two angles name the same position round the turn.
pub fn same_angle(a_deg: f64, b_deg: f64) -> bool {
    let apart = within_turn_deg(a_deg - b_deg);
    apart.min(360.0 - apart) <= SAME_ANGLE_DEG
}

/// The different positions among these angles, in [0, 360)° and ascending.
pub fn distinct_angles_deg(angles_deg: &[f64]) -> Vec<f64> {
    let mut distinct: Vec<f64> = angles_deg.iter().copied().map(within_turn_deg).collect();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup_by(|a, b| same_angle(*a, *b));
    if distinct.len() > 1 && same_angle(distinct[0], distinct[distinct.len() - 1]) {
        distinct.pop();
    }
    distinct
}

/// A count as a number to reckon with; readings of one check stay far below 2⁵².
#[expect(
    clippy::cast_precision_loss,
    reason = "counts of readings are far below 2^52"
)]
pub fn count(n: usize) -> f64 {
    n as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_direction_is_within_the_turn_or_absent() {
        assert_eq!(direction_deg(Vector::new(0.0, 0.0)), None);
        assert_eq!(direction_deg(Vector::new(1.0, -1e-30)), Some(0.0));
        let down = direction_deg(Vector::new(0.0, -2.0)).expect("has a direction");
        assert!((down - 270.0).abs() < 1e-12);
    }

    #[test]
    fn positions_are_counted_round_the_turn() {
        assert_eq!(distinct_angles_deg(&[0.0, 360.0, 90.0, 90.0]).len(), 2);
        assert_eq!(distinct_angles_deg(&[359.999_999_9, 0.0]).len(), 1);
        assert_eq!(distinct_angles_deg(&[]).len(), 0);
    }
}
