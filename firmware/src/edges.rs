//! Pin edges go in as the interrupts see them; stamps, debounced mark changes, indicator bursts and presses
//! come out by queue.
//!
//! Everything here runs at the highest priority, takes constant time and never waits. All of it is inlined into the interrupt
//! that calls it, so that a board decides for all of it at once which memory it runs from.

use crate::bcd_indicator::BitLine;
use crate::button::ButtonPress;
use crate::lines::{EdgeEnds, Stamp};
use crate::mark::Mark;
use crate::quadrature::Quadrature;

/// The part of a gauge that belongs into the pin interrupts.
pub struct Edges<'q> {
    ends: EdgeEnds<'q>,
    number: u32,
    probe: Quadrature,
    mark: Mark,
    indicator: BitLine,
}

impl<'q> Edges<'q> {
    /// Nothing seen yet.
    #[must_use]
    pub const fn new(ends: EdgeEnds<'q>) -> Self {
        Self {
            ends,
            number: 0,
            probe: Quadrature::new(),
            mark: Mark::new(),
            indicator: BitLine::new(),
        }
    }

    /// The converter has a sample ready: stamps it together with the probe's count. Run the
    /// [`Converter`](crate::converter::Converter) soon after.
    #[inline(always)]
    pub fn on_data_ready(&mut self, at_us: u32) {
        let stamp = Stamp {
            number: self.number,
            at_us,
            displacement: self.probe.count(),
            bad_steps: self.probe.bad_steps(),
        };
        self.number = self.number.wrapping_add(1);
        // A full queue loses the stamp; the step in the numbers tells.
        let _ = self.ends.stamps.enqueue(stamp);
        self.tick(at_us);
    }

    /// A or B of the incremental probe changed: both levels as they are now. Call it once before the first edge, too,
    /// so that the decoder knows where it starts.
    #[inline(always)]
    pub fn on_ab_edge(&mut self, a: bool, b: bool) {
        self.probe.feed(a, b);
    }

    /// The once-per-turn mark changed.
    #[inline(always)]
    pub fn on_mark_edge(&mut self, high: bool, at_us: u32) {
        if let Some(change) = self.mark.edge(high, at_us) {
            let _ = self.ends.marks.enqueue(change);
        }
    }

    /// The indicator's clock fell: the level of its data line.
    #[inline(always)]
    pub fn on_indicator_clock(&mut self, data: bool, at_us: u32) {
        if let Some(burst) = self.indicator.clock(data, at_us) {
            let _ = self.ends.bursts.enqueue(burst);
        }
    }

    /// The push button was pressed.
    #[inline(always)]
    pub fn on_press(&mut self, press: ButtonPress) {
        // A full queue loses the press; the step in the numbers tells.
        let _ = self.ends.presses.enqueue(press);
    }

    /// Lets time pass for the mark and the indicator. Data-ready does this by itself; a board whose converter may
    /// stand still calls it from a timer every few milliseconds at the same priority.
    #[inline(always)]
    pub fn tick(&mut self, now_us: u32) {
        if let Some(change) = self.mark.tick(now_us) {
            let _ = self.ends.marks.enqueue(change);
        }
        if let Some(burst) = self.indicator.tick(now_us) {
            let _ = self.ends.bursts.enqueue(burst);
        }
    }
}
