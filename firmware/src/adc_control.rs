//! The setting wanted goes in, orders to the converter come out, until it runs as wanted.
//!
//! Brings the converter up after power-on, changes its setting, resets it when it does not obey or falls silent, and
//! tries again later when that does not help. Never waits.

use crate::adc::{RESET_US, Setup};
use crate::lines::{GaugeEnds, Order, Task};

/// A converter that does not obey is tried again after this, microseconds.
pub const RETRY_US: u64 = 500_000;
/// An order not even answered after this, microseconds, means that the [`Converter`](crate::converter::Converter) no
/// longer runs: then the watchdog must bite.
pub const HUNG_US: u64 = 1_000_000;

/// Keeps the converter at the wanted setting.
#[derive(Clone, Copy, Debug)]
pub struct AdcControl {
    wanted: Setup,
    state: State,
    order: u8,
    refusals: u8,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Not up: reset it first.
    Down,
    /// Told to reset.
    Resetting { since_us: u64 },
    /// Reset done: leave it alone for a moment.
    Waking { since_us: u64 },
    /// Told to run so.
    Setting { setup: Setup, since_us: u64 },
    /// Runs so.
    Running { setup: Setup },
    /// Did not obey.
    Failed { since_us: u64 },
}

impl AdcControl {
    /// A converter of which nothing is known.
    #[must_use]
    pub const fn new(wanted: Setup) -> Self {
        Self {
            wanted,
            state: State::Down,
            order: 0,
            refusals: 0,
        }
    }

    /// Wants a setting from now on.
    pub fn want(&mut self, setup: Setup) {
        self.wanted = setup;
    }

    /// Starts over with a reset, as when the converter has fallen silent.
    pub fn restart(&mut self) {
        if !self.is_waiting() {
            self.state = State::Down;
        }
    }

    /// A converter given up for now is tried at once, not only when its time has come.
    pub fn give_another_chance(&mut self) {
        if self.has_failed() {
            self.state = State::Down;
        }
    }

    /// Whether it runs as wanted.
    #[must_use]
    pub fn is_running(&self) -> bool {
        self.state == State::Running { setup: self.wanted }
    }

    /// Whether conversions under this order are of the wanted setting.
    #[must_use]
    pub fn is_current(&self, order: u8) -> bool {
        self.is_running() && order == self.order
    }

    /// Whether it does not obey.
    #[must_use]
    pub const fn has_failed(&self) -> bool {
        matches!(self.state, State::Failed { .. })
    }

    /// Whether an order has gone unanswered for so long that nobody can be there.
    #[must_use]
    pub const fn is_hung(&self, now_us: u64) -> bool {
        match self.state {
            State::Resetting { since_us } | State::Setting { since_us, .. } => {
                now_us > since_us + HUNG_US
            }
            _ => false,
        }
    }

    /// Reads what became of the last order and gives the next; `true` if the converter's part should run.
    pub fn step(&mut self, ends: &mut GaugeEnds<'_>, now_us: u64) -> bool {
        while let Some(done) = ends.done.dequeue() {
            if done.order == self.order && self.is_waiting() {
                self.hear(done.obeyed, now_us);
            }
        }
        match self.state {
            State::Down => {
                self.state = State::Resetting { since_us: now_us };
                self.tell(ends, Task::Reset)
            }
            State::Waking { since_us } if now_us >= since_us + RESET_US => {
                self.tell_setting(ends, now_us)
            }
            State::Running { setup } if setup != self.wanted => self.tell_setting(ends, now_us),
            State::Failed { since_us } if now_us >= since_us + RETRY_US => {
                self.state = State::Down;
                true
            }
            // Until it is answered an order's converter part is asked for again and again: it may have been missed.
            _ => self.is_waiting(),
        }
    }

    const fn is_waiting(&self) -> bool {
        matches!(self.state, State::Resetting { .. } | State::Setting { .. })
    }

    fn hear(&mut self, obeyed: bool, now_us: u64) {
        self.state = match (self.state, obeyed) {
            (State::Resetting { .. }, true) => State::Waking { since_us: now_us },
            (State::Setting { setup, .. }, true) => {
                self.refusals = 0;
                State::Running { setup }
            }
            _ => self.refused(now_us),
        };
    }

    /// Once may be a glitch: reset and try again. Twice is a fault.
    fn refused(&mut self, now_us: u64) -> State {
        self.refusals = self.refusals.saturating_add(1);
        if self.refusals < 2 {
            State::Down
        } else {
            self.refusals = 0;
            State::Failed { since_us: now_us }
        }
    }

    fn tell_setting(&mut self, ends: &mut GaugeEnds<'_>, now_us: u64) -> bool {
        self.state = State::Setting {
            setup: self.wanted,
            since_us: now_us,
        };
        self.tell(ends, Task::Run(self.wanted))
    }

    fn tell(&mut self, ends: &mut GaugeEnds<'_>, task: Task) -> bool {
        self.order = self.order.wrapping_add(1);
        // One order at a time: there is room.
        let _ = ends.orders.enqueue(Order {
            number: self.order,
            task,
        });
        true
    }
}
