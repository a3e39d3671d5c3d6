//! The end of a visit, and the rows it stands for.
//!
//! In: a visit with all its rows. Out: its end, listing every row the digest covers, so that a row brought later by a
//! merge cannot slip into a visit that is over.

use crate::book::{Book, Result, Stamp, id, read_id};
use crate::checks::CheckStart;
use crate::covers::Covers;
use crate::digest::{DIGEST_FORM, Digest};
use crate::header::{GaugeHeader, SpindleHeader, VisitHeader};
use crate::json::Json;
use crate::remark::Remark;
use crate::said::Amendment;
use crate::schema::FINISH;
use rusqlite::Row;
use rusqlite::types::Value;
use std::collections::BTreeSet;
use uuid::Uuid;

/// Which rows make up a visit: all while it is open, those its printed end covers once it is finished.
pub(crate) struct Covered(pub(crate) Option<Covers>);

impl Covered {
    pub(crate) fn has(&self, table: &str, key: impl ToString) -> bool {
        self.0.as_ref().is_none_or(|covers| covers.has(table, key))
    }

    /// Chunks of a capture; none for all of them.
    pub(crate) fn chunks(&self, capture: Uuid) -> Option<u64> {
        let covers = self.0.as_ref()?;
        Some(
            covers
                .chunks
                .get(&capture.to_string())
                .copied()
                .unwrap_or(0),
        )
    }
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

/// An amendment with an end of its own: what it says, what was struck or corrected since the end before, and its digest.
#[derive(Clone, Debug, PartialEq)]
pub struct Amended {
    /// What was said; usually one.
    pub amendments: Vec<Amendment>,
    /// What was struck or corrected since the end before.
    pub remarks: Vec<Remark>,
    /// Over the visit as it was finished and all of this.
    pub digest: Digest,
}

impl Finish {
    /// Whether it is the end of an amendment: it covers one.
    pub fn is_amended(&self) -> bool {
        let covers = self.covers.read::<Covers>();
        covers.is_ok_and(|covers| {
            covers
                .rows
                .get("amendment")
                .is_some_and(|keys| !keys.is_empty())
        })
    }
}

impl Book {
    /// Finishes a visit: from now on it takes no rows, and its digest stands.
    pub fn finish(&mut self, visit: Uuid, row: Uuid, stamp: &Stamp) -> Result<Digest> {
        self.together(|book| {
            book.refuse_finished(visit)?;
            let covers = book.covers_now(visit)?;
            book.put_end(visit, row, &covers, stamp)
        })
    }

    /// The end of what `covers` names, with its digest.
    fn put_end(
        &mut self,
        visit: Uuid,
        row: Uuid,
        covers: &Covers,
        stamp: &Stamp,
    ) -> Result<Digest> {
        let [author, at] = self.stamp(stamp)?;
        let digest = self.digest_over(DIGEST_FORM, visit, covers, Some(stamp))?;
        let covers = self.json("covers", covers)?;
        let form = Value::Integer(digest.form);
        let sha256 = digest.sha256.clone().into();
        self.put(
            &FINISH,
            vec![id(row), id(visit), covers.into(), form, sha256, author, at],
        )?;
        Ok(digest)
    }

    /// Says something about a finished visit, and gives what the printed end covers and what was said since, amendments and
    /// remarks, an end of its own. The printed end stands as it is.
    pub fn amend_with_end(&mut self, amendment: &Amendment, row: Uuid) -> Result<Digest> {
        let (visit, stamp) = (amendment.visit, &amendment.stamp);
        self.together(|book| {
            book.amend(amendment)?;
            let mut covers = book.covered_and_amended(visit)?.unwrap_or_default();
            covers.add(
                "amendment",
                book.amendments(visit)?.iter().map(|row| row.id),
            );
            let mut reached: BTreeSet<String> = covers.rows.values().flatten().cloned().collect();
            reached.insert(visit.to_string());
            covers.add(
                "remark",
                book.remarks_on(&reached)?.iter().map(|row| row.id),
            );
            book.put_end(visit, row, &covers, stamp)
        })
    }

    /// The amendments of a visit that have an end of their own, each with its digest, computed anew.
    ///
    /// # Errors
    /// The rows no longer give the digest that was written then.
    pub fn amended(&self, visit: Uuid) -> Result<Vec<Amended>> {
        let finishes = self.finishes(visit)?;
        let mut known = match finishes.first() {
            Some(printed) => self.covers_of(printed)?,
            None => return Ok(Vec::new()),
        };
        let mut amended = Vec::new();
        for finish in finishes.iter().filter(|finish| finish.is_amended()) {
            let computed = self.digest_of(finish)?;
            if computed != finish.digest {
                return Err(crate::Error::Altered {
                    path: self.path().into(),
                    visit,
                    finished: finish.digest.to_string(),
                    computed: computed.to_string(),
                });
            }
            let covers = self.covers_of(finish)?;
            let new = |table: &str, id: Uuid| covers.has(table, id) && !known.has(table, id);
            let mut amendments = self.amendments(visit)?;
            amendments.retain(|row| new("amendment", row.id));
            let mut remarks = self.remarks()?;
            remarks.retain(|row| new("remark", row.id));
            amended.push(Amended {
                amendments,
                remarks,
                digest: computed,
            });
            known = known.and(covers);
        }
        Ok(amended)
    }

