//! In: erases and page programs. Out: bytes as a NOR flash keeps them: erasing sets, programming only clears.
//! Power can be cut after any number of bytes, leaving a half-written page behind.

use std::sync::{Arc, Mutex, PoisonError};

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use holdtrue_firmware::flash::{Flash, PAGE, PAGE_BYTES, SECTOR, SECTORS};

use super::Misuses;
use super::clock::Clock;

const SIZE: usize = (SECTOR * SECTORS) as usize;

struct Cells {
    bytes: Vec<u8>,
    writes: u64,
    /// Bytes that can still change before the power goes.
    power_left: Option<usize>,
}

/// The gauge's flash, shared between firmware and bench, so that it outlives a reset.
#[derive(Clone)]
pub struct FlashChip {
    clock: Clock,
    misuses: Misuses,
    cells: Arc<Mutex<Cells>>,
}

/// The power is gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PowerGone;

impl NorFlashError for PowerGone {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::Other
    }
}

impl FlashChip {
    /// Erased.
    pub fn new(clock: Clock, misuses: Misuses) -> Self {
        let cells = Cells {
            bytes: vec![0xff; SIZE],
            writes: 0,
            power_left: None,
        };
        Self {
            clock,
            misuses,
            cells: Arc::new(Mutex::new(cells)),
        }
    }

    /// Erases and programs so far.
    pub fn writes(&self) -> u64 {
        self.with(|cells| cells.writes)
    }

    /// Cuts the power once this many more bytes have changed; `None` gives it back.
    pub fn cut_power_after(&self, bytes: Option<usize>) {
        self.with(|cells| cells.power_left = bytes);
    }

    fn with<T>(&self, work: impl FnOnce(&mut Cells) -> T) -> T {
        work(&mut self.cells.lock().unwrap_or_else(PoisonError::into_inner))
    }

    fn note(&self, what: &str) {
        self.misuses
            .note(self.clock.now_ns(), format!("flash: {what}"));
    }
}

impl Cells {
    /// Changes one byte, if the power is still there.
    fn change(&mut self, at: usize, to: u8) -> Result<(), PowerGone> {
        match &mut self.power_left {
            Some(0) => return Err(PowerGone),
            Some(left) => *left -= 1,
            None => {}
        }
        if let Some(byte) = self.bytes.get_mut(at) {
            *byte = to;
        }
        Ok(())
    }
}

impl ErrorType for FlashChip {
    type Error = PowerGone;
}

impl ReadNorFlash for FlashChip {
    const READ_SIZE: usize = 1;

    fn capacity(&self) -> usize {
        SIZE
    }

    fn read(&mut self, at: u32, into: &mut [u8]) -> Result<(), PowerGone> {
        let from = at as usize;
        let found = self.with(|cells| {
            if cells.power_left == Some(0) {
                return Err(PowerGone);
            }
            Ok(cells
                .bytes
                .get(from..from + into.len())
                .map(|bytes| into.copy_from_slice(bytes)))
        })?;
        if found.is_none() {
            self.note("read past the end");
        }
        Ok(())
    }
}

impl Flash for FlashChip {}

impl NorFlash for FlashChip {
    const WRITE_SIZE: usize = PAGE_BYTES;
    const ERASE_SIZE: usize = SECTOR as usize;

    fn erase(&mut self, at: u32, to: u32) -> Result<(), PowerGone> {
        if !at.is_multiple_of(SECTOR) || to != at + SECTOR || at >= SECTOR * SECTORS {
            self.note("erase away from a sector's start");
        }
        self.with(|cells| {
            cells.writes += 1;
            let from = at as usize;
            (from..from + SECTOR as usize).try_for_each(|place| cells.change(place, 0xff))
        })
    }

    fn write(&mut self, at: u32, page: &[u8]) -> Result<(), PowerGone> {
        if !at.is_multiple_of(PAGE) || page.len() != PAGE_BYTES || at >= SECTOR * SECTORS {
            self.note("program away from a page's start");
        }
        let mut set_again = false;
        let done = self.with(|cells| {
            cells.writes += 1;
            page.iter().enumerate().try_for_each(|(offset, wanted)| {
                let place = at as usize + offset;
                let there = cells.bytes.get(place).copied().unwrap_or(0);
                set_again |= there & wanted != *wanted;
                cells.change(place, there & wanted)
            })
        });
        if set_again {
            self.note("program of a bit that only an erase can set");
        }
        done
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bench() -> (FlashChip, Misuses) {
        let misuses = Misuses::default();
        (FlashChip::new(Clock::default(), misuses.clone()), misuses)
    }

    fn byte(flash: &mut FlashChip, at: u32) -> u8 {
        let mut byte = [0];
        flash.read(at, &mut byte).unwrap();
        byte[0]
    }

    #[test]
    fn programming_only_clears_and_erasing_sets() {
        let (mut flash, misuses) = bench();
        flash.write(0, &[0x0f; PAGE_BYTES]).unwrap();
        assert_eq!(byte(&mut flash, 5), 0x0f);
        flash.write(0, &[0xf5; PAGE_BYTES]).unwrap();
        assert_eq!(byte(&mut flash, 5), 0x05);
        assert_eq!(
            misuses.list().len(),
            1,
            "setting a bit by programming is noted"
        );
        flash.erase(0, SECTOR).unwrap();
        assert_eq!(byte(&mut flash, 5), 0xff);
    }

    #[test]
    fn a_power_cut_leaves_half_a_page() {
        let (mut flash, _) = bench();
        flash.cut_power_after(Some(100));
        assert_eq!(flash.write(256, &[0; PAGE_BYTES]), Err(PowerGone));
        flash.cut_power_after(None);
        assert_eq!(
            (byte(&mut flash, 256 + 99), byte(&mut flash, 256 + 100)),
            (0, 0xff)
        );
    }

    #[test]
    fn crooked_addresses_are_noted() {
        let (mut flash, misuses) = bench();
        flash.erase(5, 5 + SECTOR).unwrap();
        flash.write(3, &[0xff; PAGE_BYTES]).unwrap();
        assert_eq!(misuses.list().len(), 2);
    }
}
