//! Ctrl-C. In: the signal. Out: a flag that is looked at between frames, so that what runs ends cleanly.

use crate::terminal::error::Error;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Set by Ctrl-C; looked at between frames, so that a check ends cleanly.
#[derive(Clone, Debug, Default)]
pub struct Interrupt(Arc<AtomicBool>);

impl Interrupt {
    /// One that Ctrl-C sets from now on.
    ///
    /// # Errors
    /// When the system takes no handler.
    pub fn on_ctrl_c() -> Result<Self, Error> {
        let interrupt = Self::heard()?;
        interrupt.0.store(false, Ordering::Relaxed);
        Ok(interrupt)
    }

    /// The same, where one that was pressed already still counts.
    ///
    /// # Errors
    /// When the system takes no handler.
    pub fn heard() -> Result<Self, Error> {
        // The system takes one handler a program: whatever runs next hears the same one.
        static ONE: Mutex<Option<Interrupt>> = Mutex::new(None);
        let mut one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(interrupt) = &*one {
            return Ok(interrupt.clone());
        }
        let interrupt = Self::default();
        let flag = Arc::clone(&interrupt.0);
        ctrlc::set_handler(move || flag.store(true, Ordering::Relaxed)).map_err(|error| {
            Error::gauge(format!(
                "Ctrl-C cannot be caught: {error}; restart the program"
            ))
        })?;
        *one = Some(interrupt.clone());
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

/// What Ctrl-C ends a command with that asks something.
pub(crate) fn stopped_at_question() -> Error {
    Error::interrupted("stopped at a question: what comes after it was not done")
}

/// What Ctrl-C ends a check with.
pub(crate) fn cut_off() -> Error {
    Error::interrupted(
        "stopped: everything shown as recorded is in the book; the same command goes on where it stopped",
    )
}
