//! `runout` on records and readings: right figures, right verdict, whoever wrote the file.

use holdtrue_tests::bench;
use holdtrue_tests::bench::{Bench, Run};
use holdtrue_tests::schema::differences;
use serde_json::Value;
use std::fmt::Write;

/// What clean readings have to come back to, µm.
const CLOSE_UM: f64 = 1e-3;

/// A vector in a plane: length in µm, direction in degrees.
#[derive(Clone, Copy)]
struct Off(f64, f64);

impl Off {
    fn reading_um(self, angle_deg: f64, order: f64) -> f64 {
        self.0 * (order * angle_deg - self.1).to_radians().cos()
    }

    /// Towards 0° and towards 90°.
    fn parts(self) -> (f64, f64) {
        let (sin, cos) = self.1.to_radians().sin_cos();
        (self.0 * cos, self.0 * sin)
    }

    fn plus(self, other: Self) -> Self {
        let ((x, y), (u, v)) = (self.parts(), other.parts());
        Self((x + u).hypot(y + v), (y + v).atan2(x + u).to_degrees())
    }

    fn times(self, factor: f64) -> Self {
        Self(self.0 * factor, self.1)
    }

    fn turned(self, by_deg: f64) -> Self {
        Self(self.0, self.1 + by_deg)
    }
}

fn equal(stops: u32) -> Vec<f64> {
    (0..stops)
        .map(|i| 360.0 * f64::from(i) / f64::from(stops))
        .collect()
}

fn stepped(angles_deg: &[f64], reading_um: impl Fn(f64) -> f64) -> String {
    let mut text = "angle_deg,reading_um\n".to_owned();
    for angle in angles_deg {
        writeln!(text, "{angle:.9},{:.9}", reading_um(*angle)).expect("a string takes all");
    }
    text
}

#[track_caller]
fn analysed(bench: &Bench, csv: &str, options: &str, code: i32) -> (Run, Value) {
    bench.file("set.csv", csv);
    let run = bench
        .line(&format!("runout --from set.csv --json {options}"))
        .exits(code);
    let document = run.json();
    (run, document)
}

#[track_caller]
fn is_close(document: &Value, pointer: &str, expected: f64) {
    let found = document.pointer(pointer).and_then(Value::as_f64);
    let close = found.is_some_and(|found| (found - expected).abs() < CLOSE_UM);
    assert!(
        close,
        "{pointer}: {found:?}, expected {expected}\n{document:#}"
    );
}

fn notes(document: &Value, pointer: &str) -> String {
    document
        .pointer(pointer)
        .map(ToString::to_string)
        .unwrap_or_default()
}

#[test]
fn an_eccentricity_comes_back_from_any_number_of_positions() {
    let bench = bench!();
    for stops in [4, 8, 12, 16, 36] {
        let truth = Off(7.25, 113.0);
        let csv = stepped(&equal(stops), |angle| 40.0 + truth.reading_um(angle, 1.0));
        let (_, document) = analysed(&bench, &csv, "", 0);
        is_close(&document, "/planes/0/eccentricity_um", truth.0);
        is_close(&document, "/planes/0/direction_deg", truth.1);
        is_close(&document, "/planes/0/residual_rms_um", 0.0);
        assert_eq!(document["planes"][0]["stops"], stops);
        assert_eq!(document["planes"][0]["method"], "stepped");
        assert!(document["planes"][0]["height_mm"].is_null() && document["axis"].is_null());
        assert!(document["verdict"].is_null(), "no limit, no verdict");
    }
}

#[test]
fn ovality_and_lobes_stand_beside_it() {
    let bench = bench!();
    let (once, twice, thrice) = (Off(7.25, 113.0), Off(1.5, 30.0), Off(0.75, 200.0));
    for stops in [8, 12, 16, 36] {
        let csv = stepped(&equal(stops), |angle| {
            once.reading_um(angle, 1.0)
                + twice.reading_um(angle, 2.0)
                + thrice.reading_um(angle, 3.0)
        });
        let (_, document) = analysed(&bench, &csv, "", 0);
        for (index, Off(length, phase)) in [once, twice, thrice].into_iter().enumerate() {
            is_close(
                &document,
                &format!("/planes/0/harmonics/{index}/amplitude_um"),
                length,
            );
            is_close(
                &document,
                &format!("/planes/0/harmonics/{index}/phase_deg"),
                phase,
            );
        }
    }
}

