//! The raw record of a check: frames as they came, or the bytes of an imported file.
//!
//! In: whole frames in chunks of at most one second, each chained to the one before; or a file. Out: the same bytes,
//! after the chain has been recomputed.

use crate::book::{Book, Result, Stamp, id, read_id};
use crate::digest::{Cbor, sha256, sha256_hex};
use crate::json::Json;
use crate::schema::{CAPTURE, CHUNK, ORIGINAL};
use crate::words::words;
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Row};
use uuid::Uuid;

/// Hard bound on an unpacked original, so that a forged length cannot fill the memory.
pub const MAX_ORIGINAL_BYTES: usize = 1 << 30;

words! {
    /// Where a raw record comes from.
    Source is "source of a record" {
        /// Frames of a gauge.
        Gauge = "gauge",
        /// An imported file.
        File = "file",
        /// Figures typed by hand.
        Typed = "typed",
    }
}

/// The start of a raw record. One connection, one capture: after a reconnection a new one begins.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Capture {
    /// The capture.
    pub id: Uuid,
    /// The check it belongs to.
    pub check: Uuid,
    /// Where it comes from.
    pub source: Source,
    /// Port, rate, channels, file name … as far as known.
    pub content: Json,
    /// Who and when.
    pub stamp: Stamp,
}

/// Whole frames, packed for storage: each as a length of two bytes, least significant first, and its bytes
/// (after COBS, checksum kept).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Frames(Vec<u8>);

impl Frames {
    /// Appends a frame. Returns false, and takes nothing, where it is longer than 65 535 bytes.
    pub fn push(&mut self, frame: &[u8]) -> bool {
        let Ok(length) = u16::try_from(frame.len()) else {
            return false;
        };
        self.0.extend_from_slice(&length.to_le_bytes());
        self.0.extend_from_slice(frame);
        true
    }

    /// The frames in order; ends early where the packing is broken.
    pub fn iter(&self) -> impl Iterator<Item = &[u8]> {
        let mut rest = self.0.as_slice();
        std::iter::from_fn(move || {
            let (length, after) = rest.split_first_chunk::<2>()?;
            let (frame, after) = after.split_at_checked(u16::from_le_bytes(*length).into())?;
            rest = after;
            Some(frame)
        })
    }

    /// No frame yet.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Forgets all frames, keeps the memory.
    pub fn clear(&mut self) {
        self.0.clear();
    }
}

/// At most one second of frames of one boot of the gauge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chunk {
    /// Wire version, major and minor.
    pub wire: (u8, u8),
    /// Boot number of the gauge; a new boot begins a new chunk.
    pub boot: u32,
    /// When the first frame came.
    pub at: String,
    /// What is known beside the frames: damaged frames, bytes skipped, link lost …
    pub facts: Option<Json>,
    /// The frames.
    pub frames: Frames,
}

/// An imported file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Original {
    /// Its name, without folders.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// What a chain of chunks comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Chain {
    pub count: u64,
    pub last: [u8; 32],
}

impl Book {
    /// Opens a raw record.
    pub fn begin_capture(&mut self, capture: &Capture) -> Result<()> {
        let [author, at] = self.stamp(&capture.stamp)?;
        self.together(|book| {
            book.refuse_closed(capture.check)?;
            let source = capture.source.into();
            let row = vec![
                id(capture.id),
                id(capture.check),
                source,
                (&capture.content).into(),
                author,
                at,
            ];
            book.put(&CAPTURE, row).map(|_| ())
        })
    }

