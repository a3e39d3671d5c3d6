//! Photographs for the page.
//!
//! In: a file as a camera or a phone wrote it, JPEG or PNG. Out: a JPEG that stands upright, is small enough for the page
//! and says nothing but its picture: place, time and owner of the camera are left behind. What is no such file is refused
//! with what to do. No I/O.

mod whole;

use image::codecs::jpeg::{JpegDecoder, JpegEncoder};
use image::codecs::png::PngDecoder;
use image::imageops::FilterType;
use image::{DynamicImage, ExtendedColorType, ImageDecoder, ImageError, Limits, RgbImage};
use std::fmt;
use std::io::Cursor;

/// The long side of a picture on the page, in pixels: 160 mm at 250 a inch.
pub const LONG_SIDE: u32 = 1600;
/// More pixels than any camera in a pocket has; what claims more is a mistake, or made to fill the memory.
pub const MOST_PIXELS: u64 = 120_000_000;
/// Four bytes a pixel of the largest picture, and the same again while it is put together.
const MOST_MEMORY: u64 = 8 * MOST_PIXELS;
/// Fine lines and lettering stay readable, at about 300 kB a picture; grain and gravel that take more are made coarser, step by
/// step.
const JPEG_QUALITIES: [u8; 4] = [82, 74, 65, 55];
/// Twenty photos on a paper are to go through any mailbox: 8 MB as a page, in which a byte takes four thirds.
const ENOUGH_BYTES: usize = 290_000;

/// What kind of file it is, told from its first bytes: a name says nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// JPEG.
    Jpeg,
    /// PNG.
    Png,
}

impl Format {
    /// As it is named on the net.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
        }
    }
}

/// A picture for the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// The bytes of a JPEG without metadata.
    pub jpeg: Vec<u8>,
    /// In pixels, as it stands upright.
    pub width: u32,
    /// In pixels, as it stands upright.
    pub height: u32,
}

/// Why a file gives no picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unusable {
    /// It has no bytes.
    Empty,
    /// It is of another format, if known which.
    Other(Option<&'static str>),
    /// More pixels than a page can use.
    TooManyPixels {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// It is cut short.
    CutShort,
    /// It cannot be decoded.
    Damaged(String),
}

impl Unusable {
    /// What was found.
    pub fn found(&self) -> String {
        match self {
            Self::Empty => "an empty file".to_owned(),
            Self::Other(Some(format)) => format!("a file of the format {format}"),
            Self::Other(None) => "a file that is no picture this program knows".to_owned(),
            Self::TooManyPixels { width, height } => format!("{width} × {height} pixels"),
            Self::CutShort => "a picture that is cut short".to_owned(),
            Self::Damaged(why) => format!("a damaged picture ({why})"),
        }
    }

    /// What was expected.
    pub fn expected(&self) -> String {
        match self {
            Self::TooManyPixels { .. } => format!(
                "at most {} million, as cameras and phones take them",
                MOST_PIXELS / 1_000_000
            ),
            _ => "a photo as JPEG or PNG".to_owned(),
        }
    }

    /// What to do next.
    pub fn next(&self) -> &'static str {
        match self {
            Self::Empty | Self::CutShort | Self::Damaged(_) => {
                "Copy it from the camera or phone once more; if it is the same there, take another photo."
            }
            Self::Other(Some("HEIC")) => {
                "Phones save so unless told otherwise: set the camera of the phone to JPEG (\"most compatible\"), or save \
                 this photo as JPEG there, and copy that."
            }
            Self::Other(_) => "Save it as JPEG or PNG with any picture viewer, and name that file.",
            Self::TooManyPixels { .. } => {
                "Save it smaller with any picture viewer, and name that file."
            }
        }
    }
}

impl fmt::Display for Unusable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [found, expected] = [self.found(), self.expected()];
        write!(f, "found {found}, expected {expected}. {}", self.next())
    }
}

impl std::error::Error for Unusable {}

/// Which of the two formats it is.
///
/// # Errors
/// Neither, by its first bytes.
pub fn format(bytes: &[u8]) -> Result<Format, Unusable> {
    if bytes.is_empty() {
        return Err(Unusable::Empty);
    }
    if bytes.starts_with(b"\xff\xd8\xff") {
        return Ok(Format::Jpeg);
    }
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        return Ok(Format::Png);
    }
    Err(Unusable::Other(other_format(bytes)))
}

