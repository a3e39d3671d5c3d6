//! A gauge calibrated in a press and on gauge blocks, led step by step.

use holdtrue_simulated_gauge::world::press::Hands;
use holdtrue_simulated_gauge::{Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{Measuring, OwnPort, Port};
use holdtrue_tests::schema::differences;
use holdtrue_tests::screen::Terminal;
use rustix::process::Signal;
use serde_json::Value;
use std::thread::sleep;
use std::time::Duration;

const LOADS: &str = "2500,5000,7500,10000,12500,15000,17500,20000";
const NAMED: &str = "--certificate TP-C31 --laboratory Tern-Point --date 2024-03-02 --due 2095-03-02 --rated-n 25000";

/// A gauge in somebody's hands, twenty-five times as fast as they are: what they set it to stands there before they say so.
fn in_hands(hands: &Hands) -> OwnPort {
    OwnPort::at_pace(
        Setup {
            hands: Some(hands.clone()),
            ..Setup::new(7, Condition::Sound)
        },
        25.0,
    )
}

/// Reads "12 of 40  Run 1 at 0°: up to 5.00 kN, and hold": number and what the press is to be set to, N.
fn asked(line: &str) -> Option<(u32, f64)> {
    let (number, rest) = line.split_once(" of ")?;
    let number = number.trim().parse().ok()?;
    if rest.contains("gauge free") {
        return Some((number, 0.0));
    }
    let words: Vec<&str> = rest.split_whitespace().collect();
    let unit = words.iter().position(|word| word.starts_with("kN"))?;
    let kilonewton: f64 = words[unit - 1].parse().ok()?;
    Some((number, 1000.0 * kilonewton))
}

/// Does what the screen asks until reading `last` is kept.
fn follow(run: &mut Measuring, hands: &Hands, last: u32) {
    while do_next(run, hands) < last {
        kept(run);
    }
    kept(run);
}

/// Waits until a reading is kept. On a busy computer the press may still follow while it is read: said again, it is taken.
fn kept(run: &mut Measuring) {
    loop {
        run.until(" read");
        if run
            .told
            .lines()
            .last()
            .is_some_and(|line| line.contains("kept:"))
        {
            return;
        }
        sleep(Duration::from_millis(150));
        run.types("");
    }
}

/// Does what the screen asks next; the reading's number.
fn do_next(run: &mut Measuring, hands: &Hands) -> u32 {
    loop {
        run.until(" of ");
        let line = run.told.lines().last().unwrap_or_default().to_owned();
        let Some((number, load_n)) = asked(&line) else {
            continue;
        };
        hands.load(load_n);
        // A second and a half of the gauge's: the press follows.
        sleep(Duration::from_millis(150));
        run.types("");
        return number;
    }
}

fn press(bench: &Bench, port: &OwnPort, more: &str) -> Measuring {
    let line = format!(
        "gauge calibrate --gauge {} --loads-n {LOADS} --own-knob --reference-percent 0.05 {NAMED} --book yard.holdtrue --json --yes {more}",
        port.path
    );
    Measuring::start(&mut bench.command(line.split_whitespace()))
}

#[test]
fn the_press_gives_what_its_table_gives_and_the_gauge_carries_it() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let mut run = press(&bench, &port, "--keep press.csv");
    // A zero and 3 preloads; four runs of 17 readings and 2 turns, each with a preload: 1 + 3 + 4·17 + 2.
    follow(&mut run, &hands, 74);
    let run = run.end().exits(0);
    let document = run.json();
    let schema = bench.line("schema gauge-calibrate").exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    let again = bench
        .line("gauge calibrate --from press.csv --own-knob --reference-percent 0.05 --json")
        .exits(0)
        .json();
    for figure in [
        "curve",
        "inverse",
        "errors",
        "expanded_percent",
        "expanded_n",
        "class",
        "missing",
        "budget",
    ] {
        assert_eq!(document[figure], again[figure], "{figure}");
    }
    assert_eq!(document["missing"], Value::Array(vec![]), "{document:#}");
    assert!(document["class"].is_string(), "{document:#}");
    assert_eq!(document["kept"], "press.csv");
    // What the gauge now carries is this calibration, and a force read with it is the press's within the slope the
    // simulated cell is off by.
    let info = bench
        .line(&format!("gauge info --gauge {} --json", port.path))
        .exits(0)
        .json();
    assert_eq!(info["calibration"]["certificate"], "TP-C31");
    assert_eq!(
        info["calibration"]["id"],
        document["written"]["after"]["id"]
    );
    let kept = std::fs::read_to_string(bench.path("press.csv")).expect("the table");
    assert!(
        kept.contains("# gauge TP-0031") && kept.contains("by flag"),
        "{kept}"
    );
    grip_reads_the_press(&bench, &port, &hands, 9_000.0);
}

