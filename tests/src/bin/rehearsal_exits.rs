//! In: how many seeds. Out: how `rehearse` ends for each condition, what it names first, and whether that agrees with the
//! model the gauge was simulated with.
//!
//! `cargo build --release -p holdtrue && cargo run --release -p holdtrue-tests --features studies --bin rehearsal_exits -- [--seeds N] [--from SEED] [--workers W] [--condition NAME]`
//! The program itself is run, as a person would, once a seed, in a folder of its own.

use holdtrue_simulated_gauge::operator::clamping::{ClampHabits, Clamping, Press};
use holdtrue_simulated_gauge::world::drawbar::{Clamp, Drawbar, MAKER_NOMINAL_N};
use holdtrue_simulated_gauge::world::spindle::Spindle;
use holdtrue_simulated_gauge::{Condition, Severity};
use holdtrue_tests::bench::program_beside;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;

/// What the invented maker's limits are: on the grip force, N, and on the spindle alone by height, mm and µm.
const GRIP_LIMIT_N: f64 = 0.7 * MAKER_NOMINAL_N;
const SPINDLE_LIMITS_UM: [[f64; 2]; 2] = [[20.0, 10.0], [300.0, 25.0]];
/// A drop that goes on by the model, share of the force a second.
const DROP_PER_S: f64 = 0.001;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let given = |name: &str| {
        let place = words.iter().position(|word| word == name)?;
        words.get(place + 1).cloned()
    };
    let number = |name: &str, default: u64| {
        given(name).map_or(default, |word| word.parse().expect("a number"))
    };
    let (seeds, from, workers) = (
        number("--seeds", 20),
        number("--from", 0),
        number("--workers", 2),
    );
    let only = given("--condition");
    let program = program_beside();
    println!("{seeds} seeds a row from {from}\n");
    println!("{}", Tally::HEAD);
    for condition in Condition::ALL {
        if only.as_ref().is_some_and(|only| only != condition.name()) {
            continue;
        }
        let tally = of_condition(&program, condition, from..from + seeds, workers);
        println!("{}", tally.line(condition));
    }
}

fn of_condition(
    program: &Path,
    condition: Condition,
    seeds: std::ops::Range<u64>,
    workers: u64,
) -> Tally {
    let next = AtomicU64::new(seeds.start);
    let work = || {
        let mut tally = Tally::default();
        loop {
            let seed = next.fetch_add(1, Ordering::Relaxed);
            if seed >= seeds.end {
                return tally;
            }
            tally.add(condition, seed, &rehearse(program, condition, seed));
        }
    };
    thread::scope(|scope| {
        let all: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        let mut whole = Tally::default();
        for worker in all {
            whole.merge(worker.join().expect("a worker does not panic"));
        }
        whole
    })
}

/// How one rehearsal ended.
struct Ended {
    code: Option<i32>,
    document: Value,
    messages: String,
}

