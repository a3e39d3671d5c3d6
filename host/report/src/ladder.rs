//! A figure against its limit, drawn to scale: the hatched edge is the limit, the whisker is what is allowed for measuring uncertainty.
//!
//! In: the judged limits of a check. Out: one drawing a limit, of one look for every check.

use crate::scale::{Axis, px};
use holdtrue_metrology::decision::{Judged, Side};
use holdtrue_wording::digits::Units;
use holdtrue_wording::words;
use maud::{Markup, html};

const WIDTH: f64 = 360.0;
const LINE: f64 = 26.0;

/// What was judged, in words.
pub(crate) fn judged_name(judged: &Judged) -> String {
    let at = judged.height_mm.map_or_else(String::new, words::at_height);
    format!("{}{at}", judged.figure.words())
}

/// Figure, guard and limit on one line.
pub(crate) fn ladder(units: &Units, judged: &Judged) -> Markup {
    let (low, high) = (
        judged.measured - judged.guard,
        judged.measured + judged.guard,
    );
    let (least, most) = (low.min(judged.limit), high.max(judged.limit));
    let room = 0.25 * (most - least).max(0.02 * judged.limit.abs()).max(1e-9);
    let axis = Axis::new([least - room, most + room], [0.0, WIDTH]);
    let [limit, figure, from, to] =
        [judged.limit, judged.measured, low, high].map(|v| axis.place(v));
    // The hatch lies on the side the figure must not be on.
    let bad = match judged.side {
        Side::Lower => -1.0,
        Side::Upper => 1.0,
    };
    let described = format!(
        "{}: {} against a limit of {}",
        judged_name(judged),
        units.in_unit(judged.measured, &judged.unit),
        units.in_unit(judged.limit, &judged.unit)
    );
    html! {
        svg class="ladder" viewBox={ "0 0 " (WIDTH) " 44" } role="img" aria-label=(described) {
            path class="grid" d={ "M0 " (LINE) " H" (WIDTH) } {}
            @for stroke in 0..4_u8 {
                @let y = 12.0 + 7.0 * f64::from(stroke);
                path class="hatch" d={ "M" (px(limit)) " " (px(y)) " l" (px(8.0 * bad)) " 6" } {}
            }
            path class="edge" d={ "M" (px(limit)) " 10 V42" } {}
            path class="whisker" d={
                "M" (px(from)) " " (LINE) " H" (px(to))
                " M" (px(from)) " " (LINE - 5.0) " V" (LINE + 5.0)
                " M" (px(to)) " " (LINE - 5.0) " V" (LINE + 5.0)
            } {}
            circle class="dot" cx=(px(figure)) cy=(LINE) r="4" {}
        }
    }
}
