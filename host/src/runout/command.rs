//! `runout`: from a record or from readings of a dial by eye to TIR, eccentricity, spindle and bar, and a verdict.

use crate::limits::LimitsFile;
use crate::runout::arguments::RunoutArgs;
use crate::runout::doubtful;
use crate::runout::setup;
use crate::runout::stored;
use crate::runout::stored::{Begun, to_file};
use crate::runout::{noted, readings_csv, words};
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::acknowledge;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::cautions::MachineState;
use crate::visits::checks::input::Input;
use crate::visits::checks::same_record::ToFile;
use crate::visits::checks::since;
use crate::visits::checks::stored_check;
use holdtrue_book::CheckKind;
use holdtrue_metrology::runout;
use holdtrue_metrology::runout::{RunoutRecord, RunoutResult};
use holdtrue_wording::Say;
use uuid::Uuid;

pub(crate) fn run(args: &RunoutArgs, app: &mut App) -> Result<Finished, Error> {
    let mut args = doubtful::settle(args, &app.settings, &mut app.console)?;
    if let Some(port) = &args.source.gauge {
        return crate::runout::live_command::run(port, &args, app);
    }
    let to = args
        .store
        .then(|| app.to_add_to(args.noted.visit.as_deref()));
    let spindle = to.transpose()?.and_then(|to| to.spindle);
    let mut conditions = setup::gather(&args, spindle.as_ref())?;
    let taper = conditions.limits.interface;
    doubtful::settle_depth(&mut args, taper, &app.settings, &mut app.console)?;
    conditions.setup.as_read = args.as_read;
    setup::require_uncertainty(&conditions)?;
    let (from, readings) = (args.source.from.clone(), args.source.readings.clone());
    let figures = noted::figures(&args)?;
    let input = Input::of(from.as_deref(), readings.as_deref(), figures)?;
    if args.source.tir.is_none() {
        acknowledge::say(MachineState::Isolated, &mut app.console);
    }
    let mut begun = Begun {
        unit: args.unit,
        place: args.place.clone(),
        way: args.way,
        planes: None,
        setup: conditions.setup,
        calibration_sha256: None,
    };
    let record = record_of(&input, &begun)?;
    for note in record.source_notes() {
        app.console.message(&note.say(&app.settings.units()));
    }
    let analysed = |begun: &Begun| {
        runout::analyse(&record, &begun.setup).map_err(|e| readings_csv::refused(input.name(), &e))
    };
    let mut result = analysed(&begun)?;
    if let Input::File { name, bytes } = &input {
        doubtful::settle_file(name, bytes, &mut args, &record, &result, taper, app)?;
        if args.as_read && !begun.setup.as_read {
            begun.setup.as_read = true;
            result = analysed(&begun)?;
        }
    }
    let text = words::runout(&result, &app.settings);
    let finished = Finished::new(exit(&result), &stored_check::document(&result)?, text)?;
    if !args.store {
        return Ok(finished);
    }
    match store(
        &args,
        &input,
        &record,
        &begun,
        &conditions.limits,
        &result,
        app,
    ) {
        Ok((writer, visit)) => Ok(since::tell(
            finished,
            &writer.book,
            visit,
            CheckKind::Runout,
            app,
        )),
        Err(error) => Ok(finished.cut_short(error)),
    }
}

fn record_of(input: &Input<'_>, begun: &Begun) -> Result<RunoutRecord, Error> {
    match input {
        Input::File { name, bytes } => begun.from_file(name, bytes),
        Input::Typed { text, figures } => begun.from_noted(*text, figures),
    }
}

/// What the shell is told.
pub(crate) fn exit(result: &RunoutResult) -> Exit {
    result
        .verdict
        .as_ref()
        .map_or(Exit::Done, |verdict| verdict.outcome.into())
}

fn store(
    args: &RunoutArgs,
    input: &Input<'_>,
    record: &RunoutRecord,
    begun: &Begun,
    limits: &LimitsFile,
    result: &RunoutResult,
    app: &mut App,
) -> Result<(BookWriter, Uuid), Error> {
    let to = ToFile {
        kind: CheckKind::Runout,
        input,
        readings: &record.values_um(),
        as_read: args.as_read,
        read_back: &stored::readings,
        same_parts: &|_, _| Ok(false),
    };
    stored_check::file_as_noted(&args.noted, "indicator", &to, app, |gauge| {
        to_file(begun, limits, result, input.as_record(), gauge)
    })
}
