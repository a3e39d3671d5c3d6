//! Many visits at once, for what is followed over years: headers, checks and results, each table read in one pass.
//!
//! In: whose visits. Out: visits that count, by start, each with its checks and what the caller reads out of their result
//! documents. Nothing of it is stored.

use crate::book::{Book, Result, Stamp, parse_id, read_id, read_maybe_id, unreadable};
use crate::checks::{CheckKind, CheckResult};
use crate::covers::Covers;
use crate::header::ComparedFigure;
use crate::remark::{Remark, Said};
use crate::revision::Kind;
use crate::words::read_maybe_word;
use holdtrue_terms::vocabulary::{Outcome, State};
use rusqlite::{Connection, Row, params_from_iter};
use serde::Deserialize;
use std::cmp::Ordering;
use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::panic::resume_unwind;
use std::sync::mpsc::sync_channel;
use std::thread;
use uuid::Uuid;

/// Visits as they count for the histories of spindles.
#[derive(Clone, Debug, PartialEq)]
pub struct Past<T> {
    /// Those of a spindle.
    pub visits: Vec<PastVisit<T>>,
    /// How many say of no spindle that it is theirs.
    pub of_none: usize,
}

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
    /// The whole visit was put aside: none of its sets counts.
    pub struck: Option<Struck>,
    /// The whole visit was put aside after its end, and no amendment took that up: it counts.
    pub struck_later: Option<Struck>,
    /// Its grip and runout checks in order of time, struck ones among them.
    pub checks: Vec<PastCheck<T>>,
    /// Results that came after its end, of its own checks and of others: they count nowhere.
    pub later: Vec<LaterResult>,
}

/// A result that the end of its visit does not cover.
#[derive(Clone, Debug, PartialEq)]
pub struct LaterResult {
    /// The check.
    pub check: Uuid,
    /// What was checked.
    pub kind: CheckKind,
    /// As found, as left, or not said.
    pub state: Option<State>,
    /// How it was decided; none where no limit was set.
    pub outcome: Option<Outcome>,
    /// Who judged.
    pub by: String,
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
    /// SHA-256 of the rows of the table it was entered from: the same rows entered into two copies are one visit.
    pub rows_sha256: Option<String>,
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
    /// It was put aside: the strike that holds, with its reason.
    pub struck: Option<Struck>,
    /// It was put aside after the end of its visit, and no amendment took that up: it counts.
    pub struck_later: Option<Struck>,
    /// How it ended; none while it is unfinished.
    pub result: Option<PastResult<T>>,
    /// What it came to when an amendment judged it anew: the last whose say holds.
    pub amended: Option<AmendedSet>,
}

/// What a set came to by an amendment.
#[derive(Clone, Debug, PartialEq)]
pub struct AmendedSet {
    /// How it is decided; none where nothing limits it any more.
    pub outcome: Option<Outcome>,
    /// The result document.
    pub document: String,
}

impl AmendedSet {
    /// Of what amendments made of a set, one after the other, what holds.
    fn that_holds(result: Option<Outcome>, amended: Vec<Self>) -> Option<Self> {
        amended.into_iter().fold(None, |holds, next| {
            let before = holds.as_ref().map_or(result, |holds: &Self| holds.outcome);
            match takes_its_place(before, next.outcome) {
                true => Some(next),
                false => holds,
            }
        })
    }
}

/// How a set stands by its result and what amendments made of it, one after the other.
pub fn as_amended(
    result: Option<Outcome>,
    amended: impl IntoIterator<Item = Option<Outcome>>,
) -> Option<Outcome> {
    amended
        .into_iter()
        .fold(result, |before, next| match takes_its_place(before, next) {
            true => next,
            false => before,
        })
}

/// An amendment that judges nothing, since no limit is known any more, takes nothing back but that a set was within: what was
/// outside a limit, or undecided, stays so until it is judged.
fn takes_its_place(before: Option<Outcome>, next: Option<Outcome>) -> bool {
    next.is_some() || matches!(before, None | Some(Outcome::Accept))
}

