//! A visit: what was acknowledged, found and noted, its end, and what was said about it later.
//!
//! In: single rows while the visit is open. Out: the whole visit, as it stood when it was finished.

use crate::book::{Book, Result, Stamp, id, maybe_id, read_id, read_maybe_id};
use crate::capture::Capture;
use crate::checks::{CheckResult, CheckStart, Recorded};
use crate::digest::{Covers, Digest};
use crate::header::{GaugeHeader, Header, SpindleHeader, VisitHeader};
use crate::json::Json;
use crate::revision::{Entity, Kind};
use crate::schema::{ACKNOWLEDGEMENT, AMENDMENT, FINDING, FINISH, NOTE};
use crate::words::words;
use rusqlite::Row;
use rusqlite::types::Value;
use std::collections::BTreeSet;
use uuid::Uuid;

words! {
    /// How a caution came to be acknowledged.
    How {
        /// Somebody was asked and said yes.
        Asked = "asked",
        /// By a flag on the command line: nobody was asked.
        ByFlag = "by_flag",
        /// Printed only: nothing was energised.
        Printed = "printed",
    }
}

words! {
    /// What became of an item of the condition round.
    FindingKind {
        /// Something was found.
        Found = "found",
        /// Looked at, nothing found.
        InOrder = "in_order",
        /// Not looked at; the text says why.
        NotExamined = "not_examined",
    }
}

words! {
    /// How urgent a finding is.
    Severity {
        /// To be mended before the machine is used.
        BeforeUse = "before-use",
        /// Soon.
        Soon = "soon",
        /// At the next occasion.
        Later = "later",
        /// To know.
        Note = "note",
    }
}

/// A caution and its acknowledgement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Acknowledgement {
    /// This row.
    pub id: Uuid,
    /// The visit.
    pub visit: Uuid,
    /// The check it came up in.
    pub check: Option<Uuid>,
    /// Which caution: a short key such as `state-a`.
    pub caution: String,
    /// The words that were printed.
    pub text: String,
    /// How it was acknowledged.
    pub how: How,
    /// Who and when.
    pub stamp: Stamp,
}

/// Something seen, or not looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// This row.
    pub id: Uuid,
    /// The visit.
    pub visit: Uuid,
    /// Found, in order, or not examined.
    pub kind: FindingKind,
    /// How urgent; none unless something was found.
    pub severity: Option<Severity>,
    /// The assembly, in words.
    pub assembly: String,
    /// The item of that assembly.
    pub item: String,
    /// What was found, or why it was not looked at.
    pub text: String,
    /// Anything else: readings, cost estimate …
    pub content: Json,
    /// Who and when.
    pub stamp: Stamp,
}

/// A note in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// This row.
    pub id: Uuid,
    /// The visit.
    pub visit: Uuid,
    /// The check it is about, if one.
    pub check: Option<Uuid>,
    /// The words.
    pub text: String,
    /// Who and when.
    pub stamp: Stamp,
}

/// The end of a visit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finish {
    /// This row.
    pub id: Uuid,
    /// The visit.
    pub visit: Uuid,
    /// The digest over everything the visit rests on.
    pub digest: Digest,
    /// Who and when.
    pub stamp: Stamp,
    /// The rows of the digest, as stored.
    pub(crate) covers: Json,
}

/// What is said about a visit after its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Amendment {
    /// This row.
    pub id: Uuid,
    /// The visit.
    pub visit: Uuid,
    /// In words: what is amended and why.
    pub reason: String,
    /// The amended figures, if any.
    pub content: Json,
    /// Who and when.
    pub stamp: Stamp,
}

/// One check with everything recorded in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// How it began.
    pub start: CheckStart,
    /// Clamps, readings, planes.
    pub recorded: Vec<Recorded>,
    /// Raw records.
    pub captures: Vec<Capture>,
    /// Its result: empty while unfinished.
    pub results: Vec<CheckResult>,
}

