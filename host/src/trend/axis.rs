//! Where visits stand against each other. In: their days, counters and what happened. Out: places that grow, and where a
//! series begins anew.

use crate::visits::counters::Counter;
use crate::visits::known_day;
use crate::visits::known_day::KnownDay;
use crate::visits::spindles::events::noticed_at;
use crate::visits::spindles::history;
use crate::visits::spindles::history::{History, PastEvent, Stage};
use holdtrue_book::{PastHeader, PastVisit};

/// The place of a visit among days: where it began, of a day known less well its middle.
pub fn day<T>(visit: &PastVisit<T>) -> Option<f64> {
    let known =
        KnownDay::of(&visit.header.started_at).or_else(|| KnownDay::of(&visit.entered.at))?;
    Some(known.place_days())
}

/// Where each event that breaks a series lies: the first visit of which what was found lies after it.
pub fn breaks<T>(history: &History<T>) -> Vec<usize> {
    let breaking = history.events.iter().filter(|event| event.breaks);
    breaking
        .map(|event| {
            let Stage { visit, left } = history::first_after(history, event);
            visit + usize::from(left)
        })
        .collect()
}

/// The last event behind a visit that begins a new series; one of a day that nobody knows lies behind them all, and may have been
/// long before.
pub fn ended_by<T>(history: &History<T>, last: usize) -> Option<&PastEvent> {
    let breaking = history.events.iter().filter(|event| event.breaks);
    let behind = breaking
        .zip(breaks(history))
        .filter(|(event, first)| event.when.is_some() && *first > last);
    behind.last().map(|(event, _)| event)
}

/// What a counter stood at.
fn of(counter: Counter, header: &PastHeader) -> Option<f64> {
    match counter {
        Counter::PowerOn => header.power_on_hours,
        Counter::Spindle => header.spindle_hours,
        Counter::Cutting => header.cutting_hours,
        Counter::ToolChanges => header.tool_changes.map(|changes| {
            #[expect(clippy::cast_precision_loss, reason = "no changer makes 2^53 changes")]
            let changes = changes as f64;
            changes
        }),
    }
}

/// Counters of the visits at these places, joined where the control was replaced.
#[derive(Debug)]
pub struct Counted {
    /// Which counter.
    pub counter: Counter,
    /// At each of the places its count, carried on from one control to the next; none where the visit is not followed.
    pub counts: Vec<Option<f64>>,
    /// What has to be said.
    pub messages: Vec<String>,
}

/// The hours that most of the visits noted.
pub fn hours<T>(history: &History<T>, places: &[usize]) -> Counter {
    let known = |counter: &Counter| {
        let headers = places.iter().map(|place| &history.visits[*place].header);
        headers
            .filter(|header| of(*counter, header).is_some())
            .count()
    };
    let preferred = [Counter::PowerOn, Counter::Cutting, Counter::Spindle];
    preferred
        .into_iter()
        .max_by_key(known)
        .unwrap_or(Counter::Spindle)
}

/// Carries a counter through the visits.
pub fn counted<T>(history: &History<T>, places: &[usize], counter: Counter) -> Counted {
    let replaced: Vec<(usize, &PastEvent)> = history
        .events
        .iter()
        .filter(|event| event.counters_anew)
        .map(|event| (history::first_after(history, event).visit, event))
        .collect();
    let mut counted = Counted {
        counter,
        counts: Vec::new(),
        messages: Vec::new(),
    };
    let mut carried = 0.0;
    // The readings of the control in use: place, day, reading.
    let mut control: Vec<(usize, Option<f64>, f64)> = Vec::new();
    let mut without = 0;
    for place in places {
        let visit = &history.visits[*place];
        let Some(reading) = of(counter, &visit.header) else {
            without += 1;
            counted.counts.push(None);
            continue;
        };
        if let Some(&(before, _, stood)) = control.last() {
            let event = replaced
                .iter()
                .find(|(first, _)| (before + 1..=*place).contains(first));
            if let Some((_, event)) = event {
                // Noticed at this visit, or told of its day: the new one has counted for some of that time already.
                let noticed = noticed_at(&event.event) == Some(visit.id)
                    || is_of_one_day(&event.event.happened, &visit.header.started_at);
                let unseen = match day(visit).filter(|_| noticed) {
                    Some(now) => (counted_until(&control, now) - reading).max(0.0),
                    None => event
                        .when
                        .map_or(0.0, |[from, to]| counted_until(&control, 0.5 * (from + to))),
                };
                counted.messages.push(format!(
                    "The control was replaced ({}): its {} are carried on from {stood}, with {unseen:.0} for the time in which nobody looked.",
                    event.event.happened,
                    counter.words(),
                ));
                carried += stood + unseen;
                control.clear();
            } else if reading < stood {
                let left_out = counted.counts.iter().flatten().count();
                counted.messages.push(format!(
                    "The {} fell from {stood} to {reading} at the visit of {}. Counters do not run backwards, so the {left_out} visits before it are left out. \
                     If the control was replaced, say when: holdtrue spindle event --what control-replaced.",
                    counter.words(),
                    known_day::words(&visit.header.started_at),
                ));
                counted.counts.iter_mut().for_each(|count| *count = None);
                carried = 0.0;
                control.clear();
            }
        }
        control.push((*place, day(visit), reading));
        counted.counts.push(Some(carried + reading));
    }
    if without > 0 {
        counted.messages.push(format!(
            "{without} visits are left out: they noted no {}.",
            counter.words()
        ));
    }
    counted
}

/// Whether both are known to the day, and it is one.
fn is_of_one_day(one: &str, other: &str) -> bool {
    let day = |text: &str| KnownDay::of(text).filter(|day| day.first == day.last);
    day(one)
        .zip(day(other))
        .is_some_and(|(one, other)| one.first == other.first)
}

/// What the old control would have counted from when it was last read until a day, at the pace it had before.
fn counted_until(control: &[(usize, Option<f64>, f64)], until: f64) -> f64 {
    let (Some((_, Some(first_day), first)), Some((_, Some(last_day), last))) =
        (control.first(), control.last())
    else {
        return 0.0;
    };
    let days = last_day - first_day;
    if days <= 0.0 {
        return 0.0;
    }
    ((last - first) / days * (until - last_day)).max(0.0)
}
