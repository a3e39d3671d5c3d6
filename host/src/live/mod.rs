//! In: a gauge on a link and a technician at the machine. Out: a check, led step by step and stored as it goes.

pub mod bench;
pub mod changeover;
pub mod gauge_look;
pub mod gauge_standard;
pub mod grip;
pub mod keys;
pub mod recorder;
pub mod runout;
pub mod stepping;
pub mod voice;

use crate::desk::{self, Desk};
use crate::error::Error;
use crate::filing::set_state;
use crate::lease::Lease;
use holdtrue_book::{CheckKind, CheckStart};
use holdtrue_metrology::state::State;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use uuid::Uuid;

/// Set by Ctrl-C; looked at between frames, so that a check ends cleanly.
#[derive(Clone, Debug, Default)]
pub struct Interrupt(Arc<AtomicBool>);

impl Interrupt {
    /// One that Ctrl-C sets.
    ///
    /// # Errors
    /// When the system takes no handler.
    pub fn on_ctrl_c() -> Result<Self, Error> {
        let interrupt = Self::default();
        let flag = Arc::clone(&interrupt.0);
        ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed)).map_err(|error| {
            Error::gauge(format!(
                "Ctrl-C cannot be caught: {error}; restart the program"
            ))
        })?;
        Ok(interrupt)
    }

    /// The flag itself, for a loop outside this module.
    pub fn flag(&self) -> &AtomicBool {
        &self.0
    }

    /// Whether it is time to end.
    pub fn is_set(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// The unfinished check of a visit, for this program alone; none where there is none.
///
/// # Errors
/// Another program adds to it, or the book cannot be read: exit 6.
fn unfinished(
    desk: &Desk,
    visit: Uuid,
    kind: CheckKind,
    state: Option<State>,
) -> Result<Option<(CheckStart, Lease)>, Error> {
    loop {
        let found = desk
            .book
            .open_check(visit, kind, state.map(set_state), &desk::now())?;
        let Some(start) = found else {
            return Ok(None);
        };
        let lease = Lease::of_check(start.id)?.ok_or_else(|| under_way(&start))?;
        // Whoever had it may have ended it between the look and the lease.
        if desk.book.results(start.id)?.is_empty() {
            return Ok(Some((start, lease)));
        }
    }
}

fn under_way(start: &CheckStart) -> Error {
    Error::book(format!(
        "the unfinished {} check of {} is being measured by another program on this computer: let it come to its end there, \
         or begin another check with --new",
        start.kind, start.stamp.at
    ))
}

fn cut_off() -> Error {
    Error::interrupted(
        "stopped: everything shown as recorded is in the book; the same command goes on where it stopped",
    )
}
