//! Whole results of records that show something each, hints included, one file a check and analysis version. In: a record
//! and what it is held to. Out: every figure, remark and hint as that version gave it; only its sentences may change.

use holdtrue_metrology::hint::Cause;
use holdtrue_metrology::{grip, runout};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::force::{Made, MadeClamp};
use serde_json::{Map, Value};
use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::PathBuf;

/// Two numbers are one if they differ by no more than this share: a sine may end in another last digit elsewhere.
const SAME: f64 = 1e-9;
const WHAT_TO_DO: &str = "A result changed. If that is meant: raise ANALYSIS_VERSION beside it \
    (host/metrology/src/grip/result.rs or runout/result.rs) unless that was done since the last release, then write \
    the new results with `cargo test -p holdtrue-tests --test program write_golden -- --ignored`";

/// A record, and the options it is judged with.
struct Case {
    name: &'static str,
    line: String,
    csv: Option<String>,
}

fn typed(name: &'static str, readings_n: &str, options: &str) -> Case {
    Case {
        name,
        line: format!("grip --readings {readings_n} --unit N {HELD_TO} {options}"),
        csv: None,
    }
}

fn record(name: &'static str, made: Made, clamps: &[MadeClamp], options: &str) -> Case {
    Case {
        name,
        line: format!("grip --from record.csv {HELD_TO} {options}"),
        csv: Some(made.csv(clamps)),
    }
}

const HELD_TO: &str =
    "--nominal-n 10000 --limit-percent 70 --uncertainty-percent 0.5 --interface 7/24-40";

/// What a maker states for the push-out.
const PUSH_OUT: &str = "schema = 1\ntitle = \"Centre 1\"\n\
    [[limit]]\nfigure = \"push-out\"\nside = \"lower\"\nlimit = 0.4\nunit = \"mm\"\nprovenance = \"maker\"\nsource = \"sheet\"\n\
    [[limit]]\nfigure = \"push-out\"\nside = \"upper\"\nlimit = 0.6\nunit = \"mm\"\nprovenance = \"maker\"\nsource = \"sheet\"\n";

fn grips() -> Vec<Case> {
    let five = [9_810.0, 9_790.0, 9_805.0, 9_795.0, 9_800.0].map(MadeClamp::of);
    let held = |each: fn(&mut MadeClamp)| {
        let mut clamps = five;
        clamps.iter_mut().for_each(|clamp| {
            clamp.hold_s = 12.0;
            each(clamp);
        });
        clamps
    };
    let quiet = Made {
        noise_n: 8.0,
        ..Made::default()
    };
    let springs = "--drawbar disc-springs";
    let low = [5_810.0, 5_790.0, 5_805.0, 5_795.0, 5_800.0].map(MadeClamp::of);
    let pushed_out = |name, mm| {
        let made = Made {
            push_out_mm: Some(mm),
            ..quiet
        };
        let options = "--drawbar disc-springs --limits push-out.toml";
        record(name, made, &low, options)
    };
    vec![
        record("sound", quiet, &held(|_| ()), springs),
        record(
            "knocked, spiked, gauge at 40 N",
            Made {
                zero_n: 40.0,
                ..quiet
            },
            &held(|clamp| {
                clamp.overshoot = 0.1;
                clamp.knock_s = 0.2;
            }),
            springs,
        ),
        record(
            "leaking",
            quiet,
            &held(|clamp| clamp.drop_n_per_s = 60.0),
            "--drawbar hydraulic",
        ),
        record(
            "drop on springs",
            quiet,
            &held(|clamp| clamp.drop_n_per_s = 60.0),
            springs,
        ),
        record(
            "warming gauge",
            Made {
                drift_n_per_s: 2.0,
                ..quiet
            },
            &held(|_| ()),
            springs,
        ),
        typed("weak springs", "5000;5050;4980;5020;5010", springs),
        typed("sticking", "8800;9250;9520;9700;9830", springs),
        typed("stood long", "9200;10010;9970;10030;10000", springs),
        typed("worn gripper", "9700;10600;8900;10900;9300", springs),
        typed(
            "off axis",
            "10300;9700;10310;9720;10290",
            "--drawbar disc-springs --orientation-deg 0;180;0;180;0",
        ),
        typed("set too far", "12600;12500;12550", springs),
        pushed_out("weak springs, push-out as stated", 0.5),
        pushed_out("drawbar set too far forward", 1.1),
        pushed_out("unclamp cylinder", 0.2),
        typed("near its limit", "7010;7050;6990", "--limit-cv-percent 1"),
    ]
}

