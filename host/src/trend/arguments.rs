//! Options of `trend`.

use crate::terminal::parse::finite;
use crate::visits::checks::stored_figure::StoredFigure;
use clap::ValueEnum;
use serde::Serialize;

/// Which figure, of which spindle, against what.
#[derive(Debug, clap::Args)]
pub struct TrendArgs {
    /// The figure that is followed [default: grip-mean; of a table what its column says]
    #[arg(long, value_enum, value_name = "FIGURE")]
    pub figure: Option<StoredFigure>,
    /// Against what it is followed [default: date; of a table the column it has]
    #[arg(long, value_enum, value_name = "WHAT")]
    pub against: Option<Against>,
    /// The spindle: name or id; needed where the book has several
    #[arg(long, value_name = "SPINDLE", conflicts_with = "from")]
    pub spindle: Option<String>,
    /// Figures from elsewhere (CSV: date, hours or tool_changes; value_… and standard_… in one unit; optional
    /// repair_before 0 or 1); - is standard input
    #[arg(long, value_name = "FILE")]
    pub from: Option<String>,
    /// The limit, in the unit of the figure or column: lower for forces, upper for the rest
    #[arg(long, value_name = "VALUE", value_parser = finite, allow_hyphen_values = true)]
    pub limit: Option<f64>,
}

/// What a figure is followed against.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Against {
    /// The day of the visit
    #[default]
    Date,
    /// Hours off the control: spindle, cutting or power-on, whichever most visits noted
    Hours,
    /// Tool changes off the control
    ToolChanges,
}

impl Against {
    /// One of its unit.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Date => "day",
            Self::Hours => "hour",
            Self::ToolChanges => "tool change",
        }
    }
}
