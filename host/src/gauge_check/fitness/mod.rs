//! In: what was measured on a gauge at rest. Out: each quantity beside its bound, and whether the gauge is fit to measure.
//!
//! Bounds in proportion to the rated load, because a gauge for 50 kN may be noisier than one for 10 kN. They are
//! common practice, no source, except where a row says otherwise.

use crate::gauge_check::control::{BASELINE_LEAST, NO_BASELINE, Shunt, Standard, baseline_words};
use crate::gauge_check::knob::Knob;
use holdtrue_gauge::binding::{
    ARM_OHM, Belonging, CALIBRATION_BOUND, COMPUTED_BOUND, OTHER_BRIDGE, SHUNT_OHM, computed_step,
};
use holdtrue_gauge::calibration;
use holdtrue_gauge::calibration::Standing;
use holdtrue_protocol::message::{CalibrationRecord, SelfTest, SelfTestResult};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// A free gauge reads its calibration's zero within this part of the rated load.
const ZERO_BOUND: f64 = 0.02;
/// Noise of a single sample, in parts of the rated load.
const NOISE_BOUND: f64 = 0.0005;
/// Drift over the look at rest, in parts of the rated load.
const DRIFT_BOUND: f64 = 0.0005;
/// A free gauge reads the same before and after a load within this part of the rated load.
const RETURN_BOUND: f64 = 0.0005;
/// Offset of the converter with its input shorted, in parts of full scale: the electronics' share of a zero.
const OFFSET_BOUND: f64 = 0.0005;
/// Supply of the bridge, mV: ± 5 % of 3.3 V.
const SUPPLY_MV: [f64; 2] = [3_135.0, 3_465.0];
/// Where a gauge may work, °C.
const TEMPERATURE_C: [f64; 2] = [5.0, 45.0];
/// Counts at the end of a 24-bit converter's range.
const FULL_SCALE: f64 = 8_388_608.0;

/// A measured quantity beside its bound.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Quantity {
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
    pub remedy: Cow<'static, str>,
}

/// Force at rest over some seconds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AtRest {
    /// Mean less the calibration's zero, N.
    pub zero_n: f64,
    /// Standard deviation of a sample, N.
    pub noise_n: f64,
    /// Mean of the last fifth less mean of the first, N.
    pub drift_n: f64,
    /// How long, s.
    pub seconds: f64,
}

impl AtRest {
    /// From forces taken evenly over `seconds`; `None` below ten samples.
    pub fn of(forces_n: &[f64], seconds: f64) -> Option<Self> {
        use holdtrue_metrology::statistics::{mean, noise};
        let fifth = forces_n.len() / 5;
        if fifth < 2 {
            return None;
        }
        let drift_n = mean(&forces_n[forces_n.len() - fifth..]) - mean(&forces_n[..fifth]);
        Some(Self {
            zero_n: mean(forces_n),
            noise_n: noise(forces_n),
            drift_n,
            seconds,
        })
    }
}

/// Everything a gauge check looks at.
#[derive(Clone, Debug, Default)]
pub struct Look {
    /// The calibration record, if the gauge has one.
    pub record: Option<CalibrationRecord>,
    /// What the gauge is built from, and what that record was made on.
    pub belonging: Belonging,
    /// Force at rest, where the record allows it.
    pub at_rest: Option<AtRest>,
    /// Self-tests the gauge has.
    pub tests: Vec<SelfTestResult>,
    /// Overloads since the calibration.
    pub overloads: usize,
    /// The shunt, against its history.
    pub shunt: Option<Shunt>,
    /// A check standard, where the gauge was put on one.
    pub standard: Option<Standard>,
    /// The retention knob, by the book.
    pub knob: Option<Knob>,
    /// Serial number of the gauge.
    pub serial: String,
    /// Day of the check, counted from 1970-01-01.
    pub today_days: i32,
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
    pub quantities: Vec<Quantity>,
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
    let mut quantities = quantities(&look, true);
    if quantities.iter().any(|q| q.ok == Some(false)) || look.record.is_none() {
        quantities = self::quantities(&look, false);
    }
    let reasons = reasons(&quantities, look.record.is_some(), &in_newtons);
    Fitness {
        check: "gauge",
        schema: 1,
        serial: look.serial,
        calibration: look.record.as_ref().map(calibration::id_text),
        fit: reasons.is_empty(),
        reasons,
        quantities,
        at_rest: look.at_rest,
        shunt: look.shunt,
        standard: look.standard,
        knob: look.knob,
        kept: None,
    }
}

