//! What was read. In: rows of a file, of a live check or typed by hand. Out: readings gathered by plane.

use super::refusal::RunoutError;
use super::vector::{count, same_angle};
use crate::file_note::FileNote;
use holdtrue_terms::vocabulary::At;
use serde::{Deserialize, Serialize};

/// Where a plane was read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// The surface; `None` if nobody said.
    pub at: Option<At>,
    /// From the nose face outward, mm; inside the taper negative.
    pub height_mm: Option<f64>,
    /// Which time the bar was put in.
    pub seating: Option<u32>,
    /// How far the bar was turned in the spindle, degrees.
    pub orientation_deg: Option<f64>,
}

impl Place {
    /// On a surface, at this height from the nose face outward, mm.
    pub fn on(at: At, height_mm: f64) -> Self {
        Self {
            at: Some(at),
            height_mm: Some(height_mm),
            ..Self::default()
        }
    }

    /// The same in this seating, with the bar turned by so much, degrees.
    #[must_use]
    pub fn seated(
        self,
        seating: impl Into<Option<u32>>,
        orientation_deg: impl Into<Option<f64>>,
    ) -> Self {
        Self {
            seating: seating.into(),
            orientation_deg: orientation_deg.into(),
            ..self
        }
    }

    /// The same surface and height, whatever the seating.
    #[must_use]
    pub fn of_any_seating(&self) -> Self {
        Self {
            seating: None,
            orientation_deg: None,
            ..*self
        }
    }

    /// Whether the bar was read here: told so, or not told otherwise.
    pub fn may_be_bar(&self) -> bool {
        matches!(self.at, Some(At::Bar) | None)
    }

    /// The orientation, an unsaid one being 0°.
    pub fn orientation_or_zero_deg(&self) -> f64 {
        self.orientation_deg.unwrap_or(0.0)
    }

    /// Whether two planes were read in one seating: same number, same orientation.
    pub fn same_seating(&self, other: &Self) -> bool {
        self.at == other.at
            && self.seating == other.seating
            && same_angle(
                self.orientation_or_zero_deg(),
                other.orientation_or_zero_deg(),
            )
    }

    /// Whether two planes are at one height of one surface.
    pub fn same_height(&self, other: &Self) -> bool {
        self.at == other.at && same_height(self.height_mm, other.height_mm)
    }

    /// Whether rows of two places are of one plane.
    pub fn same_plane(&self, other: &Self) -> bool {
        let same = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => same_angle(a, b),
            (a, b) => a.is_none() && b.is_none(),
        };
        self.same_height(other)
            && self.seating == other.seating
            && same(self.orientation_deg, other.orientation_deg)
    }
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.at.map_or("plane", At::word))?;
        if let Some(height) = self.height_mm {
            if height < 0.0 {
                write!(f, " {} mm inside the mouth", -height)?;
            } else {
                write!(f, " at {height} mm")?;
            }
        }
        if let Some(seating) = self.seating {
            write!(f, ", seating {seating}")?;
        }
        if let Some(orientation) = self.orientation_deg {
            write!(f, ", bar turned {orientation}°")?;
        }
        Ok(())
    }
}

/// Heights closer than this are one height: an indicator is not set nearer than that.
pub const SAME_HEIGHT_MM: f64 = 0.01;

/// A limit holds at planes within this of its height: nobody sets an indicator nearer, mm.
pub const LIMIT_HEIGHT_MM: f64 = 0.5;

/// Whether two heights are one, both unsaid included.
pub fn same_height(a_mm: Option<f64>, b_mm: Option<f64>) -> bool {
    match (a_mm, b_mm) {
        (Some(a), Some(b)) => (a - b).abs() <= SAME_HEIGHT_MM,
        (a, b) => a.is_none() && b.is_none(),
    }
}

/// A reading at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// How far the spindle was turned from position 0, degrees in [0, 360].
    pub angle_deg: f64,
    /// What the indicator showed, µm.
    pub reading_um: f64,
}

/// A reading while the spindle turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passing {
    /// When, s.
    pub time_s: f64,
    /// What the indicator showed, µm.
    pub reading_um: f64,
}

