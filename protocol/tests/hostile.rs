//! Whatever arrives: no panic, never a wrong message, and the next good frame is found.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use holdtrue_protocol::frame::{
    FRAME_END, FrameError, MAX_FRAME, MAX_REQUEST_FRAME, answer_id, check, decode_checked,
    decode_plain, encode_frame, encode_plain, request_id,
};
use holdtrue_protocol::message::*;
use holdtrue_protocol::stream::{Counts, Decoder, Received};
use holdtrue_protocol::version::{VersionRefusal, WireVersion, agree, known_signal};
use proptest::prelude::*;

fn good() -> FromGauge<'static> {
    FromGauge::Mark(MarkEdge {
        boot: 1,
        number: 2,
        at_us: 0,
        rising: true,
    })
}

fn frame(message: &FromGauge<'_>) -> Vec<u8> {
    encode_frame(message, &mut [0; MAX_FRAME]).unwrap().to_vec()
}

/// A whole frame around any body, as a newer gauge might send it.
fn framed(body: &[u8]) -> Vec<u8> {
    let mut plain = body.to_vec();
    plain.extend(crc32fast::hash(body).to_le_bytes());
    let mut stuffed = vec![0; cobs::max_encoding_length(plain.len()) + 1];
    let length = cobs::encode(&plain, &mut stuffed);
    stuffed.truncate(length);
    stuffed.push(FRAME_END);
    stuffed
}

/// What a stream brought: `Ok` with the plain bytes of a message, `Err` with a word for the rest.
type Heard = Result<Vec<u8>, &'static str>;

fn listen_to(decoder: &mut Decoder, bytes: &[u8]) -> Vec<Heard> {
    let mut heard = Vec::new();
    decoder.feed_from_gauge(bytes, |received| {
        heard.push(match received {
            Received::Message { plain, .. } => Ok(plain.to_vec()),
            Received::NotUnderstood { .. } => Err("not understood"),
            Received::Damaged(_) => Err("damaged"),
            Received::OverLong => Err("over-long"),
        });
    });
    heard
}

fn listen(bytes: &[u8]) -> Vec<Heard> {
    listen_to(&mut Decoder::new(), bytes)
}

fn plain(message: &FromGauge<'_>) -> Heard {
    Ok(encode_plain(message, &mut [0; MAX_FRAME]).unwrap().to_vec())
}

fn samples() -> Vec<u8> {
    frame(&FromGauge::Block(Block {
        boot: 7,
        first_sample: 300,
        first_us: 2_000_000,
        last_us: 2_030_999,
        count: 32,
        force: true,
        displacement: false,
        faults: Faults(0),
        data: &[
            0x80, 0x01, 0x05, 0x03, 0, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 0, 14, 15,
            16, 17, 18, 19, 20, 21, 22, 23, 24,
        ],
    }))
}

#[test]
fn what_a_reset_cuts_off_does_not_spoil_the_first_good_frame() {
    let whole = samples();
    for cut in 1..whole.len() - 1 {
        let mut stream = whole[..cut].to_vec();
        stream.push(FRAME_END); // what a sender writes first after a reset
        stream.extend(frame(&good()));
        assert_eq!(
            listen(&stream),
            [Err("damaged"), plain(&good())],
            "cut at {cut}"
        );
    }
}

#[test]
fn without_that_zero_the_frame_after_the_next_is_found() {
    let stream = [&samples()[..9], &frame(&good()), &frame(&good())].concat();
    assert_eq!(listen(&stream), [Err("damaged"), plain(&good())]);
}

#[test]
fn after_an_over_long_run_its_tail_is_no_frame() {
    for length in [MAX_FRAME, MAX_FRAME + 1, 3 * MAX_FRAME] {
        // The run ends in bytes that would be a good frame, had a zero stood before them.
        let stream = [&vec![0x55; length][..], &frame(&good()), &frame(&good())].concat();
        assert_eq!(
            listen(&stream),
            [Err("over-long"), plain(&good())],
            "{length} bytes"
        );
    }
}

#[test]
fn a_frame_of_exactly_the_room_there_is_fits() {
    let bytes = samples();
    let mut exact = Decoder::<53>::new();
    let mut tight = Decoder::<52>::new();
    assert_eq!(bytes.len(), 53, "the case is built for this length");
    let outcome = |received: Option<Received<'_, FromGauge<'_>>>| match received {
        Some(Received::Message { .. }) => "message",
        Some(Received::OverLong) => "over-long",
        Some(_) => "else",
        None => "",
    };
    let mut ends = ["", ""];
    for &byte in &bytes {
        ends = [
            outcome(exact.push_from_gauge(byte)),
            outcome(tight.push_from_gauge(byte)),
        ];
    }
    assert_eq!(ends, ["message", "over-long"]);
}