/// A whole visit. Of a finished one, headers are those it was finished with, and only rows the digest covers are here.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// Its header.
    pub visit: Entity<VisitHeader>,
    /// The spindle, unless it is "unnamed".
    pub spindle: Option<Entity<SpindleHeader>>,
    /// The gauges its checks used.
    pub gauges: Vec<Entity<GaugeHeader>>,
    /// Its checks in order of time.
    pub checks: Vec<Check>,
    /// Cautions and acknowledgements.
    pub acknowledgements: Vec<Acknowledgement>,
    /// Findings, withdrawn ones left out.
    pub findings: Vec<Finding>,
    /// Notes, withdrawn ones left out.
    pub notes: Vec<Note>,
    /// Its end. More than one after merging copies that were finished apart; the first is the one printed.
    pub finishes: Vec<Finish>,
    /// What was said later.
    pub amendments: Vec<Amendment>,
}

impl Book {
    /// Stores an acknowledgement.
    pub fn acknowledge(&mut self, row: &Acknowledgement) -> Result<()> {
        let [author, at] = self.stamp(&row.stamp)?;
        let caution = row.caution.clone().into();
        let text = row.text.clone().into();
        let values = vec![
            id(row.id),
            id(row.visit),
            maybe_id(row.check),
            caution,
            text,
            row.how.into(),
            author,
            at,
        ];
        self.together(|book| {
            book.refuse_finished(row.visit)?;
            book.put(&ACKNOWLEDGEMENT, values).map(|_| ())
        })
    }

    /// Stores a finding. To correct one, bury it and store another.
    pub fn find(&mut self, row: &Finding) -> Result<()> {
        let [author, at] = self.stamp(&row.stamp)?;
        if row.severity.is_some() != (row.kind == FindingKind::Found) {
            return Err(self.refused(
                "severity",
                format!("{:?}", row.severity),
                "one for what was found, else none",
            ));
        }
        let severity = row.severity.map_or(Value::Null, Value::from);
        let [assembly, item, text] =
            [&row.assembly, &row.item, &row.text].map(|text| Value::Text(text.clone()));
        let content = (&row.content).into();
        let kind = row.kind.into();
        let values = vec![
            id(row.id),
            id(row.visit),
            kind,
            severity,
            assembly,
            item,
            text,
            content,
            author,
            at,
        ];
        self.together(|book| {
            book.refuse_finished(row.visit)?;
            book.put(&FINDING, values).map(|_| ())
        })
    }

    /// Stores a note.
    pub fn note(&mut self, row: &Note) -> Result<()> {
        let [author, at] = self.stamp(&row.stamp)?;
        let values = vec![
            id(row.id),
            id(row.visit),
            maybe_id(row.check),
            row.text.clone().into(),
            author,
            at,
        ];
        self.together(|book| {
            book.refuse_finished(row.visit)?;
            book.put(&NOTE, values).map(|_| ())
        })
    }

    /// Finishes a visit: from now on it takes no rows, and its digest stands.
    pub fn finish(&mut self, visit: Uuid, row: Uuid, stamp: &Stamp) -> Result<Digest> {
        let [author, at] = self.stamp(stamp)?;
        self.together(|book| {
            book.refuse_finished(visit)?;
            let covers = book.covers_now(visit)?;
            let digest = book.digest_over(visit, &covers)?;
            let covers = book.json("covers", &covers)?;
            let form = Value::Integer(digest.form);
            let sha256 = digest.sha256.clone().into();
            book.put(
                &FINISH,
                vec![id(row), id(visit), covers.into(), form, sha256, author, at],
            )?;
            Ok(digest)
        })
    }

