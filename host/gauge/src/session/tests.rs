//! A session against gauges that run fast, fall silent or stop by themselves.

use crate::link::Damage;
use crate::session::*;
use holdtrue_protocol::block::{BlockEncoder, Taken};
use holdtrue_protocol::frame::{MAX_PLAIN, encode_plain};
use holdtrue_protocol::message::{Channels, Faults, WIRE_MAJOR, WIRE_MINOR};
use std::cell::Cell;
use std::rc::Rc;

/// A gauge whose clock runs a second at every block, while ours stands still.
struct FastGauge {
    answers: VecDeque<FromGauge<'static>>,
    at_us: u64,
    alive: Rc<Cell<u32>>,
}

impl Link for FastGauge {
    fn receive(&mut self, _wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        let mut buffer = [0; MAX_PLAIN];
        if let Some(answer) = self.answers.pop_front() {
            let plain = encode_plain(&answer, &mut buffer).unwrap();
            return Ok(Some(RawFrame(plain.to_vec())));
        }
        self.at_us += 1_000_000;
        let mut encoder = BlockEncoder::new();
        let taken = Taken {
            boot: 1,
            number: self.at_us / 1_000_000,
            at_us: self.at_us,
            force: Some(5),
            displacement: None,
            faults: Faults(0),
        };
        assert!(encoder.push(&taken));
        let block = FromGauge::Block(encoder.block().unwrap());
        Ok(Some(RawFrame(
            encode_plain(&block, &mut buffer).unwrap().to_vec(),
        )))
    }

    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError> {
        let ToGauge::Request(Request { id, command }) = message;
        let reply = match command {
            Command::Identify => Reply::Identity(hello()),
            _ => {
                self.alive.set(self.alive.get() + 1);
                Reply::Alive { at_us: self.at_us }
            }
        };
        let outcome = Ok(reply);
        self.answers
            .push_back(FromGauge::Answer(Answer { id: *id, outcome }));
        Ok(())
    }

    fn elapsed(&self) -> Duration {
        Duration::ZERO
    }

    fn name(&self) -> &'static str {
        "fast"
    }

    fn damage(&self) -> Damage {
        Damage::default()
    }
}

#[test]
fn a_gauge_whose_clock_runs_ahead_is_kept_alive_by_its_clock() {
    let alive = Rc::new(Cell::new(0));
    let gauge = FastGauge {
        answers: VecDeque::new(),
        at_us: 0,
        alive: Rc::clone(&alive),
    };
    let mut session = Session::open(Box::new(gauge)).unwrap();
    let mut blocks = 0;
    while blocks < 20 {
        blocks += u32::from(session.next(Duration::ZERO).unwrap().is_some());
    }
    assert!(
        (72..=80).contains(&alive.get()),
        "{} in twenty of its seconds",
        alive.get()
    );
}

/// A gauge that measures for a while and then only says this, again and again, a tenth of a second apart.
struct Quiet {
    then: FromGauge<'static>,
    answers: VecDeque<FromGauge<'static>>,
    at: Duration,
}

fn hello() -> Hello {
    Hello {
        wire_major: WIRE_MAJOR,
        wire_minor: WIRE_MINOR,
        boot: 1,
        serial: "TP-1".try_into().unwrap(),
        firmware: "1".try_into().unwrap(),
        reset: ResetCause::PowerOn,
        fitted: Channels::default(),
        probe_nm_per_count: 0,
        at_us: 0,
        streaming: false,
    }
}

impl Link for Quiet {
    fn receive(&mut self, _wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        self.at += Duration::from_millis(100);
        let message = self.answers.pop_front().unwrap_or(self.then.clone());
        let mut buffer = [0; MAX_PLAIN];
        let plain = encode_plain(&message, &mut buffer).unwrap();
        Ok(Some(RawFrame(plain.to_vec())))
    }

    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError> {
        let ToGauge::Request(Request { id, command }) = message;
        let reply = match command {
            Command::Identify => Reply::Identity(hello()),
            Command::Start { rate_hz, channels } => Reply::Started {
                boot: 1,
                rate_hz: *rate_hz,
                channels: *channels,
            },
            _ => Reply::Alive { at_us: 0 },
        };
        let outcome = Ok(reply);
        self.answers
            .push_back(FromGauge::Answer(Answer { id: *id, outcome }));
        Ok(())
    }

    fn elapsed(&self) -> Duration {
        self.at
    }

    fn name(&self) -> &'static str {
        "quiet"
    }

    fn damage(&self) -> Damage {
        Damage::default()
    }
}

/// How a stream of such a gauge ends, and after how long.
fn ends(then: FromGauge<'static>) -> (String, Duration) {
    let gauge = Quiet {
        then,
        answers: VecDeque::new(),
        at: Duration::ZERO,
    };
    let mut session = Session::open(Box::new(gauge)).unwrap();
    session.start(1_000, Channels::default()).unwrap();
    for _ in 0..1_000 {
        if let Err(error) = session.next(Duration::from_millis(100)) {
            return (error.to_string(), session.elapsed());
        }
    }
    panic!("nobody noticed in {:?}", session.elapsed());
}

#[test]
fn a_gauge_that_stopped_by_itself_is_noticed_by_its_hello() {
    let (told, after) = ends(FromGauge::Hello(hello()));
    assert!(
        told.contains("stopped measuring") && told.contains("goes on"),
        "{told}"
    );
    assert!(after < Duration::from_secs(1), "{after:?}");
}

#[test]
fn a_gauge_whose_converter_fell_silent_is_not_waited_for_although_it_answers() {
    let silent = FaultChange {
        boot: 1,
        at_sample: 0,
        at_us: 0,
        fault: Fault::AdcSilent,
        active: true,
    };
    let (told, after) = ends(FromGauge::Fault(silent));
    assert!(told.contains("converter fell silent"), "{told}");
    assert!(after < Duration::from_secs(6), "{after:?}");
}
