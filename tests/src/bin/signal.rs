//! What a simulated gauge measures goes out as one JSON document, so that the image's chips can be given the same.
//!
//! `signal SEED CONDITION SECONDS`: its calibration, the samples' mean period and the counts of each sample of a grip check
//! since the start command, somebody clamping in a rhythm of his own.

use std::error::Error;

use holdtrue_protocol::message::{Channel, Channels};
use holdtrue_simulated_gauge::SimulatedGauge;
use holdtrue_simulated_gauge::recorder::{Recorder, Recording};
use serde_json::json;

/// As the program asks for them.
const RATE_HZ: u16 = 1_000;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [seed, condition, seconds] = &words[..] else {
        return Err("usage: signal SEED CONDITION SECONDS".into());
    };
    let setup = holdtrue_tests::planes::clamping(seed, condition)?;
    let until_s: f64 = seconds.parse()?;
    let mut records = setup.calibrations.iter();
    let calibration = records
        .find(|record| record.channel == Channel::Force)
        .cloned();
    let mut gauge = SimulatedGauge::new(setup);
    let recording = recorded(&mut gauge, until_s)?;
    let (_, counts) = recording.force_counts();
    let document = json!({
        "calibration": calibration,
        "period_us": period_us(&recording)?,
        "counts": counts,
    });
    println!("{document}");
    Ok(())
}

/// Streams until the last sample is so many seconds after the first.
fn recorded(gauge: &mut SimulatedGauge, until_s: f64) -> Result<Recording, Box<dyn Error>> {
    let channels = Channels {
        force: true,
        ..Channels::default()
    };
    let enough = |_: &SimulatedGauge, recording: &Recording| {
        let ends = recording.samples.first().zip(recording.samples.last());
        ends.is_some_and(|(first, last)| last.at_us - first.at_us >= until_s * 1e6)
    };
    let recording = Recorder::new(gauge).record(RATE_HZ, channels, enough);
    recording.map_err(|failure| format!("the simulated gauge: {failure:?}").into())
}

fn period_us(recording: &Recording) -> Result<f64, Box<dyn Error>> {
    let samples = &recording.samples;
    let [first, .., last] = &samples[..] else {
        return Err("fewer than two samples".into());
    };
    let steps = u32::try_from(last.number - first.number)?;
    Ok((last.at_us - first.at_us) / f64::from(steps))
}
