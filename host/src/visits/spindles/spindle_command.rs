//! `spindle`: the spindles of the book. In: what is known of one. Out: entries, and their visits.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::doubts;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::name::is_same_name;
use crate::terminal::settings::Settings;
use crate::visits::book::book_writer::{BookWriter, is_from_paper};
use crate::visits::book::opening::{find_spindle, short_id, taper_of};
use crate::visits::checks::anew;
use crate::visits::checks::anew::{Judges, Rejudged};
use crate::visits::checks::judgements::JudgedVisit;
use crate::visits::correct_command::Strike;
use crate::visits::known_day;
use crate::visits::known_day::KnownDay;
use crate::visits::spindles::doubtful;
use crate::visits::spindles::event_command;
use crate::visits::spindles::events;
use crate::visits::spindles::spindle_arguments::{SpindleCommand, SpindleFact, SpindleFacts};
use crate::visits::spindles::taper;
use crate::visits::visit_end::refuse_under_way;
use holdtrue_book::{
    Alias, Book, Entity, Event, Kind, Revision, SpindleHeader, Tombstone, VisitHeader,
};
use holdtrue_terms::taper::Interface;
use holdtrue_wording::joined_lines;
use serde::Serialize;
use serde_json::{Value, json};
use uuid::Uuid;

pub(crate) fn run(
    command: SpindleCommand,
    judges: Judges,
    app: &mut App,
) -> Result<Finished, Error> {
    match command {
        SpindleCommand::Add { name, facts, .. } => add(name, &facts, judges, app),
        SpindleCommand::List => list(app),
        SpindleCommand::Show { spindle } => {
            let book = app.read_book()?;
            let spindle = find_spindle(&book, &spindle)?;
            show(&book, &spindle, &[], judges, &app.settings)
        }
        SpindleCommand::Event {
            spindle,
            what,
            on,
            text,
            strike,
            because,
            lift,
            ..
        } => match (what, strike.zip(because)) {
            (_, Some((event, because))) => {
                // `--dry-run` of this command writes into a copy that goes.
                let strike = Strike {
                    because: &because,
                    lift,
                    dry_run: false,
                };
                event_command::strike(&spindle, &event, &strike, judges, app)
            }
            (Some(what), None) => event_command::add(&spindle, what, on, text, judges, app),
            (None, None) => Err(Error::usage("spindle event needs --what")),
        },
        SpindleCommand::Edit {
            spindle,
            name,
            same_as,
            remove,
            forget,
            facts,
            ..
        } => {
            let change = Change {
                name,
                same_as,
                remove,
                forget,
                facts: *facts,
            };
            edit(&spindle, change, judges, app)
        }
    }
}

/// One name, one spindle: another entry with it would be taken for the first.
fn require_free(book: &Book, name: &str, but: Option<Uuid>) -> Result<(), Error> {
    let taken = book.list::<SpindleHeader>()?.into_iter().any(|spindle| {
        !spindle.removed && Some(spindle.id) != but && is_same_name(&spindle.header().name, name)
    });
    if taken {
        return Err(Error::usage(format!(
            "the book has a spindle \"{name}\" already: choose another name, or change that one with holdtrue spindle edit"
        )));
    }
    Ok(())
}

/// A spindle as it stands in documents.
#[derive(Serialize)]
struct SpindleDocument<'a> {
    id: Uuid,
    /// Two people changed it apart from each other; `others` says what else it could be.
    conflict: bool,
    visits: usize,
    #[serde(flatten)]
    header: &'a SpindleHeader,
    others: Vec<&'a SpindleHeader>,
}

fn document(spindle: &Entity<SpindleHeader>, visits: usize) -> SpindleDocument<'_> {
    SpindleDocument {
        id: spindle.id,
        conflict: spindle.conflict(),
        visits,
        header: spindle.header(),
        others: spindle.heads[1..].iter().map(|head| &head.header).collect(),
    }
}

fn add(
    name: String,
    facts: &SpindleFacts,
    judges: Judges,
    app: &mut App,
) -> Result<Finished, Error> {
    let mut header = SpindleHeader {
        name,
        ..SpindleHeader::default()
    };
    apply(facts, &mut header)?;
    settle(facts, &header, app)?;
    let mut writer = app.writer()?;
    require_free(&writer.book, &header.name, None)?;
    let id = writer.first_revision(header)?;
    show(
        &writer.book,
        &writer.book.get(id)?,
        &[],
        judges,
        &app.settings,
    )
}

