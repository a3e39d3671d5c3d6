//! Headers that change without anything being overwritten: revisions, aliases, tombstones.
//!
//! In: a new revision naming the ones it replaces. Out: for each entity its heads. One head is current; two
//! are a conflict that is shown, and resolved by a revision with both as parents.

use crate::book::{Book, Result, Stamp, id, parse_id, read_id, unreadable};
use crate::covers::Covers;
use crate::header::Header;
use crate::schema::{ALIAS, REVISION, TOMBSTONE};
use crate::words::words;
use rusqlite::Row;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

words! {
    /// What a header describes.
    Kind is "kind of entry" {
        /// A spindle and its machine.
        Spindle = "spindle",
        /// A force gauge, an indicator or a test bar.
        Gauge = "gauge",
        /// A visit.
        Visit = "visit",
    }
}

/// One state of a header.
#[derive(Clone, Debug, PartialEq)]
pub struct Revision<H> {
    /// This revision.
    pub id: Uuid,
    /// What it describes, the same through all its revisions.
    pub entity: Uuid,
    /// The revisions it replaces: none for the first.
    pub parents: Vec<Uuid>,
    /// What is said.
    pub header: H,
    /// Who and when.
    pub stamp: Stamp,
}

/// An entity as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Entity<H> {
    /// Its identifier.
    pub id: Uuid,
    /// One head, or several that contradict each other, the latest by time first. Never empty.
    pub heads: Vec<Revision<H>>,
    /// A tombstone lies on it.
    pub removed: bool,
}

impl<H> Entity<H> {
    /// The header to show: the only head, or with a conflict the latest of them.
    pub fn header(&self) -> &H {
        &self.heads[0].header
    }

    /// Two or more revisions claim to be current. Show them all; a revision with all as parents settles it.
    pub fn conflict(&self) -> bool {
        self.heads.len() > 1
    }

    /// The parents of a revision that settles or replaces what stands now.
    pub fn parents(&self) -> Vec<Uuid> {
        self.heads.iter().map(|head| head.id).collect()
    }
}

/// "The same thing under two entries."
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alias {
    /// This row.
    pub id: Uuid,
    /// Spindle or gauge.
    pub kind: Kind,
    /// One entry.
    pub entity: Uuid,
    /// The other.
    pub same_as: Uuid,
    /// Who and when.
    pub stamp: Stamp,
}

/// Takes an entity, a finding, a note, an alias … out of sight. Nothing is erased.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tombstone {
    /// This row.
    pub id: Uuid,
    /// What it lies on.
    pub target: Uuid,
    /// Why.
    pub reason: String,
    /// Who and when.
    pub stamp: Stamp,
}

impl Book {
    /// Adds a revision. Its parents must be revisions of the same entity; only the first has none.
    /// Naming all heads as parents is an edit, naming an older one makes a second head.
    pub fn revise<H: Header>(&mut self, revision: &Revision<H>) -> Result<()> {
        let [author, at] = self.stamp(&revision.stamp)?;
        let parents: BTreeSet<String> = revision.parents.iter().map(Uuid::to_string).collect();
        let parents = serde_json::to_string(&parents).expect("a set of strings is always JSON");
        let content = self.json("content", &revision.header)?;
        self.together(|book| {
            book.check_parents(H::KIND, revision.id, revision.entity, &revision.parents)?;
            if H::KIND == Kind::Visit && !revision.parents.is_empty() {
                book.refuse_finished(revision.entity)?;
            }
            let kind = H::KIND.into();
            let row = vec![
                id(revision.id),
                kind,
                id(revision.entity),
                parents.into(),
                content.into(),
                author,
                at,
            ];
            book.put(&REVISION, row).map(|_| ())
        })
    }

