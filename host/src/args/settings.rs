//! Options of `settings`.

use crate::settings::{ForceUnit, LengthUnit};

/// What to change; nothing: show.
#[derive(Debug, clap::Args)]
pub struct SettingsArgs {
    /// Unit of force on screen and paper
    #[arg(long, value_enum, ignore_case = true)]
    pub force: Option<ForceUnit>,
    /// Unit of runout on screen and paper
    #[arg(long, value_enum, ignore_case = true)]
    pub length: Option<LengthUnit>,
    /// Whose name goes under what is written into a book
    #[arg(long = "name", value_name = "NAME")]
    pub technician: Option<String>,
}
