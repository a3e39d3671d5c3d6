//! The paper as a PDF: PDF/A-2a and PDF/UA-1, checked as it is written.
//!
//! In: the document model and the sheet. Out: the bytes of the file, the same for the same document. Text can be searched
//! and read aloud, headings are bookmarks, heads of tables stand on every page, and the foot says which page it is.

pub(crate) mod layout;
pub(crate) mod lines;

use crate::letters::{FONT, WEIGHT_AXIS, Weight, shape, width};
use crate::paper::{Block, Paper};
use crate::picture::{Anchor, Pen, Picture, SOFT, Shape, Step};
use krilla::color::luma;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Size, Transform};
use krilla::image::Image;
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Identifier, TagGroup, TagTree};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Data, Document, SerializeSettings};
use layout::{Laid, Mark, Node, What};
use lines::Run;
use std::collections::HashMap;

/// The sheet of a printer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sheet {
    /// 210 × 297 mm.
    #[default]
    A4,
    /// 8½ × 11 in.
    Letter,
}

/// The text is 176 mm wide on either sheet.
const TEXT: f32 = 498.9;
const TOP: f32 = 34.0;
const BOTTOM: f32 = 44.0;

impl Sheet {
    fn size(self) -> (f32, f32) {
        match self {
            Self::A4 => (595.276, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }

    fn left(self) -> f32 {
        0.5 * (self.size().0 - TEXT)
    }

    fn text_height(self) -> f32 {
        self.size().1 - TOP - BOTTOM
    }
}

/// Why there is no PDF.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// A photo that is no JPEG, or a broken one.
    #[error("the photo \"{0}\" cannot be read as JPEG")]
    Photo(String),
    /// What the writer found wrong with it.
    #[error("no PDF could be made ({0})")]
    Writer(String),
}

/// Whether a file that begins like this is a PDF of this program.
pub fn is_pdf(bytes: &[u8]) -> bool {
    const MADE_BY: &[u8] = b"holdtrue ";
    bytes.starts_with(b"%PDF-") && bytes.windows(MADE_BY.len()).any(|part| part == MADE_BY)
}

/// How many pages blocks take.
pub(crate) fn pages(blocks: &[Block], sheet: Sheet) -> usize {
    Laid::of(blocks, TEXT, sheet.text_height()).pages().len()
}

/// The file.
///
/// # Errors
/// A photo that cannot be read, or what the standard forbids.
pub(crate) fn file(paper: &Paper, sheet: Sheet) -> Result<Vec<u8>, PdfError> {
    let wrong = |error: &dyn std::fmt::Debug| PdfError::Writer(format!("{error:?}"));
    let configuration = ConfigurationBuilder::new()
        .with_archival_validator(Archival::A2_A)
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|error| wrong(&error))?;
    let mut document = Document::new_with(SerializeSettings {
        configuration,
        ..SerializeSettings::default()
    });
    let laid = Laid::of(&paper.blocks, TEXT, sheet.text_height());
    let pages = laid.pages();
    let images = images(&laid)?;
    let mut pen = Drawing::new(images).ok_or_else(|| PdfError::Writer("no font".to_owned()))?;
    let (wide, high) = sheet.size();
    let mut bookmarks = Vec::new();
    for (number, placed) in pages.iter().enumerate() {
        let settings = PageSettings::from_wh(wide, high);
        let mut page = document.start_page_with(settings.ok_or_else(|| wrong(&"no page"))?);
        let mut surface = page.surface();
        for each in placed {
            if let Some((level, words)) = &each.piece.bookmark {
                let at = Point::from_xy(sheet.left(), TOP + each.y);
                bookmarks.push((*level, words.clone(), XyzDestination::new(number, at)));
            }
            pen.piece(&mut surface, &each.piece.marks, sheet.left(), TOP + each.y);
        }
        pen.foot(&mut surface, paper, sheet, number + 1, pages.len());
        surface.finish();
        page.finish();
    }
    document.set_outline(outline(bookmarks));
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    for node in &laid.nodes {
        if let Some(group) = pen.group(node) {
            tree.push(group);
        }
    }
    document.set_tag_tree(tree);
    document.set_metadata(metadata(paper));
    document.finish().map_err(|error| wrong(&error))
}

