//! How often the interval of a crossing holds the day, and how often a trend is claimed where nothing changes, by seeded
//! simulation: prints two tables of host/docs/trend.md.
//!
//!     cargo run --release -p holdtrue-tests --features studies --bin trend_coverage [seeds a row]

use holdtrue_tests::coverage::trend;

fn main() {
    let seeds = std::env::args()
        .nth(1)
        .map_or(Ok(2_000), |text| text.parse());
    let Ok(seeds) = seeds else {
        eprintln!("the number of seeds a row must be a whole number; found something else");
        std::process::exit(2);
    };
    println!("{}", trend::crossings(seeds));
    println!("{}", trend::flat(seeds));
}
