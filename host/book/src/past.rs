//! Many visits at once, for what is followed over years: headers, checks and results, each table read in one pass.
//!
//! In: whose visits. Out: visits that count, by start, each with its checks and what the caller reads out of their result
//! documents. Nothing of it is stored.

use crate::book::{Book, Result, Stamp, parse_id, read_id, read_maybe_id, unreadable};
use crate::checks::{CheckKind, CheckResult};
use crate::digest::Covers;
use crate::header::ComparedFigure;
use crate::remark::{Remark, Said};
use crate::revision::Kind;
use crate::words::read_maybe_word;
use holdtrue_terms::vocabulary::{Outcome, State};
use rusqlite::{Row, params_from_iter};
use serde::Deserialize;
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::panic::resume_unwind;
use std::sync::mpsc::sync_channel;
use std::thread;
use uuid::Uuid;

/// A visit as it counts for the history of its spindle: an open one as it stands, a finished one as its end covers it.
#[derive(Clone, Debug, PartialEq)]
pub struct PastVisit<T> {
    /// The visit.
    pub id: Uuid,
    /// The entry of its spindle.
    pub spindle: Uuid,
    /// What its header says.
    pub header: PastHeader,
    /// Who entered it, and when: the first row of it.
    pub entered: Stamp,
    /// It has an end.
    pub finished: bool,
    /// The whole visit was put aside after its end, and no amendment took that up: it counts.
    pub struck_later: Option<Struck>,
    /// Its grip and runout checks in order of time, struck ones among them.
    pub checks: Vec<PastCheck<T>>,
}

/// The part of a visit's header that a history needs.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct PastHeader {
    spindle: Option<Uuid>,
    /// Who measured.
    pub technician: String,
    /// When the visit began: a time with offset, or of a paper the day as far as known.
    pub started_at: String,
    /// Why.
    pub purpose: Option<String>,
    /// What it was entered from later, such as `paper`.
    pub entered_from: Option<String>,
    /// What its figures were compared with when it was finished.
    pub compared: Option<Vec<ComparedFigure>>,
    /// Power-on hours off the control.
    pub power_on_hours: Option<f64>,
    /// Hours the spindle has turned, off the control.
    pub spindle_hours: Option<f64>,
    /// Cutting hours off the control.
    pub cutting_hours: Option<f64>,
    /// Tool changes off the control.
    pub tool_changes: Option<u64>,
}

/// A grip or runout check of such a visit.
#[derive(Clone, Debug, PartialEq)]
pub struct PastCheck<T> {
    /// The check.
    pub id: Uuid,
    /// What was checked.
    pub kind: CheckKind,
    /// As found, as left, or not said.
    pub state: Option<State>,
    /// The force gauge or indicator; none for figures typed by hand.
    pub gauge: Option<Uuid>,
    /// The calibration it was computed by.
    pub calibration: Option<Uuid>,
    /// The limits it was judged by.
    pub limits_sha256: Option<String>,
    /// It was put aside: the strike that holds, with its reason.
    pub struck: Option<Struck>,
    /// It was put aside after the end of its visit, and no amendment took that up: it counts.
    pub struck_later: Option<Struck>,
    /// Who measured, and when.
    pub stamp: Stamp,
    /// How it ended; none while it is unfinished.
    pub result: Option<PastResult<T>>,
}

/// Why something no longer counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Struck {
    /// Why.
    pub reason: String,
    /// Who struck it, and when.
    pub stamp: Stamp,
}

/// What is struck: a row or an entity, to why.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Strikes {
    /// Those that count: in an open visit all, in a finished one those its end or one of its amendments covers.
    pub counted: HashMap<Uuid, Struck>,
    /// Those that came after that.
    pub later: HashMap<Uuid, Struck>,
}

impl Strikes {
    /// The strike that counts on a row of a visit, or on the visit.
    pub fn counted_on(&self, row: Uuid, visit: Uuid) -> Option<&Struck> {
        self.counted.get(&row).or(self.counted.get(&visit))
    }