/// Three clamps of a press that pulls as much as its reference says.
fn grip_reads_the_press(bench: &Bench, port: &OwnPort, hands: &Hands, pull_n: f64) {
    hands.load(0.0);
    let line = format!(
        "grip --gauge {} --clamps 3 --book yard.holdtrue --json --yes",
        port.path
    );
    let mut run = Measuring::start(&mut bench.command(line.split_whitespace()));
    for number in 1..=3 {
        run.until(&format!("Clamp {number} of 3"));
        hands.load(pull_n);
        run.until("unclamp");
        hands.load(0.0);
        run.until(&format!("clamp {number}:"));
    }
    let run = run.end().exits(0).tells("calibration TP-C31");
    let mean_n = run.json()["statistics"]["mean_n"].as_f64().expect("a mean");
    // The reference is good to 0.05 %; the rest is the cell's creep and its zero.
    assert!((mean_n / pull_n - 1.0).abs() < 0.001, "{mean_n} N");
    crate::is_sound(bench);
}

#[test]
fn a_calibration_broken_off_goes_on_with_the_reading_it_lacked() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let few = "--keep press.csv --preloads 1 --positions-deg 0 --up-only";
    let mut run = press(&bench, &port, few);
    follow(&mut run, &hands, 5);
    run.types("b");
    run.until("is taken back");
    run.signal("INT");
    run.end().exits(130).tells("--keep press.csv goes on there");
    let kept = std::fs::read_to_string(bench.path("press.csv")).expect("the table");
    assert_eq!(rows(&kept), 1 + 4, "{kept}");
    assert!(kept.contains("# taken back: 1,up,5000"), "{kept}");
    // begun with other options, it is not gone on with
    for (other, found) in [
        (
            "--keep press.csv --preloads 3 --positions-deg 0 --up-only",
            "begun with preloads 1",
        ),
        (
            "--keep press.csv --preloads 1 --positions-deg 90 --up-only",
            "begun with positions 0",
        ),
        (
            "--keep press.csv --preloads 1 --positions-deg 0",
            "begun with directions up",
        ),
        (
            "--keep press.csv --preloads 1 --positions-deg 0 --up-only --dwell-s 10",
            "begun with dwell 30",
        ),
    ] {
        press(&bench, &port, other)
            .end()
            .exits(4)
            .tells("press.csv")
            .tells(found);
    }
    // one that somebody made without remarks is held to the plan by its rows
    let bare: Vec<&str> = kept.lines().filter(|line| !line.starts_with('#')).collect();
    bench.file("bare.csv", bare.join("\n") + "\n");
    press(&bench, &port, "--keep bare.csv --preloads 3")
        .end()
        .exits(4)
        .tells("reading 3 taken for something else");
    bench.file("blocks.csv", "run,direction,step_um,reading_um\n");
    press(&bench, &port, "--keep blocks.csv")
        .end()
        .exits(4)
        .tells("blocks.csv, line 1")
        .tells("the header of a table begun here");
    // The cable is pulled while a preload or a load stands there: what was kept is on the disk.
    let mut run = press(&bench, &port, few);
    run.until("4 of 22 readings are in press.csv");
    follow(&mut run, &hands, 6);
    drop(port);
    let run = run.end().exits(5).tells("--keep press.csv goes on there");
    assert_eq!(run.json()["error"]["code"], 5);
    let kept = std::fs::read_to_string(bench.path("press.csv")).expect("the table");
    assert_eq!(rows(&kept), 1 + 6, "{kept}");
    let other = OwnPort::of(Setup {
        hands: Some(hands.clone()),
        serial: "TP-0032",
        ..Setup::new(7, Condition::Sound)
    });
    press(&bench, &other, few)
        .end()
        .exits(4)
        .tells("readings of the gauge TP-0031");
    let port = in_hands(&hands);
    let mut run = press(&bench, &port, few);
    run.until("6 of 22 readings are in press.csv");
    follow(&mut run, &hands, 22);
    let document = run.end().exits(0).json();
    assert_eq!(document["class"], Value::Null);
    let missing = document["missing"].to_string();
    assert!(
        missing.contains("three preloads") && missing.contains("three positions"),
        "{missing}"
    );
}

