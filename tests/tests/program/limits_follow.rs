//! Limits belong to the spindle: an open visit is judged anew when its spindle is named or its page changes, a finished one
//! keeps what it was judged by.

use holdtrue_book::{Book, Check};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;
use serde_json::Value;

fn in_book(bench: &Bench, line: &str) -> Run {
    bench.line(&format!("--book yard.holdtrue --technician Hand {line}"))
}

const SET: &str =
    "grip --readings 9.8;9.9;9.7 --unit kN --store --uncertainty-percent 1 --state as-found";

fn yard() -> Bench {
    let bench = bench!();
    for line in [
        "spindle add Centre-1 --interface BT40 --nominal-n 10000",
        "spindle add Centre-2 --interface HSK-A63",
        "spindle add Centre-3 --interface CAT40",
    ] {
        in_book(&bench, line).exits(0);
    }
    bench
}

fn status(bench: &Bench, line: &str) -> Value {
    let document = in_book(bench, &format!("{line} --json")).exits(0).json();
    let schema = bench.line("schema visit").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    document["visit"].clone()
}

fn outcomes(check: &Value) -> Vec<Value> {
    let before = check["judged_before"].as_array().expect("results").iter();
    before
        .map(|row| row["outcome"].clone())
        .chain([check["outcome"].clone()])
        .collect()
}

#[test]
fn a_set_moved_to_another_spindle_is_judged_by_that_spindles_limits() {
    let bench = yard();
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    in_book(&bench, SET).exits(0);
    in_book(&bench, "visit edit --spindle Centre-3")
        .exits(0)
        .shows("was within limit")
        .shows("now not judged");
    let check = &status(&bench, "visit status")["checks"][0];
    assert_eq!(outcomes(check), ["accept".into(), Value::Null]);
    in_book(&bench, "recheck").exits(0).shows("all the same");
    in_book(&bench, "report --html page.html").exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(!page.contains("Within limit"), "a limit of another spindle");
    // And back: nothing of the way is left in it.
    in_book(&bench, "visit edit --spindle Centre-1").exits(0);
    let check = &status(&bench, "visit status")["checks"][0];
    assert_eq!(
        outcomes(check),
        ["accept".into(), Value::Null, "accept".into()]
    );
    in_book(&bench, "recheck").exits(0).shows("all the same");
}

#[test]
fn another_taper_is_asked_about_and_yes_is_no_answer() {
    let bench = yard();
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    in_book(&bench, SET).exits(0);
    for line in [
        "visit edit --spindle Centre-2",
        "visit edit --spindle Centre-2 --yes",
    ] {
        in_book(&bench, line)
            .exits(2)
            .tells("HSK-A63")
            .tells("7/24-40");
        assert_eq!(status(&bench, "visit status")["spindle_name"], "Centre-1");
    }
    in_book(&bench, "visit edit --spindle Centre-2 --as-read").exits(0);
    in_book(&bench, "spindle edit Centre-2 --interface BT50")
        .exits(2)
        .tells("HSK-A63");
    // An unnamed set with a taper typed is held to the page it gets.
    in_book(&bench, "visit finish").exits(0);
    in_book(&bench, "visit start").exits(0);
    in_book(&bench, &format!("{SET} --interface HSK-A100")).exits(0);
    in_book(&bench, "visit edit --spindle Centre-1")
        .exits(2)
        .tells("HSK-A100");
}

#[test]
fn an_unnamed_set_is_judged_once_its_spindle_is_named_in_whatever_order_it_is_entered() {
    let bench = yard();
    in_book(&bench, "visit start").exits(0);
    in_book(&bench, SET).exits(0);
    assert_eq!(status(&bench, "visit status")["outcome"], Value::Null);
    in_book(&bench, "visit edit --spindle Centre-3").exits(0);
    assert_eq!(status(&bench, "visit status")["outcome"], Value::Null);
    in_book(&bench, "spindle edit Centre-3 --nominal-n 15000")
        .exits(0)
        .shows("now outside limit (mean grip force at least 10.50\u{a0}kN");
    bench.line("settings --force lbf").exits(0);
    in_book(&bench, "spindle edit Centre-3 --nominal-n 10000")
        .exits(0)
        .shows("lbf")
        .shows("now within limit");
    in_book(&bench, "spindle edit Centre-3 --forget nominal-n")
        .exits(0)
        .shows("now not judged");
    in_book(&bench, "spindle edit Centre-3 --minimum-n 12000")
        .exits(0)
        .shows("now outside limit");
    in_book(&bench, "recheck").exits(0).shows("all the same");
    // A name is no limit, and what nothing hangs on judges nothing.
    let place = in_book(&bench, "spindle edit Centre-3 --place Yard").exits(0);
    assert!(!place.out.contains("Judged anew"), "{place}");
}

