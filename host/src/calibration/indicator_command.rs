//! `gauge calibrate --indicator`: an indicator compared with gauge blocks. In: a table of its readings, or a gauge on the
//! blocks. Out: errors and uncertainty; in gauge and book where a gauge is named.

use crate::calibration::arguments::{CalibrateArgs, LengthSensor};
use crate::calibration::ask;
use crate::calibration::certificate;
use crate::calibration::certificate::{Draft, Length};
use crate::calibration::certificate_command::{draft, usage};
use crate::calibration::guidance;
use crate::calibration::guided_steps::{Kind, Step, Unit, ask, begin, kept_so_far, lead};
use crate::calibration::indicator_csv;
use crate::calibration::indicator_words;
use crate::calibration::press::require_rising;
use crate::calibration::stand::{CalibrationStand, Typing};
use crate::calibration::write;
use crate::calibration::write::{Ask, Written};
use crate::connection::lost;
use crate::connection::{connect, to_be_replaced};
use crate::tables::read_file;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::{Error, Refusal};
use crate::terminal::exit::Exit;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::calibration::{
    Direction, IndicatorCalibration, IndicatorSetup, IndicatorStep, calibrate_indicator,
};
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use holdtrue_wording::Say;
use serde::Serialize;

const TABLE: Kind = Kind {
    what: "indicator",
    header: "run,direction,step_um,reading_um",
    remark: "",
};
/// Smallest step of an indicator where nobody tells it, µm.
const USUAL_RESOLUTION_UM: f64 = 1.0;

#[derive(Serialize)]
struct Document<'a> {
    check: &'static str,
    schema: u32,
    #[serde(flatten)]
    calibration: &'a IndicatorCalibration,
    resolution_um: f64,
    kept: Option<&'a str>,
    written: Option<&'a Written>,
}

pub(crate) fn run(args: &CalibrateArgs, app: &mut App) -> Result<Finished, Error> {
    match (&args.from, &args.gauge) {
        (Some(file), _) => from_table(file, args, app),
        (None, Some(port)) if !args.steps_um.is_empty() => on_blocks(port, args, app),
        _ => Err(Error::usage(
            "gauge calibrate --indicator computes a table of readings on gauge blocks: --from FILE with the columns run, \
             direction, step_um, reading_um; or it reads a gauge on the blocks: --gauge PORT --steps-um 0,100,200,…",
        )),
    }
}

fn from_table(file: &str, args: &CalibrateArgs, app: &mut App) -> Result<Finished, Error> {
    let mut session = args.gauge.as_deref().map(connect).transpose()?;
    let carried = match &mut session {
        Some(session) => Some(carried(session, args.channel, app)?),
        None => None,
    };
    let resolution_um = resolution_um(args, carried.as_ref());
    let found = evaluate(file, &read_file(file)?, args, resolution_um, app)?;
    let written = match (&mut session, &carried) {
        (Some(session), Some(carried)) => {
            let mut put = write::on_terminal;
            Some(write(args, &found, carried, session, app, &mut put)?)
        }
        _ => None,
    };
    finished(&found, written.as_ref(), None, resolution_um, app)
}

/// Led from block to block; the readings are kept as they are taken and computed from there.
fn on_blocks(port: &str, args: &CalibrateArgs, app: &mut App) -> Result<Finished, Error> {
    require_rising(&args.steps_um, "--steps-um", "µm")?;
    if args.named.certificate.is_some() {
        require_blocks(args)?;
    }
    let mut session = connect(port)?;
    let carried = carried(&mut session, args.channel, app)?;
    require_record(args, &carried)?;
    let resolution_um = resolution_um(args, Some(&carried));
    let settings = app.settings.clone();
    let plan = plan(args, &settings);
    let (mut table, done) = begin(
        &TABLE,
        args,
        &session,
        &plan,
        |name, bytes| Ok(indicator_csv::read(name, bytes)?.steps),
        is_planned,
        app,
    )?;
    let interrupt = Interrupt::on_ctrl_c()?;
    let length = |um: f64| settings.length(um);
    let subject = Subject {
        title: format!("Indicator on blocks · {}", session.hello().serial),
        gauge: format!("gauge {} on {}", session.hello().serial, session.port()),
    };
    app.console.open_screen();
    let typing = Typing::of(&app.console);
    let unit = Unit {
        is_shown: false,
        factor: 1.0,
        rise: Some(1.0),
        rated: None,
        earlier_zero: None,
        wrong_way: "It counts the wrong way round, or the blocks are exchanged: put it right; what was read so far is of no use",
        say: &length,
        say_reading: &length,
        figure: &|um| settings.length_figure(um),
        reading_figure: &|um| settings.length_figure(um),
        back: typing.back(),
        still: "HANDS OFF",
    };
    let stand =
        CalibrationStand::of_length(&mut session, &carried, resolution_um, typing, &interrupt)?;
    let rows: Vec<(f64, f64)> = done
        .iter()
        .map(|row| (row.step_um, row.reading_um))
        .collect();
    let asked = (&subject, &mut app.console as &mut dyn Prompt);
    let kept = "What was read is kept: the last line says how to go on.";
    let typing = lead(stand, &plan, &rows, &mut table, &unit, asked)
        .map_err(|error| lost::told(error, &subject, kept, &mut app.console, &interrupt))?;
    let name = table.name();
    let kept = |error| kept_so_far(error, &name);
    let found = evaluate(&name, &table.bytes(), args, resolution_um, app).map_err(kept)?;
    let written = match args.named.certificate {
        Some(_) => {
            let mut put = |app: &mut App, question: &str| ask(&typing, app, question);
            let done = write(args, &found, &carried, &mut session, app, &mut put);
            Some(done.map_err(kept)?)
        }
        None => None,
    };
    app.console.ring(1);
    let scene = guidance::indicator_calibrated(&found, &subject, &app.settings);
    app.console.keep_scene(&scene, || interrupt.is_set());
    app.console.close_screen();
    finished(&found, written.as_ref(), Some(&name), resolution_um, app)
}

