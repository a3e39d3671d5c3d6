//! Numbers for the screen: the digits and units of the paper, in characters every terminal has.
//!
//! In: SI figures and settings. Out: short texts.

use crate::terminal::settings::Settings;
use holdtrue_screen::Figure;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_wording::CheckWords;
use holdtrue_wording::digits;
use holdtrue_wording::digits::Units;

impl Settings {
    /// The units chosen, as the paper takes them.
    pub fn units(&self) -> Units {
        Units {
            force: self.force,
            length: self.length,
            ..Units::default()
        }
    }

    /// A force.
    pub fn force(&self, newton: f64) -> String {
        plain(&self.units().force(newton))
    }

    /// What a gauge reads where it should read nothing, or two readings differ by.
    pub fn small_force(&self, newton: f64) -> String {
        plain(&self.units().small_force(newton))
    }

    /// An uncertainty or difference of a force, with the digits of the force itself.
    pub fn force_spread(&self, newton: f64, of_newton: f64) -> String {
        plain(&self.units().force_spread(newton, of_newton))
    }

    /// What the force does while held: drops or rises.
    pub fn drop_while_held(&self, newton_per_second: f64) -> String {
        plain(&self.units().drop_while_held(newton_per_second))
    }

    /// A runout.
    pub fn length(&self, micrometre: f64) -> String {
        plain(&self.units().length(micrometre))
    }

    /// A runout as short as a table needs it.
    pub fn length_short(&self, micrometre: f64) -> String {
        plain(&self.units().length_short(micrometre))
    }

    /// A figure that carries its unit with it: N, N/s, um or %.
    pub fn in_unit(&self, value: f64, unit: &str) -> String {
        plain(&self.units().in_unit(value, unit))
    }

    /// The sentences of a result, their figures in the units chosen.
    pub fn words<R: holdtrue_wording::Sentences>(&self, result: &R) -> CheckWords {
        result.words(&self.units()).map(plain)
    }

    /// The digits of a [figure](Self::force_figure).
    pub fn digits(&self, newton: f64) -> String {
        self.force_figure(newton).digits
    }

    /// A force as the screen shows it from afar: digits apart from their unit, with as many of them from one end of a check
    /// to the other.
    pub fn force_figure(&self, newton: f64) -> Figure {
        let units = self.units();
        let decimals = match self.force {
            ForceUnit::Kn => 2,
            _ => 0,
        };
        Figure {
            digits: digits::fixed(units.force_value(newton), decimals),
            unit: units.force_symbol().to_owned(),
        }
    }

    /// A runout as the screen shows it from afar, in the unit it is spoken in.
    pub fn length_figure(&self, micrometre: f64) -> Figure {
        let decimals = match self.length {
            LengthUnit::Um | LengthUnit::Tenth => 1,
            LengthUnit::Mm => 4,
            LengthUnit::In => 5,
        };
        Figure {
            digits: digits::fixed(self.length.from_micrometres(micrometre), decimals),
            unit: self.length.symbol().to_owned(),
        }
    }

    /// A guard, with the digits of the figure it guards.
    pub fn spread_in_unit(&self, spread: f64, of: f64, unit: &str) -> String {
        plain(&self.units().spread_in_unit(spread, of, unit))
    }
}

/// Seconds.
pub fn seconds(seconds: f64) -> String {
    plain(&digits::seconds(seconds))
}

/// Percent.
pub fn percent(percent: f64) -> String {
    plain(&digits::percent(percent))
}

/// Percent with so many digits.
pub fn percent_to(percent: f64, digits: usize) -> String {
    plain(&format!("{} %", digits::fixed(percent, digits)))
}

/// Paper has a space that does not break and a true minus; a terminal is searched and copied from.
fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ").replace('\u{2212}', "-")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_screen_has_plain_spaces_and_hyphens() {
        let settings = Settings::default();
        assert_eq!(settings.force(-4000.0), "-4.00 kN");
        assert_eq!(settings.length(12.04), "12.0 µm");
    }
}
