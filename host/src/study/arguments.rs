//! Options of `study`.

use crate::terminal::parse::{day, positive};
use crate::terminal::vocabulary::one_of;
use crate::visits::checks::stored_figure::StoredFigure;
use holdtrue_terms::vocabulary::State;
use jiff::civil::Date;

/// Readings of the same parts by several technicians, and what they are held against.
#[derive(Debug, clap::Args)]
pub struct StudyArgs {
    /// Readings (CSV: part, technician, trial and value_n or value_um); - is standard input. Without it the checks in the book
    #[arg(long, value_name = "FILE")]
    pub from: Option<String>,
    /// Which checks of the book.
    #[command(flatten)]
    pub checks: StudiedChecks,
    /// Width of the tolerance, in the unit of the figure: N, µm, % or N/s, whatever the screen shows
    #[arg(long, value_name = "WIDTH", value_parser = positive)]
    pub tolerance: Option<f64>,
    /// The parts were loads on a press or check stand: the gauge alone was studied, not the whole check
    #[arg(long, requires = "from")]
    pub gauge_alone: bool,
    /// All spindles are of one taper and class, so that telling them apart means something
    #[arg(long)]
    pub one_class: bool,
}

/// Which checks of the book are the readings of a study.
#[derive(Debug, clap::Args)]
pub struct StudiedChecks {
    /// From the book: the figure that is studied [default: grip-mean]
    #[arg(long, value_enum, value_name = "FIGURE", conflicts_with = "from")]
    pub figure: Option<StoredFigure>,
    /// From the book: only this spindle (name or id); may be given several times
    #[arg(long, value_name = "SPINDLE", conflicts_with = "from")]
    pub spindle: Vec<String>,
    /// From the book: only checks from this day on
    #[arg(long, value_name = "DAY", value_parser = day, conflicts_with = "from")]
    pub since: Option<Date>,
    /// From the book: only checks up to and on this day
    #[arg(long, value_name = "DAY", value_parser = day, conflicts_with = "from")]
    pub until: Option<Date>,
    /// From the book: only checks taken as found, or only those taken as left
    #[arg(long, value_parser = one_of(State::ALL), value_name = "STATE", conflicts_with = "from")]
    pub state: Option<State>,
    /// From the book: take the newest N checks of each spindle by each technician, where some have more
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(2..), conflicts_with = "from")]
    pub trials: Option<u32>,
}
