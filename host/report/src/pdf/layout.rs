//! Blocks to pieces with a height, and pieces to pages.
//!
//! In: the document model and the width of the text. Out: marks at their places on each page, and the tree of what they
//! mean, for readers that do not see.

use crate::document::Photo;
use crate::letters::Weight;
use crate::paper::{Block, Cell, Kind, Row, Table, Text};
use crate::pdf::lines::{Line, Run, Style, lines, spread};
use crate::picture::{HAIR, INK, Label, Picture, SOFT};
use krilla::tagging::{ListNumbering, TableHeaderScope, Tag, TagKind};
use std::num::NonZeroU16;
use std::rc::Rc;

/// Something drawn. `leaf` is what it belongs to; without one it is decoration.
#[derive(Clone, Debug)]
pub(crate) struct Mark {
    pub leaf: Option<usize>,
    pub x: f32,
    pub y: f32,
    pub what: What,
}

#[derive(Clone, Debug)]
pub(crate) enum What {
    Run(Run),
    /// To a place, with a width and a grey.
    Rule {
        to: (f32, f32),
        width: f32,
        grey: u8,
    },
    Picture {
        scale: f32,
        picture: Rc<Picture>,
    },
    Photo {
        width: f32,
        height: f32,
        photo: Rc<Photo>,
    },
}

/// What is never divided by the end of a page.
#[derive(Clone, Debug, Default)]
pub(crate) struct Piece {
    /// Above it, but at the top of a page.
    pub before: f32,
    pub height: f32,
    pub marks: Vec<Mark>,
    /// Not the last on a page.
    pub with_next: bool,
    /// Begins a page.
    pub on_new_page: bool,
    /// The head of its table, for the page it comes onto.
    pub head: Option<usize>,
    /// A bookmark.
    pub bookmark: Option<(u8, String)>,
}

/// What marks mean.
#[derive(Clone, Debug)]
pub(crate) enum Node {
    Group(TagKind, Vec<Node>),
    Leaf(usize),
}

/// Everything laid out, before it is divided into pages.
#[derive(Debug, Default)]
pub(crate) struct Laid {
    pub pieces: Vec<Piece>,
    pub heads: Vec<Piece>,
    pub nodes: Vec<Node>,
    leaves: usize,
    break_next: bool,
    page: f32,
}

/// A piece at its place on a page.
#[derive(Debug)]
pub(crate) struct Placed {
    pub y: f32,
    pub piece: Piece,
}

/// 80 mm.
const HIGHEST_PHOTO: f32 = 227.0;
/// 60 by 17 mm.
const LOGO: (f32, f32) = (170.0, 48.2);
const CELL_GAP: f32 = 7.0;
const BESIDE_GAP: f32 = 11.34;
const CELLS: Style = Style::of(9.0, 11.6);
const HEADS: Style = Style::of(7.8, 9.6).grey(64);
const REMARKS: Style = Style::of(7.8, 9.6).grey(64);

/// How a paragraph looks, the room above it and under it.
fn look(kind: Kind) -> (Style, f32, f32) {
    match kind {
        Kind::Body => (Style::of(9.6, 13.0), 0.0, 3.4),
        Kind::Caution => (Style::of(8.4, 11.0).weight(Weight::Semibold), 0.0, 4.0),
        Kind::Answer => (Style::of(15.0, 19.0).weight(Weight::Semibold), 7.0, 4.0),
        Kind::Large => {
            let mut style = Style::of(23.0, 26.0);
            style.strong = Weight::Bold;
            style.soft = (0.52, INK);
            (style, 0.0, 1.0)
        }
        Kind::Word => (Style::of(12.5, 15.0).weight(Weight::Bold), 0.0, 1.0),
        Kind::Label => (Style::of(9.6, 12.4).weight(Weight::Semibold), 0.0, 1.0),
        Kind::Flag => (Style::of(9.6, 13.0).weight(Weight::Semibold), 1.0, 4.0),
        Kind::Note => (Style::of(8.4, 11.4).grey(64), 0.0, 3.4),
        Kind::Aside => (Style::of(10.5, 14.0), 0.0, 3.0),
        Kind::Sender => (Style::of(9.6, 13.0), 0.0, 0.0),
    }
}

