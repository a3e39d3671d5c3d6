//! What a critical section shuts out on this board: every interrupt but those that stamp.
//!
//! The driver of the USB works in such sections, for many microseconds and out of the flash. What stamps shares nothing with it,
//! nor with anything else but queues of one writer and one reader, so a stamp need not wait for it. In turn nothing
//! that stamps may ever rely on a critical section.

use core::sync::atomic::{Ordering, compiler_fence};

use cortex_m::asm::{dsb, isb};
use cortex_m::peripheral::NVIC;
use critical_section::{Impl, RawRestoreState, set_impl};
use rp2040_hal::pac::Interrupt;

const STAMPING: u32 = 1 << Interrupt::IO_IRQ_BANK0 as u32
    | 1 << Interrupt::TIMER_IRQ_0 as u32
    | 1 << Interrupt::TIMER_IRQ_1 as u32;

struct AllButStamping;
set_impl!(AllButStamping);

// SAFETY: one core runs, the other is never started. The interrupts that go on use no critical section and no data that one guards.
unsafe impl Impl for AllButStamping {
    unsafe fn acquire() -> RawRestoreState {
        // SAFETY: an interrupt that comes between the two ends its own sections before it returns, so what is read still holds.
        let others = unsafe {
            let nvic = &*NVIC::PTR;
            let others = nvic.iser[0].read() & !STAMPING;
            nvic.icer[0].write(others);
            others
        };
        dsb();
        isb();
        others
    }

    unsafe fn release(others: RawRestoreState) {
        compiler_fence(Ordering::SeqCst);
        // SAFETY: what was on before.
        unsafe { (*NVIC::PTR).iser[0].write(others) };
    }
}
