//! Whether a JPEG is whole. In: its bytes. Out: nothing, or that it is cut short before its picture ends.
//!
//! Markers as in ITU-T T.81, annex B (from memory). Whatever a camera puts behind the end does not matter.

use crate::Unusable;

const FILL: u8 = 0xff;
const START_OF_SCAN: u8 = 0xda;
const END_OF_IMAGE: u8 = 0xd9;

/// Follows the segments to the end of the image.
pub(crate) fn jpeg(bytes: &[u8]) -> Result<(), Unusable> {
    let mut at = 2;
    loop {
        let code = marker(bytes, &mut at)?;
        match code {
            END_OF_IMAGE => return Ok(()),
            // Without a length: restarts and the start of an image.
            0x01 | 0xd0..=0xd8 => continue,
            _ => {}
        }
        let length = bytes.get(at..at + 2).ok_or(Unusable::CutShort)?;
        at += usize::from(u16::from_be_bytes([length[0], length[1]])).max(2);
        if code == START_OF_SCAN {
            skip_scan(bytes, &mut at)?;
        }
    }
}

/// The code of the next marker; bytes before it that belong to none are passed over, as decoders do.
fn marker(bytes: &[u8], at: &mut usize) -> Result<u8, Unusable> {
    let rest = bytes.get(*at..).ok_or(Unusable::CutShort)?;
    let place = rest
        .windows(2)
        .position(|pair| pair[0] == FILL && !matches!(pair[1], 0 | FILL));
    let place = place.ok_or(Unusable::CutShort)?;
    *at += place + 2;
    Ok(rest[place + 1])
}

/// To the marker behind the coded picture: a stuffed zero or a restart is none.
fn skip_scan(bytes: &[u8], at: &mut usize) -> Result<(), Unusable> {
    let rest = bytes.get(*at..).ok_or(Unusable::CutShort)?;
    let end = rest
        .windows(2)
        .position(|pair| pair[0] == FILL && !matches!(pair[1], 0 | 0xd0..=0xd7 | FILL));
    *at += end.ok_or(Unusable::CutShort)?;
    Ok(())
}
