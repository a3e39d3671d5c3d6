//! Whether the bar was taken out between its seatings, and the spindle turned. In: the planes. Out: whether those of the bar
//! agree as closely as readings of a bar that was left in repeat, seating by seating or height by height; whether none shows more
//! than its readings scatter.
//!
//! A seat that is touched comes back a few tenths of a micrometre beside itself; readings repeat far better. What the
//! readings repeat to is told by what the fitted curves leave. Common practice, no source.

use super::evaluated::Evaluated;
use super::figures::{Figures, Scatter};
use super::harmonics::count;
use super::record::Place;
use super::result::Method;
use super::reversal::heights;
use super::vector::{Vector, same_angle};
use crate::special::f_quantile_upper;

/// Of bars left in, this share scatters more than is taken for readings that repeat.
const SHARE: f64 = 0.05;
/// An indicator left where it is shows a bar left where it is to this, standard deviation of a component, µm.
const LEAST_UM: f64 = 0.03;
/// Heights this far apart read differently: a bar and its seat lean (common practice).
const HEIGHTS_APART_MM: f64 = 50.0;

/// Whether seatings in one orientation are one.
pub fn one_seat(check: &Evaluated) -> bool {
    are_one(check, |a, b| {
        same_angle(
            a.place.orientation_or_zero_deg(),
            b.place.orientation_or_zero_deg(),
        )
    })
}

/// Whether all seatings are one, however the bar is said to have been turned.
pub fn one_place(check: &Evaluated) -> bool {
    are_one(check, |_, _| true)
}

/// The nearer height of the bar that reads like this one in every seating, two at least: the indicator may have been left
/// there, mm.
pub fn left_at_mm(check: &Evaluated, place: &Place) -> Option<f64> {
    let here_mm = place.height_mm?;
    let at = |height_mm: f64| {
        let place = Place {
            height_mm: Some(height_mm),
            ..*place
        };
        let planes = check.figures.iter();
        planes.filter(move |f| f.place.same_height(&place) && f.eccentricity().is_some())
    };
    let heights = check.figures.iter().filter(|f| f.place.at == place.at);
    let mut heights_mm = heights.filter_map(|f| f.place.height_mm);
    heights_mm.find(|height_mm| {
        let pairs: Vec<[&Figures; 2]> = at(here_mm)
            .filter_map(|here| {
                let mut there = at(*height_mm);
                Some([here, there.find(|f| f.place.same_seating(&here.place))?])
            })
            .collect();
        // The difference of two vectors scatters twice as much, in squares.
        let apart =
            |[a, b]: &[&Figures; 2]| Some((a.eccentricity()? - b.eccentricity()?).norm_sqr());
        let squares_um2 = pairs.iter().filter_map(apart).sum::<f64>() / 2.0;
        here_mm - height_mm >= HEIGHTS_APART_MM
            && pairs.len() > 1
            && is_scatter(squares_um2, 2 * pairs.len(), &pairs.concat())
    })
}

/// Whether two stepped planes and more, or marked ones, show nothing but scatter: spindle, bar and seat all without runout, or a
/// spindle that stood still.
pub fn nothing_turned(check: &Evaluated) -> bool {
    let of_vector = |f: &&Figures| f.eccentricity().is_some();
    let planes: Vec<&Figures> = check.figures.iter().filter(of_vector).collect();
    let marked = planes.iter().any(|f| f.method == Method::Marked);
    let vectors = planes.iter().filter_map(|f| f.eccentricity());
    let squares_um2 = vectors.map(|v| v.norm_sqr()).sum::<f64>();
    (marked || planes.len() > 1) && is_scatter(squares_um2, 2 * planes.len(), &planes)
}

/// Whether planes at one height that ought to be of different seatings have one vector, all heights together.
fn are_one(check: &Evaluated, alike: impl Fn(&Figures, &Figures) -> bool) -> bool {
    let (mut squares_um2, mut spare, mut seated) = (0.0, 0, Vec::new());
    for mut left in heights(&check.figures) {
        while let Some(first) = left.first().copied() {
            let (group, others): (Vec<_>, Vec<_>) = left.into_iter().partition(|f| alike(f, first));
            left = others;
            if group.len() < 2 {
                continue;
            }
            let vectors: Vec<Vector> = group.iter().filter_map(|f| f.eccentricity()).collect();
            let mean = vectors.iter().sum::<Vector>() / count(vectors.len());
            squares_um2 += vectors.iter().map(|v| (v - mean).norm_sqr()).sum::<f64>();
            spare += 2 * (vectors.len() - 1);
            seated.extend(group);
        }
    }
    spare > 0 && is_scatter(squares_um2, spare, &seated)
}

/// Whether squares of so many components are those of readings that scatter as these planes do. Form finer than the curve
/// counts as scatter in the one, few readings tell little in the other.
fn is_scatter(squares_um2: f64, dof: usize, planes: &[&Figures]) -> bool {
    let by = |scatter: fn(&Figures) -> Scatter| {
        let all = Scatter::pooled(planes.iter().map(|f| scatter(f)));
        is_noise(squares_um2 / count(dof), dof, all, planes)
    };
    by(|f| f.scatter) && by(whole_fit)
}

/// What all the harmonics leave.
fn whole_fit(figures: &Figures) -> Scatter {
    figures
        .harmonics
        .as_ref()
        .map_or(figures.scatter, |fit| Scatter {
            squares_um2: fit.residual_squares_um2,
            dof: fit.dof,
        })
}

/// Whether a variance of vectors is one of readings that scatter so.
fn is_noise(variance_um2: f64, dof: usize, scatter: Scatter, planes: &[&Figures]) -> bool {
    let Some(reading_um) = scatter.standard_um() else {
        return false;
    };
    let per_noise = planes.iter().filter_map(|f| f.harmonics.as_ref());
    let per_noise = per_noise.map(|fit| fit.standard_error_per_noise);
    let standard_um = LEAST_UM.max(reading_um * per_noise.fold(0.0, f64::max));
    f_quantile_upper(SHARE, count(dof), count(scatter.dof))
        .is_ok_and(|most| variance_um2 <= most * standard_um.powi(2))
}