/// How a plane was read.
#[derive(Clone, Debug, PartialEq)]
pub enum Readings {
    /// At rest, position by position, in the order taken.
    Stepped(Vec<Stop>),
    /// Turning, the angle unknown.
    Free(Vec<Passing>),
    /// Turning, with a mark once a turn.
    Marked {
        /// The readings.
        readings: Vec<Passing>,
        /// Times of the mark's rising edges, s.
        edges_s: Vec<f64>,
    },
    /// A TIR somebody saw and noted, µm; no reading behind it.
    Noted(f64),
}

impl Readings {
    /// Whether nothing was read.
    pub fn is_empty(&self) -> bool {
        !matches!(self, Self::Noted(_)) && self.values_um().is_empty()
    }

    /// The readings alone, µm.
    pub fn values_um(&self) -> Vec<f64> {
        match self {
            Self::Stepped(stops) => stops.iter().map(|stop| stop.reading_um).collect(),
            Self::Free(readings) | Self::Marked { readings, .. } => {
                readings.iter().map(|reading| reading.reading_um).collect()
            }
            Self::Noted(_) => Vec::new(),
        }
    }
}

/// The readings of one plane.
#[derive(Clone, Debug, PartialEq)]
pub struct Plane {
    /// Where it is.
    pub place: Place,
    /// What was read there.
    pub readings: Readings,
}

impl Plane {
    /// Read there, so.
    pub fn new(place: Place, readings: Readings) -> Self {
        Self { place, readings }
    }

    /// Read there at rest, position by position.
    pub fn stepped(place: Place, stops: impl IntoIterator<Item = Stop>) -> Self {
        Self::new(place, Readings::Stepped(stops.into_iter().collect()))
    }
}

/// Everything read in one check.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RunoutRecord {
    /// The planes, in the order they were begun.
    pub planes: Vec<Plane>,
    source_notes: Vec<FileNote>,
}

/// One row as a file has it: a reading at an angle or at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Where.
    pub place: Place,
    /// The reading, µm.
    pub reading_um: f64,
    /// At which angle or when.
    pub taken: Taken,
}

/// The angle or the time of a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Taken {
    /// At rest at this angle, degrees.
    AtAngle(f64),
    /// Turning, at this time in s, with the level of the mark if there was a mark.
    AtTime(f64, Option<bool>),
}

impl RunoutRecord {
    /// These planes, of no file.
    pub fn new(planes: impl IntoIterator<Item = Plane>) -> Self {
        Self {
            planes: planes.into_iter().collect(),
            source_notes: Vec::new(),
        }
    }

    /// Adds a remark on what was ignored in the record's file; it is handed on to the result.
    pub fn note(&mut self, note: FileNote) {
        self.source_notes.push(note);
    }

    /// Remarks on the record's file.
    pub fn source_notes(&self) -> &[FileNote] {
        &self.source_notes
    }

    /// The readings of all planes, one after the other, µm.
    pub fn values_um(&self) -> Vec<f64> {
        let planes = self.planes.iter();
        planes
            .flat_map(|plane| plane.readings.values_um())
            .collect()
    }

    /// Gathers rows into planes: rows of equal surface, height, seating and orientation.
    ///
    /// A time row with a mark's level makes the plane a marked one; a rising edge is the time of the first row with
    /// the mark on after one with it off.
    ///
    /// # Errors
    /// [`RunoutError::MixedRows`] when one plane has angles and times.
    pub fn from_rows(rows: &[Row]) -> Result<Self, RunoutError> {
        let mut planes: Vec<(Place, Vec<Row>)> = Vec::new();
        for row in rows {
            match planes
                .iter_mut()
                .find(|(place, _)| place.same_plane(&row.place))
            {
                Some((_, gathered)) => gathered.push(*row),
                None => planes.push((row.place, vec![*row])),
            }
        }
        let planes = planes
            .into_iter()
            .map(|(place, rows)| Ok(Plane::new(place, gather(place, &rows)?)))
            .collect::<Result<Vec<Plane>, _>>()?;
        Ok(Self::new(planes))
    }

