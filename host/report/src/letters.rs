//! The font of the paper and how wide its words are.
//!
//! In: text. Out: its glyphs with their places, in parts of the size. Both the PDF and the labels of every picture are
//! measured here, so that what is decided by measure comes out alike in both outputs.

use rustybuzz::ttf_parser::Tag;
use rustybuzz::{Direction, Face, Feature, ShapePlan, UnicodeBuffer, Variation, script};
use std::cell::RefCell;
use std::collections::HashMap;
use std::ops::Range;
use std::sync::OnceLock;

/// Source Sans 3 with its weights in one file; its licence lies beside it.
pub(crate) const FONT: &[u8] = include_bytes!("../fonts/SourceSans3.ttf");
/// The axis of the weights.
pub(crate) const WEIGHT_AXIS: &[u8; 4] = b"wght";

/// How heavy a text is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Weight {
    #[default]
    Regular,
    Semibold,
    Bold,
}

impl Weight {
    pub(crate) const ALL: [Self; 3] = [Self::Regular, Self::Semibold, Self::Bold];

    /// On the axis of the font.
    pub(crate) fn on_axis(self) -> f32 {
        match self {
            Self::Regular => 400.0,
            Self::Semibold => 600.0,
            Self::Bold => 700.0,
        }
    }
}

/// A sign with its place, in parts of the size.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Sign {
    pub glyph: u32,
    /// The letters it stands for.
    pub letters: Range<usize>,
    pub advance: f32,
    pub x: f32,
    pub y: f32,
}

struct Cut {
    face: Face<'static>,
    plan: ShapePlan,
    per_em: f32,
}

impl Cut {
    /// Figures of one width; no joined letters, which a search would not find.
    fn of(weight: Weight) -> Option<Self> {
        let mut face = Face::from_slice(FONT, 0)?;
        face.set_variations(&[Variation {
            tag: Tag::from_bytes(WEIGHT_AXIS),
            value: weight.on_axis(),
        }]);
        let feature = |name, value| Feature::new(Tag::from_bytes(name), value, ..);
        let features = [feature(b"tnum", 1), feature(b"liga", 0)];
        let plan = ShapePlan::new(
            &face,
            Direction::LeftToRight,
            Some(script::LATIN),
            None,
            &features,
        );
        #[expect(clippy::cast_precision_loss, reason = "some thousand")]
        let per_em = face.units_per_em() as f32;
        Some(Self { face, plan, per_em })
    }

    fn shape(&self, text: &str) -> Vec<Sign> {
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.set_direction(Direction::LeftToRight);
        buffer.set_script(script::LATIN);
        let shaped = rustybuzz::shape_with_plan(&self.face, &self.plan, buffer);
        let (infos, places) = (shaped.glyph_infos(), shaped.glyph_positions());
        let starts: Vec<usize> = infos.iter().map(|info| info.cluster as usize).collect();
        #[expect(clippy::cast_precision_loss, reason = "some thousand")]
        let em = |units: i32| units as f32 / self.per_em;
        infos
            .iter()
            .zip(places)
            .map(|(info, place)| {
                let start = info.cluster as usize;
                let after = starts.iter().copied().filter(|other| *other > start).min();
                Sign {
                    glyph: info.glyph_id,
                    letters: start..after.unwrap_or(text.len()),
                    advance: em(place.x_advance),
                    x: em(place.x_offset),
                    y: em(place.y_offset),
                }
            })
            .collect()
    }
}

fn cut(weight: Weight) -> &'static Cut {
    static CUTS: OnceLock<HashMap<Weight, Cut>> = OnceLock::new();
    let cuts = CUTS.get_or_init(|| {
        let each = Weight::ALL.map(|weight| Some((weight, Cut::of(weight)?)));
        each.into_iter().flatten().collect()
    });
    &cuts[&weight]
}

/// The signs of a text, as it is drawn.
pub(crate) fn shape(text: &str, weight: Weight) -> Vec<Sign> {
    cut(weight).shape(text)
}

/// How wide a text is at a size. A paper is laid out time after time until its first page fits, and its words come again on every
/// page, so each is measured once.
pub(crate) fn width(text: &str, weight: Weight, size: f32) -> f32 {
    thread_local! {
        static MEASURED: RefCell<[HashMap<String, f32>; 3]> = RefCell::default();
    }
    MEASURED.with_borrow_mut(|measured| {
        let of_weight = &mut measured[weight as usize];
        if let Some(em) = of_weight.get(text) {
            return em * size;
        }
        let em: f32 = shape(text, weight).iter().map(|sign| sign.advance).sum();
        of_weight.insert(text.to_owned(), em);
        em * size
    })
}

/// The text with signs that the font has; another one is shown by its number.
pub(crate) fn printable(text: &str) -> String {
    let face = &cut(Weight::Regular).face;
    let mut printed = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '\u{a0}' | '\u{202f}' | '\u{2011}' | ' ' => printed.push(match letter {
                '\u{202f}' => '\u{a0}',
                '\u{2011}' => '-',
                other => other,
            }),
            _ if face.glyph_index(letter).is_some_and(|glyph| glyph.0 != 0) => printed.push(letter),
            _ => printed.extend(letter.escape_unicode()),
        }
    }
    printed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_font_has_every_sign_the_paper_uses() {
        let used = "µμ°±−×–—…→≥≤∞'\"“”’ÄÖÜäöüßéèçñøåŁžőşğ½²³%·|/@&€£$";
        assert_eq!(printable(used), used);
        assert_eq!(printable("中"), "\\u{4e2d}");
        assert_eq!(printable("a\u{308}"), "a\u{308}");
    }

    #[test]
    fn figures_are_of_one_width_and_weights_differ() {
        let width = |text, weight| width(text, weight, 10.0);
        let one = width("1111", Weight::Regular);
        assert!((one - width("8888", Weight::Regular)).abs() < 1e-3);
        assert!(width("hamburg", Weight::Bold) > width("hamburg", Weight::Regular));
        let joined = shape("fi", Weight::Regular);
        assert_eq!(joined.len(), 2);
    }
}
