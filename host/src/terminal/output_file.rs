//! Writing a file that somebody named. In: where, of which kind, the bytes. Out: the whole file; or the old one as it was,
//! and nothing beside it.

use crate::terminal::error::{Error, Place};
use std::fs;
use std::fs::{File, OpenOptions};
use std::io;
use std::io::{ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf, is_separator};
use uuid::Uuid;

/// What a file holds, told from its content: a name says nothing.
#[derive(Clone, Copy, Debug)]
pub struct Kind {
    /// In words.
    pub name: &'static str,
    /// Whether a file that begins, and ends, like this is one.
    pub is: fn(&[u8]) -> bool,
}

/// The page of a visit.
pub const PAGE: Kind = Kind {
    name: "a page of this program",
    is: holdtrue_report::is_page,
};

/// The same as a PDF.
pub const PDF: Kind = Kind {
    name: "a PDF of this program",
    is: holdtrue_report::is_pdf,
};

/// What one person wants on screen.
pub const SETTINGS: Kind = Kind {
    name: "a settings file of this program",
    is: crate::terminal::settings::is_settings,
};

/// As much of a file as is looked at, from either end.
const LOOKED_AT: u64 = 1 << 16;
/// Links that are followed, one after the other.
const MOST_LINKS: usize = 40;

/// Writes the file; `overwrite` says that one of the same kind may be replaced.
///
/// # Errors
/// Exit 6, and nothing is changed: something else lies there, or the file is there and `overwrite` is not said, or it
/// cannot be written.
pub fn write(path: &Path, kind: Kind, bytes: &[u8], overwrite: bool) -> Result<(), Error> {
    let target = allowed(path, kind, overwrite)?;
    let name = path.display().to_string();
    replace(&target, bytes).map_err(|source| Error::cannot_write(&name, &source))
}

/// Where a file would be written; nothing is changed.
///
/// # Errors
/// As [`write()`], before anything is written.
pub fn allowed(path: &Path, kind: Kind, overwrite: bool) -> Result<PathBuf, Error> {
    let name = path.display().to_string();
    let target = place(path)?;
    if target.exists() {
        refuse_other_kind(&name, &target, kind)?;
        if !overwrite {
            return Err(refused(
                &name,
                &format!("found {} of this name", kind.name),
                "it is not written over. Name another file, or add --overwrite to replace it",
            ));
        }
        if target
            .metadata()
            .is_ok_and(|file| file.permissions().readonly())
        {
            return Err(refused(
                &name,
                "found a file that may be read only",
                "it is not written over. Name another file, or change its permission",
            ));
        }
    }
    Ok(target)
}

/// The same as [`target`], by the one name that is the file's own.
///
/// # Errors
/// As [`target`].
pub fn place(path: &Path) -> Result<PathBuf, Error> {
    let target = target(path)?;
    let folder = folder_of(&target).canonicalize();
    let folder =
        folder.map_err(|source| Error::cannot_write(&path.display().to_string(), &source))?;
    Ok(folder.join(target.file_name().unwrap_or_default()))
}

/// What a database lays beside its file, and takes away again.
const BESIDE_A_BOOK: [&str; 3] = ["-journal", "-wal", "-shm"];

/// What is written under such a name is gone with the next look into the book.
fn refuse_beside_a_book(name: &str, target: &Path) -> Result<(), Error> {
    let of = |end: &&str| {
        target
            .as_os_str()
            .to_str()?
            .strip_suffix(*end)
            .map(PathBuf::from)
    };
    let book = BESIDE_A_BOOK.iter().find_map(of);
    let is_book =
        |book: &PathBuf| book.extension().is_some_and(|it| it == "holdtrue") || book.is_file();
    match book.filter(is_book) {
        Some(book) => Err(refused(
            name,
            &format!(
                "found the name of what {} keeps beside it while it is written",
                book.display()
            ),
            "a file there is taken for a part of the book, and removed. Name another file",
        )),
        None => Ok(()),
    }
}

