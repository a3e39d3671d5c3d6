//! `report`: the page a customer reads. In: a visit of the book. Out: one file.

use crate::page::arguments::ReportArgs;
use crate::page::model;
use crate::page::model::Files;
use crate::page::years;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::console::NOTHING_WRITTEN;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::working::Working;
use crate::visits::book::opening::{find_spindle, find_visit};
use crate::visits::known_day;
use crate::visits::known_day::KnownDay;
use crate::visits::later_rows;
use holdtrue_book::{Book, Entity, VisitHeader};
use holdtrue_wording::paper::visits as visits_in_words;
use jiff::civil::Date;
use serde::Serialize;
use std::path::{Path, PathBuf};
use uuid::Uuid;

pub(crate) fn run(args: &ReportArgs, app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    if let Some(spindle) = &args.spindle {
        return history(spindle, args, &book, app);
    }
    if let Some(day) = args.day {
        return of_day(day, args, &book, app);
    }
    let visit = which(args, &book)?;
    let working = Working::on("Making the page");
    let paper = model::paper(&book, visit, &app.settings)?;
    model::write(&paper, &files(args))?;
    drop(working);
    let digest = book.sealed(visit)?.map(|digest| digest.to_string());
    let later: Vec<String> = book
        .visit(visit)?
        .later
        .iter()
        .map(later_rows::line)
        .collect();
    let mut text = written(args);
    match &digest {
        Some(digest) => text.push_str(&format!("\ncheck code  {digest}")),
        None => text.push_str("\nThe visit is not finished: the page has no check code yet. holdtrue visit finish ends it."),
    }
    for line in &later {
        text.push_str(&format!("\n{line}"));
    }
    let of = Of {
        visit: Some(visit),
        visits: vec![visit],
        digest,
        later,
        ..Of::default()
    };
    of.finished(args, text)
}

/// What a page is of.
#[derive(Default, Serialize)]
struct Of {
    visit: Option<Uuid>,
    spindle: Option<Uuid>,
    visits: Vec<Uuid>,
    digest: Option<String>,
    later: Vec<String>,
}

impl Of {
    fn finished(self, args: &ReportArgs, text: String) -> Result<Finished, Error> {
        #[derive(Serialize)]
        struct Document {
            schema: u32,
            #[serde(flatten)]
            of: Of,
            dry_run: bool,
            html: Option<String>,
            pdf: Option<String>,
        }
        let document = Document {
            schema: 1,
            of: self,
            dry_run: args.dry_run,
            html: shown(args.html.as_deref()),
            pdf: shown(args.pdf.as_deref()),
        };
        Finished::new(Exit::Done, &document, text)
    }
}

/// The history of a spindle: derived anew each time, so it has no check code.
fn history(spindle: &str, args: &ReportArgs, book: &Book, app: &App) -> Result<Finished, Error> {
    let spindle = find_spindle(book, spindle)?;
    let (paper, visits) = years::paper(book, &spindle, &app.settings)?;
    model::write(&paper, &files(args))?;
    let text = format!(
        "{}\nThe history of {}: {visits} visits.",
        written(args),
        spindle.header().name
    );
    let of = Of {
        spindle: Some(spindle.id),
        ..Of::default()
    };
    of.finished(args, text)
}

/// What was examined on a day, machine after machine. Each visit has its own check code; together they have none.
fn of_day(day: Date, args: &ReportArgs, book: &Book, app: &App) -> Result<Finished, Error> {
    let struck = book.struck()?;
    let began = |visit: &Entity<VisitHeader>| {
        let header = visit.header();
        KnownDay::of(&header.started_at)
            .is_some_and(|known| (known.first, known.last) == (day, day))
    };
    let mut visits = book.visits()?;
    visits.retain(|visit| !visit.removed && began(visit));
    let all = visits.len();
    visits.retain(|visit| !struck.contains(&visit.id));
    let put_aside = all - visits.len();
    if visits.is_empty() {
        let but = match put_aside {
            0 => "",
            _ => " but what was struck out",
        };
        return Err(Error::usage(format!(
            "--day {day}: found no visit that began on this day{but}, expected one at least: holdtrue spindle show NAME tells the days of its visits"
        )));
    }
    let visits: Vec<Uuid> = visits.iter().map(|visit| visit.id).collect();
    let paper = model::of_day(book, &visits, day, &app.settings)?;
    model::write(&paper, &files(args))?;
    let mut text = format!(
        "{}\n{} of {}, each with its own check code.",
        written(args),
        visits_in_words(visits.len()),
        known_day::words(&day.to_string())
    );
    if put_aside > 0 {
        text.push_str(&format!("\nLeft out, since struck: {put_aside}."));
    }
    let of = Of {
        visits,
        ..Of::default()
    };
    of.finished(args, text)
}

fn files(args: &ReportArgs) -> Files<'_> {
    Files {
        html: args.html.as_deref(),
        pdf: args.pdf.as_deref(),
        overwrite: args.overwrite,
        dry_run: args.dry_run,
    }
}

/// The files, for a person.
fn written(args: &ReportArgs) -> String {
    let line = |what: &str, path: &Option<PathBuf>| {
        let path = path.as_ref()?;
        Some(format!("{what:<10}{}", path.display()))
    };
    let nothing = args.dry_run.then(|| NOTHING_WRITTEN.to_owned());
    let lines = [line("page", &args.html), line("pdf", &args.pdf), nothing];
    lines.into_iter().flatten().collect::<Vec<_>>().join("\n")
}

fn shown(path: Option<&Path>) -> Option<String> {
    path.map(|path| path.display().to_string())
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