    /// Appends a chunk and returns its number, from 0.
    pub fn append_chunk(&mut self, capture: Uuid, chunk: &Chunk) -> Result<u64> {
        self.time("at", &chunk.at)?;
        self.together(|book| {
            book.refuse_closed(book.check_of(capture)?)?;
            let sql = "SELECT number, chain FROM chunk WHERE capture_id = ?1 ORDER BY number DESC LIMIT 1";
            let read = |row: &Row| Ok((row.get::<_, i64>(0)?, row.get::<_, [u8; 32]>(1)?));
            let last = book.run(|db| db.prepare_cached(sql)?.query_row([capture.to_string()], read).optional())?;
            let (number, before) = last.map_or((0, chain_start(capture)), |(number, chain)| (number + 1, chain));
            let chain = chain_next(&before, number, chunk);
            let row = vec![
                id(capture),
                Value::Integer(number),
                Value::Integer(chunk.wire.0.into()),
                Value::Integer(chunk.wire.1.into()),
                Value::Integer(chunk.boot.into()),
                chunk.at.clone().into(),
                chunk.facts.as_ref().map_or(Value::Null, Value::from),
                chunk.frames.0.clone().into(),
                chain.to_vec().into(),
            ];
            book.put(&CHUNK, row)?;
            Ok(number.unsigned_abs())
        })
    }

    /// The raw records of a check in order of time. Of a finished visit: those its end covers.
    pub fn captures(&self, check: Uuid) -> Result<Vec<Capture>> {
        let covered = self.covered_of_check(check)?;
        let mut rows = self.every_capture(check)?;
        rows.retain(|row| covered.has("capture", row.id));
        Ok(rows)
    }

