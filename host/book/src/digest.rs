//! The digest of a visit: one SHA-256 over everything the visit rests on.
//!
//! In: the rows of a visit. Out: a digest that is the same for the same rows, in whatever order they were written,
//! through every merge, backup and later schema. It shows change against a paper, not who made the change.

use crate::book::{Book, Result, Stamp, parse_id};
use crate::covers::Covers;
use crate::finish::Finish;
use crate::schema::{self, Table};
use rusqlite::types::Value;
use sha2::{Digest as _, Sha256};
use std::fmt;
use std::str::FromStr;
use uuid::Uuid;

/// The version of the logical form that new digests are computed over.
pub const DIGEST_FORM: i64 = 2;

/// A digest and the logical form it was computed over. Prints as the form, a hyphen and 64 hexadecimal digits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Digest {
    /// Version of the logical form.
    pub form: i64,
    /// SHA-256, lower-case hexadecimal.
    pub sha256: String,
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}", self.form, self.sha256)
    }
}

impl FromStr for Digest {
    type Err = NotADigest;

    /// Reads a digest off a paper: blanks and capitals do not matter.
    fn from_str(text: &str) -> std::result::Result<Self, NotADigest> {
        let plain: String = text
            .chars()
            .filter(|c| !c.is_whitespace())
            .collect::<String>()
            .to_lowercase();
        let not = || NotADigest {
            found: text.to_owned(),
        };
        let (form, sha256) = plain.split_once('-').ok_or_else(not)?;
        let form = form.parse().map_err(|_| not())?;
        let hexadecimal = sha256.len() == 64 && sha256.bytes().all(|byte| byte.is_ascii_hexdigit());
        if hexadecimal {
            Ok(Self {
                form,
                sha256: sha256.to_owned(),
            })
        } else {
            Err(not())
        }
    }
}

/// A text that is no digest.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{found:?} is no check code: expected its version, a hyphen and 64 hexadecimal digits, as printed in the appendix of the page, or the 16 in its foot"
)]
pub struct NotADigest {
    /// The text.
    pub found: String,
}

/// What form 2 adds to the tables of form 1. This list stays as it is, too.
const FORM_2: &[(&Table, &[&str])] = &[
    (
        &schema::AMENDMENT,
        &["visit", "reason", "content", "author", "at"],
    ),
    (
        &schema::REMARK,
        &[
            "kind",
            "target",
            "field",
            "old_value",
            "new_value",
            "reason",
            "author",
            "at",
        ],
    ),
    (
        &schema::EVENT,
        &[
            "entity", "kind", "happened", "text", "content", "author", "at",
        ],
    ),
    // Its key is the SHA-256 of its bytes, which is recomputed.
    (&schema::FILE, &[]),
    (
        &schema::ATTACHMENT,
        &[
            "target",
            "sha256",
            "media_type",
            "name",
            "text",
            "author",
            "at",
        ],
    ),
];

/// The tables of form 1 and their columns. A later schema may have more; this list stays as it is.
const FORM_1: &[(&Table, &[&str])] = &[
    (
        &schema::REVISION,
        &["kind", "entity", "parents", "content", "author", "at"],
    ),
    (&schema::CALIBRATION, &["channel", "format", "record"]),
    (&schema::LIMITS, &["text"]),
    (
        &schema::CHECK_START,
        &[
            "visit",
            "kind",
            "state",
            "gauge",
            "calibration",
            "limits_sha256",
            "content",
            "author",
            "at",
        ],
    ),
    (
        &schema::CAPTURE,
        &["check_id", "source", "content", "author", "at"],
    ),
    (&schema::ORIGINAL, &["name", "length", "sha256"]),
    (
        &schema::RECORDED,
        &["check_id", "kind", "number", "content", "author", "at"],
    ),
    (
        &schema::RESULT,
        &[
            "check_id",
            "analysis",
            "outcome",
            "calibration",
            "limits_sha256",
            "content",
            "author",
            "at",
        ],
    ),
    (
        &schema::ACKNOWLEDGEMENT,
        &[
            "visit", "check_id", "caution", "text", "how", "author", "at",
        ],
    ),
    (
        &schema::FINDING,
        &[
            "visit", "kind", "severity", "assembly", "item", "text", "content", "author", "at",
        ],
    ),
    (
        &schema::NOTE,
        &["visit", "check_id", "text", "author", "at"],
    ),
    (&schema::TOMBSTONE, &["target", "reason", "author", "at"]),
];

