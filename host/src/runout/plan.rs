//! Which planes of a spindle are read, one after the other. In: options, or the usual round as the taper allows it. Out:
//! planes with what to do at each.

use crate::runout::arguments::{PlaceArgs, Way};
use holdtrue_metrology::runout::nose::{BarTurns, depths_mm, usual_reach_mm, wall_length_mm};
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::At;

/// Positions round a turn where nobody says how many: paper tape folded in eight.
pub const USUAL_STOPS: u32 = 8;
/// Heights on the test bar, mm: near the nose and 300 mm out, where new machines are measured.
const BAR_HEIGHTS_MM: [f64; 2] = [20.0, 300.0];

/// A plane to be read.
#[derive(Clone, Debug)]
pub struct PlannedPlane {
    /// Where.
    pub place: PlaceArgs,
    /// How the spindle is turned.
    pub way: Way,
}

/// What the taper allows.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Nose {
    /// Length of the wall, mm, where it is known.
    pub wall_mm: Option<f64>,
    /// How deep the indicator reaches, mm inside the mouth.
    pub deepest_mm: Option<f64>,
    /// How the bar may be turned in it.
    pub turns: BarTurns,
}

impl Nose {
    /// Of this taper, or of one nobody named.
    pub fn of(taper: Option<Interface>) -> Self {
        let wall_mm = taper.and_then(wall_length_mm);
        Self {
            wall_mm,
            deepest_mm: wall_mm.map(usual_reach_mm),
            turns: taper.map_or(BarTurns::NotKnown, BarTurns::of),
        }
    }
}

/// The usual round: the wall near the mouth and as deep as the indicator reaches, then the bar at two heights in every
/// seating.
pub fn usual(way: Way, nose: &Nose) -> Vec<PlannedPlane> {
    let wall = depths_mm(nose.wall_mm, nose.deepest_mm)
        .into_iter()
        .map(|depth_mm| PlaceArgs {
            at: Some(At::Wall),
            height_mm: Some(-depth_mm),
            ..PlaceArgs::default()
        });
    let seatings = (1..).zip(nose.turns.seatings_deg());
    let bar = seatings.flat_map(|(seating, &orientation_deg)| {
        BAR_HEIGHTS_MM.iter().map(move |&height_mm| PlaceArgs {
            at: Some(At::Bar),
            height_mm: Some(height_mm),
            seating: Some(seating),
            orientation_deg: Some(orientation_deg),
        })
    });
    wall.chain(bar)
        .map(|place| PlannedPlane { place, way })
        .collect()
}

/// How often the bar is seated in a plan of several planes.
pub fn seatings(plan: &[PlannedPlane]) -> Option<u32> {
    let seatings = plan.iter().filter_map(|plane| plane.place.seating);
    seatings.max().filter(|_| plan.len() > 1)
}

impl PlannedPlane {
    /// Its place in a few words; `seatings`: how often the bar is seated in all, where that is known.
    pub fn named(&self, seatings: Option<u32>) -> String {
        let height = self
            .place
            .height_mm
            .map_or_else(String::new, |mm| match mm {
                inside if inside < 0.0 => format!(" {} mm inside the mouth", -inside),
                outside => format!(" {outside} mm from the nose"),
            });
        let mut named = match self.place.at {
            Some(At::Wall) => format!("wall{height}"),
            Some(At::Face) => "face of the nose".to_owned(),
            Some(At::Axial) => "end of the bar, along the axis".to_owned(),
            Some(At::Bar) | None => format!("bar{height}"),
        };
        if let Some(seating) = self.place.seating {
            let of = seatings.map_or_else(String::new, |all| format!(" of {all}"));
            named.push_str(&format!(" · seating {seating}{of}"));
        }
        if let Some(deg) = self.place.orientation_deg {
            named.push_str(&format!(", bar at {deg:.0}°"));
        }
        named
    }

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

    /// Whether the bar is in the taper while it is read.
    pub fn is_on_bar(&self) -> bool {
        matches!(self.place.at, Some(At::Bar) | None)
    }

    /// Whether the bar sits for it as it sat for this one.
    fn keeps_seat_of(&self, before: &Self) -> bool {
        let seat = |plane: &Self| (plane.place.seating, plane.place.orientation_deg);
        self.is_on_bar() && before.is_on_bar() && seat(self) == seat(before)
    }