    /// Readings typed by hand, at equal positions from 0 on.
    ///
    /// With one reading more than `stops`, the last is the closure at the end of the turn.
    pub fn typed(place: Place, readings_um: &[f64], stops: usize) -> Self {
        let step_deg = 360.0 / count(stops);
        let stops = readings_um
            .iter()
            .enumerate()
            .map(|(position, reading_um)| Stop {
                angle_deg: count(position) * step_deg,
                reading_um: *reading_um,
            });
        Self::new([Plane::stepped(place, stops)])
    }

    /// Refuses what no analysis can make sense of.
    ///
    /// # Errors
    /// [`RunoutError`] for no readings, numbers that are none, angles outside the turn, times that do not increase,
    /// and a record with a single angle throughout.
    pub fn check(&self) -> Result<(), RunoutError> {
        if self.planes.iter().all(|plane| plane.readings.is_empty()) {
            return Err(RunoutError::NoReadings);
        }
        self.planes.iter().try_for_each(check_plane)?;
        self.refuse_one_angle()
    }

    #[expect(
        clippy::float_cmp,
        reason = "a column filled with one value repeats it exactly"
    )]
    fn refuse_one_angle(&self) -> Result<(), RunoutError> {
        let mut angles = Vec::new();
        for plane in &self.planes {
            let Readings::Stepped(stops) = &plane.readings else {
                return Ok(());
            };
            angles.extend(stops.iter().map(|stop| stop.angle_deg));
        }
        match angles.first() {
            Some(&angle_deg) if angles.iter().all(|angle| *angle == angle_deg) => {
                Err(RunoutError::OneAngle { angle_deg })
            }
            _ => Ok(()),
        }
    }
}

fn check_plane(plane: &Plane) -> Result<(), RunoutError> {
    let place = plane.place;
    match &plane.readings {
        Readings::Stepped(stops) => stops.iter().try_for_each(|stop| {
            if !(stop.angle_deg.is_finite() && stop.reading_um.is_finite()) {
                return Err(RunoutError::NotFinite { place });
            }
            match stop.angle_deg {
                0.0..=360.0 => Ok(()),
                angle_deg => Err(RunoutError::AngleOutside { place, angle_deg }),
            }
        }),
        Readings::Free(readings) | Readings::Marked { readings, .. } => {
            check_times(place, readings)
        }
        Readings::Noted(tir_um) if tir_um.is_finite() && *tir_um >= 0.0 => Ok(()),
        Readings::Noted(_) => Err(RunoutError::NotFinite { place }),
    }
}

fn check_times(place: Place, readings: &[Passing]) -> Result<(), RunoutError> {
    if readings
        .iter()
        .any(|r| !(r.time_s.is_finite() && r.reading_um.is_finite()))
    {
        return Err(RunoutError::NotFinite { place });
    }
    match readings
        .windows(2)
        .find(|pair| pair[1].time_s <= pair[0].time_s)
    {
        Some(pair) => Err(RunoutError::TimeBackwards {
            place,
            time_s: pair[1].time_s,
        }),
        None => Ok(()),
    }
}

fn gather(place: Place, rows: &[Row]) -> Result<Readings, RunoutError> {
    let mut stops = Vec::new();
    let mut readings = Vec::new();
    let mut levels = Vec::new();
    for row in rows {
        match row.taken {
            Taken::AtAngle(angle_deg) => stops.push(Stop {
                angle_deg,
                reading_um: row.reading_um,
            }),
            Taken::AtTime(time_s, level) => {
                readings.push(Passing {
                    time_s,
                    reading_um: row.reading_um,
                });
                levels.extend(level.map(|level| (time_s, level)));
            }
        }
    }
    match (stops.is_empty(), readings.is_empty()) {
        (false, false) => Err(RunoutError::MixedRows { place }),
        (false, true) => Ok(Readings::Stepped(stops)),
        _ if levels.is_empty() => Ok(Readings::Free(readings)),
        _ => Ok(Readings::Marked {
            readings,
            edges_s: rising_edges_s(&levels),
        }),
    }
}

fn rising_edges_s(levels: &[(f64, bool)]) -> Vec<f64> {
    levels
        .windows(2)
        .filter(|pair| !pair[0].1 && pair[1].1)
        .map(|pair| pair[1].0)
        .collect()
}

