//! Runout measured from a gauge on a serial device: the same figures as in one process, and again from the book.

use holdtrue_tests::bench;
use holdtrue_tests::port::{Measuring, Port};

#[test]
fn runout_over_the_wire_is_that_of_one_process_and_of_the_book() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "runout --gauge {} --on-wall --interface 7/24-40 --book yard.holdtrue --json --yes",
        port.path
    );
    let run = bench.line(&line).exits(0);
    let live = run.json();
    let inside = bench.line("rehearse --seed 3 --json").exits(0).json();
    for part in ["planes", "axis", "reversal", "seat_repeatability_um"] {
        assert_eq!(live[part], inside["runout"][part], "{part}\n{run}");
    }
    assert_eq!(live["planes"].as_array().map(Vec::len), Some(10));
    bench
        .line("--book yard.holdtrue recheck")
        .exits(0)
        .shows("all the same");
    bench
        .line("--book yard.holdtrue report --html page.html")
        .exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains("seating") && page.contains("<svg"));
}

#[test]
fn a_runout_check_broken_off_goes_on_with_the_plane_it_lacked() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 40");
    let words = |path: &str| format!("runout --gauge {path} --book yard.holdtrue --json --yes");
    let mut run = Measuring::start(&mut bench.command(words(&port.path).split_whitespace()));
    run.until("Plane 3 of 10");
    drop(port);
    let run = run.end().exits(5);
    let (partial, out) = (run.json(), &run.out);
    assert_eq!(partial["planes"].as_array().map(Vec::len), Some(2), "{out}");

    let port = Port::offer(&bench, "--seed 3 --pace max");
    let run = bench
        .line(&words(&port.path))
        .tells("2 planes are in")
        .tells("Plane 3 of 10");
    assert_eq!(
        run.json()["planes"].as_array().map(Vec::len),
        Some(10),
        "{run}"
    );
}

#[test]
fn one_plane_can_be_read_by_itself() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let line = format!(
        "runout --gauge {} --at wall --height-mm -8 --stops 8 --limit-um 40 --book yard.holdtrue --json --yes",
        port.path
    );
    let run = bench.line(&line).exits(0);
    let document = run.json();
    assert_eq!(document["planes"][0]["at"], "wall", "{run}");
    assert_eq!(document["planes"][0]["stops"], 8, "{run}");
    assert_eq!(document["verdict"]["outcome"], "accept", "{run}");
}
