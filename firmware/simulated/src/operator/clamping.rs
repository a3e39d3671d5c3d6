//! In: the seed, and what the gauge's light says. Out: when the operator presses clamp and unclamp, how the gauge sits, and
//! what goes wrong.
//!
//! An operator who sees the light obeys it: clamps when it says so, holds until it says unclamp. One who sees none, or
//! waits in vain, goes by his own sense of time.

use holdtrue_protocol::message::Signal;

use crate::random::{Range, Stream, Topic, range};

/// From the start of the stream to the first press: gauge held free.
const FIRST_PRESS_S: Range = range(1.6, 2.4);
/// From the closed gripper to pressing unclamp, by one's own sense; the screen asks for about five seconds.
const DWELL_S: Range = range(5.0, 5.8);
/// A clamp taken too short.
const SHORT_DWELL_S: Range = range(0.3, 0.9);
/// From unclamp to the next clamp: lift out, look, turn, put in again.
const PAUSE_S: Range = range(2.6, 4.2);
/// Blinks have to be counted before anybody acts on them.
const REACTION_S: Range = range(0.4, 1.2);
/// Who waits this long for a light to change looks up, and goes on: before a clamp, and in one.
const PATIENCE_FREE_S: f64 = 8.0;
const PATIENCE_HELD_S: f64 = 75.0;
/// How long the gauge rests on the push-out before it is lifted off.
const REST_S: Range = range(0.08, 0.35);
/// … and how long where it is held up against it on purpose.
const HOLD_UP_S: Range = range(0.28, 0.45);
/// Share of clamps that end too soon, and of clamps that are knocked.
const SHORT_SHARE: f64 = 0.04;
const BUMP_SHARE: f64 = 0.06;
/// A knock: how long and how hard, as a share of the grip force.
const BUMP_LENGTH_S: Range = range(0.06, 0.5);
const BUMP_SHARE_OF_FORCE: Range = range(0.04, 0.18);

/// How the operator takes one clamp. Times in seconds from the first sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClampOrder {
    /// Counts from 0.
    pub number: u64,
    /// Clamp is pressed.
    pub clamp_s: f64,
    /// Unclamp is pressed by one's own sense.
    pub unclamp_s: f64,
    /// The gauge is lifted off the push-out this long after it let go.
    pub rest_s: f64,
    /// How far the gauge is turned in the spindle, degrees.
    pub orientation_deg: f64,
    /// A knock during the hold, if any.
    pub bump: Option<Bump>,
    /// The operator lets go too soon, whatever the light says.
    pub short: bool,
    /// From seeing the light say unclamp to pressing it.
    reaction_s: f64,
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
    /// The gauge is turned by this much from clamp to clamp, degrees. Keyed shanks: half a turn.
    pub turned_by_deg: f64,
    /// He does what the light says; `false`: he never looks at it and goes by his own sense of time.
    pub follows_light: bool,
    /// He holds the gauge up against the gripper after unclamping: something reads its end face.
    pub holds_up: bool,
}

impl Default for ClampHabits {
    fn default() -> Self {
        Self {
            mishaps: true,
            turned_by_deg: 180.0,
            follows_light: true,
            holds_up: false,
        }
    }
}

/// What the operator does next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Press {
    /// Clamp, like this.
    Clamp(ClampOrder),
    /// Unclamp, at this time.
    Unclamp(f64),
}

/// Clamps one after the other, without end.
#[derive(Clone, Debug)]
pub struct Clamping {
    seed: u64,
    habits: ClampHabits,
    closing_s: f64,
    number: u64,
    /// The gauge is in the spindle like this; none: it is free.
    held: Option<ClampOrder>,
    free_from_s: f64,
    /// What the light says, and since when.
    light: Option<(Signal, f64)>,
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
            held: None,
            free_from_s: 0.0,
            light: None,
        }
    }

    /// The light says something else from now on.
    pub fn see(&mut self, signal: Signal, at_s: f64) {
        self.light = (signal != Signal::Off && self.habits.follows_light).then_some((signal, at_s));
    }

    /// What is pressed by now, if anything. Time only goes forward.
    pub fn press(&mut self, now_s: f64) -> Option<Press> {
        match self.held {
            None => {
                let order = self.order();
                let at_s = self.clamps_at_s(&order);
                (now_s >= at_s).then(|| {
                    let order = order.moved_to(at_s);
                    self.held = Some(order);
                    self.number += 1;
                    Press::Clamp(order)
                })
            }
            Some(order) => {
                let at_s = self.unclamps_at_s(&order);
                (now_s >= at_s).then(|| {
                    self.held = None;
                    self.free_from_s = at_s;
                    Press::Unclamp(at_s)
                })
            }
        }
    }

    /// When clamp is pressed next, by what the light says now; none while clamped.
    pub fn due_s(&self) -> Option<f64> {
        self.held.is_none().then(|| self.clamps_at_s(&self.order()))
    }

    fn clamps_at_s(&self, order: &ClampOrder) -> f64 {
        match self.light {
            None => order.clamp_s,
            Some((Signal::Wait, since_s)) => order.clamp_s.max(since_s + order.reaction_s),
            Some(_) => order.clamp_s + PATIENCE_FREE_S,
        }
    }

    fn unclamps_at_s(&self, order: &ClampOrder) -> f64 {
        match self.light {
            _ if order.short => order.unclamp_s,
            None => order.unclamp_s,
            Some((Signal::Unclamp, since_s)) if since_s > order.clamp_s => {
                since_s + order.reaction_s
            }
            Some(_) => order.clamp_s + PATIENCE_HELD_S,
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
        let dwell = if short { SHORT_DWELL_S } else { DWELL_S };
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
            reaction_s: draw.within(REACTION_S),
        }
        .held_up(self.habits.holds_up, draw.within(HOLD_UP_S))
    }
}

