//! In: faults, the clamp of now, when the next one is due. Out: where the gauge's end face stands, mm, out of the spindle
//! positive, 0 while clamped.
//!
//! The drawbar pushes the shank out to a stop, and the operator holds it up against that stop for a moment: after
//! unclamping, and before he clamps again. In between the gauge hangs in his hand, some millimetres lower.

use crate::condition::Faults;
use crate::random::{Range, Stream, Topic, range};
use crate::world::drawbar::Clamp;

/// What the maker of the rehearsal's spindle states for the push-out (an invented maker), mm.
pub const MAKER_MM: [f64; 2] = [0.4, 0.6];

/// A spindle in order.
const IN_ORDER_MM: Range = range(0.44, 0.56);
/// Drawbar set too far forward: pushed out by so much more, and what is left of the pull.
const FORWARD_MM: Range = range(0.35, 0.9);
const LEFT_FORWARD: Range = range(0.45, 0.62);
/// Unclamp cylinder that comes neither fully forward nor fully back: share of the push-out that is left, and of the pull.
const STROKE_LEFT: Range = range(0.15, 0.6);
const LEFT_PUSHED: Range = range(0.45, 0.62);
/// From unclamp to unclamp: a stop of steel, and a cylinder that stops where its pressure ends.
const STOP_SCATTER_MM: Range = range(0.002, 0.006);
const CYLINDER_SCATTER_MM: Range = range(0.006, 0.02);
/// A hand that holds it up, and one it hangs in: how far down, how far and how slowly it wanders.
const HELD_UP_MM: f64 = 0.002;
const HANGS_MM: Range = range(2.0, 4.0);
const WANDERS_MM: Range = range(0.3, 0.9);
const WANDERS_S: Range = range(0.5, 1.1);
/// Put up to the gripper so long before clamp is pressed, in so long; let down in so long, s.
const PUT_UP_S: f64 = 0.3;
const LIFT_S: f64 = 0.12;
const LET_DOWN_S: f64 = 0.25;

/// The end face of a visit.
#[derive(Clone, Debug)]
pub struct EndFace {
    seed: u64,
    push_out_mm: f64,
    scatter_mm: f64,
    pull_left: f64,
    hangs_mm: f64,
    wanders_mm: f64,
    wanders_s: f64,
}

impl EndFace {
    /// Of a machine with these faults.
    pub fn new(seed: u64, faults: &Faults) -> Self {
        let mut draw = Stream::new(seed, Topic::PushOut, 0);
        let in_order_mm = draw.within(IN_ORDER_MM);
        let forward_mm = faults.setting.share() * draw.within(FORWARD_MM);
        let lost = |share: f64, left: f64| 1.0 - share * (1.0 - left);
        let forward_left = lost(faults.setting.share(), draw.within(LEFT_FORWARD));
        let stroke_left = lost(faults.unclamp_cylinder.share(), draw.within(STROKE_LEFT));
        let pushed_left = lost(faults.unclamp_cylinder.share(), draw.within(LEFT_PUSHED));
        let stop_mm = draw.within(STOP_SCATTER_MM);
        let cylinder_mm = faults.unclamp_cylinder.share() * draw.within(CYLINDER_SCATTER_MM);
        Self {
            seed,
            push_out_mm: (in_order_mm + forward_mm) * stroke_left,
            scatter_mm: stop_mm + cylinder_mm,
            pull_left: forward_left * pushed_left,
            hangs_mm: draw.within(HANGS_MM),
            wanders_mm: draw.within(WANDERS_MM),
            wanders_s: draw.within(WANDERS_S),
        }
    }

    /// Share of the pull that setting and cylinder leave.
    pub fn pull_left(&self) -> f64 {
        self.pull_left
    }

    /// Where the drawbar's stop is after so many clamps, mm.
    pub fn stop_mm(&self, clamps: u64) -> f64 {
        let mut draw = Stream::new(self.seed, Topic::PushOut, 1 + clamps);
        (self.push_out_mm + self.scatter_mm * draw.normal()).max(0.0)
    }

    /// Where it stands now. `due_s`: when clamp is pressed next, as far as the operator knows.
    pub fn at_mm(&self, clamp: Option<&Clamp>, due_s: Option<f64>, at_s: f64) -> f64 {
        let Some(clamp) = clamp else {
            return self.in_hand_mm(self.stop_mm(0), f64::NEG_INFINITY, due_s, at_s);
        };
        let (before, after) = (clamp.order.number, clamp.order.number + 1);
        if at_s < clamp.touch_s() {
            return self.held_up_mm(self.stop_mm(before), at_s);
        }
        if at_s < clamp.fallen_s() {
            return self.stop_mm(before) * (1.0 - clamp.closed(at_s));
        }
        let stop_mm = self.stop_mm(after);
        let pushed = clamp.pushed_out(at_s);
        if pushed < 1.0 {
            return stop_mm * pushed;
        }
        self.in_hand_mm(stop_mm, clamp.lifted_off_s(), due_s, at_s)
    }

    /// Held up until `from_s`, let down, hanging, and put up again before the next clamp.
    fn in_hand_mm(&self, stop_mm: f64, from_s: f64, due_s: Option<f64>, at_s: f64) -> f64 {
        let down = smooth((at_s - from_s) / LET_DOWN_S);
        let up_s = due_s.map_or(f64::INFINITY, |due_s| due_s - PUT_UP_S);
        let up = smooth((at_s - (up_s - LIFT_S)) / LIFT_S);
        let low = down * (1.0 - up);
        let wander = libm::sin(std::f64::consts::TAU * at_s / self.wanders_s);
        self.held_up_mm(stop_mm, at_s) + low * (self.hangs_mm + self.wanders_mm * wander)
    }

    fn held_up_mm(&self, stop_mm: f64, at_s: f64) -> f64 {
        stop_mm + HELD_UP_MM * libm::sin(17.0 * at_s)
    }
}

fn smooth(through: f64) -> f64 {
    let through = through.clamp(0.0, 1.0);
    through * through * (3.0 - 2.0 * through)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::Severity;

    #[test]
    fn springs_leave_the_push_out_alone_setting_and_cylinder_do_not() {
        let clear = Severity::CLEAR;
        for seed in 0..500 {
            let stop = |faults: &Faults| EndFace::new(seed, faults).stop_mm(1);
            let [least, most] = MAKER_MM;
            let springs = Faults {
                weak_springs: clear,
                ..Faults::default()
            };
            assert!((least..most).contains(&stop(&springs)), "seed {seed}");
            let setting = Faults {
                setting: clear,
                ..Faults::default()
            };
            assert!(stop(&setting) > most + 0.1, "seed {seed}");
            let cylinder = Faults {
                unclamp_cylinder: clear,
                ..Faults::default()
            };
            assert!(stop(&cylinder) < least, "seed {seed}");
        }
    }
}
