//! A gauge calibrated in a press and on gauge blocks, led step by step.

use holdtrue_simulated_gauge::world::press::Hands;
use holdtrue_simulated_gauge::{Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{Measuring, OwnPort};
use holdtrue_tests::schema::differences;
use serde_json::Value;
use std::thread::sleep;
use std::time::Duration;

const LOADS: &str = "2500,5000,7500,10000,12500,15000,17500,20000";
const NAMED: &str = "--certificate TP-C31 --laboratory Tern-Point --date 2026-11-01 --due 2027-11-01 --rated-n 25000";

fn in_hands(hands: &Hands) -> OwnPort {
    OwnPort::of(Setup {
        hands: Some(hands.clone()),
        ..Setup::new(7, Condition::Sound)
    })
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
    loop {
        run.until(" of ");
        let line = run.told.lines().last().unwrap_or_default().to_owned();
        let Some((number, load_n)) = asked(&line) else {
            continue;
        };
        hands.load(load_n);
        // The gauge's clock runs fast: seconds go by for it.
        sleep(Duration::from_millis(60));
        run.types("");
        run.until("kept:");
        if number == last {
            return;
        }
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
    // 3 preloads; four runs of 17 readings and 2 turns, each with a preload: 3 + 4·17 + 2.
    follow(&mut run, &hands, 73);
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
}

#[test]
fn a_calibration_broken_off_goes_on_with_the_reading_it_lacked() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let few = "--keep press.csv --preloads 1 --positions-deg 0 --up-only";
    let mut run = press(&bench, &port, few);
    follow(&mut run, &hands, 4);
    run.types("b");
    run.until("is taken back");
    run.signal("INT");
    run.end().exits(130).tells("--keep press.csv goes on there");
    let kept = std::fs::read_to_string(bench.path("press.csv")).expect("the table");
    assert_eq!(
        kept.lines().filter(|line| !line.starts_with('#')).count(),
        1 + 3,
        "{kept}"
    );
    assert!(kept.contains("# taken back: 1,up,5000"), "{kept}");
    // begun with other options, it is not gone on with
    press(&bench, &port, "--keep press.csv --preloads 3")
        .end()
        .exits(4)
        .tells("press.csv")
        .tells("reading 2 taken for something else");
    let mut run = press(&bench, &port, few);
    run.until("3 of 21 readings are in press.csv");
    follow(&mut run, &hands, 21);
    run.end().exits(0);
}

#[test]
fn a_load_that_moves_is_no_reading_and_a_mistyped_one_is_asked_again() {
    let bench = bench!();
    let hands = Hands::default();
    let port = in_hands(&hands);
    let mut run = press(&bench, &port, "--preloads 0 --positions-deg 0 --up-only");
    follow(&mut run, &hands, 1);
    run.until("2 of 20");
    run.types("25");
    run.until("expected about 2.50 kN");
    run.until("2 of 20");
    hands.load(2_500.0);
    sleep(Duration::from_millis(60));
    run.types("2,51");
    run.until("kept: 2.51 kN");
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
        "gauge calibrate --indicator --gauge {} --steps-um 0,100,200,400 --runs 2 --blocks-um 0.2 --keep blocks.csv \
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
        sleep(Duration::from_millis(60));
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
        "errors_um",
        "hysteresis_um",
        "repeatability_um",
        "expanded_um",
    ] {
        assert_eq!(document[figure], again[figure], "{figure}");
    }
    assert_eq!(document["written"]["after"]["certificate"], "TP-I31");
}
