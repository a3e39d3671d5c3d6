//! The evidence of a runout check.
//!
//! In: the check as analysed, with its readings. Out: a polar picture a height, the table of planes, spindle and bar told
//! apart, the axis, figures against limits, hints.

use crate::checked::{each, place, standing, title};
use crate::document::Runout;
use crate::grip::optional;
use crate::hints::{hints, notes};
use crate::paper::{Block, Cell, Table, Text, body, figure, flag, heading, note};
use crate::polar::{Turn, polar};
use holdtrue_metrology::runout::{AxisFrom, AxisResult, PlaneResult, ReversalResult, RunoutResult};
use holdtrue_terms::vocabulary::At;
use holdtrue_wording::digits::{Units, degrees, height};
use holdtrue_wording::words;

const POLAR: &str = "Seen along the spindle, deviation from a true circle much enlarged; angles from the spindle's mark, growing in the direction turned. Line: once per turn. On the outer ring: its high spot.";
const TIR: &str = "TIR (total indicator reading): largest minus smallest reading over one turn. Eccentricity: the part that comes once per turn, half the TIR of a round surface that is only off centre.";

/// The evidence of one check.
pub(crate) fn evidence(units: &Units, check: &Runout) -> Vec<Block> {
    let result = &check.result;
    let mut blocks = vec![heading(
        3,
        Text::from(title("Taper runout", result.state)).soft(format!(", {}", check.at)),
    )];
    blocks.extend(standing(
        check.struck.as_deref(),
        check.broken_off.as_deref(),
        &check.remarks,
    ));
    if check.typed_by_hand {
        blocks.push(flag("Readings typed by hand, no record."));
    }
    blocks.extend(pictures(units, check));
    blocks.push(planes(units, check));
    blocks.push(note(TIR));
    blocks.extend(parts(units, result));
    blocks.extend(result.axis.as_ref().map(|axis| axis_line(units, axis)));
    blocks.extend(hints(&check.words.hints));
    blocks.extend(notes(&check.words.notes));
    blocks
}

/// A picture a height, two beside one another.
fn pictures(units: &Units, check: &Runout) -> Vec<Block> {
    let Some(record) = &check.record else {
        return Vec::new();
    };
    let turns: Vec<_> = check.result.planes.iter().zip(&record.planes).collect();
    let mut places: Vec<(Option<At>, Option<f64>)> = Vec::new();
    for (result, _) in &turns {
        let at = (result.place.at, result.place.height_mm);
        if !places.contains(&at) {
            places.push(at);
        }
    }
    let drawn = places.into_iter().filter_map(|(at, mm)| {
        let here: Vec<Turn> = turns
            .iter()
            .filter(|(result, _)| (result.place.at, result.place.height_mm) == (at, mm))
            .map(|(result, plane)| Turn {
                name: seating_name(result),
                result,
                plane,
            })
            .collect();
        let picture = polar(units, &words::capital(&place(at, mm)), &here)?;
        Some((1.0, vec![figure(picture, Text::default())]))
    });
    let drawn: Vec<_> = drawn.collect();
    let mut blocks: Vec<Block> = drawn
        .chunks(2)
        .map(|two| {
            let mut two = two.to_vec();
            two.resize(2, (1.0, Vec::new()));
            Block::Beside(two)
        })
        .collect();
    if !blocks.is_empty() {
        blocks.push(note(POLAR));
    }
    blocks
}

fn seating_name(plane: &PlaneResult) -> String {
    match (plane.place.seating, plane.place.orientation_deg) {
        (Some(seating), Some(turned)) => format!("seating {seating}, bar at {}", degrees(turned)),
        (Some(seating), None) => format!("seating {seating}"),
        (None, Some(turned)) => format!("bar at {}", degrees(turned)),
        (None, None) => "readings".to_owned(),
    }
}

