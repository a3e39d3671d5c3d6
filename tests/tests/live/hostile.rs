//! Whatever a gauge says, as long as its frames are whole: the program's own session, capture, check and self-tests take it
//! without a panic, and no figure that cannot be gets through.

use holdtrue::gauge_check::document::judge;
use holdtrue::gauge_check::look as gauge_check_look;
use holdtrue::terminal::interrupt::Interrupt;
use holdtrue_gauge::calibration::require_sound;
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::force::{ForceBuilder, Piece};
use holdtrue_gauge::link::{Damage, Link, LinkError, RawFrame};
use holdtrue_gauge::session::Session;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_protocol::block::{BlockEncoder, MAX_DATA, Taken};
use holdtrue_protocol::frame::{MAX_PLAIN, encode_plain};
use holdtrue_protocol::message::{
    Answer, Binding, Block, CalibrationRecord, Channel, Channels, Command, Converter, Fault,
    FaultChange, Faults, FromGauge, Hardware, Hello, IndicatorReading, MarkEdge, Overload,
    Reference, Refusal, Reply, ResetCause, SelfTest, SelfTestResult, ToGauge, WIRE_MAJOR,
};
use proptest::prelude::*;
use std::collections::VecDeque;
use std::time::Duration;

/// Numbers as a gauge could give them, and as it could not.
fn numbers() -> impl Strategy<Value = u64> {
    prop_oneof![
        4 => 0..20_000_000_u64,
        1 => any::<u64>(),
        1 => Just(u64::MAX),
        1 => Just(u64::MAX - 31)
    ]
}

fn figures(usual: f64) -> impl Strategy<Value = f64> {
    prop_oneof![6 => Just(usual), 1 => any::<f64>(), 1 => Just(f64::NAN), 1 => Just(0.0)]
}

fn days(usual: i32) -> impl Strategy<Value = i32> {
    prop_oneof![6 => Just(usual), 1 => any::<i32>()]
}

fn channels() -> impl Strategy<Value = Channels> {
    any::<[bool; 4]>().prop_map(|[force, displacement, mark, indicator]| Channels {
        force,
        displacement,
        mark,
        indicator,
    })
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![3 => Just("TP-7".to_owned()), 1 => "\\PC{0,4}", 1 => any::<char>().prop_map(String::from)]
}

fn hello() -> impl Strategy<Value = Hello> {
    (
        (text(), text(), channels(), any::<bool>()),
        (
            0..3_u8,
            0..3_u32,
            prop_oneof![Just(100), any::<u32>()],
            numbers(),
            any::<bool>(),
        ),
    )
        .prop_map(
            |((serial, firmware, fitted, all), (wire_minor, boot, nm, at_us, streaming))| Hello {
                wire_major: WIRE_MAJOR,
                wire_minor,
                boot,
                serial: serial.as_str().try_into().unwrap_or_default(),
                firmware: firmware.as_str().try_into().unwrap_or_default(),
                reset: ResetCause::Unknown,
                fitted: if all { ALL } else { fitted },
                probe_nm_per_count: nm,
                at_us,
                streaming,
            },
        )
}

const ALL: Channels = Channels {
    force: true,
    displacement: true,
    mark: true,
    indicator: true,
};

fn converter() -> impl Strategy<Value = Converter> {
    let gain = prop_oneof![3 => Just(128_u16), 1 => any::<u16>()];
    (text(), any::<[u8; 2]>(), gain).prop_map(|(kind, [one, other], gain)| Converter {
        kind: kind.as_str().try_into().unwrap_or_default(),
        board: [one % 2, other, 0, 0, 0, 0, 0, 0],
        gain,
        reference: Reference::Bridge,
    })
}

