//! One frame: a message goes in and comes out as postcard body, CRC-32, COBS and a closing zero byte; and back.
//!
//! *Plain* bytes are what lies between COBS and postcard: the body followed by its CRC, least significant byte
//! first. A capture keeps plain bytes as received, so the CRC can be checked again at any later time.

use core::fmt;

use crc::{CRC_32_ISO_HDLC, Crc};
use serde::{Deserialize, Serialize};

use crate::message::{FromGauge, ToGauge};
use crate::version::{self, VersionRefusal};

/// The byte that closes a frame and occurs nowhere inside one.
///
/// A sender writes one before its first frame after a reset: whatever was cut off before it then ends there
/// and cannot spoil the first good frame.
pub const FRAME_END: u8 = 0;

/// No message of wire version 1 is longer than this when encoded.
pub const MAX_BODY: usize = 376;

/// Body and CRC.
pub const MAX_PLAIN: usize = MAX_BODY + CRC_LEN;

/// No frame of wire version 1 is longer than this, its closing zero included.
pub const MAX_FRAME: usize = 384;

/// No request of wire version 1 is longer than this, its closing zero included: the room a gauge needs to receive.
pub const MAX_REQUEST_FRAME: usize = 256;

const CRC_LEN: usize = 4;

const _: () = assert!(cobs::max_encoding_length(MAX_PLAIN) < MAX_FRAME);

static CRC_32: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);

/// CRC-32/ISO-HDLC (catalogue of parametrised CRC algorithms): the check sum of frames and of stored records.
#[must_use]
pub fn crc32(bytes: &[u8]) -> u32 {
    CRC_32.checksum(bytes)
}

/// Why bytes are no message, or a message no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameError {
    /// The message does not fit the buffer or the longest frame.
    TooLong,
    /// A zero inside, or a stuffing count that points past the end.
    Stuffing,
    /// Too short to hold even a CRC and a discriminant.
    TooShort {
        /// How many plain bytes there were.
        bytes: usize,
    },
    /// The body is not what was sent.
    Crc {
        /// CRC of the body as received.
        computed: u32,
        /// CRC that came with it.
        received: u32,
    },
    /// Whole, but not understood: a variant this reader does not know.
    Unknown {
        /// Discriminant of the outermost enum.
        discriminant: u32,
    },
    /// Whole, understood, but longer than the message: not what this reader takes it for.
    LeftOver {
        /// Discriminant of the outermost enum.
        discriminant: u32,
        /// Bytes left over.
        bytes: usize,
    },
    /// Whole, but of a newer major version.
    NewerWire(VersionRefusal),
}

impl FrameError {
    /// Whether the bytes arrived as sent, so that the frame is foreign rather than damaged.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        matches!(
            self,
            Self::Unknown { .. } | Self::LeftOver { .. } | Self::NewerWire(_)
        )
    }
}

impl fmt::Display for FrameError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong => write!(
                f,
                "the message is longer than the {MAX_FRAME} bytes a frame may have"
            ),
            Self::Stuffing => write!(f, "damaged frame: byte stuffing does not add up"),
            Self::TooShort { bytes } => {
                write!(f, "damaged frame: {bytes} bytes, at least 5 expected")
            }
            Self::Crc { computed, received } => {
                write!(
                    f,
                    "damaged frame: CRC-32 is {computed:08x}, {received:08x} was sent"
                )
            }
            Self::Unknown { discriminant } => {
                write!(
                    f,
                    "frame of kind {discriminant} is not known to wire version {}",
                    version::OURS
                )
            }
            Self::LeftOver {
                discriminant,
                bytes,
            } => {
                write!(
                    f,
                    "frame of kind {discriminant} has {bytes} bytes more than wire version {} gives it",
                    version::OURS
                )
            }
            Self::NewerWire(refusal) => refusal.fmt(f),
        }
    }
}

impl core::error::Error for FrameError {}

/// A message one can receive. Implemented for [`FromGauge`] and [`ToGauge`] only.
pub trait Message<'a>: Deserialize<'a> + sealed::Sealed {
    /// Refuses a body that must not even be read, whatever it seems to say.
    ///
    /// # Errors
    ///
    /// [`FrameError::NewerWire`] for a hello of a newer major version.
    fn admit_body(_body: &[u8]) -> Result<(), FrameError> {
        Ok(())
    }

    /// Refuses a decoded message that must not be trusted.
    ///
    /// # Errors
    ///
    /// [`FrameError::NewerWire`] for a gauge of a newer major version.
    fn admit(&self) -> Result<(), FrameError> {
        Ok(())
    }
}

mod sealed {
    pub trait Sealed {}
    impl Sealed for crate::message::FromGauge<'_> {}
    impl Sealed for crate::message::ToGauge {}
}

impl<'a> Message<'a> for FromGauge<'a> {
    fn admit_body(body: &[u8]) -> Result<(), FrameError> {
        match version::peek(body) {
            Some(gauge) => version::agree(gauge).map_err(FrameError::NewerWire),
            None => Ok(()),
        }
    }

    fn admit(&self) -> Result<(), FrameError> {
        match version::declared(self) {
            Some(gauge) => version::agree(gauge).map_err(FrameError::NewerWire),
            None => Ok(()),
        }
    }
}

