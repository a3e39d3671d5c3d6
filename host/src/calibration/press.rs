//! `gauge calibrate --loads-n`: a gauge calibrated in a guarded press with a reference cell. In: a port, the loads, somebody
//! at the press. Out: the table of readings, kept as they are taken, and the calibration it gives.

use crate::calibration::arguments::CalibrateArgs;
use crate::calibration::calibrate_command::{evaluate, finished, record, require_reference};
use crate::calibration::certificate;
use crate::calibration::certificate::Draft;
use crate::calibration::certificate_command::{draft, usage};
use crate::calibration::guidance;
use crate::calibration::guided_steps::{Kind, NEAR, Step, Unit, ask, begin, kept_so_far, lead};
use crate::calibration::readings_csv;
use crate::calibration::readings_csv::{Row, Way};
use crate::calibration::stand::{CalibrationStand, Typing};
use crate::calibration::words;
use crate::calibration::write;
use crate::calibration::write::Written;
use crate::connection::lost;
use crate::connection::{connect, to_be_replaced};
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use crate::visits::acknowledge;
use crate::visits::cautions;
use holdtrue_book::How;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::calibration::Calibration;
use holdtrue_metrology::grip::limits::{CAPACITY_FACTOR, capacity_suffices};
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use holdtrue_screen::Figure;
use holdtrue_wording::digits;

const TABLE: Kind = Kind {
    what: "calibration",
    header: "run,direction,load_n,reading_counts,orientation_deg,held_s",
    remark: ", cautions acknowledged",
};
/// Nothing is on the gauge, for two metres.
const LOAD_OFF: &str = "LOAD OFF";
/// Loads of a plan lie at least so far apart, as a share of the highest: nearer ones would count as one.
const APART: f64 = 0.02;
/// Counts at the highest load of the record that is tried before there is a reading: any that can be.
const TRIED_COUNTS: f64 = 100_000.0;

/// Where the gauge is lost under a load.
const KEPT: &str = "Take the load off. What was read is kept: the last line says how to go on.";

pub(crate) fn run(port: &str, args: &CalibrateArgs, app: &mut App) -> Result<Finished, Error> {
    require_rising(&args.loads_n, "--loads-n", "N")?;
    require_apart(&args.loads_n)?;
    require_record(args)?;
    let how = acknowledge::loading(cautions::PRESS_HEADING, cautions::PRESS, app)?;
    let mut session = connect(port)?;
    let carried = require_room(&mut session, args, app)?;
    let plan = plan(args, &app.settings);
    let highest_n = args.loads_n.last().copied().unwrap_or(0.0);
    let kind = Kind {
        remark: match how {
            How::ByFlag => ", cautions acknowledged by flag",
            _ => TABLE.remark,
        },
        ..TABLE
    };
    let (mut table, done) = begin(
        &kind,
        args,
        &session,
        &plan,
        |name, bytes| Ok(readings_csv::read(name, bytes)?.rows),
        |row, step| is_planned(row, step, highest_n),
        app,
    )?;
    let interrupt = Interrupt::on_ctrl_c()?;
    let settings = app.settings.clone();
    let force = |newton: f64| settings.force(newton);
    let counts = |counts: f64| format!("{counts:.0} counts");
    let subject = Subject {
        title: format!("Calibration · {}", session.hello().serial),
        gauge: format!("gauge {} on {}", session.hello().serial, session.port()),
    };
    app.console.open_screen();
    let typing = Typing::of(&app.console);
    let unit = Unit {
        is_shown: true,
        factor: settings.force.newtons(),
        rise: carried.as_ref().map(|record| 1.0 / record.coefficients[1]),
        rated: rated_n(args, carried.as_ref()),
        earlier_zero: carried.map(|record| f64::from(record.zero_counts)),
        wrong_way: "The signal wires are swapped, or the press pushes: take the load off and put it right; what was read so far is of no use",
        say: &force,
        say_reading: &counts,
        figure: &|newton| settings.force_figure(newton),
        reading_figure: &|counts| Figure {
            digits: digits::fixed(counts, 0),
            unit: "counts".to_owned(),
        },
        back: typing.back(),
        still: "HOLD",
    };
    let mut stand = CalibrationStand::of_force(&mut session, typing, &interrupt)?;
    stand.zero = zero_of(&done);
    let rows: Vec<(f64, f64)> = done
        .iter()
        .map(|row| (row.load_n, row.reading_counts))
        .collect();
    let asked = (&subject, &mut app.console as &mut dyn Prompt);
    let typing = lead(stand, &plan, &rows, &mut table, &unit, asked)
        .map_err(|error| lost::told(error, &subject, KEPT, &mut app.console, &interrupt))?;
    let name = table.name();
    let mut put = |app: &mut App, question: &str| ask(&typing, app, question);
    let found = evaluate(&name, &table.bytes(), args, app, &mut put)
        .map_err(|error| kept_so_far(error, &name))?;
    let written = match args.named.certificate {
        Some(_) => Some(
            write(&name, args, &found, &mut session, &typing, app)
                .map_err(|error| kept_so_far(error, &name))?,
        ),
        None => None,
    };
    app.console.ring(1);
    let scene = guidance::calibrated(&found, &subject, &app.settings);
    app.console.keep_scene(&scene, || interrupt.is_set());
    app.console.close_screen();
    finished(&found, written.as_ref(), Some(&name), app)
}

