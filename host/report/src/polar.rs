//! One turn seen along the spindle: how the surface stands off a true circle, much enlarged.
//!
//! In: the planes at one height with their readings. Out: one SVG. Planes are told apart by the shape of their points and
//! the dashes of their circle, so that a black-and-white print loses nothing.

use crate::picture::{HAIR, INK, Label, Pen, Picture, SOFT, WHITE};
use crate::scale::round_step;
use holdtrue_metrology::runout::PlaneResult;
use holdtrue_metrology::runout::{Plane, Readings};
use holdtrue_wording::digits::{Units, degrees};

const WIDTH: f64 = 236.0;
const SIZE: f64 = 160.0;
const CENTRE: (f64, f64) = (WIDTH / 2.0, SIZE / 2.0 + HEAD);
/// Room of the name over it.
const HEAD: f64 = 13.0;
/// Where a reading equal to the mean lies, from the centre.
const CIRCLE: f64 = 46.0;
/// What the largest deviation is drawn as.
const SWING: f64 = 16.0;

/// The outer ring, where high spots are marked, from the centre.
const RING: f64 = CIRCLE + SWING + 4.0;
/// From one line of the key to the next.
const KEY: f64 = 11.5;
const LINES: [&[f64]; 4] = [&[], &[4.0, 2.0], &[1.4, 1.8], &[6.0, 1.5, 1.5, 1.5]];

/// A plane and what was read in it.
pub(crate) struct Turn<'a> {
    pub name: String,
    pub result: &'a PlaneResult,
    pub plane: &'a Plane,
}