/// Lines of a table that are no remarks, its header among them.
fn rows(table: &str) -> usize {
    table.lines().filter(|line| !line.starts_with('#')).count()
}

#[test]
fn a_load_that_moves_is_no_reading_and_a_wrong_one_is_asked_again() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let mut run = press(&bench, &port, "--preloads 0 --positions-deg 0 --up-only");
    follow(&mut run, &hands, 1);
    run.until("2 of 20");
    run.types("25");
    run.until("expected about 2.50 kN");
    run.until("2 of 20");
    // Enter without a load, by an earlier calibration.
    run.types("");
    run.until("reads as about");
    run.until("2 of 20");
    hands.load(2_500.0);
    hands.sway(8.0);
    sleep(Duration::from_millis(150));
    run.types("2,51");
    run.until("it moved by");
    hands.sway(0.0);
    sleep(Duration::from_millis(150));
    run.types("");
    run.until("kept: 2.51 kN");
    // The load before still on, by its own readings.
    run.until("3 of 20");
    run.types("");
    run.until("reads as about 2.51 kN, asked for was 5.00 kN");
    run.signal("INT");
    run.end().exits(130);
    let name = std::fs::read_dir(bench.folder())
        .expect("the folder")
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .find(|name| name.starts_with("calibration-TP-0031-"));
    let kept = std::fs::read_to_string(bench.path(&name.expect("a table of its own name")));
    assert!(kept.expect("the table").contains("1,up,2510,"));
}

#[test]
fn a_reference_that_shows_more_than_the_rated_load_is_not_taken() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let line = format!(
        "gauge calibrate --gauge {} --loads-n 10000,20000,25000 --preloads 0 --up-only --json --yes",
        port.path
    );
    let mut run = Measuring::start(&mut bench.command(line.split_whitespace()));
    follow(&mut run, &hands, 3);
    run.until("4 of ");
    run.types("25.04");
    run.until("at most the rated load, 25.00 kN");
    run.until("4 of ");
    run.signal("INT");
    run.end().exits(130);
}

#[test]
fn a_load_that_is_not_what_was_asked_for_is_no_zero_and_no_preload() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let mut run = press(&bench, &port, "--keep press.csv --dwell-s 2");
    let mut set = |number: u32, load_n: f64, told: &str| {
        run.until(&format!("{number} of 74"));
        hands.load(load_n);
        sleep(Duration::from_millis(150));
        run.types("");
        run.until(told);
        run.told.lines().last().unwrap_or_default().to_owned()
    };
    // the load still on at the first zero: told by the calibration the gauge carries
    let told = set(1, 5_000.0, "asked for was 0.000 kN");
    assert!(told.contains("Enter again"), "{told}");
    set(1, 0.0, "kept:");
    // half of what a preload is
    set(2, 10_000.0, "asked for was 20.00 kN");
    set(2, 20_000.0, "kept:");
    // from here on by its own readings, however often it is said
    for _ in 0..2 {
        let told = set(3, 10_000.0, "asked for was 20.00 kN");
        assert!(!told.contains("Enter again"), "{told}");
    }
    set(3, 20_000.0, "kept:");
    run.signal("INT");
    run.end().exits(130);
    let kept = std::fs::read_to_string(bench.path("press.csv")).expect("the table");
    assert_eq!(rows(&kept), 1 + 3, "{kept}");
}

