//! `grip`: from a record or from readings noted by hand to clamps, figures and a verdict.

use super::World;
use crate::acknowledge;
use crate::args::grip::GripArgs;
use crate::cautions::MachineState;
use crate::desk::Desk;
use crate::error::{Error, Place, Refusal};
use crate::exit::Exit;
use crate::filing::{self, Filed, Record, json_of};
use crate::grip_setup::{self, InForce};
use crate::output::Finished;
use crate::settings::ForceUnit;
use crate::{force_csv, grip_words, readings, table};
use holdtrue_book::{CheckKind, RecordedKind, SpindleHeader};
use holdtrue_metrology::grip::result::{ANALYSIS_VERSION, GripResult};
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_metrology::grip::{self, GripError};
use holdtrue_metrology::units::NEWTONS_PER_POUND_FORCE;
use serde_json::json;
use uuid::Uuid;

pub(super) fn run(args: &GripArgs, world: &mut World) -> Result<Finished, Error> {
    if let Some(port) = &args.source.gauge {
        return super::grip_live::run(port, args, world);
    }
    let visit = if args.store {
        Some(Filing::open(world)?)
    } else {
        None
    };
    let in_force = grip_setup::gather(
        args,
        visit.as_ref().and_then(|filing| filing.spindle.as_ref()),
    )?;
    grip_setup::require_uncertainty(&in_force)?;
    let input = Input::of(args)?;
    acknowledge::say(MachineState::Live, world);
    let result = match &input {
        Input::File { name, bytes } => from_file(name, bytes, args, &in_force, world)?,
        Input::Typed { text, factor } => from_readings(text, *factor, &in_force)?,
    };
    let text = grip_words::grip(&result, &world.settings);
    let finished = Finished::new(exit(&result, &in_force), &result, text)?;
    let Some(mut filing) = visit else {
        return Ok(finished);
    };
    match filing.store(&input, args.clamps, &in_force, &result) {
        Ok(()) => {
            let book = filing.desk.book.path().display();
            world
                .console
                .message(&format!("Stored in the open visit of {book}."));
            Ok(finished)
        }
        Err(error) => Ok(finished.cut_short(error)),
    }
}

/// What the forces come from.
enum Input<'a> {
    File { name: &'a str, bytes: Vec<u8> },
    Typed { text: &'a str, factor: f64 },
}

impl<'a> Input<'a> {
    fn of(args: &'a GripArgs) -> Result<Self, Error> {
        if let Some(name) = &args.source.from {
            let bytes = table::read_file(name)?;
            return Ok(Self::File { name, bytes });
        }
        let text = args.source.readings.as_deref();
        let text =
            text.ok_or_else(|| Error::usage("nothing to work on: add --from FILE or --readings"))?;
        let factor = match args.unit {
            Some(ForceUnit::Kilonewton) => 1000.0,
            Some(ForceUnit::PoundForce) => NEWTONS_PER_POUND_FORCE,
            Some(ForceUnit::Newton) => 1.0,
            None => return Err(Error::usage("--readings needs --unit kN, N or lbf")),
        };
        Ok(Self::Typed { text, factor })
    }
}

/// The open visit a result is to be put into.
struct Filing {
    desk: Desk,
    visit: Uuid,
    spindle: Option<SpindleHeader>,
}

impl Filing {
    fn open(world: &World) -> Result<Self, Error> {
        let mut desk = world.desk()?;
        let visit = desk.visit_at_hand()?;
        let spindle = desk.spindle_of(visit)?;
        Ok(Self {
            desk,
            visit,
            spindle,
        })
    }

    fn store(
        &mut self,
        input: &Input<'_>,
        clamps: Option<u32>,
        in_force: &InForce,
        result: &GripResult,
    ) -> Result<(), Error> {
        let parts = result
            .clamps
            .iter()
            .map(|clamp| Ok((RecordedKind::Clamp, clamp.number, json_of(clamp)?)));
        let filed = Filed {
            kind: CheckKind::Grip,
            state: result.state,
            setup: json_of(&json!({ "clamps": clamps, "setup": in_force.setup }))?,
            limits: &in_force.limits,
            record: match input {
                Input::File { name, bytes } => Record::File { name, bytes },
                Input::Typed { text, .. } => Record::Typed { text },
            },
            parts: parts.collect::<Result<_, Error>>()?,
            analysis: format!("grip-{ANALYSIS_VERSION}"),
            outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
            result: json_of(result)?,
        };
        filing::file(&mut self.desk, self.visit, &filed).map(|_check| ())
    }
}

fn from_file(
    name: &str,
    bytes: &[u8],
    args: &GripArgs,
    in_force: &InForce,
    world: &mut World,
) -> Result<GripResult, Error> {
    let record = force_csv::read(name, bytes)?;
    for note in record.source_notes() {
        world.console.message(note);
    }
    let analysed = match args.clamps {
        Some(_) => Watch::replay(&record, args.clamps, in_force.setup.clone())
            .map_err(GripError::from)
            .and_then(|watch| watch.finish()),
        None => grip::analyse(&record, &in_force.setup),
    };
    analysed.map_err(|e| refused(name, &e))
}

fn from_readings(text: &str, factor: f64, in_force: &InForce) -> Result<GripResult, Error> {
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
pub(super) fn exit(result: &GripResult, in_force: &InForce) -> Exit {
    match &result.verdict {
        Some(verdict) => verdict.outcome.into(),
        None if result.statistics.is_none() && !in_force.setup.limits.is_empty() => Exit::Undecided,
        None => Exit::Done,
    }
}
