//! What a figure of a spindle is held against over the years. In: the spindle's page, the limits of its last verdict, as
//! amended. Out: the stricter one for the figure.

use crate::trend::followed::HeldTo;
use crate::visits::book::opening::taper_of;
use crate::visits::checks::stored_figure::{CheckFigures, StoredFigure, StoredLimit, is_one_place};
use crate::visits::spindles::history::History;
use holdtrue_book::{PastCheck, SpindleHeader};
use holdtrue_metrology::decision::Side;
use holdtrue_metrology::grip::limits::{MakersFigure, Shares};
use holdtrue_terms::taper::Interface;
use std::borrow::Borrow;

/// The side on which a figure is good: forces hold, everything else runs out, scatters or takes time.
pub fn good_side(unit: &str) -> Side {
    match unit {
        "N" | "kN" | "lbf" | "kgf" | "daN" => Side::Lower,
        _ => Side::Upper,
    }
}

/// The limit of a figure: by the spindle's page, or what the last check that was judged had for it; the stricter of both.
fn of_spindle(
    page: &SpindleHeader,
    judged: Option<StoredLimit>,
    figure: StoredFigure,
) -> Option<HeldTo> {
    let stricter = |one: HeldTo, other: HeldTo| {
        let other_is = match one.side {
            Side::Lower => other.value > one.value,
            Side::Upper => other.value < one.value,
        };
        if other_is { other } else { one }
    };
    let stored = judged.map(held_to);
    match (by_page(page, figure), stored) {
        (Some(one), Some(other)) if one.side == other.side => Some(stricter(one, other)),
        (one, other) => one.or(other),
    }
}

/// The limit of a figure of a spindle with this past: by its page, and by the last check that was judged for it.
pub fn in_force<T: Borrow<CheckFigures>>(
    page: &SpindleHeader,
    past: &History<T>,
    figure: StoredFigure,
) -> Option<HeldTo> {
    let checks = past
        .visits
        .iter()
        .rev()
        .flat_map(|visit| visit.checks.iter().rev());
    let judged = checks
        .filter(|check| check.kind == figure.check() && check.struck.is_none())
        .find_map(|check| limit_of(check, figure));
    of_spindle(page, judged, figure)
}

/// The limit of a figure by the last check that was judged for it, read at this height, mm, where it is of one.
pub fn judged_at<T: Borrow<CheckFigures>>(
    past: &History<T>,
    figure: StoredFigure,
    height_mm: Option<f64>,
) -> Option<HeldTo> {
    let there = |check: &&PastCheck<T>| {
        let result = check.result.as_ref();
        let figures = result.map(|result| result.read.borrow());
        let read_at = figures.and_then(|figures| figures.get(figure)?.height_mm);
        match (height_mm, read_at) {
            (Some(here), Some(there)) => is_one_place(here, there),
            (here, there) => here == there,
        }
    };
    let checks = past
        .visits
        .iter()
        .rev()
        .flat_map(|visit| visit.checks.iter().rev());
    checks
        .filter(|check| check.kind == figure.check() && check.struck.is_none())
        .filter(there)
        .find_map(|check| limit_of(check, figure))
        .map(held_to)
}

fn held_to(limit: StoredLimit) -> HeldTo {
    HeldTo {
        side: limit.side,
        value: limit.limit,
        provenance: Some(limit.provenance),
    }
}

/// By which limit a set was judged: by an amendment, else by its result.
fn limit_of<T: Borrow<CheckFigures>>(
    check: &PastCheck<T>,
    figure: StoredFigure,
) -> Option<StoredLimit> {
    match &check.amended {
        Some(amended) => CheckFigures::read(check.kind, &amended.document)
            .limit_of(figure)
            .cloned(),
        None => {
            let result = check.result.as_ref()?;
            result.read.borrow().limit_of(figure).cloned()
        }
    }
}

fn by_page(page: &SpindleHeader, figure: StoredFigure) -> Option<HeldTo> {
    let wanted = figure.limited_as()?;
    let hollow = taper_of(page)
        .ok()
        .flatten()
        .is_some_and(Interface::is_hollow);
    let figures = MakersFigure {
        nominal_n: page.grip_nominal_n,
        minimum_n: page.grip_minimum_n,
    };
    let limits = figures.limits(Shares::usual(hollow));
    limits
        .into_iter()
        .find(|limit| limit.figure == wanted)
        .map(|limit| HeldTo {
            side: limit.side,
            value: limit.limit,
            provenance: Some(limit.provenance),
        })
}
