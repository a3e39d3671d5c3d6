//! The whole gauge streaming, in virtual time: every sample once, whatever the host and the timer do.

mod bench;

use bench::memory::Memory;
use bench::rig::{ALL, FORCE, Pin, Rig};
use holdtrue_protocol::message::{
    Channels, Command, KEEP_ALIVE_LIMIT_US, Refusal, Reply, ResetCause,
};

const FORCE_AND_PROBE: Channels = Channels {
    force: true,
    displacement: true,
    mark: false,
    indicator: false,
};

/// A load that differs from sample to sample, as noise does: some hundred counts.
fn noisy(at_us: u64) -> i32 {
    let mixed = (at_us / 100).wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 40;
    200_000 + i32::try_from(mixed % 800).expect("small")
}

/// A probe moved to and fro, 20 000 counts a second.
fn probe(at_us: u64) -> i32 {
    let along = i32::try_from(at_us / 50 % 8_000).expect("small");
    (4_000 - along).abs()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "minutes in microseconds"
)]
fn whole(at_us: f64) -> u64 {
    at_us.round() as u64
}

fn rig_with_noise() -> Rig {
    let mut rig = Rig::new();
    rig.cell.0.borrow_mut().load = Box::new(noisy);
    rig.probe = Box::new(probe);
    rig
}

fn stop(rig: &mut Rig) -> (u64, u32) {
    match rig.ask(Command::Stop) {
        Ok(Reply::Stopped {
            samples,
            blocks_dropped,
        }) => (samples, blocks_dropped),
        other => panic!("{other:?}"),
    }
}

#[test]
fn an_idle_gauge_says_who_it_is_at_once_and_once_a_second() {
    let mut rig = Rig::new();
    rig.run_us(5_500_000);
    let times: Vec<u64> = rig
        .heard
        .hellos
        .iter()
        .map(|hello| hello.0 / 1_000)
        .collect();
    assert_eq!(times, [0, 1_000, 2_000, 3_000, 4_000, 5_000]);
    let hello = &rig.heard.hellos[3].1;
    assert_eq!((hello.serial.as_str(), hello.boot), ("TP-0042", 1));
    assert_eq!(
        (hello.reset, hello.fitted, hello.probe_nm_per_count),
        (ResetCause::PowerOn, ALL, 500)
    );
    assert_eq!((hello.at_us / 1_000, hello.streaming), (3_000, false));
    assert!(rig.heard.blocks.is_empty());
    assert_eq!(rig.bad_frames(), 0);
}

#[test]
fn a_minute_at_1000_samples_a_second_arrives_whole() {
    let mut rig = rig_with_noise();
    rig.cell.0.borrow_mut().oscillator = 0.983;
    rig.start(1_000, FORCE_AND_PROBE);
    let started_us = rig.now_us;
    rig.stream_s(60);
    let (samples, dropped) = stop(&mut rig);
    assert_eq!(dropped, 0);
    assert_eq!(rig.heard.missing(), 0);
    assert_eq!(rig.heard.samples().count() as u64, samples);
    assert_eq!(
        rig.heard.samples().next().map(|sample| sample.number),
        Some(0)
    );
    let seconds = (rig.now_us - started_us) as f64 / 1e6;
    assert!(
        (samples as f64 - 983.0 * seconds).abs() < 5.0,
        "{samples} in {seconds} s"
    );
    for sample in rig.heard.samples() {
        // The converter was asked at its data-ready; the stamp is that time, interpolated inside a block.
        let at_us = whole(sample.at_us);
        let near = |value: i32| (at_us - 1..=at_us + 1).any(|at_us| noisy(at_us) == value);
        assert!(sample.force.is_some_and(near), "sample {}", sample.number);
        let near = |value: i32| (at_us - 1..=at_us + 1).any(|at_us| probe(at_us) == value);
        assert!(
            sample.displacement.is_some_and(near),
            "probe of sample {}",
            sample.number
        );
    }
    assert!(rig.heard.faults.is_empty(), "{:?}", rig.heard.faults);
    assert_eq!(rig.bad_frames(), 0);
}

