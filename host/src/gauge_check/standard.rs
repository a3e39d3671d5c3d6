//! In: a session with a gauge, a check standard of known force. Out: what the gauge reads on it, less its free zero before
//! and after.
//!
//! Everything is looked at in means of a tenth of a second: five whole periods of 50 Hz mains, six of 60 Hz, so that hum
//! is in none of them. What counts as settled is common practice, no source.

use crate::gauge_check::guidance;
use crate::gauge_check::guidance::OnStandard;
use crate::gauge_check::look::REST_HZ;
use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::Key;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use holdtrue_gauge::calibration::quantity;
use holdtrue_gauge::capture::{Capture, fault_words, gravest};
use holdtrue_gauge::session::Session;
use holdtrue_metrology::statistics::mean;
use holdtrue_protocol::message::{CalibrationRecord, Channels, Signal};
use std::collections::VecDeque;
use std::time::Duration;

/// Length of a mean, s.
const PART_S: f64 = 0.1;
/// A zero is the mean of so many parts, a reading of so many.
const ZERO_PARTS: usize = 10;
const READING_PARTS: usize = 20;
/// Parts before the load came that may already hold the hand that puts it on.
const HAND_PARTS: usize = 3;
/// The load is on above this share of it, and off below the other.
const ON: f64 = 0.2;
const OFF: f64 = 0.05;
/// Settled: both halves of a stretch agree within this share of the load, and no part is farther off than the other.
const HALVES_AGREE: f64 = 0.001;
const PARTS_AGREE: f64 = 0.01;
/// A person who does nothing for so long has gone away, s.
const PATIENCE_S: f64 = 180.0;

/// What was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Read {
    /// Settled mean less the zeros before and after, N.
    pub reading_n: f64,
    /// The same, counts.
    pub reading_counts: f64,
    /// Gauge free before, N.
    pub zero_before_n: f64,
    /// And after.
    pub zero_after_n: f64,
}

/// Leads the person through one loading.
///
/// # Errors
/// The gauge goes away or reports a fault, nobody puts a load on, or somebody interrupts.
pub fn read(
    session: &mut Session,
    record: &CalibrationRecord,
    load_n: f64,
    prompt: &mut dyn Prompt,
    (subject, settings): (&Subject, &Settings),
    interrupt: &Interrupt,
) -> Result<Read, Error> {
    let channels = Channels {
        force: true,
        ..Channels::default()
    };
    session.show(Signal::Hold)?;
    let started = session.start(REST_HZ, channels)?;
    let done = lead(
        session,
        started.boot,
        record,
        load_n,
        prompt,
        (subject, settings),
        interrupt,
    );
    let stopped = session.show(Signal::Off).and_then(|()| session.stop());
    // A gauge that is gone cannot be stopped; that it is gone has been said already.
    let read = done?;
    stopped?;
    Ok(read)
}

fn lead(
    session: &mut Session,
    boot: u32,
    record: &CalibrationRecord,
    load_n: f64,
    prompt: &mut dyn Prompt,
    (subject, settings): (&Subject, &Settings),
    interrupt: &Interrupt,
) -> Result<Read, Error> {
    let mut capture = Capture::new(boot);
    let mut parts = Parts::default();
    let mut loading = Loading::new(load_n);
    prompt.say_step("Gauge free …");
    loop {
        let typed = prompt.typed();
        if interrupt.is_set() || matches!(typed, Some(Key::Stop | Key::Quit)) {
            return Err(Error::interrupted(
                "stopped: take the load off; nothing of this check was kept",
            ));
        }
        let Some(raw) = session.next(Duration::from_millis(100))? else {
            continue;
        };
        let added = capture.take(&raw);
        if added.lost.is_some() {
            parts = Parts::default();
        }
        for sample in added.samples {
            if let Some(fault) = gravest(sample.faults) {
                return Err(Error::gauge(format!(
                    "{}: {}; take the load off, then see `holdtrue gauge check`",
                    session.port(),
                    fault_words(fault)
                )));
            }
            let Some(counts) = sample.force else { continue };
            let whole = parts.push(sample.time_s, quantity(record, counts), f64::from(counts));
            let Some(part) = whole else { continue };
            if prompt.wants_scene() {
                let force_n = part.force_n - loading.before.map_or(0.0, |before| before.force_n);
                let step = loading.shown();
                let scene = guidance::on_standard(step, load_n, force_n, subject, settings);
                prompt.show(&scene);
            }
            match loading.push(part) {
                Some(Step::Done(read)) => return Ok(read),
                Some(Step::Downwards(read_n)) => {
                    return Err(Error::gauge(format!(
                        "{}: the standard reads downwards ({}, {} expected); take it off. The wires of the bridge are \
                         exchanged, or the slope in the certificate has the wrong sign: put that right, then repeat the command",
                        session.port(),
                        settings.force(read_n),
                        settings.force(load_n)
                    )));
                }
                Some(step) => {
                    prompt.say_step(&step.words(load_n, settings));
                    prompt.ring(2);
                }
                None => {}
            }
            if loading.idle_s > PATIENCE_S {
                return Err(Error::gauge(format!(
                    "{}: {} for {PATIENCE_S:.0} s; take the load off and repeat the command",
                    session.port(),
                    loading.waits_for()
                )));
            }
        }
    }
}

