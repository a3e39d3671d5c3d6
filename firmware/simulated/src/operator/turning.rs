//! In: the way of turning, a seed, what the gauge's light shows. Out: how far the spindle is turned at any time, whether a
//! hand is on it, and whether a finger is on the button.
//!
//! Hands do not turn evenly: speed wanders, a position is missed by a degree, now and then one goes past it and
//! comes back. While the hand pushes, it also bends what it pushes.

use holdtrue_protocol::message::Signal;

use super::stepping::{Finger, Movement, Script, StepHabits, Stepping};
use crate::random::{Range, Stream, Topic, range};

/// How the spindle is turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// From position to position, `stops` in a turn: at the light's word without end, or in a rhythm of his own until he is
    /// back at the first. See [`stepping`](super::stepping).
    Stepped {
        /// Positions in one turn.
        stops: u16,
    },
    /// Turned by hand without stops, this many turns, whatever the light says.
    Free {
        /// Turns.
        turns: u16,
    },
}

/// Standing still at the start, so that the head comes to rest.
const FIRST_REST_S: Range = range(2.5, 3.5);
/// Standing still at a position.
const REST_S: Range = range(2.2, 3.2);
/// In his own rhythm he presses so long after he has come to stand; at the first position after the plane began.
const PRESS_S: Range = range(0.4, 0.9);
const FIRST_PRESS_S: Range = range(2.8, 3.4);
/// And so long he stands at the first one: the light has to tell him that the plane began.
const FIRST_STAND_S: Range = range(4.8, 5.6);
const FINGER_S: f64 = 0.12;
/// Turning from one position to the next.
const STEP_S: Range = range(0.7, 1.5);
/// Paper tape and eye: standard deviation of a position.
const POSITION_DEG: f64 = 1.0;
/// One goes past the mark and comes back: how often, how far.
const PAST_SHARE: f64 = 0.15;
const PAST_DEG: Range = range(2.0, 6.0);
/// Free turning: time for a turn, wander of the speed.
const TURN_S: Range = range(6.0, 10.0);
const WANDER: Range = range(0.01, 0.04);
/// Now and then the hand changes its hold and the spindle turns back a little.
const TURNED_BACK_SHARE: f64 = 0.1;
const TURNED_BACK_DEG: Range = range(3.0, 12.0);

/// Where the spindle is at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// How far the spindle has been turned from its first position, degrees; grows without end.
    pub angle_deg: f64,
    /// Whether a hand pushes.
    pub pushed: bool,
    /// Whether a finger is on the button.
    pub pressed: bool,
}

/// What is done in one plane. In a rhythm of his own all of it is known from the first moment; one who follows the light
/// decides as he goes.
#[derive(Clone, Debug)]
pub struct Turning {
    script: Script,
    stepping: Option<Stepping>,
    wander: f64,
    wander_rad: [f64; 2],
    even: bool,
    at: usize,
    finger: usize,
}

impl Turning {
    /// Turning `way` in plane number `plane` of a visit.
    pub fn new(seed: u64, plane: u64, way: Way, habits: StepHabits) -> Self {
        let mut draw = Stream::new(seed, Topic::Turning, plane);
        let wander = draw.within(WANDER);
        let tau = std::f64::consts::TAU;
        let wander_rad = [draw.within(range(0.0, tau)), draw.within(range(0.0, tau))];
        let mut script = Script::default();
        let mut stepping = None;
        match way {
            Way::Stepped { stops } if habits.follows_light => {
                stepping = Some(Stepping::new(seed, plane, stops, habits));
            }
            Way::Stepped { stops } => script.movements = steps(&mut draw, stops),
            Way::Free { turns } => script.movements = turns_by_hand(&mut draw, turns),
        }
        let even = matches!(way, Way::Free { .. });
        if habits.presses && !even && stepping.is_none() {
            script.fingers = presses(seed, plane, &script.movements);
        }
        Self {
            script,
            stepping,
            wander,
            wander_rad,
            even,
            at: 0,
            finger: 0,
        }
    }

