//! Figures of a grip check that cannot be. In: what was asked for, or what a record gave. Out: the same with every doubt
//! answered by the person, or why nothing goes on.

use crate::grip::arguments::{GripArgs, GripLimits};
use crate::grip::force_csv::Rows;
use crate::grip::setup;
use crate::grip::setup::GripConditions;
use crate::limits::typed::Typed;
use crate::tables::readings;
use crate::terminal::console::Console;
use crate::terminal::doubts;
use crate::terminal::doubts::{Answer, Doubted, Unit};
use crate::terminal::error::{Error, Place};
use crate::terminal::settings::Settings;
use holdtrue_book::SpindleHeader;
use holdtrue_metrology::decision::{Figure, Side};
use holdtrue_metrology::doubt;
use holdtrue_metrology::doubt::{Doubt, Spindle};
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::statistics;
use holdtrue_terms::quantity::Quantity;
use holdtrue_terms::units::ForceUnit;

/// Asks about every figure of the command line, and of the spindle's page, that cannot be.
///
/// # Errors
/// As [`setup::gather`]; one that is not answered: exit 2, or 4 where it stands in a file.
pub fn settle(
    args: &GripArgs,
    spindle: Option<&SpindleHeader>,
    settings: &Settings,
    console: &mut Console,
) -> Result<(GripArgs, GripConditions), Error> {
    let mut args = args.clone();
    if let Some(text) = &args.source.readings {
        let (text, unit) = &readings::apart_from_unit("--readings", text, args.unit)?;
        args.unit = Some(unit.ok_or_else(setup::no_unit)?);
        args.source.readings = Some(readings::settle_commas("--readings", text, console)?);
    }
    let conditions = setup::gather(&args, spindle)?;
    for doubted in held_to(&args.limits, &conditions) {
        if doubts::put(&doubted, args.as_read, false, settings, console)? == Answer::AsRead {
            args.as_read = true;
        }
    }
    settle_readings(&mut args, &conditions.setup, settings, console)?;
    let conditions = setup::gather(&args, spindle)?;
    Ok((args, conditions))
}

/// Typed readings: another unit may be meant, which is then asked about anew.
fn settle_readings(
    args: &mut GripArgs,
    setup: &GripSetup,
    settings: &Settings,
    console: &mut Console,
) -> Result<(), Error> {
    let (spindle, held_to_n) = (setup.spindle(), mean_held_to(setup));
    while let (Some(text), Some(unit)) = (&args.source.readings, args.unit) {
        let forces_n = readings::read("--readings", text, unit.newtons())?;
        let mut doubts = spindle.readings(&forces_n);
        if doubts.is_empty() && !forces_n.is_empty() {
            let doubt = doubt::other_unit(statistics::mean(&forces_n), unit, &held_to_n);
            doubts.extend(doubt.map(|doubt| (1, doubt)));
        }
        let mut other_unit = None;
        for (number, doubt) in doubts {
            let doubted = Doubted {
                doubt,
                number: as_written(unit.from_newtons(forces_n[number - 1])),
                unit: Unit::Force(unit),
                place: Place::file("--readings").column(number.to_string()),
                typed: true,
                spindle,
            };
            match doubts::put(&doubted, args.as_read, true, settings, console)? {
                Answer::In(unit) => other_unit = Some(unit),
                Answer::AsRead | Answer::Positions(_) => args.as_read = true,
            }
            if other_unit.is_some() {
                break;
            }
        }
        match other_unit {
            Some(unit) => args.unit = Some(unit),
            None => break,
        }
    }
    Ok(())
}

/// A number that went through a factor, without the last digit it may have lost there.
fn as_written(number: f64) -> f64 {
    format!("{number:.9e}").parse().unwrap_or(number)
}

fn in_newtons(number: f64) -> Quantity<ForceUnit> {
    Quantity {
        number,
        unit: ForceUnit::N,
    }
}

