//! What only some readers want: uncertainty budgets, degrees of freedom, harmonics, what repeats from turn to turn.
//!
//! In: a document. Out: the last pages.

use crate::checked::{place, title};
use crate::document::Document;
use crate::grip::optional;
use crate::judged;
use crate::ladder::judged_name;
use crate::paper::{Block, Cell, Table, Text, heading, note};
use holdtrue_metrology::decision::{Judged, Rule};
use holdtrue_metrology::grip::result::Uncertainty;
use holdtrue_metrology::runout::{PlaneResult, UncertaintyResult};
use holdtrue_metrology::uncertainty::Distribution;
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::vocabulary::Provenance;
use holdtrue_wording::digits::{Units, degrees, dof, fixed};
use holdtrue_wording::{CheckWords, words};

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

/// The appendix: the rule, the budgets, cautions, the whole check code.
pub(crate) fn appendix(document: &Document) -> Vec<Block> {
    let units = &document.units;
    let (grip, runout) = (
        |state| title("Grip force", state),
        |state| title("Taper runout", state),
    );
    let mut blocks = vec![Block::PageBreak, heading(2, "Appendix")];
    blocks.extend(judged::rule(document));
    let before = blocks.len();
    for check in &document.grips {
        if let Some(uncertainty) = &check.result.uncertainty {
            blocks.extend(grip_budget(
                units,
                &grip(check.result.state),
                uncertainty,
                &check.words,
            ));
        }
    }
    for check in &document.runouts {
        if let Some(uncertainty) = &check.result.uncertainty {
            blocks.extend(runout_budget(
                units,
                &runout(check.result.state),
                uncertainty,
                &check.words,
            ));
        }
    }
    if blocks.len() > before {
        blocks.push(note(SENSITIVITY));
    }
    for check in &document.grips {
        blocks.extend(judged_budgets(
            units,
            &grip(check.result.state),
            check.result.verdict.as_ref(),
        ));
    }
    for check in &document.runouts {
        blocks.extend(judged_budgets(
            units,
            &runout(check.result.state),
            check.result.verdict.as_ref(),
        ));
    }
    let planes: Vec<&PlaneResult> = document
        .runouts
        .iter()
        .flat_map(|check| &check.result.planes)
        .collect();
    if planes.iter().any(|plane| plane.harmonics.len() > 1) {
        blocks.extend(harmonic_table(units, &planes));
    }
    if planes.iter().any(|plane| plane.synchronous_um.is_some()) {
        blocks.extend(turning_table(units, &planes));
    }
    blocks.extend(judged::cautions(document));
    blocks.extend(judged::records(document));
    blocks.extend(judged::digest(document));
    blocks
}

