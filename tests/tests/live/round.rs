//! The condition round with somebody at the keyboard: one key an item, each answer in the book at once.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::screen::Terminal;
use rustix::process::Signal;
use serde_json::Value;
use std::thread;
use std::time::Duration;

/// An open visit to a machine with a belt.
fn visit() -> Bench {
    let bench = bench!();
    bench
        .in_book(
            "spindle add --drive belt --axis horizontal --interface BT40",
            &["Centre 1"],
        )
        .exits(0);
    bench
        .in_book("visit start --spindle", &["Centre 1"])
        .exits(0);
    bench
}

fn start(bench: &Bench, more: &str, term: &str) -> Terminal {
    let words = format!("--book yard.holdtrue --technician Hand finding round {more}");
    let mut command = bench.command(words.split_whitespace());
    command.env("TERM", term).env("LC_ALL", "C.UTF-8");
    Terminal::start(&mut command, 80, 24)
}

/// Ends a round of which every item is answered.
#[track_caller]
fn through(terminal: &mut Terminal) {
    terminal.until("Every item is answered, and in the book.");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
}

fn items(bench: &Bench) -> Vec<Value> {
    let document = bench.in_book("finding round --json", &[]).exits(0).json();
    document["items"].as_array().expect("items").clone()
}

fn kinds(bench: &Bench) -> Vec<String> {
    let kind = |item: &Value| item["kind"].as_str().unwrap_or("open").to_owned();
    items(bench).iter().map(kind).collect()
}

#[test]
fn a_round_takes_one_key_an_item_and_one_for_the_rest_of_an_assembly() {
    let bench = visit();
    let all = items(&bench);
    let mut terminal = start(&bench, "", "xterm-256color");
    let mut keys = 0;
    // Alike names would not tell one item from the next: how many are left does.
    for left in (1..=all.len()).rev() {
        terminal.until(&format!("{left} left"));
        terminal.answers(b" ");
        keys += 1;
    }
    through(&mut terminal);
    assert_eq!(keys, all.len());
    assert!(terminal.is_given_back());
    assert!(kinds(&bench).iter().all(|kind| kind == "in_order"));
    // By assemblies: one key each.
    let bench = visit();
    let mut terminal = start(&bench, "", "xterm-256color");
    let mut assemblies: Vec<&Value> = all.iter().map(|item| &item["assembly"]).collect();
    assemblies.dedup();
    for assembly in &assemblies {
        terminal.until(&format!("· {}, 1 of", assembly.as_str().expect("a name")));
        terminal.answers(b"a");
    }
    through(&mut terminal);
    assert!(kinds(&bench).iter().all(|kind| kind == "in_order"));
}

#[test]
fn what_was_seen_is_in_the_book_at_once_and_goes_on_where_it_was_left() {
    let bench = visit();
    let mut terminal = start(&bench, "", "xterm-256color");
    terminal.until("spindle and taper, 1 of");
    terminal.answers(b"s");
    terminal.until("How urgent");
    terminal.answers(b"2");
    terminal.until("in a few words");
    terminal.answers(b"rings at the mouth\r");
    terminal.until("Written down: rings at the mouth");
    // Killed here, nothing of it is lost.
    let killed = items(&bench);
    assert_eq!(killed[0]["text"], "within weeks: rings at the mouth");
    terminal.answers(b"c");
    terminal.until("What mending may cost");
    terminal.answers(b"400-600\r");
    terminal.until("without a currency");
    terminal.answers(b"400-600 EUR\r");
    terminal.until("estimate 400 to 600 EUR");
    terminal.answers(b" ");
    terminal.until("spindle and taper, 2 of");
    terminal.answers(b"l");
    terminal.until("Not looked at, because");
    terminal.answers(b"no mirror\r");
    terminal.until("spindle and taper, 3 of");
    // The reason of before is one key.
    terminal.answers(b"l");
    terminal.until("Enter alone: no mirror");
    terminal.answers(b"\r");
    terminal.until("spindle and taper, 4 of");
    // A slip is taken back: the item waits again, and the book says nothing of the slip.
    terminal.answers(b" ");
    terminal.until("spindle and taper, 5 of");
    terminal.answers(b"\x1b[5~");
    terminal.until("spindle and taper, 4 of");
    terminal.signal(Signal::TERM);
    assert_eq!(terminal.end(), 130);
    assert!(terminal.is_given_back());
    let kinds: Vec<String> = kinds(&bench).into_iter().take(5).collect();
    assert_eq!(
        kinds,
        ["found", "not_examined", "not_examined", "open", "open"]
    );
    bench
        .in_book("finding list", &[])
        .exits(0)
        .shows("estimate 400 to 600 EUR")
        .shows("because no mirror");
    let listed = bench.in_book("finding list --json", &[]).exits(0).json();
    assert_eq!(listed["findings"].as_array().expect("findings").len(), 3);
    // On with the fourth; leaving says what becomes of the rest.
    let mut terminal = start(&bench, "", "xterm-256color");
    terminal.until("spindle and taper, 4 of");
    terminal.answers(b"q");
    terminal.until("Everything answered is in the book");
    terminal.answers(b"l");
    terminal.until("Not looked at, because");
    terminal.answers(b"no time\r");
    assert_eq!(terminal.end(), 0);
    assert!(items(&bench).iter().all(|item| item["kind"] != Value::Null));
}

