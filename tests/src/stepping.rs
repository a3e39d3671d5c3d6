//! The program's live runout path with a simulated gauge in this process. In: what is simulated and the planes to read.
//! Out: the result, where each reading was taken, and where the spindle truly stood then.

use holdtrue_metrology::runout::remarks::PlaneNote;
use std::cell::RefCell;
use std::fmt::Write;
use std::path::Path;
use std::rc::Rc;
use std::time::Duration;

use holdtrue::runout::arguments::{PlaceArgs, Way};
use holdtrue::runout::changeover::Cautioned;
use holdtrue::runout::live;
use holdtrue::runout::live::{RunoutRequest, Station};
use holdtrue::runout::plan::PlannedPlane;
use holdtrue::runout::stored::{Begun, StoredReading};
use holdtrue::terminal::interrupt::Interrupt;
use holdtrue::terminal::keys::Keys;
use holdtrue::terminal::prompt::Prompt;
use holdtrue::terminal::scene_words::Subject;
use holdtrue::terminal::settings::Settings;
use holdtrue::visits::book::book_writer::BookWriter;
use holdtrue::visits::cautions::MachineState;
use holdtrue_book::{GaugeHeader, How, RecordedKind, VisitHeader};
use holdtrue_gauge::link::simulated::SimulatedLink;
use holdtrue_gauge::link::{Damage, Link, LinkError, RawFrame};
use holdtrue_gauge::session::Session;
use holdtrue_metrology::runout::{RunoutResult, RunoutSetup};
use holdtrue_protocol::message::{Channel, ToGauge};
use holdtrue_simulated_gauge::world::plane::Prescribed;
use holdtrue_simulated_gauge::{Faults, Setup, SimulatedGauge};
use holdtrue_terms::vocabulary::At;
use tempfile::TempDir;

/// A runout check as it was led.
pub struct Led {
    /// Its result.
    pub result: RunoutResult,
    /// The readings of its last plane, as the book has them.
    pub readings: Vec<StoredReading>,
    /// Where the spindle stood still in its last plane: from, to, s, and at which angle, degrees.
    pub rests: Vec<(f64, f64, f64)>,
    /// What was said.
    pub said: Vec<String>,
}

/// Leads the planes of a plan, the simulated operator at the spindle; in a rhythm where `paced_s` says so.
///
/// # Errors
/// What kept it from being analysed, in words.
pub fn lead(
    setup: Setup,
    plan: &[PlannedPlane],
    paced_s: Option<f64>,
    judged: RunoutSetup,
) -> Result<Led, String> {
    let words = |error: &dyn std::fmt::Display| error.to_string();
    // Thousands of small writes, each of which waits for the disk: a folder in memory where there is one.
    let memory = Path::new("/dev/shm");
    let folder = if memory.is_dir() {
        TempDir::new_in(memory)
    } else {
        TempDir::new()
    };
    let folder = folder.map_err(|e| words(&e))?;
    let mut writer = BookWriter::open(&folder.path().join("yard.holdtrue"), "Technician A")
        .map_err(|e| words(&e))?;
    let visit = writer
        .start_visit(VisitHeader::default())
        .map_err(|e| words(&e))?;
    let gauge = writer
        .gauge(GaugeHeader::default())
        .map_err(|e| words(&e))?;
    let shared = Rc::new(RefCell::new(SimulatedLink::new(SimulatedGauge::new(setup))));
    let mut session = Session::open(Box::new(Shared(Rc::clone(&shared)))).map_err(|e| words(&e))?;
    let calibration = session
        .calibration(Channel::Displacement)
        .map_err(|e| words(&e))?
        .ok_or("no calibration")?;
    let order = RunoutRequest {
        plan: plan.to_vec(),
        bar_is_in: false,
        begun: Begun {
            planes: None,
            unit: None,
            place: Default::default(),
            way: plan.first().map(|plane| plane.way).unwrap_or_default(),
            setup: judged,
            calibration_sha256: None,
        },
        limits: None,
        turns: 1,
        seconds: 0.0,
        paced_s,
        fresh: true,
        visit,
        gauge,
        cautions: Cautioned {
            by: How::Printed,
            said: vec![MachineState::Isolated, MachineState::Live],
        },
        subject: Subject::default(),
    };
    let mut said = Said(Vec::new());
    let taken = live::measure(
        &mut Station {
            session: &mut session,
            calibration: &calibration,
            writer: &mut writer,
            prompt: &mut said,
            keys: &Keys::nobody(),
            settings: &Settings::default(),
            interrupt: &Interrupt::default(),
        },
        &order,
    )
    .map_err(|e| words(&e))?;
    if let Some(error) = taken.cut_short {
        return Err(error.to_string());
    }
    let recorded = writer.book.recorded(taken.check).map_err(|e| words(&e))?;
    let mut readings: Vec<StoredReading> = Vec::new();
    for row in recorded
        .iter()
        .filter(|row| row.kind == RecordedKind::Reading)
    {
        readings.push(row.content.read().map_err(|e| words(&e))?);
    }
    let last = readings.last().map(|reading| reading.capture);
    readings.retain(|reading| Some(reading.capture) == last);
    let rests = shared
        .borrow_mut()
        .gauge()
        .plane()
        .map(|plane| plane.turning().rests())
        .unwrap_or_default();
    Ok(Led {
        result: taken.result.ok_or("no plane was read")?,
        readings,
        rests,
        said: said.0,
    })
}

