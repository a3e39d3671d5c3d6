//! Made-up force records: a recipe in, a record whose truth is known out.

use holdtrue_metrology::grip::record::ForceRecord;

/// One clamp of the recipe. Times in seconds, forces in newtons.
#[derive(Clone, Debug)]
pub struct Pull {
    /// When the rise begins.
    pub at_s: f64,
    pub rise_s: f64,
    pub level_n: f64,
    /// Share of the level by which the rise shoots over, dying out with 80 ms.
    pub overshoot: f64,
    /// From the beginning of the rise to the beginning of the fall.
    pub length_s: f64,
    pub fall_s: f64,
    /// Force after the fall, for `push_out_s`.
    pub push_out_n: f64,
    pub push_out_s: f64,
    /// Loss while held, positive falling.
    pub sag_n_per_s: f64,
    /// Knocks: from, length, factor on the force.
    pub knocks: Vec<(f64, f64, f64)>,
}

impl Pull {
    pub fn at(at_s: f64, level_n: f64, length_s: f64) -> Self {
        Self {
            at_s,
            rise_s: 0.08,
            level_n,
            overshoot: 0.0,
            length_s,
            fall_s: 0.05,
            push_out_n: 0.0,
            push_out_s: 0.0,
            sag_n_per_s: 0.0,
            knocks: Vec::new(),
        }
    }

    pub fn end_s(&self) -> f64 {
        self.at_s + self.length_s + self.fall_s + self.push_out_s
    }

    fn force(&self, time_s: f64) -> f64 {
        let since = time_s - self.at_s;
        let knock = self
            .knocks
            .iter()
            .find(|(from, length, _)| (*from..from + length).contains(&since));
        let factor = knock.map_or(1.0, |(_, _, factor)| *factor);
        let held = |since: f64| {
            let settled = since - self.rise_s;
            let over = self.overshoot * (-settled / 0.080).exp();
            self.level_n * (1.0 + over) - self.sag_n_per_s * settled
        };
        let fallen = since - self.length_s;
        if since < 0.0 {
            0.0
        } else if since < self.rise_s {
            self.level_n * (1.0 + self.overshoot) * since / self.rise_s
        } else if fallen < 0.0 {
            factor * held(since)
        } else if fallen < self.fall_s {
            held(self.length_s) * (1.0 - fallen / self.fall_s)
        } else if fallen < self.fall_s + self.push_out_s {
            self.push_out_n
        } else {
            0.0
        }
    }
}

/// A whole record.
#[derive(Clone, Debug)]
pub struct Recipe {
    pub rate_hz: f64,
    pub offset_n: f64,
    pub drift_n_per_s: f64,
    pub noise_n: f64,
    pub seed: u64,
    pub start_s: f64,
    pub end_s: f64,
    pub pulls: Vec<Pull>,
}

impl Recipe {
    /// From 0 s to two seconds after the last clamp, 1 kHz, no noise.
    pub fn of(pulls: Vec<Pull>) -> Self {
        let end_s = pulls.iter().map(Pull::end_s).fold(2.0, f64::max) + 2.0;
        Self {
            rate_hz: 1000.0,
            offset_n: 0.0,
            drift_n_per_s: 0.0,
            noise_n: 0.0,
            seed: 1,
            start_s: 0.0,
            end_s,
            pulls,
        }
    }

    /// `levels_n.len()` clamps held for `length_s` with `pause_s` between them.
    pub fn row(levels_n: &[f64], length_s: f64, pause_s: f64) -> Self {
        let mut at_s = 2.0;
        let mut pulls = Vec::new();
        for &level_n in levels_n {
            let pull = Pull::at(at_s, level_n, length_s);
            at_s = pull.end_s() + pause_s;
            pulls.push(pull);
        }
        Self::of(pulls)
    }

    pub fn each(mut self, change: impl Fn(&mut Pull)) -> Self {
        self.pulls.iter_mut().for_each(change);
        self
    }

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub fn times(&self) -> Vec<f64> {
        let count = ((self.end_s - self.start_s) * self.rate_hz).round() as u32;
        (0..count)
            .map(|i| self.start_s + f64::from(i) / self.rate_hz)
            .collect()
    }

    pub fn forces(&self, times: &[f64]) -> Vec<f64> {
        let mut chance = Chance::new(self.seed);
        let load = |time: f64| self.pulls.iter().map(|pull| pull.force(time)).sum::<f64>();
        let reading =
            |time: f64, noise: f64| load(time) + self.offset_n + self.drift_n_per_s * time + noise;
        times
            .iter()
            .map(|&time| reading(time, self.noise_n * chance.normal()))
            .collect()
    }

    pub fn record(&self) -> ForceRecord {
        let times = self.times();
        ForceRecord::new(&times, &self.forces(&times)).expect("a recipe makes sound records")
    }
}

/// Repeatable chance: splitmix64 and Box–Muller.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15))
    }

    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}
