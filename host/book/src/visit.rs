//! A whole visit, and the visits there are.
//!
//! In: the rows of the book. Out: a visit with its spindle, gauges, checks and everything said; of a finished visit as it
//! stood when it was finished.

use crate::attached::Attachment;
use crate::began::began;
use crate::book::{Book, Result, read_id};
use crate::capture::Capture;
use crate::checks::{CheckResult, CheckStart, Recorded};
use crate::covers::Covers;
use crate::event::Event;
use crate::finish::{Covered, Finish};
use crate::header::{GaugeHeader, Header, SpindleHeader, VisitHeader};
use crate::later::Later;
use crate::remark::Remark;
use crate::revision::{Entity, Kind};
use crate::said::{Acknowledgement, Amendment, Finding, Note};
use std::collections::BTreeSet;
use uuid::Uuid;

/// One check with everything recorded in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// How it began.
    pub start: CheckStart,
    /// Clamps, readings, planes.
    pub recorded: Vec<Recorded>,
    /// Raw records.
    pub captures: Vec<Capture>,
    /// Its results in order of time: empty while unfinished, several where it was judged anew.
    pub results: Vec<CheckResult>,
}

impl Check {
    /// The result that holds; none while unfinished.
    pub fn result(&self) -> Option<&CheckResult> {
        CheckResult::holding(&self.results)
    }
}

/// A whole visit. Of a finished one, headers are those it was finished with, and only rows the digest covers are here:
/// neither a tombstone nor anything else that came later changes it.
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
    /// What was struck or corrected, in the visit or of its spindle and gauges. The rows themselves stay in their lists.
    pub remarks: Vec<Remark>,
    /// Photos and other files.
    pub attachments: Vec<Attachment>,
    /// What happened to the spindle, as known when the visit was finished.
    pub events: Vec<Event>,
    /// Whatever else came after its end and changes nothing in it, to be shown as later.
    pub later: Vec<Later>,
}

impl Book {
    /// Every visit by its start, as far as that is known: an open one as it stands, a finished one as it was finished. A
    /// header or a tombstone that came after the end changes nothing in it.
    pub fn visits(&self) -> Result<Vec<Entity<VisitHeader>>> {
        let finished = self.finished_visits()?;
        let mut visits = self.list::<VisitHeader>()?;
        for visit in visits
            .iter_mut()
            .filter(|visit| finished.contains(&visit.id))
        {
            let covered = self.covered(visit.id)?;
            *visit = self.entity_then(visit.id, covered.0.as_ref())?;
        }
        // A stable sort: of two that began at once, the one entered first comes first.
        visits.sort_by_key(|visit| began(&visit.header().started_at));
        Ok(visits)
    }

    /// Visits without an end, removed and struck ones left out, in order of their first revision.
    pub fn open_visits(&self) -> Result<Vec<Entity<VisitHeader>>> {
        let finished = self.finished_visits()?;
        let struck = self.struck()?;
        let mut visits = self.list::<VisitHeader>()?;
        visits.retain(|visit| {
            !visit.removed && !finished.contains(&visit.id) && !struck.contains(&visit.id)
        });
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
        let mut visits = self.visits()?;
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
            .visits()?
            .into_iter()
            .rfind(|visit| !visit.removed)
            .map(|visit| visit.id))
    }

    /// A whole visit.
    pub fn visit(&self, visit: Uuid) -> Result<Visit> {
        let finishes = self.finishes(visit)?;
        let covered = self.covered(visit)?;
        let covers = covered.0.as_ref();
        let header = self.entity_then::<VisitHeader>(visit, covers)?;
        let spindle = match header.header().spindle {
            Some(spindle) => Some(self.entity_then::<SpindleHeader>(spindle, covers)?),
            None => None,
        };
        let removed = self.removed_then(covers)?;
        let mut checks = Vec::new();
        for start in self.check_starts(visit)? {
            if covered.has("check_start", start.id) && !removed.contains(&start.id) {
                checks.push(self.whole_check(start, &covered)?);
            }
        }
        let used: BTreeSet<Uuid> = checks
            .iter()
            .filter_map(|check| check.start.gauge)
            .collect();
        let gauges = used
            .into_iter()
            .map(|gauge| self.entity_then(gauge, covers));
        let mut findings = self.findings(visit)?;
        findings.retain(|row| covered.has("finding", row.id) && !removed.contains(&row.id));
        let mut notes = self.notes(visit)?;
        notes.retain(|row| covered.has("note", row.id) && !removed.contains(&row.id));
        let mut acknowledgements = self.acknowledgements(visit)?;
        acknowledgements.retain(|row| covered.has("acknowledgement", row.id));
        let now;
        let of_visit = match covers {
            Some(covers) => covers,
            None => {
                now = self.rows_now(visit)?;
                &now
            }
        };
        let mut remarks = self.remarks()?;
        remarks.retain(|row| of_visit.has("remark", row.id) && !removed.contains(&row.id));
        let mut attachments = self.attachments()?;
        attachments.retain(|row| of_visit.has("attachment", row.id) && !removed.contains(&row.id));
        let mut events = self.events()?;
        events.retain(|row| of_visit.has("event", row.id) && !removed.contains(&row.id));
        Ok(Visit {
            spindle,
            gauges: gauges.collect::<Result<_>>()?,
            checks,
            acknowledgements,
            findings,
            notes,
            later: self.later(visit, &finishes)?,
            finishes,
            amendments: self.amendments(visit)?,
            remarks,
            attachments,
            events,
            visit: header,
        })
    }

    fn whole_check(&self, start: CheckStart, covered: &Covered) -> Result<Check> {
        let mut recorded = self.every_recorded(start.id)?;
        recorded.retain(|row| covered.has("recorded", row.id));
        let mut captures = self.every_capture(start.id)?;
        captures.retain(|row| covered.has("capture", row.id));
        let mut results = self.every_result(start.id)?;
        results.retain(|row| covered.has("result", row.id));
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
        then.removed = self.removed_then(covers)?.contains(&entity);
        if then.heads.is_empty() {
            return Err(self.damaged(
                "finish",
                format!("no header of {} {entity} is covered", H::KIND),
            ));
        }
        Ok(then)
    }
}
