//! How the force rose at a clamping, to be laid over that of other visits.
//!
//! In come a record and its clamps; out goes, of one of them, the force as a share of what it settled at against the time
//! since the rise began. It decides nothing.

use crate::grip::record::ForceRecord;
use crate::grip::result::Clamp;
use crate::statistics::median;

/// A rise begins where the force last was at this share of what it settles at.
const BEGINS_SHARE: f64 = 0.05;

/// The rise of one clamp.
#[derive(Clone, Debug, PartialEq)]
pub struct Rise {
    /// Number of the clamp.
    pub clamp: u32,
    /// Time from 10 to 90 % of its level, s.
    pub clamping_s: f64,
    /// Seconds from the start of the rise, and the force as a share of what it settled at: from as long before the start as
    /// the clamping took to the end of the settled window.
    pub points: Vec<(f64, f64)>,
}

/// The rise of the counted clamp whose clamping time is the middle one; of an even number, the shorter of the two in the
/// middle. `None` where no counted clamp has a clamping time, or samples are missing in all of those.
pub fn of_middle_clamp(record: &ForceRecord, clamps: &[Clamp]) -> Option<Rise> {
    let timed = clamps.iter().filter(|clamp| clamp.counted);
    let mut rises: Vec<Rise> = timed.filter_map(|clamp| of(record, clamp)).collect();
    rises.sort_by(|one, other| one.clamping_s.total_cmp(&other.clamping_s));
    let middle = rises.len().checked_sub(1)? / 2;
    Some(rises.swap_remove(middle))
}

fn of(record: &ForceRecord, clamp: &Clamp) -> Option<Rise> {
    let (clamped_s, clamping_s) = (clamp.clamped_s?, clamp.clamping_s?);
    let ([window_s, end_s], settled_n) = (clamp.window_s?, clamp.settled_n?);
    let (time_s, force_n) = (record.time_s(), record.force_n());
    let at = |s: f64| time_s.partition_point(|time| *time < s);
    // What was taken off as zero: the middle of the window reads that much more than it settled at.
    let zero_n = median(
        force_n
            .get(at(window_s)..at(end_s))
            .filter(|held| !held.is_empty())?,
    ) - settled_n;
    let share = |index: usize| (force_n[index] - zero_n) / settled_n;
    let half = at(clamped_s);
    let low = (0..half)
        .rev()
        .find(|index| share(*index) <= BEGINS_SHARE)?;
    let step = (BEGINS_SHARE - share(low)) / (share(low + 1) - share(low));
    let begins_s = time_s[low] + step * (time_s[low + 1] - time_s[low]);
    let from_s = begins_s - clamping_s;
    if record
        .spans()
        .iter()
        .any(|span| span.touches(from_s, end_s))
    {
        return None;
    }
    let points = at(from_s)..at(end_s);
    Some(Rise {
        clamp: clamp.number,
        clamping_s,
        points: points
            .map(|index| (time_s[index] - begins_s, share(index)))
            .collect(),
    })
}
