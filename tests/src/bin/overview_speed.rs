//! In: how many spindles. Out: how long `overview` takes on a book of so many, twenty visits each.
//!
//! `cargo build --release -p holdtrue && cargo run --release -p holdtrue-tests --features studies --bin overview_speed -- [spindles, 500] [runs, 9]`

use holdtrue_tests::bench::{Bench, program_beside};
use holdtrue_tests::many_spindles::{VISITS, enter, multiply, overview};

fn main() {
    let number = |place: usize, default: usize| {
        let word = std::env::args().nth(place);
        word.map_or(default, |word| word.parse().expect("a whole number"))
    };
    let (spindles, runs) = (number(1, 500), number(2, 9));
    let program = program_beside();
    let bench = Bench::new(program.display().to_string().leak());
    enter(&bench);
    let bytes = multiply(&bench, spindles);
    let mut times: Vec<f64> = (0..runs).map(|_| overview(&bench, spindles)).collect();
    times.sort_by(f64::total_cmp);
    println!(
        "{spindles} spindles, {VISITS} visits each, {:.0} MB: median {:.2} s of {runs} runs ({:.2} to {:.2} s)",
        bytes as f64 / 1e6,
        times[runs / 2],
        times[0],
        times[runs - 1]
    );
}
