//! In: faults, orders to clamp and unclamp. Out: the pull in the knob at any time, tension positive.
//!
//! Balance of forces along the drawbar, quasi-static: spring force, less friction of the stack, less sticking, less
//! what the release unit still pushes, times what the gripper passes on. The bar's own mass only shows as the
//! overshoot when it stops.

use crate::condition::{Faults, Hold};
use crate::operator::clamping::{Bump, ClampOrder};
use crate::random::{Range, Stream, Topic, range};
use crate::world::end_face::EndFace;
use crate::world::gripper::{Closing, Gripper};

/// What the maker of the rehearsal's spindle states (an invented maker).
pub const MAKER_NOMINAL_N: f64 = 10_000.0;

/// A spindle in order holds this share of the maker's figure.
const IN_ORDER: Range = range(0.96, 1.06);
/// Broken discs: share of the stack, and how much preload each takes with it (its own deflection and its free height).
const BROKEN_SHARE: Range = range(0.13, 0.20);
const PRELOAD_PER_BROKEN: Range = range(2.9, 3.2);
/// Friction between discs, as a share of the force; works against closing.
const STACK_FRICTION: Range = range(0.02, 0.05);
/// Friction left when the release unit and the stack come to rest differs by this much from clamp to clamp.
const FRICTION_SCATTER: Range = range(0.002, 0.011);
/// Spring rate at the clamped position; knob position from clamp to clamp.
const RATE_N_PER_MM: Range = range(400.0, 600.0);
const KNOB_SCATTER_MM: Range = range(0.005, 0.025);
/// Drawbar set too far back.
const EXTRA_PRELOAD: Range = range(0.27, 0.42);
/// Sticking: share of the pull lost at the first clamp, what stays, and how many clamps it takes to free itself.
const STUCK_AT_FIRST: Range = range(0.22, 0.36);
const STUCK_FOR_GOOD: Range = range(0.03, 0.08);
const CLAMPS_TO_FREE: Range = range(1.6, 3.5);
/// Standing: share lost at the first clamp only.
const STOOD: Range = range(0.09, 0.18);
const STOOD_LITTLE: Range = range(0.0, 0.006);
const CLAMPS_TO_FORGET: Range = range(0.25, 0.4);
/// Leak of an oil-held drawbar, share of the pull per second.
const LEAK_PER_S: Range = range(0.005, 0.016);
const TIGHT_PER_S: Range = range(0.00002, 0.0002);
/// Pressure the pump reaches before each hold.
const PUMP_SCATTER: Range = range(0.002, 0.006);
/// Release unit creeping forward, newton per second.
const RELEASE_CREEP_N_PER_S: Range = range(30.0, 90.0);
/// Settling of seat and fingers after closing: share of the pull, and how long.
const SETTLING: Range = range(0.0004, 0.002);
const SETTLING_S: Range = range(0.3, 1.5);
/// Valve delay and travel before the fingers touch the knob; throttled rise from touch to full pull.
const TRAVEL_S: Range = range(0.08, 0.3);
const RISE_S: Range = range(0.025, 0.9);
/// Overshoot of a bar that closes at once; a throttled one has next to none.
const OVERSHOOT: Range = range(0.02, 0.25);
const QUICK_RISE_S: f64 = 0.06;
const RINGING_S: Range = range(0.015, 0.06);
const RINGING_HZ: Range = range(18.0, 45.0);
/// Release: fall of the pull, then the push that frees the shank from the taper.
const FALL_S: Range = range(0.03, 0.2);
const RELEASE_DELAY_S: Range = range(0.05, 0.15);
const TAPER_STICKS: Range = range(0.05, 0.4);
const PUSH_OUT_S: Range = range(0.03, 0.12);
/// Weight of the gauge resting on the push-out.
const GAUGE_WEIGHT_N: Range = range(28.0, 42.0);

