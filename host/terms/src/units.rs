//! Exact conversions between shop units and the units calculated in (N, µm).

/// Newtons in a pound-force: 0.45359237 kg × 9.80665 m/s², exact by definition.
///
/// Source: pound of the 1959 international agreement, standard gravity of the 3rd CGPM (1901).
pub const NEWTONS_PER_POUND_FORCE: f64 = 4.448_221_615_260_5;

/// Micrometres in an inch, exact (international inch of 1959).
pub const MICROMETRES_PER_INCH: f64 = 25_400.0;

/// Micrometres in 0.0001 in, the shop's "tenth".
pub const MICROMETRES_PER_TENTH: f64 = 2.54;

/// Newtons in a kilogram-force: 1 kg × standard gravity, 9.80665 m/s², exact by definition (3rd CGPM, 1901).
pub const NEWTONS_PER_KILOGRAM_FORCE: f64 = 9.806_65;

crate::words! {
    /// A unit of force.
    ForceUnit is "unit of force" {
        /// Newton.
        N = "N",
        /// Kilonewton.
        Kn = "kN",
        /// Pound-force.
        Lbf = "lbf",
        /// Kilogram-force.
        Kgf = "kgf",
        /// Decanewton.
        DaN = "daN",
    }
}

/// What is written is no unit of force.
#[derive(Clone, Debug, thiserror::Error, PartialEq, Eq)]
pub enum NoForceUnit {
    /// It is one of pressure.
    #[error(
        "\"{0}\" is a pressure and no force: it takes the area of the cylinder as well, so read the force itself in N, kN, lbf, kgf or daN"
    )]
    Pressure(String),
    /// It is none known here.
    #[error("found \"{0}\", expected N, kN, lbf, kgf or daN")]
    Unknown(String),
}

impl ForceUnit {
    /// Newtons in one of it.
    pub const fn newtons(self) -> f64 {
        match self {
            Self::N => 1.0,
            Self::Kn => 1_000.0,
            Self::Lbf => NEWTONS_PER_POUND_FORCE,
            Self::Kgf => NEWTONS_PER_KILOGRAM_FORCE,
            Self::DaN => 10.0,
        }
    }

    /// The value in newtons of `value` in this unit.
    pub fn to_newtons(self, value: f64) -> f64 {
        value * self.newtons()
    }

    /// The value in this unit of `newtons`.
    pub fn from_newtons(self, newtons: f64) -> f64 {
        newtons / self.newtons()
    }

    /// As written after a number.
    pub const fn symbol(self) -> &'static str {
        self.word()
    }
}

/// In any case, as it is typed.
impl std::str::FromStr for ForceUnit {
    type Err = NoForceUnit;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        const PRESSURES: [&str; 12] = [
            "psi", "psig", "ksi", "bar", "mbar", "pa", "kpa", "mpa", "kgf/cm2", "kgf/cm²", "n/mm2",
            "n/mm²",
        ];
        let word = text.trim().to_lowercase();
        let unit = Self::ALL
            .iter()
            .find(|unit| unit.symbol().to_lowercase() == word);
        unit.copied().ok_or_else(|| {
            if PRESSURES.contains(&word.as_str()) {
                NoForceUnit::Pressure(text.to_owned())
            } else {
                NoForceUnit::Unknown(text.to_owned())
            }
        })
    }
}

crate::words! {
    /// A unit of length.
    LengthUnit is "unit of length" {
        /// Micrometre.
        Um = "um",
        /// Millimetre.
        Mm = "mm",
        /// Inch.
        In = "in",
        /// Ten-thousandth of an inch ("a tenth").
        Tenth = "0.0001in",
    }
}

impl LengthUnit {
    /// Micrometres in one of it.
    pub const fn micrometres(self) -> f64 {
        match self {
            Self::Um => 1.0,
            Self::Mm => 1_000.0,
            Self::In => MICROMETRES_PER_INCH,
            Self::Tenth => MICROMETRES_PER_TENTH,
        }
    }

    /// The value in micrometres of `value` in this unit.
    pub fn to_micrometres(self, value: f64) -> f64 {
        value * self.micrometres()
    }

    /// The value in this unit of `micrometres`.
    pub fn from_micrometres(self, micrometres: f64) -> f64 {
        micrometres / self.micrometres()
    }

    /// As written after a number.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Um => "µm",
            Self::Mm => "mm",
            Self::In => "in",
            Self::Tenth => "tenths",
        }
    }
}

/// What is written is no unit of length.
#[derive(Clone, Debug, thiserror::Error, PartialEq, Eq)]
#[error("found \"{0}\", expected um, mm, in or tenths (0.0001 in)")]
pub struct NoLengthUnit(String);

/// In any case, as it is typed.
impl std::str::FromStr for LengthUnit {
    type Err = NoLengthUnit;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        match text.trim().to_lowercase().as_str() {
            // The micro sign, and the Greek letter it looks like.
            "um" | "\u{b5}m" | "\u{3bc}m" | "micron" | "microns" => Ok(Self::Um),
            "mm" => Ok(Self::Mm),
            "in" | "inch" | "inches" | "\"" => Ok(Self::In),
            "tenth" | "tenths" | "0.0001in" => Ok(Self::Tenth),
            _ => Err(NoLengthUnit(text.to_owned())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn there_and_back_changes_at_most_the_last_digit(x in -1e6..1e6_f64) {
            for &unit in ForceUnit::ALL {
                prop_assert!((unit.from_newtons(unit.to_newtons(x)) - x).abs() <= 1e-15 * x.abs());
            }
            for &unit in LengthUnit::ALL {
                prop_assert!((unit.from_micrometres(unit.to_micrometres(x)) - x).abs() <= 1e-15 * x.abs());
            }
        }
    }

    #[test]
    fn a_unit_is_read_in_any_case_and_a_pressure_is_refused_as_one() {
        for &unit in ForceUnit::ALL {
            for written in [unit.symbol().to_owned(), unit.symbol().to_uppercase()] {
                assert_eq!(written.parse(), Ok(unit));
            }
        }
        // 1 kgf = 9.80665 N (standard gravity), 1 daN = 10 N, both exact.
        for (unit, value, newtons) in [
            (ForceUnit::Kgf, 1_000.0, 9_806.65),
            (ForceUnit::DaN, 980.0, 9_800.0),
        ] {
            assert!((unit.to_newtons(value) - newtons).abs() < 1e-9);
        }
        assert!(matches!(
            "PSI".parse::<ForceUnit>(),
            Err(NoForceUnit::Pressure(_))
        ));
        assert!(matches!(
            "stone".parse::<ForceUnit>(),
            Err(NoForceUnit::Unknown(_))
        ));
    }
}
