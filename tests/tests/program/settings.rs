//! Units on screen: chosen once, kept, and refused with their place when the file is spoilt.

use holdtrue_tests::bench;
use holdtrue_tests::schema::differences;

#[test]
fn a_choice_is_kept() {
    let bench = bench!();
    let schema = bench.line("schema settings").json();
    let before = bench.line("settings --json").exits(0).json();
    assert_eq!(
        (&before["force"], &before["length"]),
        (&"kN".into(), &"um".into())
    );
    bench
        .line("settings --force lbf --length 0.0001in")
        .exits(0);
    let after = bench.line("settings --json").exits(0).json();
    assert_eq!(
        (&after["force"], &after["length"]),
        (&"lbf".into(), &"0.0001in".into())
    );
    assert_eq!(differences(&schema, &after), Vec::<String>::new());
}

#[test]
fn each_value_says_where_it_comes_from_and_a_variable_is_not_kept() {
    let bench = bench!();
    bench.line("settings --currency eur").exits(0);
    let mut command = bench.command(["settings", "--bell", "off", "--json"]);
    command
        .env("HOLDTRUE_TECHNICIAN", "Ann")
        .env("HOLDTRUE_BOOK", "elsewhere.holdtrue");
    let document = bench.finish(&mut command).exits(0).json();
    let schema = bench.line("schema settings").json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    let origin = |of: &str| {
        document["origins"][of]
            .as_str()
            .unwrap_or("none")
            .to_owned()
    };
    assert_eq!(origin("currency"), "settings");
    assert_eq!(origin("backup"), "usual");
    assert_eq!(origin("technician"), "HOLDTRUE_TECHNICIAN");
    assert_eq!(origin("book"), "HOLDTRUE_BOOK");
    // A variable holds for a while; what is kept is what was said to be kept.
    let kept = bench.line("settings --json").exits(0).json();
    assert_eq!(kept["technician"], serde_json::Value::Null);
    assert_eq!(kept["book"], serde_json::Value::Null);
    assert_eq!(kept["bell"], "off");
    bench
        .line("settings")
        .exits(0)
        .shows("bell        off   (settings)")
        .shows("backup      none set   (usual)");
}

/// Else a value that is usual today would be somebody's choice for ever.
#[test]
fn only_what_was_typed_is_kept_and_told_as_set() {
    let bench = bench!();
    bench
        .line("settings --currency EUR")
        .exits(0)
        .shows("currency    EUR   (settings)")
        .shows("force       kN   (usual)")
        .shows("paper       a4   (usual)");
    let kept = || std::fs::read_to_string(bench.path("settings.toml")).expect("settings");
    assert_eq!(kept(), "currency = \"EUR\"\n");
    // What is usual and typed all the same is a choice.
    bench
        .line("settings --bell on")
        .exits(0)
        .shows("bell        on   (settings)")
        .shows("screen      on   (usual)");
    assert_eq!(kept(), "bell = \"on\"\ncurrency = \"EUR\"\n");
    bench.line("settings --forget currency").exits(0);
    assert_eq!(kept(), "bell = \"on\"\n");
    // A book that is remembered brings nothing else with it.
    bench.line("spindle add Centre-1").exits(0);
    let kept = kept();
    assert_eq!(kept.lines().count(), 2, "{kept}");
    assert!(kept.contains("book = "), "{kept}");
    let before = std::fs::metadata(bench.path("settings.toml")).expect("settings");
    bench.line("settings --bell on").exits(0);
    let after = std::fs::metadata(bench.path("settings.toml")).expect("settings");
    assert_eq!(
        before.modified().expect("a time"),
        after.modified().expect("a time"),
        "nothing changed: nothing is written"
    );
}