fn metadata(paper: &Paper) -> Metadata {
    Metadata::new()
        .title(paper.title.clone())
        .language("en".to_owned())
        .creator(paper.program.clone())
        .producer(paper.program.clone())
        .document_id(paper.code.clone().unwrap_or_else(|| paper.title.clone()))
        .creation_date(date(paper.made.as_deref().unwrap_or_default()))
}

/// As much of a time as is known; of one that is not, the year PDF began.
fn date(at: &str) -> DateTime {
    const BEGAN: u16 = 1993;
    let part = |from: usize, to: usize| at.get(from..to).and_then(|part| part.parse::<u8>().ok());
    let year = at.get(..4).and_then(|year| year.parse().ok());
    let mut date = DateTime::new(year.unwrap_or(BEGAN));
    let Some(month) = part(5, 7) else { return date };
    date = date.month(month);
    let Some(day) = part(8, 10) else { return date };
    date = date.day(day);
    let (Some(hour), Some(minute), Some(second)) = (part(11, 13), part(14, 16), part(17, 19))
    else {
        return date;
    };
    date = date.hour(hour).minute(minute).second(second);
    let zone = at.get(19..).unwrap_or_default();
    let zone = zone.find(['+', '-']).and_then(|from| zone.get(from..));
    let part =
        |from: usize, to: usize| zone.and_then(|zone| zone.get(from..to)?.parse::<u8>().ok());
    let (Some(hours), Some(minutes)) = (part(1, 3), part(4, 6)) else {
        return date.utc_offset_hour(0).utc_offset_minute(0);
    };
    #[expect(clippy::cast_possible_wrap, reason = "under 24")]
    let hours = hours as i8;
    let west = zone.is_some_and(|zone| zone.starts_with('-'));
    date.utc_offset_hour(if west { -hours } else { hours })
        .utc_offset_minute(minutes)
}

/// Headings under headings; where the paper is of several spindles, those of each under its name.
fn outline(bookmarks: Vec<(u8, String, XyzDestination)>) -> Outline {
    let names = bookmarks.iter().filter(|(level, ..)| *level == 1).count();
    let top = if names > 1 { 1 } else { 2 };
    let mut outline = Outline::new();
    // Each open under the one before it.
    let mut open: Vec<(u8, OutlineNode)> = Vec::new();
    let mut close = |open: &mut Vec<(u8, OutlineNode)>, level: u8| {
        while open.last().is_some_and(|(above, _)| *above >= level) {
            let done = open.pop().map(|(_, node)| node);
            match (open.last_mut(), done) {
                (Some((_, above)), Some(done)) => above.push_child(done),
                (None, Some(done)) => outline.push_child(done),
                (_, None) => {}
            }
        }
    };
    for (level, words, place) in bookmarks {
        let level = level.max(top);
        close(&mut open, level);
        open.push((level, OutlineNode::new(words, place)));
    }
    close(&mut open, 0);
    outline
}

/// What draws, with its fonts, and which content belongs to which leaf.
struct Drawing {
    fonts: HashMap<Weight, Font>,
    content: HashMap<usize, Vec<Identifier>>,
    /// By the leaf that shows them.
    images: HashMap<usize, Image>,
}

/// Every photo read, before anything is drawn.
fn images(laid: &Laid) -> Result<HashMap<usize, Image>, PdfError> {
    let marks = laid.pieces.iter().flat_map(|piece| &piece.marks);
    let photos = marks.filter_map(|mark| match &mark.what {
        What::Photo { photo, .. } => Some((mark.leaf?, photo)),
        _ => None,
    });
    let read = photos.map(|(leaf, photo)| {
        let image = Image::from_jpeg(photo.jpeg.clone().into(), false);
        Ok((
            leaf,
            image.map_err(|_| PdfError::Photo(photo.caption.clone()))?,
        ))
    });
    read.collect()
}

