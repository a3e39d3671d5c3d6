//! In: one plane to be measured, time from the first sample, what the gauge's light shows. Out: what the indicator's plunger
//! feels, in µm, whether the once-per-turn mark is in front of its sensor, and the contact of the button.

use holdtrue_protocol::message::Signal;

use crate::chips::button::Contact;
use crate::condition::Faults;
use crate::operator::stepping::StepHabits;
use crate::operator::turning::{Turning, Way};
use crate::random::{Range, Stream, Topic, range};
use crate::world::spindle::{Spindle, Vector};

/// Where the indicator stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// On the taper's wall, square to it.
    Wall,
    /// On the test bar.
    Bar,
    /// On the face of the nose.
    Face,
    /// On the axis, axially.
    Axial,
}

/// One plane of a visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaneSetup {
    /// Where the indicator stands.
    pub at: At,
    /// From the nose face outward, inside the taper negative.
    pub height_mm: f64,
    /// Seating of the bar, counted from 1 as people do.
    pub seating: u32,
    /// How far the bar is turned in the spindle.
    pub orientation_deg: f64,
    /// How the spindle is turned.
    pub way: Way,
}

/// What a test sets that the seed would draw otherwise.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Prescribed {
    /// Total indicator reading of every plane, µm: once round and nothing else, neither bearings nor form.
    pub runout_um: Option<f64>,
    /// Noise of the plunger at rest, µm, standard deviation: as that of holder and floor, it wanders within 50 ms.
    pub noise_um: Option<f64>,
}

/// The planes of a whole visit, in the order a technician takes them: the wall at two depths, then the bar near the
/// nose and far out in four seatings, half a turn between them.
pub fn visit_planes(stops: u16) -> Vec<PlaneSetup> {
    let way = Way::Stepped { stops };
    let wall = |height_mm| PlaneSetup {
        at: At::Wall,
        height_mm,
        seating: 0,
        orientation_deg: 0.0,
        way,
    };
    let mut planes = vec![wall(-8.0), wall(-43.0)];
    for seating in 1..=4_u32 {
        let orientation_deg = if seating % 2 == 1 { 0.0 } else { 180.0 };
        for height_mm in [20.0, 300.0] {
            planes.push(PlaneSetup {
                at: At::Bar,
                height_mm,
                seating,
                orientation_deg,
                way,
            });
        }
    }
    planes
}

/// Non-repeating motion of the bearings: amplitude, and turns of the cage per turn of the spindle.
const BEARINGS_UM: Range = range(0.05, 0.3);
const CAGE: Range = range(0.40, 0.45);
/// Noise of holder and floor.
const FLOOR_UM: Range = range(0.02, 0.08);
/// Machine warming or cooling, µm a minute.
const DRIFT_UM_PER_MIN: Range = range(-1.0, 1.0);
/// Head settling after its brake was let go.
const SETTLING_UM: Range = range(-3.0, 3.0);
const SETTLING_S: Range = range(0.5, 1.2);
/// What a pushing hand bends, and how quickly it springs back.
const PUSHED_UM: Range = range(0.5, 2.5);
const SPRING_BACK_S: f64 = 0.12;
/// A hand never pushes evenly: what its push wanders by, and how fast.
const TREMOR_UM: f64 = 0.8;
const TREMOR_S: f64 = 0.05;
/// Indicator set down on the surface: some way into its travel.
const PRELOAD_UM: Range = range(120.0, 400.0);
/// Length of the mark.
const MARK_DEG: f64 = 9.0;
/// Where the mark stands when the bar or wall is at its first position.
const MARK_AT_DEG: Range = range(30.0, 330.0);
/// Physics is computed in steps of this length.
const STEP_S: f64 = 0.001;

/// Spindle, indicator and operator while one plane is measured.
#[derive(Clone, Debug)]
pub struct PlaneWorld {
    spindle: Spindle,
    setup: PlaneSetup,
    prescribed: Option<Vector>,
    turning: Turning,
    contact: Contact,
    noise: Stream,
    bearings_um: f64,
    bearings_rad: f64,
    cage: f64,
    floor_um: f64,
    drift_um_per_s: f64,
    settling_um: f64,
    settling_s: f64,
    pushed_um: f64,
    push_um: f64,
    tremor_um: f64,
    preload_um: f64,
    mark_at_deg: f64,
    step: u64,
    wander_um: f64,
    before_um: f64,
    now_um: f64,
    mark: bool,
    angle_deg: f64,
}

