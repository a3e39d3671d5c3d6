//! The paper a customer reads: from a document of results to one self-contained HTML page and to a PDF.
//!
//! The results are made into a document model once ([`Made`]); both outputs draw that, so that their text is the same. The
//! first page has the answer, the second what was seen; then evidence, then an appendix with method and budgets. No figure is
//! computed here: they are the analysis's own, rounded for a reader. No I/O.
//!
//! ```
//! use holdtrue_report::document::{Document, Spindle};
//! use holdtrue_report::{Form, Made};
//! let document = Document {
//!     spindle: Spindle { name: Some("Centre 1".into()), ..Spindle::default() },
//!     ..Document::default()
//! };
//! let made = Made::of_visit(&document, &Form::default());
//! assert!(made.html().contains("Centre 1"));
//! assert!(made.pdf().unwrap().starts_with(b"%PDF-"));
//! ```

#[cfg(test)]
extern crate self as holdtrue_report;

mod appendix;
mod checked;
mod clamps;
mod day;
pub mod document;
mod front;
mod grip;
mod hints;
mod html;
mod judged;
mod ladder;
mod letterhead;
mod letters;
#[cfg(test)]
mod looks;
mod paper;
mod pdf;
mod picture;
mod polar;
mod rise;
mod runout;
mod scale;
mod seen;
mod thinned;
mod to_do;
mod told_apart;
mod trace;
mod visit;
mod year_series;
mod years;

pub use html::is_page;
pub use pdf::{PdfError, Sheet, is_pdf};
pub use rise::MOST_RISES;
pub use year_series::{YearBand, YearLimit, YearNews, YearPoint, YearSeries};
pub use years::Years;

/// Who hands the paper over.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Letterhead {
    /// Name, address, how to be reached.
    pub lines: Vec<String>,
    /// Their sign.
    pub logo: Option<document::Photo>,
}

/// The visits of one day.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Day {
    /// The day, as it is read.
    pub day: String,
    /// The same for a program: as RFC 3339 has it.
    pub made: String,
    /// In order of their beginning.
    pub visits: Vec<document::Document>,
    /// The version of the program that made the paper.
    pub program: String,
}

/// How a paper is wanted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Form {
    /// The sheet it is printed on.
    pub sheet: Sheet,
    /// With method, budgets and the whole check code.
    pub appendix: bool,
    /// Who hands it over.
    pub letterhead: Letterhead,
}

impl Default for Form {
    fn default() -> Self {
        Self {
            sheet: Sheet::A4,
            appendix: true,
            letterhead: Letterhead::default(),
        }
    }
}

/// A paper, made once, for both outputs.
#[derive(Clone, Debug, PartialEq)]
pub struct Made {
    paper: paper::Paper,
    sheet: Sheet,
}

impl Made {
    /// Of a visit.
    pub fn of_visit(document: &document::Document, form: &Form) -> Self {
        Self {
            paper: visit::paper(document, form),
            sheet: form.sheet,
        }
    }

    /// Of the visits of one day.
    pub fn of_day(day: &Day, form: &Form) -> Self {
        Self {
            paper: day::paper(day, form),
            sheet: form.sheet,
        }
    }

    /// Of the history of a spindle.
    pub fn of_years(years: &Years, form: &Form) -> Self {
        Self {
            paper: years::paper(years, form),
            sheet: form.sheet,
        }
    }

    /// One self-contained page: no script, nothing fetched from anywhere.
    pub fn html(&self) -> String {
        html::page(&self.paper, self.sheet)
    }

    /// The same as a PDF.
    ///
    /// # Errors
    /// A photo that cannot be read.
    pub fn pdf(&self) -> Result<Vec<u8>, PdfError> {
        pdf::file(&self.paper, self.sheet)
    }
}
