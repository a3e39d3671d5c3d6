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
        // Nobody said which gauge it was, and by what it was good to.
        "not stated",
        "in force, as typed",
        "1.00 % of the reading (k = 2)",
        "kN",
        "before: within limit",
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

fn pdf_pages(bench: &Bench, name: &str) -> Vec<String> {
    pdf_extract::extract_text_by_pages(bench.path(name)).expect("a PDF that reads back")
}

/// Without blanks, which the two outputs break lines at differently.
fn dense(text: &str) -> String {
    text.chars().filter(|sign| !sign.is_whitespace()).collect()
}

#[test]
fn the_pdf_is_written_by_the_rules_of_the_page() {
    let bench = finished_visit();
    let schema = bench.line("schema report").json();
    in_book(&bench, "report").exits(2).tells("--html");
    let written = in_book(&bench, "report --pdf page.pdf --json")
        .exits(0)
        .json();
    assert_eq!(differences(&schema, &written), Vec::<String>::new());
    assert_eq!(
        (&written["html"], &written["pdf"]),
        (&serde_json::Value::Null, &"page.pdf".into())
    );
    let first = std::fs::read(bench.path("page.pdf")).expect("the PDF");
    in_book(&bench, "report --pdf page.pdf")
        .exits(6)
        .tells("--overwrite");
    in_book(&bench, "report --pdf page.pdf --html page.html --overwrite").exits(0);
    assert_eq!(
        std::fs::read(bench.path("page.pdf")).expect("the PDF"),
        first,
        "the same visit, the same bytes"
    );
    bench.file("foreign.pdf", "%PDF-1.4 of somebody else");
    for (what, name) in [
        ("--pdf", "foreign.pdf"),
        ("--pdf", "page.html"),
        ("--html", "page.pdf"),
        ("--pdf", "yard.holdtrue"),
    ] {
        in_book(&bench, &format!("report {what} {name} --overwrite"))
            .exits(6)
            .tells("not written over");
    }
    in_book(&bench, "report --spindle Centre-1 --pdf years.pdf").exits(0);
    assert!(
        pdf_pages(&bench, "years.pdf")
            .concat()
            .contains("Over the years")
    );
}

#[test]
fn the_sheet_and_the_appendix_are_as_the_settings_say() {
    let bench = finished_visit();
    let sheet = |name: &str| {
        let pdf = std::fs::read(bench.path(name)).expect("the PDF");
        String::from_utf8_lossy(&pdf).matches("595.276").count()
    };
    in_book(&bench, "report --pdf a4.pdf --html a4.html").exits(0);
    bench
        .line("settings --paper letter --appendix off")
        .exits(0)
        .shows("paper       letter   (settings)")
        .shows("appendix    off   (settings)");
    in_book(&bench, "report --pdf letter.pdf --html letter.html").exits(0);
    assert!(sheet("a4.pdf") > 0 && sheet("letter.pdf") == 0);
    let page = |name: &str| std::fs::read_to_string(bench.path(name)).expect("the page");
    assert!(page("letter.html").contains("size: letter;") && page("a4.html").contains("size: A4;"));
    assert!(page("a4.html").contains("Appendix") && !page("letter.html").contains("Appendix"));
}

#[test]
fn the_short_code_in_the_foot_is_held_to_the_book() {
    let bench = finished_visit();
    let written = in_book(&bench, "report --pdf page.pdf --json")
        .exits(0)
        .json();
    let digest = written["digest"].as_str().expect("a digest");
    let first = pdf_pages(&bench, "page.pdf").swap_remove(0);
    let (_, foot) = first.rsplit_once("check code ").expect("a check code");
    let code = foot.get(..19).expect("sixteen signs in fours");
    assert!(digest.ends_with(&digest[2..]) && dense(code).to_lowercase() == digest[2..18]);
    in_book(&bench, &format!("book verify {code}"))
        .exits(0)
        .shows("agrees");
    in_book(&bench, &format!("book verify {}", dense(code)))
        .exits(0)
        .shows(digest);
    in_book(&bench, "book verify 0123 4567 89AB CDEF")
        .exits(6)
        .tells("no finished visit has");
    in_book(&bench, &format!("book verify {}", &code[..14]))
        .exits(2)
        .tells("16 in its foot");
}

