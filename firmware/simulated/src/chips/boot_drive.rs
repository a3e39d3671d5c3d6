//! The drive of the chip's USB boot mode. In: a folder that stands for it, files copied there. Out: the image that a whole file
//! brings.

use std::path::PathBuf;
use std::{fs, io};

use holdtrue_protocol::frame::crc32;

/// Bytes of a block, and of the flash in it.
const BLOCK: usize = 512;
const PAGE: usize = 256;
const PAGE_AT: usize = 32;
const TOTAL_AT: usize = 24;
/// What the boot ROM writes there, in its own words.
const ABOUT: &str = "UF2 Bootloader v3.0\r\nModel: Raspberry Pi RP2\r\nBoard-ID: RPI-RP2\r\n";

/// The drive, while the chip is in its boot mode.
#[derive(Debug)]
pub struct BootDrive {
    folder: PathBuf,
}

impl BootDrive {
    /// It appears.
    ///
    /// # Errors
    ///
    /// The folder cannot be made.
    pub fn appear(folder: PathBuf) -> io::Result<Self> {
        fs::create_dir_all(&folder)?;
        fs::write(folder.join("INFO_UF2.TXT"), ABOUT)?;
        Ok(Self { folder })
    }

    /// The sum of the program that a file brings, once it is there whole. The drive is gone then.
    pub fn taken(&self) -> Option<u32> {
        let files = fs::read_dir(&self.folder).ok()?.flatten();
        let mut paths = files.map(|file| file.path());
        let path = paths.find(|path| path.extension().is_some_and(|name| name == "uf2"))?;
        let bytes = fs::read(path).ok()?;
        let blocks = bytes.chunks_exact(BLOCK);
        let total = bytes.get(TOTAL_AT..)?.first_chunk()?;
        if blocks.len() != u32::from_le_bytes(*total) as usize {
            return None;
        }
        let pages = blocks.flat_map(|block| &block[PAGE_AT..PAGE_AT + PAGE]);
        let program: Vec<u8> = pages.copied().collect();
        fs::remove_dir_all(&self.folder).ok()?;
        Some(crc32(&program))
    }
}
