//! The force record as a picture: every clamp numbered, its settled window marked, what does not count labelled.
//!
//! In: the record and the result computed from it. Out: one SVG. A peak a thousandth of a second long is still there.

use crate::picture::{BAND, HAIR, INK, Label, Pen, Picture, SOFT, WHITE, touch};
use crate::scale::Axis;
use crate::thinned::thinned;
use holdtrue_metrology::grip::excluded::Excluded;
use holdtrue_metrology::grip::record::{ForceRecord, SpanKind};
use holdtrue_metrology::grip::result::{Clamp, GripResult};
use holdtrue_wording::digits::{Units, fixed};

const WIDTH: f64 = 498.9;
const LEFT: f64 = 30.0;
const RIGHT: f64 = 496.0;
const PLOT: f64 = 130.0;
const ROW: f64 = 10.5;

/// A horizontal line with its name: a limit, a nominal.
pub(crate) struct Level {
    pub force_n: f64,
    pub name: String,
    /// What is not allowed lies under it.
    pub limit: bool,
}

/// The picture of a check; none of an empty record.
pub(crate) fn trace(
    units: &Units,
    record: &ForceRecord,
    result: &GripResult,
    levels: &[Level],
) -> Option<Picture> {
    let (&first_s, &last_s) = (record.time_s().first()?, record.time_s().last()?);
    let zero_n = zero_n(record, &result.clamps);
    let time = Axis::new([first_s, last_s], [LEFT, RIGHT]);
    let labels = labels(&result.clamps, &time);
    let rows = labels
        .iter()
        .map(|placed| placed.row + 1)
        .max()
        .unwrap_or(1);
    #[expect(clippy::cast_precision_loss, reason = "a few rows")]
    let top = 4.0 + ROW * rows as f64;
    let bottom = top + PLOT;
    let force = force_axis(units, record, zero_n, levels, [bottom, top]);
    let place = |newton: f64| force.place(units.force_value(newton));
    let mut picture = Picture::new(WIDTH, bottom + 23.0);
    picture.title = "Grip force against time".to_owned();
    let counted = result.clamps.iter().filter(|clamp| clamp.counted).count();
    picture.description = format!(
        "{} clamps in {} s, of which {counted} count. The table gives the figures.",
        result.clamps.len(),
        fixed(last_s - first_s, 0)
    );
    for clamp in &result.clamps {
        window(&mut picture, clamp, &time, [top, place(0.0)]);
    }
    grid(&mut picture, units, &time, &force, [top, bottom]);
    let named: Vec<Label> = level_labels(levels, place, [top, bottom]);
    for level in levels {
        let y = place(level.force_n);
        let pen = Pen::line(if level.limit { 1.6 } else { 0.7 }, INK);
        picture.line(
            (LEFT, y),
            (RIGHT, y),
            if level.limit {
                pen
            } else {
                pen.dashed(&[6.0, 3.0])
            },
        );
    }
    for span in record.spans() {
        flaw(
            &mut picture,
            &time,
            [span.from_s, span.to_s],
            span.kind,
            [top, bottom],
        );
    }
    // The curve lies over the names: white under a name would rub it out just where it comes near a limit.
    for label in named {
        picture.label(label.on_white());
    }
    for steps in line(record, &time, |newton| place(newton - zero_n)) {
        picture.path(steps, Pen::line(0.8, INK));
    }
    for placed in labels {
        #[expect(clippy::cast_precision_loss, reason = "a few rows")]
        let y = top - 3.0 - ROW * placed.row as f64;
        if placed.row > 0 || !placed.counted {
            picture.line(
                (placed.at, y + 2.0),
                (placed.at, top + 4.0),
                Pen::line(0.4, SOFT),
            );
        }
        let mut label = placed.label;
        label.y = y;
        picture.label(label);
    }
    Some(picture)
}

/// The names of the levels at the right, none on another: the upper over its line, the lower under it.
fn level_labels(
    levels: &[Level],
    place: impl Fn(f64) -> f64,
    [top, bottom]: [f64; 2],
) -> Vec<Label> {
    let mut placed: Vec<Label> = Vec::new();
    for level in levels {
        let y = place(level.force_n);
        let at = |y: f64| Label::new(RIGHT - 2.0, y, level.name.as_str()).end();
        let tries = [y - 4.0, y + 10.0, y - 14.0, y + 20.0].map(at);
        let free = tries.into_iter().find(|label| {
            let [_, up, _, down] = label.bounds();
            up > top
                && down < bottom
                && !placed
                    .iter()
                    .any(|other| touch(other.bounds(), label.bounds()))
        });
        placed.extend(free);
    }
    placed
}

