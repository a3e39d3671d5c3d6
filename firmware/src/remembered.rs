//! What happened goes in; the newest of it comes out, also after power was away.
//!
//! It lives in memory and is saved as one record once there is time for it.

use heapless::Vec;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::flash::Flash;
use crate::store::{self, Payload, Record};

/// The newest `KEPT` of what happened, oldest first.
#[derive(Clone, Debug)]
pub struct Remembered<T, const KEPT: usize> {
    history: Vec<T, KEPT>,
    unsaved: bool,
}

impl<T, const KEPT: usize> Default for Remembered<T, KEPT> {
    fn default() -> Self {
        Self {
            history: Vec::new(),
            unsaved: false,
        }
    }
}

impl<T: Serialize + DeserializeOwned, const KEPT: usize> Remembered<T, KEPT> {
    /// Reads the history kept so far. One that cannot be read is an empty one: the next saving mends it.
    pub fn load<F: Flash>(flash: &mut F, record: Record) -> Self {
        let history = store::newest(flash, record)
            .ok()
            .flatten()
            .and_then(|payload| postcard::from_bytes(&payload).ok())
            .unwrap_or_default();
        Self {
            history,
            unsaved: false,
        }
    }

    /// Adds what happened now.
    pub fn note(&mut self, event: T) {
        if self.history.is_full() {
            self.history.remove(0);
        }
        let _ = self.history.push(event); // has room now
        self.unsaved = true;
    }

    /// The history, oldest first.
    #[must_use]
    pub const fn history(&self) -> &Vec<T, KEPT> {
        &self.history
    }

    /// Whether the history has changed since it was last saved.
    #[must_use]
    pub const fn is_unsaved(&self) -> bool {
        self.unsaved
    }

    /// The bytes to save, once for every change of the history.
    pub fn take_unsaved(&mut self) -> Option<Payload> {
        if !core::mem::take(&mut self.unsaved) {
            return None;
        }
        let mut bytes = [0; store::MAX_PAYLOAD];
        let encoded = postcard::to_slice(&self.history, &mut bytes).ok()?;
        Payload::from_slice(encoded).ok()
    }
}
