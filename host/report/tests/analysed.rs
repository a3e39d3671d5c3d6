//! Pages of checks that were really analysed: the paper carries the analysis's own digits.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_metrology::grip::{self, setup::GripSetup};
use holdtrue_metrology::runout::{
    self, Passing, Place, Plane, Readings, RunoutRecord, RunoutSetup,
};
use holdtrue_report::document::*;
use holdtrue_report::{Form, Made};
use holdtrue_terms::vocabulary::At;
use holdtrue_wording::Sentences as _;
use holdtrue_wording::digits::Units;

fn html(document: &Document) -> String {
    Made::of_visit(document, &Form::default()).html()
}

fn grip_page() -> (Document, String) {
    let record = record(9_800.0);
    let result = grip::analyse(&record, &GripSetup::default()).unwrap();
    let mut document = sound();
    document.grips[0].words = result.words(&document.units);
    document.grips[0].result = result;
    document.grips[0].record = Some(record);
    let page = html(&document);
    (document, page)
}

/// A slow turn of three turns with a mark, speed wandering, 4 µm off centre and 1 µm oval.
fn marked() -> Document {
    let angle = |time_s: f64| 72.0 * time_s + 8.0 * (0.9 * time_s).sin();
    let times = (0..1800_u16).map(|index| f64::from(index) * 0.01);
    let readings = times.clone().map(|time_s| {
        let turned = angle(time_s).to_radians();
        let wander = 0.15 * (7.3 * time_s).sin();
        Passing {
            time_s,
            reading_um: 4.0 * (turned - 1.0).cos() + 1.0 * (2.0 * turned).cos() + wander,
        }
    });
    let edges = (0..4_u8).map(|turn| {
        let wanted = 360.0 * f64::from(turn);
        times
            .clone()
            .min_by(|a, b| {
                (angle(*a) - wanted)
                    .abs()
                    .total_cmp(&(angle(*b) - wanted).abs())
            })
            .unwrap()
    });
    let place = Place::on(At::Bar, 20.0).seated(1, 0.0);
    let readings = Readings::Marked {
        readings: readings.collect(),
        edges_s: edges.collect(),
    };
    let record = RunoutRecord::new([Plane::new(place, readings)]);
    let result = runout::analyse(&record, &RunoutSetup::default()).unwrap();
    let check = Runout {
        words: result.words(&Units::default()),
        result,
        record: Some(record),
        ..runout()
    };
    Document {
        runouts: vec![check],
        ..frame()
    }
}

#[test]
fn the_page_carries_the_digits_of_the_analysis() {
    let (document, page) = grip_page();
    let statistics = document.grips[0].result.statistics.as_ref().unwrap();
    assert_eq!(statistics.count, 5);
    // Settled near the force of the record, its offset of 300 N taken off.
    assert!(
        (statistics.mean_n - 9_800.0).abs() < 20.0,
        "{}",
        statistics.mean_n
    );
    let mean = document.units.force(statistics.mean_n);
    assert!(page.contains(&format!("Mean {mean}")), "{mean}");
    for clamp in &document.grips[0].result.clamps {
        let settled = document.units.force_digits(clamp.settled_n.unwrap());
        assert!(
            page.contains(&format!(
                "<td>{}</td><td class=\"figure\">{settled}</td>",
                clamp.number
            )),
            "{settled}"
        );
    }
}

/// Between clamps the curve runs along the zero line, although the gauge showed 300 N when free.
#[test]
fn the_trace_stands_on_its_zero() {
    let (_, page) = grip_page();
    let trace = page.split_once("Grip force against time").unwrap().1;
    let path = |look: &str| {
        let found = trace.split("<path d=\"M").find(|path| path.contains(look));
        found.unwrap().split_once('"').unwrap().0
    };
    let curve = path("stroke=\"#000000\" stroke-width=\"0.8\"");
    let first: f64 = curve.split(['L', ' ']).nth(1).unwrap().parse().unwrap();
    let zero = path("stroke=\"#606060\" stroke-width=\"0.6\"");
    let zero = zero.split(['L', ' ']).nth(1).unwrap();
    let zero: f64 = zero.parse().unwrap();
    assert!(
        (first - zero).abs() < 2.0,
        "curve begins at {first}, zero line at {zero}"
    );
}

#[test]
fn a_marked_turn_has_a_picture_and_what_repeats() {
    let page = html(&marked());
    assert!(
        page.contains("stroke=\"#606060\" stroke-width=\"0.4\""),
        "the turn itself"
    );
    assert!(page.contains("What repeats from turn to turn"));
    assert!(page.contains("Slow turn, includes the bar; not a bearing test."));
    assert!(page.contains("high spot at 57°"), "1 rad is 57°");
}

/// A free turn knows no angle: no picture may pretend one.
#[test]
fn a_free_turn_has_no_polar_picture() {
    let mut document = marked();
    let record = document.runouts[0].record.as_mut().unwrap();
    let Readings::Marked { readings, .. } = record.planes[0].readings.clone() else {
        panic!("marked")
    };
    record.planes[0].readings = Readings::Free(readings);
    let result = runout::analyse(record, &RunoutSetup::default()).unwrap();
    document.runouts[0].words = result.words(&document.units);
    document.runouts[0].result = result;
    let page = html(&document);
    assert!(
        !page.contains("One turn seen along the spindle")
            && !page.contains("Seen along the spindle")
    );
    assert!(page.contains("free turn"));
}

/// Writes the pages to look at: `cargo test -p holdtrue-report -- --ignored`.
#[test]
#[ignore = "writes files to look at"]
fn write_pages() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR"));
    for (name, page) in [("analysed", grip_page().1), ("marked", html(&marked()))] {
        std::fs::write(folder.join(format!("{name}.html")), page).unwrap();
    }
}
