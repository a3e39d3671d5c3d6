//! The rules of a certificate. In: what a calibration states, wherever it came from. Out: nothing, or the first figure that
//! cannot be, with what was found, what was expected and what to do.
//!
//! The bounds are common practice, no source: wide enough for any gauge, narrow enough for a wrong unit or damage.

/// What the counts come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sensor {
    /// A load cell behind the 24-bit converter; forces in N.
    Force,
    /// A probe that counts; lengths in µm.
    Probe,
    /// An indicator that shows µm itself; its curve only sets it right.
    Indicator,
}

/// What a calibration states. Quantities in N of a force gauge, in µm else.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// What it is of.
    pub sensor: Sensor,
    /// The quantity from counts less `zero_counts` (from what an indicator shows), constant first.
    pub coefficients: [f64; 4],
    /// Counts at no load.
    pub zero_counts: i32,
    /// Expanded uncertainty (k = 2), part in proportion to the reading, in parts of one.
    pub expanded_relative: f64,
    /// Expanded uncertainty (k = 2), fixed part.
    pub expanded_fixed: f64,
    /// Lowest and highest calibrated quantity.
    pub span: [f64; 2],
    /// Rated load, or whole travel.
    pub rated: f64,
    /// Temperature at the calibration, °C.
    pub temperature_c: f64,
}

/// A figure no calibration states.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{part}: found {found}, expected {expected}. {next}")]
pub struct Unsound {
    /// Which part, by its key in a certificate's file.
    pub part: &'static str,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: &'static str,
    /// What to do next where somebody types it, a whole sentence.
    pub next: &'static str,
}

/// What looks mistyped in a calibration that keeps the rules.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Doubtful {
    /// Valid for so many days.
    Long {
        /// From the calibration to the next.
        days: i32,
    },
    /// No laboratory calibrates a force gauge so well.
    TooGood {
        /// Expanded uncertainty as a share of the highest force.
        share: f64,
    },
    /// A constant of the curve far from zero.
    Constant {
        /// The constant, N.
        constant_n: f64,
    },
}

/// The converter's highest reading, counts: 24 bits with a sign.
pub const HIGHEST_COUNTS: i32 = (1 << 23) - 1;

/// A relative uncertainty from here on is a mistake in the unit: no laboratory calibrates a gauge so badly.
const TOO_UNCERTAIN_PERCENT: f64 = 20.0;
/// The same of a length, µm.
const TOO_UNCERTAIN_UM: f64 = 500.0;
/// A span that begins at no load, or next to it, is looked at from here on: this share of its upper end.
const NEXT_TO_NO_LOAD: f64 = 0.02;
/// A force gauge whose span ends below it sees no clamp, N …
const LEAST_SPAN_N: f64 = 100.0;
/// … and no drawbar pulls near this, N.
const LARGEST_RATED_N: f64 = 1e6;
/// No plunger goes this far, µm.
const LARGEST_TRAVEL_UM: f64 = 1e6;
/// The curve's constant is near zero, because the counts at no load are taken off before: this share of the span.
const LARGEST_CONSTANT: f64 = 0.5;
/// How far the curve may bend away from its straight line, or an indicator's from what is shown, as a share of the span.
const LARGEST_BEND: f64 = 0.2;
/// Fewer counts over a span are no measurement.
const LEAST_COUNTS: f64 = 1_000.0;
/// The same of a probe.
const LEAST_STEPS: f64 = 10.0;
/// Nobody lets a gauge go longer without a calibration, years.
pub const LONGEST_YEARS: i32 = 5;
/// No laboratory calibrates a force gauge better than this, as a share of the force.
const BEST_SHARE: f64 = 1e-5;
/// The constant of a curve near zero: this share of the span.
const USUAL_CONSTANT: f64 = 0.01;
/// Where somebody calibrates, °C.
const TEMPERATURE_C: [f64; 2] = [-20.0, 60.0];

const WIRES: &str = "The signal wires are swapped, or the sign of a coefficient is: put it right and calibrate again.";
const UNITS: &str = "Are the coefficients in N for each count, and the span in N?";
const LENGTH_UNITS: &str =
    "Enter µm, µm for each count or µm shown … (0 for a constant that is none).";

