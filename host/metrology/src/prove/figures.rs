//! Checks of units, statistics, distributions, budgets, the decision rule, fits and trends.

use super::data::{NORRIS_X, NORRIS_Y, RESISTIVITY, SULFATE, SULFATE_YEAR, URANIUM};
use super::{Allowed, Sheet, Source};
use crate::anova::one_way;
use crate::decision::{Figure, Limit, Side, conformity_probability, guard_factor, judge_by_budget};
use crate::regression::polynomial;
use crate::special::{
    chi2_quantile, f_quantile, noncentral_t_quantile, normal_quantile, t_quantile,
};
use crate::statistics as st;
use crate::study::{StudyReading, StudySetup, study};
use crate::trend;
use crate::trend::{Point, follow, mann_kendall, robust_slope};
use crate::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::quantity;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_terms::vocabulary::Provenance;

const NIST_STRD: Provenance = Provenance::Published;

pub(super) fn sheets() -> Vec<Sheet> {
    vec![
        units(),
        typed(),
        mean_and_scatter(),
        interval(),
        quantiles(),
        tolerance(),
        outlier(),
        line(),
        curve(),
        groups(),
        trend_in_order(),
        visits(),
        end_gauge(),
        guard(),
        few_readings(),
        conformity(),
        gauge_study(),
    ]
}

fn units() -> Sheet {
    let source = Source(
        "definitions of the pound, standard gravity and the inch, as in NIST SP 811",
        Provenance::FromMemory,
    );
    let exact = Allowed::Absolute(0.0);
    Sheet::new("units", source)
        .compare(
            "newtons in a pound-force",
            4.448_221_615_260_5,
            Some(ForceUnit::Lbf.to_newtons(1.0)),
            exact,
        )
        .compare(
            "micrometres in 0.0001 in",
            2.54,
            Some(LengthUnit::In.to_micrometres(0.0001)),
            exact,
        )
        .compare(
            "newtons in 2.5 kN",
            2_500.0,
            Some(ForceUnit::Kn.to_newtons(2.5)),
            exact,
        )
}

/// What people type, by the reader of every option.
fn typed() -> Sheet {
    let source = Source(
        "the same definitions, multiplied by hand",
        Provenance::Computed,
    );
    let allowed = Allowed::Relative(1e-15);
    let force = |text: &str| Some(quantity::read(text, ForceUnit::N).ok()?.newtons());
    let length = |text: &str| Some(quantity::read(text, LengthUnit::Um).ok()?.micrometres());
    Sheet::new("typed quantities", source)
        .compare(
            "2200 lbf, N",
            9_786.087_553_573_1,
            force("2200 lbf"),
            allowed,
        )
        .compare("1250kgf, N", 12_258.312_5, force("1250kgf"), allowed)
        .compare("980 daN, N", 9_800.0, force("980 daN"), allowed)
        .compare("12,5 kN, N", 12_500.0, force("12,5 kN"), allowed)
        .compare("0.0005 in, um", 12.7, length("0.0005 in"), allowed)
        .compare("3 tenths, um", 7.62, length("3 tenths"), allowed)
        .compare("0.008mm, um", 8.0, length("0.008mm"), allowed)
}

/// Five visits a year apart on 10, 9.9, 9.7, 9.6 and 9.4 kN, each ± 30 N (k = 1), with a limit of 9.12 kN.
fn visits() -> Sheet {
    let source = Source(
        "least squares by hand: residuals 20, -30, 20, -30, 20 N, quantile 3.182446 of Student's t",
        Provenance::Computed,
    );
    let figures = [10_000.0, 9_900.0, 9_700.0, 9_600.0, 9_400.0];
    let points: Vec<Point> = (0..5)
        .zip(figures)
        .map(|(year, value)| Point {
            x: f64::from(year),
            value,
            own: Some(30.0),
            own_dof: f64::INFINITY,
            shared: None,
            calibration: 0,
            repair_before: false,
        })
        .collect();
    let limit = trend::Limit {
        side: Side::Lower,
        value: 9_120.0,
    };
    let found = follow(&points, Some(limit));
    let crossing = found
        .crossing
        .as_ref()
        .and_then(|found| found.as_ref().ok());
    let line = found.line.as_ref().ok();
    Sheet::new("line through visits", source)
        .compare(
            "slope, N a year",
            -150.0,
            line.map(|line| line.slope),
            Allowed::Absolute(1e-9),
        )
        .compare(
            "lower end of its interval",
            -181.824_463,
            line.map(|line| line.slope_interval()[0]),
            Allowed::Absolute(1e-6),
        )
        .compare(
            "years until the limit is met",
            6.0,
            crossing.map(|crossing| crossing.estimate),
            Allowed::Absolute(1e-9),
        )
}

