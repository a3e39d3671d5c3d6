//! `report`: the page a customer reads. In: a visit of the book. Out: one file.

use super::World;
use crate::args::report::ReportArgs;
use crate::error::Error;
use crate::exit::Exit;
use crate::later_words;
use crate::office::{find_spindle, find_visit};
use crate::output::Finished;
use crate::paper;
use holdtrue_book::Book;
use serde_json::json;
use uuid::Uuid;

pub(super) fn run(args: &ReportArgs, world: &World) -> Result<Finished, Error> {
    let book = world.read_book()?;
    let visit = which(args, &book)?;
    paper::write_page(&book, visit, &world.settings, &args.html, args.overwrite)?;
    let digest = book.sealed(visit)?.map(|digest| digest.to_string());
    let later: Vec<String> = book
        .visit(visit)?
        .later
        .iter()
        .map(later_words::line)
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
        "html": args.html.display().to_string(),
        "digest": digest,
        "later": later,
    });
    Finished::new(Exit::Done, &result, text)
}

fn which(args: &ReportArgs, book: &Book) -> Result<Uuid, Error> {
    if let Some(wanted) = &args.visit {
        return find_visit(book, wanted);
    }
    let latest = match &args.spindle {
        Some(spindle) => {
            let spindle = find_spindle(book, spindle)?;
            book.visits_of(spindle.id)?.pop().map(|visit| visit.id)
        }
        None => book.latest_visit()?,
    };
    latest.ok_or_else(|| {
        Error::usage("there is no visit to report: start one with holdtrue visit start")
    })
}
