//! Forces and lengths as people write them, on the command line: with their unit, or in the one an option names.

use holdtrue_book::{Book, Revision, SpindleHeader, Stamp};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use uuid::Uuid;

const READINGS: [&str; 2] = ["--readings", "9.8 9.9 9.7 9.8 9.9"];

fn grip(bench: &Bench, options: &[&str]) -> Run {
    let held = ["--unit", "kN", "--uncertainty-percent", "0.5", "--json"];
    let words = ["grip"].into_iter().chain(READINGS).chain(held);
    bench.run(words.chain(options.iter().copied()))
}

fn limit(run: &Run, pointer: &str) -> f64 {
    let document = run.json();
    let found = document.pointer(pointer).and_then(|found| found.as_f64());
    found.unwrap_or_else(|| panic!("no {pointer} in {run}"))
}

#[test]
fn a_force_limit_takes_its_unit_and_without_one_is_in_newtons() {
    let bench = bench!();
    // 1 lbf = 4.4482216152605 N, 1 kgf = 9.80665 N, exact by definition.
    for (written, newtons) in [
        ("7000", 7_000.0),
        ("7000N", 7_000.0),
        ("7 kN", 7_000.0),
        ("7,5kN", 7_500.0),
        ("1600 LBF", 7_117.154_584_416_8),
        ("750 kgf", 7_354.987_5),
        ("700 daN", 7_000.0),
    ] {
        for option in ["--limit-n", "--limit-lowest-n"] {
            let run = grip(&bench, &[option, written]);
            let found = limit(&run, "/verdict/limits/0/limit");
            assert!((found - newtons).abs() < 1e-9, "{written}: {found}");
        }
        let options = ["--nominal-n", written, "--limit-percent", "100"];
        let found = limit(&grip(&bench, &options), "/verdict/limits/0/limit");
        assert!((found - newtons).abs() < 1e-9, "{written}: {found}");
    }
    let run = grip(&bench, &["--limit-sag-n-per-s", "2 lbf/s"]);
    assert_eq!(run.code, 3, "typed readings have no drop: {run}");
}

#[test]
fn what_is_no_force_is_refused_by_what_is_wrong_with_it() {
    let bench = bench!();
    for (written, says) in [
        (
            "1,250 kgf",
            "thousands or decimals? Type 1250 kgf or 1.250 kgf",
        ),
        ("80 bar", "pressure"),
        ("1200psi", "pressure"),
        ("7 stone", "expected N, kN, lbf, kgf or daN"),
        ("8 um", "expected N, kN, lbf, kgf or daN"),
        ("kN", "expected a number"),
        ("0 kN", "above 0"),
        ("-7 kN", "-7 kN"),
    ] {
        let option = format!("--limit-n={written}");
        grip(&bench, &[&option]).exits(2).tells(says);
    }
    grip(&bench, &["--limit-sag-n-per-s", "5 N"])
        .exits(2)
        .tells("N/s");
    // A doubt is put in the unit that was written.
    grip(&bench, &["--limit-n", "7000 kN"])
        .exits(2)
        .tells("7000 kN? 7000 N is 7 kN");
}

#[test]
fn a_runout_limit_and_a_height_take_their_units() {
    let bench = bench!();
    for (written, micrometres, height) in [
        ("8", 8.0, None),
        ("8 µm", 8.0, None),
        ("8um", 8.0, None),
        ("0,008 mm", 8.0, None),
        ("0.0003 in", 7.62, None),
        ("3 tenths", 7.62, None),
        ("300=12", 12.0, Some(300.0)),
        ("300mm=5 tenths", 12.7, Some(300.0)),
        ("10in=0.0005in", 12.7, Some(254.0)),
    ] {
        let at = height.map_or_else(|| "300".to_owned(), |mm: f64| mm.to_string());
        let run = bench.run([
            "runout",
            "--readings",
            "0 3 5 3 0 -3 -5 -3",
            "--unit",
            "um",
            "--json",
            "--at",
            "bar",
            "--height-mm",
            &at,
            "--uncertainty-um",
            "0.5",
            "--limit-um",
            written,
        ]);
        let found = limit(&run, "/verdict/limits/0/limit");
        assert!((found - micrometres).abs() < 1e-9, "{written}: {run}");
    }
    let stands = |at: &str, height: &str| {
        let words = [
            "runout",
            "--readings",
            "0 3 5 3",
            "--unit",
            "um",
            "--json",
            "--at",
            at,
            "--height-mm",
            height,
        ];
        limit(&bench.run(words).exits(0), "/planes/0/height_mm")
    };
    for (at, written, mm) in [
        ("wall", "-8.1", -8.1),
        ("wall", "-8.1 mm", -8.1),
        ("bar", "2 in", 50.8),
    ] {
        assert!((stands(at, written) - mm).abs() < 1e-12, "{written}");
    }
}

