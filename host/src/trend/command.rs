//! `trend`: is it getting worse, and when will it cross the limit. In: a spindle of the book, or a table. Out: the series,
//! its line, the crossing; exit 0 whether or not there is one.

use crate::tables::read_file;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::exit::Exit;
use crate::trend::arguments::{Against, TrendArgs, TypedLimit};
use crate::trend::document::{self, Subject};
use crate::trend::followed::{Followed, HeldTo};
use crate::trend::{from_book, limit, readings_csv, words};
use crate::visits::book::opening::find_spindle;
use crate::visits::spindles::history;
use holdtrue_book::{Book, Entity, SpindleHeader};
use holdtrue_metrology::decision::Side;

pub(crate) fn run(args: &TrendArgs, app: &mut App) -> Result<Finished, Error> {
    let (mut followed, subject) = match &args.from {
        Some(file) => from_table(file, args, app)?,
        None => from_the_book(args, app)?,
    };
    if let Some(typed) = &args.limit {
        followed.limit = Some(HeldTo {
            side: limit::good_side(followed.unit),
            value: limit_of(typed, &followed)?,
            provenance: None,
        });
    }
    for message in &followed.messages {
        app.console.message(message);
    }
    let found = followed.series();
    let document = document::of(&followed, &found, &subject);
    let text = words::trend(
        &followed,
        &found,
        &subject,
        &document,
        &app.settings.units(),
    );
    Finished::new(Exit::Done, &document, text)
}

/// A limit without a unit that is this many times smaller than every figure is one of another unit.
const OF_ANOTHER_UNIT: f64 = 100.0;

/// The limit that was typed, in the unit of what is followed.
fn limit_of(typed: &TypedLimit, followed: &Followed) -> Result<f64, Error> {
    let value = typed
        .in_unit(followed.unit)
        .map_err(|why| Error::usage(format!("--limit: {why}")))?;
    let figures = followed.rows.iter().map(|row| row.point.value);
    let least = figures.reduce(f64::min).unwrap_or(0.0);
    let is_force = limit::good_side(followed.unit) == Side::Lower;
    if is_force && !typed.has_unit() && value > 0.0 && OF_ANOTHER_UNIT * value < least {
        return Err(Error::usage(format!(
            "--limit {}: {value} {unit} is nothing beside figures from {least:.0} {unit} on. Write its unit, such as {value}kN",
            typed.0,
            unit = followed.unit
        )));
    }
    Ok(value)
}

fn from_table(file: &str, args: &TrendArgs, app: &App) -> Result<(Followed, Subject), Error> {
    let bytes = read_file(file)?;
    let units = app.settings.units();
    let followed = readings_csv::read(file, &bytes, args.against, args.figure, &units)?;
    if let Some(figure) = args.figure
        && !same_kind(figure.unit(), followed.unit)
    {
        return Err(Error::input(
            Place::file(file),
            Refusal {
                found: &format!("figures in {}", followed.unit),
                expected: &format!(
                    "the {} in {} or a unit like it",
                    figure.words(),
                    figure.unit()
                ),
                next: "Choose the figure the column holds, or leave --figure out.",
            },
        ));
    }
    Ok((followed, Subject::Table(file.to_owned())))
}

/// Whether both are forces, lengths …
fn same_kind(one: &str, other: &str) -> bool {
    const KINDS: &[&[&str]] = &[&["N", "kN", "lbf", "kgf", "daN"], &["um", "mm", "in"]];
    one == other
        || KINDS
            .iter()
            .any(|kind| kind.contains(&one) && kind.contains(&other))
}

fn from_the_book(args: &TrendArgs, app: &App) -> Result<(Followed, Subject), Error> {
    let book = app.read_book()?;
    let spindle = spindle(&book, args.spindle.as_deref())?;
    let figure = args.figure.unwrap_or_default();
    let past = history::of(&book, spindle.id)?;
    let against = args.against.unwrap_or(Against::Date);
    let followed = from_book::follow(spindle.header(), &past, figure, against);
    let subject = Subject::of_book(&book, &spindle, &followed)?;
    Ok((followed, subject))
}

/// The one that is named, or the only one.
fn spindle(book: &Book, wanted: Option<&str>) -> Result<Entity<SpindleHeader>, Error> {
    if let Some(wanted) = wanted {
        return find_spindle(book, wanted);
    }
    let mut spindles = book.list::<SpindleHeader>()?;
    spindles.retain(|spindle| !spindle.removed);
    match spindles.as_slice() {
        [only] => Ok(only.clone()),
        [] => Err(Error::usage(
            "the book has no spindle yet: enter one with holdtrue spindle add, or follow a table with --from FILE",
        )),
        several => {
            let names: Vec<&str> = several
                .iter()
                .map(|spindle| spindle.header().name.as_str())
                .collect();
            Err(Error::usage(format!(
                "the book has several spindles: name one with --spindle. Known: {}",
                names.join(", ")
            )))
        }
    }
}
