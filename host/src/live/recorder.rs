//! In: frames as they arrive and clamps as they are recognised. Out: the same, on disk before anybody is told.

use crate::desk::{self, Desk};
use crate::link::RawFrame;
use holdtrue_book::{Capture, Chunk, Frames, Json, Recorded, RecordedKind, Source};
use std::time::Duration;
use uuid::Uuid;

/// A chunk holds at most this much of the stream, so that a pulled plug costs no more.
const CHUNK: Duration = Duration::from_millis(1_000);

/// Where the stream comes from.
#[derive(Clone, Copy, Debug)]
pub struct Stream {
    /// Wire version, major and minor.
    pub wire: (u8, u8),
    /// Boot number of the gauge.
    pub boot: u32,
}

/// Writes one stream of one check into the book.
pub struct Recorder<'d> {
    desk: &'d mut Desk,
    check: Uuid,
    capture: Uuid,
    stream: Stream,
    frames: Frames,
    began: Option<(Duration, String)>,
}

impl<'d> Recorder<'d> {
    /// Opens a raw record in the check; `about` says port, rate and channels.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn begin(
        desk: &'d mut Desk,
        check: Uuid,
        stream: Stream,
        about: Json,
    ) -> holdtrue_book::Result<Self> {
        let capture = desk.id();
        let stamp = desk.stamp();
        desk.book.begin_capture(&Capture {
            id: capture,
            check,
            source: Source::Gauge,
            content: about,
            stamp,
        })?;
        Ok(Self {
            desk,
            check,
            capture,
            stream,
            frames: Frames::default(),
            began: None,
        })
    }

    /// Takes a frame that arrived at `at` on the link's clock.
    ///
    /// # Errors
    /// When the book does not take the chunk that is full.
    pub fn frame(&mut self, raw: &RawFrame, at: Duration) -> holdtrue_book::Result<()> {
        if self
            .began
            .as_ref()
            .is_some_and(|(began, _)| at >= *began + CHUNK)
        {
            self.flush()?;
        }
        self.began.get_or_insert_with(|| (at, desk::now()));
        self.frames.push(&raw.0);
        Ok(())
    }

    /// Writes what is still in memory.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn flush(&mut self) -> holdtrue_book::Result<()> {
        let Some((_, at)) = self.began.take() else {
            return Ok(());
        };
        let frames = std::mem::take(&mut self.frames);
        let chunk = Chunk {
            wire: self.stream.wire,
            boot: self.stream.boot,
            at,
            facts: None,
            frames,
        };
        self.desk
            .book
            .append_chunk(self.capture, &chunk)
            .map(|_number| ())
    }

    /// Records a clamp with the samples that made it; when this returns, both are on the disk.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn clamp(&mut self, number: u32, content: Json) -> holdtrue_book::Result<()> {
        self.flush()?;
        let id = self.desk.id();
        let stamp = self.desk.stamp();
        self.desk.book.record_clamp(&Recorded {
            id,
            check: self.check,
            kind: RecordedKind::Clamp,
            number,
            content,
            stamp,
        })
    }
}
