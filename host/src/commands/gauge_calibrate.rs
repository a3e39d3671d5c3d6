//! `gauge calibrate`: a calibration made from readings under known loads. In: a table brought from the press, or a gauge in
//! it. Out: curve, errors, uncertainty, class or what it lacks; in gauge and book where a gauge is named.

use super::World;
use super::doubt;
use super::gauge::connect;
use super::gauge_certificate::{draft, usage};
use super::gauge_write::{self, Ask, Written};
use super::{gauge_indicator, gauge_press};
use crate::args::gauge::CalibrateArgs;
use crate::calibrate_csv;
use crate::calibrate_words;
use crate::certificate::{self, Draft};
use crate::error::{Error, Place, Refusal};
use crate::exit::Exit;
use crate::output::Finished;
use crate::table::read_file;
use holdtrue_metrology::calibration::{Calibration, CalibrationSetup, Preload, calibrate};
use holdtrue_protocol::message::CalibrationRecord;
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

pub(super) fn run(args: &CalibrateArgs, world: &mut World) -> Result<Finished, Error> {
    if args.indicator {
        return gauge_indicator::run(args, world);
    }
    match (&args.from, &args.gauge) {
        (Some(file), _) => from_table(file, args, world),
        (None, Some(port)) if !args.loads_n.is_empty() => gauge_press::run(port, args, world),
        _ => Err(Error::usage(
            "gauge calibrate computes a table brought from the press: --from FILE with the columns run, direction, load_n, \
             reading_counts; or it reads a gauge in the press: --gauge PORT --loads-n 2000,4000,…; or --indicator",
        )),
    }
}

fn from_table(file: &str, args: &CalibrateArgs, world: &mut World) -> Result<Finished, Error> {
    let found = evaluate(file, &read_file(file)?, args, world)?;
    let written = match &args.gauge {
        Some(port) => {
            let record = record(file, args, &found, world, &mut gauge_write::on_terminal)?;
            world
                .console
                .say(&calibrate_words::calibration(&found, &world.settings));
            world.console.say("");
            Some(gauge_write::write(
                &record,
                &mut connect(port)?,
                world,
                &mut gauge_write::on_terminal,
            )?)
        }
        None => None,
    };
    finished(&found, written.as_ref(), None, world)
}

/// The calibration of a table, the same whoever brought it.
pub(super) fn evaluate(
    file: &str,
    bytes: &[u8],
    args: &CalibrateArgs,
    world: &mut World,
) -> Result<Calibration, Error> {
    let read = calibrate_csv::read(file, bytes)?;
    for message in &read.messages {
        world.console.message(message);
    }
    calibrate(&read.points(), &setup(args, read.preloads())).map_err(|e| {
        let refusal = Refusal {
            found: &e.found(),
            expected: e.expected(),
            next: e.next(),
        };
        Error::input(read.place(file, &e), refusal)
    })
}

/// How the command ends; where something was written, the calibration has been said before.
pub(super) fn finished(
    found: &Calibration,
    written: Option<&Written>,
    kept: Option<&str>,
    world: &World,
) -> Result<Finished, Error> {
    let document = Document {
        check: "gauge-calibrate",
        schema: 1,
        calibration: found,
        kept,
        written,
    };
    let last = gauge_write::words(written);
    let text = match written {
        Some(_) => last,
        None => format!(
            "{}\n{last}",
            calibrate_words::calibration(found, &world.settings)
        ),
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
pub(super) fn record(
    file: &str,
    args: &CalibrateArgs,
    found: &Calibration,
    world: &mut World,
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
    doubt::ask(&entered.doubts, world, ask)?;
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
pub(super) fn require_reference(args: &CalibrateArgs) -> Result<(), Error> {
    match args.reference_percent {
        Some(_) => Ok(()),
        None => Err(Error::usage(
            "--reference-percent: found nothing, expected the expanded uncertainty (k = 2) of the reference cell. \
             A verdict needs it: take it from the cell's certificate",
        )),
    }
}
