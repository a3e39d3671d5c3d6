//! Files that commands write: nothing of another kind is written over, nothing at all without being told, nothing is left
//! beside it.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use std::fs;

const BOOK: &str = "yard.holdtrue";

fn in_book(bench: &Bench, line: &str) -> Run {
    bench.line(&format!("--book {BOOK} --technician Hand {line}"))
}

fn with_visit() -> Bench {
    let bench = bench!();
    in_book(&bench, "visit start").exits(0);
    bench
}

/// Every file of the folder with its bytes.
fn files(bench: &Bench) -> Vec<(String, Vec<u8>)> {
    let entries = fs::read_dir(bench.folder()).expect("the folder");
    let mut files: Vec<(String, Vec<u8>)> = entries
        .map(|entry| {
            let entry = entry.expect("an entry");
            let bytes = fs::read(entry.path()).unwrap_or_default();
            (entry.file_name().to_string_lossy().into_owned(), bytes)
        })
        .collect();
    files.sort();
    files
}

#[test]
fn a_page_replaces_no_file_of_another_kind() {
    let bench = with_visit();
    bench.file("letter.txt", "dear yard");
    bench.file(
        "foreign.html",
        "<!DOCTYPE html><html><head><title>other</title></head></html>",
    );
    bench.file("empty.html", "");
    fs::copy(bench.path(BOOK), bench.path("backup.html")).expect("a copy");
    let before = files(&bench);
    for name in [
        BOOK,
        "backup.html",
        "letter.txt",
        "foreign.html",
        "empty.html",
    ] {
        for more in ["", "--overwrite"] {
            in_book(&bench, &format!("report --html {name} {more}"))
                .exits(6)
                .tells(name)
                .tells("not written over")
                .tells("Nothing was changed");
            assert_eq!(files(&bench), before, "{name} {more}");
        }
    }
    in_book(&bench, "book check").exits(0);
}

#[test]
fn a_page_replaces_a_page_only_when_told() {
    let bench = with_visit();
    in_book(&bench, "report --html page.html").exits(0);
    let first = fs::read(bench.path("page.html")).expect("the page");
    in_book(&bench, "visit edit --consent-of Yard").exits(0);
    in_book(&bench, "report --html page.html")
        .exits(6)
        .tells("--overwrite");
    assert_eq!(fs::read(bench.path("page.html")).expect("the page"), first);
    in_book(&bench, "report --html page.html --overwrite").exits(0);
    assert_ne!(fs::read(bench.path("page.html")).expect("the page"), first);
    let names: Vec<String> = files(&bench).into_iter().map(|(name, _)| name).collect();
    assert_eq!(names, ["page.html", BOOK], "nothing is left beside it");
}

#[test]
fn a_folder_that_is_not_there_is_not_made() {
    let bench = with_visit();
    for name in ["no/such/page.html", "page.html/", "..", "/"] {
        let run = in_book(&bench, &format!("report --html {name}")).exits(6);
        assert!(run.messages.contains("folder"), "{run}");
    }
    assert_eq!(files(&bench).len(), 1);
}

#[cfg(unix)]
#[test]
fn only_regular_files_are_written_and_links_are_followed() {
    use std::os::unix::fs::{FileTypeExt, symlink};
    let bench = with_visit();
    let made = std::process::Command::new("mkfifo")
        .arg(bench.path("pipe"))
        .status();
    assert!(made.is_ok_and(|status| status.success()));
    symlink("/dev/null", bench.path("null.html")).expect("a link");
    symlink(BOOK, bench.path("book.html")).expect("a link");
    symlink("loop.html", bench.path("loop.html")).expect("a link");
    for name in [
        "pipe",
        "/dev/null",
        "null.html",
        "book.html",
        "loop.html",
        "/dev/full",
    ] {
        in_book(&bench, &format!("report --html {name} --overwrite")).exits(6);
    }
    let pipe = fs::symlink_metadata(bench.path("pipe")).expect("the pipe");
    assert!(pipe.file_type().is_fifo());
    let null = fs::metadata("/dev/null").expect("the device");
    assert!(null.file_type().is_char_device());

    fs::create_dir(bench.path("pages")).expect("a folder");
    symlink("pages/real.html", bench.path("latest.html")).expect("a link");
    in_book(&bench, "report --html latest.html").exits(0);
    in_book(&bench, "report --html latest.html --overwrite").exits(0);
    assert!(
        fs::symlink_metadata(bench.path("latest.html"))
            .expect("it")
            .is_symlink()
    );
    assert!(
        fs::read_to_string(bench.path("pages/real.html"))
            .expect("the page")
            .contains("<html")
    );
    assert_eq!(fs::read_dir(bench.path("pages")).expect("it").count(), 1);
}

#[test]
fn a_page_that_may_be_read_only_stays() {
    let bench = with_visit();
    in_book(&bench, "report --html page.html").exits(0);
    let path = bench.path("page.html");
    let mut rights = fs::metadata(&path).expect("the page").permissions();
    rights.set_readonly(true);
    fs::set_permissions(&path, rights).expect("read only");
    in_book(&bench, "report --html page.html --overwrite")
        .exits(6)
        .tells("read only");
}

