//! In: the blocks of one stream, one after another. Out: those that can follow on each other.
//!
//! A block whose bytes came whole may still hold what no gauge measured: stamps that run backwards or leap, more samples
//! than time, counts beyond the converter. It is left out as if it had been lost, so the gap it leaves is seen.

use holdtrue_metrology::calibration::HIGHEST_COUNTS;
use holdtrue_protocol::block;
use holdtrue_protocol::block::Sample;
use holdtrue_protocol::message::Block;

/// No converter of ours takes more samples: at least so long from one to the next, µs …
const LEAST_SPACING_US: u64 = 100;
/// … and none takes fewer, µs.
const LONGEST_SPACING_US: u64 = 1_000_000;
/// A stream that pauses longer has ended: the gauge stops it by itself after ten seconds without a host, µs.
const LONGEST_PAUSE_US: u64 = 60_000_000;

/// Where the stream has come to.
#[derive(Clone, Debug, Default)]
pub struct Order {
    next_sample: u64,
    last_us: Option<u64>,
}

impl Order {
    /// The samples of a block that can follow, and how many are missing before it; `None` for one that cannot.
    pub fn admit(&mut self, block: &Block<'_>) -> Option<(Vec<Sample>, u64)> {
        let missing = block.first_sample.checked_sub(self.next_sample)?;
        // Before the first block a whole pause may have been lost.
        let pause_us = match self.last_us {
            Some(last_us) => block.first_us.checked_sub(last_us).filter(|us| *us > 0)?,
            None => LONGEST_PAUSE_US,
        };
        let steps = u64::from(block.count).saturating_sub(1);
        let span_us = block.last_us.checked_sub(block.first_us)?;
        let paced = (steps * LEAST_SPACING_US..=steps * LONGEST_SPACING_US).contains(&span_us);
        if !paced || pause_us > LONGEST_PAUSE_US || missing > pause_us / LEAST_SPACING_US {
            return None;
        }
        let samples: Vec<Sample> = block::decode(block).ok()?.collect();
        let readable = |sample: &Sample| sample.force.is_none_or(is_of_the_converter);
        if !samples.iter().all(readable) {
            return None;
        }
        self.next_sample = block.first_sample + u64::from(block.count);
        self.last_us = Some(block.last_us);
        Some((samples, missing))
    }

    /// Whether something at this time belongs to the stream, whose own times count from `origin_us`.
    pub fn is_near(&self, origin_us: u64, at_us: u64) -> bool {
        let last_us = origin_us.saturating_add(self.last_us.unwrap_or(0));
        last_us.abs_diff(at_us) <= LONGEST_PAUSE_US
    }
}

fn is_of_the_converter(counts: i32) -> bool {
    (-HIGHEST_COUNTS - 1..=HIGHEST_COUNTS).contains(&counts)
}