impl Stated {
    /// Holds it to the rules; a number that is none keeps none of them.
    ///
    /// # Errors
    /// The first figure that cannot be.
    pub fn require_sound(&self) -> Result<(), Unsound> {
        self.require_span()?;
        self.require_rated()?;
        self.require_uncertainty()?;
        self.require_temperature()?;
        self.require_numbers()?;
        match self.sensor {
            Sensor::Force => self.require_force_curve(),
            Sensor::Probe | Sensor::Indicator => self.require_length_curve(),
        }
    }

    /// What to ask about; `days`: from the calibration to the next.
    ///
    /// Source: common practice.
    pub fn doubtful(&self, days: i32) -> Vec<Doubtful> {
        let [_, high] = self.span;
        let [constant_n, ..] = self.coefficients;
        let share = self.expanded_relative.hypot(self.expanded_fixed / high);
        let long = (days > LONGEST_YEARS * 366).then_some(Doubtful::Long { days });
        let too_good = (share < BEST_SHARE).then_some(Doubtful::TooGood { share });
        let constant =
            (constant_n.abs() > USUAL_CONSTANT * high).then_some(Doubtful::Constant { constant_n });
        let of_force = |doubt: Option<Doubtful>| doubt.filter(|_| self.is_force());
        let all = [long, of_force(too_good), of_force(constant)];
        all.into_iter().flatten().collect()
    }

    fn is_force(&self) -> bool {
        self.sensor == Sensor::Force
    }

