//! Any bytes as a table: read or refused with a place inside the file, never a panic; and one record, however written.

use holdtrue::grip::force_csv;
use proptest::prelude::*;

/// A good record with a knife through it: bytes cut out and others put in.
fn spoilt() -> impl Strategy<Value = Vec<u8>> {
    let good =
        "\u{feff}# logger\ntime_s;force_kn;note\n0,0;1,5;\"a\nb\"\n0,1;2,5;c\n\n0,2;3e-1;d\n";
    let length = good.len();
    let put = proptest::collection::vec(
        prop_oneof![any::<u8>(), Just(b'"'), Just(b'\n'), Just(b';'), Just(b',')],
        0..6,
    );
    (0..length, 0..4_usize, put).prop_map(move |(at, cut, put)| {
        let mut bytes = good.as_bytes().to_vec();
        let end = (at + cut).min(length);
        bytes.splice(at..end, put);
        bytes
    })
}

#[track_caller]
fn read_or_refused(bytes: &[u8]) -> Result<(), TestCaseError> {
    let Err(refusal) = force_csv::read("table.csv", bytes) else {
        return Ok(());
    };
    let lines = 1 + bytes
        .iter()
        .map(|&byte| u64::from(byte == b'\n'))
        .sum::<u64>();
    prop_assert_eq!(refusal.exit.code(), 4);
    prop_assert_eq!(refusal.place.file.as_deref(), Some("table.csv"));
    prop_assert!(
        refusal
            .place
            .line
            .is_none_or(|line| (1..=lines).contains(&line)),
        "{}",
        refusal
    );
    Ok(())
}

/// A number with few decimals, as text with a point.
fn decimal() -> impl Strategy<Value = String> {
    (-9_999_999..9_999_999_i64).prop_map(|thousandths| {
        let sign = if thousandths < 0 { "-" } else { "" };
        format!(
            "{sign}{}.{:03}",
            thousandths.abs() / 1000,
            thousandths.abs() % 1000
        )
    })
}

/// The same forces as a table with another separator, decimal mark, line end and quotes.
fn written(forces: &[String], separator: char, comma: bool, end: &str, quoted: bool) -> String {
    let cell = |text: String| {
        let text = if comma { text.replace('.', ",") } else { text };
        if quoted { format!("\"{text}\"") } else { text }
    };
    let mut table = format!("Force_N{separator} TIME_S{end}");
    for (row, force) in forces.iter().enumerate() {
        let time = cell(format!("{}.25", row));
        table.push_str(&format!("{}{separator}{time}{end}", cell(force.clone())));
    }
    table
}

proptest! {
    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        read_or_refused(&bytes)?;
    }

    #[test]
    fn a_spoilt_table(bytes in spoilt()) {
        read_or_refused(&bytes)?;
    }

    #[test]
    fn however_it_is_written(forces in proptest::collection::vec(decimal(), 1..20), crlf in any::<bool>(), quoted in any::<bool>()) {
        let plain = force_csv::read("plain.csv", written(&forces, ',', false, "\n", false).as_bytes());
        let plain = plain.expect("a good table");
        prop_assert_eq!(plain.len(), forces.len());
        for (separator, comma) in [(';', true), (';', false), ('\t', true), ('\t', false), (',', false)] {
            let end = if crlf { "\r\n" } else { "\n" };
            let text = written(&forces, separator, comma, end, quoted);
            let read = force_csv::read("other.csv", text.as_bytes()).expect("a good table");
            prop_assert_eq!(&read, &plain, "{}", text);
        }
    }
}