#[test]
fn an_idle_line_of_zeros_is_silence() {
    assert_eq!(listen(&[0; 1000]), []);
}

#[test]
fn frames_of_an_unknown_kind_are_skipped_and_told_from_damaged_ones() {
    let unknown_kind = framed(&[7, 1, 2, 3]);
    let unknown_reply = framed(&[5, 44, 0, 99]);
    let longer = framed(&[2, 1, 2, 0, 1, 0xee, 0xee]);
    let mut decoder = Decoder::new();
    let stream = [unknown_kind, unknown_reply, longer, frame(&good())].concat();
    let foreign = || Err("not understood");
    assert_eq!(
        listen_to(&mut decoder, &stream),
        [foreign(), foreign(), foreign(), plain(&good())]
    );
    assert_eq!(
        decoder.counts(),
        Counts {
            good: 1,
            not_understood: 3,
            ..Counts::default()
        }
    );
}

/// What a reader of wire version 1.0 does with a press, this one does with the next kind: see
/// [`frames_of_an_unknown_kind_are_skipped_and_told_from_damaged_ones`].
#[test]
fn a_press_that_is_cut_short_too_long_or_too_large_is_no_press() {
    let whole = [6, 7, 1, 0xe0, 0xe5, 0xa4, 0x01];
    let press = FromGauge::Pressed(Press {
        boot: 7,
        number: 1,
        at_us: 2_700_000,
    });
    assert_eq!(decode_checked(&sealed(&whole)), Ok(press.clone()));
    for cut in 1..whole.len() {
        assert_eq!(
            decode_checked(&sealed(&whole[..cut])),
            Err(FrameError::Unknown { discriminant: 6 }),
            "cut at {cut}"
        );
    }
    let longer = [&whole[..], &[0]].concat();
    assert_eq!(
        decode_checked(&sealed(&longer)),
        Err(FrameError::LeftOver {
            discriminant: 6,
            bytes: 1
        })
    );
    // A boot number of 33 bits, and a press number without an end.
    for body in [
        &[6, 0xff, 0xff, 0xff, 0xff, 0x1f, 1, 1][..],
        &[6, 7, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff][..],
    ] {
        assert_eq!(
            decode_checked(&sealed(body)),
            Err(FrameError::Unknown { discriminant: 6 })
        );
    }
    let stream = [frame(&press), frame(&press), frame(&good())].concat();
    assert_eq!(
        listen(&stream),
        [plain(&press), plain(&press), plain(&good())],
        "a repeated press is two frames: its number tells"
    );
}

#[test]
fn a_signal_the_gauge_does_not_know_is_refused_by_number_not_shown_as_another() {
    for signal in 7..=255 {
        let body = sealed(&[0, 0xac, 0x02, 7, signal]);
        assert!(
            decode_plain::<ToGauge>(&body).is_err(),
            "signal {signal} is none"
        );
        assert_eq!(request_id(check(&body).unwrap()), Some(300));
    }
}

#[test]
fn a_gauge_without_the_newer_signals_is_shown_what_it_knows() {
    let gauge = |minor| WireVersion { major: 1, minor };
    let every = [
        Signal::Wait,
        Signal::Hold,
        Signal::Unclamp,
        Signal::Fault,
        Signal::Off,
        Signal::Turn,
        Signal::Taken,
    ];
    assert_eq!(
        every.map(|signal| known_signal(gauge(0), signal)),
        [
            Signal::Wait,
            Signal::Hold,
            Signal::Unclamp,
            Signal::Fault,
            Signal::Off,
            Signal::Wait,
            Signal::Wait,
        ]
    );
    assert_eq!(every.map(|signal| known_signal(gauge(1), signal)), every);
    assert_eq!(every.map(|signal| known_signal(gauge(2), signal)), every);
}

fn sealed(body: &[u8]) -> Vec<u8> {
    [body, &crc32fast::hash(body).to_le_bytes()].concat()
}

