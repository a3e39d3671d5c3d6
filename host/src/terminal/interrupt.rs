//! Ctrl-C. In: the signal. Out: a flag that is looked at between frames, so that what runs ends cleanly.

use crate::terminal::error::Error;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

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

/// What Ctrl-C ends a check with.
pub(crate) fn cut_off() -> Error {
    Error::interrupted(
        "stopped: everything shown as recorded is in the book; the same command goes on where it stopped",
    )
}
