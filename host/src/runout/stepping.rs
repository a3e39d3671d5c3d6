//! In: readings of an indicator, and when somebody said "now", or the beat of a rhythm. Out: what to do: read this
//! position here, or lead on to this stage. Which position is read is never told from the readings.

use crate::runout::guidance::{Gone, Stage, Turn};
use holdtrue_metrology::runout::mistake::Mistake;
use holdtrue_metrology::runout::positions::Doubt;
use holdtrue_metrology::runout::rest::{AtRest, RestWatch, mean_between};
use holdtrue_metrology::runout::{Passing, Stop};

/// A second word this soon after a reading, or after another word, is the same hand's: nobody turns a spindle on and stops it
/// faster, and a key that is held down, or leant on, says it many times a second.
const SAME_PRESS_S: f64 = 0.7;
/// Nobody sees that it stands still and says so sooner than this after it does: a quick reaction is a quarter of a second.
const SEES_S: f64 = 0.3;
/// Who waits this long for rest is told why.
const PATIENCE_S: f64 = 3.0;
/// And again after this long.
const AGAIN_S: f64 = 10.0;
/// So long the light says that a reading is taken before it asks for the next: a long light needs time to be seen.
const TAKEN_LIGHT_S: f64 = 0.8;
/// A button pressed so soon after a pause began was pressed by a hand that was on its way.
const ON_ITS_WAY_S: f64 = 2.0;
/// Share of the rhythm for turning; the longer rest is for holding still.
const TURNING_SHARE: f64 = 0.4;
/// What to do.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// What the person is to do changes.
    Lead(Stage),
    /// The reading of this position; one more than there are is the reading back at the first.
    Read(u32, AtRest),
}

/// What is waited for.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Waiting {
    /// Somebody says "now".
    Word,
    /// The indicator comes to rest.
    Rest {
        /// Said, or the end of a hold.
        since_s: f64,
        /// Nothing from before this counts.
        after_s: f64,
        /// When that it still moves is said next.
        told_s: f64,
    },
    /// In a rhythm: the spindle is turned, from the moment the light says so.
    Turning { from_s: f64 },
    /// In a rhythm: it is held still.
    Holding { from_s: f64 },
}

/// One stepped plane on its way.
pub struct Stepping {
    positions: u32,
    rhythm_s: Option<f64>,
    watch: RestWatch,
    readings: Vec<Passing>,
    taken: Vec<AtRest>,
    waiting: Waiting,
    now_s: f64,
    /// When somebody last said "now", read or not.
    said_s: Option<f64>,
    /// The light shows what it was last asked to: who presses the gauge's button has seen it.
    seen: bool,
    /// When the light asks to turn on.
    turn_light_s: Option<f64>,
    /// Since when nothing is read, until somebody goes on.
    paused_s: Option<f64>,
}

impl Stepping {
    /// So many positions round the turn, in a rhythm of so many seconds where one is told, by an indicator that shows
    /// steps of `step_um`.
    pub fn new(positions: u32, rhythm_s: Option<f64>, step_um: f64) -> Self {
        Self {
            positions,
            rhythm_s,
            watch: RestWatch::new(step_um),
            readings: Vec::new(),
            taken: Vec::new(),
            waiting: rhythm_s.map_or(Waiting::Word, |_| Waiting::Holding { from_s: 0.0 }),
            now_s: 0.0,
            said_s: None,
            seen: false,
            turn_light_s: None,
            paused_s: None,
        }
    }

    /// How it is turned.
    pub fn turn(&self) -> Turn {
        Turn::Stepped {
            positions: self.positions,
            rhythm_s: self.rhythm_s,
        }
    }

    /// How far the turn or the hold of a rhythm is.
    pub fn gone(&self) -> Gone {
        let (from_s, lasts_s) = match self.waiting {
            _ if self.paused_s.is_some() => return Gone::default(),
            Waiting::Turning { from_s } => (from_s, self.turning_s()),
            Waiting::Holding { from_s } => (from_s, self.holding_s()),
            Waiting::Word | Waiting::Rest { .. } => return Gone::default(),
        };
        Gone::of(self.now_s - from_s, lasts_s)
    }