impl ClampOrder {
    fn held_up(self, on_purpose: bool, hold_up_s: f64) -> Self {
        Self {
            rest_s: if on_purpose { hold_up_s } else { self.rest_s },
            ..self
        }
    }

    /// The same, pressed later.
    fn moved_to(self, clamp_s: f64) -> Self {
        let later_s = clamp_s - self.clamp_s;
        let moved = |bump: Bump| Bump {
            at_s: bump.at_s + later_s,
            ..bump
        };
        Self {
            clamp_s,
            unclamp_s: self.unclamp_s + later_s,
            bump: self.bump.map(moved),
            ..self
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

#[cfg(test)]
mod tests {
    use super::*;

    /// So many clamps by an operator who sees no light, with the time each was let go.
    fn unlit(seed: u64, habits: ClampHabits, count: usize) -> Vec<(ClampOrder, f64)> {
        let mut operator = Clamping::new(seed, habits, 0.4);
        let mut done = Vec::new();
        let mut order = None;
        for ms in 0.. {
            match operator.press(f64::from(ms) * 0.01) {
                Some(Press::Clamp(pressed)) => order = Some(pressed),
                Some(Press::Unclamp(at_s)) => done.extend(order.map(|order| (order, at_s))),
                None => {}
            }
            if done.len() == count {
                break;
            }
        }
        done
    }

    #[test]
    fn orders_follow_each_other_with_room_for_a_zero() {
        let clamps = unlit(3, ClampHabits::default(), 200);
        for pair in clamps.windows(2) {
            assert!(pair[0].1 > pair[0].0.clamp_s);
            assert!(pair[1].0.clamp_s - pair[0].1 >= 2.6);
        }
    }

    #[test]
    fn mishaps_happen_now_and_then_and_only_when_allowed() {
        let clumsy = unlit(9, ClampHabits::default(), 500);
        let short = clumsy.iter().filter(|(order, _)| order.short).count();
        let bumped = clumsy.iter().filter(|(order, _)| order.bump.is_some());
        let bumped = bumped.count();
        assert!((5..50).contains(&short), "{short}");
        assert!((10..60).contains(&bumped), "{bumped}");
        let habits = ClampHabits {
            mishaps: false,
            ..ClampHabits::default()
        };
        let careful = unlit(9, habits, 500);
        assert!(
            careful
                .into_iter()
                .all(|(order, _)| !order.short && order.bump.is_none())
        );
    }

    #[test]
    fn a_bump_lies_inside_its_hold() {
        for (order, unclamp_s) in unlit(4, ClampHabits::default(), 1000) {
            let Some(bump) = order.bump else { continue };
            assert!(bump.at_s > order.clamp_s && bump.at_s + bump.length_s < unclamp_s);
        }
    }

    #[test]
    fn who_does_not_look_at_the_light_clamps_as_if_it_were_dark() {
        let habits = ClampHabits {
            follows_light: false,
            ..ClampHabits::default()
        };
        let mut operator = Clamping::new(3, habits, 0.4);
        operator.see(Signal::Unclamp, 0.1);
        let pressed = (0..1000).find_map(|at| operator.press(f64::from(at) * 0.01));
        let (order, _) = unlit(3, ClampHabits::default(), 1)[0];
        assert_eq!(pressed, Some(Press::Clamp(order)));
    }

    #[test]
    fn the_light_is_obeyed_and_not_waited_for_for_ever() {
        let habits = ClampHabits {
            mishaps: false,
            ..ClampHabits::default()
        };
        let mut operator = Clamping::new(5, habits, 0.4);
        operator.see(Signal::Unclamp, 0.5);
        assert_eq!(operator.press(4.0), None, "the light does not say clamp");
        operator.see(Signal::Wait, 5.0);
        let pressed = (500..700).find_map(|at| operator.press(f64::from(at) * 0.01));
        let Some(Press::Clamp(order)) = pressed else {
            panic!("{pressed:?}")
        };
        assert!((5.4..6.2).contains(&order.clamp_s), "{order:?}");
        operator.see(Signal::Hold, 6.5);
        assert_eq!(operator.press(30.0), None, "held as long as it says hold");
        operator.see(Signal::Unclamp, 36.0);
        let Some(Press::Unclamp(at_s)) = operator.press(38.0) else {
            panic!("it says unclamp")
        };
        assert!((36.4..37.2).contains(&at_s), "{at_s}");
        // Nothing changes any more: he goes on by himself.
        let again = operator.press(at_s + 15.0);
        assert!(matches!(again, Some(Press::Clamp(_))), "{again:?}");
        let let_go = operator.press(at_s + 15.0 + PATIENCE_HELD_S + 1.0);
        assert!(matches!(let_go, Some(Press::Unclamp(_))), "{let_go:?}");
    }
}
