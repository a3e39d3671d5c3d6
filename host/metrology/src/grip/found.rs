//! One clamp as it stands in a record, before anything is made of it.

use super::distances::Distances;
use super::edges::Edges;
use super::ending::{Endings, Slip};
use super::excluded::Excluded;
use super::falls::Falls;
use super::filled_up::FilledUp;
use super::moments::Moments;
use super::remarks::ClampNote;
use super::sag::Sag;
use super::window::Window;
use super::zero::Zeros;

/// One clamp as found.
#[derive(Clone, Debug, PartialEq)]
pub struct FoundClamp {
    /// Its number, from 1 in time order.
    pub number: u32,
    /// Where it begins and ends.
    pub edges: Edges,
    /// The zeros beside it.
    pub zeros: Zeros,
    /// The settled window; none if it has no beginning or no end.
    pub window: Option<Window>,
    /// Settled force, N.
    pub settled_n: Option<f64>,
    /// The most it held for a quarter of a second, or its peak where that cannot be told, less base, N; of one that was on
    /// for long enough to be a clamp.
    pub reads_n: Option<f64>,
    /// Slope of the force through the settled window, N/s, growing force positive.
    pub window_slope_n_per_s: Option<f64>,
    /// So fast it still rises in the settled window, less zero, N/s; none where it does not.
    pub rises_n_per_s: Option<f64>,
    /// So fast it falls there, N/s, of a hold too short for a drop while held; none where it does not.
    pub falls_n_per_s: Option<f64>,
    /// Standard deviation of the settled force from the noise of the samples alone, per noise of one sample.
    pub averaging: f64,
    /// Largest raw sample that is no spike, zero taken off, N.
    pub peak_n: Option<f64>,
    /// The force was gone for moments while held, each too short for a fall.
    pub moments: Option<Moments>,
    /// The drop while held.
    pub sag: Option<Sag>,
    /// How the force moved in the last seconds of the hold.
    pub endings: Endings,
    /// How it falls between its fills.
    pub filled_up: Option<FilledUp>,
    /// The force went down at once while held and stayed down.
    pub slip: Option<Slip>,
    /// The level before the release.
    pub end: Option<HoldEnd>,
    /// Where the force went down to for a quarter of a second in the hold before it rose again, less base, N.
    pub fell_to_n: Option<f64>,
    /// How often the force went down in the hold and came back; none of a clamp without a hold.
    pub falls: Option<Falls>,
    /// A level at an end of the record that may be this clamp or the free gauge, above the free gauge elsewhere, N.
    pub on_or_free_n: Option<f64>,
    /// How the gauge was turned in the spindle, degrees.
    pub orientation_deg: Option<f64>,
    /// The first reason for not counting it.
    pub excluded: Option<Excluded>,
    /// The first reason other than the hand's.
    pub excluded_otherwise: Option<Excluded>,
    /// Held too short for the whole settled window.
    pub short_hold: bool,
    /// So few samples in the settled window that neither a bump nor a spike would show.
    pub few_samples: bool,
    /// Time from 10 to 90 % of its level, s.
    pub clamping_s: Option<f64>,
    /// How far the shank was pushed out and drawn in.
    pub distances: Distances,
    /// Remarks.
    pub notes: Vec<ClampNote>,
}

impl FoundClamp {
    /// Whether it counts.
    pub fn counted(&self) -> bool {
        self.excluded.is_none()
    }
}

/// The level before the release.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoldEnd {
    /// Median of the last second held, less zero, N.
    pub level_n: f64,
    /// What creep, noise, steps of the record and a force that sways by itself put it off by, N.
    pub sure_to_n: f64,
    /// What a bump must exceed in this clamp, N.
    pub bump_n: f64,
    /// What it still rises by if it is held as long again, or for 5 s in all, at the pace of its end, N; zero where it
    /// does not rise. A hold too short to tell its end by rises at the pace of its settled window.
    pub to_rise_n: f64,
}
