//! `study`: where the scatter of a check comes from. In: readings of the same parts by several technicians. Out: its parts,
//! as shares of all variation and of the tolerance.

use super::World;
use crate::args::study::StudyArgs;
use crate::error::{Error, Place, Refusal};
use crate::exit::Exit;
use crate::output::Finished;
use crate::study_csv;
use crate::study_words;
use crate::table::read_file;
use holdtrue_metrology::study::{Study, StudySetup, Subject, study};
use serde::Serialize;

/// One source of scatter.
#[derive(Debug, Serialize)]
pub(crate) struct Share {
    /// `repeatability`, `technician`, `interaction`, `reproducibility`, `check`, `part` or `total`.
    pub source: &'static str,
    /// Standard deviation, in the unit of the readings.
    pub standard_deviation: f64,
    /// Of the standard deviation of everything, %; absent where nothing varies.
    pub percent_of_variation: Option<f64>,
    /// Six standard deviations of the tolerance, %; absent without a tolerance.
    pub percent_of_tolerance: Option<f64>,
}

#[derive(Serialize)]
struct Document<'a> {
    check: &'static str,
    schema: u32,
    unit: &'static str,
    tolerance: Option<f64>,
    shares: &'a [Share],
    #[serde(flatten)]
    study: &'a Study,
}

pub(super) fn run(args: &StudyArgs, world: &mut World) -> Result<Finished, Error> {
    let bytes = read_file(&args.from)?;
    let read = study_csv::read(&args.from, &bytes)?;
    for message in &read.messages {
        world.console.message(message);
    }
    let setup = StudySetup {
        subject: if args.gauge_alone {
            Subject::GaugeAlone
        } else {
            Subject::WholeCheck
        },
        tolerance: args.tolerance,
        one_class: args.one_class,
    };
    let found = study(&read.readings, &setup).map_err(|e| {
        Error::input(
            Place::file(&args.from),
            Refusal {
                found: &e.to_string(),
                expected: "every part measured equally often by every technician",
                next: "Complete the table.",
            },
        )
    })?;
    let shares = shares(&found, args.tolerance);
    let document = Document {
        check: "study",
        schema: 1,
        unit: read.unit,
        tolerance: args.tolerance,
        shares: &shares,
        study: &found,
    };
    let text = study_words::study(&found, &shares, read.unit, args.tolerance, &world.settings);
    Finished::new(Exit::Done, &document, text)
}

fn shares(found: &Study, tolerance: Option<f64>) -> Vec<Share> {
    let parts = found.reported();
    let share = |source, variance: f64| Share {
        source,
        standard_deviation: variance.sqrt(),
        percent_of_variation: parts.percent_of_variation(variance),
        percent_of_tolerance: tolerance.map(|width| parts.percent_of_tolerance(variance, width)),
    };
    vec![
        share("repeatability", parts.repeatability),
        share("technician", parts.technician),
        share("interaction", parts.interaction),
        share("reproducibility", parts.reproducibility()),
        share("check", parts.check()),
        share("part", parts.part),
        share("total", parts.total()),
    ]
}
