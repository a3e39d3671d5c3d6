//! `spindle event`: what happened to a spindle beside the visits. In: what, which day, words. Out: one event in the book, or
//! one struck out, or the strike lifted.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::book::opening::{find_spindle, is_id, short_id};
use crate::visits::checks::anew::Judges;
use crate::visits::correct_command::{Strike, put};
use crate::visits::known_day::{self, KnownDay};
use crate::visits::spindles::events;
use crate::visits::spindles::history;
use crate::visits::spindles::spindle_command::show;
use holdtrue_book::{Event, Json};
use holdtrue_terms::vocabulary::Happened;
use serde_json::{Value, json};

pub(crate) fn add(
    wanted: &str,
    what: Happened,
    on: Option<KnownDay>,
    text: String,
    judges: Judges,
    app: &mut App,
) -> Result<Finished, Error> {
    let mut writer = app.writer_of_existing()?;
    let spindle = find_spindle(&writer.book, wanted)?;
    let event = Event {
        id: writer.id(),
        entity: spindle.id,
        kind: what.word().to_owned(),
        happened: on.unwrap_or_else(KnownDay::today).text,
        text: text.trim().to_owned(),
        content: Json::empty(),
        stamp: writer.stamp(),
    };
    let known = events::of_spindle(&writer.book, spindle.id)?;
    match known.iter().find(|known| is_same(known, &event)) {
        Some(known) => app.console.message(&format!(
            "The book has this event already, entered by {} on {}: nothing was added.",
            known.stamp.author,
            times::moment(&known.stamp.at)
        )),
        None => writer.book.keep_event(&event)?,
    }
    show(&writer.book, &spindle, &[], judges, &app.settings)
}

/// Whether two events say the same of one spindle.
pub(crate) fn is_same(one: &Event, other: &Event) -> bool {
    (&one.kind, &one.happened, &one.text) == (&other.kind, &other.happened, &other.text)
}

/// Strikes an event out, or lifts that. It is named by its id, whole or short.
pub(crate) fn strike(
    wanted: &str,
    event: &str,
    strike: &Strike<'_>,
    judges: Judges,
    app: &mut App,
) -> Result<Finished, Error> {
    let mut writer = app.writer_of_existing()?;
    let spindle = find_spindle(&writer.book, wanted)?;
    let strikes = writer.book.strikes()?;
    let struck = events::struck_of_spindle(&writer.book, spindle.id, &strikes)?;
    let mut known = events::of_spindle(&writer.book, spindle.id)?;
    known.extend(struck.into_iter().map(|(event, _)| event));
    let mut meant = known.iter().filter(|known| is_id(known.id, event));
    let (Some(target), None) = (meant.next(), meant.next()) else {
        let ids: Vec<String> = known.iter().map(|known| short_id(known.id)).collect();
        return Err(Error::usage(format!(
            "no single event \"{event}\" of this spindle. It has: {}",
            if ids.is_empty() {
                "none".to_owned()
            } else {
                ids.join(", ")
            }
        )));
    };
    let what = format!(
        "event {}, {} {}",
        short_id(target.id),
        known_day::words(&target.happened),
        events::line(target)
    );
    let line = put(target.id, &what, strike, &mut writer)?;
    show(&writer.book, &spindle, &[line], judges, &app.settings)
}

/// An event in a document.
pub(crate) fn document(event: &Event) -> Value {
    json!({
        "id": event.id,
        "what": event.kind,
        "on": event.happened,
        "breaks_series": history::breaks_series(&event.kind),
        "text": event.text,
        "at": event.stamp.at,
        "by": event.stamp.author,
    })
}
