//! A spindle at some distance from its limit: how often it stays undecided.

use super::{Dice, SIGMA_N, TRUTH_N, Tally, checked, clamps, limit, side_by_side};
use std::fmt::Write;

/// Distances of the true mean above the limit, in standard uncertainties of the mean with the gauge.
const DISTANCES: [f64; 11] = [-4.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
const COUNTS: [usize; 3] = [3, 5, 10];
/// Gauge's standard uncertainty over that of the mean of the clamps.
const RATIO: f64 = 1.0;

fn row(count: usize, distance: f64, checks: u64) -> Tally {
    let of_mean = SIGMA_N / (count as f64).sqrt();
    let gauge_n = RATIO * of_mean;
    let at = limit(TRUTH_N - distance * of_mean.hypot(gauge_n));
    let mut tally = Tally::default();
    for check in 0..checks {
        let mut dice = Dice::new(count as u64 + 20_000, check);
        let taken = clamps(&mut dice, count, TRUTH_N, gauge_n);
        let result = checked(&taken, gauge_n, at.clone());
        tally.count(result.verdict.expect("there is a limit").outcome);
    }
    tally
}

/// All rows as a table.
pub fn table(checks: u64) -> String {
    let cases: Vec<(f64, usize)> = DISTANCES
        .iter()
        .flat_map(|d| COUNTS.iter().map(move |n| (*d, *n)))
        .collect();
    let rows = side_by_side(&cases, |(distance, count)| row(*count, *distance, checks));
    let mut text = format!(
        "### Away from the limit (u(gauge) = σ/√n, {checks} checks a row)\n\n\
         | true mean above the limit, in u | 3 clamps: accept / undecided / reject | 5 clamps | 10 clamps |\n\
         |---:|---:|---:|---:|\n"
    );
    for (distance, tallies) in DISTANCES.iter().zip(rows.chunks(COUNTS.len())) {
        let cell = |t: &Tally| {
            let [a, u, r] = [t.accepted, t.undecided, t.rejected].map(|c| t.percent(c));
            format!("{a:.1} / {u:.1} / {r:.1} %")
        };
        let cells: Vec<String> = tallies.iter().map(cell).collect();
        writeln!(text, "| {distance:+} | {} |", cells.join(" | "))
            .expect("a string takes everything");
    }
    text
}
