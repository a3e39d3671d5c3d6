//! Photos of what was found. In: files a person names; later the rows of a visit. Out: the file as it is in the book, attached
//! to its finding; a picture ready for the page.

use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::whole_file;
use crate::terminal::whole_file::{NotRead, size};
use crate::terminal::working::Working;
use crate::visits::arguments::PhotoArgs;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::corrected::{strike_document, strike_on, strike_words};
use holdtrue_book::{Attachment, Book, MAX_FILE_BYTES, Remark, Stamp, Visit};
use holdtrue_photo::{Format, Picture, Unusable};
use serde_json::{Value, json};
use std::iter::repeat;
use std::path::Path;
use uuid::Uuid;

/// A photo that is to be attached.
#[derive(Clone, Debug)]
pub struct NewPhoto {
    name: String,
    caption: String,
    format: Format,
    bytes: Vec<u8>,
    picture: Picture,
}

/// Reads a photo and makes its picture, so that what cannot go onto the page is refused before anything is written.
///
/// # Errors
/// No file that can be read, or no whole JPEG or PNG: exit 4.
pub fn read(path: &Path, caption: &str) -> Result<NewPhoto, Error> {
    let shown = path.display().to_string();
    let bytes = bytes_of(path, &shown)?;
    let (format, picture) = both(&bytes).map_err(|unusable| refused(&shown, &unusable))?;
    let name = path.file_name().unwrap_or_default();
    Ok(NewPhoto {
        name: name.to_string_lossy().into_owned(),
        caption: caption.trim().to_owned(),
        format,
        bytes,
        picture,
    })
}

/// All photos of a command, each with what it shows.
///
/// # Errors
/// As [`read`]; more captions than photos: exit 2.
pub fn read_all(args: &PhotoArgs) -> Result<Vec<NewPhoto>, Error> {
    let PhotoArgs { photos, captions } = args;
    if captions.len() > photos.len() {
        return Err(Error::usage(format!(
            "found {} captions for {} photos, expected at most one each, in the order of the photos",
            captions.len(),
            photos.len()
        )));
    }
    let captions = captions.iter().map(String::as_str).chain(repeat(""));
    let working = Working::of("Photos looked at", photos.len());
    let each = photos.iter().zip(captions).map(|(path, caption)| {
        let photo = read(path, caption)?;
        working.step();
        Ok(photo)
    });
    each.collect()
}

fn both(bytes: &[u8]) -> Result<(Format, Picture), Unusable> {
    Ok((
        holdtrue_photo::format(bytes)?,
        holdtrue_photo::for_page(bytes)?,
    ))
}

fn bytes_of(path: &Path, shown: &str) -> Result<Vec<u8>, Error> {
    let smaller = format!("a photo of at most {} MB", MAX_FILE_BYTES / 1_000_000);
    whole_file::read(path, MAX_FILE_BYTES as u64).map_err(|not_read| {
        let (expected, next) = match not_read {
            NotRead::Unreadable(_) => ("a photo as JPEG or PNG", "Check the name and the folder."),
            NotRead::Folder | NotRead::Device | NotRead::TooLarge(_) => (
                smaller.as_str(),
                "Name a photo; a larger one is first saved smaller with any picture viewer.",
            ),
        };
        let refusal = Refusal {
            found: &not_read.found(),
            expected,
            next,
        };
        Error::input(Place::file(shown), refusal)
    })
}

fn refused(shown: &str, unusable: &Unusable) -> Error {
    let refusal = Refusal {
        found: &unusable.found(),
        expected: &unusable.expected(),
        next: unusable.next(),
    };
    Error::input(Place::file(shown), refusal)
}

impl NewPhoto {
    /// What becomes of it.
    pub fn line(&self) -> String {
        let Picture {
            jpeg,
            width,
            height,
        } = &self.picture;
        format!(
            "    photo {}: kept as it is ({}); on the page {width} × {height} pixels, {}, without place and time",
            self.name,
            size(self.bytes.len() as u64),
            size(jpeg.len() as u64)
        )
    }
}

/// A photo and the row that attaches it.
#[derive(Debug)]
pub struct Attached<'a> {
    photo: &'a NewPhoto,
    target: Uuid,
    id: Uuid,
    stamp: Stamp,
}

/// The rows for the photos of a finding.
pub fn rows<'a>(photos: &'a [NewPhoto], finding: Uuid, writer: &BookWriter) -> Vec<Attached<'a>> {
    let each = photos.iter().map(|photo| Attached {
        photo,
        target: finding,
        id: writer.id(),
        stamp: writer.stamp(),
    });
    each.collect()
}

impl Attached<'_> {
    /// Keeps the file and attaches it.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn attach(&self, book: &mut Book) -> holdtrue_book::Result<()> {
        let sha256 = book.keep_file(&self.photo.bytes)?;
        book.attach(&Attachment {
            id: self.id,
            target: self.target,
            sha256,
            media_type: self.photo.format.media_type().to_owned(),
            name: self.photo.name.clone(),
            text: self.photo.caption.clone(),
            stamp: self.stamp.clone(),
        })
    }
}

/// A photo of a finding, with its number there.
#[derive(Clone, Debug)]
pub struct Photo<'a> {
    /// From 1, in order of time, as `finding edit --without-photo` takes it.
    pub number: usize,
    /// The row.
    pub row: &'a Attachment,
    /// It is not shown any more, and why.
    pub struck: Option<&'a Remark>,
}

/// The photos of a finding in order of time, struck ones among them.
pub fn of(finding: Uuid, visit: &Visit) -> Vec<Photo<'_>> {
    let pictures = visit
        .attachments
        .iter()
        .filter(|row| row.target == finding && row.media_type.starts_with("image/"));
    let each = (1..).zip(pictures).map(|(number, row)| Photo {
        number,
        row,
        struck: strike_on(&visit.remarks, row.id),
    });
    each.collect()
}

impl Photo<'_> {
    /// As a list has it.
    pub fn line(&self) -> String {
        let Attachment { name, text, .. } = self.row;
        let said = if text.is_empty() {
            String::new()
        } else {
            format!(", {text}")
        };
        let struck = self
            .struck
            .map_or_else(String::new, |strike| format!(", {}", strike_words(strike)));
        format!("    photo {}: {name}{said}{struck}", self.number)
    }

    /// As a document has it.
    pub fn document(&self) -> Value {
        let Attachment {
            sha256,
            media_type,
            name,
            text,
            stamp,
            ..
        } = self.row;
        json!({
            "number": self.number,
            "name": name,
            "caption": text,
            "media_type": media_type,
            "sha256": sha256,
            "by": stamp.author,
            "at": stamp.at,
            "struck": strike_document(self.struck),
        })
    }

    /// The picture for the page.
    ///
    /// # Errors
    /// When the book cannot be read, or holds a picture of another tool that this one cannot show: exit 6.
    pub fn picture(&self, book: &Book) -> Result<Picture, Error> {
        let Attachment { sha256, name, .. } = self.row;
        let bytes = book.file(sha256)?.unwrap_or_default();
        holdtrue_photo::for_page(&bytes).map_err(|unusable| {
            Error::book(format!(
                "{}: photo \"{name}\": {unusable} holdtrue finding edit NUMBER --without-photo {} takes it off the page",
                book.path().display(),
                self.number
            ))
        })
    }
}