#[test]
fn a_longer_newer_frame_is_not_taken_for_an_older_one() {
    let error = decode_checked(&sealed(&[2, 1, 2, 0, 1, 0xee, 0xee])).unwrap_err();
    assert_eq!(
        error,
        FrameError::LeftOver {
            discriminant: 2,
            bytes: 2
        }
    );
    assert_eq!(
        decode_checked(&sealed(&[7, 1])).unwrap_err(),
        FrameError::Unknown { discriminant: 7 }
    );
    assert_eq!(
        decode_checked(&[0, 0, 0, 0]).unwrap_err(),
        FrameError::TooShort { bytes: 4 }
    );
    assert_eq!(
        decode_checked(&[]).unwrap_err(),
        FrameError::TooShort { bytes: 0 }
    );
    let mut wrong = sealed(&[2, 1, 2, 0, 1]);
    wrong[1] ^= 4;
    assert!(matches!(
        decode_checked(&wrong),
        Err(FrameError::Crc { .. })
    ));
}

#[test]
fn an_unknown_command_can_still_be_refused_by_its_number() {
    let body = sealed(&[0, 0xac, 0x02, 200, 1, 2, 3]);
    assert_eq!(
        decode_plain::<ToGauge>(&body).unwrap_err(),
        FrameError::Unknown { discriminant: 0 }
    );
    assert_eq!(request_id(check(&body).unwrap()), Some(300));
    assert_eq!(answer_id(&[5, 0xac, 0x02, 0, 99]), Some(300));
    for nothing in [
        &[][..],
        &[0][..],
        &[0, 0xff][..],
        &[7, 1][..],
        &[0, 0xff, 0xff, 0xff][..],
    ] {
        assert_eq!(
            (request_id(nothing), answer_id(nothing)),
            (None, None),
            "{nothing:?}"
        );
    }
}

#[test]
fn a_gauge_of_a_newer_major_version_is_refused_with_both_versions() {
    let refusal = FrameError::NewerWire(VersionRefusal {
        gauge: WireVersion { major: 2, minor: 5 },
        ours: WireVersion {
            major: WIRE_MAJOR,
            minor: WIRE_MINOR,
        },
    });
    // Behind the two version bytes anything may follow in such a hello.
    for rest in [&[][..], &[1, 2, 3][..], &[0xff; 30][..]] {
        let body = [&[0, 2, 5], rest].concat();
        assert_eq!(decode_checked(&sealed(&body)).unwrap_err(), refusal);
    }
    assert_eq!(
        refusal.to_string(),
        "the gauge speaks wire version 2.5, this program reads 1.0 to 1.x; update this program"
    );
    let newer_minor = WireVersion {
        major: WIRE_MAJOR,
        minor: WIRE_MINOR + 1,
    };
    assert_eq!(
        agree(newer_minor),
        Ok(()),
        "a newer minor version only adds"
    );
}

#[test]
fn an_identity_of_a_newer_major_version_is_refused_like_a_hello() {
    let hello = Hello {
        wire_major: WIRE_MAJOR + 1,
        wire_minor: 0,
        boot: 1,
        serial: "TP-1".try_into().unwrap(),
        firmware: "9".try_into().unwrap(),
        reset: ResetCause::PowerOn,
        fitted: Channels::default(),
        probe_nm_per_count: 0,
        at_us: 0,
        streaming: false,
    };
    let answer = FromGauge::Answer(Answer {
        id: 1,
        outcome: Ok(Reply::Identity(hello)),
    });
    let mut buffer = [0; MAX_FRAME];
    let refused = decode_checked(encode_plain(&answer, &mut buffer).unwrap());
    assert!(
        matches!(refused, Err(FrameError::NewerWire(_))),
        "{refused:?}"
    );
}

#[test]
fn no_flipped_bit_yields_a_message_that_was_not_sent() {
    let (before, hit, after) = (frame(&good()), samples(), frame(&good()));
    for bit in 0..hit.len() * 8 {
        let mut damaged = hit.clone();
        damaged[bit / 8] ^= 1 << (bit % 8);
        let heard = listen(&[&before[..], &damaged, &after, &after].concat());
        let messages: Vec<_> = heard.iter().filter(|h| h.is_ok()).collect();
        // A flip in the closing zero joins the frame to the next one, which is then lost with it.
        let survivors = if bit / 8 == hit.len() - 1 { 2 } else { 3 };
        assert_eq!(messages, vec![&plain(&good()); survivors], "bit {bit}");
        assert!(
            heard.iter().any(Result::is_err),
            "bit {bit}: the loss is reported"
        );
    }
}

