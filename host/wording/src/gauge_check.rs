//! What a person reads of a check of the gauge: what each quantity is called, what belongs to it, what to do when it is bad.

use holdtrue_metrology::gauge_check::control::{BASELINE_LEAST, STANDARD_ASSUMED_PERCENT};
use holdtrue_metrology::gauge_check::fitness::{Quantity, What};
use holdtrue_metrology::gauge_check::shunt::{ARM_OHM, SHUNT_OHM};

/// What it is called.
pub fn name(what: &What) -> &'static str {
    match what {
        What::Zero => "zero",
        What::Noise => "noise",
        What::Drift => "drift at rest",
        What::ConverterOffset => "converter offset, input shorted",
        What::ConverterNoise => "converter noise, bridge connected",
        What::ShuntStep { .. } => "step with the shunt",
        What::Supply => "bridge supply",
        What::OpenWires => "open bridge wires",
        What::Temperature => "temperature of the electronics",
        What::OtherParts => "parts other than at the calibration",
        What::StepSinceCalibration { .. } => "step with the shunt, less the calibration's",
        What::ShuntChange { .. } => "step with the shunt, change",
        What::OnStandard { .. } => "check standard, against calibration",
        What::StandardChange { .. } => "check standard, change",
        What::ZeroReturn => "zero after less before the standard",
        What::StandardBefore { .. } => "check standard, by an earlier check",
        What::Overloads { .. } => "overloads since calibration",
        What::Stops => "stops of its program, not told before",
        What::DaysLeft => "days until calibration is due",
        What::KnobClamps => "clamps of the retention knob",
    }
}

/// What belongs to it: what it was compared with. `is_fit`: whether later readings are held to this one.
pub fn remark(what: &What, is_fit: bool) -> Option<String> {
    match what {
        What::ShuntStep {
            computed_counts,
            gain,
        } => Some(format!(
            "computed {computed_counts:.0}: a bridge of {ARM_OHM} ohm, {:.0} kilohm across one arm, gain {gain}",
            SHUNT_OHM / 1e3
        )),
        What::StepSinceCalibration {
            then_counts,
            now_counts: Some(now),
        } => Some(format!("then {then_counts:.0}, now {now:.0}")),
        What::StepSinceCalibration {
            now_counts: None, ..
        } => Some("the calibration was made with a shunt, this gauge has none".to_owned()),
        What::ShuntChange { baseline } => Some(format!(
            "{}; proves the electronics only, not the load cell",
            compared(*baseline, is_fit)
        )),
        What::OnStandard { name, is_assumed } => Some(match is_assumed {
            true => format!(
                "{name}, its own uncertainty not stated: {STANDARD_ASSUMED_PERCENT} % assumed"
            ),
            false => name.clone(),
        }),
        What::StandardChange { name, baseline } => {
            Some(format!("{name}, {}", compared(*baseline, is_fit)))
        }
        What::Zero
        | What::Noise
        | What::Drift
        | What::ConverterOffset
        | What::ConverterNoise
        | What::Supply
        | What::OpenWires
        | What::Temperature
        | What::OtherParts
        | What::ZeroReturn
        | What::StandardBefore { .. }
        | What::Overloads { .. }
        | What::Stops
        | What::DaysLeft
        | What::KnobClamps => None,
    }
}

/// What to do when it is bad.
pub fn remedy(quantity: &Quantity) -> &'static str {
    const AGAIN: &str = "put the standard on once more; if it stays, do not measure and have the gauge recalibrated";
    match &quantity.what {
        What::Zero => {
            "hold the gauge free, knob touching nothing, and check again; if it stays, have it recalibrated"
        }
        What::Noise => "move cables away from drives and motors, check the plug, and check again",
        What::Drift => {
            "let the gauge take the machine's temperature for a quarter of an hour, then check again"
        }
        What::ConverterOffset => "have the gauge's electronics repaired",
        // Noise and stops have no bound; what was exchanged, and what to do about it, says who knows the hardware.
        What::ConverterNoise
        | What::Stops
        | What::OtherParts
        | What::StepSinceCalibration { .. } => "",
        What::ShuntStep { .. } if quantity.value.is_some_and(|step| step < 0.0) => {
            "pull would read as push: two wires of the load cell are exchanged, put them right"
        }
        What::ShuntStep { .. } => {
            "forces are wrong by as much: load the gauge's own firmware again, then have bridge, shunt and wires measured"
        }
        What::Supply => "try another USB port or cable",
        What::OpenWires => "a wire of the load cell is open: do not measure, have it repaired",
        What::Temperature => "let the gauge take the room's temperature",
        What::ShuntChange { .. } => {
            "converter or wiring are not as they were at the calibration: check again, then have the gauge repaired and \
             recalibrated"
        }
        What::OnStandard { .. } | What::StandardChange { .. } => AGAIN,
        What::ZeroReturn => {
            "see that the knob touches nothing, put the standard on once more; if it stays, have the gauge recalibrated"
        }
        What::StandardBefore { .. } => {
            "hanging free it shows nothing of that: put the standard on again (--standard-n); only a good reading on it, or a \
             new calibration, takes it back"
        }
        What::Overloads { on_standard: true } => {
            "zero and check standard above tell how bad it was: have the gauge recalibrated before it measures again"
        }
        What::Overloads { on_standard: false } => {
            "look at the zero above, try the gauge on a check standard (--standard-n), then have it recalibrated before it \
             measures again"
        }
        What::DaysLeft => {
            "no acceptance is given with it: have the gauge calibrated (or set this computer's clock)"
        }
        What::KnobClamps => "change the knob, and record it with `holdtrue gauge knob --changed`",
    }
}

