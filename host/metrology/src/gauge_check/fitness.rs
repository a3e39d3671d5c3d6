//! Whether a force gauge is fit to measure. In: what was seen of it at rest, on its shunt and on a check standard. Out: each
//! quantity beside its bound.
//!
//! Bounds in proportion to the rated load, because a gauge for 50 kN may be noisier than one for 10 kN. They are
//! common practice, no source, except where a constant says otherwise.

use super::control::{Shunt, Standard};
use super::shunt::{COMPUTED_BOUND, calibration_bound, computed_step};
use crate::statistics::{mean, noise};
use serde::{Deserialize, Serialize};

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

/// What the gauge found when it tested itself; each is missing where it has no such test.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SelfTests {
    /// Reading with the converter's input shorted, counts.
    pub shorted_counts: Option<f64>,
    /// Reading with nothing switched across the bridge, counts.
    pub rest_counts: Option<f64>,
    /// Standard deviation of a sample meanwhile, counts.
    pub noise_counts: Option<f64>,
    /// Reading with the shunt across the bridge, counts.
    pub shunt_counts: Option<f64>,
    /// Supply of the bridge, mV.
    pub supply_mv: Option<f64>,
    /// Whether a wire of the bridge is open.
    pub open_wires: Option<bool>,
    /// Temperature of the electronics, °C.
    pub temperature_c: Option<f64>,
}

impl SelfTests {
    /// How far the shunt moves the reading, counts with sign; none where the gauge has no shunt.
    pub fn shunt_step_counts(&self) -> Option<f64> {
        Some(self.shunt_counts? - self.rest_counts.unwrap_or(0.0))
    }
}

/// The calibration in the gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibrated {
    /// Rated load, N.
    pub rated_n: f64,
    /// Days until the next one is due; negative: days since.
    pub days_left: i32,
    /// It is neither lapsed nor of a day to come.
    pub in_force: bool,
    /// How far the shunt moved the reading then, counts with sign, where that was stored.
    pub step_counts: Option<f64>,
    /// Parts of the gauge that are not those it was made on.
    pub other_parts: usize,
}

/// The retention knob.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Knob {
    /// Clamps it has seen.
    pub clamps: u64,
    /// Clamps its maker gives it, where stated.
    pub good_for: Option<u32>,
}

/// Everything a check of the gauge looks at.
#[derive(Clone, Debug, Default)]
pub struct Look {
    /// The calibration, if the gauge has one.
    pub calibration: Option<Calibrated>,
    /// The gain the bridge is read with.
    pub gain: u16,
    /// Force at rest, where the calibration allows it.
    pub at_rest: Option<AtRest>,
    /// Self-tests the gauge has.
    pub tests: SelfTests,
    /// Overloads since the calibration.
    pub overloads: usize,
    /// Stops of its program nobody was told of before; none where the gauge cannot tell.
    pub stops: Option<usize>,
    /// The shunt, against its history.
    pub shunt: Option<Shunt>,
    /// A check standard, where the gauge was put on one.
    pub standard: Option<Standard>,
    /// What was found on a check standard under this calibration, and not taken back since.
    pub open: Option<Standard>,
    /// The retention knob, where its clamps are counted.
    pub knob: Option<Knob>,
}

/// What is measured, with what there is to say of it besides its value.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// Mean of a free gauge less its calibration's zero, N.
    Zero,
    /// Standard deviation of a sample of a free gauge, N.
    Noise,
    /// How far a free gauge moves, N.
    Drift,
    /// Reading with the input shorted, counts.
    ConverterOffset,
    /// Noise with the bridge connected, counts: no bound.
    ConverterNoise,
    /// How far the shunt moves the reading, counts.
    ShuntStep {
        /// How far it should, counts.
        computed_counts: f64,
        /// The gain that was computed with.
        gain: u16,
    },
    /// Supply of the bridge, mV.
    Supply,
    /// Whether a wire of the bridge is open: 0 or 1.
    OpenWires,
    /// Temperature of the electronics, °C.
    Temperature,
    /// How many parts are not those of the calibration.
    OtherParts,
    /// How far the shunt moves the reading, less what it did at the calibration, counts. A bridge, a resistor, a cable or a
    /// converter that was exchanged shows here without any history.
    StepSinceCalibration {
        /// At the calibration, counts.
        then_counts: f64,
        /// Now; none where the gauge has no shunt any more.
        now_counts: Option<f64>,
    },
    /// The step with the shunt less that of earlier checks, counts.
    ShuntChange {
        /// Earlier readings it is compared with, or too few to.
        baseline: usize,
    },
    /// The reading on the check standard less its force, N.
    OnStandard {
        /// What the standard is called.
        name: String,
        /// Its own uncertainty is not stated but assumed.
        is_assumed: bool,
    },
    /// The reading on the check standard less that of earlier checks, N.
    StandardChange {
        /// What the standard is called.
        name: String,
        /// Earlier readings it is compared with, or too few to.
        baseline: usize,
    },
    /// The zero after the standard less that before, N.
    ZeroReturn,
    /// What an earlier check found on a check standard, N; this one did not put one on again.
    StandardBefore {
        /// What the standard is called.
        name: String,
        /// What was wrong on it.
        what: Box<What>,
    },
    /// Overloads since the calibration.
    Overloads {
        /// The gauge was put on a check standard since.
        on_standard: bool,
    },
    /// Stops of the gauge's program nobody was told of before: no bound, it restarted and is as it was.
    Stops,
    /// Days until the calibration is due.
    DaysLeft,
    /// Clamps of the retention knob.
    KnobClamps,
}

