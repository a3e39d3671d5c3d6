//! The evidence of a runout check.
//!
//! In: the check as analysed, with its readings. Out: a polar picture a height, the table of planes, spindle and bar told
//! apart, the axis, figures against limits, hints.

use crate::checked::{each, place, standing, title};
use crate::document::Runout;
use crate::grip::optional;
use crate::hints::hints;
use crate::judged::ladders;
use crate::polar::{Turn, polar};
use holdtrue_metrology::runout::{AxisFrom, AxisResult, PlaneResult, ReversalResult, RunoutResult};
use holdtrue_terms::vocabulary::At;
use holdtrue_wording::digits::{Units, degrees, height};
use holdtrue_wording::words;
use maud::{Markup, html};

/// The evidence of one check.
pub(crate) fn evidence(units: &Units, check: &Runout) -> Markup {
    let result = &check.result;
    html! {
        article {
            h3 { (title("Taper runout", result.state)) span class="when" { (check.at) } }
            (standing(check.struck.as_deref(), check.broken_off.as_deref(), &check.remarks))
            @if check.typed_by_hand { p class="flag" { "Readings typed by hand, no record." } }
            (pictures(units, check))
            (planes(units, check))
            (parts(units, result))
            @if let Some(axis) = &result.axis { (axis_line(units, axis)) }
            @if let Some(verdict) = &result.verdict { (ladders(units, verdict)) }
            (hints(&check.words.hints))
            @for note in &check.words.notes { p class="note" { (words::sentence(note)) } }
        }
    }
}

fn pictures(units: &Units, check: &Runout) -> Markup {
    let Some(record) = &check.record else {
        return html! {};
    };
    let turns: Vec<_> = check.result.planes.iter().zip(&record.planes).collect();
    let mut places: Vec<(Option<At>, Option<f64>)> = Vec::new();
    for (result, _) in &turns {
        let at = (result.place.at, result.place.height_mm);
        if !places.contains(&at) {
            places.push(at);
        }
    }
    let drawn: Vec<Markup> = places
        .into_iter()
        .filter_map(|(at, mm)| {
            let here: Vec<Turn> = turns
                .iter()
                .filter(|(result, _)| (result.place.at, result.place.height_mm) == (at, mm))
                .map(|(result, plane)| Turn {
                    name: seating_name(result),
                    result,
                    plane,
                })
                .collect();
            let picture = polar(units, &here)?;
            Some(html! { figure { figcaption { (words::capital(&place(at, mm))) } (picture) } })
        })
        .collect();
    html! {
        @if !drawn.is_empty() {
            div class="pictures" { @for picture in &drawn { (picture) } }
            p class="caption" { "Seen along the spindle, deviation from a true circle much enlarged; angles from the spindle's mark, growing in the direction turned. Line: once per turn. On the outer ring: its high spot." }
        }
    }
}

fn seating_name(plane: &PlaneResult) -> String {
    match (plane.place.seating, plane.place.orientation_deg) {
        (Some(seating), Some(turned)) => format!("seating {seating}, bar at {}", degrees(turned)),
        (Some(seating), None) => format!("seating {seating}"),
        (None, Some(turned)) => format!("bar at {}", degrees(turned)),
        (None, None) => "readings".to_owned(),
    }
}

fn planes(units: &Units, check: &Runout) -> Markup {
    let planes = each(&check.result.planes, &check.words.parts);
    let symbol = units.length_symbol();
    html! {
        table class="figures" {
            thead {
                tr {
                    th { "where" }
                    th { "seating" }
                    th { "read" }
                    th class="figure" { "TIR, " (symbol) }
                    th class="figure" { "eccentricity, " (symbol) }
                    th class="figure" { "high spot at" }
                    th class="figure" { "drift, " (symbol) }
                }
            }
            tbody {
                @for (plane, notes) in planes {
                    tr {
                        td { (place(plane.place.at, plane.place.height_mm)) }
                        td { (seating(plane)) }
                        td {
                            (words::method(plane.method))
                            @if let Some(stops) = plane.stops { ", " (stops) " positions" }
                            @for note in notes { span class="remark" { (note) } }
                        }
                        td class="figure" { (optional(plane.tir_um, |um| units.length_digits(um))) }
                        td class="figure" { (optional(plane.eccentricity_um, |um| units.length_digits(um))) }
                        td class="figure" { (optional(plane.direction_deg, degrees)) }
                        td class="figure" { (optional(plane.drift_um, |um| units.length_digits(um))) }
                    }
                }
            }
        }
        p class="caption" { "TIR (total indicator reading): largest minus smallest reading over one turn. Eccentricity: the part that comes once per turn, half the TIR of a round surface that is only off centre." }
    }
}