fn mean_and_scatter() -> Sheet {
    let pairs = (0..500).flat_map(|_| [1_000_000.1, 1_000_000.3]);
    let x: Vec<f64> = std::iter::once(1_000_000.2).chain(pairs).collect();
    Sheet::new(
        "mean and scatter",
        Source("NIST StRD, NumAcc3.dat", NIST_STRD),
    )
    .compare(
        "mean",
        1_000_000.2,
        Some(st::mean(&x)),
        Allowed::Relative(1e-14),
    )
    .compare(
        "standard deviation",
        0.1,
        Some(st::stdev(&x)),
        Allowed::Relative(3e-9),
    )
}

fn interval() -> Sheet {
    let source = Source("NIST Technical Note 1297, table B.1", Provenance::Published);
    let printed = Allowed::Absolute(0.0055);
    // two readings one apart: half width = t·s/√n with s/√n = ½
    let half = st::mean_confidence(&[0.0, 1.0], 0.95).map(|[low, high]| high - low);
    Sheet::new("confidence interval", source)
        .compare("factor at 1 degree of freedom, 95 %", 12.71, half, printed)
        .compare(
            "factor at 4 degrees of freedom, 95 %",
            2.78,
            Some(t_quantile(0.975, 4.0)),
            printed,
        )
        .compare(
            "factor at 16 degrees of freedom, 99 %",
            2.92,
            Some(t_quantile(0.995, 16.0)),
            printed,
        )
}

fn quantiles() -> Sheet {
    let source = Source(
        "40-digit arithmetic (mpmath); noncentral t by numerical integration",
        Provenance::Computed,
    );
    let tight = Allowed::Relative(1e-9);
    Sheet::new("quantiles", source)
        .compare(
            "normal, 0.95",
            1.644_853_626_951_472_6,
            Some(normal_quantile(0.95)),
            tight,
        )
        .compare(
            "Student t, 0.95 at 4",
            2.131_846_786_326_650_4,
            Some(t_quantile(0.95, 4.0)),
            tight,
        )
        .compare(
            "chi-squared, 0.05 at 4",
            0.710_723_021_397_324,
            chi2_quantile(0.05, 4.0).ok(),
            tight,
        )
        .compare(
            "F, 0.95 at 1 and 5",
            6.607_890_973_703_37,
            f_quantile(0.95, 1.0, 5.0).ok(),
            tight,
        )
        .compare(
            "noncentral t, 0.05 at 4 with 0.5",
            -1.395_103_893_483_443_4,
            noncentral_t_quantile(0.05, 4.0, 0.5).ok(),
            Allowed::Relative(1e-8),
        )
}

fn tolerance() -> Sheet {
    let source = Source(
        "CMH-17-1G, volume 1, table of k (95 % confidence, 90 % coverage), quoted in the R package cmstatr",
        Provenance::Published,
    );
    let printed = Allowed::Absolute(0.002);
    let bound = st::tolerance_lower_bound(&[0.0, 1.0, 2.0, 3.0, 4.0], 0.90, 0.95);
    let factor = bound.map(|b| (2.0 - b) / 2.5_f64.sqrt());
    Sheet::new("tolerance bound", source)
        .compare("k for 5 readings", 3.408, factor, printed)
        .compare(
            "k for 10 readings",
            2.355,
            st::tolerance_factor(10, 0.90, 0.95),
            printed,
        )
}

