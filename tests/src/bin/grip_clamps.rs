//! Whether every clamp of a check is found, and how near its settled force comes to the truth. In: first seed and number
//! of seeds. Out: a table over records of the simulated gauge, clean and with knocks and short clamps.
//!
//! `cargo run --release -p holdtrue-tests --features studies --bin grip_clamps` (400 seeds, about 2 400 clamps a row)

use holdtrue_metrology::grip::clamps::{Rules, find};
use holdtrue_metrology::grip::excluded::Excluded;
use holdtrue_metrology::grip::found::FoundClamp;
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_protocol::message::{Channel, Channels, Command, Reply};
use holdtrue_simulated_gauge::condition::{Condition, Severity};
use holdtrue_simulated_gauge::operator::clamping::ClampHabits;
use holdtrue_simulated_gauge::recorder::Recorder;
use holdtrue_simulated_gauge::world::force::TrueClamp;
use holdtrue_simulated_gauge::{Setup, SimulatedGauge};

const FORCE: Channels = Channels {
    force: true,
    displacement: false,
    mark: false,
    indicator: false,
};
const RATES_HZ: [u16; 4] = [90, 330, 600, 1_000];
const CLAMPS: usize = 6;

/// A found clamp belongs to a true one if it was clamped within this time of the touch.
const SAME_S: f64 = 1.2;

#[derive(Default)]
struct Tally {
    true_clamps: u64,
    found: u64,
    invented: u64,
    knocked: u64,
    /// Of these, how many do not count for it.
    disturbed: u64,
    /// Settled force against the true pull over the same window, clamps without a knock.
    errors_percent: Vec<f64>,
}

fn main() {
    let mut numbers = std::env::args()
        .skip(1)
        .map(|word| word.parse::<u64>().expect("a number"));
    let (first, seeds) = (numbers.next().unwrap_or(0), numbers.next().unwrap_or(400));
    println!(
        "{:34} {:>6} {:>8} {:>9} {:>8} {:>10} {:>9} {:>9}",
        "records", "clamps", "found %", "invented", "knocked", "disturbed", "median %", "worst %"
    );
    for (name, mishaps) in [("clean", false), ("with knocks and short clamps", true)] {
        let mut tally = Tally::default();
        for seed in first..first + seeds {
            let place = usize::try_from(seed).expect("a small seed");
            let condition = Condition::ALL[place % Condition::ALL.len()];
            let mut setup = Setup::with_faults(
                seed,
                condition.faults(Severity::new((seed % 5) as f64 / 4.0)),
            );
            setup.habits = ClampHabits {
                mishaps,
                ..ClampHabits::default()
            };
            check(
                setup,
                RATES_HZ[place / Condition::ALL.len() % RATES_HZ.len()],
                &mut tally,
            );
        }
        tally.print(name);
    }
}

fn check(setup: Setup, rate_hz: u16, tally: &mut Tally) {
    let mut gauge = SimulatedGauge::new(setup);
    let mut host = Recorder::new(&mut gauge);
    let Ok(Reply::Calibration(calibration)) = host.ask(Command::ReadCalibration(Channel::Force))
    else {
        panic!("the gauge has a calibration")
    };
    let recording = host
        .record(rate_hz, FORCE, |gauge, _| {
            gauge.true_clamps().len() > CLAMPS
        })
        .expect("a healthy gauge streams");
    let (times, counts) = recording.force_counts();
    let slope = calibration.coefficients[1];
    let forces: Vec<f64> = counts
        .iter()
        .map(|counts| f64::from(*counts) * slope)
        .collect();
    let record = ForceRecord::new(&times, &forces).expect("a sound record");
    let found = find(&record, &Rules::default()).expect("clamps").clamps;
    let end_s = times.last().copied().unwrap_or(0.0);
    let all = gauge.true_clamps();
    let ended = all
        .iter()
        .filter(|clamp| clamp.let_go_s < end_s - 1.5)
        .copied();
    let truth: Vec<TrueClamp> = ended.collect();
    tally.invented += invented(&all, &found);
    tally.compare(&truth, &found);
}

fn belongs(clamp: &FoundClamp, true_clamp: &TrueClamp) -> bool {
    clamp
        .edges
        .clamped_s
        .is_some_and(|at| (at - true_clamp.touch_s).abs() < SAME_S)
}

/// Found clamps that were released and belong to none there was.
fn invented(all: &[TrueClamp], found: &[FoundClamp]) -> u64 {
    let complete = found
        .iter()
        .filter(|clamp| clamp.edges.released_s.is_some());
    complete
        .filter(|clamp| !all.iter().any(|there| belongs(clamp, there)))
        .count() as u64
}

impl Tally {
    fn compare(&mut self, truth: &[TrueClamp], found: &[FoundClamp]) {
        for true_clamp in truth {
            self.true_clamps += 1;
            self.knocked += u64::from(true_clamp.bumped);
            let Some(clamp) = found.iter().find(|clamp| belongs(clamp, true_clamp)) else {
                continue;
            };
            self.found += 1;
            self.disturbed += u64::from(clamp.excluded == Some(Excluded::Disturbed));
            if let (true, Some(settled_n), Some(window)) = (
                clamp.counted() && !true_clamp.bumped,
                clamp.settled_n,
                clamp.window,
            ) {
                let pulled_n = true_clamp.mean_pull_n(window.from_s, window.to_s);
                self.errors_percent
                    .push(100.0 * (settled_n / pulled_n - 1.0).abs());
            }
        }
    }

    fn print(mut self, name: &str) {
        self.errors_percent.sort_by(f64::total_cmp);
        let median = self
            .errors_percent
            .get(self.errors_percent.len() / 2)
            .copied()
            .unwrap_or(0.0);
        let worst = self.errors_percent.last().copied().unwrap_or(0.0);
        let share = 100.0 * self.found as f64 / self.true_clamps as f64;
        println!(
            "{name:34} {:6} {share:8.3} {:9} {:8} {:10} {median:9.3} {worst:9.3}",
            self.true_clamps, self.invented, self.knocked, self.disturbed
        );
    }
}