    pub(crate) fn every_capture(&self, check: Uuid) -> Result<Vec<Capture>> {
        let sql = "SELECT * FROM capture WHERE check_id = ?1 ORDER BY julianday(at), id";
        self.rows(sql, [check.to_string()], |row| {
            Ok(Capture {
                id: read_id(row, "id")?,
                check: read_id(row, "check_id")?,
                source: row.get("source")?,
                content: row.get("content")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// The chunks of a raw record, after their chain was recomputed. Of a finished visit: those its end covers.
    pub fn chunks(&self, capture: Uuid) -> Result<Vec<Chunk>> {
        let covered = self.covered_of_check(self.check_of(capture)?)?;
        let mut chunks = Vec::new();
        self.walk_chain(capture, covered.chunks(capture), |chunk| chunks.push(chunk))?;
        Ok(chunks)
    }

    /// Keeps the bytes of an imported file.
    pub fn keep_original(&mut self, capture: Uuid, original: &Original) -> Result<()> {
        let Original { name, bytes } = original;
        let length = i64::try_from(bytes.len()).unwrap_or(i64::MAX);
        if bytes.len() > MAX_ORIGINAL_BYTES {
            return Err(self.refused(
                "original",
                format!("{length} bytes"),
                "a file of at most 1 GiB",
            ));
        }
        let packed = miniz_oxide::deflate::compress_to_vec_zlib(bytes, 6);
        // Kept as it is where packing does not help, so that the row never grows by it.
        let (how, stored) = if packed.len() < bytes.len() {
            ("zlib", packed)
        } else {
            ("none", bytes.clone())
        };
        self.together(|book| {
            book.refuse_closed(book.check_of(capture)?)?;
            let sha256 = sha256_hex(bytes);
            let how = how.to_owned().into();
            let row = vec![
                id(capture),
                name.clone().into(),
                length.into(),
                sha256.into(),
                how,
                stored.into(),
            ];
            book.put(&ORIGINAL, row).map(|_| ())
        })
    }

    /// The imported file of a raw record, byte for byte, after its SHA-256 was recomputed.
    pub fn original(&self, capture: Uuid) -> Result<Option<Original>> {
        let sql = "SELECT * FROM original WHERE capture_id = ?1";
        let read = |row: &Row| {
            let how: String = row.get("compression")?;
            let stored: Vec<u8> = row.get("bytes")?;
            let length: i64 = row.get("length")?;
            Ok((
                row.get::<_, String>("name")?,
                how,
                stored,
                length,
                row.get::<_, String>("sha256")?,
            ))
        };
        let Some((name, how, stored, length, sha256)) =
            self.rows(sql, [capture.to_string()], read)?.pop()
        else {
            return Ok(None);
        };
        let bytes = match how.as_str() {
            "none" => stored,
            _ => unpack(&stored, length)
                .ok_or_else(|| self.damaged(format!("original {capture}"), "does not unpack"))?,
        };
        if sha256_hex(&bytes) != sha256 {
            return Err(self.damaged(
                format!("original {capture}"),
                "its bytes do not give its SHA-256",
            ));
        }
        Ok(Some(Original { name, bytes }))
    }

    /// Recomputes the chain of a capture, of its first `count` chunks or of all.
    pub(crate) fn chain(&self, capture: Uuid, count: Option<u64>) -> Result<Chain> {
        self.walk_chain(capture, count, |_| ())
    }

    fn walk_chain(
        &self,
        capture: Uuid,
        count: Option<u64>,
        mut each: impl FnMut(Chunk),
    ) -> Result<Chain> {
        let sql = "SELECT * FROM chunk WHERE capture_id = ?1 ORDER BY number LIMIT ?2";
        let limit = count.map_or(-1, |count| i64::try_from(count).unwrap_or(i64::MAX));
        let mut chain = Chain {
            count: 0,
            last: chain_start(capture),
        };
        for (number, stored, chunk) in self.rows(sql, (capture.to_string(), limit), read_chunk)? {
            let place = || format!("chunk {number} of capture {capture}");
            if u64::try_from(number) != Ok(chain.count) {
                return Err(self.damaged(
                    place(),
                    format!("chunk {} is missing before it", chain.count),
                ));
            }
            chain.last = chain_next(&chain.last, number, &chunk);
            if chain.last.as_slice() != stored {
                return Err(self.damaged(place(), "its bytes do not give its place in the chain"));
            }
            chain.count += 1;
            each(chunk);
        }
        match count {
            Some(count) if count != chain.count => {
                let detail = format!("{} chunks, expected {count}", chain.count);
                Err(self.damaged(format!("capture {capture}"), detail))
            }
            _ => Ok(chain),
        }
    }

    fn check_of(&self, capture: Uuid) -> Result<Uuid> {
        let sql = "SELECT check_id FROM capture WHERE id = ?1";
        let found = self
            .rows(sql, [capture.to_string()], |row| read_id(row, "check_id"))?
            .pop();
        found.ok_or_else(|| self.unknown("capture", capture))
    }
}

fn unpack(stored: &[u8], length: i64) -> Option<Vec<u8>> {
    let length = usize::try_from(length)
        .ok()
        .filter(|length| *length <= MAX_ORIGINAL_BYTES)?;
    miniz_oxide::inflate::decompress_to_vec_zlib_with_limit(stored, length).ok()
}

fn read_chunk(row: &Row) -> rusqlite::Result<(i64, Vec<u8>, Chunk)> {
    let chunk = Chunk {
        wire: (row.get("wire_major")?, row.get("wire_minor")?),
        boot: row.get("boot")?,
        at: row.get("at")?,
        facts: row.get("facts")?,
        frames: Frames(row.get("frames")?),
    };
    Ok((row.get("number")?, row.get("chain")?, chunk))
}

/// The link before chunk 0: SHA-256 of the capture's identifier as text.
fn chain_start(capture: Uuid) -> [u8; 32] {
    sha256(capture.to_string().as_bytes())
}

/// The link of a chunk: SHA-256 of the link before it, followed by the deterministic CBOR of its fields.
fn chain_next(before: &[u8; 32], number: i64, chunk: &Chunk) -> [u8; 32] {
    let facts = chunk
        .facts
        .as_ref()
        .map_or(Cbor::Null, |facts| Cbor::Text(facts.text().to_owned()));
    let fields = Cbor::map([
        ("number", Cbor::Integer(number)),
        ("wire_major", Cbor::Integer(chunk.wire.0.into())),
        ("wire_minor", Cbor::Integer(chunk.wire.1.into())),
        ("boot", Cbor::Integer(chunk.boot.into())),
        ("at", Cbor::Text(chunk.at.clone())),
        ("facts", facts),
        ("frames", Cbor::Bytes(chunk.frames.0.clone())),
    ]);
    sha256(&[before.as_slice(), &fields.encode()].concat())
}
