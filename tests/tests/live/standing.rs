//! What may carry a verdict: calibrations in force, lapsed and overloaded, limits of a maker and ranges of a class.

use crate::{BOOK, grip};
use holdtrue::visits::book::book_writer::today_days;
use holdtrue_gauge::calibration::day_text;
use holdtrue_protocol::message::{FromGauge, Overload, Reply};
use holdtrue_simulated_gauge::{Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::port::{Measuring, OwnPort, Port};
use serde_json::Value;

/// The simulated spindle's maker asks for 10 kN and allows 70 % of it.
const MAKER: &str = "--nominal-n 10000 --limit-percent 70 --provenance maker";

pub fn calibrated(seed: u64, condition: Condition, days_ago: i32) -> Setup {
    Setup::new(seed, condition).calibrated_on(today_days() - days_ago)
}

fn measured(bench: &Bench, port: &str, more: &str) -> Run {
    bench.finish(&mut grip(bench, port, more))
}

fn outcome(run: &Run) -> Value {
    run.json()["verdict"]["outcome"].clone()
}

fn mean_n(run: &Run) -> f64 {
    run.json()["statistics"]["mean_n"].as_f64().expect("a mean")
}

#[test]
fn in_date_a_sound_spindle_is_accepted() {
    let bench = bench!();
    let port = OwnPort::of(calibrated(3, Condition::Sound, 60));
    let run = measured(&bench, &port.path, MAKER).exits(0);
    assert_eq!(outcome(&run), "accept", "{run}");
}

#[test]
fn a_lapsed_calibration_never_accepts() {
    for seed in [3, 4] {
        let bench = bench!();
        let port = OwnPort::of(calibrated(seed, Condition::Sound, 400));
        let run = measured(&bench, &port.path, MAKER).exits(3).tells("LAPSED");
        assert_eq!(outcome(&run), "undecided", "{run}");
    }
    let bench = bench!();
    let port = OwnPort::of(calibrated(3, Condition::Sound, 400));
    let check = format!("gauge check --gauge {}", port.path);
    bench.line(&check).exits(5).shows("calibration is due");
}

/// What a gauge reads is no surer in a file, or typed, than on the screen.
#[test]
fn what_was_read_on_a_gauge_whose_calibration_lapsed_is_not_within_limit_by_typing_it() {
    let bench = bench!();
    let port = OwnPort::of(calibrated(3, Condition::Sound, 400));
    bench.finish(&mut grip(&bench, &port.path, MAKER));
    let typed = |more: &str| {
        format!(
            "grip --readings 9.8;9.9;9.7 --unit kN --nominal-n 10000 --limit-percent 70 --uncertainty-percent 0.4 --store \
             --book {BOOK} {more}"
        )
    };
    let lapsed = bench.line(&typed("--read-on TP-0031")).exits(3);
    lapsed.shows("calibration has lapsed");
    bench.line(&typed("--read-on TP-0900")).exits(0);
}

#[test]
fn a_calibration_of_tomorrow_never_accepts() {
    let bench = bench!();
    let port = OwnPort::of(calibrated(3, Condition::Sound, -1));
    let run = measured(&bench, &port.path, MAKER).exits(3).tells("clock");
    assert_eq!(outcome(&run), "undecided", "{run}");
}

#[test]
fn a_lapsed_calibration_still_rejects_a_spindle_at_40_percent_of_nominal() {
    let bench = bench!();
    let port = OwnPort::of(calibrated(2, Condition::WeakSprings, 400));
    let nominal_n = mean_n(&measured(&bench, &port.path, "")) / 0.4;
    let limit = format!("--nominal-n {nominal_n:.0} --limit-percent 70 --provenance maker");
    let run = measured(&bench, &port.path, &limit).exits(1);
    assert_eq!(outcome(&run), "reject", "{run}");
    let reasons = run.json()["verdict"]["reasons"].to_string();
    assert!(reasons.contains("far too low"), "{run}");
}

#[test]
fn a_range_of_a_class_never_accepts() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    for class in ["light", "standard"] {
        let class = format!("--interface 7/24-40 --class {class}");
        let run = measured(&bench, &port.path, &class);
        assert_ne!(outcome(&run), "accept", "{run}");
        assert_ne!(run.code, 0, "{run}");
    }
    let run = measured(&bench, &port.path, "--interface 7/24-40 --class standard").exits(3);
    let reasons = run.json()["verdict"]["reasons"].to_string();
    assert!(reasons.contains("no maker's figure"), "{run}");
}