#[test]
fn unequal_and_missing_positions_do_not_matter() {
    let bench = bench!();
    let truth = Off(7.25, 113.0);
    let uneven = vec![5.0, 33.0, 91.5, 130.0, 178.0, 222.0, 271.0, 340.0];
    let mut missing = equal(12);
    missing.drain(3..6);
    for angles in [uneven, missing] {
        let csv = stepped(&angles, |angle| truth.reading_um(angle, 1.0));
        let (_, document) = analysed(&bench, &csv, "", 0);
        is_close(&document, "/planes/0/eccentricity_um", truth.0);
        is_close(&document, "/planes/0/direction_deg", truth.1);
    }
}

#[test]
fn the_reading_after_the_full_turn_takes_the_drift_off() {
    let bench = bench!();
    let truth = Off(7.25, 90.0);
    for closing in ["360", "0"] {
        let mut csv = "angle_deg,reading_um\n".to_owned();
        for (step, angle) in (0..=8).zip((0..=8).map(|i| 45.0 * f64::from(i))) {
            let written = if step == 8 {
                closing.to_owned()
            } else {
                angle.to_string()
            };
            let reading = truth.reading_um(angle, 1.0) + 0.25 * f64::from(step);
            writeln!(csv, "{written},{reading:.9}").expect("a string takes all");
        }
        let (_, document) = analysed(&bench, &csv, "", 0);
        is_close(&document, "/planes/0/drift_um", 2.0);
        is_close(&document, "/planes/0/tir_um", 14.5);
        is_close(&document, "/planes/0/eccentricity_um", truth.0);
        is_close(&document, "/planes/0/direction_deg", truth.1);
        // Highest as read at 90°, lowest at 270°, the closure left out: 14.5 − 4 · 0.25.
        is_close(&document, "/planes/0/tir_as_read_um", 13.5);
    }
}

/// The bar read at two heights in several seatings, each turned by an orientation.
fn seated(
    seatings: &[(u32, f64)],
    spindle: impl Fn(f64) -> Off,
    bar: impl Fn(f64) -> Off,
) -> String {
    let mut csv = "at;height_mm;seating;orientation_deg;angle_deg;reading_um\n".to_owned();
    for (seating, orientation) in seatings {
        for height in [20.0, 300.0] {
            let read = spindle(height).plus(bar(height).turned(*orientation));
            for angle in equal(8) {
                let reading = format!("{:.9}", read.reading_um(angle, 1.0)).replace('.', ",");
                writeln!(
                    csv,
                    "Bar;{height};{seating};{orientation};{angle};{reading}"
                )
                .expect("a string takes all");
            }
        }
    }
    csv
}

#[test]
fn two_heights_give_offset_and_tilt() {
    let bench = bench!();
    let csv = seated(
        &[(1, 0.0)],
        |z| Off(2.0, 30.0).plus(Off(0.04, 140.0).times(z)),
        |_| Off(0.0, 0.0),
    );
    let (_, document) = analysed(&bench, &csv, "", 0);
    is_close(&document, "/axis/offset_um", 2.0);
    is_close(&document, "/axis/offset_direction_deg", 30.0);
    is_close(&document, "/axis/tilt_um_per_m", 40.0);
    is_close(&document, "/axis/tilt_direction_deg", 140.0);
    assert_eq!(document["axis"]["from"], "as-read");
    assert_eq!(document["reversal"].as_array().map(Vec::len), Some(0));
}

#[test]
fn spindle_and_bar_are_told_apart() {
    let bench = bench!();
    let spindle = |z: f64| Off(2.0, 30.0).plus(Off(0.01, 300.0).times(z));
    let bar = |z: f64| Off(0.03, 200.0).times(z);
    let ways: [&[(u32, f64)]; 3] = [
        &[(1, 0.0), (2, 180.0)],
        &[(1, 0.0), (2, 120.0), (3, 240.0)],
        &[(1, 0.0), (2, 180.0), (3, 0.0), (4, 180.0)],
    ];
    for seatings in ways {
        let (_, document) = analysed(&bench, &seated(seatings, spindle, bar), "", 0);
        for (index, z) in [20.0, 300.0].into_iter().enumerate() {
            let at = |field: &str| format!("/reversal/{index}/{field}");
            is_close(&document, &at("height_mm"), z);
            is_close(&document, &at("spindle_eccentricity_um"), spindle(z).0);
            is_close(
                &document,
                &at("spindle_direction_deg"),
                spindle(z).1.rem_euclid(360.0),
            );
            is_close(&document, &at("bar_eccentricity_um"), bar(z).0);
            is_close(&document, &at("bar_direction_deg"), 200.0);
        }
        assert_eq!(document["axis"]["from"], "spindle-part");
        is_close(&document, "/axis/tilt_um_per_m", 10.0);
        let twice = seatings.len() == 4;
        assert_eq!(document["seat_repeatability_um"].is_null(), !twice);
        assert_eq!(document["reversal"][0]["bar_or_seat"], !twice);
    }
}

