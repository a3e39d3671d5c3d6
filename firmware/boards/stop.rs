//! A program that stops, for every board. In: a panic, a fault, each round of the main loop. Out: what the run before this
//! one left in memory that a reset does not clear.

use core::mem::MaybeUninit;
use core::panic::PanicInfo;
use core::ptr::{addr_of, addr_of_mut};

use cortex_m::register::msp;
use cortex_m_rt::{ExceptionFrame, exception};
use holdtrue_firmware::stops::{Kept, Stopped, Trail};
use holdtrue_protocol::message::{ResetCause, StopCause};

/// The start of the program leaves this section as it is.
#[unsafe(link_section = ".uninit.kept")]
static mut KEPT: MaybeUninit<Kept> = MaybeUninit::uninit();

// Where cortex-m-rt's linker script puts the code and the upper end of the stack.
unsafe extern "C" {
    static __stext: u32;
    static __etext: u32;
    static __sdata: u32;
    static __edata: u32;
    static _stack_start: u32;
}

/// What the run before left. Once, at the start.
pub fn take(reset: ResetCause) -> Option<Stopped> {
    change(|kept| kept.take(reset))
}

/// This run begins.
pub fn begin(boot: u32) {
    change(|kept| kept.begin(boot));
}

/// The main loop came round.
pub fn alive(at_us: u64, fed: bool) {
    change(|kept| kept.alive(at_us, fed));
}

/// This run ends as it was asked to.
#[allow(dead_code, reason = "a board without a boot mode never leaves")]
pub fn leave() {
    change(|kept| *kept = Kept::EMPTY);
}

fn change<T>(work: impl FnOnce(&mut Kept) -> T) -> T {
    let place = addr_of_mut!(KEPT).cast::<Kept>();
    // SAFETY: words alone, of which any content is one. Only the start and then the main loop come here, and what stops
    // the program, which never goes on. Volatile, because what is read was written by another run.
    let mut kept = unsafe { place.read_volatile() };
    let told = work(&mut kept);
    // SAFETY: as above.
    unsafe { place.write_volatile(kept) };
    told
}

#[panic_handler]
fn panic(_: &PanicInfo<'_>) -> ! {
    cortex_m::interrupt::disable();
    stop(StopCause::Panic, Trail::new(), msp::read())
}

#[exception]
unsafe fn HardFault(frame: &ExceptionFrame) -> ! {
    let mut trail = Trail::new();
    let _ = trail.push(frame.pc()); // empty so far
    let _ = trail.push(frame.lr() & !1);
    stop(StopCause::Fault, trail, frame as *const _ as u32)
}

/// Leaves word and waits for the watchdog, which bites within two seconds.
fn stop(cause: StopCause, mut trail: Trail, stack: u32) -> ! {
    let top = addr_of!(_stack_start) as u32;
    for place in (stack..top).step_by(4) {
        // SAFETY: between the stack's own pointer, which is whole words, and its upper end.
        let word = unsafe { (place as *const u32).read_volatile() };
        if is_return_address(word) && trail.push(word - 1).is_err() {
            break;
        }
    }
    change(|kept| kept.stop(cause, trail));
    loop {
        cortex_m::asm::nop();
    }
}

/// An odd address of this program behind a call: BL, or BLX with a register.
fn is_return_address(word: u32) -> bool {
    let in_flash = addr_of!(__stext) as u32 + 4..addr_of!(__etext) as u32;
    // What must not wait for the flash runs from among the variables.
    let in_ram = addr_of!(__sdata) as u32 + 4..addr_of!(__edata) as u32;
    if word & 1 == 0 || !(in_flash.contains(&word) || in_ram.contains(&word)) {
        return false;
    }
    // SAFETY: inside the code, at an even address.
    let half = |back: u32| unsafe { ((word - 1 - back) as *const u16).read_volatile() };
    let [first, second] = [half(4), half(2)];
    (first & 0xf800 == 0xf000 && second & 0xd000 == 0xd000) || second & 0xff87 == 0x4780
}
