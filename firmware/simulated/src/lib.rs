//! The real firmware library on simulated chips, spindle and operator, in virtual time.
//!
//! In: a seed, the machine's faults, bytes from a host. Out: the bytes a gauge would send.

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

pub use condition::{Condition, Faults, Hold, Severity};
pub use gauge::{Setup, SimulatedGauge};
