//! The day, led: alone on a terminal the program says what is open and what comes next, and every answer is a command.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::Port;
use holdtrue_tests::screen::Terminal;
use rustix::process::Signal;
use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};

/// Somebody at the keyboard, whose keys are counted.
struct Hand {
    terminal: Terminal,
    keys: usize,
}

impl Hand {
    /// Starts the program alone, as a person who has never used it.
    fn alone(bench: &Bench, words: &str, term: &str) -> Self {
        let mut command = bench.command(words.split_whitespace());
        command
            .env("TERM", term)
            .env("LC_ALL", "C.UTF-8")
            .env("HOME", bench.folder());
        Self {
            terminal: Terminal::start(&mut command, 80, 24),
            keys: 0,
        }
    }

    /// Presses keys once a text stands there.
    #[track_caller]
    fn at(&mut self, text: &str, keys: &str) -> &mut Self {
        self.terminal.until(text);
        if !keys.is_empty() {
            self.terminal.answers(keys.as_bytes());
        }
        self.keys += keys.chars().count();
        self
    }
}

impl Hand {
    /// Ends a round of which every item is answered, and goes back to the day.
    #[track_caller]
    fn through(&mut self, said: &str) -> &mut Self {
        self.at("Every item is answered", "").at(said, " ");
        self.back(said)
    }

    /// Goes back to the day once a command has said this and ended.
    #[track_caller]
    fn back(&mut self, said: &str) -> &mut Self {
        let until = Instant::now() + Duration::from_secs(120);
        loop {
            let text = self.terminal.text();
            if text.contains(said) && text.trim_end().ends_with("Space: back to the day.") {
                break;
            }
            assert!(Instant::now() < until, "hangs before \"{said}\":\n{text}");
            thread::sleep(Duration::from_millis(10));
        }
        self.at("back to the day", " ")
    }
}

/// Whose name is known.
fn named() -> Bench {
    let bench = bench!();
    bench.line("settings --name Hand").exits(0);
    bench
}

fn is_there(bench: &Bench, name: &str) -> bool {
    Path::new(&bench.path(name)).exists()
}

#[test]
fn the_first_run_leads_to_a_first_figure_and_on_to_a_visit() {
    let bench = bench!();
    let mut hand = Hand::alone(&bench, "", "xterm-256color");
    hand.at("Whose name goes under", "Technician A\r")
        .at("NEXT: Space rehearses", " ")
        .back("Check code")
        .at("begins a new visit", "q");
    assert_eq!(hand.terminal.end(), 0);
    assert!(hand.terminal.is_given_back());
    bench
        .line("settings")
        .exits(0)
        .shows("technician  Technician A");
    assert!(is_there(&bench, "rehearsal/rehearsal.holdtrue"));
}

/// Follows the pictures of a runout to its end: what is asked is so, the indicator is set, the button takes the positions.
fn follow_runout(hand: &mut Hand) {
    let picture = |text: &str| text.lines().skip(1).collect::<Vec<_>>().join("\n");
    let mut answered = String::new();
    let until = Instant::now() + Duration::from_secs(240);
    loop {
        assert!(Instant::now() < until, "hangs:\n{}", hand.terminal.text());
        thread::sleep(Duration::from_millis(60));
        let text = hand.terminal.text();
        if text.trim_end().ends_with("Space: back to the day.") {
            // A busy computer drew late, the key was pressed once more, and that left the last picture, too.
            return;
        }
        if picture(&text) == answered {
            continue;
        }
        for (shown, key) in [
            // In full, in lines, the first time.
            ("locked out again: Enter", "\r"),
            ("it is so", "\r"),
            ("it is set   ", " "),
            ("leave this picture", " "),
            ("Space, read again", "k"),
        ] {
            if text.contains(shown) {
                hand.at(shown, key);
                answered = picture(&text);
                if shown.starts_with("leave") {
                    return;
                }
                break;
            }
        }
    }
}

/// The port is typed once, which no gauge on USB needs.
fn name_port(hand: &mut Hand, port: &Port) {
    hand.terminal.until("name its port");
    hand.terminal.presses(format!("{}\r", port.path).as_bytes());
}

/// Clamps led from the day to their picture and back.
fn clamps(hand: &mut Hand) {
    hand.at("Y yes, N no", "y")
        .at("Was it heard", "y")
        .at("leave this picture", "");
    // Something lies on the key: the verdict stays in sight.
    hand.terminal.presses(b"    ");
    thread::sleep(Duration::from_millis(400));
    hand.at("leave this picture", " ").back("WITHIN LIMIT");
}

