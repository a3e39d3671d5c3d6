//! The chip spoken to as a driver speaks to it.

use embedded_hal::spi::{Operation, SpiDevice};

use super::*;

/// 1 mV between AIN1 and AIN2 on a supply of 3.3 V.
struct OneMillivolt;

impl Inputs for OneMillivolt {
    fn mean_volts(&mut self, _: Option<Window>, drive: Drive) -> [f64; 4] {
        [drive.supply_v, 1.6505, 1.6495, 0.0]
    }

    fn temperature_c(&mut self) -> f64 {
        -0.25
    }
}

struct Bench {
    chip: Ads1220,
    clock: Clock,
    misuses: Misuses,
}

impl Bench {
    fn new() -> Self {
        let (clock, misuses) = (Clock::default(), Misuses::default());
        let chip = Ads1220::new(1, clock.clone(), misuses.clone(), Box::new(OneMillivolt));
        Self {
            chip,
            clock,
            misuses,
        }
    }

    fn measure(&mut self, registers: [u8; 4]) -> i32 {
        let [r0, r1, r2, r3] = registers;
        self.chip.write(&[0x43, r0, r1, r2, r3]).unwrap();
        self.chip.write(&[0x08]).unwrap();
        self.clock.move_to(self.chip.ready_ns().unwrap());
        self.chip.finish();
        self.read()
    }

    fn read(&mut self) -> i32 {
        let mut bytes = [0x10, 0, 0, 0];
        self.chip.transfer_in_place(&mut bytes).unwrap();
        i32::from_be_bytes([bytes[1], bytes[2], bytes[3], 0]) >> 8
    }

    fn noted(&self) -> Vec<String> {
        self.misuses
            .list()
            .into_iter()
            .map(|misuse| misuse.what)
            .collect()
    }
}

/// AIN1-AIN2, gain 128, 330/s continuous, reference AIN0/AIN3, switch closed.
const BRIDGE: [u8; 4] = [0b0011_1110, 0b1000_0100, 0b1000_1000, 0];

#[test]
fn a_millivolt_reads_as_its_share_of_full_scale() {
    let mut bench = Bench::new();
    let counts = f64::from(bench.measure(BRIDGE));
    // 1 mV · 128 / 3.3 V · 2²³ = 325 376; offset and supply move it by some tenths of a percent.
    assert!((counts / 325_376.0 - 1.0).abs() < 0.02, "{counts}");
    assert_eq!(bench.noted(), Vec::<String>::new());
}

#[test]
fn temperature_is_left_justified_and_signed() {
    let mut bench = Bench::new();
    let counts = bench.measure([0, 0b0000_0110, 0, 0]);
    // -0.25 °C is 3FF8 in 14 bits (data sheet, table of temperature codes, from-memory).
    assert_eq!(counts >> 10, -8);
}

#[test]
fn registers_read_back_as_written() {
    let mut bench = Bench::new();
    bench.measure(BRIDGE);
    let mut bytes = [0; 4];
    let mut steps = [Operation::Write(&[0x23]), Operation::Read(&mut bytes)];
    bench.chip.transaction(&mut steps).unwrap();
    assert_eq!(bytes, BRIDGE);
}

#[test]
fn its_own_oscillator_is_up_to_2_percent_off_and_not_always_right() {
    let rates: Vec<f64> = (0..200)
        .map(|seed| {
            let mut chip = Ads1220::new(
                seed,
                Clock::default(),
                Misuses::default(),
                Box::new(OneMillivolt),
            );
            chip.write(&[0x43, BRIDGE[0], BRIDGE[1], BRIDGE[2], BRIDGE[3]])
                .unwrap();
            chip.true_rate_hz()
        })
        .collect();
    assert!(rates.iter().all(|rate| (rate / 330.0 - 1.0).abs() <= 0.02));
    assert!(rates.iter().any(|rate| *rate < 325.0) && rates.iter().any(|rate| *rate > 335.0));
}

#[test]
fn reading_twice_is_noted() {
    let mut bench = Bench::new();
    bench.measure(BRIDGE);
    bench.read();
    assert!(
        bench.noted()[0].contains("data-ready was high"),
        "{:?}",
        bench.noted()
    );
}

#[test]
fn a_fresh_result_may_be_clocked_out_without_a_command() {
    let mut bench = Bench::new();
    let by_command = bench.measure(BRIDGE);
    bench.clock.move_to(bench.chip.ready_ns().unwrap());
    bench.chip.finish();
    let mut bytes = [0; 3];
    bench.chip.read(&mut bytes).unwrap();
    let direct = i32::from_be_bytes([bytes[0], bytes[1], bytes[2], 0]) >> 8;
    assert!((direct - by_command).abs() < 5_000, "{direct} {by_command}");
    assert_eq!(bench.noted(), Vec::<String>::new());
    bench.chip.read(&mut bytes).unwrap();
    assert_eq!(bench.noted().len(), 3, "nothing fresh: no such reading");
}

#[test]
fn a_write_of_the_wrong_length_is_noted() {
    let mut bench = Bench::new();
    bench.chip.write(&[0x43, 0x3e, 0x84]).unwrap();
    assert!(
        bench.noted()[0].contains("2 bytes missing"),
        "{:?}",
        bench.noted()
    );
    let mut bench = Bench::new();
    bench.chip.write(&[0x40, 0x3e, 0x84]).unwrap();
    assert!(
        bench.noted()[0].contains("no command"),
        "{:?}",
        bench.noted()
    );
    let mut bench = Bench::new();
    bench.chip.write(&[0x4f, 0, 0, 0, 0]).unwrap();
    assert!(
        bench.noted()[0].contains("past register 3"),
        "{:?}",
        bench.noted()
    );
}

#[test]
fn reserved_bits_and_haste_after_a_reset_are_noted() {
    let mut bench = Bench::new();
    bench.chip.write(&[0x4c, 0x01]).unwrap();
    assert!(bench.noted()[0].contains("reserved"), "{:?}", bench.noted());
    let mut bench = Bench::new();
    bench.chip.write(&[0x06]).unwrap();
    bench.clock.move_to(50_000);
    bench.chip.write(&[0x08]).unwrap();
    assert!(bench.noted()[0].contains("reset"), "{:?}", bench.noted());
}

#[test]
fn a_silent_chip_reads_as_ones_and_never_gets_ready() {
    let mut bench = Bench::new();
    bench.measure(BRIDGE);
    bench.chip.fall_silent(true);
    assert_eq!(bench.chip.ready_ns(), None);
    assert_eq!(bench.read(), -1);
}
