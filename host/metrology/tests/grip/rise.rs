//! How the force rose, of the one clamp that stands for its set.

use crate::recipe::{Pull, Recipe};
use holdtrue_metrology::grip::analyse;
use holdtrue_metrology::grip::record::{ForceRecord, Span, SpanKind, SpanReason};
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::rise::{Rise, of_middle_clamp};

const RISES_S: [f64; 4] = [0.5, 0.1, 0.3, 0.2];

fn recipe() -> Recipe {
    let mut recipe = Recipe::row(&[9_000.0, 10_000.0, 11_000.0, 8_000.0], 4.0, 3.0);
    for (pull, rise_s) in recipe.pulls.iter_mut().zip(RISES_S) {
        pull.rise_s = rise_s;
    }
    recipe.offset_n = 150.0;
    recipe.noise_n = 3.0;
    recipe
}

fn rise(record: &ForceRecord) -> Option<Rise> {
    let result = analyse(record, &GripSetup::default()).unwrap();
    of_middle_clamp(record, &result.clamps)
}

fn share_at(rise: &Rise, s: f64) -> f64 {
    let near =
        |one: &&(f64, f64), other: &&(f64, f64)| (one.0 - s).abs().total_cmp(&(other.0 - s).abs());
    rise.points.iter().min_by(near).unwrap().1
}

#[test]
fn the_middle_clamp_rises_from_its_start_to_what_it_settles_at() {
    // In order 0.1, 0.2, 0.3, 0.5 s: of the two in the middle the shorter.
    let found = rise(&recipe().record()).unwrap();
    assert_eq!(found.clamp, 4);
    assert!((found.clamping_s - 0.16).abs() < 2e-3, "{found:?}");
    // A straight rise begins at 5 % of its level.
    for (s, share) in [
        (-0.1, 0.0),
        (0.0, 0.05),
        (0.09, 0.5),
        (0.19, 1.0),
        (2.0, 1.0),
    ] {
        let found = share_at(&found, s);
        assert!((found - share).abs() < 6e-3, "{s} s: {found}, not {share}");
    }
    let (first, last) = (found.points[0].0, found.points[found.points.len() - 1].0);
    assert!(
        (first + 0.16).abs() < 5e-3 && last > 2.5,
        "{first} to {last} s"
    );
}

#[test]
fn a_rise_with_samples_missing_stands_for_nobody() {
    let gap = |record: &mut ForceRecord, from_s: f64| {
        record.mark(Span {
            from_s,
            to_s: from_s + 0.01,
            kind: SpanKind::Gap,
            reason: SpanReason::SamplesLost { samples: 10 },
        });
    };
    let pulls = recipe().pulls;
    let mut record = recipe().record();
    // Just before the force is there: the clamp counts all the same.
    gap(&mut record, pulls[3].at_s + 0.02);
    assert_eq!(rise(&record).unwrap().clamp, 3);
    for pull in &pulls[..3] {
        gap(&mut record, pull.at_s + 0.02);
    }
    assert_eq!(rise(&record), None);
}

#[test]
fn too_few_samples_in_a_rise_show_none() {
    let mut recipe = Recipe::of(vec![
        Pull::at(2.0, 9_000.0, 4.0),
        Pull::at(9.0, 9_000.0, 4.0),
    ]);
    recipe.rate_hz = 50.0;
    assert_eq!(rise(&recipe.record()), None);
}
