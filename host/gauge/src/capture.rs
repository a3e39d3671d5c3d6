//! In: the raw frames of one stream. Out: its samples on the gauge's clock, with each gap and fault as a fact of its own.
//!
//! A pure function of the frames: live use and a stored capture give the same samples to the last digit.

use crate::link::RawFrame;
use crate::order::Order;
use holdtrue_protocol::frame;
use holdtrue_protocol::message::{
    Block, Fault, Faults, FromGauge, IndicatorReading, MarkEdge, Press,
};
use std::time::Duration;

/// Six digits.
const MOST_DIGITS: u32 = 999_999;
/// A point before the first of them.
const MOST_DECIMALS: u8 = 6;
/// No plunger goes so far.
const LONGEST_MM: f64 = 1_000.0;
const MM_PER_INCH: f64 = 25.4;
const ABSURD_EDGE: &str = "the mark passed at a time that is not the samples'";

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
    /// What came whole and cannot be: an edge or a reading far from the stream's time, a reading no display shows.
    pub absurd: Option<&'static str>,
    /// When the push button at the gauge was pressed, s on the samples' time axis; before the stream: negative.
    pub presses_s: Vec<f64>,
}

/// The stream so far.
#[derive(Clone, Debug)]
pub struct Capture {
    boot: u32,
    origin_us: Option<u64>,
    order: Order,
    last_s: f64,
    lost_samples: u64,
    /// Edges and readings that came before the first sample.
    early: Vec<Event>,
}

#[derive(Clone, Copy, Debug)]
enum Event {
    Edge(MarkEdge),
    Shown(IndicatorReading),
    Pressed(Press),
}

impl Capture {
    /// A stream of one boot of the gauge; frames of another boot do not belong to it.
    pub fn new(boot: u32) -> Self {
        Self {
            boot,
            origin_us: None,
            order: Order::default(),
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
            Ok(message) => self.take_message(&message),
            Err(_) => Added::default(),
        }
    }

    /// The same of one that is decoded.
    pub(crate) fn take_message(&mut self, message: &FromGauge<'_>) -> Added {
        match message {
            FromGauge::Block(block) if block.boot == self.boot => self.take_block(block),
            FromGauge::Mark(edge) if edge.boot == self.boot => self.take_event(Event::Edge(*edge)),
            FromGauge::Indicator(reading) if reading.boot == self.boot => {
                self.take_event(Event::Shown(*reading))
            }
            FromGauge::Pressed(press) if press.boot == self.boot => {
                self.take_event(Event::Pressed(*press))
            }
            _ => Added::default(),
        }
    }

    fn take_block(&mut self, block: &Block<'_>) -> Added {
        // Whole microseconds are taken off first: the same signal gives the same digits however long the gauge was on.
        let origin_us = self.origin_us.unwrap_or(block.first_us);
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
        let Some((samples, missing)) = self.order.admit(&since_start) else {
            return Added::default();
        };
        self.origin_us = Some(origin_us);
        let samples: Vec<Sample> = samples
            .into_iter()
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
        let lost = self.gap_before(missing, first.time_s);
        self.last_s = last.time_s;
        let mut added = Added {
            samples,
            lost,
            ..Added::default()
        };
        for event in std::mem::take(&mut self.early) {
            self.put(event, origin_us, &mut added);
        }
        added
    }

    fn gap_before(&mut self, samples: u64, time_s: f64) -> Option<Lost> {
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
            Some(origin_us) => self.put(event, origin_us, &mut added),
            None => self.early.push(event),
        }
        added
    }

    /// Adds an event, unless it is far from the samples in time or shows what no display can.
    fn put(&self, event: Event, origin_us: u64, added: &mut Added) {
        let time_s = |at_us| {
            self.order
                .is_near(origin_us, at_us)
                .then(|| seconds_since(origin_us, at_us))
        };
        match event {
            Event::Edge(edge) => match time_s(edge.at_us) {
                Some(time_s) => added.edges.push(Edge {
                    time_s,
                    rising: edge.rising,
                }),
                None => added.absurd = Some(ABSURD_EDGE),
            },
            Event::Shown(reading) => match time_s(reading.at_us).filter(|_| is_shown(&reading)) {
                Some(time_s) => added.shown.push(Shown { time_s, reading }),
                None => added.absurd = Some(fault_words(Fault::IndicatorGarbled)),
            },
            // One far from the stream was for something else.
            Event::Pressed(press) => added.presses_s.extend(time_s(press.at_us)),
        }
    }
}

/// Seconds of a gauge's time after another, to the microsecond; negative before it.
fn seconds_since(origin_us: u64, at_us: u64) -> f64 {
    let after_s = |from, to| Duration::from_micros(to - from).as_secs_f64();
    if at_us >= origin_us {
        after_s(origin_us, at_us)
    } else {
        -after_s(at_us, origin_us)
    }
}

/// Six digits, a point among them, and no more than a metre: what a display can show.
fn is_shown(reading: &IndicatorReading) -> bool {
    let shown = 10_f64.powi(-i32::from(reading.decimals)) * f64::from(reading.digits);
    let unit_mm = if reading.inch { MM_PER_INCH } else { 1.0 };
    reading.digits.unsigned_abs() <= MOST_DIGITS
        && reading.decimals <= MOST_DECIMALS
        && (shown * unit_mm).abs() <= LONGEST_MM
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
