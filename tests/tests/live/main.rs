//! The program at a gauge: a serial device, a second process, and everything that goes wrong between them.
#![cfg(unix)]

mod asked;
mod belongs;
mod broken_off;
mod calibration;
mod cautions;
mod cut_off;
mod day;
mod disk;
mod faults;
mod gauge;
mod grip;
mod hostile;
mod ports;
mod push_out;
mod round;
mod runout;
mod runout_only;
mod screen;
mod short_visit;
mod sleep;
mod standing;
mod steps_back;
mod stopped;
mod torture;
mod two_programs;
mod unplugged;
mod update;
mod wire;

use holdtrue_tests::bench::Bench;
use std::process::Command;

/// The book of these tests.
const BOOK: &str = "yard.holdtrue";

/// Five clamps at a port into the book, as one JSON document; `more` are further options.
fn grip(bench: &Bench, port: &str, more: &str) -> Command {
    let line = format!("grip --gauge {port} --clamps 5 --json --yes --book {BOOK} {more}");
    bench.command(line.split_whitespace())
}

/// Clamps and readings the book has of the first check of the open visit.
fn recorded(bench: &Bench) -> u64 {
    let status = bench
        .line(&format!("visit status --json --book {BOOK}"))
        .exits(0)
        .json();
    status["visit"]["checks"][0]["recorded"]
        .as_u64()
        .unwrap_or(0)
}

/// Every row agrees with every other, and every stored result with the record it came from.
#[track_caller]
fn is_sound(bench: &Bench) {
    let line = |words: &str| bench.line(&format!("{words} --book {BOOK}")).exits(0);
    line("book check").shows("sound");
    line("recheck");
}