impl Laid {
    /// Blocks laid out for a text of this width on pages of this height.
    pub(crate) fn of(blocks: &[Block], width: f32, page: f32) -> Self {
        let mut laid = Self {
            page,
            ..Self::default()
        };
        let nodes = laid.blocks(blocks, width);
        laid.nodes = nodes;
        laid
    }

    fn leaf(&mut self) -> usize {
        self.leaves += 1;
        self.leaves - 1
    }

    fn push(&mut self, mut piece: Piece) {
        piece.on_new_page = std::mem::take(&mut self.break_next);
        self.pieces.push(piece);
    }

    fn blocks(&mut self, blocks: &[Block], width: f32) -> Vec<Node> {
        let mut nodes = Vec::new();
        for block in blocks {
            self.block(block, width, &mut nodes);
        }
        nodes
    }

    fn block(&mut self, block: &Block, width: f32, nodes: &mut Vec<Node>) {
        match block {
            Block::Heading(level, text) => nodes.push(self.heading(*level, text, width)),
            Block::Paragraph(kind, text) => nodes.push(self.paragraph(*kind, text, width)),
            Block::List(numbered, items) => nodes.push(self.list(*numbered, items, width)),
            Block::Facts(facts) => self.facts(facts, width, nodes),
            Block::Table(table) => nodes.push(self.table(table, width)),
            Block::Figure(figure) => {
                let picture = &figure.picture;
                #[expect(clippy::cast_possible_truncation, reason = "points on a page")]
                let (wide, high) = (picture.width as f32, picture.height as f32);
                let scale = (width / wide).min(1.0);
                let leaf = self.leaf();
                self.push(Piece {
                    before: 2.0,
                    height: high * scale + 2.0,
                    marks: vec![Mark {
                        leaf: Some(leaf),
                        x: 0.0,
                        y: 0.0,
                        what: What::Picture {
                            scale,
                            picture: Rc::new(picture.clone()),
                        },
                    }],
                    with_next: !figure.caption.0.is_empty(),
                    ..Piece::default()
                });
                let said = format!("{}. {}", picture.title, picture.description);
                let tag = Tag::Figure(Some(said));
                nodes.push(Node::Group(tag.into(), vec![Node::Leaf(leaf)]));
                if !figure.caption.0.is_empty() {
                    nodes.push(self.paragraph(Kind::Note, &figure.caption, width));
                }
            }
            Block::Photo(photo) => {
                self.photo(photo, (width, HIGHEST_PHOTO), nodes);
                if !photo.caption.is_empty() {
                    if let Some(shown) = self.pieces.last_mut() {
                        shown.with_next = true;
                    }
                    nodes.push(self.paragraph(Kind::Note, &photo.caption.as_str().into(), width));
                }
            }
            // What it is called is for those who do not see it.
            Block::Logo(photo) => self.photo(photo, (width.min(LOGO.0), LOGO.1), nodes),
            Block::Beside(columns) => self.beside(columns, width, nodes),
            Block::Together(inside) => {
                let from = self.pieces.len();
                let inside = self.blocks(inside, width);
                nodes.extend(inside);
                let last = self.pieces.len().saturating_sub(1);
                let pieces = self.pieces.get_mut(from..last).into_iter().flatten();
                pieces.for_each(|piece| piece.with_next = true);
            }
            Block::Signatures(who) => self.signatures(who, width, nodes),
            Block::PageBreak => self.break_next = true,
        }
    }

