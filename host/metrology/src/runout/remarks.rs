//! What there is to say of a runout check besides its figures. Out: values with the figures in them, SI units as in the
//! results; `holdtrue-wording` makes the sentences.

use super::mistake::Mistake;
use super::record::Place;
use crate::decision::Figure;
use crate::file_note::FileNote;
use holdtrue_terms::vocabulary::Outcome;
use serde::{Deserialize, Serialize};

/// What speaks against the readings of a plane that look fine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Untrue {
    /// A free turn that shows nothing but noise.
    Still,
    /// A free turn of which no stretch repeats.
    NotRound,
    /// The indicator stands at one value where the surface goes on.
    Stopped,
    /// The mark may not come once a turn.
    Mark,
    /// All readings lie on one side of zero, and the curve is folded there.
    Unsigned,
    /// The positions may not be as far apart as was said.
    Steps,
    /// The reading back at the first position is another.
    NotBack,
    /// A reading of a turn without stopping stands far off all its neighbours.
    Alone,
    /// Readings outside the whole turns of a mark go far beyond those in them.
    Besides,
    /// The positions look like those of a part of a turn.
    PartTurn,
    /// Several planes read at rest show nothing but scatter.
    Unturned,
}

/// A remark on a plane.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum PlaneNote {
    /// All readings at one position.
    OnePosition,
    /// No reading at the end of the turn, so no drift.
    DriftNotKnown,
    /// The reading at 360° stands for the one at 0°.
    ReadAt360,
    /// No eccentricity: too few positions.
    FewPositions {
        /// Different positions there are.
        positions: usize,
        /// The fewest there must be.
        fewest: usize,
    },
    /// No eccentricity: the positions are on one side of the turn.
    Bunched,
    /// Turned freely: TIR only.
    FreeTurn,
    /// The TIR was noted without its readings.
    TirAlone,
    /// Readings are missing in a free turn.
    ReadingsMissing,
    /// The mark came by less than twice.
    NoWholeTurn,
    /// Readings are missing in every marked turn.
    NoTurnComplete,
    /// Marked turns with missing readings.
    TurnsLeftOut {
        /// How many.
        turns: usize,
    },
    /// Too few readings a turn to meet the extremes.
    FewReadings {
        /// Readings a turn.
        readings_a_turn: f64,
        /// How low each extreme may read, % of the eccentricity.
        low_percent: f64,
    },
    /// Turns were compared, slowly and with the bar.
    NoBearingTest,
    /// Readings were multiplied for the slope of wall or lever.
    Sloped {
        /// By so much.
        factor: f64,
    },
    /// The readings look as if a position had been read twice or left out, or do not come back.
    InDoubt {
        /// What it looks like.
        mistake: Mistake,
        /// The two positions it is about, counted from 1; one more than there are is the reading back at the first.
        between: [usize; 2],
        /// Positions of the turn.
        positions: usize,
        /// How far the eccentricity vector would move, µm.
        moves_um: f64,
    },
    /// The eccentricity is no larger than noise would show.
    LostInNoise {
        /// What noise alone shows on average, µm.
        floor_um: f64,
    },
    /// Something speaks against the readings.
    Untrue {
        /// What.
        untrue: Untrue,
    },
}

/// A remark on the whole check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum RunoutNote {
    /// Typed, no record.
    TypedByHand,
    /// The axis is that of the wall.
    AxisOfWall,
    /// The axis includes the bar and its seat.
    AxisAsRead,
    /// Heights enough, but not on one surface in one seating.
    NoAxis,
    /// The keys let the bar in one way, so spindle and bar are one.
    KeysOneWay,
    /// The bar was read in one orientation.
    OneOrientation,
    /// The orientations are too near one another.
    OrientationsClose,
    /// Half turns say nothing about ovality.
    OvalityNotToldApart,
    /// A part stays with the spindle and nobody read the wall.
    WallNotRead,
    /// Only the reversal brings the spindle within its limit; neither wall nor certificate says the same.
    OnlyByReversal,
    /// Nothing of the bar's own is seen.
    NoBarPart,
    /// Figures that were asked about are kept.
    KeptAsRead,
    /// A question that somebody answered beforehand: it is meant as it reads.
    TakenAsRead {
        /// What would else have kept a limit from being decided.
        reason: Box<RunoutReason>,
    },
    /// What was ignored in the file.
    #[serde(untagged)]
    File(FileNote),
}