fn rehearse(program: &Path, condition: Condition, seed: u64) -> Ended {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let output = Command::new(program)
        .args(["rehearse", "--json", "--condition", condition.name()])
        .args(["--seed", &seed.to_string()])
        .current_dir(folder.path())
        .env("HOLDTRUE_SETTINGS", folder.path().join("settings.toml"))
        .env_remove("HOLDTRUE_BOOK")
        .env_remove("HOLDTRUE_TECHNICIAN")
        .stdin(Stdio::null())
        .output()
        .expect("the program starts");
    Ended {
        code: output.status.code(),
        document: serde_json::from_slice(&output.stdout).unwrap_or(Value::Null),
        messages: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// What the model says of a machine.
struct Truth {
    clamps: Vec<Clamp>,
    spindle: Spindle,
}

impl Truth {
    fn of(condition: Condition, seed: u64, clamps: usize) -> Self {
        let faults = condition.faults(Severity::CLEAR);
        let drawbar = Drawbar::new(seed, &faults);
        // What a clamp pulls does not depend on when it is pressed, so an operator who sees no light will do.
        let mut operator = Clamping::new(seed, ClampHabits::default(), drawbar.closing_s());
        let mut made: Vec<Clamp> = Vec::new();
        let mut now_s = 0.0;
        while made.len() < clamps {
            if let Some(Press::Clamp(order)) = operator.press(now_s) {
                made.push(drawbar.clamp(order));
            }
            now_s += 0.05;
        }
        Self {
            clamps: made,
            spindle: Spindle::new(seed, &faults),
        }
    }

    /// True pull in the middle of the settled window of the clamps of these numbers, N.
    fn pulls_n(&self, numbers: &[usize]) -> Vec<f64> {
        let pull_n = |clamp: &Clamp| clamp.pull_n(clamp.touch_s() + 2.4);
        let clamps = numbers
            .iter()
            .filter_map(|number| self.clamps.get(number - 1));
        clamps.map(pull_n).collect()
    }

    /// Mean share of the force that is lost in a second, late in a hold.
    fn drop_per_s(&self) -> f64 {
        let lost = |clamp: &Clamp| {
            let at = |held_s: f64| clamp.pull_n(clamp.touch_s() + held_s);
            (at(3.0) - at(5.0)) / 2.0 / at(3.0)
        };
        let of_sound = self
            .clamps
            .iter()
            .filter(|clamp| clamp.order.bump.is_none());
        let (sum, count) = of_sound.fold((0.0, 0.0), |(sum, count), clamp| {
            (sum + lost(clamp), count + 1.0)
        });
        sum / count
    }

    fn spindle_um(&self, height_mm: f64) -> f64 {
        2.0 * self.spindle.spindle_part_um(height_mm).length_um()
    }
}

/// How the seeds of a condition ended.
#[derive(Default)]
struct Tally {
    seeds: u32,
    exits: BTreeMap<String, u32>,
    grip_first: BTreeMap<String, u32>,
    runout_first: BTreeMap<String, u32>,
    /// Within limit though the model is not, and outside though it is within.
    false_accepts: u32,
    false_rejects: u32,
}

impl Tally {
    const HEAD: &str = "| condition | exit 0 / 3 / 1 / other | grip names first | runout names first | within limit, the model is not | outside, the model is within |\n|---|---|---|---|---|---|";

    fn add(&mut self, condition: Condition, seed: u64, ended: &Ended) {
        self.seeds += 1;
        let code = match ended.code {
            Some(code @ (0 | 1 | 3)) => code.to_string(),
            _ => "other".to_owned(),
        };
        if code == "other" || ended.document.is_null() {
            eprintln!(
                "{condition}, seed {seed}: {:?}\n{}",
                ended.code, ended.messages
            );
        }
        count(&mut self.exits, code);
        count(&mut self.grip_first, first_cause(&ended.document["grip"]));
        count(
            &mut self.runout_first,
            first_cause(&ended.document["runout"]),
        );
        let (accepts, rejects) = against_the_model(condition, seed, &ended.document);
        for (wrong, how) in [(&accepts, "within limit"), (&rejects, "outside limit")] {
            for figure in wrong {
                eprintln!("{condition}, seed {seed}: {figure} {how}, not so by the model");
            }
        }
        self.false_accepts += u32::from(!accepts.is_empty());
        self.false_rejects += u32::from(!rejects.is_empty());
    }

    fn merge(&mut self, other: Self) {
        self.seeds += other.seeds;
        self.false_accepts += other.false_accepts;
        self.false_rejects += other.false_rejects;
        for (mine, theirs) in [
            (&mut self.exits, other.exits),
            (&mut self.grip_first, other.grip_first),
            (&mut self.runout_first, other.runout_first),
        ] {
            for (name, more) in theirs {
                *mine.entry(name).or_default() += more;
            }
        }
    }

    fn line(&self, condition: Condition) -> String {
        let exit = |code: &str| self.exits.get(code).copied().unwrap_or_default();
        format!(
            "| {condition} | {} / {} / {} / {} | {} | {} | {} | {} |",
            exit("0"),
            exit("3"),
            exit("1"),
            exit("other"),
            named(&self.grip_first),
            named(&self.runout_first),
            self.false_accepts,
            self.false_rejects
        )
    }
}

fn count(counts: &mut BTreeMap<String, u32>, name: String) {
    *counts.entry(name).or_default() += 1;
}

/// The most frequent first.
fn named(counts: &BTreeMap<String, u32>) -> String {
    let mut all: Vec<(&String, &u32)> = counts.iter().collect();
    all.sort_by(|a, b| b.1.cmp(a.1));
    let words: Vec<String> = all
        .iter()
        .map(|(name, count)| format!("{name} {count}"))
        .collect();
    words.join(", ")
}

fn first_cause(check: &Value) -> String {
    check["hints"][0]["cause"]
        .as_str()
        .unwrap_or("none")
        .to_owned()
}

/// Figures called within limit that are not by the model, and called outside that are within.
fn against_the_model(
    condition: Condition,
    seed: u64,
    document: &Value,
) -> (Vec<String>, Vec<String>) {
    let clamps = document["grip"]["clamps"]
        .as_array()
        .cloned()
        .unwrap_or_default();
    let truth = Truth::of(condition, seed, clamps.len().max(1));
    let counted: Vec<usize> = clamps
        .iter()
        .filter(|clamp| clamp["counted"] == true)
        .filter_map(|clamp| usize::try_from(clamp["number"].as_u64()?).ok())
        .collect();
    let pulls_n = truth.pulls_n(&counted);
    let mean_n = pulls_n.iter().sum::<f64>() / pulls_n.len() as f64;
    let lowest_n = pulls_n.iter().copied().fold(f64::INFINITY, f64::min);
    let mut wrong = (Vec::new(), Vec::new());
    let mut hold = |figure: String, outcome: &Value, within: bool| {
        if outcome == "accept" && !within {
            wrong.0.push(figure);
        } else if outcome == "reject" && within {
            wrong.1.push(figure);
        }
    };
    let grip = &document["grip"]["verdict"];
    let limits = |check: &Value| check["limits"].as_array().cloned().unwrap_or_default();
    for limit in limits(grip) {
        let figure = limit["figure"].as_str().unwrap_or_default().to_owned();
        let within = match figure.as_str() {
            "grip-mean" => mean_n >= GRIP_LIMIT_N,
            "grip-lowest" => lowest_n >= GRIP_LIMIT_N,
            _ => continue,
        };
        hold(figure, &limit["outcome"], within);
    }
    let drops = truth.drop_per_s() > DROP_PER_S;
    if drops && grip["outcome"] == "accept" {
        hold("drop while held".to_owned(), &grip["outcome"], false);
    }
    for limit in limits(&document["runout"]["verdict"]) {
        let height_mm = limit["height_mm"].as_f64().unwrap_or_default();
        let known = SPINDLE_LIMITS_UM
            .iter()
            .find(|known| (known[0] - height_mm).abs() < 0.1);
        if let Some([height_mm, limit_um]) = known {
            let within = truth.spindle_um(*height_mm) <= *limit_um;
            hold(
                format!("spindle at {height_mm} mm"),
                &limit["outcome"],
                within,
            );
        }
    }
    wrong
}
