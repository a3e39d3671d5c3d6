//! A free-running 32-bit timer goes in, microseconds come out, for several priorities at once.

use nrf52840_hal::pac::TIMER0;

/// A reader of the timer with the capture register `CC` to itself, so that no other reader can disturb it.
pub struct Clock<const CC: usize>(());

/// Starts the timer at 1 MHz; gives its readers, of which there are no others.
pub fn start(timer: TIMER0) -> (Clock<0>, Clock<1>, Clock<2>) {
    timer.mode.write(|w| w.mode().timer());
    timer.bitmode.write(|w| w.bitmode()._32bit());
    // SAFETY: any value of four bits is a prescaler: 16 MHz / 2⁴.
    timer.prescaler.write(|w| unsafe { w.prescaler().bits(4) });
    // SAFETY: a task register; writing 1 starts the task.
    timer.tasks_start.write(|w| unsafe { w.bits(1) });
    (Clock(()), Clock(()), Clock(()))
}

impl<const CC: usize> Clock<CC> {
    /// Microseconds since the timer started, 32 bits of them.
    #[inline]
    pub fn now_us(&self) -> u32 {
        // SAFETY: `start` took the timer for good; this reader touches its own capture register and no other.
        let timer = unsafe { &*TIMER0::ptr() };
        // SAFETY: a task register; writing 1 starts the task.
        timer.tasks_capture[CC].write(|w| unsafe { w.bits(1) });
        timer.cc[CC].read().bits()
    }
}
