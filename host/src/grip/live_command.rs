//! `grip --gauge`: a grip check at the machine. In: a gauge and what is known of the spindle. Out: the check, in the book.

use crate::connection;
use crate::grip::arguments::GripArgs;
use crate::grip::doubtful;
use crate::grip::guidance;
use crate::grip::live;
use crate::grip::live::{GripRequest, MeasuredGrip};
use crate::grip::setup;
use crate::grip::setup::GripConditions;
use crate::grip::words;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use crate::visits::acknowledge;
use crate::visits::acknowledge::Acknowledged;
use crate::visits::book::book_writer::{BookWriter, today_days};
use crate::visits::book::opening;
use crate::visits::cautions;
use crate::visits::cautions::MachineState;
use crate::visits::checks::since;
use crate::visits::checks::since::LastTime;
use crate::visits::checks::state;
use crate::visits::checks::stored_check;
use crate::visits::checks::stored_figure::StoredFigure;
use crate::visits::gauge_entry;
use crate::visits::overloads;
use crate::visits::unfit;
use holdtrue_book::CheckKind;
use holdtrue_gauge::link::LinkError;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::grip::limits::{CAPACITY_FACTOR, capacity_suffices};
use holdtrue_metrology::grip::setup::Standing;
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use uuid::Uuid;

/// A set of clamps, where nobody says how many.
const USUAL_CLAMPS: u32 = 5;

pub(crate) fn run(port: &str, args: &GripArgs, app: &mut App) -> Result<Finished, Error> {
    let at_hand = app.at_hand()?;
    at_hand.warn(&mut app.console);
    let spindle = at_hand.spindle.as_ref();
    let (_, mut conditions) = doubtful::settle(args, spindle, &app.settings, &mut app.console)?;
    acknowledge::require_somebody(MachineState::Live, app)?;
    let interrupt = Interrupt::on_ctrl_c()?;
    // Nothing is filed before the gauge has answered: a wrong port leaves no visit behind. And nothing is asked before it is known
    // to be big enough: that would be answered for nothing.
    let mut session = connection::connect(port)?;
    let calibration = require_force(&mut session)?;
    let expected_n = conditions.highest_expected_n;
    require_capacity(&session, calibration.rated, expected_n, app)?;
    if let Some(told) = short_calibration(&calibration, &conditions, &app.settings) {
        app.console.say(&told);
    }
    let state = state::asked(args.state, CheckKind::Grip, args.new, &at_hand, app)?;
    conditions.setup.state = state;
    let args = &GripArgs {
        state,
        ..args.clone()
    };
    if args.push_out {
        app.console.say(cautions::END_FACE);
    }
    let act = "only to clamp and unclamp the force gauge, hands clear";
    let acknowledged = acknowledge::before(MachineState::Live, act, &at_hand.acknowledged, app)?;
    let unknown_pull = acknowledge_unknown_pull(calibration.rated, &conditions, app)?;
    let mut writer = app.writer()?;
    let visit = writer.visit_at_hand()?;
    for given in [Some(acknowledged), unknown_pull].into_iter().flatten() {
        given.file(visit, &mut writer)?;
    }
    let last_times = since::last_times(&writer.book, visit, CheckKind::Grip, args.state, app);
    let is_mean = |last: &LastTime| last.figure == StoredFigure::GripMean;
    let set = Set {
        clamps: args.clamps.unwrap_or(USUAL_CLAMPS),
        fresh: args.new,
        push_out: args.push_out,
        visit,
        simulated: false,
        title: scene_words::heading(
            "Grip force",
            args.state,
            opening::called(spindle, conditions.setup.interface),
        ),
        last_mean: last_times.into_iter().find(is_mean),
    };
    app.console.open_screen();
    if at_hand.acknowledged.is_empty() && !app.yes {
        // Once a visit: nothing was acknowledged in it before.
        app.console.try_bell(|| interrupt.is_set());
    }
    let measured = measure(
        &mut session,
        &set,
        &conditions,
        &mut writer,
        app,
        &interrupt,
    );
    if let Ok(taken) = &measured {
        keep_result(taken, &set, app, &interrupt);
    }
    app.console.close_screen();
    let taken = measured?;
    app.console.say(
        "Before you wipe, look or turn by hand: force gauge out, then isolated and locked out.",
    );
    let done = finished(taken, &conditions, app)?;
    Ok(since::tell(done, &writer.book, visit, CheckKind::Grip, app))
}

