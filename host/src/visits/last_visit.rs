//! What is known of a spindle from its last visit. In: a visit. Out: the figures of the one before it, the gauge they were read
//! on, what happened since, and what was found and is still open.

use crate::terminal::error::Error;
use crate::visits::checks::since;
use crate::visits::checks::since::AmongVisits;
use crate::visits::checks::stored_figure::{CheckFigures, Measured, StoredFigure};
use crate::visits::corrected::finding_line;
use crate::visits::findings::open::{open_after, said_of};
use crate::visits::known_day;
use crate::visits::spindles::events;
use holdtrue_book::{Book, CheckKind, Finding, GaugeHeader, PastCheck};
use holdtrue_terms::vocabulary::State;
use holdtrue_wording::digits::{Units, height};
use serde_json::{Value, json};
use uuid::Uuid;

/// The last visit to a spindle before another.
#[derive(Debug)]
pub struct LastVisit {
    id: Uuid,
    started_at: String,
    technician: String,
    gauges: Vec<String>,
    figures: Vec<LastFigure>,
    /// The same of other sets in the same state.
    others: Vec<LastFigure>,
    /// What happened to the spindle since.
    since: Vec<String>,
    open: Vec<Finding>,
}

/// A figure of it.
#[derive(Debug)]
struct LastFigure {
    name: String,
    value: f64,
    unit: &'static str,
    state: Option<State>,
}

/// The visit before this one; none for the first.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn before(book: &Book, among: &AmongVisits) -> Result<Option<LastVisit>, Error> {
    let Some(last) = among.earlier().next_back() else {
        return Ok(None);
    };
    let mut figures = Vec::new();
    let mut others = Vec::new();
    let mut gauges = Vec::new();
    for kind in [CheckKind::Grip, CheckKind::Runout] {
        let Some(set) = among.left(last, kind) else {
            continue;
        };
        if let Some(gauge) = set.gauge {
            gauges.push(book.get::<GaugeHeader>(gauge)?.header().serial.clone());
        }
        figures.extend(figures_of(set));
        // A set in the same state that read otherwise is news, whichever of the two is held to.
        let beside = since::sets(last, kind).filter(|other| other.id != set.id);
        let beside = beside.filter(|other| other.state == set.state);
        others.extend(beside.flat_map(figures_of));
    }
    gauges.dedup();
    let is_left = figures
        .iter()
        .any(|figure: &LastFigure| figure.state == Some(State::AsLeft));
    let since = among.happened_since(last.id, is_left).map(|event| {
        let day = known_day::words(&event.happened);
        format!("{}, {day}", events::line(event))
    });
    let since = since.collect();
    let visits = among.earlier().map(|visit| visit.id);
    let open = open_after(
        book,
        visits,
        |visit| book.findings(visit),
        &said_of(book)?,
        |finding| among.is_gone(finding),
    )?;
    Ok(Some(LastVisit {
        id: last.id,
        started_at: last.header.started_at.clone(),
        technician: last.header.technician.clone(),
        gauges,
        figures,
        others,
        since,
        open,
    }))
}

fn figures_of(set: &PastCheck<CheckFigures>) -> impl Iterator<Item = LastFigure> {
    let read = set.result.iter().map(|result| &result.read);
    let figures = read.flat_map(|read| &read.figures).filter_map(named);
    figures.map(|(name, value, unit)| LastFigure {
        name,
        value,
        unit,
        state: set.state,
    })
}

/// The figures one asks for first.
fn named((figure, measured): &(StoredFigure, Measured)) -> Option<(String, f64, &'static str)> {
    let name = match figure {
        StoredFigure::GripMean | StoredFigure::GripLowest => figure.words().to_owned(),
        StoredFigure::Nose | StoredFigure::Bar => {
            let at = measured
                .height_mm
                .map_or_else(String::new, |mm| format!(", {}", height(mm)));
            format!("TIR of the bar{at}")
        }
        _ => return None,
    };
    Some((name, measured.value, figure.unit()))
}

impl LastVisit {
    /// As a person reads it.
    pub fn lines(&self, units: &Units) -> Vec<String> {
        let on = match self.gauges.as_slice() {
            [] => String::new(),
            some => format!(", read on {}", some.join(", ")),
        };
        let mut lines = vec![format!(
            "Last visit: {}, by {}{on}",
            known_day::words(&self.started_at),
            self.technician
        )];
        let line = |figure: &LastFigure| {
            let state = figure
                .state
                .map_or_else(String::new, |state| format!(", {}", state.words()));
            format!(
                "  {:<22} {}{state}",
                figure.name,
                units.in_unit(figure.value, figure.unit)
            )
        };
        lines.extend(self.figures.iter().map(line));
        let others = self.others.iter().map(line);
        lines.extend(others.map(|line| format!("{line}: another set of that visit")));
        let since = self.since.iter();
        lines.extend(since.map(|happened| format!("  since then: {happened}")));
        lines.extend(
            self.open
                .iter()
                .map(|finding| format!("  still open: {}", finding_line(finding))),
        );
        lines
    }

    /// The same in a document.
    pub fn document(&self) -> Value {
        let of = |figures: &[LastFigure]| -> Vec<Value> {
            let figures = figures.iter().map(|figure| {
                json!({
                    "figure": since::plain(&figure.name),
                    "value": figure.value,
                    "unit": figure.unit,
                    "state": figure.state.map(holdtrue_terms::vocabulary::Vocabulary::word),
                })
            });
            figures.collect()
        };
        json!({
            "visit": self.id,
            "started_at": self.started_at,
            "technician": self.technician,
            "gauges": self.gauges,
            "figures": of(&self.figures),
            "other_sets": of(&self.others),
            "since": self.since,
            "open_findings": self.open.iter().map(finding_line).collect::<Vec<_>>(),
        })
    }
}
