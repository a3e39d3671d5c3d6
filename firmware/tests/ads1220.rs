//! The converter's driver against the register map of its data sheet (SBAS501, sections 8.3, 8.5 and 8.6), byte by
//! byte on a mock bus. Expected bytes are written out as the data sheet's tables give them, not computed.

use embedded_hal_mock::eh1::digital::{
    Mock as PinMock, State as PinState, Transaction as PinTransaction,
};
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use holdtrue_firmware::adc::{Adc, Input as Wanted, Setup};
use holdtrue_firmware::ads1220::{
    self, Ads1220, Config, Error, Forbidden, Gain, Input, Mains, RATES_HZ, Reference,
    sign_extended, supply_mv, temperature_mc,
};
use holdtrue_firmware::bridge::{Bridge, Wiring};

type Bytes = Transaction<u8>;

fn one(inside: Bytes) -> [Bytes; 3] {
    [
        Transaction::transaction_start(),
        inside,
        Transaction::transaction_end(),
    ]
}

fn write(bytes: &[u8]) -> [Bytes; 3] {
    one(Transaction::write_vec(bytes.to_vec()))
}

fn read_registers(answer: [u8; 4]) -> [Bytes; 4] {
    [
        Transaction::transaction_start(),
        Transaction::write_vec(vec![0b0010_0011]),
        Transaction::read_vec(answer.to_vec()),
        Transaction::transaction_end(),
    ]
}

/// What the bus must see for a whole change of setting.
fn configured(registers: [u8; 4]) -> Vec<Bytes> {
    let [r0, r1, r2, r3] = registers;
    [
        &write(&[0b0100_0011, r0, r1, r2, r3])[..],
        &read_registers(registers),
        &write(&[0b0000_1000]),
    ]
    .concat()
}

const BRIDGE: Config = Config {
    input: Input::Ain1Ain2,
    gain: Gain::X128,
    rate_hz: 1_000,
    reference: Reference::Ain0Ain3,
    mains: Mains::None,
    low_side_switch: true,
    burn_out: false,
};

fn registers(change: impl FnOnce(&mut Config)) -> Result<[u8; 4], Forbidden> {
    let mut config = BRIDGE;
    change(&mut config);
    config.registers()
}

#[test]
fn commands_are_the_data_sheets() {
    let expected = write(&[0b0000_0110]);
    let mut bus = Mock::new(&expected);
    let mut chip = Ads1220::new(bus.clone());
    chip.reset().unwrap();
    bus.done();
}

#[test]
fn a_setting_is_written_read_back_and_started() {
    // MUX 0011, GAIN 111, bypass 0 | DR 110, MODE 00, CM 1, TS 0, BCS 0 | VREF 10, 50/60 00, PSW 1, IDAC 000 | 0
    let expected = configured([0b0011_1110, 0b1100_0100, 0b1000_1000, 0]);
    let mut bus = Mock::new(&expected);
    Ads1220::new(bus.clone()).configure(&BRIDGE).unwrap();
    bus.done();
}

#[test]
fn a_register_that_reads_back_other_is_told_and_nothing_is_started() {
    let wrote = [0b0011_1110, 0b1100_0100, 0b1000_1000, 0];
    for (register, read) in [
        (0, [0xff, wrote[1], wrote[2], wrote[3]]),
        (2, [wrote[0], wrote[1], 0, wrote[3]]),
        (3, [wrote[0], wrote[1], wrote[2], 1]),
    ] {
        let written = write(&[0b0100_0011, wrote[0], wrote[1], wrote[2], wrote[3]]);
        let expected = [&written[..], &read_registers(read)].concat();
        let mut bus = Mock::new(&expected);
        let told = Ads1220::new(bus.clone()).configure(&BRIDGE);
        assert_eq!(
            told,
            Err(Error::ReadBack { wrote, read }),
            "register {register}"
        );
        bus.done();
    }
}

#[test]
fn every_input_has_its_multiplexer_code() {
    let pairs = [
        (Input::Ain0Ain1, 0b0000),
        (Input::Ain0Ain2, 0b0001),
        (Input::Ain0Ain3, 0b0010),
        (Input::Ain1Ain2, 0b0011),
        (Input::Ain1Ain3, 0b0100),
        (Input::Ain2Ain3, 0b0101),
        (Input::Ain1Ain0, 0b0110),
        (Input::Ain3Ain2, 0b0111),
        (Input::ReferenceQuarter, 0b1100),
        (Input::SupplyQuarter, 0b1101),
        (Input::Shorted, 0b1110),
    ];
    for (input, mux) in pairs {
        let [r0, r1, ..] = registers(|config| config.input = input).unwrap();
        assert_eq!((r0 >> 4, r0 & 1, r1 & 0b10), (mux, 0, 0), "{input:?}");
    }
    for (input, mux) in [
        (Input::Ain0, 0b1000),
        (Input::Ain1, 0b1001),
        (Input::Ain2, 0b1010),
        (Input::Ain3, 0b1011),
    ] {
        let against_ground = |config: &mut Config| {
            config.input = input;
            config.gain = Gain::X4;
        };
        let [r0, ..] = registers(against_ground).unwrap();
        assert_eq!(
            (r0 >> 4, r0 & 1),
            (mux, 1),
            "{input:?} goes past the amplifier"
        );
    }
}

