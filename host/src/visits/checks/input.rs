//! What a check is computed from when no gauge is there. In: `--from` or `--readings`. Out: a file's bytes or typed text.

use crate::terminal::error::Error;
use crate::visits::checks::stored_check::{PaperFigure, Record};

/// A record in a file, or figures typed by hand.
pub enum Input<'a> {
    /// A file.
    File {
        /// As the person named it.
        name: &'a str,
        /// Its bytes; none of one that is not filed and was read as it was needed.
        bytes: Vec<u8>,
    },
    /// Typed by hand.
    Typed {
        /// What was typed.
        text: Option<&'a str>,
        /// Figures without their readings.
        figures: Vec<PaperFigure>,
    },
}

impl<'a> Input<'a> {
    /// What was typed.
    ///
    /// # Errors
    /// Nothing was: exit 2.
    pub fn noted(readings: Option<&'a str>, figures: Vec<PaperFigure>) -> Result<Self, Error> {
        if readings.is_none() && figures.is_empty() {
            return Err(Error::usage(
                "nothing to work on: add --from FILE or --readings",
            ));
        }
        let text = readings;
        Ok(Self::Typed { text, figures })
    }

    /// What messages call it.
    pub fn name(&self) -> &str {
        match self {
            Self::File { name, .. } => name,
            Self::Typed { .. } => "--readings",
        }
    }

    /// What was typed; nothing of a file.
    pub fn typed(&self) -> (Option<&str>, &[PaperFigure]) {
        match self {
            Self::File { .. } => (None, &[]),
            Self::Typed { text, figures } => (*text, figures),
        }
    }

    /// The same, to be filed with its check.
    pub fn as_record(&self) -> Record<'_> {
        match self {
            Self::File { name, bytes } => Record::File { name, bytes },
            Self::Typed { text, figures } => Record::Typed {
                text: *text,
                figures,
            },
        }
    }
}