    /// What the machine has to be live for before it is read, after `before`; none where the bar stays as it is.
    pub fn clamping(&self, before: Option<&Self>) -> Option<String> {
        let had_bar = before.is_some_and(Self::is_on_bar);
        if !self.is_on_bar() {
            return had_bar.then(|| "unclamp, take the bar out".to_owned());
        }
        if before.is_some_and(|before| self.keeps_seat_of(before)) {
            return None;
        }
        let to = self
            .place
            .orientation_deg
            .map_or_else(String::new, |deg| format!(" to {deg:.0}°"));
        let turned = had_bar
            && before.and_then(|before| before.place.orientation_deg) != self.place.orientation_deg;
        Some(match (had_bar, turned) {
            (false, _) => {
                let at = to.replacen(" to ", " at ", 1);
                format!("unclamp, put the bar in{at}, clamp it twice")
            }
            (true, true) => format!("unclamp, turn the bar{to}, clamp it twice"),
            (true, false) => {
                let back = to.replacen(" to ", " back at ", 1);
                format!("unclamp, take the bar out, put it{back} in anew, clamp it twice")
            }
        })
    }

    /// What to do before it is read, after `before`.
    pub fn instruction(&self, before: Option<&Self>) -> String {
        let height = self.place.height_mm.map_or_else(String::new, |height_mm| {
            if height_mm < 0.0 {
                format!("{} mm inside the mouth", -height_mm)
            } else {
                format!("{height_mm} mm from the nose face")
            }
        });
        let at_height = if height.is_empty() {
            String::new()
        } else {
            format!(", {height}")
        };
        match self.place.at {
            Some(At::Wall) => {
                format!("Indicator on the wall of the taper, square to it{at_height}.")
            }
            Some(At::Face) => "Indicator on the face of the nose, along the axis.".to_owned(),
            Some(At::Axial) => "Indicator on the end of the bar, along the axis.".to_owned(),
            Some(At::Bar) | None if before.is_some_and(|before| self.keeps_seat_of(before)) => {
                format!("Leave the bar in, move the indicator to {height}.")
            }
            Some(At::Bar) | None => {
                let seating = self
                    .place
                    .seating
                    .map_or_else(String::new, |seating| format!(", seating {seating}"));
                let turned = self.place.orientation_deg.map_or_else(String::new, |deg| {
                    format!(", its mark {deg:.0}° from the mark on the spindle")
                });
                format!("Test bar in{seating}{turned}. Indicator on the bar{at_height}.")
            }
        }
    }
}

/// How a spindle is turned by hand: the first that can be had.
pub const TURNING: &str = "Turn by hand at the nose or the drive keys, one direction, never by the bar. The first that can be \
had: isolated and free; gear in neutral; by belt or motor pulley; brake released by the maker's procedure. If it cannot be \
turned while isolated, leave it: not examined. Divide the turn with paper tape round the nose.";

#[cfg(test)]
mod tests {
    use super::*;

    fn round(taper: &str) -> Vec<PlannedPlane> {
        usual(Way::default(), &Nose::of(Some(taper.parse().unwrap())))
    }

    /// What is asked for before each plane: live for what, then what is done with the indicator.
    fn steps(plan: &[PlannedPlane]) -> Vec<(Option<String>, String)> {
        (0..plan.len())
            .map(|at| {
                let before = at.checked_sub(1).map(|before| &plan[before]);
                (plan[at].clamping(before), plan[at].instruction(before))
            })
            .collect()
    }

    #[test]
    fn the_bar_is_clamped_once_a_seating_and_left_in_for_its_second_height() {
        let plan = round("7/24-40");
        let steps = steps(&plan);
        assert_eq!(plan.len(), 10);
        let live: Vec<usize> = (0..10).filter(|&at| steps[at].0.is_some()).collect();
        assert_eq!(live, [2, 4, 6, 8]);
        assert!(steps[1].1.contains("43 mm inside the mouth"), "{steps:?}");
        assert!(!steps[1].1.contains("bar"), "{steps:?}");
        for at in [3, 5, 7, 9] {
            assert_eq!(
                steps[at].1,
                "Leave the bar in, move the indicator to 300 mm from the nose face."
            );
        }
        assert_eq!(
            steps[4].0.as_deref(),
            Some("unclamp, turn the bar to 180°, clamp it twice")
        );
    }

    #[test]
    fn a_bar_that_goes_in_one_way_is_seated_twice_that_way() {
        let plan = round("HSK-A63");
        let steps = steps(&plan);
        assert_eq!(plan.len(), 6);
        assert!(plan.iter().all(|plane| plane.place.height_mm > Some(-25.0)));
        assert!(
            plan.iter()
                .all(|plane| plane.place.orientation_deg.is_none_or(|deg| deg == 0.0))
        );
        assert_eq!(
            steps[4].0.as_deref(),
            Some("unclamp, take the bar out, put it back at 0° in anew, clamp it twice")
        );
    }

    #[test]
    fn the_bar_comes_out_before_the_wall_is_read() {
        let plan = round("7/24-50");
        let live = plan[0].clamping(plan.last());
        assert_eq!(live.as_deref(), Some("unclamp, take the bar out"));
    }
}
