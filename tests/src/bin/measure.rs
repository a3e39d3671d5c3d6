//! How fast the program is, each figure beside one that cannot be beaten or that somebody would else use.
//!
//! `cargo build --release -p holdtrue && cargo run --release -p holdtrue-tests --features studies --bin measure -- [runs, 5]`
//! In: how many runs. Out: a table of medians and ratios. What stands in one row was run turn by turn in one go, so that a busy
//! computer slows both; only the ratio is to be compared with other computers. Processor time is that of all threads, which a
//! busy computer changes least.

use holdtrue_gauge::calibration::quantity;
use holdtrue_gauge::force::{ForceBuilder, Piece};
use holdtrue_gauge::link::RawFrame;
use holdtrue_metrology::grip;
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_protocol::block::{self, BlockEncoder, Taken};
use holdtrue_protocol::frame;
use holdtrue_protocol::message::{CalibrationRecord, Channel, Faults, FromGauge};
use holdtrue_tests::bench::{Bench, program_beside};
use holdtrue_tests::many_spindles;
use serde_json::Value;
use std::fmt::Write as _;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

const HOUR: usize = 3_600_000;
const SHORT: usize = 35_000;
const MILLION: usize = 1_000_000;
/// The same job as a script, beside this file.
const SCRIPT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/measured/grip.py");

fn main() {
    let runs = std::env::args()
        .nth(1)
        .map_or(5, |word| word.parse().expect("a whole number of runs"));
    let program = program_beside();
    let bench = Bench::new(program.display().to_string().leak());
    println!(
        "medians of {runs} runs\n\n| what | takes | beside | takes | ratio |\n|---|---|---|---|---|"
    );
    files(&bench, runs);
    frames(runs);
    replayed(runs);
    analysis(runs);
    rest(&bench, runs);
    overview(&program, runs);
    #[cfg(target_os = "linux")]
    screen_at_work::table(&bench);
    let size = std::fs::metadata(&program).expect("the program").len();
    println!("| program file | {:.1} MB | | | |", size as f64 / 1e6);
}

/// Something to be timed, s.
type Job<'a> = (&'a str, Box<dyn FnMut() -> f64 + 'a>);

/// Runs the jobs turn by turn and prints the first beside each of the others.
fn side_by_side(runs: usize, mut jobs: Vec<Job<'_>>) {
    let mut times = vec![Vec::new(); jobs.len()];
    for _ in 0..runs {
        for ((_, job), times) in jobs.iter_mut().zip(&mut times) {
            times.push(job());
        }
    }
    let medians: Vec<f64> = times
        .iter_mut()
        .map(|times| {
            times.sort_by(f64::total_cmp);
            times[times.len() / 2]
        })
        .collect();
    for ((name, _), time) in jobs.iter().zip(&medians).skip(1) {
        println!(
            "| {} | {} | {name} | {} | {:.2} |",
            jobs[0].0,
            shown(medians[0]),
            shown(*time),
            medians[0] / time
        );
    }
}

fn shown(seconds: f64) -> String {
    if seconds < 0.001 {
        format!("{:.0} µs", 1e6 * seconds)
    } else if seconds < 1.0 {
        format!("{:.1} ms", 1e3 * seconds)
    } else {
        format!("{seconds:.2} s")
    }
}

/// Processor time of the programs that were waited for meanwhile, s: fields 16 and 17 of what Linux tells, counted behind the
/// name in brackets; elsewhere not a number.
fn processor_s<T>(work: impl FnOnce() -> T) -> f64 {
    let so_far = || -> Option<f64> {
        let told = std::fs::read_to_string("/proc/self/stat").ok()?;
        let (_, fields) = told.rsplit_once(')')?;
        let taken = fields.split_whitespace().skip(13).take(2);
        taken.map(|field| field.parse::<f64>().ok()).sum()
    };
    let before = so_far();
    black_box(work());
    let ticks = so_far().zip(before).map(|(now, before)| now - before);
    ticks.map_or(f64::NAN, |ticks| ticks / TICKS_PER_S)
}

/// Linux counts in these on every computer.
const TICKS_PER_S: f64 = 100.0;

fn timed<T>(work: impl FnOnce() -> T) -> f64 {
    let begun = Instant::now();
    black_box(work());
    begun.elapsed().as_secs_f64()
}

