//! Exact conversion factors (definitions; provenance: computed in rational arithmetic).

#![allow(clippy::unwrap_used, clippy::float_cmp)] // a test may stop at what it did not expect

use holdtrue_terms::units::{
    ForceUnit, LengthUnit, MICROMETRES_PER_INCH, MICROMETRES_PER_TENTH, NEWTONS_PER_POUND_FORCE,
};
use holdtrue_tests::reference::Reference;

#[test]
fn factors() {
    let file = Reference::load("units/conversions");
    let factors = file.expected("factors").as_array().unwrap().clone();
    let exact = |symbol: &str| -> f64 {
        let row = factors.iter().find(|row| row["symbol"] == symbol).unwrap();
        row["factor_decimal"].as_str().unwrap().parse().unwrap()
    };
    assert_eq!(NEWTONS_PER_POUND_FORCE, exact("lbf"));
    assert_eq!(MICROMETRES_PER_INCH, exact("in") * 1_000.0);
    assert_eq!(MICROMETRES_PER_TENTH, exact("mil") / 10.0);
    file.leave(
        "factors",
        "compared above without any tolerance, for the units the program reads",
    );
    file.check_at(
        "printed_rounded",
        "/lbf_in_N",
        ForceUnit::Lbf.to_newtons(1.0),
    );
    let there_and_back: Vec<Vec<f64>> = file
        .rows("/expected/round_trip_lbf/value")
        .iter()
        .map(|row| {
            vec![
                ForceUnit::Lbf.from_newtons(row[1]),
                ForceUnit::Lbf.to_newtons(row[0]),
            ]
        })
        .collect();
    file.check("round_trip_lbf", there_and_back);
    file.leave(
        "temperature",
        "the program reads and prints degrees Celsius only",
    );
    file.leave(
        "angles",
        "the program prints tilt in micrometres a metre only",
    );
    file.finish();
}

#[test]
fn every_unit_goes_through_its_definition() {
    assert_eq!(ForceUnit::Kn.to_newtons(2.5), 2_500.0);
    assert_eq!(LengthUnit::In.to_micrometres(0.0001), 2.54);
    assert_eq!(LengthUnit::Mm.from_micrometres(1_500.0), 1.5);
}
