//! In: a seed and the machine's faults. Out: where the taper's and the bar's surfaces run, in µm, at any height,
//! angle and seating.
//!
//! Plane vectors are complex numbers in the spindle's frame: their argument is the angle by which the spindle must be
//! turned for the high spot to face the indicator. The bar turned by `o` in the spindle carries its own part along.

use crate::condition::Faults;
use crate::random::{Range, Stream, Topic, range};

/// A 7/24 taper's radius falls 7 in 48; the diagonal of that triangle, squared: 7² + 48².
const SLANT_SQUARED: f64 = 2_353.0;

/// Eccentricity of the taper at the nose, and change of it along the axis: a spindle in order.
const ECCENTRIC_UM: Range = range(0.2, 1.1);
const TILT_UM_PER_M: Range = range(1.0, 8.0);
/// A tilted taper.
const TILTED_UM_PER_M: Range = range(70.0, 130.0);
/// Wall out of round: ovality and three lobes, amplitude.
const OVAL_UM: Range = range(0.1, 0.6);
const LOBED_UM: Range = range(0.02, 0.2);
/// Face of the nose out of square, and axial motion once per turn.
const FACE_UM: Range = range(0.3, 1.5);
const AXIAL_UM: Range = range(0.1, 0.6);
/// Test bar: eccentricity at the nose, bend at 300 mm, out of round.
const BAR_UM: Range = range(0.1, 0.6);
const BAR_BEND_UM: Range = range(0.3, 1.5);
const BENT_UM: Range = range(14.0, 40.0);
const BAR_OVAL_UM: Range = range(0.1, 0.4);
/// Seat: scatter at the nose and as tilt, clean and with loose dirt.
const SEAT_UM: Range = range(0.1, 0.4);
const SEAT_TILT_UM_PER_M: Range = range(1.0, 4.0);
const DIRT_UM: Range = range(1.0, 3.0);
const DIRT_TILT_UM_PER_M: Range = range(25.0, 70.0);
/// Dirt stuck in the taper: lifts the bar the same way every time.
const STUCK_UM: Range = range(0.8, 2.5);
const STUCK_TILT_UM_PER_M: Range = range(45.0, 110.0);
/// Length of bar its bend is stated at.
const BAR_LENGTH_MM: f64 = 300.0;

/// A vector in the plane across the axis, µm.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Vector {
    /// Towards angle 0.
    pub x_um: f64,
    /// Towards 90°.
    pub y_um: f64,
}

impl Vector {
    /// From length and direction.
    pub fn polar(length_um: f64, direction_rad: f64) -> Self {
        Self {
            x_um: length_um * libm::cos(direction_rad),
            y_um: length_um * libm::sin(direction_rad),
        }
    }

    /// Its length.
    pub fn length_um(self) -> f64 {
        libm::hypot(self.x_um, self.y_um)
    }

    /// Its direction, degrees in [0, 360).
    pub fn direction_deg(self) -> f64 {
        libm::atan2(self.y_um, self.x_um)
            .to_degrees()
            .rem_euclid(360.0)
    }

    /// Turned counter-clockwise.
    #[must_use]
    pub fn turned(self, by_rad: f64) -> Self {
        let (sin, cos) = (libm::sin(by_rad), libm::cos(by_rad));
        Self {
            x_um: self.x_um * cos - self.y_um * sin,
            y_um: self.x_um * sin + self.y_um * cos,
        }
    }

    /// Sum.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            x_um: self.x_um + other.x_um,
            y_um: self.y_um + other.y_um,
        }
    }

    /// Multiple.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            x_um: self.x_um * factor,
            y_um: self.y_um * factor,
        }
    }

    /// What an indicator at angle 0 reads when the spindle is turned by `angle_rad`.
    pub fn facing_um(self, angle_rad: f64) -> f64 {
        self.x_um * libm::cos(angle_rad) + self.y_um * libm::sin(angle_rad)
    }
}

/// A vector that changes evenly along the axis.
#[derive(Clone, Copy, Debug, Default)]
struct Leaning {
    at_nose: Vector,
    per_mm: Vector,
}

impl Leaning {
    fn at(self, height_mm: f64) -> Vector {
        self.at_nose.plus(self.per_mm.times(height_mm))
    }
}

/// A deviation from round: so many lobes, so high, pointing so.
#[derive(Clone, Copy, Debug)]
struct Lobes {
    count: f64,
    height_um: f64,
    direction_rad: f64,
}

