//! Readings that look fine and are not of a whole turn. In: a plane and its figures. Out: what speaks against them; which
//! figures that holds from being accepted, and what to do.
//!
//! Nothing here keeps a limit from being missed: a runout that was seen is there. But for one: what a single reading saw and
//! its neighbours did not.

use super::evaluated::Evaluated;
use super::figures::Figures;
use super::plane_untrue::{is_once_a_turn, may_be_um, of_figures};
use super::record::Place;
use super::remarks::{RunoutReason, RunoutRemedy, Untrue};
use super::reseated;
use super::reversal::SeparatedHeight;
use super::same_planes::Copied;
use super::wall::Wall;
use crate::decision::Figure;
use holdtrue_terms::figure::Needs;

/// What a bar certificate may be exceeded by before it is another bar, or none of it the bar's.
const OUTSIDE_CERTIFICATE: f64 = 2.0;
/// A part is there when it is this many standard uncertainties long.
const SURE: f64 = 3.0;

/// What keeps a figure from being accepted. `room_um`: what it may be at most.
pub fn objections(
    check: &Evaluated,
    figure: Figure,
    place: &Place,
    measured_um: f64,
    room_um: f64,
) -> Vec<(RunoutReason, RunoutRemedy)> {
    let concerned = |f: &&Figures| match figure.facts().needs {
        Needs::TwoSeatings => f.place.may_be_bar(),
        Needs::OneReading | Needs::FourSeatings | Needs::TwoOrientations => {
            f.place.same_height(place)
        }
    };
    let counts = |f: &Figures, untrue: Untrue| match untrue {
        // Whatever the mark did, no more comes once a turn than the readings spread over.
        Untrue::Mark => is_once_a_turn(figure) && f.tir_um.is_some_and(|um| um > room_um),
        // Whatever the signs were, no two readings are farther apart than twice the farthest from zero.
        Untrue::Unsigned => !check.setup.as_read && 2.0 * f.farthest_um > room_um,
        // As far as it is told, nothing that was missed matters.
        Untrue::Stopped => f
            .beyond_um
            .is_none_or(|um| may_be_um(f, figure, measured_um, um) > room_um),
        // Without it the spread is smaller still.
        Untrue::Alone => false,
        _ => true,
    };
    let mut all: Vec<(RunoutReason, RunoutRemedy)> = check
        .figures
        .iter()
        .filter(concerned)
        .flat_map(|f| {
            let known = f.untrue.iter().copied();
            let more = of_figures(f, figure, measured_um, room_um);
            known.chain(more).map(move |untrue| (f, untrue))
        })
        .filter(|(f, untrue)| counts(f, *untrue))
        .map(|(f, untrue)| {
            let place = f.place;
            (
                RunoutReason::ReadingsUntrue { place, untrue },
                RunoutRemedy::ReadTrue { untrue },
            )
        })
        .collect();
    if !check.setup.as_read && reseated::nothing_turned(check) {
        let untrue = Untrue::Unturned;
        let place = *place;
        all.push((
            RunoutReason::ReadingsUntrue { place, untrue },
            RunoutRemedy::ReadTrue { untrue },
        ));
    }
    let copied = check.copied.iter().filter(|_| !check.setup.as_read);
    all.extend(
        copied
            .filter(|copied| figure == Figure::Seat || !copied.is_one_seat())
            .take(1)
            .map(|&Copied { one, other, .. }| {
                (
                    RunoutReason::PlanesAlike { one, other },
                    RunoutRemedy::ReadEachPlane,
                )
            }),
    );
    all.extend(seatings_alike(check, figure, place, room_um));
    if let Some(nearer_mm) = reseated::left_at_mm(check, place).filter(|_| !check.setup.as_read) {
        let place = place.of_any_seating();
        all.push((
            RunoutReason::HeightsAlike { place, nearer_mm },
            RunoutRemedy::MoveIndicator,
        ));
    }
    if figure == Figure::SpindlePart
        && let Some(height) = check.separated_at(place)
        && is_outside_certificate(height, check.setup.bar_tir_um)
    {
        let place = height.place;
        all.push((
            RunoutReason::BarBeyondCertificate { place },
            RunoutRemedy::CountFromSpindle,
        ));
    }
    if figure == Figure::SpindlePart
        && let Some(wall) = Wall::of(check).filter(Wall::contradicts)
        && would_be_outside(check, place, &wall, room_um)
    {
        let Wall {
            place,
            wall_um,
            spindle_um,
            ..
        } = wall;
        all.push((
            RunoutReason::WallContradicts {
                place,
                wall_um,
                spindle_um,
            },
            RunoutRemedy::CountFromSpindle,
        ));
    }
    all
}

