//! In: raw frames of one or several streams of a check, and the gauge's calibration. Out: the force record, piece by piece.
//!
//! The same code builds the record live and from a stored capture, so both end in the same digits.

use crate::calibration::quantity;
use crate::capture;
use crate::capture::{Added, Capture, gravest};
use crate::displacement::shown_um;
use crate::link::RawFrame;
use holdtrue_metrology::grip::record::{Sample, Span, SpanKind, SpanReason, Travel};
use holdtrue_metrology::statistics::median;
use holdtrue_protocol::frame;
use holdtrue_protocol::message::{CalibrationRecord, Channel, Fault, FaultChange, FromGauge};
use std::collections::VecDeque;

/// Between two streams of one check the record shows this much time, whatever the clock on the wall says: a stored
/// check must give the same record every time, and nothing is measured across the join.
const PAUSE_S: f64 = 5.0;
/// The check so far is looked at in stretches of this length.
const STRETCH_S: f64 = 0.5;
/// The gauge counts as free when it reads the check's zero within this part of the highest force …
const ZERO_BOUND: f64 = 0.05;
/// … and never nearer than this, N: the least force that counts as a clamp.
const ZERO_BOUND_LEAST_N: f64 = 100.0;
const MM_PER_UM: f64 = 1e-3;
/// For this long.
const FREE_S: f64 = 0.5;

/// A sample, or something known about a stretch.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// A sample that can be used.
    Sample(Sample),
    /// A stretch that is missing, faulty or overloaded.
    Span(Span),
    /// Where the gauge's end face stands.
    Travel(Travel),
}

/// Builds the force record of one check.
#[derive(Clone, Debug)]
pub struct ForceBuilder {
    calibration: CalibrationRecord,
    /// Of what reads the gauge's end face.
    end_probe: Option<CalibrationRecord>,
    capture: Capture,
    offset_s: f64,
    last_s: Option<f64>,
    faulty: Option<(Fault, f64)>,
    levels: Levels,
    gate: Option<FreeGate>,
}

/// After a reconnection nothing counts until the gauge has been seen free: a zero taken under load would make every
/// later clamp too low.
#[derive(Clone, Debug)]
struct FreeGate {
    since_s: f64,
    /// None before anything was measured: then any reading will do.
    free: Option<Free>,
    recent: VecDeque<(f64, f64)>,
}

impl ForceBuilder {
    /// A check whose first stream is of this boot of the gauge.
    pub fn new(calibration: CalibrationRecord, boot: u32) -> Self {
        Self {
            calibration,
            end_probe: None,
            capture: Capture::new(boot),
            offset_s: 0.0,
            last_s: None,
            faulty: None,
            levels: Levels::default(),
            gate: None,
        }
    }

    /// The same with a probe or indicator on the gauge's end face.
    #[must_use]
    pub fn with_end_probe(self, end_probe: Option<CalibrationRecord>) -> Self {
        Self { end_probe, ..self }
    }

    /// The check goes on with another stream, after a pulled cable or a stop.
    pub fn continue_with(&mut self, boot: u32) {
        self.capture = Capture::new(boot);
        self.faulty = None;
        let Some(last_s) = self.last_s else { return };
        let since_s = self.gate.take().map_or(last_s, |gate| gate.since_s);
        self.offset_s = last_s + PAUSE_S;
        self.gate = Some(FreeGate {
            since_s,
            free: self.levels.free(),
            recent: VecDeque::new(),
        });
    }

    /// Whether the gauge is still loaded after a reconnection, so that nothing can be measured yet.
    pub fn is_loaded(&self) -> bool {
        self.gate.as_ref().is_some_and(FreeGate::is_loaded)
    }

    /// Samples taken by the gauge that never arrived.
    pub fn lost_samples(&self) -> u64 {
        self.capture.lost_samples()
    }

