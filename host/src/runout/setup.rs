//! What a runout check is held to. In: options and a limits file. Out: one setup for the analysis and the limits in
//! force as a file of their own, to be stored with the result.
//!
//! A limit on the command line comes before one of the file for the same figure and height.

use crate::limits;
use crate::limits::LimitsFile;
use crate::runout::arguments::{IndicatorArgs, RunoutArgs, RunoutLimits};
use crate::runout::noted;
use crate::tables::readings;
use crate::terminal::error::Error;
use crate::visits::spindles::taper;
use holdtrue_book::SpindleHeader;
use holdtrue_metrology::limits::SourcedLimit;
use holdtrue_metrology::limits::runout::join;
use holdtrue_metrology::runout::nose::BarTurns;
use holdtrue_metrology::runout::taper::{Lever, Taper};
use holdtrue_metrology::runout::{Indicator, POSITION_ERROR_DEG, RunoutSetup};
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::Provenance;

/// What a runout check is held to.
#[derive(Clone, Debug)]
pub struct RunoutConditions {
    /// For the analysis.
    pub setup: RunoutSetup,
    /// The limits in force.
    pub limits: LimitsFile,
}

/// Brings together what is known.
///
/// # Errors
/// Options that contradict each other, an unknown interface: exit 2. A limits file that cannot be used: exit 4.
pub fn gather(
    args: &RunoutArgs,
    spindle: Option<&SpindleHeader>,
) -> Result<RunoutConditions, Error> {
    let file = args
        .limits
        .limits
        .as_deref()
        .map(|name| limits::read(name, args.as_read))
        .transpose()?;
    let interface = taper::of(args.indicator.interface.as_deref(), file.as_ref(), spindle)?;
    let typed = typed_limits(&args.limits);
    let conditions = join(
        typed,
        file.as_ref()
            .map(|file| file.limits.clone())
            .unwrap_or_default(),
    );
    let setup = RunoutSetup {
        state: args.state,
        limits: conditions
            .iter()
            .map(|sourced| sourced.limit.clone())
            .collect(),
        indicator: indicator(&args.indicator),
        lever: lever(&args.indicator),
        square_to_wall: args.indicator.on_wall.then(|| slope(interface)),
        position_error_deg: args
            .indicator
            .position_error_deg
            .unwrap_or(POSITION_ERROR_DEG),
        bar_tir_um: args.indicator.bar_um,
        typed: args.source.readings.is_some() || args.source.tir.is_some(),
        as_read: args.as_read,
        typed_step_um: args
            .source
            .readings
            .as_deref()
            .zip(args.unit)
            .and_then(|(text, unit)| readings::step(text, unit.micrometres()))
            .or_else(|| noted::step_um(args)),
        bar_turns: interface.map_or(BarTurns::NotKnown, BarTurns::of),
        ..RunoutSetup::default()
    };
    Ok(RunoutConditions {
        setup,
        limits: LimitsFile {
            title: file.map_or_else(|| "typed on the command line".to_owned(), |file| file.title),
            interface,
            nominal: None,
            limits: conditions,
        },
    })
}

/// Without a gauge that brings its calibration, limits ask for a stated uncertainty.
///
/// # Errors
/// A limit and no uncertainty: exit 2.
pub fn require_uncertainty(setup: &RunoutSetup) -> Result<(), Error> {
    if setup.limits.is_empty() || setup.indicator.is_some() {
        return Ok(());
    }
    Err(Error::usage(
        "a verdict needs the gauge's uncertainty: add --uncertainty-um with the figure (k = 2) from the indicator's \
         certificate, or leave the limits out",
    ))
}

/// Slope of the wall. Without a word on the taper the steeper of the two, which moves a reading by 1 %.
pub fn slope(interface: Option<Interface>) -> Taper {
    match interface {
        Some(interface) if interface.is_hollow() => Taper::Hsk,
        _ => Taper::SevenTwentyFour,
    }
}

fn indicator(args: &IndicatorArgs) -> Option<Indicator> {
    args.uncertainty_um.map(|expanded_um| Indicator {
        resolution_um: args.resolution_um,
        ..Indicator::in_force(expanded_um)
    })
}

fn lever(args: &IndicatorArgs) -> Lever {
    match args.lever_deg {
        Some(angle_deg) => Lever::At(angle_deg),
        None if args.lever_by_eye => Lever::ByEye,
        None => Lever::None,
    }
}

fn typed_limits(options: &RunoutLimits) -> Vec<SourcedLimit> {
    let provenance = options.provenance.unwrap_or(Provenance::CommonPractice);
    options.typed.limits(provenance).collect()
}
