//! Figures that cannot be. In: values, and what is known of the spindle. Out: doubts with the values they rest on, and what
//! the same number would be in another unit.
//!
//! Common practice, no source. A doubt decides nothing: it is put to whoever entered the figure. The bounds are wide: they
//! catch a wrong unit, a slip of the decimal point and figures exchanged, never a weak spindle.

use crate::grip::limits::UsualRange;
use crate::runout::Method;
use crate::runout::nose::wall_length_mm;
use crate::statistics;
use holdtrue_terms::taper::Interface;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_terms::vocabulary::At;

/// No drawbar pulls more, N.
pub const MOST_N: f64 = 100_000.0;
/// And none is made for less; a clamp below it is not told from a gauge that hangs free, N.
pub const LEAST_N: f64 = 100.0;
/// So many times the highest usual force of the taper, or the nominal, is not pulled; and figures this far apart are not
/// of one spindle.
pub const APART: f64 = 3.0;
/// So near to the figure a spindle is held to lies a mean in another unit.
const UNIT_SHARE: f64 = 0.03;
/// A mean so many times the figure a spindle is held to, and more, is asked about where …
const MANY_TIMES: f64 = APART;
/// … the same number in a smaller unit is so many times it.
const SMALLER_UNIT: std::ops::Range<f64> = 0.5..2.2;
/// No lower limit lies under this share of the nominal.
const LEAST_SHARE: f64 = 0.1;
/// No taper or bar runs out by more, µm.
pub const MOST_UM: f64 = 1_000.0;
/// And no dial shows less, µm.
pub const LEAST_UM: f64 = 0.1;
/// And no record of a turn lies within less, µm: its noise alone spreads wider.
pub const LEAST_RECORDED_UM: f64 = 0.03;
/// An indicator's tip does not come nearer to the face, mm.
const NEAREST_MM: f64 = 1.0;
/// No taper is deeper: no. 50 reaches 102 mm.
const DEEPEST_MM: f64 = 150.0;
/// Nothing is read farther from the face, mm.
const FARTHEST_MM: f64 = 1_000.0;
/// Fewer readings may well climb evenly.
const FEWEST_STEPS: usize = 5;
/// What differs by less, as a share of the largest, is one number.
const SAME_STEP: f64 = 1e-9;
/// Positions a turn is divided into; another number is one too many, or one was left out.
const DIVISIONS: [usize; 12] = [4, 6, 8, 10, 12, 16, 18, 20, 24, 30, 32, 36];

