//! The gauge's records in the last sectors of the board's flash.
//!
//! The program runs from the same flash: while a sector is erased or a page programmed nothing of it may run, so
//! interrupts stay off. The gauge asks for it only while it is not streaming.

use core::convert::Infallible;

use embedded_storage::nor_flash::{ErrorType, NorFlash, ReadNorFlash};
use holdtrue_firmware::flash::{Flash, PAGE_BYTES, SECTOR, SECTORS};
use rp2040_flash::flash::{flash_range_erase, flash_range_program, flash_unique_id};
use rp2040_hal::Adc;
use rp2040_hal::pac::{ADC, RESETS};

const MAPPED_AT: usize = 0x1000_0000;
const FLASH_BYTES: u32 = 2 * 1024 * 1024;
const REGION_BYTES: u32 = SECTORS * SECTOR;
/// From the start of the flash; memory.x keeps the program out.
const REGION_AT: u32 = FLASH_BYTES - REGION_BYTES;
/// Let the second-stage boot loader set up reading again, as fast as it was.
const USE_BOOT2: bool = true;

/// The region, of which there is one, and its supply.
pub struct Records {
    supply: Supply,
}

impl Records {
    /// Takes it. Called once, by the start of the program.
    pub fn take(supply: Supply) -> Self {
        Self { supply }
    }

    /// The number the flash chip's maker gave it.
    pub fn unique_id(&mut self) -> [u8; 8] {
        let mut id = [0; 8];
        // SAFETY: interrupts are off, the second core is never started, no DMA runs; the routine itself is in RAM.
        cortex_m::interrupt::free(|_| unsafe { flash_unique_id(&mut id, USE_BOOT2) });
        id
    }
}

/// The board's 3.3 V, on which chip and flash are: the chip's own converter measures the diode of its temperature sensor against it.
pub struct Supply(ADC);

impl Supply {
    /// The diode's channel.
    const DIODE: u8 = 4;
    /// The diode gives 706 mV at 27 °C and 1.721 mV less for each degree (RP2040 data sheet, 4.9.5), 666 mV at 50 °C; that chips differ
    /// by 10 mV is from memory. So it gives no less than this on a chip that is not hotter, and more voltage there is in the
    /// supply than is reckoned, never less.
    const DIODE_LEAST_MV: u32 = 656;
    const STEPS: u32 = 4_096;
    /// 2 µs each: noise of some steps is gone.
    const READINGS: u32 = 8;

    /// Switches converter and diode on.
    pub fn new(adc: ADC, resets: &mut RESETS) -> Self {
        let mut adc = Adc::new(adc, resets);
        let _ = adc.take_temp_sensor(); // on from here; its channel is named below
        Self(adc.free())
    }

    /// What the supply is at least.
    fn millivolts(&mut self) -> Option<u16> {
        let sum: u32 = (0..Self::READINGS).map(|_| self.read()).sum();
        let found = (Self::DIODE_LEAST_MV * Self::STEPS * Self::READINGS).checked_div(sum)?;
        u16::try_from(found).ok()
    }

    fn read(&mut self) -> u32 {
        let control = self.0.cs();
        // SAFETY: a channel the converter has.
        control.modify(|_, w| unsafe { w.ainsel().bits(Self::DIODE).start_once().set_bit() });
        while control.read().ready().bit_is_clear() {}
        u32::from(self.0.result().read().result().bits())
    }
}

impl Flash for Records {
    fn supply_mv(&mut self) -> Option<u16> {
        self.supply.millivolts()
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
