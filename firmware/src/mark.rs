//! Raw edges of the once-per-turn mark go in; debounced changes, stamped with their *first* edge's time, come out.
//!
//! An edge counts once the line has kept its new level for [`SETTLE_US`]. Bounces after it belong to it; a spike
//! that returns to the old level counts for nothing.

/// How long a level must last to count, microseconds. A mark 5° wide passes in 8 ms at 100 turns a minute.
pub const SETTLE_US: u32 = 1_000;

/// A debounced change of the mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MarkChange {
    /// Counts changes, wrapping: a lost one shows as a step.
    pub number: u32,
    /// Time of the first edge, the timer's 32 bits.
    pub at_us: u32,
    /// `true` for the rising edge.
    pub rising: bool,
}

/// Debounces the mark.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Mark {
    level: bool,
    number: u32,
    unsettled: Option<Unsettled>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Unsettled {
    level: bool,
    first_us: u32,
    last_us: u32,
}

impl Mark {
    /// Starts with the line low. Where it may be high at boot, show its level once as an edge then.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            level: false,
            number: 0,
            unsettled: None,
        }
    }

    /// Takes the level after an edge; gives a change that had settled *before* this edge.
    pub fn edge(&mut self, high: bool, at_us: u32) -> Option<MarkChange> {
        let settled = self.tick(at_us);
        match &mut self.unsettled {
            Some(unsettled) => {
                unsettled.level = high;
                unsettled.last_us = at_us;
            }
            None if high != self.level => {
                self.unsettled = Some(Unsettled {
                    level: high,
                    first_us: at_us,
                    last_us: at_us,
                });
            }
            None => {}
        }
        settled
    }

    /// Lets time pass; gives a change that has settled by now. Called at least at every sample.
    pub fn tick(&mut self, now_us: u32) -> Option<MarkChange> {
        let unsettled = self.unsettled?;
        if now_us.wrapping_sub(unsettled.last_us) < SETTLE_US {
            return None;
        }
        self.unsettled = None;
        if unsettled.level == self.level {
            return None;
        }
        self.level = unsettled.level;
        self.number = self.number.wrapping_add(1);
        Some(MarkChange {
            number: self.number,
            at_us: unsettled.first_us,
            rising: self.level,
        })
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use super::*;

    /// Plays a line pattern (time, level), ticking every 200 µs between, and lists (time, rising).
    fn play(edges: &[(u32, bool)], until_us: u32) -> Vec<(u32, bool)> {
        let mut mark = Mark::new();
        let mut seen = Vec::new();
        let mut waiting = edges.iter().peekable();
        let start = edges.first().map_or(0, |edge| edge.0);
        for step in 0..=until_us {
            let now = start.wrapping_add(step);
            let mut changes = Vec::new();
            while let Some(edge) = waiting.next_if(|edge| edge.0 == now) {
                changes.push(mark.edge(edge.1, now));
            }
            if step % 200 == 0 {
                changes.push(mark.tick(now));
            }
            seen.extend(changes.into_iter().flatten().map(|c| (c.at_us, c.rising)));
        }
        seen
    }

    #[test]
    fn a_clean_mark_gives_both_edges_at_their_times() {
        assert_eq!(
            play(&[(1_003, true), (9_017, false)], 20_000),
            [(1_003, true), (9_017, false)]
        );
    }

    #[test]
    fn bounces_keep_the_first_edges_time() {
        let pattern = [
            (1_000, true),
            (1_040, false),
            (1_090, true),
            (1_400, false),
            (1_405, true),
            (8_000, false),
            (8_900, true),
            (8_950, false),
        ];
        assert_eq!(play(&pattern, 20_000), [(1_000, true), (8_000, false)]);
    }

    #[test]
    fn a_spike_counts_for_nothing() {
        assert_eq!(
            play(&[(1_000, true), (1_900, false), (30_000, true)], 40_000),
            [(30_000, true)]
        );
    }

    #[test]
    fn a_settled_change_comes_out_with_the_next_edge_if_no_tick_did_it() {
        let mut mark = Mark::new();
        assert_eq!(mark.edge(true, 100), None);
        let change = mark.edge(false, 50_100).unwrap();
        assert_eq!((change.at_us, change.rising, change.number), (100, true, 1));
        let change = mark.tick(60_000).unwrap();
        assert_eq!(
            (change.at_us, change.rising, change.number),
            (50_100, false, 2)
        );
    }

    #[test]
    fn the_timer_may_wrap_inside_a_bounce() {
        let first = u32::MAX - 10;
        assert_eq!(
            play(&[(first, true), (u32::MAX, false), (5, true)], 5_000),
            [(first, true)]
        );
    }
}
