//! Whether a force gauge may measure. In: what it reads at rest, on its shunt and on a check standard. Out: figures beside
//! their bounds.

pub mod control;
pub mod fitness;
pub mod loading;
pub mod shunt;
