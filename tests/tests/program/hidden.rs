//! What a record can hide: each looks like a good set, and none of them is within limit without a word.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::force::{Made, MadeClamp};

const JUDGED: &str =
    "grip --from set.csv --limit-n 7000 --uncertainty-percent 0.5 --interface 7/24-40";
const GOOD_N: [f64; 5] = [9_500.0, 9_530.0, 9_480.0, 9_510.0, 9_490.0];
const NOISY: Made = Made {
    rate_hz: 200.0,
    zero_n: 0.0,
    drift_n_per_s: 0.0,
    noise_n: 8.0,
    unit: "force_n",
    newton_per_unit: 1.0,
    separator: ',',
    comma: false,
    line_end: "\n",
    push_out_mm: None,
};

fn clamps(forces_n: [f64; 5]) -> Vec<MadeClamp> {
    forces_n.into_iter().map(MadeClamp::of).collect()
}

fn good() -> String {
    NOISY.csv(&clamps(GOOD_N))
}

/// Rows of a record whose time passes the test, the time beginning anew at the first of them.
fn rows(csv: &str, keep: impl Fn(f64) -> bool) -> String {
    let time = |row: &str| {
        row.split(',')
            .next()
            .and_then(|time| time.parse::<f64>().ok())
    };
    let kept = csv.lines().filter(|row| time(row).is_none_or(&keep));
    kept.map(|row| format!("{row}\n")).collect()
}

#[test]
fn a_weak_clamp_is_the_news_also_where_it_was_left_out() {
    let bench = bench!();
    let with = |place: usize, clamp: MadeClamp| {
        let mut all = clamps(GOOD_N);
        all[place] = clamp;
        NOISY.csv(&all)
    };
    let weak = MadeClamp::of(5_200.0);
    // Clamp 3 is on from 17.5 s to 22.5 s, the last one from 32.5 s on.
    let cases = [
        (
            with(
                2,
                MadeClamp {
                    hold_s: 1.0,
                    ..weak
                },
            ),
            "clamp 3",
        ),
        (
            rows(&with(2, weak), |s| !(19.0..20.0).contains(&s)),
            "clamp 3",
        ),
        (
            with(
                2,
                MadeClamp {
                    knock_s: 1.2,
                    ..weak
                },
            ),
            "clamp 3",
        ),
        (rows(&with(4, weak), |s| s < 36.0), "clamp 5"),
        (rows(&with(0, weak), |s| s > 4.0), "clamp 1"),
    ];
    for (csv, which) in cases {
        bench.file("set.csv", csv);
        let run = bench.line(JUDGED).exits(3);
        run.shows(&format!("{which} was left out"))
            .shows("read about 5.2")
            .shows("the set taken again, with that clamp held so that it counts");
    }
    // Too short to hold a level, or in pieces too short for one: its peak is what was read.
    let brief = |hold_s: f64, force_n: f64| {
        let clamp = MadeClamp::of(force_n);
        with(2, MadeClamp { hold_s, ..clamp })
    };
    let shown = |s: f64| (s * 10.0).floor() % 2.0 < 1.0;
    let in_pieces = |s: f64| !(17.0..23.0).contains(&s) || shown(s);
    for (csv, clamp) in [
        (brief(0.4, 1_000.0), 3),
        (brief(0.3, 4_000.0), 3),
        (rows(&with(2, weak), in_pieces), 3),
        // It was on for its first tenths of a second, then nothing was read until the next pause.
        (rows(&with(2, weak), |s| !(17.7..24.0).contains(&s)), 3),
        (rows(&with(4, weak), |s| s < 32.9), 5),
    ] {
        bench.file("set.csv", csv);
        let left_out = format!("clamp {clamp} was left out");
        bench.line(JUDGED).exits(3).shows(&left_out);
    }
    // Let go too soon, at full force: nothing to tell. A whole clamp that is missing is asked about.
    bench.file("set.csv", brief(0.4, 9_500.0));
    bench.line(JUDGED).exits(0);
    bench.file(
        "set.csv",
        rows(&with(2, weak), |s| !(17.0..24.0).contains(&s)),
    );
    bench
        .line(JUDGED)
        .exits(3)
        .shows("a whole clamp may lie in there")
        .shows("--as-read if nothing was clamped");
    bench.line(&format!("{JUDGED} --as-read")).exits(0);
    // Too short for a clamp like the others, and long enough for one that counts: said.
    bench.file("set.csv", rows(&good(), |s| !(15.2..17.3).contains(&s)));
    bench.line(JUDGED).exits(0).shows("may lie in there");
    bench.file("set.csv", rows(&good(), |s| !(14.0..15.0).contains(&s)));
    let text = bench.line(JUDGED).exits(0).out;
    assert!(!text.contains("may lie in there"), "{text}");
    // As strong as the others, or a hand at the gauge: nothing to tell.
    for clamp in [
        MadeClamp {
            hold_s: 1.0,
            ..MadeClamp::of(9_500.0)
        },
        MadeClamp {
            hold_s: 0.2,
            ..MadeClamp::of(900.0)
        },
    ] {
        bench.file("set.csv", with(2, clamp));
        bench.line(JUDGED).exits(0);
    }
    // What is outside by those that count stays so.
    bench.file(
        "set.csv",
        with(
            2,
            MadeClamp {
                hold_s: 1.0,
                ..weak
            },
        ),
    );
    bench.line(&JUDGED.replace("7000", "12000")).exits(1);
}

