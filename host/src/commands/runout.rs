//! `runout`: from a record or from readings of a dial by eye to TIR, eccentricity, spindle and bar, and a verdict.

use super::World;
use crate::acknowledge;
use crate::args::runout::RunoutArgs;
use crate::cautions::MachineState;
use crate::error::Error;
use crate::exit::Exit;
use crate::filing::{self, Filed, json_of};
use crate::input::Input;
use crate::limits::LimitsFile;
use crate::output::Finished;
use crate::runout_begun::Begun;
use crate::runout_doubts;
use crate::runout_setup;
use crate::{runout_csv, runout_words};
use holdtrue_book::{CheckKind, RecordedKind};
use holdtrue_metrology::runout::{self, ANALYSIS_VERSION, RunoutRecord, RunoutResult};

pub(super) fn run(args: &RunoutArgs, world: &mut World) -> Result<Finished, Error> {
    let mut args = runout_doubts::settle(args, &world.settings, &mut world.console)?;
    if let Some(port) = &args.source.gauge {
        return super::runout_live::run(port, &args, world);
    }
    let in_force = runout_setup::gather(&args, None)?;
    runout_setup::require_uncertainty(&in_force)?;
    let (from, readings) = (args.source.from.clone(), args.source.readings.clone());
    let input = Input::of(from.as_deref(), readings.as_deref())?;
    acknowledge::say(MachineState::Isolated, &mut world.console);
    let mut begun = Begun {
        unit: args.unit,
        place: args.place.clone(),
        way: args.way,
        setup: in_force.setup,
        calibration_sha256: None,
    };
    let (record, messages) = record_of(&input, &begun)?;
    for message in &messages {
        world.console.message(message);
    }
    let analysed = |begun: &Begun| {
        runout::analyse(&record, &begun.setup).map_err(|e| runout_csv::refused(input.name(), &e))
    };
    let mut result = analysed(&begun)?;
    if let Input::File { name, bytes } = &input {
        let World {
            settings, console, ..
        } = world;
        runout_doubts::settle_file(name, bytes, &mut args, &result, settings, console)?;
        if args.as_read && !begun.setup.as_read {
            begun.setup.as_read = true;
            result = analysed(&begun)?;
        }
    }
    result.notes.extend(messages);
    let text = runout_words::runout(&result, &world.settings);
    let finished = Finished::new(exit(&result), &result, text)?;
    if !args.store {
        return Ok(finished);
    }
    match store(&input, &begun, &in_force.limits, &result, world) {
        Ok(()) => Ok(finished),
        Err(error) => Ok(finished.cut_short(error)),
    }
}

fn record_of(input: &Input<'_>, begun: &Begun) -> Result<(RunoutRecord, Vec<String>), Error> {
    match input {
        Input::File { name, bytes } => begun.from_file(name, bytes),
        Input::Typed { text } => Ok((begun.from_typed(text)?, Vec::new())),
    }
}

/// What the shell is told.
pub(super) fn exit(result: &RunoutResult) -> Exit {
    result
        .verdict
        .as_ref()
        .map_or(Exit::Done, |verdict| verdict.outcome.into())
}

fn store(
    input: &Input<'_>,
    begun: &Begun,
    limits: &LimitsFile,
    result: &RunoutResult,
    world: &mut World,
) -> Result<(), Error> {
    let mut desk = world.desk()?;
    let visit = desk.visit_at_hand()?;
    let planes = result
        .planes
        .iter()
        .zip(1..)
        .map(|(plane, number)| Ok((RecordedKind::Plane, number, json_of(plane)?)));
    let filed = Filed {
        kind: CheckKind::Runout,
        state: result.state,
        setup: json_of(begun)?,
        limits,
        record: input.as_record(),
        parts: planes.collect::<Result<_, Error>>()?,
        analysis: format!("runout-{ANALYSIS_VERSION}"),
        outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
        result: json_of(result)?,
    };
    filing::file(&mut desk, visit, &filed)?;
    let book = desk.book.path().display();
    world
        .console
        .message(&format!("Stored in the open visit of {book}."));
    Ok(())
}
