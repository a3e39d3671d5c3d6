//! What the book says of every spindle. In: the book, a day, how often spindles are visited. Out: one entry a spindle,
//! worst first.

use crate::overview::arguments::OverviewArgs;
use crate::overview::findings::{OpenFinding, Seen};
use crate::overview::newest;
use crate::overview::newest::{BeganAnew, BeyondLimit, JudgedEarlier, StruckVisit};
use crate::terminal::error::Error;
use crate::trend::arguments::Against;
use crate::trend::document::{CrossingAt, at};
use crate::trend::followed::HeldTo;
use crate::trend::{axis, from_book};
use crate::visits::book::opening::{class_of, taper_of};
use crate::visits::checks::stored_calibration;
use crate::visits::checks::stored_figure::{CheckFigures, StoredFigure, verdict_in};
use crate::visits::known_day::{KnownDay, days};
use crate::visits::spindles::history;
use crate::visits::spindles::history::{History, date_of};
use holdtrue_book::{Book, CheckKind, Entity, GaugeHeader, PastCheck, PastVisit, SpindleHeader};
use holdtrue_metrology::decision::Side;
use holdtrue_metrology::side_by_side;
use holdtrue_metrology::trend::{Crossing, NoCrossing, Point, Series};
use holdtrue_metrology::verdict;
use holdtrue_metrology::verdict::Set;
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::{Outcome, Severity, State};
use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// One spindle.
#[derive(Debug, Serialize)]
pub struct Standing {
    /// Its entry.
    pub spindle: Uuid,
    /// What people call it.
    pub name: String,
    /// Where it stands.
    pub place: Option<String>,
    /// Taper and size.
    pub taper: Option<String>,
    /// Its class, where the page of the spindle says one.
    pub class: Option<String>,
    /// How many visits.
    pub visits: usize,
    /// The last visit that counts; null where there is none.
    pub last_visit: Option<LastVisit>,
    /// The checks that one did not judge, with the visit that judged each last.
    pub judged_earlier: Vec<JudgedEarlier>,
    /// Newest figures that are beyond the limit known now, and were not judged, or were within the limit then known.
    pub beyond_limit: Vec<BeyondLimit>,
    /// Visits that were put aside, and count nowhere.
    pub struck_visits: Vec<StruckVisit>,
    /// How it stands after all its visits; null where nothing was judged.
    pub verdict: Option<VerdictOf>,
    /// Results that came to finished visits afterwards, and count nowhere.
    pub added_later: Vec<AddedLater>,
    /// Sets outside a limit that were struck out of the last visit that counts, or of one after it that was struck out whole.
    pub struck_outside: Vec<StruckOutside>,
    /// Visits struck out since they were finished, whole or in part, that count until they are amended.
    pub struck_later: Vec<StruckLater>,
    /// What was seen and nobody found in order since, the most urgent first.
    pub open_findings: Vec<OpenFinding>,
    /// Why it stands where it stands, the gravest first.
    pub why: Why,
    /// The last mean grip force as found; null where there is none.
    pub grip: Option<LastGrip>,
    /// Whether the grip force runs one way.
    pub trend: bool,
    /// N a year; null where no line is shown.
    pub slope_n_per_year: Option<f64>,
    /// When the limit is crossed; null where that is not told.
    pub crossing: Option<CrossingAt>,
    /// The last runout of the bar as found, of the height whose limit is crossed first; null where there is none.
    pub runout: Option<LastRunout>,
    /// When it should be visited next; null where it never was.
    pub next_visit_due: Option<String>,
    /// The gauges last used on it.
    pub calibrations: Vec<CalibrationDue>,
    /// Among the spindles of the book with the same taper and class.
    pub among: Option<Among>,
    /// Something is due on the day it is told for.
    pub due: bool,
    #[serde(skip)]
    order: (Why, f64, f64),
}

/// The last visit.
#[derive(Debug, Serialize)]
pub struct LastVisit {
    /// Which.
    pub visit: Uuid,
    /// When it began.
    pub at: String,
    finished: bool,
    /// Its verdict, without the sets that were struck out; null where nothing was judged.
    pub outcome: Option<Outcome>,
}

