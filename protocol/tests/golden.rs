//! One pinned frame for every variant of every message. Changing a line here means a new wire version and a row
//! in WIRE.md: released frames never change.

#![allow(
    clippy::unwrap_used,
    reason = "a test fails by panicking; exact values are meant"
)]

use holdtrue_protocol::frame::{MAX_FRAME, decode_frame, decode_plain, encode_frame, unstuff};
use holdtrue_protocol::message::*;

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn unhex(text: &str) -> Vec<u8> {
    (0..text.len())
        .step_by(2)
        .map(|at| u8::from_str_radix(&text[at..at + 2], 16).unwrap())
        .collect()
}

/// The frame is pinned, and reads back as the same message.
#[track_caller]
fn gauge_says(message: FromGauge<'_>, pinned: &str) {
    let mut buffer = [0; MAX_FRAME];
    let frame = encode_frame(&message, &mut buffer).unwrap();
    assert_eq!(hex(frame), pinned, "{message:?}");
    let mut bytes = unhex(pinned);
    assert_eq!(bytes.pop(), Some(0));
    assert_eq!(decode_frame(&mut bytes), Ok(message));
}

#[track_caller]
fn host_says(command: Command, pinned: &str) {
    let message = ToGauge::Request(Request { id: 300, command });
    let mut buffer = [0; MAX_FRAME];
    let frame = encode_frame(&message, &mut buffer).unwrap();
    assert_eq!(hex(frame), pinned, "{message:?}");
    let mut bytes = unhex(pinned);
    assert_eq!(bytes.pop(), Some(0));
    assert_eq!(decode_plain(unstuff(&mut bytes).unwrap()), Ok(message));
}

#[track_caller]
fn gauge_answers(outcome: Result<Reply, Refusal>, pinned: &str) {
    gauge_says(FromGauge::Answer(Answer { id: 300, outcome }), pinned);
}

const FORCE_AND_MARK: Channels = Channels {
    force: true,
    displacement: false,
    mark: true,
    indicator: false,
};

/// A gauge of wire version 1.0: its frames are released, and stay.
fn hello(reset: ResetCause) -> Hello {
    Hello {
        wire_major: 1,
        wire_minor: 0,
        boot: 7,
        serial: "TP-0042".try_into().unwrap(),
        firmware: "0.1.0".try_into().unwrap(),
        reset,
        fitted: FORCE_AND_MARK,
        probe_nm_per_count: 100,
        at_us: 1_000_000,
        streaming: false,
    }
}

fn converter(reference: Reference) -> Converter {
    Converter {
        kind: "ADS1220".try_into().unwrap(),
        board: [0xe6, 0x61, 0x41, 0x04, 0x03, 0x21, 0x4f, 0x2a],
        gain: 128,
        reference,
    }
}

fn binding() -> Binding {
    Binding {
        converter: converter(Reference::Bridge),
        shunt_step: Some(-937_883),
    }
}

fn calibration(channel: Channel) -> CalibrationRecord {
    CalibrationRecord {
        id: [0x11; 16],
        channel,
        coefficients: [0.0, 0.0125, -1e-12, 0.0],
        zero_counts: -350,
        expanded_relative: 0.005,
        expanded_fixed: 10.0,
        span: [1000.0, 25000.0],
        rated: 30000.0,
        temperature_c: 20.5,
        date_days: 20_000,
        due_days: 20_365,
        certificate: "TP-C-17".try_into().unwrap(),
        laboratory: "Tern Point".try_into().unwrap(),
    }
}

#[test]
fn hello_with_every_reset_cause() {
    gauge_says(
        FromGauge::Hello(hello(ResetCause::PowerOn)),
        "01020110070754502d3030343205302e312e30020102010564c0843d059a182c8700",
    );
    gauge_says(
        FromGauge::Hello(hello(ResetCause::Watchdog)),
        "01020112070754502d3030343205302e312e30010102010564c0843d05a473ee6800",
    );
    gauge_says(
        FromGauge::Hello(hello(ResetCause::Requested)),
        "01020112070754502d3030343205302e312e30020102010564c0843d05a7c8d98300",
    );
    gauge_says(
        FromGauge::Hello(hello(ResetCause::Unknown)),
        "01020112070754502d3030343205302e312e30030102010564c0843d0599a31b6c00",
    );
}