fn record() -> impl Strategy<Value = CalibrationRecord> {
    (
        (
            0..3_usize,
            figures(0.0),
            figures(0.01),
            figures(0.0),
            figures(0.0),
        ),
        (
            figures(0.004),
            figures(8.0),
            figures(500.0),
            figures(20_000.0),
            figures(20_000.0),
        ),
        (
            days(20_000),
            days(20_365),
            days(0),
            text(),
            text(),
            any::<bool>(),
        ),
    )
        .prop_map(
            |(
                curve,
                figures,
                (date_days, due_days, zero_counts, certificate, laboratory, named),
            )| {
                let (channel, a, b, c, d) = curve;
                let (expanded_relative, expanded_fixed, low, high, rated) = figures;
                CalibrationRecord {
                    id: [u8::from(named); 16],
                    channel: [Channel::Force, Channel::Displacement, Channel::Indicator][channel],
                    coefficients: [a, b, c, d],
                    zero_counts,
                    expanded_relative,
                    expanded_fixed,
                    span: [low, high],
                    rated,
                    temperature_c: 20.0,
                    date_days,
                    due_days,
                    certificate: certificate.as_str().try_into().unwrap_or_default(),
                    laboratory: laboratory.as_str().try_into().unwrap_or_default(),
                }
            },
        )
}

fn self_test() -> impl Strategy<Value = SelfTestResult> {
    let test = prop_oneof![
        Just(SelfTest::ShortedInput),
        Just(SelfTest::Noise),
        Just(SelfTest::Shunt),
        Just(SelfTest::Supply),
        Just(SelfTest::OpenBridge),
        Just(SelfTest::Temperature)
    ];
    (
        test,
        any::<u16>(),
        any::<i32>(),
        any::<f32>(),
        any::<bool>(),
    )
        .prop_map(|(test, readings, median, deviation, open)| SelfTestResult {
            test,
            readings,
            median,
            deviation,
            open,
        })
}

fn reply() -> impl Strategy<Value = Result<Reply, Refusal>> {
    let overload =
        (any::<u32>(), any::<u64>(), any::<i32>()).prop_map(|(boot, at_us, peak_counts)| {
            Overload {
                boot,
                at_us,
                peak_counts,
            }
        });
    prop_oneof![
        hello().prop_map(|hello| Ok(Reply::Identity(hello))),
        (any::<u32>(), any::<u16>(), channels()).prop_map(|(boot, rate_hz, channels)| Ok(
            Reply::Started {
                boot,
                rate_hz,
                channels
            }
        )),
        (any::<u64>(), any::<u32>()).prop_map(|(samples, blocks_dropped)| Ok(Reply::Stopped {
            samples,
            blocks_dropped
        })),
        record().prop_map(|record| Ok(Reply::Calibration(record))),
        self_test().prop_map(|found| Ok(Reply::SelfTest(found))),
        proptest::collection::vec(overload, 0..8)
            .prop_map(|all| Ok(Reply::Overloads(all.into_iter().collect()))),
        Just(Ok(Reply::Stored)),
        (any::<u32>(), converter()).prop_map(|(build, converter)| {
            let converter = Some(converter);
            Ok(Reply::Hardware(Hardware { build, converter }))
        }),
        (converter(), any::<i32>()).prop_map(|(converter, step)| {
            let shunt_step = Some(step);
            Ok(Reply::Binding(Some(Binding {
                converter,
                shunt_step,
            })))
        }),
        any::<u64>().prop_map(|at_us| Ok(Reply::Alive { at_us })),
        any::<u16>().prop_map(|nearest_hz| Err(Refusal::NoSuchRate { nearest_hz })),
        Just(Err(Refusal::NoRecord)),
        Just(Err(Refusal::Busy)),
    ]
}

/// A message that is no answer, as it is encoded.
fn said() -> impl Strategy<Value = Vec<u8>> {
    let fault = prop_oneof![
        Just(Fault::AdcSilent),
        Just(Fault::Overload),
        Just(Fault::ProbeStep),
        Just(Fault::IndicatorGarbled)
    ];
    prop_oneof![
        8 => block(),
        1 => (0..3_u32, any::<u32>(), numbers(), any::<bool>()).prop_map(|(boot, number, at_us, rising)| {
            plain(&FromGauge::Mark(MarkEdge { boot, number, at_us, rising }))
        }),
        1 => (0..3_u32, numbers(), any::<i32>(), any::<u8>(), any::<bool>()).prop_map(
            |(boot, at_us, digits, decimals, inch)| plain(&FromGauge::Indicator(IndicatorReading {
                boot, number: 0, at_us, digits, decimals, inch,
            }))
        ),
        1 => (0..3_u32, numbers(), numbers(), fault, any::<bool>()).prop_map(
            |(boot, at_sample, at_us, fault, active)| plain(&FromGauge::Fault(FaultChange {
                boot, at_sample, at_us, fault, active,
            }))
        ),
        1 => hello().prop_map(|hello| plain(&FromGauge::Hello(hello))),
    ]
}