/// Why a figure cannot be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Doubt {
    /// A force over what can be.
    ForceAbove {
        /// The force, N.
        force_n: f64,
        /// The most there can be, N.
        most_n: f64,
        /// What that follows from.
        by: Ceiling,
    },
    /// A force under what can be.
    ForceBelow {
        /// The force, N.
        force_n: f64,
        /// The least there can be, N.
        least_n: f64,
    },
    /// A record without a clamp, its highest force under what can be.
    NoClamp {
        /// The force, N.
        highest_n: f64,
    },
    /// A mean that is, in another unit, what the spindle is held to.
    OtherUnit {
        /// The mean, N.
        mean_n: f64,
        /// The nominal or the limit, N.
        held_to_n: f64,
    },
    /// A pull with the sign of a push.
    Push {
        /// The force, N.
        force_n: f64,
    },
    /// A typed reading unlike the others.
    ReadingApart {
        /// The reading, N.
        force_n: f64,
        /// Median of the others, N.
        median_n: f64,
        /// The same digits with the decimal point where the others have it, N.
        shifted_n: Option<f64>,
    },
    /// A least force over the nominal one.
    LeastOverNominal {
        /// The least force, N.
        force_n: f64,
        /// The nominal force, N.
        nominal_n: f64,
    },
    /// A lower limit far below the nominal.
    FarBelowNominal {
        /// The limit, N.
        force_n: f64,
        /// The nominal force, N.
        nominal_n: f64,
    },
    /// A limit on the lowest clamp over that on the mean.
    LowestOverMean {
        /// The limit on the lowest clamp, N.
        lowest_n: f64,
        /// The limit on the mean, N.
        mean_n: f64,
    },
    /// A runout over what can be.
    RunoutAbove {
        /// Largest less smallest, or the limit, µm.
        um: f64,
    },
    /// A runout no indicator shows.
    RunoutBelow {
        /// Largest less smallest, or the limit, µm.
        um: f64,
        /// The least that is shown, µm.
        least_um: f64,
    },
    /// Readings of one turn that climb, or fall, by the same from each to the next: numbers or angles of the positions.
    EvenSteps {
        /// By so much, µm.
        step_um: f64,
    },
    /// Planes of two places or orientations that agree to the last digit.
    PlanesAlike,
    /// A typed dial reading unlike the others.
    DialApart {
        /// The reading, µm.
        reading_um: f64,
        /// Largest less smallest without it, µm.
        others_um: f64,
    },
    /// A height in front of the face, for the wall of the taper.
    WallOutside {
        /// The height, mm.
        height_mm: f64,
    },
    /// A height behind the face, for what lies in front of it or in it.
    Inside {
        /// On which surface.
        at: At,
        /// The height, mm.
        height_mm: f64,
    },
    /// A height deeper behind the face than the taper, or than any where it is not named.
    TooDeep {
        /// The height, mm.
        height_mm: f64,
        /// How deep the taper is at most, mm.
        deepest_mm: f64,
    },
    /// A height nearer to the face than an indicator comes.
    HeightNear {
        /// The height, mm.
        height_mm: f64,
    },
    /// A height farther from the face than anything is read.
    HeightFar {
        /// The height, mm.
        height_mm: f64,
    },
    /// A number of readings that divides no turn.
    Positions {
        /// Readings.
        readings: usize,
        /// The positions, if the last reading is the one back at the first.
        with_return: Option<usize>,
    },
}

/// What the highest possible force follows from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ceiling {
    /// No drawbar pulls more.
    Any,
    /// The highest usual force of this taper, N.
    Usual(Interface, f64),
    /// The nominal force, N.
    Nominal(f64),
}

impl Doubt {
    /// Whether it can be meant as it stands: a real figure far out of the usual. The others contradict themselves.
    pub fn may_be_meant(&self) -> bool {
        !matches!(
            self,
            Self::Push { .. }
                | Self::NoClamp { .. }
                | Self::LeastOverNominal { .. }
                | Self::LowestOverMean { .. }
                | Self::Positions { .. }
        )
    }
}

/// What is known of the spindle a force is of.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Spindle {
    /// Its taper.
    pub interface: Option<Interface>,
    /// Its nominal force, N.
    pub nominal_n: Option<f64>,
}

impl Spindle {
    /// The most it can pull, N, and what that follows from.
    pub fn most(&self) -> (f64, Ceiling) {
        let usual = self.interface.and_then(|interface| {
            let (_, high_n) = UsualRange::over_classes(interface)?;
            Some((APART * high_n, Ceiling::Usual(interface, high_n)))
        });
        let nominal = self
            .nominal_n
            .map(|nominal_n| (APART * nominal_n, Ceiling::Nominal(nominal_n)));
        [usual, nominal]
            .into_iter()
            .flatten()
            .fold((MOST_N, Ceiling::Any), |least, one| {
                if one.0 < least.0 { one } else { least }
            })
    }

    /// A force that was measured.
    pub fn force(&self, force_n: f64) -> Option<Doubt> {
        let (most_n, by) = self.most();
        (force_n > most_n).then_some(Doubt::ForceAbove {
            force_n,
            most_n,
            by,
        })
    }

