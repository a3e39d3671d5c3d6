//! Looking a book through, from the pages of the file to the digests of its visits.
//!
//! In: an open book. Out: what is damaged, what contradicts itself and waits for a person, and what was counted.

use crate::book::{Book, Result, parse_id, read_id};
use crate::checks::CheckKind;
use crate::checks::CheckResult;
use crate::covers::Covers;
use crate::digest::sha256_hex;
use crate::error::Error;
use crate::finish::Finish;
use crate::header::VisitHeader;
use crate::revision::Kind;
use crate::schema::{self, TABLES};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// One thing found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Where.
    pub place: String,
    /// What was found there.
    pub found: String,
}

/// The result of looking a book through.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Inspection {
    /// Bytes that are not what they were when written.
    pub damage: Vec<Trouble>,
    /// Two heads, two ends, two clamps with one number: nothing is lost, a person has to say which holds.
    pub conflicts: Vec<Trouble>,
    /// Rows of each table.
    pub rows: Vec<(&'static str, u64)>,
    /// Finished visits whose digest was recomputed and holds.
    pub digests_good: usize,
    /// Raw records whose chain was recomputed and holds.
    pub chains_good: usize,
    /// Checks whose frames came damaged over the cable, in order of time.
    pub cable: Vec<CableDamage>,
}

/// What the cable did to the frames of a check. The book is sound all the same: it holds what came.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CableDamage {
    /// The check.
    pub check: Uuid,
    /// What was checked.
    pub kind: CheckKind,
    /// When it began.
    pub at: String,
    /// Frames whose checksum or coding was wrong.
    pub damaged_frames: u64,
    /// Stretches of bytes too long to be a frame.
    pub over_long_frames: u64,
}

impl Inspection {
    /// Nothing is damaged.
    pub fn sound(&self) -> bool {
        self.damage.is_empty()
    }

    fn damage(&mut self, place: impl Into<String>, found: impl Into<String>) {
        self.damage.push(Trouble {
            place: place.into(),
            found: found.into(),
        });
    }

    fn conflict(&mut self, place: impl Into<String>, found: impl Into<String>) {
        self.conflicts.push(Trouble {
            place: place.into(),
            found: found.into(),
        });
    }
}

impl Book {
    /// Looks the whole book through. An error comes back only where looking itself was impossible.
    pub fn check(&self) -> Result<Inspection> {
        let mut seen = Inspection::default();
        self.look_at_pages(&mut seen)?;
        if !seen.sound() {
            // Rows of broken pages would only repeat the news in other words.
            return Ok(seen);
        }
        self.look_at_tables(&mut seen)?;
        self.look_at_limits(&mut seen)?;
        self.look_at_files(&mut seen)?;
        for kind in [Kind::Spindle, Kind::Gauge, Kind::Visit] {
            self.look_at_revisions(kind, &mut seen)?;
        }
        self.look_at_captures(&mut seen)?;
        seen.cable = self.cable_damage()?;
        self.look_at_numbers(&mut seen)?;
        self.look_at_visits(&mut seen)?;
        self.look_at_notebooks(&mut seen)?;
        Ok(seen)
    }

    fn look_at_pages(&self, seen: &mut Inspection) -> Result<()> {
        let lines = self.rows("PRAGMA integrity_check(20)", [], |row| {
            row.get::<_, String>(0)
        });
        match lines {
            Ok(lines) => lines
                .iter()
                .filter(|line| *line != "ok")
                .for_each(|line| seen.damage("file", line)),
            Err(Error::Damaged { place, detail, .. }) => seen.damage(place, detail),
            Err(other) => return Err(other),
        }
        Ok(())
    }

