//! In: a seed, the machine's faults and the time since the first sample. Out: what the sensors feel.
//!
//! Physics only: nothing here knows how a record is analysed, and the analysis knows nothing of this.
//! Every parameter is drawn from a range stated beside it; the ranges are common practice unless a source is named.

pub mod drawbar;
pub mod end_face;
pub mod force;
pub mod gripper;
pub mod load_cell;
pub mod plane;
pub mod press;
pub mod spindle;
pub mod standard;