#[test]
fn no_hand_brings_a_set_within_limit_and_no_mean_hides_a_clamp() {
    let bench = bench!();
    let low = [9_500.0, 9_530.0, 6_500.0, 9_510.0, 9_490.0];
    bench.file("set.csv", NOISY.csv(&clamps(low)));
    let holds = "clamp 3 holds 6.50 kN, below the 7.00 kN asked of the mean";
    bench.line(JUDGED).exits(3).shows(holds);
    // With a limit of its own the lowest is judged by that.
    bench
        .line(&format!("{JUDGED} --limit-lowest-n 6000"))
        .exits(0);
    bench
        .line(&format!("{JUDGED} --limit-lowest-n 6900"))
        .exits(1);
    bench
        .line(&format!("{JUDGED} --discard 3=knob-slipped"))
        .exits(3)
        .shows("clamp 3 was left out (discarded by hand) and read about 6.5");
    let typed =
        "grip --unit kN --limit-n 7000 --uncertainty-percent 0.5 --interface BT40 --readings";
    let run = |readings: &str, more: &[&str]| {
        let words = typed.split_whitespace().chain([readings]);
        bench.run(words.chain(more.iter().copied()))
    };
    let discards = ["--discard", "4=slipped", "--discard", "5=slipped"];
    run("7.3 7.32 7.28 6.8 6.82", &discards)
        .exits(3)
        .shows("nothing is within limit only without them");
    run("9.3 9.32 9.28 9.2 9.22", &discards).exits(0);
    run("9.5 9.6 9.4 6.1 9.5", &[])
        .exits(3)
        .shows("clamp 4 holds 6.10 kN");
    // What is too near to decide is not within either, whatever the gauge; nor are two such clamps.
    for (readings, clamp) in [
        ("9.8 9.9 9.7 6.9", "clamp 4 holds 6.90 kN"),
        ("9.8 9.9 9.7 6.99", "clamp 4 holds 6.99 kN"),
        (
            "9.8 9.9 9.7 6.8 --uncertainty-percent 3",
            "clamp 4 holds 6.80 kN",
        ),
        ("12 12.1 6.9 6.9 12", "clamp 3 holds 6.90 kN"),
        ("20 6.9 6.9 6.9", "clamp 2 holds 6.90 kN"),
    ] {
        let (readings, percent) = readings
            .split_once(" --uncertainty-percent ")
            .unwrap_or((readings, "0.5"));
        let line = typed.replace("-percent 0.5", &format!("-percent {percent}"));
        let words = line.split_whitespace().chain([readings, "--as-read"]);
        bench.run(words).exits(3).shows(clamp);
    }
    // Above the limit, or as the others.
    run("9.8 9.9 9.7 7.1", &[]).exits(0);
    run("7.5 7.55 7.5 6.99", &[]).exits(0);
}

#[test]
fn clamps_that_fall_one_after_the_other_say_what_the_next_would_hold() {
    let bench = bench!();
    bench.file(
        "set.csv",
        NOISY.csv(&clamps([9_500.0, 8_900.0, 8_300.0, 7_700.0, 7_100.0])),
    );
    bench
        .line(JUDGED)
        .exits(3)
        .shows("falls by 0.600 kN from clamp to clamp: the next would hold 6.50 kN");
    bench.file(
        "set.csv",
        NOISY.csv(&clamps([9_500.0, 9_400.0, 9_300.0, 9_200.0, 9_100.0])),
    );
    bench.line(JUDGED).exits(0);
}

#[test]
fn a_clamp_that_was_copied_is_no_clamp_of_its_own() {
    let bench = bench!();
    let one = NOISY.csv(&clamps([9_500.0; 5])[..1]);
    let rows: Vec<f64> = one
        .lines()
        .skip(1)
        .filter_map(|row| row.split(',').nth(1)?.parse().ok())
        .collect();
    for factors in [[1.0; 5], [1.0, 1.003, 0.997, 1.001, 0.999]] {
        let all = factors
            .iter()
            .flat_map(|factor| rows.iter().map(move |n| factor * n));
        let lines = all
            .zip(0_u32..)
            .map(|(n, index)| format!("{:.3},{n:.2}\n", f64::from(index) * 0.005));
        bench.file(
            "set.csv",
            format!("time_s,force_n\n{}", lines.collect::<String>()),
        );
        bench
            .line(JUDGED)
            .exits(3)
            .shows("clamp 2 has the readings of clamp 1 once more");
    }
    // A record made on paper: no noise, and every clamp alike.
    let still = clamps([9_500.0; 5]).into_iter().map(|clamp| MadeClamp {
        overshoot: 0.03,
        ..clamp
    });
    bench.file("set.csv", Made::default().csv(&still.collect::<Vec<_>>()));
    bench.line(JUDGED).exits(3).shows("to the last digit");
}

#[test]
fn words_that_name_no_cause_lift_no_drop() {
    let bench = bench!();
    let drops = clamps(GOOD_N).into_iter().map(|clamp| MadeClamp {
        drop_n_per_s: 40.0,
        ..clamp
    });
    bench.file("set.csv", NOISY.csv(&drops.collect::<Vec<_>>()));
    let judged: Vec<&str> = JUDGED.split_whitespace().collect();
    for said in [
        "", " ", ".", "x", "ok", "None", "unknown", "no cause", "n/a", "\u{7}",
    ] {
        bench
            .run(judged.iter().copied().chain(["--drop-because", said]))
            .exits(2)
            .tells("expected the cause that was found");
    }
    bench
        .run(
            judged
                .iter()
                .copied()
                .chain(["--drop-because", "check valve weeps"]),
        )
        .exits(0)
        .shows("the cause named for it: check valve weeps; at this rate below the limit in");
    let item = ["--item", "drop while held", "--severity", "soon"];
    let store = format!("{JUDGED} --store");
    for (text, code) in [("ok", 3), ("check valve weeps", 0)] {
        bench.in_book("visit start", &[]).exits(0);
        bench
            .in_book("finding add", &[&item[..], &[text]].concat())
            .exits(0);
        bench
            .in_book(&format!("{store} --as-read"), &[])
            .exits(code);
        bench.in_book("visit finish --yes", &[]).exits(0);
    }
}

