//! Usual grip forces by spindle interface, and what follows from a maker's figure.
//!
//! In comes the interface and class a technician picked, or the maker's figure; out come limits with their provenance.
//! A usual range never yields *within limit*: it is what such spindles mostly have, not what this one must have.

use crate::decision::{Figure, Limit, ShareOf, Side};
use holdtrue_terms::taper::{Family, Interface};
use holdtrue_terms::vocabulary::{Class, Provenance};
use serde::{Deserialize, Serialize};

/// A class picked by the technician where nobody has the maker's figure. Stored as an assumption.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Assumption {
    /// The spindle's interface.
    pub interface: Interface,
    /// The class.
    #[serde(default)]
    pub class: Class,
}

/// Usual grip forces of an interface and class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct UsualRange {
    /// Low end, N.
    pub low_n: f64,
    /// High end, N; the same as the low end where one figure is known.
    pub high_n: f64,
    /// Where it comes from.
    pub provenance: Provenance,
    /// The document or habit, in words.
    pub source: String,
}

impl UsualRange {
    /// The usual range, or `None` for an interface or class not listed: then there is no nominal, and no guess.
    pub fn of(assumption: Assumption) -> Option<Self> {
        match assumption.interface.family {
            Family::SteepTaper => steep(assumption.interface.size, assumption.class),
            Family::HollowTaper(_) => hollow(assumption.interface, assumption.class),
        }
    }
}

impl UsualRange {
    /// The lowest and the highest usual force of an interface, whatever the class, N; `None` where none is known.
    pub fn over_classes(interface: Interface) -> Option<(f64, f64)> {
        Class::ALL
            .iter()
            .filter_map(|&class| Self::of(Assumption { interface, class }))
            .map(|range| (range.low_n, range.high_n))
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }
}

/// Steep tapers, kN: number, class, low end, high end. Common practice. The heavy classes are known by their upper end
/// only; they begin where the standard one ends.
const STEEP_KN: [(u32, Class, f64, f64); 8] = [
    (30, Class::Light, 2.5, 4.0),
    (30, Class::Standard, 4.0, 6.0),
    (40, Class::Light, 4.5, 7.0),
    (40, Class::Standard, 8.0, 12.0),
    (40, Class::Heavy, 12.0, 15.0),
    (50, Class::Light, 12.0, 16.0),
    (50, Class::Standard, 18.0, 25.0),
    (50, Class::Heavy, 25.0, 35.0),
];

/// Hollow tapers of forms A, C and E, kN: size, force. DIN 69063 / ISO 12164 family, from memory.
const HOLLOW_KN: [(u32, f64); 7] = [
    (32, 5.0),
    (40, 6.8),
    (50, 11.0),
    (63, 18.0),
    (80, 28.0),
    (100, 45.0),
    (125, 70.0),
];

fn steep(number: u32, class: Class) -> Option<UsualRange> {
    let row = STEEP_KN
        .iter()
        .find(|row| (row.0, row.1) == (number, class))?;
    Some(UsualRange {
        low_n: row.2 * 1e3,
        high_n: row.3 * 1e3,
        provenance: Provenance::CommonPractice,
        source: "usual range, common practice".to_owned(),
    })
}

fn hollow(interface: Interface, class: Class) -> Option<UsualRange> {
    let size = interface.taper_size();
    let (_, force_kn) = HOLLOW_KN
        .iter()
        .find(|row| row.0 == size && class == Class::Standard)?;
    Some(UsualRange {
        low_n: force_kn * 1e3,
        high_n: force_kn * 1e3,
        provenance: Provenance::FromMemory,
        source: "DIN 69063 / ISO 12164 family".to_owned(),
    })
}

/// About 1000 lbf on an old, lightly sprung no. 40 spindle is commonly taken as good: a remark, never a limit.
pub(super) fn is_old_light_forty(assumption: Assumption, mean_n: f64) -> bool {
    let Assumption { interface, class } = assumption;
    interface.family == Family::SteepTaper
        && interface.size == 40
        && class == Class::Light
        && (4_000.0..5_000.0).contains(&mean_n)
}

/// Shares of the nominal force at which a spindle must be acted on and watched, %.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shares {
    /// Below this the limit is missed.
    pub act_percent: f64,
    /// Below this it is to be watched.
    pub watch_percent: f64,
}

impl Shares {
    /// 70 and 85 %; hollow tapers, whose gripper hides weak springs, 80 and 90 %. Common practice.
    pub fn usual(hollow: bool) -> Self {
        if hollow {
            Self {
                act_percent: 80.0,
                watch_percent: 90.0,
            }
        } else {
            Self {
                act_percent: 70.0,
                watch_percent: 85.0,
            }
        }
    }
}

