//! Bytes as a port gives them go in, cut anywhere; whole messages come out, with a word for every frame that
//! was not one.
//!
//! A bad frame is dropped *before* it is reported, so no report can hold the stream up; after a frame that is
//! too long for any message everything up to the next zero belongs to it.

use crate::frame::{FRAME_END, FrameError, MAX_FRAME, Message, decode_plain, unstuff};
use crate::message::{FromGauge, ToGauge};

/// What a closing zero brought.
#[derive(Clone, Debug, PartialEq)]
pub enum Received<'a, M> {
    /// A message.
    Message {
        /// What was said.
        message: M,
        /// The frame's plain bytes, body and CRC, exactly as received.
        plain: &'a [u8],
    },
    /// A whole frame of a kind this reader does not know: skipped.
    NotUnderstood {
        /// What is foreign about it.
        why: FrameError,
        /// The frame's plain bytes, body and CRC, exactly as received.
        plain: &'a [u8],
    },
    /// Bytes that are no frame: skipped.
    Damaged(FrameError),
    /// More bytes than any frame has: skipped up to this zero.
    OverLong,
}

/// How many frames of each sort came.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Frames that were messages.
    pub good: u64,
    /// Frames whose stuffing, length or CRC was wrong.
    pub damaged: u64,
    /// Runs of bytes without a zero that were too long for a frame.
    pub over_long: u64,
    /// Whole frames of an unknown kind.
    pub not_understood: u64,
}

/// Finds frames in a stream of bytes. `N` is the longest frame it takes, its closing zero included.
#[derive(Clone, Debug)]
pub struct Decoder<const N: usize = MAX_FRAME> {
    buffer: [u8; N],
    length: usize,
    skipping: bool,
    counts: Counts,
}

impl<const N: usize> Default for Decoder<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Decoder<N> {
    /// A decoder at the start of a stream.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            buffer: [0; N],
            length: 0,
            skipping: false,
            counts: Counts {
                good: 0,
                damaged: 0,
                over_long: 0,
                not_understood: 0,
            },
        }
    }

    /// Takes one byte of a gauge's stream.
    pub fn push_from_gauge(&mut self, byte: u8) -> Option<Received<'_, FromGauge<'_>>> {
        self.push(byte)
    }

    /// Takes one byte of a host's stream.
    pub fn push_from_host(&mut self, byte: u8) -> Option<Received<'_, ToGauge>> {
        self.push(byte)
    }

    /// Takes a chunk of a gauge's stream and hands over what it completes, in order.
    pub fn feed_from_gauge(
        &mut self,
        bytes: &[u8],
        mut take: impl FnMut(Received<'_, FromGauge<'_>>),
    ) {
        for &byte in bytes {
            if let Some(received) = self.push_from_gauge(byte) {
                take(received);
            }
        }
    }

    /// Frames seen so far.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.counts
    }

    /// Forgets a frame begun but not closed, as after reopening a port. The counts stay.
    pub fn restart(&mut self) {
        self.length = 0;
        self.skipping = false;
    }

    fn push<'a, M: Message<'a>>(&'a mut self, byte: u8) -> Option<Received<'a, M>> {
        if byte == FRAME_END {
            self.close()
        } else {
            self.store(byte)
        }
    }

    fn store<'a, M>(&'a mut self, byte: u8) -> Option<Received<'a, M>> {
        // The last place of a frame is the closing zero's, which is never stored.
        if self.length + 1 < N {
            self.buffer[self.length] = byte;
            self.length += 1;
        } else {
            self.skipping = true;
        }
        None
    }

    fn close<'a, M: Message<'a>>(&'a mut self) -> Option<Received<'a, M>> {
        let (length, skipping) = (self.length, self.skipping);
        self.restart();
        if skipping {
            self.counts.over_long += 1;
            return Some(Received::OverLong);
        }
        if length == 0 {
            return None; // two zeros: the sender's first byte after a reset, or an idle line
        }
        let counts = &mut self.counts;
        Some(match unstuff(&mut self.buffer[..length]) {
            Ok(plain) => sort(plain, counts),
            Err(error) => {
                counts.damaged += 1;
                Received::Damaged(error)
            }
        })
    }
}

fn sort<'a, M: Message<'a>>(plain: &'a [u8], counts: &mut Counts) -> Received<'a, M> {
    match decode_plain(plain) {
        Ok(message) => {
            counts.good += 1;
            Received::Message { message, plain }
        }
        Err(why) if why.is_whole() => {
            counts.not_understood += 1;
            Received::NotUnderstood { why, plain }
        }
        Err(error) => {
            counts.damaged += 1;
            Received::Damaged(error)
        }
    }
}
