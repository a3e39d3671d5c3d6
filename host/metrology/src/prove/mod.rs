//! Reference checks a sceptic can run: published and computed figures beside what this build computes,
//! by the same functions that judge spindles.

mod data;
mod figures;
mod force;
mod published;
mod runout;
mod tables;

use holdtrue_terms::vocabulary::Provenance;
use serde::{Deserialize, Serialize};

/// One figure, expected beside computed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// Short name of the check.
    pub name: String,
    /// What was computed.
    pub quantity: String,
    /// What the source says.
    pub expected: f64,
    /// What this build computes; absent if nothing came out.
    pub computed: Option<f64>,
    /// How many digits agree, at most the 15.9 of a double.
    pub digits: f64,
    /// Whether the source's value was read there, recalled or computed.
    pub provenance: Provenance,
    /// Where the value comes from.
    pub source: String,
    /// Whether the difference keeps to what the source's digits allow.
    pub ok: bool,
}

/// How far a computed value may be off.
#[derive(Clone, Copy, Debug)]
pub enum Allowed {
    /// Half a unit of the last printed digit, or what the source needs.
    Absolute(f64),
    /// Share of the value.
    Relative(f64),
}

/// A source with its provenance.
#[derive(Clone, Copy, Debug)]
pub struct Source(pub &'static str, pub Provenance);

/// Checks of one name and source.
pub struct Sheet {
    name: &'static str,
    source: Source,
    checks: Vec<Check>,
}

impl Sheet {
    /// A sheet still empty.
    pub fn new(name: &'static str, source: Source) -> Self {
        Self {
            name,
            source,
            checks: Vec::new(),
        }
    }

    /// Adds a figure, expected beside computed; one that could not be computed is not ok.
    #[must_use]
    pub fn compare(
        mut self,
        quantity: &str,
        expected: f64,
        computed: Option<f64>,
        allowed: Allowed,
    ) -> Self {
        let off = computed.map_or(f64::INFINITY, |c| (c - expected).abs());
        let bound = match allowed {
            Allowed::Absolute(bound) => bound,
            Allowed::Relative(share) => share * expected.abs(),
        };
        self.checks.push(Check {
            name: self.name.to_owned(),
            quantity: quantity.to_owned(),
            expected,
            computed: computed.filter(|c| c.is_finite()),
            digits: agreeing_digits(expected, off),
            provenance: self.source.1,
            source: self.source.0.to_owned(),
            ok: off <= bound,
        });
        self
    }

    /// What was compared.
    pub fn into_checks(self) -> Vec<Check> {
        self.checks
    }
}

/// Digits of `expected` that a difference of `off` leaves; of a value of zero, decimals.
fn agreeing_digits(expected: f64, off: f64) -> f64 {
    let scale = if expected.abs() > 0.0 {
        expected.abs()
    } else {
        1.0
    };
    (-(off / scale).log10()).clamp(0.0, 15.9)
}

/// Computes every check.
pub fn checks() -> Vec<Check> {
    let sheets = [
        figures::sheets(),
        published::sheets(),
        force::sheets(),
        runout::sheets(),
    ];
    sheets
        .into_iter()
        .flatten()
        .flat_map(|sheet| sheet.checks)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn this_build_keeps_to_every_source() {
        let all = checks();
        let out: Vec<&Check> = all.iter().filter(|c| !c.ok).collect();
        assert!(out.is_empty(), "{out:#?}");
        assert!(all.len() >= 40, "{}", all.len());
    }

    #[test]
    fn a_value_that_is_off_is_not_ok_and_tells_its_digits() {
        let source = Source("a book", Provenance::Published);
        let sheet = Sheet::new("x", source)
            .compare("off", 2.0, Some(2.002), Allowed::Relative(1e-4))
            .compare("missing", 2.0, None, Allowed::Relative(1.0))
            .compare("right", 2.0, Some(2.0), Allowed::Absolute(0.0));
        assert_eq!(
            sheet.checks.iter().map(|c| c.ok).collect::<Vec<bool>>(),
            [false, false, true]
        );
        assert!((sheet.checks[0].digits - 3.0).abs() < 1e-9);
        assert_eq!(sheet.checks[1].computed, None);
    }
}