/// So much of something once a turn, at 20 mm and at 300 mm, with its high spot there.
#[derive(Clone, Copy)]
struct Off {
    near_um: f64,
    far_um: f64,
    at_deg: f64,
}

impl Off {
    fn of(near_um: f64, far_um: f64, at_deg: f64) -> Self {
        Self {
            near_um,
            far_um,
            at_deg,
        }
    }

    fn reading_um(self, height_mm: f64, angle_deg: f64) -> f64 {
        let slope = (self.far_um - self.near_um) / 280.0;
        let um = self.near_um + slope * (height_mm - 20.0);
        um * (angle_deg - self.at_deg).to_radians().cos()
    }
}

/// A bar seated so often, with a wall or without; `seat_um`: how far it is off in each seating, each time elsewhere.
fn planes(name: &'static str, spindle: Off, bar: Off, seat_um: f64, wall: Option<Off>) -> Case {
    let mut csv = "at,height_mm,seating,orientation_deg,angle_deg,reading_um\n".to_owned();
    let mut plane = |at: &str, height: f64, seating: &str, reading_um: &dyn Fn(f64) -> f64| {
        for angle in (0..=360_u16).step_by(45) {
            let reading_um = reading_um(angle.into());
            writeln!(csv, "{at},{height},{seating},{angle},{reading_um:.2}").expect("text");
        }
    };
    for (seating, orientation_deg) in (1_u8..).zip([0.0, 0.0, 180.0, 180.0]) {
        for height_mm in [20.0, 300.0] {
            let seat = Off::of(seat_um, seat_um, 77.0 * f64::from(seating));
            let own_um = 0.03 * f64::from(seating) + height_mm / 9_000.0;
            plane(
                "bar",
                height_mm,
                &format!("{seating},{orientation_deg}"),
                &|angle| {
                    spindle.reading_um(height_mm, angle)
                        + bar.reading_um(height_mm, angle - orientation_deg)
                        + seat.reading_um(height_mm, angle)
                        + own_um * (2.0 * angle + 10.0 * own_um).to_radians().cos()
                },
            );
        }
    }
    if let Some(wall) = wall {
        for height_mm in [-10.0, -55.0] {
            plane("wall", height_mm, "9,0", &|angle| {
                wall.reading_um(height_mm, angle)
                    + 0.1 * (2.0 * angle - height_mm).to_radians().cos()
            });
        }
    }
    Case {
        name,
        line: "runout --from record.csv --limit-um 20=10 --limit-um 300=25 --uncertainty-um 1 --interface 7/24-40"
            .to_owned(),
        csv: Some(csv),
    }
}

fn runouts() -> Vec<Case> {
    let true_spindle = Off::of(1.0, 1.5, 0.0);
    let tilted = Off::of(3.2, 20.0, 0.0);
    let true_bar = Off::of(0.5, 0.5, 90.0);
    vec![
        planes("sound", true_spindle, true_bar, 0.1, Some(true_spindle)),
        planes(
            "bent bar",
            true_spindle,
            Off::of(1.0, 15.0, 30.0),
            0.1,
            Some(true_spindle),
        ),
        planes("tilted taper", tilted, true_bar, 0.1, Some(tilted)),
        planes("stuck dirt", tilted, true_bar, 0.1, Some(Off::of(0.2, 0.2, 60.0))),
        planes("dirty seat", true_spindle, true_bar, 9.0, None),
        Case {
            name: "typed",
            line: "runout --readings 3;2;0;-2;-3;-2;0;2;3 --unit um --positions 8 --at wall --height-mm -10 --limit-um 10 --uncertainty-um 1"
                .to_owned(),
            csv: None,
        },
        Case {
            name: "a TIR alone",
            line: "runout --tir 8 --unit um --limit-um 10 --uncertainty-um 1".to_owned(),
            csv: None,
        },
    ]
}

fn results(cases: Vec<Case>) -> Map<String, Value> {
    let bench = bench!();
    bench.file("push-out.toml", PUSH_OUT);
    let result = |case: Case| {
        if let Some(csv) = case.csv {
            bench.file("record.csv", csv);
        }
        (
            case.name.to_owned(),
            without_sentences(of(&bench, &case.line)),
        )
    };
    cases.into_iter().map(result).collect()
}

