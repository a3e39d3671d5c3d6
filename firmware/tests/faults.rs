//! Faults of the whole gauge: said in the stream when they begin and end, affected samples marked, numbers kept.

mod bench;

use bench::cell::OpenWire;
use bench::rig::{ALL, Came, FORCE, Pin, Rig};
use holdtrue_firmware::sampler::bit;
use holdtrue_firmware::stops::{Kept, Trail};
use holdtrue_protocol::message::{
    CalibrationRecord, Channel, Channels, Command, Fault, Reply, ResetCause, Signal, StopCause,
};

const PROBE: Channels = Channels {
    force: true,
    displacement: true,
    mark: false,
    indicator: false,
};

const INDICATOR: Channels = Channels {
    indicator: true,
    ..PROBE
};

/// What the host heard of one fault: sample and whether it began.
fn changes(rig: &Rig, fault: Fault) -> Vec<(u64, bool)> {
    rig.heard
        .faults
        .iter()
        .filter(|change| change.fault == fault)
        .map(|change| (change.at_sample, change.active))
        .collect()
}

/// Numbers of the samples in blocks marked with the fault.
fn marked(rig: &Rig, fault: Fault) -> Vec<u64> {
    rig.heard
        .blocks
        .iter()
        .filter(|block| block.faults.0 & bit(fault) != 0)
        .flat_map(|block| block.samples.iter().map(|sample| sample.number))
        .collect()
}

fn load_from_us(rig: &mut Rig, load: impl Fn(u64) -> i32 + 'static) {
    rig.cell.0.borrow_mut().load = Box::new(load);
}

#[test]
fn a_sound_gauge_reports_no_fault() {
    let mut rig = Rig::new();
    rig.start(1_000, PROBE);
    rig.run_us(5_000_000);
    assert!(rig.heard.faults.is_empty());
    assert!(rig.heard.blocks.iter().all(|block| block.faults.0 == 0));
}

#[test]
fn saturated_samples_are_marked_from_the_first_to_the_last() {
    let mut rig = Rig::new();
    load_from_us(&mut rig, |at_us| match at_us {
        500_000..550_000 => i32::MAX,
        700_000..702_000 => i32::MIN,
        _ => 10,
    });
    rig.start(1_000, FORCE);
    rig.run_us(1_000_000);
    let marked = marked(&rig, Fault::Saturated);
    let ends = |counts: i32| counts == 0x7f_ffff || counts == -0x80_0000;
    let at_the_end: Vec<u64> = rig
        .heard
        .samples()
        .filter(|sample| sample.force.is_some_and(ends))
        .map(|sample| sample.number)
        .collect();
    assert!(at_the_end.len() >= 51);
    assert!(at_the_end.iter().all(|number| marked.contains(number)));
    // Held for 20 ms after the last of them, twice.
    assert!(marked.len() <= at_the_end.len() + 42, "{}", marked.len());
    let changes = changes(&rig, Fault::Saturated);
    assert_eq!(
        changes.iter().map(|change| change.1).collect::<Vec<_>>(),
        [true, false, true, false]
    );
    assert_eq!(
        (changes[0].0, changes[1].0),
        (marked[0], at_the_end[49] + 20)
    );
    assert_eq!(rig.heard.missing(), 0);
}

#[test]
fn a_fault_is_told_after_the_last_sample_free_of_it_and_before_the_first_with_it() {
    let mut rig = Rig::new();
    load_from_us(&mut rig, |at_us| {
        if at_us / 100_000 % 2 == 0 {
            0
        } else {
            i32::MAX
        }
    });
    rig.start(1_000, FORCE);
    rig.run_us(1_000_000);
    let order = &rig.heard.order;
    let numbers: Vec<u64> = order
        .iter()
        .map(|came| match *came {
            Came::Block(first) | Came::Fault(first) => first,
        })
        .collect();
    assert!(numbers.is_sorted(), "{order:?}");
    for (place, came) in order.iter().enumerate() {
        if let (Came::Fault(at), Some(next)) = (came, order.get(place + 1)) {
            assert_eq!(*next, Came::Block(*at), "told before its first sample");
        }
    }
    assert!(rig.heard.faults.len() > 4);
}

#[test]
fn a_signal_flickering_at_the_end_does_not_chop_the_stream() {
    let mut rig = Rig::new();
    load_from_us(&mut rig, |at_us| {
        if at_us / 1_000 % 2 == 0 {
            i32::MAX
        } else {
            8_388_000
        }
    });
    rig.start(1_000, FORCE);
    rig.run_us(90_000);
    let samples = rig.heard.samples().count();
    assert!(
        samples >= 60 && rig.heard.blocks.len() <= 5,
        "{} blocks",
        rig.heard.blocks.len()
    );
}