    /// Says something about a finished visit.
    pub fn amend(&mut self, row: &Amendment) -> Result<()> {
        let [author, at] = self.stamp(&row.stamp)?;
        self.together(|book| {
            if book.finishes(row.visit)?.is_empty() {
                return Err(book.refused(
                    "visit",
                    row.visit.to_string(),
                    "a finished visit; an open one takes a note",
                ));
            }
            let content = (&row.content).into();
            let values = vec![
                id(row.id),
                id(row.visit),
                row.reason.clone().into(),
                content,
                author,
                at,
            ];
            book.put(&AMENDMENT, values).map(|_| ())
        })
    }

    /// Visits without an end, removed ones left out, in order of their first revision.
    pub fn open_visits(&self) -> Result<Vec<Entity<VisitHeader>>> {
        let finished = self.finished_visits()?;
        let mut visits = self.list::<VisitHeader>()?;
        visits.retain(|visit| !visit.removed && !finished.contains(&visit.id));
        Ok(visits)
    }

    /// Every visit that has an end.
    pub fn finished_visits(&self) -> Result<BTreeSet<Uuid>> {
        Ok(self
            .rows("SELECT visit FROM finish", [], |row| read_id(row, "visit"))?
            .into_iter()
            .collect())
    }

    /// The visits of a spindle, entries that are the same spindle included, removed visits left out, by start.
    pub fn visits_of(&self, spindle: Uuid) -> Result<Vec<Entity<VisitHeader>>> {
        let same = self.same(Kind::Spindle, spindle)?;
        let mut visits = self.list::<VisitHeader>()?;
        visits.retain(|visit| {
            !visit.removed
                && visit
                    .header()
                    .spindle
                    .is_some_and(|each| same.contains(&each))
        });
        Ok(visits)
    }

    /// The visit that began last, removed ones left out.
    pub fn latest_visit(&self) -> Result<Option<Uuid>> {
        Ok(self
            .list::<VisitHeader>()?
            .into_iter()
            .rfind(|visit| !visit.removed)
            .map(|visit| visit.id))
    }

    /// A whole visit.
    pub fn visit(&self, visit: Uuid) -> Result<Visit> {
        let finishes = self.finishes(visit)?;
        let covers = finishes
            .first()
            .map(|finish| self.covers_of(finish))
            .transpose()?;
        let covered = |table: &str, row: Uuid| {
            covers.as_ref().is_none_or(|covers| {
                covers
                    .rows
                    .get(table)
                    .is_some_and(|rows| rows.contains(&row.to_string()))
            })
        };
        let header = self.entity_then::<VisitHeader>(visit, covers.as_ref())?;
        let spindle = match header.header().spindle {
            Some(spindle) => Some(self.entity_then::<SpindleHeader>(spindle, covers.as_ref())?),
            None => None,
        };
        let removed = self.removed()?;
        let mut checks = Vec::new();
        for start in self.check_starts(visit)? {
            if covered("check_start", start.id) && !removed.contains(&start.id) {
                checks.push(self.whole_check(start, &covered)?);
            }
        }
        let used: BTreeSet<Uuid> = checks
            .iter()
            .filter_map(|check| check.start.gauge)
            .collect();
        let gauges = used
            .into_iter()
            .map(|gauge| self.entity_then(gauge, covers.as_ref()));
        let mut findings = self.findings(visit)?;
        findings.retain(|row| covered("finding", row.id) && !removed.contains(&row.id));
        let mut notes = self.notes(visit)?;
        notes.retain(|row| covered("note", row.id) && !removed.contains(&row.id));
        let mut acknowledgements = self.acknowledgements(visit)?;
        acknowledgements.retain(|row| covered("acknowledgement", row.id));
        Ok(Visit {
            spindle,
            gauges: gauges.collect::<Result<_>>()?,
            checks,
            acknowledgements,
            findings,
            notes,
            finishes,
            amendments: self.amendments(visit)?,
            visit: header,
        })
    }