/// A small file system of the test's own that is full when the second page comes.
#[cfg(unix)]
#[test]
fn a_full_disk_leaves_the_old_page_whole_and_nothing_beside_it() {
    const SCRIPT: &str = r#"
mkdir disk && mount -t tmpfs -o size=128k none disk || exit 99
"$1" report --html disk/page.html --book yard.holdtrue || exit 98
cp disk/page.html before.html
head -c 200000 /dev/zero >disk/ballast 2>/dev/null
"$1" report --html disk/page.html --overwrite --book yard.holdtrue
code=$?
cmp disk/page.html before.html || exit 97
test "$(ls -A disk)" = "ballast
page.html" || exit 96
exit $code
"#;
    let namespaces = std::process::Command::new("unshare")
        .args(["-rm", "true"])
        .status();
    if !namespaces.is_ok_and(|status| status.success()) {
        eprintln!("not tried: this system gives no name space for a small disk");
        return;
    }
    let bench = with_visit();
    let mut command = std::process::Command::new("unshare");
    command
        .args([
            "-rm",
            "sh",
            "-c",
            SCRIPT,
            "sh",
            env!("CARGO_BIN_EXE_holdtrue-under-test"),
        ])
        .env("HOLDTRUE_SETTINGS", bench.path("settings.toml"))
        .current_dir(bench.folder());
    bench
        .finish(&mut command)
        .exits(6)
        .tells("cannot be written");
}

#[test]
fn settings_are_written_over_settings_alone_and_repair_spoilt_ones_when_told() {
    let bench = bench!();
    let settings = |line: &str, file: &str| {
        let mut command = bench.command(line.split_whitespace());
        command.env("HOLDTRUE_SETTINGS", bench.path(file));
        bench.finish(&mut command)
    };
    bench.file("spoilt.toml", "force = \"kN\"\nlength = \"furlong\"\n");
    // What needs no units and no name goes on.
    for line in ["prove --json", "schema", "man", "completions bash"] {
        settings(line, "spoilt.toml").exits(0);
    }
    settings("settings --force N", "spoilt.toml")
        .exits(4)
        .tells("settings --overwrite");
    settings("settings --force N --overwrite", "spoilt.toml").exits(0);
    settings("settings", "spoilt.toml")
        .exits(0)
        .shows("force       N");

    in_book(&bench, "visit start").exits(0);
    let book = fs::read(bench.path(BOOK)).expect("the book");
    let run = settings("settings --force N --overwrite", BOOK).exits(6);
    assert!(!run.messages.contains("delete"), "{run}");
    assert!(
        !settings("settings", BOOK)
            .exits(4)
            .messages
            .contains("delete")
    );
    assert_eq!(fs::read(bench.path(BOOK)).expect("the book"), book);
    bench.file("letter.txt", "dear yard");
    settings("settings --force N --overwrite", "letter.txt").exits(6);
    assert_eq!(
        fs::read(bench.path("letter.txt")).expect("the letter"),
        b"dear yard"
    );
}

#[test]
fn settings_changed_by_many_at_once_lose_no_change() {
    let bench = bench!();
    for _round in 0..5 {
        let lines = [
            "settings --force lbf",
            "settings --length 0.0001in",
            "settings --name Tess",
        ];
        let running: Vec<_> = lines
            .iter()
            .map(|line| {
                bench
                    .command(line.split_whitespace())
                    .stdout(std::process::Stdio::null())
                    .spawn()
                    .expect("it starts")
            })
            .collect();
        for mut each in running {
            assert!(each.wait().expect("it ends").success());
        }
        bench
            .line("settings")
            .exits(0)
            .shows("lbf")
            .shows("0.0001in")
            .shows("Tess");
        fs::remove_file(bench.path("settings.toml")).expect("the settings");
    }
    assert_eq!(files(&bench), []);
}

#[test]
fn a_rehearsal_adds_to_its_book_and_writes_over_nothing_else() {
    let bench = bench!();
    bench.file("letter.holdtrue", "dear yard");
    bench
        .line("rehearse --clamps 2 --book letter.holdtrue")
        .exits(6);
    assert_eq!(
        fs::read(bench.path("letter.holdtrue")).expect("it"),
        b"dear yard"
    );
    assert_eq!(files(&bench).len(), 1);
}

#[test]
fn nothing_is_written_where_a_book_keeps_its_journal() {
    let bench = bench!();
    bench.in_book("visit start", &[]).exits(0);
    let book = "yard.holdtrue";
    for end in ["-journal", "-wal", "-shm"] {
        let page = format!("{book}{end}");
        bench
            .in_book("report --html", &[&page])
            .exits(6)
            .tells("Name another file");
        assert!(!bench.path(&page).exists(), "{page}");
    }
}
