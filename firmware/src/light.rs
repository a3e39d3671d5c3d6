//! A signal and the time go in, light on or off comes out.
//!
//! Signals differ by how often the light blinks, never by colour: 1 wait, 2 hold, 3 unclamp, 4 turn, 5 fault, and one
//! long light for taken; then a pause long enough to tell where counting starts.

use holdtrue_protocol::message::Signal;

/// Light on, microseconds: long enough to be seen from the corner of the eye.
pub const ON_US: u64 = 120_000;
/// The one long light, microseconds: nobody takes it for a blink.
pub const LONG_US: u64 = 1_200_000;
/// Dark between two blinks of one group, microseconds.
pub const OFF_US: u64 = 180_000;
/// Further dark after a group, microseconds.
pub const PAUSE_US: u64 = 800_000;

/// Blinks in a group of the signal.
#[must_use]
pub const fn blinks(signal: Signal) -> u64 {
    match signal {
        Signal::Off => 0,
        Signal::Wait | Signal::Taken => 1,
        Signal::Hold => 2,
        Signal::Unclamp => 3,
        Signal::Turn => 4,
        Signal::Fault => 5,
    }
}

/// How long the light is on at each blink of the signal, microseconds.
#[must_use]
pub const fn on_us(signal: Signal) -> u64 {
    match signal {
        Signal::Taken => LONG_US,
        _ => ON_US,
    }
}

/// One group of blinks of the signal and the dark after each, microseconds; [`PAUSE_US`] follows.
#[must_use]
pub const fn group_us(signal: Signal) -> u64 {
    blinks(signal) * (on_us(signal) + OFF_US)
}

/// The gauge's light: what it shows, and since when.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Light {
    signal: Signal,
    since_us: u64,
}

impl Light {
    /// Dark.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            signal: Signal::Off,
            since_us: 0,
        }
    }

    /// Shows a signal; a new one begins with its first blink, the same one goes on undisturbed.
    pub fn show(&mut self, signal: Signal, now_us: u64) {
        if signal != self.signal {
            *self = Self {
                signal,
                since_us: now_us,
            };
        }
    }

    /// What it shows.
    #[must_use]
    pub const fn signal(&self) -> Signal {
        self.signal
    }

    /// Whether the light is on.
    #[must_use]
    pub const fn is_on(&self, now_us: u64) -> bool {
        let group_us = group_us(self.signal);
        let into_us = now_us.saturating_sub(self.since_us) % (group_us + PAUSE_US);
        let on_us = on_us(self.signal);
        into_us < group_us && into_us % (on_us + OFF_US) < on_us
    }
}

impl Default for Light {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Times the light goes on in ten milliseconds' steps over `span_us`.
    fn blinks_seen(light: &Light, from_us: u64, span_us: u64) -> usize {
        let on = |step: u64| light.is_on(from_us + step * 10_000);
        (1..span_us / 10_000)
            .filter(|&step| on(step) && !on(step - 1))
            .count()
            + usize::from(on(0))
    }

    #[test]
    fn each_signal_blinks_its_own_number_of_times_a_group() {
        for (signal, count) in [
            (Signal::Off, 0),
            (Signal::Wait, 1),
            (Signal::Hold, 2),
            (Signal::Unclamp, 3),
            (Signal::Turn, 4),
            (Signal::Fault, 5),
            (Signal::Taken, 1),
        ] {
            let mut light = Light::new();
            light.show(signal, 123_456);
            let group_us = group_us(signal) + PAUSE_US;
            assert_eq!(blinks_seen(&light, 123_456, group_us), count, "{signal:?}");
            assert_eq!(
                blinks_seen(&light, 123_456, 3 * group_us),
                3 * count,
                "{signal:?}"
            );
        }
    }

    #[test]
    fn taken_is_told_from_wait_by_its_length() {
        let lit = |signal| {
            let mut light = Light::new();
            light.show(signal, 0);
            (0..)
                .take_while(|&at_ms| light.is_on(at_ms * 1_000))
                .count()
        };
        assert!(
            lit(Signal::Taken) >= 8 * lit(Signal::Wait),
            "{} ms against {} ms",
            lit(Signal::Taken),
            lit(Signal::Wait)
        );
    }

    #[test]
    fn a_new_signal_starts_with_light_and_the_same_one_does_not_restart() {
        let mut light = Light::new();
        light.show(Signal::Hold, 1_000_000);
        assert!(light.is_on(1_000_000));
        assert!(!light.is_on(1_000_000 + ON_US));
        light.show(Signal::Hold, 1_000_000 + ON_US);
        assert!(!light.is_on(1_000_000 + ON_US));
        light.show(Signal::Unclamp, 1_000_000 + ON_US);
        assert!(light.is_on(1_000_000 + ON_US));
    }
}
