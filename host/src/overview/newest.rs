//! What the verdict on a spindle does not rest on: figures newer than it, visits put aside, a row that began anew. In: the page
//! and the past of a spindle. Out: what has to be said beside the verdict.

use crate::trend::followed::{HeldTo, Row};
use crate::trend::{axis, limit};
use crate::visits::checks::stored_figure::{CheckFigures, StoredFigure};
use crate::visits::spindles::events;
use crate::visits::spindles::history::History;
use holdtrue_book::{CheckKind, PastCheck, PastVisit, SpindleHeader};
use holdtrue_metrology::decision::Side;
use holdtrue_terms::vocabulary::Outcome;
use serde::Serialize;
use uuid::Uuid;

/// A check that the last visit did not judge, with the visit that judged it last.
#[derive(Debug, Serialize)]
pub struct JudgedEarlier {
    /// What was checked.
    pub check: &'static str,
    /// Which visit judged it.
    pub visit: Uuid,
    /// When that began.
    pub at: String,
}

/// The newest figure of its kind, that is beyond the limit known now, and that no verdict holds against the spindle.
#[derive(Debug, Serialize)]
pub struct BeyondLimit {
    /// Which.
    pub figure: StoredFigure,
    /// In the unit of the figure: N or µm.
    pub value: f64,
    /// It is a peak, or the like, noted in place of the figure, which is no higher.
    pub at_most: bool,
    /// What it is beyond.
    pub limit: HeldTo,
    /// Within the limit then known; null where it was not judged.
    pub outcome: Option<Outcome>,
    /// Which visit gave it.
    pub visit: Uuid,
    /// When that began.
    pub at: String,
}

/// A visit that was put aside: it counts nowhere.
#[derive(Debug, Serialize)]
pub struct StruckVisit {
    /// Which.
    pub visit: Uuid,
    /// When it began.
    pub at: String,
    /// Why.
    pub reason: String,
}

/// What ended a row of figures, where the visits since are too few for a line, or there is none.
#[derive(Debug, Serialize)]
pub struct BeganAnew {
    /// When it happened, as far as known.
    pub happened: String,
    /// What, in words.
    pub what: String,
    /// How many visits since give the figure as found.
    pub visits_since: usize,
}

/// Figures a spindle is judged by: of a verdict that rests on an older visit these may be newer.
const JUDGED: [StoredFigure; 3] = [
    StoredFigure::GripMean,
    StoredFigure::Nose,
    StoredFigure::Bar,
];

/// The visits that count, in order of time.
pub fn counted<T>(history: &History<T>) -> Vec<&PastVisit<T>> {
    let visits = history.visits.iter();
    visits.filter(|visit| visit.struck.is_none()).collect()
}

/// Whether a set of this visit was judged that counts.
pub fn is_judged<T>(visit: &PastVisit<T>) -> bool {
    visit.checks.iter().any(is_decided)
}

fn is_decided<T>(check: &PastCheck<T>) -> bool {
    check.struck.is_none() && check.outcome().is_some()
}

/// Each check that was judged before the last visit, and not at it.
pub fn judged_earlier<T>(visits: &[&PastVisit<T>]) -> Vec<JudgedEarlier> {
    let Some((last, earlier)) = visits.split_last() else {
        return Vec::new();
    };
    let judges = |visit: &PastVisit<T>, kind: CheckKind| {
        let mut checks = visit.checks.iter();
        checks.any(|check| check.kind == kind && is_decided(check))
    };
    let kinds = [CheckKind::Grip, CheckKind::Runout];
    let not_now = kinds.into_iter().filter(|kind| !judges(last, *kind));
    not_now
        .filter_map(|kind| {
            let visit = earlier.iter().rev().find(|visit| judges(visit, kind))?;
            Some(JudgedEarlier {
                check: kind.word(),
                visit: visit.id,
                at: visit.header.started_at.clone(),
            })
        })
        .collect()
}

/// Every newest figure, in whatever state it was measured, that is beyond the limit known for it now, and was not judged or was
/// within when it was.
pub fn beyond_limit(page: &SpindleHeader, history: &History) -> Vec<BeyondLimit> {
    let beyond = |figure: StoredFigure| {
        let newest = counted(history).into_iter().rev().find_map(|visit| {
            let checks = visit.checks.iter().rev();
            let mut sets = checks.filter(|check| check.struck.is_none());
            let given = sets.find_map(|check| Some((check, given(check, figure)?)))?;
            Some((visit, given))
        });
        let (visit, (check, given)) = newest?;
        let outcome = check.outcome();
        if outcome.is_some_and(|it| it != Outcome::Accept) {
            return None;
        }
        let limit = match figure {
            StoredFigure::GripMean => limit::in_force(page, history, figure),
            _ => limit::judged_at(history, figure, given.height_mm),
        }?;
        let is_beyond = match limit.side {
            Side::Lower => given.value < limit.value,
            Side::Upper => given.value > limit.value,
        };
        is_beyond.then(|| BeyondLimit {
            figure,
            value: given.value,
            at_most: given.at_most,
            limit,
            outcome,
            visit: visit.id,
            at: visit.header.started_at.clone(),
        })
    };
    JUDGED.into_iter().filter_map(beyond).collect()
}

/// What a check says of a figure.
struct Given {
    value: f64,
    height_mm: Option<f64>,
    at_most: bool,
}

/// A mean grip force is no higher than the lowest figure noted in place of its clamps.
fn given(check: &PastCheck<CheckFigures>, figure: StoredFigure) -> Option<Given> {
    if check.kind != figure.check() {
        return None;
    }
    let figures = &check.result.as_ref()?.read;
    let Some(measured) = figures.get(figure) else {
        let noted = figures.noted_n;
        let noted = noted.filter(|_| figure == StoredFigure::GripMean);
        return noted.map(|noted_n| Given {
            value: noted_n,
            height_mm: None,
            at_most: true,
        });
    };
    Some(Given {
        value: measured.value,
        height_mm: measured.height_mm,
        at_most: false,
    })
}

/// The visits that were put aside, in order of time.
pub fn struck_visits<T>(history: &History<T>) -> Vec<StruckVisit> {
    let struck = history.visits.iter().filter_map(|visit| {
        Some(StruckVisit {
            visit: visit.id,
            at: visit.header.started_at.clone(),
            reason: visit.struck.as_ref()?.reason.clone(),
        })
    });
    struck.collect()
}

/// The event behind which these rows begin anew, the first of the new ones being at this place: where it lies behind them all,
/// none is.
pub fn began_anew<T>(history: &History<T>, rows: &[Row], from: usize) -> Option<BeganAnew> {
    let place = |row: &Row| {
        let mut visits = history.visits.iter();
        visits.position(|visit| Some(visit.id) == row.visit)
    };
    let places: Vec<usize> = rows.iter().filter_map(place).collect();
    let (event, visits_since) = match axis::ended_by(history, *places.last()?) {
        Some(event) => (event, 0),
        None => {
            let breaking = history.events.iter().filter(|event| event.breaks);
            let breaks: Vec<_> = breaking.zip(axis::breaks(history)).collect();
            let (before, after) = (*places.get(from.checked_sub(1)?)?, *places.get(from)?);
            let between = |first: usize| (before + 1..=after).contains(&first);
            let (ended, _) = breaks.iter().rev().find(|(_, first)| between(*first))?;
            (*ended, places.len() - from)
        }
    };
    Some(BeganAnew {
        happened: event.event.happened.clone(),
        what: events::what(&event.event)
            .map_or_else(|| event.event.kind.clone(), |what| what.words().to_owned()),
        visits_since,
    })
}
