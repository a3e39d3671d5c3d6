//! In: seed, faults, habits; time from the first sample. Out: the bridge signal averaged over one conversion,
//! and, for tests only, what was truly pulled.

use holdtrue_protocol::message::Signal;

use crate::condition::Faults;
use crate::operator::clamping::{ClampHabits, Clamping, Press};
use crate::random::{Range, Stream, Topic, range};
use crate::world::drawbar::{Clamp, Drawbar};
use crate::world::end_face::EndFace;
use crate::world::load_cell::LoadCell;

/// Physics is computed in steps of this length, whatever the sample rate: the same machine at every rate.
const STEP_S: f64 = 0.001;
/// Hand and shop floor: standard deviation, and how slowly it wanders.
const HANDLING_N: Range = range(1.0, 3.0);
const HANDLING_S: f64 = 0.02;
/// Mains picked up by the bridge leads.
const HUM_N: Range = range(0.2, 3.0);
const MAINS_HZ: f64 = 50.0;

/// Spindle, gauge and operator during a grip check.
#[derive(Clone, Debug)]
pub struct ForceWorld {
    drawbar: Drawbar,
    end_face: EndFace,
    operator: Clamping,
    cell: LoadCell,
    /// The clamp of now, or the last one.
    clamp: Option<Clamp>,
    done: Vec<TrueClamp>,
    handling: Handling,
    hum_n: f64,
    hum_rad: f64,
    step: u64,
    signal_mv_per_v: f64,
    mean: StepMean,
}

/// What truly happened in one clamp. For tests: nothing of it reaches the wire.
#[derive(Clone, Copy, Debug)]
pub struct TrueClamp {
    /// Counts from 0.
    pub number: u64,
    /// When the fingers touched the knob, seconds from the first sample.
    pub touch_s: f64,
    /// When the pull began to fall.
    pub let_go_s: f64,
    /// True pull once everything has settled, before leaks take it away.
    pub level_n: f64,
    /// How the gauge was turned.
    pub orientation_deg: f64,
    /// The operator let go too soon.
    pub short: bool,
    /// Somebody knocked the gauge.
    pub bumped: bool,
    clamp: Clamp,
}

impl TrueClamp {
    fn of(clamp: &Clamp) -> Self {
        Self {
            number: clamp.order.number,
            touch_s: clamp.touch_s(),
            let_go_s: clamp.let_go_s(),
            level_n: clamp.level_n,
            orientation_deg: clamp.order.orientation_deg,
            short: clamp.order.short,
            bumped: clamp.order.bump.is_some(),
            clamp: *clamp,
        }
    }

    /// True mean pull in the knob over a stretch of time, seconds from the first sample.
    pub fn mean_pull_n(&self, from_s: f64, to_s: f64) -> f64 {
        let parts = 400_u32;
        let width_s = (to_s - from_s) / f64::from(parts);
        let middle = |part| from_s + (f64::from(part) + 0.5) * width_s;
        let sum: f64 = (0..parts).map(|part| self.clamp.pull_n(middle(part))).sum();
        sum / f64::from(parts)
    }
}

#[derive(Clone, Debug)]
struct Handling {
    stream: Stream,
    deviation_n: f64,
    now_n: f64,
}

impl Handling {
    fn pass(&mut self) -> f64 {
        let kept = 1.0 - STEP_S / HANDLING_S;
        // Keeps the deviation of a first-order wander at `deviation_n` whatever the step.
        let fresh = (1.0 - kept * kept).sqrt();
        self.now_n = kept * self.now_n + fresh * self.deviation_n * self.stream.normal();
        self.now_n
    }
}

/// Integral of the stepwise-linear signal, to average it over a conversion.
#[derive(Clone, Copy, Debug, Default)]
struct StepMean {
    before: f64,
    after: f64,
    integral_to_step: f64,
}

impl StepMean {
    fn push(&mut self, value: f64) {
        self.integral_to_step += 0.5 * (self.after + value) * STEP_S;
        self.before = self.after;
        self.after = value;
    }

    /// Integral up to `back_s` before the newest step.
    fn integral(&self, back_s: f64) -> f64 {
        let there = self.after + (self.before - self.after) * back_s / STEP_S;
        self.integral_to_step - 0.5 * (self.after + there) * back_s
    }
}

impl ForceWorld {
    /// The world of a seed, at its first sample.
    pub fn new(seed: u64, faults: &Faults, habits: ClampHabits) -> Self {
        let drawbar = Drawbar::new(seed, faults);
        let operator = Clamping::new(seed, habits, drawbar.closing_s());
        let mut draw = Stream::new(seed, Topic::Handling, 0);
        let deviation_n = draw.within(HANDLING_N);
        let hum_n = draw.within(HUM_N);
        let hum_rad = draw.within(range(0.0, std::f64::consts::TAU));
        let mut world = Self {
            clamp: None,
            drawbar,
            end_face: EndFace::new(seed, faults),
            operator,
            cell: LoadCell::new(seed, faults),
            done: Vec::new(),
            handling: Handling {
                stream: draw,
                deviation_n,
                now_n: 0.0,
            },
            hum_n,
            hum_rad,
            step: 0,
            signal_mv_per_v: 0.0,
            mean: StepMean::default(),
        };
        world.signal_mv_per_v = world.feel(0.0);
        world.mean.after = world.signal_mv_per_v;
        world
    }

    /// Mean bridge signal from `from_s` to `to_s`, mV/V. Time only goes forward: `from_s` must not lie before the
    /// `to_s` of the call before.
    pub fn mean_signal_mv_per_v(&mut self, from_s: f64, to_s: f64) -> f64 {
        let start = self.integral_to(from_s);
        let end = self.integral_to(to_s);
        if to_s > from_s {
            (end - start) / (to_s - from_s)
        } else {
            self.signal_mv_per_v
        }
    }

