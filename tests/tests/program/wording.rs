//! Words on screen and page: a person's own stay as they were typed, computed figures follow the units, nothing brought
//! from outside moves a cursor, and every sentence has its value in the JSON.

use holdtrue_book::{
    Book, Capture, Check, CheckResult, CheckStart, GaugeHeader, Json, Revision, Source,
    SpindleHeader, Stamp,
};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;
use serde_json::{Value, json};
use std::fs;
use uuid::Uuid;

const BOOK: &str = "yard.holdtrue";
/// An escape code that clears a screen, one by its single character, a line turned round, a line break.
const EVIL: &str = "a\u{1b}[2Jb\u{9b}31mc\u{202e}d\ne";
const SEEN: &str = "a\\u{1b}[2Jb\\u{9b}31mc\\u{202e}d\\ne";

fn in_book<'a>(bench: &Bench, words: impl IntoIterator<Item = &'a str>) -> Run {
    let book = ["--book", BOOK, "--technician", "Hand"];
    bench.run(book.into_iter().chain(words))
}

fn five() -> String {
    let clamps = [9_800.0, 9_900.0, 9_750.0, 9_850.0, 9_820.0].map(MadeClamp::of);
    Made::default().csv(&clamps)
}

/// Five clamps in a file, an open visit, and settings in pounds.
fn bench_in_pounds() -> Bench {
    let bench = bench!();
    bench.file("set.csv", five());
    bench.line("settings --force lbf").exits(0);
    in_book(&bench, ["spindle", "add", "Centre-1"]).exits(0);
    in_book(&bench, ["visit", "start", "--spindle", "Centre-1"]).exits(0);
    bench
}

fn page(bench: &Bench) -> String {
    in_book(bench, ["report", "--html", "page.html", "--overwrite"]).exits(0);
    fs::read_to_string(bench.path("page.html")).expect("the page")
}

/// The page as text: spaces that do not break made plain, marks of the language as they are read.
fn read(page: &str) -> String {
    page.replace('\u{a0}', " ")
        .replace("&#39;", "'")
        .replace("&quot;", "\"")
}

#[test]
fn a_persons_own_words_stay_as_typed_in_pounds_and_computed_figures_are_in_pounds() {
    let bench = bench_in_pounds();
    let own = "hung a 30 N weight, 2 kN off";
    let discard = format!("2={own}");
    let words = [
        "grip",
        "--from",
        "set.csv",
        "--discard",
        &discard,
        "--uncertainty-percent",
        "1",
        "--interface",
        "7/24-40",
        "--class",
        "standard",
        "--drop-because",
        "a 500 N spring",
        "--store",
    ];
    let run = in_book(&bench, words).exits(3);
    let screen = run.out.clone();
    assert!(
        screen.contains(&format!("discarded by hand: {own}")),
        "{run}"
    );
    // 8 to 12 kN / 4.4482216152605 N: 1798 to 2698 lbf (computed).
    let usual = "the usual range of 1798 to 2698 lbf";
    assert!(screen.contains(usual), "{run}");
    let page = read(&page(&bench));
    assert!(
        page.contains(&format!("discarded by hand: {own}")),
        "{page}"
    );
    assert!(page.contains(usual), "{page}");
    let document = in_book(
        &bench,
        words[..words.len() - 1].iter().copied().chain(["--json"]),
    )
    .exits(3)
    .json();
    assert_eq!(
        document["clamps"][1]["notes"][0],
        format!("discarded by hand: {own}")
    );
    assert_eq!(
        document["clamps"][1]["note_values"][0],
        json!({ "code": "discarded", "reason": own })
    );
    assert!(
        document["verdict"]["reasons"]
            .to_string()
            .contains("the usual range of 8 to 12 kN"),
        "{document:#}"
    );
}

#[test]
fn a_cause_somebody_names_stays_as_typed_in_pounds() {
    let bench = bench_in_pounds();
    let leaking = [9_800.0; 5].map(|force_n| MadeClamp {
        drop_n_per_s: 65.0,
        hold_s: 6.0,
        ..MadeClamp::of(force_n)
    });
    bench.file("set.csv", Made::default().csv(&leaking));
    let own = "valve opens at 900 N";
    let words = [
        "grip",
        "--from",
        "set.csv",
        "--limit-n",
        "7000",
        "--uncertainty-percent",
        "1",
        "--drop-because",
        own,
        "--store",
    ];
    let run = in_book(&bench, words);
    assert!(
        run.out.contains(&format!("the cause named for it: {own}")),
        "{run}"
    );
    assert!(read(&page(&bench)).contains(&format!("the cause named for it: {own}")));
}