    /// Takes one frame and hands over what it adds, in order.
    pub fn take(&mut self, raw: &RawFrame) -> Vec<Piece> {
        let Ok(message) = frame::decode_checked(&raw.0) else {
            return Vec::new();
        };
        if let FromGauge::Fault(change) = message {
            self.note_silence(change);
            return Vec::new();
        }
        let Added {
            samples,
            lost,
            shown,
            ..
        } = self.capture.take_message(&message);
        let mut pieces: Vec<Piece> = lost
            .map(|lost| {
                let reason = SpanReason::SamplesLost {
                    samples: lost.samples,
                };
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
            let travel = self.probe_travel(&sample).filter(|_| self.gate.is_none());
            pieces.extend(travel.map(Piece::Travel));
            self.add(sample, &mut pieces);
        }
        let shown = shown.iter().filter_map(|shown| self.shown_travel(shown));
        pieces.extend(shown.filter(|_| self.gate.is_none()).map(Piece::Travel));
        pieces
    }

    fn probe_travel(&self, sample: &capture::Sample) -> Option<Travel> {
        let probe = self.end_probe.as_ref()?;
        let counts = sample
            .displacement
            .filter(|_| probe.channel == Channel::Displacement)?;
        let lost = sample.faults.contains(Fault::ProbeStep);
        Some(Travel {
            time_s: sample.time_s + self.offset_s,
            mm: (!lost).then(|| MM_PER_UM * quantity(probe, counts)),
        })
    }

    fn shown_travel(&self, shown: &capture::Shown) -> Option<Travel> {
        let indicator = self.end_probe.as_ref();
        let indicator = indicator.filter(|record| record.channel == Channel::Indicator)?;
        Some(Travel {
            time_s: shown.time_s + self.offset_s,
            mm: Some(MM_PER_UM * shown_um(indicator, shown)),
        })
    }

    /// A silent converter gives no samples that could carry the fault.
    fn note_silence(&mut self, change: FaultChange) {
        if change.fault == Fault::AdcSilent && change.active {
            self.faulty = Some((change.fault, self.last_s.unwrap_or(self.offset_s)));
        }
    }

    fn add(&mut self, sample: capture::Sample, pieces: &mut Vec<Piece>) {
        let Some(counts) = sample.force else { return };
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
            self.admit(time_s, quantity(&self.calibration, counts), pieces);
        }
    }

    /// Lets a sample into the record, unless the gauge has yet to be seen free.
    fn admit(&mut self, time_s: f64, force_n: f64, pieces: &mut Vec<Piece>) {
        if let Some(gate) = &mut self.gate {
            if !gate.opens(time_s, force_n) {
                return;
            }
            pieces.push(Piece::Span(Span {
                from_s: gate.since_s,
                to_s: time_s,
                kind: SpanKind::Gap,
                reason: SpanReason::ConnectedAgain,
            }));
            self.gate = None;
        }
        self.levels.take(time_s, force_n);
        pieces.push(Piece::Sample(Sample {
            time_s,
            force_n,
            orientation_deg: None,
        }));
    }
}

/// Reading of the free gauge, and how far from it still counts as free.
#[derive(Clone, Copy, Debug)]
struct Free {
    zero_n: f64,
    bound_n: f64,
}

/// Where the force stood in the check so far, stretch by stretch.
#[derive(Clone, Debug, Default)]
struct Levels {
    medians_n: Vec<f64>,
    stretch: Vec<f64>,
    begun_s: f64,
}

impl Levels {
    fn take(&mut self, time_s: f64, force_n: f64) {
        if self.stretch.is_empty() {
            self.begun_s = time_s;
        } else if time_s >= self.begun_s + STRETCH_S {
            self.medians_n.push(median(&self.stretch));
            self.stretch.clear();
            self.begun_s = time_s;
        }
        self.stretch.push(force_n);
    }

    /// `None` before the first stretch is whole. A check begun on a clamped gauge has its zero later, so it is not simply
    /// what came first.
    fn free(&self) -> Option<Free> {
        let highest_n = self.medians_n.iter().copied().reduce(f64::max)?;
        let lowest_n = self.medians_n.iter().copied().reduce(f64::min)?;
        let half_way_n = f64::midpoint(lowest_n, highest_n);
        let free = |median_n: &f64| *median_n <= half_way_n;
        let free_n: Vec<f64> = self.medians_n.iter().copied().filter(free).collect();
        let zero_n = median(&free_n);
        let bound_n = (ZERO_BOUND * (highest_n - zero_n)).max(ZERO_BOUND_LEAST_N);
        Some(Free { zero_n, bound_n })
    }
}

impl FreeGate {
    /// Takes a sample; whether the gauge has now been free for long enough.
    fn opens(&mut self, time_s: f64, force_n: f64) -> bool {
        self.recent.push_back((time_s, force_n));
        while self
            .recent
            .front()
            .is_some_and(|(first_s, _)| *first_s < time_s - FREE_S)
        {
            self.recent.pop_front();
        }
        self.free.is_none() || self.is_seen_long_enough() && self.is_near_zero()
    }

    fn is_seen_long_enough(&self) -> bool {
        let ends = self.recent.front().zip(self.recent.back());
        ends.is_some_and(|((first_s, _), (last_s, _))| last_s - first_s > 0.9 * FREE_S)
    }

