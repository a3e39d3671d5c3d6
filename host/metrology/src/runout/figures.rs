//! The figures of one plane. In: its readings. Out: TIR, drift, harmonics, and what its uncertainty needs.

use super::harmonics::{self, Harmonics, NoFit, Turn, count, spread};
use super::positions::Doubt;
use super::record::{Place, Plane, Readings};
use super::remarks::{PlaneNote, Untrue};
use super::result::{HarmonicResult, Method, PlaneResult};
use super::vector::{Vector, direction_deg, length_um, turn_by};
use super::{stepped, turning};

/// A plane, evaluated.
#[derive(Clone, Debug)]
pub struct Figures {
    /// Where it is.
    pub place: Place,
    /// How it was read.
    pub method: Method,
    /// Different positions of a stepped turn.
    pub stops: Option<usize>,
    /// Largest less smallest reading, drift removed, µm; `None` below two readings.
    pub tir_um: Option<f64>,
    /// The same as read, µm.
    pub tir_as_read_um: Option<f64>,
    /// How far from zero a reading lies at most, µm.
    pub farthest_um: f64,
    /// Drift over the turn (stepped) or over the whole turns (marked), µm.
    pub drift_um: Option<f64>,
    /// Mean and harmonics, where the positions bear them.
    pub harmonics: Option<Harmonics>,
    /// Root mean square of what mean, drift and eccentricity leave, µm.
    pub residual_rms_um: Option<f64>,
    /// Scatter of the readings.
    pub scatter: Scatter,
    /// How much lower than the surface's the TIR may be because no reading hit its extremes, µm; `None` if that
    /// cannot be told.
    pub low_by_um: Option<f64>,
    /// The curve under the readings the TIR was taken from, mean and first harmonics, µm; empty where none was fitted.
    pub shape_um: Vec<f64>,
    /// Change of the TIR per radian of position error, the two extreme readings taken together, µm.
    pub tir_per_radian_um: f64,
    /// What repeats every turn, without the eccentricity, µm.
    pub synchronous_um: Option<f64>,
    /// What does not repeat, µm.
    pub asynchronous_um: Option<f64>,
    /// What the readings of a stepped turn say against themselves.
    pub doubt: Option<Doubt>,
    /// The TIR without readings that stand alone, µm; none where none does.
    pub tir_without_lone_um: Option<f64>,
    /// How far the surface may go on where the indicator did not follow it, µm; none where it did.
    pub beyond_um: Option<f64>,
    /// What the whole turn would spread over where the readings look like a part of one, µm.
    pub whole_um: Option<f64>,
    /// What all readings of a marked plane spread over, those outside its whole turns included, µm.
    pub besides_um: Option<f64>,
    /// What speaks against the readings themselves.
    pub untrue: Vec<Untrue>,
    /// Remarks.
    pub notes: Vec<PlaneNote>,
}

/// Squares of the readings about a fit of at most two harmonics, which lets form above ovality count as scatter: the
/// few positions of a stepped turn would otherwise leave nothing to judge by.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Scatter {
    /// Sum of squares, µm².
    pub squares_um2: f64,
    /// Degrees of freedom.
    pub dof: usize,
}

/// Harmonics let into the model when the scatter of single readings is estimated.
const SCATTER_ORDER: usize = 2;

impl Scatter {
    /// The first harmonics of a turn, about which its readings scatter.
    fn model(turn: &Turn, fitted: &Harmonics) -> Option<Harmonics> {
        harmonics::fit_order(turn, fitted.vectors.len().min(SCATTER_ORDER))
    }

    /// Scatter of the readings of a turn about them.
    fn about(model: &Harmonics) -> Self {
        Self {
            squares_um2: model.residual_squares_um2,
            dof: model.dof,
        }
    }

    /// Several planes together.
    pub fn pooled(all: impl Iterator<Item = Self>) -> Self {
        all.fold(Self::default(), |sum, scatter| Self {
            squares_um2: sum.squares_um2 + scatter.squares_um2,
            dof: sum.dof + scatter.dof,
        })
    }

    /// Standard deviation of a single reading, µm.
    pub fn standard_um(&self) -> Option<f64> {
        (self.dof > 0).then(|| (self.squares_um2 / count(self.dof)).sqrt())
    }
}

impl Figures {
    /// Evaluates a plane.
    pub fn of(plane: &Plane) -> Self {
        match &plane.readings {
            Readings::Stepped(stops) => stepped::evaluate(plane.place, stops),
            Readings::Free(readings) => turning::evaluate_free(plane.place, readings),
            Readings::Marked { readings, edges_s } => {
                turning::evaluate_marked(plane.place, readings, edges_s)
            }
            Readings::Noted(tir_um) => Self::of_noted(plane.place, *tir_um),
        }
    }