/// Which set of clamps.
pub(crate) struct Set {
    /// Clamps that must count.
    pub clamps: u32,
    /// Never continue an unfinished check.
    pub fresh: bool,
    /// Something stands on the gauge's end face.
    pub push_out: bool,
    /// The visit.
    pub visit: Uuid,
    /// The gauge is simulated in this process.
    pub simulated: bool,
    /// What the screen is headed.
    pub title: String,
    /// The mean of the last time.
    pub last_mean: Option<LastTime>,
}

/// The verdict stays in sight until somebody has seen it.
fn keep_result(taken: &MeasuredGrip, set: &Set, app: &mut App, interrupt: &Interrupt) {
    let subject = Subject {
        title: set.title.clone(),
        gauge: String::new(),
    };
    let judged = taken.result.as_ref().filter(|_| taken.cut_short.is_none());
    let scene = judged.and_then(|result| {
        guidance::judged(result, &subject, set.last_mean.as_ref(), &app.settings)
    });
    if let Some(scene) = scene {
        app.console.keep_scene(&scene, || interrupt.is_set());
    }
}

/// Measures with a gauge that answers.
pub(crate) fn measure(
    session: &mut Session,
    set: &Set,
    conditions: &GripConditions,
    writer: &mut BookWriter,
    app: &mut App,
    interrupt: &Interrupt,
) -> Result<MeasuredGrip, Error> {
    let calibration = require_force(session)?;
    let overloads = session.overloads()?;
    let gauge = gauge_entry::force_gauge(session, &calibration, set.simulated, writer)?;
    let known = writer.note_overloads(gauge, &overloads, None)?;
    let overloaded = overloads::since(&known, &calibration).count() > 0;
    let stops = gauge_entry::new_stops(session, gauge, writer)?;
    let mut setup = conditions.setup.clone();
    setup.gauge = live::gauge_of(&calibration, today_days(), overloaded);
    if setup.gauge.standing == Standing::InForce
        && let Some(unfit) = unfit::found(&writer.book, gauge, &calibration, None)?
    {
        setup.gauge.standing = Standing::Unfit;
        app.console.say(&unfit.words());
    }
    setup.at_spindle = true;
    let end_probe = match set.push_out {
        true => Some(require_end_probe(session)?),
        false => None,
    };
    setup.end_probe = end_probe.as_ref().map(live::end_probe_of);
    if setup.drop_because.is_none() {
        setup.drop_because = setup::drop_found(&writer.book, set.visit)?;
    }
    let rated_n = setup.gauge.rated_load_n.unwrap_or(0.0);
    require_capacity(session, rated_n, conditions.highest_expected_n, app)?;
    app.console.say(&format!(
        "Gauge {} on {}, calibration {}{}{}.",
        session.hello().serial,
        session.port(),
        calibration.certificate,
        connection::standing_remark(&calibration),
        if overloaded {
            " OVERLOADED since: no acceptance with this gauge"
        } else {
            ""
        },
    ));
    stops.iter().for_each(|line| app.console.say(line));
    if set.push_out {
        app.console.say(
            "Before each clamp and for half a second after each unclamp: hold the shank up against the gripper. Then let the gauge hang free.",
        );
    }
    // The picture of each step says what to do in it: this would stand under all of them.
    Prompt::say_step(
        &mut app.console,
        "Hold the gauge free, knob touching nothing.",
    );
    let order = GripRequest {
        clamps: set.clamps,
        setup,
        limits: conditions.limits.to_keep()?,
        fresh: set.fresh,
        visit: set.visit,
        gauge,
        overloads,
        subject: Subject {
            title: set.title.clone(),
            gauge: format!("gauge {} on {}", session.hello().serial, session.port()),
        },
        last_mean: set.last_mean.clone(),
        end_probe,
    };
    let settings = app.settings.clone();
    let mut taken = live::measure(
        session,
        &calibration,
        writer,
        &mut app.console,
        &settings,
        &order,
        interrupt,
    )?;
    if taken.cut_short.is_none() {
        taken.cut_short = note_what_happened(session, gauge, writer, app).err();
    }
    Ok(taken)
}

/// What happened in this check is known by its day before the gauge goes to be calibrated again.
fn note_what_happened(
    session: &mut Session,
    gauge: Uuid,
    writer: &mut BookWriter,
    app: &mut App,
) -> Result<(), Error> {
    writer.note_overloads(gauge, &session.overloads()?, None)?;
    let stops = gauge_entry::new_stops(session, gauge, writer)?;
    stops.iter().for_each(|line| app.console.say(line));
    Ok(())
}

