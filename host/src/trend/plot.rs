//! A figure through the visits as plain text. In: the series, what it tells, the units wanted. Out: lines of letters, for a
//! terminal or a mail.

use crate::trend::arguments::Against;
use crate::trend::followed::Followed;
use crate::trend::words::figure;
use crate::visits::spindles::history::date_of;
use holdtrue_metrology::trend::Series;
use holdtrue_wording::digits::{Units, fixed};

const WIDE: usize = 60;
const HIGH: usize = 11;
const LABEL: usize = 12;
/// A limit farther off than so many times what the figures span would only flatten them.
const FAR: f64 = 2.0;

/// The picture; nothing where there are not two visits apart.
pub(crate) fn plot(followed: &Followed, found: &Series, units: &Units) -> Vec<String> {
    let points = followed.points();
    let xs = points.iter().map(|point| point.x);
    let Some(from) = xs.clone().min_by(f64::total_cmp) else {
        return Vec::new();
    };
    let last = xs.max_by(f64::total_cmp).unwrap_or(from);
    let crossing = found.crossing.and_then(Result::ok);
    let to = crossing.map_or(last, |crossing| crossing.estimate.max(last));
    if to <= from {
        return Vec::new();
    }
    let values = points.iter().map(|point| point.value);
    let (mut low, mut high) = (
        values.clone().fold(f64::INFINITY, f64::min),
        values.fold(f64::NEG_INFINITY, f64::max),
    );
    let limit = followed.limit.as_ref().map(|limit| limit.value);
    let limit = limit.filter(|limit| {
        let off = (low - limit).max(limit - high);
        crossing.is_some() || off <= FAR * (high - low)
    });
    if let Some(limit) = limit {
        (low, high) = (low.min(limit), high.max(limit));
    }
    let room = (high - low).max(1e-6 * high.abs().max(1e-9));
    let column = |x: f64| cell((x - from) / (to - from), WIDE);
    let row = |value: f64| cell((high - value) / room, HIGH);
    let mut grid = vec![vec![' '; WIDE]; HIGH];
    if let Some(limit) = limit {
        grid[row(limit)].fill('-');
    }
    for pair in points.windows(2).filter(|pair| pair[1].repair_before) {
        let between = column(f64::midpoint(pair[0].x, pair[1].x));
        grid.iter_mut().for_each(|line| line[between] = '|');
    }
    if let Ok(line) = &found.line {
        let begins = points[found.from].x;
        let drawn = (0..WIDE).filter_map(|place| {
            let x = from + (to - from) * place as f64 / (WIDE - 1) as f64;
            let value = line.at(x);
            (x >= begins && (low..=high).contains(&value)).then(|| (row(value), place))
        });
        for (row, place) in drawn {
            grid[row][place] = '.';
        }
    }
    for (point, visit) in points.iter().zip(&followed.rows) {
        grid[row(point.value)][column(point.x)] = if visit.paper { 'o' } else { '*' };
    }
    let labelled = |number: usize| match number {
        0 => figure(high, followed.unit, units),
        _ if number == HIGH - 1 => figure(low, followed.unit, units),
        _ if limit.is_some_and(|limit| row(limit) == number) => "limit".to_owned(),
        _ => String::new(),
    };
    let mut lines: Vec<String> = (0..)
        .zip(&grid)
        .map(|(number, cells)| {
            let cells: String = cells.iter().collect();
            format!("{:>LABEL$} |{}", labelled(number), cells.trim_end())
        })
        .collect();
    let end = |x: f64| match followed.against {
        Against::Date => date_of(x.floor()),
        Against::Hours | Against::ToolChanges => fixed(x, 0),
    };
    let (left, right) = (end(from), end(to));
    let gap = WIDE.saturating_sub(left.chars().count());
    lines.push(format!("{:>LABEL$}  {left}{right:>gap$}", ""));
    lines.push(format!(
        "{:>LABEL$}  * measured, o from paper, . the line, - the limit, | a new series",
        ""
    ));
    lines
}

/// Which of so many cells a share of the whole falls into.
fn cell(share: f64, cells: usize) -> usize {
    let place = (share * (cells - 1) as f64).round();
    (0..cells)
        .find(|number| *number as f64 >= place)
        .unwrap_or(cells - 1)
}