/// A block of sound samples in which any figure may be another.
fn block() -> impl Strategy<Value = Vec<u8>> {
    (
        (0..3_u32, numbers(), numbers(), 1..32_u8, any::<[bool; 2]>()),
        proptest::collection::vec(
            prop_oneof![3 => -1_000_000..1_000_000_i32, 1 => any::<i32>()],
            32,
        ),
        proptest::option::weighted(0.3, (numbers(), numbers(), numbers(), any::<u8>())),
        any::<u16>(),
    )
        .prop_map(
            |((boot, number, at_us, count, [force, displacement]), counts, other, faults)| {
                let mut encoder = BlockEncoder::new();
                for step in 0..u64::from(count) {
                    let value = counts[usize::try_from(step).unwrap_or(0)];
                    let _full = encoder.push(&Taken {
                        boot,
                        number: number.saturating_add(step),
                        at_us: at_us.saturating_add(1_000 * step),
                        force: force.then_some(value),
                        displacement: displacement.then_some(value),
                        faults: Faults(faults),
                    });
                }
                let Some(block) = encoder.block() else {
                    return Vec::new();
                };
                let block = match other {
                    None => block,
                    Some((first_sample, first_us, last_us, count)) => Block {
                        first_sample,
                        first_us,
                        last_us,
                        count,
                        ..block
                    },
                };
                assert!(block.data.len() <= MAX_DATA);
                plain(&FromGauge::Block(block))
            },
        )
}

fn plain(message: &FromGauge<'_>) -> Vec<u8> {
    let mut buffer = [0; MAX_PLAIN];
    encode_plain(message, &mut buffer).map_or_else(|_| Vec::new(), <[u8]>::to_vec)
}

/// A gauge that answers what it likes and then says what it likes, a tenth of a second apart.
struct Liar {
    replies: Vec<Result<Reply, Refusal>>,
    said: Vec<Vec<u8>>,
    next: usize,
    waiting: VecDeque<Vec<u8>>,
    at: Duration,
    honest: bool,
}

impl Liar {
    /// Mostly an answer of the kind that was asked for, or nobody would get far.
    fn answer(&mut self, command: &Command) -> Result<Reply, Refusal> {
        self.next += 1;
        let fits = |reply: &Result<Reply, Refusal>| {
            matches!(
                (command, reply),
                (Command::Identify, Ok(Reply::Identity(_)))
                    | (Command::ReadCalibration(_), Ok(Reply::Calibration(_)))
                    | (Command::SelfTest(_), Ok(Reply::SelfTest(_)))
                    | (Command::ReadOverloads, Ok(Reply::Overloads(_)))
            )
        };
        let mut reply = match command {
            Command::Start { rate_hz, channels } if self.honest => Ok(Reply::Started {
                boot: 1,
                rate_hz: *rate_hz,
                channels: *channels,
            }),
            _ if self.next.is_multiple_of(5) => {
                self.replies[self.next % self.replies.len()].clone()
            }
            _ => {
                let start = self.next % self.replies.len();
                let round = self.replies.iter().cycle().skip(start);
                let found = round.take(self.replies.len()).find(|reply| fits(reply));
                found.cloned().unwrap_or(Ok(Reply::Stored))
            }
        };
        if let (true, Ok(Reply::Identity(hello))) = (self.honest, &mut reply) {
            (hello.fitted, hello.probe_nm_per_count, hello.boot) = (ALL, 100, 1);
            hello.serial = "TP-7".try_into().expect("short");
            hello.firmware = "1".try_into().expect("short");
        }
        if let (true, Command::SelfTest(test), Ok(Reply::SelfTest(found))) =
            (self.honest, command, &mut reply)
        {
            found.test = *test;
        }
        reply
    }
}

