//! Figures of a runout check that cannot be. In: what was asked for, or what a record gave. Out: the same with every doubt
//! answered by the person, or why nothing goes on.

use crate::limits::typed::Typed;
use crate::runout::arguments::{PlaceArgs, RunoutArgs};
use crate::runout::noted;
use crate::runout::readings_csv;
use crate::runout::stored;
use crate::tables::readings;
use crate::terminal::app::App;
use crate::terminal::console::Console;
use crate::terminal::doubts;
use crate::terminal::doubts::{Answer, Doubted, Unit};
use crate::terminal::error::{Error, Place};
use crate::terminal::settings::Settings;
use holdtrue_metrology::doubt;
use holdtrue_metrology::doubt::{Doubt, Spindle};
use holdtrue_metrology::runout;
use holdtrue_metrology::runout::{Readings, RunoutRecord, RunoutResult};
use holdtrue_terms::taper::Interface;
use holdtrue_terms::units::LengthUnit;
use holdtrue_terms::vocabulary::At;

/// Asks about every figure of the command line that cannot be.
///
/// # Errors
/// One that is not answered: exit 2.
pub fn settle(
    args: &RunoutArgs,
    settings: &Settings,
    console: &mut Console,
) -> Result<RunoutArgs, Error> {
    let mut args = args.clone();
    if let Some(text) = &args.source.readings {
        let (text, unit) = &readings::apart_from_unit("--readings", text, args.unit)?;
        args.unit = Some(unit.ok_or_else(stored::no_unit)?);
        args.source.readings = Some(readings::settle_commas("--readings", text, console)?);
    }
    let figures = limits(&args).into_iter().chain(height(&args));
    for doubted in figures.collect::<Vec<_>>() {
        put(&doubted, &mut args, settings, console)?;
    }
    if let Some(tir) = noted::written(&args)?
        && let Some(doubt) = doubt::runout(tir.micrometres())
    {
        let doubted = typed(doubt, tir.number, Unit::Length(tir.unit), "--tir");
        put(&doubted, &mut args, settings, console)?;
    }
    if let (Some(text), Some(unit)) = (args.source.readings.clone(), args.unit) {
        let readings_um = readings::read("--readings", &text, unit.micrometres())?;
        if args.way.stops.is_none()
            && let Some(doubt) = doubt::positions(readings_um.len())
        {
            let readings = u32::try_from(readings_um.len()).map_or(f64::NAN, f64::from);
            put(
                &typed(doubt, readings, Unit::Readings, "--readings"),
                &mut args,
                settings,
                console,
            )?;
        }
        let step_um = readings::step(&text, unit.micrometres());
        if let Some((number, doubt)) = doubt::dial(&readings_um, step_um) {
            let doubted = dial(doubt, unit, number);
            put(&doubted, &mut args, settings, console)?;
        }
    }
    Ok(args)
}

fn put(
    doubted: &Doubted,
    args: &mut RunoutArgs,
    settings: &Settings,
    console: &mut Console,
) -> Result<(), Error> {
    match doubts::put(doubted, args.as_read, false, settings, console)? {
        Answer::Positions(count) => args.way.stops = Some(count),
        Answer::AsRead | Answer::In(_) => args.as_read = true,
    }
    Ok(())
}

fn typed(doubt: Doubt, number: f64, unit: Unit, option: &str) -> Doubted {
    Doubted {
        doubt,
        number,
        unit,
        place: Place::file(option),
        typed: true,
        spindle: Spindle::default(),
    }
}

fn limits(args: &RunoutArgs) -> Vec<Doubted> {
    let limits = args.limits.typed.iter();
    limits
        .filter_map(|(figure, limit)| {
            let Typed::Length(_, length) = limit else {
                return None;
            };
            let doubt = doubt::runout(length.micrometres())?;
            let unit = Unit::Length(length.unit);
            let option = figure.facts().option?.name;
            Some(typed(doubt, length.number, unit, &format!("--{option}")))
        })
        .collect()
}

fn height(args: &RunoutArgs) -> Option<Doubted> {
    let height_mm = args.place.height_mm?;
    // Where nobody names the surface a height is one on the bar; of a file that is the rule, typed it may be a word left out.
    let typed_too = args.source.readings.as_ref().map(|_| At::Bar);
    let doubt = doubt::height(args.place.at.or(typed_too), height_mm, None)?;
    Some(typed(doubt, height_mm, Unit::Millimetre, "--height-mm"))
}

