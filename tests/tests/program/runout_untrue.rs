//! Runout readings that look fine and are false: none is called within its limit, and sound ones beside them are.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use serde_json::Value;
use std::fmt::Write;

const SPINDLE: &str = "schema = 1\ntitle = \"Centre 1\"\n[[limit]]\nfigure = \"spindle-part\"\nlimit = 8\nunit = \"um\"\n\
                       provenance = \"maker\"\nsource = \"spindle sheet\"\n";
const TIMES: &str = "time_s,reading_um\n";
const PLANES: &str = "angle_deg,reading_um,height_mm,seating,orientation_deg\n";
const MARKED: &str = "time_s,reading_um,mark,height_mm,seating,orientation_deg\n";

/// Noise of about this standard deviation, always the same.
fn noise(place: u32, um: f64) -> f64 {
    let scattered = f64::from(place.wrapping_mul(2_654_435_761) >> 8) / f64::from(1_u32 << 24);
    let other =
        f64::from((place ^ 0x5bd1).wrapping_mul(2_246_822_519) >> 8) / f64::from(1_u32 << 24);
    um * 2.45 * (scattered + other - 1.0)
}

/// Fifty readings a second over twenty seconds, of the turns made up to each time.
fn free(turned: impl Fn(f64) -> f64, um: f64, noise_um: f64) -> String {
    let mut csv = TIMES.to_owned();
    for sample in 0..1000 {
        let time_s = 0.02 * f64::from(sample);
        let angle = 360.0 * turned(time_s) - 70.0;
        let reading = um * angle.to_radians().cos() + noise(sample, noise_um);
        writeln!(csv, "{time_s:.2},{reading:.2}").expect("a string takes all");
    }
    csv
}

/// The bar in four seatings, spindle off centre by 10 µm, turning in 6 s, with a mark every so many turns.
fn marked(every: f64, spindle_um: f64) -> String {
    let mut csv = MARKED.to_owned();
    for (seating, bar_um) in (1..).zip([2.0, -2.0, 2.1, -1.9]) {
        for sample in 0..2450_u32 {
            let time_s = 0.02 * f64::from(sample);
            let angle = 60.0 * time_s;
            let reading =
                (spindle_um + bar_um) * angle.to_radians().cos() + noise(sample + seating, 0.1);
            let mark = u8::from((angle / 360.0 / every).fract() < 0.02 / every);
            let turned = if seating % 2 == 1 { 0 } else { 180 };
            writeln!(
                csv,
                "{time_s:.2},{reading:.2},{mark},300,{seating},{turned}"
            )
            .expect("a string takes all");
        }
    }
    csv
}

/// Eight positions of a bar in four seatings, with what each is off centre towards 0° and 90°, µm.
fn seated(off_um: [(f64, f64); 4], noise_um: f64) -> String {
    let mut csv = PLANES.to_owned();
    for (seating, (x, y)) in (1..).zip(off_um) {
        for position in 0..=8_u32 {
            let angle = 45.0 * f64::from(position);
            let (sin, cos) = angle.to_radians().sin_cos();
            let reading = x * cos + y * sin + noise(9 * seating + position, noise_um);
            let turned = if seating % 2 == 1 { 0 } else { 180 };
            writeln!(csv, "{angle},{reading:.2},300,{seating},{turned}")
                .expect("a string takes all");
        }
    }
    csv
}

#[track_caller]
fn judged(bench: &Bench, csv: &str, options: &str, code: i32) -> (Run, Value) {
    bench.file("set.csv", csv).file("part.toml", SPINDLE);
    let run = bench
        .line(&format!(
            "runout --from set.csv --at bar --uncertainty-um 0.5 --json {options}"
        ))
        .exits(code);
    let document = run.json();
    (run, document)
}

#[track_caller]
fn says(document: &Value, text: &str) {
    assert!(document.to_string().contains(text), "{text}: {document:#}");
}

#[test]
fn a_free_turn_that_shows_no_whole_turn_is_within_no_limit() {
    let bench = bench!();
    let limit = "--height-mm 300 --limit-um 15";
    for share in [0.2, 0.45, 0.7, 0.95] {
        for um in [3.0, 6.0] {
            let (_, document) = judged(&bench, &free(|t| share * t / 20.0, um, 0.1), limit, 3);
            says(&document, "no stretch of them repeats");
        }
    }
    for noise_um in [0.05, 0.2] {
        let (_, document) = judged(&bench, &free(|_| 0.0, 5.0, noise_um), limit, 3);
        says(&document, "one that stood still");
    }
    // What was seen is there: part of a turn over the limit is outside it.
    judged(&bench, &free(|t| 0.45 * t / 20.0, 30.0, 0.1), limit, 1);
}

#[test]
fn free_turns_that_came_round_are_judged_however_they_were_turned() {
    let bench = bench!();
    let limit = "--height-mm 300 --limit-um 15";
    let steady = |t: f64| 2.3 * t / 20.0;
    let unsteady = |t: f64| 2.3 * t / 20.0 + 0.04 * (1.9 * t).sin();
    let with_a_stop = |t: f64| 0.16 * t.min(8.0) + 0.16 * (t - 12.0).max(0.0);
    let backwards = |t: f64| -1.55 * t / 20.0;
    for noise_um in [0.02, 0.1, 0.5] {
        judged(&bench, &free(steady, 5.0, noise_um), limit, 0);
        judged(&bench, &free(unsteady, 5.0, noise_um), limit, 0);
        judged(&bench, &free(with_a_stop, 5.0, noise_um), limit, 0);
        judged(&bench, &free(backwards, 5.0, noise_um), limit, 0);
    }
}

