//! A check beside the last one of its spindle. In: a check of the book. Out: each figure both have, with its change.
//!
//! While a visit is open it is computed from the book as it stands. The end of the visit keeps it: whatever is struck out,
//! entered or said later, a finished visit says what its paper said.
//!
//! As found is held to how the spindle was left: the last set as left where it was repaired, else the
//! last set as found. As left is held to as found of the same visit.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::visits::checks::stored_figure::{
    CheckFigures, Measured, StoredFigure, is_calibration, is_one_place,
};
use crate::visits::known_day;
use crate::visits::spindles::history;
use crate::visits::spindles::history::{History, Stage};
use holdtrue_book::{Book, CheckKind, ComparedFigure, Event, PastCheck, PastVisit, VisitHeader};
use holdtrue_metrology::change::{Seen, change};
use holdtrue_terms::vocabulary::{Happened, Purpose, State, Vocabulary};
use holdtrue_wording::change::{Compared, SeenChange, compared, from_to};
use holdtrue_wording::digits::{Units, height};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use uuid::Uuid;

type Visit = PastVisit<CheckFigures>;
type Check = PastCheck<CheckFigures>;

/// A figure of a check beside the one it is held to, as the end of a visit keeps it.
pub type Since = ComparedFigure;

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
    /// The book cannot be read.
    pub fn read(book: &Book, visit: Uuid) -> holdtrue_book::Result<Option<Self>> {
        let Some(spindle) = book.get::<VisitHeader>(visit)?.header().spindle else {
            return Ok(None);
        };
        let mut history = history::of(book, spindle)?;
        let shown = book.visit(visit)?;
        if !shown.finishes.is_empty() {
            history
                .events
                .retain(|past| shown.events.iter().any(|known| known.id == past.event.id));
        }
        let mut gone = book.removed()?;
        gone.extend(book.strikes()?.counted.into_keys());
        Ok(Some(Self {
            place: history.visits.iter().position(|each| each.id == visit),
            history,
            gone,
        }))
    }

    fn now(&self) -> Option<&Visit> {
        self.place.map(|place| &self.history.visits[place])
    }

    /// What the figures of all its checks are compared with, for its end to keep.
    pub fn of_visit(&self) -> Vec<Since> {
        let checks = self.now().into_iter().flat_map(|now| &now.checks);
        checks.flat_map(|check| self.computed(check.id)).collect()
    }

    /// The visits before it that count, in order of time.
    pub(crate) fn earlier(&self) -> impl DoubleEndedIterator<Item = &Visit> {
        let before = &self.history.visits[..self.place.unwrap_or(0)];
        before.iter().filter(|visit| self.is_compared(visit))
    }

    /// What somebody struck out, and be it after the visit's end, is nothing to compare with.
    fn is_compared(&self, visit: &Visit) -> bool {
        !self.is_gone(visit.id) && visit.struck_later.is_none()
    }

    /// What happened to the spindle after an earlier visit found it, or `left` it, up to this one, in order of time.
    pub(crate) fn happened_since(&self, earlier: Uuid, left: bool) -> impl Iterator<Item = &Event> {
        let History { visits, events, .. } = &self.history;
        let then = visits.iter().position(|visit| visit.id == earlier);
        let then = then.map(|visit| Stage { visit, left });
        let now = self.place.map(|visit| Stage { visit, left: false });
        let between = then.zip(now);
        let after = events.iter().filter(move |event| {
            let before = history::first_after(&self.history, event);
            between.is_some_and(|(then, now)| then < before && before <= now)
        });
        after.map(|past| &past.event)
    }

    /// Whether a row or an entity was removed or struck out.
    pub(crate) fn is_gone(&self, id: Uuid) -> bool {
        self.gone.contains(&id)
    }

    /// How a visit left the spindle.
    pub(crate) fn left<'a>(&self, visit: &'a Visit, kind: CheckKind) -> Option<&'a Check> {
        left(visit, kind, is_repaired(&self.history, visit))
    }

    /// The figures of a check beside the last ones; none for the first check of a spindle, and for one struck out. Of a
    /// finished visit what its end keeps.
    pub fn of_check(&self, check: Uuid) -> Vec<Since> {
        let kept = self.now().and_then(|now| {
            let compared = now.header.compared.as_ref().filter(|_| now.finished)?;
            let struck = |each: &Check| each.id == check && each.struck.is_some();
            let counts = !now.checks.iter().any(struck);
            let of_it = compared.iter().filter(|each| counts && each.check == check);
            Some(of_it.cloned().collect())
        });
        kept.unwrap_or_else(|| self.computed(check))
    }

    fn computed(&self, check: Uuid) -> Vec<Since> {
        let Some((now, place)) = self.now().zip(self.place) else {
            return Vec::new();
        };
        let here = now.checks.iter().find(|each| each.id == check);
        let Some((here, figures)) = here.and_then(|here| Some((here, counted(here, here.kind)?)))
        else {
            return Vec::new();
        };
        let this = stage(place, here);
        if this.left {
            let found = sets(now, here.kind).filter(|set| set.state != Some(State::AsLeft));
            if let Some(found) = found.last() {
                let happened = breaks(&self.history, stage(place, found), this);
                return beside(here, figures, found, now, &happened);
            }
        }
        let before = self.history.visits[..place].iter().enumerate().rev();
        let each = before
            .filter(|(_, then)| self.is_compared(then))
            .filter_map(|(then_place, then)| {
                let set = self.left(then, here.kind)?;
                let happened = breaks(&self.history, stage(then_place, set), this);
                Some(beside(here, figures, set, then, &happened))
            });
        let mut with_figures = each.filter(|since| !since.is_empty());
        with_figures.next().unwrap_or_default()
    }

    /// The figures a check of this state will be held to, by what they are.
    fn last_times(&self, kind: CheckKind, state: Option<State>) -> Vec<LastTime> {
        let found_here = self.now().filter(|_| state == Some(State::AsLeft));
        let found_here = found_here.and_then(|now| {
            let found = sets(now, kind).filter(|set| set.state != Some(State::AsLeft));
            Some((now, found.last()?))
        });
        let mut before = self
            .earlier()
            .rev()
            .filter_map(|then| Some((then, self.left(then, kind)?)));
        let Some((visit, set)) = found_here.or_else(|| before.next()) else {
            return Vec::new();
        };
        let figures = counted(set, kind).map_or(&[][..], |read| &read.figures);
        let last = |(figure, measured): &(StoredFigure, Measured)| LastTime {
            figure: *figure,
            value: measured.value,
            height_mm: measured.height_mm,
            day: known_day::words(&visit.header.started_at),
        };
        figures.iter().map(last).collect()
    }

    /// A visit with a repair in one line: as found, as left, and what was done.
    pub fn headline(&self, units: &Units) -> Option<String> {
        let (now, visit) = self.now().zip(self.place)?;
        let of = |state: State| {
            sets(now, CheckKind::Grip)
                .filter(move |set| set.state == Some(state))
                .last()
        };
        let (found, left) = (of(State::AsFound)?, of(State::AsLeft)?);
        if !is_repaired(&self.history, now) {
            return None;
        }
        let happened = breaks(&self.history, stage(visit, found), stage(visit, left));
        let figures = counted(left, CheckKind::Grip)?;
        let since = beside(left, figures, found, now, &happened);
        let first = since.first()?;
        let since = compared_of(first);
        let mut done = match since.between.as_slice() {
            [] => "repaired".to_owned(),
            some => some.join(", "),
        };
        if let Some(another) = &first.another {
            done = format!("{done}; as found was {}", another_words(another));
        }
        Some(format!("{}, {done}", from_to(units, &since)))
    }
}

