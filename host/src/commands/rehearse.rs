//! `rehearse`: a whole visit against the simulated gauge. In: a condition and a seed. Out: a visit in a book of its own,
//! measured, judged and stored by the same code as at a machine.

use super::World;
use super::grip_live::{self, Set};
use crate::acknowledge;
use crate::args::grip::GripArgs;
use crate::args::rehearse::RehearseArgs;
use crate::cautions::MachineState;
use crate::desk::{self, Desk};
use crate::error::Error;
use crate::exit::Exit;
use crate::gauge::session::Session;
use crate::grip_setup;
use crate::grip_words;
use crate::link::simulated::SimulatedLink;
use crate::live::Interrupt;
use crate::office::short_id;
use crate::output::Finished;
use crate::paper;
use holdtrue_book::{SpindleHeader, VisitHeader};
use holdtrue_simulated_gauge::port::Port;
use holdtrue_simulated_gauge::world::drawbar::MAKER_NOMINAL_N;
use holdtrue_simulated_gauge::{Hold, Setup, SimulatedGauge};
use serde_json::json;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Book and page of a rehearsal, unless told otherwise.
const FOLDER: &str = "rehearsal";
/// Where it plays.
const PLACE: &str = "Tern Point buoy yard (invented for rehearsals)";
/// Days since the simulated gauge was calibrated.
const CALIBRATED_DAYS_AGO: i32 = 60;

pub(super) fn run(args: &RehearseArgs, world: &mut World) -> Result<Finished, Error> {
    let setup = Setup::new(args.seed, args.condition)
        .calibrated_on(desk::today_days() - CALIBRATED_DAYS_AGO);
    if args.as_port {
        offer_port(setup, args, world)
    } else {
        rehearse(setup, args, world)
    }
}

fn offer_port(setup: Setup, args: &RehearseArgs, world: &mut World) -> Result<Finished, Error> {
    let interrupt = Interrupt::on_ctrl_c()?;
    let cannot = |error: &dyn std::fmt::Display| {
        Error::gauge(format!(
            "the simulated gauge cannot be offered as a port: {error}"
        ))
    };
    let mut port = Port::offer(setup, args.pace).map_err(|error| cannot(&error))?;
    let path = port.path().display().to_string();
    let document = json!({ "check": "rehearse", "schema": 1, "port": path });
    world.console.message("Simulated gauge; measure with `holdtrue grip --gauge PATH` from another terminal. Ctrl-C ends it.");
    world.console.announce(document, &path);
    port.run(interrupt.flag()).map_err(|error| cannot(&error))?;
    Ok(Finished::announced(Exit::Interrupted))
}

fn rehearse(setup: Setup, args: &RehearseArgs, world: &mut World) -> Result<Finished, Error> {
    world.console.message(&format!(
        "A rehearsal at the {PLACE}: every figure below is simulated."
    ));
    let interrupt = Interrupt::on_ctrl_c()?;
    let book = book_path(world)?;
    let mut desk = Desk::open(&book, world.technician.as_deref().unwrap_or("Technician A"))?;
    let visit = begin_visit(&setup, &mut desk)?;
    acknowledge::only_print(MachineState::Live, visit, &mut desk, world)?;
    let spindle = desk.spindle_of(visit)?;
    let in_force = grip_setup::gather(&GripArgs::default(), spindle.as_ref())?;
    let mut session = Session::open(Box::new(SimulatedLink::new(SimulatedGauge::new(setup))))?;
    let set = Set {
        clamps: args.clamps,
        fresh: true,
        visit,
        simulated: true,
    };
    let taken = grip_live::measure(&mut session, &set, &in_force, &mut desk, world, &interrupt)?;
    if let Some(error) = taken.cut_short {
        return Err(error);
    }
    let grip = taken
        .result
        .ok_or_else(|| Error::gauge("the rehearsal ended without a clamp"))?;
    world.console.say("");
    world.console.say(&grip_words::grip(&grip, &world.settings));
    let (id, stamp) = (desk.id(), desk.stamp());
    let digest = desk.book.finish(visit, id, &stamp)?;
    let page = page_path(&book, args, visit);
    paper::write_page(&desk.book, visit, &world.settings, &page)?;
    let exit = grip
        .verdict
        .as_ref()
        .map_or(Exit::Done, |verdict| verdict.outcome.into());
    let outcome = grip.verdict.as_ref().map(|verdict| verdict.outcome);
    let document = json!({
        "check": "rehearse",
        "schema": 1,
        "condition": args.condition.to_string(),
        "seed": args.seed,
        "book": book.display().to_string(),
        "page": page.display().to_string(),
        "grip": grip,
        "runout": null,
        "findings": [],
        "outcome": outcome,
    });
    let text = format!(
        "\nBook    {}\nPage    {}\nDigest  {digest}",
        book.display(),
        page.display()
    );
    Finished::new(exit, &document, text)
}

fn book_path(world: &World) -> Result<PathBuf, Error> {
    if let Some(named) = &world.book {
        return Ok(named.clone());
    }
    std::fs::create_dir_all(FOLDER).map_err(|error| Error::cannot_write(FOLDER, &error))?;
    Ok(PathBuf::from(FOLDER).join("rehearsal.holdtrue"))
}

/// The page lies beside the book; every rehearsal has its own.
fn page_path(book: &Path, args: &RehearseArgs, visit: Uuid) -> PathBuf {
    let name = format!("{}-{}-{}.html", args.condition, args.seed, short_id(visit));
    book.with_file_name(name)
}

fn begin_visit(setup: &Setup, desk: &mut Desk) -> Result<Uuid, Error> {
    let spindle = spindle_in_book(setup, desk)?;
    let header = VisitHeader {
        spindle: Some(spindle),
        purpose: Some("rehearsal".to_owned()),
        short: true,
        ..VisitHeader::default()
    };
    Ok(desk.start_visit(header)?)
}

/// The yard's centres differ in what holds the tool.
fn spindle_in_book(setup: &Setup, desk: &mut Desk) -> Result<Uuid, Error> {
    let (name, serial, drawbar) = match setup.faults.hold {
        Hold::DiscSprings => ("Centre 1", "TP-S-101", "disc-springs"),
        Hold::GasSpring => ("Centre 2", "TP-S-102", "gas-spring"),
        Hold::Hydraulic => ("Centre 3", "TP-S-103", "hydraulic"),
    };
    let known = desk
        .book
        .list::<SpindleHeader>()?
        .into_iter()
        .find(|spindle| {
            !spindle.removed && spindle.header().spindle_serial.as_deref() == Some(serial)
        });
    if let Some(known) = known {
        return Ok(known.id);
    }
    Ok(desk.first_revision(SpindleHeader {
        name: name.to_owned(),
        machine: Some("vertical machining centre".to_owned()),
        spindle_serial: Some(serial.to_owned()),
        place: Some(PLACE.to_owned()),
        invented: true,
        taper: Some("7/24".to_owned()),
        taper_size: Some(40),
        drawbar: Some(drawbar.to_owned()),
        axis: Some("vertical".to_owned()),
        grip_nominal_n: Some(MAKER_NOMINAL_N),
        ..SpindleHeader::default()
    })?)
}
