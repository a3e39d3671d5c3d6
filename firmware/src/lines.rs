//! The lock-free queues between the gauge's three parts, and what travels in them.
//!
//! [`Edges`](crate::edges::Edges) runs at the highest priority and stamps; [`Converter`](crate::converter::Converter)
//! runs below it and owns the bus; [`Gauge`](crate::gauge::Gauge) is the main loop. Each queue has one writer and one
//! reader, needs no compare-and-swap, and nobody ever waits: what finds no room is counted as missing by its number.

use heapless::spsc::{Consumer, Producer, Queue};

use crate::adc::Setup;
use crate::bcd_indicator::Burst;
use crate::button::ButtonPress;
use crate::mark::MarkChange;

/// Data-ready as it was stamped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// Counts data-ready edges, wrapping: what was lost shows as a step.
    pub number: u32,
    /// When, the timer's 32 bits.
    pub at_us: u32,
    /// Probe counts at that instant.
    pub displacement: i32,
    /// Impossible probe steps so far, wrapping.
    pub bad_steps: u16,
}

/// A conversion as it was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Conversion {
    /// Its data-ready.
    pub stamp: Stamp,
    /// Counts; millivolts or thousandths of a degree where the order in force measures the chip itself.
    pub counts: i32,
    /// Whether the counts are an end of the converter's range.
    pub saturated: bool,
    /// The order in force, see [`Order`].
    pub order: u8,
}

/// What the main loop wants of the converter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Order {
    /// Tells conversions taken under this order from older ones.
    pub number: u8,
    /// What is to be done.
    pub task: Task,
}

/// A converter's task.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Task {
    /// Bring it to its state at power-up.
    Reset,
    /// Set it up and let it run.
    Run(Setup),
}

/// What became of an order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Done {
    /// The order's number.
    pub order: u8,
    /// Whether the converter obeyed and read back so.
    pub obeyed: bool,
}

/// All queues of one gauge. A board keeps them in a static, a test on its stack.
///
/// One place of every queue stays free, so a queue of 32 holds 31.
pub struct Queues {
    stamps: Queue<Stamp, 8>,
    conversions: Queue<Conversion, 32>,
    marks: Queue<MarkChange, 16>,
    bursts: Queue<Burst, 4>,
    presses: Queue<ButtonPress, 8>,
    orders: Queue<Order, 4>,
    done: Queue<Done, 4>,
}

impl Queues {
    /// Empty.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            stamps: Queue::new(),
            conversions: Queue::new(),
            marks: Queue::new(),
            bursts: Queue::new(),
            presses: Queue::new(),
            orders: Queue::new(),
            done: Queue::new(),
        }
    }

    /// The ends, for the three parts.
    pub fn split(&mut self) -> (EdgeEnds<'_>, ConverterEnds<'_>, GaugeEnds<'_>) {
        let (stamps_in, stamps_out) = self.stamps.split();
        let (conversions_in, conversions_out) = self.conversions.split();
        let (marks_in, marks_out) = self.marks.split();
        let (bursts_in, bursts_out) = self.bursts.split();
        let (presses_in, presses_out) = self.presses.split();
        let (orders_in, orders_out) = self.orders.split();
        let (done_in, done_out) = self.done.split();
        (
            EdgeEnds {
                stamps: stamps_in,
                marks: marks_in,
                bursts: bursts_in,
                presses: presses_in,
            },
            ConverterEnds {
                stamps: stamps_out,
                orders: orders_out,
                conversions: conversions_in,
                done: done_in,
            },
            GaugeEnds {
                conversions: conversions_out,
                marks: marks_out,
                bursts: bursts_out,
                presses: presses_out,
                orders: orders_in,
                done: done_out,
            },
        )
    }
}

impl Default for Queues {
    fn default() -> Self {
        Self::new()
    }
}

/// The ends for [`Edges`](crate::edges::Edges).
pub struct EdgeEnds<'q> {
    pub(crate) stamps: Producer<'q, Stamp>,
    pub(crate) marks: Producer<'q, MarkChange>,
    pub(crate) bursts: Producer<'q, Burst>,
    pub(crate) presses: Producer<'q, ButtonPress>,
}

/// The ends for [`Converter`](crate::converter::Converter).
pub struct ConverterEnds<'q> {
    pub(crate) stamps: Consumer<'q, Stamp>,
    pub(crate) orders: Consumer<'q, Order>,
    pub(crate) conversions: Producer<'q, Conversion>,
    pub(crate) done: Producer<'q, Done>,
}

/// The ends for [`Gauge`](crate::gauge::Gauge).
pub struct GaugeEnds<'q> {
    pub(crate) conversions: Consumer<'q, Conversion>,
    pub(crate) marks: Consumer<'q, MarkChange>,
    pub(crate) bursts: Consumer<'q, Burst>,
    pub(crate) presses: Consumer<'q, ButtonPress>,
    pub(crate) orders: Producer<'q, Order>,
    pub(crate) done: Consumer<'q, Done>,
}

impl GaugeEnds<'_> {
    /// The oldest conversion not yet taken.
    pub fn next_conversion(&mut self) -> Option<Conversion> {
        self.conversions.dequeue()
    }
}