#[test]
fn a_mark_that_does_not_come_once_a_turn_accepts_no_spindle() {
    let bench = bench!();
    for every in [0.5, 1.25, 2.0, 3.0] {
        let (_, document) = judged(&bench, &marked(every, 10.0), "--limits part.toml", 3);
        says(&document, "does the mark come once a turn?");
    }
    judged(&bench, &marked(1.0, 10.0), "--limits part.toml", 1);
    judged(&bench, &marked(1.0, 2.0), "--limits part.toml", 0);
    // All the readings lie within the limit: whatever the mark did, no more comes once a turn.
    judged(&bench, &marked(1.0, 0.1), "--limits part.toml", 0);
}

#[test]
fn an_indicator_that_did_not_follow_is_asked_about() {
    let bench = bench!();
    let typed = |readings: &str, options: &str| {
        let place = "--unit um --positions 8 --at bar --height-mm 300 --uncertainty-um 0.5";
        let rest = place.split(' ').chain(options.split(' '));
        bench.run(["runout", "--readings", readings].into_iter().chain(rest))
    };
    typed("10 13 15 13 10 10 10 10 10", "--limit-um 8")
        .exits(3)
        .shows("did the indicator touch");
    typed("0 0 0 0 0 0 0 0 0", "--limit-um 10")
        .exits(2)
        .tells("does the tip touch?");
    typed("0 0 0 0 0 0 0 0 0", "--limit-um 10 --as-read").exits(0);
    // A coarse dial on a small runout.
    for readings in [
        "0 1 1 1 0 -1 -1 -1 0",
        "1 1 1 0 0 0 0 1 1",
        "2 2 1 -1 -2 -2 -1 1 2",
    ] {
        typed(readings, "--limit-um 10").exits(0);
    }
    let (_, document) = judged(
        &bench,
        &seated([(12.0, 0.0), (12.0, 0.3), (12.2, 0.0), (12.0, -0.2)], 0.1)
            .lines()
            .map(|line| match line.split_once(',') {
                Some((angle, rest)) if angle != "angle_deg" => {
                    let (um, rest) = rest.split_once(',').expect("five columns");
                    let um: f64 = um.parse().expect("a reading");
                    format!("{angle},{:.2},{rest}\n", um.min(-2.0))
                }
                _ => format!("{line}\n"),
            })
            .collect::<String>(),
        "--limit-um 20",
        3,
    );
    says(&document, "end of its travel");
    let mut thousandths = "angle_deg,reading_um\n".to_owned();
    for position in 0..=8_u32 {
        let angle = 45.0 * f64::from(position);
        writeln!(
            thousandths,
            "{angle},{:.5}",
            0.02 * angle.to_radians().cos()
        )
        .expect("a string takes all");
    }
    bench.file("set.csv", thousandths);
    bench
        .line("runout --from set.csv --at bar --height-mm 300 --uncertainty-um 0.5 --limit-um 10")
        .exits(4)
        .tells("line 2, column reading_um");
}

/// Whatever goes round comes back: numbers that climb evenly are those of the positions, or their angles.
#[test]
fn the_numbers_of_the_positions_are_no_readings() {
    let bench = bench!();
    let typed = |readings: &str| {
        let place =
            "--unit um --positions 8 --at bar --height-mm 300 --uncertainty-um 0.5 --limit-um 15";
        bench.run(
            ["runout", "--readings", readings]
                .into_iter()
                .chain(place.split(' ')),
        )
    };
    for readings in ["1 2 3 4 5 6 7 8", "1 2 3 4 5 6 7 8 1", "8 7 6 5 4 3 2 1"] {
        typed(readings)
            .exits(2)
            .tells("are they the numbers, or the angles, of the positions?");
    }
    let rows = (0..8).map(|n| format!("{},{}\n", 45 * n, n + 1));
    let csv = format!("angle_deg,reading_um\n{}", rows.collect::<String>());
    bench.file("set.csv", &csv);
    let line = "runout --from set.csv --at bar --height-mm 300 --uncertainty-um 0.5 --limit-um 15";
    bench
        .line(line)
        .exits(4)
        .tells("set.csv, line 2, column reading_um")
        .tells("are they the numbers");
    // A taper that a speck lifts climbs a while, and comes back.
    typed("1 2 3 4 3 2 1 0").exits(0);
}

#[test]
fn one_plane_written_twice_is_asked_about() {
    let bench = bench!();
    let one = seated([(1.0, 0.4); 4], 0.1);
    let first: Vec<&str> = one.lines().skip(1).take(9).collect();
    let mut copied = PLANES.to_owned();
    for (seating, turned) in [(1, 0), (2, 180), (3, 0), (4, 180)] {
        for line in &first {
            let row: Vec<&str> = line.split(',').collect();
            writeln!(copied, "{},{},300,{seating},{turned}", row[0], row[1])
                .expect("a string takes all");
        }
    }
    bench.file("set.csv", &copied).file("part.toml", SPINDLE);
    let line = "runout --from set.csv --at bar --uncertainty-um 0.5 --limits part.toml";
    bench
        .line(line)
        .exits(4)
        .tells("line 11, column reading_um")
        .tells("Was one plane copied?");
    bench
        .line(&format!("{line} --as-read"))
        .exits(0)
        .shows("kept as read");
    let each_read = [(1.0, 0.4), (1.3, 0.2), (0.7, 0.6), (1.2, 0.8)];
    judged(&bench, &seated(each_read, 0.1), "--limits part.toml", 0);
}