#[test]
fn a_gauge_too_small_for_the_spindle_is_refused_before_the_first_clamp() {
    let bench = bench!();
    let port = Port::offer(&bench, "--pace max");
    bench.file(
        "limits.toml",
        "schema = 1\ntitle = \"Centre 1 (invented)\"\n\n[nominal]\nforce = 30\nunit = \"kN\"\nprovenance = \"maker\"\nsource = \"sheet\"\n",
    );
    for more in [
        "--nominal-n 30000",
        "--interface 7/24-50 --class standard",
        "--interface 7/24-50 --class heavy --limit-n 7000",
        "--limit-n 30000",
        "--limit-lowest-n 30000 --nominal-n 40000",
        "--limits limits.toml --nominal-n 10000",
        "--limits limits.toml --limit-n 7000",
    ] {
        let run = measured(&bench, &port.path, more)
            .exits(5)
            .tells("use a bigger gauge");
        assert!(!run.messages.contains("clamp now"), "{run}");
    }
}

/// Whoever is to be asked for state and cautions is told first that this gauge cannot be used, or reads no further.
#[test]
fn a_gauge_too_small_is_said_before_anything_is_asked() {
    let bench = bench!();
    let real = Port::offer(&bench, "--pace max");
    let asks = |port: &str, more: &str| {
        let line = format!("grip --gauge {port} --json --book {BOOK} {more}");
        Measuring::at_terminal(&mut bench.command(line.split_whitespace()))
    };
    let ended = asks(&real.path, "--limit-n 30000").end().exits(5);
    assert!(ended.told.contains("use a bigger gauge"), "{}", ended.told);
    for asked in ["as found, or as left", "Read, understood", "fingers"] {
        assert!(!ended.told.contains(asked), "{}", ended.told);
    }
    // Big enough, and calibrated up to less than what is asked of the spindle.
    let short = OwnPort::altered(&real.path, |message| {
        if let FromGauge::Answer(answer) = message
            && let Ok(Reply::Calibration(record)) = &mut answer.outcome
        {
            record.span[1] = 8_000.0;
        }
    });
    for more in ["--limit-n 9000", "--nominal-n 9000 --limit-percent 70"] {
        let mut run = asks(&short.path, more);
        run.until("calibration ends at 8.00 kN, and 9.00 kN is asked of this spindle");
        assert!(!run.told.contains("as found, or as left"), "{}", run.told);
        run.until("as found, or as left");
        run.signal("INT");
        run.end().exits(130);
    }
    let mut run = asks(&short.path, "--limit-n 7000");
    run.until("as found, or as left");
    assert!(!run.told.contains("calibration ends"), "{}", run.told);
    run.signal("INT");
    run.end().exits(130);
}

#[test]
fn what_the_book_knows_of_the_spindle_counts_for_the_size_of_the_gauge_whatever_is_typed() {
    for known in [
        "--minimum-n 30000",
        "--nominal-n 30000",
        "--interface 7/24-50 --class heavy",
    ] {
        let bench = bench!();
        let port = Port::offer(&bench, "--pace max");
        let add = format!("spindle add Centre-1 {known} --book {BOOK}");
        bench.line(&add).exits(0);
        bench
            .line(&format!("visit start --spindle Centre-1 --book {BOOK}"))
            .exits(0);
        for more in ["", "--limit-n 7000", "--nominal-n 10000 --limit-percent 70"] {
            let run = measured(&bench, &port.path, more)
                .exits(5)
                .tells("use a bigger gauge");
            assert!(!run.messages.contains("clamp now"), "{known} {more}\n{run}");
        }
    }
}

