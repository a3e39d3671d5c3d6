//! What came to a visit after its end: by a merge with a copy in which it was still open, or past this program.
//!
//! In: a finished visit. Out: every row about it that its end does not cover. None of them changes the visit; all of them
//! are shown.

use crate::book::{Book, Result, Stamp};
use crate::covers::Covers;
use crate::finish::Finish;
use crate::revision::Kind;
use crate::schema::{self, TABLES, Table};
use rusqlite::Row;
use std::collections::BTreeSet;
use uuid::Uuid;

/// One row, or the chunks of one raw record, that came after the end of a visit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Later {
    /// Its table: `finding`, `note`, `tombstone` …
    pub table: &'static str,
    /// Its key.
    pub key: String,
    /// What it says, as stored: words, a reason, a number, a digest.
    pub says: String,
    /// Of a tombstone or a remark: what it lies on.
    pub lies_on: Option<Box<Later>>,
    /// Who and when; chunks, originals, calibrations and limits have none.
    pub stamp: Option<Stamp>,
}

/// What a row of each table says, as an SQL expression. A table that is not here says nothing in words.
const SAYS: &[(&str, &str)] = &[
    (
        "revision",
        "coalesce(content ->> '$.name', content ->> '$.serial', content ->> '$.technician', '')",
    ),
    ("tombstone", "reason"),
    (
        "check_start",
        "kind || ifnull(', ' || replace(state, '_', ' '), '')",
    ),
    ("recorded", "kind || ' ' || number"),
    ("result", "ifnull(outcome, 'not judged')"),
    ("acknowledgement", "caution"),
    (
        "finding",
        "assembly || ', ' || item || ifnull(': ' || severity, '') || CASE kind WHEN 'in_order' THEN ': in order'
         WHEN 'not_examined' THEN ': not examined' ELSE '' END || CASE text WHEN '' THEN '' ELSE ': ' || text END",
    ),
    ("note", "text"),
    ("finish", "digest_form || '-' || digest"),
    ("original", "name"),
    (
        "remark",
        "CASE kind WHEN 'strike' THEN 'struck out' ELSE 'corrected, ' || replace(field, 'content.', '') || ': ' || old_value
         || ' should read ' || new_value END || ': ' || reason",
    ),
    ("attachment", "name"),
];

impl Book {
    /// Every row about a finished visit that neither its printed end nor that of an amendment covers, oldest first;
    /// amendments are no such rows.
    pub(crate) fn later(&self, visit: Uuid, finishes: &[Finish]) -> Result<Vec<Later>> {
        let Some((printed, others)) = finishes.split_first() else {
            return Ok(Vec::new());
        };
        let mut covers = self.covers_of(printed)?;
        for amended in others.iter().filter(|end| end.is_amended()) {
            covers = covers.and(self.covers_of(amended)?);
        }
        let mut later = self.not_covered(visit, &covers)?;
        for other in others.iter().filter(|end| !end.is_amended()) {
            later.push(self.row_later(&schema::FINISH, &other.id.to_string())?);
        }
        let moment = |row: &Later| {
            let at = row.stamp.as_ref().map(|stamp| stamp.at.clone());
            at.map(|at| {
                let sql = "SELECT julianday(?1)";
                self.run(|db| {
                    db.prepare_cached(sql)?
                        .query_row([at], |row| row.get::<_, f64>(0))
                })
            })
            .transpose()
        };
        let mut timed = Vec::new();
        for row in later {
            timed.push((moment(&row)?.unwrap_or(f64::INFINITY), row));
        }
        timed.sort_by(|(left, one), (right, other)| {
            left.total_cmp(right).then_with(|| one.key.cmp(&other.key))
        });
        Ok(timed.into_iter().map(|(_, row)| row).collect())
    }

