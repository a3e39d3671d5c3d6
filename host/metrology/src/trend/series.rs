//! Everything a series of visits tells. In: their figures in order of time, and a limit. Out: the line of the last stretch
//! that nothing broke, whether it is a trend, when it reaches the limit, the last step, the chart.

use super::Point;
use super::chart::{Chart, individuals_chart};
use super::crossing::{Crossing, NoCrossing, crossing};
use super::line::{LEVEL, Line, NoLine, line};
use crate::decision::Side;
use crate::special::t_quantile;
use serde::Serialize;

/// From so many visits a line may be shown.
pub const LINE_FROM: usize = 4;
/// From so many a crossing.
pub const CROSSING_FROM: usize = 5;
/// From so many the individuals chart.
pub const CHART_FROM: usize = 8;

/// What a figure is held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Which side of it is good.
    pub side: Side,
    /// The limit, in the unit of the figure.
    pub value: f64,
}

/// What a series tells. A part that takes more visits than there are is none.
#[derive(Clone, Debug)]
pub struct Series {
    /// Place of the first point of the stretch that the rest is of.
    pub from: usize,
    /// The line, or why there is none to show.
    pub line: Result<Line, NoLine>,
    /// The figures run one way.
    pub trend: bool,
    /// When the limit is reached; none without a limit or without a trend.
    pub crossing: Option<Result<Crossing, NoCrossing>>,
    /// Against the visit before, whatever happened between.
    pub step: Option<Step>,
    /// The individuals chart.
    pub chart: Option<Chart>,
}

/// The last figure against the one before.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Step {
    /// Last less the one before.
    pub change: f64,
    /// Expanded uncertainty (95 %) of that; none where either is not known.
    pub expanded: Option<f64>,
    /// The change is larger than that.
    pub seen: Option<bool>,
    /// Something happened between that begins a new series.
    pub repair_between: bool,
}

/// Follows a series in order of time.
pub fn follow(points: &[Point], limit: Option<Limit>) -> Series {
    let from = points
        .iter()
        .rposition(|point| point.repair_before)
        .unwrap_or(0);
    let stretch = &with_unknown_shifts(&points[from..])[..];
    let line = match stretch.len() < LINE_FROM {
        true => Err(NoLine::TooFew),
        false => line(stretch),
    };
    let trend = line.as_ref().is_ok_and(Line::runs_one_way);
    let values: Vec<f64> = stretch.iter().map(|point| point.value).collect();
    let reached = match (&line, limit) {
        (Ok(line), Some(limit)) if trend && stretch.len() >= CROSSING_FROM => {
            let seen = [stretch[0].x, stretch[stretch.len() - 1].x];
            Some(crossing(line, limit.value, limit.side == Side::Lower, seen))
        }
        _ => None,
    };
    Series {
        from,
        trend,
        crossing: reached,
        step: step(points),
        chart: (stretch.len() >= CHART_FROM)
            .then(|| individuals_chart(&values))
            .flatten(),
        line,
    }
}

/// Of several gauges or calibrations, where what the points of one share is not known it is taken to be as large as the largest
/// that is. Where it is known of none, two may differ by all that is seen, and the last is held to: a step between them is then
/// no slope.
fn with_unknown_shifts(stretch: &[Point]) -> Vec<Point> {
    let mut points = stretch.to_vec();
    let Some(last) = stretch.last() else {
        return points;
    };
    if stretch
        .iter()
        .all(|point| point.calibration == last.calibration)
    {
        return points;
    }
    let known = stretch.iter().filter_map(|point| point.shared);
    let widest = known.reduce(f64::max);
    let values = || stretch.iter().map(|point| point.value);
    let range = values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min);
    for point in points.iter_mut().filter(|point| point.shared.is_none()) {
        point.shared = match widest {
            Some(widest) => Some(widest),
            None => (point.calibration != last.calibration).then_some(range),
        };
    }
    points
}

/// What both share by one calibration cancels; of two calibrations both count.
fn step(points: &[Point]) -> Option<Step> {
    let [.., before, last] = points else {
        return None;
    };
    let change = last.value - before.value;
    let same = last.calibration == before.calibration;
    let expanded = before.own.zip(last.own).and_then(|(one, other)| {
        let shared = match same {
            true => 0.0,
            false => before.shared?.powi(2) + last.shared?.powi(2),
        };
        let own = [(one, before.own_dof), (other, last.own_dof)];
        let variance = shared + own.iter().map(|(own, _)| own * own).sum::<f64>();
        let rest: f64 = own.iter().map(|(own, dof)| own.powi(4) / dof).sum();
        let dof = if rest > 0.0 {
            variance * variance / rest
        } else {
            f64::INFINITY
        };
        Some(t_quantile(0.5 + 0.5 * LEVEL, dof) * variance.sqrt())
    });
    Some(Step {
        change,
        expanded,
        seen: expanded.map(|expanded| change.abs() > expanded),
        repair_between: last.repair_before,
    })
}