fn of(bench: &Bench, line: &str) -> Value {
    let run = bench.line(&format!("{line} --json"));
    assert!(run.code < 2 || run.code == 3, "{run}");
    run.json()
}

/// Values only: what stands beside them in words may be put better.
fn without_sentences(value: Value) -> Value {
    match value {
        Value::Object(fields) => {
            let is_value = |(key, _): &(String, Value)| {
                !["text", "evidence", "reasons", "notes"].contains(&key.as_str())
            };
            let fields = fields.into_iter().filter(is_value);
            Value::Object(
                fields
                    .map(|(key, value)| (key, without_sentences(value)))
                    .collect(),
            )
        }
        Value::Array(values) => values.into_iter().map(without_sentences).collect(),
        other => other,
    }
}

fn differences(at: &str, then: &Value, now: &Value, found: &mut Vec<String>) {
    match (then, now) {
        (Value::Object(one), Value::Object(other)) => {
            for key in one.keys().chain(other.keys()).collect::<BTreeSet<_>>() {
                let of = |fields: &Map<String, Value>| fields.get(key).cloned().unwrap_or_default();
                differences(&format!("{at}/{key}"), &of(one), &of(other), found);
            }
        }
        (Value::Array(one), Value::Array(other)) if one.len() == other.len() => {
            for (number, (one, other)) in one.iter().zip(other).enumerate() {
                differences(&format!("{at}/{number}"), one, other, found);
            }
        }
        (Value::Number(one), Value::Number(other)) => {
            let (one, other) = (
                one.as_f64().unwrap_or(f64::NAN),
                other.as_f64().unwrap_or(f64::NAN),
            );
            let larger = one.abs().max(other.abs());
            let alike = (one - other).abs() <= SAME * larger.max(SAME);
            if !alike {
                found.push(format!("{at}: was {one}, is {other}"));
            }
        }
        (one, other) if one == other => {}
        (one, other) => found.push(format!("{at}: was {one}, is {other}")),
    }
}

fn file(version: &str) -> PathBuf {
    let name = format!("tests/program/golden/{version}.json");
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn versions() -> [(String, Vec<Case>); 2] {
    [
        (format!("grip-{}", grip::result::ANALYSIS_VERSION), grips()),
        (format!("runout-{}", runout::ANALYSIS_VERSION), runouts()),
    ]
}

#[test]
fn whole_results_are_those_of_their_analysis_version() {
    for (version, cases) in versions() {
        let then = std::fs::read_to_string(file(&version));
        let then = then.unwrap_or_else(|_| panic!("no golden results of {version}. {WHAT_TO_DO}"));
        let then: Value = serde_json::from_str(&then).expect("golden results");
        let mut found = Vec::new();
        differences(&version, &then, &Value::Object(results(cases)), &mut found);
        assert!(found.is_empty(), "{WHAT_TO_DO}\n{}", found.join("\n"));
    }
}

/// A cause nobody shows by a record would change results unseen.
#[test]
fn each_cause_of_a_hint_is_shown_by_a_record() {
    let all: Vec<Value> = versions().map(|(_, cases)| results(cases).into()).into();
    for cause in Cause::ALL {
        let shown = all.iter().flat_map(|results| {
            let results = results.as_object().expect("results").values();
            results
                .filter_map(|result| result["hints"].as_array())
                .flatten()
        });
        let shown = shown.filter(|hint| hint["cause"] == cause.word()).count();
        assert!(shown > 0, "no record shows {cause}");
    }
}

/// Writes the results of analysis versions that have none yet.
#[test]
#[ignore = "only for a new analysis version"]
fn write_golden_results() {
    for (version, cases) in versions() {
        if std::fs::exists(file(&version)).expect("the folder can be read") {
            println!(
                "{version} is there and stays: raise the version, or delete its file if it was never released"
            );
            continue;
        }
        let lines = results(cases).into_iter();
        let lines = lines.map(|(name, result)| format!("{}:{result}", Value::from(name)));
        let text = format!("{{\n{}\n}}\n", lines.collect::<Vec<_>>().join(",\n"));
        std::fs::write(file(&version), text).expect("the results are kept");
    }
}
