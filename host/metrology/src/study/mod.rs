//! Repeatability and reproducibility of a check: readings of the same parts by several technicians in;
//! where the scatter comes from, as shares of variation and of the tolerance, out.

mod components;

pub use components::{Components, Source};

use crate::special::f_survival;
use crate::statistics::{mean, sum};
use serde::{Deserialize, Serialize};

/// One reading of a study.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StudyReading {
    /// What was measured: a spindle, or a load on a check stand.
    pub part: String,
    /// By whom.
    pub technician: String,
    /// Which repeat.
    pub trial: u32,
    /// The figure, in the unit of the study.
    pub value: f64,
}

/// What was studied.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Subject {
    /// Gauge, spindle and hands together.
    #[default]
    WholeCheck,
    /// The gauge on a press or check stand.
    GaugeAlone,
}

impl Subject {
    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::WholeCheck => "the whole check (gauge, spindle and hands)",
            Self::GaugeAlone => "the gauge alone",
        }
    }
}

/// What is known about a study besides its readings.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StudySetup {
    /// Unit of the readings, for what is said in words.
    pub unit: &'static str,
    /// What was studied.
    pub subject: Subject,
    /// Width of the tolerance, in the unit of the readings, if there is one.
    pub tolerance: Option<f64>,
    /// All spindles are of one taper and class, so that telling them apart means something.
    pub one_class: bool,
}

/// Why readings make no study.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("found {}, expected {}. {}", self.found(), self.expected(), self.next())]
pub enum StudyError {
    /// A value that is no number, or too large for its square to be one worth having.
    NoNumber {
        /// The part.
        part: String,
        /// The technician.
        technician: String,
        /// The trial.
        trial: u32,
        /// The value.
        found: f64,
    },
    /// Too few of something.
    TooFew {
        /// Parts, technicians or trials.
        what: &'static str,
        /// How many.
        found: usize,
    },
    /// Not every technician measured every part equally often.
    Unbalanced {
        /// The part.
        part: String,
        /// The technician.
        technician: String,
        /// Trials found.
        found: usize,
        /// Trials of the first cell.
        expected: usize,
    },
}

/// No reading of a study is larger than this, in whatever unit.
pub const LARGEST_VALUE: f64 = 1e12;

impl StudyError {
    /// What was found, and where.
    pub fn found(&self) -> String {
        match self {
            Self::NoNumber {
                part,
                technician,
                trial,
                found,
            } => format!("{found:e} as trial {trial} of part {part} by technician {technician}"),
            Self::TooFew { what, found: 1 } => format!("1 {}", what.trim_end_matches('s')),
            Self::TooFew { what, found } => format!("{found} {what}"),
            Self::Unbalanced {
                part,
                technician,
                found,
                ..
            } => {
                let trials = if *found == 1 { "trial" } else { "trials" };
                format!("{found} {trials} of part {part}, technician {technician}")
            }
        }
    }

    /// What was expected there.
    pub fn expected(&self) -> String {
        match self {
            Self::NoNumber { .. } => format!(
                "a number between {:e} and {LARGEST_VALUE:e}",
                -LARGEST_VALUE
            ),
            Self::TooFew { .. } => "at least 2".to_owned(),
            Self::Unbalanced { expected, .. } => format!("{expected} as for the others"),
        }
    }

    /// What to do next.
    pub fn next(&self) -> &'static str {
        match self {
            Self::NoNumber { .. } => "Correct the value.",
            Self::TooFew { .. } => {
                "A study needs every part measured by every technician, twice or more: measure what is missing."
            }
            Self::Unbalanced { .. } => "Add the missing trials, or leave the part out.",
        }
    }
}

/// A row of the analysis of variance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// Degrees of freedom.
    pub dof: usize,
    /// Sum of squares.
    pub sum_of_squares: f64,
}

impl Row {
    /// Sum of squares over degrees of freedom.
    pub fn mean_square(&self) -> f64 {
        self.sum_of_squares / self.dof as f64
    }
}

