//! What there is to say of a grip check besides its figures. Out: values with the figures in them, SI units as in the
//! results; `holdtrue-wording` makes the sentences. Text is only what a person or a file wrote.

use super::excluded::Excluded;
use super::hardly::HardlyGripped;
use super::limits::UsualRange;
use super::record::SpanReason;
use super::zero::NoZero;
use crate::file_note::FileNote;
use holdtrue_terms::vocabulary::{Outcome, Provenance};
use serde::{Deserialize, Serialize};

/// A remark on a clamp.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum ClampNote {
    /// Put aside by hand.
    Discarded {
        /// Why, as the person wrote it.
        reason: String,
    },
    /// The record begins under load.
    BeganUnderLoad,
    /// No sample in the hold.
    NoSample,
    /// A level at an end of the record that may be a clamp or a free gauge.
    OnOrFree {
        /// The reading, N.
        reads_n: f64,
    },
    /// Only the zero before the clamp could be read.
    ZeroBeforeOnly {
        /// What was wrong after it.
        after: NoZero,
    },
    /// Only the zero after the clamp could be read.
    ZeroAfterOnly {
        /// What was wrong before it.
        before: NoZero,
    },
    /// Neither zero beside the clamp could be read.
    NoZeroBeside {
        /// What was wrong before it.
        before: NoZero,
        /// What was wrong after it.
        after: NoZero,
        /// Read against the free gauge elsewhere in the record.
        elsewhere: bool,
    },
    /// Too few samples for a bump or a spike to show.
    FewSamples,
    /// Still rising in the settled window.
    StillRising,
    /// Falling in the settled window of a hold too short for a drop.
    StillFalling,
    /// Bumped, that part left out.
    Bumped {
        /// Its length, s.
        length_s: f64,
    },
    /// Fell in the hold and rose again.
    FellAndRose {
        /// When, s.
        at_s: f64,
        /// By how much, N.
        depth_n: f64,
    },
    /// Fell at once and stayed down.
    Slipped {
        /// When, s.
        at_s: f64,
        /// By how much, N.
        by_n: f64,
    },
    /// Unclamped slowly, that part not in the drop.
    ReleasedSlowly {
        /// From when on, s.
        began_s: f64,
    },
    /// Single readings left out.
    SpikesLeftOut {
        /// How many.
        readings: usize,
    },
    /// Unclamped before the settled window was over.
    UnclampedEarly,
    /// The orientation given changes while held.
    OrientationChanges,
    /// What is wrong with the record there.
    #[serde(untagged)]
    Marked(SpanReason),
}

/// Why a force that was asked about stands out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Unlikely {
    /// More than such a spindle can pull.
    Above,
    /// Less than any spindle is made to pull.
    Below,
    /// Far from the others.
    Apart,
}

/// What holds a tool whose force drops, where that is not oil.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HeldBy {
    /// Disc springs.
    DiscSprings,
    /// A gas spring.
    GasSpring,
    /// Nobody said.
    NotKnown,
}

/// Why what read the gauge's end face shows no push-out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "end_face", rename_all = "kebab-case")]
pub enum EndFaceDoubt {
    /// Unclamping draws the shank in, in every clamp.
    Reversed {
        /// The mean push-out as read, mm.
        mean_mm: f64,
    },
    /// It does not move while the force comes and goes.
    Stuck {
        /// It moves by no more than this, mm.
        span_mm: f64,
    },
    /// A thousandth of what a drawbar does.
    Thousandth {
        /// The mean push-out as read, mm.
        mean_mm: f64,
    },
    /// A thousand times what a drawbar does.
    Thousandfold {
        /// The mean push-out as read, mm.
        mean_mm: f64,
    },
}

