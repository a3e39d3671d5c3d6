//! Counters off the control, held to those of other visits. In: what a visit says of them, and the visits around it. Out:
//! what cannot be, put right by whoever is there.
//!
//! A counter never runs backwards, and hours are not counted faster than they pass.

use crate::terminal::console::Console;
use crate::terminal::doubts;
use crate::terminal::error::Error;
use crate::terminal::parse::counted_hours;
use crate::visits::arguments::VisitFacts;
use crate::visits::known_day::KnownDay;
use crate::visits::spindles::events::{self, BEFORE_VISIT, VisitDay};
use holdtrue_book::{Book, Event, Json, Note, Remark, Stamp, VisitHeader};
use holdtrue_terms::vocabulary::Happened;
use serde_json::json;
use std::borrow::Cow;
use uuid::Uuid;

/// Controls show whole hours, and their clocks are not ours.
const HOURS_ALLOWED: f64 = 2.0;

/// A counter off the control.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counter {
    /// Hours the control was on.
    PowerOn,
    /// Hours the spindle turned.
    Spindle,
    /// Hours it cut.
    Cutting,
    /// Tool changes.
    ToolChanges,
}

impl Counter {
    /// Every one.
    pub const ALL: [Self; 4] = [
        Self::PowerOn,
        Self::Spindle,
        Self::Cutting,
        Self::ToolChanges,
    ];

    /// As a person reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::PowerOn => "power-on hours",
            Self::Spindle => "spindle hours",
            Self::Cutting => "cutting hours",
            Self::ToolChanges => "tool changes",
        }
    }

    /// Its name in documents and tables.
    pub fn key(self) -> &'static str {
        match self {
            Self::PowerOn => "power_on_hours",
            Self::Spindle => "spindle_hours",
            Self::Cutting => "cutting_hours",
            Self::ToolChanges => "tool_changes",
        }
    }

    /// What it stood at.
    pub fn of(self, header: &VisitHeader) -> Option<f64> {
        match self {
            Self::PowerOn => header.power_on_hours,
            Self::Spindle => header.spindle_hours,
            Self::Cutting => header.cutting_hours,
            Self::ToolChanges => header.tool_changes.map(count),
        }
    }

    fn put(self, value: f64, header: &mut VisitHeader) {
        match self {
            Self::PowerOn => header.power_on_hours = Some(value),
            Self::Spindle => header.spindle_hours = Some(value),
            Self::Cutting => header.cutting_hours = Some(value),
            Self::ToolChanges => header.tool_changes = format!("{value:.0}").parse().ok(),
        }
    }

    /// What somebody types in its place.
    fn read(self, typed: &str) -> Result<f64, String> {
        match self {
            Self::ToolChanges => typed.trim().parse().map(count).map_err(|_| {
                format!("found \"{typed}\", expected how many tool changes, such as 12345")
            }),
            Self::PowerOn | Self::Spindle | Self::Cutting => counted_hours(typed),
        }
    }

    /// The most it can grow in an hour: hours by one, tool changes by one a second.
    fn most_an_hour(self) -> f64 {
        match self {
            Self::ToolChanges => 3600.0,
            Self::PowerOn | Self::Spindle | Self::Cutting => 1.0,
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "no changer makes 2^53 changes")]
fn count(changes: u64) -> f64 {
    changes as f64
}

/// A counter that cannot be.
#[derive(Clone, Debug, PartialEq)]
enum Doubt {
    /// It stands lower at the later of two visits.
    Fell,
    /// It grew by more than can be in the hours that passed.
    TooFast { hours: f64 },
    /// It stands higher than the hours it is part of.
    MoreThan { whole: Counter, value: f64 },
}

/// A counter of the visit in hand that is doubted.
#[derive(Clone, Debug)]
struct Doubted {
    counter: Counter,
    value: f64,
    doubt: Doubt,
    /// The visit it is held to, and what the counter stood at there; none where it is held to the same visit.
    other: Option<(VisitDay, f64)>,
}

/// The visit in hand among those of its spindle.
struct InHand<'a> {
    header: Cow<'a, VisitHeader>,
    place: VisitDay,
    others: Vec<(VisitDay, VisitHeader)>,
    events: Vec<Event>,
}

/// What is written beside the visit where a counter was asked about.
#[derive(Debug, Default)]
pub struct Answered {
    /// The control was replaced.
    pub event: Option<Event>,
    /// Meant as it reads.
    pub note: Option<Note>,
}

