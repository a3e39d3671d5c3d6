//! Uncertainty of each runout figure. In: the evaluated planes and the indicator. Out: a budget by the GUM.

use super::evaluated::Evaluated;
use super::figures::{Figures, Scatter};
use super::harmonics::count;
use super::remarks::Source;
use super::result::Method;
use super::reversal::{FourSeatings, SeatScatter, SeparatedHeight};
use super::setup::Indicator;
use crate::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::vocabulary::{At, Provenance};

/// Uncertainty of the TIR of one plane as read in this seating.
pub fn of_tir(check: &Evaluated, indicator: &Indicator, plane: &Figures) -> Budget {
    let tir_um = plane.tir_um.unwrap_or(0.0);
    let mut lines = indicator_lines(check, indicator, tir_um);
    lines.extend(two_readings(check, plane));
    if plane.method == Method::Stepped {
        lines.push(position(check, plane.tir_per_radian_um));
    }
    if let Some(drift_um) = plane.drift_um {
        // The drift was spread evenly; half-way round it may have been all or nothing of it.
        lines.push(bounded(
            Source::Drift,
            drift_um.abs() / 2.0,
            Provenance::Computed,
        ));
    }
    lines.push(doubt(
        2.0 * plane.doubt.map_or(0.0, |doubt| doubt.changes_um),
    ));
    if plane.place.may_be_bar()
        && let Some(bar_um) = check.setup.bar_tir_um
    {
        lines.push(bounded(Source::Bar, bar_um, Provenance::Published));
    }
    if plane.place.at == Some(At::Wall) {
        lines.extend(axial(check));
    }
    only_those_that_weigh(lines)
}

/// Uncertainty of twice the spindle's eccentricity.
pub fn of_spindle_part(
    check: &Evaluated,
    indicator: &Indicator,
    height: &SeparatedHeight,
) -> Budget {
    let tir_um = height.spindle_tir_um();
    let mut lines = indicator_lines(check, indicator, tir_um);
    lines.push(position(check, tir_um));
    let per_seating = 2.0 * height.once.variance_factor.sqrt();
    lines.push(seat(&height.seat, per_seating));
    lines.extend(head(check, per_seating));
    let planes: Vec<&Figures> = check
        .figures
        .iter()
        .filter(|f| f.place.same_height(&height.place))
        .collect();
    let mean = |of: &dyn Fn(&Figures) -> f64| {
        planes.iter().map(|plane| of(plane)).sum::<f64>() / count(planes.len().max(1))
    };
    // Rounding of n readings moves their eccentricity by √(2/n) of what it moves one.
    let rounding = mean(&|plane| {
        let readings = plane.stops.unwrap_or(plane.shape_um.len());
        (2.0 / count(readings.max(1))).sqrt()
    });
    lines.extend(
        resolution(check, Distribution::Rectangular, 0.5).map(|r| r.times(per_seating * rounding)),
    );
    let drift_um = mean(&|plane| plane.drift_um.map_or(0.0, f64::abs));
    lines.push(bounded(Source::Drift, drift_um / 2.0, Provenance::Computed));
    // The direction counts here: the spindle's part is what the vectors of all seatings have in common.
    let moves_um = mean(&|plane| plane.doubt.map_or(0.0, |doubt| doubt.moves_um));
    lines.push(doubt(2.0 * moves_um));
    only_those_that_weigh(lines)
}

/// Uncertainty of the mean TIR of four seatings. A seat scatter s moves each TIR by 2s, their mean by 2s/√n; what two
/// readings of each seating bring goes down by √n too, while a drift, the head and the angles may go the same way each time.
pub fn of_four_seatings(check: &Evaluated, indicator: &Indicator, four: &FourSeatings) -> Budget {
    let mut lines = indicator_lines(check, indicator, four.mean_tir_um);
    let planes: Vec<&Figures> = check
        .figures
        .iter()
        .filter(|f| f.place.same_height(&four.place))
        .collect();
    let n = count(four.seatings);
    let mean = |of: &dyn Fn(&Figures) -> f64| planes.iter().map(|plane| of(plane)).sum::<f64>() / n;
    if let Some(plane) = planes.first() {
        lines.extend(
            two_readings(check, plane)
                .into_iter()
                .map(|line| line.times(1.0 / n.sqrt())),
        );
    }
    lines.push(position(check, mean(&|plane| plane.tir_per_radian_um)));
    let drift_um = mean(&|plane| plane.drift_um.map_or(0.0, f64::abs));
    lines.push(bounded(Source::Drift, drift_um / 2.0, Provenance::Computed));
    let changes_um = mean(&|plane| plane.doubt.map_or(0.0, |doubt| doubt.changes_um));
    lines.push(doubt(2.0 * changes_um));
    if let Some(height) = check.separated_at(&four.place) {
        lines.push(seat(&height.seat, 2.0 / n.sqrt()));
    }
    if let Some(bar_um) = check.setup.bar_tir_um {
        lines.push(bounded(Source::Bar, bar_um, Provenance::Published));
    }
    only_those_that_weigh(lines)
}