    fn unit(&self) -> &'static str {
        if self.is_force() { "N" } else { "µm" }
    }

    fn require_span(&self) -> Result<(), Unsound> {
        let [low, high] = self.span;
        let rises = low.is_finite() && high.is_finite() && low < high;
        let found = || format!("{low} to {high} {}", self.unit());
        if !self.is_force() {
            let next = "Enter the lowest and the highest reading that was compared, in µm.";
            let expected = "a lower and a higher reading in µm";
            return require(rises, "span_um", found, expected, next);
        }
        let next = "Are the two exchanged, or is one in kN?";
        let expected = "a lower and a higher force in N";
        require(rises && low >= 0.0, "span_n", found, expected, next)?;
        let expected = "a span that goes up to 100 N at least";
        require(high >= LEAST_SPAN_N, "span_n", found, expected, next)
    }

    fn require_rated(&self) -> Result<(), Unsound> {
        let [low, high] = self.span;
        let (rated, unit) = (self.rated, self.unit());
        let farthest = low.abs().max(high.abs());
        let above = || format!("{rated} {unit}, calibrated up to {farthest} {unit}");
        let (part, least, beyond, most, next) = if self.is_force() {
            (
                "rated_n",
                "a rated load not below the calibrated span",
                "at most 1000000 N",
                LARGEST_RATED_N,
                "Read it on the gauge's own label.",
            )
        } else {
            (
                "travel_um",
                "a travel not below the calibrated span",
                "at most 1000000 µm",
                LARGEST_TRAVEL_UM,
                "Read it on the indicator, in µm: 10 mm are 10000.",
            )
        };
        let enough = rated.is_finite() && rated >= farthest;
        require(enough, part, above, least, next)?;
        require(
            rated <= most,
            part,
            || format!("{rated} {unit}"),
            beyond,
            next,
        )
    }

    fn require_uncertainty(&self) -> Result<(), Unsound> {
        const STATED: &str = "A verdict needs it: enter what the certificate states.";
        // Rounded, so that 29 % read back as 29 %.
        let percent = (1e11 * self.expanded_relative).round() / 1e9;
        let fixed = self.expanded_fixed;
        let sound = percent.is_finite() && fixed.is_finite() && percent >= 0.0 && fixed >= 0.0;
        let given = sound && (percent > 0.0 || fixed > 0.0);
        let both = || format!("{percent} % and {fixed} {}", self.unit());
        let expected = "an expanded uncertainty (k = 2) above 0";
        if !self.is_force() {
            let next = "A verdict needs it: enter what the certificate states, with the errors that are not corrected.";
            require(given, "expanded_um", both, expected, next)?;
            let certain = percent < TOO_UNCERTAIN_PERCENT && fixed < TOO_UNCERTAIN_UM;
            let next = "Micrometres are meant, with k = 2.";
            return require(
                certain,
                "expanded_um",
                both,
                "less than 20 % and 500 µm",
                next,
            );
        }
        require(given, "expanded_percent", both, expected, STATED)?;
        let next = "Percent of the reading are meant, with k = 2.";
        let found = || format!("{percent} %");
        let certain = percent < TOO_UNCERTAIN_PERCENT;
        require(certain, "expanded_percent", found, "less than 20 %", next)?;
        // Both parts together where they weigh most, at the lower end of the span.
        let [low, high] = self.span;
        let from_n = low.max(NEXT_TO_NO_LOAD * high);
        let there = percent.hypot(100.0 * fixed / from_n);
        let found = || format!("an expanded uncertainty of {there:.0} % at {from_n} N");
        require(
            there < TOO_UNCERTAIN_PERCENT,
            "expanded_n",
            found,
            "less than 20 % where the span begins",
            "Newtons and k = 2 are meant. If it is right, let the span begin higher.",
        )
    }

    fn require_temperature(&self) -> Result<(), Unsound> {
        let [low, high] = TEMPERATURE_C;
        require(
            (low..=high).contains(&self.temperature_c),
            "temperature_c",
            || format!("{} °C", self.temperature_c),
            "-20 to 60 °C",
            "Degrees Celsius are meant.",
        )
    }

    fn require_numbers(&self) -> Result<(), Unsound> {
        let finite = self.coefficients.iter().all(|c| c.is_finite());
        self.require_curve(
            finite,
            || format!("{:?}", self.coefficients),
            "numbers, constant first",
            "Enter N, N for each count, N for each count squared … (0 for a constant that is none).",
        )
    }

    fn require_force_curve(&self) -> Result<(), Unsound> {
        let [constant, rise, ..] = self.coefficients;
        let [_, high] = self.span;
        let each = || format!("{rise} N for each count");
        self.require_curve(
            rise > 0.0,
            each,
            "a force that rises with the counts",
            WIRES,
        )?;
        require(
            (-HIGHEST_COUNTS..=HIGHEST_COUNTS).contains(&self.zero_counts),
            "zero_counts",
            || format!("{} counts at no load", self.zero_counts),
            "a reading of a 24-bit converter",
            "Enter the counts at no load as the gauge gave them, or leave them out.",
        )?;
        let (end, room) = (high / rise, f64::from(HIGHEST_COUNTS - self.zero_counts));
        let at_end = || format!("{} N at the converter's highest reading", self.value(room));
        let expected = "a force that reaches the end of the span";
        self.require_curve(end <= room, at_end, expected, UNITS)?;
        let expected = "1000 counts at least up to the end of the span";
        self.require_curve(end >= LEAST_COUNTS, each, expected, UNITS)?;
        self.require_rising(0.0, end)?;
        self.require_curve(
            constant.abs() <= LARGEST_CONSTANT * high,
            || format!("a constant of {constant} N, of a span up to {high} N"),
            "one near 0, at most half the span",
            "The counts at no load are taken off before: enter them as zero_counts.",
        )?;
        self.require_straight(&[end / 2.0, end], high)?;
        require(
            self.rated <= rise * room,
            "rated_n",
            || {
                let full = rise * room;
                format!(
                    "{} N, and the converter's range ends at {full:.0} N",
                    self.rated
                )
            },
            "a rated load the converter can read",
            UNITS,
        )
    }

    fn require_length_curve(&self) -> Result<(), Unsound> {
        let [constant, rise, ..] = self.coefficients;
        let [low, high] = self.span;
        let all = || format!("{:?}", self.coefficients);
        let rising = "2 to 4 numbers, constant first, rising";
        self.require_curve(rise > 0.0, all, rising, LENGTH_UNITS)?;
        // What a probe counts is told by its slope; an indicator shows the length itself.
        let each = if self.sensor == Sensor::Probe {
            rise
        } else {
            1.0
        };
        let ends = [low / each, f64::midpoint(low, high) / each, high / each];
        self.require_rising(ends[0], ends[2])?;
        if self.sensor == Sensor::Probe {
            let found = || format!("{rise} µm for each count");
            let expected = "10 counts at least over the span";
            self.require_curve(
                ends[2] - ends[0] >= LEAST_STEPS,
                found,
                expected,
                LENGTH_UNITS,
            )?;
        }
        self.require_curve(
            constant.abs() <= self.rated,
            || format!("a constant of {constant} µm"),
            "one within the travel",
            LENGTH_UNITS,
        )?;
        self.require_straight(&ends, high - low)
    }

    /// The curve's steepness is a parabola: its least value lies at an end or at its vertex.
    fn require_rising(&self, from: f64, to: f64) -> Result<(), Unsound> {
        let [_, b, c, d] = self.coefficients;
        let steepness = |x: f64| b + x * (2.0 * c + x * 3.0 * d);
        let vertex = (-c / (3.0 * d)).clamp(from, to);
        let places = [from, vertex, to].into_iter().filter(|x| !x.is_nan());
        let falling = places.clone().find(|x| steepness(*x) <= 0.0);
        self.require_curve(
            falling.is_none() && places.clone().all(|x| steepness(x).is_finite()),
            || {
                let there = falling.map_or(f64::NAN, |x| self.value(x));
                format!("a curve that falls near {there:.0} {}", self.unit())
            },
            "one that rises over the whole span",
            WIRES,
        )
    }

    fn require_straight(&self, places: &[f64], span: f64) -> Result<(), Unsound> {
        let [constant, rise, ..] = self.coefficients;
        let each = if self.sensor == Sensor::Indicator {
            1.0
        } else {
            rise
        };
        let bend = |x: &f64| (self.value(*x) - constant - each * x).abs();
        let worst = places.iter().map(bend).fold(0.0, f64::max);
        self.require_curve(
            worst <= LARGEST_BEND * span,
            || {
                format!(
                    "a curve that is {worst:.0} {} off a straight line",
                    self.unit()
                )
            },
            "at most a fifth of the span",
            "Is a coefficient mistyped, or in another unit than the first?",
        )
    }

    fn require_curve(
        &self,
        holds: bool,
        found: impl Fn() -> String,
        expected: &'static str,
        next: &'static str,
    ) -> Result<(), Unsound> {
        require(holds, "coefficients", found, expected, next)
    }

    fn value(&self, x: f64) -> f64 {
        let [a, b, c, d] = self.coefficients;
        a + x * (b + x * (c + x * d))
    }
}

