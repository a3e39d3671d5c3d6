//! Remarks, reasons and remedies of a grip check. In: values of the analysis. Out: sentences.

use crate::digits::{self, Reader, Units};
use crate::say::Say;
use crate::shown::shown;
use crate::words;
use holdtrue_metrology::grip::hardly::HardlyGripped;
use holdtrue_metrology::grip::record::SpanReason;
use holdtrue_metrology::grip::remarks::{
    Against, AgainstUsual, Asked, ClampNote, DropSeen, EndFaceDoubt, FarOut, GaugeGap, GripNote,
    GripReason, GripRemedy, HeldBy, MostExpected, Subject, Unlikely,
};
use holdtrue_metrology::grip::zero::NoZero;
use holdtrue_terms::figure::Figure;
use holdtrue_terms::vocabulary::Outcome;

impl Say for SpanReason {
    fn say(&self, units: &Units) -> String {
        let text = match *self {
            Self::SamplesLost { samples } => {
                return format!("{samples} samples were lost between gauge and computer");
            }
            Self::ConnectedAgain => {
                "the gauge was connected again; the time between is not to scale"
            }
            Self::NoSamples { for_s } => return format!("no samples for {for_s:.2} s"),
            Self::OverRated { load_n, rated_n } => {
                let force = |n| units.kilonewtons(n, |kn| format!("{kn:.2}"));
                return format!("{} on a gauge rated {}", force(load_n), force(rated_n));
            }
            Self::ConverterSilent => "the gauge's converter fell silent",
            Self::OpenBridge => "a wire of the load cell is open",
            Self::Saturated => "the force is beyond what the converter can read",
            Self::Overload => "the force is beyond the gauge's rated load",
            Self::ProbeLostCounts => "the probe lost counts",
            Self::IndicatorSilent => "the indicator sends nothing",
            Self::IndicatorGarbled => "the indicator sent something that is no reading",
        };
        text.to_owned()
    }
}

impl Say for ClampNote {
    fn say(&self, units: &Units) -> String {
        let text = match self {
            Self::Discarded { reason } => return format!("discarded by hand: {}", shown(reason)),
            Self::BeganUnderLoad => "the record begins under load",
            Self::NoSample => "no sample in the hold: the record is too coarse",
            Self::OnOrFree { reads_n } => {
                return format!(
                    "held at {} at an end of the record: was it on, or free? taken as on",
                    units.newtons(*reads_n)
                );
            }
            Self::ZeroBeforeOnly { after } => {
                return format!(
                    "zero from before the clamp only; after it {}",
                    no_zero(*after)
                );
            }
            Self::ZeroAfterOnly { before } => {
                return format!(
                    "zero from after the clamp only; before it {}",
                    no_zero(*before)
                );
            }
            Self::NoZeroBeside {
                before,
                after,
                elsewhere,
            } => {
                let why = if before == after {
                    format!("before and after it {}", no_zero(*before))
                } else {
                    format!(
                        "before it {}, after it {}",
                        no_zero(*before),
                        no_zero(*after)
                    )
                };
                let instead = if *elsewhere {
                    "; read against the free gauge elsewhere in the record"
                } else {
                    ""
                };
                return format!("no zero beside it: {why}{instead}");
            }
            Self::FewSamples => {
                "too few samples to see a bump or a spike: record at least 10 a second"
            }
            Self::StillFalling => "still falling, so it reads high: hold longer",
            Self::StillRising => "still rising, so it reads low: hold longer",
            Self::Bumped { length_s } => {
                return format!("bumped, that part left out ({length_s:.2} s)");
            }
            Self::FellAndRose { at_s, depth_n } => {
                return format!(
                    "a fall in the hold at {at_s:.1} s, by {}, and a rise again: not in the drop",
                    units.newtons(*depth_n)
                );
            }
            Self::Slipped { at_s, by_n } => {
                return format!(
                    "at {at_s:.1} s the force fell by {} and stayed down",
                    units.newtons(*by_n)
                );
            }
            Self::ReleasedSlowly { began_s } => {
                return format!(
                    "the force ran down slowly from {began_s:.1} s on, which is not in the drop: was it unclamped then, or did it let go?"
                );
            }
            Self::SpikesLeftOut { readings } => {
                let what = if *readings == 1 {
                    "reading"
                } else {
                    "readings"
                };
                return format!("spikes left out: {readings} {what} far off those around");
            }
            Self::UnclampedEarly => {
                "unclamped early: the holding force is read over what there was of it"
            }
            Self::OrientationChanges => {
                "the orientation given changes while held; the one in the middle of the hold is used"
            }
            Self::Marked(reason) => return reason.say(units),
        };
        text.to_owned()
    }
}

