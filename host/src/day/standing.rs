//! How the day stands. In: the book, the ports of this computer. Out: the open visit, what is done in it and what comes next.

use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::visits::book::book_writer::is_from_paper;
use crate::visits::corrected::strike_on;
use crate::visits::findings::condition_list::{left_of_round, our_items};
use crate::visits::spindles::spelled::interface;
use crate::visits::unfit;
use holdtrue_book::{Book, Check, CheckKind, GaugeHeader, Visit};
use holdtrue_gauge::link::discover;

/// The minutes an owner gives.
pub const SHORT_VISIT_MIN: i64 = 40;

/// A part of a visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// Is the gauge fit to measure?
    GaugeCheck,
    /// Items of the condition round.
    Items(&'static [&'static str]),
    /// Clamps.
    Grip,
    /// The bar, in two seatings.
    ShortRunout,
    /// The usual round.
    Runout,
    /// All that is left of the condition round.
    Round,
    /// The end of the visit, and the page.
    Paper,
}

/// A part with its name and the minutes it usually takes.
#[derive(Clone, Copy, Debug)]
pub struct Step {
    /// What is done.
    pub part: Part,
    /// In words.
    pub name: &'static str,
    /// What was answered once it is; none where the name says what was done.
    pub done: Option<&'static str>,
    /// Usual minutes.
    pub minutes: i64,
}

const fn step(part: Part, name: &'static str, minutes: i64) -> Step {
    Step {
        part,
        name,
        done: None,
        minutes,
    }
}

/// Items of the round: what was asked says more than what the step is called. Both stand beside the figure on 80 columns, where
/// each row more is one less for the steps behind.
const fn items(
    ids: &'static [&'static str],
    name: &'static str,
    done: &'static str,
    minutes: i64,
) -> Step {
    Step {
        done: Some(done),
        ..step(Part::Items(ids), name, minutes)
    }
}

/// Forty minutes (common practice): what an owner gives before a purchase.
pub const SHORT: [Step; 6] = [
    items(
        &["taper-wall", "nose-face", "bore", "gripper-fingers"],
        "look and wipe",
        "taper, gripper",
        5,
    ),
    step(Part::Grip, "grip force as found", 7),
    step(Part::ShortRunout, "bar, 2 seatings", 12),
    items(
        &["play", "contact", "drive-keys"],
        "play, blueing, keys",
        "play, blueing, keys",
        7,
    ),
    items(&["noise", "warmth"], "noise, warmth", "noise, warmth", 5),
    step(Part::Paper, "paper", 3),
];

/// A service visit: whatever the machine has.
pub const WHOLE: [Step; 5] = [
    step(Part::GaugeCheck, "gauge check", 3),
    step(Part::Grip, "grip force as found", 15),
    step(Part::Runout, "runout, wall and bar", 35),
    step(Part::Round, "condition round", 20),
    step(Part::Paper, "paper", 5),
];

/// The open visit at the machine.
pub struct OpenVisit {
    /// All of it.
    pub visit: Visit,
    /// Its parts, each with whether it is done.
    pub steps: Vec<(Step, bool)>,
    /// Of a short visit: minutes left, below zero once they are over.
    pub minutes_left: Option<i64>,
}

/// How the day stands.
#[derive(Default)]
pub struct Standing {
    /// The open visit.
    pub open: Option<OpenVisit>,
    /// Whether the book has any visit or spindle.
    pub anything: bool,
    /// Whether it has a visit, whose answers stand there at the next one.
    pub visited: bool,
    /// Ports that are our gauges.
    pub gauges: Vec<String>,
}

impl Standing {
    /// Of this moment.
    ///
    /// # Errors
    /// The book cannot be read: exit 6.
    pub fn now(app: &App) -> Result<Self, Error> {
        let gauges = gauges();
        let Some(book) = app.book_if_there()? else {
            return Ok(Self {
                gauges,
                ..Self::default()
            });
        };
        let mut open = book.open_visits()?;
        open.retain(|visit| !is_from_paper(visit.header()));
        let open = open.pop().map(|visit| book.visit(visit.id)).transpose()?;
        let visited = book.latest_visit()?.is_some();
        let anything =
            open.is_some() || visited || !book.list::<holdtrue_book::SpindleHeader>()?.is_empty();
        let checked = checked_lately(&book)?;
        Ok(Self {
            open: open.map(|visit| OpenVisit::of(visit, checked)),
            anything,
            visited,
            gauges,
        })
    }

