//! A self-test goes in, then readings as they come; the settings it wants and its result come out. Never waits.

use heapless::Vec;
use holdtrue_protocol::message::{SelfTest, SelfTestResult};

use crate::adc::{Input, Setup};

/// Readings a test takes.
pub const READINGS: usize = 63;
/// Readings left out after each change of setting, while wires and filter settle.
pub const SETTLING: u8 = 2;
/// Readings of each part of the open-bridge test, which may run inside a stream.
pub const LEAD_READINGS: usize = 3;
/// A test is given up when no reading comes for this long, microseconds.
pub const SILENCE_US: u64 = 500_000;

/// 10 µA through a whole bridge of at most 5 kΩ with its filter, and its own signal, stay below 4 hundredths of full
/// scale at gain 1. With one signal wire open the other stays at half the supply: half of full scale at the most, and
/// current source and amplifier do not reach their rails. An eighth is well apart from both.
const OPEN_SIGNAL_COUNTS: i32 = 1 << 20;
/// A whole bridge holds its signal wires at half the supply, give or take a hundredth; an open supply wire lets both
/// go to the other end.
const COMMON_MODE_COUNTS: core::ops::RangeInclusive<i32> = 1 << 21..=3 << 21;

/// How far a test is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Progress {
    /// Readings are still to come.
    Working,
    /// The result.
    Done(SelfTestResult),
    /// The converter does not answer.
    Silent,
}

/// A self-test under way.
#[derive(Clone, Debug)]
pub struct Run {
    test: SelfTest,
    leads: Option<SelfTestResult>,
    to_settle: u8,
    readings: Vec<i32, READINGS>,
    last_us: u64,
}

impl Run {
    /// Begins a test.
    #[must_use]
    pub const fn new(test: SelfTest, now_us: u64) -> Self {
        Self {
            test,
            leads: None,
            to_settle: SETTLING,
            readings: Vec::new(),
            last_us: now_us,
        }
    }

    /// The setting wanted now.
    #[must_use]
    pub const fn setup(&self, rate_hz: u16) -> Setup {
        let input = match self.test {
            SelfTest::ShortedInput => Input::Shorted,
            SelfTest::Shunt | SelfTest::Noise => Input::Bridge,
            SelfTest::Supply => Input::Supply,
            SelfTest::OpenBridge if self.leads.is_none() => Input::Leads,
            SelfTest::OpenBridge => Input::CommonMode,
            SelfTest::Temperature => Input::Temperature,
        };
        Setup {
            input,
            rate_hz,
            shunt: matches!(self.test, SelfTest::Shunt),
        }
    }

    /// Takes a reading made under the wanted setting.
    pub fn take(&mut self, value: i32, at_us: u64) {
        self.last_us = at_us;
        if self.to_settle > 0 {
            self.to_settle -= 1;
        } else {
            self.insert(value);
        }
    }

    /// How far it is. After the first part of a test the wanted setting changes.
    pub fn progress(&mut self, now_us: u64) -> Progress {
        if self.readings.len() < self.needed() {
            return if now_us > self.last_us + SILENCE_US {
                Progress::Silent
            } else {
                Progress::Working
            };
        }
        let result = self.result();
        match self.leads {
            None if self.test == SelfTest::OpenBridge => {
                self.leads = Some(result);
                self.readings.clear();
                self.to_settle = SETTLING;
                Progress::Working
            }
            None => Progress::Done(result),
            Some(leads) => Progress::Done(SelfTestResult {
                open: is_open(leads.median, result.median),
                ..leads
            }),
        }
    }

    /// Keeps the readings in rising order; what comes after the last one needed is left out.
    fn insert(&mut self, value: i32) {
        let place = self.readings.partition_point(|&reading| reading <= value);
        let _ = self.readings.insert(place, value);
    }

    const fn needed(&self) -> usize {
        match self.test {
            SelfTest::OpenBridge => LEAD_READINGS,
            _ => READINGS,
        }
    }

    fn result(&self) -> SelfTestResult {
        let deviation = deviation(&self.readings);
        let median = self
            .readings
            .get(self.readings.len() / 2)
            .copied()
            .unwrap_or(0);
        SelfTestResult {
            test: self.test,
            readings: u16::try_from(self.readings.len()).unwrap_or(u16::MAX),
            median,
            deviation,
            open: false,
        }
    }
}

fn is_open(leads: i32, common_mode: i32) -> bool {
    leads.abs() > OPEN_SIGNAL_COUNTS || !COMMON_MODE_COUNTS.contains(&common_mode)
}

/// Standard deviation with n − 1, taken about one of the readings to keep the digits.
#[expect(clippy::cast_precision_loss, reason = "at most 63 readings of 24 bits")]
fn deviation(readings: &[i32]) -> f32 {
    let (Some(&first), 2..) = (readings.first(), readings.len()) else {
        return 0.0;
    };
    let n = readings.len() as f32;
    let from_first = |&reading: &i32| reading.saturating_sub(first) as f32;
    let mean = readings.iter().map(from_first).sum::<f32>() / n;
    let squares: f32 = readings
        .iter()
        .map(|reading| from_first(reading) - mean)
        .map(|difference| difference * difference)
        .sum();
    libm::sqrtf(squares / (n - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the open-bridge test says of readings, in parts of full scale.
    fn finds_open(leads: f64, common_mode: f64) -> bool {
        let mut run = Run::new(SelfTest::OpenBridge, 0);
        for part in [leads, common_mode] {
            #[expect(clippy::cast_possible_truncation, reason = "within full scale")]
            let counts = (part * f64::from(1 << 23)) as i32;
            for _ in 0..usize::from(SETTLING) + LEAD_READINGS {
                run.take(counts, 0);
            }
            if let Progress::Done(result) = run.progress(0) {
                return result.open;
            }
        }
        panic!("both parts were given");
    }

    #[test]
    fn a_whole_bridge_of_5_kilohm_with_its_filter_is_not_open() {
        let volts = 10e-6 * (5_000.0 + 2_000.0) + 0.026; // burn-out current, and the largest signal
        assert!(!finds_open(volts / 3.3, 0.5));
    }

    /// The other wire stays at half the supply; 0.3 V short of both rails is what is left for source and amplifier.
    #[test]
    fn one_open_signal_wire_is_found_though_nothing_reaches_the_rails() {
        assert!(finds_open((1.65 - 0.3) / 3.3, 0.5));
        assert!(finds_open(-(1.65 - 0.3) / 3.3, 0.5));
    }

    #[test]
    fn an_open_supply_wire_is_found_by_the_common_mode() {
        assert!(finds_open(0.0, 0.0));
        assert!(finds_open(0.0, 0.98));
    }
}
