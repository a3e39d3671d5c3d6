//! In: a serial device (or the simulated gauge in this process). Out: whole frames, in order, as received.
//!
//! A [`Link`] moves frames and keeps its own time: wall time on a cable, virtual time in the simulator.
//! It knows nothing of what the frames mean.

pub mod awake;
pub mod discover;
pub mod serial;
pub mod simulated;
pub(crate) mod unplugged;

use holdtrue_protocol::message::ToGauge;
use std::time::Duration;

/// One frame between gauge and host: message and CRC, after COBS, exactly as received.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RawFrame(pub Vec<u8>);

/// What the cable did to the frames so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Damage {
    /// Frames whose CRC or COBS coding was wrong.
    pub damaged: u64,
    /// Stretches of bytes too long to be a frame.
    pub over_long: u64,
}

impl Damage {
    /// What came since an earlier look.
    #[must_use]
    pub fn since(self, earlier: Self) -> Self {
        Self {
            damaged: self.damaged.saturating_sub(earlier.damaged),
            over_long: self.over_long.saturating_sub(earlier.over_long),
        }
    }

    /// Both together.
    #[must_use]
    pub fn and(self, more: Self) -> Self {
        Self {
            damaged: self.damaged + more.damaged,
            over_long: self.over_long + more.over_long,
        }
    }

    /// In words, with what to do; nothing where all frames came whole.
    pub fn words(self) -> Option<String> {
        let frames = self.damaged + self.over_long;
        let what = if frames == 1 { "frame" } else { "frames" };
        (frames > 0).then(|| format!(
            "{frames} damaged {what} on the cable: their samples are missing. Look at plug and cable, keep them away from drives and motors."
        ))
    }
}

