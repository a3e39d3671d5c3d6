//! What only some readers want: uncertainty budgets, degrees of freedom, harmonics, what repeats from turn to turn.
//!
//! In: a document. Out: the last pages.

use crate::checked::{place, title};
use crate::document::Document;
use crate::ladder::judged_name;
use holdtrue_metrology::decision::{Judged, Rule};
use holdtrue_metrology::grip::result::Uncertainty;
use holdtrue_metrology::runout::{PlaneResult, UncertaintyResult};
use holdtrue_metrology::uncertainty::Distribution;
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::vocabulary::Provenance;
use holdtrue_wording::digits::{Units, degrees, dof, fixed};
use holdtrue_wording::{CheckWords, words};
use maud::{Markup, html};

/// What stands under the budgets.
const SENSITIVITY: &str = "Sensitivity: by how much the figure changes for one unit of the source, \
    as calculated, in newtons and micrometres; a source known as a share of the figure has the figure itself.";

/// A budget line of either check.
struct Line<'a> {
    source: &'a str,
    standard: String,
    distribution: Distribution,
    sensitivity: f64,
    dof: Option<f64>,
    provenance: Provenance,
}

/// The appendix; nothing where there is nothing to say.
pub(crate) fn appendix(document: &Document) -> Markup {
    let units = &document.units;
    let budgets: Vec<Markup> = document
        .grips
        .iter()
        .filter_map(|check| {
            let uncertainty = check.result.uncertainty.as_ref()?;
            Some(grip_budget(
                units,
                &title("Grip force", check.result.state),
                uncertainty,
                &check.words,
            ))
        })
        .chain(document.runouts.iter().filter_map(|check| {
            let uncertainty = check.result.uncertainty.as_ref()?;
            Some(runout_budget(
                units,
                &title("Taper runout", check.result.state),
                uncertainty,
                &check.words,
            ))
        }))
        .collect();
    let planes: Vec<&PlaneResult> = document
        .runouts
        .iter()
        .flat_map(|check| &check.result.planes)
        .collect();
    let turning = planes.iter().any(|plane| plane.synchronous_um.is_some());
    let harmonics = planes.iter().any(|plane| plane.harmonics.len() > 1);
    html! {
        @if !budgets.is_empty() || harmonics || turning {
            section class="appendix" {
                h2 { "Appendix" }
                @for budget in &budgets { (budget) }
                @if !budgets.is_empty() { p class="caption" { (SENSITIVITY) } }
                @for check in &document.grips {
                    (judged_budgets(units, &title("Grip force", check.result.state), check.result.verdict.as_ref()))
                }
                @for check in &document.runouts {
                    (judged_budgets(units, &title("Taper runout", check.result.state), check.result.verdict.as_ref()))
                }
                @if harmonics { (harmonic_table(units, &planes)) }
                @if turning { (turning_table(units, &planes)) }
            }
        }
    }
}

fn grip_budget(
    units: &Units,
    title: &str,
    uncertainty: &Uncertainty,
    words: &CheckWords,
) -> Markup {
    let lines = uncertainty.budget.iter().map(|line| Line {
        source: &line.source,
        standard: units.force(line.standard_n),
        distribution: line.distribution,
        sensitivity: line.sensitivity,
        dof: line.dof,
        provenance: line.provenance,
    });
    let combined = units.force(uncertainty.combined_n);
    let sum = [
        combined,
        dof(uncertainty.effective_dof),
        fixed(uncertainty.coverage_factor, 2),
    ];
    let expanded = units.force(uncertainty.expanded_n);
    budget(
        &format!("{title}: uncertainty of the mean"),
        lines,
        &sum,
        &expanded,
        words.in_words.as_deref(),
    )
}

fn runout_budget(
    units: &Units,
    title: &str,
    uncertainty: &UncertaintyResult,
    words: &CheckWords,
) -> Markup {
    let lines = uncertainty.budget.iter().map(|line| Line {
        source: &line.source,
        standard: units.length(line.standard_um),
        distribution: line.distribution,
        sensitivity: line.sensitivity,
        dof: line.dof,
        provenance: line.provenance,
    });
    let figure = uncertainty.figure.words();
    let heading = format!("{title}: uncertainty of the {figure}");
    let combined = units.length(uncertainty.combined_um);
    let sum = [
        combined,
        dof(uncertainty.effective_dof),
        fixed(uncertainty.coverage_factor, 2),
    ];
    let expanded = units.length(uncertainty.expanded_um);
    budget(&heading, lines, &sum, &expanded, words.in_words.as_deref())
}

