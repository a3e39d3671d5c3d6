//! Ports: ours, somebody else's, none. And what a gauge says of itself.

use crate::grip;
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
fn a_port_in_use_is_busy() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 20");
    let mut first = Measuring::start(&mut grip(&bench, &port.path, ""));
    first.until("clamp now");
    let info = bench.line(&format!("gauge info --gauge {}", port.path));
    info.exits(5).tells("another program has this port open");
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
    bench.line(&named("check")).exits(0).shows("Fit to measure");
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
