//! The simulated gauge as a serial device, opened as any program would.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::io::{ErrorKind, Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use holdtrue_protocol::block;
use holdtrue_protocol::frame::encode_frame;
use holdtrue_protocol::message::{Channels, Command, FromGauge, Hello, Reply, Request, ToGauge};
use holdtrue_protocol::stream::{Decoder, Received};
use holdtrue_simulated_gauge::port::{Pace, Port};
use holdtrue_simulated_gauge::recorder::Recorder;
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};
use serialport::SerialPort;

const FORCE: Channels = Channels {
    force: true,
    displacement: false,
    mark: false,
    indicator: false,
};

struct Offered {
    path: String,
    stop: Arc<AtomicBool>,
    running: Option<JoinHandle<()>>,
}

impl Offered {
    fn new(seed: u64, pace: Pace) -> Self {
        let mut port = Port::offer(Setup::new(seed, Condition::Sound), pace).unwrap();
        let path = port.path().to_str().unwrap().to_owned();
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let running = Some(thread::spawn(move || port.run(&stopped).unwrap()));
        Self {
            path,
            stop,
            running,
        }
    }

    fn open(&self) -> Host {
        let port = serialport::new(&self.path, 921_600)
            .timeout(Duration::from_millis(50))
            .open()
            .unwrap();
        Host {
            port,
            decoder: Decoder::new(),
            id: 0,
            seen: Seen::default(),
        }
    }
}

impl Drop for Offered {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        let _ = self.running.take().map(JoinHandle::join);
    }
}

struct Host {
    port: Box<dyn SerialPort>,
    decoder: Decoder,
    id: u16,
    seen: Seen,
}

#[derive(Default)]
struct Seen {
    counts: Vec<i32>,
    numbers: Vec<u64>,
    hellos: Vec<Hello>,
    answers: Vec<(u16, Result<Reply, String>)>,
    at_us: u64,
}

impl Host {
    fn ask(&mut self, command: Command) -> Reply {
        self.id += 1;
        self.post(self.id, command);
        let began = Instant::now();
        while began.elapsed() < Duration::from_secs(20) {
            self.listen();
            if let Some(place) = self
                .seen
                .answers
                .iter()
                .position(|answer| answer.0 == self.id)
            {
                return self.seen.answers.swap_remove(place).1.unwrap();
            }
        }
        panic!("no answer");
    }

    fn post(&mut self, id: u16, command: Command) {
        let mut buffer = [0; 384];
        let bytes = encode_frame(&ToGauge::Request(Request { id, command }), &mut buffer).unwrap();
        self.port.write_all(bytes).unwrap();
    }

    fn listen(&mut self) {
        let mut buffer = [0; 1_024];
        let count = match self.port.read(&mut buffer) {
            Ok(count) => count,
            Err(error) if error.kind() == ErrorKind::TimedOut => return,
            Err(error) => panic!("{error}"),
        };
        let seen = &mut self.seen;
        self.decoder
            .feed_from_gauge(&buffer[..count], |received| match received {
                Received::Message {
                    message: FromGauge::Block(block),
                    ..
                } => {
                    seen.at_us = block.last_us;
                    for sample in block::decode(&block).unwrap() {
                        seen.counts.extend(sample.force);
                        seen.numbers.push(sample.number);
                    }
                }
                Received::Message {
                    message: FromGauge::Hello(hello),
                    ..
                } => seen.hellos.push(hello),
                Received::Message {
                    message: FromGauge::Answer(answer),
                    ..
                } => {
                    seen.answers
                        .push((answer.id, answer.outcome.map_err(|why| format!("{why:?}"))));
                }
                Received::Message { .. } => {}
                other => panic!("a pseudo-terminal damages nothing: {other:?}"),
            });
    }

    /// Streams a number of samples, with keep-alives by the gauge's clock.
    fn stream(&mut self, samples: usize) -> Vec<i32> {
        self.seen = Seen::default();
        self.ask(Command::Start {
            rate_hz: 330,
            channels: FORCE,
        });
        let mut alive_us = self.seen.at_us;
        while self.seen.counts.len() < samples {
            self.listen();
            if self.seen.at_us > alive_us + 2_000_000 {
                alive_us = self.seen.at_us;
                self.post(60_000, Command::KeepAlive);
            }
        }
        self.ask(Command::Stop);
        let numbers = self.seen.numbers.iter().copied();
        assert!(
            numbers.eq(0..self.seen.numbers.len() as u64),
            "samples are missing"
        );
        self.seen.counts[..samples].to_vec()
    }
}

fn in_process(seed: u64, samples: usize) -> Vec<i32> {
    let mut gauge = SimulatedGauge::new(Setup::new(seed, Condition::Sound));
    let recording = Recorder::new(&mut gauge)
        .record(330, FORCE, |_, recording| {
            recording.samples.len() >= samples
        })
        .unwrap();
    recording.force_counts().1[..samples].to_vec()
}

#[test]
fn at_full_pace_the_port_gives_what_the_process_gives() {
    let offered = Offered::new(5, Pace::Max);
    let began = Instant::now();
    // 45 s of a check: more than a gauge streams without a word from its host.
    let streamed = offered.open().stream(15_000);
    assert!(
        began.elapsed() < Duration::from_secs(15),
        "took {:?}",
        began.elapsed()
    );
    assert_eq!(streamed, in_process(5, 15_000));
}

#[test]
fn a_reader_that_stalls_at_full_pace_loses_nothing() {
    let offered = Offered::new(6, Pace::Max);
    let mut host = offered.open();
    host.ask(Command::Start {
        rate_hz: 330,
        channels: FORCE,
    });
    thread::sleep(Duration::from_millis(600));
    while host.seen.counts.len() < 2_000 {
        host.listen();
    }
    let numbers = host.seen.numbers.iter().copied();
    assert!(numbers.eq(0..host.seen.numbers.len() as u64));
}

#[test]
fn hosts_come_and_go() {
    let offered = Offered::new(7, Pace::Max);
    let first = offered.open().stream(1_000);
    let mut left_in_the_middle = offered.open();
    left_in_the_middle.ask(Command::Start {
        rate_hz: 330,
        channels: FORCE,
    });
    thread::sleep(Duration::from_millis(100));
    drop(left_in_the_middle);
    thread::sleep(Duration::from_millis(200));
    let mut next = offered.open();
    let Reply::Identity(hello) = next.ask(Command::Identify) else {
        panic!("an identity")
    };
    assert_eq!(hello.boot, 1, "the gauge was never switched off");
    if hello.streaming {
        next.ask(Command::Stop);
    }
    assert_eq!(next.stream(1_000), first);
}

#[test]
fn a_host_that_was_killed_leaves_no_lock_behind() {
    let offered = Offered::new(9, Pace::Max);
    let killed = std::fs::File::options()
        .read(true)
        .write(true)
        .open(&offered.path)
        .unwrap();
    rustix::termios::ioctl_tiocexcl(&killed).unwrap();
    drop(killed);
    thread::sleep(Duration::from_millis(200));
    assert!(matches!(
        offered.open().ask(Command::Identify),
        Reply::Identity(_)
    ));
}

#[test]
fn at_real_pace_an_idle_gauge_says_hello_about_once_a_second() {
    let offered = Offered::new(8, Pace::Times(4.0));
    let mut host = offered.open();
    let began = Instant::now();
    while began.elapsed() < Duration::from_millis(1_500) {
        host.listen();
    }
    let hellos = host.seen.hellos.len();
    assert!(
        (4..=8).contains(&hellos),
        "{hellos} hellos in six virtual seconds"
    );
}
