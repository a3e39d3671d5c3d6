//! A short visit begun by a command: what nobody said of it is asked before it begins.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::screen::Terminal;

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