impl<T> PastCheck<T> {
    /// How it is decided: as amended, else by its result.
    pub fn outcome(&self) -> Option<Outcome> {
        match &self.amended {
            Some(amended) => amended.outcome,
            None => self.result.as_ref()?.outcome,
        }
    }
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

/// A check with its visit.
type Checked<T> = (Uuid, PastCheck<T>);

/// Checks by time, and their results.
type Checks<T> = (Vec<Checked<T>>, Vec<ResultOf<T>>);

/// A result of a check: the place of that among the checks, the calibration it was computed by, and what was read.
struct ResultOf<T> {
    place: usize,
    calibration: Option<Uuid>,
    result: PastResult<T>,
}

/// Reads each text that `feed` hands on, in a thread of its own while the next rows are fetched; in the order they came.
fn aside<I: Send, O: Send>(
    read: impl Fn(I) -> O + Send,
    feed: impl FnOnce(&mut dyn FnMut(I)) -> Result<()>,
) -> Result<Vec<O>> {
    thread::scope(|scope| {
        // By the batch, since each handing over costs; a full queue waits, so that few lie in memory unread.
        let (queue, waiting) = sync_channel::<Vec<I>>(4);
        let reader =
            scope.spawn(move || waiting.into_iter().flatten().map(read).collect::<Vec<O>>());
        let mut batch = Vec::with_capacity(BATCH);
        let fed = feed(&mut |item| {
            batch.push(item);
            if batch.len() == BATCH {
                // It fails only where the reader has panicked, and then so does this one, below.
                let _ = queue.send(std::mem::replace(&mut batch, Vec::with_capacity(BATCH)));
            }
        });
        let _ = queue.send(batch);
        drop(queue);
        let read = reader.join().unwrap_or_else(|panic| resume_unwind(panic));
        fed.map(|()| read)
    })
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
    /// Of a finished visit it is its end that says which revision stands.
    parents: Vec<Uuid>,
    content: String,
    julian: f64,
}

/// What is kept of the revisions of a visit's header while they are read.
struct HeaderRows {
    /// The first of them all.
    entered: (f64, Uuid, Stamp),
    /// Of an open visit every one, of a finished one the latest its end covers.
    may_stand: Vec<HeaderRow>,
}

/// In order of time.
fn by_time(one: (f64, Uuid), other: (f64, Uuid)) -> Ordering {
    one.0.total_cmp(&other.0).then(one.1.cmp(&other.1))
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
    ) -> Result<Past<T>> {
        let only = match whose {
            Whose::Everyone => None,
            Whose::Of(spindles) => Some(self.visits_naming(spindles)?),
        };
        let only = only.as_ref();
        let of_visits = || {
            let ends = self.covered_rows(only)?;
            let visits = self.past_headers(only, &ends)?;
            Ok((ends, visits))
        };
        let ((ends, (mut visits, mut of_none)), (mut checks, results)) = match whose {
            Whose::Everyone => {
                self.beside(of_visits, |book| book.past_results(None, documents, &read))?
            }
            Whose::Of(_) => (of_visits()?, self.past_results(only, documents, &read)?),
        };
        let tombstones = self.tombstone_rows()?;
        let removed = |visit: Uuid, target: Uuid| tombstones.lie_on(target, ends.get(&visit));
        let strikes = self.strikes()?;
        of_none.retain(|visit| !removed(*visit, *visit));
        visits.retain(|visit| {
            !removed(visit.id, visit.id)
                && match whose {
                    Whose::Everyone => true,
                    Whose::Of(spindles) => spindles.contains(&visit.spindle),
                }
        });
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
        let covered = |visit: Uuid, row: Uuid| ends.get(&visit).is_none_or(|end| end.holds(row));
        let mut later = Vec::new();
        for row in results {
            let (visit, check) = &mut checks[row.place];
            if !covered(*visit, row.result.id) {
                later.push((*visit, row.place, row.result));
            } else if !overtaken.contains(&row.result.id) {
                check.calibration = row.calibration.or(check.calibration);
                check.result = Some(row.result);
            }
        }
        let each = visits.iter().enumerate();
        let places: HashMap<Uuid, usize> = each.map(|(place, visit)| (visit.id, place)).collect();
        for visit in &mut visits {
            visit.struck = strikes.counted.get(&visit.id).cloned();
            visit.struck_later = strikes.later_on(visit.id, visit.id).cloned();
        }
        for (visit, check, result) in later {
            let check = &checks[check].1;
            // A strike on the set itself puts it aside, whenever it came; one on its visit that counts nowhere hides nothing.
            let struck = strikes.counted_on(check.id, visit);
            let struck = struck.or(strikes.later.get(&check.id));
            let place = places.get(&visit).filter(|_| struck.is_none());
            if let Some(place) = place.filter(|_| !tombstones.lie_on(check.id, None)) {
                visits[*place].later.push(LaterResult {
                    check: check.id,
                    kind: check.kind,
                    state: check.state,
                    outcome: result.outcome,
                    by: self.author_of_result(result.id)?,
                });
            }
        }
        let mut amended = self.amended_sets()?;
        for (visit, mut check) in checks {
            let place = places.get(&visit);
            let Some(place) =
                place.filter(|_| covered(visit, check.id) && !removed(visit, check.id))
            else {
                continue;
            };
            check.struck = strikes.counted_on(check.id, visit).cloned();
            check.struck_later = strikes.later_on(check.id, visit).cloned();
            let result = check.result.as_ref().and_then(|result| result.outcome);
            let amended = amended.remove(&check.id).unwrap_or_default();
            check.amended = AmendedSet::that_holds(result, amended);
            visits[*place].checks.push(check);
        }
        Ok(Past {
            visits,
            of_none: of_none.len(),
        })
    }