/// What the gauge showed when free, as the analysis took it off: the largest raw sample of a clamp less its peak.
fn zero_n(record: &ForceRecord, clamps: &[Clamp]) -> f64 {
    let zero = |clamp: &Clamp| {
        let (from, to) = (clamp.clamped_s?, clamp.released_s?);
        let within = record
            .samples()
            .filter(|sample| (from..=to).contains(&sample.time_s));
        let largest = within.map(|sample| sample.force_n).reduce(f64::max)?;
        Some(largest - clamp.peak_n?)
    };
    clamps.iter().find_map(zero).unwrap_or(0.0)
}

fn force_axis(
    units: &Units,
    record: &ForceRecord,
    zero_n: f64,
    levels: &[Level],
    paper: [f64; 2],
) -> Axis {
    let mut span = [0.0_f64, 0.0_f64];
    let forces = record.force_n().iter().map(|force| force - zero_n);
    for newton in forces.chain(levels.iter().map(|level| level.force_n)) {
        let value = units.force_value(newton);
        span = [span[0].min(value), span[1].max(value)];
    }
    let room = 0.04 * (span[1] - span[0]);
    Axis::new([span[0] - room, span[1] + 3.5 * room], paper)
}

fn grid(picture: &mut Picture, units: &Units, time: &Axis, force: &Axis, [top, bottom]: [f64; 2]) {
    let (forces, force_digits) = force.ticks(5);
    // Seconds count from the first sample, whatever the record's own origin.
    let relative = Axis::new([0.0, time.span()], [LEFT, RIGHT]);
    let (times, time_digits) = relative.ticks(8);
    for tick in forces {
        let y = force.place(tick);
        let pen = if tick == 0.0 {
            Pen::line(0.6, SOFT)
        } else {
            Pen::line(0.4, HAIR)
        };
        picture.line((LEFT, y), (RIGHT, y), pen);
        picture.label(Label::new(LEFT - 4.0, y + 2.7, fixed(tick, force_digits)).end());
    }
    let unit = Label::new(
        RIGHT,
        bottom + 21.0,
        format!("{} against s from the first sample", units.force_symbol()),
    );
    for tick in times {
        let x = relative.place(tick);
        picture.line((x, bottom), (x, bottom + 3.0), Pen::line(0.6, SOFT));
        picture.label(
            Label::new(x, bottom + 11.5, fixed(tick, time_digits))
                .middle()
                .within(0.0, WIDTH),
        );
    }
    picture.line((LEFT, top), (LEFT, bottom), Pen::line(0.6, SOFT));
    picture.label(unit.end());
}

/// The settled window: a grey band with a foot line, under the curve.
fn window(picture: &mut Picture, clamp: &Clamp, time: &Axis, [top, foot]: [f64; 2]) {
    let Some([from, to]) = clamp.window_s else {
        return;
    };
    let (left, right) = (time.place(from), time.place(to));
    let pen = if clamp.counted {
        Pen::fill(BAND)
    } else {
        Pen::line(0.5, SOFT).dashed(&[2.0, 2.0])
    };
    picture.block([left, top, right.max(left + 0.5), foot], pen);
}

fn flaw(
    picture: &mut Picture,
    time: &Axis,
    [from_s, to_s]: [f64; 2],
    kind: SpanKind,
    [top, bottom]: [f64; 2],
) {
    let (left, right) = (time.place(from_s), time.place(to_s));
    let word = match kind {
        SpanKind::Gap => "gap",
        SpanKind::Fault => "fault",
        SpanKind::Overload => "overload",
    };
    picture.block(
        [left, top, right.max(left + 1.0), bottom],
        Pen::line(0.5, SOFT).filled(WHITE).dashed(&[1.0, 2.0]),
    );
    let label = Label::new(f64::midpoint(left, right), bottom - 4.0, word)
        .middle()
        .within(LEFT + 1.0, RIGHT - 1.0);
    picture.label_if_free(label.on_white());
}

