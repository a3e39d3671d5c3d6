//! Numbers for a person: unit always, digits that mean something. In: SI figures and settings. Out: short texts.

use crate::settings::{ForceUnit, LengthUnit, Settings};
use holdtrue_metrology::units::{MICROMETRES_PER_INCH, NEWTONS_PER_POUND_FORCE};

impl Settings {
    /// A force.
    pub fn force(&self, newton: f64) -> String {
        let (value, unit) = self.force_parts(newton);
        let digits = match self.force {
            ForceUnit::Kilonewton if value.abs() < 1.0 => 3,
            ForceUnit::Kilonewton => 2,
            ForceUnit::PoundForce if value.abs() < 100.0 => 1,
            ForceUnit::Newton | ForceUnit::PoundForce => 0,
        };
        format!("{} {unit}", rounded(value, digits))
    }

    /// A rate of force, for what drops while held.
    pub fn force_rate(&self, newton_per_second: f64) -> String {
        let (value, unit) = self.force_parts(newton_per_second);
        let digits = if self.force == ForceUnit::Kilonewton {
            4
        } else {
            1
        };
        format!("{} {unit}/s", rounded(value, digits))
    }

    /// A runout.
    pub fn length(&self, micrometre: f64) -> String {
        match self.length {
            LengthUnit::Micrometre => format!("{} µm", rounded(micrometre, 1)),
            LengthUnit::TenthOfAThou => {
                format!("{} in", rounded(micrometre / MICROMETRES_PER_INCH, 5))
            }
        }
    }

    /// A figure that carries its unit with it: N, N/s, um or %.
    pub fn in_unit(&self, value: f64, unit: &str) -> String {
        match unit {
            "N" => self.force(value),
            "N/s" => self.force_rate(value),
            "um" => self.length(value),
            "%" => percent(value),
            other => format!("{value} {other}"),
        }
    }

    fn force_parts(&self, newton: f64) -> (f64, &'static str) {
        match self.force {
            ForceUnit::Kilonewton => (newton / 1000.0, "kN"),
            ForceUnit::Newton => (newton, "N"),
            ForceUnit::PoundForce => (newton / NEWTONS_PER_POUND_FORCE, "lbf"),
        }
    }
}

/// A number with so many decimals; what rounds to nothing has no sign.
fn rounded(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|byte| matches!(byte, b'0' | b'.')) => rest.to_owned(),
        _ => text,
    }
}

/// Seconds.
pub fn seconds(seconds: f64) -> String {
    format!("{seconds:.1} s")
}

/// Percent.
pub fn percent(percent: f64) -> String {
    format!("{percent:.1} %")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_rounds_to_nothing_has_no_sign_and_the_rest_keeps_its_own() {
        let settings = Settings::default();
        assert_eq!(settings.force_rate(-0.0), "0.0000 kN/s");
        assert_eq!(settings.force(-0.2), "0.000 kN");
        assert_eq!(settings.force(-4000.0), "-4.00 kN");
        assert_eq!(settings.length(-0.04), "0.0 µm");
    }
}