    /// Lines as marks from a height on; the height they take.
    fn text(
        leaf: usize,
        lines: Vec<Line>,
        style: &Style,
        x: f32,
        y: f32,
        marks: &mut Vec<Mark>,
    ) -> f32 {
        let mut top = y;
        for line in lines {
            // The letters stand a little under the middle of their line.
            let stands = top + 0.5 * style.leading + 0.33 * style.size;
            marks.extend(line.runs.into_iter().map(|run| Mark {
                leaf: Some(leaf),
                x: x + run.x,
                y: stands,
                what: What::Run(run),
            }));
            top += style.leading;
        }
        top - y
    }

    fn heading(&mut self, level: u8, text: &Text, width: f32) -> Node {
        let (style, before, after) = match level {
            1 => (Style::of(26.0, 29.0).weight(Weight::Bold), 4.0, 4.0),
            2 => (Style::of(11.5, 14.0).weight(Weight::Bold), 12.0, 5.0),
            _ => (Style::of(10.0, 13.0).weight(Weight::Semibold), 7.0, 2.0),
        };
        let leaf = self.leaf();
        let mut lines_of = lines(text, &style, width);
        for size in [18.0, 13.0] {
            // A long name is set smaller before it takes many lines.
            if level == 1 && lines_of.len() > 2 {
                let smaller = Style::of(size, size + 3.0).weight(Weight::Bold);
                lines_of = lines(text, &smaller, width);
            }
        }
        let size = lines_of[0].runs.first().map_or(style.size, |run| run.size);
        let style = Style {
            size,
            leading: style.leading * size / style.size,
            ..style
        };
        let mut marks = Vec::new();
        let mut height = Self::text(leaf, lines_of, &style, 0.0, 0.0, &mut marks);
        if level == 2 {
            height += 1.0;
            marks.push(rule((0.0, height), (width, height), 0.7, INK));
        }
        let words: String = text.0.iter().map(|span| span.text.as_str()).collect();
        self.push(Piece {
            before,
            height: height + after,
            marks,
            with_next: true,
            bookmark: Some((level, words.clone())),
            ..Piece::default()
        });
        let level = NonZeroU16::new(level.into()).unwrap_or(NonZeroU16::MIN);
        Node::Group(Tag::Hn(level, Some(words)).into(), vec![Node::Leaf(leaf)])
    }

    fn paragraph(&mut self, kind: Kind, text: &Text, width: f32) -> Node {
        let (style, before, after) = look(kind);
        let leaf = self.leaf();
        let indent = if kind == Kind::Flag { 8.0 } else { 0.0 };
        let all = lines(text, &style, width - indent);
        let mut marks = Vec::new();
        let mut y = 0.0;
        if kind == Kind::Answer {
            marks.push(rule((0.0, 0.0), (width, 0.0), 2.4, INK));
            y = 7.0;
        }
        let mut height = y;
        // A long one may be divided, no line of it alone.
        let many = all.len();
        let mut first = before;
        for (place, line) in all.into_iter().enumerate() {
            let x = match kind {
                Kind::Aside | Kind::Sender => width - line.width,
                _ => indent,
            };
            height += Self::text(leaf, vec![line], &style, x, height, &mut marks);
            let alone = place == 0 || place + 2 >= many;
            if many > 6 && !alone {
                self.piece(kind, first, height, std::mem::take(&mut marks), width);
                height = 0.0;
                first = 0.0;
            }
        }
        self.piece(kind, first, height + after, marks, width);
        Node::Group(Tag::P.into(), vec![Node::Leaf(leaf)])
    }

    fn piece(&mut self, kind: Kind, before: f32, height: f32, mut marks: Vec<Mark>, width: f32) {
        match kind {
            Kind::Flag => marks.push(rule((1.2, 1.0), (1.2, height - 3.0), 2.4, INK)),
            Kind::Caution => marks.push(rule((0.0, height - 1.0), (width, height - 1.0), 0.5, INK)),
            _ => {}
        }
        let with_next = matches!(kind, Kind::Label | Kind::Word);
        self.push(Piece {
            before,
            height,
            marks,
            with_next,
            ..Piece::default()
        });
    }

