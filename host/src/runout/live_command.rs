//! `runout --gauge`: a runout check at the machine. In: a gauge and what is to be read. Out: the check, in the book.

use crate::connection;
use crate::runout::arguments::{PlaceArgs, RunoutArgs};
use crate::runout::before;
use crate::runout::before::BrokenOff;
use crate::runout::changeover::Cautioned;
use crate::runout::doubtful;
use crate::runout::guidance;
use crate::runout::live;
use crate::runout::live::{MeasuredRunout, RunoutRequest, Station};
use crate::runout::plan;
use crate::runout::plan::{Nose, PlannedPlane, TURNING};
use crate::runout::setup;
use crate::runout::setup::RunoutConditions;
use crate::runout::stored::Begun;
use crate::runout::words;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::Keys;
use crate::terminal::parse::positive;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words;
use crate::terminal::scene_words::Subject;
use crate::visits::acknowledge;
use crate::visits::book::book_writer::{BookWriter, today_days};
use crate::visits::book::opening;
use crate::visits::cautions::MachineState;
use crate::visits::checks::since;
use crate::visits::checks::state;
use crate::visits::checks::stored_calibration;
use crate::visits::checks::stored_check;
use crate::visits::gauge_entry;
use holdtrue_book::CheckKind;
use holdtrue_gauge::calibration::{Standing, standing};
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::link::LinkError;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::runout::nose::{BarTurns, wall_length_mm};
use holdtrue_metrology::runout::remarks::CertificateGap;
use holdtrue_metrology::runout::{Indicator, RunoutSetup};
use holdtrue_protocol::message::CalibrationRecord;
use holdtrue_terms::taper::Interface;
use uuid::Uuid;

pub(crate) fn run(port: &str, args: &RunoutArgs, app: &mut App) -> Result<Finished, Error> {
    let at_hand = app.at_hand()?;
    at_hand.warn(&mut app.console);
    let mut args = RunoutArgs {
        state: state::asked(args.state, CheckKind::Runout, args.new, &at_hand, app)?,
        ..args.clone()
    };
    let mut conditions = setup::gather(&args, at_hand.spindle.as_ref())?;
    let taper = conditions.limits.interface;
    doubtful::settle_depth(&mut args, taper, &app.settings, &mut app.console)?;
    conditions.setup.as_read = args.as_read;
    let args = &args;
    require_depth(args, taper)?;
    let broken_off = BrokenOff::at_hand(&at_hand, args.state, args.new, app)?;
    let judged = before::judged_by(
        &conditions.limits,
        broken_off.as_ref(),
        before::BY_OPTION,
        &app.settings,
    );
    for line in judged {
        app.console.say(&line);
    }
    let plan = plan(args, &mut conditions, app)?;
    let have = broken_off.map_or(0, |broken_off| broken_off.planes.len());
    let bar_is_in = have == 0 && bar_is_in(&plan, app)?;
    let seated = plan.first().filter(|_| bar_is_in);
    let begins = match live::first_act(&plan, have, seated) {
        Some(_) => MachineState::Live,
        None => MachineState::Isolated,
    };
    // In the order of the work: who is to unclamp first is not asked whether it is locked out, which comes behind that.
    let act = match begins {
        MachineState::Live => "only to unclamp and clamp the bar, hands clear",
        MachineState::Isolated => "to turn it by hand and to set the indicator",
    };
    let acknowledged = acknowledge::before(begins, act, &at_hand.acknowledged, app)?;
    let known = |state: &MachineState| acknowledge::said_in_full(*state, &at_hand.acknowledged);
    let other = match begins {
        MachineState::Live => MachineState::Isolated,
        MachineState::Isolated => MachineState::Live,
    };
    let cautions = Cautioned {
        by: acknowledged.how(),
        said: [begins]
            .into_iter()
            .chain([other].into_iter().filter(known))
            .collect(),
    };
    let interrupt = Interrupt::on_ctrl_c()?;
    let keys = Keys::of_terminal();
    // Nothing is filed before the gauge has answered: a wrong port leaves no visit behind.
    let mut session = connection::connect(port)?;
    require_somebody(&plan, args.paced, &keys, &session)?;
    let mut writer = app.writer()?;
    let visit = writer.visit_at_hand()?;
    acknowledged.file(visit, &mut writer)?;
    let set = Set {
        plan,
        bar_is_in,
        turns: args.turns,
        seconds: args.seconds,
        paced_s: args.paced,
        fresh: args.new,
        visit,
        simulated: false,
        cautions,
        title: scene_words::heading(
            "Runout",
            args.state,
            opening::called(at_hand.spindle.as_ref(), taper),
        ),
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
        &keys,
        &mut writer,
        app,
        &interrupt,
    );
    if let Ok(taken) = &measured {
        keep_result(taken, &set, app, &interrupt);
    }
    app.console.close_screen();
    let taken = measured?;
    let done = finished(taken, app)?;
    Ok(since::tell(
        done,
        &writer.book,
        visit,
        CheckKind::Runout,
        app,
    ))
}

