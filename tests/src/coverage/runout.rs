//! Runout at its limit: bars turned in true and tilted spindles, read by indicators with the errors their budget names.

use super::{Dice, Tally};
use holdtrue_metrology::decision::{Figure, Limit, Outcome, Side};
use holdtrue_metrology::provenance::Provenance;
use holdtrue_metrology::runout::{
    At, Indicator, Place, Plane, Readings, RunoutRecord, RunoutSetup, Stop, analyse,
};
use std::fmt::Write;

/// True TIR, spindle part and limit on both, µm.
const TIR_UM: f64 = 10.0;
/// True seat scatter and limit on it, µm.
const SEAT_UM: f64 = 3.0;
/// Expanded uncertainty of the indicator, µm.
const INDICATOR_UM: f64 = 0.4;
/// The positions are set to within this, degrees.
const POSITION_DEG: f64 = 3.0;

/// What is simulated in a row.
struct Row {
    name: &'static str,
    figure: Figure,
    limit_um: f64,
    stops: u32,
    /// Phase of the high spot against position 0, in steps.
    phase: f64,
    /// Orientations of the bar, seating by seating.
    orientations_deg: &'static [f64],
    seat_um: f64,
}

const fn tir(name: &'static str, stops: u32, phase: f64, orientations_deg: &'static [f64]) -> Row {
    Row {
        name,
        figure: Figure::Tir,
        limit_um: TIR_UM,
        stops,
        phase,
        orientations_deg,
        seat_um: 0.0,
    }
}

const ONE: &[f64] = &[0.0];
const FOUR_ALIKE: &[f64] = &[0.0, 0.0, 0.0, 0.0];
const QUARTERS: &[f64] = &[0.0, 90.0, 180.0, 270.0];
const REVERSAL: &[f64] = &[0.0, 180.0, 0.0, 180.0];

const ROWS: [Row; 14] = [
    tir("TIR, 4 positions, high spot on one", 4, 0.0, ONE),
    tir("TIR, 4 positions, high spot between", 4, 0.5, ONE),
    tir("TIR, 8 positions, high spot on one", 8, 0.0, ONE),
    tir("TIR, 8 positions, high spot between", 8, 0.5, ONE),
    tir("TIR, 16 positions", 16, 0.0, ONE),
    tir("TIR, 8 positions, four seatings alike", 8, 0.0, FOUR_ALIKE),
    tir(
        "TIR, 16 positions, four seatings alike",
        16,
        0.25,
        FOUR_ALIKE,
    ),
    Row {
        figure: Figure::FourSeatings,
        ..tir("four seatings, 8 positions, on one", 8, 0.0, QUARTERS)
    },
    Row {
        figure: Figure::FourSeatings,
        ..tir("four seatings, 8 positions, between", 8, 0.5, QUARTERS)
    },
    Row {
        figure: Figure::SpindlePart,
        seat_um: 0.5,
        ..tir("spindle part, 0/180/0/180", 8, 0.3, REVERSAL)
    },
    Row {
        figure: Figure::SpindlePart,
        seat_um: 1.5,
        ..tir("spindle part, seat three times worse", 8, 0.3, REVERSAL)
    },
    seat("seat, 2 seatings", &[0.0, 0.0]),
    seat("seat, 0/180/0/180", REVERSAL),
    seat("seat, 6 seatings", &[0.0; 6]),
];

const fn seat(name: &'static str, orientations_deg: &'static [f64]) -> Row {
    Row {
        figure: Figure::Seat,
        limit_um: SEAT_UM,
        seat_um: SEAT_UM,
        ..tir(name, 8, 0.3, orientations_deg)
    }
}

/// The table.
pub fn table(checks: u32) -> String {
    let mut text = format!(
        "### Runout exactly at its limit (indicator ± {INDICATOR_UM} µm, positions ± {POSITION_DEG}°, {checks} checks a row)\n\n\
         | limit on, and how it was read | reading noise, µm | wrong accept | wrong reject | undecided |\n|---|---:|---:|---:|---:|\n"
    );
    for (row, which) in ROWS.iter().zip(1_000..) {
        for (noise_um, part) in [(0.1, 0), (0.3, 1), (0.8, 2)] {
            let mut tally = Tally::default();
            for check in 0..checks {
                let mut dice = Dice::new(which * 10 + part, check.into());
                tally.count(outcome(row, noise_um, &mut dice));
            }
            let [accepted, rejected, open] =
                [tally.accepted, tally.rejected, tally.undecided].map(|n| tally.percent(n));
            let _ = writeln!(
                text,
                "| {} | {noise_um} | {accepted:.1} % | {rejected:.1} % | {open:.1} % |",
                row.name
            );
        }
    }
    text
}

fn outcome(row: &Row, noise_um: f64, dice: &mut Dice) -> Outcome {
    let certificate = 1.0 + dice.normal() * INDICATOR_UM / 2.0 / TIR_UM;
    let phase_deg = row.phase * 360.0 / f64::from(row.stops);
    let planes = (1..)
        .zip(row.orientations_deg)
        .map(|(seating, orientation_deg)| {
            let off = [dice.normal(), dice.normal()].map(|d| d * row.seat_um);
            let stops = (0..row.stops)
                .map(|stop| {
                    let angle_deg = 360.0 * f64::from(stop) / f64::from(row.stops);
                    let there = angle_deg + POSITION_DEG * (2.0 * dice.unit() - 1.0);
                    let high = (there - phase_deg).to_radians();
                    let once = TIR_UM / 2.0 * high.cos();
                    let seat =
                        off[0] * there.to_radians().cos() + off[1] * there.to_radians().sin();
                    Stop {
                        angle_deg,
                        reading_um: certificate * (once + seat) + noise_um * dice.normal(),
                    }
                })
                .collect();
            Plane {
                place: Place {
                    at: Some(At::Bar),
                    height_mm: Some(300.0),
                    seating: Some(seating),
                    orientation_deg: Some(*orientation_deg),
                },
                readings: Readings::Stepped(stops),
            }
        })
        .collect();
    let setup = RunoutSetup {
        indicator: Some(Indicator::in_force(INDICATOR_UM)),
        position_error_deg: POSITION_DEG,
        limits: vec![Limit {
            figure: row.figure,
            height_mm: None,
            side: Side::Upper,
            limit: row.limit_um,
            unit: "um".to_owned(),
            provenance: Provenance::CommonPractice,
            watch: None,
        }],
        ..RunoutSetup::default()
    };
    let result = analyse(&RunoutRecord { planes }, &setup).expect("a record that is sound");
    result.verdict.map_or(Outcome::Undecided, |v| v.outcome)
}