#[test]
fn a_silent_converter_is_said_to_be_silent_revived_and_its_samples_are_missing() {
    let mut rig = Rig::new();
    rig.start(1_000, FORCE);
    rig.run_us(1_000_000);
    let last = rig
        .heard
        .samples()
        .last()
        .map(|sample| sample.number)
        .unwrap();
    rig.cell.0.borrow_mut().silent = true;
    rig.run_us(40_000);
    let begun = changes(&rig, Fault::AdcSilent);
    assert!(
        matches!(begun[..], [(at, true)] if at <= last + 33),
        "{begun:?}"
    );
    assert_eq!(
        rig.heard.missing(),
        0,
        "what was taken before has been sent"
    );
    rig.run_us(2_000_000);
    rig.cell.come_back();
    rig.run_us(1_000_000);
    let ended = changes(&rig, Fault::AdcSilent);
    assert_eq!(
        ended.iter().map(|change| change.1).collect::<Vec<_>>(),
        [true, false]
    );
    let first_after = ended[1].0;
    assert!(
        rig.heard
            .samples()
            .any(|sample| sample.number == first_after)
    );
    // Silent for 2.04 s and until the next attempt, at most half a second later.
    let missing = rig.heard.missing();
    assert!((2_035..2_560).contains(&missing), "{missing}");
    assert!(
        marked(&rig, Fault::AdcSilent).is_empty(),
        "no sample was taken in it"
    );
}

#[test]
fn a_short_pause_of_data_ready_is_missing_samples_but_no_fault() {
    let mut rig = Rig::new();
    rig.start(1_000, FORCE);
    rig.run_us(500_000);
    rig.cell.0.borrow_mut().unready = true;
    rig.run_us(10_000);
    rig.cell.0.borrow_mut().unready = false;
    rig.run_us(500_000);
    assert!(changes(&rig, Fault::AdcSilent).is_empty());
}

#[test]
fn an_open_wire_is_found_in_the_stream_and_its_mending_too() {
    let mut rig = Rig::new();
    rig.start(1_000, FORCE);
    rig.run_us(500_000);
    rig.cell.0.borrow_mut().open = Some(OpenWire::Signal);
    rig.run_us(500_000);
    assert!(matches!(changes(&rig, Fault::OpenBridge)[..], [(_, true)]));
    assert!(marked(&rig, Fault::OpenBridge).len() > 200);
    assert!(rig.polled.feed_watchdog);
    rig.cell.0.borrow_mut().open = None;
    rig.run_us(2_500_000);
    assert!(matches!(
        changes(&rig, Fault::OpenBridge)[..],
        [(_, true), (_, false)]
    ));
    assert!(matches!(
        changes(&rig, Fault::Saturated)[..],
        [(_, true), (_, false)]
    ));
    let before = rig.heard.missing();
    rig.run_us(3_000_000);
    assert_eq!(
        rig.heard.missing(),
        before,
        "sound again: not looked at any more"
    );
    assert!(before < 100, "{before}");
    assert!(changes(&rig, Fault::AdcSilent).is_empty());
}

#[test]
fn an_open_supply_wire_reads_zero_and_is_found_at_the_start() {
    let mut rig = Rig::new();
    rig.cell.0.borrow_mut().open = Some(OpenWire::Supply);
    rig.start(1_000, FORCE);
    rig.run_us(500_000);
    assert_eq!(changes(&rig, Fault::OpenBridge), [(0, true)]);
    assert!(
        rig.heard
            .blocks
            .iter()
            .all(|block| block.faults.0 == bit(Fault::OpenBridge))
    );
}

#[test]
fn saturation_by_load_is_not_called_an_open_wire() {
    let mut rig = Rig::new();
    load_from_us(&mut rig, |at_us| if at_us > 500_000 { i32::MAX } else { 0 });
    rig.start(1_000, FORCE);
    rig.run_us(5_000_000);
    assert!(changes(&rig, Fault::OpenBridge).is_empty());
    assert!(matches!(changes(&rig, Fault::Saturated)[..], [(_, true)]));
}

#[test]
fn a_probe_that_steps_as_no_encoder_can_marks_the_samples_there() {
    let mut rig = Rig::new();
    rig.start(1_000, PROBE);
    rig.run_us(300_000);
    let now = rig.now_us;
    rig.pin(now + 500, Pin::Ab(true, true)); // from (false, false)
    rig.run_us(700_000);
    let changes = changes(&rig, Fault::ProbeStep);
    assert!(
        matches!(changes[..], [(from, true), (to, false)] if to - from == 20),
        "{changes:?}"
    );
    assert_eq!(marked(&rig, Fault::ProbeStep).len(), 20);
}