/// The verdict stays in sight until somebody has seen it.
fn keep_result(taken: &MeasuredRunout, set: &Set, app: &mut App, interrupt: &Interrupt) {
    let subject = Subject {
        title: set.title.clone(),
        gauge: String::new(),
    };
    let judged = taken.result.as_ref().filter(|_| taken.cut_short.is_none());
    let scene = judged.and_then(|result| guidance::judged(result, &subject, &app.settings));
    if let Some(scene) = scene {
        app.console.keep_scene(&scene, || interrupt.is_set());
    }
}

/// A position is read when somebody says so, or in a rhythm.
fn require_somebody(
    plan: &[PlannedPlane],
    paced_s: Option<f64>,
    keys: &Keys,
    session: &Session,
) -> Result<(), Error> {
    let stepped = plan.iter().any(|plane| plane.stops().is_some());
    if !stepped || paced_s.is_some() || keys.is_somebody() || live::has_button(session.hello()) {
        return Ok(());
    }
    Err(Error::usage(
        "nobody can say when a position is to be read: there is no terminal here, and this gauge knows of no push button. \
         Nothing was started. Run it on a terminal, or add --paced SECONDS",
    ))
}

/// Refuses a depth beyond the end of the wall.
fn require_depth(args: &RunoutArgs, taper: Option<Interface>) -> Result<(), Error> {
    let wall_mm = taper.and_then(wall_length_mm);
    match (args.indicator.deepest_mm, wall_mm, taper) {
        (Some(deepest_mm), Some(wall_mm), Some(taper)) if deepest_mm >= wall_mm => {
            Err(Error::usage(format!(
                "--deepest-mm {deepest_mm}: the wall of a {taper} taper ends about {wall_mm:.0} mm inside the mouth; \
                 give the depth the indicator reaches on it, or name another taper with --interface"
            )))
        }
        _ => Ok(()),
    }
}

/// One plane where a place is named, else the usual round as the taper allows it.
fn plan(
    args: &RunoutArgs,
    conditions: &mut RunoutConditions,
    app: &mut App,
) -> Result<Vec<PlannedPlane>, Error> {
    let PlaceArgs { at, height_mm, .. } = args.place;
    if args.seatings.is_none() && (at.is_some() || height_mm.is_some()) {
        return Ok(vec![PlannedPlane {
            place: args.place.clone(),
            way: args.way,
        }]);
    }
    let taper = conditions.limits.interface;
    let nose = nose(args.indicator.deepest_mm, taper, app)?;
    conditions.setup.bar_turns = nose.turns;
    // The round says to set the indicator square to the wall.
    conditions.setup.square_to_wall = Some(setup::slope(taper));
    let mut plan = plan::usual(args.way, &nose);
    if let Some(seatings) = args.seatings {
        plan.retain(|plane| {
            let place = &plane.place;
            let within = place.seating.is_none_or(|seating| seating <= seatings);
            within
                && (at.is_none() || place.at == at)
                && (height_mm.is_none() || place.height_mm == height_mm)
        });
    }
    if plan.is_empty() {
        return Err(Error::usage(
            "--seatings: found no plane of the usual round at this place, expected --at wall or bar, and --height-mm 20 or 300 \
             on the bar",
        ));
    }
    Ok(plan)
}

