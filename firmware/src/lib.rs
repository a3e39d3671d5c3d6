//! Gauge firmware library: pin edges and converter readings go in, frames for the link come out.
//!
//! A gauge is three parts joined by lock-free queues ([`lines`]), so that nothing slow can delay a stamp:
//!
//! | part | runs | does |
//! |---|---|---|
//! | [`edges::Edges`] | pin interrupts, highest priority | stamps data-ready, counts the probe, debounces the mark, collects indicator bits, takes presses of the button |
//! | [`converter::Converter`] | below that, after each data-ready | owns the bus, reads the converter, obeys settings |
//! | [`gauge::Gauge`] | main loop | blocks, faults, requests, self-tests, records in flash, the light |
//!
//! A board supplies pins, clocks and a link, and holds no logic:
//!
//! ```no_run
//! use holdtrue_firmware::{converter::Converter, edges::Edges, gauge::{Fitting, Gauge}, lines::Queues};
//! # use holdtrue_firmware::{adc::NoAdc, flash::Flash};
//! # fn board(flash: impl Flash, adc: NoAdc<'static>, fitting: Fitting, cause: holdtrue_protocol::message::ResetCause, timer: fn() -> u32) {
//! let mut queues = Queues::new(); // a static on a board
//! let (edge_ends, converter_ends, gauge_ends) = queues.split();
//! let mut edges = Edges::new(edge_ends); // to the pin interrupts: on_data_ready, on_ab_edge, on_mark_edge, …;
//! // and to a tick every millisecond at their priority: tick, and on_press with what button::Button has seen
//! let mut converter = Converter::new(converter_ends, adc); // to a task below them: serve()
//! let mut room: heapless::Deque<u8, 65536> = heapless::Deque::new(); // a static, too
//! let mut gauge = Gauge::new(gauge_ends, flash, room.as_mut_view(), fitting, cause, timer());
//! // what the run before left in memory that outlives a reset: gauge.note_stop(kept.take(cause)), then kept.begin(gauge.boot())
//! loop {
//!     // bytes from the link: gauge.receive(…); bytes for it: gauge.next_bytes(), gauge.sent(…)
//!     let polled = gauge.poll(timer());
//!     if polled.run_converter { converter.serve() } // or pend its task
//!     // polled.light → light pin, polled.request_indicator → request pin, polled.feed_watchdog → watchdog
//! }
//! # }
//! ```
//!
//! No heap, no panic reachable from the wire, no waiting outside [`gauge::Gauge::new`].
#![no_std]

pub mod adc;
pub mod adc_control;
pub mod ads1220;
pub mod bcd_indicator;
pub mod bridge;
pub mod button;
pub mod calibration_store;
pub mod clock;
pub mod converter;
pub mod debounce;
pub mod edges;
pub mod flash;
pub mod gauge;
pub mod indicator_requests;
pub mod light;
pub mod lines;
pub mod mark;
pub mod outbox;
pub mod overloads;
pub mod quadrature;
pub mod remembered;
pub mod sampler;
pub mod selftest;
pub mod stops;
pub mod store;
pub mod sudden_fall;