    /// The light shows a signal from this time on.
    pub fn light_shows(&mut self, signal: Signal, at_s: f64) {
        if let Some(stepping) = &mut self.stepping {
            stepping.light_shows(signal, at_s);
        }
    }

    /// Where the spindle is. Time only goes forward.
    pub fn at(&mut self, at_s: f64) -> Turned {
        if let Some(stepping) = &mut self.stepping {
            stepping.decide(at_s, &mut self.script);
        }
        let pressed = self.pressed(at_s);
        while self
            .script
            .movements
            .get(self.at + 1)
            .is_some_and(|next| next.from_s <= at_s)
        {
            self.at += 1;
        }
        let Some(movement) = self.script.movements.get(self.at) else {
            return Turned {
                angle_deg: 0.0,
                pushed: false,
                pressed,
            };
        };
        let through = (at_s - movement.from_s) / (movement.to_s - movement.from_s);
        let shaped = if self.even {
            self.wandering(through.clamp(0.0, 1.0))
        } else {
            ease(through)
        };
        Turned {
            angle_deg: movement.from_deg + (movement.to_deg - movement.from_deg) * shaped,
            pushed: (0.0..1.0).contains(&through),
            pressed,
        }
    }

    fn pressed(&mut self, at_s: f64) -> bool {
        let fingers = &self.script.fingers;
        while fingers
            .get(self.finger)
            .is_some_and(|finger| finger.to_s <= at_s)
        {
            self.finger += 1;
        }
        fingers
            .get(self.finger)
            .is_some_and(|finger| finger.from_s <= at_s)
    }

    /// When the last movement known so far has ended.
    pub fn ends_s(&self) -> f64 {
        self.script
            .movements
            .last()
            .map_or(0.0, |movement| movement.to_s)
    }

    /// Presses of the button known so far, for tests.
    pub fn fingers(&self) -> &[Finger] {
        &self.script.fingers
    }

    /// Where and when the spindle stood still, as far as it is known, for tests: (from, to, angle).
    pub fn rests(&self) -> Vec<(f64, f64, f64)> {
        let mut rests = Vec::new();
        let mut from = (0.0, 0.0);
        for movement in &self.script.movements {
            if movement.from_s > from.0 {
                rests.push((from.0, movement.from_s, from.1));
            }
            from = (movement.to_s, movement.to_deg);
        }
        rests.push((from.0, f64::INFINITY, from.1));
        rests
    }

    /// Position along an even movement whose speed wanders by `wander` (relative) twice and about five times a pass.
    fn wandering(&self, through: f64) -> f64 {
        let tau = std::f64::consts::TAU;
        let wave = |cycles: f64, rad: f64| {
            (libm::sin(tau * cycles * through + rad) - libm::sin(rad)) / (tau * cycles)
        };
        let cycles = [2.0, 5.0];
        through
            + self.wander * wave(cycles[0], self.wander_rad[0])
            + self.wander * wave(cycles[1], self.wander_rad[1])
    }
}

fn ease(through: f64) -> f64 {
    let through = through.clamp(0.0, 1.0);
    through * through * (3.0 - 2.0 * through)
}

fn steps(draw: &mut Stream, stops: u16) -> Vec<Movement> {
    let mut movements = Vec::new();
    let mut at_s = draw.within(FIRST_STAND_S);
    let mut at_deg = 0.0;
    for stop in 1..=stops {
        let aim_deg = f64::from(stop) * 360.0 / f64::from(stops) + POSITION_DEG * draw.normal();
        let past_deg = if draw.happens(PAST_SHARE) {
            draw.within(PAST_DEG)
        } else {
            0.0
        };
        let there_s = at_s + draw.within(STEP_S);
        let reached_deg = aim_deg + past_deg;
        movements.push(Movement {
            from_s: at_s,
            to_s: there_s,
            from_deg: at_deg,
            to_deg: reached_deg,
        });
        at_s = there_s;
        if past_deg > 0.0 {
            let back_s = there_s + 0.6;
            movements.push(Movement {
                from_s: at_s,
                to_s: back_s,
                from_deg: reached_deg,
                to_deg: aim_deg,
            });
            at_s = back_s;
        }
        at_deg = aim_deg;
        at_s += draw.within(REST_S);
    }
    movements
}

