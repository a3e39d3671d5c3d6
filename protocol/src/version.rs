//! Which wire version two ends can talk: in goes what the gauge said of itself, out comes agreement or a
//! refusal that carries both versions.

use core::fmt;

use crate::message::{Answer, FromGauge, Hello, Reply, Signal, WIRE_MAJOR, WIRE_MINOR};

/// A wire version. Within one major version every older frame keeps its meaning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct WireVersion {
    /// Raised when a released frame would change its meaning.
    pub major: u8,
    /// Raised when something is added.
    pub minor: u8,
}

/// The version this crate speaks.
pub const OURS: WireVersion = WireVersion {
    major: WIRE_MAJOR,
    minor: WIRE_MINOR,
};

impl fmt::Display for WireVersion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.major, self.minor)
    }
}

/// The gauge speaks a version this reader cannot know.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VersionRefusal {
    /// What the gauge speaks.
    pub gauge: WireVersion,
    /// What this reader speaks.
    pub ours: WireVersion,
}

impl fmt::Display for VersionRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "the gauge speaks wire version {}, this program reads 1.0 to {}.x; update this program",
            self.gauge, self.ours.major
        )
    }
}

impl core::error::Error for VersionRefusal {}

/// Agrees to talk, or says why not.
///
/// A newer *minor* version is fine: what it added arrives as frames that are skipped and counted.
///
/// # Errors
///
/// The gauge's *major* version is newer than [`WIRE_MAJOR`]: nothing it says could be trusted.
pub fn agree(gauge: WireVersion) -> Result<(), VersionRefusal> {
    if gauge.major > OURS.major {
        Err(VersionRefusal { gauge, ours: OURS })
    } else {
        Ok(())
    }
}

/// The version a decoded message declares, if it is one that does.
#[must_use]
pub fn declared(message: &FromGauge<'_>) -> Option<WireVersion> {
    match message {
        FromGauge::Hello(hello)
        | FromGauge::Answer(Answer {
            outcome: Ok(Reply::Identity(hello)),
            ..
        }) => Some(of(hello)),
        _ => None,
    }
}

/// The signal to ask for, so that a gauge of this version shows it or the nearest it knows.
///
/// A gauge of 1.0 refuses [`Signal::Turn`] and [`Signal::Taken`]; [`Signal::Wait`] stands for both there, and what
/// is to be done next stands on the screen alone.
#[must_use]
pub fn known_signal(gauge: WireVersion, signal: Signal) -> Signal {
    let since = match signal {
        Signal::Wait | Signal::Hold | Signal::Unclamp | Signal::Fault | Signal::Off => 0,
        Signal::Turn | Signal::Taken => 1,
    };
    let first = WireVersion {
        major: 1,
        minor: since,
    };
    if gauge < first { Signal::Wait } else { signal }
}

/// The version in a [`Hello`].
#[must_use]
pub fn of(hello: &Hello) -> WireVersion {
    WireVersion {
        major: hello.wire_major,
        minor: hello.wire_minor,
    }
}

/// The version a checked frame's body declares, read without understanding the rest of it.
///
/// `None` unless it is a [`FromGauge::Hello`]: that variant keeps discriminant 0 and begins with these two bytes
/// in every version there will ever be.
#[must_use]
pub fn peek(body: &[u8]) -> Option<WireVersion> {
    match *body {
        [0, major, minor, ..] => Some(WireVersion { major, minor }),
        _ => None,
    }
}
