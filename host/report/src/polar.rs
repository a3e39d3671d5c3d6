//! One turn seen along the spindle: how the surface stands off a true circle, much enlarged.
//!
//! In: the planes at one height with their readings. Out: one SVG. Planes are told apart by the shape of their points and
//! the dashes of their circle, so that a black-and-white print loses nothing.

use crate::scale::{px, round_step};
use holdtrue_metrology::runout::PlaneResult;
use holdtrue_metrology::runout::{Plane, Readings};
use holdtrue_wording::digits::{Units, degrees};
use maud::{Markup, html};

const SIZE: f64 = 300.0;
const CENTRE: f64 = SIZE / 2.0;
/// Where a reading equal to the mean lies, px from the centre.
const CIRCLE: f64 = 90.0;
/// What the largest deviation is drawn as, px.
const SWING: f64 = 30.0;

/// The outer ring, where high spots are marked, px from the centre.
const RING: f64 = CIRCLE + SWING + 6.0;

/// A plane and what was read in it.
pub(crate) struct Turn<'a> {
    pub name: String,
    pub result: &'a PlaneResult,
    pub plane: &'a Plane,
}

/// The picture of the planes at one height; nothing where no plane has angles.
pub(crate) fn polar(units: &Units, turns: &[Turn]) -> Option<Markup> {
    let curves: Vec<Curve> = turns
        .iter()
        .enumerate()
        .filter_map(|(index, turn)| Curve::of(turn, index))
        .collect();
    let largest = curves.iter().map(Curve::largest_um).fold(0.0_f64, f64::max);
    if curves.is_empty() || largest <= 0.0 {
        return None;
    }
    let px_per_um = SWING / largest;
    // In inches a round bar is round in inches.
    let unit_um = units.length_unit_um();
    let bar_um = round_step(0.4 * largest / unit_um) * unit_um;
    let names: Vec<&str> = turns.iter().map(|turn| turn.name.as_str()).collect();
    Some(html! {
        svg class="polar" viewBox={ "-14 0 " (SIZE + 28.0) " " (SIZE) } role="img" aria-label={ "One turn: " (names.join("; ")) } {
            (frame())
            @for curve in &curves { (curve.draw(px_per_um)) }
            (scale_bar(bar_um * px_per_um, &units.length(bar_um)))
        }
        ul class="key" {
            @for curve in &curves {
                li {
                    svg viewBox="0 0 34 12" width="34" height="12" aria-hidden="true" {
                        path class={ "turn t" (curve.look) } d="M0 6 H34" {}
                        (point(curve.look, 17.0, 6.0))
                    }
                    " " (curve.name)
                    @if let Some(high) = curve.high_spot_deg { ", high spot at " (degrees(high)) }
                }
            }
        }
    })
}

struct Curve<'a> {
    name: &'a str,
    /// Which of the four looks.
    look: usize,
    /// Angle in degrees, deviation from the mean in µm.
    points: Vec<(f64, f64)>,
    /// Amplitude in µm and phase in degrees of once per turn.
    once: Option<(f64, f64)>,
    high_spot_deg: Option<f64>,
    closed: bool,
}

impl<'a> Curve<'a> {
    fn of(turn: &'a Turn, index: usize) -> Option<Self> {
        let (read, stepped) = match &turn.plane.readings {
            Readings::Stepped(stops) => (
                stops
                    .iter()
                    .map(|stop| (stop.angle_deg, stop.reading_um))
                    .collect(),
                true,
            ),
            Readings::Marked { readings, edges_s } => {
                let passing = readings
                    .iter()
                    .filter_map(|each| Some((angle_deg(edges_s, each.time_s)?, each.reading_um)));
                (passing.collect::<Vec<_>>(), false)
            }
            Readings::Free(_) | Readings::Noted(_) => return None,
        };
        if read.is_empty() {
            return None;
        }
        let count = f64::from(u32::try_from(read.len()).unwrap_or(u32::MAX));
        let mean = read.iter().map(|(_, reading)| reading).sum::<f64>() / count;
        let first = turn.result.harmonics.iter().find(|each| each.order == 1);
        Some(Self {
            name: &turn.name,
            look: index % 4,
            points: read
                .into_iter()
                .map(|(angle, reading)| (angle, reading - mean))
                .collect(),
            once: first.map(|each| (each.amplitude_um, each.phase_deg.unwrap_or(0.0))),
            high_spot_deg: turn.result.direction_deg,
            closed: stepped,
        })
    }

    fn largest_um(&self) -> f64 {
        self.points
            .iter()
            .map(|(_, deviation)| deviation.abs())
            .fold(0.0, f64::max)
    }