    /// Two readings of one state of the file, the second by a connection of its own in a thread of its own. Within a
    /// transaction, whose rows no other connection sees, and where another program is about to write, one after the other.
    fn beside<A, B: Send>(
        &self,
        here: impl FnOnce() -> Result<A>,
        there: impl FnOnce(&Self) -> Result<B> + Send,
    ) -> Result<(A, B)> {
        if !self.db.is_autocommit() {
            return Ok((here()?, there(self)?));
        }
        // Opened before anything is held: a look at a file lets go what its process holds on it.
        let other = Self::open_read_only(self.path());
        // Who reads keeps writers out until it ends.
        let begin =
            |db: &Connection| db.execute_batch("BEGIN; SELECT 1 FROM sqlite_schema LIMIT 1");
        let held = self.run(begin);
        let other = other.and_then(|other| {
            other.run(begin)?;
            Ok(other)
        });
        let read = held.and_then(|()| match other {
            Ok(other) => thread::scope(|scope| {
                let there = scope.spawn(move || there(&other));
                let here = here();
                let there = there.join().unwrap_or_else(|panic| resume_unwind(panic));
                Ok((here?, there?))
            }),
            Err(_) => Ok((here()?, there(self)?)),
        });
        if !self.db.is_autocommit() {
            self.run(|db| db.execute_batch("ROLLBACK"))?;
        }
        read
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
        let sql = "SELECT id, visit, covers, julianday(at) AS julian FROM finish";
        let read = |(visit, end, covers): (Uuid, (f64, Uuid), String)| {
            Ok((visit, end, CoveredRows::read(&covers)?))
        };
        let ends = aside(read, |hand_on| {
            self.each_of("visit", only, sql, |row| {
                let end = (row.get(3)?, read_id(row, 0)?);
                hand_on((read_id(row, 1)?, end, row.get(2)?));
                Ok(())
            })
        })?;
        let ends: rusqlite::Result<Vec<_>> = ends.into_iter().collect();
        let ends = self.run(|_| ends)?;
        let mut found: HashMap<Uuid, ((f64, Uuid), CoveredRows)> =
            HashMap::with_capacity(ends.len());
        for (visit, end, rows) in ends {
            let known = found.get(&visit);
            if known.is_none_or(|(known, _)| by_time(end, *known).is_lt()) {
                found.insert(visit, (end, rows));
            }
        }
        Ok(found
            .into_iter()
            .map(|(visit, (_, rows))| (visit, rows))
            .collect())
    }

