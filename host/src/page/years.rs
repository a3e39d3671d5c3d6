//! The history of a spindle on one page. In: a spindle of the book. Out: the page: figures through the visits, the visits as
//! a table, what happened between.

use crate::page::checks;
use crate::page::model::{form, on_paper};
use crate::terminal::error::Error;
use crate::terminal::settings::Settings;
use crate::trend::arguments::Against;
use crate::trend::document::{self, Subject};
use crate::trend::followed::{Followed, Row};
use crate::trend::{from_book, words};
use crate::visits::checks::stored_figure::{CheckFigures, StoredFigure};
use crate::visits::known_day;
use crate::visits::spindles::history;
use crate::visits::spindles::history::History;
use holdtrue_book::{Book, CheckKind, Entity, PastCheck, PastVisit, SpindleHeader, Stamp, Visit};
use holdtrue_metrology::decision::Side;
use holdtrue_metrology::trend::Series;
use holdtrue_report::document::{Fact, Rise};
use holdtrue_report::{MOST_RISES, Made, YearBand, YearLimit, YearPoint, YearSeries, Years};
use holdtrue_terms::vocabulary::State;
use holdtrue_wording::digits::{Units, height};
use jiff::Zoned;
use uuid::Uuid;

/// Figures that are drawn where a visit gives them.
const DRAWN: [StoredFigure; 5] = [
    StoredFigure::GripMean,
    StoredFigure::GripLowest,
    StoredFigure::ClampingTime,
    StoredFigure::Bar,
    StoredFigure::Nose,
];

/// Those of them on the page of a visit.
const DRAWN_WITH_VISIT: [StoredFigure; 4] = [
    StoredFigure::GripMean,
    StoredFigure::ClampingTime,
    StoredFigure::Bar,
    StoredFigure::Nose,
];

/// The paper, and the number of visits on it.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn paper(
    book: &Book,
    spindle: &Entity<SpindleHeader>,
    settings: &Settings,
) -> Result<(Made, usize), Error> {
    let today = Zoned::now().date().to_string();
    let past = history::of(book, spindle.id)?;
    let units = settings.units().on_paper();
    let mut series = Vec::new();
    for figure in DRAWN {
        series.extend(one(book, spindle, &past, figure, &units)?);
    }
    let page = Years {
        spindle: on_paper(spindle.header(), settings),
        made_on: known_day::words(&today),
        made: today,
        series,
        rises: rises(book, &past).1,
        columns: [
            "visit",
            "technician",
            "grip as found",
            "grip as left",
            "bar as found",
            "outcome",
        ]
        .map(str::to_owned)
        .into(),
        visits: table(&past, &units),
        events: past
            .events
            .iter()
            .map(|event| {
                let happened = known_day::words(&event.event.happened);
                Fact::new(
                    happened,
                    crate::visits::spindles::events::line(&event.event),
                )
            })
            .collect(),
        program: format!("holdtrue {}", env!("CARGO_PKG_VERSION")),
    };
    Ok((Made::of_years(&page, &form(settings)?), past.visits.len()))
}

/// What a visit gives, through the visits of its spindle up to it: what came later is none of its page. Of a finished visit
/// nor is what was entered or struck after its end.
#[derive(Debug, Default)]
pub struct UpTo {
    /// Its figures.
    pub series: Vec<YearSeries>,
    /// How the force rose at clamping; empty where it has no record of that itself.
    pub rises: Vec<Rise>,
}

/// The same read from the book.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn up_to(book: &Book, visit: &Visit, units: &Units) -> Result<UpTo, Error> {
    let Some(spindle) = &visit.spindle else {
        return Ok(UpTo::default());
    };
    let mut past = history::of(book, spindle.id)?;
    let id = visit.visit.id;
    let end = visit.finishes.first();
    let end = end.and_then(|finish| history::when(&finish.stamp.at));
    let known = |stamp: &Stamp| match (end, history::when(&stamp.at)) {
        (Some([end, _]), Some([at, _])) => at <= end,
        _ => true,
    };
    past.visits
        .retain(|other| other.id == id || known(&other.entered));
    let Some(place) = past.visits.iter().position(|other| other.id == id) else {
        return Ok(UpTo::default());
    };
    past.visits.truncate(place + 1);
    let checks = past.visits.iter_mut().flat_map(|other| &mut other.checks);
    for check in checks {
        check.struck.take_if(|struck| !known(&struck.stamp));
    }
    let began = history::began(&past.visits[place]);
    past.events.retain(|event| {
        let before = event.when.is_some_and(|[from, _]| from < began + 1.0);
        before && known(&event.event.stamp)
    });
    let mut series = Vec::new();
    for figure in DRAWN_WITH_VISIT {
        let followed = from_book::follow(spindle.header(), &past, figure, Against::Date);
        if followed
            .rows
            .last()
            .is_some_and(|row| row.visit == Some(id))
        {
            series.extend(one(book, spindle, &past, figure, units)?);
        }
    }
    let rises = match rises(book, &past) {
        (newest, rises) if newest == Some(id) => rises,
        _ => Vec::new(),
    };
    Ok(UpTo { series, rises })
}

