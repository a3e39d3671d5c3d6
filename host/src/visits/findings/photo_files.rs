//! `finding photos`: the originals of a visit's photos, out of the book. In: a folder. Out: a file a photo, byte for byte as it
//! came from the camera, with whatever it says of place and owner; none is written over another.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::{Error, Place};
use crate::terminal::exit::Exit;
use crate::terminal::output_file;
use crate::terminal::output_file::Kind;
use crate::terminal::whole_file::size;
use crate::visits::arguments::WhichVisit;
use crate::visits::book::opening::visit_meant;
use crate::visits::corrected::findings;
use crate::visits::findings::photos;
use crate::visits::findings::photos::Photo;
use holdtrue_book::{Book, Visit};
use serde_json::{Value, json};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

const PHOTO: Kind = Kind {
    name: "a photo",
    is: |bytes| holdtrue_photo::format(bytes).is_ok(),
};
/// Letters of a photo's own name that are kept.
const LONGEST: usize = 80;

/// One that is to be written.
struct Original {
    /// The finding's number, and the photo's there.
    numbers: (usize, usize),
    path: PathBuf,
    sha256: String,
    bytes: Vec<u8>,
    /// It lies there already, the same to the byte.
    is_there: bool,
}

/// Writes them; `struck`: those that were taken off the page, too.
///
/// # Errors
/// A file of such a name holds something else, before anything is written; the folder cannot be written; the book lacks a
/// file: exit 6.
pub(crate) fn run(
    folder: &Path,
    struck: bool,
    which: &WhichVisit,
    app: &App,
) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let visit = book.visit(visit_meant(&book, which.visit.as_deref())?)?;
    let originals = named(&visit, struck, folder)
        .into_iter()
        .map(|(numbers, path, photo)| original(numbers, path, &photo, &book))
        .collect::<Result<Vec<Original>, Error>>()?;
    if !originals.is_empty() {
        let name = folder.display().to_string();
        fs::create_dir_all(folder).map_err(|source| Error::cannot_write(&name, &source))?;
    }
    for original in originals.iter().filter(|original| !original.is_there) {
        output_file::write(&original.path, PHOTO, &original.bytes, false)?;
    }
    let result = json!({
        "schema": 1,
        "folder": folder.display().to_string(),
        "photos": originals.iter().map(Original::document).collect::<Vec<Value>>(),
    });
    Finished::new(Exit::Done, &result, words(&originals, folder))
}

/// The photos of a visit with the files they become, in order.
fn named<'a>(
    visit: &'a Visit,
    struck: bool,
    folder: &Path,
) -> Vec<((usize, usize), PathBuf, Photo<'a>)> {
    let mut all = Vec::new();
    for each in findings(visit) {
        for photo in photos::of(each.finding.id, visit) {
            if struck || photo.struck.is_none() {
                let numbers = (each.number, photo.number);
                all.push((numbers, folder.join(file_name(numbers, photo.row)), photo));
            }
        }
    }
    all
}

/// "3-1-IMG_2041.jpg": of its own name only what can lead to no other folder and is a name on every system.
fn file_name((finding, photo): (usize, usize), row: &holdtrue_book::Attachment) -> String {
    let is_plain = |sign: char| sign.is_alphanumeric() || matches!(sign, '-' | '_' | '.');
    let plain: Vec<char> = row
        .name
        .chars()
        .map(|sign| if is_plain(sign) { sign } else { '_' })
        .collect();
    // Its end says what it is.
    let kept: String = plain[plain.len().saturating_sub(LONGEST)..]
        .iter()
        .collect();
    let ending = match row.media_type.as_str() {
        _ if kept.contains('.') => "",
        "image/png" => ".png",
        _ => ".jpg",
    };
    format!("{finding}-{photo}-{}{ending}", kept.trim_end_matches('.'))
}

fn original(
    numbers: (usize, usize),
    path: PathBuf,
    photo: &Photo<'_>,
    book: &Book,
) -> Result<Original, Error> {
    let sha256 = photo.row.sha256.clone();
    let Some(bytes) = book.file(&sha256)? else {
        return Err(Error::book(format!(
            "{}: photo \"{}\" is named in the book and its file is not there. holdtrue book check says what else is damaged",
            book.path().display(),
            photo.row.name
        )));
    };
    let is_there = match fs::read(&path) {
        Ok(there) if there == bytes => true,
        Err(source) if source.kind() == ErrorKind::NotFound => false,
        _ => {
            let name = path.display().to_string();
            return Err(Error::book(format!(
                "{name}: found something else of this name, expected none or this very photo; it is not written over. Name \
                 another folder. Nothing was changed."
            ))
            .about(Place::file(&name)));
        }
    };
    Ok(Original {
        numbers,
        path,
        sha256,
        bytes,
        is_there,
    })
}

impl Original {
    fn document(&self) -> Value {
        json!({
            "finding": self.numbers.0,
            "number": self.numbers.1,
            "file": self.path.display().to_string(),
            "bytes": self.bytes.len(),
            "sha256": self.sha256,
            "written": !self.is_there,
        })
    }
}

fn words(originals: &[Original], folder: &Path) -> String {
    let mut lines: Vec<String> = originals
        .iter()
        .map(|original| {
            let there = if original.is_there {
                ", there already"
            } else {
                ""
            };
            let size = size(original.bytes.len() as u64);
            format!("{}  {size}{there}", original.path.display())
        })
        .collect();
    lines.push(match originals.len() {
        0 => "This visit has no photo: nothing was written.".to_owned(),
        1 => format!("1 photo in {}, as it came from the camera: it may say where it was taken.", folder.display()),
        more => format!(
            "{more} photos in {}, as they came from the camera: they may say where they were taken.",
            folder.display()
        ),
    });
    lines.join("\n")
}