fn outlier() -> Sheet {
    let source = Source(
        "NIST/SEMATECH e-Handbook, section 1.3.5.17.1, quoted in the documentation of stdlib",
        Provenance::Published,
    );
    let statistic = st::grubbs_statistic(&URANIUM).map(|(_, g)| g);
    Sheet::new("outlier", source)
        .compare(
            "G of the readings",
            2.4687,
            statistic,
            Allowed::Absolute(0.0005),
        )
        .compare(
            "critical value, one side",
            2.032,
            st::grubbs_critical_one_sided(URANIUM.len(), 0.05),
            Allowed::Absolute(0.0005),
        )
        .compare(
            "critical value, two sides",
            2.1266,
            st::grubbs_critical_two_sided(URANIUM.len(), 0.05),
            Allowed::Absolute(0.000_05),
        )
}

fn line() -> Sheet {
    let found = st::least_squares_line(&NORRIS_X, &NORRIS_Y);
    let tight = Allowed::Relative(1e-11);
    Sheet::new("straight line", Source("NIST StRD, Norris.dat", NIST_STRD))
        .compare("slope", 1.002_116_818_020_45, found.map(|l| l.slope), tight)
        .compare(
            "intercept",
            -0.262_323_073_774_029,
            found.map(|l| l.intercept),
            tight,
        )
        .compare(
            "standard error of the slope",
            0.429_796_848_199_937e-3,
            found.map(|l| l.slope_standard_error),
            Allowed::Relative(1e-9),
        )
}

fn curve() -> Sheet {
    let x: Vec<f64> = (0..=20).map(f64::from).collect();
    let y: Vec<f64> = x.iter().map(|v| (0..=5).map(|k| v.powi(k)).sum()).collect();
    let found = polynomial(&x, &y, 5, false, None).ok();
    let term = |k: usize| found.as_ref().map(|f| f.fit.coefficients[k]);
    let allowed = Allowed::Relative(6e-9);
    Sheet::new("polynomial", Source("NIST StRD, Wampler1.dat", NIST_STRD))
        .compare("constant", 1.0, term(0), allowed)
        .compare("coefficient of x", 1.0, term(1), allowed)
        .compare("coefficient of x to the fifth", 1.0, term(5), allowed)
}

fn groups() -> Sheet {
    let groups: Vec<Vec<f64>> = RESISTIVITY.iter().map(|g| g.to_vec()).collect();
    let found = one_way(&groups);
    let allowed = Allowed::Relative(4e-12);
    Sheet::new(
        "analysis of variance",
        Source("NIST StRD, SiRstv.dat", NIST_STRD),
    )
    .compare(
        "F ratio",
        1.180_462_374_402_55,
        found.map(|t| t.f_ratio()),
        allowed,
    )
    .compare(
        "mean square within",
        0.010_831_828,
        found.map(|t| t.within_mean_square()),
        allowed,
    )
}

fn trend_in_order() -> Sheet {
    let source = Source(
        "US EPA 530/R-09-007, example 17-6, quoted in the R package EnvStats",
        Provenance::Published,
    );
    let slope = robust_slope(&SULFATE_YEAR, &SULFATE, 0.95);
    let plain = st::theil_sen(&SULFATE_YEAR, &SULFATE);
    Sheet::new("trend", source)
        .compare(
            "median slope, ppm a year",
            26.666_666_7,
            slope.map(|s| s.slope),
            Allowed::Absolute(1e-7),
        )
        .compare(
            "median slope, as used for bumps",
            26.666_666_7,
            plain.map(|p| p.0),
            Allowed::Absolute(1e-7),
        )
        .compare(
            "upper end of its interval",
            35.711_82,
            slope.and_then(|s| s.interval[1]),
            Allowed::Absolute(1e-4),
        )
        .compare(
            "z of the order",
            5.107_322,
            mann_kendall(&SULFATE).map(|m| m.z),
            Allowed::Absolute(5e-7),
        )
}