    /// One that came later on a row of a visit, or on the visit, where none counts.
    pub fn later_on(&self, row: Uuid, visit: Uuid) -> Option<&Struck> {
        let later = self.later.get(&row).or(self.later.get(&visit));
        later.filter(|_| self.counted_on(row, visit).is_none())
    }
}

/// How a check ended.
#[derive(Clone, Debug, PartialEq)]
pub struct PastResult<T> {
    /// The row.
    pub id: Uuid,
    /// How it was decided; none where no limit was set.
    pub outcome: Option<Outcome>,
    /// What was read out of its document.
    pub read: T,
}

/// Whose visits.
#[derive(Clone, Copy, Debug)]
pub enum Whose<'a> {
    /// Those of every spindle.
    Everyone,
    /// Those of these entries.
    Of(&'a BTreeSet<Uuid>),
}

/// So many result documents are handed on at once.
const BATCH: usize = 64;

/// The result document of a check: the place of its visit, and its own in that.
struct Document {
    place: (usize, usize),
    kind: CheckKind,
    text: String,
}

/// The rows the printed end of a visit covers, of the tables a history reads, sorted.
#[derive(Default)]
struct CoveredRows(Vec<Uuid>);

#[derive(Deserialize)]
struct CoversText<'a> {
    #[serde(borrow)]
    rows: RowsText<'a>,
}

/// Identifiers are not escaped in JSON, so nothing has to be copied to read them.
#[derive(Default, Deserialize)]
#[serde(default)]
struct RowsText<'a> {
    #[serde(borrow)]
    revision: Vec<&'a str>,
    #[serde(borrow)]
    check_start: Vec<&'a str>,
    #[serde(borrow)]
    result: Vec<&'a str>,
    #[serde(borrow)]
    tombstone: Vec<&'a str>,
}

/// One revision of a visit's header.
struct HeaderRow {
    id: Uuid,
    parents: Vec<Uuid>,
    content: String,
    stamp: Stamp,
    julian: f64,
}