    fn check_parents(&self, kind: Kind, this: Uuid, entity: Uuid, parents: &[Uuid]) -> Result<()> {
        let known = self.links(kind)?.remove(&entity).unwrap_or_default();
        if let Some(stranger) = parents.iter().find(|parent| !known.contains_key(parent)) {
            return Err(self.unknown("revision of this entity", stranger));
        }
        let first = known.keys().all(|revision| *revision == this);
        if parents.is_empty() && !first {
            return Err(self.refused("parents", "none", "the revisions this one replaces"));
        }
        Ok(())
    }

    /// Every entity of a kind, in order of the time of its first revision; removed ones are marked.
    pub fn list<H: Header>(&self) -> Result<Vec<Entity<H>>> {
        let removed = self.removed()?;
        let mut entities: Vec<Entity<H>> = Vec::new();
        for (entity, revisions) in self.revisions::<H>(None)? {
            entities.push(self.stand(entity, revisions, removed.contains(&entity))?);
        }
        let order = self.first_seen(H::KIND)?;
        entities.sort_by_key(|entity| order.get(&entity.id).copied());
        Ok(entities)
    }

    /// One entity.
    pub fn get<H: Header>(&self, entity: Uuid) -> Result<Entity<H>> {
        let mut found = self.revisions::<H>(Some(entity))?;
        let revisions = found
            .remove(&entity)
            .ok_or_else(|| self.unknown(H::KIND.word(), entity))?;
        self.stand(entity, revisions, self.removed()?.contains(&entity))
    }

    /// Every revision of one entity, oldest first.
    pub fn history<H: Header>(&self, entity: Uuid) -> Result<Vec<Revision<H>>> {
        let mut found = self.revisions::<H>(Some(entity))?;
        found
            .remove(&entity)
            .ok_or_else(|| self.unknown(H::KIND.word(), entity))
    }

    /// Says that two entries are one thing.
    pub fn alias(&mut self, alias: &Alias) -> Result<()> {
        let [author, at] = self.stamp(&alias.stamp)?;
        let row = vec![
            id(alias.id),
            alias.kind.into(),
            id(alias.entity),
            id(alias.same_as),
            author,
            at,
        ];
        self.put(&ALIAS, row).map(|_| ())
    }

    /// Takes something out of sight.
    pub fn bury(&mut self, tombstone: &Tombstone) -> Result<()> {
        let [author, at] = self.stamp(&tombstone.stamp)?;
        let row = vec![
            id(tombstone.id),
            id(tombstone.target),
            tombstone.reason.clone().into(),
            author,
            at,
        ];
        self.put(&TOMBSTONE, row).map(|_| ())
    }

    /// All entries that are the same thing as this one, itself included.
    pub fn same(&self, kind: Kind, entity: Uuid) -> Result<BTreeSet<Uuid>> {
        let sql = "SELECT id, entity, same_as FROM alias WHERE kind = ?1";
        let read = |row: &Row| {
            Ok((
                read_id(row, "id")?,
                read_id(row, "entity")?,
                read_id(row, "same_as")?,
            ))
        };
        let removed = self.removed()?;
        let mut pairs = self.rows(sql, [kind.word()], read)?;
        pairs.retain(|(alias, ..)| !removed.contains(alias));
        let mut same = BTreeSet::from([entity]);
        loop {
            let before = same.len();
            for (_, left, right) in &pairs {
                if same.contains(left) || same.contains(right) {
                    same.extend([*left, *right]);
                }
            }
            if same.len() == before {
                return Ok(same);
            }
        }
    }

    /// Everything a tombstone lies on. A tombstone can itself be buried: that brings its target back.
    pub fn removed(&self) -> Result<BTreeSet<Uuid>> {
        self.removed_then(None)
    }

    /// The same, of the tombstones among these rows only.
    pub(crate) fn removed_then(&self, covers: Option<&Covers>) -> Result<BTreeSet<Uuid>> {
        let read = |row: &Row| Ok((read_id(row, "id")?, read_id(row, "target")?));
        let mut tombstones = self.rows("SELECT id, target FROM tombstone", [], read)?;
        if let Some(covers) = covers {
            tombstones.retain(|(id, _)| covers.has(TOMBSTONE.name, id));
        }
        let buried: BTreeSet<Uuid> = tombstones.iter().map(|(_, target)| *target).collect();
        tombstones.retain(|(id, _)| !buried.contains(id));
        Ok(tombstones.into_iter().map(|(_, target)| target).collect())
    }

