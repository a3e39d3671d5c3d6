//! Options of `gauge check` and `gauge knob`.

use crate::connection::GaugePort;
use crate::terminal::parse::{newtons, not_negative};
use crate::visits::book::dry_run::DryRun;
use clap::Args;

/// How the gauge is to be tried.
#[derive(Clone, Debug, Args)]
pub struct CheckArgs {
    /// Only say what would come of it.
    #[command(flatten)]
    pub dry: DryRun,
    /// Which gauge.
    #[command(flatten)]
    pub port: GaugePort,
    /// Try it on a check standard of this force, N: something that gives the same force again
    #[arg(long, value_name = "N", value_parser = newtons)]
    pub standard_n: Option<f64>,
    /// What the check standard is called: each has its own history
    #[arg(
        long,
        value_name = "NAME",
        default_value = "check standard",
        requires = "standard_n"
    )]
    pub standard: String,
    /// Expanded uncertainty (k = 2) of its force, %; 2 where not stated
    #[arg(long, value_name = "U", value_parser = not_negative, requires = "standard_n")]
    pub standard_percent: Option<f64>,
}

/// The retention knob of a gauge.
#[derive(Clone, Debug, Args)]
pub struct KnobArgs {
    /// Only say what would come of it.
    #[command(flatten)]
    pub dry: DryRun,
    /// Serial number of the gauge; needed where the book has several
    #[arg(long, value_name = "NUMBER")]
    pub serial: Option<String>,
    /// A new knob was put on just now: its clamps count from here
    #[arg(long)]
    pub changed: bool,
    /// Which knob it is: standard, head angle, serial number
    #[arg(long, value_name = "NAME", requires = "changed")]
    pub knob: Option<String>,
    /// Clamps its maker gives it; beyond them the gauge is not fit
    #[arg(long, value_name = "N", requires = "changed", value_parser = clap::value_parser!(u32).range(1..))]
    pub good_for: Option<u32>,
}