    fn draw(&self, px_per_um: f64) -> Markup {
        let place = |(angle, deviation): (f64, f64)| spot(angle, CIRCLE + px_per_um * deviation);
        let circle = self.once.map(|(amplitude, phase)| {
            let round = (0..=72_u8).map(|step| {
                let angle = 5.0 * f64::from(step);
                place((angle, amplitude * (angle - phase).to_radians().cos()))
            });
            path(round, false)
        });
        html! {
            @if let Some(circle) = circle { path class={ "turn t" (self.look) } d=(circle) {} }
            @if self.closed {
                @for at in self.points.iter().map(|each| place(*each)) { (point(self.look, at.0, at.1)) }
            } @else {
                path class="passing" d=(path(thinned(self.points.iter().map(|each| place(*each))), false)) {}
            }
            @if let (Some(high), Some((amplitude, _))) = (self.high_spot_deg, self.once) {
                (high_spot(self.look, high, CIRCLE + px_per_um * amplitude))
            }
        }
    }
}

/// Angle within its turn of a moment between two rising edges of the mark; none outside whole turns.
fn angle_deg(edges_s: &[f64], time_s: f64) -> Option<f64> {
    let turn = edges_s
        .windows(2)
        .find(|edges| (edges[0]..edges[1]).contains(&time_s))?;
    Some(360.0 * (time_s - turn[0]) / (turn[1] - turn[0]))
}

/// A place on the picture: 0° above, growing clockwise.
fn spot(angle_deg: f64, radius: f64) -> (f64, f64) {
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    (CENTRE + radius * sin, CENTRE - radius * cos)
}

fn path(points: impl Iterator<Item = (f64, f64)>, closed: bool) -> String {
    let mut text = String::new();
    for (index, (x, y)) in points.enumerate() {
        text.push(if index == 0 { 'M' } else { 'L' });
        text.push_str(&format!("{} {}", px(x), px(y)));
    }
    if closed {
        text.push('Z');
    }
    text
}

/// Leaves out points nearer to the last one than the eye can tell: minutes of turning would fill the file.
fn thinned(points: impl Iterator<Item = (f64, f64)>) -> impl Iterator<Item = (f64, f64)> {
    const LEAST_PX: f64 = 0.6;
    let mut last: Option<(f64, f64)> = None;
    points.filter(move |point| {
        let far = last.is_none_or(|at| (point.0 - at.0).hypot(point.1 - at.1) >= LEAST_PX);
        if far {
            last = Some(*point);
        }
        far
    })
}

/// The true circle, the cross and the angles.
fn frame() -> Markup {
    html! {
        circle class="grid" cx=(CENTRE) cy=(CENTRE) r=(CIRCLE) {}
        circle class="axis" cx=(CENTRE) cy=(CENTRE) r=(RING) {}
        @for step in 0..12_u8 {
            @let angle = 30.0 * f64::from(step);
            @let inner = spot(angle, RING);
            @let outer = spot(angle, RING + 4.0);
            path class="axis" d=(path([inner, outer].into_iter(), false)) {}
            @if step % 3 == 0 {
                @let at = spot(angle, RING + 14.0);
                text class="small middle" x=(px(at.0)) y=(px(at.1 + 3.0)) { (degrees(angle)) }
            }
        }
        path class="grid" d={ "M" (CENTRE - 8.0) " " (CENTRE) " h16 M" (CENTRE) " " (CENTRE - 8.0) " v16" } {}
    }
}

/// A high spot: the plane's point on the outer ring, tied to the top of its curve.
fn high_spot(look: usize, angle_deg: f64, radius: f64) -> Markup {
    let on_ring = spot(angle_deg, RING);
    html! {
        path class="tie" d=(path([spot(angle_deg, radius), on_ring].into_iter(), false)) {}
        (point(look, on_ring.0, on_ring.1))
    }
}

fn point(look: usize, x: f64, y: f64) -> Markup {
    let at = |dx: f64, dy: f64| (x + dx, y + dy);
    match look {
        0 => html! { circle class="point full" cx=(px(x)) cy=(px(y)) r="3.2" {} },
        1 => html! { rect class="point" x=(px(x - 3.0)) y=(px(y - 3.0)) width="6" height="6" {} },
        2 => {
            let corners = [at(0.0, -4.0), at(3.6, 2.6), at(-3.6, 2.6)];
            html! { path class="point" d=(path(corners.into_iter(), true)) {} }
        }
        _ => {
            let strokes = [
                [at(-3.0, -3.0), at(3.0, 3.0)],
                [at(-3.0, 3.0), at(3.0, -3.0)],
            ];
            html! { path class="point" d=(strokes.map(|stroke| path(stroke.into_iter(), false)).concat()) {} }
        }
    }
}

fn scale_bar(length: f64, name: &str) -> Markup {
    let (x, y) = (8.0, SIZE - 8.0);
    html! {
        path class="axis" d={ "M" (x) " " (y - 4.0) " v8 M" (x) " " (y) " h" (px(length)) " m0 -4 v8" } {}
        text class="small" x=(px(x + length + 5.0)) y=(y + 3.5) { (name) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_turn_keeps_its_shape_and_not_its_size() {
        let around = (0..100_000_u32).map(|step| spot(f64::from(step) * 0.0036, CIRCLE));
        let kept: Vec<_> = thinned(around).collect();
        assert!((500..1_000).contains(&kept.len()), "{}", kept.len());
        let lowest = kept
            .iter()
            .map(|point| point.1)
            .fold(f64::INFINITY, f64::min);
        assert!((lowest - (CENTRE - CIRCLE)).abs() < 0.6);
    }
}