    fn whole_check(
        &self,
        start: CheckStart,
        covered: &impl Fn(&str, Uuid) -> bool,
    ) -> Result<Check> {
        let mut recorded = self.recorded(start.id)?;
        recorded.retain(|row| covered("recorded", row.id));
        let mut captures = self.captures(start.id)?;
        captures.retain(|row| covered("capture", row.id));
        let mut results = self.results(start.id)?;
        results.retain(|row| covered("result", row.id));
        Ok(Check {
            start,
            recorded,
            captures,
            results,
        })
    }

    /// An entity as it stood when the visit was finished, or as it stands now.
    fn entity_then<H: Header>(&self, entity: Uuid, covers: Option<&Covers>) -> Result<Entity<H>> {
        let Some(rows) = covers.and_then(|covers| covers.rows.get("revision")) else {
            return self.get(entity);
        };
        let mut then = self.get::<H>(entity)?;
        then.heads = self.history::<H>(entity)?;
        then.heads
            .retain(|revision| rows.contains(&revision.id.to_string()));
        then.heads.reverse();
        if then.heads.is_empty() {
            return Err(self.damaged(
                "finish",
                format!("no header of {} {entity} is covered", H::KIND),
            ));
        }
        Ok(then)
    }

    /// The ends of a visit, earliest first.
    pub fn finishes(&self, visit: Uuid) -> Result<Vec<Finish>> {
        let sql = "SELECT * FROM finish WHERE visit = ?1 ORDER BY julianday(at), id";
        self.rows(sql, [visit.to_string()], |row| {
            Ok(Finish {
                id: read_id(row, "id")?,
                visit: read_id(row, "visit")?,
                digest: Digest {
                    form: row.get("digest_form")?,
                    sha256: row.get("digest")?,
                },
                covers: row.get("covers")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// Acknowledgements of a visit in order of time.
    pub fn acknowledgements(&self, visit: Uuid) -> Result<Vec<Acknowledgement>> {
        let sql = "SELECT * FROM acknowledgement WHERE visit = ?1 ORDER BY julianday(at), id";
        self.rows(sql, [visit.to_string()], |row| {
            Ok(Acknowledgement {
                id: read_id(row, "id")?,
                visit: read_id(row, "visit")?,
                check: read_maybe_id(row, "check_id")?,
                caution: row.get("caution")?,
                text: row.get("text")?,
                how: row.get("how")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// Findings of a visit in order of time, withdrawn ones included.
    pub fn findings(&self, visit: Uuid) -> Result<Vec<Finding>> {
        let sql = "SELECT * FROM finding WHERE visit = ?1 ORDER BY julianday(at), id";
        self.rows(sql, [visit.to_string()], |row| {
            Ok(Finding {
                id: read_id(row, "id")?,
                visit: read_id(row, "visit")?,
                kind: row.get("kind")?,
                severity: row.get("severity")?,
                assembly: row.get("assembly")?,
                item: row.get("item")?,
                text: row.get("text")?,
                content: row.get("content")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// Notes of a visit in order of time, withdrawn ones included.
    pub fn notes(&self, visit: Uuid) -> Result<Vec<Note>> {
        let sql = "SELECT * FROM note WHERE visit = ?1 ORDER BY julianday(at), id";
        self.rows(sql, [visit.to_string()], |row| {
            Ok(Note {
                id: read_id(row, "id")?,
                visit: read_id(row, "visit")?,
                check: read_maybe_id(row, "check_id")?,
                text: row.get("text")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// Amendments of a visit in order of time.
    pub fn amendments(&self, visit: Uuid) -> Result<Vec<Amendment>> {
        let sql = "SELECT * FROM amendment WHERE visit = ?1 ORDER BY julianday(at), id";
        self.rows(sql, [visit.to_string()], |row| {
            Ok(Amendment {
                id: read_id(row, "id")?,
                visit: read_id(row, "visit")?,
                reason: row.get("reason")?,
                content: row.get("content")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// Refuses a visit that is not there or has its end.
    pub(crate) fn refuse_finished(&self, visit: Uuid) -> Result<()> {
        let sql = "SELECT EXISTS (SELECT 1 FROM revision WHERE kind = 'visit' AND entity = ?1),
                          EXISTS (SELECT 1 FROM finish WHERE visit = ?1)";
        let read = |row: &Row| Ok((row.get::<_, bool>(0)?, row.get::<_, bool>(1)?));
        let (known, finished) =
            self.run(|db| db.prepare_cached(sql)?.query_row([visit.to_string()], read))?;
        if !known {
            return Err(self.unknown("visit", visit));
        }
        if finished {
            Err(crate::Error::Finished {
                path: self.path().into(),
                visit,
            })
        } else {
            Ok(())
        }
    }

    pub(crate) fn covers_of(&self, finish: &Finish) -> Result<Covers> {
        finish
            .covers
            .read()
            .map_err(|error| self.damaged(format!("finish {}", finish.id), error.to_string()))
    }

    /// Every row the visit rests on at this moment: its own, and the headers, calibrations and limits they name.
    pub(crate) fn covers_now(&self, visit: Uuid) -> Result<Covers> {
        let mut covers = Covers::default();
        let header = self.get::<VisitHeader>(visit)?;
        covers.add("revision", header.parents());
        if let Some(spindle) = header.header().spindle {
            covers.add("revision", self.get::<SpindleHeader>(spindle)?.parents());
        }
        for start in self.check_starts(visit)? {
            self.cover_check(&mut covers, &start)?;
        }
        covers.add(
            "acknowledgement",
            self.acknowledgements(visit)?.iter().map(|row| row.id),
        );
        covers.add("finding", self.findings(visit)?.iter().map(|row| row.id));
        covers.add("note", self.notes(visit)?.iter().map(|row| row.id));
        self.cover_tombstones(&mut covers)?;
        Ok(covers)
    }

    fn cover_check(&self, covers: &mut Covers, start: &CheckStart) -> Result<()> {
        covers.add("check_start", [start.id]);
        if let Some(gauge) = start.gauge {
            covers.add("revision", self.get::<GaugeHeader>(gauge)?.parents());
        }
        let results = self.results(start.id)?;
        covers.add(
            "calibration",
            start
                .calibration
                .into_iter()
                .chain(results.iter().filter_map(|row| row.calibration)),
        );
        let limits = start
            .limits_sha256
            .iter()
            .chain(results.iter().filter_map(|row| row.limits_sha256.as_ref()));
        covers.add("limits", limits);
        covers.add(
            "recorded",
            self.recorded(start.id)?.iter().map(|row| row.id),
        );
        covers.add("result", results.iter().map(|row| row.id));
        for capture in self.captures(start.id)? {
            covers.add("capture", [capture.id]);
            covers
                .chunks
                .insert(capture.id.to_string(), self.chain(capture.id, None)?.count);
            if self.original(capture.id)?.is_some() {
                covers.add("original", [capture.id]);
            }
        }
        Ok(())
    }

    /// Tombstones on rows the visit rests on, and tombstones on those.
    fn cover_tombstones(&self, covers: &mut Covers) -> Result<()> {
        let read = |row: &Row| Ok((row.get::<_, String>("id")?, row.get::<_, String>("target")?));
        let tombstones = self.rows("SELECT id, target FROM tombstone", [], read)?;
        let mut reached: BTreeSet<String> = covers.rows.values().flatten().cloned().collect();
        loop {
            let before = reached.len();
            for (tombstone, target) in &tombstones {
                if reached.contains(target) && reached.insert(tombstone.clone()) {
                    covers.add("tombstone", [tombstone]);
                }
            }
            if reached.len() == before {
                return Ok(());
            }
        }
    }
}

impl Covers {
    fn add(&mut self, table: &str, keys: impl IntoIterator<Item = impl ToString>) {
        let keys = keys.into_iter().map(|key| key.to_string());
        self.rows.entry(table.to_owned()).or_default().extend(keys);
    }
}