#[test]
fn a_bent_bar_is_named_and_does_not_reject_the_spindle() {
    let bench = bench!();
    let seatings = [(1, 0.0), (2, 180.0), (3, 0.0), (4, 180.0)];
    let csv = seated(&seatings, |_| Off(0.5, 0.0), |z| Off(0.06, 200.0).times(z));
    let (run, document) = analysed(&bench, &csv, "--limit-um 300=15 --uncertainty-um 1", 3);
    assert_eq!(document["hints"][0]["cause"], "bent-test-bar", "{run}");
    assert_eq!(document["verdict"]["outcome"], "undecided", "{run}");
    bench
        .line("runout --from set.csv")
        .exits(0)
        .shows("bar at 300 mm: e 18.0 µm = TIR 36.0 µm, once per turn, high spot at 200°")
        .shows("the runout follows the bar, not the spindle");
    bench.file(
        "part.toml",
        "schema = 1\ntitle = \"Centre 1\"\n[[limit]]\nfigure = \"spindle-part\"\nlimit = 10\nunit = \"um\"\n\
         provenance = \"maker\"\nsource = \"spindle sheet\"\n",
    );
    let (run, document) = analysed(&bench, &csv, "--limits part.toml --uncertainty-um 1", 0);
    assert_eq!(document["verdict"]["outcome"], "accept", "{run}");
    assert_eq!(
        document["verdict"]["limits"].as_array().map(Vec::len),
        Some(2),
        "{run}"
    );
}

#[test]
fn the_verdict_is_the_exit_code() {
    let bench = bench!();
    for (tir_um, code, outcome) in [
        (8.0, 0, "accept"),
        (9.8, 3, "undecided"),
        (12.0, 1, "reject"),
    ] {
        let csv = stepped(&equal(8), |angle| {
            Off(tir_um / 2.0, 45.0).reading_um(angle, 1.0)
        });
        let (run, document) = analysed(&bench, &csv, "--limit-um 10 --uncertainty-um 1", code);
        assert_eq!(document["verdict"]["outcome"], outcome, "{run}");
        assert_eq!(document["verdict"]["limits"][0]["figure"], "tir", "{run}");
        assert_eq!(document["verdict"]["limits"][0]["unit"], "um", "{run}");
    }
    bench
        .line("runout --from set.csv --limit-um 10 --uncertainty-um 1")
        .exits(1)
        .shows("OUTSIDE LIMIT")
        .shows("it is not an approval to run");
}

#[test]
fn a_limit_needs_the_uncertainty_and_the_right_height() {
    let bench = bench!();
    let csv = stepped(&equal(8), |angle| Off(2.0, 45.0).reading_um(angle, 1.0));
    bench.file("set.csv", &csv);
    bench
        .line("runout --from set.csv --limit-um 10 --json")
        .exits(2)
        .tells("a verdict needs the gauge's uncertainty");
    let elsewhere = "--height-mm 20 --limit-um 300=15 --uncertainty-um 1";
    let (run, document) = analysed(&bench, &csv, elsewhere, 3);
    assert_eq!(document["planes"][0]["at"], "bar", "{run}");
    assert!(
        notes(&document, "/verdict/reasons").contains("nothing was measured at 300 mm"),
        "{run}"
    );
    let too_coarse = "--height-mm 20 --limit-um 20=10 --uncertainty-um 2.5";
    let (run, document) = analysed(&bench, &csv, too_coarse, 3);
    assert!(
        notes(&document, "/verdict/reasons").contains("more than a fifth of the limit"),
        "{run}"
    );
    analysed(
        &bench,
        &csv,
        "--height-mm -20 --limit-um -20=10 --uncertainty-um 1",
        0,
    );
}

