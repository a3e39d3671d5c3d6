//! In: frames as they arrive, clamps and readings as they are recognised. Out: the same, on disk before anybody is told.

use crate::visits::book::book_writer;
use crate::visits::book::book_writer::BookWriter;
use holdtrue_book::{Capture, Chunk, Frames, Json, Recorded, RecordedKind, Remark, Said, Source};
use holdtrue_gauge::link::{Damage, RawFrame};
use serde_json::json;
use std::time::{Duration, Instant};
use uuid::Uuid;

/// A chunk holds at most this much of the stream.
const CHUNK: Duration = Duration::from_millis(1_000);
/// What came is written at least this often by the clock on the wall, so that a pulled plug costs no more. A simulated
/// stream runs faster than that clock; its chunks are then written several at once.
const WRITE_EVERY: Duration = Duration::from_millis(1_000);

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
    writer: &'d mut BookWriter,
    check: Uuid,
    capture: Uuid,
    stream: Stream,
    chunks: Vec<(Chunk, Damage)>,
    /// What the cable had done up to the newest frame, and before the first.
    damage: Damage,
    damage_before: Damage,
    began: Option<Duration>,
    written: Instant,
}

impl<'d> Recorder<'d> {
    /// Opens a raw record in the check; `about` says port, rate, channels and where the sensor stood, `damage` what the
    /// cable did before.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn begin(
        writer: &'d mut BookWriter,
        check: Uuid,
        stream: Stream,
        about: Json,
        damage: Damage,
    ) -> holdtrue_book::Result<Self> {
        let capture = writer.id();
        let stamp = writer.stamp();
        writer.book.begin_capture(&Capture {
            id: capture,
            check,
            source: Source::Gauge,
            content: about,
            stamp,
        })?;
        Ok(Self {
            writer,
            check,
            capture,
            stream,
            chunks: Vec::new(),
            damage,
            damage_before: damage,
            began: None,
            written: Instant::now(),
        })
    }

    /// The raw record's id in the book.
    pub fn capture(&self) -> Uuid {
        self.capture
    }

    /// Takes a frame that arrived at `at` on the link's clock, when the cable had done `damage` so far.
    ///
    /// # Errors
    /// When the book does not take what is due.
    pub fn frame(
        &mut self,
        raw: &RawFrame,
        at: Duration,
        damage: Damage,
    ) -> holdtrue_book::Result<()> {
        let full = self.began.is_none_or(|began| at >= began + CHUNK);
        if full && self.written.elapsed() >= WRITE_EVERY {
            self.flush()?;
        }
        if full {
            self.began = Some(at);
            self.chunks.push((self.new_chunk(), Damage::default()));
        }
        let more = damage.since(self.damage);
        self.damage = damage;
        if let Some((chunk, suffered)) = self.chunks.last_mut() {
            chunk.frames.push(&raw.0);
            *suffered = suffered.and(more);
        }
        Ok(())
    }

    /// What the cable did while this was recorded.
    pub fn damage(&self) -> Damage {
        self.damage.since(self.damage_before)
    }

    fn new_chunk(&self) -> Chunk {
        let Stream { wire, boot } = self.stream;
        Chunk {
            wire,
            boot,
            at: book_writer::now(),
            facts: None,
            frames: Frames::default(),
        }
    }

    /// Writes what is still in memory.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn flush(&mut self) -> holdtrue_book::Result<()> {
        self.write(None)
    }

    /// The book, for what is written beside the record.
    pub fn book(&mut self) -> &mut BookWriter {
        self.writer
    }

    /// Records a clamp, reading or plane with the samples that made it; when this returns, both are on the disk.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn record(
        &mut self,
        kind: RecordedKind,
        number: u32,
        content: Json,
    ) -> holdtrue_book::Result<()> {
        let (id, check, stamp) = (self.writer.id(), self.check, self.writer.stamp());
        self.write(Some(&Recorded {
            id,
            check,
            kind,
            number,
            content,
            stamp,
        }))
    }

    /// Strikes what was recorded under this number: it counts no longer, and stays in sight with the reason.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn strike(
        &mut self,
        kind: RecordedKind,
        number: u32,
        reason: String,
    ) -> holdtrue_book::Result<()> {
        let recorded = self.writer.book.recorded(self.check)?;
        let of_number = |row: &&Recorded| row.kind == kind && row.number == number;
        let Some(target) = recorded.iter().rfind(of_number).map(|row| row.id) else {
            return Ok(());
        };
        let (id, stamp) = (self.writer.id(), self.writer.stamp());
        self.writer.book.remark(&Remark {
            id,
            said: Said::Strike,
            target,
            change: None,
            reason,
            stamp,
        })
    }

    fn write(&mut self, recorded: Option<&Recorded>) -> holdtrue_book::Result<()> {
        let chunks = std::mem::take(&mut self.chunks);
        self.began = None;
        self.written = Instant::now();
        if chunks.is_empty() && recorded.is_none() {
            return Ok(());
        }
        let capture = self.capture;
        self.writer.book.together(|book| {
            for (chunk, suffered) in chunks {
                let facts = facts(suffered);
                book.append_chunk(capture, &Chunk { facts, ..chunk })?;
            }
            recorded.map_or(Ok(()), |recorded| book.record(recorded))
        })
    }
}

/// What is known beside the frames of a chunk; nothing where all came whole.
fn facts(suffered: Damage) -> Option<Json> {
    let Damage { damaged, over_long } = suffered;
    let facts = json!({ "damaged_frames": damaged, "over_long_frames": over_long });
    (suffered != Damage::default())
        .then(|| Json::of(&facts).expect("two numbers always have a JSON form"))
}
