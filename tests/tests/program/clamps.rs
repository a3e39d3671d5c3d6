//! `grip --from` on records that are easily read wrong: the right forces with the right word, or no plain "within limit".

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::records::{Rise, Row, Written};
use serde_json::Value;

const FIVE: [f64; 5] = [10_000.0, 10_050.0, 9_980.0, 10_020.0, 9_960.0];

/// What must come of a record.
enum Expected {
    /// These forces count, within this share; where a word is given, it is said.
    Reads(Vec<f64>, f64, Option<&'static str>),
    /// The same, and the clamps listed besides are so many.
    Lists(Vec<f64>, f64, usize),
    /// It is not within limit, and this word is said.
    NotWithin(&'static str),
    /// It cannot be used, and this word is said.
    Refused(&'static str),
}

use Expected::{Lists, NotWithin, Reads, Refused};

struct Case {
    name: String,
    csv: String,
    expected: Expected,
}

fn case(name: impl Into<String>, record: &Written, expected: Expected) -> Case {
    Case {
        name: name.into(),
        csv: record.csv("force_n", 1.0),
        expected,
    }
}

fn five() -> Row {
    Row::of(&FIVE)
}

fn reads(says: Option<&'static str>) -> Expected {
    Reads(FIVE.to_vec(), 0.003, says)
}

/// Every word of the answer a person may read.
fn said(run: &Run, document: &Value) -> String {
    let mut words = run.messages.to_lowercase();
    let clamps = document["clamps"].as_array().into_iter().flatten();
    let notes = clamps.map(|clamp| &clamp["notes"]);
    for value in notes.chain([
        &document["notes"],
        &document["verdict"]["reasons"],
        &document["error"]["message"],
    ]) {
        words.push_str(&value.to_string().to_lowercase());
    }
    words
}

#[track_caller]
fn hold_to(bench: &Bench, case: &Case) {
    bench.file("record.csv", &case.csv);
    let run = bench.line(
        "grip --from record.csv --json --uncertainty-percent 0.5 --limit-n 5000 --interface BT40",
    );
    let document = run.json();
    let words = said(&run, &document);
    let name = &case.name;
    let says = |word: &str| {
        assert!(
            words.contains(word),
            "{name}: \"{word}\" is not said\n{run}"
        )
    };
    match &case.expected {
        Refused(word) => {
            assert_eq!(run.code, 4, "{name}\n{run}");
            says(word);
        }
        NotWithin(word) => {
            assert!(
                [1, 3].contains(&run.code),
                "{name}: exit {}\n{run}",
                run.code
            );
            says(word);
        }
        Reads(forces_n, share, word) => {
            right(name, &run, &document, forces_n, *share);
            if let Some(word) = word {
                says(word);
            }
        }
        Lists(forces_n, share, listed) => {
            right(name, &run, &document, forces_n, *share);
            let clamps = document["clamps"].as_array().map_or(0, Vec::len);
            assert_eq!(clamps, *listed, "{name}\n{run}");
        }
    }
}

#[track_caller]
fn right(name: &str, run: &Run, document: &Value, forces_n: &[f64], share: f64) {
    assert!(
        [0, 1, 3].contains(&run.code),
        "{name}: exit {}\n{run}",
        run.code
    );
    let clamps = document["clamps"].as_array().expect("clamps");
    let counted = clamps.iter().filter(|clamp| clamp["counted"] == true);
    let found: Vec<f64> = counted
        .filter_map(|clamp| clamp["settled_n"].as_f64())
        .collect();
    let near = |(found, truth): (&f64, &f64)| (found - truth).abs() <= share * truth;
    assert!(
        found.len() == forces_n.len() && found.iter().zip(forces_n).all(near),
        "{name}: {found:?} for {forces_n:?}\n{run}"
    );
}

/// Pauses of [`five`] but the first and, if so told, the last.
const BETWEEN: [usize; 4] = [1, 2, 3, 4];

fn zeros() -> Vec<Case> {
    let mut cases = Vec::new();
    for push_n in [150.0, 300.0, 450.0, 480.0, 800.0, 1_500.0, 3_000.0] {
        let record = five().record().resting_in(&BETWEEN, |_| push_n);
        cases.push(case(
            format!("resting, {push_n} N"),
            &record,
            reads(Some("zero")),
        ));
    }
    let record = five().record().resting_in(&BETWEEN, |_| 50.0);
    cases.push(case(
        "resting, 50 N",
        &record,
        Reads(FIVE.to_vec(), 0.006, None),
    ));
    for rate_hz in [10.0, 1_000.0] {
        let row = Row { rate_hz, ..five() };
        let record = row.record().resting_in(&BETWEEN, |_| 800.0);
        cases.push(case(
            format!("resting at {rate_hz} Hz"),
            &record,
            Reads(FIVE.to_vec(), 0.005, Some("zero")),
        ));
    }
    let noisy = Row {
        noise_n: 60.0,
        ..five()
    };
    cases.push(case(
        "resting, noisy",
        &noisy.record().resting_in(&BETWEEN, |_| 800.0),
        Reads(FIVE.to_vec(), 0.005, Some("set aside")),
    ));
    let grows = five()
        .record()
        .resting_in(&[1, 2, 3, 4, 5], |number| 200.0 * number as f64);
    cases.push(case(
        "push-out that grows is no drift",
        &grows,
        reads(Some("zero")),
    ));
    let some = five().record().resting_in(&[2, 4], |_| 600.0);
    cases.push(case(
        "resting in two pauses",
        &some,
        reads(Some("4 of 10 zeros set aside")),
    ));
    let at_the_end = Row {
        pause_s: 4.0,
        ..five()
    }
    .record()
    .resting_in(&[0, 1, 2, 3, 4], |_| 800.0);
    cases.push(case(
        "free only at the end",
        &at_the_end,
        reads(Some("zero")),
    ));
    let once = five().record().resting_in(&[0, 1, 2, 4, 5], |_| 800.0);
    cases.push(case("free in one pause only", &once, reads(Some("zero"))));
    for (zero_n, name) in [(500.0, "up"), (-500.0, "down")] {
        let row = Row { zero_n, ..five() };
        let record = row.record().resting_in(&BETWEEN, |_| 800.0);
        cases.push(case(
            format!("resting, an offset {name}"),
            &record,
            reads(Some("zero")),
        ));
    }
    for (push_n, drift_n_per_min) in [(800.0, 0.0), (150.0, 0.0), (800.0, 200.0)] {
        let row = Row {
            drift_n_per_min,
            ..five()
        };
        let record = row.record().resting_in(&[0, 1, 2, 3, 4, 5], |_| push_n);
        cases.push(case(
            format!("never free, {push_n} N"),
            &record,
            NotWithin("free"),
        ));
    }
    let row = Row {
        zero_n: -2_500.0,
        ..five()
    };
    cases.push(case("a zero at -2500 N", &row.record(), reads(None)));
    for (drift_n_per_min, pause_s) in [
        (50.0, 3.0),
        (-500.0, 3.0),
        (-500.0, 1.5),
        (200.0, 6.0),
        (1_000.0, 3.0),
    ] {
        let row = Row {
            zero_n: 120.0,
            drift_n_per_min,
            pause_s,
            ..five()
        };
        cases.push(case(
            format!("drift of {drift_n_per_min} N a minute, pauses of {pause_s} s"),
            &row.record(),
            Reads(FIVE.to_vec(), 0.004, None),
        ));
    }
    for pause_s in [0.3, 0.5, 0.9] {
        let row = Row {
            pause_s,
            lead_s: Some(2.0),
            ..five()
        };
        cases.push(case(
            format!("pauses of {pause_s} s"),
            &row.record(),
            Reads(FIVE.to_vec(), 0.005, None),
        ));
    }
    cases
}

fn signs_and_units() -> Vec<Case> {
    let weak = Row {
        pause_s: 4.0,
        ..Row::of(&[1e4, 6e3, 1e4, 1e4, 1e4])
    };
    let begins_clamped = Row {
        lead_s: Some(0.0),
        ..five()
    };
    let mut cases = vec![
        case(
            "wires exchanged, one clamp weak",
            &weak.record().reversed(),
            Refused("sign"),
        ),
        case(
            "wires exchanged, begins clamped",
            &begins_clamped.record().reversed(),
            Refused("sign"),
        ),
        case(
            "wires exchanged, one clamp",
            &Row::of(&[1e4]).record().reversed(),
            Refused("--as-read"),
        ),
        case(
            "wires exchanged, resting",
            &five().record().resting_in(&BETWEEN, |_| 800.0).reversed(),
            Refused("sign"),
        ),
    ];
    // Push-outs are stronger than the clamps: exchanged, they look like clamps, and the clamps like a gauge that rests.
    for (grips_n, pushes_n) in [(9e3, 10.5e3), (6e3, 12e3), (10e3, 13e3)] {
        let record = Row::of(&[grips_n; 5]).record();
        cases.push(case(
            format!("wires exchanged, {grips_n} N, pushed out with {pushes_n} N"),
            &record.resting_in(&BETWEEN, |_| pushes_n).reversed(),
            NotWithin("push-outs"),
        ));
    }
    for (header, newtons) in [("force_kn", 1_000.0), ("force_lbf", 4.448_221_615_260_5)] {
        let mut of_unit = case(header, &five().record(), reads(None));
        of_unit.csv = five().record().csv(header, newtons);
        cases.push(of_unit);
    }
    cases
}

fn rises() -> Vec<Case> {
    let mut cases = vec![
        case("plain", &five().record(), reads(None)),
        case(
            "a rise of 2 s",
            &Row {
                rise: Rise::Line(2.0),
                hold_s: 6.0,
                ..five()
            }
            .record(),
            reads(None),
        ),
        case(
            "a rise of 20 ms",
            &Row {
                rise: Rise::Line(0.02),
                rate_hz: 1_000.0,
                ..five()
            }
            .record(),
            reads(None),
        ),
    ];
    for (constant_s, says) in [
        (0.3, None),
        (0.35, Some("still rising")),
        (0.5, Some("still rising")),
        (0.7, Some("still rising")),
        (1.0, Some("still rising")),
    ] {
        let row = Row {
            rise: Rise::Slow(constant_s),
            hold_s: 8.0,
            ..five()
        };
        cases.push(case(
            format!("hydraulic, {constant_s} s"),
            &row.record(),
            Reads(row.settled_of_slow_n(constant_s), 0.004, says),
        ));
    }
    cases
}

fn spikes_and_bumps() -> Vec<Case> {
    let fine = || {
        Row {
            rate_hz: 1_000.0,
            ..five()
        }
        .record()
    };
    let exact = |says| Reads(FIVE.to_vec(), 0.0015, Some(says));
    let rise_s = fine().spans[1].0;
    let mut cases = vec![
        case(
            "spikes of one sample",
            &fine().spiked(0.9, 1, 15_000.0),
            exact("spike"),
        ),
        case(
            "spikes of two samples",
            &fine().spiked(1.3, 2, 50_000.0),
            exact("spike"),
        ),
        case(
            "spikes at 100 Hz",
            &Row {
                rate_hz: 100.0,
                ..five()
            }
            .record()
            .spiked(0.9, 1, 30_000.0),
            exact("spike"),
        ),
        case(
            "one spike in a zero",
            &fine().spike_at(rise_s - 0.4, 60_000.0),
            exact("spike"),
        ),
        case(
            "one spike before the window",
            &fine().spike_at(rise_s + 0.5, 60_000.0),
            exact("spike"),
        ),
        case(
            "one spike in the rise",
            &fine().spike_at(rise_s + 0.05, 60_000.0),
            exact("spike"),
        ),
        case(
            "knocks of 24 ms",
            &fine().in_each(2.0, 0.024, 5_000.0),
            Reads(FIVE.to_vec(), 0.0015, None),
        ),
    ];
    for (after_s, length_s, force_n) in [
        (1.0, 0.2, 3_000.0),
        (1.05, 0.3, -3_000.0),
        (2.7, 0.3, 2_000.0),
        (2.0, 0.35, 500.0),
    ] {
        let record = five().record().in_each(after_s, length_s, force_n);
        cases.push(case(
            format!("bumped at {after_s} s"),
            &record,
            Reads(FIVE.to_vec(), 0.002, Some("bumped, that part left out")),
        ));
    }
    cases
}

fn falls_and_releases() -> Vec<Case> {
    let two = |share: f64, length_s: f64| {
        let again_s = 8.0 + length_s;
        let steps = [
            (3.0, 8.0, 1e4),
            (8.0, again_s, 1e4 * share),
            (again_s, again_s + 4.5, 9_900.0),
        ];
        Written::steps(200.0, again_s + 7.5, &steps)
    };
    let mut cases = Vec::new();
    for length_s in [0.3, 1.5] {
        for share in [0.0, 0.02, 0.04, 0.05, 0.057] {
            cases.push(case(
                format!("down to {share} for {length_s} s"),
                &two(share, length_s),
                Reads(vec![1e4, 9_900.0], 0.003, None),
            ));
        }
        for share in [0.065, 0.15, 0.4, 0.6, 0.9, 0.95] {
            cases.push(case(
                format!("down to {share} for {length_s} s"),
                &two(share, length_s),
                Reads(vec![1e4], 0.003, Some("fall")),
            ));
        }
    }
    let two_steps = five().record().instead_after(0.6, 3_000.0);
    cases.push(case("a release in two steps", &two_steps, reads(None)));
    let late = five().record().instead_after(0.6, 6_500.0);
    cases.push(case(
        "a release in two steps, the first above half",
        &late,
        reads(None),
    ));
    cases
}

fn weak_few_and_noisy() -> Vec<Case> {
    let of = |levels_n: &[f64], share: f64| {
        case(
            format!("{levels_n:?}"),
            &Row::of(levels_n).record(),
            Reads(levels_n.to_vec(), share, None),
        )
    };
    let mut cases = vec![
        of(&[1e4, 3e3, 1e4, 9_990.0, 10_010.0], 0.003),
        of(&[1e4, 700.0, 1e4], 0.01),
        of(&[1e4, 1e4, 900.0], 0.01),
        of(&[1_500.0, 1e4, 1e4], 0.005),
        of(&[2e4, 2.01e4, 1.99e4], 0.003),
        case(
            "clamps of 200 N",
            &Row {
                noise_n: 3.0,
                ..Row::of(&[200.0, 205.0, 198.0])
            }
            .record(),
            Reads(vec![200.0, 205.0, 198.0], 0.02, None),
        ),
        case(
            "noise of 300 N",
            &Row {
                noise_n: 300.0,
                rate_hz: 500.0,
                ..five()
            }
            .record(),
            Reads(FIVE.to_vec(), 0.012, None),
        ),
        case(
            "a sag is no bump",
            &Row {
                sag_n_per_s: 20.0,
                ..five()
            }
            .record(),
            Reads(
                FIVE.map(|level_n| level_n - 20.0 * 2.05).to_vec(),
                0.002,
                None,
            ),
        ),
        case(
            "begins clamped",
            &Row {
                lead_s: Some(0.0),
                ..Row::of(&[1e4, 10_010.0, 9_990.0])
            }
            .record(),
            Lists(vec![10_010.0, 9_990.0], 0.003, 3),
        ),
        case(
            "holds of 1.6 s at 10 Hz",
            &Row {
                rate_hz: 10.0,
                hold_s: 1.6,
                ..five()
            }
            .record(),
            NotWithin("few samples"),
        ),
    ];
    for rate_hz in [1.0, 2.0, 4.0] {
        let row = Row {
            rate_hz,
            hold_s: 8.0,
            pause_s: 6.0,
            ..five()
        };
        cases.push(case(
            format!("{rate_hz} Hz"),
            &row.record(),
            NotWithin("few samples"),
        ));
    }
    for rate_hz in [8.0, 10.0, 40.0, 333.0, 2_000.0] {
        let row = Row { rate_hz, ..five() };
        cases.push(case(
            format!("{rate_hz} Hz"),
            &row.record(),
            Reads(FIVE.to_vec(), 0.006, None),
        ));
    }
    cases
}

#[test]
fn records_that_are_easily_read_wrong_are_read_right_or_asked_about() {
    let bench = bench!();
    let all = [
        zeros(),
        signs_and_units(),
        rises(),
        spikes_and_bumps(),
        falls_and_releases(),
        weak_few_and_noisy(),
    ];
    for case in all.iter().flatten() {
        hold_to(&bench, case);
    }
}

#[test]
fn a_question_is_answered_by_as_read_and_the_result_is_marked() {
    let bench = bench!();
    let never_free = five().record().resting_in(&[0, 1, 2, 3, 4, 5], |_| 800.0);
    bench.file("record.csv", never_free.csv("force_n", 1.0));
    let line = "grip --from record.csv --json --uncertainty-percent 0.5 --limit-n 7000";
    bench.line(line).exits(3);
    let answered = bench.line(&format!("{line} --as-read")).exits(0);
    assert!(
        answered.json()["notes"].to_string().contains("--as-read"),
        "{answered}"
    );
    // Clamps like rests, and push-outs like clamps: somebody was there and says that they are clamps.
    let like_exchanged = five().record().resting_in(&BETWEEN, |_| 6_000.0);
    bench.file("record.csv", like_exchanged.csv("force_n", 1.0));
    bench.line(line).exits(3);
    let answered = bench.line(&format!("{line} --as-read")).exits(0);
    let notes = answered.json()["notes"].to_string();
    assert!(
        notes.contains("taken as read (--as-read): between the clamps"),
        "{answered}"
    );
    bench.file("record.csv", five().record().reversed().csv("force_n", 1.0));
    let refused = bench.line(line).exits(4);
    assert!(refused.messages.contains("sign reversed?"), "{refused}");
    // Read all the same, and within no limit by it: free it reads 0.
    for limit in ["--limit-n 7000", "--limit-n 20000"] {
        let line = line.replace("--limit-n 7000", limit);
        let read = bench.line(&format!("{line} --as-read")).exits(3);
        let document = read.json();
        let reasons = document["verdict"]["reasons"].to_string();
        assert!(reasons.contains("its sign is reversed"), "{read}");
        let notes = document["notes"].to_string();
        assert!(
            notes.contains("taken as read (--as-read): half-way"),
            "{read}"
        );
    }
    // A gauge whose zero is far off reads below zero all the same: that can be meant.
    let off = five().record().csv("force_n", 1.0);
    let off: String = off
        .lines()
        .map(|row| match row.split_once(',') {
            Some((time, force)) => force.parse().map_or_else(
                |_| format!("{row}\n"),
                |n: f64| format!("{time},{:.3}\n", n - 12_000.0),
            ),
            None => format!("{row}\n"),
        })
        .collect();
    bench.file("record.csv", off);
    bench.line(line).exits(4);
    bench.line(&format!("{line} --as-read")).exits(0);
}

/// A record whose pauses lift every clamp by 800 N is outside its limit only by the free level at its beginning.
#[test]
fn nothing_is_rejected_that_would_not_be_by_the_zeros_set_aside() {
    let bench = bench!();
    let resting = five().record().resting_in(&BETWEEN, |_| 800.0);
    bench.file("record.csv", resting.csv("force_n", 1.0));
    let judged = |limit_n: u32, code: i32| {
        let line =
            format!("grip --from record.csv --json --uncertainty-percent 0.5 --limit-n {limit_n}");
        bench.line(&line).exits(code).json()
    };
    let doubtful = judged(10_500, 3);
    assert!(
        doubtful["verdict"]["reasons"]
            .to_string()
            .contains("zeros set aside"),
        "{doubtful:#}"
    );
    judged(11_500, 1);
}

#[test]
fn spikes_bumps_and_falls_are_in_no_peak_and_no_drop() {
    let bench = bench!();
    let fine = || {
        Row {
            rate_hz: 500.0,
            sag_n_per_s: 5.0,
            hold_s: 8.0,
            ..five()
        }
        .record()
    };
    let records = [
        fine().spiked(0.9, 1, 60_000.0),
        fine().in_each(1.1, 0.2, 2_000.0),
        fine().in_each(6.5, 0.3, -3_000.0),
        fine().in_each(4.0, 1.2, -3_000.0),
    ];
    for (number, record) in records.iter().enumerate() {
        bench.file("record.csv", record.csv("force_n", 1.0));
        let run = bench.line("grip --from record.csv --json").exits(0);
        let document = run.json();
        for clamp in document["clamps"].as_array().expect("clamps") {
            let sag = clamp["sag_n_per_s"].as_f64().expect("a drop");
            assert!((sag - 5.0).abs() < 1.0, "record {number}: {sag} N/s\n{run}");
            let peak = clamp["peak_n"].as_f64().expect("a peak");
            assert!(peak < 13_000.0, "record {number}: {peak} N\n{run}");
        }
    }
}

/// The same clamps, asked for one by one: the record ends 1.5 s after the last of them, on every path.
#[test]
fn a_record_cut_to_its_clamps_is_the_record_that_ends_there() {
    let bench = bench!();
    for pause_s in [0.6, 3.0] {
        let record = Row {
            pause_s,
            lead_s: Some(2.0),
            ..five()
        }
        .record();
        bench.file("whole.csv", record.csv("force_n", 1.0));
        let mut cut = bench
            .line("grip --from whole.csv --json --clamps 3")
            .exits(0)
            .json();
        // What the whole file holds more is all that is said besides.
        for notes in ["notes", "note_values"] {
            let first = cut[notes].as_array_mut().map(|notes| notes.remove(0));
            let first = first.unwrap_or_default().to_string();
            assert!(
                first.contains("goes on") || first.contains("goes-on"),
                "{first}"
            );
        }
        let clamps = cut["clamps"].as_array().expect("clamps");
        let third = clamps
            .iter()
            .filter(|clamp| clamp["counted"] == true)
            .nth(2);
        let released_s = third
            .and_then(|clamp| clamp["released_s"].as_f64())
            .expect("a release");
        let last = record
            .time_s
            .partition_point(|&time_s| time_s < released_s + 1.5)
            + 1;
        let by_hand = Written {
            time_s: record.time_s[..last].to_vec(),
            force_n: record.force_n[..last].to_vec(),
            spans: Vec::new(),
        };
        bench.file("cut.csv", by_hand.csv("force_n", 1.0));
        let plain = bench.line("grip --from cut.csv --json").exits(0).json();
        assert_eq!(cut, plain);
    }
}
