//! The past of a spindle, derived from the book each time it is asked for. In: the book and which spindle. Out: its visits
//! in order of time with the figures of their checks, and what happened to it between them.

use crate::visits::checks::stored_figure::CheckFigures;
use crate::visits::known_day::{KnownDay, days};
use crate::visits::spindles::events::noticed_at;
use holdtrue_book::{Book, CheckKind, Entity, Event, Kind, PastVisit, SpindleHeader, Whose};
use holdtrue_terms::vocabulary::{Happened, Purpose, Vocabulary};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// The past of one spindle.
#[derive(Clone, Debug)]
pub struct History<T = CheckFigures> {
    /// Its entries: one, or those an alias joins.
    pub entries: BTreeSet<Uuid>,
    /// Its visits in order of time, those of one moment in order of their entry.
    pub visits: Vec<PastVisit<T>>,
    /// What happened to it, in order of time; struck and withdrawn events are left out.
    pub events: Vec<PastEvent>,
}

/// Something that happened to a spindle.
#[derive(Clone, Debug)]
pub struct PastEvent {
    /// As it was entered.
    pub event: Event,
    /// The spindle is another one for its figures from here on: they begin a new series.
    pub breaks: bool,
    /// Counters of the control begin anew.
    pub counters_anew: bool,
    /// When it may have happened, days from 1970-01-01: from and to; none where that cannot be read.
    pub when: Option<[f64; 2]>,
}

/// A visit in two: what it found, then how it left the spindle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Stage {
    /// Place of the visit in the history.
    pub visit: usize,
    /// How it left the spindle.
    pub left: bool,
}

/// The first stage of these visits that an event lies before; behind all of them where nobody knows when it was. One noticed
/// at a visit lies before it. One of the day of a visit lies after what was found, which is what was there before any work;
/// but before a visit that was made after a repair.
pub fn first_after<T>(history: &History<T>, event: &PastEvent) -> Stage {
    let visits = &history.visits;
    let before = |visit| Stage { visit, left: false };
    if let Some(noticed) = noticed_at(&event.event)
        && let Some(place) = visits.iter().position(|visit| visit.id == noticed)
    {
        return before(place);
    }
    let Some(happened) = KnownDay::of(&event.event.happened) else {
        return before(visits.len());
    };
    let exact = |day: &KnownDay| day.moments[0] == day.moments[1];
    for (place, visit) in visits.iter().enumerate() {
        let Some(began) = KnownDay::of(&visit.header.started_at) else {
            continue;
        };
        if exact(&happened) && exact(&began) {
            if happened.moments[0] <= began.moments[0] {
                return before(place);
            }
            continue;
        }
        if happened.last < began.first {
            return before(place);
        }
        if happened.first <= began.last {
            let repaired = visit.header.purpose.as_deref() == Some(Purpose::AfterRepair.word());
            return Stage {
                visit: place,
                left: !repaired,
            };
        }
    }
    before(visits.len())
}

/// The past of a spindle, under all its entries.
///
/// # Errors
/// The book cannot be read.
pub fn of(book: &Book, spindle: Uuid) -> holdtrue_book::Result<History> {
    let entries = book.same(Kind::Spindle, spindle)?;
    let past = book.past(
        Whose::Of(&entries),
        &[CheckKind::Grip, CheckKind::Runout],
        CheckFigures::read,
    )?;
    let mut visits = past.visits;
    followed(&mut visits);
    let events = events(book)?
        .into_iter()
        .filter(|event| entries.contains(&event.event.entity));
    Ok(History {
        visits,
        events: events.collect(),
        entries,
    })
}

/// The past of every spindle.
pub struct Pasts<T> {
    /// By the first of the spindle's entries.
    pub by_first: BTreeMap<Uuid, History<T>>,
    /// How many visits say of no spindle that it is theirs.
    pub visits_of_none: usize,
}

/// The past of each of these spindles, by the first of its entries; `read` takes out of each result document of these checks what
/// is wanted.
///
/// # Errors
/// The book cannot be read.
pub fn of_everyone<T: Default + Send>(
    book: &Book,
    spindles: &[Entity<SpindleHeader>],
    documents: &[CheckKind],
    read: impl Fn(CheckKind, &str) -> T + Sync,
) -> holdtrue_book::Result<Pasts<T>> {
    let joined = book.joined(Kind::Spindle)?;
    let first = |entry: Uuid| joined.get(&entry).copied().unwrap_or(entry);
    let mut all: BTreeMap<Uuid, History<T>> = BTreeMap::new();
    for spindle in spindles {
        let history = all.entry(first(spindle.id)).or_insert_with(|| History {
            entries: BTreeSet::new(),
            visits: Vec::new(),
            events: Vec::new(),
        });
        history.entries.insert(spindle.id);
    }
    let past = book.past(Whose::Everyone, documents, read)?;
    for visit in past.visits {
        if let Some(history) = all.get_mut(&first(visit.spindle)) {
            history.visits.push(visit);
        }
    }
    for event in events(book)? {
        if let Some(history) = all.get_mut(&first(event.event.entity)) {
            history.events.push(event);
        }
    }
    for history in all.values_mut() {
        followed(&mut history.visits);
    }
    Ok(Pasts {
        by_first: all,
        visits_of_none: past.of_none,
    })
}