#[test]
fn two_positions_give_a_tir_and_say_what_an_eccentricity_needs() {
    let bench = bench!();
    let (run, document) = analysed(&bench, "angle_deg,reading_um\n0,3\n180,-4\n", "", 0);
    is_close(&document, "/planes/0/tir_um", 7.0);
    assert!(document["planes"][0]["eccentricity_um"].is_null(), "{run}");
    assert!(
        notes(&document, "/planes/0/notes").contains("at least 4 different positions"),
        "{run}"
    );
}

/// Two and a half turns, once a second, read so often a turn; the mark passes at 0°.
fn turning(a_turn: u32, marked: bool, reading_um: impl Fn(f64) -> f64) -> String {
    let mut csv = if marked {
        "time_s,reading_um,mark\n"
    } else {
        "time_s,reading_um\n"
    }
    .to_owned();
    for sample in 0..a_turn * 5 / 2 {
        let time_s = f64::from(sample) / f64::from(a_turn);
        let angle = 360.0 * (time_s - 0.25);
        write!(csv, "{time_s:.6},{:.9}", reading_um(angle)).expect("a string takes all");
        let mark = u8::from(angle.rem_euclid(360.0) < 15.0);
        let tail = if marked {
            format!(",{mark}\n")
        } else {
            "\n".to_owned()
        };
        csv.push_str(&tail);
    }
    csv
}

#[test]
fn a_free_turn_gives_a_tir_and_asks_for_enough_readings() {
    let bench = bench!();
    let truth = Off(6.0, 0.0);
    let (run, document) = analysed(
        &bench,
        &turning(8, false, |a| truth.reading_um(a, 1.0)),
        "",
        0,
    );
    assert_eq!(document["planes"][0]["method"], "free", "{run}");
    assert!(document["planes"][0]["eccentricity_um"].is_null(), "{run}");
    assert!(document["planes"][0]["drift_um"].is_null(), "{run}");
    assert!(
        notes(&document, "/planes/0/notes").contains("8 readings a turn"),
        "{run}"
    );
    let (run, document) = analysed(
        &bench,
        &turning(40, false, |a| truth.reading_um(a, 1.0)),
        "",
        0,
    );
    is_close(&document, "/planes/0/tir_um", 12.0);
    assert!(
        !notes(&document, "/planes/0/notes").contains("readings a turn"),
        "{run}"
    );
}

#[test]
fn marked_turns_give_the_eccentricity_from_the_marks_rising_edge() {
    let bench = bench!();
    let (once, twice) = (Off(6.0, 75.0), Off(1.0, 40.0));
    let csv = turning(400, true, |a| {
        once.reading_um(a, 1.0) + twice.reading_um(a, 2.0)
    });
    let (run, document) = analysed(&bench, &csv, "--marked", 0);
    assert_eq!(document["planes"][0]["method"], "marked", "{run}");
    is_close(&document, "/planes/0/eccentricity_um", once.0);
    is_close(&document, "/planes/0/direction_deg", once.1);
    is_close(&document, "/planes/0/harmonics/1/amplitude_um", twice.0);
    assert!(
        document["planes"][0]["synchronous_um"].is_null(),
        "two turns only: {run}"
    );
    let (_, document) = analysed(&bench, &csv, "--free", 0);
    assert_eq!(document["planes"][0]["method"], "free");
}

#[test]
fn readings_by_eye_are_positions_from_zero_on() {
    let bench = bench!();
    let run = bench
        .run([
            "runout",
            "--readings",
            "0 3 4 3 0 -3 -4 -3 0",
            "--stops",
            "8",
            "--unit",
            "um",
            "--json",
        ])
        .exits(0);
    let document = run.json();
    is_close(&document, "/planes/0/tir_um", 8.0);
    is_close(&document, "/planes/0/direction_deg", 90.0);
    is_close(&document, "/planes/0/drift_um", 0.0);
    assert!(
        notes(&document, "/notes").contains("typed by hand, no record"),
        "{run}"
    );
    bench
        .run([
            "runout",
            "--readings",
            "0 3 4 3",
            "--stops",
            "8",
            "--unit",
            "um",
        ])
        .exits(2)
        .tells("asks for 8");
    let inch = bench
        .run([
            "runout",
            "--readings",
            "0 0.0001 0 -0.0001",
            "--unit",
            "in",
            "--json",
        ])
        .exits(0);
    is_close(&inch.json(), "/planes/0/tir_um", 5.08);
}

