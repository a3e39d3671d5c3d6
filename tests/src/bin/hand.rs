//! The simulated operator and what he works at, for a gauge that is not simulated: what the gauge's light shows comes in,
//! how far its probe, mark and button are moved goes out.
//!
//! `hand SEED CONDITION round|bar|marked COUNT probe|indicator …`; the words are told in `holdtrue_tests::planes`. The first
//! line out has the sensor's calibration and how far the clock of that gauge's converter is off. Then each line in is an
//! [`Order`] and is answered by one line. Ends when its input ends.

use std::error::Error;
use std::io::{self, BufRead, Write};

use holdtrue_protocol::message::{CalibrationRecord, Channel, Signal};
use holdtrue_simulated_gauge::Setup;
use holdtrue_simulated_gauge::certificate::PROBE_NM_PER_COUNT;
use holdtrue_simulated_gauge::chips::Misuses;
use holdtrue_simulated_gauge::chips::ads1220::Ads1220;
use holdtrue_simulated_gauge::chips::clock::Clock;
use holdtrue_simulated_gauge::chips::encoder::Encoder;
use holdtrue_simulated_gauge::wiring::LoadCellRig;
use holdtrue_simulated_gauge::world::plane::PlaneWorld;
use serde::{Deserialize, Serialize};

/// The gauge's main loop looks so often, and so often its world is looked at.
const LOOK_EVERY_NS: u64 = 1_000_000;

/// What is asked of the hand.
#[derive(Deserialize)]
enum Order {
    /// The indicator is set down on the next plane. Its time begins.
    Begin,
    /// That time passes.
    Pass {
        until_ns: u64,
        /// What the light was seen to show last, and since when.
        light: Option<Shown>,
    },
}

#[derive(Deserialize)]
struct Shown {
    signal: Signal,
    since_s: f64,
}

#[derive(Serialize)]
struct Hello {
    calibration: Option<CalibrationRecord>,
    /// As a share of its nominal rate.
    clock_error: f64,
}

/// Where the probe stands, counts, and what changed on the way there.
#[derive(Serialize)]
struct Moved {
    count: i64,
    changes: Vec<Change>,
}

#[derive(Serialize)]
struct Change {
    at_ns: u64,
    line: Line,
    /// In front of its sensor; closed.
    on: bool,
}

#[derive(Clone, Copy, Serialize)]
#[serde(rename_all = "snake_case")]
enum Line {
    Mark,
    Button,
}

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let mut hand = Hand::new(holdtrue_tests::planes::setup(&words)?);
    let mut out = io::stdout().lock();
    let mut tell = |line: String| writeln!(out, "{line}").and_then(|()| out.flush());
    tell(serde_json::to_string(&hand.hello())?)?;
    for line in io::stdin().lock().lines() {
        let moved = match serde_json::from_str(&line?)? {
            Order::Begin => hand.begin(),
            Order::Pass { until_ns, light } => hand.pass(until_ns, light),
        };
        let Some(moved) = moved else {
            return Err("no plane was begun".into());
        };
        tell(serde_json::to_string(&moved)?)?;
    }
    Ok(())
}

struct Hand {
    setup: Setup,
    begun: u64,
    plane: Option<PlaneWorld>,
    probe: Encoder,
    mark: bool,
    button: bool,
    looked_ns: u64,
}

impl Hand {
    fn new(setup: Setup) -> Self {
        Self {
            setup,
            begun: 0,
            plane: None,
            probe: Encoder::new(PROBE_NM_PER_COUNT, 0.0),
            mark: false,
            button: false,
            looked_ns: 0,
        }
    }

    fn hello(&self) -> Hello {
        let Setup { seed, fitted, .. } = self.setup;
        let sensor = if fitted.displacement {
            Channel::Displacement
        } else {
            Channel::Indicator
        };
        let mut records = self.setup.calibrations.iter();
        let (clock, misuses) = (Clock::default(), Misuses::default());
        let rig = LoadCellRig::new(seed, self.setup.faults, self.setup.habits);
        let converter = Ads1220::new(seed, clock, misuses, Box::new(rig));
        Hello {
            calibration: records.find(|record| record.channel == sensor).cloned(),
            clock_error: converter.clock_error(),
        }
    }

    fn begin(&mut self) -> Option<Moved> {
        self.plane = self.setup.plane_world(self.begun);
        self.begun += 1;
        self.looked_ns = 0;
        // Lifted off first, as the simulated gauge does.
        while self.probe.step_towards(0.0).is_some() {}
        let mut changes = Vec::new();
        self.look(0, &mut changes)?;
        Some(self.moved(changes))
    }

    /// Looks each millisecond and at the end, as the simulated gauge does: where a probe stands depends on how it came there.
    fn pass(&mut self, until_ns: u64, light: Option<Shown>) -> Option<Moved> {
        if let Some(shown) = light {
            // Shown before the plane began, it is seen from its beginning on.
            let since_s = shown.since_s.max(0.0);
            self.plane.as_mut()?.light_shows(shown.signal, since_s);
        }
        let mut changes = Vec::new();
        while self.looked_ns + LOOK_EVERY_NS < until_ns {
            self.looked_ns += LOOK_EVERY_NS;
            self.look(self.looked_ns, &mut changes)?;
        }
        self.look(until_ns, &mut changes)?;
        Some(self.moved(changes))
    }

    fn look(&mut self, at_ns: u64, changes: &mut Vec<Change>) -> Option<()> {
        let at_s = at_ns as f64 * 1e-9;
        let plane = self.plane.as_mut()?;
        let plunger_um = plane.plunger_um(at_s);
        while self.probe.step_towards(plunger_um).is_some() {}
        for (line, was, on) in [
            (Line::Mark, &mut self.mark, plane.mark(at_s)),
            (Line::Button, &mut self.button, plane.contact(at_s)),
        ] {
            if *was != on {
                *was = on;
                changes.push(Change { at_ns, line, on });
            }
        }
        Some(())
    }

    fn moved(&self, changes: Vec<Change>) -> Moved {
        Moved {
            count: self.probe.count(),
            changes,
        }
    }
}
