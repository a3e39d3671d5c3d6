//! Nothing is deleted: sets, findings and visits are struck out or corrected with a reason, and stay in sight.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::schema::differences;
use serde_json::Value;

fn in_book(bench: &Bench, line: &str) -> Run {
    bench.line(&format!("--book yard.holdtrue --technician Hand {line}"))
}

fn status(bench: &Bench) -> Value {
    let document = in_book(bench, "visit status --json").exits(0).json();
    let schema = bench.line("schema visit").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    document["visit"].clone()
}

fn findings(bench: &Bench, line: &str) -> Value {
    let document = in_book(bench, &format!("{line} --json")).exits(0).json();
    let schema = bench.line("schema finding-list").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    document["findings"].clone()
}

fn page(bench: &Bench) -> String {
    in_book(bench, "report --html page.html --overwrite").exits(0);
    std::fs::read_to_string(bench.path("page.html")).expect("the page")
}

/// A good set and a bad one.
fn two_sets() -> Bench {
    let bench = bench!();
    for (line, code) in [
        ("spindle add Centre-1 --nominal-n 9800", 0),
        ("visit start --spindle Centre-1", 0),
        (
            "grip --readings 9.8;9.9;9.7 --unit kN --store --uncertainty-percent 1",
            0,
        ),
        (
            "grip --readings 5.1;5.2;5.0 --unit kN --store --uncertainty-percent 1",
            1,
        ),
    ] {
        in_book(&bench, line).exits(code);
    }
    bench
}

#[test]
fn a_struck_set_stays_in_sight_and_the_verdict_is_given_with_and_without_it() {
    let bench = two_sets();
    in_book(&bench, "check strike 2 --because knob-loose")
        .exits(0)
        .shows("One set struck out. Verdict of the visit without it: within limit; with it: outside limit.");
    let visit = status(&bench);
    assert_eq!(
        (&visit["outcome"], &visit["outcome_with_struck"]),
        (&"accept".into(), &"reject".into())
    );
    assert_eq!(visit["checks"][1]["struck"]["reason"], "knob-loose");
    assert_eq!(visit["checks"][1]["outcome"], "reject");
    let page = page(&bench);
    for text in [
        "One set struck out",
        "Struck out: knob-loose",
        "5.10",
        "Struck out",
    ] {
        assert!(page.contains(text), "{text}");
    }
    assert!(
        !page.contains("is outside its limit."),
        "a struck set asks for nothing"
    );
    in_book(&bench, "recheck").exits(0).shows("struck out");
    // Twice, something else, without a reason.
    in_book(&bench, "check strike 2 --because again")
        .exits(2)
        .tells("knob-loose");
    in_book(&bench, "check strike 3 --because x")
        .exits(2)
        .tells("no set 3");
    in_book(&bench, "check strike 0 --because x").exits(2);
    in_book(&bench, "check strike 1").exits(2);
    bench
        .run([
            "--book",
            "yard.holdtrue",
            "check",
            "strike",
            "1",
            "--because",
            "  ",
        ])
        .exits(2);
    in_book(&bench, "check strike 1 --lift --because x")
        .exits(2)
        .tells("not struck out");
    // The only set left.
    in_book(&bench, "check strike 1 --because both")
        .exits(0)
        .shows(
            "2 sets struck out. Verdict of the visit without them: none; with them: outside limit.",
        );
    in_book(&bench, "check strike 2 --lift --because it-was-tight").exits(0);
    let visit = status(&bench);
    assert_eq!(
        (&visit["outcome"], &visit["sets_struck"]),
        (&"reject".into(), &1.into())
    );
}

#[test]
fn a_strike_in_a_finished_visit_is_later_and_an_amendment_takes_it_up() {
    let bench = two_sets();
    in_book(&bench, "visit finish").exits(0);
    let before =
        in_book(&bench, "book verify --json").exits(0).json()["visits"][0]["digest"].clone();
    in_book(&bench, "check strike 2 --because knob-loose")
        .exits(0)
        .shows("added after the visit was finished");
    in_book(&bench, "book verify")
        .exits(0)
        .shows("struck out: knob-loose");
    in_book(&bench, "check strike 2 --because again").exits(2);
    let shown = in_book(&bench, "visit amend --because knob").exits(0);
    let shown = shown.shows("without it: within limit; with it: outside limit");
    assert!(!shown.out.contains("added after"), "{shown}");
    let verified = in_book(&bench, "book verify --json").exits(0).json();
    assert_eq!(verified["visits"][0]["digest"], before);
    assert_eq!(verified["visits"].as_array().map(Vec::len), Some(2));
    in_book(&bench, "visit amend --because more").exits(0);
    in_book(&bench, "book check").exits(0);
    in_book(&bench, "visit edit --consent-of Someone").exits(2);
    let page = page(&bench);
    // The page says what counts now, and of the set what it was.
    assert!(page.contains("By itself it was outside limit") && page.contains("knob-loose"));
}