impl Fitness {
    /// Why not, with the forces in a person's unit.
    pub fn reasons_in(&self, force: &dyn Fn(f64) -> String) -> Vec<String> {
        reasons(&self.quantities, self.calibration.is_some(), force)
    }
}

fn reasons(
    quantities: &[Quantity],
    is_calibrated: bool,
    force: &dyn Fn(f64) -> String,
) -> Vec<String> {
    let bad = quantities.iter().filter(|q| q.ok == Some(false));
    let uncalibrated = (!is_calibrated).then(|| NO_CALIBRATION.to_owned());
    bad.map(|quantity| quantity.reason(force))
        .chain(uncalibrated)
        .collect()
}

/// A force as it is stored.
fn in_newtons(newton: f64) -> String {
    format!("{newton:.1} N")
}

/// What was looked at; `fit`: whether later readings are held to this one.
fn quantities(look: &Look, fit: bool) -> Vec<Quantity> {
    let mut quantities = at_rest(look);
    quantities.extend(electronics(look));
    quantities.extend(look.shunt.as_ref().map(|shunt| shunt_since(shunt, fit)));
    let rated = look.record.as_ref().map_or(0.0, |record| record.rated);
    if let Some(standard) = &look.standard {
        quantities.extend(on_standard(standard, rated, fit));
    }
    quantities.push(overloads(look));
    quantities.push(days_left(look));
    quantities.push(knob(look.knob.as_ref()));
    quantities
}

/// With how many earlier readings this one was compared, or the how-manieth of a baseline it is.
fn compared(baseline: usize, fit: bool) -> String {
    if fit || baseline >= BASELINE_LEAST {
        baseline_words(baseline)
    } else {
        NO_BASELINE.to_owned()
    }
}

/// Why a gauge must not be loaded: what is wrong with it at rest. An overload is no such reason, the check standard tells
/// what it did.
pub fn must_not_be_loaded(look: &Look) -> Vec<String> {
    let all = at_rest(look).into_iter().chain(electronics(look));
    reasons(&all.collect::<Vec<_>>(), true, &in_newtons)
}

/// What the gauge found in itself, and whether its calibration belongs to it.
fn electronics(look: &Look) -> Vec<Quantity> {
    let rest_counts = rest_counts(&look.tests);
    let gain = look.belonging.gain();
    let tests = look.tests.iter();
    let mut quantities: Vec<Quantity> = tests
        .map(|result| of_test(result, rest_counts, gain))
        .collect();
    if look.record.is_some() {
        quantities.push(hardware(&look.belonging));
        quantities.extend(shunt_as_calibrated(look));
    }
    quantities
}

fn hardware(belonging: &Belonging) -> Quantity {
    let differences = belonging.differences();
    let told: Vec<String> = differences.iter().map(ToString::to_string).collect();
    Quantity {
        remark: Some(belonging.words()),
        remedy: told.join("; ").into(),
        ..at_most(
            "parts other than at the calibration",
            count(differences.len()),
            "1",
            0.0,
            "",
        )
    }
}

/// A bridge, a resistor, a cable or a converter that was exchanged shows here without any history.
fn shunt_as_calibrated(look: &Look) -> Option<Quantity> {
    let then = look.belonging.step_then()?;
    const NAME: &str = "step with the shunt, less the calibration's";
    let Some(now) = shunt_step_counts(&look.tests) else {
        return Some(Quantity {
            ok: Some(false),
            remark: Some("the calibration was made with a shunt, this gauge has none".to_owned()),
            ..since_calibration(NAME, None, "counts", None, None, OTHER_BRIDGE)
        });
    };
    Some(Quantity {
        remark: Some(format!("then {then:.0}, now {now:.0}")),
        ..within(
            NAME,
            now - then,
            "counts",
            CALIBRATION_BOUND * then.abs(),
            OTHER_BRIDGE,
        )
    })
}

fn at_rest(look: &Look) -> Vec<Quantity> {
    let rated = look.record.as_ref().map_or(0.0, |record| record.rated);
    let Some(rest) = look.at_rest else {
        return Vec::new();
    };
    vec![
        within(
            "zero",
            rest.zero_n,
            "N",
            ZERO_BOUND * rated,
            "hold the gauge free, knob touching nothing, and check again; if it stays, have it recalibrated",
        ),
        at_most(
            "noise",
            rest.noise_n,
            "N",
            NOISE_BOUND * rated,
            "move cables away from drives and motors, check the plug, and check again",
        ),
        within(
            "drift at rest",
            rest.drift_n,
            "N",
            DRIFT_BOUND * rated,
            "let the gauge take the machine's temperature for a quarter of an hour, then check again",
        ),
    ]
}

