//! A check beside the last one of its spindle. In: a check of the book. Out: each figure both have, with its change.
//!
//! Nothing of it is stored. As found is held to how the spindle was left: the last set as left where it was repaired, else the
//! last set as found. As left is held to as found of the same visit.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::visits::events;
use crate::visits::history;
use crate::visits::history::{History, PastEvent};
use crate::visits::known_day;
use crate::visits::stored_figure::{CheckFigures, Measured, StoredFigure, is_calibration};
use holdtrue_book::{Book, CheckKind, PastCheck, PastVisit, VisitHeader};
use holdtrue_metrology::change::{Seen, change};
use holdtrue_metrology::runout::same_height;
use holdtrue_terms::vocabulary::{Purpose, State};
use holdtrue_wording::change::{Compared, compared, from_to};
use holdtrue_wording::digits::{Units, height};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use uuid::Uuid;

type Visit = PastVisit<CheckFigures>;
type Check = PastCheck<CheckFigures>;

/// A figure of a check beside the one it is held to.
#[derive(Clone, Debug)]
pub struct Since {
    /// Both figures and the change.
    pub compared: Compared,
    /// The visit of the earlier one.
    pub visit: Uuid,
    /// As it stands in the book.
    pub started_at: String,
    /// As found, as left, or not said.
    pub state: Option<State>,
}

/// A visit among the others to its spindle, read once for all that is asked of it.
#[derive(Clone, Debug)]
pub struct AmongVisits {
    history: History,
    /// Of the visit in the history; none for one that was taken out of sight.
    place: Option<usize>,
    /// What was removed or struck out.
    gone: BTreeSet<Uuid>,
}

impl AmongVisits {
    /// None while the spindle is not named.
    ///
    /// # Errors
    /// The book cannot be read: exit 6.
    pub fn read(book: &Book, visit: Uuid) -> Result<Option<Self>, Error> {
        let Some(spindle) = book.get::<VisitHeader>(visit)?.header().spindle else {
            return Ok(None);
        };
        let history = history::of(book, spindle)?;
        let mut gone = book.removed()?;
        gone.extend(book.strikes()?.into_keys());
        Ok(Some(Self {
            place: history.visits.iter().position(|each| each.id == visit),
            history,
            gone,
        }))
    }

    fn now(&self) -> Option<&Visit> {
        self.place.map(|place| &self.history.visits[place])
    }

    /// The visits before it that count, in order of time.
    pub(crate) fn earlier(&self) -> impl DoubleEndedIterator<Item = &Visit> {
        let before = &self.history.visits[..self.place.unwrap_or(0)];
        before.iter().filter(|visit| !self.is_gone(visit.id))
    }

    /// Whether a row or an entity was removed or struck out.
    pub(crate) fn is_gone(&self, id: Uuid) -> bool {
        self.gone.contains(&id)
    }

    /// How a visit left the spindle.
    pub(crate) fn left<'a>(&self, visit: &'a Visit, kind: CheckKind) -> Option<&'a Check> {
        left(visit, kind, is_repaired(&self.history, visit))
    }

    /// The figures of a check beside the last ones; none for the first check of a spindle, and for one struck out.
    pub fn of_check(&self, check: Uuid) -> Vec<Since> {
        let Some(now) = self.now() else {
            return Vec::new();
        };
        let here = now.checks.iter().find(|each| each.id == check);
        let Some((here, figures)) = here.and_then(|here| Some((here, counted(here, here.kind)?)))
        else {
            return Vec::new();
        };
        if here.state == Some(State::AsLeft) {
            let found = sets(now, here.kind).filter(|set| set.state != Some(State::AsLeft));
            if let Some(found) = found.last() {
                let happened = breaks(&self.history, |event| overlaps(event, now));
                return beside(here, figures, found, now, &happened);
            }
        }
        let each = self.earlier().rev().filter_map(|then| {
            let set = self.left(then, here.kind)?;
            let after_repair = set.state == Some(State::AsLeft);
            let happened = breaks(&self.history, |event| {
                lies_after(event, then, after_repair) && lies_before(event, now)
            });
            Some(beside(here, figures, set, then, &happened))
        });
        let mut with_figures = each.filter(|since| !since.is_empty());
        with_figures.next().unwrap_or_default()
    }

    /// A visit with a repair in one line: as found, as left, and what was done.
    pub fn headline(&self, units: &Units) -> Option<String> {
        let now = self.now()?;
        let of = |state: State| {
            sets(now, CheckKind::Grip)
                .filter(move |set| set.state == Some(state))
                .last()
        };
        let (found, left) = (of(State::AsFound)?, of(State::AsLeft)?);
        if !is_repaired(&self.history, now) {
            return None;
        }
        let happened = breaks(&self.history, |event| overlaps(event, now));
        let figures = counted(left, CheckKind::Grip)?;
        let since = beside(left, figures, found, now, &happened);
        let since = since.into_iter().next()?;
        let done = match happened.as_slice() {
            [] => "repaired".to_owned(),
            some => some.join(", "),
        };
        Some(format!("{}, {done}", from_to(units, &since.compared)))
    }
}