#[test]
fn inches_and_other_separators_are_read() {
    let bench = bench!();
    let tabbed = "READING_IN\tAngle_deg\n0,0002\t0\n0\t90\n-0,0002\t180\n0\t270\n";
    let (_, document) = analysed(&bench, tabbed, "", 0);
    is_close(&document, "/planes/0/eccentricity_um", 5.08);
    is_close(&document, "/planes/0/direction_deg", 0.0);
}

#[test]
fn bad_records_are_refused_with_their_place() {
    let bench = bench!();
    for (csv, tells) in [
        (
            "angle_deg,reading_um\n0,1\n361,2\n",
            "line 3, column angle_deg: found 361",
        ),
        (
            "angle_deg,reading_um\n0,1\n-5,2\n",
            "line 3, column angle_deg: found -5",
        ),
        (
            "angle_deg,reading_um\n90,1\n90,2\n90,3\n",
            "all readings at the one angle 90°",
        ),
        (
            "angle_deg,reading_um\n0,1\n90,nan\n",
            "line 3, column reading_um",
        ),
        (
            "angle_deg,reading_um\n0,1\n90,\n",
            "line 3, column reading_um",
        ),
        ("angle_deg,reading_um\n", "a header without rows"),
        ("angle_deg\n0\n90\n", "column reading_um"),
        ("reading_um\n0\n90\n", "neither angles nor times"),
        (
            "angle_deg,reading_um,reading_in\n0,1,2\n",
            "reading_in beside reading_um",
        ),
        (
            "time_s,reading_um\n0,1\n1,2\n1,3\n",
            "line 4, column time_s",
        ),
        (
            "time_s,reading_um,mark\n0,1,0\n1,2,2\n",
            "line 3, column mark: found 2",
        ),
        ("angle_deg,reading_um,at\n0,1,roof\n", "line 2, column at"),
        (
            "angle_deg,reading_um,seating\n0,1,1.5\n",
            "line 2, column seating: found 1.5",
        ),
    ] {
        bench.file("set.csv", csv);
        let run = bench
            .line("runout --from set.csv --json")
            .exits(4)
            .tells(tells);
        assert_eq!(run.json()["error"]["code"], 4, "{csv}");
    }
    bench.file("set.csv", "time_s,reading_um\n0,1\n1,2\n");
    bench
        .line("runout --from set.csv --marked")
        .exits(4)
        .tells("no mark");
    bench
        .line("runout --from set.csv --stops 8")
        .exits(2)
        .tells("leave the option out");
}

#[test]
fn what_is_ignored_is_said() {
    let bench = bench!();
    bench.file(
        "set.csv",
        "angle_deg,reading_um,at,colour\n0,1,wall,1\n90,2,wall,1\n180,1,wall,1\n270,0,wall,1\n",
    );
    let run = bench
        .line("runout --from set.csv --at bar --json")
        .exits(0)
        .tells("\"colour\" is not known here and is ignored")
        .tells("--at is ignored");
    assert_eq!(run.json()["planes"][0]["at"], "wall", "{run}");
}

#[test]
fn the_runout_document_is_as_its_schema_says() {
    let bench = bench!();
    let schema = bench.line("schema runout").exits(0).json();
    let seatings = [(1, 0.0), (2, 90.0), (3, 180.0), (4, 270.0)];
    bench.file(
        "bar.csv",
        seated(&seatings, |_| Off(1.0, 0.0), |z| Off(0.06, 200.0).times(z)),
    );
    bench.file(
        "turn.csv",
        turning(50, true, |a| Off(3.0, 10.0).reading_um(a, 1.0)),
    );
    bench.file("two.csv", "angle_deg,reading_um\n0,3\n180,-4\n");
    for line in [
        "runout --from bar.csv --json --limit-um 20=10 --limit-um 300=15 --uncertainty-um 1 --state as-found",
        "runout --from bar.csv --json --bar-um 2 --uncertainty-um 1 --lever-by-eye",
        "runout --from turn.csv --json --at wall --height-mm -20 --on-wall --interface HSK-A63",
        "runout --from two.csv --json",
    ] {
        let run = bench.line(line);
        assert_eq!(
            differences(&schema, &run.json()),
            Vec::<String>::new(),
            "{run}"
        );
    }
}

#[test]
fn a_stored_runout_is_in_the_visit() {
    let bench = bench!();
    let csv = stepped(&equal(8), |angle| Off(2.0, 45.0).reading_um(angle, 1.0));
    bench.file("set.csv", &csv);
    bench
        .line("--book yard.holdtrue visit start --short --yes")
        .exits(0);
    bench
        .line("--book yard.holdtrue runout --from set.csv --store --limit-um 10 --uncertainty-um 1")
        .exits(0)
        .tells("Stored in the open visit");
    bench
        .line("--book yard.holdtrue visit status --json")
        .exits(0)
        .shows("\"runout\"");
    bench.line("--book yard.holdtrue book check").exits(0);
}