/// Where a file of this name is written: links followed, a regular file or none yet, in a folder that is there.
///
/// # Errors
/// Anything else: exit 6.
pub fn target(path: &Path) -> Result<PathBuf, Error> {
    let name = path.display().to_string();
    let cannot = |source: io::Error| Error::cannot_write(&name, &source);
    let mut target = path.to_owned();
    for _ in 0..MOST_LINKS {
        match fs::read_link(&target) {
            Ok(next) => target = target.parent().unwrap_or(Path::new("")).join(next),
            Err(_) => break,
        }
    }
    refuse_beside_a_book(&name, &target)?;
    match fs::metadata(&target) {
        Ok(file) if file.is_file() => Ok(target),
        Ok(file) => Err(refused(
            &name,
            if file.is_dir() {
                "found a folder"
            } else {
                "found a device or a pipe"
            },
            "only a regular file is written. Name another file",
        )),
        Err(source)
            if matches!(
                source.kind(),
                ErrorKind::NotFound | ErrorKind::NotADirectory
            ) =>
        {
            let last = target.as_os_str().as_encoded_bytes().last();
            let as_folder = last.is_some_and(|last| is_separator(char::from(*last)));
            if as_folder || target.file_name().is_none() || !folder_of(&target).is_dir() {
                return Err(refused(
                    &name,
                    "found no folder to put it in",
                    "make the folder first, or name another file",
                ));
            }
            Ok(target)
        }
        Err(source) => Err(cannot(source)),
    }
}

/// Puts a new file in the place of what is there: whole on the disk before it takes the name, so that a full disk or a cut
/// leaves the old one.
///
/// # Errors
/// What the system says; the old file is then as it was.
pub fn replace(target: &Path, bytes: &[u8]) -> io::Result<()> {
    // A name of its own: two programs may write at once.
    let fresh = folder_of(target).join(format!(".holdtrue-{}.new", Uuid::now_v7().simple()));
    let written = || -> io::Result<()> {
        let mut file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&fresh)?;
        file.write_all(bytes)?;
        if let Ok(old) = target.metadata() {
            file.set_permissions(old.permissions())?;
        }
        file.sync_all()?;
        fs::rename(&fresh, target)
    };
    written().inspect_err(|_| {
        // The first error tells more than one about a file nobody asked for.
        let _ = fs::remove_file(&fresh);
    })
}

fn folder_of(target: &Path) -> &Path {
    match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

fn refuse_other_kind(name: &str, target: &Path, kind: Kind) -> Result<(), Error> {
    let beginning = ends(target).map_err(|source| Error::cannot_write(name, &source))?;
    if (kind.is)(&beginning) {
        return Ok(());
    }
    let found = if beginning.starts_with(b"SQLite format 3\0") {
        "found a database, such as a book"
    } else {
        "found a file of another kind"
    };
    Err(refused(
        name,
        found,
        &format!(
            "expected none, or {}: it is not written over, with --overwrite neither. Name another file",
            kind.name
        ),
    ))
}

/// Both ends of a file, or the whole of a short one.
fn ends(path: &Path) -> io::Result<Vec<u8>> {
    let mut file = File::open(path)?;
    let mut bytes = Vec::new();
    Read::by_ref(&mut file)
        .take(LOOKED_AT)
        .read_to_end(&mut bytes)?;
    let left = file.metadata()?.len().saturating_sub(LOOKED_AT);
    if left > 0 {
        file.seek(SeekFrom::Start(LOOKED_AT.max(left)))?;
        file.take(LOOKED_AT).read_to_end(&mut bytes)?;
    }
    Ok(bytes)
}

fn refused(name: &str, found: &str, next: &str) -> Error {
    Error::book(format!("{name}: {found}; {next}. Nothing was changed.")).about(Place::file(name))
}
