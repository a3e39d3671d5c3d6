//! The level of the push button's pin goes in, looked at once a millisecond; counted presses come out.
//!
//! The button pulls its line low. Contacts of cheap buttons bounce for up to 6 ms, worn ones for longer; a finger
//! stays for 50 ms and more (common practice, no source): what lies between the two is told from both.

use embedded_hal::digital::InputPin;

use crate::debounce::Debounce;

/// How long the line must keep a level for it to count, microseconds.
pub const SETTLE_US: u32 = 20_000;
/// The pin is looked at this often or oftener, microseconds. A press is stamped by so much late, and by a bounce whose
/// first contact was shorter.
pub const LOOK_US: u32 = 1_000;

/// A press of the button.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ButtonPress {
    /// Counts presses from 1, wrapping: a lost one shows as a step.
    pub number: u32,
    /// When the contact was first found closed, the timer's 32 bits.
    pub at_us: u32,
}

/// A push button between a pin with a pull-up and ground. Where none is fitted the pin stays high: no presses.
pub struct Button<P> {
    pin: P,
    line: Option<Debounce>,
    number: u32,
}

impl<P: InputPin> Button<P> {
    /// Not looked at yet. A button found down at the first look, as by a pinched cable, has not been pressed until it
    /// was let go.
    pub const fn new(pin: P) -> Self {
        Self {
            pin,
            line: None,
            number: 0,
        }
    }

    /// Looks at the pin; gives a press once its contact has settled. Constant time, waits for nothing. Call it every
    /// [`LOOK_US`], at a priority above all that takes its time.
    #[inline(always)]
    pub fn look(&mut self, now_us: u32) -> Option<ButtonPress> {
        let high = self.pin.is_high().ok()?; // a pin that cannot be read now is read at the next look
        let line = self.line.get_or_insert(Debounce::new(high, SETTLE_US));
        let change = line.look(high, now_us)?;
        if change.high {
            return None;
        }
        self.number = self.number.wrapping_add(1);
        Some(ButtonPress {
            number: self.number,
            at_us: change.at_us,
        })
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use embedded_hal_mock::eh1::MockError;
    use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};
    use proptest::prelude::*;

    use super::*;

    /// Presses seen on a line that changes level at these times (ms), looked at once a millisecond from `start_us`.
    fn presses(high_at_first: bool, changes_ms: &[u32], until_ms: u32) -> Vec<(u32, u32)> {
        presses_from(0, high_at_first, changes_ms, until_ms)
    }

    fn presses_from(
        start_us: u32,
        high_at_first: bool,
        changes_ms: &[u32],
        until_ms: u32,
    ) -> Vec<(u32, u32)> {
        let high = |ms: u32| {
            let changed = changes_ms.iter().filter(|&&at| at <= ms).count();
            high_at_first == changed.is_multiple_of(2)
        };
        let looks: Vec<Transaction> = (0..until_ms)
            .map(|ms| Transaction::get(if high(ms) { State::High } else { State::Low }))
            .collect();
        let mut button = Button::new(Mock::new(&looks));
        let seen = (0..until_ms)
            .filter_map(|ms| button.look(start_us.wrapping_add(ms * 1_000)))
            .map(|press| (press.number, press.at_us.wrapping_sub(start_us) / 1_000))
            .collect();
        button.pin.done();
        seen
    }

    #[test]
    fn a_clean_press_counts_once_at_the_time_of_the_contact() {
        assert_eq!(presses(true, &[100, 250], 400), [(1, 100)]);
    }

    #[test]
    fn bounces_of_pressing_and_of_letting_go_add_none() {
        let pressing = [100, 101, 103, 104, 108, 109, 112];
        let letting_go = [300, 301, 302, 305, 307, 315, 316];
        let bounces = [&pressing[..], &letting_go[..]].concat();
        assert_eq!(presses(true, &bounces, 500), [(1, 100)]);
    }

    #[test]
    fn a_held_key_is_one_press() {
        assert_eq!(presses(true, &[100], 20_000), [(1, 100)]);
    }

    #[test]
    fn spikes_and_a_contact_that_never_settles_are_none() {
        assert_eq!(presses(true, &[100, 101, 200, 219], 400), []);
        let chatter: Vec<u32> = (0..120).map(|n| 100 + 7 * n).collect();
        assert_eq!(presses(true, &chatter, 1_200), []);
    }

    #[test]
    fn quick_presses_each_count() {
        let taps: Vec<u32> = (0..10)
            .flat_map(|n| [100 + 100 * n, 150 + 100 * n])
            .collect();
        let expected: Vec<(u32, u32)> = (0..10).map(|n| (n + 1, 100 + 100 * n)).collect();
        assert_eq!(presses(true, &taps, 1_300), expected);
    }

    #[test]
    fn a_button_that_is_down_at_the_start_is_not_pressed_until_it_was_let_go() {
        assert_eq!(presses(false, &[], 5_000), []);
        assert_eq!(presses(false, &[500, 800, 900], 1_200), [(1, 800)]);
    }

    #[test]
    fn the_timer_may_wrap_inside_a_press() {
        let start_us = u32::MAX - 105_000;
        assert_eq!(presses_from(start_us, true, &[100, 250], 400), [(1, 100)]);
    }

    #[test]
    fn a_look_that_fails_is_made_up_by_the_next() {
        let fails = || {
            Transaction::get(State::High)
                .with_error(MockError::Io(std::io::ErrorKind::NotConnected))
        };
        let mut looks = std::vec![fails(), Transaction::get(State::High), fails()];
        looks.extend((0..=20).map(|_| Transaction::get(State::Low)));
        let mut button = Button::new(Mock::new(&looks));
        let seen: Vec<u32> = (0..24)
            .filter_map(|ms| button.look(ms * 1_000))
            .map(|press| press.at_us)
            .collect();
        button.pin.done();
        assert_eq!(seen, [3_000]);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        /// Presses of any length from 40 ms and pauses from 40 ms, each edge bouncing for up to 15 ms.
        #[test]
        fn every_press_counts_once_however_it_bounces(
            keys in proptest::collection::vec((40..400_u32, 40..400_u32, 0..15_u32, 0..15_u32), 0..12),
        ) {
            let (mut at, mut edges, mut expected) = (100, Vec::new(), Vec::new());
            for (held, pause, bounce_down, bounce_up) in keys {
                expected.push((u32::try_from(expected.len()).unwrap() + 1, at));
                let mut bounce = |from: u32, length: u32| {
                    edges.push(from);
                    // An even number of further edges: it ends on the level it was going to.
                    edges.extend((1..=length / 2 * 2).map(|edge| from + edge));
                };
                bounce(at, bounce_down);
                bounce(at + held, bounce_up);
                at += held + pause;
            }
            prop_assert_eq!(presses(true, &edges, at + 100), expected);
        }
    }
}
