//! The converter's part and what keeps it at its setting: late reads never give a sample to the wrong stamp, and a
//! converter that does not obey is reset, given up, and tried again.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;

use holdtrue_firmware::adc::{Adc, Input, Setup};
use holdtrue_firmware::adc_control::{AdcControl, HUNG_US, RETRY_US};
use holdtrue_firmware::converter::Converter;
use holdtrue_firmware::edges::Edges;
use holdtrue_firmware::lines::{Conversion, Queues};

const BRIDGE: Setup = Setup {
    input: Input::Bridge,
    rate_hz: 1_000,
    shunt: false,
};

/// Gives the readings in turn; with a name for each access.
#[derive(Clone, Default)]
struct Script(Rc<RefCell<Played>>);

#[derive(Default)]
struct Played {
    readings: VecDeque<Result<i32, ()>>,
    accesses: Vec<&'static str>,
    refuses: bool,
    /// Runs while a reading is under way: an interrupt.
    interrupt: Option<Box<dyn FnMut()>>,
}

impl Adc for Script {
    type Error = ();
    const MAX_COUNTS: i32 = 1_000;
    const MIN_COUNTS: i32 = -1_001;

    fn reset(&mut self) -> Result<(), ()> {
        self.0.borrow_mut().accesses.push("reset");
        Ok(())
    }

    fn configure(&mut self, _: &Setup) -> Result<(), ()> {
        let mut played = self.0.borrow_mut();
        played.accesses.push("configure");
        if played.refuses { Err(()) } else { Ok(()) }
    }

    fn read(&mut self) -> Result<i32, ()> {
        let mut played = self.0.borrow_mut();
        if let Some(interrupt) = &mut played.interrupt {
            interrupt();
        }
        played.readings.pop_front().unwrap_or(Err(()))
    }

    fn supply_mv(counts: i32) -> i32 {
        counts * 4
    }

    fn temperature_mc(counts: i32) -> i32 {
        counts * 31
    }
}

struct Bench {
    edges: Rc<RefCell<Edges<'static>>>,
    converter: Converter<'static, Script>,
    ends: holdtrue_firmware::lines::GaugeEnds<'static>,
    control: AdcControl,
    script: Script,
    now_us: u64,
}

impl Bench {
    fn new() -> Self {
        let queues: &'static mut Queues = Box::leak(Box::new(Queues::new()));
        let (edge_ends, converter_ends, ends) = queues.split();
        let script = Script::default();
        Self {
            edges: Rc::new(RefCell::new(Edges::new(edge_ends))),
            converter: Converter::new(converter_ends, script.clone()),
            ends,
            control: AdcControl::new(BRIDGE),
            script,
            now_us: 0,
        }
    }

    /// A bench whose converter runs as wanted.
    fn running() -> Self {
        let mut bench = Self::new();
        bench.run_us(5_000);
        assert!(bench.control.is_running());
        bench
    }

    fn run_us(&mut self, span_us: u64) {
        let until = self.now_us + span_us;
        while self.now_us < until {
            if self.control.step(&mut self.ends, self.now_us) {
                self.converter.serve();
            }
            self.now_us += 100;
        }
    }

    fn will_read(&self, readings: &[Result<i32, ()>]) {
        self.script.0.borrow_mut().readings = readings.iter().copied().collect();
    }

    fn data_ready(&self, at_us: u32) {
        self.edges.borrow_mut().on_data_ready(at_us);
    }

    /// Stamp time, counts and saturation of what has come out.
    fn taken(&mut self) -> Vec<(u32, i32, bool)> {
        let told = |conversion: Conversion| {
            (
                conversion.stamp.at_us,
                conversion.counts,
                conversion.saturated,
            )
        };
        std::iter::from_fn(|| self.ends.next_conversion())
            .map(told)
            .collect()
    }
}

#[test]
fn each_data_ready_is_read_once() {
    let mut bench = Bench::running();
    bench.will_read(&[Ok(7), Ok(-3)]);
    bench.data_ready(10_000);
    bench.converter.serve();
    bench.converter.serve();
    bench.data_ready(11_000);
    bench.converter.serve();
    assert_eq!(bench.taken(), [(10_000, 7, false), (11_000, -3, false)]);
}

#[test]
fn ends_of_the_range_are_saturated() {
    let mut bench = Bench::running();
    bench.will_read(&[Ok(1_000), Ok(-1_001), Ok(999), Ok(-1_000)]);
    for at_us in 0..4 {
        bench.data_ready(at_us);
        bench.converter.serve();
    }
    let saturated: Vec<bool> = bench.taken().iter().map(|taken| taken.2).collect();
    assert_eq!(saturated, [true, true, false, false]);
}

