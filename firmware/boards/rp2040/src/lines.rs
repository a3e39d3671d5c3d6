//! Pin interrupts come in; calls of the gauge's edges go out. And the converter's bus.
//!
//! All inputs pull up: what is not connected keeps still.

use embedded_hal::digital::InputPin;
use holdtrue_firmware::edges::Edges;
use rp2040_hal::gpio::Interrupt::{EdgeHigh, EdgeLow};
use rp2040_hal::gpio::bank0::{Gpio7, Gpio8, Gpio9, Gpio10, Gpio11, Gpio12, Gpio13};
use rp2040_hal::gpio::{FunctionSioInput, FunctionSioOutput, Pin, PullDown, PullUp};
use rp2040_hal::pac;

/// An input.
pub type In<P> = Pin<P, FunctionSioInput, PullUp>;
/// An output.
pub type Out<P> = Pin<P, FunctionSioOutput, PullDown>;

/// The load cell's converter.
#[cfg(feature = "cell")]
mod cell {
    use embedded_hal_bus::spi::ExclusiveDevice;
    use holdtrue_firmware::bridge::Bridge;
    use rp2040_hal::Timer;
    use rp2040_hal::gpio::bank0::{Gpio15, Gpio16, Gpio17, Gpio18, Gpio19};
    use rp2040_hal::gpio::{FunctionSpi, Pin, PullDown};
    use rp2040_hal::pac::SPI0;
    use rp2040_hal::spi::{Enabled, Spi};

    use super::Out;

    type SpiPin<P> = Pin<P, FunctionSpi, PullDown>;
    /// The converter's bus: data out, data in, clock.
    type Bus = Spi<Enabled, SPI0, (SpiPin<Gpio19>, SpiPin<Gpio16>, SpiPin<Gpio18>)>;
    /// The bus with its chip select, and the timer that keeps the waits around it.
    type Device = ExclusiveDevice<Bus, Out<Gpio17>, Timer>;
    /// The bridge converter.
    pub type Converting = Bridge<Device, Out<Gpio15>>;
}
#[cfg(feature = "cell")]
pub use cell::Converting;
/// Nothing is converted where no load cell is.
#[cfg(not(feature = "cell"))]
pub type Converting = holdtrue_firmware::adc::NoAdc<'static>;

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
    #[expect(dead_code, reason = "its level is read with those of all others")]
    pub indicator_data: In<Gpio9>,
}

impl Lines {
    /// Lets the interrupts come, and tells the decoder where the probe stands.
    pub fn start(&mut self, edges: &mut Edges<'_>) {
        self.data_ready
            .set_interrupt_enabled(EdgeLow, cfg!(feature = "cell"));
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
    #[inline(always)]
    pub fn serve(edges: &mut Edges<'_>) -> bool {
        let seen = Seen::take();
        if seen.changed(A) | seen.changed(B) {
            edges.on_ab_edge(seen.is_high(A), seen.is_high(B));
        }
        if seen.changed(MARK) {
            edges.on_mark_edge(seen.is_high(MARK), seen.at_us);
        }
        if seen.fell(INDICATOR_CLOCK) {
            edges.on_indicator_clock(seen.is_high(INDICATOR_DATA), seen.at_us);
        }
        let ready = seen.fell(DATA_READY);
        if ready {
            edges.on_data_ready(seen.at_us);
        }
        ready
    }
}

const INDICATOR_CLOCK: u32 = 8;
const INDICATOR_DATA: u32 = 9;
const DATA_READY: u32 = 10;
const A: u32 = 11;
const B: u32 = 12;
const MARK: u32 = 13;

/// Every pin above is one of the eight whose flags stand in this one of the chip's registers, four bits a pin.
const REGISTER: usize = 1;
const FELL: u32 = 0b0100;
const ROSE: u32 = 0b1000;

/// Edges that had come at one moment, and when that was.
struct Seen {
    flags: u32,
    at_us: u32,
    levels: u32,
}

impl Seen {
    /// Flags, timer, clearing, levels, in this order: the timer is read behind every edge it stamps, and an edge that comes later
    /// raises the interrupt again, so that the last level is never missed. Registers are read bare, as what the crate of the
    /// chip offers is not certain to be inlined, and would then run from the flash.
    #[inline(always)]
    fn take() -> Self {
        // SAFETY: nobody else reads or clears the edges of these pins, and reading timer and levels changes nothing.
        let (pins, timer, levels) =
            unsafe { (&*pac::IO_BANK0::PTR, &*pac::TIMER::PTR, &*pac::SIO::PTR) };
        let flags = pins.proc0_ints(REGISTER).read().bits();
        let at_us = timer.timerawl().read().bits();
        // SAFETY: any bits may be written: each edge's clears itself.
        pins.intr(REGISTER).write(|w| unsafe { w.bits(flags) });
        Self {
            flags,
            at_us,
            levels: levels.gpio_in().read().bits(),
        }
    }

    #[inline(always)]
    fn fell(&self, pin: u32) -> bool {
        self.flags >> (4 * (pin % 8)) & FELL != 0
    }

    #[inline(always)]
    fn changed(&self, pin: u32) -> bool {
        self.flags >> (4 * (pin % 8)) & (FELL | ROSE) != 0
    }

    #[inline(always)]
    fn is_high(&self, pin: u32) -> bool {
        self.levels >> pin & 1 != 0
    }
}

fn is_high<P: rp2040_hal::gpio::PinId>(pin: &mut In<P>) -> bool {
    let Ok(high) = pin.is_high();
    high
}
