//! USB packets come in and go out; bytes go to the gauge and come from it. And the pins the main loop sets.

use embedded_hal::digital::OutputPin;
use holdtrue_firmware::flash::Flash;
use holdtrue_firmware::gauge::{Gauge, Polled};
use holdtrue_firmware::outbox::Room;
use holdtrue_protocol::usb;
use rp2040_hal::Watchdog;
use rp2040_hal::gpio::bank0::{Gpio5, Gpio6, Gpio14, Gpio25};
use rp2040_hal::rom_data::reset_to_usb_boot;
use rp2040_hal::usb::UsbBus;
use rp2040_hal::watchdog::ScratchRegister;
use usb_device::bus::UsbBusAllocator;
use usb_device::device::{StringDescriptors, UsbDevice, UsbDeviceBuilder, UsbVidPid};
use usbd_serial::{SerialPort, USB_CLASS_CDC};

use crate::lines::Out;
use crate::stop;

/// A shared id for tests and prototypes (pid.codes 1209:0001). Who gives gauges to others must get an id of their own.
const TEST_ID: UsbVidPid = UsbVidPid(0x1209, 0x0001);

const PACKET: usize = 64;
/// A probe alone may take 200 mA; a hub without a supply gives none of that, and is not asked for it where no probe is wired.
const CURRENT_MA: usize = if cfg!(feature = "probe") { 500 } else { 150 };

/// The serial port on USB.
pub struct Port {
    device: UsbDevice<'static, UsbBus>,
    serial: SerialPort<'static, UsbBus>,
    is_open: bool,
}

impl Port {
    /// Ready to be plugged in.
    pub fn new(bus: &'static UsbBusAllocator<UsbBus>, serial_number: &'static str) -> Self {
        let serial = SerialPort::new(bus);
        let strings = StringDescriptors::default()
            .product(usb::PRODUCT)
            .serial_number(serial_number);
        let device = UsbDeviceBuilder::new(bus, TEST_ID)
            .strings(&[strings])
            .and_then(|builder| builder.max_packet_size_0(64))
            .and_then(|builder| builder.max_power(CURRENT_MA))
            .expect("one language, a packet size and a current USB knows")
            .device_class(USB_CLASS_CDC)
            .build();
        Self {
            device,
            serial,
            is_open: false,
        }
    }

    /// Takes what the host sent, as far as the gauge has room: the rest waits in the host.
    pub fn receive<F: Flash, R: Room>(&mut self, gauge: &mut Gauge<'_, F, R>) {
        self.device.poll(&mut [&mut self.serial]);
        let is_open = self.serial.dtr();
        if is_open && !self.is_open {
            gauge.on_connect();
        }
        self.is_open = is_open;
        let mut packet = [0; PACKET];
        while gauge.receive_room() >= PACKET {
            match self.serial.read(&mut packet) {
                Ok(count) if count > 0 => {
                    gauge.receive(&packet[..count]);
                }
                _ => return,
            }
        }
    }

    /// Hands the host what the gauge has for it, as far as USB takes it.
    pub fn transmit<F: Flash, R: Room>(&mut self, gauge: &mut Gauge<'_, F, R>) {
        while !gauge.next_bytes().is_empty() {
            match self.serial.write(gauge.next_bytes()) {
                Ok(count) if count > 0 => gauge.sent(count),
                _ => break,
            }
        }
        let _ = self.serial.flush(); // what does not go now goes after the next packet
    }
}

/// Pins and watchdog as the main loop wants them.
pub struct Outputs {
    /// The gauge's light.
    pub light: Out<Gpio25>,
    /// A light where the eyes are: the same.
    pub second_light: Out<Gpio6>,
    /// A buzzer: as long as the light is lit.
    pub buzzer: Out<Gpio5>,
    /// Request line of the indicator.
    pub request: Out<Gpio14>,
    /// The watchdog.
    pub watchdog: Watchdog,
}

impl Outputs {
    /// Sets them.
    pub fn set(&mut self, polled: &Polled) {
        let Ok(()) = self.light.set_state(polled.light.into());
        let Ok(()) = self.second_light.set_state(polled.light.into());
        let Ok(()) = self.buzzer.set_state(polled.light.into());
        let Ok(()) = self.request.set_state(polled.request_indicator.into());
        if polled.feed_watchdog {
            self.watchdog.feed();
        }
        if polled.enter_boot_mode {
            // What the watchdog does from here on is no bite of this program's.
            self.watchdog.write_scratch(ScratchRegister::Scratch0, 0);
            stop::leave();
            reset_to_usb_boot(0, 0);
        }
    }
}
