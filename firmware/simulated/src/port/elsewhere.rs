//! On systems without pseudo-terminals: a clear refusal.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use super::{Pace, PortError};
use crate::gauge::Setup;

/// Never made here.
#[derive(Debug)]
pub enum Port {}

impl Port {
    /// Refuses.
    ///
    /// # Errors
    ///
    /// [`PortError::NotHere`], always.
    pub fn offer(_setup: Setup, _pace: Pace) -> Result<Self, PortError> {
        Err(PortError::NotHere)
    }

    /// No such port exists.
    pub fn path(&self) -> &Path {
        match *self {}
    }

    /// No such port exists.
    ///
    /// # Errors
    ///
    /// None: it cannot be called.
    pub fn run(&mut self, _stop: &AtomicBool) -> Result<(), PortError> {
        match *self {}
    }
}
