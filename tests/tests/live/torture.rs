//! The day and the round on terminals that are resized, closed, killed, or can do little: nothing answered is lost, and the
//! terminal comes back.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::screen::Terminal;
use rustix::process::Signal;
use std::process::Command;

/// An open visit to a machine with a belt, in the book that is remembered.
fn visit() -> Bench {
    let bench = bench!();
    let place = bench.path("yard.holdtrue").display().to_string();
    bench.run(["settings", "--book", &place]).exits(0);
    let said = |line: &str| bench.line(line).exits(0);
    said("settings --name Hand");
    said(
        "spindle add Centre-2 --interface BT40 --drive belt --drawbar disc-springs --axis horizontal",
    );
    said("visit start --spindle Centre-2 --consent-of yard --operated-by Ann");
    bench
}

fn command(bench: &Bench, words: &str) -> Command {
    let mut command = bench.on_screen(words);
    command.env("HOME", bench.folder());
    command
}

/// What stands on the terminal once a command is under way.
fn first_words(words: &str) -> &'static str {
    match words {
        "" => "Space: gauge check",
        "finding round" => "spindle and taper, 1 of",
        "finding list" => "within weeks",
        _ => "Centre-2",
    }
}

/// Answered items of the round.
fn answered(bench: &Bench) -> usize {
    let document = bench.line("finding round --json").exits(0).json();
    let items = document["items"].as_array().expect("items");
    items.iter().filter(|item| !item["kind"].is_null()).count()
}

fn all(bench: &Bench) -> usize {
    let document = bench.line("finding round --json").exits(0).json();
    document["items"].as_array().expect("items").len()
}

#[test]
fn the_round_is_answered_at_any_size() {
    let bench = visit();
    let items = all(&bench);
    let mut terminal = Terminal::start(&mut command(&bench, "finding round"), 80, 24);
    let sizes = [(200, 60), (30, 10), (100, 30), (20, 5), (79, 23), (1, 1)];
    for (left, (columns, rows)) in (1..=items).rev().zip(sizes.into_iter().cycle()) {
        terminal.until(&format!("{left} left"));
        terminal.resize(columns, rows);
        terminal.answers(b" ");
        // Made smaller and larger again between two pictures.
        terminal.resize(80, 24);
    }
    terminal.until("Every item is answered");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
    assert!(terminal.is_given_back());
    assert_eq!(answered(&bench), items);
}

#[test]
fn questions_with_text_survive_a_window_that_changes() {
    let bench = visit();
    let mut terminal = Terminal::start(&mut command(&bench, "finding round"), 80, 24);
    for (text, keys, columns, rows) in [
        ("spindle and taper, 1 of", "s", 200, 60),
        ("How urgent", "2", 40, 12),
        ("in a few words", "rings at", 100, 30),
        ("rings at", " the mouth", 79, 24),
        ("rings at the mouth", "\r", 200, 60),
        ("Written down", " ", 80, 24),
        ("spindle and taper, 2 of", "q", 100, 30),
        ("Everything answered is in the book", " ", 80, 24),
    ] {
        terminal.until(text);
        terminal.resize(columns, rows);
        terminal.answers(keys.as_bytes());
    }
    assert_eq!(terminal.end(), 0);
    assert!(terminal.is_given_back());
    bench
        .line("finding list")
        .exits(0)
        .shows("within weeks: rings at the mouth");
}

#[test]
fn killed_outright_the_round_goes_on_where_it_was_and_closed_it_comes_back() {
    let bench = visit();
    let items = all(&bench);
    for (done, stop) in [
        (2, Some(Signal::KILL)),
        (4, Some(Signal::HUP)),
        (6, None),
        (8, Some(Signal::INT)),
    ] {
        let mut terminal = Terminal::start(&mut command(&bench, "finding round"), 80, 24);
        for left in [items - done + 2, items - done + 1] {
            terminal.until(&format!("{left} left"));
            terminal.answers(b" ");
        }
        terminal.until(&format!("{} left", items - done));
        match stop {
            Some(signal) => terminal.signal(signal),
            None => terminal.close(),
        }
        let ended = terminal.end();
        if let Some(Signal::HUP | Signal::INT) = stop {
            assert_eq!(ended, 130, "{}", terminal.text());
            assert!(terminal.is_given_back(), "{stop:?}");
        }
        assert_eq!(answered(&bench), done, "{stop:?}");
    }
    crate::is_sound(&bench);
}

