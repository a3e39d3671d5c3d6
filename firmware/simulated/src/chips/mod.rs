//! Chips as their data sheets describe them, behind the `embedded-hal` traits the firmware knows.
//!
//! What a data sheet forbids is written down as [`Misuse`] and never silently forgiven: the simulated gauge
//! hands the list out, and a test that leaves one unread fails.

pub mod ads1220;
pub mod boot_drive;
pub mod button;
pub mod clock;
pub mod encoder;
pub mod flash;
pub mod indicator;
pub mod registers;

use std::sync::{Arc, Mutex, PoisonError};

/// An access a data sheet forbids.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Misuse {
    /// Virtual time, nanoseconds.
    pub at_ns: u64,
    /// What was done, and what the data sheet says.
    pub what: String,
}

/// List of forbidden accesses, shared by all chips of one gauge.
#[derive(Clone, Debug, Default)]
pub struct Misuses {
    list: Arc<Mutex<Vec<Misuse>>>,
}

/// Beyond this many the list stops growing: one fault at every sample must not eat the memory.
const MOST: usize = 1_000;

impl Misuses {
    /// Writes one down.
    pub fn note(&self, at_ns: u64, what: impl Into<String>) {
        let mut list = self.list.lock().unwrap_or_else(PoisonError::into_inner);
        if list.len() < MOST {
            list.push(Misuse {
                at_ns,
                what: what.into(),
            });
        }
    }

    /// All so far.
    pub fn list(&self) -> Vec<Misuse> {
        self.list
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}