fn list(app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let mut spindles = book.list::<SpindleHeader>()?;
    spindles.retain(|spindle| !spindle.removed);
    let mut documents = Vec::new();
    let mut lines = Vec::new();
    for spindle in &spindles {
        let visits = book.visits_of(spindle.id)?.len();
        lines.push(list_line(spindle, visits));
        documents.push(document(spindle, visits));
    }
    if lines.is_empty() {
        lines.push("No spindle yet: enter one with holdtrue spindle add.".to_owned());
    }
    Finished::new(
        Exit::Done,
        &json!({ "schema": 1, "spindles": documents }),
        joined_lines(&lines),
    )
}

fn list_line(spindle: &Entity<SpindleHeader>, visits: usize) -> String {
    let header = spindle.header();
    let conflict = if spindle.conflict() {
        "  CHANGED BY TWO: see holdtrue spindle show"
    } else {
        ""
    };
    format!(
        "{}  {:<24} {:<10} {visits} {}{conflict}",
        short_id(spindle.id),
        header.name,
        interface_words(header),
        if visits == 1 { "visit" } else { "visits" },
    )
}

pub(crate) fn show(
    book: &Book,
    spindle: &Entity<SpindleHeader>,
    what: &[String],
    judges: Judges,
    settings: &Settings,
) -> Result<Finished, Error> {
    let visits = book.visits_of(spindle.id)?;
    let mut lines = what.to_vec();
    lines.extend(fact_lines(spindle.header(), settings));
    lines.push(format!("id              {}", spindle.id));
    for other in &spindle.heads[1..] {
        lines.push("Changed by two people apart from each other. The other says:".to_owned());
        lines.extend(fact_lines(&other.header, settings));
        lines.push("Settle it: holdtrue spindle edit with what is right.".to_owned());
    }
    let events = events::of_spindle(book, spindle.id)?;
    let strikes = book.strikes()?;
    let struck = events::struck_of_spindle(book, spindle.id, &strikes)?;
    let judged = visits
        .iter()
        .map(|visit| JudgedVisit::read(book, visit.id, &strikes, judges));
    let judged: Vec<JudgedVisit<'_>> = judged.collect::<Result<_, _>>()?;
    lines.extend(in_order(&visits, &judged, &events, &struck, settings));
    let listed = visits.iter().zip(&judged).map(|(visit, judged)| {
        let header = visit.header();
        json!({
            "id": visit.id,
            "started_at": header.started_at,
            "technician": header.technician,
            "finished": judged.is_finished(),
            "checks": judged.documents(),
        })
    });
    let result = json!({
        "schema": 1,
        "spindle": document(spindle, visits.len()),
        "visits": listed.collect::<Vec<_>>(),
        "events": events.iter().map(event_command::document).collect::<Vec<_>>(),
        "struck_events": struck.iter().map(struck_document).collect::<Vec<_>>(),
    });
    Finished::new(Exit::Done, &result, joined_lines(&lines))
}

/// An event that was struck out, with the reason.
fn struck_document((event, reason): &(Event, String)) -> Value {
    json!({ "event": event_command::document(event), "reason": reason })
}