#[test]
fn hello_of_earlier_minor_versions_and_of_this_one() {
    assert_eq!((WIRE_MAJOR, WIRE_MINOR), (1, 4));
    gauge_says(
        FromGauge::Hello(Hello {
            wire_minor: 1,
            ..hello(ResetCause::PowerOn)
        }),
        "01120101070754502d3030343205302e312e30020102010564c0843d050dbe316000",
    );
    gauge_says(
        FromGauge::Hello(Hello {
            wire_minor: 2,
            ..hello(ResetCause::PowerOn)
        }),
        "01120102070754502d3030343205302e312e30020102010564c0843d05f553669200",
    );
    gauge_says(
        FromGauge::Hello(Hello {
            wire_minor: 3,
            ..hello(ResetCause::PowerOn)
        }),
        "01120103070754502d3030343205302e312e30020102010564c0843d0562f57b7500",
    );
    gauge_says(
        FromGauge::Hello(Hello {
            wire_major: WIRE_MAJOR,
            wire_minor: WIRE_MINOR,
            ..hello(ResetCause::PowerOn)
        }),
        "01120104070754502d3030343205302e312e30020102010564c0843d05448eb8ad00",
    );
}

#[test]
fn block() {
    gauge_says(
        FromGauge::Block(Block {
            boot: 7,
            first_sample: 300,
            first_us: 2_000_000,
            last_us: 2_000_999,
            count: 2,
            force: true,
            displacement: true,
            faults: Faults(1 << Fault::Saturated as u16),
            data: &[0x80, 0x01, 0x05, 0x03, 0x00],
        }),
        "140107ac0280897ae7907a02010104058001050305e7b996bb00",
    );
}

#[test]
fn mark_both_edges() {
    gauge_says(
        FromGauge::Mark(MarkEdge {
            boot: 7,
            number: 1,
            at_us: 2_500_000,
            rising: true,
        }),
        "0d020701a0cb980101312b8b6500",
    );
    gauge_says(
        FromGauge::Mark(MarkEdge {
            boot: 7,
            number: 2,
            at_us: 2_500_900,
            rising: false,
        }),
        "08020702a4d2980105dcd7894c00",
    );
}

#[test]
fn indicator_reading() {
    let reading = IndicatorReading {
        boot: 7,
        number: 9,
        at_us: 2_600_000,
        digits: -1234,
        decimals: 3,
        inch: false,
    };
    gauge_says(
        FromGauge::Indicator(reading),
        "0b030709c0d89e01a313030558d60f2e00",
    );
    gauge_says(
        FromGauge::Indicator(IndicatorReading {
            digits: 4850,
            decimals: 5,
            inch: true,
            ..reading
        }),
        "10030709c0d89e01e44b0501c45e3e6b00",
    );
}

#[test]
fn every_fault() {
    let change = |fault, active| {
        FromGauge::Fault(FaultChange {
            boot: 7,
            at_sample: 1000,
            at_us: 3_000_000,
            fault,
            active,
        })
    };
    gauge_says(
        change(Fault::AdcSilent, true),
        "090407e807c08db70106018ae36cb500",
    );
    gauge_says(
        change(Fault::OpenBridge, true),
        "0f0407e807c08db7010101cbd277ac00",
    );
    gauge_says(
        change(Fault::Saturated, true),
        "0f0407e807c08db701020108815a8700",
    );
    gauge_says(
        change(Fault::Overload, true),
        "0f0407e807c08db701030149b0419e00",
    );
    gauge_says(
        change(Fault::ProbeStep, true),
        "0d0407e807c08db70104018e2602d100",
    );
    gauge_says(
        change(Fault::IndicatorSilent, true),
        "0f0407e807c08db7010501cf171bc800",
    );
    gauge_says(
        change(Fault::IndicatorGarbled, true),
        "0f0407e807c08db70106010c4436e300",
    );
    gauge_says(
        change(Fault::IndicatorGarbled, false),
        "0a0407e807c08db70106059a74319400",
    );
}

