//! Pin interrupts come in; calls of the gauge's edges go out. And the converter's bus.
//!
//! All inputs pull up: what is not connected keeps still.

use embedded_hal::digital::InputPin;
use embedded_hal_bus::spi::ExclusiveDevice;
use holdtrue_firmware::bridge::Bridge;
use holdtrue_firmware::edges::Edges;
use nrf52840_hal::gpio::{Input, Output, Pin, PullUp, PushPull};
use nrf52840_hal::gpiote::Gpiote;
use nrf52840_hal::pac::{SPIM2, TIMER2};
use nrf52840_hal::spim::Spim;
use nrf52840_hal::timer::Timer;

/// An input.
pub type In = Pin<Input<PullUp>>;
/// An output.
pub type Out = Pin<Output<PushPull>>;
/// The converter's bus with its chip select, and the timer that keeps the waits around it.
pub type Device = ExclusiveDevice<Spim<SPIM2>, Out, Timer<TIMER2>>;
/// The bridge converter.
pub type Adc = Bridge<Device, Out>;

/// The pins whose edges are stamped.
pub struct Lines {
    /// Edge detection; channel by channel as [`Lines::start`] gives them out.
    pub events: Gpiote,
    /// The converter's data-ready, falling.
    pub data_ready: In,
    /// Probe, signal A.
    pub a: In,
    /// Probe, signal B.
    pub b: In,
    /// Once-per-turn mark, high while the mark passes.
    pub mark: In,
    /// Indicator, clock.
    pub indicator_clock: In,
    /// Indicator, data.
    pub indicator_data: In,
}

impl Lines {
    /// Lets the interrupts come, and tells the decoder where the probe stands.
    pub fn start(&mut self, edges: &mut Edges<'_>) {
        let events = &self.events;
        events
            .channel0()
            .input_pin(&self.data_ready)
            .hi_to_lo()
            .enable_interrupt();
        events
            .channel1()
            .input_pin(&self.a)
            .toggle()
            .enable_interrupt();
        events
            .channel2()
            .input_pin(&self.b)
            .toggle()
            .enable_interrupt();
        events
            .channel3()
            .input_pin(&self.mark)
            .toggle()
            .enable_interrupt();
        events
            .channel4()
            .input_pin(&self.indicator_clock)
            .hi_to_lo()
            .enable_interrupt();
        edges.on_ab_edge(is_high(&mut self.a), is_high(&mut self.b));
    }

    /// Hands over every edge that has come; `true` if a sample is ready. The probe goes first, so that a sample
    /// stamped in the same moment has its count.
    #[inline]
    pub fn serve(&mut self, edges: &mut Edges<'_>, now_us: impl Fn() -> u32) -> bool {
        let events = &self.events;
        // Every event is cleared before the level is read: an edge that comes in between raises the interrupt again. And the
        // clock is read behind each: a stamp is never before its edge.
        let probe = [events.channel1(), events.channel2()];
        if probe.iter().any(|channel| channel.is_event_triggered()) {
            probe.iter().for_each(|channel| channel.reset_events());
            edges.on_ab_edge(is_high(&mut self.a), is_high(&mut self.b));
        }
        if events.channel3().is_event_triggered() {
            events.channel3().reset_events();
            edges.on_mark_edge(is_high(&mut self.mark), now_us());
        }
        if events.channel4().is_event_triggered() {
            events.channel4().reset_events();
            edges.on_indicator_clock(is_high(&mut self.indicator_data), now_us());
        }
        let ready = events.channel0().is_event_triggered();
        if ready {
            events.channel0().reset_events();
            edges.on_data_ready(now_us());
        }
        ready
    }
}

fn is_high(pin: &mut In) -> bool {
    let Ok(high) = pin.is_high();
    high
}
