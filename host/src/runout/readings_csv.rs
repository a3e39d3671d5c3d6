//! The runout record as a CSV file: `angle_deg`, or `time_s` with an optional `mark`; `reading_um` or `reading_in`;
//! optional `at`, `height_mm`, `seating`, `orientation_deg`.
//!
//! In: a file, and where the readings were taken if the file does not say. Out: readings by plane.

use crate::runout::arguments::{PlaceArgs, Way};
use crate::tables::{Column, Header, Kind, Table};
use crate::terminal::error::{Error, Place as FilePlace, Refusal};
use holdtrue_metrology::file_note::FileNote;
use holdtrue_metrology::runout::{
    Place, PlaneResult, Row, RunoutError, RunoutRecord, Taken, same_height,
};
use holdtrue_terms::units::{LengthUnit, MICROMETRES_PER_INCH};
use holdtrue_terms::vocabulary::{At, UnknownWord, Vocabulary, or};

const COLUMNS: &[Column] = &[
    number("angle", &[header("angle_deg", 1.0)]),
    number("time", &[header("time_s", 1.0)]),
    Column {
        required: true,
        ..number(
            "reading",
            &[
                header("reading_um", 1.0),
                header("reading_in", MICROMETRES_PER_INCH),
            ],
        )
    },
    Column {
        kind: Kind::Word(<At as Vocabulary>::WORDS),
        ..number("at", &[header("at", 1.0)])
    },
    number("height", &[header("height_mm", 1.0)]),
    number("seating", &[header("seating", 1.0)]),
    number("orientation", &[header("orientation_deg", 1.0)]),
    number("mark", &[header("mark", 1.0)]),
];

const fn header(name: &'static str, factor: f64) -> Header {
    Header { name, factor }
}

const fn number(key: &'static str, headers: &'static [Header]) -> Column {
    Column {
        key,
        headers,
        kind: Kind::Number,
        required: false,
    }
}

/// Reads a runout record, with what was ignored in its file. The file's own columns come before `place`; without either,
/// rows with a height are the bar's.
///
/// # Errors
/// The first thing in the file that is not as the format says: exit 4. A file that was not taken the way the options
/// say: exit 2.
pub fn read(name: &str, bytes: &[u8], place: &PlaceArgs, way: &Way) -> Result<RunoutRecord, Error> {
    let table = Table::read(name, bytes, COLUMNS)?;
    let mut reader = Reader {
        messages: table.messages.clone(),
        table,
        place,
    };
    let turning = reader.turning(way)?;
    let taken = if turning {
        reader.times(way)?
    } else {
        reader.angles()?
    };
    reader.say_what_is_overridden();
    let readings_um = reader.column("reading");
    let rows = taken
        .into_iter()
        .zip(readings_um)
        .enumerate()
        .map(|(row, (taken, &reading_um))| {
            Ok(Row {
                place: reader.place_of(row)?,
                reading_um,
                taken,
            })
        })
        .collect::<Result<Vec<Row>, Error>>()?;
    let mut record = RunoutRecord::from_rows(&rows).map_err(|e| refused(name, &e))?;
    for note in reader.messages {
        record.note(note);
    }
    Ok(record)
}

/// What the analysis cannot take, as the program says it: exit 4.
pub fn refused(name: &str, error: &RunoutError) -> Error {
    let place = match error {
        RunoutError::OneAngle { .. } | RunoutError::AngleOutside { .. } => {
            FilePlace::file(name).column("angle_deg")
        }
        _ => FilePlace::file(name),
    };
    Error::input(
        place,
        Refusal {
            found: &error.found(),
            expected: error.expected(),
            next: error.next(),
        },
    )
}

/// The unit of the readings in a file; none in one that is no such table.
pub fn unit(name: &str, bytes: &[u8]) -> Option<LengthUnit> {
    let table = Table::read(name, bytes, COLUMNS).ok()?;
    match table.header("reading")? {
        "reading_in" => Some(LengthUnit::In),
        _ => Some(LengthUnit::Um),
    }
}

/// Whether a file has a column that names the surface.
pub fn names_surface(name: &str, bytes: &[u8]) -> bool {
    Table::read(name, bytes, COLUMNS).is_ok_and(|table| table.header("at").is_some())
}

/// Where the first row of a plane stands in a file, at a column; none where the file has no such column.
pub fn place_of_plane(
    name: &str,
    bytes: &[u8],
    plane: &PlaneResult,
    column: &str,
) -> Option<FilePlace> {
    let table = Table::read(name, bytes, COLUMNS).ok()?;
    let header = table.header(column)?;
    let is_at = |row: usize| {
        let surface_is = table
            .words("at")
            .is_none_or(|words| words[row].parse().ok() == plane.place.at);
        let height_is = table
            .numbers("height")
            .is_none_or(|heights| same_height(Some(heights[row]), plane.place.height_mm));
        let seating_is = table
            .numbers("seating")
            .is_none_or(|seatings| plane.place.seating.map(f64::from) == Some(seatings[row]));
        let orientation_is = table
            .numbers("orientation")
            .is_none_or(|orientations| plane.place.orientation_deg == Some(orientations[row]));
        surface_is && height_is && seating_is && orientation_is
    };
    let row = (0..table.len()).find(|row| is_at(*row))?;
    Some(FilePlace::file(name).line(table.line(row)).column(header))
}

struct Reader<'a> {
    table: Table,
    place: &'a PlaceArgs,
    messages: Vec<FileNote>,
}

