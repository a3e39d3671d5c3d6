//! Options of `report`.

use clap::builder::{PathBufValueParser, TypedValueParser};
use jiff::civil::Date;
use std::path::PathBuf;

/// Which visit, and where the page goes.
#[derive(Debug, clap::Args)]
pub struct ReportArgs {
    /// The visit: its id; without it the one that began last
    #[arg(value_name = "VISIT")]
    pub visit: Option<String>,
    /// Not a visit, but the history of this spindle: name or id
    #[arg(long, value_name = "SPINDLE", conflicts_with = "visit")]
    pub spindle: Option<String>,
    /// Not one visit, but all that began on this day, one machine after the other: 2026-11-29
    #[arg(long, value_name = "DATE", conflicts_with_all = ["visit", "spindle"])]
    pub day: Option<Date>,
    /// Write one self-contained page
    #[arg(long, value_name = "FILE", required_unless_present = "pdf", value_parser = file())]
    pub html: Option<PathBuf>,
    /// Write the same as a PDF, on the sheet and with the appendix or not as the settings say
    #[arg(long, value_name = "FILE", value_parser = file())]
    pub pdf: Option<PathBuf>,
    /// Replace the page that is there; a file of another kind is never written over
    #[arg(long)]
    pub overwrite: bool,
    /// Make the page and say where it would be written; write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// A file that is written. Elsewhere - is standard input or output; here it would be a file of that name.
fn file() -> impl TypedValueParser<Value = PathBuf> {
    PathBufValueParser::new().try_map(|path| match path.as_os_str() == "-" {
        true => Err("found -, expected the name of a file: a page is not written to standard output. Name one, such as page.html"),
        false => Ok(path),
    })
}