/// End-gauge calibration, nm.
fn end_gauge() -> Sheet {
    let source = Source(
        "JCGM 100:2008, H.1, quoted in the examples of GTC",
        Provenance::Published,
    );
    let comparison = Budget::new(vec![
        Contribution::new("repeats", 5.8, Some(24.0)),
        Contribution::new("comparator, random", 3.9, Some(5.0)),
        Contribution::new("comparator, systematic", 6.7, Some(8.0)),
    ]);
    let bounded = |half_width, sensitivity, dof| {
        let shape = Distribution::Rectangular;
        let part = Contribution::bounded(
            "bound",
            shape,
            half_width,
            sensitivity,
            Provenance::Published,
        );
        Contribution {
            dof: Some(dof),
            ..part
        }
    };
    let length = 50_000_623.0;
    let budget = Budget::new(vec![
        Contribution::new("standard", 25.0, Some(18.0)),
        Contribution::new(
            "comparison",
            comparison.combined(),
            Some(comparison.effective_dof()),
        ),
        bounded(1e-6, length * 0.1, 50.0),
        bounded(0.05, length * 11.5e-6, 2.0),
    ]);
    Sheet::new("uncertainty budget", source)
        .compare(
            "uncertainty of the comparison",
            9.7,
            Some(comparison.combined()),
            Allowed::Absolute(0.05),
        )
        .compare(
            "combined uncertainty",
            32.0,
            Some(budget.combined()),
            Allowed::Absolute(0.5),
        )
        .compare(
            "effective degrees of freedom",
            16.7,
            Some(budget.effective_dof()),
            Allowed::Absolute(0.06),
        )
}

fn limit(side: Side) -> Limit {
    Limit {
        side,
        ..Limit::on(Figure::GripMean, 10.0, Provenance::Computed)
    }
}

fn guard() -> Sheet {
    let source = Source(
        "ISO 14253-1 and JCGM 106: 95 % conformity at the acceptance limit; factor computed",
        Provenance::Computed,
    );
    let known = Budget::new(vec![Contribution::new("certificate", 1.0, None)]);
    let five = Budget::new(vec![Contribution::new("five clamps", 1.0, Some(4.0))]);
    let guard = |budget: &Budget| Some(judge_by_budget(&limit(Side::Lower), 12.0, budget).guard);
    Sheet::new("guard", source)
        .compare(
            "guard for a known u of 1",
            1.644_853_626_951_472_6,
            guard(&known),
            Allowed::Relative(1e-9),
        )
        .compare(
            "guard for u of 1 from five clamps",
            2.131_846_786_326_650_4,
            guard(&five),
            Allowed::Relative(1e-9),
        )
}

/// Half the variance from three readings, half from a certificate: (t₀.₉₅(2) + z₀.₉₅)/2.
fn few_readings() -> Sheet {
    let source = Source(
        "40-digit arithmetic of the rule's definition",
        Provenance::Computed,
    );
    let mixed = Budget::new(vec![
        Contribution::new("three clamps", 1.0, Some(2.0)),
        Contribution::new("certificate", 1.0, None),
    ]);
    Sheet::new("guard for few readings", source).compare(
        "factor for equal shares at two degrees of freedom",
        2.282_419_603_652_599,
        Some(guard_factor(&mixed).0),
        Allowed::Relative(1e-9),
    )
}

fn conformity() -> Sheet {
    let source = Source("JCGM 106:2012, 7.3.3", Provenance::FromMemory);
    let printed = Allowed::Absolute(0.005);
    Sheet::new("conformity", source)
        .compare(
            "upper limit",
            0.92,
            Some(conformity_probability(None, Some(-5.4), -5.47, 0.05)),
            printed,
        )
        .compare(
            "lower limit",
            0.99,
            Some(conformity_probability(Some(490.0), None, 509.7, 8.6)),
            printed,
        )
}

/// Two parts, two technicians, two trials: by paper and pencil.
fn gauge_study() -> Sheet {
    let values = [[[10.0, 12.0], [14.0, 16.0]], [[20.0, 22.0], [24.0, 26.0]]];
    let mut readings = Vec::new();
    for (part, row) in values.iter().enumerate() {
        for (technician, cell) in row.iter().enumerate() {
            for (trial, value) in (1..).zip(cell) {
                readings.push(StudyReading {
                    part: part.to_string(),
                    technician: technician.to_string(),
                    trial,
                    value: *value,
                });
            }
        }
    }
    let found = study(&readings, &StudySetup::default()).ok();
    let of =
        |f: fn(&crate::study::Components) -> f64| found.as_ref().map(|s| f(&s.without_interaction));
    let source = Source("worked by hand", Provenance::Computed);
    let tight = Allowed::Relative(1e-10);
    Sheet::new("gauge study", source)
        .compare("variance of the check", 9.2, of(|c| c.check()), tight)
        .compare("variance of the parts", 49.6, of(|c| c.part), tight)
}