#[test]
fn what_is_the_bars_rests_on_what_was_said_of_it() {
    let bench = bench!();
    // Spindle and bar exchanged: the bar of the certificate cannot run out so far.
    let exchanged = seated([(9.0, 0.2), (-7.0, 0.1), (9.1, -0.2), (-7.2, 0.3)], 0.1);
    let (_, document) = judged(&bench, &exchanged, "--limits part.toml --bar-um 3", 3);
    says(&document, "far more than its certificate says");
    // Without a certificate it may be a bent bar: said, not held against the spindle.
    let (_, document) = judged(&bench, &exchanged, "--limits part.toml", 0);
    says(
        &document,
        "were the positions counted from the mark on the spindle?",
    );
    let true_bar = seated([(1.0, 0.2), (1.1, 0.1), (0.9, 0.2), (1.0, 0.0)], 0.1);
    let (_, document) = judged(&bench, &true_bar, "--limits part.toml", 0);
    says(&document, "was it turned?");
    let sound = seated([(4.0, 0.2), (-2.0, 0.1), (4.1, 0.0), (-2.1, 0.2)], 0.1);
    let (_, document) = judged(&bench, &sound, "--limits part.toml --bar-um 6", 0);
    assert!(
        !document["notes"].to_string().contains("was it turned"),
        "{document:#}"
    );
}

#[test]
fn times_begin_again_with_a_plane() {
    let bench = bench!();
    let (_, document) = judged(&bench, &marked(1.0, 2.0), "--limits part.toml", 0);
    assert_eq!(document["planes"].as_array().map(Vec::len), Some(4));
    let mut csv = free(|t| 0.2 * t, 5.0, 0.1);
    csv += "0.00,1.0\n";
    bench.file("set.csv", csv);
    bench
        .line("runout --from set.csv")
        .exits(4)
        .tells("set.csv, line 1002, column time_s");
}

#[test]
fn a_single_reading_off_all_its_neighbours_rejects_no_spindle() {
    let bench = bench!();
    let sound = free(|t| 0.2 * t, 3.0, 0.05);
    let knocked = |places: std::ops::Range<usize>, um: f64| {
        let line = |(place, line): (usize, &str)| {
            let (time, reading) = line.split_once(',').expect("two columns");
            match reading.parse::<f64>() {
                Ok(reading) if places.contains(&place) => format!("{time},{:.2}\n", reading + um),
                _ => format!("{line}\n"),
            }
        };
        sound.lines().enumerate().map(line).collect::<String>()
    };
    let limit = "--height-mm 300 --limit-um 10";
    judged(&bench, &sound, limit, 0);
    for um in [40.0, -40.0] {
        let (_, document) = judged(&bench, &knocked(500..501, um), limit, 3);
        says(&document, "stands far off all its neighbours");
    }
    // A scratch that passes in several readings is there.
    judged(&bench, &knocked(500..506, 40.0), limit, 1);
    // And without the one reading it would be outside all the same.
    judged(
        &bench,
        &knocked(500..501, 40.0),
        "--height-mm 300 --limit-um 4",
        1,
    );
}

/// Typed at equal positions on the bar at 300 mm.
#[track_caller]
fn dial(bench: &Bench, readings: &str, options: &str, code: i32) -> Run {
    let place = "--unit um --at bar --height-mm 300 --uncertainty-um 0.5";
    let rest = place.split(' ').chain(options.split(' '));
    bench
        .run(["runout", "--readings", readings].into_iter().chain(rest))
        .exits(code)
}

#[test]
fn a_dial_written_without_its_signs_is_within_no_limit_it_could_miss() {
    let bench = bench!();
    for readings in [
        "3 2 0 2 3 2 0 2 3",
        "3 3 1 1 3 3 1 1 3",
        "-3 -2 0 -2 -3 -2 0 -2 -3",
        "2.9 2.3 0.3 1.9 2.9 2.3 0.3 1.9 2.9",
    ] {
        dial(&bench, readings, "--positions 8 --limit-um 6", 3)
            .shows("written without their signs")
            .shows("--as-read");
        // Whatever the signs were, the runout is within twice the farthest reading.
        dial(&bench, readings, "--positions 8 --limit-um 12", 0);
        dial(&bench, readings, "--positions 8 --limit-um 6 --as-read", 0).shows("kept as read");
    }
    let folded = "5 4 3 1 2 4 5 4 3 1 2 4 5";
    dial(&bench, folded, "--positions 12 --limit-um 8", 3).shows("without their signs");
    for zeroed in [
        "4 3 2 0 0 0 2 3 4",
        "0 0 -2 -3 -4 -4 -2 -1 0",
        "12 11 10 9 8 9 10 11 12",
    ] {
        dial(&bench, zeroed, "--positions 8 --limit-um 8", 0);
    }
}

#[test]
fn a_turn_that_did_not_come_back_is_within_no_limit_it_could_miss() {
    let bench = bench!();
    // Half a turn read as a whole one: 10 µm off centre, which is 20 µm of runout.
    let half = "10 9.2 7.1 3.8 0 -3.8 -7.1 -9.2 -10";
    dial(&bench, half, "--positions 8 --limit-um 15", 3).shows("the turn was not whole");
    // A drift that the limit leaves room for.
    let warm = "3 3.2 2 0.7 -0.3 0.3 2 3.9 5.4";
    dial(&bench, warm, "--positions 8 --limit-um 15", 0);
}

#[test]
fn part_of_a_turn_divided_evenly_is_within_no_limit_the_whole_could_miss() {
    let bench = bench!();
    // Half a turn from crossing to crossing, and from high to low; a third.
    for readings in [
        "0 7 13 17 18 17 13 7",
        "7 13 17 18 17 13 7 0",
        "0 7 13 17 18 17 13 7.1",
    ] {
        dial(&bench, readings, "--positions 8 --limit-um 32", 3)
            .shows("was one whole turn divided?")
            .shows("read the first again at its end");
        dial(&bench, readings, "--positions 8 --limit-um 60", 0);
    }
    for readings in ["0 4 8 11 14 16 17 18", "18 17.7 16.6 15 12.7 10 6.9 3.5"] {
        dial(&bench, readings, "--positions 8 --limit-um 32", 3);
    }
    for whole in [
        "9 6 0 -6 -9 -6 0 6",
        "5 5 2 -2 -5 -5 -2 2",
        "3.1 2 0.2 -2 -3 -2.2 0 2.1",
    ] {
        dial(&bench, whole, "--positions 8 --limit-um 24", 0);
    }
}

