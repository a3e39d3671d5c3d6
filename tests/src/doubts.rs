//! How often a stepped plane is doubted, rightly and wrongly. In: positions and noise. Out: a table of sound planes doubted
//! and of mistakes found: a position read twice, left out, or read before the spindle was turned on.

use crate::coverage::Dice;
use holdtrue_metrology::runout::{
    Place, Plane, RunoutRecord, RunoutSetup, Stop, analyse, doubt_of,
};
use std::fmt::Write;

const POSITIONS: [usize; 7] = [4, 5, 6, 8, 12, 16, 36];
const NOISES_UM: [f64; 4] = [0.02, 0.08, 0.15, 0.3];
/// Eccentricities are drawn from here, evenly by their logarithm, µm.
const ECCENTRIC_UM: [f64; 2] = [0.2, 40.0];
/// Ovality, three lobes, bearings that do not come round with the spindle: amplitudes drawn up to these, µm.
const OVAL_UM: f64 = 0.6;
const LOBES_UM: f64 = 0.2;
const BEARINGS_UM: f64 = 0.3;
/// Turns of the cage for a turn of the spindle.
const CAGE: f64 = 0.43;
/// Drift while one position is read, up to this, µm.
const DRIFT_UM: f64 = 0.07;
/// Standard deviation of a position, degrees.
const POSITION_DEG: f64 = 1.2;
/// What matters of an eccentricity: a fifth of a limit of 10 µm TIR is 1 µm of it; or so many times the noise.
const FIFTH_UM: f64 = 1.0;
const TIMES_NOISE: f64 = 3.0;

/// A hand's mistake.
#[derive(Clone, Copy)]
enum Mistake {
    Twice,
    LeftOut,
    TooSoon,
}

/// Surface and hand of one plane.
struct Turned {
    positions: usize,
    amplitudes_um: [f64; 3],
    phases: [f64; 4],
    bearings_um: f64,
    drift_um: f64,
    off_deg: Vec<f64>,
    noise_um: Vec<f64>,
}

fn whole(n: usize) -> f64 {
    f64::from(u32::try_from(n).expect("few positions"))
}

impl Turned {
    fn draw(positions: usize, noise_um: f64, dice: &mut Dice) -> Self {
        let [low, high] = ECCENTRIC_UM.map(f64::ln);
        let eccentric_um = (low + (high - low) * dice.unit()).exp();
        let tau = std::f64::consts::TAU;
        Self {
            positions,
            amplitudes_um: [eccentric_um, OVAL_UM * dice.unit(), LOBES_UM * dice.unit()],
            phases: [(); 4].map(|()| tau * dice.unit()),
            bearings_um: BEARINGS_UM * dice.unit(),
            drift_um: DRIFT_UM * (2.0 * dice.unit() - 1.0),
            off_deg: (0..positions + 2)
                .map(|_| POSITION_DEG * dice.normal())
                .collect(),
            noise_um: (0..=positions).map(|_| noise_um * dice.normal()).collect(),
        }
    }

    /// Read at these places, in this order.
    fn read(&self, place_of: impl Fn(usize) -> usize) -> Plane {
        let stops = (0..=self.positions).map(|position| {
            let place = place_of(position);
            let turned =
                (360.0 * whole(place) / whole(self.positions) + self.off_deg[place]).to_radians();
            let form: f64 = (1..=3)
                .map(|order| {
                    self.amplitudes_um[order - 1]
                        * (whole(order) * turned - self.phases[order - 1]).cos()
                })
                .sum();
            let bearings = self.bearings_um * (CAGE * turned + self.phases[3]).sin();
            Stop {
                angle_deg: 360.0 * whole(position) / whole(self.positions),
                reading_um: form
                    + bearings
                    + self.drift_um * whole(position)
                    + self.noise_um[position],
            }
        });
        Plane::stepped(Place::default(), stops)
    }

    fn mistaken(&self, mistake: Mistake, dice: &mut Dice) -> Plane {
        let n = whole(self.positions);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "below the positions"
        )]
        let at = 1 + (dice.unit() * (n - 1.0)).floor() as usize;
        self.read(|position| match mistake {
            Mistake::Twice => position - usize::from(position >= at),
            Mistake::LeftOut => (position + usize::from(position >= at)).min(self.positions),
            Mistake::TooSoon => position - usize::from(position == at),
        })
    }
}

fn doubted(plane: &Plane) -> bool {
    doubt_of(plane, &RunoutSetup::default()).is_some()
}

fn eccentricity_um(plane: Plane) -> f64 {
    let record = RunoutRecord::new([plane]);
    let result = analyse(&record, &RunoutSetup::default()).expect("a sound record");
    result.planes[0].eccentricity_um.unwrap_or(0.0)
}

/// Found and all.
#[derive(Clone, Copy, Default)]
struct Of {
    found: u32,
    all: u32,
}

impl Of {
    fn count(&mut self, found: bool) {
        self.found += u32::from(found);
        self.all += 1;
    }

    /// Per cent; of nothing: all.
    pub fn percent(self) -> f64 {
        if self.all == 0 {
            100.0
        } else {
            100.0 * f64::from(self.found) / f64::from(self.all)
        }
    }
}

/// What came of planes of so many positions at one noise.
#[derive(Clone, Copy, Default)]
pub struct Rates {
    sound: Of,
    fifth: Of,
    times_noise: Of,
    missed_um: f64,
}

impl Rates {
    /// Sound planes doubted, %.
    pub fn false_alarms_percent(&self) -> f64 {
        self.sound.percent()
    }

    /// Mistakes found of those that change the eccentricity by more than a fifth of a limit of 10 µm TIR, %.
    pub fn found_percent(&self) -> f64 {
        self.fifth.percent()
    }
}

/// So many sound planes, and as many with a mistake of each kind.
pub fn rates(positions: usize, noise_um: f64, planes: u64) -> Rates {
    let mut rates = Rates::default();
    for number in 0..planes {
        let mut dice = Dice::new(7_000 + positions as u64, number);
        let turned = Turned::draw(positions, noise_um, &mut dice);
        let sound = turned.read(|position| position);
        rates.sound.count(doubted(&sound));
        let right_um = eccentricity_um(sound);
        for mistake in [Mistake::Twice, Mistake::LeftOut, Mistake::TooSoon] {
            let plane = turned.mistaken(mistake, &mut dice);
            let found = doubted(&plane);
            let changed_um = (eccentricity_um(plane) - right_um).abs();
            if changed_um > FIFTH_UM {
                rates.fifth.count(found);
            }
            if changed_um > TIMES_NOISE * noise_um {
                rates.times_noise.count(found);
            }
            if !found {
                rates.missed_um = rates.missed_um.max(changed_um);
            }
        }
    }
    rates
}

/// The table, of so many planes a row and mistake.
pub fn table(planes: u64) -> String {
    let mut page = format!(
        "{planes} planes a row, and as many with each of three mistakes.\n\n\
         | positions | noise of a reading | sound planes doubted | found, of mistakes that change the eccentricity by more than 1 µm | by more than 3 × noise | largest change not found |\n\
         |---|---|---|---|---|---|\n"
    );
    for positions in POSITIONS {
        for noise_um in NOISES_UM {
            let rates = rates(positions, noise_um, planes);
            let _ = writeln!(
                page,
                "| {positions} | {noise_um} µm | {:.1} % | {:.1} % of {} | {:.1} % of {} | {:.1} µm |",
                rates.sound.percent(),
                rates.fifth.percent(),
                rates.fifth.all,
                rates.times_noise.percent(),
                rates.times_noise.all,
                rates.missed_um,
            );
        }
    }
    page
}
