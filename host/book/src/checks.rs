//! A check from its start to its result, every clamp committed before it is shown.
//!
//! In: start, clamps (or readings and planes) one by one, result. Out: the same, and the unfinished check that a
//! second run may continue.

use crate::book::{Book, Result, Stamp, id, maybe_id, maybe_text, read_id, read_maybe_id};
use crate::digest::sha256_hex;
use crate::json::Json;
use crate::schema::{CALIBRATION, CHECK_START, LIMITS, RECORDED, RESULT};
use crate::words::{maybe_word, read_maybe_word, words};
use holdtrue_terms::vocabulary::{Outcome, State};
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Row};
use std::collections::BTreeSet;
use uuid::Uuid;

/// An unfinished check older than this is not continued.
pub const CONTINUE_WITHIN_S: i64 = 8 * 3600;

words! {
    /// What is checked.
    CheckKind is "kind of check" {
        /// Grip force.
        Grip = "grip",
        /// Taper runout.
        Runout = "runout",
        /// A gauge calibrated in the press, an indicator on gauge blocks.
        Calibration = "calibration",
    }
}

words! {
    /// What was shown as recorded.
    RecordedKind is "kind of what was recorded" {
        /// One clamp of a grip check.
        Clamp = "clamp",
        /// One reading of a plane.
        Reading = "reading",
        /// One plane of a runout check.
        Plane = "plane",
    }
}

/// The start of a check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CheckStart {
    /// The check.
    pub id: Uuid,
    /// The visit it belongs to; a calibration may belong to none.
    pub visit: Option<Uuid>,
    /// What is checked.
    pub kind: CheckKind,
    /// As found, as left, or not said.
    pub state: Option<State>,
    /// The force gauge or indicator.
    pub gauge: Option<Uuid>,
    /// The calibration in force, stored before with [`Book::import_calibration`].
    pub calibration: Option<Uuid>,
    /// The limits in force, as returned by [`Book::keep_limits`].
    pub limits_sha256: Option<String>,
    /// What was asked for: number of clamps, height, stops …
    pub content: Json,
    /// Who and when.
    pub stamp: Stamp,
}

/// A clamp, reading or plane, as shown to the technician.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// This row.
    pub id: Uuid,
    /// The check.
    pub check: Uuid,
    /// What it is.
    pub kind: RecordedKind,
    /// Its number, as shown.
    pub number: u32,
    /// Its figures.
    pub content: Json,
    /// Who and when.
    pub stamp: Stamp,
}

/// What came out of a check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CheckResult {
    /// This row.
    pub id: Uuid,
    /// The check.
    pub check: Uuid,
    /// Version of the analysis that computed it.
    pub analysis: String,
    /// How it was decided; none where no limit was set.
    pub outcome: Option<Outcome>,
    /// The calibration used.
    pub calibration: Option<Uuid>,
    /// The limits used.
    pub limits_sha256: Option<String>,
    /// The whole result document.
    pub content: Json,
    /// Who and when.
    pub stamp: Stamp,
}

impl CheckResult {
    /// The results this one was put in the place of; none for the one a check ended with.
    pub fn replaces(&self) -> Vec<Uuid> {
        #[derive(serde::Deserialize)]
        struct Document {
            judged_anew: JudgedAnew,
        }
        #[derive(serde::Deserialize)]
        struct JudgedAnew {
            replaces: Vec<Uuid>,
        }
        let document = self.content.read::<Document>();
        document.map_or_else(|_| Vec::new(), |document| document.judged_anew.replaces)
    }

    /// Which of these results of one check holds: one that no other takes the place of. Of several, in copies that were
    /// judged apart and merged, the latest; of several the check ended with, the earliest.
    pub fn holding(results: &[Self]) -> Option<&Self> {
        let replaced: Vec<Uuid> = results.iter().flat_map(Self::replaces).collect();
        let mut heads = results.iter().filter(|row| !replaced.contains(&row.id));
        let anew = heads.clone().rfind(|row| !row.replaces().is_empty());
        anew.or_else(|| heads.next())
    }
}

