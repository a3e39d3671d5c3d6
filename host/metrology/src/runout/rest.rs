//! When to read an indicator. In: its readings against time, and when somebody said "now". Out: the stretch at which it
//! was at rest then, or soon after, and its mean.
//!
//! Which position is read is never told from the readings: a spindle that runs true does not move the indicator at all.
//! Only whether it is at rest is, by its own noise. A function of the samples alone: the same record is read at the same
//! places, live or stored. Common practice, no source.

use super::harmonics::{count, spread};
use crate::statistics::mean;

/// Readings are gathered in parts of this length: long against the noise, short against a hand's movement.
const PART_S: f64 = 0.1;
/// A reading is the mean over so many of them: 0.8 s, longer where the indicator shows fewer than ten readings a second.
const WINDOW: usize = 8;
/// The spread of a window at rest, of one part's standard deviation: 99 % of eight normal values spread less (5.3), and
/// a little for noise that was measured low. Source: quantiles of the studentised range for known deviation.
const SPREAD: f64 = 6.0;
/// From the first half of a window to the second, of the standard deviation of that difference: 5 % lie beyond, and are
/// read a moment later.
const CREEP: f64 = 2.0;
/// An indicator flickers between two steps; it may show one more at the edge of a part.
const SPREAD_STEPS: f64 = 1.5;
const CREEP_STEPS: f64 = 1.0;
/// The noise is known from so many second differences on; before, a little longer is waited.
const FEWEST_DIFFERENCES: usize = 8;
/// It is measured over so many of the newest: two minutes.
const MOST_PARTS: usize = 1_200;
/// Quarter of |second differences| of normal noise, of its standard deviation: 0.3186 · √6. The quiet quarter, because a
/// hand moves the spindle for up to half of the time.
const QUIET_QUARTER: f64 = 0.780_4;
/// After a step in time of more than this many usual ones, and of more than `GAP_S`, samples are missing.
const GAP_STEPS: f64 = 5.0;
const GAP_S: f64 = 0.05;
/// The usual step is a mean that forgets over so many.
const REMEMBERED_STEPS: f64 = 15.0;

/// A stretch at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtRest {
    /// First sample, s.
    pub from_s: f64,
    /// Last sample, s.
    pub to_s: f64,
    /// Mean of the samples, µm.
    pub reading_um: f64,
}

/// Watches an indicator.
#[derive(Clone, Debug)]
pub struct RestWatch {
    step_um: f64,
    parts: Vec<Part>,
    /// The part being gathered; not looked at before it is whole.
    gathering: Option<Part>,
    usual_step_s: Option<f64>,
    last_s: Option<f64>,
}

#[derive(Clone, Copy, Debug)]
struct Part {
    /// Samples are missing before it.
    after_gap: bool,
    from_s: f64,
    to_s: f64,
    sum_um: f64,
    count: f64,
}

impl Part {
    fn mean_um(&self) -> f64 {
        self.sum_um / self.count
    }
}

impl RestWatch {
    /// A watch over an indicator that shows steps of `step_um`, µm.
    pub fn new(step_um: f64) -> Self {
        Self {
            step_um,
            parts: Vec::new(),
            gathering: None,
            usual_step_s: None,
            last_s: None,
        }
    }

    /// Takes the next sample, times growing; whether there is more to look at than before it.
    pub fn push(&mut self, time_s: f64, reading_um: f64) -> bool {
        let after_gap = self.is_gap_before(time_s);
        if let Some(part) = &mut self.gathering
            && !after_gap
            && time_s < part.from_s + PART_S
        {
            part.to_s = time_s;
            part.sum_um += reading_um;
            part.count += 1.0;
            return false;
        }
        let begun = Part {
            after_gap,
            from_s: time_s,
            to_s: time_s,
            sum_um: reading_um,
            count: 1.0,
        };
        let whole = self.gathering.replace(begun);
        self.parts.extend(whole);
        if self.parts.len() > MOST_PARTS {
            self.parts.remove(0);
        }
        whole.is_some()
    }

