//! The figures a limit can be set on. In: a figure. Out: all that is known of it, from one table.
//!
//! A new figure is a word of [`Figure`] and a row of [`Figure::facts`]. The compiler then names each place that has to
//! judge it or speak of it; limits files, options, tables of the documentation and schemas follow by themselves.

use crate::units::{ForceUnit, MICROMETRES_PER_INCH};

crate::vocabulary! {
    /// Which side of a limit is good.
    Side is "side of a limit" {
        /// The figure must not lie below the limit.
        Lower = "lower",
        /// The figure must not lie above the limit.
        Upper = "upper",
    }
}

crate::vocabulary! {
    /// The figure a limit is for. One vocabulary for limits files, verdicts and documents.
    Figure is "figure" {
        /// Mean settled force over the counted clamps.
        GripMean = "grip-mean",
        /// Lowest settled force of a counted clamp.
        GripLowest = "grip-lowest",
        /// Coefficient of variation over the counted clamps.
        GripScatter = "grip-scatter",
        /// Rate at which the force drops while held.
        GripSag = "grip-sag",
        /// Mean push-out (knock-out distance) over the counted clamps.
        PushOut = "push-out",
        /// TIR of a single plane.
        Tir = "tir",
        /// Mean TIR over four seatings 90° apart.
        FourSeatings = "four-seatings",
        /// Twice the eccentricity of the spindle part.
        SpindlePart = "spindle-part",
        /// Seat repeatability.
        Seat = "seat",
    }
}

/// The check a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GivenBy {
    /// A grip check.
    Grip,
    /// A runout check. Its figures may have a height.
    Runout,
}

/// What kind of quantity a figure is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// A force, N.
    Force(ForceOf),
    /// A share, %.
    Share,
    /// What a force loses in a second, N/s.
    ForceRate,
    /// A length, µm.
    Length,
    /// How far something moves, mm.
    Travel,
}

/// What a force is of. Only a limit on the holding force says how hard the drawbar has to hold: it takes the place of the
/// usual range, and it is held against the nominal force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ForceOf {
    /// What the drawbar holds with: it grows by as much as every clamp does.
    Hold,
    /// A difference between clamps: a weak spindle can have a small one.
    Difference,
}

impl Measure {
    /// The unit it is judged and stored in.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Force(_) => "N",
            Self::Share => "%",
            Self::ForceRate => "N/s",
            Self::Length => "um",
            Self::Travel => "mm",
        }
    }

    /// The units it may be written in, each with its factor to the one it is judged in.
    pub fn units(self) -> Vec<(String, f64)> {
        let forces = |behind: &str| {
            let unit = |unit: &ForceUnit| (format!("{}{behind}", unit.symbol()), unit.newtons());
            ForceUnit::ALL.iter().map(unit).collect()
        };
        match self {
            Self::Force(_) => forces(""),
            Self::Share => vec![("%".to_owned(), 1.0)],
            Self::ForceRate => forces("/s"),
            Self::Travel => [
                ("mm", 1.0),
                ("um", 1e-3),
                ("in", 1e-3 * MICROMETRES_PER_INCH),
            ]
            .map(|(unit, factor)| (unit.to_owned(), factor))
            .into(),
            Self::Length => [("um", 1.0), ("mm", 1000.0), ("in", MICROMETRES_PER_INCH)]
                .map(|(unit, factor)| (unit.to_owned(), factor))
                .into(),
        }
    }
}

/// What has to be read for a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Needs {
    /// No more than its check: a clamp, a plane.
    OneReading,
    /// Four seatings 90° apart.
    FourSeatings,
    /// The bar in two orientations.
    TwoOrientations,
    /// Two seatings in one orientation.
    TwoSeatings,
}

/// The option a limit is typed with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LimitOption {
    /// Without its dashes.
    pub name: &'static str,
    /// What stands for the value in the help.
    pub value: &'static str,
    /// A line for the help.
    pub help: &'static str,
}