/// The curve, a stretch for each part without missing samples.
fn line(record: &ForceRecord, time: &Axis, place: impl Fn(f64) -> f64) -> Vec<Vec<(f64, f64)>> {
    let gaps: Vec<f64> = record
        .spans()
        .iter()
        .filter(|span| span.kind == SpanKind::Gap)
        .map(|span| span.from_s)
        .collect();
    thinned(record.samples().enumerate().map(|(index, sample)| {
        let point = (time.place(sample.time_s), place(sample.force_n));
        let broken = index > 0 && {
            let before = record.time_s()[index - 1];
            gaps.iter()
                .any(|gap| *gap >= before && *gap < sample.time_s)
        };
        (point, broken)
    }))
}

/// The name of a clamp, in the lowest row over the curve where it touches no other.
struct Placed {
    label: Label,
    at: f64,
    row: usize,
    counted: bool,
}

/// Number above a clamp that counts; number and reason above one that does not.
fn labels(clamps: &[Clamp], time: &Axis) -> Vec<Placed> {
    let mut placed: Vec<Placed> = Vec::new();
    for clamp in clamps {
        let ends = [clamp.clamped_s, clamp.released_s];
        let middle = match (ends, clamp.window_s) {
            ([Some(from), Some(to)], _) | (_, Some([from, to])) => f64::midpoint(from, to),
            ([Some(at), None] | [None, Some(at)], None) => at,
            ([None, None], None) => continue,
        };
        let at = time.place(middle).clamp(LEFT, RIGHT);
        let label = match clamp.excluded {
            None => Label::new(at, 0.0, clamp.number.to_string()).strong(),
            Some(why) => Label::new(
                at,
                0.0,
                format!("{} not counted: {}", clamp.number, short(why)),
            ),
        };
        let label = label.middle().within(LEFT, RIGHT);
        let touches = |other: &Placed, row: usize| {
            let [left, _, right, _] = label.bounds();
            let other_bounds = other.label.bounds();
            let beside = right + 2.0 < other_bounds[0] || other_bounds[2] + 2.0 < left;
            // Nor may the line that leads up to another run through it.
            let led_through = other.row > row && (left..=right).contains(&other.at);
            (other.row == row && !beside) || led_through
        };
        let row =
            (0..placed.len() + 1).find(|row| !placed.iter().any(|other| touches(other, *row)));
        let counted = clamp.counted;
        placed.push(Placed {
            at,
            row: row.unwrap_or(placed.len()),
            label,
            counted,
        });
    }
    placed
}

fn short(why: Excluded) -> &'static str {
    match why {
        Excluded::Discarded => "discarded",
        Excluded::Fault => "fault",
        Excluded::Gap => "gap",
        Excluded::Overload => "overload",
        Excluded::NotReleased => "not released",
        Excluded::Short => "too short",
        Excluded::NoZero => "no zero",
        Excluded::Disturbed => "disturbed",
        Excluded::NotAskedFor => "not asked for",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(times_s: &[f64], forces_n: &[f64]) -> ForceRecord {
        ForceRecord::new(times_s, forces_n).unwrap()
    }

    #[test]
    fn a_peak_of_one_sample_in_a_hundred_thousand_is_drawn() {
        let times: Vec<f64> = (0..100_000).map(|i| f64::from(i) * 0.001).collect();
        let mut forces = vec![0.0; times.len()];
        forces[54_321] = 12_000.0;
        forces[54_322] = -3_000.0;
        let time = Axis::new([0.0, 99.999], [LEFT, RIGHT]);
        let drawn = line(&record(&times, &forces), &time, |newton| newton);
        let ys: Vec<f64> = drawn.concat().iter().map(|point| point.1).collect();
        assert!(ys.contains(&12_000.0) && ys.contains(&-3_000.0));
        assert!(ys.len() < 2_000, "{} points", ys.len());
    }

    #[test]
    fn the_curve_is_broken_at_a_gap() {
        let times: Vec<f64> = (0..200)
            .map(|i| f64::from(i) * 0.01 + if i < 100 { 0.0 } else { 3.0 })
            .collect();
        let time = Axis::new([0.0, 5.0], [LEFT, RIGHT]);
        let drawn = line(&record(&times, &vec![1.0; 200]), &time, |newton| newton);
        assert_eq!(drawn.len(), 2);
    }
}
