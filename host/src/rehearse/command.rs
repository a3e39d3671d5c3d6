//! `rehearse`: a whole visit against the simulated gauge. In: a condition and a seed. Out: a visit in a book of its own,
//! measured, judged and stored by the same code as at a machine.

use crate::grip::arguments::GripArgs;
use crate::grip::live_command as grip_live_command;
use crate::grip::live_command::Set;
use crate::grip::setup as grip_setup;
use crate::grip::setup::GripConditions;
use crate::grip::words as grip_words;
use crate::limits::LimitsFile;
use crate::page::model as page_model;
use crate::rehearse::arguments::RehearseArgs;
use crate::runout::arguments::Way;
use crate::runout::changeover::Cautioned;
use crate::runout::live_command as runout_live_command;
use crate::runout::plan;
use crate::runout::plan::Nose;
use crate::runout::setup as runout_setup;
use crate::runout::words as runout_words;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::Keys;
use crate::visits::acknowledge;
use crate::visits::book::book_writer;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::book::opening::{short_id, taper_of};
use crate::visits::cautions;
use crate::visits::cautions::MachineState;
use crate::visits::checks::stored_check;
use crate::visits::visit_end;
use holdtrue_book::{Finding, FindingKind, How, Json, SpindleHeader, VisitHeader};
use holdtrue_gauge::link::simulated::SimulatedLink;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::decision::{Figure, Limit, Side};
use holdtrue_metrology::limits::SourcedLimit;
use holdtrue_metrology::runout::{RunoutResult, RunoutSetup};
use holdtrue_metrology::verdict;
use holdtrue_simulated_gauge::port::Port;
use holdtrue_simulated_gauge::world::drawbar::MAKER_NOMINAL_N;
use holdtrue_simulated_gauge::world::end_face::MAKER_MM;
use holdtrue_simulated_gauge::{Condition, Hold, Setup, SimulatedGauge};
use holdtrue_terms::vocabulary::{Axis, Drawbar, Provenance, Purpose};
use serde_json::json;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Book and page of a rehearsal, unless told otherwise.
const FOLDER: &str = "rehearsal";
/// Where it plays.
const PLACE: &str = "Tern Point buoy yard (invented for rehearsals)";
/// What the invented maker allows the spindle alone, as twice its eccentricity: height and limit, mm and µm.
const SPINDLE_PART_LIMITS_UM: [[f64; 2]; 2] = [[20.0, 10.0], [300.0, 25.0]];
/// Parts of a visit that need a real machine.
const NOT_REHEARSED: [(&str, &str); 4] = [
    ("spindle", "taper marks and gripper fingers"),
    ("spindle", "play at the nose"),
    ("spindle", "blueing of the taper"),
    ("spindle", "noise at speed"),
];
/// Days since the simulated gauge was calibrated.
const CALIBRATED_DAYS_AGO: i32 = 60;

pub(crate) fn run(args: &RehearseArgs, app: &mut App) -> Result<Finished, Error> {
    let setup = Setup {
        end_face: true,
        ..Setup::new(args.seed, args.condition)
            .calibrated_on(book_writer::today_days() - CALIBRATED_DAYS_AGO)
    };
    if args.as_port {
        offer_port(setup, args, app)
    } else {
        rehearse(setup, args, app)
    }
}

fn offer_port(setup: Setup, args: &RehearseArgs, app: &mut App) -> Result<Finished, Error> {
    let interrupt = Interrupt::on_ctrl_c()?;
    let cannot = |error: &dyn std::fmt::Display| {
        Error::gauge(format!(
            "the simulated gauge cannot be offered as a port: {error}"
        ))
    };
    let mut port = Port::offer(setup, args.pace).map_err(|error| cannot(&error))?;
    let path = port.path().display().to_string();
    let document = json!({ "check": "rehearse", "schema": 1, "port": path });
    app.console.message("Simulated gauge; measure with `holdtrue grip --gauge PATH` from another terminal. Ctrl-C ends it.");
    app.console.announce(document, &path);
    port.run(interrupt.flag()).map_err(|error| cannot(&error))?;
    Ok(Finished::announced(Exit::Interrupted))
}

/// A rehearsal cut short is not gone on with: the next one is a visit of its own.
fn rehearse(setup: Setup, args: &RehearseArgs, app: &mut App) -> Result<Finished, Error> {
    rehearse_whole(setup, args, app).map_err(|error| match error.exit {
        Exit::Interrupted => Error::interrupted(
            "stopped: everything shown as recorded is in the rehearsal's book; the next rehearsal begins a new visit",
        ),
        _ => error,
    })
}

