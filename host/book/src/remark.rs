//! Remarks on rows: what was struck, and what was corrected. The row itself stays as it was written.
//!
//! In: what a remark lies on, and why. Out: the remarks, and which rows are struck.

use crate::book::{Book, Result, Stamp, id, maybe_text, read_id};
use crate::json::Json;
use crate::schema::{REMARK, TABLES};
use crate::words::words;
use rusqlite::types::Value;
use std::collections::BTreeSet;
use uuid::Uuid;

words! {
    /// What a remark does.
    Said is "kind of remark" {
        /// It no longer counts; it stays in sight with the reason. A strike on a strike lifts it.
        Strike = "strike",
        /// One field of it should read otherwise.
        Correction = "correction",
    }
}

/// A remark on a row or an entity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// This row.
    pub id: Uuid,
    /// Struck or corrected.
    pub said: Said,
    /// The row or the entity it lies on: finding, check, clamp, spindle, another remark …
    pub target: Uuid,
    /// Of a correction: which field, what it read, what it should read.
    pub change: Option<Change>,
    /// Why. Never empty.
    pub reason: String,
    /// Who and when.
    pub stamp: Stamp,
}

/// One field, before and after.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// A column, or of a JSON column `content.` and the name in it.
    pub field: String,
    /// As it reads in the row.
    pub old: Json,
    /// As it should.
    pub new: Json,
}

impl Book {
    /// Strikes or corrects something. After the end of a visit, too: it is then shown as later, and changes nothing in it.
    pub fn remark(&mut self, row: &Remark) -> Result<()> {
        let [author, at] = self.stamp(&row.stamp)?;
        if row.reason.trim().is_empty() {
            return Err(self.refused("reason", "nothing", "why it is struck or corrected"));
        }
        if row.change.is_some() != (row.said == Said::Correction) {
            return Err(self.refused(
                "change",
                row.said.word(),
                "field, old and new value for a correction, nothing for a strike",
            ));
        }
        let change = row.change.as_ref();
        let json = |json: Option<&Json>| json.map_or(Value::Null, Value::from);
        let values = vec![
            id(row.id),
            row.said.into(),
            id(row.target),
            maybe_text(change.map(|change| change.field.as_str())),
            json(change.map(|change| &change.old)),
            json(change.map(|change| &change.new)),
            row.reason.clone().into(),
            author,
            at,
        ];
        self.together(|book| {
            book.require_target(row.target)?;
            book.put(&REMARK, values).map(|_| ())
        })
    }

    /// Every remark in order of time.
    pub fn remarks(&self) -> Result<Vec<Remark>> {
        if !self.has(&REMARK)? {
            return Ok(Vec::new());
        }
        let sql = "SELECT * FROM remark ORDER BY julianday(at), id";
        self.rows(sql, [], |row| {
            let field: Option<String> = row.get("field")?;
            let change = match field {
                Some(field) => Some(Change {
                    field,
                    old: row.get("old_value")?,
                    new: row.get("new_value")?,
                }),
                None => None,
            };
            Ok(Remark {
                id: read_id(row, "id")?,
                said: row.get("kind")?,
                target: read_id(row, "target")?,
                change,
                reason: row.get("reason")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// Whatever is struck now: visits, checks, findings, remarks … After the end of a visit it changes nothing in it; who
    /// looks over many visits leaves it out.
    pub fn struck(&self) -> Result<BTreeSet<Uuid>> {
        Ok(Remark::struck(&self.remarks()?))
    }

    /// The remarks on any of these, and those on these remarks, in order of time.
    pub(crate) fn remarks_on(&self, reached: &BTreeSet<String>) -> Result<Vec<Remark>> {
        let all = self.remarks()?;
        let mut reached = reached.clone();
        let mut found = BTreeSet::new();
        loop {
            let before = found.len();
            for remark in &all {
                if reached.contains(&remark.target.to_string()) {
                    reached.insert(remark.id.to_string());
                    found.insert(remark.id);
                }
            }
            if found.len() == before {
                break;
            }
        }
        Ok(all
            .into_iter()
            .filter(|remark| found.contains(&remark.id))
            .collect())
    }

    /// Refuses what is neither a row nor an entity of this book.
    pub(crate) fn require_target(&self, target: Uuid) -> Result<()> {
        let sql = "SELECT EXISTS (SELECT 1 FROM revision WHERE entity = ?1)";
        let entity = self.run(|db| {
            db.prepare_cached(sql)?
                .query_row([target.to_string()], |row| row.get(0))
        })?;
        if entity {
            return Ok(());
        }
        for table in TABLES.iter().filter(|table| table.key == ["id"]) {
            if self.has(table)? && self.row(table, &[id(target)])?.is_some() {
                return Ok(());
            }
        }
        Err(self.unknown("row or entry", target))
    }
}

impl Remark {
    /// Which targets these remarks strike: a strike that is itself struck counts no more.
    pub fn struck(remarks: &[Self]) -> BTreeSet<Uuid> {
        let strikes = || remarks.iter().filter(|remark| remark.said == Said::Strike);
        let on = |target: Uuid| strikes().filter(move |strike| strike.target == target);
        fn holds<'a>(strike: &'a Remark, all: &'a [Remark], depth: usize) -> bool {
            let mut upon = all
                .iter()
                .filter(|other| other.said == Said::Strike && other.target == strike.id);
            // Strikes in a circle come from no program; each is then taken to hold.
            depth == 0 || !upon.any(|other| holds(other, all, depth - 1))
        }
        let targets: BTreeSet<Uuid> = strikes().map(|strike| strike.target).collect();
        targets
            .into_iter()
            .filter(|target| on(*target).any(|strike| holds(strike, remarks, remarks.len())))
            .collect()
    }
}
