//! TOML files a person writes. In: name and text. Out: the value, or the line and column where it goes wrong.

use crate::terminal::error::{Error, Place};
use crate::terminal::exit::Exit;
use serde::de::DeserializeOwned;

/// Reads a whole file as one value.
///
/// # Errors
/// With line and column, what was found or expected, and `next`: exit 4.
pub fn parse<T: DeserializeOwned>(name: &str, text: &str, next: &str) -> Result<T, Error> {
    toml::from_str(text).map_err(|e| {
        let place = match e.span() {
            Some(span) => place(name, text, span.start),
            None => Place::file(name),
        };
        let what = e.message().trim().replace('\n', "; ");
        Error {
            exit: Exit::BadInput,
            message: format!("{place}: {what}. {next}"),
            place,
            loss: None,
        }
    })
}

/// The place of a byte in a file: line and character, the first of both is 1.
pub fn place(name: &str, text: &str, at: usize) -> Place {
    let before = text.get(..at).unwrap_or(text);
    let (_, line_start) = before.rsplit_once('\n').unwrap_or(("", before));
    let line = 1 + before.bytes().filter(|&byte| byte == b'\n').count();
    Place::file(name)
        .line(u64::try_from(line).unwrap_or(u64::MAX))
        .column((1 + line_start.chars().count()).to_string())
}
