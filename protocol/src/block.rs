//! Sample blocks: consecutive samples go in, delta-coded bytes come out; and back.
//!
//! For each sample in turn: force, then displacement (those the block carries), each as the difference from the
//! sample before, zigzag varint. The first sample's difference is from zero, so a block can be read alone.
//! Differences wrap at 32 bits: any two counts have one, of at most five bytes.

use core::fmt;

use crate::message::{Block, Faults};

/// A block is closed at this many samples.
pub const MAX_SAMPLES: usize = 32;

/// Bytes that [`MAX_SAMPLES`] samples of two channels can take at most.
pub const MAX_DATA: usize = MAX_SAMPLES * 2 * MAX_VARINT;

const MAX_VARINT: usize = 5;

/// A sample as it is taken, before it goes into a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Taken {
    /// Boot number.
    pub boot: u32,
    /// Number since the start command.
    pub number: u64,
    /// When it was ready, microseconds since boot.
    pub at_us: u64,
    /// Load cell counts, if that channel streams.
    pub force: Option<i32>,
    /// Probe counts, if that channel streams.
    pub displacement: Option<i32>,
    /// Faults in force at this sample.
    pub faults: Faults,
}

/// A sample as read back from a block.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Number since the start command.
    pub number: u64,
    /// When it was ready, microseconds since boot, interpolated between the block's stamps.
    pub at_us: f64,
    /// Load cell counts.
    pub force: Option<i32>,
    /// Probe counts.
    pub displacement: Option<i32>,
}

/// Collects samples into a block. Holds its own memory, no heap.
#[derive(Clone, Debug)]
pub struct BlockEncoder {
    first: Taken,
    last: Taken,
    count: u8,
    data: [u8; MAX_DATA],
    length: usize,
}

impl Default for BlockEncoder {
    fn default() -> Self {
        Self::new()
    }
}

impl BlockEncoder {
    /// An empty one.
    #[must_use]
    pub const fn new() -> Self {
        let nothing = Taken {
            boot: 0,
            number: 0,
            at_us: 0,
            force: None,
            displacement: None,
            faults: Faults(0),
        };
        Self {
            first: nothing,
            last: nothing,
            count: 0,
            data: [0; MAX_DATA],
            length: 0,
        }
    }

    /// Whether [`push`](Self::push) would take this sample. Where it would not, the block has to be sent and
    /// [cleared](Self::clear) first: it is full, or the sample is of another boot, channel set or fault state,
    /// or not the next in number.
    #[must_use]
    pub fn accepts(&self, sample: &Taken) -> bool {
        self.count == 0 || (!self.is_full() && follows(&self.last, sample))
    }

    /// Adds a sample. Gives `false`, and takes nothing, if it does not [belong](Self::accepts) here.
    #[must_use]
    pub fn push(&mut self, sample: &Taken) -> bool {
        if !self.accepts(sample) {
            return false;
        }
        let before = if self.count == 0 {
            (0, 0)
        } else {
            counts(&self.last)
        };
        let now = counts(sample);
        if sample.force.is_some() {
            self.append(now.0.wrapping_sub(before.0));
        }
        if sample.displacement.is_some() {
            self.append(now.1.wrapping_sub(before.1));
        }
        if self.count == 0 {
            self.first = *sample;
        }
        self.last = *sample;
        self.count += 1;
        true
    }

    /// Whether it holds [`MAX_SAMPLES`].
    #[must_use]
    pub fn is_full(&self) -> bool {
        usize::from(self.count) >= MAX_SAMPLES
    }

    /// How many samples it holds.
    #[must_use]
    pub fn count(&self) -> u8 {
        self.count
    }

    /// The block as it stands; `None` while empty.
    #[must_use]
    pub fn block(&self) -> Option<Block<'_>> {
        (self.count > 0).then(|| Block {
            boot: self.first.boot,
            first_sample: self.first.number,
            first_us: self.first.at_us,
            last_us: self.last.at_us,
            count: self.count,
            force: self.first.force.is_some(),
            displacement: self.first.displacement.is_some(),
            faults: self.first.faults,
            data: &self.data[..self.length],
        })
    }

    /// Empties it for the next block.
    pub fn clear(&mut self) {
        self.count = 0;
        self.length = 0;
    }

    fn append(&mut self, difference: i32) {
        let mut rest = zigzag(difference);
        while rest >= 0x80 {
            self.append_byte(rest.to_le_bytes()[0] | 0x80);
            rest >>= 7;
        }
        self.append_byte(rest.to_le_bytes()[0]);
    }

    fn append_byte(&mut self, byte: u8) {
        self.data[self.length] = byte;
        self.length += 1;
    }
}