#[test]
fn a_lapsed_calibration_does_not_accept_the_scatter_or_the_drop_either() {
    let bench = bench!();
    let port = OwnPort::of(calibrated(3, Condition::Sound, 400));
    let limits = "--limit-cv-percent 5 --limit-sag-n-per-s 200 --interface 7/24-40";
    let run = measured(&bench, &port.path, limits).exits(3);
    let verdict = &run.json()["verdict"];
    for limit in verdict["limits"].as_array().expect("limits") {
        assert_eq!(limit["outcome"], "undecided", "{run}");
    }
    let remedy = verdict["would_decide"]["text"].as_str().expect("a remedy");
    assert!(remedy.contains("calibration is in force"), "{run}");
    let bench = bench!();
    let port = OwnPort::of(calibrated(3, Condition::Sound, 60));
    measured(&bench, &port.path, limits).exits(0);
}

#[test]
fn at_the_machine_a_spindle_of_unknown_interface_is_allowed_no_less() {
    let bench = bench!();
    let port = OwnPort::of(calibrated(3, Condition::Sound, 60));
    let combined = |more: &str| {
        let run = measured(&bench, &port.path, &format!("{MAKER} --new {more}"));
        run.json()["uncertainty"]["combined_n"]
            .as_f64()
            .expect("a number")
    };
    assert!(combined("") > 1.2 * combined("--interface 7/24-40"));
}

/// A gauge that was overloaded some time before today.
pub fn overloaded() -> Setup {
    Setup {
        overloads: vec![Overload {
            boot: 1,
            at_us: 40_000_000,
            peak_counts: 8_000_000,
        }],
        boots_before: 3,
        ..calibrated(3, Condition::Sound, 60)
    }
}

/// The calibration it carries anew, as a laboratory would have made it so many days ago, written into it.
pub fn write(bench: &Bench, port: &str, days_ago: i32) -> Run {
    let record = holdtrue_simulated_gauge::certificate::force(today_days() - days_ago);
    let paper = format!(
        "schema = 1\ntemperature_c = 21\ncertificate = \"TP-F-0200\"\nlaboratory = \"Tern Point\"\ndate = {}\ndue = {}\nrated_n = {}\n\
         span_n = [{}, {}]\nexpanded_percent = 0.4\nexpanded_n = 8\ncoefficients = [0, {}]\n",
        day_text(record.date_days),
        day_text(record.due_days),
        record.rated,
        record.span[0],
        record.span[1],
        record.coefficients[1],
    );
    bench.file("paper.toml", paper);
    let line = "gauge certificate --from paper.toml --yes --book yard.holdtrue --gauge";
    bench.line(&format!("{line} {port}")).exits(0)
}

#[test]
fn an_overload_blocks_acceptance_until_the_gauge_was_calibrated_again() {
    let bench = bench!();
    let port = OwnPort::of(overloaded());
    let check = format!("gauge check --gauge {} --book yard.holdtrue", port.path);
    bench.line(&check).exits(5).shows("recalibrated");
    let run = measured(&bench, &port.path, MAKER)
        .exits(3)
        .tells("OVERLOADED");
    assert_eq!(outcome(&run), "undecided", "{run}");
    bench
        .line("report --html page.html --book yard.holdtrue")
        .exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains("overloaded since"));

    // A certificate from before the book saw it clears nothing; one of today does.
    write(&bench, &port.path, 10).shows("1 overload stays counted");
    let run = measured(&bench, &port.path, MAKER).exits(3);
    assert_eq!(outcome(&run), "undecided", "{run}");
    write(&bench, &port.path, 0);
    let run = measured(&bench, &port.path, MAKER).exits(0);
    assert_eq!(outcome(&run), "accept", "{run}");
    bench.line(&check).exits(0).shows("Fit to measure");
    bench.line("book check --book yard.holdtrue").exits(0);
}