#[test]
fn nothing_a_person_a_file_or_a_book_brought_moves_a_cursor_or_hides_what_follows() {
    let bench = bench!();
    in_book(&bench, ["spindle", "add", EVIL]).exits(2);
    in_book(&bench, ["spindle", "add", "Centre 1"]).exits(0);
    in_book(&bench, ["visit", "start", "--spindle", "Centre 1"]).exits(0);
    name_spindle(&bench, EVIL);
    let file = "set\u{1b}[2J\u{202e}.csv";
    let with_column = five()
        .replace('\n', ",oil\n")
        .replacen("oil", "re\u{9b}mark", 1);
    bench.file(file, with_column);
    let discard = format!("2={EVIL}");
    let grip = [
        "grip",
        "--from",
        file,
        "--discard",
        &discard,
        "--uncertainty-percent",
        "1",
        "--store",
    ];
    let shown = in_book(&bench, grip).exits(0);
    assert!(
        shown.out.contains(&format!("discarded by hand: {SEEN}")),
        "{shown}"
    );
    assert!(
        shown.messages.contains("set\\u{1b}[2J\\u{202e}.csv"),
        "{shown}"
    );
    let missing = in_book(&bench, ["grip", "--from", EVIL]);
    assert!(missing.messages.contains("a\\u{1b}[2J"), "{missing}");
    let serial = gauge_of_last_check(&bench, EVIL);
    let finding = ["finding", "add", "--item", EVIL, "--severity", "soon", EVIL];
    let runs = [
        shown,
        missing,
        in_book(&bench, finding),
        in_book(&bench, ["finding", "list"]),
        in_book(&bench, ["spindle", "list"]),
        in_book(&bench, ["spindle", "show", EVIL]),
        in_book(&bench, ["spindle", "show", "nobody"]),
        in_book(&bench, ["visit", "status"]),
        in_book(&bench, ["gauge", "history"]),
        in_book(&bench, ["gauge", "history", "--serial", "none"]),
        in_book(&bench, ["spindle", "list", "--json"]),
        in_book(&bench, ["grip", "--unit", EVIL, "--readings", "9.8"]),
        in_book(&bench, ["report", "--html", "page.html", "--overwrite"]),
    ];
    for run in &runs {
        let raw = |c: char| c != '\n' && (c.is_control() || c == '\u{202e}');
        assert!(
            !run.out.contains(raw) && !run.messages.contains(raw),
            "{run}"
        );
        let broken = |text: &str| {
            text.lines()
                .any(|line| line == "e" || line.starts_with("e\""))
        };
        assert!(!broken(&run.out) && !broken(&run.messages), "{run}");
    }
    for run in &runs[2..9] {
        assert!((run.out.clone() + &run.messages).contains(SEEN), "{run}");
    }
    let names = runs[10].json();
    assert!(
        names.to_string().contains(&json!(EVIL).to_string()),
        "{names}"
    );
    let page = page(&bench);
    let (before, rest) = page.split_once("<style>").expect("a style");
    let text = format!(
        "{before}{}",
        rest.split_once("</style>").expect("its end").1
    );
    assert!(
        !text.contains(|c: char| c.is_control() || c == '\u{202e}'),
        "{text}"
    );
    for (what, seen) in [
        ("the spindle's name", format!("<h1>{SEEN}")),
        ("the reason", format!("discarded by hand: {SEEN}")),
        ("the file", "set\\u{1b}[2J\\u{202e}.csv".to_owned()),
        ("the serial number", format!("<td>{SEEN}")),
    ] {
        assert!(text.contains(&seen), "{what}: no {seen} in {text}");
    }
    assert!(!serial.is_nil());
}

fn stamp() -> Stamp {
    Stamp::new("Somebody", "2031-01-01T00:00:00+00:00")
}

fn last_check(book: &Book) -> Check {
    let open = book.open_visits().expect("visits").pop().expect("one");
    book.visit(open.id)
        .expect("the visit")
        .checks
        .pop()
        .expect("a check")
}

/// The last check again, with another start and another result.
fn again(
    book: &mut Book,
    start: impl FnOnce(CheckStart) -> CheckStart,
    result: impl FnOnce(Value) -> Value,
) {
    let last = last_check(book);
    let id = Uuid::from_u128(0xc1);
    let begun = start(CheckStart {
        id,
        stamp: stamp(),
        ..last.start.clone()
    });
    book.start_check(&begun).expect("a check");
    for capture in last
        .captures
        .iter()
        .filter(|capture| capture.source == Source::Typed)
    {
        let capture = Capture {
            id: Uuid::from_u128(0xc3),
            check: id,
            stamp: stamp(),
            ..capture.clone()
        };
        book.begin_capture(&capture).expect("what was typed");
    }
    let ended = &last.results[0];
    let content: Value = ended.content.read().expect("a document");
    book.end_check(&CheckResult {
        id: Uuid::from_u128(0xc2),
        check: id,
        content: Json::of(&result(content)).expect("JSON"),
        stamp: stamp(),
        ..ended.clone()
    })
    .expect("a result");
}