fn rehearse_whole(setup: Setup, args: &RehearseArgs, app: &mut App) -> Result<Finished, Error> {
    app.console.message(&format!(
        "A rehearsal at the {PLACE}: every figure below is simulated."
    ));
    let interrupt = Interrupt::on_ctrl_c()?;
    let book = book_path(app)?;
    let mut writer = BookWriter::open(&book, app.technician.as_deref().unwrap_or("Technician A"))?;
    let visit = begin_visit(&setup, &mut writer)?;
    acknowledge::only_print(MachineState::Live, visit, &mut writer, app)?;
    let spindle = writer.spindle_of(visit)?;
    let mut conditions = grip_setup::gather(&GripArgs::default(), spindle.as_ref())?;
    let push_out = reads_push_out(args.condition);
    if push_out {
        app.console.say(cautions::END_FACE);
        hold_to_push_out(&mut conditions);
    }
    let mut session = Session::open(Box::new(SimulatedLink::new(SimulatedGauge::new(setup))))?;
    let set = Set {
        clamps: args.clamps,
        fresh: true,
        push_out,
        visit,
        simulated: true,
        title: "Grip force, as found, a rehearsal".to_owned(),
        last_mean: None,
    };
    let taken = grip_live_command::measure(
        &mut session,
        &set,
        &conditions,
        &mut writer,
        app,
        &interrupt,
    )?;
    if let Some(error) = taken.cut_short {
        return Err(error);
    }
    let grip = taken
        .result
        .ok_or_else(|| Error::gauge("the rehearsal ended without a clamp"))?;
    app.console.say("");
    app.console.say(&grip_words::grip(&grip, &app.settings));
    let runout = rehearse_runout(&mut session, visit, &mut writer, app, &interrupt)?;
    app.console.say("");
    app.console
        .say(&runout_words::runout(&runout, &app.settings));
    let findings = look_round(visit, &mut writer)?;
    let (ids, stamp) = ([writer.id(), writer.id()], writer.stamp());
    let digest = visit_end::seal(&mut writer.book, visit, ids, &stamp)?;
    let page = page_path(&book, args, visit);
    // Its own page of an earlier rehearsal may be replaced, nothing else.
    let paper = page_model::paper(&writer.book, visit, &app.settings)?;
    page_model::write(
        &paper,
        &page_model::Files {
            html: Some(&page),
            pdf: None,
            overwrite: true,
            dry_run: false,
        },
    )?;
    let verdicts = [grip.verdict.as_ref(), runout.verdict.as_ref()];
    let outcome = verdict::worst(
        verdicts
            .into_iter()
            .flatten()
            .map(|verdict| verdict.outcome),
    );
    let exit = outcome.map_or(Exit::Done, Exit::from);
    let document = json!({
        "check": "rehearse",
        "schema": 1,
        "condition": args.condition.to_string(),
        "seed": args.seed,
        "book": book.display().to_string(),
        "page": page.display().to_string(),
        "grip": stored_check::document(&grip)?,
        "runout": stored_check::document(&runout)?,
        "findings": findings,
        "outcome": outcome,
    });
    let text = format!(
        "\nBook        {}\nPage        {}\nCheck code  {digest}",
        book.display(),
        page.display()
    );
    Finished::new(exit, &document, text)
}

/// The usual round of planes, held to what the yard's invented maker says of the spindle alone.
fn rehearse_runout(
    session: &mut Session,
    visit: Uuid,
    writer: &mut BookWriter,
    app: &mut App,
    interrupt: &Interrupt,
) -> Result<RunoutResult, Error> {
    app.console.say("");
    acknowledge::only_print(MachineState::Isolated, visit, writer, app)?;
    let taper = writer.spindle_of(visit)?.as_ref().map(taper_of);
    let taper = taper.transpose()?.flatten();
    let nose = Nose::of(taper);
    let setup = RunoutSetup {
        limits: SPINDLE_PART_LIMITS_UM.map(spindle_part).into(),
        square_to_wall: Some(runout_setup::slope(taper)),
        bar_turns: nose.turns,
        ..RunoutSetup::default()
    };
    let limits = setup.limits.iter().map(|limit| SourcedLimit {
        source: Some(PLACE.to_owned()),
        limit: limit.clone(),
    });
    let limits = LimitsFile {
        title: "Centre 1".to_owned(),
        interface: None,
        nominal: None,
        limits: limits.collect(),
    };
    let set = runout_live_command::Set {
        plan: plan::usual(Way::default(), &nose),
        bar_is_in: false,
        turns: 1,
        seconds: 0.0,
        paced_s: None,
        fresh: true,
        visit,
        simulated: true,
        cautions: Cautioned {
            by: How::Printed,
            said: vec![MachineState::Live, MachineState::Isolated],
        },
        title: "Runout, as found, a rehearsal".to_owned(),
    };
    let conditions = runout_setup::RunoutConditions { setup, limits };
    let taken = runout_live_command::measure(
        session,
        &set,
        &conditions,
        &Keys::nobody(),
        writer,
        app,
        interrupt,
    )?;
    match (taken.result, taken.cut_short) {
        (Some(result), None) => Ok(result),
        (_, Some(error)) => Err(error),
        (None, None) => Err(Error::gauge("the rehearsal ended without a plane")),
    }
}