#[test]
fn positions_twice_as_far_apart_as_said_accept_no_spindle() {
    let bench = bench!();
    let mut csv = PLANES.to_owned();
    for (seating, turned) in [(1, 0), (2, 180), (3, 0), (4, 180)] {
        for position in 0..=8_u32 {
            let turn = 90.0 * f64::from(position);
            let reading = 10.0 * turn.to_radians().cos() + noise(9 * seating + position, 0.1);
            let angle = 45 * position;
            writeln!(csv, "{angle},{reading:.2},300,{seating},{turned}")
                .expect("a string takes all");
        }
    }
    let (_, document) = judged(&bench, &csv, "--limits part.toml", 3);
    says(&document, "were the positions as far apart as was said?");
}

#[test]
fn a_copied_plane_is_found_however_it_was_dressed() {
    let bench = bench!();
    let one = seated([(4.0, 0.4); 4], 0.1);
    let first: Vec<f64> = one
        .lines()
        .skip(1)
        .take(8)
        .filter_map(|line| line.split(',').nth(1)?.parse().ok())
        .collect();
    type Dress = fn(&[f64], usize) -> f64;
    let dresses: [(&str, Dress); 5] = [
        ("moved on by half a turn", |um, n| um[(n + 4) % 8]),
        ("turned over", |um, n| -um[n]),
        ("with the dial set anew", |um, n| um[n] + 2.0),
        ("with one digit changed", |um, n| {
            um[n] + if n == 3 { 0.04 } else { 0.0 }
        }),
        ("scaled", |um, n| 0.5 * um[n]),
    ];
    for (name, dress) in dresses {
        for (heights, orientations) in [([300, 300], [0, 180]), ([20, 300], [0, 0])] {
            let mut csv = PLANES.to_owned();
            for plane in 0..2_usize {
                for position in 0..=8_usize {
                    let n = position % 8;
                    let um = if plane == 0 {
                        first[n]
                    } else {
                        dress(&first, n)
                    };
                    writeln!(
                        csv,
                        "{},{um:.2},{},{},{}",
                        45 * position,
                        heights[plane],
                        plane + 1,
                        orientations[plane]
                    )
                    .expect("a string takes all");
                }
            }
            bench.file("set.csv", &csv);
            let run =
                bench.line("runout --from set.csv --at bar --uncertainty-um 0.5 --limit-um 40");
            assert_eq!(run.code, 4, "{name}\n{run}");
            run.tells("line 11, column reading_um");
        }
    }
}

#[test]
fn a_limit_at_a_height_is_on_wall_or_bar_and_keys_turn_no_bar() {
    let bench = bench!();
    let one = seated([(2.0, 0.0); 4], 0.1);
    let nine: String = one
        .lines()
        .take(10)
        .map(|line| format!("{line}\n"))
        .collect();
    bench.file("one.csv", nine);
    for at in ["axial", "face"] {
        bench
            .line(&format!(
                "runout --from one.csv --at {at} --uncertainty-um 0.5 --limit-um 300=15"
            ))
            .exits(3)
            .shows("nothing was measured at 300 mm");
    }
    bench
        .line("runout --from one.csv --at bar --uncertainty-um 0.5 --limit-um 300=15")
        .exits(0);
    // An HSK form A lets a bar in one way: readings that name two are of no spindle alone.
    let turned = seated([(3.0, 0.2), (-1.0, 0.1), (3.1, 0.0), (-1.1, 0.2)], 0.1);
    let keyed = "--limits part.toml --interface HSK-A63";
    let (_, document) = judged(&bench, &turned, keyed, 3);
    says(&document, "the keys let the bar in one position only");
    let (_, document) = judged(&bench, &turned, &format!("{keyed} --as-read"), 0);
    says(&document, "kept as read");
    says(&document, "taken as read (--as-read): ");
    judged(&bench, &turned, "--limits part.toml --interface HSK-E63", 0);
}

#[test]
fn an_indicator_that_cannot_be_is_refused() {
    let bench = bench!();
    let sound = "4 3 0 -3 -4 -3 0 3 4";
    for (options, says) in [
        ("--uncertainty-um 0.001", "Is it in mm?"),
        ("--uncertainty-um 1e-9", "no indicator is certified to less"),
        (
            "--uncertainty-um 0.5 --lever-deg 80",
            "expected 0 to 45 degrees",
        ),
        (
            "--uncertainty-um 0.5 --position-error-deg 90",
            "expected 0 to 45 degrees",
        ),
    ] {
        let rest = "--unit um --positions 8 --at bar --height-mm 300 --limit-um 15".split(' ');
        bench
            .run(
                ["runout", "--readings", sound]
                    .into_iter()
                    .chain(rest)
                    .chain(options.split(' ')),
            )
            .exits(2)
            .tells(says);
    }
}

#[test]
fn a_set_as_left_takes_the_place_only_of_what_was_held_to_no_more() {
    let bench = bench!();
    let out = "9 6 0 -6 -9 -6 0 6 9";
    let within = "4 3 0 -3 -4 -3 0 3 4";
    for (height, limit, verdict) in [
        ("300", "300=10", "accept"),
        ("20", "20=10", "reject"),
        ("300", "300=40", "reject"),
    ] {
        let spindle = format!("Centre {height}, {limit}");
        bench
            .in_book("spindle add --interface BT40", &[&spindle])
            .exits(0);
        bench.in_book("visit start --spindle", &[&spindle]).exits(0);
        let line = |state: &str, height: &str, limit: &str| {
            format!(
                "runout --store --state {state} --unit um --positions 8 --at bar --height-mm {height} --uncertainty-um 0.5 --limit-um {limit} --readings"
            )
        };
        bench
            .in_book(&line("as-found", "300", "300=10"), &[out])
            .exits(1);
        bench
            .in_book(&line("as-left", height, limit), &[within])
            .exits(0);
        let status = bench.in_book("visit status --json", &[]).exits(0).json();
        assert_eq!(status["visit"]["outcome"], verdict, "{spindle}");
        let overview = bench.in_book("overview --json", &[]).exits(0).json();
        let all = overview["spindles"].as_array().expect("spindles").iter();
        let mut its = all.filter(|each| each["name"] == spindle.as_str());
        assert_eq!(
            its.next().expect("it is there")["last_visit"]["outcome"],
            verdict
        );
        bench.in_book("visit finish --yes", &[]).exits(0);
    }
}

