//! What a format says of its columns, and how a cell or a file of another kind is refused.

use crate::terminal::error::{Error, Place, Refusal};

/// A column a format knows.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// What the format calls it.
    pub key: &'static str,
    /// The headers it may have: one for each unit.
    pub headers: &'static [Header],
    /// What its cells hold.
    pub kind: Kind,
    /// Whether a file must have it.
    pub required: bool,
}

/// A header and the factor that brings its unit to the format's own.
#[derive(Clone, Copy, Debug)]
pub struct Header {
    /// Name, lower case.
    pub name: &'static str,
    /// Own unit = factor × unit of this header.
    pub factor: f64,
}

/// What the cells of a column hold.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// A number.
    Number,
    /// One of these words, in any case.
    Word(&'static [&'static str]),
    /// Any text that is not empty.
    Text,
    /// A number, or nothing where it does not apply.
    MaybeNumber,
    /// Any text, or nothing where it does not apply.
    MaybeText,
}

/// A cell that cannot be read; the place comes from whoever knows it.
#[derive(Debug)]
pub(crate) struct BadCell {
    /// What stands there.
    pub found: String,
    /// What should.
    pub expected: String,
    /// What to do next.
    pub next: &'static str,
}

impl BadCell {
    /// Refused, at its place.
    pub(super) fn at(self, place: Place) -> Error {
        Error::input(
            place,
            Refusal {
                found: &self.found,
                expected: &self.expected,
                next: self.next,
            },
        )
    }
}

/// A file that cannot be read at all.
pub(crate) fn unreadable(name: &str, source: &std::io::Error) -> Error {
    Error::input(
        Place::file(name),
        Refusal {
            found: &format!("no way to read it ({source})"),
            expected: "a readable file",
            next: "Check the name and the folder.",
        },
    )
}