impl Led {
    /// Readings of the last plane that were not taken once each, in order, at rest where they should have been: within
    /// 10° of their positions, of so many round the turn.
    pub fn wrong(&self, positions: u32) -> usize {
        let in_order = |(place, reading): &(u32, &StoredReading)| {
            let aim_deg = f64::from(*place) * 360.0 / f64::from(positions);
            let stood = self.rests.iter().any(|(from_s, to_s, angle_deg)| {
                *from_s <= reading.from_s
                    && reading.to_s <= *to_s
                    && (angle_deg - aim_deg).abs() < 10.0
            });
            reading.position == *place && stood
        };
        let expected = positions as usize + 1;
        let right = (0_u32..).zip(&self.readings).filter(in_order).count();
        expected - right.min(expected) + self.readings.len().saturating_sub(expected)
    }
}

/// One gauge for the program and for who looks at the truth afterwards.
struct Shared(Rc<RefCell<SimulatedLink>>);

impl Link for Shared {
    fn receive(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        self.0.borrow_mut().receive(wait)
    }

    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError> {
        self.0.borrow_mut().send(message)
    }

    fn elapsed(&self) -> Duration {
        self.0.borrow().elapsed()
    }

    fn name(&self) -> &'static str {
        "simulated gauge"
    }

    fn damage(&self) -> Damage {
        self.0.borrow().damage()
    }
}

struct Said(Vec<String>);

impl Prompt for Said {
    fn say(&mut self, line: &str) {
        self.0.push(line.to_owned());
    }
}

/// Positions round the turn.
const POSITIONS: u32 = 8;
/// Runouts of the spindle, µm TIR, and noises at rest, µm.
pub const RUNOUTS_UM: [f64; 3] = [0.0, 0.3, 3.0];
/// Noises at rest, µm.
pub const NOISES_UM: [f64; 4] = [0.02, 0.08, 0.15, 0.3];
/// Seconds for a turn and a hold.
const RHYTHM_S: f64 = 12.0;

/// One plane of eight positions on a spindle of this runout at this noise, by the button or in a rhythm.
///
/// # Errors
/// What kept it from being analysed, in words.
pub fn plane(seed: u64, runout_um: f64, noise_um: f64, paced: bool) -> Result<Led, String> {
    let mut setup = Setup::with_faults(seed, Faults::default());
    setup.prescribed = Prescribed {
        runout_um: Some(runout_um),
        noise_um: Some(noise_um),
    };
    let place = PlaceArgs {
        at: Some(At::Bar),
        height_mm: Some(300.0),
        ..PlaceArgs::default()
    };
    let way = Way {
        stops: Some(POSITIONS),
        ..Way::default()
    };
    setup
        .planes
        .retain(|plane| (plane.height_mm - 300.0).abs() < 1.0);
    let plan = [PlannedPlane { place, way }];
    lead(
        setup,
        &plan,
        paced.then_some(RHYTHM_S),
        RunoutSetup::default(),
    )
}

/// Planes read right of so many seeds, for each runout and noise, by the button and in a rhythm.
pub fn table(seeds: u64, from: u64) -> String {
    let mut page = format!(
        "{seeds} seeds a row from {from}, 8 positions and the one back at the first.\n\n\
         | TIR | noise | read | planes with every reading once, at rest, in its place | readings wrong | planes in doubt |\n\
         |---|---|---|---|---|---|\n"
    );
    for runout_um in RUNOUTS_UM {
        for noise_um in NOISES_UM {
            for paced in [false, true] {
                let (mut right, mut wrong, mut doubted) = (0, 0, 0);
                for seed in from..from + seeds {
                    match plane(seed, runout_um, noise_um, paced) {
                        Ok(led) => {
                            let these = led.wrong(POSITIONS);
                            wrong += these;
                            right += u64::from(these == 0);
                            let notes = &led.result.planes[0].notes;
                            let doubt = notes
                                .iter()
                                .any(|note| matches!(note, PlaneNote::InDoubt { .. }));
                            doubted += u64::from(doubt);
                            if these > 0 {
                                eprintln!(
                                    "{runout_um} µm, noise {noise_um}, paced {paced}, seed {seed}: {these} wrong"
                                );
                            }
                        }
                        Err(why) => {
                            eprintln!("{runout_um} µm, noise {noise_um}, seed {seed}: {why}")
                        }
                    }
                }
                let way = if paced { "paced, 12 s" } else { "by button" };
                let _ = writeln!(
                    page,
                    "| {runout_um} µm | {noise_um} µm | {way} | {right} of {seeds} | {wrong} | {doubted} |"
                );
            }
        }
    }
    page
}