/// From an empty folder to the page: a new spindle, a short visit, five findings.
#[test]
fn a_new_spindle_and_five_findings_take_no_more_than_two_hundred_keys() {
    let bench = named();
    let port = Port::offer(&bench, "--pace max");
    let mut hand = Hand::alone(&bench, "", "xterm-256color");
    hand.at("NEXT: Space rehearses", "v")
        .at("What do people call", "TP-S-7\r")
        .at("as people say it", "BT4\r")
        .at("is no taper known here", "bt40\r")
        .at("What pulls the tool in", "1")
        .at("What drives the spindle", "2")
        .at("Which way does it point", "1")
        .at("The maker's grip force", "");
    hand.terminal.presses(b"10\r");
    hand.at("10 of what? Type its unit too", "10 kN\r")
        .at("What is the visit for", " ")
        .at("How much time", "4")
        .at("Examined with the consent", "yard\r")
        .at("The machine is operated by", "\r")
        .at("For whom", "\r")
        .at("Power-on hours", "\r")
        .at("Number of the tool", "\r")
        .at("Where is the book", "\r")
        .at("Judged: mean grip force   at least 7.00 kN", "")
        .back("Visit started.")
        .at("minutes left of 40", "")
        .at("Space: look and wipe", " ");
    let seen = |hand: &mut Hand, left: usize, text: &str| {
        hand.at(&format!("{left} left"), "s")
            .at("How urgent", "2")
            .at("in a few words", &format!("{text}\r"))
            .at("Written down", " ");
    };
    seen(&mut hand, 4, "rings");
    seen(&mut hand, 3, "dents");
    hand.at("2 left", " ");
    seen(&mut hand, 1, "two shiny");
    hand.through("1 fine, 3 seen");
    hand.at("Space: grip force as found", " ");
    name_port(&mut hand, &port);
    clamps(&mut hand);
    hand.at("Space: bar, 2 seatings", " ")
        .at("How is a position taken", " ")
        .at("Y yes, N no", "y");
    follow_runout(&mut hand);
    hand.back("bar or seat")
        .at("Space: play, blueing, keys", " ");
    hand.at("3 left", " ");
    seen(&mut hand, 2, "70 %");
    hand.at("1 left", " ")
        .through("2 fine, 1 seen")
        .at("Space: noise, warmth", " ");
    seen(&mut hand, 2, "howls");
    hand.at("1 left", " ")
        .through("1 fine, 1 seen")
        // Every step fits beside the figure on 80 columns.
        .at("6  NEXT: paper, 3 min", "")
        .at("answered: taper, gripper", "")
        .at("answered: noise, warmth", "")
        .at("Space: paper", " ")
        .at("Finish the visit all the same", "y\r")
        .back("page      tp-s-7-")
        .at("No visit is open", "");
    println!("a new spindle and five findings: {} keys", hand.keys);
    assert!(hand.keys <= 200, "{} keys", hand.keys);
}

/// Two questions back and on again: what was answered stands there, typed or chosen, and goes with one key.
#[test]
fn what_was_answered_stands_there_for_whoever_goes_back() {
    const BACK: &str = "\x1b[5~";
    let bench = named();
    let mut hand = Hand::alone(&bench, "", "xterm-256color");
    hand.at("NEXT: Space rehearses", "v")
        .at("What do people call", "TP-S-9\r")
        .at("as people say it", "bt40\r")
        .at("What pulls the tool in", "2")
        .at("What drives the spindle", BACK)
        .at("gas spring, as before", BACK)
        .at("bt40, as before", BACK)
        .at("TP-S-9, as before", "\r")
        .at("bt40, as before", "bt50\r")
        .at("gas spring, as before", " ")
        .at("What drives the spindle", " ")
        .at("Which way does it point", BACK)
        .at("What drives the spindle", " ")
        .at("Which way does it point", " ")
        .at("The maker's grip force", "18 kN\r")
        .at("What is the visit for", BACK)
        .at("18 kN, as before", "\x7f")
        .at("nobody has it", "\r")
        .at("how strongly is it sprung", " ")
        .at("What is the visit for", "2")
        .at("How much time", " ")
        .at("Examined with the consent", "yard\r")
        .at("The machine is operated by", BACK)
        .at("yard, as before", "\r")
        .at("The machine is operated by", "\r")
        .at("For whom", "\r")
        .at("Power-on hours", "12 345\r")
        .at("Number of the tool", "\r")
        .at("Where is the book", "\r")
        .back("Visit started.")
        .at("Q leave", "q");
    assert_eq!(hand.terminal.end(), 0);
    let spindle = bench.line("spindle show TP-S-9").exits(0);
    let spindle = spindle.shows("7/24-50 BT").shows("gas");
    assert!(!spindle.out.contains("18.00 kN"), "{spindle}");
    let status = bench.line("visit status --json").exits(0).json();
    assert_eq!(status["visit"]["header"]["purpose"], "before-purchase");
    assert_eq!(status["visit"]["header"]["consent_of"], "yard");
    assert_eq!(status["visit"]["header"]["power_on_hours"], 12_345.0);
}

