//! The gauge's records in the last sectors of the board's flash.
//!
//! The program runs from the same flash: while a sector is erased or a page programmed nothing of it may run, so
//! interrupts stay off. The gauge asks for it only while it is not streaming.

use core::convert::Infallible;

use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};
use holdtrue_firmware::flash::{PAGE_BYTES, SECTOR, SECTORS};
use rp2040_flash::flash::{flash_range_erase, flash_range_program, flash_unique_id};

const MAPPED_AT: usize = 0x1000_0000;
const FLASH_BYTES: u32 = 2 * 1024 * 1024;
const REGION_BYTES: u32 = SECTORS * SECTOR;
/// From the start of the flash; memory.x keeps the program out.
const REGION_AT: u32 = FLASH_BYTES - REGION_BYTES;
/// Let the second-stage boot loader set up reading again, as fast as it was.
const USE_BOOT2: bool = true;

/// The region, of which there is one.
pub struct Records(());

impl Records {
    /// Takes it. Called once, by the start of the program.
    pub fn take() -> Self {
        Self(())
    }

    /// The number the flash chip's maker gave it.
    pub fn unique_id(&mut self) -> [u8; 8] {
        let mut id = [0; 8];
        // SAFETY: interrupts are off, the second core is never started, no DMA runs; the routine itself is in RAM.
        cortex_m::interrupt::free(|_| unsafe { flash_unique_id(&mut id, USE_BOOT2) });
        id
    }
}

impl ErrorType for Records {
    type Error = Infallible;
}

impl ReadNorFlash for Records {
    const READ_SIZE: usize = 1;

    fn capacity(&self) -> usize {
        REGION_BYTES as usize
    }

    fn read(&mut self, at: u32, into: &mut [u8]) -> Result<(), Infallible> {
        let from = (MAPPED_AT + (REGION_AT + at) as usize) as *const u8;
        for (place, byte) in into.iter_mut().enumerate() {
            // SAFETY: the gauge reads within its region, which is mapped, always readable here, and written by
            // nobody else. Volatile, because it changes behind the compiler's back.
            *byte = unsafe { from.add(place).read_volatile() };
        }
        Ok(())
    }
}

impl NorFlash for Records {
    const WRITE_SIZE: usize = PAGE_BYTES;
    const ERASE_SIZE: usize = SECTOR as usize;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Infallible> {
        // SAFETY: as for the unique id; the gauge gives whole sectors of its region.
        cortex_m::interrupt::free(|_| unsafe {
            flash_range_erase(REGION_AT + from, to - from, USE_BOOT2)
        });
        Ok(())
    }

    fn write(&mut self, at: u32, page: &[u8]) -> Result<(), Infallible> {
        // SAFETY: as for the unique id; the gauge gives a whole page of its region, and it is in RAM:
        // it was put together a moment ago.
        cortex_m::interrupt::free(|_| unsafe {
            flash_range_program(REGION_AT + at, page, USE_BOOT2)
        });
        Ok(())
    }
}
