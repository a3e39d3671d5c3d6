//! A gauge on a serial device: measured from a second process, pulled off, killed, interrupted.
#![cfg(unix)]

use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::schema::differences;
use serde_json::Value;
use std::io::{BufRead, BufReader, Read};
use std::process::{Child, ChildStderr, Command, Stdio};
use std::time::Duration;

/// The simulated gauge, offered as a serial device by the program itself.
pub(crate) struct Port {
    child: Child,
    /// Its path.
    pub(crate) path: String,
}

impl Port {
    pub(crate) fn offer(bench: &Bench, options: &str) -> Self {
        let mut child = bench
            .command(format!("rehearse --as-port {options}").split_whitespace())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut path = String::new();
        let out = child.stdout.take().expect("its standard output");
        BufReader::new(out)
            .read_line(&mut path)
            .expect("the path of the device");
        Self {
            child,
            path: path.trim().to_owned(),
        }
    }
}

impl Drop for Port {
    fn drop(&mut self) {
        // Gone already in the tests that pull it off.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn grip_words(port: &str) -> Vec<&str> {
    vec![
        "--book",
        "yard.holdtrue",
        "grip",
        "--gauge",
        port,
        "--clamps",
        "5",
        "--json",
        "--yes",
    ]
}

/// Starts measuring and gives the lines for the person as they come.
fn measuring(bench: &Bench, port: &str) -> (Child, BufReader<ChildStderr>) {
    let mut child = bench
        .command(grip_words(port))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let lines = BufReader::new(child.stderr.take().expect("its standard error"));
    (child, lines)
}

/// Reads on until a line holds the text; gives all lines read.
#[track_caller]
pub(crate) fn until(lines: &mut BufReader<ChildStderr>, text: &str) -> Vec<String> {
    let mut read = Vec::new();
    loop {
        let mut line = String::new();
        let got = lines.read_line(&mut line).expect("a line");
        assert!(got > 0, "ended without \"{text}\": {read:?}");
        let found = line.contains(text);
        read.push(line);
        if found {
            return read;
        }
    }
}

/// What a running program tells on standard error.
pub(crate) fn told(child: &mut Child) -> BufReader<ChildStderr> {
    BufReader::new(child.stderr.take().expect("its standard error"))
}

fn the_rest(lines: &mut BufReader<ChildStderr>) -> String {
    let mut rest = String::new();
    lines.read_to_string(&mut rest).expect("text");
    rest
}

pub(crate) fn output_of(mut child: Child) -> (i32, String) {
    let mut out = String::new();
    let piped = child.stdout.take();
    piped
        .expect("its standard output")
        .read_to_string(&mut out)
        .expect("text");
    let status = child.wait().expect("it ends");
    (status.code().unwrap_or(-1), out)
}

fn recorded(bench: &Bench) -> u64 {
    let status = bench
        .line("--book yard.holdtrue visit status --json")
        .exits(0)
        .json();
    status["visit"]["checks"][0]["recorded"]
        .as_u64()
        .unwrap_or(0)
}

#[test]
fn over_the_wire_and_in_one_process_the_figures_are_the_same_to_the_last_digit() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    let live = bench.run(grip_words(&port.path)).exits(0).json();
    let inside = bench.line("rehearse --seed 3 --json").exits(0).json();
    assert_eq!(live["clamps"], inside["grip"]["clamps"]);
    assert_eq!(live["statistics"], inside["grip"]["statistics"]);
    let again = bench.line("grip --from yard.holdtrue --json").json();
    assert_eq!(again["clamps"], live["clamps"]);
}

#[test]
fn a_gauge_pulled_off_in_clamp_3_leaves_two_clamps_and_the_check_goes_on() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 20");
    let (child, mut lines) = measuring(&bench, &port.path);
    until(&mut lines, "Clamp 3 of 5");
    drop(port);
    let told = the_rest(&mut lines);
    let (code, out) = output_of(child);
    assert_eq!(code, 5, "{told}");
    let partial: Value = serde_json::from_str(&out).expect("one document");
    assert_eq!(partial["error"]["code"], 5, "{told}");
    assert!(
        partial["clamps"]
            .as_array()
            .is_some_and(|clamps| clamps.len() >= 2),
        "{out}"
    );
    assert_eq!(recorded(&bench), 2, "{told}");

    let port = Port::offer(&bench, "--seed 3 --pace max");
    let run = bench
        .run(grip_words(&port.path))
        .exits(0)
        .tells("2 of 5 clamps are in");
    let whole = run.json();
    assert_eq!(whole["statistics"]["count"], 5, "{run}");
    // The free level is told from the whole record, so the second half may move a zero by less than a thousandth of 1 N.
    let second = |document: &Value| {
        document["clamps"][1]["settled_n"]
            .as_f64()
            .expect("a settled force")
    };
    assert!((second(&whole) - second(&partial)).abs() < 1e-3, "{run}");
    bench
        .line("--book yard.holdtrue book check")
        .exits(0)
        .shows("sound");
}