impl Book {
    /// The digest of a visit. Of a finished visit: over the rows it was finished with. Of an open one: over the rows
    /// it has now, which changes with the next row.
    pub fn digest(&self, visit: Uuid) -> Result<Digest> {
        match self.finishes(visit)?.into_iter().next() {
            Some(finish) => self.digest_of(&finish),
            None => self.digest_over(DIGEST_FORM, visit, &self.covers_now(visit)?, None),
        }
    }

    /// The digest a finished visit is printed with, computed anew; none while the visit is open.
    ///
    /// # Errors
    /// The rows no longer give the digest that was written when the visit was finished.
    pub fn sealed(&self, visit: Uuid) -> Result<Option<Digest>> {
        let Some(finish) = self.finishes(visit)?.into_iter().next() else {
            return Ok(None);
        };
        let computed = self.digest_of(&finish)?;
        if computed == finish.digest {
            return Ok(Some(computed));
        }
        Err(crate::Error::Altered {
            path: self.path().into(),
            visit,
            finished: finish.digest.to_string(),
            computed: computed.to_string(),
        })
    }

    /// Recomputes the digest of a visit and compares it with one from a paper. Of a visit that was finished twice, in
    /// copies merged later, the paper may stand on either end.
    pub fn verify(&self, visit: Uuid, printed: &Digest) -> Result<()> {
        for finish in self.finishes(visit)? {
            if self.digest_of(&finish)? == *printed {
                return Ok(());
            }
        }
        let computed = self.digest(visit)?;
        let [printed, computed] = [printed.to_string(), computed.to_string()];
        Err(crate::Error::DigestDiffers {
            path: self.path().into(),
            visit,
            printed,
            computed,
        })
    }

    /// The digest of an end, computed anew over the form it was written in.
    pub(crate) fn digest_of(&self, finish: &Finish) -> Result<Digest> {
        let covers = self.covers_of(finish)?;
        self.digest_over(
            finish.digest.form,
            finish.visit,
            &covers,
            Some(&finish.stamp),
        )
    }

    /// The digest over a list of rows and, from form 2 on, who ended the visit and when; none while it is open.
    pub(crate) fn digest_over(
        &self,
        form: i64,
        visit: Uuid,
        covers: &Covers,
        end: Option<&Stamp>,
    ) -> Result<Digest> {
        let form_of = self.logical_visit(form, visit, covers, end)?;
        Ok(Digest {
            form,
            sha256: hex(&sha256(&form_of.encode())),
        })
    }

    fn logical_visit(
        &self,
        form: i64,
        visit: Uuid,
        covers: &Covers,
        end: Option<&Stamp>,
    ) -> Result<Cbor> {
        let added = match form {
            1 => &[],
            2 => FORM_2,
            other => {
                let detail = format!("digest form {other}, this program knows 1 and 2");
                return Err(self.damaged(format!("finish of visit {visit}"), detail));
            }
        };
        let mut tables = Vec::new();
        for (table, columns) in FORM_1.iter().chain(added) {
            let mut rows = Vec::new();
            for key in covers.rows.get(table.name).into_iter().flatten() {
                rows.push((key.as_str(), self.logical_row(table, columns, key)?));
            }
            tables.push((table.name, Cbor::map(rows)));
        }
        tables.push((schema::CHUNK.name, self.logical_chunks(covers)?));
        let mut fields = vec![
            ("form", Cbor::Integer(form)),
            ("visit", Cbor::Text(visit.to_string())),
            ("rows", Cbor::map(tables)),
        ];
        if form >= 2 {
            fields.push(("end", end.map_or(Cbor::Null, logical_end)));
        }
        Ok(Cbor::map(fields))
    }

