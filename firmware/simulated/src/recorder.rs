//! In: a simulated gauge and what to stream. Out: the samples, marks and readings a host would decode from its bytes.
//!
//! A host in small, for tests and studies: real frames both ways, keep-alives by the gauge's own clock, nothing lost.

use holdtrue_protocol::block::{self, Sample};
use holdtrue_protocol::frame::{MAX_FRAME, encode_frame};
use holdtrue_protocol::message::{
    Channels, Command, FaultChange, Faults, FromGauge, IndicatorReading, MarkEdge, Press, Refusal,
    Reply, Request, Signal, ToGauge,
};
use holdtrue_protocol::stream::{Decoder, Received};

use crate::gauge::SimulatedGauge;

/// Between keep-alives.
const ALIVE_EVERY_US: u64 = 2_000_000;
/// How long an answer may take.
const ANSWER_US: u64 = 5_000_000;

/// What a stream brought.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Recording {
    /// Samples, in order.
    pub samples: Vec<Sample>,
    /// Faults in force at each sample.
    pub faults: Vec<Faults>,
    /// Fault changes.
    pub fault_changes: Vec<FaultChange>,
    /// Edges of the mark.
    pub marks: Vec<MarkEdge>,
    /// Readings of the digital indicator.
    pub readings: Vec<IndicatorReading>,
    /// Presses of the button.
    pub presses: Vec<Press>,
}

impl Recording {
    /// Times since the first sample, seconds, and force counts.
    pub fn force_counts(&self) -> (Vec<f64>, Vec<i32>) {
        let first_us = self.samples.first().map_or(0.0, |sample| sample.at_us);
        self.samples
            .iter()
            .filter_map(|sample| Some(((sample.at_us - first_us) * 1e-6, sample.force?)))
            .unzip()
    }

    /// Counts of the probe, one a sample that has them.
    pub fn displacement_counts(&self) -> Vec<i32> {
        let samples = self.samples.iter();
        samples.filter_map(|sample| sample.displacement).collect()
    }
}

/// What is to be done in a stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Next {
    /// Let it run.
    Go,
    /// Show this on the light.
    Show(Signal),
    /// It is enough.
    Stop,
}

/// Why nothing was recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Failure {
    /// The gauge refused.
    Refused(Refusal),
    /// The gauge did not answer.
    Silent,
}

/// A host talking to one gauge.
pub struct Recorder<'g> {
    gauge: &'g mut SimulatedGauge,
    decoder: Decoder<MAX_FRAME>,
    next_id: u16,
    alive_us: u64,
    recording: Recording,
    answer: Option<(u16, Result<Reply, Refusal>)>,
}

impl<'g> Recorder<'g> {
    /// Connects.
    pub fn new(gauge: &'g mut SimulatedGauge) -> Self {
        gauge.on_connect();
        Self {
            gauge,
            decoder: Decoder::new(),
            next_id: 0,
            alive_us: 0,
            recording: Recording::default(),
            answer: None,
        }
    }

    /// Asks, and waits for the answer.
    ///
    /// # Errors
    ///
    /// [`Failure`].
    pub fn ask(&mut self, command: Command) -> Result<Reply, Failure> {
        let id = self.post(command);
        let limit_us = self.gauge.now_us() + ANSWER_US;
        while self.gauge.now_us() < limit_us {
            self.listen(1_000);
            if let Some((_, outcome)) = self.answer.take_if(|answer| answer.0 == id) {
                return outcome.map_err(Failure::Refused);
            }
        }
        Err(Failure::Silent)
    }

    /// Streams until `enough` says so, stops, and hands over what came.
    ///
    /// # Errors
    ///
    /// [`Failure`].
    pub fn record(
        &mut self,
        rate_hz: u16,
        channels: Channels,
        enough: impl Fn(&SimulatedGauge, &Recording) -> bool,
    ) -> Result<Recording, Failure> {
        self.lead(rate_hz, channels, |gauge, recording| {
            if enough(gauge, recording) {
                Next::Stop
            } else {
                Next::Go
            }
        })
    }

    /// Streams, and shows on the light what `next` says, until that says stop. It is asked after everything that comes,
    /// and every millisecond.
    ///
    /// # Errors
    ///
    /// [`Failure`].
    pub fn lead(
        &mut self,
        rate_hz: u16,
        channels: Channels,
        mut next: impl FnMut(&SimulatedGauge, &Recording) -> Next,
    ) -> Result<Recording, Failure> {
        self.recording = Recording::default();
        self.ask(Command::Start { rate_hz, channels })?;
        loop {
            match next(self.gauge, &self.recording) {
                Next::Go => {}
                Next::Show(signal) => {
                    self.post(Command::Show(signal));
                }
                Next::Stop => break,
            }
            if self.gauge.now_us() >= self.alive_us + ALIVE_EVERY_US {
                self.alive_us = self.gauge.now_us();
                self.post(Command::KeepAlive);
            }
            self.listen(1_000);
        }
        self.ask(Command::Stop)?;
        Ok(std::mem::take(&mut self.recording))
    }

    fn post(&mut self, command: Command) -> u16 {
        self.next_id = self.next_id.wrapping_add(1);
        let request = ToGauge::Request(Request {
            id: self.next_id,
            command,
        });
        let mut buffer = [0; MAX_FRAME];
        let bytes = encode_frame(&request, &mut buffer).expect("a request fits its frame");
        let mut sent = 0;
        while sent < bytes.len() {
            sent += self.gauge.write(&bytes[sent..]);
            self.listen(1_000);
        }
        self.next_id
    }

    fn listen(&mut self, limit_us: u64) {
        if !self.gauge.advance_to_bytes(limit_us) {
            return;
        }
        let mut buffer = [0; 512];
        loop {
            let count = self.gauge.read(&mut buffer);
            if count == 0 {
                return;
            }
            for byte in &buffer[..count] {
                if let Some(Received::Message { message, .. }) = self.decoder.push_from_gauge(*byte)
                {
                    take(message, &mut self.recording, &mut self.answer);
                }
            }
        }
    }
}

fn take(
    message: FromGauge<'_>,
    recording: &mut Recording,
    answer: &mut Option<(u16, Result<Reply, Refusal>)>,
) {
    match message {
        FromGauge::Block(block) => {
            if let Ok(samples) = block::decode(&block) {
                let before = recording.samples.len();
                recording.samples.extend(samples);
                recording
                    .faults
                    .resize(recording.samples.len().max(before), block.faults);
            }
        }
        FromGauge::Mark(edge) => recording.marks.push(edge),
        FromGauge::Indicator(reading) => recording.readings.push(reading),
        FromGauge::Fault(change) => recording.fault_changes.push(change),
        FromGauge::Answer(found) => *answer = Some((found.id, found.outcome)),
        FromGauge::Pressed(press) => recording.presses.push(press),
        FromGauge::Hello(_) => {}
    }
}
