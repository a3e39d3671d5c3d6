//! What the headers of spindle, gauge and visit say.
//!
//! In: what the technician enters. Out: the JSON `content` of a revision. Unknown fields written by a newer
//! program of the same schema survive in `more`.

use crate::revision::Kind;
use holdtrue_terms::vocabulary::State;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use uuid::Uuid;

/// A header that is kept as revisions.
pub trait Header: Serialize + DeserializeOwned {
    /// What it describes.
    const KIND: Kind;
}

/// A spindle and the machine it sits in.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SpindleHeader {
    /// What people call it.
    pub name: String,
    /// The machine: type and name as on its plate.
    pub machine: Option<String>,
    /// Serial number of the machine.
    pub machine_serial: Option<String>,
    /// Serial number of the spindle.
    pub spindle_serial: Option<String>,
    /// Where it stands.
    pub place: Option<String>,
    /// Place and machine are invented for demonstration; prints so.
    pub invented: bool,
    /// Taper family: `7/24`, `HSK-A`, `HSK-C`, `HSK-E`, `HSK-F` …
    pub taper: Option<String>,
    /// Taper size: 30, 40, 50, 63, 100 …
    pub taper_size: Option<u16>,
    /// Shank form of a steep taper, as it was named: `BT`, `SK`, `CAT` …
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shank: Option<String>,
    /// Standard of the retention knob and its head angle.
    pub retention_knob: Option<String>,
    /// What holds the tool: `disc-springs`, `gas-spring`, `hydraulic`.
    pub drawbar: Option<String>,
    /// `gearbox`, `belt`, `direct`.
    pub drive: Option<String>,
    /// Coolant through the spindle.
    pub through_coolant: Option<bool>,
    /// The nose is made for face contact.
    pub face_contact: Option<bool>,
    /// Axis of the spindle: `vertical`, `horizontal`.
    pub axis: Option<String>,
    /// The maker's grip force, N.
    pub grip_nominal_n: Option<f64>,
    /// The maker's least grip force, N.
    pub grip_minimum_n: Option<f64>,
    /// Assumed class where no maker's figure is known: `light`, `standard`, `heavy`.
    pub grip_class: Option<String>,
    /// Anything else.
    #[serde(flatten)]
    pub more: Map<String, Value>,
}

impl Header for SpindleHeader {
    const KIND: Kind = Kind::Spindle;
}

/// A force gauge, an indicator or a test bar.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct GaugeHeader {
    /// Serial number, as the gauge says it or as engraved.
    pub serial: String,
    /// `force-gauge`, `indicator`, `test-bar`, `check-standard`.
    pub what: String,
    /// What it is, in words.
    pub description: Option<String>,
    /// Rated load, N.
    pub rated_n: Option<f64>,
    /// Resolution in the unit of its channel (N or µm).
    pub resolution: Option<f64>,
    /// The calibration in force.
    pub calibration: Option<Uuid>,
    /// Clamps its retention knob has seen.
    pub knob_clamps: Option<u32>,
    /// It is a simulation.
    pub simulated: bool,
    /// Overloads it has told of.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub overloads: Vec<GaugeOverload>,
    /// Stops of its program it has told of.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stops: Vec<GaugeStop>,
    /// Anything else.
    #[serde(flatten)]
    pub more: Map<String, Value>,
}

/// An overload of a gauge. The gauge has no calendar, so the book keeps what is known of its day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GaugeOverload {
    /// Boot number it happened in.
    pub boot: u32,
    /// Microseconds since that boot.
    pub at_us: u64,
    /// Counts at its peak.
    pub peak_counts: i32,
    /// A calibration made on this day (`2026-03-04`) or later was made after it.
    pub past_from: String,
}

/// A gauge's program stopped by itself, and the gauge restarted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GaugeStop {
    /// Boot number of the run that stopped.
    pub boot: u32,
    /// Microseconds since that boot when it was last alive; 0 where not known.
    pub at_us: u64,
    /// Image that stopped: the sum of its program, hexadecimal.
    pub image: String,
    /// `panic`, `fault`, `main-loop`, `converter`.
    pub cause: String,
    /// Addresses in that image, hexadecimal, the innermost first.
    pub places: Vec<String>,
    /// The day a book was first told.
    pub told_on: String,
}

impl Header for GaugeHeader {
    const KIND: Kind = Kind::Gauge;
}

/// One visit to one spindle.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct VisitHeader {
    /// The spindle; none while it is "unnamed".
    pub spindle: Option<Uuid>,
    /// Who measures.
    pub technician: String,
    /// When the visit began: local time with offset, or of a visit entered from paper the day as far as known (`2019`,
    /// `2019-05`, `2019-05-12`).
    pub started_at: String,
    /// `before-purchase`, `acceptance`, `service`, `after-repair`, `rehearsal`.
    pub purpose: Option<String>,
    /// The short round of forty minutes.
    pub short: bool,
    /// Whose consent was given.
    pub consent_of: Option<String>,
    /// Who operated the machine.
    pub operated_by: Option<String>,
    /// Power-on hours off the control.
    pub power_on_hours: Option<f64>,
    /// Cutting hours off the control.
    pub cutting_hours: Option<f64>,
    /// Tool changes off the control.
    pub tool_changes: Option<u64>,
    /// Temperature at the nose, °C.
    pub temperature_c: Option<f64>,
    /// How long the spindle had been running, min.
    pub running_min: Option<f64>,
    /// Number of the tool taken out of the spindle.
    pub tool_in_spindle: Option<String>,
    /// Whether that tool is back in; left out while it is not.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub tool_back: bool,
    /// Hours the spindle has turned, off the control.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spindle_hours: Option<f64>,
    /// For whom the visit is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub customer: Option<String>,
    /// The customer's order.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order_number: Option<String>,
    /// Temperature of the air around the machine, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ambient_c: Option<f64>,
    /// What it was entered from later, such as `paper`; none where it was entered as it happened. `started_at` is then the
    /// day of the paper, the stamp of the revision the day it was entered.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub entered_from: Option<String>,
    /// What its figures were compared with when it was finished; none while it is open, and of one finished by an earlier
    /// release.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub compared: Option<Vec<ComparedFigure>>,
    /// Anything else.
    #[serde(flatten)]
    pub more: Map<String, Value>,
}

/// A figure of a check beside the one it was compared with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ComparedFigure {
    /// The check.
    pub check: Uuid,
    /// What the figure is.
    pub figure: String,
    /// Its unit: `N` or `um`.
    pub unit: String,
    /// What it is.
    pub now: f64,
    /// What it was.
    pub then: f64,
    /// Expanded uncertainty of the difference; none where one of the two is not known.
    pub expanded: Option<f64>,
    /// What is seen of it: `greater`, `less`, `none`.
    pub seen: Option<String>,
    /// The visit of the earlier figure.
    pub visit: Uuid,
    /// When that began, as it stood in the book.
    pub started_at: String,
    /// State of the earlier set.
    pub state: Option<State>,
    /// The earlier visit was entered from paper.
    pub from_paper: bool,
    /// Kinds of the events between the two that break a series.
    pub between: Vec<String>,
    /// What the earlier set was measured with, where that is another: `gauge`, or `certificate` of the same gauge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub another: Option<String>,
}

impl Header for VisitHeader {
    const KIND: Kind = Kind::Visit;
}