/// In and out again, run by run.
fn plan(args: &CalibrateArgs, settings: &Settings) -> Vec<Step> {
    let mut steps = Vec::new();
    for run in 1..=args.runs {
        let lowest = args.steps_um.first().copied();
        let step = |way: &str, um: f64| Step {
            prompt: format!(
                "Run {run}: blocks of {} under the plunger",
                settings.length(um)
            ),
            word: "BLOCKS".to_owned(),
            nominal: um,
            zero: way == "up" && lowest.is_some_and(|lowest| um.total_cmp(&lowest).is_eq()),
            hold_s: None,
            before: format!("{run},{way}"),
            after: String::new(),
        };
        steps.extend(args.steps_um.iter().map(|um| step("up", *um)));
        if !args.up_only {
            steps.extend(
                args.steps_um
                    .iter()
                    .rev()
                    .skip(1)
                    .map(|um| step("down", *um)),
            );
        }
    }
    steps
}

fn is_planned(row: &IndicatorStep, step: &Step) -> bool {
    let way = match row.direction {
        Direction::Up => "up",
        Direction::Down => "down",
    };
    format!("{},{way}", row.run) == step.before && row.step_um.total_cmp(&step.nominal).is_eq()
}

/// Says the calibration, then writes it.
fn write(
    args: &CalibrateArgs,
    found: &IndicatorCalibration,
    carried: &CalibrationRecord,
    session: &mut Session,
    app: &mut App,
    ask: Ask<'_>,
) -> Result<Written, Error> {
    let record = record(args, found, carried, app, ask)?;
    app.console
        .say(&indicator_words::indicator(found, &app.settings));
    app.console.say("");
    write::write(&record, session, app, ask)
}

/// Smallest step of the readings: what was told, else what the gauge says of its own.
pub(crate) fn resolution_um(args: &CalibrateArgs, carried: Option<&CalibrationRecord>) -> f64 {
    let of_gauge = carried
        .filter(|record| record.channel == Channel::Displacement)
        .map(DisplacementBuilder::resolution_um);
    args.resolution_um
        .or(of_gauge)
        .unwrap_or(USUAL_RESOLUTION_UM)
}

/// What the gauge reads its indicator by: its calibration, else what the sensor is built for.
///
/// # Errors
/// A gauge without the sensor that is meant: exit 5.
pub(crate) fn carried(
    session: &mut Session,
    meant: Option<LengthSensor>,
    app: &mut App,
) -> Result<CalibrationRecord, Error> {
    let channel = channel(session, meant, app)?;
    Ok(
        to_be_replaced(session, channel, app)?.unwrap_or_else(|| CalibrationRecord {
            id: [0; 16],
            channel,
            coefficients: [0.0, built_for(session, channel), 0.0, 0.0],
            zero_counts: 0,
            expanded_relative: 0.0,
            expanded_fixed: 0.0,
            span: [0.0, 0.0],
            rated: 0.0,
            temperature_c: 20.0,
            date_days: 0,
            due_days: 0,
            certificate: Default::default(),
            laboratory: Default::default(),
        }),
    )
}

/// The sensor that stands on the blocks. On a gauge with two the word decides, and it is said which.
fn channel(
    session: &Session,
    meant: Option<LengthSensor>,
    app: &mut App,
) -> Result<Channel, Error> {
    let fitted = session.hello().fitted;
    let lacks = |what: &str| {
        Err(Error::gauge(format!(
            "{}: the gauge has {what}; use one that has, or bring a table of the dial's readings without --gauge",
            session.port()
        )))
    };
    match (meant, fitted.displacement, fitted.indicator) {
        (Some(LengthSensor::Probe) | None, true, false) => Ok(Channel::Displacement),
        (Some(LengthSensor::Indicator) | None, false, true) => Ok(Channel::Indicator),
        (Some(LengthSensor::Probe), true, true) => Ok(Channel::Displacement),
        (Some(LengthSensor::Indicator), true, true) => Ok(Channel::Indicator),
        (None, true, true) => {
            app.console.say(
                "This gauge has a probe of its own, too: this calibrates the digital indicator plugged into it. For the probe add --channel probe.",
            );
            Ok(Channel::Indicator)
        }
        (Some(LengthSensor::Probe), false, true) => lacks("an indicator and no probe"),
        (Some(LengthSensor::Indicator), true, false) => lacks("a probe and no indicator"),
        (_, false, false) => lacks("neither probe nor indicator"),
    }
}

