//! Counts go in, sample by sample; the peaks of overloads come out as the history the gauge keeps.
//!
//! Peaks live in memory while the gauge streams; the history is saved once it does not.

use heapless::Vec;
use holdtrue_protocol::message::Overload;

use crate::flash::Flash;
use crate::store::{self, Payload, Record};

/// How many overloads are kept, the newest ones.
pub const KEPT: usize = 8;
/// An overload is over when the load has kept within the limits this long, microseconds.
pub const OVER_US: u64 = 20_000;

/// The history of overloads.
pub type History = Vec<Overload, KEPT>;

/// Watches for overloads.
#[derive(Clone, Debug, Default)]
pub struct Overloads {
    limits: Option<(i32, i32)>,
    now: Option<Running>,
    history: History,
    unsaved: bool,
}

#[derive(Clone, Copy, Debug)]
struct Running {
    worst: Overload,
    beyond: i64,
    last_us: u64,
}

impl Overloads {
    /// Reads the history kept so far. A history that cannot be read is an empty one: the next saving mends it.
    pub fn load<F: Flash>(flash: &mut F) -> Self {
        let history = store::newest(flash, Record::Overloads)
            .ok()
            .flatten()
            .and_then(|payload| postcard::from_bytes(&payload).ok())
            .unwrap_or_default();
        Self {
            history,
            ..Self::default()
        }
    }

    /// Sets the lowest and highest counts that are no overload; `None`: nothing is known, so nothing is one.
    pub fn set_limits(&mut self, limits: Option<(i32, i32)>) {
        self.limits = limits;
    }

    /// Takes a sample; `true` if it is beyond the limits.
    pub fn watch(&mut self, boot: u32, at_us: u64, counts: i32) -> bool {
        let beyond = self.beyond(counts);
        if beyond > 0 {
            self.note(
                beyond,
                Overload {
                    boot,
                    at_us,
                    peak_counts: counts,
                },
            );
        } else if self.now.is_some_and(|now| at_us >= now.last_us + OVER_US) {
            self.finish();
        }
        beyond > 0
    }

    /// Ends an overload that is still running, as when streaming stops in it.
    pub fn finish(&mut self) {
        if let Some(ended) = self.now.take() {
            if self.history.is_full() {
                self.history.remove(0);
            }
            let _ = self.history.push(ended.worst); // has room now
            self.unsaved = true;
        }
    }

    /// The history, oldest first.
    #[must_use]
    pub const fn history(&self) -> &History {
        &self.history
    }

    /// The bytes to save, once for every change of the history.
    pub fn take_unsaved(&mut self) -> Option<Payload> {
        if !self.unsaved {
            return None;
        }
        self.unsaved = false;
        let mut bytes = [0; store::MAX_PAYLOAD];
        let encoded = postcard::to_slice(&self.history, &mut bytes).ok()?;
        Payload::from_slice(encoded).ok()
    }

    fn beyond(&self, counts: i32) -> i64 {
        self.limits.map_or(0, |(lowest, highest)| {
            let above = i64::from(counts) - i64::from(highest);
            let below = i64::from(lowest) - i64::from(counts);
            above.max(below)
        })
    }

    fn note(&mut self, beyond: i64, sample: Overload) {
        let now = self.now.get_or_insert(Running {
            worst: sample,
            beyond,
            last_us: sample.at_us,
        });
        now.last_us = sample.at_us;
        if beyond > now.beyond {
            now.beyond = beyond;
            now.worst = sample;
        }
    }
}
