//! Time and arriving bursts go in; whether the indicator's request line is held, and whether it is silent, come out.

/// Least time from one request to the next, microseconds: ten readings a second are what common indicators give.
pub const INTERVAL_US: u64 = 100_000;
/// Least time the line rests between two requests, microseconds.
pub const REST_US: u64 = 20_000;
/// An indicator that sends nothing for this long is silent, microseconds.
pub const SILENT_US: u64 = 1_000_000;

/// Asks a digital indicator for reading after reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IndicatorRequests {
    /// The line is held.
    Asking {
        /// Since when.
        since_us: u64,
    },
    /// The line is free.
    Resting {
        /// Until when.
        until_us: u64,
    },
}

impl IndicatorRequests {
    /// Asks from now on.
    #[must_use]
    pub const fn starting(now_us: u64) -> Self {
        Self::Asking { since_us: now_us }
    }

    /// Whether the line is to be held.
    #[must_use]
    pub const fn is_asking(&self) -> bool {
        matches!(self, Self::Asking { .. })
    }

    /// A burst has come.
    pub fn heard(&mut self, now_us: u64) {
        if let Self::Asking { since_us } = *self {
            *self = Self::Resting {
                until_us: (since_us + INTERVAL_US).max(now_us + REST_US),
            };
        }
    }

    /// Lets time pass; `true` when the indicator has just been found silent.
    pub fn is_found_silent(&mut self, now_us: u64) -> bool {
        match *self {
            Self::Asking { since_us } if now_us >= since_us + SILENT_US => {
                *self = Self::Resting {
                    until_us: now_us + REST_US,
                };
                true
            }
            Self::Resting { until_us } if now_us >= until_us => {
                *self = Self::Asking { since_us: now_us };
                false
            }
            _ => false,
        }
    }
}