#[test]
fn a_limit_with_nothing_to_judge_is_not_met() {
    let bench = bench!();
    let limit = "--limit-n 7000 --uncertainty-percent 1";
    for figure in [
        "--peak 10.4kN",
        "--mean 9.8kN",
        "--mean 9.8kN --lowest 9.6kN",
    ] {
        bench
            .line(&format!("grip {figure} {limit}"))
            .exits(3)
            .shows("not judged");
        bench.line(&format!("grip {figure}")).exits(0);
    }
    bench.file("set.csv", good());
    for percent in ["500", "21", "0.001", "1e-9", "0", "NaN"] {
        bench
            .line(&JUDGED.replace("0.5", percent))
            .exits(2)
            .tells("expected");
    }
}

fn stored(bench: &Bench, file: &str, more: &str, code: i32) -> String {
    bench.file("set.csv", file);
    let run = bench
        .in_book(&format!("{JUDGED} --store {more}"), &[])
        .exits(code);
    format!("{}{}", run.out, run.messages)
}

#[test]
fn a_record_is_filed_once() {
    let bench = bench!();
    bench
        .in_book("spindle add Centre-1 --interface BT40", &[])
        .exits(0);
    bench
        .in_book("spindle add Centre-2 --interface BT40", &[])
        .exits(0);
    bench
        .in_book("visit start --spindle Centre-1", &[])
        .exits(0);
    let first = good();
    stored(&bench, &first, "--state as-found", 0);
    let changed = |change: fn(f64) -> f64, header: &str| {
        let rows = first.lines().skip(1).filter_map(|row| {
            let (time, force) = row.split_once(',')?;
            let force: f64 = force.parse().ok()?;
            Some(format!("{time},{:.4}\n", change(force)))
        });
        format!("{header}\n{}", rows.collect::<String>())
    };
    let again = [
        first.clone(),
        format!("# copy\n{}", first.replace('\n', "\r\n")),
        changed(|n| n / 1_000.0, "time_s,force_kn"),
        changed(|n| n + 20.0, "time_s,force_n"),
        changed(|n| 1.01 * n, "TIME_S,FORCE_N"),
        rows(&first, |s| s > 1.0),
        // The first two clamps cut off.
        rows(&first, |s| s > 16.0),
    ];
    for file in &again {
        for state in ["as-found", "as-left"] {
            let told = stored(&bench, file, &format!("--state {state}"), 4);
            assert!(
                told.contains("the readings of set 1 of this visit (grip, as found"),
                "{told}"
            );
            assert!(told.contains("--as-read to file it all the same"), "{told}");
        }
    }
    bench.in_book("visit finish", &[]).exits(0);
    bench
        .in_book("visit start --spindle Centre-2", &[])
        .exits(0);
    let told = stored(&bench, &first, "", 4);
    assert!(
        told.contains("set 1 of visit") && told.contains("Centre-1"),
        "{told}"
    );
    stored(&bench, &first, "--as-read", 0);
    let marked = "as the readings of set 1 of visit";
    bench.in_book("visit status", &[]).exits(0).shows(marked);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains(marked));
    // Another measurement of the same spindle is its own, however alike.
    let other = Made {
        rate_hz: 210.0,
        ..NOISY
    }
    .csv(&clamps(GOOD_N));
    stored(&bench, &other, "", 0);
    bench.in_book("recheck", &[]).exits(0);
}

/// Clamped by hand, no two sets have the same pauses and holds.
#[test]
fn a_record_resampled_or_rounded_is_known_by_its_clamps() {
    let bench = bench!();
    bench
        .in_book("spindle add --interface BT40 Centre-1", &[])
        .exits(0);
    bench
        .in_book("visit start --spindle Centre-1", &[])
        .exits(0);
    let by_hand = |holds_s: [f64; 5]| {
        let mut all = clamps(GOOD_N);
        for (clamp, hold_s) in all.iter_mut().zip(holds_s) {
            clamp.hold_s = hold_s;
        }
        NOISY.csv(&all)
    };
    let first = by_hand([5.1, 4.6, 5.9, 5.3, 6.4]);
    stored(&bench, &first, "", 0);
    let header = first.lines().take(1);
    let every_fourth: String = header
        .chain(first.lines().skip(1).step_by(4))
        .map(|row| format!("{row}\n"))
        .collect();
    let rounded = changed(&first, |_, n| (n / 20.0).round() * 20.0);
    let cut = rows(&every_fourth, |s| s > 16.0);
    for copy in [&every_fourth, &rounded, &cut] {
        let told = stored(&bench, copy, "", 4);
        assert!(
            told.contains("the readings of set 1 of this visit"),
            "{told}"
        );
    }
    // As strong, by another hand.
    stored(&bench, &by_hand([5.4, 4.9, 5.2, 6.1, 5.0]), "", 0);
}