/// Counts of the bridge with nothing switched across it.
fn rest_counts(tests: &[SelfTestResult]) -> Option<i32> {
    let noise = tests.iter().find(|result| result.test == SelfTest::Noise);
    noise.map(|result| result.median)
}

/// How far the shunt moves the reading, counts with sign; none where the gauge has no shunt.
pub fn shunt_step_counts(tests: &[SelfTestResult]) -> Option<f64> {
    let shunt = tests.iter().find(|result| result.test == SelfTest::Shunt)?;
    Some(step(shunt, rest_counts(tests)))
}

fn step(shunt: &SelfTestResult, rest_counts: Option<i32>) -> f64 {
    f64::from(shunt.median) - rest_counts.map_or(0.0, f64::from)
}

/// A quantity that is compared with earlier ones, or will be.
fn since_calibration(
    name: &'static str,
    change: Option<f64>,
    unit: &'static str,
    bound: Option<f64>,
    in_control: Option<bool>,
    remedy: &'static str,
) -> Quantity {
    Quantity {
        name,
        value: change,
        unit,
        at_least: bound.map(|bound| -bound),
        at_most: bound,
        ok: in_control,
        remark: None,
        remedy: remedy.into(),
    }
}

fn shunt_since(shunt: &Shunt, fit: bool) -> Quantity {
    Quantity {
        remark: Some(format!(
            "{}; proves the electronics only, not the load cell",
            compared(shunt.baseline, fit)
        )),
        ..since_calibration(
            "step with the shunt, change",
            shunt.change_counts,
            "counts",
            shunt.bound_counts,
            shunt.in_control,
            "converter or wiring are not as they were at the calibration: check again, then have the gauge repaired and \
             recalibrated",
        )
    }
}

fn on_standard(standard: &Standard, rated: f64, fit: bool) -> [Quantity; 3] {
    const AGAIN: &str = "put the standard on once more; if it stays, do not measure and have the gauge recalibrated";
    let assumed = match standard.expanded_percent {
        Some(_) => "",
        None => ", its own uncertainty not stated: 2 % assumed",
    };
    [
        Quantity {
            remark: Some(format!("{}{assumed}", standard.name)),
            ..within(
                "check standard, against calibration",
                standard.off_n,
                "N",
                standard.allowed_n,
                AGAIN,
            )
        },
        Quantity {
            remark: Some(format!(
                "{}, {}",
                standard.name,
                compared(standard.baseline, fit)
            )),
            ..since_calibration(
                "check standard, change",
                standard.change_n,
                "N",
                standard.bound_n,
                standard.in_control,
                AGAIN,
            )
        },
        within(
            "zero after less before the standard",
            standard.zero_after_n - standard.zero_before_n,
            "N",
            RETURN_BOUND * rated,
            "see that the knob touches nothing, put the standard on once more; if it stays, have the gauge recalibrated",
        ),
    ]
}

/// After an overload: zero and check standard, then recalibration.
fn overloads(look: &Look) -> Quantity {
    let remedy = if look.standard.is_some() {
        "zero and check standard above tell how bad it was: have the gauge recalibrated before it measures again"
    } else {
        "look at the zero above, try the gauge on a check standard (--standard-n), then have it recalibrated before it \
         measures again"
    };
    at_most(
        "overloads since calibration",
        count(look.overloads),
        "1",
        0.0,
        remedy,
    )
}

fn knob(knob: Option<&Knob>) -> Quantity {
    Quantity {
        name: "clamps of the retention knob",
        // A count of clamps is far below 2^53.
        value: knob.map(|knob| knob.clamps as f64),
        unit: "1",
        at_least: None,
        at_most: knob.and_then(|knob| knob.good_for).map(f64::from),
        ok: knob.and_then(Knob::is_good),
        remark: Some(knob.map_or_else(
            || "no book here to count them in".to_owned(),
            Knob::since_words,
        )),
        remedy: "change the knob, and record it with `holdtrue gauge knob --changed`".into(),
    }
}

fn count(number: usize) -> f64 {
    u32::try_from(number).map_or(f64::from(u32::MAX), f64::from)
}