impl PlaneWorld {
    /// Plane number `plane` (from 0) of the visit of this seed.
    pub fn new(seed: u64, faults: &Faults, plane: u64, setup: PlaneSetup) -> Self {
        let (habits, prescribed) = (StepHabits::default(), Prescribed::default());
        Self::with(seed, faults, plane, setup, habits, prescribed)
    }

    /// The same with an operator of these habits, and with what is prescribed.
    pub fn with(
        seed: u64,
        faults: &Faults,
        plane: u64,
        setup: PlaneSetup,
        habits: StepHabits,
        prescribed: Prescribed,
    ) -> Self {
        let mut draw = Stream::new(seed, Topic::Bearings, plane);
        let mut world = Self {
            spindle: Spindle::new(seed, faults),
            setup,
            prescribed: prescribed.runout_um.map(|tir_um| {
                let direction = range(0.0, std::f64::consts::TAU);
                let rad = Stream::new(seed, Topic::Prescribed, plane).within(direction);
                Vector::polar(0.5 * tir_um, rad)
            }),
            turning: Turning::new(seed, plane, setup.way, habits),
            contact: Contact::new(seed, plane),
            bearings_um: draw.within(BEARINGS_UM),
            bearings_rad: draw.within(range(0.0, std::f64::consts::TAU)),
            cage: draw.within(CAGE),
            floor_um: draw.within(FLOOR_UM),
            drift_um_per_s: draw.within(DRIFT_UM_PER_MIN) / 60.0,
            settling_um: draw.within(SETTLING_UM),
            settling_s: draw.within(SETTLING_S),
            pushed_um: draw.within(PUSHED_UM),
            push_um: 0.0,
            tremor_um: 0.0,
            preload_um: draw.within(PRELOAD_UM),
            mark_at_deg: draw.within(MARK_AT_DEG),
            noise: draw,
            step: 0,
            wander_um: 0.0,
            before_um: 0.0,
            now_um: 0.0,
            mark: false,
            angle_deg: 0.0,
        };
        if let Some(noise_um) = prescribed.noise_um {
            world.floor_um = noise_um;
        }
        world.feel(0.0);
        world.before_um = world.now_um;
        world
    }

    /// Plunger position, µm; time only goes forward.
    pub fn plunger_um(&mut self, at_s: f64) -> f64 {
        self.pass_to(at_s);
        let back = ((self.step as f64) - at_s / STEP_S).clamp(0.0, 1.0);
        self.now_um + (self.before_um - self.now_um) * back
    }

    /// Whether the mark is in front of its sensor.
    pub fn mark(&mut self, at_s: f64) -> bool {
        self.pass_to(at_s);
        self.mark
    }

    /// Whether the button's contact is closed.
    pub fn contact(&mut self, at_s: f64) -> bool {
        self.pass_to(at_s);
        self.contact.is_closed()
    }

    /// The light shows a signal from this time on, which is not past; shown when the plane begins, from 0 s on.
    pub fn light_shows(&mut self, signal: Signal, at_s: f64) {
        self.turning.light_shows(signal, at_s);
    }

    /// What is prescribed of the surface: where its high spot faces the indicator, and half its runout. For tests.
    pub fn prescribed(&self) -> Option<Vector> {
        self.prescribed
    }

    /// How far the spindle is turned, for tests.
    pub fn angle_deg(&self) -> f64 {
        self.angle_deg
    }

    /// The geometry, for tests.
    pub fn spindle(&self) -> &Spindle {
        &self.spindle
    }

    /// What is done to the spindle, for tests.
    pub fn turning(&self) -> &Turning {
        &self.turning
    }

    /// What this plane is.
    pub fn setup(&self) -> PlaneSetup {
        self.setup
    }

    /// Angle at which the mark's leading edge passes its sensor, for tests.
    pub fn mark_at_deg(&self) -> f64 {
        self.mark_at_deg
    }