/// Two pages for everybody, at most three of evidence, then the appendix; what is large on the first is what was computed.
#[test]
fn the_paper_of_a_rehearsal_keeps_to_its_pages_and_its_figures() {
    for (condition, exit) in [("sound", 0), ("weak-springs", 1), ("tilted-taper", 1)] {
        let bench = bench!();
        let run = bench
            .line(&format!("rehearse --condition {condition} --json"))
            .exits(exit);
        let document = run.json();
        let book = document["book"].as_str().expect("a book");
        bench
            .line(&format!("--book {book} report --pdf page.pdf"))
            .exits(0);
        let pages = pdf_pages(&bench, "page.pdf");
        let dense: Vec<String> = pages.iter().map(|page| dense(page)).collect();
        let begins = |words: &str| {
            dense
                .iter()
                .position(|page| page.starts_with(words))
                .expect(words)
        };
        let (evidence, appendix) = (begins("Evidence"), begins("Appendix"));
        assert!(
            evidence <= 2,
            "{condition}: evidence begins on page {}",
            evidence + 1
        );
        assert!(
            appendix - evidence <= 3,
            "{condition}: {} pages of evidence",
            appendix - evidence
        );
        assert!(
            dense[0].contains("fortheownerofthemachine"),
            "{condition}: nobody signs page 1"
        );
        let mean = document["grip"]["statistics"]["mean_n"]
            .as_f64()
            .expect("a mean");
        let mut figures = vec![format!("{:.2}kN", mean / 1e3)];
        let limits = document["runout"]["verdict"]["limits"]
            .as_array()
            .expect("limits");
        for limit in limits {
            figures.push(format!(
                "{:.1}µm",
                limit["measured"].as_f64().expect("a figure")
            ));
        }
        for figure in figures {
            assert!(
                dense[0].contains(&figure),
                "{condition}: no {figure} on page 1: {}",
                dense[0]
            );
        }
    }
}

/// Whoever is handed the paper has no program: an option says nothing to them, on screen it says what to do next.
#[test]
fn no_option_of_the_program_stands_on_the_paper() {
    let bench = bench!();
    in_book(&bench, "spindle add Centre-2 --invented --nominal-n 9800").exits(0);
    in_book(&bench, "visit start --spindle Centre-2 --consent-of Yard").exits(0);
    // Each hold with a fall of its own: undecided, and what would decide it names an option on screen.
    let knocked = [9_800.0, 9_900.0, 9_750.0, 9_850.0, 9_820.0].map(|force_n| MadeClamp {
        knock_s: 0.3,
        ..MadeClamp::of(force_n)
    });
    bench.file("set.csv", Made::default().csv(&knocked));
    let lines = [
        "grip --from set.csv --store --uncertainty-percent 1",
        "grip --readings 9.8;9.7;97;9.9 --unit kN --store --uncertainty-percent 1 --as-read",
        "runout --readings 0;3;5;3;4;3;5;3 --unit um --at bar --height-mm 300 --store --limit-um 20 --uncertainty-um 1",
    ];
    let said: Vec<String> = lines
        .iter()
        .map(|line| {
            let run = in_book(&bench, line);
            assert!(matches!(run.code, 0 | 3), "{run}");
            run.out + &run.messages
        })
        .collect();
    assert!(said[0].contains("--drop-because"), "{}", said[0]);
    assert!(said[0].contains("--interface"), "{}", said[0]);
    for open in [true, false] {
        if !open {
            in_book(&bench, "visit finish --yes").exits(0);
            in_book(&bench, "check strike 2 --because a-slip-of-the-hand").exits(0);
        }
        in_book(&bench, "report --html page.html --pdf page.pdf --overwrite").exits(0);
        let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
        let text = page.split_once("</style>").expect("a style").1;
        assert!(!text.contains(" --") && !text.contains("(--"), "{text}");
        assert!(text.contains("nobody at the panel"), "{text}");
        assert_eq!(
            text.contains("One entry was added after the visit was finished."),
            !open
        );
        for page in pdf_pages(&bench, "page.pdf") {
            assert!(!page.contains("--"), "{page}");
        }
    }
    // Once it is amended, what was struck counts as that, and nothing is told as added.
    in_book(&bench, "visit amend --because it-is-so").exits(0);
    in_book(&bench, "report --html page.html --overwrite").exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(!page.contains("added after the visit was finished"));
    assert!(page.contains("a-slip-of-the-hand"));
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

/// A sign, twice as wide as high, that shines through around its middle.
fn sign() -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    image::RgbaImage::from_fn(80, 40, |x, _| match (20..60).contains(&x) {
        true => image::Rgba([0, 64, 128, 255]),
        false => image::Rgba([0, 0, 0, 0]),
    })
    .write_to(&mut bytes, image::ImageFormat::Png)
    .expect("a picture");
    bytes.into_inner()
}

