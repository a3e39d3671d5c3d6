//! The force record the analysis works on.
//!
//! In come times, forces and what is known about them (missing stretches, faults, overloads, how the gauge was turned);
//! out goes a record that is safe to compute on, or a refusal that names the sample.

use crate::file_note::FileNote;
use crate::statistics;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A reading of the end face: grows as the gauge comes out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Travel {
    /// When, s on the record's time axis.
    pub time_s: f64,
    /// Where it stands, mm; any origin. None: counts were lost here, what comes after has another origin.
    pub mm: Option<f64>,
}

/// A step is a gap only if it is longer than this many median spacings …
const GAP_SPACINGS: f64 = 5.0;
/// … and longer than this, so that a jittering slow clock is not a row of gaps.
const GAP_MIN_S: f64 = 0.050;

/// Beyond this no gauge reads, N: a wrong unit, or damage.
pub const LARGEST_N: f64 = 1e9;
/// Beyond this no clock runs, s, and steps between samples would be lost to rounding.
const LONGEST_S: f64 = 1e10;

/// Why a stretch of the record is not what it seems.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpanKind {
    /// Samples are missing.
    Gap,
    /// The gauge reported itself faulty; its samples in the span are left out of the record.
    Fault,
    /// The gauge was loaded beyond its rated load, in tension or compression, or its converter was saturated.
    Overload,
}

/// What is wrong with a stretch of a record.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum SpanReason {
    /// Samples were lost between gauge and computer.
    SamplesLost {
        /// How many.
        samples: u64,
    },
    /// The gauge was connected again.
    ConnectedAgain,
    /// The times show a gap.
    NoSamples {
        /// How long, s.
        for_s: f64,
    },
    /// A load beyond what the gauge is rated for.
    OverRated {
        /// The load, N.
        load_n: f64,
        /// Rated for, N.
        rated_n: f64,
    },
    /// The gauge's converter fell silent.
    ConverterSilent,
    /// A wire of the load cell is open.
    OpenBridge,
    /// Beyond what the converter can read.
    Saturated,
    /// Beyond the gauge's rated load, as it reports.
    Overload,
    /// A probe beside it lost counts.
    ProbeLostCounts,
    /// An indicator beside it sends nothing.
    IndicatorSilent,
    /// An indicator beside it sent no reading.
    IndicatorGarbled,
}

/// A stretch of the record that is marked.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// Where it begins, s on the record's time axis.
    pub from_s: f64,
    /// Where it ends, s.
    pub to_s: f64,
    /// What is wrong with it.
    pub kind: SpanKind,
    /// Why, as the gauge reported it or the times show it.
    pub reason: SpanReason,
}

impl Span {
    /// Whether the span and the closed interval have a point in common.
    pub fn touches(&self, from_s: f64, to_s: f64) -> bool {
        self.from_s <= to_s && self.to_s >= from_s
    }
}

/// One reading of the gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// When, s; any origin.
    pub time_s: f64,
    /// Force in N, tension positive, gauge offset not taken off.
    pub force_n: f64,
    /// How far the gauge was turned in the spindle, degrees, where known.
    pub orientation_deg: Option<f64>,
}

/// Why a record was refused.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum RecordError {
    /// Times and forces do not pair up.
    #[error(
        "the force record has {times} times and {forces} forces; it needs one force for every time"
    )]
    Unpaired {
        /// Number of times.
        times: usize,
        /// Number of forces (or orientations).
        forces: usize,
    },
    /// Not a number, or infinite.
    #[error(
        "sample {number} of the force record: {what} is {value}; a finite number is needed, correct or remove the row"
    )]
    NotFinite {
        /// Which sample, counted from 1.
        number: usize,
        /// Time, force or orientation.
        what: &'static str,
        /// What was found.
        value: f64,
    },
    /// Too large to be one.
    #[error(
        "sample {number} of the force record: {what} is {value}, and no gauge reads beyond {most}; check the unit"
    )]
    Beyond {
        /// Which sample, counted from 1.
        number: usize,
        /// Time or force.
        what: &'static str,
        /// What was found.
        value: f64,
        /// The most that is taken.
        most: f64,
    },
    /// Time stands still or runs backwards.
    #[error(
        "sample {number} of the force record: time {found_s} s follows {before_s} s; times must grow from sample to sample"
    )]
    TimeNotIncreasing {
        /// Which sample, counted from 1.
        number: usize,
        /// The time before it, s.
        before_s: f64,
        /// Its time, s.
        found_s: f64,
    },
}

