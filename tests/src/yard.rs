//! Seven years of the Tern Point buoy yard. In: a seed. Out: a book entered through the program, as two technicians would, and
//! what is true of the yard beside it.
//!
//! Two years lie in a notebook; then the gauge's records are files. Centre 1 weakens, gets new springs and weakens faster;
//! Centre 2 stays as it is, and its control is replaced; the bar of Centre 3 runs out more every year.

use crate::bench::Bench;
use crate::coverage::Dice;
use crate::force::{Made, MadeClamp};
use std::fmt::Write;

/// What visits differ by beyond clamps and gauge: standard deviation, N and µm.
const BETWEEN_N: f64 = 60.0;
const BETWEEN_UM: f64 = 0.6;
/// Scatter of the clamps, N.
const CLAMPS_N: f64 = 50.0;
/// Standard uncertainty of a calibration, relative: the certificates say 0.7 % (k = 2).
const CALIBRATION: f64 = 0.0035;
/// Visits of each centre, half a year apart.
const VISITS: u32 = 15;
/// The paper ends, gauges change, springs are changed, the control is replaced: years.
pub const FILES_FROM: f64 = 2021.0;
const SECOND_GAUGE: f64 = 2024.0;
const RECALIBRATED: f64 = 2022.0;
/// When the springs of Centre 1 are changed.
pub const SPRINGS: f64 = 2022.6;
/// When the control of Centre 2 is replaced.
pub const CONTROL: f64 = 2023.3;
/// What the limit on the bar is, µm.
pub const BAR_LIMIT_UM: f64 = 25.0;

/// A centre of the yard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Centre {
    /// Weakens; its springs are changed.
    Weakening,
    /// Stays as it is; its control is replaced.
    Steady,
    /// Its bar runs out more every year.
    Bent,
}

impl Centre {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Weakening, Self::Steady, Self::Bent];

    /// Its name in the book.
    pub fn name(self) -> &'static str {
        match self {
            Self::Weakening => "Centre 1",
            Self::Steady => "Centre 2",
            Self::Bent => "Centre 3",
        }
    }

    /// Its true grip force as found, N.
    pub fn force_n(self, year: f64) -> f64 {
        match self {
            Self::Weakening if year <= SPRINGS => 10_900.0 - 380.0 * (year - 2019.0),
            Self::Weakening => 11_000.0 - 720.0 * (year - SPRINGS),
            Self::Steady => 18_400.0,
            Self::Bent => 10_400.0,
        }
    }

    /// Its true TIR on the bar, 300 mm out, µm.
    pub fn bar_um(self, year: f64) -> f64 {
        match self {
            Self::Weakening => 9.0,
            Self::Steady => 4.0,
            Self::Bent => 6.0 + 1.9 * (year - 2019.0),
        }
    }

    /// Hours it has truly turned.
    pub fn hours(self, year: f64) -> f64 {
        2_600.0 * (year - 2016.0)
    }

    /// What the control shows of them.
    fn shown_hours(self, year: f64) -> f64 {
        let since = if self == Self::Steady && year > CONTROL {
            CONTROL
        } else {
            2016.0
        };
        (2_600.0 * (year - since)).round()
    }
}

/// A visit of the yard.
#[derive(Clone, Copy, Debug)]
pub struct Visit {
    /// Of which centre.
    pub centre: Centre,
    /// When.
    pub year: f64,
    number: u32,
}

impl Visit {
    fn technician(self) -> &'static str {
        if self.number.is_multiple_of(2) {
            "Technician A"
        } else {
            "Technician B"
        }
    }

    fn gauge(self) -> &'static str {
        if self.year < SECOND_GAUGE {
            "TP-G1"
        } else {
            "TP-G2"
        }
    }

    /// The day as it is typed.
    pub fn day(self) -> String {
        day(self.year)
    }

    /// The certificate its gauge had.
    pub fn certificate(self) -> usize {
        let had = |certificate: &&Certificate| self.year >= certificate.year;
        CERTIFICATES.iter().filter(had).count() - 1
    }
}

/// A calibration of a gauge of the yard.
pub struct Certificate {
    /// When.
    pub year: f64,
    /// Of which gauge.
    pub gauge: &'static str,
    /// Its number.
    pub number: &'static str,
}

