//! `grip`: from a record or from readings noted by hand to clamps, figures and a verdict.

use crate::grip::arguments::GripArgs;
use crate::grip::doubtful;
use crate::grip::force_csv::Rows;
use crate::grip::setup;
use crate::grip::setup::GripConditions;
use crate::grip::stored as grip_stored;
use crate::grip::stored::{Forces, GripInputs, StoredGrip};
use crate::grip::{force_csv, noted, words};
use crate::limits::LimitsFile;
use crate::tables::Opened;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::doubts;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::exit::Exit;
use crate::terminal::working::Working;
use crate::visits::acknowledge;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::cautions::MachineState;
use crate::visits::checks::in_file;
use crate::visits::checks::input::Input;
use crate::visits::checks::same_record::ToFile;
use crate::visits::checks::since;
use crate::visits::checks::stored_check;
use crate::visits::gauge_entry;
use crate::visits::gauge_entry::FORCE_GAUGE;
use holdtrue_book::CheckKind;
use holdtrue_metrology::grip::GripError;
use holdtrue_metrology::grip::levels::NoClamp;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_terms::vocabulary::Drawbar;
use holdtrue_wording::Say;
use uuid::Uuid;

pub(crate) fn run(args: &GripArgs, app: &mut App) -> Result<Finished, Error> {
    if let Some(port) = &args.source.gauge {
        return crate::grip::live_command::run(port, args, app);
    }
    let file = args.source.from.as_deref();
    let opened = file.map(|name| Opened::of(name, args.store)).transpose()?;
    let begins = opened.as_ref().map(Opened::begins);
    let book = file.filter(|_| begins.is_some_and(in_file::is_book));
    let stored = stored(book, args)?;
    // Nothing is filed before there is a result: a command that fails leaves neither a visit nor a book behind.
    let to = args
        .store
        .then(|| app.to_add_to(args.noted.visit.as_deref()));
    let to = to.transpose()?.unwrap_or_default();
    to.warn(&mut app.console);
    let spindle = to.spindle.as_ref();
    let (mut args, mut conditions) =
        doubtful::settle(args, spindle, &app.settings, &mut app.console)?;
    let figures = noted::figures(
        &mut args,
        &conditions.setup.spindle(),
        &app.settings,
        &mut app.console,
    )?;
    conditions.setup.as_read |= args.as_read;
    let args = &args;
    if let (Some(visit), None) = (to.visit, &args.drop_because) {
        conditions.setup.drop_because = setup::drop_found(&app.read_book()?, visit)?;
    }
    if let Some(serial) = args.noted.read_on.as_deref()
        && let Some(book) = app.book_if_there()?
        && let Some(standing) =
            gauge_entry::why_no_verdict(&book, serial, FORCE_GAUGE, to.day.as_ref())?
    {
        conditions.setup.gauge.standing = standing;
    }
    let mut input = match file {
        Some(name) => Input::File {
            name,
            bytes: Vec::new(),
        },
        None => Input::noted(args.source.readings.as_deref(), figures)?,
    };
    let mut begun = begun(args, &conditions, stored.as_ref());
    let is_typed = matches!(input, Input::Typed { .. });
    let hangs_on_page = is_typed && begun.hangs_on_page(&conditions.limits);
    if !hangs_on_page {
        setup::require_uncertainty(&begun.setup)?;
    }
    if !to.from_paper {
        acknowledge::say(MachineState::Live, &mut app.console);
    }
    let (forces, rows) = match (stored, opened) {
        (Some(stored), _) => (stored.forces, None),
        (None, Some(mut opened)) => {
            let _working = Working::on("Reading the record");
            let (record, rows) = force_csv::read_from(input.name(), &mut opened)?;
            if let Input::File { bytes, .. } = &mut input {
                *bytes = opened.kept();
            }
            (Forces::Record(record), Some(rows))
        }
        (None, None) => {
            let (text, figures) = input.typed();
            (begun.typed(text, figures)?, None)
        }
    };
    if let Forces::Record(record) = &forces {
        for note in record.source_notes() {
            app.console.message(&note.say(&app.settings.units()));
        }
    }
    let result = match is_typed {
        true => begun
            .analyse_typed(&forces, &mut conditions.limits)
            .map_err(|e| refused(input.name(), &e))?,
        false => analysed(input.name(), &forces, rows.as_ref(), &mut begun, app)?,
    };
    if hangs_on_page && result.verdict.is_none() {
        app.console.message(NOT_JUDGED);
    }
    let text = words::grip(&result, &app.settings);
    let finished = Finished::new(
        exit(&result, &begun.setup),
        &stored_check::document(&result)?,
        text,
    )?;
    if !args.store {
        return Ok(finished);
    }
    match store(
        args,
        &input,
        &forces,
        &begun,
        &conditions.limits,
        &result,
        app,
    ) {
        Ok((writer, visit)) => Ok(since::tell(
            finished,
            &writer.book,
            visit,
            CheckKind::Grip,
            app,
        )),
        Err(error) => Ok(finished.cut_short(error)),
    }
}