#[test]
fn a_finding_reads_as_corrected_and_says_what_it_read() {
    let bench = two_sets();
    in_book(&bench, "finding add --item fingers --severity later worn").exits(0);
    in_book(&bench, "finding add --item wall --in-order").exits(0);
    let line = "finding edit 1 --severity soon --text cracked --because seen-again";
    let found = findings(&bench, line);
    assert_eq!(
        (&found[0]["severity"], &found[0]["text"]),
        (&"soon".into(), &"cracked".into())
    );
    assert_eq!(found[0]["corrections"].as_array().map(Vec::len), Some(2));
    let found = findings(&bench, "finding edit 1 --text chipped --because loupe");
    assert_eq!(found[0]["text"], "chipped");
    assert_eq!(found[0]["corrections"][2]["old"], "cracked");
    in_book(&bench, "finding edit 1 --text chipped --because loupe")
        .exits(2)
        .tells("reads so already");
    in_book(&bench, "finding edit 2 --severity soon --because x").exits(2);
    in_book(&bench, "finding edit 7 --text x --because x")
        .exits(2)
        .tells("no finding 7");
    in_book(&bench, "finding edit 1 --text x").exits(2);
    in_book(&bench, "finding strike 1 --because mistaken")
        .exits(0)
        .shows("struck out: mistaken");
    in_book(&bench, "finding edit 1 --text x --because x")
        .exits(2)
        .tells("struck out");
    let page = page(&bench);
    assert!(page.contains("chipped") && page.contains("cracked") && page.contains("mistaken"));
    in_book(&bench, "visit status")
        .exits(0)
        .shows("struck out: mistaken");
    in_book(&bench, "visit finish").exits(0);
    let listed = in_book(&bench, "finding edit 2 --item taper --because name").exits(0);
    listed
        .shows("added after the visit was finished")
        .shows("corrected, item");
}

#[test]
fn two_copies_that_said_different_things_are_joined() {
    let bench = two_sets();
    in_book(&bench, "finding add --item fingers --severity later worn").exits(0);
    std::fs::copy(bench.path("yard.holdtrue"), bench.path("other.holdtrue")).expect("a copy");
    in_book(&bench, "check strike 2 --because knob-loose").exits(0);
    in_book(&bench, "finding strike 1 --because mistaken").exits(0);
    let other =
        |line: &str| bench.line(&format!("--book other.holdtrue --technician Other {line}"));
    other("check strike 2 --because gauge-knocked").exits(0);
    other("finding edit 1 --text cracked --because seen").exits(0);
    in_book(&bench, "book merge other.holdtrue").exits(0);
    in_book(&bench, "book merge other.holdtrue")
        .exits(0)
        .shows("Nothing new");
    let visit = status(&bench);
    assert_eq!(visit["sets_struck"], 1);
    let found = findings(&bench, "finding list");
    assert_eq!(
        (&found[0]["text"], &found[0]["struck"]["reason"]),
        (&"cracked".into(), &"mistaken".into())
    );
    // Two strikes lie on it: both have to go.
    in_book(&bench, "check strike 2 --lift --because x").exits(0);
    in_book(&bench, "check strike 2 --lift --because x").exits(0);
    assert_eq!(status(&bench)["sets_struck"], 0);
    in_book(&bench, "book check").exits(0);
}

#[test]
fn a_struck_visit_is_not_open_and_stays_in_the_book() {
    let bench = two_sets();
    in_book(&bench, "visit strike --because wrong-machine")
        .exits(0)
        .shows("struck out: wrong-machine");
    in_book(&bench, "visit status")
        .exits(0)
        .shows("No visit is open");
    in_book(&bench, "visit edit --consent-of X").exits(2);
    in_book(&bench, "spindle show Centre-1")
        .exits(0)
        .shows("struck out: wrong-machine");
    in_book(&bench, "visit strike --because twice").exits(2);
    in_book(&bench, "visit strike --lift --because right-one").exits(0);
    in_book(&bench, "visit finish").exits(0);
}