impl Message<'_> for ToGauge {}

/// Encodes a message as a whole frame, closing zero included.
///
/// # Errors
///
/// [`FrameError::TooLong`] if it does not fit `buffer`; [`MAX_FRAME`] bytes always suffice.
pub fn encode_frame<'b, M: Serialize>(
    message: &M,
    buffer: &'b mut [u8],
) -> Result<&'b [u8], FrameError> {
    stuff(encode_plain(message, &mut [0; MAX_PLAIN])?, buffer)
}

/// Puts COBS on plain bytes and closes the frame.
///
/// # Errors
///
/// [`FrameError::TooLong`] if it does not fit `buffer`.
pub fn stuff<'b>(plain: &[u8], buffer: &'b mut [u8]) -> Result<&'b [u8], FrameError> {
    let end = cobs::try_encode(plain, buffer).map_err(|_| FrameError::TooLong)?;
    *buffer.get_mut(end).ok_or(FrameError::TooLong)? = FRAME_END;
    Ok(&buffer[..=end])
}

/// Encodes a message as plain bytes: body and CRC.
///
/// # Errors
///
/// [`FrameError::TooLong`] if it does not fit `buffer`; [`MAX_PLAIN`] bytes always suffice.
pub fn encode_plain<'b, M: Serialize>(
    message: &M,
    buffer: &'b mut [u8],
) -> Result<&'b [u8], FrameError> {
    postcard::ser_flavors::crc::to_slice_u32(message, buffer, CRC_32.digest())
        .map(|plain| &*plain)
        .map_err(|_| FrameError::TooLong)
}

/// Decodes what lay between two zero bytes, in place.
///
/// # Errors
///
/// Any [`FrameError`] but `TooLong`; never panics, whatever the bytes.
pub fn decode_frame(between_zeros: &mut [u8]) -> Result<FromGauge<'_>, FrameError> {
    decode_checked(unstuff(between_zeros)?)
}

/// Decodes plain bytes (body and CRC), as a capture keeps them.
///
/// # Errors
///
/// Any [`FrameError`] but `TooLong` and `Stuffing`.
pub fn decode_checked(plain: &[u8]) -> Result<FromGauge<'_>, FrameError> {
    decode_plain(plain)
}

/// Takes COBS off in place; gives the plain bytes.
///
/// # Errors
///
/// [`FrameError::Stuffing`] if the counts do not add up or a zero is inside.
pub fn unstuff(between_zeros: &mut [u8]) -> Result<&[u8], FrameError> {
    if between_zeros.contains(&FRAME_END) {
        return Err(FrameError::Stuffing);
    }
    let length = cobs::decode_in_place(between_zeros).map_err(|_| FrameError::Stuffing)?;
    Ok(&between_zeros[..length])
}

/// Decodes plain bytes of either direction.
///
/// # Errors
///
/// Any [`FrameError`] but `TooLong` and `Stuffing`.
pub fn decode_plain<'a, M: Message<'a>>(plain: &'a [u8]) -> Result<M, FrameError> {
    let body = check(plain)?;
    let discriminant = discriminant(body).unwrap_or(u32::MAX);
    M::admit_body(body)?;
    let (message, rest) =
        postcard::take_from_bytes::<M>(body).map_err(|_| FrameError::Unknown { discriminant })?;
    message.admit()?;
    if rest.is_empty() {
        Ok(message)
    } else {
        Err(FrameError::LeftOver {
            discriminant,
            bytes: rest.len(),
        })
    }
}

/// Checks the CRC; gives the body.
///
/// # Errors
///
/// [`FrameError::TooShort`] or [`FrameError::Crc`].
pub fn check(plain: &[u8]) -> Result<&[u8], FrameError> {
    let (body, sent) = plain
        .split_last_chunk::<CRC_LEN>()
        .ok_or(FrameError::TooShort { bytes: plain.len() })?;
    if body.is_empty() {
        return Err(FrameError::TooShort { bytes: plain.len() });
    }
    let (computed, received) = (crc32(body), u32::from_le_bytes(*sent));
    if computed == received {
        Ok(body)
    } else {
        Err(FrameError::Crc { computed, received })
    }
}

/// The request number in a body whose command is not understood, so that it can still be refused by number.
#[must_use]
pub fn request_id(body: &[u8]) -> Option<u16> {
    const REQUEST: u32 = 0;
    numbered(body, REQUEST)
}

/// The request number in an answer that is not understood, so that its request need not wait for ever.
#[must_use]
pub fn answer_id(body: &[u8]) -> Option<u16> {
    const ANSWER: u32 = 5;
    numbered(body, ANSWER)
}

fn numbered(body: &[u8], kind: u32) -> Option<u16> {
    let (discriminant, rest) = postcard::take_from_bytes::<u32>(body).ok()?;
    let (id, _) = postcard::take_from_bytes::<u16>(rest).ok()?;
    (discriminant == kind).then_some(id)
}

fn discriminant(body: &[u8]) -> Option<u32> {
    postcard::take_from_bytes::<u32>(body)
        .ok()
        .map(|(discriminant, _)| discriminant)
}
