//! Readings that make no calibration and lines that make no certificate. In: what is wrong with them. Out: what was found,
//! what was expected and what to do next, each for itself.

use crate::regression::FitError;

/// Why readings make no calibration.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("found {}, expected {}. {}", self.found(), self.expected(), self.next())]
pub enum CalibrationError {
    /// A value that is no number, or a load below zero.
    NoNumber {
        /// The run.
        run: u32,
        /// Which value.
        what: &'static str,
        /// The value.
        found: f64,
        /// What would have been right.
        expected: &'static str,
    },
    /// Too few loads for a curve.
    TooFewLoads {
        /// How many.
        found: usize,
    },
    /// As many coefficients as readings: nothing is left to tell how far readings lie from the curve.
    NothingLeft {
        /// How many readings.
        readings: usize,
    },
    /// Some runs with a zero reading, some without.
    ZeroMissing {
        /// The run without.
        run: u32,
    },
    /// The reading goes down as the load goes up.
    Falling {
        /// Lower load, N.
        from_n: f64,
        /// Higher load, N.
        to_n: f64,
        /// Reading at the lower load, counts.
        from_counts: f64,
        /// Reading at the higher load, counts.
        to_counts: f64,
    },
    /// Too few steps of gauge blocks.
    TooFewSteps {
        /// How many.
        found: usize,
    },
    /// A run of gauge blocks without its first step.
    FirstStepMissing {
        /// The run without.
        run: u32,
        /// The lowest step, µm.
        lowest_um: f64,
    },
    /// The indicator reads less on higher blocks.
    IndicatorFalls {
        /// Lower step, µm.
        from_um: f64,
        /// Higher step, µm.
        to_um: f64,
        /// Reading on the lower step less the run's zero, µm.
        from_reading_um: f64,
        /// Reading on the higher step less the run's zero, µm.
        to_reading_um: f64,
    },
    /// The readings lie so far from the blocks that they are in another unit, or of other blocks.
    IndicatorFarOff {
        /// Error of indication, µm.
        error_um: f64,
        /// Span of the blocks, µm.
        span_um: f64,
    },
    /// An uncertainty no indicator has, or one that says nothing.
    UnlikelyUncertainty {
        /// Expanded uncertainty (k = 2), µm.
        expanded_um: f64,
        /// Span of the blocks, µm.
        span_um: f64,
    },
    /// The curve could not be fitted.
    Fit(#[from] FitError),
}

impl CalibrationError {
    /// What was found.
    pub fn found(&self) -> String {
        match self {
            Self::NoNumber {
                run, what, found, ..
            } => format!("{found} for {what} in run {run}"),
            Self::TooFewLoads { found } => {
                format!("{found} different {} going up", plural(*found, "load"))
            }
            Self::NothingLeft { readings } => {
                format!(
                    "{readings} {} for as many coefficients",
                    plural(*readings, "reading")
                )
            }
            Self::ZeroMissing { run } => {
                format!("run {run} without a reading at zero load, others with one")
            }
            Self::Falling {
                from_n,
                to_n,
                from_counts,
                to_counts,
            } => format!(
                "readings that fall from {from_counts} to {to_counts} counts between {from_n} N and {to_n} N"
            ),
            Self::TooFewSteps { found } => {
                format!(
                    "{found} different {} with the plunger going in",
                    plural(*found, "step")
                )
            }
            Self::FirstStepMissing { run, lowest_um } => format!(
                "run {run} without a reading of {lowest_um} µm with the plunger going in, others with one"
            ),
            Self::IndicatorFalls {
                from_um,
                to_um,
                from_reading_um,
                to_reading_um,
            } => format!(
                "{from_reading_um} µm read on {from_um} µm and {to_reading_um} µm on {to_um} µm"
            ),
            Self::IndicatorFarOff { error_um, span_um } => {
                format!("an error of indication of {error_um:.1} µm over {span_um} µm of blocks")
            }
            Self::UnlikelyUncertainty {
                expanded_um,
                span_um,
            } => format!(
                "an uncertainty (k = 2) of {expanded_um:.4} µm of a difference over {span_um} µm of blocks"
            ),
            Self::Fit(why) => format!("readings no curve can be fitted to ({why})"),
        }
    }

    /// What was expected.
    pub fn expected(&self) -> &'static str {
        match self {
            Self::NoNumber { expected, .. } => expected,
            Self::TooFewLoads { .. } | Self::TooFewSteps { .. } => "at least 3",
            Self::NothingLeft { .. } => "at least one reading more",
            Self::ZeroMissing { .. } => "the zero read in every run or in none",
            Self::Falling { .. } => "readings that rise with the load",
            Self::FirstStepMissing { .. } => "every run begun at the lowest step, its zero",
            Self::IndicatorFalls { .. } => "readings that rise with the blocks",
            Self::IndicatorFarOff { .. } => "at most a fifth of the span",
            Self::UnlikelyUncertainty { .. } => {
                "at least 0.01 µm and less than a fifth of the span"
            }
            Self::Fit(_) => "readings at different loads",
        }
    }

