//! Spindle grip force and taper runout: measure, judge, record, report.

pub mod cautions;
pub mod gauge;
pub mod link;
pub mod live;