/// Where each reading was truly taken, in positions of so many round the turn; meant for one after the other.
fn read_at(places: &[u32], positions: u32, off: Off) -> Vec<(f64, f64)> {
    let angle = |place: u32| 360.0 * f64::from(place) / f64::from(positions);
    (0..)
        .zip(places)
        .map(|(meant, place)| (angle(meant), 40.0 + off.reading_um(angle(*place), 1.0)))
        .collect()
}

/// A position read twice, one left out: by file and typed, told and allowed for. A sound turn is left alone.
#[test]
fn readings_that_look_as_if_a_position_was_read_twice_or_left_out_say_so_and_are_allowed_for() {
    let off = Off(9.0, 35.0);
    let sound: [&[u32]; 3] = [
        &[0, 1, 2, 3, 4],
        &[0, 1, 2, 3, 4, 5, 6, 7, 8],
        &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12],
    ];
    let doubtful: [(&[u32], &str); 5] = [
        (
            &[0, 1, 2, 3, 4, 4, 5, 6, 7],
            "positions 5 and 6 look like one",
        ),
        (
            &[0, 1, 2, 2, 4, 5, 6, 7, 8],
            "positions 3 and 4 look like one",
        ),
        (
            &[0, 1, 2, 4, 5, 6, 7, 8, 8],
            "a position between 3 and 4 looks left out",
        ),
        (
            &[0, 1, 2, 3, 4, 5, 6, 6, 7, 8, 9, 10, 11],
            "positions 7 and 8 look like one",
        ),
        (&[0, 1, 1, 2, 3], "positions 2 and 3 look like one"),
    ];
    let all = sound.iter().map(|places| (*places, None));
    let all = all.chain(
        doubtful
            .iter()
            .map(|(places, words)| (*places, Some(*words))),
    );
    for (places, words) in all {
        let positions = u32::try_from(places.len()).expect("few") - 1;
        let readings = read_at(places, positions, off);
        let mut csv = "angle_deg,reading_um\n".to_owned();
        let mut typed = Vec::new();
        for (angle_deg, reading_um) in &readings {
            writeln!(csv, "{angle_deg},{reading_um:.3}").expect("a string takes all");
            typed.push(format!("{reading_um:.3}"));
        }
        let bench = bench!();
        bench.file("set.csv", &csv);
        let limits = "--limit-um 25 --uncertainty-um 1 --json";
        let from_file = bench.line(&format!("runout --from set.csv {limits}"));
        let typed = typed.join(" ");
        let positions = positions.to_string();
        let mut line = vec!["runout", "--readings", &typed, "--unit", "um"];
        line.extend(["--positions", &positions]);
        line.extend(limits.split_whitespace());
        let by_hand = bench.run(line);
        for run in [from_file, by_hand] {
            let document = run.json();
            let notes = notes(&document, "/planes/0/notes");
            let budget = document["uncertainty"]["budget"].to_string();
            match words {
                Some(words) => {
                    assert!(notes.contains(words), "{places:?}: {notes}");
                    assert!(notes.contains("the uncertainty allows for"), "{notes}");
                    let allowed = budget.contains("a position in doubt");
                    assert!(allowed, "{places:?}: {budget}");
                }
                None => {
                    assert!(
                        !notes.contains("read the plane again"),
                        "{places:?}: {notes}"
                    );
                    assert!(!budget.contains("in doubt"), "{budget}");
                }
            }
        }
    }
}

#[test]
fn the_older_names_of_options_still_serve() {
    let bench = bench!();
    let readings = [
        "runout",
        "--readings",
        "0 3 0 -3 0",
        "--unit",
        "um",
        "--json",
    ];
    let run = |more: &[&str]| {
        bench
            .run(readings.iter().chain(more).copied())
            .exits(0)
            .json()
    };
    assert_eq!(run(&["--stops", "4"]), run(&["--positions", "4"]));
    let wall = ["--at", "wall", "--height-mm", "-8", "--positions", "4"];
    let with = |word| run(&[&wall[..], &[word]].concat());
    assert_eq!(with("--on-wall"), with("--square-to-wall"));
}