fn budget<'a>(
    heading: &str,
    lines: impl Iterator<Item = Line<'a>>,
    [combined, effective_dof, factor]: &[String; 3],
    expanded: &str,
    in_words: Option<&str>,
) -> Markup {
    html! {
        article {
            h3 { (heading) }
            table class="figures" {
                thead {
                    tr {
                        th { "contribution" }
                        th class="figure" { "standard uncertainty" }
                        th { "distribution" }
                        th class="figure" { "sensitivity" }
                        th class="figure" { "degrees of freedom" }
                        th { "its size from" }
                    }
                }
                tbody {
                    @for line in lines {
                        tr {
                            td { (line.source) }
                            td class="figure" { (line.standard) }
                            td { (line.distribution.words()) }
                            td class="figure" { (significant(line.sensitivity)) }
                            td class="figure" { (dof(line.dof)) }
                            td { (line.provenance.words()) }
                        }
                    }
                    tr class="sum" {
                        td { "combined" }
                        td class="figure" { (combined) }
                        td {}
                        td {}
                        td class="figure" { (effective_dof) }
                        td { "coverage factor " (factor) ", expanded " strong { "± " (expanded) } " (95 %)" }
                    }
                }
            }
            @if let Some(in_words) = in_words { p class="note" { (words::capital(in_words)) "." } }
        }
    }
}

/// Three digits: a sensitivity is a factor, not a result.
fn significant(value: f64) -> String {
    let size = value.abs();
    let decimals = match size {
        _ if size >= 100.0 => 0,
        _ if size >= 10.0 => 1,
        _ => 2,
    };
    fixed(value, decimals)
}

/// How the guard bands came about, each rule once with the figures it was used for.
fn rules(limits: &[&Judged]) -> Markup {
    let mut rules: Vec<(Rule, Vec<String>)> = Vec::new();
    for judged in limits {
        match rules.iter_mut().find(|(rule, _)| *rule == judged.rule) {
            Some((_, figures)) => figures.push(judged_name(judged)),
            None => rules.push((judged.rule, vec![judged_name(judged)])),
        }
    }
    html! {
        @for (rule, figures) in &rules {
            p class="note" { "Guard band of " (figures.join(", ")) ": " (rule.words()) ". It is the one-sided 95\u{a0}% bound of the figure's own uncertainty." }
        }
    }
}

/// What each limit was judged with, where that is not the budget above.
fn judged_budgets(units: &Units, title: &str, verdict: Option<&Verdict>) -> Markup {
    let limits: Vec<&Judged> = verdict
        .into_iter()
        .flat_map(|verdict| &verdict.limits)
        .filter(|limit| !limit.budget.is_empty())
        .collect();
    html! {
        @if !limits.is_empty() {
            article {
                h3 { (title) ": what each limit was judged with" }
                table class="figures" {
                    thead { tr { th { "figure" } th { "contribution" } th class="figure" { "standard uncertainty" } th class="figure" { "degrees of freedom" } } }
                    tbody {
                        @for limit in &limits {
                            @for (row, line) in limit.budget.iter().enumerate() {
                                tr {
                                    td { @if row == 0 {
                                        (limit.figure.words())
                                        @if let Some(mm) = limit.height_mm { (words::at_height(mm)) }
                                    } }
                                    td { (line.source) }
                                    td class="figure" { (units.in_unit(line.standard, &limit.unit)) }
                                    td class="figure" { (dof(line.dof)) }
                                }
                            }
                        }
                    }
                }
                (rules(&limits))
            }
        }
    }
}

fn name(plane: &PlaneResult) -> String {
    let seating = plane
        .place
        .seating
        .map_or_else(String::new, |seating| format!(", seating {seating}"));
    format!("{}{seating}", place(plane.place.at, plane.place.height_mm))
}

fn harmonic_table(units: &Units, planes: &[&PlaneResult]) -> Markup {
    let most = planes
        .iter()
        .map(|plane| plane.harmonics.len())
        .max()
        .unwrap_or(0)
        .min(6);
    let symbol = units.length_symbol();
    html! {
        h3 { "Harmonics" }
        table class="figures" {
            thead {
                tr {
                    th { "plane" }
                    @for order in 1..=most { th class="figure" { (order) "×, " (symbol) } }
                    th class="figure" { "left over (rms), " (symbol) }
                }
            }
            tbody {
                @for plane in planes {
                    tr {
                        td { (name(plane)) }
                        @for order in 0..most {
                            td class="figure" {
                                @match plane.harmonics.get(order) {
                                    Some(harmonic) => {
                                        (units.length_digits(harmonic.amplitude_um))
                                        @if let Some(phase) = harmonic.phase_deg { span class="remark" { (degrees(phase)) } }
                                    }
                                    None => "–",
                                }
                            }
                        }
                        td class="figure" { (crate::grip::optional(plane.residual_rms_um, |um| units.length_digits(um))) }
                    }
                }
            }
        }
        p class="caption" { "Amplitude and phase of what comes once, twice, … per turn. Twice per turn is ovality, more are lobes." }
    }
}

fn turning_table(units: &Units, planes: &[&PlaneResult]) -> Markup {
    html! {
        h3 { "What repeats from turn to turn" }
        table class="figures" {
            thead { tr { th { "plane" } th class="figure" { "synchronous" } th class="figure" { "asynchronous" } } }
            tbody {
                @for plane in planes.iter().filter(|plane| plane.synchronous_um.is_some()) {
                    tr {
                        td { (name(plane)) }
                        td class="figure" { (crate::grip::optional(plane.synchronous_um, |um| units.length(um))) }
                        td class="figure" { (crate::grip::optional(plane.asynchronous_um, |um| units.length(um))) }
                    }
                }
            }
        }
        p class="caption" { "Slow turn, includes the bar; not a bearing test." }
    }
}