impl Book {
    /// The visits of these spindles that have not been taken out of sight, by start as it is written, then by entry; `read`
    /// makes of each result document of these checks what is wanted of it, in a thread of its own. Other documents are not
    /// read.
    ///
    /// A finished visit is what its end covers. A strike that came later is told, and counts once an amendment takes it up.
    pub fn past<T: Default + Send>(
        &self,
        whose: Whose<'_>,
        documents: &[CheckKind],
        read: impl Fn(CheckKind, &str) -> T + Sync,
    ) -> Result<Vec<PastVisit<T>>> {
        let only = match whose {
            Whose::Everyone => None,
            Whose::Of(spindles) => Some(self.visits_naming(spindles)?),
        };
        let only = only.as_ref();
        let ends = self.covered_rows(only)?;
        let tombstones = self.tombstone_rows()?;
        let removed = |visit: Uuid, target: Uuid| tombstones.lie_on(target, ends.get(&visit));
        let strikes = self.strikes()?;
        let mut visits = self.past_headers(only, &ends)?;
        visits.retain(|visit| {
            !removed(visit.id, visit.id)
                && match whose {
                    Whose::Everyone => true,
                    Whose::Of(spindles) => spindles.contains(&visit.spindle),
                }
        });
        for visit in &mut visits {
            visit.struck_later = strikes.later_on(visit.id, visit.id).cloned();
        }
        let mut places: HashMap<Uuid, usize> = HashMap::with_capacity(visits.len());
        places.extend(
            visits
                .iter()
                .enumerate()
                .map(|(place, visit)| (visit.id, place)),
        );
        let mut checks: HashMap<Uuid, (usize, usize)> = HashMap::new();
        for (visit, check) in self.past_checks(only)? {
            let Some(place) = places.get(&visit) else {
                continue;
            };
            let covered = ends.get(&visit).is_none_or(|end| end.holds(check.id));
            if !covered || removed(visit, check.id) {
                continue;
            }
            let list = &mut visits[*place].checks;
            checks.insert(check.id, (*place, list.len()));
            list.push(PastCheck {
                struck: strikes.counted_on(check.id, visit).cloned(),
                struck_later: strikes.later_on(check.id, visit).cloned(),
                ..check
            });
        }
        let mut overtaken: BTreeSet<Uuid> = BTreeSet::new();
        for check in self.checks_with_several_results()? {
            let end = self
                .check_start(check)?
                .visit
                .and_then(|visit| ends.get(&visit));
            let mut results = self.every_result(check)?;
            results.retain(|row| end.is_none_or(|end| end.holds(row.id)));
            let holds = CheckResult::holding(&results).map(|row| row.id);
            overtaken.extend(
                results
                    .iter()
                    .map(|row| row.id)
                    .filter(|id| Some(*id) != holds),
            );
        }
        let wanted = |kind| documents.contains(&kind);
        let told = thread::scope(|scope| {
            // By the batch, since each handing over costs; a full queue waits, so that few lie in memory unread.
            let (queue, waiting) = sync_channel::<Vec<Document>>(4);
            let read = &read;
            let reader = scope.spawn(move || {
                let told =
                    |document: Document| (document.place, read(document.kind, &document.text));
                waiting.into_iter().flatten().map(told).collect::<Vec<_>>()
            });
            let mut batch = Vec::with_capacity(BATCH);
            let found = self.past_results(only, documents, |row| {
                let id = read_id(row, 0)?;
                let Some(&(place, number)) = checks.get(&read_id(row, 1)?) else {
                    return Ok(());
                };
                let visit = &mut visits[place];
                let covered = ends.get(&visit.id).is_none_or(|end| end.holds(id));
                if !covered || overtaken.contains(&id) {
                    return Ok(());
                }
                let check = &mut visit.checks[number];
                check.calibration = read_maybe_id(row, 3)?.or(check.calibration);
                check.limits_sha256 = row.get(4)?;
                check.result = Some(PastResult {
                    id,
                    outcome: read_maybe_word(row, 2)?,
                    read: T::default(),
                });
                if wanted(check.kind) {
                    let (place, kind) = ((place, number), check.kind);
                    let text = row.get(5)?;
                    batch.push(Document { place, kind, text });
                }
                if batch.len() == BATCH {
                    // It fails only where the reader has panicked, and then so does this one, below.
                    let _ = queue.send(std::mem::replace(&mut batch, Vec::with_capacity(BATCH)));
                }
                Ok(())
            });
            let _ = queue.send(batch);
            drop(queue);
            let told = reader.join().unwrap_or_else(|panic| resume_unwind(panic));
            found.map(|()| told)
        })?;
        for ((place, number), read) in told {
            if let Some(result) = &mut visits[place].checks[number].result {
                result.read = read;
            }
        }
        Ok(visits)
    }

    /// For each entry of a kind that an alias joins to others, the first of them all.
    pub fn joined(&self, kind: Kind) -> Result<BTreeMap<Uuid, Uuid>> {
        let sql = "SELECT id, entity, same_as FROM alias WHERE kind = ?1";
        let read = |row: &Row| {
            Ok((
                read_id(row, "id")?,
                [read_id(row, "entity")?, read_id(row, "same_as")?],
            ))
        };
        let removed = self.removed()?;
        let mut joined: BTreeMap<Uuid, Uuid> = BTreeMap::new();
        for (alias, pair) in self.rows(sql, [kind.word()], read)? {
            if removed.contains(&alias) {
                continue;
            }
            let [left, right] = pair.map(|entry| joined.get(&entry).copied().unwrap_or(entry));
            let first = left.min(right);
            joined.extend(pair.map(|entry| (entry, first)));
            for known in joined
                .values_mut()
                .filter(|known| [left, right].contains(known))
            {
                *known = first;
            }
        }
        Ok(joined)
    }