/// Why there is no zero.
fn no_zero(why: NoZero) -> &'static str {
    match why {
        NoZero::NoTime => "the gauge was not free long enough",
        NoZero::FewSamples => "there are too few samples",
        NoZero::Gap => "samples are missing there",
        NoZero::Unsteady => "the reading does not stand still",
        NoZero::Rested => "the gauge rested on something",
        NoZero::Pulled => "something still pulled at the gauge",
    }
}

impl Say for GripNote {
    fn say(&self, units: &Units) -> String {
        let text = match self {
            Self::UncertaintyNotKnown => {
                "the force gauge's uncertainty is not known: intervals show only how the clamps repeat"
            }
            Self::PeakNotJudged => {
                "a peak is the most the force gauge showed, while it was pulled or knocked: no holding force, so it is not judged"
            }
            Self::FiguresAlone => {
                "noted without its clamps: nothing shows how they scattered, so it is not judged"
            }
            Self::OneClampCounts => "one clamp counts: how clamps repeat is not in its uncertainty",
            Self::TaperNotNamed => {
                let option = units.option(" (--interface)");
                return format!(
                    "the taper is not named, so the uncertainty allows for the widest of the usual ones: naming it{option} can only narrow it"
                );
            }
            Self::ClampKeptAsRead { clamp, why } => {
                let why = match why {
                    Unlikely::Above => "more than such a spindle can pull",
                    Unlikely::Below => "less than any spindle is made to pull",
                    Unlikely::Apart => "not within a third and 3 times the median of the others",
                };
                return format!("clamp {clamp} is kept as read: {why}");
            }
            Self::Overloaded => {
                "the force gauge was overloaded: test zero and check standard, then have it calibrated"
            }
            Self::RestedZeros { zeros, of, low_n } => {
                return format!(
                    "{zeros} of {of} zeros set aside: the gauge rested on something, up to {} low",
                    units.newtons(*low_n)
                );
            }
            Self::PulledZeros { zeros, of, high_n } => {
                return format!(
                    "{zeros} of {of} zeros set aside: something still pulled at the gauge, up to {} high",
                    units.newtons(*high_n)
                );
            }
            Self::TakenAsFree { offset_n } => {
                let reads = reads(*offset_n, units);
                return format!("{reads}: taken as free, as read{}", as_read(units));
            }
            Self::FreeReads { offset_n } => {
                return format!(
                    "hanging free the force gauge reads {}",
                    units.newtons(*offset_n)
                );
            }
            Self::WasItFree { offset_n } => {
                let reads = reads(*offset_n, units);
                return format!(
                    "{reads}: was it free, or did it rest on something?{}",
                    units.option(" (--as-read: it was free)")
                );
            }
            Self::HardlyGripped(pull) => {
                let pulled = pulled(*pull, units);
                return format!(
                    "{pulled}: did the gripper catch? Not listed as a clamp{}",
                    units.option(" (--as-read: it was none)")
                );
            }
            Self::TakenAsNoClamp(pull) => {
                let pulled = pulled(*pull, units);
                return format!("{pulled}: taken as no clamp, as read{}", as_read(units));
            }
            Self::LowAndEven => {
                "low with small scatter: rule out an unclamp cylinder not fully back, a wrong retention knob or shank, and the drawbar setting"
            }
            Self::DropsNoLeak { held_by } => match held_by {
                HeldBy::DiscSprings => {
                    "drops while held: on a spring drawbar not a leak; unclamp cylinder creeping forward, thread of the retention knob bedding in, or the force gauge warming"
                }
                HeldBy::GasSpring => {
                    "drops while held: a gas spring loses over weeks, not seconds; unclamp cylinder creeping forward, thread of the retention knob bedding in, or the force gauge warming"
                }
                HeldBy::NotKnown => {
                    return format!(
                        "drops while held: what it means depends on what holds the tool, which is not known here{}",
                        units.option(" (--drawbar)")
                    );
                }
            },
            Self::WedgeHidesSprings => {
                "hollow taper: the gripper multiplies the spring force by a wedge, so a good reading does not clear the springs"
            }
            &Self::PushedOut {
                clamps,
                mean_mm,
                least_mm,
                most_mm,
                drawn_in_mm,
            } => {
                let over = if clamps == 1 { "clamp" } else { "clamps" };
                let drawn =
                    drawn_in_mm.map(|mm| format!(", drawn in {} on clamping", units.travel(mm)));
                return format!(
                    "push-out (knock-out distance) {} over {clamps} {over}, {} to {}{}; shank held up against the gripper",
                    units.travel(mean_mm),
                    units.travel(least_mm),
                    units.travel(most_mm),
                    drawn.unwrap_or_default()
                );
            }
            Self::NoPushOutBy(doubt) => return end_face(*doubt, units),
            Self::DropNotExamined => {
                "slow drop not examined: no clamp is known to have been held over 10 s by readings fine enough to show one"
            }
            Self::FileGoesOn { from_s, clamps } => {
                let (more, are) = match clamps {
                    1 => ("clamp", "is"),
                    _ => ("clamps", "are"),
                };
                return format!(
                    "the file goes on after {}: {clamps} more {more} {are} in no figure{}",
                    digits::seconds(*from_s),
                    units.option(" (--clamps); without --clamps all of it is read")
                );
            }
            Self::DropComesToRest { clamp, n_per_s } => {
                return format!(
                    "clamp {clamp} {} over its hold as a whole and comes to rest before its end: settling, or something that knocked \
                     it; held for 30 s it shows which",
                    units.drop_while_held(*n_per_s)
                );
            }
            Self::Unseen { from_s, for_s } => {
                return unseen(*from_s, *for_s);
            }
            Self::TakenAsRead { reason } => {
                return format!("taken as read{}: {}", as_read(units), reason.say(units));
            }
            Self::BelowZeroAsRead { half_way_n } => {
                return format!(
                    "taken as read{}: half-way between free and clamped the record reads {}, below zero",
                    as_read(units),
                    units.newtons(*half_way_n)
                );
            }
            Self::SetsItsOwnZero { at_n } => {
                return format!(
                    "between the clamps the meter shows exactly {} all the time, and while clamped it flickers: if it sets its own zero, what rests on the gauge between the clamps is not seen; switch that off",
                    units.newtons(*at_n)
                );
            }
            Self::ZeroMovedBetween {
                at_s,
                by_n,
                bound_n,
            } => {
                return format!(
                    "the check was gone on with at {}, and the free gauge reads {} {} there than before, more than {}: was it hung otherwise, or overloaded? Look at it (gauge check) before the figures are relied on",
                    digits::seconds(*at_s),
                    units.newtons(by_n.abs()),
                    if *by_n < 0.0 { "less" } else { "more" },
                    units.newtons(*bound_n)
                );
            }
            Self::BrokenOff { clamps } => {
                return format!("broken off: {clamps} clamps are in the book");
            }
            Self::File(note) => return note.say(units),
        };
        text.to_owned()
    }
}