/// A clamp cut out of the middle, or clamps in another order: the weak one is gone, and every sample left was filed before.
#[test]
fn a_record_with_a_clamp_cut_out_of_it_is_known() {
    let bench = bench!();
    stored(&bench, &good(), "--state as-found", 0);
    // Each clamp with its pause takes 7.5 s.
    let time = |row: &str| {
        row.split(',')
            .next()
            .and_then(|time| time.parse::<f64>().ok())
    };
    let whole = good();
    let stretch = |from_s: f64, to_s: f64| -> Vec<&str> {
        let is_in = |row: &&str| time(row).is_some_and(|s| (from_s..to_s).contains(&s));
        whole.lines().filter(is_in).collect()
    };
    let pieces = |parts: &[(f64, f64)]| {
        let rows = parts
            .iter()
            .flat_map(|&(from_s, to_s)| stretch(from_s, to_s));
        let force = |row: &str| row.split(',').nth(1).map(str::to_owned);
        let rows = rows.filter_map(force).zip(0_u32..);
        rows.fold("time_s,force_n\n".to_owned(), |csv, (force, place)| {
            csv + &format!("{:.3},{force}\n", f64::from(place) / NOISY.rate_hz)
        })
    };
    for parts in [
        &[(0.0, 16.0), (23.5, 99.0)][..],
        &[(0.0, 8.5), (16.0, 99.0)],
        &[(0.0, 8.5), (16.0, 23.5), (31.0, 99.0)],
        &[(0.0, 1.0), (16.0, 23.5), (8.5, 16.0), (31.0, 99.0)],
    ] {
        let told = stored(&bench, &pieces(parts), "--state as-left", 4);
        assert!(told.contains("the readings of set 1"), "{told}");
    }
    // A set of its own.
    let again = NOISY.csv(&clamps(GOOD_N.map(|n| n + 31.0)));
    stored(&bench, &again, "--state as-left", 0);
    let plane = |seating: u32, from_um: f64| -> String {
        let row = |place: u32| {
            let angle = 45.0 * f64::from(place);
            let noise = f64::from((place * 7 + seating * 13) % 9) / 10.0;
            let um = from_um + 5.0 * (angle - 20.0 * f64::from(seating)).to_radians().cos() + noise;
            format!("bar,300,{seating},{angle},{um:.1}\n")
        };
        (0..8).map(row).collect()
    };
    let check = |seatings: &[u32], state: &str, code: i32| {
        let planes: String = seatings
            .iter()
            .map(|&seating| plane(seating, 0.0))
            .collect();
        bench.file(
            "bar.csv",
            format!("at,height_mm,seating,angle_deg,reading_um\n{planes}"),
        );
        let line = format!("runout --from bar.csv --store --state {state}");
        bench.in_book(&line, &[]).exits(code)
    };
    check(&[1, 2, 3, 4], "as-found", 0);
    for cut in [&[1, 2, 4][..], &[2, 3, 4], &[3, 4], &[1, 2, 4, 6]] {
        check(cut, "as-left", 4).tells("plane by plane");
    }
    check(&[5, 6, 7, 8], "as-left", 0);
}

#[test]
fn a_runout_record_is_filed_once_and_what_is_typed_again_is_marked() {
    let bench = bench!();
    let readings = [0.0, 1.0, 2.5, 3.0, 2.0, 1.0, 0.5, -0.5, 0.0];
    let rows = |row: fn(usize, f64) -> String| {
        let rows = readings
            .iter()
            .enumerate()
            .map(|(place, um)| row(45 * place, *um));
        rows.collect::<String>()
    };
    let files = [
        format!(
            "angle_deg,reading_um\n{}",
            rows(|deg, um| format!("{deg},{um}\n"))
        ),
        format!(
            "reading_um;angle_deg\r\n{}",
            rows(|deg, um| format!("{um};{deg}\r\n"))
        ),
    ];
    for (file, code) in files.iter().zip([0, 4]) {
        bench.file("wall.csv", file);
        bench
            .in_book("runout --from wall.csv --at wall --store", &[])
            .exits(code);
    }
    bench
        .in_book("runout --from wall.csv --at wall --store --as-read", &[])
        .exits(0);
    let typed = "grip --readings 9.5;9.6;9.4 --unit kN --store";
    bench.in_book(typed, &[]).exits(0);
    bench.in_book(typed, &[]).exits(0).tells("once more");
    let status = bench.in_book("visit status", &[]).exits(0);
    status
        .shows("the readings of set 1 of this visit")
        .shows("the readings of set 3 of this visit");
}

/// The forces of a record, changed by time and force; the time of a row, s.
fn changed(csv: &str, change: impl Fn(f64, f64) -> f64) -> String {
    let row = |row: &str| {
        let (time, force) = row.split_once(',')?;
        let (time_s, force_n) = (time.parse::<f64>().ok()?, force.parse::<f64>().ok()?);
        Some(format!("{time},{:.6}", change(time_s, force_n)))
    };
    csv.lines()
        .map(|line| row(line).unwrap_or_else(|| line.to_owned()) + "\n")
        .collect()
}

#[test]
fn a_force_that_was_below_its_limit_for_a_moment_is_not_within_it() {
    let bench = bench!();
    // Clamp 3 is held from 17.5 s on.
    for (from_s, for_s, share, exit) in [
        (20.6, 1.0, 0.2, 3),
        (20.8, 0.4, 0.1, 3),
        (20.8, 1.0, 0.7, 3),
        // A dip that stays above the limit is told, no more.
        (20.8, 1.0, 0.85, 0),
    ] {
        let dips = |s: f64, n: f64| match s {
            s if s > from_s && s < from_s + for_s => share * n,
            _ => n,
        };
        bench.file("set.csv", changed(&good(), dips));
        let run = bench.line(JUDGED).exits(exit).shows("and a rise again");
        if exit == 3 {
            run.shows("clamp 3 fell to").shows("nobody at the panel");
            bench
                .line(&format!("{JUDGED} --drop-because brushed-the-hose"))
                .shows("brushed-the-hose")
                .exits(0);
        }
    }
}

