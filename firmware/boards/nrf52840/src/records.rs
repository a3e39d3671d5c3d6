//! The gauge's records in the last pages of the chip's flash.
//!
//! The processor stands still while a page is erased (85 ms). The gauge asks for it only while it is not streaming.

use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};
use holdtrue_firmware::flash::{Flash, SECTOR, SECTORS};
use nrf52840_hal::nvmc::{Nvmc, NvmcError};
use nrf52840_hal::pac::NVMC;

const FLASH_BYTES: usize = 1024 * 1024;
const REGION_BYTES: usize = (SECTORS * SECTOR) as usize;
/// memory.x keeps the program out.
const REGION_AT: usize = FLASH_BYTES - REGION_BYTES;

/// The region, of which there is one.
pub struct Records(Nvmc<NVMC>);

impl Records {
    /// Takes it. The controller is given away, so this can happen once only.
    pub fn take(controller: NVMC) -> Self {
        // SAFETY: the region is flash of this chip, outside the program, and nobody else refers to it.
        let region = unsafe { core::slice::from_raw_parts_mut(REGION_AT as *mut u8, REGION_BYTES) };
        Self(Nvmc::new(controller, region))
    }
}

impl ErrorType for Records {
    type Error = NvmcError;
}

impl ReadNorFlash for Records {
    const READ_SIZE: usize = Nvmc::<NVMC>::READ_SIZE;

    fn capacity(&self) -> usize {
        self.0.capacity()
    }

    fn read(&mut self, at: u32, into: &mut [u8]) -> Result<(), NvmcError> {
        self.0.read(at, into)
    }
}

// Its flash is made for the whole range the chip runs in (1.7 V and up, data sheet, from memory).
impl Flash for Records {}

impl NorFlash for Records {
    const WRITE_SIZE: usize = Nvmc::<NVMC>::WRITE_SIZE;
    const ERASE_SIZE: usize = Nvmc::<NVMC>::ERASE_SIZE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NvmcError> {
        self.0.erase(from, to)
    }

    fn write(&mut self, at: u32, page: &[u8]) -> Result<(), NvmcError> {
        self.0.write(at, page)
    }
}