/// Why a visit counts although it, or sets of it, were struck out: that came after its end, and no amendment took it up.
#[derive(Debug, Serialize)]
pub struct StruckLater {
    /// Which.
    pub visit: Uuid,
    /// When it began.
    pub at: String,
    /// The visit itself was.
    pub whole: bool,
    /// How many of its sets.
    pub sets: usize,
}

/// A result that came to a visit after its end, by a merge of two books: the visit is what was finished.
#[derive(Debug, Serialize)]
pub struct AddedLater {
    /// Which.
    pub visit: Uuid,
    /// When it began.
    pub at: String,
    /// What was checked.
    pub check: &'static str,
    /// As found, as left, or not said.
    pub state: Option<State>,
    /// How it was decided.
    pub outcome: Option<Outcome>,
    /// Who judged.
    pub by: String,
}

/// A set that was outside a limit and was struck out.
#[derive(Debug, Serialize)]
pub struct StruckOutside {
    /// What was checked.
    pub check: &'static str,
    /// Why it was struck.
    pub reason: String,
}

/// The gravest outcome that no later set took the place of.
#[derive(Debug, Serialize)]
pub struct VerdictOf {
    /// Which.
    pub outcome: Outcome,
    /// The last visit it rests on.
    pub visit: Uuid,
    /// When that began.
    pub at: String,
    /// A set of that visit is judged as amended.
    pub as_amended: bool,
}

/// The last mean grip force as found.
#[derive(Debug, Serialize)]
pub struct LastGrip {
    /// N.
    pub mean_n: f64,
    standard_n: Option<f64>,
    /// When the visit began that gave it.
    pub at: Option<String>,
    /// What it is held against.
    pub limit: Option<HeldTo>,
    /// The last mean grip force as left at the same visit, N; null where there is none.
    pub left_n: Option<f64>,
    /// It was within its limit when it was judged, and is not by the limit known now.
    pub overtaken: bool,
    /// What ended the row before it, where too few visits since give a line; else null.
    pub began_anew: Option<BeganAnew>,
}

impl LastGrip {
    /// What the spindle was left with, N: as found where nobody worked on it.
    fn stands_n(&self) -> f64 {
        self.left_n.unwrap_or(self.mean_n)
    }
}

/// The last runout of the bar as found, through the visits.
#[derive(Debug, Serialize)]
pub struct LastRunout {
    /// Near the nose, or farthest out.
    pub figure: StoredFigure,
    /// TIR, µm.
    pub tir_um: f64,
    standard_um: Option<f64>,
    /// When the visit began that gave it.
    pub at: Option<String>,
    /// What it is held against.
    pub limit: Option<HeldTo>,
    /// Whether it runs one way.
    pub trend: bool,
    /// µm a year; null where no line is shown.
    pub slope_um_per_year: Option<f64>,
    /// When the limit is crossed; null where that is not told.
    pub crossing: Option<CrossingAt>,
    /// What ended the row before it, where too few visits since give a line; else null.
    pub began_anew: Option<BeganAnew>,
}

/// When the calibration of a gauge is due.
#[derive(Clone, Debug, Serialize)]
pub struct CalibrationDue {
    /// Serial number of the gauge.
    pub serial: String,
    /// The day; null where the book has no record of it.
    pub due: Option<String>,
    /// It has passed.
    pub overdue: bool,
}

/// Where a spindle stands among others like it.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Among {
    /// Its place, 1 for the lowest force.
    pub from_lowest: usize,
    /// How many have one.
    pub of: usize,
    /// The middle one of them, N.
    pub median_n: f64,
}

/// What puts a spindle where it stands, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// It was found outside a limit, and not measured there anew since.
    OutsideLimit,
    /// Something was seen that is to be put right before the next run, and nobody found it in order since.
    BeforeNextRun,
    /// A result outside a limit, or undecided, came to a finished visit afterwards.
    AddedLater,
    /// It was within the limit then known, and is not within the one known now.
    LimitOvertaken,
    /// A figure newer than the verdict was not judged, and is beyond the limit known now.
    BeyondLimit,
    /// Its line has crossed the limit.
    Crossed,
    /// It was left undecided, and not measured there anew since.
    Undecided,
    /// It runs towards its limit.
    RunsToLimit,
    /// Its last visit judged nothing; those before left it within its limits.
    LastNotJudged,
    /// Nothing was judged, and a visit, or the calibration of its gauge, is due.
    DueNotJudged,
    /// Within its limits, and a visit, or the calibration of its gauge, is due.
    Due,
    /// It was never measured.
    NotMeasured,
    /// Visited, and nothing was judged.
    NotJudged,
    /// Within its limits.
    WithinLimit,
}

