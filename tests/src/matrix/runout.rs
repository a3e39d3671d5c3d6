//! In: a seed and faults. Out: a runout check of wall and bar by the program's own live path: its steps, its light, its
//! record and its analysis, with the simulated operator at the spindle and at the gauge's button.

use holdtrue::runout::arguments::Way;
use holdtrue::runout::plan;
use holdtrue::runout::plan::Nose;
use holdtrue_metrology::decision::{Figure, Limit};
use holdtrue_metrology::runout::remarks::PlaneNote;
use holdtrue_metrology::runout::taper::Taper;
use holdtrue_metrology::runout::{Indicator, RunoutResult, RunoutSetup};
use holdtrue_simulated_gauge::world::plane::At as Surface;
use holdtrue_simulated_gauge::{Faults, Setup};
use holdtrue_terms::vocabulary::{At, Provenance};

use super::tally::Checked;
use crate::stepping::{Led, lead};

/// Runs one.
///
/// # Errors
/// What kept it from being analysed, in words.
pub fn check(seed: u64, faults: Faults) -> Result<Checked, String> {
    let result = visit(seed, faults, true)?;
    let doubts = result.planes.iter().flat_map(|plane| &plane.notes);
    let doubted = doubts.filter(|note| matches!(note, PlaneNote::InDoubt { .. }));
    Ok(Checked {
        outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
        planes: result.planes.len(),
        doubted_planes: doubted.count(),
        hints: result.hints,
        error_percent: 0.0,
        clamps: 0,
        wrong_clamps: 0,
    })
}

/// The usual round, with the taper's wall or without, held to service limits on what is the spindle's own: 10 µm at the nose,
/// 25 µm far out.
///
/// # Errors
/// What kept it from being analysed, in words.
pub fn visit(seed: u64, faults: Faults, with_wall: bool) -> Result<RunoutResult, String> {
    let nose = Nose::of("7/24-40".parse().ok());
    let mut plan = plan::usual(Way::default(), &nose);
    let mut setup = Setup::with_faults(seed, faults);
    if !with_wall {
        plan.retain(|plane| plane.place.at != Some(At::Wall));
        setup.planes.retain(|plane| plane.at != Surface::Wall);
    }
    let judged = RunoutSetup {
        indicator: Some(Indicator {
            resolution_um: Some(0.1),
            ..Indicator::in_force(1.0)
        }),
        limits: vec![spindle_limit(20.0, 10.0), spindle_limit(300.0, 25.0)],
        square_to_wall: Some(Taper::SevenTwentyFour),
        bar_turns: nose.turns,
        ..RunoutSetup::default()
    };
    let Led { result, .. } = lead(setup, &plan, None, judged)?;
    Ok(result)
}

fn spindle_limit(height_mm: f64, limit: f64) -> Limit {
    Limit {
        height_mm: Some(height_mm),
        ..Limit::on(Figure::SpindlePart, limit, Provenance::CommonPractice)
    }
}
