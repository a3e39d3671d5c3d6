//! The reference checks of the whole program. In: nothing. Out: those of the figures, and those of the wire and of the
//! step from counts to newtons, which the figures know nothing of.

use holdtrue_gauge::calibration::quantity;
use holdtrue_metrology::prove::{Allowed, Check, Sheet, Source, checks as figures};
use holdtrue_protocol::frame;
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use holdtrue_terms::vocabulary::Provenance;

const EXACT: Allowed = Allowed::Absolute(0.0);

/// Every check of this program.
pub fn checks() -> Vec<Check> {
    let own = [check_sum(), stuffing(), whole_frame(), newtons()];
    let own = own.into_iter().flat_map(Sheet::into_checks);
    figures().into_iter().chain(own).collect()
}

fn check_sum() -> Sheet {
    let source = Source(
        "catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC, quoted in crc-catalog",
        Provenance::Published,
    );
    let sum = frame::crc32(b"123456789");
    Sheet::new("check sum", source).compare(
        "CRC-32 of the digits 1 to 9",
        f64::from(0xcbf4_3926_u32),
        Some(f64::from(sum)),
        EXACT,
    )
}

fn stuffing() -> Sheet {
    let source = Source(
        "Cheshire and Baker, IEEE/ACM Transactions on Networking 7 (1999), quoted in the tests of cobs-c",
        Provenance::Published,
    );
    let mut buffer = [0; 32];
    let stuffed = frame::stuff(b"12345\x006789", &mut buffer).ok();
    compare_bytes(
        Sheet::new("byte stuffing", source),
        "bytes that agree",
        b"\x0612345\x056789\0",
        stuffed,
    )
}

/// A small message through serialisation, check sum and stuffing.
fn whole_frame() -> Sheet {
    let source = Source(
        "composed of the published formats with zlib and the Python package cobs",
        Provenance::Computed,
    );
    let message = (7_u32, -1_500_i32, 12_345.5_f64, "ok", Some(0_u16));
    let mut buffer = [0; frame::MAX_FRAME];
    let framed = frame::encode_frame(&message, &mut buffer).ok();
    compare_bytes(
        Sheet::new("frame", source),
        "bytes that agree",
        &[
            0x04, 0x07, 0xb7, 0x17, 0x01, 0x01, 0x01, 0x09, 0xc0, 0x1c, 0xc8, 0x40, 0x02, 0x6f,
            0x6b, 0x01, 0x05, 0xe5, 0x26, 0x79, 0x2c, 0x00,
        ],
        framed,
    )
}

/// As many bytes have to agree, from the first on, as there are.
fn compare_bytes(sheet: Sheet, quantity: &str, expected: &[u8], found: Option<&[u8]>) -> Sheet {
    let agreeing = found.map(|found| {
        let same = expected.iter().zip(found).take_while(|(a, b)| a == b);
        let over = found.len().saturating_sub(expected.len());
        same.count() as f64 - over as f64
    });
    sheet.compare(quantity, expected.len() as f64, agreeing, EXACT)
}

/// 100 000 counts above zero, 0.01 N each, and 2 nN for each count squared: 1000 N + 20 N.
fn newtons() -> Sheet {
    let record = CalibrationRecord {
        id: [0; 16],
        channel: Channel::Force,
        coefficients: [0.0, 0.01, 2e-9, 0.0],
        zero_counts: 1_000,
        expanded_relative: 0.004,
        expanded_fixed: 0.0,
        span: [0.0, 20_000.0],
        rated: 20_000.0,
        temperature_c: 20.0,
        date_days: 0,
        due_days: 0,
        certificate: Default::default(),
        laboratory: Default::default(),
    };
    let source = Source("worked by hand", Provenance::Computed);
    Sheet::new("counts to newtons", source).compare(
        "force at 101 000 counts, N",
        1_020.0,
        Some(quantity(&record, 101_000)),
        Allowed::Relative(1e-14),
    )
}
