//! In: the light as it is understood, and the habits of who stands at the spindle. Out: when he turns on to the next
//! position, how, and when he presses the button.
//!
//! | he has understood | he |
//! |---|---|
//! | turn | turns on to the next position, once for each time he has understood it, then presses there |
//! | hold | stands still, and presses if he has not yet pressed where he stands |
//! | taken, wait and all else | rests; a hold after it asks for another press |
//!
//! What he has decided he does, though the light may say something else by then. While he turns he looks at the spindle, not
//! at the light, and a turn shown anew while he does is for him the one he obeys. If nothing comes of a press he presses
//! again where he stands after some seconds, unless he is patient. He turns on without end: whoever leads him says when it
//! is enough.

use holdtrue_protocol::message::Signal;

use super::light::Watched;
use crate::random::{Range, Stream, Topic, range};

/// From understanding to beginning to turn.
const REACTION_S: Range = range(0.2, 0.6);
/// Now and then something comes between: how often, how long.
const LATE_SHARE: f64 = 0.05;
const LATE_S: Range = range(1.0, 4.0);
/// Turning from one position to the next.
const STEP_S: Range = range(0.7, 1.5);
/// Paper tape and eye: standard deviation of a position.
const POSITION_DEG: f64 = 1.0;
/// One goes past the mark and comes back: how often, how far, how long it takes.
const PAST_SHARE: f64 = 0.15;
const PAST_DEG: Range = range(2.0, 6.0);
const BACK_S: f64 = 0.6;
/// From standing still, or from understanding that he is to press, to the press.
const MOMENT_S: Range = range(0.4, 1.5);
/// How long the finger stays on the button.
const FINGER_S: Range = range(0.08, 0.2);
/// A finger that presses twice: how often, and how soon after it let go.
const TWICE_SHARE: f64 = 0.02;
const TWICE_S: Range = range(0.12, 0.3);
/// Nothing came of it: he presses again after this.
const AGAIN_S: f64 = 6.0;
/// Steps of one plane have random numbers of their own.
const STEPS_A_PLANE: u64 = 1 << 16;

/// What the operator does in a stepped plane besides turning.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepHabits {
    /// He does what the light says, and stands still while it is dark. Otherwise he goes round once, from position to
    /// position in a rhythm of his own.
    pub follows_light: bool,
    /// He presses the button where he stands; `false`: somebody else says when to read, or a rhythm does.
    pub presses: bool,
    /// He is late now and then, or presses twice; `false` gives a faultless operator. A position missed by a degree, or
    /// passed by and come back to, is no mishap.
    pub mishaps: bool,
    /// He presses again where he stands when nothing comes of a press; `false`: he waits for the light, however long.
    pub presses_again: bool,
    /// Share of turn signals he overlooks though he has seen them: he stays where he is.
    pub overlooks: f64,
}

impl Default for StepHabits {
    fn default() -> Self {
        Self {
            follows_light: true,
            presses: true,
            mishaps: true,
            presses_again: true,
            overlooks: 0.0,
        }
    }
}

/// A movement: from one angle to another, with an even start and stop, then rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Movement {
    pub from_s: f64,
    pub to_s: f64,
    pub from_deg: f64,
    pub to_deg: f64,
}

/// A finger on the button.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finger {
    /// Put on it.
    pub from_s: f64,
    /// Taken off.
    pub to_s: f64,
}

/// What is done in a plane, as far as it is known.
#[derive(Clone, Debug, Default)]
pub(super) struct Script {
    pub movements: Vec<Movement>,
    pub fingers: Vec<Finger>,
}

/// How he does one step: drawn as a whole, so that one thing never shifts another.
struct Manner {
    reaction_s: f64,
    overlooked: f64,
    off_deg: f64,
    past_deg: Option<f64>,
    step_s: f64,
    moment_s: f64,
    finger_s: f64,
    twice_s: Option<f64>,
}

/// Somebody who steps at the light's word.
#[derive(Clone, Debug)]
pub(super) struct Stepping {
    seed: u64,
    plane: u64,
    pitch_deg: f64,
    habits: StepHabits,
    light: Watched,
    answered: u32,
    step: u32,
    stands_at_deg: f64,
    stands_from_s: f64,
    turns_s: Option<f64>,
    presses_s: Option<f64>,
    pressed: bool,
}

impl Stepping {
    pub fn new(seed: u64, plane: u64, stops: u16, habits: StepHabits) -> Self {
        Self {
            seed,
            plane,
            pitch_deg: 360.0 / f64::from(stops),
            habits,
            light: Watched::new(),
            answered: 0,
            step: 0,
            stands_at_deg: 0.0,
            stands_from_s: 0.0,
            turns_s: None,
            presses_s: None,
            pressed: false,
        }
    }

    /// The light shows a signal from this time on.
    pub fn light_shows(&mut self, signal: Signal, at_s: f64) {
        self.light.shows(signal, at_s);
    }

    /// What he does from this moment on.
    pub fn decide(&mut self, now_s: f64, script: &mut Script) {
        let Some(understood) = self.light.look(now_s) else {
            return;
        };
        if now_s < self.stands_from_s {
            return;
        }
        if let Some(turns_s) = self.turns_s {
            if now_s >= turns_s {
                self.turn(now_s, script);
            }
            return;
        }
        if understood.number != self.answered {
            self.answered = understood.number;
            self.answer(understood.signal, now_s);
        }
        if self.presses_s.is_some_and(|at_s| now_s >= at_s) {
            self.press(now_s, script);
        }
    }