/// All that is known of a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Facts {
    /// The check it comes from.
    pub given_by: GivenBy,
    /// What it is.
    pub measure: Measure,
    /// The side of a limit on which it is good, unless somebody says otherwise.
    pub good: Side,
    /// Its name.
    pub words: &'static str,
    /// As it stands in a sentence.
    pub named: &'static str,
    /// How a limit on it is typed; none: in a limits file only.
    pub option: Option<LimitOption>,
    /// What has to be read for it.
    pub needs: Needs,
    /// It is never above this one, so no lower limit on it is.
    pub never_above: Option<Figure>,
}

impl Figure {
    /// The table.
    pub const fn facts(self) -> Facts {
        match self {
            Self::GripMean => Facts {
                given_by: GivenBy::Grip,
                measure: Measure::Force(ForceOf::Hold),
                good: Side::Lower,
                words: "mean grip force",
                named: "the mean",
                option: Some(LimitOption {
                    name: "limit-n",
                    value: "N",
                    help: "Lower limit on the mean, N",
                }),
                needs: Needs::OneReading,
                never_above: None,
            },
            Self::GripLowest => Facts {
                given_by: GivenBy::Grip,
                measure: Measure::Force(ForceOf::Hold),
                good: Side::Lower,
                words: "lowest clamp",
                named: "the lowest clamp",
                option: Some(LimitOption {
                    name: "limit-lowest-n",
                    value: "N",
                    help: "Lower limit on the lowest clamp, N",
                }),
                needs: Needs::OneReading,
                never_above: Some(Self::GripMean),
            },
            Self::GripScatter => Facts {
                given_by: GivenBy::Grip,
                measure: Measure::Share,
                good: Side::Upper,
                words: "scatter of the clamps",
                named: "the scatter",
                option: Some(LimitOption {
                    name: "limit-cv-percent",
                    value: "PERCENT",
                    help: "Upper limit on the scatter (coefficient of variation), percent",
                }),
                needs: Needs::OneReading,
                never_above: None,
            },
            Self::GripSag => Facts {
                given_by: GivenBy::Grip,
                measure: Measure::ForceRate,
                good: Side::Upper,
                words: "drop while held",
                named: "the drop while held",
                option: Some(LimitOption {
                    name: "limit-sag-n-per-s",
                    value: "N/S",
                    help: "Upper limit on what the force drops while held, N/s",
                }),
                needs: Needs::OneReading,
                never_above: None,
            },
            Self::PushOut => Facts {
                given_by: GivenBy::Grip,
                measure: Measure::Travel,
                good: Side::Lower,
                words: "push-out (knock-out) distance",
                named: "the push-out",
                option: None,
                needs: Needs::OneReading,
                never_above: None,
            },
            Self::Tir => Facts {
                given_by: GivenBy::Runout,
                measure: Measure::Length,
                good: Side::Upper,
                words: "TIR",
                named: "the TIR",
                option: Some(LimitOption {
                    name: "limit-um",
                    value: "[HEIGHT=]UM",
                    help: "Upper limit on the TIR, um; with HEIGHT= (mm) at that height only",
                }),
                needs: Needs::OneReading,
                never_above: None,
            },
            Self::FourSeatings => Facts {
                words: "mean TIR of four seatings",
                named: "the mean TIR of four seatings",
                option: None,
                needs: Needs::FourSeatings,
                ..Self::Tir.facts()
            },
            Self::SpindlePart => Facts {
                words: "runout of the spindle alone",
                named: "the runout of the spindle alone",
                option: None,
                needs: Needs::TwoOrientations,
                ..Self::Tir.facts()
            },
            Self::Seat => Facts {
                words: "reseating repeatability",
                named: "the reseating repeatability",
                option: None,
                needs: Needs::TwoSeatings,
                ..Self::Tir.facts()
            },
        }
    }

    /// Whether that check gives it.
    pub fn is_of(self, check: GivenBy) -> bool {
        self.facts().given_by == check
    }

    /// Whether it is what the drawbar holds with.
    pub fn is_holding_force(self) -> bool {
        self.facts().measure == Measure::Force(ForceOf::Hold)
    }

    /// Its name.
    pub const fn words(self) -> &'static str {
        self.facts().words
    }

    /// The unit it is judged and stored in.
    pub const fn unit(self) -> &'static str {
        self.facts().measure.unit()
    }
}