    /// Readings taken so far, µm.
    pub fn taken_um(&self) -> Vec<f64> {
        self.taken.iter().map(|rest| rest.reading_um).collect()
    }

    /// Whether all positions and the one back at the first are read.
    pub fn is_done(&self) -> bool {
        self.position() > self.positions
    }

    /// Positions read so far, which is the next one's number from 0.
    fn position(&self) -> u32 {
        u32::try_from(self.taken.len()).unwrap_or(u32::MAX)
    }

    /// Takes the next reading of the indicator. `lit`: the light shows by now what it was last asked to.
    pub fn push(&mut self, reading: Passing, lit: bool) -> Vec<Act> {
        self.readings.push(reading);
        self.now_s = reading.time_s;
        self.seen |= lit;
        let is_more = self.watch.push(reading.time_s, reading.reading_um);
        if !lit {
            // What the hands are told begins when they can see it.
            self.begin_anew();
        }
        if !is_more || self.is_done() || self.paused_s.is_some() {
            return Vec::new();
        }
        match self.waiting {
            Waiting::Word => {
                let due = self.turn_light_s.take_if(|at_s| *at_s <= self.now_s);
                due.map(|_| Act::Lead(Stage::TurnOn)).into_iter().collect()
            }
            Waiting::Turning { from_s } if self.now_s >= from_s + self.turning_s() => {
                self.waiting = Waiting::Holding { from_s: self.now_s };
                vec![Act::Lead(Stage::Hold)]
            }
            Waiting::Holding { from_s } if self.now_s >= from_s + self.holding_s() => {
                self.waiting = Waiting::Rest {
                    since_s: self.now_s,
                    after_s: from_s,
                    told_s: self.now_s + PATIENCE_S,
                };
                self.look()
            }
            Waiting::Rest { .. } => self.look(),
            Waiting::Turning { .. } | Waiting::Holding { .. } => Vec::new(),
        }
    }

    /// Stops the rhythm; where each position is read at somebody's word nothing runs that could be stopped.
    pub fn pause(&mut self) -> Vec<Act> {
        if self.rhythm_s.is_none() || self.paused_s.is_some() || self.is_done() {
            return Vec::new();
        }
        self.paused_s = Some(self.now_s);
        vec![Act::Lead(Stage::Paused)]
    }

    /// Takes the rhythm up again with the position it was stopped at: there is time to turn to it.
    fn go_on(&mut self) -> Vec<Act> {
        self.paused_s = None;
        self.waiting = Waiting::Turning { from_s: self.now_s };
        vec![Act::Lead(Stage::GoingOn {
            position: self.position(),
        })]
    }

    fn begin_anew(&mut self) {
        match &mut self.waiting {
            Waiting::Turning { from_s } | Waiting::Holding { from_s } => *from_s = self.now_s,
            Waiting::Word if !self.seen => {
                let taken_s = self.now_s + TAKEN_LIGHT_S;
                self.turn_light_s = self.turn_light_s.map(|_| taken_s);
            }
            Waiting::Word | Waiting::Rest { .. } => {}
        }
    }

    fn turning_s(&self) -> f64 {
        TURNING_SHARE * self.rhythm_s.unwrap_or_default()
    }

    fn holding_s(&self) -> f64 {
        (1.0 - TURNING_SHARE) * self.rhythm_s.unwrap_or_default()
    }

    /// Somebody said "now": with the gauge's button at this time of the stream, or else with its newest reading. A button
    /// pressed before the light had answered the last press is no new one.
    pub fn now(&mut self, said_s: Option<f64>) -> Vec<Act> {
        if let Some(paused_s) = self.paused_s {
            let is_meant = said_s.is_none_or(|at_s| at_s > paused_s + ON_ITS_WAY_S);
            return if is_meant { self.go_on() } else { Vec::new() };
        }
        let at_s = said_s.unwrap_or(self.now_s);
        let last_s = self.taken.last().map_or(0.0, |rest| rest.to_s);
        let said_before_s = self.said_s.replace(at_s);
        let is_held = said_before_s.is_some_and(|said_s| at_s <= said_s + SAME_PRESS_S);
        let is_same = is_held || (!self.taken.is_empty() && at_s <= last_s + SAME_PRESS_S);
        let unanswered = said_s.is_some() && !self.seen;
        // One said before the stream began was for something else.
        let elsewhere = at_s < 0.0;
        if self.waiting != Waiting::Word || self.is_done() || is_same || unanswered || elsewhere {
            return Vec::new();
        }
        self.turn_light_s = None;
        self.waiting = Waiting::Rest {
            since_s: at_s,
            after_s: last_s,
            told_s: at_s + PATIENCE_S,
        };
        let mut acts = vec![Act::Lead(Stage::Reading)];
        acts.extend(self.look());
        acts
    }

