//! Whole checks: synthetic spindles, bars and seats in, the stated truth back.

use super::remarks::{CertificateGap, RunoutNote, RunoutReason, RunoutRemedy};
use super::vector::{Vector, direction_deg, turn_by, vector};
use super::*;
use crate::decision::{Figure, Limit};
use crate::hint::{Cause, Evidence};
use crate::verdict::{Reason, Remedy, Verdict};
use holdtrue_terms::vocabulary::{At, Outcome, Provenance, State};

mod contract;
mod figures;
mod hints;
mod invariance;
mod verdicts;

/// Promised for clean readings, µm.
const CLOSE_UM: f64 = 1e-3;

fn bar(height_mm: f64, seating: u32, orientation_deg: f64) -> Place {
    Place::on(At::Bar, height_mm).seated(seating, orientation_deg)
}

fn wall(height_mm: f64) -> Place {
    Place::on(At::Wall, height_mm)
}

fn equal(stops: u32) -> Vec<f64> {
    (0..stops)
        .map(|i| 360.0 * f64::from(i) / f64::from(stops))
        .collect()
}

/// Readings at these angles of A·cos(kθ − phase) for each (k, A, phase).
fn stepped(place: Place, angles_deg: &[f64], terms: &[(f64, f64, f64)]) -> Plane {
    let reading = |angle: f64| {
        120.0
            + terms
                .iter()
                .map(|(k, a, phase)| a * (k * angle - phase).to_radians().cos())
                .sum::<f64>()
    };
    let stops = angles_deg.iter().map(|&angle_deg| Stop {
        angle_deg,
        reading_um: reading(angle_deg),
    });
    Plane::stepped(place, stops)
}

fn off_centre(place: Place, eccentricity: Vector) -> Plane {
    let direction = direction_deg(eccentricity).unwrap_or(0.0);
    stepped(place, &equal(8), &[(1.0, eccentricity.norm(), direction)])
}

fn record(planes: impl IntoIterator<Item = Plane>) -> RunoutRecord {
    RunoutRecord::new(planes)
}

fn found(planes: impl IntoIterator<Item = Plane>) -> RunoutResult {
    analyse(&record(planes), &RunoutSetup::default()).expect("a record that can be analysed")
}

fn limit(figure: Figure, height_mm: Option<f64>, limit_um: f64) -> Limit {
    Limit {
        height_mm,
        ..Limit::on(figure, limit_um, Provenance::Maker)
    }
}

fn judging(limits: &[Limit], expanded_um: f64) -> RunoutSetup {
    RunoutSetup {
        limits: limits.to_vec(),
        indicator: Some(Indicator::in_force(expanded_um)),
        ..RunoutSetup::default()
    }
}

fn judged(planes: impl IntoIterator<Item = Plane>, setup: &RunoutSetup) -> Verdict {
    analyse(&record(planes), setup)
        .expect("a record that can be analysed")
        .verdict
        .expect("a limit is set")
}

fn reasons(verdict: &Verdict) -> Vec<&RunoutReason> {
    let mut reasons = Vec::new();
    for reason in &verdict.reasons {
        match reason {
            Reason::Runout(reason) => reasons.push(reason),
            Reason::Grip(_) => panic!("a runout check: {reason:?}"),
        }
    }
    reasons
}

fn remedy(verdict: &Verdict) -> RunoutRemedy {
    match verdict.would_decide.as_ref().expect("undecided").remedies[..] {
        [Remedy::Runout(remedy)] => remedy,
        _ => panic!("{verdict:?}"),
    }
}

fn assert_close(found: Option<f64>, expected: f64, what: &str) {
    let found = found.unwrap_or_else(|| panic!("{what} is missing"));
    assert!(
        (found - expected).abs() < CLOSE_UM,
        "{what}: {found}, expected {expected}"
    );
}

/// Bar read at two heights in several orientations, seated without scatter.
fn turned_bar(
    orientations_deg: &[f64],
    spindle: fn(f64) -> Vector,
    bar_part: fn(f64) -> Vector,
) -> Vec<Plane> {
    let mut planes = Vec::new();
    for (orientation, seating) in orientations_deg.iter().zip(1..) {
        for z in [25.0, 300.0] {
            let measured = spindle(z) + bar_part(z) * turn_by(*orientation);
            planes.push(off_centre(bar(z, seating, *orientation), measured));
        }
    }
    planes
}

const TWICE_EACH: [f64; 4] = [0.0, 180.0, 0.0, 180.0];
