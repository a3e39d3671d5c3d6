//! `gauge calibrate`: a calibration made from readings under known loads. In: a table brought from the press, or a gauge in
//! it. Out: curve, errors, uncertainty, class or what it lacks; in gauge and book where a gauge is named.

use crate::calibration::arguments::CalibrateArgs;
use crate::calibration::ask;
use crate::calibration::certificate;
use crate::calibration::certificate::{Doubt, Draft};
use crate::calibration::certificate_command::{draft, usage};
use crate::calibration::readings_csv;
use crate::calibration::readings_csv::Read;
use crate::calibration::words;
use crate::calibration::write;
use crate::calibration::write::{Ask, Written};
use crate::calibration::{indicator_command, press};
use crate::connection::connect;
use crate::tables::read_file;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::exit::Exit;
use holdtrue_metrology::calibration::{
    Calibration, CalibrationError, CalibrationSetup, Implausible, Preload, calibrate, implausible,
};
use holdtrue_protocol::message::CalibrationRecord;
use holdtrue_wording::Say;
use serde::Serialize;

#[derive(Serialize)]
struct Document<'a> {
    check: &'static str,
    schema: u32,
    #[serde(flatten)]
    calibration: &'a Calibration,
    kept: Option<&'a str>,
    written: Option<&'a Written>,
}

pub(crate) fn run(args: &CalibrateArgs, app: &mut App) -> Result<Finished, Error> {
    if args.indicator {
        return indicator_command::run(args, app);
    }
    match (&args.from, &args.gauge) {
        (Some(file), _) => from_table(file, args, app),
        (None, Some(port)) if !args.loads_n.is_empty() => press::run(port, args, app),
        _ => Err(Error::usage(
            "gauge calibrate computes a table brought from the press: --from FILE with the columns run, direction, load_n, \
             reading_counts; or it reads a gauge in the press: --gauge PORT --loads-n 2000,4000,…; or --indicator",
        )),
    }
}

fn from_table(file: &str, args: &CalibrateArgs, app: &mut App) -> Result<Finished, Error> {
    let bytes = read_file(file)?;
    let found = evaluate(file, &bytes, args, app, &mut write::on_terminal)?;
    let written = match &args.gauge {
        Some(port) => {
            let record = record(file, args, &found, app, &mut write::on_terminal)?;
            app.console.say(&words::calibration(&found, &app.settings));
            app.console.say("");
            Some(write::write(
                &record,
                &mut connect(port)?,
                app,
                &mut write::on_terminal,
            )?)
        }
        None => None,
    };
    finished(&found, written.as_ref(), None, app)
}

/// The calibration of a table, the same whoever brought it.
pub(crate) fn evaluate(
    file: &str,
    bytes: &[u8],
    args: &CalibrateArgs,
    app: &mut App,
    put: Ask<'_>,
) -> Result<Calibration, Error> {
    let read = readings_csv::read(file, bytes)?;
    for message in &read.messages {
        app.console.message(&message.say(&app.settings.units()));
    }
    let refused = |e: CalibrationError| {
        let refusal = Refusal {
            found: &e.found(),
            expected: e.expected(),
            next: e.next(),
        };
        Error::input(read.place(file, &e), refusal)
    };
    let points = read.points();
    let found = calibrate(&points, &setup(args, read.preloads())).map_err(refused)?;
    let doubts = implausible(&points, args.reference_percent).map_err(refused)?;
    let told = |one: &&Implausible| matches!(one, Implausible::RunsAlike { .. });
    let (told, asked): (Vec<&Implausible>, Vec<&Implausible>) = doubts
        .iter()
        // Where nothing is written, a table that was made up is only computed.
        .partition(|one| told(one) && args.gauge.is_none());
    for one in told {
        app.console.message(&doubt(file, &read, one).words());
    }
    let asked: Vec<Doubt> = asked
        .into_iter()
        .map(|one| doubt(file, &read, one))
        .collect();
    ask::ask(&asked, app, put)?;
    Ok(found)
}

