//! `runout`: from a record or from readings of a dial by eye to TIR, eccentricity, spindle and bar, and a verdict.

use crate::limits::LimitsFile;
use crate::runout::arguments::RunoutArgs;
use crate::runout::doubtful;
use crate::runout::setup;
use crate::runout::setup::RunoutConditions;
use crate::runout::stored;
use crate::runout::stored::{Begun, to_file};
use crate::runout::{noted, readings_csv, words};
use crate::tables::Opened;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::acknowledge;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::cautions::MachineState;
use crate::visits::checks::check_inputs;
use crate::visits::checks::in_file;
use crate::visits::checks::input::Input;
use crate::visits::checks::same_record::ToFile;
use crate::visits::checks::since;
use crate::visits::checks::stored_check;
use crate::visits::gauge_entry;
use crate::visits::gauge_entry::INDICATOR;
use holdtrue_book::CheckKind;
use holdtrue_metrology::grip::setup::Standing;
use holdtrue_metrology::runout;
use holdtrue_metrology::runout::nose::BarTurns;
use holdtrue_metrology::runout::remarks::CertificateGap;
use holdtrue_metrology::runout::{RunoutRecord, RunoutResult, RunoutSetup};
use holdtrue_wording::Say;
use uuid::Uuid;

pub(crate) fn run(args: &RunoutArgs, app: &mut App) -> Result<Finished, Error> {
    let mut args = doubtful::settle(args, &app.settings, &mut app.console)?;
    if let Some(port) = &args.source.gauge {
        return crate::runout::live_command::run(port, &args, app);
    }
    let (from, readings) = (args.source.from.clone(), args.source.readings.clone());
    let opened = from.as_deref().map(|name| Opened::of(name, false));
    let opened = opened.transpose()?;
    let begins = opened.as_ref().map(Opened::begins);
    let book = from
        .as_deref()
        .filter(|_| begins.is_some_and(in_file::is_book));
    let stored = stored(book, &args)?;
    let to = args
        .store
        .then(|| app.to_add_to(args.noted.visit.as_deref()));
    let to = to.transpose()?.unwrap_or_default();
    to.warn(&mut app.console);
    let mut conditions = setup::gather(&args, to.spindle.as_ref())?;
    if let (Some(serial), Some(indicator)) = (
        args.noted.read_on.as_deref(),
        &mut conditions.setup.indicator,
    ) && let Some(book) = app.book_if_there()?
        && let Some(Standing::Lapsed) =
            gauge_entry::why_no_verdict(&book, serial, INDICATOR, to.day.as_ref())?
    {
        indicator.out_of_force = Some(CertificateGap::Lapsed);
    }
    let taper = conditions.limits.interface;
    doubtful::settle_depth(&mut args, taper, &app.settings, &mut app.console)?;
    conditions.setup.as_read = args.as_read;
    let mut begun = begun(&args, &conditions, stored.as_ref().map(|(begun, _)| begun));
    setup::require_uncertainty(&begun.setup)?;
    let input = match (from.as_deref(), opened) {
        (Some(name), Some(opened)) => Input::File {
            name,
            bytes: match stored {
                Some(_) => Vec::new(),
                None => opened.whole(name)?,
            },
        },
        _ => Input::noted(readings.as_deref(), noted::figures(&args)?)?,
    };
    if args.source.tir.is_none() {
        acknowledge::say(MachineState::Isolated, &mut app.console);
    }
    let is_stored = stored.is_some();
    let record = match stored {
        Some((_begun, record)) => record,
        None => record_of(&input, &begun)?,
    };
    for note in record.source_notes() {
        app.console.message(&note.say(&app.settings.units()));
    }
    let analysed = |begun: &Begun| {
        runout::analyse(&record, &begun.setup).map_err(|e| readings_csv::refused(input.name(), &e))
    };
    let mut result = analysed(&begun)?;
    if let (Input::File { name, bytes }, false) = (&input, is_stored) {
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

/// What the analysis is told. A check out of a book brings what it was begun with; what the command line says comes before.
fn begun(args: &RunoutArgs, conditions: &RunoutConditions, stored: Option<&Begun>) -> Begun {
    let said = &conditions.setup;
    let setup = stored.map_or_else(
        || said.clone(),
        |stored| {
            let before = &stored.setup;
            let indicator = &args.indicator;
            let lever_said = indicator.lever_deg.is_some() || indicator.lever_by_eye;
            let limits = match said.limits.is_empty() {
                true => &before.limits,
                false => &said.limits,
            };
            RunoutSetup {
                state: said.state.or(before.state),
                limits: limits.clone(),
                indicator: said.indicator.clone().or_else(|| before.indicator.clone()),
                lever: if lever_said { said.lever } else { before.lever },
                square_to_wall: said.square_to_wall.or(before.square_to_wall),
                position_error_deg: indicator
                    .position_error_deg
                    .unwrap_or(before.position_error_deg),
                bar_tir_um: said.bar_tir_um.or(before.bar_tir_um),
                bar_turns: match said.bar_turns {
                    BarTurns::NotKnown => before.bar_turns,
                    known => known,
                },
                as_read: said.as_read || before.as_read,
                ..before.clone()
            }
        },
    );
    Begun {
        unit: args.unit,
        place: args.place.clone(),
        way: args.way,
        planes: None,
        setup,
        calibration_sha256: None,
    }
}

/// The check in the file, where the file is a book: what it was begun with, and its readings.
fn stored(book: Option<&str>, args: &RunoutArgs) -> Result<Option<(Begun, RunoutRecord)>, Error> {
    let visit = args.noted.visit.as_deref();
    let meant = in_file::meant(book, CheckKind::Runout, &args.which, visit, args.store)?;
    let (Some(name), Some((book, check))) = (book, meant) else {
        return Ok(None);
    };
    let begun: Begun = check_inputs::read(&book, &check.start)?;
    let readings = stored::readings_of(&book, &check, &begun)?;
    readings
        .ok_or_else(|| in_file::none_in(name, CheckKind::Runout, args.which.set))
        .map(|(record, _file)| Some((begun, record)))
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
        same_parts: &|book, check| stored::same_planes(book, check, record),
    };
    stored_check::file_as_noted(&args.noted, INDICATOR, &to, app, |gauge| {
        to_file(begun, limits, result, input.as_record(), gauge)
    })
}