#[test]
fn a_limit_without_an_uncertainty_is_not_called_no_limit() {
    let bench = bench!();
    bench
        .in_book(
            "spindle add --interface BT40 --nominal-n 10000 --minimum-n 7000",
            &["Centre 1"],
        )
        .exits(0);
    bench
        .in_book("visit start --spindle", &["Centre 1"])
        .exits(0);
    bench
        .in_book("grip --mean 5kN --store --state as-found", &[])
        .exits(0);
    bench
        .in_book("visit status", &[])
        .shows("grip      not judged");
    bench.in_book("visit finish --yes", &[]).exits(0);
    bench.in_book("report --html page.html", &[]).exits(0);
    let page = std::fs::read_to_string(bench.path("page.html")).expect("the page");
    assert!(!page.contains("No limit"), "one is known");
    assert!(page.contains("its limit is known, but not the uncertainty of the force gauge"));
}

#[test]
fn a_laxer_limit_typed_takes_nothing_from_the_makers_on_runout() {
    let bench = bench!();
    let file = |provenance: &str| {
        SPINDLE
            .replace("spindle-part", "tir\"\nheight_mm = 300")
            .replace("300\"", "300")
            .replace("maker", provenance)
    };
    bench
        .file("maker.toml", file("maker"))
        .file("own.toml", file("published"));
    let out = "9 6 0 -6 -9 -6 0 6 9";
    let judged = |options: &str, code| dial(&bench, out, &format!("--positions 8 {options}"), code);
    judged("--limits maker.toml --limit-um 300=40", 1).shows("at most 8.0 µm");
    judged("--limits maker.toml --limit-um 40", 1);
    judged("--limits own.toml --limit-um 300=40", 0);
    let strict = judged("--limits maker.toml --limit-um 300=6", 1);
    assert!(!strict.out.contains("at most 8.0 µm"), "{strict}");
}

/// The wall at two depths, off centre by so much towards 0° and 90°, µm, and the bar at 20 mm in four seatings.
fn with_wall(wall_um: [(f64, f64); 2], bar_um: [(f64, f64); 4]) -> String {
    let mut csv = "angle_deg,reading_um,at,height_mm,seating,orientation_deg\n".to_owned();
    let mut plane = |(x, y): (f64, f64), surface: &str, seating: u32, turned: u32| {
        for position in 0..=8_u32 {
            let angle = 45.0 * f64::from(position);
            let (sin, cos) = angle.to_radians().sin_cos();
            let scattered = noise(9 * seating + position, 0.1);
            let reading = 7.0 + x * cos + y * sin + scattered;
            writeln!(csv, "{angle},{reading:.2},{surface},{seating},{turned}")
                .expect("a string takes all");
        }
    };
    for (seating, (depth, off_um)) in (11..).zip(["-8", "-40"].into_iter().zip(wall_um)) {
        plane(off_um, &format!("wall,{depth}"), seating, 0);
    }
    for (seating, off_um) in (1..).zip(bar_um) {
        plane(off_um, "bar,20", seating, 180 * ((seating + 1) % 2));
    }
    csv
}

#[test]
fn a_wall_that_says_the_contrary_accepts_no_spindle() {
    let bench = bench!();
    // 6 µm off centre, 1 µm the bar's; the positions counted from the mark on the bar.
    let from_the_bar = [(7.0, 0.3), (-5.1, 0.2), (7.2, -0.1), (-5.0, 0.0)];
    let from_the_spindle = [(7.0, 0.3), (5.1, 0.2), (7.2, -0.1), (5.0, 0.0)];
    let part = "--limits part.toml";
    for wall in [
        [(6.0, 0.0); 2],
        [(4.2, 4.2), (4.4, 4.0)],
        [(6.2, 0.1), (5.0, 0.0)],
        [(-3.0, 5.0), (-3.1, 4.8)],
    ] {
        let (_, document) = judged(&bench, &with_wall(wall, from_the_bar), part, 3);
        says(&document, "they cannot both be right");
        says(
            &document,
            "count the positions from the mark on the spindle",
        );
    }
    judged(
        &bench,
        &with_wall([(6.0, 0.0); 2], from_the_spindle),
        part,
        1,
    );
    // A wall that runs true takes the question away, one whose tilt says nothing does not.
    let ask = "were the positions counted from the mark on the spindle?";
    for wall in [[(0.3, 0.2); 2], [(1.0, 0.2), (1.2, -0.3)]] {
        let (_, document) = judged(&bench, &with_wall(wall, from_the_bar), part, 0);
        assert!(!document.to_string().contains(ask), "{document:#}");
    }
    let far: String = with_wall([(0.3, 0.2); 2], from_the_bar).replace("bar,20", "bar,300");
    let (_, document) = judged(&bench, &far, part, 0);
    says(&document, ask);
}

