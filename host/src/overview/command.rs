//! `overview`: every spindle of the book, worst first. In: the book, filters. Out: a line a spindle, JSON or CSV.

use crate::overview::arguments::OverviewArgs;
use crate::overview::gathered::Gathered;
use crate::overview::{gathered, words};
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use jiff::Zoned;
use serde_json::json;

/// Months from one visit to the next: common practice, no source.
const USUAL_MONTHS: u32 = 12;

pub(crate) fn run(args: &OverviewArgs, app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let on = args.on.unwrap_or_else(|| Zoned::now().date());
    let every = args.every.or(app.settings.every_months);
    let every = every.unwrap_or(USUAL_MONTHS);
    let Gathered {
        spindles,
        not_listed,
    } = gathered::gather(&book, args, every, on)?;
    let text = match args.csv {
        true => words::csv(&spindles)?,
        false => {
            let mut text = words::lines(&spindles, on, &app.settings.units());
            for line in words::not_listed(&not_listed) {
                text.push('\n');
                text.push_str(&line);
            }
            text
        }
    };
    let document = json!({
        "check": "overview",
        "schema": 1,
        "on": on.to_string(),
        "every_months": every,
        "spindles": spindles,
        "hidden": not_listed.hidden,
        "unnamed_visits": not_listed.unnamed_visits,
    });
    Finished::new(Exit::Done, &document, text)
}
