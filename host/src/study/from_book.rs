//! Readings of a study from the book: each spindle measured several times by each technician. In: the book and which
//! checks are meant. Out: one reading a check, the same number for every spindle and technician, and what was left out.

use crate::study::arguments::StudiedChecks;
use crate::terminal::error::{Error, Place, Refusal};
use crate::visits::book::opening::{UNNAMED, find_spindle, short_id};
use crate::visits::checks::stored_figure::StoredFigure;
use holdtrue_book::{Book, Check, Kind, SpindleHeader};
use holdtrue_metrology::study::StudyReading;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// The readings, and what has to be said of them.
#[derive(Clone, Debug)]
pub struct FromBook {
    /// Each spindle by each technician, trials numbered in order of time.
    pub readings: Vec<StudyReading>,
    /// What they are.
    pub figure: StoredFigure,
    /// The spindles differ in taper, size or class.
    pub mixed_classes: bool,
    /// Messages for the person.
    pub messages: Vec<String>,
}

/// One check that gives the figure.
struct StudiedCheck {
    spindle: Uuid,
    technician: String,
    gauge: Option<Uuid>,
    at: String,
    check: Uuid,
    value: f64,
}

/// Gathers them.
///
/// # Errors
/// No such spindle: exit 2. Checks that make no study, with the count of each spindle and technician: exit 4.
pub fn gather(book: &Book, wanted: &StudiedChecks) -> Result<FromBook, Error> {
    let figure = wanted.figure.unwrap_or_default();
    let mut messages = Vec::new();
    let mut taken = checks(book, wanted, figure, &mut messages)?;
    taken.sort_by(|a, b| (&a.at, a.check).cmp(&(&b.at, b.check)));
    let names = names(book, &taken)?;
    let mut cells: BTreeMap<(String, String), Vec<&StudiedCheck>> = BTreeMap::new();
    for one in &taken {
        let cell = (names[&one.spindle].clone(), one.technician.clone());
        cells.entry(cell).or_default().push(one);
    }
    let trials = trials(book, wanted, figure, &cells)?;
    let mut readings = Vec::new();
    let mut left_out = 0;
    let mut gauges = BTreeSet::new();
    for ((part, technician), checks) in &cells {
        let older = checks.len() - trials;
        left_out += older;
        for (trial, one) in (1..).zip(&checks[older..]) {
            gauges.insert(one.gauge);
            readings.push(StudyReading {
                part: part.clone(),
                technician: technician.clone(),
                trial,
                value: one.value,
            });
        }
    }
    if left_out > 0 {
        messages.push(format!(
            "{left_out} older checks are left out: the newest {trials} of each spindle by each technician are taken."
        ));
    }
    if gauges.len() > 1 {
        messages.push(format!(
            "{} gauges were used: what they differ by shows as technicians or as repeats.",
            gauges.len()
        ));
    }
    Ok(FromBook {
        readings,
        figure,
        mixed_classes: mixed_classes(book, &taken)?,
        messages,
    })
}

/// Every check of the book that is meant and gives the figure.
fn checks(
    book: &Book,
    wanted: &StudiedChecks,
    figure: StoredFigure,
    messages: &mut Vec<String>,
) -> Result<Vec<StudiedCheck>, Error> {
    let mut only = BTreeSet::new();
    for spindle in &wanted.spindle {
        let found = find_spindle(book, spindle)?;
        only.extend(book.same(Kind::Spindle, found.id)?);
    }
    let mut taken = Vec::new();
    let mut states = BTreeSet::new();
    let mut skipped = Skipped::default();
    for visit in book.visits()? {
        if visit.removed {
            continue;
        }
        let spindle = visit.header().spindle;
        if !only.is_empty() && spindle.is_none_or(|spindle| !only.contains(&spindle)) {
            continue;
        }
        for check in &book.visit(visit.id)?.checks {
            let meant = check.start.kind == figure.check()
                && in_time(check, wanted)
                && in_state(check, wanted);
            if !meant {
                continue;
            }
            if let Some(one) = take(book, spindle, check, figure, &mut skipped)? {
                states.insert(check.start.state.map(|state| state.word()));
                taken.push(one);
            }
        }
    }
    skipped.tell(figure, messages);
    if states.len() > 1 {
        return Err(Error::usage(
            "study: found checks taken as found and others taken as left, which cleaning parts. \
             Name one kind with --state as-found or --state as-left",
        ));
    }
    Ok(taken)
}

/// The reading a check gives, or why it gives none.
fn take(
    book: &Book,
    spindle: Option<Uuid>,
    check: &Check,
    figure: StoredFigure,
    skipped: &mut Skipped,
) -> Result<Option<StudiedCheck>, Error> {
    let Some(spindle) = spindle else {
        skipped.unnamed_spindle += 1;
        return Ok(None);
    };
    if check.start.stamp.author == UNNAMED {
        skipped.unnamed_technician += 1;
        return Ok(None);
    }
    let result = check.result();
    let Ok(value) = result.map(|result| figure.of(book, result)).transpose() else {
        skipped.unreadable += 1;
        return Ok(None);
    };
    let Some(value) = value.flatten() else {
        skipped.without_figure += 1;
        return Ok(None);
    };
    let same = book.same(Kind::Spindle, spindle)?;
    Ok(Some(StudiedCheck {
        spindle: same.first().copied().unwrap_or(spindle),
        technician: check.start.stamp.author.clone(),
        gauge: check.start.gauge,
        at: check.start.stamp.at.clone(),
        check: check.start.id,
        value,
    }))
}

