//! A calibration as a person reads it. In: the result and the units wanted. Out: plain lines.

use crate::terminal::numbers::percent_to;
use crate::terminal::settings::Settings;
use holdtrue_metrology::calibration::{Calibration, Curve, LoadErrors};
use holdtrue_metrology::uncertainty::Contribution;

/// A factor beyond this is no longer the usual 2.
const WORTH_SAYING: f64 = 2.2;

/// The whole calibration.
pub fn calibration(found: &Calibration, settings: &Settings) -> String {
    let force = |newton| settings.force(newton);
    let mut lines = vec![
        format!(
            "Calibration from {} to {}",
            force(found.span_n[0]),
            force(found.span_n[1])
        ),
        String::new(),
        format!(
            "{:>12} {:>14} {:>12} {:>12} {:>12} {:>12}",
            "load", "mean counts", "turning", "repeats", "up to down", "off curve"
        ),
    ];
    lines.extend(found.errors.loads.iter().map(|row| errors(row, settings)));
    lines.push(String::new());
    lines.push(format!("counts over N  {}", curve(&found.curve)));
    lines.push(format!("N over counts  {}", curve(&found.inverse)));
    lines.push(degree(&found.curve));
    lines.push(match found.errors.zero_return_percent {
        Some(percent) => format!("Return to zero within {percent:.3} % of the highest reading."),
        None => "Return to zero is not known: no zero before and after a run.".to_owned(),
    });
    lines.push(format!(
        "Lower limit factor {} (2.4 standard deviations about the curve, all runs upward; from memory): class A {}, class AA {}.",
        settings.small_force(found.lower_limit.factor_n),
        good_from(found.lower_limit.class_a_from_n, found.span_n[1], settings),
        good_from(found.lower_limit.class_aa_from_n, found.span_n[1], settings)
    ));
    lines.extend(uncertainty(found, settings));
    lines.extend(class(found, settings));
    lines.join("\n")
}

/// From which load on a class holds; none of those the gauge was loaded with may be enough.
fn good_from(load_n: f64, highest_n: f64, settings: &Settings) -> String {
    if load_n > highest_n {
        format!("nowhere up to {}", settings.force(highest_n))
    } else {
        format!("from {}", settings.force(load_n))
    }
}

fn errors(row: &LoadErrors, settings: &Settings) -> String {
    let of = |error: Option<f64>| error.map_or_else(|| "-".to_owned(), |e| percent_to(e, 3));
    format!(
        "{:>12} {:>14.1} {:>12} {:>12} {:>12} {:>12}",
        settings.force(row.load_n),
        row.mean_counts,
        of(row.reproducibility_percent),
        of(row.repeatability_percent),
        of(row.reversibility_percent),
        of(Some(row.interpolation_percent))
    )
}

/// More digits than the finest converter tells apart are none of the curve's.
fn to_nine(value: f64) -> f64 {
    format!("{value:.8e}").parse().unwrap_or(value)
}

/// Every coefficient with its power, ready to be copied.
fn curve(curve: &Curve) -> String {
    let terms: Vec<String> = (0..)
        .zip(&curve.coefficients)
        .map(|(power, value)| (power, to_nine(*value)))
        .map(|(power, value)| match power {
            0 => format!("{value}"),
            1 => format!("{value} x"),
            power => format!("{value} x^{power}"),
        })
        .collect();
    terms.join(" + ").replace("+ -", "- ")
}

fn degree(curve: &Curve) -> String {
    let name = if curve.degree == 1 {
        "straight"
    } else {
        "bent"
    };
    let next = match curve.next_term_p {
        Some(p) => format!("; the next term says nothing (p = {p:.2})"),
        None => String::new(),
    };
    format!("The curve is {name} (degree {}){next}.", curve.degree)
}

fn uncertainty(found: &Calibration, settings: &Settings) -> Vec<String> {
    let fixed = settings.force(found.expanded_n);
    let first = match found.expanded_percent {
        Some(percent) => format!("U (k = 2): {percent:.3} % of the load and {fixed}"),
        None => format!(
            "U (k = 2): {fixed}, without the part in proportion to the load: say how good the reference is, --reference-percent"
        ),
    };
    let largest = found
        .budget
        .iter()
        .max_by(|a, b| a.standard.total_cmp(&b.standard));
    let most = largest
        .map(|most: &Contribution| format!("Most of it at the highest load is: {}.", most.source));
    let few = (found.coverage_factor > WORTH_SAYING).then(|| {
        format!(
            "Few readings lie behind the curve, so the fixed part is {:.2} times its standard uncertainty.",
            found.coverage_factor
        )
    });
    let assumed = found
        .assumed
        .iter()
        .map(|what| format!("In it, as much as class 2 allows (common practice): {what}."));
    let lacking = (!found.lacking.is_empty()).then(|| {
        format!(
            "Not to be written into a gauge: it lacks {}.",
            found.lacking.join(" and ")
        )
    });
    let rest = most.into_iter().chain(few).chain(assumed).chain(lacking);
    std::iter::once(first).chain(rest).collect()
}

fn class(found: &Calibration, settings: &Settings) -> Vec<String> {
    if let Some(class) = found.class {
        let [low, high] = found.span_n.map(|newton| settings.force(newton));
        return vec![format!(
            "Class {} in the style of ISO 376 (limits from memory), from {low} to {high}, loading and unloading, as the gauge \
             was mounted and at the temperature it was calibrated at; reference and resolution permit it.",
            class.words()
        )];
    }
    let first = "No class in the style of ISO 376 (limits from memory). It lacks:".to_owned();
    let rest = found.missing.iter().map(|step| format!("  {step}"));
    std::iter::once(first).chain(rest).collect()
}
