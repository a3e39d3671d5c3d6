//! In: a file with another image for a gauge. Out: that image as it will lie in the flash, or why the file is none.
//!
//! UF2 (USB Flashing Format): blocks of 512 bytes, each with a page of flash and where it goes. The chip's boot mode takes any
//! whole block wherever it points, so everything is looked at here, before the gauge is asked to leave.

use holdtrue_protocol::{frame, usb};
use std::collections::BTreeMap;

const BLOCK: usize = 512;
const MAGIC: [u32; 2] = [0x0a32_4655, 0x9e5d_5157];
const MAGIC_END: u32 = 0x0ab1_6f30;
const NOT_FOR_FLASH: u32 = 0x0001;
const FAMILY_GIVEN: u32 = 0x2000;
/// The RP2040.
const FAMILY: u32 = 0xe48b_ff56;
const PAGE: u32 = 256;
/// Where the program begins in the chip's address space, and how much flash its boards have.
const FLASH_AT: u32 = 0x1000_0000;
const FLASH_BYTES: u32 = 2 * 1024 * 1024;
/// The last part of the flash holds calibrations and the gauge's other records.
pub const RECORDS_BYTES: u32 = 48 * 1024;
const PROGRAM_END: u32 = FLASH_AT + FLASH_BYTES - RECORDS_BYTES;

/// An image that may be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Image {
    /// What the gauge calls it once it runs: the sum of its program.
    pub build: u32,
    /// Bytes of flash it takes.
    pub bytes: usize,
}

/// Why a file is no image for a gauge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unfit {
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: &'static str,
}

struct Block<'f> {
    at: u32,
    number: u32,
    total: u32,
    page: &'f [u8],
}

/// Reads a file.
///
/// # Errors
/// [`Unfit`] for the first thing that is not as an image for a gauge has it.
pub fn read(file: &[u8]) -> Result<Image, Unfit> {
    let whole = "whole blocks of 512 bytes, one and more";
    if file.is_empty() || !file.len().is_multiple_of(BLOCK) {
        return unfit(format!("{} bytes", file.len()), whole);
    }
    let count = file.len() / BLOCK;
    let mut pages = BTreeMap::new();
    for (place, bytes) in file.chunks(BLOCK).enumerate() {
        let block = block(bytes, place + 1)?;
        if block.total as usize != count || block.number as usize != place {
            let found = format!(
                "block {} of {} in the place of block {} of {count}",
                u64::from(block.number) + 1,
                block.total,
                place + 1
            );
            return unfit(
                found,
                "all its blocks in order: copy or download the file again",
            );
        }
        if pages.insert(block.at, block.page).is_some() {
            let found = format!("two blocks for {:08x}", block.at);
            return unfit(found, "one block for each page of the flash");
        }
    }
    for (place, at) in (FLASH_AT..).step_by(PAGE as usize).zip(pages.keys()) {
        if *at != place {
            return unfit(
                format!("nothing for {place:08x}"),
                "a program without a gap from the start of the flash on",
            );
        }
    }
    let program = pages.into_values().collect::<Vec<_>>().concat();
    let name = usb::PRODUCT.as_bytes();
    if !program.windows(name.len()).any(|window| window == name) {
        return unfit(
            "another program".to_owned(),
            "the firmware of a holdtrue gauge",
        );
    }
    Ok(Image {
        build: frame::crc32(&program),
        bytes: program.len(),
    })
}

fn block(bytes: &[u8], number: usize) -> Result<Block<'_>, Unfit> {
    let word = |at: usize| {
        let four = bytes[at..at + 4].first_chunk();
        four.map_or(0, |four| u32::from_le_bytes(*four))
    };
    if [word(0), word(4)] != MAGIC || word(BLOCK - 4) != MAGIC_END {
        let found = format!("no UF2 block as block {number}");
        return unfit(
            found,
            "a UF2 file: the one named .uf2, and not the .elf beside it",
        );
    }
    let (flags, at, size) = (word(8), word(12), word(16));
    if flags & FAMILY_GIVEN == 0 || word(28) != FAMILY {
        let found = format!("block {number} for another chip");
        return unfit(found, "an image for the gauge's chip, the RP2040");
    }
    if flags & NOT_FOR_FLASH != 0 || size != PAGE || !at.is_multiple_of(PAGE) {
        let found = format!("block {number} with {size} bytes for {at:08x}");
        return unfit(found, "a page of 256 bytes for the flash in each block");
    }
    if !(FLASH_AT..FLASH_AT + FLASH_BYTES).contains(&at) {
        let found = format!("block {number} for {at:08x}");
        return unfit(found, "addresses in the flash, 10000000 to 101fffff");
    }
    if at >= PROGRAM_END {
        let found = format!("block {number} for {at:08x}");
        return unfit(
            found,
            "nothing from 101f4000 on, where the gauge keeps its calibrations",
        );
    }
    Ok(Block {
        at,
        number: word(20),
        total: word(24),
        page: &bytes[32..32 + PAGE as usize],
    })
}

fn unfit<T>(found: String, expected: &'static str) -> Result<T, Unfit> {
    Err(Unfit { found, expected })
}
