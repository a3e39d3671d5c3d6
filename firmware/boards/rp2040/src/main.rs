//! The gauge on an RP2040 board: pins, clocks, flash and USB, joined to the gauge library. No logic.
//!
//! | priority | task | does |
//! |---|---|---|
//! | 4 | `pins`, `due`, `tick` | stamp data-ready, probe, mark and indicator edges; say when a sample is due where no converter does; look at the button |
//! | 3 | `converter` | reads the converter over SPI |
//! | 1 | `link` | USB and the gauge's main loop |
//! | 0 | `idle` | sleeps |
//!
//! A panic or a fault leaves word of itself (`stop.rs`) and stops the program; the watchdog then restarts the board, and
//! the gauge says so.
#![no_std]
#![no_main]

mod alarms;
#[path = "../../image.rs"]
mod image;
mod lines;
mod link;
mod records;
mod sections;
mod start;
#[path = "../../stop.rs"]
mod stop;

#[unsafe(link_section = ".boot2")]
#[used]
static BOOT2_FIRMWARE: [u8; 256] = rp2040_boot2::BOOT_LOADER_W25Q080;

#[rtic::app(device = rp2040_hal::pac)]
mod app {
    use core::sync::atomic::Ordering;

    use heapless::String;
    use heapless::deque::{Deque, DequeView};
    use holdtrue_firmware::button::Button;
    use holdtrue_firmware::converter::Converter;
    use holdtrue_firmware::edges::Edges;
    use holdtrue_firmware::gauge::Gauge;
    use holdtrue_firmware::lines::Queues;
    use holdtrue_protocol::usb;
    use rp2040_hal::Timer;
    use rp2040_hal::pac::Interrupt;
    use rp2040_hal::usb::UsbBus;
    use usb_device::bus::UsbBusAllocator;

    use crate::alarms::{SampleDue, TickDue};
    use crate::lines::{Converting, Lines, PushButton};
    use crate::link::{Outputs, Port};
    use crate::records::Records;
    use crate::start;
    use crate::stop;

    /// Bytes on their way to the host: 9 s of force and displacement at 1 kHz find room while the host is away.
    const OUT: usize = 65_536;
    const TICK_US: u32 = 1_000;
    /// An interrupt whose peripheral is not used, pended to run the converter.
    const RUN_CONVERTER: Interrupt = Interrupt::I2C0_IRQ;
    const RUN_LINK: Interrupt = Interrupt::USBCTRL_IRQ;
    const RUN_DUE: Interrupt = Interrupt::TIMER_IRQ_1;

    #[shared]
    struct Shared {
        #[lock_free]
        edges: Edges<'static>,
    }

    #[local]
    struct Local {
        tick_due: TickDue,
        sample_due: SampleDue,
        button: Button<PushButton>,
        converter: Converter<'static, Converting>,
        port: Port,
        gauge: Gauge<'static, Records, &'static mut DequeView<u8>>,
        outputs: Outputs,
        link_timer: Timer,
    }

    #[init(local = [
        queues: Queues = Queues::new(),
        room: Deque<u8, OUT> = Deque::new(),
        bus: Option<UsbBusAllocator<UsbBus>> = None,
        serial: String<{ usb::SERIAL_LEN }> = String::new(),
    ])]
    fn init(cx: init::Context) -> (Shared, Local) {
        let (edge_ends, converter_ends, gauge_ends) = cx.local.queues.split();
        let mut board = start::Board::new(cx.device);
        let mut edges = Edges::new(edge_ends);
        board.lines.start(&mut edges);
        let mut records = Records::take(board.supply);
        let fitting = start::fitting(records.unique_id());
        *cx.local.serial = usb::serial_number(&fitting.serial);
        let port = Port::new(cx.local.bus.insert(board.usb), cx.local.serial);
        let now_us = board.timer.get_counter_low();
        board.outputs.watchdog.start(start::WATCHDOG);
        let mut gauge = Gauge::new(
            gauge_ends,
            records,
            cx.local.room.as_mut_view(),
            fitting,
            board.cause,
            now_us,
        );
        gauge.note_stop(stop::take(board.cause));
        stop::begin(gauge.boot());
        board.tick.again(TICK_US);
        if cfg!(not(feature = "cell")) {
            board.sample.again(TICK_US);
        }
        start::move_vectors_to_ram();
        (
            Shared { edges },
            Local {
                tick_due: board.tick,
                sample_due: board.sample,
                button: Button::new(board.button),
                converter: Converter::new(converter_ends, board.adc),
                port,
                gauge,
                outputs: board.outputs,
                link_timer: board.timer,
            },
        )
    }

    #[idle]
    fn idle(_: idle::Context) -> ! {
        loop {
            cortex_m::asm::wfi();
        }
    }

    // These three run from RAM, with everything they call: a read of the flash that is not in its cache would delay a stamp, and the
    // emulated bench holds them to it.
    #[task(binds = IO_IRQ_BANK0, priority = 4, shared = [edges])]
    #[unsafe(link_section = ".data.stamping.pins")]
    fn pins(cx: pins::Context) {
        if Lines::serve(cx.shared.edges) {
            rtic::pend(RUN_CONVERTER);
        }
    }

    #[task(binds = TIMER_IRQ_0, priority = 4, shared = [edges], local = [tick_due, button])]
    #[unsafe(link_section = ".data.stamping.tick")]
    fn tick(cx: tick::Context) {
        let now_us = cx.local.tick_due.again(TICK_US);
        cx.shared.edges.tick(now_us);
        if let Some(press) = cx.local.button.look(now_us) {
            cx.shared.edges.on_press(press);
        }
        rtic::pend(RUN_LINK);
    }

    /// The converter's data-ready where there is none.
    #[task(binds = TIMER_IRQ_1, priority = 4, shared = [edges], local = [sample_due])]
    #[unsafe(link_section = ".data.stamping.due")]
    fn due(cx: due::Context) {
        if cfg!(feature = "cell") {
            return; // never set
        }
        let period_us = start::PERIOD_US.load(Ordering::Relaxed);
        let now_us = cx.local.sample_due.again(period_us);
        cx.shared.edges.on_data_ready(now_us);
        rtic::pend(RUN_CONVERTER);
    }

    #[task(binds = I2C0_IRQ, priority = 3, local = [converter, period_us: u32 = 0])]
    fn converter(cx: converter::Context) {
        cx.local.converter.serve();
        let set_us = start::PERIOD_US.load(Ordering::Relaxed);
        // A new rate begins with a sample, as a converter's does, and not when the old one's next would have been due.
        if cfg!(not(feature = "cell")) && *cx.local.period_us != set_us {
            *cx.local.period_us = set_us;
            rtic::pend(RUN_DUE);
        }
    }

    #[task(binds = USBCTRL_IRQ, priority = 1, local = [port, gauge, outputs, link_timer])]
    fn link(cx: link::Context) {
        let (port, gauge) = (cx.local.port, cx.local.gauge);
        port.receive(gauge);
        let polled = gauge.poll(cx.local.link_timer.get_counter_low());
        port.transmit(gauge);
        cx.local.outputs.set(&polled);
        stop::alive(gauge.now_us(), polled.feed_watchdog);
        if polled.run_converter {
            rtic::pend(RUN_CONVERTER);
        }
        if !polled.may_sleep {
            rtic::pend(RUN_LINK);
        }
    }
}
