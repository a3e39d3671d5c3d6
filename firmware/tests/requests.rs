//! Requests to the whole gauge: each is answered or refused exactly once, whatever else comes down the line.

mod bench;

use bench::memory::Memory;
use bench::rig::{FORCE, Rig};
use holdtrue_firmware::ads1220::RATES_HZ;
use holdtrue_firmware::bridge::Wiring;
use holdtrue_firmware::flash::LEAST_SUPPLY_MV;
use holdtrue_firmware::gauge::{LEAVE_US, WRITE_AGAIN_US};
use holdtrue_firmware::light::{OFF_US, ON_US};
use holdtrue_protocol::frame::encode_frame;
use holdtrue_protocol::message::{
    Binding, BoundRecord, CalibrationRecord, Channel, Channels, Command, Converter, Refusal, Reply,
    Request, SelfTest, Signal, ToGauge,
};
use proptest::prelude::*;

fn record(channel: Channel, id: u8) -> CalibrationRecord {
    CalibrationRecord {
        id: [id; 16],
        channel,
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

#[test]
fn identity_life_and_light_are_answered_idle_and_streaming() {
    let mut rig = Rig::new();
    for streaming in [false, true] {
        if streaming {
            rig.start(1_000, FORCE);
        }
        let Ok(Reply::Identity(hello)) = rig.ask(Command::Identify) else {
            panic!("no identity");
        };
        assert_eq!(
            (hello.serial.as_str(), hello.streaming),
            ("TP-0042", streaming)
        );
        let Ok(Reply::Alive { at_us }) = rig.ask(Command::KeepAlive) else {
            panic!("not alive");
        };
        assert!(rig.now_us - at_us < 10_000);
        assert_eq!(rig.ask(Command::Show(Signal::Hold)), Ok(Reply::Shown));
    }
}

#[test]
fn the_light_blinks_as_often_as_the_signal_says() {
    let mut rig = Rig::new();
    rig.ask(Command::Show(Signal::Unclamp)).unwrap();
    rig.light.clear();
    rig.run_us(3 * (ON_US + OFF_US) + 700_000);
    let on = rig.light.iter().filter(|change| change.1).count();
    assert_eq!(on, 3, "{:?}", rig.light);
    rig.ask(Command::Show(Signal::Off)).unwrap();
    rig.light.clear();
    rig.run_us(3_000_000);
    assert!(rig.light.iter().all(|change| !change.1));
}

#[test]
fn a_start_that_cannot_be_is_refused_with_the_reason() {
    let mut rig = Rig::with(Memory::blank(), FORCE, 0);
    let start = |rate_hz, channels| Command::Start { rate_hz, channels };
    for (asked_hz, nearest_hz) in [
        (500, 600),
        (100, 90),
        (5_000, 2_000),
        (1, 20),
        (1_001, 1_000),
    ] {
        assert_eq!(
            rig.ask(start(asked_hz, FORCE)),
            Err(Refusal::NoSuchRate { nearest_hz }),
            "{asked_hz}/s"
        );
    }
    let probe = Channels {
        displacement: true,
        ..FORCE
    };
    assert_eq!(rig.ask(start(1_000, probe)), Err(Refusal::NotFitted));
    assert_eq!(
        rig.ask(start(1_000, Channels::default())),
        Err(Refusal::NotFitted)
    );
    assert_eq!(rig.ask(Command::Stop), Err(Refusal::NotStreaming));
    rig.start(1_000, FORCE);
    for command in [
        start(1_000, FORCE),
        Command::SelfTest(SelfTest::Noise),
        Command::WriteCalibration(record(Channel::Force, 1)),
    ] {
        assert_eq!(rig.ask(command), Err(Refusal::Streaming));
    }
    assert!(rig.gauge.is_streaming());
}

#[test]
fn a_converter_that_does_not_obey_or_never_gets_ready_is_told() {
    for unready in [false, true] {
        let mut rig = Rig::new();
        {
            let mut cell = rig.cell.0.borrow_mut();
            cell.silent = !unready;
            cell.unready = unready;
        }
        rig.run_us(100_000);
        let start = Command::Start {
            rate_hz: 1_000,
            channels: FORCE,
        };
        assert_eq!(rig.ask(start.clone()), Err(Refusal::AdcSilent));
        assert_eq!(
            rig.ask(Command::SelfTest(SelfTest::Noise)),
            Err(Refusal::AdcSilent)
        );
        {
            let mut cell = rig.cell.0.borrow_mut();
            cell.silent = false;
            cell.unready = false;
        }
        assert!(matches!(rig.ask(start), Ok(Reply::Started { .. })));
    }
}

#[test]
fn self_tests_set_the_converter_and_give_what_it_read() {
    let mut rig = Rig::new();
    rig.cell.0.borrow_mut().load =
        Box::new(|at_us| if at_us / 1_000 % 2 == 0 { 990 } else { 1_010 });
    let mut run = |test| match rig.ask(Command::SelfTest(test)) {
        Ok(Reply::SelfTest(result)) => {
            assert_eq!(result.test, test);
            result
        }
        other => panic!("{other:?}"),
    };
    let shorted = run(SelfTest::ShortedInput);
    assert_eq!((shorted.readings, shorted.median), (63, -119));
    assert!(
        (shorted.deviation - 0.82).abs() < 0.05,
        "{}",
        shorted.deviation
    );
    let noise = run(SelfTest::Noise);
    assert!([990, 1_010].contains(&noise.median));
    // Two levels 20 counts apart, half the readings each: half their distance, with n − 1.
    assert!(
        (noise.deviation - 10.08).abs() < 0.02,
        "{}",
        noise.deviation
    );
    let shunt = run(SelfTest::Shunt);
    assert!(
        (shunt.median - 500_000 - 1_000).abs() <= 10,
        "{}",
        shunt.median
    );
    assert_eq!(run(SelfTest::Supply).median, 3_302);
    assert_eq!(run(SelfTest::Temperature).median, 21_500);
    assert!(!run(SelfTest::OpenBridge).open);
    let back = *rig.cell.0.borrow().setups.last().unwrap();
    assert!(!back.shunt, "the shunt is off again");
}

#[test]
fn open_wires_are_found() {
    use bench::cell::OpenWire;
    for wire in [OpenWire::Signal, OpenWire::Supply] {
        let mut rig = Rig::new();
        rig.cell.0.borrow_mut().open = Some(wire);
        let Ok(Reply::SelfTest(result)) = rig.ask(Command::SelfTest(SelfTest::OpenBridge)) else {
            panic!("no result");
        };
        assert!(result.open, "{wire:?}");
    }
}

#[test]
fn while_a_self_test_runs_the_rest_is_answered_and_a_second_one_is_refused() {
    let mut rig = Rig::new();
    rig.run_us(50_000);
    let test = rig.send(Command::SelfTest(SelfTest::Noise));
    rig.run_us(10_000);
    assert_eq!(
        rig.ask(Command::SelfTest(SelfTest::Supply)),
        Err(Refusal::Busy)
    );
    assert_eq!(
        rig.ask(Command::Start {
            rate_hz: 1_000,
            channels: FORCE
        }),
        Err(Refusal::Busy)
    );
    assert!(rig.ask(Command::KeepAlive).is_ok());
    assert!(rig.heard.answer(test).is_none(), "still running");
    rig.run_us(200_000);
    assert!(matches!(
        rig.heard.answer(test),
        Some(Ok(Reply::SelfTest(_)))
    ));
}

#[test]
fn a_gauge_without_cell_or_shunt_says_not_fitted() {
    let mark_only = Channels {
        mark: true,
        ..Channels::default()
    };
    let mut rig = Rig::with(Memory::blank(), mark_only, 0);
    assert_eq!(
        rig.ask(Command::SelfTest(SelfTest::Noise)),
        Err(Refusal::NotFitted)
    );
    assert_eq!(
        rig.ask(Command::ReadCalibration(Channel::Force)),
        Err(Refusal::NotFitted)
    );
    let written = Command::WriteCalibration(record(Channel::Indicator, 1));
    assert_eq!(rig.ask(written), Err(Refusal::NotFitted));
}

#[test]
fn a_record_is_refused_where_the_supply_is_too_low_and_a_boot_number_waits_for_it_and_holds_up_nothing()
 {
    let write = |id| Command::WriteCalibration(record(Channel::Force, id));
    let mut memory = Memory::blank();
    // At the start, and again a second later.
    memory.supply_mv = [LEAST_SUPPLY_MV - 1; 2].into();
    let mut rig = Rig::with(memory, FORCE, 0);
    rig.start(1_000, FORCE);
    rig.ask(Command::Stop).unwrap();
    rig.run_us(WRITE_AGAIN_US * 5 / 2);
    let mut memory = rig.gauge.release();
    assert_eq!(memory.programs, 1, "written once the supply was back");
    memory.supply_mv = [LEAST_SUPPLY_MV, 2_500].into();
    let mut rig = Rig::with(memory, FORCE, 0);
    assert_eq!(rig.gauge.boot(), 2);
    let refused = Refusal::SupplyLow { millivolts: 2_500 };
    assert_eq!(rig.ask(write(1)), Err(refused));
    assert_eq!(
        rig.ask(Command::ReadCalibration(Channel::Force)),
        Err(Refusal::NoRecord)
    );
    assert_eq!(rig.ask(write(2)), Ok(Reply::Stored));
}

#[test]
fn calibrations_are_kept_channel_by_channel_across_a_restart() {
    let mut rig = Rig::new();
    assert_eq!(
        rig.ask(Command::ReadCalibration(Channel::Force)),
        Err(Refusal::NoRecord)
    );
    for (channel, id) in [
        (Channel::Force, 1),
        (Channel::Displacement, 2),
        (Channel::Force, 3),
    ] {
        assert_eq!(
            rig.ask(Command::WriteCalibration(record(channel, id))),
            Ok(Reply::Stored)
        );
    }
    let mut spoilt = record(Channel::Force, 4);
    spoilt.rated = f64::NAN;
    assert_eq!(
        rig.ask(Command::WriteCalibration(spoilt)),
        Err(Refusal::BadRecord)
    );
    let mut rig = rig.restarted();
    assert_eq!(rig.gauge.boot(), 2);
    for (channel, id) in [(Channel::Force, 3), (Channel::Displacement, 2)] {
        let read = rig.ask(Command::ReadCalibration(channel));
        assert_eq!(read, Ok(Reply::Calibration(record(channel, id))));
    }
    assert_eq!(
        rig.ask(Command::ReadCalibration(Channel::Indicator)),
        Err(Refusal::NoRecord)
    );
}

fn bound(board: [u8; 8], gain: u16) -> BoundRecord {
    BoundRecord {
        record: record(Channel::Force, 9),
        made_on: Binding {
            converter: Converter {
                gain,
                ..Wiring::FOUR_WIRE.converter(board)
            },
            shunt_step: Some(937_883),
        },
    }
}

#[test]
fn a_calibration_made_on_other_hardware_never_gets_in_and_its_own_outlives_a_restart() {
    const BOARD: [u8; 8] = *b"TP-board";
    let mut rig = Rig::new();
    let Ok(Reply::Hardware(hardware)) = rig.ask(Command::ReadHardware) else {
        panic!("no hardware");
    };
    assert_eq!(hardware.converter, Some(Wiring::FOUR_WIRE.converter(BOARD)));
    let read = Command::ReadBinding(Channel::Force);
    assert_eq!(rig.ask(read.clone()), Err(Refusal::NoRecord));
    let indicator = BoundRecord {
        record: record(Channel::Indicator, 9),
        ..bound(BOARD, 128)
    };
    for other in [bound(*b"TP-other", 128), bound(BOARD, 64), indicator] {
        let refused = rig.ask(Command::WriteBound(other));
        assert_eq!(refused, Err(Refusal::OtherHardware));
    }
    assert_eq!(
        rig.ask(Command::WriteBound(bound(BOARD, 128))),
        Ok(Reply::Stored)
    );
    let mut rig = rig.restarted();
    let made_on = bound(BOARD, 128).made_on;
    assert_eq!(rig.ask(read.clone()), Ok(Reply::Binding(Some(made_on))));
    // Who knows no bindings reads the record in it, and writes one that is not bound.
    let unbound = record(Channel::Force, 9);
    assert_eq!(
        rig.ask(Command::ReadCalibration(Channel::Force)),
        Ok(Reply::Calibration(unbound.clone()))
    );
    assert_eq!(
        rig.ask(Command::WriteCalibration(unbound)),
        Ok(Reply::Stored)
    );
    assert_eq!(rig.ask(read), Ok(Reply::Binding(None)));
}

/// A whole frame whose body is these bytes.
fn frame_of(body: &[u8]) -> Vec<u8> {
    #[derive(serde::Serialize)]
    struct Body<'a>(#[serde(serialize_with = "raw")] &'a [u8]);
    fn raw<S: serde::Serializer>(bytes: &&[u8], serializer: S) -> Result<S::Ok, S::Error> {
        use serde::ser::SerializeTuple;
        let mut tuple = serializer.serialize_tuple(bytes.len())?;
        for byte in *bytes {
            tuple.serialize_element(byte)?;
        }
        tuple.end()
    }
    let mut buffer = [0; 512];
    encode_frame(&Body(body), &mut buffer)
        .expect("fits")
        .to_vec()
}

#[test]
fn a_command_of_a_newer_host_is_refused_by_its_number() {
    let mut rig = Rig::new();
    rig.run_us(10_000);
    // Request number 300, command 77; then one with a byte more than this firmware knows.
    rig.send_bytes(&frame_of(&[0, 0xac, 0x02, 77, 1, 2, 3]));
    rig.send_bytes(&frame_of(&[0, 0xad, 0x02, 0, 9]));
    rig.run_us(10_000);
    for id in [300, 301] {
        assert_eq!(
            rig.heard.answer(id),
            Some(&Err(Refusal::UnknownCommand)),
            "{id}"
        );
    }
}

#[test]
fn damaged_frames_are_not_answered_and_do_not_spoil_the_next() {
    let mut rig = Rig::new();
    rig.run_us(10_000);
    let whole = frame_of(&[0, 5, 0]);
    for place in 0..whole.len() - 1 {
        let mut damaged = whole.clone();
        damaged[place] ^= 0x40;
        rig.send_bytes(&damaged);
    }
    rig.send_bytes(&vec![0x11; 2_000]);
    rig.send_bytes(&[0]);
    rig.run_us(100_000);
    assert!(rig.heard.answers.is_empty(), "{:?}", rig.heard.answers);
    assert!(rig.ask(Command::Identify).is_ok());
}

#[test]
fn a_host_that_does_not_read_gets_every_answer_later() {
    let mut rig = Rig::new();
    rig.start(2_000, FORCE);
    rig.stalled = true;
    rig.cell.0.borrow_mut().load =
        Box::new(|at_us| i32::try_from(at_us % 1_000_003).map_or(0, |counts| counts * 7));
    rig.run_us(5_000_000); // full of blocks
    let asked: Vec<u16> = (0..300)
        .map(|number| {
            rig.send(match number % 3 {
                0 => Command::Identify,
                1 => Command::KeepAlive,
                _ => Command::ReadOverloads,
            })
        })
        .collect();
    rig.run_us(3_000_000);
    rig.stalled = false;
    rig.run_us(200_000);
    for id in asked {
        assert!(rig.heard.answer(id).is_some(), "request {id}");
    }
    assert_eq!(rig.bad_frames(), 0);
}

#[test]
fn a_new_connection_begins_clean() {
    let mut rig = Rig::new();
    rig.start(1_000, FORCE);
    rig.run_us(100_000);
    rig.stalled = true;
    rig.send_bytes(&frame_of(&[0, 5, 0])[..3]);
    rig.run_us(300_000);
    rig.gauge.sent(50);
    rig.gauge.on_connect();
    rig.stalled = false;
    assert!(rig.ask(Command::Identify).is_ok());
    rig.run_us(100_000);
    assert_eq!(rig.bad_frames(), 0);
}

#[test]
fn the_watchdog_is_not_fed_once_the_converters_part_no_longer_runs() {
    let mut rig = Rig::new();
    rig.start(1_000, FORCE);
    rig.run_us(500_000);
    assert!(rig.polled.feed_watchdog);
    rig.hung = true;
    rig.run_us(2_500_000);
    assert!(!rig.polled.feed_watchdog);
}

fn command() -> impl Strategy<Value = Command> {
    let channel = prop_oneof![
        Just(Channel::Force),
        Just(Channel::Displacement),
        Just(Channel::Indicator)
    ];
    let test = prop_oneof![
        Just(SelfTest::ShortedInput),
        Just(SelfTest::OpenBridge),
        Just(SelfTest::Supply)
    ];
    prop_oneof![
        Just(Command::Identify),
        (0..RATES_HZ.len(), any::<bool>()).prop_map(|(rate, force)| Command::Start {
            rate_hz: RATES_HZ[rate],
            channels: Channels {
                force,
                displacement: true,
                ..FORCE
            },
        }),
        Just(Command::Stop),
        channel.clone().prop_map(Command::ReadCalibration),
        (channel, any::<u8>()).prop_map(|(c, id)| Command::WriteCalibration(record(c, id))),
        test.prop_map(Command::SelfTest),
        Just(Command::KeepAlive),
        Just(Command::Show(Signal::Wait)),
        Just(Command::Show(Signal::Turn)),
        Just(Command::Show(Signal::Taken)),
        Just(Command::ReadOverloads),
        Just(Command::ReadStops),
        Just(Command::ReadHardware),
        Just(Command::ReadBinding(Channel::Force)),
        Just(Command::WriteBound(bound(*b"TP-board", 128))),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn whatever_is_asked_in_whatever_order_is_answered_exactly_once(
        commands in proptest::collection::vec((command(), 0_u64..60_000, any::<bool>()), 1..40),
    ) {
        let mut rig = Rig::new();
        let mut asked = Vec::new();
        for (command, wait_us, stalled) in commands {
            asked.push(rig.send(command));
            rig.stalled = stalled;
            rig.run_us(wait_us);
        }
        rig.stalled = false;
        rig.run_us(12_000_000);
        for id in asked {
            prop_assert!(rig.heard.answer(id).is_some(), "request {id} unanswered");
        }
        prop_assert_eq!(rig.bad_frames(), 0);
    }

    #[test]
    fn any_bytes_leave_the_gauge_well(noise in proptest::collection::vec(any::<u8>(), 0..3_000)) {
        let mut rig = Rig::new();
        rig.send_bytes(&noise);
        rig.send_bytes(&[0]);
        rig.run_us(100_000);
        prop_assert!(rig.ask(Command::Identify).is_ok());
    }

    #[test]
    fn a_good_body_with_any_bytes_behind_its_number_leaves_the_gauge_well(
        tail in proptest::collection::vec(any::<u8>(), 0..200),
    ) {
        let mut rig = Rig::new();
        rig.run_us(10_000);
        let body: Vec<u8> = [0, 42].into_iter().chain(tail).collect();
        rig.send_bytes(&frame_of(&body));
        rig.run_us(3_000_000);
        prop_assert!(rig.heard.answer(42).is_some());
    }
}

#[test]
fn it_leaves_for_the_boot_mode_when_told_to_and_once_the_answer_is_out() {
    let mut rig = Rig::new();
    rig.start(1_000, FORCE);
    assert_eq!(rig.ask(Command::EnterBootMode), Err(Refusal::Streaming));
    rig.ask(Command::Stop).unwrap();
    rig.run_us(1_000_000);
    assert!(!rig.polled.enter_boot_mode);
    assert_eq!(rig.ask(Command::EnterBootMode), Ok(Reply::BootMode));
    assert!(!rig.polled.enter_boot_mode, "the answer has to get there");
    rig.run_us(LEAVE_US);
    assert!(rig.polled.enter_boot_mode);
}

#[test]
fn requests_longer_than_any_known_are_skipped() {
    let mut rig = Rig::new();
    rig.run_us(10_000);
    rig.send_bytes(&frame_of(&[1; 300]));
    let request = ToGauge::Request(Request {
        id: 7,
        command: Command::Identify,
    });
    let mut buffer = [0; 64];
    let good = encode_frame(&request, &mut buffer).expect("fits").to_vec();
    rig.send_bytes(&good);
    rig.run_us(10_000);
    assert!(matches!(rig.heard.answer(7), Some(Ok(Reply::Identity(_)))));
}
