//! Calibrations in the book, as checks. In: what a calibration in the press or on gauge blocks is begun with, its readings
//! one by one. Out: the same, and the table of them as somebody else's program reads it.
//!
//! Readings taken back are struck in the book; they are in no export.

use crate::terminal::error::Error;
use crate::visits::checks::check_inputs::CheckInputs;
use crate::visits::checks::stored_check;
use holdtrue_book::{Book, RecordedKind, Remark};
use serde::{Deserialize, Serialize};
use std::fmt::Write;
use uuid::Uuid;

/// What a calibration was begun with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CalibrationInputs {
    /// How it was done.
    pub method: Method,
    /// The steps asked for, in their order.
    pub steps: Vec<AskedStep>,
    /// The reference: what it is, as on its certificate.
    pub reference: Option<String>,
    /// Expanded uncertainty of the reference (k = 2), % of the load; of gauge blocks none.
    pub reference_percent: Option<f64>,
    /// The certificate it is to become: number, dates, place …, as a certificate file has them.
    #[serde(default)]
    pub certificate: serde_json::Map<String, serde_json::Value>,
}

impl CheckInputs for CalibrationInputs {}

/// How a calibration is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// A force gauge under known loads: steps in N, readings in counts.
    Press,
    /// A displacement sensor or an indicator on gauge blocks: steps and readings in µm, or counts.
    GaugeBlocks,
}

/// One step asked for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AskedStep {
    /// Number of the run, 0 for a preload.
    pub run: u32,
    /// What it is for.
    pub direction: Direction,
    /// Load, N, or height, µm.
    pub nominal: f64,
    /// How far the gauge is turned, degrees.
    pub orientation_deg: Option<f64>,
    /// How long it is held, s.
    pub held_s: Option<f64>,
}

/// What a step is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// To the highest load, to bed everything in.
    Preload,
    /// Loading, or going in.
    Up,
    /// Unloading, or coming out.
    Down,
}

/// One reading, as it is recorded.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CalibrationReading {
    /// The step it was taken at, from 0.
    pub step: u32,
    /// Load, N, or height, µm, as the reference showed it.
    pub value: f64,
    /// Reading, counts or µm.
    pub reading: f64,
}

/// The readings of a calibration that count, in the order they were taken.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn readings(book: &Book, check: Uuid) -> Result<Vec<CalibrationReading>, Error> {
    let struck = Remark::struck(&book.remarks()?);
    let recorded = book.recorded(check)?.into_iter();
    recorded
        .filter(|row| row.kind == RecordedKind::Reading && !struck.contains(&row.id))
        .map(|row| stored_check::read(book, &row.content))
        .collect()
}

/// The readings as a table that `gauge calibrate --from` and `indicator calibrate --from` take.
pub fn table(inputs: &CalibrationInputs, readings: &[CalibrationReading]) -> String {
    let mut text = String::from(match inputs.method {
        Method::Press => "run,direction,load_n,reading_counts,orientation_deg,held_s\n",
        Method::GaugeBlocks => "run,direction,step_um,reading_um\n",
    });
    for row in readings {
        let Some(step) = inputs.steps.get(row.step as usize) else {
            continue;
        };
        let direction = match step.direction {
            Direction::Preload => "preload",
            Direction::Up => "up",
            Direction::Down => "down",
        };
        let cell = |value: Option<f64>| value.unwrap_or(0.0);
        let CalibrationReading { value, reading, .. } = row;
        let start = format!("{},{direction},{value},{reading}", step.run);
        let end = match inputs.method {
            Method::Press => format!(",{},{}", cell(step.orientation_deg), cell(step.held_s)),
            Method::GaugeBlocks => String::new(),
        };
        writeln!(text, "{start}{end}").expect("writing to memory does not fail");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::readings_csv;
    use crate::visits::checks::check_inputs;
    use crate::visits::checks::stored_check::json_of;
    use holdtrue_book::{CheckKind, CheckStart, Recorded, Said, Stamp};

    fn id(number: u128) -> Uuid {
        Uuid::from_u128(number)
    }

    fn stamp() -> Stamp {
        Stamp::new("Technician A", "2026-03-04T09:00:00+01:00")
    }

    fn asked(run: u32, direction: Direction, nominal: f64) -> AskedStep {
        AskedStep {
            run,
            direction,
            nominal,
            orientation_deg: Some(0.0),
            held_s: None,
        }
    }

    /// Begun, read, one reading taken back and taken again: the book gives inputs and table back.
    #[test]
    fn a_calibration_in_the_press_is_a_check_and_its_table_an_export() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("press.holdtrue");
        let mut book = Book::open_or_create(&path).expect("a book");
        let inputs = CalibrationInputs {
            method: Method::Press,
            steps: vec![
                asked(0, Direction::Preload, 20_000.0),
                asked(1, Direction::Up, 0.0),
                asked(1, Direction::Up, 10_000.0),
            ],
            reference: Some("load cell TP-R-1".to_owned()),
            reference_percent: Some(0.1),
            certificate: serde_json::Map::new(),
        };
        let start = CheckStart {
            id: id(1),
            visit: None,
            kind: CheckKind::Calibration,
            state: None,
            gauge: None,
            calibration: None,
            limits_sha256: None,
            content: check_inputs::to_keep(&inputs).expect("JSON"),
            stamp: stamp(),
        };
        book.start_check(&start).expect("begun");
        let taken = [
            (0, 20_010.0, 1_720_860.0),
            (1, 0.0, 120.0),
            (2, 9_000.0, 1.0),
            (2, 10_000.0, 860_120.0),
        ];
        for (number, (step, value, reading)) in (1..).zip(taken) {
            let content = CalibrationReading {
                step,
                value,
                reading,
            };
            let row = Recorded {
                id: id(10 + u128::from(number)),
                check: start.id,
                kind: RecordedKind::Reading,
                number,
                content: json_of(&content).expect("JSON"),
                stamp: stamp(),
            };
            book.record(&row).expect("recorded");
        }
        book.remark(&Remark {
            id: id(20),
            said: Said::Strike,
            target: id(13),
            change: None,
            reason: "taken back".to_owned(),
            stamp: stamp(),
        })
        .expect("struck");
        let read: CalibrationInputs = check_inputs::read(&book, &start).expect("inputs");
        assert_eq!(read, inputs);
        let readings = readings(&book, start.id).expect("readings");
        let table = table(&read, &readings);
        let expected = "run,direction,load_n,reading_counts,orientation_deg,held_s\n\
                        0,preload,20010,1720860,0,0\n1,up,0,120,0,0\n1,up,10000,860120,0,0\n";
        assert_eq!(table, expected);
        readings_csv::read("press.csv", table.as_bytes()).expect("what the command reads");
    }

    #[test]
    fn each_of_its_inputs_is_in_the_description_of_the_book() {
        check_inputs::stand_on_the_page::<CalibrationInputs>("calibration");
    }
}
