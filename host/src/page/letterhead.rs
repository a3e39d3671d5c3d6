//! Who hands a paper over. In: the settings. Out: lines and a sign for its head.

use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::settings::Settings;
use crate::terminal::whole_file;
use holdtrue_report::Letterhead;
use holdtrue_report::document::Photo;
use std::path::Path;

/// A sign of more bytes than this is a photo.
const MOST_BYTES: u64 = 4_000_000;

/// As the settings have it. The sign is read anew for each paper: whoever changes it changes the file.
///
/// # Errors
/// The file of the sign is gone, or no picture any more: exit 4, with how to go on without it.
pub(crate) fn letterhead(settings: &Settings) -> Result<Letterhead, Error> {
    let logo = settings.logo.as_deref().map(|path| {
        let next =
            "Put it back where it was, name another with holdtrue settings --logo FILE, or do without: holdtrue settings --forget logo.";
        read(path, settings.letterhead.first(), next)
    });
    Ok(Letterhead {
        lines: settings.letterhead.clone(),
        logo: logo.transpose()?,
    })
}

/// Refuses what cannot stand at the head of a paper.
///
/// # Errors
/// No file that can be read, or no whole PNG or JPEG: exit 4.
pub fn to_be_logo(path: &Path) -> Result<(), Error> {
    let next = "Name a PNG or JPEG; any picture viewer saves one. Nothing was set.";
    read(path, None, next).map(|_| ())
}

/// `of`: whose sign it is, for who does not see it.
fn read(path: &Path, of: Option<&String>, next: &str) -> Result<Photo, Error> {
    let name = path.display().to_string();
    let refused = |found: &str| {
        let refusal = Refusal {
            found,
            expected: "a sign for the head of a paper, as PNG or JPEG of at most 4 MB",
            next,
        };
        Error::input(Place::file(&name), refusal)
    };
    let bytes =
        whole_file::read(path, MOST_BYTES).map_err(|not_read| refused(&not_read.found()))?;
    let picture =
        holdtrue_photo::for_page(&bytes).map_err(|unusable| refused(&unusable.found()))?;
    Ok(Photo {
        jpeg: picture.jpeg,
        width: picture.width,
        height: picture.height,
        caption: of.map_or_else(|| "logo".to_owned(), |of| format!("logo of {of}")),
    })
}