/// What is asked about a reading, a load or the reference.
fn doubt(file: &str, read: &Read, implausible: &Implausible) -> Doubt {
    let (key, place, found, expected) = match *implausible {
        Implausible::ReadingApart {
            run,
            direction,
            load_n,
            counts,
            expected_counts,
        } => (
            "from",
            Some(read.place_of(file, run, direction, load_n)),
            format!(
                "{counts:.0} counts at {} N in run {run}, the zero taken off",
                to_six(load_n)
            ),
            format!("about {expected_counts:.0} by the other readings"),
        ),
        Implausible::RunsAlike { runs } => (
            "from",
            Some(Place::file(file).column("reading_counts")),
            format!("the readings of run 1 once more, digit by digit, in all {runs} runs"),
            "readings that differ by the gauge's noise: was one run copied? Copied, it says nothing of how the gauge repeats"
                .to_owned(),
        ),
        Implausible::LoadsLow { highest_n, least_n } => (
            "from",
            Some(Place::file(file).column("load_n")),
            format!("{} N as the highest load", to_six(highest_n)),
            format!("{least_n} N or more (are the loads in kN?)"),
        ),
        Implausible::Reference {
            percent,
            between: [best, poorest],
        } => (
            "reference_percent",
            None,
            format!("{percent} %"),
            format!("{best} to {poorest} % of the load (k = 2)"),
        ),
    };
    Doubt {
        place,
        ..Doubt::new(key, found, expected)
    }
}

/// A number as it would be written down: what a change of units left behind the sixth digit is none of it.
fn to_six(number: f64) -> f64 {
    format!("{number:.5e}").parse().unwrap_or(number)
}

/// How the command ends; where something was written, the calibration has been said before.
pub(crate) fn finished(
    found: &Calibration,
    written: Option<&Written>,
    kept: Option<&str>,
    app: &App,
) -> Result<Finished, Error> {
    let document = Document {
        check: "gauge-calibrate",
        schema: 1,
        calibration: found,
        kept,
        written,
    };
    let last = write::words(written);
    let text = match written {
        Some(_) => last,
        None => format!("{}\n{last}", words::calibration(found, &app.settings)),
    };
    Finished::new(Exit::Done, &document, text)
}

fn setup(args: &CalibrateArgs, preloads: Vec<Preload>) -> CalibrationSetup {
    let usual = CalibrationSetup::default();
    CalibrationSetup {
        reference_expanded_percent: args.reference_percent,
        resolution_counts: args.resolution_counts,
        preloads,
        preload_dwell_s: args.preload_dwell_s,
        through_own_knob_and_shank: args.own_knob,
        degrees: args.degree.map_or(usual.degrees, |degree| [degree; 2]),
    }
}

/// What the gauge is to store.
pub(crate) fn record(
    file: &str,
    args: &CalibrateArgs,
    found: &Calibration,
    app: &mut App,
    ask: Ask<'_>,
) -> Result<CalibrationRecord, Error> {
    require_reference(args)?;
    require_enough(file, found)?;
    let zero = found.zero_counts.round();
    #[allow(
        clippy::cast_possible_truncation,
        reason = "a reading of the converter has 24 bits; beyond, it saturates and the curve is refused"
    )]
    let zero_counts = zero as i32;
    let entered = certificate::enter(&Draft {
        span_n: Some(found.span_n),
        zero_counts,
        expanded_percent: found.expanded_percent,
        expanded_n: Some(found.expanded_n),
        coefficients: found.inverse.coefficients.clone(),
        ..draft(&args.named)
    });
    let entered = entered.map_err(|e| usage(&e))?;
    ask::ask(&entered.doubts, app, ask)?;
    Ok(entered.record)
}

/// A gauge carries no calibration of which nobody knows whether it repeats.
fn require_enough(file: &str, found: &Calibration) -> Result<(), Error> {
    if found.lacking.is_empty() {
        return Ok(());
    }
    let refusal = Refusal {
        found: &format!("a calibration without {}", found.lacking.join(" and ")),
        expected: "two runs upward in one position and a zero before and after, at least",
        next: "Nothing was written. Take what is missing, and give it runs of its own in the table.",
    };
    Err(Error::input(Place::file(file), refusal))
}

/// A record without the uncertainty of its reference decides nothing.
pub(crate) fn require_reference(args: &CalibrateArgs) -> Result<(), Error> {
    match args.reference_percent {
        Some(_) => Ok(()),
        None => Err(Error::usage(
            "--reference-percent: found nothing, expected the expanded uncertainty (k = 2) of the reference cell. \
             A verdict needs it: take it from the cell's certificate",
        )),
    }
}