/// Each moment is too short for a fall; together they are none that holds. One knock is no more than that.
#[test]
fn a_force_that_is_gone_for_moments_again_and_again_is_not_within_its_limit() {
    let bench = bench!();
    let gone = |share: f64, from_s: f64, for_s: f64, every_s: f64| {
        let moment = move |s: f64, n: f64| {
            let since_s = (s - from_s).rem_euclid(every_s);
            if n > 8_000.0 && since_s < for_s {
                share * n
            } else {
                n
            }
        };
        changed(&good(), moment)
    };
    // A clamp is on from 2.5 s to 7.5 s, the next 7.5 s later.
    for (share, from_s, for_s, every_s) in [
        (0.4, 0.3, 0.15, 1.0),
        (0.1, 5.6, 0.15, 7.5),
        (0.0, 0.0, 0.004, 0.04),
    ] {
        bench.file("set.csv", gone(share, from_s, for_s, every_s));
        let run = bench.line(JUDGED).exits(3);
        run.shows("below the limit of 7.00");
    }
    bench.file("set.csv", gone(0.2, 20.6, 0.1, 99.0));
    bench.line(JUDGED).exits(0);
}

/// A pump or an accumulator gives back within the hold what a leak takes: in all the force goes neither up nor down.
#[test]
fn a_leak_that_is_filled_up_again_within_the_hold_is_told() {
    let bench = bench!();
    let filled_up = |made: Made, falls_n_per_s: f64, every_s: f64, fill_s: f64| {
        let saw = move |s: f64, n: f64| {
            let since_s = s % every_s;
            let rises = (every_s - fill_s) / fill_s;
            let lost = falls_n_per_s * since_s.min((every_s - since_s) * rises);
            if n > 8_000.0 { n - lost } else { n }
        };
        changed(&made.csv(&clamps(GOOD_N)), saw)
    };
    let rough = Made {
        noise_n: 45.0,
        ..NOISY
    };
    for (made, falls_n_per_s, every_s, fill_s) in [
        (NOISY, 62.0, 3.0, 0.1),
        (NOISY, 62.0, 1.0, 0.1),
        (NOISY, 62.0, 1.7, 0.3),
        (NOISY, 190.0, 1.0, 0.05),
        (NOISY, 190.0, 2.0, 0.4),
        (NOISY, 30.0, 2.0, 0.1),
        // So deep that each is a fall and a rise of its own.
        (NOISY, 195.0, 2.0, 0.14),
        (NOISY, 120.0, 2.9, 0.2),
        // Noise hides in any tenth of a second which way it goes.
        (rough, 80.0, 2.5, 0.3),
        (rough, 120.0, 1.5, 0.15),
    ] {
        bench.file("set.csv", filled_up(made, falls_n_per_s, every_s, fill_s));
        let run = bench.line(JUDGED).exits(3);
        run.shows("do not run until the cause is found");
        bench
            .line(&format!("{JUDGED} --drop-because accumulator-weeps"))
            .shows("accumulator-weeps");
    }
    bench.file("set.csv", rough.csv(&clamps(GOOD_N)));
    bench.line(JUDGED).exits(0);
    // One that sways as fast up as down loses nothing.
    for (sways_n, every_s) in [(40.0, 1.0), (20.0, 0.6), (60.0, 2.5)] {
        let sway = |s: f64, n: f64| match n {
            n if n > 8_000.0 => n + sways_n * (std::f64::consts::TAU * s / every_s).sin(),
            n => n,
        };
        bench.file("set.csv", changed(&good(), sway));
        bench.line(JUDGED).exits(0);
    }
}

/// A meter zeroed while the gauge rests on the push-out, before the first clamp or between two, reads all after it too high. A gauge
/// that comes off the push-out as fast in each pause was not zeroed, nor one whose clamps come as fast.
#[test]
fn a_zero_set_while_the_gauge_rested_is_told_by_its_jump() {
    let bench = bench!();
    let weak = [6_600.0, 6_620.0, 6_580.0, 6_610.0, 6_590.0];
    // Free for 2.5 s between clamps of 5.2 s: pauses begin at 0, 7.7, 15.4 …
    for (rests_n, from_s, at_s) in [
        (800.0, 0.6, 1.5),
        (1_500.0, 0.6, 1.5),
        (3_000.0, 8.4, 9.3),
        (1_500.0, 16.1, 17.0),
    ] {
        let zeroed = |s: f64, n: f64| match s {
            s if s >= at_s && n < 1_000.0 => n,
            s if s >= at_s => n + rests_n,
            s if s >= from_s && n < 1_000.0 => n - rests_n,
            _ => n,
        };
        bench.file("set.csv", changed(&NOISY.csv(&clamps(weak)), zeroed));
        let run = bench.line(JUDGED);
        assert!(matches!(run.code, 1 | 3), "{rests_n} {at_s}: {run}");
        if run.code == 3 {
            run.shows("was it zeroed while the gauge rested on something?");
        }
    }
    // It comes off in one sample in every pause: that is how this one does it.
    let comes_off = |s: f64, n: f64| {
        let in_pause_s = s % 7.7;
        if n < 1_000.0 && (0.6..1.4).contains(&in_pause_s) {
            n - 1_500.0
        } else {
            n
        }
    };
    bench.file("set.csv", changed(&good(), comes_off));
    bench.line(JUDGED).exits(0);
}

/// A zero that steps by more than half a clamp hides the weak ones: those after it lie below zero, or all in one that never ends.
#[test]
fn clamps_behind_a_zero_that_stepped_are_missed_and_said_to_be() {
    let bench = bench!();
    let weak = [9_500.0, 9_520.0, 4_000.0, 3_900.0, 3_950.0];
    for (by_n, at_s, tells) in [
        (-6_000.0, 16.3, "below free"),
        (-9_400.0, 11.0, "below free"),
        (6_000.0, 16.3, "is never free again"),
    ] {
        let stepped = |s: f64, n: f64| if s >= at_s { n + by_n } else { n };
        bench.file("set.csv", changed(&NOISY.csv(&clamps(weak)), stepped));
        let run = bench.line(JUDGED);
        assert_ne!(run.code, 0, "{by_n} {at_s}: {run}");
        if run.code == 3 {
            run.shows(tells);
        }
    }
}

