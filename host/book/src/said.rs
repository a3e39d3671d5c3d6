//! What people say in a visit: cautions acknowledged, findings, notes, and amendments after its end.
//!
//! In: single rows. Out: the same rows in order of time.

use crate::book::{Book, Result, Stamp, id, maybe_id, read_id, read_maybe_id};
use crate::json::Json;
use crate::schema::{ACKNOWLEDGEMENT, AMENDMENT, FINDING, NOTE};
use crate::words::{maybe_word, read_maybe_word, words};
use holdtrue_terms::vocabulary::Severity;
use rusqlite::Row;
use rusqlite::types::Value;
use std::collections::HashMap;
use uuid::Uuid;

words! {
    /// How a caution came to be acknowledged.
    How is "way a caution was acknowledged" {
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
    FindingKind is "kind of finding" {
        /// Something was found.
        Found = "found",
        /// Looked at, nothing found.
        InOrder = "in_order",
        /// Not looked at; the text says why.
        NotExamined = "not_examined",
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

impl Finding {
    fn from_row(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: read_id(row, "id")?,
            visit: read_id(row, "visit")?,
            kind: row.get("kind")?,
            severity: read_maybe_word(row, "severity")?,
            assembly: row.get("assembly")?,
            item: row.get("item")?,
            text: row.get("text")?,
            content: row.get("content")?,
            stamp: Stamp::from_row(row)?,
        })
    }
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
        let severity = maybe_word(row.severity);
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
        self.rows(sql, [visit.to_string()], Finding::from_row)
    }

    /// The findings of all visits, of each in order of time, withdrawn ones included: one walk for whoever asks for many.
    pub fn findings_of_all(&self) -> Result<HashMap<Uuid, Vec<Finding>>> {
        let sql = "SELECT * FROM finding ORDER BY julianday(at), id";
        let mut of_all: HashMap<Uuid, Vec<Finding>> = HashMap::new();
        for finding in self.rows(sql, [], Finding::from_row)? {
            of_all.entry(finding.visit).or_default().push(finding);
        }
        Ok(of_all)
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
}