/// Everything about the drawbar that stays the same during a visit.
#[derive(Clone, Debug)]
pub struct Drawbar {
    seed: u64,
    hold: Hold,
    spring_n: f64,
    stack_friction: f64,
    friction_scatter: f64,
    rate_n_per_mm: f64,
    knob_scatter_mm: f64,
    sticking: Fading,
    stuck_for_good: f64,
    standing: Fading,
    leak_per_s: f64,
    pump_scatter: f64,
    release_creep_n_per_s: f64,
    settling: f64,
    settling_s: f64,
    travel_s: f64,
    rise_s: f64,
    overshoot: f64,
    ringing_s: f64,
    ringing_rad_per_s: f64,
    fall_s: f64,
    release_delay_s: f64,
    taper_sticks: f64,
    push_out_s: f64,
    weight_n: f64,
    gripper: Gripper,
}

/// A loss that fades from clamp to clamp.
#[derive(Clone, Copy, Debug)]
struct Fading {
    at_first: f64,
    clamps: f64,
}

impl Fading {
    fn at(self, clamp: u64) -> f64 {
        self.at_first * libm::exp(-(clamp as f64) / self.clamps)
    }
}

impl Drawbar {
    /// The drawbar of a machine with these faults.
    pub fn new(seed: u64, faults: &Faults) -> Self {
        let mut draw = Stream::new(seed, Topic::Drawbar, 0);
        let in_order = draw.within(IN_ORDER);
        let broken = draw.within(BROKEN_SHARE) * draw.within(PRELOAD_PER_BROKEN);
        let extra = draw.within(EXTRA_PRELOAD);
        let preload = 1.0 - faults.weak_springs.share() * broken;
        let setting = 1.0 + faults.set_too_far.share() * extra;
        let oil = faults.hold == Hold::Hydraulic;
        let tight = draw.within(TIGHT_PER_S);
        let leak = draw.within(LEAK_PER_S);
        let discs = faults.hold == Hold::DiscSprings;
        let stack_friction = draw.within(STACK_FRICTION);
        let friction_scatter = draw.within(FRICTION_SCATTER);
        let pump_scatter = draw.within(PUMP_SCATTER);
        let release_creep = draw.within(RELEASE_CREEP_N_PER_S);
        let rise_s = draw.within_decades(RISE_S);
        let overshoot = draw.within(OVERSHOOT) * (QUICK_RISE_S / rise_s).min(1.0).powi(2);
        let stuck_at_first = draw.within(STUCK_AT_FIRST);
        let stuck_for_good = draw.within(STUCK_FOR_GOOD);
        let stood = draw.within(STOOD_LITTLE) + faults.standing.share() * draw.within(STOOD);
        Self {
            seed,
            hold: faults.hold,
            spring_n: MAKER_NOMINAL_N
                * in_order
                * preload
                * setting
                * EndFace::new(seed, faults).pull_left(),
            stack_friction: if discs { stack_friction } else { 0.0 },
            friction_scatter,
            rate_n_per_mm: draw.within(RATE_N_PER_MM),
            knob_scatter_mm: draw.within(KNOB_SCATTER_MM),
            sticking: Fading {
                at_first: faults.sticking.share() * stuck_at_first,
                clamps: draw.within(CLAMPS_TO_FREE),
            },
            stuck_for_good: faults.sticking.share() * stuck_for_good,
            standing: Fading {
                at_first: stood,
                clamps: draw.within(CLAMPS_TO_FORGET),
            },
            leak_per_s: if oil {
                tight + faults.leaking.share() * leak
            } else {
                0.0
            },
            pump_scatter: if oil { pump_scatter } else { 0.0 },
            release_creep_n_per_s: faults.release_creep.share() * release_creep,
            settling: draw.within(SETTLING),
            settling_s: draw.within(SETTLING_S),
            travel_s: draw.within(TRAVEL_S),
            rise_s,
            overshoot,
            ringing_s: draw.within(RINGING_S),
            ringing_rad_per_s: std::f64::consts::TAU * draw.within(RINGING_HZ),
            fall_s: draw.within(FALL_S),
            release_delay_s: draw.within(RELEASE_DELAY_S),
            taper_sticks: draw.within(TAPER_STICKS),
            push_out_s: draw.within(PUSH_OUT_S),
            weight_n: draw.within(GAUGE_WEIGHT_N),
            gripper: Gripper::new(seed, faults),
        }
    }