    /// The nominal force, N.
    pub fn nominal(&self) -> Option<Doubt> {
        let force_n = self.nominal_n?;
        let without = Self {
            nominal_n: None,
            ..*self
        };
        without
            .force(force_n)
            .or_else(|| below(force_n, self.least_usual_n()))
    }

    /// A third of the lowest usual force of the taper, N: less is neither a nominal force nor a limit.
    fn least_usual_n(&self) -> f64 {
        let usual = self.interface.and_then(UsualRange::over_classes);
        usual.map_or(LEAST_N, |(low_n, _)| low_n / APART)
    }

    /// A lower limit, or the maker's least force, N.
    pub fn least(&self, force_n: f64) -> Option<Doubt> {
        let nominal_n = self.nominal_n;
        let over = nominal_n.filter(|nominal_n| force_n > *nominal_n);
        let far = nominal_n.filter(|nominal_n| force_n < LEAST_SHARE * nominal_n);
        self.force(force_n)
            .or_else(|| below(force_n, LEAST_N))
            .or_else(|| over.map(|nominal_n| Doubt::LeastOverNominal { force_n, nominal_n }))
            .or_else(|| far.map(|nominal_n| Doubt::FarBelowNominal { force_n, nominal_n }))
            .or_else(|| below(force_n, self.least_usual_n()))
    }

    /// Typed settled forces, N: each doubt with the number of its reading, counted from 1. What is wrong with several alike
    /// is told at the first.
    pub fn readings(&self, forces_n: &[f64]) -> Vec<(usize, Doubt)> {
        let first = |doubt: &dyn Fn(f64) -> Option<Doubt>| {
            let mut all = (1..).zip(forces_n);
            all.find_map(|(number, &force_n)| Some((number, doubt(force_n)?)))
        };
        let push = first(&|force_n| (force_n < 0.0).then_some(Doubt::Push { force_n }));
        let above = first(&|force_n| self.force(force_n));
        let below = first(&|force_n| below(force_n, LEAST_N))
            .filter(|_| forces_n.iter().all(|force_n| *force_n < LEAST_N));
        if let Some(one) = push.or(above).or(below) {
            return vec![one];
        }
        apart(forces_n)
    }
}

/// A mean whose unit may be written wrong: within 3 % of a nominal or a limit in kilogram-force or pounds, or many times the
/// highest of them where its number in a smaller unit than this one is near it. Forces in N.
pub fn other_unit(mean_n: f64, unit: ForceUnit, held_to_n: &[f64]) -> Option<Doubt> {
    let number = unit.from_newtons(mean_n);
    let highest_n = held_to_n.iter().copied().reduce(f64::max)?;
    let smaller = [ForceUnit::N, ForceUnit::Lbf, ForceUnit::Kgf]
        .map(|other| other.to_newtons(number))
        .into_iter()
        .filter(|would_be_n| *would_be_n < 0.9 * mean_n);
    let near = |would_be_n: f64| SMALLER_UNIT.contains(&(would_be_n / highest_n));
    if mean_n >= MANY_TIMES * highest_n && smaller.into_iter().any(near) {
        return Some(Doubt::OtherUnit {
            mean_n,
            held_to_n: highest_n,
        });
    }
    too_small_a_unit(mean_n, held_to_n)
}

fn too_small_a_unit(mean_n: f64, held_to_n: &[f64]) -> Option<Doubt> {
    let units = [ForceUnit::Kgf, ForceUnit::Lbf].map(|unit| unit.to_newtons(1.0));
    let alike = |held_to_n: f64| {
        let would_be = units.map(|newtons| mean_n * newtons / held_to_n - 1.0);
        would_be.iter().any(|off| off.abs() < UNIT_SHARE)
    };
    let held_to_n = held_to_n.iter().copied().find(|&held| alike(held))?;
    Some(Doubt::OtherUnit { mean_n, held_to_n })
}