    fn integral_to(&mut self, at_s: f64) -> f64 {
        while (self.step as f64) * STEP_S < at_s {
            self.step_on();
        }
        let back_s = ((self.step as f64) * STEP_S - at_s).clamp(0.0, STEP_S);
        self.mean.integral(back_s)
    }

    fn step_on(&mut self) {
        self.step += 1;
        let at_s = self.step as f64 * STEP_S;
        match self.operator.press(at_s) {
            Some(Press::Clamp(order)) => {
                let clamp = self.drawbar.clamp(order);
                self.done
                    .extend(self.clamp.replace(clamp).as_ref().map(TrueClamp::of));
            }
            Some(Press::Unclamp(at_s)) => {
                if let Some(clamp) = &mut self.clamp {
                    clamp.unclamp(at_s);
                }
            }
            None => {}
        }
        let in_contact = self.clamp.is_some_and(|clamp| clamp.in_contact(at_s));
        self.cell.pass(STEP_S, self.pull_n(at_s), in_contact);
        self.signal_mv_per_v = self.feel(at_s);
        self.mean.push(self.signal_mv_per_v);
    }

    /// The operator sees the light say something else.
    pub fn show(&mut self, signal: Signal, at_s: f64) {
        self.operator.see(signal, at_s);
    }

    fn pull_n(&self, at_s: f64) -> f64 {
        self.clamp.map_or(0.0, |clamp| clamp.pull_n(at_s))
    }

    fn feel(&mut self, at_s: f64) -> f64 {
        let handling_n = self.handling.pass();
        let turns = MAINS_HZ * at_s;
        let hum_n =
            self.hum_n * libm::sin(std::f64::consts::TAU * (turns - turns.floor()) + self.hum_rad);
        let pull_n = self.pull_n(at_s) + handling_n + hum_n;
        let off_axis = self.clamp.map_or(0.0, |clamp| clamp.closing.off_axis);
        self.cell.signal_mv_per_v(pull_n, off_axis)
    }

    /// Where the gauge's end face stands, mm, out of the spindle positive, 0 while clamped.
    pub fn end_face_mm(&self, at_s: f64) -> f64 {
        self.end_face
            .at_mm(self.clamp.as_ref(), self.operator.due_s(), at_s)
    }

    /// For tests: where the drawbar's stop is after so many clamps, mm.
    pub fn stop_mm(&self, clamps: u64) -> f64 {
        self.end_face.stop_mm(clamps)
    }

    /// The clamps that have ended so far, as they truly were.
    pub fn truth(&self) -> Vec<TrueClamp> {
        let mut clamps = self.done.clone();
        let now_s = self.step as f64 * STEP_S;
        let over = self.clamp.filter(|clamp| now_s > clamp.fallen_s());
        clamps.extend(over.as_ref().map(TrueClamp::of));
        clamps
    }

    /// Temperature of the gauge above where it began, kelvin.
    pub fn warmed_k(&self) -> f64 {
        self.cell.warmed_k()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::load_cell::{RATED_MV_PER_V, RATED_N};

    fn newtons(mv_per_v: f64) -> f64 {
        mv_per_v * RATED_N / RATED_MV_PER_V
    }

    fn record(seed: u64, rate_hz: f64, seconds: f64) -> Vec<f64> {
        let mut world = ForceWorld::new(seed, &Faults::default(), ClampHabits::default());
        let mut at = 0.0;
        let mut signal = Vec::new();
        while at < seconds {
            let next = at + 1.0 / rate_hz;
            signal.push(newtons(world.mean_signal_mv_per_v(at, next)));
            at = next;
        }
        signal
    }

    #[test]
    fn the_same_seed_gives_the_same_signal_to_the_last_bit() {
        let (one, again) = (record(11, 330.0, 12.0), record(11, 330.0, 12.0));
        assert!(
            one.iter()
                .zip(&again)
                .all(|(a, b)| a.to_bits() == b.to_bits())
        );
        assert_ne!(one, record(12, 330.0, 12.0));
    }

    #[test]
    fn the_mean_force_does_not_depend_on_the_sample_rate() {
        let mean = |conversions: u32| {
            let mut world = ForceWorld::new(3, &Faults::default(), ClampHabits::default());
            let at = |number| 10.0 * f64::from(number) / f64::from(conversions);
            let total: f64 = (0..conversions)
                .map(|number| world.mean_signal_mv_per_v(at(number), at(number + 1)))
                .sum();
            newtons(total / f64::from(conversions))
        };
        assert!(
            (mean(200) - mean(9_973)).abs() < 1e-6,
            "{} {}",
            mean(200),
            mean(9_973)
        );
    }

    #[test]
    fn the_truth_is_what_the_signal_shows() {
        let mut world = ForceWorld::new(5, &Faults::default(), ClampHabits::default());
        let zero = newtons(world.mean_signal_mv_per_v(0.2, 1.2));
        let mut found = 0;
        world.mean_signal_mv_per_v(59.0, 60.0);
        let truth = world.truth();
        let mut again = ForceWorld::new(5, &Faults::default(), ClampHabits::default());
        for clamp in truth.iter().filter(|clamp| !clamp.short && !clamp.bumped) {
            let held = again.mean_signal_mv_per_v(clamp.touch_s + 1.0, clamp.touch_s + 3.0);
            let pull_n = clamp.mean_pull_n(clamp.touch_s + 1.0, clamp.touch_s + 3.0);
            let error = (newtons(held) - zero) / pull_n - 1.0;
            assert!(error.abs() < 0.012, "clamp {}: {error}", clamp.number);
            found += 1;
        }
        assert!(found >= 4, "{found}");
    }
}