    /// From pressing clamp to full pull.
    pub fn closing_s(&self) -> f64 {
        self.travel_s + self.rise_s
    }

    /// What holds the tool.
    pub fn hold(&self) -> Hold {
        self.hold
    }

    /// Carries out one order; it holds until [`Clamp::unclamp`].
    pub fn clamp(&self, order: ClampOrder) -> Clamp {
        let mut draw = Stream::new(self.seed, Topic::Drawbar, order.number + 1);
        let closing = self.gripper.close(order.number, order.orientation_deg);
        let knob_n = draw.normal() * self.knob_scatter_mm * self.rate_n_per_mm;
        let friction = self.stack_friction + draw.normal() * self.friction_scatter;
        let sticking = self.sticking.at(order.number) * (1.0 + 0.04 * draw.normal())
            + self.stuck_for_good
            + self.standing.at(order.number);
        let pump = 1.0 + draw.normal() * self.pump_scatter;
        // The maker's figure is what reaches the knob with usual friction, so that is not taken off twice.
        let usual = 0.5 * (STACK_FRICTION.low + STACK_FRICTION.high);
        let friction = if self.stack_friction > 0.0 {
            friction - usual
        } else {
            friction
        };
        let bar_n = self.spring_n * pump * (1.0 - friction) * (1.0 - sticking) + knob_n;
        let touch_s = order.clamp_s + self.travel_s * (1.0 + 0.03 * draw.normal());
        let rise_s = self.rise_s * (1.0 + 0.03 * draw.normal());
        Clamp {
            order,
            closing,
            level_n: bar_n * closing.efficiency,
            touch_s,
            rise_s,
            let_go_s: f64::INFINITY,
            pull_when_let_go_n: 0.0,
            push_out_s: self.push_out_s * (1.0 + 0.1 * draw.normal()),
            overshoot: self.overshoot * (1.0 + 0.15 * draw.normal()),
            sticking,
            drawbar: self.holding(),
        }
    }

    fn holding(&self) -> Holding {
        Holding {
            leak_per_s: self.leak_per_s,
            release_creep_n_per_s: self.release_creep_n_per_s,
            settling: self.settling,
            settling_s: self.settling_s,
            ringing_s: self.ringing_s,
            ringing_rad_per_s: self.ringing_rad_per_s,
            fall_s: self.fall_s,
            release_delay_s: self.release_delay_s,
            taper_sticks: self.taper_sticks,
            weight_n: self.weight_n,
        }
    }
}

/// What shapes the pull while the gripper holds and lets go.
#[derive(Clone, Copy, Debug)]
struct Holding {
    leak_per_s: f64,
    release_creep_n_per_s: f64,
    settling: f64,
    settling_s: f64,
    ringing_s: f64,
    ringing_rad_per_s: f64,
    fall_s: f64,
    release_delay_s: f64,
    taper_sticks: f64,
    weight_n: f64,
}

/// One clamp as it happens.
#[derive(Clone, Copy, Debug)]
pub struct Clamp {
    /// What the operator does.
    pub order: ClampOrder,
    /// How the fingers lie.
    pub closing: Closing,
    /// Pull once the seat has settled, before leaks: the clamp's true level.
    pub level_n: f64,
    touch_s: f64,
    rise_s: f64,
    let_go_s: f64,
    pull_when_let_go_n: f64,
    push_out_s: f64,
    overshoot: f64,
    sticking: f64,
    drawbar: Holding,
}

impl Clamp {
    /// Unclamp is pressed.
    pub fn unclamp(&mut self, at_s: f64) {
        self.let_go_s = (at_s + self.drawbar.release_delay_s).max(self.touch_s);
        self.pull_when_let_go_n = self.holding_n(self.let_go_s);
    }

    /// When the fingers touch the knob.
    pub fn touch_s(&self) -> f64 {
        self.touch_s
    }

    /// When the release unit begins to take the pull away; never, while it is held.
    pub fn let_go_s(&self) -> f64 {
        self.let_go_s
    }

