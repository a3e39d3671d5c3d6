//! Worked examples of the guides on uncertainty and conformity, and the guard-band rule.

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_metrology::change::change;
use holdtrue_metrology::decision::{
    Figure, Limit, Side, conformity_probability, judge_with_guard, overall,
};
use holdtrue_metrology::regression::polynomial;
use holdtrue_metrology::special::{normal_quantile, t_quantile};
use holdtrue_metrology::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::vocabulary::{Outcome, Provenance};
use holdtrue_tests::reference::Reference;
use serde_json::{Value, json};

#[test]
fn effective_degrees_of_freedom() {
    let file = Reference::load("uncertainty/gum_g41_welch_satterthwaite");
    let parts = file.numbers("/input/relative_u_percent");
    let nu = file.numbers("/input/nu");
    let budget = Budget::new(
        parts
            .iter()
            .zip(&nu)
            .map(|(u, nu)| Contribution::new("part", *u, Some(*nu)))
            .collect(),
    );
    file.check("relative_u_c_percent", budget.combined());
    file.check("relative_u_c_percent_full", budget.combined());
    file.check("nu_eff", budget.effective_dof());
    file.check("nu_eff_full", budget.effective_dof());
    file.check("t_95", budget.coverage_factor());
    file.check("relative_U95_percent", budget.expanded());
    file.leave(
        "relative_U95_percent_full",
        "for the effective degrees of freedom rounded to 19; the program does not round",
    );
    let at_19 = t_quantile(0.975, 19.0) * budget.combined();
    file.check("relative_U95_percent_full", at_19);
    file.finish();
}

/// Lengths in nm; the sensitivities are the length of the standard times the other factor.
#[test]
fn end_gauge_budget() {
    let file = Reference::load("uncertainty/gum_h1_end_gauge");
    let at = |pointer: &str| file.number(&format!("/input/{pointer}"));
    let component = |k: usize| {
        let nu = at(&format!("d/components/{k}/nu"));
        Contribution::new("comparison", at(&format!("d/components/{k}/u")), Some(nu))
    };
    let comparison = Budget::new((0..3).map(component).collect());
    file.check("u_d", comparison.combined());
    file.check("u_d_full", comparison.combined());
    file.leave("nu_d", "printed from rounded components");
    file.check("nu_d_full", comparison.effective_dof());

    let bounded = |source: &str, pointer: &str, sensitivity: f64| {
        let half_width = at(&format!("{pointer}/half_width"));
        let shape = Distribution::Rectangular;
        let mut c = Contribution::bounded(
            source,
            shape,
            half_width,
            sensitivity,
            Provenance::Published,
        );
        c.dof = Some(at(&format!("{pointer}/nu")));
        c
    };
    let length = at("l_s/value");
    let delta_alpha = bounded(
        "difference of expansion",
        "delta_alpha",
        -length * at("theta/value"),
    );
    let delta_theta = bounded(
        "difference of temperature",
        "delta_theta",
        -length * at("alpha_s/value"),
    );
    file.check("component_delta_alpha", delta_alpha.standard);
    file.check("component_delta_theta", delta_theta.standard);
    let cyclic = Distribution::Arcsine.standard_from_half_width(at("theta/cyclic_half_width"));
    let theta = Budget::new(vec![
        Contribution::new("mean", at("theta/u_mean"), None),
        Contribution::new("cycle", cyclic, None),
    ]);
    file.check("u_theta_combined", theta.combined());

    let d = Contribution::new(
        "comparison",
        comparison.combined(),
        Some(comparison.effective_dof()),
    );
    let standard = Contribution::new("certificate", at("l_s/u"), Some(at("l_s/nu")));
    let alpha_standard =
        Distribution::Rectangular.standard_from_half_width(at("alpha_s/half_width"));
    let second_order = [
        length * delta_alpha.standard / delta_alpha.sensitivity.abs() * theta.combined(),
        length * alpha_standard * delta_theta.standard / delta_theta.sensitivity.abs(),
    ];
    let budget = Budget::new(vec![standard, d, delta_alpha, delta_theta]);
    file.check("l", length + at("d/value"));
    file.check("u_c", budget.combined());
    file.check("u_c_full", budget.combined());
    file.check("nu_eff_full", budget.effective_dof());
    file.check("nu_eff_truncated", budget.effective_dof().floor());
    let factor = t_quantile(0.995, budget.effective_dof().floor());
    file.check("t_p99_nu16", factor);
    file.check("U99", factor * budget.combined());
    file.check("U99_full", factor * budget.combined());
    file.check("second_order_terms", second_order.to_vec());
    let all = second_order
        .iter()
        .fold(budget.combined().powi(2), |sum, u| sum + u * u)
        .sqrt();
    file.check("u_c_with_second_order_terms", all);
    file.check("u_c_second_order_full", all);
    file.leave(
        "nu_eff_from_rounded_components",
        "shows what rounding too early does",
    );
    file.finish();
}

