//! Which limits are in force. In: what was typed, what stands in a limits file, what the spindle's page says, each with its
//! document. Out: the limits a check is judged by, and the first that cannot go with another.
//!
//! The order is common practice, no source: who measures comes before the file, that before the page; a limit of the maker's
//! holds beside each of them.

pub mod contradiction;
pub mod grip;
pub mod runout;

use crate::decision::Limit;
use holdtrue_terms::vocabulary::Provenance;
use serde::Serialize;

/// A nominal grip force.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Nominal {
    /// Newton.
    pub force_n: f64,
    /// Share of it that is the limit, percent; `None`: the usual share for the interface.
    pub act_percent: Option<f64>,
    /// Share of it below which to watch, percent; `None`: the usual share for the interface.
    pub watch_percent: Option<f64>,
    /// Where it comes from.
    pub provenance: Provenance,
    /// The document it stands in.
    pub source: Option<String>,
}

/// A limit and the document it stands in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SourcedLimit {
    /// The limit itself.
    #[serde(flatten)]
    pub limit: Limit,
    /// The document it stands in.
    pub source: Option<String>,
}
