//! Trends with a known truth: how often the interval of a crossing that is shown holds the true day, and how often a trend is
//! claimed on a spindle that does not change.

use super::Dice;
use holdtrue_metrology::decision::Side;
use holdtrue_metrology::trend::{Limit, NoCrossing, Point, follow};
use std::fmt::Write;

/// Force at the first visit, N.
const FIRST_N: f64 = 10_000.0;
/// Days from the first visit to the last.
const SPAN: f64 = 7.0 * 365.25;
/// Standard uncertainty that all visits of one calibration share, relative.
const SHARED: f64 = 0.007;

/// How calibrations are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Calibrations {
    /// No error is shared.
    Exact,
    /// All visits share the error of one.
    One,
    /// A new one, with an error of its own, from half of the visits on.
    Two,
}

impl Calibrations {
    const ALL: [Self; 3] = [Self::Exact, Self::One, Self::Two];

    fn words(self) -> &'static str {
        match self {
            Self::Exact => "none",
            Self::One => "0.7 %, one calibration",
            Self::Two => "0.7 % each, two calibrations",
        }
    }
}

/// A spindle and how it was visited.
#[derive(Clone, Copy, Debug)]
pub struct Scene {
    /// Visits.
    pub visits: usize,
    /// Fall from the first visit to the last, N.
    pub falls_n: f64,
    /// The true crossing, in spans after the last visit.
    pub ahead: f64,
    /// Standard deviation between visits, N.
    pub between_n: f64,
    /// Standard uncertainty of a visit's own, N: each visit has from half to twice of it.
    pub own_n: f64,
}

/// The scenes of the table, fixed before the first run: few and many visits, crossings near and far, visits that differ by
/// less and by more than their own uncertainty, and at the end slow falls that are often not seen.
pub const SCENES: [Scene; 9] = [
    scene(5, 2000.0, 0.3, 150.0, 100.0),
    scene(6, 2000.0, 0.3, 50.0, 100.0),
    scene(8, 2000.0, 0.3, 150.0, 100.0),
    scene(8, 2000.0, 0.5, 50.0, 100.0),
    scene(12, 2000.0, 0.5, 150.0, 100.0),
    scene(20, 2000.0, 0.5, 150.0, 100.0),
    scene(12, 2000.0, 0.1, 150.0, 100.0),
    scene(8, 2000.0, 0.8, 150.0, 100.0),
    scene(8, 600.0, 0.5, 150.0, 100.0),
];

const fn scene(visits: usize, falls_n: f64, ahead: f64, between_n: f64, own_n: f64) -> Scene {
    Scene {
        visits,
        falls_n,
        ahead,
        between_n,
        own_n,
    }
}

/// What came of the seeds of a scene.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// Seeds.
    pub seeds: u32,
    /// A trend was claimed.
    pub trends: u32,
    /// A crossing was shown.
    pub shown: u32,
    /// Its interval holds the true day; an end that is not bounded holds all beyond.
    pub held: u32,
    /// The latest end was not bounded.
    pub open: u32,
    /// The true day lies before the interval.
    pub too_late: u32,
    /// A crossing would lie farther ahead than was looked back.
    pub far: u32,
}

impl Tally {
    /// Share of the shown crossings that hold, %.
    pub fn held_percent(self) -> f64 {
        100.0 * f64::from(self.held) / f64::from(self.shown)
    }

    /// Share of the seeds with a trend, %.
    pub fn trend_percent(self) -> f64 {
        100.0 * f64::from(self.trends) / f64::from(self.seeds)
    }

    fn and(mut self, other: Self) -> Self {
        self.seeds += other.seeds;
        self.trends += other.trends;
        self.shown += other.shown;
        self.held += other.held;
        self.open += other.open;
        self.too_late += other.too_late;
        self.far += other.far;
        self
    }
}

/// The visits of one seed.
pub fn visits(scene: &Scene, calibrations: Calibrations, dice: &mut Dice) -> Vec<Point> {
    let between = scene.visits.saturating_sub(2);
    let mut days: Vec<f64> = (0..between)
        .map(|_| SPAN * dice.unit())
        .chain([0.0, SPAN])
        .collect();
    days.sort_by(f64::total_cmp);
    let errors = [dice.normal(), dice.normal()].map(|error| match calibrations {
        Calibrations::Exact => 0.0,
        Calibrations::One | Calibrations::Two => SHARED * error,
    });
    let point = |(number, x): (usize, &f64)| {
        let calibration =
            usize::from(calibrations == Calibrations::Two && 2 * number >= scene.visits);
        let own = scene.own_n * (0.5 + 1.5 * dice.unit());
        let true_n = FIRST_N - scene.falls_n * x / SPAN;
        let value = (true_n + scene.between_n * dice.normal() + own * dice.normal())
            * (1.0 + errors[calibration]);
        let shared = match calibrations {
            Calibrations::Exact => 0.0,
            Calibrations::One | Calibrations::Two => SHARED * value,
        };
        Point {
            x: *x,
            value,
            own: Some(own),
            own_dof: f64::INFINITY,
            shared: Some(shared),
            calibration,
            repair_before: false,
        }
    };
    days.iter().enumerate().map(point).collect()
}