#[test]
fn from_a_text_nobody_wants_to_type_it_goes_back_to_the_item_and_the_keys_shown_work() {
    let bench = visit();
    let mut terminal = start(&bench, "", "xterm-256color");
    terminal.until("spindle and taper, 1 of");
    assert!(
        !terminal.text().contains("PageUp"),
        "nothing to take back yet: {}",
        terminal.text()
    );
    // What was measured before is not lost on the way back.
    terminal.answers(b"v");
    terminal.until("Measured, such as");
    terminal.answers(b"0.35 mm\r");
    terminal.until("maker's figure");
    terminal.answers(b"\r");
    terminal.until("measured 0.35 mm");
    terminal.answers(b"s");
    terminal.until("How urgent");
    terminal.answers(b"2");
    terminal.until("in a few words");
    let keys = |terminal: &Terminal| terminal.text().lines().last().unwrap_or("").to_owned();
    assert_eq!(keys(&terminal).trim(), "PageUp back to the item");
    terminal.answers(b"\r");
    terminal.until("Nothing was typed: a few words are wanted");
    terminal.answers(b"w");
    terminal.until("Enter takes it");
    assert_eq!(keys(&terminal).trim(), "Enter takes it");
    terminal.answers(b"\x7f\x1b[5~");
    terminal.until("spindle and taper, 1 of");
    terminal.until("measured 0.35 mm");
    terminal.answers(b"l");
    terminal.until("Not looked at, because");
    terminal.answers(b"\r");
    terminal.until("Nothing was typed: a few words are wanted");
    terminal.answers(b"\x1b[5~");
    terminal.until("A rest of these is fine");
    terminal.answers(b" ");
    terminal.until("PageUp answer back");
    terminal.answers(b"q");
    terminal.until("Everything answered is in the book");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
    assert_eq!(kinds(&bench)[..2], ["in_order", "open"]);
}

#[test]
fn what_became_of_a_photo_is_read_whole_on_the_smallest_screen() {
    let bench = visit();
    std::fs::write(
        bench.path("spindle.heic"),
        b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    )
    .expect("a file");
    let picture = image::RgbImage::from_pixel(640, 480, image::Rgb([90, 90, 90]));
    picture.save(bench.path("spindle.png")).expect("a photo");
    let mut terminal = start(&bench, "", "xterm-256color");
    let is_told = |terminal: &mut Terminal| {
        terminal.answers(b"i");
        terminal.until("Photo: its file");
        terminal.answers(b"spindle.heic\r");
        terminal.until("save this photo as JPEG there");
        assert!(terminal.text().contains("Photo: its file"), "asked again");
        let text = terminal
            .text()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert!(
            text.contains("found a file of the format HEIC, expected"),
            "{text}"
        );
        assert!(text.contains("and copy that."), "{text}");
        // Put right at once, its letters are a name, and no keys for cost, hours or value.
        terminal.presses(b"chvi.png\r");
        terminal.until("chvi.png: ");
        terminal.presses(b"spindle.png\r");
        terminal.until("without place and time");
        let text = terminal
            .text()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert!(
            text.contains("photo spindle.png: kept as it is ("),
            "{text}"
        );
    };
    terminal.until("spindle and taper, 1 of");
    is_told(&mut terminal);
    terminal.answers(b"s");
    terminal.until("How urgent");
    terminal.answers(b"2");
    terminal.until("in a few words");
    terminal.answers(b"dent\r");
    terminal.until("Written down: dent");
    is_told(&mut terminal);
    terminal.signal(Signal::TERM);
    assert_eq!(terminal.end(), 130);
}

/// Something that lies on the space bar, or a thumb that stays there, has looked at nothing.
#[test]
fn a_key_held_down_answers_one_item_and_what_was_pressed_before_an_item_none() {
    let bench = visit();
    let all = items(&bench).len();
    let mut terminal = start(&bench, "", "xterm-256color");
    terminal.until(&format!("{all} left"));
    thread::sleep(Duration::from_millis(350));
    terminal.holds(b" ", 40);
    terminal.until("One press an answer");
    assert!(terminal.text().contains(&format!("{} left", all - 1)));
    // Let go, it answers again; two presses at once answer one item.
    terminal.answers(b" s");
    terminal.until(&format!("{} left", all - 2));
    terminal.answers(b"s");
    terminal.until("How urgent");
    terminal.answers(b"4");
    terminal.until("in a few words");
    // Enter held down ends the text, and answers neither what it comes to nor the next item.
    terminal.presses(b"worn");
    terminal.holds(b"\r", 40);
    terminal.until("Written down: worn");
    terminal.answers(b" ");
    terminal.until(&format!("{} left", all - 3));
    terminal.answers(b"q");
    terminal.until("Everything answered is in the book");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
    let kinds: Vec<String> = kinds(&bench);
    assert_eq!(kinds[..4], ["in_order", "in_order", "found", "open"]);
}