    /// The ends of a visit, earliest first; those of its amendments come behind, whatever the clock said.
    pub fn finishes(&self, visit: Uuid) -> Result<Vec<Finish>> {
        let sql = "SELECT * FROM finish WHERE visit = ?1 ORDER BY julianday(at), id";
        let mut finishes = self.rows(sql, [visit.to_string()], |row| {
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
        })?;
        if finishes.len() > 1 {
            finishes.sort_by_key(Finish::is_amended);
        }
        Ok(finishes)
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

    /// The rows of a visit; of one finished twice, those of the end that came first.
    pub(crate) fn covered(&self, visit: Uuid) -> Result<Covered> {
        let finishes = self.finishes(visit)?;
        let covers = finishes.first().map(|finish| self.covers_of(finish));
        Ok(Covered(covers.transpose()?))
    }

    /// The rows that its printed end and those of its amendments cover; none of an open visit.
    pub(crate) fn covered_and_amended(&self, visit: Uuid) -> Result<Option<Covers>> {
        let finishes = self.finishes(visit)?;
        let ends = finishes.iter().enumerate();
        let counted = ends.filter(|(place, finish)| *place == 0 || finish.is_amended());
        let mut covers: Option<Covers> = None;
        for (_, finish) in counted {
            covers = Some(covers.unwrap_or_default().and(self.covers_of(finish)?));
        }
        Ok(covers)
    }

    pub(crate) fn covered_of_check(&self, check: Uuid) -> Result<Covered> {
        match self.check_start(check)?.visit {
            Some(visit) => self.covered(visit),
            None => Ok(Covered(None)),
        }
    }

    /// Every row the visit rests on at this moment: its own, and the headers, calibrations and limits they name.
    pub(crate) fn covers_now(&self, visit: Uuid) -> Result<Covers> {
        let mut covers = self.rows_now(visit)?;
        for start in self.check_starts(visit)? {
            for capture in self.every_capture(start.id)? {
                let count = self.chain(capture.id, None)?.count;
                covers.chunks.insert(capture.id.to_string(), count);
            }
        }
        Ok(covers)
    }

    /// The same without the raw records.
    pub(crate) fn rows_now(&self, visit: Uuid) -> Result<Covers> {
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
        covers.add(
            "amendment",
            self.amendments(visit)?.iter().map(|row| row.id),
        );
        if let Some(spindle) = header.header().spindle {
            covers.add("event", self.events_of(spindle)?.iter().map(|row| row.id));
        }
        let mut reached: BTreeSet<String> = covers.rows.values().flatten().cloned().collect();
        // What is said of a spindle or a gauge as such belongs to no visit: their life goes on.
        reached.insert(visit.to_string());
        // A photo may be struck, and a file may show why something is.
        loop {
            let before = reached.len();
            let attachments = self.attachments_on(&reached)?;
            covers.add("attachment", attachments.iter().map(|row| row.id));
            covers.add("file", attachments.iter().map(|row| &row.sha256));
            reached.extend(attachments.iter().map(|row| row.id.to_string()));
            let remarks = self.remarks_on(&reached)?;
            covers.add("remark", remarks.iter().map(|row| row.id));
            reached.extend(remarks.iter().map(|row| row.id.to_string()));
            if reached.len() == before {
                break;
            }
        }
        let reached = covers.rows.values().flatten().cloned().collect();
        covers.add("tombstone", self.tombstones_on(reached)?);
        Ok(covers)
    }

    fn cover_check(&self, covers: &mut Covers, start: &CheckStart) -> Result<()> {
        covers.add("check_start", [start.id]);
        if let Some(gauge) = start.gauge {
            covers.add("revision", self.get::<GaugeHeader>(gauge)?.parents());
        }
        let results = self.every_result(start.id)?;
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
            self.every_recorded(start.id)?.iter().map(|row| row.id),
        );
        covers.add("result", results.iter().map(|row| row.id));
        for capture in self.every_capture(start.id)? {
            covers.add("capture", [capture.id]);
            if self.original(capture.id)?.is_some() {
                covers.add("original", [capture.id]);
            }
        }
        Ok(())
    }

    /// Tombstones on any of these, and tombstones on those.
    pub(crate) fn tombstones_on(&self, mut reached: BTreeSet<String>) -> Result<BTreeSet<String>> {
        let read = |row: &Row| Ok((row.get::<_, String>("id")?, row.get::<_, String>("target")?));
        let tombstones = self.rows("SELECT id, target FROM tombstone", [], read)?;
        let mut found = BTreeSet::new();
        loop {
            let before = found.len();
            for (tombstone, target) in &tombstones {
                if reached.contains(target) && reached.insert(tombstone.clone()) {
                    found.insert(tombstone.clone());
                }
            }
            if found.len() == before {
                return Ok(found);
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