#[test]
fn a_bar_that_was_left_in_shows_no_seat() {
    let bench = bench!();
    let limit = |figure: &str, um: f64| {
        SPINDLE
            .replace("spindle-part", figure)
            .replace("limit = 8", &format!("limit = {um}"))
    };
    bench
        .file("seat.toml", limit("seat", 3.0))
        .file("four.toml", limit("four-seatings", 15.0));
    let quarters = |csv: String| {
        let turned = |line: &str| match line.rsplit_once(',').zip(line.split(',').nth(3)) {
            Some(((rest, _), seating)) if seating.len() == 1 => {
                let seating: u32 = seating.parse().expect("a seating");
                format!("{rest},{}\n", 90 * (seating - 1))
            }
            _ => format!("{line}\n"),
        };
        csv.lines().map(turned).collect::<String>()
    };
    let seat = "--limits seat.toml";
    let four = "--limits four.toml";
    let part = "--limits part.toml";
    let ask = "was the bar taken out";
    for noise_um in [0.02, 0.1, 0.3] {
        let left_in = seated([(2.5, 1.0); 4], noise_um);
        for (csv, limits) in [
            (left_in.clone(), seat),
            (quarters(left_in.clone()), four),
            (left_in.clone(), part),
        ] {
            let (_, document) = judged(&bench, &csv, limits, 3);
            says(&document, ask);
            says(&document, "take the bar out before each seating");
            let (_, document) = judged(&bench, &csv, &format!("{limits} --as-read"), 0);
            says(&document, "kept as read");
        }
        // What hides nothing is no matter: a TIR, and a bar that is known.
        judged(&bench, &left_in, "--limit-um 10", 0);
        judged(&bench, &left_in, "--limits part.toml --bar-um 1.5", 0);
        // Taken out, a good seat comes back beside itself.
        let good = seated(
            [(2.5, 1.0), (2.9, 0.7), (2.2, 1.3), (2.4, 0.5)],
            noise_um / 3.0,
        );
        for (csv, limits) in [
            (good.clone(), seat),
            (quarters(good.clone()), four),
            (good, part),
        ] {
            let (_, document) = judged(&bench, &csv, limits, 0);
            assert!(!document.to_string().contains(ask), "{document:#}");
        }
    }
    // Turned, but not taken out between two readings of one orientation.
    let pairs = seated([(4.0, 0.0), (-2.0, 0.0), (4.0, 0.0), (-2.0, 0.0)], 0.1);
    judged(&bench, &pairs, part, 0);
    let (_, document) = judged(&bench, &pairs, seat, 3);
    says(&document, ask);
}

#[test]
fn a_tip_that_flickers_where_it_does_not_touch_is_within_no_limit_it_could_miss() {
    let bench = bench!();
    let limit = "--height-mm 300 --limit-um 30";
    // 16 µm off centre; below this the tip hangs free, and flickers.
    let read = |angle_deg: f64, at: u32, ends_um: [f64; 2], flicker_um: f64| {
        let surface = 16.0 * (angle_deg - 80.0).to_radians().cos() + noise(at, 0.05);
        let flicker = noise(at + 77, flicker_um).abs();
        let [low, high] = ends_um;
        if surface < low {
            low + flicker
        } else if surface > high {
            high - flicker
        } else {
            surface
        }
    };
    let stepped = |positions: u32, first_deg: f64, ends_um, flicker_um| {
        let mut csv = "angle_deg,reading_um\n".to_owned();
        for position in 0..=positions {
            let angle = 360.0 * f64::from(position) / f64::from(positions);
            let um: f64 = read(angle + first_deg, position % positions, ends_um, flicker_um);
            writeln!(csv, "{angle},{um:.1}").expect("a string takes all");
        }
        csv
    };
    let turning = |ends_um, flicker_um, marked: bool| {
        let mut csv = if marked {
            "time_s,reading_um,mark\n"
        } else {
            TIMES
        }
        .to_owned();
        for sample in 0..1000_u32 {
            let time_s = 0.02 * f64::from(sample);
            let turned = 0.17 * time_s;
            let um = read(360.0 * turned, sample, ends_um, flicker_um);
            let mark = match marked {
                true => format!(",{}", u8::from(turned.fract() < 0.02)),
                false => String::new(),
            };
            writeln!(csv, "{time_s:.2},{um:.1}{mark}").expect("a string takes all");
        }
        csv
    };
    let free = f64::INFINITY;
    for ends_um in [[-2.0, free], [2.0, free], [-free, 0.0], [-free, 4.0]] {
        for flicker_um in [0.1, 0.2, 0.3] {
            for positions in [8, 12, 16, 36] {
                for first_deg in [0.0, 17.0, 22.5] {
                    let csv = stepped(positions, first_deg, ends_um, flicker_um);
                    let (_, document) = judged(&bench, &csv, limit, 3);
                    says(&document, "did the indicator touch");
                }
            }
            for marked in [false, true] {
                let csv = turning(ends_um, flicker_um, marked);
                let (_, document) = judged(&bench, &csv, limit, 3);
                says(&document, "did the indicator touch");
            }
        }
    }
    // Quick indicators and slow ones, quiet and noisy, and a tip that hangs free for half of every turn.
    let quickly = |rate_hz: f64, turns_s: f64, noise_um: f64, end_um: f64| {
        let mut csv = TIMES.to_owned();
        for sample in 0..1_000_000_u32 {
            let time_s = f64::from(sample) / rate_hz;
            if time_s * turns_s > 4.3 {
                break;
            }
            let angle_deg = 360.0 * turns_s * time_s - 80.0;
            let um = (4.0 * angle_deg.to_radians().cos()).max(end_um) + noise(sample, noise_um);
            writeln!(csv, "{time_s:.4},{um:.3}").expect("a string takes all");
        }
        csv
    };
    for rate_hz in [50.0, 200.0, 1000.0] {
        for turns_s in [0.17, 0.5] {
            for noise_um in [0.005, 0.02, 0.1] {
                for end_um in [-1.0, 0.0, 1.0] {
                    let csv = quickly(rate_hz, turns_s, noise_um, end_um);
                    let what = format!("{rate_hz} {turns_s} {noise_um} {end_um}");
                    bench.file("set.csv", csv);
                    let line = "runout --from set.csv --at bar --height-mm 40 --limit-um 7 --uncertainty-um 0.5";
                    let run = bench.line(line);
                    assert_eq!(run.code, 3, "{what}\n{run}");
                    run.shows("did the indicator touch");
                }
                let csv = quickly(rate_hz, turns_s, noise_um, -free);
                bench.file("set.csv", csv);
                bench
                    .line("runout --from set.csv --at bar --height-mm 40 --limit-um 10 --uncertainty-um 0.5")
                    .exits(0);
            }
        }
    }
    // Nothing that the tip missed could be over a limit of 50 µm; and one that touched has missed nothing.
    judged(
        &bench,
        &stepped(8, 0.0, [0.0, free], 0.2),
        "--limit-um 50",
        0,
    );
    for positions in [8, 12, 16, 36] {
        judged(
            &bench,
            &stepped(positions, 17.0, [-free, free], 0.2),
            "--limit-um 36",
            0,
        );
    }
    for marked in [false, true] {
        judged(
            &bench,
            &turning([-free, free], 0.2, marked),
            "--limit-um 34",
            0,
        );
    }
}

