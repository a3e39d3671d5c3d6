//! Doubts about figures, put to the person. In: a figure that cannot be, with its number as it was written. Out: it is
//! meant as it reads, or another unit is meant; else nothing goes on. `--yes` answers none of them.

use crate::terminal::console::Console;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::prompt::Prompt;
use crate::terminal::settings::Settings;
use holdtrue_metrology::doubt::{Ceiling, Doubt, Spindle, other_lengths, other_units};
use holdtrue_terms::units::{ForceUnit, LengthUnit};

/// A doubt and the figure it is about, as it was written.
#[derive(Clone, Debug)]
pub struct Doubted {
    /// Why it cannot be.
    pub doubt: Doubt,
    /// The figure, in its unit.
    pub number: f64,
    /// Its unit.
    pub unit: Unit,
    /// Where it stands: a file, or an option.
    pub place: Place,
    /// Whether it was typed; else it stands in a file.
    pub typed: bool,
    /// What is known of the spindle.
    pub spindle: Spindle,
}

/// The unit a figure was written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A force.
    Force(ForceUnit),
    /// Per cent of the nominal force.
    Percent,
    /// A reading of a dial.
    Length(LengthUnit),
    /// A height, mm.
    Millimetre,
    /// A number of readings.
    Readings,
}

impl Unit {
    fn name(self) -> &'static str {
        match self {
            Self::Force(unit) => unit.symbol(),
            Self::Percent => "%",
            Self::Length(LengthUnit::Tenth) => LengthUnit::Tenth.symbol(),
            Self::Length(unit) => unit.word(),
            Self::Millimetre => LengthUnit::Mm.word(),
            Self::Readings => "readings",
        }
    }
}

/// What the person says to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Answer {
    /// It is meant as it reads.
    AsRead,
    /// It is in another unit of force.
    In(ForceUnit),
    /// So many positions.
    Positions(u32),
}

/// Puts a doubt to whoever is there. `as_read`: every figure that can be meant is, by flag. `units`: another unit of force
/// can be taken for an answer.
///
/// # Errors
/// Nobody can be asked, or the answer is to stop: exit 2 for what was typed, 4 for what stands in a file.
pub fn put(
    doubted: &Doubted,
    as_read: bool,
    units: bool,
    settings: &Settings,
    console: &mut Console,
) -> Result<Answer, Error> {
    let said = Said::of(doubted, settings);
    if as_read && doubted.doubt.may_be_meant() {
        // Answered beforehand is not unasked.
        console.message(&format!(
            "Taken as read (--as-read): {}: found {}, where {} is expected.",
            doubted.place, said.found, said.expected
        ));
        return Ok(Answer::AsRead);
    }
    let mut choices: Vec<(String, Answer)> = Vec::new();
    if let (true, Unit::Force(unit)) = (units, doubted.unit) {
        let others = other_units(doubted.number, unit, &doubted.spindle);
        choices.extend(
            others
                .into_iter()
                .map(|(unit, _)| (unit.symbol().to_owned(), Answer::In(unit))),
        );
    }
    if let Doubt::Positions {
        readings,
        with_return,
    } = doubted.doubt
    {
        let counts = with_return.into_iter().chain([readings]);
        choices.extend(
            counts
                .filter_map(|count| u32::try_from(count).ok())
                .map(|count| (count.to_string(), Answer::Positions(count))),
        );
    }
    if doubted.doubt.may_be_meant() {
        choices.push(("as read".to_owned(), Answer::AsRead));
    }
    match pick(&said.question, &choices, console)? {
        Some(answer) => Ok(answer),
        None => Err(said.refusal(doubted)),
    }
}

/// A doubt that is put to nobody: it is refused as where nobody can be asked.
pub fn refusal(doubted: &Doubted) -> Error {
    Said::of(doubted, &Settings::default()).refusal(doubted)
}

/// Reads a choice from a terminal; none where nobody is there, or Enter alone is typed.
///
/// # Errors
/// Whoever is asked stops: exit 130.
pub fn pick<A: Copy>(
    question: &str,
    choices: &[(String, A)],
    console: &mut Console,
) -> Result<Option<A>, Error> {
    if choices.is_empty() {
        return Ok(None);
    }
    pick_or_typed(question, "", choices, |_| Ok(None), console)
}

