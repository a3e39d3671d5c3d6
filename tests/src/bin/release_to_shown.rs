//! How long after a clamp was let go its figure is in the book and shown, and how many bytes of the book a sample takes.
//!
//! `cargo build --release -p holdtrue && cargo run --release -p holdtrue-tests --features studies --bin release_to_shown -- [clamps, 60]`
//! In: how many clamps; each takes some nine seconds, as at a machine. Out: rows for the table of speeds.
//!
//! Between the simulated gauge and the program stands a cable that looks at what passes: a clamp is let go when the sample that
//! falls through half its force has been handed to the program. What is shown is in the book, since the program shows nothing
//! else.

#[cfg(not(unix))]
fn main() {
    eprintln!("pseudo-terminals are needed");
}

#[cfg(unix)]
fn main() {
    on_unix::main();
}

#[cfg(unix)]
mod on_unix {
    use holdtrue_protocol::block;
    use holdtrue_protocol::message::FromGauge;
    use holdtrue_tests::bench::{Bench, program_beside};
    use holdtrue_tests::port::{OwnPort, Port};
    use std::io::{BufRead, BufReader};
    use std::process::Stdio;
    use std::sync::{Arc, Mutex};
    use std::time::Instant;

    /// A sample that went by: when, and its force in counts.
    type Seen = Arc<Mutex<Vec<(Instant, i32)>>>;

    pub fn main() {
        let clamps: u32 = std::env::args()
            .nth(1)
            .map_or(60, |word| word.parse().expect("a whole number of clamps"));
        let program = program_beside();
        let bench = Bench::new(program.display().to_string().leak());
        let seen = Seen::default();
        let shown = measure(&bench, clamps, &seen);
        let seen = seen.lock().expect("nobody failed");
        let released = released(&seen);
        assert_eq!(released.len(), shown.len(), "each clamp is shown once");
        let mut after_ms: Vec<f64> = released
            .iter()
            .zip(&shown)
            .map(|(released, shown)| 1e3 * shown.duration_since(*released).as_secs_f64())
            .collect();
        after_ms.sort_by(f64::total_cmp);
        // So many of 100 took no longer.
        let at = |of_100: usize| after_ms[(of_100 * after_ms.len()).div_ceil(100) - 1];
        println!(
            "| release of a clamp to its figure in the book and shown, {} clamps | {:.0} ms | 99 of 100 within | {:.0} ms | most {:.0} ms |",
            after_ms.len(),
            at(50),
            at(99),
            at(100)
        );
        let size = std::fs::metadata(bench.path("at-work.holdtrue"))
            .expect("the book")
            .len();
        println!(
            "| bytes of the book a sample | {:.2} | | | {} samples |",
            size as f64 / seen.len() as f64,
            seen.len()
        );
    }

    /// When each clamp was shown.
    fn measure(bench: &Bench, clamps: u32, seen: &Seen) -> Vec<Instant> {
        let gauge = Port::offer(bench, "--pace 1");
        let looks = Arc::clone(seen);
        let cable = OwnPort::altered(&gauge.path, move |message| {
            let FromGauge::Block(told) = message else {
                return;
            };
            let now = Instant::now();
            let samples = block::decode(told).expect("a whole block");
            let forces = samples.filter_map(|sample| Some((now, sample.force?)));
            looks.lock().expect("nobody failed").extend(forces);
        });
        let line = format!(
            "grip --gauge {} --yes --plain --clamps {clamps} --book at-work.holdtrue",
            cable.path
        );
        let mut command = bench.command(line.split_whitespace());
        command.stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child = command.spawn().expect("the program starts");
        let lines = BufReader::new(child.stdout.take().expect("its output")).lines();
        let shown = lines
            .map_while(Result::ok)
            .map(|line| (Instant::now(), line))
            .filter(|(_, line)| line.trim_start().starts_with("clamp ") && line.contains(" in)"))
            .map(|(at, _)| at)
            .collect();
        child.wait().expect("its end");
        shown
    }

    /// When the force fell through half of the most it reached, each time.
    fn released(seen: &[(Instant, i32)]) -> Vec<Instant> {
        let most = seen.iter().map(|(_, counts)| *counts).max().unwrap_or(0);
        let free = seen.iter().map(|(_, counts)| *counts).min().unwrap_or(0);
        let half = i32::midpoint(free, most);
        let pairs = seen.windows(2);
        let falls = pairs.filter(|pair| pair[0].1 >= half && pair[1].1 < half);
        falls.map(|pair| pair[1].0).collect()
    }
}