#[test]
fn the_day_is_shown_at_any_size_and_killed_it_begins_anew() {
    let bench = visit();
    let mut terminal = Terminal::start(&mut command(&bench, ""), 80, 24);
    for (columns, rows) in [(200, 60), (30, 10), (1, 1), (100, 30), (80, 24)] {
        terminal.resize(columns, rows);
    }
    terminal.until("Space: gauge check");
    terminal.answers(b"c");
    terminal.until("spindle and taper, 1 of");
    terminal.resize(100, 30);
    terminal.answers(b" ");
    terminal.until("spindle and taper, 2 of");
    terminal.signal(Signal::KILL);
    assert_eq!(terminal.end(), -1);
    drop(terminal);
    assert_eq!(answered(&bench), 1);
    // Nothing of a day is kept but what is in the book: it begins where that is. Closed, it ends by itself.
    let mut terminal = Terminal::start(&mut command(&bench, ""), 80, 24);
    terminal.until("Space: gauge check");
    terminal.answers(b"c");
    terminal.until("spindle and taper, 2 of");
    terminal.answers(b" ");
    terminal.until("spindle and taper, 3 of");
    terminal.close();
    assert_ne!(terminal.end(), 0);
    assert_eq!(answered(&bench), 2);
}

/// The parameters of every change of style a terminal was sent.
fn styles(bytes: &[u8]) -> Vec<u32> {
    let text = String::from_utf8_lossy(bytes).into_owned();
    let after = text.split("\u{1b}[").skip(1);
    let styles = after.filter_map(|rest| {
        let end = rest.find(|sign: char| sign.is_ascii_alphabetic())?;
        (&rest[end..=end] == "m").then(|| rest[..end].to_owned())
    });
    let numbers = styles.flat_map(|style| {
        let each = style.split(';').map(|part| part.parse().unwrap_or(0));
        each.collect::<Vec<u32>>()
    });
    numbers.collect()
}

#[test]
fn no_terminal_is_sent_a_colour() {
    for (name, value) in [
        ("TERM", "xterm-16color"),
        ("TERM", "linux"),
        ("TERM", "vt100"),
        ("NO_COLOR", "1"),
        ("COLORTERM", "truecolor"),
    ] {
        for words in ["", "finding round"] {
            let bench = visit();
            let mut command = command(&bench, words);
            command.env(name, value);
            let mut terminal = Terminal::start(&mut command, 80, 24);
            terminal.until(first_words(words));
            assert!(terminal.shows_a_picture(), "{name}={value} {words}");
            terminal.answers(b"q");
            if !words.is_empty() {
                terminal.until("Everything answered is in the book");
                terminal.answers(b" ");
            }
            assert_eq!(terminal.end(), 0);
            // Both colours as they were (39, 49, 59), plain, bold, underlined, reversed, and each of them off.
            let known = [0, 1, 4, 7, 22, 24, 27, 39, 49, 59];
            let styles = styles(&terminal.bytes());
            assert!(styles.contains(&1), "bold, at least: {styles:?}");
            let colours: Vec<&u32> = styles
                .iter()
                .filter(|style| !known.contains(style))
                .collect();
            assert!(colours.is_empty(), "{name}={value}: {colours:?}");
        }
    }
}

#[test]
fn without_letters_beyond_ascii_pictures_and_lines_are_sent_in_ascii() {
    for words in ["", "finding round", "visit status", "finding list"] {
        let bench = visit();
        bench
            .run([
                "finding",
                "add",
                "--item",
                "nose",
                "--severity",
                "soon",
                "3 \u{b5}m \u{b1} 1 \u{b0}, Kn\u{f6}pfe",
            ])
            .exits(0);
        let mut command = command(&bench, words);
        command.env("LC_ALL", "C");
        let mut terminal = Terminal::start(&mut command, 80, 24);
        terminal.until(first_words(words));
        if words.is_empty() || words == "finding round" {
            terminal.answers(b"q");
        }
        if words == "finding round" {
            terminal.until("Everything answered is in the book");
            terminal.answers(b" ");
        }
        assert_eq!(terminal.end(), 0, "{words}");
        let bytes = terminal.bytes();
        let strange = bytes.iter().position(|byte| !byte.is_ascii());
        let around = strange
            .map(|at| String::from_utf8_lossy(&bytes[at.saturating_sub(30)..at + 4]).into_owned());
        assert_eq!(around, None, "{words}");
    }
}

#[test]
fn output_that_goes_to_a_file_leads_nobody_and_asks_where_it_is_seen() {
    let bench = visit();
    let into_file = |words: &str| {
        let program = bench.command([]).get_program().to_owned();
        let mut command = command(&bench, "");
        let shell = format!("exec \"$0\" {words} > out.txt");
        let mut through = Command::new("sh");
        through.arg("-c").arg(shell).arg(program);
        through.current_dir(bench.folder());
        for (name, value) in command.env("X", "").get_envs() {
            if let Some(value) = value {
                through.env(name, value);
            }
        }
        Terminal::start(&mut through, 80, 24)
    };
    let mut terminal = into_file("");
    assert_eq!(terminal.end(), 2);
    terminal.until("--version");
    // The round is listed, as without a terminal.
    let mut terminal = into_file("finding round");
    assert_eq!(terminal.end(), 0);
    let listed = std::fs::read_to_string(bench.path("out.txt")).expect("the file");
    assert!(listed.contains("taper-wall"), "{listed}");
    assert!(!listed.contains('\u{1b}') && !terminal.bytes().contains(&0x1b));
    // What has to be answered is asked on the terminal.
    bench.line("visit edit --tool T12").exits(0);
    let mut terminal = into_file("visit finish");
    terminal.until("Finish the visit all the same?");
    terminal.answers(b"no\r");
    assert_eq!(terminal.end(), 2);
    let listed = std::fs::read_to_string(bench.path("out.txt")).expect("the file");
    assert_eq!(listed, "");
}

