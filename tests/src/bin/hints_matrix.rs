//! In: how many seeds. Out: the table of what is wrong with the simulated machine against what the program says first.
//!
//! `cargo run --release -p holdtrue-tests --features studies --bin hints_matrix -- [--seeds N] [--from SEED] [--grip|--low|--runout]`
//! Rules are tuned on seeds below 10 000 only; seeds from 10 000 up are for the table in the documents.

use holdtrue_tests::matrix::{grip, rows, runout, table};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |name: &str, default: u64| {
        let place = words.iter().position(|word| word == name);
        place
            .and_then(|place| words.get(place + 1)?.parse().ok())
            .unwrap_or(default)
    };
    let (seeds, from) = (number("--seeds", 100), number("--from", 0));
    let only = |word: &str| words.iter().any(|given| given == word);
    if !only("--runout") {
        let rows = rows::low_force();
        let without = "Low force, push-out not read";
        println!("{}", table(without, &rows, from, seeds, grip::check));
        let with = "Low force, push-out read";
        println!(
            "{}",
            table(with, &rows, from, seeds, grip::check_with_push_out)
        );
    }
    if !only("--runout") && !only("--low") {
        println!(
            "{}",
            table("Grip force", &rows::grip(), from, seeds, grip::check)
        );
    }
    if !only("--grip") && !only("--low") {
        println!(
            "{}",
            table("Taper runout", &rows::runout(), from, seeds, runout::check)
        );
    }
}
