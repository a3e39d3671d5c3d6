//! `grip --gauge`: a grip check at the machine. In: a gauge and what is known of the spindle. Out: the check, in the book.

use super::{World, gauge};
use crate::acknowledge;
use crate::args::grip::GripArgs;
use crate::cautions::MachineState;
use crate::desk::{Desk, today_days};
use crate::error::Error;
use crate::exit::Exit;
use crate::gauge::overloads;
use crate::gauge::session::Session;
use crate::grip_doubts;
use crate::grip_setup::{self, InForce};
use crate::grip_words;
use crate::link::LinkError;
use crate::live::Interrupt;
use crate::live::grip::{self as live, Order, Taken};
use crate::output::Finished;
use holdtrue_book::GaugeHeader;
use holdtrue_metrology::grip::limits::{CAPACITY_FACTOR, capacity_suffices};
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use uuid::Uuid;

/// A set of clamps, where nobody says how many.
const USUAL_CLAMPS: u32 = 5;

pub(super) fn run(port: &str, args: &GripArgs, world: &mut World) -> Result<Finished, Error> {
    let at_hand = world.at_hand()?;
    let spindle = at_hand.spindle.as_ref();
    let (_, in_force) = grip_doubts::settle(args, spindle, &world.settings, &mut world.console)?;
    let act = "only to clamp and unclamp the force gauge, hands clear";
    let acknowledged = acknowledge::before(MachineState::Live, act, &at_hand.acknowledged, world)?;
    let interrupt = Interrupt::on_ctrl_c()?;
    // Nothing is filed before the gauge has answered: a wrong port leaves no visit behind.
    let mut session = gauge::connect(port)?;
    let mut desk = world.desk()?;
    let visit = desk.visit_at_hand()?;
    acknowledged.file(visit, &mut desk)?;
    let set = Set {
        clamps: args.clamps.unwrap_or(USUAL_CLAMPS),
        fresh: args.new,
        visit,
        simulated: false,
    };
    let taken = measure(&mut session, &set, &in_force, &mut desk, world, &interrupt)?;
    world.console.say(
        "Before you wipe, look or turn by hand: force gauge out, then isolated and locked out.",
    );
    finished(taken, &in_force, world)
}

/// Which set of clamps.
pub(super) struct Set {
    /// Clamps that must count.
    pub clamps: u32,
    /// Never continue an unfinished check.
    pub fresh: bool,
    /// The visit.
    pub visit: Uuid,
    /// The gauge is simulated in this process.
    pub simulated: bool,
}

/// Measures with a gauge that answers.
pub(super) fn measure(
    session: &mut Session,
    set: &Set,
    in_force: &InForce,
    desk: &mut Desk,
    world: &mut World,
    interrupt: &Interrupt,
) -> Result<Taken, Error> {
    let calibration = require_force(session)?;
    let overloads = session.overloads()?;
    let gauge = gauge_in_book(session, &calibration, set.simulated, desk)?;
    let known = desk.note_overloads(gauge, &overloads, None)?;
    let overloaded = overloads::since(&known, &calibration).count() > 0;
    let mut setup = in_force.setup.clone();
    setup.gauge = live::gauge_of(&calibration, today_days(), overloaded);
    setup.at_spindle = true;
    if setup.drop_because.is_none() {
        setup.drop_because = grip_setup::drop_found(&desk.book, set.visit)?;
    }
    let rated_n = setup.gauge.rated_load_n.unwrap_or(0.0);
    require_capacity(session, rated_n, in_force.highest_expected_n, world)?;
    world.console.say(&format!(
        "Gauge {} on {}, calibration {}{}{}.",
        session.hello().serial,
        session.port(),
        calibration.certificate,
        gauge::standing_remark(&calibration),
        if overloaded {
            " OVERLOADED since: no acceptance with this gauge"
        } else {
            ""
        },
    ));
    world
        .console
        .say("Hold the gauge free, knob touching nothing.");
    let order = Order {
        clamps: set.clamps,
        setup,
        limits: in_force.limits.to_keep()?,
        fresh: set.fresh,
        visit: set.visit,
        gauge,
        overloads,
    };
    let settings = world.settings.clone();
    let mut taken = live::measure(
        session,
        &calibration,
        desk,
        &mut world.console,
        &settings,
        &order,
        interrupt,
    )?;
    if taken.cut_short.is_none() {
        taken.cut_short = note_new_overloads(session, gauge, desk).err();
    }
    Ok(taken)
}

/// What happened in this check is known by its day before the gauge goes to be calibrated again.
fn note_new_overloads(session: &mut Session, gauge: Uuid, desk: &mut Desk) -> Result<(), Error> {
    desk.note_overloads(gauge, &session.overloads()?, None)?;
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
    record.ok_or_else(|| {
        refused(session, "no calibration is stored in it, so its counts are no force; write its certificate into it first")
    })
}

/// The gauge's entry in the book, made now if there is none.
pub(super) fn gauge_in_book(
    session: &Session,
    record: &CalibrationRecord,
    simulated: bool,
    desk: &mut Desk,
) -> Result<Uuid, Error> {
    let header = GaugeHeader {
        serial: session.hello().serial.to_string(),
        what: "force-gauge".to_owned(),
        rated_n: Some(record.rated),
        resolution: Some(record.coefficients[1].abs()),
        simulated,
        ..GaugeHeader::default()
    };
    Ok(desk.gauge(header)?)
}

/// Refuses a gauge that is too small for the spindle, before the first clamp.
fn require_capacity(
    session: &Session,
    rated_n: f64,
    highest_expected_n: Option<f64>,
    world: &mut World,
) -> Result<(), Error> {
    let Some(expected_n) = highest_expected_n else {
        world.console.say(&format!(
            "No force is known for this spindle: be sure that it does not pull more than {} before you clamp.",
            world.settings.force(rated_n / CAPACITY_FACTOR)
        ));
        return Ok(());
    };
    if capacity_suffices(expected_n, rated_n) {
        return Ok(());
    }
    let force = |newton| world.settings.force(newton);
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
fn finished(taken: Taken, in_force: &InForce, world: &World) -> Result<Finished, Error> {
    let Some(result) = taken.result else {
        return Err(taken.cut_short.unwrap_or_else(|| {
            Error::gauge("no clamp was recognised: check knob and gripper, then take the set again")
        }));
    };
    let exit = match taken.cut_short {
        // A set that was cut short is not judged by the shell; its document still shows what there is.
        Some(_) => Exit::Done,
        None => super::grip::exit(&result, &in_force.setup),
    };
    let done = Finished::new(exit, &result, grip_words::grip(&result, &world.settings))?;
    Ok(match taken.cut_short {
        Some(error) => done.cut_short(error),
        None => done,
    })
}