/// A remark on the whole check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum GripNote {
    /// The gauge's uncertainty is not known.
    UncertaintyNotKnown,
    /// A peak that was noted is no holding force.
    PeakNotJudged,
    /// A mean or a lowest force without its readings.
    FiguresAlone,
    /// One clamp counts.
    OneClampCounts,
    /// The taper is not named, so the widest allowance holds.
    TaperNotNamed,
    /// A force that was asked about is kept.
    ClampKeptAsRead {
        /// The clamp.
        clamp: u32,
        /// Why it was asked about.
        why: Unlikely,
    },
    /// The gauge was overloaded.
    Overloaded,
    /// Zeros of a gauge that rested on something.
    RestedZeros {
        /// How many.
        zeros: usize,
        /// Of how many.
        of: usize,
        /// How low the lowest reads, N.
        low_n: f64,
    },
    /// Zeros of a gauge that something pulled at.
    PulledZeros {
        /// How many.
        zeros: usize,
        /// Of how many.
        of: usize,
        /// How high the highest reads, N.
        high_n: f64,
    },
    /// The gauge is never near 0 N between the clamps, and somebody says it was free.
    TakenAsFree {
        /// What it reads, N.
        offset_n: f64,
    },
    /// What the gauge reads hanging free.
    FreeReads {
        /// That, N.
        offset_n: f64,
    },
    /// The gauge is never near 0 N between the clamps, and nobody says why.
    WasItFree {
        /// What it reads, N.
        offset_n: f64,
    },
    /// Pulled so little that it is listed as no clamp.
    HardlyGripped(HardlyGripped),
    /// The same, and somebody says it was no clamp.
    TakenAsNoClamp(HardlyGripped),
    /// Low with small scatter, where nobody knows of springs.
    LowAndEven,
    /// Drops while held, and not for a leak.
    DropsNoLeak {
        /// What holds the tool.
        held_by: HeldBy,
    },
    /// A hollow taper's gripper hides the springs.
    WedgeHidesSprings,
    /// How far the shank was pushed out, over the counted clamps that show it.
    PushedOut {
        /// How many.
        clamps: usize,
        /// Their mean, mm.
        mean_mm: f64,
        /// The smallest, mm.
        least_mm: f64,
        /// The largest, mm.
        most_mm: f64,
        /// How far it was drawn in on clamping, their mean, mm.
        drawn_in_mm: Option<f64>,
    },
    /// What read the end face shows no push-out.
    NoPushOutBy(EndFaceDoubt),
    /// No clamp was held long enough for a slow drop.
    DropNotExamined,
    /// The file goes on behind the clamps that were asked for.
    FileGoesOn {
        /// From when on, s.
        from_s: f64,
        /// How many more clamps there are.
        clamps: usize,
    },
    /// A clamp drops over its hold as a whole, and no more at its end.
    DropComesToRest {
        /// Its number.
        clamp: u32,
        /// By how much, N/s.
        n_per_s: f64,
    },
    /// Nothing was read between the clamps for as long as one is held.
    Unseen {
        /// From when on, s.
        from_s: f64,
        /// For how long, s.
        for_s: f64,
    },
    /// A question that somebody answered beforehand: it is meant as it reads.
    TakenAsRead {
        /// What would else have kept the check from being decided.
        reason: Box<GripReason>,
    },
    /// The same of a record that reads below 0 N.
    BelowZeroAsRead {
        /// Half-way between its levels, N.
        half_way_n: f64,
    },
    /// The meter shows one number between the clamps, and not while clamped.
    SetsItsOwnZero {
        /// That, N.
        at_n: f64,
    },
    /// The check was gone on with, and the free gauge reads otherwise than before.
    ZeroMovedBetween {
        /// When it was gone on with, s.
        at_s: f64,
        /// By how much, N.
        by_n: f64,
        /// What it may move by, N.
        bound_n: f64,
    },
    /// The check was broken off.
    BrokenOff {
        /// Clamps in the book.
        clamps: u32,
    },
    /// What was ignored in the file.
    #[serde(untagged)]
    File(FileNote),
}