#[test]
fn the_longest_request_fits_the_room_of_a_gauge() {
    let text = "x".repeat(32);
    let record = CalibrationRecord {
        id: [0xff; 16],
        channel: Channel::Indicator,
        coefficients: [f64::MAX; 4],
        zero_counts: i32::MIN,
        expanded_relative: 1.0,
        expanded_fixed: 1.0,
        span: [f64::MIN, f64::MAX],
        rated: f64::MAX,
        temperature_c: 1.0,
        date_days: i32::MIN,
        due_days: i32::MIN,
        certificate: text.as_str().try_into().unwrap(),
        laboratory: text.as_str().try_into().unwrap(),
    };
    let mut buffer = [0; CalibrationRecord::MAX_ENCODED];
    let stored = record.encode(&mut buffer).unwrap().to_vec();
    assert_eq!(CalibrationRecord::decode(&stored), Some(record.clone()));
    assert_eq!(
        CalibrationRecord::decode(&[stored.as_slice(), &[0]].concat()),
        None
    );
    let bound = BoundRecord {
        record,
        made_on: Binding {
            converter: Converter {
                kind: "x".repeat(12).as_str().try_into().unwrap(),
                board: [0xff; 8],
                gain: u16::MAX,
                reference: Reference::Supply,
            },
            shunt_step: Some(i32::MIN),
        },
    };
    let request = ToGauge::Request(Request {
        id: u16::MAX,
        command: Command::WriteBound(bound),
    });
    let mut buffer = [0; MAX_REQUEST_FRAME];
    let bytes = encode_frame(&request, &mut buffer).unwrap();
    let mut gauge = Decoder::<MAX_REQUEST_FRAME>::new();
    let mut heard = None;
    for &byte in bytes {
        if let Some(Received::Message { message, .. }) = gauge.push_from_host(byte) {
            heard = Some(message);
        }
    }
    assert_eq!(heard, Some(request));
}

/// A stretch of a stream and what it must yield: damaged stretches yield anything but a message.
fn stretch() -> impl Strategy<Value = (Vec<u8>, bool)> {
    let bytes = proptest::collection::vec(1..=255_u8, 0..2 * MAX_FRAME);
    prop_oneof![
        Just((frame(&good()), true)),
        Just((samples(), true)),
        bytes.prop_map(|junk| (junk, false)),
        (0..52_usize, 1..=255_u8).prop_map(|(at, flip)| {
            let mut damaged = samples();
            damaged[at] ^= flip;
            (damaged, false)
        }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_and_then_a_good_frame(bytes in proptest::collection::vec(any::<u8>(), 0..2000)) {
        let mut decoder = Decoder::new();
        let mut before = listen_to(&mut decoder, &bytes);
        before.extend(listen_to(&mut decoder, &[FRAME_END]));
        prop_assert_eq!(listen_to(&mut decoder, &frame(&good())), [plain(&good())]);
        let counts = decoder.counts();
        let told = counts.good + counts.damaged + counts.over_long + counts.not_understood;
        prop_assert_eq!(told, before.len() as u64 + 1, "every frame is in exactly one count");
    }

    #[test]
    fn every_good_frame_between_bad_ones_is_found(stretches in proptest::collection::vec(stretch(), 0..12)) {
        let mut stream = Vec::new();
        let mut expected = Vec::new();
        for (bytes, is_good) in &stretches {
            stream.extend(bytes);
            stream.push(FRAME_END);
            if *is_good {
                expected.push(listen(bytes).remove(0));
            }
        }
        let messages: Vec<Heard> = listen(&stream).into_iter().filter(Result::is_ok).collect();
        prop_assert_eq!(messages, expected);
    }

    #[test]
    fn chunks_cut_anywhere_decode_alike(
        stretches in proptest::collection::vec(stretch(), 0..8),
        cuts in proptest::collection::vec(1..200_usize, 1..20),
    ) {
        let stream: Vec<u8> = stretches.into_iter().flat_map(|(mut bytes, _)| { bytes.push(FRAME_END); bytes }).collect();
        let mut decoder = Decoder::new();
        let mut heard = Vec::new();
        let mut rest = &stream[..];
        for cut in cuts.iter().cycle() {
            if rest.is_empty() { break }
            let (chunk, later) = rest.split_at((*cut).min(rest.len()));
            heard.extend(listen_to(&mut decoder, chunk));
            rest = later;
        }
        prop_assert_eq!(heard, listen(&stream));
    }

    #[test]
    fn any_body_in_a_whole_frame_is_a_message_or_refused(body in proptest::collection::vec(any::<u8>(), 0..300)) {
        match decode_plain::<FromGauge<'_>>(&sealed(&body)) {
            Ok(_) => {}
            Err(error) => prop_assert!(error.is_whole() || body.is_empty(), "{error}"),
        }
        match decode_plain::<ToGauge>(&sealed(&body)) {
            Ok(_) => {}
            Err(error) => prop_assert!(error.is_whole() || body.is_empty(), "{error}"),
        }
    }
}