#[test]
fn readings_carry_their_unit_each_or_the_last_for_all() {
    let bench = bench!();
    let mean = |readings: &str, options: &[&str]| {
        let words = ["grip", "--json", "--readings", readings];
        let run = bench.run(words.into_iter().chain(options.iter().copied()));
        limit(&run.exits(0), "/statistics/mean_n")
    };
    let plain = mean("9.8 9.9 9.7", &["--unit", "kN"]);
    for (readings, options) in [
        ("9.8kN 9.9kN 9.7kN", &[][..]),
        ("9.8 kN 9.9 kN; 9.7 kN", &[]),
        ("9,8 kN, 9,9 kN, 9,7 kN", &[]),
        ("9.8 9.9 9.7 kN", &[]),
        ("9.8 9.9 9.7KN", &[]),
        ("9.8 kN 9.9 9.7", &["--unit", "kN"]),
    ] {
        assert_eq!(
            mean(readings, options).to_bits(),
            plain.to_bits(),
            "{readings}"
        );
    }
    let dial = |readings: &str| {
        let words = [
            "runout",
            "--json",
            "--positions",
            "4",
            "--readings",
            readings,
        ];
        limit(&bench.run(words).exits(0), "/planes/0/tir_um")
    };
    for (readings, micrometres) in [
        ("0 3 5 3 µm", 5.0),
        ("0um 3um 5um 3um", 5.0),
        ("0 3 5 3 tenths", 12.7),
        ("0 0.0003 0.0005 0.0003 in", 12.7),
    ] {
        assert!((dial(readings) - micrometres).abs() < 1e-9, "{readings}");
    }
}

#[test]
fn readings_in_more_than_one_unit_or_in_none_are_refused() {
    let bench = bench!();
    for (readings, options, code, says) in [
        ("9.8 9.9 9.7", &[][..], 2, "--unit"),
        ("9.8 kN 9.9 9.7", &[], 4, "column 2"),
        ("9.8 kN 2200 lbf", &[], 4, "column 2"),
        ("9.8 kN 9.9 kN", &["--unit", "N"], 2, "which one"),
        ("9.8 psi 9.9 psi", &[], 4, "pressure"),
        ("80bar 81bar", &[], 4, "pressure"),
        ("9.8 kN nan", &["--unit", "kN"], 4, "column 2"),
        ("1,250 kgf", &[], 2, "thousands"),
    ] {
        let words = ["grip", "--readings", readings];
        bench
            .run(words.into_iter().chain(options.iter().copied()))
            .exits(code)
            .tells(says);
    }
}

#[test]
fn readings_with_their_unit_are_kept_and_computed_again() {
    let bench = bench!();
    for line in [
        "spindle add Centre-1 --interface BT40 --nominal-n 9,8kN",
        "visit start --spindle Centre-1 --short",
    ] {
        bench.line(line).exits(0);
    }
    bench
        .run([
            "grip",
            "--readings",
            "2200 2210 2190 lbf",
            "--store",
            "--state",
            "as-found",
            "--uncertainty-percent",
            "1",
        ])
        .exits(0);
    bench
        .run([
            "runout",
            "--readings",
            "0 3 5 3 tenths",
            "--store",
            "--at",
            "bar",
            "--height-mm",
            "300",
        ])
        .exits(0);
    bench.line("recheck").exits(0);
    bench
        .line("spindle show Centre-1")
        .exits(0)
        .shows("9.80 kN");
}

#[test]
fn an_unknown_word_on_a_spindles_page_is_named_and_never_left_out() {
    for (change, option, words) in [
        (
            (|header: &mut SpindleHeader| header.grip_class = Some("hard".to_owned()))
                as fn(&mut SpindleHeader),
            ["--class", "standard"],
            ["\"hard\"", "light, standard or heavy"],
        ),
        (
            |header| header.drawbar = Some("rubber".to_owned()),
            ["--drawbar", "hydraulic"],
            ["\"rubber\"", "disc-springs"],
        ),
        (
            |header| header.taper = Some("MT".to_owned()),
            ["--interface", "BT40"],
            ["MT40", "7/24-30"],
        ),
    ] {
        let bench = bench!();
        bench.line("spindle add Centre-1 --interface SK40").exits(0);
        bench
            .line("visit start --spindle Centre-1 --short")
            .exits(0);
        spoil(&bench, change);
        let said = grip(&bench, &["--store"]).exits(6);
        let said = words.iter().fold(said, |run, word| run.tells(word));
        said.tells("Centre-1").tells(option[0]);
        let overruled = grip(&bench, &[&["--store"], &option[..]].concat());
        assert!([0, 3].contains(&overruled.code), "{overruled}");
        bench.run(["spindle", "show", "Centre-1"]).exits(0);
        let edit = ["spindle", "edit", "Centre-1"];
        bench.run(edit.into_iter().chain(option)).exits(0);
        let corrected = grip(&bench, &["--store"]);
        assert!([0, 3].contains(&corrected.code), "{corrected}");
    }
}

/// As a program might that knows more words.
fn spoil(bench: &Bench, change: fn(&mut SpindleHeader)) {
    let mut book = Book::open(bench.path("visits.holdtrue")).expect("the book");
    let spindle = book.list::<SpindleHeader>().expect("spindles").remove(0);
    let mut header = spindle.header().clone();
    change(&mut header);
    let revision = Revision {
        id: Uuid::from_u128(77),
        entity: spindle.id,
        parents: spindle.parents(),
        header,
        stamp: Stamp::new("Somebody", "2031-01-01T00:00:00+00:00"),
    };
    book.revise(&revision).expect("a revision");
}
