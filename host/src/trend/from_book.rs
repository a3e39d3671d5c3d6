//! A figure of a spindle through its visits. In: its page and past, which figure, against what. Out: the series: sets as found only,
//! those that count, one a visit.

use crate::trend::arguments::Against;
use crate::trend::axis;
use crate::trend::followed::{Followed, Mark, Row};
use crate::trend::limit;
use crate::visits::checks::stored_figure::{CheckFigures, Measured, StoredFigure, is_one_place};
use crate::visits::counters::Counter;
use crate::visits::known_day;
use crate::visits::spindles::events;
use crate::visits::spindles::history;
use crate::visits::spindles::history::History;
use holdtrue_book::{PastCheck, SpindleHeader};
use holdtrue_metrology::trend::{LINE_FROM, Point};
use holdtrue_terms::vocabulary::State;
use std::borrow::Borrow;
use uuid::Uuid;

/// A visit whose set as found gives the figure.
struct Found<'a, T> {
    place: usize,
    check: &'a PastCheck<T>,
    measured: &'a Measured,
}

/// Why sets are not in a series.
#[derive(Default)]
struct LeftOut {
    struck: usize,
    struck_later: usize,
    unsaid: usize,
    without: usize,
    unreadable: usize,
    second: usize,
    elsewhere: usize,
}

/// The series of a figure, held to the limit of its spindle.
pub fn follow<T: Borrow<CheckFigures>>(
    page: &SpindleHeader,
    history: &History<T>,
    figure: StoredFigure,
    against: Against,
) -> Followed {
    let mut left_out = LeftOut::default();
    let mut found = found(history, figure, &mut left_out);
    one_height(&mut found, &mut left_out);
    let places: Vec<usize> = found.iter().map(|each| each.place).collect();
    let mut messages = left_out.told(figure);
    let (counter, xs) = match against {
        Against::Date => {
            let days = places
                .iter()
                .map(|place| axis::day(&history.visits[*place]));
            (None, days.collect())
        }
        Against::Hours | Against::ToolChanges => {
            let counter = match against {
                Against::ToolChanges => Counter::ToolChanges,
                _ => axis::hours(history, &places),
            };
            let counted = axis::counted(history, &places, counter);
            messages.extend(counted.messages);
            (Some(counter.words()), counted.counts)
        }
    };
    let breaks = axis::breaks(history);
    let mut known = Vec::new();
    let mut rows: Vec<Row> = Vec::new();
    let mut before: Option<usize> = None;
    for (each, x) in found.iter().zip(xs) {
        let Some(x) = x else { continue };
        let repair_before = before.is_some_and(|before| {
            breaks
                .iter()
                .any(|first| (before + 1..=each.place).contains(first))
        });
        before = Some(each.place);
        rows.push(row(history, each, x, repair_before, &mut known));
    }
    messages.extend(shifts(&rows, known.len()));
    let ended_by = places
        .last()
        .and_then(|last| axis::ended_by(history, *last));
    let ended_by = ended_by.map(|past| {
        let day = known_day::words(&past.event.happened);
        format!("{}, {day}", events::line(&past.event))
    });
    let unknown = rows.iter().filter(|row| row.point.own.is_none()).count();
    if unknown > 0 {
        messages.push(format!(
            "{unknown} of the visits do not tell the uncertainty of their gauge: each weighs no more than the one known least, and where none is known what the gauge itself reads wrong is in no interval."
        ));
    }
    Followed {
        figure: Some(figure),
        against,
        counter,
        unit: figure.unit(),
        rows,
        limit: limit::in_force(page, history, figure),
        ended_by,
        events: marks(history),
        messages,
    }
}

/// What is to be said where visits were measured with more than one gauge or calibration, and there may be a line through them.
fn shifts(rows: &[Row], used: usize) -> Option<String> {
    if used < 2 || rows.len() < LINE_FROM {
        return None;
    }
    let known = rows.iter().filter(|row| row.point.shared.is_some()).count();
    Some(match known {
        0 => format!(
            "{used} gauges or calibrations were used, and how far they differ is not known: a step from one to the next counts for nothing in the slope."
        ),
        _ if known < rows.len() => format!(
            "{used} gauges or calibrations were used. Of some the uncertainty is not known: they are taken to be as sure as the least sure of the others, and \
             the shift from one to the next is allowed for."
        ),
        _ => {
            format!("{used} calibrations were used: the shift from one to the next is allowed for.")
        }
    })
}

