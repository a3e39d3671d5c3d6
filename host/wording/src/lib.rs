//! What a person reads about a result: from values to sentences in the units chosen.
//!
//! The analysis returns values, the figures in SI units as the JSON has them; here, and nowhere else, they become English.
//! [`Say`] is one value as a sentence, [`CheckWords`] all sentences of a check, [`document`] the JSON of a check with both.
//! Text that a person, a file, a gauge or a book brought is shown by [`shown`].

mod budget;
pub mod change;
mod check;
pub mod digits;
mod document;
mod file;
pub mod gauge_check;
mod grip;
mod hint;
pub mod paper;
mod runout;
mod say;
mod shown;
mod verdict;
pub mod words;

pub use check::{CheckWords, HintWords, Part, Sentences, VerdictWords};
pub use document::{document, part_document};
pub use runout::{certificate_words, doubt};
pub use say::Say;
pub use shown::{joined_lines, quoted, shown, shown_json, shown_lines};
