//! What a simulated gauge measures goes out as one JSON document, so that the image's chips can be given the same.
//!
//! `signal force SEED CONDITION SECONDS`: its calibration, the samples' mean period and the counts of each sample of a
//! grip check since the start command.
//! `signal planes SEED CONDITION round|bar|marked COUNT probe|indicator …`: for each plane of a runout check the samples'
//! mean period, where the probe stood at each, and when the mark's edges and the presses of the button came, in
//! microseconds from the first sample.

use std::error::Error;
use std::str::FromStr;

use holdtrue_protocol::message::{Channel, Channels};
use holdtrue_simulated_gauge::recorder::{Recorder, Recording};
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};
use serde_json::{Value, json};

/// As the program asks for them.
const FORCE_HZ: u16 = 1_000;
const PLANE_HZ: u16 = 330;
/// How long a plane goes on after its last movement, s: longer than anybody waits for rest.
const REST_S: f64 = 6.0;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let document = match words.split_first() {
        Some((kind, words)) if kind == "force" => force(words)?,
        Some((kind, words)) if kind == "planes" => planes(words)?,
        _ => {
            let usage = holdtrue_tests::planes::USAGE;
            return Err(
                format!("usage: signal force SEED CONDITION SECONDS | planes {usage}").into(),
            );
        }
    };
    println!("{document}");
    Ok(())
}

fn force(words: &[String]) -> Result<Value, Box<dyn Error>> {
    let [seed, condition, seconds] = words else {
        return Err("usage: signal force SEED CONDITION SECONDS".into());
    };
    let setup = Setup::new(seed.parse()?, Condition::from_str(condition)?);
    let until_s: f64 = seconds.parse()?;
    let channels = Channels {
        force: true,
        ..Channels::default()
    };
    let calibration = setup.calibrations.first().cloned();
    let mut gauge = SimulatedGauge::new(setup);
    let recording = recorded(&mut gauge, FORCE_HZ, channels, |_| until_s)?;
    let (_, counts) = recording.force_counts();
    Ok(json!({
        "calibration": calibration,
        "period_us": period_us(&recording)?,
        "counts": counts,
    }))
}

fn planes(words: &[String]) -> Result<Value, Box<dyn Error>> {
    let mut setup = holdtrue_tests::planes::setup(words)?;
    let of_sensor = if setup.fitted.displacement {
        Channel::Displacement
    } else {
        Channel::Indicator
    };
    let calibration = setup
        .calibrations
        .iter()
        .find(|record| record.channel == of_sensor)
        .cloned();
    // An indicator's display is read off the same plunger: the probe tells where that was.
    setup.fitted.displacement = true;
    let count = setup.planes.len();
    let mut gauge = SimulatedGauge::new(setup);
    let planes: Result<Vec<Value>, _> = (0..count).map(|_| plane(&mut gauge)).collect();
    Ok(json!({ "calibration": calibration, "planes": planes? }))
}

fn plane(gauge: &mut SimulatedGauge) -> Result<Value, Box<dyn Error>> {
    let channels = Channels {
        displacement: true,
        mark: true,
        ..Channels::default()
    };
    let recording = recorded(gauge, PLANE_HZ, channels, |gauge| {
        let ends_s =
            |plane: &holdtrue_simulated_gauge::world::plane::PlaneWorld| plane.turning().ends_s();
        gauge.plane().map_or(0.0, ends_s) + REST_S
    })?;
    let first_us = recording.samples.first().ok_or("no sample")?.at_us;
    let counts: Vec<i32> = recording
        .samples
        .iter()
        .filter_map(|sample| sample.displacement)
        .collect();
    let marks: Vec<Value> = recording
        .marks
        .iter()
        .map(|edge| json!({ "after_us": edge.at_us as f64 - first_us, "rising": edge.rising }))
        .collect();
    let presses: Vec<f64> = recording
        .presses
        .iter()
        .map(|press| press.at_us as f64 - first_us)
        .collect();
    Ok(json!({
        "period_us": period_us(&recording)?,
        "counts": counts,
        "marks": marks,
        "presses": presses,
    }))
}

/// Streams until the last sample is so many seconds after the first.
fn recorded(
    gauge: &mut SimulatedGauge,
    rate_hz: u16,
    channels: Channels,
    until_s: impl Fn(&SimulatedGauge) -> f64,
) -> Result<Recording, Box<dyn Error>> {
    let enough = |gauge: &SimulatedGauge, recording: &Recording| {
        let ends = recording.samples.first().zip(recording.samples.last());
        ends.is_some_and(|(first, last)| last.at_us - first.at_us >= until_s(gauge) * 1e6)
    };
    let recording = Recorder::new(gauge).record(rate_hz, channels, enough);
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