/// Formats that come from phones, scanners and screens.
fn other_format(bytes: &[u8]) -> Option<&'static str> {
    let brand = bytes.get(4..8).filter(|four| *four == b"ftyp");
    let brand = brand.and_then(|_| bytes.get(8..12));
    match brand {
        Some(b"avif" | b"avis") => return Some("AVIF"),
        Some(b"heic" | b"heix" | b"hevc" | b"hevx" | b"heim" | b"heis" | b"mif1" | b"msf1") => {
            return Some("HEIC");
        }
        Some(_) => return Some("MP4 (a film)"),
        None => {}
    }
    let riff = bytes.strip_prefix(b"RIFF").and_then(|rest| rest.get(4..8));
    if riff == Some(b"WEBP") {
        return Some("WebP");
    }
    let starts: [(&[u8], &'static str); 9] = [
        (b"GIF8", "GIF"),
        (b"BM", "BMP"),
        (b"II*\0", "TIFF or a raw camera file"),
        (b"MM\0*", "TIFF or a raw camera file"),
        (b"\xff\x0a", "JPEG XL"),
        (b"\0\0\0\x0cJXL ", "JPEG XL"),
        (b"\0\0\0\x0cjP  ", "JPEG 2000"),
        (b"%PDF", "PDF"),
        (b"<svg", "SVG"),
    ];
    let known = starts.iter().find(|(start, _)| bytes.starts_with(start));
    known.map(|(_, name)| *name)
}

/// The picture for the page.
///
/// # Errors
/// No whole JPEG or PNG, or more pixels than a camera has.
pub fn for_page(bytes: &[u8]) -> Result<Picture, Unusable> {
    match format(bytes)? {
        Format::Jpeg => {
            // The decoder paints grey what is missing.
            whole::jpeg(bytes)?;
            upright(JpegDecoder::new(Cursor::new(bytes)).map_err(damaged)?)
        }
        Format::Png => upright(PngDecoder::new(Cursor::new(bytes)).map_err(damaged)?),
    }
}

fn upright(mut decoder: impl ImageDecoder) -> Result<Picture, Unusable> {
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(Unusable::TooManyPixels { width, height });
    }
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_MEMORY);
    decoder.set_limits(limits).map_err(damaged)?;
    // Tags that cannot be read turn nothing.
    let orientation = decoder.orientation().ok();
    let full = DynamicImage::from_decoder(decoder).map_err(damaged)?;
    let mut picture = DynamicImage::ImageRgb8(smaller(on_white(full)));
    if let Some(orientation) = orientation {
        picture.apply_orientation(orientation);
    }
    encoded(&picture.into_rgb8())
}

/// What shines through is paper.
fn on_white(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let picture = picture.into_rgba8();
    RgbImage::from_fn(picture.width(), picture.height(), |x, y| {
        let [red, green, blue, alpha] = picture.get_pixel(x, y).0;
        let over = |part: u8| {
            let (part, alpha) = (u16::from(part), u16::from(alpha));
            // At most 255 × 255 / 255.
            u8::try_from((part * alpha + 255 * (255 - alpha)) / 255).unwrap_or(u8::MAX)
        };
        image::Rgb([over(red), over(green), over(blue)])
    })
}

fn smaller(picture: RgbImage) -> RgbImage {
    let (width, height) = picture.dimensions();
    let long = width.max(height);
    if long <= LONG_SIDE {
        return picture;
    }
    let scaled = |side: u32| {
        let side = (u64::from(side) * u64::from(LONG_SIDE) + u64::from(long) / 2) / u64::from(long);
        u32::try_from(side).unwrap_or(LONG_SIDE).max(1)
    };
    image::imageops::resize(
        &picture,
        scaled(width),
        scaled(height),
        FilterType::Triangle,
    )
}

fn encoded(picture: &RgbImage) -> Result<Picture, Unusable> {
    let (width, height) = picture.dimensions();
    let mut jpeg = Vec::new();
    for quality in JPEG_QUALITIES {
        jpeg.clear();
        JpegEncoder::new_with_quality(&mut jpeg, quality)
            .encode(picture.as_raw(), width, height, ExtendedColorType::Rgb8)
            .map_err(damaged)?;
        if jpeg.len() <= ENOUGH_BYTES {
            break;
        }
    }
    Ok(Picture {
        jpeg,
        width,
        height,
    })
}

#[allow(clippy::needless_pass_by_value, reason = "as map_err hands it over")]
fn damaged(error: ImageError) -> Unusable {
    match error {
        ImageError::IoError(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            Unusable::CutShort
        }
        other => Unusable::Damaged(other.to_string()),
    }
}
