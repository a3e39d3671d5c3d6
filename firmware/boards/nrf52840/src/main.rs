//! The gauge on an nRF52840 board with a plain UART: pins, clocks, flash and link, joined to the gauge library. No logic.
//!
//! | priority | task | does |
//! |---|---|---|
//! | 5 | `pins`, `tick` | stamp data-ready, probe, mark and indicator edges; look at the button |
//! | 4 | `converter` | reads the converter over SPI |
//! | 3 | `uart` | bytes between the wire and two queues |
//! | 1 | `link` | the gauge's main loop |
//! | 0 | `idle` | sleeps |
//!
//! A panic or a fault leaves word of itself (`stop.rs`) and stops the program; the watchdog then restarts the board, and
//! the gauge says so.
#![no_std]
#![no_main]

mod clock;
#[path = "../../image.rs"]
mod image;
mod lines;
mod link;
mod records;
mod start;
#[path = "../../stop.rs"]
mod stop;

#[rtic::app(device = nrf52840_hal::pac)]
mod app {
    use heapless::deque::{Deque, DequeView};
    use heapless::spsc::Queue;
    use holdtrue_firmware::bridge::Bridge;
    use holdtrue_firmware::button::Button;
    use holdtrue_firmware::converter::Converter;
    use holdtrue_firmware::edges::Edges;
    use holdtrue_firmware::gauge::Gauge;
    use holdtrue_firmware::lines::Queues;
    use nrf52840_hal::pac::{Interrupt, TIMER1};
    use nrf52840_hal::timer::{Periodic, Timer};

    use crate::clock::Clock;
    use crate::lines::{Adc, In, Lines};
    use crate::link::{Ends, Outputs, RX, TX, Uart};
    use crate::records::Records;
    use crate::start;
    use crate::stop;

    /// Bytes on their way to the host: 9 s of force and displacement at 1 kHz find room while the line is slow.
    const OUT: usize = 65_536;
    /// Interrupts whose peripherals are not used, pended to run a task.
    const RUN_CONVERTER: Interrupt = Interrupt::SWI0_EGU0;
    const RUN_LINK: Interrupt = Interrupt::SWI1_EGU1;
    const RUN_UART: Interrupt = Interrupt::UARTE0_UART0;

    #[shared]
    struct Shared {
        #[lock_free]
        edges: Edges<'static>,
    }

    #[local]
    struct Local {
        lines: Lines,
        pins_clock: Clock<0>,
        ticker: Timer<TIMER1, Periodic>,
        tick_clock: Clock<1>,
        button: Button<In>,
        converter: Converter<'static, Adc>,
        uart: Uart,
        ends: Ends,
        gauge: Gauge<'static, Records, &'static mut DequeView<u8>>,
        outputs: Outputs,
        link_clock: Clock<2>,
    }

    #[init(local = [
        queues: Queues = Queues::new(),
        room: Deque<u8, OUT> = Deque::new(),
        received: Queue<u8, RX> = Queue::new(),
        to_send: Queue<u8, TX> = Queue::new(),
    ])]
    fn init(cx: init::Context) -> (Shared, Local) {
        let (edge_ends, converter_ends, gauge_ends) = cx.local.queues.split();
        let mut board = start::Board::new(cx.device);
        let mut edges = Edges::new(edge_ends);
        board.lines.start(&mut edges);
        let (uart, ends) = board
            .uart
            .join(cx.local.received.split(), cx.local.to_send.split());
        let (pins_clock, tick_clock, link_clock) = board.clocks;
        let now_us = link_clock.now_us();
        let mut gauge = Gauge::new(
            gauge_ends,
            board.records,
            cx.local.room.as_mut_view(),
            board.fitting,
            board.cause,
            now_us,
        );
        gauge.note_stop(stop::take(board.cause));
        stop::begin(gauge.boot());
        let bridge = Bridge::new(board.spi, board.shunt, start::WIRING);
        (
            Shared { edges },
            Local {
                lines: board.lines,
                pins_clock,
                ticker: board.ticker,
                tick_clock,
                button: Button::new(board.button),
                converter: Converter::new(converter_ends, bridge),
                uart,
                ends,
                gauge,
                outputs: board.outputs,
                link_clock,
            },
        )
    }

    #[idle]
    fn idle(_: idle::Context) -> ! {
        loop {
            cortex_m::asm::wfi();
        }
    }

    #[task(binds = GPIOTE, priority = 5, shared = [edges], local = [lines, pins_clock])]
    fn pins(cx: pins::Context) {
        let clock = cx.local.pins_clock;
        if cx.local.lines.serve(cx.shared.edges, || clock.now_us()) {
            rtic::pend(RUN_CONVERTER);
        }
    }

    #[task(binds = TIMER1, priority = 5, shared = [edges], local = [ticker, tick_clock, button])]
    fn tick(cx: tick::Context) {
        cx.local.ticker.reset_event();
        let now_us = cx.local.tick_clock.now_us();
        cx.shared.edges.tick(now_us);
        if let Some(press) = cx.local.button.look(now_us) {
            cx.shared.edges.on_press(press);
        }
        rtic::pend(RUN_LINK);
    }

    #[task(binds = SWI0_EGU0, priority = 4, local = [converter])]
    fn converter(cx: converter::Context) {
        cx.local.converter.serve();
    }

    #[task(binds = UARTE0_UART0, priority = 3, local = [uart])]
    fn uart(cx: uart::Context) {
        cx.local.uart.serve();
    }

    #[task(binds = SWI1_EGU1, priority = 1, local = [ends, gauge, outputs, link_clock])]
    fn link(cx: link::Context) {
        let (ends, gauge) = (cx.local.ends, cx.local.gauge);
        ends.receive(gauge);
        let polled = gauge.poll(cx.local.link_clock.now_us());
        if ends.transmit(gauge) {
            rtic::pend(RUN_UART);
        }
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