/// Somebody's program drew a line from one reading to the next over what was lost, and a clamp lay there.
#[test]
fn a_line_drawn_over_lost_readings_shows_nothing_new() {
    let bench = bench!();
    let set = NOISY.csv(&clamps([9_500.0, 9_530.0, 3_000.0, 9_510.0, 9_490.0]));
    let read_at = |wanted_s: f64| {
        let mut rows = set.lines().filter_map(|row| {
            let (time, force) = row.split_once(',')?;
            Some((time.parse::<f64>().ok()?, force.parse::<f64>().ok()?))
        });
        rows.find(|(time_s, _)| *time_s >= wanted_s)
            .expect("a row")
            .1
    };
    let (from_s, to_s) = (16.4, 24.4);
    let (from_n, to_n) = (read_at(from_s), read_at(to_s));
    for digit in [0.0, 0.01, 1.0] {
        let drawn = |s: f64, n: f64| {
            let n = match s {
                s if s > from_s && s < to_s => {
                    from_n + (to_n - from_n) * (s - from_s) / (to_s - from_s)
                }
                _ => n,
            };
            if digit > 0.0 {
                (n / digit).round() * digit
            } else {
                n
            }
        };
        bench.file("set.csv", changed(&set, drawn));
        bench.line(JUDGED).exits(3).shows("nothing new");
    }
}

/// Zeroed while it rested on the push-out, the gauge reads high where it hangs free, and all clamps read high by that.
#[test]
fn what_stands_still_above_the_free_gauge_may_have_been_the_free_gauge() {
    let bench = bench!();
    let forces = GOOD_N.map(|force_n| force_n - 2_100.0);
    let set = NOISY.csv(&clamps(forces));
    // The pauses: before clamp 1 to 2.4 s, 15.2 to 17.4 s before clamp 3, from 37.7 s on after the last.
    for (from_s, to_s) in [(-1.0, 2.3), (15.3, 17.3), (37.7, 99.0)] {
        for above_n in [420.0, 1_000.0, 2_500.0] {
            let lifted = |s: f64, n: f64| match s {
                s if s > from_s && s < to_s => n + above_n,
                _ => n,
            };
            bench.file("set.csv", changed(&set, lifted));
            bench.line(JUDGED).exits(3);
        }
    }
}

/// A meter on PEAK shows the highest reading until it is put back, in whatever steps it reads.
#[test]
fn a_reading_that_stands_still_in_coarse_steps_is_asked_about_as_in_fine_ones() {
    let bench = bench!();
    let in_steps = |csv: &str, step_n: f64| changed(csv, |_, n| (n / step_n).round() * step_n);
    for step_n in [0.001, 5.0, 10.0] {
        let held = std::cell::Cell::new(0.0);
        let peak = |_: f64, n: f64| {
            // Back to the force at the release, as somebody presses the key.
            held.set(if n < 1_000.0 { n } else { n.max(held.get()) });
            held.get()
        };
        bench.file("set.csv", in_steps(&changed(&good(), peak), step_n));
        let run = bench.line(JUDGED).exits(3);
        run.shows("stands still").shows("PEAK or HOLD");
        bench.file("set.csv", in_steps(&good(), step_n));
        bench.line(JUDGED).exits(0);
    }
}

#[test]
fn a_pause_in_which_nothing_moves_is_a_pause_in_which_nothing_was_read() {
    let bench = bench!();
    let all: Vec<MadeClamp> = clamps(GOOD_N);
    let csv = NOISY.csv(&all);
    // A logger that hung filled up with what it read last; clamp 3 was made meanwhile.
    let hung = std::cell::Cell::new(0.0);
    let fills = |s: f64, n: f64| {
        if !(16.0..23.5).contains(&s) {
            hung.set(n);
        }
        hung.get()
    };
    bench.file("set.csv", changed(&csv, fills));
    let run = bench.line(JUDGED).exits(3);
    run.shows("nothing new was read");
    // A meter that shows plain zero whenever it hangs free moves in no pause.
    let zeroed = changed(&csv, |_, n| if n.abs() < 60.0 { 0.0 } else { n });
    bench.file("set.csv", zeroed);
    let text = bench.line(JUDGED).out;
    assert!(!text.contains("nothing new was read"), "{text}");
}

/// In steps as coarse as its noise nobody sees that the pauses are cut off; that they are one number can be told.
#[test]
fn a_meter_that_sets_its_own_zero_is_told() {
    let bench = bench!();
    let in_steps = |csv: &str| changed(csv, |_, n| (n / 10.0).round() * 10.0);
    let noisy = Made {
        noise_n: 12.0,
        ..NOISY
    };
    let own = |_: f64, n: f64| if n.abs() < 200.0 { 0.0 } else { n };
    let free = noisy.csv(&clamps(GOOD_N));
    for (csv, code, is_told) in [
        (in_steps(&free), 0, false),
        (in_steps(&changed(&free, own)), 0, true),
    ] {
        bench.file("set.csv", csv);
        let run = bench.line(JUDGED).exits(code);
        assert_eq!(run.out.contains("sets its own zero"), is_told, "{run}");
    }
}

