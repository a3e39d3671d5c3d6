//! In: where the plunger is, µm. Out: the clocked bits of a digital indicator's data socket.
//!
//! Thirteen digits of four bits, least significant bit first: four times F, sign (0 or 8), six figures, decimal point,
//! unit (0 mm, 1 inch); the format in common use, from-memory.

use crate::random::{Range, Stream, Topic, range};

/// Display step: 1 µm.
const STEP_UM: f64 = 1.0;
/// From the request to the first bit, and rest after the last.
const ANSWER_NS: Range = range(20_000_000.0, 60_000_000.0);
const REST_NS: u64 = 30_000_000;
/// Between bits of a digit, and the longer pause between digits.
const BIT_NS: Range = range(240_000.0, 340_000.0);
const DIGIT_NS: Range = range(500_000.0, 900_000.0);

/// One bit on the line: the clock's edge at which it is valid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bit {
    /// When.
    pub at_ns: u64,
    /// Level of the data line.
    pub data: bool,
}

/// The indicator: sends its display once for each time its request line is found held.
#[derive(Clone, Debug)]
pub struct Indicator {
    bit_ns: u64,
    digit_ns: u64,
    answer_ns: u64,
    state: State,
}

#[derive(Clone, Debug)]
enum State {
    Resting {
        until_ns: u64,
    },
    Answering {
        at_ns: u64,
    },
    Sending {
        bits: std::vec::IntoIter<Bit>,
        next: Option<Bit>,
    },
}

impl Indicator {
    /// An indicator switched on.
    pub fn new(seed: u64) -> Self {
        let mut draw = Stream::new(seed, Topic::Turning, u64::MAX);
        Self {
            bit_ns: whole(draw.within(BIT_NS)),
            digit_ns: whole(draw.within(DIGIT_NS)),
            answer_ns: whole(draw.within(ANSWER_NS)),
            state: State::Resting { until_ns: 0 },
        }
    }

    /// Looks at the request line.
    pub fn look(&mut self, requested: bool, now_ns: u64) {
        if let State::Resting { until_ns } = self.state
            && requested
            && now_ns >= until_ns
        {
            self.state = State::Answering {
                at_ns: now_ns + self.answer_ns,
            };
        }
    }

    /// When it next does something.
    pub fn due_ns(&self) -> Option<u64> {
        match &self.state {
            State::Resting { .. } => None,
            State::Answering { at_ns } => Some(*at_ns),
            State::Sending { next, .. } => next.map(|bit| bit.at_ns),
        }
    }

    /// Does what is due: freezes the display, or clocks one bit out.
    pub fn act(&mut self, plunger_um: f64) -> Option<Bit> {
        match &mut self.state {
            State::Resting { .. } => None,
            State::Answering { at_ns } => {
                let from_ns = *at_ns;
                let mut bits = self.bits(from_ns, plunger_um).into_iter();
                let next = bits.next();
                self.state = State::Sending { bits, next };
                None
            }
            State::Sending { bits, next } => {
                let sent = next.take();
                *next = bits.next();
                if let (Some(last), None) = (sent, *next) {
                    self.state = State::Resting {
                        until_ns: last.at_ns + REST_NS,
                    };
                }
                sent
            }
        }
    }

    fn bits(&self, from_ns: u64, plunger_um: f64) -> Vec<Bit> {
        let mut at_ns = from_ns + self.bit_ns;
        let mut bits = Vec::with_capacity(52);
        for digit in shown(plunger_um) {
            for place in 0..4 {
                bits.push(Bit {
                    at_ns,
                    data: digit >> place & 1 == 1,
                });
                at_ns += self.bit_ns;
            }
            at_ns += self.digit_ns;
        }
        bits
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "drawn from a range of microseconds"
)]
fn whole(ns: f64) -> u64 {
    ns.round() as u64
}

/// The thirteen digits for a plunger position.
fn shown(plunger_um: f64) -> [u8; 13] {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "clamped to six digits before"
    )]
    let steps = (plunger_um / STEP_UM).round().clamp(-999_999.0, 999_999.0) as i32;
    let mut digits = [15, 15, 15, 15, 0, 0, 0, 0, 0, 0, 0, 3, 0];
    digits[4] = if steps < 0 { 8 } else { 0 };
    let mut rest = steps.unsigned_abs();
    for place in (5..11).rev() {
        digits[place] = u8::try_from(rest % 10).expect("a figure is below 10");
        rest /= 10;
    }
    digits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_sign_and_point_are_in_their_places() {
        assert_eq!(shown(-1_234.4), [15, 15, 15, 15, 8, 0, 0, 1, 2, 3, 4, 3, 0]);
        assert_eq!(shown(7.0), [15, 15, 15, 15, 0, 0, 0, 0, 0, 0, 7, 3, 0]);
    }

    #[test]
    fn a_request_brings_52_bits_and_then_silence() {
        let mut indicator = Indicator::new(1);
        assert_eq!(indicator.due_ns(), None);
        indicator.look(true, 1_000);
        let mut bits = Vec::new();
        while indicator.due_ns().is_some() {
            bits.extend(indicator.act(12.0));
        }
        assert_eq!(bits.len(), 52);
        assert!(bits.windows(2).all(|pair| pair[1].at_ns > pair[0].at_ns));
        // The receiver takes 10 ms without a clock as the end.
        assert!(
            bits.windows(2)
                .all(|pair| pair[1].at_ns - pair[0].at_ns < 10_000_000)
        );
        indicator.look(true, bits[51].at_ns + 1);
        assert_eq!(indicator.due_ns(), None, "it rests first");
    }
}
