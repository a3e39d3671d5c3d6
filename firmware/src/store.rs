//! Small records go in and come back after any loss of power: each lives in two sectors, page by page, and the newest
//! valid page wins.
//!
//! A page is written only where all is blank, and a sector erased only while the newest page lies in the other one.
//! So at every moment, in mid-erase and mid-program too, a valid page of the last finished saving exists.
//!
//! | byte | what |
//! |---|---|
//! | 0–3 | `48 54 52 31` |
//! | 4 | which [`Record`] |
//! | 5 | payload length |
//! | 6–7 | `ff ff` |
//! | 8–11 | sequence number, lowest byte first; counts savings of this record |
//! | 12–251 | payload, then `ff` |
//! | 252–255 | CRC-32/ISO-HDLC of bytes 0–251, lowest byte first |

use heapless::Vec;
use holdtrue_protocol::frame::crc32;

use crate::flash::{Flash, LEAST_SUPPLY_MV, PAGE, PAGE_BYTES, SECTOR, SECTORS};

/// Longest payload of a record.
pub const MAX_PAYLOAD: usize = 240;

const MARK: [u8; 4] = *b"HTR1";
const PAYLOAD_AT: usize = 12;
const CRC_AT: usize = 252;
const BLANK: u8 = 0xff;
const PAGES_PER_SECTOR: u32 = SECTOR / PAGE;
/// Times a page may read back wrong before saving gives up.
const MAX_TRIES: u8 = 4;

/// The records of a gauge, each in its own pair of sectors.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Record {
    /// How often the gauge has started.
    BootNumber,
    /// Calibration of the load cell.
    ForceCalibration,
    /// Calibration of the incremental probe.
    DisplacementCalibration,
    /// Calibration of the digital indicator.
    IndicatorCalibration,
    /// The last overloads.
    Overloads,
    /// The last stops of the program.
    Stops,
}

const _: () = assert!(2 * (Record::Stops as u32 + 1) == SECTORS);

impl Record {
    /// The region ends where the flash ends and has grown at its front: what earlier images stored stays where it was.
    const fn place(self) -> u32 {
        match self {
            Self::Stops => 0,
            earlier => 1 + earlier as u32,
        }
    }

    fn page_address(self, page: u32) -> u32 {
        self.place() * 2 * SECTOR + page * PAGE
    }
}

/// A record's content.
pub type Payload = Vec<u8, MAX_PAYLOAD>;

/// The newest valid content of a record.
///
/// # Errors
///
/// The memory failed.
pub fn newest<F: Flash>(flash: &mut F, record: Record) -> Result<Option<Payload>, F::Error> {
    let Some(found) = survey(flash, record)?.newest else {
        return Ok(None);
    };
    let mut page = [0; PAGE_BYTES];
    flash.read(record.page_address(found.page), &mut page)?;
    Ok(valid(&page, record).map(|content| content.payload))
}

/// Saves a record now, waiting for the flash: for the start of the gauge, before anything samples.
#[must_use]
pub fn save_waiting<F: Flash>(flash: &mut F, record: Record, payload: Payload) -> bool {
    let mut saving = Saving::new(record, payload);
    loop {
        match saving.step(flash) {
            Progress::Working => {}
            Progress::Stored => return true,
            Progress::Failed | Progress::SupplyLow(_) => return false,
        }
    }
}

/// How far a saving is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// More steps are needed.
    Working,
    /// Stored and read back equal.
    Stored,
    /// The memory does not take it.
    Failed,
    /// The supply, millivolts, is too low for what comes next. Nothing was touched: the next step tries again.
    SupplyLow(u16),
}

/// A record on its way into the flash; each step makes at most one erase or one program.
#[derive(Clone, Debug)]
pub struct Saving {
    record: Record,
    payload: Payload,
    tries: u8,
    next: Next,
}

#[derive(Clone, Copy, Debug)]
enum Next {
    Find,
    Erase { first_page: u32, sequence: u32 },
    Program { page: u32, sequence: u32 },
}

impl Saving {
    /// Nothing written yet.
    #[must_use]
    pub const fn new(record: Record, payload: Payload) -> Self {
        Self {
            record,
            payload,
            tries: 0,
            next: Next::Find,
        }
    }

    /// Does the next step. The supply is looked at right before each that changes the memory, so that one which sags between the
    /// erase and the program leaves a blank sector and, in the other one, the record that was there.
    pub fn step<F: Flash>(&mut self, flash: &mut F) -> Progress {
        if !matches!(self.next, Next::Find)
            && let Some(found) = flash.supply_mv().filter(|&mv| mv < LEAST_SUPPLY_MV)
        {
            return Progress::SupplyLow(found);
        }
        let progress = match self.next {
            Next::Find => self.find(flash),
            Next::Erase {
                first_page,
                sequence,
            } => self.erase(flash, first_page, sequence),
            Next::Program { page, sequence } => self.program(flash, page, sequence),
        };
        progress.unwrap_or(Progress::Failed)
    }

