//! Thins a curve so that every pixel column keeps its lowest and highest point.
//!
//! In: points in order of their place, each with whether the curve is broken before it. Out: a stretch for each part
//! without a break.

/// The stretches of a curve.
pub(crate) fn thinned(
    points: impl IntoIterator<Item = ((f64, f64), bool)>,
) -> Vec<Vec<(f64, f64)>> {
    let mut stretches: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut column: Option<Column> = None;
    for (point, broken) in points {
        column = match column {
            Some(mut open) if !broken && open.holds(point.0) => {
                open.take(point);
                Some(open)
            }
            done => {
                let new_line = broken || done.is_none();
                if let Some(done) = done {
                    done.write(&mut stretches);
                }
                Some(Column::begin(point, new_line))
            }
        };
    }
    if let Some(done) = column {
        done.write(&mut stretches);
    }
    stretches
}

/// The samples of one pixel column.
struct Column {
    pixel: f64,
    new_line: bool,
    low: (f64, f64),
    high: (f64, f64),
}

impl Column {
    fn begin(point: (f64, f64), new_line: bool) -> Self {
        Self {
            pixel: point.0.floor(),
            new_line,
            low: point,
            high: point,
        }
    }

    fn holds(&self, x: f64) -> bool {
        x < self.pixel + 1.0
    }

    fn take(&mut self, point: (f64, f64)) {
        if point.1 > self.low.1 {
            self.low = point;
        }
        if point.1 < self.high.1 {
            self.high = point;
        }
    }

    /// Lowest and highest in the order they came.
    fn write(&self, stretches: &mut Vec<Vec<(f64, f64)>>) {
        let mut points = vec![self.low, self.high];
        points.sort_by(|left, right| left.0.total_cmp(&right.0));
        points.dedup();
        match stretches.last_mut() {
            Some(stretch) if !self.new_line => stretch.extend(points),
            _ => stretches.push(points),
        }
    }
}
