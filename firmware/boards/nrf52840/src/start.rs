//! The bare chip comes in; clocks running, pins set up and the cause of the start come out.

use embedded_hal::spi::MODE_1;
use embedded_hal_bus::spi::ExclusiveDevice;
use heapless::String;
use holdtrue_firmware::ads1220;
use holdtrue_firmware::bridge::Wiring;
use holdtrue_firmware::gauge::Fitting;
use holdtrue_protocol::message::{Channels, Hardware, ResetCause};
use nrf52840_hal::clocks::Clocks;
use nrf52840_hal::gpio::Level::{High, Low};
use nrf52840_hal::gpio::p0::Parts;
use nrf52840_hal::gpiote::Gpiote;
use nrf52840_hal::pac::{FICR, POWER, Peripherals, TIMER1, WDT};
use nrf52840_hal::spim::{Frequency, Pins, Spim};
use nrf52840_hal::timer::{Periodic, Timer};
use nrf52840_hal::wdt::handles::Hdl0;
use nrf52840_hal::wdt::{Watchdog, WatchdogHandle, count};

use crate::clock::{self, Clock};
use crate::image;
use crate::lines::{Device, In, Lines, Out};
use crate::link::{Bare, Outputs};
use crate::records::Records;

/// Longer than an erase of the flash takes, shorter than anyone's patience; in periods of the 32 768 Hz clock.
const WATCHDOG_TICKS: u32 = 2 * 32_768;
/// How the load cell is wired.
pub const WIRING: Wiring = Wiring::FOUR_WIRE;
const TICK_US: u32 = 1_000;
/// Displacement per count of the incremental probe, four counts a period.
const PROBE_NM_PER_COUNT: u32 = 100;

/// Everything of the board, set up.
pub struct Board {
    /// Edges to stamp.
    pub lines: Lines,
    /// The push button, to ground; looked at by the tick.
    pub button: In,
    /// The converter's bus.
    pub spi: Device,
    /// Switches the shunt resistor.
    pub shunt: Out,
    /// What the main loop sets.
    pub outputs: Outputs,
    /// Microseconds, for pins, tick and main loop.
    pub clocks: (Clock<0>, Clock<1>, Clock<2>),
    /// The tick.
    pub ticker: Timer<TIMER1, Periodic>,
    /// The link.
    pub uart: Bare,
    /// The records.
    pub records: Records,
    /// Who this gauge is and what is wired to it.
    pub fitting: Fitting,
    /// Why the chip started.
    pub cause: ResetCause,
}

impl Board {
    /// Sets the chip up.
    pub fn new(device: Peripherals) -> Self {
        let cause = cause(&device.POWER);
        // The crystal: the chip's own oscillator is too far off for a UART.
        let _running = Clocks::new(device.CLOCK).enable_ext_hfosc().start_lfclk();
        let port = Parts::new(device.P0);
        let bus = Pins {
            sck: Some(port.p0_26.into_push_pull_output(Low).degrade()),
            mosi: Some(port.p0_27.into_push_pull_output(Low).degrade()),
            miso: Some(port.p0_30.into_floating_input().degrade()),
        };
        let spi = Spim::new(device.SPIM2, bus, Frequency::M2, MODE_1, 0);
        let select = port.p0_31.into_push_pull_output(High).degrade();
        let Ok(spi) = ExclusiveDevice::new(spi, select, Timer::new(device.TIMER2));
        let mut ticker = Timer::periodic(device.TIMER1);
        ticker.enable_interrupt();
        ticker.start(TICK_US);
        Self {
            lines: Lines {
                events: Gpiote::new(device.GPIOTE),
                data_ready: port.p0_11.into_pullup_input().degrade(),
                a: port.p0_12.into_pullup_input().degrade(),
                b: port.p0_13.into_pullup_input().degrade(),
                mark: port.p0_14.into_pullup_input().degrade(),
                indicator_clock: port.p0_15.into_pullup_input().degrade(),
                indicator_data: port.p0_16.into_pullup_input().degrade(),
            },
            button: port.p0_21.into_pullup_input().degrade(),
            spi,
            shunt: port.p0_19.into_push_pull_output(Low).degrade(),
            outputs: Outputs {
                light: port.p0_20.into_push_pull_output(Low).degrade(),
                request: port.p0_17.into_push_pull_output(Low).degrade(),
                watchdog: watchdog(device.WDT),
            },
            clocks: clock::start(device.TIMER0),
            ticker,
            uart: Bare::new(
                device.UART0,
                port.p0_08.into_floating_input().degrade(),
                port.p0_06.into_push_pull_output(High).degrade(),
            ),
            records: Records::take(device.NVMC),
            fitting: fitting(&device.FICR),
            cause,
        }
    }
}

/// Runs from here on. After a reset by a debugger it may run already, with the period this program once gave it.
fn watchdog(peripheral: WDT) -> WatchdogHandle<Hdl0> {
    match Watchdog::try_new(peripheral) {
        Ok(mut stopped) => {
            stopped.set_lfosc_ticks(WATCHDOG_TICKS);
            stopped.activate::<count::One>().handles.0
        }
        Err(running) => {
            let Ok(parts) = Watchdog::try_recover::<count::One>(running) else {
                panic!("only this program has ever started it");
            };
            parts.handles.0
        }
    }
}

/// The register collects causes until it is cleared; nothing in it means that power came.
fn cause(power: &POWER) -> ResetCause {
    let causes = power.resetreas.read();
    // SAFETY: writing ones back clears them.
    power.resetreas.write(|w| unsafe { w.bits(causes.bits()) });
    if causes.dog().is_detected() {
        ResetCause::Watchdog
    } else if causes.resetpin().is_detected() || causes.sreq().is_detected() {
        ResetCause::Requested
    } else if causes.bits() == 0 {
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

/// Behind the first word of the program, the stack's start: no slice begins at address 0.
const PROGRAM_AT: usize = 4;

/// What is wired to this board. The serial number is the one set at the build, or else the chip's own.
fn fitting(chip: &FICR) -> Fitting {
    let probe = cfg!(feature = "probe");
    Fitting {
        serial: SERIAL
            .and_then(|text| String::try_from(text).ok())
            .unwrap_or_else(|| hexadecimal(number_of(chip))),
        channels: Channels {
            force: true,
            displacement: probe,
            mark: cfg!(feature = "mark"),
            indicator: cfg!(feature = "indicator"),
        },
        probe_nm_per_count: if probe { PROBE_NM_PER_COUNT } else { 0 },
        shunt: cfg!(feature = "shunt"),
        hardware: Hardware {
            build: image::crc32(PROGRAM_AT),
            converter: Some(WIRING.converter(number_of(chip))),
        },
        boot_mode: false,
        rates_hz: &ads1220::RATES_HZ,
    }
}

fn number_of(chip: &FICR) -> [u8; 8] {
    let [first, second] = [0, 1].map(|word: usize| chip.deviceid[word].read().bits());
    (u64::from(first) << 32 | u64::from(second)).to_be_bytes()
}

fn hexadecimal(bytes: [u8; 8]) -> String<16> {
    let digit = |nibble: u8| char::from(b"0123456789ABCDEF"[usize::from(nibble & 0x0f)]);
    bytes
        .iter()
        .flat_map(|byte| [digit(byte >> 4), digit(*byte)])
        .collect()
}
