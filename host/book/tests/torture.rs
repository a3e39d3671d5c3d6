//! Killed at any moment: everything that was said to be recorded is there, and the book is sound.
//!
//! The test starts itself again as the writer, reads what the writer says it has recorded, and kills it (SIGKILL
//! where there is one) after a random time.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_book::*;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const BOOK_OF_THE_WRITER: &str = "HOLDTRUE_TORTURE_BOOK";

/// Not a test by itself: the process that is killed.
#[test]
#[ignore = "started by the test below"]
fn writer() {
    let Ok(path) = std::env::var(BOOK_OF_THE_WRITER) else {
        return;
    };
    let mut book = Book::open_or_create(&path).unwrap();
    headers(&mut book);
    start(&mut book);
    if book.captures(uuid(CHECK)).unwrap().is_empty() {
        book.begin_capture(&capture()).unwrap();
    }
    let first = u32::try_from(book.recorded(uuid(CHECK)).unwrap().len()).unwrap() + 1;
    for number in first.. {
        book.append_chunk(
            uuid(CAPTURE),
            &chunk(number % 3600, &[&[number.to_le_bytes()[0]; 4000]]),
        )
        .unwrap();
        book.record(&clamp(10_000 + u128::from(number), number))
            .unwrap();
        println!("recorded {number}");
        std::io::stdout().flush().unwrap();
    }
}

/// Runs the writer for a while, kills it, and returns the last clamp it said it had recorded.
fn write_and_kill(path: &Path, after: Duration) -> Option<u32> {
    let mut writer = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "writer", "--ignored", "--nocapture"])
        .env(BOOK_OF_THE_WRITER, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let output = BufReader::new(writer.stdout.take().unwrap());
    let reader = std::thread::spawn(move || {
        let lines = output.lines().map_while(std::result::Result::ok);
        // The last line may have been cut by the kill; a whole one ends in a number.
        lines
            .filter_map(|line| line.rsplit_once("recorded ")?.1.parse().ok())
            .last()
    });
    std::thread::sleep(after);
    writer.kill().unwrap();
    writer.wait().unwrap();
    reader.join().unwrap()
}

#[test]
fn a_killed_writer_loses_nothing_it_has_shown() {
    let (_folder, path) = place();
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let seed = u64::from(now.unwrap().subsec_nanos());
    let mut random = seed | 1;
    let began = Instant::now();
    let (mut kills, mut shown) = (0, 0);
    while kills < 12 || (shown < 20 && began.elapsed() < Duration::from_secs(60)) {
        // xorshift64 (Marsaglia 2003): only the moments have to differ.
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        let last = write_and_kill(&path, Duration::from_millis(20 + random % 150));
        kills += 1;
        shown = shown.max(last.unwrap_or(0));
        if !path.exists() {
            continue;
        }
        // As every command that only reads opens it.
        let book = match Book::open_read_only(&path) {
            // Killed between the file and its first write.
            Err(Error::Empty { .. }) => continue,
            opened => opened.unwrap(),
        };
        let seen = book.check().unwrap();
        assert!(
            seen.sound() && seen.conflicts.is_empty(),
            "seed {seed}, kill {kills}: {seen:?}"
        );
        let recorded = match book.recorded(uuid(CHECK)) {
            // Killed before the check was begun.
            Err(Error::Unknown { .. }) => Vec::new(),
            recorded => recorded.unwrap(),
        };
        let numbers: Vec<u32> = recorded.iter().map(|clamp| clamp.number).collect();
        assert!(
            numbers.iter().copied().eq((1..).take(numbers.len())),
            "seed {seed}, kill {kills}: {numbers:?}"
        );
        let there = numbers.last().copied().unwrap_or(0);
        assert!(
            there >= shown,
            "seed {seed}, kill {kills}: shown {shown}, there {there}"
        );
    }
    assert!(
        shown >= 1,
        "no clamp was ever recorded in {kills} runs; the test has tried nothing"
    );
}