    /// When the pull has gone and the push-out begins.
    pub fn fallen_s(&self) -> f64 {
        self.let_go_s + self.drawbar.fall_s
    }

    /// How far the gripper has drawn the shank in, 0 to 1.
    pub fn closed(&self, at_s: f64) -> f64 {
        smooth_step((at_s - self.touch_s) / (0.5 * self.rise_s))
    }

    /// How far the shank has been pushed out since the pull was gone, 0 to 1.
    pub fn pushed_out(&self, at_s: f64) -> f64 {
        ((at_s - self.fallen_s()) / self.push_out_s).clamp(0.0, 1.0)
    }

    /// When the operator takes the gauge off the push-out.
    pub fn lifted_off_s(&self) -> f64 {
        self.fallen_s() + self.push_out_s + self.order.rest_s
    }

    /// Whether the taper holds the gauge: from the touch until it is pushed out.
    pub fn in_contact(&self, at_s: f64) -> bool {
        (self.touch_s..self.fallen_s()).contains(&at_s)
    }

    /// True pull in the knob, tension positive.
    pub fn pull_n(&self, at_s: f64) -> f64 {
        if at_s < self.touch_s {
            0.0
        } else if at_s < self.let_go_s {
            self.holding_n(at_s)
        } else if at_s < self.fallen_s() {
            let gone = (at_s - self.let_go_s) / self.drawbar.fall_s;
            self.pull_when_let_go_n * (1.0 - gone)
        } else {
            self.pushed_out_n(at_s - self.fallen_s())
        }
    }

    fn holding_n(&self, at_s: f64) -> f64 {
        let since_touch_s = at_s - self.touch_s;
        let risen = smooth_step(since_touch_s / self.rise_s);
        let held_s = (since_touch_s - self.rise_s).max(0.0);
        let holding = self.drawbar;
        let leaked = fade(holding.leak_per_s * held_s);
        // What sticks gives way a little while it stands, as vibration works on it.
        let giving = 0.05 * self.sticking * (1.0 - fade(held_s / 3.0));
        let settled = holding.settling * fade(held_s / holding.settling_s);
        let pull = self.level_n * risen * leaked * (1.0 + giving + settled);
        let pull = pull - holding.release_creep_n_per_s * held_s + self.ringing_n(since_touch_s);
        (pull + self.bumped_n(at_s)).max(0.0)
    }

    fn ringing_n(&self, since_touch_s: f64) -> f64 {
        let since_stop_s = since_touch_s - 0.7 * self.rise_s;
        if since_stop_s <= 0.0 {
            return 0.0;
        }
        let holding = self.drawbar;
        let fading = fade(since_stop_s / holding.ringing_s);
        if fading <= 0.0 {
            return 0.0;
        }
        self.level_n * self.overshoot * fading * libm::sin(holding.ringing_rad_per_s * since_stop_s)
    }

    fn bumped_n(&self, at_s: f64) -> f64 {
        let Some(Bump {
            at_s: from_s,
            length_s,
            share,
        }) = self.order.bump
        else {
            return 0.0;
        };
        let through = (at_s - from_s) / length_s;
        if !(0.0..1.0).contains(&through) {
            return 0.0;
        }
        self.level_n * share * libm::sin(std::f64::consts::PI * through)
    }

    /// The release unit pushes the shank out of the taper, then the gauge rests on it until lifted off.
    fn pushed_out_n(&self, since_s: f64) -> f64 {
        let holding = self.drawbar;
        if since_s < self.push_out_s {
            let through = since_s / self.push_out_s;
            let stuck_n = self.pull_when_let_go_n * holding.taper_sticks;
            return -stuck_n * libm::sin(std::f64::consts::PI * through)
                - holding.weight_n * through;
        }
        let rested_s = since_s - self.push_out_s;
        let lifted = ((rested_s - self.order.rest_s) / 0.05).clamp(0.0, 1.0);
        -holding.weight_n * (1.0 - lifted)
    }
}