/// Uncertainty the indicator brings to the seat repeatability; what the few seatings leave open is a bound of its own.
pub fn of_seat(check: &Evaluated, indicator: &Indicator, seat: &SeatScatter) -> Budget {
    only_those_that_weigh(indicator_lines(check, indicator, seat.standard_um))
}

/// What every figure shares: the certificate over the span used, once; the lever by its share of the figure.
fn indicator_lines(check: &Evaluated, indicator: &Indicator, figure_um: f64) -> Vec<Contribution> {
    let lever = Contribution::bounded(
        Source::Lever,
        Distribution::Rectangular,
        check.setup.lever.relative_half_width(),
        figure_um,
        Provenance::CommonPractice,
    );
    vec![
        Contribution::bounded(
            Source::Certificate,
            Distribution::Normal,
            indicator.expanded_um,
            1.0,
            Provenance::Published,
        ),
        lever,
    ]
}

/// A TIR is the difference of two readings: resolution, scatter and settling enter twice.
fn two_readings(check: &Evaluated, plane: &Figures) -> Vec<Contribution> {
    let mut lines = Vec::new();
    lines.extend(resolution(check, Distribution::Triangular, 1.0));
    let scatter = check.scatter_for(plane);
    if let Some(standard_um) = scatter.standard_um() {
        lines.push(scatter_line(standard_um, &scatter));
    }
    lines.extend(head(check, 2.0_f64.sqrt()));
    lines
}

/// The indicator's step: a reading lies within half of it, a difference of two within a whole one.
fn resolution(check: &Evaluated, shape: Distribution, steps: f64) -> Option<Contribution> {
    let told_um = check.setup.indicator.as_ref()?.resolution_um;
    let step_um = told_um.or_else(|| typed_step_um(check))?;
    let half_width_um = steps * step_um;
    Some(Contribution::bounded(
        Source::Resolution,
        shape,
        half_width_um,
        1.0,
        Provenance::Maker,
    ))
}

/// Step of typed readings, where they scatter by less than their rounding alone would make them.
fn typed_step_um(check: &Evaluated) -> Option<f64> {
    let step_um = check.setup.typed_step_um?;
    let scatter = Scatter::pooled(check.figures.iter().map(|plane| plane.scatter));
    let shown = scatter
        .standard_um()
        .is_some_and(|standard_um| standard_um >= step_um / 12.0_f64.sqrt());
    (!shown).then_some(step_um)
}

fn scatter_line(standard_um: f64, scatter: &Scatter) -> Contribution {
    let twice = 2.0_f64.sqrt();
    Contribution {
        sensitivity: twice,
        ..Contribution::new(
            Source::Scatter,
            twice * standard_um,
            Some(count(scatter.dof)),
        )
    }
}

fn head(check: &Evaluated, sensitivity: f64) -> Option<Contribution> {
    check
        .setup
        .head_settling_um
        .map(|standard_um| Contribution {
            sensitivity,
            ..Contribution::new(Source::Head, sensitivity * standard_um, None)
        })
}

fn position(check: &Evaluated, per_radian_um: f64) -> Contribution {
    Contribution::bounded(
        Source::Position,
        Distribution::Rectangular,
        check.setup.position_error_deg.to_radians(),
        per_radian_um,
        Provenance::CommonPractice,
    )
}

fn seat(scatter: &SeatScatter, sensitivity: f64) -> Contribution {
    let (name, provenance) = match scatter.dof {
        Some(_) => (Source::Seat, Provenance::Computed),
        None => (Source::AssumedSeat, Provenance::CommonPractice),
    };
    Contribution {
        sensitivity,
        provenance,
        ..Contribution::new(
            name,
            sensitivity * scatter.standard_um,
            scatter.dof.map(count),
        )
    }
}

/// Axial float, where it was measured, shows on the steep wall.
fn axial(check: &Evaluated) -> Option<Contribution> {
    let taper = check.setup.square_to_wall?;
    let float_um = check
        .figures
        .iter()
        .filter(|f| f.place.at == Some(At::Axial))
        .filter_map(|f| f.tir_um)
        .reduce(f64::max)?;
    Some(Contribution::bounded(
        Source::Axial,
        Distribution::Rectangular,
        float_um,
        taper.square_to_wall_per_axial(),
        Provenance::Computed,
    ))
}

/// Readings that look as if a position had been read twice or left out may be right or wrong, by all of it.
fn doubt(half_width_um: f64) -> Contribution {
    bounded(Source::Doubt, half_width_um, Provenance::Computed)
}

fn bounded(source: Source, half_width_um: f64, provenance: Provenance) -> Contribution {
    Contribution::bounded(
        source,
        Distribution::Rectangular,
        half_width_um,
        1.0,
        provenance,
    )
}

/// Lines of no weight are left out of a budget a person reads; the certificate always stands.
fn only_those_that_weigh(lines: Vec<Contribution>) -> Budget {
    let weighs = |c: &Contribution| {
        c.standard > super::vector::NEGLIGIBLE_UM || c.source == Source::Certificate.name()
    };
    Budget::new(lines.into_iter().filter(weighs).collect())
}