    /// Every row about a visit that is not among these.
    pub(crate) fn not_covered(&self, visit: Uuid, covers: &Covers) -> Result<Vec<Later>> {
        let now = self.covers_now(visit)?;
        let mut later = Vec::new();
        for table in TABLES {
            // Headers of spindle and gauge may be edited at any time; those of the visit follow below.
            // So may the life of the spindle go on; a file is told by what it is attached to; amendments are no such rows.
            if [
                &schema::REVISION,
                &schema::TOMBSTONE,
                &schema::EVENT,
                &schema::FILE,
                &schema::AMENDMENT,
            ]
            .iter()
            .any(|other| other.name == table.name)
            {
                continue;
            }
            let keys = now.rows.get(table.name).into_iter().flatten();
            for key in keys.filter(|key| !covers.has(table.name, key)) {
                later.push(match table.name == schema::REMARK.name {
                    true => self.lying_on(table, key, visit)?,
                    false => self.row_later(table, key)?,
                });
            }
        }
        for (capture, count) in &now.chunks {
            let before = covers.chunks.get(capture).copied().unwrap_or(0);
            if covers.has(schema::CAPTURE.name, capture) && *count > before {
                later.push(Later {
                    table: schema::CHUNK.name,
                    key: capture.clone(),
                    says: (count - before).to_string(),
                    lies_on: None,
                    stamp: None,
                });
            }
        }
        for revision in self.headers_since(visit, covers)? {
            later.push(self.row_later(&schema::REVISION, &revision)?);
        }
        // On the visit as a whole, on any of its rows, or on what came later itself.
        let rows = now
            .rows
            .iter()
            .filter(|(table, _)| *table != schema::TOMBSTONE.name);
        let rows = rows.chain(&covers.rows).flat_map(|(_, keys)| keys.clone());
        let about = rows.chain([visit.to_string()]);
        for tombstone in self.tombstones_on(about.collect())? {
            if !covers.has(schema::TOMBSTONE.name, &tombstone) {
                later.push(self.lying_on(&schema::TOMBSTONE, &tombstone, visit)?);
            }
        }
        Ok(later)
    }

    /// Headers of the visit that are neither those it was finished with nor replaced by them.
    fn headers_since(&self, visit: Uuid, covers: &Covers) -> Result<Vec<String>> {
        let links = self.links(Kind::Visit)?.remove(&visit).unwrap_or_default();
        let mut known: BTreeSet<Uuid> = BTreeSet::new();
        let mut next: Vec<Uuid> = links
            .keys()
            .copied()
            .filter(|revision| covers.has(schema::REVISION.name, revision))
            .collect();
        while let Some(revision) = next.pop() {
            if known.insert(revision) {
                next.extend(links.get(&revision).into_iter().flatten());
            }
        }
        let since = links.keys().filter(|revision| !known.contains(revision));
        Ok(since.map(Uuid::to_string).collect())
    }

    /// A tombstone or a remark, with what it lies on.
    fn lying_on(&self, table: &'static Table, key: &str, visit: Uuid) -> Result<Later> {
        let mut later = self.row_later(table, key)?;
        let sql = format!("SELECT target FROM {} WHERE id = ?1", table.name);
        let target: String =
            self.run(|db| db.prepare_cached(&sql)?.query_row([key], |row| row.get(0)))?;
        if target == visit.to_string() {
            later.lies_on = Some(Box::new(Later {
                table: "visit",
                key: target,
                says: String::new(),
                lies_on: None,
                stamp: None,
            }));
            return Ok(later);
        }
        for table in TABLES.iter().filter(|table| table.key == ["id"]) {
            let there = self.has(table)? && self.row(table, &[target.clone().into()])?.is_some();
            if there {
                later.lies_on = Some(Box::new(self.row_later(table, &target)?));
                break;
            }
        }
        Ok(later)
    }

    fn row_later(&self, table: &'static Table, key: &str) -> Result<Later> {
        let says = SAYS.iter().find(|(name, _)| *name == table.name);
        let stamped = table.rest.contains(&"author");
        let sql = format!(
            "SELECT {} AS says, {} FROM {} WHERE {} = ?1",
            says.map_or("''", |(_, says)| says),
            if stamped { "author, at" } else { "NULL, NULL" },
            table.name,
            table.key[0]
        );
        let read = |row: &Row| {
            Ok(Later {
                table: table.name,
                key: key.to_owned(),
                says: row.get("says")?,
                lies_on: None,
                stamp: stamped.then(|| Stamp::from_row(row)).transpose()?,
            })
        };
        let found = self.rows(&sql, [key], read)?.pop();
        found.ok_or_else(|| self.damaged(format!("{} {key}", table.name), "the row is missing"))
    }
}
