//! Bytes on the wire come in and go out; bytes go to the gauge and come from it. And the pins the main loop sets.
//!
//! 921 600 baud, 8 bits, no parity, no flow control. The receiver holds six bytes: `serve` runs above everything that
//! takes its time.

use embedded_hal::digital::OutputPin;
use heapless::spsc::{Consumer, Producer};
use holdtrue_firmware::flash::Flash;
use holdtrue_firmware::gauge::{Gauge, Polled};
use holdtrue_firmware::outbox::Room;
use nrf52840_hal::gpio::{Floating, Input, Pin};
use nrf52840_hal::pac::UART0;
use nrf52840_hal::wdt::{WatchdogHandle, handles::Hdl0};

use crate::lines::Out;

/// Room for bytes received.
pub const RX: usize = 256;
/// Room for bytes to send.
pub const TX: usize = 256;

/// The peripheral, not yet joined to its queues.
pub struct Bare(UART0);

impl Bare {
    /// Sets it up. The pins stay its own.
    pub fn new(uart: UART0, receive: Pin<Input<Floating>>, send: Out) -> Self {
        // SAFETY: the pins' own numbers, as the register wants them.
        unsafe {
            uart.psel.rxd.write(|w| w.bits(receive.psel_bits()));
            uart.psel.txd.write(|w| w.bits(send.psel_bits()));
        }
        uart.baudrate.write(|w| w.baudrate().baud921600());
        uart.enable.write(|w| w.enable().enabled());
        uart.intenset.write(|w| w.rxdrdy().set().txdrdy().set());
        // SAFETY: task registers; writing 1 starts the task.
        unsafe {
            uart.tasks_startrx.write(|w| w.bits(1));
            uart.tasks_starttx.write(|w| w.bits(1));
        }
        Self(uart)
    }

    /// Joins it to its queues.
    pub fn join(
        self,
        (received_in, received_out): (Producer<'static, u8>, Consumer<'static, u8>),
        (send_in, send_out): (Producer<'static, u8>, Consumer<'static, u8>),
    ) -> (Uart, Ends) {
        (
            Uart {
                registers: self.0,
                received: received_in,
                to_send: send_out,
                is_sending: false,
            },
            Ends {
                received: received_out,
                to_send: send_in,
            },
        )
    }
}

/// The wire's side of the queues.
pub struct Uart {
    registers: UART0,
    received: Producer<'static, u8>,
    to_send: Consumer<'static, u8>,
    is_sending: bool,
}

impl Uart {
    /// Takes what came, and sends the next byte when the last one is gone.
    pub fn serve(&mut self) {
        let uart = &self.registers;
        while uart.events_rxdrdy.read().bits() != 0 {
            uart.events_rxdrdy.reset();
            // Without room the byte is lost, and its frame found damaged: a host waits for its answers.
            let _ = self.received.enqueue(uart.rxd.read().rxd().bits());
        }
        if uart.events_txdrdy.read().bits() != 0 {
            uart.events_txdrdy.reset();
            self.is_sending = false;
        }
        if !self.is_sending
            && let Some(byte) = self.to_send.dequeue()
        {
            self.is_sending = true;
            // SAFETY: any byte may be sent.
            uart.txd.write(|w| unsafe { w.txd().bits(byte) });
        }
    }
}

/// The gauge's side of the queues.
pub struct Ends {
    received: Consumer<'static, u8>,
    to_send: Producer<'static, u8>,
}

impl Ends {
    /// Gives the gauge what came, as far as it has room.
    pub fn receive<F: Flash, R: Room>(&mut self, gauge: &mut Gauge<'_, F, R>) {
        while gauge.receive_room() > 0
            && let Some(byte) = self.received.dequeue()
        {
            gauge.receive(&[byte]);
        }
    }

    /// Takes what the gauge has for the host, as far as there is room; `true` if there is something to send.
    pub fn transmit<F: Flash, R: Room>(&mut self, gauge: &mut Gauge<'_, F, R>) -> bool {
        while let Some(&byte) = gauge.next_bytes().first()
            && self.to_send.enqueue(byte).is_ok()
        {
            gauge.sent(1);
        }
        !self.to_send.is_empty()
    }
}

/// Pins and watchdog as the main loop wants them.
pub struct Outputs {
    /// The gauge's light.
    pub light: Out,
    /// Request line of the indicator.
    pub request: Out,
    /// The watchdog.
    pub watchdog: WatchdogHandle<Hdl0>,
}

impl Outputs {
    /// Sets them.
    pub fn set(&mut self, polled: &Polled) {
        let Ok(()) = self.light.set_state(polled.light.into());
        let Ok(()) = self.request.set_state(polled.request_indicator.into());
        if polled.feed_watchdog {
            self.watchdog.pet();
        }
    }
}
