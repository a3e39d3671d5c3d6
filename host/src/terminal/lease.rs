//! One program at a time. In: what somebody wants to have alone. Out: a lease that ends with the program, however it ends.
//!
//! The system's lock on an empty file in the folder for temporary files: gone with its holder, on a kill too, and nothing
//! lies beside the book. It holds between the programs of one computer.

use crate::terminal::error::Error;
use sha2::{Digest, Sha256};
use std::fs::{File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Held as long as this lives.
#[derive(Debug)]
pub struct Lease {
    _locked: File,
}

impl Lease {
    /// A check, to add to it; none while another program adds to it.
    ///
    /// # Errors
    /// The system takes no lock: exit 6.
    pub fn of_check(check: Uuid) -> Result<Option<Self>, Error> {
        let (path, file) = open(&check.simple().to_string())?;
        match file.try_lock() {
            Ok(()) => Ok(Some(Self { _locked: file })),
            Err(TryLockError::WouldBlock) => Ok(None),
            Err(TryLockError::Error(source)) => Err(cannot(&path, &source)),
        }
    }

    /// A check about to begin: nobody can have it.
    ///
    /// # Errors
    /// The system takes no lock: exit 6.
    pub fn of_new_check(check: Uuid) -> Result<Self, Error> {
        Self::of_check(check)?.ok_or_else(|| {
            Error::book(format!("check {check} is not new: begin the command again"))
        })
    }

    /// A file, to change it: waits until the others have done so.
    ///
    /// # Errors
    /// The system takes no lock: exit 6.
    pub fn of_file(file: &Path) -> Result<Self, Error> {
        let whole = std::path::absolute(file).unwrap_or_else(|_| file.to_owned());
        let name = Sha256::digest(whole.as_os_str().as_encoded_bytes());
        let name: String = name[..16]
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect();
        let (path, file) = open(&name)?;
        file.lock().map_err(|source| cannot(&path, &source))?;
        Ok(Self { _locked: file })
    }
}

fn open(name: &str) -> Result<(PathBuf, File), Error> {
    let folder = std::env::temp_dir();
    // A bare system may have none yet. Why it cannot be made, opening the file says.
    let _ = std::fs::create_dir_all(&folder);
    let path = folder.join(format!("holdtrue-{name}.lock"));
    let mine = OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .open(&path);
    // Made by somebody else on this computer: it can be locked all the same.
    let file = mine.or_else(|refused| match refused.kind() {
        io::ErrorKind::PermissionDenied => File::open(&path),
        _ => Err(refused),
    });
    match file {
        Ok(file) => Ok((path, file)),
        Err(source) => Err(cannot(&path, &source)),
    }
}

fn cannot(path: &Path, source: &io::Error) -> Error {
    Error::book(format!(
        "{}: cannot be locked ({source}), so that another program could add to the same check. Set TMPDIR (on Windows TEMP) to a \
         folder you may write in",
        path.display()
    ))
}