#[test]
fn what_was_typed_for_a_set_stays_with_it() {
    let bench = yard();
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    in_book(
        &bench,
        &format!("{SET} --limit-lowest-n 9990 --provenance maker"),
    )
    .exits(1);
    in_book(&bench, "visit edit --spindle Centre-3").exits(0);
    let visit = status(&bench, "visit status");
    assert_eq!(
        visit["outcome"], "reject",
        "the typed limit holds at any spindle: {visit}"
    );
    in_book(&bench, "recheck").exits(0);
}

#[test]
fn every_open_visit_of_an_edited_spindle_is_judged_anew() {
    let bench = yard();
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    in_book(&bench, SET).exits(0);
    std::fs::copy(bench.path("yard.holdtrue"), bench.path("other.holdtrue")).expect("a copy");
    in_book(&bench, "visit strike --because copied").exits(0);
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    in_book(&bench, SET).exits(0);
    in_book(&bench, "visit strike --because later").exits(0);
    // Both are open again.
    let spindle = in_book(&bench, "spindle show Centre-1 --json")
        .exits(0)
        .json();
    for visit in spindle["visits"].as_array().expect("visits") {
        let id = visit["id"].as_str().expect("an id");
        in_book(
            &bench,
            &format!("visit strike --lift --because mistaken --visit {id}"),
        )
        .exits(0);
    }
    let edited = in_book(&bench, "spindle edit Centre-1 --nominal-n 15000").exits(0);
    assert_eq!(edited.out.matches("Judged anew").count(), 2, "{edited}");
}

#[test]
fn a_finished_visit_keeps_its_verdict_and_says_so_and_an_amendment_judges_it_anew() {
    let bench = yard();
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    in_book(&bench, SET).exits(0);
    in_book(&bench, "visit finish").exits(0);
    in_book(&bench, "report --html before.html").exits(0);
    in_book(&bench, "spindle edit Centre-1 --nominal-n 15000").exits(0);
    let told = "judged by the limit then known";
    in_book(&bench, "spindle show Centre-1")
        .exits(0)
        .shows(told);
    let id = in_book(&bench, "recheck --json").exits(0).json()["checks"][0]["visit"].clone();
    let id = id.as_str().expect("an id").to_owned();
    let line = format!("visit status --visit {id}");
    in_book(&bench, &line)
        .exits(0)
        .shows(told)
        .shows("within limit");
    let again = in_book(&bench, "recheck --json").exits(0).json();
    assert_eq!(
        again["checks"][0]["limit_then_known"]["outcome"], "reject",
        "{again}"
    );
    assert_eq!(again["differing"], 0);
    let schema = bench.line("schema recheck").exits(0).json();
    assert_eq!(differences(&schema, &again), Vec::<String>::new());
    in_book(&bench, "report --html after.html").exits(0);
    let read = |name: &str| std::fs::read_to_string(bench.path(name)).expect("a page");
    assert_eq!(read("before.html"), read("after.html"), "the paper stays");

    let first = status(&bench, &line)["digest"].clone();
    in_book(&bench, "visit amend --because").exits(2);
    bench
        .run([
            "--book",
            "yard.holdtrue",
            "visit",
            "amend",
            "--because",
            " ",
        ])
        .exits(2);
    in_book(&bench, "visit amend --because corrected")
        .exits(0)
        .shows("amended: outside limit");
    let visit = status(&bench, &line);
    assert_eq!(visit["digest"], first);
    assert_eq!(
        visit["outcome"], "accept",
        "the visit is what it was finished with"
    );
    let amendment = &visit["amendments"][0];
    assert_eq!(amendment["judged"][0]["outcome"], "reject");
    assert_ne!(amendment["digest"], first);
    let verified = in_book(&bench, "book verify --json").exits(0).json();
    assert_eq!(verified["visits"].as_array().map(Vec::len), Some(2));
    let code = amendment["digest"].as_str().expect("a code");
    in_book(&bench, &format!("book verify {code}")).exits(0);
    let again = in_book(&bench, "recheck --json").exits(0).json();
    assert!(again["checks"][1]["amendment"].is_string(), "{again}");
    in_book(&bench, "book check").exits(0);
    in_book(&bench, "report --html amended.html").exits(0);
    let page = read("amended.html");
    assert!(page.contains("amended: outside limit") && page.contains("Within limit"));
}

