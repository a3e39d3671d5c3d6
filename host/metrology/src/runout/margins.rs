//! What a figure has to clear its limit by, towards each side. In: the evaluated check and the figure's budget. Out: a guard
//! for accepting and one for rejecting.
//!
//! A runout errs to both sides in different ways. Positions that miss the high spot make it too small, by an amount the
//! fitted curve tells; noise makes the largest less smallest reading too large, by an amount that can be computed; and of
//! several seatings the largest is judged. The first is added in full where a limit is to be met, the others where it is to
//! be missed: known errors are corrected, not put into an uncertainty (JCGM 100:2008, 3.2.3).

use super::evaluated::Evaluated;
use super::extremes::noise_in_spread_um;
use super::figures::Figures;
use super::harmonics::count;
use super::record::Place;
use super::reversal::SeatScatter;
use crate::decision::{Judged, Limit, RISK, Rule, guard_factor, guard_factor_at, judge_with_guard};
use crate::special::chi2_quantile;
use crate::uncertainty::Budget;

/// Known errors of a figure, µm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margins {
    /// How much the positions may have missed.
    pub missed_um: f64,
    /// How much noise adds.
    pub noise_um: f64,
    /// Of how many figures this is the largest.
    pub largest_of: usize,
    /// The figure is a scatter between seatings, and how much of it is noise of the readings.
    pub scatter: Option<(SeatScatter, f64)>,
}

impl Default for Margins {
    fn default() -> Self {
        Self {
            missed_um: 0.0,
            noise_um: 0.0,
            largest_of: 1,
            scatter: None,
        }
    }
}

impl Margins {
    /// Of the largest TIR among the planes at one height.
    pub fn of_largest_tir(check: &Evaluated, largest: &Figures) -> Self {
        let tir_um = largest.tir_um.unwrap_or(0.0);
        let planes: Vec<&Figures> = planes_at(check, &largest.place).collect();
        let reach = |plane: &&Figures| plane.tir_um.unwrap_or(0.0) + plane.low_by_um.unwrap_or(0.0);
        Self {
            missed_um: planes.iter().map(reach).fold(tir_um, f64::max) - tir_um,
            noise_um: noise_um(check, largest),
            largest_of: planes.len(),
            scatter: None,
        }
    }

    /// Of the mean TIR of the planes at one height.
    pub fn of_mean_tir(check: &Evaluated, place: &Place) -> Self {
        let planes: Vec<&Figures> = planes_at(check, place).collect();
        let n = count(planes.len().max(1));
        let missed = planes.iter().map(|plane| plane.low_by_um.unwrap_or(0.0));
        let noise = planes.iter().map(|plane| noise_um(check, plane));
        Self {
            missed_um: missed.sum::<f64>() / n,
            noise_um: noise.sum::<f64>() / n,
            ..Self::default()
        }
    }

    /// Of the seat repeatability.
    pub fn of_seat(check: &Evaluated, seat: SeatScatter) -> Self {
        let of_readings: Vec<f64> = check
            .figures
            .iter()
            .filter(|plane| plane.place.may_be_bar())
            .filter_map(Figures::eccentricity_standard_um)
            .collect();
        let squares: f64 = of_readings.iter().map(|u| u * u).sum();
        Self {
            scatter: Some((seat, (squares / count(of_readings.len().max(1))).sqrt())),
            ..Self::default()
        }
    }

    /// Judges a figure by its budget and these errors.
    pub fn judge(&self, limit: &Limit, measured_um: f64, budget: &Budget) -> Judged {
        let accepting = measured_um <= limit.limit;
        let (of_budget, rule) = if accepting {
            guard_factor(budget)
        } else {
            guard_factor_at(budget, RISK / count(self.largest_of.max(1)))
        };
        let of_budget_um = of_budget * budget.combined();
        let (guard_um, rule) = match self.scatter {
            Some((seat, noise_um)) => (
                scatter_guard_um(seat, noise_um, accepting).hypot(of_budget_um),
                Rule::Bound,
            ),
            None if accepting => (self.missed_um + of_budget_um, rule),
            None => (self.noise_um + of_budget_um, rule),
        };
        Judged {
            rule,
            budget: budget.contributions.clone(),
            ..judge_with_guard(limit, measured_um, guard_um)
        }
    }
}

fn planes_at<'a>(check: &'a Evaluated, place: &Place) -> impl Iterator<Item = &'a Figures> {
    check
        .figures
        .iter()
        .filter(move |plane| plane.tir_um.is_some() && plane.place.same_height(place))
}

fn noise_um(check: &Evaluated, plane: &Figures) -> f64 {
    let scatter = check.scatter_for(plane).standard_um();
    scatter.map_or(0.0, |standard_um| {
        noise_in_spread_um(&plane.shape_um, standard_um)
    })
}

/// How far the true scatter of the seat may lie from the one found, towards each side, with 95 % confidence each:
/// s·√(ν/χ²₀.₀₅) above and s·√(ν/χ²₀.₉₅) below, from which the noise of the readings is taken off. Source:
/// NIST/SEMATECH e-Handbook, section 7.2.3.1.
fn scatter_guard_um(seat: SeatScatter, noise_um: f64, accepting: bool) -> f64 {
    let Some(dof) = seat.dof.map(count) else {
        return f64::NAN;
    };
    let bound = |p: f64| {
        chi2_quantile(p, dof).map_or(f64::NAN, |chi2| seat.standard_um * (dof / chi2).sqrt())
    };
    if accepting {
        bound(RISK) - seat.standard_um
    } else {
        let least_um2 = bound(1.0 - RISK).powi(2) - noise_um.powi(2);
        seat.standard_um - least_um2.max(0.0).sqrt()
    }
}