/// Why what read the end face shows no push-out.
fn end_face(doubt: EndFaceDoubt, units: &Units) -> String {
    match doubt {
        EndFaceDoubt::Reversed { mean_mm } => format!(
            "the push-out reads {} in every clamp, and unclamping pushes a shank out: what reads the gauge's end face has its sign reversed, so nothing is said of the push-out",
            units.travel(mean_mm)
        ),
        EndFaceDoubt::Stuck { span_mm } => format!(
            "what reads the gauge's end face moved by no more than {} while the force came and went: is it stuck, or does it not touch? Nothing is said of the push-out",
            units.length(1e3 * span_mm)
        ),
        EndFaceDoubt::Thousandth { mean_mm } => format!(
            "the push-out reads {}, a thousandth of what a drawbar does: is the column of the end face in mm and called um? Nothing is said of the push-out",
            units.length(1e3 * mean_mm)
        ),
        EndFaceDoubt::Thousandfold { mean_mm } => format!(
            "the push-out reads {}, a thousand times what a drawbar does: is the column of the end face in um and called mm? Nothing is said of the push-out",
            units.travel(mean_mm)
        ),
    }
}

fn unseen(from_s: f64, for_s: f64) -> String {
    format!(
        "for {} from {} on nothing new was read: a whole clamp may lie in there",
        digits::seconds(for_s),
        digits::seconds(from_s)
    )
}

fn pulled(pull: HardlyGripped, units: &Units) -> String {
    let HardlyGripped {
        from_s,
        length_s,
        force_n,
    } = pull;
    format!(
        "at {from_s:.1} s pulled with {} for {length_s:.1} s, hardly gripped",
        units.newtons(force_n)
    )
}

fn reads(offset_n: f64, units: &Units) -> String {
    format!(
        "between the clamps the gauge reads {}",
        units.newtons(offset_n)
    )
}