/// The same, where `another` figure may be typed in place of the doubted one: what it comes to; none of what is no figure at
/// all.
///
/// # Errors
/// As [`pick`].
pub fn pick_or_typed<A: Copy>(
    question: &str,
    another: &str,
    choices: &[(String, A)],
    read: impl Fn(&str) -> Result<Option<A>, String>,
    console: &mut Console,
) -> Result<Option<A>, Error> {
    let another = Some(another).filter(|another| !another.is_empty());
    let words = choices.iter().map(|(word, _)| word.as_str());
    let words: Vec<&str> = another.into_iter().chain(words).collect();
    loop {
        let asked = format!(
            "{question} Type {}, then Enter; Enter alone stops.",
            words.join(" or ")
        );
        let typed = match console.line(&asked)? {
            Some(typed) if !typed.is_empty() => typed,
            _ => return Ok(None),
        };
        let said = choices
            .iter()
            .find(|(word, _)| word.eq_ignore_ascii_case(&typed));
        match said {
            Some((_, answer)) => return Ok(Some(*answer)),
            None => match read(&typed) {
                Ok(Some(answer)) => return Ok(Some(answer)),
                Ok(None) => {}
                Err(told) => console.say(&format!("{told}.")),
            },
        }
    }
}

/// A doubt in words.
struct Said {
    found: String,
    expected: String,
    question: String,
    next: String,
}

impl Said {
    fn of(doubted: &Doubted, settings: &Settings) -> Self {
        let number = doubted.number;
        let figure = format!("{number} {}", doubted.unit.name());
        let force = |n: f64| short_force(n, settings.force, None);
        let (expected, question) = match doubted.doubt {
            Doubt::ForceAbove { most_n, by, .. } => (
                format!("{} at most{}", force(most_n), follows_from(by, settings)),
                which_unit(doubted, settings),
            ),
            Doubt::ForceBelow { least_n, .. } => (
                format!("{} at least", force(least_n)),
                which_unit(doubted, settings),
            ),
            Doubt::NoClamp { .. } => (
                "a record with the gauge free, clamped and free again".to_owned(),
                which_unit(doubted, settings),
            ),
            Doubt::OtherUnit { held_to_n, .. } => (
                format!(
                    "a mean near {}, what the spindle is held to",
                    force(held_to_n)
                ),
                which_unit(doubted, settings),
            ),
            Doubt::FarBelowNominal { nominal_n, .. } => (
                format!("a tenth of the nominal {} at least", force(nominal_n)),
                which_unit(doubted, settings),
            ),
            Doubt::Push { .. } => (
                "a pull, above 0".to_owned(),
                format!(
                    "{figure} is a push: is {} {} meant?",
                    -number,
                    doubted.unit.name()
                ),
            ),
            Doubt::ReadingApart {
                median_n,
                shifted_n,
                ..
            } => (
                format!(
                    "a reading within a third and 3 times the median of the others, {}",
                    force(median_n)
                ),
                apart(doubted, median_n, shifted_n, settings),
            ),
            Doubt::LeastOverNominal { nominal_n, .. } => (
                format!("one not above the nominal {}", force(nominal_n)),
                format!("{figure} is more than the nominal: are the two exchanged?"),
            ),
            Doubt::LowestOverMean { mean_n, .. } => (
                format!("one not above the limit on the mean, {}", force(mean_n)),
                "The lowest clamp is never above the mean: are the two exchanged?".to_owned(),
            ),
            Doubt::RunoutAbove { .. } => ("1000 um at most".to_owned(), which_length(doubted)),
            Doubt::RunoutBelow { um, least_um } => (
                format!("{least_um} um at least, the finest step there is"),
                if um > 0.0 {
                    which_length(doubted)
                } else {
                    "All readings are alike: does the tip touch?".to_owned()
                },
            ),
            Doubt::EvenSteps { step_um } => (
                "readings that come back as the spindle comes round".to_owned(),
                format!(
                    "They climb by {} um from each position to the next: are they the numbers, or the angles, of the positions?",
                    short(step_um)
                ),
            ),
            Doubt::PlanesAlike => (
                "every plane read by itself".to_owned(),
                "Was one plane copied? Seated, turned or read elsewhere, a bar does not read alike to the last digit, nor moved on by some positions, turned over or scaled."
                    .to_owned(),
            ),
            Doubt::DialApart { others_um, .. } => (
                format!(
                    "a reading near the others, which lie within {} um",
                    short(others_um)
                ),
                format!("{figure}: was it read so?"),
            ),
            Doubt::WallOutside { height_mm } => (
                "0 or less: the wall lies inside the taper, behind the face".to_owned(),
                format!(
                    "{figure} is in front of the face: is {} mm meant, {height_mm} mm inside the mouth?",
                    -height_mm
                ),
            ),
            Doubt::Inside { at, height_mm } => (
                format!("0 or more: the {} is not read behind the face", at.word()),
                format!(
                    "{figure} is inside the mouth, where a bar fills the taper: is it the wall (--at wall), or {} mm in front of the face?",
                    -height_mm
                ),
            ),
            Doubt::TooDeep {
                height_mm,
                deepest_mm,
            } => (
                format!("a depth that the taper has, about {deepest_mm:.0} mm at most"),
                format!("{figure} is inside the taper: is {} mm meant?", -height_mm),
            ),
            Doubt::HeightNear { .. } => (
                "a millimetre or more from the face".to_owned(),
                format!(
                    "{figure}: an indicator does not come so near. {number} in is {} mm: is that meant?",
                    short(25.4 * number)
                ),
            ),
            Doubt::HeightFar { .. } => (
                "1000 mm at most".to_owned(),
                format!(
                    "{figure}: {number} um is {} mm; which unit?",
                    short(number / 1e3)
                ),
            ),
            Doubt::Positions {
                readings,
                with_return,
            } => (
                "as many as there are positions, or one more for the reading back at the first"
                    .to_owned(),
                positions(readings, with_return),
            ),
        };
        let found = match doubted.doubt {
            Doubt::NoClamp { .. } => format!("no clamp, and {figure} at the highest"),
            Doubt::EvenSteps { .. } => "readings in even steps".to_owned(),
            Doubt::PlanesAlike => "the same readings as in an earlier plane".to_owned(),
            _ => figure,
        };
        Self {
            found,
            expected,
            question,
            next: next(doubted),
        }
    }

