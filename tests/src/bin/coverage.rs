//! How often the decision rule is wrong, by seeded simulation: prints the tables of host/docs/trust.md.
//!
//!     cargo run --release -p holdtrue-tests --features studies --bin coverage [checks a row]

use holdtrue_tests::coverage::{at_the_limit, away_from_the_limit, not_repeating, together};

fn main() {
    let checks = std::env::args()
        .nth(1)
        .map_or(Ok(100_000), |text| text.parse());
    let Ok(checks) = checks else {
        eprintln!("the number of checks a row must be a whole number; found something else");
        std::process::exit(2);
    };
    let tables = [
        at_the_limit::table,
        away_from_the_limit::table,
        together::table,
        not_repeating::table,
    ];
    for table in tables {
        println!("{}", table(checks));
    }
}