/// Visits and events by their day; on one day the event comes first, as nothing is as found after it.
fn in_order(
    visits: &[Entity<VisitHeader>],
    judged: &[JudgedVisit<'_>],
    events: &[Event],
    struck: &[(Event, String)],
    settings: &Settings,
) -> Vec<String> {
    let first = |text: &str| KnownDay::of(text).map(|day| day.first);
    let visits = visits.iter().zip(judged).map(|(visit, judged)| {
        let mut lines = vec![visit_line(visit)];
        lines.extend(judged.lines(&settings.units()));
        (first(&visit.header().started_at), 1, lines)
    });
    let event = |event: &Event, more: &str| {
        let day = known_day::words(&event.happened);
        let line = format!(
            "event {}  {day}  {}{more}",
            short_id(event.id),
            events::line(event)
        );
        (first(&event.happened), 0, vec![line])
    };
    let events = events.iter().map(|it| event(it, ""));
    let struck = struck
        .iter()
        .map(|(it, reason)| event(it, &format!("; struck out: {reason}")));
    let mut all: Vec<_> = visits.chain(events).chain(struck).collect();
    all.sort_by_key(|(day, kind, _)| (*day, *kind));
    all.into_iter().flat_map(|(_, _, lines)| lines).collect()
}

fn visit_line(visit: &Entity<VisitHeader>) -> String {
    let header = visit.header();
    let paper = if is_from_paper(header) {
        ", from paper"
    } else {
        ""
    };
    format!(
        "visit {}  {}  by {}{paper}",
        short_id(visit.id),
        known_day::moment(&header.started_at),
        header.technician
    )
}

fn fact_lines(header: &SpindleHeader, settings: &Settings) -> Vec<String> {
    let yes_no = |value: Option<bool>| value.map(|yes| if yes { "yes" } else { "no" }.to_owned());
    let force = |n: Option<f64>| n.map(|n| settings.force(n));
    let interface = Some(interface_words(header)).filter(|words| !words.is_empty());
    let facts = [
        ("spindle", Some(header.name.clone())),
        (
            "",
            header
                .invented
                .then(|| "invented, for trying things out".to_owned()),
        ),
        ("machine", header.machine.clone()),
        ("machine serial", header.machine_serial.clone()),
        ("spindle serial", header.spindle_serial.clone()),
        ("place", header.place.clone()),
        ("taper", interface),
        ("retention knob", header.retention_knob.clone()),
        ("drawbar", header.drawbar.clone()),
        ("drive", header.drive.clone()),
        ("through coolant", yes_no(header.through_coolant)),
        ("face contact", yes_no(header.face_contact)),
        ("axis", header.axis.clone()),
        ("maker's nominal", force(header.grip_nominal_n)),
        ("maker's minimum", force(header.grip_minimum_n)),
        ("class (assumed)", header.grip_class.clone()),
    ];
    facts
        .into_iter()
        .filter_map(|(name, value)| value.map(|value| format!("{name:<15} {value}")))
        .collect()
}

fn interface_words(header: &SpindleHeader) -> String {
    crate::visits::spindles::spelled::interface(header).unwrap_or_default()
}

/// What is to be another.
struct Change {
    name: Option<String>,
    same_as: Option<String>,
    remove: Option<String>,
    forget: Vec<SpindleFact>,
    facts: SpindleFacts,
}

/// The sets of open visits have their limits from here: they are judged anew in the same step.
fn edit(wanted: &str, change: Change, judges: Judges, app: &mut App) -> Result<Finished, Error> {
    let mut writer = app.writer_of_existing()?;
    let spindle = find_spindle(&writer.book, wanted)?;
    let mut header = spindle.header().clone();
    if let Some(name) = change.name {
        require_free(&writer.book, &name, Some(spindle.id))?;
        header.name = name;
    }
    for fact in &change.forget {
        fact.forget(&mut header);
    }
    apply(&change.facts, &mut header)?;
    settle(&change.facts, &header, app)?;
    let rejudged = judged_anew(
        &writer,
        &spindle,
        &header,
        change.facts.as_read,
        judges,
        app,
    )?;
    let same_as = change
        .same_as
        .map(|other| find_spindle(&writer.book, &other))
        .transpose()?;
    if let Some(other) = &same_as {
        settle_same(&header, other.header(), change.facts.as_read, app)?;
    }
    let alias = same_as
        .map(|other| alias(&writer, spindle.id, other.id))
        .transpose()?;
    let changed = header != *spindle.header() || spindle.conflict();
    let revision = changed.then(|| Revision {
        id: writer.id(),
        entity: spindle.id,
        parents: spindle.parents(),
        header,
        stamp: writer.stamp(),
    });
    let tombstone = change.remove.map(|reason| Tombstone {
        id: writer.id(),
        target: spindle.id,
        reason,
        stamp: writer.stamp(),
    });
    writer.book.together(|book| {
        alias.map_or(Ok(()), |alias| book.alias(&alias))?;
        revision.map_or(Ok(()), |revision| book.revise(&revision))?;
        anew::file(book, &rejudged)?;
        tombstone.map_or(Ok(()), |tombstone| book.bury(&tombstone))
    })?;
    let what: Vec<String> = rejudged.into_iter().map(|each| each.line).collect();
    show(
        &writer.book,
        &writer.book.get(spindle.id)?,
        &what,
        judges,
        &app.settings,
    )
}

fn judged_anew(
    writer: &BookWriter,
    spindle: &Entity<SpindleHeader>,
    header: &SpindleHeader,
    as_read: bool,
    judges: Judges,
    app: &mut App,
) -> Result<Vec<Rejudged>, Error> {
    let mut rejudged = Vec::new();
    if header == spindle.header() {
        return Ok(rejudged);
    }
    for visit in writer.book.open_visits()? {
        if visit.header().spindle != Some(spindle.id) {
            continue;
        }
        refuse_under_way(&writer.book, visit.id)?;
        let pages = [Some(spindle.header()), Some(header)];
        anew::settle_taper(&writer.book, visit.id, pages, judges, as_read, app)?;
        rejudged.extend(anew::of_visit(
            writer,
            visit.id,
            Some(header),
            judges,
            &app.settings,
        )?);
    }
    Ok(rejudged)
}

/// What the maker says of the grip force, in words; none where the page has no figure of it.
fn makers_figures(page: &SpindleHeader, settings: &Settings) -> Option<String> {
    let figures = [
        ("nominal", page.grip_nominal_n),
        ("at least", page.grip_minimum_n),
    ];
    let told = figures
        .iter()
        .filter_map(|(what, n)| n.map(|n| format!("{what} {}", settings.force(n))));
    let told: Vec<String> = told.collect();
    (!told.is_empty()).then(|| told.join(" and "))
}

/// Two entries of other serial numbers, tapers or maker's figures are asked about before they are joined: nothing parts them again.
fn settle_same(
    one: &SpindleHeader,
    other: &SpindleHeader,
    as_read: bool,
    app: &mut App,
) -> Result<(), Error> {
    let serials = one
        .spindle_serial
        .as_ref()
        .zip(other.spindle_serial.as_ref());
    let serials = serials.filter(|(one, other)| one.trim() != other.trim());
    let serials = serials.map(|(one, other)| format!("the serial number {one}, the other {other}"));
    // An entry that is not understood says nothing.
    let taper_of = |page| taper_of(page).ok().flatten();
    let tapers = taper_of(one).zip(taper_of(other));
    let tapers = tapers.filter(|(one, other)| !taper::is_same(*one, *other));
    let tapers = tapers.map(|(one, other)| format!("a {one} taper, the other {other}"));
    let makers = makers_figures(one, &app.settings).zip(makers_figures(other, &app.settings));
    let makers = makers.filter(|(one, other)| one != other);
    let makers = makers.map(|(one, other)| {
        format!(
            "the maker's figure {one}, the other {other}, and a set is held to the page it is measured under: enter the right one on both"
        )
    });
    let Some(told) = serials.or(tapers).or(makers).filter(|_| !as_read) else {
        return Ok(());
    };
    let question = format!("One has {told}. Is it the same spindle?");
    let choices = [("as read".to_owned(), ())];
    doubts::pick(&question, &choices, &mut app.console)?.ok_or_else(|| {
        Error::usage(format!(
            "one has {told}. Is it the same spindle? Nothing was changed, and what is joined is not parted again. Name the \
             right one, or add --as-read where it is"
        ))
    })
}

fn alias(writer: &BookWriter, entity: Uuid, same_as: Uuid) -> Result<Alias, Error> {
    if entity == same_as {
        return Err(Error::usage(
            "--same-as names the spindle itself: name the other entry",
        ));
    }
    Ok(Alias {
        id: writer.id(),
        kind: Kind::Spindle,
        entity,
        same_as,
        stamp: writer.stamp(),
    })
}

/// Asks about forces that cannot be, where any of what they hang on is entered now.
fn settle(facts: &SpindleFacts, header: &SpindleHeader, app: &mut App) -> Result<(), Error> {
    let entered =
        facts.nominal_n.is_some() || facts.minimum_n.is_some() || facts.interface.is_some();
    if !entered {
        return Ok(());
    }
    let App {
        settings, console, ..
    } = app;
    doubtful::settle_spindle(header, facts.as_read, settings, console)
}

fn apply(facts: &SpindleFacts, header: &mut SpindleHeader) -> Result<(), Error> {
    let take = |from: &Option<String>, to: &mut Option<String>| {
        if from.is_some() {
            to.clone_from(from);
        }
    };
    take(&facts.machine, &mut header.machine);
    take(&facts.machine_serial, &mut header.machine_serial);
    take(&facts.spindle_serial, &mut header.spindle_serial);
    take(&facts.place, &mut header.place);
    take(&facts.knob, &mut header.retention_knob);
    take(
        &facts.drawbar.map(|word| word.to_string()),
        &mut header.drawbar,
    );
    take(&facts.drive.map(|word| word.to_string()), &mut header.drive);
    take(&facts.axis.map(|word| word.to_string()), &mut header.axis);
    take(
        &facts.class.map(|word| word.to_string()),
        &mut header.grip_class,
    );
    header.invented |= facts.invented;
    header.through_coolant = facts.through_coolant.or(header.through_coolant);
    header.face_contact = facts.face_contact.or(header.face_contact);
    header.grip_nominal_n = facts.nominal_n.or(header.grip_nominal_n);
    header.grip_minimum_n = facts.minimum_n.or(header.grip_minimum_n);
    if let Some(text) = &facts.interface {
        let interface: Interface = text
            .parse()
            .map_err(|e| Error::usage(format!("--interface: {e}")))?;
        header.taper = Some(interface.family_name());
        header.taper_size = u16::try_from(interface.size).ok();
        header.shank = interface.shank.map(|shank| shank.name().to_owned());
    }
    Ok(())
}
