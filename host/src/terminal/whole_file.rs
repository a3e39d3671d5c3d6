//! Reading a file that somebody named. In: where, and how much it may hold. Out: all of it, or what was found instead.

use std::fs::File;
use std::io;
use std::io::Read;
use std::path::Path;

/// Why a file was not read.
#[derive(Debug)]
pub enum NotRead {
    /// It is not there, or not for whoever asks.
    Unreadable(io::Error),
    /// A folder.
    Folder,
    /// A device or a pipe, which may have no end.
    Device,
    /// Of so many bytes.
    TooLarge(u64),
}

impl NotRead {
    /// What was found.
    pub fn found(&self) -> String {
        match self {
            Self::Unreadable(source) => format!("no way to read it ({source})"),
            Self::Folder => "a folder".to_owned(),
            Self::Device => "a device or a pipe".to_owned(),
            Self::TooLarge(bytes) => size(*bytes),
        }
    }
}

/// All of a file. A film or a device named by mistake is not read to its end.
///
/// # Errors
/// [`NotRead`].
pub fn read(path: &Path, most_bytes: u64) -> Result<Vec<u8>, NotRead> {
    // Looked at before it is opened: opening a pipe waits for somebody who writes.
    let facts = path.metadata().map_err(NotRead::Unreadable)?;
    if facts.is_dir() {
        return Err(NotRead::Folder);
    }
    if !facts.is_file() {
        return Err(NotRead::Device);
    }
    if facts.len() > most_bytes {
        return Err(NotRead::TooLarge(facts.len()));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(NotRead::Unreadable)?;
    file.take(most_bytes)
        .read_to_end(&mut bytes)
        .map_err(NotRead::Unreadable)?;
    Ok(bytes)
}

/// "0.31 MB", "12 kB": bytes as a person compares them.
pub fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..100_000 => format!("{} kB", bytes.div_ceil(1_000)),
        // A display of at most six digits.
        more => format!("{:.1} MB", more as f64 / 1e6),
    }
}