impl Link for Liar {
    fn receive(&mut self, _wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        self.at += Duration::from_millis(100);
        if let Some(answer) = self.waiting.pop_front() {
            return Ok(Some(RawFrame(answer)));
        }
        Ok(self.said.pop().map(RawFrame))
    }

    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError> {
        let ToGauge::Request(request) = message;
        let outcome = self.answer(&request.command);
        let id = request.id;
        self.waiting
            .push_back(plain(&FromGauge::Answer(Answer { id, outcome })));
        Ok(())
    }

    fn elapsed(&self) -> Duration {
        self.at
    }

    fn name(&self) -> &'static str {
        "liar"
    }

    fn damage(&self) -> Damage {
        Damage::default()
    }
}

/// Streams until the gauge is given up, and says what the stream was.
fn stream(session: &mut Session, channels: Channels, mut take: impl FnMut(&RawFrame)) {
    if session.start(1_000, channels).is_err() {
        return;
    }
    for _ in 0..1_000 {
        match session.next(Duration::from_millis(100)) {
            Ok(Some(raw)) => take(&raw),
            Ok(None) => {}
            Err(_) => return,
        }
    }
    panic!("a gauge that says nothing more is never given up");
}

fn measure_force(session: &mut Session) {
    let Ok(Some(record)) = session.calibration(Channel::Force) else {
        return;
    };
    assert_eq!(require_sound(&record), Ok(()));
    let end_probe = [Channel::Displacement, Channel::Indicator]
        .into_iter()
        .find_map(|channel| session.calibration(channel).ok().flatten());
    let mut builder = ForceBuilder::new(record, 1).with_end_probe(end_probe);
    let mut watch = Watch::new(Some(5), GripSetup::default());
    let force = Channels {
        force: true,
        ..Channels::default()
    };
    let mut last_s = f64::NEG_INFINITY;
    stream(session, force, |raw| {
        for piece in builder.take(raw) {
            match piece {
                Piece::Span(span) => watch.mark(span),
                Piece::Travel(travel) => {
                    assert!(travel.mm.is_none_or(f64::is_finite), "{travel:?}");
                    watch.push_travel(travel);
                }
                Piece::Sample(sample) => {
                    assert!(sample.time_s > last_s && sample.force_n.is_finite());
                    assert!(last_s.is_infinite() || sample.time_s < last_s + 61.0);
                    last_s = sample.time_s;
                    watch.push(sample).expect("a sound sample");
                }
            }
        }
    });
    if let Ok(result) = watch.finish() {
        let text = serde_json::to_string(&result).expect("a document");
        assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
    }
}

fn measure_length(session: &mut Session, channel: Channel) {
    let Ok(Some(record)) = session.calibration(channel) else {
        return;
    };
    assert_eq!(require_sound(&record), Ok(()));
    let mut builder = DisplacementBuilder::new(record, 1);
    let channels = Channels {
        displacement: true,
        indicator: true,
        mark: true,
        force: false,
    };
    stream(session, channels, |raw| {
        let seen = builder.take(raw);
        for reading in seen.readings {
            assert!(reading.time_s.abs() < 1e4, "{reading:?}");
            assert!(reading.reading_um.abs() < 1e12, "{reading:?}");
        }
        assert!(seen.edges_s.iter().all(|edge_s| edge_s.abs() < 1e4));
    });
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn whatever_a_gauge_says_nothing_panics_and_no_absurd_figure_gets_through(
        replies in proptest::collection::vec(reply(), 12..24),
        said in proptest::collection::vec(said(), 0..60),
        honest in any::<bool>(),
        what in 0..4_u8,
    ) {
        let liar = Liar {
            replies,
            said,
            next: 0,
            waiting: VecDeque::new(),
            at: Duration::ZERO,
            honest,
        };
        if let Ok(mut session) = Session::open(Box::new(liar)) {
            prop_assert!(!session.hello().serial.chars().any(char::is_control));
            match what {
                0 => measure_force(&mut session),
                1 => measure_length(&mut session, Channel::Displacement),
                2 => measure_length(&mut session, Channel::Indicator),
                _ => {
                    let interrupt = Interrupt::default();
                    if let Ok(look) = gauge_check_look::look(&mut session, &interrupt, &mut |_, _| false) {
                        let text = serde_json::to_string(&judge(look)).expect("a document");
                        prop_assert!(!text.contains("NaN"));
                    }
                    let _refused = session.overloads();
                }
            }
        }
    }
}