#[test]
fn wires_that_are_swapped_are_told_at_the_first_load() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let mut run = press(&bench, &port, "--keep press.csv --dwell-s 5");
    follow(&mut run, &hands, 1);
    run.until("2 of 74");
    // Not loaded yet: told at once, not after the holding.
    run.types("");
    run.until("reads as about");
    run.until("2 of 74");
    hands.load(-20_000.0);
    sleep(Duration::from_millis(150));
    run.types("");
    run.end()
        .exits(5)
        .tells("expected more")
        .tells("signal wires are swapped");
    let info = bench.line(&format!("gauge info --gauge {} --json", port.path));
    assert_eq!(
        info.exits(0).json()["calibration"]["certificate"],
        "TP-F-0117",
        "the gauge keeps what it had"
    );
}

#[test]
fn what_the_record_lacks_is_told_before_the_first_load() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let line = |more: &str| {
        format!(
            "gauge calibrate --gauge {} --loads-n {LOADS} --keep t.csv --yes {more}",
            port.path
        )
    };
    bench
        .line(&line(NAMED))
        .exits(2)
        .tells("--reference-percent");
    let without_due = NAMED.replace("--due 2095-03-02", "");
    bench
        .line(&line(&format!("--reference-percent 0.05 {without_due}")))
        .exits(2)
        .tells("--due");
    let blocks = format!(
        "gauge calibrate --indicator --gauge {} --steps-um 0,100,200 --keep t.csv --yes",
        port.path
    );
    let without_rated = without_due.replace("--rated-n 25000", "");
    bench
        .line(&format!("{blocks} {without_rated} --due 2095-03-02"))
        .exits(2)
        .tells("--blocks-um");
    bench
        .line(&format!("{blocks} {without_rated} --blocks-um 0.2"))
        .exits(2)
        .tells("--due");
    assert!(!bench.path("t.csv").exists());
}

#[test]
fn no_load_goes_on_a_gauge_that_is_not_made_for_it() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let line = |loads: &str, yes: &str| {
        format!(
            "gauge calibrate --gauge {} --loads-n {loads} --keep t.csv {yes}",
            port.path
        )
    };
    bench
        .line(&line("10000,20000,30000", "--yes"))
        .exits(5)
        .tells("rated for 25.00 kN");
    // A rated load typed too high does not undo what the gauge knows of itself.
    bench
        .line(&line("10000,20000,30000", "--yes --rated-n 50000"))
        .exits(5)
        .tells("rated for 25.00 kN");
    bench
        .line(&line("10000,10100,20000", "--yes"))
        .exits(2)
        .tells("400 N between");
    bench
        .line(&line("5000,2500", "--yes"))
        .exits(2)
        .tells("rising");
    bench
        .line(&line("2500,5000,7500", ""))
        .exits(2)
        .shows("guarded")
        .tells("--yes");
    assert!(!bench.path("t.csv").exists());
    bench
        .line(&line("2500,5000,7500", "--yes"))
        .exits(2)
        .tells("nobody is at the keyboard");
}

