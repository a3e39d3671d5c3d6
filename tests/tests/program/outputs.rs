//! What goes to which output, and what the shell is told.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::schema::differences;
use serde_json::Value;

#[test]
fn a_wrong_command_line_is_exit_2_and_nothing_on_standard_output() {
    let bench = bench!();
    for line in ["", "weigh", "settings --colour red", "--json limits show"] {
        let run = bench.line(line).exits(2);
        assert!(run.out.is_empty(), "{run}");
        assert!(!run.messages.is_empty(), "{run}");
    }
}

#[test]
fn help_and_version_are_no_error() {
    let bench = bench!();
    bench.line("--help").exits(0).shows("Usage: holdtrue");
    bench.line("--version").exits(0).shows("holdtrue 0.");
    bench.line("man").exits(0).shows(".TH holdtrue 1");
    bench.line("completions bash").exits(0).shows("_holdtrue");
}

#[test]
fn a_full_output_is_exit_6_and_a_closed_one_is_none() {
    let bench = bench!();
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full");
    if let Ok(full) = full {
        bench
            .finish(bench.command(["man"]).stdout(full))
            .exits(6)
            .tells("standard output");
    }
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    let run = bench.finish(bench.command(["man"]).stdout(writer)).exits(0);
    assert!(run.messages.is_empty(), "{run}");
}

#[test]
fn with_json_a_failure_is_one_document_and_the_same_words_on_standard_error() {
    let bench = bench!();
    let schema = bench.line("schema error").exits(0).json();
    let run = bench.line("limits show missing.toml --json").exits(4);
    let document = run.json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    let message = document["error"]["message"]
        .as_str()
        .expect("a message")
        .to_owned();
    assert_eq!(document["error"]["code"], 4);
    assert_eq!(document["error"]["file"], "missing.toml");
    assert_eq!(document["error"]["line"], Value::Null);
    run.tells(&message);
}

#[test]
fn global_options_stand_before_or_after_the_command() {
    let bench = bench!();
    assert_eq!(
        bench.line("--json settings").exits(0).json(),
        bench.line("settings --json").exits(0).json()
    );
}

#[test]
fn every_schema_listed_is_there() {
    let bench = bench!();
    let list = bench.line("schema --json").exits(0).json();
    let names = list["names"].as_array().expect("names");
    assert!(!names.is_empty());
    for name in names.iter().filter_map(Value::as_str) {
        bench.run(["schema", name]).exits(0).json();
    }
    bench.line("schema nothing").exits(2).tells("settings");
}

#[cfg(unix)]
#[test]
fn where_nothing_goes_to_a_terminal_no_other_program_is_asked_for_its_width() {
    use std::os::unix::fs::PermissionsExt;
    let bench = bench!();
    let folder = bench.path("bin");
    std::fs::create_dir(&folder).expect("a folder");
    let asked = bench.path("asked");
    let tput = folder.join("tput");
    let script = format!("#!/bin/sh\necho \"$@\" >> '{}'\necho 80\n", asked.display());
    std::fs::write(&tput, script).expect("a program");
    std::fs::set_permissions(&tput, std::fs::Permissions::from_mode(0o755)).expect("permissions");
    let mut command = bench.command(["grip", "--readings", "9.8 9.9 9.7", "--unit", "kN"]);
    let run = bench.finish(command.env("PATH", &folder)).exits(0);
    assert!(!run.out.is_empty(), "{run}");
    assert!(!asked.exists(), "{:?}", std::fs::read_to_string(asked));
}

/// Half of what was asked for is not written, and nothing is said of it that is not so.
#[test]
fn page_and_pdf_are_two_files_and_both_are_written_or_none() {
    let bench = visit_for_a_page();
    for same in ["page.html", "./page.html", "sub/../page.html"] {
        bench
            .in_book(&format!("report --html page.html --pdf {same}"), &[])
            .exits(2)
            .tells("expected two files");
        assert!(!bench.path("page.html").exists(), "{same}");
    }
    bench.file("notes.pdf", "my own notes");
    bench
        .in_book("report --html page.html --pdf notes.pdf --overwrite", &[])
        .exits(6)
        .tells("Nothing was changed.");
    assert!(!bench.path("page.html").exists());
    for option in ["--html", "--pdf"] {
        bench
            .in_book(&format!("report {option} -"), &[])
            .exits(2)
            .tells("not written to standard output");
        assert!(!bench.path("-").exists());
    }
}

fn visit_for_a_page() -> Bench {
    let bench = bench!();
    std::fs::create_dir(bench.path("sub")).expect("a folder");
    bench.in_book("spindle add Centre-1", &[]).exits(0);
    bench
        .in_book("visit start --spindle Centre-1", &[])
        .exits(0);
    bench
}
