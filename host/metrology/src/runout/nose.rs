//! What a taper allows. In: its family, form and size. Out: how deep its wall goes, at which depths it is read, and how
//! a test bar may be turned in it.

use holdtrue_terms::taper::{Family, Interface};
use serde::{Deserialize, Serialize};

/// How the drive keys let a test bar go in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BarTurns {
    /// Nobody said.
    #[default]
    NotKnown,
    /// In one position only: bar and spindle cannot be told apart.
    OneWay,
    /// Half turns.
    HalfTurns,
    /// No keys: any angle.
    Any,
}

impl BarTurns {
    /// By the keys of the taper: two alike across the nose of a 7/24 (ISO 7388, from memory); on HSK forms A and C two
    /// of different depth, on E and F none (DIN 69893, from memory). Not known here of forms B and D.
    pub fn of(interface: Interface) -> Self {
        match interface.family {
            Family::SteepTaper => Self::HalfTurns,
            Family::HollowTaper('A' | 'C') => Self::OneWay,
            Family::HollowTaper('E' | 'F') => Self::Any,
            Family::HollowTaper(_) => Self::NotKnown,
        }
    }

    /// Orientations of the bar, seating by seating, degrees: two seatings in each orientation, since one each says
    /// nothing about the seat (common practice).
    pub fn seatings_deg(self) -> &'static [f64] {
        match self {
            Self::OneWay => &[0.0, 0.0],
            Self::NotKnown | Self::HalfTurns | Self::Any => &[0.0, 180.0, 0.0, 180.0],
        }
    }
}

/// Number of a 7/24 taper, diameter at its gauge line (published, ISO 297) and of the bore behind it (from memory, ISO
/// 297), mm.
const STEEP_MM: [(u32, f64, f64); 4] = [
    (30, 31.75, 17.4),
    (40, 44.45, 25.3),
    (45, 57.15, 32.4),
    (50, 69.85, 39.6),
];
/// Length of the taper's wall from the mouth inward, mm; none for a taper not listed.
///
/// 7/24: what its diameters leave room for, (D − d)·24/7 (computed). HSK: as long as the shank, half the width of the
/// flange of its taper's size (from memory, DIN 69893-1).
pub fn wall_length_mm(interface: Interface) -> Option<f64> {
    match interface.family {
        Family::SteepTaper => STEEP_MM
            .iter()
            .find(|row| row.0 == interface.size)
            .map(|&(_, wide_mm, narrow_mm)| (wide_mm - narrow_mm) * 24.0 / 7.0),
        Family::HollowTaper(_) => Some((f64::from(interface.taper_size()) / 2.0).floor()),
    }
}

/// Wear sits at both ends: near the mouth a wall is read so far inside, mm (common practice).
const NEAR_MOUTH_MM: f64 = 8.0;
/// Of a short wall this share at most.
const NEAR_MOUTH_SHARE: f64 = 0.25;
/// Share of the wall an indicator reaches clear of gripper and bore (common practice).
const REACH_SHARE: f64 = 2.0 / 3.0;
/// Two depths nearer to each other than this are one, mm.
const APART_MM: f64 = 5.0;

/// How deep an indicator usually reaches on a wall of that length, mm.
pub fn usual_reach_mm(wall_mm: f64) -> f64 {
    (REACH_SHARE * wall_mm).floor()
}

/// Depths at which a wall is read, mm inside the mouth: near it, and as deep as the indicator reaches. One where the
/// two would lie side by side or nobody knows the deeper one.
pub fn depths_mm(wall_mm: Option<f64>, deepest_mm: Option<f64>) -> Vec<f64> {
    let shortest = wall_mm.map_or(NEAR_MOUTH_MM, |wall_mm| {
        (NEAR_MOUTH_SHARE * wall_mm).floor()
    });
    let near_mm = NEAR_MOUTH_MM
        .min(shortest)
        .min(deepest_mm.unwrap_or(f64::INFINITY));
    let deep_mm = deepest_mm.filter(|deep_mm| deep_mm - near_mm >= APART_MM);
    [Some(near_mm), deep_mm].into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wall(interface: &str) -> Option<f64> {
        wall_length_mm(interface.parse().unwrap())
    }

    #[test]
    fn a_wall_is_as_long_as_its_diameters_leave_room_for() {
        // Shanks no. 30 to 50 are 47.8, 65.4, 82.8 and 101.8 mm long (from memory, ISO 7388 and MAS 403): the wall
        // that takes them is a little longer.
        for (interface, shank_mm) in [
            ("7/24-30", 47.8),
            ("7/24-40", 65.4),
            ("7/24-45", 82.8),
            ("7/24-50", 101.8),
        ] {
            let wall_mm = wall(interface).unwrap();
            assert!(
                (0.0..3.0).contains(&(wall_mm - shank_mm)),
                "{interface}: {wall_mm}"
            );
        }
        assert_eq!(wall("HSK-A63"), Some(31.0));
        assert_eq!(wall("HSK-F63"), Some(25.0), "the taper of a 50");
    }

    #[test]
    fn every_depth_read_lies_on_the_wall() {
        for interface in [
            "7/24-30", "7/24-40", "7/24-45", "7/24-50", "HSK-A25", "HSK-A32", "HSK-C40", "HSK-E50",
            "HSK-A63", "HSK-B63", "HSK-A100", "HSK-F80", "HSK-A160",
        ] {
            let wall_mm = wall(interface).unwrap();
            let depths = depths_mm(Some(wall_mm), Some(usual_reach_mm(wall_mm)));
            assert!(!depths.is_empty(), "{interface}");
            let inside = depths
                .iter()
                .all(|&depth| depth > 1.0 && depth < 0.75 * wall_mm);
            assert!(inside, "{interface}: {depths:?} of {wall_mm}");
        }
        assert_eq!(depths_mm(wall("7/24-40"), Some(43.0)), [8.0, 43.0]);
    }

    #[test]
    fn a_deeper_plane_is_read_only_where_it_is_known_and_apart() {
        assert_eq!(depths_mm(None, None), [8.0]);
        assert_eq!(depths_mm(None, Some(50.0)), [8.0, 50.0]);
        assert_eq!(depths_mm(Some(65.0), Some(10.0)), [8.0]);
        assert_eq!(depths_mm(Some(65.0), Some(6.0)), [6.0]);
    }

    #[test]
    fn keys_decide_how_a_bar_may_be_turned() {
        let turns = |interface: &str| BarTurns::of(interface.parse().unwrap());
        assert_eq!(turns("7/24-40"), BarTurns::HalfTurns);
        assert_eq!(turns("HSK-A63"), BarTurns::OneWay);
        assert_eq!(turns("HSK-C50"), BarTurns::OneWay);
        assert_eq!(turns("HSK-E40"), BarTurns::Any);
        assert_eq!(turns("HSK-F63"), BarTurns::Any);
        assert_eq!(turns("HSK-B63"), BarTurns::NotKnown);
        let seatings = BarTurns::OneWay.seatings_deg();
        assert!(seatings.iter().all(|&deg| deg == 0.0));
    }
}