    /// Whether samples are missing between the last one and this.
    fn is_gap_before(&mut self, time_s: f64) -> bool {
        let Some(last_s) = self.last_s.replace(time_s) else {
            return false;
        };
        let step_s = time_s - last_s;
        let is_gap = self
            .usual_step_s
            .is_some_and(|usual_s| step_s > GAP_S && step_s > GAP_STEPS * usual_s);
        if !is_gap {
            let usual_s = self.usual_step_s.unwrap_or(step_s);
            self.usual_step_s = Some(usual_s + (step_s - usual_s) / REMEMBERED_STEPS);
        }
        is_gap
    }

    /// Standard deviation of a part as measured in the stream itself, µm; `None` until enough of it was seen.
    ///
    /// From second differences, which no steady movement enters, and of these the quiet quarter, which a hand that moves
    /// now and then does not reach.
    pub fn noise_um(&self) -> Option<f64> {
        let mut differences_um: Vec<f64> = second_differences_um(&self.parts).collect();
        if differences_um.len() < FEWEST_DIFFERENCES {
            return None;
        }
        let quarter = differences_um.len() / 4;
        let (_, quiet_um, _) = differences_um.select_nth_unstable_by(quarter, f64::total_cmp);
        Some(*quiet_um / QUIET_QUARTER)
    }

    /// The reading for a "now" said at `said_s`: over the first window at rest that ends then or later and holds nothing
    /// from before `after_s`, and nothing from before `stands_s` unless it was moved on before such a window was whole.
    ///
    /// By small steps or in much noise a movement cannot be seen: that it stands by `stands_s` is known from who said so.
    /// What stood still just before is good for whoever says it and turns on at once: he is not read at the next position.
    pub fn said_at(&self, said_s: f64, stands_s: f64, after_s: f64) -> Option<AtRest> {
        let noise_um = self.noise_um()?;
        let windows = || {
            self.parts
                .windows(WINDOW)
                .filter(|window| window[0].from_s >= after_s)
                .filter(|window| window[WINDOW - 1].to_s > said_s - PART_S)
        };
        let mut standing = windows().filter(|window| window[0].from_s >= stands_s);
        let known = standing.find(|window| self.is_at_rest(window, noise_um));
        let before = || {
            let mut from_rest = windows().skip_while(|window| !self.is_at_rest(window, noise_um));
            let first = from_rest.next()?;
            let moved_on = from_rest.any(|window| self.is_moved(window, noise_um));
            moved_on.then_some(first)
        };
        known.or_else(before).map(whole)
    }

    fn is_moved(&self, window: &[Part], noise_um: f64) -> bool {
        let spread_um = spread(window.iter().map(Part::mean_um));
        spread_um > (SPREAD * noise_um).max(SPREAD_STEPS * self.step_um)
    }

    fn is_at_rest(&self, window: &[Part], noise_um: f64) -> bool {
        let means: Vec<f64> = window.iter().map(Part::mean_um).collect();
        let (before, after) = means.split_at(WINDOW / 2);
        let creep_um = (mean(after) - mean(before)).abs();
        // What was seen of the stream so far may have been all movement: the window's own noise bounds it.
        let own_um2: Vec<f64> = second_differences_um(window).map(|d| d * d / 6.0).collect();
        let of_part_um = noise_um.min(mean(&own_um2).sqrt());
        let of_halves_um = of_part_um * (2.0 / (count(WINDOW) / 2.0)).sqrt();
        window[1..].iter().all(|part| !part.after_gap)
            && !self.is_moved(window, noise_um)
            && creep_um <= (CREEP * of_halves_um).max(CREEP_STEPS * self.step_um)
    }
}

fn second_differences_um(parts: &[Part]) -> impl Iterator<Item = f64> + '_ {
    parts
        .windows(3)
        .filter(|three| !three[1].after_gap && !three[2].after_gap)
        .map(|three| (three[0].mean_um() - 2.0 * three[1].mean_um() + three[2].mean_um()).abs())
}

fn whole(parts: &[Part]) -> AtRest {
    let sum_um: f64 = parts.iter().map(|part| part.sum_um).sum();
    let count: f64 = parts.iter().map(|part| part.count).sum();
    AtRest {
        from_s: parts[0].from_s,
        to_s: parts[parts.len() - 1].to_s,
        reading_um: sum_um / count,
    }
}

