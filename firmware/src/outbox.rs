//! Whole frames go in, bytes for the link come out, in order.
//!
//! When the link cannot keep up, what has no room is dropped as a whole frame, never a part of one: first blocks,
//! then events. Room for answers is kept back, and a request is only taken up while its answer has room.

use core::ops::DerefMut;

use heapless::deque::DequeView;
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
    /// A mark edge, an indicator reading, a fault, a press.
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

/// Where bytes on their way to the host wait: a ring of any size from [`LEAST_ROOM`] on, which stays where it is. On a
/// board it is a static; it is never moved through the stack.
pub trait Room: DerefMut<Target = DequeView<u8>> {}

impl<R: DerefMut<Target = DequeView<u8>>> Room for R {}

/// The smallest ring that serves.
pub const LEAST_ROOM: usize = 2 * (ANSWER_ROOM + EVENT_ROOM);

/// A ring of bytes, holding whole frames.
pub struct Outbox<R> {
    bytes: R,
    inside_frame: bool,
    blocks_dropped: u32,
}

impl<R: Room> Outbox<R> {
    /// Holds one closing zero, so that whatever the line saw before this reset ends there.
    #[must_use]
    pub fn new(mut bytes: R) -> Self {
        bytes.clear();
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
        self.bytes.storage_capacity() - self.bytes.storage_len()
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

    /// A new connection: the rest of a frame whose beginning went to the old one is dropped, but for its closing
    /// zero. Should the link still hold that beginning, it ends there and spoils nothing.
    pub fn drop_cut_frame(&mut self) {
        while self.inside_frame {
            match self.bytes.front() {
                Some(&FRAME_END) | None => self.inside_frame = false,
                Some(_) => {
                    let _ = self.bytes.pop_front();
                }
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

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use holdtrue_protocol::message::{Answer, Block, Fault, FaultChange, Faults, Refusal};
    use holdtrue_protocol::stream::{Decoder, Received};

    use super::*;

    type Box = Outbox<std::boxed::Box<DequeView<u8>>>;

    fn outbox() -> Box {
        let room: std::boxed::Box<DequeView<u8>> =
            std::boxed::Box::new(heapless::Deque::<u8, 2_048>::new());
        Outbox::new(room)
    }

    fn block(number: u64) -> FromGauge<'static> {
        FromGauge::Block(Block {
            boot: 1,
            first_sample: number,
            first_us: 1_000 * number,
            last_us: 1_000 * number,
            count: 1,
            force: true,
            displacement: false,
            faults: Faults(0),
            data: &[0x55; 90],
        })
    }

    fn fault(number: u64) -> FromGauge<'static> {
        FromGauge::Fault(FaultChange {
            boot: 1,
            at_sample: number,
            at_us: 0,
            fault: Fault::Saturated,
            active: true,
        })
    }

    fn answer(id: u16) -> FromGauge<'static> {
        FromGauge::Answer(Answer {
            id,
            outcome: Err(Refusal::NoRecord),
        })
    }

    fn fill(outbox: &mut Box, kind: Kind, message: impl Fn(u16) -> FromGauge<'static>) -> u16 {
        (0..)
            .take_while(|&number| outbox.send(kind, &message(number)))
            .last()
            .map_or(0, |last| last + 1)
    }

    fn drain(outbox: &mut Box, step: usize) -> Vec<u8> {
        let mut bytes = Vec::new();
        while !outbox.is_empty() {
            let next = outbox.next_bytes();
            let count = next.len().min(step);
            bytes.extend_from_slice(&next[..count]);
            outbox.sent(count);
        }
        bytes
    }

    /// Block numbers, fault numbers and answer ids in a byte stream, and how many frames were no messages.
    fn sorted(bytes: &[u8]) -> (Vec<u64>, Vec<u64>, Vec<u16>, u64) {
        let mut decoder: Decoder = Decoder::new();
        let (mut blocks, mut faults, mut answers) = (Vec::new(), Vec::new(), Vec::new());
        decoder.feed_from_gauge(bytes, |received| {
            if let Received::Message { message, .. } = received {
                match message {
                    FromGauge::Block(block) => blocks.push(block.first_sample),
                    FromGauge::Fault(fault) => faults.push(fault.at_sample),
                    FromGauge::Answer(answer) => answers.push(answer.id),
                    _ => {}
                }
            }
        });
        let counts = decoder.counts();
        let bad = counts.damaged + counts.over_long + counts.not_understood;
        (blocks, faults, answers, bad)
    }

    #[test]
    fn full_of_blocks_there_is_still_room_for_events_and_answers() {
        let mut outbox = outbox();
        let blocks = fill(&mut outbox, Kind::Block, |number| block(number.into()));
        let events = fill(&mut outbox, Kind::Event, |number| fault(number.into()));
        let answers = fill(&mut outbox, Kind::Answer, answer);
        assert!(events >= 10, "{events} events");
        assert!(outbox.free() < 16 && answers >= 50, "{answers} answers");
        assert_eq!(outbox.blocks_dropped(), 1);
        let (seen_blocks, seen_events, seen_answers, bad) = sorted(&drain(&mut outbox, 64));
        assert_eq!(seen_blocks, (0..u64::from(blocks)).collect::<Vec<_>>());
        assert_eq!(seen_events.len(), usize::from(events));
        assert_eq!(seen_answers.len(), usize::from(answers));
        assert_eq!(bad, 0);
    }

    #[test]
    fn what_is_dropped_is_whole_blocks_and_counted() {
        let mut outbox = outbox();
        let mut seen = Vec::new();
        for number in 0..1_000 {
            outbox.send(Kind::Block, &block(number));
            if number % 50 == 49 {
                let (blocks, _, _, bad) = sorted(&drain(&mut outbox, 7));
                assert_eq!(bad, 0);
                seen.extend(blocks);
            }
        }
        assert!(seen.is_sorted());
        assert_eq!(seen.len() + outbox.blocks_dropped() as usize, 1_000);
        assert!(outbox.blocks_dropped() > 0);
        outbox.restart_count();
        assert_eq!(outbox.blocks_dropped(), 0);
    }

    #[test]
    fn the_longest_answer_always_fits_behind_blocks_and_events() {
        let mut outbox = outbox();
        fill(&mut outbox, Kind::Block, |number| block(number.into()));
        fill(&mut outbox, Kind::Event, |number| fault(number.into()));
        assert!(outbox.free() >= ANSWER_ROOM);
    }

    #[test]
    fn a_new_connection_begins_with_a_whole_frame() {
        let mut outbox = outbox();
        outbox.send(Kind::Block, &block(1));
        outbox.send(Kind::Block, &block(2));
        outbox.sent(40); // inside the first
        outbox.drop_cut_frame();
        let (blocks, _, _, bad) = sorted(&drain(&mut outbox, 64));
        assert_eq!((blocks, bad), (std::vec![2], 0));
    }

    #[test]
    fn a_connection_made_between_frames_loses_nothing() {
        let mut outbox = outbox();
        outbox.send(Kind::Block, &block(1));
        outbox.sent(1); // the zero of the start
        outbox.drop_cut_frame();
        assert_eq!(sorted(&drain(&mut outbox, 64)).0, [1]);
    }

    #[test]
    fn whatever_the_line_saw_before_the_reset_spoils_no_frame() {
        let mut outbox = outbox();
        outbox.send(Kind::Block, &block(1));
        let mut bytes = std::vec![0x07, 0x55, 0x55];
        bytes.extend(drain(&mut outbox, 64));
        assert_eq!(sorted(&bytes).0, [1]);
    }
}
