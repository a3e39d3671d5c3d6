//! The bare chip comes in; clocks running, pins set up and the cause of the start come out.

use core::ptr::addr_of_mut;
use core::sync::atomic::AtomicU32;

use embedded_hal::digital::PinState::Low;
use heapless::String;
use holdtrue_firmware::ads1220;
use holdtrue_firmware::gauge::Fitting;
use holdtrue_protocol::message::{Channels, Hardware, ResetCause};
use rp2040_hal::clocks::{ClocksManager, init_clocks_and_plls};
use rp2040_hal::fugit::MicrosDurationU32;
use rp2040_hal::gpio::Pins;
use rp2040_hal::usb::UsbBus;
use rp2040_hal::{Sio, Timer, Watchdog, pac};
use usb_device::bus::UsbBusAllocator;

use crate::alarms::{Due, SampleDue, TickDue};
use crate::image;
use crate::lines::{Converting, Lines, PushButton};
use crate::link::Outputs;
use crate::records::Supply;

#[cfg(not(feature = "cell"))]
use holdtrue_firmware::adc::NoAdc;
#[cfg(feature = "cell")]
use {
    embedded_hal::digital::PinState::High,
    embedded_hal::spi::MODE_1,
    embedded_hal_bus::spi::ExclusiveDevice,
    holdtrue_firmware::bridge::{Bridge, Wiring},
    rp2040_hal::Clock,
    rp2040_hal::fugit::RateExtU32,
    rp2040_hal::spi::Spi,
};

/// Longer than an erase of the flash takes (400 ms), shorter than anyone's patience.
pub const WATCHDOG: MicrosDurationU32 = MicrosDurationU32::secs(2);

/// How the load cell is wired.
#[cfg(feature = "cell")]
pub const WIRING: Wiring = Wiring::FOUR_WIRE;
const CRYSTAL_HZ: u32 = 12_000_000;
/// A sample is read in 16 µs; the converter takes up to 6 MHz.
#[cfg(feature = "cell")]
const SPI_HZ: u32 = 2_000_000;
/// How often a sample is due where no converter says so; a start sets it.
pub static PERIOD_US: AtomicU32 = AtomicU32::new(1_000);
/// Displacement per count of the incremental probe, four counts a period.
const PROBE_NM_PER_COUNT: u32 = 100;

/// Everything of the board, set up.
pub struct Board {
    /// Edges to stamp.
    pub lines: Lines,
    /// Looked at by the tick.
    pub button: PushButton,
    /// The bridge converter, or what stands in for it.
    pub adc: Converting,
    /// What the main loop sets.
    pub outputs: Outputs,
    /// Microseconds.
    pub timer: Timer,
    /// The tick.
    pub tick: TickDue,
    /// Says when a sample is due where no converter does.
    pub sample: SampleDue,
    /// The supply, looked at before the flash is written.
    pub supply: Supply,
    /// USB.
    pub usb: UsbBusAllocator<UsbBus>,
    /// Why the chip started.
    pub cause: ResetCause,
}

impl Board {
    /// Sets the chip up.
    pub fn new(mut device: pac::Peripherals) -> Self {
        let cause = cause(&device);
        let mut watchdog = Watchdog::new(device.WATCHDOG);
        let Ok(clocks) = init_clocks_and_plls(
            CRYSTAL_HZ,
            device.XOSC,
            device.CLOCKS,
            device.PLL_SYS,
            device.PLL_USB,
            &mut device.RESETS,
            &mut watchdog,
        ) else {
            panic!("the settings are those of the crystal every such board has");
        };
        let mut timer = Timer::new(device.TIMER, &mut device.RESETS, &clocks);
        let tick = Due::new(timer.alarm_0().expect("nobody else has taken it"));
        let sample = Due::new(timer.alarm_1().expect("nobody else has taken it"));
        let sio = Sio::new(device.SIO);
        let pins = Pins::new(
            device.IO_BANK0,
            device.PADS_BANK0,
            sio.gpio_bank0,
            &mut device.RESETS,
        );
        #[cfg(feature = "cell")]
        let adc = {
            let bus = (
                pins.gpio19.into_function(),
                pins.gpio16.into_function(),
                pins.gpio18.into_function(),
            );
            let spi = Spi::<_, _, _, 8>::new(device.SPI0, bus).init(
                &mut device.RESETS,
                clocks.peripheral_clock.freq(),
                SPI_HZ.Hz(),
                MODE_1,
            );
            let select = pins.gpio17.into_push_pull_output_in_state(High);
            let Ok(spi) = ExclusiveDevice::new(spi, select, timer);
            let shunt = pins.gpio15.into_push_pull_output_in_state(Low);
            Bridge::new(spi, shunt, WIRING)
        };
        #[cfg(not(feature = "cell"))]
        let adc = NoAdc::new(&PERIOD_US);
        Self {
            lines: Lines {
                data_ready: pins.gpio10.into_pull_up_input(),
                a: pins.gpio11.into_pull_up_input(),
                b: pins.gpio12.into_pull_up_input(),
                mark: pins.gpio13.into_pull_up_input(),
                indicator_clock: pins.gpio8.into_pull_up_input(),
                indicator_data: pins.gpio9.into_pull_up_input(),
            },
            button: pins.gpio7.into_pull_up_input(),
            adc,
            outputs: Outputs {
                light: pins.gpio25.into_push_pull_output_in_state(Low),
                second_light: pins.gpio6.into_push_pull_output_in_state(Low),
                buzzer: pins.gpio5.into_push_pull_output_in_state(Low),
                request: pins.gpio14.into_push_pull_output_in_state(Low),
                watchdog,
            },
            timer,
            tick,
            sample,
            supply: Supply::new(device.ADC, &mut device.RESETS),
            usb: usb(
                device.USBCTRL_REGS,
                device.USBCTRL_DPRAM,
                clocks,
                &mut device.RESETS,
            ),
            cause,
        }
    }
}