/// The figures of the set of a visit that ended last beside the ones before.
fn of_last_set(book: &Book, visit: Uuid, kind: CheckKind) -> Result<Vec<Since>, Error> {
    let mut starts = book.check_starts(visit)?;
    starts.retain(|start| start.kind == kind);
    for start in starts.iter().rev() {
        if !book.results(start.id)?.is_empty() {
            let among = AmongVisits::read(book, visit)?;
            return Ok(among.map_or_else(Vec::new, |among| among.of_check(start.id)));
        }
    }
    Ok(Vec::new())
}

/// The result of a set that was just filed, with the change since the last one in words and in its document. A result is not
/// lost over a past that cannot be read: that is said.
pub fn tell(
    mut finished: Finished,
    book: &Book,
    visit: Uuid,
    kind: CheckKind,
    app: &mut App,
) -> Finished {
    // A set that was cut short has no result of its own; the last one is another.
    if finished.error.is_some() {
        return finished;
    }
    let units = app.settings.units();
    match of_last_set(book, visit, kind) {
        Ok(since) if since.is_empty() => {}
        Ok(since) => {
            if finished.document.is_object() {
                finished.document["since_last"] = document(&since, &units);
            }
            for line in lines(&since, &units) {
                finished.text.push('\n');
                finished.text.push_str(&line);
            }
        }
        Err(error) => app
            .console
            .message(&format!("The last visit could not be read: {error}")),
    }
    finished
}

/// Each line as a person reads it.
pub fn lines(since: &[Since], units: &Units) -> Vec<String> {
    let line = |since: &Since| {
        let compared_words = compared(units, &since.compared);
        format!("{}: {compared_words}", since.compared.figure)
    };
    since.iter().map(line).collect()
}

/// The same in a document.
pub fn document(since: &[Since], units: &Units) -> Value {
    let row = |since: &Since| {
        let Compared {
            unit,
            then,
            now,
            change,
            ..
        } = &since.compared;
        let seen = change.as_ref().map(|change| match change.seen {
            Seen::Greater => "greater",
            Seen::Less => "less",
            Seen::None => "none",
        });
        json!({
            "figure": plain(&since.compared.figure),
            "unit": unit,
            "value": now,
            "then": then,
            "difference": now - then,
            "expanded": change.as_ref().map(|change| change.expanded),
            "seen": seen,
            "since": since.started_at,
            "state": since.state.map(State::word),
            "visit": since.visit,
            "text": compared(units, &since.compared),
        })
    };
    since.iter().map(row).collect()
}

/// With blanks that part, as programs read it.
pub(crate) fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

/// The figures of a set that counts: it has ended, and nobody struck it out.
fn counted(check: &Check, kind: CheckKind) -> Option<&CheckFigures> {
    let counts = check.kind == kind && check.struck.is_none();
    check
        .result
        .as_ref()
        .filter(|_| counts)
        .map(|result| &result.read)
}

fn sets(visit: &Visit, kind: CheckKind) -> impl Iterator<Item = &Check> {
    visit
        .checks
        .iter()
        .filter(move |check| counted(check, kind).is_some())
}

/// How a visit left the spindle: as left where it was repaired, else as found; as left where there is nothing else.
fn left(visit: &Visit, kind: CheckKind, repaired: bool) -> Option<&Check> {
    let as_left = sets(visit, kind)
        .filter(|set| set.state == Some(State::AsLeft))
        .last();
    let found = sets(visit, kind)
        .filter(|set| set.state != Some(State::AsLeft))
        .last();
    match repaired {
        true => as_left.or(found),
        false => found.or(as_left),
    }
}

