//! One program at a time. In: what somebody wants to have alone. Out: a lease that ends with the program, however it ends.
//!
//! The system's lock on an empty file in the folder for temporary files: gone with its holder, on a kill too, and nothing
//! lies beside the book. It holds between the programs of one computer. The file is taken away with the lease; a program that is
//! killed leaves it, and its next lease takes it over.

use crate::terminal::error::Error;
use sha2::{Digest, Sha256};
use std::fs::{File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Held as long as this lives.
#[derive(Debug)]
pub struct Lease {
    path: PathBuf,
    locked: File,
}

impl Lease {
    /// A check, to add to it; none while another program adds to it.
    ///
    /// # Errors
    /// The system takes no lock: exit 6.
    pub fn of_check(check: Uuid) -> Result<Option<Self>, Error> {
        let name = check.simple().to_string();
        loop {
            let lease = Self::open(&name)?;
            match lease.locked.try_lock() {
                Ok(()) if lease.is_in_place() => return Ok(Some(lease)),
                Ok(()) => lease.let_go(),
                Err(TryLockError::WouldBlock) => {
                    lease.let_go();
                    return Ok(None);
                }
                Err(TryLockError::Error(source)) => return Err(lease.cannot(&source)),
            }
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
        loop {
            let lease = Self::open(&name)?;
            match lease.locked.lock() {
                Ok(()) if lease.is_in_place() => return Ok(lease),
                Ok(()) => lease.let_go(),
                Err(source) => return Err(lease.cannot(&source)),
            }
        }
    }

    /// Opened, and not locked yet.
    fn open(name: &str) -> Result<Self, Error> {
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
            Ok(locked) => Ok(Self { path, locked }),
            Err(source) => Err(cannot(&path, &source)),
        }
    }

    /// Whether its name still means this file: whoever held it before may have taken it away between opening and locking it,
    /// and a lock on a file without a name keeps nobody out.
    fn is_in_place(&self) -> bool {
        is_of(&self.path, &self.locked)
    }

    /// Nothing was held, so the file is not taken away.
    fn let_go(self) {
        let mut lease = self;
        lease.path.clear();
    }

    fn cannot(self, source: &io::Error) -> Error {
        let error = cannot(&self.path, source);
        self.let_go();
        error
    }
}

impl Drop for Lease {
    /// Only who holds the lock takes the file away, so the name can mean no other by now. A file of another user stays.
    fn drop(&mut self) {
        if cfg!(unix) && !self.path.as_os_str().is_empty() && self.is_in_place() {
            let _ = std::fs::remove_file(&self.path);
        }
    }
}

#[cfg(unix)]
fn is_of(path: &Path, file: &File) -> bool {
    use std::os::unix::fs::MetadataExt;
    let id = |facts: std::fs::Metadata| (facts.dev(), facts.ino());
    let (named, held) = (std::fs::metadata(path), file.metadata());
    named.is_ok_and(|named| held.is_ok_and(|held| id(named) == id(held)))
}

/// A file that is open is not taken away there, so that its name always means it.
#[cfg(not(unix))]
fn is_of(_path: &Path, _file: &File) -> bool {
    true
}

fn cannot(path: &Path, source: &io::Error) -> Error {
    Error::book(format!(
        "{}: cannot be locked ({source}), so that another program could add to the same check. Set TMPDIR (on Windows TEMP) to a \
         folder you may write in",
        path.display()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::thread;

    #[test]
    fn one_at_a_time_however_often_it_is_given_back_and_no_file_is_left() {
        let name = std::env::temp_dir().join(format!("lease-of-{}", Uuid::now_v7()));
        let (inside, done) = (AtomicUsize::new(0), AtomicUsize::new(0));
        thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    for _ in 0..200 {
                        let lease = Lease::of_file(&name).expect("a lease");
                        assert_eq!(inside.fetch_add(1, Ordering::SeqCst), 0, "alone");
                        thread::yield_now();
                        inside.fetch_sub(1, Ordering::SeqCst);
                        drop(lease);
                        done.fetch_add(1, Ordering::SeqCst);
                    }
                });
            }
        });
        assert_eq!(done.load(Ordering::SeqCst), 1_600);
        let path = Lease::of_file(&name).expect("a lease").path.clone();
        assert_eq!(path.exists(), cfg!(not(unix)));
    }

    #[test]
    fn a_check_that_somebody_adds_to_is_given_to_nobody_else() {
        let check = Uuid::now_v7();
        let held = Lease::of_new_check(check).expect("a new one");
        assert!(Lease::of_check(check).expect("an answer").is_none());
        assert!(held.path.exists(), "who was refused takes nothing away");
        drop(held);
        assert!(Lease::of_check(check).expect("an answer").is_some());
    }
}