fn require(
    holds: bool,
    part: &'static str,
    found: impl Fn() -> String,
    expected: &'static str,
    next: &'static str,
) -> Result<(), Unsound> {
    if holds {
        return Ok(());
    }
    Err(Unsound {
        part,
        found: found(),
        expected,
        next,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn force() -> Stated {
        Stated {
            sensor: Sensor::Force,
            coefficients: [0.0, 0.0116, 0.0, 0.0],
            zero_counts: -12_000,
            expanded_relative: 0.004,
            expanded_fixed: 8.0,
            span: [500.0, 20_000.0],
            rated: 25_000.0,
            temperature_c: 21.5,
        }
    }

    fn length(sensor: Sensor) -> Stated {
        let each = if sensor == Sensor::Probe { 0.1 } else { 1.0 };
        Stated {
            sensor,
            coefficients: [0.0, each, 0.0, 0.0],
            zero_counts: 0,
            expanded_relative: 0.002,
            expanded_fixed: 0.4,
            span: [-1_000.0, 1_000.0],
            rated: 10_000.0,
            temperature_c: 20.0,
        }
    }

    #[test]
    fn sound_calibrations_of_each_sensor_pass() {
        for sound in [force(), length(Sensor::Probe), length(Sensor::Indicator)] {
            assert_eq!(sound.require_sound(), Ok(()));
        }
        let bent = Stated {
            coefficients: [3.0, 0.0116, 1e-10, -1e-17],
            ..force()
        };
        assert_eq!(bent.require_sound(), Ok(()), "a cell bends a little");
    }

    #[test]
    fn each_figure_that_cannot_be_is_named_by_its_part() {
        type Spoil = fn(&mut Stated);
        let spoilt: [(&str, Spoil); 21] = [
            ("expanded_percent", |s| s.expanded_relative = f64::NAN),
            ("expanded_percent", |s| s.expanded_fixed = f64::NAN),
            ("expanded_percent", |s| s.expanded_relative = -0.001),
            ("expanded_percent", |s| {
                (s.expanded_relative, s.expanded_fixed) = (0.0, 0.0);
            }),
            ("expanded_percent", |s| s.expanded_relative = 0.4),
            ("expanded_n", |s| s.expanded_fixed = 300.0),
            ("rated_n", |s| s.rated = f64::NAN),
            ("rated_n", |s| s.rated = f64::INFINITY),
            ("rated_n", |s| s.rated = -25_000.0),
            ("rated_n", |s| s.rated = 1e7),
            ("rated_n", |s| s.rated = 150_000.0),
            ("span_n", |s| s.span = [-500.0, 20_000.0]),
            ("span_n", |s| s.span = [0.5, 20.0]),
            ("coefficients", |s| s.coefficients = [0.0; 4]),
            ("coefficients", |s| s.coefficients[1] = -0.0116),
            ("coefficients", |s| s.coefficients[3] = f64::NAN),
            ("coefficients", |s| s.coefficients[0] = 1e6),
            ("coefficients", |s| s.coefficients[1] = 50.0),
            ("coefficients", |s| s.coefficients[2] = -2e-9),
            ("zero_counts", |s| s.zero_counts = i32::MIN + 1),
            ("temperature_c", |s| s.temperature_c = f64::NAN),
        ];
        for (part, spoil) in spoilt {
            let mut bad = force();
            spoil(&mut bad);
            let refused = bad.require_sound().unwrap_err();
            assert_eq!(refused.part, part, "{refused}");
        }
    }

    #[test]
    fn a_curve_that_dips_between_its_ends_is_refused() {
        // 0.0116·x·(1 + dip) rises at both ends and falls in the middle.
        let dips = Stated {
            coefficients: [0.0, 0.0116, -2.1e-8, 1.24e-14],
            ..force()
        };
        let refused = dips.require_sound().unwrap_err();
        assert!(refused.found.contains("falls near"), "{refused}");
    }

    #[test]
    fn an_indicator_in_inches_and_a_probe_that_never_counts_are_refused() {
        let mut inch = length(Sensor::Indicator);
        inch.coefficients[1] = 25.4;
        assert_eq!(inch.require_sound().unwrap_err().part, "coefficients");
        let mut coarse = length(Sensor::Probe);
        coarse.coefficients[1] = 500.0;
        assert_eq!(coarse.require_sound().unwrap_err().part, "coefficients");
        let mut unsure = length(Sensor::Probe);
        unsure.expanded_fixed = f64::INFINITY;
        assert_eq!(unsure.require_sound().unwrap_err().part, "expanded_um");
    }

    fn number() -> impl Strategy<Value = f64> {
        prop_oneof![
            any::<f64>(),
            Just(f64::NAN),
            Just(0.0),
            -1e5..1e5_f64,
            0.0..0.1_f64
        ]
    }

    proptest! {
        /// Whatever passes gives a usable force at any reading within its span, and the reading rises with the force.
        #[test]
        fn what_passes_can_be_computed_with(
            coefficients in proptest::array::uniform4(number()),
            zero_counts in any::<i32>(),
            figures in proptest::array::uniform6(number()),
            which in 0_usize..3,
            near in any::<bool>(),
        ) {
            let sensor = [Sensor::Force, Sensor::Probe, Sensor::Indicator][which];
            let good = if sensor == Sensor::Force { force() } else { length(sensor) };
            let [expanded_relative, expanded_fixed, low, high, rated, temperature_c] = figures;
            let stated = if near {
                Stated { coefficients, ..good }
            } else {
                Stated { sensor, coefficients, zero_counts, expanded_relative, expanded_fixed, span: [low, high], rated, temperature_c }
            };
            if stated.require_sound().is_ok() {
                let [from, to] = stated.span;
                let each = if sensor == Sensor::Indicator { 1.0 } else { stated.coefficients[1] };
                let readings = (0..=50).map(|i| (from + (to - from) * f64::from(i) / 50.0) / each);
                let values: Vec<f64> = readings.map(|x| stated.value(x)).collect();
                prop_assert!(values.iter().all(|v| v.is_finite()));
                prop_assert!(values.windows(2).all(|pair| pair[1] > pair[0]), "{values:?}");
            }
        }
    }
}
