//! Whatever a record holds, the analysis ends with numbers or with a refusal.

use holdtrue_metrology::grip::analyse;
use holdtrue_metrology::grip::excluded::Discard;
use holdtrue_metrology::grip::record::SpanReason;
use holdtrue_metrology::grip::record::{ForceRecord, Span, SpanKind};
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Gauge, GripSetup, Turned};
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_terms::vocabulary::Drawbar;
use proptest::collection::vec;
use proptest::prelude::*;
use serde_json::Value;

/// Steps of time and levels of force, so that long stretches, jumps, gaps and spikes all come up.
fn record() -> impl Strategy<Value = ForceRecord> {
    let step = prop_oneof![6 => 0.001..0.02_f64, 1 => 0.02..2.0_f64, 1 => 1e-9..1e-6_f64];
    let size =
        prop_oneof![4 => -1e4..2e4_f64, 1 => -1e9..1e9_f64, 1 => Just(0.0), 1 => -1e-3..1e-3_f64];
    vec((1_usize..300, step, size, 0.0..200.0_f64), 1..25).prop_map(|stretches| {
        let (mut times, mut forces, mut now) = (Vec::new(), Vec::new(), -3.0);
        for (samples, step, level, wobble) in stretches {
            for sample in 0..samples {
                now += step;
                times.push(now);
                forces.push((level + wobble * (sample as f64 * 1.7).sin()).clamp(-1e9, 1e9));
            }
        }
        ForceRecord::new(&times, &forces).expect("times grow and forces are finite")
    })
}

fn setup() -> GripSetup {
    let limit = |figure: &str, side: &str, limit: f64| {
        let json = serde_json::json!({"figure": figure, "side": side, "limit": limit, "unit": "N", "provenance": "maker"});
        serde_json::from_value(json).unwrap()
    };
    GripSetup {
        nominal_n: Some(9_000.0),
        limits: vec![
            limit("grip-mean", "lower", 7_000.0),
            limit("grip-lowest", "lower", 6_000.0),
            limit("grip-scatter", "upper", 5.0),
            limit("grip-sag", "upper", 5.0),
        ],
        drawbar: Drawbar::Hydraulic,
        gauge: Gauge {
            rated_load_n: Some(15_000.0),
            ..Gauge::stated(1.0)
        },
        turned: vec![Turned {
            number: 1,
            orientation_deg: 180.0,
        }],
        ..GripSetup::default()
    }
}

/// Every number of the document is one: what is no number would have become null where none is allowed.
fn assert_sound(result: &GripResult) {
    let document = serde_json::to_value(result).unwrap();
    let read_back: GripResult =
        serde_json::from_value(document.clone()).expect("no number is missing");
    assert_eq!(read_back.clamps.len(), result.clamps.len());
    for clamp in &result.clamps {
        assert_eq!(clamp.counted, clamp.excluded.is_none());
        assert!(!clamp.counted || clamp.settled_n.is_some_and(f64::is_finite));
        if let [Some(clamped), Some(released)] = [clamp.clamped_s, clamp.released_s] {
            assert!(released > clamped, "{clamp:?}");
        }
    }
    let counted = result.clamps.iter().filter(|clamp| clamp.counted).count();
    assert_eq!(
        result
            .statistics
            .as_ref()
            .map_or(0, |statistics| statistics.count),
        counted
    );
    if let Value::Object(statistics) = &document["statistics"] {
        assert!(statistics["mean_n"].is_number() && statistics["lowest_n"].is_number());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(60) })]

    #[test]
    fn any_record_gives_numbers_or_a_refusal(mut record in record(), from in 0.0..5.0_f64, kind in 0_usize..4) {
        let kind = [None, Some(SpanKind::Gap), Some(SpanKind::Fault), Some(SpanKind::Overload)][kind];
        if let Some(kind) = kind {
            record.mark(Span { from_s: from, to_s: from + 0.3, kind, reason: SpanReason::OpenBridge });
        }
        let Ok(result) = analyse(&record, &setup()) else { return Ok(()) };
        assert_sound(&result);
        for pair in result.clamps.windows(2) {
            prop_assert_eq!(pair[1].number, pair[0].number + 1);
            let [Some(released), Some(clamped)] = [pair[0].released_s, pair[1].clamped_s] else { continue };
            prop_assert!(released <= clamped);
        }
        let discards = vec![Discard { number: 1, reason: "tried".to_owned() }];
        assert_sound(&analyse(&record, &GripSetup { discards, ..setup() }).unwrap());
    }

    #[test]
    fn any_record_can_be_watched_and_nothing_shown_is_unlisted(record in record(), wanted in 1_u32..4) {
        let mut watch = Watch::new(Some(wanted), setup());
        let mut shown = Vec::new();
        for sample in record.samples() {
            shown.extend(watch.push(sample).unwrap());
            let _ = watch.step();
        }
        let Ok(result) = watch.finish() else {
            prop_assert!(shown.is_empty());
            return Ok(());
        };
        assert_sound(&result);
        for (place, clamp) in shown.iter().enumerate() {
            prop_assert_eq!(clamp.number as usize, place + 1);
            prop_assert!(result.clamps.len() > place);
        }
        let replayed = Watch::replay(&record, Some(wanted), setup()).unwrap();
        prop_assert_eq!(replayed.finish().unwrap(), result);
    }
}
