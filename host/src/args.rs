//! The command line. In: words. Out: what is asked for, or why it cannot be understood.

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use clap_complete::Shell;
use std::ffi::OsString;
use std::path::PathBuf;

pub mod gauge;
pub mod grip;
pub mod limits;
pub mod parse;
pub mod recheck;
pub mod rehearse;
pub mod report;
pub mod runout;
pub mod settings;
pub mod spindle;
pub mod study;
pub mod visit;

/// Measure spindle grip force and taper runout, judge them, keep them, report them.
#[derive(Debug, Parser)]
#[command(name = "holdtrue", version, propagate_version = true)]
pub struct Cli {
    /// What applies to every command.
    #[command(flatten)]
    pub global: Global,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

impl Cli {
    /// Reads the words of a command line.
    ///
    /// # Errors
    /// What cannot be understood, and help and version, which are no error.
    pub fn read(words: impl IntoIterator<Item = OsString>) -> Result<Self, clap::Error> {
        let matches = with_negative_numbers(Self::command()).try_get_matches_from(words)?;
        Self::from_arg_matches(&matches).map_err(|e| e.format(&mut Self::command()))
    }
}

/// A negative number after an option is a value of it and no option of its own, so that what reads the value can say
/// what it expects.
fn with_negative_numbers(command: clap::Command) -> clap::Command {
    command
        .mut_args(|arg| match arg.get_action().takes_values() {
            true => arg.allow_negative_numbers(true),
            false => arg,
        })
        .mut_subcommands(with_negative_numbers)
}

/// Options every command takes, before or after its name.
#[derive(Clone, Debug, clap::Args)]
pub struct Global {
    /// The book of visits
    #[arg(long, global = true, env = "HOLDTRUE_BOOK", value_name = "FILE")]
    pub book: Option<PathBuf>,
    /// Whose name goes under what is written into the book; else the one from the settings
    #[arg(long, global = true, env = "HOLDTRUE_TECHNICIAN", value_name = "NAME")]
    pub technician: Option<String>,
    /// One JSON document on standard output; messages go to standard error
    #[arg(long, global = true)]
    pub json: bool,
    /// Take cautions and questions as acknowledged (they still print; the record says "by flag")
    #[arg(long, global = true)]
    pub yes: bool,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// A whole visit against the simulated gauge, no hardware
    Rehearse(rehearse::RehearseArgs),
    /// Grip force: clamps, figures, verdict
    Grip(Box<grip::GripArgs>),
    /// Taper runout: eccentricity, spindle and bar, verdict
    Runout(Box<runout::RunoutArgs>),
    /// Spindles of the book
    #[command(subcommand)]
    Spindle(spindle::SpindleCommand),
    /// Start, look at and finish a visit
    #[command(subcommand)]
    Visit(visit::VisitCommand),
    /// What was seen at the machine
    #[command(subcommand)]
    Finding(visit::FindingCommand),
    /// The page a customer reads
    Report(report::ReportArgs),
    /// Compute stored results again from their records and show what differs
    Recheck(recheck::RecheckArgs),
    /// Repeatability and reproducibility of the check, from readings of the same parts by several technicians
    Study(study::StudyArgs),
    /// Is the book sound, and does it agree with a printed page?
    #[command(subcommand)]
    Book(visit::BookCommand),
    /// Force gauges on this computer
    #[command(subcommand)]
    Gauge(gauge::GaugeCommand),
    /// Limits files and the usual ranges
    #[command(subcommand)]
    Limits(limits::LimitsCommand),
    /// Compute the built-in reference checks on this machine: expected beside computed
    Prove,
    /// Show or change the units on screen
    Settings(settings::SettingsArgs),
    /// Describe the JSON of a result
    Schema {
        /// Which result; without it: the list
        name: Option<String>,
    },
    /// Print completions for a shell
    Completions {
        /// Which shell
        shell: Shell,
    },
    /// Print the manual page
    Man {
        /// Of one command only
        command: Option<String>,
    },
}