    fn list(&mut self, numbered: bool, items: &[Text], width: f32) -> Node {
        const INDENT: f32 = 14.0;
        let (style, _, _) = look(Kind::Body);
        let mut nodes = Vec::new();
        for (place, item) in items.iter().enumerate() {
            let sign: Text = match numbered {
                true => format!("{}. ", place + 1).into(),
                false => "– ".into(),
            };
            let (sign_leaf, leaf) = (self.leaf(), self.leaf());
            let mut marks = Vec::new();
            Self::text(
                sign_leaf,
                lines(&sign, &style, INDENT * 2.0),
                &style,
                0.0,
                0.0,
                &mut marks,
            );
            let lines = lines(item, &style, width - INDENT);
            let height = Self::text(leaf, lines, &style, INDENT, 0.0, &mut marks);
            self.push(Piece {
                height: height + 2.0,
                marks,
                ..Piece::default()
            });
            let parts = vec![
                Node::Group(Tag::Lbl.into(), vec![Node::Leaf(sign_leaf)]),
                Node::Group(Tag::LBody.into(), vec![Node::Leaf(leaf)]),
            ];
            nodes.push(Node::Group(Tag::LI.into(), parts));
        }
        if let Some(last) = self.pieces.last_mut() {
            last.height += 2.0;
        }
        let numbering = match numbered {
            true => ListNumbering::Decimal,
            false => ListNumbering::None,
        };
        Node::Group(Tag::L(numbering).into(), nodes)
    }

    /// Four columns, each a label over its value.
    fn facts(&mut self, facts: &[(String, String)], width: f32, nodes: &mut Vec<Node>) {
        let label = Style::of(7.8, 9.8).grey(64);
        let value = Style::of(9.6, 12.0);
        let many = if width > 400.0 { 4 } else { 2 };
        #[expect(clippy::cast_precision_loss, reason = "two or four")]
        let columns = many as f32;
        let column = (width - BESIDE_GAP * (columns - 1.0)) / columns;
        for row in facts.chunks(many) {
            let mut marks = Vec::new();
            let mut height: f32 = 0.0;
            let mut x = 0.0;
            for (name, said) in row {
                let (one, two) = (self.leaf(), self.leaf());
                let name = lines(&name.as_str().into(), &label, column);
                let said = lines(&said.as_str().into(), &value, column);
                let over = Self::text(one, name, &label, x, 0.0, &mut marks);
                let own = over + Self::text(two, said, &value, x, over, &mut marks);
                height = height.max(own);
                x += column + BESIDE_GAP;
                nodes.push(Node::Group(
                    Tag::P.into(),
                    vec![Node::Leaf(one), Node::Leaf(two)],
                ));
            }
            self.push(Piece {
                height: height + 4.0,
                marks,
                ..Piece::default()
            });
        }
        if let Some(last) = self.pieces.last_mut() {
            last.height += 2.0;
        }
    }

    fn table(&mut self, table: &Table, width: f32) -> Node {
        let columns = columns(table, width);
        let figure = |place: usize| table.columns[place].figure;
        let cells: Vec<Cell> = table
            .columns
            .iter()
            .map(|column| Cell::from(column.head.as_str()))
            .collect();
        let (mut head, leaves) = self.row(&cells, &columns, &HEADS, figure);
        head.before = 2.0;
        stand_on_bottom(&mut head.marks);
        let under = head.height + 1.5;
        head.marks
            .push(rule((0.0, under), (width, under), 0.8, INK));
        head.height = under + 2.0;
        head.with_next = true;
        let heads = leaves.into_iter().map(|leaf| {
            let scope = TableHeaderScope::Column;
            Node::Group(Tag::TH(scope).into(), vec![Node::Leaf(leaf)])
        });
        let heads = Node::Group(Tag::TR.into(), heads.collect());
        let mut again = head.clone();
        again.marks.iter_mut().for_each(|mark| mark.leaf = None);
        let number = self.heads.len();
        self.heads.push(again);
        self.push(head);
        let mut rows = Vec::new();
        let last = table.rows.len().saturating_sub(1);
        for (place, row) in table.rows.iter().enumerate() {
            let style = if row.out { CELLS.grey(SOFT) } else { CELLS };
            let (mut piece, leaves) = self.row(&row.cells, &columns, &style, figure);
            line_under(&mut piece, row, width);
            piece.head = Some(number);
            // No row stands alone at the top of a page.
            piece.with_next = place + 1 == last && last < 12;
            if place == last {
                piece.height += 5.0;
            }
            self.push(piece);
            let cells = leaves
                .into_iter()
                .map(|leaf| Node::Group(Tag::TD.into(), vec![Node::Leaf(leaf)]));
            rows.push(Node::Group(Tag::TR.into(), cells.collect()));
        }
        let head = Node::Group(Tag::THead.into(), vec![heads]);
        let body = Node::Group(Tag::TBody.into(), rows);
        Node::Group(Tag::Table.into(), vec![head, body])
    }