/// What a set says of: what its visit found, or how it left the spindle.
fn stage(visit: usize, set: &Check) -> Stage {
    Stage {
        visit,
        left: set.state == Some(State::AsLeft),
    }
}

/// A figure of the check before.
#[derive(Clone, Debug, PartialEq)]
pub struct LastTime {
    /// What it is.
    pub figure: StoredFigure,
    /// Its value, in its unit.
    pub value: f64,
    /// Where it was read, mm.
    pub height_mm: Option<f64>,
    /// The day.
    pub day: String,
}

/// What a check of this visit will be held to, to be shown beside it. A check is not lost over a past that cannot be read: that
/// is said.
pub fn last_times(
    book: &Book,
    visit: Uuid,
    kind: CheckKind,
    state: Option<State>,
    app: &mut App,
) -> Vec<LastTime> {
    match AmongVisits::read(book, visit) {
        Ok(among) => among.map_or_else(Vec::new, |among| among.last_times(kind, state)),
        Err(error) => {
            app.console
                .message(&format!("The last visit could not be read: {error}"));
            Vec::new()
        }
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
        let compared_words = compared(units, &compared_of(since));
        format!("{}: {compared_words}", since.figure)
    };
    since.iter().map(line).collect()
}

/// As the sentences want it.
fn compared_of(since: &Since) -> Compared {
    let mut said: Vec<String> = since
        .state
        .iter()
        .map(|state| state.words().to_owned())
        .collect();
    if since.from_paper {
        said.push("from paper".to_owned());
    }
    let another = since.another.as_deref().map(another_words);
    said.extend(another.map(str::to_owned));
    let day = known_day::words(&since.started_at);
    let seen = since.seen.as_deref().and_then(|word| match word {
        GREATER => Some(Seen::Greater),
        LESS => Some(Seen::Less),
        NONE => Some(Seen::None),
        _ => None,
    });
    let between = since.between.iter().map(|kind| {
        let happened = Happened::from_word(kind);
        happened.map_or_else(|_| kind.clone(), |happened| happened.words().to_owned())
    });
    Compared {
        figure: since.figure.clone(),
        unit: since.unit.clone(),
        then: since.then,
        now: since.now,
        change: since
            .expanded
            .zip(seen)
            .map(|(expanded, seen)| SeenChange { expanded, seen }),
        since: match said.as_slice() {
            [] => day,
            some => format!("{day} ({})", some.join(", ")),
        },
        between: between.collect(),
    }
}

