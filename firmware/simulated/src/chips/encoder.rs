//! In: where the plunger is, µm. Out: the A and B lines of an incremental probe, one edge at a time.

/// An A/B probe: four counts a period.
#[derive(Clone, Debug)]
pub struct Encoder {
    nm_per_count: f64,
    count: i64,
}

impl Encoder {
    /// A probe standing at `plunger_um` when it was switched on: that is its zero.
    pub fn new(nm_per_count: u32, plunger_um: f64) -> Self {
        let mut encoder = Self {
            nm_per_count: f64::from(nm_per_count),
            count: 0,
        };
        encoder.count = encoder.nearest(plunger_um);
        encoder
    }

    /// Levels of A and B. In the direction of growing readings A leads B by a quarter period.
    pub fn lines(&self) -> (bool, bool) {
        match self.count.rem_euclid(4) {
            0 => (false, false),
            1 => (true, false),
            2 => (true, true),
            _ => (false, true),
        }
    }

    /// Where it stands, counts.
    pub fn count(&self) -> i64 {
        self.count
    }

    /// Moves by one count towards the plunger; the new levels if there was an edge.
    pub fn step_towards(&mut self, plunger_um: f64) -> Option<(bool, bool)> {
        // Half a count of hysteresis, as probes have it: noise at a line's edge must not chatter.
        let exact = plunger_um * 1_000.0 / self.nm_per_count;
        let off = exact - self.count as f64;
        if off.abs() < 0.75 {
            return None;
        }
        self.count += if off > 0.0 { 1 } else { -1 };
        Some(self.lines())
    }

    #[expect(
        clippy::cast_possible_truncation,
        reason = "a plunger moves millimetres, not kilometres"
    )]
    fn nearest(&self, plunger_um: f64) -> i64 {
        (plunger_um * 1_000.0 / self.nm_per_count).round() as i64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_change_one_at_a_time_and_follow_the_plunger() {
        let mut encoder = Encoder::new(100, 0.0);
        let (mut a, mut b) = encoder.lines();
        let mut edges = 0;
        while let Some((next_a, next_b)) = encoder.step_towards(5.0) {
            assert!((next_a != a) ^ (next_b != b), "exactly one line changes");
            (a, b) = (next_a, next_b);
            edges += 1;
        }
        assert_eq!(edges, 50, "5 µm at 0.1 µm a count");
        assert_eq!(encoder.step_towards(4.98), None, "hysteresis");
    }
}