/// The picture of the planes at one height; none where no plane has angles.
pub(crate) fn polar(units: &Units, title: &str, turns: &[Turn]) -> Option<Picture> {
    let curves: Vec<Curve> = turns
        .iter()
        .enumerate()
        .filter_map(|(index, turn)| Curve::of(turn, index))
        .collect();
    let largest = curves.iter().map(Curve::largest_um).fold(0.0_f64, f64::max);
    if curves.is_empty() || largest <= 0.0 {
        return None;
    }
    let per_um = SWING / largest;
    // In inches a round bar is round in inches.
    let unit_um = units.length_unit_um();
    let bar_um = round_step(0.4 * largest / unit_um) * unit_um;
    #[expect(clippy::cast_precision_loss, reason = "a few curves")]
    let mut picture = Picture::new(WIDTH, SIZE + HEAD + 10.0 + KEY * curves.len() as f64);
    let keys: Vec<String> = curves.iter().map(Curve::key).collect();
    picture.title = title.to_owned();
    picture.description = format!("One turn seen along the spindle. {}.", keys.join("; "));
    picture.label(Label::new(0.0, 9.0, title).strong().size(9.0));
    frame(&mut picture);
    for curve in &curves {
        curve.draw(&mut picture, per_um);
    }
    scale_bar(&mut picture, bar_um * per_um, &units.length(bar_um));
    let mut y = SIZE + HEAD + 14.0;
    for (curve, key) in curves.iter().zip(keys) {
        picture.line(
            (2.0, y - 2.7),
            (26.0, y - 2.7),
            Pen::line(0.9, INK).dashed(LINES[curve.look]),
        );
        point(&mut picture, curve.look, (14.0, y - 2.7));
        picture.label(Label::new(31.0, y, key));
        y += KEY;
    }
    Some(picture)
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

    fn key(&self) -> String {
        match self.high_spot_deg {
            Some(high) => format!("{}, high spot at {}", self.name, degrees(high)),
            None => self.name.to_owned(),
        }
    }

    fn draw(&self, picture: &mut Picture, per_um: f64) {
        let place = |(angle, deviation): (f64, f64)| spot(angle, CIRCLE + per_um * deviation);
        if let Some((amplitude, phase)) = self.once {
            let round = (0..=72_u8).map(|step| {
                let angle = 5.0 * f64::from(step);
                place((angle, amplitude * (angle - phase).to_radians().cos()))
            });
            picture.path(round, Pen::line(0.9, INK).dashed(LINES[self.look]));
        }
        if self.closed {
            for at in &self.points {
                point(picture, self.look, place(*at));
            }
        } else {
            let passing = thinned(self.points.iter().map(|each| place(*each)));
            picture.path(passing, Pen::line(0.4, SOFT));
        }
        if let (Some(high), Some((amplitude, _))) = (self.high_spot_deg, self.once) {
            let on_ring = spot(high, RING);
            picture.line(
                spot(high, CIRCLE + per_um * amplitude),
                on_ring,
                Pen::line(0.5, SOFT),
            );
            point(picture, self.look, on_ring);
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
    (CENTRE.0 + radius * sin, CENTRE.1 - radius * cos)
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
fn frame(picture: &mut Picture) {
    picture.ring(CENTRE, CIRCLE, Pen::line(0.5, HAIR));
    picture.ring(CENTRE, RING, Pen::line(0.6, SOFT));
    for step in 0..12_u8 {
        let angle = 30.0 * f64::from(step);
        picture.line(
            spot(angle, RING),
            spot(angle, RING + 3.0),
            Pen::line(0.6, SOFT),
        );
    }
    for (angle, label) in [
        (0.0, Label::new(0.0, 0.0, degrees(0.0)).middle()),
        (90.0, Label::new(0.0, 0.0, degrees(90.0))),
        (180.0, Label::new(0.0, 0.0, degrees(180.0)).middle()),
        (270.0, Label::new(0.0, 0.0, degrees(270.0)).end()),
    ] {
        let at = spot(angle, RING + 8.0);
        picture.label(Label {
            x: at.0,
            y: at.1 + 2.7,
            ..label
        });
    }
    let (x, y) = CENTRE;
    picture.line((x - 6.0, y), (x + 6.0, y), Pen::line(0.5, HAIR));
    picture.line((x, y - 6.0), (x, y + 6.0), Pen::line(0.5, HAIR));
}

/// Told apart by its shape, not by a colour.
pub(crate) fn point(picture: &mut Picture, look: usize, (x, y): (f64, f64)) {
    let open = Pen::line(0.8, INK).filled(WHITE);
    match look {
        0 => picture.ring((x, y), 2.2, Pen::fill(INK)),
        1 => picture.block([x - 2.1, y - 2.1, x + 2.1, y + 2.1], open),
        2 => picture.area([(x, y - 2.8), (x + 2.5, y + 1.8), (x - 2.5, y + 1.8)], open),
        _ => {
            picture.line((x - 2.1, y - 2.1), (x + 2.1, y + 2.1), Pen::line(0.9, INK));
            picture.line((x - 2.1, y + 2.1), (x + 2.1, y - 2.1), Pen::line(0.9, INK));
        }
    }
}

fn scale_bar(picture: &mut Picture, length: f64, name: &str) {
    let (x, y) = (2.0, SIZE + HEAD - 1.0);
    let pen = Pen::line(0.7, INK);
    picture.line((x, y), (x + length, y), pen);
    picture.line((x, y - 3.0), (x, y + 3.0), pen);
    picture.line((x + length, y - 3.0), (x + length, y + 3.0), pen);
    picture.label(Label::new(x + length + 4.0, y + 2.7, name));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_turn_keeps_its_shape_and_not_its_size() {
        let around = (0..100_000_u32).map(|step| spot(f64::from(step) * 0.0036, CIRCLE));
        let kept: Vec<_> = thinned(around).collect();
        assert!((300..1_000).contains(&kept.len()), "{}", kept.len());
        let lowest = kept
            .iter()
            .map(|point| point.1)
            .fold(f64::INFINITY, f64::min);
        assert!((lowest - (CENTRE.1 - CIRCLE)).abs() < 0.6);
    }
}
