//! Printed and computed tables of quantiles, tolerance factors and outlier limits.

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_metrology::special::*;
use holdtrue_metrology::statistics as st;
use holdtrue_tests::reference::{Reference, count, rows_recomputed};

#[test]
fn quantiles() {
    let file = Reference::load("tables/quantiles_t_chi2_f_normal");
    let rows = |name: &str| file.rows(&format!("/expected/{name}/value"));
    for (i, row) in rows("normal").iter().enumerate() {
        file.check_at("normal", &format!("/{i}/1"), normal_quantile(row[0]));
    }
    const T: [f64; 6] = [0.9, 0.95, 0.975, 0.99, 0.995, 0.9995];
    file.check(
        "t",
        rows_recomputed(&rows("t"), 1, |k, a| t_quantile(T[k], a[0])),
    );
    const CHI2: [f64; 7] = [0.005, 0.025, 0.05, 0.5, 0.95, 0.975, 0.995];
    file.check(
        "chi2",
        rows_recomputed(&rows("chi2"), 1, |k, a| {
            chi2_quantile(CHI2[k], a[0]).unwrap()
        }),
    );
    const F: [f64; 4] = [0.9, 0.95, 0.975, 0.99];
    file.check(
        "F",
        rows_recomputed(&rows("F"), 2, |k, a| f_quantile(F[k], a[0], a[1]).unwrap()),
    );
    let noncentral = |a: &[f64]| noncentral_t_quantile(a[2], a[0], a[1]).unwrap();
    file.check(
        "noncentral_t",
        rows_recomputed(&rows("noncentral_t"), 3, |_, a| noncentral(a)),
    );
    file.finish();
}

#[test]
fn one_sided_tolerance_factors() {
    let file = Reference::load("tables/one_sided_tolerance_k_computed");
    let rows = file.rows("/expected/table/value");
    let k = |a: &[f64]| st::tolerance_factor(count(a[0]), a[1], a[2]).unwrap();
    file.check("table", rows_recomputed(&rows, 3, |_, a| k(a)));
    file.finish();

    let file = Reference::load("tables/one_sided_tolerance_k_cmh17");
    for (name, coverage) in [("kB_coverage_0.90", 0.90), ("kA_coverage_0.99", 0.99)] {
        let rows = file.rows(&format!("/expected/{name}/value"));
        let k = |a: &[f64]| st::tolerance_factor(count(a[0]), coverage, 0.95).unwrap();
        file.check(name, rows_recomputed(&rows, 1, |_, a| k(a)));
    }
    file.finish();
}

#[test]
fn grubbs_critical_values() {
    let file = Reference::load("tables/grubbs_critical_values");
    let rows = file.rows("/expected/table/value");
    const ALPHA: [f64; 4] = [0.1, 0.05, 0.025, 0.01];
    let critical = |k: usize, n: usize| {
        if k < 4 {
            st::grubbs_critical_one_sided(n, ALPHA[k])
        } else {
            st::grubbs_critical_two_sided(n, ALPHA[k - 4])
        }
    };
    file.check(
        "table",
        rows_recomputed(&rows, 1, |k, a| critical(k, count(a[0])).unwrap()),
    );
    file.finish();
}

#[test]
fn coverage_factors_of_the_guide() {
    let file = Reference::load("tables/gum_g2_t_factors");
    let shares = |k: usize| match k {
        0 => 1.0 - 2.0 * normal_survival(1.0),
        3 => 1.0 - 2.0 * normal_survival(2.0),
        5 => 1.0 - 2.0 * normal_survival(3.0),
        _ => [0.0, 0.90, 0.95, 0.0, 0.99][k],
    };
    let factor = |k: usize, dof: f64| t_quantile(0.5 + 0.5 * shares(k), dof);
    let rows = file.rows("/expected/table/value");
    for (i, row) in rows.iter().enumerate() {
        for k in 0..6 {
            // 35 degrees of freedom, 90 %: printed 1.70 for 1.6896
            let misprint = row[0].total_cmp(&35.0).is_eq() && k == 1;
            if !misprint {
                file.check_at("table", &format!("/{i}/{}", k + 1), factor(k, row[0]));
            }
        }
    }
    let last: Vec<f64> = (0..6).map(|k| factor(k, f64::INFINITY)).collect();
    file.check("row_infinity", last);
    file.finish();
}

#[test]
fn student_quantiles_of_a_regulation() {
    let file = Reference::load("tables/t_printed_10cfr429");
    let rows = file.rows("/expected/table/value");
    const P: [f64; 4] = [0.9, 0.95, 0.975, 0.99];
    file.check(
        "table",
        rows_recomputed(&rows, 1, |k, a| t_quantile(P[k], a[0])),
    );
    file.finish();
}

/// Usual clamping forces, from memory: no acceptance limits. The 7/24 ranges of the file are another habit than the
/// product's, which the docs say; their lower ends, the only ones that reject, agree.
#[test]
fn usual_clamping_forces() {
    use holdtrue_metrology::grip::limits::{Assumption, UsualRange};
    use holdtrue_terms::vocabulary::Class;
    use holdtrue_terms::vocabulary::Provenance;
    let range = |interface: &str| {
        let interface = interface.parse().unwrap();
        let class = Class::Standard;
        UsualRange::of(Assumption { interface, class }).unwrap()
    };
    let file = Reference::load("spindle/clamping_forces");
    let hollow = file
        .expected("hsk_A_C_clamping_force_kN")
        .as_object()
        .unwrap();
    let found = hollow.keys().map(|size| {
        let [a, c] = ["A", "C"].map(|form| range(&format!("HSK-{form}{size}")));
        assert_eq!(a, c);
        assert_eq!((a.low_n, a.provenance), (a.high_n, Provenance::FromMemory));
        (size.clone(), serde_json::json!(a.low_n / 1e3))
    });
    let found: serde_json::Map<_, _> = found.collect();
    file.check("hsk_A_C_clamping_force_kN", found);
    for (size, ends) in file
        .expected("taper_7_24_typical_range_kN")
        .as_object()
        .unwrap()
    {
        let usual = range(&format!("7/24-{size}"));
        assert_eq!(usual.provenance, Provenance::CommonPractice);
        assert_eq!(usual.low_n / 1e3, ends[0].as_f64().unwrap(), "no. {size}");
        assert!(
            usual.high_n / 1e3 <= ends[1].as_f64().unwrap(),
            "no. {size}"
        );
    }
    file.leave(
        "taper_7_24_typical_range_kN",
        "another habit's upper ends; compared above as far as they agree",
    );
    file.finish();
}