/// In order of time.
pub const CERTIFICATES: [Certificate; 3] = [
    Certificate {
        year: 2018.9,
        gauge: "TP-G1",
        number: "TP-C1",
    },
    Certificate {
        year: RECALIBRATED,
        gauge: "TP-G1",
        number: "TP-C2",
    },
    Certificate {
        year: SECOND_GAUGE,
        gauge: "TP-G2",
        number: "TP-C3",
    },
];

/// A year with its parts as a day.
pub fn day(year: f64) -> String {
    const FIRST_OF_1970: f64 = 1970.0;
    holdtrue::visits::spindles::history::date_of(((year - FIRST_OF_1970) * 365.25).round())
}

/// The book and what is true.
pub struct Yard {
    /// Where the book lies.
    pub bench: Bench,
    /// The visits in order of time.
    pub visits: Vec<Visit>,
    dice: Dice,
    errors: [f64; 3],
}

/// Enters the yard.
pub fn enter(program: &'static str, seed: u64) -> Yard {
    let mut dice = Dice::new(seed, 0);
    let errors = [(); 3].map(|()| CALIBRATION * dice.normal());
    let mut visits = Vec::new();
    for number in 0..VISITS {
        for (place, centre) in (0_u8..).zip(Centre::ALL) {
            let year = 2019.15 + 0.5 * f64::from(number) + 0.03 * f64::from(place);
            visits.push(Visit {
                centre,
                year: year + 0.02 * (dice.unit() - 0.5),
                number,
            });
        }
    }
    let bench = Bench::new(program);
    let mut yard = Yard {
        bench,
        visits,
        dice,
        errors,
    };
    for (centre, taper, nominal) in [
        (Centre::Weakening, "BT40", 11_000),
        (Centre::Steady, "HSK-A63", 18_000),
        (Centre::Bent, "BT40", 11_000),
    ] {
        let line =
            format!("spindle add --interface {taper} --drawbar disc-springs --nominal-n {nominal}");
        yard.bench
            .in_book(&line, &["--place", "Tern Point", centre.name()])
            .exits(0);
    }
    yard.certificates();
    yard.notebook();
    for visit in yard
        .visits
        .clone()
        .into_iter()
        .filter(|visit| visit.year >= FILES_FROM)
    {
        yard.visit(visit);
    }
    yard
}

impl Yard {
    /// The visits of a centre.
    pub fn of(&self, centre: Centre) -> Vec<Visit> {
        self.visits
            .iter()
            .copied()
            .filter(|visit| visit.centre == centre)
            .collect()
    }

    /// What the gauge makes of a force on a day: its calibration is off by a part, whatever the clamp.
    fn read_n(&mut self, visit: Visit, found_n: f64) -> f64 {
        found_n * (1.0 + self.errors[visit.certificate()]) + CLAMPS_N * self.dice.normal()
    }

    fn found_n(&mut self, visit: Visit) -> f64 {
        visit.centre.force_n(visit.year) + BETWEEN_N * self.dice.normal()
    }

    fn found_um(&mut self, visit: Visit) -> f64 {
        visit.centre.bar_um(visit.year) + BETWEEN_UM * self.dice.normal()
    }

    /// The certificates as the laboratory wrote them, entered the newest first: their days put them in order.
    fn certificates(&mut self) {
        for certificate in CERTIFICATES.iter().rev() {
            let (date, due) = (day(certificate.year), day(certificate.year + 3.2));
            let line = format!(
                "gauge certificate --serial {} --certificate {} --date {date} --due {due} --rated-n 25000 --span-n 500 22000 \
                 --uncertainty-percent 0.7 --coefficients",
                certificate.gauge, certificate.number
            );
            self.bench
                .in_book(&line, &["0 0.0116", "--laboratory", "Tern Point metrology"])
                .exits(0);
        }
    }

