//! Whole frames go in, bytes for the link come out, in order.
//!
//! When the link cannot keep up, what has no room is dropped as a whole frame, never a part of one: first blocks,
//! then events. Room for answers is kept back, and a request is only taken up while its answer has room.

use heapless::Deque;
use holdtrue_protocol::frame::{FRAME_END, MAX_FRAME, encode_frame};
use holdtrue_protocol::message::FromGauge;

/// Bytes only answers may use: those of a request and of one that takes its time.
pub const ANSWER_ROOM: usize = 2 * MAX_FRAME;
/// Bytes only answers and events may use.
pub const EVENT_ROOM: usize = 256;

/// What a frame is, for who may use which room.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A block of samples.
    Block,
    /// A mark edge, an indicator reading, a fault.
    Event,
    /// An answer or a hello.
    Answer,
}

impl Kind {
    const fn kept_back(self) -> usize {
        match self {
            Self::Block => ANSWER_ROOM + EVENT_ROOM,
            Self::Event => ANSWER_ROOM,
            Self::Answer => 0,
        }
    }
}

/// A ring of `N` bytes, holding whole frames.
pub struct Outbox<const N: usize> {
    bytes: Deque<u8, N>,
    inside_frame: bool,
    blocks_dropped: u32,
}

impl<const N: usize> Outbox<N> {
    /// Holds one closing zero, so that whatever the line saw before this reset ends there.
    #[must_use]
    pub fn new() -> Self {
        const { assert!(N >= 2 * (ANSWER_ROOM + EVENT_ROOM)) };
        let mut bytes = Deque::new();
        let _ = bytes.push_back(FRAME_END);
        Self {
            bytes,
            inside_frame: false,
            blocks_dropped: 0,
        }
    }

    /// Bytes free.
    #[must_use]
    pub fn free(&self) -> usize {
        self.bytes.capacity() - self.bytes.len()
    }

    /// Whether everything has been taken by the link.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.bytes.is_empty()
    }

    /// Takes a message as a frame; `false` if it had no room, and was dropped.
    pub fn send(&mut self, kind: Kind, message: &FromGauge<'_>) -> bool {
        let mut buffer = [0; MAX_FRAME];
        let taken = encode_frame(message, &mut buffer)
            .is_ok_and(|frame| self.take(frame, kind.kept_back()));
        if !taken && kind == Kind::Block {
            self.blocks_dropped = self.blocks_dropped.saturating_add(1);
        }
        taken
    }

    /// Blocks dropped since [`restart_count`](Self::restart_count).
    #[must_use]
    pub const fn blocks_dropped(&self) -> u32 {
        self.blocks_dropped
    }

    /// Counts dropped blocks from zero.
    pub fn restart_count(&mut self) {
        self.blocks_dropped = 0;
    }

    /// The next bytes for the link, in one piece; more may follow once these are [sent](Self::sent).
    #[must_use]
    pub fn next_bytes(&self) -> &[u8] {
        let (first, second) = self.bytes.as_slices();
        if first.is_empty() { second } else { first }
    }

    /// The link took so many of the [next bytes](Self::next_bytes).
    pub fn sent(&mut self, count: usize) {
        for _ in 0..count {
            if let Some(byte) = self.bytes.pop_front() {
                self.inside_frame = byte != FRAME_END;
            }
        }
    }

    /// A new connection: the rest of a frame whose beginning went to the old one is dropped.
    pub fn drop_cut_frame(&mut self) {
        while self.inside_frame {
            match self.bytes.pop_front() {
                Some(byte) => self.inside_frame = byte != FRAME_END,
                None => self.inside_frame = false,
            }
        }
    }

    fn take(&mut self, frame: &[u8], kept_back: usize) -> bool {
        if self.free() < frame.len() + kept_back {
            return false;
        }
        for &byte in frame {
            let _ = self.bytes.push_back(byte); // has room, see above
        }
        true
    }
}

impl<const N: usize> Default for Outbox<N> {
    fn default() -> Self {
        Self::new()
    }
}
