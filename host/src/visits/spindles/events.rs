//! What happened to a spindle beside its visits. In: an entry of the book. Out: its events that stand, by their day, and
//! whether one lies between two visits.

use crate::terminal::error::Error;
use crate::visits::known_day::KnownDay;
use crate::visits::spindles::history;
use holdtrue_book::{Book, Event, Kind, Strikes};
use holdtrue_terms::vocabulary::{Happened, Vocabulary};
use uuid::Uuid;

/// The member of an event's content that names the visit at which it was noticed: it happened before that.
pub const BEFORE_VISIT: &str = "before_visit";

/// The events of a spindle, all its entries together, by their day; those withdrawn or struck left out.
///
/// # Errors
/// When the book cannot be read.
pub fn of_spindle(book: &Book, spindle: Uuid) -> Result<Vec<Event>, Error> {
    let entries = book.same(Kind::Spindle, spindle)?;
    let all = history::events(book)?.into_iter().map(|past| past.event);
    Ok(all
        .filter(|event| entries.contains(&event.entity))
        .collect())
}

/// The events of a spindle that were struck out, each with the reason: they count nowhere and stay in sight.
///
/// # Errors
/// When the book cannot be read.
pub fn struck_of_spindle(
    book: &Book,
    spindle: Uuid,
    strikes: &Strikes,
) -> Result<Vec<(Event, String)>, Error> {
    let entries = book.same(Kind::Spindle, spindle)?;
    let all = book.events()?.into_iter();
    let of_it = all.filter(|event| entries.contains(&event.entity));
    Ok(of_it
        .filter_map(|event| {
            let reason = strikes.counted.get(&event.id)?.reason.clone();
            Some((event, reason))
        })
        .collect())
}

/// What happened, where it is one of our words.
pub fn what(event: &Event) -> Option<Happened> {
    Happened::from_word(&event.kind).ok()
}

/// The visit at which it was noticed, where it was noticed so.
pub fn noticed_at(event: &Event) -> Option<Uuid> {
    let content: serde_json::Value = event.content.read().ok()?;
    content.get(BEFORE_VISIT)?.as_str()?.parse().ok()
}

/// A visit as events lie before or after it.
#[derive(Clone, Debug)]
pub struct VisitDay {
    /// The visit.
    pub visit: Uuid,
    /// When it was.
    pub day: KnownDay,
}

/// Whether an event may lie between two visits, the earlier one first. One noticed at a visit lies right before that; of
/// others the day decides, and one of the day of a visit lies before it.
pub fn lies_between(event: &Event, earlier: &VisitDay, later: &VisitDay, all: &[VisitDay]) -> bool {
    if let Some(noticed) = noticed_at(event)
        && let Some(at) = all.iter().find(|each| each.visit == noticed)
    {
        let after_earlier =
            at.visit != earlier.visit && at.day.moments[0] >= earlier.day.moments[0];
        return at.visit == later.visit
            || after_earlier && at.day.moments[0] <= later.day.moments[0];
    }
    KnownDay::of(&event.happened)
        .is_some_and(|day| day.last > earlier.day.first && day.first <= later.day.last)
}

/// One event as a person reads it.
pub fn line(event: &Event) -> String {
    let what = what(event).map_or_else(|| event.kind.clone(), |what| what.words().to_owned());
    let text = match event.text.as_str() {
        "" => String::new(),
        text => format!(": {text}"),
    };
    format!("{what}{text}")
}