fn require_force(session: &mut Session) -> Result<CalibrationRecord, Error> {
    let refused = |session: &Session, reason: &str| {
        Error::from(LinkError::Refused {
            port: session.port(),
            request: "measure force",
            reason: reason.to_owned(),
        })
    };
    if !session.hello().fitted.force {
        return Err(refused(session, "it has no load cell; use a force gauge"));
    }
    let record = session.calibration(Channel::Force)?;
    let record = record.ok_or_else(|| {
        refused(session, "no calibration is stored in it, so its counts are no force; write its certificate into it first")
    })?;
    session.require_bridge(&record)?;
    Ok(record)
}

/// The record of what reads the gauge's end face: the probe, or where there is none the digital indicator.
fn require_end_probe(session: &mut Session) -> Result<CalibrationRecord, Error> {
    let refused = |session: &Session, reason: &str| {
        Error::from(LinkError::Refused {
            port: session.port(),
            request: "measure the push-out",
            reason: reason.to_owned(),
        })
    };
    let Some(channel) = connection::length_channel(session.hello().fitted) else {
        return Err(refused(
            session,
            "it has neither probe nor indicator; leave --push-out out",
        ));
    };
    let record = session.calibration(channel)?;
    record.ok_or_else(|| {
        refused(session, "no calibration of its probe is stored in it; write its certificate into it first (gauge certificate), or leave --push-out out")
    })
}

/// Of a spindle whose force nobody knows, only whoever stands there can say that the gauge bears it: asked before the pictures,
/// which cover what was said.
fn acknowledge_unknown_pull(
    rated_n: f64,
    conditions: &GripConditions,
    app: &mut App,
) -> Result<Option<Acknowledged>, Error> {
    if conditions.highest_expected_n.is_some() {
        return Ok(None);
    }
    let most = app.settings.force(rated_n / CAPACITY_FACTOR);
    let line = format!(
        "No force is known for this spindle. Go on only if its plate or papers say that it pulls no more than {most}"
    );
    acknowledge::also(MachineState::Live, &line, app).map(Some)
}

/// A gauge that bears the spindle's force and is not calibrated that far up: it measures, and can find nothing within limit there.
fn short_calibration(
    calibration: &CalibrationRecord,
    conditions: &GripConditions,
    settings: &Settings,
) -> Option<String> {
    let limits = &conditions.limits;
    let asked = limits.limits.iter().map(|sourced| &sourced.limit);
    let asked = asked.filter(|limit| limit.figure.is_holding_force());
    let asked = asked.map(|limit| limit.limit);
    let nominal = limits.nominal.as_ref().map(|nominal| nominal.force_n);
    let [_, ends_n] = calibration.span;
    let beyond_n = asked.chain(nominal).filter(|force_n| *force_n > ends_n);
    let highest_n = beyond_n.reduce(f64::max)?;
    let force = |newton| settings.force(newton);
    Some(format!(
        "The gauge's calibration ends at {}, and {} is asked of this spindle: a force beyond {0} is measured, and not found within limit. Use \
         a gauge that is calibrated further up.",
        force(ends_n),
        force(highest_n)
    ))
}

/// Refuses a gauge that is too small for the spindle, before the first clamp.
fn require_capacity(
    session: &Session,
    rated_n: f64,
    highest_expected_n: Option<f64>,
    app: &mut App,
) -> Result<(), Error> {
    let fits = |expected_n: &f64| capacity_suffices(*expected_n, rated_n);
    let Some(expected_n) = highest_expected_n.filter(|expected_n| !fits(expected_n)) else {
        return Ok(());
    };
    let force = |newton| app.settings.force(newton);
    Err(LinkError::Refused {
        port: session.port(),
        request: "be used on this spindle",
        reason: format!(
            "it is rated {}, and {} × the {} to be expected is {}; use a bigger gauge",
            force(rated_n),
            CAPACITY_FACTOR,
            force(expected_n),
            force(CAPACITY_FACTOR * expected_n)
        ),
    }
    .into())
}

/// How the command ends: the verdict, outranked by what cut the check short.
fn finished(
    taken: MeasuredGrip,
    conditions: &GripConditions,
    app: &App,
) -> Result<Finished, Error> {
    let Some(result) = taken.result else {
        return Err(taken.cut_short.unwrap_or_else(|| {
            Error::gauge("no clamp was recognised: check knob and gripper, then take the set again")
        }));
    };
    let exit = match taken.cut_short {
        // A set that was cut short is not judged by the shell; its document still shows what there is.
        Some(_) => Exit::Done,
        None => crate::grip::command::exit(&result, &conditions.setup),
    };
    let done = Finished::new(
        exit,
        &stored_check::document(&result)?,
        words::grip(&result, &app.settings),
    )?;
    Ok(match taken.cut_short {
        Some(error) => done.cut_short(error),
        None => done,
    })
}
