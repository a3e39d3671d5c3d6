//! The live screen on a real terminal: what stands on it, what is heard, and that the terminal comes back whole.

use holdtrue_simulated_gauge::operator::stepping::StepHabits;
use holdtrue_simulated_gauge::world::plane::Prescribed;
use holdtrue_simulated_gauge::{Faults, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{OwnPort, Port};
use holdtrue_tests::screen::Terminal;
use rustix::process::Signal;
use std::process::Command;
use std::thread;
use std::time::Duration;

/// A grip check of two clamps, on a terminal with letters for half blocks.
fn grip(bench: &Bench, port: &Port) -> Command {
    let line = format!(
        "grip --gauge {} --yes --book yard.holdtrue --clamps 2 --state as-found --nominal-n 10000 --limit-percent 70",
        port.path
    );
    bench.on_screen(&line)
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
    let held = terminal.text();
    assert!(!held.contains("gauge free"), "of an earlier step:\n{held}");
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
    terminal.answers(b" ");
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
    terminal.answers(b"\r");
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
fn the_mean_of_the_last_time_stands_beside_the_limit() {
    let bench = bench!();
    let said = |line: &str| bench.line(&format!("{line} --book yard.holdtrue")).exits(0);
    said("spindle add Centre-2 --interface BT40");
    said("visit start --spindle Centre-2 --date 2026-05-22");
    bench
        .run([
            "grip",
            "--readings",
            "7.9 7.95 7.94 kN",
            "--state",
            "as-found",
            "--store",
            "--book",
            "yard.holdtrue",
        ])
        .exits(0);
    said("visit finish");
    said("visit start --spindle Centre-2");
    let port = sound(&bench);
    let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
    terminal.until("last time");
    let text = terminal.text();
    assert!(
        text.contains("22 May 2026") && text.contains("at least"),
        "{text}"
    );
    terminal.presses(b"q");
    assert_eq!(terminal.end(), 130, "{}", terminal.text());
}

#[test]
fn a_clamp_is_set_aside_by_a_key_and_what_is_seen_is_written_down_while_it_runs() {
    let bench = bench!();
    let port = Port::offer(&bench, "--pace 2");
    let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
    terminal.presses_until(b"d", "Why is clamp 1 set aside?");
    terminal.presses(b"4");
    terminal.until("because: _");
    // In a text every letter is a letter, and a slip is taken back.
    terminal.presses(b"hose, b.qx\x7f\r");
    terminal.until("clamp 1 does not count: hose, b.q (0 of 2 in)");
    terminal.presses(b"f");
    terminal.until("How urgent");
    terminal.resize(120, 30);
    terminal.presses(b"2");
    terminal.until("in a few words");
    terminal.presses("Kn\u{f6}pfe lose\r".as_bytes());
    terminal.until("in the book (within weeks): Kn\u{f6}pfe lose");
    terminal.presses_until(b"r", "clamp 2 does not count: taken again");
    terminal.presses(b"q");
    assert_eq!(terminal.end(), 130, "{}", terminal.text());
    assert!(terminal.is_given_back());
    drop(terminal);

    let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
    terminal.presses_until(b"p", "Nothing is read.");
    thread::sleep(Duration::from_millis(500));
    terminal.presses(b" ");
    terminal.until("Mean of 2 clamps");
    assert!(
        terminal.text().contains("With the discarded clamps:"),
        "{}",
        terminal.text()
    );
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
    let printed = String::from_utf8_lossy(&terminal.bytes()).into_owned();
    assert!(printed.contains("0 of 2 clamps are in"), "{printed}");
    crate::is_sound(&bench);
    bench
        .line("grip --from yard.holdtrue --json")
        .exits(0)
        .shows("\"reason\": \"hose, b.q\"");
    bench
        .line("finding list --book yard.holdtrue")
        .exits(0)
        .shows("within weeks: Kn\u{f6}pfe lose");
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
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
}

/// A plane of the wall, eight positions: nothing has to be live for it.
fn runout(bench: &Bench, port: &str, more: &str) -> Command {
    let line = format!(
        "runout --gauge {port} --at wall --height-mm -8 --positions 8 --limit-um 40 --book yard.holdtrue --yes {more}"
    );
    bench.on_screen(&line)
}

/// Somebody turns at the light's word; who says "now" sits at the keyboard.
fn turned() -> OwnPort {
    let mut setup = Setup::with_faults(5, Faults::default());
    setup.stepping = StepHabits {
        presses: false,
        mishaps: false,
        ..StepHabits::default()
    };
    setup.prescribed = Prescribed {
        runout_um: Some(3.0),
        noise_um: Some(0.05),
    };
    OwnPort::at_pace(setup, 8.0)
}

/// A word sooner than this after a reading is the same press, and he needs some seconds to turn on.
fn let_him_turn() {
    thread::sleep(Duration::from_millis(600));
}

#[test]
fn runout_is_led_round_the_turn_by_one_key_at_any_size_and_its_verdict_stays() {
    let bench = bench!();
    let port = turned();
    let mut terminal = Terminal::start(&mut runout(&bench, &port.path, ""), 80, 24);
    terminal.until("Press when it is set");
    terminal.presses(b" ");
    terminal.until("At position 1, when it stands still");
    let sizes = [(200, 60), (100, 30), (30, 10), (80, 24)];
    for position in 2..=8 {
        let (columns, rows) = sizes[position % sizes.len()];
        terminal.resize(columns, rows);
        let_him_turn();
        terminal.presses(b"\x1b[6~");
        // A window too small for blocks has the word in letters, and no table.
        terminal.until(&if columns < 80 {
            format!("TURN TO {position}")
        } else {
            format!("{position} …")
        });
    }
    terminal.resize(80, 24);
    let back_at_first = "\u{20}1 …";
    let_him_turn();
    terminal.presses(b" ");
    terminal.until(back_at_first);
    terminal.presses(b"\x1b[5~");
    terminal.until("8 …");
    let_him_turn();
    // With the first two a presenter blanks a screen.
    terminal.presses(b"b. ");
    terminal.until(back_at_first);
    terminal.presses(b"f");
    terminal.until("How urgent");
    terminal.presses(b"2dent at the mouth, q\r");
    terminal.until("in the book (within weeks): dent at the mouth, q");
    terminal.presses(b"\x1b[C");
    terminal.until("At most 40.0");
    assert!(terminal.text().contains("not an approval to run"));
    assert!(!terminal.is_given_back());
    terminal.answers(b"\r");
    assert_eq!(
        terminal.end(),
        0,
        "{}",
        String::from_utf8_lossy(&terminal.bytes())
    );
    assert!(terminal.is_given_back());
    let after = String::from_utf8_lossy(&terminal.bytes()).into_owned();
    let printed = &after[after.rfind("\u{1b}[?1049l").expect("it left its screen")..];
    for line in ["position 7 of 8", "position 8 again", "WITHIN LIMIT"] {
        assert!(printed.contains(line), "no \"{line}\":\n{printed}");
    }
    bench
        .line("finding list --book yard.holdtrue")
        .exits(0)
        .shows("within weeks: dent at the mouth, q");
}

/// The bar goes in, half way round again, and comes to rest: each time live for that alone, then isolated again.
#[test]
fn a_change_over_is_asked_on_the_screen_and_its_cautions_are_read_in_full_once() {
    let bench = bench!();
    let port = turned();
    let line = format!(
        "runout --gauge {} --at bar --height-mm 20 --positions 8 --state as-found --book yard.holdtrue",
        port.path
    );
    let mut command = bench.on_screen(&line);
    let mut terminal = Terminal::start(&mut command, 80, 24);
    terminal.until("Is the bar clamped already");
    terminal.presses(b"n");
    // The machine is live first: the bar goes in.
    terminal.until("Read, understood, and in place");
    assert!(
        terminal.text().contains("MACHINE LIVE"),
        "{}",
        terminal.text()
    );
    // No key of a clicker answers; the whole word, typed out of habit, answers once.
    terminal.presses(b" \x1b[6~\r");
    terminal.until("Y yes, N no.");
    terminal.presses(b"yes\n");
    terminal.until("The bell rang once");
    terminal.presses(b"n");
    terminal.until("Live: unclamp, put the bar in");
    thread::sleep(Duration::from_millis(500));
    terminal.presses(b"\r");
    terminal.until("isolated and locked out again: Enter");
    let bells = terminal.bells();
    assert!(!terminal.shows_a_picture(), "{}", terminal.text());
    // A key that is held down vouches for nothing.
    for _ in 0..40 {
        terminal.presses(b"\r");
        thread::sleep(Duration::from_millis(30));
    }
    assert!(!terminal.shows_a_picture(), "{}", terminal.text());
    thread::sleep(Duration::from_millis(500));
    terminal.presses(b"\r");
    terminal.until("Space it is set");
    assert!(terminal.shows_a_picture());
    assert!(
        terminal.text().contains("no bell · "),
        "{}",
        terminal.text()
    );
    terminal.resize(40, 12);
    assert_eq!(terminal.bells(), bells, "nobody hears it");
    terminal.presses(b"q");
    assert_eq!(terminal.end(), 130, "{}", terminal.text());
    assert!(terminal.is_given_back());
    bench
        .line("visit status --book yard.holdtrue")
        .exits(0)
        .shows("0 of 1 planes recorded");
}

#[test]
fn in_a_rhythm_nobody_presses_anything_and_the_word_says_when_to_turn() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 7 --pace 4");
    let mut command = runout(&bench, &port.path, "--paced 6 --quiet");
    command.env("LC_ALL", "C");
    // Too narrow for blocks: the word is in letters.
    let mut terminal = Terminal::start(&mut command, 40, 12);
    terminal.until("Space it is set");
    terminal.presses(b"\r");
    for word in ["TURN TO 3", "Hold it still.", "TURN TO 6"] {
        terminal.until(word);
    }
    // Should it look as if a position was left out: kept.
    for _ in 0..40 {
        thread::sleep(Duration::from_millis(250));
        terminal.presses(b"k");
    }
    terminal.until("WITHIN LIMIT");
    assert!(terminal.bytes().is_ascii());
    assert_eq!(terminal.bells(), 0);
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
}

#[test]
fn a_rhythm_is_paused_and_goes_on_with_the_same_position() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 7 --pace 4");
    let mut terminal = Terminal::start(&mut runout(&bench, &port.path, "--paced 6"), 80, 24);
    terminal.until("it is set");
    terminal.answers(b"\r");
    terminal.until("3 \u{2026}");
    terminal.until("P pause");
    // He turns at the light's word before he is stopped.
    thread::sleep(Duration::from_millis(600));
    terminal.presses(b"p");
    terminal.until("Nothing is read. What was taken stays.");
    assert!(
        terminal.text().contains("Space go on"),
        "{}",
        terminal.text()
    );
    // Twice the time in which the position would have been read.
    thread::sleep(Duration::from_secs(3));
    assert!(
        terminal.text().contains("3 \u{2026}"),
        "{}",
        terminal.text()
    );
    terminal.presses(b"\x1b[5~ ");
    terminal.until("Position 3 is next: turn to it, unless it");
    terminal.until("At most 40.0");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0, "{}", terminal.text());
    let printed = String::from_utf8_lossy(&terminal.bytes()).into_owned();
    for line in ["paused: nothing is read", "going on with position 3"] {
        assert!(printed.contains(line), "no \"{line}\":\n{printed}");
    }
    crate::is_sound(&bench);
}

