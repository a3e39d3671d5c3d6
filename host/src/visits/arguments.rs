//! Options of `visit`, `finding` and `book`.

use crate::terminal::name::name;
use crate::terminal::parse::{a_reason, celsius, counted_hours, not_negative};
use crate::terminal::vocabulary::one_of;
use crate::visits::book::dry_run::DryRun;
use crate::visits::findings::estimate::{Allowed, Cost, Measured, Range, hours};
use crate::visits::known_day::{KnownDay, past};
use clap::Subcommand;
use holdtrue_terms::vocabulary::{Purpose, Severity};
use std::path::PathBuf;

/// What to do with the visit.
#[derive(Debug, Subcommand)]
pub enum VisitCommand {
    /// Start a visit
    Start {
        /// The short round of forty minutes
        #[arg(long, conflicts_with = "dry_run")]
        short: bool,
        /// What is known of it.
        #[command(flatten)]
        facts: Box<VisitFacts>,
        /// Only say what would come of it.
        #[command(flatten)]
        dry: DryRun,
    },
    /// Enter a notebook of old visits from a table (CSV), one row a reading; all of it or nothing
    Enter {
        /// The table; - is standard input
        #[arg(long, value_name = "FILE")]
        from: String,
        /// Check it and say what would be entered; write nothing
        #[arg(long)]
        dry_run: bool,
        /// Figures and counters that are asked about are meant as they read
        #[arg(long)]
        as_read: bool,
    },
    /// Show what is done and what is open
    Status {
        /// Which visit: a finished one too.
        #[command(flatten)]
        which: WhichVisit,
    },
    /// Change what is known of the open visit, such as which spindle it is; its sets are judged anew by that spindle's limits
    Edit {
        /// Which visit.
        #[command(flatten)]
        which: WhichVisit,
        /// The tool taken out of the spindle is back in
        #[arg(long, conflicts_with = "tool")]
        tool_back: bool,
        /// What is known of it.
        #[command(flatten)]
        facts: Box<VisitFacts>,
        /// Only say what would come of it.
        #[command(flatten)]
        dry: DryRun,
    },
    /// Finish the visit: from then on nothing in it changes
    Finish {
        /// Which visit.
        #[command(flatten)]
        which: WhichVisit,
        /// Say what is missing; finish nothing
        #[arg(long)]
        dry_run: bool,
    },
    /// Say something about a finished visit; its sets are judged anew by what is known of the spindle now. The visit as it
    /// was finished stays
    Amend {
        /// What and why
        #[arg(long, value_name = "TEXT", value_parser = a_reason)]
        because: String,
        /// Another visit than the one that began last: its id
        #[arg(long, value_name = "ID")]
        visit: Option<String>,
        /// Say which sets would be judged anew, and how; write nothing
        #[arg(long)]
        dry_run: bool,
    },
    /// Strike a whole visit out: it stays in the book with the reason
    Strike(StrikeArgs),
}

/// What to do with a set.
#[derive(Debug, Subcommand)]
pub enum CheckCommand {
    /// Put a set aside: it stays on screen and paper with its figures and the reason
    Strike {
        /// Its number, as visit status shows it
        #[arg(value_name = "NUMBER", value_parser = number)]
        number: usize,
        /// Why, and where.
        #[command(flatten)]
        strike: StrikeArgs,
    },
}

/// Striking something out, or lifting that.
#[derive(Clone, Debug, clap::Args)]
pub struct StrikeArgs {
    /// Why
    #[arg(long, value_name = "TEXT", value_parser = a_reason)]
    pub because: String,
    /// It was struck out wrongly: it counts again
    #[arg(long)]
    pub lift: bool,
    /// Another visit than the open one, or the one that began last: its id
    #[arg(long, value_name = "ID")]
    pub visit: Option<String>,
    /// Say what would be struck out, or count again; write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// What a finding should read.
#[derive(Clone, Debug, clap::Args)]
pub struct FindingFacts {
    /// Assembly, such as spindle or changer
    #[arg(long, value_name = "TEXT")]
    pub assembly: Option<String>,
    /// Item of it, such as "gripper fingers"
    #[arg(long, value_name = "TEXT")]
    pub item: Option<String>,
    /// How urgent it is
    #[arg(long, value_parser = one_of(Severity::ALL))]
    pub severity: Option<Severity>,
    /// What was found, or why it was not looked at
    #[arg(long, value_name = "TEXT")]
    pub text: Option<String>,
    /// What was measured, and what mending takes.
    #[command(flatten)]
    pub estimate: EstimateArgs,
}

fn number(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(number) if number > 0 => Ok(number),
        _ => Err(format!("found \"{text}\", expected a number from 1 up")),
    }
}

