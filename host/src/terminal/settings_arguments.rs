//! Options of `settings`.

use crate::terminal::name::name;
use crate::terminal::settings::{FORCES, LENGTHS};
use crate::terminal::vocabulary::one_of;
use holdtrue_terms::units::{ForceUnit, LengthUnit};

/// What to change; nothing: show.
#[derive(Debug, clap::Args)]
#[command(after_help = "They are kept in a file of your own; HOLDTRUE_SETTINGS names another.")]
pub struct SettingsArgs {
    /// Unit of force on screen and paper
    #[arg(long, value_parser = one_of(FORCES), ignore_case = true)]
    pub force: Option<ForceUnit>,
    /// Unit of runout on screen and paper
    #[arg(long, value_parser = one_of(LENGTHS), ignore_case = true)]
    pub length: Option<LengthUnit>,
    /// Whose name goes under what is written into a book
    #[arg(long = "name", value_name = "NAME", value_parser = name)]
    pub technician: Option<String>,
    /// Write the file anew where it cannot be understood; a file of another kind is never written over
    #[arg(long)]
    pub overwrite: bool,
}