/// The value as a person reads it, `force` writing the newtons; a count of things has no unit.
pub fn figure(quantity: &Quantity, force: &dyn Fn(f64) -> String) -> String {
    match (quantity.value, quantity.what.unit()) {
        (None, _) => "–".to_owned(),
        (Some(value), "N") => force(value),
        (Some(value), "1") => format!("{value:.0}"),
        (Some(value), unit @ ("counts" | "mV" | "d")) => format!("{value:.0} {unit}"),
        (Some(value), unit) => format!("{value:.1} {unit}"),
    }
}

/// What it may be, beside its value; none where it has no bound. `force` writes the newtons.
pub fn bound(quantity: &Quantity, force: &dyn Fn(f64) -> String) -> Option<String> {
    // A count of things has no unit, a force brings its own.
    let unit = match quantity.what.unit() {
        "N" | "1" => String::new(),
        unit => format!(" {unit}"),
    };
    let written = |bound: f64| match quantity.what.unit() {
        "N" => force(bound),
        _ if bound.abs() < 10.0 && bound.fract() != 0.0 => format!("{bound:.1}"),
        _ => format!("{bound:.0}"),
    };
    Some(match (quantity.at_least, quantity.at_most) {
        (Some(low), Some(high)) if (low + high).abs() < 1e-9 * high.abs() => {
            format!("may be ± {}{unit}", written(high))
        }
        (Some(low), Some(high)) => format!("may be {} to {}{unit}", written(low), written(high)),
        (Some(low), None) => format!("may be {}{unit} and more", written(low)),
        (None, Some(high)) if high <= 0.0 => "may be none".to_owned(),
        (None, Some(high)) => format!("may be {}{unit} at most", written(high)),
        (None, None) => return None,
    })
}

/// Why the gauge is not fit, in a person's unit of force, with what to do.
pub fn reason(quantity: &Quantity, remedy: &str, force: &dyn Fn(f64) -> String) -> String {
    let value = figure(quantity, force);
    let written = |bound: f64| match quantity.what.unit() {
        "N" => force(bound),
        _ => format!("{bound:.1}"),
    };
    let bound = match (quantity.at_least, quantity.at_most) {
        (Some(low), Some(high)) => format!("{} to {}", written(low), written(high)),
        (Some(low), None) => format!("at least {}", written(low)),
        (None, Some(high)) => format!("at most {}", written(high)),
        (None, None) => "known".to_owned(),
    };
    format!(
        "{}: {value}, should be {bound}; {remedy}",
        name(&quantity.what)
    )
}

/// What a reading is to later ones whose gauge was not fit.
pub const NO_BASELINE: &str = "no later reading is held to it";

/// "baseline 2 of 3" while there is nothing to compare with, else with how many it was compared.
pub fn baseline(earlier: usize) -> String {
    if earlier < BASELINE_LEAST {
        format!("baseline {} of {BASELINE_LEAST}", earlier + 1)
    } else {
        format!("against {earlier} since the calibration")
    }
}

/// With how many earlier readings this one was compared, or the how-manieth of a baseline it is.
fn compared(earlier: usize, is_fit: bool) -> String {
    if is_fit || earlier >= BASELINE_LEAST {
        baseline(earlier)
    } else {
        NO_BASELINE.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_of_things_has_no_unit_in_its_bound() {
        let bound = |what, at_least, at_most| {
            let quantity = Quantity {
                what,
                value: None,
                at_least,
                at_most,
                ok: None,
            };
            bound(&quantity, &|newton| format!("{newton} N"))
        };
        let told = |words: &str| Some(words.to_owned());
        let clamps = bound(What::KnobClamps, None, Some(5_000.0));
        assert_eq!(clamps, told("may be 5000 at most"));
        assert_eq!(bound(What::OpenWires, None, Some(0.0)), told("may be none"));
        let zero = bound(What::Zero, Some(-500.0), Some(500.0));
        assert_eq!(zero, told("may be ± 500 N"));
        assert_eq!(bound(What::ConverterNoise, None, None), None);
    }

    #[test]
    fn a_baseline_in_the_making_says_which_of_three_it_is() {
        assert_eq!(baseline(2), "baseline 3 of 3");
        assert_eq!(baseline(3), "against 3 since the calibration");
        assert_eq!(compared(2, false), NO_BASELINE);
        assert_eq!(compared(3, false), baseline(3));
    }
}
