//! Options of `gauge`.

use clap::{Args, Subcommand};

/// What to do with the force gauge.
#[derive(Debug, Subcommand)]
pub enum GaugeCommand {
    /// List the serial ports and say which are gauges; opens none
    List,
    /// Who the gauge is and how it is calibrated
    Info(GaugePort),
    /// Try the gauge before the first clamp: zero, noise, drift, electronics, calibration
    Check(GaugePort),
}

/// Which gauge.
#[derive(Clone, Debug, Args)]
pub struct GaugePort {
    /// The gauge's port, or "auto" for the only one plugged in
    #[arg(long, value_name = "PORT|auto", default_value = "auto")]
    pub gauge: String,
}
