//! In: a check in the book. Out: its force record again, from the frames exactly as they came.

use crate::terminal::error::Error;
use crate::visits::checks::stored_calibration;
use holdtrue_book::{Book, Source};
use holdtrue_gauge::force::{ForceBuilder, Piece};
use holdtrue_gauge::link::RawFrame;
use holdtrue_metrology::grip::record::ForceRecord;
use uuid::Uuid;

/// All pieces of a check's record, stream after stream, leaving the builder ready for the next stream.
///
/// # Errors
/// When the book cannot be read or a chain of chunks is broken.
pub fn pieces(book: &Book, check: Uuid, builder: &mut ForceBuilder) -> Result<Vec<Piece>, Error> {
    let mut pieces = Vec::new();
    each_piece(book, check, builder, |piece| {
        pieces.push(piece);
        Ok(())
    })?;
    Ok(pieces)
}

/// The same, handed on one by one: a record of an hour is millions of them.
fn each_piece(
    book: &Book,
    check: Uuid,
    builder: &mut ForceBuilder,
    mut take: impl FnMut(Piece) -> Result<(), Error>,
) -> Result<(), Error> {
    for capture in book
        .captures(check)?
        .iter()
        .filter(|capture| capture.source == Source::Gauge)
    {
        let chunks = book.chunks(capture.id)?;
        let Some(first) = chunks.first() else {
            continue;
        };
        builder.continue_with(first.boot);
        for frame in chunks.iter().flat_map(|chunk| chunk.frames.iter()) {
            for piece in builder.take(&RawFrame(frame.to_vec())) {
                take(piece)?;
            }
        }
    }
    Ok(())
}

/// The force record of a check as it stands in the book.
///
/// # Errors
/// As [`pieces`].
pub fn force_record(
    book: &Book,
    check: Uuid,
    end_probe: Option<Uuid>,
) -> Result<ForceRecord, Error> {
    let mut builder = ForceBuilder::new(stored_calibration::of_check(book, check)?, 0)
        .with_end_probe(stored_calibration::of_id(book, end_probe)?);
    let mut record = ForceRecord::default();
    each_piece(book, check, &mut builder, |piece| {
        match piece {
            Piece::Span(span) => record.mark(span),
            Piece::Travel(travel) => record.push_travel(travel),
            Piece::Sample(sample) => record
                .push(sample)
                .map_err(|error| Error::book(error.to_string()))?,
        }
        Ok(())
    })?;
    Ok(record)
}