    /// The last reading is not to count, or the word that is still waited on.
    pub fn back(&mut self) -> Vec<Act> {
        if self.paused_s.is_some() {
            return Vec::new();
        }
        let waited = matches!(self.waiting, Waiting::Rest { .. });
        if !waited && self.taken.pop().is_none() {
            return Vec::new();
        }
        self.again_from(self.taken.len())
    }

    /// Reads again from this position on, counted from 0.
    pub fn again_from(&mut self, position: usize) -> Vec<Act> {
        self.taken.truncate(position);
        self.waiting = match self.rhythm_s {
            Some(_) => Waiting::Turning { from_s: self.now_s },
            None => Waiting::Word,
        };
        self.turn_light_s = None;
        vec![Act::Lead(Stage::Again {
            position: self.position(),
        })]
    }

    /// Whether what is waited on has come to rest.
    fn look(&mut self) -> Vec<Act> {
        let Waiting::Rest {
            since_s,
            after_s,
            told_s,
        } = self.waiting
        else {
            return Vec::new();
        };
        // The end of a hold says nothing about when the spindle came to stand; the whole hold counts.
        let stands_s = self.rhythm_s.map_or(since_s - SEES_S, |_| after_s);
        if let Some(rest) = self.watch.said_at(since_s, stands_s, after_s) {
            return self.read(rest);
        }
        if self.now_s < told_s {
            return Vec::new();
        }
        self.waiting = Waiting::Rest {
            since_s,
            after_s,
            told_s: self.now_s + AGAIN_S,
        };
        vec![Act::Lead(Stage::Moving)]
    }

    fn read(&mut self, rest: AtRest) -> Vec<Act> {
        // The mean as whoever reads the record later will take it.
        let mean_um = mean_between(&self.readings, rest.from_s, rest.to_s);
        let rest = AtRest {
            reading_um: mean_um.unwrap_or(rest.reading_um),
            ..rest
        };
        let position = self.position();
        self.taken.push(rest);
        self.waiting = Waiting::Word;
        if self.is_done() {
            // Nothing is turned to any more.
        } else if self.rhythm_s.is_some() {
            self.waiting = Waiting::Turning { from_s: self.now_s };
        } else {
            self.seen = false;
            self.turn_light_s = Some(self.now_s + TAKEN_LIGHT_S);
        }
        let first_um = self.taken.first().map(|first| first.reading_um);
        vec![
            Act::Read(position, rest),
            Act::Lead(Stage::Taken {
                position,
                from_first_um: rest.reading_um - first_um.unwrap_or(rest.reading_um),
            }),
        ]
    }

    /// The readings so far, at their angles.
    pub fn stops(&self) -> Vec<Stop> {
        let step_deg = 360.0 / f64::from(self.positions);
        (0_u32..)
            .zip(&self.taken)
            .map(|(position, rest)| Stop {
                angle_deg: f64::from(position) * step_deg,
                reading_um: rest.reading_um,
            })
            .collect()
    }

