//! In: what was measured on a gauge at rest. Out: each quantity beside its bound, and whether the gauge is fit to measure.
//!
//! Bounds in proportion to the rated load, because a gauge for 50 kN may be noisier than one for 10 kN. They are
//! common practice, no source, except where a row says otherwise.

use super::calibration::{self, Standing};
use holdtrue_protocol::message::{CalibrationRecord, SelfTest, SelfTestResult};
use serde::Serialize;

/// A free gauge reads its calibration's zero within this part of the rated load.
const ZERO_BOUND: f64 = 0.02;
/// Noise of a single sample, in parts of the rated load.
const NOISE_BOUND: f64 = 0.0005;
/// Drift over the look at rest, in parts of the rated load.
const DRIFT_BOUND: f64 = 0.0005;
/// Offset of the converter with its input shorted, in parts of full scale: the electronics' share of a zero.
const OFFSET_BOUND: f64 = 0.0005;
/// A shunt across one arm moves the reading by this part of full scale at least, or it is not connected.
const SHUNT_BOUND: f64 = 0.01;
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
    /// What to do when it is not.
    #[serde(skip)]
    pub remedy: &'static str,
}

/// Force at rest over some seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
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
    /// Force at rest, where the record allows it.
    pub at_rest: Option<AtRest>,
    /// Self-tests the gauge has.
    pub tests: Vec<SelfTestResult>,
    /// Overloads since the calibration.
    pub overloads: usize,
    /// Clamps the retention knob has seen, by the book.
    pub knob_clamps: Option<u32>,
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
    /// Whether the gauge may measure.
    pub fit: bool,
    /// Why not, each with what to do next; empty when fit.
    pub reasons: Vec<String>,
    /// What was looked at.
    pub quantities: Vec<Quantity>,
}

/// Judges a look.
pub fn judge(look: &Look) -> Fitness {
    let mut quantities = Vec::new();
    let rated = look.record.as_ref().map_or(0.0, |record| record.rated);
    if let Some(rest) = look.at_rest {
        quantities.push(within("zero", rest.zero_n, "N", ZERO_BOUND * rated, "hold the gauge free, knob touching nothing, and check again; if it stays, have it recalibrated"));
        quantities.push(at_most(
            "noise",
            rest.noise_n,
            "N",
            NOISE_BOUND * rated,
            "move cables away from drives and motors, check the plug, and check again",
        ));
        quantities.push(within("drift at rest", rest.drift_n, "N", DRIFT_BOUND * rated, "let the gauge take the machine's temperature for a quarter of an hour, then check again"));
    }
    let rest_counts = look
        .tests
        .iter()
        .find(|result| result.test == SelfTest::Noise)
        .map(|result| result.median);
    quantities.extend(look.tests.iter().map(|result| of_test(result, rest_counts)));
    quantities.push(at_most(
        "overloads since calibration",
        count(look.overloads),
        "1",
        0.0,
        "try the gauge on a check standard, then have it recalibrated",
    ));
    quantities.push(days_left(look));
    quantities.push(Quantity {
        at_least: None,
        at_most: None,
        ok: None,
        remedy: "",
        name: "clamps of the retention knob",
        value: look.knob_clamps.map(f64::from),
        unit: "1",
    });
    let mut reasons: Vec<String> = quantities
        .iter()
        .filter(|q| q.ok == Some(false))
        .map(reason)
        .collect();
    if look.record.is_none() {
        reasons.push(
            "no calibration: the gauge has none stored for force; enter its certificate".to_owned(),
        );
    }
    Fitness {
        check: "gauge",
        schema: 1,
        fit: reasons.is_empty(),
        reasons,
        quantities,
    }
}

fn count(number: usize) -> f64 {
    u32::try_from(number).map_or(f64::from(u32::MAX), f64::from)
}