    /// Visits whose header names one of these spindles, or did.
    fn visits_naming(&self, spindles: &BTreeSet<Uuid>) -> Result<BTreeSet<Uuid>> {
        let sql = format!(
            "SELECT DISTINCT entity FROM revision WHERE kind = 'visit' AND content ->> '$.spindle' IN ({})",
            places(spindles.len())
        );
        let wanted = params_from_iter(spindles.iter().map(Uuid::to_string));
        let found = self.rows(&sql, wanted, |row| read_id(row, "entity"))?;
        Ok(found.into_iter().collect())
    }

    /// Of each finished visit the rows of its printed end, the earliest.
    fn covered_rows(&self, only: Option<&BTreeSet<Uuid>>) -> Result<HashMap<Uuid, CoveredRows>> {
        let mut found: HashMap<Uuid, (f64, Uuid, CoveredRows)> = HashMap::new();
        let sql = "SELECT id, visit, covers, julianday(at) AS julian FROM finish";
        self.each_of("visit", only, sql, |row| {
            let (id, visit) = (read_id(row, 0)?, read_id(row, 1)?);
            let julian: f64 = row.get(3)?;
            let earlier = found.get(&visit).is_some_and(|(other, other_id, _)| {
                julian.total_cmp(other).then(id.cmp(other_id)).is_gt()
            });
            if !earlier {
                let covers = row.get_ref(2)?.as_str()?;
                found.insert(visit, (julian, id, CoveredRows::read(covers)?));
            }
            Ok(())
        })?;
        Ok(found
            .into_iter()
            .map(|(visit, (.., rows))| (visit, rows))
            .collect())
    }

    fn past_headers<T>(
        &self,
        only: Option<&BTreeSet<Uuid>>,
        ends: &HashMap<Uuid, CoveredRows>,
    ) -> Result<Vec<PastVisit<T>>> {
        let mut rows: HashMap<Uuid, Vec<HeaderRow>> = HashMap::new();
        let sql =
            "SELECT id, entity, parents, content, author, at, julianday(at) AS julian FROM revision
                   WHERE kind = 'visit'";
        self.each_of("entity", only, sql, |row| {
            rows.entry(read_id(row, 1)?).or_default().push(HeaderRow {
                id: read_id(row, 0)?,
                parents: read_parents(row)?,
                content: row.get(3)?,
                stamp: stamp_at(row, 4)?,
                julian: row.get(6)?,
            });
            Ok(())
        })?;
        let mut visits = Vec::with_capacity(rows.len());
        for (id, mut revisions) in rows {
            revisions.sort_by(|one, other| {
                one.julian
                    .total_cmp(&other.julian)
                    .then(one.id.cmp(&other.id))
            });
            let entered = (revisions[0].julian, revisions[0].stamp.clone());
            let end = ends.get(&id);
            let replaced: HashSet<Uuid> = match end {
                Some(_) => HashSet::new(),
                None => revisions
                    .iter()
                    .flat_map(|each| each.parents.clone())
                    .collect(),
            };
            // Of an open visit what nothing replaces, of a finished one what its end covers; the latest of several.
            let standing = revisions.into_iter().rev().find(|each| match end {
                Some(end) => end.holds(each.id),
                None => !replaced.contains(&each.id),
            });
            let Some(standing) = standing else {
                return Err(
                    self.damaged("revision", format!("visit {id} has no header that holds"))
                );
            };
            let header: PastHeader = serde_json::from_str(&standing.content).map_err(|error| {
                self.damaged(format!("revision {}", standing.id), error.to_string())
            })?;
            if let Some(spindle) = header.spindle {
                let visit = PastVisit {
                    id,
                    spindle,
                    header,
                    entered: entered.1,
                    finished: end.is_some(),
                    struck_later: None,
                    checks: Vec::new(),
                };
                visits.push((entered.0, visit));
            }
        }
        visits.sort_by(|(one, left), (other, right)| {
            one.total_cmp(other).then(left.id.cmp(&right.id))
        });
        Ok(visits.into_iter().map(|(_, visit)| visit).collect())
    }

