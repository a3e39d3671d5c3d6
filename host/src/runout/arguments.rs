//! Options of `runout`.

use crate::limits::typed::{Runout, TypedLimits};
use crate::terminal::parse::{
    depth, finite, height, micrometres, micrometres_or_none, positive, small_angle, uncertainty_um,
};
use crate::terminal::vocabulary::one_of;
use crate::visits::arguments::NotedIn;
use crate::visits::checks::in_file::WhichSet;
use holdtrue_metrology::runout::Place;
use holdtrue_terms::units::LengthUnit;
use holdtrue_terms::vocabulary::{At, Provenance, State};

/// Seconds for a turn and a hold: below, a hold has no room for a still hand and the time a reading takes; above, nobody
/// keeps to it.
pub const RHYTHM_S: std::ops::RangeInclusive<f64> = 5.0..=60.0;

/// Where the readings come from, where they were taken and what they are held to.
#[derive(Clone, Debug, clap::Args)]
pub struct RunoutArgs {
    /// Where the readings come from.
    #[command(flatten)]
    pub source: RunoutSource,
    /// Unit of the readings
    #[arg(long, value_parser = one_of(READ_IN), ignore_case = true, conflicts_with_all = ["gauge", "from"])]
    pub unit: Option<LengthUnit>,
    /// Where they were taken.
    #[command(flatten)]
    pub place: PlaceArgs,
    /// How the spindle was turned.
    #[command(flatten)]
    pub way: Way,
    /// Read stepped positions in a rhythm of so many seconds for a turn and a hold, with --gauge; only where the spindle
    /// is turned by hand and isolated. Without it each is read when you say so: any big key, a clicker, or the button at
    /// the gauge
    #[arg(long, value_name = "SECONDS", requires = "gauge", conflicts_with_all = ["from", "readings", "free", "marked"], value_parser = rhythm)]
    pub paced: Option<f64>,
    /// How the indicator stood.
    #[command(flatten)]
    pub indicator: IndicatorArgs,
    /// Whole turns of a marked plane, with --gauge
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u32).range(1..))]
    pub turns: u32,
    /// Seconds of a free turn, with --gauge
    #[arg(long, value_name = "S", default_value_t = 20.0, value_parser = positive)]
    pub seconds: f64,
    /// The usual round with the bar seated this often only, 2 in a short visit; with --at and --height-mm only those planes of it
    #[arg(long, value_name = "N", requires = "gauge", conflicts_with_all = ["seating", "orientation_deg"], value_parser = clap::value_parser!(u32).range(1..))]
    pub seatings: Option<u32>,
    /// Begin a new check although an unfinished one of this visit could be continued
    #[arg(long, requires = "gauge")]
    pub new: bool,
    /// Answer the questions a figure raises: it is meant as it reads. The result is marked so
    #[arg(long)]
    pub as_read: bool,
    /// As found, or as left after cleaning, greasing or repair
    #[arg(long, value_parser = one_of(State::ALL))]
    pub state: Option<State>,
    /// Put the record and its result into the open visit of the book
    #[arg(long)]
    pub store: bool,
    /// Which visit, and what it was read on.
    #[command(flatten)]
    pub noted: NotedIn,
    /// Which check, where the file is a book.
    #[command(flatten)]
    pub which: WhichSet,
    /// What the readings are held to.
    #[command(flatten)]
    pub limits: RunoutLimits,
}

/// Where the readings come from: one of these.
#[derive(Clone, Debug, clap::Args)]
#[group(required = true, multiple = false)]
pub struct RunoutSource {
    /// Measure with the gauge on this port, or "auto" for the only one plugged in; without a place the usual round: the
    /// wall at two depths that exist in the taper, then the bar at two heights in every seating its keys allow
    #[arg(long, value_name = "PORT|auto")]
    pub gauge: Option<String>,
    /// A runout record (CSV: angle_deg or time_s, reading_um or reading_in, and where they were taken), or a book; - is
    /// standard input
    #[arg(long, value_name = "FILE")]
    pub from: Option<String>,
    /// Readings of a dial by eye, at equal positions from 0 on, such as "0 3 5 3 0 -3 -5 -3"
    #[arg(long, value_name = "NUMBERS", allow_hyphen_values = true)]
    pub readings: Option<String>,
    /// A TIR noted by hand without its readings, such as 8 or 0.008mm; um unless --unit or the number says otherwise
    #[arg(long, value_name = "TIR", allow_hyphen_values = true, conflicts_with_all = ["gauge", "from", "readings", "stops", "free", "marked"])]
    pub tir: Option<String>,
}

