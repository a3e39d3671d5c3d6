//! A check evaluated but not yet judged. In: record and setup. Out: planes, axis, spindle and bar parts, seats.

use super::axis;
use super::figures::{Figures, Scatter};
use super::followed;
use super::part_turn;
use super::plane_untrue;
use super::positions::{self, Allowed, Doubt};
use super::record::{LIMIT_HEIGHT_MM, Place, Plane, Readings, RunoutRecord};
use super::refusal::RunoutError;
use super::remarks::{PlaneNote, RunoutNote, Untrue};
use super::result::{AxisResult, Method};
use super::reversal::{self, FourSeatings, SeatScatter, SeparatedHeight};
use super::same_planes::{self, Copied};
use super::setup::RunoutSetup;
use holdtrue_terms::vocabulary::At;

/// A check evaluated.
#[derive(Clone, Debug)]
pub struct Evaluated<'a> {
    /// What the person told.
    pub setup: &'a RunoutSetup,
    /// Every plane.
    pub figures: Vec<Figures>,
    /// Spindle and bar at each height.
    pub separated: Vec<SeparatedHeight>,
    /// The axis.
    pub axis: Option<AxisResult>,
    /// Mean TIRs of four seatings.
    pub four_seatings: Vec<FourSeatings>,
    /// Seat repeatability.
    pub seat: Option<SeatScatter>,
    /// Planes that are one, written twice.
    pub copied: Vec<Copied>,
    /// Remarks.
    pub notes: Vec<RunoutNote>,
}

impl<'a> Evaluated<'a> {
    /// Evaluates a record.
    ///
    /// # Errors
    /// [`RunoutError`] for a record no analysis can make sense of.
    pub fn of(record: &RunoutRecord, setup: &'a RunoutSetup) -> Result<Self, RunoutError> {
        record.check()?;
        let figures: Vec<Figures> = record
            .planes
            .iter()
            .map(|plane| evaluate_plane(plane, setup))
            .collect();
        let turns = setup.bar_turns();
        let (separated, reversal_notes) =
            reversal::of_check(&figures, setup.assumed_seat_um, turns);
        let (axis, axis_notes) = axis::of_check(&figures, &separated);
        let mut notes = Vec::new();
        if setup.typed {
            notes.push(RunoutNote::TypedByHand);
        }
        notes.extend(axis_notes);
        notes.extend(reversal_notes);
        Ok(Self {
            setup,
            separated,
            axis,
            four_seatings: reversal::four_seatings(&figures, turns),
            seat: reversal::seat_repeatability(&figures),
            copied: same_planes::copied(record),
            figures,
            notes,
        })
    }

    /// Spindle and bar parts at the height of a place.
    pub fn separated_at(&self, place: &Place) -> Option<&SeparatedHeight> {
        self.separated
            .iter()
            .find(|height| height.place.same_height(place))
    }

    /// Scatter of single readings for a plane: that of all stepped planes together, which were read by the same hand,
    /// or the plane's own when it was turning.
    pub fn scatter_for(&self, plane: &Figures) -> Scatter {
        if plane.method == Method::Stepped {
            let stepped = self.figures.iter().filter(|f| f.method == Method::Stepped);
            Scatter::pooled(stepped.map(|f| f.scatter))
        } else {
            plane.scatter
        }
    }
}

/// Whether a limit given for a height (or for all) holds at this place. A height along the axis is one on wall or bar: face
/// and axial float have none but that of the nose.
pub fn limit_holds_at(limit_height_mm: Option<f64>, place: &Place) -> bool {
    let along = !matches!(place.at, Some(At::Face | At::Axial));
    match (limit_height_mm, place.height_mm) {
        (None, _) => true,
        (Some(limit), Some(height)) => {
            (along || limit.abs() <= LIMIT_HEIGHT_MM) && (limit - height).abs() <= LIMIT_HEIGHT_MM
        }
        (Some(_), None) => false,
    }
}

fn evaluate_plane(plane: &Plane, setup: &RunoutSetup) -> Figures {
    let factor = setup.motion_per_reading(&plane.place);
    let across = across(plane, factor);
    let mut figures = Figures::of(&across);
    figures.take_doubt(doubt_across(&across, setup));
    figures.beyond_um = followed::beyond_um(&across.readings, step_um(setup));
    figures.take_untrue(plane_untrue::of_plane(plane, &figures, step_um(setup)));
    if figures.untrue.contains(&Untrue::Stopped) && figures.beyond_um.is_none() {
        figures.beyond_um = followed::beyond_stopped_um(&across.readings);
    }
    figures.whole_um = part_turn::whole_um(&across.readings, step_um(setup));
    if (factor - 1.0).abs() >= f64::EPSILON {
        figures.tir_as_read_um = figures.tir_as_read_um.map(|um| um / factor);
        figures.notes.push(PlaneNote::Sloped { factor });
    }
    figures
}

/// The doubt about a stepped plane, the one that its figures carry: live, from a file or typed.
pub fn doubt_of(plane: &Plane, setup: &RunoutSetup) -> Option<Doubt> {
    let factor = setup.motion_per_reading(&plane.place);
    doubt_across(&across(plane, factor), setup)
}

fn doubt_across(plane: &Plane, setup: &RunoutSetup) -> Option<Doubt> {
    let Readings::Stepped(stops) = &plane.readings else {
        return None;
    };
    let allowed = Allowed {
        step_um: step_um(setup).unwrap_or(0.0),
        position_error_deg: setup.position_error_deg,
    };
    positions::doubt(stops, &allowed)
}

/// The smallest step that was told of the indicator, or typed, µm.
fn step_um(setup: &RunoutSetup) -> Option<f64> {
    let told_um = setup.indicator.as_ref().and_then(|i| i.resolution_um);
    told_um.or(setup.typed_step_um)
}

/// The plane with its readings as motion across the axis.
fn across(plane: &Plane, factor: f64) -> Plane {
    let mut plane = plane.clone();
    if (factor - 1.0).abs() >= f64::EPSILON {
        scale(&mut plane.readings, factor);
    }
    plane
}

fn scale(readings: &mut Readings, factor: f64) {
    match readings {
        Readings::Stepped(stops) => stops.iter_mut().for_each(|stop| stop.reading_um *= factor),
        Readings::Free(readings) | Readings::Marked { readings, .. } => {
            readings
                .iter_mut()
                .for_each(|reading| reading.reading_um *= factor);
        }
        Readings::Noted(tir_um) => *tir_um *= factor,
    }
}