/// Mean of the readings from `from_s` to `to_s`, both included, µm; `None` if there is none. The same stretch of the same
/// record always gives the same digits.
pub fn mean_between(readings: &[super::Passing], from_s: f64, to_s: f64) -> Option<f64> {
    let first = readings.partition_point(|reading| reading.time_s < from_s);
    let within = readings[first..]
        .iter()
        .take_while(|reading| reading.time_s <= to_s);
    let values: Vec<f64> = within.map(|reading| reading.reading_um).collect();
    (!values.is_empty()).then(|| mean(&values))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise of one seed: even values by a linear congruence, twelve of them summed are near to normal.
    struct Noise(u64);

    impl Noise {
        fn even(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            f64::from(u32::try_from(self.0 >> 32).unwrap()) / f64::from(u32::MAX)
        }

        fn normal(&mut self) -> f64 {
            (0..12).map(|_| self.even()).sum::<f64>() - 6.0
        }
    }

    /// An indicator: samples a second, noise of a sample in µm, whether that wanders slowly, steps it shows in µm.
    #[derive(Clone, Copy, Debug)]
    struct Shown {
        rate_hz: f64,
        noise_um: f64,
        wanders: bool,
        step_um: f64,
    }

    /// All that are held to the same: fine and coarse, quiet and restless, quick and slow.
    fn all_shown() -> Vec<Shown> {
        let mut all = Vec::new();
        for noise_um in [0.02, 0.05, 0.08, 0.15, 0.3] {
            for wanders in [false, true] {
                for (rate_hz, step_um) in [
                    (330.0, 0.1),
                    (330.0, 0.01),
                    (50.0, 0.1),
                    (10.5, 1.0),
                    (8.0, 0.1),
                    (4.0, 1.0),
                ] {
                    all.push(Shown {
                        rate_hz,
                        noise_um,
                        wanders,
                        step_um,
                    });
                }
            }
        }
        all
    }

    /// What it shows of a surface over so many seconds.
    fn stream(
        shown: Shown,
        seed: u64,
        for_s: f64,
        surface_um: impl Fn(f64) -> f64,
    ) -> Vec<(f64, f64)> {
        let mut noise = Noise(seed + 1);
        let kept = if shown.wanders {
            (-1.0 / (shown.rate_hz * 0.05)).exp()
        } else {
            0.0
        };
        let mut wander = 0.0;
        let mut samples = Vec::new();
        let mut time_s = 0.0;
        while time_s < for_s {
            wander = kept * wander + (1.0 - kept * kept).sqrt() * shown.noise_um * noise.normal();
            let value = surface_um(time_s) + wander;
            samples.push((time_s, (value / shown.step_um).round() * shown.step_um));
            time_s += 1.0 / shown.rate_hz;
        }
        samples
    }

    /// The first rest for a "now" at `said_s`, and when it was known.
    fn read(samples: &[(f64, f64)], step_um: f64, said_s: f64) -> Option<(f64, AtRest)> {
        let mut watch = RestWatch::new(step_um);
        for &(time_s, reading_um) in samples {
            if watch.push(time_s, reading_um)
                && time_s >= said_s
                && let Some(rest) = watch.said_at(said_s, 0.0, 0.0)
            {
                return Some((time_s, rest));
            }
        }
        None
    }

    #[test]
    fn who_stands_still_is_read_at_once_whatever_the_noise() {
        for shown in all_shown() {
            let mut waited_s = Vec::new();
            for seed in 0..20 {
                let samples = stream(shown, seed, 20.0, |_| 3.7);
                let (at_s, rest) = read(&samples, shown.step_um, 4.0).expect("read");
                waited_s.push(at_s - 4.0);
                let off_um = (rest.reading_um - 3.7).abs();
                assert!(
                    off_um < 0.5 * shown.step_um + 2.0 * shown.noise_um,
                    "{shown:?}: {off_um}"
                );
            }
            let longest_s = waited_s.iter().copied().fold(0.0, f64::max);
            let usual_s = crate::statistics::median(&waited_s);
            assert!(
                usual_s < 0.6 && longest_s < 8.0,
                "{shown:?}: {usual_s} s, at most {longest_s} s"
            );
        }
    }

    #[test]
    fn nothing_is_read_while_the_surface_moves() {
        // Turned from 3 s to 6 s over half of a 3 µm eccentricity, said in the middle of it.
        let surface = |time_s: f64| {
            3.0 * (((time_s - 3.0) / 3.0).clamp(0.0, 1.0) * std::f64::consts::PI).cos()
        };
        for shown in all_shown()
            .into_iter()
            .filter(|shown| shown.step_um < 1.0 && (shown.rate_hz > 9.0 || shown.noise_um < 0.2))
        {
            for seed in 0..20 {
                let samples = stream(shown, seed, 30.0, surface);
                let (_, rest) = read(&samples, shown.step_um, 4.5).expect("read in the end");
                assert!(rest.to_s > 5.5, "{shown:?}: {rest:?}");
                assert!(
                    (rest.reading_um + 3.0).abs() < 0.35 + 2.0 * shown.noise_um,
                    "{shown:?}: {rest:?}"
                );
            }
        }
    }

    #[test]
    fn a_head_still_settling_is_waited_for() {
        for shown in all_shown() {
            let samples = stream(shown, 5, 30.0, |time_s| 20.0 * (-time_s / 0.7).exp());
            let (_, rest) = read(&samples, shown.step_um, 2.0).expect("read in the end");
            assert!(
                rest.reading_um < 1.5 * shown.step_um + 0.3 + 3.0 * shown.noise_um,
                "{shown:?}: {rest:?}"
            );
        }
    }

    #[test]
    fn who_says_now_and_turns_on_at_once_is_read_where_he_stood() {
        let surface = |time_s: f64| if time_s < 5.1 { 1.0 } else { 9.0 };
        for shown in all_shown().into_iter().filter(|shown| shown.rate_hz > 9.0) {
            let samples = stream(shown, 11, 12.0, surface);
            let mut watch = RestWatch::new(shown.step_um);
            // The word comes late, as it may over a wire.
            samples
                .iter()
                .take_while(|sample| sample.0 < 5.4)
                .for_each(|sample| {
                    watch.push(sample.0, sample.1);
                });
            if let Some(rest) = watch.said_at(5.0, 4.7, 0.0) {
                assert!((rest.reading_um - 1.0).abs() < 1.0, "{shown:?}: {rest:?}");
            } else {
                assert!(shown.noise_um > 0.04, "{shown:?}");
            }
        }
    }

    #[test]
    fn who_says_now_just_after_a_movement_nobody_can_see_is_read_where_he_stands() {
        for shown in all_shown() {
            let samples = stream(shown, 13, 20.0, |_| 1.0);
            let mut watch = RestWatch::new(shown.step_um);
            let rest = samples.iter().find_map(|&(time_s, reading_um)| {
                let is_more = watch.push(time_s, reading_um) && time_s >= 5.0;
                is_more.then(|| watch.said_at(5.0, 4.7, 0.0))?
            });
            let rest = rest.expect("read");
            assert!(rest.from_s >= 4.7, "{shown:?}: {rest:?}");
        }
    }

    #[test]
    fn no_reading_reaches_across_a_gap() {
        let shown = Shown {
            rate_hz: 330.0,
            noise_um: 0.05,
            wanders: true,
            step_um: 0.1,
        };
        let samples: Vec<(f64, f64)> = stream(shown, 3, 20.0, |_| 2.0)
            .into_iter()
            .filter(|sample| !(5.0..5.3).contains(&sample.0))
            .collect();
        let (_, rest) = read(&samples, 0.1, 5.35).expect("read");
        assert!(rest.from_s > 5.29, "{rest:?}");
    }

    #[test]
    fn the_noise_is_that_of_the_quiet_part_of_the_stream() {
        let shown = Shown {
            rate_hz: 330.0,
            noise_um: 0.3,
            wanders: false,
            step_um: 0.01,
        };
        let shaken = |time_s: f64| {
            if time_s % 4.0 < 1.5 {
                5.0 * (time_s * 9.0).sin()
            } else {
                0.0
            }
        };
        for surface in [
            &shaken as &dyn Fn(f64) -> f64,
            &|_: f64| 0.0,
            &|time_s: f64| 4.0 * time_s,
        ] {
            let mut watch = RestWatch::new(0.01);
            for (time_s, reading_um) in stream(shown, 7, 60.0, surface) {
                watch.push(time_s, reading_um);
            }
            let noise_um = watch.noise_um().expect("a minute");
            let truth_um = 0.3 / 33.0_f64.sqrt();
            assert!(
                (0.7..2.2).contains(&(noise_um / truth_um)),
                "{noise_um} for {truth_um}"
            );
        }
    }
}