#[test]
fn an_oval_bar_that_was_followed_is_judged() {
    let bench = bench!();
    for (number, oval_um) in (0..).zip([0.5, 1.0, 1.5]) {
        for positions in [8, 12, 16] {
            for phase in 0..6_u32 {
                let mut csv = "angle_deg,reading_um\n".to_owned();
                for position in 0..=positions {
                    let angle = 360.0 * f64::from(position) / f64::from(positions);
                    let at = |order: f64, from: f64| (order * angle - from).to_radians().cos();
                    let um = 10.0 * at(1.0, 20.0)
                        + oval_um * at(2.0, 60.0 * f64::from(phase))
                        + 0.3 * at(3.0, 50.0 * f64::from(phase))
                        + noise(100 * number + 10 * phase + position % positions, 0.1);
                    writeln!(csv, "{angle},{um:.1}").expect("a string takes all");
                }
                judged(&bench, &csv, "--height-mm 300 --limit-um 26", 0);
            }
        }
    }
}

#[test]
fn planes_that_show_nothing_but_scatter_are_of_no_turned_spindle() {
    let bench = bench!();
    for noise_um in [0.05, 0.1, 0.3] {
        let still = seated([(0.0, 0.0); 4], noise_um);
        for limit in ["--limits part.toml", "--limit-um 10"] {
            let (_, document) = judged(&bench, &still, limit, 3);
            says(&document, "was the spindle turned between them?");
            says(&document, "turn the spindle on to each position");
            judged(&bench, &still, &format!("{limit} --as-read"), 0);
        }
        let fine = [(0.6, 0.2), (0.2, 0.5), (0.5, -0.4), (0.1, 0.4)].map(|(x, y)| {
            let times = (6.0 * noise_um).max(0.5);
            (times * x, times * y)
        });
        judged(&bench, &seated(fine, noise_um), "--limit-um 10", 0);
    }
}

#[test]
fn a_depth_that_the_taper_does_not_have_is_asked_about() {
    let bench = bench!();
    let line = |depth: &str, taper: &str| {
        format!(
            "runout --from set.csv --at wall --height-mm=-{depth} --interface {taper} --uncertainty-um 0.5 --limit-um 25"
        )
    };
    let turn =
        "angle_deg,reading_um\n0,0\n45,3\n90,5\n135,3\n180,0\n225,-3\n270,-5\n315,-3\n360,0.1\n";
    bench.file("set.csv", turn);
    for (depth, taper, fits) in [
        ("60", "BT40", true),
        ("80", "BT40", false),
        ("80", "BT50", true),
        ("43", "HSK-A63", false),
        ("25", "HSK-A63", true),
    ] {
        let run = bench.line(&line(depth, taper));
        if fits {
            run.exits(0);
            continue;
        }
        run.exits(2).tells("a depth that the taper has");
        bench
            .line(&format!("{} --as-read", line(depth, taper)))
            .exits(0);
        let (_, rows) = turn.split_once('\n').expect("a header");
        let rows: String = rows
            .lines()
            .map(|row| format!("{row},wall,-{depth}\n"))
            .collect();
        bench.file(
            "placed.csv",
            format!("angle_deg,reading_um,at,height_mm\n{rows}"),
        );
        bench
            .line(&format!(
                "runout --from placed.csv --interface {taper} --uncertainty-um 0.5 --limit-um 25"
            ))
            .exits(4)
            .tells("column height_mm");
    }
}

#[test]
fn a_seat_has_no_height() {
    let bench = bench!();
    let seat = SPINDLE.replace("spindle-part\"", "seat\"\nheight_mm = 20");
    bench
        .file("seat.toml", seat)
        .line("limits check seat.toml")
        .exits(4)
        .tells("reseating repeatability is one figure for all heights");
}

#[test]
fn an_indicator_left_at_another_height_accepts_nothing_there() {
    let bench = bench!();
    let heights = |near: [(f64, f64); 4], far: [(f64, f64); 4], noise_um: f64| {
        let mut csv = seated(near, noise_um).replace(",300,", ",20,");
        let far = seated(far, noise_um);
        for (number, line) in far.lines().skip(1).enumerate() {
            let (angle, rest) = line.split_once(',').expect("five columns");
            let (um, place) = rest.split_once(',').expect("five columns");
            let number = u32::try_from(number).expect("few lines");
            let um: f64 = um.parse().expect("a reading");
            let um = um + noise(1000 + number, noise_um);
            writeln!(csv, "{angle},{um:.2},{place}").expect("a string takes all");
        }
        csv
    };
    let near = [(3.0, 1.0), (-1.2, 0.4), (3.4, 0.6), (-0.8, 0.9)];
    let limits = "--limit-um 20=10 --limit-um 300=25";
    for noise_um in [0.05, 0.1, 0.2] {
        let left = heights(near, near, noise_um);
        let (_, document) = judged(&bench, &left, limits, 3);
        says(&document, "was the indicator moved?");
        let outcomes: Vec<&Value> = document["verdict"]["limits"]
            .as_array()
            .into_iter()
            .flatten()
            .map(|limit| &limit["outcome"])
            .collect();
        assert_eq!(outcomes, ["accept", "undecided"], "{document:#}");
        judged(&bench, &left, &format!("{limits} --as-read"), 0);
        // A bar that leans by half a micrometre was read at two heights.
        let far = near.map(|(x, y)| (x + 0.6, y - 0.4));
        judged(&bench, &heights(near, far, noise_um), limits, 0);
    }
}