impl Why {
    /// As a person reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::OutsideLimit => "outside limit",
            Self::BeforeNextRun => "a finding is to be put right before the next run",
            Self::AddedLater => "a set not within its limit was added after its visit was finished",
            Self::LimitOvertaken => "not within the limit known now",
            Self::BeyondLimit => "its newest figure is beyond the limit known now, and not judged",
            Self::Crossed => "its line has crossed the limit",
            Self::Undecided => "undecided",
            Self::RunsToLimit => "runs towards its limit",
            Self::LastNotJudged => "last visit not judged",
            Self::DueNotJudged => "not judged, a visit or calibration is due",
            Self::Due => "within limit, a visit or calibration is due",
            Self::NotMeasured => "not measured yet",
            Self::NotJudged => "not judged",
            Self::WithinLimit => "within limit",
        }
    }
}

/// What the overview does not list, and somebody may miss.
#[derive(Debug, Default, Serialize)]
pub struct NotListed {
    /// Spindles taken out of sight with something open.
    pub hidden: Vec<Hidden>,
    /// Visits that are of no spindle yet.
    pub unnamed_visits: usize,
}

/// A spindle taken out of sight although it is not as it should be.
#[derive(Debug, Serialize)]
pub struct Hidden {
    /// Its entry.
    pub spindle: Uuid,
    /// What people call it.
    pub name: String,
    /// How it stands.
    pub why: Why,
    /// Findings that nobody found in order since.
    pub open_findings: usize,
}

impl Why {
    /// Something has to be done about it, whatever the day.
    fn is_open(self) -> bool {
        match self {
            Self::OutsideLimit
            | Self::BeforeNextRun
            | Self::AddedLater
            | Self::LimitOvertaken
            | Self::BeyondLimit
            | Self::Crossed
            | Self::Undecided => true,
            Self::RunsToLimit
            | Self::LastNotJudged
            | Self::DueNotJudged
            | Self::Due
            | Self::NotMeasured
            | Self::NotJudged
            | Self::WithinLimit => false,
        }
    }
}

/// Spindles taken out of the list that somebody has to look at all the same.
fn hidden(
    book: &Book,
    spindles: &[Entity<SpindleHeader>],
    seen: &Seen,
    every: u32,
    on: Date,
) -> Result<Vec<Hidden>, Error> {
    let mut hidden = Vec::new();
    let mut removed = spindles.iter().filter(|page| page.removed).peekable();
    if removed.peek().is_none() {
        return Ok(hidden);
    }
    for page in removed {
        let history = history::of(book, page.id)?;
        let others = history.entries.iter().filter(|entry| **entry != page.id);
        let others = others.map(|entry| book.get::<SpindleHeader>(*entry));
        let others = others.collect::<holdtrue_book::Result<Vec<_>>>()?;
        // Of entries that are one spindle, one that stands is listed for all; of those that do not the first is told.
        if others
            .iter()
            .any(|other| !other.removed || other.id < page.id)
        {
            continue;
        }
        let spindle = Spindle {
            first: page.id,
            page: page.header(),
            history: &history,
            stands: stands(book, &history)?,
            open: seen.open(book, &history)?,
        };
        let standing = standing(&spindle, &BTreeMap::new(), every, on)?;
        if standing.why.is_open() || !standing.open_findings.is_empty() {
            hidden.push(Hidden {
                spindle: page.id,
                name: standing.name,
                why: standing.why,
                open_findings: standing.open_findings.len(),
            });
        }
    }
    Ok(hidden)
}

/// What the book has.
pub struct Gathered {
    /// Every spindle that is wanted, worst first.
    pub spindles: Vec<Standing>,
    /// What is in the book and not listed.
    pub not_listed: NotListed,
}