/// What was measured on a finding, and what mending it may take.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct EstimateArgs {
    /// What was measured, with its unit, such as "0.35 mm"
    #[arg(long, value_name = "VALUE")]
    pub measured: Option<Measured>,
    /// What the maker allows of it, such as "0.3 to 0.5 mm" or "at most 0.02 mm"; without it the value is not judged
    #[arg(long, value_name = "RANGE")]
    pub maker: Option<Allowed>,
    /// What mending it may cost, such as "400 to 600 EUR": an estimate, not an offer
    #[arg(long, value_name = "RANGE")]
    pub cost: Option<Cost>,
    /// Hours of work, such as "2 to 4"
    #[arg(long, value_name = "RANGE", value_parser = hours)]
    pub hours: Option<Range>,
}

/// Photos of a finding.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct PhotoArgs {
    /// A photo, JPEG or PNG, as the camera or phone wrote it; again for each further one. The book keeps the file; the page
    /// shows it upright and without place and time
    #[arg(long = "photo", value_name = "FILE")]
    pub photos: Vec<PathBuf>,
    /// What the photo shows; again for each, in their order
    #[arg(long = "caption", value_name = "TEXT", requires = "photos")]
    pub captions: Vec<String>,
}

/// Which of several open visits.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct WhichVisit {
    /// The open visit that is meant: its id; needed where several are open
    #[arg(long, value_name = "ID")]
    pub visit: Option<String>,
}

/// Where something noted by hand is kept, and what it was read on.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct NotedIn {
    /// The open visit it belongs to: its id; needed where several are open. With a book as FILE: the visit of the set
    #[arg(long, value_name = "ID", conflicts_with = "gauge")]
    pub visit: Option<String>,
    /// Serial number of the force gauge or indicator it was read on
    #[arg(long, value_name = "NUMBER", requires = "store", conflicts_with = "gauge", value_parser = name)]
    pub read_on: Option<String>,
}

/// What is known of a visit.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct VisitFacts {
    /// The spindle: name or id
    #[arg(long, value_name = "SPINDLE")]
    pub spindle: Option<String>,
    /// Entered from paper: the day of the visit as far as it is known, such as 2019-05-12, 2019-05 or 2019
    #[arg(long, value_name = "DAY", value_parser = past)]
    pub date: Option<KnownDay>,
    /// Who measured; without it, whose name goes under what is written
    #[arg(long, value_name = "NAME", value_parser = name)]
    pub measured_by: Option<String>,
    /// What the visit is for
    #[arg(long = "reason", alias = "purpose", value_parser = one_of(Purpose::ALL))]
    pub purpose: Option<Purpose>,
    /// For whom it is
    #[arg(long, value_name = "NAME", value_parser = name)]
    pub customer: Option<String>,
    /// Number of the customer's order
    #[arg(long, value_name = "TEXT", value_parser = name)]
    pub order_number: Option<String>,
    /// Examined with the consent of
    #[arg(long, value_name = "NAME")]
    pub consent_of: Option<String>,
    /// Machine operated by
    #[arg(long, value_name = "NAME")]
    pub operated_by: Option<String>,
    /// Power-on hours, off the control
    #[arg(long, value_name = "HOURS", value_parser = counted_hours)]
    pub power_on_hours: Option<f64>,
    /// Hours the spindle has turned, off the control
    #[arg(long, value_name = "HOURS", value_parser = counted_hours)]
    pub spindle_hours: Option<f64>,
    /// Cutting hours, off the control
    #[arg(long, value_name = "HOURS", value_parser = counted_hours)]
    pub cutting_hours: Option<f64>,
    /// Tool changes, off the control
    #[arg(long, value_name = "NUMBER")]
    pub tool_changes: Option<u64>,
    /// The control or its memory was replaced since the last visit: its counters began anew. Kept as an event of the spindle
    #[arg(long)]
    pub control_replaced: bool,
    /// The counters are meant as they read, however they stand to those of other visits; a taper other than the spindle's was
    /// named wrongly when it was measured
    #[arg(long)]
    pub as_read: bool,
    /// Temperature of the air around the machine, °C
    #[arg(long, value_name = "DEGREES", value_parser = celsius, allow_negative_numbers = true)]
    pub ambient_c: Option<f64>,
    /// Temperature at the nose, °C
    #[arg(long, value_name = "DEGREES", value_parser = celsius, allow_negative_numbers = true)]
    pub temperature_c: Option<f64>,
    /// How long the spindle has been running, minutes
    #[arg(long, value_name = "MINUTES", value_parser = not_negative)]
    pub running_min: Option<f64>,
    /// Number of the tool taken out of the spindle
    #[arg(long, value_name = "NUMBER")]
    pub tool: Option<String>,
}

