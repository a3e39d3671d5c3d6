//! Likely causes of runout. In: the evaluated check. Out: what follows the bar, changes with the seat or stays with
//! the spindle, with its evidence; never a verdict, and never the taper without a reading on its wall.

use super::allowed::allowed_um;
use super::evaluated::Evaluated;
use super::figures::Figures;
use super::record::Place;
use super::reversal::{SeatScatter, SeparatedHeight};
use super::vector::{Vector, length_um};
use super::wall::{self, Wall};
use crate::hint::{Cause, Evidence, Hint};
use holdtrue_terms::vocabulary::At;

/// A part is worth naming from this share of what is allowed on.
const WORTH_NAMING: f64 = 0.5;
/// A seat is worth naming when its scatter, as a TIR, passes this share of what is allowed.
const SEAT_WORTH_NAMING: f64 = 0.25;
/// A part is there when it is this many standard uncertainties long.
const SURE: f64 = 3.0;
/// Share of the spindle's runout that the wall has to show to be its place, and below which it is not.
const WALL_SHOWS_IT: f64 = 0.5;
const WALL_IS_GOOD: f64 = 0.3;

/// Hints, the strongest first.
pub fn of(check: &Evaluated) -> Vec<Hint> {
    let mut found: Vec<(f64, Hint)> = Vec::new();
    // What turns with the bar by one count is the spindle's by the other.
    if !Wall::of(check).is_some_and(|wall| wall.contradicts()) {
        found.extend(strongest(check, bar_at));
    }
    found.extend(strongest(check, seat_at));
    found.extend(strongest(check, spindle_at));
    if check.separated.is_empty() {
        found.extend(seat_alone(check));
        found.extend(wall_alone(check).filter(|_| found.is_empty()));
    }
    // Where the bar comes back differently every time, nothing else is to be believed before the taper is clean.
    found.sort_by(|a, b| {
        let seat = |hint: &Hint| hint.cause == Cause::DirtySeat;
        seat(&b.1).cmp(&seat(&a.1)).then(b.0.total_cmp(&a.0))
    });
    found.into_iter().map(|(_, hint)| hint).collect()
}

/// The strongest of one kind over the heights.
fn strongest(
    check: &Evaluated,
    at: fn(&Evaluated, &SeparatedHeight) -> Option<(f64, Hint)>,
) -> Option<(f64, Hint)> {
    check
        .separated
        .iter()
        .filter_map(|height| at(check, height))
        .max_by(|a, b| a.0.total_cmp(&b.0))
}

fn named(strength: f64, evidence: Evidence) -> Option<(f64, Hint)> {
    (strength >= 1.0).then(|| (strength, Hint::by(evidence)))
}

/// How far a part lies above what is worth naming; 0 while it may be chance.
fn strength(check: &Evaluated, height: &SeparatedHeight, part: Vector) -> f64 {
    let sure = length_um(part) > SURE * height.part_standard_um();
    let worth_um = WORTH_NAMING * allowed_um(check, &height.place);
    if sure {
        2.0 * length_um(part) / worth_um
    } else {
        0.0
    }
}

fn bar_at(check: &Evaluated, height: &SeparatedHeight) -> Option<(f64, Hint)> {
    let evidence = Evidence::TurnsWithBar {
        place: height.place,
        bar_um: height.bar_tir_um(),
        bar_or_seat: height.bar_or_seat,
        spindle_um: height.spindle_tir_um(),
    };
    named(strength(check, height, height.once.turns), evidence)
}

fn seat_at(check: &Evaluated, height: &SeparatedHeight) -> Option<(f64, Hint)> {
    seat_named(check, height.seat, height.place)
}

/// By how much the runout scatters from seating to seating at a height, as a TIR, µm, where that is worth naming and the wall
/// does not show the runout to be the spindle's: dirt in the seat may make all of it.
pub fn dirty_seat_um(check: &Evaluated, height: &SeparatedHeight) -> Option<f64> {
    seat_at(check, height)?;
    let is_good = wall::share(check).is_none_or(|share| share <= WALL_IS_GOOD);
    is_good.then_some(2.0 * height.seat.standard_um)
}

/// The seat where bar and spindle are not told apart: what is allowed is that of the height farthest out.
fn seat_alone(check: &Evaluated) -> Option<(f64, Hint)> {
    let bars = check.figures.iter().filter(|f| f.place.may_be_bar());
    let farthest = bars.max_by(|a, b| {
        let out = |f: &Figures| f.place.height_mm.unwrap_or(0.0);
        out(a).total_cmp(&out(b))
    })?;
    let place = farthest.place.of_any_seating();
    seat_named(check, check.seat?, place)
}

fn seat_named(check: &Evaluated, seat: SeatScatter, place: Place) -> Option<(f64, Hint)> {
    seat.dof?;
    let scatter_um = 2.0 * seat.standard_um;
    let allowed_um = allowed_um(check, &place);
    named(
        scatter_um / (SEAT_WORTH_NAMING * allowed_um),
        Evidence::SeatScatters { place, scatter_um },
    )
}

fn spindle_at(check: &Evaluated, height: &SeparatedHeight) -> Option<(f64, Hint)> {
    let share = wall::share(check)?;
    let (place, spindle_um) = (height.place, height.spindle_tir_um());
    let wall_percent = 100.0 * share.max(0.0);
    let evidence = if share >= WALL_SHOWS_IT {
        Evidence::WallShowsIt {
            place,
            spindle_um,
            wall_percent,
        }
    } else if share <= WALL_IS_GOOD {
        Evidence::WallIsGood {
            place,
            spindle_um,
            wall_percent,
        }
    } else {
        return None;
    };
    named(strength(check, height, height.once.stays), evidence)
}

/// The wall alone: nothing sits in the taper, so what it shows is the spindle's.
fn wall_alone(check: &Evaluated) -> Option<(f64, Hint)> {
    let wall = check
        .figures
        .iter()
        .filter(|f| f.place.at == Some(At::Wall))
        .max_by(|a, b| a.tir_um.unwrap_or(0.0).total_cmp(&b.tir_um.unwrap_or(0.0)))?;
    let tir_um = wall.tir_um?;
    let place = wall.place;
    named(
        tir_um / allowed_um(check, &place),
        Evidence::WallRunsOut { place, tir_um },
    )
}