/// The mean of a tenth of a second.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Part {
    force_n: f64,
    counts: f64,
}

/// Samples of the part under way.
#[derive(Debug, Default)]
struct Parts {
    began_s: Option<f64>,
    forces_n: Vec<f64>,
    counts: Vec<f64>,
}

impl Parts {
    fn push(&mut self, at_s: f64, force_n: f64, counts: f64) -> Option<Part> {
        let began_s = *self.began_s.get_or_insert(at_s);
        let whole = (at_s - began_s >= PART_S && !self.forces_n.is_empty()).then(|| {
            let part = Part {
                force_n: mean(&self.forces_n),
                counts: mean(&self.counts),
            };
            self.forces_n.clear();
            self.counts.clear();
            // From where it should have begun, so that parts do not creep away from whole periods.
            self.began_s = Some(began_s + PART_S);
            part
        });
        self.forces_n.push(force_n);
        self.counts.push(counts);
        whole
    }
}

/// What the person is told, or that it is over.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    PutOn,
    StandStill,
    CameOff,
    TakeOff(f64),
    /// A load came on and reads the wrong way, N.
    Downwards(f64),
    Done(Read),
}

impl Step {
    fn words(self, load_n: f64, settings: &Settings) -> String {
        let force = |newton| settings.force(newton);
        match self {
            Self::PutOn => format!("Put the {} of the standard on, slowly.", force(load_n)),
            Self::StandStill => "  let it stand, hands off …".to_owned(),
            Self::CameOff => {
                "It came off before it had settled: put it on again, and let it stand.".to_owned()
            }
            Self::TakeOff(read_n) => {
                format!("  {} is in. Take the load off, slowly.", force(read_n))
            }
            Self::Downwards(_) | Self::Done(_) => String::new(),
        }
    }
}

#[derive(Clone, Copy, Debug)]
enum Phase {
    Free,
    Waiting,
    Loaded,
    Unloading(Part),
}

/// One loading, part by part.
#[derive(Debug)]
struct Loading {
    load_n: f64,
    phase: Phase,
    recent: VecDeque<Part>,
    before: Option<Part>,
    idle_s: f64,
}

impl Loading {
    fn new(load_n: f64) -> Self {
        Self {
            load_n,
            phase: Phase::Free,
            recent: VecDeque::new(),
            before: None,
            idle_s: 0.0,
        }
    }

    fn shown(&self) -> OnStandard {
        match self.phase {
            Phase::Free => OnStandard::Free,
            Phase::Waiting => OnStandard::PutOn,
            Phase::Loaded => OnStandard::Settle,
            Phase::Unloading(_) => OnStandard::TakeOff,
        }
    }