#[test]
fn the_probe_on_gauge_blocks_gives_what_its_table_gives() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let line = format!(
        "gauge calibrate --indicator --channel probe --gauge {} --steps-um 0,100,200,400 --runs 2 --blocks-um 0.2 --keep blocks.csv \
         {} --travel-um 1000 --book yard.holdtrue --json --yes",
        port.path,
        NAMED.replace("--rated-n 25000", "").replace("C31", "I31")
    );
    let mut run = Measuring::start(&mut bench.command(line.split_whitespace()));
    for number in 1..=14 {
        run.until(&format!("{number} of 14"));
        let line = run.told.lines().last().unwrap_or_default();
        let words: Vec<&str> = line.split_whitespace().collect();
        let unit = words
            .iter()
            .position(|word| word.starts_with("µm"))
            .expect("a height");
        hands.blocks(words[unit - 1].parse().expect("a number"));
        sleep(Duration::from_millis(150));
        run.types("");
        run.until("kept:");
    }
    let run = run.end().exits(0);
    let document = run.json();
    let schema = bench
        .line("schema gauge-calibrate-indicator")
        .exits(0)
        .json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    let again = bench
        .line(&format!(
            "gauge calibrate --indicator --from blocks.csv --blocks-um 0.2 --resolution-um {} --json",
            document["resolution_um"]
        ))
        .exits(0)
        .json();
    for figure in [
        "span_um",
        "steps",
        "error_of_indication_um",
        "hysteresis_um",
        "repeatability_um",
        "budget",
        "expanded_um",
    ] {
        assert_eq!(document[figure], again[figure], "{figure}");
    }
    assert_eq!(document["written"]["after"]["certificate"], "TP-I31");
    let info = bench
        .line(&format!("gauge info --gauge {} --json", port.path))
        .exits(0)
        .json();
    assert_eq!(info["probe_calibration"], document["written"]["after"]);
    assert_eq!(info["indicator_calibration"]["certificate"], "TP-D-0043");
    // The same table for the indicator leaves the probe's record alone.
    let line = format!(
        "gauge calibrate --indicator --from blocks.csv --blocks-um 0.2 --gauge {} {} --travel-um 1000 --book yard.holdtrue --yes",
        port.path,
        NAMED.replace("--rated-n 25000", "").replace("C31", "I32")
    );
    bench.line(&line).exits(0).shows("--channel probe");
    let after = bench
        .line(&format!("gauge info --gauge {} --json", port.path))
        .exits(0)
        .json();
    assert_eq!(after["probe_calibration"], info["probe_calibration"]);
    assert_eq!(after["indicator_calibration"]["certificate"], "TP-I32");
}

#[test]
fn the_wrong_blocks_and_an_indicator_the_wrong_way_round_are_told_at_once() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let line = format!(
        "gauge calibrate --indicator --gauge {} --steps-um 0,100,200,400 --keep blocks.csv --json --yes",
        port.path
    );
    let mut run = Measuring::start(&mut bench.command(line.split_whitespace()));
    let put = |run: &mut Measuring, number: u32, height_um: f64| {
        run.until(&format!("{number} of 21"));
        hands.blocks(height_um);
        sleep(Duration::from_millis(150));
        run.types("");
    };
    put(&mut run, 1, 0.0);
    put(&mut run, 2, 100.0);
    put(&mut run, 3, 400.0);
    run.until("asked for was 200");
    put(&mut run, 3, 200.0);
    put(&mut run, 4, -400.0);
    run.end().exits(5).tells("the wrong way round");
    // nothing loads an indicator
    let mut run = Measuring::start(&mut bench.command(line.split_whitespace()));
    run.until("4 of 21");
    run.signal("INT");
    let run = run.end().exits(130).tells("take the blocks out");
    assert!(!run.told.contains("take the load off"), "{}", run.told);
}

#[test]
fn runout_uses_the_calibration_made_on_blocks() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let mut rows = String::from("run,direction,step_um,reading_um\n");
    for run in 1..=2 {
        for step in [0, 100, 200, 400] {
            rows += &format!("{run},up,{step},{step}.3\n");
        }
    }
    bench.file("blocks.csv", rows);
    let line = format!(
        "gauge calibrate --indicator --channel probe --from blocks.csv --blocks-um 0.2 --gauge {} {} --book yard.holdtrue \
         --json --yes",
        port.path,
        NAMED.replace("--rated-n 25000", "").replace("C31", "I32")
    );
    let found = bench.line(&line).exits(0).json();
    assert_eq!(found["written"]["before"]["certificate"], "TP-D-0042");
    let runout = format!(
        "runout --gauge {} --at wall --height-mm -8 --positions 8 --limit-um 40 --book yard.holdtrue --json --yes",
        port.path
    );
    bench.line(&runout).exits(0).tells("calibration TP-I32");
    crate::is_sound(&bench);
}