impl Lobes {
    fn at(self, angle_rad: f64) -> f64 {
        self.height_um * libm::cos(self.count * angle_rad - self.direction_rad)
    }
}

/// Taper, face and test bar of a visit.
#[derive(Clone, Debug)]
pub struct Spindle {
    seed: u64,
    taper: Leaning,
    stuck: Leaning,
    wall_oval: Lobes,
    wall_lobes: Lobes,
    face_um: Vector,
    axial_um: Vector,
    bar: Vector,
    bend: Vector,
    bend_power: f64,
    bar_oval: Lobes,
    seat_um: f64,
    seat_tilt_um_per_mm: f64,
}

/// Draws a direction.
fn anywhere(draw: &mut Stream) -> f64 {
    draw.within(range(0.0, std::f64::consts::TAU))
}

fn vector(draw: &mut Stream, length: Range) -> Vector {
    let length_um = draw.within(length);
    Vector::polar(length_um, anywhere(draw))
}

fn lobes(draw: &mut Stream, count: f64, height: Range) -> Lobes {
    Lobes {
        count,
        height_um: draw.within(height),
        direction_rad: anywhere(draw),
    }
}

impl Spindle {
    /// The spindle and bar of a seed.
    pub fn new(seed: u64, faults: &Faults) -> Self {
        let mut draw = Stream::new(seed, Topic::Spindle, 0);
        let eccentric = vector(&mut draw, ECCENTRIC_UM);
        let tilt = vector(&mut draw, TILT_UM_PER_M);
        let tilted = vector(&mut draw, TILTED_UM_PER_M).times(faults.tilted_taper.share());
        let stuck = vector(&mut draw, STUCK_UM).times(faults.stuck_dirt.share());
        let stuck_tilt = vector(&mut draw, STUCK_TILT_UM_PER_M).times(faults.stuck_dirt.share());
        let bent = vector(&mut draw, BENT_UM).times(faults.bent_bar.share());
        let dirt = faults.loose_dirt.share();
        Self {
            seed,
            taper: Leaning {
                at_nose: eccentric,
                per_mm: tilt.plus(tilted).times(1e-3),
            },
            stuck: Leaning {
                at_nose: stuck,
                per_mm: stuck_tilt.times(1e-3),
            },
            wall_oval: lobes(&mut draw, 2.0, OVAL_UM),
            wall_lobes: lobes(&mut draw, 3.0, LOBED_UM),
            face_um: vector(&mut draw, FACE_UM),
            axial_um: vector(&mut draw, AXIAL_UM),
            bar: vector(&mut draw, BAR_UM),
            bend: vector(&mut draw, BAR_BEND_UM).plus(bent),
            bend_power: draw.within(range(1.0, 1.8)),
            bar_oval: lobes(&mut draw, 2.0, BAR_OVAL_UM),
            seat_um: draw.within(SEAT_UM) + dirt * draw.within(DIRT_UM),
            seat_tilt_um_per_mm: 1e-3
                * (draw.within(SEAT_TILT_UM_PER_M) + dirt * draw.within(DIRT_TILT_UM_PER_M)),
        }
    }

    /// Once-per-turn part of the taper itself, height from the nose face outward.
    pub fn taper_um(&self, height_mm: f64) -> Vector {
        self.taper.at(height_mm)
    }

    /// What the spindle gives a perfect bar in every seating: taper and what is stuck in it.
    pub fn spindle_part_um(&self, height_mm: f64) -> Vector {
        self.taper.at(height_mm).plus(self.stuck.at(height_mm))
    }

    /// The bar's own part, in the bar's frame.
    pub fn bar_part_um(&self, height_mm: f64) -> Vector {
        let along = libm::pow((height_mm / BAR_LENGTH_MM).max(0.0), self.bend_power);
        self.bar.plus(self.bend.times(along))
    }

    /// What seating number `seating` adds, in the spindle's frame.
    pub fn seat_um(&self, seating: u64, height_mm: f64) -> Vector {
        let mut draw = Stream::new(self.seed, Topic::Seating, seating);
        let mut scatter = |size: f64| Vector {
            x_um: size * draw.normal(),
            y_um: size * draw.normal(),
        };
        let seat = Leaning {
            at_nose: scatter(self.seat_um),
            per_mm: scatter(self.seat_tilt_um_per_mm),
        };
        seat.at(height_mm)
    }

