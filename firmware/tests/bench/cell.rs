//! A load cell on a converter, as a test wants it to behave.

use std::cell::RefCell;
use std::rc::Rc;

use holdtrue_firmware::adc::{Adc, Input, Setup};

/// Which wire of the bridge is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpenWire {
    Signal,
    Supply,
}

/// Behaviour of the converter, changed by the test while the gauge runs.
pub struct Cell {
    /// Counts of the bridge at a time in microseconds.
    pub load: Box<dyn Fn(u64) -> i32>,
    pub open: Option<OpenWire>,
    /// Neither obeys nor gets ready.
    pub silent: bool,
    /// Obeys, but data-ready never comes.
    pub unready: bool,
    /// True rate over nominal rate.
    pub oscillator: f64,
    setup: Option<Setup>,
    next_ready_us: f64,
    latest: i32,
    /// Settings written, in order.
    pub setups: Vec<Setup>,
    pub resets: usize,
    pub now_us: u64,
}

#[derive(Clone)]
pub struct Converter(pub Rc<RefCell<Cell>>);

impl Converter {
    pub fn new() -> Self {
        Self(Rc::new(RefCell::new(Cell {
            load: Box::new(|_| 0),
            open: None,
            silent: false,
            unready: false,
            oscillator: 1.0,
            setup: None,
            next_ready_us: 0.0,
            latest: 0,
            setups: Vec::new(),
            resets: 0,
            now_us: 0,
        })))
    }

    /// Time of the next data-ready.
    pub fn ready_us(&self) -> Option<u64> {
        let cell = self.0.borrow();
        let runs = cell.setup.is_some() && !cell.silent && !cell.unready;
        runs.then_some(cell.next_ready_us as u64)
    }

    /// Finishes a conversion.
    pub fn finish(&self, now_us: u64) {
        let mut cell = self.0.borrow_mut();
        let Some(setup) = cell.setup else { return };
        cell.latest = cell.convert(setup, now_us);
        cell.next_ready_us += 1e6 / (f64::from(setup.rate_hz) * cell.oscillator);
    }

    /// After silence the chip has to be set up anew.
    pub fn come_back(&self) {
        let mut cell = self.0.borrow_mut();
        cell.silent = false;
        cell.setup = None;
    }
}

impl Cell {
    fn convert(&self, setup: Setup, now_us: u64) -> i32 {
        let bridge = || match self.open {
            Some(OpenWire::Signal) => Converter::MAX_COUNTS,
            Some(OpenWire::Supply) => 3,
            None => (self.load)(now_us).clamp(Converter::MIN_COUNTS, Converter::MAX_COUNTS),
        };
        match setup.input {
            Input::Bridge => bridge() + if setup.shunt { 500_000 } else { 0 },
            Input::Shorted => -120 + i32::try_from(now_us / 1_000 % 3).unwrap_or(0),
            // 3.5 mV of 3.3 V on a whole bridge.
            Input::Leads if self.open == Some(OpenWire::Signal) => Converter::MAX_COUNTS,
            Input::Leads => 8_900,
            Input::CommonMode if self.open == Some(OpenWire::Supply) => 20_000,
            Input::CommonMode => 1 << 22,
            Input::Supply => 3_302,
            Input::Temperature => 21_500,
        }
    }
}

impl Adc for Converter {
    type Error = &'static str;
    const MAX_COUNTS: i32 = 0x7f_ffff;
    const MIN_COUNTS: i32 = -0x80_0000;

    fn reset(&mut self) -> Result<(), Self::Error> {
        let mut cell = self.0.borrow_mut();
        cell.resets += 1;
        cell.setup = None;
        Ok(())
    }

    fn configure(&mut self, setup: &Setup) -> Result<(), Self::Error> {
        let mut cell = self.0.borrow_mut();
        if cell.silent {
            return Err("reads back ones");
        }
        cell.setups.push(*setup);
        cell.setup = Some(*setup);
        cell.next_ready_us =
            cell.now_us as f64 + 1e6 / (f64::from(setup.rate_hz) * cell.oscillator);
        Ok(())
    }

    fn read(&mut self) -> Result<i32, Self::Error> {
        Ok(self.0.borrow().latest)
    }

    fn supply_mv(counts: i32) -> i32 {
        counts
    }

    fn temperature_mc(counts: i32) -> i32 {
        counts
    }
}