/// What the taper allows: known of it, told by option, or asked. Where nobody can be asked it is said what is taken on.
fn nose(deepest_mm: Option<f64>, taper: Option<Interface>, app: &mut App) -> Result<Nose, Error> {
    let mut nose = Nose::of(taper);
    nose.deepest_mm = deepest_mm.or(nose.deepest_mm);
    let (no_depth, no_turns) = (nose.deepest_mm.is_none(), nose.turns == BarTurns::NotKnown);
    if app.yes && (no_depth || no_turns) {
        return Ok(taken_on(nose, taper, app));
    }
    if no_depth {
        nose.deepest_mm = ask_depth(app)?;
    }
    if no_turns {
        let question = "Do the drive keys let the bar in turned by half a turn (180°)?";
        nose.turns = match app.console.ask(question)? {
            Some(true) => BarTurns::HalfTurns,
            Some(false) => BarTurns::OneWay,
            None => BarTurns::NotKnown,
        };
    }
    Ok(nose)
}

/// What nobody said: without a taper the most common one, else what is safe to say of this one.
fn taken_on(nose: Nose, taper: Option<Interface>, app: &mut App) -> Nose {
    let Some(taper) = taper else {
        app.console.say(
            "The taper is not named: the round is planned for a 7/24 no. 40 (BT/SK/CAT 40). Name another one with --interface.",
        );
        let common = Nose::of("7/24-40".parse().ok());
        return Nose {
            deepest_mm: nose.deepest_mm.or(common.deepest_mm),
            ..common
        };
    };
    app.console.say(&format!(
        "How the keys of a {taper} taper let the bar in is not known here: it is taken to go in one way only."
    ));
    Nose {
        turns: BarTurns::OneWay,
        ..nose
    }
}

fn ask_depth(app: &mut App) -> Result<Option<f64>, Error> {
    let question = "How deep does the indicator reach on the wall of the taper, mm inside the mouth? Type the number, then Enter. Enter alone: it is read near the mouth only.";
    loop {
        match app.console.line(question)? {
            Some(answer) if !answer.is_empty() => match positive(&answer) {
                Ok(depth_mm) => return Ok(Some(depth_mm)),
                Err(why) => app.console.say(&format!("{why}.")),
            },
            _ => return Ok(None),
        }
    }
}

/// Whether the bar sits already as a single plane on it needs it: then nothing has to be live.
fn bar_is_in(plan: &[PlannedPlane], app: &mut App) -> Result<bool, Error> {
    match plan {
        [only] if only.is_on_bar() && !app.yes => {
            let question = "Is the bar clamped already, in this seating and position, and was the machine isolated again after it?";
            Ok(app.console.ask(question)?.unwrap_or(false))
        }
        _ => Ok(false),
    }
}

/// Which planes, and how.
pub(crate) struct Set {
    /// The planes in order.
    pub plan: Vec<PlannedPlane>,
    /// The bar sits already as the first plane needs it.
    pub bar_is_in: bool,
    /// Whole turns of a marked plane.
    pub turns: u32,
    /// Seconds of a free turn.
    pub seconds: f64,
    /// Seconds for a turn and a hold; none: positions are read when somebody says so.
    pub paced_s: Option<f64>,
    /// Never continue an unfinished check.
    pub fresh: bool,
    /// The visit.
    pub visit: Uuid,
    /// The gauge is simulated in this process.
    pub simulated: bool,
    /// How cautions are acknowledged.
    pub cautions: Cautioned,
    /// What the screen is headed.
    pub title: String,
}

