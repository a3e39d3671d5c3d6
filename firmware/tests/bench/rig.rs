//! A whole gauge in virtual time, with a host that sends requests and keeps what it hears.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::rc::Rc;

use embedded_hal::digital::{ErrorType, InputPin};
use heapless::deque::{Deque, DequeView};
use holdtrue_firmware::bridge::Wiring;
use holdtrue_firmware::button::{Button, LOOK_US};
use holdtrue_firmware::converter;
use holdtrue_firmware::edges::Edges;
use holdtrue_firmware::gauge::{Fitting, Gauge, Polled};
use holdtrue_firmware::lines::Queues;
use holdtrue_protocol::block::{self, Sample};
use holdtrue_protocol::frame::encode_frame;
use holdtrue_protocol::message::{
    Channels, Command, FaultChange, Faults, FromGauge, Hardware, Hello, IndicatorReading, MarkEdge,
    Press, Refusal, Reply, Request, ResetCause, ToGauge,
};
use holdtrue_protocol::stream::{Decoder, Received};

use super::cell::Converter;
use super::memory::Memory;

/// Room for bytes on their way to the host, little, so that it fills.
pub const OUT: usize = 8_192;
const POLL_US: u64 = 250;

pub const ALL: Channels = Channels {
    force: true,
    displacement: true,
    mark: true,
    indicator: true,
};

pub const FORCE: Channels = Channels {
    force: true,
    displacement: false,
    mark: false,
    indicator: false,
};

/// A block as the host sees it.
#[derive(Clone, Debug)]
pub struct HeardBlock {
    pub boot: u32,
    pub first_us: u64,
    pub last_us: u64,
    pub faults: Faults,
    pub samples: Vec<Sample>,
}

/// What came, by the number of its first sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Came {
    Block(u64),
    Fault(u64),
}

/// Everything the host has heard.
#[derive(Default)]
pub struct Heard {
    pub hellos: Vec<(u64, Hello)>,
    pub blocks: Vec<HeardBlock>,
    pub marks: Vec<MarkEdge>,
    pub readings: Vec<IndicatorReading>,
    pub presses: Vec<Press>,
    pub faults: Vec<FaultChange>,
    pub answers: Vec<(u16, Result<Reply, Refusal>)>,
    /// First sample of each block and fault change, in the order they came.
    pub order: Vec<Came>,
    pub bytes: usize,
}

impl Heard {
    pub fn samples(&self) -> impl Iterator<Item = &Sample> {
        self.blocks.iter().flat_map(|block| &block.samples)
    }

    /// Samples missing between the first and the last heard.
    pub fn missing(&self) -> u64 {
        let numbers: Vec<u64> = self.samples().map(|sample| sample.number).collect();
        assert!(numbers.is_sorted_by(|a, b| a < b), "numbers never go back");
        match (numbers.first(), numbers.last()) {
            (Some(first), Some(last)) => last - first + 1 - numbers.len() as u64,
            _ => 0,
        }
    }

    pub fn answer(&self, id: u16) -> Option<&Result<Reply, Refusal>> {
        let mut mine = self.answers.iter().filter(|answer| answer.0 == id);
        let answer = mine.next().map(|answer| &answer.1);
        assert!(mine.next().is_none(), "request {id} was answered twice");
        answer
    }
}

pub struct Rig {
    pub edges: Edges<'static>,
    pub converter: converter::Converter<'static, Converter>,
    pub gauge: Gauge<'static, Memory, Box<DequeView<u8>>>,
    pub cell: Converter,
    pub heard: Heard,
    pub now_us: u64,
    /// The host reads nothing.
    pub stalled: bool,
    /// The converter's task no longer runs.
    pub hung: bool,
    /// Probe position at a time, counts.
    pub probe: Box<dyn Fn(u64) -> i32>,
    pub polled: Polled,
    /// Light by time, one entry a change.
    pub light: Vec<(u64, bool)>,
    timer_offset_us: u64,
    probe_at: i32,
    next_poll_us: u64,
    decoder: Decoder,
    next_id: u16,
    pins: BTreeMap<(u64, u32), Pin>,
    button: Button<Contact>,
    contact: Contact,
    next_look_us: u64,
    sent: Vec<u8>,
}

/// An edge yet to come.
#[derive(Clone, Copy, Debug)]
pub enum Pin {
    Mark(bool),
    IndicatorClock(bool),
    Ab(bool, bool),
    /// The button's contact closes or opens.
    Contact(bool),
}

/// A contact between a pin and ground.
#[derive(Clone, Default)]
pub struct Contact(Rc<Cell<bool>>);

impl ErrorType for Contact {
    type Error = Infallible;
}