#[test]
fn gains_are_powers_of_two() {
    use Gain::{X1, X2, X4, X8, X16, X32, X64, X128};
    for (code, gain) in (0..).zip([X1, X2, X4, X8, X16, X32, X64, X128]) {
        let [r0, ..] = registers(|config| config.gain = gain).unwrap();
        assert_eq!(r0 >> 1 & 0b111, code, "{gain:?}");
    }
}

#[test]
fn rates_have_their_code_and_mode() {
    // DR and MODE (00 normal, 10 turbo), table "DR bit settings".
    let table = [
        (20, 0b000, 0b00),
        (45, 0b001, 0b00),
        (90, 0b010, 0b00),
        (175, 0b011, 0b00),
        (330, 0b100, 0b00),
        (600, 0b101, 0b00),
        (1_000, 0b110, 0b00),
        (40, 0b000, 0b10),
        (180, 0b010, 0b10),
        (350, 0b011, 0b10),
        (660, 0b100, 0b10),
        (1_200, 0b101, 0b10),
        (2_000, 0b110, 0b10),
    ];
    assert_eq!(table.len(), RATES_HZ.len());
    for (rate_hz, code, mode) in table {
        assert!(RATES_HZ.contains(&rate_hz));
        let [_, r1, ..] = registers(|config| config.rate_hz = rate_hz).unwrap();
        assert_eq!(
            (r1 >> 5, r1 >> 3 & 0b11, r1 >> 2 & 1),
            (code, mode, 1),
            "{rate_hz}/s"
        );
    }
    assert!(RATES_HZ.is_sorted());
    assert_eq!(
        registers(|config| config.rate_hz = 100),
        Err(Forbidden::Rate(100))
    );
}

#[test]
fn the_mains_filter_exists_at_20_samples_per_second_only() {
    let filtered = |mains: Mains| {
        registers(|config| {
            config.rate_hz = 20;
            config.mains = mains;
        })
    };
    for (mains, code) in [
        (Mains::None, 0b00),
        (Mains::Both, 0b01),
        (Mains::Only50, 0b10),
        (Mains::Only60, 0b11),
    ] {
        assert_eq!(filtered(mains).unwrap()[2] >> 4 & 0b11, code, "{mains:?}");
    }
    for rate_hz in RATES_HZ.into_iter().filter(|&rate_hz| rate_hz != 20) {
        let refused = registers(|config| {
            config.rate_hz = rate_hz;
            config.mains = Mains::Both;
        });
        assert_eq!(refused, Err(Forbidden::MainsFilter(rate_hz)));
    }
}

#[test]
fn references_switch_burn_out_and_sensor_have_their_bits() {
    for (code, reference) in (0..).zip([
        Reference::Internal,
        Reference::Dedicated,
        Reference::Ain0Ain3,
        Reference::Supply,
    ]) {
        let [_, _, r2, r3] = registers(|config| config.reference = reference).unwrap();
        assert_eq!((r2 >> 6, r2 & 0b111, r3), (code, 0, 0), "{reference:?}");
    }
    assert_eq!(
        registers(|config| config.low_side_switch = false).unwrap()[2] & 0b1000,
        0
    );
    assert_eq!(
        registers(|config| config.burn_out = true).unwrap()[1] & 1,
        1
    );
    let sensor = registers(|config| config.input = Input::Temperature).unwrap();
    assert_eq!(sensor[1] & 0b10, 0b10);
}

#[test]
fn past_the_amplifier_the_gain_is_at_most_4() {
    let refused = registers(|config| {
        config.input = Input::Ain1;
        config.gain = Gain::X8;
    });
    assert_eq!(refused, Err(Forbidden::Gain(Gain::X8)));
}

#[test]
fn a_forbidden_setting_never_reaches_the_bus() {
    let mut bus = Mock::new(&[]);
    let config = Config {
        rate_hz: 500,
        ..BRIDGE
    };
    let refused = Ads1220::new(bus.clone()).configure(&config);
    assert_eq!(refused, Err(Error::Forbidden(Forbidden::Rate(500))));
    bus.done();
}