    /// The visits of a spindle, and those of none.
    fn past_headers<T>(
        &self,
        only: Option<&BTreeSet<Uuid>>,
        ends: &HashMap<Uuid, CoveredRows>,
    ) -> Result<(Vec<PastVisit<T>>, Vec<Uuid>)> {
        let mut rows: HashMap<Uuid, HeaderRows> = HashMap::with_capacity(ends.len());
        let columns = "SELECT id, entity, parents, content, author, at, julianday(at) AS julian";
        // Of every visit the table is read through: by its index, which the plus keeps away, each row would be looked up.
        let from = match only {
            None => "FROM revision WHERE +kind = 'visit'",
            Some(_) => "FROM revision WHERE kind = 'visit'",
        };
        self.each_of("entity", only, &format!("{columns} {from}"), |row| {
            let (id, visit, julian) = (read_id(row, 0)?, read_id(row, 1)?, row.get(6)?);
            let end = ends.get(&visit);
            let kept = match rows.entry(visit) {
                Entry::Occupied(kept) => kept.into_mut(),
                Entry::Vacant(new) => new.insert(HeaderRows {
                    entered: (julian, id, stamp_at(row, 4)?),
                    may_stand: Vec::new(),
                }),
            };
            if by_time((julian, id), (kept.entered.0, kept.entered.1)).is_lt() {
                kept.entered = (julian, id, stamp_at(row, 4)?);
            }
            let stands = match (end, kept.may_stand.first()) {
                (None, _) | (Some(_), None) => true,
                (Some(_), Some(other)) => by_time((other.julian, other.id), (julian, id)).is_lt(),
            };
            if stands && end.is_none_or(|end| end.holds(id)) {
                if end.is_some() {
                    kept.may_stand.clear();
                }
                kept.may_stand.push(HeaderRow {
                    id,
                    parents: match end {
                        Some(_) => Vec::new(),
                        None => read_parents(row)?,
                    },
                    content: row.get(3)?,
                    julian,
                });
            }
            Ok(())
        })?;
        let mut standing = Vec::with_capacity(rows.len());
        for (id, mut kept) in rows {
            let revisions = &mut kept.may_stand;
            let parents = revisions.iter().flat_map(|each| &each.parents);
            let replaced: HashSet<Uuid> = parents.copied().collect();
            revisions.retain(|each| !replaced.contains(&each.id));
            let at = |row: &HeaderRow| (row.julian, row.id);
            let latest = std::mem::take(revisions)
                .into_iter()
                .max_by(|one, other| by_time(at(one), at(other)));
            let Some(latest) = latest else {
                let found = format!("visit {id} has no header that holds");
                return Err(self.damaged("revision", found));
            };
            standing.push((id, kept.entered, latest));
        }
        standing.sort_by(|(left, one, _), (right, other, _)| {
            by_time((one.0, *left), (other.0, *right))
        });
        let mut visits = Vec::with_capacity(standing.len());
        let mut of_none = Vec::new();
        for (id, entered, row) in standing {
            let header: PastHeader = serde_json::from_str(&row.content)
                .map_err(|error| self.damaged(format!("revision {}", row.id), error.to_string()))?;
            let Some(spindle) = header.spindle else {
                of_none.push(id);
                continue;
            };
            visits.push(PastVisit {
                id,
                spindle,
                header,
                entered: entered.2,
                finished: ends.contains_key(&id),
                struck: None,
                struck_later: None,
                checks: Vec::new(),
                later: Vec::new(),
            });
        }
        Ok((visits, of_none))
    }

    fn past_checks<T>(&self, only: Option<&BTreeSet<Uuid>>) -> Result<Vec<Checked<T>>> {
        let mut found = Vec::new();
        let sql = "SELECT id, visit, kind, state, gauge, calibration, julianday(at) AS julian
                   FROM check_start WHERE visit IS NOT NULL AND kind IN ('grip', 'runout')";
        self.each_of("visit", only, sql, |row| {
            let check = PastCheck {
                id: read_id(row, 0)?,
                kind: row.get(2)?,
                state: read_maybe_word(row, 3)?,
                gauge: read_maybe_id(row, 4)?,
                calibration: read_maybe_id(row, 5)?,
                struck: None,
                struck_later: None,
                result: None,
                amended: None,
            };
            found.push((row.get::<_, f64>(6)?, read_id(row, 1)?, check));
            Ok(())
        })?;
        found.sort_by(|(one, _, left), (other, _, right)| {
            by_time((*one, left.id), (*other, right.id))
        });
        Ok(found
            .into_iter()
            .map(|(_, visit, check)| (visit, check))
            .collect())
    }