/// Every spindle that is wanted, worst first, and what is not listed.
///
/// # Errors
/// The book cannot be read: exit 6. The page of a spindle names a taper or class that is not known here: exit 6.
pub fn gather(book: &Book, args: &OverviewArgs, every: u32, on: Date) -> Result<Gathered, Error> {
    let pages_of_all = book.list::<SpindleHeader>()?;
    let checks = [CheckKind::Grip, CheckKind::Runout];
    let pasts = history::of_everyone(book, &pages_of_all, &checks, |kind, document| match kind {
        CheckKind::Runout => CheckFigures::read_tirs(document),
        _ => CheckFigures::read_mean(document),
    })?;
    let seen = Seen::read(book)?;
    let not_listed = NotListed {
        hidden: hidden(book, &pages_of_all, &seen, every, on)?,
        unnamed_visits: pasts.visits_of_none,
    };
    let pasts = pasts.by_first;
    let gauges = gauges(book, &pasts, on)?;
    let pages: BTreeMap<Uuid, &Entity<SpindleHeader>> =
        pages_of_all.iter().map(|page| (page.id, page)).collect();
    let mut spindles = Vec::new();
    for (first, history) in &pasts {
        // Of entries that are one spindle, the page of the first that stands.
        let entries = history.entries.iter();
        let mut pages = entries.filter_map(|entry| pages.get(entry));
        if let Some(page) = pages.find(|page| !page.removed) {
            spindles.push(Spindle {
                first: *first,
                page: page.header(),
                history,
                stands: stands(book, history)?,
                open: seen.open(book, history)?,
            });
        }
    }
    let told = side_by_side::each(&spindles, side_by_side::cores(), |spindle| {
        standing(spindle, &gauges, every, on)
    });
    let mut all = told.into_iter().collect::<Result<Vec<_>, Error>>()?;
    place_among(&mut all);
    let taper = args.interface.map(cone);
    let class = args.class.map(|class| class.word().to_owned());
    let place = args.place.as_ref().map(|place| place.to_lowercase());
    all.retain(|each| {
        let has_place = |wanted: &String| {
            each.place
                .as_ref()
                .is_some_and(|place| place.to_lowercase().contains(wanted))
        };
        taper
            .as_ref()
            .is_none_or(|taper| each.taper.as_ref() == Some(taper))
            && class
                .as_ref()
                .is_none_or(|class| each.class.as_ref() == Some(class))
            && place.as_ref().is_none_or(has_place)
            && (!args.due || each.due)
    });
    all.sort_by(|one, other| {
        let (one_key, other_key) = (&one.order, &other.order);
        one_key
            .0
            .cmp(&other_key.0)
            .then(one_key.1.total_cmp(&other_key.1))
            .then(one_key.2.total_cmp(&other_key.2))
            .then_with(|| one.name.cmp(&other.name))
            .then(one.spindle.cmp(&other.spindle))
    });
    Ok(Gathered {
        spindles: all,
        not_listed,
    })
}

/// What the book has of a spindle.
struct Spindle<'a> {
    first: Uuid,
    page: &'a SpindleHeader,
    history: &'a History,
    stands: Stands,
    open: Vec<OpenFinding>,
}

