//! Options of `settings`.

use crate::terminal::name::name;
use crate::terminal::parse::{currency, months};
use crate::terminal::settings::{DayOrder, FORCES, LENGTHS, OnOff, Paper};
use crate::terminal::vocabulary::one_of;
use clap::ValueEnum;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use std::path::PathBuf;

/// What to change; nothing: show.
#[derive(Debug, clap::Args)]
#[command(after_help = "They are kept in a file of your own; HOLDTRUE_SETTINGS names another.")]
pub struct SettingsArgs {
    /// Say what they would be; write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Unit of force on screen and paper
    #[arg(long, value_parser = one_of(FORCES), ignore_case = true)]
    pub force: Option<ForceUnit>,
    /// Unit of runout on screen and paper
    #[arg(long, value_parser = one_of(LENGTHS), ignore_case = true)]
    pub length: Option<LengthUnit>,
    /// Whose name goes under what is written into a book
    // An id of its own: that of the option every command takes would bring the variable's name with it.
    #[arg(id = "own_name", long = "name", value_name = "NAME", value_parser = name)]
    pub technician: Option<String>,
    /// A second place for a copy of the book, such as a stick: a folder, or a book in one. visit finish offers to copy it
    /// there. The book itself is set with --book
    #[arg(long, value_name = "PLACE")]
    pub backup: Option<PathBuf>,
    /// Months from one visit of a spindle to the next: overview tells by it when the next is due
    #[arg(long, value_name = "MONTHS", value_parser = months())]
    pub every_months: Option<u32>,
    /// Currency of an estimate that names none: three letters, such as EUR
    #[arg(long, value_name = "LETTERS", value_parser = currency)]
    pub currency: Option<String>,
    /// Whether the bell sounds while a check is led; the gauge's light says the same
    #[arg(long, value_name = "on|off", value_enum, hide_possible_values = true)]
    pub bell: Option<OnOff>,
    /// Whether a check is led on the live screen, or in plain lines
    #[arg(long, value_name = "on|off", value_enum, hide_possible_values = true)]
    pub screen: Option<OnOff>,
    /// The sheet a paper is printed on: a4 or letter
    #[arg(long, value_name = "SHEET", value_enum, hide_possible_values = true)]
    pub paper: Option<Paper>,
    /// Whether a paper has its appendix: method, budgets, the whole check code
    #[arg(long, value_name = "on|off", value_enum, hide_possible_values = true)]
    pub appendix: Option<OnOff>,
    /// Who hands a paper over: a line at its head, name first, up to five; a new letterhead takes the place of the old one
    #[arg(long, value_name = "LINE", value_parser = name)]
    pub letterhead: Vec<String>,
    /// Their sign beside it: a PNG or JPEG. The file stays where it is and is read for each paper
    #[arg(long, value_name = "FILE")]
    pub logo: Option<PathBuf>,
    /// What stands first in a day of numbers alone, such as 5/12/2026: day-first or month-first. Without it such a day is asked
    /// back; with dots the day is first
    #[arg(long, value_name = "ORDER", value_enum, hide_possible_values = true)]
    pub dates: Option<DayOrder>,
    /// Set no longer
    #[arg(long, value_name = "WHAT", value_enum)]
    pub forget: Vec<Forgotten>,
    /// Write the file anew where it cannot be understood; a file of another kind is never written over
    #[arg(long)]
    pub overwrite: bool,
}

/// What can be set no longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Forgotten {
    /// The book: nothing happens to its file
    Book,
    /// The second place
    Backup,
    /// Months from one visit to the next
    EveryMonths,
    /// The currency
    Currency,
    /// The lines at the head of a paper
    Letterhead,
    /// The sign beside them
    Logo,
    /// The order of day and month
    Dates,
}
