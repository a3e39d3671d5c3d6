//! Samples through blocks: nothing changes on the way, blocks close where they must, and they stay small.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    clippy::cast_possible_truncation,
    reason = "a test fails by panicking; exact values are meant"
)]

use holdtrue_protocol::block::{
    BlockEncoder, BlockError, MAX_DATA, MAX_SAMPLES, Sample, Taken, decode,
};
use holdtrue_protocol::frame::{MAX_BODY, MAX_FRAME, encode_frame};
use holdtrue_protocol::message::{Block, Faults, FromGauge};
use proptest::prelude::*;

fn taken(number: u64, force: i32, displacement: i32) -> Taken {
    Taken {
        boot: 3,
        number,
        at_us: 1_000_000 + number * 1000,
        force: Some(force),
        displacement: Some(displacement),
        faults: Faults(0),
    }
}

fn read_back(encoder: &BlockEncoder) -> Vec<Sample> {
    decode(&encoder.block().unwrap()).unwrap().collect()
}

#[test]
fn a_block_can_be_read_alone_and_gives_the_counts_back() {
    let mut encoder = BlockEncoder::new();
    for (number, counts) in [
        (10, (-8_388_608, 5)),
        (11, (8_388_607, 4)),
        (12, (0, -2_000_000_000)),
    ] {
        assert!(encoder.push(&taken(number, counts.0, counts.1)));
    }
    let samples = read_back(&encoder);
    assert_eq!(
        samples.iter().map(|s| s.number).collect::<Vec<_>>(),
        [10, 11, 12]
    );
    assert_eq!(
        samples.iter().map(|s| s.force.unwrap()).collect::<Vec<_>>(),
        [-8_388_608, 8_388_607, 0]
    );
    assert_eq!(
        samples
            .iter()
            .map(|s| s.displacement.unwrap())
            .collect::<Vec<_>>(),
        [5, 4, -2_000_000_000]
    );
}

#[test]
fn times_run_evenly_between_the_stamps_of_the_block() {
    let mut encoder = BlockEncoder::new();
    // The converter runs on its own clock: 1019 µs a sample here, whatever its nominal rate.
    for number in 0..5 {
        let sample = Taken {
            at_us: 77 + number * 1019,
            ..taken(number, 0, 0)
        };
        assert!(encoder.push(&sample));
    }
    let times: Vec<f64> = read_back(&encoder).iter().map(|s| s.at_us).collect();
    assert_eq!(times, [77.0, 1096.0, 2115.0, 3134.0, 4153.0]);
}

#[test]
fn a_single_sample_has_the_time_of_its_stamp() {
    let mut encoder = BlockEncoder::new();
    assert!(encoder.push(&taken(4, 1, 1)));
    assert_eq!(read_back(&encoder)[0].at_us, 1_004_000.0);
}

#[test]
fn a_block_closes_when_full_and_at_every_change() {
    let mut full = BlockEncoder::new();
    for number in 0..MAX_SAMPLES as u64 {
        assert!(full.push(&taken(number, 0, 0)));
    }
    assert!(full.is_full() && !full.accepts(&taken(MAX_SAMPLES as u64, 0, 0)));

    let mut begun = BlockEncoder::new();
    assert!(begun.push(&taken(0, 7, 7)));
    let next = taken(1, 8, 8);
    assert!(begun.accepts(&next));
    let refused = [
        (
            "fault",
            Taken {
                faults: Faults(1),
                ..next
            },
        ),
        ("boot", Taken { boot: 4, ..next }),
        (
            "no force",
            Taken {
                force: None,
                ..next
            },
        ),
        (
            "no displacement",
            Taken {
                displacement: None,
                ..next
            },
        ),
        ("sample missing", Taken { number: 2, ..next }),
        ("clock turned back", Taken { at_us: 0, ..next }),
    ];
    for (why, sample) in refused {
        assert!(!begun.push(&sample), "{why}");
    }
    assert_eq!(
        begun.count(),
        1,
        "a refused sample leaves the block as it was"
    );
    begun.clear();
    assert!(begun.block().is_none());
    assert!(begun.push(&Taken {
        number: 99,
        force: None,
        ..next
    }));
    assert_eq!(read_back(&begun)[0].force, None);
}

#[test]
fn the_longest_block_fits_the_longest_frame() {
    let data = [0xff; MAX_DATA];
    let block = FromGauge::Block(Block {
        boot: u32::MAX,
        first_sample: u64::MAX,
        first_us: u64::MAX,
        last_us: u64::MAX,
        count: 32,
        force: true,
        displacement: true,
        faults: Faults(u16::MAX),
        data: &data,
    });
    assert!(postcard::to_slice(&block, &mut [0; MAX_BODY]).is_ok());
    assert!(encode_frame(&block, &mut [0; MAX_FRAME]).is_ok());
}

fn block(count: u8, data: &[u8]) -> Block<'_> {
    Block {
        boot: 1,
        first_sample: 0,
        first_us: 10,
        last_us: 20,
        count,
        force: true,
        displacement: false,
        faults: Faults(0),
        data,
    }
}