/// As a book that another program wrote.
fn name_spindle(bench: &Bench, name: &str) {
    let mut book = Book::open(bench.path(BOOK)).expect("the book");
    let spindle = book.list::<SpindleHeader>().expect("spindles").remove(0);
    book.revise(&Revision {
        id: Uuid::from_u128(0xa7),
        entity: spindle.id,
        parents: spindle.parents(),
        header: SpindleHeader {
            name: name.to_owned(),
            ..spindle.header().clone()
        },
        stamp: Stamp::new("Somebody", "2031-01-01T00:00:00+00:00"),
    })
    .expect("a revision");
}

/// Enters a gauge of this serial number, and a check by it.
fn gauge_of_last_check(bench: &Bench, serial: &str) -> Uuid {
    let mut book = Book::open(bench.path(BOOK)).expect("the book");
    let gauge = Uuid::from_u128(0xa1);
    book.revise(&Revision {
        id: Uuid::from_u128(0xa2),
        entity: gauge,
        parents: vec![],
        header: GaugeHeader {
            serial: serial.to_owned(),
            what: "force-gauge".to_owned(),
            ..GaugeHeader::default()
        },
        stamp: stamp(),
    })
    .expect("a gauge");
    again(
        &mut book,
        |start| CheckStart {
            gauge: Some(gauge),
            ..start
        },
        |result| result,
    );
    gauge
}

/// What an earlier release stored: sentences, no values.
fn without_values(value: &mut Value) {
    match value {
        Value::Object(fields) => {
            fields.retain(|name, _| !name.ends_with("_values") && name != "values");
            fields.values_mut().for_each(without_values);
        }
        Value::Array(items) => items.iter_mut().for_each(without_values),
        _ => {}
    }
}

#[test]
fn a_result_of_an_earlier_release_is_shown_as_it_was_written_and_rechecks() {
    let bench = bench_in_pounds();
    let words = [
        "grip",
        "--readings",
        "6.0;3.0;6.01;6.02;5.99;6.0",
        "--unit",
        "kN",
        "--discard",
        "2=slipped",
        "--uncertainty-percent",
        "1",
        "--interface",
        "7/24-40",
        "--class",
        "standard",
        "--drawbar",
        "disc-springs",
        "--as-read",
        "--store",
    ];
    in_book(&bench, words).exits(3);
    let mut book = Book::open(bench.path(BOOK)).expect("the book");
    let mut said = Vec::new();
    again(
        &mut book,
        |start| start,
        |mut result| {
            without_values(&mut result);
            let notes = result["notes"].as_array_mut().expect("notes");
            notes.push(json!("once it was said so: 30 N and 2.50 kN"));
            said = ["/notes", "/verdict/reasons", "/clamps/1/notes"]
                .iter()
                .flat_map(|place| {
                    result
                        .pointer(place)
                        .and_then(Value::as_array)
                        .expect("texts")
                })
                .chain(result.pointer("/hints/0/text"))
                .chain(result.pointer("/hints/0/evidence"))
                .chain(result.pointer("/verdict/would_decide/text"))
                .chain(result.pointer("/uncertainty/in_words"))
                .map(|text| text.as_str().expect("a text").to_owned())
                .collect();
            result
        },
    );
    drop(book);
    let page = read(&page(&bench));
    for text in &said {
        let mut letters = text.chars();
        let first: String = letters
            .next()
            .map(|c| c.to_uppercase().to_string())
            .unwrap_or_default();
        let capital = format!("{first}{}", letters.as_str());
        assert!(
            page.contains(text.as_str()) || page.contains(&capital),
            "\"{text}\" is not on the page\n{page}"
        );
    }
    assert!(said.len() > 6, "{said:?}");
    let rechecked = in_book(&bench, ["recheck", "--json"]).exits(0).json();
    let recomputed = |check: &Value| check["recomputed"] == true;
    let checks = rechecked["checks"].as_array().expect("checks");
    assert!(
        checks.len() == 2 && checks.iter().all(recomputed),
        "{rechecked:#}"
    );
}