/// Rising values above zero, or what to type instead.
pub(crate) fn require_rising(values: &[f64], option: &str, unit: &str) -> Result<(), Error> {
    if values.len() >= 3 && values.windows(2).all(|pair| pair[0] < pair[1]) {
        return Ok(());
    }
    Err(Error::usage(format!(
        "{option}: found {values:?}, expected three or more values in {unit}, rising, such as {option} 2000,4000,6000"
    )))
}

/// Says the calibration, then writes it; doubts are put to whoever is there.
fn write(
    name: &str,
    args: &CalibrateArgs,
    found: &Calibration,
    session: &mut Session,
    typing: &Typing,
    app: &mut App,
) -> Result<Written, Error> {
    let mut put = |app: &mut App, question: &str| ask(typing, app, question);
    app.console.say(&words::calibration(found, &app.settings));
    app.console.say("");
    let record = record(name, args, found, app, &mut put)?;
    write::write(&record, session, app, &mut put)
}

/// Loads that differ by less count as one and the same.
fn require_apart(loads_n: &[f64]) -> Result<(), Error> {
    let highest_n = loads_n.last().copied().unwrap_or(0.0);
    match loads_n
        .windows(2)
        .find(|pair| pair[1] - pair[0] < APART * highest_n)
    {
        None => Ok(()),
        Some(pair) => Err(Error::usage(format!(
            "--loads-n: found {} after {}, expected at least {} N between two loads: nearer ones are taken for one",
            pair[1],
            pair[0],
            APART * highest_n
        ))),
    }
}

/// What is missing for the record is told before the first load, not after the last.
fn require_record(args: &CalibrateArgs) -> Result<(), Error> {
    if args.named.certificate.is_none() {
        return Ok(());
    }
    require_reference(args)?;
    let highest_n = args.loads_n.last().copied().unwrap_or(0.0);
    let tried = certificate::enter(&Draft {
        span_n: Some([0.0, highest_n]),
        expanded_percent: args.reference_percent,
        coefficients: vec![0.0, highest_n / TRIED_COUNTS],
        ..draft(&args.named)
    });
    tried.map(|_| ()).map_err(|e| usage(&e))
}

/// The lower one of what was named and what the gauge knows: a figure typed too high must not load it beyond.
fn rated_n(args: &CalibrateArgs, carried: Option<&CalibrationRecord>) -> Option<f64> {
    let known = [args.named.rated_n, carried.map(|record| record.rated)];
    known.into_iter().flatten().reduce(f64::min)
}

/// Refuses loads the gauge is not made for, before anybody puts them on.
fn require_room(
    session: &mut Session,
    args: &CalibrateArgs,
    app: &mut App,
) -> Result<Option<CalibrationRecord>, Error> {
    if !session.hello().fitted.force {
        return Err(Error::gauge(format!(
            "{}: the gauge has no load cell; use a force gauge",
            session.port()
        )));
    }
    let carried = to_be_replaced(session, Channel::Force, app)?;
    let Some(rated_n) = rated_n(args, carried.as_ref()) else {
        return Err(Error::usage(
            "--rated-n: found nothing, and the gauge does not know its rated load; expected it in N, from its plate",
        ));
    };
    let force = |newton| app.settings.force(newton);
    let highest_n = args.loads_n.last().copied().unwrap_or(0.0);
    if highest_n > rated_n {
        return Err(Error::gauge(format!(
            "{}: the gauge is rated for {}, the highest load is {}; take loads up to the rated load",
            session.port(),
            force(rated_n),
            force(highest_n)
        )));
    }
    if !capacity_suffices(highest_n, rated_n) {
        let told = format!(
            "The highest load, {}, is within the rated load of {} but over what the gauge takes in a spindle, {}: load slowly, watch the reference.",
            force(highest_n),
            force(rated_n),
            force(rated_n / CAPACITY_FACTOR)
        );
        app.console.say(&told);
    }
    Ok(carried)
}