    fn refusal(self, doubted: &Doubted) -> Error {
        let asked = format!("{} {}", self.question, self.next);
        let error = Error::input(
            doubted.place.clone(),
            Refusal {
                found: &self.found,
                expected: &self.expected,
                next: asked.trim_end(),
            },
        );
        if doubted.typed {
            Error::usage(error.message).about(error.place)
        } else {
            error
        }
    }
}

/// What helps where nobody can be asked.
fn next(doubted: &Doubted) -> String {
    let keep = "or add --as-read if it is meant as it reads";
    match (doubted.doubt, doubted.typed) {
        (
            Doubt::Positions {
                readings,
                with_return,
            },
            _,
        ) => {
            let first =
                with_return.map_or(String::new(), |count| format!("--positions {count} or "));
            format!("Say {first}--positions {readings}.")
        }
        (doubt, true) if !doubt.may_be_meant() => "Type it anew.".to_owned(),
        (doubt, false) if !doubt.may_be_meant() => "Correct the file.".to_owned(),
        (_, true) => format!("Type it anew, {keep}."),
        (_, false) => format!("Correct the file, {keep}."),
    }
}

fn follows_from(by: Ceiling, settings: &Settings) -> String {
    let force = |n: f64| short_force(n, settings.force, None);
    match by {
        Ceiling::Any => String::new(),
        Ceiling::Usual(interface, usual_n) => {
            format!(
                ", 3 times the highest usual on {interface} ({})",
                force(usual_n)
            )
        }
        Ceiling::Nominal(nominal_n) => format!(", 3 times the nominal {}", force(nominal_n)),
    }
}

/// `2200 kN? 2200 N is 2.2 kN, 2200 lbf is 9.79 kN; which unit?`
fn which_unit(doubted: &Doubted, settings: &Settings) -> String {
    let number = doubted.number;
    match doubted.unit {
        Unit::Force(unit) => {
            let others = other_units(number, unit, &doubted.spindle);
            as_question(number, unit.symbol(), &in_units(number, others, settings))
        }
        Unit::Percent if number <= 1.0 => {
            format!("{number} %: is {} % meant?", short(100.0 * number))
        }
        unit => format!("{number} {}?", unit.name()),
    }
}

fn in_units(number: f64, units: Vec<(ForceUnit, f64)>, settings: &Settings) -> Vec<String> {
    let words = |(unit, force_n): (ForceUnit, f64)| {
        format!(
            "{number} {} is {}",
            unit.symbol(),
            short_force(force_n, settings.force, Some(unit))
        )
    };
    units.into_iter().map(words).collect()
}

fn which_length(doubted: &Doubted) -> String {
    let (number, name) = (doubted.number, doubted.unit.name());
    let Unit::Length(unit) = doubted.unit else {
        return format!("{number} {name}?");
    };
    let others: Vec<String> = other_lengths(number, unit)
        .into_iter()
        .map(|(other, um)| format!("{number} {other} is {} um", short(um)))
        .collect();
    as_question(number, name, &others)
}