#[test]
fn read_late_the_counts_belong_to_the_newest_stamp_and_the_older_ones_are_missing() {
    let mut bench = Bench::running();
    bench.will_read(&[Ok(42)]);
    for at_us in [10_000, 11_000, 12_000] {
        bench.data_ready(at_us);
    }
    bench.converter.serve();
    assert_eq!(bench.taken(), [(12_000, 42, false)]);
}

#[test]
fn a_sample_that_gets_ready_during_the_read_spoils_it() {
    let mut bench = Bench::running();
    bench.will_read(&[Ok(1), Ok(2)]);
    let edges = Rc::clone(&bench.edges);
    let mut pending = Some(11_000);
    bench.script.0.borrow_mut().interrupt = Some(Box::new(move || {
        if let Some(at_us) = pending.take() {
            edges.borrow_mut().on_data_ready(at_us);
        }
    }));
    bench.data_ready(10_000);
    bench.converter.serve();
    assert_eq!(bench.taken(), [(11_000, 2, false)], "1 could be either's");
}

#[test]
fn a_failed_read_is_a_missing_sample() {
    let mut bench = Bench::running();
    bench.will_read(&[Err(()), Ok(5)]);
    for at_us in [1, 2] {
        bench.data_ready(at_us);
        bench.converter.serve();
    }
    assert_eq!(bench.taken(), [(2, 5, false)]);
}

#[test]
fn what_was_ready_before_a_new_setting_is_not_read_under_it() {
    let mut bench = Bench::running();
    bench.will_read(&[Ok(1)]);
    bench.data_ready(10_000);
    bench.control.want(Setup {
        input: Input::Shorted,
        ..BRIDGE
    });
    assert!(bench.control.step(&mut bench.ends, bench.now_us));
    bench.converter.serve();
    assert_eq!(bench.taken(), []);
}

#[test]
fn a_sample_read_before_a_new_setting_is_not_taken_for_one_after_it() {
    let mut bench = Bench::running();
    bench.will_read(&[Ok(1), Ok(2)]);
    bench.data_ready(10_000);
    bench.converter.serve();
    bench.control.want(Setup {
        input: Input::Shorted,
        ..BRIDGE
    });
    bench.run_us(300);
    bench.data_ready(11_000);
    bench.converter.serve();
    let current: Vec<(i32, bool)> = std::iter::from_fn(|| bench.ends.next_conversion())
        .map(|taken| (taken.counts, bench.control.is_current(taken.order)))
        .collect();
    assert_eq!(current, [(1, false), (2, true)]);
}

#[test]
fn supply_and_temperature_come_in_their_units() {
    let mut bench = Bench::running();
    for (input, expected) in [
        (Input::Supply, 40),
        (Input::Temperature, 310),
        (Input::Shorted, 10),
    ] {
        bench.control.want(Setup { input, ..BRIDGE });
        bench.run_us(1_000);
        bench.will_read(&[Ok(10)]);
        bench.data_ready(0);
        bench.converter.serve();
        assert_eq!(bench.taken()[0].1, expected, "{input:?}");
    }
}

#[test]
fn after_a_reset_the_chip_is_left_alone_for_a_millisecond() {
    let mut bench = Bench::new();
    bench.run_us(900);
    assert_eq!(bench.script.0.borrow().accesses, ["reset"]);
    bench.run_us(2_000);
    assert_eq!(bench.script.0.borrow().accesses, ["reset", "configure"]);
    assert!(bench.control.is_running());
}

#[test]
fn a_converter_that_does_not_obey_is_reset_given_up_and_tried_again() {
    let mut bench = Bench::new();
    bench.script.0.borrow_mut().refuses = true;
    bench.run_us(100_000);
    assert!(bench.control.has_failed() && !bench.control.is_running());
    let twice = ["reset", "configure", "reset", "configure"];
    assert_eq!(bench.script.0.borrow().accesses, twice);
    bench.script.0.borrow_mut().refuses = false;
    bench.run_us(RETRY_US);
    assert!(bench.control.is_running());
}

#[test]
fn an_order_nobody_answers_is_noticed() {
    let mut bench = Bench::new();
    assert!(bench.control.step(&mut bench.ends, 0));
    for now_us in [1, HUNG_US] {
        assert!(
            bench.control.step(&mut bench.ends, now_us),
            "asked for again"
        );
        assert!(!bench.control.is_hung(now_us));
    }
    assert!(bench.control.is_hung(HUNG_US + 1));
    bench.converter.serve();
    bench.control.step(&mut bench.ends, HUNG_US + 2);
    assert!(!bench.control.is_hung(HUNG_US + 2));
}