#[test]
fn what_takes_longer_than_a_second_says_so_and_leaves_nothing_of_it() {
    let bench = bench!();
    let rows = (0..1_000_000).map(|row| {
        let force_n = match row % 9_000 {
            2_000..8_000 => 9_000 + row % 7,
            _ => row % 5,
        };
        format!("{}.{:03},{force_n}\n", row / 1_000, row % 1_000)
    });
    let table: String = std::iter::once("time_s,force_n\n".to_owned())
        .chain(rows)
        .collect();
    bench.file("hour.csv", table);
    let mut terminal = Terminal::start(&mut command(&bench, "grip --from hour.csv"), 80, 24);
    let until = std::time::Instant::now() + std::time::Duration::from_secs(120);
    let seen =
        |terminal: &Terminal| String::from_utf8_lossy(&terminal.bytes()).contains(" \u{2026} 1 s");
    while !seen(&terminal) {
        assert!(std::time::Instant::now() < until, "{}", terminal.text());
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    assert_eq!(terminal.end(), 0);
    let printed = String::from_utf8_lossy(&terminal.bytes()).into_owned();
    assert!(
        printed.contains("\rReading the record") || printed.contains("\rComputing the clamps"),
        "{printed}"
    );
    assert!(
        !terminal.text().contains("Reading the record"),
        "{}",
        terminal.text()
    );
    // Nobody sits before a pipe.
    let run = bench.line("grip --from hour.csv").exits(0);
    assert!(!run.messages.contains('\r'), "{}", run.messages);
}

/// At a line as at a key: the terminal's Ctrl-C ends it at once, and nothing after the question is done.
#[test]
fn ctrl_c_ends_a_question_that_is_answered_by_a_line() {
    let asked = [
        ("", "then Enter."),
        ("finding round", "then Enter."),
        ("grip --readings 2200 --unit kN --store", "which unit?"),
        (
            "runout --gauge none --at wall --height-mm -8",
            "as found, or as left",
        ),
    ];
    for (words, shown) in asked {
        let bench = visit();
        let before = std::fs::read(bench.path("yard.holdtrue")).expect("a book");
        let mut command = command(&bench, words);
        command.env("TERM", "dumb");
        let mut terminal = Terminal::start(&mut command, 80, 24);
        terminal.until(shown);
        terminal.signal(Signal::INT);
        assert_eq!(terminal.end(), 130, "{words}: {}", terminal.text());
        assert!(
            terminal.text().contains("stopped"),
            "{words}: {}",
            terminal.text()
        );
        assert!(terminal.is_given_back(), "{words}");
        let after = std::fs::read(bench.path("yard.holdtrue")).expect("a book");
        assert_eq!(before, after, "{words}");
    }
}

/// All keys whole, or how large the window has to be: N and V are no use where they are not shown.
#[test]
fn a_small_window_shows_every_key_of_the_day_or_says_how_large_it_has_to_be() {
    let bench = visit();
    let mut terminal = Terminal::start(&mut command(&bench, ""), 79, 23);
    let keys = [
        "SPACE what is next",
        "G grip force",
        "R runout",
        "C condition round",
        "K check the gauge",
        "P paper",
        "E end of the visit",
        "V new visit",
        "O overview",
        "T rehearse",
        "Q leave",
    ];
    for (columns, rows) in [(79, 23), (60, 20), (40, 16), (30, 14)] {
        terminal.resize(columns, rows);
        // What stood there before is cut by the window until it is drawn anew.
        for key in keys {
            terminal.until(key);
        }
        let text = terminal.text();
        // The name of the largest word, whole, and no cut line.
        assert!(!text.contains('…'), "{columns} × {rows}:\n{text}");
    }
    for (columns, rows) in [(60, 5), (30, 9), (17, 20)] {
        terminal.resize(columns, rows);
        terminal.until("too small");
        let text = terminal.text();
        assert!(!text.contains('…'), "{columns} × {rows}:\n{text}");
        let words = text.split_whitespace();
        let size = words.clone().find_map(|word| word.split_once('×'));
        let (wide, high) = size.expect("a size");
        let high = high.trim_end_matches('.');
        let number = |text: &str| text.parse::<u16>().expect("a number");
        terminal.resize(number(wide), number(high));
        terminal.until("Q leave");
    }
    terminal.answers(b"q");
    assert_eq!(terminal.end(), 0);
}