#[test]
fn the_spindle_tells_every_judgement_of_every_set_and_by_which_limit() {
    let bench = yard();
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    in_book(&bench, SET).exits(0);
    in_book(&bench, &SET.replace("9.7", "9.6")).exits(0);
    in_book(&bench, "check strike 2 --because twice").exits(0);
    in_book(&bench, "spindle edit Centre-1 --nominal-n 15000").exits(0);
    in_book(&bench, "spindle edit Centre-1 --nominal-n 12000").exits(0);
    in_book(&bench, "visit finish").exits(0);
    in_book(&bench, "spindle edit Centre-1 --nominal-n 20000").exits(0);
    in_book(&bench, "visit amend --because corrected").exits(0);
    let told = in_book(&bench, "spindle show Centre-1 --json")
        .exits(0)
        .json();
    let schema = bench.line("schema spindle-show").exits(0).json();
    assert_eq!(differences(&schema, &told), Vec::<String>::new());
    let visit = &told["visits"][0];
    assert_eq!(visit["finished"], true);
    let [first, second] = [&visit["checks"][0], &visit["checks"][1]];
    assert_eq!(first["struck"], Value::Null);
    assert_eq!(second["struck"]["reason"], "twice");
    assert_eq!(first["outcome"], "accept");
    let judgements = first["judgements"].as_array().expect("judgements");
    let each: Vec<[Value; 4]> = judgements
        .iter()
        .map(|row| {
            let limit = row["limits"][0]["limit"].clone();
            [
                row["how"].clone(),
                row["outcome"].clone(),
                limit,
                row["holds"].clone(),
            ]
        })
        .collect();
    let row = |how: &str, outcome: &str, limit: f64, holds: bool| -> [Value; 4] {
        [how.into(), outcome.into(), limit.into(), holds.into()]
    };
    assert_eq!(
        each,
        [
            row("ended", "accept", 7_000.0, false),
            row("judged-anew", "reject", 10_500.0, false),
            row("judged-anew", "accept", 8_400.0, true),
            row("amended", "reject", 14_000.0, false),
        ]
    );
    let replaced: Vec<&Value> = judgements.iter().map(|row| &row["replaces"][0]).collect();
    let ids: Vec<&Value> = judgements.iter().map(|row| &row["id"]).collect();
    assert_eq!(replaced[1..], [ids[0], ids[1], ids[2]]);
    assert!(judgements.iter().all(|row| row["by"] == "Hand"), "{told}");
    in_book(&bench, "spindle show Centre-1")
        .exits(0)
        .shows("outside limit (mean grip force at least 10.50\u{a0}kN; lowest clamp at least 10.50\u{a0}kN), superseded\n")
        .shows("within limit (mean grip force at least 8.40\u{a0}kN; lowest clamp at least 8.40\u{a0}kN)\n")
        .shows("at least 14.00\u{a0}kN), by an amendment: the verdict of the visit stays");
}

#[test]
fn an_open_visit_whose_spindle_was_changed_in_another_copy_differs_until_it_is_judged_anew() {
    let bench = yard();
    std::fs::copy(bench.path("yard.holdtrue"), bench.path("other.holdtrue")).expect("a copy");
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    in_book(&bench, SET).exits(0);
    bench
        .line("--book other.holdtrue spindle edit Centre-1 --nominal-n 15000")
        .exits(0);
    in_book(&bench, "book merge other.holdtrue").exits(0);
    in_book(&bench, "recheck").exits(1).shows("spindle");
    in_book(&bench, "visit finish")
        .exits(2)
        .tells("no longer its spindle's");
    in_book(&bench, "visit edit")
        .exits(0)
        .shows("now outside limit");
    in_book(&bench, "recheck").exits(0);
    in_book(&bench, "visit finish").exits(0);
}

#[test]
fn a_laxer_limit_beside_the_makers_is_read_back_wherever_the_visit_is() {
    for lax in ["--limit-n 6000", "--limit-lowest-n 3000"] {
        let bench = bench!();
        let add = "spindle add --interface BT40 --nominal-n 10000 --minimum-n 7000";
        bench.in_book(add, &["Centre 1"]).exits(0);
        bench
            .in_book("visit start --spindle", &["Centre 1"])
            .exits(0);
        let grip = format!(
            "grip --unit kN --uncertainty-percent 0.5 --state as-found --store {lax} --readings"
        );
        bench.in_book(&grip, &["6.0 6.1 5.9"]).exits(1);
        for line in [
            "visit status",
            "visit finish --yes",
            "report --html page.html",
            "recheck",
            "overview",
        ] {
            bench.in_book(line, &[]).exits(0);
        }
        bench
            .in_book("spindle show", &["Centre 1"])
            .exits(0)
            .shows("outside limit");
    }
}