/// Force against time, with everything known about it. Times grow strictly, all numbers are finite.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ForceRecord {
    time_s: Vec<f64>,
    force_n: Vec<f64>,
    /// Empty where no orientation is known at all, else one entry a sample.
    orientation_deg: Vec<Option<f64>>,
    /// Where the gauge's end face stood; empty where nothing read it.
    travel: Vec<Travel>,
    spans: Vec<Span>,
    source_notes: Vec<FileNote>,
}

impl ForceRecord {
    /// A record of `force_n` (N, tension positive) at `time_s` (s, strictly increasing, spacing free).
    ///
    /// # Errors
    /// Unequal lengths, a number that is not finite, times that do not grow.
    pub fn new(time_s: &[f64], force_n: &[f64]) -> Result<Self, RecordError> {
        Self::of(time_s.to_vec(), force_n.to_vec())
    }

    /// The same of columns that are given away: a long record is not held twice.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn of(time_s: Vec<f64>, force_n: Vec<f64>) -> Result<Self, RecordError> {
        if time_s.len() != force_n.len() {
            return Err(RecordError::Unpaired {
                times: time_s.len(),
                forces: force_n.len(),
            });
        }
        let mut before_s = None;
        for (number, (&time_s, &force_n)) in (1..).zip(time_s.iter().zip(&force_n)) {
            sound(number, before_s, time_s, force_n)?;
            before_s = Some(time_s);
        }
        Ok(Self {
            time_s,
            force_n,
            ..Self::default()
        })
    }

    /// The same record with the gauge's orientation in the spindle, degrees, one for every sample.
    ///
    /// # Errors
    /// Unequal lengths or an angle that is not finite.
    pub fn with_orientation(mut self, orientation_deg: &[f64]) -> Result<Self, RecordError> {
        if orientation_deg.len() != self.len() {
            return Err(RecordError::Unpaired {
                times: self.len(),
                forces: orientation_deg.len(),
            });
        }
        for (index, &value) in orientation_deg.iter().enumerate() {
            finite(index + 1, "orientation", value)?;
        }
        self.orientation_deg = orientation_deg.iter().copied().map(Some).collect();
        Ok(self)
    }

    /// Appends one sample.
    ///
    /// # Errors
    /// A number that is not finite, or a time not after the last one.
    pub fn push(&mut self, sample: Sample) -> Result<(), RecordError> {
        let number = self.len() + 1;
        let before_s = self.time_s.last().copied();
        sound(number, before_s, sample.time_s, sample.force_n)?;
        if let Some(angle) = sample.orientation_deg {
            finite(number, "orientation", angle)?;
        }
        if sample.orientation_deg.is_some() && self.orientation_deg.is_empty() {
            self.orientation_deg = vec![None; self.len()];
        }
        if sample.orientation_deg.is_some() || !self.orientation_deg.is_empty() {
            self.orientation_deg.push(sample.orientation_deg);
        }
        self.time_s.push(sample.time_s);
        self.force_n.push(sample.force_n);
        Ok(())
    }

    /// Adds a reading of the gauge's end face. One that is no number, or comes before the last one, adds nothing.
    pub fn push_travel(&mut self, travel: Travel) {
        let later = self
            .travel
            .last()
            .is_none_or(|last| travel.time_s > last.time_s);
        if later && travel.mm.is_none_or(f64::is_finite) && travel.time_s.is_finite() {
            self.travel.push(travel);
        }
    }

    /// Where the gauge's end face stood.
    pub fn travel(&self) -> &[Travel] {
        &self.travel
    }

    /// Marks a stretch as missing, faulty or overloaded. Samples taken in a fault are left out by the caller.
    pub fn mark(&mut self, span: Span) {
        self.spans.push(span);
    }

    /// Adds a remark on where the record comes from or what was ignored in it; it is handed on to the result.
    pub fn note(&mut self, note: FileNote) {
        self.source_notes.push(note);
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether there is no sample.
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// Times, s.
    pub fn time_s(&self) -> &[f64] {
        &self.time_s
    }

    /// Forces, N, as read: the offset is not taken off.
    pub fn force_n(&self) -> &[f64] {
        &self.force_n
    }

    /// Orientation of a sample, degrees, where known.
    pub fn orientation_at(&self, index: usize) -> Option<f64> {
        self.orientation_deg.get(index).copied().flatten()
    }

    /// The samples one by one.
    pub fn samples(&self) -> impl Iterator<Item = Sample> + '_ {
        (0..self.len()).map(|index| Sample {
            time_s: self.time_s[index],
            force_n: self.force_n[index],
            orientation_deg: self.orientation_at(index),
        })
    }

    /// The stretches marked by whoever made the record, without the gaps told from the times alone.
    pub fn marked_spans(&self) -> &[Span] {
        &self.spans
    }

    /// Remarks on the record's source.
    pub fn source_notes(&self) -> &[FileNote] {
        &self.source_notes
    }

    /// Median step between neighbouring samples, s; `None` below two samples.
    pub fn median_spacing_s(&self) -> Option<f64> {
        let steps = || self.time_s.windows(2).map(|pair| pair[1] - pair[0]);
        (self.len() > 1).then(|| statistics::median_of(steps))
    }

    /// All marked stretches and the gaps told from the times: a step over 5 × the median step and over 50 ms.
    pub fn spans(&self) -> Vec<Span> {
        self.spans_at(self.median_spacing_s())
    }

    /// The same where the median step is known.
    pub(super) fn spans_at(&self, spacing_s: Option<f64>) -> Vec<Span> {
        let gaps = spacing_s.map(|spacing_s| self.gaps_in_time(spacing_s));
        let gaps = gaps.into_iter().flatten();
        self.spans.iter().cloned().chain(gaps).collect()
    }

    fn gaps_in_time(&self, spacing: f64) -> Vec<Span> {
        let longest = (GAP_SPACINGS * spacing).max(GAP_MIN_S);
        let steps = self
            .time_s
            .windows(2)
            .filter(|pair| pair[1] - pair[0] > longest);
        steps
            .map(|pair| Span {
                from_s: pair[0],
                to_s: pair[1],
                kind: SpanKind::Gap,
                reason: SpanReason::NoSamples {
                    for_s: pair[1] - pair[0],
                },
            })
            .collect()
    }

    /// The first `samples` samples. Marked stretches that begin after them go, one that runs over the end is cut.
    #[must_use]
    pub fn cut_to(&self, samples: usize) -> Self {
        let samples = samples.min(self.len());
        let mut cut = self.clone();
        cut.time_s.truncate(samples);
        cut.force_n.truncate(samples);
        cut.orientation_deg.truncate(samples);
        let end_s = cut.time_s.last().copied().unwrap_or(f64::NEG_INFINITY);
        cut.travel.retain(|reading| reading.time_s <= end_s);
        cut.spans.retain(|span| span.from_s <= end_s);
        for span in &mut cut.spans {
            span.to_s = span.to_s.min(end_s);
        }
        cut
    }
}

