//! Exact conversions between shop units and the units calculated in (N, µm).

/// Newtons in a pound-force: 0.45359237 kg × 9.80665 m/s², exact by definition.
///
/// Source: pound of the 1959 international agreement, standard gravity of the 3rd CGPM (1901).
pub const NEWTONS_PER_POUND_FORCE: f64 = 4.448_221_615_260_5;

/// Micrometres in an inch, exact (international inch of 1959).
pub const MICROMETRES_PER_INCH: f64 = 25_400.0;

/// Micrometres in 0.0001 in, the shop's "tenth".
pub const MICROMETRES_PER_TENTH: f64 = 2.54;

/// A unit of force that records come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ForceUnit {
    /// Newton.
    N,
    /// Kilonewton.
    Kn,
    /// Pound-force.
    Lbf,
}

impl ForceUnit {
    /// The value in newtons of `value` in this unit.
    pub fn to_newtons(self, value: f64) -> f64 {
        match self {
            Self::N => value,
            Self::Kn => value * 1_000.0,
            Self::Lbf => value * NEWTONS_PER_POUND_FORCE,
        }
    }

    /// The value in this unit of `newtons`.
    pub fn from_newtons(self, newtons: f64) -> f64 {
        match self {
            Self::N => newtons,
            Self::Kn => newtons / 1_000.0,
            Self::Lbf => newtons / NEWTONS_PER_POUND_FORCE,
        }
    }

    /// As written after a number.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::N => "N",
            Self::Kn => "kN",
            Self::Lbf => "lbf",
        }
    }
}

/// A unit of length that indicator readings come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LengthUnit {
    /// Micrometre.
    Um,
    /// Millimetre.
    Mm,
    /// Inch.
    In,
}

impl LengthUnit {
    /// The value in micrometres of `value` in this unit.
    pub fn to_micrometres(self, value: f64) -> f64 {
        match self {
            Self::Um => value,
            Self::Mm => value * 1_000.0,
            Self::In => value * MICROMETRES_PER_INCH,
        }
    }

    /// The value in this unit of `micrometres`.
    pub fn from_micrometres(self, micrometres: f64) -> f64 {
        match self {
            Self::Um => micrometres,
            Self::Mm => micrometres / 1_000.0,
            Self::In => micrometres / MICROMETRES_PER_INCH,
        }
    }

    /// As written after a number.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Um => "µm",
            Self::Mm => "mm",
            Self::In => "in",
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
            for unit in [ForceUnit::N, ForceUnit::Kn, ForceUnit::Lbf] {
                prop_assert!((unit.from_newtons(unit.to_newtons(x)) - x).abs() <= 1e-15 * x.abs());
            }
            for unit in [LengthUnit::Um, LengthUnit::Mm, LengthUnit::In] {
                prop_assert!((unit.from_micrometres(unit.to_micrometres(x)) - x).abs() <= 1e-15 * x.abs());
            }
        }
    }
}
