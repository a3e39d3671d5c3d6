//! The simulated gauge as a host sees it: bytes in, bytes out.

use holdtrue_protocol::frame::{MAX_FRAME, encode_frame};
use holdtrue_protocol::message::{
    Channel, Channels, Command, Fault, FromGauge, Refusal, Reply, Request, ResetCause, SelfTest,
    ToGauge,
};
use holdtrue_protocol::stream::{Decoder, Received};
use holdtrue_simulated_gauge::operator::clamping::ClampHabits;
use holdtrue_simulated_gauge::operator::turning::Way;
use holdtrue_simulated_gauge::recorder::{Failure, Recorder, Recording};
use holdtrue_simulated_gauge::wiring::Wire;
use holdtrue_simulated_gauge::world::plane::{At, PlaneSetup};
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};

const FORCE: Channels = Channels {
    force: true,
    displacement: false,
    mark: false,
    indicator: false,
};
const TURNING: Channels = Channels {
    force: false,
    displacement: true,
    mark: true,
    indicator: false,
};

fn gauge(seed: u64) -> SimulatedGauge {
    SimulatedGauge::new(Setup::new(seed, Condition::Sound))
}

fn record(
    gauge: &mut SimulatedGauge,
    rate_hz: u16,
    channels: Channels,
    samples: usize,
) -> Recording {
    Recorder::new(gauge)
        .record(rate_hz, channels, |_, recording| {
            recording.samples.len() >= samples
        })
        .expect("a healthy gauge streams")
}

fn counts(recording: &Recording) -> Vec<i32> {
    recording.force_counts().1
}

#[test]
fn the_same_seed_and_the_same_questions_give_the_same_bytes() {
    let bytes = |chunk: usize| {
        let mut gauge = gauge(4);
        let mut all = Vec::new();
        let mut buffer = vec![0; chunk];
        for _ in 0..3_000 {
            gauge.advance_us(1_000);
            let count = gauge.read(&mut buffer);
            all.extend_from_slice(&buffer[..count]);
        }
        while gauge.has_bytes() {
            let count = gauge.read(&mut buffer);
            all.extend_from_slice(&buffer[..count]);
        }
        all
    };
    let whole = bytes(4_096);
    assert!(whole.len() > 60, "three hellos, {}", whole.len());
    assert_eq!(whole, bytes(7));
}

#[test]
fn when_and_what_the_host_asks_before_changes_no_sample() {
    let plain = record(&mut gauge(9), 330, FORCE, 3_000);
    let mut asked = gauge(9);
    asked.advance_us(1_234_567);
    let mut host = Recorder::new(&mut asked);
    host.ask(Command::Identify).unwrap();
    for test in [
        SelfTest::ShortedInput,
        SelfTest::Noise,
        SelfTest::Temperature,
        SelfTest::Shunt,
    ] {
        host.ask(Command::SelfTest(test)).unwrap();
    }
    host.ask(Command::KeepAlive).unwrap();
    let later = record(&mut asked, 330, FORCE, 3_000);
    assert_eq!(counts(&plain)[..3_000], counts(&later)[..3_000]);
    let (plain_s, later_s) = (plain.force_counts().0, later.force_counts().0);
    let off = plain_s
        .iter()
        .zip(&later_s)
        .map(|(a, b)| (a - b).abs())
        .fold(0.0, f64::max);
    assert!(off < 1e-9, "times since the first sample differ by {off} s");
    let again = record(&mut asked, 330, FORCE, 3_000);
    assert_eq!(
        counts(&plain)[..3_000],
        counts(&again)[..3_000],
        "a new start begins anew"
    );
    assert!(asked.misuses().is_empty(), "{:?}", asked.misuses());
}

