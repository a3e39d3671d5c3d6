//! What a certificate may not contradict.

use crate::calibration::certificate::*;
use jiff::civil::date;

fn draft() -> Draft {
    Draft {
        certificate: Some("TP-F-0118".to_owned()),
        laboratory: Some("Tern Point force bench".to_owned()),
        date: Some(date(2025, 3, 2)),
        due: Some(date(2026, 3, 2)),
        span_n: Some([500.0, 20_000.0]),
        rated_n: Some(25_000.0),
        expanded_percent: Some(0.4),
        expanded_n: Some(8.0),
        coefficients: vec![0.0, 0.0116],
        ..Draft::default()
    }
}

fn point(load_n: f64, reading_counts: f64) -> DraftPoint {
    DraftPoint {
        load_n,
        reading_counts,
        expanded_n: None,
    }
}

#[test]
fn the_same_certificate_has_the_same_name_and_another_another() {
    let one = enter(&draft()).unwrap().record;
    assert_eq!(one.id, enter(&draft()).unwrap().record.id);
    let mut other = draft();
    other.expanded_n = Some(9.0);
    assert_ne!(one.id, enter(&other).unwrap().record.id);
    assert_eq!(one.date_days, 20_149);
    assert!((one.expanded_relative - 0.004).abs() < 1e-15);
}

#[test]
fn points_make_the_curve_and_the_span() {
    let mut by_points = draft();
    by_points.coefficients.clear();
    by_points.span_n = None;
    by_points.points = (1..=5)
        .map(|i| point(f64::from(i) * 4_000.0, f64::from(i) * 344_827.586))
        .collect();
    let entered = enter(&by_points).unwrap();
    assert!((entered.record.coefficients[1] - 0.0116).abs() < 1e-9);
    assert!((entered.record.span[0] - 4_000.0).abs() < 1e-9);
    assert!(entered.fitted.is_some());
    by_points.span_n = Some([500.0, 20_000.0]);
    assert_eq!(enter(&by_points).unwrap_err().key, "span_n");
}

#[test]
fn every_contradiction_names_its_key_and_a_next_step() {
    type Spoil = fn(&mut Draft);
    let spoilt: [(&str, Spoil); 15] = [
        ("certificate", |d| d.certificate = None),
        ("laboratory", |d| d.laboratory = Some("x".repeat(33))),
        ("date", |d| d.date = Some(date(2200, 1, 1))),
        ("due", |d| d.due = Some(date(2025, 3, 2))),
        ("due", |d| d.due = None),
        ("span_n", |d| d.span_n = Some([20_000.0, 500.0])),
        ("span_n", |d| d.span_n = None),
        ("rated_n", |d| d.rated_n = Some(19_000.0)),
        ("expanded_percent", |d| {
            (d.expanded_percent, d.expanded_n) = (None, None);
        }),
        ("expanded_percent", |d| d.expanded_percent = Some(40.0)),
        ("temperature_c", |d| d.temperature_c = Some(293.15)),
        ("coefficients", |d| d.coefficients = vec![0.0, -0.0116]),
        // turns over before 20 kN
        ("coefficients", |d| {
            d.coefficients = vec![0.0, 0.0116, -2e-9]
        }),
        // kN where N are meant
        ("coefficients", |d| d.coefficients = vec![0.0, 0.0116e-3]),
        ("point", |d| d.points = vec![point(1.0, 1.0)]),
    ];
    for (key, spoil) in spoilt {
        let mut bad = draft();
        spoil(&mut bad);
        let refusal = enter(&bad).unwrap_err();
        assert_eq!(refusal.key, key, "{refusal:?}");
        assert!(refusal.next.len() > 10, "{refusal:?}");
    }
}

#[test]
fn points_without_an_uncertainty_are_refused() {
    let mut bad = draft();
    bad.coefficients.clear();
    bad.span_n = None;
    (bad.expanded_percent, bad.expanded_n) = (None, None);
    bad.points = (1..=5)
        .map(|i| point(f64::from(i), f64::from(i) * 100.0))
        .collect();
    let refusal = enter(&bad).unwrap_err();
    assert!(
        refusal.found.contains("no uncertainty at 1 N"),
        "{refusal:?}"
    );
}