#[test]
fn a_gauge_check_fills_the_ground_while_it_hangs_free_and_says_big_whether_it_is_fit() {
    let bench = bench!();
    let port = Port::offer(&bench, "--pace 5");
    let check = || {
        let line = format!("gauge check --gauge {}", port.path);
        let mut command = bench.on_screen(&line);
        Terminal::start(&mut command, 80, 24)
    };
    let mut terminal = check();
    terminal.until("until the ground is full");
    terminal.resize(40, 12);
    terminal.until("The gauge may measure.");
    terminal.resize(80, 24);
    terminal.until("every figure, in lines");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
    assert!(terminal.is_given_back());
    assert!(
        terminal.text().contains("Fit to measure."),
        "{}",
        terminal.text()
    );

    let mut terminal = check();
    terminal.until("until the ground is full");
    terminal.presses(b"q");
    assert_eq!(terminal.end(), 130, "{}", terminal.text());
    assert!(terminal.is_given_back());
}

#[test]
fn killed_outright_the_next_start_is_clean_and_bell_and_screen_can_be_switched_off() {
    let bench = bench!();
    let port = sound(&bench);
    let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
    terminal.until("(1 of 2 in)");
    terminal.signal(Signal::KILL);
    assert_eq!(terminal.end(), -1);
    assert!(!terminal.is_given_back(), "nothing could put it back");
    drop(terminal);

    bench
        .line("settings --bell off")
        .exits(0)
        .shows("bell        off");
    let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
    terminal.until("Mean of 2 clamps");
    assert_eq!(terminal.bells(), 0);
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
    let printed = String::from_utf8_lossy(&terminal.bytes()).into_owned();
    assert!(printed.contains("1 of 2 clamps are in"), "{printed}");
    crate::is_sound(&bench);

    bench.line("settings --screen off").exits(0);
    let mut terminal = Terminal::start(&mut grip(&bench, &port), 80, 24);
    terminal.until("Clamp 1 of 2: clamp now.");
    assert!(!terminal.bytes().contains(&0x1b));
    terminal.signal(Signal::INT);
    assert_eq!(terminal.end(), 130);
}