/// Asks about every counter that cannot be; one that was mistyped is put right in the header. `visit` is the id the visit has or
/// will have.
///
/// # Errors
/// One that is not answered: exit 2. The book cannot be read: exit 6.
pub fn settle(
    facts: &VisitFacts,
    header: &mut VisitHeader,
    visit: Uuid,
    book: &Book,
    ids: [Uuid; 2],
    stamp: &Stamp,
    console: &mut Console,
) -> Result<Answered, Error> {
    let mut answered = Answered::default();
    if !facts.any_counter() && facts.spindle.is_none() && !facts.control_replaced {
        return Ok(answered);
    }
    let Some(mut in_hand) = InHand::of(header, visit, book)? else {
        return match facts.control_replaced {
            true => Err(Error::usage(
                "--control-replaced needs to know of which machine: add --spindle",
            )),
            false => Ok(answered),
        };
    };
    let spindle = in_hand.header.spindle.unwrap_or_default();
    let replaced = |before: &VisitDay, why: &str| -> Result<Event, Error> {
        Ok(Event {
            id: ids[0],
            entity: spindle,
            kind: Happened::ControlReplaced.word().to_owned(),
            happened: before.day.text.clone(),
            text: why.to_owned(),
            content: Json::of(&json!({ BEFORE_VISIT: before.visit }))
                .map_err(|e| Error::book(format!("an event cannot be written as JSON: {e}")))?,
            stamp: stamp.clone(),
        })
    };
    if facts.control_replaced && !in_hand.knows_of_another_control() {
        let doubted = in_hand
            .doubts()
            .into_iter()
            .find(|doubted| doubted.other.is_some());
        let before = doubted
            .as_ref()
            .map_or(&in_hand.place, |doubted| in_hand.later(doubted));
        let why = doubted.as_ref().map_or_else(String::new, Doubted::words);
        let event = replaced(before, &why)?;
        in_hand.events.push(event.clone());
        answered.event = Some(event);
    }
    let mut kept = Vec::new();
    while let Some(doubted) = in_hand
        .doubts()
        .into_iter()
        .find(|doubted| !kept.contains(&doubted.words()))
    {
        match answer(&doubted, facts, answered.event.is_none(), console)? {
            Answer::AsRead => kept.push(doubted.words()),
            Answer::Instead(value) => doubted.counter.put(value, in_hand.header.to_mut()),
            Answer::ControlReplaced => {
                let event = replaced(in_hand.later(&doubted), &doubted.words())?;
                in_hand.events.push(event.clone());
                answered.event = Some(event);
            }
        }
    }
    if !kept.is_empty() {
        answered.note = Some(Note {
            id: ids[1],
            visit,
            check: None,
            text: format!("Meant as it reads: {}", kept.join("; ")),
            stamp: stamp.clone(),
        });
    }
    if let Cow::Owned(put_right) = in_hand.header {
        *header = put_right;
    }
    Ok(answered)
}

/// What cannot be of a visit among others of its spindle: each counter with why.
pub fn held_to_others(
    header: &VisitHeader,
    place: VisitDay,
    others: Vec<(VisitDay, VisitHeader)>,
    events: Vec<Event>,
) -> Vec<(Counter, String)> {
    let in_hand = InHand {
        header: Cow::Borrowed(header),
        place,
        others,
        events,
    };
    let doubts = in_hand.doubts().into_iter();
    doubts
        .map(|doubted| (doubted.counter, doubted.words()))
        .collect()
}

