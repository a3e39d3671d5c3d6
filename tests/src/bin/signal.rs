//! `signal SEED CONDITION SECONDS`: what the simulated gauge measures in a grip check goes out as one JSON document:
//! its calibration, the samples' mean period and the counts of each sample since the start command.
//!
//! For the emulated bench: the image's chips are given the same signals.

use std::error::Error;
use std::str::FromStr;

use holdtrue_protocol::block;
use holdtrue_protocol::frame::{MAX_FRAME, encode_frame};
use holdtrue_protocol::message::{Channels, Command, FromGauge, Request, ToGauge};
use holdtrue_protocol::stream::{Decoder, Received};
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};
use serde_json::json;

const RATE_HZ: u16 = 1_000;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [seed, condition, seconds] = &words[..] else {
        return Err("usage: signal SEED CONDITION SECONDS".into());
    };
    let setup = Setup::new(seed.parse()?, Condition::from_str(condition)?);
    let calibration = setup.calibrations.first().cloned();
    let (stamps, counts) = measure(SimulatedGauge::new(setup), seconds.parse()?)?;
    let (first, last) = (
        stamps.first().ok_or("no sample")?,
        stamps.last().ok_or("no sample")?,
    );
    let steps = u32::try_from(stamps.len() - 1)?;
    let document = json!({
        "calibration": calibration,
        "period_us": (last - first) / f64::from(steps),
        "counts": counts,
    });
    println!("{document}");
    Ok(())
}

/// Streams for so long; gives stamps and counts of every sample.
fn measure(
    mut gauge: SimulatedGauge,
    seconds: u32,
) -> Result<(Vec<f64>, Vec<i32>), Box<dyn Error>> {
    let channels = Channels {
        force: true,
        ..Channels::default()
    };
    tell(
        &mut gauge,
        1,
        Command::Start {
            rate_hz: RATE_HZ,
            channels,
        },
    )?;
    let (mut decoder, mut stamps, mut counts) =
        (Decoder::<MAX_FRAME>::new(), Vec::new(), Vec::new());
    for second in 0..seconds {
        for _ in 0..100 {
            gauge.advance_us(10_000);
            listen(&mut gauge, &mut decoder, &mut stamps, &mut counts)?;
        }
        tell(&mut gauge, u16::try_from(second + 2)?, Command::KeepAlive)?;
    }
    Ok((stamps, counts))
}

fn tell(gauge: &mut SimulatedGauge, id: u16, command: Command) -> Result<(), Box<dyn Error>> {
    let request = ToGauge::Request(Request { id, command });
    let mut buffer = [0; MAX_FRAME];
    gauge.write(encode_frame(&request, &mut buffer)?);
    Ok(())
}

fn listen(
    gauge: &mut SimulatedGauge,
    decoder: &mut Decoder,
    stamps: &mut Vec<f64>,
    counts: &mut Vec<i32>,
) -> Result<(), Box<dyn Error>> {
    let mut buffer = [0; 4096];
    loop {
        let count = gauge.read(&mut buffer);
        if count == 0 {
            return Ok(());
        }
        for &byte in &buffer[..count] {
            if let Some(Received::Message {
                message: FromGauge::Block(samples),
                ..
            }) = decoder.push_from_gauge(byte)
            {
                for sample in block::decode(&samples)? {
                    stamps.push(sample.at_us);
                    counts.push(sample.force.ok_or("a sample without force")?);
                }
            }
        }
    }
}
