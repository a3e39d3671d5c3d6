//! Runout figures and taper geometry against `tests/reference/runout/` and `tests/reference/spindle/`, each file with its
//! source and provenance, at the tolerance it states.

use holdtrue_metrology::decision::{Figure, Limit};
use holdtrue_metrology::runout::axis::Axis;
use holdtrue_metrology::runout::harmonics::{Harmonics, Turn, fit, noise_floor_um, spread};
use holdtrue_metrology::runout::reversal::{Turned, separate};
use holdtrue_metrology::runout::taper::Taper;
use holdtrue_metrology::runout::turning::compare_profiles;
use holdtrue_metrology::runout::vector::{Vector, direction_deg, length_um, turn_by, vector};
use holdtrue_metrology::runout::{
    Indicator, Place, Plane, RunoutRecord, RunoutSetup, Stop, analyse,
};
use holdtrue_terms::vocabulary::{Outcome, Provenance};
use holdtrue_tests::reference::Reference;
use serde_json::{Value, json};

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|x| x.as_f64().expect("a number")).collect()
}

fn equal_angles_deg(readings: usize) -> Vec<f64> {
    let step = 360.0 / number(readings);
    (0..readings).map(|i| number(i) * step).collect()
}

fn number(n: usize) -> f64 {
    u32::try_from(n).map(f64::from).expect("small")
}

fn fitted(angles_deg: &[f64], readings_um: &[f64]) -> Harmonics {
    let turn = Turn {
        angles_deg,
        readings_um,
        times_s: None,
    };
    fit(&turn).expect("positions all round the turn")
}

/// A length and direction as the files write them, no direction being that of no vector.
fn read_vector(pair: &Value) -> Vector {
    let length = pair[0].as_f64().expect("a length");
    vector(length, pair[1].as_f64().unwrap_or(0.0))
}

fn assert_same_vector(found: Vector, expected: Vector, tolerance: f64, what: &str) {
    assert!(
        (found - expected).norm() <= tolerance,
        "{what}: {found}, expected {expected}"
    );
}

#[test]
fn harmonics_of_a_turn() {
    let file = Reference::load("runout/harmonics");
    let cases = file.expected("cases").as_array().expect("cases");
    for (index, case) in cases.iter().enumerate() {
        let at = |part: &str| format!("/{index}/{part}");
        let (angles, readings) = (numbers(&case["angle_deg"]), numbers(&case["reading"]));
        let stops = angles
            .iter()
            .zip(&readings)
            .map(|(&angle_deg, &reading_um)| Stop {
                angle_deg,
                reading_um,
            });
        let record = RunoutRecord::new([Plane::stepped(Place::default(), stops)]);
        let result = analyse(&record, &RunoutSetup::default()).expect("a turn");
        let plane = &result.planes[0];
        file.check_at("cases", &at("TIR"), plane.tir_um);
        file.check_at("cases", &at("eccentricity"), plane.eccentricity_um);
        file.check_at("cases", &at("high_spot_deg"), plane.direction_deg);

        let fit = fitted(&angles, &readings);
        file.check_at("cases", &at("mean"), fit.mean_um);
        assert!(!fit.vectors.is_empty() && fit.vectors.len() < angles.len().div_ceil(2));
        for (k, v) in fit.vectors.iter().enumerate() {
            let part = |name: &str| at(&format!("harmonics/{}/{name}", k + 1));
            file.check_at("cases", &part("amplitude"), v.norm());
            file.check_at("cases", &part("a_cos"), v.re);
            file.check_at("cases", &part("b_sin"), v.im);
        }
        let left = angles.iter().zip(&readings).map(|(angle, reading)| {
            reading - fit.mean_um - (fit.eccentricity() * turn_by(-angle)).re
        });
        file.check_at(
            "cases",
            &at("residual_peak_to_valley_after_first_harmonic"),
            spread(left),
        );
    }
    assert_eq!(cases.len(), 9);
    file.finish();
}

#[test]
fn eccentricity_of_a_true_spindle_in_noise() {
    let file = Reference::load("runout/eccentricity_noise");
    let case = file.expected("case");
    let readings = usize::try_from(case["n"].as_u64().expect("a count")).expect("small");
    let noise_um = case["reading_sd"].as_f64().expect("a number");
    let angles = equal_angles_deg(readings);
    let fit = fitted(&angles, &vec![0.0; readings]);
    let standard_um = fit.standard_error_per_noise * noise_um;
    file.check_at("case", "/u_a1", standard_um);
    file.check_at("case", "/u_b1", standard_um);
    file.check_at("case", "/u_e_when_e_much_larger", standard_um);
    file.check_at(
        "case",
        "/expected_e_when_true_e_is_zero",
        noise_floor_um(standard_um),
    );
    file.finish();
}