/// The next visit to a spindle in the book: everything found fine, the page at the end.
#[test]
fn a_spindle_in_the_book_takes_no_more_than_sixty_keys() {
    let bench = named();
    let place = bench.path("visits.holdtrue").display().to_string();
    bench.run(["settings", "--book", &place]).exits(0);
    let said = |line: &str| bench.line(line).exits(0);
    said(
        "spindle add Centre-2 --interface BT40 --drive belt --drawbar disc-springs --axis horizontal --nominal-n 10kN",
    );
    said("visit start --spindle Centre-2 --date 2026-05-22 --consent-of yard --operated-by Ann");
    said("visit finish");
    let port = Port::offer(&bench, "--pace max");
    let mut hand = Hand::alone(&bench, "", "xterm-256color");
    hand.at("begins a new visit", " ")
        .at("Which spindle", " ")
        .at("What is the visit for", " ")
        .at("How much time", " ")
        .at("yard, as last time", "\r")
        .at("Ann, as last time", "\r")
        .at("For whom", "\r")
        .at("Power-on hours", "\r")
        .at("Number of the tool", "\r")
        .back("Visit started.");
    hand.at("Space: gauge check", " ");
    name_port(&mut hand, &port);
    hand.at("every figure, in lines", " ")
        .back("Fit to measure.");
    hand.at("Space: grip force as found", " ");
    clamps(&mut hand);
    hand.at("Space: runout, wall and bar", " ")
        .at("How is a position taken", " ")
        .at("Y yes, N no", "y");
    follow_runout(&mut hand);
    hand.back("reseating").at("Space: condition round", " ");
    for assembly in [
        "spindle and taper",
        "gripper",
        "drive",
        "tool changer",
        "axes and covers",
        "lubrication",
        "coolant",
        "electrical, from outside",
        "safety devices",
    ] {
        hand.at(&format!("· {assembly}, 1 of"), "a");
    }
    hand.through("0 left of")
        .at("Space: paper", " ")
        .at("Finish the visit? Nothing in it changes", "y\r")
        .back("page      centre-2")
        .at("begins a new visit", "q");
    assert_eq!(hand.terminal.end(), 0);
    println!("a spindle in the book: {} keys", hand.keys);
    assert!(hand.keys <= 60, "{} keys", hand.keys);
    let status = bench.line("visit status").exits(0).out;
    assert!(status.contains("No visit is open"), "{status}");
}

#[test]
fn the_day_is_led_in_lines_where_there_are_no_pictures_and_not_at_all_without_a_terminal() {
    let bench = named();
    let mut hand = Hand::alone(&bench, "", "dumb");
    hand.at("NEXT: Enter rehearses", "")
        .at("then Enter.", "q\r");
    assert_eq!(hand.terminal.end(), 0);
    assert!(!hand.terminal.bytes().contains(&0x1b), "no control");
    // Nobody to lead: the commands there are.
    for words in ["", "--json", "--yes"] {
        let run = bench.line(words).exits(2);
        run.tells("Usage: holdtrue").tells("rehearse");
    }
    assert!(!is_there(&bench, "visits.holdtrue"), "nothing was begun");
    // A word for somebody else is no key for its first letter, and the key that ends a visit for good asks first.
    let place = bench.path("visits.holdtrue").display().to_string();
    bench.run(["settings", "--book", &place]).exits(0);
    bench.line("spindle add Centre-3").exits(0);
    bench.line("visit start --spindle Centre-3").exits(0);
    let mut hand = Hand::alone(&bench, "", "dumb");
    hand.at("then Enter.", "exit\r")
        .at("\"exit\" answers nothing here", "e\r")
        .at("Nothing in it changes after that", "n\r")
        .at("Enter: back to the day.", "\r");
    thread::sleep(Duration::from_millis(300));
    hand.at("then Enter.", "q\r");
    assert_eq!(hand.terminal.end(), 0, "{}", hand.terminal.text());
    // Where a line is typed no blank is asked for.
    let said = String::from_utf8_lossy(&hand.terminal.bytes()).into_owned();
    assert!(!said.contains("Space"), "{said}");
    bench.line("visit status").exits(0).shows("Centre-3");
}

