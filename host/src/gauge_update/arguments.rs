//! Options of `gauge update`.

use crate::connection::GaugePort;
use clap::Args;
use std::path::PathBuf;

/// Which image, into which gauge.
#[derive(Clone, Debug, Args)]
pub struct UpdateArgs {
    /// The image, a UF2 file
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Which gauge.
    #[command(flatten)]
    pub port: GaugePort,
    /// Where the drive of its boot mode appears; else it is looked for
    #[arg(long, value_name = "FOLDER")]
    pub drive: Option<PathBuf>,
    /// How long to wait for the drive, and then for the gauge, s
    #[arg(long, value_name = "S", default_value_t = 60, value_parser = clap::value_parser!(u32).range(1..=3600))]
    pub wait: u32,
    /// Look at file and gauge only, and write nothing
    #[arg(long)]
    pub dry_run: bool,
}
