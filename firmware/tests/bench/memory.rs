//! A flash memory that can lose power in the middle of anything, and tells what was done to it.

use std::collections::VecDeque;

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use holdtrue_firmware::flash::{Flash, PAGE_BYTES, SECTOR, SECTORS};

/// What an erase leaves that power cut short.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TornErase {
    /// The beginning is blank, the rest as before.
    Beginning,
    /// The end is blank, the rest as before.
    End,
    /// Bits all over the sector have gone to one, the more the later it was cut.
    Scattered,
}

/// An erase is cut after so many of these, bytes.
const ERASE_STEP: usize = 16;

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PowerLost;

impl NorFlashError for PowerLost {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::Other
    }
}

/// The memory, with a budget of steps until power is lost: one for a byte programmed, one for 16 bytes erased.
#[derive(Clone, Debug)]
pub struct Memory {
    bytes: Vec<u8>,
    torn: TornErase,
    left: Option<usize>,
    /// What the supply is found to be at the next looks at it; 3.3 V after them.
    pub supply_mv: VecDeque<u16>,
    pub steps: usize,
    pub erases: usize,
    pub programs: usize,
}

impl Memory {
    pub fn blank() -> Self {
        Self {
            bytes: vec![0xff; (SECTOR * SECTORS) as usize],
            torn: TornErase::Beginning,
            left: None,
            supply_mv: VecDeque::new(),
            steps: 0,
            erases: 0,
            programs: 0,
        }
    }

    /// Loses power after so many steps.
    pub fn cut_after(&mut self, steps: usize, torn: TornErase) {
        self.left = Some(steps);
        self.torn = torn;
    }

    /// Power is back.
    pub fn power_up(&mut self) {
        self.left = None;
    }

    fn afford(&mut self, wanted: usize) -> usize {
        let granted = self.left.map_or(wanted, |left| left.min(wanted));
        if let Some(left) = &mut self.left {
            *left -= granted;
        }
        self.steps += granted;
        granted
    }

    fn powered(&self) -> Result<(), PowerLost> {
        if self.left == Some(0) {
            Err(PowerLost)
        } else {
            Ok(())
        }
    }
}

impl ErrorType for Memory {
    type Error = PowerLost;
}

impl ReadNorFlash for Memory {
    const READ_SIZE: usize = 1;

    fn capacity(&self) -> usize {
        self.bytes.len()
    }

    fn read(&mut self, at: u32, into: &mut [u8]) -> Result<(), PowerLost> {
        self.powered()?;
        let at = at as usize;
        into.copy_from_slice(&self.bytes[at..at + into.len()]);
        Ok(())
    }
}

impl Flash for Memory {
    fn supply_mv(&mut self) -> Option<u16> {
        self.supply_mv.pop_front().or(Some(3_300))
    }
}

impl NorFlash for Memory {
    const WRITE_SIZE: usize = PAGE_BYTES;
    const ERASE_SIZE: usize = SECTOR as usize;

    fn erase(&mut self, at: u32, to: u32) -> Result<(), PowerLost> {
        assert_eq!(at % SECTOR, 0, "an erase begins at a sector");
        assert_eq!(to, at + SECTOR, "one sector a call: it takes its time");
        self.powered()?;
        self.erases += 1;
        let wanted = SECTOR as usize / ERASE_STEP;
        let done = self.afford(wanted);
        let sector = &mut self.bytes[at as usize..(at + SECTOR) as usize];
        let reached = done * ERASE_STEP;
        if done == wanted {
            sector.fill(0xff);
            return Ok(());
        }
        match self.torn {
            TornErase::Beginning => sector[..reached].fill(0xff),
            TornErase::End => {
                let length = sector.len();
                sector[length - reached..].fill(0xff);
            }
            TornErase::Scattered => {
                let mut random = 0x2545_f491_u32;
                for bit in 0..sector.len() * 8 {
                    random ^= random << 13;
                    random ^= random >> 17;
                    random ^= random << 5;
                    if (random as usize % wanted) < done {
                        sector[bit / 8] |= 1 << (bit % 8);
                    }
                }
            }
        }
        Err(PowerLost)
    }

    fn write(&mut self, at: u32, page: &[u8]) -> Result<(), PowerLost> {
        assert_eq!(at as usize % PAGE_BYTES, 0, "a page begins at a page");
        assert_eq!(page.len(), PAGE_BYTES, "one page a call");
        self.powered()?;
        self.programs += 1;
        let done = self.afford(PAGE_BYTES);
        let old = &mut self.bytes[at as usize..at as usize + PAGE_BYTES];
        assert!(
            old.iter().all(|&byte| byte == 0xff),
            "only blank pages are programmed"
        );
        for (byte, &new) in old.iter_mut().zip(page).take(done) {
            *byte &= new;
        }
        if done == PAGE_BYTES {
            return Ok(());
        }
        old[done] &= page[done] | 0b0101_0101; // the byte under way: half its bits
        Err(PowerLost)
    }
}