/// The analysis of variance of a crossed study.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// Between parts.
    pub part: Row,
    /// Between technicians.
    pub technician: Row,
    /// Technicians that find some parts higher and others lower than their colleagues.
    pub interaction: Row,
    /// Between trials.
    pub repeatability: Row,
    /// Significance of the interaction; 0 where the trials agree exactly and the interaction does not vanish.
    pub interaction_p: f64,
}

impl Table {
    /// All together.
    pub fn total(&self) -> Row {
        let rows = [
            self.part,
            self.technician,
            self.interaction,
            self.repeatability,
        ];
        Row {
            dof: rows.iter().map(|r| r.dof).sum(),
            sum_of_squares: rows.iter().map(|r| r.sum_of_squares).sum(),
        }
    }
}

/// The result of a study.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Study {
    /// What was studied.
    pub subject: Subject,
    /// Parts, in the order they first appear.
    pub parts: Vec<String>,
    /// Technicians, in the order they first appear.
    pub technicians: Vec<String>,
    /// Trials of each part by each technician.
    pub trials: usize,
    /// The analysis of variance.
    pub table: Table,
    /// Components with the interaction kept.
    pub with_interaction: Components,
    /// Components with the interaction counted as repeatability.
    pub without_interaction: Components,
    /// Whether the interaction is kept in what is reported.
    pub interaction_kept: bool,
    /// Every technician's trials of a part agree to the last digit: their scatter is below the resolution.
    pub trials_agree: bool,
    /// How many groups of parts the check can tell apart; `None` where that means nothing.
    pub distinct_categories: Option<u32>,
    /// What a reader has to know.
    pub notes: Vec<String>,
}

/// Above this significance the interaction is counted as repeatability (common practice in gauge studies).
const POOL_ABOVE_P: f64 = 0.25;

impl Study {
    /// The components that are reported.
    pub fn reported(&self) -> &Components {
        if self.interaction_kept {
            &self.with_interaction
        } else {
            &self.without_interaction
        }
    }
}

/// Splits the scatter of a crossed study.
///
/// Source: two-way analysis of variance with repeats and random effects, NIST/SEMATECH e-Handbook,
/// section 2.4, and common practice of gauge studies (six standard deviations against the tolerance,
/// 1.41 · part/check for distinct categories).
pub fn study(readings: &[StudyReading], setup: &StudySetup) -> Result<Study, StudyError> {
    let cells = Cells::sort(readings)?;
    let table = cells.table();
    let (parts, technicians) = (cells.parts.len(), cells.technicians.len());
    let with_interaction = Components::with_interaction(&table, parts, technicians, cells.trials);
    let without_interaction =
        Components::without_interaction(&table, parts, technicians, cells.trials);
    let interaction_kept = table.interaction_p <= POOL_ABOVE_P;
    let reported = if interaction_kept {
        &with_interaction
    } else {
        &without_interaction
    };
    let mut notes = reported.notes(setup.unit);
    let trials_agree = cells.agree();
    if trials_agree {
        notes.push(
            "all trials of a part by one technician are alike: their scatter is below the resolution of the readings"
                .to_owned(),
        );
    }
    let distinct_categories = reported.distinct_categories().filter(|_| setup.one_class);
    if !setup.one_class {
        notes.push(
            "distinct categories are not given: they mean something only where all parts are of one taper and class (--one-class)"
                .to_owned(),
        );
    }
    if setup.tolerance.is_none() {
        notes.push("no tolerance was given: shares of variation only".to_owned());
    }
    Ok(Study {
        subject: setup.subject,
        parts: cells.parts,
        technicians: cells.technicians,
        trials: cells.trials,
        table,
        with_interaction,
        without_interaction,
        interaction_kept,
        trials_agree,
        distinct_categories,
        notes,
    })
}

/// Values by part and technician.
struct Cells {
    parts: Vec<String>,
    technicians: Vec<String>,
    trials: usize,
    /// `values[part][technician]`.
    values: Vec<Vec<Vec<f64>>>,
}

