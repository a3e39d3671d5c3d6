//! Force records a gauge writes on good and on bad days, with their truth. In: what the clamps were like and what
//! happened to them. Out: CSV text.
//!
//! Each clamp rises in a line with a small overshoot, or exponentially, is held, and falls within some 50 ms.

use std::f64::consts::TAU;
use std::fmt::Write;

/// How a force rises.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rise {
    /// In a line over so many seconds, with an overshoot of 5 %.
    Line(f64),
    /// Exponentially, by this time constant, s.
    Slow(f64),
}

/// A row of clamps.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Samples a second.
    pub rate_hz: f64,
    /// Force of each clamp, N.
    pub levels_n: Vec<f64>,
    /// From the beginning of the rise to that of the fall, s.
    pub hold_s: f64,
    /// From there to the next rise, s.
    pub pause_s: f64,
    /// Before the first rise, s; the pause where none is given.
    pub lead_s: Option<f64>,
    /// How it rises.
    pub rise: Rise,
    /// What the force loses while held, N/s.
    pub sag_n_per_s: f64,
    /// What the free gauge reads at the beginning, N.
    pub zero_n: f64,
    /// How that changes, N a minute.
    pub drift_n_per_min: f64,
    /// Standard deviation of the noise, N.
    pub noise_n: f64,
}

impl Row {
    /// Clamps of these forces at 200 Hz: held 5 s, pauses of 3 s, noise of 4 N.
    pub fn of(levels_n: &[f64]) -> Self {
        Self {
            rate_hz: 200.0,
            levels_n: levels_n.to_vec(),
            hold_s: 5.0,
            pause_s: 3.0,
            lead_s: None,
            rise: Rise::Line(0.1),
            sag_n_per_s: 0.0,
            zero_n: 0.0,
            drift_n_per_min: 0.0,
            noise_n: 4.0,
        }
    }

    /// The record.
    pub fn record(&self) -> Written {
        let mut spans = Vec::new();
        let mut at_s = self.lead_s.unwrap_or(self.pause_s);
        for _ in &self.levels_n {
            spans.push((at_s, at_s + self.hold_s));
            at_s += self.hold_s + self.pause_s;
        }
        let mut chance = Chance(0x9e37_79b9_7f4a_7c15);
        let mut written = Written {
            time_s: times(self.rate_hz, at_s),
            force_n: Vec::new(),
            spans,
        };
        for &time_s in &written.time_s {
            let loads = written.spans.iter().zip(&self.levels_n);
            let load: f64 = loads
                .map(|(&(from_s, to_s), &level_n)| {
                    self.load(level_n, time_s - from_s, time_s - to_s)
                })
                .sum();
            let zero = self.zero_n + self.drift_n_per_min / 60.0 * time_s;
            let force_n = load + zero + self.noise_n * chance.normal();
            written.force_n.push(force_n);
        }
        written
    }

    /// Load of one clamp so long after its rise and its fall began.
    fn load(&self, level_n: f64, since_s: f64, fallen_s: f64) -> f64 {
        if since_s < 0.0 {
            return 0.0;
        }
        if fallen_s >= 0.0 {
            let held_n = level_n - self.sag_n_per_s * self.hold_s;
            return held_n * (-fallen_s / 0.02).exp();
        }
        let risen = match self.rise {
            Rise::Line(length_s) => {
                let late_s = (since_s - length_s).max(0.0);
                (since_s / length_s).min(1.0)
                    + 0.05 * (-late_s / 0.1).exp() * (8.0 * TAU * late_s).sin()
            }
            Rise::Slow(constant_s) => 1.0 - (-since_s / constant_s).exp(),
        };
        level_n * risen - self.sag_n_per_s * since_s
    }

    /// Mean of an exponential rise over the settled window, which begins 1 s after half the level and is 2 s long, N.
    pub fn settled_of_slow_n(&self, constant_s: f64) -> Vec<f64> {
        let half_s = constant_s * std::f64::consts::LN_2;
        let left = |since_s: f64| (-since_s / constant_s).exp();
        let lost = constant_s / 2.0 * (left(half_s + 1.0) - left(half_s + 3.0));
        self.levels_n
            .iter()
            .map(|level_n| level_n * (1.0 - lost))
            .collect()
    }
}

/// A record.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// Times, s.
    pub time_s: Vec<f64>,
    /// Forces, N.
    pub force_n: Vec<f64>,
    /// When each clamp begins to rise and to fall, s.
    pub spans: Vec<(f64, f64)>,
}