/// A calibration record, byte for byte as read from the gauge or entered from a certificate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Calibration {
    /// The identifier inside the record.
    pub id: Uuid,
    /// `force`, `displacement`, `indicator`.
    pub channel: String,
    /// How the bytes are to be read: `wire-1` for a gauge's own record, `json-1` for an entered certificate.
    pub format: String,
    /// The bytes.
    pub record: Vec<u8>,
}

impl Book {
    /// Opens a check. The visit must exist and not be finished.
    pub fn start_check(&mut self, start: &CheckStart) -> Result<()> {
        let [author, at] = self.stamp(&start.stamp)?;
        if start.visit.is_none() && start.kind != CheckKind::Calibration {
            return Err(self.refused("visit", "none", "the visit this check belongs to"));
        }
        self.together(|book| {
            if let Some(visit) = start.visit {
                book.refuse_finished(visit)?;
            }
            book.require_parts(start.calibration, start.limits_sha256.as_deref())?;
            let row = vec![
                id(start.id),
                maybe_id(start.visit),
                start.kind.into(),
                maybe_word(start.state),
                maybe_id(start.gauge),
                maybe_id(start.calibration),
                maybe_text(start.limits_sha256.as_deref()),
                (&start.content).into(),
                author,
                at,
            ];
            book.put(&CHECK_START, row).map(|_| ())
        })
    }

    /// Records a clamp, reading or plane. When this returns, it is on the disk and may be shown as recorded.
    pub fn record(&mut self, recorded: &Recorded) -> Result<()> {
        let [author, at] = self.stamp(&recorded.stamp)?;
        self.together(|book| {
            book.refuse_closed(recorded.check)?;
            let row = vec![
                id(recorded.id),
                id(recorded.check),
                recorded.kind.into(),
                Value::Integer(recorded.number.into()),
                (&recorded.content).into(),
                author,
                at,
            ];
            book.put(&RECORDED, row).map(|_| ())
        })
    }

    /// Stores the result and so ends the check.
    pub fn end_check(&mut self, result: &CheckResult) -> Result<()> {
        self.together(|book| {
            book.refuse_closed(result.check)?;
            book.put_result(result)
        })
    }

    /// Stores a further result of a check that has ended, in a visit that is open. Those before it stay; its content names
    /// those it takes the place of.
    pub fn judge_anew(&mut self, result: &CheckResult) -> Result<()> {
        self.together(|book| {
            let known = book.every_result(result.check)?;
            let replaced = result.replaces();
            if replaced.is_empty()
                || !replaced
                    .iter()
                    .all(|id| known.iter().any(|row| row.id == *id))
            {
                return Err(book.refused(
                    "judged_anew.replaces",
                    format!("{replaced:?}"),
                    "results of the same check",
                ));
            }
            if let Some(visit) = book.check_start(result.check)?.visit {
                book.refuse_finished(visit)?;
            }
            book.put_result(result)
        })
    }

    fn put_result(&mut self, result: &CheckResult) -> Result<()> {
        let [author, at] = self.stamp(&result.stamp)?;
        self.together(|book| {
            book.require_parts(result.calibration, result.limits_sha256.as_deref())?;
            let row = vec![
                id(result.id),
                id(result.check),
                result.analysis.clone().into(),
                maybe_word(result.outcome),
                maybe_id(result.calibration),
                maybe_text(result.limits_sha256.as_deref()),
                (&result.content).into(),
                author,
                at,
            ];
            book.put(&RESULT, row).map(|_| ())
        })
    }

