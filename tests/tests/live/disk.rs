//! A disk that fills up while measuring: a small file system of the test's own.

use holdtrue_tests::bench;
use holdtrue_tests::bench::Run;
use holdtrue_tests::port::Port;
use std::process::Command;

/// Measures into a book on a disk of so many kilobytes, then checks the book where it lies. A mount name space of its own
/// needs no rights beyond one's own, where the system grants it.
const SCRIPT: &str = r#"
mkdir disk && mount -t tmpfs -o size="$1k" none disk || exit 99
"$2" grip --gauge "$3" --clamps 5 --json --yes --book disk/yard.holdtrue >grip.json
code=$?
ls -l disk >&2
"$2" visit status --json --book disk/yard.holdtrue >status.json || exit 98
"$2" book check --book disk/yard.holdtrue >&2 || exit 97
ls disk | grep -q journal && exit 96
exit $code
"#;

#[test]
fn a_full_disk_ends_the_check_cleanly_with_everything_shown_in_the_book() {
    let unshare = |words: &[&str]| {
        let mut command = Command::new("unshare");
        command.args(["-rm"]).args(words);
        command
    };
    if !unshare(&["true"]).status().is_ok_and(|s| s.success()) {
        eprintln!("not tried: this system gives no name space for a small disk");
        return;
    }
    let mut kept_somewhere = 0;
    for kilobytes in ["210", "250", "310"] {
        let bench = bench!();
        let port = Port::offer(&bench, "--seed 3 --pace max");
        let program = env!("CARGO_BIN_EXE_holdtrue-under-test");
        let mut command = unshare(&["sh", "-c", SCRIPT, "sh", kilobytes, program, &port.path]);
        let run: Run = bench.finish(command.current_dir(bench.folder()));
        let text = |name| std::fs::read_to_string(bench.path(name)).expect("a file");
        let document: serde_json::Value =
            serde_json::from_str(&text("grip.json")).expect("one document");
        let run = run.exits(6).tells("the disk is full");
        assert_eq!(document["error"]["code"], 6, "{run}");
        let status: serde_json::Value =
            serde_json::from_str(&text("status.json")).expect("one document");
        let kept = status["visit"]["checks"][0]["recorded"]
            .as_u64()
            .unwrap_or(0);
        let shown = run
            .messages
            .lines()
            .filter(|line| line.starts_with("  clamp "));
        assert!(kept >= shown.count() as u64, "{kept} kept\n{run}");
        kept_somewhere += kept;
    }
    assert!(
        kept_somewhere > 0,
        "no disk took a clamp before it was full"
    );
}
