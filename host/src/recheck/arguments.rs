//! Options of `recheck`.

/// What to compute again.
#[derive(Debug, clap::Args)]
pub struct RecheckArgs {
    /// One visit only: its id
    #[arg(long, value_name = "ID")]
    pub visit: Option<String>,
}