impl Drawing {
    fn new(images: HashMap<usize, Image>) -> Option<Self> {
        let font = |weight: Weight| {
            let axis = (krilla::text::Tag::new(WEIGHT_AXIS), weight.on_axis());
            Some((weight, Font::new_variable(Data::from(FONT), 0, &[axis])?))
        };
        let fonts: Option<HashMap<_, _>> = Weight::ALL.into_iter().map(font).collect();
        Some(Self {
            fonts: fonts?,
            content: HashMap::new(),
            images,
        })
    }

    fn piece(&mut self, surface: &mut Surface<'_>, marks: &[Mark], x: f32, y: f32) {
        for together in marks.chunk_by(|one, other| one.leaf == other.leaf) {
            let tag = match together[0].leaf {
                Some(_) => ContentTag::Other,
                None => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
            };
            let identifier = surface.start_tagged(tag);
            if let Some(leaf) = together[0].leaf {
                self.content.entry(leaf).or_default().push(identifier);
            }
            for mark in together {
                self.mark(surface, mark, x, y);
            }
            surface.end_tagged();
        }
    }

    fn mark(&self, surface: &mut Surface<'_>, mark: &Mark, x: f32, y: f32) {
        let at = (x + mark.x, y + mark.y);
        match &mark.what {
            What::Run(run) => self.run(surface, run, at),
            What::Rule { to, width, grey } => {
                let steps = [
                    Step::Move(at.0.into(), at.1.into()),
                    Step::Line((x + to.0).into(), (y + to.1).into()),
                ];
                path(surface, &steps, Pen::line((*width).into(), *grey));
            }
            What::Picture { scale, picture } => {
                surface.push_transform(&Transform::from_row(*scale, 0.0, 0.0, *scale, at.0, at.1));
                self.picture(surface, picture);
                surface.pop();
            }
            What::Photo { width, height, .. } => {
                let image = mark.leaf.and_then(|leaf| self.images.get(&leaf));
                if let (Some(image), Some(size)) = (image, Size::from_wh(*width, *height)) {
                    surface.push_transform(&Transform::from_translate(at.0, at.1));
                    surface.draw_image(image.clone(), size);
                    surface.pop();
                }
            }
        }
    }

    fn run(&self, surface: &mut Surface<'_>, run: &Run, at: (f32, f32)) {
        let glyphs: Vec<KrillaGlyph> = shape(&run.text, run.weight)
            .into_iter()
            .map(|sign| {
                let glyph = GlyphId::new(sign.glyph);
                KrillaGlyph::new(glyph, sign.advance, sign.x, sign.y, 0.0, sign.letters, None)
            })
            .collect();
        surface.set_stroke(None);
        surface.set_fill(Some(fill(run.grey)));
        let font = self.fonts[&run.weight].clone();
        let at = Point::from_xy(at.0, at.1);
        surface.draw_glyphs(at, &glyphs, font, &run.text, run.size, false);
    }

    fn picture(&self, surface: &mut Surface<'_>, picture: &Picture) {
        for shape in &picture.shapes {
            match shape {
                Shape::Path(steps, pen) => path(surface, steps, *pen),
                Shape::Ring { x, y, r, pen } => ring(surface, (*x, *y), *r, *pen),
                Shape::Label(label) => {
                    let run = layout::label_run(label);
                    let wide = width(&run.text, run.weight, run.size);
                    #[expect(clippy::cast_possible_truncation, reason = "points on a page")]
                    let (x, y) = (label.x as f32, label.y as f32);
                    let x = match label.anchor {
                        Anchor::Start => x,
                        Anchor::Middle => x - 0.5 * wide,
                        Anchor::End => x - wide,
                    };
                    self.run(surface, &run, (x, y));
                }
            }
        }
    }