/// A limit as a reason names it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LimitOn {
    /// The figure.
    pub figure: Figure,
    /// Its height, mm, where it has one.
    pub height_mm: Option<f64>,
    /// The limit, in its own unit.
    pub limit: f64,
}

/// Why nothing was measured that a limit is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Missing {
    /// The figure, but not at this height.
    AtHeight,
    /// Four seatings 90° apart.
    FourSeatings,
    /// The keys let the bar in one way.
    KeysOneWay,
    /// The bar in two orientations.
    TwoOrientations,
    /// Two seatings in one orientation.
    TwoSeatings,
    /// Anything of the kind.
    Kind,
}

/// Why an indicator's certificate does not count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CertificateGap {
    /// There is none.
    Missing,
    /// It has lapsed.
    #[serde(alias = "its calibration has lapsed")]
    Lapsed,
}

/// Why a runout verdict is what it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum RunoutReason {
    /// A limit in another unit than µm.
    LimitUnit {
        /// The limit.
        on: LimitOn,
        /// Its unit, as somebody wrote it.
        unit: String,
    },
    /// Nothing was measured that the limit is for.
    NotMeasured {
        /// The limit.
        on: LimitOn,
        /// What is missing.
        missing: Missing,
    },
    /// The indicator is too coarse for the limit.
    IndicatorCoarse {
        /// The limit.
        on: LimitOn,
        /// The error of the indicator, µm.
        error_um: f64,
        /// The most it may be, µm.
        most_um: f64,
    },
    /// Where a figure stands against its limit.
    RunoutStands {
        /// The figure.
        figure: Figure,
        /// Where it was read.
        place: Place,
        /// Share of the limit, %.
        percent: f64,
        /// What was decided.
        outcome: Outcome,
        /// Within, but near.
        watch: bool,
        /// Undecided for another reason than its nearness.
        held_back: bool,
    },
    /// Accepted by positions too few to show fine form.
    FormNotSeen {
        /// Positions of the turn.
        positions: usize,
        /// What they show comes up to so many times a turn.
        times_a_turn: usize,
    },
    /// The readings may have missed the high spot.
    HighSpotMissed {
        /// Where.
        place: Place,
    },
    /// Something speaks against the readings.
    ReadingsUntrue {
        /// Where.
        place: Place,
        /// What.
        untrue: Untrue,
    },
    /// Two planes agree to the last digit.
    PlanesAlike {
        /// The first.
        one: Place,
        /// The other.
        other: Place,
    },
    /// The bar reads the same at two heights in every seating.
    HeightsAlike {
        /// Where.
        place: Place,
        /// The height nearer to the nose, mm.
        nearer_mm: f64,
    },
    /// Seatings agree as closely as readings of a bar left in.
    SeatingsAlike {
        /// The bar is said to have been turned between them.
        turned: bool,
    },
    /// The bar's part is far more than its certificate says.
    BarBeyondCertificate {
        /// Where.
        place: Place,
    },
    /// The taper wall runs out, and the spindle alone does not.
    WallContradicts {
        /// Where the bar was read.
        place: Place,
        /// Runout of the wall, carried to there, µm.
        wall_um: f64,
        /// Runout of the spindle alone, µm.
        spindle_um: f64,
    },
    /// Outside, but not shown to be the spindle's.
    BarExplains {
        /// Where.
        place: Place,
        /// TIR of the spindle alone, µm.
        spindle_um: f64,
        /// TIR of the bar, µm.
        bar_um: f64,
        /// The bar part may as well be the seat.
        bar_or_seat: bool,
    },
    /// Outside, but the seat was dirty.
    SeatExplains {
        /// Where.
        place: Place,
        /// By how much the runout scatters from seating to seating, as a TIR, µm.
        scatter_um: f64,
    },
    /// Far too much, even by an indicator without a certificate in force.
    RunoutFarOut {
        /// What is wrong with the certificate.
        certificate: CertificateGap,
    },
    /// No verdict without a certificate in force.
    IndicatorNotInForce {
        /// What is wrong with the certificate.
        certificate: CertificateGap,
    },
}

