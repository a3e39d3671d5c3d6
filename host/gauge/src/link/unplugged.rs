//! The place of a link that was given back. In: nothing. Out: that the gauge is gone.

use crate::link::{Damage, Link, LinkError, RawFrame};
use holdtrue_protocol::message::ToGauge;
use std::time::Duration;

/// A gauge that is not plugged in.
pub struct Unplugged {
    name: String,
    since: Duration,
}

impl Unplugged {
    /// On the port of that name, since then.
    pub fn new(name: String, since: Duration) -> Self {
        Self { name, since }
    }

    fn lost(&self) -> LinkError {
        LinkError::Lost {
            port: self.name.clone(),
            found: "it is not plugged in".to_owned(),
        }
    }
}

impl Link for Unplugged {
    fn receive(&mut self, _wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        Err(self.lost())
    }

    fn send(&mut self, _message: &ToGauge) -> Result<(), LinkError> {
        Err(self.lost())
    }

    fn elapsed(&self) -> Duration {
        self.since
    }

    fn name(&self) -> &str {
        &self.name
    }

    fn damage(&self) -> Damage {
        Damage::default()
    }
}