#[test]
fn readings_of_24_bits_keep_their_sign() {
    for (bytes, counts) in [
        ([0x00, 0x00, 0x00], 0),
        ([0x00, 0x00, 0x01], 1),
        ([0xff, 0xff, 0xff], -1),
        ([0xff, 0xff, 0xfe], -2),
        ([0x7f, 0xff, 0xff], 8_388_607),
        ([0x80, 0x00, 0x00], -8_388_608),
        ([0x80, 0x00, 0x01], -8_388_607),
        ([0x12, 0x34, 0x56], 1_193_046),
    ] {
        let [high, middle, low] = bytes;
        let expected = one(Transaction::transfer_in_place(
            vec![0b0001_0000, 0, 0, 0],
            vec![0, high, middle, low],
        ));
        let mut bus = Mock::new(&expected);
        assert_eq!(Ads1220::new(bus.clone()).read_data(), Ok(counts));
        assert_eq!(sign_extended(bytes), counts);
        bus.done();
    }
    assert_eq!(ads1220::MAX_COUNTS, 8_388_607);
    assert_eq!(ads1220::MIN_COUNTS, -8_388_608);
}

#[test]
fn temperatures_are_those_of_the_data_sheets_table() {
    // Table "14-bit temperature data format" (from-memory), each code left-justified in 24 bits.
    for (code, millidegrees) in [
        (0x1000_i32, 128_000),
        (0x0fff, 127_968),
        (0x0c80, 100_000),
        (0x0640, 50_000),
        (0x0320, 25_000),
        (0x0008, 250),
        (0x0001, 31),
        (0x0000, 0),
        (0x3ff8, -250),
        (0x3ce0, -25_000),
        (0x3b00, -40_000),
    ] {
        let left_justified = (code << 10) << 8 >> 8;
        assert_eq!(temperature_mc(left_justified), millidegrees, "{code:04x}");
    }
}

#[test]
fn the_supply_is_four_times_what_is_read_on_the_internal_reference() {
    // 3.3 V / 4 = 0.825 V of 2.048 V full scale: 0.825 / 2.048 · 2²³ = 3 379 200 counts.
    assert_eq!(supply_mv(3_379_200), 3_300);
    assert_eq!(supply_mv(5_120_000), 5_000);
}

/// The registers the gauge sends for each thing it measures, with the shunt's level.
fn sent_for(input: Wanted, rate_hz: u16, shunt: bool, expected: [u8; 4]) {
    let mut bus = Mock::new(&configured(expected));
    let level = if shunt { PinState::High } else { PinState::Low };
    let mut pin = PinMock::new(&[PinTransaction::set(level)]);
    let mut bridge = Bridge::new(bus.clone(), pin.clone(), Wiring::FOUR_WIRE);
    let setup = Setup {
        input,
        rate_hz,
        shunt,
    };
    bridge.configure(&setup).expect("the mock answers");
    bus.done();
    pin.done();
}

#[test]
fn what_the_gauge_measures_is_set_as_the_notes_say() {
    sent_for(
        Wanted::Bridge,
        1_000,
        false,
        [0b0011_1110, 0b1100_0100, 0b1000_1000, 0],
    );
    // At 20 samples per second with the filter for 50 and 60 Hz.
    sent_for(
        Wanted::Bridge,
        20,
        false,
        [0b0011_1110, 0b0000_0100, 0b1001_1000, 0],
    );
    sent_for(
        Wanted::Bridge,
        1_000,
        true,
        [0b0011_1110, 0b1100_0100, 0b1000_1000, 0],
    );
    sent_for(
        Wanted::Shorted,
        1_000,
        false,
        [0b1110_1110, 0b1100_0100, 0b1000_1000, 0],
    );
    // Burn-out currents on, gain 1, supply as reference.
    sent_for(
        Wanted::Leads,
        1_000,
        false,
        [0b0011_0000, 0b1100_0101, 0b1100_1000, 0],
    );
    // AIN1 against ground, past the amplifier.
    sent_for(
        Wanted::CommonMode,
        1_000,
        false,
        [0b1001_0001, 0b1100_0100, 0b1100_1000, 0],
    );
    sent_for(
        Wanted::Supply,
        1_000,
        false,
        [0b1101_0000, 0b1100_0100, 0b0000_1000, 0],
    );
    sent_for(
        Wanted::Temperature,
        1_000,
        false,
        [0b0000_0000, 0b1100_0110, 0b0000_1000, 0],
    );
}

#[test]
fn bus_and_pin_are_given_back() {
    let mut bus = Mock::new(&write(&[0b0000_0110]));
    let mut pin = PinMock::new(&[]);
    let mut bridge = Bridge::new(bus.clone(), pin.clone(), Wiring::FOUR_WIRE);
    bridge.reset().unwrap();
    let _ = bridge.release();
    bus.done();
    pin.done();
}