/// Seatings that are one seating: nothing is known of the seat, nor of what a bar that was not turned hides.
fn seatings_alike(
    check: &Evaluated,
    figure: Figure,
    place: &Place,
    room_um: f64,
) -> Option<(RunoutReason, RunoutRemedy)> {
    let turned = match figure.facts().needs {
        Needs::OneReading => return None,
        Needs::TwoSeatings => false,
        Needs::FourSeatings | Needs::TwoOrientations => true,
    };
    let at_place = check.figures.iter().filter(|f| f.place.same_height(place));
    let read_um = at_place.filter_map(|f| f.tir_um).fold(0.0, f64::max);
    // A bar that is known hides no more than it runs out itself.
    let bar_um = check.setup.bar_tir_um.unwrap_or(f64::INFINITY);
    let alike = match turned {
        true => read_um + bar_um > room_um && reseated::one_place(check),
        false => reseated::one_seat(check),
    };
    (alike && !check.setup.as_read).then_some((
        RunoutReason::SeatingsAlike { turned },
        RunoutRemedy::TakeBarOut,
    ))
}

/// Whether the spindle may be outside a limit if the wall is right: by what the wall shows, or by what is called the bar's.
fn would_be_outside(check: &Evaluated, place: &Place, wall: &Wall, room_um: f64) -> bool {
    let bars_um = check
        .separated_at(place)
        .map_or(0.0, SeparatedHeight::bar_tir_um);
    let walls_um = if wall.place.same_height(place) {
        wall.wall_um
    } else {
        0.0
    };
    bars_um.max(walls_um) > room_um
}

/// The largest TIR at a place without readings that stand alone; none where no reading does.
pub fn tir_without_lone_um(check: &Evaluated, place: &Place) -> Option<f64> {
    let at_place = || check.figures.iter().filter(|f| f.place.same_height(place));
    at_place().find(|f| f.tir_without_lone_um.is_some())?;
    let without = at_place().filter_map(|f| f.tir_without_lone_um.or(f.tir_um));
    Some(without.fold(0.0, f64::max))
}

/// Whether the bar's part surely is more than its certificate can be wrong by.
fn is_outside_certificate(height: &SeparatedHeight, certified_um: Option<f64>) -> bool {
    certified_um.is_some_and(|certified_um| {
        height.bar_tir_um() - 2.0 * SURE * height.part_standard_um()
            > OUTSIDE_CERTIFICATE * certified_um
    })
}

/// Whether nothing of the bar's own is seen: a true bar shows that, and one that was not turned.
pub fn no_bar_part(check: &Evaluated) -> bool {
    check
        .separated
        .iter()
        .all(|height| height.bar_tir_um() <= 2.0 * SURE * height.part_standard_um())
        && !check.separated.is_empty()
}

/// Whether only the reversal brings a spindle within its limit, with no wall that agrees and no certificate of the bar
/// to say the same.
pub fn rests_on_the_reversal(check: &Evaluated, place: &Place, limit_um: f64) -> bool {
    let by_wall = Wall::of(check).is_some_and(|wall| wall.agrees());
    let backed = check.setup.bar_tir_um.is_some() || by_wall;
    let mut as_read = check
        .figures
        .iter()
        .filter(|f| f.place.same_height(place))
        .filter_map(Figures::eccentricity);
    !backed && as_read.any(|e| 2.0 * e.norm() > limit_um)
}