/// An event, and a whole visit, with the reason: on the spindle's page, and where the visit's paper gives its answer.
#[test]
fn an_event_and_a_visit_that_are_struck_out_stay_in_sight() {
    let bench = two_sets();
    in_book(
        &bench,
        "spindle event Centre-1 --what springs-changed --on 2024-03-01",
    )
    .exits(0);
    let show = in_book(&bench, "spindle show Centre-1 --json")
        .exits(0)
        .json();
    let id = show["events"][0]["id"]
        .as_str()
        .expect("an event")
        .to_owned();
    in_book(
        &bench,
        &format!("spindle event Centre-1 --strike {id} --because only-cleaned"),
    )
    .exits(0);
    in_book(&bench, "spindle show Centre-1")
        .exits(0)
        .shows("springs changed; struck out: only-cleaned");
    let show = in_book(&bench, "spindle show Centre-1 --json")
        .exits(0)
        .json();
    let schema = bench.line("schema spindle-show").exits(0).json();
    assert_eq!(differences(&schema, &show), Vec::<String>::new());
    assert_eq!(show["events"], Value::Array(Vec::new()));
    assert_eq!(show["struck_events"][0]["reason"], "only-cleaned");
    let short = &id[id.len() - 8..];
    in_book(
        &bench,
        &format!("spindle event Centre-1 --strike {short} --because twice"),
    )
    .exits(2)
    .tells("struck out already")
    .tells("--lift");
    let lift = format!("spindle event Centre-1 --strike {short} --lift --because was-so");
    in_book(&bench, &lift)
        .exits(0)
        .shows("Counts again")
        .shows("springs changed");
    let back = in_book(&bench, "spindle show Centre-1 --json")
        .exits(0)
        .json();
    assert_eq!(back["events"][0]["id"], id);
    assert_eq!(back["struck_events"], Value::Array(Vec::new()));
    in_book(&bench, &lift).exits(2).tells("is not struck out");
    in_book(
        &bench,
        &format!("spindle event Centre-1 --strike {short} --because only-cleaned"),
    )
    .exits(0);
    in_book(&bench, "visit finish --yes").exits(0);
    in_book(&bench, "visit strike --because other-machine").exits(0);
    assert!(
        !page(&bench).contains("counts nowhere"),
        "it counts until it is amended"
    );
    in_book(&bench, "visit amend --because it-is-so").exits(0);
    assert!(page(&bench).contains("This visit is struck out and counts nowhere: other-machine."));
}

/// What is measured on no spindle comes into no history: that is said while it can be mended.
#[test]
fn a_visit_of_no_spindle_is_not_called_complete() {
    let bench = bench!();
    in_book(&bench, "visit start").exits(0);
    in_book(
        &bench,
        "grip --readings 5.8;5.9;5.7 --unit kN --store --uncertainty-percent 1",
    )
    .exits(0);
    let looked = in_book(&bench, "visit finish --dry-run").exits(0);
    let looked = looked.tells("No spindle is named");
    assert!(!looked.out.contains("Nothing is missing"), "{looked}");
    in_book(&bench, "visit finish")
        .exits(0)
        .tells("visit edit --spindle NAME names it now");
    in_book(&bench, "overview")
        .exits(0)
        .shows("One that is finished stays of none");
}

#[test]
fn the_end_of_a_visit_says_what_is_missing() {
    let bench = two_sets();
    in_book(&bench, "visit edit --tool 12").exits(0);
    in_book(&bench, "visit finish")
        .exits(2)
        .tells("tool 12 is not back")
        .tells("--yes");
    in_book(&bench, "visit edit --tool-back").exits(0);
    std::fs::copy(bench.path("yard.holdtrue"), bench.path("copy.holdtrue")).expect("a copy");
    in_book(&bench, "visit finish").exits(0);
    let copy = |line: &str| bench.line(&format!("--book copy.holdtrue {line}"));
    copy("visit edit --tool 14").exits(0);
    copy("visit finish --yes")
        .exits(0)
        .tells("tool 14 is not back");
}

