//! The evidence of a grip check.
//!
//! In: the check as analysed, with its record. Out: trace, table of clamps, statistics, figures against limits, hints.

use crate::checked::{each, standing, title};
use crate::document::Grip;
use crate::hints::hints;
use crate::judged::ladders;
use crate::trace::{Level, trace};
use holdtrue_metrology::decision::Figure;
use holdtrue_metrology::grip::result::{Clamp, Stated, Statistics, WithDiscarded};
use holdtrue_metrology::verdict::Verdict;
use holdtrue_wording::digits::{Units, degrees, fixed, percent, seconds};
use holdtrue_wording::{shown, words};
use maud::{Markup, html};

/// Fewer clamps make a tolerance bound, an order trend or a remark on the scatter meaningless to a reader.
const SHOW_FROM_5: usize = 5;
/// Fewer clamps have no outlier.
const SHOW_FROM_6: usize = 6;

/// The evidence of one check.
pub(crate) fn evidence(units: &Units, check: &Grip) -> Markup {
    let result = &check.result;
    html! {
        article {
            h3 { (title("Grip force", result.state)) span class="when" { (check.at) } }
            (standing(check.struck.as_deref(), check.broken_off.as_deref(), &check.remarks))
            @if let Some(record) = &check.record {
                figure {
                    (trace(units, record, result, &levels(units, check)))
                    figcaption { "Force against time, zero taken off. Grey: the stretch each holding force is the mean of, at the same place after clamping for every clamp. Numbers: clamps that count." }
                }
            } @else if check.typed_by_hand {
                p class="flag" { "Holding forces typed by hand, no record." }
            }
            @if !result.clamps.is_empty() || result.stated.is_empty() { (clamps(units, check)) }
            @if !result.stated.is_empty() { (stated(units, &result.stated)) }
            @if let Some(statistics) = &result.statistics { (figures(units, statistics)) }
            @if let Some(verdict) = &result.verdict { (ladders(units, verdict)) }
            @if let Some(other) = &result.with_discarded {
                (with_discarded(units, result.verdict.as_ref(), other))
            }
            (hints(&check.words.hints))
            @for note in &check.words.notes { p class="note" { (words::sentence(note)) } }
        }
    }
}

/// The limit on the mean and the nominal force, drawn into the trace.
fn levels(units: &Units, check: &Grip) -> Vec<Level> {
    let limits = check
        .result
        .verdict
        .iter()
        .flat_map(|verdict| &verdict.limits);
    let mut levels: Vec<Level> = limits
        .filter(|limit| limit.figure == Figure::GripMean)
        .map(|limit| Level {
            force_n: limit.limit,
            name: format!("limit of the mean {}", units.force(limit.limit)),
        })
        .collect();
    levels.extend(check.nominal_n.map(|(nominal_n, _)| Level {
        force_n: nominal_n,
        name: format!("nominal {}", units.force(nominal_n)),
    }));
    levels
}

fn clamps(units: &Units, check: &Grip) -> Markup {
    let clamps = each(&check.result.clamps, &check.words.parts);
    let statistics = check.result.statistics.as_ref();
    let turned = clamps
        .iter()
        .any(|(clamp, _)| clamp.orientation_deg.is_some());
    let symbol = units.force_symbol();
    html! {
        table class="figures" {
            thead {
                tr {
                    th { "clamp" }
                    th class="figure" { "holding force, " (symbol) }
                    th class="figure" { "peak, " (symbol) }
                    th class="figure" { "while held" }
                    th class="figure" { "held" }
                    @if turned { th class="figure" { "turned" } }
                    th { "counts" }
                }
            }
            tbody {
                @for (clamp, notes) in clamps {
                    @let lowest = statistics.is_some_and(|s| clamp.counted && clamp.settled_n == Some(s.lowest_n));
                    tr class=[(!clamp.counted).then_some("out")] {
                        td { (clamp.number) }
                        td class="figure" { (optional(clamp.settled_n, |n| units.force_digits(n))) }
                        td class="figure" { (optional(clamp.peak_n, |n| units.force_digits(n))) }
                        td class="figure" { (optional(clamp.sag_n_per_s, |n| units.drop_while_held(n))) }
                        td class="figure" { (held(clamp)) }
                        @if turned { td class="figure" { (optional(clamp.orientation_deg, degrees)) } }
                        td {
                            @match clamp.excluded {
                                None => "yes",
                                Some(why) => { "no: " (why.words()) }
                            }
                            @if lowest { span class="remark" { "lowest" } }
                            @if clamp.short_hold && clamp.counted { span class="remark" { "short hold" } }
                            @for note in notes { span class="remark" { (note) } }
                        }
                    }
                }
            }
        }
    }
}

