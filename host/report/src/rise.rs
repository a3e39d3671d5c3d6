//! How the force rose at clamping: this visit's over those of earlier ones.
//!
//! In: rises, the oldest first. Out: one picture. The last is drawn thick; the older one is, the lighter and the more broken
//! its line. Every line has its day in the list at the lower right, where no rise comes.

use crate::document::Rise;
use crate::paper::{Block, Kind, figure};
use crate::picture::{HAIR, INK, Label, Pen, Picture, SOFT, WHITE};
use crate::scale::Axis;
use crate::thinned::thinned;
use holdtrue_wording::digits::{fixed, with_unit};

const WIDTH: f64 = 300.0;
const LEFT: f64 = 30.0;
const RIGHT: f64 = 296.0;
const TOP: f64 = 8.0;
const BOTTOM: f64 = 138.0;
/// From one line of the list to the next.
const ROW: f64 = 11.0;
/// The stroke beside a day in the list.
const STROKE: f64 = 22.0;
/// So many times the longest clamping time are drawn.
const TIMES: f64 = 3.0;
/// The lines of the visits before, the newest first.
const EARLIER: [Pen; 4] = [
    Pen::line(0.9, INK),
    Pen::line(0.9, INK).dashed(&[5.0, 2.0]),
    Pen::line(0.9, SOFT).dashed(&[2.5, 1.5]),
    Pen::line(0.9, SOFT).dashed(&[1.0, 1.5]),
];
/// So many rises are drawn over one another; older ones are not.
pub const MOST_RISES: usize = EARLIER.len() + 1;
const CAPTION: &str = "Force as a share of the holding force, against the time since the rise began: of each visit the clamp as found whose \
                       clamping time is the middle one. Thick: the newest. Behind each day: the time from 10 to 90 %.";

/// With its heading; nothing without an earlier rise to lay it over.
pub(crate) fn over_earlier(rises: &[Rise]) -> Vec<Block> {
    let Some(picture) = picture(rises) else {
        return Vec::new();
    };
    let label = Block::Paragraph(
        Kind::Label,
        "How the force rose at clamping, as found".into(),
    );
    vec![Block::Together(vec![label, figure(picture, CAPTION)])]
}

pub(crate) fn picture(rises: &[Rise]) -> Option<Picture> {
    let (now, earlier) = rises.split_last()?;
    // Newest first.
    let drawn: Vec<(&Rise, Pen)> = std::iter::once((now, Pen::line(1.8, INK)))
        .chain(earlier.iter().rev().zip(EARLIER))
        .collect();
    if drawn.len() < 2 {
        return None;
    }
    let longest = drawn.iter().map(|(rise, _)| rise.clamping_s);
    let span_s = TIMES * longest.fold(0.0, f64::max);
    let from_s = -0.08 * span_s;
    let time = Axis::new([from_s, span_s], [LEFT, RIGHT]);
    let within = |rise: &Rise| {
        let points = rise.points.clone().into_iter();
        points.filter(move |(s, _)| (from_s..=span_s).contains(s))
    };
    let shares = drawn.iter().flat_map(|(rise, _)| within(rise));
    let most = shares.map(|(_, share)| share).fold(1.1, f64::max);
    let share = Axis::new([-0.06, most.min(1.6)], [BOTTOM, TOP]);
    let mut picture = Picture::new(WIDTH, BOTTOM + 24.0);
    picture.title = "How the force rose at clamping".to_owned();
    let said: Vec<String> = drawn.iter().map(|(rise, _)| named(rise)).collect();
    picture.description = format!("Time from 10 to 90 %: {}.", said.join("; "));
    grid(&mut picture, &time, &share);
    for (rise, pen) in drawn.iter().rev() {
        let points = within(rise).map(|(s, of)| {
            let y = share.place(of).clamp(TOP, BOTTOM);
            ((time.place(s), y), false)
        });
        for stretch in thinned(points) {
            picture.path(stretch, *pen);
        }
    }
    list(&mut picture, &drawn);
    Some(picture)
}

fn named(rise: &Rise) -> String {
    let time = with_unit(&fixed(rise.clamping_s, 2), "s");
    format!("{}: {time}", rise.day)
}

fn grid(picture: &mut Picture, time: &Axis, share: &Axis) {
    for percent in [0, 50, 100] {
        let y = share.place(f64::from(percent) / 100.0);
        picture.line((LEFT, y), (RIGHT, y), Pen::line(0.4, HAIR));
        picture.label(Label::new(LEFT - 4.0, y + 2.7, percent.to_string()).end());
    }
    picture.line((LEFT, TOP), (LEFT, BOTTOM), Pen::line(0.6, SOFT));
    picture.line((LEFT, BOTTOM), (RIGHT, BOTTOM), Pen::line(0.6, SOFT));
    let (ticks, digits) = time.ticks(5);
    for tick in ticks {
        let x = time.place(tick);
        picture.line((x, BOTTOM), (x, BOTTOM + 3.0), Pen::line(0.6, SOFT));
        let label = Label::new(x, BOTTOM + 11.5, fixed(tick, digits)).middle();
        picture.label_if_free(label.within(0.0, WIDTH));
    }
    let unit = "% of the holding force against s";
    picture.label(Label::new(RIGHT, BOTTOM + 22.0, unit).end());
}

/// The days, newest on top, on white.
fn list(picture: &mut Picture, drawn: &[(&Rise, Pen)]) {
    let mut y = BOTTOM - 5.0;
    let mut rows: Vec<(Label, Pen)> = Vec::new();
    for (rise, pen) in drawn.iter().rev() {
        rows.push((Label::new(RIGHT - 4.0, y, named(rise)).end(), *pen));
        y -= ROW;
    }
    let left = rows.iter().map(|(label, _)| label.bounds()[0]);
    let left = left.fold(RIGHT, f64::min) - 4.0 - STROKE;
    picture.block([left - 3.0, y + 1.0, RIGHT, BOTTOM - 1.0], Pen::fill(WHITE));
    for (label, pen) in rows {
        let middle = label.y - 2.7;
        picture.line((left, middle), (left + STROKE, middle), pen);
        picture.label(label);
    }
}
