//! Runout at its limit: bars turned in true and tilted spindles, read by indicators with the errors their budget names.

use super::{Dice, Tally};
use holdtrue_metrology::decision::{Figure, Limit};
use holdtrue_metrology::runout::{
    Indicator, Place, Plane, RunoutRecord, RunoutSetup, Stop, analyse,
};
use holdtrue_terms::vocabulary::{At, Outcome, Provenance};
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
    let certificate = certificate(dice);
    let phase_deg = row.phase * 360.0 / f64::from(row.stops);
    let planes = (1..)
        .zip(row.orientations_deg)
        .map(|(seating, orientation_deg)| {
            let off = [dice.normal(), dice.normal()].map(|d| d * row.seat_um);
            let reading = |there_deg: f64, dice: &mut Dice| {
                let there = there_deg.to_radians();
                let once = TIR_UM / 2.0 * (there_deg - phase_deg).to_radians().cos();
                let seat = off[0] * there.cos() + off[1] * there.sin();
                certificate * (once + seat) + noise_um * dice.normal()
            };
            plane(seating, *orientation_deg, row.stops, reading, dice)
        })
        .collect();
    judged(planes, row.figure, row.limit_um)
}

/// What the indicator's certificate leaves open, the same for all readings of a check.
fn certificate(dice: &mut Dice) -> f64 {
    1.0 + dice.normal() * INDICATOR_UM / 2.0 / TIR_UM
}

/// One plane of the bar, each position set to within its error.
fn plane(
    seating: u32,
    orientation_deg: f64,
    stops: u32,
    reading_um: impl Fn(f64, &mut Dice) -> f64,
    dice: &mut Dice,
) -> Plane {
    let stops = (0..stops).map(|stop| {
        let angle_deg = 360.0 * f64::from(stop) / f64::from(stops);
        let there_deg = angle_deg + POSITION_DEG * (2.0 * dice.unit() - 1.0);
        Stop {
            angle_deg,
            reading_um: reading_um(there_deg, dice),
        }
    });
    Plane::stepped(
        Place::on(At::Bar, 300.0).seated(seating, orientation_deg),
        stops,
    )
}

fn judged(planes: Vec<Plane>, figure: Figure, limit_um: f64) -> Outcome {
    let setup = RunoutSetup {
        indicator: Some(Indicator::in_force(INDICATOR_UM)),
        position_error_deg: POSITION_DEG,
        limits: vec![Limit::on(figure, limit_um, Provenance::CommonPractice)],
        ..RunoutSetup::default()
    };
    let result = analyse(&RunoutRecord::new(planes), &setup).expect("a record that is sound");
    result.verdict.map_or(Outcome::Undecided, |v| v.outcome)
}

/// Eccentricity of a bar with form, µm, and the noise it is read with.
const ECCENTRICITY_UM: f64 = 4.0;
const FORM_NOISE_UM: f64 = 0.1;

/// Bars that are not round: name, positions, order of the form, its amplitude in µm.
const FORMS: [(&str, u32, f64, f64); 4] = [
    ("ovality 1.5 µm", 4, 2.0, 1.5),
    ("ovality 1.0 µm", 4, 2.0, 1.0),
    ("three lobes of 1.0 µm", 6, 3.0, 1.0),
    ("four lobes of 0.6 µm", 8, 4.0, 0.6),
];

/// The table of form that the positions do not see: no rate is claimed for it.
pub fn unseen_form(checks: u32) -> String {
    let mut text = format!(
        "### Form between the positions (eccentricity {ECCENTRICITY_UM} µm, limit at the true TIR, noise {FORM_NOISE_UM} µm, {checks} checks a row)\n\n\
         | positions | form (amplitude) | wrong accept, its zeros on the positions | wrong accept, all phases |\n|---:|---|---:|---:|\n"
    );
    for ((name, stops, order, amplitude_um), which) in FORMS.into_iter().zip(2_000..) {
        let accepted = |phases_deg: fn(&mut Dice) -> [f64; 2], part: u64| {
            let mut tally = Tally::default();
            for check in 0..checks {
                let mut dice = Dice::new(which * 10 + part, check.into());
                let [once_deg, form_deg] = phases_deg(&mut dice);
                let curve = move |angle_deg: f64| {
                    ECCENTRICITY_UM * (angle_deg - once_deg).to_radians().cos()
                        + amplitude_um * (order * angle_deg - form_deg).to_radians().cos()
                };
                let certificate = certificate(&mut dice);
                let reading = |there_deg: f64, dice: &mut Dice| {
                    certificate * curve(there_deg) + FORM_NOISE_UM * dice.normal()
                };
                let planes = vec![plane(1, 0.0, stops, reading, &mut dice)];
                tally.count(judged(planes, Figure::Tir, tir_um(curve)));
            }
            tally.percent(tally.accepted)
        };
        let worst = accepted(|_| [0.0, 90.0], 0);
        let any = accepted(|dice| [360.0 * dice.unit(), 360.0 * dice.unit()], 1);
        let _ = writeln!(text, "| {stops} | {name} | {worst:.1} % | {any:.1} % |");
    }
    text
}

/// Largest less smallest value of a curve over one turn.
fn tir_um(curve: impl Fn(f64) -> f64) -> f64 {
    let values = (0..3_600).map(|tenth| curve(f64::from(tenth) / 10.0));
    let (least, most) = values.fold(
        (f64::INFINITY, f64::NEG_INFINITY),
        |(least, most), value| (least.min(value), most.max(value)),
    );
    most - least
}