impl Written {
    /// A record of stretches of steady force, N from s to s, with noise of 4 N.
    pub fn steps(rate_hz: f64, length_s: f64, steps: &[(f64, f64, f64)]) -> Self {
        let mut chance = Chance(0x2545_f491_4f6c_dd1d);
        let time_s = times(rate_hz, length_s);
        let at = |time_s: f64| {
            let step = steps
                .iter()
                .find(|(from_s, to_s, _)| (*from_s..*to_s).contains(&time_s));
            step.map_or(0.0, |(_, _, force_n)| *force_n)
        };
        let force_n = time_s
            .iter()
            .map(|&time_s| at(time_s) + 4.0 * chance.normal())
            .collect();
        Self {
            time_s,
            force_n,
            spans: Vec::new(),
        }
    }

    /// Adds a force from s to s.
    #[must_use]
    pub fn with(mut self, from_s: f64, to_s: f64, force_n: f64) -> Self {
        for (time_s, force) in self.time_s.iter().zip(&mut self.force_n) {
            if (from_s..to_s).contains(time_s) {
                *force += force_n;
            }
        }
        self
    }

    /// The same in every clamp, so long after it began to rise.
    #[must_use]
    pub fn in_each(self, after_s: f64, length_s: f64, force_n: f64) -> Self {
        let spans = self.spans.clone();
        spans.iter().fold(self, |record, (from_s, _)| {
            record.with(from_s + after_s, from_s + after_s + length_s, force_n)
        })
    }

    /// Another force in place of the fall of every clamp.
    #[must_use]
    pub fn instead_after(mut self, length_s: f64, force_n: f64) -> Self {
        for (_, to_s) in &self.spans {
            for (time_s, force) in self.time_s.iter().zip(&mut self.force_n) {
                if (*to_s..to_s + length_s).contains(time_s) {
                    *force = force_n;
                }
            }
        }
        self
    }

    /// The pauses: before, between and after the clamps.
    pub fn pauses(&self) -> Vec<(f64, f64)> {
        let begins = std::iter::once(0.0).chain(self.spans.iter().map(|(_, to_s)| to_s + 0.05));
        let ends = self.spans.iter().map(|(from_s, _)| *from_s);
        let end_s = self.time_s.last().map_or(0.0, |last| last + 1.0);
        begins.zip(ends.chain([end_s])).collect()
    }

    /// The gauge rests on the push-out in the pauses of these numbers, the one before the first clamp being 0.
    #[must_use]
    pub fn resting_in(self, pauses: &[usize], push_n: impl Fn(usize) -> f64) -> Self {
        let all = self.pauses();
        pauses.iter().fold(self, |record, &number| {
            record.with(all[number].0, all[number].1, -push_n(number))
        })
    }

    /// Throws single readings far off, evenly over the record: `width` neighbours every `every_s`.
    #[must_use]
    pub fn spiked(mut self, every_s: f64, width: usize, force_n: f64) -> Self {
        let mut next_s = 0.37 * every_s;
        let mut sign = 1.0;
        for index in 0..self.time_s.len() {
            if self.time_s[index] >= next_s {
                for force in self.force_n.iter_mut().skip(index).take(width) {
                    *force += sign * force_n;
                }
                next_s += every_s;
                sign = -sign;
            }
        }
        self
    }

    /// One reading thrown off.
    #[must_use]
    pub fn spike_at(mut self, at_s: f64, force_n: f64) -> Self {
        let index = self.time_s.partition_point(|&time_s| time_s < at_s);
        self.force_n[index] += force_n;
        self
    }

    /// As a gauge with its wires exchanged writes it.
    #[must_use]
    pub fn reversed(mut self) -> Self {
        for force in &mut self.force_n {
            *force = -*force;
        }
        self
    }

    /// As CSV, the force under this header and divided by this many newtons.
    pub fn csv(&self, header: &str, newtons: f64) -> String {
        let mut text = format!("time_s,{header}\n");
        for (time_s, force_n) in self.time_s.iter().zip(&self.force_n) {
            writeln!(text, "{time_s:.5},{:.6}", force_n / newtons).expect("a string takes all");
        }
        text
    }
}

fn times(rate_hz: f64, length_s: f64) -> Vec<f64> {
    let mut times = Vec::new();
    let mut number = 0_u32;
    while f64::from(number) / rate_hz < length_s {
        times.push(f64::from(number) / rate_hz);
        number += 1;
    }
    times
}

/// Repeatable chance: xorshift (Marsaglia 2003) and Box–Muller.
struct Chance(u64);

impl Chance {
    fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        let upper = u32::try_from(self.0 >> 32).expect("32 bits are left");
        (f64::from(upper) + 0.5) / (f64::from(u32::MAX) + 1.0)
    }

    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (TAU * self.uniform()).cos()
    }
}