fn standing(
    spindle: &Spindle<'_>,
    gauges: &BTreeMap<Uuid, CalibrationDue>,
    every: u32,
    on: Date,
) -> Result<Standing, Error> {
    let &Spindle {
        first,
        page,
        history,
        stands,
        ref open,
    } = spindle;
    let visits = newest::counted(history);
    let force = Along::of(page, history, StoredFigure::GripMean, on);
    let runout = RUNOUTS.map(|figure| Along::of(page, history, figure, on));
    let runout = runout.into_iter().flatten().min_by(Along::first_to_cross);
    let along = || force.iter().chain(&runout);
    let last = visits.last().copied();
    let judged = visits.iter().rev().find(|visit| newest::is_judged(visit));
    let beyond_limit = newest::beyond_limit(page, history);
    let outcome = stands.verdict.map(|(outcome, _)| outcome);
    let crossed = along().any(|each| each.crossed);
    let crossing = along()
        .filter_map(|each| each.found.crossing.and_then(Result::ok))
        .min_by(|one, other| soonest(*one).total_cmp(&soonest(*other)));
    let added_later: Vec<AddedLater> = history.visits.iter().flat_map(added_later).collect();
    // A visit after that measured anew.
    let settled = |added: &&AddedLater| last.is_some_and(|last| last.id == added.visit);
    let added = added_later.iter().filter(settled);
    let added = verdict::worst(added.filter_map(|added| added.outcome));
    let not_within = |outcome: Option<Outcome>| outcome.is_some_and(|it| it != Outcome::Accept);
    let beside = force.as_ref().map(|force| beside_found(force, history));
    let overtaken = beside.is_some_and(|(_, overtaken)| overtaken);
    let not_judged = beyond_limit.iter().any(|beyond| beyond.outcome.is_none());
    let then_within = overtaken || beyond_limit.iter().any(|beyond| beyond.outcome.is_some());
    let most_urgent = open.first().and_then(|finding| finding.severity);
    let before_next_run = most_urgent == Some(Severity::BeforeUse);
    let at_once = outcome == Some(Outcome::Reject)
        || before_next_run
        || not_within(added)
        || then_within
        || not_judged;
    // Where nothing was judged nothing begins anew.
    let counts_from = last.filter(|_| at_once).or(judged.copied()).or(last);
    let next_visit_due = counts_from.map(|from| next_due(from, at_once, crossing, every));
    let calibrations = last.map_or_else(Vec::new, |last| used(last, gauges));
    let due = next_visit_due
        .as_ref()
        .is_some_and(|due| *due <= on.to_string())
        || calibrations.iter().any(|calibration| calibration.overdue);
    let why = match outcome {
        Some(Outcome::Reject) => Why::OutsideLimit,
        _ if before_next_run => Why::BeforeNextRun,
        _ if not_within(added) => Why::AddedLater,
        _ if then_within => Why::LimitOvertaken,
        _ if not_judged => Why::BeyondLimit,
        _ if crossed => Why::Crossed,
        Some(Outcome::Undecided) => Why::Undecided,
        _ if crossing.is_some() => Why::RunsToLimit,
        _ if history.visits.is_empty() => Why::NotMeasured,
        Some(Outcome::Accept) if stands.last.is_none() => Why::LastNotJudged,
        Some(Outcome::Accept) if due => Why::Due,
        Some(Outcome::Accept) => Why::WithinLimit,
        None if due => Why::DueNotJudged,
        None => Why::NotJudged,
    };
    let left = along().filter_map(Along::left);
    let left = left.fold(f64::INFINITY, f64::min);
    let soonest = crossing.map_or(f64::INFINITY, soonest);
    Ok(Standing {
        spindle: first,
        name: page.name.clone(),
        place: page.place.clone(),
        taper: taper_of(page)?.map(cone),
        class: class_of(page)?.map(|class| class.word().to_owned()),
        visits: history.visits.len(),
        last_visit: last.map(|last| LastVisit {
            visit: last.id,
            at: last.header.started_at.clone(),
            finished: last.finished,
            outcome: stands.last,
        }),
        judged_earlier: newest::judged_earlier(&visits),
        beyond_limit,
        struck_visits: newest::struck_visits(history),
        verdict: stands.verdict.map(|(outcome, visit)| VerdictOf {
            outcome,
            visit: visits[visit].id,
            at: visits[visit].header.started_at.clone(),
            as_amended: visits[visit]
                .checks
                .iter()
                .any(|check| check.amended.is_some() && check.struck.is_none()),
        }),
        struck_outside: since(history, last).flat_map(struck_outside).collect(),
        added_later,
        struck_later: history.visits.iter().filter_map(struck_later).collect(),
        open_findings: open.clone(),
        why,
        trend: force.as_ref().is_some_and(|force| force.found.trend),
        slope_n_per_year: force.as_ref().and_then(Along::slope_per_year),
        crossing: force.as_ref().and_then(Along::crossing_at),
        grip: force.map(|force| LastGrip {
            mean_n: force.last.value,
            standard_n: force.standard(),
            at: force.day,
            limit: force.limit,
            left_n: beside.and_then(|(left_n, _)| left_n),
            overtaken,
            began_anew: force.began_anew,
        }),
        runout: runout.map(|runout| LastRunout {
            figure: runout.figure,
            tir_um: runout.last.value,
            standard_um: runout.standard(),
            trend: runout.found.trend,
            slope_um_per_year: runout.slope_per_year(),
            crossing: runout.crossing_at(),
            at: runout.day,
            limit: runout.limit,
            began_anew: runout.began_anew,
        }),
        next_visit_due,
        calibrations,
        among: None,
        due,
        order: (why, soonest, left),
    })
}