/// A limit on the lowest clamp beside one on the mean: the lowest is never above the mean.
pub fn lowest_beside_mean(lowest_n: f64, mean_n: f64) -> Option<Doubt> {
    (lowest_n > mean_n).then_some(Doubt::LowestOverMean { lowest_n, mean_n })
}

fn below(force_n: f64, least_n: f64) -> Option<Doubt> {
    (force_n < least_n).then_some(Doubt::ForceBelow { force_n, least_n })
}

/// Readings over three times, or under a third of, the median of the others. The one farthest off goes first, and the rest
/// are held to each other without it; of two the second goes.
fn apart(forces_n: &[f64]) -> Vec<(usize, Doubt)> {
    let mut left: Vec<(usize, f64)> = (1..).zip(forces_n.iter().copied()).collect();
    let mut found = Vec::new();
    while left.len() > 1
        && let Some((place, median_n)) = farthest(&left)
    {
        let (number, force_n) = left.remove(place);
        let doubt = Doubt::ReadingApart {
            force_n,
            median_n,
            shifted_n: shifted(force_n, median_n),
        };
        found.push((number, doubt));
    }
    found.sort_by_key(|(number, _)| *number);
    found
}

/// The reading farthest from the median of the others, if it is apart, and that median.
fn farthest(readings: &[(usize, f64)]) -> Option<(usize, f64)> {
    let against = |place: usize| {
        let others = readings.iter().enumerate();
        let others: Vec<f64> = others
            .filter(|(other, _)| *other != place)
            .map(|(_, reading)| reading.1)
            .collect();
        let (force_n, median_n) = (readings[place].1, statistics::median(&others));
        let is_apart = force_n > APART * median_n || force_n < median_n / APART;
        is_apart.then(|| (place, median_n, (force_n / median_n).ln().abs()))
    };
    let apart = (0..readings.len()).filter_map(against);
    apart
        .max_by(|a, b| a.2.total_cmp(&b.2))
        .map(|(place, median_n, _)| (place, median_n))
}

/// The same digits near the median, with the decimal point elsewhere.
fn shifted(force_n: f64, median_n: f64) -> Option<f64> {
    (-4..=4)
        .map(|power| force_n * 10_f64.powi(power))
        .find(|shifted| (shifted / median_n - 1.0).abs() < 0.5)
}

/// Other units in which a number would be a force that can be, with the force, N. Decanewtons are left to whoever asks
/// for kilogram-force: the two are alike within 2 %.
pub fn other_units(number: f64, unit: ForceUnit, spindle: &Spindle) -> Vec<(ForceUnit, f64)> {
    let (most_n, _) = spindle.most();
    [ForceUnit::N, ForceUnit::Kn, ForceUnit::Lbf, ForceUnit::Kgf]
        .into_iter()
        .filter(|other| *other != unit)
        .map(|other| (other, other.to_newtons(number)))
        .filter(|(_, force_n)| (LEAST_N..=most_n).contains(force_n))
        .collect()
}

/// Largest less smallest of a dial by eye, or a limit on it, µm.
pub fn runout(um: f64) -> Option<Doubt> {
    runout_within(um, LEAST_UM)
}

/// The same of a record, µm: a probe that is read while the spindle turns shows finer steps than a dial, and no surface at
/// rest is read back nearer than one shows.
pub fn recorded_runout(um: f64, method: Method) -> Option<Doubt> {
    match method {
        Method::Stepped => runout(um),
        Method::Free | Method::Marked => runout_within(um, LEAST_RECORDED_UM),
    }
}

fn runout_within(um: f64, least_um: f64) -> Option<Doubt> {
    if um > MOST_UM {
        Some(Doubt::RunoutAbove { um })
    } else if um < least_um * (1.0 - 1e-9) {
        Some(Doubt::RunoutBelow { um, least_um })
    } else {
        None
    }
}