#[test]
fn whose_letterhead_it_is_stands_on_every_paper_that_is_made() {
    let bench = finished_visit();
    bench.file("sign.png", sign());
    let say = |line: &str, code| bench.line(line).exits(code);
    bench
        .run([
            "settings",
            "--letterhead",
            "Tern Point buoy yard, spindles",
            "--letterhead",
            "Pier 2",
            "--logo",
            "sign.png",
        ])
        .exits(0)
        .shows("letterhead  Tern Point buoy yard, spindles / Pier 2   (settings)")
        .shows("sign.png   (settings)");
    let day = day_of(&bench);
    for (of, name) in [
        ("".to_owned(), "visit"),
        ("--spindle Centre-1".to_owned(), "history"),
        (format!("--day {day}"), "day"),
    ] {
        in_book(
            &bench,
            &format!("report {of} --html {name}.html --pdf {name}.pdf"),
        )
        .exits(0);
        let page = std::fs::read_to_string(bench.path(&format!("{name}.html"))).expect("a page");
        let head = page.find("Tern Point buoy yard, spindles</strong>");
        assert!(head < page.find("Local codes"), "{name}");
        assert_eq!(
            page.matches("alt=\"logo of Tern Point buoy yard, spindles\"")
                .count(),
            1
        );
        let pdf = std::fs::read(bench.path(&format!("{name}.pdf"))).expect("a PDF");
        let pdf = String::from_utf8_lossy(&pdf);
        assert!(
            pdf.contains("/Subtype/Image") || pdf.contains("/Subtype /Image"),
            "{name}"
        );
    }
    // One that is gone is not left out in silence.
    std::fs::remove_file(bench.path("sign.png")).expect("it is there");
    let refused = in_book(&bench, "report --html again.html").exits(4);
    refused
        .tells("sign.png")
        .tells("holdtrue settings --forget logo");
    assert!(!std::fs::exists(bench.path("again.html")).expect("a folder"));
    say("settings --forget logo --forget letterhead", 0).shows("letterhead  none set   (usual)");
    in_book(&bench, "report --html again.html").exits(0);
    let page = std::fs::read_to_string(bench.path("again.html")).expect("a page");
    assert!(!page.contains("Pier 2"));
}

#[test]
fn what_is_no_letterhead_is_refused_and_nothing_is_set() {
    let bench = bench!();
    bench.file("text.png", "no picture");
    bench
        .line("settings --logo text.png")
        .exits(4)
        .tells("text.png")
        .tells("PNG or JPEG");
    bench.line("settings --logo nowhere.png").exits(4);
    bench.line("settings --logo .").exits(4).tells("a folder");
    bench
        .line("settings --letterhead a --letterhead b --letterhead c --letterhead d --letterhead e --letterhead f")
        .exits(2)
        .tells("found 6 lines, expected 5 at most");
    bench.line("settings --letterhead \u{7}").exits(2);
    bench
        .line("settings")
        .shows("letterhead  none set   (usual)");
}

/// The day the last visit began, as the book has it.
fn day_of(bench: &Bench) -> String {
    let shown = in_book(bench, "spindle show Centre-1 --json")
        .exits(0)
        .json();
    let text = shown.to_string();
    let at = text.find("\"started_at\":\"").expect("a start") + "\"started_at\":\"".len();
    text[at..at + 10].to_owned()
}

#[test]
fn a_day_is_one_paper_of_all_that_began_on_it() {
    let bench = bench!();
    let start = |spindle: &str, date: &str| {
        in_book(
            &bench,
            &format!("spindle add {spindle} --invented --nominal-n 9800"),
        )
        .exits(0);
        in_book(
            &bench,
            &format!("visit start --spindle {spindle} --date {date}"),
        )
        .exits(0);
    };
    let measure = |readings: &str, code| {
        let line = format!(
            "grip --readings {readings} --unit kN --store --uncertainty-percent 1 --state as-found"
        );
        in_book(&bench, &line).exits(code);
        in_book(&bench, "visit finish").exits(0);
    };
    start("Centre-1", "2026-05-12");
    measure("9.5;9.6;9.4", 0);
    start("Centre-2", "2026-05-12");
    measure("5.1;5.2;5.0", 1);
    start("Centre-3", "2026-05-13");
    measure("9.1;9.2;9.0", 0);
    let said = in_book(&bench, "report --day 2026-05-12 --html day.html --json")
        .exits(0)
        .json();
    let schema = bench.line("schema report").json();
    assert_eq!(differences(&schema, &said), Vec::<String>::new());
    assert_eq!(said["visits"].as_array().map(Vec::len), Some(2));
    let page = std::fs::read_to_string(bench.path("day.html")).expect("a page");
    let (first, rest) = page.split_once("class=\"break\"").expect("a first page");
    for words in ["12 May 2026", "2 visits", "Centre-1", "Centre-2", "outside"] {
        assert!(first.contains(words), "{words}");
    }
    assert!(!page.contains("Centre-3"));
    assert!(rest.contains("Centre-1") && rest.contains("Centre-2"));
    in_book(&bench, "report --day 2026-05-14 --html none.html")
        .exits(2)
        .tells("found no visit that began on this day");
    in_book(
        &bench,
        "report --day 2026-05-12 --spindle Centre-1 --html none.html",
    )
    .exits(2);
}