impl Cells {
    fn sort(readings: &[StudyReading]) -> Result<Self, StudyError> {
        if let Some(bad) = readings
            .iter()
            .find(|r| r.value.is_nan() || r.value.abs() > LARGEST_VALUE)
        {
            return Err(StudyError::NoNumber {
                part: bad.part.clone(),
                technician: bad.technician.clone(),
                trial: bad.trial,
                found: bad.value,
            });
        }
        let parts = distinct(readings.iter().map(|r| &r.part));
        let technicians = distinct(readings.iter().map(|r| &r.technician));
        let cell = |part: &String, technician: &String| -> Vec<f64> {
            let here = |r: &&StudyReading| &r.part == part && &r.technician == technician;
            readings.iter().filter(here).map(|r| r.value).collect()
        };
        let values: Vec<Vec<Vec<f64>>> = parts
            .iter()
            .map(|p| technicians.iter().map(|t| cell(p, t)).collect())
            .collect();
        let trials = values
            .first()
            .and_then(|row| row.first())
            .map_or(0, Vec::len);
        let counts = [
            ("parts", parts.len()),
            ("technicians", technicians.len()),
            ("trials", trials),
        ];
        if let Some((what, found)) = counts.into_iter().find(|(_, n)| *n < 2) {
            return Err(StudyError::TooFew { what, found });
        }
        for (part, row) in parts.iter().zip(&values) {
            for (technician, cell) in technicians.iter().zip(row) {
                if cell.len() != trials {
                    return Err(StudyError::Unbalanced {
                        part: part.clone(),
                        technician: technician.clone(),
                        found: cell.len(),
                        expected: trials,
                    });
                }
            }
        }
        Ok(Self {
            parts,
            technicians,
            trials,
            values,
        })
    }

    /// Whether no trial differs from the first of its part and technician.
    fn agree(&self) -> bool {
        let alike = |cell: &Vec<f64>| {
            cell.windows(2)
                .all(|pair| pair[0].to_bits() == pair[1].to_bits())
        };
        self.values.iter().flatten().all(alike)
    }

    /// Sums of squares about means of values less the overall mean, so that nothing large cancels.
    fn table(&self) -> Table {
        let all: Vec<f64> = self.values.iter().flatten().flatten().copied().collect();
        let centre = mean(&all);
        let (p, t, n) = (self.parts.len(), self.technicians.len(), self.trials);
        let cell: Vec<Vec<f64>> = self
            .values
            .iter()
            .map(|row| {
                row.iter()
                    .map(|c| mean(&c.iter().map(|v| v - centre).collect::<Vec<f64>>()))
                    .collect()
            })
            .collect();
        let part: Vec<f64> = cell.iter().map(|row| mean(row)).collect();
        let technician: Vec<f64> = (0..t)
            .map(|j| mean(&cell.iter().map(|row| row[j]).collect::<Vec<f64>>()))
            .collect();
        let squares = |x: &[f64], each: usize| each as f64 * sum(x.iter().map(|v| v * v));
        let apart = (0..p).flat_map(|i| (0..t).map(move |j| (i, j)));
        let interaction = apart.map(|(i, j)| (cell[i][j] - part[i] - technician[j]).powi(2));
        let within = self.values.iter().zip(&cell).flat_map(|(row, means)| {
            row.iter()
                .zip(means)
                .flat_map(|(c, m)| c.iter().map(move |v| (v - centre - m).powi(2)))
        });
        let row = |dof, sum_of_squares| Row {
            dof,
            sum_of_squares,
        };
        let interaction = row((p - 1) * (t - 1), n as f64 * sum(interaction));
        let repeatability = row(p * t * (n - 1), sum(within));
        Table {
            part: row(p - 1, squares(&part, t * n)),
            technician: row(t - 1, squares(&technician, p * n)),
            interaction,
            repeatability,
            interaction_p: significance(&interaction, &repeatability),
        }
    }
}

fn distinct<'a>(names: impl Iterator<Item = &'a String>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for name in names {
        if !found.contains(name) {
            found.push(name.clone());
        }
    }
    found
}

fn significance(above: &Row, below: &Row) -> f64 {
    let f = above.mean_square() / below.mean_square();
    if f.is_nan() {
        return 1.0; // neither interaction nor scatter
    }
    f_survival(f, above.dof as f64, below.dof as f64).unwrap_or(1.0)
}

#[cfg(test)]
mod tests;