fn held(clamp: &Clamp) -> String {
    match (clamp.clamped_s, clamp.released_s) {
        (Some(from), Some(to)) => seconds(to - from),
        _ => "–".to_owned(),
    }
}

/// A figure or a dash: an absent figure is not nought.
pub(crate) fn optional(value: Option<f64>, print: impl Fn(f64) -> String) -> String {
    value.map_or_else(|| "–".to_owned(), print)
}

/// Figures noted without their clamps, beside how they were written.
fn stated(units: &Units, stated: &[Stated]) -> Markup {
    html! {
        dl class="facts" {
            @for stated in stated {
                (fact(
                    words::stated_figure(stated.figure),
                    &format!("{} (noted as {})", units.force(stated.value_n), shown(&stated.as_written)),
                ))
            }
        }
    }
}

fn figures(units: &Units, statistics: &Statistics) -> Markup {
    let from = |least: usize| statistics.count >= least;
    html! {
        dl class="facts" {
            (fact("mean", &units.force(statistics.mean_n)))
            (fact("lowest clamp", &units.force(statistics.lowest_n)))
            @if let Some(stdev) = statistics.stdev_n {
                (fact("standard deviation", &units.force(stdev)))
            }
            @if let Some(cv) = statistics.cv_percent { (fact("scatter", &percent(cv))) }
            @if let Some([low, high]) = statistics.confidence_95_n {
                (fact("95 % interval of the mean, repeatability only", &format!("{} to {}", units.force_digits(low), units.force(high))))
            }
            @if let Some(bound) = statistics.tolerance_95_95_n.filter(|_| from(SHOW_FROM_5) && !statistics.follows_order()) {
                (fact("95 % of clamps like these, today, with this force gauge, lie above (95 % confidence)", &units.force(bound)))
            }
            @if let (Some(slope), Some(p)) = (statistics.trend_n_per_clamp, statistics.trend_p) && from(SHOW_FROM_5) {
                (fact("change from clamp to clamp", &format!("{} a clamp (p = {})", units.force(slope), fixed(p, 3))))
            }
        }
        @if let Some(outlier) = statistics.outlier.filter(|_| from(SHOW_FROM_6)) {
            p class="note" { "Clamp " (outlier) " stands out from the others (two-sided Grubbs test, 5 %). It counts all the same: a clamp is never left out for its value." }
        }
    }
}

fn fact(label: &str, value: &str) -> Markup {
    html! { div { dt { (label) } dd { (value) } } }
}

fn with_discarded(units: &Units, verdict: Option<&Verdict>, other: &WithDiscarded) -> Markup {
    let word = |verdict: Option<&Verdict>| {
        verdict.map_or("not judged", |verdict| words::outcome(verdict.outcome))
    };
    html! {
        p class="note" {
            "Clamps were discarded by hand. With them put back the verdict would be "
            strong { (word(other.verdict.as_ref())) }
            " (without them: " (word(verdict)) ")"
            @if let Some(statistics) = &other.statistics {
                ", mean " (units.force(statistics.mean_n)) ", lowest clamp " (units.force(statistics.lowest_n))
            }
            "."
        }
    }
}