/// Answered beforehand is not unasked: what would have kept the set from being decided is named.
#[test]
fn what_as_read_answers_is_named_one_by_one() {
    let bench = bench!();
    let csv = NOISY.csv(&clamps(GOOD_N));
    let hung = std::cell::Cell::new(0.0);
    let fills = |s: f64, n: f64| {
        if !(16.0..23.5).contains(&s) {
            hung.set(n);
        }
        hung.get()
    };
    bench.file("set.csv", changed(&csv, fills));
    let named = "taken as read (--as-read): for ";
    let run = bench.line(&format!("{JUDGED} --as-read")).exits(0);
    let run = run.shows(named).shows("nothing new was read");
    drop(run);
    let document = bench.line(&format!("{JUDGED} --as-read --json")).exits(0);
    let values = document.json()["note_values"].to_string();
    assert!(values.contains("\"taken-as-read\""), "{values}");
    assert!(values.contains("\"unseen\""), "{values}");
    // Nothing was to be asked: nothing is named.
    bench.file("set.csv", &csv);
    let run = bench.line(&format!("{JUDGED} --as-read")).exits(0);
    assert!(!run.out.contains("taken as read"), "{run}");
}

/// Clamps that nobody asked for are in no figure, and may be the weak ones.
#[test]
fn what_a_file_holds_behind_the_clamps_asked_for_is_told() {
    let bench = bench!();
    let mut all = GOOD_N;
    all[4] = 5_200.0;
    bench.file("set.csv", NOISY.csv(&clamps(all)));
    let run = bench.line(&format!("{JUDGED} --clamps 3")).exits(3);
    run.shows("the file goes on after")
        .shows("2 more clamps are in no figure")
        .shows("clamp 5 was left out (it lies behind the clamps asked for)");
    let run = bench.line(&format!("{JUDGED} --clamps 5")).exits(3);
    assert!(!run.out.contains("the file goes on"), "{run}");
    // Good ones behind are told, and hold nothing back.
    bench.file("set.csv", good());
    let run = bench.line(&format!("{JUDGED} --clamps 3")).exits(0);
    run.shows("2 more clamps are in no figure");
    stored(&bench, &good(), "--clamps 3", 0);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(page.contains("2 more clamps are in no figure"));
    bench.in_book("recheck", &[]).exits(0);
}

#[test]
fn a_weak_clamp_in_a_noisy_record_is_seen() {
    let bench = bench!();
    for (noise_n, rate_hz, weak_n) in [
        (500.0, 500.0, 1_500.0),
        (300.0, 100.0, 1_000.0),
        (300.0, 100.0, 600.0),
        (300.0, 1_000.0, 400.0),
        (100.0, 100.0, 400.0),
        (100.0, 20.0, 400.0),
        (50.0, 100.0, 200.0),
    ] {
        let mut all = clamps(GOOD_N);
        all.insert(2, MadeClamp::of(weak_n));
        let noisy = Made {
            noise_n,
            rate_hz,
            ..NOISY
        };
        bench.file("set.csv", noisy.csv(&all));
        bench.line(JUDGED).exits(3).shows("hardly gripped");
        // What passes fast is a touch, however strong, and good clamps are good.
        let mut touched = clamps(GOOD_N);
        touched.insert(
            2,
            MadeClamp {
                hold_s: 0.1,
                ..MadeClamp::of(weak_n)
            },
        );
        for good in [clamps(GOOD_N), touched] {
            bench.file("set.csv", noisy.csv(&good));
            bench.line(JUDGED).exits(0);
        }
    }
}

#[test]
fn a_force_over_what_is_usual_for_the_taper_is_stopped_at_whatever_limit() {
    let bench = bench!();
    // 4.3 kN, written as pounds.
    let in_pounds = NOISY.csv(&clamps(GOOD_N.map(|n| 0.45 * n)));
    bench.file("set.csv", in_pounds.replacen("force_n", "force_lbf", 1));
    bench.line(JUDGED).exits(3).shows("stop: 127 %");
    bench.file("set.csv", good());
    bench.line(JUDGED).exits(0);
    // Whoever states a limit above the usual knows more of the spindle than its taper tells.
    bench.file("set.csv", NOISY.csv(&clamps(GOOD_N.map(|n| 2.1 * n))));
    bench.line(&JUDGED.replace("7000", "16000")).exits(0);
}

#[test]
fn a_spindle_that_hardly_grips_is_within_no_limit_that_says_nothing_of_it() {
    let bench = bench!();
    bench.file("set.csv", NOISY.csv(&clamps(GOOD_N.map(|n| n / 15.0))));
    let upper = "schema = 1\ntitle = \"T\"\n[[limit]]\nfigure = \"grip-mean\"\nside = \"upper\"\nlimit = 12\nunit = \"kN\"\nprovenance = \"common-practice\"\n";
    bench.file("upper.toml", upper);
    let with = |limit: &str| {
        format!("grip --from set.csv {limit} --uncertainty-percent 0.5 --interface 7/24-40")
    };
    for limit in [
        "--limit-cv-percent 5",
        "--limit-sag-n-per-s 10",
        "--limits upper.toml",
    ] {
        let run = bench.line(&with(limit));
        assert_ne!(run.code, 0, "{run}");
        bench
            .line(&with(&format!("{limit} --class standard")))
            .exits(1);
    }
}

#[test]
fn without_taper_and_nominal_no_limit_on_something_else_says_that_it_grips_enough() {
    let bench = bench!();
    let typed = |more: &str| {
        let line = format!(
            "grip --unit kN --uncertainty-percent 0.5 --limit-cv-percent 10 {more} --readings"
        );
        bench.run(line.split_whitespace().chain(["1.2 1.21 1.19 1.2 1.2"]))
    };
    for unknown in ["", "--interface 7/24-45", "--interface HSK-A25"] {
        typed(unknown).exits(3).shows("how little it may grip with");
    }
    typed("--interface BT40").exits(3);
    typed("--nominal-n 10000")
        .exits(3)
        .shows("12 % of the maker's nominal");
    typed("--nominal-n 1300").exits(0);
    typed("--limit-n 1000").exits(0);
}