fn follows(last: &Taken, next: &Taken) -> bool {
    next.boot == last.boot
        && next.number == last.number.wrapping_add(1)
        && next.at_us >= last.at_us
        && next.faults == last.faults
        && next.force.is_some() == last.force.is_some()
        && next.displacement.is_some() == last.displacement.is_some()
}

fn counts(sample: &Taken) -> (i32, i32) {
    (sample.force.unwrap_or(0), sample.displacement.unwrap_or(0))
}

fn zigzag(value: i32) -> u32 {
    ((value << 1) ^ (value >> 31)).cast_unsigned()
}

fn unzigzag(value: u32) -> i32 {
    (value >> 1).cast_signed() ^ -((value & 1).cast_signed())
}

/// Why a block that arrived whole cannot be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlockError {
    /// No samples, or more than [`MAX_SAMPLES`].
    Count(u8),
    /// No channel, so no samples.
    NoChannel,
    /// The last sample's stamp lies before the first's.
    Stamps,
    /// The sample numbers pass the end of 64 bits.
    Numbers,
    /// The data ends inside a sample, or a difference has more than 32 bits.
    Data {
        /// Sample at which it went wrong, from 0.
        sample: u8,
    },
    /// Bytes are left over behind the last sample.
    LeftOver(usize),
}

impl fmt::Display for BlockError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Count(count) => {
                write!(f, "block of {count} samples, 1 to {MAX_SAMPLES} expected")
            }
            Self::NoChannel => write!(f, "block without a channel"),
            Self::Stamps => write!(f, "block whose last stamp lies before its first"),
            Self::Numbers => write!(f, "block whose sample numbers pass 64 bits"),
            Self::Data { sample } => write!(f, "block whose data breaks off in sample {sample}"),
            Self::LeftOver(bytes) => write!(f, "block with {bytes} bytes behind its last sample"),
        }
    }
}

impl core::error::Error for BlockError {}

/// Reads a block.
///
/// # Errors
///
/// Any [`BlockError`]: the whole block is checked before the first sample is handed out.
pub fn decode<'a>(block: &Block<'a>) -> Result<Samples<'a>, BlockError> {
    let samples = Samples::open(block)?;
    let mut trial = samples.clone();
    for sample in 0..block.count {
        trial.step().ok_or(BlockError::Data { sample })?;
    }
    if trial.data.is_empty() {
        Ok(samples)
    } else {
        Err(BlockError::LeftOver(trial.data.len()))
    }
}

/// The samples of a block, in order.
#[derive(Clone, Debug)]
pub struct Samples<'a> {
    first_sample: u64,
    first_us: u64,
    span_us: u64,
    count: u8,
    next: u8,
    has_force: bool,
    has_displacement: bool,
    force: i32,
    displacement: i32,
    data: &'a [u8],
}

impl<'a> Samples<'a> {
    fn open(block: &Block<'a>) -> Result<Self, BlockError> {
        if block.count == 0 || usize::from(block.count) > MAX_SAMPLES {
            return Err(BlockError::Count(block.count));
        }
        if !block.force && !block.displacement {
            return Err(BlockError::NoChannel);
        }
        block
            .first_sample
            .checked_add(u64::from(block.count))
            .ok_or(BlockError::Numbers)?;
        Ok(Self {
            first_sample: block.first_sample,
            first_us: block.first_us,
            span_us: block
                .last_us
                .checked_sub(block.first_us)
                .ok_or(BlockError::Stamps)?,
            count: block.count,
            next: 0,
            has_force: block.force,
            has_displacement: block.displacement,
            force: 0,
            displacement: 0,
            data: block.data,
        })
    }

    fn step(&mut self) -> Option<Sample> {
        if self.next == self.count {
            return None;
        }
        if self.has_force {
            self.force = self.force.wrapping_add(self.difference()?);
        }
        if self.has_displacement {
            self.displacement = self.displacement.wrapping_add(self.difference()?);
        }
        let sample = Sample {
            number: self.first_sample + u64::from(self.next),
            at_us: self.at_us(),
            force: self.has_force.then_some(self.force),
            displacement: self.has_displacement.then_some(self.displacement),
        };
        self.next += 1;
        Some(sample)
    }

    fn at_us(&self) -> f64 {
        let steps = f64::from((self.count - 1).max(1));
        self.first_us as f64 + self.span_us as f64 * f64::from(self.next) / steps
    }

    fn difference(&mut self) -> Option<i32> {
        let (value, rest) = postcard::take_from_bytes::<u32>(self.data).ok()?;
        self.data = rest;
        Some(unzigzag(value))
    }
}

impl Iterator for Samples<'_> {
    type Item = Sample;

    fn next(&mut self) -> Option<Sample> {
        self.step()
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        let left = usize::from(self.count - self.next);
        (left, Some(left))
    }
}

impl ExactSizeIterator for Samples<'_> {}