    /// What two years of paper hold, one row a reading.
    fn notebook(&mut self) {
        let mut table = String::from(
            "date,spindle,technician,gauge,force_kn,tir_um,at,height_mm,state,reason,power_on_hours\n",
        );
        for visit in self
            .visits
            .clone()
            .into_iter()
            .filter(|visit| visit.year < FILES_FROM)
        {
            let found_n = self.found_n(visit);
            let head = format!(
                "{},{},{}",
                visit.day(),
                visit.centre.name(),
                visit.technician()
            );
            for _ in 0..5 {
                let kn = self.read_n(visit, found_n) / 1_000.0;
                let hours = visit.centre.shown_hours(visit.year);
                writeln!(
                    table,
                    "{head},{},{kn:.2},,,,as-found,service,{hours}",
                    visit.gauge()
                )
                .expect("a string takes all");
            }
            let um = self.found_um(visit);
            writeln!(table, "{head},,,{um:.1},bar,300,as-found,service,")
                .expect("a string takes all");
        }
        self.bench.file("notebook.csv", table);
        self.bench
            .in_book("visit enter --from notebook.csv", &[])
            .exits(0)
            .shows("Entered: 12 visits");
    }

    fn visit(&mut self, visit: Visit) {
        let (name, day) = (visit.centre.name(), visit.day());
        let repaired = visit.centre == Centre::Weakening && self.is_first_after(visit, SPRINGS);
        if visit.centre == Centre::Steady && self.is_first_after(visit, CONTROL) {
            let line = format!(
                "spindle event --what control-replaced --on {}",
                self::day(CONTROL)
            );
            self.run(visit, &line, &[name]);
        }
        let hours = visit.centre.shown_hours(visit.year);
        let line =
            format!("visit start --date {day} --power-on-hours {hours} --reason service --spindle");
        self.run(visit, &line, &[name]);
        // The springs are changed at the visit: it finds the old ones.
        let before = Visit {
            year: visit.year.min(SPRINGS),
            ..visit
        };
        let found_n = if repaired {
            self.found_n(before)
        } else {
            self.found_n(visit)
        };
        self.grip(visit, "as-found", found_n);
        self.bar(visit);
        if repaired {
            let line = format!("spindle event --what springs-changed --on {day} --text");
            self.run(visit, &line, &["whole stack, the maker's part", name]);
            let left_n = Centre::Weakening.force_n(visit.year);
            self.grip(visit, "as-left", left_n);
        }
        self.run(visit, "visit finish --yes", &[]);
    }

    /// Whether a visit is the first of its centre after a time.
    fn is_first_after(&self, visit: Visit, year: f64) -> bool {
        let first = self
            .of(visit.centre)
            .into_iter()
            .find(|other| other.year > year);
        first.is_some_and(|first| first.number == visit.number)
    }

    fn grip(&mut self, visit: Visit, state: &str, found_n: f64) {
        let clamps: Vec<MadeClamp> = (0..5)
            .map(|_| MadeClamp::of(self.read_n(visit, found_n)))
            .collect();
        let made = Made {
            rate_hz: 100.0,
            noise_n: 5.0,
            ..Made::default()
        };
        self.bench.file("clamps.csv", made.csv(&clamps));
        let line = format!(
            "grip --from clamps.csv --store --state {state} --read-on {} --uncertainty-percent 0.7",
            visit.gauge()
        );
        self.run(visit, &line, &[]);
    }

    fn bar(&mut self, visit: Visit) {
        let tir_um = self.found_um(visit);
        let mut table = String::from("angle_deg,reading_um,at,height_mm,seating,orientation_deg\n");
        for (seating, orientation) in [(1, 0), (2, 180)] {
            for angle in (0..=360).step_by(45) {
                let radians = f64::from(angle - 40).to_radians();
                // Positions lie 5° beside the high and the low spot.
                let um = 0.5 * tir_um * radians.cos() / 5_f64.to_radians().cos()
                    + 0.1 * self.dice.normal();
                writeln!(table, "{angle},{um:.2},bar,300,{seating},{orientation}")
                    .expect("a string takes all");
            }
        }
        self.bench.file("bar.csv", table);
        let line = format!(
            "runout --from bar.csv --store --state as-found --uncertainty-um 1 --limit-um {BAR_LIMIT_UM}"
        );
        self.run(visit, &line, &[]);
    }

    /// A command of a visit, under the name of who was there. A verdict is no failure.
    fn run(&self, visit: Visit, line: &str, more: &[&str]) {
        let run = self.bench.in_book_as(visit.technician(), line, more);
        assert!(matches!(run.code, 0 | 1 | 3), "{run}");
    }
}