#[test]
fn no_line_breaks_inside_a_word() {
    let bench = bench!();
    for columns in [60, 80] {
        let mut command = bench.command([
            "runout",
            "--readings",
            "0 1 2 1 0",
            "--positions",
            "4",
            "--unit",
            "um",
            "--at",
            "bar",
        ]);
        let mut terminal = Terminal::start(&mut command, columns, 60);
        assert_eq!(terminal.end(), 0, "{}", terminal.text());
        let text = terminal.text();
        let words = "licensed or qualified practice come before anything this program says.";
        let all: Vec<&str> = text.split_whitespace().collect();
        assert!(all.join(" ").contains(words), "{columns} columns:\n{text}");
        assert!(
            text.lines()
                .all(|line| line.chars().count() <= usize::from(columns)),
            "{text}"
        );
    }
}

/// A set that is neither as found nor as left is in no trend and beside no earlier visit: whoever forgot it is asked.
#[test]
fn a_set_nobody_said_the_state_of_is_asked_about() {
    let bench = bench!();
    let port = sound(&bench);
    let line = format!(
        "grip --gauge {} --quiet --book yard.holdtrue --clamps 2 --nominal-n 10000",
        port.path
    );
    let state_of = |answer: &[u8], enter_alone: bool| {
        let mut command = bench.on_screen(&line);
        let mut terminal = Terminal::start(&mut command, 80, 24);
        terminal.until("as found, or as left");
        let text = terminal.text();
        let words: Vec<&str> = text.split_whitespace().collect();
        assert_eq!(words.join(" ").contains("Enter alone: found."), enter_alone);
        terminal.presses(answer);
        // In full the first time, in one line after that.
        let full = enter_alone;
        terminal.until(if full {
            "Read, understood"
        } else {
            "hands clear. Is it so?"
        });
        terminal.presses(b"y");
        terminal.until("Mean of 2 clamps");
        terminal.answers(b" ");
        assert_eq!(terminal.end(), 0);
        let status = bench
            .line("visit status --book yard.holdtrue --json")
            .exits(0)
            .json();
        let checks = status["visit"]["checks"].as_array().expect("checks");
        checks.last().expect("a check")["state"].clone()
    };
    assert_eq!(state_of(b"\n", true), "as_found");
    // What is no answer is asked again, and after a first set Enter alone says nothing.
    assert_eq!(state_of(b"\nwhat\nleft\n", false), "as_left");
    // A caution in one line is acknowledged by a yes alone, in lines too; a no starts nothing, and Enter, held down or not, a
    // clicker and the space bar answer nothing.
    let words = line.split_whitespace().chain(["--state", "as-left"]);
    let mut terminal = Terminal::start(&mut bench.command(words), 80, 24);
    terminal.until("hands clear. Is it so?");
    for nothing in [&b"\n"[..], b"q\n", b"\x1b[6~\n", b"what\n"] {
        terminal.presses(nothing);
    }
    terminal.presses(b"no\n");
    terminal.until("nothing was started");
    assert_eq!(terminal.end(), 2, "{}", terminal.text());
    let mut terminal = Terminal::start(
        &mut bench.on_screen(&format!("{line} --state as-left")),
        80,
        24,
    );
    terminal.until("hands clear. Is it so?");
    for _ in 0..60 {
        terminal.presses(b"\r");
        thread::sleep(Duration::from_millis(30));
    }
    terminal.presses(b"n");
    terminal.until("nothing was started");
    assert_eq!(terminal.end(), 2, "{}", terminal.text());
}

