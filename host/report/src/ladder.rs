//! A figure against its limit, drawn to scale: the verdict is the measurement itself.
//!
//! In: a judged figure, and the one before it where there is one. Out: a picture. Hatching begins at the limit, on the side
//! that is not allowed; the bar is what is allowed for measuring uncertainty. Hollow is before, filled is after or now.

use crate::picture::{INK, Label, Pen, Picture, SOFT, WHITE};
use crate::scale::Axis;
use holdtrue_metrology::decision::{Judged, Side};
use holdtrue_wording::digits::Units;
use holdtrue_wording::{paper, words};

const WIDTH: f64 = 236.0;
const LINE: f64 = 22.0;

/// What was judged, in words.
pub(crate) fn judged_name(judged: &Judged) -> String {
    let at = judged.height_mm.map_or_else(String::new, words::at_height);
    format!("{}{at}", judged.figure.words())
}

/// Figures and limit on one line; `word` is the verdict beside it.
pub(crate) fn ladder(units: &Units, before: Option<&Judged>, now: &Judged, word: &str) -> Picture {
    let all = || before.into_iter().chain([now]);
    let ends = all().flat_map(|judged| {
        [
            judged.measured - judged.guard,
            judged.measured + judged.guard,
        ]
    });
    let (least, most) = ends.fold((now.limit, now.limit), |(least, most), end| {
        (least.min(end), most.max(end))
    });
    let room = 0.22 * (most - least).max(0.02 * now.limit.abs()).max(1e-9);
    let axis = Axis::new([least - room, most + room], [0.0, WIDTH]);
    let limit = axis.place(now.limit);
    let mut picture = Picture::new(WIDTH, 42.0);
    let [from, to] = match now.side {
        Side::Lower => [0.0, limit],
        Side::Upper => [limit, WIDTH],
    };
    picture.line((0.0, LINE), (WIDTH, LINE), Pen::line(0.4, SOFT));
    picture.hatch([from, LINE - 6.0, to, LINE + 6.0]);
    picture.line(
        (limit, LINE - 9.0),
        (limit, LINE + 9.0),
        Pen::line(2.2, INK),
    );
    for (judged, hollow) in before
        .map(|judged| (judged, true))
        .into_iter()
        .chain([(now, false)])
    {
        let place = |value: f64| axis.place(value);
        let (low, high) = (
            place(judged.measured - judged.guard),
            place(judged.measured + judged.guard),
        );
        let fill = if hollow { WHITE } else { INK };
        picture.block(
            [low, LINE - 2.6, high.max(low + 0.5), LINE + 2.6],
            Pen::line(0.8, INK).filled(fill),
        );
        picture.ring(
            (place(judged.measured), LINE),
            3.6,
            Pen::line(0.9, INK).filled(fill),
        );
    }
    let figure = |judged: &Judged| units.in_unit(judged.measured, &judged.unit);
    let spread = units.spread_in_unit(now.guard, now.measured, &now.unit);
    let whole = figure(now);
    let (digits, unit) = whole.split_once('\u{a0}').unwrap_or((&whole, ""));
    // Both in one unit where they have it.
    let with = match spread.ends_with(unit) {
        true => format!("{digits} ± {spread}"),
        false => format!("{whole} ± {spread}"),
    };
    let now_label = Label::new(axis.place(now.measured), 9.0, with);
    match before {
        None => picture.label(now_label.middle().strong().within(0.0, WIDTH)),
        Some(before) => {
            let [one, two] = [axis.place(before.measured), axis.place(now.measured)];
            let told = Label::new(one, 9.0, format!("before {}", figure(before)));
            let now = Label::new(two, 9.0, format!("after {}", figure(now))).strong();
            let (told, now) = apart(told, now, one <= two);
            picture.label(told);
            picture.label(now);
        }
    }
    let limit_words = format!(
        "{} {}",
        words::side(now.side),
        units.in_unit(now.limit, &now.unit)
    );
    picture.label(
        Label::new(limit, 39.5, limit_words)
            .middle()
            .within(0.0, WIDTH),
    );
    picture.title = words::capital(&judged_name(now));
    picture.description = paper::against(
        &words::capital(&judged_name(now)),
        &figure(now),
        &units.spread_in_unit(now.guard, now.measured, &now.unit),
        &words::limit_in_full(now, |value| units.in_unit(value, &now.unit)),
        &words::uncapital(word),
    );
    picture
}

/// Two labels over their marks; where they would touch, each away from the other.
fn apart(one: Label, two: Label, one_is_left: bool) -> (Label, Label) {
    const GAP: f64 = 4.0;
    let (one, two) = (
        one.middle().within(0.0, WIDTH),
        two.middle().within(0.0, WIDTH),
    );
    let (left, right) = if one_is_left { (one, two) } else { (two, one) };
    let (left_end, right_begin) = (left.bounds()[2], right.bounds()[0]);
    let over = left_end + GAP - right_begin;
    let (mut left, mut right) = (left, right);
    if over > 0.0 {
        left.x -= 0.5 * over;
        right.x += 0.5 * over;
        let short = (0.0 - left.bounds()[0]).max(0.0);
        left.x += short;
        right.x += short;
        let long = (right.bounds()[2] - WIDTH).max(0.0);
        left.x -= long;
        right.x -= long;
    }
    if one_is_left {
        (left, right)
    } else {
        (right, left)
    }
}
