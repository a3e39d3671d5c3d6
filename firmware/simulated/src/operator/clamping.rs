//! In: the seed. Out: when the operator presses clamp and unclamp, how the gauge sits, and what goes wrong.

use crate::random::{Range, Stream, Topic, range};

/// From the start of the stream to the first press: gauge held free.
const FIRST_PRESS_S: Range = range(1.6, 2.4);
/// From the closed gripper to pressing unclamp; the screen asks for about five seconds.
const DWELL_S: Range = range(5.0, 5.8);
/// A clamp taken too short.
const SHORT_DWELL_S: Range = range(0.3, 0.9);
/// The one long hold of a check.
const LONG_DWELL_S: Range = range(30.0, 31.5);
/// From unclamp to the next clamp: lift out, look, turn, put in again.
const PAUSE_S: Range = range(2.6, 4.2);
/// How long the gauge rests on the push-out before it is lifted off.
const REST_S: Range = range(0.08, 0.35);
/// Share of clamps that end too soon, and of clamps that are knocked.
const SHORT_SHARE: f64 = 0.04;
const BUMP_SHARE: f64 = 0.06;
/// A knock: how long and how hard, as a share of the grip force.
const BUMP_LENGTH_S: Range = range(0.06, 0.5);
const BUMP_SHARE_OF_FORCE: Range = range(0.04, 0.18);

/// What the operator does with one clamp. Times in seconds from the first sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClampOrder {
    /// Counts from 0.
    pub number: u64,
    /// Clamp is pressed.
    pub clamp_s: f64,
    /// Unclamp is pressed.
    pub unclamp_s: f64,
    /// The gauge is lifted off the push-out this long after it let go.
    pub rest_s: f64,
    /// How far the gauge is turned in the spindle, degrees.
    pub orientation_deg: f64,
    /// A knock during the hold, if any.
    pub bump: Option<Bump>,
    /// The operator let go too soon.
    pub short: bool,
}

/// Somebody knocks the gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bump {
    /// When it begins, from the first sample.
    pub at_s: f64,
    /// How long.
    pub length_s: f64,
    /// Extra pull as a share of the grip force; negative pushes.
    pub share: f64,
}

/// How the clamps are to be taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClampHabits {
    /// Knocks and short clamps happen now and then; `false` gives a faultless operator.
    pub mishaps: bool,
    /// Number (from 0) of the clamp held for half a minute.
    pub long_hold: Option<u64>,
    /// The gauge is turned by this much from clamp to clamp, degrees. Keyed shanks: half a turn.
    pub turned_by_deg: f64,
}

impl Default for ClampHabits {
    fn default() -> Self {
        Self {
            mishaps: true,
            long_hold: None,
            turned_by_deg: 180.0,
        }
    }
}

/// Clamps one after the other, without end.
#[derive(Clone, Debug)]
pub struct Clamping {
    seed: u64,
    habits: ClampHabits,
    closing_s: f64,
    number: u64,
    free_from_s: f64,
}

impl Clamping {
    /// The operator of this seed, at a spindle that takes `closing_s` from the button to full force: people
    /// count the hold from there, not from the button.
    pub fn new(seed: u64, habits: ClampHabits, closing_s: f64) -> Self {
        Self {
            seed,
            habits,
            closing_s,
            number: 0,
            free_from_s: 0.0,
        }
    }

    fn order(&self) -> ClampOrder {
        let mut draw = Stream::new(self.seed, Topic::Clamping, self.number);
        let wait = if self.number == 0 {
            FIRST_PRESS_S
        } else {
            PAUSE_S
        };
        let clamp_s = self.free_from_s + draw.within(wait);
        let short = draw.happens(SHORT_SHARE) && self.habits.mishaps;
        let bumped = draw.happens(BUMP_SHARE) && self.habits.mishaps && !short;
        let dwell = if short {
            SHORT_DWELL_S
        } else if self.habits.long_hold == Some(self.number) {
            LONG_DWELL_S
        } else {
            DWELL_S
        };
        let closed_s = clamp_s + self.closing_s;
        let unclamp_s = closed_s + draw.within(dwell);
        let rest_s = draw.within(REST_S);
        let bump = bumped.then(|| bump(&mut draw, closed_s, unclamp_s));
        let turned = self.habits.turned_by_deg * self.number as f64;
        ClampOrder {
            number: self.number,
            clamp_s,
            unclamp_s,
            rest_s,
            orientation_deg: turned % 360.0,
            bump,
            short,
        }
    }
}

fn bump(draw: &mut Stream, closed_s: f64, unclamp_s: f64) -> Bump {
    let share = draw.within(BUMP_SHARE_OF_FORCE);
    let share = if draw.happens(0.5) { share } else { -share };
    let length_s = draw.within(BUMP_LENGTH_S);
    let at_s = draw.within(range(closed_s + 0.3, unclamp_s - length_s - 0.2));
    Bump {
        at_s,
        length_s,
        share,
    }
}

impl Iterator for Clamping {
    type Item = ClampOrder;

    fn next(&mut self) -> Option<ClampOrder> {
        let order = self.order();
        self.number += 1;
        self.free_from_s = order.unclamp_s;
        Some(order)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_follow_each_other_with_room_for_a_zero() {
        let orders: Vec<ClampOrder> = Clamping::new(3, ClampHabits::default(), 0.4)
            .take(500)
            .collect();
        for pair in orders.windows(2) {
            assert!(pair[0].unclamp_s > pair[0].clamp_s);
            assert!(pair[1].clamp_s - pair[0].unclamp_s >= 2.6);
        }
    }

    #[test]
    fn mishaps_happen_now_and_then_and_only_when_allowed() {
        let clumsy: Vec<ClampOrder> = Clamping::new(9, ClampHabits::default(), 0.4)
            .take(1000)
            .collect();
        let short = clumsy.iter().filter(|order| order.short).count();
        let bumped = clumsy.iter().filter(|order| order.bump.is_some()).count();
        assert!((10..100).contains(&short), "{short}");
        assert!((20..120).contains(&bumped), "{bumped}");
        let habits = ClampHabits {
            mishaps: false,
            ..ClampHabits::default()
        };
        let careful = Clamping::new(9, habits, 0.4).take(1000);
        assert!(
            careful
                .into_iter()
                .all(|order| !order.short && order.bump.is_none())
        );
    }

    #[test]
    fn a_bump_lies_inside_its_hold() {
        for order in Clamping::new(4, ClampHabits::default(), 0.4).take(2000) {
            let Some(bump) = order.bump else { continue };
            assert!(bump.at_s > order.clamp_s && bump.at_s + bump.length_s < order.unclamp_s);
        }
    }
}