fn built_for(session: &Session, channel: Channel) -> f64 {
    match channel {
        Channel::Displacement => f64::from(session.hello().probe_nm_per_count) / 1_000.0,
        Channel::Indicator | Channel::Force => 1.0,
    }
}

/// The calibration of a table, the same whoever brought it.
pub(crate) fn evaluate(
    file: &str,
    bytes: &[u8],
    args: &CalibrateArgs,
    resolution_um: f64,
    app: &mut App,
) -> Result<IndicatorCalibration, Error> {
    let read = indicator_csv::read(file, bytes)?;
    for message in &read.messages {
        app.console.message(&message.say(&app.settings.units()));
    }
    let setup = IndicatorSetup {
        blocks_expanded_um: args.blocks_um,
        resolution_um,
    };
    let found = calibrate_indicator(&read.steps, &setup).map_err(|e| {
        let refusal = Refusal {
            found: &e.found(),
            expected: e.expected(),
            next: e.next(),
        };
        Error::input(read.place(file, &e), refusal)
    })?;
    require_travel(args, found.span_um[1])?;
    Ok(found)
}

/// Blocks beyond the travel were read by nobody.
fn require_travel(args: &CalibrateArgs, highest_um: f64) -> Result<(), Error> {
    match args.travel_um {
        Some(travel_um) if travel_um < highest_um => Err(Error::usage(format!(
            "--travel-um: found {travel_um}, expected {highest_um} or more: so far go the blocks. \
             Enter the whole travel, in µm, or leave the option out"
        ))),
        _ => Ok(()),
    }
}

/// What the gauge is to store: the curve it is read by now, with the uncertainty that was found for it.
pub(crate) fn record(
    args: &CalibrateArgs,
    found: &IndicatorCalibration,
    carried: &CalibrationRecord,
    app: &mut App,
    ask: Ask<'_>,
) -> Result<CalibrationRecord, Error> {
    require_blocks(args)?;
    let entered = certificate::enter(&Draft {
        zero_counts: carried.zero_counts,
        coefficients: carried.coefficients.to_vec(),
        length: Some(Length {
            channel: carried.channel,
            span_um: Some(found.span_um),
            travel_um: args.travel_um,
            expanded_um: found.expanded_um,
            um_per_count: None,
        }),
        ..draft(&args.named)
    });
    let entered = entered.map_err(|e| usage(&e))?;
    ask::ask(&entered.doubts, app, ask)?;
    Ok(entered.record)
}

/// What is missing for the record is told before the first blocks, not after the last.
fn require_record(args: &CalibrateArgs, carried: &CalibrationRecord) -> Result<(), Error> {
    if let [.., highest] = args.steps_um[..] {
        require_travel(args, highest)?;
    }
    let (Some(_), [lowest, .., highest]) = (&args.named.certificate, &args.steps_um[..]) else {
        return Ok(());
    };
    let tried = certificate::enter(&Draft {
        coefficients: carried.coefficients.to_vec(),
        length: Some(Length {
            channel: carried.channel,
            span_um: Some([*lowest, *highest]),
            travel_um: args.travel_um,
            expanded_um: args.blocks_um,
            um_per_count: None,
        }),
        ..draft(&args.named)
    });
    tried.map(|_| ()).map_err(|e| usage(&e))
}

/// A record without the uncertainty of the blocks decides nothing.
pub(crate) fn require_blocks(args: &CalibrateArgs) -> Result<(), Error> {
    match args.blocks_um {
        Some(_) => Ok(()),
        None => Err(Error::usage(
            "--blocks-um: found nothing, expected the expanded uncertainty (k = 2) of a stack of gauge blocks in µm. \
             A verdict needs it: take it from their certificate",
        )),
    }
}

/// How the command ends; where something was written, the calibration has been said before.
pub(crate) fn finished(
    found: &IndicatorCalibration,
    written: Option<&Written>,
    kept: Option<&str>,
    resolution_um: f64,
    app: &App,
) -> Result<Finished, Error> {
    let document = Document {
        check: "gauge-calibrate-indicator",
        schema: 1,
        calibration: found,
        resolution_um,
        kept,
        written,
    };
    let last = write::words(written);
    let text = match written {
        Some(_) => last,
        None => format!(
            "{}\n{last}",
            indicator_words::indicator(found, &app.settings)
        ),
    };
    Finished::new(Exit::Done, &document, text)
}
