//! Axes: from figures to places on the paper.
//!
//! In: the span of the figures and of the paper. Out: round ticks, and the place of a figure.

/// A straight axis.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Axis {
    from: f64,
    to: f64,
    start: f64,
    end: f64,
}

impl Axis {
    /// Figures `from` … `to` drawn from `start` to `end`. An empty span is widened so that it can be drawn.
    pub(crate) fn new([from, to]: [f64; 2], [start, end]: [f64; 2]) -> Self {
        let to = if to > from { to } else { from + 1.0 };
        Self {
            from,
            to,
            start,
            end,
        }
    }

    /// Where a figure lies.
    pub(crate) fn place(&self, value: f64) -> f64 {
        self.start + (value - self.from) / (self.to - self.from) * (self.end - self.start)
    }

    /// Where the span begins.
    pub(crate) fn from(&self) -> f64 {
        self.from
    }

    /// Length of the span.
    pub(crate) fn span(&self) -> f64 {
        self.to - self.from
    }

    /// About `wanted` round figures within the span, with the digits they need behind the point.
    pub(crate) fn ticks(&self, wanted: u32) -> (Vec<f64>, usize) {
        let step = round_step((self.to - self.from) / f64::from(wanted.max(1)));
        let mut ticks = Vec::new();
        let mut tick = (self.from / step).ceil() * step;
        while tick <= self.to + 1e-9 * step && ticks.len() < 50 {
            ticks.push(tick);
            tick = ((tick / step).round() + 1.0) * step;
        }
        (ticks, digits_of(step))
    }
}

/// The next step of 1, 2 or 5 times a power of ten.
pub(crate) fn round_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    let steps = [1.0, 2.0, 5.0].map(|times| times * power);
    steps
        .into_iter()
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

fn digits_of(step: f64) -> usize {
    (0..6)
        .find(|digits| {
            let shifted = step * 10_f64.powi(*digits);
            (shifted - shifted.round()).abs() < 1e-6
        })
        .map_or(6, |digits| digits.unsigned_abs() as usize)
}

/// A place on the paper, to a tenth of a pixel: more would only fill the file.
pub(crate) fn px(place: f64) -> String {
    let text = format!("{place:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let (ticks, digits) = Axis::new([-0.3, 10.4], [0.0, 100.0]).ticks(6);
        assert_eq!(ticks, [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]);
        assert_eq!(digits, 0);
        let (ticks, digits) = Axis::new([0.98, 1.02], [0.0, 100.0]).ticks(4);
        assert_eq!((ticks.len(), digits), (5, 2));
    }

    #[test]
    fn a_flat_record_can_be_drawn() {
        assert!(Axis::new([3.0, 3.0], [0.0, 10.0]).place(3.0).abs() < 1e-9);
    }
}
