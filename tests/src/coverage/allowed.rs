//! A spindle exactly at its limit, read with every error the budget allows for: with the taper named and without.

use super::{Dice, TRUTH_N, Tally, limit, side_by_side};
use holdtrue_metrology::grip::analyse_readings;
use holdtrue_metrology::grip::setup::{Allowance, Gauge, GripSetup, HalfWidth};
use holdtrue_terms::taper::Interface;
use std::fmt::Write;

/// Counts of clamps simulated.
pub const COUNTS: [usize; 3] = [3, 5, 10];
/// Scatter from clamp to clamp, % of the force.
const SCATTERS_PERCENT: [f64; 2] = [0.3, 1.0];
/// Expanded uncertainty (k = 2) of the gauge, % of the reading.
const GAUGE_PERCENT: f64 = 0.5;
/// The tapers the spindle may have.
pub const TAPERS: [&str; 2] = ["7/24-40", "HSK-A63"];

/// What is simulated in a row.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// The taper the spindle has: what its errors are drawn from.
    pub taper: &'static str,
    /// Whether the check is told.
    pub named: bool,
    /// Clamps a check.
    pub count: usize,
    /// Scatter from clamp to clamp, %.
    pub scatter_percent: f64,
}

impl Row {
    /// What comes of so many checks. At the limit both words are wrong ones.
    pub fn tally(self, checks: u64) -> Tally {
        let taper: Interface = self.taper.parse().expect("a taper that is known");
        let own = Allowance::usual(Some(taper));
        let named = self.named.then_some(taper);
        let setup = GripSetup {
            gauge: Gauge::stated(GAUGE_PERCENT),
            limits: vec![limit(TRUTH_N)],
            interface: named,
            allowances: Allowance::usual(named),
            ..GripSetup::default()
        };
        let seed = 80_000 + u64::from(taper.is_hollow()) * 1_000 + self.count as u64;
        let mut tally = Tally::default();
        for check in 0..checks {
            // The same errors with the taper named and without.
            let mut dice = Dice::new(seed, check);
            let read = self.read_n(&own, &mut dice);
            let result = analyse_readings(&read, &setup).expect("sound readings");
            tally.count(result.verdict.expect("there is a limit").outcome);
        }
        tally
    }

    /// One check: the gauge's error and each allowance drawn once, the clamps scattered about that.
    fn read_n(self, own: &[Allowance], dice: &mut Dice) -> Vec<f64> {
        let gauge = 0.005 * GAUGE_PERCENT * dice.normal();
        let allowed: f64 = own
            .iter()
            .map(|allowance| (2.0 * dice.unit() - 1.0) * share(allowance))
            .sum();
        let mean_n = TRUTH_N * (1.0 + gauge + allowed);
        (0..self.count)
            .map(|_| mean_n + TRUTH_N * self.scatter_percent / 100.0 * dice.normal())
            .collect()
    }
}

fn share(allowance: &Allowance) -> f64 {
    match allowance.half_width {
        HalfWidth::Percent(percent) => percent / 100.0,
        HalfWidth::Newtons(newtons) => newtons / TRUTH_N,
    }
}

/// All rows as a table.
pub fn table(checks: u64) -> String {
    let mut rows = Vec::new();
    for taper in TAPERS {
        for scatter_percent in SCATTERS_PERCENT {
            for count in COUNTS {
                for named in [true, false] {
                    rows.push(Row {
                        taper,
                        named,
                        count,
                        scatter_percent,
                    });
                }
            }
        }
    }
    let tallies = side_by_side(&rows, |row| row.tally(checks));
    let mut text = format!(
        "### At the limit, with and without the taper named (gauge {GAUGE_PERCENT} % (k = 2), {checks} checks a row)\n\n\
         | spindle | scatter | clamps | wrong accept, taper named | not named | wrong reject, taper named | not named |\n\
         |---|---:|---:|---:|---:|---:|---:|\n"
    );
    for (pair, told) in rows.chunks(2).zip(tallies.chunks(2)) {
        let [a, b] = [told[0], told[1]];
        writeln!(
            text,
            "| {} | {} % | {} | {:.2} % | {:.2} % | {:.2} % | {:.2} % |",
            pair[0].taper,
            pair[0].scatter_percent,
            pair[0].count,
            a.percent(a.accepted),
            b.percent(b.accepted),
            a.percent(a.rejected),
            b.percent(b.rejected),
        )
        .expect("a string takes everything");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 5 000 checks: three standard errors at 5 % are 0.9 %.
    #[test]
    fn no_more_is_accepted_without_the_taper_than_with_it() {
        for taper in TAPERS {
            for count in COUNTS {
                let accepted = |named| {
                    let row = Row {
                        taper,
                        named,
                        count,
                        scatter_percent: 1.0,
                    };
                    let tally = row.tally(5_000);
                    tally.percent(tally.accepted)
                };
                let (with, without) = (accepted(true), accepted(false));
                assert!(without <= with, "{taper}, {count}: {without} > {with}");
                assert!(with < 6.0, "{taper}, {count}: {with}");
            }
        }
    }
}
