//! What one step of a check shows. Values and words come in as they are to be read; nothing is computed here.

/// What the terminal's letters can do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ability {
    /// Half blocks, rings and the signs of units.
    Unicode,
    /// Letters and reversed spaces only.
    Ascii,
}

/// What the whole screen says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ground {
    /// The person's turn; nothing runs.
    Plain,
    /// A step runs: this share of its time is gone, 0 to 1. It fills from below.
    Filling(f64),
    /// The word is to be done now.
    Full,
    /// Something is wrong.
    Hatched,
}

/// Everything on the screen.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// Which check of which spindle, on the left of the first row.
    pub title: String,
    /// On the right of it: the time of day, or that the result is in the book.
    pub corner: String,
    /// The state.
    pub ground: Ground,
    /// What to do now, one word or two, in block letters.
    pub word: String,
    /// How many of how many.
    pub count: Option<Count>,
    /// The same in a sentence, with why.
    pub sentence: String,
    /// The figure in blocks.
    pub figure: Option<Figure>,
    /// Up to two smaller figures beside it: last time, the limit.
    pub beside: Vec<Beside>,
    /// Instead of those: what to do, step by step, where something is wrong.
    pub steps: Vec<String>,
    /// What was measured so far.
    pub picture: Picture,
    /// Lines under the picture, most important first; the last ones give way on a small screen.
    pub lines: Vec<String>,
    /// What only a larger terminal has room for: a table, already in columns.
    pub details: Vec<String>,
    /// What was just said, the newest first, under all of those: no figure gives way to it.
    pub news: Vec<String>,
    /// Gauge, losses, zero, light.
    pub link: String,
    /// The keys that work now.
    pub keys: Vec<Key>,
}

impl Scene {
    /// An empty scene with a title.
    pub fn new(title: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            corner: String::new(),
            ground: Ground::Plain,
            word: String::new(),
            count: None,
            sentence: String::new(),
            figure: None,
            beside: Vec::new(),
            steps: Vec::new(),
            picture: Picture::None,
            lines: Vec::new(),
            details: Vec::new(),
            news: Vec::new(),
            link: String::new(),
            keys: Vec::new(),
        }
    }
}

/// How many of how many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Count {
    /// Done.
    pub done: usize,
    /// One is being taken.
    pub under_way: bool,
    /// Wanted.
    pub wanted: usize,
}

/// A figure in blocks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// Digits, sign and point.
    pub digits: String,
    /// Its unit.
    pub unit: String,
}

/// A smaller figure beside the large one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Beside {
    /// Digits, sign and point.
    pub digits: String,
    /// What it is, on up to three short lines.
    pub what: Vec<String>,
}

/// A key and what it does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Key {
    /// As it stands on the keyboard.
    pub name: String,
    /// What it does.
    pub does: String,
}

impl Key {
    /// A key and what it does.
    pub fn new(name: impl Into<String>, does: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            does: does.into(),
        }
    }
}

/// What was measured so far.
#[derive(Clone, Debug, PartialEq)]
pub enum Picture {
    /// Nothing to show.
    None,
    /// One solid column a clamp.
    Columns {
        /// In order.
        columns: Vec<Column>,
        /// The limit in the same unit, and how it is written.
        limit: Option<(f64, String)>,
    },
    /// Positions round the turn.
    Circle(Circle),
    /// A verdict, drawn as the measurement against its limit.
    Strip(Strip),
    /// Keys far apart and what they answer, in block letters: at most four. They take the place of the figure.
    Choices(Vec<Key>),
}

/// One clamp: its force along the hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Under it.
    pub label: String,
    /// Force along the hold, as many points as there are; none for one to come.
    pub forces: Vec<f64>,
    /// How much of the hold is gone, 0 to 1.
    pub share: f64,
    /// It does not count.
    pub aside: bool,
}

/// Positions round the turn.
#[derive(Clone, Debug, PartialEq)]
pub struct Circle {
    /// In order, the first at the top, clockwise.
    pub positions: Vec<Position>,
    /// What the indicator reads now, in the unit of the positions, and on which place of the circle (0 to 1).
    pub now: Option<(f64, f64)>,
}

/// One position.
#[derive(Clone, Debug, PartialEq)]
pub struct Position {
    /// What it read; none yet.
    pub reading: Option<f64>,
    /// The one to be read now.
    pub next: bool,
}

/// A verdict, drawn as the measurement against its limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// What was measured, and how it is written.
    pub value: (f64, String),
    /// Its expanded uncertainty.
    pub uncertainty: f64,
    /// The limit, and how it is written.
    pub limit: (f64, String),
    /// The limit is the least allowed; else the most.
    pub lower: bool,
    /// Last time, and how it is written.
    pub last: Option<(f64, String)>,
}