#[test]
fn press_of_the_button() {
    gauge_says(
        FromGauge::Pressed(Press {
            boot: 7,
            number: 1,
            at_us: 2_700_000,
        }),
        "0c060701e0e5a40144e9e31a00",
    );
    gauge_says(
        FromGauge::Pressed(Press {
            boot: u32::MAX,
            number: u32::MAX,
            at_us: u64::MAX,
        }),
        "1a06ffffffff0fffffffff0fffffffffffffffffff01eacf46c400",
    );
}

#[test]
fn every_reply() {
    gauge_answers(
        Ok(Reply::Identity(hello(ResetCause::PowerOn))),
        "0405ac0201020110070754502d3030343205302e312e30020102010564c0843d05676bdbb300",
    );
    gauge_answers(
        Ok(Reply::Started {
            boot: 7,
            rate_hz: 1000,
            channels: FORCE_AND_MARK,
        }),
        "0405ac02060107e80701020105066479fc00",
    );
    gauge_answers(
        Ok(Reply::Stopped {
            samples: 60_000,
            blocks_dropped: 3,
        }),
        "0405ac020a02e0d40303c63ff85200",
    );
    gauge_answers(
        Ok(Reply::Calibration(calibration(Channel::Force))),
        "0405ac021203111111111111111111111111111111110101010101010101119a9999999999893f11ea2d81999771bd010101010101010bbb057b14ae47e17a743f01010101010324400101010104408f4001010101046ad84001010101044cdd400120a441c0b8029abe020754502d432d31370a5465726e20506f696e7479f0327200",
    );
    gauge_answers(Ok(Reply::Stored), "0405ac020604a7ce960d00");
    gauge_answers(
        Ok(Reply::SelfTest(SelfTestResult {
            test: SelfTest::Noise,
            readings: 100,
            median: -42,
            deviation: 12.5,
            open: false,
        })),
        "0405ac0205050464530103484105ef4e1e9b00",
    );
    gauge_answers(
        Ok(Reply::Alive { at_us: 4_000_000 }),
        "0405ac020a068092f4012189ba5d00",
    );
    gauge_answers(Ok(Reply::Shown), "0405ac0206071d9f9f9400");
    let overload = Overload {
        boot: 6,
        at_us: 99_000_000,
        peak_counts: 8_388_607,
    };
    gauge_answers(
        Ok(Reply::Overloads([overload].into_iter().collect())),
        "0405ac0210080106c0bd9a2ffeffff07ce24f8d700",
    );
}

#[test]
fn what_a_gauge_is_built_from_and_a_calibration_was_made_on() {
    let hardware = |converter| {
        Ok(Reply::Hardware(Hardware {
            build: 0x1a2b_3c4d,
            converter,
        }))
    };
    for (reference, pinned) in [
        (
            Reference::Bridge,
            "0405ac021a09cdf8acd101010741445331323230e661410403214f2a8001051601f81a00",
        ),
        (
            Reference::Internal,
            "0405ac021f09cdf8acd101010741445331323230e661410403214f2a8001018031ff6d00",
        ),
        (
            Reference::External,
            "0405ac021f09cdf8acd101010741445331323230e661410403214f2a8001023a60f6f400",
        ),
        (
            Reference::Supply,
            "0405ac021f09cdf8acd101010741445331323230e661410403214f2a800103ac50f18300",
        ),
    ] {
        gauge_answers(hardware(Some(converter(reference))), pinned);
    }
    gauge_answers(hardware(None), "0405ac020709cdf8acd10105a944055500");
    gauge_answers(
        Ok(Reply::Binding(Some(binding()))),
        "0405ac02150a010741445331323230e661410403214f2a80010901b5be729874857700",
    );
    gauge_answers(Ok(Reply::Binding(None)), "0405ac02020a0586623e0400");
}