fn planes(units: &Units, check: &Runout) -> Block {
    let symbol = units.length_symbol();
    let (tir, eccentricity, drift) = (
        format!("TIR, {symbol}#"),
        format!("eccentricity, {symbol}#"),
        format!("drift, {symbol}#"),
    );
    let mut table = Table::of(&[
        "where",
        "seating",
        "read",
        &tir,
        &eccentricity,
        "high spot at#",
        &drift,
    ]);
    for (plane, notes) in each(&check.result.planes, &check.words.parts) {
        let stops = plane
            .stops
            .map_or_else(String::new, |stops| format!(", {stops} positions"));
        let mut read = Cell::from(format!("{}{stops}", words::method(plane.method)));
        read.remarks.extend(notes.iter().cloned());
        let length = |um: Option<f64>| Cell::from(optional(um, |um| units.length_digits(um)));
        table.row(vec![
            place(plane.place.at, plane.place.height_mm).into(),
            seating(plane).into(),
            read,
            length(plane.tir_um),
            length(plane.eccentricity_um),
            optional(plane.direction_deg, degrees).into(),
            length(plane.drift_um),
        ]);
    }
    Block::Table(table)
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
fn parts(units: &Units, result: &RunoutResult) -> Vec<Block> {
    let mut blocks = Vec::new();
    if !result.reversal.is_empty() {
        blocks.push(heading(3, "Spindle and bar, told apart by turning the bar"));
        let mut table = Table::of(&[
            "height",
            "runout of the spindle alone#",
            "high spot at#",
            "follows the bar#",
            "from the bar's mark#",
            "remark",
        ]);
        for part in &result.reversal {
            table.row(part_row(units, part));
        }
        blocks.push(Block::Table(table));
    }
    if let Some(seat) = result.seat_repeatability_um {
        let text = Text::from("Reseating repeatability ")
            .with(crate::paper::Look::Strong, units.length(seat));
        blocks.push(body(text.and(": how far the bar's axis moves, standard deviation a component, each time it is put in.")));
    }
    for four in &result.four_seatings {
        let at = four.height_mm.map_or_else(String::new, words::at_height);
        let text = Text::from(format!("Mean TIR of four seatings 90° apart{at}: "));
        blocks.push(body(
            text.with(crate::paper::Look::Strong, units.length(four.mean_tir_um)),
        ));
    }
    blocks
}

fn part_row(units: &Units, part: &ReversalResult) -> Vec<Cell> {
    let ovality = match (part.spindle_ovality_um, part.bar_ovality_um) {
        (Some(spindle), Some(bar)) => format!(
            "ovality: spindle {}, bar {}",
            units.length(spindle),
            units.length(bar)
        ),
        _ => "ovality: bar or spindle, not told apart".to_owned(),
    };
    let mut remark = Cell::from(format!("{} orientations", part.orientations));
    if part.bar_or_seat {
        remark
            .remarks
            .push("bar or seat: seated once in each orientation".to_owned());
    }
    remark.remarks.push(ovality);
    vec![
        optional(part.height_mm, height).into(),
        words::eccentricity(part.spindle_eccentricity_um, |um| units.length(um)).into(),
        optional(part.spindle_direction_deg, degrees).into(),
        words::eccentricity(part.bar_eccentricity_um, |um| units.length(um)).into(),
        optional(part.bar_direction_deg, degrees).into(),
        remark,
    ]
}

fn axis_line(units: &Units, axis: &AxisResult) -> Block {
    let of = match axis.from {
        AxisFrom::SpindlePart => "the runout of the spindle alone",
        AxisFrom::AsRead => "the bar as read in one seating: bar and spindle together",
    };
    let towards = |direction: Option<f64>| {
        direction.map_or_else(String::new, |direction| {
            format!(" towards {}", degrees(direction))
        })
    };
    let strong = crate::paper::Look::Strong;
    let text = Text::from(format!(
        "Axis against the axis of rotation, from {of}: offset "
    ))
    .with(strong, units.length(axis.offset_um))
    .and(format!(
        " at the nose face{}, tilt ",
        towards(axis.offset_direction_deg)
    ))
    .with(strong, units.tilt(axis.tilt_um_per_m))
    .and(format!("{}.", towards(axis.tilt_direction_deg)));
    body(text)
}