impl Say for GripReason {
    fn say(&self, units: &Units) -> String {
        let text = match self {
            Self::NoClampCounts => "no clamp counts",
            Self::GripStands {
                of,
                at,
                outcome,
                watch,
            } => return stands(*of, *at, *outcome, *watch),
            Self::OneClampShowsNoRepeat => "a single clamp does not show how the clamps repeat",
            Self::RoundingHidesScatter => {
                "the readings do not differ even by their last digit: noting one digit more would make them surer"
            }
            Self::LowestOfOne => {
                "it is the lowest of a single clamp: others may be lower, five are usual"
            }
            Self::OutsideByZerosSetAside => {
                "outside limit only if the zeros set aside were none: the gauge may not have rested on anything"
            }
            Self::OneClampHasNoScatter => "a single clamp shows no scatter",
            Self::NoForceNoScatter => "a mean that is not above zero has no scatter in percent",
            Self::FewForScatter { fewest } => {
                return format!("no verdict from the scatter of fewer than {fewest} clamps");
            }
            Self::NoPushOut => {
                "fewer than two counted clamps show how far the shank is pushed out: nothing read the gauge's end face, or the shank was not held up against the gripper"
            }
            Self::NoPushOutBy(doubt) => return end_face(*doubt, units),
            Self::NotHeldLong => "no counted clamp was held long enough to see the force drop",
            Self::CauseWithoutDrop => "a cause of a drop is named, and no drop was found",
            Self::DropExplained {
                drop,
                cause,
                below_limit_in_s,
            } => {
                let limit = below_limit_in_s.map_or_else(String::new, |seconds| {
                    format!("; at this rate below the limit in {}", how_long(seconds))
                });
                return format!(
                    "{}; the cause named for it: {}{limit}",
                    drops(drop),
                    shown(cause)
                );
            }
            Self::CauseDoesNotHold {
                drop,
                below_limit_in_s,
                cause,
            } => {
                return format!(
                    "{}, whatever the cause at this rate below the limit in {}: do not run until it is put right; the cause named \
                     for it: {}",
                    drops(drop),
                    how_long(*below_limit_in_s),
                    shown(cause)
                );
            }
            Self::NoCause { said } => {
                return format!("\"{}\" names no cause of a drop", shown(said));
            }
            Self::WeakLeftOut {
                clamp,
                excluded,
                reads_n,
                limit_n,
            } => {
                return format!(
                    "clamp {clamp} was left out ({}) and read about {}, below the limit of {}: take the set again",
                    excluded.words(),
                    units.force(*reads_n),
                    units.force(*limit_n)
                );
            }
            Self::WeakCounts {
                clamp,
                force_n,
                limit_n,
            } => {
                return format!(
                    "clamp {clamp} holds {}, below the {} asked of the mean and far below the others, and nothing limits the lowest \
                     clamp: the low clamp is the one that lets a tool go",
                    units.force(*force_n),
                    units.force(*limit_n)
                );
            }
            Self::DiscardsDecide { with } => {
                return format!(
                    "with the discarded clamps it is {}: nothing is within limit only without them",
                    words::outcome(*with)
                );
            }
            Self::NextBelowLimit {
                n_per_clamp,
                next_n,
                limit_n,
            } => {
                return format!(
                    "the force falls by {} from clamp to clamp: the next would hold {}, below the limit of {}",
                    units.force(*n_per_clamp),
                    units.force(*next_n),
                    units.force(*limit_n)
                );
            }
            Self::ClampCopied { first, copy } => {
                return format!(
                    "clamp {copy} has the readings of clamp {first} once more, noise and all: no two clamps read alike"
                );
            }
            Self::ClampsAlike { force_n } => {
                return format!(
                    "all clamps hold {} to the last digit: no two clamps do",
                    units.force(*force_n)
                );
            }
            Self::DropGoesOn {
                drop,
                below_limit_in_s,
            } => {
                let limit = below_limit_in_s.map_or_else(String::new, |seconds| {
                    format!("at this rate below the limit in {}; ", how_long(seconds))
                });
                return format!(
                    "{}: {limit}do not run until the cause is found",
                    drops(drop)
                );
            }
            Self::SlippedOnce { clamp, by_n, cause } => {
                let lost = units.newtons(*by_n);
                let then = named_for_it(cause.as_deref());
                return format!("clamp {clamp} lost {lost} at once while held{then}");
            }
            Self::FallsAgain { holds, of, cause } => {
                let holds = match (holds, of) {
                    (1, 1) => "in the hold".to_owned(),
                    (holds, of) => format!("in {holds} of {of} holds"),
                };
                let then = named_for_it(cause.as_deref());
                return format!(
                    "the force went down and rose again, time after time, {holds}{then}"
                );
            }
            Self::NothingToCompare => {
                "no maker's figure, and no usual range is known for this taper and class"
            }
            Self::FarBelowUsual {
                low_n,
                high_n,
                percent,
                provenance,
            } => {
                let end = if low_n < high_n { "its low end" } else { "it" };
                return format!(
                    "far below the usual {}: the upper end of the interval is under {percent:.0} % of {end} ({})",
                    range_words(*low_n, *high_n, units),
                    provenance.words()
                );
            }
            Self::AgainstUsual {
                place,
                low_n,
                high_n,
                provenance,
            } => {
                let place = match place {
                    AgainstUsual::At => "at",
                    AgainstUsual::Below => "below",
                    AgainstUsual::Above => "above",
                    AgainstUsual::Inside => "inside",
                };
                let what = if low_n < high_n {
                    "the usual range of"
                } else {
                    "the usual"
                };
                return format!(
                    "no maker's figure: {place} {what} {} ({})",
                    range_words(*low_n, *high_n, units),
                    provenance.words()
                );
            }
            Self::OldLightForty => {
                return format!(
                    "about 1000 lbf ({}) is commonly taken as good on an old, lightly sprung no. 40 spindle: a remark, not a limit",
                    units.kilonewtons(4_450.0, |kn| kn.to_string())
                );
            }
            Self::MoreThanPossible { most_n } => {
                return format!(
                    "stop: over {}, more than such a spindle can pull; check range, calibration and unit of the gauge",
                    units.kilonewtons(*most_n, |kn| format!("{kn:.0}"))
                );
            }
            Self::FarAboveExpected { percent, of } => {
                return format!(
                    "stop: {percent:.0} % of {}; check shank, knob, gauge range and drawbar setting before going on",
                    expected_words(*of, units)
                );
            }
            Self::GripFarOut { what, gauge } => {
                let far = match what {
                    FarOut::Low => "far too low",
                    FarOut::High => "far too high",
                    FarOut::Scatter => "the scatter is too large",
                    FarOut::Drop => "the drop while held is far too high",
                };
                let by = match gauge {
                    GaugeGap::UncertaintyNotKnown => "even by a gauge that reads 20 % wrong",
                    _ => "by a gauge out of calibration",
                };
                return format!(
                    "{far} {by}: do not run until measured again ({})",
                    gap_words(*gauge)
                );
            }
            Self::GaugeNotInForce { gauge } => {
                return format!("{}: nothing can be within limit by it", gap_words(*gauge));
            }
            Self::NotShownFree { offset_n } => {
                return format!(
                    "{}, and nothing in the record shows whether it was free",
                    reads(*offset_n, units)
                );
            }
            Self::FewSamplesHeld => "too few samples in the hold",
            Self::HardlyGripped(pull) => return pulled(*pull, units),
            Self::StillWhileClamped => {
                "the reading stands still while clamped, and not in the pauses: was the meter on PEAK or HOLD?"
            }
            Self::StillAtItsEnd { at_n } => {
                return format!(
                    "the reading stands still at {} while clamped, the highest there is: is that the end of its range, or was \
                     the meter on PEAK or HOLD?",
                    units.kilonewtons(*at_n, |kn| format!("{kn:.2}"))
                );
            }
            Self::StillInPauses { at_n } => {
                return format!(
                    "the reading stands still at {} in the pauses: what lies below is cut off, so the free gauge is not seen",
                    units.newtons(*at_n)
                );
            }
            Self::LittleLeft { left_n } => {
                return format!(
                    "at the end of the hold no more than {} is left, which is not within the limit: do not run until the \
                     cause is found",
                    units.newtons(*left_n)
                );
            }
            Self::FallsAsRead {
                clamp,
                percent_per_s,
            } => {
                return format!(
                    "clamp {clamp} falls by {percent_per_s:.1} % a second as it is read, and none was held long enough to tell a \
                     drop from settling: hold longer"
                );
            }
            Self::RisesAfter { most_n } => {
                return format!(
                    "the force still rises after it was read: held longer it may come to {}, which is not outside the limit",
                    units.newtons(*most_n)
                );
            }
            Self::SignReversed => {
                return format!(
                    "free the gauge reads 0, and all the rest lies below: its sign is reversed, so what is read here are its pauses and no clamps{}",
                    units.option("; --as-read does not answer that")
                );
            }
            Self::ZeroedUnderLoad { at_s, by_n } => {
                return format!(
                    "at {} the reading at rest jumps up by {} from one sample to the next and stays there: was it zeroed while the gauge rested on something? Then every clamp after it reads too high by that",
                    digits::seconds(*at_s),
                    units.newtons(*by_n)
                );
            }
            Self::NeverFreeAgain { from_s } => {
                return format!(
                    "from {} on the gauge is never free again, and the force goes down and up: did the zero move? What came after is in no figure",
                    digits::seconds(*from_s)
                );
            }
            Self::RestsLikeClamps { low_n } => {
                return format!(
                    "between the clamps, before or after them, the gauge reads as much as {} below free: it rested on something that hard, its zero moved, or its sign is reversed and the push-outs were taken for clamps",
                    units.newtons(*low_n)
                );
            }
            Self::UnitChanges { clamp, times } => {
                let (times, than) = match *times > 1.0 {
                    true => (*times, "less"),
                    false => (1.0 / times, "more"),
                };
                return format!(
                    "from clamp {clamp} on all hold {times:.1} times {than} than those before, as one unit of force does against \
                     another: did the unit change?"
                );
            }
            Self::FarBelowUnlimited { force_n, low_n } => {
                return format!(
                    "no limit says how little it may grip with, and {} is far below the lowest usual {} of this taper: do not \
                     run before that is known",
                    units.kilonewtons(*force_n, |kn| format!("{kn:.2}")),
                    units.kilonewtons(*low_n, |kn| kn.to_string())
                );
            }
            Self::NothingLimitsForce { force_n } => {
                return format!(
                    "no limit says how little it may grip with, and neither its taper nor the maker's figure is known: nobody can \
                     tell from this whether {} is enough",
                    units.kilonewtons(*force_n, |kn| format!("{kn:.2}"))
                );
            }
            Self::LittleOfNominal { percent } => {
                return format!(
                    "no limit says how little it may grip with, and this is {percent:.0} % of the maker's nominal: do not run \
                     before it is known how little is enough"
                );
            }
            Self::Unseen { from_s, for_s } => return unseen(*from_s, *for_s),
            Self::WithinByZerosSetAside { high_n } => {
                return format!(
                    "within limit only if something pulled at the gauge where it stood still at {} above the others between \
                     the clamps, or at an end of the record: if it hung free there, all clamps read that much too high",
                    units.newtons(*high_n)
                );
            }
            Self::FellBelowLimit {
                clamp,
                down_to_n,
                clamps,
                limit_n,
                cause,
            } => {
                let others = match clamps {
                    1 => String::new(),
                    more => format!(" (below it in {more} clamps)"),
                };
                let then = cause.as_deref().map_or_else(
                    || ": did somebody touch unclamp? Do not run until that is known".to_owned(),
                    |cause| format!("; the cause named for it: {}", shown(cause)),
                );
                return format!(
                    "while held the force of clamp {clamp} fell to {}, below the limit of {}{others}, and rose again{then}",
                    units.kilonewtons(*down_to_n, |kn| format!("{kn:.2}")),
                    units.kilonewtons(*limit_n, |kn| format!("{kn:.2}")),
                );
            }
            Self::LowerAtEnd { clamp, by_n, cause } => {
                let lower = units.newtons(*by_n);
                let then = named_for_it(cause.as_deref());
                return format!("clamp {clamp} is {lower} lower at the end of its hold{then}");
            }
        };
        text.to_owned()
    }
}