impl InputPin for Contact {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0.get())
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.get())
    }
}

pub fn fitting(channels: Channels) -> Fitting {
    Fitting {
        serial: "TP-0042".try_into().expect("short"),
        channels,
        probe_nm_per_count: 500,
        shunt: true,
        hardware: Hardware {
            build: 0x1234_5678,
            converter: Some(Wiring::FOUR_WIRE.converter(*b"TP-board")),
        },
        boot_mode: true,
        rates_hz: &holdtrue_firmware::ads1220::RATES_HZ,
    }
}

impl Rig {
    pub fn new() -> Self {
        Self::with(Memory::blank(), ALL, 0)
    }

    /// A gauge on this memory whose timer shows `timer_us` at its start.
    pub fn with(memory: Memory, channels: Channels, timer_us: u32) -> Self {
        let queues: &'static mut Queues = Box::leak(Box::new(Queues::new()));
        let (edge_ends, converter_ends, gauge_ends) = queues.split();
        let cell = Converter::new();
        let contact = Contact::default();
        let room: Box<DequeView<u8>> = Box::new(Deque::<u8, OUT>::new());
        let gauge = Gauge::new(
            gauge_ends,
            memory,
            room,
            fitting(channels),
            ResetCause::PowerOn,
            timer_us,
        );
        Self {
            edges: Edges::new(edge_ends),
            converter: converter::Converter::new(converter_ends, cell.clone()),
            gauge,
            cell,
            heard: Heard::default(),
            now_us: timer_us.into(),
            stalled: false,
            hung: false,
            probe: Box::new(|_| 0),
            polled: Polled {
                enter_boot_mode: false,
                run_converter: false,
                feed_watchdog: true,
                light: false,
                request_indicator: false,
                may_sleep: true,
            },
            light: Vec::new(),
            timer_offset_us: timer_us.into(),
            probe_at: 0,
            next_poll_us: timer_us.into(),
            decoder: Decoder::new(),
            next_id: 100,
            pins: BTreeMap::new(),
            button: Button::new(contact.clone()),
            contact,
            next_look_us: timer_us.into(),
            sent: Vec::new(),
        }
    }

    /// The same flash in a gauge that starts anew.
    pub fn restarted(self) -> Self {
        Self::with(self.gauge.release(), ALL, 0)
    }

    pub fn raw(&self) -> u32 {
        (self.now_us & u64::from(u32::MAX)) as u32
    }

    /// Time since the gauge started.
    pub fn age_us(&self) -> u64 {
        self.now_us - self.timer_offset_us
    }

    pub fn pin(&mut self, at_us: u64, pin: Pin) {
        let order = self.pins.range((at_us, 0)..(at_us + 1, 0)).count();
        self.pins.insert((at_us, order as u32), pin);
    }

    /// Sends a command; gives its number.
    pub fn send(&mut self, command: Command) -> u16 {
        let id = self.next_id;
        self.next_id += 1;
        let request = ToGauge::Request(Request { id, command });
        let mut buffer = [0; 512];
        let frame = encode_frame(&request, &mut buffer).expect("fits").to_vec();
        self.send_bytes(&frame);
        id
    }

    /// Bytes on the way to the gauge; it takes them as it has room.
    pub fn send_bytes(&mut self, bytes: &[u8]) {
        self.sent.extend_from_slice(bytes);
    }

    /// Sends a command and runs until it is answered.
    pub fn ask(&mut self, command: Command) -> Result<Reply, Refusal> {
        let id = self.send(command);
        for _ in 0..4_000 {
            self.run_us(1_000);
            if let Some(answer) = self.heard.answer(id) {
                return answer.clone();
            }
        }
        panic!("request {id} was not answered in 4 s");
    }

    pub fn start(&mut self, rate_hz: u16, channels: Channels) {
        let started = self.ask(Command::Start { rate_hz, channels });
        assert!(matches!(started, Ok(Reply::Started { .. })), "{started:?}");
    }

    /// Runs for a time, keeping the stream alive.
    pub fn stream_s(&mut self, seconds: u64) {
        for _ in 0..seconds {
            self.run_us(1_000_000);
            if !self.stalled {
                self.send(Command::KeepAlive);
            }
        }
    }

