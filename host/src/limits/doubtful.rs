//! Figures in a limits file that cannot be. In: a file as understood, and its numbers as they are written. Out: the first
//! that is asked about.

use crate::limits::LimitsFile;
use crate::limits::contradiction::{Places, Written};
use crate::terminal::doubts::{Doubted, Unit};
use crate::terminal::toml_file;
use holdtrue_metrology::decision::Side;
use holdtrue_metrology::doubt;
use holdtrue_metrology::doubt::{Doubt, Spindle};
use holdtrue_metrology::limits::SourcedLimit;
use holdtrue_terms::figure::{ForceOf, Measure};
use holdtrue_terms::units::LengthUnit;

/// The first figure that cannot be.
pub(crate) fn first(file: &LimitsFile, places: &Places, name: &str, text: &str) -> Option<Doubted> {
    let spindle = Spindle {
        interface: file.interface,
        nominal_n: file.nominal.as_ref().map(|nominal| nominal.force_n),
    };
    let doubted = |doubt: Doubt, written: &Written, spindle: Spindle| Doubted {
        doubt,
        number: written.number,
        unit: unit(&written.unit),
        place: toml_file::place(name, text, written.at),
        typed: false,
        spindle,
    };
    let without_nominal = Spindle {
        nominal_n: None,
        ..spindle
    };
    let nominal = places
        .force
        .as_ref()
        .and_then(|written| Some(doubted(spindle.nominal()?, written, without_nominal)));
    let share = || {
        let (force_n, act) = (spindle.nominal_n?, places.act.as_ref()?);
        let doubt = spindle.least(act.number / 100.0 * force_n)?;
        Some(doubted(doubt, act, spindle))
    };
    let limits = || {
        let mut all = file.limits.iter().zip(&places.limits);
        all.find_map(|(limit, written)| Some(doubted(of(limit, &spindle)?, written, spindle)))
    };
    nominal.or_else(share).or_else(limits)
}

fn of(sourced: &SourcedLimit, spindle: &Spindle) -> Option<Doubt> {
    let limit = &sourced.limit;
    match (limit.figure.facts().measure, limit.side) {
        (Measure::Force(ForceOf::Hold), Side::Lower) => spindle.least(limit.limit),
        (Measure::Length, _) => doubt::runout(limit.limit),
        (Measure::Force(_) | Measure::Share | Measure::ForceRate | Measure::Travel, _) => None,
    }
}

fn unit(written: &str) -> Unit {
    match written {
        "um" => Unit::Length(LengthUnit::Um),
        "mm" => Unit::Length(LengthUnit::Mm),
        "in" => Unit::Length(LengthUnit::In),
        force => force.parse().map_or(Unit::Percent, Unit::Force),
    }
}
