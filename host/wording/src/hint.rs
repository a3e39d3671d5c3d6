//! Likely causes in words. In: what points to a cause. Out: what to look at, and what was seen.

use crate::digits::Units;
use crate::grip::expected_words;
use crate::runout::bar_words;
use crate::say::Say;
use holdtrue_metrology::grip::remarks::Springs;
use holdtrue_metrology::hint::Evidence;

const RULE_OUT: &str = "First rule out: unclamp cylinder not fully back (residual pressure, no gap to the drawbar end), wrong retention knob or shank, drawbar setting. Then the";

/// What to look at or do next.
pub(crate) fn look_at(evidence: &Evidence) -> String {
    let text = match evidence {
        Evidence::FarAbove { .. } => {
            "Stop. Check range and calibration of the gauge, length of the knob and shank, then whether the drawbar is set too far."
        }
        Evidence::FirstLow { .. } => {
            "Pull the gauge out and do a second set: first clamp low again, then gauge or knob are bedding in; not again, then the spindle stood long."
        }
        Evidence::Climbs { .. } => {
            "Gripper or drawbar sticks: clean, grease and measure again as left. Look at the zeros first: a gauge that warms climbs too."
        }
        Evidence::Scatters { .. } => {
            "Look at gripper fingers, seating of the shank, release pressure and torque of the knob."
        }
        Evidence::FollowsPosition { .. } => {
            "Knob or gripper not square. Change the knob and repeat: if it stays, it is the spindle."
        }
        Evidence::LowAndEven { springs, .. } => {
            let then = match springs {
                Springs::Disc => {
                    "disc (Belleville) springs. Measure the push-out (knock-out distance): normal push-out and low force, springs; wrong push-out, setting or unclamp cylinder."
                }
                Springs::Gas => "gas spring: it loses over weeks, compare visits.",
            };
            return format!("{RULE_OUT} {then}");
        }
        Evidence::LowPushedRight { springs, .. } => match springs {
            Springs::Disc => {
                "The push-out is as the maker states, so setting and unclamp cylinder are not the likely cause: disc (Belleville) springs. Rule out a wrong retention knob or shank."
            }
            Springs::Gas => {
                "The push-out is as the maker states, so setting and unclamp cylinder are not the likely cause: gas spring. It loses over weeks, compare visits."
            }
        },
        Evidence::LowPushedFar { .. } => {
            "The shank is pushed out farther than the maker states: look at the setting of the drawbar (too far forward), then whether the unclamp cylinder comes fully back. Springs after that."
        }
        Evidence::LowPushedShort { .. } => {
            "The shank is not pushed out as far as the maker states: look at the unclamp cylinder (pressure, stroke, fully back when clamped), then at the setting of the drawbar. Springs after that."
        }
        Evidence::DropsWhileHeld { .. } => {
            "The hydraulically held drawbar leaks: look at seals, check valve and fittings of its holding circuit."
        }
        Evidence::ZeroMoved { .. } => {
            "The gauge is warming or cooling: let it take the machine's temperature, then measure again."
        }
        Evidence::TurnsWithBar {
            bar_or_seat: true, ..
        } => {
            "the runout follows the bar or its seat, not the spindle: clean, seat the bar twice in each orientation, or try another bar"
        }
        Evidence::TurnsWithBar { .. } => {
            "the runout follows the bar, not the spindle: check the bar between centres or try another one"
        }
        Evidence::SeatScatters { .. } => {
            "the runout changes at every seating: loose dirt, fretting or a bell-mouthed taper; wipe taper and bar, look at both ends of the taper, repeat"
        }
        Evidence::WallIsGood { .. } => {
            "the runout stays with the spindle and the wall is good: a raised spot, stuck dirt or the face; clean, blue, repeat"
        }
        Evidence::WallShowsIt { .. } | Evidence::WallRunsOut { .. } => {
            "the runout stays with the spindle and the wall shows it too: taper, shaft or bearings; have it examined before anything is ground"
        }
    };
    text.to_owned()
}

impl Say for Evidence {
    fn say(&self, units: &Units) -> String {
        let length = |um| units.micrometres(um);
        match *self {
            Self::FarAbove { percent, of } => {
                format!("mean at {percent:.0} % of {}", expected_words(of, units))
            }
            Self::FirstLow {
                low_percent,
                others_percent,
            } => format!(
                "first clamp {low_percent:.1} % below the others, which agree within {others_percent:.1} %"
            ),
            Self::Climbs {
                percent,
                clamps,
                steps_up,
            } => format!(
                "{percent:.1} % higher from first to last of {clamps} clamps, {steps_up} of {} steps upwards",
                clamps.saturating_sub(1)
            ),
            Self::Scatters {
                cv_percent,
                usual_percent,
            } => format!("scatter {cv_percent:.1} %; up to {usual_percent:.0} % is usual"),
            Self::FollowsPosition { percent, positions } => format!(
                "levels differ by {percent:.1} % between {positions} positions of the gauge"
            ),
            Self::LowAndEven {
                percent,
                cv_percent,
                ..
            } => format!(
                "mean at {percent:.0} % of the force below which it is watched, scatter only {cv_percent:.1} %"
            ),
            Self::LowPushedRight {
                percent,
                push_out_mm,
                ..
            } => format!(
                "mean at {percent:.0} % of the force below which it is watched; push-out {}, as the maker states",
                units.travel(push_out_mm)
            ),
            Self::LowPushedFar {
                percent,
                push_out_mm,
                most_mm,
            } => format!(
                "mean at {percent:.0} % of the force below which it is watched; push-out {}, the maker states {} at most",
                units.travel(push_out_mm),
                units.travel(most_mm)
            ),
            Self::LowPushedShort {
                percent,
                push_out_mm,
                least_mm,
            } => format!(
                "mean at {percent:.0} % of the force below which it is watched; push-out {}, the maker states {} at least",
                units.travel(push_out_mm),
                units.travel(least_mm)
            ),
            Self::DropsWhileHeld {
                percent_per_s,
                over_s,
            } => format!("drops {percent_per_s:.2} % a second while held, seen over {over_s:.0} s"),
            Self::ZeroMoved { percent } => {
                format!("the zero moved by {percent:.2} % of the mean over the check")
            }
            Self::TurnsWithBar {
                place,
                bar_um,
                bar_or_seat,
                spindle_um,
            } => format!(
                "{place}: TIR {} turn with the {}, {} stay with the spindle",
                length(bar_um),
                bar_words(bar_or_seat),
                length(spindle_um)
            ),
            Self::SeatScatters { place, scatter_um } => format!(
                "{place}: from seating to seating the runout scatters by {}",
                length(scatter_um)
            ),
            Self::WallShowsIt {
                place,
                spindle_um,
                wall_percent,
            }
            | Self::WallIsGood {
                place,
                spindle_um,
                wall_percent,
            } => format!(
                "{place}: TIR {} stay with the spindle; the wall shows {wall_percent:.0} % of it",
                length(spindle_um)
            ),
            Self::WallRunsOut { place, tir_um } => format!("{place}: {}", length(tir_um)),
        }
    }
}