    fn past_checks<T>(&self, only: Option<&BTreeSet<Uuid>>) -> Result<Vec<(Uuid, PastCheck<T>)>> {
        let mut found = Vec::new();
        let sql = "SELECT id, visit, kind, state, gauge, calibration, limits_sha256, author, at, julianday(at) AS julian
                   FROM check_start WHERE visit IS NOT NULL AND kind IN ('grip', 'runout')";
        self.each_of("visit", only, sql, |row| {
            let check = PastCheck {
                id: read_id(row, 0)?,
                kind: row.get(2)?,
                state: read_maybe_word(row, 3)?,
                gauge: read_maybe_id(row, 4)?,
                calibration: read_maybe_id(row, 5)?,
                limits_sha256: row.get(6)?,
                struck: None,
                struck_later: None,
                stamp: stamp_at(row, 7)?,
                result: None,
            };
            found.push((row.get::<_, f64>(9)?, read_id(row, 1)?, check));
            Ok(())
        })?;
        found.sort_by(|(one, _, left), (other, _, right)| {
            one.total_cmp(other).then(left.id.cmp(&right.id))
        });
        Ok(found
            .into_iter()
            .map(|(_, visit, check)| (visit, check))
            .collect())
    }

    /// Results in no order. Documents of other checks than these are most of what lies in the file, and are not fetched where
    /// the name of the analysis says which they are.
    fn past_results(
        &self,
        only: Option<&BTreeSet<Uuid>>,
        documents: &[CheckKind],
        mut take: impl FnMut(&Row) -> rusqlite::Result<()>,
    ) -> Result<()> {
        let others = CheckKind::ALL
            .iter()
            .filter(|kind| !documents.contains(kind));
        let named: Vec<String> = others
            .map(|kind| format!("analysis GLOB '{kind}-*'"))
            .chain(["FALSE".to_owned()])
            .collect();
        let select = format!(
            "SELECT result.id, check_id, outcome, result.calibration, result.limits_sha256,
                    CASE WHEN {} THEN NULL ELSE result.content END FROM result",
            named.join(" OR ")
        );
        let Some(only) = only else {
            return self.each(&select, [], &mut take);
        };
        let sql =
            format!("{select} JOIN check_start ON check_start.id = check_id WHERE visit = ?1");
        for visit in only {
            self.each(&sql, [visit.to_string()], &mut take)?;
        }
        Ok(())
    }

    /// Rows of every visit, or of these only.
    fn each_of(
        &self,
        column: &str,
        only: Option<&BTreeSet<Uuid>>,
        sql: &str,
        mut take: impl FnMut(&Row) -> rusqlite::Result<()>,
    ) -> Result<()> {
        let Some(only) = only else {
            return self.each(sql, [], &mut take);
        };
        let joint = if sql.contains("WHERE") {
            "AND"
        } else {
            "WHERE"
        };
        let sql = format!("{sql} {joint} {column} = ?1");
        for visit in only {
            self.each(&sql, [visit.to_string()], &mut take)?;
        }
        Ok(())
    }

    fn each(
        &self,
        sql: &str,
        params: impl rusqlite::Params,
        take: &mut impl FnMut(&Row) -> rusqlite::Result<()>,
    ) -> Result<()> {
        self.run(|db| {
            let mut statement = db.prepare_cached(sql)?;
            let mut rows = statement.query(params)?;
            while let Some(row) = rows.next()? {
                take(row)?;
            }
            Ok(())
        })
    }

    fn tombstone_rows(&self) -> Result<Tombstones> {
        let read = |row: &Row| Ok((read_id(row, "id")?, read_id(row, "target")?));
        let mut on: HashMap<Uuid, Vec<Uuid>> = HashMap::new();
        for (id, target) in self.rows("SELECT id, target FROM tombstone", [], read)? {
            on.entry(target).or_default().push(id);
        }
        Ok(Tombstones(on))
    }