#[test]
fn what_a_finding_comes_to_is_summed_by_urgency_and_currency_and_read_back() {
    let bench = two_sets();
    let add = |words: &[&str], code: i32| {
        let line = "finding add --assembly drive --item belt";
        bench.in_book(line, words).exits(code)
    };
    add(
        &[
            "--severity",
            "soon",
            "--cost",
            "400 to 600 EUR",
            "--hours",
            "2-4",
            "--measured",
            "6.2 mm",
            "--maker",
            "3 to 5 mm",
            "slack",
        ],
        0,
    )
    .shows("measured 6.2 mm, the maker's figure is 3 to 5 mm: outside it")
    .shows("estimate 400 to 600 EUR, 2 to 4 h");
    add(&["--severity", "soon", "--cost", "200 USD", "seal gone"], 0);
    add(
        &["--severity", "soon", "--cost", "50,5-60 eur", "frayed"],
        0,
    );
    add(&["--severity", "note", "dusty"], 0);
    add(&["--in-order", "--measured", "4 mm"], 0).shows("no maker's figure known: not judged");
    // What cannot be: no currency, a cost of what is in order, two units, a maker's figure of nothing.
    add(&["--severity", "soon", "--cost", "400 to 600", "slack"], 2)
        .tells("settings --currency EUR");
    add(&["--in-order", "--cost", "4 EUR"], 2).tells("only something found is mended");
    add(
        &[
            "--in-order",
            "--measured",
            "4 mm",
            "--maker",
            "at most 1 in",
        ],
        2,
    )
    .tells("one unit for both");
    add(&["--in-order", "--maker", "at most 1 mm"], 2).tells("judges a measured value");
    add(&["--not-examined", "--measured", "4 mm", "dark"], 2).tells("was examined");
    let status = status(&bench);
    let sums = &status["sums"];
    assert_eq!(sums[0]["severity"], "soon");
    assert_eq!(sums[0]["findings"], 3);
    assert_eq!(
        sums[0]["costs"][0],
        serde_json::json!({"from": 450.5, "to": 660.0, "currency": "EUR"})
    );
    assert_eq!(sums[0]["costs"][1]["currency"], "USD");
    assert_eq!(sums[1]["without_cost"], 1);
    // A correction of the estimate moves the sums; a struck finding leaves them.
    bench
        .in_book(
            "finding edit 1 --because",
            &["asked the maker", "--cost", "700 EUR"],
        )
        .exits(0)
        .shows("corrected, cost: \"400 to 600 EUR\" should read \"700 EUR\"");
    bench
        .in_book("finding strike 2 --because wrong", &[])
        .exits(0);
    in_book(&bench, "visit status")
        .exits(0)
        .shows("within weeks: 2 findings; 750.5 to 760 EUR; 2 to 4 h");
    let document = findings(&bench, "finding list");
    assert_eq!(document[0]["within"], false);
    let page = page(&bench);
    for text in [
        "750.5 to 760 EUR",
        "estimate, not an offer",
        "outside it",
        "not judged",
    ] {
        assert!(page.contains(text), "{text}");
    }
    // The settings say which currency is meant.
    bench.line("settings --currency sek").exits(0).shows("SEK");
    add(&["--severity", "note", "--cost", "90", "dusty"], 0).shows("90 SEK");
}

#[test]
fn entries_of_other_serial_numbers_or_tapers_are_asked_about_before_they_are_joined() {
    let bench = bench!();
    for (name, facts) in [
        ("One", "--interface BT40 --spindle-serial S-1"),
        ("Two", "--interface BT40 --spindle-serial S-2"),
        ("Three", "--interface BT50"),
        ("Four", "--interface SK40"),
    ] {
        in_book(&bench, &format!("spindle add {name} {facts}")).exits(0);
    }
    for other in ["Two", "Three"] {
        in_book(&bench, &format!("spindle edit One --same-as {other}"))
            .exits(2)
            .tells("Is it the same spindle?");
    }
    // Which of two limits holds would hang on the name a set is measured under.
    in_book(&bench, "spindle add Five --interface BT40 --nominal-n 10kN").exits(0);
    in_book(&bench, "spindle add Six --interface BT40 --minimum-n 9kN").exits(0);
    in_book(&bench, "spindle edit Five --same-as Six")
        .exits(2)
        .tells("enter the right one on both");
    in_book(&bench, "spindle edit Five --same-as Six --as-read").exits(0);
    in_book(&bench, "spindle edit One --same-as Four").exits(0);
    in_book(&bench, "spindle edit One --same-as Two --as-read").exits(0);
}

