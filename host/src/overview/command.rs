//! `overview`: every spindle of the book, worst first. In: the book, filters. Out: a line a spindle, JSON or CSV.

use crate::overview::arguments::OverviewArgs;
use crate::overview::{gathered, words};
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use jiff::Zoned;
use serde_json::json;

pub(crate) fn run(args: &OverviewArgs, app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let on = args.on.unwrap_or_else(|| Zoned::now().date());
    let spindles = gathered::gather(&book, args, on)?;
    let text = match args.csv {
        true => words::csv(&spindles)?,
        false => words::lines(&spindles, on, &app.settings.units()),
    };
    let document = json!({ "check": "overview", "schema": 1, "on": on.to_string(), "every_months": args.every, "spindles": spindles });
    Finished::new(Exit::Done, &document, text)
}
