//! In: the wear of the fingers, a clamp's number. Out: how well the gripper passes the drawbar's pull on to the
//! knob, and how far the pull lies off the axis.
//!
//! Each finger wedges the knob with its own share of the load. A worn finger arrives late and carries less; how
//! much less depends on how the set happens to lie at this closing. So wear shows as scatter, as a loss of the mean
//! and as a moment that wanders, all three from the same fingers.

use crate::condition::{Faults, Severity};
use crate::random::{Range, Stream, Topic, range};

/// Fingers of a no. 40 gripper.
const FINGERS: usize = 6;
/// Share of its load a sound finger may lose at one closing.
const SOUND_LOSS: Range = range(0.006, 0.03);
/// Share of its load a worn finger may lose at one closing.
const WORN_LOSS: Range = range(0.25, 0.75);
/// Fingers sit in one cage: this share of a closing's luck is common to all of them.
const CAGE_SHARE: f64 = 0.85;
/// Pull off the axis from a knob or gripper out of square, as a share of the pull read by a cell that feels bending.
const SQUARE: Range = range(0.0, 0.003);
const OUT_OF_SQUARE: Range = range(0.03, 0.06);
/// How much of an uneven finger load a cell reads as pull.
const BENDING_SENSITIVITY: Range = range(0.01, 0.04);

/// The gripper's fingers, drawn once for a machine.
#[derive(Clone, Debug)]
pub struct Gripper {
    seed: u64,
    loss: [f64; FINGERS],
    bending_sensitivity: f64,
    off_axis_share: f64,
    off_axis_deg: f64,
}

/// How the fingers lie at one closing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closing {
    /// Share of the drawbar's pull that reaches the knob.
    pub efficiency: f64,
    /// What the cell reads on top of the true pull, as a share of it, because the pull is off the axis.
    pub off_axis: f64,
}

impl Gripper {
    /// The gripper of a machine.
    pub fn new(seed: u64, faults: &Faults) -> Self {
        let mut draw = Stream::new(seed, Topic::Gripping, 0);
        let loss = std::array::from_fn(|_| finger_loss(&mut draw, faults.worn_gripper));
        let square = draw.within(SQUARE);
        let out_of_square = draw.within(OUT_OF_SQUARE);
        Self {
            seed,
            loss,
            bending_sensitivity: draw.within(BENDING_SENSITIVITY),
            off_axis_share: square + faults.off_axis.share() * out_of_square,
            off_axis_deg: draw.within(range(-35.0, 35.0)),
        }
    }

    /// Closing number `clamp` (from 0), the gauge turned by `orientation_deg` in the spindle.
    pub fn close(&self, clamp: u64, orientation_deg: f64) -> Closing {
        let mut draw = Stream::new(self.seed, Topic::Gripping, clamp + 1);
        let cage = draw.unit();
        let carried: [f64; FINGERS] = std::array::from_fn(|finger| {
            let luck = CAGE_SHARE * cage + (1.0 - CAGE_SHARE) * draw.unit();
            1.0 - self.loss[finger] * luck
        });
        let total: f64 = carried.iter().sum();
        let efficiency = total / FINGERS as f64;
        let uneven = moment(&carried, orientation_deg) / total * self.bending_sensitivity;
        let square = self.off_axis_share * cosine_deg(orientation_deg - self.off_axis_deg);
        Closing {
            efficiency,
            off_axis: uneven + square,
        }
    }
}

fn finger_loss(draw: &mut Stream, wear: Severity) -> f64 {
    let sound = draw.within(SOUND_LOSS);
    let worn = draw.within(WORN_LOSS);
    sound + wear.share() * worn
}

/// Moment of unequal finger loads about the bridge's sensitive axis, which turns with the gauge.
fn moment(carried: &[f64; FINGERS], orientation_deg: f64) -> f64 {
    let pitch_deg = 360.0 / FINGERS as f64;
    carried
        .iter()
        .enumerate()
        .map(|(finger, load)| load * cosine_deg(finger as f64 * pitch_deg - orientation_deg))
        .sum()
}

fn cosine_deg(angle_deg: f64) -> f64 {
    libm::cos(angle_deg.to_radians())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spread(seed: u64, faults: &Faults) -> f64 {
        let gripper = Gripper::new(seed, faults);
        let pulls: Vec<f64> = (0..200)
            .map(|clamp| gripper.close(clamp, 0.0).efficiency)
            .collect();
        let mean = pulls.iter().sum::<f64>() / 200.0;
        let square: f64 = pulls.iter().map(|pull| (pull - mean) * (pull - mean)).sum();
        (square / 199.0).sqrt() / mean
    }

    #[test]
    fn worn_fingers_scatter_and_sound_ones_do_not() {
        let worn = Faults {
            worn_gripper: Severity::CLEAR,
            ..Faults::default()
        };
        for seed in 0..50 {
            assert!(spread(seed, &Faults::default()) < 0.01);
            assert!(spread(seed, &worn) > 0.05, "{}", spread(seed, &worn));
        }
    }

    #[test]
    fn a_pull_off_the_axis_changes_sign_with_half_a_turn() {
        let faults = Faults {
            off_axis: Severity::CLEAR,
            ..Faults::default()
        };
        let gripper = Gripper::new(5, &faults);
        let (there, turned) = (
            gripper.close(0, 0.0).off_axis,
            gripper.close(0, 180.0).off_axis,
        );
        assert!(there > 0.02 && turned < -0.02, "{there} {turned}");
    }
}
