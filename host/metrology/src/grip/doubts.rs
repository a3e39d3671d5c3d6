//! What a record leaves open about all its clamps.
//!
//! In comes what was found in it; out go the notes, the questions that keep anything from being within limit, and how
//! much the zeros that were set aside could lift the figures.

use super::clamps::{Excluded, Found};
use super::hardly::HardlyGripped;
use super::hold_end::Down;
use super::setup::GripSetup;
use super::standstill::Standstill;
use super::zero::Agreement;

/// What is left open.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Doubts {
    /// The gauge was overloaded: its calibration no longer holds.
    pub overloaded: bool,
    /// What the result says of it.
    pub notes: Vec<String>,
    /// Why nothing is within limit by this record, each with what would settle it.
    pub open: Vec<(String, String)>,
    /// Why nothing is decided by this record, within limit or outside, each with what would settle it.
    pub blind: Vec<(String, String)>,
    /// A clamp left out as knocked while held, and the force did not come back.
    pub down_in_excluded: Option<Down>,
    /// By how much every clamp would read higher with the lowest zero that was set aside, N.
    pub low_by_n: f64,
}

impl Doubts {
    /// Of a record.
    pub fn of(found: &Found, setup: &GripSetup) -> Self {
        let mut doubts = Self {
            overloaded: found.overloaded,
            low_by_n: found.zeros.lowest_n,
            ..Self::default()
        };
        doubts.notes.extend(set_aside(&found.zeros));
        if let Some(offset_n) = found.zeros.offset_n {
            doubts.ask_free(offset_n, setup);
        }
        if found
            .clamps
            .iter()
            .any(|clamp| clamp.counted() && clamp.few_samples)
        {
            doubts.blind.push((
                "too few samples in the hold".to_owned(),
                "a record of at least 10 samples a second".to_owned(),
            ));
        }
        doubts.down_in_excluded = found
            .clamps
            .iter()
            .filter(|clamp| clamp.excluded == Some(Excluded::Disturbed))
            .find_map(|clamp| Down::of(clamp.number, clamp.settled_n?, clamp.end));
        doubts.blind.extend(found.standstill.map(stands_still));
        for pull in &found.hardly {
            doubts.ask_gripped(pull, setup);
        }
        doubts
    }

    /// A gripper that did not catch pulls little; so does a hand at the gauge, which only somebody who was there can say.
    fn ask_gripped(&mut self, pull: &HardlyGripped, setup: &GripSetup) {
        let HardlyGripped {
            from_s,
            length_s,
            force_n,
        } = *pull;
        let pulled = format!(
            "at {from_s:.1} s pulled with {force_n:.0} N for {length_s:.1} s, hardly gripped"
        );
        if setup.as_read {
            self.notes
                .push(format!("{pulled}: taken as no clamp, as read (--as-read)"));
            return;
        }
        self.notes.push(format!(
            "{pulled}: did the gripper catch? Not listed as a clamp (--as-read: it was none)"
        ));
        self.open.push((
            pulled,
            "the gripper looked at, and the set taken again; --as-read if that was no clamp"
                .to_owned(),
        ));
    }

    /// A gauge that is never free in a record cannot be told from one with an offset. At the machine it was seen free.
    fn ask_free(&mut self, offset_n: f64, setup: &GripSetup) {
        let reads = format!("between the clamps the gauge reads {offset_n:.0} N");
        if setup.as_read {
            self.notes
                .push(format!("{reads}: taken as free, as read (--as-read)"));
        } else if setup.at_spindle {
            self.notes.push(format!(
                "hanging free the force gauge reads {offset_n:.0} N"
            ));
        } else {
            self.notes.push(format!(
                "{reads}: was it free, or did it rest on something? (--as-read: it was free)"
            ));
            self.open.push((
                format!("{reads}, and nothing in the record shows whether it was free"),
                "--as-read if the gauge hung free there, else a record that begins with it free"
                    .to_owned(),
            ));
        }
    }
}

fn stands_still(found: Standstill) -> (String, String) {
    let (why, remedy) = match found {
        Standstill::Clamped => (
            "the reading stands still while clamped, and not in the pauses: was the meter on PEAK or HOLD?".to_owned(),
            "the set taken again with the meter showing the force as it is",
        ),
        Standstill::AtItsEnd(at_n) => (
            format!(
                "the reading stands still at {:.2} kN while clamped, the highest there is: is that the end of its range, or was \
                 the meter on PEAK or HOLD?",
                at_n / 1e3
            ),
            "the set taken again in a range that goes beyond the force, with the meter showing the force as it is",
        ),
        Standstill::Free(at_n) => (
            format!(
                "the reading stands still at {at_n:.0} N in the pauses: what lies below is cut off, so the free gauge is not seen"
            ),
            "the set taken again with a record that shows readings below zero, or with the free gauge set to read above it",
        ),
    };
    (why, remedy.to_owned())
}

fn set_aside(zeros: &Agreement) -> Vec<String> {
    let of = |count: usize, why: String| {
        (count > 0).then(|| format!("{count} of {} zeros set aside: {why}", zeros.zeros))
    };
    let rested = of(
        zeros.rested,
        format!(
            "the gauge rested on something, up to {:.0} N low",
            zeros.lowest_n
        ),
    );
    let pulled = of(
        zeros.pulled,
        format!(
            "something still pulled at the gauge, up to {:.0} N high",
            zeros.highest_n
        ),
    );
    rested.into_iter().chain(pulled).collect()
}