/// Asks about a depth that the taper does not have, once it is known.
///
/// # Errors
/// It is not answered: exit 2.
pub fn settle_depth(
    args: &mut RunoutArgs,
    taper: Option<Interface>,
    settings: &Settings,
    console: &mut Console,
) -> Result<(), Error> {
    let PlaceArgs { at, height_mm, .. } = args.place;
    if let Some(height_mm) = height_mm
        && let Some(doubt @ Doubt::TooDeep { .. }) = doubt::height(at, height_mm, taper)
    {
        let doubted = typed(doubt, height_mm, Unit::Millimetre, "--height-mm");
        put(&doubted, args, settings, console)?;
    }
    Ok(())
}

/// The number that is shown: the reading itself, or what the readings spread over.
fn dial(doubt: Doubt, unit: LengthUnit, number: usize) -> Doubted {
    let um = match doubt {
        Doubt::DialApart { reading_um, .. } => reading_um,
        Doubt::RunoutAbove { um } | Doubt::RunoutBelow { um, .. } => um,
        _ => 0.0,
    };
    let mut doubted = typed(
        doubt,
        rounded(unit.from_micrometres(um)),
        Unit::Length(unit),
        "--readings",
    );
    doubted.place = doubted.place.column(number.to_string());
    doubted
}

fn rounded(number: f64) -> f64 {
    format!("{number:.6e}").parse().unwrap_or(number)
}

/// Asks about every height and every runout of a file that cannot be, and about planes that agree to the last digit.
///
/// # Errors
/// One that is not answered: exit 4.
pub fn settle_file(
    name: &str,
    bytes: &[u8],
    args: &mut RunoutArgs,
    record: &RunoutRecord,
    result: &RunoutResult,
    taper: Option<Interface>,
    app: &mut App,
) -> Result<(), Error> {
    let App {
        settings, console, ..
    } = app;
    let unit = readings_csv::unit(name, bytes).unwrap_or(LengthUnit::Um);
    // A height without a surface was taken for the bar's: behind the face it says nothing against itself.
    let named = args.place.at.is_some() || readings_csv::names_surface(name, bytes);
    for plane in &result.planes {
        let height = plane.place.height_mm.and_then(|mm| {
            Some((
                doubt::height(plane.place.at.filter(|_| named), mm, taper)?,
                mm,
                Unit::Millimetre,
                "height",
            ))
        });
        let runout = plane.tir_um.and_then(|um| {
            let number = rounded(unit.from_micrometres(um));
            Some((
                doubt::recorded_runout(um, plane.method)?,
                number,
                Unit::Length(unit),
                "reading",
            ))
        });
        for (doubt, number, unit, column) in [height, runout].into_iter().flatten() {
            let place = readings_csv::place_of_plane(name, bytes, plane, column)
                .unwrap_or_else(|| Place::file(name));
            let doubted = Doubted {
                typed: place.line.is_none(),
                place,
                ..typed(doubt, number, unit, name)
            };
            put(&doubted, args, settings, console)?;
        }
    }
    for (plane, shown) in record.planes.iter().zip(&result.planes) {
        let Readings::Stepped(stops) = &plane.readings else {
            continue;
        };
        let readings_um: Vec<f64> = stops.iter().map(|stop| stop.reading_um).collect();
        if let Some(doubt) = doubt::even_steps(&readings_um) {
            let doubted = Doubted {
                typed: false,
                place: readings_csv::place_of_plane(name, bytes, shown, "reading")
                    .unwrap_or_else(|| Place::file(name)),
                ..typed(doubt, readings_um[0], Unit::Length(LengthUnit::Um), name)
            };
            put(&doubted, args, settings, console)?;
        }
    }
    let copy = runout::copied(record)
        .into_iter()
        .find(|copied| !copied.is_one_seat());
    let planes = record.planes.iter().zip(&result.planes);
    if let Some((_, plane)) = copy.and_then(|copied| {
        let mut planes = planes;
        planes.find(|(plane, _)| plane.place == copied.other)
    }) {
        let doubted = Doubted {
            typed: false,
            place: readings_csv::place_of_plane(name, bytes, plane, "reading")
                .unwrap_or_else(|| Place::file(name)),
            ..typed(
                Doubt::PlanesAlike,
                plane.tir_um.unwrap_or(0.0),
                Unit::Length(LengthUnit::Um),
                name,
            )
        };
        put(&doubted, args, settings, console)?;
    }
    Ok(())
}
