//! The program as it lies in the flash, for every board. In: where it starts. Out: its sum, by which a person tells one image
//! from another.

use core::ptr::addr_of;

use holdtrue_protocol::frame;

/// Files for the USB boot mode and debug probes fill the last page up with erased bytes.
const PAGE: usize = 256;

// Where cortex-m-rt's linker script puts the values that variables start with: the last of the program.
unsafe extern "C" {
    static __sidata: u32;
    static __sdata: u32;
    static __edata: u32;
}

/// CRC-32 of the program from `starts_at`, which is not 0, whole pages.
pub fn crc32(starts_at: usize) -> u32 {
    let variables = addr_of!(__edata) as usize - addr_of!(__sdata) as usize;
    let end = (addr_of!(__sidata) as usize + variables).next_multiple_of(PAGE);
    // SAFETY: this memory is mapped and readable, and nobody writes the program while it runs.
    let program = unsafe { core::slice::from_raw_parts(starts_at as *const u8, end - starts_at) };
    frame::crc32(program)
}
