//! A signal and the time go in, light on or off comes out.
//!
//! Signals differ by how often the light blinks, never by colour: 1 wait, 2 hold, 3 unclamp, 5 fault, then a pause
//! long enough to tell where counting starts.

use holdtrue_protocol::message::Signal;

/// Light on, microseconds: long enough to be seen from the corner of the eye.
pub const ON_US: u64 = 120_000;
/// Dark between two blinks of one group, microseconds.
pub const OFF_US: u64 = 180_000;
/// Further dark after a group, microseconds.
pub const PAUSE_US: u64 = 800_000;

/// Blinks in a group of the signal.
#[must_use]
pub const fn blinks(signal: Signal) -> u64 {
    match signal {
        Signal::Off => 0,
        Signal::Wait => 1,
        Signal::Hold => 2,
        Signal::Unclamp => 3,
        Signal::Fault => 5,
    }
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

    /// Whether the light is on.
    #[must_use]
    pub const fn is_on(&self, now_us: u64) -> bool {
        let blinks = blinks(self.signal);
        let group_us = blinks * (ON_US + OFF_US);
        let into_us = now_us.saturating_sub(self.since_us) % (group_us + PAUSE_US);
        into_us < group_us && into_us % (ON_US + OFF_US) < ON_US
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
            (Signal::Fault, 5),
        ] {
            let mut light = Light::new();
            light.show(signal, 123_456);
            let group_us = blinks(signal) * (ON_US + OFF_US) + PAUSE_US;
            assert_eq!(blinks_seen(&light, 123_456, group_us), count, "{signal:?}");
            assert_eq!(
                blinks_seen(&light, 123_456, 3 * group_us),
                3 * count,
                "{signal:?}"
            );
        }
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