    fn logical_row(&self, table: &Table, columns: &[&str], key: &str) -> Result<Cbor> {
        let missing = || self.damaged(format!("{} {key}", table.name), "the row is missing");
        if table.name == schema::ORIGINAL.name {
            // Recomputes the file's SHA-256, so that changed bytes are found here.
            self.original(self.read_key(key)?)?.ok_or_else(missing)?;
        }
        if table.name == schema::FILE.name {
            self.file(key)?.ok_or_else(missing)?;
            return Ok(Cbor::map([]));
        }
        let sql = format!(
            "SELECT {} FROM {} WHERE {} = ?1",
            columns.join(", "),
            table.name,
            table.key[0]
        );
        let read = |row: &rusqlite::Row| {
            let each = columns.iter().enumerate();
            each.map(|(place, column)| Ok((*column, cbor(row.get(place)?)?)))
                .collect()
        };
        let fields: Vec<(&str, Cbor)> = self.rows(&sql, [key], read)?.pop().ok_or_else(missing)?;
        Ok(Cbor::map(fields))
    }

    fn logical_chunks(&self, covers: &Covers) -> Result<Cbor> {
        let mut captures = Vec::new();
        for (capture, count) in &covers.chunks {
            let chain = self.chain(self.read_key(capture)?, Some(*count))?;
            let count = i64::try_from(chain.count).unwrap_or(i64::MAX);
            let fields = [
                ("count", Cbor::Integer(count)),
                ("chain", Cbor::Bytes(chain.last.to_vec())),
            ];
            captures.push((capture.as_str(), Cbor::map(fields)));
        }
        Ok(Cbor::map(captures))
    }

    fn read_key(&self, key: &str) -> Result<Uuid> {
        parse_id(key).map_err(|_| self.damaged("finish", format!("{key:?} is no identifier")))
    }
}

/// Who ended a visit, and when.
fn logical_end(stamp: &Stamp) -> Cbor {
    Cbor::map([
        ("author", Cbor::Text(stamp.author.clone())),
        ("at", Cbor::Text(stamp.at.clone())),
    ])
}

/// The kinds of CBOR item (RFC 8949) that a book needs.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Cbor {
    Null,
    Integer(i64),
    Text(String),
    Bytes(Vec<u8>),
    /// Sorted by the encoded key when written.
    Map(Vec<(String, Cbor)>),
}

impl Cbor {
    pub(crate) fn map<'a>(entries: impl IntoIterator<Item = (&'a str, Cbor)>) -> Self {
        Self::Map(
            entries
                .into_iter()
                .map(|(key, value)| (key.to_owned(), value))
                .collect(),
        )
    }

    /// Deterministic encoding after RFC 8949 section 4.2.1: shortest heads, definite lengths, map keys in bytewise
    /// order of their encodings.
    pub(crate) fn encode(&self) -> Vec<u8> {
        let mut encoder = minicbor::Encoder::new(Vec::new());
        self.write(&mut encoder)
            .expect("writing to memory does not fail");
        encoder.into_writer()
    }

    fn write(&self, to: &mut minicbor::Encoder<Vec<u8>>) -> std::result::Result<(), MemoryError> {
        match self {
            Self::Null => to.null()?,
            Self::Integer(number) => to.i64(*number)?,
            Self::Text(text) => to.str(text)?,
            Self::Bytes(bytes) => to.bytes(bytes)?,
            Self::Map(entries) => {
                to.map(entries.len() as u64)?;
                // Text keys: the head holds the length, so the shorter key comes first, then byte order.
                let mut sorted: Vec<_> = entries.iter().collect();
                sorted
                    .sort_by(|(left, _), (right, _)| (left.len(), left).cmp(&(right.len(), right)));
                for (key, value) in sorted {
                    to.str(key)?;
                    value.write(to)?;
                }
                to
            }
        };
        Ok(())
    }
}

type MemoryError = minicbor::encode::Error<std::convert::Infallible>;