/// Checks that were meant and could not be used.
#[derive(Default)]
struct Skipped {
    unnamed_spindle: usize,
    unnamed_technician: usize,
    without_figure: usize,
    unreadable: usize,
}

impl Skipped {
    fn tell(&self, figure: StoredFigure, messages: &mut Vec<String>) {
        let why = [
            (
                self.unnamed_spindle,
                "belong to a visit whose spindle is unnamed: name it with holdtrue visit edit --spindle NAME"
                    .to_owned(),
            ),
            (
                self.unnamed_technician,
                "were taken without a technician's name (--technician)".to_owned(),
            ),
            (
                self.unreadable,
                "hold a result this program cannot read (see holdtrue book check)".to_owned(),
            ),
            (
                self.without_figure,
                format!("are unfinished or give no {}", figure.words()),
            ),
        ];
        for (count, why) in why.into_iter().filter(|(count, _)| *count > 0) {
            messages.push(format!("{count} checks are left out: they {why}."));
        }
    }
}

/// Days are those of the place where the check was taken, as its time is written there.
fn in_time(check: &Check, wanted: &StudiedChecks) -> bool {
    let day = check.start.stamp.at.get(..10).unwrap_or_default();
    let from = wanted.since.map(|day| day.to_string());
    let to = wanted.until.map(|day| day.to_string());
    from.is_none_or(|from| day >= from.as_str()) && to.is_none_or(|to| day <= to.as_str())
}

fn in_state(check: &Check, wanted: &StudiedChecks) -> bool {
    let state = wanted.state;
    state.is_none_or(|state| check.start.state == Some(state))
}

fn spindles(taken: &[StudiedCheck]) -> BTreeSet<Uuid> {
    taken.iter().map(|one| one.spindle).collect()
}

/// What people call the spindles; two of one name are told apart by their ids.
fn names(book: &Book, taken: &[StudiedCheck]) -> Result<BTreeMap<Uuid, String>, Error> {
    let mut names = BTreeMap::new();
    for spindle in spindles(taken) {
        let entry = book.get::<SpindleHeader>(spindle)?;
        names.insert(spindle, entry.header().name.clone());
    }
    let all: Vec<String> = names.values().cloned().collect();
    for (id, name) in &mut names {
        if all.iter().filter(|other| *other == name).count() > 1 {
            *name = format!("{name} ({})", short_id(*id));
        }
    }
    Ok(names)
}

/// How many trials every spindle has by every technician.
fn trials(
    book: &Book,
    wanted: &StudiedChecks,
    figure: StoredFigure,
    cells: &BTreeMap<(String, String), Vec<&StudiedCheck>>,
) -> Result<usize, Error> {
    let parts: BTreeSet<&String> = cells.keys().map(|(part, _)| part).collect();
    let people: BTreeSet<&String> = cells.keys().map(|(_, technician)| technician).collect();
    let count = |part: &String, person: &String| {
        let cell = cells.get(&(part.clone(), person.clone()));
        cell.map_or(0, Vec::len)
    };
    let counts = || {
        parts
            .iter()
            .flat_map(|part| people.iter().map(|person| count(part, person)))
    };
    let fewest = counts().min().unwrap_or(0);
    let asked = wanted
        .trials
        .and_then(|trials| usize::try_from(trials).ok());
    let enough = match asked {
        Some(asked) => fewest >= asked,
        None => fewest >= 2 && counts().all(|count| count == fewest),
    };
    if enough && parts.len() > 1 && people.len() > 1 {
        return Ok(asked.unwrap_or(fewest));
    }
    let table: Vec<String> = parts
        .iter()
        .map(|part| {
            let row = people
                .iter()
                .map(|person| format!("{person} {}", count(part, person)));
            format!("{part}: {}", row.collect::<Vec<_>>().join(", "))
        })
        .collect();
    let found = if table.is_empty() {
        format!("no check that gives the {}", figure.words())
    } else {
        format!(
            "checks of the {} as follows: {}",
            figure.words(),
            table.join("; ")
        )
    };
    let next = if fewest >= 2 && parts.len() > 1 && people.len() > 1 {
        format!(
            "Take the newest of each with --trials {fewest}, or choose with --spindle, --since, --until."
        )
    } else {
        "Take the checks that lack, or choose with --spindle, --since, --until; figures from elsewhere come with --from FILE."
            .to_owned()
    };
    Err(Error::input(
        Place::file(&book.path().display().to_string()),
        Refusal {
            found: &found,
            expected: "two spindles or more, each measured equally often, twice or more, by the same two technicians or more",
            next: &next,
        },
    ))
}

fn mixed_classes(book: &Book, taken: &[StudiedCheck]) -> Result<bool, Error> {
    let mut classes = BTreeSet::new();
    for id in spindles(taken) {
        let entry = book.get::<SpindleHeader>(id)?;
        let header = entry.header();
        classes.insert((
            header.taper.clone(),
            header.taper_size,
            header.grip_class.clone(),
        ));
    }
    Ok(classes.len() > 1)
}
