//! Checks of the runout analysis and the taper's geometry.

use super::{Allowed, Sheet, Source};
use crate::runout::taper::Taper;
use crate::runout::{Place, Plane, RunoutRecord, RunoutResult, RunoutSetup, Stop, analyse};
use holdtrue_terms::vocabulary::{At, Provenance};

pub(super) fn sheets() -> Vec<Sheet> {
    vec![taper(), turn(), two_heights(), reversal()]
}

fn taper() -> Sheet {
    let source = Source(
        "ISO 297 steep taper, 8° 17′ 50″, quoted in a tool-holder catalogue",
        Provenance::FromMemory,
    );
    let degrees = 8.0 + 17.0 / 60.0 + 50.0 / 3_600.0;
    let half_second = Allowed::Absolute(0.5 / 3_600.0);
    Sheet::new("taper", source).compare(
        "half angle of 7/24, degrees",
        degrees,
        Some(Taper::SevenTwentyFour.half_angle_deg()),
        half_second,
    )
}

/// Readings at eight equal positions of harmonics `(order, amplitude in µm, phase in degrees)`.
fn plane(place: Place, harmonics: &[(f64, f64, f64)]) -> Plane {
    let reading = |angle_deg: f64| {
        let term = |(k, a, phase): &(f64, f64, f64)| a * (k * angle_deg - phase).to_radians().cos();
        100.0 + harmonics.iter().map(term).sum::<f64>()
    };
    let stop = |i: i32| {
        let angle_deg = 45.0 * f64::from(i);
        Stop {
            angle_deg,
            reading_um: reading(angle_deg),
        }
    };
    Plane::stepped(place, (0..8).map(stop))
}

fn analysed(planes: Vec<Plane>) -> Option<RunoutResult> {
    analyse(&RunoutRecord::new(planes), &RunoutSetup::default()).ok()
}

fn turn() -> Sheet {
    let source = Source(
        "the readings' own construction; TIR after discrete Fourier analysis (NumPy)",
        Provenance::Computed,
    );
    let bar = Place {
        at: Some(At::Bar),
        ..Place::default()
    };
    let pure = analysed(vec![plane(bar, &[(1.0, 5.0, 30.0)])]);
    let oval = analysed(vec![plane(bar, &[(1.0, 5.0, 30.0), (2.0, 1.5, 80.0)])]);
    let first = |r: &Option<RunoutResult>| r.as_ref().and_then(|r| r.planes.first().cloned());
    let second = first(&oval).and_then(|p| {
        p.harmonics
            .iter()
            .find(|h| h.order == 2)
            .map(|h| h.amplitude_um)
    });
    let tight = Allowed::Absolute(1e-9);
    Sheet::new("one turn", source)
        .compare(
            "eccentricity, µm",
            5.0,
            first(&pure).and_then(|p| p.eccentricity_um),
            tight,
        )
        .compare(
            "direction, degrees",
            30.0,
            first(&pure).and_then(|p| p.direction_deg),
            tight,
        )
        .compare(
            "TIR, µm",
            9.659_258_262_890_688,
            first(&pure).and_then(|p| p.tir_um),
            tight,
        )
        .compare("ovality, µm", 1.5, second, tight)
        .compare(
            "eccentricity beside ovality, µm",
            5.0,
            first(&oval).and_then(|p| p.eccentricity_um),
            tight,
        )
}

/// 3 µm at the nose towards 0°, 4 µm more towards 90° at 200 mm: a tilt of 20 µm a metre.
fn two_heights() -> Sheet {
    let at = |height_mm| Place::on(At::Bar, height_mm);
    let found = analysed(vec![
        plane(at(0.0), &[(1.0, 3.0, 0.0)]),
        plane(
            at(200.0),
            &[(1.0, 5.0, (4.0_f64 / 3.0).atan().to_degrees())],
        ),
    ])
    .and_then(|r| r.axis);
    let source = Source(
        "vector difference of two planes, by construction",
        Provenance::Computed,
    );
    let tight = Allowed::Absolute(1e-9);
    Sheet::new("two heights", source)
        .compare(
            "offset at the nose, µm",
            3.0,
            found.as_ref().map(|a| a.offset_um),
            tight,
        )
        .compare(
            "tilt, µm/m",
            20.0,
            found.as_ref().map(|a| a.tilt_um_per_m),
            tight,
        )
        .compare(
            "direction of the tilt, degrees",
            90.0,
            found.as_ref().and_then(|a| a.tilt_direction_deg),
            tight,
        )
}

/// Spindle 2 µm and bar 2 µm that cancel in the first position: each is found all the same.
fn reversal() -> Sheet {
    let bar = Place {
        at: Some(At::Bar),
        ..Place::default()
    };
    let turned = |orientation_deg, seating| bar.seated(seating, orientation_deg);
    let found = analysed(vec![
        plane(turned(0.0, 1), &[(1.0, 0.0, 0.0)]),
        plane(turned(180.0, 2), &[(1.0, 4.0, 45.0)]),
    ])
    .and_then(|r| r.reversal.first().cloned());
    let source = Source(
        "reversal after Donaldson, Annals of the CIRP 21 (1972): S = (e₀ + e₁₈₀)/2; figures computed",
        Provenance::Computed,
    );
    let tight = Allowed::Absolute(1e-9);
    Sheet::new("spindle and bar", source)
        .compare(
            "spindle part, µm",
            2.0,
            found.as_ref().map(|f| f.spindle_eccentricity_um),
            tight,
        )
        .compare(
            "bar part, µm",
            2.0,
            found.as_ref().map(|f| f.bar_eccentricity_um),
            tight,
        )
        .compare(
            "direction of the spindle part, degrees",
            45.0,
            found.and_then(|f| f.spindle_direction_deg),
            tight,
        )
}