/// Runouts that are followed: of two that are crossed on one day, or neither, the one farther out is told.
const RUNOUTS: [StoredFigure; 2] = [StoredFigure::Bar, StoredFigure::Nose];

/// A figure of a spindle through its visits, as the overview tells it.
struct Along {
    figure: StoredFigure,
    /// Its last visit.
    visit: Option<Uuid>,
    last: Point,
    day: Option<String>,
    limit: Option<HeldTo>,
    found: Series,
    began_anew: Option<BeganAnew>,
    /// Its line has crossed the limit on the day it is told for.
    crossed: bool,
}

impl Along {
    /// None where no visit gives it.
    fn of(page: &SpindleHeader, history: &History, figure: StoredFigure, on: Date) -> Option<Self> {
        let followed = from_book::follow(page, history, figure, Against::Date);
        let last = followed.rows.last()?;
        let found = followed.series();
        let began_anew = newest::began_anew(history, &followed.rows, found.from);
        let began_anew = began_anew.filter(|it| found.line.is_err() || it.visits_since == 0);
        let crossed = match found.crossing {
            Some(Ok(crossing)) => crossing.estimate <= days(on),
            other => other == Some(Err(NoCrossing::Before)),
        };
        Some(Self {
            figure,
            visit: last.visit,
            last: last.point,
            day: last.day.clone(),
            limit: followed.limit,
            found,
            began_anew,
            crossed,
        })
    }

    fn standard(&self) -> Option<f64> {
        let shared = self.last.shared.unwrap_or(0.0);
        self.last.own.map(|own| own.hypot(shared))
    }

    fn slope_per_year(&self) -> Option<f64> {
        let line = self.found.line.as_ref().ok();
        line.map(|line| line.slope * 365.25)
    }

    fn crossing_at(&self) -> Option<CrossingAt> {
        let crossing = self.found.crossing.and_then(Result::ok);
        crossing.map(|crossing| at(crossing, Against::Date))
    }

    /// How far the last figure is from its limit on the good side, as a share: 1 lies on it.
    fn left(&self) -> Option<f64> {
        let limit = self.limit.as_ref()?;
        Some(match limit.side {
            Side::Lower => self.last.value / limit.value,
            Side::Upper => limit.value / self.last.value,
        })
    }

    fn first_to_cross(&self, other: &Self) -> Ordering {
        let when = |each: &Self| match (each.crossed, each.found.crossing) {
            (true, _) => f64::NEG_INFINITY,
            (false, Some(Ok(crossing))) => soonest(crossing),
            (false, _) => f64::INFINITY,
        };
        when(self).total_cmp(&when(other))
    }
}

/// When a limit may be crossed at the earliest, days from 1970-01-01.
fn soonest(crossing: Crossing) -> f64 {
    crossing.earliest.unwrap_or(f64::NEG_INFINITY)
}

/// The mean as left at the visit that gave the last one as found, N; and whether what that visit left was within its limit when
/// it was judged, and is not by the one known now.
fn beside_found(force: &Along, history: &History) -> (Option<f64>, bool) {
    let visit = history
        .visits
        .iter()
        .find(|visit| Some(visit.id) == force.visit);
    let mut sets = visit
        .iter()
        .flat_map(|visit| &visit.checks)
        .filter(|check| {
            check.kind == CheckKind::Grip && check.struck.is_none() && check.result.is_some()
        });
    let mean = |check: &PastCheck<CheckFigures>| {
        let read = &check.result.as_ref()?.read;
        read.get(StoredFigure::GripMean)
            .map(|measured| measured.value)
    };
    let as_found = |check: &&PastCheck<CheckFigures>| check.state == Some(State::AsFound);
    let found = sets.clone().find(as_found);
    let left = sets.rfind(|check| check.state == Some(State::AsLeft));
    let last = left.or(found);
    let lower = force.limit.as_ref();
    let lower = lower.filter(|limit| limit.side == Side::Lower);
    let under = |mean_n: f64| lower.is_some_and(|limit| mean_n < limit.value);
    let accepted = last.is_some_and(|check| check.outcome() == Some(Outcome::Accept));
    (
        left.and_then(mean),
        accepted && last.and_then(mean).is_some_and(under),
    )
}