    /// What is struck, with the latest strike that holds.
    pub fn strikes(&self) -> Result<Strikes> {
        let removed = self.removed()?;
        let mut remarks = self.remarks()?;
        remarks.retain(|remark| !removed.contains(&remark.id));
        let targets: HashMap<Uuid, Uuid> = remarks
            .iter()
            .map(|remark| (remark.id, remark.target))
            .collect();
        let mut ends: HashMap<Uuid, Option<Covers>> = HashMap::new();
        let mut in_time = Vec::new();
        for remark in remarks.iter().filter(|each| each.said == Said::Strike) {
            let mut on = remark.target;
            // A lifted strike lies on a strike; those in a circle come from no program.
            for _ in 0..targets.len() {
                on = targets.get(&on).copied().unwrap_or(on);
            }
            let visit = self.visit_of(on)?;
            let end = match ends.entry(visit) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(new) => new.insert(self.covered_and_amended(visit)?),
            };
            if end.as_ref().is_none_or(|end| end.has("remark", remark.id)) {
                in_time.push(remark.clone());
            }
        }
        let counted = holding(&in_time);
        let mut later = holding(&remarks);
        later.retain(|target, _| !counted.contains_key(target));
        Ok(Strikes { counted, later })
    }

    /// The visit of a check; anything else is its own.
    fn visit_of(&self, row: Uuid) -> Result<Uuid> {
        let sql = "SELECT visit FROM check_start WHERE id = ?1 AND visit IS NOT NULL";
        let found = self.rows(sql, [row.to_string()], |found| read_id(found, "visit"))?;
        Ok(found.first().copied().unwrap_or(row))
    }
}

/// What these strike, each with the latest that holds.
fn holding(remarks: &[Remark]) -> HashMap<Uuid, Struck> {
    let struck = Remark::struck(remarks);
    let holds = remarks.iter().filter(|remark| {
        remark.said == Said::Strike
            && struck.contains(&remark.target)
            && !struck.contains(&remark.id)
    });
    holds
        .map(|remark| {
            let struck = Struck {
                reason: remark.reason.clone(),
                stamp: remark.stamp.clone(),
            };
            (remark.target, struck)
        })
        .collect()
}

/// Tombstones by what they lie on.
struct Tombstones(HashMap<Uuid, Vec<Uuid>>);

impl Tombstones {
    /// Whether one that is not itself buried lies on this; of a finished visit those its end covers.
    fn lie_on(&self, target: Uuid, end: Option<&CoveredRows>) -> bool {
        let counts = |id: &&Uuid| end.is_none_or(|end| end.holds(**id));
        let on = |target: &Uuid| self.0.get(target).into_iter().flatten().filter(counts);
        on(&target).any(|tombstone| on(tombstone).next().is_none())
    }
}

impl CoveredRows {
    fn read(covers: &str) -> rusqlite::Result<Self> {
        let text: CoversText<'_> = serde_json::from_str(covers).map_err(unreadable)?;
        let rows = text.rows;
        let all = [rows.revision, rows.check_start, rows.result, rows.tombstone];
        let ids = all.into_iter().flatten().map(parse_id);
        let mut ids: Vec<Uuid> = ids.collect::<rusqlite::Result<_>>()?;
        ids.sort_unstable();
        Ok(Self(ids))
    }

    fn holds(&self, id: Uuid) -> bool {
        self.0.binary_search(&id).is_ok()
    }
}

/// Author and time from two columns on.
fn stamp_at(row: &Row, column: usize) -> rusqlite::Result<Stamp> {
    Ok(Stamp {
        author: row.get(column)?,
        at: row.get(column + 1)?,
    })
}

fn read_parents(row: &Row) -> rusqlite::Result<Vec<Uuid>> {
    let text = row.get_ref(2)?.as_str()?;
    let parents: Vec<&str> = serde_json::from_str(text).map_err(unreadable)?;
    parents.into_iter().map(parse_id).collect()
}

/// `?, ?, ?`.
fn places(count: usize) -> String {
    vec!["?"; count].join(", ")
}
