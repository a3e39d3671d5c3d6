//! What runout is allowed at a height, where no limit says so, too.

use super::evaluated::{Evaluated, limit_holds_at};
use super::record::Place;
use crate::decision::Figure;

/// Usual service limit at the nose, µm TIR (common practice).
const NOSE_LIMIT_UM: f64 = 10.0;
/// Usual service limit on a bar 300 mm out, µm TIR (common practice).
const BAR_LIMIT_UM: f64 = 25.0;
const BAR_LIMIT_HEIGHT_MM: f64 = 300.0;

/// What is allowed at a height, µm TIR: the tightest limit that holds there, else the usual service limits, rising
/// evenly from the nose outward.
pub fn allowed_um(check: &Evaluated, place: &Place) -> f64 {
    let usual = NOSE_LIMIT_UM
        + (BAR_LIMIT_UM - NOSE_LIMIT_UM) * place.height_mm.unwrap_or(0.0).max(0.0)
            / BAR_LIMIT_HEIGHT_MM;
    check
        .setup
        .limits
        .iter()
        .filter(|l| {
            matches!(
                l.figure,
                Figure::Tir | Figure::FourSeatings | Figure::SpindlePart
            )
        })
        .filter(|l| limit_holds_at(l.height_mm, place))
        .map(|l| l.limit)
        .reduce(f64::min)
        .unwrap_or(usual)
}