#[test]
fn stops_of_the_program_and_its_leaving() {
    let stop = |cause, trail: &[u32]| Stop {
        boot: 7,
        at_us: 2_000_000,
        build: 0x1a2b_3c4d,
        cause,
        trail: trail.iter().copied().collect(),
    };
    let stops = |list: &[Stop]| Ok(Reply::Stops(list.iter().cloned().collect()));
    gauge_answers(
        stops(&[
            stop(StopCause::Panic, &[0x1000_0200, 0x1000_2468]),
            stop(StopCause::Fault, &[0x1000_0200]),
            stop(StopCause::MainLoop, &[]),
            stop(StopCause::Converter, &[]),
        ]),
        "0405ac020c0b040780897acdf8acd10126028084808001e8c88080010780897acdf8acd101010180848080010780897acdf8acd101020b0780897acdf8acd1010305195d891100",
    );
    gauge_answers(Ok(Reply::BootMode), "0405ac02060c95464d0300");
    gauge_answers(stops(&[]), "0405ac02020b05c753251d00");
}

#[test]
fn every_refusal() {
    gauge_answers(Err(Refusal::UnknownCommand), "0505ac020105ff3be01300");
    gauge_answers(Err(Refusal::Streaming), "0a05ac020101690be76400");
    gauge_answers(Err(Refusal::NotStreaming), "0a05ac020102d35aeefd00");
    gauge_answers(Err(Refusal::NotFitted), "0a05ac020103456ae98a00");
    gauge_answers(
        Err(Refusal::NoSuchRate { nearest_hz: 1000 }),
        "0c05ac020104e807d2513c6c00",
    );
    gauge_answers(Err(Refusal::BadRecord), "0a05ac02010570cf8a6300");
    gauge_answers(Err(Refusal::NoRecord), "0a05ac020106ca9e83fa00");
    gauge_answers(Err(Refusal::StoreFailed), "0a05ac0201075cae848d00");
    gauge_answers(Err(Refusal::AdcSilent), "0a05ac020108cdb33b1d00");
    gauge_answers(Err(Refusal::Busy), "0a05ac0201095b833c6a00");
    gauge_answers(Err(Refusal::NoBootMode), "0a05ac02010b77e2328400");
    gauge_answers(Err(Refusal::OtherHardware), "0a05ac02010ae1d235f300");
    gauge_answers(
        Err(Refusal::SupplyLow { millivolts: 2600 }),
        "0c05ac02010ca814b10ee81600",
    );
}

#[test]
fn every_command() {
    host_says(Command::Identify, "0103ac02059a1910c300");
    host_says(
        Command::Start {
            rate_hz: 1000,
            channels: FORCE_AND_MARK,
        },
        "0107ac0201e807010201059c06d8ec00",
    );
    host_says(Command::Stop, "0108ac0202b6781e2d00");
    host_says(
        Command::ReadCalibration(Channel::Force),
        "0104ac0203050dd636e900",
    );
    host_says(
        Command::ReadCalibration(Channel::Displacement),
        "0109ac0203019be6319e00",
    );
    host_says(
        Command::ReadCalibration(Channel::Indicator),
        "0109ac02030221b7380700",
    );
    host_says(
        Command::WriteCalibration(calibration(Channel::Indicator)),
        "0115ac0204111111111111111111111111111111110201010101010101119a9999999999893f11ea2d81999771bd010101010101010bbb057b14ae47e17a743f01010101010324400101010104408f4001010101046ad84001010101044cdd400120a441c0b8029abe020754502d432d31370a5465726e20506f696e749695c1dc00",
    );
    host_says(
        Command::SelfTest(SelfTest::ShortedInput),
        "0104ac0205058b716cbf00",
    );
    host_says(Command::SelfTest(SelfTest::Shunt), "0109ac0205011d416bc800");
    host_says(
        Command::SelfTest(SelfTest::Supply),
        "0109ac020502a710625100",
    );
    host_says(
        Command::SelfTest(SelfTest::OpenBridge),
        "0109ac0205033120652600",
    );
    host_says(Command::SelfTest(SelfTest::Noise), "0109ac02050492b501b800");
    host_says(
        Command::SelfTest(SelfTest::Temperature),
        "0109ac020505048506cf00",
    );
    host_says(Command::KeepAlive, "0108ac0206afbc732a00");
    host_says(Command::Show(Signal::Wait), "0104ac02070509135a8d00");
    host_says(Command::Show(Signal::Hold), "0109ac0207019f235dfa00");
    host_says(Command::Show(Signal::Unclamp), "0109ac0207022572546300");
    host_says(Command::Show(Signal::Fault), "0109ac020703b342531400");
    host_says(Command::Show(Signal::Off), "0109ac02070410d7378a00");
    host_says(Command::Show(Signal::Turn), "0109ac02070586e730fd00");
    host_says(Command::Show(Signal::Taken), "0109ac0207063cb6396400");
    host_says(Command::ReadOverloads, "0108ac0208a891cbcd00");
    host_says(Command::ReadHardware, "0108ac02093ea1ccba00");
    host_says(
        Command::ReadBinding(Channel::Force),
        "0104ac020a05446df43800",
    );
    host_says(
        Command::WriteBound(BoundRecord {
            record: calibration(Channel::Force),
            made_on: binding(),
        }),
        "0114ac020b111111111111111111111111111111110101010101010101119a9999999999893f11ea2d81999771bd010101010101010bbb057b14ae47e17a743f01010101010324400101010104408f4001010101046ad84001010101044cdd40012ea441c0b8029abe020754502d432d31370a5465726e20506f696e740741445331323230e661410403214f2a80010901b5be725d0fd37e00",
    );
    host_says(Command::EnterBootMode, "0108ac020d2765a1bd00");
    host_says(Command::ReadStops, "0108ac020cb155a6ca00");
}