/// Readings in order of their angle, the one back at the first left out.
pub(super) fn once_round(stops: &[Stop]) -> Vec<Stop> {
    let mut turn = stops.to_vec();
    turn.retain(|stop| stop.angle_deg < 360.0);
    turn.sort_by(|a, b| a.angle_deg.total_cmp(&b.angle_deg));
    turn.dedup_by(|a, b| same_angle(a.angle_deg, b.angle_deg));
    turn
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(height_mm: f64, seating: u32, taken: Taken) -> Row {
        Row {
            place: Place::on(At::Bar, height_mm).seated(seating, None),
            reading_um: 1.0,
            taken,
        }
    }

    #[test]
    fn rows_of_one_place_are_one_plane_however_they_are_mixed() {
        let rows = [
            row(20.0, 1, Taken::AtAngle(0.0)),
            row(300.0, 1, Taken::AtAngle(0.0)),
            row(20.0, 1, Taken::AtAngle(90.0)),
            row(20.0, 2, Taken::AtAngle(0.0)),
        ];
        let record = RunoutRecord::from_rows(&rows).expect("stepped planes");
        let sizes: Vec<usize> = record
            .planes
            .iter()
            .map(|p| p.readings.values_um().len())
            .collect();
        assert_eq!(sizes, [2, 1, 1]);
    }

    #[test]
    fn a_mark_that_is_on_from_the_start_has_not_risen() {
        let on = |i: i32| {
            [true, true, false, false, true, false, true][usize::try_from(i).expect("small")]
        };
        let rows: Vec<Row> = (0..7)
            .map(|i| row(20.0, 1, Taken::AtTime(f64::from(i), Some(on(i)))))
            .collect();
        let record = RunoutRecord::from_rows(&rows).expect("a marked plane");
        let Readings::Marked { edges_s, .. } = &record.planes[0].readings else {
            panic!("not marked: {record:?}");
        };
        assert_eq!(*edges_s, [4.0, 6.0]);
    }

    #[test]
    fn refuses_what_has_no_meaning() {
        let stepped = |angles: &[f64]| {
            let rows: Vec<Row> = angles
                .iter()
                .map(|a| row(20.0, 1, Taken::AtAngle(*a)))
                .collect();
            RunoutRecord::from_rows(&rows).and_then(|record| record.check())
        };
        assert_eq!(stepped(&[]), Err(RunoutError::NoReadings));
        assert_eq!(
            stepped(&[90.0, 90.0]),
            Err(RunoutError::OneAngle { angle_deg: 90.0 })
        );
        assert!(matches!(
            stepped(&[0.0, 361.0]),
            Err(RunoutError::AngleOutside { .. })
        ));
        assert!(matches!(
            stepped(&[0.0, -1.0]),
            Err(RunoutError::AngleOutside { .. })
        ));
        assert!(matches!(
            stepped(&[0.0, f64::NAN]),
            Err(RunoutError::NotFinite { .. })
        ));
        let mixed = [
            row(20.0, 1, Taken::AtAngle(0.0)),
            row(20.0, 1, Taken::AtTime(0.0, None)),
        ];
        assert!(matches!(
            RunoutRecord::from_rows(&mixed),
            Err(RunoutError::MixedRows { .. })
        ));
        let backwards = [
            row(20.0, 1, Taken::AtTime(1.0, None)),
            row(20.0, 1, Taken::AtTime(1.0, None)),
        ];
        let record = RunoutRecord::from_rows(&backwards).expect("gathers");
        assert!(matches!(
            record.check(),
            Err(RunoutError::TimeBackwards { .. })
        ));
    }

    #[test]
    fn typed_readings_stand_at_equal_positions_and_may_close_the_turn() {
        let record = RunoutRecord::typed(Place::default(), &[0.0, 1.0, 2.0, 1.0, 0.5], 4);
        let Readings::Stepped(stops) = &record.planes[0].readings else {
            panic!("not stepped: {record:?}");
        };
        let angles: Vec<f64> = stops.iter().map(|stop| stop.angle_deg).collect();
        assert_eq!(angles, [0.0, 90.0, 180.0, 270.0, 360.0]);
    }
}
