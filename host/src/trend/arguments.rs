//! Options of `trend`.

use crate::terminal::parse::finite;
use crate::visits::checks::stored_figure::StoredFigure;
use clap::ValueEnum;
use holdtrue_terms::quantity;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
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
    /// The limit, such as 7.5kN; without a unit in that of the figure (N, um …) or column. Lower for forces, upper for the rest
    #[arg(long, value_name = "VALUE", value_parser = TypedLimit::read, allow_hyphen_values = true)]
    pub limit: Option<TypedLimit>,
}

/// A limit as it is typed: its unit is known once the figure is.
#[derive(Clone, Debug, PartialEq)]
pub struct TypedLimit(pub String);

impl TypedLimit {
    fn read(text: &str) -> Result<Self, String> {
        finite(quantity::split(text).0)?;
        Ok(Self(text.to_owned()))
    }

    /// In the unit of a figure or column.
    ///
    /// # Errors
    /// What was expected: a unit of another kind.
    pub fn in_unit(&self, of: &str) -> Result<f64, String> {
        let (number, unit) = quantity::split(&self.0);
        if unit.is_empty() || unit == of {
            return finite(number);
        }
        let force: Option<f64> = of.parse().ok().and_then(|of: ForceUnit| {
            let typed = quantity::read(&self.0, of).ok()?;
            Some(of.from_newtons(typed.newtons()))
        });
        let length = || {
            let of: LengthUnit = of.parse().ok()?;
            let typed = quantity::read(&self.0, of).ok()?;
            Some(of.from_micrometres(typed.micrometres()))
        };
        force.or_else(length).ok_or_else(|| {
            format!(
                "found \"{}\", expected a limit in {of} or a unit like it",
                self.0
            )
        })
    }

    /// It says its unit.
    pub fn has_unit(&self) -> bool {
        !quantity::split(&self.0).1.is_empty()
    }
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