/// One press at each position of a script, back at the first one included.
fn presses(seed: u64, plane: u64, movements: &[Movement]) -> Vec<Finger> {
    let mut draw = Stream::new(seed, Topic::Pressing, plane);
    let mut finger = |stands_s: f64, wait: Range| {
        let from_s = stands_s + draw.within(wait);
        Finger {
            from_s,
            to_s: from_s + FINGER_S,
        }
    };
    let mut fingers = vec![finger(0.0, FIRST_PRESS_S)];
    for (place, movement) in movements.iter().enumerate() {
        let goes_on = movements
            .get(place + 1)
            .is_some_and(|next| next.from_s <= movement.to_s);
        if !goes_on {
            fingers.push(finger(movement.to_s, PRESS_S));
        }
    }
    fingers
}

fn turns_by_hand(draw: &mut Stream, turns: u16) -> Vec<Movement> {
    let mut movements = Vec::new();
    let mut at_s = draw.within(FIRST_REST_S);
    // A little more than asked for, so that the last whole turn is whole.
    let total_deg = 360.0 * f64::from(turns) + draw.within(range(20.0, 60.0));
    let s_per_deg = draw.within(TURN_S) / 360.0;
    let mut go = |from_deg: f64, to_deg: f64| {
        let to_s = at_s + (to_deg - from_deg).abs() * s_per_deg;
        movements.push(Movement {
            from_s: at_s,
            to_s,
            from_deg,
            to_deg,
        });
        at_s = to_s;
    };
    if draw.happens(TURNED_BACK_SHARE) {
        let here_deg = total_deg * draw.within(range(0.2, 0.8));
        let back_deg = here_deg - draw.within(TURNED_BACK_DEG);
        go(0.0, here_deg);
        go(here_deg, back_deg);
        go(back_deg, total_deg);
    } else {
        go(0.0, total_deg);
    }
    movements
}

#[cfg(test)]
mod tests {
    use super::*;

    const OWN_RHYTHM: StepHabits = StepHabits {
        follows_light: false,
        presses: true,
        mishaps: true,
        presses_again: true,
        overlooks: 0.0,
    };

    #[test]
    fn steps_rest_near_their_positions_and_close_the_turn() {
        for seed in 0..50 {
            let turning = Turning::new(seed, 0, Way::Stepped { stops: 8 }, OWN_RHYTHM);
            let long: Vec<_> = turning
                .rests()
                .into_iter()
                .filter(|rest| rest.1 - rest.0 > 1.0)
                .collect();
            assert_eq!(long.len(), 9, "seed {seed}");
            for (stop, rest) in (0_u32..).zip(&long) {
                assert!(
                    (rest.2 - f64::from(stop) * 45.0).abs() < 6.0,
                    "seed {seed}: {rest:?}"
                );
            }
        }
    }

    #[test]
    fn free_turning_is_continuous_and_reaches_its_turns() {
        for seed in 0..50 {
            let mut turning = Turning::new(seed, 1, Way::Free { turns: 3 }, StepHabits::default());
            let end = turning.ends_s();
            let mut before = 0.0;
            let mut at_s = 0.0;
            while at_s < end + 1.0 {
                let angle = turning.at(at_s).angle_deg;
                assert!((angle - before).abs() < 1.0, "seed {seed} at {at_s}");
                before = angle;
                at_s += 0.01;
            }
            assert!(before >= 3.0 * 360.0, "seed {seed}: {before}");
        }
    }
}