/// A runout that goes on says so, and whether the bar must sit as it did; the readings taken stay in sight all the same.
#[test]
fn no_figure_of_a_runout_that_goes_on_gives_way_to_what_is_said() {
    let bench = bench!();
    let port = turned();
    let line = format!(
        "runout --gauge {} --interface BT40 --at bar --seatings 1 --positions 8 --book yard.holdtrue --yes --quiet --state as-found",
        port.path
    );
    let mut terminal = Terminal::start(&mut bench.on_screen(&line), 80, 24);
    for step in [
        "Live: unclamp, put the bar in",
        // The first time in full, in lines.
        "solated and locked out again",
        "Space it is set",
    ] {
        terminal.until(step);
        terminal.answers(b"\r");
    }
    terminal.until("At position 1, when it stands still");
    for position in 2..=8 {
        let_him_turn();
        terminal.presses(b" ");
        terminal.until(&format!("{position} …"));
    }
    for shown in ["\u{20}1 …", "Leave the bar in"] {
        let_him_turn();
        terminal.presses(b" ");
        terminal.until(shown);
    }
    terminal.answers(b"q");
    assert_eq!(terminal.end(), 130, "{}", terminal.text());
    let mut terminal = Terminal::start(&mut bench.on_screen(&line), 80, 24);
    terminal.until("Space it is set");
    terminal.until("begin anew with --new");
    terminal.answers(b"\r");
    terminal.until("At position 1, when it stands still");
    for position in 2..=4 {
        let_him_turn();
        terminal.presses(b" ");
        terminal.until(&format!("{position} …"));
    }
    let text = terminal.text();
    for figure in [
        "1 0.0",
        "2 ",
        "3 ",
        "4 …",
        "5 ·",
        "8 ·",
        "runout so far",
        "plane 2 of 2",
    ] {
        assert!(text.contains(figure), "no {figure}:\n{text}");
    }
    assert!(text.contains("begin anew with --new"), "{text}");
    terminal.presses(b"n");
    terminal.until("Note: _");
    terminal.presses(b"the belt rubs a little where it runs over the second pulley\r");
    terminal.until("in the book (note): the belt rubs");
    let text = terminal.text();
    for figure in ["1 0.0", "4 …", "8 ·", "runout so far"] {
        assert!(text.contains(figure), "no {figure}:\n{text}");
    }
    terminal.presses(b"q");
    assert_eq!(terminal.end(), 130);
}
