//! The reference checks of the whole program. In: nothing. Out: those of the figures, and those of the wire and of the
//! step from counts to newtons, which the figures know nothing of.

use crate::grip::force_csv;
use crate::runout::arguments::{PlaceArgs, Way};
use crate::runout::readings_csv;
use holdtrue_gauge::calibration::quantity;
use holdtrue_metrology::prove::{Allowed, Check, Sheet, Source, checks as figures};
use holdtrue_protocol::frame;
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_terms::vocabulary::Provenance;
use holdtrue_wording::digits::Units;

const EXACT: Allowed = Allowed::Absolute(0.0);

/// Every check of this program.
pub fn checks() -> Vec<Check> {
    let own = [
        check_sum(),
        stuffing(),
        whole_frame(),
        newtons(),
        tables(),
        shown(),
    ];
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

/// A force record and a runout record in the units of the shop, by the readers of the commands.
fn tables() -> Sheet {
    let source = Source(
        "definitions of the pound, standard gravity and the inch, multiplied by hand",
        Provenance::Computed,
    );
    let allowed = Allowed::Relative(1e-14);
    let force = |unit: &str| {
        let table = format!("time_s,force_{unit}\n0,2200\n0.01,2200\n");
        let record = force_csv::read("table", table.as_bytes()).ok()?;
        record.force_n().first().copied()
    };
    let place = PlaceArgs::default();
    let table = "angle_deg,reading_in\n0,0.0005\n180,0\n";
    let runout = readings_csv::read("table", table.as_bytes(), &place, &Way::default()).ok();
    let inches =
        runout.and_then(|record| record.planes.first()?.readings.values_um().first().copied());
    Sheet::new("tables", source)
        .compare(
            "2200 of force_lbf, N",
            9_786.087_553_573_1,
            force("lbf"),
            allowed,
        )
        .compare("2200 of force_kgf, N", 21_574.63, force("kgf"), allowed)
        .compare("2200 of force_kn, N", 2.2e6, force("kn"), allowed)
        .compare("0.0005 of reading_in, um", 12.7, inches, allowed)
}

/// Figures as a person with other units reads them, read back.
fn shown() -> Sheet {
    let source = Source(
        "definitions of the pound and the inch, rounded to the digits that are printed",
        Provenance::Computed,
    );
    let number = |text: String| text.split_whitespace().next()?.parse::<f64>().ok();
    let metric = Units::default();
    let shop = Units {
        force: ForceUnit::Lbf,
        length: LengthUnit::In,
        ..metric
    };
    Sheet::new("figures as shown", source)
        .compare("9786 N in kN", 9.79, number(metric.force(9_786.0)), EXACT)
        .compare("9786 N in lbf", 2_200.0, number(shop.force(9_786.0)), EXACT)
        .compare("12.7 um in um", 12.7, number(metric.length(12.7)), EXACT)
        .compare(
            "12.7 um in inches",
            0.0005,
            number(shop.length(12.7)),
            EXACT,
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