    fn row(
        &mut self,
        cells: &[Cell],
        columns: &[f32],
        style: &Style,
        figure: impl Fn(usize) -> bool,
    ) -> (Piece, Vec<usize>) {
        let mut marks = Vec::new();
        let mut height: f32 = 0.0;
        let mut leaves = Vec::new();
        let mut x = 0.0;
        for (place, (cell, column)) in cells.iter().zip(columns).enumerate() {
            let leaf = self.leaf();
            leaves.push(leaf);
            let inside = column - CELL_GAP;
            let mut y = 1.8;
            let remarks = cell
                .remarks
                .iter()
                .map(|remark| (Text::from(remark.as_str()), &REMARKS));
            let texts = std::iter::once((cell.text.clone(), style)).chain(remarks);
            for (text, style) in texts.filter(|(text, _)| !text.0.is_empty()) {
                for line in lines(&text, style, inside) {
                    let left = if figure(place) {
                        inside - line.width
                    } else {
                        0.0
                    };
                    y += Self::text(leaf, vec![line], style, x + left, y, &mut marks);
                }
            }
            height = height.max(y + 1.8);
            x += column;
        }
        let piece = Piece {
            height,
            marks,
            ..Piece::default()
        };
        (piece, leaves)
    }

    /// As large as this room allows.
    fn photo(&mut self, photo: &Photo, room: (f32, f32), nodes: &mut Vec<Node>) {
        let (width, highest) = room;
        #[expect(clippy::cast_precision_loss, reason = "some thousand")]
        let (wide, high) = (photo.width.max(1) as f32, photo.height.max(1) as f32);
        let scale = (width / wide).min(highest / high);
        let leaf = self.leaf();
        self.push(Piece {
            before: 2.0,
            height: high * scale + 3.0,
            marks: vec![Mark {
                leaf: Some(leaf),
                x: 0.0,
                y: 0.0,
                what: What::Photo {
                    width: wide * scale,
                    height: high * scale,
                    photo: Rc::new(photo.clone()),
                },
            }],
            ..Piece::default()
        });
        let tag = Tag::Figure(Some(photo.caption.clone()));
        nodes.push(Node::Group(tag.into(), vec![Node::Leaf(leaf)]));
    }

    /// Each column in one piece, and all of them in one.
    fn beside(&mut self, columns: &[(f32, Vec<Block>)], width: f32, nodes: &mut Vec<Node>) {
        #[expect(clippy::cast_precision_loss, reason = "a few")]
        let gaps = BESIDE_GAP * columns.len().saturating_sub(1) as f32;
        let shares: f32 = columns.iter().map(|(share, _)| share).sum();
        let broken = std::mem::take(&mut self.break_next);
        let mut whole = Piece::default();
        let mut x = 0.0;
        for (share, inside) in columns {
            let own = (width - gaps) * share / shares;
            let outside = std::mem::take(&mut self.pieces);
            let inside = self.blocks(inside, own);
            let pieces = std::mem::replace(&mut self.pieces, outside);
            nodes.extend(inside);
            let mut y = 0.0;
            for piece in pieces {
                y += if y > 0.0 { piece.before } else { 0.0 };
                whole.bookmark = whole.bookmark.or(piece.bookmark);
                let moved = piece.marks.into_iter().map(|mark| shifted(mark, x, y));
                whole.marks.extend(moved);
                y += piece.height;
            }
            whole.height = whole.height.max(y);
            x += own + BESIDE_GAP;
        }
        self.break_next = broken;
        self.push(whole);
    }

