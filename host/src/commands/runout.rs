//! `runout`: from a record or from readings of a dial by eye to TIR, eccentricity, spindle and bar, and a verdict.

use super::World;
use crate::args::runout::RunoutArgs;
use crate::cautions::{self, MachineState};
use crate::error::Error;
use crate::exit::Exit;
use crate::filing::{self, Filed, Record, json_of};
use crate::limits::LimitsFile;
use crate::output::Finished;
use crate::runout_begun::Begun;
use crate::runout_setup;
use crate::{runout_csv, runout_words, table};
use holdtrue_book::{CheckKind, RecordedKind};
use holdtrue_metrology::runout::{self, ANALYSIS_VERSION, RunoutRecord, RunoutResult};

pub(super) fn run(args: &RunoutArgs, world: &mut World) -> Result<Finished, Error> {
    if let Some(port) = &args.source.gauge {
        return super::runout_live::run(port, args, world);
    }
    let in_force = runout_setup::gather(args)?;
    runout_setup::require_uncertainty(&in_force)?;
    let input = Input::of(args)?;
    say_cautions(world);
    let begun = Begun {
        unit: args.unit,
        place: args.place.clone(),
        way: args.way,
        setup: in_force.setup,
    };
    let (record, messages) = input.record(&begun)?;
    for message in &messages {
        world.console.message(message);
    }
    let mut result = runout::analyse(&record, &begun.setup)
        .map_err(|e| runout_csv::refused(input.name(), &e))?;
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

/// What the readings come from.
enum Input<'a> {
    File { name: &'a str, bytes: Vec<u8> },
    Typed { text: &'a str },
}

impl<'a> Input<'a> {
    fn of(args: &'a RunoutArgs) -> Result<Self, Error> {
        if let Some(name) = &args.source.from {
            let bytes = table::read_file(name)?;
            return Ok(Self::File { name, bytes });
        }
        let text = args.source.readings.as_deref();
        text.map(|text| Self::Typed { text })
            .ok_or_else(|| Error::usage("nothing to work on: add --from FILE or --readings"))
    }

    fn name(&self) -> &str {
        match self {
            Self::File { name, .. } => name,
            Self::Typed { .. } => "--readings",
        }
    }

    fn record(&self, begun: &Begun) -> Result<(RunoutRecord, Vec<String>), Error> {
        match self {
            Self::File { name, bytes } => begun.from_file(name, bytes),
            Self::Typed { text } => Ok((begun.from_typed(text)?, Vec::new())),
        }
    }
}

/// Nothing is energised here and nobody is asked: they are printed and the work goes on.
fn say_cautions(world: &mut World) {
    world.console.say(cautions::FIRST_LINE);
    world.console.say(MachineState::Isolated.heading());
    for caution in MachineState::Isolated.cautions() {
        world.console.say(&format!("- {caution}"));
    }
    world.console.say("");
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
        record: match input {
            Input::File { name, bytes } => Record::File { name, bytes },
            Input::Typed { text } => Record::Typed { text },
        },
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
