//! In: a simulated gauge and a pace. Out: a serial device of this computer that another program can open.
//!
//! ```no_run
//! use std::sync::atomic::AtomicBool;
//! use holdtrue_simulated_gauge::port::{Pace, Port};
//! use holdtrue_simulated_gauge::{Condition, Setup};
//!
//! let stop = AtomicBool::new(false);
//! let mut port = Port::offer(Setup::new(1, Condition::Sound), Pace::Times(1.0))?;
//! println!("{}", port.path().display());
//! port.run(&stop)?;
//! # Ok::<(), holdtrue_simulated_gauge::port::PortError>(())
//! ```

#[cfg(not(unix))]
mod elsewhere;
#[cfg(unix)]
mod pty;

use std::fmt;
use std::io;
use std::str::FromStr;

#[cfg(not(unix))]
pub use elsewhere::Port;
#[cfg(unix)]
pub use pty::Port;

/// How fast the simulated world runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// So many seconds of its own in one of ours; 1 is real time. A reader that stalls loses samples, as on a cable.
    Times(f64),
    /// As fast as its reader reads: it waits, and nothing is dropped.
    Max,
}

impl Default for Pace {
    fn default() -> Self {
        Self::Times(1.0)
    }
}

/// A pace that is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownPace(pub String);

impl fmt::Display for UnknownPace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "pace \"{}\" is neither a number above 0 and up to 1000 nor \"max\"; 1 is real time",
            self.0
        )
    }
}

impl std::error::Error for UnknownPace {}

impl FromStr for Pace {
    type Err = UnknownPace;

    fn from_str(word: &str) -> Result<Self, UnknownPace> {
        if word == "max" {
            return Ok(Self::Max);
        }
        match word.parse::<f64>() {
            Ok(times) if times > 0.0 && times <= 1_000.0 => Ok(Self::Times(times)),
            _ => Err(UnknownPace(word.to_owned())),
        }
    }
}

/// Why the gauge cannot be offered as a serial device.
#[derive(Debug)]
pub enum PortError {
    /// The system refused a step.
    System {
        /// Which step.
        step: &'static str,
        /// Its words.
        found: io::Error,
    },
    /// This system has no pseudo-terminals.
    NotHere,
}

impl fmt::Display for PortError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::System { step, found } => write!(
                f,
                "cannot offer the simulated gauge as a serial device: {step} failed ({found}); \
                 is /dev/ptmx there, and are pseudo-terminals left? Without it, rehearse in one process: leave out --as-port"
            ),
            Self::NotHere => write!(
                f,
                "this system has no pseudo-terminals to offer the simulated gauge on; \
                 rehearse in one process (leave out --as-port), or use Linux or macOS"
            ),
        }
    }
}

impl std::error::Error for PortError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::System { found, .. } => Some(found),
            Self::NotHere => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paces_read_as_written_and_nonsense_is_refused_by_name() {
        assert_eq!("max".parse(), Ok(Pace::Max));
        assert_eq!("2.5".parse(), Ok(Pace::Times(2.5)));
        for nonsense in ["0", "-1", "NaN", "inf", "fast", ""] {
            let refused = nonsense.parse::<Pace>().unwrap_err().to_string();
            assert!(refused.contains(&format!("\"{nonsense}\"")), "{refused}");
        }
    }
}