/// Many seeds of one scene.
pub fn tally(scene: &Scene, calibrations: Calibrations, row: u64, seeds: u32) -> Tally {
    let mut tally = Tally::default();
    let true_day = SPAN * (1.0 + scene.ahead);
    let limit = Limit {
        side: Side::Lower,
        value: FIRST_N - scene.falls_n * (1.0 + scene.ahead),
    };
    for seed in 0..seeds {
        let mut dice = Dice::new(row, seed.into());
        let found = follow(&visits(scene, calibrations, &mut dice), Some(limit));
        tally.seeds += 1;
        tally.trends += u32::from(found.trend);
        match found.crossing {
            Some(Ok(crossing)) => {
                let early = crossing
                    .earliest
                    .is_some_and(|earliest| true_day < earliest);
                let late = crossing.latest.is_some_and(|latest| true_day > latest);
                tally.shown += 1;
                tally.held += u32::from(!early && !late);
                tally.too_late += u32::from(early);
                tally.open += u32::from(crossing.latest.is_none());
            }
            Some(Err(NoCrossing::Far)) => tally.far += 1,
            Some(Err(NoCrossing::Away | NoCrossing::Before)) | None => {}
        }
    }
    tally
}

/// The table of crossings.
pub fn crossings(seeds: u32) -> String {
    let mut table = format!(
        "### Crossings that are shown ({seeds} seeds a row)\n\n\
         | shared error | visits | falls | crosses | between | own | shown | interval holds the day | passed before it | after it | latest not bounded | too far to show |\n\
         |---|---|---|---|---|---|---|---|---|---|---|---|\n"
    );
    for (which, calibrations) in (1..).zip(Calibrations::ALL) {
        let mut all = Tally::default();
        for (place, scene) in (0..).zip(&SCENES) {
            let found = tally(scene, calibrations, 100 * which + place, seeds);
            all = all.and(found);
            let Scene {
                visits,
                falls_n,
                ahead,
                between_n,
                own_n,
            } = scene;
            let scene = format!(
                "{visits} | {falls_n:.0} N | {ahead} spans ahead | {between_n:.0} N | {own_n:.0} N"
            );
            row(&mut table, calibrations.words(), &scene, found);
        }
        row(&mut table, calibrations.words(), "all | | | |", all);
    }
    table
}

fn row(table: &mut String, calibrations: &str, scene: &str, found: Tally) {
    let of = |count: u32, whole: u32| 100.0 * f64::from(count) / f64::from(whole.max(1));
    let after = found.shown - found.held - found.too_late;
    let line = writeln!(
        table,
        "| {calibrations} | {scene} | {:.1} % | {:.2} % | {:.2} % | {:.2} % | {:.1} % | {:.1} % |",
        of(found.shown, found.seeds),
        found.held_percent(),
        of(found.too_late, found.shown),
        of(after, found.shown),
        of(found.open, found.shown),
        of(found.far, found.seeds),
    );
    debug_assert!(line.is_ok());
}

/// The table of trends claimed on spindles that do not change.
pub fn flat(seeds: u32) -> String {
    let mut table = format!(
        "### Trends claimed where nothing changes ({seeds} seeds a row)\n\n\
         | shared error | visits | between | own | trend claimed |\n|---|---|---|---|---|\n"
    );
    for (which, calibrations) in (11..).zip(Calibrations::ALL) {
        for (place, visits) in (0..).zip([4, 5, 8, 12, 20]) {
            for (kind, between_n) in (0..).zip([0.0, 150.0]) {
                let scene = scene(visits, 0.0, 1.0, between_n, 100.0);
                let found = tally(&scene, calibrations, 100 * which + 10 * kind + place, seeds);
                let line = writeln!(
                    table,
                    "| {} | {visits} | {between_n:.0} N | 100 N | {:.2} % |",
                    calibrations.words(),
                    found.trend_percent()
                );
                debug_assert!(line.is_ok());
            }
        }
    }
    table
}
