//! In: how many planes. Out: how often stepped planes are doubted, rightly and wrongly; and with `--seeds N` how many
//! readings the live path took at the wrong place or not once.
//!
//! `cargo run --release -p holdtrue-tests --features studies --bin positions -- [--planes N] [--seeds N] [--from SEED]`

use holdtrue_tests::{doubts, stepping};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |name: &str| {
        let place = words.iter().position(|word| word == name)?;
        words.get(place + 1)?.parse::<u64>().ok()
    };
    if let Some(planes) = number("--planes") {
        println!("{}", doubts::table(planes));
    }
    if let Some(seeds) = number("--seeds") {
        println!("{}", stepping::table(seeds, number("--from").unwrap_or(0)));
    }
}
