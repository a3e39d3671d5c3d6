//! Options of `visit`, `finding` and `book`.

use crate::terminal::parse::{finite, not_negative};
use crate::terminal::vocabulary::one_of;
use clap::Subcommand;
use holdtrue_terms::vocabulary::{Purpose, Severity};

/// What to do with the visit.
#[derive(Debug, Subcommand)]
pub enum VisitCommand {
    /// Start a visit
    Start {
        /// The short round of forty minutes
        #[arg(long)]
        short: bool,
        /// What is known of it.
        #[command(flatten)]
        facts: Box<VisitFacts>,
    },
    /// Show what is done and what is open
    Status,
    /// Change what is known of the open visit, such as which spindle it is
    Edit {
        /// What is known of it.
        #[command(flatten)]
        facts: Box<VisitFacts>,
    },
    /// Finish the visit: from then on nothing in it changes
    Finish,
}

/// What is known of a visit.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct VisitFacts {
    /// The spindle: name or id
    #[arg(long, value_name = "SPINDLE")]
    pub spindle: Option<String>,
    /// What the visit is for
    #[arg(long, value_parser = one_of(Purpose::ALL))]
    pub purpose: Option<Purpose>,
    /// Examined with the consent of
    #[arg(long, value_name = "NAME")]
    pub consent_of: Option<String>,
    /// Machine operated by
    #[arg(long, value_name = "NAME")]
    pub operated_by: Option<String>,
    /// Power-on hours, off the control
    #[arg(long, value_name = "HOURS", value_parser = not_negative)]
    pub power_on_hours: Option<f64>,
    /// Cutting hours, off the control
    #[arg(long, value_name = "HOURS", value_parser = not_negative)]
    pub cutting_hours: Option<f64>,
    /// Tool changes, off the control
    #[arg(long, value_name = "NUMBER")]
    pub tool_changes: Option<u64>,
    /// Temperature at the nose, °C
    #[arg(long, value_name = "DEGREES", value_parser = finite, allow_negative_numbers = true)]
    pub temperature_c: Option<f64>,
    /// How long the spindle has been running, minutes
    #[arg(long, value_name = "MINUTES", value_parser = not_negative)]
    pub running_min: Option<f64>,
    /// Number of the tool taken out of the spindle
    #[arg(long, value_name = "NUMBER")]
    pub tool: Option<String>,
}

/// What to do with findings.
#[derive(Debug, Subcommand)]
pub enum FindingCommand {
    /// Write down what was found, in order, or not examined
    Add {
        /// Assembly, such as spindle or changer
        #[arg(long, value_name = "TEXT", default_value = "spindle")]
        assembly: String,
        /// Item of it, such as "gripper fingers"
        #[arg(long, value_name = "TEXT")]
        item: String,
        /// How urgent it is; needed for something found
        #[arg(long, value_parser = one_of(Severity::ALL), conflicts_with_all = ["in_order", "not_examined"], required_unless_present_any = ["in_order", "not_examined"])]
        severity: Option<Severity>,
        /// Looked at, nothing found
        #[arg(long, conflicts_with = "not_examined")]
        in_order: bool,
        /// Not looked at; the text says why
        #[arg(long)]
        not_examined: bool,
        /// What was found, or why it was not looked at
        #[arg(
            required_unless_present = "in_order",
            default_value = "",
            hide_default_value = true
        )]
        text: String,
    },
    /// List the findings of the visit
    List,
}

/// What to do with the book.
#[derive(Debug, Subcommand)]
pub enum BookCommand {
    /// Look the whole book through for damage and conflicts
    Check,
    /// Recompute check codes, or hold a printed page to the book
    Verify {
        /// The check code as printed on the page; without it every finished visit is recomputed
        digest: Option<String>,
        /// The visit the page is about; without it the one with that check code is looked for
        #[arg(long, value_name = "ID", requires = "digest")]
        visit: Option<String>,
    },
}
