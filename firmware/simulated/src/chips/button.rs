//! In: whether a finger is on the push button, each millisecond. Out: its contact, which bounces, as a pin to ground.

use std::convert::Infallible;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use embedded_hal::digital::{ErrorType, InputPin};

use crate::random::{Range, Stream, Topic, range};

/// How long a contact bounces, ms.
const BOUNCE_MS: Range = range(1.0, 7.0);

/// The contact while one plane is measured.
#[derive(Clone, Debug)]
pub struct Contact {
    draw: Stream,
    finger: bool,
    bounces_ms: f64,
    closed: bool,
}

impl Contact {
    /// Open.
    pub fn new(seed: u64, plane: u64) -> Self {
        Self {
            draw: Stream::new(seed, Topic::Contact, plane),
            finger: false,
            bounces_ms: 0.0,
            closed: false,
        }
    }

    /// A millisecond passes with or without a finger on the button.
    pub fn feel(&mut self, finger: bool) {
        if finger != self.finger {
            self.finger = finger;
            self.bounces_ms = self.draw.within(BOUNCE_MS);
        }
        self.closed = if self.bounces_ms >= 1.0 {
            self.bounces_ms -= 1.0;
            self.draw.happens(0.5)
        } else {
            finger
        };
    }

    /// As it is now.
    pub fn is_closed(&self) -> bool {
        self.closed
    }
}

/// The board's pin with its pull-up.
#[derive(Clone, Debug, Default)]
pub struct ButtonPin(Arc<AtomicBool>);

impl ButtonPin {
    /// The contact closes or opens.
    pub fn set_closed(&self, closed: bool) {
        self.0.store(closed, Ordering::Relaxed);
    }
}

impl ErrorType for ButtonPin {
    type Error = Infallible;
}

impl InputPin for ButtonPin {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0.load(Ordering::Relaxed))
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.load(Ordering::Relaxed))
    }
}