#[test]
fn samples_are_numbered_without_a_gap_and_clocked_by_the_chip() {
    for rate_hz in [20, 90, 330, 600, 1_000, 2_000] {
        let mut gauge = gauge(17);
        let recording = record(&mut gauge, rate_hz, FORCE, usize::from(rate_hz) * 3);
        let numbers = recording.samples.iter().map(|sample| sample.number);
        assert!(
            numbers.eq(0..recording.samples.len() as u64),
            "at {rate_hz}"
        );
        let last = recording.samples.last().unwrap().at_us - recording.samples[0].at_us;
        let measured = (recording.samples.len() - 1) as f64 * 1e6 / last;
        assert!(
            (measured / f64::from(rate_hz) - 1.0).abs() < 0.021,
            "at {rate_hz}: {measured}"
        );
        assert!(
            gauge.misuses().is_empty(),
            "at {rate_hz}: {:?}",
            gauge.misuses()
        );
        assert!(
            recording.faults.iter().all(|faults| faults.0 == 0),
            "at {rate_hz}"
        );
    }
}

#[test]
fn the_stored_calibration_turns_counts_into_the_true_pull() {
    let mut gauge = gauge(23);
    let mut host = Recorder::new(&mut gauge);
    let Ok(Reply::Calibration(record)) = host.ask(Command::ReadCalibration(Channel::Force)) else {
        panic!("a calibrated gauge has a record")
    };
    let recording = host
        .record(330, FORCE, |gauge, _| {
            gauge.true_clamps().iter().filter(|c| !c.short).count() >= 2
        })
        .unwrap();
    let (times, counts) = recording.force_counts();
    let mean = |from: f64, to: f64| {
        let inside: Vec<f64> = (times.iter().zip(&counts))
            .filter(|(at, _)| (from..to).contains(*at))
            .map(|(_, counts)| f64::from(*counts) * record.coefficients[1])
            .collect();
        inside.iter().sum::<f64>() / inside.len() as f64
    };
    let truth = gauge.true_clamps();
    let clamp = truth
        .iter()
        .find(|clamp| !clamp.short && !clamp.bumped)
        .unwrap();
    let (from, to) = (clamp.touch_s + 1.2, clamp.touch_s + 3.0);
    let read = mean(from, to) - mean(clamp.touch_s - 0.6, clamp.touch_s - 0.1);
    let pulled = clamp.mean_pull_n(from, to);
    // Slope within its certificate, off-axis pull and creep: together under 1.5 %.
    assert!(
        (read / pulled - 1.0).abs() < 0.015,
        "{read} N read, {pulled} N pulled"
    );
}

#[test]
fn a_slow_reader_at_its_own_pace_loses_nothing_and_a_stalled_one_is_told() {
    let mut gauge = gauge(2);
    let stalled = Recorder::new(&mut gauge)
        .record(1_000, FORCE, |_, recording| recording.samples.len() > 500)
        .unwrap();
    assert_eq!(
        stalled.samples.len() as u64,
        stalled.samples.last().unwrap().number + 1
    );
    let mut host = Recorder::new(&mut gauge);
    // Nearly as long as the gauge streams unheard, and twice as fast as a check: only that fills its outbox.
    host.ask(Command::Start {
        rate_hz: 2_000,
        channels: Channels {
            displacement: true,
            ..FORCE
        },
    })
    .unwrap();
    gauge.advance_us(9_800_000);
    let Ok(Reply::Stopped {
        samples,
        blocks_dropped,
    }) = Recorder::new(&mut gauge).ask(Command::Stop)
    else {
        panic!("the stream still runs")
    };
    assert!(
        samples > 18_500 && blocks_dropped > 10,
        "{samples} {blocks_dropped}"
    );
}

#[test]
fn stepped_planes_come_one_after_the_other_and_again_the_same() {
    let planes = |seed| {
        let mut setup = Setup::new(seed, Condition::Sound);
        setup.stepping.follows_light = false;
        let mut gauge = SimulatedGauge::new(setup);
        let recordings: Vec<Vec<i32>> = (0..3)
            .map(|_| {
                let recording = record(&mut gauge, 90, TURNING, 90 * 40);
                recording
                    .samples
                    .iter()
                    .take(90 * 40)
                    .filter_map(|sample| sample.displacement)
                    .collect()
            })
            .collect();
        assert!(gauge.misuses().is_empty());
        recordings
    };
    let first = planes(6);
    assert_eq!(first, planes(6));
    assert_ne!(first[0], first[1]);
    let spread = |plane: &[i32]| plane.iter().max().unwrap() - plane.iter().min().unwrap();
    assert!(
        first.iter().all(|plane| (5..800).contains(&spread(plane))),
        "0.1 µm counts of a sound spindle"
    );
}