const GREATER: &str = "greater";
const LESS: &str = "less";
const NONE: &str = "none";

/// The same in a document.
pub fn document(since: &[Since], units: &Units) -> Value {
    let row = |since: &Since| {
        json!({
            "figure": plain(&since.figure),
            "unit": since.unit,
            "value": since.now,
            "then": since.then,
            "difference": since.now - since.then,
            "expanded": since.expanded,
            "seen": since.seen,
            "since": since.started_at,
            "state": since.state.map(State::word),
            "visit": since.visit,
            "another": since.another,
            "text": compared(units, &compared_of(since)),
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

pub(crate) fn sets(visit: &Visit, kind: CheckKind) -> impl Iterator<Item = &Check> {
    visit
        .checks
        .iter()
        .filter(move |check| counted(check, kind).is_some())
}

/// How a visit left the spindle: as left where it was repaired, else as found; as left where there is nothing else.
fn left(visit: &Visit, kind: CheckKind, repaired: bool) -> Option<&Check> {
    let sets = || sets(visit, kind).filter(|set| set.struck_later.is_none());
    let as_left = sets().filter(|set| set.state == Some(State::AsLeft)).last();
    let found = sets().filter(|set| set.state != Some(State::AsLeft)).last();
    match repaired {
        true => as_left.or(found),
        false => found.or(as_left),
    }
}

/// Whether the spindle was repaired at a visit.
fn is_repaired(history: &History, visit: &Visit) -> bool {
    let purpose = visit.header.purpose.as_deref();
    let place = history.visits.iter().position(|each| each.id == visit.id);
    let at_it = place.map(|visit| [false, true].map(|left| Stage { visit, left }));
    purpose == Some(Purpose::AfterRepair.word())
        || at_it.is_some_and(|[found, left]| !breaks(history, found, left).is_empty())
}

/// The kinds of what happened between two stages and breaks a series.
fn breaks(history: &History, then: Stage, now: Stage) -> Vec<String> {
    let between = |stage: Stage| then < stage && stage <= now;
    let events = history.events.iter().filter(|event| event.breaks);
    let mut kinds: Vec<String> = events
        .filter(|event| between(history::first_after(history, event)))
        .map(|event| event.event.kind.clone())
        .collect();
    kinds.dedup();
    kinds
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
    let another = another(now, then);
    let one_calibration = now.calibration.is_some() && now.calibration == then.calibration;
    let pairs = pairs(figures, earlier).into_iter();
    pairs
        .map(|(figure, unit, measured, then_measured)| {
            let change = (measured.complete && then_measured.complete).then(|| {
                change(
                    (measured.value, &measured.budget),
                    (then_measured.value, &then_measured.budget),
                    |line| one_calibration && is_calibration(&line.source),
                )
            });
            let seen = change.as_ref().map(|change| match change.seen {
                Seen::Greater => GREATER,
                Seen::Less => LESS,
                Seen::None => NONE,
            });
            Since {
                check: now.id,
                figure,
                unit: unit.to_owned(),
                now: measured.value,
                then: then_measured.value,
                expanded: change.map(|change| change.expanded),
                seen: seen.map(str::to_owned),
                visit: visit.id,
                started_at: visit.header.started_at.clone(),
                state: then.state,
                from_paper: visit.header.entered_from.is_some(),
                between: between.to_vec(),
                another: another.map(str::to_owned),
            }
        })
        .collect()
}

const GAUGE: &str = "gauge";
const CERTIFICATE: &str = "certificate";

/// What the earlier set was measured with, where that is another: a difference may then be one of the gauges.
fn another(now: &Check, then: &Check) -> Option<&'static str> {
    let differs = |now: Option<Uuid>, then: Option<Uuid>| {
        now.zip(then).is_some_and(|(now, then)| now != then)
    };
    match (
        differs(now.gauge, then.gauge),
        differs(now.calibration, then.calibration),
    ) {
        (true, _) => Some(GAUGE),
        (false, true) => Some(CERTIFICATE),
        (false, false) => None,
    }
}

fn another_words(word: &str) -> &'static str {
    match word {
        GAUGE => "measured with another gauge",
        _ => "measured by another certificate of the gauge",
    }
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
        let same = |then: &&&Measured| match (now.height_mm, then.height_mm) {
            (Some(now), Some(then)) => is_one_place(now, then),
            (now, then) => now.is_none() && then.is_none(),
        };
        let then = *earlier.iter().find(same)?;
        let at = now
            .height_mm
            .map_or_else(String::new, |mm| format!(", {}", height(mm)));
        Some((format!("TIR of the bar{at}"), "um", now, then))
    });
    grip.into_iter().chain(runout).collect()
}