/// One sentence on a judged limit.
fn stands(of: Subject, at: Against, outcome: Outcome, watch: bool) -> String {
    let what = match of {
        Subject::OnlyClamp => "the only clamp".to_owned(),
        Subject::Mean => Figure::GripMean.facts().named.to_owned(),
        Subject::Lowest { clamp } => format!("the lowest clamp (number {clamp})"),
        Subject::Scatter => Figure::GripScatter.facts().named.to_owned(),
        Subject::PushOut => Figure::PushOut.facts().named.to_owned(),
        Subject::Drop { clamp, over_s } => {
            format!("the drop while held (clamp {clamp}, {over_s:.0} s)")
        }
    };
    let at = match (at, of) {
        (Against::BelowZero, Subject::Drop { .. }) => "below zero, the force rose".to_owned(),
        (Against::BelowZero, _) => "below zero".to_owned(),
        (Against::Share { percent }, _) => format!("at {percent:.1} % of its limit"),
        (Against::ZeroLimit, _) => "judged against a limit of zero".to_owned(),
    };
    let word = match outcome {
        Outcome::Accept if watch => "within limit, watch it",
        Outcome::Accept => "within limit",
        Outcome::Reject => "outside limit",
        Outcome::Undecided => "too near to decide",
    };
    format!("{what} is {at}: {word}")
}

