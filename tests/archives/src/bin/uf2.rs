//! `uf2 IMAGE.elf OUT.uf2`: an image for an RP2040 comes in; the file its USB boot mode takes goes out.
//!
//! UF2 (USB Flashing Format, published with its reference implementation by Microsoft): blocks of 512 bytes, each with
//! 256 bytes of flash and where they go. Pages that the image leaves out are left as they are: the records stay.

use std::collections::BTreeMap;
use std::error::Error;
use std::fs;

const PAGE: u32 = 256;
const FLASH: std::ops::Range<u32> = 0x1000_0000..0x1020_0000;
const FAMILY_RP2040: u32 = 0xe48b_ff56;
const FAMILY_GIVEN: u32 = 0x2000;
const MAGIC: [u32; 2] = [0x0a32_4655, 0x9e5d_5157];
const MAGIC_END: u32 = 0x0ab1_6f30;
const LOADABLE: u32 = 1;
const ERASED: u8 = 0xff;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [image, out] = &words[..] else {
        return Err("usage: uf2 IMAGE.elf OUT.uf2".into());
    };
    let elf = fs::read(image).map_err(|error| format!("{image}: {error}"))?;
    let pages =
        pages(&elf).ok_or_else(|| format!("{image} is no 32-bit little-endian ELF file"))?;
    fs::write(out, blocks(&pages)?).map_err(|error| format!("{out}: {error}"))?;
    println!("{out}: {} pages of flash", pages.len());
    Ok(())
}

/// The image's bytes in flash, by page.
fn pages(elf: &[u8]) -> Option<BTreeMap<u32, Vec<u8>>> {
    let mut pages = BTreeMap::new();
    if elf.get(..5)? != b"\x7fELF\x01" {
        return None;
    }
    let table = word(elf, 28)?;
    let (size, count) = (half(elf, 42)?, half(elf, 44)?);
    for head in (0..count).map(|nr| table + nr * size) {
        let (offset, address, length) = (
            word(elf, head + 4)?,
            word(elf, head + 12)?,
            word(elf, head + 16)?,
        );
        if word(elf, head)? != LOADABLE || !FLASH.contains(&address) {
            continue;
        }
        let bytes = elf.get(index(offset)..index(offset + length))?;
        for (at, &byte) in (address..).zip(bytes) {
            let page = pages
                .entry(at - at % PAGE)
                .or_insert_with(|| vec![ERASED; index(PAGE)]);
            page[index(at % PAGE)] = byte;
        }
    }
    Some(pages)
}

fn blocks(pages: &BTreeMap<u32, Vec<u8>>) -> Result<Vec<u8>, Box<dyn Error>> {
    let total = u32::try_from(pages.len())?;
    let mut out = Vec::new();
    for (number, (&address, page)) in (0_u32..).zip(pages) {
        let head = [
            MAGIC[0],
            MAGIC[1],
            FAMILY_GIVEN,
            address,
            PAGE,
            number,
            total,
            FAMILY_RP2040,
        ];
        out.extend(head.iter().flat_map(|word| word.to_le_bytes()));
        out.extend(page);
        out.resize(out.len() + 512 - 32 - 256 - 4, 0);
        out.extend(MAGIC_END.to_le_bytes());
    }
    Ok(out)
}

fn word(bytes: &[u8], at: u32) -> Option<u32> {
    bytes
        .get(index(at)..)?
        .first_chunk()
        .map(|chunk| u32::from_le_bytes(*chunk))
}

fn half(bytes: &[u8], at: u32) -> Option<u32> {
    bytes
        .get(index(at)..)?
        .first_chunk()
        .map(|chunk| u32::from(u16::from_le_bytes(*chunk)))
}

fn index(value: u32) -> usize {
    usize::try_from(value).expect("a computer that builds images has at least 32 bits")
}
