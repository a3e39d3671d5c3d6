//! Ports: ours, somebody else's, none. And what a gauge says of itself.

use crate::{grip, is_sound};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::port::{Measuring, OwnPort, Port};
use holdtrue_tests::schema::differences;
use std::time::{Duration, Instant};

fn measured(bench: &Bench, port: &str) -> Run {
    let run = bench
        .finish(&mut grip(bench, port, ""))
        .exits(5)
        .tells(port);
    assert_eq!(run.json()["error"]["code"], 5, "{run}");
    run
}

#[test]
fn nothing_is_started_where_nobody_can_be_asked() {
    let bench = bench!();
    // Nobody would answer at this port for seconds; it is not even opened.
    let line = "grip --gauge /dev/no-such-port --book yard.holdtrue --json";
    let run = bench.line(line).exits(2).tells("--yes").tells("- ");
    assert!(!run.messages.contains("no-such-port"), "{run}");
    assert!(!run.messages.contains("clamp now"), "{run}");
}

#[test]
fn a_port_that_is_none_is_named() {
    let bench = bench!();
    measured(&bench, "/dev/no-such-port").tells("no such port");
    bench.file("letter.txt", "not a device");
    measured(&bench, "letter.txt");
}

#[test]
fn nothing_is_filed_before_the_gauge_has_answered() {
    let bench = bench!();
    bench.file("letter.txt", "not a device");
    let silent = OwnPort::stranger(b"");
    for command in ["grip", "runout"] {
        for port in ["/dev/no-such-port", "letter.txt", &silent.path] {
            let line = format!("{command} --gauge {port} --yes --book yard.holdtrue");
            bench.line(&line).exits(5).tells(port);
            assert!(!bench.path("yard.holdtrue").exists(), "{line}");
        }
    }
    bench
        .line("spindle add --book yard.holdtrue Centre-1")
        .exits(0);
    let before = std::fs::read(bench.path("yard.holdtrue")).expect("a book");
    measured(&bench, "/dev/no-such-port");
    let after = std::fs::read(bench.path("yard.holdtrue")).expect("a book");
    assert!(before == after, "no visit, no acknowledgement");
    // What was acknowledged is kept once it has.
    let port = Port::offer(&bench, "--seed 3 --pace max");
    bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    let again = bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    let again = again.tells("live, only to clamp and unclamp the force gauge");
    assert!(!again.messages.contains("Never put fingers"), "{again}");
}

#[test]
fn a_port_in_use_is_busy() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let mut first = Measuring::start(&mut grip(&bench, &port.path, ""));
    first.until("clamp now");
    let info = bench.line(&format!("gauge info --gauge {}", port.path));
    info.exits(5).tells("another program has this port open");
    let line = format!("grip --gauge {} --yes --book other.holdtrue", port.path);
    bench.line(&line).exits(5).tells("another program");
    assert!(!bench.path("other.holdtrue").exists());
    first.until("clamp 1:");
    first.signal("INT");
    first.end().exits(130);
}

#[test]
fn a_device_that_is_no_gauge_is_told_apart_within_seconds() {
    let strangers: [&[u8]; 4] = [
        b"",
        b"READY\r\n",
        b"\x00\x01\x00\xff\xfe\x00\x55\x00\x00",
        &[0x55; 64],
    ];
    std::thread::scope(|together| {
        for says in strangers {
            together.spawn(move || {
                let bench = bench!();
                let port = OwnPort::stranger(says);
                let begun = Instant::now();
                measured(&bench, &port.path).tells("no answer from a gauge");
                assert!(begun.elapsed() < Duration::from_secs(8), "{says:?}");
            });
        }
    });
}

#[test]
fn what_a_bad_cable_did_is_told_and_kept() {
    let bench = bench!();
    let behind = Port::offer(&bench, "--seed 3 --pace max");
    // Three bytes in the hold of the first clamp, far enough apart to lie in frames of their own.
    let cable = OwnPort::bad_cable(&behind.path, &[14_000, 16_000, 18_000]);
    let run = bench.finish(&mut grip(&bench, &cable.path, "")).exits(0);
    let run = run.tells("3 damaged frames on the cable");
    let clamps = run.json()["clamps"].clone();
    assert_eq!(clamps[0]["excluded"], "gap", "{run}");
    let look = "book check --book yard.holdtrue";
    bench
        .line(look)
        .exits(0)
        .shows("sound")
        .shows("3 damaged frames in the grip check");
    let document = bench.line(&format!("{look} --json")).exits(0).json();
    assert_eq!(document["cable"][0]["damaged_frames"], 3);
    let schema = bench.run(["schema", "book-check"]).exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    is_sound(&bench);
    // A whole cable has nothing to tell.
    let whole = Port::offer(&bench, "--seed 3 --pace max");
    let other = "--book other.holdtrue";
    let line = format!("grip --gauge {} --yes --clamps 1 {other}", whole.path);
    let run = bench.line(&line).exits(0);
    assert!(!run.out.contains("damaged"), "{run}");
    let document = bench.line(&format!("book check --json {other}")).json();
    assert_eq!(document["cable"], serde_json::json!([]));
}

#[test]
fn without_a_gauge_auto_lists_what_is_there_and_opens_nothing() {
    let bench = bench!();
    let listed = bench.line("gauge list --json").exits(0).json();
    let ports = listed["ports"].as_array().expect("a list");
    if ports.iter().any(|port| port["gauge"] == true) {
        return; // A real one is plugged in here, and is nobody's to play with.
    }
    let run = bench.finish(&mut grip(&bench, "auto", "")).exits(5);
    let run = run.tells("no gauge found").tells("--gauge PORT");
    for port in ports {
        assert!(
            run.messages
                .contains(port["port"].as_str().expect("a name"))
        );
    }
    bench.line("gauge check").exits(5).tells("no gauge found");
}

#[test]
fn a_gauge_says_who_it_is_and_is_fit_and_measures_afterwards() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let named = |what: &str| format!("gauge {what} --gauge {}", port.path);
    let info = bench.line(&named("info")).exits(0);
    for text in ["Gauge TP-", "force", "Certificate TP-F-", "in force until"] {
        assert!(info.out.contains(text), "{text}\n{info}");
    }
    let check = bench.line(&named("check")).exits(0);
    check
        .shows("Fit to measure")
        .shows("may be ± 500.0")
        .shows("may be 5 to 45 °C");
    let run = bench.finish(&mut grip(&bench, &port.path, "")).exits(0);
    assert_eq!(run.json()["statistics"]["count"], 5, "{run}");
}

#[test]
fn what_is_told_of_a_gauge_is_as_its_schemas_say() {
    let bench = bench!();
    let port = Port::offer(&bench, "--pace max");
    for (name, line) in [
        ("gauge-list", "gauge list --json".to_owned()),
        (
            "gauge-info",
            format!("gauge info --gauge {} --json", port.path),
        ),
        (
            "gauge-check",
            format!("gauge check --gauge {} --json", port.path),
        ),
        ("rehearse", "rehearse --seed 2 --json".to_owned()),
    ] {
        let schema = bench.run(["schema", name]).exits(0).json();
        let document = bench.line(&line).json();
        assert_eq!(
            differences(&schema, &document),
            Vec::<String>::new(),
            "{line}"
        );
    }
}