impl What {
    /// Unit of value and bounds.
    pub fn unit(&self) -> &'static str {
        match self {
            Self::Zero
            | Self::Noise
            | Self::Drift
            | Self::OnStandard { .. }
            | Self::StandardChange { .. }
            | Self::ZeroReturn
            | Self::StandardBefore { .. } => "N",
            Self::ConverterOffset
            | Self::ConverterNoise
            | Self::ShuntStep { .. }
            | Self::StepSinceCalibration { .. }
            | Self::ShuntChange { .. } => "counts",
            Self::Supply => "mV",
            Self::Temperature => "°C",
            Self::OpenWires
            | Self::OtherParts
            | Self::Overloads { .. }
            | Self::Stops
            | Self::KnobClamps => "1",
            Self::DaysLeft => "d",
        }
    }
}

/// A measured quantity beside its bound.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity {
    /// What.
    pub what: What,
    /// Value; none where there is nothing to compare or count yet.
    pub value: Option<f64>,
    /// Lowest that is good.
    pub at_least: Option<f64>,
    /// Highest that is good.
    pub at_most: Option<f64>,
    /// Whether it is good; none without value or bound.
    pub ok: Option<bool>,
}

impl Quantity {
    /// Whether the gauge must not measure for it.
    pub fn is_bad(&self) -> bool {
        self.ok == Some(false)
    }
}

/// What was looked at, each quantity beside its bound.
///
/// Source: the bounds are common practice; the comparisons with earlier readings cite their own.
pub fn quantities(look: &Look) -> Vec<Quantity> {
    let mut quantities = at_rest(look);
    quantities.extend(electronics(look));
    quantities.extend(look.shunt.as_ref().map(shunt_since));
    if let Some(standard) = &look.standard {
        quantities.extend(on_standard(standard, rated_n(look)));
    }
    quantities.extend(standard_before(look));
    quantities.push(at_most(
        What::Overloads {
            on_standard: look.standard.is_some(),
        },
        count(look.overloads),
        0.0,
    ));
    quantities.extend(look.stops.map(|stops| Quantity {
        what: What::Stops,
        value: Some(count(stops)),
        at_least: None,
        at_most: None,
        ok: None,
    }));
    quantities.push(days_left(look.calibration.as_ref()));
    quantities.push(knob(look.knob));
    quantities
}

/// Whether the gauge may measure: it has a calibration, and nothing that was looked at is bad.
pub fn is_fit(look: &Look, quantities: &[Quantity]) -> bool {
    look.calibration.is_some() && !quantities.iter().any(Quantity::is_bad)
}

/// Whether the gauge may be loaded: nothing is wrong with it at rest. An overload does not forbid it, the check standard
/// tells what it did.
pub fn may_be_loaded(look: &Look) -> bool {
    !at_rest(look)
        .iter()
        .chain(&electronics(look))
        .any(Quantity::is_bad)
}

fn rated_n(look: &Look) -> f64 {
    look.calibration
        .map_or(0.0, |calibration| calibration.rated_n)
}

fn at_rest(look: &Look) -> Vec<Quantity> {
    let Some(rest) = look.at_rest else {
        return Vec::new();
    };
    let rated_n = rated_n(look);
    vec![
        within(What::Zero, rest.zero_n, ZERO_BOUND * rated_n),
        at_most(What::Noise, rest.noise_n, NOISE_BOUND * rated_n),
        within(What::Drift, rest.drift_n, DRIFT_BOUND * rated_n),
    ]
}

/// What the gauge found in itself, and whether its calibration belongs to it.
fn electronics(look: &Look) -> Vec<Quantity> {
    let tests = &look.tests;
    let found = [
        tests
            .shorted_counts
            .map(|counts| within(What::ConverterOffset, counts, OFFSET_BOUND * FULL_SCALE)),
        tests.noise_counts.map(|counts| Quantity {
            what: What::ConverterNoise,
            value: Some(counts),
            at_least: None,
            at_most: None,
            ok: None,
        }),
        tests
            .shunt_step_counts()
            .map(|step| shunt_step(step, look.gain)),
        tests
            .supply_mv
            .map(|mv| between(What::Supply, mv, SUPPLY_MV)),
        tests
            .open_wires
            .map(|open| at_most(What::OpenWires, f64::from(u8::from(open)), 0.0)),
        tests
            .temperature_c
            .map(|celsius| between(What::Temperature, celsius, TEMPERATURE_C)),
    ];
    let mut quantities: Vec<Quantity> = found.into_iter().flatten().collect();
    if let Some(calibration) = &look.calibration {
        let others = count(calibration.other_parts);
        quantities.push(at_most(What::OtherParts, others, 0.0));
        quantities.extend(step_since(calibration, tests.shunt_step_counts()));
    }
    quantities
}