fn refusal(block: &Block<'_>) -> BlockError {
    decode(block).map(|samples| samples.count()).unwrap_err()
}

#[test]
fn a_block_that_contradicts_itself_is_refused_before_its_first_sample() {
    assert_eq!(refusal(&block(0, &[])), BlockError::Count(0));
    assert_eq!(refusal(&block(33, &[0; 33])), BlockError::Count(33));
    assert_eq!(
        refusal(&Block {
            force: false,
            ..block(1, &[])
        }),
        BlockError::NoChannel
    );
    assert_eq!(
        refusal(&Block {
            last_us: 9,
            ..block(1, &[0])
        }),
        BlockError::Stamps
    );
    assert_eq!(
        refusal(&Block {
            first_sample: u64::MAX,
            ..block(1, &[0])
        }),
        BlockError::Numbers
    );
    assert_eq!(refusal(&block(3, &[2, 2])), BlockError::Data { sample: 2 });
    assert_eq!(
        refusal(&block(1, &[0xff, 0xff, 0xff, 0xff, 0x7f])),
        BlockError::Data { sample: 0 }
    );
    assert_eq!(refusal(&block(2, &[2, 2, 2, 2])), BlockError::LeftOver(2));
}

/// Noise of a 24-bit bridge converter at 1 kHz and gain 128: about 0.6 µV at the input (*from-memory*, noise tables
/// of such converters) is 320 counts of 1.9 nV (± 2.048 V / 128 over 2^24 counts).
const NOISE_COUNTS: f64 = 320.0;

/// Sum of twelve uniform numbers: near enough a normal one, from a fixed sequence.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }

    fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// Ten minutes at 1 kHz: clamps of 4 s every 10 s with a 20 ms rise to 1.2 million counts, a probe that follows a
/// spindle turned by hand (amplitude 20 µm at 0.1 µm a count, one turn in 2 s) with a count of dither.
fn bytes_per_sample(samples: u64) -> f64 {
    let mut noise = Noise(1);
    let mut encoder = BlockEncoder::new();
    let (mut bytes, mut buffer) = (0, [0; MAX_FRAME]);
    for number in 0..samples {
        let into_s = (number % 10_000) as f64 / 1000.0;
        let level = (into_s / 0.02)
            .min(((4.0 - into_s) / 0.02).min(1.0))
            .max(0.0);
        let force = (level * 1.2e6 + noise.next() * NOISE_COUNTS).round() as i32;
        let turn = std::f64::consts::TAU * number as f64 / 2000.0;
        let displacement = (200.0 * turn.sin() + noise.next() * 0.5).round() as i32;
        let at_us = 3_600_000_000 + number * 1007;
        let sample = Taken {
            at_us,
            number: number + 1_000_000,
            ..taken(0, force, displacement)
        };
        if !encoder.push(&sample) {
            bytes += encode_frame(&FromGauge::Block(encoder.block().unwrap()), &mut buffer)
                .unwrap()
                .len();
            encoder.clear();
            assert!(encoder.push(&sample));
        }
    }
    bytes += encode_frame(&FromGauge::Block(encoder.block().unwrap()), &mut buffer)
        .unwrap()
        .len();
    bytes as f64 / samples as f64
}

#[test]
fn a_sample_of_force_and_displacement_takes_at_most_four_and_a_half_bytes() {
    let measured = bytes_per_sample(600_000);
    println!("{measured:.3} bytes a sample on the wire, framing included");
    assert!(measured <= 4.5, "{measured}");
    assert!(
        measured > 3.0,
        "{measured}: the noise of this test is not that of a converter"
    );
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_counts_come_back_as_they_went_in(
        first in any::<u32>(),
        counts in proptest::collection::vec(any::<(i32, i32)>(), 1..=MAX_SAMPLES),
        channels in 1..=3_u8,
    ) {
        let mut encoder = BlockEncoder::new();
        let samples: Vec<Taken> = counts.iter().zip(u64::from(first)..).map(|(&(force, displacement), number)| Taken {
            force: (channels & 1 != 0).then_some(force),
            displacement: (channels & 2 != 0).then_some(displacement),
            ..taken(number, 0, 0)
        }).collect();
        for sample in &samples {
            prop_assert!(encoder.push(sample));
        }
        let back = read_back(&encoder);
        prop_assert_eq!(back.len(), samples.len());
        for (sample, read) in samples.iter().zip(back) {
            prop_assert_eq!(
                (sample.number, sample.force, sample.displacement, sample.at_us as f64),
                (read.number, read.force, read.displacement, read.at_us)
            );
        }
    }

    #[test]
    fn any_block_reads_or_is_refused(count in any::<u8>(), force in any::<bool>(), displacement in any::<bool>(),
        first_us in any::<u64>(), last_us in any::<u64>(), first_sample in any::<u64>(),
        data in proptest::collection::vec(any::<u8>(), 0..400),
    ) {
        let block = Block { boot: 0, first_sample, first_us, last_us, count, force, displacement, faults: Faults(0), data: &data };
        if let Ok(samples) = decode(&block) {
            prop_assert_eq!(samples.count(), usize::from(count));
        }
    }
}