/// Typed readings of a dial, µm, and the step of their last digit: a doubt with the number of its reading, counted from
/// 1.
pub fn dial(readings_um: &[f64], step_um: Option<f64>) -> Option<(usize, Doubt)> {
    let spread = |readings: &mut dyn Iterator<Item = f64>| {
        let (low, high) = readings.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| {
            (low.min(one), high.max(one))
        });
        high - low
    };
    let all_um = spread(&mut readings_um.iter().copied());
    if readings_um.len() > 1
        && let Some(doubt) = runout(all_um)
    {
        return Some((1, doubt));
    }
    if let Some(doubt) = even_steps(readings_um) {
        return Some((1, doubt));
    }
    if readings_um.len() < 4 {
        return None;
    }
    let floor_um = APART * step_um.unwrap_or(0.0);
    readings_um
        .iter()
        .enumerate()
        .find_map(|(index, &reading_um)| {
            let others = readings_um.iter().enumerate();
            let others_um = spread(
                &mut others
                    .filter(|(other, _)| *other != index)
                    .map(|(_, reading)| *reading),
            );
            (all_um > APART * others_um.max(floor_um)).then_some((
                index + 1,
                Doubt::DialApart {
                    reading_um,
                    others_um,
                },
            ))
        })
}

/// Readings of one turn, µm, in the order of its positions: whatever goes round comes back, so that no surface climbs by the same
/// from each position to the next. The reading back at the first may follow.
pub fn even_steps(readings_um: &[f64]) -> Option<Doubt> {
    let largest = readings_um
        .iter()
        .fold(0.0, |most: f64, um| most.max(um.abs()));
    let same = |a: f64, b: f64| (a - b).abs() <= SAME_STEP * largest;
    let back = |um: &[f64]| um.len() > 1 && same(um[0], um[um.len() - 1]);
    let turn = match readings_um {
        [turn @ .., _] if back(readings_um) => turn,
        turn => turn,
    };
    let step_um = turn.get(1)? - turn[0];
    let even = turn.windows(2).all(|pair| same(pair[1] - pair[0], step_um));
    (turn.len() >= FEWEST_STEPS && even && !same(step_um, 0.0))
        .then_some(Doubt::EvenSteps { step_um })
}

/// Other units in which a number would be a runout that can be, with the runout, µm; 0.0001 in is a unit of its own.
pub fn other_lengths(number: f64, unit: LengthUnit) -> Vec<(&'static str, f64)> {
    [
        (LengthUnit::Um, "um"),
        (LengthUnit::Mm, "mm"),
        (LengthUnit::In, "in"),
        (LengthUnit::Tenth, "tenths (0.0001 in)"),
    ]
    .into_iter()
    .filter(|(other, _)| *other != unit)
    .map(|(other, name)| (name, other.to_micrometres(number)))
    .filter(|(_, um)| runout(*um).is_none())
    .collect()
}

/// A number of typed readings where nobody said how many positions there are.
pub fn positions(readings: usize) -> Option<Doubt> {
    let divides = |count: usize| DIVISIONS.contains(&count);
    (readings >= 4 && !divides(readings)).then(|| Doubt::Positions {
        readings,
        with_return: Some(readings - 1).filter(|count| divides(*count)),
    })
}

