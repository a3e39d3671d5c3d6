//! Levels of a line with a bouncing contact go in; changes that lasted come out, with the time of their *first* edge.
//!
//! A change counts once the line has kept its new level for the settling time. Bounces belong to it; a spike that
//! returns to the old level counts for nothing.

/// A level that lasted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// Time of the first edge, the timer's 32 bits.
    pub at_us: u32,
    /// The new level.
    pub high: bool,
}

/// Debounces one line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Debounce {
    settle_us: u32,
    level: bool,
    unsettled: Option<Unsettled>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Unsettled {
    level: bool,
    first_us: u32,
    last_us: u32,
}

impl Debounce {
    /// Starts at a level that has lasted.
    #[must_use]
    pub const fn new(level: bool, settle_us: u32) -> Self {
        Self {
            settle_us,
            level,
            unsettled: None,
        }
    }

    /// Takes the level after an edge; gives a change that had settled *before* this edge.
    #[inline(always)]
    pub fn edge(&mut self, high: bool, at_us: u32) -> Option<Change> {
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

    /// Takes the level as it is found now, edge or none, for a line that is looked at again and again.
    #[inline(always)]
    pub fn look(&mut self, high: bool, now_us: u32) -> Option<Change> {
        let last = self
            .unsettled
            .map_or(self.level, |unsettled| unsettled.level);
        if high == last {
            self.tick(now_us)
        } else {
            self.edge(high, now_us)
        }
    }

    /// Lets time pass; gives a change that has settled by now.
    #[inline(always)]
    pub fn tick(&mut self, now_us: u32) -> Option<Change> {
        let unsettled = self.unsettled?;
        if now_us.wrapping_sub(unsettled.last_us) < self.settle_us {
            return None;
        }
        self.unsettled = None;
        if unsettled.level == self.level {
            return None;
        }
        self.level = unsettled.level;
        Some(Change {
            at_us: unsettled.first_us,
            high: self.level,
        })
    }
}
