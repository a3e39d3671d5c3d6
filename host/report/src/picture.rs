//! A picture: lines, rings and labels, the same for both outputs.
//!
//! In: shapes in points. Out: an SVG that stands by itself, with its title and description; the PDF draws the very same
//! shapes. A label knows its box, so that none lies on another.

use crate::letters::{Weight, width};
use crate::scale::px;
use maud::{Markup, PreEscaped, html};

/// Black, and the greys beside it: fills only, but for grid lines.
pub(crate) const INK: u8 = 0;
pub(crate) const SOFT: u8 = 96;
pub(crate) const HAIR: u8 = 190;
pub(crate) const BAND: u8 = 222;
pub(crate) const WHITE: u8 = 255;
/// The size of labels.
pub(crate) const LABEL: f64 = 8.0;
/// A browser without the font of the paper sets labels wider, by up to this.
const ROOM: f64 = 1.13;

/// A picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Picture {
    pub width: f64,
    pub height: f64,
    pub title: String,
    pub description: String,
    pub shapes: Vec<Shape>,
}

/// What is drawn, in the order it is drawn.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Shape {
    Path(Vec<Step>, Pen),
    Ring { x: f64, y: f64, r: f64, pen: Pen },
    Label(Label),
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Step {
    Move(f64, f64),
    Line(f64, f64),
    Close,
}

/// How a shape is drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Pen {
    /// Width and grey of the line.
    pub line: Option<(f64, u8)>,
    pub dash: &'static [f64],
    pub fill: Option<u8>,
}

impl Pen {
    pub(crate) const fn line(width: f64, grey: u8) -> Self {
        Self {
            line: Some((width, grey)),
            dash: &[],
            fill: None,
        }
    }

    pub(crate) const fn fill(grey: u8) -> Self {
        Self {
            line: None,
            dash: &[],
            fill: Some(grey),
        }
    }

    pub(crate) const fn filled(mut self, grey: u8) -> Self {
        self.fill = Some(grey);
        self
    }

    pub(crate) const fn dashed(mut self, dash: &'static [f64]) -> Self {
        self.dash = dash;
        self
    }
}

/// Which end of a label stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// Words in a picture.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Label {
    pub x: f64,
    /// Of the line the letters stand on.
    pub y: f64,
    pub size: f64,
    pub anchor: Anchor,
    pub strong: bool,
    /// It lies over lines, on white of its own.
    pub on_white: bool,
    pub text: String,
}

impl Label {
    pub(crate) fn new(x: f64, y: f64, text: impl Into<String>) -> Self {
        Self {
            x,
            y,
            size: LABEL,
            anchor: Anchor::Start,
            strong: false,
            on_white: false,
            text: text.into(),
        }
    }

    pub(crate) fn middle(mut self) -> Self {
        self.anchor = Anchor::Middle;
        self
    }

    pub(crate) fn end(mut self) -> Self {
        self.anchor = Anchor::End;
        self
    }

    pub(crate) fn strong(mut self) -> Self {
        self.strong = true;
        self
    }

    pub(crate) fn on_white(mut self) -> Self {
        self.on_white = true;
        self
    }

    pub(crate) fn size(mut self, size: f64) -> Self {
        self.size = size;
        self
    }

    pub(crate) fn weight(&self) -> Weight {
        if self.strong {
            Weight::Semibold
        } else {
            Weight::Regular
        }
    }

    /// With room for a wider font.
    pub(crate) fn width(&self) -> f64 {
        #[expect(clippy::cast_possible_truncation, reason = "a size in points")]
        let size = self.size as f32;
        f64::from(width(&self.text, self.weight(), size)) * ROOM
    }

    /// Left, top, right, bottom.
    pub(crate) fn bounds(&self) -> [f64; 4] {
        let width = self.width();
        let left = match self.anchor {
            Anchor::Start => self.x,
            Anchor::Middle => self.x - 0.5 * width,
            Anchor::End => self.x - width,
        };
        [
            left,
            self.y - 0.74 * self.size,
            left + width,
            self.y + 0.22 * self.size,
        ]
    }

    /// Moved sideways until it lies between these.
    pub(crate) fn within(mut self, from: f64, to: f64) -> Self {
        let [left, _, right, _] = self.bounds();
        if right > to {
            self.x -= right - to;
        }
        let [left_now, ..] = self.bounds();
        if left_now < from {
            self.x += from - left_now.min(left);
        }
        self
    }
}

/// Whether two boxes share any place.
pub(crate) fn touch(one: [f64; 4], other: [f64; 4]) -> bool {
    one[0] < other[2] && other[0] < one[2] && one[1] < other[3] && other[1] < one[3]
}

impl Picture {
    pub(crate) fn new(width: f64, height: f64) -> Self {
        Self {
            width,
            height,
            ..Self::default()
        }
    }

    pub(crate) fn path(&mut self, points: impl IntoIterator<Item = (f64, f64)>, pen: Pen) {
        let steps = polyline(points);
        if steps.len() > 1 {
            self.shapes.push(Shape::Path(steps, pen));
        }
    }