fn grip_budget(
    units: &Units,
    title: &str,
    uncertainty: &Uncertainty,
    words: &CheckWords,
) -> Vec<Block> {
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
) -> Vec<Block> {
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
    title: &str,
    lines: impl Iterator<Item = Line<'a>>,
    [combined, effective_dof, factor]: &[String; 3],
    expanded: &str,
    in_words: Option<&str>,
) -> Vec<Block> {
    let mut table = Table::of(&[
        "contribution",
        "standard uncertainty#",
        "distribution",
        "sensitivity#",
        "degrees of freedom#",
        "its size from",
    ]);
    for line in lines {
        table.row(vec![
            line.source.into(),
            line.standard.into(),
            line.distribution.words().into(),
            significant(line.sensitivity).into(),
            dof(line.dof).into(),
            line.provenance.words().into(),
        ]);
    }
    let expanded = Text::from(format!("coverage factor {factor}, expanded "))
        .with(crate::paper::Look::Strong, format!("± {expanded}"))
        .and(" (95 %)");
    let cells: Vec<Cell> = vec![
        "combined".into(),
        combined.as_str().into(),
        Cell::default(),
        Cell::default(),
        effective_dof.as_str().into(),
        expanded.into(),
    ];
    table.row(cells).sum = true;
    let mut blocks = vec![heading(3, title), Block::Table(table)];
    blocks.extend(in_words.map(|in_words| note(format!("{}.", words::capital(in_words)))));
    blocks
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
fn rules(limits: &[&Judged]) -> Vec<Block> {
    let mut rules: Vec<(Rule, Vec<String>)> = Vec::new();
    for judged in limits {
        match rules.iter_mut().find(|(rule, _)| *rule == judged.rule) {
            Some((_, figures)) => figures.push(judged_name(judged)),
            None => rules.push((judged.rule, vec![judged_name(judged)])),
        }
    }
    let told = |(rule, figures): (Rule, Vec<String>)| {
        note(format!(
            "Guard band of {}: {}. It is the one-sided 95\u{a0}% bound of the figure's own uncertainty.",
            figures.join(", "),
            rule.words()
        ))
    };
    rules.into_iter().map(told).collect()
}

/// What each limit was judged with, where that is not the budget above.
fn judged_budgets(units: &Units, title: &str, verdict: Option<&Verdict>) -> Vec<Block> {
    let limits: Vec<&Judged> = verdict
        .into_iter()
        .flat_map(|verdict| &verdict.limits)
        .filter(|limit| !limit.budget.is_empty())
        .collect();
    if limits.is_empty() {
        return Vec::new();
    }
    let mut table = Table::of(&[
        "figure",
        "contribution",
        "standard uncertainty#",
        "degrees of freedom#",
    ]);
    for limit in &limits {
        for (row, line) in limit.budget.iter().enumerate() {
            let name = if row == 0 {
                judged_name(limit)
            } else {
                String::new()
            };
            table.row(vec![
                name.into(),
                line.source.as_str().into(),
                units.in_unit(line.standard, &limit.unit).into(),
                dof(line.dof).into(),
            ]);
        }
    }
    let mut blocks = vec![
        heading(3, format!("{title}: what each limit was judged with")),
        Block::Table(table),
    ];
    blocks.extend(rules(&limits));
    blocks
}

fn name(plane: &PlaneResult) -> String {
    let seating = plane
        .place
        .seating
        .map_or_else(String::new, |seating| format!(", seating {seating}"));
    format!("{}{seating}", place(plane.place.at, plane.place.height_mm))
}

fn harmonic_table(units: &Units, planes: &[&PlaneResult]) -> Vec<Block> {
    let most = planes
        .iter()
        .map(|plane| plane.harmonics.len())
        .max()
        .unwrap_or(0)
        .min(6);
    let symbol = units.length_symbol();
    let orders = (1..=most).map(|order| format!("{order}×, {symbol}#"));
    let heads: Vec<String> = std::iter::once("plane".to_owned())
        .chain(orders)
        .chain([format!("left over (rms), {symbol}#")])
        .collect();
    let heads: Vec<&str> = heads.iter().map(String::as_str).collect();
    let mut table = Table::of(&heads);
    for plane in planes {
        let mut cells: Vec<Cell> = vec![name(plane).into()];
        for order in 0..most {
            cells.push(match plane.harmonics.get(order) {
                Some(harmonic) => {
                    let mut cell = Cell::from(units.length_digits(harmonic.amplitude_um));
                    cell.remarks.extend(harmonic.phase_deg.map(degrees));
                    cell
                }
                None => "–".into(),
            });
        }
        cells.push(optional(plane.residual_rms_um, |um| units.length_digits(um)).into());
        table.row(cells);
    }
    vec![
        heading(3, "Harmonics"),
        Block::Table(table),
        note(
            "Amplitude and phase of what comes once, twice, … per turn. Twice per turn is ovality, more are lobes.",
        ),
    ]
}

fn turning_table(units: &Units, planes: &[&PlaneResult]) -> Vec<Block> {
    let mut table = Table::of(&["plane", "synchronous#", "asynchronous#"]);
    for plane in planes.iter().filter(|plane| plane.synchronous_um.is_some()) {
        table.row(vec![
            name(plane).into(),
            optional(plane.synchronous_um, |um| units.length(um)).into(),
            optional(plane.asynchronous_um, |um| units.length(um)).into(),
        ]);
    }
    vec![
        heading(3, "What repeats from turn to turn"),
        Block::Table(table),
        note("Slow turn, includes the bar; not a bearing test."),
    ]
}
