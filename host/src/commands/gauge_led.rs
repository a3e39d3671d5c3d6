//! Readings taken one after the other on a bench. In: steps, a gauge, a table. Out: the table with a row for every step.

use super::World;
use crate::args::gauge::CalibrateArgs;
use crate::error::{Error, Place, Refusal};
use crate::gauge::session::Session;
use crate::kept_table::KeptTable;
use crate::live::bench::{Answer, Bench};
use crate::live::voice::Voice;
use std::path::PathBuf;

/// What the reference shows may differ from what was asked for by this share: nobody sets a press exactly.
const NEAR: f64 = 0.2;

/// One reading to take.
#[derive(Clone, Debug)]
pub(super) struct Step {
    /// What the person is to do.
    pub prompt: String,
    /// Load or height asked for, in the unit of the table.
    pub nominal: f64,
    /// Nothing is on the gauge.
    pub zero: bool,
    /// How long it is held before it is read, s.
    pub hold_s: Option<f64>,
    /// Cells of the row before load and reading, and after.
    pub before: String,
    /// After.
    pub after: String,
}

/// How numbers are typed and said.
pub(super) struct Unit<'a> {
    /// A reference shows what it is, so that it can be typed.
    pub is_shown: bool,
    /// One of it in the unit of the table.
    pub factor: f64,
    /// A load or height, for the person.
    pub say: &'a dyn Fn(f64) -> String,
    /// A reading, for the person.
    pub say_reading: &'a dyn Fn(f64) -> String,
}

/// Takes the steps that the table does not have yet.
///
/// # Errors
/// The gauge goes away, somebody interrupts, the table cannot be written; what was kept stays.
pub(super) fn take(
    bench: &mut Bench<'_>,
    steps: &[Step],
    done: usize,
    table: &mut KeptTable,
    unit: &Unit<'_>,
    voice: &mut dyn Voice,
) -> Result<(), Error> {
    voice.say(if unit.is_shown {
        "Enter when it stands there, or type what the reference shows; b takes the last reading back."
    } else {
        "Enter when it stands there; b takes the last reading back."
    });
    let mut at = done;
    while let Some(step) = steps.get(at) {
        voice.say(&format!("{} of {}  {}", at + 1, steps.len(), step.prompt));
        let value = match bench.answer()? {
            Answer::Back if at == 0 => {
                voice.say("  nothing was read yet.");
                continue;
            }
            Answer::Back => {
                table.take_back()?;
                at -= 1;
                voice.say("  the last reading is taken back.");
                continue;
            }
            Answer::There => step.nominal,
            Answer::Shows(typed) => match shown(&typed, step, unit) {
                Ok(value) => value,
                Err(why) => {
                    voice.say(&format!("  {why}"));
                    continue;
                }
            },
        };
        let reading = match step.hold_s {
            Some(hold_s) => bench.hold(hold_s, voice)?,
            None => bench.read(voice)?,
        };
        if step.zero {
            bench.zero = Some(reading);
        }
        table.add(&format!("{},{value},{reading}{}", step.before, step.after))?;
        voice.say(&format!(
            "  kept: {}, reading {}",
            (unit.say)(value),
            (unit.say_reading)(reading)
        ));
        at += 1;
    }
    Ok(())
}

fn shown(typed: &str, step: &Step, unit: &Unit<'_>) -> Result<f64, String> {
    let number = crate::args::parse::finite(typed)?;
    let value = number * unit.factor;
    if step.zero {
        return Err("nothing is on the gauge now: press Enter alone".to_owned());
    }
    if !unit.is_shown {
        return Err("the blocks are what they are: press Enter alone, or b".to_owned());
    }
    if (value - step.nominal).abs() > NEAR * step.nominal.abs() {
        return Err(format!(
            "found {}, expected about {}: is it the right unit?",
            (unit.say)(value),
            (unit.say)(step.nominal)
        ));
    }
    Ok(value)
}

/// A broken-off table says how to go on with it.
pub(super) fn kept_so_far(error: Error, table: &str) -> Error {
    Error {
        message: format!(
            "{}. What was kept is in {table}: the same command with --keep {table} goes on there, \
             and --from {table} computes what there is",
            error.message.trim_end_matches('.')
        ),
        ..error
    }
}

/// Where the readings are kept: as told, or a name of its own.
fn kept_path(args: &CalibrateArgs, what: &str, session: &Session) -> PathBuf {
    match &args.keep {
        Some(named) => PathBuf::from(named),
        None => {
            let day = jiff::Zoned::now().date();
            PathBuf::from(format!("{what}-{}-{day}.csv", session.hello().serial))
        }
    }
}

/// What a table of readings is.
pub(super) struct Kind {
    /// First part of its name, where nobody named it.
    pub what: &'static str,
    /// Its first line.
    pub header: &'static str,
}

/// A new table; or the one that was named, to be gone on with, and the rows it has.
///
/// # Errors
/// It cannot be written, or its rows are not those of the plan.
pub(super) fn begin<R>(
    kind: &Kind,
    args: &CalibrateArgs,
    session: &Session,
    plan: &[Step],
    read: impl Fn(&str, &[u8]) -> Result<Vec<R>, Error>,
    is_planned: impl Fn(&R, &Step) -> bool,
    world: &mut World,
) -> Result<(KeptTable, Vec<R>), Error> {
    let path = kept_path(args, kind.what, session);
    if args.keep.is_none() || !path.exists() {
        let table = KeptTable::begin(&path, kind.header)?;
        world
            .console
            .say(&format!("The readings are kept in {}.", table.name()));
        return Ok((table, Vec::new()));
    }
    let table = KeptTable::go_on(&path)?;
    let bytes = table.bytes();
    // A table with its header alone has nothing to read yet.
    let rows = if has_rows(&bytes) {
        read(&table.name(), &bytes)?
    } else {
        Vec::new()
    };
    for (number, row) in (1..).zip(&rows) {
        match plan.get(number - 1) {
            Some(step) if is_planned(row, step) => {}
            Some(step) => return Err(other_plan(&table.name(), number, &step.prompt)),
            None => return Err(other_plan(&table.name(), number, "no more readings")),
        }
    }
    world.console.say(&format!(
        "{} of {} readings are in {}: it goes on from there.",
        rows.len(),
        plan.len(),
        table.name()
    ));
    Ok((table, rows))
}

/// Whether a table has more than its header and remarks.
fn has_rows(bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes);
    text.lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
        .nth(1)
        .is_some()
}

/// The table was begun with other options.
fn other_plan(table: &str, reading: usize, planned: &str) -> Error {
    Error::input(
        Place::file(table),
        Refusal {
            found: &format!("reading {reading} taken for something else"),
            expected: planned,
            next: "Give the options it was begun with, or begin a new table with --keep.",
        },
    )
}