    /// Check code, what it is of, which page.
    fn foot(&self, surface: &mut Surface<'_>, paper: &Paper, sheet: Sheet, page: usize, of: usize) {
        let run = |text: String| Run {
            x: 0.0,
            text: crate::letters::printable(&holdtrue_wording::shown(&text)),
            weight: Weight::Regular,
            size: 7.8,
            grey: SOFT - 32,
        };
        let wide = |run: &Run| width(&run.text, run.weight, run.size);
        let (left, y) = (sheet.left(), sheet.size().1 - 26.0);
        let footer = Artifact::with_kind(ArtifactType::Footer);
        surface.start_tagged(ContentTag::Artifact(footer));
        let number = run(format!("page {page} of {of}"));
        let number_wide = wide(&number);
        self.run(surface, &number, (left + TEXT - number_wide, y));
        let mut from = left;
        if let Some(code) = &paper.code {
            let code = run(holdtrue_wording::paper::check_code(code));
            from += wide(&code) + 12.0;
            self.run(surface, &code, (left, y));
        }
        let room = left + TEXT - number_wide - 12.0 - from;
        let mut of = run(paper.of.clone());
        let mut kept: Vec<char> = paper.of.chars().collect();
        while wide(&of) > room && kept.pop().is_some() {
            let shorter: String = kept.iter().collect();
            of = run(format!("{}…", shorter.trim_end()));
        }
        let own = wide(&of);
        let middle = left + 0.5 * (TEXT - own);
        self.run(
            surface,
            &of,
            (middle.clamp(from, from + (room - own).max(0.0)), y),
        );
        surface.end_tagged();
    }

    fn group(&self, node: &Node) -> Option<krilla::tagging::Node> {
        match node {
            Node::Leaf(_) => None,
            Node::Group(tag, inside) => {
                let mut group = TagGroup::new(tag.clone());
                for node in inside {
                    match node {
                        Node::Leaf(leaf) => {
                            let content = self.content.get(leaf).into_iter().flatten();
                            content.for_each(|content| group.push(*content));
                        }
                        Node::Group(..) => {
                            if let Some(inside) = self.group(node) {
                                group.push(inside);
                            }
                        }
                    }
                }
                Some(group.into())
            }
        }
    }
}

fn fill(grey: u8) -> Fill {
    Fill {
        paint: luma::Color::new(grey).into(),
        opacity: NormalizedF32::ONE,
        rule: FillRule::NonZero,
    }
}

#[expect(clippy::cast_possible_truncation, reason = "points on a page")]
fn set(surface: &mut Surface<'_>, pen: Pen) {
    surface.set_fill(pen.fill.map(fill));
    surface.set_stroke(pen.line.map(|(width, grey)| Stroke {
        paint: luma::Color::new(grey).into(),
        width: width as f32,
        dash: (!pen.dash.is_empty()).then(|| StrokeDash {
            array: pen.dash.iter().map(|length| *length as f32).collect(),
            offset: 0.0,
        }),
        ..Stroke::default()
    }));
}

#[expect(clippy::cast_possible_truncation, reason = "points on a page")]
fn path(surface: &mut Surface<'_>, steps: &[Step], pen: Pen) {
    let mut builder = PathBuilder::new();
    for step in steps {
        match *step {
            Step::Move(x, y) => builder.move_to(x as f32, y as f32),
            Step::Line(x, y) => builder.line_to(x as f32, y as f32),
            Step::Close => builder.close(),
        }
    }
    if let Some(path) = builder.finish() {
        set(surface, pen);
        surface.draw_path(&path);
    }
}

/// Four curves, nearer to a circle than a printer is.
#[expect(clippy::cast_possible_truncation, reason = "points on a page")]
fn ring(surface: &mut Surface<'_>, (x, y): (f64, f64), r: f64, pen: Pen) {
    const BEND: f32 = 0.552_285;
    let (x, y, r) = (x as f32, y as f32, r as f32);
    let bend = BEND * r;
    let mut builder = PathBuilder::new();
    builder.move_to(x + r, y);
    builder.cubic_to(x + r, y + bend, x + bend, y + r, x, y + r);
    builder.cubic_to(x - bend, y + r, x - r, y + bend, x - r, y);
    builder.cubic_to(x - r, y - bend, x - bend, y - r, x, y - r);
    builder.cubic_to(x + bend, y - r, x + r, y - bend, x + r, y);
    builder.close();
    if let Some(path) = builder.finish() {
        set(surface, pen);
        surface.draw_path(&path);
    }
}