#[test]
fn a_terminal_that_shows_no_pictures_asks_in_lines() {
    let bench = visit();
    for (term, more) in [("dumb", ""), ("xterm-256color", "--plain")] {
        let mut terminal = start(&bench, more, term);
        terminal.until("then Enter.");
        terminal.answers(b"\r");
        terminal.until("of 10");
        terminal.answers(b"q\r");
        terminal.until("can be answered later");
        terminal.answers(b"\r");
        assert_eq!(terminal.end(), 0, "{term}: {}", terminal.text());
        assert!(!terminal.bytes().contains(&0x1b), "{term}: no control");
    }
    assert_eq!(
        kinds(&bench)
            .iter()
            .filter(|kind| *kind == "in_order")
            .count(),
        2
    );
}

/// The last answer is a slip as often as any other.
#[test]
fn the_last_answer_of_a_round_is_taken_back_at_once_and_later() {
    const BACK: &[u8] = b"\x1b[5~";
    let bench = visit();
    let two = "--item play --item contact";
    let kinds = || -> Vec<String> {
        let line = format!("finding round --json {two}");
        let document = bench.in_book(&line, &[]).exits(0).json();
        let items = document["items"].as_array().expect("items").clone();
        let kind = |item: &Value| item["kind"].as_str().unwrap_or("open").to_owned();
        items.iter().map(kind).collect()
    };
    let mut terminal = start(&bench, two, "xterm-256color");
    terminal.until("2 left");
    terminal.answers(b" ");
    terminal.until("1 left");
    terminal.answers(b" ");
    terminal.until("Every item is answered");
    assert!(
        terminal
            .text()
            .contains("2 fine, 0 seen, 0 not looked at, 0 left of 2"),
        "{}",
        terminal.text()
    );
    terminal.answers(BACK);
    terminal.until("1 left");
    assert_eq!(kinds(), ["in_order", "open"]);
    terminal.answers(b"s");
    terminal.until("How urgent");
    terminal.answers(b"2");
    terminal.until("in a few words");
    terminal.answers(b"drags\r");
    terminal.until("Written down: drags");
    terminal.answers(b" ");
    through(&mut terminal);
    assert_eq!(kinds(), ["in_order", "found"]);
    // Begun again, it is through, and offers the last answers: one, and the one before it.
    let mut terminal = start(&bench, two, "xterm-256color");
    terminal.until("Every item is answered");
    terminal.answers(BACK);
    terminal.until("1 left");
    terminal.answers(BACK);
    terminal.until("2 left");
    terminal.answers(BACK);
    terminal.until("No answer of the round is before this one");
    assert_eq!(kinds(), ["open", "open"]);
    terminal.answers(b" ");
    terminal.until("1 left");
    terminal.answers(b" ");
    through(&mut terminal);
    assert_eq!(kinds(), ["in_order", "in_order"]);
    // In lines as well.
    let mut terminal = start(&bench, two, "dumb");
    terminal.until("<: last answer back");
    terminal.answers(b"<\r");
    terminal.until("1 left");
    terminal.answers(b"\r");
    terminal.until("Every item is answered");
    terminal.answers(b"\r");
    assert_eq!(terminal.end(), 0);
    assert_eq!(kinds(), ["in_order", "in_order"]);
}

#[test]
fn a_value_is_asked_for_with_one_that_could_be_found() {
    let bench = visit();
    for (item, example, makers) in [
        ("contact", "such as 85 %", "at least 80 %"),
        ("play", "such as 8 µm", "at most 10 µm"),
        ("push-out", "such as 0.35 mm", "0.3 to 0.5 mm"),
    ] {
        let mut terminal = start(&bench, &format!("--item {item}"), "xterm-256color");
        terminal.until("1 left");
        terminal.answers(b"v");
        terminal.until(example);
        terminal.answers(b"seventy\r");
        terminal.until("found \"seventy\", expected a figure");
        terminal.answers(b"70\r");
        terminal.until(makers);
        // What the maker allows is typed as it is shown.
        terminal.answers(format!("{makers}\r").as_bytes());
        terminal.until("measured 70");
        terminal.signal(Signal::TERM);
        assert_eq!(terminal.end(), 130);
    }
}