#[test]
fn a_share_of_another_nominal_force_takes_nothing_from_the_makers() {
    let bench = bench!();
    let add = "spindle add --interface BT40 --nominal-n 10000";
    bench.in_book(add, &["Centre 1"]).exits(0);
    bench
        .in_book("visit start --spindle", &["Centre 1"])
        .exits(0);
    bench.file(
        "maker.toml",
        "schema = 1\ntitle = \"Centre 1\"\n[nominal]\nforce = 10\nunit = \"kN\"\nprovenance = \"maker\"\nsource = \"the maker's sheet\"\n",
    );
    let judged = |more: &str, code: i32| {
        let line = format!(
            "grip --unit kN --uncertainty-percent 0.5 --state as-found --store {more} --readings"
        );
        bench.in_book(&line, &["6.0 6.1 5.9"]).exits(code);
    };
    for known in ["", "--limits maker.toml"] {
        judged(known, 1);
        judged(&format!("{known} --nominal-n 5000 --limit-percent 70"), 1);
        judged(&format!("{known} --nominal-n 12000 --limit-percent 40"), 1);
        // Of the maker's own nominal force another share may be chosen.
        judged(&format!("{known} --nominal-n 10000 --limit-percent 50"), 0);
    }
}

/// Nobody knows how wrong the gauge of a typed set reads: what is far too low by any gauge is not kept without a verdict.
#[test]
fn a_force_far_too_low_by_any_gauge_is_outside_the_pages_limit() {
    let bench = yard();
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    // The limit is 7 kN, a gauge that reads 20 % too little is given its due.
    let near = "grip --readings 6.0;6.1;6.2 --unit kN --store --state as-found";
    in_book(&bench, near)
        .exits(0)
        .tells("Kept without a verdict");
    let far = "grip --readings 5.0;5.1;5.2 --unit kN --store --state as-found";
    in_book(&bench, far)
        .exits(1)
        .shows("do not run until measured again")
        .shows("uncertainty is not known");
    // One clamp shows nothing else, and that it shows.
    let one = "grip --readings 5.0 --unit kN --store --state as-found";
    in_book(&bench, one).exits(1);
    let checks = &status(&bench, "visit status")["checks"];
    let outcomes: Vec<&Value> = checks
        .as_array()
        .expect("checks")
        .iter()
        .map(|check| &check["outcome"])
        .collect();
    assert_eq!(outcomes, [&Value::Null, &"reject".into(), &"reject".into()]);
    in_book(&bench, "recheck").exits(0).shows("all the same");
    // Named later, or by another page, it is the same.
    in_book(&bench, "visit edit --spindle Centre-3")
        .exits(0)
        .shows("now not judged");
    in_book(&bench, "visit edit --spindle Centre-1")
        .exits(0)
        .shows("outside limit");
    in_book(&bench, "recheck").exits(0).shows("all the same");
}

/// Neither the words of the terminal nor a stored note of before can bring it back: only the file knows it.
#[test]
fn what_was_ignored_in_a_file_is_still_said_when_the_set_is_judged_anew() {
    let bench = yard();
    let turn =
        "angle_deg,reading_um,at,colour\n0,0,wall,1\n90,1,wall,1\n180,2,wall,1\n270,1,wall,1\n";
    bench.file("turn.csv", turn);
    let clamps = Made::default().csv(&[9_800.0, 9_750.0, 9_700.0].map(MadeClamp::of));
    bench.file(
        "clamps.csv",
        clamps.replace('\n', ",1\n").replacen(",1", ",humid", 1),
    );
    in_book(&bench, "visit start --spindle Centre-1").exits(0);
    for line in [
        "runout --from turn.csv --at wall --height-mm -20 --limit-um 5 --uncertainty-um 0.1",
        "grip --from clamps.csv --uncertainty-percent 1",
    ] {
        in_book(&bench, &format!("{line} --store --state as-found"))
            .exits(0)
            .shows("column \"");
    }
    let as_measured = notes_of_file(&bench);
    assert_eq!(as_measured[0].len(), 2, "{as_measured:?}");
    assert_eq!(as_measured[1].len(), 1, "{as_measured:?}");
    in_book(&bench, "spindle edit Centre-1 --interface CAT40")
        .exits(0)
        .shows("Judged anew");
    assert_eq!(notes_of_file(&bench), as_measured);
    in_book(&bench, "report --html page.html").exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    for ignored in ["colour", "humid", "--at is ignored"] {
        assert!(page.contains(ignored), "not on the page: {ignored}");
    }
}

/// What each set of the only visit says of its file, in the result that counts.
fn notes_of_file(bench: &Bench) -> Vec<Vec<String>> {
    let book = Book::open(bench.path("yard.holdtrue")).expect("the book");
    let visit = book.open_visits().expect("visits").first().expect("one").id;
    let checks = book.visit(visit).expect("the visit").checks;
    let of_file = |check: &Check| {
        let result = check.results.last().expect("a result");
        let document: Value = result.content.read().expect("a document");
        let notes = document["notes"].as_array().expect("notes").iter();
        notes
            .map(|note| note.as_str().expect("a sentence").to_owned())
            .filter(|note| note.contains("ignored"))
            .collect()
    };
    checks.iter().map(of_file).collect()
}