fn added_later<T>(visit: &PastVisit<T>) -> impl Iterator<Item = AddedLater> {
    visit.later.iter().map(|later| AddedLater {
        visit: visit.id,
        at: visit.header.started_at.clone(),
        check: later.kind.word(),
        state: later.state,
        outcome: later.outcome,
        by: later.by.clone(),
    })
}

/// The last visit that counts, and those after it.
fn since<'a, T>(
    history: &'a History<T>,
    last: Option<&PastVisit<T>>,
) -> impl Iterator<Item = &'a PastVisit<T>> {
    let id = last.map(|last| last.id);
    let place = history.visits.iter().position(|visit| Some(visit.id) == id);
    history.visits.iter().skip(place.unwrap_or(0))
}

fn struck_outside<T>(visit: &PastVisit<T>) -> Vec<StruckOutside> {
    let outside = |check: &&PastCheck<T>| check.outcome() == Some(Outcome::Reject);
    let struck = visit.checks.iter().filter(outside);
    let struck = struck.filter_map(|check| {
        Some(StruckOutside {
            check: check.kind.word(),
            reason: check.struck.as_ref()?.reason.clone(),
        })
    });
    struck.collect()
}

fn struck_later<T>(visit: &PastVisit<T>) -> Option<StruckLater> {
    let struck = visit
        .checks
        .iter()
        .filter(|check| check.struck_later.is_some());
    let sets = struck.count();
    let whole = visit.struck_later.is_some();
    (whole || sets > 0).then(|| StruckLater {
        visit: visit.id,
        at: visit.header.started_at.clone(),
        whole,
        sets,
    })
}

/// How a spindle stands.
#[derive(Clone, Copy)]
struct Stands {
    /// By its last visit alone.
    last: Option<Outcome>,
    /// By all its visits that count, and the place among them of the last one it rests on.
    verdict: Option<(Outcome, usize)>,
}

/// What each set was held to decides only where a later set may have taken its place, and is read only there.
fn stands(book: &Book, history: &History) -> Result<Stands, Error> {
    let visits = newest::counted(history);
    let Some((last, earlier)) = visits.split_last() else {
        return Ok(Stands {
            last: None,
            verdict: None,
        });
    };
    let of_last = verdict::of_visit(&sets(book, last, one_left(last))?);
    let others = earlier.iter().flat_map(|visit| &visit.checks);
    let others = others.filter(|check| check.struck.is_none());
    let gravest = verdict::worst(others.filter_map(PastCheck::outcome));
    if of_last.is_some() && verdict::worst([of_last, gravest].into_iter().flatten()) == of_last {
        return Ok(Stands {
            last: of_last,
            verdict: of_last.map(|outcome| (outcome, earlier.len())),
        });
    }
    let all = visits.iter().map(|visit| sets(book, visit, true));
    let all: Vec<_> = all.collect::<Result<_, _>>()?;
    Ok(Stands {
        last: of_last,
        verdict: verdict::of_visits(&all),
    })
}

fn one_left(visit: &PastVisit<CheckFigures>) -> bool {
    let mut checks = visit.checks.iter();
    checks.any(|check| check.state == Some(State::AsLeft) && check.struck.is_none())
}

/// The sets of a visit as they count for its verdict, those that were struck out left out; with what each was held to where
/// that is wanted.
fn sets(
    book: &Book,
    visit: &PastVisit<CheckFigures>,
    with_limits: bool,
) -> Result<Vec<Set<&'static str>>, Error> {
    let counted = visit.checks.iter().filter(|check| check.struck.is_none());
    let set = |check: &PastCheck<CheckFigures>| {
        let result = check.result.as_ref();
        let document = result.filter(|_| with_limits && check.amended.is_none());
        let document = document.map(|result| book.result_document(result.id));
        let amended = check.amended.as_ref();
        let verdict = match (amended, document.transpose()?) {
            (Some(amended), _) => verdict_in(&amended.document),
            (None, document) => document.and_then(|text| verdict_in(&text)),
        };
        Ok(Set {
            outcome: check.outcome(),
            ..Set::of(check.kind.word(), check.state, verdict.as_ref())
        })
    };
    counted.map(set).collect()
}