/// Nominal force and lower limits in force.
fn held_to(options: &GripLimits, conditions: &GripConditions) -> Vec<Doubted> {
    let spindle = conditions.setup.spindle();
    let source = |typed: Option<String>| match (typed, &options.limits) {
        (Some(option), _) => (Place::file(&option), true),
        (None, Some(file)) => (Place::file(file), false),
        (None, None) => (Place::file("the spindle's page in the book"), true),
    };
    let mut all = Vec::new();
    if let (Some(doubt), Some(nominal_n)) = (spindle.nominal(), spindle.nominal_n) {
        let (place, typed) = source(options.nominal_n.map(|_| "--nominal-n".to_owned()));
        let written = options.nominal_n.unwrap_or(in_newtons(nominal_n));
        all.push(Doubted {
            doubt,
            number: written.number,
            unit: Unit::Force(written.unit),
            place,
            typed,
            spindle: Spindle {
                nominal_n: None,
                ..spindle
            },
        });
    }
    // What the maker says, on the spindle's page or in a file, was held against the maker's own figures when it was entered.
    let lower = |figure: Figure| {
        let stated = conditions.limits.limits.iter();
        stated
            .filter(|sourced| sourced.source.is_none())
            .map(|sourced| &sourced.limit)
            .filter(move |limit| limit.figure == figure && limit.side == Side::Lower)
            .map(|limit| limit.limit)
    };
    for figure in Figure::ALL
        .iter()
        .copied()
        .filter(|figure| figure.is_holding_force())
    {
        let option = options.typed.iter().find_map(|(typed, limit)| match limit {
            Typed::Force(force) if typed == figure => Some((figure.facts().option?.name, force)),
            Typed::Force(_) | Typed::Number(_) | Typed::Length(..) => None,
        });
        let percent = options.limit_percent.filter(|_| figure == Figure::GripMean);
        let name = option.map(|(name, _)| name);
        let name = name.or(percent.map(|_| "limit-percent"));
        let (place, typed) = source(name.map(|name| format!("--{name}")));
        let of_another = |limit_n: f64| {
            let other = figure.facts().never_above?;
            doubt::lowest_beside_mean(limit_n, lower(other).reduce(f64::max)?)
        };
        for limit_n in lower(figure) {
            let doubt = spindle.least(limit_n).or_else(|| of_another(limit_n));
            let written = option.map_or(in_newtons(limit_n), |(_, limit)| limit);
            all.extend(doubt.map(|doubt| Doubted {
                doubt,
                number: percent.unwrap_or(written.number),
                unit: percent.map_or(Unit::Force(written.unit), |_| Unit::Percent),
                place: place.clone(),
                typed,
                spindle,
            }));
        }
    }
    all
}

/// What the mean of a check is held to, N: nominal force and lower limits.
pub fn mean_held_to(setup: &GripSetup) -> Vec<f64> {
    let limits = setup.limits.iter();
    let lower = limits
        .filter(|limit| limit.figure == Figure::GripMean && limit.side == Side::Lower)
        .map(|limit| limit.limit);
    setup.nominal_n.into_iter().chain(lower).collect()
}

/// The first clamp of a record from a file that pulls more than can be; or a mean that is, in another unit, what the spindle
/// is held to.
pub fn of_record(
    record: &ForceRecord,
    rows: &Rows,
    result: &GripResult,
    spindle: &Spindle,
    held_to_n: &[f64],
) -> Option<Doubted> {
    let too_much = result.clamps.iter().find_map(|clamp| {
        let force_n = clamp.settled_n.or(clamp.peak_n)?;
        Some((clamp, spindle.force(force_n)?))
    });
    let (clamp, doubt) = too_much.or_else(|| {
        let mean_n = result.statistics.as_ref()?.mean_n;
        let clamp = result.clamps.iter().find(|clamp| clamp.counted)?;
        let (_, unit) = rows.place_at(record, clamp.window_s?[0])?;
        Some((clamp, doubt::other_unit(mean_n, unit, held_to_n)?))
    })?;
    let from_s = clamp
        .window_s
        .map(|window| window[0])
        .or(clamp.clamped_s)
        .unwrap_or(f64::NEG_INFINITY);
    let (place, unit) = rows.place_at(record, from_s)?;
    let (Doubt::ForceAbove { force_n, .. }
    | Doubt::OtherUnit {
        mean_n: force_n, ..
    }) = doubt
    else {
        return None;
    };
    Some(Doubted {
        doubt,
        number: rounded(unit.from_newtons(force_n)),
        unit: Unit::Force(unit),
        place,
        typed: false,
        spindle: *spindle,
    })
}

/// A record without a clamp whose numbers would be forces in another unit.
pub fn of_no_clamp(record: &ForceRecord, rows: &Rows, spindle: &Spindle) -> Option<Doubted> {
    let (index, force_n) = record
        .force_n()
        .iter()
        .copied()
        .enumerate()
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    if force_n <= 0.0 || force_n >= doubt::LEAST_N {
        return None;
    }
    let (place, unit) = rows.place_at(record, record.time_s()[index])?;
    Some(Doubted {
        doubt: Doubt::NoClamp { highest_n: force_n },
        number: rounded(unit.from_newtons(force_n)),
        unit: Unit::Force(unit),
        place,
        typed: false,
        spindle: *spindle,
    })
}

/// A measured number to the digits that say which unit it is in.
fn rounded(number: f64) -> f64 {
    format!("{number:.3e}").parse().unwrap_or(number)
}
