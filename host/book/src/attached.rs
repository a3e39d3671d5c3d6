//! Photos and other files that belong to something in the book.
//!
//! In: bytes with a name and a media type, and what they belong to. Out: the same bytes, after their SHA-256 was recomputed.

use crate::book::{Book, Result, Stamp, id, read_id};
use crate::digest::sha256_hex;
use crate::schema::{ATTACHMENT, FILE};
use std::collections::BTreeSet;
use uuid::Uuid;

/// The largest file a book takes: a photograph, a scanned page; no film.
pub const MAX_FILE_BYTES: usize = 64 << 20;

/// A file and what it belongs to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Attachment {
    /// This row.
    pub id: Uuid,
    /// A row or an entity: visit, check, finding, event, spindle …
    pub target: Uuid,
    /// SHA-256 of its bytes, as returned by [`Book::keep_file`].
    pub sha256: String,
    /// `image/jpeg`, `application/pdf` …
    pub media_type: String,
    /// File name without folders.
    pub name: String,
    /// What it shows; may be empty.
    pub text: String,
    /// Who and when.
    pub stamp: Stamp,
}

impl Book {
    /// Keeps the bytes of a file and returns their SHA-256, by which attachments refer to them. Kept as they are, so that
    /// two copies of a book hold the same row for the same file.
    pub fn keep_file(&mut self, bytes: &[u8]) -> Result<String> {
        if bytes.len() > MAX_FILE_BYTES {
            let found = format!("{} bytes", bytes.len());
            return Err(self.refused("file", found, "a file of at most 64 MiB"));
        }
        let sha256 = sha256_hex(bytes);
        self.put(&FILE, vec![sha256.clone().into(), bytes.to_vec().into()])?;
        Ok(sha256)
    }

    /// The bytes of a file, after their SHA-256 was recomputed.
    pub fn file(&self, sha256: &str) -> Result<Option<Vec<u8>>> {
        if !self.has(&FILE)? {
            return Ok(None);
        }
        let sql = "SELECT bytes FROM file WHERE sha256 = ?1";
        let found = self
            .rows(sql, [sha256], |row| row.get::<_, Vec<u8>>(0))?
            .pop();
        match found {
            Some(bytes) if sha256_hex(&bytes) != sha256 => Err(self.damaged(
                format!("file {sha256}"),
                "its bytes do not give its SHA-256",
            )),
            found => Ok(found),
        }
    }

    pub(crate) fn files(&self) -> Result<Vec<String>> {
        match self.has(&FILE)? {
            true => self.rows("SELECT sha256 FROM file", [], |row| row.get(0)),
            false => Ok(Vec::new()),
        }
    }

    /// Attaches a file that is kept already. After the end of a visit, too: it is then shown as later.
    pub fn attach(&mut self, row: &Attachment) -> Result<()> {
        let [author, at] = self.stamp(&row.stamp)?;
        let whole = |(kind, form): (&str, &str)| !kind.is_empty() && !form.is_empty();
        if !row.media_type.split_once('/').is_some_and(whole) {
            return Err(self.refused("media_type", &row.media_type, "one like image/jpeg"));
        }
        let [sha256, media_type, name, text] =
            [&row.sha256, &row.media_type, &row.name, &row.text].map(|text| text.clone().into());
        let values = vec![
            id(row.id),
            id(row.target),
            sha256,
            media_type,
            name,
            text,
            author,
            at,
        ];
        self.together(|book| {
            book.require_target(row.target)?;
            if book.file(&row.sha256)?.is_none() {
                return Err(book.unknown("file", &row.sha256));
            }
            book.put(&ATTACHMENT, values).map(|_| ())
        })
    }

    /// Every attachment in order of time.
    pub fn attachments(&self) -> Result<Vec<Attachment>> {
        if !self.has(&ATTACHMENT)? {
            return Ok(Vec::new());
        }
        let sql = "SELECT * FROM attachment ORDER BY julianday(at), id";
        self.rows(sql, [], |row| {
            Ok(Attachment {
                id: read_id(row, "id")?,
                target: read_id(row, "target")?,
                sha256: row.get("sha256")?,
                media_type: row.get("media_type")?,
                name: row.get("name")?,
                text: row.get("text")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    pub(crate) fn attachments_on(&self, reached: &BTreeSet<String>) -> Result<Vec<Attachment>> {
        let mut rows = self.attachments()?;
        rows.retain(|row| reached.contains(&row.target.to_string()));
        Ok(rows)
    }
}