#[test]
fn a_free_turn_brings_marks_and_an_indicator_its_readings() {
    let mut gauge = gauge(31);
    gauge.set_next_plane(PlaneSetup {
        at: At::Bar,
        height_mm: 300.0,
        seating: 1,
        orientation_deg: 0.0,
        way: Way::Free { turns: 3 },
    });
    let channels = Channels {
        indicator: true,
        ..TURNING
    };
    let recording = record(&mut gauge, 90, channels, 90 * 36);
    let rising = recording.marks.iter().filter(|edge| edge.rising).count();
    assert!(
        (3..=4).contains(&rising),
        "{rising} marks in three turns and a bit"
    );
    let numbers: Vec<u32> = recording
        .readings
        .iter()
        .map(|reading| reading.number)
        .collect();
    assert!(
        numbers.len() > 60 && numbers.windows(2).all(|pair| pair[1] == pair[0] + 1),
        "{numbers:?}"
    );
    assert!(
        recording
            .readings
            .iter()
            .all(|reading| !reading.inch && reading.decimals == 3)
    );
    let last = recording.readings.last().unwrap();
    let probe_um = f64::from(recording.samples.last().unwrap().displacement.unwrap()) * 0.1;
    assert!(
        (f64::from(last.digits) - probe_um).abs() < 2.0,
        "both feel one plunger"
    );
}

#[test]
fn faults_of_the_gauge_show_in_the_stream() {
    let active = |recording: &Recording, fault: Fault| {
        recording
            .fault_changes
            .iter()
            .any(|change| change.fault == fault && change.active)
    };
    for (wire, rate_hz) in [(Wire::SignalPlus, 330), (Wire::SignalMinus, 2_000)] {
        let mut broken = gauge(3);
        broken.break_wire(Some(wire));
        let recording = record(&mut broken, rate_hz, FORCE, 400);
        assert!(
            active(&recording, Fault::OpenBridge),
            "{wire:?} at {rate_hz}/s: {:?}",
            recording.fault_changes
        );
    }
    let mut silent = gauge(3);
    let mut host = Recorder::new(&mut silent);
    host.ask(Command::Start {
        rate_hz: 330,
        channels: FORCE,
    })
    .unwrap();
    silent.silence_adc(true);
    silent.advance_us(300_000);
    let mut decoder: Decoder = Decoder::new();
    let mut buffer = [0; 4_096];
    let count = silent.read(&mut buffer);
    let told = buffer[..count].iter().any(|byte| {
        matches!(
            decoder.push_from_gauge(*byte),
            Some(Received::Message { message: FromGauge::Fault(change), .. })
                if change.fault == Fault::AdcSilent && change.active
        )
    });
    assert!(told);
}

#[test]
fn self_tests_find_a_healthy_gauge_healthy() {
    let mut gauge = gauge(12);
    let mut host = Recorder::new(&mut gauge);
    let mut test = |test| match host.ask(Command::SelfTest(test)) {
        Ok(Reply::SelfTest(result)) => result,
        other => panic!("{test:?}: {other:?}"),
    };
    assert!(test(SelfTest::ShortedInput).median.abs() < 2_000);
    let supply_mv = test(SelfTest::Supply).median;
    assert!((3_200..3_400).contains(&supply_mv), "{supply_mv} mV");
    let temperature = test(SelfTest::Temperature).median;
    assert!(
        (21_000..23_000).contains(&temperature),
        "{temperature} thousandths of a degree"
    );
    assert!(!test(SelfTest::OpenBridge).open);
    let rest = test(SelfTest::Noise);
    let shunted = test(SelfTest::Shunt);
    // 350 Ω and 100 kΩ: 0.8734 mV/V (computed), 1 mV/V = 1 073 742 counts at gain 128.
    let step = f64::from(shunted.median - rest.median) / 1_073_742.0;
    assert!((step - 0.8734).abs() < 0.002, "{step} mV/V");
    assert!(gauge.misuses().is_empty(), "{:?}", gauge.misuses());
}