#[test]
fn a_gauge_found_not_fit_accepts_nothing_until_a_check_finds_it_fit() {
    let bench = bench!();
    let port = OwnPort::of(Setup {
        standard_n: 5_000.0,
        ..calibrated(3, Condition::Sound, 60)
    });
    let check = |load_n: &str| {
        let of = format!("--standard-n {load_n} --standard frame --standard-percent 0.2 --yes");
        let gauge = format!("gauge check --gauge {} --book yard.holdtrue", port.path);
        bench.line(&format!("{gauge} {of}"))
    };
    // The standard is said to give more than it does: so reads a gauge that reads low.
    check("5600").exits(5).shows("NOT fit");
    let run = measured(&bench, &port.path, MAKER)
        .exits(3)
        .tells("found NOT fit to measure");
    assert_eq!(outcome(&run), "undecided", "{run}");
    // A gross shortfall is no less one.
    let far = measured(&bench, &port.path, "--limit-n 15000 --new").exits(1);
    assert_eq!(outcome(&far), "reject", "{far}");
    check("5000").exits(0).shows("Fit to measure");
    let run = measured(&bench, &port.path, &format!("{MAKER} --new")).exits(0);
    assert_eq!(outcome(&run), "accept", "{run}");
}

/// A gauge that hangs free shows nothing of what it reads under load.
#[test]
fn what_a_check_standard_found_is_not_taken_back_by_a_gauge_that_hangs_free() {
    let bench = bench!();
    let port = OwnPort::of(Setup {
        standard_n: 5_000.0,
        ..calibrated(3, Condition::Sound, 60)
    });
    let gauge = format!("gauge check --gauge {} --book yard.holdtrue", port.path);
    let on = |load_n: &str| {
        bench.line(&format!(
            "{gauge} --standard-n {load_n} --standard frame --standard-percent 0.2 --yes"
        ))
    };
    on("5600").exits(5).shows("NOT fit");
    let free = bench.line(&gauge).exits(5);
    free.shows("NOT fit to measure")
        .shows("check standard, by an earlier check")
        .shows("put the standard on again (--standard-n)");
    let run = measured(&bench, &port.path, MAKER)
        .exits(3)
        .tells("finds it good on a check standard again");
    assert_eq!(outcome(&run), "undecided", "{run}");
    let typed = "grip --readings 9.8;9.9;9.7 --unit kN --nominal-n 10000 --limit-percent 70 --uncertainty-percent 0.4 --store \
         --book yard.holdtrue --read-on TP-0031";
    let found_unfit = "found it not fit to measure";
    bench.line(typed).exits(3).shows(found_unfit);
    for line in [
        "gauge history --book yard.holdtrue".to_owned(),
        format!("gauge info --gauge {} --book yard.holdtrue", port.path),
    ] {
        let told = bench.line(&line).exits(0);
        assert!(!told.out.contains("\\n"), "{told}");
        told.shows("found NOT fit to measure")
            .shows("until a check finds it good on a check standard again");
    }
    on("5000").exits(0).shows("Fit to measure");
    bench.line(&gauge).exits(0).shows("Fit to measure");
    let run = measured(&bench, &port.path, &format!("{MAKER} --new")).exits(0);
    assert_eq!(outcome(&run), "accept", "{run}");
    let history = bench.line("gauge history --book yard.holdtrue").exits(0);
    assert!(!history.out.contains("until a check finds"), "{history}");
}

#[test]
fn an_overload_that_was_there_when_a_calibration_of_that_day_was_entered_is_past() {
    let bench = bench!();
    let port = OwnPort::of(overloaded());
    let entered = write(&bench, &port.path, 0);
    assert!(!entered.out.contains("counted"), "{entered}");
    let run = measured(&bench, &port.path, MAKER).exits(0);
    assert_eq!(outcome(&run), "accept", "{run}");
    // Another book knows nothing of it, and takes it for later.
    let elsewhere = format!("{MAKER} --book elsewhere.holdtrue");
    let line = format!(
        "grip --gauge {} --clamps 5 --json --yes {elsewhere}",
        port.path
    );
    bench.line(&line).exits(3).tells("OVERLOADED");
}

#[test]
fn a_certificate_older_than_the_day_an_overload_was_first_seen_does_not_clear_it() {
    let bench = bench!();
    let port = OwnPort::of(overloaded());
    write(&bench, &port.path, 10)
        .shows("1 overload stays counted")
        .shows("calibrate it again");
    let run = measured(&bench, &port.path, MAKER).exits(3);
    assert_eq!(outcome(&run), "undecided", "{run}");
    let check = format!("gauge check --gauge {} --book yard.holdtrue", port.path);
    bench.line(&check).exits(5).shows("recalibrated");
}