/// Clamps of 9 kN, one every nine seconds, with noise of 4 N, a thousand samples a second.
fn force_n(samples: usize) -> Vec<f64> {
    let mut state = 1_u64;
    let mut noise = move || {
        let mut sum = 0.0;
        for _ in 0..4 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            sum += (state >> 40) as f64 / 16_777_216.0 - 0.5;
        }
        7.0 * sum
    };
    (0..samples)
        .map(|sample| {
            let (clamp, phase) = (sample / 9_000, (sample % 9_000) as f64 / 1_000.0);
            let rise = ((phase - 2.0) / 0.15).clamp(0.0, 1.0);
            let fall = ((7.2 - phase) / 0.15).clamp(0.0, 1.0);
            let level = 9_000.0 * (1.0 + 0.01 * (clamp as f64).sin());
            12.0 + level * rise.min(fall) + noise()
        })
        .collect()
}

/// A record as a file: beside reading the same fields by the standard library, and beside the script.
fn files(bench: &Bench, runs: usize) {
    for (name, samples) in [("hour", HOUR), ("35 s", SHORT)] {
        let path = bench.path(&format!("{samples}.csv"));
        let mut text = String::from("time_s,force_n\n");
        for (sample, force) in force_n(samples).into_iter().enumerate() {
            writeln!(text, "{:.3},{force:.2}", sample as f64 / 1_000.0).expect("memory");
        }
        std::fs::write(&path, text).expect("the folder can be written");
        let ours = || timed(|| finish(&mut from_file(bench, &path)));
        let floor = || timed(|| parsed(&path));
        let what = format!("CSV, {name} at 1 kHz, file to result");
        let mut jobs: Vec<Job<'_>> = vec![
            (&what, Box::new(ours)),
            ("line ends and numbers of the same file", Box::new(floor)),
        ];
        let Some(script_told) = script(&path) else {
            side_by_side(runs, jobs);
            println!(
                "| {what} | | not measured: no python3 with pandas, numpy and scipy here | | |"
            );
            continue;
        };
        let told: Value =
            serde_json::from_slice(&finish(&mut from_file(bench, &path))).expect("one document");
        let own_n = told["statistics"]["mean_n"].as_f64().expect("a mean");
        assert!(
            (own_n - script_told.mean_n).abs() < 1e-3 * own_n,
            "not the same job: {own_n} N and {} N",
            script_told.mean_n
        );
        jobs.push((
            "a script with pandas, numpy, scipy",
            Box::new(|| timed(|| script(&path))),
        ));
        jobs.push((
            "the script without its start",
            Box::new(|| script(&path).map_or(f64::NAN, |told| told.seconds)),
        ));
        side_by_side(runs, jobs);
        let processor = format!("{what}, processor time");
        side_by_side(
            runs,
            vec![
                (
                    &processor,
                    Box::new(|| processor_s(|| finish(&mut from_file(bench, &path)))),
                ),
                (
                    "a script with pandas, numpy, scipy",
                    Box::new(|| processor_s(|| script(&path))),
                ),
            ],
        );
        if let Some(own_kib) = peak(&mut from_file(bench, &path)) {
            println!(
                "| {what}, memory | {:.0} MB | the script | {:.0} MB | {:.2} |",
                own_kib / 1e3,
                script_told.peak_kib / 1e3,
                own_kib / script_told.peak_kib
            );
        }
    }
}

fn from_file(bench: &Bench, path: &Path) -> Command {
    let path = path.display().to_string();
    bench.command(["grip", "--json", "--from", &path])
}

fn finish(command: &mut Command) -> Vec<u8> {
    let output = command.stderr(Stdio::null()).output();
    output.expect("the program starts").stdout
}

/// Times and forces of a file, without any checking.
fn parsed(path: &Path) -> (Vec<f64>, Vec<f64>) {
    let bytes = std::fs::read(path).expect("the file");
    let number = |bytes: &[u8]| -> f64 {
        let text = std::str::from_utf8(bytes).expect("digits");
        text.parse().expect("a number")
    };
    let mut begin = 0;
    let lines = memchr::memchr_iter(b'\n', &bytes).map(|end| {
        let line = &bytes[begin..end];
        begin = end + 1;
        line
    });
    lines
        .skip(1)
        .filter_map(|line| {
            let comma = memchr::memchr(b',', line)?;
            Some((number(&line[..comma]), number(&line[comma + 1..])))
        })
        .unzip()
}

/// What the script tells.
struct ScriptTold {
    peak_kib: f64,
    mean_n: f64,
    /// Without its start.
    seconds: f64,
}

/// None where it cannot run.
fn script(path: &Path) -> Option<ScriptTold> {
    let mut command = Command::new("python3");
    command.arg(SCRIPT).arg(path).stderr(Stdio::null());
    let told: Value = serde_json::from_slice(&command.output().ok()?.stdout).ok()?;
    let number = |key: &str| told[key].as_f64();
    Some(ScriptTold {
        peak_kib: number("peak_kib")?,
        mean_n: number("mean_n")?,
        seconds: number("seconds")?,
    })
}