    fn look_at_tables(&self, seen: &mut Inspection) -> Result<()> {
        let version = self.schema()?;
        let ours: BTreeSet<_> = self.run(schema::objects)?.into_iter().collect();
        let expected: BTreeSet<_> = self
            .run(|_| schema::expected_objects(version))?
            .into_iter()
            .collect();
        for (name, _) in ours.symmetric_difference(&expected) {
            seen.damage(
                format!("schema: {name}"),
                "not as this program wrote it: missing, added or changed",
            );
        }
        for table in TABLES.iter().filter(|table| table.since <= version) {
            let sql = format!("SELECT count(*) FROM {}", table.name);
            let count: i64 = self.run(|db| db.query_row(&sql, [], |row| row.get(0)))?;
            seen.rows.push((table.name, count.unsigned_abs()));
        }
        let broken = self.rows("PRAGMA foreign_key_check", [], |row| {
            Ok((row.get::<_, String>(0)?, row.get::<_, String>(2)?))
        })?;
        for (table, parent) in broken {
            seen.damage(
                table,
                format!("refers to a row of {parent} that is missing"),
            );
        }
        Ok(())
    }

    fn look_at_limits(&self, seen: &mut Inspection) -> Result<()> {
        let read = |row: &rusqlite::Row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?));
        for (sha256, text) in self.rows("SELECT sha256, text FROM limits", [], read)? {
            if sha256_hex(text.as_bytes()) != sha256 {
                seen.damage(
                    format!("limits {sha256}"),
                    "its text does not give its SHA-256",
                );
            }
        }
        Ok(())
    }

    fn look_at_files(&self, seen: &mut Inspection) -> Result<()> {
        for sha256 in self.files()? {
            match self.file(&sha256) {
                Ok(_) => {}
                Err(Error::Damaged { place, detail, .. }) => seen.damage(place, detail),
                Err(other) => return Err(other),
            }
        }
        Ok(())
    }

    fn look_at_revisions(&self, kind: Kind, seen: &mut Inspection) -> Result<()> {
        for (entity, revisions) in self.links(kind)? {
            let parents: BTreeSet<Uuid> = revisions.values().flatten().copied().collect();
            for missing in parents
                .iter()
                .filter(|parent| !revisions.contains_key(parent))
            {
                seen.damage(
                    format!("{kind} {entity}"),
                    format!("revision {missing} is missing"),
                );
            }
            match revisions
                .keys()
                .filter(|revision| !parents.contains(revision))
                .count()
            {
                0 => seen.damage(
                    format!("{kind} {entity}"),
                    "its revisions replace each other in a circle",
                ),
                1 => {}
                heads => seen.conflict(
                    format!("{kind} {entity}"),
                    format!("{heads} versions of its header hold"),
                ),
            }
        }
        Ok(())
    }

    /// Rows of one notebook that were entered into two copies.
    fn look_at_notebooks(&self, seen: &mut Inspection) -> Result<()> {
        let struck = self.strikes()?.counted;
        let mut of_rows: BTreeMap<String, Uuid> = BTreeMap::new();
        for visit in self.list::<VisitHeader>()? {
            let rows = visit.header().more.get("rows_sha256");
            let Some(rows) = rows.and_then(|rows| rows.as_str()) else {
                continue;
            };
            if visit.removed || struck.contains_key(&visit.id) {
                continue;
            }
            match of_rows.get(rows) {
                None => {
                    of_rows.insert(rows.to_owned(), visit.id);
                }
                Some(first) => seen.conflict(
                    format!("visits {first} and {}", visit.id),
                    "they hold the same rows of one notebook, entered twice, and are followed as one: strike one of them",
                ),
            }
        }
        Ok(())
    }

    fn look_at_captures(&self, seen: &mut Inspection) -> Result<()> {
        let captures = self.rows("SELECT id FROM capture", [], |row| row.get::<_, String>(0))?;
        for text in captures {
            let capture = self.run(|_| parse_id(&text))?;
            let looked = self
                .chain(capture, None)
                .and_then(|_| self.original(capture));
            match looked {
                Ok(_) => seen.chains_good += 1,
                Err(Error::Damaged { place, detail, .. }) => seen.damage(place, detail),
                Err(other) => return Err(other),
            }
        }
        Ok(())
    }

    /// What the chunks say beside their frames, check by check.
    fn cable_damage(&self) -> Result<Vec<CableDamage>> {
        let sql = "SELECT check_start.id, check_start.kind, check_start.at,
                          total(facts ->> '$.damaged_frames') AS damaged,
                          total(facts ->> '$.over_long_frames') AS over_long
                   FROM chunk JOIN capture ON capture.id = capture_id JOIN check_start ON check_start.id = check_id
                   WHERE facts IS NOT NULL
                   GROUP BY check_start.id HAVING damaged + over_long > 0
                   ORDER BY julianday(check_start.at), check_start.id";
        self.rows(sql, [], |row| {
            Ok(CableDamage {
                check: read_id(row, "id")?,
                kind: row.get("kind")?,
                at: row.get("at")?,
                damaged_frames: count(row, "damaged")?,
                over_long_frames: count(row, "over_long")?,
            })
        })
    }

    /// Two rows with one number in one check: two copies of the book continued the same check.
    fn look_at_numbers(&self, seen: &mut Inspection) -> Result<()> {
        let sql = "SELECT check_id, kind, number, count(*) FROM recorded
                   WHERE kind <> 'reading' GROUP BY 1, 2, 3 HAVING count(*) > 1";
        let read = |row: &rusqlite::Row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?));
        for (check, kind, number, count) in
            self.rows::<(String, String, i64, i64)>(sql, [], read)?
        {
            seen.conflict(
                format!("check {check}"),
                format!("{kind} {number} is there {count} times"),
            );
        }
        for check in self.checks_with_several_results()? {
            let results = self.every_result(check)?;
            let replaced: Vec<_> = results.iter().flat_map(CheckResult::replaces).collect();
            let heads = results
                .iter()
                .filter(|row| !replaced.contains(&row.id))
                .count();
            if heads > 1 {
                seen.conflict(format!("check {check}"), format!("{heads} results"));
            }
        }
        Ok(())
    }

    fn look_at_visits(&self, seen: &mut Inspection) -> Result<()> {
        for visit in self.finished_visits()? {
            let place = format!("visit {visit}");
            let finishes = self.finishes(visit)?;
            let ends = finishes.iter().filter(|end| !end.is_amended()).count();
            if ends > 1 {
                let found = format!("finished {ends} times, in copies merged later");
                seen.conflict(&place, found);
            }
            for finish in &finishes {
                match self.look_at_finish(finish) {
                    Ok(None) => seen.digests_good += 1,
                    Ok(Some(found)) => seen.damage(&place, found),
                    Err(Error::Damaged { place, detail, .. }) => seen.damage(place, detail),
                    Err(other) => return Err(other),
                }
            }
            match self.late_rows(visit, &finishes) {
                Ok(0) => {}
                Ok(late) => {
                    let found = format!(
                        "{late} rows its end does not cover, added after it was finished; they change nothing in it"
                    );
                    seen.conflict(&place, found);
                }
                // Already named above, by the chain or the revisions it lies in.
                Err(Error::Damaged { .. }) => {}
                Err(other) => return Err(other),
            }
        }
        Ok(())
    }

    /// What is wrong with the end of a visit, if anything.
    fn look_at_finish(&self, finish: &Finish) -> Result<Option<String>> {
        let digest = self.digest_of(finish)?;
        let found = || {
            format!(
                "digest {digest} computed, {} when it was finished",
                finish.digest
            )
        };
        Ok((digest != finish.digest).then(found))
    }

    /// Rows of a finished visit that none of its ends covers. Headers of spindle and gauge are left out: they may be edited
    /// later.
    fn late_rows(&self, visit: Uuid, finishes: &[Finish]) -> Result<usize> {
        let mut covers = Covers::default();
        for finish in finishes {
            covers = covers.and(self.covers_of(finish)?);
        }
        Ok(self.not_covered(visit, &covers)?.len())
    }
}

/// A sum of counts; facts of another writer that hold something else count as none.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a float-to-integer cast saturates, and no cable damages 2^53 frames"
)]
fn count(row: &rusqlite::Row, column: &str) -> rusqlite::Result<u64> {
    Ok(row.get::<_, f64>(column)? as u64)
}