    fn signatures(&mut self, who: &[String], width: f32, nodes: &mut Vec<Node>) {
        const TO_SIGN: f32 = 34.0;
        let style = Style::of(8.4, 10.6);
        let many = who.len().max(1);
        #[expect(clippy::cast_precision_loss, reason = "a few")]
        let (columns, gaps) = (many as f32, BESIDE_GAP * (many - 1) as f32);
        let column = (width - gaps) / columns;
        let mut marks = Vec::new();
        let mut height: f32 = 0.0;
        let mut x = 0.0;
        for each in who {
            marks.push(rule((x, TO_SIGN), (x + column, TO_SIGN), 0.7, INK));
            let leaf = self.leaf();
            let lines = lines(&each.as_str().into(), &style, column);
            height = height.max(Self::text(
                leaf,
                lines,
                &style,
                x,
                TO_SIGN + 1.5,
                &mut marks,
            ));
            x += column + BESIDE_GAP;
            nodes.push(Node::Group(Tag::P.into(), vec![Node::Leaf(leaf)]));
        }
        self.push(Piece {
            height: TO_SIGN + height + 3.0,
            marks,
            ..Piece::default()
        });
    }

    /// The pieces on their pages.
    pub(crate) fn pages(&self) -> Vec<Vec<Placed>> {
        let mut pages: Vec<Vec<Placed>> = vec![Vec::new()];
        let mut y = 0.0;
        let mut at = 0;
        while at < self.pieces.len() {
            let group = self.group(at);
            let high: f32 = self.pieces[group.clone()]
                .iter()
                .enumerate()
                .map(|(place, piece)| {
                    piece.height
                        + if place == 0 && y == 0.0 {
                            0.0
                        } else {
                            piece.before
                        }
                })
                .sum();
            let first = &self.pieces[at];
            let full = y > 0.0 && (y + high > self.page || first.on_new_page);
            if full {
                pages.push(Vec::new());
                y = 0.0;
            }
            // What no page can hold is divided after all.
            let end = if high > self.page { at + 1 } else { group.end };
            for piece in &self.pieces[at..end] {
                let page = pages.last_mut().into_iter();
                if let (true, Some(head)) = (y == 0.0, piece.head) {
                    let head = self.heads[head].clone();
                    let high = head.height;
                    page.for_each(|page| {
                        page.push(Placed {
                            y: 0.0,
                            piece: head.clone(),
                        })
                    });
                    y = high;
                } else if y > 0.0 {
                    y += piece.before;
                }
                let piece = piece.clone();
                let high = piece.height;
                if let Some(page) = pages.last_mut() {
                    page.push(Placed { y, piece });
                }
                y += high;
            }
            at = end;
        }
        pages
    }

    /// A piece and what must not be parted from it.
    fn group(&self, from: usize) -> std::ops::Range<usize> {
        let mut end = from;
        while self.pieces[end].with_next
            && end + 1 < self.pieces.len()
            && !self.pieces[end + 1].on_new_page
        {
            end += 1;
        }
        from..end + 1
    }
}

fn rule(from: (f32, f32), to: (f32, f32), width: f32, grey: u8) -> Mark {
    Mark {
        leaf: None,
        x: from.0,
        y: from.1,
        what: What::Rule { to, width, grey },
    }
}

