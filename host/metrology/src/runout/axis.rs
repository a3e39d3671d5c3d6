//! The axis through two heights. In: eccentricity vectors with their heights. Out: offset at the nose and tilt.

use super::figures::Figures;
use super::harmonics::count;
use super::record::same_height;
use super::remarks::RunoutNote;
use super::result::{AxisFrom, AxisResult};
use super::reversal::SeparatedHeight;
use super::vector::{Vector, direction_deg, length_um};
use holdtrue_terms::vocabulary::At;

/// An axis against the axis of rotation: vector(z) = offset + tilt·z.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    /// At the nose face, µm.
    pub offset: Vector,
    /// µm per mm of height.
    pub tilt: Vector,
}

impl Axis {
    /// The line of least squares through vectors at two or more heights, in mm; `None` with fewer than two different
    /// heights. The difference is one of *vectors*: equal TIRs on opposite sides are a tilt.
    pub fn through(points: &[(f64, Vector)]) -> Option<Self> {
        let n = count(points.len());
        let middle_mm = points.iter().map(|(z, _)| z).sum::<f64>() / n;
        let mean = points.iter().map(|(_, v)| v).sum::<Vector>() / n;
        let spread_mm2: f64 = points.iter().map(|(z, _)| (z - middle_mm).powi(2)).sum();
        let first = points.first()?.0;
        if points
            .iter()
            .all(|(z, _)| same_height(Some(*z), Some(first)))
        {
            return None;
        }
        let tilt = points
            .iter()
            .map(|(z, v)| (v - mean) * (z - middle_mm))
            .sum::<Vector>()
            / spread_mm2;
        Some(Self {
            offset: mean - tilt * middle_mm,
            tilt,
        })
    }

    /// The vector carried to a height, µm: to the gauge line, or to where a limit holds.
    pub fn at(&self, height_mm: f64) -> Vector {
        self.offset + self.tilt * height_mm
    }

    fn to_result(self, from: AxisFrom, at: Option<At>) -> AxisResult {
        AxisResult {
            at_height_mm: 0.0,
            offset_um: length_um(self.offset),
            offset_direction_deg: direction_deg(self.offset),
            // µm per mm is below rounding a thousand times sooner than µm per m.
            tilt_um_per_m: length_um(self.tilt * 1000.0),
            tilt_direction_deg: direction_deg(self.tilt * 1000.0),
            from,
            at,
        }
    }
}

/// The axis of a check: through the spindle parts where there are two heights of them, else as read in one seating of
/// the bar, else along the wall. Wall and bar are never taken together: they are two surfaces.
pub fn of_check(
    figures: &[Figures],
    separated: &[SeparatedHeight],
) -> (Option<AxisResult>, Option<RunoutNote>) {
    let parts: Vec<(f64, Vector)> = separated
        .iter()
        .filter_map(|height| Some((height.place.height_mm?, height.once.stays)))
        .collect();
    if let Some(axis) = Axis::through(&parts) {
        return (
            Some(axis.to_result(AxisFrom::SpindlePart, separated[0].place.at)),
            None,
        );
    }
    let as_read = figures
        .iter()
        .filter(|f| f.place.may_be_bar())
        .chain(figures.iter().filter(|f| f.place.at == Some(At::Wall)))
        .find_map(|f| Some((f, in_one_seating(figures, f)?)));
    match as_read {
        Some((f, axis)) => (
            Some(axis.to_result(AxisFrom::AsRead, f.place.at)),
            Some(note_on(f)),
        ),
        None => (None, why_none(figures)),
    }
}

/// The axis through all heights read in the same seating as this plane.
pub fn in_one_seating(figures: &[Figures], seating: &Figures) -> Option<Axis> {
    let points: Vec<(f64, Vector)> = figures
        .iter()
        .filter(|f| f.place.same_seating(&seating.place))
        .filter_map(|f| Some((f.place.height_mm?, f.eccentricity()?)))
        .collect();
    Axis::through(&points)
}

fn note_on(figures: &Figures) -> RunoutNote {
    match figures.place.at {
        Some(At::Wall) => RunoutNote::AxisOfWall,
        _ => RunoutNote::AxisAsRead,
    }
}

fn why_none(figures: &[Figures]) -> Option<RunoutNote> {
    let radial = figures
        .iter()
        .filter(|f| f.place.at.is_none_or(At::is_radial) && f.eccentricity().is_some())
        .filter_map(|f| Some((f.place, f.place.height_mm?)));
    let heights: Vec<_> = radial.collect();
    let several = heights
        .iter()
        .any(|(_, z)| !same_height(Some(*z), heights.first().map(|(_, first)| *first)));
    several.then_some(RunoutNote::NoAxis)
}

#[cfg(test)]
mod tests {
    use super::super::vector::vector;
    use super::*;

    #[test]
    fn one_height_is_no_axis() {
        assert_eq!(Axis::through(&[]), None);
        assert_eq!(
            Axis::through(&[(20.0, vector(1.0, 0.0)), (20.0, vector(3.0, 0.0))]),
            None
        );
    }

    #[test]
    fn equal_runout_on_opposite_sides_is_a_tilt() {
        let axis = Axis::through(&[(0.0, vector(3.0, 0.0)), (300.0, vector(3.0, 180.0))])
            .expect("two heights");
        let result = axis.to_result(AxisFrom::AsRead, Some(At::Bar));
        assert!((result.tilt_um_per_m - 20.0).abs() < 1e-9);
        assert!((result.tilt_direction_deg.expect("tilted") - 180.0).abs() < 1e-9);
        assert!(length_um(axis.at(150.0)) < 1e-9);
    }

    #[test]
    fn three_heights_on_a_line_give_that_line() {
        let line = |z: f64| vector(2.0, 40.0) + vector(0.03, 100.0) * z;
        let heights = [-20.0, 40.0, 300.0].map(|z| (z, line(z)));
        let axis = Axis::through(&heights).expect("three heights");
        assert!((axis.offset - vector(2.0, 40.0)).norm() < 1e-12);
        assert!((axis.at(200.0) - line(200.0)).norm() < 1e-12);
    }
}
