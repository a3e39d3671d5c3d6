//! A gauge without a load cell: it says so, reads runout, and no command takes it for a force gauge.

use crate::standing::calibrated;
use holdtrue_protocol::message::Channels;
use holdtrue_simulated_gauge::{Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::port::OwnPort;
use holdtrue_tests::schema::differences;
use serde_json::{Value, json};

fn without_a_load_cell() -> OwnPort {
    OwnPort::of(Setup {
        fitted: Channels {
            force: false,
            displacement: true,
            mark: true,
            indicator: false,
        },
        ..calibrated(3, Condition::Sound, 60)
    })
}

#[test]
fn it_says_what_it_measures_and_asks_for_no_certificate_of_a_load_cell() {
    let bench = bench!();
    let port = without_a_load_cell();
    let line = format!("gauge info --gauge {}", port.path);
    let info = bench.line(&format!("{line} --json")).exits(0).json();
    let schema = bench.run(["schema", "gauge-info"]).exits(0).json();
    assert_eq!(differences(&schema, &info), Vec::<String>::new());
    assert_eq!(
        info["channels"],
        json!(["displacement", "once-per-turn mark"])
    );
    assert_eq!(info["hardware"]["converter"], Value::Null);
    assert_eq!(info["calibration"], Value::Null);
    assert_ne!(info["probe_calibration"], Value::Null);
    let shown = bench.line(&line).exits(0);
    let shown = shown.shows("No load cell: it reads runout, and no force.");
    assert!(!shown.out.contains("certificate is entered"), "{shown}");
}

#[test]
fn it_is_refused_as_a_force_gauge_before_anybody_does_anything_and_reads_runout() {
    let bench = bench!();
    let port = without_a_load_cell();
    let on_it = |line: &str| bench.line(&format!("{line} --yes --gauge {}", port.path));
    on_it("grip").exits(5).tells("it has no load cell");
    let check = on_it("gauge check").exits(5);
    check
        .tells("it has no load cell")
        .tells("holdtrue gauge info");
    on_it("gauge check --standard-n 5000")
        .exits(5)
        .tells("it has no load cell");
    on_it("runout --at wall --free").exits(0).shows("free turn");
}
