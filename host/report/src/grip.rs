//! The evidence of a grip check.
//!
//! In: the check as analysed, with its record. Out: trace, table of clamps, statistics, figures against limits, hints.

use crate::checked::{each, standing, title};
use crate::document::Grip;
use crate::hints::{hints, notes};
use crate::paper::{Block, Cell, Table, Text, body, figure, flag, heading, note};
use crate::trace::{Level, trace};
use holdtrue_metrology::decision::Figure;
use holdtrue_metrology::grip::result::{Clamp, Stated, Statistics, WithDiscarded};
use holdtrue_metrology::verdict::Verdict;
use holdtrue_wording::digits::{Units, degrees, fixed, percent, seconds};
use holdtrue_wording::{shown, words};

/// Fewer clamps make a tolerance bound, an order trend or a remark on the scatter meaningless to a reader.
const SHOW_FROM_5: usize = 5;
/// Fewer clamps have no outlier.
const SHOW_FROM_6: usize = 6;
const TRACE: &str = "Force against time, zero taken off. Grey: the stretch each holding force is the mean of, at the same place after clamping for every clamp. Numbers: clamps that count.";

/// The evidence of one check.
pub(crate) fn evidence(units: &Units, check: &Grip) -> Vec<Block> {
    let result = &check.result;
    let mut blocks = vec![heading(
        3,
        Text::from(title("Grip force", result.state)).soft(format!(", {}", check.at)),
    )];
    blocks.extend(standing(
        check.struck.as_deref(),
        check.broken_off.as_deref(),
        &check.remarks,
    ));
    match &check.record {
        Some(record) => {
            blocks.extend(
                trace(units, record, result, &levels(units, check))
                    .map(|picture| figure(picture, TRACE)),
            );
        }
        None if check.typed_by_hand => {
            blocks.push(flag("Holding forces typed by hand, no record."))
        }
        None => {}
    }
    if !result.clamps.is_empty() || result.stated.is_empty() {
        blocks.push(clamps(units, check));
    }
    if !result.stated.is_empty() {
        blocks.push(stated(units, &result.stated));
    }
    if let Some(statistics) = &result.statistics {
        blocks.extend(figures(units, statistics));
    }
    if let Some(other) = &result.with_discarded {
        blocks.push(with_discarded(units, result.verdict.as_ref(), other));
    }
    blocks.extend(hints(&check.words.hints));
    blocks.extend(notes(&check.words.notes));
    blocks
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
            limit: true,
            name: format!("limit of the mean {}", units.force(limit.limit)),
        })
        .collect();
    levels.extend(check.nominal_n.map(|(nominal_n, _)| Level {
        force_n: nominal_n,
        limit: false,
        name: format!("nominal {}", units.force(nominal_n)),
    }));
    levels
}

fn clamps(units: &Units, check: &Grip) -> Block {
    let clamps = each(&check.result.clamps, &check.words.parts);
    let statistics = check.result.statistics.as_ref();
    let turned = clamps
        .iter()
        .any(|(clamp, _)| clamp.orientation_deg.is_some());
    let symbol = units.force_symbol();
    let (holding, peak) = (
        format!("holding force, {symbol}#"),
        format!("peak, {symbol}#"),
    );
    let mut heads = vec!["clamp", &holding, &peak, "while held#", "held#", "counts"];
    if turned {
        heads.insert(5, "turned#");
    }
    let mut table = Table::of(&heads);
    for (clamp, notes) in clamps {
        let lowest = statistics.is_some_and(|statistics| {
            clamp.counted && clamp.settled_n == Some(statistics.lowest_n)
        });
        let mut counts = Cell::from(match clamp.excluded {
            None => "yes".to_owned(),
            Some(why) => format!("no: {}", why.words()),
        });
        counts.remarks.extend(lowest.then(|| "lowest".to_owned()));
        counts
            .remarks
            .extend((clamp.short_hold && clamp.counted).then(|| "short hold".to_owned()));
        counts.remarks.extend(notes.iter().cloned());
        let mut cells: Vec<Cell> = vec![
            clamp.number.to_string().into(),
            optional(clamp.settled_n, |n| units.force_digits(n)).into(),
            optional(clamp.peak_n, |n| units.force_digits(n)).into(),
            optional(clamp.sag_n_per_s, |n| units.drop_while_held(n)).into(),
            held(clamp).into(),
        ];
        if turned {
            cells.push(optional(clamp.orientation_deg, degrees).into());
        }
        cells.push(counts);
        table.row(cells).out = !clamp.counted;
    }
    Block::Table(table)
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
fn stated(units: &Units, stated: &[Stated]) -> Block {
    let fact = |stated: &Stated| {
        let written = format!(
            "{} (noted as {})",
            units.force(stated.value_n),
            shown(&stated.as_written)
        );
        (words::stated_figure(stated.figure).to_owned(), written)
    };
    Block::Facts(stated.iter().map(fact).collect())
}

fn figures(units: &Units, statistics: &Statistics) -> Vec<Block> {
    let from = |least: usize| statistics.count >= least;
    let mut facts: Vec<(String, String)> = Vec::new();
    let mut fact = |label: &str, value: String| facts.push((label.to_owned(), value));
    fact("mean", units.force(statistics.mean_n));
    fact("lowest clamp", units.force(statistics.lowest_n));
    if let Some(stdev) = statistics.stdev_n {
        fact("standard deviation", units.force(stdev));
    }
    if let Some(cv) = statistics.cv_percent {
        fact("scatter", percent(cv));
    }
    if let Some([low, high]) = statistics.confidence_95_n {
        let interval = format!("{} to {}", units.force_digits(low), units.force(high));
        fact("95 % interval of the mean, repeatability only", interval);
    }
    if let Some(bound) = statistics.tolerance_95_95_n.filter(|_| {
        from(SHOW_FROM_5) && !statistics.follows_order() && statistics.stdev_n > Some(0.0)
    }) {
        fact(
            "95 % of clamps like these, today, with this force gauge, lie above (95 % confidence)",
            units.force(bound),
        );
    }
    if let (Some(slope), Some(p)) = (statistics.trend_n_per_clamp, statistics.trend_p)
        && from(SHOW_FROM_5)
    {
        fact(
            "change from clamp to clamp",
            format!("{} a clamp (p = {})", units.force(slope), fixed(p, 3)),
        );
    }
    let mut blocks = vec![Block::Facts(facts)];
    if let Some(outlier) = statistics.outlier.filter(|_| from(SHOW_FROM_6)) {
        blocks.push(note(format!("Clamp {outlier} stands out from the others (two-sided Grubbs test, 5 %). It counts all the same: a clamp is never left out for its value.")));
    }
    blocks
}

fn with_discarded(units: &Units, verdict: Option<&Verdict>, other: &WithDiscarded) -> Block {
    let word = |verdict: Option<&Verdict>| {
        verdict.map_or("not judged", |verdict| words::outcome(verdict.outcome))
    };
    let figures = other
        .statistics
        .as_ref()
        .map_or_else(String::new, |statistics| {
            let (mean, lowest) = (
                units.force(statistics.mean_n),
                units.force(statistics.lowest_n),
            );
            format!(", mean {mean}, lowest clamp {lowest}")
        });
    let would =
        Text::from("Clamps were discarded by hand. With them put back the verdict would be ");
    let would = would.with(crate::paper::Look::Strong, word(other.verdict.as_ref()));
    body(would.and(format!(" (without them: {}){figures}.", word(verdict))))
}