/// Whether the spindle was repaired at a visit.
fn is_repaired(history: &History, visit: &Visit) -> bool {
    let purpose = visit.header.purpose.as_deref();
    purpose == Some(Purpose::AfterRepair.word())
        || history
            .events
            .iter()
            .any(|event| event.breaks && overlaps(event, visit))
}

fn breaks(history: &History, lies: impl Fn(&PastEvent) -> bool) -> Vec<String> {
    let events = history
        .events
        .iter()
        .filter(|event| event.breaks && lies(event));
    let mut words: Vec<String> = events
        .map(|event| match events::what(&event.event) {
            Some(what) => what.words().to_owned(),
            None => event.event.kind.clone(),
        })
        .collect();
    words.dedup();
    words
}

fn overlaps(event: &PastEvent, visit: &Visit) -> bool {
    let days = history::when(&visit.header.started_at).zip(event.when);
    days.is_some_and(|([from, to], [first, last])| first <= to && last >= from)
}

/// Whether an event may lie after a set: one of the same day came before it only where the set is as left.
fn lies_after(event: &PastEvent, then: &Visit, after_repair: bool) -> bool {
    let days = history::when(&then.header.started_at).zip(event.when);
    let later = days.is_some_and(|([from, _], [_, last])| last > from);
    later && !(after_repair && overlaps(event, then))
}

/// Whether an event lies before a set: what is measured after one of the same day is as left.
fn lies_before(event: &PastEvent, now: &Visit) -> bool {
    let days = history::when(&now.header.started_at).zip(event.when);
    days.is_some_and(|([from, _], [first, _])| first <= from) && !overlaps(event, now)
}

fn beside(
    now: &Check,
    figures: &CheckFigures,
    then: &Check,
    visit: &Visit,
    between: &[String],
) -> Vec<Since> {
    let Some(earlier) = counted(then, now.kind) else {
        return Vec::new();
    };
    let one_calibration = now.calibration.is_some() && now.calibration == then.calibration;
    let day = known_day::words(&visit.header.started_at);
    let mut said: Vec<String> = then
        .state
        .iter()
        .map(|state| state.words().to_owned())
        .collect();
    if visit.header.entered_from.is_some() {
        said.push("from paper".to_owned());
    }
    let since = match said.as_slice() {
        [] => day,
        some => format!("{day} ({})", some.join(", ")),
    };
    let pairs = pairs(figures, earlier).into_iter();
    pairs
        .map(|(figure, unit, now, then_measured)| Since {
            compared: Compared {
                figure,
                unit,
                then: then_measured.value,
                now: now.value,
                change: (now.complete && then_measured.complete).then(|| {
                    change(
                        (now.value, &now.budget),
                        (then_measured.value, &then_measured.budget),
                        |line| one_calibration && is_calibration(&line.source),
                    )
                }),
                since: since.clone(),
                between: between.to_vec(),
            },
            visit: visit.id,
            started_at: visit.header.started_at.clone(),
            state: then.state,
        })
        .collect()
}

/// Figures that both checks have: the mean grip force, and the TIR of the bar at heights that are the same.
fn pairs<'f>(
    now: &'f CheckFigures,
    then: &'f CheckFigures,
) -> Vec<(String, &'static str, &'f Measured, &'f Measured)> {
    let mean = now
        .get(StoredFigure::GripMean)
        .zip(then.get(StoredFigure::GripMean));
    let grip = mean.map(|(now, then)| ("mean grip force".to_owned(), "N", now, then));
    let heights = |figures: &'f CheckFigures| {
        let both = [StoredFigure::Nose, StoredFigure::Bar].into_iter();
        both.filter_map(|figure| figures.get(figure))
            .collect::<Vec<_>>()
    };
    let earlier = heights(then);
    let runout = heights(now).into_iter().filter_map(|now| {
        let same = |then: &&&Measured| same_height(now.height_mm, then.height_mm);
        let then = *earlier.iter().find(same)?;
        let at = now
            .height_mm
            .map_or_else(String::new, |mm| format!(", {}", height(mm)));
        Some((format!("TIR of the bar{at}"), "um", now, then))
    });
    grip.into_iter().chain(runout).collect()
}
