//! One figure of a stored check, by the name a person calls it. In: the result document of a check in the book. Out: a
//! number and its unit, or none where this check does not give it.

use crate::terminal::error::Error;
use crate::visits::stored_check;
use clap::ValueEnum;
use holdtrue_book::{Book, CheckKind, CheckResult};
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::runout::{PlaneResult, RunoutResult};
use holdtrue_metrology::statistics::mean;
use holdtrue_terms::vocabulary::At;
use serde::Serialize;

/// A figure that is followed over checks and visits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StoredFigure {
    /// Mean settled force of the counted clamps
    #[default]
    GripMean,
    /// Lowest settled force of a counted clamp
    GripLowest,
    /// Scatter of the clamps, % of their mean
    GripScatter,
    /// How fast the force drops while held
    GripSag,
    /// Settled force of the first counted clamp
    FirstClamp,
    /// TIR of the test bar at the height nearest the nose, mean over the seatings
    Nose,
    /// TIR of the test bar at the height farthest out, mean over the seatings
    Bar,
    /// How far from the same at every seating: seat repeatability
    Seat,
}

impl StoredFigure {
    /// The check that gives it.
    pub fn check(self) -> CheckKind {
        match self {
            Self::GripMean
            | Self::GripLowest
            | Self::GripScatter
            | Self::GripSag
            | Self::FirstClamp => CheckKind::Grip,
            Self::Nose | Self::Bar | Self::Seat => CheckKind::Runout,
        }
    }

    /// Its unit.
    pub fn unit(self) -> &'static str {
        match self {
            Self::GripMean | Self::GripLowest | Self::FirstClamp => "N",
            Self::GripScatter => "%",
            Self::GripSag => "N/s",
            Self::Nose | Self::Bar | Self::Seat => "um",
        }
    }

    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::GripMean => "mean grip force",
            Self::GripLowest => "lowest clamp",
            Self::GripScatter => "scatter of the clamps",
            Self::GripSag => "drop while held",
            Self::FirstClamp => "first clamp",
            Self::Nose => "TIR of the bar near the nose",
            Self::Bar => "TIR of the bar farthest out",
            Self::Seat => "reseating repeatability",
        }
    }

    /// Its value in a stored result; none where the check does not give it.
    ///
    /// # Errors
    /// A result document that cannot be read: exit 6.
    pub fn of(self, book: &Book, result: &CheckResult) -> Result<Option<f64>, Error> {
        match self.check() {
            CheckKind::Grip => {
                let grip: GripResult = stored_check::read(book, &result.content)?;
                Ok(self.of_grip(&grip))
            }
            CheckKind::Runout => {
                let runout: RunoutResult = stored_check::read(book, &result.content)?;
                Ok(self.of_runout(&runout))
            }
        }
    }

    fn of_grip(self, grip: &GripResult) -> Option<f64> {
        let mut counted = grip.clamps.iter().filter(|clamp| clamp.counted);
        let statistics = grip.statistics.as_ref();
        match self {
            Self::GripMean => statistics.map(|s| s.mean_n),
            Self::GripLowest => statistics.map(|s| s.lowest_n),
            Self::GripScatter => statistics.and_then(|s| s.cv_percent),
            Self::GripSag => {
                let sags: Vec<f64> = counted.filter_map(|clamp| clamp.sag_n_per_s).collect();
                (!sags.is_empty()).then(|| mean(&sags))
            }
            Self::FirstClamp => counted.next().and_then(|clamp| clamp.settled_n),
            Self::Nose | Self::Bar | Self::Seat => None,
        }
    }

    fn of_runout(self, runout: &RunoutResult) -> Option<f64> {
        let heights: Vec<f64> = bar_heights(&runout.planes);
        match self {
            Self::Nose => mean_tir(&runout.planes, *heights.first()?),
            Self::Bar if heights.len() > 1 => mean_tir(&runout.planes, *heights.last()?),
            Self::Seat => runout.seat_repeatability_um,
            _ => None,
        }
    }
}

/// Heights at which the bar was read, lowest first, each once.
fn bar_heights(planes: &[PlaneResult]) -> Vec<f64> {
    let bar = planes.iter().filter(|plane| plane.at == Some(At::Bar));
    let mut heights: Vec<f64> = bar.filter_map(|plane| plane.height_mm).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup_by(|a, b| a.total_cmp(b).is_eq());
    heights
}

fn mean_tir(planes: &[PlaneResult], height_mm: f64) -> Option<f64> {
    let here = planes.iter().filter(|plane| {
        let same = plane.height_mm.map(|h| h.total_cmp(&height_mm).is_eq());
        plane.at == Some(At::Bar) && same == Some(true)
    });
    let tirs: Vec<f64> = here.filter_map(|plane| plane.tir_um).collect();
    (!tirs.is_empty()).then(|| mean(&tirs))
}
