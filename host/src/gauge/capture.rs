//! In: the raw frames of one stream. Out: its samples on the gauge's clock, with each gap and fault as a fact of its own.
//!
//! A pure function of the frames: live use and a stored capture give the same samples to the last digit.

use crate::link::RawFrame;
use holdtrue_protocol::block;
use holdtrue_protocol::frame;
use holdtrue_protocol::message::{Block, Fault, Faults, FromGauge, IndicatorReading, MarkEdge};
use std::time::Duration;

/// A sample of the converter's clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Seconds since the first sample of the stream.
    pub time_s: f64,
    /// Counts of the load cell.
    pub force: Option<i32>,
    /// Counts of the displacement probe.
    pub displacement: Option<i32>,
    /// Faults in force when it was taken.
    pub faults: Faults,
}

/// Samples that were taken but never arrived, between two that did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lost {
    /// Time of the last sample before.
    pub from_s: f64,
    /// Time of the first sample after.
    pub to_s: f64,
    /// How many are missing.
    pub samples: u64,
}

/// The mark passed its sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// When, s on the samples' time axis.
    pub time_s: f64,
    /// It came in front of the sensor.
    pub rising: bool,
}

/// A digital indicator was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    /// When, s on the samples' time axis.
    pub time_s: f64,
    /// What it showed.
    pub reading: IndicatorReading,
}

/// What one frame added.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Added {
    /// Samples, in order.
    pub samples: Vec<Sample>,
    /// The gap before them, if there is one.
    pub lost: Option<Lost>,
    /// Edges of the mark.
    pub edges: Vec<Edge>,
    /// Readings of a digital indicator.
    pub shown: Vec<Shown>,
}

/// The stream so far.
#[derive(Clone, Debug)]
pub struct Capture {
    boot: u32,
    origin_us: Option<u64>,
    next_sample: u64,
    last_s: f64,
    lost_samples: u64,
    /// Edges and readings that came before the first sample.
    early: Vec<Event>,
}

#[derive(Clone, Copy, Debug)]
enum Event {
    Edge(MarkEdge),
    Shown(IndicatorReading),
}

impl Capture {
    /// A stream of one boot of the gauge; frames of another boot do not belong to it.
    pub fn new(boot: u32) -> Self {
        Self {
            boot,
            origin_us: None,
            next_sample: 0,
            last_s: 0.0,
            lost_samples: 0,
            early: Vec::new(),
        }
    }

    /// Samples that never arrived, so far.
    pub fn lost_samples(&self) -> u64 {
        self.lost_samples
    }

    /// Takes one frame; frames that do not belong to this stream add nothing.
    pub fn take(&mut self, raw: &RawFrame) -> Added {
        match frame::decode_checked(&raw.0) {
            Ok(FromGauge::Block(block)) if block.boot == self.boot => self.take_block(&block),
            Ok(FromGauge::Mark(edge)) if edge.boot == self.boot => {
                self.take_event(Event::Edge(edge))
            }
            Ok(FromGauge::Indicator(reading)) if reading.boot == self.boot => {
                self.take_event(Event::Shown(reading))
            }
            _ => Added::default(),
        }
    }

    fn take_block(&mut self, block: &Block<'_>) -> Added {
        if block.first_sample < self.next_sample {
            return Added::default();
        }
        // Whole microseconds are taken off first: the same signal gives the same digits however long the gauge was on.
        let origin_us = *self.origin_us.get_or_insert(block.first_us);
        let (Some(first_us), Some(last_us)) = (
            block.first_us.checked_sub(origin_us),
            block.last_us.checked_sub(origin_us),
        ) else {
            return Added::default();
        };
        let since_start = Block {
            first_us,
            last_us,
            ..block.clone()
        };
        let Ok(decoded) = block::decode(&since_start) else {
            return Added::default();
        };
        let samples: Vec<Sample> = decoded
            .map(|sample| Sample {
                time_s: sample.at_us * 1e-6,
                force: sample.force,
                displacement: sample.displacement,
                faults: block.faults,
            })
            .collect();
        let (Some(first), Some(last)) = (samples.first(), samples.last()) else {
            return Added::default();
        };
        let lost = self.gap_before(block.first_sample, first.time_s);
        self.last_s = last.time_s;
        self.next_sample = block.first_sample + u64::from(block.count);
        let mut added = Added {
            samples,
            lost,
            ..Added::default()
        };
        for event in self.early.drain(..) {
            added.put(event, origin_us);
        }
        added
    }

    fn gap_before(&mut self, first_sample: u64, time_s: f64) -> Option<Lost> {
        let samples = first_sample - self.next_sample;
        self.lost_samples += samples;
        (samples > 0).then_some(Lost {
            from_s: self.last_s,
            to_s: time_s,
            samples,
        })
    }

    /// Time counts from the first sample, so what comes before it waits for it.
    fn take_event(&mut self, event: Event) -> Added {
        let mut added = Added::default();
        match self.origin_us {
            Some(origin_us) => added.put(event, origin_us),
            None => self.early.push(event),
        }
        added
    }
}

impl Added {
    fn put(&mut self, event: Event, origin_us: u64) {
        let time_s = |at_us: u64| {
            let micros = |us: u64| Duration::from_micros(us).as_secs_f64();
            if at_us >= origin_us {
                micros(at_us - origin_us)
            } else {
                -micros(origin_us - at_us)
            }
        };
        match event {
            Event::Edge(edge) => self.edges.push(Edge {
                time_s: time_s(edge.at_us),
                rising: edge.rising,
            }),
            Event::Shown(reading) => self.shown.push(Shown {
                time_s: time_s(reading.at_us),
                reading,
            }),
        }
    }
}

/// The fault that matters most to a force sample, worst first.
pub fn gravest(faults: Faults) -> Option<Fault> {
    [
        Fault::OpenBridge,
        Fault::AdcSilent,
        Fault::Saturated,
        Fault::Overload,
    ]
    .into_iter()
    .find(|fault| faults.contains(*fault))
}

/// What a fault means to the person holding the gauge.
pub fn fault_words(fault: Fault) -> &'static str {
    match fault {
        Fault::AdcSilent => "the gauge's converter fell silent",
        Fault::OpenBridge => "a wire of the load cell is open",
        Fault::Saturated => "the force is beyond what the converter can read",
        Fault::Overload => "the force is beyond the gauge's rated load",
        Fault::ProbeStep => "the probe lost counts",
        Fault::IndicatorSilent => "the indicator sends nothing",
        Fault::IndicatorGarbled => "the indicator sent something that is no reading",
    }
}
