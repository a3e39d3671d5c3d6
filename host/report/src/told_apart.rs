//! Spindle and bar told apart, at one height, seen along the spindle.
//!
//! In: the parts of a reversal and the limit on the spindle. Out: a picture: is it spindle or bar, and does it clear its limit?
//! The ring is the limit, hatched outside; a vector is an eccentricity, half its runout; the dashed ring round the spindle's
//! end is what is allowed for measuring uncertainty. A circle or a square is the bar as read in one seating.

use crate::document::Runout;
use crate::picture::{HAIR, INK, Label, Pen, Picture, SOFT, Shape, Step, WHITE};
use holdtrue_metrology::decision::{Figure, Judged};
use holdtrue_metrology::runout::ReversalResult;
use holdtrue_wording::digits::{Units, degrees};
use holdtrue_wording::words;

const WIDTH: f64 = 236.0;
const CENTRE: (f64, f64) = (104.0, 104.0);
/// The edge of the picture, and the limit where everything lies within it.
const EDGE: f64 = 76.0;
const LIMIT: f64 = 58.0;
const HEIGHT: f64 = 196.0;

/// The picture of one height.
pub(crate) fn told_apart(units: &Units, check: &Runout, part: &ReversalResult) -> Picture {
    let limit = limit(check, part);
    let seatings = seatings(check, part);
    let allowed_um = limit.map_or(0.0, |limit| 0.5 * limit.guard);
    let reach = seatings.iter().map(|seating| seating.1);
    let reach = reach.fold(part.spindle_eccentricity_um + allowed_um, f64::max);
    let per_um = match limit {
        Some(limit) => (LIMIT / (0.5 * limit.limit)).min(EDGE / (1.06 * reach)),
        None => EDGE / (1.3 * reach.max(0.1)),
    };
    let spot = |radius_um: f64, direction_deg: f64| {
        let (sin, cos) = direction_deg.to_radians().sin_cos();
        (
            CENTRE.0 + per_um * radius_um * sin,
            CENTRE.1 - per_um * radius_um * cos,
        )
    };
    let at = part.height_mm.map_or_else(String::new, words::at_height);
    let mut picture = Picture::new(WIDTH, HEIGHT);
    picture.title = format!("Spindle and bar told apart{at}");
    picture.label(
        Label::new(0.0, 10.0, format!("Test bar{at}"))
            .strong()
            .size(9.0),
    );
    if let Some(limit) = limit {
        let ring = 0.5 * limit.limit * per_um;
        outside(&mut picture, ring);
        picture.ring(CENTRE, ring, Pen::line(2.0, INK).filled(WHITE));
    } else {
        picture.ring(CENTRE, EDGE, Pen::line(0.6, SOFT));
    }
    angles(&mut picture);
    let cross = Pen::line(0.3, HAIR);
    let span = limit.map_or(EDGE, |limit| 0.5 * limit.limit * per_um);
    picture.line(
        (CENTRE.0 - span, CENTRE.1),
        (CENTRE.0 + span, CENTRE.1),
        cross,
    );
    picture.line(
        (CENTRE.0, CENTRE.1 - span),
        (CENTRE.0, CENTRE.1 + span),
        cross,
    );
    for (direction, eccentricity_um, turned) in &seatings {
        let (x, y) = spot(*eccentricity_um, *direction);
        let pen = Pen::line(0.8, INK).filled(WHITE);
        if *turned {
            picture.block([x - 2.4, y - 2.4, x + 2.4, y + 2.4], pen);
        } else {
            picture.ring((x, y), 2.6, pen);
        }
    }
    let end = spot(
        part.spindle_eccentricity_um,
        part.spindle_direction_deg.unwrap_or(0.0),
    );
    if allowed_um > 0.0 {
        picture.ring(
            end,
            allowed_um * per_um,
            Pen::line(0.6, INK).dashed(&[2.0, 1.6]),
        );
    }
    picture.line(CENTRE, end, Pen::line(1.8, INK));
    picture.ring(end, 3.0, Pen::fill(INK));
    let runout = units.length(2.0 * part.spindle_eccentricity_um);
    picture.label(
        Label::new(WIDTH, HEIGHT - 14.0, runout.as_str())
            .end()
            .strong()
            .size(12.0),
    );
    let limit_words = limit.map(|limit| {
        format!(
            "{} {}",
            words::side(limit.side),
            units.in_unit(limit.limit, &limit.unit)
        )
    });
    if let Some(limit_words) = &limit_words {
        picture.label(Label::new(WIDTH, HEIGHT - 3.0, limit_words.as_str()).end());
    }
    let towards = part
        .spindle_direction_deg
        .map_or_else(String::new, |direction| {
            format!(", high spot at {}", degrees(direction))
        });
    picture.description = format!(
        "Runout of the spindle alone {runout}{towards}; {}. The {} adds {}.",
        limit_words.map_or("without a limit".to_owned(), |limit| format!(
            "limit {limit}"
        )),
        if part.bar_or_seat {
            "bar or its seat"
        } else {
            "bar"
        },
        words::eccentricity(part.bar_eccentricity_um, |um| units.length(um)),
    );
    picture
}

/// The limit on the spindle alone at this height.
fn limit<'a>(check: &'a Runout, part: &ReversalResult) -> Option<&'a Judged> {
    let limits = check
        .result
        .verdict
        .iter()
        .flat_map(|verdict| &verdict.limits);
    let mut here = limits
        .filter(|limit| limit.figure == Figure::SpindlePart && limit.height_mm == part.height_mm);
    here.next()
}

/// Direction, eccentricity, and whether the bar was turned, of every seating at this height.
fn seatings(check: &Runout, part: &ReversalResult) -> Vec<(f64, f64, bool)> {
    let planes = check.result.planes.iter().filter(|plane| {
        plane.place.height_mm == part.height_mm && plane.place.orientation_deg.is_some()
    });
    let read = planes.filter_map(|plane| {
        let turned = plane.place.orientation_deg? >= 90.0;
        Some((plane.direction_deg?, plane.eccentricity_um?, turned))
    });
    read.collect()
}

/// Strokes between the limit and the edge.
fn outside(picture: &mut Picture, ring: f64) {
    const STEP: f64 = 4.5;
    let edge = EDGE.max(ring + 6.0);
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let spot = |along: f64, across: f64| {
        (
            CENTRE.0 + half * (along + across),
            CENTRE.1 + half * (across - along),
        )
    };
    let mut steps = Vec::new();
    let mut across = 0.5 * STEP - edge;
    while across < edge {
        let outer = (edge * edge - across * across).max(0.0).sqrt();
        let inner = (ring * ring - across * across).max(0.0).sqrt();
        for [from, to] in [[-outer, -inner], [inner, outer]] {
            let (from, to) = (spot(from, across), spot(to, across));
            steps.extend([Step::Move(from.0, from.1), Step::Line(to.0, to.1)]);
        }
        across += STEP;
    }
    picture.shapes.push(Shape::Path(steps, Pen::line(0.5, INK)));
}

fn angles(picture: &mut Picture) {
    let (x, y) = CENTRE;
    let far = EDGE + 5.0;
    picture.label(Label::new(x, y - far, degrees(0.0)).middle().on_white());
    picture.label(Label::new(x + far, y + 2.7, degrees(90.0)).on_white());
    picture.label(
        Label::new(x, y + far + 6.0, degrees(180.0))
            .middle()
            .on_white(),
    );
    picture.label(
        Label::new(x - far, y + 2.7, degrees(270.0))
            .end()
            .on_white(),
    );
}