/// The newest visit with a record of how the force rose at clamping, and the rises of it and those before, the oldest first. A visit whose record cannot be read is left
/// out: that keeps nobody from the page of another; `book check` tells of it.
fn rises(book: &Book, past: &History) -> (Option<Uuid>, Vec<Rise>) {
    let newest = past.visits.iter().rev();
    let newest = newest.filter_map(|visit| Some((visit.id, recorded_rise(book, visit)?)));
    let (visits, mut rises): (Vec<Uuid>, Vec<Rise>) = newest.take(MOST_RISES).unzip();
    rises.reverse();
    (visits.first().copied(), rises)
}

/// Of the set as found; the first of several is what was found.
fn recorded_rise(book: &Book, visit: &PastVisit<CheckFigures>) -> Option<Rise> {
    let found = visit.checks.iter().find(|check| {
        let counts = check.struck.is_none() && check.result.is_some();
        counts && check.kind == CheckKind::Grip && check.state == Some(State::AsFound)
    })?;
    let rise = checks::rise(book, visit.id, found.id).ok().flatten()?;
    Some(Rise {
        day: known_day::words(&visit.header.started_at),
        clamping_s: rise.clamping_s,
        points: rise.points,
    })
}

/// A figure through the visits; none where fewer than two give it.
fn one(
    book: &Book,
    spindle: &Entity<SpindleHeader>,
    past: &History,
    figure: StoredFigure,
    units: &Units,
) -> Result<Option<YearSeries>, Error> {
    let followed = from_book::follow(spindle.header(), past, figure, Against::Date);
    if followed.rows.len() < 2 {
        return Ok(None);
    }
    let found = followed.series();
    let subject = Subject::of_book(book, spindle, &followed)?;
    let told = document::of(&followed, &found, &subject);
    let scale = Scale::of(figure, units);
    Ok(Some(YearSeries {
        title: format!(
            "{} as found",
            holdtrue_wording::words::capital(figure.words())
        ),
        unit: scale.symbol.to_owned(),
        points: followed
            .rows
            .iter()
            .enumerate()
            .map(|(place, row)| point(row, place < found.from, &scale))
            .collect(),
        bands: bands(&followed, &found, &scale),
        limit: followed.limit.as_ref().map(|limit| YearLimit {
            value: scale.of_value(limit.value),
            upper: limit.side == Side::Upper,
            name: format!("limit {}", words::figure(limit.value, figure.unit(), units)),
        }),
        marks: followed
            .events
            .iter()
            .filter_map(|mark| Some((mark.days?, mark.what.clone(), mark.breaks)))
            .collect(),
        lines: words::in_short(&followed, &found, &told, units)
            .into_iter()
            .chain(followed.messages.iter().cloned())
            .collect(),
        news: words::runs_to_limit(figure, &followed, &found, units),
    }))
}

/// From the unit of a figure to that of the picture.
struct Scale<'a> {
    figure: StoredFigure,
    units: &'a Units,
    symbol: &'a str,
}

impl<'a> Scale<'a> {
    fn of(figure: StoredFigure, units: &'a Units) -> Self {
        let symbol = match figure.unit() {
            "N" => units.force_symbol(),
            "um" => units.length_symbol(),
            other => other,
        };
        Self {
            figure,
            units,
            symbol,
        }
    }

    fn of_value(&self, value: f64) -> f64 {
        match self.figure.unit() {
            "N" => self.units.force_value(value),
            "um" => value / self.units.length_unit_um(),
            _ => value,
        }
    }
}

