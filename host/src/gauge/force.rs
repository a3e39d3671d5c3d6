//! In: raw frames of one or several streams of a check, and the gauge's calibration. Out: the force record, piece by piece.
//!
//! The same code builds the record live and from a stored capture, so both end in the same digits.

use super::calibration::quantity;
use super::capture::{Added, ForceCapture, ForceSample, fault_words};
use crate::link::RawFrame;
use holdtrue_metrology::grip::record::{Sample, Span, SpanKind};
use holdtrue_protocol::frame;
use holdtrue_protocol::message::{CalibrationRecord, Fault, FaultChange, Faults, FromGauge};

/// Between two streams of one check the record shows this much time, whatever the clock on the wall says: a stored
/// check must give the same record every time, and nothing is measured across the join.
const PAUSE_S: f64 = 5.0;

/// A sample, or something known about a stretch.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// A sample that can be used.
    Sample(Sample),
    /// A stretch that is missing, faulty or overloaded.
    Span(Span),
}

/// Builds the force record of one check.
#[derive(Clone, Debug)]
pub struct ForceBuilder {
    calibration: CalibrationRecord,
    capture: ForceCapture,
    offset_s: f64,
    last_s: Option<f64>,
    faulty: Option<(Fault, f64)>,
}

impl ForceBuilder {
    /// A check whose first stream is of this boot of the gauge.
    pub fn new(calibration: CalibrationRecord, boot: u32) -> Self {
        Self {
            calibration,
            capture: ForceCapture::new(boot),
            offset_s: 0.0,
            last_s: None,
            faulty: None,
        }
    }

    /// The check goes on with another stream, after a pulled cable or a stop.
    pub fn continue_with(&mut self, boot: u32) -> Option<Span> {
        self.capture = ForceCapture::new(boot);
        self.faulty = None;
        let last_s = self.last_s?;
        self.offset_s = last_s + PAUSE_S;
        Some(Span {
            from_s: last_s,
            to_s: self.offset_s,
            kind: SpanKind::Gap,
            reason: "the gauge was connected again; the time between is not to scale".to_owned(),
        })
    }

    /// Samples taken by the gauge that never arrived.
    pub fn lost_samples(&self) -> u64 {
        self.capture.lost_samples()
    }

    /// Takes one frame and hands over what it adds, in order.
    pub fn take(&mut self, raw: &RawFrame) -> Vec<Piece> {
        if let Ok(FromGauge::Fault(change)) = frame::decode_checked(&raw.0) {
            self.note_silence(change);
            return Vec::new();
        }
        let Added { samples, lost } = self.capture.take(raw);
        let mut pieces: Vec<Piece> = lost
            .map(|lost| {
                let reason = format!(
                    "{} samples were lost between gauge and computer",
                    lost.samples
                );
                let (from_s, to_s) = (lost.from_s + self.offset_s, lost.to_s + self.offset_s);
                Piece::Span(Span {
                    from_s,
                    to_s,
                    kind: SpanKind::Gap,
                    reason,
                })
            })
            .into_iter()
            .collect();
        for sample in samples {
            self.add(sample, &mut pieces);
        }
        pieces
    }

    /// A silent converter gives no samples that could carry the fault.
    fn note_silence(&mut self, change: FaultChange) {
        if change.fault == Fault::AdcSilent && change.active {
            self.faulty = Some((change.fault, self.last_s.unwrap_or(self.offset_s)));
        }
    }

    fn add(&mut self, sample: ForceSample, pieces: &mut Vec<Piece>) {
        let time_s = sample.time_s + self.offset_s;
        let now = gravest(sample.faults);
        if let Some((was, from_s)) = self.faulty
            && now != Some(was)
        {
            pieces.push(Piece::Span(span(was, from_s, time_s)));
            self.faulty = None;
        }
        if let (Some(fault), None) = (now, self.faulty) {
            self.faulty = Some((fault, time_s));
            // The stretch is marked at once, too: the record may end inside it.
            pieces.push(Piece::Span(span(fault, time_s, time_s)));
        }
        self.last_s = Some(time_s);
        if now.is_none_or(|fault| kind(fault) == SpanKind::Overload) {
            let force_n = quantity(&self.calibration, sample.counts);
            pieces.push(Piece::Sample(Sample {
                time_s,
                force_n,
                orientation_deg: None,
            }));
        }
    }
}

/// The fault that matters most to a force sample, worst first.
fn gravest(faults: Faults) -> Option<Fault> {
    [
        Fault::OpenBridge,
        Fault::AdcSilent,
        Fault::Saturated,
        Fault::Overload,
    ]
    .into_iter()
    .find(|fault| faults.contains(*fault))
}

fn kind(fault: Fault) -> SpanKind {
    match fault {
        Fault::Saturated | Fault::Overload => SpanKind::Overload,
        _ => SpanKind::Fault,
    }
}

fn span(fault: Fault, from_s: f64, to_s: f64) -> Span {
    Span {
        from_s,
        to_s,
        kind: kind(fault),
        reason: fault_words(fault).to_owned(),
    }
}
