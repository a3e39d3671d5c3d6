//! Figures of a paper that have no clamps behind them: a peak, a mean, a lowest force. In: options. Out: the figures with
//! every doubt answered, as the analysis and as the book take them.

use crate::grip::arguments::GripArgs;
use crate::grip::setup;
use crate::grip::stored::GripInputs;
use crate::limits::LimitsFile;
use crate::terminal::console::Console;
use crate::terminal::doubts;
use crate::terminal::doubts::{Answer, Doubted, Unit};
use crate::terminal::error::{Error, Place};
use crate::terminal::settings::Settings;
use crate::visits::checks::stored_check::PaperFigure;
use holdtrue_book::SpindleHeader;
use holdtrue_metrology::doubt::Spindle;
use holdtrue_metrology::grip::result::{GripResult, Stated, StatedFigure};
use holdtrue_terms::quantity;
use holdtrue_terms::units::ForceUnit;

/// The figures there are, by their names in the result document.
const NAMES: [(&str, StatedFigure); 3] = [
    ("peak_n", StatedFigure::PeakN),
    ("mean_n", StatedFigure::MeanN),
    ("lowest_n", StatedFigure::LowestN),
];

/// The figures of the command line.
///
/// # Errors
/// What is no force, or has no unit: exit 2; one that cannot be and is not answered: exit 2.
pub fn figures(
    args: &mut GripArgs,
    spindle: &Spindle,
    settings: &Settings,
    console: &mut Console,
) -> Result<Vec<PaperFigure>, Error> {
    let source = args.source.clone();
    let peaks = source.peak.iter().map(|text| ("--peak", "peak_n", text));
    let mean = source.mean.iter().map(|text| ("--mean", "mean_n", text));
    let lowest = source
        .lowest
        .iter()
        .map(|text| ("--lowest", "lowest_n", text));
    let mut figures = Vec::new();
    for (option, name, text) in peaks.chain(mean).chain(lowest) {
        let (number, unit) = force(option, text, args.unit)?;
        let figure = figure(name, number, unit);
        for (_, doubt) in spindle.readings(&[figure.value]) {
            let doubted = Doubted {
                doubt,
                number,
                unit: Unit::Force(unit),
                place: Place::file(option),
                typed: true,
                spindle: *spindle,
            };
            if doubts::put(&doubted, args.as_read, false, settings, console)? == Answer::AsRead {
                args.as_read = true;
            }
        }
        figures.push(figure);
    }
    Ok(figures)
}

/// A figure as the book keeps it.
pub fn figure(name: &str, number: f64, unit: ForceUnit) -> PaperFigure {
    PaperFigure {
        figure: name.to_owned(),
        value: unit.to_newtons(number),
        as_written: format!("{number} {}", unit.symbol()),
        at: None,
        height_mm: None,
        seating: None,
        orientation_deg: None,
    }
}

/// The same for the analysis; none of a name that a newer program wrote.
pub fn stated(figure: &PaperFigure) -> Option<Stated> {
    let known = NAMES.iter().find(|(name, _)| *name == figure.figure);
    known.map(|(_, name)| Stated {
        figure: *name,
        value_n: figure.value,
        as_written: figure.as_written.clone(),
    })
}

/// A check of a notebook, analysed.
#[derive(Debug)]
pub struct NotedGrip {
    /// What it was begun with.
    pub begun: GripInputs,
    /// What it is held to.
    pub limits: LimitsFile,
    /// What came out.
    pub result: GripResult,
}

/// Analyses a set of a notebook as one that was typed. The spindle's own figures judge only what is far too low by any
/// gauge: the uncertainty of that of those days is not known.
///
/// # Errors
/// What the spindle's page does not bear, or forces that are none.
pub fn analysed(
    text: Option<&str>,
    figures: &[PaperFigure],
    args: &GripArgs,
    spindle: &SpindleHeader,
) -> Result<NotedGrip, Error> {
    let mut conditions = setup::gather(args, Some(spindle))?;
    let mut begun = GripInputs {
        clamps: None,
        unit: args.unit,
        setup: conditions.setup,
        calibration_sha256: None,
        end_probe: None,
    };
    let forces = begun.typed(text, figures)?;
    let result = begun
        .analyse_typed(&forces, &mut conditions.limits)
        .map_err(|e| Error::usage(e.to_string()))?;
    Ok(NotedGrip {
        begun,
        limits: conditions.limits,
        result,
    })
}

fn force(option: &str, text: &str, unit: Option<ForceUnit>) -> Result<(f64, ForceUnit), Error> {
    if unit.is_none() && quantity::split(text).1.is_empty() {
        return Err(Error::usage(format!(
            "{option} {text}: add the unit behind it, such as 10.4kN, or --unit kN, N, lbf, kgf or daN"
        )));
    }
    let read = quantity::read(text, unit.unwrap_or(ForceUnit::N))
        .map_err(|e| Error::usage(format!("{option}: {e}")))?;
    match read.number > 0.0 {
        true => Ok((read.number, read.unit)),
        false => Err(Error::usage(format!(
            "{option}: found \"{text}\", expected a force above 0"
        ))),
    }
}
