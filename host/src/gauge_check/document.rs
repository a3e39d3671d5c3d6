//! The answer of a gauge check. In: a look at the gauge. Out: whether it may measure, and each quantity in words, as it is
//! stored, printed and shown.

use crate::gauge_check::knob::Knob;
use crate::gauge_check::look::Look;
use crate::terminal::times;
use crate::visits::stops;
use holdtrue_book::GaugeStop;
use holdtrue_gauge::binding::OTHER_BRIDGE;
use holdtrue_gauge::calibration;
use holdtrue_metrology::gauge_check::control::{Shunt, Standard};
use holdtrue_metrology::gauge_check::fitness::{self, AtRest, Quantity, What};
use holdtrue_wording::gauge_check as words;
use serde::Serialize;

/// A measured quantity beside its bound, with its words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// What.
    pub name: &'static str,
    /// Value; null where the gauge has no such test.
    pub value: Option<f64>,
    /// Unit of value and bounds.
    pub unit: &'static str,
    /// Lowest that is good.
    pub at_least: Option<f64>,
    /// Highest that is good.
    pub at_most: Option<f64>,
    /// Whether it is good; null without value or bound.
    pub ok: Option<bool>,
    /// What belongs to it: what it was compared with, since when it counts.
    pub remark: Option<String>,
    /// What to do when it is not.
    #[serde(skip)]
    remedy: String,
    #[serde(skip)]
    quantity: Quantity,
}

impl Row {
    fn of(quantity: Quantity, look: &Look, is_fit: bool) -> Self {
        let remark = match &quantity.what {
            What::OtherParts => Some(look.belonging.words()),
            What::KnobClamps => Some(look.knob.as_ref().map_or_else(
                || "no book here to count them in".to_owned(),
                Knob::since_words,
            )),
            What::Stops => {
                let newest = look.stops.as_deref().and_then(<[GaugeStop]>::last);
                newest.map(|stop| format!("{}; {}", stops::words(stop), stops::next(stop)))
            }
            What::StandardBefore { name, what } => {
                let at = look.open.as_ref().map(|open| times::moment(&open.at));
                let found = words::name(what);
                Some(format!("{name}, {}: {found}", at.unwrap_or_default()))
            }
            what => words::remark(what, is_fit),
        };
        let remedy = match &quantity.what {
            What::OtherParts => {
                let differences = look.belonging.differences();
                let told: Vec<String> = differences.iter().map(ToString::to_string).collect();
                told.join("; ")
            }
            What::StepSinceCalibration { .. } => OTHER_BRIDGE.to_owned(),
            _ => words::remedy(&quantity).to_owned(),
        };
        Self {
            name: words::name(&quantity.what),
            value: quantity.value,
            unit: quantity.what.unit(),
            at_least: quantity.at_least,
            at_most: quantity.at_most,
            ok: quantity.ok,
            remark,
            remedy,
            quantity,
        }
    }

    /// The value as a person reads it, `force` writing the newtons.
    pub fn figure(&self, force: &dyn Fn(f64) -> String) -> String {
        words::figure(&self.quantity, force)
    }

    /// What it may be, and what it was compared with, as a person reads them.
    pub fn beside(&self, force: &dyn Fn(f64) -> String) -> String {
        let bound = words::bound(&self.quantity, force);
        let both = bound.into_iter().chain(self.remark.clone());
        both.collect::<Vec<String>>().join("; ")
    }
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fitness {
    /// Always `gauge`.
    pub check: &'static str,
    /// Version of this document.
    pub schema: u32,
    /// Serial number of the gauge.
    pub serial: String,
    /// The calibration it carries: its id in the book.
    pub calibration: Option<String>,
    /// Whether the gauge may measure.
    pub fit: bool,
    /// Why not, each with what to do next; empty when fit.
    pub reasons: Vec<String>,
    /// What was looked at.
    pub quantities: Vec<Row>,
    /// Force with the gauge free.
    pub at_rest: Option<AtRest>,
    /// The shunt, against its history.
    pub shunt: Option<Shunt>,
    /// The check standard, against the calibration and its history.
    pub standard: Option<Standard>,
    /// The retention knob.
    pub knob: Option<Knob>,
    /// The book it is kept in; null where it is not.
    pub kept: Option<String>,
}

/// Why no force can be given.
const NO_CALIBRATION: &str =
    "no calibration: the gauge has none stored for force; enter its certificate";

/// Judges a look.
pub fn judge(look: Look) -> Fitness {
    let figures = look.figures();
    let quantities = fitness::quantities(&figures);
    let fit = fitness::is_fit(&figures, &quantities);
    let rows = quantities
        .into_iter()
        .map(|quantity| Row::of(quantity, &look, fit));
    let mut judged = Fitness {
        check: "gauge",
        schema: 1,
        serial: look.serial.clone(),
        calibration: look.record.as_ref().map(calibration::id_text),
        fit,
        reasons: Vec::new(),
        quantities: rows.collect(),
        at_rest: look.at_rest,
        shunt: look.shunt,
        standard: look.standard,
        knob: look.knob,
        kept: None,
    };
    judged.reasons = judged.reasons_in(&|newton| format!("{newton:.1} N"));
    judged
}

impl Fitness {
    /// Why not, with the forces in a person's unit.
    pub fn reasons_in(&self, force: &dyn Fn(f64) -> String) -> Vec<String> {
        let bad = self.quantities.iter().filter(|row| row.quantity.is_bad());
        let uncalibrated = self.calibration.is_none();
        bad.map(|row| words::reason(&row.quantity, &row.remedy, force))
            .chain(uncalibrated.then(|| NO_CALIBRATION.to_owned()))
            .collect()
    }
}

#[cfg(test)]
mod tests;