/// Where the force is low, the next set is taken with a tip on the gauge's end face.
fn reads_push_out(condition: Condition) -> bool {
    matches!(
        condition,
        Condition::WeakSprings | Condition::DrawbarSetting | Condition::UnclampCylinder
    )
}

/// What the yard's invented maker says of the push-out.
fn hold_to_push_out(conditions: &mut GripConditions) {
    let [least_mm, most_mm] = MAKER_MM;
    for (side, limit) in [(Side::Lower, least_mm), (Side::Upper, most_mm)] {
        let limit = Limit {
            side,
            ..Limit::on(Figure::PushOut, limit, Provenance::Maker)
        };
        conditions.setup.limits.push(limit.clone());
        conditions.limits.limits.push(SourcedLimit {
            source: Some(PLACE.to_owned()),
            limit,
        });
    }
}

fn spindle_part([height_mm, limit]: [f64; 2]) -> Limit {
    Limit {
        height_mm: Some(height_mm),
        ..Limit::on(Figure::SpindlePart, limit, Provenance::Maker)
    }
}

/// What a rehearsal cannot look at is stored as not examined.
fn look_round(visit: Uuid, writer: &mut BookWriter) -> Result<Vec<serde_json::Value>, Error> {
    let mut findings = Vec::new();
    for (assembly, item) in NOT_REHEARSED {
        let (id, stamp) = (writer.id(), writer.stamp());
        let text = "a simulated spindle has none to look at".to_owned();
        findings.push(
            json!({ "kind": "not_examined", "assembly": assembly, "item": item, "text": text }),
        );
        writer.book.find(&Finding {
            id,
            visit,
            kind: FindingKind::NotExamined,
            severity: None,
            assembly: assembly.to_owned(),
            item: item.to_owned(),
            text,
            content: Json::empty(),
            stamp,
        })?;
    }
    Ok(findings)
}

fn book_path(app: &App) -> Result<PathBuf, Error> {
    if let Some(named) = &app.book {
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

fn begin_visit(setup: &Setup, writer: &mut BookWriter) -> Result<Uuid, Error> {
    let spindle = spindle_in_book(setup, writer)?;
    let header = VisitHeader {
        spindle: Some(spindle),
        purpose: Some(Purpose::Rehearsal.to_string()),
        short: true,
        ..VisitHeader::default()
    };
    Ok(writer.start_visit(header)?)
}

/// The yard's centres differ in what holds the tool.
fn spindle_in_book(setup: &Setup, writer: &mut BookWriter) -> Result<Uuid, Error> {
    let (name, serial, drawbar) = match setup.faults.hold {
        Hold::DiscSprings => ("Centre 1", "TP-S-101", Drawbar::DiscSprings),
        Hold::GasSpring => ("Centre 2", "TP-S-102", Drawbar::GasSpring),
        Hold::Hydraulic => ("Centre 3", "TP-S-103", Drawbar::Hydraulic),
    };
    let known = writer
        .book
        .list::<SpindleHeader>()?
        .into_iter()
        .find(|spindle| {
            !spindle.removed && spindle.header().spindle_serial.as_deref() == Some(serial)
        });
    if let Some(known) = known {
        return Ok(known.id);
    }
    Ok(writer.first_revision(SpindleHeader {
        name: name.to_owned(),
        machine: Some("vertical machining centre".to_owned()),
        spindle_serial: Some(serial.to_owned()),
        place: Some(PLACE.to_owned()),
        invented: true,
        taper: Some("7/24".to_owned()),
        taper_size: Some(40),
        drawbar: Some(drawbar.to_string()),
        axis: Some(Axis::Vertical.to_string()),
        grip_nominal_n: Some(MAKER_NOMINAL_N),
        ..SpindleHeader::default()
    })?)
}