/// The result, with forces in a file that cannot be asked about.
fn analysed(
    name: &str,
    forces: &Forces,
    rows: Option<&Rows>,
    begun: &mut GripInputs,
    app: &mut App,
) -> Result<GripResult, Error> {
    let mut settled = begun.setup.as_read;
    loop {
        let working = Working::on("Computing the clamps");
        let result = begun.analyse(forces);
        drop(working);
        let spindle = begun.setup.spindle();
        let held_to_n = doubtful::mean_held_to(&begun.setup);
        let doubted = match (forces, rows, &result) {
            (Forces::Record(record), Some(rows), Ok(result)) => {
                doubtful::of_record(record, rows, result, &spindle, &held_to_n)
            }
            (Forces::Record(record), Some(rows), Err(GripError::NoClamp(NoClamp::Flat { .. }))) => {
                doubtful::of_no_clamp(record, rows, &spindle)
            }
            _ => None,
        };
        match doubted.filter(|_| !settled) {
            None => return result.map_err(|e| refused(name, &e)),
            Some(doubted) => {
                let App {
                    settings, console, ..
                } = app;
                doubts::put(&doubted, false, false, settings, console)?;
                begun.setup.as_read = true;
                settled = true;
            }
        }
    }
}

/// What the analysis is told. A check out of a book brings its own gauge and, where the command line sets none, limits.
fn begun(args: &GripArgs, conditions: &GripConditions, stored: Option<&StoredGrip>) -> GripInputs {
    let mut setup = conditions.setup.clone();
    let mut clamps = args.clamps;
    if let Some(stored) = stored {
        let before = &stored.begun.setup;
        clamps = clamps.or(stored.begun.clamps);
        if args.limits.uncertainty_percent.is_none() {
            setup.gauge = before.gauge.clone();
        }
        if !args.limits.any() && args.limits.limits.is_none() {
            setup.limits.clone_from(&before.limits);
            setup.nominal_n = before.nominal_n;
            setup.assumption = setup.assumption.or(before.assumption);
        }
        if setup.interface.is_none() && !before.allowances.is_empty() {
            setup.allowances.clone_from(&before.allowances);
        }
        // What was set aside stays so, with its reason, unless another one is given.
        let named: Vec<u32> = setup.discards.iter().map(|aside| aside.number).collect();
        let kept = before.discards.iter();
        let kept = kept.filter(|aside| !named.contains(&aside.number));
        setup.discards.extend(kept.cloned());
        setup.interface = setup.interface.or(before.interface);
        setup.state = setup.state.or(before.state);
        setup.at_spindle = before.at_spindle;
        setup.as_read |= before.as_read;
        setup.drop_because = setup.drop_because.or_else(|| before.drop_because.clone());
        setup.typed_step_n = setup.typed_step_n.or(before.typed_step_n);
        setup.end_probe = setup.end_probe.or(before.end_probe);
        if setup.drawbar == Drawbar::Unknown {
            setup.drawbar = before.drawbar;
        }
    }
    GripInputs {
        clamps,
        unit: args.unit,
        setup,
        calibration_sha256: None,
        end_probe: stored.and_then(|stored| stored.begun.end_probe),
    }
}

/// The check in the file, where the file is a book.
fn stored(book: Option<&str>, args: &GripArgs) -> Result<Option<StoredGrip>, Error> {
    let visit = args.noted.visit.as_deref();
    let meant = in_file::meant(book, CheckKind::Grip, &args.which, visit, args.store)?;
    let (Some(name), Some((book, check))) = (book, meant) else {
        return Ok(None);
    };
    let stored = grip_stored::of_check(&book, &check)?;
    stored
        .ok_or_else(|| in_file::none_in(name, CheckKind::Grip, args.which.set))
        .map(Some)
}

/// Said where the maker's figure is known and the gauge's uncertainty is not.
const NOT_JUDGED: &str = "Kept without a verdict: the maker's figure of this spindle is in the book, and a verdict needs the \
                          gauge's uncertainty too. Add --uncertainty-percent where its certificate is at hand.";

/// Puts a result into the open visit, which is begun where none is open. Out: which book and visit.
fn store(
    args: &GripArgs,
    input: &Input<'_>,
    forces: &Forces,
    begun: &GripInputs,
    limits: &LimitsFile,
    result: &GripResult,
    app: &mut App,
) -> Result<(BookWriter, Uuid), Error> {
    let to = ToFile {
        kind: CheckKind::Grip,
        input,
        readings: forces.forces_n(),
        as_read: args.as_read,
        read_back: &|book, check| grip_stored::readings(book, check, result),
        same_parts: &|book, check| match forces {
            Forces::Record(record) => grip_stored::same_clamps(book, check, result, record),
            Forces::Typed { .. } => Ok(false),
        },
    };
    stored_check::file_as_noted(&args.noted, "force-gauge", &to, app, |gauge| {
        grip_stored::to_file(begun, limits, result, input.as_record(), gauge)
    })
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
        GripError::Contradicts { .. } => Error::usage(error.to_string()),
        GripError::NoClamp(why @ NoClamp::UpsideDown { .. }) => input(
            &why.to_string(),
            "a pull that reads upwards from a free gauge near 0 N",
            "Look whether the wires of the bridge are exchanged, or the slope in the gauge's certificate has the wrong \
             sign; a gauge check on a standard shows either. If it is meant so, add --as-read.",
        ),
        GripError::NoClamp(why) => input(
            &format!("no clamp ({why})"),
            "a record with the gauge free, clamped and free again",
            "Is it the right file, and the right unit?",
        ),
        other => input(
            &other.to_string(),
            "holding forces",
            "Correct it and try again.",
        ),
    }
}

/// What the shell is told: the verdict; undecided too where a limit is set and nothing is there to be judged by it.
pub(crate) fn exit(result: &GripResult, setup: &GripSetup) -> Exit {
    match &result.verdict {
        Some(verdict) => verdict.outcome.into(),
        None if !setup.limits.is_empty() => Exit::Undecided,
        None => Exit::Done,
    }
}
