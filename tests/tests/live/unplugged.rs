//! A gauge whose cable is pulled while the live screen leads: what the screen says, and that the check goes on once the gauge
//! is plugged in again.

use crate::{BOOK, is_sound, recorded};
use holdtrue_simulated_gauge::{Faults, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{OwnPort, Port};
use holdtrue_tests::screen::Terminal;
use std::os::unix::fs::symlink;
use std::process::Command;

/// The name the gauge's port has, whenever it is plugged in.
const PORT: &str = "gauge-port";

/// Plugs the gauge in: a device of that name.
fn plugged_in(bench: &Bench, options: &str) -> Port {
    let port = Port::offer(bench, options);
    named(bench, &port.path);
    port
}

fn named(bench: &Bench, path: &str) {
    let name = bench.folder().join(PORT);
    let _before = std::fs::remove_file(&name);
    symlink(path, name).expect("a name for the port");
}

fn command(bench: &Bench, line: &str) -> Command {
    let line = format!("{line} --gauge {PORT} --yes --book {BOOK}");
    bench.on_screen(&line)
}

/// Hatched to both edges, in letters and not in colour.
fn is_hatched(terminal: &Terminal) -> bool {
    terminal
        .text()
        .lines()
        .filter(|line| line.contains('\u{2592}'))
        .count()
        > 10
}

#[test]
fn a_grip_check_waits_for_its_gauge_and_goes_on_with_it() {
    let bench = bench!();
    let port = plugged_in(&bench, "--seed 3 --pace 8");
    let mut grip = command(&bench, "grip --clamps 3 --state as-found");
    let mut terminal = Terminal::start(&mut grip, 80, 24);
    terminal.until("(1 of 3 in)");
    let bells = terminal.bells();
    drop(port);
    terminal.until("The gauge is gone: its cable was pulled");
    let text = terminal.text();
    for line in ["Plug it in again.", "in the book.", "Q end it"] {
        assert!(text.contains(line), "no \"{line}\":\n{text}");
    }
    assert!(is_hatched(&terminal), "{text}");
    terminal.resize(100, 30);
    terminal.until("Plug it in again.");
    let _port = plugged_in(&bench, "--seed 4 --pace 8");
    terminal.until("Mean of 3 clamps");
    assert!(terminal.bells() >= bells + 5, "{}", terminal.bells());
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0, "{}", terminal.text());
    assert!(terminal.is_given_back());
    let status = bench.line(&format!("visit status --json --book {BOOK}"));
    let status = status.exits(0).json();
    let checks = status["visit"]["checks"].as_array().map(Vec::len);
    assert_eq!(checks, Some(1), "one check, gone on with: {status}");
    is_sound(&bench);
}

#[test]
fn who_ends_it_has_what_was_read_and_the_exit_of_a_lost_gauge() {
    let bench = bench!();
    let port = plugged_in(&bench, "--seed 3 --pace 8");
    let mut grip = command(&bench, "grip --clamps 3 --state as-found");
    let mut terminal = Terminal::start(&mut grip, 80, 24);
    terminal.until("(1 of 3 in)");
    drop(port);
    terminal.until("The gauge is gone");
    terminal.presses(b"q");
    assert_eq!(terminal.end(), 5, "{}", terminal.text());
    assert!(terminal.is_given_back());
    assert!(terminal.text().contains("goes on where it stopped"));
    assert!(recorded(&bench) >= 1);
    is_sound(&bench);
}

#[test]
fn another_gauge_on_the_port_is_not_gone_on_with() {
    let bench = bench!();
    let port = plugged_in(&bench, "--seed 3 --pace 8");
    let mut grip = command(&bench, "grip --clamps 3 --state as-found");
    let mut terminal = Terminal::start(&mut grip, 80, 24);
    terminal.until("(1 of 3 in)");
    drop(port);
    terminal.until("The gauge is gone");
    let other = OwnPort::of(Setup {
        serial: "TP-0099",
        ..Setup::with_faults(5, Faults::default())
    });
    named(&bench, &other.path);
    terminal.until("this is gauge TP-0099, and the check was begun with");
    assert!(is_hatched(&terminal), "{}", terminal.text());
    terminal.signal(rustix::process::Signal::INT);
    assert_eq!(terminal.end(), 130, "{}", terminal.text());
    is_sound(&bench);
}

#[test]
fn a_plane_is_read_anew_when_the_gauge_is_plugged_in_again() {
    let bench = bench!();
    let wall = "runout --at wall --height-mm -8 --positions 8 --paced 6 --limit-um 40";
    let port = plugged_in(&bench, "--seed 5 --pace 8");
    let mut terminal = Terminal::start(&mut command(&bench, wall), 80, 24);
    terminal.until("Press when it is set");
    terminal.presses(b" ");
    terminal.until("3 \u{2026}");
    drop(port);
    terminal.until("The gauge is gone");
    let text = terminal.text();
    assert!(text.contains("Then this plane is read from"), "{text}");
    assert!(is_hatched(&terminal), "{text}");
    let _port = plugged_in(&bench, "--seed 5 --pace 8");
    terminal.until("Press when it is set");
    terminal.answers(b" ");
    terminal.until("At most 40.0");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0, "{}", terminal.text());
    is_sound(&bench);
}

#[test]
fn a_gauge_check_watches_anew_when_the_gauge_is_plugged_in_again() {
    let bench = bench!();
    let port = plugged_in(&bench, "--pace 3");
    let mut check = command(&bench, "gauge check");
    let mut terminal = Terminal::start(&mut check, 80, 24);
    terminal.until("until the ground is full");
    drop(port);
    terminal.until("The gauge is gone");
    assert!(is_hatched(&terminal), "{}", terminal.text());
    let _port = plugged_in(&bench, "--pace 3");
    terminal.until("The gauge may measure.");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0, "{}", terminal.text());
}
