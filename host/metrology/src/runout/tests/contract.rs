//! The JSON contract: the values; `holdtrue-wording` puts the sentences beside them.

use super::*;

fn keys(value: &serde_json::Value) -> Vec<&str> {
    let mut keys: Vec<&str> = value
        .as_object()
        .expect("an object")
        .keys()
        .map(String::as_str)
        .collect();
    keys.sort_unstable();
    keys
}

fn assert_has(value: &serde_json::Value, expected: &[&str]) {
    let keys = keys(value);
    for key in expected {
        assert!(keys.contains(key), "{key} is missing in {keys:?}");
    }
}

#[test]
fn the_json_has_the_promised_fields() {
    let planes = turned_bar(
        &TWICE_EACH,
        |_| vector(1.0, 0.0),
        |z| vector(0.05, 30.0) * z,
    );
    let setup = RunoutSetup {
        state: Some(State::AsFound),
        ..judging(&[limit(Figure::Tir, Some(25.0), 10.0)], 0.5)
    };
    let result = analyse(&record(planes), &setup).expect("a whole check");
    let json = serde_json::to_value(&result).expect("serialises");
    assert_has(
        &json,
        &[
            "check",
            "schema",
            "state",
            "planes",
            "axis",
            "reversal",
            "seat_repeatability_um",
            "uncertainty",
            "verdict",
            "hints",
            "note_values",
        ],
    );
    assert_eq!(
        (&json["check"], &json["schema"], &json["state"]),
        (&"runout".into(), &1.into(), &"as_found".into())
    );
    assert_has(
        &json["planes"][0],
        &[
            "at",
            "height_mm",
            "seating",
            "orientation_deg",
            "method",
            "stops",
            "tir_um",
            "tir_as_read_um",
            "eccentricity_um",
            "direction_deg",
            "harmonics",
            "residual_rms_um",
            "drift_um",
            "synchronous_um",
            "asynchronous_um",
            "note_values",
        ],
    );
    assert_eq!(
        (&json["planes"][0]["at"], &json["planes"][0]["method"]),
        (&"bar".into(), &"stepped".into())
    );
    assert_has(
        &json["planes"][0]["harmonics"][0],
        &["order", "amplitude_um", "phase_deg"],
    );
    assert_has(
        &json["axis"],
        &[
            "at_height_mm",
            "offset_um",
            "offset_direction_deg",
            "tilt_um_per_m",
            "tilt_direction_deg",
            "from",
        ],
    );
    assert_eq!(json["axis"]["from"], "spindle-part");
    assert_has(
        &json["reversal"][0],
        &[
            "height_mm",
            "orientations",
            "spindle_eccentricity_um",
            "spindle_direction_deg",
            "bar_eccentricity_um",
            "bar_direction_deg",
        ],
    );
    assert_has(
        &json["uncertainty"],
        &[
            "budget",
            "combined_um",
            "effective_dof",
            "coverage_factor",
            "expanded_um",
        ],
    );
    assert_has(
        &json["uncertainty"]["budget"][0],
        &["source", "standard_um", "dof"],
    );
    assert_has(
        &json["verdict"],
        &["outcome", "limits", "reason_values", "would_decide"],
    );
    assert_has(
        &json["verdict"]["limits"][0],
        &[
            "figure",
            "side",
            "limit",
            "unit",
            "provenance",
            "measured",
            "guard",
            "outcome",
            "watch",
        ],
    );
    assert_has(
        &json["hints"][0],
        &["cause", "evidence_values", "provenance"],
    );
    assert_eq!(json["hints"][0]["cause"], "bent-test-bar");
}
