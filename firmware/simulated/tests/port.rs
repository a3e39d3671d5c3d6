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
use holdtrue_protocol::message::{
    Channels, Command, FromGauge, Hello, Press, Reply, Request, Signal, ToGauge,
};
use holdtrue_protocol::stream::{Decoder, Received};
use holdtrue_simulated_gauge::port::{Pace, Port};
use holdtrue_simulated_gauge::recorder::{Next, Recorder};
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
            alive_us: 0,
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

fn framed(id: u16, command: Command) -> Vec<u8> {
    let mut buffer = [0; 384];
    let request = ToGauge::Request(Request { id, command });
    encode_frame(&request, &mut buffer).unwrap().to_vec()
}

struct Host {
    port: Box<dyn SerialPort>,
    decoder: Decoder,
    id: u16,
    alive_us: u64,
    seen: Seen,
}

#[derive(Default)]
struct Seen {
    counts: Vec<i32>,
    numbers: Vec<u64>,
    ready_us: Vec<f64>,
    presses: Vec<Press>,
    hellos: Vec<Hello>,
    answers: Vec<(u16, Result<Reply, String>)>,
    at_us: u64,
}

impl Host {
    fn ask(&mut self, command: Command) -> Reply {
        self.ask_last(&[command])
    }

    /// Asks for all in one piece, so that they are taken up together; gives the answer to the last.
    fn ask_last(&mut self, commands: &[Command]) -> Reply {
        let mut piece = Vec::new();
        for command in commands {
            self.id += 1;
            piece.extend(framed(self.id, command.clone()));
        }
        self.port.write_all(&piece).unwrap();
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
        self.port.write_all(&framed(id, command)).unwrap();
    }

    /// Whether after what is there nothing more comes, and that less than a second's.
    fn gauge_waits(&mut self) -> bool {
        for _ in 0..10 {
            self.listen();
        }
        let there = self.seen.counts.len();
        thread::sleep(Duration::from_millis(100));
        self.listen();
        self.seen.counts.len() == there && there < 330
    }

    /// Listens, and says a keep-alive for each quarter of a second it has heard, as the program does.
    fn follow(&mut self) {
        self.listen();
        if self.alive_us + 10_000_000 < self.seen.at_us {
            self.alive_us = self.seen.at_us;
        }
        while self.alive_us + 250_000 <= self.seen.at_us {
            self.alive_us += 250_000;
            self.post(60_000, Command::KeepAlive);
        }
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
                        seen.counts.extend(sample.force.or(sample.displacement));
                        seen.ready_us.push(sample.at_us);
                        seen.numbers.push(sample.number);
                    }
                }
                Received::Message {
                    message: FromGauge::Pressed(press),
                    ..
                } => seen.presses.push(press),
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
        while self.seen.counts.len() < samples {
            self.follow();
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
    // Without a word from its host the world waits.
    assert!(host.gauge_waits(), "it runs away from its host");
    while host.seen.counts.len() < 800 {
        host.follow();
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

const PROBE: Channels = Channels {
    displacement: true,
    force: false,
    mark: false,
    indicator: false,
};
/// Samples far enough apart to know between which two a signal came.
const SLOW_HZ: u16 = 90;

/// A few positions of a plane read by button over the port; the signals by the sample they came after, counts, presses.
fn stepped_over_the_port(pace: Pace) -> (Vec<(usize, Signal)>, Seen) {
    let offered = Offered::new(17, pace);
    let mut host = offered.open();
    let mut shown = Vec::new();
    host.ask(Command::Show(Signal::Hold));
    host.ask(Command::Start {
        rate_hz: SLOW_HZ,
        channels: PROBE,
    });
    for position in 1..=4 {
        let began = Instant::now();
        while host.seen.presses.len() < position {
            host.follow();
            assert!(began.elapsed() < Duration::from_secs(60), "no press");
        }
        for signal in [Signal::Taken, Signal::Turn] {
            // The answer to the second one has the time of both.
            let both = [Command::Show(signal), Command::KeepAlive];
            let Reply::Alive { at_us } = host.ask_last(&both) else {
                panic!("no time");
            };
            shown.push((at_us, signal));
            while host.seen.at_us < at_us + 1_200_000 {
                host.follow();
            }
        }
    }
    host.ask(Command::Stop);
    let Seen { ready_us, .. } = &host.seen;
    let after_sample = |at_us: u64| ready_us.partition_point(|ready_us| *ready_us <= at_us as f64);
    let shown = shown
        .into_iter()
        .map(|(at_us, signal)| (after_sample(at_us), signal))
        .collect();
    (shown, host.seen)
}

#[test]
fn hands_and_presses_over_the_port_are_those_of_one_process_told_after_the_same_samples() {
    let (shown, over_port) = stepped_over_the_port(Pace::Max);
    let mut gauge = SimulatedGauge::new(Setup::new(17, Condition::Sound));
    let mut host = Recorder::new(&mut gauge);
    host.ask(Command::Show(Signal::Hold)).unwrap();
    let first_us = over_port.ready_us[0];
    let mut shown = shown
        .iter()
        .map(|(after, signal)| (over_port.ready_us[after - 1] - first_us + 1_500.0, *signal))
        .peekable();
    let until = over_port.counts.len();
    let recording = host
        .lead(SLOW_HZ, PROBE, |gauge, recording| {
            let Some(first) = recording.samples.first() else {
                return Next::Go;
            };
            let now_us = gauge.now_us() as f64 - first.at_us;
            match shown.next_if(|(at_us, _)| *at_us <= now_us) {
                Some((_, signal)) => Next::Show(signal),
                None if recording.samples.len() >= until => Next::Stop,
                None => Next::Go,
            }
        })
        .unwrap();
    let counts: Vec<i32> = recording
        .samples
        .iter()
        .filter_map(|sample| sample.displacement)
        .collect();
    assert!(until > 1_500, "{until}");
    assert!(counts[..until] == over_port.counts[..], "the counts differ");
    let since_first = |presses: &[Press], first_us: f64| -> Vec<(u32, f64)> {
        let times = presses.iter().map(|press| press.at_us as f64 - first_us);
        presses
            .iter()
            .map(|press| press.number)
            .zip(times)
            .collect()
    };
    let of_port = since_first(&over_port.presses, first_us);
    let here = since_first(&recording.presses, recording.samples[0].at_us);
    assert!(of_port.len() >= 4, "{of_port:?}");
    assert_eq!(here[..of_port.len()], of_port);
}