/// A calibration of three loads, upward only, at a terminal.
fn few_loads(bench: &Bench, port: &OwnPort, columns: u16, rows: u16) -> Terminal {
    few_loads_on(bench, port, ("TERM", "xterm-256color"), (columns, rows))
}

/// The same on a terminal that is told otherwise.
fn few_loads_on(
    bench: &Bench,
    port: &OwnPort,
    (name, value): (&str, &str),
    (columns, rows): (u16, u16),
) -> Terminal {
    let line = format!(
        "gauge calibrate --gauge {} --loads-n 5000,10000,20000 --positions-deg 0 --up-only --preloads 1 --dwell-s 5 \
         --reference-percent 0.05 --keep press.csv --book yard.holdtrue --yes",
        port.path
    );
    let mut command = bench.on_screen(&line);
    command.env(name, value);
    Terminal::start(&mut command, columns, rows)
}

/// Sets the press for a reading, waits until the screen says that it stands, and presses a key.
#[track_caller]
fn take(terminal: &mut Terminal, hands: &Hands, reading: u32, load_n: f64, key: &[u8]) {
    terminal.until(&format!("reading {reading} of 12"));
    hands.load(load_n);
    // The press follows; only then is the stillness that of this load.
    sleep(Duration::from_millis(200));
    terminal.until("it stands still");
    terminal.presses(key);
}

/// A zero, a preload; twice a zero, three loads and a zero.
const PLAN_N: [f64; 12] = [
    0.0, 20_000.0, 0.0, 5_000.0, 10_000.0, 20_000.0, 0.0, 0.0, 5_000.0, 10_000.0, 20_000.0, 0.0,
];

#[test]
fn the_press_is_led_on_the_live_screen_from_the_first_zero_to_the_result() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let mut terminal = few_loads(&bench, &port, 80, 24);
    let on = |terminal: &mut Terminal, text: &str| terminal.until(text);
    take(&mut terminal, &hands, 1, 0.0, b" ");
    on(&mut terminal, "reading 2 of 12");
    assert!(
        terminal.text().contains("light 1 blink"),
        "{}",
        terminal.text()
    );
    // Nothing was put on: it says so, hatched, and nothing is kept.
    terminal.presses(b"\x1b[6~");
    on(&mut terminal, "The gauge reads as about");
    on(&mut terminal, "light 5 blinks");
    assert!(terminal.text().contains('\u{2592}'), "{}", terminal.text());
    hands.load(20_000.0);
    sleep(Duration::from_millis(200));
    terminal.presses(b" ");
    on(&mut terminal, "Hold it there. It is read at the end.");
    on(&mut terminal, "light 2 blinks");
    take(&mut terminal, &hands, 3, 0.0, b"\r");
    // What the reference shows is typed; a slip is taken back; another unit is told.
    take(&mut terminal, &hands, 4, 5_000.0, b"77");
    on(&mut terminal, "The reference shows 77_");
    terminal.presses(b"\x7f\r");
    on(&mut terminal, "expected about 5.00 kN");
    terminal.presses(b"5,01\r");
    on(&mut terminal, "kept: 5.01 kN");
    // The last one back, and taken again.
    terminal.until("reading 5 of 12");
    terminal.presses(b"\x1b[5~");
    for (reading, load_n) in (1..).zip(PLAN_N).skip(3) {
        take(&mut terminal, &hands, reading, load_n, b" ");
    }
    on(&mut terminal, "From 5.00 kN to 20.00 kN. U (k = 2)");
    assert!(
        terminal.text().contains("% of the load"),
        "{}",
        terminal.text()
    );
    assert!(!terminal.is_given_back());
    // Twelve steps are asked for, and at each a reading, which may be cut short by the next step.
    assert!(terminal.bells() >= 24, "{}", terminal.bells());
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0, "{}", terminal.text());
    assert!(terminal.is_given_back());
    let printed = String::from_utf8_lossy(&terminal.bytes()).into_owned();
    let printed = &printed[printed.rfind("\u{1b}[?1049l").expect("it left its screen")..];
    for line in [
        "the last reading is taken back",
        "12 of 12",
        "counts over N",
    ] {
        assert!(printed.contains(line), "no \"{line}\":\n{printed}");
    }
    let kept = std::fs::read_to_string(bench.path("press.csv")).expect("the table");
    assert_eq!(rows(&kept), 1 + 12, "{kept}");
    assert!(kept.contains("# taken back: 1,up,5010,"), "{kept}");
}

