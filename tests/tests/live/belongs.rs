//! A calibration belongs to its hardware: what was exchanged since is never fit to measure, whichever way.

use crate::grip;
use crate::standing::{calibrated, write};
use holdtrue::visits::book::book_writer::today_days;
use holdtrue_firmware::ads1220::Gain;
use holdtrue_gauge::calibration::{day_text, id_text};
use holdtrue_simulated_gauge::certificate;
use holdtrue_simulated_gauge::{Build, Cell, Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::port::OwnPort;
use serde_json::Value;

const GAIN_64: Build = Build {
    gain: Gain::X64,
    ..Build::USUAL
};
/// The same label but for a fifth more signal; its arms are 0.4 % higher, as two of one make are.
const OTHER_CELL: Build = Build {
    cell: Cell {
        arm_ohm: 351.4,
        rated_mv_per_v: 2.4,
        ..Cell::USUAL
    },
    ..Build::USUAL
};
const OTHER_BOARD: Build = Build {
    board: *b"TP-B-077",
    ..Build::USUAL
};
const EXCHANGED: Build = Build {
    exchanged: true,
    ..Build::USUAL
};

/// A gauge built so, with the calibration that was made when it was built as `then`.
fn gauge(now: Build, then: Build) -> Setup {
    let usual = calibrated(3, Condition::Sound, 60);
    let mut calibrations = usual.calibrations.clone();
    calibrations[0] = certificate::force_of(&then, today_days() - 60);
    Setup {
        build: now,
        calibrations,
        made_on: Some(then.binding()),
        ..usual
    }
}

fn check(bench: &Bench, port: &OwnPort) -> Run {
    bench.line(&format!(
        "gauge check --gauge {} --book yard.holdtrue --json",
        port.path
    ))
}

/// Not fit, with this among the reasons and a next step behind it.
#[track_caller]
fn is_not_fit(bench: &Bench, port: &OwnPort, because: &[&str]) {
    let document = check(bench, port).exits(5).json();
    assert_eq!(document["fit"], false);
    let reasons = document["reasons"].to_string();
    for because in because {
        assert!(reasons.contains(because), "no \"{because}\": {reasons}");
    }
}

/// What no force is measured with is refused by the grip check itself, before anybody clamps.
#[track_caller]
fn measures_nothing(bench: &Bench, port: &OwnPort, because: &str) {
    bench
        .finish(&mut grip(bench, &port.path, ""))
        .exits(5)
        .tells(because);
}

#[test]
fn as_it_was_calibrated_a_gauge_is_fit_whatever_it_is_built_from() {
    for build in [Build::USUAL, GAIN_64, OTHER_CELL, OTHER_BOARD] {
        let bench = bench!();
        let port = OwnPort::of(gauge(build, build));
        let document = check(&bench, &port).exits(0).json();
        assert_eq!(document["reasons"], Value::Array(vec![]), "{build:?}");
        let run = bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
        let mean_n = run.json()["statistics"]["mean_n"].as_f64().expect("a mean");
        assert!((9_000.0..11_500.0).contains(&mean_n), "{build:?}: {mean_n}");
    }
}

#[test]
fn an_image_of_another_gain_is_not_fit() {
    let scales = ["± 7.81 mV/V (gain 128)", "± 15.62 mV/V (gain 64)"];
    for (now, then, [was, is]) in [
        (GAIN_64, Build::USUAL, scales),
        (Build::USUAL, GAIN_64, [scales[1], scales[0]]),
    ] {
        let bench = bench!();
        let port = OwnPort::of(gauge(now, then));
        let differs = format!("full scale: calibrated with {was}, now {is}; load the firmware");
        is_not_fit(&bench, &port, &[&differs, "less the calibration's"]);
        measures_nothing(&bench, &port, &differs);
    }
}

#[test]
fn another_load_cell_is_not_fit() {
    for (now, then) in [(OTHER_CELL, Build::USUAL), (Build::USUAL, OTHER_CELL)] {
        let bench = bench!();
        let port = OwnPort::of(gauge(now, then));
        let because = [
            "less the calibration's",
            "have the gauge calibrated as it is",
        ];
        is_not_fit(&bench, &port, &because);
        measures_nothing(&bench, &port, "shunt");
    }
}

/// The other way round there is nothing to exchange back: on exchanged wires no calibration gets into the gauge.
#[test]
fn exchanged_wires_are_not_fit_and_nothing_is_calibrated_on_them() {
    let bench = bench!();
    let port = OwnPort::of(gauge(EXCHANGED, Build::USUAL));
    is_not_fit(&bench, &port, &["wires of the load cell are exchanged"]);
    measures_nothing(&bench, &port, "shunt");
    let paper = "schema = 1\ncertificate = \"TP-F-0200\"\nlaboratory = \"Tern Point\"\ndate = 2026-01-10\ndue = 2027-01-10\n\
                 rated_n = 25000\nspan_n = [500, 20000]\nexpanded_percent = 0.4\nexpanded_n = 8\ncoefficients = [0, 0.01164]\n";
    bench.file("paper.toml", paper);
    let line = "gauge certificate --from paper.toml --yes --book yard.holdtrue --gauge";
    bench
        .line(&format!("{line} {}", port.path))
        .exits(5)
        .tells("will not store a calibration")
        .tells("moves the reading by -937");
}

#[test]
fn a_record_of_another_gauge_is_not_fit() {
    for (now, then) in [(OTHER_BOARD, Build::USUAL), (Build::USUAL, OTHER_BOARD)] {
        let bench = bench!();
        let port = OwnPort::of(gauge(now, then));
        is_not_fit(&bench, &port, &["on board", "another gauge's calibration"]);
        measures_nothing(&bench, &port, "another gauge's calibration");
    }
}

#[test]
fn a_record_from_before_gauges_kept_their_hardware_is_used_and_said_to_be_unbound() {
    let bench = bench!();
    let port = OwnPort::of(Setup {
        made_on: None,
        ..calibrated(3, Condition::Sound, 60)
    });
    let text = format!("gauge check --gauge {}", port.path);
    bench
        .line(&text)
        .exits(0)
        .shows("not bound to this hardware");
    let info = format!("gauge info --gauge {}", port.path);
    bench
        .line(&info)
        .exits(0)
        .shows("not bound to this hardware");
    bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    // Entered again it is bound.
    write(&bench, &port.path, 60);
    bench.line(&info).exits(0).shows("bound to ± 7.81 mV/V");
    // An image of another gain is found all the same: there was only one full scale then.
    let port = OwnPort::of(Setup {
        made_on: None,
        ..gauge(GAIN_64, Build::USUAL)
    });
    is_not_fit(&bench, &port, &["full scale"]);
}

/// The calibration in the gauge does not come to belong to the exchanged board by being typed again; a new one does.
#[test]
fn entering_the_same_certificate_again_binds_it_to_nothing_else() {
    let bench = bench!();
    let first = OwnPort::of(calibrated(3, Condition::Sound, 60));
    write(&bench, &first.path, 60);
    let info = bench
        .line(&format!("gauge info --gauge {} --json", first.path))
        .exits(0)
        .json();
    assert_eq!(info["hardware"]["calibrated_on"]["gain"], 128);
    let step = info["hardware"]["calibrated_on"]["shunt_step_counts"].as_f64();
    assert!(
        step.is_some_and(|step| (step - 937_883.0).abs() < 300.0),
        "{info:#}"
    );
    drop(first);
    let port = OwnPort::of(gauge(OTHER_BOARD, Build::USUAL));
    let carried = certificate::force(today_days() - 60);
    let paper = format!(
        "schema = 1\nid = \"{}\"\ntemperature_c = 21.5\ncertificate = \"{}\"\nlaboratory = \"{}\"\ndate = {}\ndue = {}\n\
         rated_n = 25000\nspan_n = [500, 20000]\nexpanded_percent = 0.4\nexpanded_n = 8\ncoefficients = [0, {}]\n",
        id_text(&carried),
        carried.certificate,
        carried.laboratory,
        day_text(carried.date_days),
        day_text(carried.due_days),
        carried.coefficients[1],
    );
    bench.file("again.toml", paper);
    bench
        .line(&format!(
            "gauge certificate --from again.toml --yes --book yard.holdtrue --gauge {}",
            port.path
        ))
        .exits(5)
        .tells("this very calibration was made on something else");
    is_not_fit(&bench, &port, &["another gauge's calibration"]);
    write(&bench, &port.path, 0);
    check(&bench, &port).exits(0);
}
