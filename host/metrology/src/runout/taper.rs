//! The taper's geometry. In: the kind of taper and how the indicator stood. Out: what a reading on the wall is worth.

use serde::{Deserialize, Serialize};

/// Tapers by their cone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Taper {
    /// 7/24: 7 mm of diameter in 24 mm of length (ISO 297, ISO 7388).
    SevenTwentyFour,
    /// HSK: 1 mm of diameter in 10 mm of length (ISO 12164).
    Hsk,
}

impl Taper {
    /// Angle between wall and axis, degrees: atan(7/48) or atan(1/20). The ratio is one of diameter to length: half of
    /// it is the tangent.
    pub fn half_angle_deg(self) -> f64 {
        match self {
            Self::SevenTwentyFour => (7.0_f64 / 48.0).atan().to_degrees(),
            Self::Hsk => (1.0_f64 / 20.0).atan().to_degrees(),
        }
    }

    /// Motion across the axis per motion square to the wall: 1/cos(half angle).
    pub fn radial_per_square_to_wall(self) -> f64 {
        1.0 / self.half_angle_deg().to_radians().cos()
    }

    /// Reading square to the wall per axial motion: sin(half angle).
    pub fn square_to_wall_per_axial(self) -> f64 {
        self.half_angle_deg().to_radians().sin()
    }
}

/// The kind of indicator, and how its lever stood.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Lever {
    /// No lever: a plunger or probe reads along its axis.
    #[default]
    None,
    /// A lever at this known angle to the surface, degrees.
    At(f64),
    /// A lever set by eye, within 15° of the surface.
    ByEye,
}

/// A lever set by eye is within this of the surface, degrees (common practice).
pub const BY_EYE_DEG: f64 = 15.0;

impl Lever {
    /// Motion of the surface per reading: a lever at angle α reads 1/cos α times as much, 3.5 % more at 15°, 15 % at
    /// 30°.
    pub fn motion_per_reading(self) -> f64 {
        match self {
            Self::None | Self::ByEye => 1.0,
            Self::At(angle_deg) => angle_deg.to_radians().cos(),
        }
    }

    /// Relative half width of what a lever set by eye may add.
    pub fn relative_half_width(self) -> f64 {
        match self {
            Self::None | Self::At(_) => 0.0,
            Self::ByEye => 1.0 / BY_EYE_DEG.to_radians().cos() - 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_half_angles_are_those_printed_in_catalogues() {
        // 8° 17′ 50″ is printed for the 7/24 taper (published, ANSI B5.50 in a tool-holder catalogue); 2° 52′ for 1:10.
        let printed =
            |degrees: f64, minutes: f64, seconds: f64| degrees + minutes / 60.0 + seconds / 3600.0;
        assert!(
            (Taper::SevenTwentyFour.half_angle_deg() - printed(8.0, 17.0, 50.0)).abs()
                < 0.5 / 3600.0
        );
        assert!((Taper::Hsk.half_angle_deg() - printed(2.0, 52.0, 0.0)).abs() < 0.5 / 60.0);
    }

    #[test]
    fn a_lever_at_an_angle_reads_high() {
        assert!((1.0 / Lever::At(15.0).motion_per_reading() - 1.035).abs() < 5e-4);
        assert!((1.0 / Lever::At(30.0).motion_per_reading() - 1.155).abs() < 5e-4);
        assert!((Lever::ByEye.relative_half_width() - 0.035).abs() < 5e-4);
    }

    #[test]
    fn axial_float_shows_on_a_steep_wall() {
        assert!((Taper::SevenTwentyFour.square_to_wall_per_axial() - 0.144).abs() < 5e-4);
        assert!((Taper::SevenTwentyFour.radial_per_square_to_wall() - 1.0106).abs() < 5e-5);
    }
}
