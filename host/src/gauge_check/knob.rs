//! In: a book and a gauge. Out: how many clamps the gauge's retention knob has seen, and how many it is good for.

use crate::terminal::error::Error;
use crate::visits::known_day;
use holdtrue_book::Book;
use holdtrue_metrology::gauge_check::fitness;
use serde::Serialize;
use uuid::Uuid;

/// A retention knob by its count of clamps.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Knob {
    /// Clamps since it was changed, or all the book has of this gauge.
    pub clamps: u64,
    /// When it was changed; null where nobody recorded it.
    pub since: Option<String>,
    /// Which knob it is.
    pub knob: Option<String>,
    /// Clamps its maker gives it.
    pub good_for: Option<u32>,
}

impl Knob {
    /// As the book knows it.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn of(book: &Book, gauge: Uuid) -> Result<Self, Error> {
        let last = book.knob_changes(gauge)?.pop();
        let since = last.as_ref().map(|change| change.stamp.at.clone());
        Ok(Self {
            clamps: book.clamps_of(gauge, since.as_deref())?,
            since,
            knob: last.as_ref().and_then(|change| change.knob.clone()),
            good_for: last.and_then(|change| change.good_for),
        })
    }

    /// Its clamps, and how many it is good for.
    pub fn counts(&self) -> fitness::Knob {
        fitness::Knob {
            clamps: self.clamps,
            good_for: self.good_for,
        }
    }

    /// Since when its clamps are counted.
    pub fn since_words(&self) -> String {
        match &self.since {
            Some(at) => format!("since it was changed on {}", known_day::words(at)),
            None => "all in this book; a new knob is recorded with `holdtrue gauge knob --changed`"
                .to_owned(),
        }
    }
}
