//! `study`: where the scatter of a check comes from. In: readings of the same parts by several technicians, from a table or
//! from the checks in the book. Out: its parts, as shares of all variation and of the tolerance.

use crate::study::arguments::StudyArgs;
use crate::study::from_book;
use crate::study::readings_csv;
use crate::study::words;
use crate::tables::read_file;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::exit::Exit;
use crate::visits::checks::stored_figure::StoredFigure;
use holdtrue_metrology::study::{Study, StudyReading, StudySetup, Subject, study};
use holdtrue_wording::Say;
use serde::Serialize;

/// One source of scatter.
#[derive(Debug, Serialize)]
pub(crate) struct Share {
    /// `repeatability`, `technician`, `interaction`, `reproducibility`, `check`, `part` or `total`.
    pub source: &'static str,
    /// Standard deviation, in the unit of the readings.
    pub standard_deviation: f64,
    /// Of the standard deviation of everything, %; absent where nothing varies.
    pub percent_of_variation: Option<f64>,
    /// Six standard deviations of the tolerance, %; absent without a tolerance.
    pub percent_of_tolerance: Option<f64>,
}

#[derive(Serialize)]
struct Document<'a> {
    check: &'static str,
    schema: u32,
    /// The figure of the checks in the book; null where the readings came as a table.
    figure: Option<StoredFigure>,
    unit: &'static str,
    tolerance: Option<f64>,
    shares: &'a [Share],
    #[serde(flatten)]
    study: &'a Study,
}

/// Readings, wherever they come from.
struct Readings {
    /// The file or the book.
    place: Place,
    readings: Vec<StudyReading>,
    figure: Option<StoredFigure>,
    unit: &'static str,
}

pub(crate) fn run(args: &StudyArgs, app: &mut App) -> Result<Finished, Error> {
    let given = match &args.from {
        Some(file) => from_table(file, app)?,
        None => from_book(args, app)?,
    };
    let setup = StudySetup {
        unit: given.unit,
        subject: if args.gauge_alone {
            Subject::GaugeAlone
        } else {
            Subject::WholeCheck
        },
        tolerance: args.tolerance,
        one_class: args.one_class,
    };
    let found = study(&given.readings, &setup).map_err(|e| {
        Error::input(
            given.place,
            Refusal {
                found: &e.found(),
                expected: &e.expected(),
                next: e.next(),
            },
        )
    })?;
    let shares = shares(&found, args.tolerance);
    let document = Document {
        check: "study",
        schema: 1,
        figure: given.figure,
        unit: given.unit,
        tolerance: args.tolerance,
        shares: &shares,
        study: &found,
    };
    let words = words::study(&found, &shares, given.unit, args.tolerance, &app.settings);
    let text = match given.figure {
        Some(figure) => format!("Of the checks in the book: {}\n{words}", figure.words()),
        None => words,
    };
    Finished::new(Exit::Done, &document, text)
}

fn from_table(file: &str, app: &mut App) -> Result<Readings, Error> {
    let bytes = read_file(file)?;
    let read = readings_csv::read(file, &bytes)?;
    for message in &read.messages {
        app.console.message(&message.say(&app.settings.units()));
    }
    Ok(Readings {
        place: Place::file(file),
        readings: read.readings,
        figure: None,
        unit: read.unit,
    })
}

fn from_book(args: &StudyArgs, app: &mut App) -> Result<Readings, Error> {
    let book = app.read_book()?;
    let gathered = from_book::gather(&book, &args.checks)?;
    for message in &gathered.messages {
        app.console.message(message);
    }
    if args.one_class && gathered.mixed_classes {
        return Err(Error::usage(
            "--one-class: found spindles of different taper, size or class in this study, expected one. \
             Leave the option out, or choose spindles of one class with --spindle",
        ));
    }
    Ok(Readings {
        place: Place::file(&book.path().display().to_string()),
        readings: gathered.readings,
        figure: Some(gathered.figure),
        unit: gathered.figure.unit(),
    })
}

fn shares(found: &Study, tolerance: Option<f64>) -> Vec<Share> {
    let parts = found.reported();
    let share = |source, variance: f64| Share {
        source,
        standard_deviation: variance.sqrt(),
        percent_of_variation: parts.percent_of_variation(variance),
        percent_of_tolerance: tolerance.map(|width| parts.percent_of_tolerance(variance, width)),
    };
    vec![
        share("repeatability", parts.repeatability),
        share("technician", parts.technician),
        share("interaction", parts.interaction),
        share("reproducibility", parts.reproducibility()),
        share("check", parts.check()),
        share("part", parts.part),
        share("total", parts.total()),
    ]
}