#[test]
fn resized_at_each_step_and_cut_off_in_any_way_a_calibration_keeps_what_was_taken() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let mut taken = 0;
    for stop in ["q", "INT", "HUP", "KILL"] {
        let mut terminal = few_loads(&bench, &port, 80, 24);
        for (columns, rows) in [(200, 60), (30, 10), (100, 30)] {
            terminal.resize(80, 24);
            take(
                &mut terminal,
                &hands,
                taken + 1,
                PLAN_N[taken as usize],
                b" ",
            );
            terminal.resize(columns, rows);
            taken += 1;
            if stop == "KILL" {
                break;
            }
        }
        terminal.resize(80, 24);
        terminal.until(&format!("reading {} of 12", taken + 1));
        match stop {
            "INT" => terminal.signal(Signal::INT),
            "HUP" => terminal.signal(Signal::HUP),
            "KILL" => terminal.signal(Signal::KILL),
            key => terminal.presses(key.as_bytes()),
        }
        let ended = terminal.end();
        if stop == "KILL" {
            assert_eq!(ended, -1);
        } else {
            assert_eq!(ended, 130, "{stop}: {}", terminal.text());
            assert!(terminal.is_given_back(), "{stop}");
        }
        let kept = std::fs::read_to_string(bench.path("press.csv")).expect("the table");
        assert_eq!(rows(&kept), 1 + taken as usize, "{stop}: {kept}");
    }
    let mut terminal = few_loads(&bench, &port, 80, 24);
    for (reading, load_n) in (1..).zip(PLAN_N).skip(taken as usize) {
        take(&mut terminal, &hands, reading, load_n, b" ");
    }
    terminal.until("U (k = 2)");
    terminal.answers(b" ");
    assert_eq!(terminal.end(), 0);
}

#[test]
fn a_terminal_that_can_do_little_leads_a_calibration_all_the_same() {
    let hands = Hands::default();
    let port = in_hands(&hands);
    // Without letters beyond ASCII none is sent.
    let bench = bench!();
    let mut terminal = few_loads_on(&bench, &port, ("LC_ALL", "C"), (80, 24));
    take(&mut terminal, &hands, 1, 0.0, b" ");
    terminal.until("reading 2 of 12");
    terminal.presses(b"q");
    assert_eq!(terminal.end(), 130);
    let bytes = terminal.bytes();
    assert!(bytes.contains(&0x1b) && bytes.is_ascii());
    // Without pictures it asks in lines.
    let bench = bench!();
    let mut terminal = few_loads_on(&bench, &port, ("TERM", "dumb"), (80, 24));
    terminal.until("1 of 12");
    terminal.presses(b"\r");
    terminal.until("kept: 0.000 kN");
    terminal.presses(b"b\r");
    terminal.until("the last reading is taken back");
    terminal.signal(Signal::INT);
    assert_eq!(terminal.end(), 130);
    assert!(!terminal.bytes().contains(&0x1b));
}