#[cfg(unix)]
#[test]
fn nothing_is_left_in_the_folder_for_temporary_files() {
    let bench = bench!();
    let folder = bench.path("temporary");
    for words in ["settings --bell off", "spindle add Centre-1", "visit start"] {
        let mut command = bench.command(words.split_whitespace());
        bench.finish(command.env("TMPDIR", &folder)).exits(0);
    }
    let left = std::fs::read_dir(&folder).expect("the folder");
    let left: Vec<_> = left
        .map(|entry| entry.expect("an entry").file_name())
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn a_spoilt_file_is_named_with_line_and_column() {
    let bench = bench!();
    bench.file("settings.toml", "force = \"kN\"\nlength = \"furlong\"\n");
    let document = bench.line("settings --json").exits(4).json();
    assert_eq!(document["error"]["line"], 2);
    assert_eq!(document["error"]["column"], "10");
}

#[test]
fn settings_that_cannot_be_stored_are_exit_6() {
    let bench = bench!();
    bench.file("file", "no folder");
    let mut command = bench.command(["settings", "--force", "N"]);
    command.env("HOLDTRUE_SETTINGS", bench.path("file/settings.toml"));
    bench.finish(&mut command).exits(6).tells("settings.toml");
    bench.line("settings").exits(0).shows("kN");
}

#[test]
fn whoever_works_in_inches_and_pounds_reads_no_other_unit() {
    let bench = bench!();
    bench
        .line("settings --force lbf --length 0.0001in")
        .exits(0);
    // Ends of the usual range of a standard no. 40 (8 to 12 kN, common practice) at 4.4482216152605 N a pound-force.
    let grip = [
        "grip",
        "--readings",
        "9.8 9.9 9.7 9.8 9.9",
        "--unit",
        "kN",
        "--interface",
        "7/24 no. 40",
        "--class",
        "standard",
        "--uncertainty-percent",
        "1",
    ];
    let grip = bench
        .run(grip)
        .exits(3)
        .shows("the usual range of 1798 to 2698 lbf");
    let rehearsal = bench
        .line("rehearse --condition tilted-taper --json")
        .exits(1)
        .json();
    let page = bench.path(rehearsal["page"].as_str().expect("the page's name"));
    let page = std::fs::read_to_string(page).expect("the page of the rehearsal");
    for (what, text) in [("screen", &grip.out), ("page", &page)] {
        for unit in [" kN", " N ", "\u{a0}kN", "\u{a0}N", " µm", "\u{a0}µm"] {
            let lines: Vec<&str> = text.lines().filter(|line| line.contains(unit)).collect();
            assert!(lines.is_empty(), "{unit:?} on the {what}: {lines:#?}");
        }
    }
}

#[test]
fn every_command_has_a_manual_page_with_its_exit_codes() {
    let bench = bench!();
    for words in ["man", "man grip", "man gauge calibrate", "man spindle add"] {
        let run = bench.line(words).exits(0);
        run.shows("EXIT STATUS").shows("HOLDTRUE_SETTINGS");
    }
    bench.line("man").exits(0).shows("EXAMPLES");
    bench
        .line("man gauge nothing")
        .exits(2)
        .tells("holdtrue gauge --help");
}

/// A day of numbers alone is never guessed: the 5th of December is not the 12th of May.
#[test]
fn days_are_taken_as_people_write_them_and_asked_back_where_they_may_be_two() {
    let bench = bench!();
    let event = |day: &str, code: i32| {
        bench
            .in_book("spindle event Centre-1 --what springs-changed --on", &[day])
            .exits(code)
    };
    bench.in_book("spindle add Centre-1", &[]).exits(0);
    for (day, told) in [
        ("12 May 2019", "12 May 2019"),
        ("May 2, 2019", "2 May 2019"),
        ("3.5.2019", "3 May 2019"),
        ("13/5/2019", "13 May 2019"),
        ("6/2018", "June 2018"),
    ] {
        event(day, 0).shows(told);
    }
    event("5/12/2019", 2)
        .tells("may be 5 December 2019 or 12 May 2019")
        .tells("2019-12-05")
        .tells("settings --dates");
    bench.line("settings --dates month-first").exits(0);
    event("5/12/2019", 0).shows("12 May 2019");
    event("5.12.2019", 0).shows("5 December 2019");
    bench.line("settings --dates day-first").exits(0);
    event("5/11/2019", 0).shows("5 November 2019");
    event("31/4/2019", 2).tells("not in the calendar");
    event("5/11/2999", 2).tells("in the future");
    let kept = bench.line("settings --json").exits(0).json();
    assert_eq!(kept["dates"], "day-first");
    let schema = bench.line("schema settings").json();
    assert_eq!(differences(&schema, &kept), Vec::<String>::new());
    bench.line("settings --forget dates").exits(0);
    event("5/12/2019", 2);
}
