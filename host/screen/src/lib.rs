//! The live screen. In: a [`Scene`], what one step of a check is to show. Out: the cells of a terminal of any size.
//!
//! Three things are read from two metres, never a fourth: what to do (a word), the figure, how many. All else is text for
//! whoever stands at the laptop. The ground carries the state: plain, filling, full, hatched. Only the terminal's own two
//! colours are used, plain, bold and reversed, so that a light and a dark terminal, sixteen colours and none show the same.
//!
//! No terminal is touched here and no clock: whoever owns both draws the buffer.

mod canvas;
mod draw;
mod glyphs;
mod pictures;
mod scene;
mod text;

pub use draw::{SMALLEST, draw};
pub use scene::{
    Ability, Beside, Circle, Column, Count, Figure, Ground, Key, Picture, Position, Scene, Strip,
};
pub use text::{fitted, plain};
