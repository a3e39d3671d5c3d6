//! What is known about a grip check besides its forces.
//!
//! In come the gauge and its calibration, limits, the spindle and how the gauge sat in it; all of it is stored with the
//! result.

use super::excluded::Discard;
use super::limits::Assumption;
use crate::decision::{Figure, Limit, Side};
use crate::doubt::Spindle;
use crate::uncertainty::{Contribution, Distribution};
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::{Drawbar, Provenance, State};
use serde::{Deserialize, Serialize};

/// What reads the end face, as its certificate states it (k = 2).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct EndProbe {
    /// In proportion to the distance, %.
    pub expanded_percent: f64,
    /// Whatever the distance, mm.
    pub expanded_mm: f64,
}

/// Whether the gauge's calibration may carry a verdict.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// In date and not overloaded since.
    InForce,
    /// Its due date has passed.
    Lapsed,
    /// There is none.
    #[default]
    Missing,
    /// The gauge was overloaded since it was calibrated.
    Exceeded,
    /// The last check of the gauge found it not fit to measure.
    Unfit,
}

/// The force gauge.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Gauge {
    /// How its calibration stands.
    pub standing: Standing,
    /// Expanded uncertainty (k = 2) as the certificate states it, % of the reading.
    #[serde(default)]
    pub expanded_percent: Option<f64>,
    /// The part of it (k = 2) that does not grow with the reading, N.
    #[serde(default)]
    pub expanded_n: Option<f64>,
    /// Forces it was calibrated over, N.
    #[serde(default)]
    pub span_n: Option<[f64; 2]>,
    /// Smallest step it shows, N.
    #[serde(default)]
    pub resolution_n: Option<f64>,
    /// Rated load, N.
    #[serde(default)]
    pub rated_load_n: Option<f64>,
}

impl Gauge {
    /// A gauge whose uncertainty (k = 2, % of the reading) the person states: counts as a calibration in force.
    pub fn stated(expanded_percent: f64) -> Self {
        Self {
            standing: Standing::InForce,
            expanded_percent: Some(expanded_percent),
            ..Self::default()
        }
    }

    /// Standard uncertainty at a force, N: half of what the certificate states. `None` if it states nothing.
    pub fn standard_n(&self, force_n: f64) -> Option<f64> {
        let relative = self
            .expanded_percent
            .map(|percent| 0.5 * percent / 100.0 * force_n);
        let constant = self.expanded_n.map(|expanded| 0.5 * expanded);
        match (relative, constant) {
            (None, None) => None,
            (relative, constant) => Some(relative.unwrap_or(0.0).hypot(constant.unwrap_or(0.0))),
        }
    }

    /// Whether the force lies outside what was calibrated.
    pub fn is_outside_span(&self, force_n: f64) -> bool {
        self.span_n
            .is_some_and(|[low, high]| force_n < low || force_n > high)
    }
}

/// Size of an allowance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HalfWidth {
    /// % of the force.
    Percent(f64),
    /// N.
    Newtons(f64),
}

/// Something that may put every clamp of the check off by the same amount, known by its bounds only.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Allowance {
    /// What, in words a technician knows.
    pub source: String,
    /// Half of the width it may lie in.
    pub half_width: HalfWidth,
    /// Where its size comes from.
    pub provenance: Provenance,
}

impl Allowance {
    /// Gauge and spindle of different temperature: `percent_per_kelvin` of the force for every kelvin.
    pub fn temperature(difference_k: f64, percent_per_kelvin: f64, provenance: Provenance) -> Self {
        Self {
            source: "temperature of the gauge against the spindle".to_owned(),
            half_width: HalfWidth::Percent(difference_k.abs() * percent_per_kelvin),
            provenance,
        }
    }

    /// What is usually allowed for a gauge of a proper kind in that interface, common practice: the knob head 0.2 mm
    /// off (1 % of the force on a steep taper, 2 % on a hollow one, whose springs act steeper), a pull 1° off the axis
    /// and its bending, bedding-in of the knob, creep of the gauge in the hold, the gauge 5 K colder or warmer than
    /// where it was calibrated (0.02 % for a kelvin), and a gauge that gives more under load than a solid tool (0.07 mm
    /// at 10 kN on springs of 0.5 kN/mm: 35 N; twice that on a hollow taper). Where nobody named the interface, the
    /// wider of the two for each: no more is claimed without it than with it.
    ///
    /// A gauge that gives lets the springs extend and reads low, never high. Whether its knob was set nearer by as much
    /// is not known here, so nothing is corrected and the whole of it is allowed to either side.
    pub fn usual(interface: Option<Interface>) -> Vec<Self> {
        let steep = interface.is_some_and(|interface| !interface.is_hollow());
        let knob = if steep { 1.0 } else { 2.0 };
        let rows = [
            ("position of the knob head × spring rate", knob),
            ("pull off the axis", 0.3),
            ("bedding-in of the knob", 0.2),
            ("creep of the gauge", 0.05),
            ("gauge gives more than a solid tool", 0.35 * knob),
        ];
        let allow = |(source, percent): (&str, f64)| Self {
            source: source.to_owned(),
            half_width: HalfWidth::Percent(percent),
            provenance: Provenance::CommonPractice,
        };
        let mut usual: Vec<Self> = rows.map(allow).into();
        usual.push(Self::temperature(5.0, 0.02, Provenance::CommonPractice));
        usual
    }

