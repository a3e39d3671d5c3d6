//! The wire formats against published vectors: `tests/reference/protocol/`, each with its source and provenance.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fmt::Debug;
use std::fs;
use std::path::Path;

use holdtrue_protocol::frame::{
    FrameError, MAX_FRAME, crc32, decode_frame, encode_frame, stuff, unstuff,
};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

fn reference(name: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("reference/protocol")
        .join(name);
    serde_json::from_str(&fs::read_to_string(&path).unwrap()).unwrap()
}

fn unhex(text: &str) -> Vec<u8> {
    (0..text.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(&text[at..at + 2], 16).unwrap())
        .collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn number(hexadecimal: &Value) -> u32 {
    u32::from_str_radix(hexadecimal.as_str().unwrap().trim_start_matches("0x"), 16).unwrap()
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap()
}

#[test]
fn byte_stuffing() {
    let file = reference("cobs.json");
    let vectors = list(&file["expected"]["vectors"]["value"]);
    for vector in vectors {
        let (plain, encoded) = (
            vector["decoded_hex"].as_str().unwrap(),
            vector["encoded_hex"].as_str().unwrap(),
        );
        let mut buffer = vec![0; 2 * plain.len() + 8];
        assert_eq!(
            hex(stuff(&unhex(plain), &mut buffer).unwrap()),
            format!("{encoded}00")
        );
        assert_eq!(hex(unstuff(&mut unhex(encoded)).unwrap()), plain);
    }
    assert!(vectors.len() >= 20, "{} vectors", vectors.len());
}

#[test]
fn byte_stuffing_that_must_be_rejected() {
    for case in list(&reference("cobs.json")["expected"]["must_be_rejected"]["value"]) {
        let outcome = unstuff(&mut unhex(case["encoded_hex"].as_str().unwrap())).map(hex);
        assert_eq!(outcome, Err(FrameError::Stuffing), "{}", case["why"]);
    }
}

#[test]
fn check_sum() {
    let file = reference("crc_catalogue.json");
    let named = |list: &Value| {
        list["value"]
            .as_array()
            .unwrap()
            .iter()
            .find(|entry| entry["name"] == "CRC-32/ISO-HDLC")
            .unwrap()
            .clone()
    };
    let published = named(&file["expected"]["algorithms"]);
    assert_eq!(crc32(b"123456789"), number(&published["check"]));
    for (message, crc) in named(&file["more_messages"])["crc"].as_object().unwrap() {
        let bytes = if message == "(empty)" {
            Vec::new()
        } else {
            unhex(message)
        };
        assert_eq!(crc32(&bytes), number(crc), "{message}");
    }
}

fn encodes<T: Serialize + DeserializeOwned + PartialEq + Debug>(value: T, expected: &Value) {
    let bytes = unhex(expected.as_str().unwrap());
    assert_eq!(
        postcard::to_slice(&value, &mut [0; 64]).unwrap(),
        bytes,
        "{value:?}"
    );
    assert_eq!(
        postcard::take_from_bytes::<T>(&bytes).unwrap(),
        (value, &[][..])
    );
}

fn rows(table: &Value) -> impl Iterator<Item = (&Value, &Value)> {
    list(table).iter().map(|row| (&row[0], &row[1]))
}

#[test]
fn whole_numbers_in_a_body() {
    let file = reference("postcard.json");
    let (expected, more) = (&file["expected"], &file["expected"]["more"]["value"]);
    for (value, bytes) in rows(&expected["u16_varint"]["value"]) {
        encodes(u16::try_from(value.as_u64().unwrap()).unwrap(), bytes);
    }
    for (value, bytes) in rows(&expected["i16_zigzag_varint"]["value"]) {
        encodes(i16::try_from(value.as_i64().unwrap()).unwrap(), bytes);
    }
    for (value, bytes) in rows(&more["u32"]) {
        encodes(u32::try_from(value.as_u64().unwrap()).unwrap(), bytes);
    }
    for (value, bytes) in rows(&more["i32"]) {
        encodes(i32::try_from(value.as_i64().unwrap()).unwrap(), bytes);
    }
    for (value, bytes) in rows(&more["u64"]) {
        encodes(value.as_str().unwrap().parse::<u64>().unwrap(), bytes);
    }
}

#[test]
fn whole_numbers_that_must_be_refused() {
    for row in list(&reference("postcard.json")["expected"]["u16_decoding"]["value"]) {
        let bytes = unhex(row[0].as_str().unwrap());
        let value = postcard::take_from_bytes::<u16>(&bytes)
            .ok()
            .map(|(value, _)| u64::from(value));
        assert_eq!(value, row[1].as_u64(), "{row}");
    }
}

#[test]
fn other_values_in_a_body() {
    let more = &reference("postcard.json")["expected"]["more"]["value"];
    for (value, bytes) in rows(&more["f64"]) {
        encodes(value.as_f64().unwrap(), bytes);
    }
    for (value, bytes) in rows(&more["string"]) {
        encodes(value.as_str().unwrap().to_owned(), bytes);
    }
    for (value, bytes) in rows(&more["bool"]) {
        encodes(value == "true", bytes);
    }
    for (value, bytes) in rows(&more["option_u16"]) {
        encodes((value == "Some(300)").then_some(300_u16), bytes);
    }
    for (_, bytes) in rows(&more["enum_variant_2_newtype_u32_1000"]) {
        encodes(Kind::Third(1000), bytes);
    }
}

#[derive(Serialize, Deserialize, PartialEq, Debug)]
enum Kind {
    First,
    Second,
    Third(u32),
}

#[derive(Serialize)]
struct Combined {
    a: u32,
    b: i32,
    c: f64,
    d: &'static str,
    e: Option<u16>,
}

#[test]
fn a_whole_frame() {
    let file = reference("combined_frame.json");
    let expected = &file["expected"];
    let message = Combined {
        a: 7,
        b: -1500,
        c: 12345.5,
        d: "ok",
        e: Some(0),
    };
    let frame = encode_frame(&message, &mut [0; MAX_FRAME])
        .unwrap()
        .to_vec();
    assert_eq!(
        hex(&frame),
        expected["frame_crc32_hex"]["value"].as_str().unwrap()
    );
    let body = unhex(expected["body_hex"]["value"].as_str().unwrap());
    assert_eq!(crc32(&body), number(&expected["crc32_iso_hdlc"]["value"]));
}

#[test]
fn any_flipped_bit_of_that_frame_is_found() {
    let frame = unhex(
        reference("combined_frame.json")["expected"]["frame_crc32_hex"]["value"]
            .as_str()
            .unwrap(),
    );
    let between_zeros = &frame[..frame.len() - 1];
    for bit in 0..between_zeros.len() * 8 {
        let mut flipped = between_zeros.to_vec();
        flipped[bit / 8] ^= 1 << (bit % 8);
        let error = decode_frame(&mut flipped).unwrap_err();
        assert!(!error.is_whole(), "bit {bit}: {error}");
    }
}