#[test]
fn axis_through_two_heights() {
    let file = Reference::load("runout/two_plane_offset_tilt");
    let cases = file.expected("cases").as_array().expect("cases");
    for (index, case) in cases.iter().enumerate() {
        let at = |part: &str| format!("/{index}/{part}");
        let (heights, lengths) = (numbers(&case["z_mm"]), numbers(&case["eccentricity_um"]));
        let phases = numbers(&case["phase_deg"]);
        let points = [0, 1].map(|i| (heights[i], vector(lengths[i], phases[i])));
        let axis = Axis::through(&points).expect("two heights");
        file.check_at("cases", &at("tilt_um_per_mm"), axis.tilt.norm());
        file.check_at(
            "cases",
            &at("tilt_direction_deg"),
            direction_deg(axis.tilt * 1000.0),
        );
        file.check_at("cases", &at("offset_at_z0_um"), axis.offset.norm());
        file.check_at(
            "cases",
            &at("eccentricity_at_z150_um"),
            axis.at(150.0).norm(),
        );
        file.check_at(
            "cases",
            &at("eccentricity_at_z_minus50_um"),
            axis.at(-50.0).norm(),
        );
    }
    assert_eq!(cases.len(), 6);
    file.finish();
}

#[test]
fn spindle_and_bar_by_turning_the_bar() {
    let file = Reference::load("runout/reversal");
    // The sum stays and the difference turns over: here the part stays, since it was turned together with the indicator.
    let profile = file.expected("donaldson_profile");
    let (first, second) = (numbers(&profile["m1"]), numbers(&profile["m2"]));
    let parts: Vec<(f64, f64)> = first
        .iter()
        .zip(&second)
        .map(|(&m1, &m2)| {
            let turned = [(0.0, m1), (180.0, m2)].map(|(orientation_deg, m)| Turned {
                orientation_deg,
                measured: Vector::new(m, 0.0),
            });
            let parts = separate(1, &turned).expect("a half turn");
            (parts.stays.re, parts.turns.re)
        })
        .collect();
    let (stays, turns): (Vec<f64>, Vec<f64>) = parts.into_iter().unzip();
    for name in ["/part", "/part_from_half_sum"] {
        file.check_at("donaldson_profile", name, stays.clone());
    }
    for name in ["/spindle", "/spindle_from_half_difference"] {
        file.check_at("donaldson_profile", name, turns.clone());
    }

    let cases = file
        .expected("arbor_turn_vectors")
        .as_array()
        .expect("cases");
    for (index, case) in cases.iter().enumerate() {
        let turned_deg = case["arbor_turned_deg"].as_f64().expect("an angle");
        let measured = [
            (0.0, &case["measured_0"]),
            (turned_deg, &case["measured_1"]),
        ];
        let turned = measured.map(|(orientation_deg, pair)| Turned {
            orientation_deg,
            measured: read_vector(pair),
        });
        let parts = separate(1, &turned).expect("told apart");
        // Directions are compared as vectors: a direction is nothing where the length is.
        assert_same_vector(
            parts.stays,
            read_vector(&case["spindle_e_phase"]),
            1e-9,
            "spindle",
        );
        assert_same_vector(
            parts.turns,
            read_vector(&case["arbor_e_phase"]),
            1e-9,
            "bar",
        );
        let length = |part: &str| format!("/{index}/{part}/0");
        file.check_at(
            "arbor_turn_vectors",
            &length("spindle_e_phase"),
            length_um(parts.stays),
        );
        file.check_at(
            "arbor_turn_vectors",
            &length("arbor_e_phase"),
            length_um(parts.turns),
        );
    }
    assert_eq!(cases.len(), 5);
    file.finish();
}

#[test]
fn spindle_and_bar_in_four_steps() {
    let file = Reference::load("runout/multistep");
    let traces: Vec<Vec<f64>> = file
        .at("/input/traces")
        .as_array()
        .expect("traces")
        .iter()
        .map(numbers)
        .collect();
    let angles = equal_angles_deg(traces[0].len());
    let fits: Vec<Harmonics> = traces.iter().map(|trace| fitted(&angles, trace)).collect();
    let turned = |order: usize| -> Vec<Turned> {
        fits.iter()
            .enumerate()
            .map(|(step, fit)| Turned {
                orientation_deg: 90.0 * number(step),
                measured: fit.vectors[order - 1],
            })
            .collect()
    };
    let curve = |order: usize, v: Vector| -> Vec<f64> {
        angles
            .iter()
            .map(|angle| (v * turn_by(-number(order) * angle)).re)
            .collect()
    };
    let mut spindle = vec![0.0; angles.len()];
    for order in [1, 2, 3, 5] {
        let parts =
            separate(u32::try_from(order).expect("small"), &turned(order)).expect("told apart");
        for (sum, term) in spindle.iter_mut().zip(curve(order, parts.stays)) {
            *sum += term;
        }
    }
    file.check("spindle_true", spindle);
    // Four steps do not tell the fourth harmonic apart: it stays in every trace.
    assert_eq!(separate(4, &turned(4)), None);
    for fit in &fits {
        file.check("remaining_part_harmonic_4", curve(4, fit.vectors[3]));
    }
    file.leave(
        "average",
        "the program separates harmonic by harmonic and never averages traces",
    );
    file.finish();
}