/// The most that is to be expected of a spindle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum MostExpected {
    /// Its nominal force.
    Nominal,
    /// The upper end of a usual range.
    HighestUsual {
        /// That, N.
        force_n: f64,
    },
    /// The one usual figure.
    Usual {
        /// That, N.
        force_n: f64,
    },
}

impl MostExpected {
    /// The most, N, and what it is: the nominal force, else the highest usual one.
    pub(super) fn of(nominal_n: Option<f64>, usual: Option<&UsualRange>) -> Option<(f64, Self)> {
        let usual = || {
            let &UsualRange { low_n, high_n, .. } = usual?;
            let force_n = high_n;
            Some(if low_n < high_n {
                (high_n, Self::HighestUsual { force_n })
            } else {
                (high_n, Self::Usual { force_n })
            })
        };
        nominal_n
            .map(|nominal_n| (nominal_n, Self::Nominal))
            .or_else(usual)
    }
}

/// Springs that can be weak.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Springs {
    /// A stack of disc springs.
    Disc,
    /// A gas spring.
    Gas,
}

/// Why a gauge cannot carry a decision.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GaugeGap {
    /// No calibration.
    NotCalibrated,
    /// The calibration has lapsed.
    Lapsed,
    /// Overloaded since it was calibrated.
    OverloadedBefore,
    /// Its last check found it not fit to measure.
    FoundUnfit,
    /// Overloaded in this check.
    OverloadedHere,
    /// The force lies outside the calibrated span.
    OutsideSpan,
    /// Nobody knows its uncertainty.
    UncertaintyNotKnown,
}

/// What is outside its limit even by a gauge that cannot be relied on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FarOut {
    /// A force, too low.
    Low,
    /// A force, too high.
    High,
    /// The scatter.
    Scatter,
    /// The drop while held.
    Drop,
}

/// A figure as a reason names it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "figure", rename_all = "kebab-case")]
pub enum Subject {
    /// The only clamp.
    OnlyClamp,
    /// The mean.
    Mean,
    /// The lowest clamp.
    Lowest {
        /// Its number.
        clamp: u32,
    },
    /// The scatter.
    Scatter,
    /// The drop while held.
    Drop {
        /// The clamp it was seen in.
        clamp: u32,
        /// Held for, s.
        over_s: f64,
    },
    /// The push-out.
    PushOut,
}

/// Where a figure stands against its limit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "against", rename_all = "kebab-case")]
pub enum Against {
    /// Below zero, where the limit is above.
    BelowZero,
    /// A share of the limit.
    Share {
        /// In %.
        percent: f64,
    },
    /// The limit is zero.
    ZeroLimit,
}

/// Where a force stands against what is usual.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AgainstUsual {
    /// At the one usual figure.
    At,
    /// Below.
    Below,
    /// Above.
    Above,
    /// Inside.
    Inside,
}

/// A drop that goes on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DropSeen {
    /// In which clamp; none: in all together.
    pub clamp: Option<u32>,
    /// Share of the force a second, %.
    pub percent_per_s: f64,
    /// Seen in the last so many seconds of the hold only, s.
    pub last_s: Option<f64>,
    /// Seen between two fills: something gives back within the hold what is lost.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub is_filled_up: bool,
}