    /// What comes next in the open visit; none where there is none.
    pub fn next(&self) -> Option<Step> {
        let steps = &self.open.as_ref()?.steps;
        steps.iter().find(|(_, done)| !done).map(|(step, _)| *step)
    }
}

/// The ports that call themselves our gauge.
pub fn gauges() -> Vec<String> {
    let ports = discover::ports().into_iter();
    ports
        .filter(|port| port.is_gauge)
        .map(|port| port.name)
        .collect()
}

impl OpenVisit {
    fn of(visit: Visit, checked: bool) -> Self {
        let header = visit.visit.header();
        let short = header.short;
        let steps: &[Step] = if short { &SHORT } else { &WHOLE };
        let steps = steps
            .iter()
            .map(|step| (*step, is_done(step.part, &visit, checked)));
        let started: Option<jiff::Timestamp> = header.started_at.parse().ok();
        let gone =
            started.map(|started| (jiff::Timestamp::now().as_second() - started.as_second()) / 60);
        Self {
            minutes_left: gone.filter(|_| short).map(|gone| SHORT_VISIT_MIN - gone),
            steps: steps.collect(),
            visit,
        }
    }

    /// The spindle, as people call it.
    pub fn spindle(&self) -> &str {
        let spindle = self.visit.spindle.as_ref();
        spindle.map_or("unnamed", |spindle| &spindle.header().name)
    }

    /// Its taper, drawbar and drive, as far as they are known.
    pub fn facts(&self) -> String {
        let Some(spindle) = self.visit.spindle.as_ref().map(|spindle| spindle.header()) else {
            return "Say which spindle it is, so that its limits hold.".to_owned();
        };
        let words = |word: &Option<String>| word.as_ref().map(|word| word.replace('-', " "));
        let drive = words(&spindle.drive).map(|drive| format!("{drive} drive"));
        let parts = [
            spindle.machine.clone(),
            interface(spindle),
            words(&spindle.drawbar),
            drive,
            spindle.place.clone(),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        match parts.is_empty() {
            true => "Nothing more is known of this spindle.".to_owned(),
            false => format!("{}.", parts.join(", ")),
        }
    }

    /// Usual minutes of what is left.
    pub fn work_left(&self) -> i64 {
        let left = self.steps.iter().filter(|(_, done)| !done);
        left.map(|(step, _)| step.minutes).sum()
    }

    /// A set that was begun and not finished.
    pub fn broken_off(&self) -> Option<&Check> {
        let open = |check: &&Check| {
            check.results.is_empty() && strike_on(&self.visit.remarks, check.start.id).is_none()
        };
        self.visit.checks.iter().rfind(open)
    }
}

/// Whether a gauge was found fit so lately that it still stands.
fn checked_lately(book: &Book) -> Result<bool, Error> {
    for gauge in book.list::<GaugeHeader>()? {
        let checks = book.gauge_checks(gauge.id)?;
        if checks
            .last()
            .is_some_and(|last| last.fit && unfit::is_of_today(last))
        {
            return Ok(true);
        }
    }
    Ok(false)
}

/// `checked`: a gauge was found fit lately; once something is measured it is too late to ask for that.
fn is_done(part: Part, visit: &Visit, checked: bool) -> bool {
    let measured = |kind: CheckKind| {
        let counted = visit.checks.iter().filter(|check| {
            check.start.kind == kind && strike_on(&visit.remarks, check.start.id).is_none()
        });
        counted.fold(None, |_, check| Some(!check.results.is_empty())) == Some(true)
    };
    match part {
        Part::GaugeCheck => checked || !visit.checks.is_empty(),
        Part::Grip => measured(CheckKind::Grip),
        Part::Runout | Part::ShortRunout => measured(CheckKind::Runout),
        Part::Round => left_of_round(visit).is_some_and(|(left, _)| left == 0),
        Part::Items(ids) => items_of(ids, visit).is_empty(),
        Part::Paper => !visit.finishes.is_empty(),
    }
}

/// Those of these items that this machine has and nobody answered.
pub fn items_of(ids: &[&'static str], visit: &Visit) -> Vec<&'static str> {
    let there = our_items(visit);
    let open = |id: &&&str| there.get(**id) == Some(&false);
    ids.iter().filter(open).copied().collect()
}