/// Peak memory of a program, KiB, where the system counts it.
fn peak(command: &mut Command) -> Option<f64> {
    let mut child = command
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let status = PathBuf::from(format!("/proc/{}/status", child.id()));
    let mut most = None;
    while child.try_wait().ok()?.is_none() {
        let told = std::fs::read_to_string(&status).unwrap_or_default();
        let high = told.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        most = high
            .and_then(|line| line.split_whitespace().next()?.parse().ok())
            .or(most);
    }
    most
}

/// An hour as it comes from the gauge, decoded and converted: beside undoing the same bytes by hand, and beside copying them.
fn frames(runs: usize) {
    let calibration = calibration();
    let plain = plain_frames(1_000);
    let mut stuffed = Vec::new();
    for body in &plain {
        let mut buffer = [0; frame::MAX_FRAME];
        stuffed.extend_from_slice(frame::stuff(body, &mut buffer).expect("it fits"));
    }
    assert_eq!(
        undone(&stuffed, &calibration),
        decoded(&stuffed, &calibration),
        "both read the same forces"
    );
    println!(
        "| bytes a sample on the wire | {:.2} | | | |",
        stuffed.len() as f64 / HOUR as f64
    );
    side_by_side(
        runs,
        vec![
            (
                "frames of an hour at 1 kHz to newtons",
                Box::new(|| timed(|| decoded(&stuffed, &calibration))),
            ),
            (
                "COBS, CRC and varints undone by hand",
                Box::new(|| timed(|| undone(&stuffed, &calibration))),
            ),
            ("copying the bytes", Box::new(|| timed(|| stuffed.clone()))),
        ],
    );
    side_by_side(
        runs,
        vec![
            (
                "the same to a force record, gaps and faults known",
                Box::new(|| timed(|| recorded(&plain, &calibration))),
            ),
            (
                "COBS, CRC and varints undone by hand",
                Box::new(|| timed(|| undone(&stuffed, &calibration))),
            ),
        ],
    );
}

/// An hour as fast as a gauge goes, from the frames as they lie in the book to figures.
fn replayed(runs: usize) {
    let calibration = calibration();
    let plain = plain_frames(500);
    let record = recorded(&plain, &calibration);
    assert_eq!(record.len(), 2 * HOUR, "no sample is lost");
    let setup = GripSetup::default();
    side_by_side(
        runs,
        vec![
            (
                "frames of an hour at 2 kHz to clamps and figures",
                Box::new(|| {
                    timed(|| {
                        grip::analyse(&recorded(&plain, &calibration), &setup).expect("clamps")
                    })
                }),
            ),
            (
                "of that, frames to a force record",
                Box::new(|| timed(|| recorded(&plain, &calibration))),
            ),
            ("copying the bytes", Box::new(|| timed(|| plain.concat()))),
        ],
    );
}

fn calibration() -> CalibrationRecord {
    CalibrationRecord {
        id: [1; 16],
        channel: Channel::Force,
        coefficients: [0.0, 0.01, 0.0, 0.0],
        zero_counts: 0,
        expanded_relative: 0.005,
        expanded_fixed: 0.0,
        span: [0.0, 20_000.0],
        rated: 20_000.0,
        temperature_c: 20.0,
        date_days: 20_000,
        due_days: 20_365,
        certificate: "TP-C1".try_into().expect("short enough"),
        laboratory: "Tern Point".try_into().expect("short enough"),
    }
}

/// An hour of blocks, a sample every so many microseconds.
fn plain_frames(every_us: u64) -> Vec<Vec<u8>> {
    let mut encoder = BlockEncoder::new();
    let mut frames = Vec::new();
    let mut send = |encoder: &mut BlockEncoder| {
        let Some(block) = encoder.block() else { return };
        let mut buffer = [0; frame::MAX_PLAIN];
        let plain = frame::encode_plain(&FromGauge::Block(block), &mut buffer);
        frames.push(plain.expect("it fits").to_vec());
        encoder.clear();
    };
    let forces = force_n(HOUR).into_iter();
    let several = usize::try_from(1_000 / every_us).expect("no slower than a thousand a second");
    let forces = forces.flat_map(|force| std::iter::repeat_n(force, several));
    for (number, force) in (0_u64..).zip(forces) {
        #[expect(clippy::cast_possible_truncation)]
        let taken = Taken {
            boot: 1,
            number,
            at_us: 1_000_000 + every_us * number,
            force: Some((100.0 * force).round() as i32),
            displacement: None,
            faults: Faults(0),
        };
        if !encoder.push(&taken) {
            send(&mut encoder);
            assert!(encoder.push(&taken), "an empty block takes it");
        }
    }
    send(&mut encoder);
    frames
}

