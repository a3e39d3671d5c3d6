//! How often the decision rule is wrong, by seeded simulation: prints the tables of host/docs/trust.md.
//!
//!     cargo run --release -p holdtrue-tests --features studies --bin coverage [checks a row] [table]

use holdtrue_tests::coverage::{
    allowed, at_the_limit, away_from_the_limit, not_repeating, together,
};

fn main() {
    let checks = std::env::args()
        .nth(1)
        .map_or(Ok(100_000), |text| text.parse());
    let Ok(checks) = checks else {
        eprintln!("the number of checks a row must be a whole number; found something else");
        std::process::exit(2);
    };
    type Table = (&'static str, fn(u64) -> String);
    const TABLES: [Table; 5] = [
        ("at-the-limit", at_the_limit::table),
        ("allowed", allowed::table),
        ("away-from-the-limit", away_from_the_limit::table),
        ("together", together::table),
        ("not-repeating", not_repeating::table),
    ];
    let wanted = std::env::args().nth(2);
    let is_wanted = |name: &str| wanted.as_deref().is_none_or(|wanted| wanted == name);
    let tables: Vec<_> = TABLES.iter().filter(|(name, _)| is_wanted(name)).collect();
    if tables.is_empty() {
        let names = TABLES.map(|(name, _)| name).join(", ");
        eprintln!("no such table; there are {names}");
        std::process::exit(2);
    }
    for (_, table) in tables {
        println!("{}", table(checks));
    }
}
