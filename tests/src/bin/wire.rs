//! `wire encode`: messages to a gauge come in as JSON, one a line; frames go out in hexadecimal, one a line.
//! `wire seal`: bodies come in in hexadecimal, whatever they say; frames around them go out.
//! `wire decode`: bytes of a gauge come in; every frame goes out as a JSON line, samples read, and the counts last.
//!
//! For the emulated bench, so that the image is heard by the host's own decoder and by no other.

use std::error::Error;
use std::io::{self, BufRead, Read, Write};

use holdtrue_protocol::block::{self, Sample};
use holdtrue_protocol::frame::{MAX_FRAME, crc32, encode_frame, stuff};
use holdtrue_protocol::message::{FromGauge, ToGauge};
use holdtrue_protocol::stream::{Decoder, Received};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn Error>> {
    match std::env::args().nth(1).as_deref() {
        Some("encode") => encode(),
        Some("seal") => seal(),
        Some("decode") => decode(),
        _ => Err("usage: wire encode | wire seal | wire decode".into()),
    }
}

fn encode() -> Result<(), Box<dyn Error>> {
    let mut out = io::stdout().lock();
    for line in io::stdin().lock().lines() {
        let message: ToGauge = serde_json::from_str(&line?)?;
        show(&mut out, encode_frame(&message, &mut [0; MAX_FRAME])?)?;
    }
    Ok(())
}

fn seal() -> Result<(), Box<dyn Error>> {
    let mut out = io::stdout().lock();
    for line in io::stdin().lock().lines() {
        let mut plain = bytes_of(&line?)?;
        plain.extend(crc32(&plain).to_le_bytes());
        let mut buffer = vec![0; 2 * plain.len() + 2];
        show(&mut out, stuff(&plain, &mut buffer)?)?;
    }
    Ok(())
}

fn bytes_of(hexadecimal: &str) -> Result<Vec<u8>, Box<dyn Error>> {
    let pairs = hexadecimal.as_bytes().chunks(2);
    pairs
        .map(|pair| Ok(u8::from_str_radix(std::str::from_utf8(pair)?, 16)?))
        .collect()
}

fn show(out: &mut impl Write, frame: &[u8]) -> io::Result<()> {
    for byte in frame {
        write!(out, "{byte:02x}")?;
    }
    writeln!(out)
}

fn decode() -> Result<(), Box<dyn Error>> {
    let mut bytes = Vec::new();
    io::stdin().lock().read_to_end(&mut bytes)?;
    let mut out = io::BufWriter::new(io::stdout().lock());
    let mut decoder = Decoder::<MAX_FRAME>::new();
    for (end, &byte) in (1_usize..).zip(&bytes) {
        let Some(received) = decoder.push_from_gauge(byte) else {
            continue;
        };
        let line = match received {
            Received::Message { message, .. } => described(end, &message)?,
            Received::NotUnderstood { why, .. } => {
                json!({ "end": end, "foreign": why.to_string() })
            }
            Received::Damaged(error) => json!({ "end": end, "damaged": error.to_string() }),
            Received::OverLong => json!({ "end": end, "damaged": "over-long" }),
        };
        writeln!(out, "{line}")?;
    }
    let counts = decoder.counts();
    let counts = json!({
        "bytes": bytes.len(),
        "good": counts.good,
        "damaged": counts.damaged,
        "over_long": counts.over_long,
        "not_understood": counts.not_understood,
    });
    writeln!(out, "{}", json!({ "counts": counts }))?;
    Ok(())
}

fn described(end: usize, message: &FromGauge<'_>) -> Result<Value, Box<dyn Error>> {
    Ok(match message {
        FromGauge::Block(samples) => {
            let read: Vec<Value> = block::decode(samples)?.map(|sample| one(&sample)).collect();
            json!({ "end": end, "message": message, "samples": read })
        }
        _ => json!({ "end": end, "message": message }),
    })
}

fn one(sample: &Sample) -> Value {
    json!({
        "number": sample.number,
        "at_us": sample.at_us,
        "force": sample.force,
        "displacement": sample.displacement,
    })
}