#[test]
fn force_and_displacement_take_at_most_4_and_a_half_bytes_a_sample() {
    let mut rig = rig_with_noise();
    rig.start(1_000, FORCE_AND_PROBE);
    let before = rig.heard.bytes;
    rig.run_us(5_000_000);
    let bytes = (rig.heard.bytes - before) as f64;
    let samples = rig.heard.samples().count() as f64;
    assert!(bytes / samples <= 4.5, "{} bytes a sample", bytes / samples);
}

#[test]
fn at_low_rates_blocks_do_not_wait_until_they_are_full() {
    let mut rig = rig_with_noise();
    rig.start(20, FORCE);
    rig.run_us(3_000_000);
    assert!(rig.heard.samples().count() >= 57);
    assert!(
        rig.heard
            .blocks
            .iter()
            .all(|block| block.samples.len() <= 2)
    );
}

#[test]
fn every_rate_of_the_converter_streams() {
    for rate_hz in holdtrue_firmware::ads1220::RATES_HZ {
        let mut rig = rig_with_noise();
        rig.start(rate_hz, FORCE);
        rig.run_us(2_000_000);
        let (samples, _) = stop(&mut rig);
        assert!(
            samples.abs_diff(2 * u64::from(rate_hz)) <= 4,
            "{rate_hz}/s: {samples}"
        );
        assert_eq!(rig.heard.missing(), 0);
    }
}

#[test]
fn a_host_that_stalls_for_a_second_and_a_half_loses_nothing() {
    let mut rig = rig_with_noise();
    rig.start(1_000, FORCE_AND_PROBE);
    rig.run_us(777_000);
    rig.stalled = true;
    rig.run_us(1_500_000);
    rig.stalled = false;
    rig.run_us(500_000);
    let (samples, dropped) = stop(&mut rig);
    assert_eq!((rig.heard.missing(), dropped), (0, 0));
    assert_eq!(rig.heard.samples().count() as u64, samples);
}

#[test]
fn a_longer_stall_drops_whole_blocks_counts_them_and_is_then_in_step() {
    let mut rig = rig_with_noise();
    rig.start(1_000, FORCE_AND_PROBE);
    rig.run_us(1_000_000);
    rig.stalled = true;
    rig.run_us(6_000_000);
    rig.stalled = false;
    rig.run_us(1_000_000);
    let (samples, dropped) = stop(&mut rig);
    let missing = rig.heard.missing();
    assert!(missing > 3_000, "{missing}");
    assert_eq!(missing, u64::from(dropped) * 32, "whole blocks of 32");
    assert_eq!(rig.heard.samples().count() as u64 + missing, samples);
    let gaps = rig
        .heard
        .samples()
        .zip(rig.heard.samples().skip(1))
        .filter(|(before, after)| after.number != before.number + 1)
        .count();
    assert_eq!(gaps, 1, "in step again after the stall");
    assert_eq!(rig.bad_frames(), 0);
}

#[test]
fn the_timer_may_wrap_in_a_stream() {
    let mut rig = Rig::with(Memory::blank(), ALL, u32::MAX - 20_000_000);
    rig.cell.0.borrow_mut().load = Box::new(noisy);
    rig.start(1_000, FORCE);
    rig.stream_s(40);
    assert_eq!(rig.heard.missing(), 0);
    assert!(rig.heard.faults.is_empty());
    let times: Vec<f64> = rig.heard.samples().map(|sample| sample.at_us).collect();
    assert!(times.first() < Some(&4_294_967_296.0) && times.last() > Some(&4_294_967_296.0));
    for pair in times.windows(2) {
        assert!((pair[1] - pair[0] - 1_000.0).abs() < 2.0, "{pair:?}");
    }
}

#[test]
fn a_second_stream_counts_from_zero_again() {
    let mut rig = rig_with_noise();
    rig.start(330, FORCE);
    rig.run_us(500_000);
    stop(&mut rig);
    let before = rig.heard.blocks.len();
    rig.run_us(300_000);
    assert_eq!(rig.heard.blocks.len(), before, "silence after the stop");
    rig.start(600, FORCE);
    rig.run_us(200_000);
    assert_eq!(rig.heard.blocks[before].samples[0].number, 0);
}