    pub(crate) fn area(&mut self, points: impl IntoIterator<Item = (f64, f64)>, pen: Pen) {
        let mut steps = polyline(points);
        if steps.len() > 2 {
            steps.push(Step::Close);
            self.shapes.push(Shape::Path(steps, pen));
        }
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), pen: Pen) {
        self.path([from, to], pen);
    }

    /// Left, top, right, bottom.
    pub(crate) fn block(&mut self, [left, top, right, bottom]: [f64; 4], pen: Pen) {
        let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
        self.area(corners, pen);
    }

    pub(crate) fn ring(&mut self, (x, y): (f64, f64), r: f64, pen: Pen) {
        self.shapes.push(Shape::Ring { x, y, r, pen });
    }

    pub(crate) fn label(&mut self, label: Label) {
        if label.on_white {
            let [left, top, right, bottom] = label.bounds();
            self.block(
                [left - 1.5, top - 0.5, right + 1.5, bottom + 0.5],
                Pen::fill(WHITE),
            );
        }
        self.shapes.push(Shape::Label(label));
    }

    /// The label, unless one is there already.
    pub(crate) fn label_if_free(&mut self, label: Label) -> bool {
        let free = !self
            .labels()
            .any(|other| touch(other.bounds(), label.bounds()));
        if free {
            self.label(label);
        }
        free
    }

    pub(crate) fn labels(&self) -> impl Iterator<Item = &Label> {
        self.shapes.iter().filter_map(|shape| match shape {
            Shape::Label(label) => Some(label),
            _ => None,
        })
    }

    /// Strokes at 45° over an upright box: what is not allowed. Never a fill, which a copier would lose.
    pub(crate) fn hatch(&mut self, [left, top, right, bottom]: [f64; 4]) {
        const STEP: f64 = 4.5;
        let (width, height) = (right - left, bottom - top);
        let mut steps = Vec::new();
        let mut along = STEP / 2.0;
        while along < width + height {
            let from = (left + along.min(width), top + (along - width).max(0.0));
            let to = (left + (along - height).max(0.0), top + along.min(height));
            steps.extend([Step::Move(from.0, from.1), Step::Line(to.0, to.1)]);
            along += STEP;
        }
        if !steps.is_empty() && width > 0.0 && height > 0.0 {
            self.shapes.push(Shape::Path(steps, Pen::line(0.6, INK)));
        }
    }

    /// As an SVG; `number` makes its ids its own on a page.
    pub(crate) fn svg(&self, number: usize) -> Markup {
        let (title, description) = (format!("t{number}"), format!("d{number}"));
        let style = format!("width:{}pt", px(self.width));
        html! {
            svg viewBox={ "0 0 " (px(self.width)) " " (px(self.height)) } style=(style)
                role="img" aria-labelledby={ (title) " " (description) } {
                title id=(title) { (self.title) }
                desc id=(description) { (self.description) }
                @for shape in &self.shapes { (drawn(shape)) }
            }
        }
    }
}

fn polyline(points: impl IntoIterator<Item = (f64, f64)>) -> Vec<Step> {
    let mut steps = Vec::new();
    for (x, y) in points {
        steps.push(if steps.is_empty() {
            Step::Move(x, y)
        } else {
            Step::Line(x, y)
        });
    }
    steps
}

fn drawn(shape: &Shape) -> Markup {
    match shape {
        Shape::Path(steps, pen) => {
            let mut d = String::new();
            for step in steps {
                match step {
                    Step::Move(x, y) => d.push_str(&format!("M{} {}", px(*x), px(*y))),
                    Step::Line(x, y) => d.push_str(&format!("L{} {}", px(*x), px(*y))),
                    Step::Close => d.push('Z'),
                }
            }
            PreEscaped(format!("<path d=\"{d}\"{}/>", look(*pen)))
        }
        Shape::Ring { x, y, r, pen } => {
            let (x, y, r) = (px(*x), px(*y), px(*r));
            PreEscaped(format!(
                "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"{}/>",
                look(*pen)
            ))
        }
        Shape::Label(label) => {
            let anchor = match label.anchor {
                Anchor::Start => None,
                Anchor::Middle => Some("middle"),
                Anchor::End => Some("end"),
            };
            let weight = label.strong.then_some("600");
            html! {
                text x=(px(label.x)) y=(px(label.y)) font-size=(px(label.size)) text-anchor=[anchor] font-weight=[weight] {
                    (label.text)
                }
            }
        }
    }
}

/// Nothing but numbers, so nothing to escape.
fn look(pen: Pen) -> String {
    let mut look = match pen.fill {
        Some(grey) => format!(" fill=\"{}\"", tone(grey)),
        None => " fill=\"none\"".to_owned(),
    };
    if let Some((width, grey)) = pen.line {
        look.push_str(&format!(
            " stroke=\"{}\" stroke-width=\"{width}\"",
            tone(grey)
        ));
    }
    if !pen.dash.is_empty() {
        let dash: Vec<String> = pen.dash.iter().map(f64::to_string).collect();
        look.push_str(&format!(" stroke-dasharray=\"{}\"", dash.join(" ")));
    }
    look
}

fn tone(grey: u8) -> String {
    format!("#{grey:02x}{grey:02x}{grey:02x}")
}
