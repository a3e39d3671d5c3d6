//! What a technician reads, on screen and on the page: the words of the trade, and nothing said that is not so.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;

/// Words nobody at a spindle uses, or that mean something else there.
const NOT_SAID: [&str; 14] = [
    "spindle part",
    "spindle's part",
    "settled",
    "digest",
    "release unit",
    "eject",
    "seat repeat",
    "has to clear",
    "control's orientation",
    "off centre, high",
    "before-purchase",
    "-8 mm",
    "\u{2212}8",
    "before use:",
];

/// The text of a page, its marks and pictures left out.
pub(crate) fn text_of(page: &str) -> String {
    let body = page.split_once("<body>").map_or(page, |(_, body)| body);
    let mut text = String::new();
    let mut in_tag = false;
    for letter in body.chars() {
        match letter {
            '<' => in_tag = true,
            '>' => {
                in_tag = false;
                text.push(' ');
            }
            _ if in_tag => {}
            '\u{a0}' => text.push(' '),
            other => text.push(other),
        }
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    words.join(" ").replace(" ,", ",").replace(" .", ".")
}

fn page_of(bench: &Bench) -> String {
    bench
        .line("report --book yard.holdtrue --html page.html --overwrite")
        .exits(0);
    text_of(&std::fs::read_to_string(bench.path("page.html")).expect("the page"))
}

fn says_nothing_of(text: &str, words: &[&str]) {
    let small = text.to_lowercase();
    for word in words {
        assert!(!small.contains(word), "\"{word}\" in\n{text}");
    }
}

#[test]
fn a_rehearsal_speaks_the_words_of_the_trade_on_screen_and_page() {
    let bench = bench!();
    let screen = bench
        .line("rehearse --seed 3 --book yard.holdtrue")
        .exits(0);
    let page = page_of(&bench);
    let said = format!("{}{}", screen.messages, screen.out);
    says_nothing_of(&said, &NOT_SAID);
    says_nothing_of(&page, &NOT_SAID);
    // A guard band is for those who read the appendix.
    let (front, appendix) = page.split_once(" Appendix ").expect("an appendix");
    says_nothing_of(
        front,
        &[
            "guard",
            "degrees of freedom",
            "no serial number",
            "as typed",
        ],
    );
    assert!(appendix.contains("Guard band of"));
    for text in [
        "70 % of the maker's nominal 10.00 kN (70 %: common practice, no source)",
        "allowed for measuring uncertainty",
        "8 mm inside the mouth",
        "unout of the spindle alone",
        "eseating repeatability",
        "holding",
        "= TIR",
    ] {
        let spoken = text.replace("8 mm inside", "8 mm in");
        assert!(
            said.contains(text) || said.contains(&spoken),
            "{text}\n{said}"
        );
        assert!(page.contains(text), "{text}\n{page}");
    }
    // The indicator's own certificate, by its number, and its serial number.
    for text in [
        "check code",
        "TP-D-",
        "disc (Belleville) springs",
        "Taper runout",
    ] {
        assert!(front.contains(text), "{text}\n{front}");
    }
}

/// Five clamps noted by hand, stored in the open visit.
fn noted(bench: &Bench, state: &str, readings: &str) {
    let line = format!(
        "grip --unit kN --limit-n 7000 --uncertainty-percent 0.5 --store --state {state} --book yard.holdtrue"
    );
    let mut words: Vec<&str> = line.split_whitespace().collect();
    words.extend(["--readings", readings]);
    bench.run(words);
}

/// What stands between two headings of a page.
fn between<'p>(page: &'p str, from: &str, to: &str) -> &'p str {
    let (_, after) = page.split_once(from).expect("the heading");
    after.split_once(to).map_or(after, |(part, _)| part)
}

#[test]
fn what_was_put_right_is_not_asked_for_again() {
    let bench = bench!();
    bench
        .line("visit start --purpose before-purchase --book yard.holdtrue")
        .exits(0);
    noted(&bench, "as-found", "5.50 5.52 5.49 5.51 5.50");
    let found = page_of(&bench);
    let to_do = between(&found, "What to do", "What we found");
    assert!(to_do.contains("is outside its limit"), "{to_do}");
    assert!(found.contains("pre-purchase inspection"), "{found}");

    noted(&bench, "as-left", "9.50 9.52 9.49 9.51 9.50");
    let left = page_of(&bench);
    let to_do = between(&left, "What to do", "What we found");
    assert!(!to_do.contains("is outside its limit"), "{to_do}");
    assert!(to_do.contains("as left it is within limit"), "{to_do}");
    // Before a purchase what is to do comes first.
    let found = between(&left, "What we found", "What this paper says");
    assert!(
        found.contains("before: outside limit"),
        "what was found stays said\n{found}"
    );
}