    /// A plane of which nothing is known yet but the spread of its readings.
    pub fn of_spread(place: Place, method: Method, readings_um: &[f64]) -> Self {
        let tir_um = (readings_um.len() > 1).then(|| spread(readings_um.iter().copied()));
        Self {
            place,
            method,
            stops: None,
            tir_um,
            tir_as_read_um: tir_um,
            farthest_um: readings_um.iter().fold(0.0, |far, um| far.max(um.abs())),
            drift_um: None,
            harmonics: None,
            residual_rms_um: None,
            scatter: Scatter::default(),
            low_by_um: None,
            shape_um: Vec::new(),
            tir_per_radian_um: 0.0,
            synchronous_um: None,
            asynchronous_um: None,
            doubt: None,
            tir_without_lone_um: None,
            beyond_um: None,
            besides_um: None,
            whole_um: None,
            untrue: Vec::new(),
            notes: Vec::new(),
        }
    }

    /// A plane of which somebody noted the TIR alone. Who watches a dial over a turn sees its extremes.
    fn of_noted(place: Place, tir_um: f64) -> Self {
        let mut figures = Self::of_spread(place, Method::Free, &[0.0, tir_um]);
        figures.low_by_um = Some(0.0);
        figures.notes.push(PlaneNote::TirAlone);
        figures
    }

    /// Takes in the fit of the readings (drift already taken off unless the fit has it), or notes why there is none.
    pub fn take_fit(&mut self, turn: &Turn, fit: Result<Harmonics, NoFit>) {
        match fit {
            Ok(fit) => {
                if let Some(low) = Scatter::model(turn, &fit) {
                    self.scatter = Scatter::about(&low);
                    self.shape_um = turn.angles_deg.iter().map(|a| low.at(*a)).collect();
                }
                self.residual_rms_um = Some(residual_rms_um(turn, &fit));
                self.harmonics = Some(fit);
            }
            Err(reason) => self.notes.push(reason.note()),
        }
    }

    /// Takes in the doubt about the readings, with a remark.
    pub fn take_doubt(&mut self, doubt: Option<Doubt>) {
        self.doubt = doubt;
        let positions = self.stops.unwrap_or_default();
        self.notes.extend(doubt.map(|doubt| doubt.note(positions)));
    }

    /// Takes in what speaks against the readings, with remarks.
    pub fn take_untrue(&mut self, untrue: Vec<Untrue>) {
        self.notes
            .extend(untrue.iter().map(|&untrue| PlaneNote::Untrue { untrue }));
        self.untrue = untrue;
    }

    /// The eccentricity vector, µm.
    pub fn eccentricity(&self) -> Option<Vector> {
        self.harmonics.as_ref().map(Harmonics::eccentricity)
    }

    /// Standard uncertainty of a component of the eccentricity vector from the scatter of the readings, µm.
    pub fn eccentricity_standard_um(&self) -> Option<f64> {
        let fit = self.harmonics.as_ref()?;
        Some(fit.standard_error_per_noise * self.scatter.standard_um()?)
    }

    /// The plane as the result states it.
    pub fn to_result(&self) -> PlaneResult {
        let mut notes = self.notes.clone();
        notes.extend(self.lost_in_noise());
        let eccentricity = self.eccentricity();
        let standard_um = self.eccentricity_standard_um();
        PlaneResult {
            place: self.place,
            method: self.method,
            stops: self.stops,
            tir_um: self.tir_um,
            tir_as_read_um: self.tir_as_read_um,
            eccentricity_um: eccentricity.map(length_um),
            eccentricity_standard_um: standard_um,
            eccentricity_noise_floor_um: standard_um.map(harmonics::noise_floor_um),
            direction_deg: eccentricity.and_then(direction_deg),
            harmonics: self.harmonic_results(),
            residual_rms_um: self.residual_rms_um,
            drift_um: self.drift_um,
            synchronous_um: self.synchronous_um,
            asynchronous_um: self.asynchronous_um,
            notes,
        }
    }

    fn harmonic_results(&self) -> Vec<HarmonicResult> {
        let vectors = self.harmonics.as_ref().map_or(&[][..], |fit| &fit.vectors);
        vectors
            .iter()
            .zip(1..)
            .map(|(v, order)| HarmonicResult {
                order,
                amplitude_um: length_um(*v),
                phase_deg: direction_deg(*v),
            })
            .collect()
    }

    /// An eccentricity below twice what noise alone shows on average is exceeded by noise in 4 of 100 true spindles.
    fn lost_in_noise(&self) -> Option<PlaneNote> {
        let floor_um = harmonics::noise_floor_um(self.eccentricity_standard_um()?);
        let length = length_um(self.eccentricity()?);
        (floor_um > 0.0 && length < 2.0 * floor_um).then_some(PlaneNote::LostInNoise { floor_um })
    }
}

/// Root mean square, divisor n, of the readings less mean, drift and eccentricity.
fn residual_rms_um(turn: &Turn, fit: &Harmonics) -> f64 {
    let middle_s = turn.times_s.map_or(0.0, |times| {
        f64::midpoint(times[0], times.last().copied().unwrap_or(times[0]))
    });
    let left = |reading: usize| {
        let drift = fit
            .slope_um_per_s
            .zip(turn.times_s)
            .map_or(0.0, |(slope, times)| slope * (times[reading] - middle_s));
        let once = (fit.eccentricity() * turn_by(-turn.angles_deg[reading])).re;
        turn.readings_um[reading] - fit.mean_um - drift - once
    };
    let squares: f64 = (0..turn.readings_um.len()).map(|i| left(i).powi(2)).sum();
    (squares / count(turn.readings_um.len())).sqrt()
}