#[test]
fn what_was_shown_as_recorded_survives_a_kill_at_any_moment() {
    for wait_ms in [0, 30, 90, 150, 260] {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 5 --pace 40");
        let (mut child, mut lines) = measuring(&bench, &port.path);
        let mut shown = until(&mut lines, "clamp 1:");
        std::thread::sleep(Duration::from_millis(wait_ms));
        child.kill().expect("it runs");
        child.wait().expect("it ends");
        shown.extend(the_rest(&mut lines).lines().map(str::to_owned));
        let clamps = shown
            .iter()
            .filter(|line| line.starts_with("  clamp "))
            .count();
        let kept = recorded(&bench);
        assert!(
            kept >= clamps as u64,
            "{kept} kept of {clamps} shown after {wait_ms} ms: {shown:?}"
        );
        bench
            .line("--book yard.holdtrue book check")
            .exits(0)
            .shows("sound");
    }
}

#[test]
fn ctrl_c_ends_the_check_cleanly_and_it_goes_on_later() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace 20");
    let (child, mut lines) = measuring(&bench, &port.path);
    until(&mut lines, "clamp 1:");
    let interrupted = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(interrupted.is_ok_and(|status| status.success()));
    let told = the_rest(&mut lines);
    let (code, out) = output_of(child);
    assert_eq!(code, 130, "{told}");
    let partial: Value = serde_json::from_str(&out).expect("one document");
    assert_eq!(partial["error"]["code"], 130, "{told}");
    assert!(recorded(&bench) >= 1);
    drop(port);
    let port = Port::offer(&bench, "--seed 3 --pace max");
    bench
        .run(grip_words(&port.path))
        .exits(0)
        .tells("unfinished check");
}

#[test]
fn nothing_is_started_where_nobody_can_be_asked() {
    let bench = bench!();
    let port = Port::offer(&bench, "--pace max");
    let words: Vec<&str> = grip_words(&port.path)
        .into_iter()
        .filter(|word| *word != "--yes")
        .collect();
    let run = bench.run(words).exits(2).tells("--yes");
    assert!(!run.messages.contains("clamp now"), "{run}");
}

#[test]
fn a_port_that_is_none_is_exit_5_and_named() {
    let bench = bench!();
    let run = bench
        .run(grip_words("/dev/no-such-port"))
        .exits(5)
        .tells("/dev/no-such-port");
    assert_eq!(run.json()["error"]["code"], 5);
    bench.file("letter.txt", "not a device");
    bench
        .run(grip_words("letter.txt"))
        .exits(5)
        .tells("letter.txt");
}

#[test]
fn what_is_told_of_a_gauge_is_as_its_schemas_say() {
    let bench = bench!();
    let port = Port::offer(&bench, "--pace max");
    for (name, line) in [
        ("gauge-list", "gauge list --json".to_owned()),
        (
            "gauge-info",
            format!("gauge info --gauge {} --json", port.path),
        ),
        (
            "gauge-check",
            format!("gauge check --gauge {} --json", port.path),
        ),
        ("rehearse", "rehearse --seed 2 --json".to_owned()),
    ] {
        let schema = bench.run(["schema", name]).exits(0).json();
        let document = bench.line(&line).json();
        assert_eq!(
            differences(&schema, &document),
            Vec::<String>::new(),
            "{line}"
        );
    }
}

#[test]
fn a_gauge_held_free_is_fit_and_measures_afterwards() {
    let bench = bench!();
    let port = Port::offer(&bench, "--seed 3 --pace max");
    bench
        .line(&format!("gauge check --gauge {}", port.path))
        .exits(0)
        .shows("Fit to measure");
    let run = bench.run(grip_words(&port.path)).exits(0);
    assert_eq!(run.json()["statistics"]["count"], 5, "{run}");
}

#[test]
fn a_gauge_too_small_for_the_spindle_is_refused_before_the_first_clamp() {
    let bench = bench!();
    let port = Port::offer(&bench, "--pace max");
    let run = bench
        .line(&format!(
            "grip --gauge {} --nominal-n 30000 --book yard.holdtrue --yes",
            port.path
        ))
        .exits(5)
        .tells("use a bigger gauge");
    assert!(!run.out.contains("clamp now"), "{run}");
}
