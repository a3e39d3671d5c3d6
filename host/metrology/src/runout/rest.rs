//! When to read an indicator. In: its readings against time while a spindle is turned from position to position. Out: the
//! stretches at which it had come to rest, one for each position.
//!
//! A function of the samples alone: the same record is read at the same places, live or stored. Common practice, no source.

/// Readings are looked at in bins of this length: long against the noise, short against a hand's movement.
const BIN_S: f64 = 0.1;
/// So many bins must have passed since the last movement: a hand that pushes steadily on an almost true bar looks like
/// rest for as long as it pushes.
const STILL_BINS: usize = 16;
/// The reading is taken over so many of them, the last ones.
const REST_BINS: usize = 7;
/// Those agree within this, µm, or within so many steps of the indicator.
const REST_UM: f64 = 0.3;
const REST_STEPS: f64 = 3.0;
/// From one bin to the next, more than this is a movement: a settling head or a warming machine is slower.
const MOVED_UM: f64 = 0.15;
const MOVED_STEPS: f64 = 1.5;

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

/// Watches an indicator for rest.
#[derive(Clone, Debug)]
pub struct RestWatch {
    agree_um: f64,
    moved_um: f64,
    first_s: Option<f64>,
    bins: Vec<Bin>,
    taken: bool,
}

#[derive(Clone, Copy, Debug)]
struct Bin {
    number: f64,
    from_s: f64,
    to_s: f64,
    sum_um: f64,
    count: f64,
}

impl Bin {
    fn mean_um(&self) -> f64 {
        self.sum_um / self.count
    }
}

impl RestWatch {
    /// A watch over an indicator that shows steps of `resolution_um`, µm.
    pub fn new(resolution_um: f64) -> Self {
        Self {
            agree_um: REST_UM.max(REST_STEPS * resolution_um),
            moved_um: MOVED_UM.max(MOVED_STEPS * resolution_um),
            first_s: None,
            bins: Vec::new(),
            taken: false,
        }
    }

    /// Takes the next sample, times growing; returns the rest that is complete with it, once after each movement.
    pub fn push(&mut self, time_s: f64, reading_um: f64) -> Option<AtRest> {
        // Counted from the first sample: when the gauge was switched on must not part the same readings in other places.
        let first_s = *self.first_s.get_or_insert(time_s);
        let number = ((time_s - first_s) / BIN_S).floor();
        match self.bins.last_mut() {
            Some(bin) if bin.number >= number => {
                bin.to_s = time_s;
                bin.sum_um += reading_um;
                bin.count += 1.0;
                return None;
            }
            _ => {}
        }
        let rest = self.look();
        if self.bins.len() > STILL_BINS {
            self.bins.remove(0);
        }
        self.bins.push(Bin {
            number,
            from_s: time_s,
            to_s: time_s,
            sum_um: reading_um,
            count: 1.0,
        });
        rest
    }

    /// Looks at the bins, all of them complete.
    fn look(&mut self) -> Option<AtRest> {
        if let [.., before, last] = self.bins[..]
            && (last.mean_um() - before.mean_um()).abs() > self.moved_um
        {
            self.taken = false;
            self.bins = vec![last];
        }
        if self.taken || self.bins.len() < STILL_BINS {
            return None;
        }
        let rest = self.over(REST_BINS)?;
        self.taken = true;
        Some(rest)
    }

    /// The last `bins` bins as one stretch, if they agree.
    fn over(&self, bins: usize) -> Option<AtRest> {
        let last = &self.bins[self.bins.len() - bins..];
        let means = last.iter().map(Bin::mean_um);
        let spread_um = means.clone().fold(f64::MIN, f64::max) - means.fold(f64::MAX, f64::min);
        (spread_um <= self.agree_um).then(|| whole(last))
    }

    /// Takes the reading now, on the technician's word, over what has been still since the last movement.
    pub fn take_now(&mut self) -> Option<AtRest> {
        if self.bins.is_empty() {
            return None;
        }
        self.taken = true;
        let last = &self.bins[self.bins.len().saturating_sub(REST_BINS)..];
        Some(whole(last))
    }
}

fn whole(bins: &[Bin]) -> AtRest {
    let sum_um: f64 = bins.iter().map(|bin| bin.sum_um).sum();
    let count: f64 = bins.iter().map(|bin| bin.count).sum();
    let (from_s, to_s) = (bins[0].from_s, bins[bins.len() - 1].to_s);
    AtRest {
        from_s,
        to_s,
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
    (!values.is_empty()).then(|| crate::statistics::mean(&values))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stands still for 2 s at each level, moves under a pushing hand for 0.8 s between, hundred samples a second.
    fn stepped(levels_um: &[f64], drift_um_per_s: f64) -> Vec<(f64, f64)> {
        let mut samples = Vec::new();
        for index in 0..u32::try_from(levels_um.len()).unwrap() * 280 {
            let (step, within) = (index / 280, index % 280);
            let (here, next) = (
                levels_um[step as usize],
                levels_um.get(step as usize + 1).copied(),
            );
            let through = (f64::from(within) - 200.0).max(0.0) / 80.0;
            let pushed = if within > 200 { 1.0 } else { 0.0 };
            let reading_um = here + through * (next.unwrap_or(here) - here) + pushed;
            let time_s = f64::from(index) / 100.0;
            samples.push((time_s, reading_um + drift_um_per_s * time_s));
        }
        samples
    }

    fn rests(samples: &[(f64, f64)]) -> Vec<f64> {
        let mut watch = RestWatch::new(0.1);
        samples
            .iter()
            .filter_map(|(time, reading)| watch.push(*time, *reading))
            .map(|rest| rest.reading_um)
            .collect()
    }

    #[test]
    fn every_position_is_read_once() {
        let levels = [0.0, 3.0, 4.5, 3.0, 0.0, -3.0, -4.5, -3.0, 0.0];
        let found = rests(&stepped(&levels, 0.0));
        assert_eq!(found.len(), levels.len(), "{found:?}");
        for (found, level) in found.iter().zip(levels) {
            assert!((found - level).abs() < 0.01, "{found} for {level}");
        }
    }

    #[test]
    fn a_slow_drift_is_no_movement_and_positions_alike_are_told_by_the_hand() {
        let found = rests(&stepped(&[1.0; 5], 0.02));
        assert_eq!(found.len(), 5, "{found:?}");
    }

    #[test]
    fn a_head_still_settling_is_not_read() {
        let samples: Vec<(f64, f64)> = (0..500)
            .map(|i| f64::from(i) / 100.0)
            .map(|t| (t, 20.0 * (-t / 0.5).exp()))
            .collect();
        let mut watch = RestWatch::new(0.1);
        let rest = samples
            .iter()
            .find_map(|(time, reading)| watch.push(*time, *reading))
            .unwrap();
        assert!(rest.reading_um < 0.5, "{rest:?}");
    }

    #[test]
    fn on_the_technicians_word_the_reading_is_taken_as_it_is() {
        let mut watch = RestWatch::new(0.1);
        assert_eq!(watch.take_now(), None);
        for index in 0..50 {
            watch.push(f64::from(index) / 100.0, f64::from(index));
        }
        assert!(watch.take_now().is_some());
    }
}