fn of_test(result: &SelfTestResult, rest_counts: Option<i32>, gain: u16) -> Quantity {
    let median = f64::from(result.median);
    let step = step(result, rest_counts);
    match result.test {
        SelfTest::ShortedInput => within(
            "converter offset, input shorted",
            median,
            "counts",
            OFFSET_BOUND * FULL_SCALE,
            "have the gauge's electronics repaired",
        ),
        SelfTest::Noise => Quantity {
            at_least: None,
            at_most: None,
            ok: None,
            remark: None,
            remedy: Cow::default(),
            name: "converter noise, bridge connected",
            value: Some(f64::from(result.deviation)),
            unit: "counts",
        },
        SelfTest::Shunt => Quantity {
            remark: Some(format!(
                "computed {:.0}: a bridge of {ARM_OHM} ohm, {:.0} kilohm across one arm, gain {gain}",
                computed_step(gain),
                SHUNT_OHM / 1e3
            )),
            ..between(
                "step with the shunt",
                step,
                "counts",
                [1.0 - COMPUTED_BOUND, 1.0 + COMPUTED_BOUND].map(|part| part * computed_step(gain)),
                if step < 0.0 {
                    "pull would read as push: two wires of the load cell are exchanged, put them right"
                } else {
                    "forces are wrong by as much: load the gauge's own firmware again, then have bridge, shunt and wires measured"
                },
            )
        },
        SelfTest::Supply => between(
            "bridge supply",
            median,
            "mV",
            SUPPLY_MV,
            "try another USB port or cable",
        ),
        SelfTest::OpenBridge => at_most(
            "open bridge wires",
            f64::from(u8::from(result.open)),
            "1",
            0.0,
            "a wire of the load cell is open: do not measure, have it repaired",
        ),
        SelfTest::Temperature => between(
            "temperature of the electronics",
            median / 1000.0,
            "°C",
            TEMPERATURE_C,
            "let the gauge take the room's temperature",
        ),
    }
}

fn days_left(look: &Look) -> Quantity {
    let left = look
        .record
        .as_ref()
        .map(|record| f64::from(record.due_days - look.today_days));
    let ok = look
        .record
        .as_ref()
        .map(|record| calibration::standing(record, look.today_days) == Standing::InForce);
    Quantity {
        name: "days until calibration is due",
        value: left,
        unit: "d",
        at_least: Some(0.0),
        at_most: None,
        ok,
        remark: None,
        remedy: "no acceptance is given with it: have the gauge calibrated (or set this computer's clock)".into(),
    }
}

impl Quantity {
    /// The value as a person reads it, `force` writing the newtons; a count of things has no unit.
    pub fn figure(&self, force: &dyn Fn(f64) -> String) -> String {
        match (self.value, self.unit) {
            (None, _) => "–".to_owned(),
            (Some(value), "N") => force(value),
            (Some(value), "1") => format!("{value:.0}"),
            (Some(value), unit @ ("counts" | "mV" | "d")) => format!("{value:.0} {unit}"),
            (Some(value), unit) => format!("{value:.1} {unit}"),
        }
    }
}

impl Quantity {
    /// Why the gauge is not fit, in a person's unit of force, with what to do.
    fn reason(&self, force: &dyn Fn(f64) -> String) -> String {
        let value = self.figure(force);
        let figure = |bound: f64| match self.unit {
            "N" => force(bound),
            _ => format!("{bound:.1}"),
        };
        let bound = match (self.at_least, self.at_most) {
            (Some(low), Some(high)) => format!("{} to {}", figure(low), figure(high)),
            (Some(low), None) => format!("at least {}", figure(low)),
            (None, Some(high)) => format!("at most {}", figure(high)),
            (None, None) => "known".to_owned(),
        };
        format!("{}: {value}, should be {bound}; {}", self.name, self.remedy)
    }
}

fn within(
    name: &'static str,
    value: f64,
    unit: &'static str,
    bound: f64,
    remedy: &'static str,
) -> Quantity {
    between(name, value, unit, [-bound, bound], remedy)
}

fn between(
    name: &'static str,
    value: f64,
    unit: &'static str,
    [low, high]: [f64; 2],
    remedy: &'static str,
) -> Quantity {
    Quantity {
        name,
        value: Some(value),
        unit,
        at_least: Some(low),
        at_most: Some(high),
        ok: Some((low..=high).contains(&value)),
        remark: None,
        remedy: remedy.into(),
    }
}

fn at_most(
    name: &'static str,
    value: f64,
    unit: &'static str,
    bound: f64,
    remedy: &'static str,
) -> Quantity {
    Quantity {
        name,
        value: Some(value),
        unit,
        at_least: None,
        at_most: Some(bound),
        ok: Some(value <= bound),
        remark: None,
        remedy: remedy.into(),
    }
}

#[cfg(test)]
mod tests;