    /// The latest unfinished check of this kind and state in the visit, if it was started within 8 h before `at`.
    pub fn open_check(
        &self,
        visit: Uuid,
        kind: CheckKind,
        state: Option<State>,
        at: &str,
    ) -> Result<Option<CheckStart>> {
        self.time("at", at)?;
        let sql = "SELECT * FROM check_start
                   WHERE visit = ?1 AND kind = ?2 AND state IS ?3
                   AND id NOT IN (SELECT check_id FROM result) AND id NOT IN (SELECT target FROM tombstone)
                   AND unixepoch(?4) - unixepoch(at) BETWEEN 0 AND ?5
                   ORDER BY julianday(at) DESC, id DESC LIMIT 1";
        let params = (
            visit.to_string(),
            kind.word(),
            state.map(State::word),
            at,
            CONTINUE_WITHIN_S,
        );
        Ok(self.rows(sql, params, read_start)?.pop())
    }

    /// All checks of a visit in order of time.
    pub fn check_starts(&self, visit: Uuid) -> Result<Vec<CheckStart>> {
        let sql = "SELECT * FROM check_start WHERE visit = ?1 ORDER BY julianday(at), id";
        self.rows(sql, [visit.to_string()], read_start)
    }

    /// The calibrations a gauge was measured with, by their ids.
    pub fn measured_with(&self, gauge: Uuid) -> Result<BTreeSet<Uuid>> {
        let sql = "SELECT DISTINCT calibration FROM check_start WHERE gauge = ?1 AND calibration IS NOT NULL";
        let read = |row: &Row| read_id(row, "calibration");
        Ok(self
            .rows(sql, [gauge.to_string()], read)?
            .into_iter()
            .collect())
    }

    /// How a check began.
    pub fn check_start(&self, check: Uuid) -> Result<CheckStart> {
        let found = self
            .rows(
                "SELECT * FROM check_start WHERE id = ?1",
                [check.to_string()],
                read_start,
            )?
            .pop();
        found.ok_or_else(|| self.unknown("check", check))
    }

    /// What was recorded in a check, by number; of two with one number the earlier first. Of a finished visit: what its
    /// end covers.
    pub fn recorded(&self, check: Uuid) -> Result<Vec<Recorded>> {
        let covered = self.covered_of_check(check)?;
        let mut rows = self.every_recorded(check)?;
        rows.retain(|row| covered.has("recorded", row.id));
        Ok(rows)
    }