    pub fn run_us(&mut self, span_us: u64) {
        let until_us = self.now_us + span_us;
        loop {
            let ready = self.cell.ready_us().map(|at| at.max(self.now_us));
            let pin = self.pins.first_key_value().map(|(key, _)| key.0);
            let next = [Some(self.next_poll_us), Some(self.next_look_us), ready, pin]
                .into_iter()
                .flatten()
                .min()
                .unwrap_or(until_us);
            if next >= until_us {
                self.now_us = until_us;
                return;
            }
            self.now_us = next.max(self.now_us);
            self.cell.0.borrow_mut().now_us = self.now_us;
            if pin == Some(next) {
                self.edge();
            } else if ready == Some(next) {
                self.data_ready();
            } else if next == self.next_look_us {
                self.tick();
                self.next_look_us = self.now_us + u64::from(LOOK_US);
            } else {
                self.poll();
                self.next_poll_us = self.now_us + POLL_US;
            }
        }
    }

    fn edge(&mut self) {
        let Some((_, pin)) = self.pins.pop_first() else {
            return;
        };
        let raw = self.raw();
        match pin {
            Pin::Mark(high) => self.edges.on_mark_edge(high, raw),
            Pin::IndicatorClock(data) => self.edges.on_indicator_clock(data, raw),
            Pin::Ab(a, b) => self.edges.on_ab_edge(a, b),
            Pin::Contact(closed) => self.contact.0.set(closed),
        }
    }

    /// The board's tick, once a millisecond.
    fn tick(&mut self) {
        self.edges.tick(self.raw());
        if let Some(press) = self.button.look(self.raw()) {
            self.edges.on_press(press);
        }
    }

    /// Somebody presses the button for so long; the contact bounces both ways.
    pub fn press(&mut self, at_us: u64, held_us: u64) {
        for (edge_us, closes) in [(at_us, true), (at_us + held_us, false)] {
            for (after_us, level) in [
                (0, closes),
                (700, !closes),
                (1_900, closes),
                (2_400, !closes),
                (5_300, closes),
            ] {
                self.pin(edge_us + after_us, Pin::Contact(level));
            }
        }
    }

    fn data_ready(&mut self) {
        self.move_probe();
        self.cell.finish(self.now_us);
        self.edges.on_data_ready(self.raw());
        if !self.hung {
            self.converter.serve();
        }
    }

    /// Steps the probe's lines to where it is now.
    fn move_probe(&mut self) {
        let target = (self.probe)(self.now_us);
        let lines = |at: i32| match at.rem_euclid(4) {
            0 => (false, false),
            1 => (true, false),
            2 => (true, true),
            _ => (false, true),
        };
        let (a, b) = lines(self.probe_at);
        self.edges.on_ab_edge(a, b);
        while self.probe_at != target {
            self.probe_at += (target - self.probe_at).signum();
            let (a, b) = lines(self.probe_at);
            self.edges.on_ab_edge(a, b);
        }
    }

    pub fn poll(&mut self) {
        let taken = self.gauge.receive(&self.sent);
        self.sent.drain(..taken);
        self.polled = self.gauge.poll(self.raw());
        if self.polled.run_converter && !self.hung {
            self.converter.serve();
        }
        if self.light.last().map(|last| last.1) != Some(self.polled.light) {
            self.light.push((self.now_us, self.polled.light));
        }
        if !self.stalled {
            self.hear();
        }
    }

    fn hear(&mut self) {
        let mut buffer = [0; 64];
        loop {
            let count = self.gauge.transmit(&mut buffer);
            if count == 0 {
                return;
            }
            self.heard.bytes += count;
            let (heard, at_us) = (&mut self.heard, self.now_us);
            self.decoder
                .feed_from_gauge(&buffer[..count], |received| keep(heard, at_us, received));
        }
    }

    /// Frames that were none.
    pub fn bad_frames(&self) -> u64 {
        let counts = self.decoder.counts();
        counts.damaged + counts.over_long + counts.not_understood
    }
}

fn keep(heard: &mut Heard, at_us: u64, received: Received<'_, FromGauge<'_>>) {
    let Received::Message { message, .. } = received else {
        return;
    };
    match message {
        FromGauge::Hello(hello) => heard.hellos.push((at_us, hello)),
        FromGauge::Block(block) => {
            heard.order.push(Came::Block(block.first_sample));
            heard.blocks.push(HeardBlock {
                boot: block.boot,
                first_us: block.first_us,
                last_us: block.last_us,
                faults: block.faults,
                samples: block::decode(&block).expect("a block reads").collect(),
            });
        }
        FromGauge::Mark(edge) => heard.marks.push(edge),
        FromGauge::Indicator(reading) => heard.readings.push(reading),
        FromGauge::Fault(change) => {
            heard.order.push(Came::Fault(change.at_sample));
            heard.faults.push(change);
        }
        FromGauge::Answer(answer) => heard.answers.push((answer.id, answer.outcome)),
        FromGauge::Pressed(press) => heard.presses.push(press),
    }
}
