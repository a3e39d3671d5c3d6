//! What is wrong with the simulated machine against what the program says first: grip force and runout, through the real
//! firmware and wire format. In: seeds. Out: a row's tally, or the whole Markdown table.

pub mod grip;
pub mod rows;
pub mod runout;
pub mod tally;

use std::fmt::Write;

use holdtrue_simulated_gauge::Faults;

use rows::Row;
use tally::{Checked, Tally};

/// A check of one seed.
pub type Check = fn(u64, Faults) -> Result<Checked, String>;

/// Runs a row's seeds on both processors.
pub fn tally(row: &Row, from: u64, seeds: u64, check: Check) -> Tally {
    const WORKERS: u64 = 2;
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..WORKERS)
            .map(|worker| {
                scope.spawn(move || {
                    let mut tally = Tally::default();
                    for seed in (from + worker..from + seeds).step_by(2) {
                        match check(seed, row.faults) {
                            Ok(checked) => tally.add(row, &checked),
                            Err(why) => {
                                tally.failures += 1;
                                eprintln!("{}, seed {seed}: {why}", row.name);
                            }
                        }
                    }
                    tally
                })
            })
            .collect();
        let mut whole = Tally::default();
        for worker in workers {
            whole.merge(worker.join().expect("a check does not panic"));
        }
        whole
    })
}

/// The table of some rows.
pub fn table(title: &str, rows: &[Row], from: u64, seeds: u64, check: Check) -> String {
    let tallies: Vec<Tally> = rows
        .iter()
        .map(|row| tally(row, from, seeds, check))
        .collect();
    let mut page = format!("\n{title}, {seeds} seeds a row from {from}\n\n");
    page += "| what is wrong | first hint right | first hint | accept / undecided / reject |";
    let clamps = tallies.iter().any(|tally| tally.clamps > 0);
    page += if clamps {
        " largest error of the mean, % | clamps found wrong |\n"
    } else {
        " planes in doubt |\n"
    };
    page += if clamps {
        "|---|---|---|---|---|---|\n"
    } else {
        "|---|---|---|---|---|\n"
    };
    for (row, tally) in rows.iter().zip(&tallies) {
        let _ = writeln!(page, "{}", tally.line(row, seeds));
    }
    page
}