    /// The revisions nobody names as a parent are the heads; the latest by time comes first.
    fn stand<H>(&self, id: Uuid, revisions: Vec<Revision<H>>, removed: bool) -> Result<Entity<H>> {
        let replaced: BTreeSet<Uuid> = revisions
            .iter()
            .flat_map(|revision| revision.parents.clone())
            .collect();
        let heads: Vec<_> = revisions
            .into_iter()
            .rev()
            .filter(|each| !replaced.contains(&each.id))
            .collect();
        if heads.is_empty() {
            return Err(self.damaged(
                "revision",
                format!("the revisions of {id} replace each other in a circle"),
            ));
        }
        Ok(Entity { id, heads, removed })
    }

    /// Revisions by entity, oldest first by time.
    fn revisions<H: Header>(
        &self,
        entity: Option<Uuid>,
    ) -> Result<BTreeMap<Uuid, Vec<Revision<H>>>> {
        // Of one entity by its index: a book of ten thousand visits is asked for each of them.
        let (one, all) = (
            "SELECT * FROM revision WHERE kind = ?1 AND entity = ?2 ORDER BY julianday(at), id",
            "SELECT * FROM revision WHERE kind = ?1 ORDER BY julianday(at), id",
        );
        let kind = H::KIND.word();
        let read = match entity {
            Some(entity) => self.rows(one, (kind, entity.to_string()), read_revision::<H>)?,
            None => self.rows(all, (kind,), read_revision::<H>)?,
        };
        let mut entities: BTreeMap<Uuid, Vec<Revision<H>>> = BTreeMap::new();
        for revision in read {
            entities.entry(revision.entity).or_default().push(revision);
        }
        Ok(entities)
    }

    /// For each entity, each revision with its parents.
    pub(crate) fn links(&self, kind: Kind) -> Result<BTreeMap<Uuid, BTreeMap<Uuid, Vec<Uuid>>>> {
        let sql = "SELECT entity, id, parents FROM revision WHERE kind = ?1";
        let read = |row: &Row| {
            Ok((
                read_id(row, "entity")?,
                read_id(row, "id")?,
                read_parents(row)?,
            ))
        };
        let mut links: BTreeMap<Uuid, BTreeMap<Uuid, Vec<Uuid>>> = BTreeMap::new();
        for (entity, revision, parents) in self.rows(sql, [kind.word()], read)? {
            links.entry(entity).or_default().insert(revision, parents);
        }
        Ok(links)
    }

    /// The place of each entity in the order of first appearance.
    fn first_seen(&self, kind: Kind) -> Result<BTreeMap<Uuid, usize>> {
        let sql = "SELECT entity FROM revision WHERE kind = ?1
                   GROUP BY entity ORDER BY min(julianday(at)), entity";
        let order = self.rows(sql, [kind.word()], |row| read_id(row, "entity"))?;
        Ok(order
            .into_iter()
            .enumerate()
            .map(|(place, entity)| (entity, place))
            .collect())
    }
}

fn read_revision<H: Header>(row: &Row) -> rusqlite::Result<Revision<H>> {
    let content: String = row.get("content")?;
    Ok(Revision {
        id: read_id(row, "id")?,
        entity: read_id(row, "entity")?,
        parents: read_parents(row)?,
        header: serde_json::from_str(&content).map_err(unreadable)?,
        stamp: Stamp::from_row(row)?,
    })
}

fn read_parents(row: &Row) -> rusqlite::Result<Vec<Uuid>> {
    let text: String = row.get("parents")?;
    let parents: Vec<String> = serde_json::from_str(&text).map_err(unreadable)?;
    parents.iter().map(|parent| parse_id(parent)).collect()
}
