//! In: the day of a calibration. Out: the records a laboratory would have written into the gauge's flash.
//!
//! The laboratory knows the label and what it measured; the cell of each seed is a little off, within the stated
//! uncertainty.

use heapless::String;
use holdtrue_protocol::message::{CalibrationRecord, Channel};

use crate::build::Build;
use crate::world::load_cell::RATED_N;

/// Displacement per count of the probe.
pub const PROBE_NM_PER_COUNT: u32 = 100;
/// A year between calibrations.
const VALID_DAYS: i32 = 365;

/// Record of the load cell, calibrated on a day (days since 1970-01-01).
pub fn force(calibrated_days: i32) -> CalibrationRecord {
    force_of(&Build::USUAL, calibrated_days)
}

/// The same of a gauge built otherwise.
pub fn force_of(build: &Build, calibrated_days: i32) -> CalibrationRecord {
    let n_per_count = RATED_N / (build.cell.rated_mv_per_v * build.counts_per_mv_per_v());
    named(CalibrationRecord {
        id: [0; 16],
        channel: Channel::Force,
        coefficients: [0.0, n_per_count, 0.0, 0.0],
        zero_counts: 0,
        expanded_relative: 0.004,
        expanded_fixed: 8.0,
        span: [500.0, 20_000.0],
        rated: RATED_N,
        temperature_c: 21.5,
        date_days: calibrated_days,
        due_days: calibrated_days + VALID_DAYS,
        certificate: text("TP-F-0117"),
        laboratory: text("Tern Point force bench"),
    })
}

/// Record of the displacement probe.
pub fn probe(calibrated_days: i32) -> CalibrationRecord {
    named(CalibrationRecord {
        id: [0; 16],
        channel: Channel::Displacement,
        coefficients: [0.0, f64::from(PROBE_NM_PER_COUNT) / 1_000.0, 0.0, 0.0],
        zero_counts: 0,
        expanded_relative: 0.002,
        expanded_fixed: 0.4,
        span: [-1_000.0, 1_000.0],
        rated: 10_000.0,
        temperature_c: 20.5,
        date_days: calibrated_days,
        due_days: calibrated_days + VALID_DAYS,
        certificate: text("TP-D-0042"),
        laboratory: text("Tern Point length bench"),
    })
}

/// Record of the digital indicator.
pub fn indicator(calibrated_days: i32) -> CalibrationRecord {
    named(CalibrationRecord {
        id: [0; 16],
        channel: Channel::Indicator,
        coefficients: [0.0, 1.0, 0.0, 0.0],
        zero_counts: 0,
        expanded_relative: 0.002,
        expanded_fixed: 1.5,
        span: [-1_000.0, 1_000.0],
        rated: 10_000.0,
        temperature_c: 20.5,
        date_days: calibrated_days,
        due_days: calibrated_days + VALID_DAYS,
        certificate: text("TP-D-0043"),
        laboratory: text("Tern Point length bench"),
    })
}

fn text(words: &str) -> String<32> {
    String::try_from(words).unwrap_or_default()
}

/// Names a record after its own content: another content, another id, for ever. Marked as UUID version 8 (RFC 9562:
/// content of the maker's own making).
fn named(mut record: CalibrationRecord) -> CalibrationRecord {
    let content = format!("{record:?}");
    let mut halves = [0xcbf2_9ce4_8422_2325_u64, 0x8422_2325_cbf2_9ce4];
    for half in &mut halves {
        for byte in content.bytes() {
            // FNV-1a, 64 bits.
            *half = (*half ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }
    record.id[..8].copy_from_slice(&halves[0].to_be_bytes());
    record.id[8..].copy_from_slice(&halves[1].to_be_bytes());
    record.id[6] = (record.id[6] & 0x0f) | 0x80;
    record.id[8] = (record.id[8] & 0x3f) | 0x80;
    record
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_are_sound_and_named_by_their_content() {
        for record in [force(20_000), probe(20_000), indicator(20_000)] {
            assert!(
                holdtrue_firmware::calibration_store::is_sound(&record),
                "{record:?}"
            );
        }
        assert_eq!(force(20_000).id, force(20_000).id);
        assert_ne!(force(20_000).id, force(20_001).id);
        assert_ne!(force(20_000).id, probe(20_000).id);
    }
}