    /// The checks by time, and their results in no order, each with what is read of its document. Documents of other checks
    /// than these are not fetched where the name of the analysis says which they are.
    fn past_results<T: Default + Send>(
        &self,
        only: Option<&BTreeSet<Uuid>>,
        documents: &[CheckKind],
        read: &(impl Fn(CheckKind, &str) -> T + Sync),
    ) -> Result<Checks<T>> {
        let checks = self.past_checks(only)?;
        let places = checks.iter().enumerate();
        let places: HashMap<Uuid, usize> = places
            .map(|(place, (_, check))| (check.id, place))
            .collect();
        let others = CheckKind::ALL
            .iter()
            .filter(|kind| !documents.contains(kind));
        let named: Vec<String> = others
            .map(|kind| format!("analysis GLOB '{kind}-*'"))
            .chain(["FALSE".to_owned()])
            .collect();
        let select = format!(
            "SELECT result.id, check_id, outcome, result.calibration,
                    CASE WHEN {} THEN NULL ELSE result.content END FROM result",
            named.join(" OR ")
        );
        let of_row = |(mut row, document): (ResultOf<T>, Option<(CheckKind, String)>)| {
            if let Some((kind, text)) = document {
                row.result.read = read(kind, &text);
            }
            row
        };
        let results = aside(of_row, |hand_on| {
            let mut take = |row: &Row| {
                let Some(&place) = places.get(&read_id(row, 1)?) else {
                    return Ok(());
                };
                let kind = checks[place].1.kind;
                let document = match documents.contains(&kind) {
                    true => Some((kind, row.get(4)?)),
                    false => None,
                };
                let result = PastResult {
                    id: read_id(row, 0)?,
                    outcome: read_maybe_word(row, 2)?,
                    read: T::default(),
                };
                let calibration = read_maybe_id(row, 3)?;
                let row = ResultOf {
                    place,
                    calibration,
                    result,
                };
                hand_on((row, document));
                Ok(())
            };
            let Some(only) = only else {
                return self.each(&select, [], &mut take);
            };
            let sql =
                format!("{select} JOIN check_start ON check_start.id = check_id WHERE visit = ?1");
            for visit in only {
                self.each(&sql, [visit.to_string()], &mut take)?;
            }
            Ok(())
        })?;
        Ok((checks, results))
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

    fn author_of_result(&self, id: Uuid) -> Result<String> {
        let sql = "SELECT author FROM result WHERE id = ?1";
        let found = self.rows(sql, [id.to_string()], |row| row.get(0))?;
        Ok(found.into_iter().next().unwrap_or_default())
    }

    /// What amendments made of each set they judged, one after the other. What another tool wrote into one says nothing here.
    fn amended_sets(&self) -> Result<HashMap<Uuid, Vec<AmendedSet>>> {
        #[derive(Default, Deserialize)]
        struct Content {
            #[serde(default)]
            judged: Vec<Judged>,
        }
        #[derive(Deserialize)]
        struct Judged {
            check: Uuid,
            outcome: Option<Outcome>,
            result: serde_json::Value,
        }
        let sql = "SELECT DISTINCT visit FROM amendment";
        let visits = self.rows(sql, [], |row| read_id(row, 0))?;
        let mut found: HashMap<Uuid, Vec<AmendedSet>> = HashMap::new();
        for visit in visits {
            let Some(covers) = self.covered_and_amended(visit)? else {
                continue;
            };
            for amendment in self.amendments(visit)? {
                if !covers.has("amendment", amendment.id) {
                    continue;
                }
                let content: Content = amendment.content.read().unwrap_or_default();
                for judged in content.judged {
                    found.entry(judged.check).or_default().push(AmendedSet {
                        outcome: judged.outcome,
                        document: judged.result.to_string(),
                    });
                }
            }
        }
        Ok(found)
    }

    /// The visit of a check, a finding or a note; anything else is its own.
    fn visit_of(&self, row: Uuid) -> Result<Uuid> {
        let sql = "SELECT visit FROM check_start WHERE id = ?1 AND visit IS NOT NULL \
            UNION ALL SELECT visit FROM finding WHERE id = ?1 \
            UNION ALL SELECT visit FROM note WHERE id = ?1";
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
