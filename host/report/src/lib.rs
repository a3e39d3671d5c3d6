//! The paper a customer reads: from a document of results to one self-contained HTML page.
//!
//! Four sections in this order: what we found, what to do, evidence, how it was judged; then an appendix. No figure is
//! computed here: they are the analysis's own, rounded for a reader. No I/O.
//!
//! ```
//! use holdtrue_report::document::{Document, Spindle};
//! let document = Document {
//!     spindle: Spindle { name: Some("Centre 1".into()), ..Spindle::default() },
//!     ..Document::default()
//! };
//! assert!(holdtrue_report::html(&document).contains("Centre 1"));
//! ```

mod appendix;
mod checked;
pub mod document;
mod found;
mod grip;
mod hints;
mod judged;
mod ladder;
mod mark;
mod page;
mod polar;
mod runout;
mod scale;
mod trace;
mod years;

pub use page::{html, is_page};
pub use years::{YearBand, YearPoint, YearSeries, Years, years};
