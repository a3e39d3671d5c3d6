//! A series as it is followed, wherever it comes from.

use crate::trend::arguments::Against;
use crate::visits::checks::stored_figure::StoredFigure;
use holdtrue_metrology::decision::Side;
use holdtrue_metrology::trend::{Limit, Point, Series, follow};
use holdtrue_terms::vocabulary::Provenance;
use serde::Serialize;
use uuid::Uuid;

/// One figure through the visits.
#[derive(Clone, Debug)]
pub struct Followed {
    /// The figure; none of a table that does not say.
    pub figure: Option<StoredFigure>,
    /// Against what.
    pub against: Against,
    /// Which counter of the control, where it is one.
    pub counter: Option<&'static str>,
    /// The unit of the figure.
    pub unit: &'static str,
    /// The visits, in order of time.
    pub rows: Vec<Row>,
    /// What it is held against.
    pub limit: Option<HeldTo>,
    /// What happened since the last of them, and begins a new series: with its day. None where nothing did.
    pub ended_by: Option<String>,
    /// What happened between, marks among it.
    pub events: Vec<Mark>,
    /// What has to be said of them.
    pub messages: Vec<String>,
}

/// One visit of a series.
#[derive(Clone, Debug)]
pub struct Row {
    /// The visit; none of a table.
    pub visit: Option<Uuid>,
    /// The day as it is written; none of a counter.
    pub day: Option<String>,
    /// As the analysis takes it.
    pub point: Point,
    /// The gauge or indicator.
    pub gauge: Option<Uuid>,
    /// Its calibration.
    pub calibration: Option<Uuid>,
    /// It was entered from paper.
    pub paper: bool,
}

/// A limit and where it comes from.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeldTo {
    /// Which side of it is good.
    pub side: Side,
    /// The limit, in the unit of the figure.
    pub value: f64,
    /// Where it comes from; null where it was typed.
    pub provenance: Option<Provenance>,
}

impl HeldTo {
    /// As the analysis takes it.
    pub fn limit(&self) -> Limit {
        Limit {
            side: self.side,
            value: self.value,
        }
    }
}

/// Something that happened to the spindle, or a visit of it that was struck out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mark {
    /// When, as far as known.
    pub happened: String,
    /// What, in words.
    pub what: String,
    /// Figures begin a new series here.
    pub breaks: bool,
    /// Its place among the days; none where it cannot be read.
    #[serde(skip)]
    pub days: Option<f64>,
}

impl Followed {
    /// The points alone.
    pub fn points(&self) -> Vec<Point> {
        self.rows.iter().map(|row| row.point).collect()
    }

    /// What it tells. A line that was ended reaches no limit any more; and what two visits share is known by a calibration
    /// alone, here as wherever else one is held to the other.
    pub fn series(&self) -> Series {
        let mut found = follow(&self.points(), self.limit.as_ref().map(HeldTo::limit));
        if self.ended_by.is_some() {
            found.crossing = None;
        }
        if let [.., before, last] = &self.rows[..]
            && last.visit.is_some()
            && (before.calibration.is_none() || last.calibration.is_none())
        {
            let apart = [(0, before), (1, last)].map(|(calibration, row)| Point {
                calibration,
                ..row.point
            });
            found.step = follow(&apart, None).step;
        }
        found
    }
}