    fn waits_for(&self) -> &'static str {
        match self.phase {
            Phase::Free => "the gauge is not at rest",
            Phase::Waiting => "no load came on the gauge",
            Phase::Loaded => "the load does not settle",
            Phase::Unloading(_) => "the load is still on the gauge",
        }
    }

    fn push(&mut self, part: Part) -> Option<Step> {
        self.idle_s += PART_S;
        self.recent.push_back(part);
        if self.recent.len() > READING_PARTS {
            self.recent.pop_front();
        }
        match self.phase {
            Phase::Free => {
                self.before = Some(self.settled(ZERO_PARTS)?);
                self.go_to(Phase::Waiting, Step::PutOn)
            }
            Phase::Waiting => self.wait(part),
            Phase::Loaded => self.weigh(part),
            Phase::Unloading(on) => self.come_free(on),
        }
    }

    /// The zero before is the newest that the hand with the load has not touched.
    fn wait(&mut self, part: Part) -> Option<Step> {
        let before = self.before?;
        if part.force_n - before.force_n > ON * self.load_n {
            return self.go_to(Phase::Loaded, Step::StandStill);
        }
        let untouched = self.recent.len().saturating_sub(HAND_PARTS);
        let parts = self.recent.iter().take(untouched).copied();
        let newest: Vec<Part> = parts.collect();
        let zero = self.agree(newest.get(untouched.saturating_sub(ZERO_PARTS)..)?)?;
        let moved_n = zero.force_n - before.force_n;
        if moved_n < -ON * self.load_n {
            return Some(Step::Downwards(moved_n));
        }
        self.before = Some(zero);
        None
    }

    fn weigh(&mut self, part: Part) -> Option<Step> {
        let before = self.before?;
        if part.force_n - before.force_n < ON * self.load_n {
            return self.go_to(Phase::Waiting, Step::CameOff);
        }
        let on = self.settled(READING_PARTS)?;
        let read_n = on.force_n - before.force_n;
        self.go_to(Phase::Unloading(on), Step::TakeOff(read_n))
    }

    fn come_free(&mut self, on: Part) -> Option<Step> {
        let before = self.before?;
        let after = self.settled(ZERO_PARTS)?;
        if (after.force_n - before.force_n).abs() > OFF * self.load_n {
            return None;
        }
        Some(Step::Done(Read {
            reading_n: on.force_n - f64::midpoint(before.force_n, after.force_n),
            reading_counts: on.counts - f64::midpoint(before.counts, after.counts),
            zero_before_n: before.force_n,
            zero_after_n: after.force_n,
        }))
    }

    fn go_to(&mut self, phase: Phase, step: Step) -> Option<Step> {
        self.phase = phase;
        self.recent.clear();
        self.idle_s = 0.0;
        Some(step)
    }

    /// The mean of the newest parts, if they agree.
    fn settled(&self, parts: usize) -> Option<Part> {
        let first = self.recent.len().checked_sub(parts)?;
        let newest: Vec<Part> = self.recent.iter().skip(first).copied().collect();
        self.agree(&newest)
    }

    fn agree(&self, parts: &[Part]) -> Option<Part> {
        if parts.len() < ZERO_PARTS {
            return None;
        }
        let forces_n: Vec<f64> = parts.iter().map(|part| part.force_n).collect();
        let counts: Vec<f64> = parts.iter().map(|part| part.counts).collect();
        let (first, second) = forces_n.split_at(forces_n.len() / 2);
        let middle_n = mean(&forces_n);
        let halves = (mean(first) - mean(second)).abs() <= HALVES_AGREE * self.load_n;
        let whole = forces_n
            .iter()
            .all(|force_n| (force_n - middle_n).abs() <= PARTS_AGREE * self.load_n);
        (halves && whole).then(|| Part {
            force_n: middle_n,
            counts: mean(&counts),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Forces held for so many parts each, the gauge's zero at 40 N and 100 counts a newton.
    fn steps(loads: &[(f64, usize)]) -> Vec<Step> {
        let mut loading = Loading::new(5_000.0);
        let forces = loads
            .iter()
            .flat_map(|(force_n, parts)| std::iter::repeat_n(40.0 + force_n, *parts));
        forces
            .filter_map(|force_n| {
                loading.push(Part {
                    force_n,
                    counts: 100.0 * force_n,
                })
            })
            .collect()
    }

    fn reading_n(steps: &[Step]) -> f64 {
        let Some(Step::Done(read)) = steps.last() else {
            panic!("not done: {steps:?}")
        };
        assert!((read.reading_counts - 100.0 * read.reading_n).abs() < 1e-6);
        read.reading_n
    }

    #[test]
    fn a_load_that_stands_still_is_read_less_the_zeros() {
        let steps = steps(&[(0.0, 20), (2_500.0, 3), (5_010.0, 30), (4.0, 20)]);
        // The zeros are 40 N before and 44 N after.
        assert!((reading_n(&steps) - 5_008.0).abs() < 1e-9);
        assert_eq!(
            steps[..2],
            [Step::PutOn, Step::StandStill],
            "told in this order"
        );
    }

    #[test]
    fn a_load_that_comes_off_too_soon_is_asked_for_again() {
        let steps = steps(&[
            (0.0, 20),
            (5_010.0, 10),
            (0.0, 20),
            (5_000.0, 30),
            (0.0, 20),
        ]);
        assert!(steps.contains(&Step::CameOff), "{steps:?}");
        assert!((reading_n(&steps) - 5_000.0).abs() < 1e-9);
    }

    #[test]
    fn a_load_that_reads_downwards_is_no_zero() {
        let steps = steps(&[(0.0, 20), (-2_500.0, 3), (-5_010.0, 30)]);
        let [Step::PutOn, Step::Downwards(read_n), ..] = steps[..] else {
            panic!("{steps:?}")
        };
        assert!((read_n + 5_010.0).abs() < 1e-9);
    }

    #[test]
    fn a_load_that_creeps_or_swings_is_not_read() {
        let creeping: Vec<(f64, usize)> = (0..200)
            .map(|n| (4_000.0 + 2.0 * f64::from(n), 1))
            .collect();
        let swinging: Vec<(f64, usize)> = (0..200)
            .map(|n| (if n % 2 == 0 { 4_900.0 } else { 5_100.0 }, 1))
            .collect();
        for moving in [creeping, swinging] {
            let all = steps(&[vec![(0.0, 20)], moving].concat());
            assert_eq!(all, [Step::PutOn, Step::StandStill]);
        }
    }

    #[test]
    fn the_zero_before_is_the_newest_one() {
        let steps = steps(&[(0.0, 20), (12.0, 20), (5_012.0, 30), (12.0, 20)]);
        assert!((reading_n(&steps) - 5_000.0).abs() < 1e-9);
    }

    /// 50 and 60 Hz of 30 N, sampled a thousand times a second.
    #[test]
    fn hum_of_the_mains_is_in_no_part() {
        for mains_hz in [50.0, 60.0] {
            let mut parts = Parts::default();
            for sample in 0..2_000 {
                let at_s = f64::from(sample) / 1_000.0;
                let hum_n = 30.0 * (std::f64::consts::TAU * mains_hz * at_s).sin();
                if let Some(part) = parts.push(at_s, 5_000.0 + hum_n, 0.0) {
                    assert!((part.force_n - 5_000.0).abs() < 0.4, "{part:?}");
                }
            }
        }
    }
}