/// Whether a sample can stand behind the one before it.
fn sound(
    number: usize,
    before_s: Option<f64>,
    time_s: f64,
    force_n: f64,
) -> Result<(), RecordError> {
    finite(number, "time", time_s)?;
    finite(number, "force", force_n)?;
    within(number, "time", time_s, LONGEST_S)?;
    within(number, "force", force_n, LARGEST_N)?;
    match before_s.filter(|&before_s| time_s <= before_s) {
        Some(before_s) => Err(RecordError::TimeNotIncreasing {
            number,
            before_s,
            found_s: time_s,
        }),
        None => Ok(()),
    }
}

fn finite(number: usize, what: &'static str, value: f64) -> Result<(), RecordError> {
    if value.is_finite() {
        Ok(())
    } else {
        Err(RecordError::NotFinite {
            number,
            what,
            value,
        })
    }
}

fn within(number: usize, what: &'static str, value: f64, most: f64) -> Result<(), RecordError> {
    if value.abs() <= most {
        return Ok(());
    }
    Err(RecordError::Beyond {
        number,
        what,
        value,
        most,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_that_does_not_grow_is_refused_with_its_sample() {
        let error = ForceRecord::new(&[0.0, 0.1, 0.1], &[1.0, 2.0, 3.0]).unwrap_err();
        assert_eq!(
            error,
            RecordError::TimeNotIncreasing {
                number: 3,
                before_s: 0.1,
                found_s: 0.1
            }
        );
    }

    #[test]
    fn a_force_that_is_no_number_is_refused_with_its_sample() {
        let error = ForceRecord::new(&[0.0, 0.1], &[1.0, f64::NAN]).unwrap_err();
        assert!(
            matches!(
                error,
                RecordError::NotFinite {
                    number: 2,
                    what: "force",
                    ..
                }
            ),
            "{error}"
        );
    }

    #[test]
    fn a_force_no_gauge_reads_is_refused() {
        let error = ForceRecord::new(&[0.0, 0.1], &[1.0, -1e12]).unwrap_err();
        assert!(
            matches!(
                error,
                RecordError::Beyond {
                    number: 2,
                    what: "force",
                    ..
                }
            ),
            "{error}"
        );
    }

    #[test]
    fn a_gap_needs_both_five_median_steps_and_fifty_milliseconds() {
        // At 1 kHz 20 ms are twenty median steps, but no gap; at 20 Hz 0.2 s are over 50 ms, but only four steps.
        let fast: Vec<f64> = (0..100)
            .map(|i| f64::from(i) * 0.001 + if i >= 50 { 0.020 } else { 0.0 })
            .collect();
        let slow: Vec<f64> = (0..100)
            .map(|i| f64::from(i) * 0.05 + if i >= 50 { 0.15 } else { 0.0 })
            .collect();
        let gap: Vec<f64> = (0..100)
            .map(|i| f64::from(i) * 0.001 + if i >= 50 { 0.060 } else { 0.0 })
            .collect();
        let spans = |times: &[f64]| {
            ForceRecord::new(times, &vec![0.0; times.len()])
                .unwrap()
                .spans()
        };
        assert!(spans(&fast).is_empty());
        assert!(spans(&slow).is_empty());
        let found = spans(&gap);
        assert_eq!((found.len(), found[0].kind), (1, SpanKind::Gap));
        assert!((found[0].from_s - 0.049).abs() < 1e-12 && (found[0].to_s - 0.110).abs() < 1e-12);
    }

    #[test]
    fn cutting_a_record_cuts_its_marks() {
        let mut record = ForceRecord::new(&[0.0, 1.0, 2.0, 3.0], &[0.0; 4]).unwrap();
        for (from_s, to_s) in [(0.5, 2.5), (2.0, 3.0)] {
            record.mark(Span {
                from_s,
                to_s,
                kind: SpanKind::Fault,
                reason: SpanReason::OpenBridge,
            });
        }
        let cut = record.cut_to(2);
        assert_eq!(cut.len(), 2);
        assert_eq!(cut.marked_spans().len(), 1);
        assert!((cut.marked_spans()[0].to_s - 1.0).abs() < 1e-12);
    }
}