    fn answer(&mut self, signal: Signal, now_s: f64) {
        self.presses_s = None;
        match signal {
            Signal::Turn => {
                let manner = self.manner(self.step + 1);
                if manner.overlooked >= self.habits.overlooks {
                    self.turns_s = Some(now_s + manner.reaction_s);
                }
            }
            Signal::Hold if self.habits.presses => {
                self.presses_s = if self.pressed {
                    self.again_s(now_s)
                } else {
                    Some(now_s + self.manner(self.step).moment_s)
                };
            }
            Signal::Hold => {}
            _ => self.pressed = false,
        }
    }

    fn turn(&mut self, now_s: f64, script: &mut Script) {
        self.step += 1;
        let manner = self.manner(self.step);
        let aim_deg = f64::from(self.step) * self.pitch_deg + manner.off_deg;
        let reached_deg = aim_deg + manner.past_deg.unwrap_or(0.0);
        let there_s = now_s + manner.step_s;
        script.movements.push(Movement {
            from_s: now_s,
            to_s: there_s,
            from_deg: self.stands_at_deg,
            to_deg: reached_deg,
        });
        self.stands_from_s = there_s;
        if manner.past_deg.is_some() {
            self.stands_from_s = there_s + BACK_S;
            script.movements.push(Movement {
                from_s: there_s,
                to_s: self.stands_from_s,
                from_deg: reached_deg,
                to_deg: aim_deg,
            });
        }
        self.stands_at_deg = aim_deg;
        self.light.look_away_until(self.stands_from_s);
        self.turns_s = None;
        self.pressed = false;
        self.presses_s = self
            .habits
            .presses
            .then_some(self.stands_from_s + manner.moment_s);
    }

    fn press(&mut self, now_s: f64, script: &mut Script) {
        let manner = self.manner(self.step);
        let lets_go_s = now_s + manner.finger_s;
        script.fingers.push(Finger {
            from_s: now_s,
            to_s: lets_go_s,
        });
        if let Some(twice_s) = manner.twice_s.filter(|_| !self.pressed) {
            script.fingers.push(Finger {
                from_s: lets_go_s + twice_s,
                to_s: lets_go_s + twice_s + manner.finger_s,
            });
        }
        self.pressed = true;
        self.presses_s = self.again_s(now_s);
    }

    /// When he presses again, should nothing come of it.
    fn again_s(&self, now_s: f64) -> Option<f64> {
        self.habits.presses_again.then_some(now_s + AGAIN_S)
    }

    fn manner(&self, step: u32) -> Manner {
        let number = self.plane * STEPS_A_PLANE + u64::from(step);
        let mut draw = Stream::new(self.seed, Topic::Stepping, number);
        let reaction_s = draw.within(REACTION_S);
        let (late, late_s) = (draw.happens(LATE_SHARE), draw.within(LATE_S));
        let overlooked = draw.unit();
        let off_deg = POSITION_DEG * draw.normal();
        let (past, past_deg) = (draw.happens(PAST_SHARE), draw.within(PAST_DEG));
        let step_s = draw.within(STEP_S);
        let moment_s = draw.within(MOMENT_S);
        let finger_s = draw.within(FINGER_S);
        let (twice, twice_s) = (draw.happens(TWICE_SHARE), draw.within(TWICE_S));
        let mishaps = self.habits.mishaps;
        Manner {
            reaction_s: reaction_s + if late && mishaps { late_s } else { 0.0 },
            overlooked,
            off_deg,
            past_deg: past.then_some(past_deg),
            step_s,
            moment_s,
            finger_s,
            twice_s: (twice && mishaps).then_some(twice_s),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of 4000 steps: how many were begun late, and how many pressed twice.
    fn mishaps(habits: StepHabits) -> (usize, usize) {
        let steps: Vec<Manner> = (0..500)
            .flat_map(|seed| {
                let operator = Stepping::new(seed, 3, 8, habits);
                (1..=8).map(move |step| operator.manner(step))
            })
            .collect();
        let late = steps.iter().filter(|step| step.reaction_s > 0.6).count();
        let twice = steps.iter().filter(|step| step.twice_s.is_some());
        (late, twice.count())
    }

    #[test]
    fn mishaps_happen_now_and_then_and_only_where_they_are_allowed() {
        let (late, twice) = mishaps(StepHabits::default());
        assert!((150..250).contains(&late), "{late}");
        assert!((50..110).contains(&twice), "{twice}");
        let faultless = StepHabits {
            mishaps: false,
            ..StepHabits::default()
        };
        assert_eq!(mishaps(faultless), (0, 0));
    }

    #[test]
    fn every_step_has_random_numbers_of_its_own() {
        let operator = Stepping::new(1, 0, 8, StepHabits::default());
        let aims: Vec<f64> = (1..=100)
            .map(|step| operator.manner(step).off_deg)
            .collect();
        assert!(aims.windows(2).all(|pair| (pair[0] - pair[1]).abs() > 1e-9));
        assert!(aims.iter().all(|off_deg| off_deg.abs() < 6.0));
    }
}