/// What follows what the force did while held: its cause, where somebody named one.
fn named_for_it(cause: Option<&str>) -> String {
    cause.map_or_else(
        || ": do not run until the cause is found".to_owned(),
        |cause| format!("; the cause named for it: {}", shown(cause)),
    )
}

fn drops(seen: &DropSeen) -> String {
    let percent = seen.percent_per_s;
    if seen.is_filled_up {
        let who = seen.clamp.map_or_else(
            || "the force".to_owned(),
            |number| format!("the force of clamp {number}"),
        );
        return format!(
            "{who} drops {percent:.2} % a second and is filled up again within the hold, over and over"
        );
    }
    match (seen.clamp, seen.last_s) {
        (Some(number), Some(last_s)) => format!(
            "clamp {number} drops {percent:.2} % a second in the last {last_s:.0} s of its hold"
        ),
        (Some(number), None) => format!("clamp {number} drops {percent:.2} % a second"),
        (None, _) => format!("drops {percent:.2} % a second"),
    }
}

/// A time as somebody would say it.
fn how_long(seconds: f64) -> String {
    if seconds < 10.0 {
        format!("{} s", seconds.ceil())
    } else if seconds < 120.0 {
        format!("{:.0} s", (seconds / 5.0).round() * 5.0)
    } else {
        format!("{:.0} min", (seconds / 60.0).round())
    }
}