/// A way to a gauge.
pub trait Link {
    /// The next frame, or `None` when none came within `wait` of the link's own time.
    ///
    /// # Errors
    /// [`LinkError::Lost`] when the device is gone.
    fn receive(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError>;

    /// Queues a message; returns before it is on the wire.
    ///
    /// # Errors
    /// [`LinkError::Lost`] when the device is gone.
    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError>;

    /// Time since the link was opened, in its own time.
    fn elapsed(&self) -> Duration;

    /// What a person calls it: the port's name.
    fn name(&self) -> &str;

    /// What the cable did so far.
    fn damage(&self) -> Damage;

    /// How long this computer has slept since the link was opened; [`Link::elapsed`] stands still meanwhile. Zero where
    /// that cannot be known.
    fn slept(&self) -> Duration {
        Duration::ZERO
    }

    /// Asks the system not to sleep, or lets it again; does nothing where it cannot be asked.
    fn keep_awake(&mut self, _awake: bool) {}
}

/// What can go wrong between the program and a gauge. Every text says what to do next.
#[derive(Debug, thiserror::Error)]
pub enum LinkError {
    /// No port of that name.
    #[error("{port}: no such port; plug the gauge in and see `holdtrue gauge list`")]
    NotFound {
        /// The port asked for.
        port: String,
    },
    /// Somebody else has it.
    #[error("{port}: another program has this port open; close it, then try again")]
    Busy {
        /// The port asked for.
        port: String,
    },
    /// The system says no.
    #[error(
        "{port}: no permission to open this port; see \"Plugging in\" in the README for the rule to install"
    )]
    Permission {
        /// The port asked for.
        port: String,
    },
    /// The system's own words.
    #[error("{port}: {found}; unplug the gauge, plug it in again and see `holdtrue gauge list`")]
    Io {
        /// The port asked for.
        port: String,
        /// What the system said.
        found: String,
    },
    /// `--gauge auto` found none.
    #[error(
        "no gauge found: no USB port calls itself \"{product}\"; ports here: {ports}; name one with --gauge PORT"
    )]
    NoneFound {
        /// Product string looked for.
        product: &'static str,
        /// Ports that exist.
        ports: String,
    },
    /// `--gauge auto` found several.
    #[error("several gauges are plugged in: {ports}; choose one with --gauge PORT")]
    SeveralFound {
        /// The gauges' ports.
        ports: String,
    },
    /// The cable was pulled or the gauge lost power.
    #[error(
        "{port}: the gauge is gone ({found}); plug it in again and repeat the command: a grip or runout check goes on where it stopped"
    )]
    Lost {
        /// The port.
        port: String,
        /// What was seen.
        found: String,
    },
    /// Opened, but nothing understandable comes.
    #[error(
        "{port}: no answer from a gauge for {waited_ms} ms; is the gauge powered, and is this its port?"
    )]
    Silent {
        /// The port.
        port: String,
        /// How long was waited.
        waited_ms: u128,
    },
    /// It is there, but measures no more.
    #[error(
        "{port}: the gauge stopped measuring ({found}); unplug it, plug it in again and repeat the command: a grip or runout check goes on where it stopped"
    )]
    Stopped {
        /// The port.
        port: String,
        /// What was seen.
        found: String,
    },
    /// This computer slept while the gauge measured.
    #[error(
        "{port}: this computer slept for {slept_s} s, and {meanwhile}; repeat the command: a grip or runout check goes on where it \
         stopped. Keep the lid open and sleep switched off while you measure"
    )]
    Slept {
        /// The port.
        port: String,
        /// How long, s.
        slept_s: u64,
        /// What became of the gauge.
        meanwhile: &'static str,
    },
    /// The gauge speaks a newer language.
    #[error(
        "{port}: this gauge speaks wire version {gauge}, this program reads up to {ours}; update the program"
    )]
    WireVersion {
        /// The port.
        port: String,
        /// The gauge's version.
        gauge: String,
        /// Ours.
        ours: String,
    },
    /// A request was refused.
    #[error("{port}: the gauge refused to {request}: {reason}")]
    Refused {
        /// The port.
        port: String,
        /// What was asked.
        request: &'static str,
        /// Why not, and what to do.
        reason: String,
    },
    /// Its calibration record breaks the rules of a certificate.
    #[error(
        "{port}: the gauge's calibration {record} cannot be used: {part}: found {found}, expected {expected}. \
         Write its certificate into it again (`holdtrue gauge certificate`); if it comes back, have the gauge repaired"
    )]
    BadRecord {
        /// The port.
        port: String,
        /// Its name, and the certificate it was made from.
        record: String,
        /// Which part.
        part: &'static str,
        /// What was found.
        found: String,
        /// What was expected.
        expected: String,
    },
    /// Its calibration was made on something else than what the gauge is built from.
    #[error(
        "{port}: the gauge's calibration {record} does not belong to what the gauge is built from. {difference}. \
         No force is measured with it"
    )]
    OtherHardware {
        /// The port.
        port: String,
        /// Its name, and the certificate it was made from.
        record: String,
        /// What differs, and what to do.
        difference: String,
    },
    /// It says of itself what no gauge can say.
    #[error(
        "{port}: the gauge says what cannot be: {part}: found {found}, expected {expected}. \
         Load its firmware again; if it stays, have the gauge repaired"
    )]
    Absurd {
        /// The port.
        port: String,
        /// Which part.
        part: &'static str,
        /// What was found.
        found: String,
        /// What was expected.
        expected: String,
    },
    /// Another gauge was plugged in than the one that was measured with.
    #[error(
        "{port}: this is gauge {found}, and the check was begun with {expected}; plug that one in again"
    )]
    OtherGauge {
        /// The port.
        port: String,
        /// Serial number of the one that answers.
        found: String,
        /// Serial number of the one that was lost.
        expected: String,
    },
    /// The gauge restarted in the middle.
    #[error(
        "{port}: the gauge restarted ({cause}); check cable and plug, then repeat the command: a grip or runout check goes on where it stopped"
    )]
    Restarted {
        /// The port.
        port: String,
        /// What the gauge says of its restart.
        cause: String,
    },
}
