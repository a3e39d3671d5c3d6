//! What is still open at each spindle. In: the book, the visits of a spindle. Out: what nobody found in order since, the most
//! urgent first.

use crate::overview::newest;
use crate::terminal::error::Error;
use crate::visits::findings::open::{open_after, said_of};
use crate::visits::spindles::history::History;
use holdtrue_book::{Book, Finding};
use holdtrue_terms::vocabulary::Severity;
use serde::Serialize;
use std::collections::{BTreeSet, HashMap, HashSet};
use uuid::Uuid;

/// A finding that nobody found in order since.
#[derive(Clone, Debug, Serialize)]
pub struct OpenFinding {
    /// How urgent.
    pub severity: Option<Severity>,
    /// The assembly, in words.
    pub assembly: String,
    /// The item of it.
    pub item: String,
    /// What was seen.
    pub text: String,
    /// When the visit began that saw it.
    pub at: String,
}

/// The findings of all visits: read once, told for each spindle.
pub(crate) struct Seen {
    of_all: HashMap<Uuid, Vec<Finding>>,
    said_of: HashSet<Uuid>,
    gone: BTreeSet<Uuid>,
}

impl Seen {
    pub(crate) fn read(book: &Book) -> Result<Self, Error> {
        let mut gone = book.removed()?;
        gone.extend(book.strikes()?.counted.into_keys());
        Ok(Self {
            of_all: book.findings_of_all()?,
            said_of: said_of(book)?,
            gone,
        })
    }

    /// What is open after these visits.
    pub(crate) fn open(&self, book: &Book, history: &History) -> Result<Vec<OpenFinding>, Error> {
        let visits = newest::counted(history).into_iter();
        let visits = visits.filter(|visit| !self.gone.contains(&visit.id));
        let days: HashMap<Uuid, &str> = visits
            .clone()
            .map(|visit| (visit.id, visit.header.started_at.as_str()))
            .collect();
        let seen = |visit| Ok(self.of_all.get(&visit).cloned().unwrap_or_default());
        let visits = visits.map(|visit| visit.id);
        let open = open_after(book, visits, seen, &self.said_of, |finding| {
            self.gone.contains(&finding)
        })?;
        let mut open: Vec<OpenFinding> = open
            .into_iter()
            .map(|finding| OpenFinding {
                at: days[&finding.visit].to_owned(),
                severity: finding.severity,
                assembly: finding.assembly,
                item: finding.item,
                text: finding.text,
            })
            .collect();
        // One that somebody left without an urgency is not taken for urgent.
        open.sort_by_key(|finding| finding.severity.unwrap_or(Severity::Note));
        Ok(open)
    }
}