/// In every document of a check each list of sentences has its values beside it, as many and each with its code.
fn every_sentence_has_its_value(value: &Value, pairs: &mut usize) {
    match value {
        Value::Object(fields) => {
            for (texts, values) in [("notes", "note_values"), ("reasons", "reason_values")] {
                let (Some(texts), values) = (fields.get(texts), fields.get(values)) else {
                    continue;
                };
                let texts = texts.as_array().expect("texts");
                let values = values.and_then(Value::as_array).expect("values");
                assert_eq!(texts.len(), values.len(), "{value:#}");
                assert!(
                    values.iter().all(|value| value["code"].is_string()),
                    "{value:#}"
                );
                *pairs += texts.len();
            }
            if let Some(hint) = fields.get("evidence_values") {
                assert!(hint["code"].is_string() && fields["evidence"].is_string());
                *pairs += 1;
            }
            if let Some(would) = fields.get("would_decide").filter(|would| !would.is_null()) {
                let values = would["values"].as_array().expect("values");
                assert!(!values.is_empty() && values.iter().all(|value| value["code"].is_string()));
                assert!(would["text"].is_string());
                *pairs += 1;
            }
            fields
                .values()
                .for_each(|value| every_sentence_has_its_value(value, pairs));
        }
        Value::Array(items) => {
            items
                .iter()
                .for_each(|value| every_sentence_has_its_value(value, pairs));
        }
        _ => {}
    }
}

#[test]
fn every_sentence_of_a_document_has_its_value_and_the_schema_knows_it() {
    let bench = bench!();
    bench.file("set.csv", five());
    bench.file(
        "runout.csv",
        "angle_deg,reading_um,height_mm\n0,0,300\n90,8,300\n180,16,300\n270,8,300\n360,1,300\n0,0,20\n180,3,20\n",
    );
    let lines = [
        (
            "grip",
            "grip --from set.csv --discard 2=x --interface 7/24-40 --class standard --json",
        ),
        (
            "grip",
            "grip --from set.csv --limit-n 9700 --uncertainty-percent 2 --limit-cv-percent 3 --json",
        ),
        (
            "grip",
            "grip --readings 5;5;5;5.1;5 --unit kN --nominal-n 9800 --drawbar disc-springs --uncertainty-percent 1 --json",
        ),
        (
            "grip",
            "grip --readings 9.8 --unit kN --limit-n 9000 --uncertainty-percent 1 --json",
        ),
        (
            "runout",
            "runout --from runout.csv --limit-um 12 --uncertainty-um 1 --json",
        ),
        (
            "runout",
            "runout --from runout.csv --limit-um 3 --uncertainty-um 1 --json",
        ),
        (
            "runout",
            "runout --readings 0;5;9;5;0 --unit um --positions 4 --limit-um 8 --uncertainty-um 1 --json",
        ),
    ];
    for (schema, line) in lines {
        let schema = bench.line(&format!("schema {schema}")).json();
        let run = bench.line(line);
        assert!([0, 1, 3].contains(&run.code), "{run}");
        let document = run.json();
        assert_eq!(
            differences(&schema, &document),
            Vec::<String>::new(),
            "{line}"
        );
        let mut pairs = 0;
        every_sentence_has_its_value(&document, &mut pairs);
        assert!(pairs > 1, "{line}\n{document:#}");
    }
}

#[test]
fn nobody_has_to_read_a_time_as_computers_write_it() {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40", &["Centre 1"])
        .exits(0);
    bench
        .in_book("visit start --spindle", &["Centre 1"])
        .exits(0);
    let grip = "grip --unit kN --store --state as-found --readings";
    bench.in_book(grip, &["9.8 9.9 9.7"]).exits(0);
    bench.in_book(grip, &["9.6 9.9 9.7"]).exits(0);
    bench
        .in_book("check strike 2 --because", &["the knob was loose"])
        .exits(0);
    bench.in_book("visit finish --yes", &[]).exits(0);
    bench
        .in_book("visit amend --because", &["the oil was cold"])
        .exits(0);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = fs::read_to_string(bench.path("page.html")).expect("a page");
    let mut told = vec![page];
    for line in ["visit status", "recheck", "overview"] {
        told.push(bench.in_book(line, &[]).to_string());
    }
    told.push(bench.in_book("spindle show", &["Centre 1"]).to_string());
    for text in told {
        let raw = text.match_indices('T').find(|(place, _)| {
            let clock = text
                .as_bytes()
                .get(place + 1..place + 7)
                .unwrap_or_default();
            clock.len() == 6 && clock[2] == b':' && clock[5] == b':'
        });
        assert!(raw.is_none(), "a time as computers write it in {text}");
        assert!(!text.trim().is_empty());
    }
}
