//! The force record as a picture: every clamp numbered, its settled window marked, what does not count labelled.
//!
//! In: the record and the result computed from it. Out: one SVG. Thinned so that every pixel column keeps its lowest and
//! highest sample: a peak a thousandth of a second long is still there.

use crate::scale::{Axis, px};
use holdtrue_metrology::grip::clamps::Excluded;
use holdtrue_metrology::grip::record::{ForceRecord, SpanKind};
use holdtrue_metrology::grip::result::{Clamp, GripResult};
use holdtrue_wording::digits::{Units, fixed};
use maud::{Markup, html};

const WIDTH: f64 = 760.0;
const HEIGHT: f64 = 250.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 752.0;
const TOP: f64 = 40.0;
const BOTTOM: f64 = 216.0;

/// A horizontal line with its name: a limit, a nominal.
pub(crate) struct Level {
    pub force_n: f64,
    pub name: String,
}

/// The picture of a check.
pub(crate) fn trace(
    units: &Units,
    record: &ForceRecord,
    result: &GripResult,
    levels: &[Level],
) -> Markup {
    let (Some(&first_s), Some(&last_s)) = (record.time_s().first(), record.time_s().last()) else {
        return html! {};
    };
    let zero_n = zero_n(record, &result.clamps);
    let time = Axis::new([first_s, last_s], [LEFT, RIGHT]);
    let force = force_axis(units, record, zero_n, levels);
    let place = |newton: f64| force.place(units.force_value(newton));
    let described = format!(
        "Grip force against time: {} clamps in {} s",
        result.clamps.len(),
        fixed(last_s - first_s, 0)
    );
    html! {
        svg class="trace" viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-label=(described) {
            (grid(units, &time, &force, first_s))
            @for clamp in &result.clamps { (window(clamp, &time, place(0.0))) }
            @for span in record.spans() { (flaw(&time, span.from_s, span.to_s, span.kind)) }
            @for level in levels {
                @let y = place(level.force_n);
                path class="level" d={ "M" (LEFT) " " (px(y)) " H" (RIGHT) } {}
                text class="small end" x=(RIGHT) y=(px(y - 3.0)) { (level.name) }
            }
            path class="line" d=(line(record, &time, |newton| place(newton - zero_n))) {}
            @for (index, clamp) in result.clamps.iter().enumerate() { (label(clamp, index, &time)) }
        }
    }
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

fn force_axis(units: &Units, record: &ForceRecord, zero_n: f64, levels: &[Level]) -> Axis {
    let mut span = [0.0_f64, 0.0_f64];
    let forces = record.force_n().iter().map(|force| force - zero_n);
    for newton in forces.chain(levels.iter().map(|level| level.force_n)) {
        let value = units.force_value(newton);
        span = [span[0].min(value), span[1].max(value)];
    }
    let room = 0.04 * (span[1] - span[0]);
    Axis::new([span[0] - room, span[1] + room], [BOTTOM, TOP])
}

fn grid(units: &Units, time: &Axis, force: &Axis, first_s: f64) -> Markup {
    let (forces, force_digits) = force.ticks(5);
    // Seconds count from the first sample, whatever the record's own origin.
    let relative = Axis::new([0.0, time.span()], [LEFT, RIGHT]);
    let (times, time_digits) = relative.ticks(8);
    debug_assert!((time.place(first_s) - LEFT).abs() < 1e-6);
    html! {
        @for tick in &forces {
            @let y = px(force.place(*tick));
            path class=(if *tick == 0.0 { "axis" } else { "grid" }) d={ "M" (LEFT) " " (y) " H" (RIGHT) } {}
            text class="small end" x=(LEFT - 5.0) y=(px(force.place(*tick) + 3.5)) { (fixed(*tick, force_digits)) }
        }
        @for tick in &times {
            @let x = px(relative.place(*tick));
            path class="axis" d={ "M" (x) " " (BOTTOM) " v4" } {}
            text class="small middle" x=(x) y=(BOTTOM + 16.0) { (fixed(*tick, time_digits)) }
        }
        text class="small" x="0" y=(TOP - 12.0) { (units.force_symbol()) }
        text class="small end" x=(RIGHT) y=(BOTTOM + 30.0) { "s from the first sample" }
    }
}

/// The settled window: a grey band with a foot line, under the curve.
fn window(clamp: &Clamp, time: &Axis, foot: f64) -> Markup {
    let Some([from, to]) = clamp.window_s else {
        return html! {};
    };
    let (left, right) = (time.place(from), time.place(to));
    let class = if clamp.counted {
        "window"
    } else {
        "window open"
    };
    html! {
        rect class=(class) x=(px(left)) y=(TOP) width=(px((right - left).max(0.5))) height=(px(foot - TOP)) {}
    }
}

fn flaw(time: &Axis, from_s: f64, to_s: f64, kind: SpanKind) -> Markup {
    let (left, right) = (time.place(from_s), time.place(to_s));
    let word = match kind {
        SpanKind::Gap => "gap",
        SpanKind::Fault => "fault",
        SpanKind::Overload => "overload",
    };
    html! {
        rect class="flaw" x=(px(left)) y=(TOP) width=(px((right - left).max(1.0))) height=(BOTTOM - TOP) {}
        text class="small middle" x=(px(f64::midpoint(left, right))) y=(BOTTOM - 4.0) { (word) }
    }
}

/// The curve, broken where samples are missing.
fn line(record: &ForceRecord, time: &Axis, place: impl Fn(f64) -> f64) -> String {
    let gaps: Vec<f64> = record
        .spans()
        .iter()
        .filter(|span| span.kind == SpanKind::Gap)
        .map(|span| span.from_s)
        .collect();
    let mut path = String::new();
    let mut column: Option<Column> = None;
    for (index, sample) in record.samples().enumerate() {
        let point = (time.place(sample.time_s), place(sample.force_n));
        let broken = index > 0 && {
            let before = record.time_s()[index - 1];
            gaps.iter()
                .any(|gap| *gap >= before && *gap < sample.time_s)
        };
        column = match column {
            Some(mut open) if !broken && open.holds(point.0) => {
                open.take(point);
                Some(open)
            }
            done => {
                if let Some(done) = done {
                    done.write(&mut path);
                }
                Some(Column::begin(point, broken || index == 0))
            }
        };
    }
    if let Some(done) = column {
        done.write(&mut path);
    }
    path
}

/// The samples of one pixel column.
struct Column {
    pixel: f64,
    new_line: bool,
    low: (f64, f64),
    high: (f64, f64),
}

impl Column {
    fn begin(point: (f64, f64), new_line: bool) -> Self {
        Self {
            pixel: point.0.floor(),
            new_line,
            low: point,
            high: point,
        }
    }

    fn holds(&self, x: f64) -> bool {
        x < self.pixel + 1.0
    }

    fn take(&mut self, point: (f64, f64)) {
        if point.1 > self.low.1 {
            self.low = point;
        }
        if point.1 < self.high.1 {
            self.high = point;
        }
    }

    /// Lowest and highest in the order they came.
    fn write(&self, path: &mut String) {
        let mut points = [self.low, self.high];
        points.sort_by(|left, right| left.0.total_cmp(&right.0));
        path.push(if self.new_line { 'M' } else { 'L' });
        path.push_str(&format!("{} {}", px(points[0].0), px(points[0].1)));
        if points[0] != points[1] {
            path.push_str(&format!("L{} {}", px(points[1].0), px(points[1].1)));
        }
    }
}

/// Number above a clamp that counts; number and reason, one row higher, above one that does not.
fn label(clamp: &Clamp, index: usize, time: &Axis) -> Markup {
    let ends = [clamp.clamped_s, clamp.released_s];
    let middle = match (ends, clamp.window_s) {
        ([Some(from), Some(to)], _) | (_, Some([from, to])) => f64::midpoint(from, to),
        ([Some(at), None] | [None, Some(at)], None) => at,
        ([None, None], None) => return html! {},
    };
    let x = time.place(middle).clamp(LEFT + 6.0, RIGHT - 6.0);
    match clamp.excluded {
        None => html! {
            text class="number middle" x=(px(x)) y=(TOP - 5.0) { (clamp.number) }
        },
        Some(why) => {
            // Neighbours that are excluded too get another row.
            let y = TOP - 18.0 - 11.0 * f64::from(u8::from(index % 2 == 1));
            html! {
                path class="leader" d={ "M" (px(x)) " " (px(y + 3.0)) " V" (TOP + 6.0) } {}
                text class="small middle" x=(px(x.clamp(LEFT + 40.0, RIGHT - 40.0))) y=(px(y)) {
                    (clamp.number) " not counted: " (short(why))
                }
            }
        }
    }
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
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(times_s: &[f64], forces_n: &[f64]) -> ForceRecord {
        ForceRecord::new(times_s, forces_n).unwrap()
    }

    fn ys(path: &str) -> Vec<f64> {
        let points = path.split(['M', 'L']).filter(|point| !point.is_empty());
        points
            .map(|point| point.split(' ').nth(1).unwrap().parse().unwrap())
            .collect()
    }

    #[test]
    fn a_peak_of_one_sample_in_a_hundred_thousand_is_drawn() {
        let times: Vec<f64> = (0..100_000).map(|i| f64::from(i) * 0.001).collect();
        let mut forces = vec![0.0; times.len()];
        forces[54_321] = 12_000.0;
        forces[54_322] = -3_000.0;
        let time = Axis::new([0.0, 99.999], [LEFT, RIGHT]);
        let path = line(&record(&times, &forces), &time, |newton| newton);
        let ys = ys(&path);
        assert!(ys.contains(&12_000.0) && ys.contains(&-3_000.0));
        assert!(ys.len() < 2_000, "{} points", ys.len());
    }

    #[test]
    fn the_curve_is_broken_at_a_gap() {
        let times: Vec<f64> = (0..200)
            .map(|i| f64::from(i) * 0.01 + if i < 100 { 0.0 } else { 3.0 })
            .collect();
        let time = Axis::new([0.0, 5.0], [LEFT, RIGHT]);
        let path = line(&record(&times, &vec![1.0; 200]), &time, |newton| newton);
        assert_eq!(path.matches('M').count(), 2, "{path}");
    }
}
