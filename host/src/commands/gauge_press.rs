//! `gauge calibrate --loads-n`: a gauge calibrated in a guarded press with a reference cell. In: a port, the loads, somebody
//! at the press. Out: the table of readings, kept as they are taken, and the calibration it gives.

use super::World;
use super::gauge::connect;
use super::gauge_calibrate::{evaluate, finished, record, require_reference};
use super::gauge_led::{Kind, Step, Unit, begin, kept_so_far, take};
use super::gauge_write;
use crate::acknowledge;
use crate::args::gauge::CalibrateArgs;
use crate::calibrate_csv::{self, Row, Way};
use crate::calibrate_words;
use crate::cautions;
use crate::error::Error;
use crate::gauge::session::Session;
use crate::live::Interrupt;
use crate::live::bench::Bench;
use crate::live::keys::Lines;
use crate::output::Finished;
use crate::settings::Settings;
use holdtrue_protocol::message::Channel;

const TABLE: Kind = Kind {
    what: "calibration",
    header: "run,direction,load_n,reading_counts,orientation_deg,held_s",
};
/// A load in a table that is gone on with is the planned one within this share.
const SAME_LOAD: f64 = 0.2;

pub(super) fn run(port: &str, args: &CalibrateArgs, world: &mut World) -> Result<Finished, Error> {
    require_rising(&args.loads_n, "--loads-n", "N")?;
    if args.named.certificate.is_some() {
        require_reference(args)?;
    }
    acknowledge::loading(cautions::PRESS_HEADING, cautions::PRESS, world)?;
    let mut session = connect(port)?;
    require_room(&mut session, args, world)?;
    let plan = plan(args, &world.settings);
    let (mut table, done) = begin(
        &TABLE,
        args,
        &session,
        &plan,
        |name, bytes| Ok(calibrate_csv::read(name, bytes)?.rows),
        is_planned,
        world,
    )?;
    let interrupt = Interrupt::on_ctrl_c()?;
    let settings = world.settings.clone();
    let force = |newton: f64| settings.force(newton);
    let counts = |counts: f64| format!("{counts:.0} counts");
    let unit = Unit {
        is_shown: true,
        factor: settings.force.newtons(),
        say: &force,
        say_reading: &counts,
    };
    let mut bench = Bench::of_force(&mut session, Lines::of_standard_input(), &interrupt)?;
    bench.zero = zero_of(&done);
    let taken = take(
        &mut bench,
        &plan,
        done.len(),
        &mut table,
        &unit,
        &mut world.console,
    )
    .and_then(|()| bench.end());
    taken.map_err(|error| kept_so_far(error, &table.name()))?;
    let name = table.name();
    let found = evaluate(&name, &table.bytes(), args, world)?;
    let written = match args.named.certificate {
        Some(_) => {
            let record = record(&name, args, &found, world)?;
            world
                .console
                .say(&calibrate_words::calibration(&found, &world.settings));
            world.console.say("");
            Some(gauge_write::write(&record, &mut session, world)?)
        }
        None => None,
    };
    finished(&found, written.as_ref(), Some(&name), world)
}

/// Rising values above zero, or what to type instead.
pub(super) fn require_rising(values: &[f64], option: &str, unit: &str) -> Result<(), Error> {
    if values.len() >= 3 && values.windows(2).all(|pair| pair[0] < pair[1]) {
        return Ok(());
    }
    Err(Error::usage(format!(
        "{option}: found {values:?}, expected three or more values in {unit}, rising, such as {option} 2000,4000,6000"
    )))
}

/// Refuses loads the gauge is not made for, before anybody puts them on.
fn require_room(session: &mut Session, args: &CalibrateArgs, world: &World) -> Result<(), Error> {
    if !session.hello().fitted.force {
        return Err(Error::gauge(format!(
            "{}: the gauge has no load cell; use a force gauge",
            session.port()
        )));
    }
    let carried = session.calibration(Channel::Force)?;
    let rated_n = args.named.rated_n.or(carried.map(|record| record.rated));
    let Some(rated_n) = rated_n else {
        return Err(Error::usage(
            "--rated-n: found nothing, and the gauge does not know its rated load; expected it in N, from its plate",
        ));
    };
    let highest_n = args.loads_n.last().copied().unwrap_or(0.0);
    if highest_n > rated_n {
        return Err(Error::gauge(format!(
            "{}: the gauge is rated for {}, the highest load is {}; take loads up to the rated load",
            session.port(),
            world.settings.force(rated_n),
            world.settings.force(highest_n)
        )));
    }
    Ok(())
}

/// Preloads, then run by run: a zero, the loads up, down again, a zero. The first position is run through twice; after a
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

fn is_planned(row: &Row, step: &Step) -> bool {
    format!("{},{}", row.run, row.way.word()) == step.before
        && (row.load_n - step.nominal).abs() <= SAME_LOAD * step.nominal
}

fn zero_of(rows: &[Row]) -> Option<f64> {
    let zero = rows.iter().rev().find(|row| row.load_n <= 0.0);
    zero.map(|row| row.reading_counts)
}
