//! Options of `spindle`.

use crate::terminal::name::name;
use crate::terminal::parse::{a_reason, newtons};
use crate::terminal::vocabulary::one_of;
use crate::visits::book::dry_run::DryRun;
use crate::visits::known_day::{KnownDay, past};
use clap::{Subcommand, ValueEnum};
use holdtrue_book::SpindleHeader;
use holdtrue_terms::vocabulary::{Axis, Class, Drawbar, Drive, Happened};

/// What to do with the spindles of the book.
#[derive(Debug, Subcommand)]
pub enum SpindleCommand {
    /// Enter a spindle
    Add {
        /// What people call it
        #[arg(value_parser = name)]
        name: String,
        /// What is known of it.
        #[command(flatten)]
        facts: Box<SpindleFacts>,
        /// Only say what would come of it.
        #[command(flatten)]
        dry: DryRun,
    },
    /// List the spindles
    List,
    /// Show one spindle and its visits
    Show {
        /// Name or id
        spindle: String,
    },
    /// Write down what happened to a spindle beside the visits, with its day
    Event {
        /// Name or id
        spindle: String,
        /// What happened: springs-changed, gripper-changed, spindle-changed and drawbar-adjusted begin its figures anew, the
        /// others are marks among them
        #[arg(long, value_parser = one_of(Happened::ALL), required_unless_present = "strike")]
        what: Option<Happened>,
        /// The day as far as it is known, such as 2025-03-12, 2025-03 or 2025; without it today
        #[arg(long, alias = "date", value_name = "DAY", value_parser = past, conflicts_with = "strike")]
        on: Option<KnownDay>,
        /// In words: part numbers, who did it …
        #[arg(
            long,
            value_name = "TEXT",
            default_value = "",
            hide_default_value = true,
            conflicts_with = "strike"
        )]
        text: String,
        /// Strike the event with this id out: it was entered by mistake. It stays in the book
        #[arg(long, value_name = "ID", requires = "because", conflicts_with = "what")]
        strike: Option<String>,
        /// Why
        #[arg(long, value_name = "TEXT", value_parser = a_reason, requires = "strike")]
        because: Option<String>,
        /// It was struck out wrongly: it counts again
        #[arg(long, requires = "strike")]
        lift: bool,
        /// Only say what would come of it.
        #[command(flatten)]
        dry: DryRun,
    },
    /// Change what is known of a spindle; what it was before stays in the book
    Edit {
        /// Name or id
        spindle: String,
        /// A new name
        #[arg(long, value_name = "NAME", value_parser = name)]
        name: Option<String>,
        /// It is the same spindle as this other entry
        #[arg(long, value_name = "SPINDLE")]
        same_as: Option<String>,
        /// Not known after all: takes it off the page
        #[arg(long, value_name = "WHAT", value_enum)]
        forget: Vec<SpindleFact>,
        /// Take it out of the lists, for this reason
        #[arg(long, value_name = "REASON")]
        remove: Option<String>,
        /// What is known of it.
        #[command(flatten)]
        facts: Box<SpindleFacts>,
        /// Only say what would come of it.
        #[command(flatten)]
        dry: DryRun,
    },
}

impl SpindleCommand {
    /// The spindle all of which is shown in the end.
    pub fn shown_whole(&self) -> Option<&str> {
        match self {
            Self::Add { name, .. } => Some(name),
            Self::Show { spindle } => Some(spindle),
            Self::Edit {
                remove: Some(_), ..
            }
            | Self::Edit {
                same_as: Some(_), ..
            }
            | Self::List
            | Self::Event { .. } => None,
            Self::Edit { spindle, name, .. } => Some(name.as_ref().unwrap_or(spindle)),
        }
    }
}

/// What limits and budgets hang on, and can be taken off the page of a spindle again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum SpindleFact {
    /// The maker's nominal grip force
    NominalN,
    /// The maker's least grip force
    MinimumN,
    /// The taper
    Interface,
    /// What holds the tool
    Drawbar,
    /// The class
    Class,
}

impl SpindleFact {
    /// Takes it off a page.
    pub fn forget(self, header: &mut SpindleHeader) {
        match self {
            Self::NominalN => header.grip_nominal_n = None,
            Self::MinimumN => header.grip_minimum_n = None,
            Self::Drawbar => header.drawbar = None,
            Self::Class => header.grip_class = None,
            Self::Interface => {
                header.taper = None;
                header.taper_size = None;
                header.shank = None;
            }
        }
    }
}

/// What is known of a spindle and its machine.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct SpindleFacts {
    /// Machine, as on its plate
    #[arg(long, value_name = "TEXT")]
    pub machine: Option<String>,
    /// Serial number of the machine
    #[arg(long, value_name = "TEXT")]
    pub machine_serial: Option<String>,
    /// Serial number of the spindle
    #[arg(long, value_name = "TEXT")]
    pub spindle_serial: Option<String>,
    /// Where it stands
    #[arg(long, value_name = "TEXT")]
    pub place: Option<String>,
    /// Place and machine are invented, for trying things out; prints so
    #[arg(long)]
    pub invented: bool,
    /// Taper as it is called, such as 7/24-40, BT40, CAT40, SK40 or HSK-A63
    #[arg(long, value_name = "NAME")]
    pub interface: Option<String>,
    /// Retention knob (pull stud): standard and head angle
    #[arg(long, value_name = "TEXT")]
    pub knob: Option<String>,
    /// What holds the tool
    #[arg(long, value_parser = one_of(Drawbar::NAMED))]
    pub drawbar: Option<Drawbar>,
    /// What drives the spindle
    #[arg(long, value_parser = one_of(Drive::ALL))]
    pub drive: Option<Drive>,
    /// Coolant through the spindle
    #[arg(long, value_name = "YES|NO", value_parser = yes_or_no)]
    pub through_coolant: Option<bool>,
    /// Nose made for face contact
    #[arg(long, value_name = "YES|NO", value_parser = yes_or_no)]
    pub face_contact: Option<bool>,
    /// Which way the spindle points
    #[arg(long, value_parser = one_of(Axis::ALL))]
    pub axis: Option<Axis>,
    /// The maker's nominal grip force, N
    #[arg(long, value_name = "N", value_parser = newtons)]
    pub nominal_n: Option<f64>,
    /// The maker's least grip force, N
    #[arg(long, value_name = "N", value_parser = newtons)]
    pub minimum_n: Option<f64>,
    /// Forces are meant as they read, however unusual, and entries with other serial numbers or tapers are one spindle
    #[arg(long)]
    pub as_read: bool,
    /// Class of the drawbar, an assumption where the maker's figure is missing
    #[arg(long, value_parser = one_of(Class::ALL))]
    pub class: Option<Class>,
}

fn yes_or_no(text: &str) -> Result<bool, String> {
    match text.to_lowercase().as_str() {
        "yes" | "y" => Ok(true),
        "no" | "n" => Ok(false),
        _ => Err(format!("found \"{text}\", expected yes or no")),
    }
}