#[test]
fn a_restart_is_a_new_boot_on_the_same_flash() {
    let mut gauge = SimulatedGauge::new(Setup {
        boots_before: 41,
        ..Setup::new(1, Condition::Sound)
    });
    let identity = |gauge: &mut SimulatedGauge| match Recorder::new(gauge).ask(Command::Identify) {
        Ok(Reply::Identity(hello)) => hello,
        other => panic!("{other:?}"),
    };
    assert_eq!(identity(&mut gauge).boot, 42);
    gauge.reset(ResetCause::Watchdog);
    let hello = identity(&mut gauge);
    assert_eq!((hello.boot, hello.reset), (43, ResetCause::Watchdog));
    assert!(matches!(
        Recorder::new(&mut gauge).ask(Command::ReadCalibration(Channel::Force)),
        Ok(Reply::Calibration(_))
    ));
}

#[test]
fn an_uncalibrated_gauge_says_so() {
    let setup = Setup {
        calibrations: Vec::new(),
        ..Setup::new(1, Condition::Sound)
    };
    let mut gauge = SimulatedGauge::new(setup);
    let answer = Recorder::new(&mut gauge).ask(Command::ReadCalibration(Channel::Force));
    assert_eq!(answer, Err(Failure::Refused(Refusal::NoRecord)));
}

/// A check's samples, read by a host that stalls for this long once, when that many samples were in; both channels.
fn stalled(at_sample: usize, stall_us: u64) -> Vec<[Option<i32>; 2]> {
    const SAMPLES: usize = 18_000;
    let mut gauge = SimulatedGauge::new(Setup {
        end_face: true,
        habits: ClampHabits {
            follows_light: false,
            ..ClampHabits::default()
        },
        ..Setup::new(21, Condition::Sound)
    });
    let channels = Channels {
        displacement: true,
        ..FORCE
    };
    let mut host = Recorder::new(&mut gauge);
    let start = Command::Start {
        rate_hz: 1_000,
        channels,
    };
    assert!(matches!(host.ask(start), Ok(Reply::Started { .. })));
    let mut decoder: Decoder = Decoder::new();
    let mut buffer = [0; 4_096];
    let mut samples = Vec::new();
    let mut next = 0;
    let mut has_stalled = false;
    let mut alive_us = gauge.now_us();
    while samples.len() < SAMPLES {
        gauge.advance_us(2_000);
        if samples.len() >= at_sample && !has_stalled {
            has_stalled = true;
            gauge.advance_us(stall_us);
        }
        loop {
            let count = gauge.read(&mut buffer);
            if count == 0 {
                break;
            }
            decoder.feed_from_gauge(&buffer[..count], |received| {
                if let Received::Message {
                    message: FromGauge::Block(block),
                    ..
                } = received
                {
                    assert_eq!(block.first_sample, next, "stalled at {at_sample}");
                    let read = holdtrue_protocol::block::decode(&block).expect("a sound block");
                    samples.extend(read.map(|sample| [sample.force, sample.displacement]));
                    next = block.first_sample + u64::from(block.count);
                }
            });
        }
        // As a host does, once a second.
        if gauge.now_us() > alive_us + 1_000_000 {
            alive_us = gauge.now_us();
            send(&mut gauge, Command::KeepAlive);
        }
        assert!(gauge.is_streaming(), "stalled at {at_sample}");
    }
    assert_eq!(decoder.counts().damaged, 0);
    samples.truncate(SAMPLES);
    samples
}

fn send(gauge: &mut SimulatedGauge, command: Command) {
    let request = ToGauge::Request(Request { id: 9, command });
    let mut frame = [0; MAX_FRAME];
    gauge.write(encode_frame(&request, &mut frame).expect("it fits"));
}

/// 8 s, at any moment of a clamp: nothing is lost, and every sample is the one it would have been.
#[test]
fn a_host_that_stalls_for_eight_seconds_loses_nothing_wherever_it_does() {
    let whole = stalled(usize::MAX, 0);
    for at_sample in (0..=9_000).step_by(1_500) {
        let samples = stalled(at_sample, 8_000_000);
        assert!(samples == whole, "stalled at {at_sample}");
    }
}