/// Measures with a gauge that answers.
pub(crate) fn measure(
    session: &mut Session,
    set: &Set,
    conditions: &RunoutConditions,
    keys: &Keys,
    writer: &mut BookWriter,
    app: &mut App,
    interrupt: &Interrupt,
) -> Result<MeasuredRunout, Error> {
    let calibration = require_displacement(session)?;
    let gauge = gauge_entry::indicator(session, &calibration, set.simulated, writer)?;
    let planes = u32::try_from(set.plan.len()).ok();
    let begun = Begun {
        planes,
        unit: None,
        place: Default::default(),
        way: set.plan.first().map(|first| first.way).unwrap_or_default(),
        setup: setup_of(&conditions.setup, &calibration),
        calibration_sha256: Some(stored_calibration::sha256(&calibration)),
    };
    app.console.say(&format!(
        "Gauge {} on {}, calibration {}{}.",
        session.hello().serial,
        session.port(),
        calibration.certificate,
        connection::standing_remark(&calibration),
    ));
    say_new_stops(session, gauge, writer, app)?;
    Prompt::say_step(&mut app.console, TURNING);
    let order = RunoutRequest {
        plan: set.plan.clone(),
        bar_is_in: set.bar_is_in,
        begun,
        limits: conditions.limits.to_keep()?,
        turns: set.turns,
        seconds: set.seconds,
        paced_s: set.paced_s,
        fresh: set.fresh,
        visit: set.visit,
        gauge,
        cautions: set.cautions.clone(),
        subject: Subject {
            title: set.title.clone(),
            gauge: format!("gauge {} on {}", session.hello().serial, session.port()),
        },
    };
    let settings = app.settings.clone();
    let mut station = Station {
        session,
        calibration: &calibration,
        writer,
        prompt: &mut app.console,
        keys,
        settings: &settings,
        interrupt,
    };
    let mut taken = live::measure(&mut station, &order)?;
    if taken.cut_short.is_none() {
        taken.cut_short = say_new_stops(session, gauge, writer, app).err();
    }
    Ok(taken)
}

/// The gauge's program stopped since it was asked last, perhaps in this check.
fn say_new_stops(
    session: &mut Session,
    gauge: Uuid,
    writer: &mut BookWriter,
    app: &mut App,
) -> Result<(), Error> {
    let stops = gauge_entry::new_stops(session, gauge, writer)?;
    stops.iter().for_each(|line| app.console.say(line));
    Ok(())
}

/// The record of the probe, or where there is none of the digital indicator.
fn require_displacement(session: &mut Session) -> Result<CalibrationRecord, Error> {
    let channel = connection::length_channel(session.hello().fitted);
    let refused = |session: &Session, reason: &str| {
        Error::from(LinkError::Refused {
            port: session.port(),
            request: "measure runout",
            reason: reason.to_owned(),
        })
    };
    let Some(channel) = channel else {
        return Err(refused(
            session,
            "it has neither probe nor indicator; use one that has, or type a dial's readings with --readings",
        ));
    };
    let record = session.calibration(channel)?;
    record.ok_or_else(|| {
        refused(
            session,
            "no calibration of its probe is stored in it; write its certificate into it first (gauge certificate), or compare it with gauge blocks (gauge calibrate --indicator)",
        )
    })
}

/// The setup with the calibration of the gauge in it, unless the command line states another uncertainty.
fn setup_of(asked: &RunoutSetup, record: &CalibrationRecord) -> RunoutSetup {
    let mut setup = asked.clone();
    setup.typed = false;
    if setup.indicator.is_none() {
        let lapsed = standing(record, today_days()) != Standing::InForce;
        let span_um = (record.span[1] - record.span[0]).abs();
        setup.indicator = Some(Indicator {
            // Stated for the whole span as the certificate does: a reading's share of it and its fixed part.
            expanded_um: record.expanded_fixed
                + record.expanded_relative * USED_SPAN_UM.min(span_um),
            resolution_um: Some(DisplacementBuilder::resolution_um(record)),
            out_of_force: lapsed.then_some(CertificateGap::Lapsed),
        });
    }
    setup
}

/// Travel a runout check uses of an indicator, µm.
const USED_SPAN_UM: f64 = 100.0;

/// How the command ends: the verdict, outranked by what cut the check short.
fn finished(taken: MeasuredRunout, app: &App) -> Result<Finished, Error> {
    let Some(result) = taken.result else {
        return Err(taken.cut_short.unwrap_or_else(|| {
            Error::gauge("no plane could be read: set the indicator again, then repeat the command")
        }));
    };
    let exit = match taken.cut_short {
        Some(_) => Exit::Done,
        None => crate::runout::command::exit(&result),
    };
    let done = Finished::new(
        exit,
        &stored_check::document(&result)?,
        words::runout(&result, &app.settings),
    )?;
    Ok(match taken.cut_short {
        Some(error) => done.cut_short(error),
        None => done,
    })
}
