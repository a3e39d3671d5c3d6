//! `runout --gauge`: a runout check at the machine. In: a gauge and what is to be read. Out: the check, in the book.

use super::{World, gauge};
use crate::acknowledge;
use crate::args::runout::RunoutArgs;
use crate::cautions::MachineState;
use crate::desk::{Desk, today_days};
use crate::error::Error;
use crate::exit::Exit;
use crate::gauge::calibration::{self, Standing, standing};
use crate::gauge::displacement::DisplacementBuilder;
use crate::gauge::session::Session;
use crate::link::LinkError;
use crate::live::Interrupt;
use crate::live::keys::Keys;
use crate::live::runout::{self as live, Bench, Order, Taken};
use crate::output::Finished;
use crate::runout_begun::Begun;
use crate::runout_plan::{self, PlannedPlane, TURNING};
use crate::runout_setup::{self, InForce};
use crate::runout_words;
use holdtrue_book::GaugeHeader;
use holdtrue_metrology::runout::{Indicator, RunoutSetup};
use holdtrue_protocol::message::CalibrationRecord;
use uuid::Uuid;

pub(super) fn run(port: &str, args: &RunoutArgs, world: &mut World) -> Result<Finished, Error> {
    let in_force = runout_setup::gather(args)?;
    let plan = plan(args);
    let last = world.at_hand()?.acknowledged;
    let acknowledged = acknowledge::before(MachineState::Isolated, last.as_ref(), world)?;
    let interrupt = Interrupt::on_ctrl_c()?;
    let keys = if world.yes {
        Keys::nobody()
    } else {
        Keys::of_terminal()
    };
    // Nothing is filed before the gauge has answered: a wrong port leaves no visit behind.
    let mut session = gauge::connect(port)?;
    let mut desk = world.desk()?;
    let visit = desk.visit_at_hand()?;
    acknowledged.file(visit, &mut desk)?;
    let set = Set {
        plan,
        turns: args.turns,
        seconds: args.seconds,
        fresh: args.new,
        visit,
        simulated: false,
    };
    let taken = measure(
        &mut session,
        &set,
        &in_force,
        &keys,
        &mut desk,
        world,
        &interrupt,
    )?;
    finished(taken, world)
}

/// One plane where a place is named, else the usual round.
fn plan(args: &RunoutArgs) -> Vec<PlannedPlane> {
    if args.place.at.is_none() && args.place.height_mm.is_none() {
        runout_plan::usual(args.way)
    } else {
        vec![PlannedPlane {
            place: args.place.clone(),
            way: args.way,
        }]
    }
}

/// Which planes, and how.
pub(super) struct Set {
    /// The planes in order.
    pub plan: Vec<PlannedPlane>,
    /// Whole turns of a marked plane.
    pub turns: u32,
    /// Seconds of a free turn.
    pub seconds: f64,
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
    keys: &Keys,
    desk: &mut Desk,
    world: &mut World,
    interrupt: &Interrupt,
) -> Result<Taken, Error> {
    let calibration = require_displacement(session)?;
    let gauge = gauge_in_book(session, &calibration, set.simulated, desk)?;
    let begun = Begun {
        unit: None,
        place: Default::default(),
        way: set.plan.first().map(|first| first.way).unwrap_or_default(),
        setup: setup_of(&in_force.setup, &calibration),
        calibration_sha256: Some(calibration::sha256(&calibration)),
    };
    world.console.say(&format!(
        "Gauge {} on {}, calibration {}{}.",
        session.hello().serial,
        session.port(),
        calibration.certificate,
        gauge::standing_remark(&calibration),
    ));
    world.console.say(TURNING);
    let order = Order {
        plan: set.plan.clone(),
        begun,
        limits: in_force.limits.to_keep()?,
        turns: set.turns,
        seconds: set.seconds,
        fresh: set.fresh,
        visit: set.visit,
        gauge,
    };
    let settings = world.settings.clone();
    let mut bench = Bench {
        session,
        calibration: &calibration,
        desk,
        voice: &mut world.console,
        keys,
        settings: &settings,
        interrupt,
    };
    live::measure(&mut bench, &order)
}

/// The record of the probe, or where there is none of the digital indicator.
fn require_displacement(session: &mut Session) -> Result<CalibrationRecord, Error> {
    let channel = gauge::length_channel(session.hello().fitted);
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
            out_of_force: lapsed.then(|| "its calibration has lapsed".to_owned()),
        });
    }
    setup
}

/// Travel a runout check uses of an indicator, µm.
const USED_SPAN_UM: f64 = 100.0;

pub(super) fn gauge_in_book(
    session: &Session,
    record: &CalibrationRecord,
    simulated: bool,
    desk: &mut Desk,
) -> Result<Uuid, Error> {
    Ok(desk.gauge(GaugeHeader {
        serial: session.hello().serial.to_string(),
        what: "indicator".to_owned(),
        resolution: Some(DisplacementBuilder::resolution_um(record)),
        simulated,
        ..GaugeHeader::default()
    })?)
}

/// How the command ends: the verdict, outranked by what cut the check short.
fn finished(taken: Taken, world: &World) -> Result<Finished, Error> {
    let Some(result) = taken.result else {
        return Err(taken.cut_short.unwrap_or_else(|| {
            Error::gauge("no plane could be read: set the indicator again, then repeat the command")
        }));
    };
    let exit = match taken.cut_short {
        Some(_) => Exit::Done,
        None => super::runout::exit(&result),
    };
    let done = Finished::new(
        exit,
        &result,
        runout_words::runout(&result, &world.settings),
    )?;
    Ok(match taken.cut_short {
        Some(error) => done.cut_short(error),
        None => done,
    })
}