/// A stored value as CBOR. No column of a book holds a REAL, so none has to be encoded.
fn cbor(value: Value) -> rusqlite::Result<Cbor> {
    match value {
        Value::Null => Ok(Cbor::Null),
        Value::Integer(number) => Ok(Cbor::Integer(number)),
        Value::Text(text) => Ok(Cbor::Text(text)),
        Value::Blob(bytes) => Ok(Cbor::Bytes(bytes)),
        Value::Real(_) => Err(rusqlite::Error::InvalidColumnType(
            0,
            "REAL".into(),
            rusqlite::types::Type::Real,
        )),
    }
}

/// SHA-256 (FIPS 180-4).
pub(crate) fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// SHA-256 as 64 lower-case hexadecimal digits.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&sha256(bytes))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// The order of keys given in RFC 8949 section 4.2.1 for text keys ("z", "aa", longer later), and the shortest
    /// heads of its appendix A (published).
    #[test]
    fn encoding_is_deterministic() {
        let map = Cbor::map([
            ("aa", Cbor::Integer(-1)),
            ("z", Cbor::Integer(1000)),
            ("b", Cbor::Null),
        ]);
        let expected = [
            0xa3, 0x61, b'b', 0xf6, 0x61, b'z', 0x19, 0x03, 0xe8, 0x62, b'a', b'a', 0x20,
        ];
        assert_eq!(map.encode(), expected);
        assert_eq!(Cbor::Bytes(vec![1, 2, 3, 4]).encode(), [0x44, 1, 2, 3, 4]);
        assert_eq!(Cbor::Text("\u{fc}".into()).encode(), [0x62, 0xc3, 0xbc]);
        assert_eq!(
            Cbor::Integer(1_000_000).encode(),
            [0x1a, 0x00, 0x0f, 0x42, 0x40]
        );
    }

    /// A visit without rows in each form, as a second program encodes it (computed, apart from this crate): the bytes
    /// that are hashed, and their SHA-256.
    #[test]
    fn both_forms_encode_to_the_bytes_of_the_vectors() {
        let folder = tempfile::tempdir().unwrap();
        let book = Book::open_or_create(folder.path().join("vectors.holdtrue")).unwrap();
        let visit = "01900000-0000-7000-8000-000000000003".parse().unwrap();
        let end = Stamp::new("Technician A", "2026-03-04T09:01:10+01:00");
        let vectors = include_str!("../tests/golden/digest-forms.txt");
        let vectors = vectors.lines().filter(|line| !line.starts_with('#'));
        let mut seen = 0;
        for line in vectors {
            let [form, ended, sha256, bytes]: [&str; 4] =
                line.split(' ').collect::<Vec<_>>().try_into().unwrap();
            let form = form.parse().unwrap();
            let end = (ended == "ended").then_some(&end);
            let logical = book
                .logical_visit(form, visit, &Covers::default(), end)
                .unwrap();
            assert_eq!(hex(&logical.encode()), bytes, "form {form}");
            let digest = book
                .digest_over(form, visit, &Covers::default(), end)
                .unwrap();
            assert_eq!(digest.sha256, sha256);
            seen += 1;
        }
        assert_eq!(seen, 3);
        let newer = book.digest_over(3, visit, &Covers::default(), None);
        assert!(newer.unwrap_err().to_string().contains("digest form 3"));
    }

    /// FIPS 180-4 example "abc" (published).
    #[test]
    fn sha256_of_abc() {
        let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sha256_hex(b"abc"), expected);
    }

    #[test]
    fn a_digest_is_read_off_a_paper_in_groups_and_capitals() {
        let digest = Digest {
            form: 1,
            sha256: sha256_hex(b"abc"),
        };
        let printed = digest.to_string().to_uppercase();
        let grouped = printed
            .as_bytes()
            .chunks(8)
            .map(|part| std::str::from_utf8(part).unwrap());
        assert_eq!(grouped.collect::<Vec<_>>().join(" ").parse(), Ok(digest));
        assert!("1-abc".parse::<Digest>().is_err());
    }
}
