//! The command line. In: words. Out: what is asked for, or why it cannot be understood.

use crate::calibration::arguments::{CalibrateArgs, CertificateArgs};
use crate::connection::GaugePort;
use crate::did_you_mean::with_tip;
use crate::examples::with_examples;
use crate::gauge_check::arguments::{CheckArgs, KnobArgs};
use crate::gauge_update::arguments::UpdateArgs;
use crate::terminal::app::Global;
use clap::builder::PossibleValuesParser;
use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use clap_complete::Shell;
use holdtrue_metrology::{grip, runout};
use std::ffi::OsString;
use std::sync::LazyLock;

/// Measure spindle grip force and taper runout, judge them, keep them, report them.
#[derive(Debug, Parser)]
#[command(name = "holdtrue", version, long_version = BUILD.as_str(), propagate_version = true)]
pub struct Cli {
    /// What applies to every command.
    #[command(flatten)]
    pub global: Global,
    /// What to do; alone on a terminal: the day, led.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// Which build this is: with its commit, where it was made for others, and the versions of the analysis, which stand
/// beside every stored result.
static BUILD: LazyLock<String> = LazyLock::new(|| {
    let commit =
        option_env!("HOLDTRUE_COMMIT").map_or_else(String::new, |commit| format!(" ({commit})"));
    format!(
        "{}{commit}\nanalysis: grip {}, runout {}",
        env!("CARGO_PKG_VERSION"),
        grip::result::ANALYSIS_VERSION,
        runout::ANALYSIS_VERSION,
    )
});

impl Cli {
    /// Reads the words of a command line.
    ///
    /// # Errors
    /// What cannot be understood, and help and version, which are no error.
    pub fn read(words: impl IntoIterator<Item = OsString>) -> Result<Self, clap::Error> {
        let words: Vec<OsString> = words.into_iter().collect();
        let whole = with_negative_numbers(Self::whole());
        let read = whole.clone().try_get_matches_from(&words);
        let matches = read.map_err(|refused| with_tip(refused, &words, &whole))?;
        Self::from_arg_matches(&matches).map_err(|e| e.format(&mut Self::command()))
    }

    /// Every command, with its example.
    pub(crate) fn whole() -> clap::Command {
        with_examples(Self::command())
    }

    /// The help, as where no command is named.
    pub fn help() -> String {
        Self::command().render_help().to_string()
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

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// A whole visit against the simulated gauge, no hardware
    Rehearse(crate::rehearse::arguments::RehearseArgs),
    /// Grip force: clamps, figures, verdict
    Grip(Box<crate::grip::arguments::GripArgs>),
    /// Taper runout: eccentricity, spindle and bar, verdict
    Runout(Box<crate::runout::arguments::RunoutArgs>),
    /// Spindles of the book
    #[command(subcommand)]
    Spindle(crate::visits::spindles::spindle_arguments::SpindleCommand),
    /// Start, look at and finish a visit
    #[command(subcommand)]
    Visit(crate::visits::arguments::VisitCommand),
    /// Put a set of a visit aside
    #[command(subcommand)]
    Check(crate::visits::arguments::CheckCommand),
    /// What was seen at the machine
    #[command(subcommand)]
    Finding(crate::visits::arguments::FindingCommand),
    /// The page a customer reads
    Report(crate::page::arguments::ReportArgs),
    /// Compute stored results again from their records and show what differs
    Recheck(crate::recheck::arguments::RecheckArgs),
    /// Repeatability and reproducibility of the check, from readings of the same parts by several technicians
    Study(crate::study::arguments::StudyArgs),
    /// Every spindle of the book, worst first: last verdict, trend, crossing, what is due
    Overview(crate::overview::arguments::OverviewArgs),
    /// Is it getting worse, and when will it cross the limit? One figure through the visits, or from a table
    Trend(crate::trend::arguments::TrendArgs),
    /// Is the book sound, does it agree with a printed page? Copies of it
    #[command(subcommand)]
    Book(crate::visits::arguments::BookCommand),
    /// Force gauges on this computer
    #[command(subcommand)]
    Gauge(GaugeCommand),
    /// Limits files and the usual ranges
    #[command(subcommand)]
    Limits(crate::limits::arguments::LimitsCommand),
    /// Compute the built-in reference checks on this machine: expected beside computed
    Prove,
    /// Show or change the units on screen
    Settings(crate::terminal::settings_arguments::SettingsArgs),
    /// Describe the JSON of a result
    Schema {
        /// Which result; without it: the list
        #[arg(value_parser = PossibleValuesParser::new(crate::schemas::names()))]
        name: Option<String>,
    },
    /// Print completions for a shell
    Completions {
        /// Which shell
        shell: Shell,
    },
    /// Print the manual page
    Man {
        /// Of one command only, such as: gauge calibrate
        command: Vec<String>,
    },
}

/// What to do with the force gauge.
#[derive(Debug, Subcommand)]
pub enum GaugeCommand {
    /// List the serial ports and say which are gauges; opens none
    List,
    /// Who the gauge is and how it is calibrated
    Info(GaugePort),
    /// Try the gauge before the first clamp: zero, noise, drift, electronics, calibration, knob; with --standard-n on a
    /// check standard too. Kept in the book
    Check(CheckArgs),
    /// The checks of a gauge since its calibrations, out of the book: no gauge is needed
    History {
        /// Serial number of the gauge; needed where the book has several
        #[arg(long, value_name = "NUMBER")]
        serial: Option<String>,
    },
    /// How many clamps the retention knob has seen, out of the book; --changed records a new knob
    Knob(KnobArgs),
    /// Enter a laboratory's certificate; with --gauge it is written into the gauge and the book
    Certificate(Box<CertificateArgs>),
    /// Make a calibration: of the load cell in a guarded press, or of the indicator on gauge blocks; from a table, or
    /// led step by step. With --gauge it is written into the gauge and the book
    Calibrate(Box<CalibrateArgs>),
    /// Load another image into the gauge: the file is looked at, the gauge sent into its boot mode, and who answers after
    /// it is read back with its calibrations
    Update(UpdateArgs),
}