fn usb(
    registers: pac::USBCTRL_REGS,
    memory: pac::USBCTRL_DPRAM,
    clocks: ClocksManager,
    resets: &mut pac::RESETS,
) -> UsbBusAllocator<UsbBus> {
    UsbBusAllocator::new(UsbBus::new(
        registers,
        memory,
        clocks.usb_clock,
        true,
        resets,
    ))
}

/// The chip's own exceptions and its 32 interrupts, on the boundary the core asks for.
#[repr(C, align(256))]
struct Vectors([u32; 48]);

static mut VECTORS: Vectors = Vectors([0; 48]);

/// Where an interrupt goes is then read from RAM, which is never late. Once, at the start.
pub fn move_vectors_to_ram() {
    // SAFETY: the core's own register, and a table that nobody else writes; the one in the flash is as long.
    unsafe {
        let scb = &*cortex_m::peripheral::SCB::PTR;
        let table = addr_of_mut!(VECTORS).cast::<[u32; 48]>();
        table.write_volatile((scb.vtor.read() as *const [u32; 48]).read_volatile());
        cortex_m::asm::dsb();
        scb.vtor.write(table as u32);
    }
}

/// In a register that only power clears, while this program runs. The boot mode ends by the watchdog, too, and that is no bite.
const RUNS: u32 = 0x4854_5257;

/// A watchdog reset leaves the chip's own register as the last power-up set it, so the watchdog is asked first.
fn cause(device: &pac::Peripherals) -> ResetCause {
    let ran = device.WATCHDOG.scratch0().read().bits() == RUNS;
    // SAFETY: a word that the chip keeps and does nothing with.
    device
        .WATCHDOG
        .scratch0()
        .write(|w| unsafe { w.bits(RUNS) });
    let watchdog = device.WATCHDOG.reason().read();
    let chip = device.VREG_AND_CHIP_RESET.chip_reset().read();
    if watchdog.timer().bit() && ran {
        ResetCause::Watchdog
    } else if watchdog.timer().bit()
        || watchdog.force().bit()
        || chip.had_run().bit()
        || chip.had_psm_restart().bit()
    {
        ResetCause::Requested
    } else if chip.had_por().bit() {
        ResetCause::PowerOn
    } else {
        ResetCause::Unknown
    }
}

/// Set at the build; what the gauge cannot tell whole ends the build.
const SERIAL: Option<&str> = option_env!("HOLDTRUE_SERIAL");
const _: () = assert!(
    match SERIAL {
        Some(text) => !text.is_empty() && text.len() <= 16,
        None => true,
    },
    "HOLDTRUE_SERIAL is the number printed on the gauge, 1 to 16 characters: shorten it, or leave it unset"
);

/// Where the flash with the program is mapped.
const PROGRAM_AT: usize = 0x1000_0000;

/// What is wired to this board. The serial number is the one set at the build, or else the flash chip's own.
pub fn fitting(unique_id: [u8; 8]) -> Fitting {
    let probe = cfg!(feature = "probe");
    #[cfg(feature = "cell")]
    let converter = Some(WIRING.converter(unique_id));
    #[cfg(not(feature = "cell"))]
    let converter = None;
    Fitting {
        serial: SERIAL
            .and_then(|text| String::try_from(text).ok())
            .unwrap_or_else(|| hexadecimal(unique_id)),
        channels: Channels {
            force: cfg!(feature = "cell"),
            displacement: probe,
            mark: cfg!(feature = "mark"),
            indicator: cfg!(feature = "indicator"),
        },
        probe_nm_per_count: if probe { PROBE_NM_PER_COUNT } else { 0 },
        shunt: cfg!(all(feature = "cell", feature = "shunt")),
        hardware: Hardware {
            build: image::crc32(PROGRAM_AT),
            converter,
        },
        boot_mode: true,
        rates_hz: &ads1220::RATES_HZ, // the timer that stands in for the converter has them, too
    }
}

fn hexadecimal(bytes: [u8; 8]) -> String<16> {
    let digit = |nibble: u8| char::from(b"0123456789ABCDEF"[usize::from(nibble & 0x0f)]);
    bytes
        .iter()
        .flat_map(|byte| [digit(byte >> 4), digit(*byte)])
        .collect()
}