/// What the maker of the machine or spindle states.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MakersFigure {
    /// Nominal grip force, N.
    #[serde(default)]
    pub nominal_n: Option<f64>,
    /// Least grip force, N.
    #[serde(default)]
    pub minimum_n: Option<f64>,
}

impl MakersFigure {
    /// The limits that follow: the maker's minimum for the mean and for the lowest clamp; without a minimum, the act
    /// share of the nominal for both. Watched below the watch share of the nominal. Empty without any figure.
    pub fn limits(&self, shares: Shares) -> Vec<Limit> {
        let of_nominal = |percent: f64| self.nominal_n.map(|nominal| nominal * percent / 100.0);
        let (limit, provenance) = match (self.minimum_n, of_nominal(shares.act_percent)) {
            (Some(minimum), _) => (minimum, Provenance::Maker),
            (None, Some(act)) => (act, Provenance::CommonPractice),
            (None, None) => return Vec::new(),
        };
        let watch = of_nominal(shares.watch_percent).filter(|watch| *watch > limit);
        let share = self
            .nominal_n
            .filter(|_| self.minimum_n.is_none())
            .map(|nominal| ShareOf {
                percent: shares.act_percent,
                nominal,
                provenance: Provenance::Maker,
            });
        [(Figure::GripMean, watch), (Figure::GripLowest, None)]
            .map(|(figure, watch)| Limit {
                share,
                ..lower(figure, limit, provenance, watch)
            })
            .into()
    }
}

/// A lower limit on a force, N.
pub fn lower(figure: Figure, limit_n: f64, provenance: Provenance, watch: Option<f64>) -> Limit {
    Limit {
        side: Side::Lower,
        watch,
        ..Limit::on(figure, limit_n, provenance)
    }
}

/// `percent` of a nominal force as lower limit on the mean.
pub fn share_of_nominal(nominal_n: f64, percent: f64, provenance: Provenance) -> Limit {
    let share = ShareOf {
        percent,
        nominal: nominal_n,
        provenance,
    };
    Limit {
        share: Some(share),
        ..lower(
            Figure::GripMean,
            nominal_n * percent / 100.0,
            provenance,
            None,
        )
    }
}

/// The gauge must carry this many times the highest force expected: a spring drawbar cannot be stopped part-way.
/// Common practice, no source.
pub const CAPACITY_FACTOR: f64 = 1.5;

/// Whether a gauge of that rated load, N, may be clamped where at most that force, N, is expected.
pub fn capacity_suffices(highest_expected_n: f64, rated_load_n: f64) -> bool {
    CAPACITY_FACTOR * highest_expected_n <= rated_load_n
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(interface: &str, class: Class) -> Option<(f64, f64)> {
        let interface = interface.parse().unwrap();
        UsualRange::of(Assumption { interface, class }).map(|range| (range.low_n, range.high_n))
    }

    #[test]
    fn forms_with_a_smaller_taper_have_its_force() {
        // Form F size 63 carries the taper of size 50 (from memory).
        assert_eq!(
            range("HSK-F63", Class::Standard),
            range("HSK-A50", Class::Standard)
        );
        assert_ne!(
            range("HSK-E63", Class::Standard),
            range("HSK-A50", Class::Standard)
        );
    }

    #[test]
    fn what_is_not_listed_is_not_guessed() {
        assert_eq!(range("7/24-45", Class::Standard), None);
        assert_eq!(range("7/24-30", Class::Heavy), None);
        assert_eq!(range("HSK-A25", Class::Standard), None);
        assert_eq!(range("HSK-B32", Class::Standard), None);
        assert_eq!(range("HSK-A63", Class::Light), None);
    }

    #[test]
    fn the_makers_minimum_wins_over_a_share_of_the_nominal() {
        let shares = Shares::usual(false);
        let both = MakersFigure {
            nominal_n: Some(10_000.0),
            minimum_n: Some(7_500.0),
        }
        .limits(shares);
        assert_eq!(
            (both[0].limit, both[0].provenance),
            (7_500.0, Provenance::Maker)
        );
        assert_eq!(both[0].watch, Some(8_500.0));
        let nominal = MakersFigure {
            nominal_n: Some(10_000.0),
            minimum_n: None,
        }
        .limits(shares);
        assert_eq!(
            (nominal[0].limit, nominal[0].provenance),
            (7_000.0, Provenance::CommonPractice)
        );
        assert_eq!(nominal[1].figure, Figure::GripLowest);
        assert!(MakersFigure::default().limits(shares).is_empty());
    }

    #[test]
    fn an_interface_is_text_in_a_file() {
        let assumption: Assumption = serde_json::from_str(r#"{"interface":"HSK-A63"}"#).unwrap();
        assert_eq!(
            serde_json::to_string(&assumption).unwrap(),
            r#"{"interface":"HSK-A63","class":"standard"}"#
        );
        assert!(serde_json::from_str::<Assumption>(r#"{"interface":"MT4"}"#).is_err());
    }
}
