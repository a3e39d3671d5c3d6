//! What speaks against a plane by itself. In: its readings and figures. Out: what does not look like a whole turn read to its end.

use super::came_round::{self, NotShown};
use super::figures::Figures;
use super::followed;
use super::mistake::Mistake;
use super::once_a_turn;
use super::record::{Plane, Readings};
use super::remarks::Untrue;
use super::result::Method;
use super::unsigned;
use crate::decision::Figure;

/// What comes once a turn is at least this share of a plane's TIR, or something else was read.
const LEAST_SHARE: f64 = 0.5;
/// Readings before and after the whole turns of a mark that spread over so many times as much as those in them are of more than
/// a drift.
const BESIDES: f64 = 1.5;
/// A curve carried on over readings that did not follow it may go on so many times as far.
const BEYOND: f64 = 1.5;

/// What speaks against a plane, as it was read.
pub fn of_plane(plane: &Plane, figures: &Figures, step_um: Option<f64>) -> Vec<Untrue> {
    let mut found = Vec::new();
    if let (Method::Free, Readings::Free(readings) | Readings::Marked { readings, .. }) =
        (figures.method, &plane.readings)
    {
        found.extend(came_round::came_round(readings).err().map(|why| match why {
            NotShown::Still => Untrue::Still,
            NotShown::NothingRepeats => Untrue::NotRound,
        }));
    }
    found.extend(followed::stopped(&plane.readings, step_um).then_some(Untrue::Stopped));
    let marked = figures
        .harmonics
        .as_ref()
        .filter(|_| figures.method == Method::Marked);
    if marked.is_some_and(|fit| once_a_turn::is_doubtful(fit, &plane.readings.values_um())) {
        found.push(Untrue::Mark);
    }
    found.extend(unsigned::may_lack_signs(&plane.readings).then_some(Untrue::Unsigned));
    found.extend(figures.tir_without_lone_um.map(|_| Untrue::Alone));
    found
}

/// What speaks against a plane only where a figure is to be accepted that may be at most so much, µm.
pub fn of_figures(f: &Figures, figure: Figure, measured_um: f64, room_um: f64) -> Vec<Untrue> {
    let mut found = Vec::new();
    let tir_um = f.tir_um.unwrap_or(0.0);
    let stopped = f
        .beyond_um
        .is_some_and(|um| may_be_um(f, figure, measured_um, um) > room_um);
    if stopped && !f.untrue.contains(&Untrue::Stopped) {
        found.push(Untrue::Stopped);
    }
    let besides = f.besides_um.filter(|um| *um > BESIDES * tir_um);
    if besides.is_some_and(|um| um > room_um) && figure == Figure::Tir {
        found.push(Untrue::Besides);
    }
    if f.whole_um.is_some_and(|um| um > room_um) {
        found.push(Untrue::PartTurn);
    }
    let once_um = f.eccentricity().map(|e| 2.0 * e.norm());
    if f.method == Method::Stepped
        && is_once_a_turn(figure)
        && tir_um > room_um
        && once_um.is_some_and(|um| um < LEAST_SHARE * tir_um)
    {
        found.push(Untrue::Steps);
    }
    let not_back = f
        .doubt
        .is_some_and(|doubt| doubt.mistake == Mistake::NotBack);
    let off_um = f.drift_um.map_or(0.0, f64::abs);
    let as_read_um = f.tir_as_read_um.unwrap_or(0.0);
    // What is off by more than all that is left of the readings is no drift that may be taken off unseen.
    let leans_on_drift = off_um > tir_um && as_read_um.max(off_um) > room_um;
    if (not_back && as_read_um + off_um > room_um) || leans_on_drift {
        found.push(Untrue::NotBack);
    }
    found
}

/// What a figure may be where the surface goes on by so much beyond the readings of a plane.
pub fn may_be_um(f: &Figures, figure: Figure, measured_um: f64, beyond_um: f64) -> f64 {
    let beyond_um = BEYOND * beyond_um;
    let tir_um = f.tir_um.unwrap_or(0.0);
    match figure {
        Figure::Tir => tir_um + beyond_um,
        // It is too small as the eccentricities are.
        Figure::Seat => measured_um * (1.0 + beyond_um / tir_um),
        _ => measured_um + beyond_um,
    }
}

/// Whether a figure is of what comes once a turn alone.
pub fn is_once_a_turn(figure: Figure) -> bool {
    matches!(figure, Figure::SpindlePart | Figure::Seat)
}