/// By the project's own functions, as the program calls them.
fn decoded(stuffed: &[u8], calibration: &CalibrationRecord) -> Vec<f64> {
    let mut forces = Vec::with_capacity(HOUR);
    let mut buffer = [0; frame::MAX_FRAME];
    for between in stuffed
        .split(|byte| *byte == 0)
        .filter(|bytes| !bytes.is_empty())
    {
        let buffer = &mut buffer[..between.len()];
        buffer.copy_from_slice(between);
        if let Ok(FromGauge::Block(told)) = frame::decode_frame(buffer) {
            let samples = block::decode(&told).expect("a whole block");
            let counts = samples.filter_map(|sample| sample.force);
            forces.extend(counts.map(|counts| quantity(calibration, counts)));
        }
    }
    forces
}

fn recorded(plain: &[Vec<u8>], calibration: &CalibrationRecord) -> ForceRecord {
    let mut builder = ForceBuilder::new(calibration.clone(), 1);
    let mut record = ForceRecord::default();
    for frame in plain {
        for piece in builder.take(&RawFrame(frame.clone())) {
            match piece {
                Piece::Sample(sample) => record.push(sample).expect("times grow"),
                Piece::Span(span) => record.mark(span),
                Piece::Travel(_) => unreachable!("no tip is streamed"),
            }
        }
    }
    record
}

/// The same forces by loops that know that every frame is a sound block of force alone.
fn undone(stuffed: &[u8], calibration: &CalibrationRecord) -> Vec<f64> {
    let table = crc_table();
    let [_, slope, _, _] = calibration.coefficients;
    let mut forces = Vec::with_capacity(HOUR);
    let mut plain = Vec::with_capacity(frame::MAX_PLAIN);
    let mut at = 0;
    while at < stuffed.len() {
        plain.clear();
        loop {
            let code = usize::from(stuffed[at]);
            if code == 0 {
                at += 1;
                break;
            }
            plain.extend_from_slice(&stuffed[at + 1..at + code]);
            at += code;
            if code < 255 && stuffed[at] != 0 {
                plain.push(0);
            }
        }
        let (body, sent) = plain.split_at(plain.len() - 4);
        let crc = body.iter().fold(u32::MAX, |crc, byte| {
            table[usize::from(crc.to_le_bytes()[0] ^ byte)] ^ (crc >> 8)
        });
        assert_eq!((!crc).to_le_bytes(), sent, "a sound frame");
        let mut rest = body;
        // What it is, boot, first sample, two stamps.
        for _ in 0..5 {
            varint(&mut rest);
        }
        let count = rest[0];
        // How many, two channels, faults, length of the data.
        rest = &rest[3..];
        varint(&mut rest);
        varint(&mut rest);
        let mut counts = 0_i32;
        for _ in 0..count {
            let zigzag = varint(&mut rest);
            #[expect(clippy::cast_possible_truncation)]
            let difference = (zigzag >> 1) as i32 ^ -((zigzag & 1) as i32);
            counts = counts.wrapping_add(difference);
            forces.push(slope * f64::from(counts));
        }
    }
    forces
}

fn varint(rest: &mut &[u8]) -> u64 {
    let (mut value, mut shift) = (0_u64, 0);
    loop {
        let byte = rest[0];
        *rest = &rest[1..];
        value |= u64::from(byte & 0x7f) << shift;
        if byte < 0x80 {
            return value;
        }
        shift += 7;
    }
}

/// CRC-32 as of Ethernet and zip files, reflected, a byte at a time.
fn crc_table() -> [u32; 256] {
    let mut table = [0; 256];
    for (byte, entry) in (0_u32..).zip(&mut table) {
        *entry = (0..8).fold(byte, |crc, _| (crc >> 1) ^ (0xedb8_8320 * (crc & 1)));
    }
    table
}

/// Clamps and statistics of a million samples: beside reading them once.
fn analysis(runs: usize) {
    let forces = force_n(MILLION);
    let times: Vec<f64> = (0..MILLION).map(|sample| sample as f64 / 1_000.0).collect();
    let record = ForceRecord::new(&times, &forces).expect("a sound record");
    let setup = GripSetup::default();
    side_by_side(
        runs,
        vec![
            (
                "clamps and statistics of a million samples",
                Box::new(|| timed(|| grip::analyse(&record, &setup).expect("clamps"))),
            ),
            (
                "reading them once",
                Box::new(|| timed(|| forces.iter().sum::<f64>() + times.iter().sum::<f64>())),
            ),
        ],
    );
}