#[test]
fn without_a_word_from_the_host_streaming_ends_by_itself() {
    let mut rig = rig_with_noise();
    rig.start(1_000, FORCE);
    rig.run_us(KEEP_ALIVE_LIMIT_US - 500_000);
    assert!(rig.gauge.is_streaming());
    rig.ask(Command::KeepAlive).expect("alive");
    rig.run_us(KEEP_ALIVE_LIMIT_US - 500_000);
    assert!(rig.gauge.is_streaming());
    rig.run_us(1_000_000);
    assert!(!rig.gauge.is_streaming());
    assert!(
        rig.heard
            .hellos
            .last()
            .is_some_and(|hello| !hello.1.streaming)
    );
    assert_eq!(rig.ask(Command::Stop), Err(Refusal::NotStreaming));
}

#[test]
fn a_main_loop_held_up_costs_samples_only_when_the_queue_is_full_and_they_are_numbered() {
    let mut rig = rig_with_noise();
    rig.start(1_000, FORCE);
    rig.run_us(300_000);
    // The interrupts and the converter's part go on while the main loop is away.
    for held_up in [25, 80] {
        rig.poll();
        for _ in 0..held_up {
            let at_us = rig.cell.ready_us().expect("runs");
            rig.now_us = at_us;
            rig.cell.0.borrow_mut().now_us = at_us;
            rig.cell.finish(at_us);
            rig.edges.on_data_ready(rig.raw());
            rig.converter.serve();
        }
        rig.run_us(200_000);
        let expected = if held_up == 25 { 0 } else { 80 - 31 };
        assert_eq!(rig.heard.missing(), expected, "{held_up} ms");
    }
    let (samples, _) = stop(&mut rig);
    assert_eq!(rig.heard.samples().count() as u64 + 49, samples);
}

#[test]
fn data_ready_unseen_by_the_interrupts_is_missing_by_number() {
    let mut rig = rig_with_noise();
    rig.start(1_000, FORCE);
    rig.run_us(300_000);
    for _ in 0..7 {
        let at_us = rig.cell.ready_us().expect("runs");
        rig.now_us = at_us;
        rig.cell.finish(at_us);
    }
    rig.run_us(300_000);
    assert_eq!(rig.heard.missing(), 7);
}

#[test]
fn marks_are_stamped_to_the_microsecond_and_numbered() {
    let mut rig = rig_with_noise();
    rig.start(1_000, ALL);
    let start = rig.now_us;
    let times: Vec<u64> = (0..40).map(|edge| start + 10_007 + edge * 31_013).collect();
    for (edge, &at_us) in (0..).zip(&times) {
        rig.pin(at_us, Pin::Mark(edge % 2 == 0));
        // A bounce.
        rig.pin(at_us + 90, Pin::Mark(edge % 2 == 1));
        rig.pin(at_us + 130, Pin::Mark(edge % 2 == 0));
    }
    rig.run_us(2_000_000);
    let heard: Vec<(u32, u64, bool)> = rig
        .heard
        .marks
        .iter()
        .map(|edge| (edge.number, edge.at_us, edge.rising))
        .collect();
    let expected: Vec<(u32, u64, bool)> = (0..)
        .zip(times)
        .map(|(edge, at_us)| (edge, at_us, edge % 2 == 0))
        .collect();
    assert_eq!(heard, expected);
}

#[test]
fn a_mark_from_before_the_start_is_not_part_of_the_stream() {
    for offset_us in (0..1_200).step_by(100) {
        let mut rig = Rig::new();
        rig.run_us(100_000);
        let from = rig.now_us + offset_us;
        for edge in 0..60 {
            rig.pin(from + edge * 1_200, Pin::Mark(edge % 2 == 0));
        }
        rig.send(Command::Start {
            rate_hz: 1_000,
            channels: ALL,
        });
        while !rig.gauge.is_streaming() {
            rig.run_us(50);
        }
        let started_us = rig.now_us - 50;
        rig.run_us(100_000);
        assert!(rig.heard.marks.len() > 20);
        assert!(rig.heard.marks.iter().all(|edge| edge.at_us >= started_us));
        assert_eq!(rig.heard.marks[0].number, 0);
    }
}

#[test]
fn channels_not_asked_for_do_not_stream() {
    let mut rig = rig_with_noise();
    rig.start(1_000, FORCE);
    let now = rig.now_us;
    rig.pin(now + 5_000, Pin::Mark(true));
    rig.run_us(200_000);
    assert!(rig.heard.marks.is_empty());
    assert!(
        rig.heard
            .samples()
            .all(|sample| sample.displacement.is_none())
    );
    assert!(!rig.polled.request_indicator);
}