fn as_question(number: f64, unit: &str, others: &[String]) -> String {
    if others.is_empty() {
        format!("{number} {unit}?")
    } else {
        format!("{number} {unit}? {}; which unit?", others.join(", "))
    }
}

/// The decimal point put back, or a unit in which it is like the others.
fn apart(doubted: &Doubted, median_n: f64, shifted_n: Option<f64>, settings: &Settings) -> String {
    let (number, name) = (doubted.number, doubted.unit.name());
    let Unit::Force(unit) = doubted.unit else {
        return format!("{number} {name}: was it read so?");
    };
    let is_like = |force_n: &f64| (force_n / median_n - 1.0).abs() < 0.25;
    let like: Vec<_> = other_units(number, unit, &doubted.spindle)
        .into_iter()
        .filter(|(_, force_n)| is_like(force_n))
        .collect();
    let shifted = shifted_n
        .filter(|_| like.is_empty())
        .map(|n| format!("{} {name}", short(unit.from_newtons(n))));
    match shifted {
        Some(shifted) => format!("{number} {name}: is {shifted} meant?"),
        None if like.is_empty() => format!("{number} {name}: was it read so?"),
        None => as_question(number, name, &in_units(number, like, settings)),
    }
}

fn positions(readings: usize, with_return: Option<usize>) -> String {
    match with_return {
        Some(count) => format!(
            "{readings} readings: {count} positions and the reading back at the first, or {readings} positions, or is one missing?"
        ),
        None => format!("{readings} readings: {readings} positions, or is one missing?"),
    }
}

/// A force to three digits, in the person's unit unless that is the one asked about.
fn short_force(force_n: f64, unit: ForceUnit, asked: Option<ForceUnit>) -> String {
    let unit = match (unit, asked) {
        (ForceUnit::Kn, Some(ForceUnit::Kn)) => ForceUnit::N,
        (unit, asked) if Some(unit) == asked => ForceUnit::Kn,
        (unit, _) => unit,
    };
    format!("{} {}", short(unit.from_newtons(force_n)), unit.symbol())
}

/// A number to three digits, without noughts behind.
fn short(number: f64) -> String {
    let rounded = format!("{number:.2e}").parse::<f64>();
    rounded.map_or_else(|_| number.to_string(), |rounded| rounded.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        for (number, wanted) in [
            (2.2, "2.2"),
            (9.786_087, "9.79"),
            (21.574_63, "21.6"),
            (100.0, "100"),
            (29_400.0, "29400"),
            (0.010_04, "0.01"),
            (-8.128, "-8.13"),
        ] {
            assert_eq!(short(number), wanted);
        }
    }

    #[test]
    fn a_doubt_is_put_with_what_is_likely_meant() {
        let doubted = |doubt, number, unit| Doubted {
            doubt,
            number,
            unit: Unit::Force(unit),
            place: Place::file("--readings").column("1"),
            typed: true,
            spindle: Spindle::default(),
        };
        let question = |doubted: &Doubted| Said::of(doubted, &Settings::default()).question;
        let above = Doubt::ForceAbove {
            force_n: 2.2e6,
            most_n: 1e5,
            by: Ceiling::Any,
        };
        assert_eq!(
            question(&doubted(above, 2_200.0, ForceUnit::Kn)),
            "2200 kN? 2200 N is 2.2 kN, 2200 lbf is 9.79 kN, 2200 kgf is 21.6 kN; which unit?"
        );
        let below = Doubt::ForceBelow {
            force_n: 10.0,
            least_n: 100.0,
        };
        let told = question(&doubted(below, 10.0, ForceUnit::N));
        assert!(told.starts_with("10 N? 10 kN is 10000 N"), "{told}");
        let slip = Doubt::ReadingApart {
            force_n: 97_000.0,
            median_n: 9_800.0,
            shifted_n: Some(9_700.0),
        };
        assert_eq!(
            question(&doubted(slip, 97.0, ForceUnit::Kn)),
            "97 kN: is 9.7 kN meant?"
        );
        let pounds = Doubt::ReadingApart {
            force_n: 2.2e6,
            median_n: 9_800.0,
            shifted_n: None,
        };
        assert_eq!(
            question(&doubted(pounds, 2_200.0, ForceUnit::Kn)),
            "2200 kN? 2200 lbf is 9.79 kN; which unit?"
        );
    }
}
