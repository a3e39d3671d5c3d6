//! The one clock of a simulated gauge: nanoseconds since it was switched on. Nothing but the gauge moves it.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Virtual time, shared by all chips of one gauge.
#[derive(Clone, Debug, Default)]
pub struct Clock {
    now_ns: Arc<AtomicU64>,
}

impl Clock {
    /// Now.
    pub fn now_ns(&self) -> u64 {
        self.now_ns.load(Ordering::Relaxed)
    }

    /// Moves on; time never goes back.
    pub fn move_to(&self, at_ns: u64) {
        self.now_ns.fetch_max(at_ns, Ordering::Relaxed);
    }
}