fn calibration() -> CalibrationRecord {
    CalibrationRecord {
        id: [1; 16],
        channel: Channel::Force,
        // 25 kN at 625 000 counts above 1 000.
        coefficients: [0.0, 0.04, 0.0, 0.0],
        zero_counts: 1_000,
        expanded_relative: 0.005,
        expanded_fixed: 10.0,
        span: [500.0, 20_000.0],
        rated: 25_000.0,
        temperature_c: 21.0,
        date_days: 20_000,
        due_days: 20_365,
        certificate: "TP-117".try_into().expect("short"),
        laboratory: "Tern Point".try_into().expect("short"),
    }
}

fn overloads(rig: &mut Rig) -> Vec<(u32, i32)> {
    match rig.ask(Command::ReadOverloads) {
        Ok(Reply::Overloads(history)) => history.iter().map(|o| (o.boot, o.peak_counts)).collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn an_overload_is_marked_in_the_stream_and_stored_within_a_second_of_the_stop() {
    let mut rig = Rig::new();
    rig.ask(Command::WriteCalibration(calibration())).unwrap();
    rig.start(1_000, FORCE);
    let from = rig.now_us + 200_000;
    load_from_us(&mut rig, move |at_us| match at_us.checked_sub(from) {
        Some(0..100_000) => 700_000,
        Some(100_000..150_000) => -640_000,
        _ => 626_000,
    });
    rig.run_us(1_000_000);
    let first_beyond = rig
        .heard
        .samples()
        .find(|sample| sample.force == Some(700_000))
        .unwrap()
        .number;
    let changes = changes(&rig, Fault::Overload);
    assert_eq!(changes[0], (first_beyond, true));
    assert!(matches!(changes[..], [_, (_, false)]));
    rig.ask(Command::Stop).unwrap();
    rig.run_us(1_000_000);
    let mut rig = rig.restarted();
    assert_eq!(overloads(&mut rig), [(1, 700_000)]);
}

#[test]
fn an_overload_still_on_at_the_stop_is_kept_and_one_while_idle_too() {
    let mut rig = Rig::new();
    rig.ask(Command::WriteCalibration(calibration())).unwrap();
    rig.start(1_000, FORCE);
    load_from_us(&mut rig, |_| 650_000);
    rig.run_us(300_000);
    rig.ask(Command::Stop).unwrap();
    load_from_us(&mut rig, |_| 0);
    rig.run_us(1_000_000);
    assert_eq!(overloads(&mut rig), [(1, 650_000)]);
    load_from_us(&mut rig, |_| -800_000);
    rig.run_us(100_000);
    load_from_us(&mut rig, |_| 0);
    rig.run_us(1_000_000);
    let mut rig = rig.restarted();
    assert_eq!(overloads(&mut rig), [(1, 650_000), (1, -800_000)]);
}

/// A gauge that falls on its knob: the blow is over within milliseconds, and nobody measures.
#[test]
fn a_blow_of_three_milliseconds_while_idle_is_kept_whenever_it_comes() {
    for begins_us in (0..12_000).step_by(700) {
        let mut rig = Rig::new();
        rig.ask(Command::WriteCalibration(calibration())).unwrap();
        rig.run_us(500_000);
        let from = rig.now_us + begins_us;
        load_from_us(&mut rig, move |at_us| match at_us.checked_sub(from) {
            Some(0..3_000) => 900_000,
            _ => 0,
        });
        rig.run_us(1_000_000);
        assert_eq!(overloads(&mut rig), [(1, 900_000)], "{begins_us}");
    }
}

#[test]
fn flash_is_not_touched_while_streaming() {
    let mut rig = Rig::new();
    rig.ask(Command::WriteCalibration(calibration())).unwrap();
    rig.start(1_000, FORCE);
    for step in 0..20 {
        load_from_us(&mut rig, move |_| if step % 2 == 0 { 700_000 } else { 0 });
        rig.run_us(200_000);
    }
    assert!(rig.gauge.is_streaming());
    let memory = rig.gauge.release();
    // The boot and the calibration, nothing since.
    assert_eq!((memory.programs, memory.erases), (2, 0));
}

#[test]
fn a_start_right_after_a_stop_waits_for_the_records() {
    let mut rig = Rig::new();
    rig.ask(Command::WriteCalibration(calibration())).unwrap();
    rig.start(1_000, FORCE);
    load_from_us(&mut rig, |_| 700_000);
    rig.run_us(200_000);
    let stop = rig.send(Command::Stop);
    let start = rig.send(Command::Start {
        rate_hz: 1_000,
        channels: FORCE,
    });
    rig.run_us(300_000);
    assert!(matches!(
        rig.heard.answer(stop),
        Some(Ok(Reply::Stopped { .. }))
    ));
    assert!(matches!(
        rig.heard.answer(start),
        Some(Ok(Reply::Started { .. }))
    ));
    let memory = rig.gauge.release();
    assert_eq!(memory.programs, 3, "boot, calibration, overload");
}

#[test]
fn a_calibration_written_right_after_a_stop_costs_no_overload_record() {
    for delay_us in (0..1_200).step_by(60) {
        let mut rig = Rig::new();
        rig.ask(Command::WriteCalibration(calibration())).unwrap();
        rig.start(1_000, FORCE);
        load_from_us(&mut rig, |_| 700_000);
        rig.run_us(200_000);
        rig.send(Command::Stop);
        rig.run_us(delay_us);
        let renewed = CalibrationRecord {
            id: [2; 16],
            ..calibration()
        };
        let written = rig.send(Command::WriteCalibration(renewed.clone()));
        rig.run_us(100_000);
        assert_eq!(rig.heard.answer(written), Some(&Ok(Reply::Stored)));
        let mut rig = rig.restarted();
        assert_eq!(overloads(&mut rig), [(1, 700_000)], "after {delay_us} µs");
        let read = rig.ask(Command::ReadCalibration(Channel::Force));
        assert_eq!(read, Ok(Reply::Calibration(renewed)));
    }
}

/// Clocks one display reading into the pins, first bit at `at_us`.
fn clock_reading(rig: &mut Rig, at_us: u64, digits: [u8; 13], lost_bit: Option<usize>) {
    let bits = digits
        .iter()
        .flat_map(|digit| (0..4).map(move |bit| digit >> bit & 1 == 1));
    for (place, bit) in bits.enumerate() {
        if Some(place) != lost_bit {
            rig.pin(at_us + place as u64 * 300, Pin::IndicatorClock(bit));
        }
    }
}

const SHOWN: [u8; 13] = [15, 15, 15, 15, 8, 0, 0, 1, 2, 3, 4, 3, 0];

#[test]
fn the_indicator_is_asked_read_and_asked_again() {
    let mut rig = Rig::new();
    rig.start(1_000, INDICATOR);
    assert!(rig.polled.request_indicator);
    let first_us = rig.now_us + 30_000;
    clock_reading(&mut rig, first_us, SHOWN, None);
    rig.run_us(60_000);
    assert!(
        !rig.polled.request_indicator,
        "released once it has answered"
    );
    rig.run_us(100_000);
    assert!(rig.polled.request_indicator, "asked again");
    let second_us = rig.now_us + 20_000;
    clock_reading(&mut rig, second_us, SHOWN, None);
    rig.run_us(100_000);
    let heard: Vec<(u32, u64, i32)> = rig
        .heard
        .readings
        .iter()
        .map(|r| (r.number, r.at_us, r.digits))
        .collect();
    assert_eq!(heard, [(0, first_us, -1_234), (1, second_us, -1_234)]);
    assert_eq!(
        (rig.heard.readings[0].decimals, rig.heard.readings[0].inch),
        (3, false)
    );
    assert!(rig.heard.faults.is_empty());
}

#[test]
fn a_silent_or_garbled_indicator_says_so_until_it_reads_again() {
    let mut rig = Rig::new();
    rig.start(1_000, INDICATOR);
    rig.run_us(1_200_000);
    assert!(matches!(
        changes(&rig, Fault::IndicatorSilent)[..],
        [(_, true)]
    ));
    let now = rig.now_us;
    clock_reading(&mut rig, now + 10_000, SHOWN, Some(17));
    rig.run_us(200_000);
    assert!(matches!(
        changes(&rig, Fault::IndicatorSilent)[..],
        [(_, true), (_, false)]
    ));
    assert!(matches!(
        changes(&rig, Fault::IndicatorGarbled)[..],
        [(_, true)]
    ));
    assert!(rig.heard.readings.is_empty());
    let now = rig.now_us;
    clock_reading(&mut rig, now + 10_000, SHOWN, None);
    rig.run_us(200_000);
    assert!(matches!(
        changes(&rig, Fault::IndicatorGarbled)[..],
        [(_, true), (_, false)]
    ));
    assert_eq!(rig.heard.readings.len(), 1);
}

#[test]
fn the_light_tells_a_fault_whatever_the_host_asked_for() {
    let mut rig = Rig::new();
    rig.start(1_000, FORCE);
    rig.ask(Command::Show(Signal::Off)).unwrap();
    rig.cell.0.borrow_mut().silent = true;
    rig.light.clear();
    rig.run_us(2_000_000);
    assert!(
        rig.light.iter().filter(|change| change.1).count() >= 5,
        "{:?}",
        rig.light
    );
}

#[test]
fn a_restart_in_a_stream_counts_the_boot_and_tells_nothing_of_the_old_one() {
    let mut rig = Rig::new();
    rig.start(1_000, ALL);
    rig.run_us(500_000);
    let mut rig = rig.restarted();
    rig.start(1_000, ALL);
    rig.run_us(500_000);
    assert_eq!(rig.gauge.boot(), 2);
    assert!(rig.heard.blocks.iter().all(|block| block.boot == 2));
    assert_eq!(
        rig.heard.samples().next().map(|sample| sample.number),
        Some(0)
    );
}

const LEVEL: i32 = 1_200_000;

/// A thousand samples a second of a held clamp, its supply wire open for so long.
fn with_the_supply_open_for_us(span_us: u64) -> Rig {
    let mut rig = Rig::new();
    load_from_us(&mut rig, |_| LEVEL);
    rig.start(1_000, FORCE);
    rig.run_us(500_000);
    rig.cell.0.borrow_mut().open = Some(OpenWire::Supply);
    rig.run_us(span_us);
    rig.cell.0.borrow_mut().open = None;
    rig.run_us(3_000_000);
    rig
}

#[test]
fn a_supply_wire_open_for_some_tenths_of_a_second_is_found_though_nothing_saturates() {
    let rig = with_the_supply_open_for_us(300_000);
    let changes = changes(&rig, Fault::OpenBridge);
    assert_eq!(
        changes.iter().map(|change| change.1).collect::<Vec<_>>(),
        [true, false]
    );
    let marked = marked(&rig, Fault::OpenBridge);
    let gone: Vec<u64> = rig
        .heard
        .samples()
        .filter(|sample| sample.force.is_some_and(|counts| counts < LEVEL / 2))
        .map(|sample| sample.number)
        .collect();
    let unmarked = gone
        .iter()
        .filter(|number| !marked.contains(number))
        .count();
    // What was sent before the look began; far fewer than the 25 that half the analysis' 50 ms hold.
    assert!(
        gone.len() > 250 && (1..=4).contains(&unmarked),
        "{unmarked} of {}",
        gone.len()
    );
    assert!(
        marked.len() < 1_400,
        "the fault ends when a later look finds the wire whole"
    );
}

#[test]
fn a_level_lost_for_another_reason_costs_a_dozen_samples_and_is_no_fault() {
    let mut rig = Rig::new();
    load_from_us(
        &mut rig,
        |at_us| if at_us < 700_000 { LEVEL } else { 15_000 },
    );
    rig.start(1_000, FORCE);
    rig.run_us(2_000_000);
    assert!(rig.heard.faults.is_empty(), "{:?}", rig.heard.faults);
    let missing = rig.heard.missing();
    assert!((1..=16).contains(&missing), "{missing} samples");
}

fn stops(rig: &mut Rig) -> Vec<(u32, u64, StopCause)> {
    match rig.ask(Command::ReadStops) {
        Ok(Reply::Stops(history)) => history
            .iter()
            .map(|stop| (stop.boot, stop.at_us, stop.cause))
            .collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_program_that_stopped_is_told_by_the_next_runs_and_after_power_was_gone() {
    let mut kept = Kept::EMPTY;
    let mut rig = Rig::new();
    assert_eq!(stops(&mut rig), []);
    kept.begin(rig.gauge.boot());
    kept.alive(rig.gauge.now_us(), true);
    let alive_us = rig.gauge.now_us();
    kept.stop(StopCause::Panic, Trail::new());
    let mut rig = rig.restarted();
    rig.gauge.note_stop(kept.take(ResetCause::Watchdog));
    assert_eq!(stops(&mut rig), [(1, alive_us, StopCause::Panic)]);
    rig.run_us(1_000_000);
    let mut rig = rig.restarted();
    rig.gauge.note_stop(kept.take(ResetCause::PowerOn));
    assert_eq!(stops(&mut rig), [(1, alive_us, StopCause::Panic)]);
    // Of a bite alone the boot is known.
    let mut rig = rig.restarted();
    rig.gauge.note_stop(kept.take(ResetCause::Watchdog));
    let told = [(1, alive_us, StopCause::Panic), (3, 0, StopCause::MainLoop)];
    assert_eq!(stops(&mut rig), told);
    rig.start(1_000, FORCE);
}
