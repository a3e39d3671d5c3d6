//! What the taper wall says of the spindle. In: the evaluated check. Out: the wall's axis, the share of the spindle's runout
//! that it shows, and whether it says the contrary.
//!
//! Nothing sits in the taper while its wall is read: what runs out there is the spindle's. A bar that sits well in it runs
//! out with it near the nose. Common practice, no source.

use super::allowed::allowed_um;
use super::axis::{Axis, in_one_seating};
use super::evaluated::Evaluated;
use super::figures::Figures;
use super::record::Place;
use super::reversal::SeparatedHeight;
use super::vector::Vector;
use holdtrue_terms::vocabulary::At;

/// Form of the wall at one depth, standard uncertainty of a component of its eccentricity, µm.
const FORM_UM: f64 = 0.5;
/// Tilt that one depth does not show, standard uncertainty of a component, µm per mm.
const TILT_UM_PER_MM: f64 = 0.02;
/// Wall and spindle differ when it is by this many standard uncertainties.
const SURE: f64 = 3.0;
/// And, as a TIR, by this share of what is allowed.
const SHARE: f64 = 0.5;

/// Share of the spindle's runout on the bar that the wall, carried out to the bar, shows; `None` without a reading on
/// the wall or of the spindle's part.
pub fn share(check: &Evaluated) -> Option<f64> {
    let wall = axis(check)?;
    let (mut shown, mut whole) = (0.0, 0.0);
    for height in &check.separated {
        let stays = height.once.stays;
        shown += (wall.at(height.place.height_mm.unwrap_or(0.0)) * stays.conj()).re;
        whole += stays.norm_sqr();
    }
    (whole > 0.0).then(|| shown / whole)
}

/// The axis of the wall: through two depths, or parallel to the axis of rotation where one depth was read.
fn axis(check: &Evaluated) -> Option<Axis> {
    let wall = first(check)?;
    in_one_seating(&check.figures, wall).or(Some(Axis {
        offset: wall.eccentricity()?,
        tilt: Vector::new(0.0, 0.0),
    }))
}

fn first<'a>(check: &'a Evaluated) -> Option<&'a Figures> {
    let is_wall = |f: &&Figures| f.place.at == Some(At::Wall) && f.eccentricity().is_some();
    check.figures.iter().find(is_wall)
}

/// What the wall says of the spindle at the bar's height nearest the nose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wall {
    /// Where the bar was read.
    pub place: Place,
    /// Runout of the wall carried to there, as a TIR, µm.
    pub wall_um: f64,
    /// Runout of the spindle alone, µm.
    pub spindle_um: f64,
    /// How far the two are apart, as a TIR, µm.
    apart_um: f64,
    /// How far they may be apart by chance.
    sure_um: f64,
    /// What is worth naming.
    worth_um: f64,
}

impl Wall {
    /// Of a check that tells the spindle's part and has readings of the wall.
    pub fn of(check: &Evaluated) -> Option<Self> {
        let out = |height: &&SeparatedHeight| height.place.height_mm.unwrap_or(0.0);
        let nearest = check
            .separated
            .iter()
            .min_by(|a, b| out(a).total_cmp(&out(b)))?;
        let at_mm = out(&nearest);
        let wall = axis(check)?.at(at_mm);
        let standard_um = standard_um(check, at_mm)?.hypot(nearest.part_standard_um());
        Some(Self {
            place: nearest.place,
            wall_um: 2.0 * wall.norm(),
            spindle_um: nearest.spindle_tir_um(),
            apart_um: 2.0 * (wall - nearest.once.stays).norm(),
            sure_um: 2.0 * SURE * standard_um,
            worth_um: SHARE * allowed_um(check, &nearest.place),
        })
    }

    /// Whether the wall runs out and the spindle alone does not: they cannot both be right.
    pub fn contradicts(&self) -> bool {
        self.wall_um > self.spindle_um && self.apart_um > self.sure_um.max(self.worth_um)
    }

    /// Whether the two say the same, as far as it matters.
    pub fn agrees(&self) -> bool {
        self.apart_um.max(self.sure_um) <= 2.0 * self.worth_um && !self.contradicts()
    }
}

/// Standard uncertainty of a component of the wall's vector, carried to a height, µm.
fn standard_um(check: &Evaluated, at_mm: f64) -> Option<f64> {
    let wall = first(check)?;
    let depths_mm: Vec<f64> = check
        .figures
        .iter()
        .filter(|f| f.place.same_seating(&wall.place) && f.eccentricity().is_some())
        .filter_map(|f| f.place.height_mm)
        .collect();
    let of_one_um = FORM_UM.hypot(wall.eccentricity_standard_um().unwrap_or(0.0));
    let (n, middle_mm) = (
        super::harmonics::count(depths_mm.len().max(1)),
        crate::statistics::mean(&depths_mm),
    );
    let spread_mm2: f64 = depths_mm.iter().map(|z| (z - middle_mm).powi(2)).sum();
    if depths_mm.len() < 2 || spread_mm2 <= 0.0 {
        let from_mm = wall.place.height_mm.unwrap_or(0.0);
        return Some(of_one_um.hypot(TILT_UM_PER_MM * (at_mm - from_mm)));
    }
    // Variance of a line of least squares at a height.
    Some(of_one_um * (1.0 / n + (at_mm - middle_mm).powi(2) / spread_mm2).sqrt())
}