/// Visits come in order of their entry; a stable sort keeps it where they began at one moment. Of those that hold the same rows
/// of a notebook the first is followed.
fn followed<T>(visits: &mut Vec<PastVisit<T>>) {
    let mut timed: Vec<(f64, PastVisit<T>)> = visits
        .drain(..)
        .map(|visit| (began(&visit), visit))
        .collect();
    timed.sort_by(|one, other| one.0.total_cmp(&other.0));
    // Rows of one notebook, entered into two copies that were merged: `book check` says which visits.
    let mut rows = BTreeSet::new();
    let is_first = |visit: &PastVisit<T>| match &visit.header.rows_sha256 {
        Some(sha256) if visit.struck.is_none() => rows.insert(sha256.clone()),
        _ => true,
    };
    visits.extend(timed.into_iter().map(|(_, visit)| visit).filter(is_first));
}

/// When a visit began, days from 1970-01-01. One whose start cannot be read began when it was entered.
pub fn began<T>(visit: &PastVisit<T>) -> f64 {
    let start = when(&visit.header.started_at).or_else(|| when(&visit.entered.at));
    start.map_or(f64::NEG_INFINITY, |[from, _]| from)
}

/// The first and the last moment a time may mean, days from 1970-01-01: `2019`, `2019-05`, `2019-05-12`, or a time with offset.
pub fn when(written: &str) -> Option<[f64; 2]> {
    let day = KnownDay::of(written)?;
    let [from, to] = day.moments;
    Some(match from == to {
        true => [day.place_days(); 2],
        false => [days(day.first), days(day.last) + 1.0],
    })
}

/// A day from 1970-01-01 as a date; beyond the years 1 to 9999 the nearest of them.
pub fn date_of(days: f64) -> String {
    const FIRST: f64 = -719_162.0;
    const LAST: f64 = 2_932_896.0;
    #[expect(
        clippy::cast_possible_truncation,
        reason = "within the years 1 to 9999"
    )]
    let whole = days.clamp(FIRST, LAST) as i64;
    let date = jiff::civil::date(1970, 1, 1).checked_add(jiff::Span::new().days(whole));
    date.map_or_else(|_| String::new(), |date| date.to_string())
}

/// What happened to spindles, in order of time; struck and withdrawn events are left out.
pub(crate) fn events(book: &Book) -> holdtrue_book::Result<Vec<PastEvent>> {
    let removed = book.removed()?;
    let struck = book.strikes()?.counted;
    let mut events: Vec<PastEvent> = book
        .events()?
        .into_iter()
        .filter(|event| !removed.contains(&event.id) && !struck.contains_key(&event.id))
        .map(|event| PastEvent {
            breaks: breaks_series(&event.kind),
            counters_anew: event.kind == Happened::ControlReplaced.word(),
            when: when(&event.happened),
            event,
        })
        .collect();
    events.sort_by(|one, other| {
        let from = |event: &PastEvent| event.when.map_or(f64::NEG_INFINITY, |[from, _]| from);
        from(one).total_cmp(&from(other))
    });
    Ok(events)
}

/// Whether figures of both sides are no longer one series. Other writers have words of their own for a repair.
pub(crate) fn breaks_series(kind: &str) -> bool {
    const OTHERS: [&str; 2] = ["repair", "disc-springs"];
    Happened::from_word(kind).is_ok_and(Happened::breaks_series) || OTHERS.contains(&kind)
}

#[cfg(test)]
mod tests {
    use super::when;

    #[test]
    fn a_start_is_a_moment_a_day_a_month_or_a_year() {
        assert_eq!(when("1970-01-02"), Some([1.0, 2.0]));
        assert_eq!(when("2020-02"), Some([18_293.0, 18_322.0]));
        assert_eq!(when("1970"), Some([0.0, 365.0]));
        assert_eq!(when("1970-01-01T12:00:00+06:00"), Some([0.25, 0.25]));
        for odd in ["", "yesterday", "2019-13", "2019-02-30", "12.05.2019"] {
            assert_eq!(when(odd), None, "{odd}");
        }
    }
}
