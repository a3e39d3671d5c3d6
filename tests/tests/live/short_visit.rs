//! A short visit begun by a command: what nobody said of it is asked before it begins.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::screen::Terminal;
use rustix::process::Signal;
use serde_json::Value;

/// A book that is remembered, with one spindle in it.
fn yard() -> Bench {
    let bench = bench!();
    bench.line("settings --name Hand").exits(0);
    let place = bench.path("visits.holdtrue").display().to_string();
    bench.run(["settings", "--book", &place]).exits(0);
    bench.line("spindle add Centre-3 --interface BT40").exits(0);
    bench
}

/// Each text is waited for, then answered.
#[track_caller]
fn answers(terminal: &mut Terminal, each: &[(&str, &str)]) {
    for (shown, keys) in each {
        terminal.until(shown);
        terminal.answers(keys.as_bytes());
    }
}

/// The header of the open visit; null where none is open.
fn header(bench: &Bench) -> Value {
    let status = bench.line("visit status --json").exits(0).json();
    status["visit"]["header"].clone()
}

fn start(bench: &Bench, words: &str) -> Terminal {
    let mut command = bench.on_screen(words);
    command.env("HOME", bench.folder());
    Terminal::start(&mut command, 80, 24)
}

#[test]
fn a_short_visit_of_which_nobody_said_the_spindle_proposes_the_one_there_is() {
    let bench = bench!();
    bench.line("settings --name Hand").exits(0);
    let place = bench.path("visits.holdtrue").display().to_string();
    bench.run(["settings", "--book", &place]).exits(0);
    bench.line("spindle add Centre-3 --interface BT40").exits(0);
    let mut terminal = start(
        &bench,
        "visit start --short --customer Yard --running-min 20",
    );
    for (shown, keys) in [
        ("1 Centre-3", " "),
        ("What is the visit for", " "),
        ("Examined with the consent", "\r"),
        ("The machine is operated by", "\r"),
        ("Power-on hours", "\r"),
        ("Number of the tool", "T12\r"),
        ("Space: back to the day.", " "),
        ("Space: look and wipe", "q"),
    ] {
        terminal.until(shown);
        terminal.answers(keys.as_bytes());
    }
    assert_eq!(terminal.end(), 0);
    let status = bench.line("visit status --json").exits(0).json();
    let visit = status["visit"].to_string();
    for said in ["Centre-3", "Yard", "T12", "\"running_min\":20.0"] {
        assert!(visit.contains(said), "no {said}: {visit}");
    }
    // One is open: what was typed is refused before anything is asked.
    let mut terminal = start(&bench, "visit start --short");
    assert_eq!(terminal.end(), 2, "{}", terminal.text());
    assert!(terminal.text().contains("is still open"));
}

/// Called away, stopped or killed at a later question: what was answered stands there, and the questions go on behind it.
#[test]
fn what_was_answered_before_somebody_stopped_is_gone_on_with() {
    for stop in [Signal::INT, Signal::KILL] {
        let bench = yard();
        let words = "visit start --short --running-min 20";
        let mut terminal = start(&bench, words);
        let begun = [
            ("1 Centre-3", " "),
            ("What is the visit for", "2"),
            ("Examined with the consent", "-yard-\r"),
        ];
        answers(&mut terminal, &begun);
        terminal.until("The machine is operated by");
        terminal.signal(stop);
        let ended = terminal.end();
        if stop == Signal::INT {
            assert_eq!(ended, 130, "{}", terminal.text());
            terminal.until("what was answered of the new visit is kept");
        }
        assert_eq!(header(&bench), Value::Null, "nothing is begun unasked");
        let mut terminal = start(&bench, words);
        terminal.until("Answered so far: Centre-3, before-purchase, -yard-");
        let rest = [
            ("Go on with it?", " "),
            ("The machine is operated by", "Ann\r"),
            ("For whom", "\r"),
            ("Power-on hours", "\r"),
            ("Number of the tool", "\r"),
            ("Space: back to the day.", " "),
            ("Space: look and wipe", "q"),
        ];
        answers(&mut terminal, &rest);
        assert_eq!(terminal.end(), 0);
        let visit = header(&bench);
        for (fact, said) in [
            ("purpose", "before-purchase"),
            ("consent_of", "-yard-"),
            ("operated_by", "Ann"),
        ] {
            assert_eq!(visit[fact], said, "{visit}");
        }
        assert_eq!(visit["running_min"], 20.0);
        assert_eq!(visit["short"], true);
        // Begun, it is offered no more.
        bench.line("visit finish").exits(0);
        let mut terminal = start(&bench, words);
        answers(&mut terminal, &[("1 Centre-3", "q")]);
        terminal.until("No visit is open");
        terminal.answers(b"q");
        assert_eq!(terminal.end(), 0);
    }
}