/// Fails to compile when a variant is added: then pin its frame above, and add a row to WIRE.md.
#[test]
fn nothing_is_left_unpinned() {
    fn from_gauge(message: &FromGauge<'_>) {
        match message {
            FromGauge::Hello(_)
            | FromGauge::Block(_)
            | FromGauge::Mark(_)
            | FromGauge::Indicator(_)
            | FromGauge::Fault(_)
            | FromGauge::Answer(_)
            | FromGauge::Pressed(_) => {}
        }
    }
    fn command(command: &Command) {
        match command {
            Command::Identify
            | Command::Start { .. }
            | Command::Stop
            | Command::ReadCalibration(
                Channel::Force | Channel::Displacement | Channel::Indicator,
            )
            | Command::WriteCalibration(_)
            | Command::SelfTest(
                SelfTest::ShortedInput
                | SelfTest::Shunt
                | SelfTest::Supply
                | SelfTest::OpenBridge
                | SelfTest::Noise
                | SelfTest::Temperature,
            )
            | Command::KeepAlive
            | Command::Show(
                Signal::Wait
                | Signal::Hold
                | Signal::Unclamp
                | Signal::Fault
                | Signal::Off
                | Signal::Turn
                | Signal::Taken,
            )
            | Command::ReadOverloads
            | Command::ReadHardware
            | Command::ReadBinding(_)
            | Command::WriteBound(_)
            | Command::ReadStops
            | Command::EnterBootMode => {}
        }
    }
    fn outcome(outcome: &Result<Reply, Refusal>) {
        match outcome {
            Ok(
                Reply::Identity(_)
                | Reply::Started { .. }
                | Reply::Stopped { .. }
                | Reply::Calibration(_)
                | Reply::Stored
                | Reply::SelfTest(_)
                | Reply::Alive { .. }
                | Reply::Shown
                | Reply::Overloads(_)
                | Reply::Hardware(_)
                | Reply::Binding(_)
                | Reply::Stops(_)
                | Reply::BootMode,
            )
            | Err(
                Refusal::UnknownCommand
                | Refusal::Streaming
                | Refusal::NotStreaming
                | Refusal::NotFitted
                | Refusal::NoSuchRate { .. }
                | Refusal::BadRecord
                | Refusal::NoRecord
                | Refusal::StoreFailed
                | Refusal::AdcSilent
                | Refusal::Busy
                | Refusal::OtherHardware
                | Refusal::NoBootMode
                | Refusal::SupplyLow { .. },
            ) => {}
        }
    }
    from_gauge(&FromGauge::Hello(hello(ResetCause::PowerOn)));
    command(&Command::Identify);
    outcome(&Ok(Reply::Stored));
}
