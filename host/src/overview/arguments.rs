//! Options of `overview`.

use crate::terminal::parse::{day, months};
use crate::terminal::vocabulary::one_of;
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::Class;
use jiff::civil::Date;

/// Which spindles, and how they are told.
#[derive(Debug, clap::Args)]
pub struct OverviewArgs {
    /// Only spindles whose place has this in it
    #[arg(long, value_name = "TEXT")]
    pub place: Option<String>,
    /// Only this taper, such as BT40
    #[arg(long, value_name = "TAPER", value_parser = clap::value_parser!(Interface))]
    pub interface: Option<Interface>,
    /// Only this class
    #[arg(long, value_parser = one_of(Class::ALL), value_name = "CLASS")]
    pub class: Option<Class>,
    /// Only those whose next visit, or the calibration of a gauge last used on them, is due
    #[arg(long)]
    pub due: bool,
    /// Months from one visit to the next, where nothing calls for an earlier one; else those of the settings, else 12: common
    /// practice, no source
    #[arg(long, value_name = "MONTHS", value_parser = months())]
    pub every: Option<u32>,
    /// The day it is told for [default: today]
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub on: Option<Date>,
    /// A table (CSV) instead of lines for a person
    #[arg(long)]
    pub csv: bool,
}