impl RunoutReason {
    /// Whether somebody who was there can answer it by saying that it is meant as it reads.
    pub(super) fn is_question(&self) -> bool {
        matches!(
            self,
            Self::ReadingsUntrue { .. }
                | Self::PlanesAlike { .. }
                | Self::HeightsAlike { .. }
                | Self::SeatingsAlike { .. }
                | Self::NotMeasured { .. }
        )
    }
}

/// What a runout uncertainty comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// The certificate.
    Certificate,
    /// The indicator's smallest step.
    Resolution,
    /// Readings about the fitted curve.
    Scatter,
    /// Angles of the positions.
    Position,
    /// Lever set by eye.
    Lever,
    /// What of a drift is not even.
    Drift,
    /// A position that may have been read twice or left out.
    Doubt,
    /// Head settling.
    Head,
    /// The bar's certificate.
    Bar,
    /// The seat.
    Seat,
    /// The seat, not measured.
    AssumedSeat,
    /// Axial motion on a steep wall.
    Axial,
}

impl Source {
    const ALL: [Self; 12] = [
        Self::Certificate,
        Self::Resolution,
        Self::Scatter,
        Self::Position,
        Self::Lever,
        Self::Drift,
        Self::Doubt,
        Self::Head,
        Self::Bar,
        Self::Seat,
        Self::AssumedSeat,
        Self::Axial,
    ];

    /// Its name in a budget.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Certificate => "indicator certificate",
            Self::Resolution => "indicator resolution",
            Self::Scatter => "scatter of the readings",
            Self::Position => "position angle",
            Self::Lever => "lever angle",
            Self::Drift => "uneven drift",
            Self::Doubt => "a position in doubt",
            Self::Head => "head settling",
            Self::Bar => "bar certificate",
            Self::Seat => "seat",
            Self::AssumedSeat => "seat (assumed: one seating in each orientation)",
            Self::Axial => "axial float on the taper wall",
        }
    }

    /// The source of this name in a budget.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|source| source.name() == name)
    }
}

impl From<Source> for String {
    fn from(source: Source) -> Self {
        source.name().to_owned()
    }
}

/// What would settle an undecided runout.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum RunoutRemedy {
    /// The limit's unit.
    CorrectUnit,
    /// A limit that the taper allows to be measured.
    LimitOnBar,
    /// Four orientations 90° apart.
    ReadFourOrientations,
    /// Two orientations, seated twice in each.
    ReadTwoOrientations,
    /// Seatings in one orientation.
    SeatAgain,
    /// Readings where the limit holds.
    MeasureThere,
    /// A finer indicator.
    FinerIndicator,
    /// An indicator with a certificate in force.
    IndicatorInForce,
    /// Positions round the whole turn.
    ReadRoundTurn,
    /// A clean taper and a good bar.
    GoodBar,
    /// A clean seat.
    CleanSeat,
    /// More seatings like these.
    MoreSeatings {
        /// How many.
        more: usize,
    },
    /// The seat is too near its limit for any number of seatings.
    SeatTooNear {
        /// The most seatings thought of.
        most: usize,
    },
    /// More positions.
    MorePositions {
        /// What the positions may have missed, µm.
        missed_um: f64,
    },
    /// Readings against which nothing speaks.
    ReadTrue {
        /// What speaks against these.
        untrue: Untrue,
    },
    /// Every plane by itself.
    ReadEachPlane,
    /// The indicator at the height that is meant.
    MoveIndicator,
    /// The bar taken out before every seating.
    TakeBarOut,
    /// Positions counted from the spindle's mark, with the bar of the certificate.
    CountFromSpindle,
    /// Less of what most of the doubt comes from.
    Shrink {
        /// That.
        source: Source,
    },
}