fn found<'a, T: Borrow<CheckFigures>>(
    history: &'a History<T>,
    figure: StoredFigure,
    left_out: &mut LeftOut,
) -> Vec<Found<'a, T>> {
    let mut found = Vec::new();
    for (place, visit) in history.visits.iter().enumerate() {
        let mut taken = false;
        for check in visit
            .checks
            .iter()
            .filter(|check| check.kind == figure.check())
        {
            let Some(result) = &check.result else {
                continue;
            };
            let figures: &CheckFigures = result.read.borrow();
            match (check.state, figures.get(figure)) {
                _ if check.struck.is_some() => left_out.struck += 1,
                (Some(State::AsLeft), _) => {}
                (None, _) => left_out.unsaid += 1,
                (Some(State::AsFound), None) if figures.unreadable.is_some() => {
                    left_out.unreadable += 1
                }
                (Some(State::AsFound), None) => left_out.without += 1,
                (Some(State::AsFound), Some(_)) if taken => left_out.second += 1,
                (Some(State::AsFound), Some(measured)) => {
                    taken = true;
                    left_out.struck_later += usize::from(check.struck_later.is_some());
                    found.push(Found {
                        place,
                        check,
                        measured,
                    });
                }
            }
        }
    }
    found
}

/// Readings at one height: that of the last visit.
fn one_height<T>(found: &mut Vec<Found<'_, T>>, left_out: &mut LeftOut) {
    let Some(height_mm) = found.last().and_then(|last| last.measured.height_mm) else {
        return;
    };
    let before = found.len();
    found.retain(|each| {
        let other = each.measured.height_mm;
        other.is_some_and(|other| is_one_place(height_mm, other))
    });
    left_out.elsewhere = before - found.len();
}

fn row<T>(
    history: &History<T>,
    found: &Found<'_, T>,
    x: f64,
    repair_before: bool,
    known: &mut Vec<Option<Uuid>>,
) -> Row {
    let Found {
        place,
        check,
        measured,
    } = found;
    let visit = &history.visits[*place];
    // Without a calibration record the gauge itself is what visits share; typed without a gauge they share the hand.
    let shared_by = check.calibration.or(check.gauge);
    let calibration = known
        .iter()
        .position(|other| *other == shared_by)
        .unwrap_or_else(|| {
            known.push(shared_by);
            known.len() - 1
        });
    let own = measured.own();
    Row {
        visit: Some(visit.id),
        day: Some(visit.header.started_at.clone()),
        point: Point {
            x,
            value: measured.value,
            own: Some(own).filter(|own| measured.complete && *own > 0.0),
            own_dof: measured.own_dof(),
            shared: Some(measured.shared()).filter(|_| measured.complete),
            calibration,
            repair_before,
        },
        gauge: check.gauge,
        calibration: check.calibration,
        paper: visit.header.entered_from.is_some(),
    }
}

fn marks<T>(history: &History<T>) -> Vec<Mark> {
    let middle = |when: Option<[f64; 2]>| when.map(|[from, to]| 0.5 * (from + to));
    let mark = |past: &history::PastEvent| Mark {
        happened: past.event.happened.clone(),
        what: events::line(&past.event),
        breaks: past.breaks,
        days: middle(past.when),
    };
    let struck = history.visits.iter().filter_map(|visit| {
        let struck = visit.struck.as_ref()?;
        Some(Mark {
            happened: visit.header.started_at.clone(),
            what: format!("the visit is struck out: {}", struck.reason),
            breaks: false,
            days: middle(history::when(&visit.header.started_at)),
        })
    });
    let mut marks: Vec<Mark> = history.events.iter().map(mark).chain(struck).collect();
    let at = |mark: &Mark| mark.days.unwrap_or(f64::NEG_INFINITY);
    marks.sort_by(|one, other| at(one).total_cmp(&at(other)));
    marks
}

impl LeftOut {
    fn told(&self, figure: StoredFigure) -> Vec<String> {
        let why = [
            (self.struck, "are struck out".to_owned()),
            (
                self.unsaid,
                "do not say whether they were taken as found or as left (--state), and as found alone is followed".to_owned(),
            ),
            (self.without, format!("give no {}", figure.words())),
            (self.unreadable, "hold a result this program cannot read (see holdtrue book check)".to_owned()),
            (
                self.second,
                "are a second set as found of their visit; the first is what was found".to_owned(),
            ),
            (self.elsewhere, "were read at another height than the last visit".to_owned()),
        ];
        let told = why.into_iter().filter(|(count, _)| *count > 0);
        let later = match self.struck_later {
            0 => None,
            1 => Some("1 check was struck out after its visit was finished"),
            _ => Some("Some checks were struck out after their visits were finished"),
        };
        let later = later.map(|what| {
            format!("{what}: that counts once holdtrue visit amend takes it up, and is followed until then.")
        });
        told.map(|(count, why)| match count {
            1 => format!("1 check is left out: such checks {why}."),
            _ => format!("{count} checks are left out: they {why}."),
        })
        .chain(later)
        .collect()
    }
}