    fn find<F: Flash>(&mut self, flash: &mut F) -> Result<Progress, F::Error> {
        let survey = survey(flash, self.record)?;
        self.next = survey.next_step();
        Ok(Progress::Working)
    }

    fn erase<F: Flash>(
        &mut self,
        flash: &mut F,
        first_page: u32,
        sequence: u32,
    ) -> Result<Progress, F::Error> {
        let () = F::FITS;
        let sector = self.record.page_address(first_page);
        flash.erase(sector, sector + SECTOR)?;
        self.next = Next::Program {
            page: first_page,
            sequence,
        };
        Ok(Progress::Working)
    }

    fn program<F: Flash>(
        &mut self,
        flash: &mut F,
        page: u32,
        sequence: u32,
    ) -> Result<Progress, F::Error> {
        let wanted = page_of(self.record, sequence, &self.payload);
        let at = self.record.page_address(page);
        flash.write(at, &wanted)?;
        let mut written = [0; PAGE_BYTES];
        flash.read(at, &mut written)?;
        if written == wanted {
            return Ok(Progress::Stored);
        }
        self.tries += 1;
        self.next = Next::Find;
        Ok(if self.tries < MAX_TRIES {
            Progress::Working
        } else {
            Progress::Failed
        })
    }
}

/// Where the pages of a record stand.
#[derive(Clone, Copy, Debug, Default)]
struct Survey {
    newest: Option<Found>,
    /// One bit a page.
    blank: u32,
}

#[derive(Clone, Copy, Debug)]
struct Found {
    page: u32,
    sequence: u32,
}

impl Survey {
    fn is_blank(&self, page: u32) -> bool {
        self.blank >> page & 1 == 1
    }

    fn next_step(&self) -> Next {
        let Some(newest) = self.newest else {
            return self.start_sector(0, 1);
        };
        let sequence = newest.sequence.saturating_add(1);
        let sector = newest.page / PAGES_PER_SECTOR;
        let end = (sector + 1) * PAGES_PER_SECTOR;
        match (newest.page + 1..end).find(|&page| self.blank_from(page, end)) {
            Some(page) => Next::Program { page, sequence },
            None => self.start_sector(1 - sector.min(1), sequence),
        }
    }

    fn start_sector(&self, sector: u32, sequence: u32) -> Next {
        let first_page = sector * PAGES_PER_SECTOR;
        if self.blank_from(first_page, first_page + PAGES_PER_SECTOR) {
            Next::Program {
                page: first_page,
                sequence,
            }
        } else {
            Next::Erase {
                first_page,
                sequence,
            }
        }
    }

    /// Pages are used in rising order, so behind a free one all are free.
    fn blank_from(&self, page: u32, end: u32) -> bool {
        (page..end).all(|page| self.is_blank(page))
    }
}

fn survey<F: Flash>(flash: &mut F, record: Record) -> Result<Survey, F::Error> {
    let mut survey = Survey::default();
    let mut bytes = [0; PAGE_BYTES];
    for page in 0..2 * PAGES_PER_SECTOR {
        flash.read(record.page_address(page), &mut bytes)?;
        if bytes.iter().all(|&byte| byte == BLANK) {
            survey.blank |= 1 << page;
        } else if let Some(content) = valid(&bytes, record) {
            let newer = survey
                .newest
                .is_none_or(|newest| content.sequence > newest.sequence);
            if newer {
                survey.newest = Some(Found {
                    page,
                    sequence: content.sequence,
                });
            }
        }
    }
    Ok(survey)
}

struct Content {
    sequence: u32,
    payload: Payload,
}

fn valid(page: &[u8; PAGE_BYTES], record: Record) -> Option<Content> {
    let (body, sum) = page.split_last_chunk::<4>()?;
    let ([mark @ .., kind, length, _, _], rest) = body.split_first_chunk::<8>()?;
    let (sequence, payload) = rest.split_first_chunk::<4>()?;
    if *mark != MARK || *kind != record as u8 || crc32(body) != u32::from_le_bytes(*sum) {
        return None;
    }
    let payload = payload.get(..usize::from(*length))?;
    Some(Content {
        sequence: u32::from_le_bytes(*sequence),
        payload: Payload::from_slice(payload).ok()?,
    })
}

fn page_of(record: Record, sequence: u32, payload: &Payload) -> [u8; PAGE_BYTES] {
    let mut page = [BLANK; PAGE_BYTES];
    page[..4].copy_from_slice(&MARK);
    page[4] = record as u8;
    // At most MAX_PAYLOAD, which is below 256.
    page[5] = payload.len().to_le_bytes()[0];
    page[8..PAYLOAD_AT].copy_from_slice(&sequence.to_le_bytes());
    page[PAYLOAD_AT..PAYLOAD_AT + payload.len()].copy_from_slice(payload);
    let sum = crc32(&page[..CRC_AT]);
    page[CRC_AT..].copy_from_slice(&sum.to_le_bytes());
    page
}
