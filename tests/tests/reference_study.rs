//! Crossed gauge studies: the published example of the measurement-systems manual, one small enough for
//! paper and pencil, one computed by two statistical packages, one without any scatter of the trials.

#![allow(clippy::unwrap_used)] // a test may stop at what it did not expect

use holdtrue_metrology::study::{Components, Source, Study, StudyReading, StudySetup, study};
use holdtrue_tests::reference::Reference;
use serde_json::{Value, json};

const SETUP: StudySetup = StudySetup {
    unit: "",
    subject: holdtrue_metrology::study::Subject::GaugeAlone,
    tolerance: Some(8.0),
    one_class: true,
};

fn reading(part: usize, technician: &str, trial: usize, value: f64) -> StudyReading {
    let trial = u32::try_from(trial).unwrap();
    StudyReading {
        part: format!("part {part}"),
        technician: technician.to_owned(),
        trial,
        value,
    }
}

/// Files that list `value[part][operator][trial]`.
fn nested(file: &Reference) -> Study {
    let mut readings = Vec::new();
    for (part, row) in file
        .at("/input/value")
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
    {
        for (technician, cell) in row.as_array().unwrap().iter().enumerate() {
            for (trial, value) in cell.as_array().unwrap().iter().enumerate() {
                let name = format!("technician {technician}");
                readings.push(reading(part, &name, trial, value.as_f64().unwrap()));
            }
        }
    }
    study(&readings, &SETUP).unwrap()
}

fn by_source(c: &Components, of: impl Fn(f64) -> f64) -> Value {
    json!({
        "repeatability": of(c.repeatability), "interaction": of(c.interaction),
        "operator": of(c.technician), "part": of(c.part), "reproducibility": of(c.reproducibility()),
        "grr": of(c.check()), "total": of(c.total()),
    })
}

fn model(c: &Components) -> Value {
    let before = |source: Source, value: f64| {
        c.set_to_zero
            .iter()
            .find(|(s, _)| *s == source)
            .map_or(value, |(_, estimate)| *estimate)
    };
    json!({
        "variance_components": by_source(c, |v| v),
        "unclamped": {
            "repeatability": c.repeatability,
            "interaction": before(Source::Interaction, c.interaction),
            "operator": before(Source::Technician, c.technician),
            "part": before(Source::Part, c.part),
        },
        "sd": by_source(c, f64::sqrt),
        "pct_study_variation": by_source(c, |v| c.percent_of_variation(v).unwrap()),
        "ndc_real": c.category_ratio(),
        "ndc": c.distinct_categories(),
    })
}

fn table(found: &Study, of: impl Fn(&holdtrue_metrology::study::Row) -> Value) -> Value {
    let t = &found.table;
    json!({
        "part": of(&t.part), "operator": of(&t.technician), "interaction": of(&t.interaction),
        "repeatability": of(&t.repeatability), "total": of(&t.total()),
    })
}

fn check_models(file: &Reference, found: &Study) {
    for name in file.expected_names() {
        match name.as_str() {
            "ss" => file.check("ss", table(found, |r| json!(r.sum_of_squares))),
            "df" => file.check("df", table(found, |r| json!(r.dof))),
            "ms" => file.check("ms", table(found, |r| json!(r.mean_square()))),
            "F_interaction" => {
                let t = &found.table;
                file.check(
                    "F_interaction",
                    t.interaction.mean_square() / t.repeatability.mean_square(),
                );
            }
            "p_interaction" => file.check("p_interaction", found.table.interaction_p),
            "with_interaction_model" => file.check(&name, model(&found.with_interaction)),
            "pooled_model" => file.check(&name, model(&found.without_interaction)),
            other => panic!("{}: {other} is new", file.path()),
        }
    }
}

#[test]
fn by_paper_and_pencil() {
    let file = Reference::load("gauge_rr/hand_2x2x2");
    check_models(&file, &nested(&file));
    file.finish();
}

#[test]
fn prototypes() {
    let file = Reference::load("gauge_rr/sixsigma_ss_data_rr_time1");
    check_models(&file, &nested(&file));
    file.finish();
}

#[test]
fn without_any_scatter_of_the_trials() {
    let file = Reference::load("gauge_rr/zero_noise");
    let found = nested(&file);
    check_models(&file, &found);
    assert!(found.interaction_kept);
    file.finish();
}

#[test]
fn the_manuals_example() {
    let file = Reference::load("gauge_rr/aiag_msa_anova");
    let mut readings = Vec::new();
    for row in file
        .at("/input/rows_appraiser_trial_by_part")
        .as_array()
        .unwrap()
    {
        let trial = usize::try_from(row["trial"].as_u64().unwrap()).unwrap();
        for (part, value) in row["values"].as_array().unwrap().iter().enumerate() {
            readings.push(reading(
                part,
                row["appraiser"].as_str().unwrap(),
                trial,
                value.as_f64().unwrap(),
            ));
        }
    }
    let found = study(&readings, &SETUP).unwrap();
    assert!(!found.interaction_kept);
    let (t, c) = (&found.table, found.reported());
    for (name, row) in [
        ("part", t.part),
        ("appraiser", t.technician),
        ("interaction", t.interaction),
        ("equipment", t.repeatability),
    ] {
        file.check(&format!("ss_{name}"), row.sum_of_squares);
        file.check(&format!("ms_{name}"), row.mean_square());
        file.check_at("df", &format!("/{name}"), row.dof);
    }
    file.check("ss_total", t.total().sum_of_squares);
    file.check_at("df", "/total", t.total().dof);
    let f = t.interaction.mean_square() / t.repeatability.mean_square();
    file.check("F_interaction", f);
    file.check("p_interaction", t.interaction_p);
    file.check("ms_pooled", c.repeatability);
    for (name, variance) in [
        ("repeatability", c.repeatability),
        ("reproducibility", c.reproducibility()),
        ("grr", c.check()),
        ("part", c.part),
        ("total", c.total()),
    ] {
        file.check(&format!("pooled_var_{name}"), variance);
        let names = file.expected_names();
        let check = |prefix: &str, value: f64| {
            let full = format!("pooled_{prefix}_{name}");
            if names.contains(&full) {
                file.check(&full, value);
            }
        };
        check("sd", variance.sqrt());
        check("pct_study", c.percent_of_variation(variance).unwrap());
    }
    file.check("pooled_ndc", found.distinct_categories);
    file.check(
        "pct_tolerance_grr_at_tolerance_8_k6",
        c.percent_of_tolerance(c.check(), 8.0),
    );
    file.check(
        "pct_tolerance_part_at_tolerance_8_k6",
        c.percent_of_tolerance(c.part, 8.0),
    );
    file.check(
        "full_precision",
        json!({
            "ss": table(&found, |r| json!(r.sum_of_squares)),
            "ms": table(&found, |r| json!(r.mean_square())),
            "F_interaction": f,
            "p_interaction": t.interaction_p,
            "pooled_model": model(&found.without_interaction),
            "with_interaction_model": model(&found.with_interaction),
        }),
    );
    file.finish();
}
