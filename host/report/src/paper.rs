//! The paper as a document: what stands on it, in order, without a word on how it is drawn.
//!
//! In: nothing; the sections build it from results. Out: the one model that [`crate::html`] and [`crate::pdf`] both draw.

use crate::document::Photo;
use crate::picture::Picture;

/// A whole document.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Paper {
    pub title: String,
    pub program: String,
    /// In the foot of every page: a short check code, and what the paper is of.
    pub code: Option<String>,
    pub of: String,
    /// When what it tells of was finished, as RFC 3339; a day or a year where no more is known.
    pub made: Option<String>,
    pub blocks: Vec<Block>,
}

/// A part of a document.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Block {
    /// 1 is the title; 2 and 3 are bookmarks.
    Heading(u8, Text),
    Paragraph(Kind, Text),
    /// Numbered or not.
    List(bool, Vec<Text>),
    /// Labelled facts, beside one another.
    Facts(Vec<(String, String)>),
    Table(Table),
    Figure(Figure),
    Photo(Photo),
    /// Small, at the head of the paper.
    Logo(Photo),
    /// Side by side, each with its share of the width; never divided by a page's end.
    Beside(Vec<(f32, Vec<Block>)>),
    /// Not divided by a page's end where a page can hold it.
    Together(Vec<Block>),
    /// Lines to sign on, and who signs.
    Signatures(Vec<String>),
    PageBreak,
}

/// What a paragraph is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Kind {
    Body,
    /// First on the paper.
    Caution,
    /// What the whole paper comes to.
    Answer,
    /// A figure, large.
    Large,
    /// The word of a verdict.
    Word,
    /// A small heading that is no bookmark.
    Label,
    /// What must not be missed.
    Flag,
    /// What explains.
    Note,
    /// To the right of what stands before it.
    Aside,
    /// Who hands the paper over.
    Sender,
}

/// Words, some of them stronger than others.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Text(pub Vec<Span>);

/// Words of one look.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Span {
    pub look: Look,
    pub text: String,
}

/// How words look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Look {
    Plain,
    Strong,
    /// Smaller and grey.
    Soft,
}

impl Text {
    pub(crate) fn with(mut self, look: Look, text: impl Into<String>) -> Self {
        let text = text.into();
        if !text.is_empty() {
            self.0.push(Span { look, text });
        }
        self
    }

    pub(crate) fn strong(text: impl Into<String>) -> Self {
        Self::default().with(Look::Strong, text)
    }

    pub(crate) fn and(self, text: impl Into<String>) -> Self {
        self.with(Look::Plain, text)
    }

    pub(crate) fn and_all(mut self, other: &Self) -> Self {
        self.0.extend(other.0.iter().cloned());
        self
    }

    pub(crate) fn soft(self, text: impl Into<String>) -> Self {
        self.with(Look::Soft, text)
    }
}

impl<T: Into<String>> From<T> for Text {
    fn from(text: T) -> Self {
        Self::default().and(text)
    }
}

/// Rows under heads, which every page repeats.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Table {
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
}

/// The head of a column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Column {
    pub head: String,
    /// Figures stand under one another, to the right.
    pub figure: bool,
}

/// A row.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Row {
    pub cells: Vec<Cell>,
    /// It does not count.
    pub out: bool,
    /// It sums up what stands above it.
    pub sum: bool,
}

/// A cell, with remarks under it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Cell {
    pub text: Text,
    pub remarks: Vec<String>,
}

impl<T: Into<Text>> From<T> for Cell {
    fn from(text: T) -> Self {
        Self {
            text: text.into(),
            remarks: Vec::new(),
        }
    }
}

impl Table {
    /// Of these columns; one that ends in `#` holds figures.
    pub(crate) fn of(heads: &[&str]) -> Self {
        let column = |head: &&str| Column {
            head: head.trim_end_matches('#').to_owned(),
            figure: head.ends_with('#'),
        };
        Self {
            columns: heads.iter().map(column).collect(),
            rows: Vec::new(),
        }
    }

    pub(crate) fn row(&mut self, cells: Vec<Cell>) -> &mut Row {
        self.rows.push(Row {
            cells,
            ..Row::default()
        });
        let last = self.rows.len() - 1;
        &mut self.rows[last]
    }
}

/// A picture with what is to be said of it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Figure {
    pub picture: Picture,
    pub caption: Text,
}

/// The sections speak in these.
pub(crate) fn heading(level: u8, text: impl Into<Text>) -> Block {
    Block::Heading(level, text.into())
}

pub(crate) fn body(text: impl Into<Text>) -> Block {
    Block::Paragraph(Kind::Body, text.into())
}

pub(crate) fn note(text: impl Into<Text>) -> Block {
    Block::Paragraph(Kind::Note, text.into())
}

pub(crate) fn flag(text: impl Into<Text>) -> Block {
    Block::Paragraph(Kind::Flag, text.into())
}

pub(crate) fn label(text: impl Into<Text>) -> Block {
    Block::Paragraph(Kind::Label, text.into())
}

pub(crate) fn figure(picture: Picture, caption: impl Into<Text>) -> Block {
    Block::Figure(Figure {
        picture,
        caption: caption.into(),
    })
}