    /// What to do next.
    pub fn next(&self) -> &'static str {
        match self {
            Self::NoNumber { .. } => "Correct the table.",
            Self::TooFewLoads { .. } => "Take more loads, spread over the span.",
            Self::NothingLeft { .. } => "Take another run, or a curve of a lower degree.",
            Self::ZeroMissing { .. } => "Take the run again, or leave it out.",
            Self::Falling { .. } => {
                "The signal wires are swapped, or the load sits on the wrong side."
            }
            Self::TooFewSteps { .. } => "Take more steps, spread over the travel that is used.",
            Self::FirstStepMissing { .. } => "Take the run again, or leave it out.",
            Self::IndicatorFalls { .. } => {
                "It counts the wrong way round, or two rows are exchanged."
            }
            Self::IndicatorFarOff { .. } => {
                "Blocks and readings are both in µm: is one of them in mm, or did somebody take other blocks?"
            }
            Self::UnlikelyUncertainty { .. } => {
                "Blocks, their uncertainty and the smallest step are all in µm: is one of them in mm or nm?"
            }
            Self::Fit(_) => "Correct the table, or take the runs again.",
        }
    }

    /// The run it is about.
    pub fn run(&self) -> Option<u32> {
        match self {
            Self::NoNumber { run, .. }
            | Self::ZeroMissing { run }
            | Self::FirstStepMissing { run, .. } => Some(*run),
            _ => None,
        }
    }

    /// The load, N, or step, µm, it is about.
    pub fn at(&self) -> Option<f64> {
        match self {
            Self::Falling { to_n, .. } => Some(*to_n),
            Self::IndicatorFalls { to_um, .. } => Some(*to_um),
            _ => None,
        }
    }
}

fn plural(count: usize, word: &str) -> String {
    if count == 1 {
        word.to_owned()
    } else {
        format!("{word}s")
    }
}

/// Why a certificate cannot be used. Points are counted from one, in the order they were given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("found {}, expected {}. {}", self.found(), self.expected(), self.next())]
pub enum CertificateError {
    /// A value that is no number or not above zero.
    NoNumber {
        /// The point.
        point: usize,
        /// Which value.
        what: &'static str,
        /// The value.
        found: f64,
    },
    /// Too few points.
    TooFew {
        /// How many.
        found: usize,
    },
    /// Another reading at a load there is already.
    TwoReadings {
        /// The point.
        point: usize,
        /// The load, N.
        load_n: f64,
        /// The point with the other reading.
        other: usize,
    },
    /// The reading does not rise with the load.
    Falling {
        /// The point with the higher load.
        point: usize,
        /// Lower load, N.
        from_n: f64,
        /// Higher load, N.
        to_n: f64,
    },
    /// The curve could not be fitted.
    Fit(#[from] FitError),
}

impl CertificateError {
    /// What was found.
    pub fn found(&self) -> String {
        match self {
            Self::NoNumber { what, found, .. } => format!("{found} for {what}"),
            Self::TooFew { found } => format!("{found} {}", plural(*found, "point")),
            Self::TwoReadings { load_n, other, .. } => {
                format!("another reading at {load_n} N than point {other} has")
            }
            Self::Falling { from_n, to_n, .. } => {
                format!("a reading at {to_n} N not above the one at {from_n} N")
            }
            Self::Fit(why) => format!("points no curve can be fitted to ({why})"),
        }
    }

    /// What was expected.
    pub fn expected(&self) -> &'static str {
        match self {
            Self::NoNumber { .. } => "a number above 0",
            Self::TooFew { .. } => "at least 3",
            Self::TwoReadings { .. } => "one reading for each load",
            Self::Falling { .. } => "readings that rise with the load",
            Self::Fit(_) => "points at different loads",
        }
    }

    /// What to do next.
    pub fn next(&self) -> &'static str {
        match self {
            Self::NoNumber { .. } => "Correct the point; the line of no load is not entered.",
            Self::TooFew { .. } => "Enter every line of the certificate but that of no load.",
            Self::TwoReadings { .. } => {
                "Is a load mistyped? Of several runs enter the mean, which certificates state too."
            }
            Self::Falling { .. } => "Check the two lines, or the sign of the gauge's signal.",
            Self::Fit(_) => "Enter every line of the certificate but that of no load.",
        }
    }

    /// The point it is about.
    pub fn point(&self) -> Option<usize> {
        match self {
            Self::NoNumber { point, .. }
            | Self::TwoReadings { point, .. }
            | Self::Falling { point, .. } => Some(*point),
            _ => None,
        }
    }
}
