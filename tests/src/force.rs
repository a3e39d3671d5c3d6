//! Force records for tests, made of straight lines. In: what the clamps were like. Out: CSV text and the truth.

use std::fmt::Write;

/// One clamp of a made record.
#[derive(Clone, Copy, Debug)]
pub struct MadeClamp {
    /// Settled force, N.
    pub force_n: f64,
    /// How long held, s.
    pub hold_s: f64,
    /// Peak over the settled force at the beginning, parts of one; gone after 0.5 s.
    pub overshoot: f64,
    /// A knock 1.5 s into the hold: how long, s. It takes a third off the force.
    pub knock_s: f64,
    /// It comes again every so often, s; once where that is 0.
    pub knock_every_s: f64,
    /// What the force loses while held, N/s.
    pub drop_n_per_s: f64,
}

impl MadeClamp {
    /// Held 5 s, no overshoot.
    pub fn of(force_n: f64) -> Self {
        Self {
            force_n,
            hold_s: 5.0,
            overshoot: 0.0,
            knock_s: 0.0,
            knock_every_s: 0.0,
            drop_n_per_s: 0.0,
        }
    }
}

/// How a record was taken and written down.
#[derive(Clone, Copy, Debug)]
pub struct Made {
    /// Samples per second.
    pub rate_hz: f64,
    /// Reading with the gauge free, N.
    pub zero_n: f64,
    /// Change of the zero, N/s.
    pub drift_n_per_s: f64,
    /// Half width of an even noise, N.
    pub noise_n: f64,
    /// Header of the force column.
    pub unit: &'static str,
    /// Newton in that unit.
    pub newton_per_unit: f64,
    /// Separator.
    pub separator: char,
    /// Decimal comma.
    pub comma: bool,
    /// Line end.
    pub line_end: &'static str,
    /// How far the shank is pushed out, mm: then the record has the gauge's end face, too.
    pub push_out_mm: Option<f64>,
}

impl Default for Made {
    fn default() -> Self {
        Self {
            rate_hz: 200.0,
            zero_n: 0.0,
            drift_n_per_s: 0.0,
            noise_n: 0.0,
            unit: "force_n",
            newton_per_unit: 1.0,
            separator: ',',
            comma: false,
            line_end: "\n",
            push_out_mm: None,
        }
    }
}

/// Rise and release, s.
const RAMP_S: f64 = 0.1;
/// A knock comes this long after clamping, s: inside the settled window.
const KNOCK_AT_S: f64 = 1.5;
/// Gauge free between clamps, s.
const FREE_S: f64 = 2.5;

impl Made {
    /// The record as a CSV file.
    pub fn csv(&self, clamps: &[MadeClamp]) -> String {
        let sep = self.separator;
        let end_face = self.push_out_mm.map(|_| format!("{sep}displacement_um"));
        let mut text = format!(
            "time_s{sep}{}{}{}",
            self.unit,
            end_face.unwrap_or_default(),
            self.line_end
        );
        let mut noise = Noise(0x2545_f491_4f6c_dd1d);
        for (time_s, force_n) in self.samples(clamps) {
            let read_n =
                force_n + self.zero_n + self.drift_n_per_s * time_s + self.noise_n * noise.next();
            let row = format!(
                "{time_s:.6}{}{:.6}",
                self.separator,
                read_n / self.newton_per_unit
            );
            let end_face = self.push_out_mm.map(|push_out_mm| {
                let um = 1e3 * end_face_mm(clamps, push_out_mm, time_s);
                format!("{sep}{um:.1}")
            });
            let row = row + &end_face.unwrap_or_default();
            let row = if self.comma {
                row.replace('.', ",")
            } else {
                row
            };
            write!(text, "{row}{}", self.line_end).expect("a string takes all");
        }
        text
    }

    fn samples(&self, clamps: &[MadeClamp]) -> impl Iterator<Item = (f64, f64)> {
        let total_s = clamps
            .iter()
            .map(|clamp| FREE_S + clamp.hold_s)
            .sum::<f64>()
            + FREE_S;
        let step_s = 1.0 / self.rate_hz;
        let clamps = clamps.to_vec();
        let mut time_s = -step_s;
        std::iter::from_fn(move || {
            time_s += step_s;
            (time_s < total_s).then(|| (time_s, force_at(&clamps, time_s)))
        })
    }
}

fn force_at(clamps: &[MadeClamp], time_s: f64) -> f64 {
    let mut from_s = 0.0;
    for clamp in clamps {
        let clamped_s = from_s + FREE_S;
        let released_s = clamped_s + clamp.hold_s;
        if time_s > clamped_s - RAMP_S && time_s < released_s + RAMP_S {
            let up = ((time_s - clamped_s) / RAMP_S + 0.5).clamp(0.0, 1.0);
            let down = ((released_s - time_s) / RAMP_S + 0.5).clamp(0.0, 1.0);
            let over = clamp.overshoot * (1.0 - (time_s - clamped_s) / 0.5).clamp(0.0, 1.0);
            let since_s = time_s - clamped_s - KNOCK_AT_S;
            let since_s = match clamp.knock_every_s {
                every_s if every_s > 0.0 && since_s > 0.0 => since_s % every_s,
                _ => since_s,
            };
            let knocked = since_s >= 0.0 && since_s < clamp.knock_s;
            let left = if knocked { 2.0 / 3.0 } else { 1.0 };
            let lost_n = clamp.drop_n_per_s * (time_s - clamped_s).clamp(0.0, clamp.hold_s);
            return (clamp.force_n - lost_n) * up.min(down) * (1.0 + over) * left;
        }
        from_s = released_s;
    }
    0.0
}

/// Held up against the gripper before the clamp and for a second after it, else hanging 3 mm lower.
fn end_face_mm(clamps: &[MadeClamp], push_out_mm: f64, time_s: f64) -> f64 {
    let mut from_s = 0.0;
    for clamp in clamps {
        let clamped_s = from_s + FREE_S;
        let released_s = clamped_s + clamp.hold_s;
        if time_s < released_s + 1.0 {
            let closed = ((time_s - clamped_s) / RAMP_S + 0.5).clamp(0.0, 1.0);
            let opened = ((time_s - released_s - RAMP_S) / RAMP_S).clamp(0.0, 1.0);
            let hangs = time_s > from_s + 1.0 && time_s < clamped_s - 0.6;
            let low = if hangs {
                3.0 + (9.0 * time_s).sin()
            } else {
                0.0
            };
            return push_out_mm * (1.0 - closed).max(opened) + low;
        }
        from_s = released_s;
    }
    push_out_mm + 3.0 + (9.0 * time_s).sin()
}

/// Numbers between −1 and 1, the same in every run (xorshift, Marsaglia 2003).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        let upper = u32::try_from(self.0 >> 32).expect("32 bits are left");
        f64::from(upper) / f64::from(u32::MAX) * 2.0 - 1.0
    }
}
