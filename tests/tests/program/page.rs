//! The page a customer reads, from the book.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;

fn in_book(bench: &Bench, line: &str) -> Run {
    bench.line(&format!("--book yard.holdtrue --technician Hand {line}"))
}

/// A visit with a recorded and a typed set, an item not looked at, finished.
fn finished_visit() -> Bench {
    let bench = bench!();
    in_book(
        &bench,
        "spindle add Centre-1 --invented --place Tern-Point --interface 7/24-40 --nominal-n 9800",
    )
    .exits(0);
    in_book(
        &bench,
        "visit start --spindle Centre-1 --consent-of Yard --power-on-hours 12000",
    )
    .exits(0);
    let clamps = [9_800.0, 9_900.0, 9_750.0, 9_850.0, 9_820.0].map(MadeClamp::of);
    bench.file("set.csv", Made::default().csv(&clamps));
    in_book(
        &bench,
        "grip --from set.csv --store --uncertainty-percent 1 --state as-found",
    )
    .exits(0);
    in_book(
        &bench,
        "grip --readings 6.5;6.4;6.6 --unit kN --store --uncertainty-percent 1 --state as-left",
    )
    .exits(1);
    in_book(&bench, "finding add --item covers --not-examined locked").exits(0);
    in_book(&bench, "visit finish").exits(0);
    bench
}

#[test]
fn the_page_tells_the_visit_as_it_is_in_the_book() {
    let bench = finished_visit();
    let schema = bench.line("schema report").json();
    let run = in_book(&bench, "report --html page.html --json").exits(0);
    let document = run.json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    let digest = document["digest"].as_str().expect("a digest");
    // 9824 N is the mean of the five forces of the record; 6.5 kN that of the typed ones.
    for text in [
        "Local codes and site rules",
        "Centre-1",
        "Tern-Point",
        "invented",
        "Yard",
        "12000",
        "9.82",
        "6.50",
        "kN",
        "Within limit",
        "Outside limit",
        "Typed by hand, no record",
        "set.csv",
        "not examined, because",
        "locked",
        "not an approval to run",
    ] {
        assert!(page.contains(text), "no \"{text}\" on the page");
    }
    // The digest is printed in groups, to be read aloud and typed.
    let together: String = page.split_whitespace().collect();
    assert!(together.contains(digest), "{digest} is not on the page");
    assert!(page.contains("<svg"), "the force trace is drawn");
    for elsewhere in ["http://", "https://", "<script", "src="] {
        let outside = page.replace("http://www.w3.org/2000/svg", "");
        assert!(
            !outside.contains(elsewhere),
            "the page reaches out: {elsewhere}"
        );
    }
}

#[test]
fn the_same_visit_gives_the_same_page() {
    let bench = finished_visit();
    in_book(&bench, "report --html one.html")
        .exits(0)
        .shows("check code");
    in_book(&bench, "report --html two.html").exits(0);
    let read = |name| std::fs::read(bench.path(name)).expect("a page");
    assert_eq!(read("one.html"), read("two.html"));
}

#[test]
fn a_page_that_cannot_be_written_is_exit_6_and_leaves_nothing() {
    let bench = finished_visit();
    in_book(&bench, "report --html no/such/folder/page.html")
        .exits(6)
        .tells("page.html");
    in_book(&bench, "report --html page.html 00000000")
        .exits(2)
        .tells("no single visit");
    bench
        .line("--book empty.holdtrue report --html page.html")
        .exits(6);
    assert!(!bench.path("page.html").exists());
}

#[test]
fn an_open_visit_has_a_page_without_a_digest() {
    let bench = bench!();
    in_book(&bench, "visit start").exits(0);
    in_book(&bench, "report --html page.html")
        .exits(0)
        .shows("no check code yet");
}

#[test]
fn runout_from_a_file_and_off_a_dial_is_drawn_from_its_readings() {
    let bench = bench!();
    in_book(&bench, "visit start").exits(0);
    // Eccentricity 4 µm towards 90°: readings 4·cos(θ − 90°) at eight positions, TIR 8 µm.
    let rows: String = (0..8)
        .map(|stop| {
            let angle_deg = f64::from(stop) * 45.0;
            format!(
                "{angle_deg},{:.6},300\n",
                4.0 * (angle_deg - 90.0).to_radians().cos()
            )
        })
        .collect();
    bench.file("bar.csv", format!("angle_deg,reading_um,height_mm\n{rows}"));
    in_book(
        &bench,
        "runout --from bar.csv --store --limit-um 25 --uncertainty-um 1",
    )
    .exits(0);
    let typed = [
        "--book",
        "yard.holdtrue",
        "runout",
        "--readings",
        "0 3 0 -3",
        "--unit",
        "um",
        "--at",
        "wall",
        "--store",
    ];
    bench.run(typed).exits(0);
    in_book(&bench, "report --html page.html").exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    for text in [
        "bar.csv",
        "8.0",
        "test bar",
        "taper wall",
        "Typed by hand, no record",
        "90°",
    ] {
        assert!(page.contains(text), "no \"{text}\" on the page");
    }
    assert!(
        page.matches("<svg").count() > 2,
        "marks and polar pictures are drawn"
    );
}
