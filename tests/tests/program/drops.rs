//! The drop while held, as somebody reads it: a force that goes on falling is never within limit without a cause.

use holdtrue_tests::bench;
use holdtrue_tests::force::{Made, MadeClamp};

const JUDGED: &str =
    "grip --from set.csv --limit-n 7000 --uncertainty-percent 0.5 --interface 7/24-40";

fn five(n_per_s: f64, last_hold_s: f64) -> Vec<MadeClamp> {
    let forces_n = [9_400.0, 9_430.0, 9_380.0, 9_410.0, 9_390.0];
    let mut clamps: Vec<MadeClamp> = forces_n
        .iter()
        .map(|&force_n| MadeClamp {
            drop_n_per_s: n_per_s,
            ..MadeClamp::of(force_n)
        })
        .collect();
    clamps[4].hold_s = last_hold_s;
    clamps
}

#[test]
fn a_force_that_goes_on_dropping_is_undecided_until_its_cause_is_named() {
    let bench = bench!();
    for (hold_s, unit, newton_per_unit) in [(5.0, "force_n", 1.0), (30.0, "force_kn", 1000.0)] {
        let made = Made {
            noise_n: 8.0,
            unit,
            newton_per_unit,
            ..Made::default()
        };
        bench.file("set.csv", made.csv(&five(62.0, hold_s)));
        for drawbar in [
            "",
            "--drawbar hydraulic",
            "--drawbar disc-springs",
            "--drawbar gas-spring",
        ] {
            bench
                .line(&format!("{JUDGED} {drawbar}"))
                .exits(3)
                .shows("UNDECIDED")
                .shows("drops 62.0 N/s")
                .shows("  drops 0.6")
                .shows(" % a second: at this rate below the limit in 35 s; do not run until the cause is found");
        }
        let mut named: Vec<&str> = JUDGED.split_whitespace().collect();
        named.extend(["--drop-because", "the accumulator is empty"]);
        bench
            .run(named)
            .exits(0)
            .shows("WITHIN LIMIT")
            .shows(" % a second; the cause named for it: the accumulator is empty");
    }
    bench.line(&format!("{JUDGED} --drop-because ")).exits(2);
}

#[test]
fn a_cause_named_as_a_finding_of_the_visit_stands_beside_the_verdict() {
    let bench = bench!();
    bench.file("set.csv", Made::default().csv(&five(62.0, 30.0)));
    let visit = "--book yard.holdtrue visit start";
    bench.line(visit).exits(0);
    bench
        .line(&format!("--book yard.holdtrue {JUDGED} --store"))
        .exits(3);
    let finding = [
        "--book",
        "yard.holdtrue",
        "finding",
        "add",
        "--item",
        "drop while held",
        "--severity",
        "soon",
        "check valve weeps, known to the owner",
    ];
    bench.run(finding).exits(0);
    bench
        .line(&format!("--book yard.holdtrue {JUDGED} --store"))
        .exits(0)
        .shows("the cause named for it: check valve weeps, known to the owner");
    bench.line("--book yard.holdtrue recheck").exits(0);
}

#[test]
fn a_force_that_rises_while_held_rises_and_drops_by_no_less_than_nothing() {
    let bench = bench!();
    bench.file("set.csv", Made::default().csv(&five(-14.7, 5.0)));
    let run = bench.line(JUDGED).exits(0).shows("rises 14.7 N/s");
    assert!(!run.out.contains("-14.7"), "{run}");
    bench.file("settings.toml", "force = \"lbf\"");
    bench.line(JUDGED).exits(0).shows("rises 3.3 lbf/s");
}

#[test]
fn a_series_that_climbs_has_no_bound_for_clamps_like_these() {
    let bench = bench!();
    let level: Vec<MadeClamp> = five(0.0, 5.0);
    bench.file("set.csv", Made::default().csv(&level));
    bench
        .line(JUDGED)
        .exits(0)
        .shows("95 of 100 hold more than");
    for step_n in [150.0, -150.0] {
        let climbing: Vec<MadeClamp> = (0..5)
            .zip(&level)
            .map(|(number, clamp)| MadeClamp {
                force_n: clamp.force_n + step_n * f64::from(number),
                ..*clamp
            })
            .collect();
        bench.file("set.csv", Made::default().csv(&climbing));
        let run = bench.line(JUDGED).exits(0).shows("from clamp to clamp");
        assert!(!run.out.contains("95 of 100"), "{run}");
    }
}

#[test]
fn readings_and_short_holds_say_that_a_slow_drop_was_not_examined() {
    let bench = bench!();
    let readings = ["grip", "--readings", "9.8 9.9 9.7", "--unit", "kN"];
    bench.run(readings).exits(0).shows("slow drop not examined");
    bench.file("set.csv", Made::default().csv(&five(0.0, 5.0)));
    bench.line(JUDGED).exits(0).shows("slow drop not examined");
    bench.file("set.csv", Made::default().csv(&five(0.0, 30.0)));
    let run = bench.line(JUDGED).exits(0);
    assert!(!run.out.contains("not examined"), "{run}");
}
