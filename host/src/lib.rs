//! Spindle grip force and taper runout: measure, judge, record, report.
