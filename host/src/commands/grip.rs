//! `grip`: from a record or from readings noted by hand to clamps, figures and a verdict.

use super::World;
use crate::args::grip::GripArgs;
use crate::cautions::{self, MachineState};
use crate::error::{Error, Place, Refusal};
use crate::exit::Exit;
use crate::grip_setup::{self, InForce};
use crate::output::Finished;
use crate::settings::ForceUnit;
use crate::{force_csv, grip_words, readings, table};
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::{self, GripError};
use holdtrue_metrology::units::NEWTONS_PER_POUND_FORCE;

pub(super) fn run(args: &GripArgs, world: &mut World) -> Result<Finished, Error> {
    let in_force = grip_setup::gather(args, None)?;
    grip_setup::require_uncertainty(&in_force)?;
    say_cautions(world);
    let result = match (&args.source.from, &args.source.readings) {
        (Some(name), _) => from_file(name, args, &in_force, world)?,
        (None, Some(text)) => from_readings(text, args, &in_force)?,
        (None, None) => {
            return Err(Error::usage(
                "nothing to work on: add --from FILE or --readings",
            ));
        }
    };
    let text = grip_words::grip(&result, &world.settings);
    Finished::new(exit(&result, &in_force), &result, text)
}

/// Nothing is energised here and nobody is asked: they are printed and the work goes on.
fn say_cautions(world: &mut World) {
    world.console.say(cautions::FIRST_LINE);
    world.console.say(MachineState::Live.heading());
    for caution in MachineState::Live.cautions() {
        world.console.say(&format!("- {caution}"));
    }
    world.console.say("");
}

fn from_file(
    name: &str,
    args: &GripArgs,
    in_force: &InForce,
    world: &mut World,
) -> Result<GripResult, Error> {
    let bytes = table::read_file(name)?;
    let record = force_csv::read(name, &bytes)?;
    for note in record.source_notes() {
        world.console.message(note);
    }
    let record = match args.clamps {
        Some(_) => record,
        None => record,
    };
    grip::analyse(&record, &in_force.setup).map_err(|e| refused(name, &e))
}

fn from_readings(text: &str, args: &GripArgs, in_force: &InForce) -> Result<GripResult, Error> {
    let factor = match args.unit {
        Some(ForceUnit::Kilonewton) => 1000.0,
        Some(ForceUnit::PoundForce) => NEWTONS_PER_POUND_FORCE,
        Some(ForceUnit::Newton) => 1.0,
        None => return Err(Error::usage("--readings needs --unit kN, N or lbf")),
    };
    let forces_n = readings::read("--readings", text, factor)?;
    grip::analyse_readings(&forces_n, &in_force.setup).map_err(|e| refused("--readings", &e))
}

/// What the analysis cannot take, as the program says it.
fn refused(name: &str, error: &GripError) -> Error {
    let input = |found: &str, expected: &str, next: &str| {
        Error::input(
            Place::file(name),
            Refusal {
                found,
                expected,
                next,
            },
        )
    };
    match error {
        GripError::Discard { .. } => Error::usage(format!("--discard: {error}")),
        GripError::NoClamp(why) => input(
            &format!("no clamp ({why})"),
            "a record with the gauge free, clamped and free again",
            "Is it the right file, and the right unit?",
        ),
        other => input(
            &other.to_string(),
            "settled forces",
            "Correct it and try again.",
        ),
    }
}

/// What the shell is told: the verdict; undecided too where a limit is set and no clamp counts.
fn exit(result: &GripResult, in_force: &InForce) -> Exit {
    match &result.verdict {
        Some(verdict) => verdict.outcome.into(),
        None if result.statistics.is_none() && !in_force.setup.limits.is_empty() => Exit::Undecided,
        None => Exit::Done,
    }
}