/// Of two copies each with its own figure of the maker one decides: whoever measures by it is told that nobody settled which.
#[test]
fn a_page_that_two_people_changed_apart_is_said_before_a_set_is_judged_by_it() {
    let bench = bench!();
    let in_book = |book: &str, line: &str| bench.line(&format!("--book {book}.holdtrue {line}"));
    in_book("one", "spindle add C1 --interface BT40 --nominal-n 10kN").exits(0);
    std::fs::copy(bench.path("one.holdtrue"), bench.path("two.holdtrue")).expect("a copy");
    in_book("one", "spindle edit C1 --nominal-n 12kN --as-read").exits(0);
    in_book("two", "spindle edit C1 --nominal-n 8kN --as-read").exits(0);
    in_book("one", "book merge two.holdtrue").exits(0);
    in_book("one", "visit start --spindle C1").exits(0);
    let grip =
        "grip --readings 7.7;7.75;7.8 --unit kN --uncertainty-percent 1 --store --state as-found";
    let apart = "Two people changed the page of \"C1\" apart from each other";
    in_book("one", grip).exits(0).tells(apart);
    in_book("one", "spindle edit C1 --nominal-n 8kN --as-read").exits(0);
    let settled = in_book("one", &grip.replace("as-found", "as-left")).exits(0);
    assert!(!settled.messages.contains(apart), "{settled}");
}

/// A strike on a visit that counts nowhere yet hides nothing of what came in beside it.
#[test]
fn a_set_added_after_the_end_is_told_whatever_is_struck_since() {
    let bench = bench!();
    let in_book = |book: &str, line: &str| bench.line(&format!("--book {book}.holdtrue {line}"));
    in_book(
        "one",
        "spindle add A --interface BT40 --drawbar disc-springs --nominal-n 10kN",
    )
    .exits(0);
    in_book("one", "visit start --spindle A").exits(0);
    std::fs::copy(bench.path("one.holdtrue"), bench.path("two.holdtrue")).expect("a copy");
    let grip = |forces: &str| {
        format!(
            "grip --readings {forces} --unit kN --uncertainty-percent 1 --state as-found --store"
        )
    };
    in_book("one", &grip("9.0;9.1;9.05")).exits(0);
    in_book("one", "visit finish --yes").exits(0);
    in_book("two", &grip("5.0;5.1;5.05")).exits(1);
    in_book("one", "book merge two.holdtrue").exits(0);
    let added = "a set not within its limit was added after its visit was finished";
    in_book("one", "overview").exits(0).shows(added);
    let overview = in_book("one", "overview --json").exits(0).json();
    let visit = overview["spindles"][0]["last_visit"]["visit"]
        .as_str()
        .expect("a visit")
        .to_owned();
    in_book(
        "one",
        &format!("visit strike --visit {visit} --because twice"),
    )
    .exits(0);
    in_book("one", "overview").exits(0).shows(added);
}

/// "Verdict of the visit without it" is that of the amended sets.
#[test]
fn the_verdict_without_a_struck_set_is_that_of_the_amendments() {
    let bench = bench!();
    let in_book = |line: &str| bench.line(&format!("--book one.holdtrue {line}"));
    in_book("spindle add A --interface BT40 --drawbar disc-springs --nominal-n 10kN").exits(0);
    in_book("visit start --spindle A").exits(0);
    for (forces, state) in [("8.0;8.1;8.05", "as-found"), ("8.9;9.0;8.95", "as-left")] {
        in_book(&format!(
            "grip --readings {forces} --unit kN --uncertainty-percent 1 --state {state} --store"
        ))
        .exits(0);
    }
    in_book("visit finish --yes").exits(0);
    in_book("spindle edit A --nominal-n 12kN --as-read").exits(0);
    in_book("visit amend --because letter").exits(0);
    in_book("check strike 2 --because knob-loose").exits(0);
    let amended = in_book("visit amend --because strike").exits(0);
    assert!(
        !amended.out.contains("without it: within limit"),
        "{amended}"
    );
    in_book("report --html page.html").exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(
        page.contains("outside its limit"),
        "the answer is that of the amendment"
    );
}