impl VisitFacts {
    /// These, and of what a visit is led with whatever was `asked` besides.
    #[must_use]
    pub fn with(self, asked: &Self) -> Self {
        let or = |typed: Option<String>, asked: &Option<String>| typed.or_else(|| asked.clone());
        Self {
            spindle: or(self.spindle, &asked.spindle),
            purpose: self.purpose.or(asked.purpose),
            customer: or(self.customer, &asked.customer),
            consent_of: or(self.consent_of, &asked.consent_of),
            operated_by: or(self.operated_by, &asked.operated_by),
            power_on_hours: self.power_on_hours.or(asked.power_on_hours),
            tool: or(self.tool, &asked.tool),
            ..self
        }
    }

    /// Whether a counter is among them.
    pub fn any_counter(&self) -> bool {
        let hours = [self.power_on_hours, self.spindle_hours, self.cutting_hours];
        hours.iter().any(Option::is_some) || self.tool_changes.is_some()
    }
}

/// What to do with findings.
#[derive(Debug, Subcommand)]
pub enum FindingCommand {
    /// Write down what was found, in order, or not examined
    Add {
        /// Which visit.
        #[command(flatten)]
        which: WhichVisit,
        /// What was seen.
        #[command(flatten)]
        new: NewFinding,
        /// Only say what would come of it.
        #[command(flatten)]
        dry: DryRun,
    },
    /// The condition round: item by item, one key each; without a terminal by --answer or a file
    Round(RoundArgs),
    /// List the findings of the visit
    List {
        /// Which visit.
        #[command(flatten)]
        which: WhichVisit,
    },
    /// Put the photos of the visit into a folder, as they came from the camera; no file is written over
    Photos {
        /// The folder; it is made where there is none
        #[arg(value_name = "FOLDER")]
        folder: PathBuf,
        /// Those that were taken off the page, too
        #[arg(long)]
        struck: bool,
        /// Which visit.
        #[command(flatten)]
        which: WhichVisit,
    },
    /// Correct a finding: what it read stays in the book, with the reason
    Edit {
        /// Its number, as finding list shows it
        #[arg(value_name = "NUMBER", value_parser = number)]
        number: usize,
        /// What it should read.
        #[command(flatten)]
        facts: FindingFacts,
        /// Photos to add.
        #[command(flatten)]
        photos: PhotoArgs,
        /// This photo of it is not to be shown: its number, as finding list shows it
        #[arg(long, value_name = "NUMBER", value_parser = number)]
        without_photo: Option<usize>,
        /// Why; not needed where only photos are added
        #[arg(long, value_name = "TEXT", value_parser = a_reason, required_unless_present = "photos")]
        because: Option<String>,
        /// Another visit than the open one, or the one that began last: its id
        #[arg(long, value_name = "ID")]
        visit: Option<String>,
        /// Only say what would come of it.
        #[command(flatten)]
        dry: DryRun,
    },
    /// Strike a finding out: it stays in sight with the reason
    Strike {
        /// Its number, as finding list shows it
        #[arg(value_name = "NUMBER", value_parser = number)]
        number: usize,
        /// Why, and where.
        #[command(flatten)]
        strike: StrikeArgs,
    },
}