    fn pass_to(&mut self, at_s: f64) {
        while (self.step as f64) * STEP_S < at_s {
            self.step += 1;
            self.before_um = self.now_um;
            self.feel(self.step as f64 * STEP_S);
        }
    }

    fn feel(&mut self, at_s: f64) {
        let turned = self.turning.at(at_s);
        self.angle_deg = turned.angle_deg;
        self.contact.feel(turned.pressed);
        let past_mark = (turned.angle_deg - self.mark_at_deg).rem_euclid(360.0);
        self.mark = past_mark < MARK_DEG;
        let kept = 1.0 - STEP_S / TREMOR_S;
        self.tremor_um =
            kept * self.tremor_um + (1.0 - kept * kept).sqrt() * TREMOR_UM * self.noise.normal();
        let aim_um = if turned.pushed {
            self.pushed_um + self.tremor_um
        } else {
            0.0
        };
        self.push_um += (aim_um - self.push_um) * STEP_S / SPRING_BACK_S;
        self.wander_um = 0.98 * self.wander_um + 0.2 * self.floor_um * self.noise.normal();
        let settling = self.settling_um * libm::exp(-at_s / self.settling_s);
        let moved = self.drift_um_per_s * at_s + settling + self.push_um + self.wander_um;
        let angle_rad = turned.angle_deg.to_radians();
        let surface_um = match self.prescribed {
            Some(high_spot) => high_spot.facing_um(angle_rad),
            None => self.surface_um(angle_rad) + self.bearing_um(angle_rad),
        };
        self.now_um = self.preload_um + surface_um + moved;
    }

    fn surface_um(&self, angle_rad: f64) -> f64 {
        let PlaneSetup {
            at,
            height_mm,
            seating,
            orientation_deg,
            ..
        } = self.setup;
        match at {
            At::Wall => self.spindle.wall_um(height_mm, angle_rad),
            At::Bar => self
                .spindle
                .bar_um(height_mm, seating.into(), orientation_deg, angle_rad),
            At::Face => self.spindle.face_um(angle_rad),
            At::Axial => self.spindle.axial_um(angle_rad),
        }
    }

    /// The cage goes round at less than half the spindle's turns and not in step with it.
    fn bearing_um(&self, angle_rad: f64) -> f64 {
        self.bearings_um * libm::sin(self.cage * angle_rad + self.bearings_rad)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn setup(way: Way) -> PlaneSetup {
        PlaneSetup {
            at: At::Bar,
            height_mm: 300.0,
            seating: 1,
            orientation_deg: 0.0,
            way,
        }
    }

    #[test]
    fn at_rest_the_plunger_shows_the_bar_s_axis() {
        let setup = setup(Way::Stepped { stops: 4 });
        let own_rhythm = StepHabits {
            follows_light: false,
            ..StepHabits::default()
        };
        let prescribed = Prescribed::default();
        let mut world = PlaneWorld::with(8, &Faults::default(), 0, setup, own_rhythm, prescribed);
        let rests = world.turning().rests();
        let long: Vec<_> = rests
            .iter()
            .filter(|rest| rest.1 - rest.0 > 1.0)
            .copied()
            .collect();
        let readings: Vec<f64> = long
            .iter()
            .take(4)
            .map(|rest| world.plunger_um(rest.1.min(rest.0 + 9.0) - 0.2))
            .collect();
        let axis = world.spindle().bar_axis_um(300.0, 1, 0.0);
        let across = 0.5 * (readings[0] - readings[2]);
        assert!(
            (across - axis.x_um).abs() < 1.2,
            "{across} against {}",
            axis.x_um
        );
    }

    #[test]
    fn the_mark_passes_once_a_turn() {
        let setup = setup(Way::Free { turns: 4 });
        let mut world = PlaneWorld::new(21, &Faults::default(), 2, setup);
        let end = world.turning().ends_s();
        let (mut before, mut rising, mut at_s) = (world.mark(0.0), 0, 0.0);
        while at_s < end {
            at_s += 0.001;
            let now = world.mark(at_s);
            rising += u32::from(now && !before);
            before = now;
        }
        assert!((4..=6).contains(&rising), "{rising}");
    }
}