    /// From which position on to read again, counted from 0: what was read twice or left out moves all that follow.
    pub fn doubtful_from(&self, doubt: &Doubt) -> usize {
        match doubt.mistake {
            Mistake::Alike | Mistake::LeftOut => doubt.between[0].saturating_sub(1),
            Mistake::NotBack => 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terminal::settings::Settings;
    use holdtrue_protocol::message::Signal;

    /// An indicator at 330 samples a second on a surface; what was read of it.
    struct Bench {
        stepping: Stepping,
        time_s: f64,
        lit: bool,
        noise: u64,
        noise_um: f64,
        read: Vec<(u32, AtRest)>,
        lights: Vec<Signal>,
        said: Vec<String>,
    }

    impl Bench {
        fn new(positions: u32, rhythm_s: Option<f64>, noise_um: f64) -> Self {
            let stepping = Stepping::new(positions, rhythm_s, 0.01);
            let mut bench = Self {
                stepping,
                time_s: 0.0,
                lit: true,
                noise: 77,
                noise_um,
                read: Vec::new(),
                lights: Vec::new(),
                said: Vec::new(),
            };
            bench.take(vec![Act::Lead(Stage::Begin {
                keys: true,
                button: true,
            })]);
            bench
        }

        fn take(&mut self, acts: Vec<Act>) {
            for act in acts {
                match act {
                    Act::Read(position, rest) => self.read.push((position, rest)),
                    Act::Lead(stage) => {
                        let turn = self.stepping.turn();
                        self.lights.extend(stage.signal(turn));
                        self.said.extend(stage.line(turn, &Settings::default()));
                    }
                }
            }
        }

        /// Even noise of this standard deviation, from a linear congruence.
        fn noise_um(&mut self) -> f64 {
            self.noise = self
                .noise
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let even = f64::from(u32::try_from(self.noise >> 32).unwrap()) / f64::from(u32::MAX);
            (even - 0.5) * 12.0_f64.sqrt() * self.noise_um
        }

        fn stand(&mut self, for_s: f64, at_um: f64) {
            self.move_over(for_s, |_| at_um);
        }

        fn move_over(&mut self, for_s: f64, surface_um: impl Fn(f64) -> f64) {
            let until_s = self.time_s + for_s;
            let from_s = self.time_s;
            while self.time_s < until_s {
                let reading_um = surface_um((self.time_s - from_s) / for_s) + self.noise_um();
                let reading = Passing {
                    time_s: self.time_s,
                    reading_um,
                };
                let acts = self.stepping.push(reading, self.lit);
                self.take(acts);
                self.time_s += 1.0 / 330.0;
            }
        }

        fn press(&mut self) {
            let acts = self.stepping.now(None);
            self.take(acts);
        }

        fn positions_read(&self) -> Vec<u32> {
            self.read.iter().map(|(position, _)| *position).collect()
        }
    }

    const NOISES_UM: [f64; 5] = [0.02, 0.08, 0.15, 0.2, 0.3];

    #[test]
    fn standing_still_for_a_minute_reads_nothing_until_told_and_then_once_a_press() {
        for noise_um in NOISES_UM {
            let mut bench = Bench::new(8, None, noise_um);
            bench.stand(60.0, 5.0);
            assert!(bench.positions_read().is_empty());
            for presses in 1..=9 {
                bench.press();
                bench.stand(4.0, 5.0);
                assert_eq!(bench.read.len(), presses, "{noise_um} µm");
                bench.stand(20.0, 5.0);
                assert_eq!(bench.read.len(), presses, "{noise_um} µm");
            }
            assert!(bench.stepping.is_done());
        }
    }

    #[test]
    fn a_press_while_it_moves_is_one_reading_where_it_comes_to_rest() {
        for noise_um in NOISES_UM {
            let mut bench = Bench::new(8, None, noise_um);
            bench.stand(3.0, 0.0);
            bench.move_over(1.0, |through| 9.0 * through);
            bench.press();
            bench.press();
            bench.move_over(5.0, |through| 9.0 + 40.0 * through);
            bench.press();
            assert!(bench.said.iter().any(|line| line.contains("still moving")));
            bench.stand(8.0, 49.0);
            assert_eq!(bench.positions_read(), [0], "{noise_um} µm");
            assert!((bench.read[0].1.reading_um - 49.0).abs() < 0.5);
        }
    }

    #[test]
    fn a_hand_that_presses_twice_reads_once() {
        let mut bench = Bench::new(8, None, 0.05);
        bench.stand(3.0, 0.0);
        bench.press();
        bench.stand(0.25, 0.0);
        bench.press();
        bench.stand(5.0, 0.0);
        assert_eq!(bench.positions_read(), [0]);
    }

    #[test]
    fn a_key_that_is_leant_on_reads_once() {
        for every_s in [0.03, 0.1, 0.5] {
            let mut bench = Bench::new(8, None, 0.05);
            bench.stand(3.0, 0.0);
            for _ in 0..60 {
                bench.press();
                bench.stand(every_s, 0.0);
            }
            assert_eq!(bench.positions_read(), [0], "{every_s}");
            bench.stand(2.0, 0.0);
            bench.press();
            bench.stand(1.0, 0.0);
            assert_eq!(bench.positions_read(), [0, 1], "{every_s}");
        }
    }

    #[test]
    fn a_button_pressed_again_before_the_light_has_answered_reads_nothing() {
        let mut bench = Bench::new(8, None, 0.05);
        let press = |bench: &mut Bench| {
            let acts = bench.stepping.now(Some(bench.time_s));
            bench.take(acts);
        };
        bench.stand(3.0, 0.0);
        press(&mut bench);
        bench.lit = false;
        bench.stand(6.0, 0.0);
        press(&mut bench);
        assert_eq!(bench.positions_read(), [0]);
        bench.lit = true;
        bench.stand(2.0, 0.0);
        assert_eq!(bench.lights.last(), Some(&Signal::Turn));
        press(&mut bench);
        bench.stand(2.0, 0.0);
        assert_eq!(bench.positions_read(), [0, 1]);
    }

    #[test]
    fn the_last_one_is_taken_back_the_first_the_closure_and_a_word_not_yet_read() {
        let mut bench = Bench::new(4, None, 0.05);
        bench.stand(3.0, 0.0);
        let nothing = bench.stepping.back();
        assert!(nothing.is_empty());
        for level_um in [0.0, 1.0, 2.0, 1.0, 0.0] {
            bench.move_over(1.0, |_| level_um);
            bench.stand(1.5, level_um);
            bench.press();
            bench.stand(1.0, level_um);
        }
        assert!(bench.stepping.is_done());
        let acts = bench.stepping.back();
        bench.take(acts);
        assert!(!bench.stepping.is_done());
        for _ in 0..4 {
            let acts = bench.stepping.back();
            bench.take(acts);
        }
        assert!(bench.stepping.stops().is_empty());
        bench.move_over(3.0, |through| 30.0 * through);
        bench.press();
        let acts = bench.stepping.back();
        bench.take(acts);
        bench.stand(6.0, 30.0);
        assert_eq!(
            bench.read.len(),
            5,
            "the word was taken back before it was read"
        );
        bench.press();
        bench.stand(1.0, 30.0);
        assert_eq!(bench.read.last().map(|read| read.0), Some(0));
    }

    #[test]
    fn in_a_rhythm_each_hold_is_read_once_and_none_while_it_moves() {
        for noise_um in NOISES_UM {
            for positions in [4, 8, 36] {
                let mut bench = Bench::new(positions, Some(5.0), noise_um);
                let mut level_um = 0.0;
                while !bench.stepping.is_done() {
                    let turns = bench.lights.iter().filter(|light| **light == Signal::Turn);
                    let turn = turns.count();
                    bench.stand(0.1, level_um);
                    let told = bench.lights.iter().filter(|light| **light == Signal::Turn);
                    if told.count() > turn {
                        // A slow hand, and once one that takes longer than the rhythm gives.
                        let takes_s = if turn == 2 { 9.5 } else { 1.4 };
                        let from_um = level_um;
                        bench.move_over(takes_s, |through| from_um + 5.0 * through);
                        level_um += 5.0;
                    }
                }
                let expected: Vec<u32> = (0..=positions).collect();
                assert_eq!(bench.positions_read(), expected, "{noise_um} µm");
                for (position, rest) in &bench.read {
                    let off_um = rest.reading_um - 5.0 * f64::from(*position);
                    assert!(off_um.abs() < 0.3, "{noise_um} µm, {position}: {off_um}");
                }
                assert!(bench.said.iter().any(|line| line.contains("still moving")));
            }
        }
    }

    #[test]
    fn presses_in_a_rhythm_and_from_before_the_stream_read_nothing() {
        let mut bench = Bench::new(8, Some(10.0), 0.05);
        bench.stand(2.0, 0.0);
        bench.press();
        bench.stand(1.0, 0.0);
        assert!(bench.positions_read().is_empty());
        let mut bench = Bench::new(8, None, 0.05);
        bench.stand(3.0, 0.0);
        let acts = bench.stepping.now(Some(-2.0));
        assert!(acts.is_empty());
    }
}
