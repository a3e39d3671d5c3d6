//! What happened to a spindle or a gauge beside the visits: a repair, new disc springs, a crash.
//!
//! In: an event with its own day. Out: the events of an entity, by that day.

use crate::book::{Book, Result, Stamp, id, read_id};
use crate::json::Json;
use crate::revision::Kind;
use crate::schema::EVENT;
use uuid::Uuid;

/// Something that happened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// This row.
    pub id: Uuid,
    /// The spindle or gauge.
    pub entity: Uuid,
    /// `springs-changed`, `gripper-changed`, `spindle-changed`, `drawbar-adjusted`, `cleaned`, `greased`, `knob-changed`,
    /// `gauge-changed`, `control-replaced`, `other`; another word is shown as it is.
    pub kind: String,
    /// When, as far as known: `2026`, `2026-03`, `2026-03-04` or a time with offset.
    pub happened: String,
    /// In words.
    pub text: String,
    /// Anything else: part numbers, hours …
    pub content: Json,
    /// Who entered it, and when.
    pub stamp: Stamp,
}

impl Book {
    /// Keeps an event.
    pub fn keep_event(&mut self, event: &Event) -> Result<()> {
        let [author, at] = self.stamp(&event.stamp)?;
        if event.kind.trim().is_empty() {
            return Err(self.refused("kind", "nothing", "what happened, in a word such as repair"));
        }
        if !is_day(&event.happened) {
            let expected = "a year, a month or a day, like 2026, 2026-03 or 2026-03-04";
            self.time("happened", &event.happened)
                .map_err(|_| self.refused("happened", &event.happened, expected))?;
        }
        let values = vec![
            id(event.id),
            id(event.entity),
            event.kind.clone().into(),
            event.happened.clone().into(),
            event.text.clone().into(),
            (&event.content).into(),
            author,
            at,
        ];
        self.together(|book| {
            let sql =
                "SELECT EXISTS (SELECT 1 FROM revision WHERE entity = ?1 AND kind <> 'visit')";
            let known: bool = book.run(|db| {
                db.prepare_cached(sql)?
                    .query_row([event.entity.to_string()], |row| row.get(0))
            })?;
            match known {
                true => book.put(&EVENT, values).map(|_| ()),
                false => Err(book.unknown("spindle or gauge", event.entity)),
            }
        })
    }

    /// The events of a spindle or gauge, all its entries together, by the day they happened; withdrawn ones included.
    pub fn events_of(&self, entity: Uuid) -> Result<Vec<Event>> {
        let mut same = self.same(Kind::Spindle, entity)?;
        same.extend(self.same(Kind::Gauge, entity)?);
        let mut events = self.events()?;
        events.retain(|event| same.contains(&event.entity));
        Ok(events)
    }

    /// Every event there is, by the day it happened; withdrawn ones included.
    pub fn events(&self) -> Result<Vec<Event>> {
        if !self.has(&EVENT)? {
            return Ok(Vec::new());
        }
        let sql = "SELECT * FROM event ORDER BY happened, julianday(at), id";
        self.rows(sql, [], |row| {
            Ok(Event {
                id: read_id(row, "id")?,
                entity: read_id(row, "entity")?,
                kind: row.get("kind")?,
                happened: row.get("happened")?,
                text: row.get("text")?,
                content: row.get("content")?,
                stamp: Stamp::from_row(row)?,
            })
        })
    }
}

/// A year, a month of it, or a day of that.
fn is_day(text: &str) -> bool {
    let parts: Vec<&str> = text.split('-').collect();
    let rules = [(4, 9999), (2, 12), (2, 31)];
    let fits = |(part, (digits, most)): (&&str, (usize, u32))| {
        part.len() == digits
            && part.bytes().all(|byte| byte.is_ascii_digit())
            && part
                .parse()
                .is_ok_and(|number: u32| (1..=most).contains(&number))
    };
    parts.len() <= rules.len() && parts.iter().zip(rules).all(fits)
}

#[cfg(test)]
mod tests {
    use super::is_day;

    #[test]
    fn a_day_may_be_known_to_the_year() {
        for good in ["2026", "2026-03", "2026-03-04"] {
            assert!(is_day(good), "{good}");
        }
        for bad in [
            "",
            "26",
            "2026-13",
            "2026-3",
            "2026-03-32",
            "2026-03-04-05",
            "spring 2026",
        ] {
            assert!(!is_day(bad), "{bad}");
        }
    }
}