/// The visits of a spindle with their days, in order; those struck or withdrawn left out.
///
/// # Errors
/// When the book cannot be read.
pub fn known_visits(book: &Book, spindle: Uuid) -> Result<Vec<(VisitDay, VisitHeader)>, Error> {
    let mut gone = book.removed()?;
    gone.extend(Remark::struck(&book.remarks()?));
    let visits = book.visits_of(spindle)?.into_iter().filter_map(|visit| {
        let day = KnownDay::of(&visit.header().started_at)?;
        let place = VisitDay {
            visit: visit.id,
            day,
        };
        (!gone.contains(&visit.id)).then(|| (place, visit.header().clone()))
    });
    Ok(visits.collect())
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Answer {
    AsRead,
    ControlReplaced,
    /// It was mistyped: this is it.
    Instead(f64),
}

fn answer(
    doubted: &Doubted,
    facts: &VisitFacts,
    may_be_replaced: bool,
    console: &mut Console,
) -> Result<Answer, Error> {
    if facts.as_read {
        return Ok(Answer::AsRead);
    }
    let replaced = doubted.other.is_some() && may_be_replaced;
    let mut choices = vec![("as read".to_owned(), Answer::AsRead)];
    if replaced {
        choices.push(("control replaced".to_owned(), Answer::ControlReplaced));
    }
    let asked = match replaced {
        true => "Is the number right, and was the control replaced?",
        false => "Is the number right?",
    };
    let words = doubted.words();
    let question = format!("{words}. {asked}");
    let read = |typed: &str| doubted.counter.read(typed).map(Answer::Instead).map(Some);
    let picked = doubts::pick_or_typed(&question, "the right number", &choices, read, console)?;
    picked.ok_or_else(|| {
        let next = match replaced {
            true => "If the control or its memory was replaced, add --control-replaced. If the number is meant as it reads, add --as-read",
            false => "If it is meant as it reads, add --as-read",
        };
        Error::usage(format!("{words}. Correct the number. {next}"))
    })
}

impl Doubted {
    fn words(&self) -> String {
        let Self {
            counter,
            value,
            doubt,
            other,
        } = self;
        let (counter, other) = (counter.words(), other.as_ref());
        let begin = format!("{counter} {value}");
        let (day, there) = other.map_or((String::new(), 0.0), |(place, there)| {
            (place.day.words(), *there)
        });
        match doubt {
            Doubt::MoreThan { whole, value } => format!(
                "{begin}: more than the {} {value} they are part of",
                whole.words()
            ),
            Doubt::Fell if there > *value => {
                format!(
                    "{begin}: the visit of {day} has {there}, and a counter does not run backwards"
                )
            }
            Doubt::Fell => format!(
                "{begin}: the later visit of {day} has only {there}, and a counter does not run backwards"
            ),
            Doubt::TooFast { hours } => format!(
                "{begin}: {:.0} apart from the visit of {day} ({there}), and only {hours:.0} hours lie between them",
                (value - there).abs()
            ),
        }
    }
}

impl<'a> InHand<'a> {
    /// None while the spindle is not named, or the start cannot be read.
    fn of(header: &'a VisitHeader, visit: Uuid, book: &Book) -> Result<Option<Self>, Error> {
        let (Some(spindle), Some(day)) = (header.spindle, KnownDay::of(&header.started_at)) else {
            return Ok(None);
        };
        let mut others = known_visits(book, spindle)?;
        others.retain(|(other, _)| other.visit != visit);
        Ok(Some(Self {
            header: Cow::Borrowed(header),
            place: VisitDay { visit, day },
            others,
            events: events::of_spindle(book, spindle)?,
        }))
    }

    fn is_earlier(&self, other: &VisitDay) -> bool {
        other.day.moments[0] <= self.place.day.moments[0]
    }

    /// The later one of the visit in hand and the one it is held to.
    fn later<'b>(&'b self, doubted: &'b Doubted) -> &'b VisitDay {
        match &doubted.other {
            Some((other, _)) if !self.is_earlier(other) => other,
            _ => &self.place,
        }
    }

    /// Whether one control counted at both.
    fn one_control(&self, other: &VisitDay) -> bool {
        let (earlier, later) = match self.is_earlier(other) {
            true => (other, &self.place),
            false => (&self.place, other),
        };
        let all: Vec<VisitDay> = self.places();
        !self.events.iter().any(|event| {
            events::what(event) == Some(Happened::ControlReplaced)
                && events::lies_between(event, earlier, later, &all)
        })
    }

    fn places(&self) -> Vec<VisitDay> {
        let others = self.others.iter().map(|(place, _)| place.clone());
        others.chain([self.place.clone()]).collect()
    }

    /// Whether the book has a new control between the last visit and this one.
    fn knows_of_another_control(&self) -> bool {
        let before = self
            .others
            .iter()
            .rfind(|(place, _)| self.is_earlier(place));
        before.is_some_and(|(place, _)| !self.one_control(place))
    }

    fn doubts(&self) -> Vec<Doubted> {
        let within = [
            (Counter::Spindle, Counter::PowerOn),
            (Counter::Cutting, Counter::PowerOn),
            (Counter::Cutting, Counter::Spindle),
        ];
        let within = within.into_iter().filter_map(|(part, whole)| {
            let (value, of) = (part.of(&self.header)?, whole.of(&self.header)?);
            (value > of).then_some(Doubted {
                counter: part,
                value,
                doubt: Doubt::MoreThan { whole, value: of },
                other: None,
            })
        });
        let around = Counter::ALL
            .into_iter()
            .flat_map(|counter| self.around(counter));
        around.chain(within).collect()
    }

    /// The counter held to the last visit before that has it, and the first one after.
    fn around(&self, counter: Counter) -> Vec<Doubted> {
        let Some(value) = counter.of(&self.header) else {
            return Vec::new();
        };
        let known = || {
            self.others
                .iter()
                .filter_map(|(place, header)| Some((place, counter.of(header)?)))
        };
        let before = known().rfind(|(place, _)| self.is_earlier(place));
        let after = known().find(|(place, _)| !self.is_earlier(place));
        let doubt = |(place, there): (&VisitDay, f64)| {
            let early = self.is_earlier(place);
            let (from, to) = if early {
                (place, &self.place)
            } else {
                (&self.place, place)
            };
            let grown = if early { value - there } else { there - value };
            let hours = to.day.moments[1]
                .duration_since(from.day.moments[0])
                .as_secs_f64()
                / 3600.0;
            let hours = hours.max(0.0);
            let doubt = match grown {
                _ if !self.one_control(place) => return None,
                ..0.0 => Doubt::Fell,
                _ if grown > (hours + HOURS_ALLOWED) * counter.most_an_hour() => {
                    Doubt::TooFast { hours }
                }
                _ => return None,
            };
            Some(Doubted {
                counter,
                value,
                doubt,
                other: Some((place.clone(), there)),
            })
        };
        [before, after]
            .into_iter()
            .flatten()
            .filter_map(doubt)
            .collect()
    }
}
