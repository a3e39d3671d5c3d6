//! Options of `grip`.

use crate::limits::typed::{Grip, TypedLimits};
use crate::terminal::parse::{a_cause, force, force_unit, numbered_reason, positive, uncertainty};
use crate::terminal::vocabulary::one_of;
use crate::visits::arguments::NotedIn;
use crate::visits::checks::in_file::WhichSet;
use holdtrue_terms::figure::Figure;
use holdtrue_terms::quantity::Quantity;
use holdtrue_terms::units::ForceUnit;
use holdtrue_terms::vocabulary::{Class, Drawbar, Provenance, State};

/// Where the forces come from and what they are held to.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct GripArgs {
    /// Where the forces come from.
    #[command(flatten)]
    pub source: GripSource,
    /// Unit of the readings: N, kN, lbf, kgf or daN
    #[arg(long, value_parser = force_unit, conflicts_with_all = ["gauge", "from"])]
    pub unit: Option<ForceUnit>,
    /// End the record 1.5 s after this many clamps have counted (with --gauge: 5 unless told otherwise)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub clamps: Option<u32>,
    /// Begin a new check although an unfinished one of this visit could be continued
    #[arg(long, requires = "gauge")]
    pub new: bool,
    /// Do not count this clamp; it stays in the table, and the verdict is shown with and without it
    #[arg(long, value_name = "NUMBER=REASON", value_parser = numbered_reason)]
    pub discard: Vec<(u32, String)>,
    /// How far the gauge was turned in the spindle, degrees, for clamp 1, 2, 3 …
    #[arg(long, value_name = "NUMBERS", allow_hyphen_values = true)]
    pub orientation_deg: Option<String>,
    /// A probe or indicator stands on the gauge's end face: how far the shank is pushed out is measured with the force
    #[arg(long, requires = "gauge")]
    pub push_out: bool,
    /// Answer the questions a figure or a record raises: it is meant as it reads. The result is marked so
    #[arg(long)]
    pub as_read: bool,
    /// Why the force drops while held, where the cause was found: it is printed beside the verdict
    #[arg(long, value_name = "TEXT", value_parser = a_cause)]
    pub drop_because: Option<String>,
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
    /// What the forces are held to.
    #[command(flatten)]
    pub limits: GripLimits,
    /// What is known of the spindle.
    #[command(flatten)]
    pub spindle: GripSpindle,
}

/// Where the forces come from: one of these; a paper may have a peak beside its readings.
#[derive(Clone, Debug, Default, clap::Args)]
#[group(required = true, multiple = true)]
pub struct GripSource {
    /// Measure with the gauge on this port, or "auto" for the only one plugged in
    #[arg(long, value_name = "PORT|auto", conflicts_with_all = ["from", "readings", "peak", "mean", "lowest"])]
    pub gauge: Option<String>,
    /// A force record (CSV: time_s and force_n, force_kn, force_lbf, force_kgf or force_dan), or a book; - is standard input
    #[arg(long, value_name = "FILE", conflicts_with_all = ["readings", "peak", "mean", "lowest"])]
    pub from: Option<String>,
    /// Holding forces noted by hand, such as "9.8 9.9 9.7"
    #[arg(long, value_name = "NUMBERS", allow_hyphen_values = true)]
    pub readings: Option<String>,
    /// The most a gauge with peak hold showed, noted by hand, such as 10.4kN: kept apart, never taken for a holding force
    #[arg(long, value_name = "FORCE", allow_hyphen_values = true)]
    pub peak: Vec<String>,
    /// A mean noted without its clamps, such as 9.8kN: kept, and not judged
    #[arg(
        long,
        value_name = "FORCE",
        conflicts_with = "readings",
        allow_hyphen_values = true
    )]
    pub mean: Option<String>,
    /// A lowest holding force noted without its clamps, such as 9.6kN: kept, and not judged
    #[arg(
        long,
        value_name = "FORCE",
        conflicts_with = "readings",
        allow_hyphen_values = true
    )]
    pub lowest: Option<String>,
}

/// The option of a limit on the mean.
const MEAN: &str = match Figure::GripMean.facts().option {
    Some(option) => option.name,
    None => "",
};

/// What the forces are held to.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Limits")]
pub struct GripLimits {
    /// On each figure.
    #[command(flatten)]
    pub typed: TypedLimits<Grip>,
    /// The maker's nominal force, N; alone it sets no limit
    #[arg(long, value_name = "N", value_parser = force)]
    pub nominal_n: Option<Quantity<ForceUnit>>,
    /// Lower limit on the mean, percent of the nominal force
    #[arg(long, value_name = "PERCENT", value_parser = positive, requires = "nominal_n", conflicts_with = MEAN)]
    pub limit_percent: Option<f64>,
    /// Where the limits come from
    #[arg(long, value_parser = one_of(Provenance::ALL), value_name = "WORD")]
    pub provenance: Option<Provenance>,
    /// Limits file (TOML)
    #[arg(long, value_name = "FILE")]
    pub limits: Option<String>,
    /// The gauge's expanded uncertainty (k = 2), percent of the reading, as its certificate states it
    #[arg(long, value_name = "PERCENT", value_parser = uncertainty)]
    pub uncertainty_percent: Option<f64>,
}

/// What is known of the spindle.
#[derive(Clone, Debug, Default, clap::Args)]
#[command(next_help_heading = "Spindle")]
pub struct GripSpindle {
    /// Taper as it is called, such as 7/24-40, BT40, CAT40, SK40 or HSK-A63
    #[arg(long, value_name = "NAME")]
    pub interface: Option<String>,
    /// Class of the drawbar, an assumption: shows the usual range where the maker's figure is missing
    #[arg(long, value_parser = one_of(Class::ALL))]
    pub class: Option<Class>,
    /// What holds the tool
    #[arg(long, value_parser = one_of(Drawbar::NAMED))]
    pub drawbar: Option<Drawbar>,
}