fn of_test(result: &SelfTestResult, rest_counts: Option<i32>) -> Quantity {
    let median = f64::from(result.median);
    let step = (median - rest_counts.map_or(0.0, f64::from)).abs();
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
            remedy: "",
            name: "converter noise, bridge connected",
            value: Some(f64::from(result.deviation)),
            unit: "counts",
        },
        SelfTest::Shunt => Quantity {
            at_least: Some(SHUNT_BOUND * FULL_SCALE),
            at_most: None,
            ok: Some(step >= SHUNT_BOUND * FULL_SCALE),
            remedy: "the shunt resistor does not reach the bridge: have the wiring checked",
            name: "step with the shunt",
            value: Some(step),
            unit: "counts",
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
        remedy: "no acceptance is given with it: have the gauge calibrated (or set this computer's clock)",
    }
}

impl Quantity {
    /// The value as a person reads it: a count of things has no unit.
    pub fn figure(&self) -> String {
        match (self.value, self.unit) {
            (None, _) => "not known".to_owned(),
            (Some(value), "1") => format!("{value:.0}"),
            (Some(value), unit @ ("counts" | "mV" | "d")) => format!("{value:.0} {unit}"),
            (Some(value), unit) => format!("{value:.1} {unit}"),
        }
    }
}

fn reason(quantity: &Quantity) -> String {
    let value = quantity.figure();
    let bound = match (quantity.at_least, quantity.at_most) {
        (Some(low), Some(high)) => format!("{low:.1} to {high:.1}"),
        (Some(low), None) => format!("at least {low:.1}"),
        (None, Some(high)) => format!("at most {high:.1}"),
        (None, None) => "known".to_owned(),
    };
    format!(
        "{}: {value}, should be {bound}; {}",
        quantity.name, quantity.remedy
    )
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
        remedy,
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
        remedy,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdtrue_protocol::message::Channel;

    type Spoil = fn(&mut Look);

    fn record() -> CalibrationRecord {
        CalibrationRecord {
            id: [1; 16],
            channel: Channel::Force,
            coefficients: [0.0, 0.01, 0.0, 0.0],
            zero_counts: 0,
            expanded_relative: 0.005,
            expanded_fixed: 0.0,
            span: [0.0, 20_000.0],
            rated: 20_000.0,
            temperature_c: 20.0,
            date_days: 100,
            due_days: 465,
            certificate: "TP-C1".try_into().unwrap(),
            laboratory: "Tern Point".try_into().unwrap(),
        }
    }

    fn good() -> Look {
        let at_rest = AtRest {
            zero_n: 50.0,
            noise_n: 3.0,
            drift_n: 2.0,
            seconds: 10.0,
        };
        Look {
            record: Some(record()),
            at_rest: Some(at_rest),
            today_days: 200,
            ..Look::default()
        }
    }

    #[test]
    fn a_quiet_gauge_in_date_is_fit() {
        let fitness = judge(&good());
        assert!(fitness.fit, "{:?}", fitness.reasons);
    }

    #[test]
    fn every_trouble_is_a_reason_with_a_next_step() {
        let troubles: [(&str, Spoil); 6] = [
            ("zero", |look| {
                look.at_rest.as_mut().unwrap().zero_n = -900.0
            }),
            ("noise", |look| {
                look.at_rest.as_mut().unwrap().noise_n = 40.0
            }),
            ("drift", |look| {
                look.at_rest.as_mut().unwrap().drift_n = 30.0
            }),
            ("overload", |look| look.overloads = 1),
            ("due", |look| look.today_days = 466),
            ("no calibration", |look| look.record = None),
        ];
        for (word, spoil) in troubles {
            let mut look = good();
            spoil(&mut look);
            let fitness = judge(&look);
            assert!(!fitness.fit, "{word}");
            assert!(
                fitness.reasons.iter().any(|reason| reason.contains(word)),
                "{word}: {:?}",
                fitness.reasons
            );
        }
    }

    #[test]
    fn the_shunt_is_judged_by_its_step_not_by_the_reading() {
        let test = |test, median| SelfTestResult {
            test,
            readings: 63,
            median,
            deviation: 1.0,
            open: false,
        };
        let mut look = good();
        look.tests = vec![
            test(SelfTest::Noise, 1_000_000),
            test(SelfTest::Shunt, 1_001_000),
        ];
        assert!(
            judge(&look)
                .reasons
                .iter()
                .any(|reason| reason.contains("shunt"))
        );
    }
}
