//! In: which signal the gauge's light shows, from when on, and when somebody looks at it. Out: what he has understood.
//!
//! Signals are told by counting blinks: that takes one whole group and a moment of dark behind it. What was cut off before,
//! or shown while he looked elsewhere, was not understood and is as if it had not been: the same signal before and after
//! it is one showing, not two.

use holdtrue_firmware::light::group_us;
use holdtrue_protocol::message::Signal;

/// Dark behind a group that lasts this much longer than between two blinks ends the counting.
const SURE_S: f64 = 0.1;
/// The one long light is known for what it is once it has lasted this long.
const LONG_S: f64 = 0.5;
/// A light that stays dark for this long is off.
const DARK_S: f64 = 1.2;

/// How long one has to look to understand a signal from its first blink on, s.
pub fn takes_s(signal: Signal) -> f64 {
    match signal {
        Signal::Taken => LONG_S,
        Signal::Off => DARK_S,
        counted => group_us(counted) as f64 * 1e-6 + SURE_S,
    }
}

/// A signal as it was understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Understood {
    /// Which.
    pub signal: Signal,
    /// Counts what was understood, from 1.
    pub number: u32,
}

/// The light, and somebody looking at it.
#[derive(Clone, Debug)]
pub struct Watched {
    shown: Signal,
    since_s: f64,
    looks_from_s: f64,
    understood: Option<Understood>,
}

impl Watched {
    /// A dark light.
    pub fn new() -> Self {
        Self {
            shown: Signal::Off,
            since_s: 0.0,
            looks_from_s: 0.0,
            understood: None,
        }
    }

    /// From this time on the light shows a signal. The one it shows already goes on undisturbed.
    pub fn shows(&mut self, signal: Signal, at_s: f64) {
        if signal != self.shown {
            self.shown = signal;
            self.since_s = at_s;
        }
    }

    /// He looks elsewhere until then.
    pub fn look_away_until(&mut self, at_s: f64) {
        self.looks_from_s = at_s;
    }

    /// What he has understood last; nothing while the light has been dark from the beginning.
    pub fn look(&mut self, now_s: f64) -> Option<Understood> {
        let looked_s = now_s - self.since_s.max(self.looks_from_s);
        let last = self.understood.map_or(Signal::Off, |last| last.signal);
        if self.shown != last && looked_s >= takes_s(self.shown) {
            self.understood = Some(Understood {
                signal: self.shown,
                number: self.understood.map_or(0, |last| last.number) + 1,
            });
        }
        self.understood
    }
}

impl Default for Watched {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use holdtrue_firmware::light::Light;

    use super::*;

    const EVERY: [Signal; 6] = [
        Signal::Wait,
        Signal::Hold,
        Signal::Unclamp,
        Signal::Turn,
        Signal::Fault,
        Signal::Taken,
    ];

    fn understood(watched: &mut Watched, now_s: f64) -> Option<(Signal, u32)> {
        watched
            .look(now_s)
            .map(|understood| (understood.signal, understood.number))
    }

    /// By the light itself: when a signal is understood it has looked like no other from its first blink on.
    #[test]
    fn no_signal_is_understood_before_it_differs_from_every_other() {
        let levels = |signal, until_s: f64| {
            let mut light = Light::new();
            light.show(signal, 0);
            (0_u64..)
                .map(|step| step * 10_000)
                .take_while(|&at_us| at_us as f64 * 1e-6 <= until_s)
                .map(|at_us| light.is_on(at_us))
                .collect::<Vec<_>>()
        };
        for signal in EVERY {
            for other in EVERY.into_iter().filter(|&other| other != signal) {
                let takes = takes_s(signal);
                assert_ne!(
                    levels(signal, takes),
                    levels(other, takes),
                    "{signal:?}, {other:?}"
                );
            }
        }
    }

    #[test]
    fn a_signal_is_understood_after_its_whole_group_and_once() {
        let mut watched = Watched::new();
        assert_eq!(
            understood(&mut watched, 5.0),
            None,
            "dark from the beginning"
        );
        watched.shows(Signal::Turn, 10.0);
        assert_eq!(
            understood(&mut watched, 10.0 + takes_s(Signal::Turn) - 0.01),
            None
        );
        assert_eq!(understood(&mut watched, 11.5), Some((Signal::Turn, 1)));
        watched.shows(Signal::Turn, 12.0);
        assert_eq!(understood(&mut watched, 30.0), Some((Signal::Turn, 1)));
    }

    #[test]
    fn a_signal_cut_short_is_as_if_it_had_not_been() {
        let mut watched = Watched::new();
        watched.shows(Signal::Turn, 0.0);
        assert_eq!(understood(&mut watched, 2.0), Some((Signal::Turn, 1)));
        watched.shows(Signal::Hold, 2.0);
        assert_eq!(understood(&mut watched, 2.5), Some((Signal::Turn, 1)));
        watched.shows(Signal::Turn, 2.5);
        assert_eq!(understood(&mut watched, 9.0), Some((Signal::Turn, 1)));
        watched.shows(Signal::Hold, 9.0);
        assert_eq!(understood(&mut watched, 10.0), Some((Signal::Hold, 2)));
        watched.shows(Signal::Turn, 10.0);
        assert_eq!(understood(&mut watched, 12.0), Some((Signal::Turn, 3)));
    }

    #[test]
    fn what_is_shown_while_he_looks_elsewhere_is_not_seen() {
        let mut watched = Watched::new();
        watched.look_away_until(5.0);
        watched.shows(Signal::Hold, 1.0);
        assert_eq!(understood(&mut watched, 4.9), None);
        assert_eq!(
            understood(&mut watched, 5.2),
            None,
            "a whole group from when he looks"
        );
        assert_eq!(understood(&mut watched, 5.8), Some((Signal::Hold, 1)));
    }
}