    /// Vector of the bar's axis in one seating, the bar turned by `orientation_deg`.
    pub fn bar_axis_um(&self, height_mm: f64, seating: u64, orientation_deg: f64) -> Vector {
        self.spindle_part_um(height_mm)
            .plus(
                self.bar_part_um(height_mm)
                    .turned(orientation_deg.to_radians()),
            )
            .plus(self.seat_um(seating, height_mm))
    }

    /// Bar's surface towards the indicator.
    pub fn bar_um(
        &self,
        height_mm: f64,
        seating: u64,
        orientation_deg: f64,
        angle_rad: f64,
    ) -> f64 {
        let axis = self.bar_axis_um(height_mm, seating, orientation_deg);
        // An ovality turns with the bar: turned by o it points o further on.
        let on_bar = angle_rad - orientation_deg.to_radians();
        axis.facing_um(angle_rad) + self.bar_oval.at(on_bar)
    }

    /// Taper wall towards an indicator square to the wall.
    pub fn wall_um(&self, height_mm: f64, angle_rad: f64) -> f64 {
        let radial = self.taper.at(height_mm).facing_um(angle_rad);
        let across = radial * 48.0 / SLANT_SQUARED.sqrt();
        across + self.wall_oval.at(angle_rad) + self.wall_lobes.at(angle_rad)
    }

    /// Face of the nose towards the indicator.
    pub fn face_um(&self, angle_rad: f64) -> f64 {
        self.face_um.facing_um(angle_rad) + self.axial_um(angle_rad)
    }

    /// Axial motion of the spindle.
    pub fn axial_um(&self, angle_rad: f64) -> f64 {
        self.axial_um.facing_um(angle_rad)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::{Condition, Severity};

    fn spindle(seed: u64, condition: Condition) -> Spindle {
        Spindle::new(seed, &condition.faults(Severity::CLEAR))
    }

    #[test]
    fn a_sound_spindle_runs_true_and_a_tilted_one_does_not() {
        for seed in 0..200 {
            let sound = spindle(seed, Condition::Sound);
            assert!(sound.spindle_part_um(0.0).length_um() < 1.2);
            assert!(sound.spindle_part_um(300.0).length_um() < 4.0);
            let tilted = spindle(seed, Condition::TiltedTaper);
            assert!(tilted.spindle_part_um(300.0).length_um() > 12.0);
            let along_wall = tilted
                .taper_um(-8.0)
                .plus(tilted.taper_um(-43.0).times(-1.0));
            assert!(
                along_wall.length_um() > 2.0,
                "seed {seed}: the wall shows the tilt"
            );
        }
    }

    #[test]
    fn a_bent_bar_follows_the_bar_round() {
        for seed in 0..50 {
            let bent = spindle(seed, Condition::BentTestBar);
            let there = bent.bar_axis_um(300.0, 0, 0.0);
            let turned = bent.bar_axis_um(300.0, 1, 180.0);
            let sum = there.plus(turned).times(0.5).length_um();
            assert!(sum < 7.0 && there.length_um() > 9.0, "seed {seed}: {sum}");
            assert!(bent.spindle_part_um(300.0).length_um() < 4.0);
        }
    }

    #[test]
    fn loose_dirt_seats_differently_every_time_and_stuck_dirt_does_not() {
        for seed in 0..50 {
            let spread = |spindle: &Spindle| {
                let seats: Vec<Vector> = (0..12).map(|k| spindle.seat_um(k, 300.0)).collect();
                let square: f64 = seats.iter().map(|seat| seat.length_um().powi(2)).sum();
                (square / 24.0).sqrt()
            };
            assert!(spread(&spindle(seed, Condition::Sound)) < 2.5);
            assert!(spread(&spindle(seed, Condition::DirtyTaper)) > 3.5);
            let stuck = Faults {
                stuck_dirt: Severity::CLEAR,
                ..Faults::default()
            };
            let stuck = Spindle::new(seed, &stuck);
            assert!(spread(&stuck) < 2.5);
            assert!(stuck.spindle_part_um(300.0).length_um() > 8.0);
            assert!(stuck.taper_um(-30.0).length_um() < 1.5, "its wall is good");
        }
    }

    #[test]
    fn the_high_spot_faces_the_indicator_at_its_direction() {
        let vector = Vector::polar(3.0, 40_f64.to_radians());
        assert!((vector.facing_um(40_f64.to_radians()) - 3.0).abs() < 1e-12);
        assert!((vector.direction_deg() - 40.0).abs() < 1e-9);
    }
}