    fn is_near_zero(&self) -> bool {
        let forces: Vec<f64> = self.recent.iter().map(|(_, force)| *force).collect();
        let near = |free: Free| (median(&forces) - free.zero_n).abs() <= free.bound_n;
        self.free.is_none_or(near)
    }

    fn is_loaded(&self) -> bool {
        self.is_seen_long_enough() && !self.is_near_zero()
    }
}

fn kind(fault: Fault) -> SpanKind {
    match fault {
        Fault::Saturated | Fault::Overload => SpanKind::Overload,
        _ => SpanKind::Fault,
    }
}

fn reason(fault: Fault) -> SpanReason {
    match fault {
        Fault::AdcSilent => SpanReason::ConverterSilent,
        Fault::OpenBridge => SpanReason::OpenBridge,
        Fault::Saturated => SpanReason::Saturated,
        Fault::Overload => SpanReason::Overload,
        Fault::ProbeStep => SpanReason::ProbeLostCounts,
        Fault::IndicatorSilent => SpanReason::IndicatorSilent,
        Fault::IndicatorGarbled => SpanReason::IndicatorGarbled,
    }
}

fn span(fault: Fault, from_s: f64, to_s: f64) -> Span {
    Span {
        from_s,
        to_s,
        kind: kind(fault),
        reason: reason(fault),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::sample::record;
    use holdtrue_protocol::block::{BlockEncoder, Taken};
    use holdtrue_protocol::frame::{MAX_PLAIN, encode_plain};
    use holdtrue_protocol::message::Faults;

    /// One count is one newton.
    fn calibration() -> CalibrationRecord {
        CalibrationRecord {
            coefficients: [0.0, 1.0, 0.0, 0.0],
            expanded_relative: 0.0,
            ..record()
        }
    }

    fn raw(message: &FromGauge<'_>) -> RawFrame {
        let mut buffer = [0; MAX_PLAIN];
        RawFrame(encode_plain(message, &mut buffer).unwrap().to_vec())
    }

    /// A thousand samples a second of one boot, all of one force, in blocks of ten.
    struct Gauge {
        boot: u32,
        number: u64,
    }

    impl Gauge {
        fn samples(&mut self, count: u64, counts: i32, faults: Faults) -> Vec<RawFrame> {
            let mut frames = Vec::new();
            let mut encoder = BlockEncoder::new();
            for _ in 0..count {
                let at_us = 1_000_000 + 1_000 * self.number;
                let (boot, number) = (self.boot, self.number);
                let taken = Taken {
                    boot,
                    number,
                    at_us,
                    force: Some(counts),
                    displacement: None,
                    faults,
                };
                assert!(encoder.push(&taken));
                self.number += 1;
                if encoder.count() == 10 {
                    frames.push(raw(&FromGauge::Block(encoder.block().unwrap())));
                    encoder.clear();
                }
            }
            frames
        }
    }

    fn all(builder: &mut ForceBuilder, frames: &[RawFrame]) -> Vec<Piece> {
        frames
            .iter()
            .flat_map(|frame| builder.take(frame))
            .collect()
    }

    fn spans<'p>(pieces: &'p [Piece]) -> Vec<&'p Span> {
        let span = |piece: &'p Piece| {
            if let Piece::Span(span) = piece {
                Some(span)
            } else {
                None
            }
        };
        pieces.iter().filter_map(span).collect()
    }

    fn count(pieces: &[Piece]) -> usize {
        pieces.len() - spans(pieces).len()
    }

    const SOUND: Faults = Faults(0);

    #[test]
    fn lost_blocks_are_a_gap_with_their_number() {
        let mut gauge = Gauge { boot: 1, number: 0 };
        let mut frames = gauge.samples(100, 5, SOUND);
        frames.drain(3..5);
        let mut builder = ForceBuilder::new(calibration(), 1);
        let pieces = all(&mut builder, &frames);
        assert_eq!(builder.lost_samples(), 20);
        assert_eq!(count(&pieces), 80);
        let [gap] = spans(&pieces)[..] else {
            panic!("{pieces:?}")
        };
        assert!(
            gap.kind == SpanKind::Gap && gap.reason == SpanReason::SamplesLost { samples: 20 },
            "{gap:?}"
        );
        assert!(
            (gap.from_s - 0.029).abs() < 1e-9 && (gap.to_s - 0.050).abs() < 1e-9,
            "{gap:?}"
        );
    }

    #[test]
    fn samples_of_an_open_bridge_are_left_out_and_marked() {
        let mut gauge = Gauge { boot: 1, number: 0 };
        let open = Faults(1 << Fault::OpenBridge as u16);
        let mut frames = gauge.samples(100, 5, SOUND);
        frames.extend(gauge.samples(50, 8_000_000, open));
        frames.extend(gauge.samples(100, 5, SOUND));
        let pieces = all(&mut ForceBuilder::new(calibration(), 1), &frames);
        assert_eq!(count(&pieces), 200);
        let last = spans(&pieces).pop().unwrap().clone();
        assert_eq!(last.kind, SpanKind::Fault);
        assert!(
            (last.from_s - 0.100).abs() < 1e-9 && (last.to_s - 0.150).abs() < 1e-9,
            "{last:?}"
        );
    }

    #[test]
    fn an_overload_is_marked_and_its_samples_kept() {
        let mut gauge = Gauge { boot: 1, number: 0 };
        let frames = gauge.samples(20, 25_000, Faults(1 << Fault::Overload as u16));
        let pieces = all(&mut ForceBuilder::new(calibration(), 1), &frames);
        assert_eq!(
            (count(&pieces), spans(&pieces)[0].kind),
            (20, SpanKind::Overload)
        );
    }

    #[test]
    fn frames_of_another_boot_are_never_joined() {
        let frames = Gauge { boot: 2, number: 0 }.samples(20, 5, SOUND);
        assert!(all(&mut ForceBuilder::new(calibration(), 1), &frames).is_empty());
    }

    #[test]
    fn after_a_reconnection_a_loaded_gauge_gives_no_sample_and_no_zero() {
        let mut builder = ForceBuilder::new(calibration(), 1);
        let mut first = Gauge { boot: 1, number: 0 };
        let mut frames = first.samples(1_000, 40, SOUND);
        frames.extend(first.samples(1_000, 10_040, SOUND));
        all(&mut builder, &frames);
        builder.continue_with(2);
        let mut second = Gauge { boot: 2, number: 0 };
        let loaded = all(&mut builder, &second.samples(3_000, 9_000, SOUND));
        assert!(loaded.is_empty() && builder.is_loaded(), "{loaded:?}");
        let free = all(&mut builder, &second.samples(2_000, 60, SOUND));
        assert!(!builder.is_loaded() && count(&free) > 1_000);
        let [gap] = spans(&free)[..] else {
            panic!("one gap expected")
        };
        assert!(
            (gap.from_s - 1.999).abs() < 1e-9,
            "the gap begins where the first stream ended: {gap:?}"
        );
    }

    #[test]
    fn a_check_begun_on_a_clamped_gauge_knows_its_zero_all_the_same() {
        let mut builder = ForceBuilder::new(calibration(), 1);
        let mut first = Gauge { boot: 1, number: 0 };
        for counts in [10_040, 40, 10_040] {
            all(&mut builder, &first.samples(2_000, counts, SOUND));
        }
        builder.continue_with(2);
        let mut second = Gauge { boot: 2, number: 0 };
        let loaded = all(&mut builder, &second.samples(2_000, 10_040, SOUND));
        assert!(loaded.is_empty() && builder.is_loaded());
        let free = all(&mut builder, &second.samples(2_000, 40, SOUND));
        assert!(count(&free) > 1_000 && !builder.is_loaded());
    }

    #[test]
    fn a_check_without_one_sound_sample_asks_for_no_zero_of_its_own() {
        let mut builder = ForceBuilder::new(calibration(), 1);
        let open = Faults(1 << Fault::OpenBridge as u16);
        let mut first = Gauge { boot: 1, number: 0 };
        all(&mut builder, &first.samples(2_000, 8_000_000, open));
        builder.continue_with(2);
        let mut second = Gauge { boot: 2, number: 0 };
        assert_eq!(
            count(&all(&mut builder, &second.samples(100, 40, SOUND))),
            100
        );
    }

    #[test]
    fn a_gauge_reconnected_twice_is_asked_for_its_zero_each_time() {
        let mut builder = ForceBuilder::new(calibration(), 1);
        all(
            &mut builder,
            &Gauge { boot: 1, number: 0 }.samples(1_000, 0, SOUND),
        );
        builder.continue_with(2);
        all(
            &mut builder,
            &Gauge { boot: 2, number: 0 }.samples(1_000, 5_000, SOUND),
        );
        builder.continue_with(3);
        let pieces = all(
            &mut builder,
            &Gauge { boot: 3, number: 0 }.samples(1_000, 5_000, SOUND),
        );
        assert!(pieces.is_empty() && builder.is_loaded());
    }
}
