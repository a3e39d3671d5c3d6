//! `report`: the page a customer reads. In: a visit of the book. Out: one file.

use crate::page::arguments::ReportArgs;
use crate::page::model;
use crate::page::years;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::later_rows;
use crate::visits::opening::{find_spindle, find_visit};
use holdtrue_book::Book;
use serde_json::json;
use uuid::Uuid;

pub(crate) fn run(args: &ReportArgs, app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    if let Some(spindle) = &args.spindle {
        return history(spindle, args, &book, app);
    }
    let visit = which(args, &book)?;
    model::write_page(&book, visit, &app.settings, &args.html, args.overwrite)?;
    let digest = book.sealed(visit)?.map(|digest| digest.to_string());
    let later: Vec<String> = book
        .visit(visit)?
        .later
        .iter()
        .map(later_rows::line)
        .collect();
    let mut text = format!("page      {}", args.html.display());
    match &digest {
        Some(digest) => text.push_str(&format!("\ncheck code  {digest}")),
        None => text.push_str("\nThe visit is not finished: the page has no check code yet. holdtrue visit finish ends it."),
    }
    for line in &later {
        text.push_str(&format!("\n{line}"));
    }
    let result = json!({
        "schema": 1,
        "visit": visit,
        "spindle": null,
        "html": args.html.display().to_string(),
        "digest": digest,
        "later": later,
    });
    Finished::new(Exit::Done, &result, text)
}

/// The history of a spindle: derived anew each time, so it has no check code.
fn history(spindle: &str, args: &ReportArgs, book: &Book, app: &App) -> Result<Finished, Error> {
    let spindle = find_spindle(book, spindle)?;
    let visits = years::write_page(book, &spindle, &app.settings, &args.html, args.overwrite)?;
    let text = format!(
        "page      {}\nThe history of {}: {visits} visits.",
        args.html.display(),
        spindle.header().name
    );
    let result = json!({
        "schema": 1,
        "visit": null,
        "spindle": spindle.id,
        "html": args.html.display().to_string(),
        "digest": null,
        "later": [],
    });
    Finished::new(Exit::Done, &result, text)
}

fn which(args: &ReportArgs, book: &Book) -> Result<Uuid, Error> {
    if let Some(wanted) = &args.visit {
        return find_visit(book, wanted);
    }
    let latest = book.latest_visit()?;
    latest.ok_or_else(|| {
        Error::usage("there is no visit to report: start one with holdtrue visit start")
    })
}
