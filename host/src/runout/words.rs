//! A runout check as a person reads it. In: the result and the units wanted. Out: plain lines, each number with its unit.

use crate::terminal::settings::Settings;
use crate::terminal::verdict_words::{at_height, hint_lines, verdict_lines};
use crate::visits::cautions;
use holdtrue_metrology::runout::{
    AxisFrom, AxisResult, Method, PlaneResult, ReversalResult, RunoutResult, UncertaintyResult,
};
use holdtrue_terms::vocabulary::At;
use holdtrue_wording::words;

/// The whole check.
pub fn runout(result: &RunoutResult, settings: &Settings) -> String {
    let said = settings.words(result);
    let mut lines = vec![title(result), String::new()];
    lines.extend(plane_table(&result.planes, &said.parts, settings));
    lines.push(String::new());
    lines.extend(result.axis.iter().map(|axis| axis_line(axis, settings)));
    for height in &result.reversal {
        lines.extend(reversal_lines(height, settings));
    }
    lines.extend(result.four_seatings.iter().map(|four| {
        let mean = settings.length(four.mean_tir_um);
        format!(
            "four seatings{}: mean TIR {mean}",
            at_height(four.height_mm)
        )
    }));
    if let Some(seat_um) = result.seat_repeatability_um {
        lines.push(format!(
            "reseating repeatability {} (standard deviation)",
            settings.length(seat_um)
        ));
    }
    lines.extend(
        result
            .uncertainty
            .iter()
            .map(|u| uncertainty_line(u, said.in_words.as_deref(), settings)),
    );
    if let Some(verdict) = &result.verdict {
        lines.push(String::new());
        lines.extend(verdict_lines(verdict, said.verdict.as_ref(), settings));
    }
    lines.extend(hint_lines(&said.hints));
    lines.extend(said.notes.iter().map(|note| format!("Note: {note}")));
    if result.verdict.is_some() {
        lines.push(cautions::LAST_LINE.to_owned());
    }
    lines.join("\n")
}

fn title(result: &RunoutResult) -> String {
    match result.state {
        Some(state) => format!("Taper runout, {}", state.words()),
        None => "Taper runout".to_owned(),
    }
}

fn plane_table(planes: &[PlaneResult], notes: &[Vec<String>], settings: &Settings) -> Vec<String> {
    let header = format!(
        "{:<7}{:>9}  {:>7}  {:>6}  {:>10}  {:>10}  {:>10}  high spot",
        "where", "height", "seating", "bar at", "positions", "TIR", "e"
    );
    let mut lines = vec![header];
    for (plane, notes) in planes.iter().zip(notes) {
        lines.push(plane_line(plane, settings));
        lines.extend(notes.iter().map(|note| format!("         {note}")));
    }
    lines
}

fn plane_line(plane: &PlaneResult, settings: &Settings) -> String {
    let length = |um: Option<f64>| um.map(|um| settings.length_short(um)).unwrap_or_default();
    let line = format!(
        "{:<7}{:>9}  {:>7}  {:>6}  {:>10}  {:>10}  {:>10}  {}",
        plane.place.at.map_or("", |at| at.word()),
        plane
            .place
            .height_mm
            .map(depth_or_height)
            .unwrap_or_default(),
        plane
            .place
            .seating
            .map(|seating| seating.to_string())
            .unwrap_or_default(),
        plane.place.orientation_deg.map(degrees).unwrap_or_default(),
        positions(plane),
        length(plane.tir_um),
        length(plane.eccentricity_um),
        plane
            .direction_deg
            .map(|deg| format!("at {}", degrees(deg)))
            .unwrap_or_default(),
    );
    line.trim_end().to_owned()
}

fn positions(plane: &PlaneResult) -> String {
    match (plane.method, plane.stops) {
        (Method::Stepped, Some(stops)) => stops.to_string(),
        (Method::Stepped, None) => String::new(),
        (Method::Free, _) => "free turn".to_owned(),
        (Method::Marked, _) => "marked".to_owned(),
    }
}

fn degrees(deg: f64) -> String {
    format!("{deg:.0}°")
}

/// A height in a narrow column: 8 mm inside the mouth is "8 mm in".
fn depth_or_height(mm: f64) -> String {
    if mm < 0.0 {
        format!("{} mm in", -mm)
    } else {
        format!("{mm} mm")
    }
}

/// A length once per turn with the place of its high spot.
fn once_per_turn(length_um: f64, direction_deg: Option<f64>, settings: &Settings) -> String {
    let e = words::eccentricity(length_um, |um| settings.length(um));
    match direction_deg {
        Some(deg) => format!("{e}, once per turn, high spot at {}", degrees(deg)),
        None => format!("{e}, once per turn"),
    }
}

fn axis_line(axis: &AxisResult, settings: &Settings) -> String {
    let whose = match (axis.from, axis.at) {
        (AxisFrom::SpindlePart, _) => "axis of the spindle alone",
        (AxisFrom::AsRead, Some(At::Wall)) => "axis of the taper wall",
        (AxisFrom::AsRead, _) => "axis of the bar as read",
    };
    let offset = once_per_turn(axis.offset_um, axis.offset_direction_deg, settings);
    let towards = axis
        .tilt_direction_deg
        .map_or_else(String::new, |deg| format!(" towards {}", degrees(deg)));
    format!(
        "{whose}: {offset} at the nose, tilted {} over 300 mm{towards}",
        settings.length(axis.tilt_um_per_m * 0.3)
    )
}

fn reversal_lines(height: &ReversalResult, settings: &Settings) -> [String; 2] {
    let at = at_height(height.height_mm);
    let spindle = once_per_turn(
        height.spindle_eccentricity_um,
        height.spindle_direction_deg,
        settings,
    );
    let bar = once_per_turn(
        height.bar_eccentricity_um,
        height.bar_direction_deg,
        settings,
    );
    let whose = if height.bar_or_seat {
        "bar or seat"
    } else {
        "bar"
    };
    [
        format!("runout of the spindle alone{at}: {spindle} from the spindle's mark"),
        format!("{whose}{at}: {bar} from the bar's mark"),
    ]
}

fn uncertainty_line(
    uncertainty: &UncertaintyResult,
    in_words: Option<&str>,
    settings: &Settings,
) -> String {
    format!(
        "uncertainty  ± {} (95 %) on the {}{}: {}",
        settings.length(uncertainty.expanded_um),
        uncertainty.figure.words(),
        at_height(uncertainty.height_mm),
        in_words.unwrap_or_default()
    )
}
