//! Data-ready stamps and the main loop's orders go in by queue, conversions come out by queue.
//!
//! Owns the converter and its bus. Runs below the stamping interrupts and above the main loop, so that a slow main
//! loop costs no sample.

use crate::adc::{Adc, Input};
use crate::lines::{Conversion, ConverterEnds, Done, Order, Stamp, Task};

/// The part of a gauge that reads the converter.
pub struct Converter<'q, A> {
    ends: ConverterEnds<'q>,
    adc: A,
    order: u8,
    input: Input,
}

impl<'q, A: Adc> Converter<'q, A> {
    /// Touches nothing yet: the first order brings the converter up.
    #[must_use]
    pub const fn new(ends: ConverterEnds<'q>, adc: A) -> Self {
        Self {
            ends,
            adc,
            order: 0,
            input: Input::Bridge,
        }
    }

    /// Obeys a waiting order and reads what is ready. Call it after every data-ready and whenever the main loop asks
    /// for it ([`Polled::run_converter`](crate::gauge::Polled)).
    pub fn serve(&mut self) {
        while let Some(order) = self.ends.orders.dequeue() {
            self.obey(order);
        }
        while let Some(stamp) = self.newest_stamp() {
            self.take(stamp);
        }
    }

    /// The converter and its bus, given back.
    #[must_use]
    pub fn release(self) -> A {
        self.adc
    }

    fn obey(&mut self, order: Order) {
        let obeyed = match order.task {
            Task::Reset => self.adc.reset().is_ok(),
            Task::Run(setup) => {
                self.input = setup.input;
                self.adc.configure(&setup).is_ok()
            }
        };
        // A sample announced before the new setting was made belongs to neither.
        while self.ends.stamps.dequeue().is_some() {}
        self.order = order.number;
        let _ = self.ends.done.enqueue(Done {
            order: order.number,
            obeyed,
        });
    }

    /// What an older stamp announced is overwritten inside the chip by now.
    fn newest_stamp(&mut self) -> Option<Stamp> {
        let mut newest = self.ends.stamps.dequeue();
        while let Some(later) = self.ends.stamps.dequeue() {
            newest = Some(later);
        }
        newest
    }

    fn take(&mut self, stamp: Stamp) {
        let Ok(counts) = self.adc.read() else {
            return; // the number is missing then, and long silence is a fault
        };
        if self.ends.stamps.ready() {
            return; // a newer sample came while reading: these counts could be either's
        }
        let saturated = counts >= A::MAX_COUNTS || counts <= A::MIN_COUNTS;
        let _ = self.ends.conversions.enqueue(Conversion {
            stamp,
            counts: self.in_unit(counts),
            saturated,
            order: self.order,
        });
    }

    fn in_unit(&self, counts: i32) -> i32 {
        match self.input {
            Input::Supply => A::supply_mv(counts),
            Input::Temperature => A::temperature_mc(counts),
            _ => counts,
        }
    }
}