#[test]
fn what_repeats_every_turn() {
    let file = Reference::load("runout/error_motion");
    let turns: Vec<Vec<f64>> = file
        .at("/input/revolutions")
        .as_array()
        .expect("turns")
        .iter()
        .map(numbers)
        .collect();
    let motion = compare_profiles(&turns);
    file.check("synchronous_profile", motion.synchronous_profile_um);
    file.check("synchronous_error_value", motion.synchronous_um);
    file.check(
        "asynchronous_error_value_max_range_at_one_angle",
        motion.asynchronous_um,
    );
    let at_angle = |index: usize| turns.iter().map(move |turn| turn[index]);
    let ranges: Vec<f64> = (0..turns[0].len())
        .map(|index| spread(at_angle(index)))
        .collect();
    file.check("asynchronous_range_per_angle", ranges);
    file.check("total_TIR_raw", spread(turns.iter().flatten().copied()));
    let means: Vec<f64> = (0..turns[0].len())
        .map(|index| at_angle(index).sum::<f64>() / number(turns.len()))
        .collect();
    let once = fitted(&equal_angles_deg(means.len()), &means).eccentricity();
    file.check("mean_per_angle", means);
    file.check("a1", once.re);
    file.check("b1", once.im);
    file.finish();
}

#[test]
fn geometry_of_the_7_24_taper() {
    let file = Reference::load("spindle/taper_7_24");
    let half_deg = Taper::SevenTwentyFour.half_angle_deg();
    file.check("half_angle_deg", half_deg);
    file.check("included_angle_deg", 2.0 * half_deg);
    file.check(
        "axial_shift_per_unit_diameter",
        0.5 / half_deg.to_radians().tan(),
    );
    let minutes = half_deg.fract() * 60.0;
    let seconds = minutes.fract() * 60.0;
    file.check(
        "half_angle_dms",
        json!([half_deg.trunc(), minutes.trunc(), seconds]),
    );
    file.leave(
        "half_angle_printed_dms",
        "the same, rounded to the second in print",
    );
    for diameters in ["gauge_line_diameter_mm", "gauge_line_diameter_inch"] {
        file.leave(
            diameters,
            "no figure of a runout check depends on the gauge-line diameter",
        );
    }
    file.finish();
}

/// Acceptance tolerances, published and from memory, have to be limits one can set: half of each is accepted
/// and twice as much rejected, by an indicator good to a tenth of it.
#[test]
fn acceptance_tolerances_can_be_set_as_limits() {
    let file = Reference::load("spindle/internal_taper_runout_tolerances");
    let mut tolerances_um = Vec::new();
    all_tolerances(file.at("/expected/rows"), "", &mut tolerances_um);
    assert!(tolerances_um.len() > 20, "{tolerances_um:?}");
    for limit_um in tolerances_um {
        let setup = RunoutSetup {
            limits: vec![Limit::on(Figure::Tir, limit_um, Provenance::Published)],
            indicator: Some(Indicator::in_force(limit_um / 10.0)),
            ..RunoutSetup::default()
        };
        let outcome = |tir_um: f64| {
            let readings: Vec<f64> = equal_angles_deg(8)
                .iter()
                .map(|angle| tir_um / 2.0 * angle.to_radians().cos())
                .collect();
            let record = RunoutRecord::typed(Place::default(), &readings, 8);
            let result = analyse(&record, &setup).expect("eight positions");
            result.verdict.expect("a limit").outcome
        };
        assert_eq!(outcome(limit_um / 2.0), Outcome::Accept, "{limit_um} µm");
        assert_eq!(outcome(limit_um * 2.0), Outcome::Reject, "{limit_um} µm");
    }
}

/// Every number under a key that names micrometres.
fn all_tolerances(value: &Value, key: &str, found: &mut Vec<f64>) {
    match value {
        Value::Object(map) => {
            for (name, inner) in map {
                let key = if name.ends_with("_um") { name } else { key };
                all_tolerances(inner, key, found);
            }
        }
        Value::Array(list) => list
            .iter()
            .for_each(|inner| all_tolerances(inner, key, found)),
        Value::Number(number) if key.ends_with("_um") => found.extend(number.as_f64()),
        _ => {}
    }
}
