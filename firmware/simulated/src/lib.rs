//! The real firmware library on simulated chips, spindle and operator, in virtual time.
//!
//! In: a seed, the machine's faults, bytes from a host. Out: the bytes a gauge would send. From left to right:
//!
//! | module | what it is |
//! |---|---|
//! | [`condition`] | what is wrong with the machine: named conditions, or any mix of faults with their strengths |
//! | [`world`] | physics: drawbar, gripper, load cell, taper, bar; every parameter drawn by the seed from a stated range |
//! | [`operator`] | the hands: when clamp and unclamp are pressed, how the spindle is turned, when the gauge's button is pressed |
//! | [`wiring`], [`chips`] | load cell bridge, converter, probe, indicator, button, flash, at the level of registers and pins |
//! | [`gauge`] | the firmware's three parts on these chips, as a byte stream in virtual time |
//! | [`port`] | the same as a serial device of this computer |
//! | [`recorder`] | a host in small, for tests and studies |
//! | [`build`] | what the gauge is built from: gain of its image, board, cell, how its wires are joined |
//! | [`certificate`], [`random`] | records a laboratory would have stored; random streams that never disturb each other |
//!
//! What is measured is a function of the seed, the sample's number since the start command, and the samples' numbers at
//! which the light began to show what: not of when the host asked, of self-tests or keep-alives, or of how it cut its
//! reads. The operator knows nothing of the host but what he sees: the channels it starts say which check is taken, a
//! light that says wait before a stream keeps the gauge free, and in a stepped plane he follows the light and answers
//! with his hands and the gauge's button ([`operator::stepping`]). Sines and exponentials come from `libm`, so the
//! samples are the same on every machine.
//!
//! ```
//! use holdtrue_protocol::message::Channels;
//! use holdtrue_simulated_gauge::recorder::Recorder;
//! use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};
//!
//! let mut gauge = SimulatedGauge::new(Setup::new(7, Condition::WeakSprings));
//! let force = Channels { force: true, ..Channels::default() };
//! let recording = Recorder::new(&mut gauge)
//!     .record(330, force, |gauge, _| gauge.true_clamps().len() >= 2)
//!     .expect("a healthy gauge streams");
//! assert!(recording.samples.len() > 2_000);
//! assert!(gauge.true_clamps()[0].level_n < 7_000.0);
//! assert!(gauge.misuses().is_empty());
//! ```

pub mod build;
pub mod certificate;
pub mod chips;
pub mod condition;
pub mod gauge;
pub mod operator;
pub mod port;
pub mod random;
pub mod recorder;
pub mod wiring;
pub mod world;

pub use build::{Build, Cell};
pub use condition::{Condition, Faults, Hold, Severity};
pub use gauge::{Setup, SimulatedGauge};