fn shunt_step(step_counts: f64, gain: u16) -> Quantity {
    let computed_counts = computed_step(gain);
    between(
        What::ShuntStep {
            computed_counts,
            gain,
        },
        step_counts,
        [1.0 - COMPUTED_BOUND, 1.0 + COMPUTED_BOUND].map(|part| part * computed_counts),
    )
}

fn step_since(calibration: &Calibrated, now_counts: Option<f64>) -> Option<Quantity> {
    let then_counts = calibration.step_counts?;
    let what = What::StepSinceCalibration {
        then_counts,
        now_counts,
    };
    Some(match now_counts {
        Some(now) => within(what, now - then_counts, calibration_bound(then_counts)),
        None => changed(what, None, None, Some(false)),
    })
}

fn shunt_since(shunt: &Shunt) -> Quantity {
    changed(
        What::ShuntChange {
            baseline: shunt.baseline,
        },
        shunt.change_counts,
        shunt.bound_counts,
        shunt.in_control,
    )
}

fn on_standard(standard: &Standard, rated_n: f64) -> [Quantity; 3] {
    let on = &standard.on;
    let name = on.name.clone();
    [
        within(
            What::OnStandard {
                name: name.clone(),
                is_assumed: on.expanded_percent.is_none(),
            },
            standard.off_n,
            standard.allowed_n,
        ),
        changed(
            What::StandardChange {
                name,
                baseline: standard.baseline,
            },
            standard.change_n,
            standard.bound_n,
            standard.in_control,
        ),
        within(
            What::ZeroReturn,
            on.read.zero_after_n - on.read.zero_before_n,
            RETURN_BOUND * rated_n,
        ),
    ]
}

/// What is wrong on a check standard, the first that is.
pub(super) fn finding_on_standard(standard: &Standard, rated_n: f64) -> Option<Quantity> {
    on_standard(standard, rated_n)
        .into_iter()
        .find(Quantity::is_bad)
}

fn standard_before(look: &Look) -> Option<Quantity> {
    let open = look.open.as_ref()?;
    let rated_n = rated_n(look);
    let is_past = |now: &Standard| now.takes_back(open, rated_n);
    if look.standard.as_ref().is_some_and(is_past) {
        return None;
    }
    let found = finding_on_standard(open, rated_n)?;
    Some(Quantity {
        what: What::StandardBefore {
            name: open.on.name.clone(),
            what: Box::new(found.what),
        },
        ..found
    })
}

fn days_left(calibration: Option<&Calibrated>) -> Quantity {
    Quantity {
        what: What::DaysLeft,
        value: calibration.map(|calibration| f64::from(calibration.days_left)),
        at_least: Some(0.0),
        at_most: None,
        ok: calibration.map(|calibration| calibration.in_force),
    }
}

fn knob(knob: Option<Knob>) -> Quantity {
    let good_for = knob.and_then(|knob| knob.good_for);
    let is_good = |knob: Knob| Some(knob.clamps <= u64::from(knob.good_for?));
    Quantity {
        what: What::KnobClamps,
        // A count of clamps is far below 2^53.
        value: knob.map(|knob| knob.clamps as f64),
        at_least: None,
        at_most: good_for.map(f64::from),
        ok: knob.and_then(is_good),
    }
}

fn count(number: usize) -> f64 {
    u32::try_from(number).map_or(f64::from(u32::MAX), f64::from)
}

/// A quantity that is compared with an earlier one, or will be.
fn changed(
    what: What,
    change: Option<f64>,
    bound: Option<f64>,
    in_control: Option<bool>,
) -> Quantity {
    Quantity {
        what,
        value: change,
        at_least: bound.map(|bound| -bound),
        at_most: bound,
        ok: in_control,
    }
}

fn within(what: What, value: f64, bound: f64) -> Quantity {
    between(what, value, [-bound, bound])
}

fn between(what: What, value: f64, [low, high]: [f64; 2]) -> Quantity {
    Quantity {
        what,
        value: Some(value),
        at_least: Some(low),
        at_most: Some(high),
        ok: Some((low..=high).contains(&value)),
    }
}

fn at_most(what: What, value: f64, bound: f64) -> Quantity {
    Quantity {
        what,
        value: Some(value),
        at_least: None,
        at_most: Some(bound),
        ok: Some(value <= bound),
    }
}
