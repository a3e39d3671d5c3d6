//! A sheet of cells. In: words, dots, places. Out: a buffer in which nothing stands outside the sheet.

use crate::glyphs;
use crate::scene::Ability;
use crate::text::{columns, cut, plain};
use ratatui_core::buffer::Buffer;
use ratatui_core::layout::Rect;
use ratatui_core::style::{Modifier, Style};

pub(crate) struct Canvas {
    pub buffer: Buffer,
    pub ability: Ability,
}

impl Canvas {
    pub fn new(area: Rect, ability: Ability) -> Self {
        Self {
            buffer: Buffer::empty(area),
            ability,
        }
    }

    pub fn width(&self) -> u16 {
        self.buffer.area.width
    }

    pub fn height(&self) -> u16 {
        self.buffer.area.height
    }

    /// Words from a place on, cut at `width` columns.
    pub fn words(&mut self, x: u16, y: u16, width: u16, words: &str, style: Style) {
        let room = width.min(self.width().saturating_sub(x));
        if y >= self.height() || room == 0 {
            return;
        }
        let words = cut(&plain(words, self.ability), room, self.ability);
        self.buffer
            .set_stringn(x, y, words, usize::from(room), style);
    }

    /// Words that end at a place.
    pub fn words_to(&mut self, end: u16, y: u16, words: &str, style: Style) {
        let words = plain(words, self.ability);
        let x = end.saturating_sub(columns(&words));
        self.words(x, y, end - x, &words, style);
    }

    /// One sign; outside the sheet it is lost.
    pub fn sign(&mut self, x: u16, y: u16, sign: char, style: Style) {
        if let Some(cell) = self.buffer.cell_mut((x, y)) {
            cell.set_char(sign).set_style(style);
        }
    }

    /// A rectangle of ink.
    pub fn ink(&mut self, x: u16, y: u16, width: u16, height: u16) {
        for row in y..y.saturating_add(height) {
            for column in x..x.saturating_add(width) {
                match self.ability {
                    Ability::Unicode => self.sign(column, row, '█', Style::new()),
                    Ability::Ascii => {
                        self.sign(
                            column,
                            row,
                            ' ',
                            Style::new().add_modifier(Modifier::REVERSED),
                        );
                    }
                }
            }
        }
    }

    /// Rows a word in block letters takes.
    pub fn word_rows(&self, scale: u16) -> u16 {
        match self.ability {
            Ability::Unicode => (5 * scale).div_ceil(2),
            Ability::Ascii => 5 * scale,
        }
    }

    /// A word in block letters, a dot one column wide and half a row high where the terminal has half rows.
    pub fn block_word(&mut self, x: u16, y: u16, scale: u16, words: &str) {
        let mut left = x;
        for sign in words.chars() {
            let shape = glyphs::letter(sign);
            for (row, dots) in (0_u16..).zip(shape) {
                for (column, _) in (0_u16..).zip(dots.chars()).filter(|(_, dot)| *dot == '#') {
                    self.dot(left + column * scale, y, row * scale, scale);
                }
            }
            left += (narrow(shape[0].len()) + 1) * scale;
        }
    }

    /// A dot of a block word: `scale` columns wide, `scale` half rows high, from half row `half` below row `y`.
    fn dot(&mut self, x: u16, y: u16, half: u16, scale: u16) {
        if self.ability == Ability::Ascii {
            return self.ink(x, y + half, scale, scale);
        }
        // Five half rows stand on the lower edge of three rows.
        let from = half + scale % 2;
        for half in from..from + scale {
            for column in x..x + scale {
                self.half(column, y + half / 2, half % 2 == 0);
            }
        }
    }

    /// Half a cell of ink, joined with what is there.
    fn half(&mut self, x: u16, y: u16, upper: bool) {
        let there = self.buffer.cell((x, y)).map_or(" ", |cell| cell.symbol());
        let sign = match (there, upper) {
            ("▄", true) | ("▀", false) | ("█", _) => '█',
            (_, true) => '▀',
            (_, false) => '▄',
        };
        self.sign(x, y, sign, Style::new());
    }

    /// Digits in blocks, a dot two columns wide and a row high. Returns the column behind them.
    pub fn block_digits(&mut self, x: u16, y: u16, scale: u16, digits: &str) -> u16 {
        let mut left = x;
        for sign in digits.chars() {
            let shape = glyphs::digit(sign);
            for (row, dots) in (0_u16..).zip(shape) {
                for (column, _) in (0_u16..).zip(dots.chars()).filter(|(_, dot)| *dot == '#') {
                    self.ink(left + 2 * column * scale, y + row * scale, 2 * scale, scale);
                }
            }
            left += 2 * (narrow(shape[0].len()) + 1) * scale;
        }
        left
    }

    /// Turns a row's two colours round.
    pub fn reverse_row(&mut self, y: u16) {
        for x in 0..self.width() {
            if let Some(cell) = self.buffer.cell_mut((x, y)) {
                cell.modifier.toggle(Modifier::REVERSED);
            }
        }
    }
}

/// Shapes are a few dots wide.
pub(crate) fn narrow(dots: usize) -> u16 {
    u16::try_from(dots).unwrap_or(u16::MAX)
}