/// What a person waits for.
fn rest(bench: &Bench, runs: usize) {
    let run =
        |line: &'static str| move || timed(|| finish(&mut bench.command(line.split_whitespace())));
    let nothing = || timed(|| Command::new("true").status());
    side_by_side(
        runs * 4,
        vec![
            (
                "start of the program (--version)",
                Box::new(run("--version")),
            ),
            ("a program that does nothing", Box::new(nothing)),
        ],
    );
    bench.line("rehearse --book yard.holdtrue").exits(0);
    for (what, line) in [
        (
            "page of a visit as HTML",
            "report --book yard.holdtrue --overwrite --html page.html",
        ),
        (
            "overview of a book with one spindle",
            "overview --book yard.holdtrue",
        ),
        (
            "a rehearsal: forty minutes of clamps and turns",
            "rehearse --book again.holdtrue",
        ),
        ("recheck of it", "recheck --book yard.holdtrue"),
        (
            "page of a visit as PDF",
            "report --book yard.holdtrue --overwrite --pdf page.pdf",
        ),
        (
            "merge of a book that is merged already",
            "book merge yard.holdtrue --book again.holdtrue",
        ),
    ] {
        side_by_side(
            runs,
            vec![
                (what, Box::new(run(line))),
                ("start of the program", Box::new(run("--version"))),
            ],
        );
    }
}

/// A company's book at once; more spindles with `overview_speed`.
fn overview(program: &Path, runs: usize) {
    let bench = Bench::new(program.display().to_string().leak());
    many_spindles::enter(&bench);
    many_spindles::multiply(&bench, SPINDLES);
    let start = || timed(|| finish(&mut bench.command(["--version"])));
    let words = ["--book", "yard.holdtrue", "trend", "--spindle", "Centre 1"];
    let trend = || timed(|| finish(&mut bench.command(words)));
    side_by_side(
        runs,
        vec![
            (
                "overview of 500 spindles of 20 visits",
                Box::new(|| many_spindles::overview(&bench, SPINDLES)),
            ),
            ("start of the program", Box::new(start)),
        ],
    );
    side_by_side(
        runs,
        vec![
            ("trend of one of them", Box::new(trend)),
            ("start of the program", Box::new(start)),
        ],
    );
}

const SPINDLES: usize = 500;

/// What the program takes of a core while a gauge streams a thousand samples a second.
#[cfg(target_os = "linux")]
mod screen_at_work {
    use super::TICKS_PER_S;
    use holdtrue_tests::bench::Bench;
    use holdtrue_tests::port::Port;
    use holdtrue_tests::screen::Terminal;
    use std::thread::sleep;
    use std::time::Duration;

    /// Clamps are led meanwhile, as at a machine.
    const SECONDS: u64 = 30;
    /// The live screen beside plain lines.
    pub fn table(bench: &Bench) {
        let small = percent(bench, "", (80, 24));
        let large = percent(bench, "", (200, 60));
        let lines = percent(bench, "--plain", (80, 24));
        for (size, screen) in [("80 × 24", small), ("200 × 60", large)] {
            println!(
                "| live screen {size} at 1 kHz | {screen:.1} % of a core | plain lines | {lines:.1} % | {:.1} |",
                screen / lines
            );
        }
    }

    fn percent(bench: &Bench, option: &str, (columns, rows): (u16, u16)) -> f64 {
        let port = Port::offer(bench, "--pace 1");
        let line = format!(
            "grip --gauge {} --yes --quiet --new --clamps 9 --book at-work.holdtrue {option}",
            port.path
        );
        let mut command = bench.on_screen(&line);
        let mut terminal = Terminal::start(&mut command, columns, rows);
        terminal.until(match option {
            "" => "Clamp when you are ready",
            _ => "clamp now",
        });
        let before = ticks(terminal.id());
        sleep(Duration::from_secs(SECONDS));
        let taken = ticks(terminal.id()) - before;
        100.0 * taken / TICKS_PER_S / SECONDS as f64
    }

    /// Time of the processor so far: fields 14 and 15 of what Linux tells, counted behind the name in brackets.
    fn ticks(id: u32) -> f64 {
        let told = std::fs::read_to_string(format!("/proc/{id}/stat")).expect("it runs");
        let (_, fields) = told.rsplit_once(')').expect("its name in brackets");
        let taken = fields.split_whitespace().skip(11).take(2);
        taken
            .map(|field| field.parse::<f64>().expect("a number"))
            .sum()
    }
}