    /// Its contribution at a force, N: equally likely within the bounds.
    pub(super) fn contribution(&self, force_n: f64) -> Contribution {
        let (half_width, sensitivity) = match self.half_width {
            HalfWidth::Percent(percent) => (percent / 100.0, force_n),
            HalfWidth::Newtons(newtons) => (newtons, 1.0),
        };
        Contribution::bounded(
            &*self.source,
            Distribution::Rectangular,
            half_width,
            sensitivity,
            self.provenance,
        )
    }
}

/// How the gauge was turned for one clamp, where it is told by number and not in the record.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Turned {
    /// Number of the clamp.
    pub number: u32,
    /// How far, degrees.
    pub orientation_deg: f64,
}

/// Everything the analysis of a grip check takes besides the forces.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct GripSetup {
    /// As found or as left.
    pub state: Option<State>,
    /// Clamps put aside by hand.
    pub discards: Vec<Discard>,
    /// How the gauge was turned, by clamp.
    pub turned: Vec<Turned>,
    /// Limits in force. Empty: no verdict, unless there is an assumption.
    pub limits: Vec<Limit>,
    /// The maker's nominal grip force, N. Sets no limit by itself.
    pub nominal_n: Option<f64>,
    /// The spindle's interface.
    pub interface: Option<Interface>,
    /// Class picked by the technician where there is no maker's figure.
    pub assumption: Option<Assumption>,
    /// What pulls the drawbar.
    pub drawbar: Drawbar,
    /// The gauge.
    pub gauge: Gauge,
    /// What may put every clamp off by the same amount.
    pub allowances: Vec<Allowance>,
    /// Step of the last digit of readings that were typed, N.
    #[serde(default)]
    pub typed_step_n: Option<f64>,
    /// Measured at the spindle with the gauge, not handed in from elsewhere.
    pub at_spindle: bool,
    /// The person answered the questions a record or a figure raises: it is taken as read, and marked so.
    pub as_read: bool,
    /// Why the force drops while held, where somebody knows: by hand, or as a finding of the visit.
    pub drop_because: Option<String>,
    /// What reads the gauge's end face, where something does and its certificate is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end_probe: Option<EndProbe>,
}

impl GripSetup {
    /// What limits the force of a single clamp: a limit of its own, else that of the mean.
    pub(super) fn floor(&self) -> Option<&Limit> {
        let of = |figure: Figure| {
            let limits = self.limits.iter();
            limits
                .filter(move |limit| limit.figure == figure && limit.side == Side::Lower)
                .max_by(|a, b| a.limit.total_cmp(&b.limit))
        };
        of(Figure::GripLowest).or_else(|| of(Figure::GripMean))
    }

    /// The same as a force, N.
    pub(super) fn least_n(&self) -> Option<f64> {
        self.floor().map(|limit| limit.limit)
    }

    /// What is known of the spindle its forces are held to.
    pub fn spindle(&self) -> Spindle {
        Spindle {
            interface: self
                .interface
                .or(self.assumption.map(|assumption| assumption.interface)),
            nominal_n: self.nominal_n,
        }
    }

    /// Whether the spindle is a hollow taper.
    pub fn is_hollow(&self) -> bool {
        self.interface
            .or(self.assumption.map(|assumption| assumption.interface))
            .is_some_and(Interface::is_hollow)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stated_uncertainty_enters_as_half() {
        let gauge = Gauge {
            expanded_n: Some(60.0),
            ..Gauge::stated(0.8)
        };
        // Half of 0.8 % of 10 kN is 40 N, half of 60 N is 30 N: together 50 N.
        assert!((gauge.standard_n(10_000.0).unwrap() - 50.0).abs() < 1e-9);
        assert_eq!(Gauge::default().standard_n(10_000.0), None);
    }

    #[test]
    fn without_the_interface_no_source_is_allowed_less_than_with_it() {
        let percents = |interface: &str| {
            let usual = Allowance::usual(interface.parse().ok());
            usual
                .into_iter()
                .map(|allowance| match allowance.half_width {
                    HalfWidth::Percent(percent) => (allowance.source, percent),
                    HalfWidth::Newtons(_) => panic!("{allowance:?} is no share of the force"),
                })
        };
        for known in ["7/24-40", "HSK-A63"] {
            for ((source, with), (same, without)) in percents(known).zip(percents("")) {
                assert_eq!(source, same);
                assert!(without >= with, "{source} of {known}: {without} < {with}");
            }
        }
    }

    #[test]
    fn a_forty_taper_knob_two_tenths_off_is_about_a_per_cent() {
        // 0.5 kN/mm × 0.2 mm on 10 kN (common practice).
        let usual = &Allowance::usual("7/24-40".parse().ok())[0].contribution(10_000.0);
        assert!((usual.standard - 100.0 / 3.0_f64.sqrt()).abs() < 1e-9);
    }
}
