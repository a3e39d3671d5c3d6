//! The real firmware library on simulated chips, spindle and operator, in virtual time.