    pub(crate) fn every_recorded(&self, check: Uuid) -> Result<Vec<Recorded>> {
        let sql =
            "SELECT * FROM recorded WHERE check_id = ?1 ORDER BY kind, number, julianday(at), id";
        self.rows(sql, [check.to_string()], |row| {
            Ok(Recorded {
                id: read_id(row, "id")?,
                check: read_id(row, "check_id")?,
                kind: row.get("kind")?,
                number: row.get("number")?,
                content: row.get("content")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// The results of a check: none while it is unfinished, one when it has ended, more where it was judged anew. Of a
    /// finished visit: those its end covers.
    pub fn results(&self, check: Uuid) -> Result<Vec<CheckResult>> {
        let covered = self.covered_of_check(check)?;
        let mut rows = self.every_result(check)?;
        rows.retain(|row| covered.has("result", row.id));
        Ok(rows)
    }

    /// The result document of this row.
    ///
    /// # Errors
    /// There is no such row.
    pub fn result_document(&self, result: Uuid) -> Result<String> {
        let sql = "SELECT content FROM result WHERE id = ?1";
        let found = self
            .rows(sql, [result.to_string()], |row| row.get(0))?
            .pop();
        found.ok_or_else(|| self.unknown("result", result))
    }

    pub(crate) fn every_result(&self, check: Uuid) -> Result<Vec<CheckResult>> {
        let sql = "SELECT * FROM result WHERE check_id = ?1 ORDER BY julianday(at), id";
        self.rows(sql, [check.to_string()], |row| {
            Ok(CheckResult {
                id: read_id(row, "id")?,
                check: read_id(row, "check_id")?,
                analysis: row.get("analysis")?,
                outcome: read_maybe_word(row, "outcome")?,
                calibration: read_maybe_id(row, "calibration")?,
                limits_sha256: row.get("limits_sha256")?,
                content: row.get("content")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }

    /// The checks that have more than one result: judged anew, or ended in two copies that were merged.
    pub(crate) fn checks_with_several_results(&self) -> Result<Vec<Uuid>> {
        let sql = "SELECT check_id FROM result GROUP BY 1 HAVING count(*) > 1";
        self.rows(sql, [], |row| read_id(row, "check_id"))
    }

    /// Stores a calibration record. The same record again is no news; the same identifier with other bytes is refused.
    pub fn import_calibration(&mut self, calibration: &Calibration) -> Result<bool> {
        let Calibration {
            id: record_id,
            channel,
            format,
            record,
        } = calibration.clone();
        self.put(
            &CALIBRATION,
            vec![id(record_id), channel.into(), format.into(), record.into()],
        )
    }

    /// A stored calibration record.
    pub fn calibration(&self, wanted: Uuid) -> Result<Option<Calibration>> {
        let sql = "SELECT * FROM calibration WHERE id = ?1";
        let read = |row: &Row| {
            Ok(Calibration {
                id: read_id(row, "id")?,
                channel: row.get("channel")?,
                format: row.get("format")?,
                record: row.get("record")?,
            })
        };
        Ok(self.rows(sql, [wanted.to_string()], read)?.pop())
    }

    /// Stores the text of a limits file and returns its SHA-256, by which checks and results refer to it.
    pub fn keep_limits(&mut self, text: &str) -> Result<String> {
        let sha256 = sha256_hex(text.as_bytes());
        self.put(&LIMITS, vec![sha256.clone().into(), text.to_owned().into()])?;
        Ok(sha256)
    }

    /// The text of a limits file by its SHA-256.
    pub fn limits(&self, sha256: &str) -> Result<Option<String>> {
        let sql = "SELECT text FROM limits WHERE sha256 = ?1";
        self.run(|db| {
            db.prepare_cached(sql)?
                .query_row([sha256], |row| row.get(0))
                .optional()
        })
    }

    /// A check that has its result, or belongs to a finished visit, takes nothing more.
    pub(crate) fn refuse_closed(&self, check: Uuid) -> Result<()> {
        let sql = "SELECT *, EXISTS (SELECT 1 FROM result WHERE check_id = check_start.id) AS ended
                   FROM check_start WHERE id = ?1";
        let read = |row: &Row| Ok((read_maybe_id(row, "visit")?, row.get::<_, bool>("ended")?));
        let found = self.rows(sql, [check.to_string()], read)?.pop();
        let (visit, ended) = found.ok_or_else(|| self.unknown("check", check))?;
        if let Some(visit) = visit {
            self.refuse_finished(visit)?;
        }
        let what = format!("check {check}, which has its result");
        if ended {
            Err(self.refused("check", what, "an unfinished check; start a new one"))
        } else {
            Ok(())
        }
    }

    fn require_parts(&self, calibration: Option<Uuid>, limits_sha256: Option<&str>) -> Result<()> {
        if let Some(missing) = calibration
            && self.calibration(missing)?.is_none()
        {
            return Err(self.unknown("calibration", missing));
        }
        match limits_sha256 {
            Some(missing) if self.limits(missing)?.is_none() => {
                Err(self.unknown("limits text", missing))
            }
            _ => Ok(()),
        }
    }
}

fn read_start(row: &Row) -> rusqlite::Result<CheckStart> {
    Ok(CheckStart {
        id: read_id(row, "id")?,
        visit: read_maybe_id(row, "visit")?,
        kind: row.get("kind")?,
        state: read_maybe_word(row, "state")?,
        gauge: read_maybe_id(row, "gauge")?,
        calibration: read_maybe_id(row, "calibration")?,
        limits_sha256: row.get("limits_sha256")?,
        content: row.get("content")?,
        stamp: Stamp::from_row(row)?,
    })
}
