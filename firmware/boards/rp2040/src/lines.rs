//! Pin interrupts come in; calls of the gauge's edges go out. And the converter's bus.
//!
//! All inputs pull up: what is not connected keeps still.

use embedded_hal::digital::InputPin;
use embedded_hal_bus::spi::ExclusiveDevice;
use holdtrue_firmware::bridge::Bridge;
use holdtrue_firmware::edges::Edges;
use rp2040_hal::Timer;
use rp2040_hal::gpio::Interrupt::{EdgeHigh, EdgeLow};
use rp2040_hal::gpio::bank0::{
    Gpio7, Gpio8, Gpio9, Gpio10, Gpio11, Gpio12, Gpio13, Gpio15, Gpio16, Gpio17, Gpio18, Gpio19,
};
use rp2040_hal::gpio::{FunctionSioInput, FunctionSioOutput, FunctionSpi, Pin, PullDown, PullUp};
use rp2040_hal::pac::SPI0;
use rp2040_hal::spi::{Enabled, Spi};

/// An input.
pub type In<P> = Pin<P, FunctionSioInput, PullUp>;
/// An output.
pub type Out<P> = Pin<P, FunctionSioOutput, PullDown>;
type SpiPin<P> = Pin<P, FunctionSpi, PullDown>;
/// The converter's bus: data out, data in, clock.
pub type Bus = Spi<Enabled, SPI0, (SpiPin<Gpio19>, SpiPin<Gpio16>, SpiPin<Gpio18>)>;
/// The bus with its chip select, and the timer that keeps the waits around it.
pub type Device = ExclusiveDevice<Bus, Out<Gpio17>, Timer>;
/// The bridge converter.
pub type Adc = Bridge<Device, Out<Gpio15>>;

/// The push button, to ground.
pub type PushButton = In<Gpio7>;

/// The pins whose edges are stamped.
pub struct Lines {
    /// The converter's data-ready, falling.
    pub data_ready: In<Gpio10>,
    /// Probe, signal A.
    pub a: In<Gpio11>,
    /// Probe, signal B.
    pub b: In<Gpio12>,
    /// Once-per-turn mark, high while the mark passes.
    pub mark: In<Gpio13>,
    /// Indicator, clock.
    pub indicator_clock: In<Gpio8>,
    /// Indicator, data.
    pub indicator_data: In<Gpio9>,
}

impl Lines {
    /// Lets the interrupts come, and tells the decoder where the probe stands.
    pub fn start(&mut self, edges: &mut Edges<'_>) {
        self.data_ready.set_interrupt_enabled(EdgeLow, true);
        self.indicator_clock.set_interrupt_enabled(EdgeLow, true);
        for edge in [EdgeLow, EdgeHigh] {
            self.a.set_interrupt_enabled(edge, true);
            self.b.set_interrupt_enabled(edge, true);
            self.mark.set_interrupt_enabled(edge, true);
        }
        edges.on_ab_edge(is_high(&mut self.a), is_high(&mut self.b));
    }

    /// Hands over every edge that has come; `true` if a sample is ready. The probe goes first, so that a sample
    /// stamped in the same moment has its count.
    #[inline]
    pub fn serve(&mut self, edges: &mut Edges<'_>, at_us: u32) -> bool {
        // Every flag is cleared before the level is read: an edge that comes in between raises the interrupt again.
        if taken(&mut self.a) | taken(&mut self.b) {
            edges.on_ab_edge(is_high(&mut self.a), is_high(&mut self.b));
        }
        if taken(&mut self.mark) {
            edges.on_mark_edge(is_high(&mut self.mark), at_us);
        }
        if fell(&mut self.indicator_clock) {
            edges.on_indicator_clock(is_high(&mut self.indicator_data), at_us);
        }
        let ready = fell(&mut self.data_ready);
        if ready {
            edges.on_data_ready(at_us);
        }
        ready
    }
}

fn fell<P: rp2040_hal::gpio::PinId>(pin: &mut In<P>) -> bool {
    let fell = pin.interrupt_status(EdgeLow);
    if fell {
        pin.clear_interrupt(EdgeLow);
    }
    fell
}

fn taken<P: rp2040_hal::gpio::PinId>(pin: &mut In<P>) -> bool {
    let rose = pin.interrupt_status(EdgeHigh);
    if rose {
        pin.clear_interrupt(EdgeHigh);
    }
    rose | fell(pin)
}

fn is_high<P: rp2040_hal::gpio::PinId>(pin: &mut In<P>) -> bool {
    let Ok(high) = pin.is_high();
    high
}