/// Why a grip verdict is what it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum GripReason {
    /// No clamp counts.
    NoClampCounts,
    /// Where a figure stands against its limit.
    GripStands {
        /// Which.
        of: Subject,
        /// How near.
        at: Against,
        /// What was decided.
        outcome: Outcome,
        /// Within, but near.
        watch: bool,
    },
    /// One clamp does not show how clamps repeat.
    OneClampShowsNoRepeat,
    /// All readings alike to their last digit.
    RoundingHidesScatter,
    /// The lowest of one clamp.
    LowestOfOne,
    /// Outside only if the gauge did not rest in the zeros set aside.
    OutsideByZerosSetAside,
    /// One clamp has no scatter.
    OneClampHasNoScatter,
    /// A mean at or below zero has no scatter in percent.
    NoForceNoScatter,
    /// Too few clamps for a verdict on the scatter.
    FewForScatter {
        /// The fewest.
        fewest: usize,
    },
    /// No counted clamp was held long enough for a drop.
    NotHeldLong,
    /// Fewer than two counted clamps show how far the shank was pushed out.
    NoPushOut,
    /// What read the end face shows no push-out.
    NoPushOutBy(EndFaceDoubt),
    /// A cause is named of a drop that was not found.
    CauseWithoutDrop,
    /// A drop goes on, and its cause is named.
    DropExplained {
        /// The drop.
        drop: DropSeen,
        /// The cause, as the person wrote it.
        cause: String,
        /// Until the force is below its limit at this rate, s, where it is not yet.
        #[serde(default)]
        below_limit_in_s: Option<f64>,
    },
    /// A drop goes on.
    DropGoesOn {
        /// The drop.
        drop: DropSeen,
        /// Until the force is below its limit at this rate, s, where it is not yet.
        below_limit_in_s: Option<f64>,
    },
    /// The force falls as it is read, and no clamp was held long enough to tell a drop from settling.
    FallsAsRead {
        /// In which clamp.
        clamp: u32,
        /// Share of the force a second, %.
        percent_per_s: f64,
    },
    /// The force went down at once and stayed down.
    SlippedOnce {
        /// In which clamp.
        clamp: u32,
        /// By how much, N.
        by_n: f64,
        /// The cause, as the person wrote it, where one is named.
        cause: Option<String>,
    },
    /// The force went down and rose again time after time while held.
    FallsAgain {
        /// In so many holds …
        holds: usize,
        /// … of so many.
        of: usize,
        /// The cause, as the person wrote it, where one is named.
        cause: Option<String>,
    },
    /// No maker's figure and no usual range.
    NothingToCompare,
    /// Far below the usual range.
    FarBelowUsual {
        /// Low end of the range, N.
        low_n: f64,
        /// High end, N.
        high_n: f64,
        /// Under this share of the low end, %.
        percent: f64,
        /// Where the range comes from.
        provenance: Provenance,
    },
    /// Against the usual range, which alone accepts nothing.
    AgainstUsual {
        /// Where.
        place: AgainstUsual,
        /// Low end of the range, N.
        low_n: f64,
        /// High end, N.
        high_n: f64,
        /// Where the range comes from.
        provenance: Provenance,
    },
    /// A remark on old, lightly sprung no. 40 spindles.
    OldLightForty,
    /// More than such a spindle can pull.
    MoreThanPossible {
        /// The most it can, N.
        most_n: f64,
    },
    /// Far above what is to be expected.
    FarAboveExpected {
        /// Share of it, %.
        percent: f64,
        /// What is to be expected.
        of: MostExpected,
    },
    /// Outside even by a gauge that cannot be relied on.
    GripFarOut {
        /// What is.
        what: FarOut,
        /// What is wrong with the gauge.
        gauge: GaugeGap,
    },
    /// Nothing is within limit by such a gauge.
    GaugeNotInForce {
        /// What is wrong with it.
        gauge: GaugeGap,
    },
    /// Nothing shows whether the gauge was free.
    NotShownFree {
        /// What it reads between the clamps, N.
        offset_n: f64,
    },
    /// Too few samples in the hold.
    FewSamplesHeld,
    /// Something pulled so little that it is listed as no clamp.
    HardlyGripped(HardlyGripped),
    /// The reading stands still while clamped and not in the pauses.
    StillWhileClamped,
    /// The reading stands still while clamped, at the highest one of the record.
    StillAtItsEnd {
        /// That, N.
        at_n: f64,
    },
    /// The reading stands still in the pauses.
    StillInPauses {
        /// Where, N.
        at_n: f64,
    },
    /// Within limit as it settled, and not as the hold ends.
    LittleLeft {
        /// At most what is left at the end of a hold, N.
        left_n: f64,
    },
    /// Outside limit as it was read, and not as the hold ends.
    RisesAfter {
        /// At least what it may come to, N.
        most_n: f64,
    },
    /// A clamp that does not count reads below the limit: it is the news.
    WeakLeftOut {
        /// Which.
        clamp: u32,
        /// Why it does not count.
        excluded: Excluded,
        /// At most about this, N.
        reads_n: f64,
        /// The limit, N.
        limit_n: f64,
    },
    /// A clamp that counts holds less than is asked of the mean, and far less than the others; nothing limits the lowest.
    WeakCounts {
        /// Which.
        clamp: u32,
        /// What it holds, N.
        force_n: f64,
        /// Asked of the mean, N.
        limit_n: f64,
    },
    /// Within limit only without the clamps discarded by hand.
    DiscardsDecide {
        /// What it would be with them.
        with: Outcome,
    },
    /// The force falls from clamp to clamp, and the next would be below the limit.
    NextBelowLimit {
        /// By so much, N.
        n_per_clamp: f64,
        /// The next would hold, N.
        next_n: f64,
        /// The limit, N.
        limit_n: f64,
    },
    /// Two clamps are one: reading by reading, or but for a factor and a constant.
    ClampCopied {
        /// The first.
        first: u32,
        /// Its copy.
        copy: u32,
    },
    /// All clamps hold the same to the last digit.
    ClampsAlike {
        /// That, N.
        force_n: f64,
    },
    /// A cause of a drop is named, and the force is below its limit so soon all the same.
    CauseDoesNotHold {
        /// The drop.
        drop: DropSeen,
        /// Until then, s.
        below_limit_in_s: f64,
        /// The cause, as the person wrote it.
        cause: String,
    },
    /// What was given as the cause of a drop names none.
    NoCause {
        /// As the person wrote it.
        said: String,
    },
    /// From one clamp on all hold as much less, or more, as one unit is of another.
    UnitChanges {
        /// The first of them.
        clamp: u32,
        /// So many times less; under one, more.
        times: f64,
    },
    /// What is free reads 0 N, and all the rest below it.
    SignReversed,
    /// Between the clamps the gauge reads so far below free that it may be the clamps, and the rest the push-outs.
    RestsLikeClamps {
        /// So far below free at most, N.
        low_n: f64,
    },
    /// At rest the reading jumps up from one sample to the next, faster than any force of the record changes, and stays there.
    ZeroedUnderLoad {
        /// When, s.
        at_s: f64,
        /// By how much, N.
        by_n: f64,
    },
    /// From some moment on the gauge is never free again, while the force goes on changing.
    NeverFreeAgain {
        /// From when on, s.
        from_s: f64,
    },
    /// Nothing limits the force from below, and it is far below what is usual for the taper.
    FarBelowUnlimited {
        /// The mean, N.
        force_n: f64,
        /// The lowest usual force, N.
        low_n: f64,
    },
    /// Nothing limits the force from below, and nothing known of the spindle says whether it is enough.
    NothingLimitsForce {
        /// The mean, N.
        force_n: f64,
    },
    /// Nothing limits the force from below, and it is less than is usual of the maker's nominal.
    LittleOfNominal {
        /// The mean, % of the nominal.
        percent: f64,
    },
    /// For some time nothing was read, or nothing new.
    Unseen {
        /// From when on, s.
        from_s: f64,
        /// For how long, s.
        for_s: f64,
    },
    /// Within limit only if what stood still above the free gauge was pulled at.
    WithinByZerosSetAside {
        /// How far above it that stood, N.
        high_n: f64,
    },
    /// The force went down below its limit while held, and rose again.
    FellBelowLimit {
        /// In the clamp where it went down farthest.
        clamp: u32,
        /// To this, N.
        down_to_n: f64,
        /// In so many clamps it went below the limit.
        clamps: usize,
        /// The limit, N.
        limit_n: f64,
        /// The cause, as the person wrote it, where one is named.
        cause: Option<String>,
    },
    /// A force lower at the end of its hold than it settled at.
    LowerAtEnd {
        /// In which clamp.
        clamp: u32,
        /// By how much, N.
        by_n: f64,
        /// The cause, as the person wrote it, where one is named.
        cause: Option<String>,
    },
}