/// A height from the face outward, mm, on a surface and in a taper where they are named.
pub fn height(at: Option<At>, height_mm: f64, taper: Option<Interface>) -> Option<Doubt> {
    let deepest_mm = taper.and_then(wall_length_mm).unwrap_or(DEEPEST_MM);
    let radial = matches!(at, Some(At::Wall | At::Bar) | None);
    if at == Some(At::Wall) && height_mm > 0.0 {
        Some(Doubt::WallOutside { height_mm })
    } else if let Some(at @ (At::Bar | At::Face | At::Axial)) = at
        && height_mm < 0.0
    {
        Some(Doubt::Inside { at, height_mm })
    } else if radial && height_mm < -deepest_mm {
        Some(Doubt::TooDeep {
            height_mm,
            deepest_mm,
        })
    } else if radial && height_mm.abs() > 0.0 && height_mm.abs() < NEAREST_MM {
        Some(Doubt::HeightNear { height_mm })
    } else if height_mm.abs() > FARTHEST_MM {
        Some(Doubt::HeightFar { height_mm })
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spindle(interface: &str) -> Spindle {
        Spindle {
            interface: interface.parse().ok(),
            nominal_n: None,
        }
    }

    #[test]
    fn the_ceiling_is_the_lowest_of_what_is_known() {
        // Three times 15 kN, the upper end of the heavy class of no. 40; three times 35 kN is over 100 kN (common practice).
        for (interface, most_n) in [
            ("7/24-40", 45_000.0),
            ("7/24-50", 100_000.0),
            ("7/24-45", 100_000.0),
            ("HSK-A63", 54_000.0),
        ] {
            assert!(
                (spindle(interface).most().0 - most_n).abs() < 1e-6,
                "{interface}"
            );
            assert_eq!(spindle(interface).force(most_n), None);
            assert!(spindle(interface).force(1.001 * most_n).is_some());
        }
        let held = Spindle {
            nominal_n: Some(9_800.0),
            ..spindle("7/24-40")
        };
        assert_eq!(held.most(), (29_400.0, Ceiling::Nominal(9_800.0)));
    }

    #[test]
    fn readings_are_held_to_the_others() {
        let none = Spindle::default();
        let numbers = |kilonewtons: &[f64]| -> Vec<usize> {
            let forces: Vec<f64> = kilonewtons.iter().map(|kn| kn * 1e3).collect();
            none.readings(&forces)
                .into_iter()
                .map(|(number, _)| number)
                .collect()
        };
        assert_eq!(numbers(&[9.8, 97.0, 9.9]), [2]);
        assert_eq!(numbers(&[9.8, 9.9, 0.97, 9.7]), [3]);
        assert_eq!(numbers(&[9.8, 97.0]), [2]);
        assert_eq!(numbers(&[9.8, 3.2, 9.9]), [2]);
        assert_eq!(numbers(&[9.8, 3.4, 9.9]), [0; 0]);
        assert_eq!(numbers(&[9.8, 0.0, 9.9]), [2]);
        assert_eq!(numbers(&[9.8]), [0; 0]);
        assert_eq!(numbers(&[2_200.0, 2_210.0]), [1]);
        assert_eq!(numbers(&[0.0098, 0.0099]), [1]);
        assert_eq!(numbers(&[9.8, -9.9]), [2]);
        assert_eq!(numbers(&[0.0, 0.0]), [1]);
    }

    #[test]
    fn a_slip_of_the_point_is_put_back() {
        for (force_n, wanted) in [(97_000.0, 9_700.0), (980.0, 9_800.0), (98.0, 9_800.0)] {
            let found = shifted(force_n, 9_800.0).unwrap();
            assert!((found - wanted).abs() < 1e-6, "{found}");
        }
        assert_eq!(shifted(0.0, 9_800.0), None);
    }

    #[test]
    fn the_same_number_in_another_unit() {
        let other = other_units(2_200.0, ForceUnit::Kn, &Spindle::default());
        let units: Vec<_> = other.iter().map(|(unit, _)| unit.symbol()).collect();
        assert_eq!(units, ["N", "lbf", "kgf"]);
        // 2200 × 4.4482216152605 N, exact by definition.
        assert!((other[1].1 - 9_786.087_553_573_1).abs() < 1e-9);
        let limit = other_units(7.0, ForceUnit::N, &Spindle::default());
        assert_eq!(limit, [(ForceUnit::Kn, 7_000.0)]);
    }

    #[test]
    fn figures_it_is_held_to() {
        let held = |nominal_n, interface: &str| Spindle {
            nominal_n: Some(nominal_n),
            interface: interface.parse().ok(),
        };
        assert!(held(10.0, "").nominal().is_some());
        assert!(held(1_000.0, "").nominal().is_none());
        assert!(held(1_000.0, "7/24-40").nominal().is_some());
        assert!(held(9_800.0, "7/24-40").nominal().is_none());
        assert!(held(50_000.0, "7/24-40").nominal().is_some());
        let nominal = held(9_800.0, "7/24-40");
        assert!(matches!(
            nominal.least(9_900.0),
            Some(Doubt::LeastOverNominal { .. })
        ));
        assert!(matches!(
            nominal.least(68.6),
            Some(Doubt::ForceBelow { .. })
        ));
        assert!(matches!(
            nominal.least(700.0),
            Some(Doubt::FarBelowNominal { .. })
        ));
        let taper_alone = Spindle {
            nominal_n: None,
            ..nominal
        };
        assert!(matches!(
            taper_alone.least(714.0),
            Some(Doubt::ForceBelow { .. })
        ));
        assert_eq!(taper_alone.least(1_600.0), None);
        assert_eq!(nominal.least(6_860.0), None);
        assert_eq!(nominal.least(9_800.0), None);
    }

    #[test]
    fn dials_are_held_to_what_one_shows() {
        let sound = [0.0, 3.0, 5.0, 3.0, 0.0, -3.0, -5.0, -3.0];
        assert_eq!(dial(&sound, Some(1.0)), None);
        assert!(matches!(
            dial(&[0.0; 8], Some(1.0)),
            Some((1, Doubt::RunoutBelow { .. }))
        ));
        assert_eq!(
            dial(&[0.0, 0.0, 0.0, 50.0], Some(1.0)).map(|found| found.0),
            Some(4)
        );
        assert_eq!(dial(&[0.0, 0.0, 0.0, 2.0], Some(1.0)), None);
        let thousandth = sound.map(|um| um / 1_000.0);
        assert!(matches!(
            dial(&thousandth, None),
            Some((1, Doubt::RunoutBelow { .. }))
        ));
        let inches = sound.map(|um| um * 25_400.0);
        assert!(matches!(
            dial(&inches, None),
            Some((1, Doubt::RunoutAbove { .. }))
        ));
        let mut slip = sound;
        slip[2] = 50.0;
        assert!(matches!(
            dial(&slip, Some(1.0)),
            Some((3, Doubt::DialApart { .. }))
        ));
    }

    #[test]
    fn nine_readings_are_eight_and_a_return() {
        assert_eq!(positions(8), None);
        assert_eq!(
            positions(9),
            Some(Doubt::Positions {
                readings: 9,
                with_return: Some(8)
            })
        );
        assert_eq!(
            positions(7),
            Some(Doubt::Positions {
                readings: 7,
                with_return: Some(6)
            })
        );
        assert_eq!(
            positions(15),
            Some(Doubt::Positions {
                readings: 15,
                with_return: None
            })
        );
        assert_eq!(positions(3), None);
    }

    #[test]
    fn heights_are_held_to_the_surface() {
        assert!(height(Some(At::Wall), 8.0, None).is_some());
        assert_eq!(height(Some(At::Wall), -8.0, None), None);
        assert_eq!(height(Some(At::Wall), 0.0, None), None);
        assert!(height(Some(At::Bar), -300.0, None).is_some());
        assert_eq!(height(Some(At::Bar), 300.0, None), None);
        assert_eq!(height(None, -20.0, None), None);
        assert!(height(Some(At::Wall), -0.3, None).is_some());
        assert!(height(Some(At::Bar), 30_000.0, None).is_some());
        assert_eq!(height(Some(At::Face), 0.5, None), None);
        let no_40 = spindle("7/24-40").interface;
        assert_eq!(height(Some(At::Wall), -65.0, no_40), None);
        assert!(height(Some(At::Wall), -80.0, no_40).is_some());
        assert_eq!(height(Some(At::Wall), -80.0, None), None);
    }
}