#[test]
fn stopped_in_any_way_the_day_gives_the_terminal_back() {
    for stop in [Signal::INT, Signal::TERM, Signal::HUP] {
        let bench = named();
        let mut hand = Hand::alone(&bench, "", "xterm-256color");
        hand.at("NEXT: Space rehearses", "v")
            .at("What do people call", "Cent");
        hand.terminal.signal(stop);
        assert_eq!(hand.terminal.end(), 130, "{}", hand.terminal.text());
        assert!(hand.terminal.is_given_back());
        assert!(!is_there(&bench, "visits.holdtrue"));
    }
}

#[test]
fn a_short_visit_that_is_started_is_led_at_once() {
    let bench = named();
    let place = bench.path("visits.holdtrue").display().to_string();
    bench.run(["settings", "--book", &place]).exits(0);
    bench.line("spindle add Centre-3").exits(0);
    let mut hand = Hand::alone(
        &bench,
        "visit start --short --spindle Centre-3",
        "xterm-256color",
    );
    hand.at("minutes left of 40", "")
        .at("Space: look and wipe", "q");
    assert_eq!(hand.terminal.end(), 0);
    // Nobody there: it is started, and that is all.
    bench.line("visit finish").exits(0);
    bench
        .line("visit start --short --spindle Centre-3")
        .exits(0)
        .shows("Visit started.");
}

/// What a visit lacks is read before anybody is asked to end it, by the key and by the last step alike; and it is asked once.
#[test]
fn what_is_missing_is_said_before_the_end_is_asked_for() {
    let bench = named();
    let place = bench.path("visits.holdtrue").display().to_string();
    bench.run(["settings", "--book", &place]).exits(0);
    bench.line("spindle add Centre-3 --interface BT40").exits(0);
    bench
        .line("visit start --spindle Centre-3 --consent-of yard")
        .exits(0);
    bench
        .line("finding round --answer taper-wall=fine")
        .exits(0);
    let mut hand = Hand::alone(&bench, "", "xterm-256color");
    hand.at("Space: gauge check", "e")
        .at("Finish the visit all the same?", "");
    let text = hand.terminal.text();
    let place = |said: &str| {
        text.find(said)
            .unwrap_or_else(|| panic!("no {said}:\n{text}"))
    };
    assert!(
        place("condition round") < place("Finish the visit"),
        "{text}"
    );
    assert!(place("--not-examined-rest") < place("Finish the visit"));
    assert_eq!(text.matches("Finish the visit").count(), 1, "{text}");
    hand.at("all the same?", "n").back("the visit goes on");
    hand.at("Space: gauge check", "q");
    assert_eq!(hand.terminal.end(), 0);
    bench.line("visit status").exits(0).shows("Visit open");
    // Nothing is missing: a key beside others that only look ends nothing unasked.
    bench
        .run(["finding", "round", "--not-examined-rest", "no time"])
        .exits(0);
    let mut hand = Hand::alone(&bench, "", "xterm-256color");
    hand.at("Space: gauge check", "e")
        .at("Finish the visit? Nothing in it changes after that.", "y")
        .back("page      centre-3")
        .at("begins a new visit", "q");
    assert_eq!(hand.terminal.end(), 0);
}

/// Before a runout starts one reads by which limit it will be judged, or that none is known, and one key gives it.
#[test]
fn the_limit_of_a_runout_is_said_before_it_starts_and_can_be_given() {
    let bench = named();
    let place = bench.path("visits.holdtrue").display().to_string();
    bench.run(["settings", "--book", &place]).exits(0);
    bench.line("spindle add Centre-3 --interface BT40").exits(0);
    bench.line("visit start --spindle Centre-3").exits(0);
    let port = Port::offer(&bench, "--pace max");
    let mut hand = Hand::alone(&bench, "", "xterm-256color");
    hand.at("Space: gauge check", "r");
    name_port(&mut hand, &port);
    hand.at("No runout limit is known", "")
        .at("No runout limit is known", "")
        .at("gives one.", "l")
        .at("Runout (TIR) at most", "ten\r")
        .at("found \"ten\", expected", "20=10 um\r")
        .at("Whose limit is it", " ")
        .at("Judged: TIR at 20 mm at most 10.0 µm (maker)", "l")
        .at("Runout (TIR) at most", "\x1b[5~")
        .at("Judged: TIR at 20 mm", " ")
        .at("as found, or as left", "f")
        .at("Judged: TIR at 20 mm   at most 10.0 µm   (maker)", "")
        .at("in place at this machine?", "n")
        .back("not acknowledged");
    hand.at("Q leave", "q");
    assert_eq!(hand.terminal.end(), 0);
    // Typed as a command it is said as well, before anything is asked.
    let line = format!("runout --gauge {} --state as-found", port.path);
    let run = bench.line(&line).exits(2);
    run.shows("No runout limit is known")
        .tells("nothing was started");
}