fn shifted(mut mark: Mark, x: f32, y: f32) -> Mark {
    mark.x += x;
    mark.y += y;
    if let What::Rule { to, .. } = &mut mark.what {
        to.0 += x;
        to.1 += y;
    }
    mark
}

/// Heads of fewer lines stand on the rule, as the longest does.
fn stand_on_bottom(marks: &mut [Mark]) {
    let lowest = |leaf: Option<usize>, marks: &[Mark]| {
        let own = marks
            .iter()
            .filter(|mark| leaf.is_none() || mark.leaf == leaf);
        own.map(|mark| mark.y).fold(0.0, f32::max)
    };
    let all = lowest(None, marks);
    let down: Vec<f32> = marks
        .iter()
        .map(|mark| all - lowest(mark.leaf, marks))
        .collect();
    for (mark, down) in marks.iter_mut().zip(down) {
        mark.y += down;
    }
}

fn line_under(piece: &mut Piece, row: &Row, width: f32) {
    if row.sum {
        piece.marks.push(rule((0.0, 0.0), (width, 0.0), 0.8, INK));
    } else {
        let y = piece.height;
        piece
            .marks
            .push(rule((0.0, y), (width, y), 0.35, HAIR - 30));
    }
}

/// How wide each column is: as its words ask for, what is left shared out by what they would like.
fn columns(table: &Table, width: f32) -> Vec<f32> {
    let asked: Vec<(f32, f32)> = (0..table.columns.len())
        .map(|place| {
            let column = &table.columns[place];
            let mut asked = spread(&column.head.as_str().into(), &HEADS);
            // A head takes two lines before it takes room from others.
            asked.1 = asked.0.max(0.55 * asked.1);
            for cell in table.rows.iter().filter_map(|row| row.cells.get(place)) {
                let own = spread(&cell.text, &CELLS);
                let remarks = cell
                    .remarks
                    .iter()
                    .map(|remark| spread(&remark.as_str().into(), &REMARKS));
                for (least, most) in std::iter::once(own).chain(remarks) {
                    let least = if column.figure { most } else { least };
                    asked = (asked.0.max(least), asked.1.max(most));
                }
            }
            (asked.0 + CELL_GAP, asked.1 + CELL_GAP)
        })
        .collect();
    let least: f32 = asked.iter().map(|(least, _)| least).sum();
    let most: f32 = asked.iter().map(|(_, most)| most).sum();
    if most <= width {
        // The last column takes what is left, unless it holds figures.
        let more = width - most;
        let words = table
            .columns
            .iter()
            .filter(|column| !column.figure)
            .count()
            .max(1);
        #[expect(clippy::cast_precision_loss, reason = "a few")]
        let each = more / words as f32;
        let own = |(column, (_, most)): (&crate::paper::Column, &(f32, f32))| {
            most + if column.figure { 0.0 } else { each }
        };
        return table.columns.iter().zip(&asked).map(own).collect();
    }
    if least >= width {
        return asked.iter().map(|(own, _)| own * width / least).collect();
    }
    // Whoever wants little gets it; what is left is for those who want much.
    let mut own: Vec<f32> = asked.iter().map(|(least, _)| *least).collect();
    let mut order: Vec<usize> = (0..own.len()).collect();
    order.sort_by(|one, other| {
        (asked[*one].1 - own[*one]).total_cmp(&(asked[*other].1 - own[*other]))
    });
    let mut left = width - least;
    for (place, column) in order.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "a few")]
        let share = left / (order.len() - place) as f32;
        let more = share.min(asked[*column].1 - own[*column]);
        own[*column] += more;
        left -= more;
    }
    own
}

/// The look of a label, for the one that draws it.
pub(crate) fn label_run(label: &Label) -> Run {
    #[expect(clippy::cast_possible_truncation, reason = "points on a page")]
    let size = label.size as f32;
    Run {
        x: 0.0,
        text: crate::letters::printable(&holdtrue_wording::shown(&label.text)),
        weight: label.weight(),
        size,
        grey: INK,
    }
}
