//! Two alarms of the chip's timer: the tick, and where there is no converter, when a sample is due.
//!
//! Registers are written bare: what the crate of the chip offers would run from the flash.

use rp2040_hal::pac;
use rp2040_hal::timer::{Alarm, Alarm0, Alarm1};

/// One of the timer's alarms, and its number.
pub struct Due<A, const NUMBER: usize>(A);

/// The tick's.
pub type TickDue = Due<Alarm0, 0>;
/// A sample's.
pub type SampleDue = Due<Alarm1, 1>;

impl<A: Alarm, const NUMBER: usize> Due<A, NUMBER> {
    /// It may interrupt, once it is set.
    pub fn new(mut alarm: A) -> Self {
        alarm.enable_interrupt();
        Self(alarm)
    }

    /// Sets it anew, some microseconds from now. Gives the time that is now.
    #[inline(always)]
    pub fn again(&mut self, after_us: u32) -> u32 {
        // SAFETY: the registers of this alarm, which is this one's; the timer itself is only read.
        unsafe {
            let timer = &*pac::TIMER::PTR;
            timer.intr().write(|w| w.bits(1 << NUMBER));
            let now_us = timer.timerawl().read().bits();
            let alarm = timer.alarm0().as_ptr().add(NUMBER);
            alarm.write_volatile(now_us.wrapping_add(after_us));
            now_us
        }
    }
}
