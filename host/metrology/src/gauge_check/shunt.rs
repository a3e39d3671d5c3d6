//! How far a shunt across the bridge moves the reading. In: the gain, or the step of the calibration. Out: the step that is
//! to be expected, and how far it may be off.

/// Counts at the end of a 24-bit converter's range.
const FULL_SCALE: f64 = 8_388_608.0;
/// Arm of the bridge and resistor across one of them, ohm: what a gauge is built with. Another bridge takes a resistor
/// in proportion, so the step is the same.
pub const ARM_OHM: f64 = 350.0;
/// The resistor.
pub const SHUNT_OHM: f64 = 100_000.0;
/// The step is the computed one within this part of it: arms 1 %, cable 0.25 %, shunt 0.1 %, its switch 0.1 %, gain 0.1 %,
/// added up and rounded. Common practice, no source.
pub const COMPUTED_BOUND: f64 = 0.02;
/// The same bridge, resistor and converter give the step of the calibration within this part of it. Common practice.
const CALIBRATION_BOUND: f64 = 0.001;

/// How far the shunt should move the reading, counts: R / (4 Rs + 2 R) of the supply, the converter's reference. Positive
/// where the wires are where they belong. Source: the bridge's equation, computed.
pub fn computed_step(gain: u16) -> f64 {
    f64::from(gain) * FULL_SCALE * ARM_OHM / (4.0 * SHUNT_OHM + 2.0 * ARM_OHM)
}

/// How far a step may lie from that of the calibration with nothing exchanged, counts. Common practice, no source.
pub fn calibration_bound(then_counts: f64) -> f64 {
    CALIBRATION_BOUND * then_counts.abs()
}