/// By the day's own key, of a spindle that is not in the book yet; and whoever wants none of it begins anew.
#[test]
fn the_key_for_a_new_visit_goes_on_with_one_that_was_left() {
    let bench = yard();
    let mut terminal = start(&bench, "");
    terminal.until("begins a new visit.");
    assert!(!terminal.text().contains("last"), "{}", terminal.text());
    terminal.answers(b"v");
    let begun = [
        ("1 Centre-3", "n"),
        ("What do people call", "-x\r"),
        ("does not begin with a dash", "TP-S-9\r"),
        ("as people say it", "bt50\r"),
        ("What pulls the tool in", "2"),
    ];
    answers(&mut terminal, &begun);
    terminal.until("What drives the spindle");
    terminal.signal(Signal::INT);
    assert_eq!(terminal.end(), 130);
    let mut terminal = start(&bench, "");
    terminal.until("goes on with the new visit");
    terminal.until("bt50, gas-spring");
    terminal.answers(b"v");
    let gone_on = [
        ("Go on with it?", " "),
        ("What drives the spindle", "\x1b[5~"),
        ("gas spring, as before", "\x1b[5~"),
        ("bt50, as before", "\x1b[5~"),
        ("TP-S-9, as before", "\x1b[5~"),
        // It was the first question of all.
        ("1 Centre-3", "q"),
    ];
    answers(&mut terminal, &gone_on);
    terminal.until("goes on with the new visit");
    terminal.answers(b" ");
    answers(
        &mut terminal,
        &[("Go on with it?", "n"), ("1 Centre-3", " ")],
    );
    terminal.until("What is the visit for");
    terminal.signal(Signal::INT);
    assert_eq!(terminal.end(), 130);
    let listed = bench.line("spindle list").exits(0);
    assert!(!listed.out.contains("TP-S-9"), "{listed}");
}

/// A counter that cannot be is typed anew where it is doubted; whoever only stops there finds every answer again.
#[test]
fn hours_that_were_mistyped_are_typed_anew_and_nothing_answered_is_lost() {
    let bench = yard();
    let earlier = "visit start --spindle Centre-3 --date 2026-05-22 --power-on-hours 9000";
    bench.line(earlier).exits(0);
    bench.line("visit finish").exits(0);
    let mut terminal = start(&bench, "visit start --short");
    let asked = [
        ("1 Centre-3", " "),
        ("What is the visit for", " "),
        ("Examined with the consent", "yard\r"),
        ("The machine is operated by", "\r"),
        ("For whom", "\r"),
        ("Power-on hours", "96o\r"),
        ("expected", "960\r"),
        ("Number of the tool", "\r"),
    ];
    answers(&mut terminal, &asked);
    terminal.until("backwards. Is the number right");
    terminal.answers(b"\r");
    terminal.until("The visit is not begun. What was answered is kept");
    terminal.answers(b" ");
    terminal.until("goes on with the new visit");
    terminal.answers(b"v");
    let again = [
        ("Go on with it?", " "),
        ("What is the visit for", " "),
        ("How much time", "4"),
        ("yard, as before", "\r"),
        ("The machine is operated by", "\r"),
        ("For whom", "\r"),
        ("960, as before", "\r"),
        ("Number of the tool", "\r"),
        ("backwards. Is the number right", "96oo\r"),
        ("found \"96oo\"", "9600\r"),
        ("Space: back to the day.", " "),
        ("Space: look and wipe", "q"),
    ];
    answers(&mut terminal, &again);
    assert_eq!(terminal.end(), 0);
    let visit = header(&bench);
    assert_eq!(visit["power_on_hours"], 9600.0, "{visit}");
    assert_eq!(visit["consent_of"], "yard", "{visit}");
}