#[test]
fn thermometer_calibration_line() {
    let file = Reference::load("uncertainty/gum_h3_calibration_line");
    let t0 = file.number("/input/t0");
    let t: Vec<f64> = file
        .numbers("/input/t_degC")
        .iter()
        .map(|t| t - t0)
        .collect();
    let line = polynomial(&t, &file.numbers("/input/correction_degC"), 1, false, None).unwrap();
    let (b, s) = (&line.fit.coefficients, &line.fit.standard_errors);
    let r = line.fit.covariance(0, 1) / (s[0] * s[1]);
    let at_30 = line.predict(file.number("/input/predict_at") - t0, 1.0);
    file.check("intercept", b[0]);
    file.check("slope", b[1]);
    file.check("s_intercept", s[0]);
    file.check("s_slope", s[1]);
    file.check("r", r);
    file.check("residual_sd", line.fit.residual_stdev());
    file.check("predicted_at_30", at_30.value);
    file.check("u_predicted_at_30", at_30.standard_error);
    for (name, value) in [
        ("slope", b[1]),
        ("intercept", b[0]),
        ("s_slope", s[1]),
        ("s_intercept", s[0]),
        ("r", r),
        ("residual_sd", line.fit.residual_stdev()),
        ("predicted_at_30", at_30.value),
        ("u_predicted_at_30", at_30.standard_error),
        ("prediction_sd_new_observation", at_30.new_observation),
    ] {
        file.check_at("full", &format!("/{name}"), value);
    }
    file.finish();
}

#[test]
fn conformity_probabilities() {
    let file = Reference::load("uncertainty/jcgm106_conformity_probability");
    for (i, case) in file
        .expected("examples")
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
    {
        let get = |name: &str| case.get(name).and_then(Value::as_f64);
        let p = conformity_probability(get("TL"), get("TU"), get("y").unwrap(), get("u").unwrap());
        file.check_at("examples", &format!("/{i}/pc"), p);
        assert!((p - get("pc_printed").unwrap()).abs() <= 0.005, "{case}");
    }
    file.finish();
}

fn limit(side: Side, limit: f64) -> Limit {
    Limit {
        side,
        ..Limit::on(Figure::GripMean, limit, Provenance::Computed)
    }
}

#[test]
fn guard_bands() {
    let file = Reference::load("uncertainty/guard_bands");
    for (i, rule) in file
        .expected("factors")
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
    {
        let p = rule["conformity_probability_at_acceptance_limit"]
            .as_f64()
            .unwrap();
        let g = normal_quantile(p);
        file.check_at("factors", &format!("/{i}/g_in_units_of_u"), g);
        file.check_at("factors", &format!("/{i}/g_in_units_of_U_k2"), 0.5 * g);
    }
    for (i, case) in file
        .expected("decisions")
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
    {
        let get = |name: &str| case[name].as_f64();
        let (y, u) = (get("y").unwrap(), get("u").unwrap());
        let sides = [(Side::Lower, get("TL")), (Side::Upper, get("TU"))];
        let judged: Vec<_> = sides
            .iter()
            .filter_map(|(side, value)| {
                Some(holdtrue_metrology::decision::judge(
                    &limit(*side, (*value)?),
                    y,
                    u,
                    f64::INFINITY,
                ))
            })
            .collect();
        let guarded = |j: &holdtrue_metrology::decision::Judged| match j.side {
            Side::Lower => j.limit + j.guard,
            Side::Upper => j.limit - j.guard,
        };
        let limits: Vec<Option<f64>> = sides
            .iter()
            .map(|(side, _)| judged.iter().find(|j| j.side == *side).map(guarded))
            .collect();
        file.check_at(
            "decisions",
            &format!("/{i}/acceptance_limits_g1.6449u"),
            json!(limits),
        );
        file.check_at(
            "decisions",
            &format!("/{i}/accept"),
            overall(&judged) == Outcome::Accept,
        );
        file.check_at(
            "decisions",
            &format!("/{i}/reject_proven"),
            overall(&judged) == Outcome::Reject,
        );
        let bare: Vec<_> = judged
            .iter()
            .map(|j| judge_with_guard(&limit(j.side, j.limit), y, 0.0))
            .collect();
        file.check_at(
            "decisions",
            &format!("/{i}/simple_acceptance"),
            overall(&bare) == Outcome::Accept,
        );
        file.check_at(
            "decisions",
            &format!("/{i}/pc"),
            conformity_probability(get("TL"), get("TU"), y, u),
        );
    }
    file.finish();
}

/// A change since last time: what one calibration gives both checks cancels.
#[test]
fn a_difference_with_a_contribution_in_common() {
    let file = Reference::load("uncertainty/change_shared");
    let budget = |when: &str| {
        let part = |line: usize| {
            let at = format!("/input/{when}/{line}");
            let source = file
                .at(&format!("{at}/source"))
                .as_str()
                .unwrap()
                .to_owned();
            let dof = file.at(&format!("{at}/nu")).as_f64();
            Contribution::new(source, file.number(&format!("{at}/u")), dof)
        };
        Budget::new((0..3).map(part).collect())
    };
    let (now, then) = (budget("now"), budget("then"));
    let later = 9_810.0 + file.number("/input/difference");
    for (name, one) in [("one_calibration", true), ("two_calibrations", false)] {
        let shared = |line: &Contribution| one && line.source == "certificate";
        let change = change((later, &now), (9_810.0, &then), shared);
        file.check(&format!("{name}_u"), change.budget.combined());
        file.check(&format!("{name}_nu"), change.budget.effective_dof());
        file.check(&format!("{name}_U95"), change.expanded);
    }
    file.finish();
}