fn range_words(low_n: f64, high_n: f64, units: &Units) -> String {
    let high = units.kilonewtons(high_n, |kn| kn.to_string());
    if low_n < high_n {
        let low = units.kilonewtons_digits(low_n, |kn| kn.to_string());
        format!("{low} to {high}")
    } else {
        units.kilonewtons(low_n, |kn| kn.to_string())
    }
}

/// What is to be expected at most.
pub(crate) fn expected_words(of: MostExpected, units: &Units) -> String {
    let force = |force_n| units.kilonewtons(force_n, |kn| kn.to_string());
    match of {
        MostExpected::Nominal => "the nominal force".to_owned(),
        MostExpected::HighestUsual { force_n } => format!("the highest usual {}", force(force_n)),
        MostExpected::Usual { force_n } => format!("the usual {}", force(force_n)),
    }
}

fn gap_words(gap: GaugeGap) -> &'static str {
    match gap {
        GaugeGap::NotCalibrated => "the force gauge has no calibration",
        GaugeGap::Lapsed => "the force gauge's calibration has lapsed",
        GaugeGap::OverloadedBefore => "the force gauge was overloaded since it was calibrated",
        GaugeGap::FoundUnfit => "the last check of the force gauge found it not fit to measure",
        GaugeGap::OverloadedHere => "the force gauge was overloaded in this check",
        GaugeGap::OutsideSpan => "the force lies outside the span the gauge was calibrated over",
        GaugeGap::UncertaintyNotKnown => "the force gauge's uncertainty is not known",
    }
}

