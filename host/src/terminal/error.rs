//! The one error of the program: what the shell is told, where it went wrong and what to do next.
//!
//! In: a refusal from any part of the program. Out: one sentence for the person, and the same for the JSON document.

use crate::terminal::exit::Exit;
use holdtrue_gauge::link::LinkError;
use holdtrue_wording::shown;
use serde::Serialize;
use std::fmt;

/// A command could not be carried out.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct Error {
    /// What the shell is told.
    pub exit: Exit,
    /// Place, what was found, what was expected, what to do next: all in one text.
    pub message: String,
    /// Where it was found.
    pub place: Place,
    /// The gauge that was measured with is not there any more.
    pub loss: Option<Loss>,
}

/// How a gauge was lost in the middle of a measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// Its port went away, or it restarted.
    Gone,
    /// Its port is there, and nothing measured comes.
    Stopped,
}

/// A place in an input file; every part may be unknown.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// File, as the person named it.
    pub file: Option<String>,
    /// Physical line, the first is 1.
    pub line: Option<u64>,
    /// Column: the header's name in a table, the character's number elsewhere.
    pub column: Option<String>,
}

impl Place {
    /// A whole file.
    pub fn file(file: &str) -> Self {
        Self {
            file: Some(file.to_owned()),
            ..Self::default()
        }
    }

    /// A line of it.
    #[must_use]
    pub fn line(mut self, line: u64) -> Self {
        self.line = Some(line);
        self
    }

    /// A column in it.
    #[must_use]
    pub fn column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&shown(self.file.as_deref().unwrap_or("input")))?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        match &self.column {
            Some(column) => write!(f, ", column {}", shown(column)),
            None => Ok(()),
        }
    }
}

/// The three things every refusal says.
#[derive(Clone, Copy, Debug)]
pub struct Refusal<'a> {
    /// What was found.
    pub found: &'a str,
    /// What was expected.
    pub expected: &'a str,
    /// What to do next, a whole sentence.
    pub next: &'a str,
}

impl Error {
    /// Input that cannot be read: exit 4.
    pub fn input(place: Place, refusal: Refusal<'_>) -> Self {
        let Refusal {
            found,
            expected,
            next,
        } = refusal;
        Self {
            exit: Exit::BadInput,
            message: format!("{place}: found {found}, expected {expected}. {next}"),
            place,
            loss: None,
        }
    }

    /// A command line that cannot be carried out as written: exit 2.
    pub fn usage(message: impl Into<String>) -> Self {
        Self::plain(Exit::Usage, message)
    }

    /// Gauge or link: exit 5.
    pub fn gauge(message: impl Into<String>) -> Self {
        Self::plain(Exit::Gauge, message)
    }

    /// Book or output file: exit 6.
    pub fn book(message: impl Into<String>) -> Self {
        Self::plain(Exit::Book, message)
    }

    /// Stopped by the person: exit 130.
    pub fn interrupted(message: impl Into<String>) -> Self {
        Self::plain(Exit::Interrupted, message)
    }

    /// An output file could not be written: exit 6.
    pub fn cannot_write(file: &str, source: &std::io::Error) -> Self {
        Self {
            exit: Exit::Book,
            message: format!(
                "{file}: cannot be written ({source}). Choose another place with room and permission."
            ),
            place: Place::file(file),
            loss: None,
        }
    }

    /// Names the file an error is about.
    #[must_use]
    pub fn about(mut self, place: Place) -> Self {
        self.place = place;
        self
    }

    /// The same with its words, and the file it names, put otherwise.
    #[must_use]
    pub(crate) fn reworded(mut self, otherwise: impl Fn(&str) -> String) -> Self {
        self.message = otherwise(&self.message);
        self.place.file = self.place.file.as_deref().map(otherwise);
        self
    }

    fn plain(exit: Exit, message: impl Into<String>) -> Self {
        Self {
            exit,
            message: message.into(),
            place: Place::default(),
            loss: None,
        }
    }

    /// The `error` member of a JSON document.
    pub fn document(&self) -> ErrorDocument<'_> {
        ErrorDocument {
            code: self.exit.code(),
            message: &self.message,
            file: self.place.file.as_deref(),
            line: self.place.line,
            column: self.place.column.as_deref(),
        }
    }
}

/// An error as it stands in a JSON document.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ErrorDocument<'a> {
    /// The exit code.
    pub code: u8,
    /// The same text as on standard error.
    pub message: &'a str,
    /// File, if one is meant.
    pub file: Option<&'a str>,
    /// Physical line, the first is 1.
    pub line: Option<u64>,
    /// Column.
    pub column: Option<&'a str>,
}

impl From<LinkError> for Error {
    fn from(error: LinkError) -> Self {
        let loss = match &error {
            LinkError::Lost { .. } | LinkError::Restarted { .. } | LinkError::Slept { .. } => {
                Some(Loss::Gone)
            }
            LinkError::Stopped { .. } | LinkError::Silent { .. } => Some(Loss::Stopped),
            _ => None,
        };
        Self {
            loss,
            ..Self::gauge(error.to_string())
        }
    }
}