/// e^-x of something that has died out after forty time constants.
fn fade(constants: f64) -> f64 {
    if constants < 40.0 {
        libm::exp(-constants)
    } else {
        0.0
    }
}

/// Rises from 0 to 1 with level ends.
fn smooth_step(through: f64) -> f64 {
    let through = through.clamp(0.0, 1.0);
    through * through * (3.0 - 2.0 * through)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::{Condition, Severity};
    use crate::operator::clamping::{ClampHabits, Clamping, Press};

    fn clamps(seed: u64, faults: &Faults, count: usize) -> Vec<Clamp> {
        let drawbar = Drawbar::new(seed, faults);
        let habits = ClampHabits {
            mishaps: false,
            ..ClampHabits::default()
        };
        let mut operator = Clamping::new(seed, habits, drawbar.closing_s());
        let mut clamps: Vec<Clamp> = Vec::new();
        for ms in 0.. {
            match operator.press(f64::from(ms) * 0.001) {
                Some(Press::Clamp(order)) => clamps.push(drawbar.clamp(order)),
                Some(Press::Unclamp(at_s)) => {
                    clamps.last_mut().expect("it was clamped").unclamp(at_s);
                    if clamps.len() == count {
                        break;
                    }
                }
                None => {}
            }
        }
        clamps
    }

    fn levels(seed: u64, condition: Condition) -> Vec<f64> {
        let faults = condition.faults(Severity::CLEAR);
        clamps(seed, &faults, 5)
            .iter()
            .map(|clamp| clamp.level_n)
            .collect()
    }

    #[test]
    fn a_sound_spindle_holds_what_its_maker_says() {
        for seed in 0..200 {
            for level in levels(seed, Condition::Sound) {
                assert!(
                    (0.90..1.12).contains(&(level / MAKER_NOMINAL_N)),
                    "seed {seed}: {level}"
                );
            }
        }
    }

    #[test]
    fn broken_springs_cost_a_third_to_two_thirds() {
        for seed in 0..200 {
            for level in levels(seed, Condition::WeakSprings) {
                assert!(
                    (0.3..0.68).contains(&(level / MAKER_NOMINAL_N)),
                    "seed {seed}: {level}"
                );
            }
        }
    }

    #[test]
    fn a_sticking_bar_climbs_as_it_frees() {
        for seed in 0..200 {
            let levels = levels(seed, Condition::Sticky);
            let climb = levels[4] / levels[0];
            assert!((1.08..1.7).contains(&climb), "seed {seed}: {levels:?}");
            assert!(
                levels.windows(2).filter(|pair| pair[1] > pair[0]).count() >= 3,
                "{levels:?}"
            );
        }
    }

    #[test]
    fn only_oil_leaks_and_it_leaks_while_it_holds() {
        for seed in 0..200 {
            let faults = Condition::Leaking.faults(Severity::CLEAR);
            let clamp = clamps(seed, &faults, 1)[0];
            let from = clamp.touch_s() + 2.0;
            let lost = (clamp.pull_n(from) - clamp.pull_n(from + 2.0)) / clamp.level_n;
            assert!((0.008..0.04).contains(&lost), "seed {seed}: {lost}");
            let springs = Faults {
                hold: Hold::DiscSprings,
                ..faults
            };
            let clamp = clamps(seed, &springs, 1)[0];
            let lost = (clamp.pull_n(from) - clamp.pull_n(from + 2.0)) / clamp.level_n;
            assert!(lost < 0.002, "seed {seed}: {lost}");
        }
    }

    #[test]
    fn after_letting_go_the_gauge_is_pushed_out_and_hangs_free() {
        for seed in 0..50 {
            let clamp = clamps(seed, &Faults::default(), 1)[0];
            let pushed = clamp.pull_n(clamp.fallen_s() + 0.01);
            assert!(pushed < -20.0, "seed {seed}: {pushed}");
            assert!(clamp.pull_n(clamp.fallen_s() + 1.0).abs() < 1e-9);
            assert!(clamp.pull_n(clamp.touch_s() - 0.01).abs() < 1e-9);
        }
    }
}