impl Say for GripRemedy {
    fn say(&self, units: &Units) -> String {
        let text = match self {
            Self::MoreClamps { more, like_these } => {
                let plural = if *more == 1 { "clamp" } else { "clamps" };
                let like = if *like_these { " like these" } else { "" };
                return format!("about {more} more {plural}{like}");
            }
            Self::BetterGauge {
                figures,
                percent,
                with_clamps,
            } => {
                let names: Vec<&str> = figures.iter().map(|figure| asked_words(*figure)).collect();
                let why = match (with_clamps, figures.contains(&Asked::Lowest)) {
                    (_, true) => ": more clamps cannot lift the lowest",
                    (true, false) => " as well",
                    (false, false) => "; more clamps alone do not settle it",
                };
                return format!(
                    "for {} a gauge good to ± {percent} % (k = 2){why}",
                    names.join(" and ")
                );
            }
            Self::TooNear {
                figure,
                most_clamps,
                finest_percent,
            } => return too_near(*figure, *most_clamps, *finest_percent),
            Self::CountingClamps => "clamps that count",
            Self::ClampsWithForce => "clamps with a force",
            Self::SetHangingFree => "the set taken again with the gauge hung free in every pause",
            Self::HoldUpForPushOut => {
                return format!(
                    "a set with a probe or indicator on the gauge's end face{}, the shank held up against the gripper for half a second after each unclamp",
                    units.option(" (--push-out)")
                );
            }
            Self::EndFaceTurned => {
                "what reads the end face put right (its wires, or the sign in its certificate), and the set taken again"
            }
            Self::EndFaceFreed => {
                return format!(
                    "what reads the end face freed and set so that it touches and can move both ways, and the set taken again{}",
                    units.option("; --as-read if the shank did not move")
                );
            }
            Self::EndFaceUnit => {
                return match units.reader {
                    Reader::AtTheProgram => "the column of the end face named by its unit (displacement_um, displacement_mm); --as-read if it moved by as much",
                    Reader::OfThePaper => "the unit of what read the end face, found out",
                }
                .to_owned();
            }
            Self::LongHold => "one clamp held for 30 s",
            Self::HoldFor { hold_s } => return format!("one clamp held for {hold_s:.0} s"),
            Self::LongHoldForDrop => {
                "one clamp held for 30 s, which shows whether the drop goes on"
            }
            Self::NameDropCause => "the cause of the drop, found and named",
            Self::MakersFigure => "the maker's grip figure for this spindle",
            Self::SetAfterChecks => {
                "the set taken again after shank, knob, gauge range and drawbar setting were checked"
            }
            Self::GaugeInForce => {
                "the same clamps with a gauge whose calibration is in force and covers them"
            }
            Self::FinerRecord => "a record of at least 10 samples a second",
            Self::LookAtGripper => {
                return format!(
                    "the gripper looked at, and the set taken again{}",
                    units.option("; --as-read if that was no clamp")
                );
            }
            Self::ForceAsItIs => "the set taken again with the meter showing the force as it is",
            Self::WiderRange => {
                "the set taken again in a range that goes beyond the force, with the meter showing the force as it is"
            }
            Self::BelowZeroToo => {
                "the set taken again with a record that shows readings below zero, or with the free gauge set to read above it"
            }
            Self::ClampAgain => "the set taken again, with that clamp held so that it counts",
            Self::SetWhole => "a set in which no clamp is left out by hand",
            Self::LimitOnLowest => {
                return format!(
                    "the maker's least force for a single clamp{}, or the cause put right and the set taken again",
                    units.option(" (--limit-lowest-n)")
                );
            }
            Self::CausePutRight => "the cause found and put right, and the set taken again",
            Self::RecordAsTaken => "the record as the gauge gave it",
            Self::SignPutRight => {
                "the wires of the bridge, or the sign of the slope in the certificate, put right, and the set taken again"
            }
            Self::WholeRecord => {
                return format!(
                    "the set taken again without a break in the record{}",
                    units.option("; --as-read if nothing was clamped in it")
                );
            }
            Self::HeldInPeace => {
                return format!(
                    "the set taken again with nobody at the panel or the gauge while it holds{}",
                    units.option("; --drop-because if the cause is known")
                );
            }
            Self::HoldUntilStill => "every clamp held until the force stands still, 10 s or longer",
            Self::ShowFree => {
                return match units.reader {
                    Reader::AtTheProgram => "--as-read if the gauge hung free there, else a record that begins with it free",
                    Reader::OfThePaper => "a record that begins with the gauge hanging free",
                }
                .to_owned();
            }
        };
        text.to_owned()
    }
}

/// That somebody answered for what was read.
pub(crate) fn as_read(units: &Units) -> &'static str {
    units.option(" (--as-read)")
}

fn asked_words(figure: Asked) -> &'static str {
    match figure {
        Asked::Mean => Figure::GripMean.facts().named,
        Asked::Lowest => Figure::GripLowest.facts().named,
        Asked::Scatter => Figure::GripScatter.facts().named,
        Asked::Drop => Figure::GripSag.facts().named,
        Asked::PushOut => Figure::PushOut.facts().named,
    }
}

/// That nothing that can be had decides it.
fn too_near(figure: Asked, most_clamps: usize, finest: f64) -> String {
    match figure {
        Asked::Scatter => format!(
            "a scatter this near its limit is not decided by {most_clamps} clamps: take it as at the limit"
        ),
        Asked::Lowest => format!(
            "the lowest clamp is too near its limit for a gauge of ± {finest} %, and more clamps cannot lift it: take it as at the limit"
        ),
        Asked::Drop => format!(
            "the drop while held is too near its limit for a long hold and a gauge of ± {finest} %: take it as at the limit"
        ),
        Asked::PushOut => {
            "the push-out is too near its limit for hand and probe: take it as at the limit"
                .to_owned()
        }
        Asked::Mean => format!(
            "the mean is too near its limit for {most_clamps} clamps and a gauge of ± {finest} %: take it as at the limit"
        ),
    }
}
