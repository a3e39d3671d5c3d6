//! Options of `limits`.

use clap::Subcommand;

/// What to do with limits.
#[derive(Debug, Subcommand)]
pub enum LimitsCommand {
    /// List the usual grip forces: they never accept a spindle, the maker's figure does
    List,
    /// Show a limits file as it is understood
    Show {
        /// Limits file (TOML)
        file: String,
    },
    /// Check limits files
    Check {
        /// Limits files (TOML)
        #[arg(value_name = "FILE", required = true)]
        files: Vec<String>,
    },
}
