//! A TIR noted without its readings. In: options. Out: the figure as the book keeps it.

use crate::runout::arguments::RunoutArgs;
use crate::tables::readings;
use crate::terminal::error::Error;
use crate::visits::checks::stored_check::PaperFigure;
use holdtrue_metrology::runout::Place;
use holdtrue_terms::quantity;
use holdtrue_terms::quantity::Quantity;
use holdtrue_terms::units::LengthUnit;

/// The TIR of the command line.
///
/// # Errors
/// What is no length of 0 or more: exit 2.
pub fn figures(args: &RunoutArgs) -> Result<Vec<PaperFigure>, Error> {
    let Some(tir) = written(args)? else {
        return Ok(Vec::new());
    };
    Ok(vec![figure(tir, args.place.place())])
}

/// The TIR of the command line in its unit.
///
/// # Errors
/// What is no length of 0 or more: exit 2.
pub fn written(args: &RunoutArgs) -> Result<Option<Quantity<LengthUnit>>, Error> {
    let Some(text) = &args.source.tir else {
        return Ok(None);
    };
    let read = quantity::read(text, args.unit.unwrap_or(LengthUnit::Um))
        .map_err(|e| Error::usage(format!("--tir: {e}")))?;
    match read.number >= 0.0 {
        true => Ok(Some(read)),
        false => Err(Error::usage(format!(
            "--tir: found \"{text}\", expected 0 or more: it is the largest reading less the smallest"
        ))),
    }
}

/// Step of its last digit, µm.
pub fn step_um(args: &RunoutArgs) -> Option<f64> {
    let unit = written(args).ok()??.unit;
    let (number, _) = quantity::split(args.source.tir.as_deref()?);
    readings::step(number, unit.micrometres())
}

/// A TIR as the book keeps it.
pub fn figure(tir: Quantity<LengthUnit>, place: Place) -> PaperFigure {
    PaperFigure {
        figure: "tir_um".to_owned(),
        value: tir.micrometres(),
        as_written: format!("{} {}", tir.number, tir.unit.word()),
        at: place.at,
        height_mm: place.height_mm,
        seating: place.seating,
        orientation_deg: place.orientation_deg,
    }
}