fn seating(plane: &PlaneResult) -> String {
    match (plane.place.seating, plane.place.orientation_deg) {
        (Some(number), Some(turned)) => format!("{number}, bar at {}", degrees(turned)),
        (Some(number), None) => number.to_string(),
        (None, Some(turned)) => format!("bar at {}", degrees(turned)),
        (None, None) => "–".to_owned(),
    }
}

/// Spindle part, bar part, seats.
fn parts(units: &Units, result: &RunoutResult) -> Markup {
    html! {
        @if !result.reversal.is_empty() {
            h4 { "Spindle and bar, told apart by turning the bar" }
            table class="figures" {
                thead {
                    tr {
                        th { "height" }
                        th class="figure" { "runout of the spindle alone" }
                        th class="figure" { "high spot at" }
                        th class="figure" { "follows the bar" }
                        th class="figure" { "from the bar's mark" }
                        th { "remark" }
                    }
                }
                tbody { @for part in &result.reversal { (part_row(units, part)) } }
            }
        }
        @if let Some(seat) = result.seat_repeatability_um {
            p { "Reseating repeatability " strong { (units.length(seat)) } ": how far the bar's axis moves, standard deviation a component, each time it is put in." }
        }
        @for four in &result.four_seatings {
            p {
                "Mean TIR of four seatings 90° apart"
                @if let Some(mm) = four.height_mm { (words::at_height(mm)) }
                ": " strong { (units.length(four.mean_tir_um)) }
            }
        }
    }
}

fn part_row(units: &Units, part: &ReversalResult) -> Markup {
    let ovality = match (part.spindle_ovality_um, part.bar_ovality_um) {
        (Some(spindle), Some(bar)) => format!(
            "ovality: spindle {}, bar {}",
            units.length(spindle),
            units.length(bar)
        ),
        _ => "ovality: bar or spindle, not told apart".to_owned(),
    };
    html! {
        tr {
            td { (optional(part.height_mm, height)) }
            td class="figure" { (words::eccentricity(part.spindle_eccentricity_um, |um| units.length(um))) }
            td class="figure" { (optional(part.spindle_direction_deg, degrees)) }
            td class="figure" { (words::eccentricity(part.bar_eccentricity_um, |um| units.length(um))) }
            td class="figure" { (optional(part.bar_direction_deg, degrees)) }
            td {
                (part.orientations) " orientations"
                @if part.bar_or_seat { span class="remark" { "bar or seat: seated once in each orientation" } }
                span class="remark" { (ovality) }
            }
        }
    }
}

fn axis_line(units: &Units, axis: &AxisResult) -> Markup {
    let of = match axis.from {
        AxisFrom::SpindlePart => "the runout of the spindle alone",
        AxisFrom::AsRead => "the bar as read in one seating: bar and spindle together",
    };
    html! {
        p {
            "Axis against the axis of rotation, from " (of) ": offset "
            strong { (units.length(axis.offset_um)) }
            " at the nose face"
            @if let Some(direction) = axis.offset_direction_deg { " towards " (degrees(direction)) }
            ", tilt "
            strong { (units.tilt(axis.tilt_um_per_m)) }
            @if let Some(direction) = axis.tilt_direction_deg { " towards " (degrees(direction)) }
            "."
        }
    }
}
