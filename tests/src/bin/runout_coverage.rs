//! How often a runout check is wrong at its limit, by seeded simulation: prints two tables of host/docs/trust.md.
//!
//!     cargo run --release -p holdtrue-tests --features studies --bin runout_coverage [checks a row]

use holdtrue_tests::coverage::runout;

fn main() {
    let checks = std::env::args()
        .nth(1)
        .map_or(Ok(20_000), |text| text.parse());
    let Ok(checks) = checks else {
        eprintln!("the number of checks a row must be a whole number; found something else");
        std::process::exit(2);
    };
    println!("{}", runout::table(checks));
    println!("{}", runout::unseen_form(checks));
}