impl Reader<'_> {
    fn column(&self, key: &str) -> &[f64] {
        self.table.numbers(key).unwrap_or_default()
    }

    /// Whether the spindle turned while the readings were taken.
    fn turning(&mut self, way: &Way) -> Result<bool, Error> {
        let (angles, times) = (self.table.header("angle"), self.table.header("time"));
        let asked_turning = way.free || way.marked;
        match (angles, times) {
            (None, None) => Err(self.table.refuse_header(
                Some("angle_deg"),
                "neither angles nor times",
                "a column angle_deg (stepped) or time_s (turning)",
                "Name the column so in the header line.",
            )),
            (Some(_), None) if asked_turning => Err(Error::usage(
                "--free and --marked are for readings against time, this file has angles: leave the option out",
            )),
            (None, Some(_)) if way.stops.is_some() => Err(Error::usage(
                "--positions is for readings at angles, this file has times: leave the option out",
            )),
            (Some(_), Some(_)) => {
                self.messages.push(if asked_turning {
                    FileNote::AnglesIgnored
                } else {
                    FileNote::TimesIgnored
                });
                Ok(asked_turning)
            }
            (angles, _) => Ok(angles.is_none()),
        }
    }

    fn angles(&mut self) -> Result<Vec<Taken>, Error> {
        if self.table.header("mark").is_some() {
            self.messages.push(FileNote::MarkIgnored);
        }
        let outside = |angle: &f64| !(0.0..=360.0).contains(angle);
        match self.column("angle").iter().position(outside) {
            Some(row) => Err(self.table.refuse(
                row,
                "angle",
                Refusal {
                    found: &self.column("angle")[row].to_string(),
                    expected: "0 to 360, with 360 for the reading after the full turn",
                    next: "Correct the angle.",
                },
            )),
            None => Ok(self
                .column("angle")
                .iter()
                .map(|&deg| Taken::AtAngle(deg))
                .collect()),
        }
    }

    fn times(&mut self, way: &Way) -> Result<Vec<Taken>, Error> {
        let places = (0..self.table.len())
            .map(|row| self.place_of(row))
            .collect::<Result<Vec<Place>, Error>>()?;
        self.table
            .require_growing_within("time", |earlier, later| {
                places[earlier].same_plane(&places[later])
            })?;
        let marks = self.marks()?.filter(|_| !way.free);
        if way.marked && marks.is_none() {
            return Err(self.table.refuse_header(
                Some("mark"),
                "no mark",
                "a column mark with 1 while the mark passes, else 0",
                "Record the mark, or leave --marked out.",
            ));
        }
        let level = |row: usize| marks.as_ref().map(|marks| marks[row]);
        let times = self.column("time").iter().enumerate();
        Ok(times
            .map(|(row, &time_s)| Taken::AtTime(time_s, level(row)))
            .collect())
    }

    fn marks(&self) -> Result<Option<Vec<bool>>, Error> {
        let Some(levels) = self.table.numbers("mark") else {
            return Ok(None);
        };
        let level = |(row, level): (usize, &f64)| match level {
            0.0 => Ok(false),
            1.0 => Ok(true),
            other => Err(self.table.refuse(
                row,
                "mark",
                Refusal {
                    found: &other.to_string(),
                    expected: "1 while the mark passes, else 0",
                    next: "Export the mark as 0 and 1.",
                },
            )),
        };
        levels
            .iter()
            .enumerate()
            .map(level)
            .collect::<Result<_, _>>()
            .map(Some)
    }

    fn say_what_is_overridden(&mut self) {
        let given = [
            ("at", "--at", self.place.at.is_some()),
            ("height", "--height-mm", self.place.height_mm.is_some()),
            ("seating", "--seating", self.place.seating.is_some()),
            (
                "orientation",
                "--orientation-deg",
                self.place.orientation_deg.is_some(),
            ),
        ];
        for (key, option, given) in given {
            if let Some(column) = self.table.header(key).filter(|_| given) {
                self.messages.push(FileNote::OptionIgnored {
                    option: option.to_owned(),
                    column: column.to_owned(),
                });
            }
        }
    }

    fn place_of(&self, row: usize) -> Result<Place, Error> {
        let at = |key: &str| self.table.numbers(key).map(|column| column[row]);
        let seating = match at("seating") {
            Some(number) => Some(self.seating(row, number)?),
            None => self.place.seating,
        };
        let surface = self
            .table
            .words("at")
            .map(|words| words[row].parse())
            .transpose()
            .map_err(|unknown: UnknownWord| {
                self.table.refuse(
                    row,
                    "at",
                    Refusal {
                        found: &unknown.found,
                        expected: &or(unknown.expected),
                        next: "Correct the cell.",
                    },
                )
            })?;
        Ok(with_height_the_bar(Place {
            at: surface.or(self.place.at),
            height_mm: at("height").or(self.place.height_mm),
            seating,
            orientation_deg: at("orientation").or(self.place.orientation_deg),
        }))
    }

    fn seating(&self, row: usize, number: f64) -> Result<u32, Error> {
        let whole = format!("{number}")
            .parse::<u32>()
            .ok()
            .filter(|seating| *seating > 0);
        whole.ok_or_else(|| {
            self.table.refuse(
                row,
                "seating",
                Refusal {
                    found: &number.to_string(),
                    expected: "1 for the first time the bar was put in, 2 for the second and so on",
                    next: "Number the seatings.",
                },
            )
        })
    }
}

/// Where nobody named the surface, a height is one on the bar.
pub fn with_height_the_bar(place: Place) -> Place {
    Place {
        at: place.at.or(place.height_mm.map(|_| At::Bar)),
        ..place
    }
}