impl GripReason {
    /// Whether somebody who was there can answer it by saying that it is meant as it reads. What the notes name already, a
    /// gauge taken as free and a pull taken as no clamp, is left to them.
    pub(super) fn is_question(&self) -> bool {
        matches!(
            self,
            Self::Unseen { .. }
                | Self::UnitChanges { .. }
                | Self::RestsLikeClamps { .. }
                | Self::ZeroedUnderLoad { .. }
                | Self::NeverFreeAgain { .. }
                | Self::WithinByZerosSetAside { .. }
                | Self::FarBelowUnlimited { .. }
                | Self::NothingLimitsForce { .. }
                | Self::LittleOfNominal { .. }
                | Self::NoPushOutBy(_)
        )
    }
}

/// A figure that a better gauge helps to decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Asked {
    /// The mean.
    Mean,
    /// The lowest clamp.
    Lowest,
    /// The scatter.
    Scatter,
    /// The drop while held.
    Drop,
    /// The push-out.
    PushOut,
}

/// What would settle an undecided grip check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum GripRemedy {
    /// More clamps.
    MoreClamps {
        /// How many.
        more: usize,
        /// There are clamps enough to say: like these.
        like_these: bool,
    },
    /// A better gauge.
    BetterGauge {
        /// For these figures.
        figures: Vec<Asked>,
        /// Its expanded uncertainty (k = 2), %.
        percent: f64,
        /// More clamps are wanted as well.
        with_clamps: bool,
    },
    /// Too near its limit for anything that can be had.
    TooNear {
        /// The figure.
        figure: Asked,
        /// The most clamps asked for.
        most_clamps: usize,
        /// The finest gauge asked for, expanded uncertainty (k = 2), %.
        finest_percent: f64,
    },
    /// Clamps that count.
    CountingClamps,
    /// Clamps with a force.
    ClampsWithForce,
    /// The set again, the gauge free in every pause.
    SetHangingFree,
    /// One clamp held for 30 s.
    LongHold,
    /// The end face read, and the shank held up against the gripper after unclamping.
    HoldUpForPushOut,
    /// The sign of what reads the end face put right.
    EndFaceTurned,
    /// What reads the end face freed.
    EndFaceFreed,
    /// The column of the end face named by its unit.
    EndFaceUnit,
    /// One clamp held for so long.
    HoldFor {
        /// How long, s.
        hold_s: f64,
    },
    /// A long hold, to see whether the drop goes on.
    LongHoldForDrop,
    /// The cause of the drop.
    NameDropCause,
    /// The maker's figure.
    MakersFigure,
    /// The set again after shank, knob, range and setting were checked.
    SetAfterChecks,
    /// A gauge whose calibration is in force.
    GaugeInForce,
    /// A finer record.
    FinerRecord,
    /// A word that the gauge was free, or a record that shows it.
    ShowFree,
    /// A look at the gripper, or a word that it was no clamp.
    LookAtGripper,
    /// A meter that shows the force as it is.
    ForceAsItIs,
    /// A range that goes beyond the force.
    WiderRange,
    /// A record that shows readings below zero.
    BelowZeroToo,
    /// Every clamp held until the force stands still.
    HoldUntilStill,
    /// Clamped again, and held whole.
    ClampAgain,
    /// A set in which no clamp is discarded.
    SetWhole,
    /// The maker's least force for a single clamp, or a set without such a one.
    LimitOnLowest,
    /// The cause put right, and the set taken again.
    CausePutRight,
    /// The record as it was taken.
    RecordAsTaken,
    /// The gauge's sign put right.
    SignPutRight,
    /// The set again without a break in the record, or a word that nothing was clamped in it.
    WholeRecord,
    /// The set again with nobody at the panel or the gauge while it holds.
    HeldInPeace,
}
