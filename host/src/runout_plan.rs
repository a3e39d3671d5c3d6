//! Which planes of a spindle are read, one after the other. In: options, or the usual round. Out: planes with what to do
//! at each.

use crate::args::runout::{AtWord, PlaceArgs, Way};
use holdtrue_metrology::runout::Place;
use serde::{Deserialize, Serialize};

/// Positions round a turn where nobody says how many: paper tape folded in eight.
pub const USUAL_STOPS: u32 = 8;
/// Depths on the wall of the taper, mm: near the mouth and as deep as a lever reaches.
const WALL_HEIGHTS_MM: [f64; 2] = [-8.0, -60.0];
/// Heights on the test bar, mm: near the nose and 300 mm out, where new machines are measured.
const BAR_HEIGHTS_MM: [f64; 2] = [20.0, 300.0];
/// Turned in the spindle from seating to seating, so that bar and spindle can be told apart, two seatings each.
const ORIENTATIONS_DEG: [f64; 4] = [0.0, 180.0, 0.0, 180.0];

/// A plane to be read.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PlannedPlane {
    /// Where.
    pub place: PlaceArgs,
    /// How the spindle is turned.
    pub way: Way,
}

/// The usual round: wall at two depths, then the bar at two heights in four seatings.
pub fn usual(way: Way) -> Vec<PlannedPlane> {
    let wall = WALL_HEIGHTS_MM.iter().map(|&height_mm| PlaceArgs {
        at: Some(AtWord::Wall),
        height_mm: Some(height_mm),
        ..PlaceArgs::default()
    });
    let bar = (1..)
        .zip(ORIENTATIONS_DEG)
        .flat_map(|(seating, orientation_deg)| {
            BAR_HEIGHTS_MM.iter().map(move |&height_mm| PlaceArgs {
                at: Some(AtWord::Bar),
                height_mm: Some(height_mm),
                seating: Some(seating),
                orientation_deg: Some(orientation_deg),
            })
        });
    wall.chain(bar)
        .map(|place| PlannedPlane { place, way })
        .collect()
}

impl PlannedPlane {
    /// Positions round the turn; none where it is turned without stopping.
    pub fn stops(&self) -> Option<u32> {
        let Way {
            stops,
            free,
            marked,
        } = self.way;
        if free || marked {
            None
        } else {
            Some(stops.unwrap_or(USUAL_STOPS))
        }
    }

    /// Where it is, as the analysis takes it.
    pub fn place(&self) -> Place {
        Place {
            at: self.place.at.map(Into::into),
            height_mm: self.place.height_mm,
            seating: self.place.seating,
            orientation_deg: self.place.orientation_deg,
        }
    }

    /// What to do before it is read.
    pub fn instruction(&self) -> String {
        let height = self.place.height_mm.map_or_else(String::new, |height_mm| {
            if height_mm < 0.0 {
                format!(", {:.0} mm inside the mouth", -height_mm)
            } else {
                format!(", {height_mm:.0} mm from the nose face")
            }
        });
        match self.place.at {
            Some(AtWord::Wall) => {
                format!("Indicator on the wall of the taper, square to it{height}.")
            }
            Some(AtWord::Face) => "Indicator on the face of the nose, along the axis.".to_owned(),
            Some(AtWord::Axial) => "Indicator on the end of the bar, along the axis.".to_owned(),
            Some(AtWord::Bar) | None => {
                let seating = self
                    .place
                    .seating
                    .map_or_else(String::new, |seating| format!(", seating {seating}"));
                let turned = match self.place.orientation_deg {
                    Some(angle_deg) => {
                        format!(", its mark {angle_deg:.0}° from the mark on the spindle")
                    }
                    None => String::new(),
                };
                format!(
                    "Test bar in{seating}{turned}: clamp it twice, wiped dry. Indicator on the bar{height}."
                )
            }
        }
    }
}

/// How a spindle is turned by hand: the first that can be had.
pub const TURNING: &str = "Turn at the nose or the drive keys, one direction, never by the bar: isolated and free; gear in \
neutral; by belt or motor pulley; brake released by the maker's procedure; else step by the control's orientation, hands \
clear. Divide the turn with paper tape round the nose.";
