//! A spindle exactly at its limit: how often it is called within or outside, and how often the
//! expanded uncertainty covers the truth.

use super::{Dice, SIGMA_N, TRUTH_N, Tally, checked, clamps, limit, side_by_side};
use holdtrue_metrology::decision::judge;
use std::fmt::Write;

/// Counts of clamps simulated.
pub const COUNTS: [u32; 5] = [2, 3, 4, 5, 10];
/// Gauge's standard uncertainty over that of the mean of the clamps.
pub const RATIOS: [f64; 6] = [0.0, 0.25, 0.5, 1.0, 2.0, 4.0];

/// What happened in one row.
#[derive(Clone, Copy, Debug)]
pub struct AtTheLimit {
    /// Clamps a check.
    pub count: u32,
    /// Gauge's standard uncertainty over that of the mean.
    pub ratio: f64,
    /// Share of checks whose 95 % interval holds the truth, %.
    pub coverage_percent: f64,
    /// Wrong accepts and rejects by Student's t with Welch-Satterthwaite, %.
    pub student_percent: [f64; 2],
    /// Wrong accepts and rejects by the rule in force, %.
    pub in_force_percent: [f64; 2],
}

/// Simulates one row. At the limit both words are wrong ones: the worst place for either.
pub fn row(count: u32, ratio: f64, checks: u64) -> AtTheLimit {
    let gauge_n = ratio * SIGMA_N / f64::from(count).sqrt();
    let at = limit(TRUTH_N);
    let (mut student, mut in_force, mut covered) = (Tally::default(), Tally::default(), 0_u32);
    let place = RATIOS
        .iter()
        .position(|r| r.total_cmp(&ratio).is_eq())
        .unwrap_or(RATIOS.len());
    let row_number = u64::from(count) * 100 + place as u64;
    for check in 0..checks {
        let mut dice = Dice::new(row_number, check);
        let taken = clamps(
            &mut dice,
            usize::try_from(count).expect("a few"),
            TRUTH_N,
            gauge_n,
        );
        let result = checked(&taken, gauge_n, at.clone());
        let mean_n = result.statistics.expect("clamps that count").mean_n;
        let u = result.uncertainty.expect("the gauge's is known");
        let dof = u.effective_dof.unwrap_or(f64::INFINITY);
        student.count(judge(&at, mean_n, u.combined_n, dof).outcome);
        in_force.count(result.verdict.expect("there is a limit").outcome);
        covered += u32::from((mean_n - TRUTH_N).abs() <= u.expanded_n);
    }
    let both = |t: Tally| [t.percent(t.accepted), t.percent(t.rejected)];
    AtTheLimit {
        count,
        ratio,
        coverage_percent: student.percent(covered),
        student_percent: both(student),
        in_force_percent: both(in_force),
    }
}

/// All rows as a table.
pub fn table(checks: u64) -> String {
    let cases: Vec<(u32, f64)> = COUNTS
        .iter()
        .flat_map(|n| RATIOS.iter().map(move |r| (*n, *r)))
        .collect();
    let rows = side_by_side(&cases, |(count, ratio)| row(*count, *ratio, checks));
    let mut text = format!(
        "### At the limit ({checks} checks a row)\n\n\
         | clamps | u(gauge) / (σ/√n) | 95 % interval holds the truth | wrong accept, t alone | wrong reject, t alone | wrong accept, rule in force | wrong reject, rule in force |\n\
         |---:|---:|---:|---:|---:|---:|---:|\n"
    );
    for r in rows {
        let [ta, tr] = r.student_percent;
        let [a, j] = r.in_force_percent;
        writeln!(
            text,
            "| {} | {} | {:.2} % | {ta:.2} % | {tr:.2} % | {a:.2} % | {j:.2} % |",
            r.count, r.ratio, r.coverage_percent
        )
        .expect("a string takes everything");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 20 000 checks tell 5 % from 6 % (three standard errors are 0.46 %).
    #[test]
    fn the_rule_in_force_holds_its_risk_where_students_alone_does_not() {
        let few = row(3, 0.5, 20_000);
        assert!(few.student_percent[0] > 5.6, "{few:?}");
        assert!(
            few.in_force_percent[0] < 5.0 && few.in_force_percent[1] < 5.0,
            "{few:?}"
        );
        let usual = row(5, 1.0, 20_000);
        assert!(
            usual.in_force_percent[0] < 5.6 && usual.in_force_percent[0] > 4.4,
            "{usual:?}"
        );
        assert!((94.0..96.0).contains(&row(3, 2.0, 20_000).coverage_percent));
    }

    #[test]
    fn the_same_seed_gives_the_same_row() {
        assert_eq!(
            format!("{:?}", row(3, 1.0, 500)),
            format!("{:?}", row(3, 1.0, 500))
        );
    }
}