#[test]
fn a_set_as_left_that_judges_nothing_or_is_no_better_takes_nothing_back() {
    let bench = bench!();
    bench.line("visit start --book yard.holdtrue").exits(0);
    noted(&bench, "as-found", "5.50 5.52 5.49 5.51 5.50");
    let line = "grip --unit kN --store --state as-left --book yard.holdtrue --readings";
    let words = line.split_whitespace().chain(["9.5 9.6 9.5"]);
    bench.run(words).exits(0);
    let page = page_of(&bench);
    let to_do = between(&page, "What to do", "What this paper says");
    assert!(to_do.contains("as found is outside its limit"), "{to_do}");
    noted(&bench, "as-left", "5.60 5.62 5.59 5.61 5.60");
    let page = page_of(&bench);
    let to_do = between(&page, "What to do", "What this paper says");
    assert!(to_do.contains("as left is outside its limit"), "{to_do}");
    assert!(!to_do.contains("as found is outside"), "{to_do}");
}

#[test]
fn one_usual_figure_is_no_range_and_no_nominal() {
    let bench = bench!();
    let against = |readings: &str, taper: &str| {
        let line = format!(
            "grip --unit kN --uncertainty-percent 0.5 --interface {taper} --class standard --readings"
        );
        let run = bench.run(line.split_whitespace().chain([readings]));
        format!("{}{}", run.messages, run.out)
    };
    for (readings, says) in [
        ("18.1 17.9 18.0 18.1 17.9", "at the usual 18 kN"),
        ("15.7 15.8 15.8 15.7 15.8", "below the usual 18 kN"),
        ("20.5 20.6 20.5 20.4 20.5", "above the usual 18 kN"),
        ("9.1 9.2 9.1 9.2 9.1", "far below the usual 18 kN"),
        ("22.5 22.6 22.5 22.4 22.5", "125 % of the usual 18 kN"),
    ] {
        let said = against(readings, "HSK-A63");
        assert!(said.contains(says), "{says}\n{said}");
        assert!(
            !said.contains("usual range of 18") && !said.contains("nominal"),
            "{said}"
        );
    }
    for (readings, says) in [
        (
            "9.1 9.2 9.1 9.2 9.1",
            "inside the usual range of 8 to 12 kN",
        ),
        (
            "14.8 14.9 14.8 14.9 14.8",
            "124 % of the highest usual 12 kN",
        ),
    ] {
        let said = against(readings, "7/24-40");
        assert!(said.contains(says), "{says}\n{said}");
        assert!(!said.contains("nominal"), "{said}");
    }
}

#[test]
fn a_limit_that_is_a_share_says_of_what() {
    let bench = bench!();
    let line = "grip --unit kN --uncertainty-percent 0.5 --nominal-n 12000 --limit-percent 75";
    let said = |more: &str| {
        let words = line.split_whitespace().chain(more.split_whitespace());
        bench.run(words.chain(["--readings", "9.9 9.8 9.9"])).out
    };
    assert!(said("").contains("75 % of the nominal 12.00 kN (common practice, no source)"));
    let makers = said("--provenance maker");
    assert!(
        makers.contains("75 % of the maker's nominal 12.00 kN (75 %: maker)"),
        "{makers}"
    );
}

#[test]
fn where_the_seatings_scatter_the_seat_is_named_first() {
    let bench = bench!();
    let mut scattered = 0;
    for seed in 1..=6 {
        let line =
            format!("rehearse --condition dirty-taper --seed {seed} --book {seed}.holdtrue --json");
        let hints = bench.line(&line).json()["runout"]["hints"].clone();
        let causes: Vec<&str> = hints
            .as_array()
            .expect("a list")
            .iter()
            .filter_map(|hint| hint["cause"].as_str())
            .collect();
        if causes.contains(&"dirty-seat") {
            scattered += 1;
            assert_eq!(causes[0], "dirty-seat", "seed {seed}: {causes:?}");
        }
    }
    assert!(scattered >= 4, "{scattered}");
}