/// How the round is answered.
#[derive(Clone, Debug, clap::Args)]
pub struct RoundArgs {
    /// Which visit.
    #[command(flatten)]
    pub which: WhichVisit,
    /// Answer an item: ID=fine, ID=SEVERITY: what was seen, or ID=not: why; again for each
    #[arg(long = "answer", value_name = "ID=HOW")]
    pub answers_typed: Vec<String>,
    /// Answers of many items, as TOML: a table by the ID of the item with fine = true, or seen and severity, or not_examined;
    /// measured, maker, cost, hours, photos
    #[arg(long, value_name = "FILE")]
    pub answers: Option<PathBuf>,
    /// Whatever else of this assembly is open was looked at and is fine; again for each
    #[arg(long, value_name = "ASSEMBLY")]
    pub fine_rest: Vec<String>,
    /// Whatever else is open was not looked at, and why
    #[arg(long, value_name = "WHY", value_parser = a_reason)]
    pub not_examined_rest: Option<String>,
    /// Only these items: their ids; again for each
    #[arg(long, value_name = "ID")]
    pub item: Vec<String>,
    /// A list of your own instead of the built-in one
    #[arg(long, value_name = "FILE")]
    pub list: Option<PathBuf>,
    /// Print the built-in list, as a beginning for one of your own
    #[arg(long)]
    pub print_list: bool,
    /// Say what would be written, and write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// What was seen at the machine.
#[derive(Debug, clap::Args)]
pub struct NewFinding {
    /// Assembly, such as spindle or changer
    #[arg(long, value_name = "TEXT", default_value = "spindle")]
    pub assembly: String,
    /// Item of it, such as "gripper fingers"
    #[arg(long, value_name = "TEXT")]
    pub item: String,
    /// How urgent it is; needed for something found
    #[arg(long, value_parser = one_of(Severity::ALL), conflicts_with_all = ["in_order", "not_examined"], required_unless_present_any = ["in_order", "not_examined"])]
    pub severity: Option<Severity>,
    /// Looked at, nothing found
    #[arg(long, conflicts_with = "not_examined")]
    pub in_order: bool,
    /// Not looked at; the text says why
    #[arg(long)]
    pub not_examined: bool,
    /// What was found, or why it was not looked at
    #[arg(
        required_unless_present = "in_order",
        default_value = "",
        hide_default_value = true
    )]
    pub text: String,
    /// What was measured, and what mending takes.
    #[command(flatten)]
    pub estimate: EstimateArgs,
    /// Photos of it.
    #[command(flatten)]
    pub photos: PhotoArgs,
}

/// What to do with the book.
#[derive(Debug, Subcommand)]
pub enum BookCommand {
    /// Look the whole book through for damage and conflicts
    Check,
    /// Copy the book while it is in use, and read the copy back
    Backup {
        /// A file, or a folder to put it into
        to: PathBuf,
        /// Replace another book that lies there; an older copy of this one is replaced without being told
        #[arg(long)]
        overwrite: bool,
        /// Say where the copy would lie, and what it would take the place of; write nothing
        #[arg(long)]
        dry_run: bool,
    },
    /// Take over whatever another copy of the book holds and this one does not
    Merge {
        /// The other copy; it stays as it is
        other: PathBuf,
        /// Say what would be taken over; write nothing
        #[arg(long)]
        dry_run: bool,
    },
    /// Recompute check codes, or hold a printed page to the book
    Verify {
        /// The check code as printed on the page, the short one of its foot or the whole one of its appendix, with its blanks
        /// or without; without a check code every finished visit is recomputed
        #[arg(value_name = "CODE")]
        digest: Vec<String>,
        /// The visit the page is about; without it the one with that check code is looked for
        #[arg(long, value_name = "ID", requires = "digest")]
        visit: Option<String>,
    },
}
