//! Checks against longer published tables: an interval, regressions, coverage factors, a gauge study.

use super::tables::{DEFLECTION, EMPLOYED, EMPLOYED_WITH, HEAT_FLOW, LOAD_STEP, TEN_PARTS};
use super::{Allowed, Sheet, Source};
use crate::regression::{fit, polynomial};
use crate::special::t_quantile;
use crate::statistics::{mean, mean_confidence, stdev};
use crate::study::{Components, StudyReading, StudySetup, study};
use holdtrue_terms::vocabulary::Provenance;

pub(super) fn sheets() -> Vec<Sheet> {
    vec![
        heat_flow(),
        coverage_factors(),
        deflection(),
        employment(),
        ten_parts(),
    ]
}

fn heat_flow() -> Sheet {
    let source = Source(
        "NIST/SEMATECH e-Handbook, section 1.3.5.2, data ZARR13.DAT; figures by NumPy and SciPy",
        Provenance::Computed,
    );
    let interval = mean_confidence(&HEAT_FLOW, 0.95);
    let tight = Allowed::Relative(1e-10);
    Sheet::new("interval of a mean", source)
        .compare(
            "mean",
            9.261_460_758_974_358,
            Some(mean(&HEAT_FLOW)),
            Allowed::Relative(1e-12),
        )
        .compare(
            "standard deviation",
            0.022_788_797_424_841_69,
            Some(stdev(&HEAT_FLOW)),
            tight,
        )
        .compare(
            "lower end, 95 %",
            9.258_242_137_328_875,
            interval.map(|[low, _]| low),
            tight,
        )
        .compare(
            "upper end, 95 %",
            9.264_679_380_619_842,
            interval.map(|[_, high]| high),
            tight,
        )
}

/// The table is printed to two decimals.
fn coverage_factors() -> Sheet {
    let source = Source("NIST Technical Note 1297, table B.1", Provenance::Published);
    let printed = Allowed::Absolute(0.005_01);
    let factor = |share: f64, dof: f64| Some(t_quantile(0.5 + share / 200.0, dof));
    Sheet::new("coverage factors", source)
        .compare(
            "90 %, 3 degrees of freedom",
            2.35,
            factor(90.0, 3.0),
            printed,
        )
        .compare(
            "95 %, 8 degrees of freedom",
            2.31,
            factor(95.0, 8.0),
            printed,
        )
        .compare(
            "99 %, 2 degrees of freedom",
            9.92,
            factor(99.0, 2.0),
            printed,
        )
        .compare(
            "95 %, 16 degrees of freedom",
            2.12,
            factor(95.0, 16.0),
            printed,
        )
}

fn deflection() -> Sheet {
    let half = DEFLECTION.len() / 2;
    let loads: Vec<f64> = (0..DEFLECTION.len())
        .map(|i| LOAD_STEP * ((i % half) + 1) as f64)
        .collect();
    let found = polynomial(&loads, &DEFLECTION, 2, false, None).ok();
    let term = |k: usize| found.as_ref().map(|f| f.fit.coefficients[k]);
    let tight = Allowed::Relative(6e-12);
    let source = Source("NIST StRD, Pontius.dat", Provenance::Published);
    Sheet::new("load-cell deflection", source)
        .compare("constant", 0.673_565_789_473_684e-3, term(0), tight)
        .compare(
            "coefficient of the load",
            0.732_059_160_401_003e-6,
            term(1),
            tight,
        )
        .compare(
            "coefficient of its square",
            -0.316_081_871_345_029e-14,
            term(2),
            tight,
        )
        .compare(
            "residual standard deviation",
            0.205_177_424_076_185e-3,
            found.as_ref().map(|f| f.fit.residual_stdev()),
            Allowed::Relative(1e-9),
        )
}

fn employment() -> Sheet {
    let constant = vec![1.0; EMPLOYED.len()];
    let columns: Vec<Vec<f64>> = std::iter::once(constant)
        .chain(EMPLOYED_WITH.iter().map(|c| c.to_vec()))
        .collect();
    let found = fit(&columns, &EMPLOYED, None).ok();
    let term = |k: usize| found.as_ref().map(|f| f.coefficients[k]);
    let tight = Allowed::Relative(1e-10);
    let source = Source("NIST StRD, Longley.dat", Provenance::Published);
    Sheet::new("ill-conditioned regression", source)
        .compare("B0", -3_482_258.634_595_82, term(0), tight)
        .compare("B2", -0.035_819_179_292_591, term(2), tight)
        .compare("B6", 1_829.151_464_613_55, term(6), tight)
        .compare(
            "residual standard deviation",
            304.854_073_561_965,
            found.as_ref().map(|f| f.residual_stdev()),
            Allowed::Relative(1e-9),
        )
}

fn ten_parts() -> Sheet {
    let mut readings = Vec::new();
    for (technician, trials) in TEN_PARTS.iter().enumerate() {
        for (trial, parts) in (1..).zip(trials) {
            let each = parts.iter().enumerate().map(|(part, value)| StudyReading {
                part: part.to_string(),
                technician: technician.to_string(),
                trial,
                value: *value,
            });
            readings.extend(each);
        }
    }
    let setup = StudySetup {
        one_class: true,
        ..StudySetup::default()
    };
    let found = study(&readings, &setup).ok();
    let of = |f: fn(&Components) -> f64| found.as_ref().map(|s| f(s.reported()));
    let source = Source(
        "AIAG, Measurement Systems Analysis, 4th edition, chapter III, section B, quoted in the documentation of mfgqc",
        Provenance::Published,
    );
    let printed = Allowed::Absolute(6e-6);
    Sheet::new("gauge study of ten parts", source)
        .compare(
            "variance of repeats",
            0.03997,
            of(|c| c.repeatability),
            printed,
        )
        .compare(
            "variance between technicians",
            0.05146,
            of(Components::reproducibility),
            printed,
        )
        .compare(
            "variance of the check",
            0.09143,
            of(Components::check),
            printed,
        )
        .compare("variance of the parts", 1.08645, of(|c| c.part), printed)
        .compare(
            "check against a tolerance of 8, %",
            22.68,
            of(|c| c.percent_of_tolerance(c.check(), 8.0)),
            Allowed::Absolute(0.005),
        )
        .compare(
            "distinct categories",
            4.0,
            found
                .as_ref()
                .and_then(|s| s.distinct_categories)
                .map(f64::from),
            Allowed::Absolute(0.0),
        )
}
