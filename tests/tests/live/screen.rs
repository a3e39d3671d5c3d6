//! The live screen on a real terminal: what stands on it, what is heard, and that the terminal comes back whole.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::Port;
use holdtrue_tests::screen::Terminal;
use rustix::process::Signal;
use std::process::Command;

/// A grip check of two clamps, on a terminal with letters for half blocks.
fn grip(bench: &Bench, port: &Port) -> Command {
    let line = format!(
        "grip --gauge {} --yes --book yard.holdtrue --clamps 2 --state as-found --nominal-n 10000 --limit-percent 70",
        port.path
    );
    let mut command = bench.command(line.split_whitespace());
    command
        .env("TERM", "xterm-256color")
        .env("LC_ALL", "C.UTF-8");
    command
}

/// Slow enough that a key pressed at a step still belongs to it.
fn sound(bench: &Bench) -> Port {
    Port::offer(bench, "--pace 5")
}

#[test]
fn a_check_is_led_by_word_figure_and_bell_and_its_verdict_stays() {
    let bench = bench!();
    let port = sound(&bench);
    let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
    terminal.until("Hold it.");
    terminal.until("Enough. Hold the gauge from below");
    terminal.until("(1 of 2 in)");
    terminal.until("Mean of 2 clamps");
    let verdict = terminal.text();
    assert!(
        verdict.contains("At least 7.00 kN, 70 % of the nominal"),
        "{verdict}"
    );
    assert!(verdict.contains("not an approval to run"), "{verdict}");
    // Twice clamp, hold, unclamp: one, two and three; a bell may be cut short by the next step.
    assert!((8..=15).contains(&terminal.bells()), "{}", terminal.bells());
    assert!(!terminal.is_given_back());
    terminal.presses(b" ");
    assert_eq!(terminal.end(), 0);
    assert!(terminal.is_given_back());
    let after = String::from_utf8_lossy(&terminal.bytes()).into_owned();
    let printed = &after[after.rfind("\u{1b}[?1049l").expect("it left its screen")..];
    for line in ["now unclamp.", "clamp 2:", "WITHIN LIMIT"] {
        assert!(printed.contains(line), "no \"{line}\":\n{printed}");
    }
}

#[test]
fn resized_at_every_step_it_shows_the_step_of_now() {
    let bench = bench!();
    let port = sound(&bench);
    let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
    for (text, columns, rows) in [
        ("Hold it.", 200, 60),
        ("Enough.", 100, 30),
        ("(1 of 2 in)", 30, 10),
    ] {
        terminal.until(text);
        terminal.resize(columns, rows);
    }
    terminal.resize(80, 24);
    terminal.until("Mean of 2 clamps");
    terminal.presses(b"\r");
    assert_eq!(terminal.end(), 0);
    assert!(terminal.is_given_back());
}

#[test]
fn stopped_in_any_way_the_terminal_comes_back_and_the_clamps_stay() {
    for stop in ["q", "INT", "TERM", "HUP"] {
        let bench = bench!();
        let port = sound(&bench);
        let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
        terminal.until("(1 of 2 in)");
        match stop {
            "INT" => terminal.signal(Signal::INT),
            "TERM" => terminal.signal(Signal::TERM),
            "HUP" => terminal.signal(Signal::HUP),
            key => terminal.presses(key.as_bytes()),
        }
        assert_eq!(terminal.end(), 130, "{stop}: {}", terminal.text());
        assert!(terminal.is_given_back(), "{stop}");
        bench
            .line("visit status --book yard.holdtrue")
            .exits(0)
            .shows("1 of 2 clamps recorded");
    }
}

#[test]
fn a_terminal_that_can_do_nothing_gets_plain_lines() {
    for (name, value, option) in [("TERM", "dumb", ""), ("TERM", "xterm", "--plain")] {
        let bench = bench!();
        let port = sound(&bench);
        let mut command = grip(&bench, &port);
        command.env(name, value).args(option.split_whitespace());
        let mut terminal = Terminal::start(&mut command, 80, 24);
        assert_eq!(terminal.end(), 0);
        let bytes = terminal.bytes();
        assert!(!bytes.contains(&0x1b), "{value} {option}");
        assert!(String::from_utf8_lossy(&bytes).contains("Clamp 1 of 2: clamp now."));
    }
}

#[test]
fn without_letters_beyond_ascii_none_is_sent() {
    let bench = bench!();
    let port = sound(&bench);
    let mut command = grip(&bench, &port);
    command.env("LC_ALL", "C").arg("--quiet");
    let mut terminal = Terminal::start(&mut command, 80, 24);
    terminal.until("Mean of 2 clamps");
    let bytes = terminal.bytes();
    let strange = bytes.iter().position(|byte| !byte.is_ascii());
    assert_eq!(
        strange
            .map(|at| String::from_utf8_lossy(&bytes[at.saturating_sub(20)..at + 4]).into_owned()),
        None
    );
    assert_eq!(terminal.bells(), 0);
    terminal.presses(b" ");
    assert_eq!(terminal.end(), 0);
}