/// A zero and the preloads, then run by run: a zero, the loads up, down again, a zero. The first position is run through twice; after a
/// turn comes one preload.
fn plan(args: &CalibrateArgs, settings: &Settings) -> Vec<Step> {
    let highest_n = args.loads_n.last().copied().unwrap_or(0.0);
    let mut steps = Vec::new();
    let preload = |turned: Option<f64>, number: u32, of: u32| {
        let bring = format!(
            "bring the reference to {}, hold {:.0} s",
            settings.force(highest_n),
            args.dwell_s
        );
        Step {
            prompt: match turned {
                Some(position) => {
                    format!("Load off. Turn the gauge to {position}°. Preload: {bring}")
                }
                None => format!("Load off. Preload {number} of {of}: {bring}"),
            },
            word: match turned {
                Some(position) => format!("TURN {position:.0}°"),
                None => "PRELOAD".to_owned(),
            },
            nominal: highest_n,
            zero: false,
            hold_s: Some(args.dwell_s),
            before: "0,preload".to_owned(),
            after: String::new(),
        }
    };
    let first = args.positions_deg.first().copied().unwrap_or(0.0);
    let at = |step: Step, position: f64, held_s: f64| Step {
        after: format!(",{position},{held_s}"),
        ..step
    };
    if args.preloads > 0 {
        let free = Step {
            prompt: "Load off, gauge free".to_owned(),
            word: LOAD_OFF.to_owned(),
            nominal: 0.0,
            zero: true,
            hold_s: None,
            ..preload(None, 0, 0)
        };
        steps.push(at(free, first, 0.0));
    }
    for number in 1..=args.preloads {
        steps.push(at(
            preload(None, number, args.preloads),
            first,
            args.dwell_s,
        ));
    }
    let runs = args
        .positions_deg
        .first()
        .into_iter()
        .chain(&args.positions_deg);
    let mut before = first;
    for (run, &position) in (1_u32..).zip(runs) {
        if position.total_cmp(&before).is_ne() {
            before = position;
            steps.push(at(preload(Some(position), 1, 1), position, args.dwell_s));
        }
        let reading = |way: Way, load_n: f64, prompt: String| {
            let step = Step {
                prompt: format!("Run {run} at {position}°: {prompt}"),
                word: match way {
                    _ if load_n <= 0.0 => LOAD_OFF,
                    Way::Up | Way::Preload => "LOAD UP",
                    Way::Down => "LOAD DOWN",
                }
                .to_owned(),
                nominal: load_n,
                zero: load_n <= 0.0,
                hold_s: None,
                before: format!("{run},{}", way.word()),
                after: String::new(),
            };
            at(step, position, 0.0)
        };
        steps.push(reading(Way::Up, 0.0, "load off, gauge free".to_owned()));
        for &load_n in &args.loads_n {
            steps.push(reading(
                Way::Up,
                load_n,
                format!("up to {}, and hold", settings.force(load_n)),
            ));
        }
        if !args.up_only {
            for &load_n in args.loads_n.iter().rev().skip(1) {
                steps.push(reading(
                    Way::Down,
                    load_n,
                    format!("down to {}, and hold", settings.force(load_n)),
                ));
            }
        }
        steps.push(reading(Way::Down, 0.0, "load off, gauge free".to_owned()));
    }
    steps
}

fn is_planned(row: &Row, step: &Step, highest_n: f64) -> bool {
    let turned = row
        .orientation_deg
        .map_or(String::new(), |degrees| format!(",{degrees},"));
    format!("{},{}", row.run, row.way.word()) == step.before
        && step.after.starts_with(&turned)
        && (row.load_n - step.nominal).abs() <= NEAR * highest_n
}

fn zero_of(rows: &[Row]) -> Option<f64> {
    let zero = rows.iter().rev().find(|row| row.load_n <= 0.0);
    zero.map(|row| row.reading_counts)
}