#[test]
fn a_force_that_is_gone_for_a_moment_fell_and_made_no_second_clamp() {
    let bench = bench!();
    for gone_s in [0.05, 0.1, 0.2] {
        for from_s in [20.0, 35.0] {
            let gone = |row: &str| {
                let (time, _) = row.split_once(',')?;
                let time: f64 = time.parse().ok()?;
                let is_gone = time >= from_s && time < from_s + gone_s;
                is_gone.then(|| format!("{time:.4},3.0\n"))
            };
            let csv = good();
            let rows = csv
                .lines()
                .map(|row| gone(row).unwrap_or_else(|| format!("{row}\n")));
            bench.file("set.csv", rows.collect::<String>());
            let run = bench.line(&format!("{JUDGED} --json"));
            let clamps = run.json()["clamps"].as_array().map(Vec::len);
            assert_eq!(clamps, Some(5), "{gone_s} s from {from_s} s\n{run}");
            run.exits(3).shows("did somebody touch unclamp");
        }
    }
}

#[test]
fn a_zero_that_moved_in_pauses_too_short_for_one_is_not_believed() {
    let bench = bench!();
    let level_n = |clamp: usize| [6_600.0, 6_620.0, 6_590.0, 6_610.0, 6_580.0][clamp];
    let record = |read_n: &dyn Fn(f64, f64) -> f64| {
        let mut csv = "time_s,force_n\n".to_owned();
        for sample in 0..19_000_i32 {
            let time_s = f64::from(sample) / 500.0;
            let since = |clamp: usize| time_s - 3.0 - 5.55 * clamp as f64;
            let on = (0..5)
                .find(|clamp| (0.0..if *clamp == 4 { 12.0 } else { 5.0 }).contains(&since(*clamp)));
            let held_n = on.map_or(0.0, |clamp| level_n(clamp) * (since(clamp) / 0.1).min(1.0));
            let noise_n = f64::from((sample * 7_919) % 17 - 8) / 2.0;
            csv += &format!("{time_s:.3},{:.2}\n", read_n(time_s, held_n) + noise_n);
        }
        csv
    };
    let judged = |limit_n: f64| {
        let line = format!(
            "grip --from set.csv --limit-n {limit_n} --uncertainty-percent 0.5 --interface 7/24-40"
        );
        bench.line(&line)
    };
    bench.file("set.csv", record(&|_, held_n| held_n));
    judged(6_000.0).exits(0);
    judged(6_750.0).exits(1);
    let knocked = |time_s: f64, held_n: f64| held_n + if time_s >= 5.0 { 300.0 } else { 0.0 };
    bench.file("set.csv", record(&knocked));
    judged(6_750.0).exits(3);
    bench.file("set.csv", record(&|time_s, held_n| held_n - 8.3 * time_s));
    judged(6_500.0).exits(3);
}

#[test]
fn clamps_as_far_apart_as_two_units_are_not_outside_a_limit() {
    let bench = bench!();
    for times in [4.448, 0.4536, 9.807] {
        for changed_from in 1..5 {
            let mut place = 0;
            let forces = GOOD_N.map(|n| {
                place += 1;
                if place > changed_from { n / times } else { n }
            });
            bench.file("set.csv", NOISY.csv(&clamps(forces)));
            bench.line(JUDGED).exits(3).shows("did the unit change?");
        }
    }
    // A weak spindle, and one clamp that is weak.
    bench.file("set.csv", NOISY.csv(&clamps(GOOD_N.map(|n| n / 2.2))));
    bench.line(JUDGED).exits(1);
    let mut forces = GOOD_N;
    forces[2] = 2_000.0;
    bench.file("set.csv", NOISY.csv(&clamps(forces)));
    let run = bench.line(JUDGED).exits(3);
    assert!(!run.out.contains("unit change"), "{run}");
}

#[test]
fn a_hold_too_coarsely_read_to_show_a_drop_has_examined_none() {
    let bench = bench!();
    let long = |drop_n_per_s: f64| {
        let mut all = clamps(GOOD_N);
        all[4] = MadeClamp {
            hold_s: 12.0,
            drop_n_per_s,
            ..all[4]
        };
        NOISY.csv(&all)
    };
    let in_steps = |csv: &str, step_n: f64| changed(csv, |_, n| (n / step_n).round() * step_n);
    for (csv, examined) in [
        (long(0.0), true),
        (in_steps(&long(0.0), 50.0), true),
        (in_steps(&long(20.0), 1_000.0), false),
    ] {
        bench.file("set.csv", csv);
        let run = bench.line(JUDGED);
        assert_ne!(run.out.contains("not examined"), examined, "{run}");
    }
}

#[test]
fn figures_of_a_notebook_that_contradict_each_other_are_typed_anew() {
    let bench = bench!();
    let typed = "grip --readings 9.8;9.9;9.7 --unit kN --limit-n 7000 --uncertainty-percent 0.5";
    for (line, exit) in [
        (format!("{typed} --peak 6.0kN"), 2),
        (format!("{typed} --peak 9.95kN"), 0),
        ("grip --peak 6kN --mean 9.8kN".to_owned(), 2),
        ("grip --mean 9.8kN --lowest 9.9kN".to_owned(), 2),
        ("grip --peak 10kN --mean 9.8kN --lowest 9.7kN".to_owned(), 0),
    ] {
        let run = bench.line(&line).exits(exit);
        if exit == 2 {
            run.tells("cannot be beside");
        }
    }
}
