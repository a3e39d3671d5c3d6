//! The drive of a gauge's boot mode. In: where it may be. Out: the folder it is mounted at; an image written there.

use crate::terminal::error::Error;
use std::fs;
use std::fs::File;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// What the boot mode puts there, and the board it names.
const ABOUT: &str = "INFO_UF2.TXT";
const BOARD: &str = "Board-ID: RPI-RP2";
/// What the image is called there; the boot mode takes any name.
const IMAGE: &str = "gauge.uf2";

/// The drive, if it is there.
///
/// # Errors
/// Another board's drive, where one was named; several drives: exit 5.
pub fn find(named: Option<&Path>) -> Result<Option<PathBuf>, Error> {
    if let Some(folder) = named {
        let Some(about) = about(folder) else {
            return Ok(None);
        };
        if about.contains(BOARD) {
            return Ok(Some(folder.to_owned()));
        }
        return Err(Error::gauge(format!(
            "{}: found the drive of another board in {ABOUT}, expected one that says \"{BOARD}\". Nothing was written. Name the \
             drive of the gauge with --drive",
            folder.display()
        )));
    }
    let found = mounted().into_iter();
    let mut ours = found.filter(|folder| about(folder).is_some_and(|about| about.contains(BOARD)));
    let drives: Vec<PathBuf> = ours.by_ref().collect();
    match drives.as_slice() {
        [] => Ok(None),
        [only] => Ok(Some(only.clone())),
        several => {
            let names: Vec<String> = several
                .iter()
                .map(|one| one.display().to_string())
                .collect();
            Err(Error::gauge(format!(
                "found the drives of {} boards: {}. Nothing was written. Unplug what is not the gauge, or name its drive with --drive",
                several.len(),
                names.join(", ")
            )))
        }
    }
}

fn about(folder: &Path) -> Option<String> {
    let bytes = fs::read(folder.join(ABOUT)).ok()?;
    Some(String::from_utf8_lossy(&bytes).into_owned())
}

/// Folders at which systems put drives that are plugged in.
fn mounted() -> Vec<PathBuf> {
    if cfg!(windows) {
        return (b'A'..=b'Z')
            .map(|letter| PathBuf::from(format!("{}:\\", char::from(letter))))
            .collect();
    }
    let roots = ["/media", "/run/media", "/Volumes", "/mnt"].map(PathBuf::from);
    let below = roots.iter().flat_map(|root| folders(root));
    // Directly below, or below a folder of the person's own.
    below
        .flat_map(|folder| folders(&folder).into_iter().chain([folder]))
        .collect()
}

fn folders(of: &Path) -> Vec<PathBuf> {
    let listed = fs::read_dir(of).into_iter().flatten().flatten();
    listed.map(|entry| entry.path()).collect()
}

/// Writes an image there. The drive goes away as soon as it has all of it, so that what fails behind the last byte says
/// nothing: the gauge that answers then does.
///
/// # Errors
/// It takes no file, or not all of it: exit 6.
pub fn write(drive: &Path, image: &[u8]) -> Result<(), Error> {
    let path = drive.join(IMAGE);
    let failed = |error: std::io::Error| {
        let found = match error.kind() {
            ErrorKind::PermissionDenied => "no permission to write there".to_owned(),
            ErrorKind::StorageFull => "no room there".to_owned(),
            _ => error.to_string(),
        };
        Error::book(format!(
            "{}: {found}. The gauge is in its boot mode and keeps its calibrations: copy the file onto the drive by hand, or \
             unplug it, plug it in and repeat the command",
            path.display()
        ))
    };
    let mut file = File::create(&path).map_err(failed)?;
    file.write_all(image).map_err(failed)?;
    let _ = file.sync_all();
    Ok(())
}