fn point(row: &Row, before_repair: bool, scale: &Scale<'_>) -> YearPoint {
    YearPoint {
        day: row.point.x,
        value: scale.of_value(row.point.value),
        half_width: row.point.own.map(|own| scale.of_value(2.0 * own)),
        hollow: row.paper || before_repair,
    }
}

fn bands(followed: &Followed, found: &Series, scale: &Scale<'_>) -> Vec<YearBand> {
    let Ok(line) = &found.line else {
        return Vec::new();
    };
    let stretch = &followed.rows[found.from..];
    let (first, last) = (stretch[0].point.x, stretch[stretch.len() - 1].point.x);
    // Ahead as far as the crossing, and no farther than looked back.
    let crossing = found.crossing.and_then(Result::ok);
    let end = crossing.map_or(last, |crossing| {
        crossing.latest.unwrap_or(2.0 * last - first).max(last)
    });
    let own = stretch
        .iter()
        .rev()
        .find_map(|row| row.point.own)
        .unwrap_or(0.0);
    let ends = |interval: [f64; 2]| interval.map(|value| scale.of_value(value));
    let at = |number: u32| {
        let day = first + (end - first) * f64::from(number) / 40.0;
        YearBand {
            day,
            line: scale.of_value(line.at(day)),
            confidence: ends(line.confidence(day)),
            prediction: ends(line.prediction(day, own)),
        }
    };
    (0..=40).map(at).collect()
}

/// A figure of a set in words: of a runout with its height; of a force noted in place of its clamps, at most that.
fn told_in(check: &PastCheck<CheckFigures>, figure: StoredFigure, units: &Units) -> Option<String> {
    let read = &check.result.as_ref()?.read;
    let told = |value: f64| words::figure(value, figure.unit(), units);
    let Some(measured) = read.get(figure) else {
        let noted_n = read.noted_n.filter(|_| figure == StoredFigure::GripMean)?;
        return Some(format!("at most {}", told(noted_n)));
    };
    let at = measured
        .height_mm
        .filter(|_| figure.unit() == "um")
        .map_or_else(String::new, |mm| format!(" at {}", height(mm)));
    Some(format!("{}{at}", told(measured.value)))
}

fn table(past: &History, units: &Units) -> Vec<Vec<String>> {
    let row = |visit: &PastVisit<CheckFigures>| {
        // Of which nobody said the state stands with what was found, and says so.
        let is_of = |check: &PastCheck<CheckFigures>, state: State| {
            check.state.unwrap_or(State::AsFound) == state
        };
        let of = |figures: &[StoredFigure], state: State| {
            let each = visit.checks.iter().flat_map(|check| {
                let mine = figures
                    .iter()
                    .filter(move |figure| figure.check() == check.kind);
                mine.map(move |figure| (check, *figure))
            });
            let told = each.filter_map(|(check, figure)| {
                let told = told_in(check, figure, units).filter(|_| is_of(check, state))?;
                let unsaid = match check.state {
                    Some(_) => "",
                    None => " (state not said)",
                };
                let struck = check
                    .struck
                    .as_ref()
                    .map_or_else(String::new, |why| format!(" (struck out: {})", why.reason));
                Some(format!("{told}{unsaid}{struck}"))
            });
            told.collect::<Vec<_>>().join("; ")
        };
        let outcomes = visit
            .checks
            .iter()
            .filter(|check| check.struck.is_none())
            .filter_map(|check| {
                let outcome = holdtrue_wording::words::outcome(check.outcome()?);
                let amended = check.amended.as_ref().map_or("", |_| ", as amended");
                Some(format!("{} {outcome}{amended}", check.kind))
            });
        let paper = if visit.header.entered_from.is_some() {
            ", from paper"
        } else {
            ""
        };
        let struck = match (&visit.struck, &visit.struck_later) {
            (Some(why), _) => format!(", struck out: {}", why.reason),
            (None, Some(why)) => {
                format!(
                    ", struck out after its end, and counts until that is amended: {}",
                    why.reason
                )
            }
            (None, None) => String::new(),
        };
        vec![
            format!(
                "{}{paper}{struck}",
                known_day::words(&visit.header.started_at)
            ),
            visit.header.technician.clone(),
            of(&[StoredFigure::GripMean], State::AsFound),
            of(&[StoredFigure::GripMean], State::AsLeft),
            of(&[StoredFigure::Nose, StoredFigure::Bar], State::AsFound),
            outcomes.collect::<Vec<_>>().join(", "),
        ]
    };
    past.visits.iter().map(row).collect()
}
