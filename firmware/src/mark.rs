//! Raw edges of the once-per-turn mark go in; debounced changes, counted and stamped with their *first* edge's time,
//! come out.

use crate::debounce::{Change, Debounce};

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

/// Debounces and counts the mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mark {
    line: Debounce,
    number: u32,
}

impl Mark {
    /// Starts with the line low. Where it may be high at boot, show its level once as an edge then.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            line: Debounce::new(false, SETTLE_US),
            number: 0,
        }
    }

    /// Takes the level after an edge; gives a change that had settled *before* this edge.
    #[inline(always)]
    pub fn edge(&mut self, high: bool, at_us: u32) -> Option<MarkChange> {
        self.line.edge(high, at_us).map(|change| self.count(change))
    }

    /// Lets time pass; gives a change that has settled by now. Called at least at every sample.
    #[inline(always)]
    pub fn tick(&mut self, now_us: u32) -> Option<MarkChange> {
        self.line.tick(now_us).map(|change| self.count(change))
    }

    #[inline(always)]
    fn count(&mut self, change: Change) -> MarkChange {
        self.number = self.number.wrapping_add(1);
        MarkChange {
            number: self.number,
            at_us: change.at_us,
            rising: change.high,
        }
    }
}

impl Default for Mark {
    fn default() -> Self {
        Self::new()
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
