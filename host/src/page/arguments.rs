//! Options of `report`.

use std::path::PathBuf;

/// Which visit, and where the page goes.
#[derive(Debug, clap::Args)]
pub struct ReportArgs {
    /// The visit: its id; without it the one that began last
    #[arg(value_name = "VISIT")]
    pub visit: Option<String>,
    /// Not a visit, but the history of this spindle: name or id
    #[arg(long, value_name = "SPINDLE", conflicts_with = "visit")]
    pub spindle: Option<String>,
    /// Write one self-contained page
    #[arg(long, value_name = "FILE", required_unless_present = "pdf")]
    pub html: Option<PathBuf>,
    /// Write the same as a PDF, on the sheet and with the appendix or not as the settings say
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    /// Replace the page that is there; a file of another kind is never written over
    #[arg(long)]
    pub overwrite: bool,
}
