//! What a record leaves open about all its clamps.
//!
//! In comes what was found in it; out go the notes, the questions that keep anything from being within limit, and how
//! much the zeros that were set aside could lift the figures.

use super::clamps::Found;
use super::setup::GripSetup;
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
            doubts.open.push((
                "too few samples in the hold".to_owned(),
                "a record of at least 10 samples a second".to_owned(),
            ));
        }
        doubts
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