#[test]
fn what_lies_outside_the_turns_of_a_mark_is_looked_at() {
    let bench = bench!();
    let touched = |edges: [f64; 2]| {
        let mut csv = "time_s,reading_um,mark\n".to_owned();
        for sample in 0..1700_u32 {
            let time_s = 0.02 * f64::from(sample);
            let angle = 42.0 * time_s;
            let um = 18.0 * angle.to_radians().cos() + noise(sample, 0.1);
            let mark = edges.iter().any(|edge| (time_s - edge).abs() < 0.05);
            writeln!(csv, "{time_s:.2},{um:.1},{}", u8::from(mark)).expect("a string takes all");
        }
        csv
    };
    let limit = "--height-mm 300 --limit-um 25";
    // A touch at the high spot, and one a moment later.
    let (_, document) = judged(&bench, &touched([8.0, 9.0]), limit, 3);
    says(&document, "does the mark come once a turn?");
    judged(
        &bench,
        &touched([8.0, 9.0]),
        "--height-mm 300 --limit-um 45",
        0,
    );
    judged(&bench, &touched([8.57, 17.14]), limit, 1);
}

/// Half a turn in equal parts, with a reading at its end that was taken for the one back at the first position: where the part
/// begins and ends alike nothing is off, and where it does not, a drift would take off all there is.
#[test]
fn part_of_a_turn_is_told_with_a_reading_at_its_end_too() {
    let bench = bench!();
    let typed = |readings: &str, limit_um: f64| {
        let limits = format!("--limit-um {limit_um} --uncertainty-um 0.5 --at bar --height-mm 20");
        let words = ["runout", "--readings", readings, "--positions", "8"];
        bench.run(words.into_iter().chain(limits.split_whitespace()))
    };
    typed("0 2.3 4.2 5.5 6 5.5 4.2 2.3 0 um", 9.0)
        .exits(3)
        .shows("go on like part of a turn");
    typed("0.0 0.1 0.4 0.9 1.5 2.1 2.6 2.9 3.0 um", 2.5).exits(3);
    // A whole turn that drifts as machines do.
    typed("0 0.9 3.1 5.2 6.2 5.5 3.5 1.4 0.6 um", 9.0).exits(0);
    for (positions, whole_um, limit_um) in [(12_u32, 6.0, 5.4), (24, 9.0, 8.0), (36, 13.0, 12.0)] {
        for from_deg in [0.0, 50.0, 90.0, 140.0, 230.0, 310.0] {
            let plane = |part: f64| {
                let mut csv = "angle_deg,reading_um\n".to_owned();
                for place in 0..=positions {
                    let angle = 360.0 * f64::from(place) / f64::from(positions);
                    let turned = (part * angle - from_deg).to_radians();
                    let reading = 0.5 * whole_um * turned.cos() + noise(place, 0.05);
                    writeln!(csv, "{angle:.2},{reading:.1}").expect("a string takes all");
                }
                csv
            };
            let line = format!(
                "runout --from plane.csv --at bar --height-mm 20 --uncertainty-um 0.3 --resolution-um 0.1 --limit-um {limit_um}"
            );
            bench.file("plane.csv", plane(0.5));
            let half = bench.line(&line);
            assert_ne!(half.code, 0, "{half}");
            bench.file("plane.csv", plane(1.0));
            bench
                .line(&line.replace(&format!("--limit-um {limit_um}"), "--limit-um 20"))
                .exits(0);
        }
    }
}

#[test]
fn a_bar_inside_the_mouth_is_asked_about() {
    let bench = bench!();
    let judged = "--interface BT40 --uncertainty-um 0.5 --limit-um 25";
    let turn = "0,0\n45,3\n90,5\n135,3\n180,0\n225,-3\n270,-5\n315,-3\n360,0.1\n";
    bench.file("bare.csv", format!("angle_deg,reading_um\n{turn}"));
    let rows =
        |more: &str| -> String { turn.lines().map(|row| format!("{row}{more}\n")).collect() };
    bench.file(
        "placed.csv",
        format!("angle_deg,reading_um,at,height_mm\n{}", rows(",bar,-20")),
    );
    let typed = ["--readings", "0 3 5 3 0 -3 -5 -3", "--unit", "um"];
    let inside = ["--at", "bar", "--height-mm=-20"];
    for (words, exit) in [
        ([&["--from", "bare.csv"][..], &inside].concat(), 2),
        ([&typed[..], &inside].concat(), 2),
        ([&typed[..], &["--height-mm=-20"]].concat(), 2),
        (
            [&typed[..], &["--at", "face", "--height-mm=-20"]].concat(),
            2,
        ),
        (vec!["--from", "placed.csv"], 4),
    ] {
        let mut words = [vec!["runout"], judged.split_whitespace().collect(), words].concat();
        bench
            .run(words.clone())
            .exits(exit)
            .tells("inside the mouth, where a bar fills the taper");
        words.push("--as-read");
        bench.run(words).exits(0);
    }
    // Nobody named the surface: a height behind the face is no slip of the bar's.
    bench.file(
        "unnamed.csv",
        format!("angle_deg,reading_um,height_mm\n{}", rows(",-20")),
    );
    bench
        .line(&format!("runout --from unnamed.csv {judged}"))
        .exits(0);
}