/// So many months after the last visit, or when the limit may be crossed, whichever comes first; at once where it is not
/// within a limit.
fn next_due<T>(
    last: &PastVisit<T>,
    at_once: bool,
    crossing: Option<Crossing>,
    every: u32,
) -> String {
    let began = KnownDay::of(&last.header.started_at).map_or_else(
        || date_of(axis::day(last).unwrap_or_default().floor()),
        |day| day.first.to_string(),
    );
    if at_once {
        return began;
    }
    let regular = began
        .parse::<Date>()
        .ok()
        .and_then(|day| day.checked_add(i64::from(every).months()).ok());
    let regular = regular.map_or_else(|| began.clone(), |day| day.to_string());
    let soonest = crossing.map(|crossing| {
        crossing
            .earliest
            .map_or_else(|| began.clone(), |day| date_of(day.floor()))
    });
    // What may have been crossed before the last visit is due since then.
    soonest.map_or(regular.clone(), |soonest| soonest.max(began).min(regular))
}

fn used<T>(last: &PastVisit<T>, gauges: &BTreeMap<Uuid, CalibrationDue>) -> Vec<CalibrationDue> {
    let mut used: Vec<Uuid> = last.checks.iter().filter_map(|check| check.gauge).collect();
    used.sort();
    used.dedup();
    used.iter()
        .filter_map(|gauge| gauges.get(gauge))
        .cloned()
        .collect()
}

/// When each gauge is due: by the newest calibration it was measured with, or that was entered for it.
fn gauges(
    book: &Book,
    pasts: &BTreeMap<Uuid, History>,
    on: Date,
) -> Result<BTreeMap<Uuid, CalibrationDue>, Error> {
    let visits = pasts.values().flat_map(|history| &history.visits);
    let checks = visits.flat_map(|visit| &visit.checks);
    let used = checks.filter_map(|check| Some((check.gauge?, check.calibration?)));
    let used: BTreeSet<(Uuid, Uuid)> = used.collect();
    let mut found = BTreeMap::new();
    for gauge in book.list::<GaugeHeader>()? {
        let measured_with = used.range((gauge.id, Uuid::nil())..=(gauge.id, Uuid::max()));
        let measured_with = measured_with.map(|(_, calibration)| *calibration);
        let newest = stored_calibration::newest(book, gauge.id, measured_with)?;
        let due = newest.map(|record| holdtrue_gauge::calibration::day_text(record.due_days));
        let overdue = due.as_ref().is_some_and(|due| *due < on.to_string());
        let serial = gauge.header().serial.clone();
        found.insert(
            gauge.id,
            CalibrationDue {
                serial,
                due,
                overdue,
            },
        );
    }
    Ok(found)
}

/// Places each spindle among those of its taper and class; alone it has no place.
fn place_among(all: &mut [Standing]) {
    let mut groups: BTreeMap<(String, Option<String>), Vec<f64>> = BTreeMap::new();
    for each in all.iter() {
        if let (Some(taper), Some(grip)) = (&each.taper, &each.grip) {
            let group = groups
                .entry((taper.clone(), each.class.clone()))
                .or_default();
            group.push(grip.stands_n());
        }
    }
    for group in groups.values_mut() {
        group.sort_by(f64::total_cmp);
    }
    for each in all.iter_mut() {
        let (Some(taper), Some(grip)) = (&each.taper, &each.grip) else {
            continue;
        };
        let group = &groups[&(taper.clone(), each.class.clone())];
        each.among = (group.len() > 1).then(|| Among {
            from_lowest: group.partition_point(|other| *other < grip.stands_n()) + 1,
            of: group.len(),
            median_n: holdtrue_metrology::statistics::median(group),
        });
    }
}

/// The cone alone: spindles take every shank form of it.
fn cone(interface: Interface) -> String {
    let cone = Interface {
        shank: None,
        ..interface
    };
    cone.to_string()
}