/// Units an indicator is read in.
const READ_IN: &[LengthUnit] = &[LengthUnit::Um, LengthUnit::Mm, LengthUnit::In];

/// Where the readings were taken; a column of the file says it row by row.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Where")]
pub struct PlaceArgs {
    /// The surface the indicator stood on
    #[arg(long, value_parser = one_of(At::ALL))]
    pub at: Option<At>,
    /// Height from the nose face outward, mm; inside the taper negative
    #[arg(long, value_name = "Z", value_parser = height, allow_hyphen_values = true)]
    pub height_mm: Option<f64>,
    /// Which time the bar was put in
    #[arg(long, value_name = "K", value_parser = clap::value_parser!(u32).range(1..))]
    pub seating: Option<u32>,
    /// How far the bar was turned in the spindle, degrees
    #[arg(long, value_name = "O", value_parser = finite, allow_hyphen_values = true)]
    pub orientation_deg: Option<f64>,
}

impl PlaceArgs {
    /// As the analysis takes it.
    pub fn place(&self) -> Place {
        Place {
            at: self.at,
            height_mm: self.height_mm,
            seating: self.seating,
            orientation_deg: self.orientation_deg,
        }
    }
}

/// How the spindle was turned: one of these, or as the record shows.
#[derive(Clone, Copy, Debug, Default, clap::Args)]
#[group(multiple = false)]
pub struct Way {
    /// From position to position, this many round the turn, each read at rest when you say so
    #[arg(long = "positions", alias = "stops", value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub stops: Option<u32>,
    /// Without stopping, the angle unknown: TIR only
    #[arg(long, conflicts_with = "readings")]
    pub free: bool,
    /// Without stopping, with a mark once a turn
    #[arg(long, conflicts_with = "readings")]
    pub marked: bool,
}

/// How the indicator stood.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Indicator")]
pub struct IndicatorArgs {
    /// The indicator stood square to the taper wall: wall readings count across the axis
    #[arg(long = "square-to-wall", alias = "on-wall")]
    pub on_wall: bool,
    /// Taper as it is called, such as 7/24-40, BT40 or HSK-A63: slope and length of its wall, and how its keys let a bar
    /// go in
    #[arg(long, value_name = "NAME")]
    pub interface: Option<String>,
    /// How deep the indicator reaches on the wall, mm inside the mouth; without it, as deep as it usually does in that
    /// taper
    #[arg(long, value_name = "MM", value_parser = depth, requires = "gauge", conflicts_with_all = ["at", "height_mm"])]
    pub deepest_mm: Option<f64>,
    /// Angle of the indicator's lever to the surface, degrees
    #[arg(long, value_name = "DEG", value_parser = small_angle, conflicts_with = "lever_by_eye")]
    pub lever_deg: Option<f64>,
    /// The lever was set along the surface by eye
    #[arg(long)]
    pub lever_by_eye: bool,
    /// Smallest step the indicator shows, um
    #[arg(long, value_name = "UM", value_parser = micrometres, requires = "uncertainty_um")]
    pub resolution_um: Option<f64>,
    /// The indicator's expanded uncertainty (k = 2), um, as its certificate states it
    #[arg(long, value_name = "UM", value_parser = uncertainty_um)]
    pub uncertainty_um: Option<f64>,
    /// A position is within this of its angle, degrees (3: by paper tape)
    #[arg(long, value_name = "DEG", value_parser = small_angle)]
    pub position_error_deg: Option<f64>,
    /// The test bar's own runout by its certificate, um TIR
    #[arg(long, value_name = "UM", value_parser = micrometres_or_none)]
    pub bar_um: Option<f64>,
}

/// What the readings are held to.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Limits")]
pub struct RunoutLimits {
    /// On each figure.
    #[command(flatten)]
    pub typed: TypedLimits<Runout>,
    /// Where the limits come from
    #[arg(long, value_parser = one_of(Provenance::ALL), value_name = "WORD")]
    pub provenance: Option<Provenance>,
    /// Limits file (TOML): also for the mean of four seatings, the spindle's part and the seat
    #[arg(long, value_name = "FILE")]
    pub limits: Option<String>,
}

/// Seconds for a turn and a hold.
///
/// # Errors
/// What was typed and what was expected.
pub fn rhythm(text: &str) -> Result<f64, String> {
    let (from, to) = (RHYTHM_S.start(), RHYTHM_S.end());
    match finite(text)? {
        seconds if RHYTHM_S.contains(&seconds) => Ok(seconds),
        _ => Err(format!(
            "found \"{text}\", expected {from} to {to} seconds: below, a hold is too short to be read in; above, nobody keeps the rhythm"
        )),
    }
}
